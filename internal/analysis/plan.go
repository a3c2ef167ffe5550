package analysis

import (
	"cmp"
	"math"
	"slices"

	"firstcue/internal/training"
)

// PlanReason says why a line is in the plan. The codes are stable.
type PlanReason string

// The reasons, in the order in which they are ranked.
const (
	PlanVet   PlanReason = "vet first"     // do not ask: slower or refused answers
	PlanSlip  PlanReason = "slipping"      // easier, in a quiet place
	PlanOwner PlanReason = "owner lesson"  // the owner's lessons come by date
	PlanGoal  PlanReason = "goal"          // an agreed condition that was not asked enough
	PlanNever PlanReason = "not asked yet" // agreed, not asked since teaching began
	PlanProve PlanReason = "prove"         // what moves the decision most
	PlanStale PlanReason = "stale"         // not asked for some days
	PlanStep  PlanReason = "practice"      // by the last five answers
	PlanEasy  PlanReason = "easy end"      // ends the session
	PlanNew   PlanReason = "new first day" // after a hold or an incident: easy asks only
)

// PlanStepCode says how hard to make it.
type PlanStepCode string

// Harder is one thing harder: farther, longer or busier, and only one of them.
const (
	Easier PlanStepCode = "easier"
	Same   PlanStepCode = "same"
	Harder PlanStepCode = "harder"
)

// PlanLine is one thing to do in the next session.
type PlanLine struct {
	Rank    int           `json:"rank"` // 1 = first
	Reason  PlanReason    `json:"reason"`
	Cue     string        `json:"cue"`
	Kind    training.Kind `json:"kind"`
	Asks    int           `json:"asks"`        // 0 for a walk, and where the cue is to be left out
	Minutes float64       `json:"minutes"`     // about how long it takes; for a walk, how long to walk
	Seconds training.Num  `json:"holdSeconds"` // hold: how long to ask for
	Person  string        `json:"person"`      // "" = whoever has the dog
	NotBy   string        `json:"notBy"`       // the one person it must not be
	Place   string        `json:"place"`       // "" = anywhere
	// NewPlace: at one that was not tried, Away: off property.
	NewPlace bool           `json:"newPlace"`
	Away     bool           `json:"offProperty"`
	Leash    training.Leash `json:"leash"` // "" = as always
	Step     PlanStepCode   `json:"step"`
	LastFive Tally          `json:"lastFive"` // the last asks (at most five) that Step follows
	Tally    Tally          `json:"counts"`   // what there is so far under the line's condition
	Gate     GateName       `json:"gate"`     // the gate it is for; "" = none
	Lack     *Lack          `json:"lacks"`
	// Gain is by how much a usual session of it is expected to move the probability
	// that the gate needs.
	Gain  training.Num `json:"gain"`
	Since training.Day `json:"since"` // slipping, slower, stale, owner's last lesson
}

// Time an ask takes with reward and reset. Common practice, no source.
const askMinutes = 0.5

// lastFive is the size of the sets that a step follows.
const lastFive = 5

// bySoon is how many nights before the due day the owner's lessons and the agreed
// conditions come before all else.
const bySoon = 5

// StepFor says how hard to make it after so many of the last five answered: four or
// five, harder; three, the same; fewer, easier.
func StepFor(answered int) PlanStepCode {
	switch {
	case answered >= 4:
		return Harder
	case answered == 3:
		return Same
	}
	return Easier
}

// plan says what to do next, one line a cue, ranked: a sign of pain first (leave the
// cue out), then what is slipping, then the owner's lessons and the agreed conditions
// when the due day is near, what was never asked, what a usual session moves most,
// what was not asked lately, and practice by the last five answers. It ends with an
// easy cue. While an incident is open there is nothing but easy asks; during a vet
// hold of the whole dog nothing.
func (a *Assessment) plan(follows []*follow) []PlanLine {
	if a.heldWhole() {
		return nil
	}
	if len(a.Incidents) > 0 {
		return ranked(a.easyAgain(follows))
	}
	var lines []PlanLine
	for i, f := range follows {
		if c := &a.Cues[i]; c.Verdict != OnHold {
			lines = append(lines, f.planCue(a, c))
		}
	}
	for _, u := range a.Never {
		if u.Agreed && !u.OnHold {
			l := PlanLine{Cue: u.Cue, Kind: u.Kind, Reason: PlanNever, Asks: 3, Minutes: 3 * askMinutes,
				Step: Easier}
			if u.Kind == training.Motion {
				l.Asks, l.Minutes = 0, 2
			}
			lines = append(lines, l)
		}
	}
	rank := []PlanReason{PlanVet, PlanSlip, PlanOwner, PlanGoal, PlanNever, PlanProve, PlanStale, PlanStep}
	counted := func(l PlanLine) int {
		for i := range a.Cues {
			if a.Cues[i].Cue == l.Cue {
				return one(!a.Cues[i].counts())
			}
		}
		return 0
	}
	slices.SortStableFunc(lines, func(x, y PlanLine) int {
		return cmp.Or(cmp.Compare(slices.Index(rank, x.Reason), slices.Index(rank, y.Reason)),
			cmp.Compare(counted(x), counted(y)), cmp.Compare(y.Gain.V, x.Gain.V))
	})
	if easy, ok := a.easyEnd(); ok {
		lines = append(lines, easy)
	}
	return ranked(lines)
}

func ranked(lines []PlanLine) []PlanLine {
	for i := range lines {
		lines[i].Rank = i + 1
	}
	return lines
}

// FitPlan takes the lines of a plan in order as long as they fit into the minutes, the
// easy end always; of long holds some are better than none.
func FitPlan(plan []PlanLine, minutes float64) []PlanLine {
	var out, end []PlanLine
	for _, l := range plan {
		if l.Reason == PlanEasy {
			end = append(end, l)
			minutes -= l.Minutes
		}
	}
	for _, l := range plan {
		if l.Reason == PlanEasy {
			continue
		}
		if l.Kind == training.Holding && l.Asks > 2 && l.Minutes > minutes+hair {
			each := l.Minutes / float64(l.Asks)
			l.Asks = min(l.Asks, max(2, int(minutes/each+hair)))
			l.Minutes = float64(l.Asks) * each
		}
		if l.Minutes <= minutes+hair {
			out = append(out, l)
			minutes -= l.Minutes
		}
	}
	return ranked(append(out, end...))
}

// line is a line for the cue with its usual portion.
func (f *follow) line(reason PlanReason, asks int) PlanLine {
	h := f.h
	l := PlanLine{Cue: h.cue, Kind: h.kind, Reason: reason, Step: Same}
	switch h.kind {
	case training.Motion:
		l.Minutes = usualOf(h.sits).minutes
	case training.Holding:
		hold := 0.0
		if h.c.Target.Known {
			hold = h.c.Target.V / 60
			l.Seconds = h.c.Target
		}
		// A session is not spent on one long hold ten times over.
		l.Asks = min(asks, max(2, int(10/(hold+askMinutes))))
		l.Minutes = float64(l.Asks) * (hold + askMinutes)
	default:
		l.Asks, l.Minutes = asks, float64(asks)*askMinutes
	}
	return l
}

// planCue gives the one line of a cue.
func (f *follow) planCue(a *Assessment, c *CueAssessment) PlanLine {
	if c.Latency != nil && c.Latency.Doubled {
		return PlanLine{Cue: c.Cue, Kind: c.Kind, Reason: PlanVet, Step: Easier, Since: c.Latency.DoubledOn}
	}
	step, five := f.planStep(a, c)
	with := func(l PlanLine) PlanLine {
		l.LastFive = five
		if l.Step != Easier {
			l.Step = step
		}
		// Somebody or somewhere else is one thing harder already.
		if l.Step == Harder && l.Person+l.NotBy+l.Place != "" || l.Step == Harder && (l.NewPlace || l.Away) {
			l.Step = Same
		}
		return l
	}
	if c.Slipping.On {
		l := f.line(PlanSlip, lastFive)
		l.Place, l.Step, l.Since = f.quietPlace(), Easier, c.Slipping.Since
		return with(l)
	}
	if c.counts() {
		if l, ok := f.lesson(a, c); ok {
			return with(l)
		}
		if l, ok := f.prove(c); ok {
			return with(l)
		}
	}
	if n := int(a.Day - c.Last); c.Last != 0 && n > c.Criteria.StaleDays {
		l := f.line(PlanStale, 3)
		l.Since = c.Last
		return with(l)
	}
	return with(f.line(PlanStep, lastFive))
}

// lesson is the owner's lesson, or an agreed condition that was not asked enough: when
// the due day is near, or nothing else is missing.
func (f *follow) lesson(a *Assessment, c *CueAssessment) (PlanLine, bool) {
	soon := a.Stay != nil && a.Stay.DaysToDue.Known && a.Stay.DaysToDue.V <= bySoon
	if !soon && c.Verdict != Ready {
		return PlanLine{}, false
	}
	for _, g := range c.Goals {
		if l := g.Lack; l != nil && l.Code == LackGoalAsked {
			p := f.line(PlanGoal, portion(l.Asks))
			p.Person, p.Place, p.Leash, p.Lack, p.Tally = l.Person, l.Place, l.Leash, l, g.Tally
			return p, true
		}
	}
	if !c.Owner.Confirmed && len(a.Dog.Owners) > 0 && c.Owner.Lack != nil {
		p := f.line(PlanOwner, portion(c.Owner.Lack.Asks))
		p.Person, p.Lack, p.Tally, p.Since = a.Dog.Owners[0], c.Owner.Lack, c.Owner.Tally, c.Owner.Last
		return p, true
	}
	return PlanLine{}, false
}

// portion is what can be done in one session of what is missing.
func portion(asks int) int { return min(max(asks, 5), 8) }

// prove is the gate that a usual session is expected to move most.
func (f *follow) prove(c *CueAssessment) (PlanLine, bool) {
	u := usualOf(f.h.sits)
	best, found, worst := PlanLine{}, false, 0.0
	for _, g := range c.Gates {
		if g.Met() || g.Lack == nil {
			continue
		}
		switch g.Name {
		case GateClosed, GateSpeed, GateCorrections, GateNights:
			continue
		}
		l := f.line(PlanProve, u.asks)
		l.Gate, l.Lack, l.Tally = g.Name, g.Lack, g.Tally
		l.Person, l.NotBy, l.Place, l.Leash = g.Lack.Person, g.Lack.NotBy, g.Lack.Place, g.Lack.Leash
		l.Away = g.Lack.Code == LackAway
		l.NewPlace = (l.Away || g.Lack.Code == LackPlaces) && l.Place == ""
		if g.Standing == Failed {
			l.Step = Easier
		}
		l.Gain = training.Known(f.gain(g, u))
		// What failed comes first, the worst of it; else what one session moves most.
		order := cmp.Or(cmp.Compare(one(g.Standing == Failed), one(best.Step == Easier)),
			cmp.Compare(l.Gain.V, best.Gain.V))
		if g.Standing == Failed && best.Step == Easier {
			order = cmp.Compare(worst, g.Figure.Sure.V)
		}
		if !found || order > 0 {
			best, found, worst = l, true, g.Figure.Sure.V
		}
	}
	return best, found
}

// gain is by how much one usual clean sitting moves the probability that a gate waits
// for; of counts, the part of what is missing that it brings.
func (f *follow) gain(g Gate, u usual) float64 {
	i := f.decisionOf(g)
	if i >= 0 {
		d := f.decisions[i]
		return math.Max(0,
			f.after(i, f.atOf(g.Lack), u)-f.last().sure[i]) / math.Max(d.needed-f.last().sure[i], .01)
	}
	missing := max(g.Lack.Sessions*max(1, g.Lack.Places), (g.Lack.Asks+u.asks-1)/u.asks, g.Lack.Days, 1)
	return 1 / float64(missing)
}

// quietPlace is the place on the kennel's ground where the cue goes best.
func (f *follow) quietPlace() string {
	best, score := "", -1.0
	for i, p := range f.h.sc.places {
		t := f.h.sum(func(q *cueSitting) bool { return q.place == i })
		if p.off || !t.scored() {
			continue
		}
		s := float64(t.Answered+1) / float64(t.Asks+2)
		if f.h.kind == training.Motion {
			s = 1 / (1 + t.rate())
		}
		if s > score || s == score && p.name < best {
			best, score = p.name, s
		}
	}
	return best
}

// planStep follows the last five scored asks; a tally has no last five, and a walk has no
// asks.
func (f *follow) planStep(a *Assessment, c *CueAssessment) (PlanStepCode, Tally) {
	var t Tally
	sits := f.h.sits
	for i := len(sits) - 1; i >= 0 && t.Asks < lastFive; i-- {
		for j := len(sits[i].trials) - 1; j >= 0 && t.Asks < lastFive; j-- {
			r := *sits[i].trials[j].t
			if r.Outcome == training.Counted {
				return Same, Tally{}
			}
			t.add(f.h.tally(r))
		}
	}
	if t.Asks < lastFive {
		return Same, Tally{Answered: t.Answered, Asks: t.Asks}
	}
	t.Minutes, t.Breaks = 0, 0
	step := StepFor(t.Answered)
	if step == Harder && a.notHarder(c) {
		step = Same
	}
	return step, t
}

// notHarder: rising corrections, a sign of a health problem in any cue (pain is the
// dog's and not the cue's), or something credibly failed.
func (a *Assessment) notHarder(c *CueAssessment) bool {
	for _, o := range a.Cues {
		if o.Latency != nil && o.Latency.Doubled || o.Slipping.On {
			return true
		}
	}
	return slices.ContainsFunc(c.Gates, func(g Gate) bool { return g.Standing == Failed })
}

// easyEnd is the cue to end with: the one that goes best.
func (a *Assessment) easyEnd() (PlanLine, bool) {
	best := -1
	for i := range a.Cues {
		c := &a.Cues[i]
		if c.Verdict == OnHold || c.Slipping.On || c.Latency != nil && c.Latency.Doubled ||
			c.Kind != training.Response || c.Answered == 0 {
			continue // what was never answered is not easy
		}
		if best < 0 || c.Now.Low80.V > a.Cues[best].Now.Low80.V {
			best = i
		}
	}
	if best >= 0 {
		c := &a.Cues[best]
		return PlanLine{Cue: c.Cue, Kind: c.Kind, Reason: PlanEasy, Asks: 2, Minutes: 2 * askMinutes,
			Step: Same, Tally: c.Tally}, true
	}
	for i := range a.Cues { // nothing but walks
		if c := &a.Cues[i]; c.Kind == training.Motion && c.Verdict != OnHold && c.Minutes > 0 {
			return PlanLine{Cue: c.Cue, Kind: c.Kind, Reason: PlanEasy, Minutes: 2, Step: Same,
				Tally: c.Tally}, true
		}
	}
	return PlanLine{}, false
}

// easyAgain is the first lesson after an incident is cleared: the easiest cue in the
// quietest place, on a lead.
func (a *Assessment) easyAgain(follows []*follow) []PlanLine {
	easy, ok := a.easyEnd()
	if !ok {
		return nil
	}
	for i, f := range follows {
		if a.Cues[i].Cue == easy.Cue {
			l := f.line(PlanNew, lastFive)
			l.Place, l.Leash, l.Step, l.Tally = f.quietPlace(), "leash", Easier, a.Cues[i].Tally
			return []PlanLine{l}
		}
	}
	return nil
}
