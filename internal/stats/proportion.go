package stats

import (
	"math"

	"gonum.org/v1/gonum/mathext"
)

// Z returns the two-sided standard normal quantile of a confidence level,
// 1.9599... for 0.95. The level lies strictly between 0 and 1.
func Z(level float64) float64 {
	// From the lower tail, so that levels near 1 keep their digits.
	return -mathext.NormalQuantile((1 - level) / 2)
}

// upperNormal is P(Z > z), with full relative accuracy in the tail.
func upperNormal(z float64) float64 { return 0.5 * math.Erfc(z/math.Sqrt2) }

// Wilson returns the score interval for x successes of n trials at a
// confidence level such as 0.95. Neither x nor n need be whole, so effective
// sizes may be used. The lower limit is exactly 0 at x = 0 and the upper
// exactly 1 at x = n; n = 0 gives [0, 1]. No continuity correction.
//
// The limits are the roots t of (p-t)^2 = z^2 t(1-t)/n, written so that
// neither loses digits near 0 or 1.
//
// Source: Wilson 1927, JASA 22:209; Newcombe 1998, Stat Med 17:857, method 3.
func Wilson(x, n, level float64) (Interval, error) {
	if err := checkShare("Wilson", "x", "n", x, n); err != nil {
		return Interval{}, err
	}
	if err := checkLevel("Wilson", level); err != nil {
		return Interval{}, err
	}
	return wilson(x, n, Z(level)), nil
}

func wilson(x, n, z float64) Interval {
	if n <= 0 {
		return Interval{0, 1}
	}
	p, q := x/n, (n-x)/n
	h := z * z / (2 * n)
	r := z / math.Sqrt(n) * math.Sqrt(p*q+h/2)
	iv := Interval{0, 1}
	if p > 0 {
		iv.Lower = p * (p / (p + h + r))
	}
	if q > 0 {
		iv.Upper = 1 - q*(q/(q+h+r))
	}
	return iv
}
