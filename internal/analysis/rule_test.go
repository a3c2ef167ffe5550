package analysis

import (
	"fmt"
	"math"
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
		{"corrected", with(yes("sit"), func(t *training.Trial) { t.Corrections = []training.Correction{{Kind: training.ByLeash}} }), 0, 1},
		{"something else first", with(yes("sit"), func(t *training.Trial) { t.Did = "down" }), 0, 1},
		{"a tally", counted("sit", 8, 10), 8, 10},
		{"held", kept("stay", 60, 60), 1, 1},
		{"held after a second ask", with(kept("stay", 60, 60), func(t *training.Trial) { t.Asks = 2 }), 0, 1},
		{"broke", broke("stay", 60, 59), 0, 1},
		{"released early", with(kept("stay", 60, 20), func(t *training.Trial) { t.Outcome = training.Released }), 0, 0},
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

// A long clean lesson after many short ones outweighs them so much that the
// effective number of trials falls, from 17 to 15. The cautious figure must not.
func TestALongCleanLessonIsNotHeldAgainstTheDog(t *testing.T) {
	r := record()
	for i := range 40 {
		r.Sessions = append(r.Sessions, at(i/4+1, fmt.Sprintf("%02d:00", 8+3*(i%4)), "Maren", "yard", counted("sit", 1, 1)))
	}
	before := sit(r, 12).FirstCue.Current
	r.Sessions = append(r.Sessions, at(12, "09:00", "Maren", "yard", counted("sit", 8, 8)))
	after := sit(r, 12).FirstCue.Current
	if after.Effective.V >= before.Effective.V {
		t.Fatalf("this record does not test it: %v, %v", before.Effective, after.Effective)
	}
	if after.Cautious.V < before.Cautious.V {
		t.Errorf("cautious figure fell from %v to %v", before.Cautious, after.Cautious)
	}
	// The interval that is printed tells of the effective trials as they are.
	if after.Low.V >= before.Low.V {
		t.Errorf("printed low %v, before %v", after.Low, before.Low)
	}
}

// The same where trials are taken as independent: after sessions of eight a
// session of one clean ask lowers the effective number.
func TestAShortCleanLessonIsNotHeldAgainstTheDog(t *testing.T) {
	r := record()
	for i := range 40 {
		r.Sessions = append(r.Sessions, at(i/4+1, fmt.Sprintf("%02d:00", 8+3*(i%4)), "Maren", "yard", counted("sit", 8, 8)))
	}
	bars := func(cue string) Criteria { c := barsOf(r)(cue); c.ICC = 0; return c }
	before := cueOf(Assess(r, bars, day1+20), "sit").FirstCue.Current
	r.Sessions = append(r.Sessions, at(12, "09:00", "Maren", "yard", yes("sit")))
	after := cueOf(Assess(r, bars, day1+20), "sit").FirstCue.Current
	if after.Effective.V >= before.Effective.V || after.Cautious.V < before.Cautious.V {
		t.Errorf("before %+v, after %+v", before, after)
	}
}

// One session cannot tell how alike sessions are: the default stands in, and it is said.
func TestOneSessionIsSaidToBeOne(t *testing.T) {
	one := one1(t, at(1, "09:00", "Maren", "yard", many("sit", 4, 1)...), "sit").FirstCue.Share
	if one.ICCNote != "one session: spread between sessions unknown" || math.Abs(one.Effective.V-5/1.4) > 1e-12 {
		t.Errorf("one session: %+v", one)
	}
}

// A later stay starts new figures; with one stay only, what was logged before
// the arrival still counts.
func TestALaterStayStartsAnew(t *testing.T) {
	r := goodStay(6, 5, nil)
	r.Dog.Boardings = []training.Boarding{{Arrived: day1 + 3}}
	if c := sit(r, 6); c.Trials != 90 {
		t.Errorf("one stay: %d trials", c.Trials)
	}
	r.Dog.Boardings = append(r.Dog.Boardings, training.Boarding{Arrived: day1, Home: day1 + 2})
	a := Assess(r, barsOf(r), day1+5)
	if c := cueOf(a, "sit"); c.Trials != 45 || c.HeldOut != 45 || a.LeftOut != 45 || a.Baseline != day1+3 || len(c.Days3) != 6 {
		t.Errorf("second stay: %d trials, %d left out, baseline %s", c.Trials, c.HeldOut, a.Baseline)
	}
}

// Answers without a time cannot enter the curve, and their unanswered
// neighbours do not either: they alone would make the dog look slow.
func TestUntimedAnswersDoNotMakeADogSlow(t *testing.T) {
	c := one1(t, at(1, "09:00", "Maren", "yard", many("sit", 6, 2)...), "sit")
	if l := c.Latency; l.Seen != 0 || l.Censored != 0 || l.Untimed != 6 || l.Unanswered != 2 || l.Median.Known {
		t.Errorf("%+v", l)
	}
	c = one1(t, at(1, "09:00", "Maren", "yard", yes("sit", 1), yes("sit", 2), yes("sit"), no("sit")), "sit")
	if l := c.Latency; l.Seen != 2 || l.Censored != 1 || l.Untimed != 1 || l.Unanswered != 0 {
		t.Errorf("%+v", l)
	}
}

func TestCautionsShowWhereTheyMatter(t *testing.T) {
	has := func(a Assessment, code string) bool {
		for _, c := range codesOf(a) {
			if c == code {
				return true
			}
		}
		return false
	}
	plainDog := goodStay(3, 5, nil)
	if codes := codesOf(Assess(plainDog, barsOf(plainDog), day1+2)); fmt.Sprint(codes) != "[verdict]" {
		t.Errorf("a dog without a collar is shown %v", codes)
	}
	tapped := again("sit", 1)
	tapped.Corrections = []training.Correction{tap(15, "blue", true)}
	s := at(4, "09:00", "Maren", "yard", tapped, yes("sit"))
	s.Device, s.WorkingLevel, s.Leash = "blue", training.Known(7), "off"
	r := record(append(plainDog.Sessions, s)...)
	a := Assess(r, barsOf(r), day1+3)
	for _, code := range []string{"collar-levels", "wear", "law", "views", "level-high", "off-leash", "verdict"} {
		if !has(a, code) {
			t.Errorf("no %s in %v", code, codesOf(a))
		}
	}
	if has(a, "collar-refused") || has(a, "working-level") {
		t.Errorf("%v", codesOf(a))
	}
	for name, change := range map[string]func(*training.Dog){
		"reward only":  func(d *training.Dog) { d.RewardOnly = true },
		"a puppy":      func(d *training.Dog) { d.Born = day1 - 100 },
		"a collar off": func(d *training.Dog) { d.Holds = []training.VetHold{{From: day1, CollarOnly: true}} },
	} {
		q := r
		change(&q.Dog)
		if a := Assess(q, barsOf(q), day1+3); !has(a, "collar-refused") {
			t.Errorf("%s: %v", name, codesOf(a))
		}
	}
	r.Dog.Holds = []training.VetHold{{From: day1 + 3, Cues: []string{"sit"}}}
	if a := Assess(r, barsOf(r), day1+3); !has(a, "vet-hold") || cueOf(a, "sit").Verdict != OnHold {
		t.Errorf("logged in a hold: %v", codesOf(a))
	}
	for _, c := range cautionTexts {
		if c.text == "" || c.code == "" {
			t.Errorf("%+v", c)
		}
	}
}
