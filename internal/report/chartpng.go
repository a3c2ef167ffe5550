package report

import (
	"firstcue/internal/say"

	"fmt"
	"image"
	"image/color"
	"image/draw"
	"image/png"
	"io"
	"math"
	"strconv"
	"strings"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	fixpoint "golang.org/x/image/math/fixed"
	"golang.org/x/image/vector"

	"firstcue/internal/analysis"
)

// pngScale is how many pixels a unit of the drawing has: twice the size at
// which the SVG shows, so that it is sharp on a phone and in a print.
const pngScale = 4

// ChartPNG writes the drawing of ChartSVG as a PNG image, svgWidth*pngScale
// pixels wide, on white, for programs and messages that take no SVG. The same
// values give the same bytes. A letter that the Go fonts do not have (they know
// Latin, Greek and Cyrillic) shows as an empty box. The error is that of w.
func ChartPNG(w io.Writer, a analysis.Assessment, c analysis.CueAssessment) error {
	s := sheetOf(a, c)
	p, err := newPNGPen(s.height())
	if err != nil {
		return err
	}
	s.draw(p)
	return (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(w, p.img)
}

// look is a rule of the chart's style with colours that are ready to paint.
type look struct {
	fill, stroke color.Color // nil for say.None
	width        float64     // of the stroke
	dash         []float64   // drawn, left out, in turn
	bold         bool
	size         float64 // of text
}

// looks reads the style of the drawing, so that a colour or a width has one
// home. It understands what chartStyle and aloneStyle use and refuses the rest.
func looks(style string) (map[string]look, error) {
	out := map[string]look{}
	for _, rule := range strings.SplitAfter(style, "}") {
		if rule == "" {
			continue
		}
		name, body, ok := strings.Cut(strings.TrimSuffix(rule, "}"), "{")
		if !ok {
			return nil, fmt.Errorf("chart style: %q is no rule", rule)
		}
		l, opacity, err := look{}, 1.0, error(nil)
		for _, part := range strings.Split(body, ";") {
			key, value, _ := strings.Cut(part, ":")
			switch key {
			case "fill":
				l.fill, err = colourOf(value)
			case "stroke":
				l.stroke, err = colourOf(value)
			case "fill-opacity":
				opacity, err = strconv.ParseFloat(value, 64)
			case "stroke-width":
				l.width, err = strconv.ParseFloat(value, 64)
			case "stroke-dasharray":
				for _, n := range strings.Fields(value) {
					var v float64
					if v, err = strconv.ParseFloat(n, 64); err != nil || v <= 0 {
						return nil, fmt.Errorf("chart style: dash %q", value)
					}
					l.dash = append(l.dash, v)
				}
			case "font":
				value, l.bold = strings.CutPrefix(value, "600 ")
				size, _, _ := strings.Cut(value, "px ")
				l.size, err = strconv.ParseFloat(size, 64)
			default:
				err = fmt.Errorf("chart style: %q is not known", key)
			}
			if err != nil {
				return nil, err
			}
		}
		if c, ok := l.fill.(color.NRGBA); ok {
			c.A = uint8(math.Round(255 * opacity))
			l.fill = c
		}
		out[strings.TrimPrefix(name, ".")] = l
	}
	return out, nil
}

// colourOf reads a colour: say.None, #rgb or #rrggbb.
func colourOf(s string) (color.Color, error) {
	if s == "none" {
		return nil, nil
	}
	hex, _ := strings.CutPrefix(s, "#")
	if len(hex) == 3 {
		hex = string([]byte{hex[0], hex[0], hex[1], hex[1], hex[2], hex[2]})
	}
	n, err := strconv.ParseUint(hex, 16, 32)
	if err != nil || len(hex) != 6 {
		return nil, fmt.Errorf("chart style: colour %q", s)
	}
	return color.NRGBA{uint8(n >> 16), uint8(n >> 8), uint8(n), 255}, nil
}

// pngPen paints into an image.
type pngPen struct {
	img   *image.RGBA
	looks map[string]look
	faces map[string]font.Face // by class
	dy    float64
	ink   vector.Rasterizer
}

func newPNGPen(height int) (*pngPen, error) {
	rules, err := looks(printColours.Replace(chartStyle + aloneStyle))
	if err != nil {
		return nil, err
	}
	regular, err := opentype.Parse(goregular.TTF)
	if err != nil {
		return nil, err
	}
	bold, err := opentype.Parse(gobold.TTF)
	if err != nil {
		return nil, err
	}
	p := &pngPen{img: image.NewRGBA(image.Rect(0, 0, svgWidth*pngScale, height*pngScale)), looks: rules, faces: map[string]font.Face{}}
	for name, l := range rules {
		if l.size == 0 {
			continue
		}
		f := regular
		if l.bold {
			f = bold
		}
		if p.faces[name], err = opentype.NewFace(f, &opentype.FaceOptions{Size: l.size * pngScale, DPI: 72, Hinting: font.HintingNone}); err != nil {
			return nil, err
		}
	}
	draw.Draw(p.img, p.img.Bounds(), image.NewUniform(rules["paper"].fill), image.Point{}, draw.Src)
	return p, nil
}

type point struct{ x, y float64 }

// cover paints the union of shapes, each a closed run of points in units. The
// shapes must all turn the same way round: one that turns the other way cuts a
// hole.
func (p *pngPen) cover(c color.Color, shapes ...[]point) {
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, s := range shapes {
		for _, q := range s {
			x0, x1 = math.Min(x0, q.x), math.Max(x1, q.x)
			y0, y1 = math.Min(y0, q.y), math.Max(y1, q.y)
		}
	}
	if c == nil || x0 > x1 {
		return
	}
	// only the box of the shapes is worked on: the whole image each time is slow
	px := func(v float64) float64 { return v * pngScale }
	box := image.Rect(int(math.Floor(px(x0))), int(math.Floor(px(y0+p.dy))), int(math.Ceil(px(x1)))+1, int(math.Ceil(px(y1+p.dy)))+1)
	p.ink.Reset(box.Dx(), box.Dy())
	at := func(q point) (float32, float32) {
		return float32(px(q.x) - float64(box.Min.X)), float32(px(q.y+p.dy) - float64(box.Min.Y))
	}
	for _, s := range shapes {
		p.ink.MoveTo(at(s[0]))
		for _, q := range s[1:] {
			p.ink.LineTo(at(q))
		}
		p.ink.ClosePath()
	}
	p.ink.Draw(p.img, box, image.NewUniform(c), image.Point{})
}

// stroked is the outline of a line from a to b, cut into its dashes.
func (l look) stroked(a, b point) [][]point {
	length := math.Hypot(b.x-a.x, b.y-a.y)
	if length == 0 {
		return nil
	}
	ux, uy := (b.x-a.x)/length, (b.y-a.y)/length
	nx, ny := -uy*l.width/2, ux*l.width/2
	piece := func(from, to float64) []point {
		s, e := point{a.x + ux*from, a.y + uy*from}, point{a.x + ux*to, a.y + uy*to}
		return []point{{s.x + nx, s.y + ny}, {s.x - nx, s.y - ny}, {e.x - nx, e.y - ny}, {e.x + nx, e.y + ny}}
	}
	if len(l.dash) == 0 {
		return [][]point{piece(0, length)}
	}
	var out [][]point
	for i, at := 0, 0.0; at < length; i++ {
		end := at + l.dash[i%len(l.dash)]
		if i%2 == 0 {
			out = append(out, piece(at, math.Min(end, length)))
		}
		at = end
	}
	return out
}

// disc is a circle as a polygon, fine enough at the size of the drawing.
func disc(c point, r float64) []point {
	const corners = 64
	out := make([]point, corners)
	for i := range out {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / corners)
		out[i] = point{c.x + r*cos, c.y + r*sin}
	}
	return out
}

func reversed(s []point) []point {
	out := make([]point, len(s))
	for i, q := range s {
		out[len(s)-1-i] = q
	}
	return out
}

func (p *pngPen) line(class string, x1, y1, x2, y2 float64) {
	l := p.looks[class]
	p.cover(l.stroke, l.stroked(point{x1, y1}, point{x2, y2})...)
}

func (p *pngPen) rect(class string, x, y, w, h float64) {
	l := p.looks[class]
	box := func(by float64) []point {
		return []point{{x - by, y - by}, {x + w + by, y - by}, {x + w + by, y + h + by}, {x - by, y + h + by}}
	}
	p.cover(l.fill, box(0))
	if half := l.width / 2; math.Min(w, h) > l.width {
		p.cover(l.stroke, box(half), reversed(box(-half)))
	} else {
		p.cover(l.stroke, box(half))
	}
}

func (p *pngPen) circle(class string, x, y, r float64) {
	l := p.looks[class]
	p.cover(l.fill, disc(point{x, y}, r))
	p.cover(l.stroke, disc(point{x, y}, r+l.width/2), reversed(disc(point{x, y}, r-l.width/2)))
}

func (p *pngPen) path(class string, steps []step) {
	l := p.looks[class]
	var shape []point
	var strokes [][]point
	for i, s := range steps {
		q := point{s.x, s.y}
		if s.op != 'M' {
			strokes = append(strokes, l.stroked(point{steps[i-1].x, steps[i-1].y}, q)...)
			if s.op == 'Z' || i+1 < len(steps) && steps[i+1].op != 'M' { // round the corner
				strokes = append(strokes, disc(q, l.width/2))
			}
		}
		shape = append(shape, q)
	}
	if l.fill != nil {
		p.cover(l.fill, shape)
	}
	p.cover(l.stroke, strokes...)
}

func (p *pngPen) text(class string, x, y float64, anchor, s string) {
	face := p.faces[class]
	units := func(s string) float64 { return float64(font.MeasureString(face, s)) / 64 / pngScale }
	// letters are wider here than in many a system's own: what would run out of
	// the drawing is shortened
	for anchor == "" && x+units(s) > svgWidth-4 && cells(s) > 1 {
		s = clip(s, cells(s)-1)
	}
	switch anchor {
	case "middle":
		x -= units(s) / 2
	case "end":
		x -= units(s)
	}
	dot := func(v float64) fixpoint.Int26_6 { return fixpoint.Int26_6(math.Round(v * pngScale * 64)) }
	d := font.Drawer{Dst: p.img, Src: image.NewUniform(p.looks[class].fill), Face: face, Dot: fixpoint.Point26_6{X: dot(x), Y: dot(y + p.dy)}}
	d.DrawString(s)
}

func (p *pngPen) down(dy float64, draw func()) {
	p.dy += dy
	draw()
	p.dy -= dy
}

// clip shortens a title that would run out of the drawing.
func clip(s string, most int) string {
	if cells(s) <= most {
		return s
	}
	return strings.TrimSpace(truncate(s, most-1)) + "…"
}
