package note

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"firstcue/internal/training"
)

// Format writes a session as a note in the canonical spelling: its context,
// a line for each trial, its remarks. Parse of it gives the same session, but
// for Note, Carried, Line, ID and what only the store knows.
func Format(s training.Session) string {
	c := contextOf(s)
	var b strings.Builder
	b.WriteString(c.lines(nil))
	b.WriteString("\n")
	if len(s.Trials) > 0 {
		b.WriteString("\n")
	}
	for _, t := range s.Trials {
		m := t.Marks
		if m == "" {
			m = Marks(t)
		} else if t.Distance.Known && t.Kind != training.Response && !strings.Contains(m, "m away") {
			m = strings.Replace(m, " "+number(t.Distance.V)+"m", " "+number(t.Distance.V)+"m away", 1)
		}
		b.WriteString(m + "\n")
	}
	for _, r := range s.Remarks {
		mark := "> "
		if r.Incident {
			mark = "! "
		}
		b.WriteString(mark + strings.Join(splitLines(r.Text), " ") + "\n")
	}
	return b.String()
}

// marks writes the trial being read in the canonical spelling.
func (t *trial) marks() string {
	words := []string{t.cue.Name}
	if t.timed {
		words = []string{clockText(t.at), t.cue.Name}
	}
	add := func(s string) { words = append(words, s) }
	first := t.firstSignal()
	if first != "" && !(first == "context" && t.cue.Signal == "context") {
		add(strings.ReplaceAll(string(first), "+", " "))
	}
	switch {
	case t.distance.Known && t.cue.Kind == training.Response:
		add(number(t.distance.V) + "m")
	case t.distance.Known: // 5m of a hold may be minutes
		add(number(t.distance.V) + "m away")
	}
	switch {
	case t.cue.Kind == training.Holding && t.target.Known:
		add(span(t.target.V))
	case t.cue.Kind == training.Motion && t.walked.Known && t.outcome == "":
		add(span(t.walked.V))
	}
	switch t.outcome {
	case training.Counted:
		add(fmt.Sprintf("%d/%d", t.tally.Yes, t.tally.Of))
	case training.Unscored:
		add("?")
		return strings.Join(words, " ")
	case training.Early, training.Already:
		add(string(t.outcome))
		return strings.Join(words, " ")
	}
	words = append(words, t.eventMarks(first)...)
	if t.timed && t.outcome == "" && (t.cue.Kind == training.Response && !t.has(evYes) || t.cue.Kind == training.Holding && !t.has(evReleased)) {
		add("next")
	}
	return strings.Join(words, " ")
}

// eventMarks writes what happened, after signal now.
func (t *trial) eventMarks(now training.Signal) (words []string) {
	asked := false
	for i := 0; i < len(t.events); i++ {
		e := t.events[i]
		s := ""
		switch e.what {
		case evSignal:
			if !asked || training.Signal(e.s) == now {
				continue
			}
			now = training.Signal(e.s)
			s = strings.ReplaceAll(e.s, "+", " ")
		case evCorrect:
			s = "@" + string(e.c.Kind)
			if e.c.Kind == training.ByCollar {
				s = "@" + number(e.c.Level.V)
			}
		case evHelp:
			s = "help"
			if e.s != "help" {
				s = "help:" + e.s
			}
		case evAgain:
			s = "again"
		case evNo:
			n := 1
			for t.cue.Kind == training.Motion && i+1 < len(t.events) && t.events[i+1].what == evNo && t.events[i+1].s == e.s {
				n++
				i++
			}
			s = t.noMarks(e, n)
			if s == "-" && i == 0 && len(t.events) > 1 && t.events[1].what == evSignal {
				s = "1-" // a dash before a signal may only part the two
			}
		case evWrong:
			s = "x"
			if e.s != "?" {
				s = "x:" + e.s
			}
			if e.a.Known {
				s += " " + t.length(e.a)
			}
		case evBegun:
			s = "+" + number(e.a.V) + ">-"
		case evTook:
			s = "+" + known(e.a) + ">" + known(e.b)
		case evYes:
			s = "+" + known(e.a)
			if e.b.Known {
				s += ">" + known(e.b)
			}
		case evReleased:
			switch {
			case e.a.Known && (t.timed || e.a != t.target):
				s = "released " + span(e.a.V)
			case t.timed:
				s = "released"
			default:
				s = "+"
			}
		}
		asked = asked || e.what == evNo || e.what == evWrong || e.what == evBegun
		words = append(words, s)
	}
	return words
}

func (t *trial) noMarks(e event, n int) string {
	s := "-"
	if n > 1 {
		s = strconv.Itoa(n) + "-"
	}
	if e.a.Known {
		s += t.length(e.a)
	}
	if e.s != "" {
		s += " " + e.s
	}
	return s
}

// length writes the number after a - or x: seconds of waiting for a response,
// a time for a hold. A number alone before another mark has two readings, so a
// whole one keeps its unit.
func (t *trial) length(n training.Num) string {
	if t.cue.Kind == training.Holding {
		return span(n.V)
	}
	return number(n.V) + "s"
}

func known(n training.Num) string {
	if !n.Known {
		return ""
	}
	return number(n.V)
}

// span writes seconds as a length of time: 45s, 2:00, 1:02:30, 181.8s.
func span(v float64) string {
	if v >= 60 && v == math.Trunc(v) && v < 1e6 {
		n := int64(v)
		if n >= 3600 {
			return fmt.Sprintf("%d:%02d:%02d", n/3600, n/60%60, n%60)
		}
		return fmt.Sprintf("%d:%02d", n/60, n%60)
	}
	return number(v) + "s"
}

// clockText writes a clock: 0:41.0, 1:02:03.5.
func clockText(ms int64) string {
	sec := ms / 1000
	frac := strings.TrimRight(fmt.Sprintf("%03d", ms%1000), "0")
	if frac == "" {
		frac = "0"
	}
	if sec >= 3600 {
		return fmt.Sprintf("%d:%02d:%02d.%s", sec/3600, sec/60%60, sec%60, frac)
	}
	return fmt.Sprintf("%d:%02d.%s", sec/60, sec%60, frac)
}

// Marks writes a trial that did not come from a note, such as one from a
// spreadsheet, in the notation. What the fields of a trial do not hold, such as
// where among the asks a correction fell, is put where Served allows it.
func Marks(t training.Trial) string {
	b := &trial{cue: training.Cue{Name: t.Cue, Kind: t.Kind}, tally: t.Tally, signal: t.Signal, distance: t.Distance, target: t.Target, walked: t.Walked}
	if t.At.Known {
		b.timed, b.at = true, int64(math.Round(t.At.V*1000))
	}
	switch t.Outcome {
	case training.Counted, training.Unscored, training.Early, training.Already:
		b.outcome = t.Outcome
		for _, s := range t.Prompts {
			b.events = append(b.events, event{what: evHelp, s: s})
		}
		for _, c := range t.Corrections {
			b.events = append(b.events, event{what: evCorrect, c: c})
		}
		return b.marks()
	}
	add := func(e event) { b.events = append(b.events, e) }
	fix := func(served bool) {
		for _, c := range t.Corrections {
			if c.Served == served {
				add(event{what: evCorrect, c: c})
			}
		}
	}
	for _, s := range t.Prompts {
		add(event{what: evHelp, s: s})
	}
	fail := func(a training.Num, did string) event {
		if did != "" {
			return event{what: evWrong, s: did, a: a}
		}
		return event{what: evNo, a: a}
	}
	switch t.Kind {
	case training.Motion:
		for i := 1; i < t.Asks; i++ {
			add(event{what: evAgain})
		}
		fix(false)
		for i := range t.Breaks {
			e := event{what: evNo}
			if i < len(t.Strayed) {
				e.s = t.Strayed[i]
			}
			add(e)
		}
		fix(true)
	case training.Holding:
		b.holdEvents(t, fix)
	default:
		fails := t.Asks
		if t.Outcome == training.Answered {
			fails--
		}
		for i := range fails {
			e := fail(training.Num{}, "")
			switch {
			case i == 0 && t.Begun.Known:
				e = event{what: evBegun, a: t.Begun}
			case i == 0:
				e = fail(t.Waited, t.Did)
			case i == 1 && t.Begun.Known:
				e = fail(training.Num{}, t.Did)
			}
			if i == fails-1 && t.Outcome == training.Answered {
				fix(false)
			}
			add(e)
		}
		if t.Outcome != training.Answered {
			fix(false)
		}
		fix(true)
		if t.Outcome == training.Answered {
			add(event{what: evYes, a: t.Latency, b: t.Completion})
		}
	}
	return b.marks()
}

// holdEvents puts the events of a hold in an order that gives its fields.
func (b *trial) holdEvents(t training.Trial, fix func(served bool)) {
	add := func(e event) { b.events = append(b.events, e) }
	took := t.Latency.Known || t.Completion.Known
	broke := t.Outcome == training.Broke && (t.Held.Known || t.Did == "" || t.Asks > 1)
	back := broke && !took && slices.ContainsFunc(t.Corrections, func(c training.Correction) bool { return c.Served })
	asks := 1 // as the events below give them
	if t.Did != "" && (broke || t.Outcome != training.Broke) {
		asks++
	}
	if back {
		asks++
	}
	for ; asks < t.Asks; asks++ {
		add(event{what: evAgain})
	}
	if !broke {
		fix(false)
	}
	if t.Did != "" {
		add(event{what: evWrong, s: t.Did})
	}
	if took {
		fix(true)
		add(event{what: evTook, a: t.Latency, b: t.Completion})
	}
	if broke {
		fix(false)
		add(event{what: evNo, a: t.Held})
	}
	if !took {
		fix(true)
	}
	switch {
	case back:
		add(event{what: evYes})
	case t.Outcome == training.Broke:
	case t.Held.Known && (!t.Target.Known || t.Held != t.Target || b.timed):
		add(event{what: evReleased, a: t.Held})
	default:
		add(event{what: evYes})
	}
}
