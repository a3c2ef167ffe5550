package analysis

import (
	"cmp"
	"slices"

	"firstcue/internal/training"
)

// severity orders the reasons, gravest first: what must stop, what the owner wishes
// and nobody asked, what failed, what is only not proven.
var severity = []ReasonCode{
	WhyAfterIncident, WhyIncident, WhyVet, WhyFall, WhyNeverWished, WhySlipping, WhyLevel, WhyPerson,
	WhyPlace, WhyGoal,
	WhyRising, WhyLevelRising, WhyCold, WhyPersonShort, WhyPlaceShort, WhyCorrections, WhyNeverAsked,
	WhySpeed, WhyShort,
	WhyOffLeash, WhyNotLately, WhyOnePerson, WhyWeakest,
}

// reasons lists what stands in the way, worst first, and after it what is weakest of
// what passed.
func (a *Assessment) reasons() []Reason {
	var out []Reason
	for _, i := range a.Incidents {
		if i.After != nil {
			out = append(out, Reason{Code: WhyAfterIncident, Day: i.Day, Since: i.After.Last,
				Count:  i.After.Count,
				Device: i.After.Device, Low: i.After.LowLevel, High: i.After.HighLevel})
		}
		out = append(out, Reason{Code: WhyIncident, Day: i.Day, Count: 1})
	}
	for _, h := range a.Holds {
		if !h.CollarOnly {
			out = append(out, Reason{Code: WhyVet, Since: h.From, Cues: h.Cues})
		}
	}
	if f := a.Fall; f != nil {
		out = append(out, Reason{Code: WhyFall, Day: f.To, Since: f.From, Cues: f.Cues, Tally: f.During,
			Rest: f.Before})
	}
	for i := range a.Cues {
		if c := &a.Cues[i]; c.counts() && c.Verdict != OnHold {
			out = append(out, c.reasons()...)
		}
	}
	for _, u := range a.Never {
		if u.Agreed && !u.OnHold {
			out = append(out, Reason{Code: WhyNeverAsked, Cue: u.Cue, Cues: []string{u.Cue}})
		}
	}
	out = joined(out)
	slices.SortStableFunc(out, func(x, y Reason) int {
		return cmp.Or(cmp.Compare(one(x.Weak), one(y.Weak)),
			cmp.Compare(slices.Index(severity, x.Code), slices.Index(severity, y.Code)))
	})
	return out
}

// reasons of one cue.
func (c *CueAssessment) reasons() []Reason {
	var out []Reason
	add := func(r Reason) {
		r.Cue = c.Cue
		r.Cues = []string{c.Cue}
		out = append(out, r)
	}
	for _, g := range c.Goals {
		goal := g.Goal
		switch {
		case !g.Tally.scored() && !plainGoal(goal):
			// Of a ready cue this is said all the same: a goal keeps it from ready.
			add(Reason{Code: WhyNeverWished, Goal: &goal, Place: goal.Place, Person: goal.Handler,
				Leash: goal.Leash, Rest: g.OtherLeash, Lack: g.Lack})
		case g.Standing == Failed && !(plainGoal(goal) && c.gate(GateLevel).Standing == Failed):
			add(Reason{Code: WhyGoal, Goal: &goal, Place: goal.Place, Person: goal.Handler,
				Leash: goal.Leash, Tally: g.Tally, Figure: g.Figure, Lack: g.Lack})
		}
	}
	if c.Slipping.On {
		add(Reason{Code: WhySlipping, Since: c.Slipping.Since, Person: c.Slipping.Person,
			Place: c.Slipping.Place, Figure: c.Now})
	}
	out = append(out, c.weak(c.People, WhyPerson, WhyPersonShort)...)
	out = append(out, c.weak(c.Places, WhyPlace, WhyPlaceShort)...)
	for _, d := range c.Corrections.Devices {
		if d.Trend.Direction == Rising {
			add(Reason{Code: WhyLevelRising, Device: d.Device, Low: d.First, High: d.Last, Day: d.FirstDay,
				Tally: c.Tally})
		}
	}
	short := false
	for _, g := range c.Gates {
		switch {
		case g.Met() || g.Name == GateClosed:
		case g.Name == GateLevel && g.Standing == Failed:
			add(Reason{Code: WhyLevel, Tally: c.Tally, Figure: c.Now, Lack: g.Lack})
		case g.Name == GateCold && g.Standing == Failed:
			add(Reason{Code: WhyCold, Tally: c.Cold.First, Rest: c.Cold.Later, Figure: c.Cold.Figure,
				Lack: g.Lack})
		case g.Name == GateCorrections:
			code := WhyCorrections
			if g.Standing == Failed {
				code = WhyRising
			}
			add(Reason{Code: code, Count: c.Corrections.Recent, Figure: g.Figure, Lack: g.Lack,
				Tally: Tally{Asks: c.Corrections.RecentTrials, Minutes: c.Corrections.RecentMinutes}})
		case g.Name == GateSpeed:
			add(Reason{Code: WhySpeed, Figure: g.Figure, Lack: g.Lack})
		case g.Lack != nil && (g.Lack.Code == LackPerson || g.Lack.Code == LackPlace):
			// said by name above
		case g.Standing == Short && !short && !(g.Name == GateNights && c.unmet() > 1):
			short = true
			add(Reason{Code: WhyShort, Person: g.Person, Place: g.Place, Tally: g.Tally, Figure: g.Figure,
				Lack: g.Lack})
		}
	}
	return append(out, c.weaknesses()...)
}

// weak lists the persons or places that fail, and those of whom it is not proven and
// that keep the cue from ready. Where the level itself fails, the worst one only.
func (c *CueAssessment) weak(list []Context, fails, short ReasonCode) []Reason {
	var out []Reason
	for _, x := range list {
		code := fails
		switch {
		case x.Standing == Failed:
		case x.Standing == Short && c.lacks(x):
			code = short
		default:
			continue
		}
		out = append(out, Reason{Code: code, Cue: c.Cue, Cues: []string{c.Cue}, Person: x.Person,
			Place: x.Place,
			Tally: x.Tally, Rest: x.rest(c), Figure: x.Figure, Since: x.First})
		if c.gate(GateLevel).Standing == Failed {
			break
		}
	}
	return out
}

// lacks reports whether a gate names the person or place as what is missing.
func (c *CueAssessment) lacks(x Context) bool {
	return slices.ContainsFunc(c.Gates, func(g Gate) bool {
		return g.Lack != nil && (g.Lack.Code == LackPerson || g.Lack.Code == LackPlace) &&
			g.Person == x.Person && g.Place == x.Place
	})
}

// gate is the one with the name.
func (c *CueAssessment) gate(name GateName) Gate {
	for _, g := range c.Gates {
		if g.Name == name {
			return g
		}
	}
	return Gate{}
}

// unmet counts the gates that are not met.
func (c *CueAssessment) unmet() int {
	n := 0
	for _, g := range c.Gates {
		n += one(!g.Met())
	}
	return n
}

// rest is the cue's counts without the context's.
func (x Context) rest(c *CueAssessment) Tally {
	return Tally{c.Answered - x.Answered, c.Asks - x.Asks, c.Sessions - x.Sessions, c.Breaks - x.Breaks,
		c.Minutes - x.Minutes}
}

// weaknesses is what to know of what passed: a place not asked lately, one new person
// only, never off leash, and the weakest person or place.
func (c *CueAssessment) weaknesses() []Reason {
	var out []Reason
	add := func(r Reason) {
		r.Cue, r.Cues, r.Weak = c.Cue, []string{c.Cue}, true
		out = append(out, r)
	}
	for _, p := range c.Places {
		if p.OffProperty && p.OffLeash.Asks+int(p.OffLeash.Minutes) == 0 {
			add(Reason{Code: WhyOffLeash, Place: p.Place, Leash: p.Leash, Tally: p.Tally, Rest: p.OffLeash})
		}
	}
	for _, p := range c.Places {
		if p.NotLately {
			add(Reason{Code: WhyNotLately, Place: p.Place, Tally: p.Tally, Day: p.Last, Figure: p.Figure})
		}
	}
	var fresh []Context
	for _, p := range c.People {
		if p.Role == training.Outsider {
			fresh = append(fresh, p)
		}
	}
	if len(fresh) == 1 {
		add(Reason{Code: WhyOnePerson, Person: fresh[0].Person, Tally: fresh[0].Tally})
	}
	if len(c.People) > 1 && c.People[0].Standing == Met {
		add(Reason{Code: WhyWeakest, Person: c.People[0].Person, Tally: c.People[0].Tally,
			Figure: c.People[0].Figure})
	}
	return out
}

// joined puts the same reason of several cues together, counts added.
func joined(list []Reason) []Reason {
	var out []Reason
	same := func(x, y Reason) bool {
		return x.Code == y.Code && x.Person == y.Person && x.Place == y.Place && x.Leash == y.Leash &&
			x.Device == "" && x.Goal == nil && y.Goal == nil
	}
	for _, r := range list {
		i := slices.IndexFunc(out, func(o Reason) bool { return same(o, r) })
		switch r.Code {
		case WhyPerson, WhyPlace, WhyPersonShort, WhyPlaceShort, WhyOffLeash, WhyNotLately, WhyOnePerson,
			WhyNeverAsked, WhyWeakest:
		default:
			i = -1
		}
		if i < 0 {
			out = append(out, r)
			continue
		}
		o := &out[i]
		o.Cue, o.Figure = "", Figure{}
		o.Cues = append(o.Cues, r.Cues...)
		o.Tally.add(r.Tally)
		o.Rest.add(r.Rest)
		o.Day = max(o.Day, r.Day)
		if r.Since != 0 && r.Since < o.Since {
			o.Since = r.Since
		}
	}
	return out
}

// firstLack is the thing that is missing of the gravest reason that names one.
func (a *Assessment) firstLack() *Lack {
	switch {
	case a.heldWhole():
		return &Lack{Code: LackVet, Goal: -1}
	case len(a.Incidents) > 0:
		return &Lack{Code: LackIncident, Goal: -1}
	}
	for _, r := range a.Reasons {
		if r.Lack != nil && !r.Weak {
			return r.Lack
		}
		switch r.Code {
		case WhyPerson, WhyPersonShort:
			return &Lack{Code: LackPerson, Person: r.Person, Cue: r.Cue, Goal: -1}
		case WhyPlace, WhyPlaceShort:
			return &Lack{Code: LackPlace, Place: r.Place, Cue: r.Cue, Goal: -1}
		case WhyNeverAsked:
			return &Lack{Code: LackNeverAsked, Cue: r.Cue, Goal: -1}
		}
	}
	return nil
}
