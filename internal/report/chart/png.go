package chart

import (
	"fmt"
	"image"
	"image/draw"
	"image/png"
	"io"
	"math"
	"sync"

	"golang.org/x/image/font"
	"golang.org/x/image/font/gofont/gobold"
	"golang.org/x/image/font/gofont/goregular"
	"golang.org/x/image/font/opentype"
	"golang.org/x/image/math/fixed"
	"golang.org/x/image/vector"
)

// PNG draws the chart as an image for messages and programs that take no SVG: on
// light paper, twice as fine as a page so that it is sharp on a phone and in print. A
// letter that the Go fonts do not have (they know Latin, Greek and Cyrillic) shows as
// an empty box. The error is that of w.
func PNG(w io.Writer, c Chart, width float64) error {
	return paintPNG(w, layOut(c, onPaper(width)), 2)
}

// faceKey is a size in pixels of the image and a weight.
type faceKey struct {
	size float64
	bold bool
}

var faces struct {
	sync.Mutex
	of map[faceKey]font.Face
}

// face gives the Go font of a role. The fonts are part of the program: that they can
// not be read would be a fault of the build.
func face(l look, scale float64) font.Face {
	key := faceKey{l.size * scale, l.bold}
	if f, ok := faces.of[key]; ok {
		return f
	}
	ttf := goregular.TTF
	if l.bold {
		ttf = gobold.TTF
	}
	parsed, err := opentype.Parse(ttf)
	if err != nil {
		panic(fmt.Sprint("chart: ", err))
	}
	f, err := opentype.NewFace(parsed, &opentype.FaceOptions{Size: key.size, DPI: 72, Hinting: font.HintingNone})
	if err != nil {
		panic(fmt.Sprint("chart: ", err))
	}
	if faces.of == nil {
		faces.of = map[faceKey]font.Face{}
	}
	faces.of[key] = f
	return f
}

// measure is the width of a text in pixels, more than in the Go fonts: those of a
// browser may be wider, the bold ones most.
func measure(r role, s string) float64 {
	faces.Lock()
	defer faces.Unlock()
	wider := 1.1
	if looks[r].bold {
		wider = 1.25
	}
	return wider * float64(font.MeasureString(face(looks[r], 1), s)) / 64
}

type canvas struct {
	img   *image.RGBA
	scale float64
	ink   vector.Rasterizer
}

func paintPNG(w io.Writer, s scene, scale float64) error {
	faces.Lock()
	defer faces.Unlock()
	p := &canvas{img: image.NewRGBA(image.Rect(0, 0, int(math.Ceil(s.width*scale)), int(math.Ceil(s.height*scale)))), scale: scale}
	draw.Draw(p.img, p.img.Bounds(), image.NewUniform(light("paper", 0)), image.Point{}, draw.Src)
	for _, sh := range s.shapes {
		p.paint(sh)
	}
	return (&png.Encoder{CompressionLevel: png.BestCompression}).Encode(w, p.img)
}

func (p *canvas) paint(s shape) {
	l, form := lookOf(s.role)
	switch s.kind {
	case label:
		f := face(l, p.scale)
		y := s.pts[0].y*p.scale + .35*l.size*p.scale
		d := font.Drawer{Dst: p.img, Src: image.NewUniform(light(l.ink, 0)), Face: f,
			Dot: fixed.Point26_6{X: fixed.Int26_6(s.pts[0].x * p.scale * 64), Y: fixed.Int26_6(y * 64)}}
		d.DrawString(s.text)
	case mark:
		if s.role >= person {
			p.fill(look{ink: "paper"}, shapeOf(form, s.pts[0], s.size+.7))
		}
		p.fill(look{ink: l.ink, opacity: l.opacity}, shapeOf(form, s.pts[0], s.size))
	case area:
		p.fill(l, outline(s))
	case line:
		p.fill(look{ink: l.ink}, stroked(s.pts, l.width, l.dash)...)
	}
}

// fill paints the union of outlines that all turn the same way.
func (p *canvas) fill(l look, shapes ...[]point) {
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for _, s := range shapes {
		for _, q := range s {
			x0, x1 = math.Min(x0, q.x), math.Max(x1, q.x)
			y0, y1 = math.Min(y0, q.y), math.Max(y1, q.y)
		}
	}
	if x0 > x1 {
		return
	}
	// only the box of the shapes is worked on: the whole image each time is slow
	box := image.Rect(int(math.Floor(x0*p.scale)), int(math.Floor(y0*p.scale)), int(math.Ceil(x1*p.scale))+1, int(math.Ceil(y1*p.scale))+1)
	p.ink.Reset(box.Dx(), box.Dy())
	at := func(q point) (float32, float32) {
		return float32(q.x*p.scale - float64(box.Min.X)), float32(q.y*p.scale - float64(box.Min.Y))
	}
	for _, s := range shapes {
		p.ink.MoveTo(at(s[0]))
		for _, q := range s[1:] {
			p.ink.LineTo(at(q))
		}
		p.ink.ClosePath()
	}
	p.ink.Draw(p.img, box, image.NewUniform(light(l.ink, l.opacity)), image.Point{})
}

// stroked is the outlines of a line, cut into its dashes, with round corners.
func stroked(pts []point, width float64, dash []float64) [][]point {
	var out [][]point
	walked := 0.0
	for i := 1; i < len(pts); i++ {
		a, b := pts[i-1], pts[i]
		length := math.Hypot(b.x-a.x, b.y-a.y)
		if length == 0 {
			continue
		}
		ux, uy := (b.x-a.x)/length, (b.y-a.y)/length
		nx, ny := -uy*width/2, ux*width/2
		piece := func(from, to float64) {
			s, e := point{a.x + ux*from, a.y + uy*from}, point{a.x + ux*to, a.y + uy*to}
			out = append(out, []point{{s.x - nx, s.y - ny}, {e.x - nx, e.y - ny}, {e.x + nx, e.y + ny}, {s.x + nx, s.y + ny}})
		}
		if len(dash) == 0 {
			piece(0, length)
			if i+1 < len(pts) {
				out = append(out, circle(b, width/2))
			}
		} else {
			whole := dash[0] + dash[1]
			for at := -math.Mod(walked, whole); at < length; at += whole {
				if from, to := math.Max(0, at), math.Min(length, at+dash[0]); from < to {
					piece(from, to)
				}
			}
		}
		walked += length
	}
	return out
}

// circle is one as a polygon, fine enough for a print.
func circle(c point, r float64) []point {
	const corners = 48
	out := make([]point, corners)
	for i := range out {
		sin, cos := math.Sincos(2 * math.Pi * float64(i) / corners)
		out[i] = point{c.x + r*cos, c.y + r*sin}
	}
	return out
}
