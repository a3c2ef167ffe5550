package stats

import "math"

// FisherTest holds Fisher's exact test of the table a b / c d in every
// convention in use.
type FisherTest struct {
	PLess, PGreater float64 // one-sided: a small / a large
	PTwoMinLik      float64 // tables no likelier than the observed one (Irwin; R)
	PTwoDoubled     float64 // twice the smaller one-sided p, at most 1

	MidPLess, MidPGreater float64 // one-sided p less half the observed table
	MidPTwoMinLikAllEq    float64 // PTwoMinLik with every equally likely table counted half
	MidPTwoMinLikObs      float64 // PTwoMinLik less half the observed table
	MidPTwoDoubled        float64 // twice the smaller one-sided mid-p, at most 1

	ORCondMLE        Number // conditional maximum-likelihood odds ratio, may be +Inf; absent for a single possible table
	ORLower, ORUpper Number // its exact limits; the upper may be +Inf

	// The same three as R prints them: R's search for them stops at a step of
	// 1.2e-4, so they are good to a few digits only. For comparison with R.
	ORCondMLEAsR, ORLowerAsR, ORUpperAsR Number
}

// Fisher tests the 2 x 2 table a b / c d with fixed margins; the counts are
// whole. When a margin is empty only one table is possible: every p and mid-p
// is 1, and the limits of the odds ratio are 0 and Inf.
//
// Sources: Fisher 1935; Irwin 1935; Fagerland, Lydersen & Laake 2017,
// Statistical Analysis of Contingency Tables (mid-p); R fisher.test.
func Fisher(a, b, c, d, level float64) (FisherTest, error) {
	const fn = "Fisher"
	if err := checkTable(fn, a, b, c, d); err != nil {
		return FisherTest{}, err
	}
	if err := checkLevel(fn, level); err != nil {
		return FisherTest{}, err
	}
	h, err := withMargins(fn, a, b, c, d)
	if err != nil {
		return FisherTest{}, err
	}
	lo, hi := h.lo, h.hi
	if lo == hi {
		inf := Some(math.Inf(1))
		return FisherTest{1, 1, 1, 1, 1, 1, 1, 1, 1, Number{}, Some(0), inf, Number{}, Some(0), inf}, nil
	}
	t := h.table(1)
	k := int(a)
	f := t.at(k)
	r := FisherTest{PLess: t.less(k), PGreater: t.greater(k), PTwoMinLik: t.notLikelier(k, false)}
	r.PTwoDoubled = math.Min(1, 2*math.Min(r.PLess, r.PGreater))
	r.MidPLess, r.MidPGreater = math.Max(0, r.PLess-f/2), math.Max(0, r.PGreater-f/2)
	r.MidPTwoMinLikAllEq = t.notLikelier(k, true)
	r.MidPTwoMinLikObs = math.Max(0, r.PTwoMinLik-f/2)
	r.MidPTwoDoubled = math.Min(1, 2*math.Min(r.MidPLess, r.MidPGreater))

	tail := (1 - level) / 2
	switch k {
	case lo:
		r.ORCondMLE, r.ORLower = Some(0), Some(0)
	case hi:
		r.ORCondMLE, r.ORUpper = Some(math.Inf(1)), Some(math.Inf(1))
	default:
		r.ORCondMLE = Some(math.Exp(h.solve(func(t table) float64 { return t.mean() - a })))
	}
	if k > lo {
		r.ORLower = Some(math.Exp(h.solve(func(t table) float64 { return t.greater(k) - tail })))
	}
	if k < hi {
		r.ORUpper = Some(math.Exp(h.solve(func(t table) float64 { return tail - t.less(k) })))
	}
	r.ORCondMLEAsR, r.ORLowerAsR, r.ORUpperAsR = r.ORCondMLE, r.ORLower, r.ORUpper
	if k > lo && k < hi {
		r.ORCondMLEAsR = Some(h.solveAsR(func(t table) float64 { return t.mean() - a }))
	}
	if k > lo {
		r.ORLowerAsR = Some(h.solveAsR(func(t table) float64 { return t.greater(k) - tail }))
	}
	if k < hi {
		r.ORUpperAsR = Some(h.solveAsR(func(t table) float64 { return t.less(k) - tail }))
	}
	return r, nil
}

// FisherLess is PLess of Fisher alone, without the search for the odds ratio and
// its limits, which takes a hundred times as long.
func FisherLess(a, b, c, d float64) (float64, error) {
	const fn = "FisherLess"
	if err := checkTable(fn, a, b, c, d); err != nil {
		return 0, err
	}
	h, err := withMargins(fn, a, b, c, d)
	switch {
	case err != nil:
		return 0, err
	case h.lo == h.hi:
		return 1, nil
	}
	return h.table(1).less(int(a)), nil
}

// checkTable checks the four counts of a 2 x 2 table.
func checkTable(fn string, a, b, c, d float64) error {
	for _, e := range []struct {
		name string
		v    float64
	}{{"a", a}, {"b", b}, {"c", c}, {"d", d}} {
		if err := checkCount(fn, e.name, e.v); err != nil {
			return err
		}
		if e.v > 1e9 {
			return tooLarge(fn, e.name, "is above 1e9")
		}
	}
	if a+b+c+d == 0 {
		return empty(fn, "table")
	}
	return nil
}

// withMargins is the distribution of a under the margins of a checked table.
func withMargins(fn string, a, b, c, d float64) (hypergeometric, error) {
	row1, row2, col1 := int(a+b), int(c+d), int(a+c)
	h := hypergeometric{max(0, col1-row2), min(row1, col1), row1, row2, col1}
	if h.hi-h.lo+1 > maxSupport {
		return h, tooLarge(fn, "table", "allows more than %v tables", float64(maxSupport))
	}
	return h, nil
}

// solveAsR finds the odds at which the monotone f is 0 the way R's fisher.test
// does: on (0, 1) for the odds or for one over the odds, with R's default
// tolerance.
func (h hypergeometric) solveAsR(f func(table) float64) float64 {
	const eps = 0x1p-52
	tol := math.Pow(eps, 0.25)
	at := func(odds float64) float64 {
		if odds == 0 {
			return f(table{lo: h.lo, w: one(h.hi-h.lo+1, 0), s: 1})
		}
		return f(h.table(odds))
	}
	v0, v1 := at(0), at(1)
	switch {
	case v1 == 0:
		return 1
	case (v0 > 0) != (v1 > 0):
		return zeroin(at, 0, 1, tol)
	}
	return 1 / zeroin(func(t float64) float64 { return at(1 / t) }, eps, 1, tol)
}

// hypergeometric is the distribution of the upper left count under fixed
// margins and an odds ratio (Fisher's noncentral form).
type hypergeometric struct{ lo, hi, row1, row2, col1 int }

func (h hypergeometric) table(odds float64) table {
	ratio := func(k int) float64 {
		return float64(h.row1-k) / float64(k+1) * (float64(h.col1-k) / float64(h.row2-h.col1+k+1)) * odds
	}
	// The ratio descends in k: the mode is the first k at which it is below 1.
	lo, hi := h.lo, h.hi
	for lo < hi {
		mid := lo + (hi-lo)/2
		if ratio(mid) >= 1 {
			lo = mid + 1
		} else {
			hi = mid
		}
	}
	return ratioTable(h.lo, h.hi, lo, ratio)
}

// mean of the outcomes.
func (t table) mean() float64 {
	var s float64
	for i, w := range t.w {
		s += float64(t.lo+i) * w
	}
	return s / t.s
}

// solve finds the log odds at which the increasing f is 0.
func (h hypergeometric) solve(f func(table) float64) float64 {
	at := func(l float64) float64 { return f(h.table(math.Exp(l))) }
	lo, hi := -1.0, 1.0
	for at(lo) > 0 && lo > -700 {
		lo *= 2
	}
	for at(hi) < 0 && hi < 700 {
		hi *= 2
	}
	return root(at, lo, hi)
}

// root finds the zero of a continuous f with f(a) <= 0 <= f(b), to the last
// digits.
func root(f func(float64) float64, a, b float64) float64 { return zeroin(f, a, b, 1e-300) }

// zeroin is Brent's root finder, with the stopping rule of its C version.
//
// Source: Brent 1973, Algorithms for Minimization without Derivatives, ch. 4.
func zeroin(f func(float64) float64, a, b, tol float64) float64 {
	const eps = 0x1p-52
	fa, fb := f(a), f(b)
	c, fc := a, fa
	if fa == 0 {
		return a
	}
	if fb == 0 {
		return b
	}
	for range 1000 {
		previous := b - a
		if math.Abs(fc) < math.Abs(fb) {
			a, b, c = b, c, b
			fa, fb, fc = fb, fc, fb
		}
		limit := 2*eps*math.Abs(b) + tol/2
		step := (c - b) / 2
		if math.Abs(step) <= limit || fb == 0 {
			return b
		}
		if math.Abs(previous) >= limit && math.Abs(fa) > math.Abs(fb) {
			var p, q float64
			cb := c - b
			if a == c { // secant
				t := fb / fa
				p, q = cb*t, 1-t
			} else { // inverse quadratic
				q = fa / fc
				t1, t2 := fb/fc, fb/fa
				p = t2 * (cb*q*(q-t1) - (b-a)*(t1-1))
				q = (q - 1) * (t1 - 1) * (t2 - 1)
			}
			if p > 0 {
				q = -q
			} else {
				p = -p
			}
			if p < 0.75*cb*q-math.Abs(limit*q)/2 && p < math.Abs(previous*q/2) {
				step = p / q
			}
		}
		if math.Abs(step) < limit {
			step = math.Copysign(limit, step)
		}
		a, fa = b, fb
		b += step
		fb = f(b)
		if fb > 0 && fc > 0 || fb < 0 && fc < 0 {
			c, fc = a, fa
		}
	}
	return b
}
