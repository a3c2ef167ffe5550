package analysis

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"firstcue/internal/training"
)

// Assess judges the dog of the record as of the end of a day. It is a function of its
// arguments alone; nothing after the day counts, and the record is not changed.
// criteria is asked once for each cue.
func Assess(r training.Record, criteria CriteriaFunc, day training.Day) Assessment {
	sc := newScene(r, day)
	a := sc.begin()
	hist := sc.histories(criteria)
	sc.lookAcross(hist)
	var steps [][]cueStep
	var follows []*follow
	for _, h := range hist {
		f := h.prepare()
		f.run()
		c := f.assess(&a)
		if c.counts() {
			steps = append(steps, f.steps())
		}
		a.Cues = append(a.Cues, c)
		follows = append(follows, f)
	}
	a.LeftOut = sc.leftOut(hist)
	sc.neverTried(&a)
	a.judge()
	sc.census(&a)
	a.Fall = sc.fall(hist)
	a.Today = today(follows, day)
	a.ownerOf(hist, follows)
	a.Reasons = a.reasons()
	a.stepsOf(steps)
	a.Forecast = a.forecastOf(r)
	a.Cautions = sc.cautions(&a)
	a.Plan = a.plan(follows)
	return a
}

// begin fills in what an assessment knows of the dog itself.
func (sc *scene) begin() Assessment {
	r, day := sc.rec, sc.day
	a := Assessment{Dog: r.Dog, Name: r.Dog.Name, Day: day, Agreed: len(r.Dog.Goals) > 0,
		Baseline: sc.baseline(day, ""),
		Main:     sc.mainName(), MainSet: sc.mainEntered}
	if b, ok := r.Dog.Boarding(day); ok {
		s := &Stay{Arrived: b.Arrived, Due: b.Due, Home: b.Home, Day: int(day-b.Arrived) + 1,
			Wishes: b.Wishes}
		if b.Due != 0 {
			s.DaysToDue = training.Known(float64(b.Due - day))
		}
		a.Stay = s
	}
	for _, h := range r.Dog.Holds {
		if h.From <= day && (h.To == 0 || h.To >= day) {
			a.Holds = append(a.Holds, VetHold{From: h.From, To: h.To, Reason: h.Reason, Cues: h.Cues,
				NoCollar: h.NoCollar, CollarOnly: h.CollarOnly})
		}
	}
	a.Incidents = sc.incidents(day)
	for _, s := range r.Sessions {
		if s.Day() <= day && slices.Contains(r.Unsettled, s.ID) {
			a.Unsettled = append(a.Unsettled, Unsettled{s.ID, s.Day(), s.Start.Format(time.RFC3339)})
		}
	}
	slices.SortStableFunc(a.Unsettled, func(x, y Unsettled) int {
		return cmp.Or(cmp.Compare(x.Day, y.Day),
			strings.Compare(x.ID, y.ID))
	})
	return a
}

// assess judges one cue.
func (f *follow) assess(a *Assessment) CueAssessment {
	h := f.h
	c := CueAssessment{Cue: h.cue, Kind: h.kind, Agreed: h.sc.agreed(h.cue), Criteria: h.c, LeftOut: h.out}
	h.counts(&c)
	if n := int(a.Day - c.Last); c.Last != 0 && n >= h.c.StaleDays {
		c.StaleDays = n
	}
	verdicts := f.verdicts()
	today := f.bench(a.Day)
	c.Gates = today.gates()
	c.Verdict = today.verdict(c.Gates)
	if before := f.bench(a.Day - 1); before.n != nil {
		c.Before = before.verdict(before.gates())
	}
	if n := f.last(); n != nil {
		c.GoodNights, c.Lost = min(n.streak, h.c.Nights), n.lost
		for i := len(f.nights) - 1; i >= 0 && verdicts[i] == Ready && c.Verdict == Ready; i-- {
			c.ReadySince = f.nights[i].day
		}
	}
	c.Now, _ = f.decided(onLevel, 0)
	c.Share = h.share(h.sits)
	c.Share.Other = h.others(c.Share)
	c.BeforeTeaching = h.before()
	c.Course = f.course(verdicts, c.Now)
	f.contexts(&c, movedOn(c.Course))
	c.Leashes = h.leashes()
	c.ReadyOn = h.readyOn(c.Leashes)
	c.Cold = f.coldAsks()
	c.Slipping = f.slipping(c.Course)
	c.Goals = f.goalStandings()
	c.Owner = f.owner()
	c.Changes = f.changes(c.Gates)
	if !c.Owner.Confirmed {
		c.Owner.Change = f.ownerChange(c.Owner)
	}
	c.Corrections = h.correctionsOf()
	h.times(&c)
	c.Forecast = f.forecast(a.Stay, a.Day, c.Gates, c.Changes)
	return c
}

// bench puts the cue to the gates as of the end of a day, by the evening that was
// known then.
func (f *follow) bench(day training.Day) *bench {
	return &bench{f: f, n: f.on(day), sits: upTo(f.h.sits, day), day: day,
		open: len(f.h.sc.incidents(day)), held: f.h.sc.heldAt(day, f.h.cue)}
}

// verdicts is that of each evening with scored asks.
func (f *follow) verdicts() []Verdict {
	var out []Verdict
	for _, n := range f.nights {
		b := f.bench(n.day)
		out = append(out, b.verdict(b.gates()))
	}
	return out
}

// counts fills in how much there is of the cue.
func (h *history) counts(c *CueAssessment) {
	wrong := map[string]int{}
	for _, q := range h.sits {
		if q.day != c.Last {
			c.Days++
			c.Last = q.day
		}
		if c.First == 0 {
			c.First = q.day
		}
		q.Tally.Sessions = one(q.scored())
		c.Tally.add(q.Tally)
		for _, e := range q.trials {
			c.LastID = e.s.ID
			h.apart(c, e.t)
			if e.t.Did != "" {
				wrong[e.t.Did]++
			}
		}
	}
	for did, n := range wrong {
		c.WrongAnswers = append(c.WrongAnswers, WrongAnswer{did, n})
	}
	slices.SortFunc(c.WrongAnswers, func(a, b WrongAnswer) int {
		return cmp.Or(cmp.Compare(b.Count, a.Count), strings.Compare(a.Did, b.Did))
	})
}

// apart counts a trial that stands in no denominator.
func (h *history) apart(c *CueAssessment, t *training.Trial) {
	switch t.Outcome {
	case training.Unscored:
		c.Unscored++
	case training.Early:
		c.Early++
	case training.Already:
		c.AlreadyThere++
	case training.Released:
		c.ReleasedEarly++
	default:
		c.Unscored += one(h.foreign(*t))
	}
}

// times fills in latencies, holds and breaks.
func (h *history) times(c *CueAssessment) {
	switch h.kind {
	case training.Motion:
		c.Walked = breaksOf(c.Tally)
	case training.Response:
		d := h.doublingOf(h.sits)
		c.Latency = &Latency{Survival: h.latencies(h.sits).summary(), Limit: h.c.Limit,
			Baseline: d.baseline, Recent: d.last, Doubled: d.doubled, DoubledOn: d.on}
		if x, ok := h.completions(h.sits); ok {
			s := x.summary()
			c.Completion = &s
		}
	case training.Holding:
		c.Hold = h.holdOf()
	}
}

// coldAsks compares the first ask of a session with the later ones.
func (f *follow) coldAsks() Cold {
	c := Cold{First: f.cold[0], Later: f.cold[1], Unknown: f.coldless}
	if f.h.kind != training.Response || c.First.Asks == 0 {
		return c
	}
	c.Figure, _ = f.decided(onCold, 0)
	c.LaterFigure, _ = f.decided(onLevel, 0)
	c.Worse = f.watches[0].Filter.ColdWorse(worseBy) >= f.h.c.WorseSure
	return c
}

// goalStandings is how each agreed goal of the cue stands.
func (f *follow) goalStandings() []GoalStanding {
	var out []GoalStanding
	n := f.last()
	for k, goal := range f.h.sc.goalsOf(f.h.cue) {
		g := GoalStanding{Goal: goal, Standing: Short}
		for i := range f.h.sits {
			on, _, off := f.h.goalTally(goal, &f.h.sits[i])
			g.Tally.add(on)
			g.OtherLeash.add(off)
		}
		figure, i := f.decided(onGoal, k)
		g.Figure = figure
		if n != nil && i >= 0 {
			g.Standing = f.standing(n, i)
			g.Lack = f.h.lack(LackGoal)
			g.Lack.Goal, g.Lack.Person, g.Lack.Place, g.Lack.Leash = f.h.sc.goalIndex(f.h.cue, k),
				goal.Handler, goal.Place, goal.Leash
		}
		if l := f.lackGoal(g.Tally, k); l != nil && g.Standing != Failed {
			g.Standing, g.Lack = Short, l
		}
		if g.Standing == Met {
			g.Lack = nil
		}
		out = append(out, g)
	}
	return out
}

// ownerChange is what would confirm the owner.
func (f *follow) ownerChange(o Owner) *Change {
	n := f.last()
	for i, d := range f.decisions {
		if d.about != onOwner || n == nil {
			continue
		}
		g := Gate{Name: GatePeople, Lack: o.Lack}
		return f.lookAhead(i, g, usualOf(f.h.sits))
	}
	return nil
}

// judge is the verdict of the dog from those of its counted cues.
func (a *Assessment) judge() {
	a.Verdict, a.Before = Ready, Ready
	known, on, said := false, 0, true
	for i := range a.Cues {
		c := &a.Cues[i]
		if !c.counts() {
			continue
		}
		known = true
		a.CountedCues++
		a.ReadyCues += one(c.Verdict == Ready)
		a.Verdict = worse(a.Verdict, c.Verdict)
		a.Before = worse(a.Before, cmp.Or(c.Before, NotProven))
		said = said && c.ReadyOn != ""
		if a.ReadyOn == "" || control(c.ReadyOn) < on {
			a.ReadyOn, on = c.ReadyOn, control(c.ReadyOn)
		}
	}
	if !said {
		a.ReadyOn = ""
	}
	for _, u := range a.Never {
		if u.Agreed {
			a.CountedCues++
			a.Verdict, a.Before = worse(a.Verdict, NotProven), worse(a.Before, NotProven)
		}
	}
	if !known {
		a.Verdict, a.Before = worse(a.Verdict, NotProven), NotProven
		if len(a.Incidents) > 0 {
			a.Verdict = NotReady
		}
	}
	if a.heldWhole() {
		a.Verdict = OnHold
	}
	if a.Verdict == Ready {
		a.stale()
	}
}

// stale says how long no counted cue was asked for.
func (a *Assessment) stale() {
	var last training.Day
	days := 0
	for i := range a.Cues {
		if c := &a.Cues[i]; c.counts() {
			last, days = max(last, c.Last), max(days, c.Criteria.StaleDays)
		}
	}
	if n := int(a.Day - last); last != 0 && n >= days {
		a.StaleDays = n
	}
}

// worse is the graver of two verdicts.
func worse(a, b Verdict) Verdict {
	order := []Verdict{Ready, NotProven, OnHold, NotReady}
	if slices.Index(order, b) > slices.Index(order, a) {
		return b
	}
	return a
}

// ownerOf sums up the owner's own asks.
func (a *Assessment) ownerOf(hist []*history, follows []*follow) {
	o := OwnerOfDog{Names: a.Dog.Owners}
	lessons := map[int]bool{}
	stale := 0
	for k, f := range follows {
		c := &a.Cues[k]
		if !c.counts() {
			continue
		}
		o.ConfirmedCues += one(c.Owner.Confirmed)
		o.LessonsNeeded = max(o.LessonsNeeded, f.h.c.OwnerLessons)
		o.Last = max(o.Last, c.Owner.Last)
		stale = max(stale, f.h.c.StaleDays)
		for _, q := range hist[k].sits {
			if q.scored() && f.h.person(&q).role == training.Owner {
				lessons[q.sit] = true
			}
		}
	}
	o.Lessons = len(lessons)
	o.Confirmed = a.CountedCues > 0 && o.ConfirmedCues == a.CountedCues
	if n := int(a.Day - o.Last); o.Confirmed && n >= stale {
		o.StaleDays = n
	}
	a.Owner = o
}
