package analysis

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"firstcue/internal/training"
)

// Assess judges the dog of the record as of the end of a day. It is a function
// of its arguments alone; nothing after the day counts, and the record is not
// changed. criteria is asked once for each cue.
func Assess(r training.Record, criteria CriteriaFunc, day training.Day) Assessment {
	sc, a, main := begin(r, day)
	hist := sc.histories(criteria)
	sortCues(hist, r.Kennel)
	for _, h := range hist {
		a.Cues = append(a.Cues, h.assess(&a, main))
	}
	a.LeftOut = sc.leftOut(hist)
	sc.neverTried(&a)
	a.judge()
	a.Forecast = dogForecast(a, sc)
	a.Cautions = cautions(a, sc)
	return a
}

// Verdicts is what Assess says of the dog and of each cue in one word, without
// reasons, figures or a forecast: the verdicts, the level of each cue
// (FirstCue.Current), how many are ready, and how much was logged by then. All else
// is left at its zero value. It takes a third of the time, and is what the evening
// before is compared by.
func Verdicts(r training.Record, criteria CriteriaFunc, day training.Day) Assessment {
	sc, a, main := begin(r, day)
	hist := sc.histories(criteria)
	sortCues(hist, r.Kennel)
	for _, h := range hist {
		sits := span(h.sits, sc.baseline(day, h.cue), day)
		c := CueAssessment{Cue: h.cue, Kind: h.kind, Agreed: sc.agreed(h.cue), Criteria: h.c}
		_, b := h.judge(&c, &a, sits, main, false)
		if h.kind != training.Motion {
			c.FirstCue = &FirstCue{Current: b.level.current()}
		}
		a.Cues = append(a.Cues, c)
	}
	sc.neverTried(&a)
	a.judge()
	a.Why, a.OwnerWhy = nil, ""
	return a
}

// begin fills in what an assessment knows of the dog itself, and finds its main
// trainer among the handlers of the scene; -1 = none.
func begin(r training.Record, day training.Day) (sc *scene, a Assessment, main int) {
	sc = newScene(r, day)
	a = Assessment{Dog: r.Dog, AsOf: day, Baseline: sc.baseline(day, "")}
	if b, ok := r.Dog.Boarding(day); ok {
		a.Boarding, a.Stay = b, true
		a.DayOfStay = int(day-b.Arrived) + 1
		if b.Due != 0 {
			a.DaysToDue = training.Known(float64(b.Due - day))
		}
	}
	for _, h := range r.Dog.Holds {
		if h.From <= day && (h.To == 0 || h.To >= day) {
			a.Holds = append(a.Holds, h)
		}
	}
	for _, i := range r.Incidents {
		if i.Day <= day && (i.Closed == 0 || i.Closed > day) && (i.Dog == "" || training.Key(i.Dog) == training.Key(r.Dog.Name)) {
			a.Incidents = append(a.Incidents, i)
		}
	}
	slices.SortStableFunc(a.Incidents, func(x, y training.Incident) int {
		return cmp.Or(cmp.Compare(x.Day, y.Day), strings.Compare(x.Text, y.Text), strings.Compare(x.ID, y.ID))
	})
	for _, s := range r.Sessions {
		if s.Day() <= day && slices.Contains(r.Unsettled, s.ID) {
			a.Unsettled = append(a.Unsettled, s)
		}
	}
	slices.SortStableFunc(a.Unsettled, func(x, y training.Session) int {
		return cmp.Or(x.Start.Compare(y.Start), strings.Compare(x.ID, y.ID))
	})
	main, note := sc.mainTrainer(a.Baseline, day)
	if r.Dog.Main != "" {
		a.Main = r.Dog.Main
		if h, ok := r.Kennel.Handler(a.Main); ok {
			a.Main = h.Name
		}
		a.MainNote = note
	} else if main >= 0 {
		a.Main, a.MainNote = sc.handlers[main].name, note
	}
	sc.census(&a)
	return sc, a, main
}

// census counts the sessions, trials, people and places that count.
func (sc *scene) census(a *Assessment) {
	hn, pn := make([]int, len(sc.handlers)), make([]int, len(sc.places))
	for _, sit := range sc.sittings {
		if sit.day < a.Baseline {
			continue
		}
		a.Sessions++
		if a.First == 0 {
			a.First = sit.day
		}
		a.Last = sit.day
		hn[sit.handler]++
		pn[sit.place]++
		for _, s := range sit.sessions {
			for _, t := range s.Trials {
				if !sc.heldOn(sit.day, sc.cueName(t.Cue)) {
					a.Trials += t.Count()
				}
			}
		}
	}
	for _, i := range order(hn, func(i int) string { return sc.handlers[i].name }) {
		a.Handlers = append(a.Handlers, sc.handlers[i].name)
	}
	for _, i := range order(pn, func(i int) string { return sc.places[i].name }) {
		a.Places = append(a.Places, sc.places[i].name)
	}
}

// leftOut counts the trials up to the day that stand in no figure: in a hold, or
// before a new baseline.
func (sc *scene) leftOut(hist []*history) int {
	n := 0
	for i := range sc.rec.Sessions {
		s := &sc.rec.Sessions[i]
		if s.Voided != "" || s.Rescores != "" || s.Baseline || s.Day() > sc.day || !sc.mine(s) {
			continue
		}
		for _, t := range s.Trials {
			n += t.Count()
		}
	}
	for _, h := range hist {
		for _, q := range span(h.sits, sc.baseline(sc.day, h.cue), sc.day) {
			for _, e := range q.trials {
				n -= e.t.Count()
			}
		}
	}
	return n
}

// sortCues puts the cues in the order of the kennel's list, others by name.
func sortCues(hist []*history, k training.Kennel) {
	rank := func(h *history) int {
		for i, c := range k.Cues {
			if training.Key(c.Name) == training.Key(h.cue) {
				return i
			}
		}
		return len(k.Cues)
	}
	slices.SortStableFunc(hist, func(a, b *history) int {
		return cmp.Or(cmp.Compare(rank(a), rank(b)), strings.Compare(training.Key(a.cue), training.Key(b.cue)))
	})
}

// neverTried lists the cues agreed with the owner, or without goals those of
// the kennel's list, that were never asked, or before any teaching only.
func (sc *scene) neverTried(a *Assessment) {
	defer func() {
		for _, name := range a.NeverTried {
			if sc.askedBefore(name) {
				a.BeforeOnly = append(a.BeforeOnly, name)
			}
		}
	}()
	tried := func(name string) bool {
		return slices.ContainsFunc(a.Cues, func(c CueAssessment) bool { return training.Key(c.Cue) == training.Key(name) })
	}
	add := func(name string) {
		if !tried(name) && !slices.ContainsFunc(a.NeverTried, func(n string) bool { return training.Key(n) == training.Key(name) }) {
			a.NeverTried = append(a.NeverTried, name)
		}
	}
	if len(sc.rec.Dog.Goals) > 0 {
		for _, g := range sc.rec.Dog.Goals {
			if g.Cue != "" {
				add(sc.cueName(g.Cue))
			}
		}
		return
	}
	for _, c := range sc.rec.Kennel.Cues {
		add(c.Name)
	}
}

// askedBefore reports whether the cue was asked in a session before any teaching.
func (sc *scene) askedBefore(name string) bool {
	for i := range sc.rec.Sessions {
		s := &sc.rec.Sessions[i]
		if !s.Baseline || s.Voided != "" || s.Rescores != "" || s.Day() > sc.day || !sc.mine(s) || sc.heldOn(s.Day(), name) {
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

// assess judges one cue.
func (h *history) assess(a *Assessment, main int) CueAssessment {
	sc, day := h.sc, a.AsOf
	first := sc.baseline(day, h.cue)
	sits := span(h.sits, first, day)
	c := CueAssessment{Cue: h.cue, Kind: h.kind, Agreed: sc.agreed(h.cue), Criteria: h.c, HeldOut: h.out}
	for _, q := range h.sits[:len(h.sits)-len(sits)] {
		for _, e := range q.trials {
			c.HeldOut += e.t.Count()
		}
	}
	h.counts(&c, sits)
	if stale := int(day - c.LastDay); c.LastDay != 0 && stale >= h.c.StaleDays {
		c.Stale = stale
	}
	c.Before = h.before(a)
	nights, b := h.judge(&c, a, sits, main, true)
	h.figures(&c, sits, b.level)
	c.Contexts = h.contexts(sits, b.flags)
	sayWorse(&c)
	c.Owner = h.ownerOf(sits)
	if b.held && !c.Owner.Confirmed {
		c.Owner.Say = "Owner lessons wait for the vet."
	}
	c.Alarm = h.alarmOf(sits, nights)
	c.Cold = h.coldOf(sits)
	c.Corrections = h.correctionsOf(sits)
	h.changes(&c, b)
	c.Reason = reasonOf(c)
	c.Forecast = h.forecast(a, sits, nights, c)
	c.Days3 = h.course(a, nights, c)
	return c
}

// judge puts the cue to the gates; say is whether they are to give reasons.
func (h *history) judge(c *CueAssessment, a *Assessment, sits []cueSitting, main int, say bool) ([]night, *bench) {
	nights := h.replay(sits)
	b := &bench{h: h, sits: sits, day: a.AsOf, main: main, open: len(a.Incidents), held: h.sc.heldOn(a.AsOf, h.cue), say: say}
	if len(nights) > 0 {
		b.level = &nights[len(nights)-1]
		c.ReadyNights, c.Lost = b.level.streak, b.level.lost
	}
	c.Gates = append(b.gates(), h.goalGate(sits, b)...)
	c.Verdict = verdictOf(c.Gates, b.held)
	return nights, b
}

// agreed reports whether the cue, under any of its names, is agreed with the
// owner.
func (sc *scene) agreed(cue string) bool {
	if len(sc.rec.Dog.Goals) == 0 {
		return true
	}
	for _, g := range sc.rec.Dog.Goals {
		if training.Key(sc.cueName(g.Cue)) == training.Key(cue) {
			return true
		}
	}
	return false
}

// counts fills in how much there is of the cue.
func (h *history) counts(c *CueAssessment, sits []cueSitting) {
	wrong := map[string]int{}
	var names []string
	for _, q := range sits {
		c.Sessions++
		if q.day != c.LastDay {
			c.Days++
			c.LastDay = q.day
		}
		if c.First == 0 {
			c.First = q.day
		}
		c.Trials += q.of
		for _, e := range q.trials {
			c.LastID = e.s.ID
			t := e.t
			switch t.Outcome {
			default:
				c.Unscored += one(h.foreign(*t))
			case training.Unscored:
				c.Unscored++
			case training.Early:
				c.Early++
			case training.Already:
				c.AlreadyThere++
			case training.Released:
				c.ReleasedEarly++
			case training.Walked:
				c.Trials++
			}
			if t.Did != "" {
				if wrong[t.Did] == 0 {
					names = append(names, t.Did)
				}
				wrong[t.Did]++
			}
		}
	}
	slices.SortFunc(names, func(a, b string) int { return cmp.Or(cmp.Compare(wrong[b], wrong[a]), strings.Compare(a, b)) })
	for _, n := range names {
		c.WrongAnswers = append(c.WrongAnswers, WrongAnswer{n, wrong[n]})
	}
}

// current is the level of a night; nil has none.
func (n *night) current() Current {
	if n == nil {
		return Current{}
	}
	iv := n.fade.interval(0.95)
	return Current{Rate: training.Known(n.fade.rate()), Low: training.Known(iv.Lower), High: training.Known(iv.Upper),
		Cautious: training.Known(n.cautious), Effective: training.Known(n.fade.effective())}
}

// figures fills in the shares, times and breaks.
func (h *history) figures(c *CueAssessment, sits []cueSitting, level *night) {
	if h.kind == training.Motion {
		c.Breaks = breaksOf(sits)
		return
	}
	f := &FirstCue{Share: h.share(sits), Rule: h.ruleWords(h.rule)}
	f.Current = level.current()
	c.FirstCue = f
	if h.kind == training.Response {
		f.Other = h.others(sits)
		x := h.latencies(sits)
		d := h.doublingOf(sits)
		c.Latency = &Latency{Survival: x.summary(), Limit: h.c.Limit, Baseline: d.baseline, Last: d.last, Doubled: d.doubled, DoubledOn: d.on}
		if x, ok := h.completions(sits); ok {
			s := x.summary()
			c.Completion = &s
		}
		return
	}
	x := holds(sits)
	c.Hold = &Hold{Survival: x.summary(), Target: h.c.Target, LowBar: training.Known(h.c.HoldFloor)}
	for _, t := range x.t {
		c.Hold.Longest = training.Known(max(c.Hold.Longest.V, t))
	}
	if h.c.hasTarget() {
		c.Hold.Chance, c.Hold.ChanceLow, c.Hold.ChanceHigh, _ = holdChance(recent(sits, timedHolds), h.c.Target.V, h.c.ICC)
	}
	// Breaks a minute of holding, for whoever thinks in them.
	b := &Breaks{}
	for i := range x.t {
		b.Minutes += x.t[i] / 60
		b.Count += one(x.event[i])
	}
	b.rate()
	if b.Minutes > 0 {
		c.Breaks = b
	}
}

// fieldLimit is the cut-off of a field study for "obeys after the first
// command": 10 s (China, Mills & Cooper 2020).
const fieldLimit = 10

// others counts the same trials under other rules where that can differ.
func (h *history) others(sits []cueSitting) []RuleShare {
	rules := []Rule{{Limit: training.Known(fieldLimit)}, {Limit: h.c.Limit, Begun: true}}
	var out []RuleShare
	for _, rule := range rules {
		x, n := make([]float64, len(sits)), make([]float64, len(sits))
		differs := false
		for i, q := range sits {
			for _, e := range q.trials {
				if h.foreign(*e.t) {
					continue
				}
				yes, of := FirstCueUnder(*e.t, rule)
				x[i] += float64(yes)
				n[i] += float64(of)
			}
			differs = differs || x[i] != float64(q.yes)
		}
		if differs {
			out = append(out, RuleShare{h.ruleWords(rule), newShare(x, n, h.c.ICC)})
		}
	}
	return out
}

// ownerOf judges the owner's own trials: the last eight lessons.
func (h *history) ownerOf(sits []cueSitting) Owner {
	c := h.c
	own := func(q *cueSitting) bool { return h.sc.handlers[q.handler].role == training.Owner }
	o := Owner{Standing: Short}
	for i := len(sits) - 1; i >= 0 && o.Last == 0; i-- {
		if sits[i].scored() && own(&sits[i]) {
			o.Last = sits[i].day
		}
	}
	unnamed := ""
	if len(h.sc.rec.Dog.Owners) == 0 {
		unnamed = " " + noOwner
	}
	tooShort := shortHolds(sits, own)
	sits = h.atTarget(sits)
	if h.kind == training.Motion {
		breaks, minutes, n := walked(sits, ownerWindow, own)
		o.Sessions = n
		if minutes == 0 {
			o.Say = "The owner has not walked it yet."
			return o
		}
		b := Breaks{Count: breaks, Minutes: minutes}
		b.rate()
		o.Breaks = &b
		if bar := c.Breaks; bar.Known {
			late := walkedLately(sits, own)
			switch {
			case n >= c.OwnerLessons && atLeast(minutes, c.PlaceMinutes) && atMost(b.PerMinute.V, bar.V) && atMost(b.High.V, 2*bar.V) && !late.above(bar.V):
				o.Standing, o.Confirmed = Met, true
			case !atMost(b.Low.V, bar.V) && atLeast(minutes, c.PlaceMinutes):
				o.Standing = Failed
			}
			o.Say = fmt.Sprintf("Owner: %s in %s min over %s, %s a minute [%s-%s]; %s minutes in %s, at most %s a minute, are asked for.", count(breaks, "break"), mins(minutes),
				count(n, "lesson"), figure(b.PerMinute.V, 2, bar.V), figure(b.Low.V, 2), figure(b.High.V, 2, 2*bar.V), plain(c.PlaceMinutes), count(c.OwnerLessons, "lesson"), plain(bar.V))
			if late.above(bar.V) && o.Standing == Short {
				o.Say += fmt.Sprintf(" The last %s: %s in %s min, more than that.", count(min(n, latelyWindow), "lesson"), count(late.breaks, "break"), mins(late.minutes))
			}
			o.Say += unnamed
		}
		return o
	}
	var mine []cueSitting
	for i := len(sits) - 1; i >= 0 && len(mine) < ownerWindow; i-- {
		if sits[i].of > 0 && own(&sits[i]) {
			mine = append(mine, sits[i])
		}
	}
	slices.Reverse(mine)
	o.Share = h.share(mine)
	w, cautious := lastWindow(sits, ownerWindow, h.c.ICC, own)
	if w.of == 0 {
		o.Say = fmt.Sprintf("The owner has not asked yet: plan three lessons of %d asks or more.", (c.OwnerTrials+c.OwnerLessons-1)/c.OwnerLessons)
		if tooShort > 0 {
			o.Say = fmt.Sprintf("The owner has not asked for %s yet.%s", clock(c.Target.V), h.shortWords(tooShort))
		}
		return o
	}
	o.Cautious = training.Known(cautious)
	o.Standing = shareStanding(w, cautious, c.OwnerRate, c.OwnerFloor, c.ContextBar, c.ContextTrials, w.bestOf >= c.OwnerTrials && w.sittings >= c.OwnerLessons)
	o.Confirmed = o.Standing == Met
	o.Say = fmt.Sprintf("Owner: %d/%d (%s) in %s, cautious figure %s; asked for: %s in %s, %s on the first ask, and a cautious figure of %s.", w.yes, w.of, percent(w.rate(), c.OwnerRate),
		count(w.sittings, "lesson"), percent(cautious, c.OwnerFloor), count(c.OwnerTrials, "ask"), count(c.OwnerLessons, "lesson"), barOf(c.OwnerRate), barOf(c.OwnerFloor)) + h.shortWords(tooShort) + unnamed
	return o
}

// noOwner is said where somebody with the role of an owner stands in for the
// owner of a dog that has none entered.
const noOwner = "No owner is entered for this dog."

// shortWords says how many kept holds were left out; "" = none.
func (h *history) shortWords(n int) string {
	if n == 0 {
		return ""
	}
	return fmt.Sprintf(" %s kept for less than %s left out.", count(n, "hold"), clock(h.c.Target.V))
}

// sayWorse ends the sentence of the context gate: "below standard here" is one
// claim, "worse here than elsewhere" another.
func sayWorse(c *CueAssessment) {
	for i := range c.Gates {
		g := &c.Gates[i]
		if g.Name != GateContext || g.Standing != Failed {
			continue
		}
		var worse []string
		for _, x := range c.Contexts {
			if !x.Below || !x.Worse || !x.WorseP.Known {
				continue
			}
			p := "p " + strconv.FormatFloat(x.WorseP.V, 'g', 1, 64)
			if x.WorseP.V < 0.0001 {
				p = "p under 0.0001"
			}
			switch x.Kind {
			case ByHandler:
				worse = append(worse, fmt.Sprintf("%s: also worse than with the others (%s).", x.Handler, p))
			case ByPlace:
				worse = append(worse, fmt.Sprintf("%s: also worse than elsewhere (%s).", capital(x.Place), p))
			case ByCell:
				worse = append(worse, fmt.Sprintf("%s at %s: also worse than the rest (%s).", x.Handler, x.Place, p))
			}
		}
		if len(worse) == 0 {
			worse = []string{"That is not to say worse than elsewhere."}
		}
		g.Say += " " + strings.Join(worse, " ")
	}
}

// reasonOf says in one sentence what stands in the way, failures first.
func reasonOf(c CueAssessment) string {
	if c.Verdict == OnHold {
		return "On hold for the vet: not asked, not judged. After the hold a new baseline is needed."
	}
	for _, want := range []Standing{Failed, Short} {
		for _, g := range c.Gates {
			if g.Standing == want {
				return g.Say
			}
		}
	}
	stale := ""
	if c.Stale > 0 {
		stale = fmt.Sprintf("Ready on %s, not asked for %s: ", dayWords(c.LastDay), count(c.Stale, "day"))
	}
	if c.FirstCue != nil {
		return stale + fmt.Sprintf("%d/%d on the first ask, with the people and in the places listed.", c.FirstCue.Yes, c.FirstCue.Of)
	}
	if c.Breaks != nil {
		return stale + fmt.Sprintf("%s in %s min, with the people and in the places listed.", count(c.Breaks.Count, "break"), mins(c.Breaks.Minutes))
	}
	return ""
}

// course draws the cue day by day over the whole stay, the days before a new
// baseline too, each with the verdict of that night.
func (h *history) course(a *Assessment, nights []night, final CueAssessment) []DayPoint {
	sc := h.sc
	var out []DayPoint
	knownH, knownP := make([]bool, len(sc.handlers)), make([]bool, len(sc.places))
	// Nights of the baseline at hand; those of the last one are known already.
	segment, base := nights, sc.baseline(a.AsOf, h.cue)
	for i := 0; i < len(h.sits); {
		j := i
		day := h.sits[i].day
		for j < len(h.sits) && h.sits[j].day == day {
			j++
		}
		p := DayPoint{Day: day}
		today := h.sits[i:j]
		var yes, of []float64
		for _, q := range today {
			p.Yes += q.yes
			p.Of += q.of
			p.Corrected += q.corrected
			p.Corrections += q.corrections
			p.CorrectedOf += q.known
			p.Breaks += q.breaks
			p.Minutes += q.minutes
			for _, e := range q.trials {
				p.Trials += e.t.Count()
			}
			yes, of = append(yes, float64(q.yes)), append(of, float64(q.of))
			hn, pn := sc.handlers[q.handler].name, sc.places[q.place].name
			if !slices.Contains(p.Handlers, hn) {
				p.Handlers = append(p.Handlers, hn)
			}
			if !slices.Contains(p.Places, pn) {
				p.Places = append(p.Places, pn)
			}
			if !knownH[q.handler] {
				knownH[q.handler] = true
				if i > 0 && p.NewHandler == "" {
					p.NewHandler = hn
				}
			}
			if !knownP[q.place] {
				knownP[q.place] = true
				if i > 0 && p.NewPlace == "" {
					p.NewPlace = pn
				}
			}
		}
		s := newShare(yes, of, h.c.ICC)
		p.Low, p.High = s.Low, s.High
		switch h.kind {
		case training.Response:
			p.Latency = h.latencies(today).median()
		case training.Holding:
			x := holds(today)
			p.HoldMedian = x.median()
			for _, t := range x.t {
				p.LongestHold = training.Known(max(p.LongestHold.V, t))
			}
		}
		first := sc.baseline(day, h.cue)
		if first != base {
			base = first
			last := day
			for k := j; k < len(h.sits) && sc.baseline(h.sits[k].day, h.cue) == base; k++ {
				last = h.sits[k].day
			}
			segment = h.replay(span(h.sits, first, last))
		}
		sits := span(h.sits, first, day)
		b := &bench{h: h, sits: sits, day: day, held: sc.heldOn(day, h.cue)}
		for k := range segment {
			if segment[k].day <= day {
				b.level = &segment[k]
			}
		}
		if b.level != nil && b.level.fade.any {
			p.Current = training.Known(b.level.fade.rate())
		}
		if day == a.AsOf {
			p.Verdict = final.Verdict
		} else {
			b.main, _ = sc.mainTrainer(sc.baseline(day, ""), day)
			b.open = openOn(sc.rec, day)
			p.Verdict = b.verdict()
		}
		out = append(out, p)
		i = j
	}
	return out
}

func openOn(r training.Record, day training.Day) int {
	n := 0
	for _, i := range r.Incidents {
		n += one(i.Day <= day && (i.Closed == 0 || i.Closed > day) && (i.Dog == "" || training.Key(i.Dog) == training.Key(r.Dog.Name)))
	}
	return n
}

// judge gives the dog's verdict: its worst among the agreed cues. An agreed cue
// that was never asked is not shown, and so the dog is not ready. Without goals
// the cues that were asked are judged, and that is said.
func (a *Assessment) judge() {
	by := map[Verdict][]string{}
	confirmed := 0
	var names, unconfirmed []string
	for _, c := range a.Cues {
		if !c.Agreed {
			continue
		}
		names = append(names, c.Cue)
		if c.Verdict == Ready {
			a.ReadyCues++
		}
		by[c.Verdict] = append(by[c.Verdict], c.Cue)
		if c.Owner.Confirmed {
			confirmed++
		} else {
			unconfirmed = append(unconfirmed, c.Cue)
		}
	}
	untried := a.NeverTried
	word := "agreed cue"
	if len(a.Dog.Goals) == 0 {
		untried, word = nil, "cue"
	}
	a.AgreedCues = len(names) + len(untried)
	unconfirmed = append(unconfirmed, untried...)
	whole := slices.ContainsFunc(a.Holds, func(h training.VetHold) bool { return h.Covers(a.AsOf, "") })
	switch {
	case whole:
		a.Verdict = OnHold
		a.Why = append(a.Why, "The dog is on hold for the vet: not trained, not judged. After the hold a new baseline is needed.")
	case len(by[NotReady]) > 0:
		a.Verdict = NotReady
	case len(by[OnHold]) > 0:
		a.Verdict = OnHold
	case len(by[NotShown]) > 0 || len(untried) > 0 || a.AgreedCues == 0:
		a.Verdict = NotShown
	default:
		a.Verdict = Ready
	}
	switch {
	case whole:
	case a.AgreedCues == 0:
		a.Why = append(a.Why, "Nothing has been logged that can be judged.")
	case a.Verdict == Ready && a.AgreedCues == 1:
		a.Why = append(a.Why, fmt.Sprintf("The one %s, %s, is ready with the people and in the places listed.", word, names[0]))
	case a.Verdict == Ready:
		a.Why = append(a.Why, fmt.Sprintf("All %s are ready with the people and in the places listed.", count(a.AgreedCues, word)))
	default:
		var classes []string
		class := func(what string, list_ []string) {
			if len(list_) > 0 {
				classes = append(classes, what+": "+list(list_))
			}
		}
		class("not ready", by[NotReady])
		class("on hold for the vet", by[OnHold])
		class("not shown yet", by[NotShown])
		never := slices.DeleteFunc(slices.Clone(untried), func(n string) bool { return slices.Contains(a.BeforeOnly, n) })
		class("never asked", never)
		class("asked before teaching only", slices.DeleteFunc(slices.Clone(untried), func(n string) bool { return slices.Contains(never, n) }))
		if a.AgreedCues == 1 {
			what, cue, _ := strings.Cut(classes[0], ": ")
			a.Why = append(a.Why, fmt.Sprintf("The one %s, %s, is %s.", word, cue, strings.NewReplacer("never asked", "not shown: it was never asked", "asked before", "not shown: it was asked before").Replace(what)))
		} else {
			a.Why = append(a.Why, fmt.Sprintf("%d of %s ready; %s.", a.ReadyCues, count(a.AgreedCues, word), strings.Join(classes, "; ")))
		}
	}
	for _, c := range a.Cues {
		if c.Agreed && c.Verdict == a.Verdict && a.Verdict != Ready && !whole {
			a.Why = append(a.Why, capital(c.Cue)+": "+c.Reason)
			break
		}
	}
	a.sayStale()
	if len(a.Dog.Goals) == 0 && len(names) > 0 && !whole {
		a.Why = append(a.Why, fmt.Sprintf("No goal is agreed with the owner; judged on the cues that were asked: %s.", list(names)))
	}
	a.OwnerConfirmed = a.AgreedCues > 0 && confirmed == a.AgreedCues && !whole
	switch {
	case whole:
		a.OwnerWhy = "Owner lessons wait for the vet."
	case a.OwnerConfirmed && a.AgreedCues == 1:
		a.OwnerWhy = fmt.Sprintf("The owner's own trials confirm the one %s.", word)
	case a.OwnerConfirmed:
		a.OwnerWhy = fmt.Sprintf("The owner's own trials confirm all %s.", count(a.AgreedCues, word))
	case a.AgreedCues == 0:
		a.OwnerWhy = "The owner has not asked yet."
	case a.AgreedCues == 1:
		a.OwnerWhy = fmt.Sprintf("Missing: %s, the one %s. Plan three lessons of six asks.", unconfirmed[0], word)
	default:
		a.OwnerWhy = fmt.Sprintf("Confirmed with the owner: %d of %s. Missing: %s. Plan three lessons of six asks a cue.", confirmed, count(a.AgreedCues, word), list(unconfirmed))
	}
	var last training.Day
	limit := 0
	for _, c := range a.Cues {
		if c.Agreed {
			last = max(last, c.Owner.Last)
			limit = max(limit, c.Criteria.StaleDays)
		}
	}
	if n := int(a.AsOf - last); a.OwnerConfirmed && n >= limit {
		a.OwnerStale = n
		a.OwnerWhy += fmt.Sprintf(" That was on %s, the owner's last lesson, %s ago.", dayWords(last), count(n, "day"))
	}
	if last != 0 && len(a.Dog.Owners) == 0 {
		a.OwnerWhy += " " + noOwner
	}
}

// sayStale says when a dog was ready and what was not asked since: the verdict
// stays, but it is no news of today.
func (a *Assessment) sayStale() {
	if a.Verdict != Ready {
		return
	}
	var stale []string
	var last training.Day
	least, all := 0, true
	for _, c := range a.Cues {
		if !c.Agreed {
			continue
		}
		last = max(last, c.LastDay)
		if c.Stale == 0 {
			all = false
			continue
		}
		stale = append(stale, fmt.Sprintf("%s (%s)", c.Cue, count(c.Stale, "day")))
		if least == 0 || c.Stale < least {
			least = c.Stale
		}
	}
	switch {
	case len(stale) == 0:
	case all:
		a.Stale = least
		a.Why = append(a.Why, fmt.Sprintf("READY on %s, the last session. Not asked for %s.", dayWords(last), count(least, "day")))
	default:
		a.Why = append(a.Why, "Not asked lately: "+list(stale)+".")
	}
}
