package stats

import (
	"cmp"
	"math"
	"slices"
)

// SurvivalPoint is one distinct time of a Kaplan-Meier curve.
type SurvivalPoint struct {
	Time     float64
	AtRisk   int     // observations with at least this time
	Events   int     // events at this time
	Censored int     // observations censored at this time, still at risk here
	Surv     float64 // chance of going beyond this time
	SE       Number  // Greenwood standard error; absent where Surv is 0
	cumVar   float64 // Greenwood sum of d/(n(n-d))
}

// Survival is a Kaplan-Meier curve, a step function that starts at 1.
type Survival struct {
	N, Events int
	Points    []SurvivalPoint // ascending in time, at least one
}

// Transform names the scale on which pointwise limits of a survival curve are
// symmetric.
type Transform int

// The transforms. LogLog is the one recommended and used for the median.
const (
	LogLog Transform = iota // S^exp(+-z se/(S |ln S|)); no limits while S is 1
	Log                     // S exp(+-z se/S), upper limit cut at 1
	Plain                   // S +- z se, cut to [0, 1]
)

// tie is the relative tolerance by which a survival value counts as equal to
// the bar it is compared with: products of fractions rarely hit 0.5 exactly.
const tie = 1e-9

// KaplanMeier estimates the survival curve of times, where event[i] says
// whether time i ended in the event (an answer, a break) and not in censoring
// (an ask that was given up, a release). Times are finite and not negative; an
// observation censored at an event time counts as at risk there.
//
// Sources: Kaplan & Meier 1958, JASA 53:457; Greenwood 1926.
func KaplanMeier(times []float64, event []bool) (*Survival, error) {
	const fn = "KaplanMeier"
	if len(times) == 0 {
		return nil, empty(fn, "times")
	}
	if len(event) != len(times) {
		return nil, bad(fn, "status", "has %d values and times %d", len(event), len(times))
	}
	if err := checkTimes(fn, times); err != nil {
		return nil, err
	}
	obs := sortObservations(times, event)
	distinct := 1
	for i := 1; i < len(obs); i++ {
		if obs[i].time != obs[i-1].time {
			distinct++
		}
	}
	s := &Survival{N: len(obs), Points: make([]SurvivalPoint, 0, distinct)}
	surv, cum := 1.0, 0.0
	// With no censoring yet S is a plain fraction; computed as such it is exact.
	clean := true
	for i := 0; i < len(obs); {
		p := SurvivalPoint{Time: obs[i].time, AtRisk: len(obs) - i}
		j := i
		for ; j < len(obs) && obs[j].time == p.Time; j++ {
			if obs[j].event {
				p.Events++
			}
		}
		p.Censored = j - i - p.Events
		s.Events += p.Events
		n, d := float64(p.AtRisk), float64(p.Events)
		switch {
		case p.Events == p.AtRisk:
			surv = 0
		case p.Events > 0:
			if clean {
				surv = float64(p.AtRisk-p.Events) / float64(s.N)
			} else {
				surv *= (n - d) / n
			}
			cum += d / (n * (n - d))
		}
		clean = clean && p.Censored == 0
		p.Surv, p.cumVar = surv, cum
		if surv > 0 {
			p.SE = Some(surv * math.Sqrt(cum))
		}
		s.Points = append(s.Points, p)
		i = j
	}
	return s, nil
}

type observation struct {
	time  float64
	event bool
}

// sortObservations sorts by time. The bits of times that are not negative
// ascend with them, so whole numbers are sorted, the event in the last bit:
// several times as fast as sorting pairs.
func sortObservations(times []float64, event []bool) []observation {
	keys := make([]uint64, len(times))
	for i, t := range times {
		keys[i] = math.Float64bits(t+0) << 1 // + 0 turns -0 into 0
		if event[i] {
			keys[i]++
		}
	}
	if !slices.IsSorted(keys) {
		slices.Sort(keys)
	}
	obs := make([]observation, len(keys))
	for i, k := range keys {
		obs[i] = observation{math.Float64frombits(k >> 1), k&1 != 0}
	}
	return obs
}

func checkTimes(fn string, times []float64) error {
	for i, t := range times {
		if !finite(t) || t < 0 {
			return bad(fn, "times", "value %d must be a finite number of at least 0; it is %v", i+1, t)
		}
	}
	return nil
}

func (p SurvivalPoint) limits(z float64, tr Transform) (lower, upper Number) {
	if !p.SE.OK {
		return Number{}, Number{}
	}
	return survivalLimits(p.Surv, math.Sqrt(p.cumVar), z, tr)
}

// survivalLimits takes relSE = se/S.
func survivalLimits(s, relSE, z float64, tr Transform) (lower, upper Number) {
	switch tr {
	case Plain:
		return Some(math.Max(0, s-z*s*relSE)), Some(math.Min(1, s+z*s*relSE))
	case Log:
		return Some(s * math.Exp(-z*relSE)), Some(math.Min(1, s*math.Exp(z*relSE)))
	}
	if s >= 1 {
		return Number{}, Number{}
	}
	l := math.Log(s)
	e := z * relSE / l // negative
	return Some(math.Exp(l * math.Exp(-e))), Some(math.Exp(l * math.Exp(e)))
}

// Limits returns the pointwise limits of the curve at its i-th point. They are
// absent where the curve is 0 and, for LogLog, where it is 1.
func (s *Survival) Limits(i int, level float64, tr Transform) (lower, upper Number, err error) {
	if i < 0 || i >= len(s.Points) {
		return Number{}, Number{}, bad("Limits", "i", "is %d of %d points", i, len(s.Points))
	}
	if err := checkLevel("Limits", level); err != nil {
		return Number{}, Number{}, err
	}
	lower, upper = s.Points[i].limits(Z(level), tr)
	return lower, upper, nil
}

// Quantile returns the time by which a share q of the subjects had the event,
// 0 < q < 1: the first time the curve is at or below 1-q, and, where the curve
// equals 1-q on a stretch, the middle of that stretch (what R prints). Both
// are absent when the curve stays above.
func (s *Survival) Quantile(q float64) (first, midpoint Number) {
	if !(q > 0 && q < 1) {
		return Number{}, Number{}
	}
	bar := 1 - q
	for i, p := range s.Points {
		if p.Surv > bar*(1+tie) {
			continue
		}
		first, midpoint = Some(p.Time), Some(p.Time)
		if p.Surv >= bar*(1-tie) {
			// The stretch ends at the next event. A curve that never drops
			// again has no middle: the first time stands, as in R.
			for _, next := range s.Points[i+1:] {
				if next.Events > 0 {
					midpoint = Some(mean2(p.Time, next.Time))
					break
				}
			}
		}
		return first, midpoint
	}
	return Number{}, Number{}
}

// Median is Quantile(0.5).
func (s *Survival) Median() (first, midpoint Number) { return s.Quantile(0.5) }

// QuantileLimits inverts the pointwise limits: the lower (upper) limit is the
// first time at which the lower (upper) curve is at or below 1-q, absent when
// it never is. For the median use q = 0.5 and LogLog.
//
// Source: Brookmeyer & Crowley 1982, Biometrics 38:29.
func (s *Survival) QuantileLimits(q, level float64, tr Transform) (lower, upper Number, err error) {
	if !(q > 0 && q < 1) {
		return Number{}, Number{}, bad("QuantileLimits", "q", "must lie between 0 and 1, both excluded; it is %v", q)
	}
	if err := checkLevel("QuantileLimits", level); err != nil {
		return Number{}, Number{}, err
	}
	z := Z(level)
	bar := (1 - q) * (1 + tie)
	for _, p := range s.Points {
		lo, hi := p.limits(z, tr)
		if !lower.OK && lo.OK && lo.V <= bar {
			lower = Some(p.Time)
		}
		if hi.OK && hi.V <= bar {
			return lower, Some(p.Time), nil
		}
	}
	return lower, upper, nil
}

// MedianLimits are the Brookmeyer-Crowley limits of the median on the log-log
// scale.
func (s *Survival) MedianLimits(level float64) (lower, upper Number, err error) {
	return s.QuantileLimits(0.5, level, LogLog)
}

// SurvivalAt is the curve read at one time.
type SurvivalAt struct {
	Surv         Number // absent after the last time when that is censored
	SE           Number // Greenwood; absent with Surv, and where Surv is 0
	Lower, Upper Number // pointwise limits on the scale asked for
	AtRisk       int    // observations with a time beyond the one asked for, or censored at it

	// Wilson limits at the effective size Surv(1-Surv)/SE^2; where Surv is 1
	// that size is AtRisk, where it is 0 it is N. They exist wherever Surv
	// does, also where the other limits do not (Rothman 1978, J Chronic Dis
	// 31:557).
	Neff, WilsonLower, WilsonUpper Number
}

// At reads the curve at time t: the chance of going beyond t. An event at t
// itself counts as not having gone beyond.
func (s *Survival) At(t, level float64, tr Transform) (SurvivalAt, error) {
	if !finite(t) || t < 0 {
		return SurvivalAt{}, bad("At", "t", "must be a finite number of at least 0; it is %v", t)
	}
	if err := checkLevel("At", level); err != nil {
		return SurvivalAt{}, err
	}
	p := SurvivalPoint{Surv: 1, SE: Some(0), AtRisk: s.N}
	i, hit := slices.BinarySearchFunc(s.Points, t, func(p SurvivalPoint, t float64) int { return cmp.Compare(p.Time, t) })
	if hit {
		i++
	}
	var a SurvivalAt
	if i > 0 {
		p = s.Points[i-1]
		a.AtRisk = p.AtRisk - p.Events
		if p.Time < t {
			a.AtRisk -= p.Censored
		}
	} else {
		a.AtRisk = s.N
	}
	if a.AtRisk == 0 && p.Surv > 0 {
		return a, nil // nobody was followed this far
	}
	z := Z(level)
	a.Surv, a.SE = Some(p.Surv), p.SE
	a.Lower, a.Upper = p.limits(z, tr)
	var neff float64
	switch p.Surv {
	case 0:
		neff = float64(s.N)
	case 1:
		neff = float64(a.AtRisk)
	default:
		neff = (1 - p.Surv) / (p.Surv * p.cumVar)
	}
	iv := wilson(neff*p.Surv, neff, z)
	a.Neff, a.WilsonLower, a.WilsonUpper = Some(neff), Some(iv.Lower), Some(iv.Upper)
	return a, nil
}

// RestrictedMean returns the mean of the smaller of time and tau, the area
// under the curve up to tau, and its standard error. tau is above 0 and not
// beyond the last observed time unless the curve has reached 0.
//
// Source: Irwin 1949; variance as in R's survival package, terms with no
// survivor left out.
func (s *Survival) RestrictedMean(tau float64) (mean, se float64, err error) {
	if !finite(tau) || tau <= 0 {
		return 0, 0, bad("RestrictedMean", "tau", "must be a finite number above 0; it is %v", tau)
	}
	last := s.Points[len(s.Points)-1]
	if tau > last.Time && last.Surv > 0 {
		return 0, 0, bad("RestrictedMean", "tau", "is %v, beyond the last observed time %v", tau, last.Time)
	}
	k := 0
	for k < len(s.Points) && s.Points[k].Time <= tau {
		k++
	}
	// From tau backwards: area between each event time and tau.
	var variance float64
	area, right := 0.0, tau
	for i := k - 1; i >= 0; i-- {
		p := s.Points[i]
		area += p.Surv * (right - p.Time)
		right = p.Time
		if p.Events > 0 && p.Events < p.AtRisk {
			n, d := float64(p.AtRisk), float64(p.Events)
			variance += area * area * d / (n * (n - d))
		}
	}
	return area + right, math.Sqrt(variance), nil
}

// LogRankTest compares two survival curves.
type LogRankTest struct {
	O1, E1, O2, E2 float64 // observed and expected events
	Var            float64 // variance of O1 - E1
	ChiSq          Number  // absent when there is no event or Var is 0
	P              Number  // chi-square on 1 degree of freedom; absent with ChiSq
}

// LogRank tests whether two groups have the same survival curve.
//
// Source: Mantel 1966; Peto & Peto 1972, JRSS A 135:185.
func LogRank(times1 []float64, event1 []bool, times2 []float64, event2 []bool) (LogRankTest, error) {
	const fn = "LogRank"
	if len(times1) == 0 {
		return LogRankTest{}, empty(fn, "times1")
	}
	if len(times2) == 0 {
		return LogRankTest{}, empty(fn, "times2")
	}
	if len(event1) != len(times1) {
		return LogRankTest{}, bad(fn, "status1", "has %d values and times1 %d", len(event1), len(times1))
	}
	if len(event2) != len(times2) {
		return LogRankTest{}, bad(fn, "status2", "has %d values and times2 %d", len(event2), len(times2))
	}
	if err := checkTimes(fn, times1); err != nil {
		return LogRankTest{}, err
	}
	if err := checkTimes(fn, times2); err != nil {
		return LogRankTest{}, err
	}
	a, b := sortObservations(times1, event1), sortObservations(times2, event2)
	var r LogRankTest
	for i, j := 0, 0; i < len(a) || j < len(b); {
		t := math.Inf(1)
		if i < len(a) {
			t = a[i].time
		}
		if j < len(b) {
			t = math.Min(t, b[j].time)
		}
		n1, n2 := float64(len(a)-i), float64(len(b)-j)
		var d1, d2 float64
		for ; i < len(a) && a[i].time == t; i++ {
			if a[i].event {
				d1++
			}
		}
		for ; j < len(b) && b[j].time == t; j++ {
			if b[j].event {
				d2++
			}
		}
		n, d := n1+n2, d1+d2
		if d == 0 {
			continue
		}
		r.O1 += d1
		r.O2 += d2
		r.E1 += d * n1 / n
		r.E2 += d * n2 / n
		if n > 1 {
			r.Var += d * (n1 / n) * (n2 / n) * (n - d) / (n - 1)
		}
	}
	if r.Var > 0 {
		x := (r.O1 - r.E1) * (r.O1 - r.E1) / r.Var
		r.ChiSq, r.P = Some(x), Some(chiSquareTail(x, 1))
	}
	return r, nil
}
