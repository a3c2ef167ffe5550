package store

import (
	"errors"
	"fmt"
	"io/fs"
	"syscall"

	"modernc.org/sqlite"
)

// Errors of this package, for errors.Is. The error itself names the file and
// says what to do.
var (
	ErrNewer     = errors.New("the store was written by a newer firstcue")
	ErrNotStore  = errors.New("not a firstcue store")
	ErrNotFound  = errors.New("not found")
	ErrReadOnly  = errors.New("the store can't be written")
	ErrLocked    = errors.New("the store is in use")
	ErrDamaged   = errors.New("the store is damaged")
	ErrFull      = errors.New("the disk is full")
	ErrUnknown   = errors.New("a name is not on the kennel's lists")
	ErrTaken     = errors.New("the name is taken")
	ErrAmbiguous = errors.New("more than one fits")
	ErrInvalid   = errors.New("can't be stored")
	ErrExists    = errors.New("there is a file already")
)

// storeError is an error with its kind, what happened and what to do.
type storeError struct {
	kind  error
	msg   string
	cause error
}

func (e *storeError) Error() string { return e.msg }

func (e *storeError) Unwrap() []error {
	if e.cause == nil {
		return []error{e.kind}
	}
	return []error{e.kind, e.cause}
}

func fail(kind error, format string, args ...any) error {
	return &storeError{kind: kind, msg: fmt.Sprintf(format, args...)}
}

// Result codes of SQLite, from its public list of codes.
const (
	codeBusy     = 5
	codeReadOnly = 8
	codeIO       = 10
	codeCorrupt  = 11
	codeFull     = 13
	codeCantOpen = 14
	codeRefused  = 19 // a constraint
	codeNotADB   = 26
	codeMoved    = 8 | 4<<8 // read-only because the file was moved
)

// explain turns what SQLite or the system reported about the file into one of
// the errors above. Errors that are already explained pass through.
func explain(path string, err error) error {
	if err == nil {
		return nil
	}
	var known *storeError
	if errors.As(err, &known) {
		return err
	}
	wrap := func(kind error, say string) error {
		return &storeError{kind: kind, msg: fmt.Sprintf("%s: %s", path, say), cause: err}
	}
	switch {
	case errors.Is(err, syscall.ENOSPC):
		return wrap(ErrFull, "the disk is full, nothing was stored; free some space and repeat the command")
	case errors.Is(err, syscall.EROFS):
		return wrap(ErrReadOnly, "the file system can't be written; put the store elsewhere with --store FILE")
	case errors.Is(err, fs.ErrPermission):
		return wrap(ErrReadOnly, "no permission; give yourself the right to read and write the file and its folder, or name another with --store FILE")
	}
	var e *sqlite.Error
	if !errors.As(err, &e) {
		return fmt.Errorf("%s: %w", path, err)
	}
	if e.Code() == codeMoved {
		return wrap(ErrReadOnly, "the store was put away by a restore while this command ran, nothing was stored; repeat the command")
	}
	switch e.Code() & 0xff {
	case codeBusy:
		return wrap(ErrLocked, fmt.Sprintf("another firstcue has been using the store for more than %d seconds, nothing was stored; repeat the command", busyTimeout/1000))
	case codeReadOnly:
		return wrap(ErrReadOnly, "the store can't be written; give yourself the right to write the file and its folder, or name another with --store FILE")
	case codeCantOpen:
		return wrap(ErrReadOnly, "the store can't be opened; look whether you may read and write the file and its folder, or name another with --store FILE")
	case codeFull:
		return wrap(ErrFull, "the disk is full, nothing was stored; free some space and repeat the command")
	case codeCorrupt:
		return wrap(ErrDamaged, "the store is damaged; leave it as it is and run: firstcue store check")
	case codeRefused:
		return wrap(ErrInvalid, fmt.Sprintf("nothing was stored, a value is out of its range (%s)", e.Error()))
	case codeNotADB:
		return wrap(ErrNotStore, "this is not a firstcue store; it was left untouched. Name another file with --store FILE")
	case codeIO:
		return wrap(ErrDamaged, fmt.Sprintf("the disk reports an error (%s); nothing was stored. Look at the disk, then run: firstcue store check", e.Error()))
	}
	return fmt.Errorf("%s: %w", path, err)
}
