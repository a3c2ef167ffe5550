package cli

import (
	"fmt"
	"path/filepath"
	"strings"
	"testing"
)

// Undo of what brought a new dog takes the dog off the lists too, and ends well.
func TestUndoOfANewDog(t *testing.T) {
	s := newScript(t)
	write(t, filepath.Join(s.dir, "v.csv"), []byte("dog,start,handler,place,leash,distraction,cue,response\nQuince,2026-03-05T09:10:00Z,Ailsa,paddock,off,1,sit,yes\n"))
	s.must("firstcue import v.csv --yes --new -q")
	want := `the last thing done: the import of 1 session from v.csv, 2026-03-20 18:00
  withdrawn: Quince 2026-03-05 09:10, Ailsa at paddock, sit 1
  off the lists: dog Quince
  off the lists: handler Ailsa
  off the lists: place paddock
taken back: 1 session
bring it back: import it again, with --new (v.csv)
`
	if got := s.run("firstcue undo --yes", nil); got != want {
		t.Errorf("%s\nwant\n%s", got, want)
	}
}

// Of an import of many sessions the first are named, and of the others how many
// and over which days they go.
func TestUndoOfManySessions(t *testing.T) {
	s := newScript(t)
	var rows strings.Builder
	rows.WriteString("dog,start,handler,place,leash,distraction,cue,response\n")
	for i := range 20 {
		fmt.Fprintf(&rows, "%s,2026-03-%02dT09:10:00Z,Ailsa,paddock,off,1,sit,yes\n", []string{"Quince", "Gorse"}[i%2], i/2+2)
	}
	write(t, filepath.Join(s.dir, "v.csv"), []byte(rows.String()))
	s.must("firstcue import v.csv --yes --new -q")
	got := s.run("firstcue undo --yes", nil)
	if strings.Count(got, "  withdrawn: ") != 12 || !strings.Contains(got, "\n  and 8 sessions more, of 2 dogs, 2026-03-08 to 2026-03-11\n") || !strings.Contains(got, "taken back: 20 sessions") {
		t.Error(got)
	}
}
