package main

import (
	"fmt"
	"math"
	"math/rand/v2"

	"firstcue/internal/training"
)

var (
	coverageRates = []float64{.7, .8, .9, .95}
	coverageRho   = []float64{0, .05, .10, .20}
)

// history makes a record of sessions with these scores, one session a day.
func history(yes, of []int, r *rand.Rand) training.Record {
	rec := kennel()
	for i := range of {
		s := session(i+1, 0, mainer, yard)
		for k := range of[i] {
			s.Trials = append(s.Trials, trial(k < yes[i], false, r))
		}
		rec.Sessions = append(rec.Sessions, s)
	}
	return rec
}

// limits are the printed and the plain 95 % interval of a history.
type limits struct{ low, high, plainLow, plainHigh float64 }

func printed(rec training.Record, days int) limits {
	s := judge(rec, night(days)).FirstCue.Share
	return limits{s.Low.V, s.High.V, s.PlainLow.V, s.PlainHigh.V}
}

func (l limits) covers(p float64) bool      { return l.low <= p && p <= l.high }
func (l limits) plainCovers(p float64) bool { return l.plainLow <= p && p <= l.plainHigh }

// coverage measures how often the printed 95 % interval holds the true rate.
func coverage(e env, p *page) {
	p.heading(2, "1. Does the printed interval hold the truth?")
	p.say("The report prints first-cue compliance as `18/20  90%% [70-97]`. The interval should hold the dog's true rate " +
		"95 times in 100. Exact: every possible outcome of 5, 10 and 20 sessions of 4 trials is given to the shipped " +
		"code once and weighed with its beta-binomial chance. In brackets: the plain Wilson interval, " +
		"which takes every trial for independent.")
	t := table{{"trials", "true rate", "rho 0", "rho .05", "rho .10", "rho .20"}}
	inside, plainInside, cells := 0, 0, 0
	worst, worstName := 1.0, ""
	for _, k := range []int{5, 10, 20} {
		var outcomes [][5]int // number of sessions with 0 to 4 right
		for a := 0; a <= k; a++ {
			for b := 0; a+b <= k; b++ {
				for c := 0; a+b+c <= k; c++ {
					for d := 0; a+b+c+d <= k; d++ {
						outcomes = append(outcomes, [5]int{a, b, c, d, k - a - b - c - d})
					}
				}
			}
		}
		found := each(e, fmt.Sprint("coverage", k), len(outcomes), func(i int, r *rand.Rand) limits {
			var yes, of []int
			for score, n := range outcomes[i] {
				for range n {
					yes, of = append(yes, score), append(of, 4)
				}
			}
			// Not sorted from bad to good: that would be a trend.
			r.Shuffle(len(yes), func(a, b int) { yes[a], yes[b] = yes[b], yes[a] })
			return printed(history(yes, of, r), k)
		})
		for _, rate := range coverageRates {
			cell := []string{fmt.Sprint(4 * k), two(rate)}
			for _, rho := range coverageRho {
				var chance [5]float64
				for s := range chance {
					chance[s] = math.Log(betaBinomial(s, 4, rate, rho))
				}
				var covered, plain float64
				for i, o := range outcomes {
					lp := lgamma(float64(k) + 1)
					for s, n := range o {
						lp += float64(n)*chance[s] - lgamma(float64(n)+1)
					}
					if found[i].covers(rate) {
						covered += math.Exp(lp)
					}
					if found[i].plainCovers(rate) {
						plain += math.Exp(lp)
					}
				}
				cells++
				mark := ""
				if covered >= .93 && covered <= .97 {
					inside++
				} else {
					mark = "*"
				}
				if plain >= .93 && plain <= .97 {
					plainInside++
				}
				if covered < worst {
					worst, worstName = covered, fmt.Sprintf("%d trials, true rate %s, rho %s", 4*k, two(rate), two(rho))
				}
				cell = append(cell, fmt.Sprintf("%.1f%s (%.1f)", 100*covered, mark, 100*plain))
			}
			t.row(cell...)
		}
	}
	p.table(t)
	p.say("\\* outside 93 to 97 %%. The printed interval is inside in %d of %d settings, the plain one in %d. Worst: %.1f %% (%s).",
		inside, cells, plainInside, 100*worst, worstName)
	p.bars = append(p.bars, bar{what: "settings of 48 in which the printed 95 % interval covers 93 to 97 %", value: float64(inside), limit: 44, show: decimals(0)})
	p.well("The printed interval keeps its promise in %d of %d settings (plain Wilson: %d).", inside, cells, plainInside)
	p.badly("Five sessions are too few for any interval: with %s the printed one holds the truth in %.1f %% of cases instead of 95.", worstName, 100*worst)

	p.heading(3, "Sessions of unequal size")
	p.say("Sessions of 3 to 8 trials, by simulation (%d histories a cell).", e.n(4000, 100))
	t = table{{"sessions", "true rate", "rho 0", "rho .05", "rho .10", "rho .20"}}
	inside, cells = 0, 0
	lowest, highest := 1.0, 0.0
	for _, k := range []int{4, 8, 15} {
		for _, rate := range coverageRates {
			cell := []string{fmt.Sprint(k), two(rate)}
			for _, rho := range coverageRho {
				name := fmt.Sprintf("unequal %d %v %v", k, rate, rho)
				hits := count(each(e, name, e.n(4000, 100), func(_ int, r *rand.Rand) bool {
					yes, of := clustered(k, 3, 8, rate, rho, r)
					return printed(history(yes, of, r), k).covers(rate)
				}), identity)
				cells++
				if hits.rate() >= .93 && hits.rate() <= .97 {
					inside++
				}
				lowest, highest = min(lowest, hits.rate()), max(highest, hits.rate())
				cell = append(cell, hits.String())
			}
			t.row(cell...)
		}
	}
	p.table(t)
	p.say("Between %.1f and %.1f %%; %d of %d cells inside 93 to 97 %%. Reading: where trials are independent the interval is a little too wide, which is the safe side; at rho .20 a little too narrow.", 100*lowest, 100*highest, inside, cells)

	currentCoverage(e, p)
}

// clustered draws the scores of k sessions.
func clustered(k, small, large int, p, rho float64, r *rand.Rand) (yes, of []int) {
	for range k {
		n := between(r, small, large)
		urn := sitting{rho: rho}
		y := 0
		for range n {
			if urn.answer(p, r) {
				y++
			}
		}
		yes, of = append(yes, y), append(of, n)
	}
	return yes, of
}

// currentCoverage asks the same of the fading figure, which lags behind a dog
// that learns.
func currentCoverage(e env, p *page) {
	p.heading(3, "The current figure, on dogs that stand still and on dogs that learn")
	p.say("The current figure lets old sessions fade (half-life 6 sessions). Its printed 95 %% interval against the dog's true " +
		"rate on that evening; rho .10, full schedule.")
	t := table{{"dog", "night 5", "night 10", "night 15"}}
	n := e.n(2000, 100)
	looks := []int{5, 10, 15}
	row := func(name string, draw func(i int, r *rand.Rand) truth) []tally {
		found := each(e, "current "+name, n, func(i int, r *rand.Rand) (hit [3]bool) {
			dog := draw(i, r)
			rec := stay(full(), dog, r)
			for j, d := range looks {
				practice := 0
				for _, s := range scores(rec) {
					if s.day <= d {
						practice++
					}
				}
				p := dog.chance(ask{day: d, practice: practice, handler: mainer, place: yard})
				c := judge(rec, night(d)).FirstCue.Current
				hit[j] = c.Low.V <= p && p <= c.High.V
			}
			return hit
		})
		cells := []string{name}
		var out []tally
		for j := range looks {
			h := count(found, func(x [3]bool) bool { return x[j] })
			out = append(out, h)
			cells = append(cells, h.String())
		}
		t.row(cells...)
		return out
	}
	for _, p := range []float64{.80, .90, .95} {
		row("stands still at "+two(p), func(int, *rand.Rand) truth { return always(p, .10) })
	}
	var learning []tally
	for _, s := range shapes {
		learning = append(learning, row("learns, "+s.String(), func(_ int, r *rand.Rand) truth { return learner(s, 110, .10, r) })...)
	}
	p.table(t)
	low := 1.0
	for _, h := range learning {
		low = min(low, h.rate())
	}
	p.say("Reading: on a dog that stands still the interval is wide enough; on a dog that is learning it lags, and while the dog improves the lag is on the safe side. After a step back it is not.")
	p.badly("On dogs that are still learning, or have just stepped back, the current figure lags: its 95 %% interval holds the true rate of the evening in as few as %.0f %% of cases.", 100*low)
}

func identity(b bool) bool { return b }
