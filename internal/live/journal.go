package live

import (
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sort"
	"strings"
	"time"

	"firstcue/internal/training"
)

// ErrBusy is a journal that another running session holds.
var ErrBusy = errors.New("another live session writes this note now")

// Journal is the note of a live session on disk. Every Save is on the disk when
// it returns, so nothing that was shown as noted is lost with the terminal, the
// connection or the power.
type Journal struct {
	path string
	f    *os.File // open for appending
	lock *os.File
	text string // what the file holds
}

// Begin makes the journal of a new session in dir, which it makes too if need
// be. The name tells dog and start.
func Begin(dir string, m *Machine) (*Journal, error) {
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return nil, err
	}
	name := strings.Map(func(r rune) rune {
		if r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' || r >= '0' && r <= '9' || r == '-' {
			return r
		}
		return '_'
	}, m.dog.Name)
	j := &Journal{path: filepath.Join(dir, name+"."+m.start.Format("20060102T150405")+".note")}
	if err := j.acquire(); err != nil {
		return nil, err
	}
	f, err := os.OpenFile(j.path, os.O_CREATE|os.O_EXCL|os.O_WRONLY|os.O_APPEND, 0o600)
	if err != nil {
		j.Close()
		return nil, err
	}
	j.f = f
	if err := syncDir(dir); err != nil {
		j.Close()
		return nil, err
	}
	return j, j.Save(m.Text())
}

// Reopen takes up a journal that was left, with what it holds.
func Reopen(path string) (*Journal, error) {
	j := &Journal{path: path}
	if err := j.acquire(); err != nil {
		return nil, err
	}
	text, err := os.ReadFile(path)
	if err == nil {
		j.text = string(text)
		j.f, err = os.OpenFile(path, os.O_WRONLY|os.O_APPEND, 0o600)
	}
	if err != nil {
		j.Close()
		return nil, err
	}
	return j, nil
}

// Path returns where the note is, Text what it holds.
func (j *Journal) Path() string { return j.path }

// Text returns what is on disk.
func (j *Journal) Text() string { return j.text }

// Save makes the file hold the text. What only grew is appended; anything else,
// such as an undo, is written beside it and put in its place in one step, so
// that at every moment the file is the note before or the note after.
func (j *Journal) Save(text string) error {
	if text == j.text {
		return nil
	}
	if more, ok := strings.CutPrefix(text, j.text); ok {
		if _, err := j.f.WriteString(more); err != nil {
			return err
		}
		if err := j.f.Sync(); err != nil {
			return err
		}
		j.text = text
		return nil
	}
	tmp := j.path + ".new"
	f, err := os.OpenFile(tmp, os.O_CREATE|os.O_TRUNC|os.O_WRONLY|os.O_APPEND, 0o600)
	if err != nil {
		return err
	}
	if _, err = f.WriteString(text); err == nil {
		err = f.Sync()
	}
	if err == nil {
		err = os.Rename(tmp, j.path)
	}
	if err != nil {
		f.Close()
		os.Remove(tmp)
		return err
	}
	j.f.Close()
	j.f, j.text = f, text
	return syncDir(filepath.Dir(j.path))
}

// Close leaves the note on disk.
func (j *Journal) Close() error {
	var err error
	if j.f != nil {
		err = j.f.Close()
		j.f = nil
	}
	if j.lock != nil {
		os.Remove(j.lock.Name())
		err = errors.Join(err, j.lock.Close())
		j.lock = nil
	}
	return err
}

// Remove takes the note away, once it is in the store.
func (j *Journal) Remove() error {
	return errors.Join(os.Remove(j.path), j.Close())
}

// acquire makes sure that no other running program writes the same note. The
// lock goes with the program that holds it, however it ends.
func (j *Journal) acquire() error {
	f, err := os.OpenFile(j.path+".lock", os.O_CREATE|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	if err := lock(f); err != nil {
		f.Close()
		return fmt.Errorf("%s: %w", j.path, ErrBusy)
	}
	j.lock = f
	return nil
}

// Unlogged is the note of a session that was not logged.
type Unlogged struct {
	Path  string
	Dog   string
	Start string    // as the note writes it
	Cues  int       // how often a cue was given
	Saved time.Time // when it was last written
}

func noCue(string) (training.Cue, bool) { return training.Cue{}, false }

// Unfinished lists the notes left in dir, oldest first. A folder that is not
// there holds none.
func Unfinished(dir string) ([]Unlogged, error) {
	paths, err := filepath.Glob(filepath.Join(dir, "*.note"))
	if err != nil {
		return nil, err
	}
	var out []Unlogged
	for _, p := range paths {
		text, err := os.ReadFile(p)
		if errors.Is(err, os.ErrNotExist) {
			continue // logged in the meantime
		}
		if err != nil {
			return nil, err
		}
		l := Unlogged{Path: p}
		if info, err := os.Stat(p); err == nil {
			l.Saved = info.ModTime()
		}
		head := map[string]string{}
		lines := strings.Split(string(text), "\n")
		for i, s := range lines {
			if s == "" {
				lines = lines[i:]
				break
			}
			readContext(s, head)
		}
		l.Dog, l.Start = head["dog"], head["start"]
		for _, s := range lines {
			// The cues are not known here: a word that is no mark is one.
			switch readEvent(s, noCue).kind {
			case odd, early:
				l.Cues++
			}
		}
		out = append(out, l)
	}
	sort.SliceStable(out, func(i, j int) bool { return out[i].Saved.Before(out[j].Saved) })
	return out, nil
}
