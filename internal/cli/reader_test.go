//go:build unix

package cli

import (
	"bufio"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// leave runs a command whose reader goes away after some lines, as head does and
// a pager that is quit.
func (p *program) leave(lines int, args ...string) ran {
	p.t.Helper()
	r, w, err := os.Pipe()
	if err != nil {
		p.t.Fatal(err)
	}
	c, _, errs := p.command(args...)
	c.Stdout = w
	if err := c.Start(); err != nil {
		p.t.Fatal(err)
	}
	w.Close()
	in := bufio.NewReader(r)
	for range lines {
		if _, err := in.ReadString('\n'); err != nil {
			p.t.Errorf("%v: %v", args, err)
		}
	}
	r.Close()
	c.Wait()
	return ran{c.ProcessState.ExitCode(), "", errs.String()}
}

// A command whose reader goes away ends quietly, with the code that the help
// gives, takes away what it made for the answer, and changes nothing from then on.
func TestTheReaderGoesAway(t *testing.T) {
	p := build(t)
	p.must("demo", "--keep", "k")
	store := []string{"--store", "k/kennel.db"}
	for _, c := range []struct {
		lines int
		args  []string
	}{
		{3, []string{"demo"}},
		{0, []string{"demo"}},
		{0, []string{"--help"}},
		{0, []string{"log", "--help"}},
		{0, append(store, "report", "Tarn", "--as-of", "2026-03-20")},
		{0, append(store, "nightly", "--day", "2026-03-20")},
		{0, append(store, "export", "Tarn")},
		{0, append(store, "sessions", "--all", "--format", "json")},
		{0, append(store, "session", "show", "last")},
		{0, append(store, "dog", "list")},
		{0, append(store, "store", "bundle")},
		{0, append(store, "stats", "--help")},
	} {
		name := strings.Join(c.args, " ")
		if r := p.leave(c.lines, c.args...); r.code != exitReaderGone || r.stderr != "" {
			t.Errorf("%s: exit %d, and it says %q", name, r.code, r.stderr)
		}
		if left, _ := filepath.Glob(p.path("tmp/*")); len(left) > 0 {
			t.Errorf("%s left %v", name, left)
		}
	}
	if out := p.must("--help"); !strings.Contains(out, fmt.Sprintf("\n  %d  the reader went away", exitReaderGone)) {
		t.Error("the help does not give the code")
	}
}

// It ends soon: what is left of a long answer is not made.
func TestTheReaderGoesAwayEarly(t *testing.T) {
	p := build(t)
	p.write("sheet.csv", hourlySheet(2020, 1500, "Tarn"))
	p.must("dog", "add", "Tarn", "--arrived", "2020-01-01")
	p.must("import", "-q", "--new", "--yes", "sheet.csv")
	start := time.Now()
	p.must("export", "Tarn")
	whole := time.Since(start)
	start = time.Now()
	if r := p.leave(1, "export", "Tarn"); r.code != exitReaderGone || r.stderr != "" {
		t.Errorf("exit %d: %s", r.code, r.stderr)
	}
	if d := time.Since(start); d > whole+time.Second {
		t.Errorf("it took %v to end, and %v for the whole answer", d, whole)
	}
}
