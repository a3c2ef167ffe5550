package report

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

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

var outcomes = []training.Outcome{training.Answered, training.Refused, training.Held, training.Broke, training.Released, training.Walked,
	training.Counted, training.Unscored, training.Early, training.Already}

var correctionKinds = []training.CorrectionKind{training.ByLeash, training.ByVoice, training.ByCollar}

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
			Scorer: anyText().Draw(t, "scorer"), Start: time.Unix(rapid.Int64Range(2*86400, 4e9).Draw(t, "start"), rapid.Int64Range(0, 999999999).Draw(t, "ns")).In(zone),
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

// Every fact of a session and its trials stands in its own column, as the
// standard library's reader of RFC 4180 reads it: text behind an apostrophe
// where a spreadsheet would run it (OWASP, CSV injection), numbers to the last
// digit, nothing for what is unknown. That an import takes the file back is
// tested where import is.
func TestTrialsCSVHoldsEveryFact(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		sessions := rapid.SliceOfN(anySession(), 0, 4).Draw(t, "sessions")
		o := anyCSVOptions().Draw(t, "options")
		var b bytes.Buffer
		if err := TrialsCSV(&b, sessions, o); err != nil {
			t.Fatal(err)
		}
		rd := csv.NewReader(strings.NewReader(strings.TrimPrefix(b.String(), "\ufeff")))
		rd.Comma = o.separator()
		rows, err := rd.ReadAll()
		if err != nil {
			t.Fatalf("%v\n%s", err, b.String())
		}
		head, rows := rows[0], rows[1:]
		for _, s := range sessions {
			for i, x := range s.Trials {
				if len(rows) == 0 {
					t.Fatalf("a trial has no row\n%s", b.String())
				}
				want := factsOf(s, x, i+1)
				for j, name := range head {
					fact, known := want[name]
					if !known && !emptyRoom.MatchString(name) {
						t.Fatalf("column %s is of nothing", name)
					}
					if got := rows[0][j]; !cellSays(got, fact, o) {
						t.Fatalf("%s is written %q, and is %v", name, got, fact)
					}
					delete(want, name)
				}
				if len(want) > 0 {
					t.Fatalf("no column for %v", want)
				}
				rows = rows[1:]
			}
		}
		if len(rows) > 0 {
			t.Fatalf("rows of no trial: %q", rows)
		}
	})
}

// emptyRoom are the columns that a fuller trial needs.
var emptyRoom = regexp.MustCompile(`^(prompt\d+|correction\d+(Kind|Level|Device|Answered))$`)

// word is a cell that is the same whatever the form of the file.
type word string

// factsOf is what a row should hold, by column; nil is an empty cell.
func factsOf(s training.Session, t training.Trial, position int) map[string]any {
	whole := func(n int, applies bool) any {
		if n == 0 && !applies {
			return nil
		}
		return word(strconv.Itoa(n))
	}
	held := t.Outcome == training.Held || t.Outcome == training.Broke || t.Outcome == training.Released || t.Outcome == training.Walked
	facts := map[string]any{
		"session": s.ID, "revision": whole(s.Revision, false), "dog": s.Dog, "date": word(s.Start.Format("2006-01-02")), "start": word(s.Start.Format(time.RFC3339Nano)),
		"zone": s.Zone, "part": whole(s.Part, true), "handler": s.Handler, "scorer": s.Scorer, "place": s.Place, "leash": string(s.Leash), "distraction": s.Distraction,
		"device": s.Device, "workingLevel": s.WorkingLevel, "weather": s.Weather, "reward": s.Reward, "source": string(s.Source), "baseline": word(fmt.Sprint(s.Baseline)),
		"rescores": s.Rescores, "withdrawn": s.Voided, "trial": whole(position, true), "cue": t.Cue, "kind": string(t.Kind), "signal": string(t.Signal), "outcome": string(t.Outcome),
		"asks": whole(t.Asks, t.Outcome != training.Counted && t.Outcome != training.Early), "did": t.Did, "latencySeconds": t.Latency, "completionSeconds": t.Completion,
		"waitedSeconds": t.Waited, "begunSeconds": t.Begun, "targetSeconds": t.Target, "heldSeconds": t.Held, "walkedSeconds": t.Walked, "breaks": whole(t.Breaks, held), "distanceMetres": t.Distance,
		"tallyYes": whole(t.Tally.Yes, t.Tally.Of > 0), "tallyOf": whole(t.Tally.Of, false), "atSeconds": t.At, "marks": t.Marks, "noteLine": whole(t.Line, true),
	}
	for i, p := range t.Prompts {
		facts[fmt.Sprintf("prompt%d", i+1)] = p
	}
	for i, k := range t.Corrections {
		c := fmt.Sprintf("correction%d", i+1)
		facts[c+"Kind"], facts[c+"Level"], facts[c+"Device"], facts[c+"Answered"] = string(k.Kind), k.Level, k.Device, word(fmt.Sprint(k.Served))
	}
	return facts
}

// cellSays reports that a cell says a fact, and no spreadsheet would run it.
func cellSays(cell string, fact any, o CSVOptions) bool {
	switch fact := fact.(type) {
	case string:
		if fact != "" && strings.ContainsRune("=+-@\t\r\n'", rune(fact[0])) {
			fact = "'" + fact
		}
		return cell == strings.ReplaceAll(fact, "\r\n", "\n") // as the library reads it
	case word:
		return cell == string(fact)
	case training.Num:
		if !fact.Known {
			return cell == ""
		}
		if o.DecimalComma && o.separator() != ',' {
			if strings.Contains(cell, ".") {
				return false
			}
			cell = strings.Replace(cell, ",", ".", 1)
		}
		v, err := strconv.ParseFloat(cell, 64)
		return err == nil && v == fact.V
	}
	return cell == ""
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
			t.Fatal("a byte order mark where none was asked for, or none where one was")
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

// The guide names every column of the file, in order, with a datatype that its
// cells are written in.
func TestGuideMatchesTheFile(t *testing.T) {
	r := demoRecord("Gorse")
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

// W3C WebVTT: timestamps mm:ss.ttt, with hours from an hour on, each chapter's
// end after its start and no two of them overlapping.
func TestVTT(t *testing.T) {
	s := timedSession()
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
	if !strings.Contains(parts[3], "place: released at 3:01.8 of 4:00, no break; sit: acted before the cue: counted apart") {
		t.Errorf("two trials of one moment do not share a chapter: %q", parts[3])
	}
	if err := VTT(&b, demoRecord("Tarn").Sessions[0]); err == nil {
		t.Error("a session without times gave chapters")
	}
	b.Reset()
	if err := VTT(&b, timedSession()); err != nil || !strings.Contains(b.String(), "\n00:14.200 --> 00:41.000\nsit: first ask: yes in 0.9 s\n") {
		t.Errorf("%v:\n%s", err, b.String())
	}
}
