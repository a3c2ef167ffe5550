package stats

import "gonum.org/v1/gonum/mathext"

// Rate is a rate of events with exact limits, per unit of exposure.
type Rate struct {
	Rate     float64 `json:"rate"`
	Interval         // of the rate
}

// Garwood returns the rate of count events in exposure (minutes, say) with
// exact Poisson limits: half the chi-square quantiles on 2 count and
// 2 count + 2 degrees of freedom. The count is whole, the exposure between
// 1e-100 and 1e100. At count 0 the lower limit is exactly 0.
//
// Source: Garwood 1936, Biometrika 28:437.
func Garwood(count, exposure, level float64) (Rate, error) {
	const fn = "Garwood"
	if err := checkCount(fn, "count", count); err != nil {
		return Rate{}, err
	}
	if !(exposure >= 1e-100 && exposure <= 1e100) {
		return Rate{}, bad(fn, "exposure", "must be above 0 and within 1e100; it is %v", exposure)
	}
	if err := checkLevel(fn, level); err != nil {
		return Rate{}, err
	}
	half := (1 - level) / 2
	r := Rate{Rate: count / exposure}
	r.Upper = mathext.GammaIncRegCompInv(count+1, half) / exposure
	if count > 0 {
		r.Lower = mathext.GammaIncRegInv(count, half) / exposure
	}
	return r, nil
}
