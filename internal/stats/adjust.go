package stats

import (
	"math"
	"slices"
)

func checkP(fn string, p []float64) error {
	if len(p) == 0 {
		return empty(fn, "p")
	}
	for i, v := range p {
		if !(v >= 0 && v <= 1) {
			return bad(fn, "p", "value %d must lie between 0 and 1; it is %v", i+1, v)
		}
	}
	return nil
}

func ascending(p []float64) []int {
	order := make([]int, len(p))
	for i := range order {
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int {
		switch {
		case p[a] < p[b]:
			return -1
		case p[a] > p[b]:
			return 1
		}
		return 0
	})
	return order
}

// Holm returns the p-values adjusted for the number of tests, in the input
// order; each is at least its input and at most 1, ties get equal values.
//
// Source: Holm 1979, Scand J Stat 6:65.
func Holm(p []float64) ([]float64, error) {
	if err := checkP("Holm", p); err != nil {
		return nil, err
	}
	out := make([]float64, len(p))
	m, run := len(p), 0.0
	for rank, i := range ascending(p) {
		run = math.Max(run, math.Min(1, p[i]*float64(m-rank)))
		out[i] = run
	}
	return out, nil
}

// BenjaminiHochberg returns the p-values adjusted for the false discovery
// rate, in the input order.
//
// Source: Benjamini & Hochberg 1995, JRSS B 57:289.
func BenjaminiHochberg(p []float64) ([]float64, error) {
	if err := checkP("BenjaminiHochberg", p); err != nil {
		return nil, err
	}
	out := make([]float64, len(p))
	order := ascending(p)
	m, run := len(p), 1.0
	for rank, i := range slices.Backward(order) {
		run = math.Min(run, float64(m)/float64(rank+1)*p[i])
		out[i] = run
	}
	return out, nil
}

// Bonferroni returns the p-values times their number, at most 1.
func Bonferroni(p []float64) ([]float64, error) {
	if err := checkP("Bonferroni", p); err != nil {
		return nil, err
	}
	out := make([]float64, len(p))
	for i, v := range p {
		out[i] = math.Min(1, v*float64(len(p)))
	}
	return out, nil
}
