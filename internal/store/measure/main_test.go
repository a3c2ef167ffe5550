//go:build unix

package main

import (
	"os"
	"path/filepath"
	"testing"
	"time"
)

func TestRatioIsWithinRounds(t *testing.T) {
	// The machine is twice as slow in the second round and ten times in the
	// third: the ratio stays.
	var a, b []took
	for _, slow := range []time.Duration{1, 2, 10} {
		a, b = append(a, took{wall: 3 * slow}), append(b, took{wall: 4 * slow})
	}
	wall := func(t took) float64 { return float64(t.wall) }
	if got := ratio(a, b, wall); got != 0.75 {
		t.Errorf("ratio %v, want 0.75", got)
	}
	if got := median(b, wall); got != 8 {
		t.Errorf("median %v, want 8", got)
	}
	if got := middle([]float64{4, 1, 3, 2}); got != 2.5 {
		t.Errorf("middle of four %v, want 2.5", got)
	}
}

func TestRun(t *testing.T) {
	dir := t.TempDir()
	in := filepath.Join(dir, "in")
	if err := os.WriteFile(in, []byte("x\n"), 0o600); err != nil {
		t.Fatal(err)
	}
	out := filepath.Join(dir, "a b")
	// tee reads its input and writes a file whose name has a blank.
	got, err := run("tee " + dir + "/a~b <" + in)
	if err != nil {
		t.Fatal(err)
	}
	if b, err := os.ReadFile(out); err != nil || string(b) != "x\n" {
		t.Errorf("%q %v", b, err)
	}
	if got.wall <= 0 || got.memory <= 0 {
		t.Errorf("%+v", got)
	}
	if _, err := run("false"); err == nil {
		t.Error("a command that fails was measured")
	}
}

func TestVerdict(t *testing.T) {
	for _, c := range []struct {
		wall, cpu float64
		want      string
	}{{1, 1, "met"}, {1.1, 1.1, "NOT met"}, {1, 1.1, "met by wall, not by processor"}, {1.1, 1, "met by processor, not by wall"}} {
		if got := verdict(c.wall, c.cpu, 1); got != c.want {
			t.Errorf("%v %v: %s, want %s", c.wall, c.cpu, got, c.want)
		}
	}
}
