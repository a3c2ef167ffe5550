// Package chart draws what is known of a cue over time: for a terminal, as SVG and
// as PNG. It takes plain values and finished words, makes one scene of lines, areas,
// marks and labels from them, and three small painters paint that scene. The same
// values give the same bytes.
package chart

import (
	"firstcue/internal/training"
)

// Chart is one cue over time. Words come finished: the package writes none of its own
// but dates and the figures of the axes.
type Chart struct {
	Title    string // the dog's name and the cue
	Note     string // how to read it
	Describe string // the chart in sentences, for those who do not see it

	From, To training.Day // the first and last day drawn
	// Top is the worst value drawn of a figure that is better when less; 0 = a share,
	// 0 to 1, better when more. Either way up is better.
	Top float64

	Bar      training.Num // what must be passed; unknown = none
	BarLabel string

	Lines   []Line   // the level first; then persons who differ
	Dots    []Dot    // a day's own figures
	People  []string // persons, by the number that Dot.Person gives
	Events  []Event
	Holds   []Hold
	Devices []Device
}

// Line is a level over days, with the band in which it likely lies.
type Line struct {
	Label, Detail string // "now 58 %", "39 to 74"
	Points        []Level
}

// Level is the level on one day.
type Level struct {
	Day            training.Day
	Now, Low, High float64
}

// Dot is what one person saw on one day.
type Dot struct {
	Day       training.Day
	Value     float64
	Tries     float64 // asks, or minutes walked: the size of the mark
	Person    int     // an index into People: the shape of the mark
	Low, High training.Num
}

// Event is a day on which something began or happened.
type Event struct {
	Day  training.Day
	Text string
	Stop bool // an incident, not a new person or place
}

// Hold is a span of days without training. To is the last day of it.
type Hold struct {
	From, To training.Day
	Label    string
}

// Device is the dial positions of the corrections given with one device. Positions of
// two devices are never drawn on one axis.
type Device struct {
	Title, Label string
	Days         []Dial
	Working      training.Num // the working level that was noted
	WorkingLabel string
}

// Dial is a day's dial positions: the middle one and the range.
type Dial struct {
	Day               training.Day
	Median, Low, High float64
}

// value gives how good v is, 0 at the bottom of the axis to 1 at its top.
func (c Chart) value(v float64) float64 {
	if c.Top > 0 {
		return 1 - v/c.Top
	}
	return v
}

// held reports whether a hold lies between two days.
func (c Chart) held(from, to training.Day) bool {
	for _, h := range c.Holds {
		if h.From > from && h.From < to {
			return true
		}
	}
	return false
}

// scene is shapes on a paper, in the order in which they are painted.
type scene struct {
	width, height float64
	shapes        []shape
}

type kind uint8

const (
	line  kind = iota // through pts
	area              // between pts above and under below
	mark              // a person's or a device's mark at pts[0]
	label             // text from pts[0] on, on the middle of the line
)

type shape struct {
	kind       kind
	role       role
	pts, under []point
	size       float64 // mark: its radius in pixels
	text       string
}

type point struct{ x, y float64 }

func (s *scene) line(r role, pts ...point) { s.shapes = append(s.shapes, shape{role: r, pts: pts}) }

func (s *scene) mark(r role, x, y, size float64) {
	s.shapes = append(s.shapes, shape{kind: mark, role: r, pts: []point{{x, y}}, size: size})
}

func (s *scene) area(r role, above, under []point) {
	s.shapes = append(s.shapes, shape{kind: area, role: r, pts: above, under: under})
}

func (s *scene) box(r role, x0, y0, x1, y1 float64) {
	s.area(r, []point{{x0, y0}, {x1, y0}}, []point{{x0, y1}, {x1, y1}})
}

func (s *scene) label(r role, x, y float64, text string) {
	if text != "" {
		s.shapes = append(s.shapes, shape{kind: label, role: r, pts: []point{{x, y}}, text: text})
	}
}
