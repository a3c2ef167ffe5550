package main

import (
	"os"
	"path/filepath"
	"testing"
)

// TestCommittedNotesAreTheGenerated: the notes beside the program are what it
// writes, no more and no fewer.
func TestCommittedNotesAreTheGenerated(t *testing.T) {
	want := map[string]string{}
	for _, f := range notes() {
		want[f.name] = f.text
	}
	files, err := filepath.Glob("../*.txt")
	if err != nil {
		t.Fatal(err)
	}
	for _, path := range files {
		got, err := os.ReadFile(path)
		if err != nil {
			t.Fatal(err)
		}
		name := filepath.Base(path)
		if want[name] != string(got) {
			t.Errorf("%s is not what go generate ./internal/cli writes", name)
		}
		delete(want, name)
	}
	for name := range want {
		t.Errorf("%s is missing: go generate ./internal/cli", name)
	}
}
