package analysis

import (
	"fmt"
	"math/rand/v2"
	"testing"

	"firstcue/internal/training"
)

// busyDog is an invented stay of 21 days with n trials of the cues, three people and
// four places: three sittings a day of which each asks for two cues, in turn.
func busyDog(n int, p float64, cues ...string) training.Record {
	rng := rand.New(rand.NewPCG(1, 2))
	r := record()
	people, places := []string{"Maren", "Maren", "Ivo", "Owner"},
		[]string{"yard", "yard", "barn", "market", "street"}
	const days, perDay = 21, 3
	k := 0
	for d := 1; d <= days; d++ {
		for s := range perDay {
			var tr []training.Trial
			for range 2 {
				c, _ := kennel().Cue(cues[k%len(cues)])
				k++
				for range max(1, n*k/(2*days*perDay)-n*(k-1)/(2*days*perDay)) {
					tr = append(tr, busyTrial(c, rng, p))
				}
			}
			x := at(d, fmt.Sprintf("%02d:00", 8+3*s), people[(d+s)%len(people)],
				places[(d*s+s)%len(places)], tr...)
			x.Leash = training.Leashes[(d/7)%len(training.Leashes)]
			r.Sessions = append(r.Sessions, x)
		}
	}
	r.Dog.Boardings = []training.Boarding{{Arrived: day1, Due: day1 + 26}}
	return r
}

func busyTrial(c training.Cue, rng *rand.Rand, p float64) training.Trial {
	switch {
	case c.Kind == training.Motion:
		return walk(2+3*rng.Float64(), one(rng.Float64() > p))
	case rng.Float64() < p && c.Kind == training.Holding:
		return kept(c.Name, c.Target.V, c.Target.V)
	case rng.Float64() < p:
		return yes(c.Name, .5+2*rng.Float64())
	case c.Kind == training.Holding:
		return broke(c.Name, c.Target.V, c.Target.V*rng.Float64())
	}
	t := again(c.Name, 1)
	if rng.Float64() < .5 {
		t.Corrections = []training.Correction{tap(float64(5+rng.IntN(5)), "blue", true)}
	}
	return t
}

// The whole judgement: of a usual dog (400 trials of four cues) and of a busy one
// (1,000 trials of eight).
func BenchmarkAssess(b *testing.B) {
	for _, p := range []float64{.70, .85, .95} {
		usual := busyDog(400, p, "sit", "down", "come", "stay")
		busy := busyDog(1000, p, "sit", "down", "come", "stay", "heel", "place", "halt", "leave it")
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
