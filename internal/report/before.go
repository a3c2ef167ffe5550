package report

import (
	"fmt"

	"firstcue/internal/analysis"
	"firstcue/internal/say"
	"firstcue/internal/training"
)

// AskedBefore is a cue that was asked before any teaching and not since. It has
// no judgement, and it is not true that nobody ever asked it.
type AskedBefore struct {
	Cue      string
	Yes, Of  int // first asks answered; 0 of 0 for a motion, which is walked
	Trials   int // at least 1
	Sessions int
	Last     training.Day // on which it was asked
}

// AskedBeforeOnly finds, among the cues that the assessment has no judgement of,
// those with trials in sessions before any teaching, in the order of NeverTried.
// rules gives the counting rule of a cue of a dog. Trials in a vet hold are left
// out, as everywhere.
func AskedBeforeOnly(a analysis.Assessment, r training.Record, rules func(dog, cue string) analysis.Rule) []AskedBefore {
	var out []AskedBefore
	sessions := standingSessions(a, r)
	for _, cue := range a.NeverTried {
		b := AskedBefore{Cue: cue}
		rule := rules(a.Dog.Name, cue)
		for _, s := range sessions {
			n := 0
			for _, t := range s.Trials {
				name := t.Cue
				if c, ok := r.Kennel.Cue(name); ok {
					name = c.Name
				}
				if !s.Baseline || training.Key(name) != training.Key(cue) || held(a, s.Day(), cue) {
					continue
				}
				n += t.Count()
				yes, of := analysis.FirstCueUnder(t, rule)
				b.Yes, b.Of = b.Yes+yes, b.Of+of
			}
			if n > 0 {
				b.Trials, b.Sessions, b.Last = b.Trials+n, b.Sessions+1, s.Day()
			}
		}
		if b.Trials > 0 {
			out = append(out, b)
		}
	}
	return out
}

func held(a analysis.Assessment, day training.Day, cue string) bool {
	for _, h := range a.Dog.Holds {
		if h.Covers(day, cue) {
			return true
		}
	}
	return false
}

// figure is what came of it: "4/7", or "2 trials" where say.None has a first ask.
func (b AskedBefore) figure() string {
	if b.Of == 0 {
		return say.Count(b.Trials, "trial")
	}
	return fmt.Sprintf("%d/%d", b.Yes, b.Of)
}

// beforeOf is what is known of a cue before teaching; ok is false for nothing.
func beforeOf(list []AskedBefore, cue string) (AskedBefore, bool) {
	for _, b := range list {
		if training.Key(b.Cue) == training.Key(cue) {
			return b, true
		}
	}
	return AskedBefore{}, false
}
