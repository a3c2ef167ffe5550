package chart

import (
	"bytes"
	"encoding/xml"
	"flag"
	"fmt"
	"image/png"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"firstcue/internal/training"
)

var update = flag.Bool("update", false, "write the golden files")

// golden holds what is drawn against a file; what is written with -update is to be
// looked at.
func golden(t *testing.T, name, got string) {
	t.Helper()
	file := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(file, []byte(got), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	if got != string(want) {
		t.Errorf("%s: got\n%s\nwant\n%s", name, got, want)
	}
}

func TestGolden(t *testing.T) {
	golden(t, "gorse-80.txt", Text(gorse(), 80, false))
	golden(t, "sorrel-40.txt", Text(sorrel(), 40, false))
	golden(t, "thistle-120.txt", Text(thistle(), 120, false))
	golden(t, "heel-ascii.txt", Text(heel(), 80, true))
	golden(t, "gorse.svg", SVG(gorse(), Page))
	golden(t, "sorrel-phone.svg", SVG(sorrel(), Phone))
}

// any chart that a dog could have, with names as long as people type them.
func drawn(t *rapid.T) Chart {
	names := rapid.SampledFrom([]string{"Ailsa", "the old orchard behind the mill", "Bo", "Gwenllian Featherstonehaugh-Merriweather", "市場"})
	days := rapid.IntRange(1, 120).Draw(t, "days")
	share := rapid.Float64Range(0, 1)
	c := Chart{Title: names.Draw(t, "dog") + ", come", Note: note, From: march(1), To: march(days), BarLabel: "85% must be passed",
		Bar: training.Known(rapid.SampledFrom([]float64{.85, .9, .5, 1}).Draw(t, "bar")), People: []string{names.Draw(t, "a"), names.Draw(t, "b")}}
	var l Line
	l.Label, l.Detail = "now 58%", "39 to 74"
	for d := 1; d <= days; d += rapid.IntRange(1, 5).Draw(t, "step") {
		v := share.Draw(t, "v")
		l.Points = append(l.Points, Level{march(d), v, v * .8, v + (1-v)*.5})
		c.Dots = append(c.Dots, Dot{Day: march(d), Value: share.Draw(t, "dot"), Tries: 5, Person: d % 2})
		if rapid.Bool().Draw(t, "new") {
			c.Events = append(c.Events, Event{march(d), "+ " + names.Draw(t, "name"), rapid.Bool().Draw(t, "stop")})
		}
	}
	c.Lines = []Line{l, {"not Ailsa 56%", "33 to 77", l.Points[len(l.Points)/2:]}}
	if rapid.Bool().Draw(t, "held") {
		c.Holds = []Hold{{march(rapid.IntRange(1, days).Draw(t, "hold")), march(days), "vet hold"}}
	}
	if rapid.Bool().Draw(t, "device") {
		c.Devices = []Device{{Title: "Dial of the " + names.Draw(t, "remote"), Label: "from 9 to 18-20", Days: []Dial{{march(1), 9, 8, 12}},
			Working: training.Known(11), WorkingLabel: "working level 11"}}
	}
	return c
}

// TestLabels: every label lies inside the frame and touches no other, on paper and on
// every width of a terminal.
func TestLabels(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := drawn(t)
		m := onTerminal(rapid.IntRange(Narrowest, Widest).Draw(t, "width"))
		if rapid.Bool().Draw(t, "paper") {
			m = onPaper(rapid.SampledFrom([]float64{Phone, 420, Page, 1200}).Draw(t, "pixels"))
		}
		checkLabels(t, layOut(c, m), m)
	})
}

type failer interface{ Errorf(string, ...any) }

func checkLabels(t failer, s scene, m medium) {
	type box struct {
		x0, x1, y float64
		text      string
	}
	height := 13.0
	if m.text {
		height = .99
	}
	var all []box
	for _, sh := range s.shapes {
		if sh.kind != label {
			continue
		}
		b := box{sh.pts[0].x, sh.pts[0].x + m.measure(sh.role, sh.text), sh.pts[0].y, sh.text}
		if b.x0 < -.01 || b.x1 > s.width+.01 || b.y < 0 || b.y > s.height {
			t.Errorf("%q runs out of the frame of %g by %g: x %g to %g, y %g", b.text, s.width, s.height, b.x0, b.x1, b.y)
		}
		for _, o := range all {
			if b.x0 < o.x1-.01 && o.x0 < b.x1-.01 && b.y-o.y < height && o.y-b.y < height {
				t.Errorf("%q at %g,%g and %q at %g,%g touch", b.text, b.x0, b.y, o.text, o.x0, o.y)
			}
		}
		all = append(all, b)
	}
}

// TestTextWidth: no line is wider than the terminal, and ASCII is ASCII.
func TestTextWidth(t *testing.T) {
	for name, of := range examples {
		for width := Narrowest; width <= Widest; width++ {
			for _, l := range strings.Split(Text(of(), width, width%2 == 0), "\n") {
				if columns(l) > width {
					t.Errorf("%s at %d: %d columns: %q", name, width, columns(l), l)
				}
				for _, r := range l {
					if width%2 == 0 && r > 126 {
						t.Errorf("%s: %q is not ASCII", name, r)
					}
				}
			}
		}
	}
}

// TestPassed: on a terminal no value that is short of the bar is drawn on its row or
// above, and none that passed it below.
func TestPassed(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c, v := drawn(t), rapid.Float64Range(0, 1).Draw(t, "value")
		if rapid.Bool().Draw(t, "breaks") {
			c.Top, c.Bar, v = 2, training.Known(.5), 2*v
		}
		p := &plan{Chart: c, medium: onTerminal(80), top: 0}
		if passed, drawn := c.value(v) >= c.value(c.Bar.V), p.at(v) <= p.at(c.Bar.V); passed != drawn {
			t.Errorf("%g against %g: passed %v, drawn so %v", v, c.Bar.V, passed, drawn)
		}
	})
}

// TestSmall holds the small bar against hand-drawn ones of the usual bars.
func TestSmall(t *testing.T) {
	k := training.Known
	for _, x := range []struct {
		s              Scale
		now, low, high float64
		want           string
	}{
		{Shares(.85), .91, .81, .96, "············━━┃━━●━━·"},
		{Shares(.85), .5625, .33, .77, "◄━●━━━━━━━━···┃······"},
		{Shares(.85), .85, .8499, .8501, "·············━┃●·····"},
		{Shares(.85), 1, 1, 1, "··············┃·····●"},
		{Shares(.85), .3, .2, .4, "◄·············┃······"},
		{Shares(1), .99, .9, 1, "···········━━●┃━━━━━━"},
		{Breaks(.5), .8, .51, 1.1, "······━━━━●━━━┃······"},
		{Breaks(.5), .1, 0, .5, "··············┃━━━━●━"},
	} {
		if got := Small(x.s, k(x.now), k(x.low), k(x.high), false); got != x.want {
			t.Errorf("%v %g %g %g: %s, want %s", x.s, x.now, x.low, x.high, got, x.want)
		}
	}
	if got, want := Small(Shares(.85), k(.91), k(.33), k(.96), true), "<=============|==o==."; got != want {
		t.Errorf("ascii: %s, want %s", got, want)
	}
	if got, want := Small(Shares(.85), training.Num{}, training.Num{}, training.Num{}, true), "..............|......"; got != want {
		t.Errorf("unknown: %s, want %s", got, want)
	}
}

// TestSmallPassed: a figure lies right of the mark exactly if it passed it.
func TestSmallPassed(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		bar := rapid.Float64Range(.3, 1).Draw(t, "bar")
		v := rapid.OneOf(rapid.Float64Range(0, 1), rapid.Just(bar), rapid.Float64Range(bar-1e-9, bar+1e-9)).Draw(t, "value")
		if got := Shares(bar).cell(v) >= cellsLeft; got != (v >= bar) {
			t.Errorf("share %v against %v: right of the mark %v", v, bar, got)
		}
		if got := Breaks(bar).cell(v) >= cellsLeft; got != (v <= bar) {
			t.Errorf("breaks %v against %v: right of the mark %v", v, bar, got)
		}
	})
}

// TestSVG: the image is well formed, escapes names, and tells who cannot see it.
func TestSVG(t *testing.T) {
	c := sorrel()
	c.Title, c.People[1] = `A<b> & "c", come`, "<script>"
	for _, s := range []string{SVG(c, Page), SVG(c, Phone), BarSVG(Bar{Now: training.Known(.9), Say: `a "b" <c>`})} {
		d := xml.NewDecoder(strings.NewReader(s))
		for {
			if _, err := d.Token(); err == io.EOF {
				break
			} else if err != nil {
				t.Fatal(err)
			}
		}
		if strings.Contains(s, "<script") || strings.Contains(s, "<b>") || strings.Contains(s, "<c>") {
			t.Error("a name stands in the image unescaped")
		}
		if !strings.Contains(s, "<title>") || !strings.Contains(s, `role="img"`) {
			t.Error("the image has no title or role")
		}
	}
	if s := SVG(gorse(), Page); !strings.Contains(s, "<desc>"+gorse().Describe) || !strings.Contains(s, "prefers-color-scheme:dark") {
		t.Error("the chart has no description or no dark form")
	}
}

// TestSame: the same values give the same bytes, and the card has its size.
func TestSame(t *testing.T) {
	var one, two, picture bytes.Buffer
	for _, b := range []*bytes.Buffer{&one, &two} {
		if err := PNG(b, gorse(), Page); err != nil {
			t.Fatal(err)
		}
	}
	if !bytes.Equal(one.Bytes(), two.Bytes()) || SVG(heel(), Page) != SVG(heel(), Page) || Text(heel(), 90, false) != Text(heel(), 90, false) {
		t.Error("two drawings of the same values differ")
	}
	if err := CardPNG(&picture, card(), func(int) string { return "" }); err != nil {
		t.Fatal(err)
	}
	img, err := png.Decode(&picture)
	if err != nil {
		t.Fatal(err)
	}
	if b := img.Bounds(); b.Dx() != 1080 || b.Dy() != 1350 {
		t.Errorf("the card is %v", b)
	}
}

// TestCardLabels: what a card says fits on it, however much there is; what is left
// out is counted.
func TestCardLabels(t *testing.T) {
	for n := 0; n <= 30; n++ {
		c := card()
		for len(c.Cues) < n {
			c.Cues = append(c.Cues, CardCue{Cue: strings.Repeat("leave it ", n), Words: strings.Repeat("word ", n)})
			c.New = append(c.New, "First time at the mill.")
		}
		s := cardScene(c, func(left int) string { return fmt.Sprint("left out: ", left) })
		checkLabels(t, s, onPaper(cardWidth))
		shown, left := 0, 0
		for _, sh := range s.shapes {
			if sh.kind == area && sh.role == track {
				shown++
			}
			_, _ = fmt.Sscanf(sh.text, "left out: %d", &left)
		}
		if shown+left != len(c.Cues) {
			t.Errorf("%d cues: %d shown, %d said to be left out", len(c.Cues), shown, left)
		}
	}
}

// TestLook writes the examples into the directory CHARTS, to look at.
func TestLook(t *testing.T) {
	dir := os.Getenv("CHARTS")
	if dir == "" {
		t.Skip("CHARTS is not set")
	}
	write := func(name string, draw func(w io.Writer) error) {
		var b bytes.Buffer
		if err := draw(&b); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile(filepath.Join(dir, name), b.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	for name, of := range examples {
		for _, width := range []float64{Phone, Page} {
			write(fmt.Sprintf("%s-%g.svg", name, width), func(w io.Writer) error {
				_, err := io.WriteString(w, SVG(of(), width))
				return err
			})
		}
		write(name+".png", func(w io.Writer) error { return PNG(w, of(), Page) })
	}
	write("card.png", func(w io.Writer) error { return CardPNG(w, card(), func(int) string { return "" }) })
}
