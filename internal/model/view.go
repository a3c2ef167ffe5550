package model

import (
	"math"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/stat/combin"
)

const points = 25

// Nodes and weights of the integral over a standard normal.
var node, mass = func() (x, w [points]float64) {
	quad.Hermite{}.FixedLocations(x[:], w[:], math.Inf(-1), math.Inf(1))
	for i := range x {
		x[i] *= math.Sqrt2
		w[i] /= math.SqrtPi
	}
	return x, w
}()

// view is the direction that some asks see, part by part of the mixture, with the
// likelihood of what was seen so far.
type view struct {
	parts  []direction
	scaled float64 // log of what all likelihoods were multiplied by
}

type direction struct {
	mean, variance float64
	with           []float64 // covariance of the direction with the state
	chance         [points]float64
	likelihood     [points]float64
}

// look along the sum of the entries.
func (m *mixture) look(entries []int) *view {
	v := &m.view
	v.scaled = 0
	for len(v.parts) < len(m.parts) {
		v.parts = append(v.parts, direction{})
	}
	v.parts = v.parts[:len(m.parts)]
	for k, x := range m.parts {
		d := &v.parts[k]
		n := len(x.mean)
		d.with = append(d.with[:0], make([]float64, n)...)
		d.mean, d.variance = 0, 0
		raw := x.cov.RawSymmetric()
		for _, e := range entries {
			d.mean += x.mean[e]
			for i := range e {
				d.with[i] += raw.Data[i*raw.Stride+e]
			}
			for i, c := range raw.Data[e*raw.Stride+e : e*raw.Stride+n] {
				d.with[e+i] += c
			}
		}
		for _, e := range entries {
			d.variance += d.with[e]
		}
		for i := range d.likelihood {
			d.likelihood[i] = mass[i]
		}
	}
	return v
}

// chances works out the chance of an answer at every point.
func (v *view) chances() {
	for k := range v.parts {
		d := &v.parts[k]
		sd := math.Sqrt(d.variance)
		for i, x := range node {
			d.chance[i] = logistic(d.mean + sd*x)
		}
	}
}

func logistic(x float64) float64 { return 1 / (1 + math.Exp(-x)) }

// urn is Pólya's: each ask makes the next of the same sitting a little more like it.
// The chance of yes after y of n is (p + alike y) / (1 + alike n), with alike =
// likeness / (1 - likeness).
type urn struct {
	alike   float64
	yes, of float64
}

// ask multiplies in one ask and puts it into the urn.
func (v *view) ask(yes bool, u *urn) {
	by := 1 / (1 + u.alike*u.of)
	pull := u.alike * u.yes
	if !yes {
		pull = u.alike * (u.of - u.yes)
	}
	largest := 0.0
	for k := range v.parts {
		d := &v.parts[k]
		for i, p := range d.chance {
			if !yes {
				p = 1 - p
			}
			d.likelihood[i] *= (p + pull) * by
			largest = max(largest, d.likelihood[i])
		}
	}
	u.of++
	if yes {
		u.yes++
	}
	if largest < 1e-100 {
		v.scale(1e100)
	}
}

// scale keeps long products from vanishing.
func (v *view) scale(by float64) {
	v.scaled += math.Log(by)
	for k := range v.parts {
		for i := range v.parts[k].likelihood {
			v.parts[k].likelihood[i] *= by
		}
	}
}

// breaks multiplies in a walk: a Poisson count whose rate differs from walk to walk
// by a gamma factor of mean 1, that is, a negative binomial.
func (v *view) breaks(w Walk, alike float64) {
	n := float64(w.Breaks)
	for k := range v.parts {
		d := &v.parts[k]
		sd := math.Sqrt(d.variance)
		for i, x := range node {
			d.likelihood[i] *= math.Exp(logNegativeBinomial(n, w.Minutes*math.Exp(d.mean+sd*x), alike))
		}
	}
}

func logNegativeBinomial(n, mean, alike float64) float64 {
	if alike == 0 {
		lg, _ := math.Lgamma(n + 1)
		return n*math.Log(mean) - mean - lg
	}
	size := 1 / alike
	ways := combin.LogGeneralizedBinomial(n+size-1, n)
	return ways - size*math.Log1p(alike*mean) - n*math.Log1p(1/(alike*mean))
}

// moments of the direction given what was seen: the probability of it, the new mean
// and the new variance.
func (d *direction) moments() (chance, mean, variance float64) {
	var first, second float64
	for i, l := range d.likelihood {
		chance += l
		first += l * node[i]
		second += l * node[i] * node[i]
	}
	if chance == 0 {
		return 0, d.mean, d.variance
	}
	first /= chance
	second = second/chance - first*first
	return chance, d.mean + math.Sqrt(d.variance)*first, d.variance * second
}
