package note

import (
	"fmt"
	"slices"
	"strings"

	"firstcue/internal/training"
)

// what an event of a trial is.
type what int

const (
	evNo       what = iota // ask not answered; position broken. a = after how long
	evWrong                // something else done: name in s. a = after how long
	evYes                  // answered: a latency, b completion; hold: kept to the target
	evBegun                // a response begun after a, not completed
	evTook                 // hold: position taken: a latency, b completion
	evAgain                // hold, walk: cue given again
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
	many     *token // an N- with N > 1, for its warning

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
		message := fmt.Sprintf("%s is on vet hold on %s: %s", what, day, holdText(h))
		if p.o.DespiteHold {
			p.warn(l, from, to, message+"; kept, and left out of every figure", "")
			return
		}
		p.problem(l, from, to, message, "leave the line out, or log with --in-hold: the trial is kept and left out of every figure")
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
	if m := t.lacks(); m != "" {
		switch {
		case quiet:
		case t.late:
			p.problem(t.l, t.from, t.to, fmt.Sprintf("%q begins another %s, and %s", string(t.l.text[t.from:t.to]), t.cue.Name, m), t.wantLate())
		default:
			p.problem(t.l, t.from, t.to, m, t.want())
		}
		return
	}
	if t.many != nil && !t.has(evYes) && t.cue.Kind != training.Motion {
		n := t.many.s
		p.warn(t.l, t.many.from, t.many.to, n+"- is one dog asked "+times(t.many.v)+"; for "+n+" trials write -"+strings.Repeat(", -", min(int(t.many.v)-1, 4)), "")
	}
	t.out = t.result()
	t.out.Line = t.l.no - p.first + 1
	t.out.Marks = t.marks()
	if h := t.out; h.Outcome == training.Broke && h.Target.Known && h.Held.Known && h.Held.V > h.Target.V {
		p.warn(t.l, t.from, t.to, fmt.Sprintf("%s broke at %s, after its target of %s", h.Cue, span(h.Held.V), span(h.Target.V)), "")
	}
}

func times(v float64) string {
	switch v {
	case 2:
		return "twice"
	}
	return number(v) + " times"
}

// lacks says what is missing before the trial says anything, "" if nothing is.
func (t *trial) lacks() string {
	if t.outcome != "" {
		return ""
	}
	c := t.cue.Name
	switch t.cue.Kind {
	case training.Motion:
		if !t.walked.Known {
			if t.timed {
				return c + " has no end: how long was it?"
			}
			return c + " has no time: how long was the walk?"
		}
	case training.Holding:
		if !t.has(evNo) && !t.has(evYes) && !t.has(evReleased) && !t.has(evWrong) {
			if t.timed {
				return c + " has no end: was it released, or did it break?"
			}
			return c + " has no answer"
		}
	default:
		if !t.has(evNo) && !t.has(evYes) && !t.has(evBegun) && !t.has(evWrong) {
			return c + " has no answer"
		}
	}
	return ""
}

func (t *trial) wantLate() string {
	if t.cue.Kind == training.Motion {
		return "a comma ends a walk: write its breaks without one, as in " + t.cue.Name + " 3:20 2-"
	}
	return "a mark after + belongs to the next trial: put it before the +, or add the answer"
}

func (t *trial) want() string {
	switch {
	case t.cue.Kind == training.Motion && t.timed:
		return "add a line such as 5:06.8 release before the next cue"
	case t.cue.Kind == training.Motion:
		return "write the minutes walked, as in " + t.cue.Name + " 3:20 2-; 5m is five metres, 5 min five minutes"
	case t.cue.Kind == training.Holding && t.timed:
		return "add a line such as 5:06.8 release, or 2:50 - when it broke"
	case t.cue.Kind == training.Holding:
		return "write + (held), - 0:45 (broke then) or released 1:10"
	}
	return "write + (did it), - (did not) or x (did something else)"
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
	if t.outcome != "" {
		r.Outcome = t.outcome
		if t.outcome == training.Already || t.outcome == training.Unscored {
			r.Asks = 1
		}
		return r
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
	switch t.cue.Kind {
	case training.Motion:
		t.motion(&r)
	case training.Holding:
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
