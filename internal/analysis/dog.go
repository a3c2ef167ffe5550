package analysis

import (
	"cmp"
	"math"
	"slices"
	"strings"

	"firstcue/internal/training"
)

// heldAt reports whether a hold covers the cue on a day, as known that day.
func (sc *scene) heldAt(day training.Day, cue string) bool {
	for _, h := range sc.rec.Dog.Holds {
		if h.From <= day && h.Covers(day, cue) {
			return true
		}
	}
	return false
}

// census counts the sessions, people, places and leashes that count.
func (sc *scene) census(a *Assessment) {
	people, places := make([]Person, len(sc.handlers)), make([]PlaceTried, len(sc.places))
	for _, sit := range sc.sittings {
		if sit.day < a.Baseline {
			continue
		}
		t := Tally{Sessions: 1}
		for _, s := range sit.sessions {
			for i := range s.Trials {
				if !sc.heldOn(sit.day, sc.cueName(s.Trials[i].Cue)) {
					a.Asks += s.Trials[i].Count()
				}
			}
			sc.remark(a, s)
		}
		if a.First == 0 {
			a.First = sit.day
		}
		a.Last = sit.day
		a.Sessions++
		p, w := &people[sit.handler], &places[sit.place]
		p.Name, p.Role, p.Last = sc.handlers[sit.handler].name, sc.handlers[sit.handler].role, sit.day
		w.Name, w.OffProperty, w.Last = sc.places[sit.place].name, sc.places[sit.place].off, sit.day
		if p.First == 0 {
			p.First = sit.day
		}
		if w.First == 0 {
			w.First = sit.day
		}
		p.add(t)
		w.add(t)
	}
	sc.tallies(a, people, places)
	slices.SortFunc(people, func(x, y Person) int {
		return cmp.Or(cmp.Compare(y.Sessions, x.Sessions), strings.Compare(x.Name, y.Name))
	})
	slices.SortFunc(places, func(x, y PlaceTried) int {
		return cmp.Or(cmp.Compare(y.Sessions, x.Sessions), strings.Compare(x.Name, y.Name))
	})
	a.People = slices.DeleteFunc(people, func(p Person) bool { return p.Sessions == 0 })
	a.Places = slices.DeleteFunc(places, func(p PlaceTried) bool { return p.Sessions == 0 })
	slices.SortStableFunc(a.Remarks, func(x, y Remark) int { return cmp.Compare(y.Day, x.Day) })
	a.Remarks = a.Remarks[:min(len(a.Remarks), 5)]
}

// tallies adds up the counted cues by person, place and leash.
func (sc *scene) tallies(a *Assessment, people []Person, places []PlaceTried) {
	for i := range a.Cues {
		c := &a.Cues[i]
		if !c.counts() {
			continue
		}
		for _, x := range c.People {
			for k := range people {
				if people[k].Name == x.Person {
					people[k].addAsks(x.Tally)
				}
			}
		}
		for _, x := range c.Places {
			for k := range places {
				if places[k].Name == x.Place {
					places[k].addAsks(x.Tally)
				}
			}
		}
		a.Leashes = addLeashes(a.Leashes, c.Leashes)
	}
}

// addAsks adds all but the sessions, which several cues share.
func (t *Tally) addAsks(o Tally) {
	o.Sessions = 0
	t.add(o)
}

func addLeashes(all, more []LeashUse) []LeashUse {
	for _, u := range more {
		i := slices.IndexFunc(all, func(x LeashUse) bool { return x.Leash == u.Leash })
		if i < 0 {
			u.People, u.Places = slices.Clone(u.People), slices.Clone(u.Places)
			all = append(all, u)
			continue
		}
		x := &all[i]
		sessions := max(x.Sessions, u.Sessions) // several cues share a session
		x.add(u.Tally)
		x.Sessions = sessions
		for _, p := range u.People {
			if !slices.Contains(x.People, p) {
				x.People = append(x.People, p)
			}
		}
		for _, p := range u.Places {
			if !slices.Contains(x.Places, p) {
				x.Places = append(x.Places, p)
			}
		}
		x.OffProperty, x.Owner, x.Last = x.OffProperty || u.OffProperty, x.Owner || u.Owner,
			max(x.Last, u.Last)
	}
	slices.SortStableFunc(all, func(x, y LeashUse) int {
		return cmp.Compare(control(x.Leash),
			control(y.Leash))
	})
	return all
}

// leftOut counts the trials up to the day that stand in no figure: in a hold, or
// before a new baseline.
func (sc *scene) leftOut(hist []*history) int {
	n := 0
	for _, s := range sc.ordered() {
		for i := range s.Trials {
			n += one(!s.Baseline) * s.Trials[i].Count()
		}
	}
	for _, h := range hist {
		for _, q := range h.sits {
			for _, e := range q.trials {
				n -= e.t.Count()
			}
		}
	}
	return n
}

// remark keeps a session's remarks that are not incidents.
func (sc *scene) remark(a *Assessment, s *training.Session) {
	for _, r := range s.Remarks {
		if !r.Incident {
			a.Remarks = append(a.Remarks, Remark{s.Day(), sc.personName(s.Handler), sc.placeName(s.Place),
				r.Text})
		}
	}
}

// neverTried lists the cues agreed with the owner, or without goals those of the
// kennel's list, that were never asked, or before any teaching only.
func (sc *scene) neverTried(a *Assessment) {
	add := func(name string, agreed bool) {
		key := training.Key(name)
		if slices.ContainsFunc(a.Cues, func(c CueAssessment) bool { return training.Key(c.Cue) == key }) ||
			slices.ContainsFunc(a.Never, func(u Untried) bool { return training.Key(u.Cue) == key }) {
			return
		}
		u := Untried{Cue: name, Kind: training.Response, Agreed: agreed, OnHold: sc.heldAt(a.Day, name),
			BeforeTeaching: sc.askedBefore(name)}
		if q, ok := sc.rec.Kennel.Cue(name); ok && q.Kind != "" {
			u.Kind = q.Kind
		}
		a.Never = append(a.Never, u)
	}
	for _, g := range sc.rec.Dog.Goals {
		if g.Cue != "" {
			add(sc.cueName(g.Cue), true)
		}
	}
	if len(sc.rec.Dog.Goals) == 0 {
		for _, c := range sc.rec.Kennel.Cues {
			add(c.Name, false)
		}
	}
}

// askedBefore reports whether the cue was asked in a session before any teaching.
func (sc *scene) askedBefore(name string) bool {
	for _, s := range sc.ordered() {
		if !s.Baseline || sc.heldOn(s.Day(), name) {
			continue
		}
		for j := range s.Trials {
			if training.Key(sc.cueName(s.Trials[j].Cue)) == training.Key(name) {
				return true
			}
		}
	}
	return false
}

// incidents lists those that were open at the end of a day, with the corrections
// since: later in the same session, or in a later one.
func (sc *scene) incidents(day training.Day) []Incident {
	var out []Incident
	for _, i := range sc.rec.Incidents {
		if i.Day > day || i.Closed != 0 && i.Closed <= day || i.Dog != "" &&
			training.Key(i.Dog) != training.Key(sc.rec.Dog.Name) {
			continue
		}
		out = append(out, Incident{ID: i.ID, Session: i.Session, Day: i.Day, Text: i.Text,
			After: sc.correctedAfter(i, day)})
	}
	slices.SortStableFunc(out, func(x, y Incident) int {
		return cmp.Or(cmp.Compare(x.Day, y.Day), strings.Compare(x.Text, y.Text), strings.Compare(x.ID, y.ID))
	})
	return out
}

func (sc *scene) correctedAfter(i training.Incident, day training.Day) *CorrectionsAfter {
	var out CorrectionsAfter
	reached := false // the session of the incident
	devices := map[string]bool{}
	for _, s := range sc.ordered() {
		d := s.Day()
		line := 0
		if s.ID == i.Session && i.Session != "" {
			reached = true
			for _, r := range s.Remarks {
				if r.Incident && r.Text == i.Text {
					line = r.Line
				}
			}
		}
		if d < i.Day || d > day || d == i.Day && !reached {
			continue
		}
		for _, t := range s.Trials {
			if s.ID == i.Session && i.Session != "" && t.Line <= line {
				continue
			}
			for _, c := range t.Corrections {
				out.take(c, d, devices)
			}
		}
	}
	if out.Count == 0 {
		return nil
	}
	if len(devices) != 1 {
		out.Device, out.LowLevel, out.HighLevel = "", training.Num{}, training.Num{}
	}
	return &out
}

func (c *CorrectionsAfter) take(k training.Correction, d training.Day, devices map[string]bool) {
	c.Count++
	if c.First == 0 {
		c.First = d
	}
	c.Last = d
	if !hasLevel(k) {
		return
	}
	devices[training.Key(k.Device)] = true
	c.Device = k.Device
	if !c.LowLevel.Known || k.Level.V < c.LowLevel.V {
		c.LowLevel = k.Level
	}
	if !c.HighLevel.Known || k.Level.V > c.HighLevel.V {
		c.HighLevel = k.Level
	}
}

// today sets the day's own asks against what last evening's levels would have given.
func today(follows []*follow, day training.Day) DayTally {
	var out DayTally
	var mean, variance float64
	known := false
	sits := map[int]bool{}
	for _, f := range follows {
		before := f.on(day - 1)
		for _, q := range span(f.h.sits, day, day) {
			if !q.scored() {
				continue
			}
			sits[q.sit] = true
			t := q.Tally
			t.Sessions = 0
			out.add(t)
			if before == nil || q.Asks == 0 {
				continue
			}
			known = true
			p, n := before.level.V, float64(q.Asks)
			mean += n * p
			variance += n * p * (1 - p) * (1 + f.h.c.Likeness*(n-1))
		}
	}
	out.Sessions = len(sits)
	if !known {
		return out
	}
	out.Expected, out.Compared = training.Known(mean), "usual"
	const middle80 = 1.2816
	switch z := (float64(out.Answered) - mean) / math.Sqrt(variance+.25); {
	case z > middle80:
		out.Compared = "above"
	case z < -middle80:
		out.Compared = "below"
	}
	return out
}
