package analysis

import (
	"strconv"

	"firstcue/internal/model"
	"firstcue/internal/training"
)

// goalsOf lists the agreed goals of a cue, in order.
func (sc *scene) goalsOf(cue string) []training.Goal {
	var out []training.Goal
	for _, g := range sc.rec.Dog.Goals {
		if training.Key(sc.cueName(g.Cue)) == training.Key(cue) {
			out = append(out, g)
		}
	}
	return out
}

// agreed is nil without goals.
func (sc *scene) agreed(cue string) *bool {
	if len(sc.rec.Dog.Goals) == 0 {
		return nil
	}
	yes := len(sc.goalsOf(cue)) > 0
	return &yes
}

// counts reports whether the dog's verdict hangs on the cue: it is agreed, or
// nothing is.
func (c *CueAssessment) counts() bool { return c.Agreed == nil || *c.Agreed }

// plainGoal reports that a goal restricts neither who, where, how nor what against.
func plainGoal(g training.Goal) bool {
	return g.Place == "" && g.Handler == "" && g.Leash == "" && !g.Distraction.Known
}

// goalAt is the goal's condition as the model knows it. A distraction means at least
// that much: the least that was tried, or the code itself.
func (h *history) goalAt(g training.Goal) model.At {
	var at model.At
	if g.Place != "" {
		at[model.Place] = h.sc.placeName(g.Place)
	}
	if g.Handler != "" {
		at[model.Person] = h.sc.personName(g.Handler)
	}
	if g.Leash != "" {
		at[model.Leash] = string(g.Leash)
	}
	if g.Distraction.Known {
		best := -1.0
		for i := range h.sits {
			for _, e := range h.sits[i].trials {
				if d := e.s.Distraction; d.Known && d.V >= g.Distraction.V && (best < 0 || d.V < best) {
					best = d.V
				}
			}
		}
		if best < 0 {
			best = g.Distraction.V
		}
		at[model.Distraction] = distractionName(training.Known(best))
	}
	return at
}

func distractionName(d training.Num) string {
	if !d.Known {
		return ""
	}
	return strconv.FormatFloat(d.V, 'g', -1, 64)
}

func (sc *scene) placeName(name string) string {
	if p, ok := sc.rec.Kennel.Place(name); ok {
		return p.Name
	}
	for _, p := range sc.places {
		if training.Key(p.name) == training.Key(name) {
			return p.name
		}
	}
	return name
}

func (sc *scene) personName(name string) string {
	if p, ok := sc.rec.Kennel.Handler(name); ok {
		return p.Name
	}
	for _, p := range sc.handlers {
		if training.Key(p.name) == training.Key(name) {
			return p.name
		}
	}
	return name
}

// meets reports whether a session of a sitting meets the goal's condition; the leash
// is looked at apart.
func (h *history) meets(g training.Goal, q *cueSitting, s *training.Session) (all, butLeash bool) {
	at := func(name, want string) bool { return want == "" || training.Key(name) == training.Key(want) }
	butLeash = at(h.place(q).name, h.sc.placeName(g.Place)) &&
		at(h.person(q).name, h.sc.personName(g.Handler)) &&
		(!g.Distraction.Known || s.Distraction.Known && s.Distraction.V >= g.Distraction.V)
	return butLeash && (g.Leash == "" || s.Leash == g.Leash), butLeash
}

// ownTime reports that a goal asks for another time than the cue's target, so that
// the holds of the cue's own level say nothing of it.
func (h *history) ownTime(g training.Goal) bool {
	return h.kind == training.Holding && g.Hold.Known && g.Hold != h.c.Target
}

// goalTally counts the asks of the sitting that meet the goal, those up to the last
// miss among them, and those that meet all of it but the leash.
func (h *history) goalTally(g training.Goal, q *cueSitting) (on, miss, off Tally) {
	was := h.c.Target
	if h.ownTime(g) {
		h.c.Target = g.Hold
		defer func() { h.c.Target = was }()
	}
	for _, e := range q.trials {
		all, butLeash := h.meets(g, q, e.s)
		t := h.tally(*e.t)
		switch {
		case all:
			on.add(t)
			if !t.clean() {
				miss = on
			}
		case butLeash:
			off.add(t)
		}
	}
	on.Sessions, off.Sessions = one(on.scored()), one(off.scored())
	return on, miss, off
}

// goalBar is the share agreed: the goal's own, or the criteria's.
func (h *history) goalBar(g training.Goal) float64 {
	if g.Bar.Known {
		return g.Bar.V
	}
	return h.c.Agreed
}
