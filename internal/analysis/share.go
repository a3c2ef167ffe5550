package analysis

import (
	"math"

	"firstcue/internal/stats"
	"firstcue/internal/training"
)

// newShare summarises answered of asked by sitting with 95 % Wilson intervals, plain
// and on effective asks. The intra-session correlation is the dog's own, blended
// with the prior that counts as ten sittings, and never makes asks worth more than
// one each.
func newShare(yes, of []float64, prior float64) Share {
	var s Share
	var x, n, sq float64
	for i := range of {
		if of[i] <= 0 {
			continue
		}
		s.Sessions++
		x += yes[i]
		n += of[i]
		sq += of[i] * of[i]
	}
	s.Answered, s.Asks = int(x), int(n)
	if n == 0 {
		return s
	}
	s.Rate = training.Known(x / n)
	iv := must(stats.Wilson(x, n, 0.95))
	s.PlainLow, s.PlainHigh = training.Known(iv.Lower), training.Known(iv.Upper)
	icc, _, err := stats.ShrunkICC(yes, of, prior, stats.DefaultICCSessions)
	if err != nil || s.Sessions == 1 {
		icc = prior
	}
	deff := math.Max(1, 1+(sq/n-1)*icc)
	iv = must(stats.Wilson(math.Min(x/deff, n/deff), n/deff, 0.95))
	s.Low, s.High, s.Effective = training.Known(iv.Lower), training.Known(iv.Upper), training.Known(n/deff)
	return s
}

// share summarises sittings.
func (h *history) share(sits []cueSitting) Share {
	x, n := make([]float64, len(sits)), make([]float64, len(sits))
	for i, q := range sits {
		x[i], n[i] = float64(q.Answered), float64(q.Asks)
	}
	return newShare(x, n, h.c.Likeness)
}

// fieldLimit is the cut-off of a field study for "obeys after the first command":
// 10 s (China, Mills & Cooper 2020).
const fieldLimit = 10

// others counts the same asks under other rules where that can differ.
func (h *history) others(of Share) []RuleShare {
	if h.kind != training.Response {
		return nil
	}
	var out []RuleShare
	for _, rule := range []Rule{{Limit: training.Known(fieldLimit)}, {Limit: h.c.Limit, Begun: true}} {
		r := RuleShare{Rule: rule}
		for _, q := range h.sits {
			for _, e := range q.trials {
				if !h.foreign(*e.t) {
					yes, n := FirstCueUnder(*e.t, rule)
					r.Answered += yes
					r.Asks += n
				}
			}
		}
		if r.Asks > 0 && r.Answered != of.Answered {
			r.Rate = training.Known(float64(r.Answered) / float64(r.Asks))
			out = append(out, r)
		}
	}
	return out
}

// breaksOf sums up walks with the exact (Garwood) interval.
func breaksOf(t Tally) *Breaks {
	b := &Breaks{Count: t.Breaks, Minutes: t.Minutes}
	if b.Minutes > 0 {
		r := must(stats.Garwood(float64(b.Count), b.Minutes, 0.95))
		b.PerMinute, b.Low, b.High = training.Known(r.Rate), training.Known(r.Lower), training.Known(r.Upper)
	}
	return b
}

// before is the first asks of the sessions held before any teaching, of this stay
// where there was an earlier one; nil = none.
func (h *history) before() *Share {
	sc := h.sc
	var first training.Day
	stay, known := sc.rec.Dog.Boarding(sc.day)
	for _, b := range sc.rec.Dog.Boardings {
		if known && b.Arrived < stay.Arrived {
			first = stay.Arrived
		}
	}
	var x, n []float64
	for _, s := range sc.ordered() {
		if !s.Baseline || s.Day() < first || sc.heldOn(s.Day(), h.cue) {
			continue
		}
		var t Tally
		for _, r := range s.Trials {
			if sc.cueName(r.Cue) == h.cue {
				t.add(h.tally(r))
			}
		}
		x, n = append(x, float64(t.Answered)), append(n, float64(t.Asks))
	}
	if s := newShare(x, n, h.c.Likeness); s.Asks > 0 {
		return &s
	}
	return nil
}
