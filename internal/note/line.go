package note

import (
	"fmt"
	"slices"
	"strings"

	"firstcue/internal/training"
)

// shellWord puts a name of several words in quotes, as a shell needs them.
func shellWord(s string) string {
	if strings.ContainsAny(s, " '\"") {
		return "'" + strings.ReplaceAll(s, "'", `'\''`) + "'"
	}
	return s
}

// mark is what a token means on a trial line.
type mark int

const (
	notMark mark = iota
	mYes
	mNo
	mWrong
	mLevel // @ or level: a correction follows
	mLeash
	mVerbal
	mHelp
	mLure
	mUnscored
	mEarly
	mAlready
	mAgain
	mReleased
	mStart
	mNext
)

var markWords = map[string]mark{
	"+": mYes, "yes": mYes, "good": mYes, "-": mNo, "no": mNo, "x": mWrong, "wrong": mWrong,
	"@": mLevel, "level": mLevel, "leash": mLeash, "verbal": mVerbal, "help": mHelp, "lure": mLure,
	"?": mUnscored, "unscored": mUnscored, "early": mEarly, "already": mAlready, "again": mAgain,
	"released": mReleased, "release": mReleased, "start": mStart, ",": mNext, "next": mNext,
}

// wordList is what a mistyped word is compared with.
var wordList = []string{"yes", "good", "no", "wrong", "level", "leash", "verbal", "help", "lure", "unscored", "early",
	"already", "again", "released", "release", "start", "next", "voice", "hand", "whistle", "tone", "vibration", "context"}

const wantMark = "write + yes, - no, x wrong, @9 level, help, ?, early, already, 8/10, or a remark on a line of its own with > before it"

func (t token) mark() mark {
	if t.kind == tWord || t.kind == tSym {
		return markWords[t.s]
	}
	return notMark
}

func (t token) signal() bool {
	return t.kind == tWord && slices.Contains(training.Signals, training.Signal(t.s))
}

// reader reads the marks of one trial line.
type reader struct {
	p    *parser
	l    line
	toks []token
	i    int

	cue      training.Cue
	cueFrom  int
	cueTo    int
	signal   training.Signal
	distance training.Num
	target   training.Num
	walked   training.Num // of the trial about to be opened

	cur   *trial
	timed bool  // marks belong to a clock's trial
	clock int64 // ms, of the first mark of a line without a cue; -1 = none
	bad   bool  // something on the line is reported already
	made  int   // trials and marks made
}

// problem reports tokens and lets the line go on.
func (r *reader) problem(from, to token, message, want string) {
	r.bad = true
	r.p.problem(r.l, from.from, to.to, message, want)
}

// at is token i; beyond the line one that is nothing.
func (r *reader) at(i int) token {
	if i >= 0 && i < len(r.toks) {
		return r.toks[i]
	}
	return token{kind: tBad, from: len(r.l.text), to: len(r.l.text)}
}

// trialLine reads a line that is neither context nor remark.
func (p *parser) trialLine(l line, at int) {
	clock, rest, ok := p.readClock(l, at)
	if !ok {
		return
	}
	if clock >= 0 {
		if rm, is := p.remark(l, rest, strings.TrimSpace(string(l.typed[l.from[at]:l.to[rest-1]]))+" "); is && l.text[rest] != 'n' && l.text[rest] != 'N' {
			p.addRemark(rm)
			return
		}
	}
	r := &reader{p: p, l: l, clock: clock, timed: clock >= 0}
	lead := notMark // early, already or ? before the cue
	leadFrom, cueAt := rest, rest
	if clock >= 0 {
		for _, w := range []string{"early", "already", "unscored", "?"} {
			if e := matchWords(l.text, rest, w); e > rest && e < len(l.text) {
				for e < len(l.text) && l.text[e] == ' ' {
					e++
				}
				if _, end, _ := p.cue(l.text, e); end > e {
					lead, cueAt = markWords[w], e
				}
			}
		}
	}
	cues, end, words := p.cue(l.text, cueAt)
	lexAt := rest
	switch {
	case len(cues) > 1:
		var names []string
		for i, c := range cues {
			names = append(names, fmt.Sprintf("%s (%q)", c.Name, words[i]))
		}
		p.problem(l, cueAt, end, fmt.Sprintf("%q fits two cues: %s", string(l.text[cueAt:end]), strings.Join(names, " and ")), "write the name of the cue you mean")
		return
	case len(cues) == 1:
		r.cue, r.cueFrom, r.cueTo = cues[0], cueAt, end
		lexAt = end
		if lexAt < len(l.text) && l.text[lexAt] == ':' {
			lexAt++
		}
	default:
		if clock < 0 && p.noColons(l, rest) {
			return
		}
		r.lex(rest)
		if len(r.toks) == 0 {
			if clock >= 0 {
				p.problem(l, at, rest, "there is nothing after the clock", "write a cue or a mark, as in 0:14.2 sit")
			} else {
				r.answerOnly()
			}
			return
		}
		first := r.at(0)
		if first.mark() != notMark || first.signal() || first.kind != tWord {
			r.continued()
			return
		}
		if !r.newCue() {
			return
		}
		lexAt = r.cueTo
	}
	r.bad = false
	r.lex(lexAt)
	r.openCue(lead, leadFrom)
}

// noColons reports a line that begins as a context line would and has no colon:
// one problem, with the line to write. What it says of each key is then no
// longer missing.
func (p *parser) noColons(l line, at int) bool {
	type part struct{ key, value string }
	var parts []part
	for i := at; i < len(l.text); {
		j := i
		for j < len(l.text) && l.text[j] != ' ' && l.text[j] != ';' {
			j++
		}
		word := strings.ToLower(strings.Trim(string(l.text[i:j]), ":,"))
		switch {
		case slices.Contains(keys, word) && !slices.ContainsFunc(parts, func(x part) bool { return x.key == word }):
			parts = append(parts, part{key: word})
		case len(parts) == 0:
			return false
		case j > i:
			x := &parts[len(parts)-1]
			x.value = strings.TrimSpace(x.value + " " + strings.Trim(l.as(i, j), ":,"))
		}
		for i = j; i < len(l.text) && (l.text[i] == ' ' || l.text[i] == ';'); {
			i++
		}
	}
	if len(parts) == 0 || parts[0].value == "" {
		return false
	}
	if first := parts[0]; len(parts) == 1 && markWords[first.key] != notMark && p.hasTrials() {
		if _, err := ReadTime(first.value, p.o.Now); first.key != "start" || err != nil {
			return false // a mark of the trial above
		}
	}
	var write []string
	for _, x := range parts {
		write = append(write, strings.TrimSpace(x.key+": "+x.value))
		p.failed[x.key] = true
	}
	p.problem(l, at, len(l.text), "a context line needs a colon behind each key", "write "+strings.Join(write, "; "))
	return true
}

func (r *reader) lex(from int) {
	r.i = 0
	r.toks = lex(r.l.text, from, func(from, to int, message, want string) {
		r.bad = true
		r.p.problem(r.l, from, to, message, want)
	})
}

// readClock reads a clock at the head of a line: ms, or -1 when there is none.
func (p *parser) readClock(l line, at int) (ms int64, rest int, ok bool) {
	end := numberEnd(l.text, at)
	s := string(l.text[at:end])
	if !strings.Contains(s, ":") || strings.Contains(s, "/") {
		return -1, at, true
	}
	good := true
	t := readNumber(s, func(message, want string) {
		p.problem(l, at, end, message, want)
		good = false
	})
	if !good || t.kind != tTime {
		return 0, 0, false
	}
	ms = int64(t.v*1000 + 0.5)
	if ms < p.clock {
		p.problem(l, at, end, fmt.Sprintf("the clock runs backwards: %s after %s", s, clockText(p.clock)), "put the lines in order, or give the later session its own start:")
		return 0, 0, false
	}
	p.clock = ms
	for end < len(l.text) && l.text[end] == ' ' {
		end++
	}
	return ms, end, true
}

// newCue reads the words up to the first mark as a cue not yet known. It
// reports them unless new names are allowed.
func (r *reader) newCue() bool {
	j := 0
	for j < len(r.toks) {
		t := r.toks[j]
		next := r.at(j + 1)
		hyphen := j > 0 && t.is("-") && !t.gap && next.kind == tWord && !next.gap && next.mark() == notMark
		if !hyphen && (t.mark() != notMark || t.signal() || t.kind != tWord) {
			break
		}
		j++
	}
	first, last := r.toks[0], r.toks[j-1]
	typed := strings.Join(strings.Fields(r.l.as(first.from, last.to)), " ")
	name := strings.Join(strings.Fields(strings.ToLower(string(r.l.text[first.from:last.to]))), " ")
	var known []string
	for _, c := range r.p.k.Cues {
		known = append(append(known, c.Name), c.Aliases...)
	}
	for _, w := range r.p.ctx.dog.Words {
		known = append(known, w.Word)
	}
	near := Nearest(name, known)
	if !r.p.o.AllowNew {
		if len(near) == 0 {
			near = Nearest(first.s, known)
		}
		pr := Problem{Message: fmt.Sprintf("%q is not a cue", typed), Near: near,
			Want: "a line begins with a cue; add a new one with `firstcue cue add`, " + r.p.o.command() + " with --new, or put > before a remark"}
		if len(r.p.k.Cues) == 0 {
			pr.Want = "no cue is known yet; add one with `firstcue cue add`"
		}
		for _, t := range r.toks[1:] {
			if _, end, _ := r.p.cue(r.l.text, t.from); end > t.from && t.kind == tWord && len(near) == 0 {
				pr.Want = fmt.Sprintf("begin the line with %q; name the dog on a line such as dog: Pip, and put > before a remark", string(r.l.text[t.from:end]))
				break
			}
		}
		to := last.to
		if len(near) > 0 && len(Nearest(name, known)) == 0 {
			to = first.to
		}
		r.p.report(pr, r.l, first.from, to)
		return false
	}
	if close := slips(name, known); len(close) > 0 {
		r.p.report(Problem{Message: fmt.Sprintf("%q is not a cue, and it is too close to a known one to be new", typed), Near: close,
			Want: "if it is another, add it first with `firstcue cue add`"}, r.l, first.from, last.to)
		return false
	}
	if len([]rune(name)) > 40 {
		r.p.problem(r.l, first.from, last.to, "that is too long for the name of a cue", "put > before a remark")
		return false
	}
	if a := r.amountAt(j); a.seconds.Known {
		r.p.problem(r.l, first.from, r.at(j+a.n-1).to, fmt.Sprintf("%s is new, and its time says that it is no single answer", typed),
			fmt.Sprintf("firstcue cue add %s --kind hold --target %s (or --kind motion, when it is walked)", shellWord(name), span(a.seconds.V)))
		return false
	}
	r.cue = training.Cue{Name: name, Kind: training.Response}
	r.cueFrom, r.cueTo = first.from, last.to
	r.p.k.Cues = append(r.p.k.Cues, r.cue)
	r.p.isNew(Name{Kind: "cue", Name: name, CueKind: training.Response})
	if len(near) > 0 {
		r.p.warn(r.l, first.from, last.to, fmt.Sprintf("%q is a new cue; %s is known already", name, orList(near)), "")
	}
	return true
}

// answerOnly reports a line that has only a picture.
func (r *reader) answerOnly() {
	r.p.problem(r.l, 0, len(r.l.text), fmt.Sprintf("%q could be decoration or an answer", r.l.answer), "write + or -")
}

// openCue reads a line with a cue of its own.
func (r *reader) openCue(lead mark, leadFrom int) {
	p := r.p
	if !r.timed {
		p.closeTimed()
		r.clock = -1
		r.marks()
		p.close(r.cur, r.bad)
		r.empty()
		return
	}
	clock := r.clock
	r.clock = -1
	if lead != notMark {
		p.endOpen(clock, true)
		r.cur = nil
		t := r.timedTrial(clock)
		t.askOpen = false
		r.finishAs(t, lead)
		if len(r.toks) > 0 && !r.bad {
			r.problem(r.at(0), r.at(len(r.toks)-1), "a trial that was "+outcomeOf(lead)+" has nothing more", wantMark)
		}
		return
	}
	if t := p.again(r.cue, clock); t != nil {
		r.cur = t
		if len(r.toks) == 0 {
			return
		}
	} else {
		p.endOpen(clock, r.cue.Kind == training.Response)
		r.cur = r.timedTrial(clock)
		if r.cue.Kind == training.Motion {
			p.walk = r.cur
		} else {
			p.open = r.cur
		}
	}
	r.marks()
	if t := r.cur; t != nil && t.cue.Kind == training.Motion && t.walked.Known {
		p.close(t, r.bad)
		p.walk = nil
	}
	if r.bad && r.cur != nil {
		r.cur.closed = true // its end would only be reported twice
		p.drop(r.cur)
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

// timedTrial opens a trial at the clock.
func (r *reader) timedTrial(clock int64) *trial {
	t := r.p.newTrial(r.cue, r.l, r.cueFrom, r.cueTo)
	t.timed, t.at, t.askOpen, t.askAt = true, clock, true, clock
	return t
}

// continued reads a line of marks without a cue, for the open timed trial.
func (r *reader) continued() {
	p := r.p
	r.cur = p.open
	if r.cur == nil {
		r.cur = p.walk
	}
	if r.cur == nil {
		first := r.at(0)
		switch {
		case r.l.answer != "" && len(r.toks) == 0:
			r.answerOnly()
		case first.kind == tBad:
		case first.mark() != notMark || first.kind == tNum || first.kind == tRatio:
			r.problem(first, first, fmt.Sprintf("%q has no cue", r.l.as(first.from, first.to)), "a line begins with a cue, as in sit 3+")
		default:
			r.problem(first, first, fmt.Sprintf("%q cannot be read", r.l.as(first.from, first.to)), "a line begins with a cue, as in sit 3+; put > before a remark")
		}
		return
	}
	r.timed = true
	r.cue = r.cur.cue
	r.marks()
	if r.bad && r.cur != nil {
		r.cur.closed = true
		p.drop(r.cur)
	}
}

// again finds the open timed trial that the same cue, given again, belongs to.
func (p *parser) again(cue training.Cue, clock int64) *trial {
	t := p.open
	if cue.Kind == training.Motion {
		t = p.walk
	}
	if t == nil || t.closed || training.Key(t.cue.Name) != training.Key(cue.Name) {
		return nil
	}
	switch t.cue.Kind {
	case training.Motion:
		t.events = append(t.events, event{what: evAgain})
	case training.Holding:
		switch {
		case !t.has(evNo):
			t.events = append(t.events, event{what: evAgain})
			if t.took < 0 {
				t.askAt = clock
			}
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

// endOpen closes what another cue ends. A walk goes on while responses are
// asked for in it.
func (p *parser) endOpen(clock int64, response bool) {
	p.close(p.open, false)
	p.open = nil
	if !response {
		p.close(p.walk, false)
		p.walk = nil
	}
}

// closeTimed closes what is still open on the clock.
func (p *parser) closeTimed() {
	p.close(p.open, false)
	p.close(p.walk, false)
	p.open, p.walk = nil, nil
}

// trial returns the trial that the next mark belongs to, opening one if need be;
// nil after reporting that there can be none.
func (r *reader) trial(t token) *trial {
	if r.cur != nil {
		return r.cur
	}
	if r.timed {
		r.problem(t, t, fmt.Sprintf("%q comes after the trial has ended", r.l.as(t.from, t.to)), "with a clock each trial needs its own line with its cue")
		return nil
	}
	r.made++
	r.cur = r.p.newTrial(r.cue, r.l, r.cueFrom, max(r.cueTo, r.cueFrom+1))
	if r.made > 1 {
		r.cur.late, r.cur.from, r.cur.to = true, t.from, t.to
	}
	r.settle(r.cur)
	return r.cur
}

// settle gives a trial what the line has said so far.
func (r *reader) settle(t *trial) {
	t.signal, t.distance = r.signal, r.distance
	if t.cue.Kind == training.Holding {
		t.target = r.target
	}
	if r.walked.Known {
		t.walked, r.walked = r.walked, training.Num{}
	}
}

// end closes a trial: the next mark opens another, or with a clock has none.
func (r *reader) end(t *trial) {
	r.p.close(t, r.bad)
	r.cur = nil
	r.p.drop(t)
}

// empty reports a cue with nothing after it.
func (r *reader) empty() {
	if r.made > 0 || r.bad {
		return
	}
	p := r.p
	p.complete(r.l, r.cueFrom, r.cueTo)
	if r.l.answer != "" {
		p.problem(r.l, len(r.l.text), len(r.l.text)+1, fmt.Sprintf("%q could be decoration or an answer", r.l.answer), "write + or -")
		last := &p.res.Problems[len(p.res.Problems)-1]
		last.Column, last.Width = pictureAt(r.l)
		return
	}
	t := &trial{cue: r.cue}
	if t.cue.Kind == "" {
		t.cue.Kind = training.Response
	}
	p.problem(r.l, r.cueFrom, r.cueTo, t.lacks(), t.want())
}

func pictureAt(l line) (column, width int) {
	for i, r := range l.typed {
		if picture(r) {
			return i + 1, 1
		}
	}
	return 1, 1
}

func outcomeOf(m mark) string {
	switch m {
	case mEarly:
		return string(training.Early)
	case mAlready:
		return string(training.Already)
	}
	return string(training.Unscored)
}

// finishAs closes a trial with an outcome of its own.
func (r *reader) finishAs(t *trial, m mark) {
	t.outcome = training.Outcome(outcomeOf(m))
	r.end(t)
}

// marks reads the tokens of the line to its end.
func (r *reader) marks() {
	for r.i < len(r.toks) {
		t := r.toks[r.i]
		if t.kind == tBad {
			r.bad = true
			r.i++
			continue
		}
		switch {
		case r.breaks():
		case t.signal():
			r.signals()
		case t.kind == tRatio:
			r.i++
			r.tally(t)
		case t.kind == tTime, t.kind == tNum:
			r.numberFirst(t)
		case t.mark() == mNext || t.is(";"):
			r.i++
			if r.cur != nil {
				r.end(r.cur)
			}
		case t.mark() != notMark:
			r.mark(1, nil)
		case t.kind == tWord && strings.Trim(t.s, "x") == "":
			r.i++ // xx, xxx
			if r.cue.Kind == training.Motion {
				r.noWrong(t, t)
				continue
			}
			for range len(t.s) {
				if c := r.trial(t); c != nil {
					r.add(c, event{what: evWrong, s: "?"})
				}
			}
		default:
			r.unknown(t)
		}
	}
}

// breaks reads how many breaks a walk had, in words: two breaks, 1 break, no
// breaks. It reports whether there were such words.
func (r *reader) breaks() bool {
	t, word := r.at(r.i), r.at(r.i+1)
	if r.cue.Kind != training.Motion || word.kind != tWord || !word.is("break") && !word.is("breaks") {
		return false
	}
	n := 0
	switch {
	case t.mark() == mNo && t.kind == tWord: // no breaks
	case t.whole() && t.v <= 100:
		n = int(t.v)
	default:
		return false
	}
	r.i += 2
	if c := r.trial(t); c != nil {
		for range n {
			r.add(c, event{what: evNo})
		}
	}
	return true
}

// signals reads one or more signals given together.
func (r *reader) signals() {
	var got []string
	for r.i < len(r.toks) && r.toks[r.i].signal() {
		got = append(got, r.toks[r.i].s)
		r.i++
		if r.at(r.i).is("+") && !r.at(r.i).gap && r.at(r.i+1).signal() && !r.at(r.i+1).gap {
			r.i++
		}
	}
	var all []string
	for _, s := range training.Signals {
		if slices.Contains(got, string(s)) {
			all = append(all, string(s))
		}
	}
	r.signal = training.Signal(strings.Join(all, "+"))
	if r.cur == nil {
		return
	}
	if r.cur.bare() && len(r.cur.events) == 0 {
		r.cur.signal = r.signal
		return
	}
	r.cur.events = append(r.cur.events, event{what: evSignal, s: string(r.signal)})
}

func (r *reader) tally(t token) {
	if r.cue.Kind == training.Motion {
		r.problem(t, t, fmt.Sprintf("%s is walked, not counted: %q says nothing about minutes", r.cue.Name, t.s), "write minutes and breaks, as in "+r.cue.Name+" 3:20 2-")
		return
	}
	if r.cur != nil && !(r.timed && r.cur.bare()) {
		r.problem(t, t, fmt.Sprintf("the tally %s comes in the middle of a trial", t.s), "put a comma before it")
		return
	}
	c := r.trial(t)
	if c == nil {
		return
	}
	c.outcome, c.tally, c.askOpen = training.Counted, training.Tally{Yes: t.yes, Of: t.of}, false
	r.end(c)
}

// amount says what a number with its unit is.
type amount struct {
	seconds, metres training.Num
	n               int // tokens
}

// amountAt reads a number with a unit, or a time with a colon, at token i;
// n is 0 for a number alone.
func (r *reader) amountAt(i int) amount {
	t := r.at(i)
	if t.kind == tTime {
		n := 1
		switch r.at(i + 1).s {
		case "min", "mins", "minute", "minutes", "m":
			if r.at(i+1).kind == tWord {
				n = 2
			}
		}
		return amount{seconds: training.Known(t.v), n: n}
	}
	if t.kind != tNum {
		return amount{}
	}
	u := r.at(i + 1)
	if u.kind != tWord {
		return amount{}
	}
	switch u.s {
	case "s", "sec", "secs", "second", "seconds":
		return amount{seconds: training.Known(round(t.v)), n: 2}
	case "ms":
		return amount{seconds: training.Known(round(t.v / 1000)), n: 2}
	case "min", "mins", "minute", "minutes":
		a := amount{seconds: training.Known(round(t.v * 60)), n: 2}
		if s := r.at(i + 2); t.whole() && s.kind == tNum && s.v < 60 {
			if w := r.at(i + 3); w.kind == tWord && (w.s == "s" || strings.HasPrefix(w.s, "sec")) {
				a.seconds.V = round(a.seconds.V + s.v)
				a.n = 4
			}
		}
		return a
	case "m", "metre", "metres", "meter", "meters":
		return amount{metres: training.Known(round(t.v)), n: 2}
	case "ft", "foot", "feet":
		return amount{metres: training.Known(round(t.v * 0.3048)), n: 2}
	}
	return amount{}
}

// numberFirst reads a number that no mark before it has claimed: a target, a
// walk, a distance, a repeat; a bare one is refused.
func (r *reader) numberFirst(t token) {
	a := r.amountAt(r.i)
	last := r.at(r.i + max(a.n, 1) - 1)
	switch {
	case a.metres.Known:
		r.i += a.n
		if next := r.at(r.i); next.kind != tBad && next.kind != tSym && !next.gap && next.kind != tWord {
			r.problem(t, next, fmt.Sprintf("%q: m is metres", string(r.l.text[t.from:next.to])), "write a time as 3:20, a distance as 15m")
			r.i++
			if u := r.at(r.i); u.kind == tWord && !u.gap {
				r.i++
			}
			return
		}
		if a.metres.V <= 0 || a.metres.V > 2000 {
			r.problem(t, last, fmt.Sprintf("a distance of %s m cannot be right", number(a.metres.V)), "write metres as 15m or feet as 50ft")
			return
		}
		r.distance = a.metres
		if r.cur != nil && r.cur.bare() {
			r.cur.distance = a.metres
		}
	case a.seconds.Known && r.timed && r.cueTo == 0:
		r.i += a.n
		r.problem(t, last, fmt.Sprintf("%q is a second time on this line", string(r.l.text[t.from:last.to])), "the clock at the head of the line says when; start a new line for the next event")
	case a.seconds.Known:
		r.i += a.n
		r.length(t, last, a.seconds)
	case t.whole() && r.repeats():
		if t.v < 1 || t.v > 100 {
			r.problem(t, t, fmt.Sprintf("%s times in one line cannot be right", t.s), "write at most 100, or a tally such as 8/10")
			r.i += 2
			return
		}
		r.i++
		r.mark(int(t.v), &t)
	default:
		r.i++
		r.bare(t)
	}
}

// repeats reports whether the token after the number at r.i is a mark that can
// be repeated.
func (r *reader) repeats() bool {
	switch r.at(r.i + 1).mark() {
	case mYes, mNo, mWrong, mLevel, mLeash, mVerbal, mHelp, mLure, mUnscored, mEarly, mAlready:
		return true
	}
	return false
}

// length takes a length of time that stands by itself.
func (r *reader) length(from, to token, v training.Num) {
	what := string(r.l.text[from.from:to.to])
	switch r.cue.Kind {
	case training.Holding:
		if v.V <= 0 || v.V > 24*3600 {
			r.problem(from, to, fmt.Sprintf("%s cannot be held for %s", r.cue.Name, what), "write at most 24 hours")
			return
		}
		if r.cur != nil && !r.cur.bare() {
			r.problem(from, to, fmt.Sprintf("%q in the middle of a trial could be the next target or when it ended", what),
				"write "+r.cue.Name+" "+what+" + (held so long), - "+what+" (broke then), released "+what+", or a comma before the next target")
			return
		}
		r.target = v
		if r.cur != nil {
			r.cur.target = v
		}
	case training.Motion:
		if v.V <= 0 || v.V > 6*3600 {
			r.problem(from, to, fmt.Sprintf("a walk of %s cannot be right", what), "write at most 6 hours, as in "+r.cue.Name+" 3:20")
			return
		}
		if r.cur != nil && !(r.timed && r.cur.bare()) {
			r.problem(from, to, fmt.Sprintf("%q comes in the middle of a walk", what), "put a comma before the next walk: "+r.cue.Name+" 4:00 2-, 3:30 7-")
			return
		}
		if r.timed {
			if c := r.trial(from); c != nil {
				c.walked = v
			}
			return
		}
		r.walked = v
		r.trial(from)
	default:
		r.problem(from, to, fmt.Sprintf("%s has no length, so %q has no place here", r.cue.Name, what), "write a latency after its mark, as in + 1.8")
	}
}

// bare refuses a number that could be several things.
func (r *reader) bare(t token) {
	prev := r.at(r.i - 2)
	if r.i >= 2 && prev.is(",") && r.i >= 3 && r.at(r.i-3).kind == tNum {
		a := r.at(r.i - 3).s
		r.problem(r.at(r.i-3), t, fmt.Sprintf("\"%s, %s\" could be %s.%s or two numbers", a, t.s, a, t.s), fmt.Sprintf("write %s.%s, or give each number its mark, as in +%s, +%s", a, t.s, a, t.s))
		return
	}
	switch r.cue.Kind {
	case training.Holding:
		r.problem(t, t, fmt.Sprintf("%q alone could be a time, a distance or a level", t.s), fmt.Sprintf("write %ss, %sm or @%s", t.s, t.s, t.s))
	case training.Motion:
		walked := r.cur != nil && r.cur.walked.Known
		switch {
		case walked && t.whole():
			r.problem(t, t, fmt.Sprintf("%q alone could be breaks or a level", t.s), fmt.Sprintf("write %s- (breaks) or @%s (level)", t.s, t.s))
		case walked:
			r.problem(t, t, fmt.Sprintf("%q has no place behind the minutes walked", t.s), fmt.Sprintf("write @%s if it is a level", t.s))
		case t.whole():
			r.problem(t, t, fmt.Sprintf("%q alone could be minutes, breaks or a level", t.s), fmt.Sprintf("write %s:00, %s- or @%s", t.s, t.s, t.s))
		default:
			r.problem(t, t, fmt.Sprintf("%q alone could be minutes or a level", t.s), fmt.Sprintf("write %s min or @%s", t.s, t.s))
		}
	default:
		if !t.whole() {
			r.problem(t, t, fmt.Sprintf("%q alone could be a level or a latency", t.s), fmt.Sprintf("write @%s (level) or + %s (seconds)", t.s, t.s))
			return
		}
		r.problem(t, t, fmt.Sprintf("%q alone could be a level, a latency or a count", t.s), fmt.Sprintf("write @%s (level), + %s (seconds) or %s+ (so many)", t.s, t.s, t.s))
	}
}

// unknown refuses a word that is no mark.
func (r *reader) unknown(t token) {
	r.i++
	last := t
	word := r.l.as(t.from, t.to)
	switch {
	case t.kind == tWord && misheard[t.s] != "":
		r.problem(t, t, fmt.Sprintf("%q may be the digit %s", word, misheard[t.s]), "write the digit or delete the word")
		if r.at(r.i).is("out") || r.at(r.i).is("of") { // ate of ten
			for r.i < len(r.toks) && r.toks[r.i].kind == tWord && r.toks[r.i].mark() == notMark {
				r.i++
			}
			if r.at(r.i).kind == tNum {
				r.i++
			}
		}
		return
	case t.kind == tSym && (picture([]rune(t.s)[0]) || strings.Contains(answerPictures, t.s)):
		r.problem(t, t, fmt.Sprintf("%q could be decoration or an answer", t.s), "write + or -")
		return
	}
	if t.kind == tWord {
		if cues, end, _ := r.p.cue(r.l.text, t.from); len(cues) > 0 {
			for r.i < len(r.toks) && r.toks[r.i].from < end {
				last = r.toks[r.i]
				r.i++
			}
			r.problem(t, last, fmt.Sprintf("%q is a second cue on this line", string(r.l.text[t.from:end])), "put it on a line of its own")
			r.i = len(r.toks) // what follows belongs to the other cue
			return
		}
		// a run of words is one remark, not many problems
		for r.i < len(r.toks) && r.toks[r.i].kind == tWord && r.toks[r.i].mark() == notMark && !r.toks[r.i].signal() {
			last = r.toks[r.i]
			r.i++
		}
		word = r.l.as(t.from, last.to)
	}
	if r.cue.Kind == training.Motion && (last.is("break") || last.is("breaks")) {
		r.problem(t, last, fmt.Sprintf("%q does not say how many", word), "write - for a break, 2- or two breaks for two")
		return
	}
	r.bad = true
	r.p.report(Problem{Message: fmt.Sprintf("%q is not a mark", word), Want: wantMark, Near: Nearest(t.s, wordList)}, r.l, t.from, last.to)
}
