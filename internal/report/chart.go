package report

import (
	"fmt"
	"html"
	"io"
	"math"
	"strings"

	"firstcue/internal/analysis"
	"firstcue/internal/say"
	"firstcue/internal/training"
)

// course is what a chart of one cue shows, before it has a form.
type courseChart struct {
	name   string
	what   string // "first asks answered, by day"
	unit   string // "%", "a minute" or "" for m:ss
	top    float64
	bar    training.Num
	barSay string
	less   bool // a figure below the bar is the good side
	points []coursePoint
	holds  []training.VetHold
}

type coursePoint struct {
	day       training.Day
	value     training.Num
	low, high training.Num
	label     string // the figure in words, with its count
	corrected int
	trials    int      // whose corrections are known
	events    []string // "new handler: Tove"
	handler   string   // new that day
	place     string   // new that day
}

// courseOf turns the course of a cue into what its main chart shows: the share
// of first asks answered, or for a motion the breaks a minute.
func courseOf(a analysis.Assessment, c analysis.CueAssessment) courseChart {
	ch := courseChart{name: say.Plain(c.Cue), top: 1, unit: "%", what: "first asks answered, by day", holds: holdsFor(a, c.Cue)}
	if c.Criteria.Rate > 0 {
		ch.bar, ch.barSay = training.Known(c.Criteria.Rate), "bar "+say.Percent(c.Criteria.Rate)
	}
	motion := c.Kind == training.Motion
	if motion {
		ch.unit, ch.what, ch.less = "a minute", "breaks a minute, by day", true
		ch.bar, ch.barSay = c.Criteria.Breaks, "bar "+say.NumberOf(c.Criteria.Breaks)
		ch.top = math.Max(1, ch.bar.V*1.5)
	}
	for _, d := range c.Days3 {
		p := coursePoint{day: d.Day, corrected: d.Corrected, trials: d.CorrectedOf, handler: say.Plain(d.NewHandler), place: say.Plain(d.NewPlace)}
		switch {
		case motion:
			if d.Minutes > 0 {
				p.value = training.Known(float64(d.Breaks) / d.Minutes)
				ch.top = math.Max(ch.top, p.value.V)
			}
			p.label = say.Count(d.Breaks, "break") + " in " + say.Minutes(d.Minutes)
		case d.Of > 0:
			p.value = training.Known(float64(d.Yes) / float64(d.Of))
			p.low, p.high = d.Low, d.High
			p.label = fmt.Sprintf("%d of %d", d.Yes, d.Of)
		default:
			p.label = "no first ask"
		}
		ch.points = append(ch.points, p)
	}
	if motion {
		ch.top = math.Ceil(ch.top*2) / 2
	}
	return ch
}

// holdChartOf is the chart of the longest hold by day, in seconds.
func holdChartOf(a analysis.Assessment, c analysis.CueAssessment) (courseChart, bool) {
	ch := courseChart{name: say.Plain(c.Cue), what: "longest hold, by day", holds: holdsFor(a, c.Cue)}
	if c.Hold == nil {
		return ch, false
	}
	ch.bar, ch.barSay = c.Hold.Target, "target"
	if c.Hold.Target.Known {
		ch.barSay, ch.top = "target "+say.Clock(c.Hold.Target.V), c.Hold.Target.V*1.25
	}
	any := false
	for _, d := range c.Days3 {
		p := coursePoint{day: d.Day, value: d.LongestHold, trials: d.Trials, label: "not timed", handler: say.Plain(d.NewHandler), place: say.Plain(d.NewPlace)}
		if d.LongestHold.Known {
			any = true
			ch.top = math.Max(ch.top, d.LongestHold.V*1.05)
			p.label = "longest " + atLeast(c.Hold) + say.Clock(d.LongestHold.V) + ", of " + say.Count(d.Trials, "hold")
		}
		ch.points = append(ch.points, p)
	}
	ch.top = quarters(ch.top)
	return ch, any
}

// quarters returns the end of a time axis of at least top seconds whose quarters
// are round times.
func quarters(top float64) float64 {
	for _, step := range []float64{5, 10, 15, 30, 60, 120, 300, 600} {
		if 4*step >= top {
			return 4 * step
		}
	}
	return math.Ceil(top/14400) * 14400
}

const correctedShare = "share of trials corrected, by day"

// corrections reports the chart of trials corrected, which has columns.
func (ch courseChart) corrections() bool { return ch.what == correctedShare }

// unknown reports days in a chart of corrections on which nobody noted any: a
// tally says nothing of them.
func (ch courseChart) unknown() bool {
	for _, p := range ch.points {
		if ch.corrections() && !p.value.Known {
			return true
		}
	}
	return false
}

// correctionChartOf is the chart of trials corrected by day.
func correctionChartOf(a analysis.Assessment, c analysis.CueAssessment) (courseChart, bool) {
	ch := courseChart{name: say.Plain(c.Cue), what: correctedShare, unit: "%", top: 1, less: true, holds: holdsFor(a, c.Cue)}
	if c.Corrections.Count == 0 {
		return ch, false
	}
	for _, d := range c.Days3 {
		p := coursePoint{day: d.Day, trials: d.CorrectedOf, corrected: d.Corrected, label: fmt.Sprintf("%d of %d", d.Corrected, d.CorrectedOf), handler: say.Plain(d.NewHandler), place: say.Plain(d.NewPlace)}
		if d.CorrectedOf > 0 {
			p.value = training.Known(float64(d.Corrected) / float64(d.CorrectedOf))
		} else {
			p.label = "not noted"
		}
		ch.points = append(ch.points, p)
	}
	return ch, true
}

// holdsFor returns the vet holds that cover the cue, of the stay or in force.
func holdsFor(a analysis.Assessment, cue string) []training.VetHold {
	var out []training.VetHold
	for _, h := range append(append([]training.VetHold(nil), a.Dog.Holds...), a.Holds...) {
		if !h.Covers(h.From, cue) {
			continue
		}
		twice := false
		for _, o := range out {
			twice = twice || o.From == h.From && o.To == h.To
		}
		if !twice {
			out = append(out, h)
		}
	}
	return out
}

// span returns the first and last day to draw. A hold that is still open runs
// to the last day of trials at least.
func (ch courseChart) span() (from, to training.Day) {
	if len(ch.points) == 0 {
		return 0, 0
	}
	return ch.points[0].day, ch.points[len(ch.points)-1].day
}

func (ch courseChart) onHold(d training.Day) bool {
	for _, h := range ch.holds {
		if d >= h.From && (h.To == 0 || d <= h.To) {
			return true
		}
	}
	return false
}

func (ch courseChart) valueWords(p coursePoint) string {
	if !p.value.Known {
		return say.None
	}
	switch ch.unit {
	case "%":
		return say.Percent(p.value.V, numBars(ch.bar)...)
	case "":
		return say.Clock(p.value.V)
	}
	return fixed(p.value.V, 2, bounds{atMost: numBars(ch.bar)})
}

// barShort is the bar on the axis, at most eight columns of it.
func (ch courseChart) barShort() string {
	switch ch.unit {
	case "%":
		return "bar " + say.Percent(ch.bar.V)
	case "":
		return "bar " + say.Clock(math.Round(ch.bar.V))
	}
	return "bar " + say.Number(ch.bar.V)
}

// say tells the chart in a sentence, for those who do not see it.
func (ch courseChart) say() string {
	if len(ch.points) == 0 {
		return "No day with trials."
	}
	first, last := ch.points[0], ch.points[len(ch.points)-1]
	s := fmt.Sprintf("%s: %s. %s, from %s to %s. First day %s (%s), last day %s (%s).", ch.name, ch.what, say.Count(len(ch.points), "day"),
		say.ShortDay(first.day), say.ShortDay(last.day), ch.valueWords(first), first.label, ch.valueWords(last), last.label)
	if ch.bar.Known && ch.barSay != "" {
		s += " " + say.Sentence(ch.barSay)
	}
	for _, p := range ch.points {
		if p.handler != "" && p.day != first.day {
			s += " " + say.ShortDay(p.day) + ": first asked by " + p.handler + "."
		}
		if p.place != "" && p.day != first.day {
			s += " " + say.ShortDay(p.day) + ": first at " + p.place + "."
		}
	}
	for _, h := range ch.holds {
		s += " Vet hold from " + say.ShortDay(h.From)
		if h.To != 0 {
			s += " to " + say.ShortDay(h.To)
		}
		s += "."
	}
	return s
}

// ChartText draws the course of one cue for a terminal: a column a day, the
// figure with its 95 % interval, the bar, and under it the counts. Marks show
// the day of a new handler (h), a new place (p) and a vet hold (shaded). With
// o.ASCII only ASCII is used.
func ChartText(w io.Writer, a analysis.Assessment, c analysis.CueAssessment, o Options) error {
	var b strings.Builder
	charts := []courseChart{courseOf(a, c)}
	if h, ok := holdChartOf(a, c); ok {
		charts = append(charts, h)
	}
	for i, ch := range charts {
		if i > 0 {
			b.WriteString("\n")
		}
		ch.text(&b, o, i == 0)
	}
	_, err := io.WriteString(w, trimLines(b.String()))
	return err
}

type glyphs struct {
	point, stem, bar, axis, corner, floor, shade string
}

var blockGlyphs = glyphs{"●", "│", "╌", "┤", "└", "─", "░"}
var asciiGlyphs = glyphs{"o", "|", "-", "|", "+", "-", ":"}

func (ch courseChart) text(b *strings.Builder, o Options, counts bool) {
	g := blockGlyphs
	if o.ASCII {
		g = asciiGlyphs
	}
	for _, l := range wrapLines(ch.name+": "+ch.what, o.prose()) {
		b.WriteString(bold(l, o) + "\n")
	}
	if len(ch.points) == 0 {
		b.WriteString("No day with trials yet.\n")
		return
	}
	const rows, margin = 10, 11 // the longest label is "corrected"
	room := o.prose() - margin
	from, to := ch.span()
	// every calendar day a column where that fits, so that gaps look like gaps;
	// else only the days with trials, the latest ones if even they are too many
	at := map[training.Day]coursePoint{}
	var days []training.Day
	for _, p := range ch.points {
		at[p.day] = p
		days = append(days, p.day)
	}
	left := 0
	if wide := 5; int(to-from+1)*wide <= room {
		days = nil
		for d := from; d <= to; d++ {
			days = append(days, d)
		}
	}
	if most := room / 5; len(days) > most {
		left = len(days) - most
		days = days[left:]
	}
	column := min(max(room/len(days), 5), 8)
	row := func(v float64) int { return min(rows, max(0, int(math.Round(v/ch.top*rows)))) }
	// a figure on the wrong side of the bar is never drawn on the bar
	pointRow := func(v float64) int {
		r := row(v)
		switch {
		case !ch.bar.Known || r != row(ch.bar.V):
		case v < ch.bar.V && !ch.less:
			r = max(0, r-1)
		case v > ch.bar.V && ch.less:
			r = min(rows, r+1)
		}
		return r
	}
	axisLabel := func(r int) string {
		v := ch.top * float64(r) / rows
		switch ch.unit {
		case "%":
			return fixed(100*v, 0, bounds{}) + "%"
		case "":
			return say.Clock(math.Round(v))
		}
		return fixed(v, 1, bounds{})
	}
	for r := rows; r >= 0; r-- {
		label := ""
		if r%2 == 0 {
			label = axisLabel(r)
		}
		isBar := ch.bar.Known && row(ch.bar.V) == r
		if isBar {
			label = ch.barShort()
		}
		line := fmt.Sprintf("%*s %s", margin-2, label, g.axis)
		for _, d := range days {
			p, asked := at[d]
			fill := " "
			switch {
			case isBar:
				fill = g.bar
			case !asked && ch.onHold(d):
				fill = g.shade
			}
			mid := fill
			if asked && p.value.Known {
				if p.low.Known && p.high.Known && r >= row(p.low.V) && r <= row(p.high.V) {
					mid = g.stem
				}
				if pointRow(p.value.V) == r {
					mid = g.point
				}
			}
			half := (column - 1) / 2
			line += strings.Repeat(fill, half) + mid + strings.Repeat(fill, column-1-half)
		}
		b.WriteString(line + "\n")
	}
	b.WriteString(strings.Repeat(" ", margin-1) + g.corner + strings.Repeat(g.floor, column*len(days)) + "\n")
	under := func(label string, of func(d training.Day, p coursePoint, asked bool) string) {
		line := fmt.Sprintf("%*s ", margin-2, label)
		line += " "
		any := false
		for _, d := range days {
			p, asked := at[d]
			s := of(d, p, asked)
			any = any || s != ""
			pad := max(0, column-cells(s))
			line += strings.Repeat(" ", (pad)/2) + s + strings.Repeat(" ", pad-pad/2)
		}
		if any {
			b.WriteString(line + "\n")
		}
	}
	under("", func(d training.Day, _ coursePoint, _ bool) string { return d.Time(utc).Format("2") })
	month := ""
	under("", func(d training.Day, _ coursePoint, _ bool) string {
		if m := d.Time(utc).Format("Jan"); m != month {
			month = m
			return m
		}
		return ""
	})
	under("", func(_ training.Day, p coursePoint, asked bool) string {
		if asked {
			return ch.valueWords(p)
		}
		return ""
	})
	if counts && ch.unit == "%" {
		count := func(say func(yes, of string) string) func(training.Day, coursePoint, bool) string {
			return func(_ training.Day, p coursePoint, asked bool) string {
				yes, of, ok := strings.Cut(p.label, " of ")
				if !asked || !ok {
					return ""
				}
				return say(yes, of)
			}
		}
		both := count(func(yes, of string) string { return yes + "/" + of })
		touch := false // two wide counts side by side would run together
		for i, d := range days[1:] {
			before, asked := at[days[i]]
			p, also := at[d]
			touch = touch || min(cells(both(d, before, asked)), cells(both(d, p, also))) >= column
		}
		if touch {
			under("yes", count(func(yes, _ string) string { return yes }))
			under("of", count(func(_, of string) string { return of }))
		} else {
			under("yes/of", both)
		}
	}
	if counts && ch.unit == "a minute" {
		part := func(which int) func(training.Day, coursePoint, bool) string {
			return func(_ training.Day, p coursePoint, asked bool) string {
				breaks, walked, ok := strings.Cut(p.label, " in ")
				if !asked || !ok {
					return ""
				}
				word, _, _ := strings.Cut([]string{breaks, walked}[which], " ")
				return word
			}
		}
		under("breaks", part(0))
		under("min", part(1))
	}
	if counts {
		unknown := false
		under("corrected", func(_ training.Day, p coursePoint, asked bool) string {
			if asked && p.corrected > 0 {
				return fmt.Sprint(p.corrected)
			}
			if asked && p.trials == 0 { // a tally says nothing of corrections
				unknown = true
				return "?"
			}
			return ""
		})
		under("", func(d training.Day, p coursePoint, asked bool) string {
			var s string
			if asked && p.handler != "" {
				s += "h"
			}
			if asked && p.place != "" {
				s += "p"
			}
			if ch.onHold(d) && !asked {
				s = "vet"
			}
			return s
		})
		var marks bullets
		for _, p := range ch.points {
			if p.handler != "" {
				marks = append(marks, "h "+say.ShortDay(p.day)+": first asked by "+p.handler)
			}
			if p.place != "" {
				marks = append(marks, "p "+say.ShortDay(p.day)+": first at "+p.place)
			}
		}
		for _, h := range ch.holds {
			s := "vet hold from " + say.ShortDay(h.From)
			if h.To != 0 {
				s += " to " + say.ShortDay(h.To)
			}
			marks = append(marks, s)
		}
		for _, m := range marks {
			for i, l := range wrapLines(m, o.prose()-4) {
				if i == 0 {
					b.WriteString("  " + l + "\n")
				} else {
					b.WriteString("    " + l + "\n")
				}
			}
		}
		key := g.point + " the day's figure   " + g.stem + " its 95% interval"
		if ch.unit != "%" {
			key = g.point + " the day's figure"
		}
		if cells(key)+2 > o.prose() {
			key = strings.Replace(key, "   ", "\n  ", 1)
		}
		b.WriteString("  " + key + "\n")
		if unknown {
			b.WriteString("  ? corrections not noted, as in a tally\n")
		}
	}
	if left > 0 {
		for _, l := range wrapLines(fmt.Sprintf("The %s before %s left out for want of width.", say.Count(left, "day"), isAre(left)), o.prose()-2) {
			b.WriteString("  " + l + "\n")
		}
	}
}

// ChartSVG writes the course of one cue as an SVG image that stands alone: dog,
// cue and days, the main figure, for a hold or a corrected cue a second or third
// panel, and a key to the marks that are in it.
func ChartSVG(w io.Writer, a analysis.Assessment, c analysis.CueAssessment) error {
	s := sheetOf(a, c)
	var body svgPen
	s.draw(&body)
	y := s.height()
	var desc []string
	for _, ch := range s.panels {
		desc = append(desc, ch.say())
	}
	_, err := fmt.Fprintf(w, `<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 %d %d" width="%d" height="%d" role="img" aria-labelledby="t d">
<title id="t">%s</title>
<desc id="d">%s</desc>
<style>%s</style>
<rect class="paper" width="%d" height="%d"/>
%s
</svg>
`, svgWidth, y, svgWidth*2, y*2, html.EscapeString(say.Plain(a.Dog.Name)+": "+say.Plain(c.Cue)), html.EscapeString(strings.Join(desc, " ")),
		printColours.Replace(chartStyle+aloneStyle), svgWidth, y, body.String())
	return err
}

// chartSheet is a drawing that stands alone: a head, the charts under each other,
// and the key.
type chartSheet struct {
	title  []string // dog and cue, wrapped
	days   string
	panels []courseChart
	key    []keyMark
}

// keyMark is an entry of the key: a mark round the point x, y, and its words.
type keyMark struct {
	draw func(p pen, x, y float64)
	say  string
}

func sheetOf(a analysis.Assessment, c analysis.CueAssessment) chartSheet {
	s := chartSheet{title: wrapLines(say.Plain(a.Dog.Name)+": "+say.Plain(c.Cue), 34), panels: chartsOf(a, c)}
	s.days = "no day with trials, as of " + say.YearDay(a.AsOf)
	if from, to := s.panels[0].span(); from != 0 {
		s.days = say.DaySpan(from, to)
		if to < a.AsOf {
			s.days += "; as of " + say.YearDay(a.AsOf)
		}
	}
	s.key = keyOf(s.panels)
	return s
}

func (s chartSheet) headHeight() int { return 12 + 18*len(s.title) + 18 }

// height is that of the whole drawing, in its units.
func (s chartSheet) height() int {
	h := s.headHeight() + len(s.panels)*panelHeight
	if n := len(s.key); n > 0 {
		h += (n+1)/2*keyRow + 4
	}
	return h
}

func (s chartSheet) draw(p pen) {
	for i, l := range s.title {
		p.text("top", 8, float64(20+18*i), "", l)
	}
	p.text("c-t", 8, float64(s.headHeight()-13), "", s.days)
	for i, ch := range s.panels {
		p.down(float64(s.headHeight()+i*panelHeight), func() {
			p.text("head", 8, 15, "", sentenceCase(ch.what))
			p.down(titleHeight, func() { ch.draw(p) })
		})
	}
	p.down(float64(s.headHeight()+len(s.panels)*panelHeight), func() {
		for i, k := range s.key {
			x, y := 8+float64(i%2)*176, 8+float64(i/2*keyRow)
			k.draw(p, x+8, y)
			p.text("c-t", x+22, y+4, "", k.say)
		}
	})
}

// keyOf explains the marks that are in the charts, and no other.
func keyOf(panels []courseChart) []keyMark {
	var point, interval, handler, place, hold, unknown bool
	for _, ch := range panels {
		from, to := ch.span()
		for _, p := range ch.points {
			if !ch.corrections() {
				point = point || p.value.Known
				interval = interval || p.value.Known && p.low.Known && p.high.Known
			}
			handler = handler || p.handler != "" && p.day != from
			place = place || p.place != "" && p.day != from
		}
		for _, h := range ch.holds {
			hold = hold || from != 0 && h.From <= to && (h.To == 0 || h.To >= from)
		}
		unknown = unknown || ch.unknown()
	}
	var key []keyMark
	for _, k := range []struct {
		is bool
		keyMark
	}{
		{point, keyMark{func(p pen, x, y float64) { p.circle("c-pt", x, y, 4) }, "the day's figure"}},
		{interval, keyMark{func(p pen, x, y float64) { p.path("c-iv", whisker(x, y-6, y+6)) }, "its 95% interval"}},
		{handler, keyMark{func(p pen, x, y float64) { p.path("c-ev", triangle(x, y-5)) }, "asked by a new person"}},
		{place, keyMark{func(p pen, x, y float64) { p.rect("c-ev", x-4.5, y-4.5, 9, 9) }, "at a new place"}},
		{hold, keyMark{func(p pen, x, y float64) { hatched(p, x-8, x+8, y-6, y+6) }, "vet hold"}},
		{unknown, keyMark{func(p pen, x, y float64) { p.text("c-s", x, y+4, "middle", "?") }, "corrections not noted"}},
	} {
		if k.is {
			key = append(key, k.keyMark)
		}
	}
	return key
}

// whisker is an interval: a line between its ends, each with a cross stroke.
func whisker(x, high, low float64) []step {
	return []step{{'M', x - 3, high}, {'H', x + 3, high}, {'M', x, high}, {'V', x, low}, {'M', x - 3, low}, {'H', x + 3, low}}
}

func triangle(x, top float64) []step {
	return []step{{'M', x, top}, {'L', x + 5, top + 10}, {'L', x - 5, top + 10}, {'Z', x, top}}
}

// hatched draws a hatched box, without a pattern: some PDF makers drop patterns.
func hatched(b pen, a, z, y0, y1 float64) {
	b.rect("c-hb", a, y0, z-a, y1-y0)
	for s := a - (y1 - y0); s < z; s += 7 {
		xa, ya, xz, yz := s, y1, s+(y1-y0), y0
		if xa < a {
			ya -= a - xa
			xa = a
		}
		if xz > z {
			yz += xz - z
			xz = z
		}
		if xz > xa {
			b.line("c-ho", xa, ya, xz, yz)
		}
	}
}

func chartsOf(a analysis.Assessment, c analysis.CueAssessment) []courseChart {
	out := []courseChart{courseOf(a, c)}
	if h, ok := holdChartOf(a, c); ok {
		out = append(out, h)
	}
	if k, ok := correctionChartOf(a, c); ok {
		out = append(out, k)
	}
	return out
}

// The drawing is made for a phone's width: at 360 units across, 11 units of
// text are 11 px there, and larger everywhere else.
const (
	svgWidth  = 360
	svgHeight = 206

	titleHeight = 18
	panelHeight = svgHeight + titleHeight + 16
	keyRow      = 18
)

// printColours are the colours of the style for a drawing that stands alone:
// many programs that show SVG know no CSS variables. They are from the palette
// of Okabe and Ito (blue; vermillion darkened until text in it has 4.5:1), and
// every mark differs in shape as well.
var printColours = strings.NewReplacer("var(--ink)", "#1a1a1a", "var(--soft)", "#595959", "var(--paper)", "#fff", "var(--mark)", "#0072b2",
	"var(--second)", "#b34700", "var(--hatch)", "#6b6b6b")

const chartStyle = `.c-t{fill:var(--soft);font:11px system-ui,sans-serif}.c-s{fill:var(--ink);font:600 11px system-ui,sans-serif}.c-ax{stroke:var(--soft);stroke-width:1}.c-gr{stroke:var(--soft);stroke-width:.5;stroke-dasharray:1 3}.c-bar{stroke:var(--second);stroke-width:1.5;stroke-dasharray:6 3}.c-bt{fill:var(--second);font:600 11px system-ui,sans-serif}.c-iv{stroke:var(--mark);stroke-width:1.1}.c-ln{fill:none;stroke:var(--mark);stroke-width:2}.c-pt{fill:var(--mark);stroke:var(--paper);stroke-width:1}.c-ev{fill:var(--paper);stroke:var(--ink);stroke-width:1.3}.c-el{stroke:var(--ink);stroke-width:.75;stroke-dasharray:2 2}.c-ho{stroke:var(--hatch);stroke-width:1}.c-hb{fill:none;stroke:var(--hatch);stroke-width:.75}.c-col{fill:var(--second);fill-opacity:.35;stroke:var(--second);stroke-width:1.3}`

// aloneStyle is what a drawing that stands alone has besides.
const aloneStyle = `.paper{fill:var(--paper)}.top{fill:var(--ink);font:600 15px system-ui,sans-serif}.head{fill:var(--ink);font:600 12px system-ui,sans-serif}`

// draw draws the chart in a box of svgWidth by svgHeight.
func (ch courseChart) draw(b pen) {
	const x0, x1, y0, y1 = 44.0, 352.0, 30.0, 166.0
	from, to := ch.span()
	n := float64(to - from)
	x := func(d training.Day) float64 {
		if n == 0 {
			return (x0 + x1) / 2
		}
		return x0 + 12 + (x1-x0-24)*float64(d-from)/n
	}
	y := func(v float64) float64 { return y1 - (y1-y0)*math.Min(1, math.Max(0, v/ch.top)) }
	// vet holds as a hatched band
	for _, h := range ch.holds {
		end := to
		if h.To != 0 && h.To < to {
			end = h.To
		}
		if h.From > to || end < from {
			continue
		}
		half := 5.0
		if n > 0 {
			half = math.Min(8, (x1-x0-24)/n/2)
		}
		a, z := math.Max(x0, x(max(h.From, from))-half), math.Min(x1, x(end)+half)
		hatched(b, a, z, y0, y1)
		b.text("c-t", (a+z)/2, y0-4, "middle", "vet")
	}
	for i := 0; i <= 4; i++ {
		v := ch.top * float64(i) / 4
		label := ""
		switch ch.unit {
		case "%":
			label = fixed(100*v, 0, bounds{}) + "%"
		case "":
			label = say.Clock(math.Round(v))
		default:
			label = say.Number(v)
		}
		class := "c-gr"
		if i == 0 {
			class = "c-ax"
		}
		b.line(class, x0, y(v), x1, y(v))
		b.text("c-t", x0-5, y(v)+4, "end", label)
	}
	// dates, as many as have room
	every := 1
	room := 26.0
	if n > 200 { // every date then names its month
		room = 42
	}
	for len(ch.points) > 0 && float64(every)*(x1-x0-24)/math.Max(1, n) < room && every < int(n)+1 {
		every++
	}
	month := from.Time(utc).Month()
	for d := from; len(ch.points) > 0 && d <= to; d += training.Day(every) {
		form := "2"
		if m := d.Time(utc).Month(); m != month { // the first date of a new month says so
			month, form = m, "2 Jan"
		}
		b.text("c-t", x(d), y1+15, "middle", d.Time(utc).Format(form))
	}
	if len(ch.points) > 0 {
		b.text("c-t", x0, y1+31, "", months(from, to))
	}
	// first time with somebody (triangle), first time at a place (square)
	for _, p := range ch.points {
		if p.day == from || p.handler == "" && p.place == "" {
			continue
		}
		b.line("c-el", x(p.day), y0-6, x(p.day), y1)
		off := 0.0
		if p.handler != "" && p.place != "" {
			off = 6
		}
		if p.handler != "" {
			cx := x(p.day) - off
			b.path("c-ev", triangle(cx, y0-16))
		}
		if p.place != "" {
			cx := x(p.day) + off
			b.rect("c-ev", cx-4.5, y0-15, 9, 9)
		}
	}
	if ch.bar.Known && ch.bar.V > 0 && ch.bar.V <= ch.top {
		b.line("c-bar", x0, y(ch.bar.V), x1, y(ch.bar.V))
		b.text("c-bt", x1, y1+31, "end", "- - "+ch.barSay)
	}
	corrections := ch.corrections()
	var course []step
	joined := false
	last := training.Day(0)
	for _, p := range ch.points {
		if !p.value.Known {
			if corrections {
				b.text("c-s", x(p.day), y1-4, "middle", "?")
			}
			continue
		}
		px, py := x(p.day), y(p.value.V)
		if corrections && p.value.V == 0 { // a box without height is not drawn
			b.line("c-col", px-4, y1, px+4, y1)
			continue
		}
		if corrections {
			b.rect("c-col", px-4, py, 8, y1-py)
			continue
		}
		if p.low.Known && p.high.Known {
			b.path("c-iv", whisker(px, y(p.high.V), y(p.low.V)))
		}
		// the line stops at a vet hold: what comes after it is a new beginning
		op := byte('L')
		for d := last; d <= p.day; d++ {
			if last == 0 || ch.onHold(d) {
				op = 'M'
				break
			}
		}
		last = p.day
		course = append(course, step{op, px, py})
		joined = joined || op == 'L'
	}
	if joined {
		b.path("c-ln", course)
	}
	if !corrections {
		for _, p := range ch.points {
			if p.value.Known {
				b.circle("c-pt", x(p.day), y(p.value.V), 4)
			}
		}
	}
}

// svgBody is the chart as SVG elements, in a box of svgWidth by svgHeight.
func (ch courseChart) svgBody() string {
	var p svgPen
	ch.draw(&p)
	return p.String()
}

// months names the months of an axis: "March 2026", "October and November 2026",
// "October 2026 to January 2027".
func months(from, to training.Day) string {
	a, z := from.Time(utc), to.Time(utc)
	apart := (z.Year()-a.Year())*12 + int(z.Month()) - int(a.Month())
	switch {
	case apart == 0:
		return a.Format("January 2006")
	case a.Year() != z.Year():
		return a.Format("Jan 2006") + " to " + z.Format("Jan 2006")
	case apart == 1:
		return a.Format("January") + " and " + z.Format("January 2006")
	}
	return a.Format("January") + " to " + z.Format("January 2006")
}

// svg is the chart as an image inside a page, which brings the style. id keeps
// the names of two charts on one page apart.
func (ch courseChart) svg(id string) string {
	return fmt.Sprintf(`<svg viewBox="0 0 %d %d" role="img" aria-labelledby="%s-t %s-d"><title id="%s-t">%s</title><desc id="%s-d">%s</desc>%s</svg>`,
		svgWidth, svgHeight, id, id, id, html.EscapeString(ch.name+": "+ch.what), id, html.EscapeString(ch.say()), ch.svgBody())
}
