package cli

import (
	"context"
	"io"
)

// input is standard input for as long as the command is wanted: a read of it
// ends with the context, however long the person or the program at the other end
// takes.
func (a *app) input(ctx context.Context) io.Reader { return untilDone{ctx, a.env.Stdin} }

// untilDone reads from r until ctx ends, and fails with its error from then on.
// A read that r does not give up is left to itself: nothing but the end of the
// program can end a read from a terminal or a pipe, and what it brings is
// dropped.
type untilDone struct {
	ctx context.Context
	r   io.Reader
}

func (u untilDone) Read(p []byte) (int, error) {
	if err := u.ctx.Err(); err != nil {
		return 0, err
	}
	type read struct {
		n   int
		err error
	}
	buf := make([]byte, len(p)) // p is the caller's again when the context ends
	done := make(chan read, 1)
	go func() {
		n, err := u.r.Read(buf)
		done <- read{n, err}
	}()
	select {
	case x := <-done:
		return copy(p, buf[:x.n]), x.err
	case <-u.ctx.Done():
		return 0, u.ctx.Err()
	}
}
