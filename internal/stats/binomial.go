package stats

import (
	"math"

	"gonum.org/v1/gonum/mathext"
)

// maxSupport bounds the number of outcomes an exact test may list.
const maxSupport = 20_000_000

// BinomialTail returns P(X <= k) and P(X >= k) for X binomial with n trials
// and chance p. k may be any whole number.
func BinomialTail(k, n int, p float64) (atMost, atLeast float64, err error) {
	const fn = "BinomialTail"
	if n < 0 {
		return 0, 0, bad(fn, "n", "must be at least 0; it is %d", n)
	}
	if !(p >= 0 && p <= 1) {
		return 0, 0, bad(fn, "p", "must lie between 0 and 1; it is %v", p)
	}
	atLeast = 1
	switch {
	case k > n || k > 0 && p == 0:
		atLeast = 0
	case k > 0 && p < 1:
		atLeast = incBeta(float64(k), float64(n-k+1), p, 1-p)
	}
	return binomialCDF(k, n, p), atLeast, nil
}

func binomialCDF(k, n int, p float64) float64 {
	switch {
	case k < 0:
		return 0
	case k >= n || p == 0:
		return 1
	case p == 1:
		return 0
	}
	return incBeta(float64(n-k), float64(k+1), 1-p, p)
}

// BetaQuantile returns the q-quantile of the beta distribution with shapes
// a, b > 0, 0 <= q <= 1. For "stays as now" a = successes + 1/2,
// b = failures + 1/2 is Jeffreys' posterior.
func BetaQuantile(q, a, b float64) (float64, error) {
	const fn = "BetaQuantile"
	if !(q >= 0 && q <= 1) {
		return 0, bad(fn, "q", "must lie between 0 and 1; it is %v", q)
	}
	if !finite(a) || a <= 0 || a > maxCount {
		return 0, bad(fn, "a", "must be a finite number above 0; it is %v", a)
	}
	if !finite(b) || b <= 0 || b > maxCount {
		return 0, bad(fn, "b", "must be a finite number above 0; it is %v", b)
	}
	switch q {
	case 0:
		return 0, nil
	case 1:
		return 1, nil
	}
	if q <= 0.5 {
		return betaQuantile(q, a, b), nil
	}
	return betaQuantileUpper(1-q, a, b), nil
}

// betaQuantile solves I_x(a, b) = p for x; betaQuantileUpper 1 - I_x(a, b) = p.
func betaQuantile(p, a, b float64) float64 {
	return betaSolve(a, b, func(x float64) float64 { return incBeta(a, b, x, 1-x) - p }, p, -1)
}

func betaQuantileUpper(p, a, b float64) float64 {
	return betaSolve(a, b, func(x float64) float64 { return p - incBeta(b, a, 1-x, x) }, p, 1)
}

// betaSolve finds the root of the increasing f on (0, 1) by Newton steps on
// the logit scale, kept inside a bracket.
func betaSolve(a, b float64, f func(float64) float64, p, side float64) float64 {
	mean := a / (a + b)
	sd := math.Sqrt(mean * (1 - mean) / (a + b + 1))
	x := mean + side*-mathext.NormalQuantile(p)*sd
	lo, hi := 0.0, 1.0
	if !(x > 0 && x < 1) {
		x = mean
	}
	for range 400 {
		v := f(x)
		if v == 0 {
			return x
		}
		if v > 0 {
			hi = x
		} else {
			lo = x
		}
		d := betaTerm(a, b, x, 1-x) // density times x(1-x)
		step := v / d
		var next float64
		if math.Abs(step) < 1e-3 { // plain Newton keeps the last digits
			next = x - step*x*(1-x)
		} else {
			l := math.Log(x) - math.Log1p(-x) - math.Max(-3, math.Min(3, step))
			next = 1 / (1 + math.Exp(-l))
		}
		if !(next > lo && next < hi) {
			if lo == 0 && hi < 1e-3 {
				next = hi / 16
			} else {
				next = (lo + hi) / 2
			}
		}
		if math.Abs(next-x) <= 2e-16*x || next == lo || next == hi {
			return next
		}
		x = next
	}
	return x
}

// table lists the probabilities of the outcomes lo, lo+1, ...
type table struct {
	lo int
	w  []float64 // relative to the largest
	s  float64   // their sum
}

// ratioTable builds a table from the ratio w[k+1]/w[k], going out from the
// mode so that rounding stays relative.
func ratioTable(lo, hi, mode int, ratio func(k int) float64) table {
	t := table{lo: lo, w: make([]float64, hi-lo+1)}
	mode = min(max(mode, lo), hi)
	t.w[mode-lo] = 1
	for k := mode; k < hi && t.w[k-lo] > 0; k++ {
		t.w[k+1-lo] = t.w[k-lo] * ratio(k)
	}
	for k := mode; k > lo && t.w[k-lo] > 0; k-- {
		t.w[k-1-lo] = t.w[k-lo] / ratio(k-1)
	}
	t.s = sumOutside(t.w)
	return t
}

// sumOutside adds from both ends towards the largest, small values first.
func sumOutside(w []float64) float64 {
	var a, b float64
	i, j := 0, len(w)-1
	for i <= j {
		if w[i] < w[j] {
			a += w[i]
			i++
		} else {
			b += w[j]
			j--
		}
	}
	return a + b
}

func binomialTable(n int, p float64) table {
	odds := p / (1 - p)
	return ratioTable(0, n, int(float64(n+1)*p), func(k int) float64 {
		return float64(n-k) / float64(k+1) * odds
	})
}

func (t table) at(k int) float64 { return t.w[k-t.lo] / t.s }

func (t table) less(k int) float64 {
	var s float64
	for _, w := range t.w[:k-t.lo+1] {
		s += w
	}
	return math.Min(1, s/t.s)
}

func (t table) greater(k int) float64 {
	var s float64
	for i := len(t.w) - 1; i >= k-t.lo; i-- {
		s += t.w[i]
	}
	return math.Min(1, s/t.s)
}

// likeTolerance says when two outcomes count as equally likely (R uses the same).
const likeTolerance = 1e-7

// notLikelier is the chance of all outcomes no likelier than k; with
// halfEqual, those as likely count half.
func (t table) notLikelier(k int, halfEqual bool) float64 {
	bar := t.w[k-t.lo]
	var s, all float64
	for _, w := range t.w {
		switch {
		case w > bar*(1+likeTolerance):
			all += w
			continue
		case halfEqual && w >= bar*(1-likeTolerance):
			s += w / 2
		default:
			s += w
		}
		all += w
	}
	if !halfEqual && s == all {
		return 1
	}
	return math.Min(1, s/t.s)
}
