package stats

import "math"

// Defaults for the intraclass correlation of trials within a session. They
// are assumed, not estimated from data.
const (
	DefaultICC         = 0.10 // prior intraclass correlation
	DefaultICCSessions = 10   // weight of the prior, in sessions
)

// Clustered is a proportion from sessions whose trials resemble each other.
type Clustered struct {
	K    int     `json:"k"` // sessions with at least one trial
	N    float64 `json:"N"` // trials
	X    float64 `json:"X"` // successes
	Rate float64 `json:"p"` // X/N

	MeanSize float64 `json:"m_weighted"` // size-weighted mean session, sum n^2 / N
	ICCRaw   Number  `json:"icc_raw"`    // analysis of variance, see ShrunkICC
	ICC      float64 `json:"icc"`        // blended with the prior, at least 0
	Deff     float64 `json:"deff"`       // design effect 1 + (MeanSize-1) ICC
	Neff     float64 `json:"neff"`       // N/Deff, the trials that say as much when independent
	Interval         // Wilson limits at the size Neff
}

// Cluster gives the proportion of successes[i] of trials[i] in session i, with
// Wilson limits at its effective size. prior and weight are those of ShrunkICC.
//
// Source: Kish 1965, Survey Sampling; Dean & Pagano 2015, J Surv Stat
// Methodol 3:484.
func Cluster(successes, trials []float64, prior, weight, level float64) (Clustered, error) {
	icc, raw, err := ShrunkICC(successes, trials, prior, weight)
	if err != nil {
		return Clustered{}, err
	}
	if err := checkLevel("Cluster", level); err != nil {
		return Clustered{}, err
	}
	m := momentsOf(successes, trials)
	c := Clustered{K: m.k, N: m.n, X: m.x, Rate: m.x / m.n, MeanSize: m.squares / m.n, ICCRaw: raw, ICC: icc}
	c.Deff = math.Max(1, 1+(c.MeanSize-1)*icc)
	c.Neff = m.n / c.Deff
	c.Interval = wilson(math.Min(m.x/c.Deff, c.Neff), c.Neff, Z(level))
	return c, nil
}

// ShrunkICC returns the analysis-of-variance intraclass correlation of the
// sessions, blended with a prior value that counts as weight sessions, and at
// least 0: (k ICC + weight prior)/(k + weight). When the data hold no estimate
// (one session, all trials alike, all sessions of one trial) it is the prior.
// The second value is the unshrunk estimate, absent in those cases.
// Use DefaultICC and DefaultICCSessions unless there is better knowledge.
func ShrunkICC(successes, trials []float64, prior, weight float64) (icc float64, raw Number, err error) {
	const fn = "ShrunkICC"
	if err := checkSessions(fn, successes, trials); err != nil {
		return 0, Number{}, err
	}
	if !(prior >= 0 && prior <= 1) {
		return 0, Number{}, bad(fn, "prior", "must lie between 0 and 1; it is %v", prior)
	}
	if !(weight >= 0 && weight <= maxCount) {
		return 0, Number{}, bad(fn, "weight", "must lie between 0 and %v; it is %v", maxCount, weight)
	}
	m := momentsOf(successes, trials)
	if raw = m.icc(); !raw.OK {
		return prior, raw, nil
	}
	k := float64(m.k)
	return math.Max(0, (k*raw.V+weight*prior)/(k+weight)), raw, nil
}

// moments are the sums over the sessions that have trials.
type moments struct {
	k               int
	n, x, squares   float64 // trials, successes, sum of squared trials
	between, within float64 // sums of squares of the analysis of variance
}

func momentsOf(successes, trials []float64) moments {
	var m moments
	for i, n := range trials {
		if n > 0 {
			m.k++
			m.n += n
			m.x += successes[i]
			m.squares += n * n
			m.within += successes[i] * (n - successes[i]) / n
		}
	}
	for i, n := range trials {
		if n > 0 {
			d := successes[i]/n - m.x/m.n
			m.between += n * d * d
		}
	}
	return m
}

// icc is the correlation of the analysis of variance, absent where it is undefined.
func (m moments) icc() Number {
	k := float64(m.k)
	if m.k < 2 || m.n <= k || m.x == 0 || m.x == m.n {
		return Number{}
	}
	size := (m.n - m.squares/m.n) / (k - 1)
	msb, msw := m.between/(k-1), m.within/(m.n-k)
	total := msb + (size-1)*msw
	if !(total > 0) {
		return Number{}
	}
	return Some((msb - msw) / total)
}

// LinearTrend is a test for a linear trend of proportions.
type LinearTrend struct {
	Z           Number  `json:"z"`            // positive when the proportion rises; absent when it cannot vary
	PIncreasing float64 `json:"p_increasing"` // one-sided p for a rising proportion, 1 - Phi(z)
	PDecreasing float64 `json:"p_decreasing"` // one-sided p for a falling proportion, Phi(z)
	PTwoSided   float64 `json:"p_two_sided"`
}

// CochranArmitage tests for a linear trend of successes[i] of trials[i] over
// scores[i], such as the session number. deff[i], at least 1, is the design
// effect by which the counts of group i are divided first (Rao & Scott 1992,
// Biometrics 48:577); nil means 1 each. No continuity correction. When no trend
// can be seen (all answers alike, or one score only) Z is absent and every p is 1.
//
// Sources: Cochran 1954, Biometrics 10:417; Armitage 1955, Biometrics 11:375.
func CochranArmitage(successes, trials, scores, deff []float64) (LinearTrend, error) {
	const fn = "CochranArmitage"
	if err := checkSessions(fn, successes, trials); err != nil {
		return LinearTrend{}, err
	}
	if len(scores) != len(trials) {
		return LinearTrend{}, bad(fn, "scores", "has %d values and trials %d", len(scores), len(trials))
	}
	if err := checkFinite(fn, "scores", scores); err != nil {
		return LinearTrend{}, err
	}
	if deff != nil && len(deff) != len(trials) {
		return LinearTrend{}, bad(fn, "deff", "has %d values and trials %d", len(deff), len(trials))
	}
	for i, d := range deff {
		if !(d >= 1 && d <= maxCount) {
			return LinearTrend{}, bad(fn, "deff", "value %d must be at least 1; it is %v", i+1, d)
		}
	}
	share := func(i int) float64 {
		if deff == nil {
			return 1
		}
		return 1 / deff[i]
	}
	var n, x, ns float64
	for i := range trials {
		n += share(i) * trials[i]
		x += share(i) * successes[i]
		ns += share(i) * trials[i] * scores[i]
	}
	mean := ns / n
	var slope, spread float64
	for i := range trials {
		d := scores[i] - mean
		slope += share(i) * successes[i] * d
		spread += share(i) * trials[i] * d * d
	}
	r := LinearTrend{PIncreasing: 1, PDecreasing: 1, PTwoSided: 1}
	z := slope / math.Sqrt(x/n*(1-x/n)*spread)
	if alike(successes, trials) || oneScore(trials, scores) || !finite(z) {
		return r, nil
	}
	r.Z = Some(z)
	r.PIncreasing, r.PDecreasing, r.PTwoSided = upperNormal(z), upperNormal(-z), 2*upperNormal(math.Abs(z))
	return r, nil
}

// alike reports whether all trials were successes, or none.
func alike(successes, trials []float64) bool {
	hit, miss := false, false
	for i, x := range successes {
		hit = hit || x > 0
		miss = miss || x < trials[i]
	}
	return !hit || !miss
}

// oneScore reports whether all trials have the same score.
func oneScore(trials, scores []float64) bool {
	first := -1
	for i, n := range trials {
		if n > 0 && first >= 0 && scores[i] != scores[first] {
			return false
		}
		if n > 0 && first < 0 {
			first = i
		}
	}
	return true
}
