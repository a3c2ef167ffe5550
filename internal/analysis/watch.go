package analysis

import (
	"math"

	"firstcue/internal/model"
	"firstcue/internal/training"
)

// subject is what a probability is about.
type subject int

const (
	onLevel subject = iota
	onCold
	onOthers // everybody but the main trainer together
	onPerson
	onPlace
	onGoal
	onOwner
)

// decision is one probability that the verdict uses: which question of which filter,
// what it must be, and under what a ready cue is lost.
type decision struct {
	about  subject
	who    int // index of the person, place or goal
	watch  int // index of the filter
	ask    int // question of that filter: the bar is passed
	fail   int // question that says "credibly below" when it is nearly sure of no
	target model.Target
	bar    float64 // share; motion: breaks a minute

	needed, keep, lose float64 // 0 = not lost by it
	failed             float64 // how sure of no; 0 = nothing fails by it
}

// evidence is what there is under a decision's condition so far.
type evidence struct {
	Tally
	atMiss Tally // the counts as they stood at the last miss
	last   training.Day
}

// add takes a sitting's counts, and those up to its last miss.
func (e *evidence) add(t, miss Tally, day training.Day) {
	if !t.scored() {
		return
	}
	t.Sessions, miss.Sessions = 1, 1
	if miss.scored() {
		e.atMiss = e.Tally
		e.atMiss.add(miss)
	}
	e.Tally.add(t)
	e.last = day
}

// missed reports whether anything ever was.
func (e evidence) missed() bool { return e.atMiss.Sessions > 0 }

// enough reports whether there is enough to hold it against the dog, counted at the
// last miss, so that a clean ask never completes it.
func (e evidence) enough(h *history) bool { return h.tried(e.atMiss) }

// under reports whether the plain share of the asks is below a bar.
func (e evidence) under(bar float64) bool {
	return e.Asks > 0 && float64(e.Answered) < bar*float64(e.Asks)-hair
}

// tried reports whether counts make a person, a place or a condition tried.
func (h *history) tried(t Tally) bool {
	if h.kind == training.Motion {
		return t.Minutes >= h.c.PlaceMinutes-hair && t.Sessions >= h.c.PlaceSessions
	}
	return t.Asks >= h.c.PlaceAsks && t.Sessions >= h.c.PlaceSessions
}

// watcher is a filter with what it is shown.
type watcher struct {
	*model.Watch
	prior     model.Prior
	questions []model.Question
	owner     bool           // the owner's own asks only
	goal      *training.Goal // the asks of one goal with a time of its own only
}

// follow is the forward pass over the sittings of a cue.
type follow struct {
	h         *history
	watches   []watcher
	decisions []decision
	seen      []evidence // by decision
	cold      [2]Tally   // first asks of a session, and the later ones
	coldless  int        // sessions whose first ask is not known
	nights    []night
}

// weakRate is how far above the bar the breaks a minute of the weakest person or
// place may lie: as far as .80 lies below .85 on the scale of odds.
const weakRate = 1.4

// prepare sets up the filters and the questions of a cue.
func (h *history) prepare() *follow {
	f := &follow{h: h}
	shared := model.Shipped()
	alone := model.Alone()
	shared.Likeness, alone.Likeness = h.c.Likeness, h.c.Likeness
	if h.kind == training.Motion {
		shared = model.Walking()
		alone = shared
		alone.Spread, alone.Cell, alone.JumpChance, alone.JumpNight = [model.Factors]float64{}, 0, 0, 0
	}
	f.watches = append(f.watches, watcher{prior: shared}, watcher{prior: alone, owner: true})
	c := h.c
	level := decision{about: onLevel, needed: c.Sure, keep: c.KeepSure, lose: c.LoseSure, failed: c.FailSure}
	f.add(level, c.LevelBar(), c.Agreed)
	if h.kind == training.Response {
		cold := decision{about: onCold, needed: c.FirstAskSure, keep: c.FirstAskKeep, lose: c.FirstAskLose,
			failed: c.WeakSure}
		cold.target.First = true
		f.add(cold, c.FirstAsk, c.FirstAsk)
	}
	if name := h.sc.mainName(); name != "" && c.OtherSessions > 0 {
		others := decision{about: onOthers, needed: c.OthersSure}
		others.target.Except[model.Person] = name
		f.add(others, c.Person, c.Person)
	}
	who, where := map[int]bool{}, map[int]bool{}
	for i := range h.sits {
		if q := &h.sits[i]; q.scored() {
			who[q.handler], where[q.place] = true, true
		}
	}
	for i, p := range h.sc.handlers {
		if who[i] {
			d := decision{about: onPerson, who: i, needed: c.PersonSure, keep: c.PersonKeep,
				lose: c.PersonLose, failed: c.WeakSure}
			d.target.At[model.Person] = p.name
			f.add(d, c.Person, c.Person)
		}
	}
	for i, p := range h.sc.places {
		if where[i] {
			d := decision{about: onPlace, who: i, needed: c.PlaceSure, keep: c.PlaceKeep, lose: c.PlaceLose,
				failed: c.WeakSure}
			d.target.At[model.Place] = p.name
			f.add(d, c.Place, c.Place)
		}
	}
	for i, g := range h.sc.goalsOf(h.cue) {
		d := decision{about: onGoal, who: i, needed: c.Sure, keep: c.KeepSure, lose: c.LoseSure,
			failed: c.FailSure}
		if h.ownTime(g) {
			f.watches = append(f.watches, watcher{prior: alone, goal: &g})
			d.watch = len(f.watches) - 1
		} else {
			d.target.At = h.goalAt(g)
		}
		bar := h.goalBar(g)
		f.add(d, math.Max(.01, bar-c.Margin), bar)
	}
	f.add(decision{about: onOwner, watch: 1, needed: c.OwnerSure, failed: c.WeakSure}, c.Owner, c.Owner)
	f.seen = make([]evidence, len(f.decisions))
	for i := range f.watches {
		w := &f.watches[i]
		w.Watch = model.NewWatch(w.prior, w.questions)
	}
	return f
}

// add puts a decision's two questions to its filter: that the bar is passed, and that
// the share agreed is. For a motion both are about the breaks a minute.
func (f *follow) add(d decision, bar, agreed float64) {
	if f.h.kind == training.Motion {
		if !f.h.c.Breaks.Known {
			return // nothing to be held against
		}
		bar = f.h.c.Breaks.V
		if d.about == onOthers || d.about == onPerson || d.about == onPlace || d.about == onOwner {
			bar *= weakRate
		}
		agreed = bar
	}
	bar, agreed = inside(f.h.kind, bar), inside(f.h.kind, agreed)
	w := &f.watches[d.watch]
	d.bar, d.ask, d.fail = bar, len(w.questions), len(w.questions)
	w.questions = append(w.questions, model.Question{Target: d.target, Value: bar})
	if agreed != bar {
		d.fail++
		w.questions = append(w.questions, model.Question{Target: d.target, Value: agreed})
	}
	f.decisions = append(f.decisions, d)
}

// inside keeps a share away from 0 and 1, where no dog ever is.
func inside(k training.Kind, bar float64) float64 {
	if k == training.Motion {
		return bar
	}
	return math.Min(math.Max(bar, .001), .999)
}

// sure is the probability that the decision's bar is passed, and agreed that the
// share agreed is.
func (f *follow) sure(d decision) float64   { return f.watches[d.watch].Answer(d.ask) }
func (f *follow) agreed(d decision) float64 { return f.watches[d.watch].Answer(d.fail) }

// observe takes in one sitting; fresh: the first one of its day.
func (f *follow) observe(q *cueSitting, fresh bool) {
	for i := range f.watches {
		f.watches[i].observe(f.h, q, fresh)
	}
	f.countCold(q)
	for i, d := range f.decisions {
		e := &f.seen[i]
		switch d.about {
		case onLevel:
			e.add(q.Tally, q.miss, q.day)
		case onCold:
			if yes, known := f.h.firstAsk(q); known {
				t := Tally{Answered: one(yes), Asks: 1}
				e.add(t, t.ifMissed(), q.day)
			}
		case onOthers:
			if q.handler != f.h.sc.main {
				e.add(q.Tally, q.miss, q.day)
			}
		case onPerson:
			if q.handler == d.who {
				e.add(q.Tally, q.miss, q.day)
			}
		case onPlace:
			if q.place == d.who {
				e.add(q.Tally, q.miss, q.day)
			}
		case onGoal:
			on, miss, _ := f.h.goalTally(f.h.sc.goalsOf(f.h.cue)[d.who], q)
			e.add(on, miss, q.day)
		case onOwner:
			if f.h.person(q).role == training.Owner {
				e.add(q.Tally, q.miss, q.day)
			}
		}
	}
}

func (f *follow) countCold(q *cueSitting) {
	if f.h.kind != training.Response || q.Asks == 0 {
		return
	}
	later := q.Tally
	if yes, known := f.h.firstAsk(q); known {
		f.cold[0].add(Tally{Answered: one(yes), Asks: 1, Sessions: 1})
		later.Asks--
		later.Answered -= one(yes)
	} else {
		f.coldless++
	}
	later.Sessions = one(later.Asks > 0)
	f.cold[1].add(later)
}

// firstAsk is how the first scored ask of a sitting went; not known when the sitting
// began with a tally.
func (h *history) firstAsk(q *cueSitting) (yes, known bool) {
	if h.kind != training.Response {
		return false, false
	}
	return h.firstScored(q)
}

func (h *history) firstScored(q *cueSitting) (yes, known bool) {
	for _, e := range q.trials {
		if t := h.tally(*e.t); t.Asks > 0 {
			return t.Answered > 0, e.t.Outcome != training.Counted
		}
	}
	return false, false
}

// observer is a filter, with or without questions.
type observer interface {
	Observe(model.Sitting)
	ObserveWalk(model.Walk)
}

func (w *watcher) observe(h *history, q *cueSitting, fresh bool) {
	if !w.owner || h.person(q).role == training.Owner {
		h.show(w, h.parts(q, w.goal), fresh)
	}
}

// show gives a filter the parts of a sitting.
func (h *history) show(w observer, parts []part, fresh bool) {
	for i, p := range parts {
		if h.kind == training.Motion {
			w.ObserveWalk(model.Walk{At: p.at, Breaks: p.Breaks, Minutes: p.Minutes, Night: fresh && i == 0})
			continue
		}
		s := model.Sitting{At: p.at, First: p.first, Yes: p.Answered, Of: p.Asks, Continued: i > 0,
			Night: fresh && i == 0}
		if p.first != model.NotNoted {
			s.Of--
			s.Yes -= one(p.first == model.Yes)
		}
		w.Observe(s)
	}
}

// part is the asks of a sitting in one leash state and one distraction.
type part struct {
	at    model.At
	first model.First // of the sitting, in its first part
	Tally
}

// parts cuts a sitting where leash or distraction change. With a goal only its asks
// are taken, by its own time.
func (h *history) parts(q *cueSitting, goal *training.Goal) []part {
	target := h.c.Target
	if goal != nil {
		h.c.Target = goal.Hold
		defer func() { h.c.Target = target }()
	}
	var out []part
	for _, e := range q.trials {
		t := h.tally(*e.t)
		if !t.scored() {
			continue
		}
		if goal != nil {
			if all, _ := h.meets(*goal, q, e.s); !all {
				continue
			}
		}
		at := h.at(q, e.s)
		n := len(out)
		if n == 0 || out[n-1].at != at {
			out = append(out, part{at: at})
			n++
		}
		out[n-1].add(t)
	}
	if len(out) > 0 && goal == nil {
		if yes, known := h.firstAsk(q); known {
			out[0].first = model.No
			if yes {
				out[0].first = model.Yes
			}
		}
	}
	return out
}

// at is the circumstances of a session as the model knows them.
func (h *history) at(q *cueSitting, s *training.Session) model.At {
	return model.At{
		model.Person: h.person(q).name, model.Place: h.place(q).name,
		model.Leash: string(s.Leash), model.Distraction: distractionName(s.Distraction),
	}
}
