package cli

import (
	"bytes"
	"fmt"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"
	"unsafe"
)

// typist is the program on a terminal of its own, at whose keys a test sits. The
// terminal turns Ctrl-C into the signal, as it does for a person.
type typist struct {
	t    *testing.T
	keys *os.File
	cmd  *exec.Cmd
	over chan error

	mu    sync.Mutex
	shown bytes.Buffer
}

// onPty starts the program on a pseudo-terminal (pty(7) of the Linux manual).
func (p *program) onPty(vars []string, args ...string) *typist {
	p.t.Helper()
	must := func(err error) {
		if err != nil {
			p.t.Helper()
			p.t.Fatal(err)
		}
	}
	keys, err := os.OpenFile("/dev/ptmx", os.O_RDWR|syscall.O_NOCTTY, 0)
	if err != nil {
		p.t.Skipf("SKIPPED: no terminal can be made here: %v", err)
	}
	p.t.Cleanup(func() { keys.Close() })
	ioctl := func(request uintptr, arg *int32) {
		raw, err := keys.SyscallConn() // Fd would make a read that Close can't end
		must(err)
		var e syscall.Errno
		must(raw.Control(func(fd uintptr) {
			_, _, e = syscall.Syscall(syscall.SYS_IOCTL, fd, request, uintptr(unsafe.Pointer(arg)))
		}))
		if e != 0 {
			must(e)
		}
	}
	var unlocked, number int32
	ioctl(syscall.TIOCSPTLCK, &unlocked)
	ioctl(syscall.TIOCGPTN, &number)
	tty, err := os.OpenFile(fmt.Sprintf("/dev/pts/%d", number), os.O_RDWR|syscall.O_NOCTTY, 0)
	must(err)
	defer tty.Close()
	x := &typist{t: p.t, keys: keys, over: make(chan error, 1)}
	x.cmd, _, _ = p.command(args...)
	x.cmd.Env = append(x.cmd.Env, vars...)
	x.cmd.Stdin, x.cmd.Stdout, x.cmd.Stderr = tty, tty, tty
	x.cmd.SysProcAttr = &syscall.SysProcAttr{Setsid: true, Setctty: true}
	must(x.cmd.Start())
	p.t.Cleanup(func() { syscall.Kill(-x.cmd.Process.Pid, syscall.SIGKILL) })
	go func() {
		buf := make([]byte, 4096)
		for {
			n, err := keys.Read(buf)
			x.mu.Lock()
			x.shown.Write(buf[:n])
			x.mu.Unlock()
			if err != nil { // the program is gone
				return
			}
		}
	}()
	go func() { x.over <- x.cmd.Wait() }()
	return x
}

func (x *typist) screen() string {
	x.mu.Lock()
	defer x.mu.Unlock()
	return strings.ReplaceAll(x.shown.String(), "\r\n", "\n")
}

func (x *typist) wait(text string) {
	x.t.Helper()
	for end := time.Now().Add(20 * time.Second); time.Now().Before(end); time.Sleep(10 * time.Millisecond) {
		if strings.Contains(x.screen(), text) {
			return
		}
	}
	x.t.Fatalf("the screen never showed %q; it shows\n%s", text, x.screen())
}

func (x *typist) types(keys string) {
	x.t.Helper()
	if _, err := x.keys.WriteString(keys); err != nil {
		x.t.Fatal(err)
	}
}

// ends waits for the end of the program and returns its exit code, -1 for one
// that a signal killed.
func (x *typist) ends() int {
	x.t.Helper()
	select {
	case <-x.over:
	case <-time.After(10 * time.Second):
		x.t.Fatalf("it does not end; the screen shows\n%s", x.screen())
	}
	time.Sleep(50 * time.Millisecond) // for the last of the screen
	return x.cmd.ProcessState.ExitCode()
}

const ctrlC = "\x03"

// kennelOf1 makes the program's store with a dog, one session and one draft.
func (p *program) kennelOf1() {
	p.t.Helper()
	p.must("dog", "add", "Tarn", "--arrived", "2024-03-01")
	p.must("log", "-q", "--new", "--dog", "Tarn", "--handler", "Ailsa", "--place", "barn", "--leash", "off", "--distraction", "1", "--start", "2024-03-02 9:10", "--text", "sit 3+")
	if r := p.run("log", "-q", "--keep", "--text", "zzz 3+"); r.code != exitUsage {
		p.t.Fatalf("no draft: %+v", r)
	}
}

// A signal at a question, or while a note is typed, ends the program at once, and
// nothing is changed.
func TestInterruptedQuestions(t *testing.T) {
	p := build(t)
	p.kennelOf1()
	p.write("sheet.csv", hourlySheet(2025, 2, "Tarn"))
	state := func() string {
		return p.must("sessions", "--all", "--format", "json") + p.must("draft", "list", "--format", "json") + p.must("dog", "list", "--all", "--format", "json")
	}
	before := state()
	for _, c := range []struct {
		args   []string
		waits  string // when it does
		answer string // typed before the signal
	}{
		{[]string{"undo"}, "Take it back? [y/N]", ""},
		{[]string{"undo"}, "Take it back? [y/N]", "y"}, // not yet Enter
		{[]string{"draft", "remove", "1"}, "Remove draft 1", ""},
		{[]string{"dog", "rename", "Tarn", "Sorrel"}, "Rename the dog", ""},
		{[]string{"import", "sheet.csv", "--new"}, "Store 2 sessions? [y/N] ", ""},
		{[]string{"log", "-"}, "", "dog: Tarn\r"},
		{[]string{"import", "-", "--yes"}, "", "dog,cue\r"},
		{[]string{"session", "amend", "last", "--file", "-"}, "", "sit 9+\r"},
		{[]string{"stats", "wilson"}, "", ""},
	} {
		for _, how := range []string{"Ctrl-C", "SIGTERM", "SIGHUP"} {
			t.Run(strings.Join(c.args, " ")+c.answer+" "+how, func(t *testing.T) {
				p.t = t
				x := p.onPty(nil, c.args...)
				if x.wait(c.waits); c.waits == "" {
					time.Sleep(300 * time.Millisecond) // it reads by then
				}
				x.types(c.answer)
				start := time.Now()
				switch how {
				case "Ctrl-C":
					x.types(ctrlC)
				case "SIGTERM":
					x.cmd.Process.Signal(syscall.SIGTERM)
				case "SIGHUP":
					x.cmd.Process.Signal(syscall.SIGHUP)
				}
				if code := x.ends(); code != exitInterrupted || !strings.Contains(x.screen(), "firstcue: interrupted; nothing is half stored\n") {
					t.Errorf("exit %d:\n%s", code, x.screen())
				}
				if q := x.screen(); strings.Contains(q, "[y/N]") && !strings.Contains(q, "\nfirstcue: interrupted") {
					t.Errorf("the message stands behind the question:\n%s", q)
				}
				if d := time.Since(start); d > 3*time.Second {
					t.Errorf("it took %v to end", d)
				}
			})
		}
	}
	p.t = t
	if after := state(); after != before {
		t.Errorf("something was changed: %s", firstDifference(before, after))
	}
	if left, _ := filepath.Glob(p.path("tmp/*")); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
}

// The same with a pipe that stays open, as a script has it.
func TestInterruptedPipe(t *testing.T) {
	p := build(t)
	p.kennelOf1()
	in, keys, err := os.Pipe()
	if err != nil {
		t.Fatal(err)
	}
	defer keys.Close()
	c, _, errs := p.command("log", "-")
	c.Stdin = in
	if err := c.Start(); err != nil {
		t.Fatal(err)
	}
	in.Close()
	io.WriteString(keys, "dog: Tarn\n")
	time.Sleep(300 * time.Millisecond)
	c.Process.Signal(os.Interrupt)
	over := make(chan error, 1)
	go func() { over <- c.Wait() }()
	select {
	case <-over:
	case <-time.After(10 * time.Second):
		c.Process.Kill()
		t.Fatal("it does not end")
	}
	if code := c.ProcessState.ExitCode(); code != exitInterrupted || !strings.Contains(errs.String(), "interrupted") {
		t.Errorf("exit %d: %s", code, errs)
	}
}
