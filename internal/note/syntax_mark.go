package note

import (
	"strings"

	"firstcue/internal/training"
)

// mark reads the mark at hand, n times. count is the number before it, the zero
// token if there was none.
func (s *syntax) mark(t, count token, n int) {
	first := t
	counted := count.to > 0
	if counted {
		first = count
	}
	s.i++
	f, _ := t.form()
	it := item{form: f, n: n, counted: counted, said: t.kind != tSym}
	switch f {
	case fYes:
		s.yes(it, t, first)
	case fNo:
		s.no(it, t, first)
	case fWrong:
		s.wrong(it, t, first)
	case fCorrect:
		s.correction(it, t, first)
	case fHelp:
		s.help(it, t, first)
	case fApart:
		it.name = map[string]string{"early": "early", "already": "already"}[t.s]
		if it.name == "" {
			it.name = "unscored"
		}
		s.put(it, first, t)
	case fReleased:
		var ok bool
		if it.at, ok = s.seconds(t, false); ok {
			s.put(it, first, s.at(s.i-1))
		}
	default:
		s.put(it, first, t)
	}
}

// seconds reads the number behind a mark: glued to it, with a unit, a time with
// a colon or a decimal part. ok is false after a problem.
func (s *syntax) seconds(after token, repeated bool) (v training.Num, ok bool) {
	from := s.i
	if s.tok().word("at", "after") && s.at(s.i+1).kind <= tTime {
		q := s.quantity(s.i + 1)
		if q.metres.Known {
			return v, true // no at 15m
		}
		s.i++
	}
	t := s.tok()
	if t.kind > tTime {
		return v, true
	}
	q, next := s.quantity(s.i), s.at(s.i+1)
	held := s.cue.Kind == training.Holding && from < s.i
	switch {
	case q.metres.Known:
		return v, true
	case q.runOn:
		s.number(t)
		return v, false
	case q.seconds.Known:
		v, s.i = q.seconds, s.i+q.n
	case !t.whole() || held:
		v, s.i = training.Known(round(t.v)), s.i+1
	case s.counts(t, next):
		if t.gap {
			return v, true // - 9+: the number repeats what follows
		}
		s.i++
		s.problem(after, next, "two-readings", "n", t.s, "a", after.s, "b", next.s)
		return v, false
	case !t.gap && after.kind == tSym:
		v, s.i = training.Known(t.v), s.i+1
	case !t.gap && next.kind == tWord:
		return v, true
	default:
		s.i++
		mark := after.s
		if f, _ := after.form(); f == fYes {
			mark = "+"
		} else if f == fNo {
			mark = "-"
		}
		s.problem(after, t, "bare-after", "n", t.s, "mark", mark)
		return v, false
	}
	if repeated && v.Known {
		s.problem(t, s.at(s.i-1), "repeated-time")
		return training.Num{}, false
	}
	return v, true
}

func (s *syntax) yes(it item, t, first token) {
	minus, n := s.tok(), s.at(s.i+1)
	if t.is("+") && minus.is("-") && !minus.gap && n.kind <= tTime && !n.gap {
		s.i += 2
		s.problem(t, n, "slip", "n", n.s)
		return
	}
	ok := true
	if it.at, ok = s.seconds(t, it.n > 1); !ok {
		return
	}
	if s.tok().is(">") {
		it.arrow = true
		arrow := s.tok()
		s.i++
		// +1.2> - of a hold is a position taken, and a break of it.
		minus := s.tok()
		again := s.at(s.i+1).kind == tNum && !s.at(s.i+1).gap
		if minus.is("-") && !again && !(minus.gap && s.cue.Kind == training.Holding) {
			s.i++
			it.begun = true
		} else if it.done, ok = s.seconds(arrow, it.n > 1); !ok {
			return
		}
	}
	s.put(it, first, s.at(s.i-1))
}

func (s *syntax) no(it item, t, first token) {
	if next := s.tok(); t.kind == tWord && next.word("good") {
		s.i++
		s.problem(t, next, "no-good")
		return
	}
	if s.separates(t) {
		s.problem(t, t, "separator")
		return
	}
	it.long = t.is("-") && s.typd(t.from, t.to) == "\u2014"
	if s.tok().is(":") && s.cue.Kind == training.Motion {
		s.i++
	}
	if it.name = s.direction(); it.name == "" {
		var ok bool
		if it.at, ok = s.seconds(t, it.n > 1); !ok {
			return
		}
	}
	s.put(it, first, s.at(s.i-1))
}

// separates reports a dash that stands by itself behind the cue, before anything
// but the marks that can follow a miss: it may only part the cue from the rest.
func (s *syntax) separates(t token) bool {
	next := s.tok()
	if len(s.out) > 0 || s.i != 1 || !t.is("-") || !t.gap || !next.gap || s.i >= len(s.toks) {
		return false
	}
	f, isMark := next.form()
	switch {
	case next.kind == tPict:
		return true
	case isMark && next.kind == tSym:
		return false
	case isMark:
		return f == fYes || f == fNo || f == fWrong && next.word("wrong") || f == fReleased || f == fApart
	case next.signal(), next.kind == tRatio:
		return true
	case next.kind <= tTime && s.cue.Kind == training.Holding:
		q := s.quantity(s.i)
		after, more := s.at(s.i+max(q.n, 1)), s.i+max(q.n, 1) < len(s.toks)
		g, ok := after.form()
		return q.metres.Known || q.seconds.Known && more && !(ok && (g == fCorrect || g == fNext || g == fHelp || g == fNo))
	case next.kind <= tTime && !next.whole() && s.quantity(s.i).n == 0:
		return false // - 4.0
	case next.kind <= tTime && s.cue.Kind == training.Motion:
		return false // refused as a break with a time
	case next.kind <= tTime:
		q := s.quantity(s.i)
		g, _ := s.at(s.i + 1).form()
		return q.n > 0 || s.counts(next, s.at(s.i+1)) && g != fCorrect && g != fHelp
	}
	return false
}

// named reads the words behind a colon: sat, lay-down.
func (s *syntax) named() string {
	w := s.tok()
	s.i++
	name := w.s
	for s.tok().is("-") && !s.tok().gap && s.at(s.i+1).kind == tWord && !s.at(s.i+1).gap {
		name += "-" + s.at(s.i+1).s
		s.i += 2
	}
	return name
}

func (s *syntax) wrong(it item, t, first token) {
	it.name = "?"
	if n := s.tok(); n.kind == tNum && !n.gap && t.is("x") && !s.quantity(s.i).seconds.Known {
		s.i++
		s.problem(t, n, "times", "n", n.s)
		return
	}
	if s.tok().is(":") {
		s.i++
		if s.tok().kind != tWord {
			s.problem(t, s.at(s.i-1), "x-nothing")
			return
		}
		it.name = s.named()
	} else if w := s.tok(); t.word("wrong") && w.kind == tWord && misheard[w.s] == "" {
		if _, isMark := w.form(); !isMark && !w.signal() {
			s.i++
			it.name = w.s
		}
	}
	it.said = t.word("wrong")
	var ok bool
	if it.at, ok = s.seconds(s.at(s.i-1), it.n > 1); ok {
		s.put(it, first, s.at(s.i-1))
	}
}

func (s *syntax) correction(it item, t, first token) {
	it.fix.Kind = training.ByLeash
	v := s.tok()
	switch {
	case t.word("leash"):
	case t.word("verbal"):
		it.fix.Kind = training.ByVoice
	case t.is("@") && v.word("leash", "verbal", "tone", "vibration"):
		s.i++
		it.fix.Kind = training.CorrectionKind(v.s)
	case v.kind == tNum && strings.Contains(v.s, ","):
		s.i++
		a, b, _ := strings.Cut(v.s, ",")
		s.problem(v, v, "level-two", "a", a, "b", b)
		return
	case v.kind == tNum:
		s.i++
		it.fix = training.Correction{Kind: training.ByCollar, Level: training.Known(v.v)}
	case v.kind == tWord && misheard[v.s] != "":
		s.i++
		s.problem(t, v, "misheard", "n", misheard[v.s], "w", s.typd(v.from, v.to))
		return
	case v.kind == tBad && s.i < len(s.toks):
		s.i++
		s.bad = true
		return
	default:
		s.problem(t, t, "level-missing")
		return
	}
	s.put(it, first, s.at(s.i-1))
}

func (s *syntax) help(it item, t, first token) {
	it.name = "help"
	switch {
	case t.word("lure"):
		it.name = "lure"
	case s.tok().is(":"):
		s.i++
		if s.tok().kind != tWord {
			s.problem(t, s.at(s.i-1), "help-nothing")
			return
		}
		it.name = s.named()
	case s.tok().word("lure"):
		s.i++
		it.name = "lure"
	}
	s.put(it, first, s.at(s.i-1))
}
