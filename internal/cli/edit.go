package cli

import (
	"context"
	"errors"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"syscall"
	"time"

	"golang.org/x/term"

	"firstcue/internal/note"
	"firstcue/internal/report"
	"firstcue/internal/training"
)

// editorGrace is how long an editor has, once it is told to end, to put away
// what was typed.
const editorGrace = 3 * time.Second

// editing is a session's note with the person's editor, in a file of its own in
// a folder of its own.
type editing struct {
	a         *app
	was       training.Session
	editor    string
	dir, path string
	original  string
	stopped   bool // the editor did not end by itself
}

// newEditing writes the session's note for the editor.
func (a *app) newEditing(was training.Session, text string) (*editing, error) {
	editor := a.env.Getenv("VISUAL")
	if strings.TrimSpace(editor) == "" {
		editor = a.env.Getenv("EDITOR")
	}
	if strings.TrimSpace(editor) == "" {
		return nil, usagef("no editor is set (VISUAL or EDITOR)").
			try("firstcue session show %s --format note > note.txt, change it, then\nfirstcue session amend %s --file note.txt", report.ShortID(was.ID), report.ShortID(was.ID))
	}
	dir, err := os.MkdirTemp("", "firstcue-amend-")
	if err != nil {
		return nil, failedf(err, "make a temporary folder: %v", err)
	}
	e := &editing{a: a, was: was, editor: editor, dir: dir, path: filepath.Join(dir, "session-"+report.ShortID(was.ID)+".txt")}
	e.original = strings.TrimRight(text, "\n") + "\n"
	if err := os.WriteFile(e.path, []byte(e.original), 0o600); err != nil {
		os.RemoveAll(dir)
		return nil, failedf(err, "write the note for the editor: %v", err)
	}
	return e, nil
}

// session opens the note in the editor until it has no problem or the person
// gives up. The text stays in its file; done or keep ends that.
func (e *editing) session(ctx context.Context, opt note.Options) (training.Session, error) {
	opt.Name = e.path
	for {
		if err := e.run(ctx); err != nil {
			e.stopped = true
			if ctx.Err() == nil {
				err = failedf(err, "the editor %s: %v; nothing was changed", e.editor, err)
			}
			return training.Session{}, e.keep(ctx, err)
		}
		text, err := os.ReadFile(e.path)
		if err != nil {
			return training.Session{}, hinted(failedf(err, "read what the editor left: %v; nothing was changed", err), beside(e.path)...)
		}
		if string(text) == e.original {
			e.done()
			return training.Session{}, exitError{code: exitDone, msg: "the note was left as it was"}
		}
		res := note.Parse(text, opt)
		for _, p := range res.Problems {
			e.a.showProblem(p)
		}
		now, err := oneSession(res)
		if err == nil {
			return now, nil
		}
		if e.a.env.Terminal {
			again := e.a.confirm(ctx, false, "Edit it again?")
			if again == nil {
				continue
			}
			if errors.Is(again, context.Canceled) {
				err = again
			}
		}
		return now, e.keep(ctx, err)
	}
}

// run runs the editor until it ends. Ctrl-C is the editor's own meanwhile. It is
// told to end when the command is.
func (e *editing) run(ctx context.Context) error {
	words := strings.Fields(e.editor) // a command with arguments, as in other programs
	cmd := exec.CommandContext(ctx, words[0], append(words[1:], e.path)...)
	cmd.Stdin, cmd.Stdout, cmd.Stderr = e.a.env.Stdin, e.a.stdout, e.a.env.Stderr
	cmd.Cancel = func() error { return cmd.Process.Signal(syscall.SIGTERM) }
	cmd.WaitDelay = editorGrace
	if leave := e.a.env.LeaveInterrupts; leave != nil {
		defer leave()()
	}
	if in, ok := e.a.env.Stdin.(*os.File); ok {
		// An editor that is stopped may leave the terminal as it had set it.
		if before, err := term.GetState(int(in.Fd())); err == nil {
			defer term.Restore(int(in.Fd()), before)
		}
	}
	err := cmd.Run()
	if ctx.Err() != nil {
		return ctx.Err()
	}
	return err
}

// done takes the file away: its text is in the store.
func (e *editing) done() { os.RemoveAll(e.dir) }

// keep says where the text is after err: in the drafts if the store takes it,
// because the folder of temporary files may be empty tomorrow, else still in the
// file. What an editor that was stopped put beside it stays too.
func (e *editing) keep(ctx context.Context, err error) error {
	text, failed := os.ReadFile(e.path)
	var more []string
	if e.stopped {
		more = beside(e.path)
	}
	changed := failed == nil && string(text) != e.original
	if !changed && len(more) == 0 {
		e.done()
		return err
	}
	if changed {
		if d, failed := e.a.fileDraft(ctx, err, filepath.Base(e.path), text); failed == nil {
			err = hinted(err, draftKept(d.ID), amendAgain(e.was, "note.txt"))
			if len(more) == 0 {
				e.done()
			}
		} else {
			err = hinted(err, "your text is kept: "+e.path, amendAgain(e.was, e.path))
		}
	}
	if len(more) > 0 {
		err = hinted(err, "the editor left beside it: "+strings.Join(more, ", "))
	}
	return err
}
