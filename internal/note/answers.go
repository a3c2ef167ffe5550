package note

import (
	"slices"

	"firstcue/internal/training"
)

// failed reports an ask that was not answered rightly.
func (t *trial) failed() bool { return t.has(evNo) || t.has(evWrong) || t.has(evBegun) }

// answer reads yes, no and wrong. Words are a trial each, unless again, a
// correction or help stands between; signs behind a miss belong to its trial.
func (u *untimed) answer(it item) {
	u.words, u.signs = u.words || it.said, u.signs || !it.said
	if u.words && u.signs {
		if !u.clashed {
			u.problem(it, "mixed")
		}
		u.clashed = true
		return
	}
	for range it.n {
		if it.said && u.cue.Kind != training.Motion && u.cur != nil && u.cur.failed() && !u.linked {
			u.end()
		}
		u.linked = false
		switch it.form {
		case fYes:
			u.yes(it)
		case fNo:
			u.no(it)
		case fWrong:
			u.wrong(it)
		}
		if u.bad {
			break
		}
	}
	if it.n == 0 && u.cue.Kind == training.Motion {
		u.trial(it)
	}
	u.makers++
}

func (u *untimed) yes(it item) {
	if it.begun {
		if u.cue.Kind != training.Response || !it.at.Known || it.n > 1 {
			u.problem(it, "begun")
		} else if u.latency(it, it.at, maxLatency) {
			t := u.trial(it)
			t.events = append(t.events, event{what: evBegun, a: it.at})
		}
		return
	}
	t := u.trial(it)
	switch u.cue.Kind {
	case training.Motion:
		if it.arrow || it.at.Known {
			u.problem(it, "walk-latency")
			return
		}
		t.events = append(t.events, event{what: evYes})
		u.end()
	case training.Holding:
		if e, ok := u.holdYes(t, it); ok {
			t.events = append(t.events, e)
			if e.what == evYes {
				u.end()
			}
		}
	default:
		if u.times(it, t) {
			t.events = append(t.events, event{what: evYes, a: it.at, b: it.done})
			u.end()
		}
	}
}

// times checks the times of an answer, and warns of slow ones.
func (w *where) times(it item, t *trial) bool {
	switch {
	case it.arrow && !it.done.Known:
		w.problem(it, "after-arrow")
		return false
	case !w.latency(it, it.at, maxLatency) || !w.latency(it, it.done, maxComplete):
		return false
	case it.at.Known && it.done.Known && it.done.V < it.at.V:
		w.problem(it, "ended-before", "a", number(it.at.V), "b", number(it.done.V))
		return false
	case it.at.Known && it.at.V > slowLatency:
		w.p.warn(w.l, it.from, it.to, "slow", "n", number(it.at.V))
	case it.at.Known && t.bare() && w.p.o.Limit != nil:
		if limit := w.p.o.Limit(w.p.ctx.dog.Name, w.cue.Name); limit.Known && it.at.V > limit.V {
			w.p.warn(w.l, it.from, it.to, "over-limit", "n", number(it.at.V), "cue", w.cue.Name, "limit", number(limit.V))
		}
	}
	return true
}

// holdYes is what a yes says of a hold: the position taken, or held to the end.
func (w *where) holdYes(t *trial, it item) (event, bool) {
	switch {
	case it.at.Known && !it.arrow:
		w.problem(it, "held-or-taken", "n", span(it.at.V), "s", number(it.at.V))
	case it.arrow && !it.at.Known && !it.done.Known:
		w.problem(it, "beside-arrow")
	case it.arrow && (t.has(evTook) || t.has(evNo) || t.took >= 0):
		w.problem(it, "taken-twice")
	case it.arrow && (!w.latency(it, it.at, maxLatency) || !w.latency(it, it.done, maxComplete)):
	case it.at.Known && it.done.Known && it.done.V < it.at.V:
		w.problem(it, "ended-before", "a", number(it.at.V), "b", number(it.done.V))
	case it.arrow:
		return event{what: evTook, a: it.at, b: it.done}, true
	default:
		return event{what: evYes}, true
	}
	return event{}, false
}

func (u *untimed) no(it item) {
	if it.long {
		u.p.warn(u.l, it.from, it.to, "long-dash")
	}
	if !u.noAt(it) {
		return
	}
	if u.i > 0 && it.at.Known && !it.said { // + -1.2
		if prev := u.items[u.i-1]; prev.form == fYes && !prev.said && !prev.at.Known && !prev.arrow && !prev.counted {
			u.p.warn(u.l, prev.from, it.to, "read-two", "w", string(u.l.text[prev.from:it.to]), "n", number(it.at.V))
		}
	}
	t := u.trial(it)
	if it.n > 1 && t.many == nil && !it.said {
		t.many = &it
	}
	t.events = append(t.events, event{what: evNo, a: it.at, s: it.name})
}

// noAt checks the time of a miss or break.
func (w *where) noAt(it item) bool {
	switch {
	case it.text == "broke" && w.cue.Kind == training.Response:
		w.problem(it, "not-hold")
		return false
	case w.cue.Kind == training.Motion && it.at.Known:
		w.problem(it, "walk-break-at")
		return false
	case w.cue.Kind == training.Holding && it.at.Known && it.at.V > maxHold:
		w.problem(it, "hold-long", "w", span(it.at.V))
		return false
	case w.cue.Kind == training.Response:
		return w.latency(it, it.at, maxComplete)
	}
	return true
}

func (u *untimed) wrong(it item) {
	switch {
	case u.cue.Kind == training.Motion:
		u.problem(it, "walk-wrong")
	case u.latency(it, it.at, maxComplete):
		t := u.trial(it)
		t.events = append(t.events, event{what: evWrong, s: it.name, a: it.at})
	}
}

func (u *untimed) released(it item) {
	switch u.cue.Kind {
	case training.Response:
		u.problem(it, "not-hold")
		return
	case training.Motion:
		if it.at.Known {
			u.problem(it, "walk-released")
			return
		}
		u.trial(it)
		u.end()
		return
	}
	t := u.trial(it)
	e := event{what: evReleased, a: it.at}
	switch {
	case it.at.Known && (it.at.V <= 0 || it.at.V > maxHold):
		u.problem(it, "hold-long", "w", span(it.at.V))
		return
	case t.has(evNo) && it.at.Known:
		u.problem(it, "hold-broken")
		return
	case t.has(evNo):
		e = event{what: evYes}
	}
	t.events = append(t.events, e)
	u.makers++
	u.end()
}

// endsWith is the last answer of the items, fNext if there is none.
func endsWith(items []item) form {
	for _, it := range slices.Backward(items) {
		switch it.form {
		case fYes, fNo, fWrong:
			return it.form
		case fReleased, fTally:
			return fYes
		}
	}
	return fNext
}
