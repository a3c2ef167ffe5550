package main

import (
	"fmt"
	"math"
	"math/rand/v2"

	"firstcue/internal/analysis"
	"firstcue/internal/training"
)

// course is what a stay looked like, evening by evening.
type course struct {
	everLevel, lastLevel bool // the level gate alone
	everReady, lastReady bool // all gates
	everBoth, lastBoth   bool // all gates and the owner's lessons
	everNine, lastNine   bool // 9 of the last 10, by eye
	everEight, lastEight bool // 18 of the last 20, by eye
	firstLevel           int  // night, 0 = never
	firstReady           int
	wrong                [len(watched)]bool // gate not met on the last night
}

// watched are the gates whose part in refusals on the last night is shown.
var watched = [...]analysis.GateName{
	analysis.GateEnough, analysis.GateLevel, analysis.GatePeople, analysis.GatePlaces,
	analysis.GateContext, analysis.GateSpeed, analysis.GateCorrections,
}

// follow judges a stay evening by evening; the owner's line on the last evening
// only, or with owners on all.
func follow(rec training.Record, days int, owners bool) course {
	var c course
	last := judge(rec, night(days))
	ready := readyNights(last, days)
	level := readyNights(judgeBy(rec, levelOnly(rec), night(days)), days)
	all := scores(rec)
	for d := 1; d <= days; d++ {
		c.lastLevel, c.lastReady = level[d], ready[d]
		c.lastBoth = ready[d] && (owners || d == days) && ownerConfirmed(rec, last, d, days)
		c.lastNine, c.lastEight = byEye(all, d, 9, 10), byEye(all, d, 18, 20)
		c.everLevel = c.everLevel || c.lastLevel
		c.everReady = c.everReady || c.lastReady
		c.everBoth = c.everBoth || c.lastBoth
		c.everNine = c.everNine || c.lastNine
		c.everEight = c.everEight || c.lastEight
		if c.lastLevel && c.firstLevel == 0 {
			c.firstLevel = d
		}
		if c.lastReady && c.firstReady == 0 {
			c.firstReady = d
		}
	}
	for i, g := range watched {
		c.wrong[i] = !met(last, g)
	}
	return c
}

// ownerConfirmed asks for the owner's line on the evening of day d. last is the
// judgement of the last evening.
func ownerConfirmed(rec training.Record, last analysis.CueAssessment, d, days int) bool {
	if d == days {
		return last.Owner.Confirmed
	}
	for _, s := range rec.Sessions {
		if s.Handler == owner && s.Day() <= night(d) {
			return judge(rec, night(d)).Owner.Confirmed
		}
	}
	return false
}

func stays(e env, cell string, n int, p plan, dog truth, owners bool) []course {
	return each(e, cell, n, func(_ int, r *rand.Rand) course { return follow(stay(p, dog, r), p.days, owners) })
}

func medianNight(cs []course, first func(course) int) string {
	var got []float64
	for _, c := range cs {
		if d := first(c); d > 0 {
			got = append(got, float64(d))
		}
	}
	if 2*len(got) < len(cs) {
		return "-"
	}
	for range len(cs) - len(got) {
		got = append(got, 99)
	}
	return fmt.Sprintf("%.0f", quantile(got, .5))
}

var everyoneRates = []float64{.70, .80, .85, .90, .95, .98}

// schedule is a plan with its name.
type schedule struct {
	name string
	plan plan
}

// shared is a light schedule on which somebody saw to it that people and places
// take turns: from day 4 every third session is the second trainer's, from
// day 11 every other one the owner's, and the three places follow one another.
func shared() plan {
	p := light()
	p.who = func(day int, _ *rand.Rand) string {
		switch {
		case day >= 11 && day%2 == 1:
			return owner
		case day >= 4 && day%3 == 0:
			return second
		}
		return mainer
	}
	p.where = func(day int, _ *rand.Rand) string { return []string{yard, meadow, square}[(day+day/9)%3] }
	return p
}

var schedules = []schedule{{"full", full()}, {"light", light()}, {"light, shared out", shared()}}

// everyone measures dogs with one chance for everybody everywhere.
func everyone(e env, p *page) {
	p.heading(2, "2. How often is a dog called ready, by what it truly does?")
	p.say("One true rate for everybody, everywhere, from the first day on. rho .10. %d stays a row.", e.n(2500, 60))
	var lightGood string
	for _, sched := range schedules {
		p.heading(3, "Schedule: "+sched.name)
		if sched.name == "light, shared out" {
			p.say("One session a day again, but people and places take turns instead of falling as chance has it: from day 4 every third session is the second trainer's, " +
				"from day 11 every other one the owner's, and the three places follow one another.")
		}
		t := table{{"true rate", "9 of the last 10 by eye: ever / night 15", "level gate alone: ever / night 15", "all gates: ever / night 15", "with owner confirmed: night 15", "first night the level gate opens (median)", "first night ready (median)"}}
		var good []course
		for _, rate := range everyoneRates {
			cs := stays(e, fmt.Sprintf("everyone %s %v", sched.name, rate), e.n(2500, 60), sched.plan, always(rate, .10), false)
			nine := count(cs, func(c course) bool { return c.everNine })
			ever := count(cs, func(c course) bool { return c.everReady })
			last := count(cs, func(c course) bool { return c.lastReady })
			t.row(two(rate),
				fmt.Sprintf("%s / %s", nine, count(cs, func(c course) bool { return c.lastNine })),
				fmt.Sprintf("%s / %s", count(cs, func(c course) bool { return c.everLevel }), count(cs, func(c course) bool { return c.lastLevel })),
				fmt.Sprintf("%s / %s", ever, last),
				count(cs, func(c course) bool { return c.lastBoth }).String(),
				medianNight(cs, func(c course) int { return c.firstLevel }),
				medianNight(cs, func(c course) int { return c.firstReady }))
			if rate == .95 {
				good = cs
			}
			switch {
			case rate == .80:
				p.bars = append(p.bars, bar{"true .80 for everyone, ever called ready in 15 nights, all gates, schedule: " + sched.name, ever.rate(), ever.error(), .05, true, percent})
				if sched.name == "full" {
					p.well("A dog that truly does it 80 %% of the time is called ready on some night of a stay in %s %% of stays; by \"9 of the last 10\" in %s %%.", ever, nine)
				}
				if sched.name == "light, shared out" {
					p.badly("On one session a day, people and places that take turns open the gates to the lucky dog too: a true .80 dog is called ready on some night in %s %% of stays (bar: 5 %%).", ever)
				}
			case rate == .85 && sched.name == "full":
				p.badly("One stay cannot tell .85 from .90: a true .85 dog is called ready on some night in %s %% of full stays, and on night 15 in %s %%.", ever, last)
			case rate == .90 && sched.name == "full":
				p.badly("A dog exactly at the bar, .90, is ready on night 15 in %s %% of full stays: close to the toss of a coin.", last)
			case rate == .95 && sched.name == "full":
				p.bars = append(p.bars, bar{"true .95 everywhere, ready on night 15, full schedule", last.rate(), last.error(), .80, false, percent})
				p.well("A dog that truly does it 95 %% of the time, with everybody, everywhere, is ready on night 15 of a full stay in %s %%.", last)
				p.badly("Every agreed cue must be ready, so chances multiply: six cues of that kind, if they went independently, are all ready on night 15 in about %.0f %% of full stays. Read \"5 of 6 ready\", not one flag.", 100*math.Pow(last.rate(), 6))
			case rate == .95 && sched.name == "light":
				lightGood = last.String()
			case rate == .95:
				p.badly("On one session a day a true .95 dog is ready on night 15 in only %s %% when people and places fall as chance has it, and in %s %% when they take turns. About 80 trials over three people and three places are little: plan them.", lightGood, last)
				p.propose("On one session a day let people and places take turns from the first week on: that alone brings a true .95 dog from %s to %s %% ready on night 15, with no bar lowered. `firstcue plan` ranks the missing cells for that reason.", lightGood, last)
			}
		}
		p.table(t)
		p.why(good)
	}
	p.say("Reading: looking every night turns a small error into a large one (\"9 of the last 10\" is true of nearly every dog on some night). " +
		"The level gate with two nights in a row stands that; the gates on people and places stand it better.")
	sensitivity(e, p)
}

// why writes which gates kept good dogs from being ready.
func (p *page) why(cs []course) {
	t := table{{"gate", "not met on night 15"}}
	for i, g := range watched {
		t.row(string(g), count(cs, func(c course) bool { return c.wrong[i] }).String())
	}
	p.say("What stood in the way of the dogs at .95 on night 15 (a dog can lack several):")
	p.table(t)
}

// sensitivity repeats two cells for other correlations and with corrections.
func sensitivity(e env, p *page) {
	p.heading(3, "If sessions resemble themselves less or more than assumed")
	p.say("The rules assume rho .10. All gates. %d stays a cell.", e.n(1500, 40))
	t := table{{"schedule", "true rate", "", "rho 0", "rho .05", "rho .10", "rho .20"}}
	for _, sched := range schedules[:2] {
		for _, rate := range []float64{.80, .95} {
			ever, last := []string{sched.name, two(rate), "ever"}, []string{sched.name, two(rate), "night 15"}
			for _, rho := range coverageRho {
				cs := stays(e, fmt.Sprintf("sensitivity %s %v %v", sched.name, rate, rho), e.n(1500, 40), sched.plan, always(rate, rho), false)
				x := count(cs, func(c course) bool { return c.everReady })
				ever = append(ever, x.String())
				last = append(last, count(cs, func(c course) bool { return c.lastReady }).String())
				if sched.name == "full" && rate == .80 && rho == .20 {
					p.badly("If the trials of a session are twice as alike as assumed (rho .20), a true .80 dog is called ready on some night in %s %% of full stays.", x)
				}
			}
			t.row(ever...)
			t.row(last...)
		}
	}
	p.table(t)
	p.say("Reading: the more alike the trials of a session, the less they prove; the bars allow for .10 and hold, less comfortably, at .20.")

	p.heading(3, "What corrections cost a good dog")
	p.say("The same, true .95, with a leash correction after half of the misses and after all of them. The gate wants at most one correction in ten trials now, and neither share nor level rising.")
	t = table{{"schedule", "misses corrected", "ready on night 15", "corrections gate not met"}}
	for _, sched := range schedules[:2] {
		for _, share := range []float64{0, .5, 1} {
			dog := always(.95, .10)
			dog.corrected = share
			cs := stays(e, fmt.Sprintf("corrected %s %v", sched.name, share), e.n(1500, 40), sched.plan, dog, false)
			refused := count(cs, func(c course) bool { return c.wrong[len(watched)-1] })
			t.row(sched.name, percent(share), count(cs, func(c course) bool { return c.lastReady }).String(), refused.String())
			if sched.name == "full" && share == 1 {
				p.badly("The corrections gate alone refuses %s %% of true .95 dogs on night 15 when every miss is corrected: chance makes the share of corrected trials look as if it rose.", refused)
			}
		}
	}
	p.table(t)
	p.say("Reading: the limit of one correction in ten trials hardly touches a good dog; the false alarms of \"rising\" do, because corrections are few and chance makes runs.")
}
