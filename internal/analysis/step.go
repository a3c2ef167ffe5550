package analysis

import (
	"slices"

	"firstcue/internal/model"
	"firstcue/internal/training"
)

// cueStep is a step before home for one cue.
type cueStep struct {
	Step
	rank int // 0 yes, 1 not proven, 2 no, 3 waits
}

var answers = []Answer{Yes, Unknown, No, Waits}

// untried is a name that no person and no place has: what the model expects of
// somebody or somewhere new.
const untried = "\x00"

// steps answers each step for the cue.
func (f *follow) steps() []cueStep {
	h := f.h
	own := func(q *cueSitting) bool { return !h.place(q).off }
	away := func(q *cueSitting) bool { return h.place(q).off }
	out := []cueStep{
		f.step1(StepOffLeash, own, offLeash),
		f.step1(StepOffProperty, away, ""),
		f.step1(StepColleague, func(q *cueSitting) bool {
			return q.handler != h.sc.main &&
				h.person(q).role != training.Owner
		}, ""),
		f.step1(StepOwner, func(q *cueSitting) bool { return h.person(q).role == training.Owner }, ""),
	}
	f.offLeash(&out[0])
	f.weakest(&out[1], onPlace, func(who int) bool { return h.sc.places[who].off }, LackPlace)
	f.weakest(&out[2], onPerson, func(who int) bool {
		return who != h.sc.main && h.sc.handlers[who].role != training.Owner
	}, LackPerson)
	f.ownerStep(&out[3])
	return out
}

// step1 counts the asks under a step's condition.
func (f *follow) step1(name StepName, pick func(*cueSitting) bool, leash training.Leash) cueStep {
	s := cueStep{Step: Step{Name: name}}
	for i := range f.h.sits {
		q := &f.h.sits[i]
		if !q.scored() || !pick(q) {
			continue
		}
		var t Tally
		for _, e := range q.trials {
			if leash != "" && e.s.Leash != leash {
				continue
			}
			x := f.h.tally(*e.t)
			if x.scored() && !slices.Contains(s.Leashes, e.s.Leash) {
				s.Leashes = append(s.Leashes, e.s.Leash)
			}
			t.add(x)
		}
		t.Sessions = one(t.scored())
		s.Tally.add(t)
		s.by(f.h.person(q).name, t)
	}
	return s
}

// by counts for one person.
func (s *Step) by(who string, t Tally) {
	if !t.scored() {
		return
	}
	i := slices.IndexFunc(s.People, func(p StepPerson) bool { return p.Person == who })
	if i < 0 {
		i = len(s.People)
		s.People = append(s.People, StepPerson{Person: who})
	}
	s.People[i].add(t)
}

// passes asks the filter of tonight for the probability that a target passes a bar.
func (f *follow) passes(t model.Target, bar float64) float64 {
	p := f.watches[0].Filter.Prob(t, inside(f.h.kind, bar))
	if f.h.kind == training.Motion {
		return 1 - p
	}
	return p
}

func (f *follow) bars() (level, person, place float64) {
	c := f.h.c
	if f.h.kind == training.Motion {
		return c.Breaks.V, c.Breaks.V * weakRate, c.Breaks.V * weakRate
	}
	return c.LevelBar(), c.Person, c.Place
}

// answer turns a probability into yes, no or not proven.
func (s *cueStep) answer(f *follow, sure, needed float64, lack LackCode) {
	switch {
	case sure >= needed-hair:
		s.rank = 0
		return
	case f.h.tried(s.Tally) && sure <= 1-f.h.c.WeakSure:
		s.rank = 2
	default:
		s.rank = 1
	}
	s.Lack = f.h.lack(lack)
}

// offLeash asks whether the level off leash, on the kennel's own ground so far, is
// there; while it was never off, the model's doubt about another leash counts.
func (f *follow) offLeash(s *cueStep) {
	if f.last() == nil || len(f.decisions) == 0 {
		s.rank, s.Lack = 1, f.h.lack(LackAsks)
		return
	}
	level, _, _ := f.bars()
	at := model.At{model.Leash: string(offLeash)}
	s.answer(f, f.passes(model.Target{At: at}, level), f.h.c.Sure, LackLevel)
	if l := f.h.lackAsks(f.last()); s.rank == 0 && !f.h.tried(s.Tally) {
		s.rank, s.Lack = 1, f.h.lack(LackOffLeash)
		s.Lack.Leash = offLeash
		s.Lack.Asks, s.Lack.Sessions, s.Lack.Minutes = f.h.short(s.Tally)
		if l != nil {
			s.Lack = l
		}
	}
	for i := range s.People {
		p := &s.People[i]
		at[model.Person] = p.Person
		one := cueStep{Step: Step{Tally: p.Tally}}
		one.answer(f, f.passes(model.Target{At: at}, level), f.h.c.Sure, LackLevel)
		p.Answer = answers[one.rank]
	}
}

// weakest asks whether every place (or person) of the step passes; while there is
// none, whether a new one would.
func (f *follow) weakest(s *cueStep, about subject, pick func(who int) bool, lack LackCode) {
	n := f.last()
	if n == nil || len(f.decisions) == 0 {
		s.rank, s.Lack = 1, f.h.lack(LackAsks)
		return
	}
	found := false
	for i, d := range f.decisions {
		if d.about != about || !pick(d.who) || n.seen[i].Sessions == 0 {
			continue
		}
		found = true
		rank := map[Standing]int{Met: 0, Short: 1, Failed: 2}[f.standing(n, i)]
		if rank >= s.rank && rank > 0 {
			s.rank, s.Lack = rank, f.h.lack(lack)
			if about == onPerson {
				s.Lack.Person = f.h.sc.handlers[d.who].name
			} else {
				s.Lack.Place = f.h.sc.places[d.who].name
			}
		}
		for k := range s.People {
			if about == onPerson && s.People[k].Person == f.h.sc.handlers[d.who].name {
				s.People[k].Answer = answers[rank]
			}
		}
	}
	if about == onPlace {
		f.byPerson(s)
	}
	if found {
		return
	}
	_, person, place := f.bars()
	if about == onPerson {
		s.answer(f, f.passes(model.Target{At: model.At{model.Person: untried}}, person), f.h.c.PersonSure,
			LackPeople)
	} else {
		s.answer(f, f.passes(model.Target{At: model.At{model.Place: untried}}, place), f.h.c.PlaceSure,
			LackAway)
	}
	if l := f.h.lackAsks(n); l != nil && s.rank == 0 {
		s.rank, s.Lack = 1, l
	}
}

// byPerson asks of each person of an off property step how it goes with them.
func (f *follow) byPerson(s *cueStep) {
	_, person, _ := f.bars()
	for k := range s.People {
		p := &s.People[k]
		one := cueStep{Step: Step{Tally: p.Tally}}
		at := model.At{model.Person: p.Person}
		one.answer(f, f.passes(model.Target{At: at}, person), f.h.c.PersonSure, LackPerson)
		p.Answer = answers[one.rank]
	}
}

// ownerStep is the owner's own verdict; before the first lesson, whether somebody new
// would get an answer.
func (f *follow) ownerStep(s *cueStep) {
	o := f.owner()
	for k := range s.People {
		s.People[k].Answer = map[Standing]Answer{Met: Yes, Failed: No, Short: Unknown}[o.Standing]
	}
	s.rank, s.Lack = map[Standing]int{Met: 0, Failed: 2, Short: 1}[o.Standing], o.Lack
}

// owner is the verdict of the owner's own asks, from a filter of these alone.
func (f *follow) owner() Owner {
	h, c := f.h, f.h.c
	o := Owner{Standing: Short}
	n := f.last()
	figure, i := f.decided(onOwner, 0)
	o.Figure = figure
	l := h.lack(LackOwner)
	l.Asks, l.Sessions = c.OwnerAsks, c.OwnerLessons
	if h.kind == training.Motion {
		l.Asks, l.Minutes = 0, c.PlaceMinutes
	}
	o.Lack = l
	if n == nil || i < 0 {
		return o
	}
	e := n.seen[i]
	o.Tally, o.Last = e.Tally, e.last
	l.Sessions = max(0, c.OwnerLessons-e.Sessions)
	if h.kind == training.Motion {
		l.Minutes = max(0, c.PlaceMinutes-e.Minutes)
	} else {
		l.Asks = max(0, c.OwnerAsks-e.Asks)
	}
	o.Standing = f.standing(n, i)
	if o.Standing != Failed && (l.Asks > 0 || l.Minutes > hair || l.Sessions > 0) {
		o.Standing = Short
		return o
	}
	if o.Standing == Met {
		o.Confirmed, o.Lack = true, nil
		return o
	}
	o.Lack = h.lack(LackOwnerLevel)
	return o
}

// stepsOf puts the counted cues' steps together: the worst answer counts.
func (a *Assessment) stepsOf(all [][]cueStep) {
	var out []Step
	for k, name := range []StepName{StepOffLeash, StepOffProperty, StepColleague, StepOwner} {
		s, rank := Step{Name: name}, 0
		for _, cue := range all {
			c := cue[k]
			s.Tally.add(c.Tally)
			for _, l := range c.Leashes {
				if !slices.Contains(s.Leashes, l) {
					s.Leashes = append(s.Leashes, l)
				}
			}
			for _, p := range c.People {
				s.by(p.Person, p.Tally)
				s.worst(p.Person, p.Answer)
			}
			if c.rank > rank {
				rank, s.Lack = c.rank, c.Lack
			}
		}
		slices.SortFunc(s.Leashes, func(x, y training.Leash) int { return control(x) - control(y) })
		s.Answer = answers[rank]
		out = append(out, s)
	}
	home := Step{Name: StepHome, Answer: map[Verdict]Answer{Ready: Yes, NotProven: Unknown, NotReady: No,
		OnHold: Waits}[a.Verdict]}
	home.Lack = a.firstLack()
	if a.Verdict == Ready {
		home.Lack = nil
	}
	a.Steps = append(out, home)
	a.closeSteps(len(all) == 0)
}

// worst keeps the worse of a person's answers.
func (s *Step) worst(who string, answer Answer) {
	for i := range s.People {
		p := &s.People[i]
		if p.Person == who && slices.Index(answers, answer) > slices.Index(answers, p.Answer) {
			p.Answer = answer
		}
	}
}

// closeSteps lets a vet hold of the whole dog or an open incident override the steps.
func (a *Assessment) closeSteps(nothing bool) {
	for i := range a.Steps {
		s := &a.Steps[i]
		switch {
		case a.heldWhole():
			s.Answer, s.Lack = Waits, &Lack{Code: LackVet, Goal: -1}
		case len(a.Incidents) > 0:
			s.Answer, s.Lack = No, &Lack{Code: LackIncident, Goal: -1}
		case nothing:
			s.Answer, s.Lack = Unknown, &Lack{Code: LackNeverAsked, Goal: -1}
		case s.Answer == Yes:
			s.Lack = nil
		}
	}
}

func (a *Assessment) heldWhole() bool {
	for _, h := range a.Holds {
		if len(h.Cues) == 0 && !h.CollarOnly {
			return true
		}
	}
	return false
}
