// Command firstcue keeps the training record of dogs in board-and-train and
// says, with its reasons, which cues a dog answers on the first ask.
package main

import (
	"context"
	"os"
	"os/signal"
	"runtime"
	"runtime/debug"
	"slices"
	"strconv"
	"sync/atomic"
	"syscall"
	"time"
	_ "time/tzdata" // a machine without a zone database still knows when the clocks change

	"golang.org/x/term"

	"firstcue/internal/cli"
)

func main() {
	collectLate()
	os.Exit(run())
}

// collectLate puts off the first collection of memory until 32 MB are in use;
// most commands end before that. From then on all is as usual, so that a long
// import needs no more memory than without.
func collectLate() {
	if os.Getenv("GOGC") != "" {
		return
	}
	debug.SetGCPercent(800) // of the 4 MB that a heap is at least given
	runtime.SetFinalizer(new([16]byte), func(*[16]byte) { debug.SetGCPercent(100) })
}

// untilStopped returns a context that ends with the first signal to stop. From
// then on signals do what they do to any program, so that the second one ends it
// whatever it is doing; but a window that is closed hangs up more than once, the
// terminal and the shell each, and that is one signal. Between leave and what it
// returns, an interrupt from the keyboard is somebody else's.
func untilStopped() (ctx context.Context, leave func() (back func())) {
	ctx, cancel := context.WithCancel(context.Background())
	stops := []os.Signal{syscall.SIGTERM}
	for _, s := range []os.Signal{os.Interrupt, syscall.SIGHUP} {
		if !signal.Ignored(s) { // started with & in a script, or by nohup
			stops = append(stops, s)
		}
	}
	if slices.Contains(stops, os.Signal(syscall.SIGHUP)) {
		signal.Notify(make(chan os.Signal, 1), syscall.SIGHUP)
	}
	var left atomic.Bool
	came := make(chan os.Signal, 1)
	signal.Notify(came, stops...)
	go func() {
		for s := range came {
			if s == os.Interrupt && left.Load() {
				continue
			}
			signal.Stop(came)
			cancel()
			return
		}
	}()
	return ctx, func() func() {
		left.Store(true)
		return func() { left.Store(false) }
	}
}

func run() int {
	// A closed pipe is an error of the write, not the end of the process: there may
	// be something to take away first.
	signal.Notify(make(chan os.Signal, 1), syscall.SIGPIPE)
	ctx, leave := untilStopped()
	out := int(os.Stdout.Fd())
	width, screen := 0, term.IsTerminal(out)
	if screen {
		if w, _, err := term.GetSize(out); err == nil {
			width = w
		}
	}
	// COLUMNS counts off a terminal too: a nightly mail may ask for 72.
	if w, err := strconv.Atoi(os.Getenv("COLUMNS")); err == nil && w > 0 {
		width = w
	}
	return cli.Run(ctx, cli.Env{
		Args:     os.Args[1:],
		Stdin:    os.Stdin,
		Stdout:   os.Stdout,
		Stderr:   os.Stderr,
		Getenv:   os.Getenv,
		Now:      time.Now,
		Width:    width,
		Screen:   screen,
		Terminal: screen && term.IsTerminal(int(os.Stdin.Fd())),

		LeaveInterrupts: leave,
	})
}
