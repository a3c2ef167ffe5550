package report

import (
	"encoding/csv"
	"encoding/json"
	"encoding/xml"
	"io"
	"regexp"
	"strings"
	"testing"

	"firstcue/internal/analysis"
	"firstcue/internal/training"
)

// hostile are names that some output might run, break on, or be turned by.
var hostile = []string{
	`<script>alert(1)</script>`,
	`"><img src=x onerror=alert(1)>`,
	`</title></style></svg><script>alert(1)</script>`,
	`=cmd|' /C calc'!A0`,
	"@SUM(1)",
	"+1",
	"-2+3",
	"\t=1+1",
	"two\nlines\r\nand three",
	"\u202egnp.evil\u2066",
	"\x1b[31mred\x1b]0;title\x07",
	`a|b|c`,
	`[x](javascript:alert(1)) ![y](http://example.invalid/z.png)`,
	`00:00:00.000 --> 00:00:01.000`,
	`semi;colon, back\slash "quote" 'single'`,
	"END:VEVENT\r\nBEGIN:VALARM",
	"{{.Foot}} ${x} %s %!d",
	"- list\n# head\n1. one",
	"naïve 漢字 🐕‍🦺",
	strings.Repeat("x", 300),
}

// poison puts a name wherever somebody may type one.
func poison(a analysis.Assessment, r training.Record, s string) (analysis.Assessment, training.Record) {
	a.Dog.Name, a.Dog.Consent, a.Main, a.MainNote, a.OwnerWhy = s, s, s, s, s
	a.Dog.ID = ""
	a.Dog.Owners = []string{s}
	a.Boarding.Wishes = s
	a.Why, a.NeverTried = []string{s}, []string{s}
	a.Incidents = []training.Incident{{ID: "i", Text: s, Day: day(17)}}
	a.Holds = []training.VetHold{{From: day(19), Reason: s, Cues: []string{s}}}
	a.Cautions = []analysis.Caution{{Code: "x", Text: s, Why: s}}
	for i := range a.Cues {
		c := &a.Cues[i]
		c.Cue, c.Reason, c.Change = s, s, []string{s}
		c.Alarm.Say, c.Owner.Say = s, s
		c.Gates = append([]analysis.Gate(nil), c.Gates...)
		for j := range c.Gates {
			c.Gates[j].Say = s
		}
		c.Contexts = append([]analysis.Context(nil), c.Contexts...)
		for j := range c.Contexts {
			c.Contexts[j].Handler, c.Contexts[j].Place = s, s
		}
		for j := range c.Days3 {
			c.Days3[j].NewHandler, c.Days3[j].NewPlace = s, s
		}
		c.WrongAnswers = []analysis.WrongAnswer{{Did: s, Count: 1}}
		for j := range c.Corrections.Devices {
			c.Corrections.Devices[j].Device = s
		}
		if c.FirstCue != nil {
			f := *c.FirstCue
			f.Rule = s
			c.FirstCue = &f
		}
	}
	a.Dog.Words = []training.CueWord{{Cue: s, Word: s, Signal: s, Ends: s}}
	a.Dog.Goals = []training.Goal{{Cue: s, Words: s}}
	r.Dog = a.Dog
	r.Kennel.Dogs = nil
	r.Kennel.Handlers = []training.Handler{{Name: s, Role: training.Trainer}}
	r.Incidents = a.Incidents
	for i := range r.Sessions {
		x := &r.Sessions[i]
		x.Dog, x.Handler, x.Place, x.Scorer, x.Device, x.Weather, x.Reward = s, s, s, s, s, s, s
		x.Note, x.Carried = s, s
		x.Remarks = []training.Remark{{Text: s}, {Text: s, Incident: true}}
		for j := range x.Trials {
			t := &x.Trials[j]
			t.Cue = s
			if t.Did != "" {
				t.Did = s
			}
			for k := range t.Prompts {
				t.Prompts[k] = s
			}
			for k := range t.Corrections {
				t.Corrections[k].Device = s
			}
			t.Marks = s
		}
	}
	return a, r
}

var (
	htmlTag     = regexp.MustCompile(`</?([a-zA-Z][a-zA-Z0-9]*)([^<>]*)>`)
	allowedTags = map[string]bool{"html": true, "head": true, "meta": true, "title": true, "style": true, "body": true, "main": true, "header": true, "h1": true,
		"h2": true, "h3": true, "p": true, "bdi": true, "strong": true, "span": true, "section": true, "div": true, "ul": true, "li": true, "dl": true, "dt": true, "dd": true,
		"table": true, "caption": true, "thead": true, "tbody": true, "tr": true, "th": true, "td": true, "br": true, "figure": true, "figcaption": true, "svg": true, "desc": true,
		"line": true, "path": true, "circle": true, "rect": true, "text": true, "g": true, "footer": true, "nav": true, "a": true, "article": true}
	icsLine = regexp.MustCompile(`^[A-Z-]+[;:]`)
)

func TestHostileNames(t *testing.T) {
	for _, s := range hostile {
		for _, o := range outputs() {
			a, r := poison(juniper(), juniperRecord(), s)
			got := print(t, o, a, r)
			switch o.kind {
			case "html":
				for _, m := range htmlTag.FindAllStringSubmatch(got, -1) {
					if !allowedTags[m[1]] || strings.Contains(m[2], " on") || strings.Contains(m[2], "javascript:") || strings.Contains(m[2], "src=") {
						t.Errorf("%s of %q: tag %s", o.file, s, m[0])
					}
				}
				if n := strings.Count(got, "<title"); n != strings.Count(print(t, o, juniper(), juniperRecord()), "<title") {
					t.Errorf("%s of %q: %d titles", o.file, s, n)
				}
				noControl(t, o.file, s, got)
			case "svg":
				d := xml.NewDecoder(strings.NewReader(got))
				for {
					tok, err := d.Token()
					if err == io.EOF {
						break
					}
					if err != nil {
						t.Fatalf("%s of %q: %v", o.file, s, err)
					}
					if e, ok := tok.(xml.StartElement); ok && !allowedTags[e.Name.Local] {
						t.Errorf("%s of %q: element %s", o.file, s, e.Name.Local)
					}
				}
			case "csv":
				rd := csv.NewReader(strings.NewReader(strings.TrimPrefix(got, "\ufeff")))
				if strings.Contains(o.file, "excel") {
					rd.Comma = ';'
				}
				rows, err := rd.ReadAll()
				if err != nil {
					t.Fatalf("%s of %q: %v", o.file, s, err)
				}
				for _, row := range rows {
					for _, cell := range row {
						if cell != "" && strings.ContainsAny(cell[:1], "=+-@\t\r\n") {
							t.Errorf("%s of %q: a spreadsheet would run %q", o.file, s, cell)
						}
					}
				}
			case "json":
				var v map[string]any
				if err := json.Unmarshal([]byte(got), &v); err != nil {
					t.Fatalf("%s of %q: %v", o.file, s, err)
				}
				if strings.Contains(s, "<") && !strings.HasSuffix(o.file, "metadata.json") && !strings.Contains(got, "<") {
					t.Errorf("%s writes %q with escapes that no reader of it needs", o.file, s)
				}
				if d, ok := v["dog"]; ok && d != s {
					t.Errorf("%s: %q came back as %q", o.file, s, d)
				}
			case "jsonl":
				for _, l := range strings.Split(strings.TrimSuffix(got, "\n"), "\n") {
					var v struct{ Dog, Handler string }
					if err := json.Unmarshal([]byte(l), &v); err != nil || v.Dog != s || v.Handler != s {
						t.Errorf("%s: %q came back as %q, %v", o.file, s, v.Dog, err)
					}
				}
			case "ics":
				lines := strings.Split(strings.TrimSuffix(got, "\r\n"), "\r\n")
				for _, l := range lines {
					if strings.ContainsAny(l, "\r\n") || !strings.HasPrefix(l, " ") && !icsLine.MatchString(l) {
						t.Errorf("%s of %q: line %q", o.file, s, l)
					}
				}
				if n := strings.Count(got, "\r\nBEGIN:VALARM\r\n"); n != 9 {
					t.Errorf("%s of %q: %d alarms", o.file, s, n)
				}
			case "vtt":
				if n := strings.Count(got, "-->"); n != 3 {
					t.Errorf("%s of %q: %d arrows for 3 chapters", o.file, s, n)
				}
				noControl(t, o.file, s, got)
			case "markdown":
				for _, l := range strings.Split(got, "\n") {
					if strings.HasPrefix(l, "|") && strings.Count(strings.ReplaceAll(l, `\|`, ""), "|") < 3 {
						t.Errorf("%s of %q: row %q", o.file, s, l)
					}
					if strings.Contains(strings.ReplaceAll(l, `\]`, ""), "](") || strings.Contains(strings.ReplaceAll(l, "<br>", ""), "<") {
						t.Errorf("%s of %q: %q", o.file, s, l)
					}
				}
				if n := strings.Count("\n"+got, "\n# "); n != 1 {
					t.Errorf("%s of %q: %d first headings", o.file, s, n)
				}
				noControl(t, o.file, s, got)
			case "text":
				noControl(t, o.file, s, got)
				for i, l := range strings.Split(got, "\n") {
					if cells(l) > 100 && o.file != "sessions.txt" {
						t.Errorf("%s of %q, line %d has %d columns", o.file, s, i+1, cells(l))
					}
				}
			}
		}
	}
}

// noControl holds that nothing in a text moves a cursor or turns its direction.
func noControl(t *testing.T, file, name, got string) {
	t.Helper()
	for _, r := range got {
		if r < 32 && r != '\n' || r == 127 || turnsDirection(r) {
			t.Errorf("%s of %q holds %U", file, name, r)
			return
		}
	}
}

// A table in Markdown has as many cells in every row.
func TestMarkdownRows(t *testing.T) {
	a, r := poison(juniper(), juniperRecord(), "a|b")
	for _, o := range outputs() {
		if o.kind != "markdown" {
			continue
		}
		width := 0
		for _, l := range strings.Split(print(t, o, a, r), "\n") {
			n := strings.Count(strings.ReplaceAll(l, `\|`, ""), "|")
			switch {
			case !strings.HasPrefix(l, "|"):
				width = 0
			case width == 0:
				width = n
			case n != width:
				t.Errorf("%s: %d bars, not %d: %s", o.file, n, width, l)
			}
		}
	}
}
