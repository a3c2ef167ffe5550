package note

import (
	"slices"
	"strings"
	"unicode"

	"firstcue/internal/training"
)

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
		w := token{kind: tWord, s: strings.ToLower(string(text[i+1 : j]))}
		if _, isMark := w.form(); w.s != "" && !isMark && !w.signal() && strings.Trim(w.s, "x") != "" {
			return at
		}
	}
	return i
}

// notCue reports a line with marks whose head is no cue: the nearest cues, or the
// cue further on.
func (p *parser) notCue(l line, toks []token) {
	first, j := toks[0], 1
	for j < len(toks) {
		_, isMark := toks[j].form()
		hyphen := toks[j].is("-") && !toks[j].gap && j+1 < len(toks) && toks[j+1].kind == tWord && !toks[j+1].gap
		if !hyphen && (isMark || toks[j].kind != tWord || toks[j].signal()) {
			break
		}
		j++
	}
	last := toks[j-1]
	name := strings.ToLower(string(l.text[first.from:last.to]))
	near := Nearest(name, p.cueNames())
	if len(near) == 0 {
		if near = Nearest(first.s, p.cueNames()); len(near) > 0 {
			last = first
		}
	}
	c, inner := code("not-cue"), ""
	if len(p.k.Cues) == 0 {
		c = "no-cues-known"
	}
	for _, t := range toks[1:] {
		if _, end, _ := p.cue(l.text, t.from); end > t.from && t.kind == tWord && len(near) == 0 {
			c, inner = "cue-inside", string(l.text[t.from:end])
			break
		}
	}
	pr := say(c, "w", l.as(first.from, last.to), "cue", inner)
	pr.Near = near
	p.report(pr, l, first.from, last.to)
}

func (p *parser) cueNames() (names []string) {
	for _, s := range p.spellings() {
		names = append(names, s.word)
	}
	return names
}

// declare reads cues: the names of cues, new ones when new names are allowed.
func (p *parser) declare(l line, pr pair) {
	for _, name := range strings.Split(pr.value, ",") {
		name = strings.Join(strings.Fields(strings.ToLower(undecorated(name))), " ")
		if _, known := p.k.Cue(name); known || name == "" {
			continue
		}
		if odd(name) {
			p.problem(l, pr.mid, pr.to, "name-odd", "w", name, "kind", "cue")
			return
		}
		if !p.o.AllowNew {
			p.problem(l, pr.mid, pr.to, "cues-new", "w", name, "command", p.o.command())
			return
		}
		if close := slips(name, p.cueNames()); len(close) > 0 {
			x := say("name-close", "w", name, "kind", "cue")
			x.Near = close
			p.report(x, l, pr.mid, pr.to)
			return
		}
		p.k.Cues = append(p.k.Cues, training.Cue{Name: name, Kind: training.Response})
		p.isNew(Name{Kind: "cue", Name: name, CueKind: training.Response})
	}
}
