package stats

import "math"

// boundaryTie lets a statistic that equals a boundary up to rounding decide.
const boundaryTie = 1e-9

// SPRT is Wald's sequential test of a failure rate p0 (good) against p1 (bad).
// After n trials with d failures accept when d <= Slope n - H1, reject when
// d >= Slope n + H2, else go on; equality decides.
type SPRT struct {
	H1, H2, Slope float64

	LLRPerSuccess, LLRPerFailure float64 // log likelihood ratio steps
	LowerLLR, UpperLLR           float64 // accept at or below, reject at or above

	NAcceptZeroFailures  int // first trial at which 0 failures accept
	NAcceptOneFailure    int // first trial at which 1 failure accepts
	MinRejectAllFailures int // failures in a row from the start that reject

	AtP0, AtP1 SPRTRisk // exact characteristics of the test without truncation
}

// SPRTRisk is what the sequential test does at one true failure rate.
type SPRTRisk struct {
	Accept, Reject float64 // chances; they sum to 1
	ASN            float64 // average number of trials
}

// WaldSPRT returns the lines and the exact characteristics of the sequential
// test with risks alpha (rejecting at p0) and beta (accepting at p1), where
// 0 < p0 < p1 < 1, alpha and beta above 0 and alpha + beta below 1.
//
// Source: Wald 1947, Sequential Analysis; the exact values by propagating the
// undecided states.
func WaldSPRT(p0, p1, alpha, beta float64) (SPRT, error) {
	const fn = "WaldSPRT"
	if !(p0 > 0 && p0 < p1 && p1 < 1) {
		return SPRT{}, bad(fn, "p0 and p1", "must obey 0 < p0 < p1 < 1; they are %v and %v", p0, p1)
	}
	if !(alpha > 0 && beta > 0 && alpha+beta < 1) {
		return SPRT{}, bad(fn, "alpha and beta", "must be above 0 and sum to less than 1; they are %v and %v", alpha, beta)
	}
	s := SPRT{
		LLRPerSuccess: math.Log1p(-p1) - math.Log1p(-p0),
		LLRPerFailure: math.Log(p1 / p0),
		LowerLLR:      math.Log(beta / (1 - alpha)),
		UpperLLR:      math.Log((1 - beta) / alpha),
	}
	g := s.LLRPerFailure - s.LLRPerSuccess
	s.H1, s.H2, s.Slope = -s.LowerLLR/g, s.UpperLLR/g, -s.LLRPerSuccess/g
	if !(s.H1 > 0 && s.H2 > 0 && s.Slope > 0 && s.Slope < 1 && finite(s.H1) && finite(s.H2)) {
		return SPRT{}, tooLarge(fn, "p0 and p1", "are too close together to compute with: %v and %v", p0, p1)
	}
	// ceil and floor with the tolerance of the boundary.
	first := func(x float64) float64 { return math.Max(1, math.Ceil(x-boundaryTie)) }
	zero, oneF := first(s.H1/s.Slope), first((1+s.H1)/s.Slope)
	all := first(s.H2 / (1 - s.Slope))
	if zero > maxCount || oneF > maxCount || all > maxCount {
		return SPRT{}, tooLarge(fn, "p0 and p1", "need more than %v trials: %v and %v", maxCount, p0, p1)
	}
	s.NAcceptZeroFailures, s.NAcceptOneFailure, s.MinRejectAllFailures = int(zero), int(oneF), int(all)
	var ok bool
	if s.AtP0, ok = s.risk(p0); ok {
		s.AtP1, ok = s.risk(p1)
	}
	if !ok {
		return SPRT{}, tooLarge(fn, "p0 and p1", "are too close together for the exact characteristics: %v and %v", p0, p1)
	}
	return s, nil
}

// Decide says what the test does after n trials with d failures: +1 accept,
// -1 reject, 0 go on.
func (s SPRT) Decide(d, n int) int {
	llr := float64(d)*s.LLRPerFailure + float64(n-d)*s.LLRPerSuccess
	switch {
	case llr <= s.LowerLLR+boundaryTie:
		return 1
	case llr >= s.UpperLLR-boundaryTie:
		return -1
	}
	return 0
}

// risk propagates the chances of the undecided states trial by trial until
// nothing that matters is undecided.
func (s SPRT) risk(p float64) (SPRTRisk, bool) {
	var r SPRTRisk
	lo := 0 // failures of alive[0]
	alive := []float64{1}
	work := 0
	for n := 0; len(alive) > 0; {
		left := 0.0
		for _, a := range alive {
			left += a
		}
		if left < 1e-17 {
			break
		}
		r.ASN += left
		n++
		if work += len(alive); work > 200_000_000 {
			return SPRTRisk{}, false
		}
		next := make([]float64, len(alive)+1)
		for i, a := range alive {
			next[i] += a * (1 - p)
			next[i+1] += a * p
		}
		start, end := 0, len(next)
		for i, a := range next {
			switch s.Decide(lo+i, n) {
			case 1:
				r.Accept += a
				start = i + 1
			case -1:
				r.Reject += a
				end = min(end, i)
			}
		}
		if start > end {
			end = start
		}
		alive = next[start:end]
		lo += start
	}
	return r, true
}

// SuccessRun is the smallest sample that shows a reliability.
type SuccessRun struct {
	N                   int     // trials
	ConfidenceAtN       float64 // 1 - P(at most the allowed failures) at N
	ConfidenceAtNMinus1 float64 // the same at N-1, below the confidence asked for
}

// SuccessRunSize returns the smallest number of trials which, with at most the
// allowed failures, shows the reliability with the confidence: the smallest n
// with P(Bin(n, 1-reliability) <= failures) <= 1-confidence. Both lie strictly
// between 0 and 1.
//
// Source: standard zero-failure and c-failure sampling; n = ln(1-C)/ln R
// rounded up for no failure.
func SuccessRunSize(reliability, confidence float64, failures int) (SuccessRun, error) {
	const fn = "SuccessRunSize"
	if !(reliability > 0 && reliability < 1) {
		return SuccessRun{}, bad(fn, "reliability", "must lie between 0 and 1, both excluded; it is %v", reliability)
	}
	if !(confidence > 0 && confidence < 1) {
		return SuccessRun{}, bad(fn, "confidence", "must lie between 0 and 1, both excluded; it is %v", confidence)
	}
	if failures < 0 || failures > 1_000_000 {
		return SuccessRun{}, bad(fn, "failures_allowed", "must lie between 0 and 1000000; it is %d", failures)
	}
	conf := func(n int) float64 {
		if n <= failures {
			return 0
		}
		if failures == 0 {
			return -math.Expm1(float64(n) * math.Log(reliability))
		}
		return 1 - binomialCDF(failures, n, 1-reliability)
	}
	// The tolerance lets 0.5 and 0.5 need one trial, not two.
	enough := func(n int) bool { return conf(n) >= confidence-1e-12 }
	hi := failures + 1
	for !enough(hi) {
		if hi > min(1<<40, math.MaxInt/2) { // int has 32 bits on small machines
			return SuccessRun{}, tooLarge(fn, "reliability", "%v needs too many trials", reliability)
		}
		hi *= 2
	}
	lo := failures // never enough
	for hi-lo > 1 {
		if mid := lo + (hi-lo)/2; enough(mid) {
			hi = mid
		} else {
			lo = mid
		}
	}
	return SuccessRun{N: hi, ConfidenceAtN: conf(hi), ConfidenceAtNMinus1: conf(hi - 1)}, nil
}
