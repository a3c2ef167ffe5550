package analysis

import (
	"cmp"
	"slices"
	"strings"

	"firstcue/internal/model"
	"firstcue/internal/training"
)

// worseBy is how far below the others a person or place must be to be called worse,
// on the scale of log odds.
const worseBy = .5

// tallied counts the sittings that pick accepts into a context; false = there are none.
func (h *history) tallied(c *Context, pick func(q *cueSitting) bool) bool {
	for i := range h.sits {
		q := &h.sits[i]
		if !q.scored() || !pick(q) {
			continue
		}
		if c.First == 0 {
			c.First = q.day
		}
		c.Last = q.day
		c.add(q.Tally)
		off := Tally{}
		for _, e := range q.trials {
			if t := h.tally(*e.t); t.scored() {
				c.Leash = e.s.Leash
				if e.s.Leash == offLeash {
					off.add(t)
				}
			}
		}
		off.Sessions = one(off.scored())
		c.OffLeash.add(off)
	}
	return c.Sessions > 0
}

// offLeash is the leash state of nothing on.
const offLeash training.Leash = "off"

// people, places and cells fills in the figures of each, worst first.
func (f *follow) contexts(c *CueAssessment, moved training.Day) {
	h := f.h
	for i, d := range f.decisions {
		switch d.about {
		case onPerson:
			x := Context{Person: h.sc.handlers[d.who].name, Role: h.sc.handlers[d.who].role}
			h.tallied(&x, func(q *cueSitting) bool { return q.handler == d.who })
			c.People = append(c.People, f.judged(x, i, model.Person, moved))
		case onPlace:
			x := Context{Place: h.sc.places[d.who].name, OffProperty: h.sc.places[d.who].off}
			h.tallied(&x, func(q *cueSitting) bool { return q.place == d.who })
			c.Places = append(c.Places, f.judged(x, i, model.Place, moved))
		}
	}
	worst := func(a, b Context) int {
		return cmp.Or(cmp.Compare(a.Figure.Sure.V, b.Figure.Sure.V),
			strings.Compare(a.Person+a.Place, b.Person+b.Place))
	}
	slices.SortStableFunc(c.People, worst)
	slices.SortStableFunc(c.Places, worst)
	f.cells(c, moved)
	c.Distractions = f.byValue(func(s *training.Session,
		t *training.Trial) string {
		return distractionName(s.Distraction)
	})
	c.Signals = f.byValue(func(s *training.Session, t *training.Trial) string { return string(t.Signal) })
	for i := range c.Distractions {
		c.Distractions[i].Distraction, _ = parseNum(c.Distractions[i].Signal)
		c.Distractions[i].Signal = ""
	}
	f.notMain(c)
}

// judged gives a person or place its figure and standing.
func (f *follow) judged(x Context, i int, of model.Factor, moved training.Day) Context {
	d, n := f.decisions[i], f.last()
	if n == nil {
		return x
	}
	x.Figure = shortFigure(f.watches[0].Filter, d.target).against(n, i, d)
	x.Standing = f.standing(n, i)
	x.Worse = f.h.tried(x.Tally) && f.watches[0].Filter.Worse(of, x.Person+x.Place,
		worseBy) >= f.h.c.WorseSure
	x.NotLately = x.Last < moved
	return x
}

// cells are each person at each place, untried ones too.
func (f *follow) cells(c *CueAssessment, moved training.Day) {
	h := f.h
	for _, p := range c.People {
		for _, w := range c.Places {
			x := Context{Person: p.Person, Role: p.Role, Place: w.Place, OffProperty: w.OffProperty}
			if h.tallied(&x, func(q *cueSitting) bool {
				return h.person(q).name == p.Person &&
					h.place(q).name == w.Place
			}) {
				target := model.Target{At: model.At{model.Person: p.Person, model.Place: w.Place}}
				x.Figure = shortFigure(f.watches[0].Filter, target)
				x.NotLately = x.Last < moved
			}
			x.Untried = x.Sessions == 0
			c.Cells = append(c.Cells, x)
		}
	}
}

// notMain is everybody but the main trainer, as plain counts with the figure of the
// weakest of them.
func (f *follow) notMain(c *CueAssessment) {
	h := f.h
	if h.sc.main < 0 {
		return
	}
	x := Context{NotBy: h.sc.mainName()}
	if !h.tallied(&x, func(q *cueSitting) bool { return q.handler != h.sc.main }) {
		return
	}
	for _, p := range c.People {
		if p.Person != x.NotBy {
			x.Figure, x.Standing = p.Figure, p.Standing
			break
		}
	}
	c.Others = &x
}

// byValue counts the asks by something that differs within a sitting.
func (f *follow) byValue(value func(*training.Session, *training.Trial) string) []Context {
	var out []Context
	for _, q := range f.h.sits {
		for _, e := range q.trials {
			v, t := value(e.s, e.t), f.h.tally(*e.t)
			if v == "" || !t.scored() {
				continue
			}
			i := slices.IndexFunc(out, func(c Context) bool { return c.Signal == v })
			if i < 0 {
				i = len(out)
				out = append(out, Context{Signal: v, First: q.day})
			}
			if x := &out[i]; x.Sessions == 0 || x.lastSit != q.sit {
				t.Sessions, x.lastSit = 1, q.sit
			}
			out[i].add(t)
			out[i].Last = q.day
		}
	}
	slices.SortFunc(out, func(a, b Context) int { return strings.Compare(a.Signal, b.Signal) })
	return out
}

// leashes counts the asks by leash state, most control first, unknown last.
func (h *history) leashes() []LeashUse {
	var out []LeashUse
	for i := range h.sits {
		q := &h.sits[i]
		seen := map[training.Leash]bool{}
		for _, e := range q.trials {
			t := h.tally(*e.t)
			if !t.scored() {
				continue
			}
			k := slices.IndexFunc(out, func(u LeashUse) bool { return u.Leash == e.s.Leash })
			if k < 0 {
				k = len(out)
				out = append(out, LeashUse{Leash: e.s.Leash})
			}
			t.Sessions = one(!seen[e.s.Leash])
			seen[e.s.Leash] = true
			out[k].use(t, h.person(q), h.place(q), q.day)
		}
	}
	slices.SortFunc(out, func(a, b LeashUse) int { return cmp.Compare(control(a.Leash), control(b.Leash)) })
	return out
}

func (u *LeashUse) use(t Tally, who person, where spot, day training.Day) {
	u.add(t)
	if !slices.Contains(u.People, who.name) {
		u.People = append(u.People, who.name)
	}
	if !slices.Contains(u.Places, where.name) {
		u.Places = append(u.Places, where.name)
	}
	u.OffProperty = u.OffProperty || where.off
	u.Owner = u.Owner || who.role == training.Owner
	u.Last = max(u.Last, day)
}

// control orders the leash states from most to least control; not said comes last.
func control(l training.Leash) int {
	if i := slices.Index(training.Leashes, l); i >= 0 {
		return i
	}
	return len(training.Leashes)
}

// readyOn is the least control on which the cue was shown enough.
func (h *history) readyOn(uses []LeashUse) training.Leash {
	for i := len(uses) - 1; i >= 0; i-- {
		if uses[i].Leash != "" && h.tried(uses[i].Tally) {
			return uses[i].Leash
		}
	}
	return ""
}
