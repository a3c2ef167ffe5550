//go:build unix

package cli

import (
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
)

// nobody is a user who owns nothing, by the number that Linux and the BSDs give
// to him.
const nobody = 65534

// plainUser makes the program run as a user whom permissions bind: for root,
// who may do everything, as nobody.
func (p *program) plainUser() {
	p.t.Helper()
	if os.Getuid() != 0 {
		return
	}
	dir, err := os.MkdirTemp("", "firstcue-permission-")
	if err != nil {
		p.t.Fatal(err)
	}
	p.t.Cleanup(func() { os.RemoveAll(dir) })
	p.user, p.dir = &syscall.Credential{Uid: nobody, Gid: nobody}, dir
	p.own(dir)
	for _, path := range []string{dir, filepath.Dir(p.exe)} {
		if err := os.Chmod(path, 0o755); err != nil {
			p.t.Fatal(err)
		}
	}
	c, _, _ := p.command("--version")
	if err := c.Run(); err != nil {
		p.t.Skipf("SKIPPED: the program can't be run as another user here: %v", err)
	}
}

// own gives what lies at path to the user who runs the program.
func (p *program) own(path string) {
	p.t.Helper()
	if p.user == nil {
		return
	}
	err := filepath.WalkDir(path, func(path string, _ os.DirEntry, err error) error {
		if err != nil {
			return err
		}
		return os.Chown(path, nobody, nobody)
	})
	if err != nil {
		p.t.Fatal(err)
	}
}

func (p *program) chmod(name string, mode os.FileMode) {
	p.t.Helper()
	if err := os.Chmod(p.path(name), mode); err != nil {
		p.t.Fatal(err)
	}
}

// Without a right that it needs a command says which file, and what to do, ends
// with 1, changes nothing and leaves nothing behind.
func TestNoPermission(t *testing.T) {
	p := build(t)
	p.plainUser()
	const note = "dog: Tarn; handler: Ailsa\nstart: 2024-03-04 09:10; place: paddock; leash: off; distraction: 1\nsit 3+\n"
	store := []string{"--store", "kennel/k.db"}
	for _, c := range []struct {
		name  string
		mode  os.FileMode // of file
		file  string
		args  []string // after the store
		store string   // "" = kennel/k.db
		says  []string // of which all are in the message
		works []string // a command that only looks and still works
	}{
		{"a folder that can't be written", 0o555, "kennel", []string{"log", "--new", "note.txt"}, "",
			[]string{"kennel/k.db: the store can't be written; give yourself the right to write the file and its folder, or name another with --store FILE"}, []string{"dog", "list"}},
		{"an import into one", 0o555, "kennel", []string{"import", "sheet.csv", "--yes", "--new"}, "",
			[]string{"kennel/k.db: the store can't be written; give yourself the right to write"}, []string{"store", "check"}},
		{"a store that can't be read", 0o200, "kennel/k.db", []string{"report", "Tarn"}, "",
			[]string{"kennel/k.db: no permission; give yourself the right to read and write the file"}, nil},
		{"a store that can't be read, to log", 0o200, "kennel/k.db", []string{"log", "--new", "note.txt"}, "",
			[]string{"kennel/k.db: no permission; give yourself the right to read and write the file"}, nil},
		{"a store that can't be read, to check", 0o200, "kennel/k.db", []string{"store", "check"}, "",
			[]string{"kennel/k.db: no permission; give yourself the right to read and write the file"}, nil},
		{"a store that can't be written", 0o400, "kennel/k.db", []string{"log", "--new", "note.txt"}, "",
			[]string{"kennel/k.db: no permission to write; give yourself the right to write the file and its folder, or name another with --store FILE"}, []string{"report", "Tarn"}},
		{"a store that can't be written, for a list", 0o400, "kennel/k.db", []string{"dog", "add", "Sorrel"}, "",
			[]string{"kennel/k.db: no permission to write; give yourself the right"}, []string{"store", "check"}},
		{"no folder can be made", 0o555, "locked", []string{"dog", "add", "Tarn"}, "locked/new/k.db",
			[]string{"locked/new/k.db: no permission; give yourself the right to read and write the file and its folder, or name another with --store FILE"}, nil},
		{"no store can be made", 0o555, "locked", []string{"dog", "add", "Tarn"}, "locked/k.db",
			[]string{"locked/k.db: no permission; give yourself the right to read and write the file and its folder, or name another with --store FILE"}, nil},
		{"a folder that can't be looked into", 0, "kennel", []string{"dog", "list"}, "",
			[]string{"kennel/k.db: no permission; give yourself the right to read and write the file and its folder"}, nil},
		{"a folder for copies", 0o555, "locked", []string{"store", "backup", "locked", "--keep", "2"}, "",
			[]string{"locked: no permission to write here; give yourself the right to write the folder, or name another"}, nil},
		{"a copy in such a folder", 0o555, "locked", []string{"store", "backup", "locked/copy.db"}, "",
			[]string{"locked: no permission to write here; give yourself the right to write the folder, or name another"}, nil},
		{"what is saved of a store", 0o555, "locked", []string{"store", "check", "--salvage", "locked/new.db"}, "",
			[]string{"locked: no permission to write here; give yourself the right to write the folder, or name another"}, nil},
		{"a copy that can't be read", 0, "copy.db", []string{"store", "restore", "copy.db", "--confirm"}, "",
			[]string{"copy.db: no permission; give yourself the right to read"}, nil},
		{"a restore into a locked folder", 0o555, "kennel", []string{"store", "restore", "copy.db", "--confirm"}, "",
			[]string{"kennel/k.db: no permission; give yourself the right to read and write the file and its folder"}, nil},
		{"an exchange file there", 0o555, "locked", []string{"store", "bundle", "-o", "locked/x.jsonl"}, "",
			[]string{"write locked/x.jsonl: permission denied", "name another file, or give yourself the right to write the folder locked"}, nil},
		{"a note that can't be read", 0, "note.txt", []string{"log", "--new", "note.txt"}, "",
			[]string{"open note.txt: permission denied; nothing was stored", "give yourself the right to read it"}, nil},
		{"a sheet that can't be read", 0, "sheet.csv", []string{"import", "sheet.csv", "--yes", "--new"}, "",
			[]string{"open sheet.csv: permission denied; nothing was stored", "give yourself the right to read it"}, nil},
		{"one of two notes", 0, "note.txt", []string{"log", "--new", "other.txt", "note.txt"}, "",
			[]string{"open note.txt: permission denied; nothing was stored"}, nil},
		{"an exchange file that can't be read", 0, "x.jsonl", []string{"store", "merge", "x.jsonl"}, "",
			[]string{"x.jsonl: permission denied; nothing of it was merged"}, nil},
	} {
		t.Run(c.name, func(t *testing.T) {
			p.t = t
			for _, name := range []string{"kennel", "locked", "tmp"} {
				os.Chmod(p.path(name), 0o755)
				if err := os.RemoveAll(p.path(name)); err != nil {
					t.Fatal(err)
				}
				os.Mkdir(p.path(name), 0o755)
			}
			for _, name := range []string{"copy.db", "x.jsonl", "note.txt", "other.txt", "sheet.csv"} {
				os.Remove(p.path(name))
			}
			p.write("note.txt", note)
			p.write("other.txt", strings.ReplaceAll(note, "09:10", "10:10"))
			p.write("sheet.csv", hourlySheet(2025, 2, "Tarn"))
			p.own(p.dir)
			p.must(append(store, "dog", "add", "Tarn", "--arrived", "2024-03-01")...)
			p.must(append(store, "log", "-q", "--new", "--dog", "Tarn", "--handler", "Ailsa", "--place", "barn", "--start", "2024-03-02 9:10", "--text", "sit 2+")...)
			p.must(append(store, "store", "backup", "copy.db")...)
			p.must(append(store, "store", "bundle", "-o", "x.jsonl")...)
			before := filesIn(p.dir)
			p.chmod(c.file, c.mode)
			at := store
			if c.store != "" {
				at = []string{"--store", c.store}
			}
			r := p.run(append(at, c.args...)...)
			if r.code != exitFailed {
				t.Errorf("exit %d\n%s%s", r.code, r.stdout, r.stderr)
			}
			for _, s := range c.says {
				if !strings.Contains(r.stderr, s) {
					t.Errorf("the message is\n%sand lacks %q", r.stderr, s)
				}
			}
			if n := strings.Count(r.stderr, "firstcue: "); n != 1 {
				t.Errorf("%d messages:\n%s", n, r.stderr)
			}
			if c.works != nil {
				p.must(append(at, c.works...)...)
			}
			os.Chmod(p.path(c.file), map[bool]os.FileMode{true: 0o755, false: 0o600}[c.file == "kennel" || c.file == "locked"])
			if after := filesIn(p.dir); after != before {
				t.Errorf("changed or left behind:\nbefore\n%safter\n%s", before, after)
			}
		})
	}
}
