package analysis

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"

	"firstcue/internal/training"
)

// PlanReason says why a line is in the plan. The codes are stable.
type PlanReason string

// The reasons, in the order in which they are ranked.
const (
	PlanVet     PlanReason = "vet first"     // do not ask: slower or refused answers
	PlanSlip    PlanReason = "slipping"      // the alarm is on: easier step, quiet place
	PlanNever   PlanReason = "not asked yet" // agreed, not asked since teaching began
	PlanBlocked PlanReason = "blocked"       // a gate lacks this person, place or number
	PlanStale   PlanReason = "stale"         // not asked for some days
	PlanDrop    PlanReason = "easier"        // two or fewer of the last five
	PlanStay    PlanReason = "same"          // three of the last five
	PlanPush    PlanReason = "harder"        // four or five of the last five
	PlanEasy    PlanReason = "easy end"      // ends the session
)

// PlanLine is one thing to do in the next session.
type PlanLine struct {
	Rank    int // 1 = first
	Cue     string
	Kind    training.Kind
	Reason  PlanReason
	What    string  // "8 downs", "2 holds of stay for 1:00 min"
	Why     string  // one sentence
	Asks    int     // 0 for a walk, and where the cue is to be left out
	Minutes float64 // about how long it takes; for a walk, how long to walk
	Who     string  // handler by name; "" = whoever has the dog
	Not     string  // "" or the one handler it must not be
	Where   string  // place by name, or in words; "" = anywhere
}

// Time an ask takes with reward and reset. Common practice, no source.
const askMinutes = 0.5

// lastFive is the size of the sets of the push-drop-stick rule.
const lastFive = 5

// Plan says what to do next, ranked by what it would change: a sign of pain
// first (leave the cue out), then what is slipping, then what was agreed and
// never asked, then the people and places that a verdict waits for (not while an
// incident is open), then what was not asked for a while, then
// one step harder, the same or easier by the last five asks (4-5 right, 3, 2 or
// fewer: the push-drop-stick rule of J. Donaldson). A cue has one line, so that
// a session serves as many cues as it can. It always ends with an easy cue. With minutes above 0 it takes lines in order as long as they fit.
//
// Cues on hold are not in it. It is a function of its arguments alone.
func Plan(a Assessment, r training.Record, criteria CriteriaFunc, minutes int) []PlanLine {
	for _, h := range a.Holds {
		if h.Covers(a.AsOf, "") {
			return nil
		}
	}
	sc := newScene(r, a.AsOf)
	hist := sc.histories(criteria)
	main, _ := sc.mainTrainer(a.Baseline, a.AsOf)
	var lines []PlanLine
	for i := range a.Cues {
		c := &a.Cues[i]
		if c.Verdict == OnHold {
			continue
		}
		for _, h := range hist {
			if h.cue == c.Cue {
				if l, ok := h.planCue(a, c, main); ok {
					lines = append(lines, l)
				}
			}
		}
	}
	if len(a.Dog.Goals) > 0 {
		for _, name := range a.NeverTried {
			if sc.heldOn(a.AsOf, name) {
				continue
			}
			l := PlanLine{Cue: name, Kind: training.Response, Reason: PlanNever, Asks: 3, Minutes: 3 * askMinutes,
				Why: "Agreed with the owner and never asked: three cold asks without help for a start."}
			if slices.Contains(a.BeforeOnly, name) {
				l.Why = "Agreed with the owner and asked before teaching only: three cold asks without help for a start."
			}
			if q, ok := r.Kennel.Cue(name); ok && q.Kind != "" {
				l.Kind = q.Kind
			}
			l.What = (&history{cue: name, kind: l.Kind}).asks(3, "")
			if l.Kind == training.Motion {
				l.Asks, l.Minutes, l.What = 0, 2, "2 minutes of "+name
				l.Why = "Agreed with the owner and never walked: two minutes without help for a start."
			}
			lines = append(lines, l)
		}
	}
	rank := map[PlanReason]int{PlanVet: 0, PlanSlip: 1, PlanNever: 2, PlanBlocked: 3, PlanStale: 4, PlanDrop: 5, PlanStay: 6, PlanPush: 7}
	agreed := func(l PlanLine) int { return 1 - one(sc.agreed(l.Cue)) }
	// What would complete a verdict comes before what is one thing of many.
	blocks := func(l PlanLine) int {
		for _, c := range a.Cues {
			if c.Cue == l.Cue {
				n := 0
				for _, g := range c.Gates {
					n += one(!g.Met())
				}
				return n
			}
		}
		return 0
	}
	slices.SortStableFunc(lines, func(x, y PlanLine) int {
		return cmp.Or(cmp.Compare(rank[x.Reason], rank[y.Reason]), cmp.Compare(agreed(x), agreed(y)), cmp.Compare(blocks(x), blocks(y)))
	})
	easy, hasEasy := easyEnd(a)
	if minutes > 0 {
		left := float64(minutes)
		if hasEasy {
			left -= easy.Minutes
		}
		var fit []PlanLine
		for _, l := range lines {
			if l.Kind == training.Holding && l.Asks > 2 && l.Minutes > left+1e-9 {
				l = l.fewer(left) // long holds: some are better than none
			}
			if l.Minutes <= left+1e-9 {
				fit = append(fit, l)
				left -= l.Minutes
			}
		}
		lines = fit
	}
	if hasEasy {
		lines = append(lines, easy)
	}
	for i := range lines {
		lines[i].Rank = i + 1
	}
	return lines
}

// fewer is the line with as many asks as fit into the minutes, never under two.
func (l PlanLine) fewer(minutes float64) PlanLine {
	each := l.Minutes / float64(l.Asks)
	n := min(l.Asks, max(2, int(minutes/each+1e-9)))
	l.What = strings.Replace(l.What, strconv.Itoa(l.Asks), strconv.Itoa(n), 1)
	l.Asks, l.Minutes = n, float64(n)*each
	return l
}

// easyEnd is the cue to end with: the one that goes best.
func easyEnd(a Assessment) (PlanLine, bool) {
	best, at := -1.0, -1
	for i, c := range a.Cues {
		if c.Verdict == OnHold || c.Latency != nil && c.Latency.Doubled || c.FirstCue == nil || c.FirstCue.Yes == 0 || !c.FirstCue.Current.Cautious.Known || c.Alarm.On {
			continue // what was never answered is not easy
		}
		if v := c.FirstCue.Current.Cautious.V; v > best {
			best, at = v, i
		}
	}
	if at < 0 {
		for i, c := range a.Cues { // nothing but walks
			if c.Kind == training.Motion && c.Verdict != OnHold && c.Breaks != nil && c.Breaks.Minutes > 0 {
				return PlanLine{Cue: a.Cues[i].Cue, Kind: c.Kind, Reason: PlanEasy, What: "2 minutes of " + c.Cue, Minutes: 2, Why: "End with something easy."}, true
			}
		}
		return PlanLine{}, false
	}
	c := a.Cues[at]
	return PlanLine{Cue: c.Cue, Kind: c.Kind, Reason: PlanEasy, Asks: 2, Minutes: 2 * askMinutes, What: (&history{cue: c.Cue, kind: c.Kind}).asks(2, ""),
		Why: fmt.Sprintf("End with something easy: %d/%d on the first ask.", c.FirstCue.Yes, c.FirstCue.Of)}, true
}

// planCue gives the one line of a cue; false = there is nothing to do for it.
func (h *history) planCue(a Assessment, c *CueAssessment, main int) (PlanLine, bool) {
	sc := h.sc
	sits := span(h.sits, sc.baseline(a.AsOf, h.cue), a.AsOf)
	if c.Latency != nil && c.Latency.Doubled {
		return PlanLine{Cue: h.cue, Kind: h.kind, Reason: PlanVet, What: "leave " + h.cue + " out",
			Why: fmt.Sprintf("Median answer %s s, %s s before: slower can be pain. Ask the owner's vet first.", figure(c.Latency.Last.V, 1), figure(c.Latency.Baseline.V, 1))}, true
	}
	u := usualOf(sits)
	b := &bench{h: h, sits: sits, day: a.AsOf, main: main, say: true}
	b.flags = b.contextFlags()
	line := func(reason PlanReason, asks int, why string) PlanLine {
		l := PlanLine{Cue: h.cue, Kind: h.kind, Reason: reason, Why: why}
		switch h.kind {
		case training.Motion:
			l.Minutes = u.minutes
			l.What = fmt.Sprintf("%s minutes of %s", plain(u.minutes), h.cue)
		case training.Holding:
			hold := 0.0
			if h.c.Target.Known {
				hold = h.c.Target.V / 60
			}
			// A session is not spent on one long hold ten times over.
			asks = min(asks, max(2, int(10/(hold+askMinutes))))
			l.Asks, l.Minutes = asks, float64(asks)*(hold+askMinutes)
			l.What = h.asks(asks, "")
		default:
			l.Asks, l.Minutes = asks, float64(asks)*askMinutes
			l.What = h.asks(asks, "")
		}
		return l
	}
	if c.Alarm.On {
		l := line(PlanSlip, 5, "Slipping since "+c.Alarm.Since.String()+": an easier step in a quiet place.")
		l.Where = h.quietPlace(sits)
		return l, true
	}
	stale := ""
	if n := int(a.AsOf - c.LastDay); c.LastDay != 0 && n > h.c.StaleDays {
		stale = fmt.Sprintf("Not asked for %s.", count(n, "day"))
	}
	step, stepped := h.step(sits, notHarder(a, c), line)
	if c.Agreed && len(a.Incidents) == 0 { // with an incident open nothing new is tried
		if l, ok := h.blocked(c, b, u, main, line); ok {
			switch {
			case stale != "":
				l.Why += " " + stale + " Begin with an easy one."
			case stepped && (step.Reason == PlanDrop || l.Who+l.Not+l.Where == ""):
				// Somebody or somewhere else is a harder step already.
				l.Why += " " + step.Why
			}
			return l, true
		}
	}
	if stale != "" {
		return line(PlanStale, 3, stale+" The same step as last time, or an easier one."), true
	}
	return step, stepped
}

// planPart is a line that may serve several gates.
type planPart struct {
	PlanLine
	short []string // what it serves
	weak  string   // whom or where it is about when below standard
}

func (p planPart) at(who, not, where string) planPart {
	p.Who, p.Not, p.Where = who, not, where
	return p
}

// elsewhere says who and where.
func (p planPart) elsewhere() string {
	var s []string
	if p.Who != "" {
		s = append(s, "with "+p.Who)
	}
	if p.Not != "" {
		s = append(s, "without "+p.Not)
	}
	if p.Where != "" {
		s = append(s, "at "+p.Where)
	}
	return strings.Join(s, " ")
}

// blocked gives the line for the gates that lack something. What can be done in
// one go is one line: somebody else, somewhere else, and towards the level. What
// cannot is named for another time; what is below standard comes first, then what
// serves most gates.
func (h *history) blocked(c *CueAssessment, b *bench, u usual, main int, line func(PlanReason, int, string) PlanLine) (PlanLine, bool) {
	sc := h.sc
	// A portion that can be done in one session.
	portionOf := func(n int) int { return min(max(n, 5), 12) }
	var parts []planPart
	add := func(asks int, who, not, where, short, weak string) {
		for i := range parts {
			p := &parts[i]
			if who != "" && (p.Who != "" && p.Who != who || p.Not == who) || not != "" && (p.Not != "" && p.Not != not || p.Who == not) ||
				where != "" && p.Where != "" && p.Where != where {
				continue
			}
			*p = planPart{line(PlanBlocked, max(p.Asks, asks), ""), p.short, cmp.Or(p.weak, weak)}.at(cmp.Or(p.Who, who), cmp.Or(p.Not, not), cmp.Or(p.Where, where))
			if p.Who != "" {
				p.Not = ""
			}
			if !slices.Contains(p.short, short) {
				p.short = append(p.short, short)
			}
			return
		}
		parts = append(parts, planPart{line(PlanBlocked, asks, ""), []string{short}, weak}.at(who, not, where))
	}
	for _, g := range c.Gates {
		if g.Met() {
			continue
		}
		switch g.Name {
		case GatePeople:
			who, not, weak := "", b.notMain(), ""
			for _, f := range b.flags {
				if f.kind == ByHandler && f.handler != main {
					who, not, weak = sc.handlers[f.handler].name, "", b.flagWords(f)
				}
			}
			if main < 0 && not == b.mainName() {
				not = ""
			}
			add(portionOf(u.asks), who, not, "", "other people", weak)
		case GatePlaces:
			for _, w := range b.changePlaces(u) {
				// "at the barn: 4 more sits in 1 session" or "one more place off property: ..."
				where, _, _ := strings.Cut(strings.TrimPrefix(w, "at "), ": ")
				where = strings.Replace(where, "one more place", "a new place", 1)
				add(portionOf(max(4, h.c.PlaceTrials/max(1, h.c.PlaceSessions))), "", "", where, "more places", "")
			}
		case GateContext:
			for _, f := range b.flags {
				if f.kind == ByHandler && f.handler != main {
					continue // the people gate has it
				}
				who, where := "", ""
				if f.kind != ByPlace {
					who = sc.handlers[f.handler].name
				}
				if f.kind != ByHandler {
					where = sc.places[f.place].name
				}
				add(portionOf(u.asks), who, "", where, "the weak spot", b.flagWords(f))
			}
		case GateEnough, GateLevel, GatePosition, GateHold, GateSpeed:
			if g.Standing == Failed {
				continue // the step by the last five asks says more
			}
			n := u.asks
			if c.CleanMin.Known {
				n = int(math.Min(c.CleanMin.V, float64(u.asks)))
			}
			short := map[GateName]string{GateEnough: "more asks", GateLevel: "the level", GatePosition: "fewer breaks", GateHold: "holds to the target", GateSpeed: "quicker answers"}[g.Name]
			add(portionOf(n), "", "", "", short, "")
		}
	}
	if len(parts) == 0 {
		return PlanLine{}, false
	}
	slices.SortStableFunc(parts, func(x, y planPart) int {
		return cmp.Or(cmp.Compare(one(y.weak != ""), one(x.weak != "")), cmp.Compare(len(y.short), len(x.short)))
	})
	l := parts[0].PlanLine
	l.Why = "Still missing: " + list(parts[0].short) + "."
	if weak := parts[0].weak; weak != "" {
		l.Why = "Below standard: " + weak + ". An easier step first."
	}
	var later []string
	for _, p := range parts[1:] {
		if s := p.elsewhere(); s != "" && !strings.HasPrefix(p.Where, "a new place") && !slices.Contains(later, s) {
			later = append(later, s)
		}
	}
	if len(later) > 0 {
		l.Why += " Another time: " + list(later) + "."
	}
	return l, true
}

// quietPlace is the place on the kennel's ground where the cue went best.
func (h *history) quietPlace(sits []cueSitting) string {
	type sum struct{ yes, of int }
	at := make([]sum, len(h.sc.places))
	for _, q := range sits {
		at[q.place].yes += q.yes
		at[q.place].of += q.of
	}
	best, score := -1, -1.0
	for i, s := range at {
		if s.of == 0 || h.sc.places[i].off {
			continue
		}
		if v := float64(s.yes+1) / float64(s.of+2); v > score || v == score && h.sc.places[i].name < h.sc.places[best].name {
			best, score = i, v
		}
	}
	if best < 0 {
		return "a quiet place"
	}
	return h.sc.places[best].name
}

// step applies the push-drop-stick rule to the last five scored asks.
// harder says why it must not be made harder, "" = it may.
func (h *history) step(sits []cueSitting, harder string, line func(PlanReason, int, string) PlanLine) (PlanLine, bool) {
	yes, of := 0, 0
	for i := len(sits) - 1; i >= 0 && of < lastFive; i-- {
		for j := len(sits[i].trials) - 1; j >= 0 && of < lastFive; j-- {
			t := *sits[i].trials[j].t
			if t.Outcome == training.Counted {
				return PlanLine{}, false // a tally has no last five
			}
			y, n := h.asked(t)
			yes += y
			of += n
		}
	}
	if of < lastFive {
		return PlanLine{}, false
	}
	switch PushStayDrop(yes) {
	case PlanPush:
		if harder != "" {
			return line(PlanStay, lastFive, fmt.Sprintf("%d of the last five right, but not harder yet: %s.", yes, harder)), true
		}
		return line(PlanPush, lastFive, fmt.Sprintf("%d of the last five right: one step harder, in distance, duration or distraction, and only one of them.", yes)), true
	case PlanStay:
		return line(PlanStay, lastFive, fmt.Sprintf("%d of the last five right: the same step again.", yes)), true
	}
	return line(PlanDrop, lastFive, fmt.Sprintf("%d of the last five right: one step easier.", yes)), true
}

// PushStayDrop is the rule of J. Donaldson for sets of five: 4 or 5 right make
// it harder, 3 keep it, 2 or fewer make it easier.
func PushStayDrop(right int) PlanReason {
	switch {
	case right >= 4:
		return PlanPush
	case right == 3:
		return PlanStay
	}
	return PlanDrop
}

// DogPlan is one dog's plan for a day sheet.
type DogPlan struct {
	Dog   string
	Main  string // who has the dog when a line names nobody
	Lines []PlanLine
}

// HandlerSheet is what one handler does that day.
type HandlerSheet struct {
	Handler string // "anyone but Maren" where a line only rules somebody out
	Lines   []SheetLine
}

// SheetLine is a line of a plan with its dog.
type SheetLine struct {
	Dog string
	PlanLine
}

// DaySheet sorts the plans of all dogs by handler, names in order, those that
// name nobody in particular last.
func DaySheet(plans []DogPlan) []HandlerSheet {
	var out []HandlerSheet
	for _, p := range plans {
		for _, l := range p.Lines {
			who := l.Who
			switch {
			case who == "" && l.Not != "":
				who = "anyone but " + l.Not
			case who == "" && p.Main != "":
				who = p.Main
			case who == "":
				who = "anyone"
			}
			i := slices.IndexFunc(out, func(s HandlerSheet) bool { return s.Handler == who })
			if i < 0 {
				i = len(out)
				out = append(out, HandlerSheet{Handler: who})
			}
			out[i].Lines = append(out[i].Lines, SheetLine{p.Dog, l})
		}
	}
	slices.SortStableFunc(out, func(a, b HandlerSheet) int {
		any := func(s string) int { return one(strings.HasPrefix(s, "anyone")) }
		return cmp.Or(cmp.Compare(any(a.Handler), any(b.Handler)), strings.Compare(a.Handler, b.Handler))
	})
	return out
}

// notHarder says what forbids one step harder: an open incident, corrections that
// rise, a sign of a health problem in any cue, or something credibly failed.
func notHarder(a Assessment, c *CueAssessment) string {
	switch {
	case len(a.Incidents) > 0:
		return "an incident is open"
	case c.risingCorrections():
		return "corrections are rising"
	}
	for _, o := range a.Cues { // pain is the dog's and not the cue's
		switch {
		case o.Latency != nil && o.Latency.Doubled:
			return "answers to " + o.Cue + " have become slow, which can be pain"
		case o.Alarm.On:
			return o.Cue + " is slipping, which can be pain"
		}
	}
	for _, g := range c.Gates {
		if g.Standing == Failed {
			return "the cue is still below standard somewhere"
		}
	}
	return ""
}
