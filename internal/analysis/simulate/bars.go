package main

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"

	"firstcue/internal/analysis"
	"firstcue/internal/training"
)

// otherBars are rules that the shipped code can follow with other settings.
var otherBars = []struct {
	name string
	set  func(*analysis.Criteria)
}{
	{"**as shipped**", func(*analysis.Criteria) {}},
	{"one night instead of two", func(c *analysis.Criteria) { c.Nights = 1 }},
	{"three nights", func(c *analysis.Criteria) { c.Nights = 3 }},
	{"floor .85 (strict)", func(c *analysis.Criteria) { c.Floor = .85 }},
	{"floor .83", func(c *analysis.Criteria) { c.Floor = .83 }},
	{"floor .85, others' floor .70", func(c *analysis.Criteria) { c.Floor, c.OtherFloor = .85, .70 }},
	{"floor .83, others' floor .70", func(c *analysis.Criteria) { c.Floor, c.OtherFloor = .83, .70 }},
	{"half-life 4", func(c *analysis.Criteria) { c.HalfLife = 4 }},
	{"half-life 10", func(c *analysis.Criteria) { c.HalfLife = 10 }},
	{"lost below .90", func(c *analysis.Criteria) { c.Leave = .90 }},
	{"lost below .85", func(c *analysis.Criteria) { c.Leave = .85 }},
	{"others' floor .70", func(c *analysis.Criteria) { c.OtherFloor = .70 }},
	{"others' rate .90, floor .70", func(c *analysis.Criteria) { c.OtherRate, c.OtherFloor = .90, .70 }},
	{"handler or place judged from 12 trials", func(c *analysis.Criteria) { c.ContextTrials = 12 }},
	{"correlation taken as .20", func(c *analysis.Criteria) { c.ICC = .20 }},
}

// alternatives runs the whole judgement with other settings.
func alternatives(e env, p *page) {
	n := e.n(500, 8)
	p.heading(2, "12. Would other bars do better?")
	p.say("The shipped code with one setting changed, all gates, rho .10; %d stays a cell, the same dogs in every row of a column, so differences between rows are surer than the errors say. In brackets: the median first night ready.", n)
	type cellOf struct {
		head  string
		plan  plan
		dog   truth
		every bool // ever, not night 15
	}
	cols := []cellOf{
		{"full, .80: ever", full(), always(.80, .10), true},
		{"full, .85: ever", full(), always(.85, .10), true},
		{"full, .95: night 15", full(), always(.95, .10), false},
		{"full, .90: night 15", full(), always(.90, .10), false},
		{"light shared out, .80: ever", shared(), always(.80, .10), true},
		{"light shared out, .95: night 15", shared(), always(.95, .10), false},
		{"light, .95: night 15", light(), always(.95, .10), false},
		{"main .95, others .70: ever", full(), truth{chance: byHandler(.70, .70), rho: .10}, true},
		{"main .95, others .80: ever", full(), truth{chance: byHandler(.80, .80), rho: .10}, true},
		{"off-property place .60: ever", full(), truth{chance: worlds[10].chance, rho: .10}, true},
		{"drop .95 to .70 on day 14: still ready on night 15", full(), truth{rho: .10, chance: func(a ask) float64 {
			if a.day >= 14 {
				return .70
			}
			return .95
		}}, false},
	}
	head := []string{"setting"}
	grid := make([][]string, len(otherBars))
	figures := map[string]tally{} // setting and column
	for _, c := range cols {
		head = append(head, c.head)
		type look struct {
			said  bool
			first int
		}
		found := each(e, "bars "+c.head, n, func(_ int, r *rand.Rand) []look {
			rec := stay(c.plan, c.dog, r)
			out := make([]look, len(otherBars))
			for i, b := range otherBars {
				ready := readyNights(judgeBy(rec, changed(rec, b.set), night(15)), 15)
				out[i] = look{ready[15] || c.every && slices.Contains(ready, true), slices.Index(ready, true)}
			}
			return out
		})
		for i := range otherBars {
			figure := count(found, func(x []look) bool { return x[i].said })
			figures[otherBars[i].name+c.head] = figure
			said := figure.String()
			if strings.HasSuffix(c.head, ".95: night 15") {
				first := make([]float64, len(found))
				for k, x := range found {
					first[k] = float64(x[i].first)
					if x[i].first < 0 {
						first[k] = 99
					}
				}
				m := "later"
				if v := quantile(first, .5); v < 99 {
					m = fmt.Sprintf("%.0f", v)
				}
				said += " (" + m + ")"
			}
			grid[i] = append(grid[i], said)
		}
	}
	t := table{head}
	for i, b := range otherBars {
		t.row(append([]string{b.name}, grid[i]...)...)
	}
	p.table(t)
	at := func(column string) string {
		return fmt.Sprintf("%s to %s (floor .85: %s) %%", figures[otherBars[0].name+column], figures["floor .83"+column], figures["floor .85 (strict)"+column])
	}
	p.say("Reading: since a ready level is lost only below .87, a stricter floor costs a good dog little on a full schedule. A longer memory or a later loss finds more good dogs and leaves a dropped one ready for longer.")
	p.propose("Set `floor` to .83 (now .80). Dogs at .85 ever called ready: from %s. Dogs at .80: from %s, on one session a day with people and places shared out from %s. "+
		"Main .95 and others .70: from %s. What it costs: dogs at .95 ready on night 15, full schedule, from %s; one session a day, shared out, from %s. "+
		"A floor of .85 is worth it only with two sessions a day or more.",
		at("full, .85: ever"), at("full, .80: ever"), at("light shared out, .80: ever"), at("main .95, others .70: ever"),
		at("full, .95: night 15"), at("light shared out, .95: night 15"))
	p.propose("Set `other-floor` to .70 (now .65) where a second trainer has twelve sessions: main .95 and others .70 ever ready from %s to %s %%, others .80 from %s to %s %%, a dog at .95 ready on night 15 of a full stay %s and %s %%.",
		figures[otherBars[0].name+"main .95, others .70: ever"], figures["others' floor .70main .95, others .70: ever"],
		figures[otherBars[0].name+"main .95, others .80: ever"], figures["others' floor .70main .95, others .80: ever"],
		figures[otherBars[0].name+"full, .95: night 15"], figures["others' floor .70full, .95: night 15"])
}

// changed are the shipped bars with some changed.
func changed(rec training.Record, set func(*analysis.Criteria)) analysis.CriteriaFunc {
	return func(cue string) analysis.Criteria {
		c := analysis.Resolve(rec.Kennel, nil, dogName, cue)
		set(&c)
		return c
	}
}
