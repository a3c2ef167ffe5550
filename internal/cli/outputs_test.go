package cli

import (
	"bytes"
	"context"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"
)

// demoKennel makes the invented kennel and returns a script that works on it.
func demoKennel(t *testing.T) *script {
	t.Helper()
	s := newScript(t)
	s.now = demoClock
	if out := s.run("firstcue demo --keep kennel", nil); strings.Contains(out, "[exit ") {
		t.Fatal(out)
	}
	s.vars["FIRSTCUE_STORE"] = filepath.Join(s.dir, "kennel", "kennel.db")
	return s
}

// must runs a command that has to succeed and returns both streams.
func (s *script) must(command string) string {
	s.t.Helper()
	out := s.run(command, nil)
	if strings.Contains(out, "[exit ") {
		s.t.Fatalf("%s: %s", command, out)
	}
	return out
}

func read(t *testing.T, parts ...string) string {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(parts...))
	if err != nil {
		t.Fatal(err)
	}
	return string(data)
}

// TestExportThenImport takes every dog of the demo kennel out through the export
// command and into an empty store through the import command, in each form a
// spreadsheet may have it, and takes it out again: the trials must be the same
// and the verdict too, and importing once more must add nothing.
func TestExportThenImport(t *testing.T) {
	s := demoKennel(t)
	from := s.vars["FIRSTCUE_STORE"]
	into := filepath.Join(s.dir, "second.db")
	forms := []string{"", "--excel", "--excel --decimal-comma", "--separator tab"}
	set := func(store string) { s.vars["FIRSTCUE_STORE"] = store }
	write(t, filepath.Join(s.dir, "rich.txt"), []byte(`dog: Gorse; handler: Bram
start: 2026-03-20 06:30; place: barn; leash: long line; distraction: 1; source: video; level: 7; reward: food
come whistle 15m +0.9>4.8, -, +1>-
stay 2:00 -45s, - 0:45 @6 +
place 60s released 0:30
down x:sat @verbal help:lure +, 8/10
sit voice hand +1.25, early, already, ?
heel 3:20 2- @6
0:14.2 sit
0:15.1 +
1:10.5 come
1:12 start
1:17.3 +
`))
	s.must("firstcue log rich.txt")
	trials := 0
	for i, dog := range []string{"Gorse", "Nettle", "Quince", "Sorrel", "Tarn"} {
		set(from)
		s.must("firstcue export " + dog + " -o first.csv")
		s.must("firstcue export " + dog + " " + forms[i%len(forms)] + " -o sheet.csv")
		before := whatTheStoreHolds(t, s, dog)
		set(into)
		s.must("firstcue import sheet.csv --new --yes")
		if again := s.must("firstcue import sheet.csv --new --yes"); !strings.Contains(again, "nothing") && !strings.Contains(again, "already") {
			t.Errorf("%s: importing twice says\n%s", dog, again)
		}
		if after := whatTheStoreHolds(t, s, dog); before != after || len(before) < 1000 {
			t.Errorf("%s: %s", dog, firstDifference(before, after))
		}
		s.must("firstcue export " + dog + " -o second.csv")
		one, two := trialRows(t, read(t, s.dir, "first.csv")), trialRows(t, read(t, s.dir, "second.csv"))
		if len(one) < 10 || !slices.Equal(one, two) {
			t.Errorf("%s: %d rows went out, %d came back\n%s", dog, len(one), len(two), firstDifference(strings.Join(one, "\n"), strings.Join(two, "\n")))
		}
		trials += len(one)
	}
	if trials < 800 {
		t.Errorf("only %d trials went out and in", trials)
	}
}

// whatTheStoreHolds returns a dog's sessions as the store has them, without what
// is given anew or not in a trials file: identifier, revision, note with the lines
// of its trials, and remarks.
func whatTheStoreHolds(t *testing.T, s *script, dog string) string {
	t.Helper()
	var list struct{ Sessions []map[string]any }
	if err := json.Unmarshal([]byte(s.answer("firstcue sessions "+dog+" --all --format json")), &list); err != nil {
		t.Fatal(err)
	}
	for _, x := range list.Sessions {
		for _, k := range []string{"id", "revision", "note", "remarks"} {
			if _, ok := x[k]; !ok {
				t.Fatalf("a session has no %q", k)
			}
			delete(x, k)
		}
		for _, t := range x["trials"].([]any) {
			delete(t.(map[string]any), "noteLine") // of a note that is not in the file
		}
	}
	text, err := json.MarshalIndent(list.Sessions, "", " ")
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

// trialRows returns the rows of a trials file without what an import gives anew:
// the session's identifier and revision, and the line of a note that is not in
// the file.
func trialRows(t *testing.T, file string) []string {
	t.Helper()
	rows, err := csv.NewReader(strings.NewReader(file)).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var keep []int
	for i, h := range rows[0] {
		if h != "session" && h != "revision" && h != "noteLine" {
			keep = append(keep, i)
		}
	}
	if len(keep) != len(rows[0])-3 {
		t.Fatalf("the columns are %v", rows[0])
	}
	var out []string
	for _, r := range rows[1:] {
		var cells []string
		for _, i := range keep {
			cells = append(cells, r[i])
		}
		out = append(out, strings.Join(cells, " | "))
	}
	return out
}

// TestOwnersPapersNameNobodyElse looks for the name of every other dog, of every
// other owner and of everybody who does not train the dog in all that the packet
// command writes, the notes having named them in every free text.
func TestOwnersPapersNameNobodyElse(t *testing.T) {
	s := demoKennel(t)
	s.must("firstcue handler set 'Mr Venn' --also Venny")
	s.must("firstcue cue add 'leave Sorrel' --kind response")
	note := `dog: Tarn; handler: Pim; scorer: Mr Venn
start: 2026-03-20 07:00; place: hay barn; leash: off; distraction: 2
weather: rain, said Venny; reward: Gorse's ball
sit x:nettle +, help:sorrel +
> Mr Venn and Sorrel looked on, Thistle barked
! Quince growled at her
`
	write(t, filepath.Join(s.dir, "note.txt"), []byte(note))
	s.must("firstcue log --new note.txt")
	dogs := []string{"Tarn", "Sorrel", "Gorse", "Thistle", "Quince", "Nettle"}
	others := map[string][]string{ // of each dog: everybody who is none of its owner's business
		"Tarn": {"Mr Venn", "Venn", "Pim"}, "Sorrel": {"Mrs Oake", "Oake", "Pim"}, "Gorse": {"Mr Venn", "Mrs Oake", "Oake", "Venn"},
		"Thistle": {"Venn", "Oake"}, "Quince": {"Venn", "Oake"}, "Nettle": {"Venn", "Oake"},
	}
	files := 0
	for _, dog := range dogs {
		papers := "papers-" + dog
		s.must("firstcue packet " + dog + " --out " + papers)
		s.must("firstcue packet " + dog + " --out " + papers) // the same dog's are replaced
		other := map[bool]string{true: "Gorse", false: "Tarn"}[dog == "Tarn"]
		had := read(t, s.dir, papers, "packet.html")
		out := s.run("firstcue packet "+other+" --out "+papers, nil)
		if !strings.Contains(out, papers+" holds "+dog+"'s packet; name another folder with --out") || !strings.Contains(out, "[exit 2]") || read(t, s.dir, papers, "packet.html") != had {
			t.Errorf("%s into the folder of %s: %s", other, dog, out)
		}
		entries, err := os.ReadDir(filepath.Join(s.dir, papers))
		if err != nil {
			t.Fatal(err)
		}
		for _, e := range entries {
			text := strings.ToLower(read(t, s.dir, papers, e.Name()))
			files++
			if !strings.HasSuffix(e.Name(), "-metadata.json") && !strings.Contains(text, strings.ToLower(dog)) {
				t.Errorf("%s of %s does not name the dog", e.Name(), dog)
			}
			for _, name := range append(slices.DeleteFunc(slices.Clone(dogs), func(d string) bool { return d == dog }), others[dog]...) {
				if at := strings.Index(text, strings.ToLower(name)); at >= 0 {
					t.Errorf("%s of %s names %s: ...%s...", e.Name(), dog, name, text[max(0, at-60):min(len(text), at+60)])
				}
			}
		}
	}
	if files != 7*len(dogs) {
		t.Errorf("%d files were looked at", files)
	}
}

// TestOutputsAreTheSameTwice: the same record gives the same bytes, in every
// form, and looking changes nothing.
func TestOutputsAreTheSameTwice(t *testing.T) {
	s := demoKennel(t)
	s.must("firstcue dog home Quince")
	before := read(t, s.vars["FIRSTCUE_STORE"])
	for _, c := range []string{
		"nightly", "nightly --format markdown", "nightly --format html", "nightly --format csv", "nightly --format json",
		"export Tarn", "export Tarn --summary", "export Tarn --format jsonl", "progress Gorse", "progress Gorse --format json",
		"recheck", "recheck Quince", "recheck --format json", "recheck --format csv",
		"report Sorrel --format html", "report Sorrel --format markdown", "dog show Gorse",
	} {
		if one, two := s.raw("firstcue "+c), s.raw("firstcue "+c); one != two || len(one) < 80 {
			t.Errorf("%s: %d and %d bytes\n%s", c, len(one), len(two), firstDifference(one, two))
		}
	}
	s.must("firstcue packet Tarn --out one")
	s.must("firstcue packet Tarn --out two")
	for _, f := range []string{"packet.html", "rechecks.ics", "trials.csv", "summary.csv"} {
		if one, two := read(t, s.dir, "one", f), read(t, s.dir, "two", f); one != two {
			t.Errorf("%s: %s", f, firstDifference(one, two))
		}
	}
	if read(t, s.vars["FIRSTCUE_STORE"]) != before {
		t.Error("looking changed the store")
	}
}

// TestNightlyWhileOthersLog runs the evening's report again and again while
// notes are logged. Each note holds a session of Tarn and one of Sorrel, stored
// together: a report that shows one without the other read half a note.
func TestNightlyWhileOthersLog(t *testing.T) {
	s := demoKennel(t)
	const notes = 12
	var wg sync.WaitGroup
	stop := make(chan struct{})
	run := func(args ...string) (int, string) {
		var out bytes.Buffer
		code := Run(context.Background(), Env{Args: args, Stdin: strings.NewReader(""), Stdout: &out, Stderr: &out,
			Getenv: func(k string) string { return s.vars[k] }, Now: func() time.Time { return s.now }})
		return code, out.String()
	}
	wg.Add(1)
	go func() {
		defer wg.Done()
		defer close(stop)
		for i := range notes {
			text := fmt.Sprintf("handler: Pim; place: market square; leash: off; distraction: 1\ndog: Tarn\nstart: 2026-03-20 %02d:37\nsit +\ndog: Sorrel\nstart: 2026-03-20 %02d:37\nsit +\n", 4+i, 4+i)
			if code, out := run("log", "-q", "--text", text); code != 0 {
				t.Errorf("note %d: exit %d: %s", i, code, out)
			}
		}
	}()
	defer wg.Wait() // the folder must not go away under somebody who writes
	reports, last := 0, -1
	for done := false; !done || reports < 3; {
		select {
		case <-stop:
			done = true
		default:
		}
		code, out := run("nightly", "--format", "json", "--exit-code")
		if code != exitAttention {
			t.Fatalf("exit %d: %s", code, out)
		}
		var n struct {
			Dogs []struct {
				Dog   string
				Today struct{ Sessions int }
			}
		}
		if err := json.Unmarshal([]byte(out), &n); err != nil {
			t.Fatal(err)
		}
		held := map[string]int{}
		for _, d := range n.Dogs {
			held[d.Dog] = d.Today.Sessions
		}
		// The demo has three sessions of Tarn and one of Sorrel on the day.
		if held["Tarn"]-3 != held["Sorrel"]-1 {
			t.Fatalf("half a note: %v", held)
		}
		if n := held["Sorrel"] - 1; n < last {
			t.Fatalf("a session was seen and is gone: %d after %d", n, last)
		} else {
			last = n
		}
		reports++
	}
	wg.Wait()
	if last != notes {
		t.Errorf("the last report shows %d of %d notes", last, notes)
	}
	t.Logf("%d reports while %d notes were logged", reports, notes)
}

// TestOutputsComplete presses Tab behind the commands that write: recheck
// offers the dogs that went home and no others.
func TestOutputsComplete(t *testing.T) {
	s := demoKennel(t)
	s.must("firstcue dog home Thistle")
	for _, c := range []struct{ command, want string }{
		{"recheck ''", "Thistle\twent home 2026-03-20\n:4\n"},
		{"progress Tarn le", "leave it\tresponse\n:4\n"},
		{"progress Tarn come ''", ":4\n"},
		{"packet G", "Gorse\tdue 2026-03-28\n:4\n"},
		{"export N", "Nettle\tdue 2026-04-09\n:4\n"},
		{"export Tarn --separator ''", ",\n;\ntab\n:4\n"},
		{"export Tarn --format ''", "csv\njsonl\n:4\n"},
		{"export --vtt las", "last\tthe session that began last\n:36\n"},
		{"nightly --format ''", "text\nmarkdown\nhtml\ncsv\njson\n:4\n"},
		{"nightly ''", ":4\n"},
	} {
		got := s.run("firstcue __complete "+c.command, nil)
		got, _, _ = strings.Cut(got, "Completion ended")
		if got != c.want {
			t.Errorf("Tab after %q:\n%s\nwant:\n%s", c.command, got, c.want)
		}
	}
}
