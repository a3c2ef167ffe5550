package analysis

import (
	"math"
	"slices"

	"firstcue/internal/model"
	"firstcue/internal/training"
)

// farthest bounds how many sittings are looked ahead.
const farthest = 25

// usual is the dog's usual session of a cue: asks (or minutes walked) a sitting and
// sittings a day, medians of the last twelve, so that what would change the verdict
// is asked for in portions that this dog gets; three asks to twelve.
type usual struct {
	asks    int
	minutes float64
	aDay    int
}

func usualOf(sits []cueSitting) usual {
	u := usual{asks: 6, minutes: 5, aDay: 2}
	var n, m, perDay []float64
	last := -1
	for i := len(sits) - 1; i >= 0 && len(n)+len(m) < 12; i-- {
		q := sits[i]
		if !q.scored() {
			continue
		}
		if q.Asks > 0 {
			n = append(n, float64(q.Asks))
		} else {
			m = append(m, q.Minutes)
		}
		if last >= 0 && sits[last].day == q.day {
			perDay[len(perDay)-1]++
		} else {
			perDay = append(perDay, 1)
		}
		last = i
	}
	median := func(v []float64) float64 { slices.Sort(v); return math.Round(middle(v)) }
	if len(n) > 0 {
		u.asks = min(12, max(3, int(median(n))))
	}
	if len(m) > 0 {
		u.minutes = max(1, median(m))
	}
	if len(perDay) > 0 {
		u.aDay = max(1, int(median(perDay)))
	}
	return u
}

// changes says for each gate that asks can open how many would: the filter is run
// forward with clean sittings of the dog's usual size by the person and at the place
// that is missing, and with sittings of a dog at 95 %.
func (f *follow) changes(gates []Gate) []Change {
	if f.last() == nil || len(f.decisions) == 0 {
		return nil
	}
	u := usualOf(f.h.sits)
	var out []Change
	unmet := 0
	for _, g := range gates {
		unmet += one(!g.Met())
	}
	for _, g := range gates {
		if g.Met() || g.Lack == nil || g.Name == GateNights && unmet > 1 {
			continue // the evenings come with the rest
		}
		switch g.Name {
		case GateEnough, GateLevel, GatePeople, GatePlaces, GateGoals, GateCold, GateNights:
			out = append(out, f.change(g, u))
		}
	}
	return out
}

// change looks ahead for one gate.
func (f *follow) change(g Gate, u usual) Change { return *f.lookAhead(f.decisionOf(g), g, u) }

// lookAhead is the change that decision i, and the counts that a gate lacks, wait for.
func (f *follow) lookAhead(i int, g Gate, u usual) *Change {
	l := g.Lack
	c := &Change{Gate: g.Name, Person: l.Person, NotBy: l.NotBy, Place: l.Place, Leash: l.Leash}
	asks, sessions, minutes := l.Asks, l.Sessions, l.Minutes
	if (l.Code == LackPlaces || l.Code == LackAway) && l.Places > 1 {
		more := l.Places - 1
		asks, sessions, minutes = asks+more*f.h.c.PlaceAsks, sessions+more*f.h.c.PlaceSessions,
			minutes+float64(more)*f.h.c.PlaceMinutes
		if f.h.kind == training.Motion {
			asks = 0
		}
	}
	c.Nights = max(l.Nights, l.Days)
	clean, ok := f.ahead(i, f.atOf(l), u, 0)
	likely, likelyOK := 0, false
	if ok && f.h.kind != training.Motion {
		likely, likelyOK = f.ahead(i, f.atOf(l), u, 20)
	}
	if f.h.kind == training.Motion {
		if ok {
			c.CleanMinutes = training.Known(math.Max(minutes, float64(clean)*u.minutes))
			c.CleanSessions = training.Known(float64(max(sessions, clean)))
		}
		return c
	}
	if ok {
		c.CleanSessions = training.Known(float64(max(sessions, clean, (asks+u.asks-1)/u.asks)))
		c.CleanAsks = training.Known(float64(max(asks, clean*u.asks)))
	}
	if likelyOK {
		c.LikelyAsks = training.Known(math.Max(c.CleanAsks.V, float64(max(asks, likely*u.asks))))
	}
	return c
}

// decisionOf finds the probability that a gate waits for; -1 = it waits for counts
// only.
func (f *follow) decisionOf(g Gate) int {
	if f.last() == nil {
		return -1
	}
	about := map[GateName]subject{GateLevel: onLevel, GatePeople: onPerson, GatePlaces: onPlace,
		GateGoals: onGoal, GateCold: onCold}
	want, ok := about[g.Name]
	if !ok {
		return -1
	}
	switch {
	case g.Lack != nil && (g.Lack.Code == LackPlaces || g.Lack.Code == LackAway ||
		g.Lack.Code == LackGoalAsked):
		return -1
	case g.Name == GatePeople && (g.Person == "" || g.Lack != nil && g.Lack.Code == LackPeople):
		want = onOthers
	}
	for i, d := range f.decisions {
		if d.about != want {
			continue
		}
		switch want {
		case onPerson:
			if f.h.sc.handlers[d.who].name != g.Person {
				continue
			}
		case onPlace:
			if f.h.sc.places[d.who].name != g.Place {
				continue
			}
		case onGoal:
			if f.h.sc.goalIndex(f.h.cue, d.who) != g.Lack.Goal {
				continue
			}
		}
		if f.standing(f.last(), i) == Met {
			return -1
		}
		return i
	}
	return -1
}

// atOf is where and by whom a lack is to be made up; what it leaves open is as in the
// last sitting.
func (f *follow) atOf(l *Lack) model.At {
	at := model.At{}
	for i := len(f.h.sits) - 1; i >= 0; i-- {
		if q := &f.h.sits[i]; q.scored() {
			at = f.h.at(q, q.trials[len(q.trials)-1].s)
			break
		}
	}
	if l.Goal >= 0 && l.Goal < len(f.h.sc.rec.Dog.Goals) {
		for i, name := range f.h.goalAt(f.h.sc.rec.Dog.Goals[l.Goal]) {
			if name != "" {
				at[i] = name
			}
		}
	}
	switch {
	case l.Person != "":
		at[model.Person] = l.Person
	case l.NotBy != "" && at[model.Person] == l.NotBy:
		at[model.Person] = f.h.somebodyBut(l.NotBy)
	}
	if l.Place != "" {
		at[model.Place] = l.Place
	}
	if l.Leash != "" {
		at[model.Leash] = string(l.Leash)
	}
	return at
}

// ahead counts the sittings until a decision's probability is there, with every k-th
// ask missed from the k/2-th on; 0 = none missed. The probability only rises here:
// a clean ask is never held against the dog.
func (f *follow) ahead(i int, at model.At, u usual, k int) (sittings int, ok bool) {
	if i < 0 {
		return 0, true
	}
	d := f.decisions[i]
	w := f.watches[d.watch]
	filter := w.Filter.Clone()
	question := w.questions[d.ask]
	best, asked := f.last().sure[i], 0
	for n := 1; n <= farthest; n++ {
		missed := false
		if f.h.kind == training.Motion {
			filter.ObserveWalk(model.Walk{At: at, Minutes: u.minutes})
		} else {
			s := model.Sitting{At: at}
			if f.h.kind == training.Response {
				s.First = model.Yes
			}
			for j := range u.asks {
				asked++
				yes := k == 0 || (asked+k/2)%k != 0
				missed = missed || !yes
				switch {
				case j == 0 && s.First != model.NotNoted && !yes:
					s.First = model.No
				case j > 0 || s.First == model.NotNoted:
					s.Of++
					s.Yes += one(yes)
				}
			}
			filter.Observe(s)
		}
		sure := filter.Prob(question.Target, question.Value)
		if f.h.kind == training.Motion {
			sure = 1 - sure
		}
		if missed {
			best = 0
		}
		if best = math.Max(best, sure); best >= d.needed {
			return n, true
		}
	}
	return 0, false
}

// somebodyBut is who asked last of all but one person; a new one where nobody did.
func (h *history) somebodyBut(not string) string {
	for i := len(h.sits) - 1; i >= 0; i-- {
		if name := h.person(&h.sits[i]).name; name != not {
			return name
		}
	}
	return untried
}

// after is a decision's probability after one clean usual sitting.
func (f *follow) after(i int, at model.At, u usual) float64 {
	d := f.decisions[i]
	w := f.watches[d.watch]
	filter, question := w.Filter.Clone(), w.questions[d.ask]
	if f.h.kind == training.Motion {
		filter.ObserveWalk(model.Walk{At: at, Minutes: u.minutes})
		return 1 - filter.Prob(question.Target, question.Value)
	}
	s := model.Sitting{At: at, Yes: u.asks, Of: u.asks}
	if f.h.kind == training.Response {
		s = model.Sitting{At: at, First: model.Yes, Yes: u.asks - 1, Of: u.asks - 1}
	}
	filter.Observe(s)
	return filter.Prob(question.Target, question.Value)
}
