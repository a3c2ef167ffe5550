package report

import (
	"bytes"
	"flag"
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"firstcue/internal/analysis"
	"firstcue/internal/training"
)

var update = flag.Bool("update", false, "rewrite the stored outputs")

// ownersPage is what the kennel puts on an owner's page.
func ownersPage(dog string) OwnerOptions {
	o := OwnerOptions{Kennel: "Fell End Kennels", Contact: "Ailsa, 01632 960 120", Vet: "your own vet", AtHome: []string{"kitchen", "garden", "the lane", "the mill"}}
	if dog == "Tarn" {
		o.Handoff = demoDay + 1
	}
	return o
}

func demoNight() Nightly {
	var all []analysis.Assessment
	for _, d := range demoDogs {
		all = append(all, judged(d))
	}
	return MakeNightly(demoDay, all, nil)
}

func demoSheet() DaySheet {
	var all []analysis.Assessment
	var lines [][]analysis.PlanLine
	for _, d := range demoDogs {
		all, lines = append(all, judged(d)), append(lines, judged(d).Plan)
	}
	return MakeDaySheet(demoDay, all, lines)
}

// output is one page of the demo's kennel.
type output struct {
	file  string
	write func(io.Writer) error
}

// outputs are those that are looked at as they stand; what is for scripts is held by
// the schemas.
func outputs() []output {
	var out []output
	add := func(file string, write func(io.Writer) error) { out = append(out, output{file, write}) }
	names := map[string]string{"Tarn": "ready", "Sorrel": "one-trainer", "Gorse": "incident", "Thistle": "vet-hold"}
	plain, ascii := Options{Width: 80}, Options{Width: 80, ASCII: true}
	for _, dog := range []string{"Tarn", "Sorrel", "Gorse", "Thistle"} {
		a, r, name := judged(dog), demoRecord(dog), names[dog]
		add("report-"+name+".txt", func(w io.Writer) error { return Text(w, a, plain) })
		add("report-"+name+"-ascii.txt", func(w io.Writer) error { return Text(w, a, ascii) })
		add("packet-"+name+".html", func(w io.Writer) error { return Packet(w, a, r, ownersPage(dog)) })
		add("message-"+name+".txt", func(w io.Writer) error { return MessageText(w, a, "Ailsa, 01632 960 120", true) })
	}
	add("full.txt", func(w io.Writer) error { return Full(w, judged("Sorrel"), plain) })
	add("full.md", func(w io.Writer) error { return Markdown(w, judged("Sorrel"), plain) })
	add("full.html", func(w io.Writer) error { return HTML(w, judged("Sorrel"), plain) })
	add("nightly.txt", func(w io.Writer) error { return NightlyText(w, demoNight(), Options{}) })
	add("nightly.html", func(w io.Writer) error { return NightlyHTML(w, demoNight(), Options{}) })
	add("nightly.csv", func(w io.Writer) error { return NightlyCSV(w, demoNight(), CSVOptions{}) })
	add("plan.txt", func(w io.Writer) error { return PlanText(w, judged("Sorrel"), judged("Sorrel").Plan, plain) })
	add("daysheet.txt", func(w io.Writer) error { return DaySheetText(w, demoSheet(), Options{}) })
	add("daysheet.html", func(w io.Writer) error { return DaySheetHTML(w, demoSheet(), Options{}) })
	add("brief.txt", func(w io.Writer) error { return Brief(w, judged("Gorse"), demoRecord("Gorse"), plain) })
	add("brief.html", func(w io.Writer) error { return BriefHTML(w, judged("Gorse"), demoRecord("Gorse"), plain) })
	add("lesson.html", func(w io.Writer) error { return Lesson(w, judged("Tarn"), demoRecord("Tarn"), ownersPage("Tarn")) })
	add("appendix.html", func(w io.Writer) error { return Appendix(w, judged("Tarn"), ownersPage("Tarn")) })
	add("summary.csv", func(w io.Writer) error { return SummaryCSV(w, judged("Tarn"), CSVOptions{}) })
	add("calendar.ics", func(w io.Writer) error { return Calendar(w, judged("Tarn"), demoDay+1, false, made) })
	return out
}

// TestOutputs compares every output with the stored one: read the difference before
// you store it (make golden). Each is written twice, to the same bytes.
func TestOutputs(t *testing.T) {
	var names []string
	for _, o := range outputs() {
		var one, two bytes.Buffer
		for _, w := range []io.Writer{&one, &two} {
			if err := o.write(w); err != nil {
				t.Fatalf("%s: %v", o.file, err)
			}
		}
		if !bytes.Equal(one.Bytes(), two.Bytes()) {
			t.Errorf("%s: the second time differs", o.file)
		}
		file := filepath.Join("testdata", o.file)
		names = append(names, file)
		if *update {
			if err := os.WriteFile(file, one.Bytes(), 0o644); err != nil {
				t.Fatal(err)
			}
		}
		stored, err := os.ReadFile(file)
		if err != nil {
			t.Fatal(err)
		}
		if !bytes.Equal(stored, one.Bytes()) {
			t.Errorf("%s differs: %s", file, firstDifference(string(stored), one.String()))
		}
	}
	there, err := filepath.Glob(filepath.Join("testdata", "*.*"))
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range there {
		if !slices.Contains(names, f) {
			t.Errorf("%s belongs to no test", f)
		}
	}
}

func firstDifference(a, b string) string {
	x, y := strings.Split(a, "\n"), strings.Split(b, "\n")
	for i := range min(len(x), len(y)) {
		if x[i] != y[i] {
			return "\n- " + x[i] + "\n+ " + y[i]
		}
	}
	return "one is longer"
}

// timedSession is a session of a timed note.
func timedSession() training.Session {
	known := training.Known
	return training.Session{ID: "00000000-0000-7000-8000-000000009999", Dog: "Tarn", Handler: "Ailsa", Start: time.Date(2026, 3, 20, 8, 0, 0, 0, time.UTC), Place: "paddock",
		Trials: []training.Trial{
			{Cue: "sit", Kind: training.Response, Outcome: training.Answered, Asks: 1, Latency: known(.9), At: known(14.2)},
			{Cue: "down", Kind: training.Response, Outcome: training.Answered, Asks: 2, Latency: known(1.4), Waited: known(4), At: known(41)},
			{Cue: "place", Kind: training.Holding, Outcome: training.Released, Asks: 1, Held: known(181.8), Target: known(240), At: known(125)},
		}}
}
