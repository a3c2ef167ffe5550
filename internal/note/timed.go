package note

import (
	"strings"

	"firstcue/internal/training"
)

// timed gives the items of a line with a clock, or of one that follows it, their
// meaning: marks of the trial that is open.
type timed struct {
	where
	cur   *trial
	clock int64 // ms, of the first mark of a line without a cue; -1 = none
	ownLn bool  // the line has a cue of its own
}

// readClock reads a clock at the head of a line: ms, or -1 when there is none.
func (p *parser) readClock(l line, at int) (ms int64, rest int, ok bool) {
	end := numberEnd(l.text, at)
	s := string(l.text[at:end])
	if !strings.Contains(s, ":") || strings.Contains(s, "/") {
		return -1, at, true
	}
	good := true
	t := readNumber(s, func(pr Problem) {
		p.report(pr, l, at, end)
		good = false
	})
	if !good || t.kind != tTime {
		return 0, 0, false
	}
	ms = int64(t.v*1000 + 0.5)
	if ms, ok = p.wall(l, at, end, s, ms); !ok {
		return 0, 0, false
	}
	if ms < p.clock {
		p.problem(l, at, end, "clock-back", "w", s, "last", clockText(p.clock))
		return 0, 0, false
	}
	p.clock = ms
	for end < len(l.text) && l.text[end] == ' ' {
		end++
	}
	return ms, end, true
}

// wallSpan is how long after its start a session's time of day may lie.
const wallSpan = 4 * 3600 * 1000

// wall decides whether the clocks of a session are times of day. They are when
// the first is written as hours and minutes and lies soon after the start; one
// that lies soon before it fits neither reading.
func (p *parser) wall(l line, at, end int, s string, ms int64) (int64, bool) {
	start := p.ctx.start.Time
	day := strings.Count(s, ":") == 1 && !strings.ContainsAny(s, ".,") && ms < 24*3600*1000/60
	since := ms*60 - int64(start.Hour()*3600+start.Minute()*60)*1000
	if p.clock < 0 {
		free := start.IsZero() || p.ctx.source == training.Video || p.ctx.source == training.Live
		p.wallClock = !free && day && ms >= 60_000 && since >= 0 && since <= wallSpan
		if !free && day && ms >= 60_000 && since < 0 && since >= -3600*1000 {
			p.problem(l, at, end, "clock-which", "w", s, "start", start.Format("15:04"))
			return 0, false
		}
	}
	if !p.wallClock {
		return ms, true
	}
	if !day || since < 0 || since > wallSpan {
		p.problem(l, at, end, "clock-mixed", "w", s)
		return 0, false
	}
	return since, true
}

// openCue reads a clock's line with a cue. lead is early, already or unscored
// before the cue.
func (t *timed) openCue(clock int64, lead string) {
	p := t.p
	t.clock, t.ownLn = -1, true
	if lead != "" {
		p.endOpen(clock, true)
		c := t.newTrial(clock)
		c.askOpen, c.outcome = false, training.Outcome(lead)
		t.end(c)
		if len(t.items) > 0 && !t.bad {
			t.problem(t.items[0], "timed-nothing", "w", lead)
		}
		return
	}
	if c := p.again(t.cue, clock); c != nil {
		t.cur = c
	} else {
		p.endOpen(clock, t.cue.Kind == training.Response)
		t.cur = t.newTrial(clock)
		if t.cue.Kind == training.Motion {
			p.walk = t.cur
		} else {
			p.open = t.cur
		}
	}
	t.read()
	if c := t.cur; c != nil && c.cue.Kind == training.Motion && c.walked.Known {
		t.end(c)
	}
	t.spoiled()
}

// spoiled forgets a trial whose end would only be reported twice.
func (t *timed) spoiled() {
	if t.bad && t.cur != nil {
		t.cur.closed = true
		t.p.drop(t.cur)
	}
}

// drop forgets a timed trial that has ended.
func (p *parser) drop(t *trial) {
	if p.open == t {
		p.open = nil
	}
	if p.walk == t {
		p.walk = nil
	}
}

func (t *timed) newTrial(clock int64) *trial {
	c := t.p.newTrial(t.cue, t.l, t.from, t.to)
	c.timed, c.at, c.askOpen, c.askAt = true, clock, true, clock
	return c
}

// again finds the open timed trial that the same cue, given again, belongs to.
func (p *parser) again(cue training.Cue, clock int64) *trial {
	t := p.open
	if cue.Kind == training.Motion {
		t = p.walk
	}
	if t == nil || t.closed || t.outcome != "" || training.Key(t.cue.Name) != training.Key(cue.Name) {
		return nil
	}
	switch t.cue.Kind {
	case training.Motion:
		t.events = append(t.events, event{what: evAgain})
	case training.Holding:
		switch {
		case !t.has(evNo) && t.took >= 0:
			return nil // held until the next one
		case !t.has(evNo):
			t.events = append(t.events, event{what: evAgain})
			t.askAt = clock
		case t.last() == evNo && !t.askOpen:
			return nil
		default:
			if t.askOpen {
				t.events = append(t.events, event{what: evNo})
			}
			t.askOpen, t.askAt = true, clock
		}
	default:
		if !t.askOpen && t.last() == evNo {
			return nil // given up, and nothing done since: a new trial
		}
		if t.askOpen {
			t.events = append(t.events, t.unanswered(clock))
		}
		t.askOpen, t.askAt, t.begun = true, clock, -1
	}
	return t
}

// unanswered is the event of a timed ask to which no answer came by clock.
func (t *trial) unanswered(clock int64) event {
	if t.begun >= 0 {
		return event{what: evBegun, a: seconds(t.begun - t.askAt)}
	}
	return event{what: evNo, a: seconds(clock - t.askAt)}
}

// endOpen closes what another cue ends. A walk goes on while responses are asked
// for in it; a hold or walk without its release ends where the next cue begins.
func (p *parser) endOpen(clock int64, response bool) {
	if t := p.open; t != nil && t.cue.Kind == training.Holding && t.lacks() != "" {
		p.endsAt(t, clock, t.holdFrom())
		t.askOpen = false
		t.events = append(t.events, event{what: evReleased, a: seconds(clock - t.holdFrom())})
	}
	p.close(p.open, false)
	p.open = nil
	if response {
		return
	}
	if t := p.walk; t != nil && !t.walked.Known && clock > t.at {
		p.endsAt(t, clock, t.at)
		t.walked = seconds(clock - t.at)
	}
	p.close(p.walk, false)
	p.walk = nil
}

func (p *parser) endsAt(t *trial, clock, from int64) {
	p.warn(t.l, t.from, t.to, "timed-next", "cue", t.cue.Name, "t", span(seconds(clock-from).V), "at", clockText(clock))
}

// closeTimed closes what is still open on the clock.
func (p *parser) closeTimed() {
	p.close(p.open, false)
	p.close(p.walk, false)
	p.open, p.walk = nil, nil
}

func (t *timed) end(c *trial) {
	t.p.close(c, t.bad)
	t.cur = nil
	t.p.drop(c)
}

// read gives every item its meaning for the open trial.
func (t *timed) read() {
	for t.i = range t.items {
		it := t.items[t.i]
		c := t.cur
		if c == nil {
			if it.form != fNext {
				t.problem(it, "timed-ended")
				return
			}
			continue
		}
		switch it.form {
		case fNext:
			t.end(c)
		case fSignal:
			if c.bare() && len(c.events) == 0 {
				c.signal = training.Signal(it.name)
				continue
			}
			c.events = append(c.events, event{what: evSignal, s: it.name})
		case fDistance:
			if c.distance.Known {
				t.problem(it, "twice")
			}
			c.distance = it.at
		case fLength:
			t.length(it, c)
		case fTally:
			if !c.bare() || c.cue.Kind == training.Motion {
				t.problem(it, "tally-inside")
				continue
			}
			c.outcome, c.tally, c.askOpen = training.Counted, it.tally, false
		default:
			t.mark(it, c)
		}
	}
}

func (t *timed) length(it item, c *trial) {
	switch {
	case !t.ownLn:
		t.problem(it, "clock-second")
	case t.cue.Kind == training.Response:
		t.problem(it, "no-length")
	case t.cue.Kind == training.Motion && (it.at.V <= 0 || it.at.V > maxWalk):
		t.problem(it, "walk-long")
	case t.cue.Kind == training.Motion && c.bare():
		c.walked = it.at
	case t.cue.Kind == training.Motion:
		t.problem(it, "walk-inside")
	case it.at.V <= 0 || it.at.V > maxHold:
		t.problem(it, "hold-long")
	case !c.bare() && c.outcome == "":
		t.problem(it, "hold-inside")
	case c.target.Known:
		t.problem(it, "twice")
	default:
		c.target = it.at
	}
}
