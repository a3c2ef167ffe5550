// Package cli is the program as seen from the shell: the commands, their flags
// and exit codes. A command checks its flags, opens the store if it needs one,
// loads, calls one step of the flow (note, store, analysis) and hands what came
// of it to report. It decides nothing about dogs itself.
package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"runtime"
	"strings"
	"sync/atomic"
	"syscall"

	"github.com/spf13/cobra"

	"firstcue/internal/analysis"
	"firstcue/internal/report"
	"firstcue/internal/say"
	"firstcue/internal/store"
)

// app is what the commands share: the outside, and the flags of the program as
// a whole.
type app struct {
	env     Env
	stdout  io.Writer // env.Stdout as it came, for another program to inherit
	store   string    // --store
	noColor bool
	quiet   bool
	rules   func(dog, cue string) analysis.Rule // how trials count, once a command has read it
	safe    bool                                // the note from standard input is in the store, as sessions or as a draft
	held    *store.Store                        // kept open by keeping; nil = opened by whoever needs it
}

// Run runs the command line in env.Args and returns the exit code.
func Run(ctx context.Context, env Env) int {
	a := &app{env: env, stdout: env.Stdout}
	ctx, stop := context.WithCancel(ctx)
	defer stop()
	out := &reader{w: env.Stdout, gone: stop}
	if !env.Screen {
		a.env.Stdout = out
	}
	root := newRoot(a)
	root.SetArgs(append([]string{}, env.Args...)) // of nil cobra makes the process's own
	root.SetIn(env.Stdin)
	root.SetOut(a.env.Stdout)
	root.SetErr(unlessLeft{out, env.Stderr})
	err := root.ExecuteContext(ctx)
	if out.left.Load() {
		return exitReaderGone // by now everything that was made for the answer is taken away
	}
	return printError(wrapper{env.Stderr, env.Width}, err)
}

// reader is whoever reads the answer. When it goes away before the end, as head
// does and a pager that is quit, the command ends: nobody wants the rest.
type reader struct {
	w    io.Writer
	gone func()
	left atomic.Bool
}

func (r *reader) Write(p []byte) (int, error) {
	n, err := r.w.Write(p)
	if errors.Is(err, syscall.EPIPE) {
		r.left.Store(true)
		r.gone()
	}
	return n, err
}

// unlessLeft is where cobra complains of a help that could not be written, unless
// that is because its reader left.
type unlessLeft struct {
	r *reader
	w io.Writer
}

func (u unlessLeft) Write(p []byte) (int, error) {
	if u.r.left.Load() {
		return len(p), nil
	}
	return u.w.Write(p)
}

// say prints a message about what was done. Messages go to standard error so
// that standard output holds nothing but the answer; -q silences them.
func (a *app) say(format string, args ...any) {
	if !a.quiet {
		fmt.Fprintf(wrapper{a.env.Stderr, a.env.Width}, format+"\n", args...)
	}
}

// warn prints what the user must know even with -q.
func (a *app) warn(format string, args ...any) {
	fmt.Fprintf(wrapper{a.env.Stderr, a.env.Width}, "firstcue: "+format+"\n", args...)
}

// wrapper breaks what is written into lines of at most width columns between
// words; 0 leaves it as it is, for a file. Each write is whole lines. A line goes
// on under its own beginning, two columns further in.
type wrapper struct {
	w     io.Writer
	width int
}

func (x wrapper) Write(p []byte) (int, error) {
	text := say.Shown(string(p)) // a name in it may be another's, from a merge
	if x.width <= 0 {
		if _, err := io.WriteString(x.w, text); err != nil {
			return 0, err
		}
		return len(p), nil
	}
	var b strings.Builder
	for line := range strings.Lines(text) {
		body := strings.TrimSuffix(line, "\n")
		in := len(body) - len(strings.TrimLeft(body, " "))
		if in+10 >= x.width {
			in = 0
		}
		for i, l := range report.Wrap(body, x.width, in+2) {
			if i > 0 {
				b.WriteString("\n" + strings.Repeat(" ", in+2))
			}
			b.WriteString(l)
		}
		b.WriteString(line[len(body):])
	}
	if _, err := io.WriteString(x.w, b.String()); err != nil {
		return 0, err
	}
	return len(p), nil
}

// wrapped writes lines of text to standard output, broken between words where
// the terminal is narrower.
func (a *app) wrapped(format string, args ...any) {
	fmt.Fprintf(wrapper{a.env.Stdout, a.width()}, format+"\n", args...)
}

// printf writes text for a person to standard output.
func (a *app) printf(format string, args ...any) {
	io.WriteString(a.env.Stdout, say.Shown(fmt.Sprintf(format, args...)))
}

// color reports whether colour may be used: only on a terminal, and not when
// the user said no. NO_COLOR counts when it is present and not empty.
func (a *app) color() bool {
	return a.env.Width > 0 && a.env.Terminal && !a.noColor &&
		a.env.Getenv("NO_COLOR") == "" && a.env.Getenv("TERM") != "dumb"
}

// width returns how many columns a text may take: the terminal's, at most 100
// (a report is laid out for 100 and longer lines are hard to read), and 100
// where there is no terminal, so that mail and screen agree.
func (a *app) width() int {
	if a.env.Width <= 0 || a.env.Width > 100 {
		return 100
	}
	return a.env.Width
}

// confirm asks a question that changes the store. Without a terminal it does
// not ask and does not go on: it names the flag to give instead.
func (a *app) confirm(ctx context.Context, yes bool, question string) error {
	if yes {
		return nil
	}
	if !a.env.Terminal {
		return usagef("nothing was changed: there is no terminal to ask on (%s)", question).
			try("add --yes to go ahead without a question")
	}
	fmt.Fprintf(a.env.Stderr, "%s [y/N] ", say.Shown(question))
	answer, err := readLine(a.input(ctx))
	if errors.Is(err, context.Canceled) {
		fmt.Fprintln(a.env.Stderr) // what follows is not to stand behind the question
		return err
	}
	if err != nil && answer == "" {
		return usagef("no answer; nothing was changed")
	}
	switch strings.ToLower(strings.TrimSpace(answer)) {
	case "y", "yes":
		return nil
	}
	return usagef("nothing was changed")
}

// readLine reads one line byte by byte, so that what follows stays unread.
func readLine(r io.Reader) (string, error) {
	var line []byte
	var b [1]byte
	for {
		n, err := r.Read(b[:])
		if n > 0 {
			if b[0] == '\n' {
				return string(line), nil
			}
			line = append(line, b[0])
		}
		if err != nil {
			return string(line), err
		}
	}
}

// storePath returns the store's file: --store, then FIRSTCUE_STORE, then the
// user's data directory.
func (a *app) storePath() (string, error) {
	if a.store != "" {
		return a.store, nil
	}
	if p := a.env.Getenv("FIRSTCUE_STORE"); p != "" {
		return p, nil
	}
	dir, err := dataDir(runtime.GOOS, a.env.Getenv)
	if err != nil {
		return "", err
	}
	return filepath.Join(dir, "firstcue", "kennel.db"), nil
}

// dataDir returns where a program keeps its user's data: XDG_DATA_HOME if it is
// an absolute path (a relative one is invalid by the XDG base directory
// specification and is ignored), else the system's usual folder.
func dataDir(system string, getenv func(string) string) (string, error) {
	if d := getenv("XDG_DATA_HOME"); filepath.IsAbs(d) {
		return d, nil
	}
	var dir string
	switch home := getenv("HOME"); system {
	case "windows":
		if dir = getenv("LOCALAPPDATA"); dir == "" && getenv("USERPROFILE") != "" {
			dir = filepath.Join(getenv("USERPROFILE"), "AppData", "Local")
		}
	case "darwin", "ios":
		if home != "" {
			dir = filepath.Join(home, "Library", "Application Support")
		}
	default:
		if home != "" {
			dir = filepath.Join(home, ".local", "share")
		}
	}
	if dir == "" {
		return "", usagef("the home folder is not known, so there is no usual place for the store").
			try("name a file with --store FILE or the variable FIRSTCUE_STORE")
	}
	return dir, nil
}

// storeExists reports whether there is something at the store's path, be it no
// store at all. What a killed first command leaves is nothing.
func storeExists(path string) bool { return store.Begun(path) }

// isGroup marks what group made.
const isGroup = "group"

// group makes a command that only holds others. By itself it shows its help; a
// word that is none of its commands is refused with the nearest one.
func group(cmd *cobra.Command, subs ...*cobra.Command) *cobra.Command {
	cmd.AddCommand(subs...)
	cmd.Annotations = map[string]string{isGroup: "yes"}
	cmd.Args = func(cmd *cobra.Command, args []string) error {
		if len(args) == 0 {
			return nil
		}
		return unknownCommand(cmd, args[0])
	}
	cmd.RunE = func(cmd *cobra.Command, _ []string) error { return cmd.Help() }
	return cmd
}
