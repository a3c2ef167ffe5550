package cli

import (
	"context"
	"errors"
	"fmt"
	"io"
	"strings"
)

// Exit codes, the same for every command and format.
const (
	exitDone        = 0
	exitFailed      = 1 // the machine could not: disk, store, permission
	exitUsage       = 2 // wrong usage or bad input; nothing was stored
	exitAttention   = 3 // the answer is "not ready" or "needs attention", and --exit-code was given
	exitInterrupted = 130
)

// exitHelp stands at the end of every command's help.
const exitHelp = `Exit codes:
  0  done
  1  failed: the disk, the store or a permission; nothing is half stored
  2  wrong usage or bad input; nothing was stored
`

// exitHelpAttention is the further line of commands that have --exit-code, and
// of the program's own help.
const exitHelpAttention = `  3  the answer is "not ready" or "needs attention", and --exit-code was given
`

// exitError is an error with the exit code it leads to. Hint, if any, is
// printed on a line of its own: what to type instead. An empty msg prints
// nothing: the command has said it all.
type exitError struct {
	code int
	msg  string
	hint string
	err  error
}

func (e exitError) Error() string { return e.msg }

func (e exitError) Unwrap() error { return e.err }

// usagef makes an error of wrong usage or bad input.
func usagef(format string, args ...any) exitError {
	return exitError{code: exitUsage, msg: fmt.Sprintf(format, args...)}
}

// failedf makes an error of a machine that could not.
func failedf(err error, format string, args ...any) exitError {
	return exitError{code: exitFailed, msg: fmt.Sprintf(format, args...), err: err}
}

// try returns the error with a hint line.
func (e exitError) try(format string, args ...any) exitError {
	e.hint = fmt.Sprintf(format, args...)
	return e
}

// printError says what went wrong, house form: the program's name, lower case,
// no full stop, then the hint on lines of its own. It returns the exit code.
func printError(w io.Writer, err error) int {
	if err == nil {
		return exitDone
	}
	var e exitError
	if !errors.As(err, &e) {
		e = exitError{code: exitFailed, msg: err.Error()}
		if errors.Is(err, context.Canceled) {
			e = exitError{code: exitInterrupted, msg: "interrupted; nothing is half stored"}
		}
	}
	if e.msg != "" {
		fmt.Fprintf(w, "firstcue: %s\n", e.msg)
	}
	for line := range strings.Lines(e.hint) {
		fmt.Fprintf(w, "  %s\n", strings.TrimRight(line, "\n"))
	}
	return e.code
}
