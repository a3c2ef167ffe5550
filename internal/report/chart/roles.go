package chart

import (
	"fmt"
	"image/color"
	"strconv"
	"strings"
)

// role is what a shape stands for. It decides how the shape looks in each form.
type role uint8

const (
	paper role = iota
	words
	soft
	title
	good
	bad
	grid
	edge
	held
	band
	band2
	level
	level2
	bar
	begun
	stop
	whisker
	dial
	working
	track
	cardName
	cardCue
	cardText
	person // person+i is the i-th person's mark
)

// shapes a person's mark may have: circle, diamond, square, triangle, triangle down.
const forms = 5

// look is how a role looks. Ink names a colour of inks. A line has a width, a text a
// size, all in pixels; opacity 0 is full.
type look struct {
	ink     string
	width   float64
	dash    []float64
	opacity float64
	size    float64
	bold    bool
	glyphs  [2]string // terminal: in Unicode, in ASCII
}

var looks = [person]look{
	paper: {ink: "paper"},
	words: {ink: "ink", size: 13}, soft: {ink: "soft", size: 12}, title: {ink: "ink", size: 17, bold: true},
	good: {ink: "good", size: 13, bold: true}, bad: {ink: "bad", size: 13, bold: true},
	grid: {ink: "grid", width: 1, glyphs: [2]string{" ", " "}}, edge: {ink: "soft", width: 1.2, glyphs: [2]string{"─│", "-|"}},
	held: {ink: "hold", glyphs: [2]string{"▒", "/"}},
	band: {ink: "good", opacity: .18, glyphs: [2]string{"░", ":"}}, band2: {ink: "bad", opacity: .18, glyphs: [2]string{"░", ":"}},
	level:  {ink: "good", width: 2.8, glyphs: [2]string{"━", "="}},
	level2: {ink: "bad", width: 2.8, dash: []float64{9, 3}, glyphs: [2]string{"═", "~"}},
	bar:    {ink: "ink", width: 1.6, dash: []float64{7, 4}, glyphs: [2]string{"╌", "-"}},
	begun:  {ink: "soft", width: 1, dash: []float64{1.5, 3}, glyphs: [2]string{"┊", "'"}},
	stop:   {ink: "bad", width: 2, glyphs: [2]string{"┃", "!"}}, whisker: {ink: "soft", width: 1.4, glyphs: [2]string{"│", "|"}},
	dial: {ink: "bad", width: 1.6, glyphs: [2]string{"•", "*"}}, working: {ink: "ink", width: 1.2, dash: []float64{2, 3}, glyphs: [2]string{"╌", "-"}},
	track:    {ink: "grid"},
	cardName: {ink: "ink", size: 44, bold: true}, cardCue: {ink: "ink", size: 22, bold: true}, cardText: {ink: "ink", size: 16.5},
}

var names = [person]string{"paper", "words", "soft", "title", "good", "bad", "grid", "edge", "held", "band", "band2", "level",
	"level2", "bar", "begun", "stop", "whisker", "dial", "working", "track", "name", "cue", "text"}

// inks are the colours, on light and on dark paper. They differ in lightness as well
// as in hue; shape and dash say the same without colour.
var inks = []struct{ name, light, dark string }{
	{"paper", "#fbfaf6", "#171a17"}, {"ink", "#20261f", "#eceee6"}, {"soft", "#5a6259", "#a9b1a6"}, {"grid", "#dcd9cc", "#353a34"},
	{"good", "#1f6a4f", "#74c7a2"}, {"bad", "#a3341f", "#f0907a"}, {"third", "#2b5d8a", "#8fc0ea"}, {"hold", "#e2d8b4", "#453d27"},
}

var personInk = []string{"good", "bad", "third", "ink"}
var personGlyphs = [2][2]string{{"●◆■▲▼", "oxvzn"}, {"•⬩▪▴▾", "oxvzn"}} // many asks, few asks

// lookOf gives the look of a role, and the form of a person's mark.
func lookOf(r role) (look, int) {
	if r < person {
		return looks[r], 0
	}
	i := int(r - person)
	return look{ink: personInk[i%len(personInk)], opacity: .85}, i % forms
}

// class is the role's class in SVG.
func (r role) class() string {
	if r < person {
		return "fc-" + names[r]
	}
	return "fc-p" + personInk[int(r-person)%len(personInk)]
}

// style is the style sheet of an SVG: light, dark where the screen asks for it, and
// light on paper.
func style() string {
	var b, dark strings.Builder
	b.WriteString(".fc{")
	for _, k := range inks {
		fmt.Fprintf(&b, "--fc-%s:%s;", k.name, k.light)
		fmt.Fprintf(&dark, "--fc-%s:%s;", k.name, k.dark)
	}
	b.WriteString("font-family:system-ui,\"Segoe UI\",Roboto,Helvetica,Arial,sans-serif;max-width:100%;height:auto}")
	b.WriteString("@media screen and (prefers-color-scheme:dark){.fc{" + dark.String() + "}}\n")
	for r := paper; r < cardName; r++ {
		l := looks[r]
		if l.width > 0 {
			fmt.Fprintf(&b, ".%s{fill:none;stroke:var(--fc-%s);stroke-width:%g", r.class(), l.ink, l.width)
			if len(l.dash) > 0 {
				fmt.Fprintf(&b, ";stroke-dasharray:%g %g", l.dash[0], l.dash[1])
			}
		} else {
			fmt.Fprintf(&b, ".%s{fill:var(--fc-%s)", r.class(), l.ink)
		}
		if l.opacity > 0 {
			fmt.Fprintf(&b, ";fill-opacity:%g", l.opacity)
		}
		if l.size > 0 {
			fmt.Fprintf(&b, ";font-size:%gpx", l.size)
		}
		if l.bold {
			b.WriteString(";font-weight:700")
		}
		b.WriteString("}")
	}
	for _, ink := range personInk {
		fmt.Fprintf(&b, ".fc-p%s{fill:var(--fc-%s);fill-opacity:.85;stroke:var(--fc-paper)}", ink, ink)
	}
	return b.String()
}

// light gives the colour of an ink on light paper.
func light(ink string, opacity float64) color.NRGBA {
	for _, k := range inks {
		if k.name == ink {
			n, _ := strconv.ParseUint(k.light[1:], 16, 32)
			a := uint8(255)
			if opacity > 0 {
				a = uint8(255*opacity + .5)
			}
			return color.NRGBA{uint8(n >> 16), uint8(n >> 8), uint8(n), a}
		}
	}
	panic("chart: no ink " + ink)
}

// shapeOf is the outline of a person's mark round a point. All outlines turn the same
// way. A circle is given as many corners as a print can show.
func shapeOf(form int, c point, r float64) []point {
	at := func(xy ...float64) []point {
		var out []point
		for i := 0; i < len(xy); i += 2 {
			out = append(out, point{c.x + r*xy[i], c.y + r*xy[i+1]})
		}
		return out
	}
	switch form {
	case 1:
		return at(0, -1.2, 1.2, 0, 0, 1.2, -1.2, 0)
	case 2:
		return at(-.9, -.9, .9, -.9, .9, .9, -.9, .9)
	case 3:
		return at(0, -1.15, 1.15, .9, -1.15, .9)
	case 4:
		return at(-1.15, -.9, 1.15, -.9, 0, 1.15)
	}
	return circle(c, r)
}
