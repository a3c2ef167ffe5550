package analysis

import (
	"math"

	"firstcue/internal/model"
	"firstcue/internal/training"
)

const (
	farNights = 10 // from so many nights on, no chance is named
	fewAsks   = 12 // nor below so many scored asks
	baseDogs  = 10 // finished stays that make a base rate
)

// forecast is the chance that the cue is ready on the evening of the due day, if
// training goes on as it has; nil without a due day ahead.
//
// Preposterior analysis (Raiffa and Schlaifer 1961, Applied Statistical Decision
// Theory): with n more asks the doubt about a share shrinks from s to s', so that its
// middle moves by a normal with variance s² - s'²; ready needs the middle to end far
// enough above the bar for what is left of the doubt. The chance is that of the
// probability that is least likely to get there. What can be counted (people, places,
// lessons) is done or not done: if the nights do not suffice for it, the chance is 0.
func (f *follow) forecast(stay *Stay, day training.Day, gates []Gate, changes []Change) *Forecast {
	out := forecastFrame(stay, day)
	if out == nil {
		return nil
	}
	u := usualOf(f.h.sits)
	n := f.last()
	for _, g := range gates {
		if !g.Met() && g.Lack != nil {
			out.Waits = append(out.Waits, *g.Lack)
		}
	}
	for _, c := range changes {
		out.LeastSessions = max(out.LeastSessions, int(c.CleanSessions.V))
	}
	if n == nil || len(f.decisions) == 0 {
		return out
	}
	out.Asks = n.total.Asks
	if out.Nights >= farNights || out.Asks < fewAsks && f.h.kind != training.Motion {
		return out
	}
	chance := 1.0
	for i, d := range f.decisions {
		if f.needs(n, i) && d.watch == 0 {
			chance = math.Min(chance, f.gets(n, i, u, out.Nights))
		}
	}
	for _, g := range gates {
		if !g.Met() && (f.outOfReach(g, u, out.Nights) || g.Name == GateClosed) {
			chance = 0
		}
	}
	out.Chance = training.Known(chance)
	return out
}

func forecastFrame(stay *Stay, day training.Day) *Forecast {
	if stay == nil || stay.Due == 0 || stay.Due < day || stay.Home != 0 && stay.Home <= day {
		return nil
	}
	return &Forecast{By: stay.Due, Nights: int(stay.Due - day)}
}

// outOfReach reports that the nights left are too few for what a gate lacks in counts.
func (f *follow) outOfReach(g Gate, u usual, nights int) bool {
	l := g.Lack
	if l == nil {
		return false
	}
	return l.Days > nights || l.Nights > nights || l.Sessions > nights*u.aDay ||
		l.Asks > nights*u.aDay*u.asks ||
		l.Minutes > float64(nights*u.aDay)*u.minutes
}

// gets is the chance that one probability passes (or, where the cue is ready, keeps)
// after so many nights of usual sittings.
func (f *follow) gets(n *night, i int, u usual, nights int) float64 {
	d := f.decisions[i]
	w := f.watches[d.watch]
	needed := d.needed
	if n.open {
		needed = d.keep
	}
	low, high := w.Filter.Interval(d.target, .6827) // a standard deviation on each side
	scale := func(p float64) float64 { return math.Log(p / (1 - p)) }
	if f.h.kind == training.Motion {
		scale = math.Log
	}
	s := (scale(high) - scale(low)) / 2
	middle := (scale(high) + scale(low)) / 2
	share := w.Filter.Median(d.target)
	sittings := float64(nights * u.aDay)
	asks := sittings * float64(u.asks)
	about := share * (1 - share) / (1 + f.h.c.Likeness*float64(u.asks-1))
	if f.h.kind == training.Motion {
		asks, about = sittings*u.minutes, share/(1+model.Walking().Likeness*share*u.minutes)
	}
	part := 1.0 // of the asks fall under this condition
	if total := n.total.Asks; total > 0 && d.about != onCold {
		part = float64(n.seen[i].Asks) / float64(total)
	} else if d.about == onCold {
		part = 1 / float64(u.asks)
	}
	v := s * s
	after := 1 / (1/v + part*asks*about)
	gap := middle - scale(d.bar)
	if f.h.kind == training.Motion {
		gap = -gap
	}
	// Ready: middle' - bar >= z(needed) s'.
	gap -= quantile(needed) * math.Sqrt(after)
	spread := math.Sqrt(math.Max(v-after, 0) + sittings*w.prior.Step*w.prior.Step)
	if spread == 0 {
		return float64(one(gap >= 0))
	}
	return math.Erfc(-gap/spread/math.Sqrt2) / 2
}

// quantile of the standard normal; 0 below 0 is far down.
func quantile(p float64) float64 {
	if p <= 0 {
		return -9
	}
	return math.Sqrt2 * math.Erfinv(2*p-1)
}

// forecastOf is the dog's: all counted cues.
func (a *Assessment) forecastOf(r training.Record) *Forecast {
	out := forecastFrame(a.Stay, a.Day)
	if out == nil {
		return nil
	}
	out.Base, out.BaseDogs = r.BaseRate, r.BaseDogs
	if r.BaseDogs < baseDogs {
		out.Base = training.Num{}
	}
	chance, known, any := 1.0, true, false
	for i := range a.Cues {
		c := &a.Cues[i]
		if !c.counts() || c.Forecast == nil {
			continue
		}
		any = true
		out.Asks += c.Forecast.Asks
		out.Waits = append(out.Waits, c.Forecast.Waits...)
		out.LeastSessions = max(out.LeastSessions, c.Forecast.LeastSessions)
		known = known && c.Forecast.Chance.Known
		chance *= c.Forecast.Chance.V
	}
	for _, u := range a.Never {
		if u.Agreed {
			out.Waits = append(out.Waits, Lack{Code: LackNeverAsked, Cue: u.Cue, Goal: -1})
			known = known && out.Nights < farNights
			chance = 0
		}
	}
	if any && known || chance == 0 && known {
		out.Chance = training.Known(chance)
	}
	return out
}
