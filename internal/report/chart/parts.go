package chart

import (
	"math"
	"sort"
	"strings"

	"github.com/clipperhouse/displaywidth"
)

// lane is where the label of an event stands, above the plot.
type lane struct {
	event Event
	row   int // 0 = next to the plot
	x     float64
	text  string
}

type lanes struct {
	all   []lane
	count int
}

// lanes gives each event a row above the plot, so that no label touches another or
// the stem of another. They are set from the right: a label that is to the left goes
// one row up rather than across a stem.
func (p *plan) lanes() lanes {
	var out lanes
	events := p.merged()
	var limit []float64 // by row: where what is there begins
	for i := len(events) - 1; i >= 0; i-- {
		e := events[i]
		r := soft
		if e.Stop {
			r = bad
		}
		room := p.medium.width - p.gap
		text := shorten(p.medium, r, e.Text, math.Min(room/2, p.medium.width))
		w := p.measure(r, text)
		x := p.x(e.Day) + p.gap/2
		if p.text {
			x = p.x(e.Day)
		}
		if x+w > room {
			x = math.Max(0, p.x(e.Day)-p.gap/2-w)
		}
		row := 0
		for row < len(limit) && x+w+p.gap > limit[row] {
			row++
		}
		if row == len(limit) {
			limit = append(limit, 0)
		}
		for k := 0; k < row; k++ {
			limit[k] = math.Min(limit[k], math.Min(x, p.x(e.Day)))
		}
		limit[row] = math.Min(x, p.x(e.Day))
		out.all = append(out.all, lane{e, row, x, text})
	}
	out.count = len(limit)
	return out
}

// merged puts what began on one day into one label; what stopped the dog stays alone.
func (p *plan) merged() []Event {
	var out []Event
	events := append([]Event(nil), p.Events...)
	sort.SliceStable(events, func(i, j int) bool { return events[i].Day < events[j].Day })
	for _, e := range events {
		if e.Day < p.From || e.Day > p.To {
			continue
		}
		if n := len(out) - 1; n >= 0 && out[n].Day == e.Day && out[n].Stop == e.Stop {
			out[n].Text += ", " + strings.TrimPrefix(e.Text, "+ ")
			continue
		}
		out = append(out, e)
	}
	return out
}

func (p *plan) events(l lanes) {
	for _, e := range l.all {
		r, words, x := begun, soft, p.x(e.event.Day)
		if e.event.Stop {
			r, words = stop, bad
			p.stops = append(p.stops, x)
		}
		y := p.top - p.air - float64(e.row+1)*p.row
		end := p.bottom
		if p.text && !e.event.Stop { // in a plot of characters, too many strokes
			end = p.top
		}
		p.scene.line(r, point{x, p.stem(y)}, point{x, end})
		p.scene.label(words, e.x, y+p.half(p.row), e.text)
	}
}

// device draws the dial positions of one device, on the same days.
func (p *plan) device(d Device) {
	p.y += p.gap
	p.paragraph(words, d.Title)
	if !p.wide {
		p.paragraph(bad, d.Label)
		p.paragraph(soft, d.WorkingLabel)
	}
	p.y += p.air
	top := 0.0
	for _, q := range d.Days {
		top = math.Max(top, q.High)
	}
	if d.Working.Known {
		top = math.Max(top, d.Working.V)
	}
	top = round5(top)
	p.top, p.bottom = p.y, p.y+p.dials
	at := func(v float64) float64 {
		y := p.bottom - p.dials*v/top
		if p.text {
			return math.Round(y)
		}
		return y
	}
	for _, v := range []float64{0, top / 2, top} {
		s := number(v)
		p.scene.label(soft, p.left-p.gap-p.measure(soft, s), at(v), s)
		if !p.text {
			p.scene.line(grid, point{p.left, at(v)}, point{p.right, at(v)})
		}
	}
	p.frame(p.top, p.bottom)
	if d.Working.Known {
		p.scene.line(working, point{p.left, at(d.Working.V)}, point{p.right, at(d.Working.V)})
	}
	for _, x := range p.stops {
		p.scene.line(stop, point{x, p.top}, point{x, p.bottom})
	}
	for _, q := range d.Days {
		if q.High > q.Low {
			p.scene.line(dial, point{p.x(q.Day), at(q.Low)}, point{p.x(q.Day), at(q.High)})
		}
		p.mark(dial, p.x(q.Day), at(q.Median), 4)
	}
	if n := len(d.Days); p.wide && n > 0 {
		y := at(d.Days[n-1].Median)
		p.scene.label(bad, p.right+2*p.gap, y, d.Label)
		if w := at(d.Working.V); d.Working.Known {
			if math.Abs(w-y) < p.row {
				w = y + p.row
			}
			p.scene.label(soft, p.right+2*p.gap, w, d.WorkingLabel)
		}
	}
	p.y = p.bottom + p.under()
}

// under is the room below a plot before the dates; on a terminal they stand on its
// edge.
func (p *plan) under() float64 {
	if p.text {
		return 1
	}
	return p.gap
}

// round5 rounds the end of an axis of dial positions up so that its half is whole.
func round5(v float64) float64 {
	for _, step := range []float64{2, 10, 50, 100} {
		if v <= 5*step {
			return math.Max(step, math.Ceil(v/step)*step)
		}
	}
	return math.Ceil(v/100) * 100
}

// key explains the marks that are in the chart, and no other, and where there is no
// room beside the plot the lines too.
func (p *plan) key() {
	x, begin := p.gap, p.gap
	if p.text {
		x, begin = 0, 0
		p.y++
	}
	sample, height := 26.0, p.row+3
	if p.text {
		sample, height = 3, 1
	}
	entry := func(draw func(x, y float64), r role, s string) {
		s = shorten(p.medium, r, s, p.medium.width-begin-sample-p.gap)
		if w := sample + p.measure(r, s); x > begin && x+w > p.medium.width-begin {
			x, p.y = begin, p.y+height
		}
		y := p.y + p.half(height)
		draw(x, y)
		p.scene.label(r, x+sample, y, s)
		x += sample + p.measure(r, s) + 3*p.gap
	}
	stroke := func(r role) func(x, y float64) {
		return func(x, y float64) { p.scene.line(r, point{x, y}, point{x + sample - p.gap, y}) }
	}
	p.y += p.half(p.gap)
	if !p.wide {
		for i, l := range p.Lines {
			entry(stroke([]role{level, level2}[min(i, 1)]), []role{good, bad}[min(i, 1)], strings.TrimSuffix(l.Label+", "+l.Detail, ", "))
		}
		if p.Bar.Known && p.BarLabel != "" {
			entry(stroke(bar), words, p.BarLabel)
		}
	}
	for i, name := range p.People {
		middle := (sample - p.gap) / 2
		if p.text {
			middle = 0
		}
		entry(func(x, y float64) { p.mark(person+role(i), x+middle, y, 5.5) }, soft, name)
	}
	for i, h := range p.Holds {
		if i > 0 || h.To < p.From || h.From > p.To {
			continue
		}
		entry(func(x, y float64) {
			half := p.half(height) * .6
			p.box(held, x, y-half, x+sample-p.gap, y+half)
		}, soft, h.Label)
	}
	p.y += height
}

// columns is the width of s on a terminal.
func columns(s string) int {
	n := 0
	for _, r := range s {
		n += displaywidth.Rune(r)
	}
	return n
}

// shorten cuts s to a width, with an ellipsis, never inside a character.
func shorten(m medium, r role, s string, width float64) string {
	if m.measure(r, s) <= width {
		return s
	}
	out := ""
	for g := displaywidth.StringGraphemes(s); g.Next(); {
		if m.measure(r, out+g.Value()+"…") > width {
			break
		}
		out += g.Value()
	}
	return strings.TrimSpace(out) + "…"
}

// wrap breaks words into lines of at most a width.
func wrap(m medium, r role, s string, width float64) []string {
	var lines []string
	row := ""
	for _, w := range strings.Fields(s) {
		w = shorten(m, r, w, width)
		switch {
		case row == "":
			row = w
		case m.measure(r, row+" "+w) > width:
			lines, row = append(lines, row), w
		default:
			row += " " + w
		}
	}
	if row != "" {
		lines = append(lines, row)
	}
	return lines
}

// stem is where the line of an event begins whose label's row is at y: beside the
// label on paper, below it on a terminal.
func (p *plan) stem(y float64) float64 {
	if p.text {
		return y + p.row
	}
	return y + 2
}
