package analysis

import (
	"encoding/json"
	"fmt"
	"math"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"firstcue/internal/training"
)

// The laws that every judgement obeys, on invented records.

var lawCues = []string{"sit", "down", "stay", "heel"}

func genTrial(t *rapid.T, cue string) training.Trial {
	kind := rapid.IntRange(0, 19).Draw(t, "what")
	switch kindOf(cue) {
	case training.Motion:
		return walk(float64(rapid.IntRange(10, 400).Draw(t, "seconds"))/60,
			rapid.IntRange(0, 3).Draw(t, "breaks"))
	case training.Holding:
		switch {
		case kind < 12:
			return kept(cue, 60, float64(rapid.IntRange(60, 90).Draw(t, "held")))
		case kind < 15:
			return broke(cue, 60, float64(rapid.IntRange(1, 60).Draw(t, "held")))
		case kind < 16:
			r := kept(cue, 60, 20)
			r.Outcome = training.Released
			return r
		}
		return yes(cue)
	}
	switch {
	case kind < 8:
		return yes(cue, float64(rapid.IntRange(3, 60).Draw(t, "tenths"))/10)
	case kind < 11:
		return yes(cue)
	case kind < 13:
		n := rapid.IntRange(1, 10).Draw(t, "of")
		return counted(cue, rapid.IntRange(0, n).Draw(t, "yes"), n)
	case kind < 15:
		a := again(cue, 1)
		a.Corrections = []training.Correction{tap(float64(rapid.IntRange(3, 12).Draw(t, "level")),
			rapid.SampledFrom([]string{"blue", "red"}).Draw(t, "device"), true)}
		return a
	case kind < 16:
		return training.Trial{Cue: cue, Kind: training.Response,
			Outcome: rapid.SampledFrom([]training.Outcome{training.Early, training.Already,
				training.Unscored}).Draw(t, "apart")}
	case kind < 17:
		a := no(cue)
		a.Did = "sat"
		return a
	}
	return no(cue)
}

func genSession(t *rapid.T, maxDay int) training.Session {
	day := rapid.IntRange(1, maxDay).Draw(t, "day")
	clock := fmt.Sprintf("%02d:%02d", rapid.IntRange(8, 17).Draw(t, "hour"),
		rapid.IntRange(0, 59).Draw(t, "minute"))
	var tr []training.Trial
	for range rapid.IntRange(0, 8).Draw(t, "trials") {
		tr = append(tr, genTrial(t, rapid.SampledFrom(lawCues).Draw(t, "cue")))
	}
	s := at(day, clock, rapid.SampledFrom([]string{"Maren", "Ivo", "Owner"}).Draw(t, "handler"),
		rapid.SampledFrom([]string{"yard", "barn", "market"}).Draw(t, "place"), tr...)
	s.Distraction = training.Known(float64(rapid.IntRange(0, 4).Draw(t, "distraction")))
	return s
}

func genRecord(t *rapid.T, maxDay int) training.Record {
	r := record()
	n := rapid.IntRange(0, 25).Draw(t, "sessions")
	seen := map[string]bool{}
	for range n {
		s := genSession(t, maxDay)
		if seen[s.ID] {
			continue
		}
		seen[s.ID] = true
		r.Sessions = append(r.Sessions, s)
	}
	r.Dog.Boardings = []training.Boarding{{Arrived: day1,
		Due: day1 + training.Day(rapid.IntRange(0, 30).Draw(t, "due"))}}
	if rapid.Bool().Draw(t, "goals") {
		r.Dog.Goals = []training.Goal{{Cue: "sit"}, {Cue: "down", Place: "market", Bar: training.Known(.8)}}
	}
	return r
}

func shuffled(s []training.Session, seed uint64) []training.Session {
	out := slices.Clone(s)
	rand.New(rand.NewPCG(seed, 1)).Shuffle(len(out), func(i, j int) { out[i], out[j] = out[j], out[i] })
	return out
}

// same compares two values and shows where they part.
func same(t *rapid.T, what string, a, b any) {
	t.Helper()
	if reflect.DeepEqual(a, b) {
		return
	}
	xb, _ := json.Marshal(a)
	yb, _ := json.Marshal(b)
	x, y := string(xb), string(yb)
	i := 0
	for i < len(x) && i < len(y) && x[i] == y[i] {
		i++
	}
	from := max(0, i-200)
	t.Fatalf("%s differ:\n%s\n%s", what, x[from:min(len(x), i+200)], y[from:min(len(y), i+200)])
}

func TestOrderOfEntryDoesNotMatter(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := genRecord(t, 12)
		a := Assess(r, barsOf(r), day1+12)
		q := r
		q.Sessions = shuffled(r.Sessions, rapid.Uint64().Draw(t, "seed"))
		b := Assess(q, barsOf(q), day1+12)
		same(t, "judgements", a, b)
	})
}

func TestAnotherDogChangesNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := genRecord(t, 12)
		a := Assess(r, barsOf(r), day1+12)
		q := r
		q.Sessions = slices.Clone(r.Sessions)
		for range rapid.IntRange(1, 5).Draw(t, "others") {
			s := genSession(t, 12)
			s.Dog = "Another"
			q.Sessions = append(q.Sessions, s)
		}
		same(t, "judgements", a, Assess(q, barsOf(q), day1+12))
	})
}

func TestNothingAfterTheDayCounts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := genRecord(t, 12)
		day := day1 + training.Day(rapid.IntRange(0, 11).Draw(t, "day"))
		q := r
		q.Sessions = nil
		for _, s := range r.Sessions {
			if s.Day() <= day {
				q.Sessions = append(q.Sessions, s)
			}
		}
		same(t, "judgements", Assess(q, barsOf(q), day), Assess(r, barsOf(r), day))
	})
}

func TestVoidedAndRescoredSessionsAddNothing(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := genRecord(t, 12)
		q := r
		q.Sessions = slices.Clone(r.Sessions)
		v, w := genSession(t, 12), genSession(t, 12)
		v.Voided, w.Rescores = "wrong dog", "x"
		q.Sessions = append(q.Sessions, v, w)
		same(t, "judgements", Assess(r, barsOf(r), day1+12), Assess(q, barsOf(q), day1+12))
	})
}

// Splitting a note in two, the second half started within a quarter of an hour
// with the same handler at the same place, changes nothing but cold trials (and
// which session is named as the last).
func TestSplittingANoteChangesOnlyColdTrials(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := genRecord(t, 12)
		if len(r.Sessions) == 0 {
			t.Skip()
		}
		// One session a handler, place and day: a second half must not bridge
		// two that were apart.
		seen := map[string]bool{}
		var keep []training.Session
		for _, s := range r.Sessions {
			key := fmt.Sprint(s.Day(), s.Handler, s.Place)
			if !seen[key] {
				seen[key] = true
				keep = append(keep, s)
			}
		}
		r.Sessions = keep
		a := Assess(r, barsOf(r), day1+12)
		q := r
		q.Sessions = slices.Clone(r.Sessions)
		i := rapid.IntRange(0, len(q.Sessions)-1).Draw(t, "which")
		s := q.Sessions[i]
		cut := rapid.IntRange(0, len(s.Trials)).Draw(t, "cut")
		first, second := s, s
		first.Trials, second.Trials = s.Trials[:cut], s.Trials[cut:]
		second.Part = s.Part + 1
		if rapid.Bool().Draw(t, "later") {
			second.Start = s.Start.Add(time.Duration(rapid.IntRange(1, 15).Draw(t, "minutes")) * time.Minute)
		}
		if second.Day() != first.Day() {
			t.Skip()
		}
		q.Sessions[i] = first
		q.Sessions = append(q.Sessions, second)
		b := Assess(q, barsOf(q), day1+12)
		blank := func(a *Assessment) {
			a.Cautions = nil // some look at one session at a time
			for i := range a.Cues {
				a.Cues[i].Cold = Cold{}
			}
		}
		blank(&a)
		blank(&b)
		same(t, "judgements", a, b)
	})
}

// Deleting the sessions inside a vet hold changes nothing: neither while it
// lasts nor afterwards, for the whole dog and for some cues. Only what is said
// about them differs: the number left out, and the caution that they are there.
func TestAHoldEqualsNeverHavingLoggedIt(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := genRecord(t, 16)
		from := day1 + training.Day(rapid.IntRange(0, 14).Draw(t, "from"))
		h := training.VetHold{From: from, Reason: "lame"}
		if rapid.Bool().Draw(t, "over") {
			h.To = from + training.Day(rapid.IntRange(0, 6).Draw(t, "length"))
		}
		whole := rapid.Bool().Draw(t, "whole")
		if !whole {
			h.Cues = []string{"sit", "heel"}
		}
		r.Dog.Holds = []training.VetHold{h}
		q := r
		q.Sessions = nil
		for _, s := range r.Sessions {
			var left []training.Trial
			for _, tr := range s.Trials {
				if !h.Covers(s.Day(), tr.Cue) {
					left = append(left, tr)
				}
			}
			if whole && h.Covers(s.Day(), "") {
				continue
			}
			s.Trials = left
			q.Sessions = append(q.Sessions, s)
		}
		day := day1 + training.Day(rapid.IntRange(0, 18).Draw(t, "day"))
		a, b := Assess(r, barsOf(r), day), Assess(q, barsOf(q), day)
		blank := func(a *Assessment) {
			a.LeftOut, a.Cautions = 0, nil
			for i := range a.Cues {
				a.Cues[i].LeftOut = 0
			}
		}
		blank(&a)
		blank(&b)
		same(t, "judgements", a, b)
	})
}

func TestTheVerdictOfANightIsTheVerdictOfThatDay(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := genRecord(t, 10)
		if rapid.Bool().Draw(t, "hold") {
			r.Dog.Holds = []training.VetHold{{From: day1 + 3, To: day1 + 4}}
		}
		a := Assess(r, barsOf(r), day1+12)
		for _, c := range a.Cues {
			for _, p := range c.Course {
				if got := cueOf(Assess(r, barsOf(r), p.Day), c.Cue).Verdict; got != p.Verdict {
					t.Fatalf("%s on %s: course says %q, that day said %q", c.Cue, p.Day, p.Verdict, got)
				}
			}
		}
	})
}

func TestSameInputSameBytes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := genRecord(t, 12)
		first := fmt.Sprintf("%+v", Assess(r, barsOf(r), day1+11))
		for range 3 {
			if again := fmt.Sprintf("%+v", Assess(r, barsOf(r), day1+11)); len(again) != len(first) {
				t.Fatal("the same record gave two judgements")
			}
		}
		same(t, "judgements", Assess(r, barsOf(r), day1+11), Assess(r, barsOf(r), day1+11))
	})
}

// Ready never comes of too little, and "not proven" is never counted as ready.
func TestReadyNeedsEverything(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := genRecord(t, 12)
		a := Assess(r, barsOf(r), day1+12)
		ready := 0
		for _, c := range a.Cues {
			all := true
			for _, g := range c.Gates {
				all = all && g.Met()
			}
			if (c.Verdict == Ready) != all {
				t.Fatalf("%s: verdict %s with gates %+v", c.Cue, c.Verdict, c.Gates)
			}
			if c.Verdict == Ready {
				ready++
			}
		}
		if a.Verdict == Ready && a.ReadyCues < a.CountedCues || a.ReadyCues > ready {
			t.Fatalf("dog %s with %d of %d ready", a.Verdict, a.ReadyCues, a.CountedCues)
		}
	})
}

// Whatever stands in a store, judging it does not fail: impossible numbers are
// the affair of those who read them in, and must not take the report away.
func TestNoRecordIsTooStrange(t *testing.T) {
	strange := rapid.SampledFrom([]training.Num{{}, training.Known(0), training.Known(-1),
		training.Known(1e300), training.Known(math.NaN()), training.Known(math.Inf(1)), training.Known(3)})
	whole := rapid.IntRange(-3, 12)
	rapid.Check(t, func(t *rapid.T) {
		r := genRecord(t, 8)
		for range 6 {
			s := genSession(t, 8)
			for range 3 {
				cue := rapid.SampledFrom([]string{"sit", "stay", "heel", "unheard of", ""}).Draw(t, "cue")
				s.Trials = append(s.Trials, training.Trial{
					Cue: cue, Kind: rapid.SampledFrom([]training.Kind{training.Response, training.Holding,
						training.Motion, "", "else"}).Draw(t, "kind"),
					Outcome: rapid.SampledFrom([]training.Outcome{training.Answered, training.Refused,
						training.Held, training.Broke, training.Released, training.Walked, training.Counted,
						training.Unscored, "?"}).Draw(t, "outcome"),
					Asks: whole.Draw(t, "asks"), Latency: strange.Draw(t, "latency"),
					Completion: strange.Draw(t, "completion"), Waited: strange.Draw(t, "waited"),
					Held: strange.Draw(t, "held"), Target: strange.Draw(t, "target"),
					Walked: strange.Draw(t, "walked"), Breaks: whole.Draw(t, "breaks"),
					Tally: training.Tally{Yes: whole.Draw(t, "yes"), Of: whole.Draw(t, "of")},
					Corrections: []training.Correction{{Kind: training.ByCollar,
						Level: strange.Draw(t, "level"), Device: "blue"}},
				})
			}
			r.Sessions = append(r.Sessions, s)
		}
		a := Assess(r, barsOf(r), day1+9)
		FitPlan(a.Plan, 15)
		Agreement(r.Sessions[0], r.Sessions[len(r.Sessions)-1], Rule{})
	})
}
