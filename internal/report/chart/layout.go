package chart

import (
	"math"
	"sort"
	"strconv"
	"time"

	"firstcue/internal/training"
)

// medium is what a scene is laid out for: its width, and how large things are on it.
type medium struct {
	text    bool // a terminal: lengths are columns and rows
	width   float64
	row     float64 // height of a line of text
	gap     float64 // between things that must not touch
	least   float64 // narrowest plot that may have labels at its right
	air     float64 // above a plot, for the marks at its top
	plot    float64 // height of the plot
	dials   float64 // height of the plot of a device
	measure func(r role, s string) float64
}

func onTerminal(width int) medium {
	return medium{text: true, width: float64(width), row: 1, gap: 1, least: 40, plot: 12, dials: 4,
		measure: func(_ role, s string) float64 { return float64(columns(s)) }}
}

func onPaper(width float64) medium {
	return medium{width: width, row: 18, gap: 6, least: 340, air: 10, plot: 230, dials: 76, measure: measure}
}

// plan is a chart on its way to a scene.
type plan struct {
	Chart
	medium
	scene
	y           float64 // where the next part begins
	left, right float64 // of the plot
	wide        bool    // labels stand at the right of the plot
	top, bottom float64 // of the plot
	stops       []float64
}

// layOut makes the scene of a chart. Every label lies inside the frame and touches no
// other.
func layOut(c Chart, m medium) scene {
	p := &plan{Chart: c, medium: m}
	p.scene.width = m.width
	p.margins()
	p.y = m.gap
	if m.text {
		p.y = 0
	}
	p.paragraph(title, c.Title)
	p.paragraph(soft, c.Note)
	p.y += p.gap
	lanes := p.lanes()
	p.top = p.y + float64(lanes.count)*p.row + p.air
	p.bottom = p.top + p.plot
	p.holds()
	p.axis()
	p.bands()
	p.barLine()
	p.events(lanes)
	p.levels()
	p.dots()
	p.rightLabels()
	p.y = p.bottom + p.under()
	for _, d := range c.Devices {
		p.device(d)
	}
	p.dates()
	p.key()
	p.height = p.y
	return p.scene
}

// margins decides what room the labels at the left and at the right of the plot get.
func (p *plan) margins() {
	p.left = p.measure(words, "100%") + 2*p.gap
	need := p.measure(words, p.BarLabel)
	for _, l := range p.Lines {
		need = math.Max(need, p.measure(good, l.Label)+p.gap+p.measure(soft, l.Detail))
	}
	for _, d := range p.Devices {
		need = math.Max(need, math.Max(p.measure(bad, d.Label), p.measure(soft, d.WorkingLabel)))
	}
	p.right = p.medium.width - p.gap - p.measure(soft, "31")/2
	if r := p.medium.width - need - 3*p.gap; r-p.left >= p.least {
		p.right, p.wide = r, true
	}
	if p.text {
		p.right = math.Floor(p.right)
	}
}

// paragraph writes words over as many lines as they need.
func (p *plan) paragraph(r role, s string) {
	edge := p.gap
	if p.text {
		edge = 0
	}
	height := p.row
	if r == title && !p.text {
		height = 23
	}
	for _, l := range wrap(p.medium, r, s, p.medium.width-2*edge) {
		p.scene.label(r, edge, p.y+p.half(height), l)
		p.y += height
	}
}

// half is the middle of a line of text below its top; a row of a terminal is its own
// middle.
func (p *plan) half(height float64) float64 {
	if p.text {
		return 0
	}
	return height / 2
}

func (p *plan) day() float64 { return (p.right - p.left) / float64(max(1, int(p.To-p.From)+1)) }

// x is the middle of a day.
func (p *plan) x(d training.Day) float64 {
	x := p.left + (float64(d-p.From)+.5)*p.day()
	if p.text {
		return math.Floor(x)
	}
	return x
}

// at is the height at which a value is drawn. On a terminal a value that did not pass
// the bar is never drawn on the bar's row, nor one that passed it below that row.
func (p *plan) at(v float64) float64 {
	y := func(v float64) float64 {
		return p.top + p.plot*(1-math.Max(0, math.Min(1, p.value(v))))
	}
	if !p.text {
		return y(v)
	}
	row := math.Round(y(v))
	if !p.Bar.Known {
		return row
	}
	mark := math.Round(y(p.Bar.V))
	if p.value(v) < p.value(p.Bar.V) {
		return math.Max(row, mark+1)
	}
	return math.Min(row, mark)
}

func (p *plan) holds() {
	for _, h := range p.Holds {
		from, to := max(h.From, p.From), min(h.To, p.To)
		if from > to {
			continue
		}
		x0, x1 := p.x(from)-p.day()/2, p.x(to)+p.day()/2
		if p.text {
			x0, x1 = math.Ceil(x0), math.Floor(x1)
		}
		p.box(held, x0, p.top, x1, p.bottom)
		if w := p.measure(words, h.Label); w < x1-x0-p.gap {
			p.scene.label(words, math.Floor((x0+x1-w)/2), p.top+math.Floor(.55*p.plot), h.Label)
		}
	}
}

// axis draws the scale at the left, with the bar's own figure at its line.
func (p *plan) axis() {
	end, steps := 1.0, 4
	if p.Top > 0 {
		end = p.Top
		if p.Top <= 2.5 {
			steps = int(math.Ceil(2 * p.Top))
		}
	}
	write := func(r role, v float64) {
		s := number(100*v) + "%"
		if p.Top > 0 {
			s = number(v)
		}
		p.scene.label(r, p.left-p.gap-p.measure(r, s), p.at(v), s)
	}
	for i := 0; i <= steps; i++ {
		v := end * float64(i) / float64(steps)
		near := p.Bar.Known && math.Abs(p.at(v)-p.at(p.Bar.V)) < p.row
		if !p.text {
			p.scene.line(grid, point{p.left, p.at(v)}, point{p.right, p.at(v)})
		}
		if !near {
			write(soft, v)
		}
	}
	if p.Bar.Known {
		write(words, p.Bar.V)
	}
	p.frame(p.top, p.bottom)
}

// frame draws the left and lower edge of a plot.
func (p *plan) frame(top, bottom float64) {
	x, y := p.left, bottom
	if p.text {
		x, y = p.left-1, bottom+1
	}
	p.scene.line(edge, point{x, top}, point{x, bottom})
	p.scene.line(edge, point{x, y}, point{p.right, y})
}

// runs cuts a line where a vet hold lies between two of its days.
func (p *plan) runs(l Line) [][]Level {
	var out [][]Level
	for i, q := range l.Points {
		if i == 0 || p.held(l.Points[i-1].Day, q.Day) {
			out = append(out, nil)
		}
		out[len(out)-1] = append(out[len(out)-1], q)
	}
	return out
}

// course gives the points of a run, from the morning of its first day to the evening
// of its last one.
func (p *plan) course(run []Level, of func(Level) float64) []point {
	half := p.day() / 2
	first, last := run[0], run[len(run)-1]
	out := []point{{math.Max(p.left, p.x(first.Day)-half), p.at(of(first))}}
	for _, q := range run {
		out = append(out, point{p.x(q.Day), p.at(of(q))})
	}
	return append(out, point{math.Min(p.right, p.x(last.Day)+half), p.at(of(last))})
}

func (p *plan) bands() {
	for i, l := range p.Lines {
		for _, run := range p.runs(l) {
			above, under := p.course(run, func(q Level) float64 { return q.High }), p.course(run, func(q Level) float64 { return q.Low })
			if above[1].y > under[1].y {
				above, under = under, above
			}
			p.area([]role{band, band2}[min(i, 1)], above, under)
		}
	}
}

func (p *plan) levels() {
	for i, l := range p.Lines {
		for _, run := range p.runs(l) {
			p.scene.line([]role{level, level2}[min(i, 1)], p.course(run, func(q Level) float64 { return q.Now })...)
		}
	}
}

func (p *plan) barLine() {
	if p.Bar.Known {
		y := p.at(p.Bar.V)
		p.scene.line(bar, point{p.left, y}, point{p.right, y})
	}
}

// dots draws the days. Several persons of one day stand side by side.
func (p *plan) dots() {
	dots := append([]Dot(nil), p.Dots...)
	sort.SliceStable(dots, func(i, j int) bool { return dots[i].Day < dots[j].Day })
	most := 1.0
	for _, d := range dots {
		most = math.Max(most, d.Tries)
	}
	for i := 0; i < len(dots); {
		n := i
		for n < len(dots) && dots[n].Day == dots[i].Day {
			n++
		}
		step := math.Min(9, p.day()/float64(n-i))
		for k, d := range dots[i:n] {
			x := p.x(d.Day) + (float64(k)-float64(n-i-1)/2)*step
			if p.text {
				x = math.Min(p.right-1, math.Round(x))
			}
			if d.Low.Known && d.High.Known {
				p.scene.line(whisker, point{x, p.at(d.Low.V)}, point{x, p.at(d.High.V)})
			}
			p.mark(person+role(d.Person), x, p.at(d.Value), 2.5+4*math.Sqrt(d.Tries/most))
		}
		i = n
	}
}

// rightLabels names the bar and the lines where they end, pushed apart where they
// would touch.
func (p *plan) rightLabels() {
	if !p.wide {
		return
	}
	type entry struct {
		y      float64
		r      role
		s, sub string
	}
	var all []entry
	for i, l := range p.Lines {
		if n := len(l.Points); n > 0 {
			all = append(all, entry{p.at(l.Points[n-1].Now), []role{good, bad}[min(i, 1)], l.Label, l.Detail})
		}
	}
	if p.Bar.Known && p.BarLabel != "" {
		all = append(all, entry{p.at(p.Bar.V), words, p.BarLabel, ""})
	}
	sort.SliceStable(all, func(i, j int) bool { return all[i].y < all[j].y })
	limit := p.bottom
	for i := len(all) - 1; i >= 0; i-- {
		all[i].y = math.Min(all[i].y, limit-p.row*float64(len(all)-1-i))
	}
	for i, e := range all {
		if i > 0 {
			e.y = math.Max(e.y, all[i-1].y+p.row)
			all[i].y = e.y
		}
		x := p.right + 2*p.gap
		p.scene.label(e.r, x, e.y, e.s)
		p.scene.label(soft, x+p.measure(e.r, e.s)+p.gap, e.y, e.sub)
	}
}

// number writes a figure of an axis.
func number(v float64) string {
	return strconv.FormatFloat(math.Round(v*1000)/1000, 'f', -1, 64)
}

// dates writes the calendar below the last plot: the first and the last day, and
// between them Mondays, or firsts of months, where there is room.
func (p *plan) dates() {
	type tick struct{ x, w float64 }
	var set []tick
	write := func(d training.Day) {
		t := d.Time(time.UTC)
		s := t.Format("2 Jan")
		w := p.measure(soft, s)
		x := math.Max(0, math.Min(p.x(d)-math.Floor(w/2), p.medium.width-p.gap/2-w))
		for _, o := range set {
			if x < o.x+o.w+2*p.gap && o.x < x+w+2*p.gap {
				return
			}
		}
		set = append(set, tick{x, w})
		p.scene.label(soft, x, p.y+p.half(p.row), s)
		if !p.text {
			p.scene.line(edge, point{p.x(d), p.bottom}, point{p.x(d), p.bottom + 5})
		}
	}
	write(p.From)
	write(p.To)
	for d := p.From + 1; d < p.To; d++ {
		t := d.Time(time.UTC)
		if t.Weekday() == time.Monday && p.To-p.From < 70 || t.Day() == 1 && p.To-p.From >= 70 {
			write(d)
		}
	}
	p.y += p.row
}
