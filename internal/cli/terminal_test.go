package cli

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// onTerminal runs a command as if a person sat there and typed the answers.
func (s *script) onTerminal(answers string, vars map[string]string, args ...string) (string, int) {
	s.t.Helper()
	s.t.Chdir(s.dir)
	var out bytes.Buffer
	// A file, as a terminal is: an editor inherits it and need not read it.
	in, keys, err := os.Pipe()
	if err != nil {
		s.t.Fatal(err)
	}
	defer in.Close()
	if _, err := keys.WriteString(answers); err != nil {
		s.t.Fatal(err)
	}
	keys.Close()
	code := Run(context.Background(), Env{
		Args: args, Stdin: in, Stdout: &out, Stderr: &out, Width: 90, Screen: true, Terminal: true, Now: s.clock,
		Getenv: func(k string) string {
			if v, ok := vars[k]; ok {
				return v
			}
			return s.vars[k]
		},
	})
	return out.String(), code
}

// logged makes a store with one session.
func logged(t *testing.T) *script {
	s := newScript(t)
	for _, c := range []string{
		"firstcue dog add Tarn --arrived 2026-03-02",
		"firstcue log --new --dog Tarn --handler Ailsa --place paddock --leash off --distraction 1 --start '2026-03-20 09:10' --text 'sit 3+'",
	} {
		if out := s.run(c, nil); strings.Contains(out, "[exit") {
			t.Fatal(out)
		}
	}
	return s
}

func TestQuestionsNeedAYes(t *testing.T) {
	s := logged(t)
	for _, answer := range []string{"n\n", "\n", "", "maybe\n"} {
		if out, code := s.onTerminal(answer, nil, "undo"); code != exitUsage || !strings.Contains(out, "nothing was changed") {
			t.Errorf("undo, answered %q: exit %d: %s", answer, code, out)
		}
	}
	if out := s.run("firstcue sessions", nil); !strings.Contains(out, "sit 3") {
		t.Errorf("the session is gone without a yes: %s", out)
	}
	if out, code := s.onTerminal("y\n", nil, "undo"); code != 0 || !strings.Contains(out, "taken back: 1 session") {
		t.Errorf("undo, answered y: exit %d: %s", code, out)
	}
}

// TestAmendInAnEditor: the text with a mistake is shown again, and never lost.
func TestAmendInAnEditor(t *testing.T) {
	s := logged(t)
	editor := filepath.Join(s.dir, "editor")
	// Makes a mistake the first time, and puts it right the second.
	write(t, editor, []byte("#!/bin/sh\nif grep -q zzz \"$1\"; then sed -i.old 's/zzz/-/' \"$1\"; else sed -i.old 's/sit 3+/sit 3+, zzz/' \"$1\"; fi\n"))
	if err := os.Chmod(editor, 0o755); err != nil {
		t.Fatal(err)
	}
	t.Setenv("TMPDIR", s.dir)
	vars := map[string]string{"EDITOR": editor}

	s.vars["EDITOR"] = editor
	out := s.run("firstcue session amend last", nil)
	kept := regexp.MustCompile(`your text is kept as draft (\d+)`).FindStringSubmatch(out)
	if !strings.Contains(out, "[exit 2]") || kept == nil {
		t.Fatalf("a text with a mistake, no terminal: %s", out)
	}
	if text := s.run("firstcue draft show "+kept[1], nil); !strings.Contains(text, "zzz") {
		t.Errorf("the text is not kept: %q", text)
	}
	if left, err := filepath.Glob(filepath.Join(s.dir, "firstcue-amend-*")); err != nil || len(left) > 0 {
		t.Errorf("left behind: %v, %v", err, left)
	}

	out, code := s.onTerminal("y\n", vars, "session", "amend", "last")
	if code != 0 || !strings.Contains(out, "Edit it again?") || !strings.Contains(out, "amended") {
		t.Errorf("amend on a terminal: exit %d: %s", code, out)
	}
	if out := s.run("firstcue session history last", nil); !strings.Contains(out, "- sit 3+\n  + sit 3+, -") {
		t.Errorf("history: %s", out)
	}
	out, code = s.onTerminal("", map[string]string{"EDITOR": "true"}, "session", "amend", "last")
	if code != 0 || !strings.Contains(out, "left as it was") {
		t.Errorf("an editor that changes nothing: exit %d: %s", code, out)
	}
	out, code = s.onTerminal("", map[string]string{"EDITOR": "false"}, "session", "amend", "last")
	if code != exitFailed || !strings.Contains(out, "nothing was changed") {
		t.Errorf("an editor that fails: exit %d: %s", code, out)
	}
}

// TestColour follows no-color.org: NO_COLOR counts when it is not empty.
func TestColour(t *testing.T) {
	s := logged(t)
	for _, c := range []struct {
		vars  map[string]string
		flags []string
		want  bool
	}{
		{nil, nil, true},
		{map[string]string{"NO_COLOR": "1"}, nil, false},
		{map[string]string{"NO_COLOR": ""}, nil, true},
		{map[string]string{"TERM": "dumb"}, nil, false},
		{nil, []string{"--no-color"}, false},
	} {
		out, code := s.onTerminal("", c.vars, append([]string{"report", "Tarn"}, c.flags...)...)
		if code != 0 || strings.Contains(out, "\x1b[") != c.want {
			t.Errorf("%v %v: colour %v, exit %d", c.vars, c.flags, !c.want, code)
		}
		for _, l := range strings.Split(regexp.MustCompile("\x1b\\[[0-9;]*m").ReplaceAllString(out, ""), "\n") {
			if len([]rune(l)) > 90 {
				t.Errorf("a line is %d columns wide on a terminal of 90: %s", len([]rune(l)), l)
			}
		}
	}
	if out := s.run("firstcue report Tarn", nil); strings.Contains(out, "\x1b[") {
		t.Error("colour without a terminal")
	}
}

// TestDataDir follows the XDG base directory specification: the variable counts
// when it is an absolute path, else the default holds.
func TestDataDir(t *testing.T) {
	for _, c := range []struct {
		system string
		vars   map[string]string
		want   string
	}{
		{"linux", map[string]string{"HOME": "/home/a"}, "/home/a/.local/share"},
		{"linux", map[string]string{"HOME": "/home/a", "XDG_DATA_HOME": "/data"}, "/data"},
		{"linux", map[string]string{"HOME": "/home/a", "XDG_DATA_HOME": "data"}, "/home/a/.local/share"},
		{"linux", map[string]string{"HOME": "/home/a", "XDG_DATA_HOME": ""}, "/home/a/.local/share"},
		{"linux", nil, ""},
		{"darwin", map[string]string{"HOME": "/Users/a"}, "/Users/a/Library/Application Support"},
		{"windows", map[string]string{"LOCALAPPDATA": `C:\Users\a\AppData\Local`}, `C:\Users\a\AppData\Local`},
		{"windows", nil, ""},
	} {
		got, err := dataDir(c.system, func(k string) string { return c.vars[k] })
		if filepath.ToSlash(got) != c.want && got != c.want || (err != nil) != (c.want == "") {
			t.Errorf("%s %v: %q, %v", c.system, c.vars, got, err)
		}
	}
}

// TestNoPictureOnTheScreen: the bytes of a PNG are for a file or a program.
func TestNoPictureOnTheScreen(t *testing.T) {
	s := logged(t)
	if out, code := s.onTerminal("", nil, "progress", "Tarn", "sit", "--png", "-"); code != exitUsage || strings.Contains(out, "PNG\r") ||
		!strings.Contains(out, "firstcue progress Tarn sit --png tarn-sit.png\n") || !strings.Contains(out, "firstcue progress Tarn sit --png - | PROGRAM\n") {
		t.Errorf("exit %d: %q", code, out)
	}
	if out, code := s.onTerminal("", nil, "progress", "Tarn", "sit", "--svg", "-"); code != 0 || !strings.HasPrefix(out, "<svg ") {
		t.Errorf("exit %d: %q", code, out) // that is text
	}
	if out := s.run("firstcue progress Tarn sit --png -", nil); !strings.HasPrefix(out, "\x89PNG\r\n") || strings.Contains(out, "[exit") {
		t.Errorf("%.60q", out) // into a pipe
	}
	// One stream holds one picture.
	for _, c := range []string{"firstcue log --new --dog Tarn --handler Ailsa --place paddock --leash off --distraction 1 --start '2026-03-20 10:10' --text 'down 3+'"} {
		s.run(c, nil)
	}
	for _, flag := range []string{"--png", "--svg"} {
		if out := s.run("firstcue progress Tarn "+flag+" -", nil); !strings.Contains(out, "2 cues are 2 pictures") || !strings.Contains(out, "firstcue progress Tarn sit "+flag+" -\n") && !strings.Contains(out, "firstcue progress Tarn down "+flag+" -\n") || !strings.Contains(out, "[exit 2]") {
			t.Errorf("%s: %.200q", flag, out)
		}
	}
}
