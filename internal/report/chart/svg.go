package chart

import (
	"fmt"
	"html"
	"strconv"
	"strings"
)

// Two widths that pages use, in pixels: for a phone, and for anything wider.
const (
	Phone = 360.0
	Page  = 760.0
)

// SVG draws the chart as an image that stands alone or inside a page, laid out for a
// width in pixels. It carries its own style for light and dark screens and for paper,
// and its title and description for screen readers.
func SVG(c Chart, width float64) string {
	s := layOut(c, onPaper(width))
	return svg(s, c.Title, c.Describe, true)
}

func svg(s scene, name, describe string, sheet bool) string {
	var b strings.Builder
	w, h := coord(s.width), coord(s.height)
	fmt.Fprintf(&b, `<svg xmlns="http://www.w3.org/2000/svg" class="fc" viewBox="0 0 %s %s" width="%s" height="%s" role="img" aria-label="%s">`,
		w, h, w, h, html.EscapeString(strings.TrimSpace(name+". "+describe)))
	fmt.Fprintf(&b, "\n<title>%s</title>\n", html.EscapeString(name))
	if describe != "" {
		fmt.Fprintf(&b, "<desc>%s</desc>\n", html.EscapeString(describe))
	}
	if sheet {
		b.WriteString("<style>" + style() + "</style>\n")
		fmt.Fprintf(&b, "<rect class=\"fc-paper\" width=\"%s\" height=\"%s\"/>\n", w, h)
	}
	for _, sh := range s.shapes {
		b.WriteString(element(sh) + "\n")
	}
	b.WriteString("</svg>\n")
	return b.String()
}

// coord writes a length to a tenth of a pixel.
func coord(v float64) string {
	return strings.TrimSuffix(strconv.FormatFloat(v, 'f', 1, 64), ".0")
}

func element(s shape) string {
	class, at := s.role.class(), s.pts[0]
	_, form := lookOf(s.role)
	switch {
	case s.kind == label:
		return fmt.Sprintf(`<text class="%s" x="%s" y="%s" dy=".35em">%s</text>`, class, coord(at.x), coord(at.y), html.EscapeString(s.text))
	case s.kind == mark && form == 0:
		fill := ""
		if s.role == dial {
			fill = ` style="fill:var(--fc-bad)"`
		}
		return fmt.Sprintf(`<circle class="%s" cx="%s" cy="%s" r="%s"%s/>`, class, coord(at.x), coord(at.y), coord(s.size), fill)
	case s.kind == mark:
		return `<polygon class="` + class + `" points="` + points(shapeOf(form, at, s.size)) + `"/>`
	case s.kind == area:
		return `<polygon class="` + class + `" points="` + points(outline(s)) + `"/>`
	}
	return `<polyline class="` + class + `" points="` + points(s.pts) + `"/>`
}

// outline is the edge of an area, once round.
func outline(s shape) []point {
	out := append([]point(nil), s.pts...)
	for i := len(s.under) - 1; i >= 0; i-- {
		out = append(out, s.under[i])
	}
	return out
}

func points(pts []point) string {
	var b strings.Builder
	for i, p := range pts {
		if i > 0 {
			b.WriteByte(' ')
		}
		b.WriteString(coord(p.x) + "," + coord(p.y))
	}
	return b.String()
}
