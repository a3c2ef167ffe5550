package analysis

import (
	"cmp"
	"math"
	"slices"

	"firstcue/internal/training"
)

// lack is an empty Lack of a cue.
func (h *history) lack(code LackCode) *Lack { return &Lack{Code: code, Cue: h.cue, Goal: -1} }

// lackAsks says what is missing of asks, sessions and days; nil = nothing.
func (h *history) lackAsks(n *night) *Lack {
	c := h.c
	l := h.lack(LackAsks)
	if h.kind == training.Motion {
		l.Minutes = math.Max(0, c.Minutes-n.total.Minutes)
	} else {
		l.Asks = max(0, c.Asks-n.total.Asks)
	}
	l.Sessions = max(0, c.Sessions-n.total.Sessions)
	l.Days = max(0, c.Days-n.days)
	if l.Asks == 0 && l.Minutes <= hair && l.Sessions == 0 && l.Days == 0 {
		return nil
	}
	return l
}

// without counts what is by anybody but one handler.
func (f *follow) without(n *night, handler int) Tally {
	var t Tally
	for i, d := range f.decisions {
		if d.about == onPerson && d.who != handler {
			t.add(n.seen[i].Tally)
		}
	}
	return t
}

// others counts what is not by the main trainer: by none, where that is less, of
// those who had most of this cue. A cue that works for one person only must not pass
// because that person is not the dog's main trainer.
func (f *follow) others(n *night) (least Tally, notBy string) {
	h := f.h
	notBy = h.sc.mainName()
	first := true
	for i, d := range f.decisions {
		if d.about != onPerson || n.seen[i].Sessions == 0 {
			continue
		}
		t := f.without(n, d.who)
		entered := h.sc.mainEntered && d.who == h.sc.main
		if first || t.Sessions < least.Sessions || entered && t.Sessions == least.Sessions {
			least.Sessions, notBy = t.Sessions, h.sc.handlers[d.who].name
		}
		if first || t.Asks < least.Asks {
			least.Asks, least.Answered = t.Asks, t.Answered
		}
		if first || t.Minutes < least.Minutes {
			least.Minutes, least.Breaks = t.Minutes, t.Breaks
		}
		first = false
	}
	return least, notBy
}

// lackPeople says what is missing of asks by other people.
func (h *history) lackPeople(f *follow, n *night) *Lack {
	t, notBy := f.others(n)
	l := h.lack(LackPeople)
	l.NotBy = notBy
	l.Sessions = max(0, h.c.OtherSessions-t.Sessions)
	if h.kind == training.Motion {
		if h.c.OtherSessions > 0 {
			l.Minutes = math.Max(0, h.c.PlaceMinutes-t.Minutes)
		}
	} else {
		l.Asks = max(0, h.c.OtherAsks-t.Asks)
	}
	if l.Asks == 0 && l.Minutes <= hair && l.Sessions == 0 {
		return nil
	}
	return l
}

// short is how much a place still needs to count as tried.
func (h *history) short(t Tally) (asks, sessions int, minutes float64) {
	sessions = max(0, h.c.PlaceSessions-t.Sessions)
	if h.kind == training.Motion {
		return 0, sessions, math.Max(0, h.c.PlaceMinutes-t.Minutes)
	}
	return max(0, h.c.PlaceAsks-t.Asks), sessions, 0
}

// begun is a place with what it still needs.
type begun struct {
	spot
	asks, sessions int
	minutes        float64
}

// lackPlaces says how many places are missing, off property or anywhere, and names
// the one that was begun and needs least.
func (h *history) lackPlaces(f *follow, n *night) *Lack {
	tried, off := 0, 0
	var part []begun
	for i, d := range f.decisions {
		if d.about != onPlace || n.seen[i].Sessions == 0 {
			continue
		}
		p := h.sc.places[d.who]
		asks, sessions, minutes := h.short(n.seen[i].Tally)
		if asks > 0 || sessions > 0 || minutes > hair {
			part = append(part, begun{p, asks, sessions, minutes})
			continue
		}
		tried++
		off += one(p.off)
	}
	away := max(0, h.c.OffProperty-off)
	missing := max(h.c.Places-tried, away)
	if missing <= 0 {
		return nil
	}
	l := h.lack(LackPlaces)
	l.Places, l.Asks, l.Sessions, l.Minutes = missing, h.c.PlaceAsks, h.c.PlaceSessions, 0
	if h.kind == training.Motion {
		l.Asks, l.Minutes = 0, h.c.PlaceMinutes
	}
	if away > 0 {
		l.Code = LackAway
		part = slices.DeleteFunc(part, func(b begun) bool { return !b.off })
	}
	slices.SortStableFunc(part, func(a, b begun) int {
		return cmp.Or(cmp.Compare(a.asks, b.asks), cmp.Compare(a.minutes, b.minutes),
			cmp.Compare(a.name, b.name))
	})
	if len(part) > 0 {
		l.Place, l.Asks, l.Sessions, l.Minutes = part[0].name, part[0].asks, part[0].sessions, part[0].minutes
	}
	return l
}

// lackGoals says which agreed condition was not asked enough, worst first; a goal of
// nothing but a cue and a share has none.
func (f *follow) lackGoals(n *night) *Lack {
	var worst *Lack
	for i, d := range f.decisions {
		if d.about != onGoal {
			continue
		}
		if l := f.lackGoal(n.seen[i].Tally, d.who); l != nil && (worst == nil || l.Asks > worst.Asks) {
			worst = l
		}
	}
	return worst
}

// lackGoal says how much a goal's own condition was asked too little.
func (f *follow) lackGoal(t Tally, goal int) *Lack {
	h := f.h
	g := h.sc.goalsOf(h.cue)[goal]
	if plainGoal(g) && !h.ownTime(g) {
		return nil
	}
	asks, sessions, minutes := h.short(t)
	if asks == 0 && sessions == 0 && minutes <= hair {
		return nil
	}
	l := h.lack(LackGoalAsked)
	l.Goal, l.Asks, l.Sessions, l.Minutes = h.sc.goalIndex(h.cue, goal), asks, sessions, minutes
	l.Place, l.Person, l.Leash = g.Place, g.Handler, g.Leash
	return l
}
