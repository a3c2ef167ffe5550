package store

import (
	"bytes"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"
)

// The copy just written stays and the newest of the others with it, whatever the
// local time in their names says: a clock that was ahead once, another time zone,
// the hour that comes twice in autumn.
func TestBackupKeepsTheNewest(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "kennel.db")
	now := noon
	s := must2(Open(ctx, path, Options{Create: true, Writer: "laptop", Now: func() time.Time { return now }}))
	t.Cleanup(func() { s.Close() })
	furnish(t, s)
	left := func(folder string) (names []string) {
		for _, e := range must2(os.ReadDir(folder)) {
			names = append(names, filepath.Join(folder, e.Name()))
		}
		return names
	}
	expect := func(what, folder string, want ...string) {
		t.Helper()
		slices.Sort(want)
		if got := left(folder); !slices.Equal(got, want) {
			t.Errorf("%s: there are %q, want %q", what, got, want)
		}
	}
	// The names go back in time; the files do not.
	copies := filepath.Join(dir, "copies")
	os.Mkdir(copies, 0o700)
	var names []string
	for i := range 4 {
		now = noon.Add(-time.Duration(i) * time.Hour)
		made := must2(s.Backup(ctx, copies, 2))
		names = append(names, made.Path)
		if i >= 2 && !slices.Equal(made.Removed, names[i-2:i-1]) {
			t.Errorf("copy %d: removed %q, want %q", i, made.Removed, names[i-2])
		}
		time.Sleep(5 * time.Millisecond) // a file system may count in milliseconds
	}
	expect("names that go back", copies, names[2:]...)
	now = noon
	if made := must2(s.Backup(ctx, copies, 1)); len(made.Removed) != 2 {
		t.Errorf("%+v", made)
	} else {
		expect("one is kept", copies, made.Path)
	}

	// The clock of the machine was a year ahead when the second was written; the
	// store held more at each.
	wrong := filepath.Join(dir, "wrong clock")
	os.Mkdir(wrong, 0o700)
	names = nil
	for i := range 3 {
		add(t, s, session("Pepper", i, "+"))
		now = noon.Add(time.Duration(i) * time.Minute)
		names = append(names, must2(s.Backup(ctx, wrong, 0)).Path)
	}
	ahead := time.Now().AddDate(1, 0, 0)
	os.Chtimes(names[0], ahead, ahead)
	now = noon.Add(time.Hour)
	made := must2(s.Backup(ctx, wrong, 3))
	expect("a clock that was ahead", wrong, names[1], names[2], made.Path)
}

// Two laptops back up into one folder, under one name of the store: neither
// removes a copy of the other, nor a file that can't be read.
func TestBackupOfTwoLaptops(t *testing.T) {
	dir := t.TempDir()
	stick := filepath.Join(dir, "stick")
	os.Mkdir(stick, 0o700)
	torn := filepath.Join(stick, "kennel-20200101T000000.db")
	if err := os.WriteFile(torn, []byte("SQLite format 3\x00 and no more"), 0o600); err != nil {
		t.Fatal(err)
	}
	var made [2][]string
	for round := range 3 {
		for i := range 2 {
			folder := filepath.Join(dir, fmt.Sprint("laptop", i))
			s := openAt(t, filepath.Join(folder, "kennel.db"), fmt.Sprint("laptop", i))
			c := must2(s.Backup(ctx, stick, 2))
			s.Close()
			made[i] = append(made[i], c.Path)
			if round < 2 && len(c.Removed) > 0 {
				t.Errorf("round %d: laptop %d removed %q", round, i, c.Removed)
			}
			time.Sleep(5 * time.Millisecond)
		}
	}
	for i, list := range made {
		for round, name := range list {
			if exists(name) != (round > 0) {
				t.Errorf("copy %d of laptop %d: there is %v", round, i, exists(name))
			}
		}
	}
	if !exists(torn) {
		t.Error("a file that can't be read was removed")
	}
}

// A word altered on the disk leaves a database that SQLite finds sound. The copy
// is kept under a name that says so, and pushes no good copy out.
func TestBackupOfADamagedStore(t *testing.T) {
	path, _ := damaged(t)
	copies := filepath.Join(filepath.Dir(path), "copies")
	os.Mkdir(copies, 0o700)
	s := openAt(t, path, "laptop")
	good := must2(s.Backup(ctx, copies, 1)).Path
	s.Close()
	b := must2(os.ReadFile(path))
	at := bytes.Index(b, []byte(`note 31\n`))
	if at < 0 {
		t.Fatal("the note is not in the file as it was written")
	}
	poke(t, path, int64(at), 'N')
	if err := integrity(ctx, path); err != nil {
		t.Fatal(err)
	}
	s = must2(Open(ctx, path, Options{ReadOnly: true, Now: noonClock}))
	defer s.Close()
	for i := range 2 {
		made, err := s.Backup(ctx, copies, 1)
		if !errors.Is(err, ErrDamaged) || !strings.Contains(made.Path, ".damaged") || len(made.Removed) > 0 || !exists(made.Path) || !exists(good) {
			t.Errorf("%d: %+v %v", i, made, err)
		}
	}
	named := filepath.Join(filepath.Dir(path), "friday.db")
	if made, err := s.Backup(ctx, named, 0); !errors.Is(err, ErrDamaged) || exists(named) || made.Path != filepath.Join(filepath.Dir(path), "friday.damaged.db") {
		t.Errorf("%+v %v", made, err)
	}
	// So broken that SQLite can't copy it: the bytes are kept as they are. Nothing is
	// merged into it either, and it is not the other's fault.
	b = must2(os.ReadFile(path))
	for i := len(b) - 8*4096; i < len(b)-4096; i += 4 {
		b[i] = 0xee
	}
	broken := filepath.Join(filepath.Dir(path), "broken.db")
	if err := os.WriteFile(broken, b, 0o600); err != nil {
		t.Fatal(err)
	}
	x := must2(Open(ctx, broken, Options{Now: noonClock}))
	defer x.Close()
	if made, err := x.Backup(ctx, copies, 1); !errors.Is(err, ErrDamaged) || made.Path == "" || !bytes.Equal(must2(os.ReadFile(made.Path)), b) {
		t.Errorf("%+v %v", made, err)
	}
	_, other := pair(t)
	add(t, other, session("Pepper", 500, "+"))
	if _, err := x.Merger(true).File(ctx, other.path); !errors.Is(err, ErrDamaged) || errors.Is(err, ErrGiven) || !strings.Contains(err.Error(), broken) {
		t.Errorf("%v", err)
	}
	if _, err := other.Merger(true).File(ctx, broken); !errors.Is(err, ErrDamaged) || !errors.Is(err, ErrGiven) || !strings.Contains(err.Error(), broken) {
		t.Errorf("%v", err)
	}
	var out bytes.Buffer
	if err := s.WriteBundle(ctx, &out); !errors.Is(err, ErrDamaged) || out.Len() > 0 || !strings.Contains(err.Error(), path) {
		t.Errorf("%d bytes of an exchange file: %v", out.Len(), err)
	}
}

// What the store's own file says of an exchange file that can't be written is not
// the store's fault.
func TestBundleToAFullDisk(t *testing.T) {
	s := open(t, "laptop")
	if err := s.WriteBundle(ctx, failing{}); err != syscall.ENOSPC {
		t.Errorf("%v", err)
	}
}

type failing struct{}

func (failing) Write([]byte) (int, error) { return 0, syscall.ENOSPC }

// Where the store is a link, say to a disk of its own, the file it leads to gives
// way to the copy and the link stays. A link that leads nowhere is refused: the
// disk may not be plugged in.
func TestRestoreFollowsALink(t *testing.T) {
	dir := t.TempDir()
	disk, copied, link := filepath.Join(dir, "disk", "real.db"), filepath.Join(dir, "copy.db"), filepath.Join(dir, "kennel.db")
	s := openAt(t, disk, "laptop")
	furnish(t, s)
	must2(s.Backup(ctx, copied, 0))
	add(t, s, session("Pepper", 0, "+"))
	s.Close()
	if err := os.Symlink(disk, link); err != nil {
		t.Skip("SKIPPED: no links here: ", err)
	}
	kept, err := Restore(ctx, copied, link, true)
	if err != nil || filepath.Dir(kept) != filepath.Dir(disk) {
		t.Fatal(kept, err)
	}
	if leads, err := os.Readlink(link); err != nil || leads != disk {
		t.Errorf("the link leads to %q now: %v", leads, err)
	}
	if a, b := countSessions(t, disk), countSessions(t, kept); a != 0 || b != 1 {
		t.Errorf("%d sessions restored, %d in the file that was put away", a, b)
	}
	os.Rename(filepath.Dir(disk), filepath.Join(dir, "unplugged"))
	if _, err := Restore(ctx, copied, link, true); !errors.Is(err, ErrInvalid) || !strings.Contains(err.Error(), disk) {
		t.Errorf("a link that leads nowhere: %v", err)
	}
}

// Of a file that was cut short whatever lies whole on the pages that are left is
// saved, and a merge with a copy brings the rest.
func TestCutShort(t *testing.T) {
	t.Setenv("TMPDIR", t.TempDir()) // what others leave in the common folder is not ours
	whole, size := damaged(t)
	good := must2(os.ReadFile(whole))
	copied := filepath.Join(t.TempDir(), "copy.db")
	copyBytes(t, whole, copied)
	sessions := must2(Check(ctx, whole)).Sessions
	for percent, least := range map[int64]int{99: 45, 90: 20, 75: 0} {
		path := filepath.Join(t.TempDir(), "cut.db")
		b := good[:size*percent/100]
		if err := os.WriteFile(path, b, 0o600); err != nil {
			t.Fatal(err)
		}
		h, err := Check(ctx, path)
		to := filepath.Join(filepath.Dir(path), "saved.db")
		got, saved := Salvage(ctx, path, to)
		t.Logf("%d%%: %d sessions, %d lost, %d dogs %v; saved %d %v", percent, h.Sessions, h.Lost, h.Dogs, h.Problems, got.Sessions, saved)
		if err != nil || h.Sound || saved != nil || !got.Sound || got.Sessions != h.Sessions || got.Sessions < least {
			t.Errorf("%d%%: %d sessions, %v %v %v", percent, got.Sessions, h.Problems, err, saved)
			continue
		}
		if h.Sessions+h.Lost > sessions+sessions/2 || h.Lost == 0 && percent < 99 {
			t.Errorf("%d%%: %d sessions and %d revisions lost, of %d", percent, h.Sessions, h.Lost, sessions)
		}
		if want := fmt.Sprintf("the file was cut short: %d of its %d bytes are missing", size-int64(len(b)), size); h.Problems[0] != want {
			t.Errorf("%q, want %q", h.Problems[0], want)
		}
		s := openAt(t, to, "")
		must2(s.MergeFile(ctx, copied))
		if n := len(must2(s.Sessions(ctx, Filter{}))); n != sessions {
			t.Errorf("%d%%: %d sessions after a merge with a copy", percent, n)
		}
		s.Close()
		if after := must2(os.ReadFile(path)); !bytes.Equal(after, b) {
			t.Errorf("%d%%: the file was changed", percent)
		}
		if left, _ := filepath.Glob(filepath.Join(os.TempDir(), "firstcue-cut-short-*")); len(left) > 0 {
			t.Errorf("left behind: %q", left)
		}
	}
}

// A page that reads as if it had fewer rows leaves no row that can't be read. That
// sessions are missing is found all the same.
func TestMissingRevisionsAreCounted(t *testing.T) {
	path, _ := damaged(t)
	db := must2(openFile(path, "rw"))
	if _, err := db.Exec("PRAGMA foreign_keys = 0; DROP TRIGGER entry_kept; DELETE FROM entry WHERE seq IN (SELECT n FROM revision ORDER BY n LIMIT 3)"); err != nil {
		t.Fatal(err)
	}
	db.Close()
	h, err := Check(ctx, path)
	if err != nil || h.Sound || h.Sessions != 57 || h.Lost != 3 || !slices.Contains(h.Problems, "3 revisions of sessions can't be read or were altered") {
		t.Errorf("%+v %v", h, err)
	}
}
