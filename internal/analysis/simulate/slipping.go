package main

import (
	"fmt"
	"math/rand/v2"

	"firstcue/internal/training"
)

// slipping measures how long the warning "slipping" keeps still and how fast it
// speaks.
func slipping(e env, p *page) {
	n := e.n(500, 10)
	const before, watched = 6, 20
	p.heading(2, "3. \"Slipping\"")
	p.say("A dog without a miss for %d days, so that it is ready, then at a constant chance; three sessions of 3 to 8 asks a day, "+
		"looked at every evening for up to %d days; %d runs a row. One false warning in so many asks: asks watched divided by warnings.", before, watched, n)
	t := table{{"the truth", "asks for each warning", "warned on the first evening, %", "by the third, %"}}
	for _, to := range []float64{.95, .92, .80, .70, .60} {
		type run struct{ asks, evening int }
		found := each(e, fmt.Sprint("slipping ", to), n, func(_ int, r *rand.Rand) run {
			rec := kennel()
			var out run
			for day := 1; day <= before+watched; day++ {
				chance := 1.0
				if day > before {
					chance = to
				}
				for k := range 3 {
					s := threes(day, k, chance, r)
					rec.Sessions = append(rec.Sessions, s)
					if day > before {
						out.asks += len(s.Trials)
					}
				}
				if day > before && judge(rec, night(day)).Slipping.On {
					out.evening = day - before
					break
				}
			}
			return out
		})
		asks, warned := 0.0, 0.0
		for _, x := range found {
			asks += float64(x.asks)
			if x.evening > 0 {
				warned++
			}
		}
		by := func(evening int) tally {
			return count(found, func(x run) bool { return x.evening > 0 && x.evening <= evening })
		}
		each := fmt.Sprintf("over %.0f", asks)
		if warned > 0 {
			each = fmt.Sprintf("%.0f", asks/warned)
		}
		t.row(two(to), each, by(1).String(), by(3).String())
		if to == .60 {
			first, third := by(1), by(3)
			p.bars = append(p.bars,
				bar{"a ready dog drops to .60: \"slipping\" on the first evening", first.rate(), first.error(), .51, false, percent},
				bar{"a ready dog drops to .60: \"slipping\" by the third evening", third.rate(), third.error(), .97, false, percent})
		}
		if to == .92 {
			p.well("A ready dog that goes on at .92 is called slipping once in %s asks.", each)
		}
	}
	p.table(t)
}

// threes is one of three sessions a day: the places in turn, every fourth by the
// second trainer.
func threes(day, k int, chance float64, r *rand.Rand) training.Session {
	who := mainer
	if (3*day+k)%4 == 3 {
		who = second
	}
	s := session(day, k, who, []string{yard, meadow, square}[k])
	urn := sitting{rho: .10}
	for range between(r, 3, 8) {
		s.Trials = append(s.Trials, trial(urn.answer(chance, r), false, r))
	}
	return s
}
