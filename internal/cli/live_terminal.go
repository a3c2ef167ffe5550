package cli

import (
	"context"
	"io"
	"os"
	"os/signal"
	"strings"
	"time"
	"unicode/utf8"

	"golang.org/x/term"

	"firstcue/internal/live"
)

// hangUp is the end of a session from outside: the note is on disk.
var hangUp = exitError{code: exitInterrupted, msg: "stopped"}

// liveScreen shows the screen and takes keys until the session ends. The journal
// it returns is nil when nothing was begun.
func (a *app) liveScreen(ctx context.Context, m *live.Machine, j *live.Journal, dir string) (live.Status,
	*live.Journal, error) {
	in := a.env.Stdin.(*os.File)
	fd := int(in.Fd())
	l := &liveLoop{a: a, m: m, j: j, dir: dir, size: fd, stop: make(chan os.Signal, 1),
		resized: make(chan os.Signal, 1)}
	if out, ok := a.env.Stdout.(*os.File); ok {
		l.size = int(out.Fd())
	}
	before, err := term.MakeRaw(fd)
	if err != nil {
		return 0, j, failedf(err, "the terminal can't be switched to single keys: %v", err)
	}
	l.screen = &screen{out: a.env.Stdout, plain: a.env.Getenv("TERM") == "dumb"}
	l.screen.open()
	defer func() {
		l.screen.close()
		term.Restore(fd, before)
	}()
	signal.Notify(l.stop, live.Ended...)
	defer signal.Stop(l.stop)
	if len(live.Resized) > 0 {
		signal.Notify(l.resized, live.Resized...)
		defer signal.Stop(l.resized)
	}
	quit := make(chan struct{})
	defer close(quit)
	status, err := l.run(ctx, readKeys(in, quit))
	return status, l.j, err
}

// liveLoop is a session on a terminal.
type liveLoop struct {
	a             *app
	m             *live.Machine
	j             *live.Journal
	dir           string
	screen        *screen
	size          int // file descriptor of what has the terminal's size
	stop, resized chan os.Signal
}

func (l *liveLoop) run(ctx context.Context, keys <-chan rune) (live.Status, error) {
	tick := time.NewTicker(200 * time.Millisecond)
	defer tick.Stop()
	if err := l.save(); err != nil {
		return 0, err
	}
	for {
		w, h, err := term.GetSize(l.size)
		if err != nil || w <= 0 {
			w, h = live.MinWidth, live.MinHeight
		}
		if err := l.screen.show(l.m.Screen(w, h, l.a.env.Now())); err != nil {
			return 0, hangUp
		}
		select {
		case key, ok := <-keys:
			if !ok {
				return 0, hangUp // the terminal is gone
			}
			if key == 3 || key == 4 { // Ctrl-C, Ctrl-D
				return live.Kept, nil
			}
			l.screen.asked = true
			status := l.m.Key(key, l.a.env.Now())
			if err := l.save(); err != nil || status != live.Running {
				return status, err
			}
		case <-l.stop:
			return 0, hangUp
		case <-ctx.Done():
			return 0, hangUp
		case <-l.resized:
			l.screen.clear()
		case <-tick.C:
		}
	}
}

// save puts the note on the disk, once the session has begun.
func (l *liveLoop) save() (err error) {
	switch {
	case !l.m.Ready():
		return nil
	case l.j == nil:
		l.j, err = live.Begin(l.dir, l.m)
	default:
		err = l.j.Save(l.m.Text())
	}
	if err != nil {
		return failedf(err, "keep the note on disk: %v", err)
	}
	return nil
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
