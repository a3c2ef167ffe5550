package stats

import (
	"cmp"
	"math"
	"slices"
)

// FisherLess is the one-sided p of Fisher's exact test of the table a b / c d,
// small when a is small. The counts are whole, up to 1e7 in all.
//
// Source: Fisher 1935; R fisher.test(alternative = "less").
func FisherLess(a, b, c, d float64) (float64, error) {
	const fn = "FisherLess"
	for _, v := range []float64{a, b, c, d} {
		if err := checkCount(fn, "table", v); err != nil {
			return 0, err
		}
	}
	n := a + b + c + d
	if n == 0 || n > 1e7 {
		return 0, bad(fn, "table", "must sum to 1 to 1e7; it sums to %v", n)
	}
	row, col := a+b, a+c
	p := 0.0
	for k := math.Max(0, row+col-n); k <= a; k++ {
		p += math.Exp(lnChoose(col, k) + lnChoose(n-col, row-k) - lnChoose(n, row))
	}
	return math.Min(1, p), nil
}

// lnChoose is ln of the binomial coefficient.
func lnChoose(n, k float64) float64 {
	all, _ := math.Lgamma(n + 1)
	in, _ := math.Lgamma(k + 1)
	out, _ := math.Lgamma(n - k + 1)
	return all - in - out
}

// Holm returns the p-values adjusted for the number of tests, in the input
// order; each is at least its input and at most 1, ties get equal values.
//
// Source: Holm 1979, Scand J Stat 6:65.
func Holm(p []float64) ([]float64, error) {
	order := make([]int, len(p))
	for i, v := range p {
		if !(v >= 0 && v <= 1) {
			return nil, bad("Holm", "p", "value %d must lie between 0 and 1; it is %v", i+1, v)
		}
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(p[a], p[b]) })
	out := make([]float64, len(p))
	largest := 0.0
	for rank, i := range order {
		largest = math.Max(largest, math.Min(1, p[i]*float64(len(p)-rank)))
		out[i] = largest
	}
	return out, nil
}
