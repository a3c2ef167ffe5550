package report

import (
	"fmt"
	"io"
	"strings"

	"firstcue/internal/analysis"
	"firstcue/internal/say"
	"firstcue/internal/training"
)

// Full writes everything the report knows, for a terminal or a mail, at most 100
// columns unless o asks for more in the tables.
func Full(w io.Writer, a analysis.Assessment, o Options) error { return fullPage(a).text(w, o) }

// Markdown writes the full report as CommonMark with tables.
func Markdown(w io.Writer, a analysis.Assessment, o Options) error { return fullPage(a).markdown(w) }

// HTML writes the full report as one self-contained page with a chart for each cue.
func HTML(w io.Writer, a analysis.Assessment, o Options) error { return fullPage(a).html(w, o) }

// fullPage lays the report out in reading order.
func fullPage(a analysis.Assessment) page {
	todo := say.Do(a)
	p := page{title: say.Plain(a.Name), aside: say.Headline(a), verdict: a.Verdict, banner: say.Verdict(a.Verdict), tail: todo.Text}
	if todo.Stop {
		p.tail = "STOP. " + todo.Text
	}
	p.add("Why", reasonList(a))
	p.add("Each cue", cueGrid(a))
	p.add("Steps before home", stepGrid(a))
	p.add("What was agreed", goalGrid(a))
	for _, c := range a.Cues {
		p.blocks = append(p.blocks, heading{text: say.Plain(c.Cue), verdict: c.Verdict})
		p.blocks = append(p.blocks, cueBlocks(a, c)...)
	}
	p.add("The owner's own asks", ownerGrid(a))
	p.add("By the day it goes home", forecastBlock(a))
	p.add("Charts", chartBlocks(a)...)
	p.add("What to mind", cautionTerms(a))
	p.add("What the numbers mean", glossary(a))
	p.foot = footnote(a)
	return p
}

// add puts blocks under a heading, and nothing where there are none.
func (p *page) add(title string, blocks ...block) {
	var some []block
	for _, b := range blocks {
		if !empty(b) {
			some = append(some, b)
		}
	}
	if len(some) > 0 {
		p.blocks = append(append(p.blocks, heading{text: title}), some...)
	}
}

// empty reports a block with nothing in it.
func empty(b block) bool {
	switch b := b.(type) {
	case nil:
		return true
	case para:
		return b == ""
	case bullets:
		return len(b) == 0
	case terms:
		return len(b) == 0
	case grid:
		return len(b.rows) == 0
	}
	return false
}

func reasonList(a analysis.Assessment) block {
	var out bullets
	for _, r := range a.Reasons {
		out = append(out, say.Reason(r))
	}
	for _, u := range a.Never {
		s := say.Plain(u.Cue) + " was never asked"
		if u.BeforeTeaching {
			s += " since teaching began"
		}
		if u.Agreed {
			out = append(out, say.Sentence(s))
		}
	}
	if !a.Agreed && len(a.Cues) > 0 {
		out = append(out, "No goal is agreed with the owner; every cue that was asked is judged.")
	}
	for _, r := range a.Remarks {
		out = append(out, say.Remark(r))
	}
	if out == nil {
		return para("Nothing has been logged that can be judged.")
	}
	return out
}

func cueGrid(a analysis.Assessment) block {
	if len(a.Cues) == 0 {
		return nil
	}
	g := grid{columns: []column{{name: "cue"}, {name: "verdict"}, {name: "now, likely"}, {name: "answered"}, {name: "speed, hold, breaks"}, {name: "corrections"}, {name: "missing"}}, verdict: 1, rowHead: true, airy: true}
	for _, c := range a.Cues {
		name := say.Plain(c.Cue)
		if c.Agreed != nil && !*c.Agreed {
			name += "\nnot agreed"
		}
		missing := strings.Join(say.Missing(c), "\n")
		if missing == "" {
			missing = say.None
		}
		g.rows = append(g.rows, []string{name, string(c.Verdict), nowCell(c), answeredCell(c), measureCell(c), correctionCell(c), missing})
	}
	return g
}

func nowCell(c analysis.CueAssessment) string {
	if !c.Now.Now.Known {
		return say.None
	}
	return now(c.Now, c.Kind) + "\n" + likely(c.Now, c.Kind)
}

func answeredCell(c analysis.CueAssessment) string {
	if c.Kind == training.Motion {
		return say.Counted(c.Tally)
	}
	s := c.Share
	if s.Asks == 0 {
		return say.None
	}
	return say.Fraction(s.Answered, s.Asks, s.Low, s.High)
}

// measureCell is the time to answer, the hold, or the breaks, with their interval.
func measureCell(c analysis.CueAssessment) string {
	switch {
	case c.Latency != nil:
		l := c.Latency
		if l.Seen == 0 {
			return "not timed"
		}
		s := say.SecondsSpan(l.Median, l.Low, l.High, known(l.Limit)...) + "\n" + fmt.Sprintf("%d timed", l.Seen)
		if l.Untimed > 0 {
			s += fmt.Sprintf(", %d not", l.Untimed)
		}
		return s
	case c.Hold != nil && c.Hold.Target.Known:
		h := c.Hold
		s := "to " + say.Clock(h.Target.V)
		if h.Chance.Known {
			s += "\n" + say.Percent(h.Chance.V) + " " + say.Ends(h.ChanceLow, h.ChanceHigh)
		}
		if h.Longest.Known {
			s += "\nlongest " + say.Clock(h.Longest.V)
		}
		return s
	case c.Walked != nil:
		b := c.Walked
		return say.Rate(b.PerMinute, b.Low, b.High, known(c.Now.Bar)...) + " a min\n" + fmt.Sprintf("%d in %s", b.Count, say.Minutes(b.Minutes))
	}
	return say.None
}

func correctionCell(c analysis.CueAssessment) string {
	k := c.Corrections
	if k.Trials == 0 && k.Minutes == 0 {
		return "not noted"
	}
	if k.Count == 0 {
		return "none"
	}
	s := fmt.Sprintf("%d in %d asks", k.Count, k.Trials)
	if c.Kind == training.Motion {
		s = fmt.Sprintf("%d in %s", k.Count, say.Minutes(k.Minutes))
	}
	if k.Trend.Direction == analysis.Rising || k.Trend.Direction == analysis.Falling {
		s += "\n" + string(k.Trend.Direction)
	}
	for _, d := range k.Devices {
		s += "\n" + say.Plain(d.Device) + " " + levelSpan(d)
	}
	return s
}

// levelSpan is the dial positions used on one device.
func levelSpan(d analysis.DeviceLevels) string {
	if d.Low.Known && d.High.Known && d.Low.V != d.High.V {
		return "level " + say.NumberOf(d.Low) + " to " + say.NumberOf(d.High)
	}
	return "level " + say.NumberOf(d.Median)
}

func stepGrid(a analysis.Assessment) block {
	if len(a.Steps) == 0 {
		return nil
	}
	g := grid{columns: []column{{name: "step"}, {name: "answer"}, {name: "on what, or what is missing"}}, verdict: -1, rowHead: true}
	for _, s := range a.Steps {
		g.rows = append(g.rows, []string{say.StepName(s.Name), say.Answer(s.Answer), orWord(say.Step(s), say.None)})
	}
	return g
}

func goalGrid(a analysis.Assessment) block {
	g := grid{columns: []column{{name: "agreed"}, {name: "there"}, {name: "so far"}, {name: "now, likely"}, {name: "missing"}}, verdict: -1, rowHead: true}
	for _, c := range a.Cues {
		for _, x := range c.Goals {
			so := say.Counted(x.Tally)
			if x.OtherLeash.Asks > 0 {
				so += "\non a line " + say.Counted(x.OtherLeash)
			}
			missing := say.None
			if x.Lack != nil {
				missing = say.Lack(*x.Lack)
			}
			g.rows = append(g.rows, []string{say.Goal(x.Goal), say.Standing(x.Standing), so, strings.TrimSpace(now(x.Figure, c.Kind) + "\n" + likely(x.Figure, c.Kind)), missing})
		}
	}
	if len(g.rows) == 0 {
		return nil
	}
	return g
}

// cueBlocks is all of one cue: its gates, what would change it, who and where.
func cueBlocks(a analysis.Assessment, c analysis.CueAssessment) []block {
	var out []block
	var gates terms
	for _, g := range c.Gates {
		s := say.GateLine(g, c.Kind)
		if s == "" {
			s = say.Sentence(say.Standing(g.Standing))
		} else if g.Standing != analysis.Met {
			s = say.Sentence(say.Standing(g.Standing)) + " " + s
		}
		gates = append(gates, [2]string{say.Gate(g.Name, c.Kind), s})
	}
	if len(gates) > 0 {
		out = append(out, gates)
	}
	var change bullets
	for _, x := range c.Changes {
		change = append(change, say.Sentence("would do: "+say.Change(x, c.Cue, c.Kind)))
	}
	if c.Slipping.On {
		change = append(change, say.Sentence("slipping since "+say.Weekday(c.Slipping.Since)))
	}
	for _, w := range c.WrongAnswers {
		change = append(change, say.Sentence("did instead: "+didWords(w)))
	}
	if s := apart(c); s != "" {
		change = append(change, s)
	}
	if len(change) > 0 {
		out = append(out, change)
	}
	if g := contextGrid(c); g != nil {
		out = append(out, g)
	}
	return out
}

func didWords(w analysis.WrongAnswer) string {
	if w.Did == "?" {
		return say.Count(w.Count, "wrong answer") + " not named"
	}
	return say.Plain(w.Did) + ", " + say.Count(w.Count, "time")
}

func apart(c analysis.CueAssessment) string {
	var parts []string
	for _, x := range []struct {
		n    int
		word string
	}{{c.Unscored, "not scored"}, {c.Early, "before the cue"}, {c.AlreadyThere, "already in position"}, {c.ReleasedEarly, "released before the time"}, {c.LeftOut, "left out for the vet, or before a new first day"}} {
		if x.n > 0 {
			parts = append(parts, fmt.Sprintf("%d %s", x.n, x.word))
		}
	}
	if c.BeforeTeaching != nil {
		parts = append(parts, fmt.Sprintf("before teaching %d/%d", c.BeforeTeaching.Answered, c.BeforeTeaching.Asks))
	}
	if len(parts) == 0 {
		return ""
	}
	return "Counted apart: " + strings.Join(parts, "; ") + "."
}

func contextGrid(c analysis.CueAssessment) block {
	g := grid{columns: []column{{name: "who, where"}, {name: "answered"}, {name: "now, likely"}, {name: "leash"}, {name: "last"}, {name: "note"}}, verdict: -1, rowHead: true}
	add := func(name string, x analysis.Context) {
		g.rows = append(g.rows, []string{name, say.Counted(x.Tally), strings.TrimSpace(now(x.Figure, c.Kind) + " " + likely(x.Figure, c.Kind)),
			leashCell(x), say.ShortDay(x.Last), contextNote(x)})
	}
	for _, x := range c.People {
		add(contextName(x)+roleWord(x.Role), x)
	}
	if c.Others != nil && len(c.People) > 2 {
		add(contextName(*c.Others), *c.Others)
	}
	for _, x := range c.Places {
		name := contextName(x)
		if x.OffProperty {
			name += ", " + say.Away
		}
		add(name, x)
	}
	for _, x := range c.Cells {
		if !x.Untried {
			add(say.Plain(x.Person)+" "+say.At(x.Place), x)
		}
	}
	if c.Cold.First.Asks > 0 {
		g.rows = append(g.rows, []string{"first ask of a session", say.Counted(c.Cold.First), strings.TrimSpace(now(c.Cold.Figure, c.Kind) + " " + likely(c.Cold.Figure, c.Kind)), "", "", coldNote(c.Cold)})
	}
	for _, x := range c.Distractions {
		g.rows = append(g.rows, []string{"distraction " + say.NumberOf(x.Distraction), say.Counted(x.Tally), "", "", "", ""})
	}
	for _, x := range c.Signals {
		g.rows = append(g.rows, []string{say.Signal(training.Signal(x.Signal)), say.Counted(x.Tally), "", "", "", ""})
	}
	if len(g.rows) == 0 {
		return nil
	}
	return g
}

func roleWord(r training.Role) string {
	switch r {
	case training.Owner:
		return ", owner"
	case training.Outsider:
		return ", outsider"
	}
	return ""
}

func leashCell(x analysis.Context) string {
	if x.Untried || x.Asks == 0 && x.Minutes == 0 {
		return say.None
	}
	return say.Leash(x.Leash)
}

func contextNote(x analysis.Context) string {
	switch {
	case x.Standing == analysis.Failed:
		if x.Worse {
			return "no; worse than the others"
		}
		return "no"
	case x.Worse:
		return "worse than the others"
	case x.NotLately:
		return "not asked lately"
	case x.Standing == analysis.Met:
		return "yes"
	}
	return "not proven"
}

func coldNote(c analysis.Cold) string {
	s := "later asks " + say.Counted(c.Later)
	if c.Unknown > 0 {
		s += "; " + say.Count(c.Unknown, "session") + " began with a tally, first ask unknown"
	}
	return s
}

func ownerGrid(a analysis.Assessment) block {
	g := grid{columns: []column{{name: "cue"}, {name: "proven with the owner"}, {name: "answered"}, {name: "now, likely"}, {name: "last lesson"}, {name: "missing"}}, verdict: -1, rowHead: true}
	for _, c := range a.Cues {
		if counted(c) == 0 {
			continue
		}
		o := c.Owner
		missing := say.None
		if o.Change != nil {
			missing = say.Change(*o.Change, c.Cue, c.Kind)
		} else if o.Lack != nil {
			missing = say.Lack(*o.Lack)
		}
		g.rows = append(g.rows, []string{say.Plain(c.Cue), say.Standing(o.Standing), say.Counted(o.Tally), strings.TrimSpace(now(o.Figure, c.Kind) + " " + likely(o.Figure, c.Kind)), say.ShortDay(o.Last), missing})
	}
	if len(g.rows) == 0 {
		return nil
	}
	return g
}

func forecastBlock(a analysis.Assessment) block {
	if a.Forecast == nil {
		return nil
	}
	return para(say.Forecast(*a.Forecast))
}

func cautionTerms(a analysis.Assessment) block {
	var out bullets
	for _, c := range a.Cautions {
		s := say.Caution(c)
		if why := say.CautionWhy(c); why != "" {
			s += " (" + why + ")"
		}
		out = append(out, s)
	}
	if out == nil {
		return nil
	}
	return out
}

// glossary explains each number once, in words a trainer uses.
func glossary(a analysis.Assessment) block {
	if len(a.Cues) == 0 {
		return nil
	}
	c := a.Cues[0].Criteria
	return terms{
		{"answered", "Right on the first ask, in time, without help and without a correction. 18/20: 18 of 20 such asks."},
		{"now", "How the dog does today, over the people and places tried. Old sessions fade once newer ones say otherwise."},
		{"likely", "Where the true figure lies, 8 times in 10: too low once in ten, too high once in ten. In brackets, 19 times in 20."},
		{"the bar", fmt.Sprintf("%s in 100 agreed. One stay is too short to tell it from %s, so that is the mark: it must be passed with %s in 100 sure, on %s running.",
			say.Number(100*c.Agreed), say.Number(100*c.LevelBar()), say.Number(100*c.Sure), say.Count(c.Nights, "evening"))},
		{"not proven", "Too few asks to say either. It never means ready."},
	}
}

func footnote(a analysis.Assessment) string {
	if a.Sessions == 0 {
		return ""
	}
	s := "From " + say.Count(a.Asks, "trial") + " in " + say.Count(a.Sessions, "session") + ", " + say.DaySpan(a.First, a.Last) + "."
	if a.Baseline != 0 {
		s += " Counted afresh from " + say.ShortDay(a.Baseline) + "."
	}
	if a.Main != "" {
		s += " Main trainer: " + say.Plain(a.Main) + "."
	}
	return s
}
