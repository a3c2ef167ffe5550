package stats

import (
	"cmp"
	"math"
	"slices"
)

// maxSeries bounds a series whose pairs are all looked at.
const maxSeries = 10_000

// maxExactTrend is the longest series whose Mann-Kendall p is exact; beyond it
// the tie-corrected normal form has more digits than anybody needs.
const maxExactTrend = 60

// MannKendallTest is a test for a monotone trend.
type MannKendallTest struct {
	N    int     `json:"n"`
	S    float64 `json:"S"`     // later values that are larger, minus later ones that are smaller
	VarS float64 `json:"varS"`  // its null variance, corrected for ties
	TauB Number  `json:"tau_b"` // Kendall's tau-b; absent when all values are tied
	Z    Number  `json:"z"`     // (S - sign S)/sqrt(VarS); absent when VarS is 0

	Exact       bool    `json:"exact"`        // whether the p are exact, else normal
	PTwoSided   float64 `json:"p_two_sided"`  // P(|S| >= |s|)
	PIncreasing float64 `json:"p_increasing"` // P(S >= s): small when the series rises
	PDecreasing float64 `json:"p_decreasing"` // P(S <= s): small when the series falls
}

// MannKendall tests the values y, in order of time, for a monotone trend; up to
// 10,000 values, at least one. A constant series has p = 1.
//
// The p is exact up to 60 values, with ties too: over the distinct
// arrangements of the values, the number of inversions has the Gaussian
// multinomial coefficients as its distribution, a product of small polynomials.
// Beyond, it is the normal form with tie correction and continuity.
//
// Sources: Mann 1945, Econometrica 13:245; Kendall 1975, Rank Correlation
// Methods; Gilbert 1987, ch. 16; for the polynomials, MacMahon (see
// Stanley, Enumerative Combinatorics 1, prop. 1.7.1).
func MannKendall(y []float64) (MannKendallTest, error) {
	const fn = "MannKendall"
	n := len(y)
	if n == 0 || n > maxSeries {
		return MannKendallTest{}, bad(fn, "y", "must have 1 to %d values; it has %d", maxSeries, n)
	}
	if err := checkFinite(fn, "y", y); err != nil {
		return MannKendallTest{}, err
	}
	s := 0
	for i, a := range y {
		for _, b := range y[i+1:] {
			s += cmp.Compare(b, a)
		}
	}
	groups := tieGroups(y)
	untied := pairs(n)
	for _, u := range groups {
		untied -= pairs(u)
	}
	r := MannKendallTest{N: n, S: float64(s), VarS: kendallVariance(n, groups)}
	r.PTwoSided, r.PIncreasing, r.PDecreasing = 1, 1, 1
	if untied == 0 {
		r.Exact = true
		return r, nil
	}
	r.TauB = Some(r.S / math.Sqrt(float64(pairs(n))*float64(untied)))
	sd := math.Sqrt(r.VarS)
	r.Z = Some(float64(s-cmp.Compare(s, 0)) / sd)
	if n > maxExactTrend {
		r.PTwoSided = math.Min(1, 2*upperNormal(math.Abs(r.Z.V)))
		r.PIncreasing, r.PDecreasing = upperNormal((r.S-1)/sd), upperNormal((-r.S-1)/sd)
		return r, nil
	}
	r.Exact = true
	chance := inversions(n, groups)
	k := (untied - max(s, -s)) / 2 // S = untied - 2 inversions
	far, near := sum(chance[:k+1]), 1-sum(chance[:k])
	r.PIncreasing, r.PDecreasing = far, near
	if s < 0 {
		r.PIncreasing, r.PDecreasing = near, far
	}
	if s != 0 {
		r.PTwoSided = math.Min(1, 2*far)
	}
	return r, nil
}

func pairs(n int) int { return n * (n - 1) / 2 }

func sum(v []float64) float64 {
	s := 0.0
	for _, x := range v {
		s += x
	}
	return s
}

// tieGroups returns how often each distinct value occurs, in ascending order.
func tieGroups(v []float64) []int {
	var out []int
	sorted := slices.Sorted(slices.Values(v))
	for i, x := range sorted {
		if i == 0 || x != sorted[i-1] {
			out = append(out, 0)
		}
		out[len(out)-1]++
	}
	return out
}

// kendallVariance is Var(S) of n values with ties.
func kendallVariance(n int, groups []int) float64 {
	term := func(m int) float64 { x := float64(m); return x * (x - 1) * (2*x + 5) }
	v := term(n)
	for _, u := range groups {
		v -= term(u)
	}
	return v / 18
}

// inversions returns the chance of k inversions, k = 0 .. half of the largest
// number, over the distinct arrangements of n values in groups of equal ones.
//
// The generating polynomial is the Gaussian multinomial coefficient
// prod (1-q^i), i=1..n, over prod (1-q^j), j=1..u, for each group u. Every
// factor pair is applied as one division (a running sum) and one
// multiplication, scaled so that the coefficients stay probabilities. The
// polynomial is symmetric, so its lower half is enough, and there its
// coefficients ascend: no digits are lost.
func inversions(n int, groups []int) []float64 {
	all := pairs(n)
	for _, u := range groups {
		all -= pairs(u)
	}
	half := all / 2
	c := make([]float64, half+1)
	c[0] = 1
	placed, degree := 0, 0
	for _, u := range groups {
		for j := 1; j <= u; j++ {
			m := placed + j
			if m == j { // the first group: (1-q^m)/(1-q^j) = 1
				continue
			}
			degree += m - j
			c := c[:min(half, degree)+1]
			for k := j; k < len(c); k++ {
				c[k] += c[k-j]
			}
			f := float64(j) / float64(m)
			for k := len(c) - 1; k >= m; k-- {
				c[k] = (c[k] - c[k-m]) * f
			}
			for k := range min(m, len(c)) {
				c[k] *= f
			}
		}
		placed += u
	}
	return c
}

// TheilSenFit is the median of all pairwise slopes.
type TheilSenFit struct {
	Slope    float64 `json:"sen_slope"`
	NSlopes  int     `json:"n_slopes"`
	Interval         // of the slope, see TheilSen
	Clamped  bool    `json:"sen_ci_clamped"` // the series is too short for the level of the limits
}

// TheilSen returns the median slope of y over t, in units of y per unit of t,
// with Sen's limits: the slopes at positions (N-C)/2 and (N+C)/2+1,
// interpolated, C = z sqrt(Var S). t ascends strictly; nil means 1, 2, 3, ...
// 2 to 10,000 values. Use it for the size of a trend, never as its test.
//
// Sources: Theil 1950; Sen 1968, JASA 63:1379; Gilbert 1987, ch. 16-17.
func TheilSen(t, y []float64, level float64) (TheilSenFit, error) {
	const fn = "TheilSen"
	n := len(y)
	if n < 2 || n > maxSeries {
		return TheilSenFit{}, bad(fn, "y", "must have 2 to %d values; it has %d", maxSeries, n)
	}
	if t == nil {
		for i := range y {
			t = append(t, float64(i+1))
		}
	}
	if len(t) != n {
		return TheilSenFit{}, bad(fn, "t", "has %d values and y %d", len(t), n)
	}
	if err := checkFinite(fn, "t", t); err != nil {
		return TheilSenFit{}, err
	}
	if err := checkFinite(fn, "y", y); err != nil {
		return TheilSenFit{}, err
	}
	if err := checkLevel(fn, level); err != nil {
		return TheilSenFit{}, err
	}
	slopes := make([]float64, 0, pairs(n))
	for i := range y {
		if i > 0 && !(t[i] > t[i-1]) {
			return TheilSenFit{}, bad(fn, "t", "must ascend; value %d does not", i+1)
		}
		for j := range i {
			slope := (y[i] - y[j]) / (t[i] - t[j])
			if !finite(slope) {
				return TheilSenFit{}, bad(fn, "t", "has a step too small for the values at %d", i+1)
			}
			slopes = append(slopes, slope)
		}
	}
	slices.Sort(slopes)
	// at reads the slopes at a position between 1 and their number.
	count := float64(len(slopes))
	at := func(position float64) float64 {
		position = math.Min(math.Max(position, 1), count)
		below := slopes[int(position)-1]
		above := slopes[min(int(position), len(slopes)-1)]
		return below + (position-math.Floor(position))*(above-below)
	}
	c := Z(level) * math.Sqrt(kendallVariance(n, tieGroups(y)))
	return TheilSenFit{
		Slope: at((count + 1) / 2), NSlopes: len(slopes),
		Interval: Interval{at((count - c) / 2), at((count+c)/2 + 1)},
		Clamped:  math.RoundToEven((count-c)/2) < 1 || math.RoundToEven((count+c)/2)+1 > count,
	}, nil
}
