package report

import (
	"bytes"
	"fmt"
	"io"
	"math"
	"slices"
	"strings"

	"firstcue/internal/analysis"
	"firstcue/internal/report/chart"
	"firstcue/internal/say"
	"firstcue/internal/training"
)

// The short report fits a screen.
const (
	screenLines = 24
	screenWidth = 80
	mostRows    = 6
)

// Text writes the short readiness report: at most 24 lines of 80 columns. The verdict
// and the day, what to do, a row a cue, the three reasons that matter, the steps
// before home, what comes next, what to mind today. All else is in Full.
func Text(w io.Writer, a analysis.Assessment, o Options) error {
	s := shortReport{a: a, o: o, width: min(o.width(), screenWidth)}
	_, err := io.WriteString(w, trimLines(s.text()))
	return err
}

type shortReport struct {
	a     analysis.Assessment
	o     Options
	width int
	label int // columns of the labels on the left
}

// text puts the sections together and leaves out the least needed lines until all of
// it fits. What to do, the rows and what to mind are never among them.
func (s *shortReport) text() string {
	verdict := say.Verdict(s.a.Verdict)
	s.label = max(10, cells(verdict)+2)
	todo := say.Do(s.a)
	word := "DO"
	if todo.Stop {
		word = "STOP"
	}
	head := s.section(verdict, []string{say.Headline(s.a)}, 2)
	head[0] = paint(verdict, s.a.Verdict, s.o) + strings.TrimPrefix(head[0], verdict)
	head = append(head, s.section(word, []string{todo.Text}, 4)...)
	rows := s.table()
	mind := s.section("MIND", say.Today(s.a), 2)
	next := s.next()
	foot := s.foot()
	room := screenLines - len(head) - len(rows) - len(mind) - len(next) - len(foot) - 2
	steps := s.steps()
	why := s.why(max(2, min(5, room-len(steps))))
	if len(steps)+len(why) > room {
		steps = s.stepsShort()
	}
	all := [][]string{head, rows, slices.Concat(why, steps, next, mind, foot)}
	var lines []string
	for i, part := range all {
		if i > 0 && len(part) > 0 {
			lines = append(lines, "")
		}
		lines = append(lines, part...)
	}
	if len(lines) > screenLines { // without blank lines before what to do is cut short
		lines = slices.DeleteFunc(lines, func(l string) bool { return l == "" })
	}
	return strings.Join(lines, "\n") + "\n"
}

// section sets texts beside a label, each at most so many lines.
func (s *shortReport) section(label string, texts []string, most int) []string {
	var out []string
	for _, t := range texts {
		for _, l := range wrapLines(t, s.width-s.label) {
			lead := ""
			if len(out) == 0 {
				lead = label
			}
			out = append(out, lead+strings.Repeat(" ", s.label-cells(lead))+l)
		}
	}
	if len(out) > most {
		out = out[:most]
		out[most-1] = truncate(strings.TrimRight(out[most-1], ".,;: ")+"…", s.width)
	}
	return out
}

func (s *shortReport) table() []string {
	if len(s.a.Cues) == 0 {
		return nil
	}
	cues, also := s.shown()
	name := 4
	for _, c := range cues {
		name = max(name, min(12, cells(say.Plain(c.Cue))))
	}
	if slices.ContainsFunc(cues, func(c analysis.CueAssessment) bool { _, ok := weakest(c); return ok }) {
		name = max(name, 11)
	}
	out := []string{s.columns(name, "cue", "ready", "now", "likely", s.scale(cues), "answered", "speed", "corr.", "lacks")}
	for _, c := range cues {
		out = append(out, s.row(name, c))
		if x, ok := weakest(c); ok {
			out = append(out, s.contextRow(name, c, x))
		}
	}
	if len(also) > 0 {
		out = append(out, truncate("also "+strings.Join(also, ", "), s.width))
	}
	return out
}

// shown picks the cues that have a row, most at risk first, and names the others.
func (s *shortReport) shown() (cues []analysis.CueAssessment, also []string) {
	cues = slices.Clone(s.a.Cues)
	rank := map[analysis.Verdict]int{analysis.OnHold: 0, analysis.NotReady: 0, analysis.NotProven: 1, analysis.Ready: 2}
	slices.SortStableFunc(cues, func(x, y analysis.CueAssessment) int {
		if d := counted(y) - counted(x); d != 0 {
			return d
		}
		return rank[x.Verdict] - rank[y.Verdict]
	})
	lines := 0
	for i, c := range cues {
		lines++
		if _, ok := weakest(c); ok {
			lines++
		}
		if i > 0 && lines > mostRows {
			for _, rest := range cues[i:] {
				also = append(also, say.Plain(rest.Cue)+": "+string(rest.Verdict))
			}
			return cues[:i], also
		}
	}
	return cues, nil
}

func counted(c analysis.CueAssessment) int {
	if c.Agreed == nil || *c.Agreed {
		return 1
	}
	return 0
}

// weakest is the person or place of a cue that fails: it has a row of its own, since
// the pooled figure hides it.
func weakest(c analysis.CueAssessment) (analysis.Context, bool) {
	if c.Others != nil && c.Others.Standing == analysis.Failed {
		return *c.Others, true
	}
	for _, list := range [][]analysis.Context{c.People, c.Places} {
		for _, x := range list {
			if x.Standing == analysis.Failed {
				return x, true
			}
		}
	}
	return analysis.Context{}, false
}

func contextName(x analysis.Context) string {
	switch {
	case x.NotBy != "":
		return "not " + say.Plain(x.NotBy)
	case x.Person != "":
		return say.Plain(x.Person)
	}
	return say.Plain(x.Place)
}

func (s *shortReport) columns(name int, cells ...string) string {
	widths := []int{name, 5, 5, 7, 21, 8, 5, 5}
	var b strings.Builder
	for i, c := range cells {
		if i == len(cells)-1 {
			b.WriteString(truncate(c, max(4, s.width-width(b.String()))))
			break
		}
		if i == 1 && i < len(widths) {
			b.WriteByte(' ')
		}
		c = truncate(c, widths[i])
		b.WriteString(c + strings.Repeat(" ", widths[i]-width(c)+1))
	}
	return strings.TrimRight(b.String(), " ")
}

func width(s string) int { return cells(s) }

func (s *shortReport) row(name int, c analysis.CueAssessment) string {
	missing := "-"
	if list := say.Missing(c); len(list) > 0 {
		missing = strings.Join(list, ", ")
	}
	return s.columns(name, say.Plain(c.Cue), verdictMark(c), now(c.Now, c.Kind), likely(c.Now, c.Kind),
		bar(c.Now, c.Kind, s.o.ASCII), answered(c.Tally), speed(c), corrections(c), missing)
}

func (s *shortReport) contextRow(name int, c analysis.CueAssessment, x analysis.Context) string {
	return s.columns(name, " "+contextName(x), "", now(x.Figure, c.Kind), likely(x.Figure, c.Kind),
		bar(x.Figure, c.Kind, s.o.ASCII), answered(x.Tally), "", "", "")
}

func verdictMark(c analysis.CueAssessment) string {
	switch c.Verdict {
	case analysis.Ready:
		return "yes"
	case analysis.NotReady:
		return "no"
	case analysis.OnHold:
		return "hold"
	}
	return "?"
}

func now(f analysis.Figure, k training.Kind) string {
	switch {
	case !f.Now.Known:
		return say.None
	case k == training.Motion:
		return say.Tenths(f.Now) + "/m"
	}
	return say.Percent(f.Now.V, known(f.Bar)...)
}

func likely(f analysis.Figure, k training.Kind) string {
	switch {
	case !f.Low80.Known || !f.High80.Known:
		return say.None
	case k == training.Motion:
		return say.Tenths(f.Low80) + "-" + say.Tenths(f.High80)
	}
	return say.WholeOf(f.Low80, known(f.Bar)...) + "-" + say.WholeOf(f.High80, known(f.Bar)...)
}

func known(n training.Num) []float64 {
	if !n.Known {
		return nil
	}
	return []float64{n.V}
}

func answered(t analysis.Tally) string {
	switch {
	case t.Minutes > 0:
		return say.Number(float64(t.Breaks)) + "/" + say.Number(math.Round(t.Minutes)) + "min"
	case t.Asks == 0:
		return say.None
	}
	return fmt.Sprintf("%d/%d", t.Answered, t.Asks)
}

func speed(c analysis.CueAssessment) string {
	switch {
	case c.Latency != nil && c.Latency.Median.Known:
		return say.SecondsOf(c.Latency.Median, known(c.Latency.Limit)...)
	case c.Hold != nil && c.Hold.Target.Known:
		return say.Clock(c.Hold.Target.V)
	}
	return say.None
}

func corrections(c analysis.CueAssessment) string {
	switch {
	case c.Corrections.Trials == 0 && c.Corrections.Minutes == 0:
		return "?"
	case c.Corrections.Count == 0:
		return "none"
	case c.Corrections.Trend.Direction == analysis.Rising:
		return say.Number(float64(c.Corrections.Count)) + " up"
	}
	return say.Number(float64(c.Corrections.Count))
}

// scale heads the column of the bars.
func (s *shortReport) scale(cues []analysis.CueAssessment) string {
	label := ""
	for _, c := range cues {
		if c.Kind == training.Motion || !c.Now.Bar.Known {
			continue
		}
		this := say.Number(100 * c.Now.Bar.V)
		if label != "" && label != this {
			label = "bar"
			break
		}
		label = this
	}
	mark := "┃"
	if s.o.ASCII {
		mark = "|"
	}
	return "50%" + strings.Repeat(" ", 10-len(label)) + label + " " + mark + " 100%"
}

// bar draws where a figure lies: right is good, of a walk fewer breaks.
func bar(f analysis.Figure, k training.Kind, ascii bool) string {
	if !f.Now.Known || !f.Low80.Known || !f.High80.Known {
		return ""
	}
	pass := 0.85
	if f.Bar.Known {
		pass = f.Bar.V
	}
	scale := chart.Shares(pass)
	if k == training.Motion {
		scale = chart.Breaks(pass)
	}
	return chart.Small(scale, f.Now, f.Low80, f.High80, ascii)
}

// why lists the reasons, numbered, at most three and at most so many lines.
func (s *shortReport) why(most int) []string {
	label := "WHY"
	if s.a.Verdict == analysis.Ready {
		label = "WEAKEST"
	}
	var out []string
	n := 0
	for _, r := range s.a.Reasons {
		if n == 3 {
			break
		}
		if s.a.Verdict != analysis.Ready && r.Weak {
			continue
		}
		n++
		lead := ""
		if n == 1 {
			lead = label
		}
		lines := wrapLines(say.Reason(r), s.width-s.label-2)
		if len(out) > 0 && len(out)+len(lines) > most {
			break
		}
		for i, l := range lines {
			mark := "  "
			if i == 0 {
				mark = fmt.Sprintf("%d ", n)
			} else {
				lead = ""
			}
			out = append(out, lead+strings.Repeat(" ", s.label-cells(lead))+mark+l)
		}
	}
	if r := s.remark(); r != "" && len(out) > 0 && len(out) < most {
		out = append(out, strings.Repeat(" ", s.label+2)+truncate(r, s.width-s.label-2))
	}
	return out
}

// remark quotes the last remark that explains the dog.
func (s *shortReport) remark() string {
	if f := s.a.Fall; f != nil && f.Remark != nil {
		return say.Remark(*f.Remark)
	}
	if len(s.a.Remarks) == 0 {
		return ""
	}
	return say.Remark(s.a.Remarks[0])
}

func (s *shortReport) steps() []string {
	var out []string
	for i, x := range s.a.Steps {
		lead := ""
		if i == 0 {
			lead = "STEPS"
		}
		line := fmt.Sprintf("%-13s %-11s %s", say.StepName(x.Name), say.Answer(x.Answer), say.Step(x))
		out = append(out, truncate(strings.TrimRight(lead+strings.Repeat(" ", s.label-len(lead))+line, " "), s.width))
	}
	return out
}

// stepsShort is the steps in as few lines as can be.
func (s *shortReport) stepsShort() []string {
	var parts []string
	for _, x := range s.a.Steps {
		parts = append(parts, say.StepName(x.Name)+": "+say.Answer(x.Answer))
	}
	if len(parts) == 0 {
		return nil
	}
	return s.section("STEPS", []string{strings.Join(parts, "; ") + "."}, 2)
}

func (s *shortReport) next() []string {
	if len(s.a.Plan) == 0 {
		return nil
	}
	l := s.a.Plan[0]
	return s.section("NEXT", []string{say.Sentence(say.PlanDo(l)) + " " + say.PlanWhy(l)}, 2)
}

func (s *shortReport) foot() []string {
	key := "━ likely, 8 times in 10   ● now   ┃ must be passed   ? not proven   more: --full"
	if s.o.ASCII {
		key = "= likely, 8 times in 10   o now   | must be passed   ? not proven   more: --full"
	}
	if len(s.a.Cues) == 0 {
		return nil
	}
	return []string{truncate(key, s.width)}
}

// screen is the short report as a string, for what is made from it.
func screen(a analysis.Assessment, o Options) string {
	var b bytes.Buffer
	_ = Text(&b, a, o) // a buffer takes everything
	return b.String()
}
