package note

import (
	"cmp"
	"fmt"
	"slices"

	"firstcue/internal/training"
)

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
			s.problem(t, next, "count-word", "n", t.s, "mark", cmp.Or(mark, " "+next.s))
			return
		}
		s.counted(t, next, f)
	default:
		s.i++
		s.bare(t)
	}
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
