package cli

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"syscall"
	"testing"
)

// alterFile replaces words in a file, as a failing disk might.
func alterFile(t *testing.T, path, old, new string) {
	t.Helper()
	b, err := os.ReadFile(path)
	if err != nil || len(old) != len(new) || !bytes.Contains(b, []byte(old)) {
		t.Fatalf("%q is not in %s: %v", old, path, err)
	}
	write(t, path, bytes.ReplaceAll(b, []byte(old), []byte(new)))
}

const noteOfTarn = "dog: Tarn; handler: Ailsa; place: paddock; leash: off; distraction: 1\nstart: 2026-03-20 09:10\nsit 3+\n"

// expecting holds what a command says against what it should say.
func expecting(t *testing.T, s *script) func(command, want string) {
	return func(command, want string) {
		t.Helper()
		if got := s.run(command, nil); got != want {
			t.Errorf("$ %s\n%s\nwant\n%s", command, got, want)
		}
	}
}

// A file that can't be merged stops no other, each is named, and nothing is left
// of a store that nothing came into.
func TestMergeOfSeveralFiles(t *testing.T) {
	s := newScript(t)
	expect := expecting(t, s)
	for _, name := range []string{"a.db", "b.db", "c.db"} {
		s.must("firstcue --store " + name + " dog add Dog" + name[:1] + " --arrived 2026-03-02")
	}
	write(t, filepath.Join(s.dir, "letter.txt"), []byte("Dear Mrs Oake\n"))
	expect("firstcue --store new.db store merge letter.txt", `firstcue: letter.txt: exchange file, line 1: this is no exchange file of firstcue; nothing of it was merged
[exit 2]
`)
	expect("firstcue --store new.db store merge letter.txt none.db", `firstcue: letter.txt: exchange file, line 1: this is no exchange file of firstcue; nothing of it was merged
firstcue: none.db: there is no such file; nothing was merged
firstcue: 2 of 2 files not merged: letter.txt, none.db
[exit 2]
`)
	expect("ls new.db", "new.db: not there\n")
	alterFile(t, filepath.Join(s.dir, "b.db"), "dog Dogb added", "dog DogB added")
	expect("firstcue --store new.db store merge a.db b.db letter.txt c.db", `new store: new.db
a.db: 0 sessions new, 0 revisions, 2 changes of the lists
firstcue: ~/b.db: this file is damaged; nothing of it was merged
  what is damaged: firstcue store check b.db
  save what is whole: firstcue store check b.db --salvage NEW.db, then firstcue store merge NEW.db
firstcue: letter.txt: exchange file, line 1: this is no exchange file of firstcue; nothing of it was merged
c.db: 0 sessions new, 0 revisions, 2 changes of the lists
firstcue: 2 of 4 files not merged: b.db, letter.txt
[exit 1]
`)
	expect("firstcue --store new.db dog list", `dog   arrived     day  due  owner  goals  remarks
Doga  2026-03-02   19                  0
Dogc  2026-03-02   19                  0
`)
}

// Before a merge that brings something the store is copied, and the copy put back
// takes the merge back. Merges that bring nothing push no copy out.
func TestMergeCanBeTakenBack(t *testing.T) {
	s := newScript(t)
	expect := expecting(t, s)
	s.must("firstcue --store k.db dog add Tarn --arrived 2026-03-02")
	names := []string{"a", "b", "c", "d", "e"}
	for _, name := range names {
		s.must("firstcue --store " + name + ".db dog add Dog" + name + " --arrived 2026-03-02")
	}
	// One copy brings a row of merges back.
	expect("firstcue --store k.db store merge a.db b.db", `a.db: 0 sessions new, 0 revisions, 2 changes of the lists
b.db: 0 sessions new, 0 revisions, 2 changes of the lists
the store as it was before: ~/backups/k.before-merge.20260320T180000.db
  to go back: firstcue --store k.db store restore ~/backups/k.before-merge.20260320T180000.db --confirm
`)
	s.must("firstcue --store k.db store restore backups/k.before-merge.20260320T180000.db --confirm")
	expect("firstcue --store k.db dog list", "dog   arrived     day  due  owner  goals  remarks\nTarn  2026-03-02   19                  0\n")
	for _, name := range names {
		s.must("firstcue --store k.db store merge -q " + name + ".db")
		s.must("firstcue --store k.db store merge -q " + name + ".db") // brings nothing
	}
	list, _ := filepath.Glob(filepath.Join(s.dir, "backups", "k.before-merge.*.db"))
	if len(list) != 3 {
		t.Errorf("there are %q", list)
	}
	// A copy that can't be written stops the merge, and the flag lets it go on.
	if err := os.RemoveAll(filepath.Join(s.dir, "backups")); err != nil {
		t.Fatal(err)
	}
	write(t, filepath.Join(s.dir, "backups"), []byte("in the way"))
	s.must("firstcue --store f.db dog add Dogf --arrived 2026-03-02")
	got := s.run("firstcue --store k.db store merge f.db", nil)
	if !strings.HasPrefix(got, "firstcue: the copy before the merge could not be written, so nothing was merged (") || !strings.Contains(got, "--no-copy") || !strings.HasSuffix(got, "[exit 1]\n") {
		t.Error(got)
	}
	if got := s.run("firstcue --store k.db dog list", nil); strings.Contains(got, "Dogf") {
		t.Error(got)
	}
	expect("firstcue --store k.db store merge --no-copy f.db", "f.db: 0 sessions new, 0 revisions, 2 changes of the lists\n")
	// A merge that fails leaves no copy.
	os.Remove(filepath.Join(s.dir, "backups"))
	s.must("firstcue --store g.db dog add Dogg --arrived 2026-03-02")
	s.must("firstcue --store g.db store bundle -o g.jsonl")
	b, _ := os.ReadFile(filepath.Join(s.dir, "g.jsonl"))
	write(t, filepath.Join(s.dir, "g.jsonl"), b[:len(b)-20])
	if got := s.run("firstcue --store k.db store merge g.jsonl", nil); !strings.Contains(got, "cut short") {
		t.Error(got)
	}
	if list, _ := filepath.Glob(filepath.Join(s.dir, "backups", "*")); len(list) != 0 {
		t.Errorf("left behind: %q", list)
	}
}

// A file that is not there, a folder and a letter are called that, and nobody is
// sent to log a first note or to restore a letter.
func TestWhatIsNoCopy(t *testing.T) {
	s := newScript(t)
	expect := expecting(t, s)
	s.must("firstcue --store k.db dog add Tarn --arrived 2026-03-02")
	write(t, filepath.Join(s.dir, "wed.txt"), []byte(noteOfTarn+strings.Repeat("> a long note\n", 20)))
	s.must("mkdir copies")
	expect("firstcue --store k.db store restore nothere.db", "firstcue: nothere.db: there is no such file; nothing was changed\n[exit 2]\n")
	expect("firstcue --store k.db store check nix.db", "firstcue: nix.db: there is no such file; nothing was looked at\n[exit 2]\n")
	expect("firstcue --store k.db store restore wed.txt", "firstcue: wed.txt: this is no copy of a store; nothing was changed\n[exit 1]\n")
	expect("firstcue --store k.db store check wed.txt", "firstcue: wed.txt: this is not a firstcue store, or its first page is damaged; it was left untouched\n[exit 1]\n")
	expect("firstcue --store k.db store restore copies", "firstcue: copies: this is a folder; name the copy in it; nothing was changed\n[exit 2]\n")
	expect("firstcue --store k.db store check copies", "firstcue: copies: this is a folder; name a file in it\n[exit 2]\n")
	expect("firstcue --store k.db store merge copies", "firstcue: copies: this is a folder; name the files in it\n[exit 2]\n")
}

// A copy put over a damaged store may hold less than the damaged one still does.
func TestRestoreSaysWhatTheCopyLacks(t *testing.T) {
	s := newScript(t)
	s.must("firstcue --store k.db dog add Tarn --arrived 2026-03-02")
	write(t, filepath.Join(s.dir, "wed.txt"), []byte(noteOfTarn))
	s.must("firstcue --store k.db store backup copy.db")
	s.must("firstcue --store k.db log -q --new wed.txt")
	db := filepath.Join(s.dir, "k.db")
	alterFile(t, db, "dog Tarn added", "dog TarN added")
	got := s.run("firstcue --store k.db store restore copy.db", nil)
	want := `copy.db is now the store k.db
what was there is kept: ~/k.replaced-TIME.db
1 session can still be read of it that the copy does not have. To bring them back:
  firstcue store check ~/k.replaced-TIME.db --salvage NEW.db
  firstcue --store k.db store merge NEW.db
`
	if got != want {
		t.Errorf("%s\nwant\n%s", got, want)
	}
	list, _ := filepath.Glob(filepath.Join(s.dir, "k.replaced-*.db"))
	if len(list) != 1 {
		t.Fatal(list)
	}
	s.must("firstcue store check -q " + filepath.Base(list[0]) + " --salvage NEW.db > checked.txt")
	s.must("firstcue --store k.db store merge -q NEW.db")
	if got := s.run("firstcue --store k.db store check", nil); !strings.HasPrefix(got, "k.db: sound\n1 dog; in force: 3 trials in 1 session") {
		t.Error(got)
	}
}

// What SQLite says of a file is put into plain words, a few of them. The lines are
// as SQLite 3.50 prints them.
func TestFaultLines(t *testing.T) {
	var faults []string
	for i := range 20 {
		faults = append(faults, fmt.Sprintf("Tree 12 page %d: btreeInitPage() returns error code 11", 40+i))
	}
	got := faultLines(append([]string{"CHECK constraint failed in trial", "row 3 missing from index change_entity", "row 4 missing from index change_entity"}, faults...))
	want := []string{"a value in the table trial can't be right", "the index change_entity does not fit its table", "page 40 of it is damaged",
		"and 19 more places (--format json lists what the database says of them)"}
	if !slices.Equal(got, want) {
		t.Errorf("%q", got)
	}
	if got := faultLines([]string{"database disk image is malformed (11)"}); !slices.Equal(got, []string{"a part of it can't be read"}) {
		t.Errorf("%q", got)
	}
}

// Ctrl-C ends an exchange file like any other command, and leaves no file.
func TestBundleInterrupted(t *testing.T) {
	s := newScript(t)
	s.must("firstcue --store k.db dog add Tarn --arrived 2026-03-02")
	a := &app{env: Env{Stdout: io.Discard}}
	for _, name := range []string{"", filepath.Join(s.dir, "k.jsonl")} {
		err := a.output(name, func(w io.Writer) error {
			io.WriteString(w, "half")
			return fmt.Errorf("k.db: %w", context.Canceled)
		})
		var said bytes.Buffer
		if code := printError(&said, err); code != exitInterrupted || exists(name) {
			t.Errorf("%q: %d %s", name, code, said.String())
		}
	}
	// And a fault of the file is one of the file.
	err := a.output(filepath.Join(s.dir, "k.jsonl"), func(w io.Writer) error {
		w.(*target).w = failing{}
		_, err := w.Write([]byte("x"))
		return err
	})
	if err == nil || !strings.Contains(err.Error(), "write "+filepath.Join(s.dir, "k.jsonl")+": no space left") {
		t.Error(err)
	}
}

type failing struct{}

func (failing) Write([]byte) (int, error) {
	return 0, &fs.PathError{Op: "write", Path: ".firstcue-123", Err: syscall.ENOSPC}
}

// No output goes over a store; a link is written through.
func TestOutputSparesAStore(t *testing.T) {
	s := newScript(t)
	s.must("firstcue --store k.db dog add Tarn --arrived 2026-03-02")
	s.must("firstcue --store k.db store backup copy.db")
	for _, c := range []string{"store bundle -o k.db", "store bundle -o copy.db"} {
		if out := s.run("firstcue --store k.db "+c, nil); !strings.Contains(out, "is a firstcue store, and nothing is written over one") {
			t.Errorf("%s: %s", c, out)
		}
	}
	s.must("firstcue --store k.db store check")
	s.must("firstcue --store k.db store check copy.db")
	if err := os.Symlink(s.path("real.jsonl"), s.path("link.jsonl")); err != nil {
		t.Skip(err)
	}
	s.must("firstcue --store k.db store bundle -o link.jsonl")
	if info, err := os.Lstat(s.path("link.jsonl")); err != nil || info.Mode().IsRegular() {
		t.Errorf("the link was replaced: %v", err)
	}
	if b, err := os.ReadFile(s.path("real.jsonl")); err != nil || len(b) == 0 {
		t.Errorf("nothing where the link leads: %v", err)
	}
}
