package stats

import (
	"math"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"
)

// Defaults for the intraclass correlation of trials within a session. They
// are assumed, not estimated from data.
const (
	DefaultICC         = 0.10 // prior intraclass correlation
	DefaultICCSessions = 10   // weight of the prior, in sessions
)

// Clustered holds the effective-size forms of the Wilson interval for yes/no
// data that come in clusters (sessions). Clusters without trials are left out.
type Clustered struct {
	K       int     // clusters with at least one trial
	N, X, P float64 // trials, successes, X/N

	// Ratio form (Rao & Scott 1992).
	VarRatio     Number  // linearised variance of P; absent for one cluster
	DeffRaw      Number  // VarRatio/(P(1-P)/N); absent for one cluster, P=0 or P=1
	Deff, Neff   float64 // DeffRaw, at least 1 (1 when absent); N/Deff
	Lower, Upper float64

	// Intraclass-correlation form (analysis of variance).
	M0                 Number  // mean cluster size of the ANOVA; absent for one cluster
	MWeighted          float64 // size-weighted mean cluster size, sum n^2 / N
	ICCRaw             Number  // ANOVA estimate; absent for one cluster, P=0, P=1, or all sizes 1
	ICC                float64 // ICCRaw, at least 0; 0 when it is absent
	DeffICC, NeffICC   float64 // 1+(MWeighted-1)ICC, at least 1; N/DeffICC
	LowerICC, UpperICC float64

	// Degrees-of-freedom form (Korn & Graubard 1998): the ratio form's size
	// times (t_{N-1}/t_{k-1})^2, at most N; absent where DeffRaw is.
	NeffKG, LowerKG, UpperKG Number
	// The same size, not cut at N, in the Clopper-Pearson form, as the R
	// package survey has it (svyciprop, method "beta").
	LowerBeta, UpperBeta Number

	// The interval that takes all trials as independent.
	LowerUnadj, UpperUnadj float64

	// Shrunk form: ICCRaw blended with DefaultICC counting as
	// DefaultICCSessions clusters, see ShrunkICC.
	ICCShrunk, DeffShrunk, NeffShrunk float64
	LowerShrunk, UpperShrunk          float64
}

// Cluster computes every form of the clustered Wilson interval for x[i]
// successes of n[i] trials in cluster i, at the given confidence level.
//
// Sources: Rao & Scott 1992, Biometrics 48:577; Korn & Graubard 1998, Survey
// Methodology 24:193; Dean & Pagano 2015, J Surv Stat Methodol 3:484.
func Cluster(x, n []float64, level float64) (Clustered, error) {
	if err := checkClusters("Cluster", x, n); err != nil {
		return Clustered{}, err
	}
	if err := checkLevel("Cluster", level); err != nil {
		return Clustered{}, err
	}
	m := clusterMoments(x, n)
	z := Z(level)
	c := Clustered{K: m.k, N: m.n, X: m.x, P: m.x / m.n, MWeighted: m.sumSq / m.n, Deff: 1, DeffICC: 1}
	mixed := c.X > 0 && c.X < c.N

	if m.k > 1 {
		var ss float64
		for i := range x {
			r := x[i] - n[i]*c.P
			ss += r * r
		}
		if !mixed {
			ss = 0
		}
		k := float64(m.k)
		v := k / (k - 1) * ss / (c.N * c.N)
		c.VarRatio = Some(v)
		c.M0 = Some(m.m0())
		if mixed {
			c.DeffRaw = Some(v * c.N / (c.P * (1 - c.P)))
			c.Deff = math.Max(1, c.DeffRaw.V)
		}
	}
	c.Neff = c.N / c.Deff
	at := func(neff float64) Interval { return wilson(c.P*neff, neff, z) }
	if !mixed { // keep exact 0 and 1
		at = func(neff float64) Interval { return wilson(math.Round(c.P)*neff, neff, z) }
	}
	iv := at(c.Neff)
	c.Lower, c.Upper = iv.Lower, iv.Upper

	c.ICCRaw = m.icc()
	if c.ICCRaw.OK {
		c.ICC = math.Max(0, c.ICCRaw.V)
		c.DeffICC = math.Max(1, 1+(c.MWeighted-1)*c.ICC)
	}
	c.NeffICC = c.N / c.DeffICC
	iv = at(c.NeffICC)
	c.LowerICC, c.UpperICC = iv.Lower, iv.Upper

	if c.DeffRaw.OK && c.N > 1 {
		upper := 1 - (1-level)/2
		ratio := studentQuantile(upper, c.N-1) / studentQuantile(upper, float64(m.k-1))
		ne := c.N
		if c.DeffRaw.V > 0 {
			full := c.N / c.DeffRaw.V * ratio * ratio
			ne = math.Min(c.N, full)
			x, miss, half := full*c.P, full*(1-c.P), (1-level)/2
			if full < maxCount {
				c.LowerBeta = Some(betaQuantile(half, x, miss+1))
				c.UpperBeta = Some(betaQuantileUpper(half, x+1, miss))
			}
		}
		iv = at(ne)
		c.NeffKG, c.LowerKG, c.UpperKG = Some(ne), Some(iv.Lower), Some(iv.Upper)
	}

	iv = at(c.N)
	c.LowerUnadj, c.UpperUnadj = iv.Lower, iv.Upper

	c.ICCShrunk = shrink(c.ICCRaw, m.k, DefaultICC, DefaultICCSessions)
	c.DeffShrunk = math.Max(1, 1+(c.MWeighted-1)*c.ICCShrunk)
	c.NeffShrunk = c.N / c.DeffShrunk
	iv = at(c.NeffShrunk)
	c.LowerShrunk, c.UpperShrunk = iv.Lower, iv.Upper
	return c, nil
}

// studentQuantile is the upper quantile of Student's t, p > 0.5, df > 0.
func studentQuantile(p, df float64) float64 {
	switch df {
	case 1:
		return 1 / math.Tan(math.Pi*(1-p))
	case 2:
		a := 2 * (1 - p)
		return (1 - a) * math.Sqrt(2/(a*(2-a)))
	}
	if df > 1e7 { // normal with the first correction term (Cornish-Fisher)
		z := -mathext.NormalQuantile(1 - p)
		return z + (z*z*z+z)/(4*df)
	}
	t := distuv.StudentsT{Mu: 0, Sigma: 1, Nu: df}
	q := t.Quantile(p)
	// One or two Newton steps: the library stops at about nine digits.
	for range 3 {
		tail := 0.5 * incBeta(df/2, 0.5, df/(df+q*q), q*q/(df+q*q))
		d := t.Prob(q)
		if d <= 0 {
			break
		}
		step := (tail - (1 - p)) / d
		q += step
		if math.Abs(step) < 1e-15*q {
			break
		}
	}
	return q
}

type moments struct {
	k                 int
	n, x, sumSq       float64
	between, within   float64 // sums of squares of the ANOVA
	hasMixed, allOnes bool
}

func clusterMoments(x, n []float64) moments {
	m := moments{allOnes: true}
	for i := range x {
		if n[i] == 0 {
			continue
		}
		m.k++
		m.n += n[i]
		m.x += x[i]
		m.sumSq += n[i] * n[i]
		m.within += x[i] * (n[i] - x[i]) / n[i]
		if n[i] != 1 {
			m.allOnes = false
		}
	}
	p := m.x / m.n
	for i := range x {
		if n[i] > 0 {
			d := x[i]/n[i] - p
			m.between += n[i] * d * d
		}
	}
	return m
}

func (m moments) m0() float64 { return (m.n - m.sumSq/m.n) / float64(m.k-1) }

// icc is the ANOVA intraclass correlation, absent where it is undefined.
func (m moments) icc() Number {
	k := float64(m.k)
	if m.k < 2 || m.allOnes || m.n <= k || m.x == 0 || m.x == m.n {
		return Number{}
	}
	msb := m.between / (k - 1)
	msw := m.within / (m.n - k)
	den := msb + (m.m0()-1)*msw
	if !(den > 0) {
		return Number{}
	}
	return Some((msb - msw) / den)
}

func shrink(raw Number, k int, prior, weight float64) float64 {
	if !raw.OK {
		return prior
	}
	if weight == 0 {
		return math.Max(0, raw.V)
	}
	return math.Max(0, (float64(k)*raw.V+weight*prior)/(float64(k)+weight))
}

// ShrunkICC returns the analysis-of-variance intraclass correlation of the
// clusters, blended with a prior value that counts as weight clusters, and at
// least 0: (k ICC + weight prior)/(k + weight). When the data hold no estimate
// (one cluster, all trials alike, all clusters of size 1) it is the prior.
// The second value is the unshrunk estimate, absent in those cases.
// Use DefaultICC and DefaultICCSessions unless there is better knowledge.
func ShrunkICC(x, n []float64, prior, weight float64) (icc float64, raw Number, err error) {
	if err := checkClusters("ShrunkICC", x, n); err != nil {
		return 0, Number{}, err
	}
	if !(prior >= 0 && prior <= 1) {
		return 0, Number{}, bad("ShrunkICC", "prior", "must lie between 0 and 1; it is %v", prior)
	}
	if !finite(weight) || weight < 0 {
		return 0, Number{}, bad("ShrunkICC", "weight", "must be a finite number of at least 0; it is %v", weight)
	}
	m := clusterMoments(x, n)
	raw = m.icc()
	return shrink(raw, m.k, prior, weight), raw, nil
}

// EffectiveRate is a (possibly weighted) rate with an effective size.
type EffectiveRate struct {
	Rate         float64 // weighted rate of successes
	N            float64 // effective trials
	X            float64 // effective successes, N times Rate
	Deff         float64 // plain trials divided by N
	Lower, Upper float64 // Wilson limits at (X, N)
}

// Weighted returns the weighted rate of clusters whose trials are correlated
// with a fixed intraclass correlation icc, its effective size and its Wilson
// limits. Cluster i has x[i] successes of n[i] trials and weight w[i] > 0 or
// = 0; w == nil means weight 1 each.
//
//	rate = sum w x / W, W = sum w n, V = sum w^2 n (1 + icc (n-1)), N = W^2/V
//
// A cluster with fewer than one trial counts as uncorrelated. With w == nil,
// Deff = 1 + icc (m_w - 1), m_w the size-weighted mean (Kish 1965).
// All weights 0, or no trials, is an error.
func Weighted(x, n, w []float64, icc, level float64) (EffectiveRate, error) {
	const fn = "Weighted"
	if err := checkClusters(fn, x, n); err != nil {
		return EffectiveRate{}, err
	}
	if w != nil && len(w) != len(n) {
		return EffectiveRate{}, bad(fn, "weights", "has %d values and trials %d", len(w), len(n))
	}
	if !(icc >= 0 && icc <= 1) {
		return EffectiveRate{}, bad(fn, "icc", "must lie between 0 and 1; it is %v", icc)
	}
	if err := checkLevel(fn, level); err != nil {
		return EffectiveRate{}, err
	}
	wmax := 1.0
	if w != nil {
		wmax = 0
		for i, v := range w {
			if !finite(v) || v < 0 {
				return EffectiveRate{}, bad(fn, "weights", "value %d must be a finite number of at least 0; it is %v", i+1, v)
			}
			if n[i] > 0 {
				wmax = math.Max(wmax, v)
			}
		}
		if wmax == 0 {
			return EffectiveRate{}, bad(fn, "weights", "are all 0")
		}
	}
	var sw, sx, v, total float64
	miss := false
	for i := range n {
		if n[i] == 0 {
			continue
		}
		wi := 1.0
		if w != nil {
			wi = w[i] / wmax // only ratios matter; this keeps tiny weights from vanishing
		}
		sw += wi * n[i]
		sx += wi * x[i]
		v += wi * wi * n[i] * (1 + icc*math.Max(0, n[i]-1))
		total += n[i]
		if wi > 0 && x[i] < n[i] {
			miss = true
		}
	}
	r := EffectiveRate{Rate: sx / sw, N: sw * sw / v}
	if !miss {
		r.Rate = 1
	}
	r.X = r.N * r.Rate
	r.Deff = total / r.N
	iv := wilson(r.X, r.N, Z(level))
	r.Lower, r.Upper = iv.Lower, iv.Upper
	return r, nil
}

// GroupTest is a chi-square comparison of groups.
type GroupTest struct {
	Deff, Neff, Yeff []float64 // per group: design effect, effective trials and successes
	ChiSq            Number    // absent when all effective trials agree
	DF               int
	P                float64 // 1 when ChiSq is absent
}

// RaoScott compares the success rates of groups of clusters: each group's
// counts are divided by its own design effect (ratio form, at least 1), then
// the usual chi-square test is done. successes[g][i] of trials[g][i] belong to
// cluster i of group g; at least two groups with trials are needed.
//
// Source: Rao & Scott 1992, Biometrics 48:577.
func RaoScott(successes, trials [][]float64) (GroupTest, error) {
	const fn = "RaoScott"
	if len(successes) != len(trials) {
		return GroupTest{}, bad(fn, "trials", "has %d groups and successes %d", len(trials), len(successes))
	}
	if len(trials) < 2 {
		return GroupTest{}, bad(fn, "groups", "must be at least two")
	}
	var g GroupTest
	var sn, sy float64
	mixed := false
	for i := range trials {
		if err := checkClusters(fn, successes[i], trials[i]); err != nil {
			return GroupTest{}, err
		}
		c, err := Cluster(successes[i], trials[i], 0.95)
		if err != nil {
			return GroupTest{}, err
		}
		y := c.Neff * c.P
		g.Deff = append(g.Deff, c.Deff)
		g.Neff = append(g.Neff, c.Neff)
		g.Yeff = append(g.Yeff, y)
		sn += c.Neff
		sy += y
		if c.X > 0 && c.X < c.N || i > 0 && c.P != g.Yeff[0]/g.Neff[0] {
			mixed = true
		}
	}
	g.DF = len(trials) - 1
	g.P = 1
	p := sy / sn
	if !mixed || p <= 0 || p >= 1 {
		return g, nil
	}
	var chi float64
	for i, n := range g.Neff {
		d := g.Yeff[i] - n*p
		chi += d * d / (n * p * (1 - p))
	}
	g.ChiSq = Some(chi)
	g.P = chiSquareTail(chi, float64(g.DF))
	return g, nil
}

// chiSquareTail is P(chi-square with df > x).
func chiSquareTail(x, df float64) float64 {
	if df == 1 {
		return twoSidedNormal(math.Sqrt(x))
	}
	return mathext.GammaIncRegComp(df/2, x/2)
}

// LinearTrend is a test for a linear trend of proportions.
type LinearTrend struct {
	Z                   Number  // positive when the proportion rises; absent when it cannot vary
	PIncreasing         float64 // one-sided p for a rising proportion, 1 - Phi(z)
	PDecreasing         float64 // one-sided p for a falling proportion, Phi(z)
	PTwoSided           float64
	Rate                float64 // pooled proportion of effective counts
	NEffective          float64 // effective trials
	Numerator, Variance float64 // sum s (x - n p), and its null variance
}

// CochranArmitage tests for a linear trend of x[i] of n[i] over scores s[i],
// such as the session number. deff[i], at least 1, is the design effect by
// which the counts of group i are divided first (Rao & Scott 1992); nil means
// 1 each. No continuity correction. When no trend can be seen (all answers
// alike, or one score only) Z is absent and every p is 1.
//
// Sources: Cochran 1954, Biometrics 10:417; Armitage 1955, Biometrics 11:375.
func CochranArmitage(x, n, s, deff []float64) (LinearTrend, error) {
	const fn = "CochranArmitage"
	if err := checkClusters(fn, x, n); err != nil {
		return LinearTrend{}, err
	}
	if len(s) != len(n) {
		return LinearTrend{}, bad(fn, "scores", "has %d values and trials %d", len(s), len(n))
	}
	if err := checkFinite(fn, "scores", s); err != nil {
		return LinearTrend{}, err
	}
	if deff != nil && len(deff) != len(n) {
		return LinearTrend{}, bad(fn, "deff", "has %d values and trials %d", len(deff), len(n))
	}
	var sn, sx, sns float64
	size := func(i int) float64 {
		if deff == nil {
			return 1
		}
		return 1 / deff[i]
	}
	hit, miss := false, false
	for i := range n {
		if deff != nil && !(deff[i] >= 1 && finite(deff[i])) {
			return LinearTrend{}, bad(fn, "deff", "value %d must be at least 1; it is %v", i+1, deff[i])
		}
		f := size(i)
		sn += f * n[i]
		sx += f * x[i]
		sns += f * n[i] * s[i]
		hit = hit || x[i] > 0
		miss = miss || x[i] < n[i]
	}
	r := LinearTrend{PIncreasing: 1, PDecreasing: 1, PTwoSided: 1, Rate: sx / sn, NEffective: sn}
	mean := sns / sn
	var num, ss float64
	varies := false
	first := math.NaN()
	for i := range n {
		if n[i] == 0 {
			continue
		}
		if math.IsNaN(first) {
			first = s[i]
		}
		varies = varies || s[i] != first
		f := size(i)
		d := s[i] - mean
		num += f * x[i] * d
		ss += f * n[i] * d * d
	}
	if !hit || !miss || !varies {
		return r, nil
	}
	r.Numerator = num
	r.Variance = r.Rate * (1 - r.Rate) * ss
	z := num / math.Sqrt(r.Variance)
	if !finite(z) {
		return r, nil
	}
	r.Z = Some(z)
	r.PIncreasing = upperNormal(z)
	r.PDecreasing = upperNormal(-z)
	r.PTwoSided = twoSidedNormal(z)
	return r, nil
}
