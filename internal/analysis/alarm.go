package analysis

import (
	"fmt"

	"firstcue/internal/stats"
	"firstcue/internal/training"
)

// alarmOf watches the first-ask misses once the level gate has been open: a
// Bernoulli CUSUM whose steps know that misses of one sitting come together. It
// is held at the threshold, and is over when it is back at 0.
func (h *history) alarmOf(sits []cueSitting, nights []night) Alarm {
	a := Alarm{Threshold: h.c.AlarmAt}
	start := len(sits)
	for _, n := range nights {
		if n.open {
			start = n.end
			a.Watching = true
			break
		}
	}
	if h.kind == training.Motion || !a.Watching {
		a.Watching = false
		return a
	}
	cusum := stats.SessionCUSUM{P0: h.c.AlarmGood, P1: h.c.AlarmBad, ICC: h.c.ICC}
	if cusum.Check() != nil {
		a.Watching = false
		return a
	}
	misses, asks := 0, 0 // since the rise began
	for _, q := range sits[start:] {
		n, k := 0, 0
		step := func(e entry, miss bool) {
			before := a.Value
			a.Value = max(0, a.Value+cusum.Increment(n, k, miss))
			n++
			k += one(miss)
			if a.Value == 0 {
				a.On = false
				a.Since, a.SinceID, a.Handler, a.Place = 0, "", "", ""
				misses, asks = 0, 0
				return
			}
			if before == 0 {
				a.Since, a.SinceID = q.day, e.s.ID
				a.Handler, a.Place = h.sc.handlers[q.handler].name, h.sc.places[q.place].name
			}
			misses += one(miss)
			asks++
			if a.Value >= a.Threshold {
				a.Value, a.On = a.Threshold, true
			}
		}
		for _, e := range q.trials {
			yes, of := h.asked(*e.t)
			// A tally has no order: its misses are taken last.
			for i := range of {
				step(e, i >= yes)
			}
		}
	}
	if a.On {
		a.Say = fmt.Sprintf("Slipping since %s (%s, %s): %s in %s, more than a dog at %s shows. About once in 1,000 asks this is a false alarm.",
			dayWords(a.Since), a.Handler, a.Place, count(misses, "miss"), count(asks, "ask"), percent(1-h.c.AlarmGood))
	}
	return a
}

// coldOf takes the first trial of the cue in each of the last sessions. A tally
// has no first trial, and nor has a session whose first ask could not be scored.
func (h *history) coldOf(sits []cueSitting) Cold {
	var c Cold
	if h.kind == training.Motion {
		return c
	}
	var x, n []float64
	for i := len(sits) - 1; i >= 0 && c.Asked < h.c.ColdLast; i-- {
		// Sessions of the sitting, newest first.
		tr := sits[i].trials
		for end := len(tr); end > 0 && c.Asked < h.c.ColdLast; {
			begin := end - 1
			for begin > 0 && tr[begin-1].s == tr[end-1].s {
				begin--
			}
			if yes, of := h.first(tr[begin:end]); of == 1 {
				c.Asked++
				c.Missed += 1 - yes
				x = append(x, float64(yes))
				n = append(n, 1)
			}
			end = begin
		}
	}
	c.Share = newShare(x, n, h.c.ICC)
	c.Flag = c.Missed >= h.c.ColdMisses
	return c
}

// first scores the first ask of a session: 0 of 0 when there is none to score.
func (h *history) first(tr []entry) (yes, of int) {
	for _, e := range tr {
		switch e.t.Outcome {
		case training.Early, training.Already:
			continue // not an ask yet
		case training.Counted:
			return 0, 0
		}
		return h.asked(*e.t)
	}
	return 0, 0
}
