package main

import (
	"math/rand/v2"

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
	{"floor .82", func(c *analysis.Criteria) { c.Floor = .82 }},
	{"half-life 4", func(c *analysis.Criteria) { c.HalfLife = 4 }},
	{"half-life 10", func(c *analysis.Criteria) { c.HalfLife = 10 }},
	{"lost below .90", func(c *analysis.Criteria) { c.Leave = .90 }},
	{"lost below .85", func(c *analysis.Criteria) { c.Leave = .85 }},
	{"others' floor .70", func(c *analysis.Criteria) { c.OtherFloor = .70 }},
	{"others' rate .90, floor .70", func(c *analysis.Criteria) { c.OtherRate, c.OtherFloor = .90, .70 }},
	{"handler or place judged from 12 trials", func(c *analysis.Criteria) { c.ContextTrials = 12 }},
	{"handler or place judged from 6 trials", func(c *analysis.Criteria) { c.ContextTrials = 6 }},
	{"correlation taken as .20", func(c *analysis.Criteria) { c.ICC = .20 }},
}

// alternatives runs the whole judgement with other settings.
func alternatives(e env, p *page) {
	n := e.n(1500, 12)
	p.heading(2, "12. Would other bars do better?")
	p.say("The shipped code with one setting changed, all gates, rho .10; %d stays a cell, the same dogs in every row of a column, so differences between rows are surer than the errors say.", n)
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
		{"light, .80: ever", light(), always(.80, .10), true},
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
	for _, c := range cols {
		head = append(head, c.head)
		found := each(e, "bars "+c.head, n, func(_ int, r *rand.Rand) []bool {
			rec := stay(c.plan, c.dog, r)
			out := make([]bool, len(otherBars))
			for i, b := range otherBars {
				ready := readyNights(judgeBy(rec, changed(rec, b.set), night(15)), 15)
				out[i] = ready[15]
				for _, x := range ready {
					out[i] = out[i] || c.every && x
				}
			}
			return out
		})
		for i := range otherBars {
			grid[i] = append(grid[i], count(found, func(x []bool) bool { return x[i] }).String())
		}
	}
	t := table{head}
	for i, b := range otherBars {
		t.row(append([]string{b.name}, grid[i]...)...)
	}
	p.table(t)
}

// changed are the shipped bars with some changed.
func changed(rec training.Record, set func(*analysis.Criteria)) analysis.CriteriaFunc {
	return func(cue string) analysis.Criteria {
		c := analysis.Resolve(rec.Kennel, nil, dogName, cue)
		set(&c)
		return c
	}
}
