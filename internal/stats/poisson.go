package stats

import (
	"math"

	"gonum.org/v1/gonum/mathext"
)

// Rate is a rate of events with exact limits.
type Rate struct{ Rate, Lower, Upper float64 }

// Garwood returns the rate of count events in exposure (minutes, say) with
// exact Poisson limits. The count is whole and the exposure above 0. At count
// 0 the lower limit is exactly 0 and the upper -ln((1-level)/2)/exposure.
//
// Source: Garwood 1936, Biometrika 28:437.
func Garwood(count, exposure, level float64) (Rate, error) {
	const fn = "Garwood"
	if err := checkCount(fn, "count", count); err != nil {
		return Rate{}, err
	}
	if !finite(exposure) || exposure <= 0 {
		return Rate{}, bad(fn, "exposure", "must be a finite number above 0; it is %v", exposure)
	}
	if exposure < 1e-100 || exposure > 1e100 {
		return Rate{}, tooLarge(fn, "exposure", "must lie between 1e-100 and 1e100; it is %v", exposure)
	}
	if err := checkLevel(fn, level); err != nil {
		return Rate{}, err
	}
	half := (1 - level) / 2
	r := Rate{Rate: count / exposure, Upper: gammaQuantileUpper(count+1, half) / exposure}
	if count > 0 {
		r.Lower = gammaQuantileLower(count, half) / exposure
	}
	return r, nil
}

// gammaQuantileLower solves P(a, x) = p and gammaQuantileUpper Q(a, x) = p
// for x, p at most one half, by Newton steps kept inside a bracket.
func gammaQuantileLower(a, p float64) float64 {
	return gammaSolve(a, func(x float64) float64 { return mathext.GammaIncReg(a, x) - p }, -mathext.NormalQuantile(p), -1)
}

func gammaQuantileUpper(a, p float64) float64 {
	if a == 1 {
		return -math.Log(p)
	}
	return gammaSolve(a, func(x float64) float64 { return p - mathext.GammaIncRegComp(a, x) }, -mathext.NormalQuantile(p), 1)
}

func gammaSolve(a float64, f func(float64) float64, z, side float64) float64 {
	// Wilson-Hilferty start.
	w := 1 - 1/(9*a) + side*z/(3*math.Sqrt(a))
	x := a * w * w * w
	if !(x > 0) || w <= 0 {
		x = a / 100
	}
	lo, hi := 0.0, math.Inf(1)
	lg, _ := math.Lgamma(a)
	for range 200 {
		v := f(x)
		if v == 0 {
			return x
		}
		if v > 0 {
			hi = x
		} else {
			lo = x
		}
		d := math.Exp((a-1)*math.Log(x) - x - lg)
		next := x - v/d
		if !(next > lo && next < hi) {
			if math.IsInf(hi, 1) {
				next = 2 * x
			} else {
				next = (lo + hi) / 2
			}
		}
		if math.Abs(next-x) <= 2e-16*x {
			return next
		}
		x = next
	}
	return x
}

// RateComparison compares two Poisson rates, group 1 against group 2.
type RateComparison struct {
	RateRatio Number // Inf when only group 2 has no event; absent when neither has

	PTwoMinLik      float64 // outcomes no likelier than the observed one (R)
	PTwoDoubled     float64 // twice the smaller tail, at most 1
	PGreater, PLess float64 // one-sided, rate 1 above / below rate 2
	PMidDoubled     float64 // twice the smaller tail with half the observed point

	RRLower, RRUpper Number // exact limits of the ratio; the upper may be +Inf
}

// CompareRates compares x1 events in exposure t1 with x2 in t2. Given the sum,
// x1 is binomial with chance t1/(t1+t2) when the rates are equal. With no
// event at all p is 1 and the limits are 0 and Inf.
//
// Source: Przyborowski & Wilenski 1940, Biometrika 31:313; R poisson.test.
func CompareRates(x1, t1, x2, t2, level float64) (RateComparison, error) {
	const fn = "CompareRates"
	if err := checkCount(fn, "x1", x1); err != nil {
		return RateComparison{}, err
	}
	if err := checkCount(fn, "x2", x2); err != nil {
		return RateComparison{}, err
	}
	for _, e := range []struct {
		name string
		t    float64
	}{{"t1", t1}, {"t2", t2}} {
		if !finite(e.t) || e.t <= 0 {
			return RateComparison{}, bad(fn, e.name, "must be a finite number above 0; it is %v", e.t)
		}
		if e.t < 1e-100 || e.t > 1e100 {
			return RateComparison{}, tooLarge(fn, e.name, "must lie between 1e-100 and 1e100; it is %v", e.t)
		}
	}
	if err := checkLevel(fn, level); err != nil {
		return RateComparison{}, err
	}
	n := x1 + x2
	if n > maxSupport {
		return RateComparison{}, tooLarge(fn, "x1 and x2", "sum to more than %v", float64(maxSupport))
	}
	r := RateComparison{PTwoMinLik: 1, PTwoDoubled: 1, PGreater: 1, PLess: 1, PMidDoubled: 1,
		RRLower: Some(0), RRUpper: Some(math.Inf(1))}
	if n == 0 {
		return r, nil
	}
	p := t1 / (t1 + t2)
	t := binomialTable(int(n), p)
	r.PLess, r.PGreater, r.PTwoMinLik = t.less(int(x1)), t.greater(int(x1)), t.notLikelier(int(x1), false)
	r.PTwoDoubled = math.Min(1, 2*math.Min(r.PLess, r.PGreater))
	half := t.at(int(x1)) / 2
	r.PMidDoubled = math.Min(1, 2*math.Min(r.PLess-half, r.PGreater-half))
	switch {
	case x2 > 0:
		r.RateRatio = Some((x1 / t1) / (x2 / t2))
	default:
		r.RateRatio = Some(math.Inf(1))
	}
	a := (1 - level) / 2
	if x1 > 0 {
		// The odds of the beta quantile, formed without 1-q.
		q := betaQuantile(a, x1, x2+1)
		r.RRLower = Some(q / betaQuantileUpper(a, x2+1, x1) * t2 / t1)
	}
	if x2 > 0 {
		q := betaQuantileUpper(a, x1+1, x2)
		r.RRUpper = Some(q / betaQuantile(a, x2, x1+1) * t2 / t1)
	}
	return r, nil
}
