package note

import (
	"fmt"
	"strconv"
	"strings"

	"firstcue/internal/training"
)

// parser reads one note. Lines change the context, open and mark trials, or add
// remarks; begin and finish bound the sessions.
type parser struct {
	o     Options
	k     training.Kennel
	res   Result
	lines []string
	parts map[string]int // sessions so far by dog and start

	ctx      context
	own      map[string]bool // keys that this session's own lines have set
	ownStart bool            // the start is this session's: its own lines or the flags gave it
	failed   map[string]bool // keys whose last value was refused: that they lack is reported

	binary    bool       // this is no text: reading on would only list nonsense
	at        int        // line being read, 0 after the last
	words     []spelling // see spellings
	wordsDog  string
	wordsCues int

	first   int // line with which the session begins
	trials  []*trial
	remarks []training.Remark
	asked   bool // what the session lacks has been reported
	held    map[string]bool

	made    int      // trials so far, of all sessions
	pending *pending // a cue whose marks are on the lines below it

	wallClock bool   // the clocks of this session are times of day
	open      *trial // timed: the trial that marks attach to
	walk      *trial // timed: the walk that goes on meanwhile
	clock     int64  // timed: last clock in ms, -1 = none yet
}

func copyKennel(k training.Kennel) training.Kennel {
	return training.Kennel{
		Dogs: append([]training.Dog(nil), k.Dogs...), Handlers: append([]training.Handler(nil), k.Handlers...),
		Places: append([]training.Place(nil), k.Places...), Devices: append([]training.Device(nil), k.Devices...),
		Cues: append([]training.Cue(nil), k.Cues...),
	}
}

// pending is a line with a cue alone.
type pending struct {
	l        line
	cue      training.Cue
	from, to int
	items    []item // what its trials begin with
	used     bool
}

func (p *parser) report(pr Problem, l line, from, to int) {
	p.place(&pr, l, from, to)
	for _, have := range p.res.Problems {
		if have.Error() == pr.Error() {
			return // a level that several parts of a session share
		}
	}
	p.res.Problems = append(p.res.Problems, pr)
}

func (p *parser) place(pr *Problem, l line, from, to int) {
	pr.File, pr.Line, pr.Text = p.o.Name, l.no, string(l.typed)
	if l.no < 0 {
		pr.File, pr.Line = "flags", 0
	}
	pr.Column, pr.Width = l.span(from, to)
}

func (p *parser) problem(l line, from, to int, c code, with ...string) {
	p.report(say(c, with...), l, from, to)
}

func (p *parser) warning(pr Problem, l line, from, to int) {
	p.place(&pr, l, from, to)
	p.res.Warnings = append(p.res.Warnings, pr)
}

func (p *parser) warn(l line, from, to int, c code, with ...string) {
	p.warning(say(c, with...), l, from, to)
}

func (p *parser) isNew(n Name) {
	for _, have := range p.res.New {
		if have.Kind == n.Kind && nameKey(have.Name) == nameKey(n.Name) {
			return
		}
	}
	p.res.New = append(p.res.New, n)
}

// whole reports a problem of the note, or of a line that cannot be shown.
func (p *parser) whole(c code, line, column int, text string, with ...string) {
	pr := say(c, with...)
	pr.File, pr.Line, pr.Column, pr.Text = p.o.Name, line, column, clip(text)
	if column > 0 {
		pr.Width = 1
	}
	p.res.Problems = append(p.res.Problems, pr)
}

const maxProblems = 200

func (p *parser) read(b []byte) {
	if len(b) > maxNote {
		p.whole("note-long", 0, 0, "", "n", strconv.Itoa(len(b)))
		return
	}
	text, err := decode(b)
	if err != nil {
		p.res.Problems = append(p.res.Problems, Problem{File: p.o.Name, Message: err.Error()})
		return
	}
	p.lines = splitLines(text)
	p.begin(1)
	p.failed, p.clock = map[string]bool{}, -1
	for _, s := range splitLines(p.o.Defaults) {
		if l := newLine(-1, s); strings.TrimSpace(string(l.text)) != "" {
			p.context(l, 0)
		}
	}
	p.own = map[string]bool{}
	said := false
	for i, s := range p.lines {
		p.at = i + 1
		if p.line(i+1, s) {
			said = true
		}
		if p.binary || p.made > maxTrials {
			return
		}
		if len(p.res.Problems) >= maxProblems {
			p.whole("more-problems", 0, 0, "")
			return
		}
	}
	p.at = 0
	p.finish()
	switch {
	case len(p.res.Problems) > 0 || len(p.res.Sessions) > 0:
	case said:
		p.whole("note-nothing", 0, 0, "")
	default:
		p.whole("note-empty", 0, 0, "")
	}
}

// text reports what no text has on a line.
func (p *parser) text(no int, s string) bool {
	rs := []rune(s)
	col, repaired := badByte(s)
	ctl := controlRune(rs)
	switch {
	case col > 0 && (len(s) > maxLine || controlRune([]rune(repaired)) >= 0):
		p.binary = true
		p.whole("not-text", no, col, repaired)
	case col > 0:
		p.whole("not-utf8", no, col, repaired)
	case ctl >= 0:
		p.binary = true
		p.whole("control", no, ctl+1, s, "w", fmt.Sprintf("U+%04X", rs[ctl]))
	case len(rs) > maxLine:
		p.whole("line-long", no, maxLine+1, s, "n", strconv.Itoa(len(rs)), "most", strconv.Itoa(maxLine))
	default:
		return true
	}
	return false
}

// clip leaves out the text of a line that is too long to be shown.
func clip(s string) string {
	if len([]rune(s)) > maxLine {
		return ""
	}
	return s
}

// line reads one line and reports whether there was anything on it.
func (p *parser) line(no int, s string) bool {
	if !p.text(no, s) {
		return true
	}
	l := newLine(no, s)
	at := skipBullet(l.text)
	if r, ok := p.remark(l, at, ""); ok {
		p.addRemark(r)
		return true
	}
	at = p.skipList(l, at)
	if r, ok := p.remark(l, at, ""); ok {
		p.addRemark(r)
		return true
	}
	if at == len(l.text) || comment(l.text) <= at {
		return false
	}
	if key, _, _, ok := contextKey(l.text, at); ok && p.isContext(l, at, key) {
		p.closePending()
		p.context(l, at)
		return true
	}
	l.undecorate()
	at = min(at, len(l.text))
	if strings.TrimSpace(string(l.text[at:])) == "" && l.answer == "" {
		return false
	}
	p.trialLine(l, at)
	return true
}

// isContext tells a context line from marks, from a cue with a colon, and from a
// line of prose.
func (p *parser) isContext(l line, at int, key string) bool {
	if keyNamed(key) != nil {
		return true
	}
	if _, isMark := forms[key]; isMark {
		return false
	}
	if _, end, _ := p.cue(l.text, at); end > at {
		return false
	}
	return len(Nearest(key, p.cueNames())) == 0 && (len(Nearest(key, keyNames())) > 0 || strings.Contains(string(l.text), ";"))
}

// skipList returns where the text begins after "- " or "1. " as lists have
// them, when a known cue, a key or a remark follows, or an answer below a cue
// that stands alone; else at.
func (p *parser) skipList(l line, at int) int {
	j := at
	switch {
	case j+1 < len(l.text) && l.text[j] == '-' && l.text[j+1] == ' ':
		j += 2
	default:
		for j < len(l.text) && asciiDigit(l.text[j]) {
			j++
		}
		if j == at || j-at > 2 || j+1 >= len(l.text) || l.text[j] != '.' && l.text[j] != ')' || l.text[j+1] != ' ' {
			return at
		}
		j += 2
	}
	for j < len(l.text) && l.text[j] == ' ' {
		j++
	}
	if j == len(l.text) {
		return at
	}
	if l.text[j] == '>' || p.pending != nil && !strings.ContainsRune("-+@", l.text[j]) {
		return j
	}
	if _, end, _ := p.cue(l.text, j); end > j {
		return j
	}
	if key, _, _, ok := contextKey(l.text, j); ok && keyNamed(key) != nil {
		return j
	}
	return at
}

// remark reads `> text`, `! text` and the dictated `note text`.
func (p *parser) remark(l line, at int, before string) (training.Remark, bool) {
	if at >= len(l.text) {
		return training.Remark{}, false
	}
	r := training.Remark{Line: l.no - p.first + 1}
	typed := []rune(l.typedFrom(at))
	switch {
	case l.text[at] == '>':
		r.Text = string(typed[1:])
	case l.text[at] == '!':
		r.Text, r.Incident = string(typed[1:]), true
	default:
		low := strings.ToLower(string(l.text[at:min(len(l.text), at+5)]))
		if low != "note " && low != "note:" {
			return r, false
		}
		if _, end, _ := p.cue(l.text, at); end > at {
			return r, false
		}
		r.Text = l.typedFrom(at + 5)
	}
	r.Text = strings.TrimSpace(before + strings.TrimSpace(r.Text))
	return r, true
}

func (p *parser) addRemark(r training.Remark) {
	if r.Text != "" {
		p.remarks = append(p.remarks, r)
	}
}
