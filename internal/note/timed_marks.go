package note

import "firstcue/internal/training"

func (t *timed) mark(it item, c *trial) {
	if c.outcome != "" && it.form != fCorrect && it.form != fHelp {
		t.problem(it, "timed-ended")
		return
	}
	if t.clock >= 0 && (it.at.Known || it.done.Known) {
		t.problem(it, "clock-number")
		return
	}
	switch it.form {
	case fYes:
		t.yes(it, c)
	case fNo, fWrong:
		t.no(it, c)
	case fCorrect, fHelp:
		t.checkFix(it)
		it.fix.Device = t.p.deviceFor(it.fix)
		for range it.n {
			if it.form == fHelp {
				c.events = append(c.events, event{what: evHelp, s: it.name})
			} else {
				c.events = append(c.events, event{what: evCorrect, c: it.fix})
			}
		}
	case fApart:
		if !c.bare() || it.name == "early" && !t.ownLn || it.n > 1 {
			t.problem(it, "timed-apart")
			return
		}
		c.askOpen, c.outcome = false, training.Outcome(it.name)
		t.end(c)
	case fAgain:
		switch {
		case t.clock >= 0:
			t.problem(it, "timed-again")
		case c.cue.Kind == training.Response || c.has(evNo):
			c.events = append(c.events, event{what: evNo})
			c.askOpen = false
		default:
			c.events = append(c.events, event{what: evAgain})
		}
	case fReleased:
		t.released(it, c)
	case fStart:
		switch {
		case t.clock < 0:
			t.problem(it, "start-clock")
		case !c.askOpen || c.cue.Kind == training.Motion:
			t.problem(it, "timed-start")
		default:
			c.begun = t.clock
			t.clock = -1
		}
	}
}

func (t *timed) yes(it item, c *trial) {
	switch {
	case it.n > 1:
		t.problem(it, "timed-ended")
	case it.begun && (c.cue.Kind != training.Response || !it.at.Known):
		t.problem(it, "begun")
	case it.begun:
		if t.latency(it, it.at, maxLatency) {
			c.askOpen = false
			c.events = append(c.events, event{what: evBegun, a: it.at})
		}
	case c.cue.Kind == training.Motion:
		t.problem(it, "timed-yes")
	case c.cue.Kind == training.Holding:
		t.yesHold(it, c)
	default:
		if t.clock >= 0 && c.askOpen && !t.p.wallClock {
			v := seconds(t.clock - c.askAt)
			it.at = v
			if c.begun >= 0 {
				it.at, it.done, it.arrow = seconds(c.begun-c.askAt), v, true
			}
		}
		t.clock = -1
		if t.times(it, c) {
			c.askOpen = false
			c.events = append(c.events, event{what: evYes, a: it.at, b: it.done})
			t.end(c)
		}
	}
}

func (t *timed) yesHold(it item, c *trial) {
	e, ok := t.holdYes(c, it)
	switch {
	case !ok:
	case e.what == evTook:
		c.events = append(c.events, e)
	case c.has(evNo):
		c.askOpen, t.clock = false, -1
		c.events = append(c.events, e)
	case c.took >= 0: // a second + is the end of the hold
		it.form = fReleased
		t.released(it, c)
	case t.clock >= 0:
		e = event{what: evTook, a: seconds(t.clock - c.askAt)}
		if c.begun >= 0 {
			e.a, e.b = seconds(c.begun-c.askAt), e.a
		}
		if t.latency(it, e.a, maxLatency) && t.latency(it, e.b, maxComplete) {
			c.took, t.clock = t.clock, -1
			if !t.p.wallClock {
				c.events = append(c.events, e)
			}
		}
	}
}

// holdFrom is the clock from which a timed hold counts.
func (c *trial) holdFrom() int64 {
	switch {
	case c.took >= 0:
		return c.took
	case c.begun >= 0:
		return c.begun
	}
	return c.askAt
}

func (t *timed) no(it item, c *trial) {
	if it.form == fWrong && c.cue.Kind == training.Motion {
		t.problem(it, "walk-wrong")
		return
	}
	if !t.noAt(it) {
		return
	}
	if it.long {
		t.p.warn(t.l, it.from, it.to, "long-dash")
	}
	e := event{what: evNo, a: it.at, s: it.name}
	if it.form == fWrong {
		e.what = evWrong
	}
	switch {
	case t.clock < 0 || t.p.wallClock && c.cue.Kind != training.Holding:
	case c.cue.Kind == training.Holding && it.form == fNo && !c.has(evNo):
		e.a = seconds(t.clock - c.holdFrom())
	case c.cue.Kind == training.Response && c.askOpen && it.form == fNo:
		e = c.unanswered(t.clock)
	case c.cue.Kind == training.Response && c.askOpen:
		e.a = seconds(t.clock - c.askAt)
	}
	t.clock = -1
	if c.cue.Kind != training.Motion {
		c.askOpen = false
	}
	if it.n > 1 && it.form == fNo && c.many == nil {
		c.many = &it
	}
	for range it.n {
		c.events = append(c.events, e)
		e = event{what: e.what, s: e.s}
		if e.what == evBegun {
			e.what = evNo
		}
	}
}

func (t *timed) released(it item, c *trial) {
	p := t.p
	if c.cue.Kind == training.Response {
		if p.walk == nil || t.clock < 0 {
			t.problem(it, "not-hold")
			return
		}
		// The walk ends, and with it what was asked for in it.
		p.close(c, t.bad)
		p.drop(c)
		c, t.cur, t.cue = p.walk, p.walk, p.walk.cue
	}
	if c.cue.Kind == training.Motion {
		switch {
		case it.at.Known:
			t.problem(it, "walk-released")
		case t.clock < 0:
			t.problem(it, "timed-release")
		default:
			c.walked = seconds(t.clock - c.at)
			t.clock = -1
			if c.walked.V <= 0 || c.walked.V > maxWalk {
				t.problem(it, "walk-long", "w", span(c.walked.V))
				return
			}
			t.end(c)
		}
		return
	}
	e := event{what: evReleased, a: it.at}
	switch {
	case it.at.Known && (it.at.V <= 0 || it.at.V > maxHold):
		t.problem(it, "hold-long", "w", span(it.at.V))
		return
	case c.has(evNo) && it.at.Known:
		t.problem(it, "hold-broken")
		return
	case c.has(evNo):
		if c.askOpen {
			c.events = append(c.events, event{what: evYes})
		}
		c.askOpen, t.clock = false, -1
		t.end(c)
		return
	case !it.at.Known && t.clock < 0:
		t.problem(it, "timed-release")
		return
	case !it.at.Known:
		e.a = seconds(t.clock - c.holdFrom())
		t.clock = -1
	}
	c.askOpen = false
	c.events = append(c.events, e)
	t.end(c)
}
