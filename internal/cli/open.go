package cli

import (
	"context"
	"errors"
	"os"
	"path/filepath"

	"firstcue/internal/analysis"
	"firstcue/internal/store"
	"firstcue/internal/training"
)

// reading opens the store, hands it to f and closes it. A store that is not
// there is not made: looking leaves no trace. Where nobody named a store and
// there is none in the usual place yet, f sees an empty one.
func (a *app) reading(ctx context.Context, f func(*store.Store) error) error {
	missing, err := a.noStoreYet()
	if err != nil {
		return err
	}
	if !missing {
		return a.readingFile(ctx, f)
	}
	dir, err := os.MkdirTemp("", "firstcue-empty-")
	if err != nil {
		return failedf(err, "make a temporary folder: %v", err)
	}
	defer os.RemoveAll(dir)
	s, err := store.Open(ctx, filepath.Join(dir, "empty.db"), store.Options{Create: true, Now: a.env.Now})
	if err != nil {
		return a.storeError(err)
	}
	a.say("there is no store yet; it begins with the first dog: firstcue dog add NAME --arrived today")
	err = f(s)
	return a.storeError(errors.Join(err, s.Close()))
}

// readingFile is reading for what needs the file itself.
func (a *app) readingFile(ctx context.Context, f func(*store.Store) error) error {
	return a.withStore(ctx, store.Options{ReadOnly: true}, f)
}

// noStoreYet reports whether there is no store in the usual place. One that was
// named and is not there is a mistake: nothing is said about it as if it were
// empty.
func (a *app) noStoreYet() (bool, error) {
	path, err := a.storePath()
	if err != nil || storeExists(path) {
		return false, err
	}
	by := ""
	switch {
	case a.store != "":
		by = "--store"
	case a.env.Getenv("FIRSTCUE_STORE") != "":
		by = "FIRSTCUE_STORE"
	default:
		return true, nil
	}
	return false, usagef("there is no store at %s, and %s names it", path, by).
		try("look at the spelling; firstcue store where prints the usual place when none is named")
}

// mayBegin refuses to log into a store that was named and is not there, before
// anybody wonders where the dogs are: the name is misspelt, unless --new says
// that nothing is known yet.
func (a *app) mayBegin(addNew bool) error {
	_, err := a.noStoreYet()
	if addNew {
		return nil
	}
	return err
}

// changing opens the store for f to change, and makes it when there is none.
func (a *app) changing(ctx context.Context, f func(*store.Store) error) error {
	path, err := a.storePath()
	if err != nil {
		return err
	}
	fresh := !storeExists(path)
	return a.withStore(ctx, store.Options{Create: true}, func(s *store.Store) error {
		if fresh {
			a.say("new store: %s", path)
		}
		return f(s)
	})
}

// keeping opens the store once for all that f reads and changes; to open it anew
// for each takes a sixth of a log. Where it is not there yet or may only be read,
// f runs all the same, and storing says why it can't.
func (a *app) keeping(ctx context.Context, f func() error) error {
	path, err := a.storePath()
	if err != nil || !storeExists(path) {
		return f()
	}
	s, err := store.Open(ctx, path, store.Options{Now: a.env.Now})
	if errors.Is(err, store.ErrReadOnly) {
		return f()
	}
	if err != nil {
		return a.storeError(err)
	}
	a.held = s
	err = f()
	a.held = nil
	return errors.Join(err, a.storeError(s.Close()))
}

func (a *app) withStore(ctx context.Context, o store.Options, f func(*store.Store) error) error {
	if a.held != nil {
		return a.storeError(f(a.held))
	}
	path, err := a.storePath()
	if err == nil && !o.Create {
		_, err = a.noStoreYet()
	}
	if err != nil {
		return err
	}
	o.Now = a.env.Now
	s, err := store.Open(ctx, path, o)
	if err != nil {
		return a.storeError(err)
	}
	err = f(s)
	return a.storeError(errors.Join(err, s.Close()))
}

// storeError gives an error of the store its exit code: 2 for what was asked
// wrongly, 1 for what the file or the machine could not do.
func (a *app) storeError(err error) error {
	if err == nil {
		return nil
	}
	var done exitError
	if errors.As(err, &done) {
		return err
	}
	for _, kind := range []error{store.ErrUnknown, store.ErrTaken, store.ErrAmbiguous, store.ErrInvalid, store.ErrNotFound, store.ErrExists} {
		if errors.Is(err, kind) {
			return exitError{code: exitUsage, msg: err.Error(), err: err}
		}
	}
	return err
}

// kennel reads the kennel's lists, or what a new store would start with when
// there is none yet.
func (a *app) kennel(ctx context.Context) (training.Kennel, []training.Setting, error) {
	path, err := a.storePath()
	if err != nil {
		return training.Kennel{}, nil, err
	}
	if !storeExists(path) {
		return training.Kennel{Cues: training.SeedCues()}, nil, nil
	}
	var k training.Kennel
	var set []training.Setting
	err = a.reading(ctx, func(s *store.Store) (err error) {
		k, set, err = kennelOf(ctx, s)
		return err
	})
	return k, set, err
}

// kennelOf reads the lists and the bars of an open store.
func kennelOf(ctx context.Context, s *store.Store) (training.Kennel, []training.Setting, error) {
	k, err := s.Kennel(ctx)
	if err != nil {
		return k, nil, err
	}
	set, err := s.Settings(ctx)
	return k, set, err
}

// rulesOf gives the counting rule in force for a cue of a dog.
func rulesOf(k training.Kennel, set []training.Setting) func(dog, cue string) analysis.Rule {
	return func(dog, cue string) analysis.Rule {
		c := analysis.Resolve(k, set, dog, cue)
		return analysis.Rule{Limit: c.Limit, Arrive: c.Arrive}
	}
}

// limit is the longest time to an answer, once the rules are read.
func (a *app) limit(dog, cue string) training.Num {
	if a.rules == nil {
		return training.Num{}
	}
	return a.rules(dog, cue).Limit
}

// listed is kennel for commands that only show it: a store that was named and is
// not there is refused.
func (a *app) listed(ctx context.Context) (training.Kennel, []training.Setting, error) {
	if _, err := a.noStoreYet(); err != nil {
		return training.Kennel{}, nil, err
	}
	return a.kennel(ctx)
}

// criteriaFor returns the bars of each cue of a dog.
func criteriaFor(k training.Kennel, set []training.Setting, dog string) analysis.CriteriaFunc {
	return func(cue string) analysis.Criteria { return analysis.Resolve(k, set, dog, cue) }
}
