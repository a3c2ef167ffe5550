package report

import (
	"bytes"
	"image"
	"regexp"
	"strings"
	"testing"

	"firstcue/internal/analysis"
	"firstcue/internal/say"
	"firstcue/internal/training"
)

// texts are what an SVG drawing shows in letters, in its order.
func texts(t *testing.T, a analysis.Assessment, c analysis.CueAssessment) []string {
	t.Helper()
	var b bytes.Buffer
	if err := ChartSVG(&b, a, c); err != nil {
		t.Fatal(err)
	}
	var out []string
	for _, m := range regexp.MustCompile(`<text [^>]*>([^<]*)</text>`).FindAllStringSubmatch(b.String(), -1) {
		out = append(out, m[1])
	}
	return out
}

func has(list []string, want string) bool {
	for _, s := range list {
		if s == want {
			return true
		}
	}
	return false
}

// A picture is passed on without the page that it stood on.
func TestADrawingNamesDogCueAndDays(t *testing.T) {
	a := juniper()
	for _, c := range a.Cues {
		days := say.DaySpan(c.Days3[0].Day, c.Days3[len(c.Days3)-1].Day)
		if last := c.Days3[len(c.Days3)-1].Day; last < a.AsOf {
			days += "; as of " + say.YearDay(a.AsOf)
		}
		got := texts(t, a, c)
		for _, want := range []string{"Juniper: " + c.Cue, days} {
			if !has(got, want) {
				t.Errorf("%s: %q is not among %q", c.Cue, want, got)
			}
		}
	}
	if a, z := training.DayOf(day(4).Time(utc).AddDate(-1, 0, 0)), day(4); say.DaySpan(a, z) != say.YearDay(a)+" to "+say.YearDay(z) {
		t.Errorf("two years: %s", say.DaySpan(a, z))
	}
	c := a.Cues[2]
	a.Dog.Name, c.Cue = "WARDEN OF THE NORTHERN WATER GATE", "WAIT AT EVERY WOODEN DOOR MAMA"
	head := strings.Join(texts(t, a, c)[:2], " ")
	if want := a.Dog.Name + ": " + c.Cue; head != want {
		t.Errorf("the head is %q, not the whole of %q", head, want)
	}
}

// The key explains every mark that is drawn, and no other.
func TestTheKeyOfADrawing(t *testing.T) {
	a := juniper()
	c := a.Cues[2]
	words := []string{"the day's figure", "its 95% interval", "asked by a new person", "at a new place", "vet hold", "corrections not noted"}
	key := func() string {
		var got []string
		for _, s := range texts(t, a, c) {
			if s = strings.ReplaceAll(s, "&#39;", "'"); has(words, s) {
				got = append(got, s)
			}
		}
		return strings.Join(got, ", ")
	}
	bare := append([]analysis.DayPoint(nil), c.Days3...)
	for i := range bare {
		bare[i].NewHandler, bare[i].NewPlace, bare[i].CorrectedOf = "", "", bare[i].Trials
	}
	c.Days3 = bare
	if got, want := key(), "the day's figure, its 95% interval"; got != want {
		t.Errorf("no events: %s", got)
	}
	c.Days3[2].NewPlace = "orchard"
	if got, want := key(), "the day's figure, its 95% interval, at a new place"; got != want {
		t.Errorf("a place: %s", got)
	}
	c.Days3[3].NewHandler = "Tove"
	if got, want := key(), "the day's figure, its 95% interval, asked by a new person, at a new place"; got != want {
		t.Errorf("a person: %s", got)
	}
	c.Days3[2].NewPlace, c.Days3[3].NewHandler = "", ""
	c.Days3[0].NewPlace, c.Days3[0].NewHandler = "barn", "Maren" // everything is new on the first day
	a.Dog.Holds = []training.VetHold{{From: c.Days3[0].Day + 1, To: c.Days3[0].Day + 1, Reason: "stitches"}}
	if got, want := key(), "the day's figure, its 95% interval, vet hold"; got != want {
		t.Errorf("a hold: %s", got)
	}
	a.Dog.Holds = []training.VetHold{{From: a.AsOf + 10, Reason: "stitches"}}
	if got, want := key(), "the day's figure, its 95% interval"; got != want {
		t.Errorf("a hold to come: %s", got)
	}
}

// A day whose corrections nobody noted is no day without any.
func TestCorrectionsNotNotedAreDrawn(t *testing.T) {
	a := juniper()
	a.Dog.Holds = nil
	c := a.Cues[2]
	if c.Corrections.Count == 0 {
		t.Fatal("the fixture's cue has no correction")
	}
	c.Days3 = append([]analysis.DayPoint(nil), c.Days3...)
	count := func() (n int) {
		for _, s := range texts(t, a, c) {
			if s == "?" {
				n++
			}
		}
		return n
	}
	for i := range c.Days3 {
		c.Days3[i].CorrectedOf = c.Days3[i].Trials
	}
	if n := count(); n != 0 {
		t.Errorf("all noted: %d marks", n)
	}
	var before, after, text bytes.Buffer
	if err := ChartText(&text, a, c, Options{}); err != nil || strings.Contains(text.String(), "? corrections not noted") {
		t.Errorf("%v:\n%s", err, text.String())
	}
	if err := ChartPNG(&before, a, c); err != nil {
		t.Fatal(err)
	}
	c.Days3[1].CorrectedOf, c.Days3[1].Corrected = 0, 0
	if n := count(); n != 2 { // the day's, and the key's
		t.Errorf("one day not noted: %d marks", n)
	}
	if err := ChartPNG(&after, a, c); err != nil {
		t.Fatal(err)
	}
	if bytes.Equal(before.Bytes(), after.Bytes()) {
		t.Error("the PNG does not tell a day that was not noted from one without corrections")
	}
	text.Reset()
	if err := ChartText(&text, a, c, Options{}); err != nil || !strings.Contains(text.String(), "\n  ? corrections not noted, as in a tally\n") {
		t.Errorf("%v:\n%s", err, text.String())
	}
}

// The head and the key are in the PNG too, inside its edges.
func TestThePNGHasHeadAndKey(t *testing.T) {
	a := juniper()
	for _, c := range a.Cues {
		img, _ := pngOf(t, a, c)
		s := sheetOf(a, c)
		keyTop := (s.headHeight() + len(s.panels)*panelHeight) * pngScale
		for name, box := range map[string]image.Rectangle{
			"head": image.Rect(0, 0, svgWidth*pngScale, s.headHeight()*pngScale),
			"key":  image.Rect(0, keyTop, svgWidth*pngScale, s.height()*pngScale),
		} {
			if n := painted(img, box, 0x59, 0x59, 0x59) + painted(img, box, 0x1a, 0x1a, 0x1a); n < 800 {
				t.Errorf("%s: %d pixels of letters in the %s", c.Cue, n, name)
			}
		}
		edge := image.Rect(svgWidth*pngScale-8, 0, svgWidth*pngScale, s.height()*pngScale)
		if got := painted(img, edge, 255, 255, 255); got != edge.Dx()*edge.Dy() {
			t.Errorf("%s: something runs to the edge", c.Cue)
		}
	}
}
