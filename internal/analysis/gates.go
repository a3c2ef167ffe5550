package analysis

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"firstcue/internal/stats"
	"firstcue/internal/training"
)

// Windows of the gates, in sittings (see docs/methods.md for what other choices
// would do).
const (
	othersWindow  = 12
	contextWindow = 8
	ownerWindow   = 8
)

// timedForSpeed is how many timed answers the speed gate needs before it trusts
// a median instead of the scorer's own yes and no inside the limit.
const timedForSpeed = 8

// bench judges one cue as of one night.
type bench struct {
	h     *history
	sits  []cueSitting // of the current baseline, up to the day
	level *night       // nil = no scored trial yet
	day   training.Day
	main  int
	open  int  // open incidents
	held  bool // a vet hold covers the cue today
	say   bool // write the sentences; false to judge a past night fast

	flags []flag
	// What the gates lack, gathered by changes; for is the gate at hand.
	needs []wait
	gate  GateName
}

// lacks notes down what the gate at hand needs, for the forecast.
func (b *bench) lacks(n need, where string) need {
	if b.gate != "" {
		b.needs = append(b.needs, wait{b.h.cue, b.gate, n, where})
	}
	return n
}

// flag is a handler, place or cell that fails the context rule.
type flag struct {
	kind           ContextKind
	handler, place int
	w              window
	breaks         int
	minutes        float64
}

func (b *bench) sayf(format string, a ...any) string {
	if !b.say {
		return ""
	}
	return fmt.Sprintf(format, a...)
}

// gates checks all the conditions of the cue's kind.
func (b *bench) gates() []Gate {
	b.flags = b.contextFlags()
	g := make([]Gate, 0, 9)
	g = append(g, b.enough())
	if b.h.kind == training.Motion {
		g = append(g, b.position(), b.people(), b.places(), b.context())
	} else {
		g = append(g, b.levelGate(), b.people(), b.places(), b.context())
		if b.h.kind == training.Holding {
			g = append(g, b.hold())
		} else if b.h.c.Limit.Known {
			g = append(g, b.speed())
		}
	}
	return append(g, b.corrections(), b.closed())
}

// verdict is verdictOf the gates and goals, with no more work than it takes: one
// gate that is credibly failed decides.
func (b *bench) verdict() Verdict {
	switch {
	case b.held:
		return OnHold
	case b.open > 0:
		return NotReady
	}
	checks := []func() Gate{b.levelGate, b.enough, b.corrections, b.people, b.places, b.context, b.speed}
	switch {
	case b.h.kind == training.Motion:
		checks[0] = b.position
		checks = checks[:6]
	case b.h.kind == training.Holding:
		checks[6] = b.hold
	case !b.h.c.Limit.Known:
		checks = checks[:6]
	}
	v := Ready
	for i, check := range checks {
		if i == 3 {
			b.flags = b.contextFlags()
		}
		switch check().Standing {
		case Failed:
			return NotReady
		case Short:
			v = NotShown
		}
	}
	for _, g := range b.h.goalGate(b.sits, b) {
		switch g.Standing {
		case Failed:
			return NotReady
		case Short:
			v = NotShown
		}
	}
	return v
}

// verdictOf is the three-valued verdict of the gates; a hold overrides it.
func verdictOf(gates []Gate, held bool) Verdict {
	if held {
		return OnHold
	}
	v := Ready
	for _, g := range gates {
		switch g.Standing {
		case Failed:
			return NotReady
		case Short:
			v = NotShown
		}
	}
	return v
}

func (b *bench) enough() Gate {
	c := b.h.c
	var s levelState
	for _, q := range b.sits {
		if q.scored() {
			s.sittings++
			s.trials += q.of
			s.minutes += q.minutes
			if q.day != s.lastDay {
				s.lastDay = q.day
				s.days++
			}
		}
	}
	g := Gate{Name: GateEnough, Standing: Short}
	if s.enough(&c, b.h.kind) {
		g.Standing = Met
	}
	if b.h.kind == training.Motion {
		g.Figure, g.Bar = training.Known(s.minutes), training.Known(c.Minutes)
		if !b.say {
			return g
		}
		g.Say = b.sayf("%s minutes walked in %s on %s; %s minutes, %s and %s are asked for.",
			mins(s.minutes, c.Minutes), count(s.sittings, "session"), count(s.days, "day"), plain(c.Minutes), count(c.Sessions, "session"), count(c.Days, "day"))
		return g
	}
	g.Figure, g.Bar = training.Known(float64(s.trials)), training.Known(float64(c.Trials))
	if !b.say {
		return g
	}
	g.Say = b.sayf("%s in %s on %s; %s, %s and %s are asked for.",
		count(s.trials, "scored trial"), count(s.sittings, "session"), count(s.days, "day"), count(c.Trials, "trial"), count(c.Sessions, "session"), count(c.Days, "day"))
	return g
}

func (b *bench) levelGate() Gate {
	c := b.h.c
	g := Gate{Name: GateLevel, Standing: Short, Bar: training.Known(c.Rate)}
	n := b.level
	if n == nil {
		g.Say = b.sayf("No scored trial yet.")
		return g
	}
	rate := n.fade.rate()
	g.Figure = training.Known(rate)
	// With few asks: even if the next ones, up to as many as a handler or place
	// is judged on, were all right.
	best := n.fade
	if more := c.ContextTrials - b.scoredAsks(); more > 0 {
		best.add(more, more, b.h.decay, b.h.c.ICC, false)
	}
	upper := best.interval(0.95).Upper
	lately := ""
	if b.say {
		lately = fmt.Sprintf("%s on the first ask lately, newest sessions counting most; cautious figure %s", percent(rate, c.Rate, c.Leave), percent(n.cautious, c.Floor))
	}
	switch {
	case n.open:
		g.Standing = Met
		g.Say = b.sayf("%s. It was %s and %s for %s running and stays until it falls below %s.", lately, barOf(c.Rate), barOf(c.Floor), count(c.Nights, "night"), barOf(c.Leave))
	case !atLeast(upper, c.Rate):
		g.Standing = Failed
		g.Say = b.sayf("%s. Even allowing for luck it is below the %s asked for (at best %s).", lately, barOf(c.Rate), percent(upper, c.Rate))
	case !atLeast(rate, c.Rate):
		g.Say = b.sayf("%s. %s is asked for.", lately, barOf(c.Rate))
	case !atLeast(n.cautious, c.Floor):
		g.Figure, g.Bar = training.Known(n.cautious), training.Known(c.Floor)
		g.Say = b.sayf("%s. Allowing for luck it should be no lower than %s.", lately, barOf(c.Floor))
	case n.streak > 0:
		g.Say = b.sayf("%s. Good for %s; %s running are asked for, because one good night happens to a dog that is not there.", lately, count(n.streak, "night"), count(c.Nights, "night"))
	default:
		g.Say = b.sayf("%s. Good tonight, but too few trials, tonight or so far, for the night to count.", lately)
	}
	return b.sayLost(g)
}

// sayLost adds to a level or position that is not there that it was.
func (b *bench) sayLost(g Gate) Gate {
	if !g.Met() && b.level.lost != 0 {
		g.Say += b.sayf(" The level was there and was lost on %s.", dayWords(b.level.lost))
	}
	return g
}

func (b *bench) position() Gate {
	c := b.h.c
	g := Gate{Name: GatePosition, Standing: Short, Bar: c.Breaks}
	n := b.level
	switch {
	case n == nil:
		g.Say = b.sayf("Nothing walked yet.")
		return g
	case !c.Breaks.Known:
		g.Figure = training.Known(n.rate.Rate)
		g.Say = b.sayf("No bar for breaks a minute is set for this cue.")
		return g
	}
	bar := c.Breaks.V
	g.Figure = training.Known(n.rate.Rate)
	lately := ""
	if b.say {
		lately = fmt.Sprintf("%s in %s min of the last sessions: %s a minute, between %s and %s allowing for luck", count(n.breaks, "break"),
			mins(n.minutes), figure(n.rate.Rate, 2, bar), figure(n.rate.Lower, 2, bar), figure(n.rate.Upper, 2, bar))
	}
	switch {
	case n.open && !atMost(n.rate.Upper, bar):
		g.Standing = Met
		g.Say = b.sayf("%s. It was within the %s asked for, allowing for luck, for %s running and stays until these, or the last %s, show more than %s.",
			lately, plain(bar), count(c.Nights, "night"), count(latelyWindow, "session"), plain(bar))
	case n.open:
		g.Standing = Met
		g.Say = b.sayf("%s; at most %s is asked for.", lately, plain(bar))
	case !atMost(n.rate.Lower, bar) && atLeast(n.minutes, c.PlaceMinutes):
		g.Standing = Failed
		g.Say = b.sayf("%s: more than the %s asked for.", lately, plain(bar))
	case !atMost(n.rate.Lower, bar):
		g.Say = b.sayf("%s: more than the %s asked for, but %s minutes are walked before that is held against the dog.", lately, plain(bar), plain(c.PlaceMinutes))
	case n.lately.above(bar):
		rate := float64(n.lately.breaks) / n.lately.minutes
		g.Figure = training.Known(rate)
		g.Say = b.sayf("%s; of the last %s %s in %s min, %s a minute: more than the %s asked for.", lately, count(latelyWindow, "session"),
			count(n.lately.breaks, "break"), mins(n.lately.minutes), figure(rate, 2, bar), plain(bar))
	case !atMost(n.rate.Upper, bar):
		g.Figure = training.Known(n.rate.Upper)
		g.Say = b.sayf("%s; at most %s allowing for luck is asked for.", lately, plain(bar))
	case n.streak > 0:
		g.Say = b.sayf("%s. Good for %s; %s running are asked for.", lately, count(n.streak, "night"), count(c.Nights, "night"))
	default:
		g.Say = b.sayf("%s. Good tonight, but too little walked so far for the night to count.", lately)
	}
	return b.sayLost(g)
}

// walked sums breaks and minutes of the newest k sittings that pick accepts.
func walked(sits []cueSitting, k int, pick func(*cueSitting) bool) (breaks int, minutes float64, sittings int) {
	for i := len(sits) - 1; i >= 0 && sittings < k; i-- {
		if sits[i].minutes > 0 && pick(&sits[i]) {
			breaks += sits[i].breaks
			minutes += sits[i].minutes
			sittings++
		}
	}
	return breaks, minutes, sittings
}

// shareStanding holds a window against a rate and a floor: failed when even the
// upper end of its 95 % interval is below the standard for anybody.
func shareStanding(w window, cautious, rate, floor, standard float64, least int, enough bool) Standing {
	switch {
	case w.of == 0:
		return Short
	case enough && atLeast(w.bestRate, rate) && atLeast(cautious, floor):
		return Met
	case !atLeast(w.atBest(least), standard):
		return Failed
	}
	return Short
}

func (b *bench) mainName() string {
	if b.main < 0 {
		return "the main trainer"
	}
	return b.h.sc.handlers[b.main].name
}

// people holds the gate against everybody but the main trainer. A cue that works
// for one person only must not pass because that person is not the dog's main
// trainer: as many sittings must be by somebody else than whoever had most.
func (b *bench) people() Gate {
	g := b.peopleButMain()
	if who, n := b.notByOne(); g.Met() && n < b.h.c.OtherSessions {
		g.Standing = Short
		g.Figure, g.Bar = training.Known(float64(n)), training.Known(float64(b.h.c.OtherSessions))
		g.Say = b.sayf("Most of this cue is with %s: %s by anybody else. Dogs that work for one person only look exactly like this. %s by others are asked for.",
			who, count(n, "session"), count(b.h.c.OtherSessions, "session"))
	}
	return g
}

// notByOne names the handler with most scored sittings of the cue and counts
// the sittings by anybody else.
func (b *bench) notByOne() (string, int) {
	n := make([]int, len(b.h.sc.handlers)+1)
	total, best := 0, 0
	for _, q := range b.h.atTarget(b.sits) {
		if q.scored() {
			total++
			n[q.handler]++
			if n[q.handler] > n[best] {
				best = q.handler
			}
		}
	}
	if total == 0 || best == len(b.h.sc.handlers) {
		return b.mainName(), total - n[best]
	}
	return b.h.sc.handlers[best].name, total - n[best]
}

func (b *bench) peopleButMain() Gate {
	c := b.h.c
	others := func(q *cueSitting) bool { return q.handler != b.main }
	g := Gate{Name: GatePeople, Standing: Short}
	if c.OtherSessions == 0 {
		g.Standing = Met
		g.Say = b.sayf("Other people are not asked for.")
	} else if b.h.kind == training.Motion {
		breaks, minutes, n := walked(b.sits, othersWindow, others)
		g.Bar = c.Breaks
		if minutes == 0 || !c.Breaks.Known {
			g.Say = b.sayf("Nobody but %s has walked it yet; %s are asked for.", b.mainName(), count(c.OtherSessions, "session"))
		} else {
			r := must(stats.Garwood(float64(breaks), minutes, 0.95))
			bar := c.Breaks.V
			g.Figure = training.Known(r.Rate)
			// Others have fewer minutes: twice the bar allowing for luck.
			switch {
			case n >= c.OtherSessions && atLeast(minutes, c.PlaceMinutes) && atMost(r.Rate, bar) && atMost(r.Upper, 2*bar):
				g.Standing = Met
			case !atMost(r.Lower, bar) && atLeast(minutes, c.PlaceMinutes):
				g.Standing = Failed
			}
			if b.say {
				g.Say = b.sayf("Without %s: %s in %s min over %s, %s a minute, at most %s allowing for luck; %s, %s minutes, %s a minute and at most %s are asked for.",
					b.mainName(), count(breaks, "break"), mins(minutes), count(n, "session"), figure(r.Rate, 2, bar), figure(r.Upper, 2, 2*bar),
					count(c.OtherSessions, "session"), plain(c.PlaceMinutes), plain(bar), plain(2*bar))
			}
		}
	} else {
		w, cautious := lastWindow(b.h.atTarget(b.sits), othersWindow, b.h.c.ICC, others)
		g.Bar = training.Known(c.OtherRate)
		g.Standing = shareStanding(w, cautious, c.OtherRate, c.OtherFloor, c.ContextBar, c.ContextTrials, w.sittings >= c.OtherSessions && w.bestOf >= c.OtherTrials)
		switch {
		case !b.say:
		case w.of == 0:
			g.Say = b.sayf("All of this is with %s: nobody else has asked yet. Dogs that work for one person only look exactly like this. %s by others are asked for.", b.mainName(), count(c.OtherSessions, "session"))
		default:
			g.Figure = training.Known(w.rate())
			g.Say = b.sayf("Without %s: %d/%d (%s) in %s, cautious figure %s; asked for: %s in %s, %s on the first ask, and a cautious figure of %s.", b.mainName(), w.yes, w.of,
				percent(w.rate(), c.OtherRate), count(w.sittings, "session"), percent(cautious, c.OtherFloor), count(c.OtherTrials, "ask"), count(c.OtherSessions, "session"), barOf(c.OtherRate), barOf(c.OtherFloor))
		}
		if n := shortHolds(b.sits, others); b.say && n > 0 {
			g.Say += b.h.shortWords(n)
		}
	}
	var below []string
	for _, f := range b.flags {
		if f.kind == ByHandler && f.handler != b.main {
			g.Standing = Failed
			below = append(below, b.flagWords(f))
		}
	}
	if len(below) > 0 && b.say {
		g.Say = "Below standard for " + list(below) + ". " + g.Say
	}
	return g
}

func (b *bench) places() Gate {
	c := b.h.c
	np := len(b.h.sc.places)
	type tally struct {
		of, sittings int
		minutes      float64
	}
	at := make([]tally, np)
	for _, q := range b.h.atTarget(b.sits) {
		if q.scored() {
			at[q.place].of += q.of
			at[q.place].sittings++
			at[q.place].minutes += q.minutes
		}
	}
	tried, off := 0, 0
	var names, part []string
	for i, t := range at {
		if t.sittings == 0 {
			continue
		}
		ok := t.sittings >= c.PlaceSessions && (t.of >= c.PlaceTrials || b.h.kind == training.Motion && atLeast(t.minutes, c.PlaceMinutes))
		if ok {
			tried++
			off += one(b.h.sc.places[i].off)
		}
		if !b.say {
			continue
		}
		if ok {
			names = append(names, b.h.sc.places[i].name)
		} else if b.h.kind == training.Motion {
			part = append(part, fmt.Sprintf("%s (%s min in %s)", b.h.sc.places[i].name, mins(t.minutes), count(t.sittings, "session")))
		} else {
			part = append(part, fmt.Sprintf("%s (%d in %s)", b.h.sc.places[i].name, t.of, count(t.sittings, "session")))
		}
	}
	g := Gate{Name: GatePlaces, Standing: Short, Figure: training.Known(float64(tried)), Bar: training.Known(float64(c.Places))}
	if tried >= c.Places && off >= c.OffProperty {
		g.Standing = Met
	}
	if b.say {
		unit := count(c.PlaceTrials, "trial")
		if b.h.kind == training.Motion {
			unit = plain(c.PlaceMinutes) + " minutes"
		}
		g.Say = fmt.Sprintf("Tried enough at %s, %d of them off property", count(tried, "place"), off)
		if len(names) > 0 {
			g.Say += " (" + strings.Join(names, ", ") + ")"
		}
		if len(part) > 0 {
			g.Say += "; not yet at " + list(part)
		}
		g.Say += fmt.Sprintf(". %s, %d off property, with %s in %s each are asked for.", count(c.Places, "place"), c.OffProperty, unit, count(c.PlaceSessions, "session"))
		g.Say += b.h.shortWords(shortHolds(b.sits, func(*cueSitting) bool { return true }))
	}
	var below []string
	for _, f := range b.flags {
		if f.kind == ByPlace {
			g.Standing = Failed
			below = append(below, b.flagWords(f))
		}
	}
	if len(below) > 0 && b.say {
		g.Say = "Below standard at " + list(below) + ". " + g.Say
	}
	return g
}

// contextCell sums up the newest sittings of a handler, a place, or both.
type contextCell struct {
	w        window
	breaks   int
	minutes  float64
	sittings int
}

// contextFlags applies the context rule to every handler, place and handler at
// a place: enough trials in two sittings, of the last eight there, and the
// upper end of the 95 % interval on effective trials below the bar. Walking:
// the lower end of breaks a minute above the bar.
func (b *bench) contextFlags() []flag {
	nh, np := len(b.h.sc.handlers), len(b.h.sc.places)
	c := b.h.c
	cells := slices.Grow(b.h.cells[:0], nh+np+nh*np)[:nh+np+nh*np]
	clear(cells)
	b.h.cells = cells
	motion := b.h.kind == training.Motion
	for i := len(b.sits) - 1; i >= 0; i-- {
		q := b.sits[i]
		if !q.scored() {
			continue
		}
		for _, k := range [3]int{q.handler, nh + q.place, nh + np + q.handler*np + q.place} {
			x := &cells[k]
			if x.sittings == contextWindow {
				continue
			}
			x.sittings++
			x.w.add(q, b.h.c.ICC)
			x.breaks += q.breaks
			x.minutes += q.minutes
		}
	}
	var out []flag
	for k, x := range cells {
		if x.sittings < c.PlaceSessions {
			continue
		}
		if motion {
			if !c.Breaks.Known || !atLeast(x.minutes, c.PlaceMinutes) || float64(x.breaks) <= c.Breaks.V*x.minutes || must(stats.Garwood(float64(x.breaks), x.minutes, 0.95)).Lower <= c.Breaks.V+hair {
				continue
			}
		} else if x.w.of < c.ContextTrials || atLeast(x.w.interval(0.95).Upper, c.ContextBar) {
			continue
		} else if w, _ := lastWindow(b.sits, contextWindow, b.h.c.ICC, func(q *cueSitting) bool {
			return k == q.handler || k == nh+q.place || k == nh+np+q.handler*np+q.place
		}); atLeast(w.bestUpper, c.ContextBar) {
			continue // clean asks since then never make it worse
		}
		f := flag{kind: ByHandler, handler: k, w: x.w, breaks: x.breaks, minutes: x.minutes}
		switch {
		case k >= nh+np:
			f.kind, f.handler, f.place = ByCell, (k-nh-np)/np, (k-nh-np)%np
		case k >= nh:
			f.kind, f.handler, f.place = ByPlace, 0, k-nh
		}
		out = append(out, f)
	}
	return out
}

func (b *bench) flagWords(f flag) string {
	if !b.say {
		return ""
	}
	var who string
	switch f.kind {
	case ByHandler:
		who = b.h.sc.handlers[f.handler].name
	case ByPlace:
		who = b.h.sc.places[f.place].name
	default:
		who = b.h.sc.handlers[f.handler].name + " at " + b.h.sc.places[f.place].name
	}
	if b.h.kind == training.Motion {
		return fmt.Sprintf("%s (%s in %s min)", who, count(f.breaks, "break"), mins(f.minutes))
	}
	return fmt.Sprintf("%s (%d/%d, at best %s)", who, f.w.yes, f.w.of, percent(f.w.interval(0.95).Upper, b.h.c.ContextBar))
}

func (b *bench) context() Gate {
	g := Gate{Name: GateContext, Standing: Met, Figure: training.Known(float64(len(b.flags))), Bar: training.Known(0)}
	if len(b.flags) == 0 {
		g.Say = b.sayf("No handler or place that can be judged is below standard.")
		return g
	}
	g.Standing = Failed
	if b.say {
		var names []string
		for _, f := range b.flags {
			names = append(names, b.flagWords(f))
		}
		g.Say = "Below standard: " + list(names) + "."
	}
	return g
}

func (b *bench) speed() Gate {
	limit := b.h.c.Limit.V
	g := Gate{Name: GateSpeed, Standing: Short, Bar: b.h.c.Limit}
	x := b.h.latencies(recent(b.sits, timedAnswers))
	if x.seen() < timedForSpeed {
		x = b.h.latencies(b.sits)
	}
	yes, of := 0, 0
	for _, q := range b.sits {
		yes += q.yes
		of += q.of
	}
	switch {
	case of == 0:
		g.Say = b.sayf("No scored trial yet.")
		return g
	case x.seen() < timedForSpeed:
		// Not a reason to withhold a verdict from a trainer without a watch:
		// the yes and no of each trial already says "inside the limit".
		g.Standing = Met
		g.Say = b.sayf("Not timed (%s with a time): the scorer's word that answers came inside %s.", count(x.seen(), "answer"), clock(limit))
		return g
	}
	s := x.summary()
	// Where the curve ends at 0 at once (all answers alike) there are no limits
	// of the median, but it cannot lie outside the times themselves.
	k := x.curve()
	if last := k.Points[len(k.Points)-1]; !s.High.Known && last.Surv == 0 {
		s.High = training.Known(last.Time)
	}
	if first := k.Points[0]; !s.Low.Known && first.Surv == 0 {
		s.Low = training.Known(first.Time)
	}
	g.Figure = s.High
	switch {
	case s.High.Known && atMost(s.High.V, limit):
		g.Standing = Met
	case s.Low.Known && !atMost(s.Low.V, limit):
		g.Standing = Failed
	}
	if !b.say {
		return g
	}
	median := "not reached"
	if s.Median.Known {
		median = figure(s.Median.V, 1, limit) + " s"
	}
	upper := "with no upper end yet"
	if s.High.Known {
		upper = "at most " + figure(s.High.V, 1, limit) + " s allowing for luck"
	}
	g.Say = b.sayf("Median answer %s, %s (%d answered, %d not); %s is asked for.", median, upper, s.Seen, s.Censored, clock(limit))
	return g
}

// holdChance reads the chance of holding the target, with Wilson limits at the
// effective number of holds: where every hold was kept, Greenwood's standard
// error is 0 and would promise certainty; there the number is that of the holds
// still going at the target. So the interval never has width zero.
//
// Holds of one sitting resemble each other as asks do: the number is divided by
// their design effect at the ICC of the decisions.
func holdChance(sits []cueSitting, target, icc float64) (chance, low, high training.Num, followed int) {
	k := holds(sits).curve()
	if k == nil {
		return
	}
	at := must(k.At(target, 0.95))
	chance, low, high, followed = num(at.Surv), num(at.WilsonLower), num(at.WilsonUpper), at.AtRisk
	if !at.Surv.OK || !at.Neff.OK || at.Neff.V <= 0 {
		return
	}
	p, deff := at.Surv.V, holdsEffect(sits, target, icc)
	n := at.Neff.V / deff
	if n > 0 {
		high = training.Known(must(stats.Wilson(n*p, n, 0.95)).Upper)
	}
	if p > 0 {
		// Nobody is known to hold the target but those who were followed that far.
		n = math.Min(n, float64(at.AtRisk)/p/deff)
	}
	if n > 0 {
		low = training.Known(must(stats.Wilson(n*p, n, 0.95)).Lower)
	}
	return
}

// holdsEffect is the design effect of the holds that say something of the
// target: broken before it, or followed that far. Of a long sitting only as many
// are counted as make the effective number largest, so that one more kept hold
// never lowers it.
func holdsEffect(sits []cueSitting, target, icc float64) float64 {
	var m []int
	total, most := 0, 0
	for i := range sits {
		x := holds(sits[i : i+1])
		n := 0
		for j := range x.t {
			n += one(x.event[j] || atLeast(x.t[j], target))
		}
		m = append(m, n)
		total += n
		most = max(most, n)
	}
	// Holds are added level by level, one to each sitting that has as many:
	// of all ways to take so many of them that is the one worth most.
	best, k, v := 0.0, 0.0, 0.0
	for level := range most {
		for _, n := range m {
			if n > level {
				k++
				v += 1 + 2*icc*float64(level) // m(1+icc(m-1)) grows by 1 + 2 icc m
				best = math.Max(best, k*k/v)
			}
		}
	}
	if best == 0 {
		return 1
	}
	return math.Max(1, float64(total)/best)
}

func (b *bench) hold() Gate {
	c := b.h.c
	g := Gate{Name: GateHold, Standing: Short, Bar: training.Known(c.HoldRate)}
	if !c.hasTarget() {
		g.Say = b.sayf("No target is set for this hold.")
		return g
	}
	window := recent(b.sits, timedHolds)
	x := holds(window)
	chance, low, high, followed := holdChance(window, c.Target.V, b.h.c.ICC)
	if !chance.Known {
		if len(x.t) == 0 {
			g.Say = b.sayf("No hold was timed yet; %s is asked for.", clock(c.Target.V))
		} else {
			g.Say = b.sayf("Nothing was held for as long as %s lately (longest %s).", clock(c.Target.V), clock(slices.Max(x.t)))
		}
		return g
	}
	g.Figure = chance
	switch {
	case atLeast(chance.V, c.HoldRate) && atLeast(low.V, c.HoldFloor):
		g.Standing = Met
	case !atLeast(high.V, c.HoldRate):
		g.Standing = Failed
	case atLeast(chance.V, c.HoldRate):
		g.Figure, g.Bar = low, training.Known(c.HoldFloor)
	}
	if !b.say {
		return g
	}
	g.Say = b.sayf("Chance of holding %s is %s (at least %s allowing for luck; %s followed that far, %s); %s and at least %s are asked for.", clock(c.Target.V),
		percent(chance.V, c.HoldRate), percent(low.V, c.HoldFloor), count(followed, "hold"), count(x.seen(), "break"), barOf(c.HoldRate), barOf(c.HoldFloor))
	return g
}

func (b *bench) corrections() Gate {
	c := b.h.c
	g := Gate{Name: GateCorrections, Standing: Met, Bar: training.Known(c.CorrectionsPerTen)}
	total := 0
	for _, q := range b.sits {
		total += q.corrections
	}
	if total == 0 {
		// A level of none is not a level of 0; a count of none is 0.
		g.Say = b.sayf("Nothing noted of corrections: a tally says nothing of them.")
		if knownIn(b.sits) > 0 {
			g.Figure = training.Known(0)
			g.Say = b.sayf("No corrections.")
		}
		return g
	}
	now := perTenNow(b.sits, c.HalfLife)
	g.Figure = training.Known(now)
	var n, trials int
	for i, k := len(b.sits)-1, 0; i >= 0 && k < contextWindow; i-- {
		if b.sits[i].known > 0 {
			n += b.sits[i].corrections
			trials += b.sits[i].known
			k++
		}
	}
	if b.say {
		g.Say = b.sayf("%s corrections per ten trials lately (%d in the last %s); at most %s is asked for.", figure(now, 1, c.CorrectionsPerTen), n, count(trials, "trial"), plain(c.CorrectionsPerTen))
	}
	if !atMost(now, c.CorrectionsPerTen) {
		g.Standing = Short
		// The lower limit is below the rate: only a rate above the bar needs it.
		if tens := float64(trials) / 10; float64(n) > c.CorrectionsPerTen*tens && must(stats.Garwood(float64(n), tens, 0.95)).Lower > c.CorrectionsPerTen {
			g.Standing = Failed
		}
	}
	if shareRises(b.sits, b.h.c.ICC, c.TrendSessions) {
		g.Standing = Failed
		g.Say += b.sayf(" More trials are corrected from session to session.")
	}
	for _, d := range devicesOf(b.sits) {
		if levelRises(b.sits, d, c.TrendSessions) {
			g.Standing = Failed
			g.Say += b.sayf(" The level on %s is rising.", d)
		}
	}
	return g
}

func knownIn(sits []cueSitting) int {
	n := 0
	for _, q := range sits {
		n += q.known
	}
	return n
}

// perTenNow is the fading number of corrections per ten trials.
func perTenNow(sits []cueSitting, halfLife float64) float64 {
	d := math.Exp2(-1 / halfLife)
	var w, x float64
	for _, q := range sits {
		if q.known > 0 {
			w = w*d + float64(q.known)
			x = x*d + float64(q.corrections)
		}
	}
	return 10 * x / w
}

func (b *bench) closed() Gate {
	g := Gate{Name: GateClosed, Standing: Met, Figure: training.Known(float64(b.open)), Bar: training.Known(0)}
	switch {
	case b.held:
		g.Standing = Failed
		g.Say = b.sayf("On hold for the vet.")
	case b.open > 0:
		g.Standing = Failed
		g.Say = b.sayf("%s open. Close it with what was done before calling the dog ready.", count(b.open, "incident"))
	default:
		g.Say = b.sayf("No open incident, no vet hold.")
	}
	return g
}

func (b *bench) scoredAsks() int {
	n := 0
	for _, q := range b.sits {
		n += q.of
	}
	return n
}
