package cli

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"testing"
	"time"
)

// keptKennel is a program, run by a user whom permissions bind, with a store
// kennel/k.db that holds a session of three sits.
func keptKennel(t *testing.T) *program {
	t.Helper()
	p := build(t)
	p.plainUser()
	for _, dir := range []string{"kennel", "tmp"} {
		if err := os.Mkdir(p.path(dir), 0o755); err != nil && !os.IsExist(err) {
			t.Fatal(err)
		}
	}
	p.own(p.dir)
	p.must("--store", "kennel/k.db", "dog", "add", "Tarn", "--arrived", "2024-03-01")
	p.must("--store", "kennel/k.db", "log", "-q", "--new", "--dog", "Tarn", "--handler", "Ailsa", "--place", "barn", "--leash", "off", "--distraction", "1", "--start", "2024-03-02 9:10", "--text", "sit 3+")
	return p
}

// editor writes a program that edits, to be named by EDITOR.
func (p *program) editor(script string) (vars []string) {
	p.t.Helper()
	p.write("editor", "#!/bin/sh\n"+script)
	p.chmod("editor", 0o755)
	return []string{"EDITOR=" + p.path("editor")}
}

func (p *program) runWith(stdin string, vars []string, args ...string) ran {
	p.t.Helper()
	c, out, errs := p.command(append([]string{"--store", "kennel/k.db"}, args...)...)
	c.Env = append(c.Env, vars...)
	c.Stdin = strings.NewReader(stdin)
	c.Run()
	return ran{c.ProcessState.ExitCode(), out.String(), errs.String()}
}

// lock takes the right to write the store, and unlock gives it back.
func (p *program) lock()   { p.chmod("kennel/k.db", 0o400); p.chmod("kennel", 0o555) }
func (p *program) unlock() { p.chmod("kennel", 0o755); p.chmod("kennel/k.db", 0o600) }

var (
	keptFile  = regexp.MustCompile(`your text is kept: (\S+)\n`)
	keptDraft = regexp.MustCompile(`(?:your text|the note) is kept as draft (\d+): `)
	useAgain  = regexp.MustCompile(`(?:then|when it is right): firstcue (.*)\n`)
)

// again runs the command that a message says the kept text is used with.
func (p *program) again(message string) {
	p.t.Helper()
	m := useAgain.FindStringSubmatch(message)
	if m == nil {
		p.t.Fatalf("no command to use the text again:\n%s", message)
	}
	words, err := splitWords(m[1])
	if err != nil {
		p.t.Fatal(err)
	}
	p.must(append([]string{"--store", "kennel/k.db"}, words...)...)
}

// fileKept returns what the file that a message names holds.
func (p *program) fileKept(message string) string {
	p.t.Helper()
	m := keptFile.FindStringSubmatch(message)
	if m == nil {
		p.t.Fatalf("no file is named:\n%s", message)
	}
	info, err := os.Stat(m[1])
	if err != nil || info.Mode().Perm() != 0o600 {
		p.t.Fatalf("%s: %v, %v", m[1], info, err)
	}
	b, err := os.ReadFile(m[1])
	if err != nil {
		p.t.Fatal(err)
	}
	return string(b)
}

func (p *program) holds(trials string) {
	p.t.Helper()
	if out := p.must("--store", "kennel/k.db", "session", "show", "last", "--format", "note"); !strings.Contains(out, trials) {
		p.t.Errorf("the session has no %q:\n%s", trials, out)
	}
}

// What was typed in the editor, or came down a pipe, outlives a store that can't
// be written, and the message says where it is and how to use it.
func TestTextOutlivesTheStore(t *testing.T) {
	const note = "start: 2024-03-03 10:00\nsit 5+\n"
	log := []string{"log", "--dog", "Tarn", "--handler", "Ailsa", "--place", "barn", "--leash", "off", "--distraction", "1", "-"}
	t.Run("editor", func(t *testing.T) {
		p := keptKennel(t)
		r := p.runWith("", p.editor(`sed -i 's/sit 3+/sit 3+, -/' "$1"; chmod 400 kennel/k.db; chmod 555 kennel`), "session", "amend", "last")
		defer p.unlock()
		if r.code != exitFailed || !strings.Contains(r.stderr, "can't be written") && !strings.Contains(r.stderr, "no permission") {
			t.Errorf("exit %d: %s", r.code, r.stderr)
		}
		if text := p.fileKept(r.stderr); !strings.Contains(text, "sit 3+, -") {
			t.Errorf("the file holds %q", text)
		}
		p.unlock()
		p.again(r.stderr)
		p.holds("sit 3+, -")
	})
	t.Run("amend from a pipe", func(t *testing.T) {
		p := keptKennel(t)
		p.lock()
		defer p.unlock()
		r := p.runWith("sit 4+\n", nil, "session", "amend", "last", "--file", "-")
		if text := p.fileKept(r.stderr); r.code != exitFailed || !strings.Contains(text, "sit 4+") {
			t.Errorf("exit %d, the file holds %q", r.code, text)
		}
		p.unlock()
		p.again(r.stderr)
		p.holds("sit 4+")
	})
	t.Run("log from a pipe", func(t *testing.T) {
		p := keptKennel(t)
		p.lock()
		defer p.unlock()
		r := p.runWith(note, nil, log...)
		if text := p.fileKept(r.stderr); r.code != exitFailed || !strings.HasSuffix(text, note) {
			t.Errorf("exit %d, the file holds %q", r.code, text)
		}
		p.unlock()
		p.again(r.stderr)
		p.holds("sit 5+")
	})
	t.Run("a note with a problem", func(t *testing.T) {
		p := keptKennel(t)
		p.lock()
		defer p.unlock()
		r := p.runWith(note+"zzz +\n", nil, log...)
		if text := p.fileKept(r.stderr); r.code != exitFailed || !strings.HasSuffix(text, note+"zzz +\n") {
			t.Errorf("exit %d, the file holds %q", r.code, text)
		}
	})
	t.Run("a store that is not there", func(t *testing.T) {
		p := keptKennel(t)
		r := p.runWith(note, nil, append([]string{"--store", "kenel.db"}, log...)...)
		if text := p.fileKept(r.stderr); r.code != exitUsage || !strings.HasSuffix(text, note) {
			t.Errorf("exit %d, the file holds %q", r.code, text)
		}
		if _, err := os.Stat(p.path("kenel.db")); err == nil {
			t.Error("a store was made under the misspelt name")
		}
		p.again(r.stderr)
		p.holds("sit 5+")
	})
	t.Run("nowhere to write", func(t *testing.T) {
		p := keptKennel(t)
		p.lock()
		defer p.unlock()
		p.chmod("tmp", 0o555)
		defer p.chmod("tmp", 0o755)
		if r := p.runWith(note, nil, log...); r.code != exitFailed || !strings.Contains(r.stderr, "\nsit 5+\n") || !strings.Contains(r.stderr, "it stands above, copy it") {
			t.Errorf("exit %d: %s", r.code, r.stderr)
		}
	})
	t.Run("a good note beside a bad file", func(t *testing.T) {
		p := keptKennel(t)
		p.write("bad.txt", "zzz +\n")
		p.own(p.path("bad.txt"))
		r := p.runWith(note, nil, append(log, "bad.txt")...)
		d := keptDraft.FindStringSubmatch(r.stderr)
		if r.code != exitUsage || d == nil {
			t.Fatalf("exit %d: %s", r.code, r.stderr)
		}
		if text := p.runWith("", nil, "draft", "show", d[1]).stdout; !strings.HasSuffix(text, note) {
			t.Errorf("the draft holds %q", text)
		}
	})
	t.Run("nothing is left of what was stored", func(t *testing.T) {
		p := keptKennel(t)
		if r := p.runWith(note, nil, log...); r.code != 0 || strings.Contains(r.stderr, "kept") {
			t.Errorf("exit %d: %s", r.code, r.stderr)
		}
		if r := p.runWith("", p.editor(`sed -i 's/sit 5+/sit 5+, -/' "$1"`), "session", "amend", "last"); r.code != 0 {
			t.Errorf("exit %d: %s", r.code, r.stderr)
		}
		if r := p.runWith("", p.editor("exit 1"), "session", "amend", "last"); r.code != exitFailed || strings.Contains(r.stderr, "kept") {
			t.Errorf("an editor that was left without a change: exit %d: %s", r.code, r.stderr)
		}
		if left, _ := filepath.Glob(p.path("tmp/*")); len(left) > 0 {
			t.Errorf("left behind: %v", left)
		}
	})
}

// Ctrl-C in an editor is the editor's, and what was saved outlives the end of the
// terminal.
func TestSignalsInAnEditor(t *testing.T) {
	amend := []string{"--store", "kennel/k.db", "session", "amend", "last"}
	const saves = `sed -i 's/sit 3+/sit 3+, -/' "$1"; `
	t.Run("Ctrl-C", func(t *testing.T) {
		p := keptKennel(t)
		x := p.onPty(p.editor(saves+"trap 'echo caught' INT\necho ready\nwhile ! read x; do :; done\nexit 0\n"), amend...)
		x.wait("ready")
		for range 2 {
			x.types(ctrlC)
			time.Sleep(100 * time.Millisecond)
		}
		x.wait("caught")
		x.types("\r")
		if code := x.ends(); code != 0 {
			t.Errorf("exit %d: %s", code, x.screen())
		}
		p.holds("sit 3+, -")
	})
	t.Run("Ctrl-C that ends the editor", func(t *testing.T) {
		p := keptKennel(t)
		x := p.onPty(p.editor(saves+"echo ready\nread x\n"), amend...)
		x.wait("ready")
		x.types(ctrlC)
		if code := x.ends(); code != exitFailed || keptDraft.FindString(x.screen()) == "" {
			t.Errorf("exit %d: %s", code, x.screen())
		}
		p.holds("sit 3+\n")
	})
	for _, s := range []syscall.Signal{syscall.SIGHUP, syscall.SIGTERM} {
		t.Run(s.String(), func(t *testing.T) {
			p := keptKennel(t)
			x := p.onPty(p.editor(saves+"stty raw -echo\necho ready\nexec sleep 100\n"), amend...)
			x.wait("ready")
			x.cmd.Process.Signal(s)
			if s == syscall.SIGHUP { // the shell hangs up after the terminal did
				for range 10 {
					time.Sleep(2 * time.Millisecond)
					x.cmd.Process.Signal(s)
				}
			}
			if code := x.ends(); code != exitInterrupted || keptDraft.FindString(x.screen()) == "" {
				t.Errorf("exit %d: %s", code, x.screen())
			}
			if !strings.HasSuffix(x.shown.String(), "\r\n") {
				t.Errorf("the terminal is left as the editor had set it: %q", x.shown.String())
			}
			p.holds("sit 3+\n")
			if out := p.must("--store", "kennel/k.db", "draft", "show", "1"); !strings.Contains(out, "sit 3+, -") {
				t.Errorf("the draft holds %q", out)
			}
		})
	}
	t.Run("the window is closed", func(t *testing.T) {
		p := keptKennel(t)
		x := p.onPty(p.editor(saves+"echo ready\nread x\n"), amend...)
		x.wait("ready")
		x.keys.Close()
		x.ends()
		p.holds("sit 3+\n")
		if out := p.must("--store", "kennel/k.db", "draft", "show", "1"); !strings.Contains(out, "sit 3+, -") {
			t.Errorf("the draft holds %q", out)
		}
	})
	t.Run("what the editor puts away", func(t *testing.T) {
		p := keptKennel(t)
		x := p.onPty(p.editor("trap 'echo sit 9+ > \"$1.save\"; exit 1' TERM\necho ready\nwhile :; do sleep 0.1; done\n"), amend...)
		x.wait("ready")
		x.cmd.Process.Signal(syscall.SIGTERM)
		code := x.ends()
		m := regexp.MustCompile(`the editor left beside it: (\S+)$`).FindStringSubmatch(strings.TrimSpace(strings.ReplaceAll(x.screen(), "\n", " ")))
		if code != exitInterrupted || m == nil {
			t.Fatalf("exit %d: %s", code, x.screen())
		}
		if b, err := os.ReadFile(m[1]); err != nil || string(b) != "sit 9+\n" {
			t.Errorf("%s: %q, %v", m[1], b, err)
		}
	})
	t.Run("twice", func(t *testing.T) {
		p := keptKennel(t)
		x := p.onPty(p.editor("trap '' TERM\necho ready\nsleep 100\n"), amend...)
		x.wait("ready")
		start := time.Now()
		x.cmd.Process.Signal(syscall.SIGTERM)
		time.Sleep(200 * time.Millisecond) // it waits for the editor, which does not go
		x.cmd.Process.Signal(syscall.SIGTERM)
		if code := x.ends(); code != -1 || time.Since(start) > editorGrace-time.Second {
			t.Errorf("exit %d after %v: %s", code, time.Since(start), x.screen())
		}
	})
}
