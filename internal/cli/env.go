package cli

import (
	"io"
	"time"
)

// Env is everything the program takes from outside. Tests hand in their own;
// only main touches the real streams, environment and clock.
type Env struct {
	Args   []string
	Stdin  io.Reader
	Stdout io.Writer
	Stderr io.Writer
	Getenv func(string) string
	Now    func() time.Time
	// Width is the width of the terminal on Stdout in columns, or what the
	// person says it is; 0 when Stdout is not a terminal.
	Width int
	// Screen reports that Stdout is a terminal, wherever the input comes from.
	Screen bool
	// Terminal reports that Stdin and Stdout are both terminals, so that a
	// question may be asked.
	Terminal bool
	// LeaveInterrupts leaves Ctrl-C to another program on the same terminal, an
	// editor, until what it returns is called. nil where nobody catches it.
	LeaveInterrupts func() (back func())
}
