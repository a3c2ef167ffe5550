package note

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestRefused holds the whole catalogue of what is not read: file, place and
// message in testdata/notes/refused.txt, as a trainer sees them. Each block there
// is a note between === lines and, after ---, what Write prints.
func TestRefused(t *testing.T) {
	path := filepath.Join("..", "..", "testdata", "notes", "refused.txt")
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	blocks := strings.Split(string(b), "===\n")[1:]
	if len(blocks) < 90 {
		t.Fatalf("%d blocks in %s", len(blocks), path)
	}
	var again bytes.Buffer
	again.WriteString(strings.SplitN(string(b), "===\n", 2)[0])
	for _, block := range blocks {
		in, want, ok := strings.Cut(block, "---\n")
		if !ok {
			t.Fatalf("no --- in %q", block)
		}
		r := Parse([]byte(strings.ReplaceAll(in, "@@\n", head)), options())
		var got bytes.Buffer
		for _, p := range r.Problems {
			if err := p.Write(&got); err != nil {
				t.Fatal(err)
			}
		}
		if got.String() != want {
			t.Errorf("%q:\n got\n%s\nwant\n%s", in, got.String(), want)
		}
		if len(r.Problems) == 0 || r.Sessions != nil {
			t.Errorf("%q was read: %d sessions", in, len(r.Sessions))
		}
		again.WriteString("===\n" + in + "---\n" + got.String())
	}
	if os.Getenv("UPDATE") != "" {
		if err := os.WriteFile(path, again.Bytes(), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}
