package main

import (
	"fmt"
	"math/rand/v2"

	"firstcue/internal/analysis"
	"firstcue/internal/training"
)

// cell is a handler at a place.
type cell struct{ handler, place string }

var cells = []cell{{mainer, yard}, {mainer, meadow}, {mainer, square}, {second, yard}, {second, meadow}, {second, square}}

// grid makes a record with n trials in each of six cells, in sessions of four,
// the cells in turn.
func grid(n int, rho float64, chance func(cell) float64, r *rand.Rand) (training.Record, int) {
	rec := kennel()
	day := 0
	for left := n; left > 0; left -= 4 {
		for i, c := range cells {
			if i%3 == 0 {
				day++
			}
			s := session(day, i%3, c.handler, c.place)
			urn := sitting{rho: rho}
			for range min(4, left) {
				s.Trials = append(s.Trials, trial(urn.answer(chance(c), r), false, r))
			}
			rec.Sessions = append(rec.Sessions, s)
		}
	}
	return rec, day
}

// flags are what the report said of the contexts.
type flags struct {
	anyCell, weakCell       bool // below the bar
	anyWorse, weakWorse     bool // worse here than elsewhere
	weakHandler, weakPlace  bool
	anyHandler, anyPlace    bool
	otherHandler, otherSpot bool
}

func readFlags(cs []analysis.Context, weak cell) flags {
	var f flags
	for _, c := range cs {
		switch c.Kind {
		case analysis.ByCell:
			here := c.Handler == weak.handler && c.Place == weak.place
			f.anyCell = f.anyCell || c.Below
			f.weakCell = f.weakCell || here && c.Below
			f.anyWorse = f.anyWorse || c.Worse
			f.weakWorse = f.weakWorse || here && c.Worse
		case analysis.ByHandler:
			here := c.Handler == weak.handler
			f.anyHandler = f.anyHandler || c.Below
			f.weakHandler = f.weakHandler || here && c.Below
			f.otherHandler = f.otherHandler || !here && c.Below
		case analysis.ByPlace:
			here := c.Place == weak.place
			f.anyPlace = f.anyPlace || c.Below
			f.weakPlace = f.weakPlace || here && c.Below
			f.otherSpot = f.otherSpot || !here && c.Below
		}
	}
	return f
}

// contexts measures the flags of weak handlers, places and cells.
func contexts(e env, p *page) {
	n := e.n(2500, 100)
	weak := cell{second, square}
	p.heading(2, "4. Is a weak handler, place or cell found?")
	p.say("Two handlers in three places, the same number of trials in each of the six cells, sessions of four, rho .10; %d records a cell. "+
		"\"Below\" is the flag that blocks readiness (upper end of the 95 %% interval under .90); \"worse\" is the comparison (Fisher with Holm over the cells).", n)
	done := map[string][]flags{}
	run := func(name string, per int, rho float64, chance func(cell) float64) []flags {
		key := fmt.Sprint(name, per)
		if done[key] == nil {
			done[key] = measure(e, n, name, per, rho, chance, weak)
		}
		return done[key]
	}
	oneCell := func(p float64) func(cell) float64 {
		return func(c cell) float64 {
			if c == weak {
				return p
			}
			return .95
		}
	}
	even := func(p float64) func(cell) float64 { return func(cell) float64 { return p } }
	trials := []int{8, 12, 16, 24}
	head := []string{"the truth", "what was said", "8 trials a cell", "12", "16", "24"}

	t := table{head}
	add := func(truth, said string, rho float64, chance func(cell) float64, f func(flags) bool) map[int]tally {
		row, got := []string{truth, said}, map[int]tally{}
		for _, per := range trials {
			got[per] = count(run(truth, per, rho, chance), f)
			row = append(row, got[per].String())
		}
		t.row(row...)
		return got
	}
	found := add("one cell .60, others .95", "that cell below", .10, oneCell(.60), func(f flags) bool { return f.weakCell })
	add("one cell .60, others .95", "that cell worse", .10, oneCell(.60), func(f flags) bool { return f.weakWorse })
	add("one cell .70, others .95", "that cell below", .10, oneCell(.70), func(f flags) bool { return f.weakCell })
	missed := add("one cell .80, others .95", "that cell below", .10, oneCell(.80), func(f flags) bool { return f.weakCell })
	byName := func(who bool, p float64) func(cell) float64 {
		return func(c cell) float64 {
			if who && c.handler == weak.handler || !who && c.place == weak.place {
				return p
			}
			return .95
		}
	}
	add("one handler .70, other .95", "that handler below", .10, byName(true, .70), func(f flags) bool { return f.weakHandler })
	add("one place .60, others .95", "that place below", .10, byName(false, .60), func(f flags) bool { return f.weakPlace })
	p.table(t)
	p.say("Reading: below 12 trials a cell one looks for a needle; at 24 a cell at .60 is found nearly always.")

	t = table{head}
	falsely := add("all .95", "any cell below (false)", .10, even(.95), func(f flags) bool { return f.anyCell })
	add("all .95", "any cell worse (false)", .10, even(.95), func(f flags) bool { return f.anyWorse })
	add("all .95", "a handler below (false)", .10, even(.95), func(f flags) bool { return f.anyHandler })
	add("all .95", "a place below (false)", .10, even(.95), func(f flags) bool { return f.anyPlace })
	add("all .98", "any cell below (false)", .10, even(.98), func(f flags) bool { return f.anyCell })
	add("all .85", "any cell below (true)", .10, even(.85), func(f flags) bool { return f.anyCell })
	add("all .85", "any cell worse (false)", .10, even(.85), func(f flags) bool { return f.anyWorse })
	loud := add("all .95, rho .20", "any cell below (false)", .20, even(.95), func(f flags) bool { return f.anyCell })
	add("all .95, rho 0", "any cell below (false)", 0, even(.95), func(f flags) bool { return f.anyCell })
	p.table(t)
	p.say("Reading: false flags are few unless the trials of a session are much alike. A dog at .85 everywhere is rightly flagged somewhere: the flag says \"below standard here\", not \"worse than elsewhere\".")
	p.well("A cell at .60 among cells at .95 is flagged in %s %% with 12 trials a cell and %s %% with 24; a false flag on any of six cells at .95: %s %% and %s %%.", found[12], found[24], falsely[12], falsely[24])
	p.badly("A cell at .80 among cells at .95 is flagged in only %s %% with 12 trials and %s %% with 24. With 8 trials a cell, a dog at .95 everywhere gets a false flag somewhere in %s %%; at rho .20 with 12 trials in %s %%.", missed[12], missed[24], falsely[8], loud[12])
}

func measure(e env, n int, name string, per int, rho float64, chance func(cell) float64, weak cell) []flags {
	return each(e, fmt.Sprintf("contexts %s %d %v", name, per, rho), n, func(_ int, r *rand.Rand) flags {
		rec, days := grid(per, rho, chance, r)
		return readFlags(judge(rec, night(days)).Contexts, weak)
	})
}
