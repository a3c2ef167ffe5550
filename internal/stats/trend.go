package stats

import (
	"math"
	"slices"
)

// maxExactTrend is the longest series whose Mann-Kendall p is computed
// exactly; beyond it the tie-corrected normal form is accurate to far more
// digits than anybody needs.
const maxExactTrend = 60

// maxTieStates bounds the work of the exact distribution when there are ties
// in both time and value.
const maxTieStates = 4096

// MannKendallTest is a test for a monotone trend.
type MannKendallTest struct {
	N    int
	S    float64 // concordant minus discordant pairs, a whole number
	VarS float64 // its null variance, corrected for ties in both variables
	TauB Number  // Kendall's tau-b; absent when all times or all values are tied
	Z    Number  // (S - sign S)/sqrt(VarS); absent when VarS is 0

	PNormal float64 // two-sided normal p with continuity correction, 1 when Z is absent
	PExact  Number  // two-sided exact p; absent for long series, see Exact
	Ties    bool    // whether any two values or any two times are equal

	// The p to use: exact where there is one, else normal.
	Exact       bool
	PTwoSided   float64 // P(|S| >= |s|)
	PIncreasing float64 // one-sided, P(S >= s): small when the series rises
	PDecreasing float64 // one-sided, P(S <= s): small when the series falls
}

// MannKendall tests the values y, observed at times t, for a monotone trend.
// t == nil means 1, 2, 3, ... The order of the pairs does not matter. At least
// one pair is needed; a single pair has S = 0 and p = 1.
//
// The p is exact up to 60 observations, with ties too: over the distinct
// arrangements of the values, the number of inversions has the Gaussian
// multinomial coefficients as its distribution, a product of small
// polynomials. With ties in both time and value the distribution is built
// group by group while that stays small (always up to 8 observations);
// otherwise the normal form with tie correction and continuity is used.
//
// Sources: Mann 1945, Econometrica 13:245; Kendall 1975, Rank Correlation
// Methods; Gilbert 1987, ch. 16; for the polynomials, MacMahon (see
// Stanley, Enumerative Combinatorics 1, prop. 1.7.1).
func MannKendall(t, y []float64) (MannKendallTest, error) {
	const fn = "MannKendall"
	if len(y) == 0 {
		return MannKendallTest{}, empty(fn, "y")
	}
	if t != nil && len(t) != len(y) {
		return MannKendallTest{}, bad(fn, "t", "has %d values and y %d", len(t), len(y))
	}
	if err := checkFinite(fn, "t", t); err != nil {
		return MannKendallTest{}, err
	}
	if err := checkFinite(fn, "y", y); err != nil {
		return MannKendallTest{}, err
	}
	n := len(y)
	if n > 10_000_000 {
		return MannKendallTest{}, tooLarge(fn, "y", "has more than ten million values")
	}

	v := sortedByTime(t, y)
	var tTies, bothTies int64 // pairs
	for i := 0; i < n; {      // runs of equal time, inside them runs of equal value
		j := i
		for j < n && (t == nil && j == i || t != nil && v.t[j] == v.t[i]) {
			j++
		}
		if j == i {
			j++
		}
		tTies += pairs(j - i)
		for k := i; k < j; {
			l := k + 1
			for l < j && v.y[l] == v.y[k] {
				l++
			}
			bothTies += pairs(l - k)
			k = l
		}
		i = j
	}
	var tGroups []int
	if tTies > 0 {
		tGroups = runs(v.t)
	}
	// Within one time the values ascend, so they add no inversion.
	work := slices.Clone(v.y)
	discordant := countInversions(work, make([]float64, n)) // leaves work sorted
	yGroups := runs(work)
	var yTies int64
	for _, u := range yGroups {
		yTies += pairs(u)
	}
	n0 := pairs(n)
	s := n0 - tTies - yTies + bothTies - 2*discordant

	r := MannKendallTest{N: n, S: float64(s), Ties: tTies > 0 || yTies > 0}
	r.VarS = kendallVariance(n, tGroups, yGroups)
	if tTies < n0 && yTies < n0 {
		r.TauB = Some(float64(s) / (math.Sqrt(float64(n0-tTies)) * math.Sqrt(float64(n0-yTies))))
	}
	r.PNormal, r.PTwoSided, r.PIncreasing, r.PDecreasing = 1, 1, 1, 1
	if r.VarS <= 0 {
		r.PExact, r.Exact = Some(1), true
		return r, nil
	}
	sd := math.Sqrt(r.VarS)
	z := (math.Abs(r.S) - 1) / sd
	if s == 0 {
		z = 0
	}
	z = math.Copysign(z, r.S)
	if z == 0 {
		z = 0
	}
	r.Z = Some(z)
	r.PNormal = math.Min(1, twoSidedNormal(z))
	r.PTwoSided = r.PNormal
	r.PIncreasing = upperNormal((r.S - 1) / sd)
	r.PDecreasing = upperNormal((-r.S - 1) / sd)

	if n > maxExactTrend {
		return r, nil
	}
	var lower []float64 // P(inversions <= k), k up to half of all
	var all int64
	switch {
	case tTies == 0:
		lower, all = inversionTail(n, yGroups), n0-yTies
	case yTies == 0:
		lower, all = inversionTail(n, tGroups), n0-tTies
	default:
		two, up, down, ok := exactBothTied(tGroups, yGroups, s)
		if ok {
			r.PExact, r.Exact = Some(two), true
			r.PTwoSided, r.PIncreasing, r.PDecreasing = two, up, down
		}
		return r, nil
	}
	abs := max(s, -s)
	k := (all - abs) / 2 // S = all - 2 inversions
	far := lower[k]      // P(S >= |s|)
	near := 1.0          // P(S <= |s|) = 1 - P(S >= |s| + 2)
	if k > 0 {
		near = 1 - lower[k-1]
	}
	two := math.Min(1, 2*far)
	if s == 0 {
		two = 1
	}
	r.PExact, r.Exact, r.PTwoSided = Some(two), true, two
	if s >= 0 {
		r.PIncreasing, r.PDecreasing = far, near
	} else {
		r.PIncreasing, r.PDecreasing = near, far
	}
	return r, nil
}

// KendallTail returns the exact P(S >= s) and P(|S| >= |s|) for n observations
// without ties, n up to 60. s must have the parity of n(n-1)/2 and lie within
// plus and minus n(n-1)/2.
//
// Source: Kendall 1975; Gilbert 1987, Table A18.
func KendallTail(n int, s float64) (upper, twoSided float64, err error) {
	const fn = "KendallTail"
	if n < 1 || n > maxExactTrend {
		return 0, 0, bad(fn, "n", "must lie between 1 and %d; it is %d", maxExactTrend, n)
	}
	all := pairs(n)
	if !finite(s) || !isWhole(s) || math.Abs(s) > float64(all) || (all-int64(s))%2 != 0 {
		return 0, 0, bad(fn, "S", "cannot be %v for %d observations without ties", s, n)
	}
	ones := make([]int, n)
	for i := range ones {
		ones[i] = 1
	}
	lower := inversionTail(n, ones)
	k := (all - int64(math.Abs(s))) / 2
	upper = lower[k]
	if s < 0 {
		upper = 1
		if k > 0 {
			upper = 1 - lower[k-1]
		}
	}
	twoSided = math.Min(1, 2*lower[k])
	if s == 0 {
		twoSided = 1
	}
	return upper, twoSided, nil
}

func pairs(n int) int64 { return int64(n) * int64(n-1) / 2 }

type series struct{ t, y []float64 }

// sortedByTime copies the pairs in order of time and, within a time, of value.
func sortedByTime(t, y []float64) series {
	n := len(y)
	if t == nil {
		return series{y: y}
	}
	type pair struct{ t, y float64 }
	ps := make([]pair, n)
	for i := range y {
		ps[i] = pair{t[i], y[i]}
	}
	cmp := func(a, b pair) int {
		switch {
		case a.t < b.t:
			return -1
		case a.t > b.t:
			return 1
		case a.y < b.y:
			return -1
		case a.y > b.y:
			return 1
		}
		return 0
	}
	if !slices.IsSortedFunc(ps, cmp) {
		slices.SortFunc(ps, cmp)
	}
	s := series{t: make([]float64, n), y: make([]float64, n)}
	for i, p := range ps {
		s.t[i], s.y[i] = p.t, p.y
	}
	return s
}

// runs returns the lengths of the runs of equal values of a sorted slice.
func runs(v []float64) []int {
	out := make([]int, 0, 16)
	for i := 0; i < len(v); {
		j := i + 1
		for j < len(v) && v[j] == v[i] {
			j++
		}
		out = append(out, j-i)
		i = j
	}
	return out
}

// countInversions sorts a, by merging, and counts the pairs i<j with a[i]>a[j].
func countInversions(a, buf []float64) int64 {
	n := len(a)
	if n <= 16 {
		var inv int64
		for i := 1; i < n; i++ {
			x := a[i]
			j := i
			for j > 0 && a[j-1] > x {
				a[j] = a[j-1]
				j--
			}
			a[j] = x
			inv += int64(i - j)
		}
		return inv
	}
	m := n / 2
	inv := countInversions(a[:m], buf[:m]) + countInversions(a[m:], buf[m:])
	if a[m-1] <= a[m] {
		return inv
	}
	copy(buf[:m], a[:m])
	i, j, k := 0, m, 0
	for i < m && j < n {
		if buf[i] <= a[j] {
			a[k] = buf[i]
			i++
		} else {
			a[k] = a[j]
			j++
			inv += int64(m - i)
		}
		k++
	}
	copy(a[k:], buf[i:m])
	return inv
}

// kendallVariance is Var(S) with ties in time (w) and value (u); a nil slice
// means no ties.
func kendallVariance(n int, w, u []int) float64 {
	v0 := func(m float64) float64 { return m * (m - 1) * (2*m + 5) }
	nn := float64(n)
	sum := v0(nn)
	var w2, w3, u2, u3 float64
	for _, g := range w {
		x := float64(g)
		sum -= v0(x)
		w2 += x * (x - 1)
		w3 += x * (x - 1) * (x - 2)
	}
	for _, g := range u {
		x := float64(g)
		sum -= v0(x)
		u2 += x * (x - 1)
		u3 += x * (x - 1) * (x - 2)
	}
	v := sum / 18
	if n > 1 {
		v += u2 * w2 / (2 * nn * (nn - 1))
	}
	if n > 2 {
		v += u3 * w3 / (9 * nn * (nn - 1) * (nn - 2))
	}
	// All times or all values tied: 0 by construction, not by luck.
	if len(u) == 1 || len(w) == 1 || n < 2 {
		return 0
	}
	return v
}

// inversionTail returns P(inversions <= k) for k = 0 .. half of the largest
// number, over the distinct arrangements of n values in groups of equal ones.
//
// The generating polynomial is the Gaussian multinomial coefficient
// prod (1-q^i), i=1..n, over prod (1-q^j), j=1..u, for each group u. Every
// factor pair is applied as one division (a running sum) and one
// multiplication, scaled so that the coefficients stay probabilities. The
// polynomial is symmetric, so its lower half is enough, and there its
// coefficients ascend: no digits are lost.
func inversionTail(n int, groups []int) []float64 {
	all := pairs(n)
	for _, u := range groups {
		all -= pairs(u)
	}
	half := int(all / 2)
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
	for k := 1; k <= half; k++ {
		c[k] += c[k-1]
	}
	return c
}

// exactBothTied returns P(|S|>=|s|), P(S>=s), P(S<=s) over the distinct
// arrangements of values tied in groups u over times tied in groups w. Times
// are filled one after the other; a state is what is left of each value group.
// ok is false when there would be too many states.
func exactBothTied(w, u []int, s int64) (two, up, down float64, ok bool) {
	states := 1
	for _, g := range u {
		states *= g + 1
		if states > maxTieStates {
			return 0, 0, 0, false
		}
	}
	n := 0
	for _, g := range w {
		n += g
	}
	span := int(pairs(n))
	width := 2*span + 1
	if len(w)*states*width > 1_000_000 {
		return 0, 0, 0, false
	}
	cur := map[int][]float64{states - 1: one(width, span)}
	left := make([]int, len(u))
	decode := func(code int) {
		for i, g := range u {
			left[i] = code % (g + 1)
			code /= g + 1
		}
	}
	remaining := n
	for _, size := range w {
		next := map[int][]float64{}
		keys := make([]int, 0, len(cur))
		for k := range cur {
			keys = append(keys, k)
		}
		slices.Sort(keys)
		for _, code := range keys {
			dist := cur[code]
			decode(code)
			have := slices.Clone(left)
			take := make([]int, len(u))
			var place func(i, need, newCode, radix int, prob float64)
			place = func(i, need, newCode, radix int, prob float64) {
				if i == len(u) {
					if need > 0 {
						return
					}
					shift := 0
					for a := range u {
						if take[a] == 0 {
							continue
						}
						for b := range u {
							rest := have[b] - take[b]
							if b > a {
								shift += take[a] * rest
							} else if b < a {
								shift -= take[a] * rest
							}
						}
					}
					to := next[newCode]
					if to == nil {
						to = make([]float64, width)
						next[newCode] = to
					}
					for k, p := range dist {
						if p > 0 {
							to[k+shift] += p * prob
						}
					}
					return
				}
				for c := 0; c <= min(need, have[i]); c++ {
					take[i] = c
					place(i+1, need-c, newCode+radix*(have[i]-c), radix*(u[i]+1), prob*choose(have[i], c))
				}
				take[i] = 0
			}
			place(0, size, 0, 1, 1/choose(remaining, size))
		}
		remaining -= size
		cur = next
	}
	abs := max(s, -s)
	for k, p := range cur[0] {
		v := int64(k - span)
		if v >= s {
			up += p
		}
		if v <= s {
			down += p
		}
		if v >= abs || -v >= abs {
			two += p
		}
	}
	return math.Min(1, two), math.Min(1, up), math.Min(1, down), true
}

func one(width, at int) []float64 {
	v := make([]float64, width)
	v[at] = 1
	return v
}

func choose(n, k int) float64 {
	c := 1.0
	for i := 1; i <= k; i++ {
		c = c * float64(n-k+i) / float64(i)
	}
	return c
}
