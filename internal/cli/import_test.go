package cli

import (
	"bytes"
	"encoding/csv"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"firstcue/internal/note"
	"firstcue/internal/report"
	"firstcue/internal/sheet"
	"firstcue/internal/training"
)

// importer runs commands on a store of its own, in a folder of its own.
type importer struct {
	t   *testing.T
	dir string
	out string
	err string
}

func newImporter(t *testing.T) *importer {
	x := &importer{t: t, dir: t.TempDir()}
	x.run(0, "dog", "add", "Tarn")
	x.run(0, "handler", "add", "Ailsa")
	x.run(0, "place", "add", "paddock")
	return x
}

func (x *importer) run(want int, args ...string) string {
	x.t.Helper()
	if args[0] == "import" && !slices.Contains(args, "--no-yes") {
		args = append(args, "--yes") // there is no terminal here to ask on
	}
	args = slices.DeleteFunc(args, func(s string) bool { return s == "--no-yes" })
	var out, errs bytes.Buffer
	code := Run(x.t.Context(), Env{Args: args, Stdin: strings.NewReader(""), Stdout: &out, Stderr: &errs,
		Now: func() time.Time { return time.Date(2026, 3, 20, 12, 0, 0, 0, time.UTC) },
		Getenv: func(k string) string {
			return map[string]string{"FIRSTCUE_STORE": filepath.Join(x.dir, "k.db"), "HOME": x.dir}[k]
		}})
	x.out, x.err = out.String(), errs.String()
	if code != want {
		x.t.Fatalf("firstcue %s: exit %d, want %d\n%s%s", strings.Join(args, " "), code, want, x.out, x.err)
	}
	return x.out
}

func (x *importer) file(name, text string) string {
	x.t.Helper()
	path := filepath.Join(x.dir, name)
	if err := os.WriteFile(path, []byte(text), 0o600); err != nil {
		x.t.Fatal(err)
	}
	return path
}

func (x *importer) says(parts ...string) {
	x.t.Helper()
	for _, p := range parts {
		if !strings.Contains(x.out+x.err, p) {
			x.t.Errorf("not said: %q\n%s%s", p, x.out, x.err)
		}
	}
}

const sheetOf = "Dog,Date,Time,Trainer,Place,Lead,Distraction,Command,Result,Latency (s)\r\n"

// Rows that somebody put right are not written over.
func TestRejectedRowsAreKept(t *testing.T) {
	x := newImporter(t)
	f := x.file("march.csv", sheetOf+"Tarn,04/03/2026,9:10,Ailsa,paddock,off,1,sit,J,1.8\r\nTarn,15/03/2026,9:10,Ailsa,paddock,off,1,sit,+,0.9\r\n")
	x.run(2, "import", f)
	x.run(2, "import", f)
	if _, err := os.Stat(filepath.Join(x.dir, "march.rejected-2.csv")); err == nil {
		t.Error("the same rows are written twice")
	}
	right := x.file("march.rejected.csv", "put right by hand")
	x.run(0, "import", f, "--skip-bad")
	x.says("march.rejected.csv is kept as it is", "1 row, in "+filepath.Join(x.dir, "march.rejected-2.csv"))
	if text, err := os.ReadFile(right); err != nil || string(text) != "put right by hand" {
		t.Errorf("written over: %v, %s", err, text)
	}
}

// A store that is named and not there is misspelt, before any dog is missed.
func TestMisspeltStore(t *testing.T) {
	x := newImporter(t)
	f := x.file("march.csv", sheetOf+"Tarn,15/03/2026,9:10,Ailsa,paddock,off,1,sit,+,0.9\r\n")
	typo := filepath.Join(x.dir, "typo.db")
	for _, args := range [][]string{{"import", f}, {"log", "--text", "dog: Tarn; handler: Ailsa; start: yesterday 9:00; place: paddock\nsit +"}, {"live", "Tarn"}} {
		x.run(2, append(args, "--store", typo)...)
		x.says("there is no store at " + typo)
	}
	if _, err := os.Stat(typo); err == nil {
		t.Error("it was made")
	}
	x.run(0, "log", "--new", "--text", "dog: Tarn; handler: Ailsa; start: yesterday 9:00; place: paddock\nsit +", "--store", typo)
	x.says("new store: " + typo)
}

func TestImportTwiceAddsNothing(t *testing.T) {
	x := newImporter(t)
	rows := "Tarn,04/03/2026,9:10,Ailsa,paddock,off,1,sit,J,1.8\r\nTarn,04/03/2026,9:10,Ailsa,paddock,off,1,down,N,\r\nTarn,15/03/2026,9:10,Ailsa,paddock,off,1,sit,J,0.9\r\n"
	f := x.file("march.csv", sheetOf+rows)
	x.run(2, "import", f)
	x.says("day first (line 4: 15/03/2026)", "decimal mark: dot (line 2: 1.8)", "cue=Command", "march.csv, line 2 and 1 row more: Result: \"J\" is no answer known here", "2 rows of 3 can't be read, nothing was stored", "march.rejected.csv")
	if got := x.run(0, "sessions", "Tarn"); strings.Contains(got, "Ailsa") {
		t.Errorf("stored although rows were refused:\n%s", got)
	}
	rejected, err := os.ReadFile(filepath.Join(x.dir, "march.rejected.csv"))
	if err != nil || !strings.HasPrefix(string(rejected), strings.TrimSpace(sheetOf)+",line in file,reason\r\nTarn,04/03/2026,9:10,Ailsa,paddock,off,1,sit,J,1.8,2,") {
		t.Errorf("rejected rows: %v\n%s", err, rejected)
	}
	x.run(0, "import", f, "--values", "response: J=+", "--dry-run")
	x.says("2 sessions, 3 trials read from 3 rows", "nothing was stored")
	x.run(0, "import", f, "--values", "response: J=+", "--save-map", "my sheet")
	x.says("stored: 2 sessions, 3 trials")
	x.run(0, "import", f, "--using", "My Sheet")
	x.says("stored already: 2 sessions", "nothing was stored")
	// The sheet has grown: only what is new is added.
	f = x.file("april.csv", sheetOf+rows+"Tarn,16/03/2026,10:00,Ailsa,paddock,off,1,sit,J,0.8\r\n")
	x.run(0, "import", f, "--using", "my sheet")
	x.says("stored already: 2 sessions", "stored: 1 session, 1 trial")
	// A row of a stored session was changed: a suspicion, not a verdict.
	f = x.file("april.csv", strings.Replace(sheetOf+rows, "sit,J,0.9", "sit,J,0.7", 1))
	x.run(0, "import", f, "--using", "my sheet")
	x.says("Tarn 2026-03-15 09:10, Ailsa at paddock: stored with other trials or remarks", "--again", "nothing was stored")
	x.run(0, "import", f, "--using", "my sheet", "--again")
	x.says("stored: 1 session, 1 trial")
	x.run(0, "import", f, "--using", "my sheet", "--again")
	x.says("nothing was stored")
	x.run(0, "undo", "--yes")
	x.run(0, "import", f, "--using", "my sheet", "--amend")
	x.says("amended (the earlier form stays in its history): 1 session")
	// Everything of the first import goes in one step.
	x.run(0, "undo", "--yes")
	x.run(0, "undo", "--yes")
	x.run(0, "undo", "--yes")
	x.says("2 sessions")
	x.run(0, "import", "--maps")
	x.says("my sheet  --values 'response: j=+'")
}

// Without a terminal nothing is stored until --yes says so, from a file and from
// standard input alike.
func TestImportAsks(t *testing.T) {
	x := newImporter(t)
	f := x.file("march.csv", sheetOf+"Tarn,15/03/2026,9:10,Ailsa,paddock,off,1,sit,+,0.9\r\n")
	x.run(2, "import", f, "--no-yes")
	x.says("there is no terminal to ask on (Store 1 session?)", "add --yes")
	x.run(0, "import", f, "--dry-run", "--no-yes")
	x.run(0, "import", f, "--yes")
	x.says("stored: 1 session, 1 trial", "Tarn  sit  -", "1/1, now 84% [36-98]  not proven")
}

// A day in the column of the start beside a column of times: the flag that puts
// it right is named. The columns stand one a line.
func TestImportNamesTheTime(t *testing.T) {
	x := newImporter(t)
	f := x.file("march.csv", sheetOf+"Tarn,15/03/2026,9:10,Ailsa,paddock,off,1,sit,+,0.9\r\n")
	x.run(2, "import", f, "--map", "start=Date")
	x.says("Time holds it; --map 'date=Date, time=Time'", "\n    start=Date\n", "\n    cue=Command\n")
	x.run(0, "import", f, "--map", "date=Date, time=Time")
}

// A remembered map is shown as the flags to type: what they say is the same map.
func TestMapFlags(t *testing.T) {
	var m sheet.Mapping
	for _, err := range []error{m.AddColumns(`cue=Command, handler="Who, please", place=it's, response="a ""b"""`), m.AddValues(`response: Y=+, "N, no"=-, ""=?, part=- +; leash: long=long line; level: 0=`)} {
		if err != nil {
			t.Fatal(err)
		}
	}
	var again sheet.Mapping
	for _, err := range []error{again.AddColumns(m.ColumnsText()), again.AddValues(m.ValuesText())} {
		if err != nil {
			t.Fatalf("%v in %s and %s", err, m.ColumnsText(), m.ValuesText())
		}
	}
	if !reflect.DeepEqual(m, again) {
		t.Errorf("was %+v\ngot %+v", m, again)
	}
	m.Dates, m.Decimal, m.Delimiter = sheet.DMY, ",", "semicolon"
	if got := mapFlags(m); !strings.HasPrefix(got, "--map '") || !strings.HasSuffix(got, " --dates dmy --decimal comma --delimiter semicolon") {
		t.Error(got)
	}
}

func TestImportKnowsWhatANoteStored(t *testing.T) {
	x := newImporter(t)
	x.run(0, "log", "--text", "dog: Tarn; handler: Ailsa; start: 2026-03-04 9:10; place: paddock; leash: off; distraction: 1\nsit +1.8\ndown - @leash +\n> wind from the east\n")
	f := x.file("m.csv", "dog,start,handler,place,leash,distraction,cue,response\nTarn,2026-03-04 09:10,Ailsa,paddock,off,1,sit,+1.8\nTarn,2026-03-04 09:10,Ailsa,paddock,off,1,down,- @leash +\n")
	x.run(0, "import", f)
	x.says("stored already: 1 session")
	// A remark that the store does not have is not lost in silence.
	f = x.file("m.csv", "dog,start,handler,place,leash,distraction,cue,response,notes\nTarn,2026-03-04 09:10,Ailsa,paddock,off,1,sit,+1.8,\nTarn,2026-03-04 09:10,Ailsa,paddock,off,1,down,- @leash +,limped\n")
	x.run(0, "import", f)
	x.says("stored with other trials")
}

func TestImportRefusals(t *testing.T) {
	x := newImporter(t)
	for _, c := range []struct {
		name, text string
		args       []string
		want       []string
	}{
		{"empty.csv", "", nil, []string{"the file is empty"}},
		{"none.csv", "\x00\x01", nil, []string{"not a text file"}},
		{"book.csv", "PK\x03\x04...", nil, []string{"workbook"}},
		{"one.csv", "alone\n1\n", nil, []string{"--delimiter"}},
		{"nodog.csv", "Cue,Response\nsit,+\n", nil, []string{"hold the dog or the day", "--dog NAME", "and --map 'date=COLUMN'"}},
		{"nocue.csv", "Dog,Date,Wort\nTarn,2026-03-04,sit\n", nil, []string{"hold the cue or the answer", "--map 'cue=COLUMN'", "Wort"}},
		{"open.csv", "Dog,Date,Cue,Response\nTarn,\"2026-03-04,sit,+\n", []string{"--dates", "ymd", "--delimiter", "comma"}, []string{"line 2: a quote is opened here and never closed", "nothing was stored"}},
		{"day.csv", "Dog,Date,Cue,Response\nTarn,04/03/2026,sit,+\n", nil, []string{"--dates dmy or --dates mdy"}},
		{"latin.csv", "Dog,Date,Cue,Response,Notes\nTarn,2026-03-04,sit,+,gr\xfc\xdf\n", []string{"--at", "9:00", "--handler", "Ailsa", "--place", "paddock"}, []string{"--encoding windows-1252"}},
		{"map.csv", "Dog,Date,Command,Response\nTarn,2026-03-04,sit,+\n", []string{"--map", "cue=Comand"}, []string{"did you mean Command?"}},
		{"field.csv", "Dog,Date,Cue,Response\n", []string{"--map", "respons=Cue"}, []string{"did you mean response?"}},
		{"using.csv", "Dog,Date,Cue,Response\n", []string{"--using", "mine"}, []string{"no map is remembered", "--maps"}},
	} {
		x.run(2, append([]string{"import", x.file(c.name, c.text)}, c.args...)...)
		x.says(c.want...)
	}
	x.run(2, "import", filepath.Join(x.dir, "not there.csv"))
	x.says("there is no file")
	x.run(2, "import", x.dir)
	x.says("folder")
	x.run(0, "import", filepath.Join(x.dir, "latin.csv"), "--at", "9:00", "--handler", "Ailsa", "--place", "paddock", "--encoding", "windows-1252")
	x.says("WINDOWS-1252", "stored: 1 session, 1 trial")
}

// What export writes comes back as it was, in every form that it writes, with
// no flag; names that a spreadsheet would run as formulas among them. The note's
// words, its line numbers and its remarks are not in the file.
func TestImportReadsWhatExportWrote(t *testing.T) {
	k := training.Kennel{
		Dogs:     []training.Dog{{Name: "Tarn"}, {Name: "=Moss"}, {Name: "'Ash, the 2nd"}},
		Handlers: []training.Handler{{Name: "Ailsa"}, {Name: "-Corin"}}, Places: []training.Place{{Name: "paddock"}, {Name: `"The" car park`}},
		Devices: []training.Device{{Name: "+blue remote"}, {Name: "red remote"}}, Cues: training.SeedCues(),
	}
	now := time.Date(2026, 3, 20, 12, 0, 0, 0, time.UTC)
	lines := []string{"sit +", "sit - +1.6", "sit +1.8", "down - - @9 +", "down -2s @leash +", "down x:sat @verbal", "come whistle 15m +0.9>4.8", "come +1>-", "stay 2:00 +", "stay 2:00 -45s",
		"stay 1:00 released 0:30", "place 60s - @6 +", "heel 3:20 2- @6", "heel 1:00", "down 8/10", "sit early", "sit already", "sit ?", "leave it help:lure +", "sit voice hand +1.25", "halt - +", "sit 3+",
		"0:14.2 sit\n0:15.1 +", "1:10.5 come\n1:12 start\n1:17.3 +", "2:05 place\n5:06.8 release", "6:00 down\n6:04 down\n6:05 @7\n6:06 down\n6:07 +"}
	filled := map[string]bool{}
	rapid.Check(t, func(t *rapid.T) {
		var sessions []training.Session
		for i := range rapid.IntRange(1, 4).Draw(t, "sessions") {
			pick := func(list ...string) string { return rapid.SampledFrom(list).Draw(t, "value") }
			text := fmt.Sprintf("dog: %s; handler: %s\nstart: 2026-03-0%d %s; place: %s; leash: %s; distraction: %d\ndevice: %s\n%s", k.Dogs[rapid.IntRange(0, 2).Draw(t, "dog")].Name, pick("Ailsa", "-Corin"), i+1,
				pick("9:10", "9:10:07"), k.Places[rapid.IntRange(0, 1).Draw(t, "place")].Name, pick("off", "long line"), rapid.IntRange(0, 4).Draw(t, "distraction"), pick("+blue remote", "red remote"),
				pick("", "source: video\n", "weather: rain, cold; reward: food\n", "level: 7\n", "baseline: yes\n", "scorer: -Corin\n", "weather: =1+1; reward: 'ball\n"))
			clock := false
			for _, l := range rapid.SliceOfN(rapid.SampledFrom(lines), 1, 8).Draw(t, "lines") {
				if timed := strings.Contains(l, "\n"); timed && clock {
					continue // clocks must not run back
				} else if timed {
					clock = true
				}
				text += l + "\n"
			}
			if rapid.Bool().Draw(t, "part") {
				text += "place: paddock; leash: leash\nsit +\n"
			}
			res := note.Parse([]byte(text), note.Options{Kennel: k, Now: now})
			if len(res.Problems) > 0 {
				t.Fatalf("%v\n%s", res.Problems, text)
			}
			sessions = append(sessions, res.Sessions...)
		}
		o := rapid.SampledFrom([]report.CSVOptions{{}, {Excel: true}, {Excel: true, DecimalComma: true}, {Separator: '\t'}, {Separator: ';', DecimalComma: true}, {Excel: true, Separator: ','}, {Separator: '\t', DecimalComma: true}}).Draw(t, "form")
		var file bytes.Buffer
		if err := report.TrialsCSV(&file, sessions, o); err != nil {
			t.Fatal(err)
		}
		rows := csv.NewReader(strings.NewReader(strings.TrimPrefix(file.String(), "\ufeff")))
		if rows.Comma = ','; o.Separator != 0 {
			rows.Comma = o.Separator
		} else if o.Excel {
			rows.Comma = ';'
		}
		cells, err := rows.ReadAll()
		if err != nil {
			t.Fatal(err)
		}
		for _, row := range cells[1:] {
			for i, c := range row {
				filled[cells[0][i]] = filled[cells[0][i]] || c != ""
			}
		}
		r, l, err := sheet.Open(bytes.NewReader(file.Bytes()), sheet.Wishes{})
		if err != nil {
			t.Fatal(err)
		}
		cols, err := sheet.Mapping{}.Find(l.Header)
		if err != nil {
			t.Fatal(err)
		}
		w := sheet.Wishes{}
		if l, err = sheet.Detect(r, l, cols, w); err != nil {
			t.Fatalf("%v\n%s", err, file.String())
		}
		r, _, _ = sheet.Open(bytes.NewReader(file.Bytes()), w)
		var got []training.Session
		res, err := sheet.Read(r, sheet.Options{Layout: l, Columns: cols, Kennel: k, Now: now}, func(s training.Session) error { got = append(got, s); return nil },
			func(x sheet.Rejected) error { t.Fatalf("line %d: %s\n%s", x.Line, x.Reason, file.String()); return nil })
		if err != nil {
			t.Fatalf("%v\n%s", err, file.String())
		}
		plain := func(list []training.Session) []training.Session {
			out := append([]training.Session(nil), list...)
			for i := range out {
				out[i].Note, out[i].Carried, out[i].Remarks = "", "", nil
				out[i].Start = out[i].Start.UTC()
				out[i].Trials = append([]training.Trial(nil), out[i].Trials...)
				for j := range out[i].Trials {
					out[i].Trials[j].Line = 0
				}
			}
			return out
		}
		if a, b := plain(sessions), plain(got); !reflect.DeepEqual(a, b) || res.Sessions != len(a) {
			t.Fatalf("was %+v\ngot %+v\n%s", a, b, file.String())
		}
	})
	// What only a store gives a session is in no note: its identifier, its
	// revision, and what it was withdrawn for or is a second scoring of.
	for column, ok := range filled {
		if testing.Short() {
			break // too few sessions to have filled them all
		}
		if stored := slices.Contains([]string{"session", "revision", "rescores", "withdrawn"}, column); ok == stored {
			t.Errorf("column %s: tried %v", column, ok)
		}
	}
}

// A file is printed back byte for byte, with everything that was no session in
// it, whichever way it came in.
func TestShowFile(t *testing.T) {
	x := newImporter(t)
	const noted = "\ufeffdog: Tarn; handler: Ailsa\r\nstart: 2026-03-04 9:10; place: paddock; leash: off; distraction: 1\r\nsit +1.8\t\r\n\r\n\r\nstart: 2026-03-04 17:00\r\ndown - +\r\n> wind from the east  "
	x.run(0, "log", x.file("wednesday.txt", noted))
	if got := x.run(0, "session", "show", "last", "--file"); got != noted || x.err != "" {
		t.Errorf("%q %q", got, x.err)
	}
	rows := sheetOf + "Tarn,15/03/2026,9:10,Ailsa,paddock,off,1,sit,+,0.9\r\n\r\n"
	x.run(0, "import", x.file("march.csv", rows))
	if got := x.run(0, "session", "show", "last", "--file"); got != rows || x.err != "" {
		t.Errorf("%q %q", got, x.err)
	}
	// The file of the form in force, also after a withdrawal and an undo.
	x.run(0, "log", x.file("wednesday.txt", strings.Replace(noted, "1.8", "0.8", 1)))
	handle := regexp.MustCompile(`(?m)^(\w+) +2026-03-04 +09:10`).FindStringSubmatch(x.run(0, "sessions"))[1]
	if got := x.run(0, "session", "show", handle, "--file"); !strings.Contains(got, "sit +0.8") {
		t.Errorf("%q", got)
	}
	x.run(0, "undo", "--yes")
	x.run(0, "session", "void", handle, "--why", "wrong dog")
	if got := x.run(0, "session", "show", handle, "--file"); got != noted || x.err != "" {
		t.Errorf("%q %q", got, x.err)
	}
	x.run(2, "session", "show", handle, "--file", "--format", "note")
}
