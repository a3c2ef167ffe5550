package stats

import "math"

// BernoulliCUSUM is the CUSUM of independent yes/no trials on whole units:
// a failure adds Den - Num units, a success takes off Num, and the signal
// comes at H units or more. Num/Den is the reference value rounded to a
// fraction; one failure is Den units.
//
//	B_t = max(0, B_{t-1}) + X_t Den - Num, B_0 = 0
//
// Source: Reynolds & Stoumbos 1999, J Qual Tech 31:87.
type BernoulliCUSUM struct {
	Num, Den int // 0 < Num < Den
	H        int // threshold in units, above 0
}

// maxCUSUMStates bounds the linear system of RunLength.
const maxCUSUMStates = 3000

// Reference returns the exact reference value for failure rates p0 (in
// control) and p1 (out of control), 0 < p0 < p1 < 1: the slope of Wald's
// sequential test.
func Reference(p0, p1 float64) (float64, error) {
	if !(p0 > 0 && p0 < p1 && p1 < 1) {
		return 0, bad("Reference", "p0 and p1", "must obey 0 < p0 < p1 < 1; they are %v and %v", p0, p1)
	}
	r1 := math.Log1p(-p0) - math.Log1p(-p1)
	return r1 / (r1 + math.Log(p1/p0)), nil
}

// Check says whether the settings are possible.
func (b BernoulliCUSUM) Check() error {
	const fn = "BernoulliCUSUM"
	switch {
	case b.Num < 1 || b.Den <= b.Num || b.Den > 1_000_000_000:
		return bad(fn, "gamma", "must be a fraction between 0 and 1; it is %d/%d", b.Num, b.Den)
	case b.H < 1:
		return bad(fn, "h_units", "must be at least 1; it is %d", b.H)
	case b.H > 1_000_000_000:
		return tooLarge(fn, "h_units", "is above 1e9")
	}
	return nil
}

// Path returns the statistic in units after each trial, unfloored as in the
// formula above, and the 1-based number of the first trial that signals, 0 if
// none does. Nothing is reset after a signal.
func (b BernoulliCUSUM) Path(failure []bool) (units []int, first int, err error) {
	if err := b.Check(); err != nil {
		return nil, 0, err
	}
	units = make([]int, len(failure))
	s := 0
	for i, f := range failure {
		s = max(0, s) - b.Num
		if f {
			s += b.Den
		}
		units[i] = s
		if first == 0 && s >= b.H {
			first = i + 1
		}
	}
	return units, first, nil
}

// RunLength is the expected number of trials up to and including the one that
// signals, at a true failure rate 0 < p <= 1, starting from 0. It solves the
// linear system of the Markov chain exactly, H up to 3000 units. Where no
// signal can ever come it is +Inf, and so it is where it would exceed 1e300.
func (b BernoulliCUSUM) RunLength(p float64) (Number, error) {
	const fn = "RunLength"
	if err := b.Check(); err != nil {
		return Number{}, err
	}
	if !(p >= 0 && p <= 1) {
		return Number{}, bad(fn, "p", "must lie between 0 and 1; it is %v", p)
	}
	if b.H > maxCUSUMStates {
		return Number{}, tooLarge(fn, "h_units", "is above %d", maxCUSUMStates)
	}
	if p == 0 {
		return Some(math.Inf(1)), nil
	}
	// States are max(0, B) = 0..H-1. They are taken out one by one, highest
	// first, by the elimination of Grassmann, Taksar & Heyman (1985), which
	// only adds: no digits are lost however long the run.
	h := b.H
	q := 1 - p
	a := make([][]float64, h) // chances of going to lower or equal states, and back up
	signal := make([]float64, h)
	wait := make([]float64, h) // trials spent per visit
	for i := range a {
		a[i] = make([]float64, h)
		wait[i] = 1
		if up := i + b.Den - b.Num; up >= h {
			signal[i] = p
		} else {
			a[i][up] += p
		}
		a[i][max(0, i-b.Num)] += q
	}
	for k := h - 1; k > 0; k-- {
		out := signal[k]
		for j := range k {
			out += a[k][j]
		}
		if out <= 0 {
			return Some(math.Inf(1)), nil
		}
		for i := range k {
			f := a[i][k] / out
			if f == 0 {
				continue
			}
			for j, v := range a[k][:k] {
				if v != 0 {
					a[i][j] += f * v
				}
			}
			signal[i] += f * signal[k]
			wait[i] += f * wait[k]
		}
	}
	if signal[0] <= 0 {
		return Some(math.Inf(1)), nil
	}
	arl := wait[0] / signal[0]
	if arl > 1e300 || math.IsNaN(arl) {
		arl = math.Inf(1)
	}
	return Some(arl), nil
}
