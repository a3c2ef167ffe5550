package stats

import "math"

// Agreement compares two scorers over the same trials.
type Agreement struct {
	N                      float64 // trials
	Agree                  float64 // share scored alike
	AgreeLower, AgreeUpper float64 // its Wilson limits
	Expected               float64 // agreement expected by chance

	Kappa        Number // absent when both scorers use one and the same category
	SE           Number // asymptotic standard error (Fleiss, Cohen & Everitt 1969)
	SENull       Number // standard error under kappa = 0
	SECohen1960  Number // Cohen's first, cruder formula
	Lower, Upper Number // Kappa +- z SE, cut to [-1, 1]
}

// Kappa returns the observed agreement and Cohen's kappa of a square table of
// counts: counts[i][j] trials put into category i by the first scorer and j by
// the second. With perfect agreement SE is 0: show the Wilson limits of the
// agreement then.
//
// Sources: Cohen 1960, Educ Psychol Meas 20:37; Fleiss, Cohen & Everitt 1969,
// Psychol Bull 72:323.
func Kappa(counts [][]float64, level float64) (Agreement, error) {
	const fn = "Kappa"
	k := len(counts)
	if k == 0 {
		return Agreement{}, empty(fn, "table")
	}
	if err := checkLevel(fn, level); err != nil {
		return Agreement{}, err
	}
	var n, diag float64
	r, c := make([]float64, k), make([]float64, k)
	for i, row := range counts {
		if len(row) != k {
			return Agreement{}, bad(fn, "table", "is not square: row %d has %d of %d columns", i+1, len(row), k)
		}
		for j, v := range row {
			if err := checkCount(fn, "table", v); err != nil {
				return Agreement{}, err
			}
			n += v
			r[i] += v
			c[j] += v
			if i == j {
				diag += v
			}
		}
	}
	if n == 0 {
		return Agreement{}, empty(fn, "table")
	}
	if n > maxCount {
		return Agreement{}, tooLarge(fn, "table", "sums to more than %v", maxCount)
	}
	var pe float64
	used := 0
	for i := range k {
		r[i] /= n
		c[i] /= n
		pe += r[i] * c[i]
		if r[i] > 0 || c[i] > 0 {
			used++
		}
	}
	z := Z(level)
	a := Agreement{N: n, Agree: diag / n, Expected: pe}
	iv := wilson(diag, n, z)
	a.AgreeLower, a.AgreeUpper = iv.Lower, iv.Upper
	if used < 2 {
		a.Expected = 1
		return a, nil
	}
	po := a.Agree
	q := 1 - pe
	kap := (po - pe) / q
	if diag == n {
		kap = 1
	}
	var v, null float64
	for i := range k {
		p := counts[i][i] / n
		d := 1 - (r[i]+c[i])*(1-kap)
		v += p * d * d
		null += r[i] * c[i] * (r[i] + c[i])
		for j := range k {
			if i != j {
				s := c[i] + r[j]
				v += (1 - kap) * (1 - kap) * counts[i][j] / n * s * s
			}
		}
	}
	d := kap - pe*(1-kap)
	v = math.Max(0, v-d*d)
	if diag == n {
		v = 0
	}
	se := math.Sqrt(v/n) / q
	a.Kappa, a.SE = Some(kap), Some(se)
	a.SENull = Some(math.Sqrt(math.Max(0, pe+pe*pe-null)/n) / q)
	a.SECohen1960 = Some(math.Sqrt(po*(1-po)/n) / q)
	a.Lower, a.Upper = Some(math.Max(-1, kap-z*se)), Some(math.Min(1, kap+z*se))
	return a, nil
}
