package main

import (
	"fmt"
	"math/rand/v2"

	"firstcue/internal/analysis"
)

const handoff = 14

var forecastNights = [...]int{5, 7, 10, 12}

// outcome is one dog of the forecast study.
type outcome struct {
	ready  bool // the verdict was ready on the due day's night
	chance [len(forecastNights)]float64
	said   [len(forecastNights)]bool
}

// forecasts measures the chance of being ready by the due day against the verdict.
func forecasts(e env, p *page) {
	n := e.n(500, 10)
	p.heading(2, "4. The chance of being ready by the due day")
	var dogs []outcome
	for _, s := range shapes {
		dogs = append(dogs, each(e, "forecast "+s.String(), n, func(_ int, r *rand.Rand) outcome {
			rec := due(stay(full(handoff), learner(s, 110, .10, r), r), handoff)
			var o outcome
			o.ready = judge(rec, night(handoff)).Verdict == analysis.Ready
			for i, d := range forecastNights {
				if f := judge(rec, night(d)).Forecast; f != nil && f.Chance.Known {
					o.chance[i], o.said[i] = f.Chance.V, true
				}
			}
			return o
		})...)
	}
	ready := count(dogs, func(o outcome) bool { return o.ready })
	p.say("%d learning dogs, a quarter each of four kinds of learning curve (logistic in log trials with a ceiling, "+
		"exponential approach, sudden insight, logistic with a step back), full schedule, due on night %d, when %s %% "+
		"were ready in every respect. The Brier score is the mean squared difference between the chance said and what "+
		"happened (0 is perfect). The base rate is the fleet's own, which flatters it.", len(dogs), handoff, ready)
	head := []string{"forecast"}
	for _, d := range forecastNights {
		head = append(head, fmt.Sprintf("night %d (%d left)", d, handoff-d))
	}
	t := table{head}
	brier := func(c float64, happened bool) float64 {
		if happened {
			return (1 - c) * (1 - c)
		}
		return c * c
	}
	printed, base, gain := []string{"printed"}, []string{"base rate"}, []string{"printed less base rate, same dogs"}
	for i, d := range forecastNights {
		var a, b, paired mean
		for _, o := range dogs {
			if o.said[i] {
				x, y := brier(o.chance[i], o.ready), brier(ready.rate(), o.ready)
				a.add(x)
				b.add(y)
				paired.add(x - y)
			}
		}
		printed, base, gain = append(printed, a.show(3)), append(base, b.show(3)), append(gain, paired.show(3))
		if d == 7 {
			p.bars = append(p.bars, bar{"forecast on night 7: Brier score less that of the base rate",
				paired.value(), paired.error(), 0, true, decimals(3)})
		}
	}
	t.row(printed...)
	t.row(base...)
	t.row(gain...)
	p.table(t)

	p.heading(3, "Calibration")
	head[0] = "band"
	for i, d := range forecastNights {
		head[i+1] = fmt.Sprintf("night %d: said, happened (dogs)", d)
	}
	t = table{head}
	bands := []float64{0, .15, .35, .65, .85, 1.0001}
	for b := range len(bands) - 1 {
		cells := []string{fmt.Sprintf("%.0f to %.0f %%", 100*bands[b], 100*min(1, bands[b+1]))}
		for i := range forecastNights {
			var said mean
			var happened tally
			for _, o := range dogs {
				if o.said[i] && o.chance[i] >= bands[b] && o.chance[i] < bands[b+1] {
					said.add(o.chance[i])
					happened.add(o.ready)
				}
			}
			cell := "-"
			if happened.of > 0 {
				cell = fmt.Sprintf("%.0f, %s (%d)", 100*said.value(), happened, happened.of)
			}
			cells = append(cells, cell)
		}
		t.row(cells...)
	}
	p.table(t)
}
