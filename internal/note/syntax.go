package note

import (
	"slices"
	"strings"

	"firstcue/internal/training"
)

// form is what an item of a trial line is, whatever the kind of its cue.
type form int

const (
	fYes form = iota
	fNo
	fWrong
	fCorrect
	fHelp
	fApart // early, already, unscored
	fAgain
	fReleased
	fStart
	fNext
	fSignal
	fDistance
	fLength
	fTally
)

// item is one piece of meaning on a trial line, with its place.
type item struct {
	form     form
	from, to int
	text     string // as written
	n        int    // how often
	counted  bool   // a number said how often
	said     bool   // a word or picture, not a sign
	at, done training.Num
	arrow    bool // +1.2>
	begun    bool // +1.0>-
	long     bool // an em dash
	unsure   bool // 5m, which some write for minutes
	name     string
	fix      training.Correction
	tally    training.Tally
}

func (it item) answer() bool { return it.form <= fWrong }

// trial reports an item that by itself makes a trial.
func (it item) trial() bool {
	return it.form <= fWrong || it.form == fApart || it.form == fTally || it.form == fReleased
}

var forms = map[string]form{
	"+": fYes, "yes": fYes, "y": fYes, "yep": fYes, "yeah": fYes, "yup": fYes, "ok": fYes, "okay": fYes, "good": fYes,
	"-": fNo, "no": fNo, "n": fNo, "nope": fNo, "nah": fNo, "broke": fNo, "x": fWrong, "wrong": fWrong,
	"@": fCorrect, "level": fCorrect, "lvl": fCorrect, "leash": fCorrect, "verbal": fCorrect, "help": fHelp, "lure": fHelp,
	"?": fApart, "unscored": fApart, "early": fApart, "already": fApart, "again": fAgain,
	"released": fReleased, "release": fReleased, "start": fStart, ",": fNext, "next": fNext, ";": fNext,
}

var directions = []string{"forward", "ahead", "back", "behind", "left", "right", "wide"}

// wordList is what a mistyped word is compared with.
var wordList = []string{"yes", "good", "no", "wrong", "level", "leash", "verbal", "help", "lure", "unscored", "early", "already",
	"again", "released", "release", "start", "next", "voice", "hand", "whistle", "tone", "vibration", "context", "broke"}

// meant are words that are no marks, with the mark that is likely meant.
var meant = map[string]string{"done": "released", "finished": "released", "free": "released", "minus": "no", "plus": "yes",
	"treat": "yes", "nothing": "no", "ignored": "no", "correction": "leash", "pop": "leash"}

func (t token) form() (form, bool) {
	if t.kind == tPict {
		switch {
		case strings.Contains(yesPictures, t.s):
			return fYes, true
		case strings.Contains(noPictures, t.s):
			return fNo, true
		}
		return 0, false
	}
	if t.kind != tWord && t.kind != tSym {
		return 0, false
	}
	f, ok := forms[t.s]
	return f, ok
}

func (t token) signal() bool {
	return t.kind == tWord && slices.Contains(training.Signals, training.Signal(t.s))
}

// syntax turns the tokens of a line into items. What the kind of the cue decides
// here is only which reading of a number is offered.
type syntax struct {
	text []rune
	typd func(from, to int) string
	toks []token
	i    int
	cue  training.Cue
	fail report
	bad  bool
	out  []item
}

func (s *syntax) at(i int) token {
	if i >= 0 && i < len(s.toks) {
		return s.toks[i]
	}
	return token{kind: tBad, from: len(s.text), to: len(s.text), gap: true}
}

func (s *syntax) tok() token { return s.at(s.i) }

func (s *syntax) problem(from, to token, c code, with ...string) {
	s.bad = true
	with = append(with, "cue", s.cue.Name, "w", string(s.text[from.from:max(to.to, from.from)]))
	s.fail(from.from, to.to, say(c, with...))
}

// start reports that no mark stands before the item at hand in its group: only a
// signal or a distance, which carries its unit.
func (s *syntax) start() bool {
	for i := len(s.out) - 1; i >= 0 && s.out[i].form != fNext; i-- {
		if f := s.out[i].form; f != fSignal && f != fDistance {
			return false
		}
	}
	return true
}

func (s *syntax) put(it item, first, last token) {
	it.from, it.to = first.from, last.to
	it.text = string(s.text[it.from:it.to])
	it.n = max(it.n, 1)
	if it.counted && it.name == "0" {
		it.n, it.name = 0, ""
	}
	s.out = append(s.out, it)
}

// items reads the line to its end.
func (s *syntax) items() []item {
	for s.i < len(s.toks) {
		t := s.tok()
		f, isMark := t.form()
		switch {
		case t.kind == tBad:
			s.bad = true
			s.i++
		case s.breaks():
		case t.signal():
			s.signals()
		case t.kind == tRatio:
			s.tally(t)
		case t.kind == tTime, t.kind == tNum:
			s.number(t)
		case t.word("at", "from") && s.quantity(s.i+1).metres.Known:
			s.i++
		case isMark && f == fNext:
			s.i++
			s.put(item{form: fNext}, t, t)
		case isMark:
			s.mark(t, token{}, 1)
		case t.kind == tWord && strings.Trim(t.s, "x") == "": // xx, xxx
			s.i++
			s.put(item{form: fWrong, n: len(t.s), name: "?"}, t, t)
		default:
			s.unknown(t)
		}
	}
	s.metres()
	return s.out
}

// breaks reads how many breaks a walk had, in words: two breaks, 1 break, no
// breaks.
func (s *syntax) breaks() bool {
	t, word := s.tok(), s.at(s.i+1)
	if s.cue.Kind != training.Motion || !word.word("break", "breaks") {
		return false
	}
	it := item{form: fNo, counted: true}
	switch {
	case t.word("no") || t.whole() && t.v == 0:
		it.name = "0"
	case t.whole() && t.v <= 100:
		it.n = int(t.v)
	default:
		return false
	}
	s.i += 2
	if it.name == "" {
		it.name = s.direction()
	}
	s.put(it, t, s.at(s.i-1))
	return true
}

// direction reads where the dog went, behind a break.
func (s *syntax) direction() string {
	if s.cue.Kind != training.Motion || !s.tok().word(directions...) {
		return ""
	}
	s.i++
	return s.at(s.i - 1).s
}

// signals reads one or more signals given together.
func (s *syntax) signals() {
	first := s.tok()
	var got []string
	for s.tok().signal() {
		got = append(got, s.tok().s)
		s.i++
		if plus := s.tok(); plus.is("+") && !plus.gap && s.at(s.i+1).signal() && !s.at(s.i+1).gap {
			s.i++
		}
	}
	var all []string
	for _, sig := range training.Signals {
		if slices.Contains(got, string(sig)) {
			all = append(all, string(sig))
		}
	}
	s.put(item{form: fSignal, name: strings.Join(all, "+")}, first, s.at(s.i-1))
}

func (s *syntax) tally(t token) {
	s.i++
	if prev := len(s.out) - 1; prev >= 0 && s.out[prev].answer() {
		s.problem(s.at(s.i-2), t, "tally-glued")
		return
	}
	s.put(item{form: fTally, tally: training.Tally{Yes: t.yes, Of: t.of}}, t, t)
}

// unknown refuses a word that is no mark.
func (s *syntax) unknown(t token) {
	s.i++
	last := t
	switch {
	case t.kind == tWord && misheard[t.s] != "":
		s.problem(t, t, "misheard", "n", misheard[t.s])
		if s.tok().word("out", "of") { // ate of ten
			s.i++
			if s.tok().word("of") {
				s.i++
			}
			if s.tok().kind == tNum {
				s.i++
			}
		}
		return
	case t.kind == tPict:
		s.problem(t, t, "picture")
		return
	case t.is("#"):
		if s.tok().kind == tNum {
			s.i++
			s.problem(t, s.at(s.i-1), "number-sign", "n", s.at(s.i-1).s)
			return
		}
	case t.kind == tWord: // a run of words is one remark, not many problems
		for {
			x := s.tok()
			if _, isMark := x.form(); x.kind != tWord || isMark || x.signal() || misheard[x.s] != "" {
				break
			}
			last = x
			s.i++
		}
	}
	if s.cue.Kind == training.Motion && last.word("break", "breaks") {
		s.problem(t, last, "walk-breaks")
		return
	}
	s.bad = true
	pr := say("not-mark", "w", s.typd(t.from, last.to))
	pr.Near = Nearest(t.s, wordList)
	if m := meant[t.s]; m != "" {
		pr.Near = []string{m}
	}
	s.fail(t.from, last.to, pr)
}
