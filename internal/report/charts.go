package report

import (
	"io"
	"math"
	"time"

	"firstcue/internal/analysis"
	"firstcue/internal/report/chart"
	"firstcue/internal/say"
	"firstcue/internal/stats"
	"firstcue/internal/training"
)

// mostPeople have a mark of their own in a chart.
const mostPeople = 5

// chartOf turns the course of a cue into what is drawn.
func chartOf(a analysis.Assessment, c analysis.CueAssessment) chart.Chart {
	ch := chart.Chart{Title: say.Plain(a.Name) + ", " + say.Plain(c.Cue), Note: say.ChartNote(c.Kind),
		From: c.First, To: max(c.Last, c.First), Bar: c.Now.Bar, BarLabel: say.ChartBar(c.Now, c.Kind)}
	for _, h := range a.Dog.Holds {
		if h.Covers(h.From, c.Cue) {
			to := h.To
			if to == 0 || to > a.Day {
				to = a.Day
			}
			ch.Holds = append(ch.Holds, chart.Hold{From: h.From, To: to, Label: say.HoldMark})
			ch.To = max(ch.To, to)
		}
	}
	ch.Describe = say.ChartSay(c, ch.From, ch.To)
	ch.People = peopleOf(c)
	level := chart.Line{}
	for _, d := range c.Course {
		if f := d.Level; f.Now.Known && f.Low80.Known && f.High80.Known {
			level.Points = append(level.Points, chart.Level{Day: d.Day, Now: f.Now.V, Low: f.Low80.V, High: f.High80.V})
		}
		ch.Dots = append(ch.Dots, dotsOf(d, c.Kind, ch.People)...)
		for _, n := range append(append([]string(nil), d.NewPeople...), d.NewPlaces...) {
			if d.Day > c.First {
				ch.Events = append(ch.Events, chart.Event{Day: d.Day, Text: say.New(n)})
			}
		}
	}
	who := say.NowMark
	if c.Last < a.Day && len(ch.Holds) > 0 {
		who = c.Last.Time(time.UTC).Format("2 Jan")
	}
	level.Label, level.Detail = say.ChartLine(who, c.Now, c.Kind)
	ch.Lines = append(ch.Lines, level)
	if x := differing(c); x != nil {
		ch.Lines = append(ch.Lines, flat(*x, c.Kind))
	}
	for _, i := range a.Incidents {
		ch.Events = append(ch.Events, chart.Event{Day: i.Day, Text: say.Growl, Stop: true})
		ch.To = max(ch.To, i.Day)
	}
	ch.Devices = dialsOf(c)
	if c.Kind == training.Motion {
		ch.Top = topOf(ch)
	}
	return ch
}

// peopleOf lists who has a mark, in the order in which they came.
func peopleOf(c analysis.CueAssessment) []string {
	var out []string
	seen := map[string]bool{}
	for _, d := range c.Course {
		for _, p := range d.People {
			if seen[p.Person] {
				continue
			}
			seen[p.Person] = true
			out = append(out, say.Plain(p.Person))
		}
	}
	if len(out) > mostPeople {
		out = append(out[:mostPeople-1], say.OthersMark)
	}
	return out
}

// dotsOf gives each person's part of a day, for a walk with the exact interval.
func dotsOf(d analysis.DayPoint, k training.Kind, people []string) []chart.Dot {
	var out []chart.Dot
	for _, p := range d.People {
		dot := chart.Dot{Day: d.Day, Tries: float64(p.Asks), Person: len(people) - 1}
		for i, name := range people {
			if name == say.Plain(p.Person) {
				dot.Person = i
				break
			}
		}
		switch {
		case k == training.Motion && p.Minutes > 0:
			dot.Tries, dot.Value = p.Minutes, float64(p.Breaks)/p.Minutes
			if r, err := stats.Garwood(float64(p.Breaks), p.Minutes, 0.8); err == nil {
				dot.Low, dot.High = training.Known(r.Lower), training.Known(r.Upper)
			}
		case k != training.Motion && p.Asks > 0:
			dot.Value = float64(p.Answered) / float64(p.Asks)
		default:
			continue
		}
		out = append(out, dot)
	}
	return out
}

// differing gives a line of its own to the person who is worse than the others, or
// fails where the level passes; where there are several, to everybody but the main
// trainer. It is today's figure, over the days on which they asked.
func differing(c analysis.CueAssessment) *analysis.Context {
	var out []analysis.Context
	passes := c.Now.Bar.Known && (c.Now.Now.V >= c.Now.Bar.V) != (c.Kind == training.Motion)
	for _, x := range c.People {
		if x.Worse || x.Standing == analysis.Failed && passes {
			out = append(out, x)
		}
	}
	switch {
	case len(out) == 0:
		return nil
	case len(out) > 1 && c.Others != nil:
		return c.Others
	}
	return &out[0]
}

// flat is the line of a person, or of everybody but one.
func flat(x analysis.Context, k training.Kind) chart.Line {
	l := chart.Line{}
	if f := x.Figure; f.Now.Known && f.Low80.Known && f.High80.Known && x.First > 0 {
		for _, d := range []training.Day{x.First, x.Last} {
			l.Points = append(l.Points, chart.Level{Day: d, Now: f.Now.V, Low: f.Low80.V, High: f.High80.V})
		}
		l.Label, l.Detail = say.ChartLine(say.ChartWho(x), f, k)
	}
	return l
}

// dialsOf gives the dial positions by device.
func dialsOf(c analysis.CueAssessment) []chart.Device {
	var out []chart.Device
	for _, dev := range c.Corrections.Devices {
		d := chart.Device{Title: say.DialTitle(dev.Device), Working: dev.Working}
		if dev.Working.Known {
			d.WorkingLabel = say.WorkingMark(dev.Working.V)
		}
		for _, day := range c.Course {
			for _, l := range day.Levels {
				if l.Device == dev.Device && l.Median.Known {
					d.Days = append(d.Days, chart.Dial{Day: day.Day, Median: l.Median.V, Low: l.Low.V, High: l.High.V})
				}
			}
		}
		if n := len(d.Days); n > 0 {
			d.Label = say.DialSpan(d.Days[0].Median, d.Days[n-1].Low, d.Days[n-1].High)
			out = append(out, d)
		}
	}
	return out
}

// topOf is the worst end of an axis of breaks a minute: what was seen and what is
// likely now, not the far end of an interval of one short walk.
func topOf(ch chart.Chart) float64 {
	top := 1.0
	if ch.Bar.Known {
		top = math.Max(top, 1.5*ch.Bar.V)
	}
	for _, d := range ch.Dots {
		top = math.Max(top, d.Value)
	}
	for _, l := range ch.Lines {
		for _, q := range l.Points {
			top = math.Max(top, q.High)
		}
	}
	if top > 2.5 {
		return 2 * math.Ceil(top/2)
	}
	return math.Ceil(2*top) / 2
}

// chartBlocks draws each cue for a page.
func chartBlocks(a analysis.Assessment) []block {
	var out []block
	for _, c := range a.Cues {
		if len(c.Course) > 0 {
			out = append(out, drawing{chart.SVG(chartOf(a, c), chart.Phone)})
		}
	}
	return out
}

// ChartSVG writes the chart of a cue as an SVG image that stands alone.
func ChartSVG(w io.Writer, a analysis.Assessment, c analysis.CueAssessment) error {
	_, err := io.WriteString(w, chart.SVG(chartOf(a, c), chart.Page))
	return err
}

// ChartPNG writes the same drawing as a PNG image.
func ChartPNG(w io.Writer, a analysis.Assessment, c analysis.CueAssessment) error {
	return chart.PNG(w, chartOf(a, c), chart.Page)
}

// Progress draws the charts of cues for a terminal, one below the other.
func Progress(w io.Writer, a analysis.Assessment, cues []analysis.CueAssessment, o Options) error {
	for i, c := range cues {
		s := chart.Text(chartOf(a, c), o.width(), o.ASCII)
		if i > 0 {
			s = "\n" + s
		}
		if _, err := io.WriteString(w, s); err != nil {
			return err
		}
	}
	return nil
}

type jsonProgress struct {
	Dog      string             `json:"dog"`
	Day      training.Day       `json:"day"`
	Cues     []jsonCourse       `json:"cues"`
	VetHolds []analysis.VetHold `json:"vetHolds"`
}

type jsonCourse struct {
	Cue    string              `json:"cue"`
	Kind   training.Kind       `json:"kind"`
	Agreed *bool               `json:"agreed"`
	Bar    training.Num        `json:"bar"`
	Now    analysis.Figure     `json:"now"`
	Course []analysis.DayPoint `json:"course"`
}

// ProgressJSON writes the course of cues for scripts, schema firstcue.progress/1: the
// same values under the same names as the report.
func ProgressJSON(w io.Writer, a analysis.Assessment, cues []analysis.CueAssessment, o Options) error {
	j := jsonProgress{Dog: a.Name, Day: a.Day, Cues: []jsonCourse{}, VetHolds: []analysis.VetHold{}}
	for _, c := range cues {
		j.Cues = append(j.Cues, jsonCourse{c.Cue, c.Kind, c.Agreed, c.Now.Bar, c.Now, c.Course})
	}
	for _, h := range a.Dog.Holds {
		j.VetHolds = append(j.VetHolds, analysis.VetHold{From: h.From, To: h.To, Reason: h.Reason, Cues: h.Cues, NoCollar: h.NoCollar || h.CollarOnly, CollarOnly: h.CollarOnly})
	}
	return tagged(w, "progress", j)
}

// Card draws the picture that goes with a message to the owner, of the week or of the
// day.
func Card(w io.Writer, a analysis.Assessment, week bool) error {
	since, head := a.Day, say.CardToday
	if week {
		since, head = a.Day-6, say.CardWeek
	}
	c := chart.Card{Name: say.Plain(a.Name), When: say.CardWhen(a), NewHead: head, New: say.CardNews(a, since), Foot: say.CardFoot}
	for _, q := range a.Cues {
		if a.Agreed && (q.Agreed == nil || !*q.Agreed) {
			continue
		}
		f, x := q.Now, differing(q)
		if x != nil { // what decides
			f = x.Figure
		}
		c.Cues = append(c.Cues, chart.CardCue{Cue: say.Plain(q.Cue), Words: say.CardWords(a, q, f, x), Bar: barOf(f, q.Kind)})
	}
	return chart.CardPNG(w, c, say.CardMore)
}

// barOf puts a figure on a bar from 0 to 100 where right is good. Breaks a minute
// count from the bar: at it the mark, at none the right end.
func barOf(f analysis.Figure, k training.Kind) chart.Bar {
	b := chart.Bar{Now: f.Now, Low: f.Low80, High: f.High80, Mark: f.Bar}
	if k != training.Motion {
		return b
	}
	if !f.Bar.Known || f.Bar.V <= 0 {
		return chart.Bar{}
	}
	turn := func(n training.Num) training.Num {
		if n.Known { // 0.85 at the bar, 1 at none
			n.V = math.Max(0, 1-.15*n.V/f.Bar.V)
		}
		return n
	}
	return chart.Bar{Now: turn(f.Now), Low: turn(f.High80), High: turn(f.Low80), Mark: turn(f.Bar)}
}
