package main

import "fmt"

// world is one row of the table of whole verdicts.
type world struct {
	name   string
	chance func(ask) float64
}

func byHandler(others, owners float64) func(ask) float64 {
	return func(a ask) float64 {
		switch a.handler {
		case second:
			return others
		case owner:
			return owners
		}
		return .95
	}
}

func flat(p float64) func(ask) float64 { return func(ask) float64 { return p } }

var worlds = []world{
	{"main .95, second and owner .70", byHandler(.70, .70)},
	{"main .95, second and owner .80", byHandler(.80, .80)},
	{"main .95, second and owner .85", byHandler(.85, .85)},
	{"main .95, second and owner .90", byHandler(.90, .90)},
	{"everyone .80", flat(.80)},
	{"everyone .90", flat(.90)},
	{"everyone .95", flat(.95)},
	{"everyone .98", flat(.98)},
	{"trainers .95, owner .60", byHandler(.95, .60)},
	{"trainers .95, owner .75", byHandler(.95, .75)},
	{"off-property place .60 for all, else .95", func(a ask) float64 {
		if a.place == square {
			return .60
		}
		return .95
	}},
	{"second place .60 for all, else .95", func(a ask) float64 {
		if a.place == meadow {
			return .60
		}
		return .95
	}},
	{"owner in the off-property place .60, else .97", func(a ask) float64 {
		if a.place == square && a.handler == owner {
			return .60
		}
		return .97
	}},
	{"first ask of a session .70, else .98", func(a ask) float64 {
		if a.cold {
			return .70
		}
		return .98
	}},
}

// whole measures the whole verdict where people and places differ.
func whole(e env, p *page) {
	n := e.n(2500, 60)
	p.heading(2, "3. The whole verdict, where people and places differ")
	p.say("Full schedule, rho .10, %d stays a row; ever in 15 nights / on night 15.", n)
	t := table{{"the truth", "18 of the last 20 by eye", "level gate alone", "all gates", "all gates and owner confirmed"}}
	for i, w := range worlds {
		cs := stays(e, fmt.Sprint("whole ", i), n, full(), truth{chance: w.chance, rho: .10}, true)
		pair := func(ever, last func(course) bool) string {
			return count(cs, ever).String() + " / " + count(cs, last).String()
		}
		ever := count(cs, func(c course) bool { return c.everReady })
		last := count(cs, func(c course) bool { return c.lastReady })
		both := count(cs, func(c course) bool { return c.everBoth })
		alone := count(cs, func(c course) bool { return c.everLevel })
		t.row(w.name,
			pair(func(c course) bool { return c.everEight }, func(c course) bool { return c.lastEight }),
			pair(func(c course) bool { return c.everLevel }, func(c course) bool { return c.lastLevel }),
			ever.String()+" / "+last.String(),
			both.String()+" / "+count(cs, func(c course) bool { return c.lastBoth }).String())
		switch w.name {
		case "main .95, second and owner .70":
			p.bars = append(p.bars, bar{"main .95 and others .70, ever called ready, all gates", ever.rate(), ever.error(), .15, true, percent})
			p.well("A dog that works for its main trainer only (.95, others .70) is called ready on some night in %s %%; the pooled figure alone would do so in %s %%.", ever, alone)
		case "main .95, second and owner .85":
			p.badly("A dog at .95 with its main trainer and .85 with others is still called ready on some night in %s %%.", ever)
		case "trainers .95, owner .60":
			p.well("With the owner at .60 and the trainers at .95, \"ready\" and \"owner confirmed\" together are said in %s %%.", both)
			p.badly("\"Ready\" without \"owner confirmed\" says little about the owner: trainers .95 and owner .60 is called ready on some night in %s %% of stays.", ever)
		case "off-property place .60 for all, else .95":
			p.well("A weak off-property place (.60, else .95) is called ready on night 15 in %s %% (ever: %s %%); the level gate alone says so on some night in %s %%.", last, ever, alone)
		case "owner in the off-property place .60, else .97":
			p.badly("A weakness of one person in one place is not found in a stay: owner .60 in the off-property place, else .97, is called ready on night 15 in %s %%. About five trials of that kind exist by then.", last)
		case "first ask of a session .70, else .98":
			p.badly("A dog that fails its first ask of a session (.70) and then works at .98 is still ready on night 15 in %s %%: the flag on first asks is shown and does not decide. The owner's first ask at the door is such an ask.", last)
		case "everyone .95":
			p.badly("Owner lessons held only as chance brings them confirm the owner of a true .95 dog on night 15 in %s %%: plan three lessons of six.", count(cs, func(c course) bool { return c.lastBoth }))
		}
	}
	p.table(t)
	p.say("Reading: the pooled figure hides the weak person or place; the gates on people and places find it, the owner's own line finds the owner. " +
		"What no gate can find is a weakness met five times.")
}
