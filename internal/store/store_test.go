package store

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strconv"
	"sync/atomic"
	"testing"
	"time"

	"firstcue/internal/training"
)

var (
	ctx  = context.Background()
	noon = time.Date(2026, 3, 4, 12, 0, 0, 0, time.FixedZone("", 3600))
)

// open makes a store with an invented dog, two handlers, two places and a
// collar. Its clock moves on a second with every look.
func open(t testing.TB, writer string) *Store {
	t.Helper()
	return openAt(t, filepath.Join(t.TempDir(), "kennel.db"), writer)
}

func openAt(t testing.TB, path, writer string) *Store {
	t.Helper()
	var seconds atomic.Int64 // a merge asks in two goroutines
	s, err := Open(ctx, path, Options{Create: true, Writer: writer, Now: func() time.Time { return noon.Add(time.Duration(seconds.Add(1)) * time.Second) }})
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

// furnish puts what the sessions of these tests name on the lists.
func furnish(t testing.TB, s *Store) {
	t.Helper()
	var err error
	do := func(_ any, e error) {
		if err == nil {
			err = e
		}
	}
	do(s.PutHandler(ctx, training.Handler{Name: "Tove", Role: training.Trainer}))
	do(s.PutHandler(ctx, training.Handler{Name: "Bram", Role: training.Trainer, Aliases: []string{"B"}}))
	do(s.PutPlace(ctx, training.Place{Name: "back field"}))
	do(s.PutPlace(ctx, training.Place{Name: "market square", OffProperty: true}))
	do(s.PutDevice(ctx, training.Device{Name: "blue remote", Lowest: training.Known(0), Highest: training.Known(100)}))
	do(s.PutDevice(ctx, training.Device{Name: "grey remote"}))
	do(s.PutDog(ctx, training.Dog{Name: "Pepper", Device: "blue remote", Main: "Tove", Owners: []string{"Ada Finch"}}))
	do(s.PutDog(ctx, training.Dog{Name: "Quill", RewardOnly: true}))
	if err != nil {
		t.Fatal(err)
	}
}

// session is one of an invented dog, hours after nine o'clock.
func session(dog string, hours int, marks ...string) training.Session {
	s := training.Session{
		Dog: dog, Handler: "Tove", Start: time.Date(2026, 3, 4, 9, 0, 0, 0, time.FixedZone("", 3600)).Add(time.Duration(hours) * time.Hour),
		Place: "back field", Leash: "off", Distraction: training.Known(2), Source: training.Memory, Note: fmt.Sprint("sit ", marks, "\n"),
	}
	for i, m := range marks {
		f := training.Trial{Cue: "sit", Kind: training.Response, Outcome: training.Answered, Asks: 1, Marks: m, Line: i + 1}
		if m == "-" {
			f.Outcome = training.Refused
		}
		s.Trials = append(s.Trials, f)
	}
	return s
}

func add(t testing.TB, s *Store, list ...training.Session) LogResult {
	t.Helper()
	res, err := s.LogNote(ctx, LogRequest{Sessions: list})
	if err != nil {
		t.Fatal(err)
	}
	return res
}

func TestLogReadsBack(t *testing.T) {
	s := open(t, "laptop")
	furnish(t, s)
	in := session("Pepper", 0, "+", "-", "+")
	in.Trials[1].Corrections = []training.Correction{{Kind: training.ByCollar, Level: training.Known(9), Device: "blue remote", Served: true}, {Kind: training.ByLeash}}
	in.Trials[1].Prompts = []string{"lure"}
	in.Remarks = []training.Remark{{Text: "growled at the gate", Incident: true, Line: 3}, {Text: "hot", Line: 4}}
	res := add(t, s, in)
	if len(res.Sessions) != 1 || res.Sessions[0].What != Stored || res.Batch == "" {
		t.Fatalf("%+v", res)
	}
	rec, err := s.Record(ctx, "pepper", 0)
	if err != nil {
		t.Fatal(err)
	}
	if len(rec.Sessions) != 1 || len(rec.Incidents) != 1 || rec.Dog.Device != "blue remote" || rec.Dog.Main != "Tove" || len(rec.Kennel.Cues) != len(training.SeedCues()) {
		t.Fatalf("%+v", rec)
	}
	if got := rec.Sessions[0]; !same(got, in) || got.ID == "" || got.Revision != 1 {
		t.Errorf("got %+v\nwant %+v", got, in)
	}
	all, err := s.Sessions(ctx, Filter{Dog: "Pepper", From: in.Day(), To: in.Day(), Limit: 5})
	if err != nil || len(all) != 1 || !reflect.DeepEqual(all[0], rec.Sessions[0]) {
		t.Errorf("%v %+v", err, all)
	}
}

func noonClock() time.Time { return noon }

// bounded is how much of something a test does: n, unless the environment asks
// for more.
func bounded(env string, n int) int {
	if v, err := strconv.Atoi(os.Getenv(env)); err == nil && v > 0 {
		return v
	}
	return n
}

// night collects the records of the dogs that are here on the day, by name.
func night(s *Store, on training.Day) ([]training.Record, error) {
	var out []training.Record
	err := s.EachOfNight(ctx, on, func(r training.Record) { out = append(out, r) })
	slices.SortFunc(out, func(a, b training.Record) int { return byName(a.Dog.Name, b.Dog.Name) })
	return out, err
}
