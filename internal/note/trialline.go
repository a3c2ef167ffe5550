package note

import (
	"slices"
	"strings"

	"firstcue/internal/training"
)

// trialLine reads a line that is neither context nor remark: its cue, its syntax,
// and then what that means with or without a clock.
func (p *parser) trialLine(l line, at int) {
	clock, rest, ok := p.readClock(l, at)
	if !ok {
		return
	}
	if clock >= 0 && rest < len(l.text) && strings.ContainsRune(">!", l.text[rest]) {
		rm, _ := p.remark(l, rest, strings.TrimSpace(string(l.typed[l.from[at]:l.to[rest-1]]))+" ")
		p.addRemark(rm)
		return
	}
	lead, cueAt := "", rest
	if clock >= 0 {
		lead, cueAt = p.lead(l, rest)
	}
	cues, end, words := p.cue(l.text, cueAt)
	switch {
	case len(cues) > 1:
		var names []string
		for i, c := range cues {
			names = append(names, c.Name+" (\""+words[i]+"\")")
		}
		p.problem(l, cueAt, end, "two-cues", "w", string(l.text[cueAt:end]), "which", strings.Join(names, " and "))
		return
	case len(cues) == 0:
		p.noCue(l, at, rest, clock)
		return
	}
	w := where{p: p, l: l, cue: cues[0], from: cueAt, to: end}
	if w.cue.Kind == "" {
		w.cue.Kind = training.Response
	}
	p.closePending()
	w.syntax(p.behind(l, w.cue, end))
	if clock >= 0 {
		t := &timed{where: w}
		t.openCue(clock, lead)
		return
	}
	p.closeTimed()
	if !w.bad && w.unanswered() {
		if l.answer != "" {
			p.picture(l)
			return
		}
		p.pending = &pending{l: l, cue: w.cue, from: cueAt, to: end, items: w.items}
		return
	}
	u := &untimed{where: w}
	u.read()
}

// unanswered reports a cue with nothing behind it but what its trials begin with:
// the answers may be on the lines below.
func (w *where) unanswered() bool {
	return !slices.ContainsFunc(w.items, func(it item) bool {
		return it.form != fSignal && it.form != fDistance && (it.form != fLength || w.cue.Kind != training.Holding)
	})
}

// lead finds early, already or unscored between a clock and its cue.
func (p *parser) lead(l line, rest int) (lead string, cueAt int) {
	for word, outcome := range map[string]training.Outcome{"early": training.Early, "already": training.Already, "unscored": training.Unscored, "?": training.Unscored} {
		e := matchWords(l.text, rest, word)
		if e == rest || e == len(l.text) {
			continue
		}
		for e < len(l.text) && l.text[e] == ' ' {
			e++
		}
		if _, end, _ := p.cue(l.text, e); end > e {
			return string(outcome), e
		}
	}
	return "", rest
}

// behind returns where the marks of a cue begin: behind a colon, and behind the
// name of what the dog does at a situation that is a cue, as in halt sit +.
func (p *parser) behind(l line, cue training.Cue, end int) int {
	colon := end
	for colon < len(l.text) && l.text[colon] == ' ' {
		colon++
	}
	if colon < len(l.text) && (l.text[colon] == ':' || l.text[colon] == '.' && colon == end) {
		end = colon + 1
	}
	if cue.Signal != "context" {
		return end
	}
	at := end
	for at < len(l.text) && l.text[at] == ' ' {
		at++
	}
	cues, e, _ := p.cue(l.text, at)
	does := strings.ToLower(cue.Meaning + " " + strings.Join(cue.Aliases, " "))
	if len(cues) == 1 && cues[0].Kind == training.Response && slices.Contains(strings.Fields(does), strings.ToLower(cues[0].Name)) {
		return e
	}
	return end
}

// syntax reads the items of the line from at on.
func (w *where) syntax(at int) {
	fail := func(from, to int, pr Problem) {
		w.bad = true
		w.p.report(pr, w.l, from, to)
	}
	s := &syntax{text: w.l.text, typd: w.l.as, cue: w.cue, fail: fail}
	s.toks = lex(w.l.text, at, fail)
	if cut := w.secondCue(s.toks); cut >= 0 {
		s.toks = s.toks[:cut]
	}
	w.items = s.items()
	w.bad = w.bad || s.bad
	w.thumb()
}

// secondCue reports a cue among the marks and returns its token, -1 if none: what
// stands behind it belongs to the other cue.
func (w *where) secondCue(toks []token) int {
	for i, t := range toks {
		_, isMark := t.form()
		named := i > 0 && (toks[i-1].is(":") || toks[i-1].word("wrong") || toks[i-1].is("-") && !toks[i-1].gap && !t.gap)
		if t.kind != tWord || isMark || t.signal() || named {
			continue
		}
		if cues, end, _ := w.p.cue(w.l.text, t.from); len(cues) > 0 {
			w.bad = true
			w.p.problem(w.l, t.from, end, "second-cue", "w", string(w.l.text[t.from:end]))
			return i
		}
	}
	return -1
}

// thumb holds a picture at the end of the line against its last answer.
func (w *where) thumb() {
	up, down := strings.Contains(w.l.answer, thumbUp), strings.Contains(w.l.answer, thumbDown)
	last := endsWith(w.items)
	if len(w.items) > 0 && !w.bad && (up && last == fNo || up && last == fWrong || down && last == fYes || up && down) {
		w.bad = true
		w.p.picture(w.l)
	}
}

// picture reports the first picture of a line.
func (p *parser) picture(l line) {
	pr := say("picture", "w", l.answer)
	p.place(&pr, l, 0, 1)
	for i, r := range l.typed {
		if picture(r) {
			pr.Column, pr.Width = i+1, 1
			break
		}
	}
	p.res.Problems = append(p.res.Problems, pr)
}

// noCue reads a line that begins with no cue: marks of the trial that is open or
// of the cue above, prose, or a slip.
func (p *parser) noCue(l line, at, rest int, clock int64) {
	if clock < 0 && p.noColons(l, rest) {
		return
	}
	quiet := func(int, int, Problem) {}
	toks := lex(l.text, rest, quiet)
	if len(toks) == 0 {
		if clock >= 0 {
			p.problem(l, at, rest, "clock-empty")
		} else {
			p.picture(l)
		}
		return
	}
	_, isMark := toks[0].form()
	heads := isMark || toks[0].signal() || toks[0].kind != tWord || toks[0].word("at")
	cur := p.open
	if cur == nil {
		cur = p.walk
	}
	switch {
	case heads && cur != nil:
		t := &timed{where: where{p: p, l: l, cue: cur.cue, from: rest, to: toks[0].to}, cur: cur, clock: clock}
		t.syntax(rest)
		t.read()
		t.spoiled()
	case heads && p.pending != nil && clock < 0:
		p.pending.used = true
		x := p.pending
		u := &untimed{where: where{p: p, l: l, cue: x.cue, from: rest, to: toks[0].to}}
		u.syntax(rest)
		u.items = append(slices.Clip(x.items), u.items...)
		u.read()
	case heads && (toks[0].kind > tTime || len(toks) < 3 || p.marked(toks)):
		before := len(p.res.Problems)
		lex(l.text, rest, func(from, to int, pr Problem) { p.report(pr, l, from, to) })
		if len(p.res.Problems) == before {
			p.problem(l, toks[0].from, toks[0].to, "no-cue", "w", l.as(toks[0].from, toks[0].to))
		}
	case clock >= 0 || p.marked(toks) || p.slip(l, toks):
		p.notCue(l, toks)
	default:
		p.addRemark(training.Remark{Line: l.no - p.first + 1, Text: strings.TrimSpace(l.typedFrom(rest))})
	}
}

// marked reports that a line has something that only a trial has.
func (p *parser) marked(toks []token) bool {
	for i, t := range toks {
		f, isMark := t.form()
		next := token{kind: tBad, gap: true}
		if i+1 < len(toks) {
			next = toks[i+1]
		}
		switch {
		case t.kind == tRatio, t.kind == tTime && i > 0 && len(toks) <= 3, t.kind == tPict && isMark:
			return true
		case isMark && t.kind == tWord && f <= fWrong && (len(t.s) > 1 || t.s == "x"):
			return true
		case t.is("+"), t.is("@"), t.is(">"):
			return true
		case t.is("-") && i > 0 && t.gap, t.kind == tNum && next.is("-") && !next.gap && i+2 >= len(toks):
			return true
		}
	}
	return false
}

// slip reports that a line without marks is likely a cue misspelt, or has a cue
// behind a name: few words, one of them a cue or nearly one.
func (p *parser) slip(l line, toks []token) bool {
	if len(toks) > 3 {
		return false
	}
	if len(Nearest(toks[0].s, p.cueNames())) > 0 {
		return true
	}
	return slices.ContainsFunc(toks, func(t token) bool {
		_, end, _ := p.cue(l.text, t.from)
		return t.kind == tWord && end > t.from && len(toks) <= 2
	})
}

// closePending reports a cue that stands alone and has no marks below it.
func (p *parser) closePending() {
	x := p.pending
	p.pending = nil
	if x == nil || x.used {
		return
	}
	p.complete(x.l, x.from, x.to)
	t := &trial{cue: x.cue}
	p.problem(x.l, x.from, x.to, t.lacks(), "cue", x.cue.Name)
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
		k := keyNamed(word)
		switch {
		case k != nil && !slices.ContainsFunc(parts, func(x part) bool { return x.key == k.name }):
			parts = append(parts, part{key: k.name})
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
	first := parts[0]
	if _, isMark := forms[first.key]; len(parts) == 1 && isMark && p.hasTrials() {
		if _, err := ReadTime(first.value, p.o.Now); first.key != "start" || err != nil {
			return false // a mark of the trial above
		}
	}
	if len(parts) == 1 && !slices.Contains([]string{"dog", "start", "handler", "place", "leash", "distraction", "device"}, first.key) {
		return false // prose: collar seemed loose
	}
	var write []string
	for _, x := range parts {
		write = append(write, strings.TrimSpace(x.key+": "+x.value))
		p.failed[x.key] = true
	}
	p.problem(l, at, len(l.text), "no-colons", "line", strings.Join(write, "; "))
	return true
}
