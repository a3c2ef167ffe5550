package main

import (
	"fmt"
	"math/rand/v2"

	"firstcue/internal/analysis"
	"firstcue/internal/training"
)

// seen is what the program said of one stay.
type seen struct {
	verdicts []analysis.Verdict // by night, from 1
	owned    []bool             // the owner's own line confirmed, by night; where it was asked for
	eye      bool               // 9 of the last 10, on some night
	worse    bool               // somebody or some place is "worse", on the last night
	square   bool               // it is the off-property place
}

// row is a kind of dog with the figures that are read from its stays.
type row struct {
	name    string
	plan    plan
	dog     truth
	goal    bool // an agreed goal of 90 %
	owners  bool // ask for the owner's line too
	core    bool // also in a quick run
	figures []reading
}

// reading is one figure of a row with the limit that it was promised to keep.
type reading struct {
	what   string
	of     func(seen) bool
	limit  float64 // in percent; 0 = none
	atMost bool
}

func ready(s seen, night int) bool { return s.verdicts[night] == analysis.Ready }

// onNight is "ready" on one night.
func onNight(n int, atLeast float64) reading {
	return reading{fmt.Sprintf("ready on night %d", n), func(s seen) bool { return ready(s, n) }, atLeast, false}
}

// stillOn is the same where the dog ought not to be.
func stillOn(n int, atMost float64) reading {
	r := onNight(n, atMost)
	r.atMost = true
	return r
}

// ever is "ready" on at least one night.
func ever(atMost float64) reading {
	return reading{"ready on some night", func(s seen) bool { return said(s, analysis.Ready, 1) }, atMost, true}
}

// said is a verdict on some night from one on.
func said(s seen, v analysis.Verdict, from int) bool {
	for _, x := range s.verdicts[from:] {
		if x == v {
			return true
		}
	}
	return false
}

func notReadyOn(n int, atLeast float64) reading {
	not := func(s seen) bool { return s.verdicts[n] == analysis.NotReady }
	return reading{fmt.Sprintf("\"not ready\" on night %d", n), not, atLeast, false}
}

func notReadyAfter(n int, atMost float64) reading {
	not := func(s seen) bool { return said(s, analysis.NotReady, n+1) }
	return reading{fmt.Sprintf("\"not ready\" on some night after night %d", n), not, atMost, true}
}

func confirmedToo(atMost float64) reading {
	return reading{"ready and owner confirmed, some night", func(s seen) bool {
		for n := range s.owned {
			if s.owned[n] && ready(s, n) {
				return true
			}
		}
		return false
	}, atMost, true}
}

func confirmedOn(n int) reading {
	both := func(s seen) bool { return s.owned[n] && ready(s, n) }
	return reading{fmt.Sprintf("ready and owner confirmed on night %d", n), both, 0, false}
}

func worseSaid(atMost float64) reading {
	return reading{"a person or place is \"worse\", last night", func(s seen) bool { return s.worse }, atMost, true}
}

func squareFound(atLeast float64) reading {
	return reading{"that place is \"worse\", last night", func(s seen) bool { return s.square }, atLeast, false}
}

// by gives a chance for each handler, where one for the place.
func by(main, second_, owner_ float64) truth {
	return truth{rho: .10, chance: func(a ask) float64 {
		switch a.handler {
		case second:
			return second_
		case owner:
			return owner_
		}
		return main
	}}
}

func at(place string, there, elsewhere float64) truth {
	return truth{rho: .10, chance: func(a ask) float64 {
		if a.place == place {
			return there
		}
		return elsewhere
	}}
}

func from(day int, before, after float64) truth {
	return truth{rho: .10, chance: func(a ask) float64 {
		if a.day >= day {
			return after
		}
		return before
	}}
}

// rising is a straight line from the first day to the end of another.
func rising(low, high float64, day int) truth {
	return truth{rho: .10, chance: func(a ask) float64 { return low + (high-low)*min(1, a.hour/float64(day-1)) }}
}

func coldly(first, later float64) truth {
	return truth{rho: .10, chance: func(a ask) float64 {
		if a.cold {
			return first
		}
		return later
	}}
}

func like(t truth, change func(*truth)) truth {
	change(&t)
	return t
}

var rows = []row{
	{core: true, name: ".80 everywhere", plan: full(15), dog: always(.80),
		figures: []reading{ever(2), notReadyOn(15, 75), worseSaid(5)}},
	{name: ".85 everywhere", plan: full(15), dog: always(.85), figures: []reading{ever(12)}},
	{name: ".90 everywhere", plan: full(15), dog: always(.90), figures: []reading{onNight(15, 0)}},
	{core: true, name: ".95 everywhere", plan: full(15), dog: always(.95),
		figures: []reading{onNight(15, 95), notReadyAfter(5, 0), worseSaid(5)}},
	{name: ".95 everywhere, the owner's lessons too", plan: full(15), dog: always(.95), owners: true,
		figures: []reading{confirmedOn(15)}},
	{core: true, name: ".95 everywhere, with an agreed goal of 90 %", plan: full(15), dog: always(.95), goal: true,
		figures: []reading{onNight(15, 95)}},
	{name: ".95 everywhere, every miss corrected", plan: full(15),
		dog: like(always(.95), func(t *truth) { t.corrected = 1 }), figures: []reading{onNight(15, 0)}},
	{core: true, name: ".97 everywhere", plan: full(15), dog: always(.97),
		figures: []reading{notReadyAfter(5, .5), onNight(15, 0)}},
	{core: true, name: "main trainer .95, others .70", plan: full(15), dog: by(.95, .70, .70),
		figures: []reading{ever(5)}},
	{name: "second trainer .70, main and owner .95", plan: full(15), dog: by(.95, .70, .95),
		figures: []reading{ever(0)}},
	{core: true, name: "off-property place .60, else .95", plan: full(15), dog: at(square, .60, .95),
		figures: []reading{ever(5), squareFound(70)}},
	{name: "second place .60, else .95", plan: full(15), dog: at(meadow, .60, .95),
		figures: []reading{ever(5)}},
	{core: true, name: "trainers .95, owner .60", plan: full(15), dog: by(.95, .95, .60), owners: true,
		figures: []reading{confirmedToo(2)}},
	{core: true, name: ".50, from day 7 .95", plan: full(21), dog: from(7, .50, .95),
		figures: []reading{onNight(15, 85), onNight(21, 92), worseSaid(5)}},
	{name: "smooth rise from .40 to .96 by day 9", plan: full(15), dog: rising(.40, .96, 9),
		figures: []reading{onNight(15, 85)}},
	{core: true, name: "steady rise from .35 to .95 by day 14", plan: full(21), dog: rising(.35, .95, 14),
		figures: []reading{onNight(21, 85), worseSaid(5)}},
	{core: true, name: ".95, from day 13 .70", plan: full(15), dog: from(13, .95, .70),
		figures: []reading{stillOn(15, 6)}},
	{core: true, name: "first ask of a session .60, later .97", plan: full(15), dog: coldly(.60, .97),
		figures: []reading{stillOn(15, 5), ever(10)}},
	{name: "light: .80 everywhere", plan: light(15), dog: always(.80), figures: []reading{ever(3)}},
	{core: true, name: "light: .95 everywhere", plan: light(15), dog: always(.95),
		figures: []reading{onNight(15, 88)}},
	{name: "light: .50, from day 7 .95", plan: light(28), dog: from(7, .50, .95),
		figures: []reading{onNight(28, 85), worseSaid(5)}},
	{name: "light: main trainer .95, others .70", plan: light(15), dog: by(.95, .70, .70),
		figures: []reading{ever(0)}},
	{name: "light: off-property place .60, else .95", plan: light(15), dog: at(square, .60, .95),
		figures: []reading{ever(0)}},
	{name: "light: first ask of a session .60, later .97", plan: light(15), dog: coldly(.60, .97),
		figures: []reading{ever(0)}},
	{name: "light: .95, from day 11 .70", plan: light(15), dog: from(11, .95, .70),
		figures: []reading{stillOn(15, 0)}},
	{name: "sessions alike from one to the next (correlation .5), .80", plan: full(15),
		dog: like(always(.80), func(t *truth) { t.carried = .5 }), figures: []reading{ever(9)}},
	{name: "half of the bad sessions never logged, .80", plan: full(15),
		dog: like(always(.80), func(t *truth) { t.selective = true }), figures: []reading{ever(10)}},
	{name: "likeness .20 instead of .10, .80", plan: full(15),
		dog: like(always(.80), func(t *truth) { t.rho = .20 }), figures: []reading{ever(0)}},
}

// watch lets the program judge one stay.
func watch(w row, r *rand.Rand) seen {
	rec := stay(w.plan, w.dog, r)
	if w.goal {
		rec.Dog.Goals = []training.Goal{{Cue: cueName, Bar: training.Known(.90)}}
		rec.Kennel.Dogs = []training.Dog{rec.Dog}
	}
	last := judge(rec, night(w.plan.nights))
	s := seen{verdicts: verdicts(last, w.plan.nights)}
	for _, c := range append(last.People, last.Places...) {
		s.worse = s.worse || c.Worse
		s.square = s.square || c.Worse && c.Place == square
	}
	all := scores(rec)
	for n := 1; n <= w.plan.nights; n++ {
		s.eye = s.eye || byEye(all, n, 9, 10)
	}
	if w.owners {
		s.owned = make([]bool, w.plan.nights+1)
		for n := w.plan.nights - 3; n <= w.plan.nights; n++ {
			s.owned[n] = judge(rec, night(n)).Owner.Confirmed
		}
	}
	return s
}

// verdictTable is the table of the whole verdict.
func verdictTable(e env, p *page) {
	n := e.n(1500, 200)
	p.heading(2, "1. The whole verdict, by what the dog truly does")
	p.say("%d stays a row; all gates. \"9 of 10\": the last ten asks held nine right ones on some night, the rule by eye.", n)
	t := table{{"the truth", "what was said", "found, %", "promised", "\"9 of 10\" on some night, %"}}
	for _, w := range rows {
		if e.quick && !w.core {
			continue
		}
		stays := each(e, w.name, n, func(_ int, r *rand.Rand) seen { return watch(w, r) })
		eye := count(stays, func(s seen) bool { return s.eye }).String()
		for i, f := range w.figures {
			c := count(stays, f.of)
			name, promised := w.name, "-"
			if i > 0 {
				name, eye = "", ""
			}
			if f.limit > 0 {
				p.bars = append(p.bars, bar{w.name + ": " + f.what, c.rate(), c.error(), f.limit / 100, f.atMost, percent})
				promised = fmt.Sprintf("at least %g", f.limit)
				if f.atMost {
					promised = fmt.Sprintf("at most %g", f.limit)
				}
			}
			t.row(name, f.what, c.String(), promised, eye)
			p.remark(w, c)
		}
	}
	p.table(t)
}

// remark says what a row without a bar, or one that is bad news, means.
func (p *page) remark(w row, c tally) {
	switch w.name {
	case ".85 everywhere":
		p.badly("One stay cannot tell .85 from .90: a true .85 dog is called ready on some night in %s %% of stays.", c)
	case ".90 everywhere":
		p.badly("A dog at .90, which is what was agreed, is ready on night 15 in %s %%: close to the toss of a coin.", c)
	case ".95 everywhere, every miss corrected":
		p.badly("A true .95 dog of which every miss is corrected is ready on night 15 in %s %%.", c)
	case "second trainer .70, main and owner .95":
		p.badly("One weak trainer among three (.70, else .95) is called ready on some night in %s %%.", c)
	case "light: first ask of a session .60, later .97":
		p.badly("On one session a day there are 15 first asks in a stay: a dog that fails 4 in 10 of them is called ready on some night in %s %%.", c)
	case "likeness .20 instead of .10, .80":
		p.badly("If the asks of a session are twice as alike as assumed (.20), a true .80 dog is called ready on some night in %s %%.", c)
	case ".95 everywhere, the owner's lessons too":
		p.badly("The three lessons of the last days confirm the owner of a true .95 dog by night 15 in %s %%: plan one more.", c)
	}
}
