package report

import (
	"bytes"
	"image"
	"image/color"
	"image/png"
	"os"
	"strconv"
	"strings"
	"testing"

	"firstcue/internal/analysis"
	"firstcue/internal/training"
)

func pngOf(t *testing.T, a analysis.Assessment, c analysis.CueAssessment) (image.Image, []byte) {
	t.Helper()
	var b bytes.Buffer
	if err := ChartPNG(&b, a, c); err != nil {
		t.Fatal(err)
	}
	if file := os.Getenv("CHART_PNG"); file != "" { // to look at
		if err := os.WriteFile(file+"-"+c.Cue+".png", b.Bytes(), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	img, err := png.Decode(bytes.NewReader(b.Bytes()))
	if err != nil {
		t.Fatal(err)
	}
	return img, b.Bytes()
}

// painted counts the pixels of exactly the colour in a box.
func painted(img image.Image, box image.Rectangle, r, g, b uint8) int {
	n := 0
	for y := box.Min.Y; y < box.Max.Y; y++ {
		for x := box.Min.X; x < box.Max.X; x++ {
			if color.NRGBAModel.Convert(img.At(x, y)) == (color.NRGBA{r, g, b, 255}) {
				n++
			}
		}
	}
	return n
}

func TestChartPNG(t *testing.T) {
	a := juniper()
	for _, c := range a.Cues {
		img, bytes1 := pngOf(t, a, c)
		_, bytes2 := pngOf(t, a, c)
		if !bytes.Equal(bytes1, bytes2) {
			t.Errorf("%s: two drawings of the same values differ", c.Cue)
		}
		var svg strings.Builder
		if err := ChartSVG(&svg, a, c); err != nil {
			t.Fatal(err)
		}
		if got, want := img.Bounds(), image.Rect(0, 0, 1440, sheetOf(a, c).height()*4); got != want {
			t.Errorf("%s: size %v, want %v", c.Cue, got, want)
		}
		all := img.Bounds()
		paper := painted(img, all, 255, 255, 255)
		if part := float64(paper) / float64(all.Dx()*all.Dy()); part < 0.75 || part > 0.99 {
			t.Errorf("%s: %.2f of the image is paper", c.Cue, part)
		}
		if painted(img, image.Rect(0, 0, all.Dx(), 80), 0x1a, 0x1a, 0x1a) < 300 {
			t.Errorf("%s: no title", c.Cue)
		}
		if strings.Contains(svg.String(), `class="c-bar"`) && painted(img, all, 0xb3, 0x47, 0) < 1000 {
			t.Errorf("%s: no bar", c.Cue)
		}
		// each point of the SVG's first chart is a disc of the series colour here
		chart, _, _ := strings.Cut(strings.Split(svg.String(), `class="head"`)[1], "</g></g>") // without the key's
		for _, part := range strings.Split(chart, `<circle class="c-pt" `)[1:] {
			x, y := attribute(t, part, "cx"), attribute(t, part, "cy")
			at := image.Pt(int(x*pngScale), int((y+titleHeight+float64(sheetOf(a, c).headHeight()))*pngScale))
			if n := painted(img, image.Rectangle{at.Sub(image.Pt(10, 10)), at.Add(image.Pt(10, 10))}, 0, 0x72, 0xb2); n < 350 {
				t.Errorf("%s: %d of 400 pixels of the point at %.1f %.1f have its colour", c.Cue, n, x, y)
			}
		}
	}
}

func TestChartPNGOfAVetHold(t *testing.T) {
	a := juniper()
	c := a.Cues[3]
	plainImg, _ := pngOf(t, a, c)
	a.Dog.Holds = []training.VetHold{{From: day(9), To: day(10), Reason: "stitches"}}
	img, _ := pngOf(t, a, c)
	if was, is := painted(plainImg, plainImg.Bounds(), 0x6b, 0x6b, 0x6b), painted(img, img.Bounds(), 0x6b, 0x6b, 0x6b); was > 300 || is < 10000 {
		t.Errorf("pixels of the hatching: %d without a vet hold, %d with one", was, is)
	}
}

func TestLongTitleStaysInThePNG(t *testing.T) {
	a := juniper()
	c := a.Cues[2]
	c.Cue = "WAIT AT EVERY WOODEN DOOR MAMA"
	img, _ := pngOf(t, a, c)
	edge := image.Rect(svgWidth*pngScale-12, 0, svgWidth*pngScale, 90)
	if got := painted(img, edge, 255, 255, 255); got != edge.Dx()*edge.Dy() {
		t.Errorf("the title runs to the edge: %d of %d pixels there are paper", got, edge.Dx()*edge.Dy())
	}
}

// A class that the style does not name would be painted with nothing.
func TestEveryPartOfAChartHasALook(t *testing.T) {
	a := juniper()
	rules, err := looks(printColours.Replace(chartStyle + aloneStyle))
	if err != nil {
		t.Fatal(err)
	}
	a.Dog.Holds = []training.VetHold{{From: day(9), To: day(10), Reason: "stitches"}}
	for _, c := range a.Cues {
		var svg strings.Builder
		if err := ChartSVG(&svg, a, c); err != nil {
			t.Fatal(err)
		}
		for _, part := range strings.Split(svg.String(), ` class="`)[1:] {
			class, _, _ := strings.Cut(part, `"`)
			if l, ok := rules[class]; !ok || l.fill == nil && (l.stroke == nil || l.width == 0) {
				t.Errorf("class %s paints nothing: %+v", class, l)
			}
		}
	}
	for _, bad := range []string{".x{fill:red}", ".x{fill:#12}", ".x{stroke-linecap:round}", "x"} {
		if _, err := looks(bad); err == nil {
			t.Errorf("looks(%q) gave no error", bad)
		}
	}
}

// attribute reads a length of an SVG element.
func attribute(t *testing.T, element, name string) float64 {
	t.Helper()
	_, rest, _ := strings.Cut(element, name+`="`)
	s, _, _ := strings.Cut(rest, `"`)
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatalf("%s of %.60s: %v", name, element, err)
	}
	return v
}
