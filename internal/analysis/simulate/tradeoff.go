package main

import (
	"math/rand/v2"

	"firstcue/internal/analysis"
)

// otherBars are rules that the shipped code can follow with other settings.
var otherBars = []struct {
	name string
	set  func(*analysis.Criteria)
}{
	{"**as shipped**", func(*analysis.Criteria) {}},
	{"one evening instead of two", func(c *analysis.Criteria) { c.Nights = 1 }},
	{"three evenings", func(c *analysis.Criteria) { c.Nights = 3 }},
	{"level: sure less .05", func(c *analysis.Criteria) { c.Sure -= .05 }},
	{"level: sure and .05", func(c *analysis.Criteria) { c.Sure += .05 }},
	{"level lost at once: less .12", func(c *analysis.Criteria) { c.LoseSure -= .12 }},
	{"level lost at once: and .10", func(c *analysis.Criteria) { c.LoseSure += .10 }},
	{"others together: less .03", func(c *analysis.Criteria) { c.OthersSure -= .03 }},
	{"others together: and .02", func(c *analysis.Criteria) { c.OthersSure += .02 }},
	{"each person: less .15", func(c *analysis.Criteria) { c.PersonSure -= .15 }},
	{"each person: and .15", func(c *analysis.Criteria) { c.PersonSure += .15 }},
	{"each place: less .05", func(c *analysis.Criteria) { c.PlaceSure -= .05 }},
	{"each place: and .05", func(c *analysis.Criteria) { c.PlaceSure += .05 }},
	{"first ask: less .10", func(c *analysis.Criteria) { c.FirstAskSure -= .10 }},
	{"first ask: and .04", func(c *analysis.Criteria) { c.FirstAskSure += .04 }},
}

// tradeoffs runs the whole judgement with other settings on the same dogs.
func tradeoffs(e env, p *page) {
	n := e.n(300, 2)
	p.heading(2, "6. What other bars would give")
	p.say("The shipped code with one setting changed; %d stays a cell, the same dogs in every row of a column, so that differences between rows "+
		"are surer than the errors say. Every bar that keeps a weak dog out keeps some good ones out too.", n)
	columns := []struct {
		head string
		plan plan
		dog  truth
		said reading
	}{
		{".80: some night", full(15), always(.80), ever(0)},
		{".85: some night", full(15), always(.85), ever(0)},
		{".95: night 15", full(15), always(.95), onNight(15, 0)},
		{"light .95: night 15", light(15), always(.95), onNight(15, 0)},
		{"from day 7 .95: night 15", full(15), from(7, .50, .95), onNight(15, 0)},
		{"others .70: some night", full(15), by(.95, .70, .70), ever(0)},
		{"a place .60: some night", full(15), at(square, .60, .95), ever(0)},
		{"from day 13 .70: night 15", full(15), from(13, .95, .70), onNight(15, 0)},
		{"first asks .60: some night", full(15), coldly(.60, .97), ever(0)},
	}
	t := make(table, 1+len(otherBars))
	t[0] = []string{"setting"}
	for i, b := range otherBars {
		t[1+i] = []string{b.name}
	}
	for _, c := range columns {
		t[0] = append(t[0], c.head)
		found := each(e, "tradeoff "+c.head, n, func(_ int, r *rand.Rand) []bool {
			rec := stay(c.plan, c.dog, r)
			out := make([]bool, len(otherBars))
			for i, b := range otherBars {
				bars := func(cue string) analysis.Criteria {
					x := analysis.Resolve(rec.Kennel, nil, dogName, cue)
					b.set(&x)
					return x
				}
				out[i] = c.said.of(seen{verdicts: verdicts(judgeBy(rec, bars, night(c.plan.nights)), c.plan.nights)})
			}
			return out
		})
		for i := range otherBars {
			t[1+i] = append(t[1+i], count(found, func(x []bool) bool { return x[i] }).String())
		}
	}
	p.table(t)
}
