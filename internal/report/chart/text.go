package chart

import (
	"math"
	"strings"

	"github.com/clipperhouse/displaywidth"
)

// The widths of a terminal that a chart is drawn for, in columns.
const (
	Narrowest = 40
	Widest    = 200
)

// Text draws the chart in characters, at most width columns wide; a width outside
// Narrowest to Widest is taken as the nearer of them. With ascii only ASCII is used,
// but for names. Lines end with a line break and have no blanks before it.
func Text(c Chart, width int, ascii bool) string {
	s := layOut(c, onTerminal(min(max(width, Narrowest), Widest)))
	g := screen{cells: make([][]string, int(math.Ceil(s.height))+1), set: 0}
	if ascii {
		g.set = 1
	}
	for i := range g.cells {
		g.cells[i] = make([]string, int(s.width)+1)
	}
	for _, sh := range s.shapes {
		g.paint(sh)
	}
	return g.String()
}

// screen is rows of cells. An empty cell is a blank; the cell after a wide character
// is "\x00".
type screen struct {
	cells [][]string
	set   int // of the glyphs: 0 Unicode, 1 ASCII
}

func (g *screen) put(x, y float64, glyph string) {
	row, col := int(y), int(x)
	if row >= 0 && row < len(g.cells) && col >= 0 && col < len(g.cells[row]) {
		g.cells[row][col] = glyph
	}
}

func (g *screen) paint(s shape) {
	l, form := lookOf(s.role)
	at := s.pts[0]
	switch s.kind {
	case label:
		x := math.Round(at.x)
		text := s.text
		if g.set == 1 {
			text = strings.NewReplacer("…", "~", "–", "-", "→", "to").Replace(text)
		}
		for c := displaywidth.StringGraphemes(text); c.Next(); {
			g.put(x, at.y, c.Value())
			for k := 1; k < columns(c.Value()); k++ {
				g.put(x+float64(k), at.y, "\x00")
			}
			x += float64(columns(c.Value()))
		}
	case mark:
		glyph := l.glyphs[g.set]
		if s.role >= person {
			small := 0
			if s.size < 4.8 {
				small = 1
			}
			glyph = string([]rune(personGlyphs[small][g.set])[form])
			if g.set == 1 && small == 0 {
				glyph = strings.ToUpper(glyph)
			}
		}
		g.put(math.Floor(at.x), at.y, glyph)
	case area:
		for x := math.Ceil(at.x - .5); x < s.pts[len(s.pts)-1].x || x == at.x; x++ {
			for y := math.Round(height(s.pts, x)); y <= math.Round(height(s.under, x)); y++ {
				g.put(x, y, l.glyphs[g.set])
			}
		}
	case line:
		g.stroke(s.pts, []rune(l.glyphs[g.set]), s.role)
	}
}

// stroke draws a line: upright ones with the last glyph of their role, others with
// the first.
func (g *screen) stroke(pts []point, glyphs []rune, r role) {
	if pts[0].x == pts[len(pts)-1].x {
		top, bottom := math.Min(pts[0].y, pts[len(pts)-1].y), math.Max(pts[0].y, pts[len(pts)-1].y)
		glyph := string(glyphs[len(glyphs)-1])
		if r == dial { // the range round a day's mark
			glyph = [2]string{"│", "|"}[g.set]
		}
		for y := top; y <= bottom; y++ {
			g.put(pts[0].x, y, glyph)
		}
		return
	}
	for x := math.Ceil(pts[0].x - .5); x < pts[len(pts)-1].x; x++ {
		g.put(x, math.Round(height(pts, x)), string(glyphs[0]))
	}
}

// height is that of a line at x.
func height(pts []point, x float64) float64 {
	if x <= pts[0].x {
		return pts[0].y
	}
	for i := 1; i < len(pts); i++ {
		a, b := pts[i-1], pts[i]
		if x <= b.x {
			if b.x == a.x {
				return b.y
			}
			return a.y + (b.y-a.y)*(x-a.x)/(b.x-a.x)
		}
	}
	return pts[len(pts)-1].y
}

func (g *screen) String() string {
	var b strings.Builder
	for _, row := range g.cells {
		var l strings.Builder
		for _, c := range row {
			switch c {
			case "\x00":
			case "":
				l.WriteByte(' ')
			default:
				l.WriteString(c)
			}
		}
		b.WriteString(strings.TrimRight(l.String(), " ") + "\n")
	}
	return strings.TrimRight(b.String(), "\n") + "\n"
}
