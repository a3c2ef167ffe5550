package report

import (
	"bytes"
	"flag"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"firstcue/internal/analysis"
	"firstcue/internal/training"
)

var update = flag.Bool("update", false, "write the golden files under testdata anew")

// output is one thing this package prints, of a dog and its record.
type output struct {
	file  string
	kind  string // text, html, json, csv, markdown, ics, vtt, svg
	write func(w io.Writer, a analysis.Assessment, r training.Record) error
}

var made = time.Date(2026, time.March, 20, 21, 5, 0, 0, time.FixedZone("", 3600))

// rechecksOf is the dog a good month after its handoff: one recheck done, one
// missed, one overdue.
func rechecksOf(a analysis.Assessment) DogRechecks {
	stay := a.Boarding
	stay.Home = day(24)
	handoff := analysis.Visit{From: stay.Arrived, To: stay.Home, Days: []training.Day{day(20)}, Sessions: 2, First: share(3, 4, 2)}
	spans := RecheckSpans(stay.Home)
	visits := make([]analysis.Visit, len(spans))
	for i, s := range spans {
		visits[i] = analysis.Visit{From: s[0], To: s[1]}
	}
	for _, c := range a.Cues {
		q := analysis.VisitCue{Cue: c.Cue, Kind: c.Kind, Agreed: c.Agreed, Days: []training.Day{day(30)}, First: share(1, 1, 1), All: share(5, 6, 1), Breaks: c.Breaks}
		visits[0].Cues = append(visits[0].Cues, q)
		handoff.Cues = append(handoff.Cues, q)
	}
	visits[0].Days, visits[0].Sessions, visits[0].First = []training.Day{day(30)}, 1, share(5, 6, 1)
	return MakeRechecks(a.Dog, stay, handoff, visits, []string{a.Cues[1].Cue, a.Cues[2].Cue}, training.Date(2026, time.April, 23))
}

func yesterday() []analysis.Assessment {
	j, f := juniper(), fern()
	j.Verdict, j.Sessions, j.AsOf = analysis.Ready, j.Sessions-2, day(19)
	f.AsOf = day(19)
	return []analysis.Assessment{f, j}
}

func nightlyOf(a analysis.Assessment) Nightly {
	a.Cues[2].Days3 = append(a.Cues[2].Days3, analysis.DayPoint{Day: day(20), Yes: 6, Of: 9, Trials: 9})
	a.Cues[1].Days3 = append(a.Cues[1].Days3, analysis.DayPoint{Day: day(20), Yes: 5, Of: 5, Trials: 5})
	return MakeNightly(day(20), []analysis.Assessment{sorrel(), a, fern()}, yesterday(), nil)
}

// outputs lists everything that is printed; a format that is not in it is in no
// golden file, no injection test and no width test.
func outputs() []output {
	var o Options
	text := func(file string, f func(w io.Writer, a analysis.Assessment, r training.Record) error) output {
		return output{file, "text", f}
	}
	list := []output{
		text("report.txt", func(w io.Writer, a analysis.Assessment, _ training.Record) error { return Text(w, a, o) }),
		text("report-80.txt", func(w io.Writer, a analysis.Assessment, _ training.Record) error {
			return Text(w, a, Options{Width: 80})
		}),
		{"report.md", "markdown", func(w io.Writer, a analysis.Assessment, _ training.Record) error { return Markdown(w, a, o) }},
		{"report.html", "html", func(w io.Writer, a analysis.Assessment, _ training.Record) error { return HTML(w, a, o) }},
		{"report.json", "json", func(w io.Writer, a analysis.Assessment, _ training.Record) error {
			return JSON(w, a, Options{Generated: made})
		}},
		text("nightly.txt", func(w io.Writer, a analysis.Assessment, _ training.Record) error {
			return NightlyText(w, nightlyOf(a), Options{Generated: made})
		}),
		{"nightly.md", "markdown", func(w io.Writer, a analysis.Assessment, _ training.Record) error {
			return NightlyMarkdown(w, nightlyOf(a), o)
		}},
		{"nightly.html", "html", func(w io.Writer, a analysis.Assessment, _ training.Record) error {
			return NightlyHTML(w, nightlyOf(a), o)
		}},
		{"nightly.json", "json", func(w io.Writer, a analysis.Assessment, _ training.Record) error {
			return NightlyJSON(w, nightlyOf(a), o)
		}},
		{"nightly.csv", "csv", func(w io.Writer, a analysis.Assessment, _ training.Record) error {
			return NightlyCSV(w, nightlyOf(a), CSVOptions{})
		}},
		{"packet.html", "html", func(w io.Writer, a analysis.Assessment, r training.Record) error {
			a.Dog.Holds = r.Dog.Holds
			return Packet(w, a, r, PacketOptions{Kennel: "Ferry Lane Kennel", Contact: "Maren, 555 0134"})
		}},
		{"rechecks.ics", "ics", func(w io.Writer, a analysis.Assessment, _ training.Record) error {
			return Calendar(w, a.Dog, day(24), []string{a.Cues[1].Cue, a.Cues[2].Cue, "comes; quickly, \\ always", "überquert die Straße nicht ohne Blickkontakt"}, Options{Generated: made})
		}},
		text("chart.txt", func(w io.Writer, a analysis.Assessment, _ training.Record) error {
			for _, c := range a.Cues {
				if err := ChartText(w, a, c, o); err != nil {
					return err
				}
				fmt.Fprintln(w)
			}
			return nil
		}),
		text("chart-ascii.txt", func(w io.Writer, a analysis.Assessment, _ training.Record) error {
			return ChartText(w, a, a.Cues[2], Options{Width: 60, ASCII: true})
		}),
		{"chart.svg", "svg", func(w io.Writer, a analysis.Assessment, _ training.Record) error { return ChartSVG(w, a, a.Cues[2]) }},
		{"chart-hold.svg", "svg", func(w io.Writer, a analysis.Assessment, _ training.Record) error {
			a.Dog.Holds = []training.VetHold{{From: day(9), To: day(10), Reason: "stitches"}}
			c := a.Cues[3]
			c.Days3 = append(append([]analysis.DayPoint(nil), c.Days3[:4]...), c.Days3[5:]...)
			return ChartSVG(w, a, c)
		}},
		{"trials.csv", "csv", func(w io.Writer, _ analysis.Assessment, r training.Record) error {
			return TrialsCSV(w, r.Sessions, CSVOptions{})
		}},
		{"trials-excel.csv", "csv", func(w io.Writer, _ analysis.Assessment, r training.Record) error {
			return TrialsCSV(w, r.Sessions, CSVOptions{Excel: true, DecimalComma: true})
		}},
		{"trials.csv-metadata.json", "json", func(w io.Writer, _ analysis.Assessment, r training.Record) error {
			return TrialsGuide(w, "trials.csv", r.Sessions, CSVOptions{})
		}},
		{"trials.jsonl", "jsonl", func(w io.Writer, _ analysis.Assessment, r training.Record) error { return TrialsJSONL(w, r.Sessions) }},
		{"summary.csv", "csv", func(w io.Writer, a analysis.Assessment, _ training.Record) error {
			return SummaryCSV(w, a, CSVOptions{})
		}},
		{"summary.csv-metadata.json", "json", func(w io.Writer, _ analysis.Assessment, _ training.Record) error {
			return SummaryGuide(w, "summary.csv", CSVOptions{Excel: true, DecimalComma: true})
		}},
		{"chapters.vtt", "vtt", func(w io.Writer, _ analysis.Assessment, r training.Record) error { return VTT(w, r.Sessions[1]) }},
		text("brief.txt", func(w io.Writer, a analysis.Assessment, r training.Record) error { return Brief(w, a, r, o) }),
		text("dry-run.txt", func(w io.Writer, _ analysis.Assessment, r training.Record) error { return DryRunText(w, r.Sessions, o) }),
		text("session.txt", func(w io.Writer, _ analysis.Assessment, r training.Record) error {
			return SessionText(w, r.Sessions[0], o)
		}),
		text("sessions.txt", func(w io.Writer, _ analysis.Assessment, r training.Record) error {
			return SessionsTable(w, r.Sessions, o)
		}),
		text("progress.txt", func(w io.Writer, a analysis.Assessment, _ training.Record) error {
			return Progress(w, a, a.Cues[2:4], o)
		}),
		{"progress.json", "json", func(w io.Writer, a analysis.Assessment, r training.Record) error {
			a.Dog.Holds = r.Dog.Holds
			return ProgressJSON(w, a, a.Cues, o)
		}},
		text("rechecks.txt", func(w io.Writer, a analysis.Assessment, _ training.Record) error {
			return RecheckText(w, rechecksOf(a), o)
		}),
		text("rechecks-due.txt", func(w io.Writer, a analysis.Assessment, _ training.Record) error {
			return RecheckListText(w, rechecksOf(a).AsOf, []DogRechecks{rechecksOf(a)}, o)
		}),
		{"rechecks.json", "json", func(w io.Writer, a analysis.Assessment, _ training.Record) error {
			return RecheckJSON(w, rechecksOf(a).AsOf, []DogRechecks{rechecksOf(a)}, Options{Generated: made})
		}},
		{"rechecks.csv", "csv", func(w io.Writer, a analysis.Assessment, _ training.Record) error {
			return RecheckCSV(w, []DogRechecks{rechecksOf(a)}, CSVOptions{})
		}},
		{"summary-owner.csv", "csv", func(w io.Writer, a analysis.Assessment, r training.Record) error {
			return OwnersSummaryCSV(w, a, r, CSVOptions{})
		}},
		{"trials-owner.csv", "csv", func(w io.Writer, a analysis.Assessment, r training.Record) error {
			return TrialsCSV(w, OwnersTrials(a, r, r.Sessions), CSVOptions{})
		}},
	}
	return list
}

func print(t *testing.T, o output, a analysis.Assessment, r training.Record) string {
	t.Helper()
	var b bytes.Buffer
	if err := o.write(&b, a, r); err != nil {
		t.Fatalf("%s: %v", o.file, err)
	}
	return b.String()
}

// golden compares got with the file under testdata, or writes it with -update.
func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", name)
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if got == string(want) {
		return
	}
	g, w := strings.Split(got, "\n"), strings.Split(string(want), "\n")
	for i := range max(len(g), len(w)) {
		var gl, wl string
		if i < len(g) {
			gl = g[i]
		}
		if i < len(w) {
			wl = w[i]
		}
		if gl != wl {
			t.Errorf("%s, line %d:\n got %q\nwant %q\nLook at the whole, then run with -update.", path, i+1, gl, wl)
			return
		}
	}
}

func TestGolden(t *testing.T) {
	for _, o := range outputs() {
		golden(t, o.file, print(t, o, juniper(), juniperRecord()))
	}
	fernPacket := output{"packet-rewards.html", "html", func(w io.Writer, a analysis.Assessment, r training.Record) error {
		return Packet(w, a, r, PacketOptions{Vet: "Harbour Practice", Contact: "555 0134"})
	}}
	golden(t, fernPacket.file, print(t, fernPacket, fern(), training.Record{Dog: fern().Dog, Kennel: training.Kennel{Cues: training.SeedCues()}}))
	golden(t, "report-rewards.txt", print(t, outputs()[0], fern(), training.Record{}))
	golden(t, "report-new.txt", print(t, outputs()[0], sorrel(), training.Record{}))
	newPacket := fernPacket
	newPacket.file = "packet-new.html"
	golden(t, newPacket.file, print(t, newPacket, sorrel(), training.Record{Dog: sorrel().Dog}))
	coloured := output{"report-colour.txt", "", func(w io.Writer, a analysis.Assessment, _ training.Record) error {
		return Text(w, a, Options{Colour: true})
	}}
	golden(t, coloured.file, print(t, coloured, juniper(), training.Record{}))
}

// Same input, same bytes; and no output depends on how often it was printed.
func TestSameInputSameBytes(t *testing.T) {
	t.Setenv("RUNEWIDTH_EASTASIAN", "1")
	for _, o := range outputs() {
		first := print(t, o, juniper(), juniperRecord())
		for range 3 {
			if again := print(t, o, juniper(), juniperRecord()); again != first {
				t.Fatalf("%s differs on a second run", o.file)
			}
		}
	}
}

// Colour adds nothing but colour.
func TestColourCarriesNoMeaning(t *testing.T) {
	var with, without bytes.Buffer
	if err := Text(&with, juniper(), Options{Colour: true}); err != nil {
		t.Fatal(err)
	}
	if err := Text(&without, juniper(), Options{}); err != nil {
		t.Fatal(err)
	}
	if !strings.Contains(with.String(), "\x1b[31m") {
		t.Error("no colour where it was asked for")
	}
	if got := colourCode().ReplaceAllString(with.String(), ""); got != without.String() {
		t.Error("the report says other things in colour than without")
	}
}

func TestTextFits(t *testing.T) {
	long := juniper()
	long.Dog.Name = "Juniper Anastasia of the Lower Meadow by the Old Ferry Crossing, called June, the second of that name"
	long.Cues[2].Cue = "go to your own bed in the other room"
	long.Cues[2].Contexts[8].Handler = "Maximiliane von Hohenstauffen-Wittgenstein"
	long.Cues[2].Contexts[8].Place = "the far end of the market square behind the fountain"
	long.Cues[2].Cue = "漢字漢字漢字漢字漢字漢字漢字漢字漢字漢字漢字漢字漢字漢字漢字漢字漢字漢字漢字漢字漢字漢字漢字漢字漢字漢字"
	for _, a := range []analysis.Assessment{juniper(), long, fern(), sorrel()} {
		for _, o := range outputs() {
			if o.kind != "text" || len(a.Cues) < 4 && (strings.HasPrefix(o.file, "chart") || strings.HasPrefix(o.file, "nightly") || strings.HasPrefix(o.file, "progress") || strings.HasPrefix(o.file, "rechecks")) {
				continue
			}
			most := 100
			switch o.file {
			case "report-80.txt":
				most = 80
			case "chart-ascii.txt":
				most = 60
			}
			got := print(t, o, a, juniperRecord())
			for i, l := range strings.Split(got, "\n") {
				if cells(l) > most {
					t.Errorf("%s of %.12s, line %d has %d columns: %q", o.file, a.Dog.Name, i+1, cells(l), l)
				}
				if l != strings.TrimRight(l, " \t") {
					t.Errorf("%s, line %d ends in blanks: %q", o.file, i+1, l)
				}
				if o.file == "chart-ascii.txt" && a.Dog.Name == "Juniper" {
					for _, r := range l {
						if r > 126 {
							t.Errorf("%s: %q is not ASCII", o.file, r)
						}
					}
				}
			}
			if !strings.HasSuffix(got, "\n") || strings.HasSuffix(got, "\n\n\n") {
				t.Errorf("%s does not end in one line end", o.file)
			}
		}
	}
}

// An output that cannot be written is told, never swallowed.
func TestWriteErrors(t *testing.T) {
	for _, o := range outputs() {
		if err := o.write(failing{}, juniper(), juniperRecord()); err == nil && o.file != "chart.txt" {
			t.Errorf("%s: the disk was full and nobody was told", o.file)
		}
	}
}

type failing struct{}

func (failing) Write([]byte) (int, error) { return 0, io.ErrShortWrite }
