package model

import (
	"fmt"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/combin"
)

// Filter is what is known of one cue after the sittings observed so far.
type Filter struct {
	prior   Prior
	effects []effect // parts of the state, in the order of its entries
	mix     mixture
	tried   [Factors][]named // names tried, in the order they came
	urn     urn              // of the sitting that is going on
	at      At               // its circumstances
	marks   int
	seen    bool
	logLike float64
	seeing  []int // scratch: the entries that the ask at hand sees
}

// effect is one entry of the state.
type effect struct {
	kind kind
	a, b int // names by their numbers among those tried; of a mark its number, from 1
}

type kind int

const (
	level kind = iota
	cold
	cell
	past
	factor // factor + Person and so on
)

// named is a person, a place and so on, with the sittings there.
type named struct {
	text     string
	sittings int
}

// New knows only the prior.
func New(p Prior) *Filter {
	f := &Filter{prior: p}
	f.mix.start(p.Start, p.StartSD)
	f.effects = append(f.effects, effect{kind: level})
	return f
}

// Clone is an independent copy: to try what further sittings would do.
func (f *Filter) Clone() *Filter {
	c := *f
	c.effects = slices.Clone(f.effects)
	for i := range f.tried {
		c.tried[i] = slices.Clone(f.tried[i])
	}
	c.mix = f.mix.clone()
	c.seeing = nil
	return &c
}

// Observe takes in the next sitting. Sittings come in the order of time. A sitting
// without asks changes nothing. It panics on counts that cannot be.
func (f *Filter) Observe(s Sitting) {
	if !f.begin(s) {
		return
	}
	f.finish(s)
}

// begin takes in that there is a sitting, and its first ask; false where there is
// nothing to take in.
func (f *Filter) begin(s Sitting) bool {
	if s.Yes < 0 || s.Yes > s.Of {
		panic(fmt.Sprintf("model: %d of %d asks answered", s.Yes, s.Of))
	}
	if s.Of == 0 && s.First == NotNoted {
		return false
	}
	f.next(s.At, s.Continued, s.Night)
	if s.First != NotNoted {
		f.first(s.First == Yes)
	}
	return true
}

// next moves the state to the next sitting and looks up what it will see.
func (f *Filter) next(at At, continued, night bool) {
	before := f.at
	if !continued || !f.seen {
		before = At{}
		f.urn = urn{alike: f.prior.Likeness / (1 - f.prior.Likeness)}
		if f.seen {
			f.mix.move(f.prior, night)
		}
		f.seen = true
	}
	f.at = at
	f.seeing = append(f.seeing[:0], 0)
	var number [Factors]int
	for i, text := range at {
		number[i] = never
		if f.prior.Spread[i] > 0 && text != "" {
			number[i] = f.try(Factor(i), text)
			if text != before[i] {
				f.tried[i][number[i]].sittings++
			}
			f.seeing = append(f.seeing, f.entry(effect{factor + kind(i), number[i], 0}, f.prior.Spread[i]))
		}
	}
	if number[Person] != never && number[Place] != never && f.prior.Cell > 0 {
		f.seeing = append(f.seeing, f.entry(effect{cell, number[Person], number[Place]}, f.prior.Cell))
	}
}

// never is the number of a name that was not tried.
const never = -1

// number of a name among those tried.
func (f *Filter) number(of Factor, text string) int {
	for i := range f.tried[of] {
		if f.tried[of][i].text == text {
			return i
		}
	}
	return never
}

// try gives the number of a name; a new one gets the next.
func (f *Filter) try(of Factor, text string) int {
	i := f.number(of, text)
	if i == never {
		i = len(f.tried[of])
		f.tried[of] = append(f.tried[of], named{text: text})
	}
	return i
}

// entry is where an effect stands in the state; a new one enters at its prior.
func (f *Filter) entry(e effect, sd float64) int {
	if i := slices.Index(f.effects, e); i >= 0 {
		return i
	}
	f.effects = append(f.effects, e)
	f.mix.grow(sd * sd)
	return len(f.effects) - 1
}

// first takes in a sitting's first ask.
func (f *Filter) first(yes bool) {
	sees := f.seeing
	if f.prior.Cold > 0 {
		sees = append(sees, f.entry(effect{kind: cold}, f.prior.Cold))
	}
	v := f.mix.look(sees)
	v.chances()
	v.ask(yes, &f.urn)
	f.logLike += f.mix.learn(v)
}

// finish takes in the asks after the first one.
func (f *Filter) finish(s Sitting) {
	if s.Of > 0 {
		v := f.mix.look(f.seeing)
		v.chances()
		for range s.Of - s.Yes {
			v.ask(false, &f.urn)
		}
		for range s.Yes {
			v.ask(true, &f.urn)
		}
		f.logLike += f.mix.learn(v) + combin.LogGeneralizedBinomial(float64(s.Of), float64(s.Yes))
	}
	f.mix.reduce()
}

// ObserveWalk takes in the next walk; for a filter with the prior [Walking]. A walk
// of no minutes changes nothing.
func (f *Filter) ObserveWalk(w Walk) {
	if w.Breaks < 0 || !(w.Minutes >= 0) || math.IsInf(w.Minutes, 1) {
		panic(fmt.Sprintf("model: %d breaks in %v minutes", w.Breaks, w.Minutes))
	}
	if w.Minutes == 0 {
		return
	}
	f.next(w.At, false, w.Night)
	v := f.mix.look(f.seeing)
	v.breaks(w, f.prior.Likeness)
	f.logLike += f.mix.learn(v)
	f.mix.reduce()
}

// LogLikelihood is the log of the probability that the filter gave to what it
// observed, each sitting before it came.
func (f *Filter) LogLikelihood() float64 { return f.logLike }

// Mark keeps the level of now in the state and gives the number that [Target.When]
// asks for it by: what later sittings say of it is taken in (smoothing).
func (f *Filter) Mark() int {
	f.marks++
	f.effects = append(f.effects, effect{kind: past, a: f.marks})
	f.mix.copyLevel()
	return f.marks
}
