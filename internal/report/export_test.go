package report

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"reflect"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"pgregory.net/rapid"

	"firstcue/internal/training"
)

// anyText is text as people and programs type it, with everything that a
// spreadsheet or a CSV reader could trip over.
func anyText() *rapid.Generator[string] {
	return rapid.OneOf(
		rapid.SampledFrom([]string{"", "Maren", "=1+1", "'quoted'", "'", "''=x", "-2", "+", "@a", "a,b;c\td", "line\r\nbreak", "\rx", "\n", `say "hi"`, " blank ", "0123", "TRUE", "1,5", "漢字"}),
		rapid.String(),
		rapid.StringMatching(`[=+@'"\-,;\r\n\t a]{1,6}`),
	)
}

func someText() *rapid.Generator[string] {
	return rapid.Custom(func(t *rapid.T) string {
		s := anyText().Draw(t, "text")
		if s == "" {
			s = "x"
		}
		return s
	})
}

func anyNum() *rapid.Generator[training.Num] {
	return rapid.Custom(func(t *rapid.T) training.Num {
		if !rapid.Bool().Draw(t, "known") {
			return training.Num{}
		}
		return training.Known(rapid.OneOf(rapid.Float64Range(0, 1e4), rapid.SampledFrom([]float64{0, 1.6, 0.1 + 0.2, 1e-7, 3600})).Draw(t, "number"))
	})
}

func anyTrial() *rapid.Generator[training.Trial] {
	return rapid.Custom(func(t *rapid.T) training.Trial {
		small := rapid.IntRange(0, 50)
		x := training.Trial{
			Cue: someText().Draw(t, "cue"), Kind: rapid.SampledFrom(training.Kinds).Draw(t, "kind"), Signal: training.Signal(anyText().Draw(t, "signal")),
			Outcome: rapid.SampledFrom(outcomes).Draw(t, "outcome"), Asks: small.Draw(t, "asks"), Did: anyText().Draw(t, "did"),
			Latency: anyNum().Draw(t, "latency"), Completion: anyNum().Draw(t, "completion"), Waited: anyNum().Draw(t, "waited"), Begun: anyNum().Draw(t, "begun"),
			Target: anyNum().Draw(t, "target"), Held: anyNum().Draw(t, "held"), Walked: anyNum().Draw(t, "walked"), Breaks: small.Draw(t, "breaks"), Distance: anyNum().Draw(t, "distance"),
			Tally: training.Tally{Yes: small.Draw(t, "yes"), Of: small.Draw(t, "of")}, At: anyNum().Draw(t, "at"), Marks: anyText().Draw(t, "marks"), Line: small.Draw(t, "line"),
		}
		for range rapid.IntRange(0, 3).Draw(t, "prompts") {
			x.Prompts = append(x.Prompts, someText().Draw(t, "prompt"))
		}
		for range rapid.IntRange(0, 3).Draw(t, "corrections") {
			x.Corrections = append(x.Corrections, training.Correction{Kind: rapid.SampledFrom(correctionKinds).Draw(t, "by"), Level: anyNum().Draw(t, "level"),
				Device: anyText().Draw(t, "device"), Served: rapid.Bool().Draw(t, "served")})
		}
		return x
	})
}

func anySession() *rapid.Generator[training.Session] {
	return rapid.Custom(func(t *rapid.T) training.Session {
		zone := time.FixedZone("", rapid.IntRange(-14*60, 14*60).Draw(t, "offset")*60)
		return training.Session{
			ID: rapid.StringMatching(`[0-9a-f]{12}`).Draw(t, "id"), Revision: rapid.IntRange(0, 3).Draw(t, "revision"), Dog: someText().Draw(t, "dog"), Handler: anyText().Draw(t, "handler"),
			Scorer: anyText().Draw(t, "scorer"), Start: time.Unix(rapid.Int64Range(0, 4e9).Draw(t, "start"), rapid.Int64Range(0, 999999999).Draw(t, "ns")).In(zone),
			Part: rapid.IntRange(0, 3).Draw(t, "part"), Place: anyText().Draw(t, "place"), Leash: rapid.SampledFrom(append([]training.Leash{""}, training.Leashes...)).Draw(t, "leash"),
			Distraction: anyNum().Draw(t, "distraction"), Device: anyText().Draw(t, "device"), WorkingLevel: anyNum().Draw(t, "level"), Weather: anyText().Draw(t, "weather"),
			Reward: anyText().Draw(t, "reward"), Source: rapid.SampledFrom(append([]training.Source{""}, training.Sources...)).Draw(t, "source"), Baseline: rapid.Bool().Draw(t, "baseline"),
			Zone: anyText().Draw(t, "zone"), Rescores: anyText().Draw(t, "rescores"), Voided: anyText().Draw(t, "voided"), Trials: rapid.SliceOfN(anyTrial(), 1, 5).Draw(t, "trials"),
		}
	})
}

func anyCSVOptions() *rapid.Generator[CSVOptions] {
	return rapid.SampledFrom([]CSVOptions{{}, {Excel: true}, {Excel: true, DecimalComma: true}, {Separator: ';', DecimalComma: true}, {Separator: '\t'}, {Excel: true, Separator: ','}, {DecimalComma: true}})
}

// Export then import gives the same trials.
func TestExportThenImport(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		want := rapid.SliceOfNDistinct(anySession(), 0, 4, func(s training.Session) string { return s.ID }).Draw(t, "sessions")
		o := anyCSVOptions().Draw(t, "options")
		var b bytes.Buffer
		if err := TrialsCSV(&b, want, o); err != nil {
			t.Fatal(err)
		}
		got, problems, err := ReadTrialsCSV(bytes.NewReader(b.Bytes()))
		if err != nil || len(problems) > 0 {
			t.Fatalf("%v %v\n%s", err, problems, b.String())
		}
		if len(got) != len(want) {
			t.Fatalf("%d sessions came back of %d", len(got), len(want))
		}
		for i := range want {
			w, g := want[i], got[i]
			if !g.Start.Equal(w.Start) || g.Start.Format(time.RFC3339Nano) != w.Start.Format(time.RFC3339Nano) {
				t.Fatalf("start %v came back as %v", w.Start, g.Start)
			}
			w.Start, g.Start = time.Time{}, time.Time{}
			if !reflect.DeepEqual(g, w) {
				t.Fatalf("came back as\n%#v\nwas\n%#v", g, w)
			}
		}
	})
}

// What is written is what another reader of RFC 4180 takes it to be: the
// standard library's, which differs from the RFC in turning CR LF inside a
// quoted field into LF.
func TestCSVIsRFC4180(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rows := rapid.SliceOfN(rapid.SliceOfN(anyText(), 3, 3), 1, 6).Draw(t, "rows")
		o := anyCSVOptions().Draw(t, "options")
		var b bytes.Buffer
		c := newCSV(&b, o)
		for _, r := range rows {
			c.row(r...)
		}
		if err := c.close(); err != nil {
			t.Fatal(err)
		}
		text := strings.TrimPrefix(b.String(), "\ufeff")
		if (len(text) != b.Len()) != o.Excel {
			t.Fatal("a byte order mark where none was asked for, or none where it was")
		}
		if !strings.HasSuffix(text, "\r\n") {
			t.Fatal("the last row does not end in CR LF")
		}
		rd := csv.NewReader(strings.NewReader(text))
		rd.Comma = o.separator()
		got, err := rd.ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		mine, err := splitCSV(text, o.separator())
		if err != nil || !reflect.DeepEqual(mine, rows) {
			t.Fatalf("%v: %q is read as %q", err, rows, mine)
		}
		flat := func(s string) string { return strings.ReplaceAll(s, "\r\n", "\n") }
		for i := range rows {
			for j := range rows[i] {
				if got[i][j] != flat(rows[i][j]) {
					t.Fatalf("%q is read as %q", rows[i][j], got[i][j])
				}
			}
		}
	})
}

func TestReadTrialsCSVTellsWhatIsWrong(t *testing.T) {
	const head = "dog,start,cue,kind,outcome,asks,latency_s,correction_1_kind,correction_1_level\r\n"
	const good = "Juniper,2026-03-04T09:10:00+01:00,sit,response,answered,1,0.9,,\r\n"
	for _, c := range []struct{ file, err, problem string }{
		{"", "empty", ""},
		{"date,command\r\n1,2\r\n", "no column \"dog\"", ""},
		{"dog,dog\r\n", "twice", ""},
		{head + `"Juniper`, "never closed", ""},
		{head + `"Juniper"x,1` + "\r\n", "after a closing quote", ""},
		{head + good, "", ""},
		{head + good + "\r\n", "", ""},
		{head + "Juniper,4 March,sit,response,answered,1,,,\r\n", "", "row 2, start"},
		{head + strings.Replace(good, "answered", "sat", 1), "", "row 2, outcome"},
		{head + strings.Replace(good, "0.9", "fast", 1), "", "row 2, latency_s"},
		{head + strings.Replace(good, "0.9", "NaN", 1), "", "row 2, latency_s"},
		{head + strings.Replace(good, ",1,", ",-1,", 1), "", "row 2, asks"},
		{head + strings.Replace(good, ",,\r", ",,9\r", 1), "", "no correction is not level 0"},
		{head + "Juniper,2\r\n", "", "2 cells under 9 headers"},
		{head + strings.Replace(good, "sit", "", 1), "", "row 2, cue: is empty"},
		{strings.Replace(head, "asks", "tries", 1) + good, "", "row 1, tries"},
	} {
		sessions, problems, err := ReadTrialsCSV(strings.NewReader(c.file))
		switch {
		case c.err != "":
			if err == nil || !strings.Contains(err.Error(), c.err) {
				t.Errorf("%q: error %v, want one about %q", c.file, err, c.err)
			}
		case err != nil:
			t.Errorf("%q: %v", c.file, err)
		case c.problem == "":
			if len(problems) != 0 || len(sessions) != 1 || sessions[0].Trials[0].Latency != training.Known(.9) {
				t.Errorf("%q: %v %v", c.file, sessions, problems)
			}
		case len(problems) != 1 || !strings.Contains(problems[0].String(), c.problem):
			t.Errorf("%q: problems %v, want one about %q", c.file, problems, c.problem)
		}
	}
}

// A spreadsheet saves with its own separator and spelling of true.
func TestReadTrialsCSVAfterASpreadsheet(t *testing.T) {
	var b bytes.Buffer
	if err := TrialsCSV(&b, juniperRecord().Sessions, CSVOptions{Excel: true, DecimalComma: true}); err != nil {
		t.Fatal(err)
	}
	got, problems, err := ReadTrialsCSV(strings.NewReader(strings.ReplaceAll(strings.ReplaceAll(b.String(), ";false", ";FALSE"), "\r\n", "\n")))
	if err != nil || len(problems) > 0 || len(got) != 3 || !reflect.DeepEqual(got[0].Trials, juniperRecord().Sessions[0].Trials) {
		t.Errorf("%v %v %d", err, problems, len(got))
	}
}

func FuzzReadTrialsCSV(f *testing.F) {
	var b bytes.Buffer
	if err := TrialsCSV(&b, juniperRecord().Sessions, CSVOptions{}); err != nil {
		f.Fatal(err)
	}
	f.Add(b.String())
	f.Add("dog,start,cue,outcome,prompt_99999999999,correction_888888888_kind\n")
	f.Add("\ufeffdog;start;cue;outcome\n;;;\n")
	f.Fuzz(func(t *testing.T, s string) {
		sessions, _, err := ReadTrialsCSV(strings.NewReader(s))
		if err != nil {
			return
		}
		for _, x := range sessions { // what was read can be written, and read again
			var b bytes.Buffer
			if err := TrialsCSV(&b, []training.Session{x}, CSVOptions{}); err != nil {
				t.Fatal(err)
			}
			again, problems, err := ReadTrialsCSV(&b)
			if err != nil || len(problems) > 0 || len(again) != 1 || len(again[0].Trials) != len(x.Trials) {
				t.Fatalf("%v %v\n%s", err, problems, b.String())
			}
		}
	})
}

// The guide names every column of the file, in order, with a datatype that its
// cells are written in.
func TestGuideMatchesTheFile(t *testing.T) {
	r := juniperRecord()
	var file, meta bytes.Buffer
	if err := TrialsCSV(&file, r.Sessions, CSVOptions{}); err != nil {
		t.Fatal(err)
	}
	if err := TrialsGuide(&meta, "t.csv", r.Sessions, CSVOptions{}); err != nil {
		t.Fatal(err)
	}
	var g csvwTable
	if err := json.Unmarshal(meta.Bytes(), &g); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&file).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(g.Schema.Columns) != len(rows[0]) {
		t.Fatalf("%d columns in the guide, %d in the file", len(g.Schema.Columns), len(rows[0]))
	}
	for i, c := range g.Schema.Columns {
		if c.Name != rows[0][i] || c.About == "" {
			t.Errorf("column %d is %q, the guide says %q", i, rows[0][i], c.Name)
		}
		for _, row := range rows[1:] {
			cell := row[i]
			if cell == "" {
				continue
			}
			var err error
			switch c.Datatype {
			case "number":
				_, err = strconv.ParseFloat(cell, 64)
			case "integer":
				_, err = strconv.Atoi(cell)
			case "boolean":
				_, err = strconv.ParseBool(cell)
			case "date":
				_, err = time.Parse("2006-01-02", cell)
			case "datetime":
				_, err = time.Parse(time.RFC3339, cell)
			case "string":
			default:
				err = fmt.Errorf("datatype %v", c.Datatype)
			}
			if err != nil {
				t.Errorf("%s: %q: %v", c.Name, cell, err)
			}
		}
	}
}

// RFC 5545: CR LF, lines of at most 75 octets that cut no character, escapes.
func TestCalendar(t *testing.T) {
	dog := training.Dog{ID: "d1", Name: "Ærø, the \"big\" one; née Über-Straßenköterin aus dem Hinterhof am Käseglöckchenweg 漢字漢字漢字漢字"}
	var b bytes.Buffer
	if err := Calendar(&b, dog, training.Date(2027, time.August, 31), []string{"sit", "leave it"}, Options{Generated: made}); err != nil {
		t.Fatal(err)
	}
	raw := b.String()
	if strings.Count(raw, "\n") != strings.Count(raw, "\r\n") || !strings.HasSuffix(raw, "END:VCALENDAR\r\n") {
		t.Error("lines do not end in CR LF")
	}
	for _, l := range strings.Split(raw, "\r\n") {
		if len(l) > 75 {
			t.Errorf("%d octets: %q", len(l), l)
		}
		if !utf8.ValidString(l) {
			t.Errorf("a character is cut: %q", l)
		}
	}
	open := strings.ReplaceAll(raw, "\r\n ", "")
	if !strings.Contains(open, `SUMMARY:Recheck Ærø\, the "big" one\; née Über-Straßenköterin aus dem Hinterhof am Käseglöckchenweg 漢字漢字漢字漢字: week 1 after going home`) {
		t.Errorf("the summary does not come back whole:\n%s", open)
	}
	if !strings.Contains(open, "DTSTAMP:20260320T200500Z\r\n") {
		t.Error("DTSTAMP is not in UTC")
	}
	var days []string
	for _, m := range regexp.MustCompile(`DTSTART;VALUE=DATE:(\d+)`).FindAllStringSubmatch(open, -1) {
		days = append(days, m[1])
	}
	// week 1, 2, 4; months 2 to 6 and 12 of 31 August: the last day of short months, 2028 is a leap year
	want := []string{"20270907", "20270914", "20270928", "20271031", "20271130", "20271231", "20280131", "20280229", "20280831"}
	if !reflect.DeepEqual(days, want) {
		t.Errorf("days %v, want %v", days, want)
	}
	uids := regexp.MustCompile(`UID:(\S+)`).FindAllString(open, -1)
	b.Reset()
	if err := Calendar(&b, dog, training.Date(2027, time.September, 3), nil, Options{}); err != nil {
		t.Fatal(err)
	}
	if again := regexp.MustCompile(`UID:(\S+)`).FindAllString(b.String(), -1); !reflect.DeepEqual(again, uids) || len(uids) != 9 || uids[0] == uids[1] {
		t.Errorf("UIDs %v, later %v", uids, again)
	}
	for _, tag := range []string{"VEVENT", "VALARM"} {
		if n := strings.Count(open, "BEGIN:"+tag); n != 9 || strings.Count(open, "END:"+tag) != n {
			t.Errorf("%d %s", n, tag)
		}
	}
	if err := Calendar(&b, dog, 0, nil, Options{}); err == nil {
		t.Error("no day of handoff, and no error")
	}
}

// W3C WebVTT: timestamps mm:ss.ttt, with hours from an hour on, each chapter's
// end after its start and no two of them overlapping.
func TestVTT(t *testing.T) {
	s := juniperRecord().Sessions[1]
	s.Trials = append(s.Trials, training.Trial{Cue: "sit", Kind: training.Response, Outcome: training.Early, At: training.Known(125)},
		training.Trial{Cue: "down", Kind: training.Response, Outcome: training.Refused, Asks: 1, At: training.Known(3661.25)})
	var b bytes.Buffer
	if err := VTT(&b, s); err != nil {
		t.Fatal(err)
	}
	parts := strings.Split(b.String(), "\n\n")
	if !strings.HasPrefix(parts[0], "WEBVTT") || len(parts) != 5 {
		t.Fatalf("%d parts:\n%s", len(parts), b.String())
	}
	stamp := regexp.MustCompile(`^(\d\d):([0-5]\d):([0-5]\d)\.(\d{3}) --> (\d\d):([0-5]\d):([0-5]\d)\.(\d{3})$`)
	last := 0.0
	for i, p := range parts[1:] {
		lines := strings.Split(strings.TrimSuffix(p, "\n"), "\n")
		m := stamp.FindStringSubmatch(lines[1])
		if len(lines) != 3 || lines[0] != strconv.Itoa(i+1) || m == nil {
			t.Fatalf("chapter %q", p)
		}
		sec := func(m []string) float64 {
			v := 0.0
			for _, x := range m[:3] {
				n, _ := strconv.Atoi(x)
				v = v*60 + float64(n)
			}
			ms, _ := strconv.Atoi(m[3])
			return v + float64(ms)/1000
		}
		from, to := sec(m[1:5]), sec(m[5:9])
		if from < last || to <= from {
			t.Errorf("chapter %d runs from %v to %v after %v", i+1, from, to, last)
		}
		last = to
	}
	if !strings.Contains(parts[3], "place: released at 3:01.8, no break; sit: acted before the cue") {
		t.Errorf("two trials of one moment do not share a chapter: %q", parts[3])
	}
	if err := VTT(&b, juniperRecord().Sessions[0]); err == nil {
		t.Error("a session without times gave chapters")
	}
	b.Reset()
	if err := VTT(&b, juniperRecord().Sessions[1]); err != nil || !strings.Contains(b.String(), "\n00:14.200 --> 00:41.000\nsit: first ask: yes in 0.9 s\n") {
		t.Errorf("%v:\n%s", err, b.String())
	}
}
