package model

import (
	"fmt"
	"math"
	"testing"
)

// exact integrates the model without any approximation of the state: a grid over
// the level before and after each move and over two effects, for two or three
// sittings by up to two people at one place.
//
// Source: the definition of the model, summed over a grid (its own quadrature, no
// shared code with the filter but the logistic function).
type exact struct {
	p      Prior
	levels []float64
	people []float64
	cold   []float64
}

func grid(from, to float64, n int) []float64 {
	out := make([]float64, n)
	for i := range out {
		out[i] = from + (to-from)*float64(i)/float64(n-1)
	}
	return out
}

func density(x, mean, sd float64) float64 {
	return math.Exp(-(x-mean)*(x-mean)/(2*sd*sd)) / (sd * math.Sqrt(2*math.Pi))
}

// like is the likelihood of a sitting with the urn written out ask by ask.
func (e exact) like(s Sitting, level, cold float64) float64 {
	t := (1 - e.p.Likeness) / e.p.Likeness
	yes, of, l := 0.0, 0.0, 1.0
	ask := func(answered bool, p float64) {
		c := (p*t + yes) / (t + of)
		if !answered {
			c = 1 - c
		} else {
			yes++
		}
		of++
		l *= c
	}
	switch s.First {
	case Yes:
		ask(true, logistic(level+cold))
	case No:
		ask(false, logistic(level+cold))
	}
	ways := 1.0
	for i := range s.Of {
		ask(i < s.Yes, logistic(level))
		if i < s.Yes {
			ways *= float64(s.Of-i) / float64(i+1)
		}
	}
	return l * ways
}

// figure is a probability to work out: of the level, averaged over both people by
// their sittings, being at least a value; of the first ask instead of later ones.
type figure struct {
	value float64
	first bool
}

// run gives the probability of all sittings and of each figure after them.
func (e exact) run(sittings []Sitting, figures []figure) (total float64, above []float64) {
	share := 0.0
	for _, s := range sittings {
		if s.At[Person] == "bram" {
			share += 1 / float64(len(sittings))
		}
	}
	dx := e.levels[1] - e.levels[0]
	above = make([]float64, len(figures))
	for _, ana := range e.people {
		for _, bram := range e.people {
			for _, cold := range e.cold {
				w := density(ana, 0, e.p.Spread[Person]) * density(bram, 0, e.p.Spread[Person]) * density(cold, 0, e.p.Cold)
				now := make([]float64, len(e.levels))
				for i, l := range e.levels {
					now[i] = w * density(l, e.p.Start, e.p.StartSD)
				}
				for k, s := range sittings {
					if k > 0 {
						now = e.move(now, s.Night)
					}
					who := ana
					if s.At[Person] == "bram" {
						who = bram
					}
					for i, l := range e.levels {
						now[i] *= e.like(s, l+who, cold)
					}
				}
				for i, l := range e.levels {
					total += now[i]
					for k, f := range figures {
						x := l + (1-share)*ana + share*bram
						if f.first {
							x += cold
						}
						// The part of the grid's cell that lies above the limit.
						part := (x - math.Log(f.value/(1-f.value))) / dx
						above[k] += now[i] * min(1, max(0, part+.5))
					}
				}
			}
		}
	}
	for k := range above {
		above[k] /= total
	}
	effect := e.people[1] - e.people[0]
	return total * dx * effect * effect * (e.cold[1] - e.cold[0]), above
}

var kernels = map[string][]float64{}

func (e exact) move(now []float64, night bool) []float64 {
	jump := e.p.JumpChance
	if night {
		jump = e.p.JumpNight
	}
	dx := e.levels[1] - e.levels[0]
	key := fmt.Sprint(e.p.Step, e.p.Jump, jump, dx)
	k := kernels[key]
	if k == nil {
		for i := range e.levels {
			d := float64(i) * dx
			k = append(k, dx*((1-jump)*density(d, 0, e.p.Step)+jump*density(d, 0, e.p.Jump)))
		}
		kernels[key] = k
	}
	out := make([]float64, len(now))
	for i := range out {
		for j, p := range now {
			out[i] += p * k[max(i-j, j-i)]
		}
	}
	return out
}

// Two or three sittings against a dense sum over level, people and cold effect.
func TestAgainstDenseQuadrature(t *testing.T) {
	p := Shipped()
	p.Spread[Place], p.Cell, p.Step = 0, 0, .25
	e := exact{p, grid(-8, 9.85, 120), grid(-2.4, 2.4, 9), grid(-2.4, 2.4, 9)}
	var figures []figure
	for _, value := range []float64{.5, .8, .85, .95} {
		figures = append(figures, figure{value, false}, figure{value, true})
	}
	asked := func(who string, first First, yes, of int, night bool) Sitting {
		return Sitting{At: At{Person: who}, First: first, Yes: yes, Of: of, Night: night}
	}
	for _, c := range []struct {
		name     string
		sittings []Sitting
	}{
		{"clean", []Sitting{asked("ana", Yes, 5, 5, false), asked("ana", Yes, 6, 6, true)}},
		{"clean, then by another", []Sitting{asked("ana", Yes, 5, 5, false), asked("bram", Yes, 3, 4, false)}},
		{"cold misses", []Sitting{asked("ana", No, 6, 6, false), asked("ana", No, 7, 7, true)}},
		{"a drop", []Sitting{asked("ana", Yes, 8, 8, false), asked("ana", Yes, 9, 9, false), asked("ana", No, 2, 7, true)}},
		{"a leap", []Sitting{asked("ana", No, 1, 8, false), asked("ana", No, 2, 9, false), asked("bram", Yes, 9, 9, true)}},
		{"tallies", []Sitting{asked("ana", NotNoted, 18, 20, false), asked("bram", NotNoted, 9, 12, true)}},
		{"only misses", []Sitting{asked("ana", No, 0, 4, false), asked("ana", No, 0, 5, false)}},
	} {
		f := New(p)
		for _, s := range c.sittings {
			f.Observe(s)
		}
		total, want := e.run(c.sittings, figures)
		if math.Abs(f.LogLikelihood()-math.Log(total)) > .05 {
			t.Errorf("%s: log likelihood %.4f, exactly %.4f", c.name, f.LogLikelihood(), math.Log(total))
		}
		for i, x := range figures {
			got := f.Prob(Target{First: x.first}, x.value)
			if math.Abs(got-want[i]) > .03 {
				t.Errorf("%s: P(first ask %v at least %v) = %.4f, exactly %.4f", c.name, x.first, x.value, got, want[i])
			}
		}
	}
}

// A level in the past, given what came later, against the dense sum over both: the
// level at the mark and the level now.
func TestMarkAgainstDenseSmoothing(t *testing.T) {
	p := Prior{Start: .5, StartSD: 1.8, Step: .25, JumpChance: .05, JumpNight: .2, Jump: 1.5, Likeness: .10}
	e := exact{p: p, levels: grid(-8, 9.85, 120)}
	before := []Sitting{{First: Yes, Yes: 3, Of: 6}}
	for name, after := range map[string][]Sitting{
		"went on":  {{First: No, Yes: 4, Of: 7}},
		"leapt":    {{First: Yes, Yes: 8, Of: 8, Night: true}, {First: Yes, Yes: 9, Of: 9}},
		"fell":     {{First: No, Yes: 0, Of: 6, Night: true}},
		"only one": {{First: Yes}},
	} {
		f := New(p)
		for _, s := range before {
			f.Observe(s)
		}
		m := f.Mark()
		for _, s := range after {
			f.Observe(s)
		}
		total, above := 0.0, 0.0
		limit := math.Log(.6 / .4)
		for i, l := range e.levels {
			now := make([]float64, len(e.levels))
			now[i] = density(l, p.Start, p.StartSD) * e.like(before[0], l, 0)
			for _, s := range after {
				now = e.move(now, s.Night)
				for j, x := range e.levels {
					now[j] *= e.like(s, x, 0)
				}
			}
			for _, w := range now {
				total += w
				above += w * min(1, max(0, (l-limit)/(e.levels[1]-e.levels[0])+.5))
			}
		}
		if got := f.Prob(Target{When: m}, .6); math.Abs(got-above/total) > .03 {
			t.Errorf("%s: P(level then at least .6) = %.4f, exactly %.4f", name, got, above/total)
		}
	}
}
