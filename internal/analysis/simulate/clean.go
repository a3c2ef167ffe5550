package main

import (
	"fmt"
	"math/rand/v2"

	"firstcue/internal/analysis"
)

// clean compares the number of clean first asks that the report names with
// what the dog then took.
func clean(e env, p *page) {
	n := e.n(1000, 40)
	p.heading(2, "10. How many more clean first asks")
	p.say("A dog is two days at .15 below its true rate, then at that rate. On the evening of day 2 the report says how many clean first "+
		"asks would bring a good night, and about how many it usually takes; the dog then goes on at three sessions a day until the gate opens, "+
		"which takes a second good night (at most 25 more days). rho .10, %d dogs a row.", n)
	t := table{{"true rate", "said: minimum (median)", "said: usually (median)", "first good night after: median, 10 to 90 %", "that / minimum", "gate open after: median, 10 to 90 %", "that / minimum", "good night after fewer than the minimum", "not by day 27"}}
	for _, rate := range []float64{.98, .95, .90} {
		type need struct{ least, likely, good, took float64 }
		found := each(e, fmt.Sprint("clean ", rate), n, func(_ int, r *rand.Rand) need {
			pl := full()
			pl.days, pl.fewest, pl.most = 27, 3, 3
			rec := stay(pl, truth{rho: .10, chance: func(a ask) float64 {
				if a.day <= 2 {
					return rate - .15
				}
				return rate
			}}, r)
			v := judge(rec, night(2))
			out := need{v.CleanMin.V, v.CleanLikely.V, 0, -1}
			if !v.CleanMin.Known || met(v, analysis.GateLevel) {
				return need{}
			}
			trials := 0
			all := scores(rec)
			for d := 3; d <= 27; d++ {
				for _, s := range all {
					if s.day == d {
						trials++
					}
				}
				v := judge(rec, night(d))
				if out.good == 0 && (v.ReadyNights > 0 || met(v, analysis.GateLevel)) {
					out.good = float64(trials)
				}
				if met(v, analysis.GateLevel) {
					out.took = float64(trials)
					break
				}
			}
			return out
		})
		var least, likely, good, goodRatio, took, ratio []float64
		var fewer, never tally
		for _, x := range found {
			if x.least == 0 {
				continue
			}
			never.add(x.took < 0)
			if x.took < 0 {
				continue
			}
			least, likely = append(least, x.least), append(likely, x.likely)
			good, goodRatio = append(good, x.good), append(goodRatio, x.good/x.least)
			took, ratio = append(took, x.took), append(ratio, x.took/x.least)
			fewer.add(x.good < x.least)
		}
		spread := func(xs []float64, places int) string {
			return fmt.Sprintf("%.*f (%.*f to %.*f)", places, quantile(xs, .5), places, quantile(xs, .1), places, quantile(xs, .9))
		}
		t.row(two(rate), fmt.Sprintf("%.0f", quantile(least, .5)), fmt.Sprintf("%.0f", quantile(likely, .5)),
			spread(good, 0), spread(goodRatio, 1), spread(took, 0), spread(ratio, 1), fewer.String(), never.String())
		if rate == .95 {
			p.badly("\"A dog at 95 %% usually needs about %.0f\" (median) speaks of the first good night, which came after %s trials (median, 10 to 90 %%). The gate opens a day later at the earliest: after %s.",
				quantile(likely, .5), spread(good, 0), spread(took, 0))
			p.propose("Say with the number of clean asks that the second good night comes on top: at three sessions a day the gate opened after %s times the minimum (median, 10 to 90 %%).", spread(ratio, 1))
		}
		if rate == .90 {
			p.badly("For a dog exactly at the bar (.90) the number of clean asks says little: it takes %s times the minimum (median, 10 to 90 %%), and %s %% are not there after 25 more days.", spread(ratio, 1), never)
		}
	}
	p.table(t)
	p.say("Reading: the minimum is a minimum. What it took is counted in whole days, so it includes the rest of the day.")
}
