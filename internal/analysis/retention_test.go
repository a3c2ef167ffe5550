package analysis

import (
	"math"
	"slices"
	"testing"

	"firstcue/internal/training"
)

// TestRetention follows one dog home: what each visit counts, and what it does
// not. Bounds of "all of n" are n/(n+z^2), Wilson's lower end where every ask
// was answered (Wilson 1927, with z = 1.959964).
func TestRetention(t *testing.T) {
	tallied := at(27, "09:00", "Owner", "yard", append([]training.Trial{counted("sit", 4, 5)},
		yes("down"))...)
	voided := at(28, "09:00", "Owner", "yard", no("sit"))
	voided.Voided = "another dog"
	again := at(26, "09:00", "Owner", "yard", no("sit"))
	again.Rescores = "1"
	late := yes("come", 3.5) // later than its limit of 3 s
	r := record(
		at(17, "09:00", "Maren", "yard", no("sit"), no("heel")),
		at(18, "09:00", "Maren", "yard", append(many("sit", 4, 1), walk(4, 2))...),
		at(19, "17:00", "Maren", "yard", no("down"), yes("down"), yes("down")), // the second of the day
		at(19, "09:00", "Ivo", "market", yes("down"), late),
		// day 20: went home, nothing asked
		at(25, "10:00", "Owner", "street", yes("sit"), no("sit"), early("sit"), walk(2, 1)),
		at(26, "10:00", "Owner", "street", early("sit"), no("sit"), yes("sit")),
		again, tallied, voided,
		at(40, "10:00", "Owner", "yard", no("sit")), // after the day of the question
	)
	day := func(n int) training.Day { return day1 + training.Day(n-1) }
	handoff, visits := Retention(r, barsOf(r), day(1), day(20),
		[][2]training.Day{{day(21), day(26)}, {day(27), day(33)}, {day(34), day(41)}}, day(30))

	type line struct {
		cue        string
		yes, of    int // first ask of a day
		all, allOf int
		days       []training.Day
	}
	check := func(name string, v Visit, sessions, firstYes, firstOf int, want ...line) {
		t.Helper()
		if v.Sessions != sessions || v.First.Answered != firstYes || v.First.Asks != firstOf {
			t.Errorf("%s: %d sessions, first asks %d/%d, not %d, %d/%d", name, v.Sessions, v.First.Answered,
				v.First.Asks, sessions, firstYes, firstOf)
		}
		if len(v.Cues) != len(want) {
			t.Fatalf("%s: %d cues: %+v", name, len(v.Cues), v.Cues)
		}
		for _, w := range want {
			i := slices.IndexFunc(v.Cues, func(q VisitCue) bool { return q.Cue == w.cue })
			if i < 0 {
				t.Errorf("%s: no %s", name, w.cue)
				continue
			}
			q := v.Cues[i]
			if q.First.Answered != w.yes || q.First.Asks != w.of || q.All.Answered != w.all ||
				q.All.Asks != w.allOf || !slices.Equal(q.Days, w.days) {
				t.Errorf("%s, %s: first %d/%d, all %d/%d on %v, not %+v", name, w.cue, q.First.Answered,
					q.First.Asks, q.All.Answered, q.All.Asks, q.Days, w)
			}
		}
	}
	check("handoff", handoff, 3, 2, 3,
		line{"heel", 0, 0, 0, 0, []training.Day{day(18)}},
		line{"sit", 1, 1, 4, 5, []training.Day{day(18)}},
		line{"down", 1, 1, 3, 4, []training.Day{day(19)}},
		line{"come", 0, 1, 0, 1, []training.Day{day(19)}})
	check("first", visits[0], 2, 1, 2,
		line{"heel", 0, 0, 0, 0, []training.Day{day(25)}},
		line{"sit", 1, 2, 2, 4, []training.Day{day(25), day(26)}})
	check("second", visits[1], 1, 1, 1, // a tally has no first ask
		line{"sit", 0, 0, 4, 5, []training.Day{day(27)}},
		line{"down", 1, 1, 1, 1, []training.Day{day(27)}})
	check("third", visits[2], 0, 0, 0)
	if b := visits[0].Cues[0].Breaks; visits[0].Cues[0].Cue != "heel" || b == nil || b.Count != 1 ||
		b.Minutes != 2 {
		t.Errorf("walking: %+v", visits[0].Cues[0])
	}
	if got, want := visits[1].First.Low.V, 1/(1+1.959964*1.959964); math.Abs(got-want) > 1e-6 ||
		visits[1].First.High.V != 1 {
		t.Errorf("1 of 1 is at least %v, not %v", got, want)
	}
	if visits[2].First.Rate.Known || visits[2].First.Low.Known {
		t.Error("a share of nothing is known")
	}
}

// A recheck in a vet hold is not judged, and a stay before it is another story.
func TestRetentionLeavesOut(t *testing.T) {
	r := record(at(2, "09:00", "Maren", "yard", yes("sit")), at(10, "09:00", "Maren", "yard", no("sit")),
		at(22, "09:00", "Owner", "yard", yes("sit")), at(23, "09:00", "Owner", "yard", yes("sit"),
			yes("down")))
	r.Dog.Holds = []training.VetHold{{From: day1 + 21, To: day1 + 21},
		{From: day1 + 22, To: day1 + 22, Cues: []string{"down"}}}
	handoff, visits := Retention(r, barsOf(r), day1+5, day1+12, [][2]training.Day{{day1 + 13, day1 + 30}},
		day1+30)
	if len(handoff.Cues) != 1 || handoff.Cues[0].All.Asks != 1 || handoff.Cues[0].All.Answered != 0 {
		t.Errorf("the handoff counts another stay: %+v", handoff)
	}
	if v := visits[0]; v.Sessions != 1 || len(v.Cues) != 1 || v.Cues[0].All.Asks != 1 || v.First.Asks != 1 {
		t.Errorf("held trials count: %+v", v)
	}
}

// early is a dog that acted before the cue.
func early(cue string) training.Trial {
	return training.Trial{Cue: cue, Kind: kindOf(cue), Outcome: training.Early}
}
