//go:build unix

package cli

import (
	"bufio"
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"
)

// program is the built program, run as other processes in a folder of its own.
type program struct {
	t    *testing.T
	exe  string
	dir  string              // working folder and home
	user *syscall.Credential // who runs it; nil = who runs the test
}

var built struct {
	sync.Once
	exe string
	err error
}

// build builds the program once for all tests of a run.
func build(t *testing.T) *program {
	t.Helper()
	built.Do(func() {
		dir, err := os.MkdirTemp("", "firstcue-built-")
		if err != nil {
			built.err = err
			return
		}
		built.exe = filepath.Join(dir, "firstcue")
		c := exec.Command("go", "build", "-o", built.exe, "../../cmd/firstcue")
		c.Env = append(os.Environ(), "CGO_ENABLED=0")
		if out, err := c.CombinedOutput(); err != nil {
			built.err = fmt.Errorf("%v\n%s", err, out)
		}
	})
	if built.err != nil {
		t.Fatalf("build the program: %v", built.err)
	}
	return &program{t: t, exe: built.exe, dir: t.TempDir()}
}

func TestMain(m *testing.M) {
	code := m.Run()
	if built.exe != "" {
		os.RemoveAll(filepath.Dir(built.exe))
	}
	os.Exit(code)
}

// ran is a command that is over.
type ran struct {
	code           int // -1 = killed
	stdout, stderr string
}

func (p *program) command(args ...string) (*exec.Cmd, *bytes.Buffer, *bytes.Buffer) {
	c := exec.Command(p.exe, args...)
	c.Dir = p.dir
	tmp := filepath.Join(p.dir, "tmp")
	os.Mkdir(tmp, 0o777)
	c.Env = []string{"HOME=" + p.dir, "TMPDIR=" + tmp, "TZ=UTC", "PATH=" + os.Getenv("PATH")}
	c.SysProcAttr = &syscall.SysProcAttr{Setpgid: true}
	c.SysProcAttr.Credential = p.user
	var out, err bytes.Buffer
	c.Stdout, c.Stderr = &out, &err
	return c, &out, &err
}

func (p *program) run(args ...string) ran {
	p.t.Helper()
	return p.runKilled(0, args...)
}

// runKilled kills the command and whatever it started after a time, 0 = never.
func (p *program) runKilled(after time.Duration, args ...string) ran {
	p.t.Helper()
	c, out, errs := p.command(args...)
	if err := c.Start(); err != nil {
		p.t.Fatal(err)
	}
	if after > 0 {
		timer := time.AfterFunc(after, func() { syscall.Kill(-c.Process.Pid, syscall.SIGKILL) })
		defer timer.Stop()
	}
	c.Wait() // the state says how it ended
	return ran{c.ProcessState.ExitCode(), out.String(), errs.String()}
}

// must runs a command that has to end well and returns what it printed.
func (p *program) must(args ...string) string {
	p.t.Helper()
	r := p.run(args...)
	if r.code != 0 {
		p.t.Fatalf("firstcue %s: exit %d\n%s%s", strings.Join(args, " "), r.code, r.stdout, r.stderr)
	}
	return r.stdout
}

func (p *program) path(name string) string { return filepath.Join(p.dir, name) }

func (p *program) read(name string) string {
	p.t.Helper()
	b, err := os.ReadFile(p.path(name))
	if err != nil {
		p.t.Fatal(err)
	}
	return string(b)
}

func (p *program) write(name, text string) {
	p.t.Helper()
	if err := os.WriteFile(p.path(name), []byte(text), 0o600); err != nil {
		p.t.Fatal(err)
	}
}

// form is one form of a session as an exchange file has it.
type form struct {
	Session, Batch, Start, Note, Why string
	Number                           int
	Trials                           []json.RawMessage
}

// content is all that a store holds, taken from an exchange file: it is written
// from the tables themselves and leaves nothing out.
type content struct {
	lines   string // without the first, which has the time of writing
	forms   []form
	sources map[string]string // note or file by its hash
	batches map[string]string // hash of the source by batch
	said    string            // changes of the lists, a line each
}

func (p *program) content(store string) content {
	p.t.Helper()
	got := content{sources: map[string]string{}, batches: map[string]string{}}
	_, got.lines, _ = strings.Cut(p.must("--store", store, "store", "bundle"), "\n")
	lines := bufio.NewScanner(strings.NewReader(got.lines))
	lines.Buffer(nil, 1<<24)
	for lines.Scan() {
		var x struct {
			Kind string
			Doc  json.RawMessage
		}
		if err := json.Unmarshal(lines.Bytes(), &x); err != nil {
			p.t.Fatal(err)
		}
		var doc struct {
			form
			ID, Said, Hash, Text, Source string
		}
		if x.Kind == "session" { // where Source is how it was scored
			var f form
			if err := json.Unmarshal(x.Doc, &f); err != nil {
				p.t.Fatal(err)
			}
			got.forms = append(got.forms, f)
			continue
		}
		if err := json.Unmarshal(x.Doc, &doc); err != nil {
			p.t.Fatal(err)
		}
		switch x.Kind {
		case "change":
			got.said += doc.Said + "\n"
		case "source":
			got.sources[doc.Hash] = doc.Text
		case "batch":
			got.batches[doc.ID] = doc.Source
		}
	}
	if err := lines.Err(); err != nil {
		p.t.Fatal(err)
	}
	for _, f := range got.forms {
		if _, ok := got.batches[f.Batch]; !ok {
			p.t.Errorf("session %s of %s belongs to no batch", f.Session, f.Start)
		}
	}
	for id, hash := range got.batches {
		if _, ok := got.sources[hash]; hash != "" && !ok {
			p.t.Errorf("the text of batch %s is not kept", id)
		}
	}
	return got
}

// sound runs store check, which holds the database against SQLite's integrity
// check and its foreign keys, and every session against its hash.
func (p *program) sound(store string) {
	p.t.Helper()
	r := p.run("--store", store, "store", "check", "--format", "json")
	var h struct {
		Sound    bool
		Problems []string
	}
	if err := json.Unmarshal([]byte(r.stdout), &h); err != nil || r.code != 0 || !h.Sound || len(h.Problems) > 0 {
		p.t.Fatalf("%s is not sound: exit %d %s%s", store, r.code, r.stdout, r.stderr)
	}
}

// hourlySheet makes a spreadsheet: sessions of twenty trials each, one an hour.
func hourlySheet(year, sessions int, dogs ...string) string {
	var b strings.Builder
	b.WriteString("dog,start,handler,place,leash,distraction,cue,response,latency\n")
	for i := range sessions {
		start := time.Date(year, 1, 1, i, 0, 0, 0, time.UTC)
		for j := range sheetTrials {
			fmt.Fprintf(&b, "%s,%s,Bram,barn,off,1,sit,%s,%s\n", dogs[i%len(dogs)], start.Format("2006-01-02T15:04:05Z"),
				[]string{"yes", "yes", "no"}[(i+j)%3], []string{fmt.Sprintf("1.%d", j%10), "0.8", ""}[(i+j)%3])
		}
	}
	return b.String()
}

const sheetTrials = 20

// A victim is a command that is killed: what it is told, what there is before
// it, and what must hold after it.
type victim struct {
	name string
	// ready sets things up for kill i and returns the command.
	ready func(i int) []string
	// seen looks at what the killed command left and says how far it came, before
	// any other command puts things right.
	seen func(i int, before string) string
	// after looks whether everything is whole. known is true when the command
	// had said that its work is done: then all of it must be there.
	after func(i int, known bool)
	usual time.Duration // the shortest of three runs
	hits  map[string]int
}

// The moments at which a kill can land.
const (
	early  = "before the write"
	inside = "in the write"
	late   = "after the write"
	over   = "after the end"
)

// TestKilledProgram kills the real program at random moments of its usual time.
// FIRSTCUE_TORTURE sets the number of kills.
func TestKilledProgram(t *testing.T) {
	kills, torture := 14, false
	if n, err := strconv.Atoi(os.Getenv("FIRSTCUE_TORTURE")); err == nil && n > 0 {
		kills, torture = n, true
	} else if testing.Short() {
		kills = 7
	}
	p := build(t)
	// A portion of an import has 20,000 trials; the torture has an import of two.
	rows, there := 250, 100
	if torture {
		rows, there = 1050, 400
	}
	victims := []*victim{p.logged(), p.imported(rows), p.amended(), p.mergedFile(there), p.mergedBundle(there), p.backedUp(), p.restored(), p.begun()}
	for _, v := range victims {
		v.hits = map[string]int{}
		for i := range 3 {
			args := v.ready(-1 - i)
			began := time.Now()
			p.must(args...)
			if took := time.Since(began); v.usual == 0 || took < v.usual {
				v.usual = took
			}
			if i == 0 {
				v.after(-1-i, true)
			}
		}
	}
	if t.Failed() {
		return
	}
	landed := 0
	// Where no kill has landed in a write yet, go on for a while.
	for i := 0; i < kills || landed == 0 && i < 10*kills; i++ {
		v := victims[i%len(victims)]
		args := v.ready(i)
		before := filesIn(p.path("work"))
		wait := max(time.Microsecond, rand.N(v.usual*6/5))
		r := p.runKilled(wait, args...)
		if r.code > 0 {
			t.Fatalf("kill %d, %s: exit %d\n%s%s", i, v.name, r.code, r.stdout, r.stderr)
		}
		moment := over
		if r.code < 0 {
			moment = v.seen(i, before)
		}
		v.hits[moment]++
		if moment == inside {
			landed++
		}
		v.after(i, r.code == 0 || r.said())
		if t.Failed() {
			t.Fatalf("kill %d, %s after %v of %v, %s", i, v.name, wait, v.usual, moment)
		}
	}
	for _, v := range victims {
		t.Logf("%-25s usual %8v, killed %v", v.name, v.usual.Round(100*time.Microsecond), v.hits)
		if torture && v.hits[inside] == 0 {
			t.Errorf("%s was never killed while it wrote", v.name)
		}
	}
	if landed == 0 {
		t.Error("no kill landed in a write")
	}
}

// said reports whether a killed command had already said that its work is done.
func (r ran) said() bool {
	return strings.Contains(r.stdout, "\nlogged ") || strings.Contains(r.stdout, "\namended ") || strings.Contains(r.stderr, "stored: ") ||
		strings.Contains(r.stderr, " new, ") || strings.HasSuffix(r.stdout, ".db\n") || strings.Contains(r.stderr, "is now the store") || strings.Contains(r.stderr, "added dog")
}

// filesIn is what the files of a folder hold.
func filesIn(dir string) string {
	var b strings.Builder
	filepath.WalkDir(dir, func(path string, e os.DirEntry, err error) error {
		if err == nil && e.Type().IsRegular() {
			text, _ := os.ReadFile(path)
			fmt.Fprintf(&b, "%s %d %x\n", path, len(text), sha256.Sum256(text))
		}
		return nil
	})
	return b.String()
}

// fresh empties the folder work, and puts a copy of a store into it.
func (p *program) fresh(from string) {
	p.t.Helper()
	if err := os.RemoveAll(p.path("work")); err != nil {
		p.t.Fatal(err)
	}
	os.Mkdir(p.path("work"), 0o700)
	if from != "" {
		p.write("work/kennel.db", p.read(from))
	}
}

// moment tells by the store alone how far a write came. A journal that is not
// empty was left in the middle of one.
func (p *program) moment(before string) string {
	if j, err := os.Stat(p.path("work/kennel.db-journal")); err == nil && j.Size() > 0 {
		return inside
	}
	if filesIn(p.path("work")) == before {
		return early
	}
	return late
}

// nothingLeft fails when anything but the named files lies in the folder work.
func (p *program) nothingLeft(may ...string) {
	p.t.Helper()
	list, err := os.ReadDir(p.path("work"))
	if err != nil {
		p.t.Fatal(err)
	}
	for _, e := range list {
		if !slices.Contains(may, e.Name()) {
			p.t.Errorf("left behind: %s", e.Name())
		}
	}
}

// logged stores a note of two sessions and a new name: all of it or nothing.
func (p *program) logged() *victim {
	kept := map[string]string{} // notes that were acknowledged, by their handler
	start := func(i, j int) time.Time {
		return time.Date(2024, 1, 1, 0, 10*(i+10)+5*j, 0, 0, time.UTC)
	}
	handler := func(i int) string { return fmt.Sprintf("Helper %c%d", 'A'+rune(i+10)%26, i+10) }
	parts := func(i int) [2]string {
		return [2]string{
			fmt.Sprintf("dog: Tarn; handler: %s\nstart: %s; place: paddock; leash: off; distraction: 1\nsit 8+\ndown -, +1.6, 6+\ncome +0.9>4.8, -, 2+\n> windy\n", handler(i), start(i, 0).Format("2006-01-02 15:04")),
			fmt.Sprintf("dog: Sorrel; handler: %s\nstart: %s; place: paddock; leash: off; distraction: 1\nsit %d+\n", handler(i), start(i, 1).Format("2006-01-02 15:04"), 3+(i+10)%5),
		}
	}
	p.must("--store", "lasting.db", "dog", "add", "Tarn", "--arrived", "2023-12-20")
	return &victim{
		name: "log",
		ready: func(i int) []string {
			p.fresh("lasting.db")
			x := parts(i)
			p.write("work/note.txt", x[0]+"\n"+x[1])
			return []string{"--store", "work/kennel.db", "log", "--new", "work/note.txt"}
		},
		seen: func(_ int, before string) string { return p.moment(before) },
		after: func(i int, known bool) {
			p.t.Helper()
			x := parts(i)
			text := x[0] + "\n" + x[1]
			look := func(known bool) {
				p.t.Helper()
				p.sound("work/kennel.db")
				got := p.content("work/kennel.db")
				counts := map[string]form{}
				for _, f := range got.forms {
					counts[f.Start] = f
				}
				a, okA := counts[start(i, 0).Format(time.RFC3339)]
				b, okB := counts[start(i, 1).Format(time.RFC3339)]
				name := strings.Contains(got.said, "handler "+handler(i)+" added\n")
				if okA != okB || okA != name {
					p.t.Errorf("half a note: first session %v, second %v, new handler %v", okA, okB, name)
				}
				if okA && (len(a.Trials) != 20 || strings.TrimSpace(a.Note) != strings.TrimSpace(x[0])) || okB && (len(b.Trials) != 3+(i+10)%5 || strings.TrimSpace(b.Note) != strings.TrimSpace(x[1])) {
					p.t.Errorf("half a session: %d and %d trials, notes\n%s\n%s", len(a.Trials), len(b.Trials), a.Note, b.Note)
				}
				if okA && got.sources[got.batches[a.Batch]] != text {
					p.t.Errorf("the note is not kept as it was:\n%q", got.sources[got.batches[a.Batch]])
				}
				if known && !okA {
					p.t.Error("the note was acknowledged and is lost")
				}
				all := map[string]bool{}
				for _, s := range got.sources {
					all[s] = true
				}
				for h, s := range kept {
					if !all[s] {
						p.t.Errorf("the note of %s was acknowledged and is lost", h)
					}
				}
			}
			look(known)
			p.must("--store", "work/kennel.db", "log", "--new", "work/note.txt")
			look(true)
			if p.read("work/note.txt") != text {
				p.t.Error("the note file was changed")
			}
			p.nothingLeft("kennel.db", "note.txt")
			kept[handler(i)] = text
			p.write("lasting.db", p.read("work/kennel.db"))
		},
	}
}

// amended corrects one session over and over: each form is there or is not.
func (p *program) amended() *victim {
	p.must("--store", "amended.db", "dog", "add", "Tarn", "--arrived", "2023-12-20")
	p.must("--store", "amended.db", "log", "--new", "--text", "dog: Tarn; handler: Ailsa\nstart: 2024-02-01 09:10; place: paddock; leash: off; distraction: 1\nsit 2+")
	known := map[string]int{} // trials by the reason of an amendment that was acknowledged
	trials := func(i int) int { return 3 + (i+10)%50 }
	why := func(i int) string { return fmt.Sprintf("amendment %d", i+10) }
	args := func(i int) []string {
		return []string{"--store", "work/kennel.db", "session", "amend", "last", "--text", fmt.Sprintf("sit %d+", trials(i)), "--why", why(i)}
	}
	return &victim{
		name:  "session amend",
		ready: func(i int) []string { p.fresh("amended.db"); return args(i) },
		seen:  func(_ int, before string) string { return p.moment(before) },
		after: func(i int, acknowledged bool) {
			p.t.Helper()
			look := func(acknowledged bool) {
				p.t.Helper()
				p.sound("work/kennel.db")
				have, numbers, newest := map[string]int{}, map[int]bool{}, form{}
				for _, f := range p.content("work/kennel.db").forms {
					have[f.Why] = len(f.Trials)
					if numbers[f.Number] {
						p.t.Errorf("form %d is there twice", f.Number)
					}
					numbers[f.Number] = true
					if f.Number > newest.Number {
						newest = f
					}
				}
				if have[""] != 2 {
					p.t.Errorf("the first form has %d trials", have[""])
				}
				if n, ok := have[why(i)]; ok && (n != trials(i) || newest.Why != why(i)) || !ok && acknowledged {
					p.t.Errorf("the amendment has %d trials of %d, acknowledged: %v; the newest is %q", n, trials(i), acknowledged, newest.Why)
				}
				for w, n := range known {
					if have[w] != n {
						p.t.Errorf("%s was acknowledged with %d trials and has %d", w, n, have[w])
					}
				}
			}
			look(acknowledged)
			p.must(args(i)...)
			look(true)
			p.nothingLeft("kennel.db")
			known[why(i)] = trials(i)
			p.write("amended.db", p.read("work/kennel.db"))
		},
	}
}

// imported stores a spreadsheet, of more than a portion if it has a thousand
// sessions. Stopped between or in them it
// is finished by importing again, and then nobody can tell.
func (p *program) imported(sessions int) *victim {
	dogs := []string{"Quince", "Nettle", "Thistle"}
	text := hourlySheet(2023, sessions, dogs...)
	p.must("--store", "imported.db", "dog", "add", "Tarn", "--arrived", "2023-12-20")
	args := []string{"--store", "work/kennel.db", "import", "work/sheet.csv", "--yes", "--new"}
	exports := func() string {
		var all strings.Builder
		for _, d := range dogs {
			all.WriteString(p.must("--store", "work/kennel.db", "export", d))
		}
		return all.String()
	}
	want := ""
	return &victim{
		name: "import",
		ready: func(int) []string {
			p.fresh("imported.db")
			p.write("work/sheet.csv", text)
			return args
		},
		seen: func(_ int, before string) string {
			if m := p.moment(before); m != late {
				return m
			}
			// The first portion may be there and the second not.
			if n := len(p.content("work/kennel.db").forms); n < sessions {
				return inside
			}
			return late
		},
		after: func(i int, known bool) {
			p.t.Helper()
			p.sound("work/kennel.db")
			got := p.content("work/kennel.db")
			for _, f := range got.forms {
				if len(f.Trials) != sheetTrials {
					p.t.Errorf("half a session: %d trials of %d, %s", len(f.Trials), sheetTrials, f.Start)
				}
			}
			if n := len(got.forms); known && n != sessions {
				p.t.Errorf("%d sessions of %d that were acknowledged", n, sessions)
			}
			if i >= 0 { // else it was not killed: its exports are what others are held against
				p.must(args...)
				p.sound("work/kennel.db")
			}
			x := exports()
			if want == "" {
				if strings.Count(x, "\n") < sessions*sheetTrials {
					p.t.Fatalf("the export has %d lines", strings.Count(x, "\n"))
				}
				want = x
			}
			if x != want {
				p.t.Error("the import was finished by a second one, and the export differs from that of an import in one go")
			}
			if p.read("work/sheet.csv") != text {
				p.t.Error("the spreadsheet was changed")
			}
			p.nothingLeft("kennel.db", "sheet.csv")
		},
	}
}

// mergedFile and mergedBundle add what another laptop's store holds: all or nothing.
func (p *program) mergedFile(sessions int) *victim {
	return p.merged("merge of a store", "other.db", 2022, sessions)
}

func (p *program) mergedBundle(sessions int) *victim {
	return p.merged("merge of an exchange file", "other.jsonl", 2021, sessions)
}

func (p *program) merged(name, other string, year, sessions int) *victim {
	base, made := strings.TrimSuffix(other, filepath.Ext(other))+fmt.Sprint(year)+"-here.db", fmt.Sprint("there-", year, ".db")
	p.must("--store", base, "dog", "add", "Tarn", "--arrived", "2023-12-20")
	p.must("--store", base, "log", "--new", "--text", "dog: Tarn; handler: Ailsa\nstart: 2024-02-01 09:10; place: paddock; leash: off; distraction: 1\nsit 2+")
	p.write("there.csv", hourlySheet(year, sessions, "Tarn", "Gorse"))
	p.must("--store", made, "import", "there.csv", "--yes", "--new")
	if filepath.Ext(other) == ".db" {
		p.write(other, p.read(made))
	} else {
		p.must("--store", made, "store", "bundle", "-o", other)
	}
	given := p.read(other)
	args := []string{"--store", "work/kennel.db", "store", "merge", other}
	want, before := "", p.content(base).lines
	return &victim{
		name:  name,
		ready: func(int) []string { p.fresh(base); return args },
		seen:  func(_ int, before string) string { return p.moment(before) },
		after: func(i int, known bool) {
			p.t.Helper()
			p.sound("work/kennel.db")
			got := p.content("work/kennel.db")
			if n := len(got.forms) - 1; n != sessions && (n != 0 || known) {
				p.t.Errorf("%d sessions of %d; acknowledged: %v", n, sessions, known)
			}
			for _, f := range got.forms {
				if len(f.Trials) != sheetTrials && f.Start[:4] == fmt.Sprint(year) {
					p.t.Errorf("half a session: %d trials of %d, %s", len(f.Trials), sheetTrials, f.Start)
				}
			}
			p.must(args...)
			p.sound("work/kennel.db")
			got = p.content("work/kennel.db")
			if want == "" {
				want = got.lines
			}
			if got.lines != want {
				p.t.Error("the merge was repeated, and the store differs from that of a merge in one go")
			}
			if p.read(other) != given {
				p.t.Error("the other store was changed")
			}
			p.nothingLeft("kennel.db", "backups")
			// The copy to go back to has its name only when it is whole.
			copies, _ := filepath.Glob(p.path("work/backups/kennel.*.db"))
			if len(copies) == 0 || len(copies) > 3 {
				p.t.Errorf("copies before the merge: %q", copies)
			}
			for _, c := range copies {
				p.sound(c)
				if p.content(c).lines != before {
					p.t.Errorf("%s is not the store as it was before the merge", c)
				}
			}
		},
	}
}

// backedUp copies a store: a copy that has its name is whole.
func (p *program) backedUp() *victim {
	p.write("there.csv", hourlySheet(2020, 200, "Tarn", "Gorse"))
	p.must("--store", "copied.db", "import", "there.csv", "--yes", "--new")
	args := []string{"--store", "work/kennel.db", "store", "backup", "copies", "--keep", "3"}
	os.Mkdir(p.path("copies"), 0o700)
	want := p.content("copied.db").lines
	store := p.read("copied.db")
	copies := func() []string {
		list, _ := filepath.Glob(p.path("copies/kennel-*.db"))
		return list
	}
	parts := func() []string {
		list, _ := filepath.Glob(p.path("copies/.*"))
		return list
	}
	var had []string
	return &victim{
		name: "store backup",
		ready: func(int) []string {
			p.fresh("copied.db")
			had = copies()
			return args
		},
		seen: func(int, string) string {
			switch {
			case len(parts()) > 0:
				return inside
			case slices.Equal(copies(), had):
				return early
			}
			return late
		},
		after: func(i int, known bool) {
			p.t.Helper()
			fresh := 0
			for _, name := range copies() {
				p.sound(name)
				if !slices.Contains(had, name) {
					fresh++
					if p.content(name).lines != want {
						p.t.Errorf("%s does not hold what the store holds", name)
					}
				}
			}
			if known && fresh != 1 {
				p.t.Errorf("%d copies were made, and one was acknowledged", fresh)
			}
			if n := len(copies()); n < min(3, len(had)) || n > 4 {
				p.t.Errorf("%d copies, and three are to be kept", n)
			}
			// What was left lies in nobody's way, and a later copy takes it away.
			for _, name := range parts() {
				old := time.Now().Add(-48 * time.Hour)
				if err := os.Chtimes(name, old, old); err != nil {
					p.t.Fatal(err)
				}
			}
			name := strings.TrimSpace(p.must(args...))
			p.sound(name)
			if n := len(copies()); n > 3 {
				p.t.Errorf("%d copies, and three are to be kept", n)
			}
			if left := parts(); len(left) > 0 {
				p.t.Errorf("left behind: %v", left)
			}
			if p.read("work/kennel.db") != store {
				p.t.Error("the store was changed")
			}
			p.nothingLeft("kennel.db")
		},
	}
}

// restored puts a copy in the place of a store: at every moment one of the two is
// there, and what was there is kept.
func (p *program) restored() *victim {
	p.write("there.csv", hourlySheet(2019, 200, "Tarn", "Gorse"))
	p.must("--store", "now.db", "import", "there.csv", "--yes", "--new")
	p.write("there.csv", hourlySheet(2018, 150, "Tarn", "Gorse"))
	p.must("--store", "copy.db", "import", "there.csv", "--yes", "--new")
	now, given := p.content("now.db").lines, p.read("copy.db")
	copied := p.content("copy.db").lines
	args := []string{"--store", "work/kennel.db", "store", "restore", "copy.db", "--confirm"}
	names := func(pattern string) []string {
		list, _ := filepath.Glob(p.path(pattern))
		return list
	}
	left := func() []string { return append(names("work/.kennel*"), names("work/kennel.db.*")...) }
	return &victim{
		name:  "store restore",
		ready: func(int) []string { p.fresh("now.db"); return args },
		seen: func(_ int, before string) string {
			switch {
			case len(left()) > 0:
				return inside
			case filesIn(p.path("work")) == before:
				return early
			}
			return late
		},
		after: func(i int, known bool) {
			p.t.Helper()
			p.sound("work/kennel.db")
			is := p.content("work/kennel.db").lines
			if is != copied && (is != now || known) {
				p.t.Errorf("the store is neither what it was nor the copy; acknowledged: %v", known)
			}
			kept := names("work/kennel.replaced-*")
			if is == copied && len(kept) == 0 {
				p.t.Error("what was there is not kept")
			}
			for _, name := range kept {
				p.sound(name)
				if p.content(name).lines != now {
					p.t.Errorf("%s is not what was there", name)
				}
			}
			for _, name := range left() {
				old := time.Now().Add(-48 * time.Hour)
				if err := os.Chtimes(name, old, old); err != nil {
					p.t.Fatal(err)
				}
			}
			p.must(args...)
			if p.content("work/kennel.db").lines != copied || len(names("work/kennel.replaced-*")) <= len(kept) {
				p.t.Error("the second restore did not put the copy there and keep what was")
			}
			if x := left(); len(x) > 0 {
				p.t.Errorf("left behind: %v", x)
			}
			if p.read("copy.db") != given {
				p.t.Error("the copy was changed")
			}
		},
	}
}

// begun makes a store: the file, its tables and what every kennel starts with.
func (p *program) begun() *victim {
	args := []string{"--store", "work/kennel.db", "dog", "add", "Tarn", "--arrived", "2024-01-02"}
	return &victim{
		name:  "first command",
		ready: func(int) []string { p.fresh(""); return args },
		seen: func(_ int, before string) string {
			if info, err := os.Stat(p.path("work/kennel.db")); err == nil && info.Size() == 0 {
				return inside
			}
			return p.moment(before)
		},
		after: func(i int, known bool) {
			p.t.Helper()
			r := p.run(args...) // a dog that is there already is refused
			there := r.code == exitUsage && strings.Contains(r.stderr, "Tarn")
			if !there && (r.code != 0 || known) {
				p.t.Errorf("acknowledged: %v; the second time: exit %d\n%s%s", known, r.code, r.stdout, r.stderr)
			}
			p.sound("work/kennel.db")
			if n := strings.Count(p.content("work/kennel.db").said, "dog Tarn added\n"); n != 1 {
				p.t.Errorf("the dog was added %d times", n)
			}
			p.nothingLeft("kennel.db")
		},
	}
}

// The very first command, killed before it had written anything, leaves an empty
// file, or one and a journal that takes back the first write: both are no store
// yet, and the next command begins one.
func TestStoreBegunByAKilledCommand(t *testing.T) {
	journal := "\xd9\xd5\x05\xf9\x20\xa1\x63\xd7" + "\x00\x00\x00\x00" + "abcd" + "\x00\x00\x00\x00" + "\x00\x00\x02\x00" + "\x00\x00\x10\x00"
	for _, c := range []struct{ name, file, journal string }{
		{"an empty file", "", ""},
		{"a half-written file", strings.Repeat("SQLite format 3\x00", 512), journal + strings.Repeat("\x00", 512-len(journal))},
	} {
		s := newScript(t)
		write(t, filepath.Join(s.dir, "k.db"), []byte(c.file))
		if c.journal != "" {
			write(t, filepath.Join(s.dir, "k.db-journal"), []byte(c.journal))
		}
		if got := s.run("firstcue --store k.db dog list", nil); !strings.Contains(got, "there is no store at k.db, and --store names it") {
			t.Errorf("%s: %s", c.name, got)
		}
		if got := s.run("firstcue --store k.db dog add Tarn --arrived 2026-03-02", nil); got != "new store: k.db\nadded dog Tarn, arrived 2026-03-02\n" {
			t.Errorf("%s: %s", c.name, got)
		}
		if got := s.run("firstcue --store k.db store check", nil); !strings.Contains(got, "k.db: sound\n1 dog;") {
			t.Errorf("%s: %s", c.name, got)
		}
	}
	s := newScript(t)
	write(t, filepath.Join(s.dir, "letter.txt"), []byte("Dear Ailsa"))
	if got := s.run("firstcue --store letter.txt dog add Tarn", nil); !strings.Contains(got, "not a firstcue store") {
		t.Error(got)
	}
}
