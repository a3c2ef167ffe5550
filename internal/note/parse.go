package note

import (
	"fmt"
	"slices"
	"strings"
	"unicode"

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

	open  *trial // timed: the trial that marks attach to
	walk  *trial // timed: the walk that goes on meanwhile
	clock int64  // timed: last clock in ms, -1 = none yet
}

func copyKennel(k training.Kennel) training.Kennel {
	return training.Kennel{
		Dogs: append([]training.Dog(nil), k.Dogs...), Handlers: append([]training.Handler(nil), k.Handlers...),
		Places: append([]training.Place(nil), k.Places...), Devices: append([]training.Device(nil), k.Devices...),
		Cues: append([]training.Cue(nil), k.Cues...),
	}
}

func (p *parser) report(pr Problem, l line, from, to int) {
	pr.File, pr.Line, pr.Text = p.o.Name, l.no, string(l.typed)
	if l.no < 0 {
		pr.File, pr.Line = "flags", 0
	}
	pr.Column, pr.Width = l.span(from, to)
	for _, have := range p.res.Problems {
		if have.Error() == pr.Error() {
			return // a level that several parts of a session share
		}
	}
	p.res.Problems = append(p.res.Problems, pr)
}

func (p *parser) problem(l line, from, to int, message, want string) {
	p.report(Problem{Message: message, Want: want}, l, from, to)
}

func (p *parser) warn(l line, from, to int, message, want string) {
	w := Problem{File: p.o.Name, Line: max(l.no, 0), Text: string(l.typed), Message: message, Want: want}
	w.Column, w.Width = l.span(from, to)
	p.res.Warnings = append(p.res.Warnings, w)
}

func (p *parser) isNew(n Name) {
	for _, have := range p.res.New {
		if have.Kind == n.Kind && nameKey(have.Name) == nameKey(n.Name) {
			return
		}
	}
	p.res.New = append(p.res.New, n)
}

func (p *parser) whole(message, want string) {
	p.res.Problems = append(p.res.Problems, Problem{File: p.o.Name, Message: message, Want: want})
}

func (p *parser) read(b []byte) {
	if len(b) > maxNote {
		p.whole(fmt.Sprintf("the note has %d bytes; a note has at most 1 MiB", len(b)), "give one note, not a collection")
		return
	}
	text, err := decode(b)
	if err != nil {
		p.whole(err.Error(), "")
		return
	}
	p.lines = splitLines(text)
	p.begin(1)
	p.failed, p.clock = map[string]bool{}, -1
	for _, s := range splitLines(p.o.Defaults) {
		p.defaults(s)
	}
	p.own = map[string]bool{}
	said := false
	for i, s := range p.lines {
		p.at = i + 1
		if p.line(i+1, s) {
			said = true
		}
		if p.binary {
			return
		}
		if len(p.res.Problems) >= maxProblems {
			p.whole("more problems follow; these come first", "")
			return
		}
	}
	p.at = 0
	p.finish()
	if len(p.res.Problems) > 0 || len(p.res.Sessions) > 0 {
		return
	}
	const want = "write a line such as dog: Pip; handler: Maren; start: today 9:10; place: yard and a line for each cue, such as sit 3+"
	if said {
		p.whole("the note has no trials and no remarks", "add a line for each cue, such as sit 3+")
	} else {
		p.whole("the note is empty", want)
	}
}

const maxProblems = 200

// defaults reads one context line that flags have supplied.
func (p *parser) defaults(s string) {
	l := newLine(-1, s)
	if strings.TrimSpace(string(l.text)) == "" {
		return
	}
	p.context(l, 0)
}

// line reads one line and reports whether there was anything on it.
func (p *parser) line(no int, s string) bool {
	if col, text := badByte(s); col > 0 {
		pr := Problem{File: p.o.Name, Line: no, Column: col, Width: 1, Text: clip(text),
			Message: "this is not UTF-8 text", Want: "save the note as UTF-8 and try again"}
		if len(s) > maxLine || controlRune([]rune(text)) >= 0 {
			pr.Message, pr.Want = "this is not text", "give the note as a text file"
		}
		p.res.Problems = append(p.res.Problems, pr)
		p.binary = p.binary || pr.Message == "this is not text"
		return true
	}
	rs := []rune(s)
	if i := controlRune(rs); i >= 0 {
		p.binary = true
		p.res.Problems = append(p.res.Problems, Problem{File: p.o.Name, Line: no, Column: i + 1, Width: 1, Text: clip(s),
			Message: fmt.Sprintf("this is not text: it has the control character U+%04X", rs[i]), Want: "give the note as a text file"})
		return true
	}
	if len(rs) > maxLine {
		p.res.Problems = append(p.res.Problems, Problem{File: p.o.Name, Line: no, Column: maxLine + 1, Width: 1, Text: clip(s),
			Message: fmt.Sprintf("the line has %d characters; a line has at most %d", len(rs), maxLine), Want: "put each cue on a line of its own"})
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
	if at == len(l.text) || l.text[at] == '#' {
		return false
	}
	if key, _, _, ok := contextKey(l.text, at); ok && p.isContext(l, at, key) {
		for i, r := range l.text {
			if r == '#' {
				l.cut(i)
				break
			}
		}
		p.context(l, at)
		return true
	}
	l.undecorate()
	at = min(at, len(l.text))
	if strings.TrimSpace(string(l.text[at:])) == "" {
		if l.answer != "" {
			p.trialLine(l, at)
			return true
		}
		return false
	}
	p.trialLine(l, at)
	return true
}

// clip leaves out the text of a line that is too long to be shown.
func clip(s string) string {
	if len([]rune(s)) > maxLine {
		return ""
	}
	return s
}

// isContext tells a context line from marks and from a cue with a colon.
func (p *parser) isContext(l line, at int, key string) bool {
	for _, k := range keys {
		if k == key {
			return true
		}
	}
	if key == "x" || key == "help" || key == "wrong" {
		return false
	}
	_, end, _ := p.cue(l.text, at)
	return end == at
}

// skipList returns where the text begins after "- " or "1. " as lists have
// them, when a known cue, a key or a remark follows; else at.
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
	if l.text[j] == '>' {
		return j
	}
	if _, end, _ := p.cue(l.text, j); end > j {
		return j
	}
	if key, _, _, ok := contextKey(l.text, j); ok && key != "x" && key != "help" && key != "wrong" {
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

func (p *parser) hasTrials() bool  { return len(p.trials) > 0 }
func (p *parser) hasRemarks() bool { return len(p.remarks) > 0 }

// begin starts a session with line no.
func (p *parser) begin(no int) {
	p.first = max(no, 1)
	p.own = map[string]bool{}
	p.trials, p.remarks, p.asked, p.held = nil, nil, false, map[string]bool{}
}

// finish closes the session that began with begin, up to the line before the
// one that was read last.
func (p *parser) finish() {
	p.closeTimed()
	if !p.hasTrials() && !p.hasRemarks() {
		return
	}
	end := len(p.lines)
	if p.at > 0 {
		end = p.at - 1
	}
	p.complete(newLine(p.first, p.lines[p.first-1]), 0, 0)
	c := p.ctx
	s := training.Session{
		Dog: c.dog.Name, Handler: c.handler, Scorer: c.scorer, Start: c.start.Time, Zone: c.start.Zone,
		Place: c.place, Leash: c.leash, Distraction: c.distraction, Device: c.device, WorkingLevel: c.level,
		Weather: c.weather, Reward: c.reward, Source: c.source, Baseline: c.baseline, Remarks: p.remarks,
		Note: strings.Join(p.lines[p.first-1:end], "\n"),
	}
	if s.Scorer == s.Handler {
		s.Scorer = ""
	}
	if s.Source == "" {
		s.Source = training.Memory
	}
	for _, t := range p.trials {
		s.Trials = append(s.Trials, t.out)
		for _, k := range t.out.Corrections {
			if k.Device != "" {
				s.Device = k.Device
			}
		}
	}
	if s.WorkingLevel.Known {
		s.Device = p.deviceOf(c)
	}
	id := s.Dog + "\x00" + s.Start.UTC().String()
	s.Part = p.parts[id]
	if c.part > 0 {
		s.Part = c.part - 1
	}
	p.parts[id] = max(p.parts[id], s.Part+1)
	c.part = s.Part + 1
	s.Carried = c.lines(p.own)
	p.res.Sessions = append(p.res.Sessions, s)
}

// complete reports, once for a session, what it lacks.
func (p *parser) complete(l line, from, to int) {
	if p.asked {
		return
	}
	p.asked = true
	for _, k := range []string{"dog", "handler", "start", "place"} {
		if p.ctx.value(k) != "" || p.failed[k] {
			continue
		}
		message := "the note does not say which " + k
		switch k {
		case "start":
			message = "the note does not say when"
			if len(p.res.Sessions) > 0 {
				message = "this session has no start: every dog and session needs its own"
			}
		case "handler":
			message = "the note does not say who gave the cues"
		case "place":
			message = "the note does not say where"
		}
		want := "add a line above: " + keyExample(k)
		if p.o.Ask != nil {
			want = p.o.Ask(k)
		}
		p.problem(l, from, to, message, want)
	}
	if c := p.ctx; c.level.Known {
		p.checkLevel(c, c.level.V, c.levelLine, c.levelFrom, c.levelTo)
	}
	var open []string
	if p.ctx.leash == "" && !p.failed["leash"] {
		open = append(open, "leash")
	}
	if !p.ctx.distraction.Known && !p.failed["distraction"] {
		open = append(open, "distraction")
	}
	if len(open) > 0 {
		want := "add a line above: leash: off; distraction: 2"
		if p.o.Ask != nil {
			var each []string
			for _, k := range open {
				each = append(each, p.o.Ask(k))
			}
			want = strings.Join(each, ", ")
		}
		p.warn(l, from, to, strings.Join(open, " and ")+" not said: kept as unknown", want)
	}
	if c := p.ctx; !c.start.Time.IsZero() && len(c.dog.Boardings) > 0 {
		day := training.DayOf(c.start.Time)
		if _, ok := c.dog.Boarding(day); !ok {
			p.warn(l, from, to, fmt.Sprintf("%s had not arrived on %s", c.dog.Name, day), "check the date")
		}
	}
}

// spelling is one way to write a cue.
type spelling struct {
	cue  training.Cue
	word string
	key  string
}

// spellings lists how cues may be written for the dog in force: the kennel's
// names and aliases and the dog's own words.
func (p *parser) spellings() []spelling {
	if len(p.words) > 0 && p.wordsDog == p.ctx.dog.Name && p.wordsCues == len(p.k.Cues) {
		return p.words
	}
	p.words, p.wordsDog, p.wordsCues = nil, p.ctx.dog.Name, len(p.k.Cues)
	add := func(c training.Cue, word string) {
		if key := nameKey(word); key != "" {
			p.words = append(p.words, spelling{c, word, key})
		}
	}
	for _, c := range p.k.Cues {
		add(c, c.Name)
		for _, a := range c.Aliases {
			add(c, a)
		}
	}
	for _, w := range p.ctx.dog.Words {
		if c, ok := p.k.Cue(w.Cue); ok {
			add(c, w.Word)
		}
	}
	return p.words
}

// cue finds the longest known cue at text[at:]. end is at when there is none;
// two cues of one length are both returned.
func (p *parser) cue(text []rune, at int) (cues []training.Cue, end int, words []string) {
	end = at
	for _, s := range p.spellings() {
		e := matchWords(text, at, s.key)
		switch {
		case e <= at || e < end:
		case e > end:
			cues, end, words = []training.Cue{s.cue}, e, []string{s.word}
		case !slices.ContainsFunc(cues, func(c training.Cue) bool { return training.Key(c.Name) == training.Key(s.cue.Name) }):
			cues, words = append(cues, s.cue), append(words, s.word)
		}
	}
	return cues, end, words
}

// matchWords returns the end of the words at text[at:], or at. Blanks between
// words may be many; a letter must not follow.
func matchWords(text []rune, at int, key string) int {
	i := at
	for _, r := range key {
		if r == ' ' {
			if i >= len(text) || text[i] != ' ' {
				return at
			}
			for i < len(text) && text[i] == ' ' {
				i++
			}
			continue
		}
		if i >= len(text) || unicode.ToLower(text[i]) != r {
			return at
		}
		i++
	}
	if i < len(text) && (unicode.IsLetter(text[i]) || unicode.Is(unicode.Mn, text[i])) {
		return at
	}
	if i < len(text) && text[i] == '-' { // sit-stay is one word, sit-x two
		j := i + 1
		for j < len(text) && unicode.IsLetter(text[j]) {
			j++
		}
		if w := (token{kind: tWord, s: strings.ToLower(string(text[i+1 : j]))}); w.s != "" && w.mark() == notMark && !w.signal() && strings.Trim(w.s, "x") != "" {
			return at
		}
	}
	return i
}
