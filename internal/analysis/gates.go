package analysis

import (
	"slices"

	"firstcue/internal/training"
)

// bench judges one cue on one evening.
type bench struct {
	f    *follow
	n    *night       // nil = nothing scored yet
	sits []cueSitting // up to the day
	day  training.Day
	open int  // open incidents
	held bool // a vet hold covers the cue
}

// gates is the table of what ready hangs on: the name, what decides it, which kinds
// of cue have it. A gate that is not met says what it lacks.
var gates = []struct {
	name   GateName
	kinds  []training.Kind
	decide func(b *bench) Gate
}{
	{GateClosed, training.Kinds, (*bench).closed},
	{GateEnough, training.Kinds, (*bench).enough},
	{GateLevel, training.Kinds, (*bench).level},
	{GatePeople, training.Kinds, (*bench).people},
	{GatePlaces, training.Kinds, (*bench).places},
	{GateGoals, training.Kinds, (*bench).goals},
	{GateCold, []training.Kind{training.Response}, (*bench).cold},
	{GateSpeed, []training.Kind{training.Response}, (*bench).speed},
	{GateCorrections, training.Kinds, (*bench).corrections},
	{GateNights, training.Kinds, (*bench).nights},
}

// gates checks all the conditions of the cue's kind.
func (b *bench) gates() []Gate {
	var out []Gate
	for _, g := range gates {
		if !slices.Contains(g.kinds, b.f.h.kind) {
			continue
		}
		d := g.decide(b)
		d.Name = g.name
		if d.Standing == Met {
			d.Lack = nil
		}
		out = append(out, d)
	}
	return out
}

// verdict is that of the gates; a hold overrides it.
func (b *bench) verdict(gates []Gate) Verdict {
	if b.held {
		return OnHold
	}
	v := Ready
	for _, g := range gates {
		switch g.Standing {
		case Failed:
			return NotReady
		case Short:
			v = NotProven
		}
	}
	return v
}

// lack is an empty one of the cue.
func (b *bench) lack(code LackCode) *Lack { return b.f.h.lack(code) }

func (b *bench) closed() Gate {
	switch {
	case b.held:
		return Gate{Standing: Failed, Lack: b.lack(LackVet)}
	case b.open > 0:
		return Gate{Standing: Failed, Lack: b.lack(LackIncident)}
	}
	return Gate{Standing: Met}
}

func (b *bench) enough() Gate {
	g := Gate{Standing: Short}
	if b.n == nil {
		g.Lack = b.lack(LackNeverAsked)
		return g
	}
	g.Tally = b.n.total
	if g.Lack = b.f.h.lackAsks(b.n); g.Lack == nil {
		g.Standing = Met
	}
	return g
}

// of is the gate of the weakest decision about a subject: the worst standing, then
// the least sure.
func (b *bench) of(about subject, code LackCode) Gate {
	g := Gate{Standing: Met}
	if b.n == nil || len(b.f.decisions) == 0 {
		return Gate{Standing: Short, Lack: b.lack(code)}
	}
	rank := map[Standing]int{Met: 0, Short: 1, Failed: 2}
	found := -1
	for i, d := range b.f.decisions {
		if d.about != about || b.n.seen[i].Sessions == 0 && (about == onPerson || about == onPlace) {
			continue
		}
		s := b.f.standing(b.n, i)
		if !b.f.needs(b.n, i) {
			s = Met // nothing was ever missed there
		}
		worse := found < 0 || rank[s] > rank[g.Standing] || rank[s] == rank[g.Standing] &&
			b.n.sure[i] < b.n.sure[found]
		if worse {
			found, g.Standing = i, s
		}
	}
	if found < 0 {
		return g
	}
	d := b.f.decisions[found]
	g.Tally = b.n.seen[found].Tally
	g.Figure = Figure{Bar: training.Known(d.bar), Sure: training.Known(b.n.sure[found]),
		Needed: training.Known(d.needed)}
	g.Lack = b.lack(code)
	switch about {
	case onPerson:
		g.Person = b.f.h.sc.handlers[d.who].name
		g.Lack.Person = g.Person
	case onPlace:
		g.Place = b.f.h.sc.places[d.who].name
		g.Lack.Place = g.Place
	case onGoal:
		goal := b.f.h.sc.goalsOf(b.f.h.cue)[d.who]
		g.Person, g.Place = goal.Handler, goal.Place
		g.Lack.Goal, g.Lack.Person, g.Lack.Place, g.Lack.Leash = b.f.h.sc.goalIndex(b.f.h.cue, d.who),
			goal.Handler, goal.Place, goal.Leash
	}
	return g
}

func (b *bench) level() Gate { return b.of(onLevel, LackLevel) }
func (b *bench) cold() Gate  { return b.of(onCold, LackCold) }

// also holds a gate against what was not asked enough: that comes first unless the
// figure itself fails.
func (g Gate) also(l *Lack) Gate {
	if l != nil && g.Standing != Failed {
		g.Standing, g.Lack = Short, l
	}
	return g
}

// people: what is most in the way of the persons alone and of all but the main
// trainer together.
func (b *bench) people() Gate {
	g := b.of(onPerson, LackPerson)
	if all := b.of(onOthers, LackPeople); all.Standing == Short && g.Standing == Met {
		all.Lack.NotBy = b.f.h.sc.mainName()
		g = all
	}
	if b.n == nil {
		return g
	}
	return g.also(b.f.h.lackPeople(b.f, b.n))
}

func (b *bench) places() Gate {
	g := b.of(onPlace, LackPlace)
	if b.n == nil {
		return g
	}
	return g.also(b.f.h.lackPlaces(b.f, b.n))
}

func (b *bench) goals() Gate {
	if len(b.f.h.sc.goalsOf(b.f.h.cue)) == 0 {
		return Gate{Standing: Met}
	}
	g := b.of(onGoal, LackGoal)
	if b.n == nil {
		return g
	}
	return g.also(b.f.lackGoals(b.n))
}

// nights is met when all that the model decides was there on enough evenings, and was
// not lost since.
func (b *bench) nights() Gate {
	l := b.lack(LackNights)
	l.Nights = b.f.h.c.Nights
	if b.n != nil {
		if b.n.open {
			return Gate{Standing: Met}
		}
		l.Nights -= min(b.n.streak, l.Nights)
	}
	return Gate{Standing: Short, Lack: l}
}

// timedForSpeed is how many timed answers the speed gate needs before it trusts a
// median instead of the scorer's own yes and no inside the limit.
const timedForSpeed = 8

// speed holds the median time to answer against the limit. An answer later than the
// limit is no answer already, so that slowness is never more than not proven here.
func (b *bench) speed() Gate {
	h := b.f.h
	g := Gate{Standing: Met, Figure: Figure{Bar: h.c.Limit}}
	if !h.c.Limit.Known || b.n == nil {
		return g
	}
	x := h.latencies(recent(b.sits, timedAnswers))
	if x.seen() < timedForSpeed {
		return g // the yes and no of each ask already says "inside the limit"
	}
	s := x.summary()
	g.Figure.Now, g.Figure.Low95, g.Figure.High95 = s.Median, s.Low, s.High
	// Where the curve ends at 0 at once (all answers alike) there are no limits of
	// the median, but it cannot lie outside the times themselves.
	k := x.curve()
	if last := k.Points[len(k.Points)-1]; !s.High.Known && last.Surv == 0 {
		g.Figure.High95 = training.Known(last.Time)
	}
	if high := g.Figure.High95; !high.Known || high.V > h.c.Limit.V+hair {
		g.Standing, g.Lack = Short, b.lack(LackSpeed)
	}
	return g
}

// corrections asks for few now and no rise.
func (b *bench) corrections() Gate {
	h := b.f.h
	now := correctionsNow(b.sits, h.kind)
	bar := h.c.Corrections
	if h.kind == training.Motion {
		bar = h.c.CorrectionsPerMinute
	}
	g := Gate{Standing: Met, Figure: Figure{Now: now.rate, Bar: training.Known(bar)}}
	if now.rate.Known && now.rate.V > bar+hair {
		g.Standing, g.Lack = Short, b.lack(LackCorrections)
	}
	rises := shareRises(b.sits, h.c.Likeness, h.c.TrendSessions)
	for _, d := range devicesOf(b.sits) {
		rises = rises || levelRises(b.sits, d, h.c.TrendSessions)
	}
	if rises {
		g.Standing, g.Lack = Failed, b.lack(LackRising)
	}
	return g
}
