package report

import (
	"firstcue/internal/say"

	"bytes"
	"io"
	"regexp"
	"strings"
	"testing"

	"firstcue/internal/analysis"
)

// narrowOutputs are the texts that hold tables, at any width.
func narrowOutputs() map[string]func(w io.Writer, o Options) error {
	a, r := juniper(), juniperRecord()
	return map[string]func(w io.Writer, o Options) error{
		"report":   func(w io.Writer, o Options) error { return Text(w, a, o) },
		"nightly":  func(w io.Writer, o Options) error { return NightlyText(w, nightlyOf(juniper()), o) },
		"brief":    func(w io.Writer, o Options) error { return Brief(w, a, r, o) },
		"sessions": func(w io.Writer, o Options) error { return SessionsTable(w, r.Sessions, o) },
		"dry run":  func(w io.Writer, o Options) error { return DryRunText(w, r.Sessions, o) },
		"session":  func(w io.Writer, o Options) error { return SessionText(w, r.Sessions[0], o) },
		"rechecks": func(w io.Writer, o Options) error { return RecheckText(w, rechecksOf(juniper()), o) },
		"due": func(w io.Writer, o Options) error {
			return RecheckListText(w, rechecksOf(juniper()).AsOf, []DogRechecks{rechecksOf(juniper())}, o)
		},
	}
}

// A narrow terminal breaks no word and no number, and loses none.
func TestNarrowTextKeepsWordsWhole(t *testing.T) {
	for name, write := range narrowOutputs() {
		var wide bytes.Buffer
		if err := write(&wide, Options{Width: 1000}); err != nil {
			t.Fatal(err)
		}
		for _, width := range []int{40, 48, 60, 69, 70, 80, 100} {
			var b bytes.Buffer
			if err := write(&b, Options{Width: width}); err != nil {
				t.Fatal(err)
			}
			have := map[string]bool{}
			for _, w := range strings.Fields(b.String()) {
				have[w], have[strings.TrimSuffix(w, ":")] = true, true
			}
			for _, w := range strings.Fields(wide.String()) {
				if !have[w] && w != say.None && w != "Cues" && cells(w) <= longWord {
					t.Errorf("%s at %d columns: %q is broken or lost", name, width, w)
				}
			}
			for i, l := range strings.Split(b.String(), "\n") {
				if cells(l) > width {
					t.Errorf("%s at %d columns, line %d has %d: %q", name, width, i+1, cells(l), l)
				}
			}
		}
	}
}

// What does not stand side by side is written row by row, every cell behind its
// header; what does stays a table.
func TestTableOrRecords(t *testing.T) {
	headers := []string{"Cue", "", "First cue", "Note"}
	rows := [][]string{{"sit", "1", "58/60  97% [89-99]\nnow 98%", ""}, {"down", "2", "-", strings.Repeat("a word ", 9)}}
	for width, want := range map[int]string{
		48: "Cue: sit\n  1\n  First cue: 58/60  97% [89-99]\n    now 98%\n\nCue: down\n  2\n  Note: a word a word a word a word a word a\n    word a word a word a word\n",
		66: "Cue      First cue           Note\nsit   1  58/60  97% [89-99]\n         now 98%\ndown  2  -                   a word a word a word a word a word a\n                             word a word a word a word\n",
	} {
		var b bytes.Buffer
		if err := Table(&b, headers, rows, nil, Options{Width: width}); err != nil {
			t.Fatal(err)
		}
		if b.String() != want {
			t.Errorf("at %d columns:\n%s\nwant\n%s", width, b.String(), want)
		}
	}
	if err := Table(io.Discard, headers, [][]string{{"sit"}}, nil, Options{}); err == nil {
		t.Error("a row with holes was taken")
	}
}

// A verdict never stands on two lines: the second would say the opposite.
func TestAVerdictIsNotBroken(t *testing.T) {
	broken := regexp.MustCompile(`(?m)\bnot$|^ *(ready|shown)\b`)
	for _, width := range []int{40, 60, 70, 72, 76, 80, 90, 100} {
		var b bytes.Buffer
		row := []string{"Juniper", "not ready\nbefore: not shown", strings.Repeat("some words ", 5), strings.Repeat("other words ", 4)}
		if err := Table(&b, []string{"Dog", "Verdict", "First", "Second"}, [][]string{row, row}, nil, Options{Width: width}); err != nil {
			t.Fatal(err)
		}
		if broken.MatchString(b.String()) || strings.Contains(b.String(), "\u00a0") {
			t.Errorf("at %d columns:\n%s", width, b.String())
		}
		b.Reset()
		if err := Text(&b, alone(cueNamed("down")), Options{Width: width}); err != nil {
			t.Fatal(err)
		}
		if !strings.Contains(b.String(), "not ready  ") && !strings.Contains(b.String(), "Verdict: not ready\n") {
			t.Errorf("at %d columns:\n%s", width, b.String())
		}
	}
}

// A cell on two lines colours neither the columns beside it nor the gaps.
func TestColourStaysInItsCell(t *testing.T) {
	verdict := paint("not ready", analysis.NotReady, Options{Colour: true})
	if got, want := strings.Join(foldColoured(verdict, 6), "\n"), "\x1b[31mnot\x1b[0m\n\x1b[31mready\x1b[0m"; got != want {
		t.Errorf("%q", got)
	}
	for _, width := range []int{40, 60, 70, 76, 80} {
		var b bytes.Buffer
		if err := Text(&b, juniper(), Options{Width: width, Colour: true}); err != nil {
			t.Fatal(err)
		}
		for _, l := range strings.Split(b.String(), "\n") {
			if on, off := len(regexp.MustCompile("\x1b\\[[1-9]").FindAllString(l, -1)), strings.Count(l, sgrReset); on > 0 && off == 0 || on == 0 && off > 0 {
				t.Errorf("at %d columns colour runs out of a line: %q", width, l)
			}
		}
	}
}

// The sessions of one dog do not name it, those of two do; cues that do not fit
// beside the rest stand below their session.
func TestSessionsTable(t *testing.T) {
	r := juniperRecord()
	var b bytes.Buffer
	if err := SessionsTable(&b, r.Sessions, Options{Width: 80}); err != nil {
		t.Fatal(err)
	}
	if s := b.String(); strings.Contains(s, "Juniper") || !strings.Contains(s, "\n    heel 1, sit 4, down 12, come 1, stay 3\n") || !strings.Contains(s, "Leash") {
		t.Errorf("sessions of one dog:\n%s", s)
	}
	r.Sessions[1].Dog = "Bracken"
	b.Reset()
	if err := SessionsTable(&b, r.Sessions, Options{Width: 80}); err != nil {
		t.Fatal(err)
	}
	if s := b.String(); !strings.Contains(s, "Juniper") || !strings.Contains(s, "Bracken") {
		t.Errorf("sessions of two dogs:\n%s", s)
	}
}
