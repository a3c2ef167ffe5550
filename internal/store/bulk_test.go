package store

import (
	"context"
	"errors"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"firstcue/internal/training"
)

// many makes sessions as a sheet may hold them: most new, some again, altered or
// not, by another scorer, or with the dog and the people by other names.
func many(seed uint64, n, trials int) []training.Session {
	random := rand.New(rand.NewPCG(seed, 1))
	var out []training.Session
	for i := range n {
		if len(out) > 0 && random.IntN(6) == 0 {
			v := out[random.IntN(len(out))]
			v.Trials = slices.Clone(v.Trials)
			switch random.IntN(7) {
			case 0:
				v.Dog = strings.ToUpper(v.Dog)
			case 1:
				if v.Dog == "Pepper" {
					v.Dog = "Pep"
				}
			case 2:
				v.Weather = fmt.Sprint("weather ", i)
			case 3:
				v.Scorer = "Bram"
			case 4:
				v.Scorer = "b"
				v.Trials[0].Outcome = training.Refused
			case 5:
				v.Handler = "B"
			}
			out = append(out, v)
			continue
		}
		var marks []string
		for range trials {
			marks = append(marks, []string{"+", "-"}[random.IntN(2)])
		}
		v := session([]string{"Pepper", "Quill", "pep", "QUILL"}[random.IntN(4)], i*3, marks...)
		if random.IntN(3) == 0 {
			v.Trials[0].Corrections = []training.Correction{{Kind: training.ByCollar, Level: training.Known(9), Device: "blue remote"}}
		}
		out = append(out, v)
	}
	return out
}

func eachOf(list []training.Session) func(func(training.Session, error) bool) {
	return func(yield func(training.Session, error) bool) {
		for _, v := range list {
			if !yield(v, nil) {
				return
			}
		}
	}
}

// kennelFor is a store that knows the names of many, and in which some of moved
// stand under another start than their ids were made from.
func kennelFor(t *testing.T, moved []training.Session) *Store {
	t.Helper()
	s := open(t, "laptop")
	furnish(t, s)
	for _, d := range must2(s.Kennel(ctx)).Dogs {
		if d.Name == "Pepper" {
			d.Aliases = []string{"Pep"}
			must2(s.PutDog(ctx, d))
		}
	}
	for i, v := range moved {
		if i%17 != 3 {
			continue
		}
		if r := add(t, s, v); r.Sessions[0].What == Stored {
			x := r.Sessions[0].Session
			x.Start = x.Start.Add(-24 * 365 * time.Hour)
			must2(s.Amend(ctx, x.ID, x, "the year was wrong"))
		}
	}
	return s
}

func said(t *testing.T, s *Store) []string {
	t.Helper()
	var out []string
	for _, v := range must2(s.Sessions(ctx, Filter{})) {
		second := v.Rescores != ""
		v.ID, v.Rescores = "", ""
		out = append(out, fmt.Sprintf("%d %v %+v", v.Start.UnixMilli(), second, normal(v)))
	}
	slices.Sort(out)
	return out
}

func sound(t *testing.T, s *Store) {
	t.Helper()
	if h, err := Check(ctx, s.path); err != nil || !h.Sound {
		t.Fatalf("not sound: %+v %v", h, err)
	}
}

// An import in portions, written by another goroutine, stores what logging the
// sessions one by one stores.
func TestBulkIsLogOneByOne(t *testing.T) {
	list := many(1, 500, 60) // two portions
	a, b := kennelFor(t, list), kennelFor(t, list)
	var want BulkResult
	for _, v := range list {
		switch add(t, a, v).Sessions[0].What {
		case Stored:
			want.Stored++
		case AlreadyStored:
			want.AlreadyStored++
		case Amended:
			want.Amended++
		case SecondScoring:
			want.SecondScore++
		}
	}
	got, err := b.BulkAdd(ctx, eachOf(list), BulkOptions{})
	if err != nil {
		t.Fatal(err)
	}
	got.Batch, got.Trials = "", 0
	if got != want || want.Stored == 0 || want.SecondScore == 0 {
		t.Errorf("%+v, want %+v", got, want)
	}
	if x, y := said(t, a), said(t, b); !slices.Equal(x, y) {
		for i := range min(len(x), len(y)) {
			if x[i] != y[i] {
				t.Fatalf("%d and %d sessions; of these\n%.500s\n%.500s", len(x), len(y), x[i], y[i])
			}
		}
		t.Errorf("%d and %d sessions", len(x), len(y))
	}
	sound(t, b)
}

// A row that can't be written, early or late in a portion, stops the
// import, is told, and leaves what the count says; repeating it adds the rest.
func TestBulkStopsAtAnError(t *testing.T) {
	list := many(7, 500, 60)
	whole := kennelFor(t, nil)
	must2(whole.BulkAdd(ctx, eachOf(list), BulkOptions{}))
	for i, at := range []int{5, 200, 380} {
		s := kennelFor(t, nil)
		kind := []string{"ABORT", "FAIL", "ROLLBACK"}[i]
		must2(s.conn.ExecContext(ctx, fmt.Sprintf("CREATE TRIGGER broken BEFORE INSERT ON revision WHEN NEW.n > %d BEGIN SELECT raise(%s, 'a disk error'); END", at, kind)))
		res, err := s.BulkAdd(ctx, eachOf(list), BulkOptions{})
		n := len(must2(s.Sessions(ctx, Filter{})))
		if err == nil || !strings.Contains(err.Error(), "a disk error") || n != res.Stored+res.SecondScore || at == 380 && n == 0 {
			t.Errorf("%s at %d: %v; %d stored, %+v", kind, at, err, n, res)
		}
		must2(s.conn.ExecContext(ctx, "DROP TRIGGER broken"))
		must2(s.BulkAdd(ctx, eachOf(list), BulkOptions{}))
		sound(t, s)
		if got, want := len(said(t, s)), len(said(t, whole)); got != want {
			t.Errorf("%s at %d, repeated: %d sessions of %d", kind, at, got, want)
		}
	}
}

// Cut short at any moment, by a name that is not known or by a panic, an import
// has stored what it counted, and the store works.
func TestBulkCutShort(t *testing.T) {
	list := many(7, 500, 60)
	for i := range 6 {
		s := kennelFor(t, nil)
		c, cancel := context.WithCancel(ctx)
		time.AfterFunc(time.Duration(i*25)*time.Millisecond, cancel)
		res, err := s.BulkAdd(c, eachOf(list), BulkOptions{})
		if n := len(must2(s.Sessions(ctx, Filter{}))); err != nil && !errors.Is(err, context.Canceled) || n != res.Stored+res.SecondScore {
			t.Errorf("%v; %d stored, %+v", err, n, res)
		}
		cancel()
		bad := slices.Clone(list)
		bad[300].Trials = slices.Clone(bad[300].Trials)
		bad[300].Trials[3].Cue = "nonesuch"
		if _, err := s.BulkAdd(ctx, eachOf(bad), BulkOptions{}); !errors.Is(err, ErrUnknown) {
			t.Error(err)
		}
		func() {
			defer func() {
				if recover() == nil {
					t.Error("no panic")
				}
			}()
			s.BulkAdd(ctx, eachOf(list), BulkOptions{Progress: func(int, int) { panic("on purpose") }})
		}()
		must2(s.BulkAdd(ctx, eachOf(list), BulkOptions{}))
		sound(t, s)
	}
}

// The methods of a store may be called from several goroutines.
func TestBulkBesideReaders(t *testing.T) {
	list := many(7, 12, 5)
	s := kennelFor(t, nil)
	stop := make(chan struct{})
	var work sync.WaitGroup
	work.Go(func() {
		for {
			select {
			case <-stop:
				return
			default:
				if _, err := s.Record(ctx, "Pepper", 0); err != nil {
					t.Error(err)
				}
			}
		}
	})
	for range 15 {
		must2(s.BulkAdd(ctx, eachOf(list), BulkOptions{}))
		for i := range list {
			list[i].Weather += "x"
		}
	}
	close(stop)
	work.Wait()
}

// What is called interrupted was not stored, and the store works on.
func TestEndedIsNotStored(t *testing.T) {
	s := open(t, "laptop")
	furnish(t, s)
	ended := 0
	for i := range 250 {
		c, cancel := context.WithCancel(ctx)
		time.AfterFunc(time.Duration(i)*24*time.Microsecond, cancel)
		v := session("Pepper", i, "+", "-")
		_, err := s.LogNote(c, LogRequest{Sessions: []training.Session{v}})
		cancel()
		if err == nil {
			continue
		}
		ended++
		for _, w := range must2(s.Sessions(ctx, Filter{Dog: "Pepper", From: v.Day(), To: v.Day()})) {
			if w.Start.Equal(v.Start) {
				t.Errorf("%v, and it is stored", err)
			}
		}
	}
	if ended == 0 {
		t.Skip("every note was quicker")
	}
}

// A read that waits for its turn ends with its context.
func TestEndedWhileLocked(t *testing.T) {
	s := open(t, "laptop")
	furnish(t, s)
	other := must2(Open(ctx, s.path, Options{}))
	defer other.Close()
	must2(s.conn.ExecContext(ctx, "BEGIN EXCLUSIVE"))
	defer s.conn.ExecContext(ctx, "ROLLBACK")
	c, cancel := context.WithTimeout(ctx, 100*time.Millisecond)
	defer cancel()
	if _, err := other.Record(c, "Pepper", 0); err == nil {
		t.Error("read though it was locked")
	}
}
