package cli

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"golang.org/x/term"

	"firstcue/internal/store"
	"firstcue/internal/training"
)

// TestLiveProgram is not a test: it is the program that the tests below start
// in a terminal, with the real streams and clock.
func TestLiveProgram(t *testing.T) {
	if os.Getenv("FIRSTCUE_LIVE_ARGS") == "" {
		t.Skip("run by the tests of live only")
	}
	code := Run(context.Background(), Env{Args: strings.Fields(os.Getenv("FIRSTCUE_LIVE_ARGS")), Stdin: os.Stdin, Stdout: os.Stdout, Stderr: os.Stderr,
		Getenv: os.Getenv, Now: time.Now, Width: 40, Terminal: term.IsTerminal(0) && term.IsTerminal(1)})
	fmt.Println("exit", code)
	os.Exit(code)
}

// terminal is a tmux of our own with one window.
type terminal struct {
	t    *testing.T
	base string // of the names of its servers: a new one for each start
	name string
	dir  string
	env  []string

	starts int
}

func newTerminal(t *testing.T) *terminal {
	if _, err := exec.LookPath("tmux"); err != nil {
		t.Skip("SKIPPED: no tmux here, so the screen of live was not tried in a terminal; apt install tmux")
	}
	dir := t.TempDir()
	x := &terminal{t: t, base: fmt.Sprintf("firstcue-test-%d-%s", os.Getpid(), strings.ReplaceAll(t.Name(), "/", "-")), dir: dir,
		env: []string{"FIRSTCUE_STORE=" + filepath.Join(dir, "kennel.db"), "XDG_STATE_HOME=" + filepath.Join(dir, "state"), "TZ=UTC"}}
	ctx := context.Background()
	s, err := store.Open(ctx, filepath.Join(dir, "kennel.db"), store.Options{Create: true, Now: time.Now})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	must := func(err error) {
		if err != nil {
			t.Helper()
			t.Fatal(err)
		}
	}
	_, err = s.PutDog(ctx, training.Dog{Name: "Tarn"})
	must(err)
	_, err = s.PutHandler(ctx, training.Handler{Name: "Ailsa", Role: training.Trainer})
	must(err)
	_, err = s.PutPlace(ctx, training.Place{Name: "paddock"})
	must(err)
	return x
}

func (x *terminal) tmux(args ...string) string {
	x.t.Helper()
	out, err := exec.Command("tmux", append([]string{"-L", x.name}, args...)...).CombinedOutput()
	if err != nil {
		x.t.Fatalf("tmux %v: %v\n%s", args, err, out)
	}
	return string(out)
}

// start runs the program in a new window of the size; the window stays after it.
func (x *terminal) start(width, height int, args string) {
	x.t.Helper()
	exe, err := os.Executable()
	if err != nil {
		x.t.Fatal(err)
	}
	command := fmt.Sprintf("env %s 'FIRSTCUE_LIVE_ARGS=%s' %s -test.run=^TestLiveProgram$; echo back $(stty -a | grep -o -- '-\\?icanon'); sleep 600", strings.Join(x.env, " "), args, exe)
	x.starts++
	x.name = fmt.Sprintf("%s-%d", x.base, x.starts)
	name := x.name
	x.t.Cleanup(func() { exec.Command("tmux", "-L", name, "kill-server").Run() })
	x.tmux("-f", "/dev/null", "new-session", "-d", "-x", strconv.Itoa(width), "-y", strconv.Itoa(height), command)
}

func (x *terminal) screen() string { return x.tmux("capture-pane", "-p") }

// wait waits until the screen shows the text.
func (x *terminal) wait(text string) string {
	x.t.Helper()
	var last string
	for end := time.Now().Add(20 * time.Second); time.Now().Before(end); time.Sleep(50 * time.Millisecond) {
		if last = x.screen(); strings.Contains(last, text) {
			return last
		}
	}
	x.t.Fatalf("the screen never showed %q; it shows\n%s", text, last)
	return ""
}

func (x *terminal) keys(keys ...string) { x.tmux(append([]string{"send-keys"}, keys...)...) }

func (x *terminal) note() string {
	x.t.Helper()
	paths, _ := filepath.Glob(filepath.Join(x.dir, "state", "firstcue", "live", "*.note"))
	if len(paths) != 1 {
		x.t.Fatalf("notes on disk: %v", paths)
	}
	b, err := os.ReadFile(paths[0])
	if err != nil {
		x.t.Fatal(err)
	}
	return string(b)
}

func (x *terminal) stored() []training.Session {
	x.t.Helper()
	ctx := context.Background()
	s, err := store.Open(ctx, filepath.Join(x.dir, "kennel.db"), store.Options{ReadOnly: true, Now: time.Now})
	if err != nil {
		x.t.Fatal(err)
	}
	defer s.Close()
	list, err := s.Sessions(ctx, store.Filter{Dog: "Tarn"})
	if err != nil {
		x.t.Fatal(err)
	}
	return list
}

// kill ends the program in the window at once, as a lost power supply would.
func (x *terminal) kill() {
	x.t.Helper()
	shell := strings.TrimSpace(x.tmux("display-message", "-p", "#{pane_pid}"))
	out, err := exec.Command("pgrep", "-P", shell).Output()
	pid := strings.TrimSpace(string(out))
	if err != nil || pid == "" || strings.Contains(pid, "\n") {
		x.t.Fatalf("the program below %s: %q, %v", shell, out, err)
	}
	if err := exec.Command("kill", "-9", pid).Run(); err != nil {
		x.t.Fatal(err)
	}
}

// The whole way at 40 columns and 12 rows: questions, trials, a correction, an
// undo; the program is killed, goes on, finishes, and the session is stored.
func TestLiveSurvivesKill(t *testing.T) {
	x := newTerminal(t)
	x.start(40, 12, "live Tarn")
	x.wait("1 Ailsa")
	x.keys("1")
	x.wait("1 paddock")
	x.keys("1")
	x.wait("4 off")
	x.keys("4")
	x.wait("0 none")
	x.keys("2")
	screen := x.wait("NO CUE OPEN")
	cue := func(name string) string { // the digit shown for a cue
		t.Helper()
		for _, item := range strings.FieldsFunc(strings.ReplaceAll(screen, "\n", "  "), func(r rune) bool { return r == '\n' }) {
			for _, w := range strings.Split(item, "  ") {
				if d, n, ok := strings.Cut(strings.TrimSpace(w), " "); ok && n == name && len(d) == 1 {
					return d
				}
			}
		}
		t.Fatalf("no key for %s on\n%s", name, screen)
		return ""
	}
	for _, l := range strings.Split(screen, "\n") {
		if len([]rune(l)) > 40 {
			t.Errorf("a line of %d columns on 40: %q", len([]rune(l)), l)
		}
	}
	sit, down, stay := cue("sit"), cue("down"), cue("stay")
	x.keys(sit)
	x.wait("S I T")
	x.keys("y")
	x.wait("1: sit yes")
	x.keys(down)
	x.wait("D O W N")
	x.keys("n")
	x.wait("no")
	x.keys("c")
	x.wait("l leash")
	x.keys("l")
	x.wait("corrected leash")
	x.keys(down)
	x.wait("ask 2")
	x.keys("y")
	x.wait("2: down yes")
	x.keys(sit)
	x.wait("S I T")
	x.keys("n")
	x.wait("S I T   ")
	x.keys("u")
	x.wait("taken back: -")
	before := x.note()
	if !strings.Contains(before, "# taken back: ") {
		t.Errorf("the undo is not on disk:\n%s", before)
	}
	x.kill()
	x.wait("back")
	if now := x.note(); now != before {
		t.Errorf("the note changed when it was killed:\n%s\nwas\n%s", now, before)
	}
	x.tmux("kill-server")

	x.start(40, 12, "live Tarn")
	x.wait("--resume")
	x.tmux("kill-server")

	x.start(100, 30, "live --resume")
	x.wait("sit open ")
	x.keys("y")
	x.wait("3: sit yes")
	x.keys(stay)
	x.wait("S T A Y")
	time.Sleep(1200 * time.Millisecond)
	x.keys("r")
	x.wait("4: stay held 1") // before its target: released
	x.keys("f")
	x.wait("FINISH: 4 trials")
	x.keys("f")
	x.wait("exit 0")
	x.wait("back icanon") // the terminal is as it was
	got := x.stored()
	if len(got) != 1 || len(got[0].Trials) != 4 {
		t.Fatalf("stored: %+v", got)
	}
	var cues []string
	for _, f := range got[0].Trials {
		cues = append(cues, fmt.Sprint(f.Cue, " ", f.Outcome, " ", f.Asks, " ", len(f.Corrections)))
	}
	if s := strings.Join(cues, "; "); s != "sit answered 1 0; down answered 2 1; sit answered 1 0; stay released 1 0" {
		t.Errorf("trials: %s", s)
	}
	if got[0].Source != training.Live || got[0].Handler != "Ailsa" || got[0].Place != "paddock" || got[0].Leash != "off" || got[0].Distraction != training.Known(2) {
		t.Errorf("session: %+v", got[0])
	}
	if left, _ := filepath.Glob(filepath.Join(x.dir, "state", "firstcue", "live", "*")); len(left) != 0 {
		t.Errorf("left on disk: %v", left)
	}
}

// Ctrl-C and a terminal that goes away leave the note; --resume --finish logs it
// without a screen.
func TestLiveHangUpThenFinish(t *testing.T) {
	for _, how := range []string{"ctrl-c", "gone"} {
		t.Run(how, func(t *testing.T) {
			x := newTerminal(t)
			x.start(60, 20, "live Tarn --handler Ailsa --place paddock --leash off --distraction 1")
			x.wait("NO CUE OPEN")
			x.keys("e")
			x.wait("before which cue")
			x.keys("1")
			x.wait("1: ")
			if how == "ctrl-c" {
				x.keys("C-c")
				x.wait("kept, not logged")
				x.wait("exit 0")
				x.wait("back icanon")
			}
			x.tmux("kill-server") // the program gets SIGHUP
			if n := x.note(); !strings.Contains(n, " early ") {
				t.Fatalf("note:\n%s", n)
			}
			x.start(60, 20, "live --resume Tarn --finish")
			x.wait("exit 0")
			if got := x.stored(); len(got) != 1 || len(got[0].Trials) != 1 || got[0].Trials[0].Outcome != training.Early {
				t.Errorf("stored: %+v", got)
			}
		})
	}
}

func TestLiveRefusesWithoutTerminal(t *testing.T) {
	var out, errs strings.Builder
	dir := t.TempDir()
	env := Env{Args: []string{"dog", "add", "Tarn"}, Stdin: strings.NewReader(""), Stdout: &out, Stderr: &errs, Now: time.Now,
		Getenv: func(k string) string {
			return map[string]string{"FIRSTCUE_STORE": filepath.Join(dir, "k.db"), "XDG_STATE_HOME": dir}[k]
		}}
	if code := Run(t.Context(), env); code != 0 {
		t.Fatal(errs.String())
	}
	errs.Reset()
	env.Args = []string{"live", "Tarn"}
	if code := Run(t.Context(), env); code != 2 || !strings.Contains(errs.String(), "terminal") || !strings.Contains(errs.String(), "firstcue log") {
		t.Errorf("exit %d: %s", code, errs.String())
	}
	errs.Reset()
	env.Args = []string{"live", "--resume"}
	if code := Run(t.Context(), env); code != 2 || !strings.Contains(errs.String(), "nothing to go on with") {
		t.Errorf("exit %d: %s", code, errs.String())
	}
}

// The target that live writes is the one in force for the dog: its own bar, else
// the kennel's, else the cue's.
func TestLiveTargetsInForce(t *testing.T) {
	k := training.Kennel{Cues: training.SeedCues()}
	set := []training.Setting{{Name: "target", Cue: "stay", Dog: "Tarn", Value: 90}, {Name: "target", Cue: "place", Value: 45}}
	for _, c := range []struct {
		dog, cue string
		want     float64
	}{{"Tarn", "stay", 90}, {"Moss", "stay", 60}, {"Tarn", "place", 45}} {
		q, _ := withTargets(k, set, c.dog).Cue(c.cue)
		if q.Target != training.Known(c.want) {
			t.Errorf("%s of %s: %+v", c.cue, c.dog, q.Target)
		}
	}
	if q, _ := k.Cue("stay"); q.Target != training.Known(60) {
		t.Error("the kennel itself was changed")
	}
}
