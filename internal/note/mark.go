package note

import (
	"fmt"
	"strings"

	"firstcue/internal/training"
)

// Bounds of what a mark may say, in seconds.
const (
	maxLatency  = 60
	slowLatency = 15 // above this a latency is likely a slip of the pen
	maxComplete = 600
)

// mark reads the mark at r.i, n times. count is the token of the number before
// it, nil if there was none.
func (r *reader) mark(n int, count *token) {
	t := r.toks[r.i]
	first := t
	if count != nil {
		first = *count
	}
	r.i++
	switch m := t.mark(); m {
	case mYes:
		r.yes(t, first, n)
	case mNo:
		r.no(t, first, n, count)
	case mWrong:
		r.wrong(t, first, n)
	case mLevel, mLeash, mVerbal:
		r.correction(t, first, m, n)
	case mHelp, mLure:
		r.help(t, m, n)
	case mEarly, mAlready, mUnscored:
		for range n {
			if r.timed {
				c := r.cur
				if c == nil || !c.bare() || m == mEarly && r.cueTo == 0 {
					r.problem(t, t, fmt.Sprintf("%q needs its cue", r.l.as(t.from, t.to)), "write it with the clock and the cue, as in 6:01.6 early sit")
					return
				}
				c.askOpen = false
				r.finishAs(c, m)
				continue
			}
			if r.cur != nil {
				if r.cur.cue.Kind == training.Motion && r.cur.bare() {
					r.p.trials = r.p.trials[:len(r.p.trials)-1] // its time says nothing about this one
					r.cur = nil
				} else {
					r.end(r.cur)
				}
			}
			if c := r.trial(t); c != nil {
				r.finishAs(c, m)
			}
		}
	case mAgain:
		c := r.trial(t)
		switch {
		case c == nil:
		case r.clock >= 0:
			r.problem(t, t, "a cue given again needs its own line", "write the clock and the cue once more")
		case c.cue.Kind == training.Response || c.has(evNo):
			r.add(c, event{what: evNo})
			c.askOpen = false
		default:
			r.add(c, event{what: evAgain})
		}
	case mReleased:
		r.released(t)
	case mStart:
		c := r.cur
		switch {
		case r.clock < 0:
			r.problem(t, t, "start needs a clock", "write 1:12.0 start on a line of its own; without a clock write + 1.8>5.1")
		case c == nil || !c.askOpen || c.cue.Kind == training.Motion:
			r.problem(t, t, "start has no cue before it", "write the cue with its clock first")
		default:
			c.begun = r.clock
			r.clock = -1
		}
	}
}

// add appends an event to the trial.
func (r *reader) add(c *trial, e event) { c.events = append(c.events, e) }

// seconds reads the number after a mark, if it is one: a time with a colon or a
// unit or a decimal part, or a whole number that cannot belong to what follows.
// ok is false after a problem.
func (r *reader) seconds(after token, repeated bool) (v training.Num, ok bool) {
	t := r.at(r.i)
	if r.i >= len(r.toks) || t.kind != tNum && t.kind != tTime {
		return v, true
	}
	a := r.amountAt(r.i)
	switch {
	case a.metres.Known:
		return v, true
	case a.seconds.Known:
		v, r.i = a.seconds, r.i+a.n
	case !t.whole():
		v = training.Known(round(t.v))
		r.i++
	default:
		next := r.at(r.i + 1)
		claims := r.i+1 < len(r.toks) && r.repeats()
		switch {
		case !claims:
		case t.gap && !next.gap:
			return v, true // - 2@9: the number repeats what follows
		case !t.gap && next.gap: // -9 +
		default:
			r.twoReadings(after, t, next)
			r.i++
			return v, false
		}
		v = training.Known(t.v)
		r.i++
	}
	last := r.at(r.i - 1)
	if repeated {
		r.problem(t, last, "one time for several marks", "write each mark with its own time, as in +1.2, +1.4")
		return training.Num{}, false
	}
	if r.clock >= 0 {
		r.problem(t, last, "the clock at the head of the line says when", "leave the number out, or put it on the line of the cue")
		return training.Num{}, false
	}
	return v, true
}

// twoReadings refuses a whole number between two marks, such as - 9 + or "no
// nine yes": it could belong to either of them, or be a level.
func (r *reader) twoReadings(after, n, next token) {
	a, b := after.sign(), next.sign()
	if next.mark() == mLevel {
		if lv := r.at(r.i + 2); lv.kind == tNum {
			next = lv
			b += lv.s
		}
	}
	want := fmt.Sprintf("write %s%ss %s (%s seconds) or %s %s%s (%s times %s)", a, n.s, b, n.s, a, n.s, b, n.s, b)
	if !strings.HasPrefix(b, "@") {
		want += fmt.Sprintf(" or %s @%s %s (level %s)", a, n.s, b, n.s)
	}
	if before := r.i - 2; before < 0 || r.at(before).kind != tNum {
		want += fmt.Sprintf(" or %s%s %s (%s times %s)", n.s, a, b, n.s, a)
	}
	r.problem(after, next, fmt.Sprintf("%q: the %s could be seconds, a level, or how often", string(r.l.text[after.from:next.to]), n.s), want)
}

// sign is the written form of a mark, whether it was typed or said.
func (t token) sign() string {
	switch t.mark() {
	case mYes:
		return "+"
	case mNo:
		return "-"
	case mWrong:
		return "x"
	case mLevel:
		return "@"
	case mLeash:
		return "@leash"
	case mVerbal:
		return "@verbal"
	}
	return t.s
}

func (r *reader) latency(v training.Num, from, to token, most float64) bool {
	if v.Known && v.V > most {
		r.problem(from, to, fmt.Sprintf("%s s is longer than any answer takes", number(v.V)), fmt.Sprintf("write seconds, at most %s; a trial given up is -", number(most)))
		return false
	}
	return true
}

func (r *reader) yes(t, first token, n int) {
	p := r.p
	if r.slipped(t) {
		return
	}
	a, ok := r.seconds(t, n > 1)
	if !ok {
		return
	}
	var b training.Num
	arrow := false
	if r.at(r.i).is(">") {
		arrow = true
		r.i++
		// +1.2> - of a hold is a position taken, and a break of it.
		if minus := r.at(r.i); minus.is("-") && (r.at(r.i+1).kind != tNum || r.at(r.i+1).gap) && !(minus.gap && r.cue.Kind == training.Holding) {
			r.begun(t, first, n, a)
			return
		}
		if r.at(r.i).is("no") && r.cue.Kind == training.Holding {
			r.begun(t, first, n, a) // refused, as the sign is
			return
		}
		if b, ok = r.seconds(t, n > 1); !ok {
			return
		}
	}
	last := r.at(r.i - 1)
	if !r.latency(a, t, last, maxLatency) || !r.latency(b, t, last, maxComplete) {
		return
	}
	if a.Known && b.Known && b.V < a.V {
		r.problem(t, last, fmt.Sprintf("it ended at %s s, before it began at %s s", number(b.V), number(a.V)), "write start>end, as in +1.8>5.1")
		return
	}
	for range n {
		c := r.trial(t)
		if c == nil {
			return
		}
		switch c.cue.Kind {
		case training.Motion:
			switch {
			case arrow || a.Known:
				r.problem(t, last, "a walk has no latency", "write minutes and breaks, as in "+c.cue.Name+" 3:20 2-")
			case r.timed:
				r.problem(t, t, "a walk ends with release", "write release at its end, - at each break")
			default:
				r.add(c, event{what: evYes})
				r.end(c)
			}
		case training.Holding:
			r.yesHold(c, t, last, a, b, arrow)
		default:
			if arrow && !b.Known {
				r.problem(t, last, "the number after > is missing", "write +1.8>5.1, or +1.0>- when it was not finished")
				return
			}
			if r.clock >= 0 && c.askOpen {
				v := seconds(r.clock - c.askAt)
				if c.begun >= 0 {
					a, b = seconds(c.begun-c.askAt), v
				} else {
					a = v
				}
				r.clock = -1
				if !r.latency(a, t, last, maxLatency) || !r.latency(b, t, last, maxComplete) {
					return
				}
			}
			if a.Known && a.V > slowLatency {
				p.warn(r.l, t.from, last.to, fmt.Sprintf("%s s is a long time for one answer", number(a.V)), "")
			} else if a.Known && c.untouched() && p.o.Limit != nil {
				if limit := p.o.Limit(p.ctx.dog.Name, c.cue.Name); limit.Known && a.V > limit.V {
					p.warn(r.l, t.from, last.to, fmt.Sprintf("%s s is over the limit of %s, %s s: no first-cue answer", number(a.V), c.cue.Name, number(limit.V)), "")
				}
			}
			c.askOpen = false
			r.add(c, event{what: evYes, a: a, b: b})
			r.end(c)
		}
	}
}

// slipped looks at a + with a - and a number behind it. Glued, as in +-1.2, it
// is a slip of the finger as likely as a success and a refusal, and refused;
// + -1.2 is read as the two it says, with a warning. true after a problem.
func (r *reader) slipped(t token) bool {
	minus, n := r.at(r.i), r.at(r.i+1)
	if r.timed || t.s != "+" || !minus.is("-") || n.gap || n.kind != tNum && n.kind != tTime {
		return false
	}
	written, said := string(r.l.text[t.from:n.to]), string(r.l.text[n.from:n.to])
	if minus.gap {
		r.p.warn(r.l, t.from, n.to, fmt.Sprintf("%q is read as a success and a refusal after %s; if it is one success, write +%s", written, said, said), "")
		return false
	}
	r.problem(t, n, fmt.Sprintf("%q has two readings", written), fmt.Sprintf("write +%s or +, -%s", said, said))
	r.i += 2
	return true
}

// untouched reports a trial of which nothing but signals is noted: the first ask
// is still to be answered.
func (t *trial) untouched() bool {
	for _, e := range t.events {
		if e.what != evSignal {
			return false
		}
	}
	return true
}

// begun reads +1.0>-: a response begun and not completed.
func (r *reader) begun(t, first token, n int, a training.Num) {
	minus := r.at(r.i)
	r.i++
	if r.cue.Kind != training.Response && r.cue.Kind != "" || !a.Known || n > 1 {
		r.problem(first, minus, "begun and not finished is for one response, with the time it began", "write +1.0>- for a response; - 0:45 when a hold broke")
		return
	}
	if !r.latency(a, t, minus, maxLatency) {
		return
	}
	if c := r.trial(t); c != nil {
		c.askOpen = false
		r.add(c, event{what: evBegun, a: a})
	}
}

func (r *reader) yesHold(c *trial, t, last token, a, b training.Num, arrow bool) {
	switch {
	case a.Known && !arrow:
		s := number(a.V)
		r.problem(t, last, fmt.Sprintf("%q after a hold could be how long it was held, or how soon the position was taken", "+ "+s),
			fmt.Sprintf("write %s %ss + or released %ss (held so long), +%s> (taken after %s s)", c.cue.Name, s, s, s, s))
		return
	case arrow && !a.Known && !b.Known:
		r.problem(t, last, "the number beside > is missing", "write +1.2> when the position was begun after 1.2 s, +>1.8 when it was taken after 1.8 s")
		return
	}
	if c.has(evNo) || c.has(evReleased) {
		c.askOpen = false
		r.add(c, event{what: evYes})
		r.clock = -1
		if !r.timed {
			r.end(c)
		}
		return
	}
	if arrow {
		if c.took >= 0 || c.has(evTook) {
			r.problem(t, last, "the position is taken twice", "keep one of them; - when it broke")
			return
		}
		r.add(c, event{what: evTook, a: a, b: b})
		return
	}
	if !r.timed {
		r.add(c, event{what: evYes})
		r.end(c)
		return
	}
	if c.took >= 0 { // a second + is the end of the hold
		r.released(t)
		return
	}
	if r.clock < 0 { // taken, at no known time
		return
	}
	e := event{what: evTook, a: seconds(r.clock - c.askAt)}
	if c.begun >= 0 {
		e.a, e.b = seconds(c.begun-c.askAt), e.a
	}
	if !r.latency(e.a, t, last, maxLatency) || !r.latency(e.b, t, last, maxComplete) {
		return
	}
	c.took, r.clock = r.clock, -1
	r.add(c, e)
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

func (r *reader) no(t, first token, n int, count *token) {
	if r.l.typed[r.l.from[t.from]] == '\u2014' && t.kind == tSym {
		r.p.warn(r.l, t.from, t.to, "the long dash is read as one -; phones make it of two", "write - - if the cue was given twice")
	}
	if r.cue.Kind == training.Motion {
		if nx := r.at(r.i); nx.kind == tTime || r.amountAt(r.i).seconds.Known {
			r.i += max(1, r.amountAt(r.i).n)
			r.problem(t, nx, "a break in a walk has no time", "put a comma before the next walk: "+r.cue.Name+" 4:00 2-, 3:30 7-")
			return
		}
		c := r.trial(t)
		for range n {
			if c != nil {
				r.add(c, event{what: evNo})
			}
		}
		r.clock = -1
		return
	}
	a, ok := r.seconds(t, n > 1)
	if !ok {
		return
	}
	last := r.at(r.i - 1)
	c := r.trial(t)
	if c == nil {
		return
	}
	if n > 1 && count != nil && c.many == nil {
		c.many = count
	}
	if c.cue.Kind == training.Holding {
		if a.Known && a.V > 24*3600 {
			r.problem(t, last, fmt.Sprintf("%s cannot be held for %s", c.cue.Name, span(a.V)), "write at most 24 hours")
			return
		}
		if r.clock >= 0 && !c.has(evNo) {
			a = seconds(r.clock - c.holdFrom())
		}
		r.clock = -1
		c.askOpen = false
		for range n {
			r.add(c, event{what: evNo, a: a})
			a = training.Num{}
		}
		return
	}
	if !r.latency(a, t, last, maxComplete) {
		return
	}
	if r.clock >= 0 && c.askOpen {
		r.add(c, c.unanswered(r.clock))
		n--
	}
	r.clock = -1
	c.askOpen = false
	for range n {
		r.add(c, event{what: evNo, a: a})
	}
}

func (r *reader) wrong(t, first token, n int) {
	did := "?"
	last := t
	if r.at(r.i).is(":") {
		w := r.at(r.i + 1)
		if w.kind != tWord {
			r.problem(t, r.at(r.i), "x: names nothing", "write x, or what the dog did, as in x:sat")
			r.i++
			return
		}
		did, last = w.s, w
		r.i += 2
		for r.at(r.i).is("-") && !r.at(r.i).gap && r.at(r.i+1).kind == tWord && !r.at(r.i+1).gap {
			last = r.at(r.i + 1)
			did += "-" + last.s
			r.i += 2
		}
	} else if w := r.at(r.i); t.s == "wrong" && w.kind == tWord && w.mark() == notMark && !w.signal() && misheard[w.s] == "" {
		did, last = w.s, w
		r.i++
	}
	if count := first; n > 1 && t.s == "x" && count.from != t.from && (r.at(r.i).mark() == mYes || r.at(r.i).mark() == mNo) {
		next := r.at(r.i)
		r.problem(count, next, fmt.Sprintf("%q could be %s wrong answers and then %s, or %s times %s", string(r.l.text[count.from:next.to]), count.s, next.s, count.s, next.s),
			fmt.Sprintf("write x x %s, or %s%s", next.s, count.s, next.s))
		return
	}
	if r.cue.Kind == training.Motion {
		r.noWrong(first, last)
		return
	}
	a, ok := r.seconds(last, n > 1)
	if !ok || !r.latency(a, t, r.at(r.i-1), maxComplete) {
		return
	}
	c := r.trial(t)
	if c == nil {
		return
	}
	if r.clock >= 0 && c.askOpen && c.cue.Kind != training.Holding {
		a = seconds(r.clock - c.askAt)
	}
	r.clock = -1
	c.askOpen = false
	for range n {
		r.add(c, event{what: evWrong, s: did, a: a})
	}
}

// noWrong refuses a wrong answer in a walk.
func (r *reader) noWrong(from, to token) {
	r.problem(from, to, "a walk has breaks, not wrong answers", "write - for a break; what happened goes into a remark")
}

func (r *reader) correction(t, first token, m mark, n int) {
	k := training.Correction{Kind: training.ByLeash}
	switch m {
	case mVerbal:
		k.Kind = training.ByVoice
	case mLevel:
		v := r.at(r.i)
		switch {
		case t.s == "@" && v.mark() == mLeash:
			r.i++
		case t.s == "@" && v.mark() == mVerbal:
			k.Kind = training.ByVoice
			r.i++
		case v.kind == tNum && strings.Contains(v.s, ","):
			r.i++
			a, b, _ := strings.Cut(v.s, ",")
			r.problem(t, v, fmt.Sprintf("%q could be one level or two", "@"+v.s), fmt.Sprintf("write @%s.%s, or @%s @%s", a, b, a, b))
			return
		case v.kind == tNum:
			r.i++
			r.p.complete(r.l, r.cueFrom, r.cueTo)
			before := len(r.p.res.Problems)
			r.p.checkLevel(r.p.ctx, v.v, r.l, t.from, v.to)
			if len(r.p.res.Problems) > before {
				r.bad = true
			}
			k = training.Correction{Kind: training.ByCollar, Level: training.Known(v.v), Device: r.p.deviceOf(r.p.ctx)}
		case v.kind == tBad && r.i < len(r.toks):
			r.i++
			r.bad = true
			return
		case v.kind == tWord && misheard[v.s] != "":
			r.i++
			r.problem(t, v, fmt.Sprintf("%q may be the digit %s", r.l.as(v.from, v.to), misheard[v.s]), "write the digit or delete the word")
			return
		default:
			r.problem(t, t, fmt.Sprintf("the number after %q is missing", t.s), "write the dial position, as @9, or @leash or @verbal")
			return
		}
	}
	c := r.trial(t)
	if c == nil {
		return
	}
	for range n {
		r.add(c, event{what: evCorrect, c: k})
	}
}

func (r *reader) help(t token, m mark, n int) {
	s := "help"
	if m == mLure {
		s = "lure"
	} else if r.at(r.i).is(":") {
		w := r.at(r.i + 1)
		if w.kind != tWord {
			r.problem(t, r.at(r.i), "help: names nothing", "write help, or which, as in help:lure")
			r.i++
			return
		}
		s = w.s
		r.i += 2
		for r.at(r.i).is("-") && !r.at(r.i).gap && r.at(r.i+1).kind == tWord && !r.at(r.i+1).gap {
			s += "-" + r.at(r.i+1).s
			r.i += 2
		}
	} else if r.at(r.i).mark() == mLure {
		s = "lure"
		r.i++
	}
	c := r.trial(t)
	if c == nil {
		return
	}
	for range n {
		r.add(c, event{what: evHelp, s: s})
	}
}

func (r *reader) released(t token) {
	c := r.cur
	if r.cue.Kind == training.Response || r.cue.Kind == "" {
		if r.timed && r.p.walk != nil && r.clock >= 0 && c != nil && (c.cue.Kind == training.Response) {
			// the walk ends, and with it what was asked for in it
			r.p.close(c, r.bad)
			r.p.drop(c)
			c, r.cur, r.cue = r.p.walk, r.p.walk, r.p.walk.cue
		} else {
			r.problem(t, t, fmt.Sprintf("%s is not a hold: it is not released", r.cue.Name), "write + (did it) or - (did not)")
			return
		}
	}
	a := training.Num{}
	ok := true
	if t.mark() == mReleased {
		if a, ok = r.seconds(t, false); !ok {
			return
		}
	}
	last := r.at(r.i - 1)
	if r.cue.Kind == training.Motion {
		switch {
		case a.Known:
			r.problem(t, last, "a walk is not released after a time", "write the minutes walked first, as in "+r.cue.Name+" 3:20 2-")
		case r.timed && c != nil && r.clock >= 0:
			c.walked = seconds(r.clock - c.at)
			r.clock = -1
			if c.walked.V <= 0 || c.walked.V > 6*3600 {
				r.problem(t, t, fmt.Sprintf("a walk of %s cannot be right", span(c.walked.V)), "check the clocks; at most 6 hours")
				return
			}
			r.end(c)
		case r.timed:
			r.problem(t, t, "release needs a clock", "write 5:06.8 release")
		default:
			if c = r.trial(t); c != nil {
				r.end(c)
			}
		}
		return
	}
	if c = r.trial(t); c == nil {
		return
	}
	if a.Known && (a.V <= 0 || a.V > 24*3600) {
		r.problem(t, last, fmt.Sprintf("%s cannot be held for %s", c.cue.Name, span(a.V)), "write at most 24 hours")
		return
	}
	if c.has(evNo) {
		if a.Known {
			r.problem(t, last, fmt.Sprintf("%s had broken already", c.cue.Name), "put a comma between two trials: - 0:45, released 1:10")
			return
		}
		if c.askOpen || !r.timed {
			r.add(c, event{what: evYes})
		}
		c.askOpen = false
		r.clock = -1
		r.end(c)
		return
	}
	if r.timed && !a.Known {
		if r.clock < 0 {
			r.problem(t, t, "release needs a clock", "write 5:06.8 release")
			return
		}
		a = seconds(r.clock - c.holdFrom())
		r.clock = -1
	}
	c.askOpen = false
	r.add(c, event{what: evReleased, a: a})
	r.end(c)
}
