package model

import (
	"math/rand/v2"
	"testing"
)

// stay makes the sittings of one cue of an ordinary dog.
func stay(r *rand.Rand, sittings int, chance float64) []Sitting {
	people, places := []string{"ana", "bram", "owner"}, []string{"yard", "meadow", "square"}
	urn := urn{alike: .1 / .9}
	var all []Sitting
	for i := range sittings {
		s := Sitting{At: At{Person: people[r.IntN(1+min(2, i/10))], Place: places[r.IntN(3)]}}
		urn.yes, urn.of = 0, 0
		draw := func() bool {
			yes := r.Float64() < (chance+urn.alike*urn.yes)/(1+urn.alike*urn.of)
			urn.of++
			if yes {
				urn.yes++
			}
			return yes
		}
		s.First = No
		if draw() {
			s.First = Yes
		}
		for range 1 + r.IntN(7) {
			s.Of++
			if draw() {
				s.Yes++
			}
		}
		all = append(all, s)
	}
	return all
}

func questions() []Question {
	qs := []Question{{Target{}, .85}, {Target{}, .90}, {Target{First: true}, .80}}
	for _, p := range []string{"ana", "bram", "owner"} {
		qs = append(qs, Question{Target{At: At{Person: p}}, .80})
	}
	for _, p := range []string{"yard", "meadow", "square"} {
		qs = append(qs, Question{Target{At: At{Place: p}}, .80})
	}
	return qs
}

func BenchmarkFilter(b *testing.B) {
	all := stay(rand.New(rand.NewPCG(1, 2)), 80, .95)
	b.ReportAllocs()
	for b.Loop() {
		f := New(Shipped())
		for _, s := range all {
			f.Observe(s)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/80, "ns/sitting")
}

func BenchmarkWatch(b *testing.B) {
	all := stay(rand.New(rand.NewPCG(1, 2)), 80, .95)
	qs := questions()
	b.ReportAllocs()
	for b.Loop() {
		f := NewWatch(Shipped(), qs)
		for _, s := range all {
			f.Observe(s)
		}
	}
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/80, "ns/sitting")
}

func BenchmarkFigure(b *testing.B) {
	f := New(Shipped())
	for _, s := range stay(rand.New(rand.NewPCG(1, 2)), 80, .95) {
		f.Observe(s)
	}
	b.ReportAllocs()
	for b.Loop() {
		f.Interval(Target{}, .95)
	}
}
