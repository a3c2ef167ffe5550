package analysis

import (
	"testing"

	"firstcue/internal/training"
)

// The counting rule, trial by trial: right answer, one ask, inside the limit, no
// help, no correction.
func TestFirstCueUnder(t *testing.T) {
	limit := Rule{Limit: training.Known(3), Arrive: training.Known(6)}
	with := func(t training.Trial, change func(*training.Trial)) training.Trial { change(&t); return t }
	for _, x := range []struct {
		what    string
		trial   training.Trial
		yes, of int
	}{
		{"answered", yes("sit"), 1, 1},
		{"at the limit", yes("sit", 3), 1, 1},
		{"late", yes("sit", 3.01), 0, 1},
		{"arrived in time", yes("come", 1, 6), 1, 1},
		{"arrived late", yes("come", 1, 6.01), 0, 1},
		{"second ask, however quick", again("sit", .2), 0, 1},
		{"refused", no("sit"), 0, 1},
		{"helped", with(yes("sit"), func(t *training.Trial) { t.Prompts = []string{"lure"} }), 0, 1},
		{"corrected",
			with(yes("sit"),
				func(t *training.Trial) { t.Corrections = []training.Correction{{Kind: training.ByLeash}} }), 0,
			1},
		{"something else first", with(yes("sit"), func(t *training.Trial) { t.Did = "down" }), 0, 1},
		{"a tally", counted("sit", 8, 10), 8, 10},
		{"held", kept("stay", 60, 60), 1, 1},
		{"held after a second ask", with(kept("stay", 60, 60), func(t *training.Trial) { t.Asks = 2 }), 0, 1},
		{"broke", broke("stay", 60, 59), 0, 1},
		{"released early",
			with(kept("stay", 60, 20), func(t *training.Trial) { t.Outcome = training.Released }), 0, 0},
		{"unscored", training.Trial{Cue: "sit", Outcome: training.Unscored}, 0, 0},
		{"early", training.Trial{Cue: "sit", Outcome: training.Early}, 0, 0},
		{"already", training.Trial{Cue: "sit", Outcome: training.Already}, 0, 0},
		{"a walk", walk(3, 0), 0, 0},
	} {
		if y, o := FirstCueUnder(x.trial, limit); y != x.yes || o != x.of {
			t.Errorf("%s: %d of %d, want %d of %d", x.what, y, o, x.yes, x.of)
		}
	}
	begun := with(again("come", 5), func(t *training.Trial) { t.Begun = training.Known(1) })
	if y, o := FirstCueUnder(begun, Rule{Limit: training.Known(3), Begun: true}); y != 1 || o != 1 {
		t.Errorf("begun on the first ask: %d of %d", y, o)
	}
	if y, _ := FirstCueUnder(begun, limit); y != 0 {
		t.Error("begun is not answered")
	}
	if y, _ := FirstCueUnder(yes("sit", 50), Rule{}); y != 1 {
		t.Error("without a limit no answer is late")
	}
}

// A later stay starts new figures; with one stay only, what was logged before
// the arrival still counts.
func TestALaterStayStartsAnew(t *testing.T) {
	r := goodStay(6, 5, nil)
	r.Dog.Boardings = []training.Boarding{{Arrived: day1 + 3}}
	if c := sit(r, 6); c.Asks != 90 {
		t.Errorf("one stay: %d trials", c.Asks)
	}
	r.Dog.Boardings = append(r.Dog.Boardings, training.Boarding{Arrived: day1, Home: day1 + 2})
	a := Assess(r, barsOf(r), day1+5)
	if c := cueOf(a, "sit"); c.Asks != 45 || c.LeftOut != 45 || a.LeftOut != 45 || a.Baseline != day1+3 ||
		len(c.Course) != 3 {
		t.Errorf("second stay: %d trials, %d left out, baseline %s", c.Asks, c.LeftOut, a.Baseline)
	}
}

// Answers without a time cannot enter the curve, and their unanswered
// neighbours do not either: they alone would make the dog look slow.
func TestUntimedAnswersDoNotMakeADogSlow(t *testing.T) {
	c := one1(t, at(1, "09:00", "Maren", "yard", many("sit", 6, 2)...), "sit")
	if l := c.Latency; l.Seen != 0 || l.Censored != 0 || l.Untimed != 6 || l.Unanswered != 2 ||
		l.Median.Known {
		t.Errorf("%+v", l)
	}
	c = one1(t, at(1, "09:00", "Maren", "yard", yes("sit", 1), yes("sit", 2), yes("sit"), no("sit")), "sit")
	if l := c.Latency; l.Seen != 2 || l.Censored != 1 || l.Untimed != 1 || l.Unanswered != 0 {
		t.Errorf("%+v", l)
	}
}
