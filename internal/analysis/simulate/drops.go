package main

import (
	"fmt"
	"math/rand/v2"
)

// drops measures how fast "ready" is taken back from a dog that has slipped.
func drops(e env, p *page) {
	n := e.n(2000, 80)
	const from = 11
	p.heading(2, "7. How fast is \"ready\" taken back?")
	p.say("A dog at .95 for ten days drops on day %d, for everybody and everywhere. Of the dogs ready on night %d, those still called ready afterwards. rho .10, %d stays a row.", from, from-1, n)
	t := table{{"schedule", "drops to", "night 11", "night 12", "night 13", "night 14", "night 15"}}
	for _, sched := range schedules[:2] {
		for _, to := range []float64{.80, .70, .60, .40} {
			dog := truth{rho: .10, chance: func(a ask) float64 {
				if a.day >= from {
					return to
				}
				return .95
			}}
			found := each(e, fmt.Sprint("drops ", sched.name, to), n, func(_ int, r *rand.Rand) []bool {
				rec := stay(sched.plan, dog, r)
				return readyNights(judge(rec, night(15)), 15)
			})
			row := []string{sched.name, two(to)}
			var cells [5]tally
			for _, ready := range found {
				if !ready[from-1] {
					continue
				}
				for i := range cells {
					cells[i].add(ready[from+i])
				}
			}
			for _, c := range cells {
				row = append(row, c.String())
			}
			t.row(row...)
			switch {
			case sched.name == "full" && to == .70:
				p.well("Of ready dogs that drop to .70 on a full schedule, %s %% are still called ready on the third night.", cells[2])
			case sched.name == "light" && to == .70:
				p.badly("On one session a day a dog that drops to .70 is still called ready on the third night in %s %% and on the fifth in %s %%: watch the slipping alarm there.", cells[2], cells[4])
			}
		}
	}
	p.table(t)
	p.say("Reading: the figure fades by sessions, not by days, so more sessions a day find a drop sooner.")
}
