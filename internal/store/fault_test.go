package store

import (
	"bufio"
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
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

	"firstcue/internal/training"
)

// The test binary starts itself again as another process: to be killed, or to
// write while this one reads.
func TestMain(m *testing.M) {
	if job := os.Getenv("FIRSTCUE_CHILD"); job != "" {
		if err := child(job, os.Getenv("FIRSTCUE_CHILD_STORE"), os.Getenv("FIRSTCUE_CHILD_SEED")); err != nil {
			fmt.Fprintln(os.Stderr, err)
			os.Exit(1)
		}
		os.Exit(0)
	}
	os.Exit(m.Run())
}

// child does one job over and over and prints what is done as it is done:
// whatever was printed must be there for ever.
func child(job, path, seed string) error {
	n, _ := strconv.Atoi(seed)
	random := rand.New(rand.NewPCG(uint64(n), 7))
	o := Options{Create: true, Writer: "child"}
	if job == "migrate" {
		steps, err := readMigrations()
		if err != nil {
			return err
		}
		o.steps = append(steps, slowMigration)
	}
	s, err := Open(ctx, path, o)
	if err != nil {
		return err
	}
	defer s.Close()
	fmt.Println("open")
	for i := 0; ; i++ {
		v := session("Pepper", 0, "+", "-", "+", "-", "+")
		v.Start = v.Start.Add(time.Duration(n*100_000+i) * time.Second)
		switch job {
		case "log", "writer":
			res, err := s.LogNote(ctx, LogRequest{Sessions: []training.Session{v}, Text: []byte(v.Note)})
			if err != nil {
				return err
			}
			fmt.Println("log", res.Sessions[0].Session.ID, 1)
			if job == "writer" && i+1 == bounded("FIRSTCUE_CHILD_SESSIONS", 1) {
				return nil
			}
		case "amend":
			list, err := s.Sessions(ctx, Filter{Limit: 5})
			if err != nil {
				return err
			}
			v = list[random.IntN(len(list))]
			v.Weather = fmt.Sprint("weather ", n, i)
			now, err := s.Amend(ctx, v.ID, v, "again")
			if err != nil {
				return err
			}
			fmt.Println("amend", now.ID, now.Revision)
		case "import":
			res, err := s.BulkAdd(ctx, func(yield func(training.Session, error) bool) {
				for j := range 3000 {
					v := v
					v.Start = v.Start.Add(time.Duration(j) * time.Second)
					if !yield(v, nil) {
						return
					}
				}
			}, BulkOptions{})
			if err != nil {
				return err
			}
			n++
			fmt.Println("import", res.Batch, 1)
		case "merge":
			f, err := os.Open(path + ".bundle")
			if err != nil {
				return err
			}
			res, err := s.MergeBundle(ctx, f)
			if err != nil {
				return err
			}
			fmt.Println("merged", res.Sessions, 0)
			return nil
		case "backup":
			made, err := s.Backup(ctx, filepath.Join(filepath.Dir(path), "copies"), 3)
			if err != nil {
				return err
			}
			fmt.Println("backup", made.Path, 0)
		case "migrate":
			fmt.Println("migrated", 2, 0)
			return nil
		case "reader":
			if _, err := s.Record(ctx, "Pepper", 0); err != nil {
				return err
			}
			list, err := s.Sessions(ctx, Filter{})
			if err != nil {
				return err
			}
			for _, v := range list {
				if len(v.Trials) != 5 {
					return fmt.Errorf("half a session: %d trials of 5", len(v.Trials))
				}
			}
			fmt.Println("read", len(list), 0)
			if _, err := os.Stat(path + ".stop"); err == nil {
				return nil
			}
			time.Sleep(5 * time.Millisecond)
		default:
			return fmt.Errorf("no job %q", job)
		}
	}
}

// slowMigration takes long enough to be killed in.
const slowMigration = `CREATE TABLE extra (n INTEGER PRIMARY KEY, text TEXT NOT NULL) STRICT;
WITH RECURSIVE c (n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM c WHERE n < 200000) INSERT INTO extra SELECT n, hex(n * 1000003) FROM c;
CREATE INDEX extra_text ON extra (text);`

func start(t testing.TB, job, path string, seed int, env ...string) (*exec.Cmd, *bufio.Scanner, *bytes.Buffer) {
	t.Helper()
	c := exec.Command(os.Args[0])
	c.Env = append(append(os.Environ(), "FIRSTCUE_CHILD="+job, "FIRSTCUE_CHILD_STORE="+path, "FIRSTCUE_CHILD_SEED="+strconv.Itoa(seed)), env...)
	var stderr bytes.Buffer
	c.Stderr = &stderr
	out, err := c.StdoutPipe()
	if err != nil {
		t.Fatal(err)
	}
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	return c, bufio.NewScanner(out), &stderr
}

// Killed at a random moment, the store is sound and holds all that was
// acknowledged, whole. FIRSTCUE_TORTURE sets the number of kills.
func TestKilled(t *testing.T) {
	kills := bounded("FIRSTCUE_TORTURE", 14)
	path := ""
	jobs := []string{"log", "amend", "import", "merge", "backup", "log", "migrate"}
	acknowledged, sum := map[string]int{}, 0
	hit := map[string]int{}
	for i := range kills {
		// Now and then another kennel: all of it is read after every kill, and each
		// import makes it larger.
		if i%28 == 0 {
			soundCopies(t, path)
			sum += len(acknowledged)
			clear(acknowledged)
			path = filepath.Join(t.TempDir(), "kennel.db")
			s := openAt(t, path, "laptop")
			furnish(t, s)
			add(t, s, session("Pepper", -1, "+", "-", "+", "-", "+"))
			s.Close()
			os.Mkdir(filepath.Join(filepath.Dir(path), "copies"), 0o700)
		}
		job, at := jobs[i%len(jobs)], path
		switch job {
		case "merge":
			other := openAt(t, filepath.Join(t.TempDir(), "other.db"), "other")
			furnish(t, other)
			var list []training.Session
			for j := range 800 {
				v := session("Quill", 0, "+", "-", "+", "-", "+")
				v.Start = v.Start.Add(time.Duration(i*1000+j) * time.Second)
				list = append(list, v)
			}
			add(t, other, list...)
			if err := os.WriteFile(path+".bundle", bundleOf(t, other), 0o600); err != nil {
				t.Fatal(err)
			}
		case "migrate":
			at = filepath.Join(t.TempDir(), "old.db")
			copyBytes(t, path, at)
		}
		before := countSessions(t, at)
		// One kill, at a moment between the first breath and two tenths on.
		c, out, stderr := start(t, job, at, i+1)
		// In a migration the child says nothing until it is over.
		wait := time.Duration(rand.IntN(200_000)) * time.Microsecond
		timer := time.AfterFunc(wait+30*time.Millisecond, func() { c.Process.Kill() })
		merged := ""
		for out.Scan() {
			f := strings.Fields(out.Text())
			if len(f) != 3 {
				continue
			}
			hit[job]++
			switch f[0] {
			case "log", "amend":
				n, _ := strconv.Atoi(f[2])
				acknowledged[f[1]] = n
			case "backup":
				if h, err := Check(ctx, f[1]); err != nil && !errors.Is(err, ErrNotFound) || err == nil && !h.Sound {
					t.Fatalf("the copy %s: %+v %v", f[1], h, err)
				}
			case "merged":
				merged = f[1]
			}
		}
		err := c.Wait()
		timer.Stop()
		if e := new(exec.ExitError); err != nil && (!errors.As(err, &e) || e.Sys().(syscall.WaitStatus).Signal() != syscall.SIGKILL) {
			t.Fatalf("%s: %v\n%s", job, err, stderr)
		}
		if job == "migrate" {
			steps, _ := readMigrations()
			m, err := Open(ctx, at, Options{steps: append(steps, slowMigration)})
			if err != nil {
				t.Fatalf("after a migration was killed: %v", err)
			}
			if n := len(must2(m.Sessions(ctx, Filter{IncludeVoided: true}))); n != before {
				t.Fatalf("%d sessions, %d before the migration", n, before)
			}
			m.Close()
			continue
		}
		h, err := Check(ctx, path)
		if err != nil || !h.Sound {
			t.Fatalf("kill %d, %s after %v: %+v %v", i, job, wait, h, err)
		}
		s := openAt(t, path, "laptop")
		have := map[string]training.Session{}
		for _, v := range must2(s.Sessions(ctx, Filter{})) {
			if len(v.Trials) != 5 {
				t.Fatalf("kill %d, %s: half a session: %+v", i, job, v)
			}
			have[v.ID] = v
		}
		for id, n := range acknowledged {
			if have[id].Revision < n {
				t.Fatalf("kill %d, %s after %v: session %s was acknowledged with revision %d and has %d", i, job, wait, id, n, have[id].Revision)
			}
		}
		if n := len(have) - before; job == "merge" && (merged != "" && n != 800 || merged == "" && n != 0 && n != 800) {
			t.Fatalf("a merge of 800 sessions left %d", n)
		}
		s.Close()
	}
	soundCopies(t, path)
	t.Logf("%d kills, %d acknowledged sessions; done before the kill: %v", kills, sum+len(acknowledged), hit)
}

// soundCopies looks at the copies beside a store. Those that were being made when
// a kill came have only temporary names: there is never a half file under a good
// one.
func soundCopies(t testing.TB, path string) {
	t.Helper()
	list, _ := filepath.Glob(filepath.Join(filepath.Dir(path), "copies", "kennel-*.db"))
	for _, name := range list {
		if h, err := Check(ctx, name); err != nil || !h.Sound {
			t.Errorf("%s: %+v %v", name, h, err)
		}
	}
}

func countSessions(t testing.TB, path string) int {
	s, err := Open(ctx, path, Options{ReadOnly: true})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	return len(must2(s.Sessions(ctx, Filter{IncludeVoided: true})))
}

func copyBytes(t testing.TB, from, to string) {
	t.Helper()
	b, err := os.ReadFile(from)
	if err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(to, b, 0o600); err != nil {
		t.Fatal(err)
	}
}

// Writers and a reader of other processes at once: nothing is lost, nobody is
// told "locked", nobody reads half. FIRSTCUE_WRITERS and FIRSTCUE_SESSIONS set
// the size; 7 and 2000 is the full measure.
func TestTogether(t *testing.T) {
	writers, each := bounded("FIRSTCUE_WRITERS", 2), bounded("FIRSTCUE_SESSIONS", 40)
	each = (each + writers - 1) / writers
	path := filepath.Join(t.TempDir(), "kennel.db")
	s := openAt(t, path, "laptop")
	furnish(t, s)
	s.Close()
	var wg sync.WaitGroup
	began := time.Now()
	reads := 0
	reader, out, rerr := start(t, "reader", path, 0)
	done := make(chan error, 1)
	go func() {
		for out.Scan() {
			if strings.HasPrefix(out.Text(), "read ") {
				reads++
			}
		}
		done <- reader.Wait()
	}()
	ids := make(chan string, writers*each)
	for w := range writers {
		wg.Go(func() {
			c, out, stderr := start(t, "writer", path, w+1, "FIRSTCUE_CHILD_SESSIONS="+strconv.Itoa(each))
			for out.Scan() {
				if f := strings.Fields(out.Text()); len(f) == 3 {
					ids <- f[1]
				}
			}
			if err := c.Wait(); err != nil {
				t.Errorf("writer %d: %v\n%s", w, err, stderr)
			}
		})
	}
	wg.Wait()
	os.WriteFile(path+".stop", nil, 0o600)
	if err := <-done; err != nil {
		t.Errorf("reader: %v\n%s", err, rerr)
	}
	close(ids)
	s = openAt(t, path, "laptop")
	have := map[string]bool{}
	for _, v := range must2(s.Sessions(ctx, Filter{})) {
		have[v.ID] = true
	}
	n := 0
	for id := range ids {
		n++
		if !have[id] {
			t.Errorf("session %s was acknowledged and is lost", id)
		}
	}
	if n != writers*each || len(have) != n || reads == 0 {
		t.Errorf("%d acknowledged, %d stored, want %d; %d reads", n, len(have), writers*each, reads)
	}
	if err := integrity(ctx, path); err != nil {
		t.Error(err)
	}
	t.Logf("%d writers, %d sessions, %d whole reads in %v", writers, n, reads, time.Since(began).Round(time.Millisecond))
}

// Somebody who really holds the lock too long is named, and the wait ends when
// the command is called off.
func TestLocked(t *testing.T) {
	s := open(t, "laptop")
	furnish(t, s)
	other, err := Open(ctx, s.path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer other.Close()
	if _, err := s.conn.ExecContext(ctx, "BEGIN IMMEDIATE"); err != nil {
		t.Fatal(err)
	}
	c, cancel := context.WithTimeout(ctx, 200*time.Millisecond)
	defer cancel()
	if _, err := other.AddIncident(c, "Pepper", noonDay(), "x"); !errors.Is(err, context.DeadlineExceeded) {
		t.Errorf("%v", err)
	}
	if _, err := other.Record(ctx, "Pepper", 0); err != nil {
		t.Errorf("a reader is stopped by a writer: %v", err)
	}
	other.patience = 20 * time.Millisecond
	if _, err := other.AddIncident(ctx, "Pepper", noonDay(), "x"); !errors.Is(err, ErrLocked) || !strings.Contains(err.Error(), s.path) {
		t.Errorf("%v", err)
	}
	s.conn.ExecContext(ctx, "ROLLBACK")
	if _, err := other.AddIncident(ctx, "Pepper", noonDay(), "x"); err != nil {
		t.Error(err)
	}
}

// A full disk: nothing of the note is stored, all before it is, and the message
// says what to do.
func TestDiskFull(t *testing.T) {
	if os.Getuid() != 0 {
		t.Skip("SKIPPED: a small file system can only be mounted by root")
	}
	dir := t.TempDir()
	if out, err := exec.Command("mount", "-t", "tmpfs", "-o", "size=1500k", "tmpfs", dir).CombinedOutput(); err != nil {
		t.Skipf("SKIPPED: no small file system can be mounted here: %v %s", err, out)
	}
	defer exec.Command("umount", dir).Run()
	s := openAt(t, filepath.Join(dir, "kennel.db"), "laptop")
	defer s.Close()
	furnish(t, s)
	stored := 0
	var err error
	for i := 0; i < 10_000; i++ {
		v := session("Pepper", i, "+", "-", "+")
		v.Note = strings.Repeat("a long note\n", 500)
		if _, err = s.LogNote(ctx, LogRequest{Sessions: []training.Session{v}}); err != nil {
			break
		}
		stored++
	}
	if !errors.Is(err, ErrFull) || !strings.Contains(err.Error(), "disk is full") || !strings.Contains(err.Error(), dir) {
		t.Fatalf("after %d sessions: %v", stored, err)
	}
	if _, err := s.Backup(ctx, filepath.Join(dir, "copy.db"), 0); !errors.Is(err, ErrFull) {
		t.Errorf("a copy on a full disk: %v", err)
	}
	if _, err := Salvage(ctx, s.path, filepath.Join(dir, "saved.db")); !errors.Is(err, ErrFull) || exists(filepath.Join(dir, "saved.db")) {
		t.Errorf("what is whole can't be saved on a full disk: %v, and a file is left: %v", err, exists(filepath.Join(dir, "saved.db")))
	}
	if list, _ := filepath.Glob(filepath.Join(dir, ".*part*")); len(list) > 0 {
		t.Errorf("left behind: %v", list)
	}
	if n := len(must2(s.Sessions(ctx, Filter{}))); n != stored || stored == 0 {
		t.Errorf("%d sessions, %d acknowledged", n, stored)
	}
	if h, err := Check(ctx, s.path); err != nil || !h.Sound {
		t.Errorf("%+v %v", h, err)
	}
}

func damaged(t *testing.T) (path string, size int64) {
	path = filepath.Join(t.TempDir(), "kennel.db")
	s := openAt(t, path, "laptop")
	furnish(t, s)
	for i := range 60 {
		v := session([]string{"Pepper", "Quill"}[i%2], i, "+", "-", "+", "+", "-", "+")
		v.Note = strings.Repeat(fmt.Sprint("note ", i, "\n"), 20)
		add(t, s, v)
	}
	s.Close()
	info, _ := os.Stat(path)
	return path, info.Size()
}

// unnamed is what a session says without the names of the lists.
func unnamed(v training.Session) string {
	v.Dog, v.Handler, v.Place = "", "", ""
	for i := range v.Trials {
		v.Trials[i].Cue = ""
	}
	return fmt.Sprintf("%+v", v)
}

// A file cut short or with flipped bits: never a wrong answer from Check, never
// a crash, never a changed file; what is whole is saved, what is saved is true.
func TestDamage(t *testing.T) {
	whole, size := damaged(t)
	good, _ := os.ReadFile(whole)
	truth := map[string]string{}
	s := openAt(t, whole, "laptop")
	for _, v := range must2(s.Sessions(ctx, Filter{IncludeVoided: true})) {
		truth[v.ID] = unnamed(v)
	}
	s.Close()
	random := rand.New(rand.NewPCG(3, 4))
	saved, hurt := 0, 0
	for i := range bounded("FIRSTCUE_DAMAGE", 16) {
		b := bytes.Clone(good)
		what := ""
		switch i % 4 {
		case 0:
			n := random.Int64N(size)
			b, what = b[:n], fmt.Sprintf("cut at %d", n)
		case 1:
			at := random.IntN(len(b))
			b[at] ^= 1 << random.IntN(8)
			what = fmt.Sprintf("a bit at %d", at)
		case 2:
			page := 1 + random.IntN(len(b)/4096-1)
			clear(b[page*4096 : (page+1)*4096])
			what = fmt.Sprintf("page %d empty", page)
		case 3:
			page := random.IntN(len(b) / 4096)
			for j := range 512 {
				b[page*4096+j*8] = byte(random.Uint32())
			}
			what = fmt.Sprintf("page %d noise", page)
		}
		path := filepath.Join(t.TempDir(), "hurt.db")
		if err := os.WriteFile(path, b, 0o600); err != nil {
			t.Fatal(err)
		}
		h, err := Check(ctx, path)
		if err == nil && h.Sound && h.Sessions != len(truth) {
			t.Errorf("%s: sound with %d sessions of %d", what, h.Sessions, len(truth))
		}
		if err != nil && !errors.Is(err, ErrDamaged) && !errors.Is(err, ErrNotStore) && !errors.Is(err, ErrNewer) {
			t.Errorf("%s: %v", what, err)
		}
		if err != nil && !strings.Contains(err.Error(), path) {
			t.Errorf("%s: %v does not name the file", what, err)
		}
		if err != nil || !h.Sound {
			hurt++
		}
		to := filepath.Join(t.TempDir(), "saved.db")
		if got, err := Salvage(ctx, path, to); err == nil {
			if !got.Sound {
				t.Errorf("%s: what was saved is not sound: %v", what, got.Problems)
			}
			s := openAt(t, to, "")
			for _, v := range must2(s.Sessions(ctx, Filter{IncludeVoided: true})) {
				saved++
				// A name may be lost with its entry; what was said may not change.
				if unnamed(v) != truth[v.ID] {
					t.Errorf("%s: session %s came out differently", what, v.ID)
				}
			}
			s.Close()
			if h.Sound && got.Sessions != h.Sessions {
				t.Errorf("%s: %d sessions saved, Check promised %d", what, got.Sessions, h.Sessions)
			}
		} else if exists(to) {
			t.Errorf("%s: half a file is left", what)
		}
		if after, _ := os.ReadFile(path); !bytes.Equal(after, b) {
			t.Errorf("%s: the damaged file was changed", what)
		}
		if i%4 == 0 {
			// Good enough to be put right: the copy takes its place at once.
			kept, err := Restore(ctx, whole, path, false)
			if err != nil {
				t.Errorf("%s: %v", what, err)
				continue
			}
			if after, _ := os.ReadFile(kept); kept != "" && !bytes.Equal(after, b) {
				t.Errorf("%s: the damaged file was not kept", what)
			}
			if h, err := Check(ctx, path); err != nil || !h.Sound || h.Sessions != len(truth) {
				t.Errorf("%s: restored: %+v %v", what, h, err)
			}
		}
	}
	if hurt == 0 || saved == 0 {
		t.Errorf("%d damaged files noticed, %d sessions saved", hurt, saved)
	}
	t.Logf("%d damaged files, %d sessions saved", hurt, saved)
}

// A word of a note altered on the disk leaves a sound database; only the hash
// of the session tells.
func TestAlteredSessionIsFound(t *testing.T) {
	path, _ := damaged(t)
	b, _ := os.ReadFile(path)
	at := bytes.Index(b, []byte(`note 31\n`))
	if at < 0 {
		t.Fatal("the note is not in the file as it was written")
	}
	poke(t, path, int64(at), 'N')
	if err := integrity(ctx, path); err != nil {
		t.Fatal(err)
	}
	h, err := Check(ctx, path)
	if err != nil || h.Sound || h.Lost != 1 || h.Sessions != 59 {
		t.Errorf("%+v %v", h, err)
	}
	if len(h.Altered) != 1 || h.Altered[0].Dog == "" || h.Altered[0].Start == "" || !slices.Contains(h.Problems, "1 revision of a session can't be read or was altered") {
		t.Fatalf("%+v", h)
	}
	s := must2(Open(ctx, path, Options{ReadOnly: true}))
	if v, err := s.Session(ctx, h.Altered[0].ID); !errors.Is(err, ErrDamaged) {
		t.Errorf("the altered session was shown: %+v %v", v, err)
	}
	if r, err := s.Record(ctx, h.Altered[0].Dog, 0); !errors.Is(err, ErrDamaged) {
		t.Errorf("the dog was shown: %d sessions, %v", len(r.Sessions), err)
	}
	s.Close()
	got, err := Salvage(ctx, path, filepath.Join(t.TempDir(), "saved.db"))
	if err != nil || !got.Sound || got.Sessions != 59 {
		t.Errorf("%+v %v", got, err)
	}
}

// A byte of a kept note altered on the disk, and of a change of the lists: each is
// named, with what can still be trusted; what is saved leaves it out, and a merge
// with a copy brings the note back.
func TestAlteredTextIsFound(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "kennel.db")
	s := openAt(t, path, "laptop")
	furnish(t, s)
	const first, second = "dog: Pepper\nsit + - of the morning\n", "dog: Pepper\nsit + - of the evening\n"
	one := must2(s.LogNote(ctx, LogRequest{Sessions: []training.Session{session("Pepper", 0, "+", "-"), session("Quill", 0, "+")}, Text: []byte(first), Name: "morning.txt"}))
	must2(s.LogNote(ctx, LogRequest{Sessions: []training.Session{session("Pepper", 1, "+", "-")}, Text: []byte(second), Name: "evening.txt"}))
	good := must2(s.Backup(ctx, filepath.Join(dir, "copy.db"), 0)).Path
	s.Close()
	b, _ := os.ReadFile(path)
	at := bytes.Index(b, []byte("of the morning"))
	if at < 0 {
		t.Fatal("the note is not in the file as it came in")
	}
	pokeAll(t, path, "of the morning", 'O')
	if err := integrity(ctx, path); err != nil {
		t.Fatal(err)
	}
	h, err := Check(ctx, path)
	if err != nil || h.Sound || h.Lost != 0 || len(h.Altered) != 0 || h.Sessions != 3 || len(h.Texts) != 1 || !slices.Contains(h.Problems, "1 text kept as it came in can't be read or was altered") {
		t.Fatalf("%+v %v", h, err)
	}
	x := h.Texts[0]
	if x.Name != "morning.txt" || x.Kind != "log" || x.Batch != one.Batch || !x.Trusted || len(x.Sessions) != 2 || x.Sessions[0].Start == "" || x.Sessions[0].Dog+x.Sessions[1].Dog != "PepperQuill" && x.Sessions[0].Dog+x.Sessions[1].Dog != "QuillPepper" {
		t.Errorf("%+v", x)
	}
	if _, err := Restore(ctx, path, filepath.Join(dir, "else.db"), false); !errors.Is(err, ErrDamaged) {
		t.Errorf("restored from it: %v", err)
	}
	to := filepath.Join(dir, "saved.db")
	if got, err := Salvage(ctx, path, to); err != nil || !got.Sound || got.Sessions != 3 || got.Trials != h.Trials {
		t.Fatalf("%+v %v", got, err)
	}
	texts := func(s *Store) (out []string) {
		for _, b := range must2(s.Batches(ctx, 0)) {
			if b.Source != "" {
				out = append(out, string(must2(s.Source(ctx, b.Source))))
			}
		}
		return out
	}
	m := openAt(t, to, "")
	if got := texts(m); !slices.Equal(got, []string{second}) {
		t.Errorf("saved: %q", got)
	}
	must2(m.MergeFile(ctx, good))
	if got := texts(m); !slices.Equal(got, []string{second, first}) && !slices.Equal(got, []string{first, second}) {
		t.Errorf("merged with a copy: %q", got)
	}
	m.Close()
	if h, err := Check(ctx, to); err != nil || !h.Sound {
		t.Errorf("%+v %v", h, err)
	}

	// A session of it is altered too: then not all of it can be trusted.
	b, _ = os.ReadFile(path)
	at = bytes.Index(b, []byte(strings.ReplaceAll(session("Quill", 0, "+").Note, "\n", `\n`)))
	if at < 0 {
		t.Fatal("the session's own lines are not in the file")
	}
	pokeAll(t, path, strings.ReplaceAll(session("Quill", 0, "+").Note, "\n", `\n`), '#')
	if h, err := Check(ctx, path); err != nil || len(h.Altered) != 1 || len(h.Texts) != 1 || h.Texts[0].Trusted {
		t.Errorf("%+v %v", h, err)
	}
	// And a change of the lists.
	copyBytes(t, good, path)
	b, _ = os.ReadFile(path)
	at = bytes.Index(b, []byte("dog Quill added"))
	if at < 0 {
		t.Fatal("the change is not in the file")
	}
	pokeAll(t, path, "dog Quill added", 'D')
	if h, err := Check(ctx, path); err != nil || h.Sound || len(h.Problems) != 1 || h.Problems[0] != "a change of the lists was altered; it says now: Dog Quill added" {
		t.Errorf("%+v %v", h, err)
	}
}

func TestBackupAndRestore(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "kennel.db")
	s := openAt(t, path, "laptop")
	furnish(t, s)
	add(t, s, session("Pepper", 0, "+"))
	copies := filepath.Join(dir, "copies")
	os.Mkdir(copies, 0o700)
	os.WriteFile(filepath.Join(copies, "kennel-mine.db"), []byte("not ours"), 0o600)
	var names []string
	for range 5 {
		names = append(names, must2(s.Backup(ctx, copies, 3)).Path)
	}
	for i, n := range names {
		if exists(n) != (i >= 2) {
			t.Errorf("%s: there is %v; the newest three stay", n, exists(n))
		}
	}
	if !exists(filepath.Join(copies, "kennel-mine.db")) {
		t.Error("somebody else's file was removed")
	}
	if _, err := s.Backup(ctx, path, 0); !errors.Is(err, ErrExists) {
		t.Errorf("over the store: %v", err)
	}
	add(t, s, session("Pepper", 1, "+"))
	if _, err := Restore(ctx, names[4], path, false); !errors.Is(err, ErrExists) || !strings.Contains(err.Error(), "--confirm") {
		t.Errorf("over a sound store: %v", err)
	}
	if n := countSessions(t, path); n != 2 {
		t.Fatalf("%d sessions after a restore that was refused", n)
	}
	kept, err := Restore(ctx, names[4], path, true)
	if err != nil || kept == "" {
		t.Fatal(kept, err)
	}
	// A command that has the old file open may not write into what was put away.
	if _, err := s.LogNote(ctx, LogRequest{Sessions: []training.Session{session("Pepper", 2, "+")}}); err == nil {
		t.Error("a session went into the file that was put away")
	} else {
		t.Log(err)
	}
	if a, b := countSessions(t, path), countSessions(t, kept); a != 1 || b != 2 {
		t.Errorf("%d sessions restored, %d in the file that was put away", a, b)
	}
	fresh := filepath.Join(dir, "new folder", "store.db")
	if kept, err := Restore(ctx, names[4], fresh, false); err != nil || kept != "" || countSessions(t, fresh) != 1 {
		t.Errorf("to a new place: %q %v", kept, err)
	}
	if _, err := Restore(ctx, path, path, true); !errors.Is(err, ErrInvalid) {
		t.Errorf("over itself: %v", err)
	}
	text := filepath.Join(dir, "letter.txt")
	os.WriteFile(text, []byte("Dear Ada"), 0o600)
	if _, err := Restore(ctx, names[4], text, false); !errors.Is(err, ErrExists) {
		t.Errorf("over a letter: %v", err)
	}
	if _, err := Restore(ctx, text, path, true); !errors.Is(err, ErrNotStore) {
		t.Errorf("from a letter: %v", err)
	}
}

// While a copy takes the place of a store there is one of the two at every moment,
// so that nobody who looks, or begins again after a power cut, finds none.
func TestRestoreLeavesNoGap(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "kennel.db")
	s := openAt(t, path, "laptop")
	furnish(t, s)
	copied := must2(s.Backup(ctx, filepath.Join(dir, "copy.db"), 0)).Path
	s.Close()
	stop, gone := make(chan struct{}), make(chan int)
	go func() {
		n := 0
		for {
			select {
			case <-stop:
				gone <- n
				return
			default:
				if !exists(path) {
					n++
				}
			}
		}
	}()
	for range 20 {
		if _, err := Restore(ctx, copied, path, true); err != nil {
			t.Error(err)
		}
	}
	close(stop)
	if n := <-gone; n > 0 {
		t.Errorf("there was no store %d times", n)
	}
}

// A journal left by a killed writer belongs to its file and to no other.
func TestJournalGoesWithItsFile(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "kennel.db")
	s := openAt(t, path, "laptop")
	furnish(t, s)
	add(t, s, session("Pepper", 0, "+"))
	copied := must2(s.Backup(ctx, filepath.Join(dir, "copy.db"), 0)).Path
	s.Close()
	os.WriteFile(path+"-journal", []byte("something"), 0o600)
	os.WriteFile(path, []byte("broken"), 0o600)
	if _, err := Restore(ctx, copied, path, true); err != nil {
		t.Fatal(err)
	}
	if exists(path+"-journal") || countSessions(t, path) != 1 {
		t.Error("the old journal lies beside the restored store")
	}
}

// The store of the first release opens in this version and reads as it was
// written. testdata/databases holds one for every released schema; the test
// writes a missing one anew only when FIRSTCUE_WRITE_DATABASES is set.
func TestReleasedStores(t *testing.T) {
	const dir = "../../testdata/databases"
	v1 := filepath.Join(dir, "v1.db")
	if os.Getenv("FIRSTCUE_WRITE_DATABASES") != "" && !exists(v1) {
		tmp := filepath.Join(t.TempDir(), "v1.db")
		s := openAt(t, tmp, "first release")
		furnish(t, s)
		must2(s.SetBoarding(ctx, "Pepper", training.Boarding{Arrived: noonDay() - 2, Due: noonDay() + 19, Wishes: "comes when called"}))
		must2(s.SetHold(ctx, "Pepper", training.VetHold{From: noonDay() + 3, To: noonDay() + 4, Reason: "cut pad", Cues: []string{"heel"}}))
		must2(s.LogNote(ctx, LogRequest{Sessions: []training.Session{session("Pepper", 0, "+", "-", "+")}, Text: []byte("dog: Pepper\nsit + - +\n"), Name: "day.txt"}))
		rich := session("Quill", 2, "+", "-")
		rich.Remarks = []training.Remark{{Text: "hid behind Tove", Incident: true, Line: 3}}
		rich.Trials[1].Prompts = []string{"lure"}
		id := must2(s.LogNote(ctx, LogRequest{Sessions: []training.Session{rich}})).Sessions[0].Session.ID
		rich.Trials[0].Latency = training.Known(1.5)
		rich.Trials[1].Corrections = []training.Correction{{Kind: training.ByVoice, Served: true}}
		must2(s.Amend(ctx, id, rich, "latency from the video"))
		add(t, s, session("Pepper", 5, "x"))
		must2(s.Void(ctx, add(t, s, session("Quill", 6, "+")).Sessions[0].Session.ID, "was another dog"))
		if err := s.SetSetting(ctx, training.Setting{Cue: "come", Name: "bar", Value: 0.95}); err != nil {
			t.Fatal(err)
		}
		s.Close()
		os.MkdirAll(dir, 0o755)
		copyBytes(t, tmp, v1)
	}
	path := filepath.Join(t.TempDir(), "v1.db")
	copyBytes(t, v1, path)
	s, err := Open(ctx, path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	if h, err := Check(ctx, path); err != nil || !h.Sound || h.Sessions != 4 || h.Revisions != 6 || h.Trials != 6 || h.Standing != 3 || h.Dogs != 2 || h.Writer != "first release" {
		t.Errorf("%+v %v", h, err)
	}
	r := must2(s.Record(ctx, "Pepper", 0))
	if len(r.Sessions) != 2 || !same(r.Sessions[0], session("Pepper", 0, "+", "-", "+")) || len(r.Dog.Boardings) != 1 || len(r.Dog.Holds) != 1 || r.Dog.Owners[0] != "Ada Finch" {
		t.Errorf("%+v", r)
	}
	q := must2(s.Record(ctx, "Quill", 0))
	if len(q.Sessions) != 2 || q.Sessions[0].Revision != 2 || q.Sessions[0].Trials[0].Latency != training.Known(1.5) || q.Sessions[1].Voided != "was another dog" || len(q.Incidents) != 1 || !q.Dog.RewardOnly {
		t.Errorf("%+v", q)
	}
	if _, err := s.Undo(ctx); err != nil {
		t.Error(err)
	}
	var b bytes.Buffer
	if err := s.WriteBundle(ctx, io.MultiWriter(&b)); err != nil || b.Len() == 0 {
		t.Error(err)
	}
}

// An exchange file of the first release brings what the store of that release
// holds that it was written from.
func TestReleasedBundle(t *testing.T) {
	path := filepath.Join(t.TempDir(), "v1.db")
	copyBytes(t, "../../testdata/databases/v1.db", path)
	s, err := Open(ctx, path, Options{})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	f := must2(os.Open("../../testdata/databases/v1.jsonl"))
	defer f.Close()
	other := open(t, "laptop")
	if got := must2(other.MergeBundle(ctx, f)); got.Sessions != 4 || got.Revisions != 6 {
		t.Errorf("%+v", got)
	}
	// The new store has the cues that it began with besides, in this release's words.
	has := body(bundleOf(t, other))
	for _, line := range strings.Split(strings.TrimSpace(body(bundleOf(t, s))), "\n") {
		if !strings.Contains(has, line+"\n") {
			t.Errorf("the exchange file lacks %s", line)
		}
	}
	sound(t, other)
}

// A value changed in a table that is worked out leaves every hash as it is. Check
// finds it all the same, and Rebuild puts it right.
func TestStaleTables(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "kennel.db")
	s := openAt(t, path, "laptop")
	furnish(t, s)
	add(t, s, session("Pepper", 0, "+", "-"), session("Quill", 1, "+"))
	must2(s.SetBoarding(ctx, "Pepper", training.Boarding{Arrived: noonDay() - 2, Due: noonDay() + 19}))
	before := body(bundleOf(t, s))
	s.Close()
	for table, q := range map[string]string{
		"boarding": "UPDATE boarding SET due = due + 13000",
		"session":  "UPDATE session SET standing = 0 WHERE n = 1",
		"name":     "UPDATE name SET gone = 1 WHERE kind = 'place'",
		"revision": "UPDATE revision SET content = 'x'",
		"alias":    "DELETE FROM alias",
		"change":   "DELETE FROM change WHERE kind = 'boarding'",
	} {
		db := must2(openFile(path, "rw"))
		if _, err := db.Exec(q); err != nil {
			t.Fatal(q, err)
		}
		db.Close()
		h, err := Check(ctx, path)
		if want := "the table " + table + " does not say what the documents say; firstcue store rebuild works it out anew"; err != nil || h.Sound || !slices.Contains(h.Problems, want) {
			t.Errorf("%s: %v %v", q, h.Problems, err)
		}
		s := must2(Open(ctx, path, Options{}))
		if err := s.Rebuild(ctx); err != nil {
			t.Fatal(q, err)
		}
		sound(t, s)
		if body(bundleOf(t, s)) != before {
			t.Errorf("%s: the documents changed", q)
		}
		s.Close()
	}
}

// A trigger that somebody put into the file is named, and no command goes on.
func TestForeignTrigger(t *testing.T) {
	path := filepath.Join(t.TempDir(), "kennel.db")
	openAt(t, path, "laptop").Close()
	db := must2(openFile(path, "rw"))
	if _, err := db.Exec("CREATE TRIGGER planted AFTER INSERT ON noted BEGIN INSERT INTO closing VALUES (NEW.incident, 1, 'x'); END"); err != nil {
		t.Fatal(err)
	}
	db.Close()
	if _, err := Open(ctx, path, Options{}); !errors.Is(err, ErrDamaged) || !strings.Contains(err.Error(), "trigger planted") {
		t.Errorf("opened: %v", err)
	}
	if h, err := Check(ctx, path); err != nil || h.Sound || !slices.Contains(h.Problems, "the trigger planted was put into the store by somebody else") {
		t.Errorf("%v %v", h.Problems, err)
	}
}

// pokeAll alters the first byte of a text wherever it stands: a page that was split
// has it twice.
func pokeAll(t *testing.T, path, text string, c byte) {
	t.Helper()
	b := must2(os.ReadFile(path))
	for from := 0; ; from++ {
		at := bytes.Index(b[from:], []byte(text))
		if at < 0 {
			return
		}
		from += at
		poke(t, path, int64(from), c)
	}
}
