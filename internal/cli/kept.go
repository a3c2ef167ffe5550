package cli

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"time"

	"firstcue/internal/store"
)

// keepPatience is how long a text that may be lost waits for the store to file
// it, before it goes into a file.
const keepPatience = 5 * time.Second

// hinted returns the error with further hint lines below those it has; its exit
// code and what it wraps stay.
func hinted(err error, lines ...string) error {
	e := asExit(err)
	e.err = err
	if e.hint != "" {
		lines = append([]string{e.hint}, lines...)
	}
	return e.try("%s", strings.Join(lines, "\n"))
}

// withContext puts context lines before a text: what the flags or the session
// said is part of it.
func withContext(lines string, text []byte) []byte {
	if lines == "" {
		return text
	}
	return append([]byte(lines+"\n"), text...)
}

// fileDraft files a text as a draft where the store can still take one, although
// err was the end of the command.
func (a *app) fileDraft(ctx context.Context, err error, name string, text []byte) (store.Draft, error) {
	if _, missing := a.noStoreYet(); missing != nil || errors.Is(err, store.ErrLocked) {
		return store.Draft{}, errors.Join(err, missing) // none is made under a misspelt name, and nobody waits twice
	}
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), keepPatience)
	defer cancel()
	return a.keepDraft(ctx, name, text)
}

// keepText sees to it that a text which is nowhere else outlives the command that
// failed with err: as a draft, else in a file in the folder of temporary files,
// else on the screen. The error then says where, and again how a file of it is
// used.
func (a *app) keepText(ctx context.Context, err error, name string, text []byte, again func(file string) string) error {
	if len(bytes.TrimSpace(text)) == 0 {
		return err
	}
	if d, failed := a.fileDraft(ctx, err, name, text); failed == nil {
		return hinted(err, draftKept(d.ID), again("note.txt"))
	}
	f, failed := os.CreateTemp("", "firstcue-note-*.txt") // for its owner only
	if failed == nil {
		_, failed = f.Write(text)
		if failed = errors.Join(failed, f.Close()); failed == nil {
			return hinted(err, "your text is kept: "+f.Name(), again(f.Name()))
		}
		os.Remove(f.Name())
	}
	fmt.Fprintf(a.env.Stderr, "%s\n", bytes.TrimRight(text, "\n"))
	return hinted(err, fmt.Sprintf("your text could be put nowhere (%v); it stands above, copy it", failed))
}

func draftKept(id int64) string {
	return fmt.Sprintf("your text is kept as draft %d: firstcue draft show %d > note.txt", id, id)
}

// keepPiped keeps the note from standard input after a log that stored nothing,
// if it is not kept yet.
func (a *app) keepPiped(ctx context.Context, inputs []input, o logOptions, err error) error {
	if err == nil || a.safe || o.dryRun {
		return err
	}
	for _, n := range inputs {
		if n.file || n.typed {
			continue
		}
		lines, _ := o.defaults() // flags that can't be lines are in the command that was typed
		err = a.keepText(ctx, err, "standard input", withContext(lines, n.text), func(file string) string {
			return "then: firstcue log " + quote(file)
		})
	}
	return err
}

// beside lists what else is in the folder of a file: what an editor that was
// stopped put away.
func beside(path string) []string {
	all, _ := os.ReadDir(filepath.Dir(path))
	var out []string
	for _, e := range all {
		if p := filepath.Join(filepath.Dir(path), e.Name()); p != path {
			out = append(out, p)
		}
	}
	return out
}
