package main

import (
	"math/rand/v2"

	"firstcue/internal/model"
	"firstcue/internal/training"
)

// guard measures what it costs that a clean ask never lowers a probability.
func guard(e env, p *page) {
	n := e.n(1500, 100)
	p.heading(2, "5. What it costs that a clean ask never hurts")
	p.say("The probability that the level is at least .85, with the promise (as shipped) and without it (the filter alone). "+
		"High: at least .87 on some night; high at the end: on night 15. %d stays a row.", n)
	t := table{{"the truth", "high, with", "without", "high at the end, with", "without",
		"stays in which a clean session lowered the filter's figure"}}
	for _, w := range []struct {
		name string
		dog  truth
	}{
		{".80", always(.80)}, {".85", always(.85)}, {".95", always(.95)}, {".95, from day 13 .70", from(13, .95, .70)},
	} {
		type look struct{ ever, bare, last, bareLast, lowered bool }
		found := each(e, "guard "+w.name, n, func(_ int, r *rand.Rand) look {
			var out look
			watch := model.NewWatch(model.Shipped(), []model.Question{{Value: .85}})
			day, before := 0, 0.0
			for _, s := range stay(full(15), w.dog, r).Sessions {
				x, clean := counts(s)
				x.Night = int(s.Day()-arrival)+1 != day
				day = int(s.Day()-arrival) + 1
				watch.Observe(x)
				bare := watch.Filter.Prob(model.Target{}, .85)
				out.lowered = out.lowered || clean && bare < before
				before = bare
				out.last, out.bareLast = watch.Answer(0) >= .87, bare >= .87
				out.ever, out.bare = out.ever || out.last, out.bare || out.bareLast
			}
			return out
		})
		cells := []string{w.name}
		for _, f := range []func(look) bool{
			func(l look) bool { return l.ever }, func(l look) bool { return l.bare },
			func(l look) bool { return l.last }, func(l look) bool { return l.bareLast },
			func(l look) bool { return l.lowered },
		} {
			cells = append(cells, count(found, f).String())
		}
		t.row(cells...)
	}
	p.table(t)
}

// counts are a session's asks as the model takes them.
func counts(s training.Session) (x model.Sitting, clean bool) {
	x = model.Sitting{At: model.At{s.Handler, s.Place}, First: model.No}
	clean = true
	for i, t := range s.Trials {
		yes := t.Asks == 1
		clean = clean && yes
		switch {
		case i == 0 && yes:
			x.First = model.Yes
		case i > 0:
			x.Of++
			if yes {
				x.Yes++
			}
		}
	}
	return x, clean
}
