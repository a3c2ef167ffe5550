package report

import (
	"fmt"
	"html"
	"strings"
)

// A pen draws the parts of a chart. Lengths are in units of the drawing, which
// is svgWidth of them across; y runs down. class names the rule of chartStyle
// that says how the part looks.
type pen interface {
	line(class string, x1, y1, x2, y2 float64)
	rect(class string, x, y, w, h float64)
	circle(class string, x, y, r float64)
	path(class string, steps []step)
	// text writes s on the baseline y. x is its start, its "middle" or its "end".
	text(class string, x, y float64, anchor, s string)
	// down moves what draw draws down by dy.
	down(dy float64, draw func())
}

// step is one step of a path, named as in SVG: M begins at a point, L, H and V
// draw a line to it, Z draws the line back to the beginning.
type step struct {
	op   byte
	x, y float64
}

// svgPen writes SVG elements.
type svgPen struct{ strings.Builder }

// coord writes a length to a tenth of a unit.
func coord(v float64) string { return strings.TrimSuffix(fmt.Sprintf("%.1f", v), ".0") }

func (p *svgPen) line(class string, x1, y1, x2, y2 float64) {
	fmt.Fprintf(p, `<line class="%s" x1="%s" y1="%s" x2="%s" y2="%s"/>`, class, coord(x1), coord(y1), coord(x2), coord(y2))
}

func (p *svgPen) rect(class string, x, y, w, h float64) {
	fmt.Fprintf(p, `<rect class="%s" x="%s" y="%s" width="%s" height="%s"/>`, class, coord(x), coord(y), coord(w), coord(h))
}

func (p *svgPen) circle(class string, x, y, r float64) {
	fmt.Fprintf(p, `<circle class="%s" cx="%s" cy="%s" r="%s"/>`, class, coord(x), coord(y), coord(r))
}

func (p *svgPen) path(class string, steps []step) {
	var d strings.Builder
	for _, s := range steps {
		d.WriteByte(s.op)
		switch s.op {
		case 'H':
			d.WriteString(coord(s.x))
		case 'V':
			d.WriteString(coord(s.y))
		case 'M', 'L':
			d.WriteString(coord(s.x) + " " + coord(s.y))
		}
	}
	fmt.Fprintf(p, `<path class="%s" d="%s"/>`, class, d.String())
}

func (p *svgPen) text(class string, x, y float64, anchor, s string) {
	if anchor != "" {
		anchor = fmt.Sprintf(` text-anchor="%s"`, anchor)
	}
	fmt.Fprintf(p, `<text class="%s" x="%s" y="%s"%s>%s</text>`, class, coord(x), coord(y), anchor, html.EscapeString(s))
}

func (p *svgPen) down(dy float64, draw func()) {
	fmt.Fprintf(p, `<g transform="translate(0 %s)">`, coord(dy))
	draw()
	p.WriteString(`</g>`)
}
