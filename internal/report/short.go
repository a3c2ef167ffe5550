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

// text puts the sections together so that all of it fits: reasons, steps and what comes
// next give way to one another. What to do, the rows and what to mind never do.
func (s *shortReport) text() string {
	s.a.Name = s.o.shorten(say.Plain(s.a.Name), longestName)
	verdict := say.Verdict(s.a.Verdict)
	s.label = max(10, cells(verdict)+2)
	todo := say.Do(s.a)
	word, most := "DO", 4
	if todo.Stop {
		word, most = "STOP", screenLines // whole, whatever else there is
	}
	head := s.section(verdict, []string{say.Headline(s.a)}, 2)
	head[0] = paint(verdict, s.a.Verdict, s.o) + strings.TrimPrefix(head[0], verdict)
	head = append(head, s.section(word, []string{todo.Text}, most)...)
	parts := [][]string{head, s.table(), s.rest(screenLines-2-len(head)-len(s.table()), todo.Stop)}
	var lines []string
	for i, part := range parts {
		if i > 0 && len(part) > 0 {
			lines = append(lines, "")
		}
		lines = append(lines, part...)
	}
	return strings.Join(lines, "\n") + "\n"
}

// longestName is how much of a dog's name the page shows, in columns.
const longestName = 32

// rest is what stands below the table in so many lines. While training stops nothing
// comes next.
func (s *shortReport) rest(room int, stop bool) []string {
	foot, next := s.foot(), s.next()
	if stop {
		next = nil
	}
	for _, x := range []struct {
		steps, next []string
		mind, why   int
	}{
		{s.steps(), next, 3, 3}, {s.steps(), next, 2, 2}, {s.stepsShort(), next, 2, 2},
		{s.stepsShort(), nil, 2, 2}, {nil, nil, 2, 1}, {nil, nil, 1, 1},
	} {
		mind := s.section("MIND", say.Today(s.a), x.mind)
		left := room - len(mind) - len(x.steps) - len(x.next) - len(foot)
		if left < x.why && len(s.a.Reasons) > 0 || left < 0 {
			continue
		}
		return slices.Concat(s.why(min(5, left)), x.steps, x.next, mind, foot)
	}
	return nil
}

// section sets texts beside a label in so many lines, whole sentences as far as they go.
func (s *shortReport) section(label string, texts []string, most int) []string {
	var lines []string
fill:
	for _, t := range texts {
		text := ""
		before := lines
		for _, sentence := range strings.SplitAfter(t, ". ") {
			set := append(before[:len(before):len(before)], wrapLines(strings.TrimSpace(text+sentence), s.width-s.label)...)
			if len(set) > most {
				break fill
			}
			text, lines = text+sentence, set
		}
	}
	if len(lines) == 0 && len(texts) > 0 {
		lines = wrapLines(texts[0], s.width-s.label)
		lines = append(lines[:most-1:most-1], s.o.shorten(strings.Join(lines[most-1:], " "), s.width-s.label))
	}
	for i := range lines {
		lead := ""
		if i == 0 {
			lead = label
		}
		lines[i] = lead + strings.Repeat(" ", s.label-cells(lead)) + lines[i]
	}
	return lines
}

func (s *shortReport) table() []string {
	if len(s.a.Cues) == 0 {
		return nil
	}
	cues, also := s.shown()
	rows := [][]string{{"cue", "ready", "now", "likely", s.scale(cues), "answered", "speed", "corr.", "lacks"}}
	for _, c := range cues {
		rows = append(rows, s.row(c))
		if x, ok := weakest(c); ok {
			rows = append(rows, s.contextRow(c, x))
		}
	}
	out := s.columns(rows)
	if len(also) > 0 {
		out = append(out, s.o.shorten("also "+strings.Join(also, ", "), s.width))
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

// columns sets rows under one another: each column as wide as it must be, the last has
// what is left.
func (s *shortReport) columns(rows [][]string) []string {
	last := len(rows[0]) - 1
	widths := make([]int, last)
	for _, r := range rows {
		for i := range widths {
			widths[i] = min(max(widths[i], cells(r[i])), widestColumn[i])
		}
	}
	var out []string
	for _, r := range rows {
		var b strings.Builder
		for i, w := range widths {
			c := s.o.shorten(r[i], w)
			b.WriteString(c + strings.Repeat(" ", w-cells(c)+1))
		}
		b.WriteString(s.o.whole(r[last], ", ", s.width-cells(b.String())))
		out = append(out, b.String())
	}
	return out
}

// widestColumn leaves room for what is missing.
var widestColumn = []int{12, 5, 6, 7, 21, 9, 5, 5}

func (s *shortReport) row(c analysis.CueAssessment) []string {
	missing := slices.DeleteFunc(say.Missing(c), func(x string) bool {
		return len(s.a.Incidents) > 0 && x == say.LackShort(analysis.Lack{Code: analysis.LackIncident}) // the page says it once
	})
	if len(missing) == 0 {
		missing = []string{"-"}
	}
	return []string{say.Plain(c.Cue), verdictMark(c), now(c.Now, c.Kind), likely(c.Now, c.Kind),
		bar(c.Now, c.Kind, s.o.ASCII), answered(c.Tally), speed(c), corrections(c), strings.Join(missing, ", ")}
}

func (s *shortReport) contextRow(c analysis.CueAssessment, x analysis.Context) []string {
	return []string{" " + contextName(x), "", now(x.Figure, c.Kind), likely(x.Figure, c.Kind),
		bar(x.Figure, c.Kind, s.o.ASCII), answered(x.Tally), "", "", ""}
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
		return strings.ReplaceAll(say.SecondsOf(c.Latency.Median, known(c.Latency.Limit)...), " ", "")
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
		if len(out)+len(lines) > most {
			if len(out) > 0 || most == 0 {
				break
			}
			lines = append(lines[:most-1:most-1], s.o.shorten(strings.Join(lines[most-1:], " "), s.width-s.label-2))
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
		out = append(out, strings.Repeat(" ", s.label+2)+s.o.shorten(r, s.width-s.label-2))
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
	steps := s.a.Steps
	if len(steps) > 0 && waitsForOne(steps) {
		return s.section("STEPS", []string{"none of them: " + say.Lack(*steps[0].Lack) + "."}, 1)
	}
	var out []string
	for i, x := range steps {
		lead := ""
		if i == 0 {
			lead = "STEPS"
		}
		line := fmt.Sprintf("%s%-13s %-11s ", lead+strings.Repeat(" ", s.label-len(lead)), say.StepName(x.Name), say.Answer(x.Answer))
		out = append(out, strings.TrimRight(line+s.o.whole(say.Step(x), "; ", s.width-cells(line)), " "))
	}
	return out
}

// waitsForOne says that an open incident, or the vet, comes before every step.
func waitsForOne(steps []analysis.Step) bool {
	for _, x := range steps {
		if x.Lack == nil || x.Lack.Code != steps[0].Lack.Code || x.Lack.Code != analysis.LackIncident && x.Lack.Code != analysis.LackVet {
			return false
		}
	}
	return true
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
