package model

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"gonum.org/v1/gonum/stat/distuv"
)

// A clean walk never lowers an answer about breaks.
func TestCleanWalkNeverLowers(t *testing.T) {
	qs := []Question{{Target{}, .2}, {Target{}, .5}, {Target{At: At{Person: "p1"}}, .3}}
	r := rand.New(rand.NewPCG(3, 4))
	for range 100 {
		w := NewWatch(Walking(), qs)
		for range 20 {
			w.ObserveWalk(Walk{At: At{Person: fmt.Sprint("p", r.IntN(2))}, Breaks: r.IntN(4), Minutes: 1 + 9*r.Float64()})
			x := w.Clone()
			x.ObserveWalk(Walk{At: At{Person: fmt.Sprint("p", r.IntN(3))}, Minutes: 5 * r.Float64(), Night: true})
			for i := range qs {
				if x.Answer(i) < w.Answer(i) {
					t.Fatalf("a clean walk takes %+v from %v to %v", qs[i], w.Answer(i), x.Answer(i))
				}
			}
		}
	}
}

// Negative binomial counts have the mean and the variance asked for; without any
// likeness they are Poisson (gonum's).
func TestBreaksAreNegativeBinomial(t *testing.T) {
	for _, alike := range []float64{0, .25, 1} {
		const mu = 3.2
		sum, mean, square := 0.0, 0.0, 0.0
		for n := range 400 {
			p := math.Exp(logNegativeBinomial(float64(n), mu, alike))
			if want := (distuv.Poisson{Lambda: mu}).Prob(float64(n)); alike == 0 && math.Abs(p-want) > 1e-12 {
				t.Errorf("%d breaks: %v, Poisson %v", n, p, want)
			}
			sum += p
			mean += p * float64(n)
			square += p * float64(n) * float64(n)
		}
		if math.Abs(sum-1) > 1e-9 || math.Abs(mean-mu) > 1e-6 || math.Abs(square-mean*mean-mu-alike*mu*mu) > 1e-4 {
			t.Errorf("likeness %v: sum %v, mean %v, variance %v", alike, sum, mean, square-mean*mean)
		}
	}
}

// One walk against a dense sum over the log rate.
func TestWalkAgainstDenseQuadrature(t *testing.T) {
	p := Walking()
	for _, w := range []Walk{{Breaks: 0, Minutes: 5}, {Breaks: 3, Minutes: 10}, {Breaks: 12, Minutes: 4}} {
		f := New(p)
		f.ObserveWalk(w)
		total, above := 0.0, 0.0
		for _, x := range grid(-10, 8, 4000) {
			seen := logNegativeBinomial(float64(w.Breaks), w.Minutes*math.Exp(x), p.Likeness)
			l := density(x, p.Start, p.StartSD) * math.Exp(seen)
			total += l
			if x >= math.Log(.4) {
				above += l
			}
		}
		if got := f.Prob(Target{}, .4); math.Abs(got-above/total) > .02 {
			t.Errorf("%+v: P(at least .4 a minute) = %.4f, exactly %.4f", w, got, above/total)
		}
	}
}
