package cli

import "fmt"

// Exit codes, the same for every command and format.
const (
	exitDone      = 0
	exitFailed    = 1 // the machine could not: disk, store, permission
	exitUsage     = 2 // wrong usage or bad input; nothing was stored
	exitAttention = 3 // the answer is "not ready" or "needs attention", and --exit-code was given
)

// exitError is an error with the exit code it leads to. Hint, if any, is
// printed on a line of its own: what to type instead. An empty msg prints
// nothing: the command has said it all.
type exitError struct {
	code int
	msg  string
	hint string
}

func (e exitError) Error() string { return e.msg }

// usagef makes an error of wrong usage or bad input.
func usagef(format string, args ...any) error {
	return exitError{code: exitUsage, msg: fmt.Sprintf(format, args...)}
}
