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
	exitFailed      = 1   // the machine could not: disk, store, permission
	exitUsage       = 2   // wrong usage or bad input; nothing was stored
	exitAttention   = 3   // the answer is "not ready" or "needs attention", and --exit-code was given
	exitInterrupted = 130 // stopped by a signal, whichever: 128 and the number of SIGINT
	exitReaderGone  = 141 // 128 and the number of SIGPIPE, as the shell says it of other programs
)

// exitHelp stands at the end of every command's help.
const exitHelp = `Exit codes:
  0  done
  1  failed: the disk, the store or a permission; nothing is half stored
  2  wrong usage or bad input; nothing was stored
`

// exitHelpEnded is the end of the program's own help: how a command ends that
// was not let finish. The numbers are the shell's, 128 and the signal's.
const exitHelpEnded = `  130  interrupted (Ctrl-C); nothing is half stored
  141  the reader went away (firstcue ... | head)
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

// asExit returns the exitError in err; one without is a failure of the machine.
func asExit(err error) exitError {
	var e exitError
	if !errors.As(err, &e) {
		e = exitError{code: exitFailed, msg: err.Error()}
	}
	return e
}

// printError says what went wrong, house form: the program's name, lower case,
// no full stop, then the hint on lines of its own. It returns the exit code.
func printError(w io.Writer, err error) int {
	if err == nil {
		return exitDone
	}
	e := asExit(err)
	if errors.Is(err, context.Canceled) { // whatever was being done; the hint stays
		e.code, e.msg = exitInterrupted, "interrupted; nothing is half stored"
	}
	if e.msg != "" {
		fmt.Fprintf(w, "firstcue: %s\n", e.msg)
	}
	for line := range strings.Lines(e.hint) {
		fmt.Fprintf(w, "  %s\n", strings.TrimRight(line, "\n"))
	}
	return e.code
}
