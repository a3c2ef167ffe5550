package chart

import (
	"math"
	"strings"

	"firstcue/internal/training"
)

// cellsLeft and cellsRight of a small bar lie on either side of its mark.
const (
	cellsLeft  = 14
	cellsRight = 6
)

// Scale is what the small bar of characters is drawn on. The mark stands in one
// column whatever it is, and right of it is good.
type Scale struct{ Left, Mark, Right float64 }

// Shares is the scale of a share, 0 to 1, with its bar: from 50 to 100 %, which at
// the usual bar of 85 % is 2.5 points a cell.
func Shares(bar float64) Scale {
	if bar <= .5 {
		return Scale{0, bar, 1}
	}
	return Scale{.5, bar, 1}
}

// Breaks is the scale of a figure that is better when less, with its bar: 0 at the
// right end, cells of one size.
func Breaks(bar float64) Scale { return Scale{bar + bar*cellsLeft/cellsRight, bar, 0} }

// cell is the cell of a value, rounded down so that what did not pass the mark lies
// left of it; -1 = worse than the left end.
func (s Scale) cell(v float64) int {
	down := 1.0
	if s.Right < s.Left {
		down = -1
	}
	part := func(v, from, to float64, cells int) int {
		// a figure typed as a decimal may miss its own cell by the last bit
		return int(math.Floor(float64(cells)*(v-from)/(to-from) + 1e-9))
	}
	if (v-s.Mark)*down >= 0 {
		if s.Right == s.Mark {
			return cellsLeft + cellsRight - 1
		}
		return cellsLeft + min(cellsRight-1, part(v, s.Mark, s.Right, cellsRight))
	}
	return min(cellsLeft-1, max(-1, part(v, s.Left, s.Mark, cellsLeft)))
}

// Small is the small bar of characters: 20 cells with the mark between the 14th and
// the 15th, the interval low to high, and the best guess now. What lies left of the
// scale shows as an arrow in the first cell. An unknown figure leaves the cells empty.
func Small(s Scale, now, low, high training.Num, ascii bool) string {
	empty, full, guess, mark, less := "·", "━", "●", "┃", "◄"
	if ascii {
		empty, full, guess, mark, less = ".", "=", "o", "|", "<"
	}
	cells := make([]string, cellsLeft+cellsRight)
	for i := range cells {
		cells[i] = empty
	}
	if low.Known && high.Known {
		from, to := s.cell(low.V), s.cell(high.V)
		if from > to {
			from, to = to, from
		}
		for i := max(0, from); i <= max(0, to); i++ {
			cells[i] = full
		}
		if from < 0 {
			cells[0] = less
		}
	}
	if now.Known {
		if i := s.cell(now.V); i < 0 {
			cells[0] = less
		} else {
			cells[i] = guess
		}
	}
	return strings.Join(cells[:cellsLeft], "") + mark + strings.Join(cells[cellsLeft:], "")
}

// Bar is a figure on its way from 0 to 100 %, for a page: a track with the interval,
// the best guess and the mark.
type Bar struct {
	Now, Low, High, Mark training.Num // 0 to 1, right is good
	Say                  string       // the same in words
}

// BarSVG draws a bar for a page that has Style, 200 by 16 pixels.
func BarSVG(b Bar) string {
	s := scene{width: 200, height: 16}
	s.bar(b, 4, 8, 192, 6)
	return svg(s, b.Say, "", false)
}

// bar draws a bar round the height y.
func (s *scene) bar(b Bar, x, y, width, thick float64) {
	at := func(v float64) float64 { return x + width*math.Max(0, math.Min(1, v)) }
	s.box(track, x, y-thick/2, x+width, y+thick/2)
	passed := b.Now.Known && (!b.Mark.Known || b.Now.V >= b.Mark.V)
	shade, hue := band2, person+1
	if passed {
		shade, hue = band, person
	}
	if b.Low.Known && b.High.Known {
		s.box(shade, at(b.Low.V), y-thick/2, at(b.High.V), y+thick/2)
	}
	if b.Mark.Known {
		s.line(bar, point{at(b.Mark.V), y - .9*thick}, point{at(b.Mark.V), y + .9*thick})
	}
	if b.Now.Known {
		s.mark(hue, at(b.Now.V), y, thick*.8)
	}
}
