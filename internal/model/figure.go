package model

import (
	"iter"
	"math"
	"slices"

	"gonum.org/v1/gonum/stat/distuv"
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
	if len(f.tried[of]) == 0 || len(f.tried[of]) == 1 && f.tried[of][0].text == name {
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
// in it.
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
		f.add(c, effect{kind: past, a: t.When}, 0, 1)
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
		for n, share := range f.over(Factor(i), at, except) {
			f.add(c, effect{factor + kind(i), n, 0}, f.prior.Spread[i], weight*share)
		}
	}
	for who, first := range f.over(Person, at, except) {
		for where, second := range f.over(Place, at, except) {
			f.add(c, effect{cell, who, where}, f.prior.Cell, weight*first*second)
		}
	}
}

// over goes through the names of a factor that a target means, by their numbers,
// with their weights.
func (f *Filter) over(of Factor, at, except At) iter.Seq2[int, float64] {
	return func(yield func(int, float64) bool) {
		if f.prior.Spread[of] == 0 {
			return
		}
		if at[of] != "" {
			yield(f.number(of, at[of]), 1)
			return
		}
		out, total := never, 0
		if except[of] != "" {
			out = f.number(of, except[of])
		}
		for i, n := range f.tried[of] {
			if i != out {
				total += n.sittings
			}
		}
		if total == 0 && except[of] != "" {
			yield(never, 1)
			return
		}
		for i, n := range f.tried[of] {
			if i != out && !yield(i, float64(n.sittings)/float64(total)) {
				return
			}
		}
	}
}

// line is the distribution of a combination: a mixture in one dimension.
type line []point

type point struct{ weight, mean, sd float64 }

func (f *Filter) along(c *combination) line {
	l := make(line, len(f.mix.parts), most+1)
	for k, x := range f.mix.parts {
		mean, variance := 0.0, c.unknown
		raw := x.cov.RawSymmetric()
		for i, w := range c.of {
			if w == 0 {
				continue
			}
			mean += w * x.mean[i]
			row := raw.Data[i*raw.Stride : i*raw.Stride+len(c.of)]
			sum := w * row[i] / 2
			for j := i + 1; j < len(row); j++ {
				sum += c.of[j] * row[j]
			}
			variance += 2 * w * sum
		}
		l[k] = point{x.weight, mean, math.Sqrt(variance)}
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

// quantile by false position (the Illinois rule). The quantile of a mixture lies
// between those of its parts.
func (l line) quantile(q float64) float64 {
	low, high := math.Inf(1), math.Inf(-1)
	z := distuv.UnitNormal.Quantile(q)
	for _, p := range l {
		low, high = min(low, p.mean+z*p.sd), max(high, p.mean+z*p.sd)
	}
	atLow, atHigh := l.above(low)-(1-q), l.above(high)-(1-q)
	for last := 0; high-low > 1e-9 && atLow > 0 && atHigh < 0; {
		x := (low*atHigh - high*atLow) / (atHigh - atLow)
		at := l.above(x) - (1 - q)
		if math.Abs(at) < 1e-9 {
			return x
		}
		switch {
		case at > 0 && last > 0:
			low, atLow, atHigh = x, at, atHigh/2
		case at > 0:
			low, atLow, last = x, at, 1
		case last < 0:
			high, atHigh, atLow = x, at, atLow/2
		default:
			high, atHigh, last = x, at, -1
		}
	}
	return (low + high) / 2
}
