package stats

import (
	"cmp"
	"math"
	"slices"
)

// SurvivalPoint is one distinct time of a Kaplan-Meier curve.
type SurvivalPoint struct {
	Time     float64 `json:"time"`
	AtRisk   int     `json:"n_risk"`       // observations with at least this time
	Events   int     `json:"n_event"`      // events at this time
	Censored int     `json:"n_censor"`     // observations censored at this time, still at risk here
	Surv     float64 `json:"surv"`         // chance of going beyond this time
	SE       Number  `json:"se_greenwood"` // absent where Surv is 0

	relVar float64 // Greenwood sum of d/(n(n-d)), the variance of ln Surv
}

// Survival is a Kaplan-Meier curve, a step function that starts at 1.
type Survival struct {
	N      int             `json:"n"`
	Events int             `json:"events"`
	Points []SurvivalPoint `json:"curve"` // ascending in time, at least one
}

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
	n := len(times)
	if n == 0 {
		return nil, bad(fn, "times", "is empty")
	}
	if len(event) != n {
		return nil, bad(fn, "status", "has %d values and times %d", len(event), n)
	}
	order := make([]int, n)
	for i, t := range times {
		if !(finite(t) && t >= 0) {
			return nil, bad(fn, "times", "value %d must be a finite number of at least 0; it is %v", i+1, t)
		}
		order[i] = i
	}
	slices.SortStableFunc(order, func(a, b int) int { return cmp.Compare(times[a], times[b]) })

	s := &Survival{N: n}
	surv, relVar, censored := 1.0, 0.0, 0
	for i := 0; i < n; {
		p := SurvivalPoint{Time: times[order[i]] + 0, AtRisk: n - i} // + 0 turns -0 into 0
		for ; i < n && times[order[i]] == p.Time; i++ {
			if event[order[i]] {
				p.Events++
			} else {
				p.Censored++
			}
		}
		s.Events += p.Events
		left := float64(p.AtRisk - p.Events)
		switch {
		case left == 0:
			surv = 0
		case censored == 0: // a plain fraction so far: exact
			surv = left / float64(n)
		default:
			surv *= left / float64(p.AtRisk)
		}
		if surv > 0 {
			relVar += float64(p.Events) / (float64(p.AtRisk) * left)
			p.SE = Some(surv * math.Sqrt(relVar))
		}
		p.Surv, p.relVar = surv, relVar
		censored += p.Censored
		s.Points = append(s.Points, p)
	}
	return s, nil
}

// Limits returns the pointwise limits on the log-log scale, S^exp(+-z se/(S |ln S|)).
// They are absent where the curve is 0 or 1. The level lies between 0 and 1.
func (p SurvivalPoint) Limits(level float64) (lower, upper Number) {
	if p.Surv <= 0 || p.Surv >= 1 {
		return Number{}, Number{}
	}
	l := math.Log(p.Surv)
	e := Z(level) * math.Sqrt(p.relVar) / -l
	return Some(math.Exp(l * math.Exp(e))), Some(math.Exp(l * math.Exp(-e)))
}

// Quantile returns the time by which a share q of the subjects had the event,
// 0 < q < 1: the first time the curve is at or below 1-q, and, where the curve
// equals 1-q on a stretch, the middle of that stretch (what R prints). Both
// are absent when the curve stays above.
func (s *Survival) Quantile(q float64) (first, midpoint Number) {
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
					midpoint = Some((p.Time + next.Time) / 2)
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

// MedianLimits inverts the pointwise limits: the lower (upper) limit of the
// median is the first time at which the lower (upper) curve is at or below 1/2,
// absent when it never is.
//
// Source: Brookmeyer & Crowley 1982, Biometrics 38:29, on the log-log scale.
func (s *Survival) MedianLimits(level float64) (lower, upper Number, err error) {
	if err := checkLevel("MedianLimits", level); err != nil {
		return Number{}, Number{}, err
	}
	const bar = 0.5 * (1 + tie)
	for _, p := range s.Points {
		low, high := p.Limits(level)
		if !lower.OK && low.OK && low.V <= bar {
			lower = Some(p.Time)
		}
		if high.OK && high.V <= bar {
			return lower, Some(p.Time), nil
		}
	}
	return lower, Number{}, nil
}

// SurvivalAt is the curve read at one time.
type SurvivalAt struct {
	Surv   Number `json:"surv"`         // absent after the last time when that is censored
	SE     Number `json:"se_greenwood"` // absent with Surv, and where Surv is 0
	AtRisk int    `json:"n_risk"`       // observations with a time beyond the one asked for, or censored at it

	// Wilson limits at the effective size Surv(1-Surv)/SE^2; where Surv is 1
	// that size is AtRisk, where it is 0 it is N. Absent with Surv.
	// Source: Rothman 1978, J Chronic Dis 31:557.
	Neff        Number `json:"neff"`
	WilsonLower Number `json:"lower_wilson"`
	WilsonUpper Number `json:"upper_wilson"`
}

// At reads the curve at time t: the chance of going beyond t. An event at t
// itself counts as not having gone beyond.
func (s *Survival) At(t, level float64) (SurvivalAt, error) {
	if !(finite(t) && t >= 0) {
		return SurvivalAt{}, bad("At", "t", "must be a finite number of at least 0; it is %v", t)
	}
	if err := checkLevel("At", level); err != nil {
		return SurvivalAt{}, err
	}
	p := SurvivalPoint{Surv: 1, SE: Some(0)}
	a := SurvivalAt{AtRisk: s.N}
	for _, next := range s.Points {
		if next.Time > t {
			break
		}
		p = next
		a.AtRisk = p.AtRisk - p.Events
		if p.Time < t {
			a.AtRisk -= p.Censored
		}
	}
	if a.AtRisk == 0 && p.Surv > 0 {
		return a, nil // nobody was followed this far
	}
	var neff float64
	switch p.Surv {
	case 0:
		neff = float64(s.N)
	case 1:
		neff = float64(a.AtRisk)
	default:
		neff = (1 - p.Surv) / (p.Surv * p.relVar)
	}
	iv := wilson(neff*p.Surv, neff, Z(level))
	a.Surv, a.SE = Some(p.Surv), p.SE
	a.Neff, a.WilsonLower, a.WilsonUpper = Some(neff), Some(iv.Lower), Some(iv.Upper)
	return a, nil
}
