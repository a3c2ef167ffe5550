package cli

import (
	"context"
	"errors"

	"firstcue/internal/analysis"
	"firstcue/internal/store"
	"firstcue/internal/training"
)

// reading opens the store, hands it to f and closes it. A store that is not
// there is not made: looking leaves no trace.
func (a *app) reading(ctx context.Context, f func(*store.Store) error) error {
	return a.withStore(ctx, store.Options{ReadOnly: true}, f)
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

func (a *app) withStore(ctx context.Context, o store.Options, f func(*store.Store) error) error {
	path, err := a.storePath()
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
		if k, err = s.Kennel(ctx); err != nil {
			return err
		}
		set, err = s.Settings(ctx)
		return err
	})
	return k, set, err
}

// criteriaFor returns the bars of each cue of a dog.
func criteriaFor(k training.Kennel, set []training.Setting, dog string) analysis.CriteriaFunc {
	return func(cue string) analysis.Criteria { return analysis.Resolve(k, set, dog, cue) }
}
