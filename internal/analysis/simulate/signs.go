package main

import (
	"fmt"
	"math"
	"math/rand/v2"

	"firstcue/internal/training"
)

// cold measures the flag on the first ask of a session.
func cold(e env, p *page) {
	n := e.n(2500, 150)
	p.heading(2, "5. The first ask of a session")
	p.say("Flagged at 4 or more misses in the last 15 first asks. 15 sessions, later asks at .95, rho .10; %d records a cell.", n)
	t := table{{"true rate of the first ask", "flagged"}}
	found := map[float64]tally{}
	for _, rate := range []float64{.98, .95, .90, .80, .70, .60} {
		found[rate] = count(each(e, fmt.Sprint("cold ", rate), n, func(_ int, r *rand.Rand) bool {
			rec := kennel()
			for d := 1; d <= 15; d++ {
				s := session(d, 0, mainer, yard)
				urn := sitting{rho: .10}
				for i := range between(r, 3, 8) {
					yes := r.Float64() < rate
					if i > 0 {
						yes = urn.answer(.95, r)
					}
					s.Trials = append(s.Trials, trial(yes, false, r))
				}
				rec.Sessions = append(rec.Sessions, s)
			}
			return judge(rec, night(15)).Cold.Flag
		}), identity)
		t.row(two(rate), found[rate].String())
	}
	p.table(t)
	p.say("Reading: it hardly ever cries wolf, and it is slow: it informs, it does not decide.")
	p.well("The flag on first asks of a session is false for a .95 dog in %s %% and finds a dog at .60 cold in %s %%.", found[.95], found[.60])
	p.badly("A dog at .80 on the first ask of a session is flagged in only %s %% after 15 sessions.", found[.80])
}

// alarm measures how long the slipping alarm keeps still and how fast it speaks.
func alarm(e env, p *page) {
	p.heading(2, "6. The slipping alarm")
	n := e.n(800, 30)
	const before, watched = 12, 60
	p.say("A cue that has been ready (%d clean sessions) then goes on at a constant rate, three sessions of 3 to 8 trials a day, "+
		"looked at after every session for up to %d sessions; %d runs a cell. The run length is the number of trials between false alarms: "+
		"trials watched divided by alarms.", before, watched, n)
	type run struct {
		trials   int // until the alarm, or all of them
		sessions int // until the alarm, 0 = none
		began    bool
	}
	watch := func(cell string, n int, after, rho float64, sessions int) []run {
		return each(e, cell, n, func(_ int, r *rand.Rand) run {
			rec := kennel()
			missed := false
			add := func(k int, p float64) int {
				missed = false
				who, where := mainer, []string{yard, meadow, square}[k%3]
				if k%4 == 3 {
					who = second
				}
				s := session(1+k/3, k%3, who, where)
				urn := sitting{rho: rho}
				m := between(r, 3, 8)
				for range m {
					yes := urn.answer(p, r)
					missed = missed || !yes
					s.Trials = append(s.Trials, trial(yes, false, r))
				}
				rec.Sessions = append(rec.Sessions, s)
				return m
			}
			for k := range before {
				add(k, 1)
			}
			var out run
			for k := range sessions {
				out.trials += add(before+k, after)
				if !missed {
					continue // only a miss can raise the alarm
				}
				a := judge(rec, rec.Sessions[len(rec.Sessions)-1].Day()).Alarm
				if a.On {
					out.sessions = k + 1
					out.began = a.Since >= rec.Sessions[before].Day()
					return out
				}
			}
			return out
		})
	}
	t := table{{"true rate", "rho", "trials between alarms", "alarm within 60 sessions (about 330 trials)"}}
	var false92 string
	for _, c := range []struct{ p, rho float64 }{{.95, .10}, {.92, 0}, {.92, .05}, {.92, .10}, {.92, .20}, {.88, .10}} {
		runs := watch(fmt.Sprint("alarm still ", c.p, c.rho), n, c.p, c.rho, watched)
		trials, alarms := 0.0, 0.0
		for _, x := range runs {
			trials += float64(x.trials)
			if x.sessions > 0 {
				alarms++
			}
		}
		between := fmt.Sprintf("over %.0f", trials)
		if alarms > 0 {
			between = fmt.Sprintf("%.0f ±%.0f", trials/alarms, 1.96*trials/alarms/math.Sqrt(alarms))
		}
		t.row(two(c.p), two(c.rho), between, count(runs, func(x run) bool { return x.sessions > 0 }).String())
		switch {
		case c.p == .92 && c.rho == .10:
			false92 = between
		case c.p == .92 && c.rho == .20:
			p.badly("If the trials of a session are twice as alike as assumed (rho .20), false slipping alarms come every %s trials instead of every %s.", between, false92)
		}
	}
	p.table(t)
	t = table{{"drop from 1 to", "rho", "trials until the alarm: mean", "sessions: mean", "within 3 sessions", "within 6 sessions", "the reported beginning is after the drop"}}
	for _, c := range []struct{ p, rho float64 }{{.80, .10}, {.70, .10}, {.70, .20}, {.60, .10}, {.50, .10}} {
		runs := watch(fmt.Sprint("alarm drop ", c.p, c.rho), n, c.p, c.rho, watched)
		var trials, sessions mean
		var began tally
		for _, x := range runs {
			if x.sessions > 0 {
				trials.add(float64(x.trials))
				sessions.add(float64(x.sessions))
				began.add(x.began)
			}
		}
		within := func(k int) tally {
			return count(runs, func(x run) bool { return x.sessions > 0 && x.sessions <= k })
		}
		t.row(two(c.p), two(c.rho), trials.show(1), sessions.show(1), within(3).String(), within(6).String(), began.String())
		if c.p == .60 {
			p.well("A cue that drops to .60 raises the slipping alarm after %s trials on average; false alarms at .92 come every %s trials.", trials.show(1), false92)
		}
		if c.p == .80 {
			p.badly("A slow slip to .80 takes the alarm %s trials on average.", trials.show(1))
		}
	}
	p.table(t)
	p.say("Reading: the alarm is counted at the end of the session in which it came, so the delays include the rest of that session. It is a message, not a gate.")
}

// trends measures the trends of corrections.
func trends(e env, p *page) {
	n := e.n(2500, 150)
	p.heading(2, "8. Trends of corrections")
	p.say("Sessions of 3 to 8 trials. Two trends: the share of trials corrected, and the median level among corrected trials of one device. "+
		"Each direction is tested one-sided at 5 %%. %d records a cell.", n)
	type said struct{ shareFalls, shareRises, levelFalls, levelRises, levelJudged bool }
	run := func(name string, k int, share, level func(i int) float64, lag float64) []said {
		return each(e, fmt.Sprint("trend ", name, k), n, func(_ int, r *rand.Rand) said {
			rec := kennel()
			z, y := r.NormFloat64(), r.NormFloat64()
			for i := range k {
				if i > 0 {
					z = lag*z + math.Sqrt(1-lag*lag)*r.NormFloat64()
					y = lag*y + math.Sqrt(1-lag*lag)*r.NormFloat64()
				}
				s := session(1+i/3, i%3, mainer, yard)
				chance := share(i)
				if lag > 0 {
					chance = logistic(logit(chance) + 0.7*z)
				}
				for range between(r, 3, 8) {
					tr := trial(true, false, r)
					if r.Float64() < chance {
						v := level(i) + 0.8*r.NormFloat64()
						if lag > 0 {
							v += 0.7 * y
						}
						tr.Asks, tr.Latency = 2, training.Num{}
						tr.Corrections = []training.Correction{{
							Kind: training.ByCollar, Device: device, Level: training.Known(min(max(math.Round(v), 1), 6)), Served: true,
						}}
					}
					s.Trials = append(s.Trials, tr)
				}
				rec.Sessions = append(rec.Sessions, s)
			}
			c := judge(rec, rec.Sessions[k-1].Day()).Corrections
			out := said{shareFalls: c.Trend.Direction == "falling", shareRises: c.Trend.Direction == "rising"}
			for _, d := range c.Devices {
				out.levelFalls = out.levelFalls || d.Trend.Direction == "falling"
				out.levelRises = out.levelRises || d.Trend.Direction == "rising"
				out.levelJudged = out.levelJudged || d.Trend.Direction != ""
			}
			return out
		})
	}
	still := func(v float64) func(int) float64 { return func(int) float64 { return v } }
	slope := func(from, to float64, k int) func(int) float64 {
		return func(i int) float64 { return from + (to-from)*float64(i)/float64(k-1) }
	}
	t := table{{"the truth", "sessions", "share: falling", "share: rising", "level: falling", "level: rising", "level not judged"}}
	worst, worstName := tally{0, 1}, ""
	add := func(name string, k int, share, level func(int) float64, lag float64, null bool) []said {
		xs := run(name, k, share, level, lag)
		row := []string{name, fmt.Sprint(k)}
		for _, f := range []func(said) bool{
			func(s said) bool { return s.shareFalls }, func(s said) bool { return s.shareRises },
			func(s said) bool { return s.levelFalls }, func(s said) bool { return s.levelRises },
		} {
			c := count(xs, f)
			row = append(row, c.String())
			if null && c.rate() > worst.rate() {
				worst, worstName = c, fmt.Sprintf("%s, %d sessions", name, k)
			}
		}
		t.row(append(row, count(xs, func(s said) bool { return !s.levelJudged }).String())...)
		return xs
	}
	for _, k := range []int{6, 10, 20} {
		add("nothing changes, half corrected", k, still(.5), still(2.5), 0, true)
		add("nothing changes, 15 % corrected", k, still(.15), still(2.5), 0, true)
		add("nothing changes, neighbours alike (lag-1 .3)", k, still(.5), still(2.5), .3, true)
		add("nothing changes, neighbours much alike (lag-1 .6)", k, still(.5), still(2.5), .6, true)
	}
	var share10, level10 tally
	for _, k := range []int{6, 10, 15} {
		a := add("share .80 to .20, level the same", k, slope(.8, .2, k), still(2.5), 0, false)
		b := add("share .60, level 3.5 to 1.5", k, still(.6), slope(3.5, 1.5, k), 0, false)
		c := add("late: share .35 to .05", k, slope(.35, .05, k), still(1.5), 0, false)
		if k == 10 {
			share10 = count(a, func(s said) bool { return s.shareFalls })
			level10 = count(b, func(s said) bool { return s.levelFalls })
			p.badly("Late in training, with few corrections left (.35 to .05), a falling share is seen in ten sessions in only %s %%.",
				count(c, func(s said) bool { return s.shareFalls }))
		}
	}
	p.table(t)
	p.say("Reading: each series is blind to the other's change, as it should be. A falsely named direction: at worst %s %% (%s).", worst, worstName)
	p.well("Over ten sessions a share falling from .80 to .20 is seen in %s %%, a level falling from 3.5 to 1.5 in %s %%.", share10, level10)
	p.badly("Where neighbouring sessions are alike the false alarms of a trend reach %s %% (%s): \"falling\" is not \"proven\".", worst, worstName)
}
