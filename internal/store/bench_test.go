package store

import (
	"fmt"
	"iter"
	"os"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"firstcue/internal/training"
)

// invented yields sessions of 20 trials for so many dogs, 20 sessions a dog.
// Invented data: it measures speed and means nothing.
func invented(dogs int) iter.Seq2[training.Session, error] {
	return func(yield func(training.Session, error) bool) {
		cues := []string{"sit", "down", "come", "leave it"}
		for d := range dogs {
			for n := range 20 {
				s := training.Session{Dog: fmt.Sprintf("Dog %05d", d), Handler: "Tove", Start: noon.AddDate(0, 0, d/40).Add(time.Duration(n*26) * time.Hour),
					Place: "back field", Leash: "off", Distraction: training.Known(float64(n % 4)), Source: training.Memory, Device: "blue remote"}
				for i := range 20 {
					f := training.Trial{Cue: cues[i/5], Kind: training.Response, Signal: "voice", Outcome: training.Answered, Asks: 1, Latency: training.Known(float64(i%7)/4 + 0.5), Marks: "+1.5", Line: i + 1}
					if (i+n+d)%6 == 0 {
						f.Outcome, f.Asks, f.Marks, f.Latency = training.Answered, 2, "- @9 +", training.Num{}
						f.Corrections = []training.Correction{{Kind: training.ByCollar, Level: training.Known(9), Device: "blue remote", Served: true}}
					}
					s.Trials = append(s.Trials, f)
				}
				if !yield(s, nil) {
					return
				}
			}
		}
	}
}

func dogsOf(n int) []training.Dog {
	var out []training.Dog
	for d := range n {
		b := training.Boarding{Arrived: training.DayOf(noon.AddDate(0, 0, d/40)), Due: training.DayOf(noon.AddDate(0, 0, d/40+21)), Home: training.DayOf(noon.AddDate(0, 0, d/40+21))}
		if d >= n-40 {
			b.Home = 0
		}
		out = append(out, training.Dog{Name: fmt.Sprintf("Dog %05d", d), Boardings: []training.Boarding{b}})
	}
	return out
}

// trialsWanted is the size of the store of the benchmarks: FIRSTCUE_TRIALS, or a
// hundred thousand.
func trialsWanted() int {
	if n, err := strconv.Atoi(os.Getenv("FIRSTCUE_TRIALS")); err == nil {
		return n
	}
	return 100_000
}

// filled makes, or finds, a store of that many trials.
func filled(tb testing.TB, trials int) *Store {
	tb.Helper()
	dir := os.Getenv("FIRSTCUE_BENCH_DIR")
	if dir == "" {
		dir = tb.TempDir()
	}
	path := filepath.Join(dir, fmt.Sprintf("bench-%d.db", trials))
	_, err := os.Stat(path)
	s, err2 := Open(ctx, path, Options{Create: true, Writer: "bench"})
	if err2 != nil {
		tb.Fatal(err2)
	}
	tb.Cleanup(func() { s.Close() })
	if err == nil {
		return s
	}
	furnish(tb, s)
	if _, err := s.BulkAdd(ctx, invented(trials/400), BulkOptions{New: LogRequest{Dogs: dogsOf(trials / 400)}}); err != nil {
		tb.Fatal(err)
	}
	return s
}

func BenchmarkBulkAdd(b *testing.B) {
	trials := trialsWanted()
	for b.Loop() {
		b.StopTimer()
		s := open(b, "bench")
		furnish(b, s)
		if _, err := s.LogNote(ctx, LogRequest{Dogs: dogsOf(trials / 400)}); err != nil {
			b.Fatal(err)
		}
		b.StartTimer()
		if _, err := s.BulkAdd(ctx, invented(trials/400), BulkOptions{}); err != nil {
			b.Fatal(err)
		}
	}
	b.ReportMetric(float64(trials)*float64(b.N)/b.Elapsed().Seconds(), "trials/s")
}

func BenchmarkLogSession(b *testing.B) {
	s := filled(b, trialsWanted())
	next := 0
	// The instant of the run, so that a kept store takes every session as new.
	at := time.Now().Truncate(time.Second)
	for b.Loop() {
		for v := range invented(1) {
			v.Start = at.Add(time.Duration(next) * time.Minute)
			next++
			if _, err := s.LogNote(ctx, LogRequest{Sessions: []training.Session{v}, Text: []byte(fmt.Sprint("note ", at, next))}); err != nil {
				b.Fatal(err)
			}
			break
		}
	}
}

func BenchmarkRecord(b *testing.B) {
	s := filled(b, trialsWanted())
	for b.Loop() {
		r, err := s.Record(ctx, "Dog 00100", 0)
		if err != nil || len(r.Sessions) != 20 {
			b.Fatal(err, len(r.Sessions))
		}
	}
}

func BenchmarkNight(b *testing.B) {
	trials := trialsWanted()
	s := filled(b, trials)
	last := training.DayOf(noon.AddDate(0, 0, (trials/400-1)/40+15))
	for b.Loop() {
		r, err := night(s, last)
		if err != nil || len(r) < 40 {
			b.Fatal(err, len(r))
		}
	}
}

func BenchmarkOpen(b *testing.B) {
	s := filled(b, trialsWanted())
	for b.Loop() {
		o, err := Open(ctx, s.path, Options{})
		if err != nil {
			b.Fatal(err)
		}
		o.Close()
	}
}
