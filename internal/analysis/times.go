package analysis

import (
	"slices"

	"firstcue/internal/stats"
	"firstcue/internal/training"
)

// times is what a Kaplan-Meier curve is made from.
type times struct {
	t       []float64
	event   []bool
	untimed int
	// unanswered counts first asks that went unanswered and cannot enter.
	unanswered int
}

func newTimes(sits []cueSitting) times {
	n := 0
	for i := range sits {
		n += len(sits[i].trials)
	}
	return times{t: make([]float64, 0, n), event: make([]bool, 0, n)}
}

func (x *times) add(t float64, event bool) {
	if !(t >= 0 && t < 1e7) { // no number, or no time
		x.untimed++
		return
	}
	x.t = append(x.t, t)
	x.event = append(x.event, event)
}

func (x times) seen() int {
	n := 0
	for _, e := range x.event {
		n += one(e)
	}
	return n
}

func (x times) curve() *stats.Survival {
	if len(x.t) == 0 {
		return nil
	}
	return must(stats.KaplanMeier(x.t, x.event))
}

// summary gives the median with the midpoint convention (as R prints it) and
// its Brookmeyer-Crowley limits. Unknown = not reached.
func (x times) summary() Survival {
	s := Survival{Seen: x.seen(), Untimed: x.untimed, Unanswered: x.unanswered}
	s.Censored = len(x.t) - s.Seen
	k := x.curve()
	if k == nil {
		return s
	}
	_, mid := k.Median()
	lo, hi, err := k.MedianLimits(0.95)
	if err != nil {
		panic("analysis: " + err.Error())
	}
	s.Median, s.Low, s.High = num(mid), num(lo), num(hi)
	return s
}

// latencies takes the time to answer the first ask of each trial. An answer to
// the first ask, unaided, is an event at its latency, late or not. An ask that
// was repeated, helped, corrected or given up was not answered as long as it
// stood: censored at Waited or, as all that "-" says is that no answer came
// inside the limit, at the limit; never averaged in as a ceiling.
//
// Answers without a time cannot enter, and then neither can the unanswered asks
// of the same sitting at the limit: they alone would make the dog look slow.
// They are counted as unanswered.
func (h *history) latencies(sits []cueSitting) times {
	x := newTimes(sits)
	for _, q := range sits {
		timed, untimed := false, false
		for _, e := range q.trials {
			if e.t.Outcome == training.Answered && unaided(*e.t) {
				timed = timed || e.t.Latency.Known
				untimed = untimed || !e.t.Latency.Known
			}
		}
		for _, e := range q.trials {
			t := e.t
			switch {
			case t.Outcome == training.Counted:
				x.untimed += t.Tally.Of
			case t.Outcome != training.Answered && t.Outcome != training.Refused:
			case t.Outcome == training.Answered && unaided(*t):
				if t.Latency.Known {
					x.add(t.Latency.V, true)
				} else {
					x.untimed++
				}
			case t.Waited.Known:
				x.add(t.Waited.V, false)
			case h.c.Limit.Known && (timed || !untimed):
				x.add(h.c.Limit.V, false)
			default:
				x.unanswered++
			}
		}
	}
	return x
}

// completions takes the time to the end of the answer in the same way. An ask
// that was begun and not completed is censored like one not answered. It
// reports false when no completion was ever timed.
func (h *history) completions(sits []cueSitting) (times, bool) {
	var x times
	any := false
	limit := h.c.Arrive
	if !limit.Known {
		limit = h.c.Limit
	}
	for _, q := range sits {
		for _, e := range q.trials {
			t := e.t
			switch {
			case t.Outcome == training.Counted:
				x.untimed += t.Tally.Of
			case t.Outcome != training.Answered && t.Outcome != training.Refused:
			case t.Outcome == training.Answered && unaided(*t):
				if t.Completion.Known {
					any = true
					x.add(t.Completion.V, true)
				} else {
					x.untimed++
				}
			case t.Waited.Known:
				x.add(t.Waited.V, false)
			case limit.Known:
				x.add(limit.V, false)
			default:
				x.unanswered++
			}
		}
	}
	return x, any
}

// holds takes how long each hold was kept: a break is an event, the end of a
// kept hold or an early release is censored. Without a time of its own a kept
// hold lasted its target.
func holds(sits []cueSitting) times {
	x := newTimes(sits)
	for _, q := range sits {
		for _, e := range q.trials {
			t := e.t
			switch t.Outcome {
			case training.Held:
				switch {
				case t.Held.Known:
					x.add(t.Held.V, false)
				case t.Target.Known:
					x.add(t.Target.V, false)
				default:
					x.untimed++
				}
			case training.Broke, training.Released:
				if t.Held.Known {
					x.add(t.Held.V, t.Outcome == training.Broke)
				} else {
					x.untimed++
				}
			case training.Counted:
				x.untimed += t.Tally.Of
			}
		}
	}
	return x
}

// The speed gate looks at the newest recentSittings sittings with
// times, and further back until there are recentTimes of them: it is about the dog of
// today and not of its first lesson.
const (
	recentSittings = 8
	recentTimes    = 20
)

// recent returns those sittings; timed counts the times in one.
func recent(sits []cueSitting, timed func(cueSitting) int) []cueSitting {
	k, n := 0, 0
	for i := len(sits) - 1; i >= 0; i-- {
		m := timed(sits[i])
		if m == 0 {
			continue
		}
		k++
		n += m
		if k >= recentSittings && n >= recentTimes {
			return sits[i:]
		}
	}
	return sits
}

func timedAnswers(q cueSitting) int {
	n := 0
	for _, e := range q.trials {
		n += one(e.t.Outcome == training.Answered && e.t.Latency.Known || e.t.Waited.Known)
	}
	return n
}

// doubling is the sign of a health problem: the median of a sitting is more
// than twice the dog's own baseline.
type doubling struct {
	baseline, last training.Num
	doubled        bool
	on             training.Day
}

// doublingOf walks the sittings with at least three timed answers to a first
// ask. The baseline needs two earlier sittings; it is the median of the
// medians of the last eight earlier ones that were not slow themselves (the lower of
// the two middle ones, so that a dog already slowing does not hide it). A median that was not reached
// counts as slow when the curve is still above one half at twice the baseline.
func (h *history) doublingOf(sits []cueSitting) doubling {
	const atLeast, back = 3, 8
	var d doubling
	var past []float64
	var buf [back]float64
	for i := range sits {
		x := h.latencies(sits[i : i+1])
		if x.seen() < atLeast {
			continue
		}
		k := x.curve()
		_, med := k.Median()
		d.last = num(med)
		slow := false
		d.baseline = training.Num{}
		if n := len(past); n > 0 {
			m := copy(buf[:], past[max(0, n-back):])
			slices.Sort(buf[:m])
			base := buf[(m-1)/2]
			d.baseline = training.Known(base)
			if n < 2 {
				// One sitting is no baseline: the second may only be the ordinary one.
			} else if med.OK {
				slow = med.V > 2*base
			} else if at, err := k.At(2*base, 0.95); err == nil && at.Surv.OK {
				slow = at.Surv.V > 0.5
			}
		}
		if slow && !d.doubled {
			d.on = sits[i].day
		}
		d.doubled = slow
		if !slow && med.OK {
			past = append(past, med.V)
		}
	}
	return d
}

// holdOf sums up how long holds were kept. The chance of keeping the target is that
// of the Kaplan-Meier curve with Wilson limits at the effective number of holds.
func (h *history) holdOf() *Hold {
	x := holds(h.sits)
	out := &Hold{Survival: x.summary(), Target: h.c.Target}
	for _, t := range x.t {
		out.Longest = training.Known(max(out.Longest.V, t))
	}
	for _, q := range h.sits {
		out.Shorter.add(q.shorter)
		out.Shorter.Sessions += one(q.shorter.Asks > 0)
	}
	if k := x.curve(); k != nil && h.c.Target.Known && h.c.Target.V > 0 {
		at := must(k.At(h.c.Target.V, 0.95))
		out.Chance, out.ChanceLow, out.ChanceHigh = num(at.Surv), num(at.WilsonLower), num(at.WilsonUpper)
	}
	return out
}
