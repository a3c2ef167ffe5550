package model

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"
)

// Target says what a figure is about. The zero Target is the level now, averaged
// over the people, places, leashes and distractions tried so far.
type Target struct {
	// At fixes a factor; an empty name averages over what was tried, by the number
	// of sittings. A name that was never tried has the prior's effect.
	At At
	// Except leaves one name of a factor out of its average: everybody but the main
	// trainer. It has no effect where At fixes the factor. Where no other name was
	// tried it is somebody who was never tried.
	Except At
	// First asks for the first ask of a sitting instead of the later ones.
	First bool
	// When is 0 for now, or the number that Mark gave.
	When int
}

// Prob is the probability that the target's chance of an answer (rate of breaks a
// minute, for walks) is at least the value.
func (f *Filter) Prob(t Target, atLeast float64) float64 {
	return f.along(f.sum(t)).above(f.prior.scale(atLeast))
}

// Median is the target's median chance (rate of breaks a minute, for walks): the
// figure to print.
func (f *Filter) Median(t Target) float64 {
	return f.prior.unscale(f.along(f.sum(t)).quantile(.5))
}

// Interval holds the target's chance (rate) with the probability confidence, the
// rest shared between both ends.
func (f *Filter) Interval(t Target, confidence float64) (low, high float64) {
	l := f.along(f.sum(t))
	tail := (1 - confidence) / 2
	return f.prior.unscale(l.quantile(tail)), f.prior.unscale(l.quantile(1 - tail))
}

// Worse is the probability that the effect of a name is below the average of the
// factor's other names by at least so many logits (above, for walks: logs of the
// rate), people over the places tried and places over the people. It is 0 where no
// other name was tried.
func (f *Filter) Worse(of Factor, name string, by float64) float64 {
	here, others := At{}, At{}
	here[of], others[of] = name, name
	if !slices.ContainsFunc(f.tried[of], func(n named) bool { return n.text != name }) {
		return 0
	}
	c := f.nothing()
	f.addEffects(c, here, At{}, 1)
	f.addEffects(c, At{}, others, -1)
	l := f.along(c)
	if f.prior.Rate {
		return l.above(by)
	}
	return 1 - l.above(-by)
}

// ColdWorse is the probability that first asks are below the later ones by at least
// so many logits.
func (f *Filter) ColdWorse(by float64) float64 {
	c := f.nothing()
	f.add(c, effect{kind: cold}, f.prior.Cold, 1)
	return 1 - f.along(c).above(-by)
}

func (p Prior) scale(value float64) float64 {
	if p.Rate {
		return math.Log(value)
	}
	return math.Log(value / (1 - value))
}

func (p Prior) unscale(x float64) float64 {
	if p.Rate {
		return math.Exp(x)
	}
	return logistic(x)
}

// combination is a weighted sum of entries of the state and of effects that are not
// in it yet.
type combination struct {
	of      []float64
	unknown float64 // variance of the effects that are not in the state
}

func (f *Filter) nothing() *combination {
	return &combination{of: make([]float64, len(f.effects))}
}

func (f *Filter) add(c *combination, e effect, sd, weight float64) {
	if i := slices.Index(f.effects, e); i >= 0 {
		c.of[i] += weight
		return
	}
	c.unknown += weight * weight * sd * sd
}

// sum is the combination that a target means.
func (f *Filter) sum(t Target) *combination {
	c := f.nothing()
	if t.When == 0 {
		c.of[0] = 1
	} else {
		f.add(c, effect{kind: past, mark: t.When}, 0, 1)
	}
	f.addEffects(c, t.At, t.Except, 1)
	if t.First {
		f.add(c, effect{kind: cold}, f.prior.Cold, 1)
	}
	return c
}

// addEffects adds the effects of the names given; an empty one is the average over
// the names tried.
func (f *Filter) addEffects(c *combination, at, except At, weight float64) {
	for i := range Factors {
		for _, n := range f.over(Factor(i), at, except) {
			f.add(c, ofName(Factor(i), n.text), f.prior.Spread[i], weight*n.share)
		}
	}
	for _, who := range f.over(Person, at, except) {
		for _, where := range f.over(Place, at, except) {
			f.add(c, ofCell(who.text, where.text), f.prior.Cell, weight*who.share*where.share)
		}
	}
}

type share struct {
	text  string
	share float64
}

// over lists the names of a factor that a target means, with their weights.
func (f *Filter) over(of Factor, at, except At) []share {
	if f.prior.Spread[of] == 0 {
		return nil
	}
	if at[of] != "" {
		return []share{{at[of], 1}}
	}
	total := 0
	var all []share
	for _, n := range f.tried[of] {
		if n.text != except[of] {
			total += n.sittings
			all = append(all, share{n.text, float64(n.sittings)})
		}
	}
	if len(all) == 0 && except[of] != "" {
		return []share{{"", 1}}
	}
	for i := range all {
		all[i].share /= float64(total)
	}
	return all
}

// line is the distribution of a combination: a mixture in one dimension.
type line []point

type point struct{ weight, mean, sd float64 }

func (f *Filter) along(c *combination) line {
	l := make(line, 0, most+1)
	v := mat.NewVecDense(len(c.of), c.of)
	for _, x := range f.mix.parts {
		mean := mat.Dot(v, mat.NewVecDense(len(x.mean), x.mean))
		l = append(l, point{x.weight, mean, math.Sqrt(mat.Inner(v, x.cov, v) + c.unknown)})
	}
	return l
}

// above is the probability of x or more.
func (l line) above(x float64) float64 {
	sum := 0.0
	for _, p := range l {
		sum += p.weight * math.Erfc((x-p.mean)/(p.sd*math.Sqrt2)) / 2
	}
	return sum
}

// quantile by halving: above is monotone.
func (l line) quantile(q float64) float64 {
	low, high := math.Inf(1), math.Inf(-1)
	for _, p := range l {
		low, high = min(low, p.mean-9*p.sd), max(high, p.mean+9*p.sd)
	}
	for range 45 {
		middle := (low + high) / 2
		if l.above(middle) > 1-q {
			low = middle
		} else {
			high = middle
		}
	}
	return (low + high) / 2
}
