package stats

import "math"

// Agreement compares two scorers over the same trials.
type Agreement struct {
	N          float64 `json:"n"`     // trials
	Agree      float64 `json:"agree"` // share scored alike
	AgreeLower float64 `json:"agree_wilson_lower"`
	AgreeUpper float64 `json:"agree_wilson_upper"`
	Expected   float64 `json:"expected"` // agreement expected by chance

	Kappa Number `json:"kappa"`         // absent when both scorers use one and the same category
	SE    Number `json:"se_asymptotic"` // Fleiss, Cohen & Everitt 1969
	Lower Number `json:"lower"`         // Kappa -+ z SE, cut to [-1, 1]
	Upper Number `json:"upper"`
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
	if err := checkLevel(fn, level); err != nil {
		return Agreement{}, err
	}
	k := len(counts)
	var n, same float64
	first, second := make([]float64, k), make([]float64, k) // shares of each category
	for i, row := range counts {
		if len(row) != k {
			return Agreement{}, bad(fn, "table", "is not square: row %d has %d of %d columns", i+1, len(row), k)
		}
		for j, v := range row {
			if err := checkCount(fn, "table", v); err != nil {
				return Agreement{}, err
			}
			n += v
			first[i] += v
			second[j] += v
		}
		same += row[i]
	}
	if n == 0 || n > maxCount {
		return Agreement{}, bad(fn, "table", "must sum to more than 0 and at most %v; it sums to %v", maxCount, n)
	}
	var expected float64
	used := 0
	for i := range k {
		first[i] /= n
		second[i] /= n
		expected += first[i] * second[i]
		if first[i] > 0 || second[i] > 0 {
			used++
		}
	}
	z := Z(level)
	iv := wilson(same, n, z)
	a := Agreement{N: n, Agree: same / n, AgreeLower: iv.Lower, AgreeUpper: iv.Upper, Expected: expected}
	switch {
	case used < 2:
		a.Expected = 1
		return a, nil
	case same == n:
		a.Kappa, a.SE, a.Lower, a.Upper = Some(1), Some(0), Some(1), Some(1)
		return a, nil
	}
	kappa := (a.Agree - expected) / (1 - expected)
	var v float64
	for i, row := range counts {
		d := 1 - (first[i]+second[i])*(1-kappa)
		v += row[i] / n * d * d
		for j, count := range row {
			if i != j {
				s := (second[i] + first[j]) * (1 - kappa)
				v += count / n * s * s
			}
		}
	}
	d := kappa - expected*(1-kappa)
	se := math.Sqrt(math.Max(0, v-d*d)/n) / (1 - expected)
	a.Kappa, a.SE = Some(kappa), Some(se)
	a.Lower, a.Upper = Some(math.Max(-1, kappa-z*se)), Some(math.Min(1, kappa+z*se))
	return a, nil
}
