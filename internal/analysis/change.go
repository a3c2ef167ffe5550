package analysis

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"firstcue/internal/stats"
	"firstcue/internal/training"
)

// likelyFactor turns the least number of clean asks into what a dog at 95 %
// usually needs: the median ratio of 1.7 (10 % to 90 %: 1.1 to 3.3) was found by
// simulation.
const likelyFactor = 1.7

// mostAsks bounds the search for what would change a verdict.
const mostAsks = 120

// usual is the dog's usual session of a cue: scored asks (or minutes walked) a
// sitting and sittings a day, medians of the last twelve sittings, so that what
// would change the verdict is asked for in portions that this dog gets; never
// fewer than three asks nor more than twelve.
type usual struct {
	asks    int
	minutes float64
	aDay    int
}

func usualOf(sits []cueSitting) usual {
	u := usual{asks: 6, minutes: 5, aDay: 2}
	var n, m, perDay []float64
	for i := len(sits) - 1; i >= 0 && len(n)+len(m) < 12; i-- {
		q := sits[i]
		if !q.scored() {
			continue
		}
		if q.of > 0 {
			n = append(n, float64(q.of))
		} else {
			m = append(m, q.minutes)
		}
		if i+1 < len(sits) && sits[i+1].day == q.day && len(perDay) > 0 {
			perDay[len(perDay)-1]++
		} else {
			perDay = append(perDay, 1)
		}
	}
	if len(n) > 0 {
		slices.Sort(n)
		u.asks = min(12, max(3, int(math.Round(middle(n)))))
	}
	if len(m) > 0 {
		slices.Sort(m)
		u.minutes = max(1, math.Round(middle(m)))
	}
	if len(perDay) > 0 {
		slices.Sort(perDay)
		u.aDay = max(1, int(math.Round(middle(perDay))))
	}
	return u
}

// portion appends a total of asks over sittings of nearly equal size, the
// misses in the first of them.
func portion(out []cueSitting, asks, sittings, misses int, q cueSitting) []cueSitting {
	for i := range sittings {
		n := asks / sittings
		if i < asks%sittings {
			n++
		}
		m := min(misses, n)
		misses -= m
		q.of, q.yes, q.known = n, n-m, n
		out = append(out, q)
	}
	return out
}

// need is so many asks in so many sessions.
type need struct {
	asks, sittings int
	ok             bool
}

// asksUntil finds the smallest number of asks, a given number of them missed,
// after which met holds; q says who and where. It judges the real gate on the
// real sittings with imagined ones behind them.
func (h *history) asksUntil(sits []cueSitting, q cueSitting, size, atLeast, misses int, met func([]cueSitting) bool) need {
	if room := len(sits) + mostAsks/size + atLeast + 1; cap(h.scratch) < room {
		h.scratch = make([]cueSitting, room)
	}
	buf := append(h.scratch[:0], sits...)
	for asks := max(1, misses+1, atLeast); asks <= mostAsks; asks++ {
		k := max(1, atLeast, (asks+size-1)/size)
		if met(portion(buf, asks, k, misses, q)) {
			return need{asks, k, true}
		}
	}
	return need{}
}

// words prints what is needed, with one miss allowed for where that is within
// reach: "10 more downs in 2 sessions, 9 of them on the first ask; 8 would do if
// none is missed". Where a miss would cost much more, the clean ones come first.
func (h *history) words(clean, oneMiss need) string {
	allowed := oneMiss.ok && oneMiss.asks <= 60 && oneMiss.asks > 3
	switch {
	case !clean.ok:
		return ""
	case allowed && 2*clean.asks <= oneMiss.asks:
		return fmt.Sprintf("%s in %s would do if none is missed; with one miss, %d in %s", h.more(clean.asks), count(clean.sittings, "session"), oneMiss.asks, count(oneMiss.sittings, "session"))
	case allowed:
		s := fmt.Sprintf("%s in %s, %d of them on the first ask", h.more(oneMiss.asks), count(oneMiss.sittings, "session"), oneMiss.asks-1)
		if clean.asks < oneMiss.asks {
			s += fmt.Sprintf("; %d would do if none is missed", clean.asks)
		}
		return s
	case clean.asks == 1:
		return fmt.Sprintf("%s in 1 session, on the first ask", h.more(1))
	}
	return fmt.Sprintf("%s in %s, all on the first ask", h.more(clean.asks), count(clean.sittings, "session"))
}

// more prints "10 more downs", "10 more asks of leave it", "4 more holds of stay
// for 1:00 min".
func (h *history) more(n int) string { return h.asks(n, "more ") }

func (h *history) asks(n int, more string) string {
	switch {
	case h.kind == training.Holding && h.c.hasTarget():
		return count(n, more+"hold") + " of " + h.cue + " for " + clock(h.c.Target.V)
	case strings.ContainsRune(h.cue, ' ') || h.kind == training.Holding:
		return count(n, more+"ask") + " of " + h.cue
	}
	return count(n, more+h.cue)
}

// moreMinutes prints "1 more minute", "2.5 more minutes".
func moreMinutes(v float64) string {
	v = math.Ceil(v*10-1e-6) / 10
	if v == 1 {
		return "1 more minute"
	}
	return plain(v) + " more minutes"
}

// changes says what would change the verdict, most useful first: what blocks
// for certain, then what lacks evidence, then the owner.
func (h *history) changes(c *CueAssessment, b *bench) {
	if c.Verdict == OnHold {
		c.Change = []string{"nothing until the vet allows it; then a new baseline"}
		return
	}
	u := usualOf(b.sits)
	fast := *b
	fast.say = false
	b = &fast
	h.cleanUntilLevel(c, b, u)
	if b.open > 0 { // before anything is asked of the dog
		c.waits = waitsOf(c, nil)
		c.Change = []string{"close the open incident with what was done, before the next ask; what else is missing is counted after that"}
		return
	}
	var failed, short []string
	for _, g := range c.Gates {
		if g.Standing == Met {
			continue
		}
		var lines []string
		b.gate = g.Name
		switch g.Name {
		case GateEnough:
			lines = b.changeEnough()
		case GateLevel:
			lines = levelWords(c, h.c)
		case GatePosition:
			lines = b.changePosition(u)
		case GatePeople:
			lines = b.changePeople(u)
		case GatePlaces:
			lines = b.changePlaces(u)
		case GateContext:
			lines = b.changeContext(u)
		case GateSpeed:
			lines = b.changeSpeed(u)
		case GateHold:
			lines = b.changeHold(u)
		case GateCorrections:
			lines = b.changeCorrections(u)
		case GateClosed, GateGoal:
			// An open incident was said above, goals are said below, one by one.
		}
		for _, l := range lines {
			if slices.Contains(failed, l) || slices.Contains(short, l) {
				continue
			}
			if g.Standing == Failed {
				failed = append(failed, l)
			} else {
				short = append(short, l)
			}
		}
	}
	c.Change = append(failed, short...)
	b.gate = GateGoal
	c.Change = append(c.Change, b.changeGoals(u)...)
	b.gate = ""
	c.waits = waitsOf(c, b.needs)
	if l := b.changeOwner(u); l != "" {
		c.Change = append(c.Change, l)
	}
	if len(c.Change) > 1 {
		c.Change = append(c.Change, "the same asks can count for several of these lines")
	}
}

// tomorrow is an imagined sitting by the main trainer at the first place.
func (b *bench) tomorrow() cueSitting {
	q := cueSitting{day: b.day + 1}
	for i := len(b.sits) - 1; i >= 0; i-- {
		if b.sits[i].scored() {
			q.handler, q.place = b.sits[i].handler, b.sits[i].place
			break
		}
	}
	return q
}

// cleanUntilLevel counts the clean first asks, in sittings of the dog's usual
// size, until the level would hold for a night.
func (h *history) cleanUntilLevel(c *CueAssessment, b *bench, u usual) {
	if h.kind == training.Motion || b.level != nil && b.level.open {
		return
	}
	var s levelState
	for _, q := range b.sits {
		if q.scored() {
			s.add(h, q, false)
		}
	}
	if b.level != nil {
		s.now, s.lastNight, s.tonight, s.fresh = *b.level, b.level.day, 0, false
	}
	b.cleanUntilOpen(c, s, u)
	if s.now.holds && s.now.streak > 0 {
		c.CleanMin, c.CleanLikely = training.Known(nightAsks), training.Known(nightAsks)
		return
	}
	total := 0
	for k := 0; total < mostAsks; k++ {
		q := b.tomorrow()
		q.day = b.day + 1 + training.Day(k/u.aDay)
		for n := nightAsks; n <= u.asks; n++ {
			g := s
			q.of, q.yes = n, n
			g.add(h, q, true)
			if atLeast(g.now.fade.rate(), h.c.Rate) && g.enough(&h.c, h.kind) && atLeast(g.now.fade.cautious(h.c.ICC), h.c.Floor) {
				least := total + n
				likely := 5 * math.Round(likelyFactor*float64(least)/5)
				c.CleanMin, c.CleanLikely = training.Known(float64(least)), training.Known(math.Max(float64(least), likely))
				return
			}
		}
		s.add(h, q, true)
		total += u.asks
	}
}

// cleanUntilOpen counts the clean first asks, the sittings of the dog's usual
// size and the days, as many sittings a day as usual, until the level gate opens.
func (b *bench) cleanUntilOpen(c *CueAssessment, s levelState, u usual) {
	h := b.h
	asks, sittings := 0, 0
	for d := 1; asks < 2*mostAsks; d++ {
		q := b.tomorrow()
		q.day = b.day + training.Day(d)
		full := u.asks * u.aDay
		for n := min(nightAsks, full); n <= full; n++ {
			g := s
			k := (n + u.asks - 1) / u.asks
			for _, x := range portion(nil, n, k, 0, q) {
				g.add(h, x, true)
			}
			g.night(h, q.day, true)
			if g.now.open || n == full || g.now.streak > s.now.streak {
				s = g
				asks += n
				sittings += k
				break
			}
		}
		if s.now.open {
			c.CleanAsks, c.CleanSittings, c.CleanDays = asks, sittings, d
			return
		}
	}
}

func levelWords(c *CueAssessment, bars Criteria) []string {
	if c.CleanAsks == 0 {
		return []string{fmt.Sprintf("more than %d clean first asks: teach it at an easier step first", mostAsks)}
	}
	least, likely := c.CleanAsks, int(c.CleanLikely.V)
	s := fmt.Sprintf("%s in a row, in %s over %s, would do", count(least, "clean ask"), count(c.CleanSittings, "session"), count(c.CleanDays, "day"))
	if c.ReadyNights > 0 {
		s += fmt.Sprintf(": %s so far, %d in a row asked for", count(c.ReadyNights, "good night"), bars.Nights)
	}
	if likely > least {
		s += fmt.Sprintf("; a dog at 95%% usually needs about %d", likely)
	}
	return []string{s}
}

func (b *bench) changeEnough() []string {
	c := b.h.c
	var s levelState
	for _, q := range b.sits {
		if q.scored() {
			s.add(b.h, q, false)
		}
	}
	var parts []string
	if b.h.kind == training.Motion {
		if s.minutes < c.Minutes {
			parts = append(parts, moreMinutes(c.Minutes-s.minutes)+" walked")
		}
	} else if n := c.Trials - s.trials; n > 0 {
		parts = append(parts, count(n, "more scored trial"))
	}
	if n := c.Sessions - s.sittings; n > 0 {
		parts = append(parts, count(n, "more session"))
	}
	if n := c.Days - s.days; n > 0 {
		parts = append(parts, count(n, "more day"))
	}
	if len(parts) == 0 {
		return nil
	}
	return []string{list(parts)}
}

// imagined adds somebody the dog may not have met to the scene of a copy of
// the bench.
func (b *bench) imagined(p person) *bench {
	g, h, sc := *b, *b.h, *b.h.sc
	sc.handlers = append(slices.Clip(sc.handlers), p)
	h.sc, g.h = &sc, &h
	return &g
}

// notMain names whom the asks that the people gate lacks must not be by.
func (b *bench) notMain() string {
	who, n := b.notByOne()
	switch {
	case n >= b.h.c.OtherSessions || b.main >= 0 && who == b.mainName():
		return b.mainName()
	case b.main < 0 || b.peopleButMain().Met():
		return who
	}
	return b.mainName() + " or " + who
}

func (b *bench) changePeople(u usual) []string {
	c := b.h.c
	who := "with someone other than " + b.notMain()
	q := b.tomorrow()
	q.handler = len(b.h.sc.handlers)
	others := func(x *cueSitting) bool { return x.handler != b.main }
	if b.h.kind == training.Motion {
		if !c.Breaks.Known {
			return nil
		}
		breaks, minutes, n := walked(b.sits, othersWindow, others)
		more, sits := 0.0, 0
		for ; sits < 60; sits++ {
			m := minutes + more
			if n+sits >= c.OtherSessions && m >= c.PlaceMinutes {
				r := must(stats.Garwood(float64(breaks), m, 0.95))
				if r.Rate <= c.Breaks.V && r.Upper <= 2*c.Breaks.V {
					break
				}
			}
			more += u.minutes
		}
		_, other := b.notByOne()
		for ; sits < c.OtherSessions-other; sits++ {
			more += u.minutes
		}
		if sits == 0 || sits == 60 {
			return nil
		}
		b.lacks(need{0, sits, true}, "with other people")
		return []string{fmt.Sprintf("%s: %s of %s in %s without a break", who, moreMinutes(more), b.h.cue, count(sits, "session"))}
	}
	sits := b.h.atTarget(b.sits)
	_, other := b.notByOne()
	w, _ := lastWindow(sits, othersWindow, b.h.c.ICC, others)
	met := func(s []cueSitting) bool {
		if other+len(s)-len(sits) < c.OtherSessions {
			return false
		}
		w, cautious := lastWindow(s, othersWindow, b.h.c.ICC, others)
		return shareStanding(w, cautious, c.OtherRate, c.OtherFloor, c.ContextBar, c.ContextTrials, w.sittings >= c.OtherSessions && w.bestOf >= c.OtherTrials) == Met
	}
	missing := max(0, c.OtherSessions-w.sittings, c.OtherSessions-other)
	if met(sits) {
		return nil // a flagged handler blocks, not the evidence
	}
	s := b.h.words(b.lacks(b.h.asksUntil(sits, q, u.asks, missing, 0, met), "with other people"), b.h.asksUntil(sits, q, u.asks, missing, 1, met))
	if s == "" {
		return nil
	}
	return []string{who + ": " + s}
}

func (b *bench) changePlaces(u usual) []string {
	c := b.h.c
	motion := b.h.kind == training.Motion
	type part struct {
		place, of, sittings int
		minutes             float64
	}
	at := make([]part, len(b.h.sc.places))
	for i := range at {
		at[i].place = i
	}
	for _, q := range b.h.atTarget(b.sits) {
		if q.scored() {
			at[q.place].of += q.of
			at[q.place].sittings++
			at[q.place].minutes += q.minutes
		}
	}
	missing := func(p part) float64 {
		if motion {
			return max(c.PlaceMinutes-p.minutes, float64(c.PlaceSessions-p.sittings))
		}
		return float64(max(c.PlaceTrials-p.of, c.PlaceSessions-p.sittings))
	}
	tried, off := 0, 0
	var begun []part
	for _, p := range at {
		switch {
		case p.sittings == 0:
		case missing(p) <= 1e-9:
			tried++
			off += one(b.h.sc.places[p.place].off)
		default:
			begun = append(begun, p)
		}
	}
	slices.SortStableFunc(begun, func(x, y part) int {
		if d := missing(x) - missing(y); d != 0 {
			return int(math.Copysign(1, d))
		}
		return strings.Compare(b.h.sc.places[x.place].name, b.h.sc.places[y.place].name)
	})
	wantOff := max(0, c.OffProperty-off)
	want := max(wantOff, c.Places-tried)
	var out []string
	take := func(onlyOff bool) bool {
		for i, p := range begun {
			s := b.h.sc.places[p.place]
			if onlyOff && !s.off {
				continue
			}
			if motion {
				b.lacks(need{0, max(1, c.PlaceSessions-p.sittings), true}, "at "+s.name)
				out = append(out, fmt.Sprintf("at %s: %s of %s in %s", s.name, moreMinutes(max(1, math.Ceil(c.PlaceMinutes-p.minutes))), b.h.cue, count(max(1, c.PlaceSessions-p.sittings), "session")))
			} else {
				asks := max(c.PlaceTrials-p.of, c.PlaceSessions-p.sittings)
				k := max(c.PlaceSessions-p.sittings, (asks+u.asks-1)/u.asks)
				b.lacks(need{asks, k, true}, "at "+s.name)
				out = append(out, fmt.Sprintf("at %s: %s in %s", s.name, b.h.more(asks), count(k, "session")))
			}
			begun = slices.Delete(begun, i, i+1)
			return true
		}
		return false
	}
	unit := fmt.Sprintf("%s in %s", b.h.asks(c.PlaceTrials, ""), count(c.PlaceSessions, "session"))
	if motion {
		unit = fmt.Sprintf("%s of %s in %s", strings.Replace(moreMinutes(c.PlaceMinutes), " more", "", 1), b.h.cue, count(c.PlaceSessions, "session"))
	}
	asks := c.PlaceTrials
	if motion {
		asks = 0
	}
	for ; want > 0; want-- {
		switch {
		case wantOff > 0:
			if !take(true) {
				b.lacks(need{asks, c.PlaceSessions, true}, "at one more place off property")
				out = append(out, "one more place off property: "+unit)
			}
			wantOff--
		case !take(false):
			b.lacks(need{asks, c.PlaceSessions, true}, "at one more place")
			out = append(out, "one more place: "+unit)
		}
	}
	return out
}

// changeContext says what would bring each flagged handler, place and cell back
// above the line.
func (b *bench) changeContext(u usual) []string {
	var out []string
	for _, f := range b.flags {
		q := b.tomorrow()
		var where string
		var pick func(*cueSitting) bool
		switch f.kind {
		case ByHandler:
			q.handler = f.handler
			where = "with " + b.h.sc.handlers[f.handler].name
			pick = func(x *cueSitting) bool { return x.handler == f.handler }
		case ByPlace:
			q.place = f.place
			where = "at " + b.h.sc.places[f.place].name
			pick = func(x *cueSitting) bool { return x.place == f.place }
		default:
			q.handler, q.place = f.handler, f.place
			where = "with " + b.h.sc.handlers[f.handler].name + " at " + b.h.sc.places[f.place].name
			pick = func(x *cueSitting) bool { return x.handler == f.handler && x.place == f.place }
		}
		if b.h.kind == training.Motion {
			breaks, minutes, _ := walked(b.sits, contextWindow, pick)
			for more := 1.0; more <= 120 && b.h.c.Breaks.Known; more++ {
				if must(stats.Garwood(float64(breaks), minutes+more, 0.95)).Lower <= b.h.c.Breaks.V {
					b.lacks(need{0, int(math.Ceil(more / u.minutes)), true}, where)
					out = append(out, fmt.Sprintf("%s: %s of %s without a break", where, moreMinutes(more), b.h.cue))
					break
				}
			}
			continue
		}
		met := func(s []cueSitting) bool {
			w, _ := lastWindow(s, contextWindow, b.h.c.ICC, pick)
			return w.of < b.h.c.ContextTrials || atLeast(w.bestUpper, b.h.c.ContextBar)
		}
		if s := b.h.words(b.lacks(b.h.asksUntil(b.sits, q, u.asks, 0, 0, met), where), b.h.asksUntil(b.sits, q, u.asks, 0, 1, met)); s != "" {
			out = append(out, where+": "+s)
		}
	}
	return out
}

func (b *bench) changePosition(u usual) []string {
	c := b.h.c
	if !c.Breaks.Known {
		return []string{"set a bar for breaks a minute"}
	}
	if b.level != nil && b.level.holds {
		return []string{fmt.Sprintf("the same again for %s", count(c.Nights-b.level.streak, "more night"))}
	}
	sits := slices.Clone(b.sits)
	var s levelState
	for _, q := range sits {
		if q.scored() {
			s.add(b.h, q, false)
		}
	}
	for k := 1; k <= 40; k++ {
		q := b.tomorrow()
		q.day = b.day + 1 + training.Day((k-1)/u.aDay)
		q.minutes = u.minutes
		sits = append(sits, q)
		s.add(b.h, q, false)
		s.window(b.h, sits)
		if atMost(s.now.rate.Upper, c.Breaks.V) && !s.now.lately.above(c.Breaks.V) && s.enough(&c, b.h.kind) {
			return []string{fmt.Sprintf("%s of %s without a break, in %s, would do, if it holds for %s", moreMinutes(float64(k)*u.minutes), b.h.cue, count(k, "session"), count(c.Nights, "night"))}
		}
	}
	return []string{"many more minutes without a break: walk it in an easier place first"}
}

// quick returns a timed answer inside the limit as an imagined trial.
func quick(h *history, seconds float64) *training.Trial {
	return &training.Trial{Cue: h.cue, Kind: h.kind, Outcome: training.Answered, Asks: 1, Latency: training.Known(seconds)}
}

func (b *bench) changeSpeed(u usual) []string {
	limit := b.h.c.Limit.V
	x := b.h.latencies(recent(b.sits, timedAnswers))
	// The dog's own quick answers: its lower quartile where that is inside.
	at := limit
	if k := x.curve(); k != nil {
		if _, q := k.Quantile(0.25); q.OK && q.V < limit {
			at = q.V
		}
	}
	sits := slices.Clone(b.sits)
	none := &training.Session{}
	for k := 1; k <= 40; k++ {
		q := b.tomorrow()
		q.of, q.yes = u.asks, u.asks
		q.trials = nil
		for range u.asks {
			q.trials = append(q.trials, entry{quick(b.h, at), none})
		}
		sits = append(sits, q)
		g := *b
		g.sits = sits
		if g.speed().Standing == Met {
			b.lacks(need{k * u.asks, k, true}, "answered more quickly")
			return []string{fmt.Sprintf("about %d more timed answers inside %s", k*u.asks, clock(limit))}
		}
	}
	return []string{"quicker answers: the times have to come down, not only the count up"}
}

func (b *bench) changeHold(u usual) []string {
	c := b.h.c
	if !c.hasTarget() {
		return []string{"set a target for the hold"}
	}
	target := c.Target.V
	none := &training.Session{}
	until := func(breaks int) int {
		sits := slices.Clone(b.sits)
		for n := 1; n <= mostAsks; n++ {
			t := &training.Trial{Cue: b.h.cue, Kind: training.Holding, Outcome: training.Held, Asks: 1, Held: training.Known(target), Target: training.Known(target)}
			if n <= breaks {
				t.Outcome, t.Held = training.Broke, training.Known(target/2)
			}
			if n == 1 || (n-1)%u.asks == 0 {
				sits = append(sits, b.tomorrow())
				sits[len(sits)-1].of = 1 // a sitting that counts
			}
			q := &sits[len(sits)-1]
			q.trials = append(q.trials, entry{t, none})
			g := *b
			g.sits = sits
			if g.hold().Standing == Met {
				return n
			}
		}
		return 0
	}
	clean := until(0)
	if clean == 0 {
		return []string{fmt.Sprintf("holds of %s: build the time up in shorter steps first", clock(target))}
	}
	b.lacks(need{clean, (clean + u.asks - 1) / u.asks, true}, "held to "+clock(target))
	s := fmt.Sprintf("%s of %s, all kept", count(clean, "more hold"), clock(target))
	if oneBreak := until(1); oneBreak > clean {
		s += fmt.Sprintf(" (%d if one is broken)", oneBreak)
	}
	return []string{s}
}

func (b *bench) changeCorrections(u usual) []string {
	sits := slices.Clone(b.sits)
	for k := 1; k <= 40; k++ {
		q := b.tomorrow()
		q.known, q.of, q.yes = u.asks, u.asks, u.asks
		if b.h.kind == training.Motion {
			q.known, q.minutes = 1, u.minutes
		}
		sits = append(sits, q)
		g := *b
		g.sits = sits
		if g.corrections().Standing == Met {
			n := 0
			for _, q := range sits[len(b.sits):] {
				n += q.known
			}
			b.lacks(need{n, k, true}, "without a correction")
			return []string{fmt.Sprintf("%s without a correction, in %s; make the task easier or the place quieter", count(n, "trial"), count(k, "session"))}
		}
	}
	return []string{"fewer corrections: make the task easier or the place quieter"}
}

func (b *bench) changeOwner(u usual) string {
	c := b.h.c
	g := b.imagined(person{"the owner", training.Owner})
	own := func(q *cueSitting) bool { return g.h.sc.handlers[q.handler].role == training.Owner }
	if b.h.kind == training.Motion {
		if b.h.ownerOf(b.sits).Confirmed || !c.Breaks.Known {
			return ""
		}
		breaks, minutes, n := walked(b.sits, ownerWindow, own)
		for k := 1; k <= 40; k++ {
			m := minutes + float64(k)*u.minutes
			r := must(stats.Garwood(float64(breaks), m, 0.95))
			if n+k >= c.OwnerLessons && m >= c.PlaceMinutes && r.Rate <= c.Breaks.V && r.Upper <= 2*c.Breaks.V {
				return fmt.Sprintf("with the owner: %s of %s in %s without a break", moreMinutes(float64(k)*u.minutes), b.h.cue, count(k, "lesson"))
			}
		}
		return ""
	}
	met := func(s []cueSitting) bool {
		w, cautious := lastWindow(s, ownerWindow, b.h.c.ICC, own)
		return shareStanding(w, cautious, c.OwnerRate, c.OwnerFloor, c.ContextBar, c.ContextTrials, w.bestOf >= c.OwnerTrials && w.sittings >= c.OwnerLessons) == Met
	}
	sits := b.h.atTarget(b.sits)
	if met(sits) {
		return ""
	}
	w, _ := lastWindow(sits, ownerWindow, b.h.c.ICC, own)
	q := b.tomorrow()
	q.handler = len(b.h.sc.handlers)
	missing := max(0, c.OwnerLessons-w.sittings)
	s := b.h.words(b.h.asksUntil(sits, q, u.asks, missing, 0, met), b.h.asksUntil(sits, q, u.asks, missing, 1, met))
	if s == "" {
		return ""
	}
	return "with the owner, to confirm: " + s
}

// GateGoal is an owner's goal with a place, distraction, handler or bar of its
// own.
const GateGoal GateName = "goal"

// special lists the dog's goals for the cue that ask for more than the cue.
func (h *history) special() []training.Goal {
	var out []training.Goal
	for _, g := range h.sc.rec.Dog.Goals {
		if training.Key(h.sc.cueName(g.Cue)) == training.Key(h.cue) && (g.Place != "" || g.Distraction.Known || g.Handler != "" || g.Bar.Known) {
			out = append(out, g)
		}
	}
	return out
}

// matches reports whether a sitting's session counts for a goal: the place, the
// handler, and a distraction at least as hard.
func (h *history) matches(g training.Goal, q cueSitting, s *training.Session) bool {
	k := h.sc.rec.Kennel
	if g.Place != "" && !sameName(g.Place, h.sc.places[q.place].name, func(n string) string { p, _ := k.Place(n); return p.Name }) {
		return false
	}
	if g.Handler != "" && !sameName(g.Handler, h.sc.handlers[q.handler].name, func(n string) string { p, _ := k.Handler(n); return p.Name }) {
		return false
	}
	return !g.Distraction.Known || s != nil && s.Distraction.Known && s.Distraction.V >= g.Distraction.V
}

// goalPart keeps only the trials that count for a goal.
func (h *history) goalPart(g training.Goal, sits []cueSitting) []cueSitting {
	var out []cueSitting
	for _, q := range sits {
		part := cueSitting{day: q.day, handler: q.handler, place: q.place, s: q.s}
		for _, e := range q.trials {
			if !h.matches(g, q, e.s) {
				continue
			}
			part.score(h, *e.t)
		}
		if part.scored() {
			out = append(out, part)
		}
	}
	return out
}

func goalWords(g training.Goal) string {
	s := g.Cue
	if g.Place != "" {
		s += " at " + g.Place
	}
	if g.Handler != "" {
		s += " with " + g.Handler
	}
	if g.Distraction.Known {
		s += fmt.Sprintf(", distraction %s or more", plain(g.Distraction.V))
	}
	return s
}

// goalGate holds the trials that match a goal, of the last eight sittings with
// such trials, against the goal's bar (the cue's rate where it has none): as
// many trials as make a handler or place judged, in two sittings.
func (h *history) goalGate(sits []cueSitting, b *bench) []Gate {
	var out []Gate
	for _, g := range h.special() {
		gate := Gate{Name: GateGoal, Standing: Short}
		part := h.goalPart(g, sits)
		if h.kind == training.Motion {
			breaks, minutes, n := walked(part, contextWindow, func(*cueSitting) bool { return true })
			gate.Bar = h.c.Breaks
			if minutes > 0 && h.c.Breaks.Known {
				r := must(stats.Garwood(float64(breaks), minutes, 0.95))
				gate.Figure = training.Known(r.Rate)
				switch {
				case atLeast(minutes, h.c.PlaceMinutes) && n >= h.c.PlaceSessions && atMost(r.Rate, h.c.Breaks.V):
					gate.Standing = Met
				case !atMost(r.Lower, h.c.Breaks.V):
					gate.Standing = Failed
				}
			}
			gate.Say = b.sayf("Goal %s: %s in %s min over %s.", goalWords(g), count(breaks, "break"), mins(minutes), count(n, "session"))
			out = append(out, gate)
			continue
		}
		bar := h.goalBar(g)
		w, _ := lastWindow(part, contextWindow, h.c.ICC, func(*cueSitting) bool { return true })
		gate.Bar = training.Known(bar)
		gate.Standing = h.goalStanding(w, bar)
		if w.of > 0 {
			gate.Figure = training.Known(w.rate())
			gate.Say = b.sayf("Goal %s: %d/%d (%s) in %s; %s in %s, %s are asked for.", goalWords(g), w.yes, w.of, percent(w.rate(), bar), count(w.sittings, "session"),
				count(h.c.ContextTrials, "trial"), count(h.c.PlaceSessions, "session"), barOf(bar))
		} else {
			gate.Say = b.sayf("Goal %s: not tried yet; %s in %s, %s on the first ask are asked for.", goalWords(g), count(h.c.ContextTrials, "trial"), count(h.c.PlaceSessions, "session"), barOf(bar))
		}
		out = append(out, gate)
	}
	return out
}

func (h *history) goalBar(g training.Goal) float64 {
	if g.Bar.Known {
		return g.Bar.V
	}
	return h.c.Rate
}

func (h *history) goalStanding(w window, bar float64) Standing {
	switch {
	case w.of == 0:
		return Short
	case w.bestOf >= h.c.ContextTrials && w.sittings >= h.c.PlaceSessions && atLeast(w.bestRate, bar):
		return Met
	case !atLeast(w.atBest(h.c.ContextTrials), bar):
		return Failed
	}
	return Short
}

func (b *bench) changeGoals(u usual) []string {
	if b.h.kind == training.Motion {
		return nil
	}
	var out []string
	all := func(*cueSitting) bool { return true }
	for _, g := range b.h.special() {
		bar := b.h.goalBar(g)
		part := b.h.goalPart(g, b.sits)
		met := func(s []cueSitting) bool {
			w, _ := lastWindow(s, contextWindow, b.h.c.ICC, all)
			return b.h.goalStanding(w, bar) == Met
		}
		if met(part) {
			continue
		}
		q := b.tomorrow()
		missing := max(0, b.h.c.PlaceSessions-len(part))
		if s := b.h.words(b.lacks(b.h.asksUntil(part, q, u.asks, missing, 0, met), "for the goal "+goalWords(g)), b.h.asksUntil(part, q, u.asks, missing, 1, met)); s != "" {
			out = append(out, "goal "+goalWords(g)+": "+s)
		}
	}
	return out
}
