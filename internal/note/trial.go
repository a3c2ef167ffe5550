package note

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"firstcue/internal/training"
)

// what an event of a trial is.
type what int

const (
	evNo       what = iota // ask not answered; position broken. a = after how long, s = direction
	evWrong                // something else done: name in s. a = after how long
	evYes                  // answered: a latency, b completion; hold: kept to the target
	evBegun                // a response begun after a, not completed
	evTook                 // hold: position taken: a latency, b completion
	evAgain                // hold, walk: cue given again
	evAsked                // response, or a broken hold: cue given again, not answered yet
	evReleased             // hold: ended by the handler after a
	evCorrect              // correction: c
	evHelp                 // prompt: s
	evSignal               // the asks that follow are given by signal s
)

type event struct {
	what what
	a, b training.Num
	s    string
	c    training.Correction
}

// trial is a trial being read.
type trial struct {
	cue      training.Cue
	outcome  training.Outcome // early, already, unscored, counted; "" = from events
	tally    training.Tally
	signal   training.Signal
	distance training.Num
	target   training.Num
	walked   training.Num
	events   []event
	many     *item // an N- with N > 1, for its warning

	timed   bool
	at      int64 // ms
	askOpen bool  // timed: the cue has been given and not been dealt with
	askAt   int64
	begun   int64 // timed: start of response, -1 = not said
	took    int64 // timed hold: position taken, -1 = not said
	closed  bool

	l    line
	from int
	to   int
	late bool // opened by a mark after the first trial of its line
	out  training.Trial
}

func (t *trial) last() what {
	for i := len(t.events) - 1; i >= 0; i-- {
		if t.events[i].what != evSignal {
			return t.events[i].what
		}
	}
	return -1
}

func (t *trial) has(w what) bool {
	return slices.ContainsFunc(t.events, func(e event) bool { return e.what == w })
}

// bare reports a trial of which nothing but its cue is known.
func (t *trial) bare() bool {
	return t.outcome == "" && !slices.ContainsFunc(t.events, func(e event) bool { return e.what != evSignal })
}

// newTrial opens a trial of cue with the session's checks.
func (p *parser) newTrial(cue training.Cue, l line, from, to int) *trial {
	t := &trial{cue: cue, l: l, from: from, to: to, begun: -1, took: -1}
	if t.cue.Kind == "" {
		t.cue.Kind = training.Response
	}
	p.complete(l, from, to)
	p.checkHold(cue, l, from, to)
	p.trials = append(p.trials, t)
	if p.made++; p.made == maxTrials+1 {
		p.problem(l, from, to, "many-trials", "n", strconv.Itoa(maxTrials))
	}
	return t
}

// checkHold reports a trial inside a vet hold, once for a line.
func (p *parser) checkHold(cue training.Cue, l line, from, to int) {
	c := p.ctx
	if c.start.Time.IsZero() {
		return
	}
	id := fmt.Sprint(l.no, cue.Name)
	if p.held[id] {
		return
	}
	p.held[id] = true
	day := training.DayOf(c.start.Time)
	for _, h := range c.dog.Holds {
		if !h.Covers(day, cue.Name) {
			continue
		}
		what := c.dog.Name
		if len(h.Cues) > 0 {
			what += "'s " + cue.Name
		}
		with := []string{"what", what, "day", day.String(), "hold", holdText(h)}
		if p.o.DespiteHold {
			p.warn(l, from, to, "vet-hold-kept", with...)
			return
		}
		p.problem(l, from, to, "vet-hold", with...)
		return
	}
}

// close ends a trial as it stands. It reports one that says nothing, unless
// quiet: then something on its line is already reported.
func (p *parser) close(t *trial, quiet bool) {
	if t == nil || t.closed {
		return
	}
	t.closed = true
	if t.askOpen && t.outcome == "" && (t.cue.Kind == training.Response || t.has(evNo) && t.cue.Kind == training.Holding) {
		e := event{what: evNo}
		if t.begun >= 0 && t.cue.Kind == training.Response {
			e = event{what: evBegun, a: seconds(t.begun - t.askAt)}
		}
		t.events = append(t.events, e)
	}
	t.settleAsked()
	if c := t.lacks(); c != "" {
		switch {
		case quiet:
		case t.late && t.cue.Kind == training.Motion:
			p.problem(t.l, t.from, t.to, "late-walk", "w", string(t.l.text[t.from:t.to]), "cue", t.cue.Name)
		case t.late:
			p.problem(t.l, t.from, t.to, "late", "w", string(t.l.text[t.from:t.to]), "cue", t.cue.Name)
		default:
			p.problem(t.l, t.from, t.to, c, "cue", t.cue.Name)
		}
		return
	}
	if t.many != nil && !t.has(evYes) && t.cue.Kind != training.Motion {
		n := strconv.Itoa(t.many.n)
		p.warn(t.l, t.many.from, t.many.to, "many-no", "n", n, "times", times(t.many.n), "list", "-"+strings.Repeat(", -", min(t.many.n-1, 4)))
	}
	t.finish(p)
	if h := t.out; h.Outcome == training.Broke && h.Target.Known && h.Held.Known && h.Held.V > h.Target.V {
		p.warn(t.l, t.from, t.to, "over-hold", "cue", h.Cue, "t", span(h.Held.V), "target", span(h.Target.V))
	}
}

// finish works out what the trial says.
func (t *trial) finish(p *parser) {
	t.out = t.result()
	t.out.Line = t.l.no - p.first + 1
	t.out.Marks = t.marks()
}

// settleAsked makes an ask that nothing answered a miss, and drops one that the
// next answer stands for.
func (t *trial) settleAsked() {
	var out []event
	for i, e := range t.events {
		if e.what == evAsked {
			answered := slices.ContainsFunc(t.events[i+1:], func(e event) bool { return e.what <= evBegun || e.what == evReleased })
			if answered {
				continue
			}
			e = event{what: evNo}
		}
		out = append(out, e)
	}
	t.events = out
}

func times(n int) string {
	if n == 2 {
		return "twice"
	}
	return strconv.Itoa(n) + " times"
}

// lacks says what is missing before the trial says anything, "" if nothing is.
func (t *trial) lacks() code {
	switch {
	case t.outcome != "":
	case t.cue.Kind == training.Motion && !t.walked.Known:
		if t.timed {
			return "timed-walk"
		}
		return "walk-none"
	case t.cue.Kind == training.Motion:
	case t.cue.Kind == training.Holding && !t.has(evNo) && !t.has(evYes) && !t.has(evReleased) && !t.has(evWrong):
		if t.timed {
			return "timed-hold"
		}
		return "hold-none"
	case t.cue.Kind == training.Response && !t.has(evNo) && !t.has(evYes) && !t.has(evBegun) && !t.has(evWrong):
		return "answer-none"
	}
	return ""
}

// result works the trial out from its events.
func (t *trial) result() training.Trial {
	r := training.Trial{Cue: t.cue.Name, Kind: t.cue.Kind, Signal: t.firstSignal(), Distance: t.distance, Tally: t.tally}
	if t.timed {
		r.At = training.Known(float64(t.at) / 1000)
	}
	if t.cue.Kind == training.Holding {
		r.Target = t.target
	}
	if t.outcome == training.Already || t.outcome == training.Unscored {
		r.Asks = 1
	}
	for i, e := range t.events {
		switch e.what {
		case evCorrect:
			e.c.Served = t.served(i)
			r.Corrections = append(r.Corrections, e.c)
		case evHelp:
			r.Prompts = append(r.Prompts, e.s)
		case evWrong:
			if r.Did == "" {
				r.Did = e.s
			}
		}
	}
	switch {
	case t.outcome != "":
		r.Outcome = t.outcome
	case t.cue.Kind == training.Motion:
		t.motion(&r)
	case t.cue.Kind == training.Holding:
		t.holding(&r)
	default:
		t.response(&r)
	}
	return r
}

func (t *trial) response(r *training.Trial) {
	r.Outcome = training.Refused
	for _, e := range t.events {
		switch e.what {
		case evNo, evWrong, evBegun:
			r.Asks++
			if r.Asks == 1 && e.what == evBegun {
				r.Begun = e.a
			} else if r.Asks == 1 {
				r.Waited = e.a
			}
		case evYes:
			r.Asks++
			r.Outcome, r.Latency, r.Completion = training.Answered, e.a, e.b
		}
	}
}

func (t *trial) holding(r *training.Trial) {
	r.Asks = 1
	failed, over := false, false
	for _, e := range t.events {
		switch e.what {
		case evAgain:
			r.Asks++
			continue
		case evTook:
			r.Latency, r.Completion = e.a, e.b
			continue
		case evNo, evWrong, evYes, evReleased:
		default:
			continue
		}
		if failed {
			r.Asks++
			failed = false
		}
		switch e.what {
		case evNo:
			failed = true
			if r.Outcome != training.Broke {
				r.Outcome, r.Held, r.Breaks, over = training.Broke, e.a, 1, true
			}
		case evWrong:
			failed = true
		case evYes:
			if !over {
				r.Outcome, r.Held, over = training.Held, t.target, true
			}
		case evReleased:
			if !over {
				r.Outcome, r.Held, over = training.Held, e.a, true
				if !e.a.Known {
					r.Held = t.target
				} else if t.target.Known && e.a.V < t.target.V {
					r.Outcome = training.Released
				}
			}
		}
	}
	if r.Outcome == "" { // nothing but something else done
		r.Outcome, r.Breaks = training.Broke, 1
	}
}

func (t *trial) motion(r *training.Trial) {
	r.Outcome, r.Asks, r.Walked = training.Walked, 1, t.walked
	for _, e := range t.events {
		switch e.what {
		case evNo:
			r.Breaks++
			if e.s != "" {
				r.Strayed = append(r.Strayed, e.s)
			}
		case evAgain:
			r.Asks++
		}
	}
}

// served reports whether the correction at i led to what was asked: in a
// response, that the next ask was answered; in a hold or walk, that the
// position was taken again, which a walk shows by going on.
func (t *trial) served(i int) bool {
	for _, e := range t.events[i+1:] {
		switch e.what {
		case evYes, evTook, evReleased:
			return true
		case evNo, evWrong, evBegun:
			return false
		case evCorrect:
			if t.cue.Kind == training.Motion {
				return false
			}
		}
	}
	return t.cue.Kind == training.Motion
}

// firstSignal is the signal of the first ask.
func (t *trial) firstSignal() training.Signal {
	s := t.signal
	for _, e := range t.events {
		if e.what == evSignal {
			s = training.Signal(e.s)
			continue
		}
		if e.what != evCorrect && e.what != evHelp {
			break
		}
	}
	if s == "" && t.cue.Signal == "context" {
		return "context"
	}
	return s
}

func seconds(ms int64) training.Num { return training.Known(float64(ms) / 1000) }
