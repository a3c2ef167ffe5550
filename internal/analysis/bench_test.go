package analysis

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"

	"firstcue/internal/training"
)

// busyDog is an invented stay of 21 days with n trials over eight cues, three
// people and four places.
func busyDog(n int, p float64) training.Record {
	rng := rand.New(rand.NewPCG(1, 2))
	r := record()
	cues := training.SeedCues()
	people, places := []string{"Maren", "Maren", "Ivo", "Owner"}, []string{"yard", "yard", "barn", "market", "street"}
	const days, perDay = 21, 3
	each := n / (days * perDay)
	rest := n - each*days*perDay
	k := 0
	for d := 1; d <= days; d++ {
		for s := range perDay {
			m := each + one(rest > 0)
			rest--
			var tr []training.Trial
			for range m {
				c := cues[k%len(cues)]
				if k%5 == 4 {
					k++
				}
				k++
				var t training.Trial
				switch {
				case c.Kind == training.Motion:
					t = walk(2+3*rng.Float64(), one(rng.Float64() > p))
				case rng.Float64() < p:
					t = yes(c.Name, .5+2*rng.Float64())
					if c.Kind == training.Holding {
						t = kept(c.Name, c.Target.V, c.Target.V)
					}
				case c.Kind == training.Holding:
					t = broke(c.Name, c.Target.V, c.Target.V*rng.Float64())
				default:
					t = again(c.Name, 1)
					if rng.Float64() < .5 {
						t.Corrections = []training.Correction{tap(float64(5+rng.IntN(5)), "blue", true)}
					}
				}
				tr = append(tr, t)
			}
			r.Sessions = append(r.Sessions, at(d, fmt.Sprintf("%02d:00", 8+3*s), people[(d+s)%len(people)], places[(d*s+s)%len(places)], tr...))
		}
	}
	r.Dog.Boardings = []training.Boarding{{Arrived: day1, Due: day1 + 26}}
	return r
}

// The whole judgement: of a usual dog (about 400 trials of four cues) and of a busy one
// (1,000 trials of eight).
func BenchmarkAssess(b *testing.B) {
	for _, p := range []float64{.70, .85, .95} {
		busy := busyDog(1000, p)
		usual := busyDog(800, p)
		for i := range usual.Sessions {
			s := &usual.Sessions[i]
			s.Trials = slices.DeleteFunc(s.Trials, func(t training.Trial) bool {
				return !slices.Contains([]string{"sit", "down", "come", "stay"}, t.Cue)
			})
		}
		b.Run(fmt.Sprint("usual/", p), func(b *testing.B) {
			for b.Loop() {
				Assess(usual, barsOf(usual), day1+21)
			}
		})
		b.Run(fmt.Sprint("busy/", p), func(b *testing.B) {
			for b.Loop() {
				Assess(busy, barsOf(busy), day1+21)
			}
		})
	}
}
