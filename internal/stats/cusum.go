package stats

import "math"

// SessionCUSUM watches for a rise of the failure rate from P0 to P1 while
// trials of one session resemble each other with intraclass correlation ICC.
// The chances within a session are those of a beta-binomial with that
// correlation, so a second failure of the same session says less than the
// first. The zero statistic is the floor.
//
// Source: Reynolds & Stoumbos 1999, J Qual Tech 31:87, for the Bernoulli
// CUSUM; the beta-binomial likelihood ratio for the step.
type SessionCUSUM struct {
	P0, P1 float64 // failure rate in control and out of control, 0 < P0 < P1 < 1
	ICC    float64 // 0 <= ICC < 1
}

// Check says whether the settings are possible.
func (s SessionCUSUM) Check() error {
	const fn = "SessionCUSUM"
	if !(s.P0 > 0 && s.P0 < s.P1 && s.P1 < 1) {
		return bad(fn, "p0 and p1", "must obey 0 < p0 < p1 < 1; they are %v and %v", s.P0, s.P1)
	}
	if s.P0 < 1e-12 || s.P1 > 1-1e-12 {
		return bad(fn, "p0 and p1", "must keep 1e-12 away from 0 and 1; they are %v and %v", s.P0, s.P1)
	}
	if !(s.ICC >= 0 && s.ICC < 1) {
		return bad(fn, "icc", "must be at least 0 and below 1; it is %v", s.ICC)
	}
	return nil
}

// Increment is what the next trial of a session adds, after n trials with k
// failures earlier in the same session (0 <= k <= n).
//
//	failure: ln[(P1 t + k)/(P0 t + k)]
//	success: ln[((1-P1) t + n-k)/((1-P0) t + n-k)],  t = (1-ICC)/ICC
//
// With ICC = 0 the increments are those of independent trials. The settings
// must pass Check.
func (s SessionCUSUM) Increment(n, k int, failure bool) float64 {
	if s.ICC < 1e-12 { // no different, and t stays finite
		if failure {
			return math.Log(s.P1 / s.P0)
		}
		return math.Log((1 - s.P1) / (1 - s.P0))
	}
	t := (1 - s.ICC) / s.ICC
	if failure {
		return math.Log((s.P1*t + float64(k)) / (s.P0*t + float64(k)))
	}
	m := float64(n - k)
	return math.Log(((1-s.P1)*t + m) / ((1-s.P0)*t + m))
}

// CUSUMStep is the state after one trial.
type CUSUMStep struct {
	Increment float64
	Statistic float64 // max(0, previous + Increment)
	Alarm     bool    // at or above the threshold
	Since     int     // 0-based index of the trial where the present rise began, -1 while at 0
}

// Path runs the statistic from 0 over trials in order of time. failure[i] and
// session[i] describe trial i; trials of one session stand together and carry
// the same number. Nothing is held or reset at the threshold.
func (s SessionCUSUM) Path(failure []bool, session []int, threshold float64) ([]CUSUMStep, error) {
	if err := s.Check(); err != nil {
		return nil, err
	}
	if len(session) != len(failure) {
		return nil, bad("SessionCUSUM", "session", "has %d values and failure %d", len(session), len(failure))
	}
	if !finite(threshold) || threshold <= 0 {
		return nil, bad("SessionCUSUM", "threshold", "must be a finite number above 0; it is %v", threshold)
	}
	out := make([]CUSUMStep, len(failure))
	stat, since := 0.0, -1
	n, k := 0, 0
	for i, f := range failure {
		if i == 0 || session[i] != session[i-1] {
			n, k = 0, 0
		}
		inc := s.Increment(n, k, f)
		n++
		if f {
			k++
		}
		if stat == 0 {
			since = i
		}
		stat += inc
		if stat <= 0 {
			stat, since = 0, -1
		}
		out[i] = CUSUMStep{inc, stat, stat >= threshold, since}
	}
	return out, nil
}
