package note

import (
	"fmt"
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

// quantity is a number with its unit; n is how many tokens it takes, 0 for a
// number alone.
type quantity struct {
	seconds, metres training.Num
	n               int
	unsure          bool // 5m
	runOn           bool // 1 min 30
}

func (s *syntax) quantity(i int) quantity {
	t, u := s.at(i), s.at(i+1)
	if t.kind == tTime {
		n := 1
		if u.word("min", "mins", "minute", "minutes", "m") {
			n = 2
		}
		return quantity{seconds: training.Known(t.v), n: n}
	}
	if t.kind != tNum || u.kind != tWord {
		return quantity{}
	}
	q := quantity{n: 2}
	switch u.s {
	case "s", "sec", "secs", "second", "seconds":
		q.seconds = training.Known(round(t.v))
	case "ms":
		q.seconds = training.Known(round(t.v / 1000))
	case "min", "mins", "minute", "minutes":
		s.minutes(t, i, &q)
	case "m", "metre", "metres", "meter", "meters":
		q.metres, q.unsure = training.Known(round(t.v)), u.s == "m"
	case "ft", "foot", "feet":
		q.metres = training.Known(round(t.v * 0.3048))
	case "yd", "yds", "yard", "yards":
		q.metres = training.Known(round(t.v * 0.9144))
	default:
		return quantity{}
	}
	if q.metres.Known && s.at(i+2).word("away", "off", "out") {
		q.n, q.unsure = 3, false
	}
	return q
}

// minutes reads what follows a number of minutes: its seconds, or a number that
// may be them.
func (s *syntax) minutes(t token, i int, q *quantity) {
	q.seconds = training.Known(round(t.v * 60))
	next, u := s.at(i+2), s.at(i+3)
	if next.word("and") {
		next, u = s.at(i+3), s.at(i+4)
		q.n++
	}
	switch {
	case next.kind != tNum && q.n == 3:
		q.n = 2
	case next.kind != tNum:
	case t.whole() && next.v < 60 && u.word("s", "sec", "secs", "second", "seconds"):
		q.seconds.V = round(q.seconds.V + next.v)
		q.n += 2
	case s.counts(next, u) && !next.said || u.word("break", "breaks") && next.v < 10 || s.quantityUnit(u):
	default:
		q.runOn = true
		q.n++
	}
}

func (s *syntax) quantityUnit(u token) bool {
	return u.word("m", "metre", "metres", "meter", "meters", "ft", "foot", "feet", "yd", "yds", "yard", "yards")
}

// counts reports that a number is glued to the mark behind it.
func (s *syntax) counts(n, mark token) bool {
	f, ok := mark.form()
	return n.whole() && ok && !mark.gap && f <= fApart
}

// number reads a number that no mark before it has claimed.
func (s *syntax) number(t token) {
	q, next := s.quantity(s.i), s.at(s.i+1)
	f, isMark := next.form()
	last := s.at(s.i + max(q.n, 1) - 1)
	switch {
	case q.runOn:
		s.i += q.n
		n := s.at(s.i - 1)
		s.problem(t, n, "min-number", "n", n.s, "m", t.s, "ss", fmt.Sprintf("%02d", int(n.v)))
	case q.metres.Known:
		s.i += q.n
		if glued := s.tok(); glued.kind <= tTime && !glued.gap {
			s.i++
			if u := s.tok(); u.kind == tWord && !u.gap {
				s.i++
			}
			s.problem(t, glued, "unit-number")
			return
		}
		if q.metres.V <= 0 || q.metres.V > 2000 {
			s.problem(t, last, "distance", "n", number(q.metres.V))
			return
		}
		s.put(item{form: fDistance, at: q.metres, unsure: q.unsure}, t, last)
	case q.seconds.Known:
		s.i += q.n
		s.put(item{form: fLength, at: q.seconds}, t, last)
	case t.whole() && isMark && f == fWrong && !next.word("wrong"):
		s.i += 2
		s.problem(t, next, "times", "n", t.s)
	case s.counts(t, next):
		s.counted(t, next, f)
	case t.whole() && isMark && next.kind == tWord && f <= fApart && f != fCorrect && f != fHelp:
		if !s.start() || t.v > 10 || t.v < 1 || s.cue.Kind != training.Response && f != fApart {
			s.i += 2
			mark := map[form]string{fYes: "+", fNo: "-"}[f]
			s.problem(t, next, "count-word", "n", t.s, "mark", cmpOr(mark, " "+next.s))
			return
		}
		s.counted(t, next, f)
	default:
		s.i++
		s.bare(t)
	}
}

func cmpOr(a, b string) string {
	if a != "" {
		return a
	}
	return b
}

func (s *syntax) counted(t, next token, f form) {
	none := t.v == 0 && f == fNo && s.cue.Kind == training.Motion
	if t.v < 1 && !none || t.v > 100 {
		s.i += 2
		s.problem(t, t, "count", "n", t.s)
		return
	}
	s.i++
	s.mark(next, t, int(t.v))
	if none && len(s.out) > 0 {
		s.out[len(s.out)-1].n = 0
	}
}

// bare refuses a number that could be several things.
func (s *syntax) bare(t token) {
	prev, num := s.at(s.i-2), s.at(s.i-3)
	if prev.is(",") && num.kind == tNum {
		s.problem(num, t, "decimal-list", "a", num.s, "b", t.s)
		return
	}
	switch s.cue.Kind {
	case training.Holding:
		s.problem(t, t, "bare-hold", "n", t.s)
	case training.Motion:
		if v := int(t.v); t.whole() && v >= 100 && v < 6000 && v%100 < 60 {
			m, sec := fmt.Sprint(v/100), fmt.Sprintf("%02d", v%100)
			s.problem(t, t, "bare-320", "n", t.s, "t", m+":"+sec, "m", m, "s", sec)
			return
		}
		s.problem(t, t, "bare-walk", "n", t.s)
	default:
		s.problem(t, t, "bare-response", "n", t.s)
	}
}

// metres refuses a 5m of a hold or walk that has no time beside it: some write m
// for minutes.
func (s *syntax) metres() {
	if s.cue.Kind == training.Response || s.bad || slices.ContainsFunc(s.out, func(it item) bool { return it.form == fLength }) {
		return
	}
	for _, it := range s.out {
		if it.form == fDistance && it.unsure {
			t := token{from: it.from, to: it.to}
			s.problem(t, t, "metres-minutes", "n", number(it.at.V))
		}
	}
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
