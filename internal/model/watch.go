package model

import (
	"math"
	"slices"
)

// Question is a probability that a decision uses: that the target's chance is at
// least the value. For walks it is that the rate of breaks is at most the value:
// a question is always asked so that more is better.
type Question struct {
	Target Target
	Value  float64
}

// Watch is a filter and its answers to a fixed list of questions, with one promise:
// a clean ask never lowers an answer. A filter alone cannot promise that: a clean
// ask by somebody new, or long after a miss, makes a jump or a new effect thinkable
// and can lower a probability by a hair.
//
// The rule. After a sitting with a miss the answer is the largest of what the
// filter would say after this sitting with all its misses and with none, one, two
// ... all of its later clean asks. After a clean sitting it is the largest of those
// and the answer before it. So each clean ask only adds to what the largest is
// taken of, be it appended to the last sitting or a sitting of its own.
//
// Ask of everybody and everywhere that a decision may need from the start: a name
// that has not been tried yet has the prior's effect.
type Watch struct {
	Filter    *Filter
	questions []Question
	values    []float64 // theirs, on the scale of the model
	answers   []float64
}

// NewWatch begins with the answers of the prior.
func NewWatch(p Prior, questions []Question) *Watch {
	w := &Watch{Filter: New(p), questions: questions}
	for _, q := range questions {
		w.values = append(w.values, p.scale(q.Value))
	}
	w.answers = make([]float64, len(questions))
	w.ask()
	return w
}

// Clone is an independent copy.
func (w *Watch) Clone() *Watch {
	return &Watch{w.Filter.Clone(), w.questions, w.values, slices.Clone(w.answers)}
}

// Answer to question i, 0 to 1.
func (w *Watch) Answer(i int) float64 { return w.answers[i] }

// better is the probability that a question asks for.
func (f *Filter) better(l line, value float64) float64 {
	if f.prior.Rate {
		return 1 - l.above(value)
	}
	return l.above(value)
}

// Observe takes in the next sitting and answers anew.
func (w *Watch) Observe(s Sitting) {
	f := w.Filter
	if !f.begin(s) {
		return
	}
	if s.First == No || s.Yes < s.Of {
		clear(w.answers)
	}
	v, u := f.mix.look(f.seeing), f.urn
	v.chances()
	for range s.Of - s.Yes {
		v.ask(false, &u)
	}
	asked := w.prepare(v)
	w.raise(v, asked)
	for range s.Yes {
		v.ask(true, &u)
		w.raise(v, asked)
	}
	f.finish(s)
}

// ObserveWalk is the same for a walk; one without a break is clean.
func (w *Watch) ObserveWalk(k Walk) {
	w.Filter.ObserveWalk(k)
	if k.Breaks > 0 {
		clear(w.answers)
	}
	w.ask()
}

// ask lifts every answer to what the filter says now.
func (w *Watch) ask() {
	f := w.Filter
	for i, q := range w.questions {
		w.answers[i] = max(w.answers[i], f.better(f.along(f.sum(q.Target)), w.values[i]))
	}
}

// asked is a question's line before the asks at hand, and how each of its points
// hangs together with what they see.
type asked struct {
	line line
	with []float64
}

func (w *Watch) prepare(v *view) []asked {
	f := w.Filter
	all := make([]asked, len(w.questions))
	for i, q := range w.questions {
		c := f.sum(q.Target)
		all[i] = asked{f.along(c), make([]float64, len(v.parts))}
		for k := range v.parts {
			for j, g := range v.parts[k].with {
				all[i].with[k] += c.of[j] * g
			}
		}
	}
	return all
}

// raise lifts every answer to what the filter would say if the asks so far were all.
func (w *Watch) raise(v *view, all []asked) {
	var weight, shift, shrink [most + 1]float64
	total := 0.0
	for k, x := range w.Filter.mix.parts {
		d := &v.parts[k]
		chance, mean, variance := d.moments()
		weight[k] = x.weight * chance
		total += weight[k]
		shift[k], shrink[k] = (mean-d.mean)/d.variance, (variance-d.variance)/(d.variance*d.variance)
	}
	var now [most + 1]point
	for i := range w.questions {
		a := all[i]
		for k, p := range a.line {
			g := a.with[k]
			now[k] = point{weight[k] / total, p.mean + g*shift[k], math.Sqrt(p.sd*p.sd + g*g*shrink[k])}
		}
		w.answers[i] = max(w.answers[i], w.Filter.better(now[:len(a.line)], w.values[i]))
	}
}
