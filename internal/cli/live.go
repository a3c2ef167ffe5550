package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"os/signal"
	"path/filepath"
	"runtime"
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"firstcue/internal/live"
	"firstcue/internal/training"
)

const liveLong = `Writes a session down while it happens: one key for each event, the clock is taken
for you. The keys that mean something now stand on the screen; they are letters and
digits, so a phone's keyboard over SSH will do. 40 columns and 12 rows are enough.

  1 2 3 ...  this cue is given now; again before an answer: asked again
  y n w      yes; no (a stay or walk: broke); wrong, did something else
  s          began to answer (then y when it is done)
  r          released: the stay or walk ends. Another cue given before asks how the
             stay ended (r, or q not seen) and is noted at the moment of its key
  g          gave up: closes the trial
  c          correction: then l leash, v verbal, or the level and Enter
  h          help given        a  was in position already     q  not seen
  e          acted early: then the cue's number
  t i        a remark; an incident or a sign of fear, pain or aggression
  o          change handler, place, leash, distraction or collar from here on
  u          undo the last key        p  pause: the clock stands still
  f          finish: then f again logs it

Each key is on the disk before the next one is read. A session that was cut off goes on
with firstcue live --resume, or is logged as it stands with --resume --finish. The note
is an ordinary timed note; where it is kept is shown.`

type liveOptions struct {
	handler, scorer, place, leash, distraction, device string
	weather, reward                                    string
	resume, finish, inHold                             bool
}

func newLiveCommand(a *app) *cobra.Command {
	var o liveOptions
	cmd := &cobra.Command{
		Use:   "live DOG",
		Short: "Write a session down while it happens, one key an event",
		Long:  liveLong,
		Example: `  firstcue live Tarn
  firstcue live Tarn --handler Ailsa --place paddock --leash off --distraction 2
  firstcue live --resume`,
		Args: func(cmd *cobra.Command, args []string) error {
			if o.resume {
				return takes(0, 1, "the dog's name")(cmd, args)
			}
			return takes(1, 1, "the dog's name")(cmd, args)
		},
		ValidArgsFunction: inOrder(a.completeDogs),
		RunE: func(cmd *cobra.Command, args []string) error {
			dog := ""
			if len(args) > 0 {
				dog = args[0]
			}
			if o.finish && !o.resume {
				return usagef("--finish logs a session that was cut off; it goes with --resume")
			}
			if o.resume {
				return a.resumeLive(cmd.Context(), dog, o)
			}
			return a.startLive(cmd.Context(), dog, o)
		},
	}
	fs := cmd.Flags()
	fs.StringVar(&o.handler, "handler", "", "who gives the cues, a `NAME` (asked if not given)")
	fs.StringVar(&o.place, "place", "", "`PLACE` (asked if not given)")
	fs.StringVar(&o.leash, "leash", "", "`STATE`: leash, long line, drag line, off (asked if not given)")
	fs.StringVar(&o.distraction, "distraction", "", "`CODE` 0 (familiar, quiet) to 4 (this dog's hardest thing; asked if not given)")
	fs.StringVar(&o.scorer, "scorer", "", "who writes it down, a `NAME`, if not the handler")
	fs.StringVar(&o.device, "device", "", "`DEVICE` the levels belong to (default: the dog's usual one)")
	fs.StringVar(&o.weather, "weather", "", "weather, in `WORDS`")
	fs.StringVar(&o.reward, "reward", "", "reward, in `WORDS`")
	fs.BoolVar(&o.resume, "resume", false, "go on with a session that was cut off")
	fs.BoolVar(&o.finish, "finish", false, "with --resume: log it as it stands, without the screen")
	fs.BoolVar(&o.inHold, "in-hold", false, "the trials in a vet hold are meant; they are left out of every figure")
	complete(cmd, "handler", a.completeHandlers)
	complete(cmd, "scorer", a.completeHandlers)
	complete(cmd, "place", a.completePlaces)
	complete(cmd, "device", a.completeDevices)
	return cmd
}

// liveDir is where notes of live sessions are kept until they are logged:
// $XDG_STATE_HOME, or the system's usual folder for such things.
func (a *app) liveDir() (string, error) {
	if d := a.env.Getenv("XDG_STATE_HOME"); filepath.IsAbs(d) {
		return filepath.Join(d, "firstcue", "live"), nil
	}
	if home := a.env.Getenv("HOME"); home != "" && runtime.GOOS != "windows" && runtime.GOOS != "darwin" {
		return filepath.Join(home, ".local", "state", "firstcue", "live"), nil
	}
	data, err := dataDir(runtime.GOOS, a.env.Getenv)
	if err != nil {
		return "", usagef("the home folder is not known, so there is nowhere to keep the note").try("set XDG_STATE_HOME to a folder")
	}
	return filepath.Join(data, "firstcue", "live"), nil
}

func (a *app) startLive(ctx context.Context, name string, o liveOptions) error {
	if err := a.mayBegin(false); err != nil {
		return err
	}
	k, set, err := a.kennel(ctx)
	if err != nil {
		return err
	}
	dog, err := pick(k.Dogs, "dog", name)
	if err != nil {
		return err
	}
	k = withTargets(k, set, dog.Name)
	if err := a.needTerminal("firstcue log --dog " + quote(dog.Name) + " --start 'today 9:10' NOTE stores a note written elsewhere"); err != nil {
		return err
	}
	given := map[string]string{"leash": o.leash, "distraction": o.distraction, "weather": o.weather, "reward": o.reward}
	for key, v := range given {
		if strings.ContainsAny(v, ";#\r\n") {
			return usagef("--%s %q holds a sign that a note can't", key, v)
		}
	}
	for _, x := range []struct {
		key, value string
		find       func(string) (string, error)
	}{
		{"handler", o.handler, func(s string) (string, error) { h, err := pick(k.Handlers, "handler", s); return h.Name, err }},
		{"scorer", o.scorer, func(s string) (string, error) { h, err := pick(k.Handlers, "handler", s); return h.Name, err }},
		{"place", o.place, func(s string) (string, error) { p, err := pick(k.Places, "place", s); return p.Name, err }},
		{"device", o.device, func(s string) (string, error) { d, err := pick(k.Devices, "device", s); return d.Name, err }},
	} {
		if x.value == "" {
			continue
		}
		if given[x.key], err = x.find(x.value); err != nil {
			return err
		}
	}
	if o.leash != "" && !containsLeash(o.leash) {
		return usagef("--leash is leash, long line, drag line or off, not %q", o.leash)
	}
	if d := o.distraction; d != "" && (len(d) != 1 || d[0] < '0' || d[0] > '4') {
		return usagef("--distraction is 0 (familiar, quiet) to 4 (this dog's hardest thing), not %q", d)
	}
	switch {
	case dog.RewardOnly && given["device"] != "":
		return usagef("%s is trained without a collar: --device has no use", dog.Name)
	case !dog.RewardOnly && given["device"] == "":
		if d, ok := k.Device(dog.Device); ok {
			given["device"] = d.Name
		}
	}
	for _, x := range []struct {
		key   string
		empty bool
	}{{"handler", len(k.Handlers) == 0}, {"place", len(k.Places) == 0}} {
		if given[x.key] == "" && x.empty {
			return usagef("there is no %s yet", x.key).try("firstcue %s add NAME", x.key)
		}
	}
	now := a.env.Now()
	for _, h := range dog.Holds {
		if h.Covers(training.DayOf(now), "") && !o.inHold {
			return usagef("%s is on vet hold: %s", dog.Name, h.Reason).try("the vet decides; firstcue dog hold ends a hold. --in-hold keeps the trials and leaves them out of every figure")
		}
	}
	dir, left, err := a.unlogged()
	if err != nil {
		return err
	}
	for _, l := range left {
		if training.Key(l.Dog) == training.Key(dog.Name) {
			return usagef("a session of %s is not logged yet: %s, %s", l.Dog, l.Start, plural(l.Cues, "cue")+" given").
				try("firstcue live --resume %s goes on with it, --resume --finish logs it\nits note: %s", quote(l.Dog), l.Path)
		}
	}
	zone := ""
	if n := now.Location().String(); n != "Local" && n != "" {
		if _, err := time.LoadLocation(n); err == nil && strings.Contains(n, "/") {
			zone = n
		}
	}
	m := live.New(live.Options{Kennel: k, Dog: dog.Name, Context: given, Start: now, Zone: zone, InHold: o.inHold, Ask: []string{"handler", "place", "leash", "distraction"}})
	return a.runLive(ctx, m, nil, dir, o)
}

// withTargets returns the kennel with the targets of its holds that are in force
// for a dog: the note says with each hold how long it was to be kept.
func withTargets(k training.Kennel, set []training.Setting, dog string) training.Kennel {
	bars := criteriaFor(k, set, dog)
	cues := slices.Clone(k.Cues)
	for i, c := range cues {
		if c.Kind == training.Holding {
			cues[i].Target = bars(c.Name).Target
		}
	}
	k.Cues = cues
	return k
}

func containsLeash(s string) bool {
	for _, l := range training.Leashes {
		if string(l) == s {
			return true
		}
	}
	return false
}

func (a *app) needTerminal(instead string) error {
	if _, ok := a.env.Stdin.(*os.File); ok && a.env.Terminal {
		return nil
	}
	return usagef("live needs a terminal: it reads single keys").try("%s", instead)
}

// unlogged returns the folder of live sessions and what is in it: those that
// were cut off.
func (a *app) unlogged() (dir string, left []live.Unlogged, err error) {
	if dir, err = a.liveDir(); err != nil {
		return "", nil, err
	}
	if left, err = live.Unfinished(dir); err != nil {
		return "", nil, failedf(err, "look for sessions cut off: %v", err)
	}
	return dir, left, nil
}

func (a *app) resumeLive(ctx context.Context, name string, o liveOptions) error {
	if err := a.mayBegin(false); err != nil {
		return err
	}
	k, set, err := a.kennel(ctx)
	if err != nil {
		return err
	}
	dir, left, err := a.unlogged()
	if err != nil {
		return err
	}
	var fit []live.Unlogged
	for _, l := range left {
		if name == "" || training.Key(l.Dog) == training.Key(name) {
			fit = append(fit, l)
		}
	}
	switch {
	case len(fit) == 0 && name != "" && len(left) > 0:
		return usagef("no session of %s was cut off; there is one of %s", name, left[len(left)-1].Dog)
	case len(fit) == 0:
		return usagef("no session was cut off: there is nothing to go on with").try("firstcue live DOG begins one")
	case len(fit) > 1 && name == "":
		var list []string
		for _, l := range fit {
			list = append(list, fmt.Sprintf("%s, %s, %s: firstcue live --resume %s", l.Dog, l.Start, plural(l.Cues, "cue")+" given", quote(l.Dog)))
		}
		return usagef("%d sessions were cut off: name the dog", len(fit)).try("%s", strings.Join(list, "\n"))
	}
	if !o.finish {
		if err := a.needTerminal("firstcue live --resume --finish logs the session as it stands"); err != nil {
			return err
		}
	}
	j, err := live.Reopen(fit[0].Path)
	if errors.Is(err, live.ErrBusy) {
		return usagef("the session of %s is still running in another terminal", fit[0].Dog)
	}
	if err != nil {
		return failedf(err, "open the note: %v", err)
	}
	m, err := live.Load(j.Text(), withTargets(k, set, fit[0].Dog), a.env.Now())
	if err != nil {
		j.Close()
		return usagef("%s: %v", fit[0].Path, err).try("look at the note; delete the file if there is nothing in it")
	}
	if o.finish {
		m.Unseen()
		return a.logLive(ctx, m, j, o)
	}
	return a.runLive(ctx, m, j, dir, o)
}

// runLive shows the screen and takes keys until the session ends. The terminal
// is put back on every way out.
func (a *app) runLive(ctx context.Context, m *live.Machine, j *live.Journal, dir string, o liveOptions) error {
	status, j, err := a.liveScreen(ctx, m, j, dir)
	if j == nil {
		if err == nil {
			a.say("nothing was noted")
		}
		return err
	}
	switch {
	case err == nil && status == live.Finished:
		return a.logLive(ctx, m, j, o)
	case err == nil:
		a.say("kept, not logged: %s\nfirstcue live --resume goes on with it", j.Path())
		return j.Close()
	}
	j.Close()
	a.warn("the session is kept: %s", j.Path())
	a.warn("firstcue live --resume goes on with it")
	return err
}

// hangUp is the end of a session from outside: the note is on disk.
var hangUp = exitError{code: exitInterrupted, msg: "stopped"}

func (a *app) liveScreen(ctx context.Context, m *live.Machine, j *live.Journal, dir string) (live.Status, *live.Journal, error) {
	in := a.env.Stdin.(*os.File)
	fd := int(in.Fd())
	size := fd
	if out, ok := a.env.Stdout.(*os.File); ok {
		size = int(out.Fd())
	}
	before, err := term.MakeRaw(fd)
	if err != nil {
		return 0, j, failedf(err, "the terminal can't be switched to single keys: %v", err)
	}
	s := &screen{out: a.env.Stdout, plain: a.env.Getenv("TERM") == "dumb"}
	s.open()
	defer func() {
		s.close()
		term.Restore(fd, before)
	}()

	stop := make(chan os.Signal, 1)
	signal.Notify(stop, live.Ended...)
	defer signal.Stop(stop)
	resized := make(chan os.Signal, 1)
	if len(live.Resized) > 0 {
		signal.Notify(resized, live.Resized...)
		defer signal.Stop(resized)
	}
	quit := make(chan struct{})
	defer close(quit)
	keys := readKeys(in, quit)
	tick := time.NewTicker(200 * time.Millisecond)
	defer tick.Stop()

	save := func() error {
		if !m.Ready() {
			return nil
		}
		var err error
		if j == nil {
			j, err = live.Begin(dir, m)
		} else {
			err = j.Save(m.Text())
		}
		if err != nil {
			return failedf(err, "keep the note on disk: %v", err)
		}
		return nil
	}
	if err := save(); err != nil {
		return 0, j, err
	}
	for {
		w, h, err := term.GetSize(size)
		if err != nil || w <= 0 {
			w, h = live.MinWidth, live.MinHeight
		}
		if err := s.show(m.Screen(w, h, a.env.Now())); err != nil {
			return 0, j, hangUp
		}
		select {
		case key, ok := <-keys:
			if !ok {
				return 0, j, hangUp // the terminal is gone
			}
			if key == 3 || key == 4 { // Ctrl-C, Ctrl-D
				return live.Kept, j, nil
			}
			s.asked = true
			status := m.Key(key, a.env.Now())
			if err := save(); err != nil {
				return 0, j, err
			}
			if status != live.Running {
				return status, j, nil
			}
		case <-stop:
			return 0, j, hangUp
		case <-ctx.Done():
			return 0, j, hangUp
		case <-resized:
			s.clear()
		case <-tick.C:
		}
	}
}

// logLive logs the note by the way every note goes, and takes it off the disk
// once it is stored.
func (a *app) logLive(ctx context.Context, m *live.Machine, j *live.Journal, o liveOptions) error {
	defer j.Close()
	if err := j.Save(m.Text()); err != nil {
		return failedf(err, "keep the note on disk: %v", err)
	}
	if n, _ := m.Trials(); n == 0 && !strings.Contains(m.Text(), "\n> ") && !strings.Contains(m.Text(), "\n! ") {
		a.say("no trial was noted, so nothing is logged")
		return j.Remove()
	}
	err := a.runLog(ctx, []input{{name: j.Path(), text: []byte(m.Text()), file: true}}, logOptions{format: "text", inHold: o.inHold})
	if e := (exitError{}); err != nil && !a.safe {
		if errors.As(err, &e) && strings.Contains(e.hint, j.Path()) {
			return err
		}
		return hinted(err, "the session is kept: "+j.Path(), "firstcue live --resume --finish logs it")
	}
	return errors.Join(err, j.Remove())
}

// readKeys hands on the keys of a terminal one by one. Arrow keys and the like,
// which arrive as sequences that begin with Escape, are passed over.
func readKeys(in io.Reader, quit <-chan struct{}) <-chan rune {
	keys := make(chan rune)
	go func() {
		defer close(keys)
		var rest []byte
		buf := make([]byte, 256)
		for {
			n, err := in.Read(buf)
			rest = append(rest, buf[:n]...)
			for len(rest) > 0 {
				if rest[0] == 27 && len(rest) > 1 {
					rest = rest[sequence(rest):]
					continue
				}
				if !utf8.FullRune(rest) && err == nil {
					break
				}
				r, size := utf8.DecodeRune(rest)
				rest = rest[size:]
				select {
				case keys <- r:
				case <-quit:
					return
				}
			}
			if err != nil {
				return
			}
		}
	}()
	return keys
}

// sequence is the length of the escape sequence at the head of b (ECMA-48: CSI
// ends with a byte from @ to ~; SS3 has one more byte).
func sequence(b []byte) int {
	switch b[1] {
	case '[':
		for i := 2; i < len(b); i++ {
			if b[i] >= '@' && b[i] <= '~' {
				return i + 1
			}
		}
		return len(b)
	case 'O':
		return min(3, len(b))
	}
	return 2
}

// screen draws lines over the last ones, with no more of a terminal than moving
// to the top left and clearing: every terminal of the last forty years knows
// that. On a dumb one it writes the state below the last after each key.
type screen struct {
	out   io.Writer
	plain bool
	last  string
	asked bool // plain: a key was pressed since
}

func (s *screen) open() {
	if !s.plain {
		io.WriteString(s.out, "\x1b[?1049h\x1b[?25l\x1b[2J")
	}
	s.asked = true
}

func (s *screen) close() {
	if !s.plain {
		io.WriteString(s.out, "\x1b[?25h\x1b[?1049l")
	}
}

func (s *screen) clear() {
	s.last = ""
	if !s.plain {
		io.WriteString(s.out, "\x1b[2J")
	}
}

func (s *screen) show(lines []string) error {
	if s.plain {
		if !s.asked {
			return nil
		}
		s.asked = false
		_, err := io.WriteString(s.out, strings.Join(lines, "\r\n")+"\r\n")
		return err
	}
	var b strings.Builder
	b.WriteString("\x1b[H")
	for i, l := range lines {
		if i > 0 {
			b.WriteString("\r\n")
		}
		b.WriteString(l + "\x1b[K")
	}
	b.WriteString("\x1b[J")
	if b.String() == s.last {
		return nil
	}
	s.last = b.String()
	_, err := io.WriteString(s.out, s.last)
	return err
}
