package report

import (
	"fmt"
	"io"
	"regexp"
	"sort"
	"strings"

	"firstcue/internal/analysis"
	"firstcue/internal/say"
	"firstcue/internal/training"
)

// PacketOptions are what the owner's packet needs that no record holds.
type PacketOptions struct {
	Options
	Handoff training.Day // day the dog goes home; 0 = the boarding's, else the day of the assessment
	Kennel  string       // name of the kennel, "" = not printed
	Contact string       // whom the owner calls about training, e.g. a telephone number
	Vet     string       // the owner's vet
}

// ownerVerdicts are the verdicts in words for somebody who has not seen the
// criteria. "Not shown" must never be read as "ready".
var ownerVerdicts = map[analysis.Verdict]string{
	analysis.Ready: "ready", analysis.NotShown: "not shown yet", analysis.NotReady: "not ready", analysis.OnHold: "on hold, vet",
}

// Packet writes the owner's handoff packet: one self-contained page to read on
// a phone or to print. It holds nothing of another dog or another owner: people
// who do not train this dog stand without their names, and the names of other
// dogs and owners of the kennel are taken out of every free text.
func Packet(w io.Writer, a analysis.Assessment, r training.Record, o PacketOptions) error {
	p := packet(a, r, o)
	return p.html(w, o.Options)
}

type packetMaker struct {
	a         analysis.Assessment
	r         training.Record
	o         PacketOptions
	dog       string
	handoff   training.Day
	sessions  []training.Session
	others    *regexp.Regexp    // names of other dogs and owners
	role      map[string]string // key of such a name -> what stands for it
	outsiders *regexp.Regexp    // names of people who do not train the dog
	people    map[string]string // key of an outsider -> what stands for the name
	p         page
}

func packet(a analysis.Assessment, r training.Record, o PacketOptions) page {
	m := &packetMaker{a: a, r: r, o: o, dog: say.Plain(a.Dog.Name), sessions: standingSessions(a, r)}
	m.handoff = o.Handoff
	for _, d := range []training.Day{a.Boarding.Home, a.Boarding.Due, a.AsOf} {
		if m.handoff == 0 {
			m.handoff = d
		}
	}
	m.findStrangers()
	m.p = page{nav: true, title: m.dog, aside: m.subtitle(), verdict: a.Verdict, banner: strings.ToUpper(ownerVerdicts[a.Verdict]), tail: m.headline()}
	m.opening()
	m.words()
	m.proven()
	m.charts()
	m.homework()
	m.equipment()
	m.rechecks()
	m.warnings()
	m.incidents()
	m.cautions()
	m.figures()
	m.p.foot = "How things were on " + say.LongDay(a.AsOf) + "."
	if say.Plain(o.Kennel) != "" {
		m.p.foot = say.Plain(o.Kennel) + ". " + m.p.foot
	}
	if !o.Generated.IsZero() {
		m.p.foot += " Made " + o.Generated.Format("2006-01-02 15:04") + "."
	}
	return m.p
}

func (m *packetMaker) section(title string) { m.p.blocks = append(m.p.blocks, heading{text: title}) }
func (m *packetMaker) subsection(title string) {
	m.p.blocks = append(m.p.blocks, heading{text: title, level: 3})
}
func (m *packetMaker) put(b ...block) { m.p.blocks = append(m.p.blocks, b...) }

// findStrangers collects the names that must not stand in this owner's packet.
func (m *packetMaker) findStrangers() {
	m.role, m.people = map[string]string{}, map[string]string{}
	mine := map[string]bool{training.Key(m.a.Dog.Name): true}
	for _, s := range append(append([]string(nil), m.a.Dog.Owners...), m.a.Dog.Aliases...) {
		mine[training.Key(s)] = true
	}
	for _, c := range m.r.Kennel.Cues { // a dog called Sit must not turn every sit into "another dog"
		mine[training.Key(c.Name)] = true
	}
	var names []string
	stand := func(name, for_ string) {
		k := training.Key(name)
		if k == "" || mine[k] || m.role[k] != "" {
			return
		}
		m.role[k] = for_
		names = append(names, name)
	}
	for _, d := range m.r.Kennel.Dogs {
		if d.ID == m.a.Dog.ID && d.ID != "" || training.Key(d.Name) == training.Key(m.a.Dog.Name) {
			continue
		}
		for _, n := range append([]string{d.Name}, d.Aliases...) {
			stand(n, "another dog")
		}
		for _, n := range d.Owners {
			stand(n, "another owner")
		}
	}
	n := 0
	var outsiders []string
	for _, h := range m.r.Kennel.Handlers {
		role := m.a.Dog.RoleOf(h)
		if h.Role == training.Owner && role == training.Outsider {
			for _, x := range append([]string{h.Name}, h.Aliases...) {
				stand(x, "another owner")
			}
		}
		if role == training.Outsider {
			n++
			m.people[training.Key(h.Name)] = fmt.Sprintf("somebody new to %s (%d)", m.dog, n)
			outsiders = append(outsiders, h.Name)
		}
	}
	m.others, m.outsiders = anyOf(names), anyOf(outsiders)
}

// anyOf finds any of the names as a word of its own; nil without a name.
func anyOf(names []string) *regexp.Regexp {
	if len(names) == 0 {
		return nil
	}
	// the longest first, or "Mr Aldous" would go before "Mr Aldous Reed"
	sort.Slice(names, func(i, j int) bool {
		if len(names[i]) != len(names[j]) {
			return len(names[i]) > len(names[j])
		}
		return names[i] < names[j]
	})
	for i, s := range names {
		names[i] = strings.ReplaceAll(regexp.QuoteMeta(s), " ", `\s+`)
	}
	return regexp.MustCompile(`(?i)(^|[^\pL\pN])(` + strings.Join(names, "|") + `)($|[^\pL\pN])`)
}

// say makes a free text fit for this owner's eyes.
func (m *packetMaker) say(s string) string {
	if m.others != nil {
		for range 2 { // two names side by side share the blank between them
			s = m.others.ReplaceAllStringFunc(s, func(hit string) string {
				part := m.others.FindStringSubmatch(hit)
				return part[1] + m.role[training.Key(part[2])] + part[3]
			})
		}
	}
	return say.Plain(s)
}

// person names a handler, or says who somebody is that does not train the dog.
func (m *packetMaker) person(name string, role training.Role) string {
	if s, ok := m.people[training.Key(name)]; ok {
		return s
	}
	if role == training.Outsider {
		return "somebody new to " + m.dog
	}
	s := m.say(name)
	if role == training.Owner {
		s += " (owner)"
	}
	return s
}

func (m *packetMaker) owners() string {
	names := make([]string, len(m.a.Dog.Owners))
	for i, n := range m.a.Dog.Owners {
		names[i] = say.Plain(n)
	}
	return say.List(names)
}

func (m *packetMaker) subtitle() string {
	s := "Handoff packet"
	if o := m.owners(); o != "" {
		s += " for " + o
	}
	if m.a.Stay && m.a.Boarding.Arrived != 0 {
		s += ". With us from " + say.LongDay(m.a.Boarding.Arrived)
		if m.handoff != 0 {
			s += ", home on " + say.LongDay(m.handoff)
		}
	}
	return s + "."
}

func (m *packetMaker) headline() string {
	if m.a.AgreedCues == 0 {
		return ""
	}
	are := "are"
	if m.a.ReadyCues == 1 {
		are = "is"
	}
	if len(m.a.Dog.Goals) == 0 {
		return fmt.Sprintf("%d of the %s %s ready. No goal was written down with you; every cue is judged.", m.a.ReadyCues, say.Count(m.a.AgreedCues, "cue"), are)
	}
	return fmt.Sprintf("%d of the %s agreed with you %s ready.", m.a.ReadyCues, say.Count(m.a.AgreedCues, "cue"), are)
}

// asks tells a share the way this packet always does: with its count.
func asks(s analysis.Share) string {
	return fmt.Sprintf("%d of %s", s.Yes, say.Count(s.Of, "first ask"))
}

func (m *packetMaker) opening() {
	a := m.a
	if s := m.say(a.Boarding.Wishes); a.Stay && s != "" {
		m.put(para("You asked for: " + say.Ended(s)))
	}
	if s := m.say(afresh(a)); s != "" {
		m.put(para(s))
	}
	usual := m.o.Usual
	if usual == nil {
		usual = UsualBars(m.r.Kennel)
	}
	if s := changedBars(a, usual); s != "" {
		m.put(para(s))
	}
	switch a.Verdict {
	case analysis.Ready:
		m.put(para(fmt.Sprintf("%s met every bar that we agreed, in the places and with the people listed below. It is not a promise: what %s learnt here needs your practice at home.", m.dog, m.dog)))
	case analysis.OnHold:
		m.put(para("Training is on hold on the vet's word. Please do not practise until your vet says so. Everything below is how things stood before the hold."))
	case analysis.NotShown:
		m.put(para(fmt.Sprintf("Some of what we agreed has not been tried often enough, or not in enough places, to say that %s can do it. \"Not shown yet\" does not mean ready, and it does not mean failed.", m.dog)))
	default:
		m.put(para(fmt.Sprintf("Some of what we agreed is not there yet. Below is what %s can do, where, and with whom, and what still needs work.", m.dog)))
	}
	conf := "Your own practice: you and " + m.dog + " have shown it together for every agreed cue."
	if !a.OwnerConfirmed {
		var yes, no []string
		for _, c := range a.Cues {
			if !c.Agreed {
				continue
			}
			if c.Owner.Confirmed {
				yes = append(yes, say.Plain(c.Cue))
			} else {
				no = append(no, say.Plain(c.Cue))
			}
		}
		switch {
		case len(yes) == 0:
			conf = m.dog + " answering us does not yet show that " + m.dog + " answers you. Your own lessons decide that, cue by cue."
		default:
			conf = "With you as the one who asks, " + say.List(yes) + " " + isAre(len(yes)) + " shown. Still to be shown with you: " + say.List(no) + "."
		}
	}
	m.put(para(conf))
	m.put(para("Every figure says how many tries stand behind it. \"18 of 20 first asks\" means: asked twenty times, and eighteen times " + m.dog + " did it at once, with no second ask, no help and no correction. Few tries prove little, even when all went well."))
	g := grid{caption: "At a glance", verdict: 1, rowHead: true, columns: []column{{"Cue", Left}, {"How it stands", Left}, {"Answered", Left}, {"With you", Left}, {"Why", Left}}}
	for _, c := range a.Cues {
		mine := orWord(ownersFigure(c), "not tried yet")
		if c.Owner.Confirmed {
			mine += ", shown"
		}
		name := say.Plain(c.Cue)
		if !c.Agreed {
			name += "\nnot one we agreed"
		}
		g.rows = append(g.rows, []string{name, ownerVerdicts[c.Verdict], m.answered(c), mine, m.why(c)})
	}
	if len(g.rows) > 0 {
		m.put(g)
	}
	if len(a.NeverTried) > 0 {
		var list, early []string
		for _, n := range a.NeverTried {
			if b, ok := beforeOf(m.o.Before, n); ok {
				early = append(early, m.say(n)+" ("+b.figure()+")")
			} else {
				list = append(list, m.say(n))
			}
		}
		if len(list) > 0 {
			m.put(para("Not taught or not tried here: " + say.List(list) + "."))
		}
		if len(early) > 0 {
			m.put(para("Tried before any teaching, and not since: " + say.List(early) + "."))
		}
	}
}

// ownerGates are the gates in the owner's words: what is said when one has not
// been shown, and when it has been missed.
var ownerGates = map[analysis.GateName][2]string{
	analysis.GateEnough:      {"not tried often enough", "not tried often enough"},
	analysis.GateLevel:       {"not yet sure on the first ask", "too often needs more than one ask"},
	analysis.GatePeople:      {"not yet shown with other people", "does not yet do it for other people"},
	analysis.GatePlaces:      {"not yet shown in enough places", "not yet shown in enough places"},
	analysis.GateContext:     {"weak with somebody, or somewhere, listed below", "weak with somebody, or somewhere, listed below"},
	analysis.GateSpeed:       {"not timed often enough", "too slow to answer"},
	analysis.GateHold:        {"not yet sure to hold long enough", "does not hold long enough"},
	analysis.GatePosition:    {"not walked long enough to tell", "leaves position too often"},
	analysis.GateCorrections: {"still needs corrections", "still needs corrections"},
	"goal":                   {"not yet shown the way you asked for", "not yet the way you asked for"},
	analysis.GateClosed:      {"an incident or a vet hold is open", "an incident or a vet hold is open"},
}

// why says in an owner's words what stands in the way, the missed gates first.
func (m *packetMaker) why(c analysis.CueAssessment) string {
	if c.Verdict == analysis.Ready {
		return "Shown with " + strings.ReplaceAll(coverCell(c), "\n", ", ") + "."
	}
	var list []string
	said := map[analysis.GateName]bool{} // two goals of a cue are one reason
	for i, st := range []analysis.Standing{analysis.Failed, analysis.Short} {
		for _, g := range c.Gates {
			if w, ok := ownerGates[g.Name]; ok && g.Standing == st && !said[g.Name] {
				said[g.Name] = true
				list = append(list, w[1-i])
			}
		}
	}
	if len(list) == 0 {
		return say.Sentence(m.reason(c))
	}
	return say.Sentence(strings.Join(list, "; "))
}

// reason is the cue's reason as the report has it, with nobody named who does
// not train the dog.
func (m *packetMaker) reason(c analysis.CueAssessment) string {
	s := m.say(c.Reason)
	if m.outsiders != nil {
		for range 2 { // as in say
			s = m.outsiders.ReplaceAllStringFunc(s, func(hit string) string {
				part := m.outsiders.FindStringSubmatch(hit)
				return part[1] + m.people[training.Key(part[2])] + part[3]
			})
		}
	}
	return s
}

func isAre(n int) string {
	if n == 1 {
		return "is"
	}
	return "are"
}

// answered is the cue's main figure in an owner's words.
func (m *packetMaker) answered(c analysis.CueAssessment) string {
	var s []string
	if c.FirstCue != nil && c.FirstCue.Of > 0 {
		s = append(s, asks(c.FirstCue.Share))
	}
	if b := c.Before; b != nil && b.Of > 0 {
		s = append(s, "before teaching "+asks(*b))
	}
	if h := c.Hold; h != nil && h.Longest.Known {
		s = append(s, "longest hold "+atLeast(h)+spoken(h.Longest.V))
	}
	if b := c.Breaks; b != nil && c.Kind == training.Motion {
		s = append(s, fmt.Sprintf("left position %s in %s of walking", times(b.Count), say.Minutes(b.Minutes)))
	}
	if len(s) == 0 {
		return "not tried yet"
	}
	return strings.Join(s, "\n")
}

func times(n int) string {
	switch n {
	case 0:
		return "not once"
	case 1:
		return "once"
	case 2:
		return "twice"
	}
	return fmt.Sprintf("%d times", n)
}

// spoken says a time for the ear: "45 seconds", "3 min 2 s".
func spoken(s float64) string {
	n := int(s + 0.5)
	switch {
	case n < 60:
		return say.Count(n, "second")
	case n%60 == 0:
		return say.Count(n/60, "minute")
	}
	return fmt.Sprintf("%d min %d s", n/60, n%60)
}

func (m *packetMaker) words() {
	m.section("The words, and how each ends")
	m.put(para("Everybody in the family uses the same word and the same signal, says it once, and lets it end the same way."))
	var list cards
	for _, c := range m.a.Cues {
		word, signal, ends, meaning := cueWord(m.a.Dog, m.r.Kennel, c.Cue)
		k := card{Title: say.Plain(c.Cue), Mark: mark(c.Verdict), Verdict: ownerVerdicts[c.Verdict]}
		add := func(label, text string) {
			if text != "" {
				k.Rows = append(k.Rows, [2]string{label, text})
			}
		}
		if signal != "context" {
			add("Say", "\u201c"+word+"\u201d")
		}
		switch signal {
		case "voice", "":
		case "context":
			add("When", "without a word: the situation is the cue")
		default:
			add("Signal", signal)
		}
		add("Means", meaning)
		add("Ends", ends)
		if t := c.Criteria.Target; c.Kind == training.Holding && t.Known {
			add("For", spoken(t.V)+" at most for now")
		}
		add("Asked", onlySignal(c))
		if l := c.Criteria.Limit; c.Kind == training.Response && l.Known {
			add("Counts", "begun within "+say.Seconds(l.V)+" of the first ask")
		}
		for _, g := range m.a.Dog.Goals {
			if training.Key(g.Cue) == training.Key(c.Cue) && g.Words != "" {
				add("Goal", m.say(g.Words))
			}
		}
		list = append(list, k)
	}
	m.put(list)
}

// proven lists who asked where, cue by cue, and what nobody tried.
func (m *packetMaker) proven() {
	m.section("Where and with whom")
	m.put(para("A cue learnt in one place with one person is a new cue elsewhere. This is what was tried; what does not stand here was not tried."))
	for _, c := range m.a.Cues {
		g := grid{caption: sentenceCase(m.coverWords(c)), verdict: -1, rowHead: true,
			columns: []column{{"Asked by", Left}, {"Where", Left}, {"Answered", Left}, {"What that says", Left}}}
		var untried []string
		for _, x := range c.Contexts {
			if x.Kind != analysis.ByCell {
				continue
			}
			who := m.person(x.Handler, x.Role)
			place := m.say(x.Place)
			if !tried(x) {
				if x.Role != training.Outsider {
					untried = append(untried, who+" at "+place)
				}
				continue
			}
			if x.Off {
				place += ", away from the kennel"
			}
			sh, _ := judged(x)
			fig := asks(sh)
			if x.Breaks != nil {
				fig = fmt.Sprintf("left position %s in %s", times(x.Breaks.Count), say.Minutes(x.Breaks.Minutes))
			}
			g.rows = append(g.rows, []string{who, place, fig, m.contextWords(c, x)})
		}
		if len(g.rows) == 0 {
			for _, x := range c.Contexts {
				if !tried(x) {
					continue
				}
				switch x.Kind {
				case analysis.ByHandler:
					g.rows = append(g.rows, []string{m.person(x.Handler, x.Role), "all places", asks(x.Share), m.contextWords(c, x)})
				case analysis.ByPlace:
					g.rows = append(g.rows, []string{"everybody", m.say(x.Place), asks(x.Share), m.contextWords(c, x)})
				}
			}
		}
		if len(g.rows) == 0 {
			continue
		}
		m.subsection(sentenceCase(say.Plain(c.Cue)))
		m.put(g)
		if len(untried) > 0 {
			m.put(para("Not tried: " + strings.Join(untried, "; ") + "."))
		}
	}
}

func sentenceCase(s string) string { return strings.TrimSuffix(say.Sentence(s), ".") }

func (m *packetMaker) coverWords(c analysis.CueAssessment) string {
	return strings.ReplaceAll(coverCell(c), "\n", ", ")
}

func (m *packetMaker) contextWords(c analysis.CueAssessment, x analysis.Context) string {
	if x.Below {
		return "not proven: clearly under the bar"
	}
	if !x.Enough {
		return "too few tries to tell"
	}
	if underBar(c, x) {
		return "under the bar, may be chance"
	}
	return "went well"
}

func (m *packetMaker) charts() {
	var figs []block
	unknown := false
	for _, c := range m.a.Cues {
		ch := courseOf(m.a, c)
		if len(ch.points) == 0 {
			continue
		}
		d := m.anonymous(ch).drawing()
		figs = append(figs, d)
		if h, ok := holdChartOf(m.a, c); ok {
			figs = append(figs, m.anonymous(h).drawing())
		}
		if k, ok := correctionChartOf(m.a, c); ok {
			unknown = unknown || k.unknown()
			figs = append(figs, m.anonymous(k).drawing())
		}
	}
	if len(figs) == 0 {
		return
	}
	m.section("Day by day")
	m.put(key{unknown})
	m.put(figs...)
}

// anonymous takes the names that are not this owner's out of a chart.
func (m *packetMaker) anonymous(ch courseChart) courseChart {
	ch.points = append([]coursePoint(nil), ch.points...)
	for i := range ch.points {
		p := &ch.points[i]
		if p.handler != "" {
			p.handler = m.person(p.handler, "")
		}
		p.place = m.say(p.place)
	}
	return ch
}

// homework makes the first weeks at home from what is weakest. Few and short
// repetitions on some days a week serve as well as daily drill (common practice;
// spaced days were enough in the one study known to us).
func (m *packetMaker) homework() {
	m.section("Homework, week by week")
	if m.a.Verdict == analysis.OnHold {
		m.put(para("None until your vet agrees. Then start again with week 1."))
		return
	}
	var ready, work, held []string
	for _, c := range m.a.Cues {
		n := say.Plain(c.Cue)
		switch c.Verdict {
		case analysis.OnHold:
			held = append(held, n)
		case analysis.Ready:
			ready = append(ready, n)
		default:
			work = append(work, n)
		}
	}
	weak := m.weakPlaces()
	if len(m.a.Incidents) > 0 {
		m.put(para("An incident is still open. Speak with us before you begin."))
	}
	m.put(para("Three or four days a week, five minutes, three to five asks of a cue, then stop while it is going well. Ask once. If nothing comes, do not repeat the word: make it easier, and try again later. End on something easy."))
	all := append(append([]string(nil), work...), ready...)
	week := func(n int, lines ...string) {
		m.subsection(fmt.Sprintf("Week %d, from %s", n, say.ShortDay(m.handoff+training.Day(7*(n-1)))))
		m.put(bullets(lines))
	}
	one := []string{"At home, quiet, on a lead: " + orWord(say.List(all), "the cues you have") + ". You ask; nobody else."}
	if len(work) > 0 && len(ready) > 0 {
		one = append(one, "Begin with what is not ready, while you are both fresh: "+say.List(work)+".")
	}
	one = append(one, "No off-leash freedom before the first recheck.")
	week(1, one...)
	var two []string
	if len(weak) > 0 {
		two = append(two, "Weakest in the last sessions here, the weakest first: "+strings.Join(weak[:min(len(weak), 4)], "; ")+". Start easier than that: nearer, shorter, quieter.")
	}
	two = append(two, "A second person in the family asks what went well in week 1.")
	week(2, two...)
	week(3, "Two new quiet places, on a lead: "+orWord(say.List(ready), "what went well at home")+". In a new place expect less, and ask for less.",
		"Make one thing harder at a time: further away, longer, or more going on. Never two.")
	week(4, "Places like those listed under \"Where and with whom\", on a lead or long line.",
		"Write down ten first asks of each cue for the recheck, also the misses: yes or no is enough.")
	if len(held) > 0 {
		m.put(para("Leave out until your vet agrees: " + say.List(held) + "."))
	}
}

// weakPlaces lists where a cue went worst in the last sessions at a place, all
// who asked there taken together: the owner has the places to look for, and not
// our people. What they themselves have asked there is said besides.
func (m *packetMaker) weakPlaces() []string {
	type spot struct {
		text string
		bad  float64 // share missed, or how far over its bar a motion is
	}
	var list []spot
	for _, c := range m.a.Cues {
		if c.Verdict == analysis.OnHold {
			continue
		}
		for _, x := range c.Contexts {
			if x.Kind != analysis.ByPlace || !tried(x) {
				continue
			}
			where := say.Plain(c.Cue) + " at " + m.say(x.Place)
			if x.Breaks != nil {
				if underBar(c, x) {
					list = append(list, spot{fmt.Sprintf("%s (left position %s in %s)", where, times(x.Breaks.Count), say.Minutes(x.Breaks.Minutes)), 1 - c.Criteria.Breaks.V/x.Breaks.PerMinute.V})
				}
				continue
			}
			s, found := m.latelyAt(c, x.Place)
			if !found {
				s, _ = judged(x)
			}
			if s.Of == 0 || float64(s.Yes)/float64(s.Of) >= c.Criteria.ContextBar {
				continue
			}
			text := where + " (" + asks(s)
			for _, y := range c.Contexts {
				if y.Kind == analysis.ByCell && y.Role == training.Owner && training.Key(y.Place) == training.Key(x.Place) && y.Of > 0 {
					own, _ := judged(y)
					text += fmt.Sprintf("; %s: %d of %d", m.person(y.Handler, y.Role), own.Yes, own.Of)
				}
			}
			list = append(list, spot{text + ")", 1 - float64(s.Yes)/float64(s.Of)})
		}
	}
	sort.SliceStable(list, func(i, j int) bool { return list[i].bad > list[j].bad })
	out := make([]string, len(list))
	for i, s := range list {
		out[i] = s.text
	}
	return out
}

// latelyAt counts the first asks of a cue in its last sessions at a place, as
// many as it takes for twice the asks that a place is judged on: what went wrong
// before that and has gone well since is no homework. False where the record
// holds fewer than a place is judged on.
func (m *packetMaker) latelyAt(c analysis.CueAssessment, place string) (s analysis.Share, found bool) {
	for i := len(m.sessions) - 1; i >= 0 && s.Of < 2*c.Criteria.ContextTrials; i-- {
		x := m.sessions[i]
		if training.Key(x.Place) != training.Key(place) {
			continue
		}
		for _, t := range x.Trials {
			if training.Key(m.cueName(t.Cue)) != training.Key(c.Cue) {
				continue
			}
			yes, of := analysis.FirstCueUnder(t, analysis.Rule{Limit: c.Criteria.Limit, Arrive: c.Criteria.Arrive})
			s.Yes += yes
			s.Of += of
		}
	}
	return s, s.Of > 0 && s.Of >= c.Criteria.ContextTrials
}

// cueName is the name on the kennel's list of what a note may call otherwise.
func (m *packetMaker) cueName(name string) string {
	if c, ok := m.r.Kennel.Cue(name); ok {
		return c.Name
	}
	return name
}

// collarUsed finds the collars that corrected this dog or were worn in a
// session, in order of first use.
func (m *packetMaker) collars() []string {
	var list []string
	seen := map[string]bool{}
	add := func(d string) {
		if d != "" && !seen[training.Key(d)] {
			seen[training.Key(d)] = true
			list = append(list, d)
		}
	}
	for _, s := range m.sessions {
		add(s.Device)
		for _, t := range s.Trials {
			for _, k := range t.Corrections {
				if k.Kind == training.ByCollar {
					add(orWord(k.Device, "a collar not named"))
				}
			}
		}
	}
	for _, c := range m.a.Cues {
		for _, d := range c.Corrections.Devices {
			add(d.Device)
		}
	}
	return list
}

func (m *packetMaker) equipment() {
	m.section("Equipment")
	collars := m.collars()
	other := map[training.CorrectionKind]int{}
	for _, c := range m.a.Cues {
		for _, k := range c.Corrections.ByKind {
			other[k.Kind] += k.Count
		}
	}
	if len(collars) == 0 {
		s := "No collar was used."
		if m.a.Dog.RewardOnly {
			s = "No collar was used. " + m.dog + " was trained with rewards only."
		}
		var by []string
		for _, k := range []training.CorrectionKind{training.ByLeash, training.ByVoice} {
			if n := other[k]; n > 0 {
				by = append(by, fmt.Sprintf("by %s (%d)", kindWord(k), n))
			}
		}
		if len(by) > 0 {
			s += " Corrections were made " + say.List(by) + "."
		}
		if r := lastReward(m.sessions); r != "" {
			s += " What " + m.dog + " worked for: " + m.say(r) + "."
		}
		if c := m.say(m.a.Dog.Consent); c != "" {
			s += " Agreed with you: " + c + "."
		}
		m.put(para(s))
		return
	}
	if c := m.say(m.a.Dog.Consent); c != "" {
		m.put(para("Agreed with you: " + say.Ended(c)))
	}
	for _, h := range m.a.Holds {
		if h.ForbidsCollar(m.a.AsOf) {
			m.put(para("No collar at the moment, on the vet's word."))
			break
		}
	}
	var rows terms
	for _, d := range collars {
		var s []string
		for i := len(m.sessions) - 1; i >= 0; i-- {
			x := m.sessions[i]
			if training.Key(x.Device) == training.Key(d) && x.WorkingLevel.Known {
				s = append(s, fmt.Sprintf("lowest level noticed on %s: %s", say.ShortDay(x.Day()), say.NumberOf(x.WorkingLevel)))
				break
			}
		}
		for _, c := range m.a.Cues {
			for _, k := range c.Corrections.Devices {
				if training.Key(k.Device) == training.Key(d) {
					s = append(s, fmt.Sprintf("%s: %s, %s", say.Plain(c.Cue), say.Count(k.Corrections, "correction"), levelSpan(k)))
				}
			}
		}
		if len(s) == 0 {
			s = append(s, "worn, no correction recorded")
		}
		rows = append(rows, [2]string{m.say(d), say.Sentence(strings.Join(s, "; "))})
	}
	m.put(rows)
	m.put(para("These levels are a record, not a recommendation. A number on the dial means nothing on another collar, and changes on this one when the coat is wet or the contacts move. Do not turn it up: if it seems not to work, take it off and call us."))
	m.put(bullets{
		"Fit: high on the neck, snug, contacts on the skin, no lead on it, ever.",
		"Wear: off for rest and at night; move it every hour or two; never more than eight hours in a day, or the maker's limit where that is shorter.",
		"Skin: look and feel under the contacts every day. Redness, a sore or a smell: collar off until healed; longer than two days: the vet.",
		"Wash neck and contacts every week.",
		"Not on a dog under six months, an ill or a frightened dog, or one in pain: the vet first.",
		"Practise without it too. What is only done with the collar on is not learnt yet.",
	})
	m.put(para("Some countries and regions forbid or restrict these collars, and rules change. Check the law where you live and where you travel."))
}

// levelSpan is the lowest and highest level on one device in words.
func levelSpan(d analysis.DeviceLevels) string {
	switch {
	case !d.Low.Known || !d.High.Known:
		return "no level noted"
	case d.Low.V == d.High.V:
		return "level " + say.NumberOf(d.Low)
	}
	return "levels " + say.NumberOf(d.Low) + " to " + say.NumberOf(d.High)
}

func (m *packetMaker) rechecks() {
	m.section("Recheck dates")
	m.put(para("Counted from " + say.LongDay(m.handoff) + ". Ten first asks of each cue, honestly written down, are enough. What is not practised fades: better to see it early."))
	g := grid{caption: "Rechecks", verdict: -1, rowHead: true, columns: []column{{"When", Left}, {"Date", Left}, {"First asks answered", Left}, {"What was hard", Left}}}
	for _, r := range Rechecks(m.handoff) {
		g.rows = append(g.rows, []string{sentenceCase(r.Name), say.LongDay(r.Day), blank, blank})
	}
	m.put(g)
}

func (m *packetMaker) warnings() {
	m.section("Warning signs, and whom to call")
	m.put(bullets{
		"Answers that get slower, or refusals that are new: this can be pain. Your vet first, training after.",
		"Limping, heavy panting at rest, not eating, sudden fear of sounds or of being touched: your vet.",
		"Growling, snapping, hiding, trembling, a tucked tail: stop the exercise, give room, no correction of any kind, and call.",
		"Any bite, or an attempt: end it there. Look after people and dog, get medical advice, and follow the local duty to report.",
		"It worked here and does not at home: usual in the first weeks. Go back to the easiest place and call us early.",
	})
	line := func(s string) string {
		if s = say.Plain(s); s != "" {
			return s
		}
		return blank
	}
	m.put(terms{{"Your vet", line(m.o.Vet)}, {"Your trainer", line(m.o.Contact)}})
}

func (m *packetMaker) incidents() {
	m.section("Incidents and vet holds, in full")
	var list bullets
	seen := map[string]bool{}
	add := func(i training.Incident) {
		id := orWord(i.ID, i.Day.String()+i.Text)
		if seen[id] || i.Dog != "" && training.Key(i.Dog) != training.Key(m.a.Dog.Name) || i.Day > m.a.AsOf && i.Day > m.handoff {
			return
		}
		seen[id] = true
		s := say.LongDay(i.Day) + ": " + say.Ended(m.say(i.Text))
		switch {
		case i.Closed != 0 && i.Outcome != "":
			s += " Closed on " + say.ShortDay(i.Closed) + ": " + say.Ended(m.say(i.Outcome))
		case i.Closed != 0:
			s += " Closed on " + say.ShortDay(i.Closed) + "."
		default:
			s += " Still open."
		}
		list = append(list, s)
	}
	all := append(append([]training.Incident(nil), m.r.Incidents...), m.a.Incidents...)
	sort.SliceStable(all, func(i, j int) bool { return all[i].Day < all[j].Day })
	for _, i := range all {
		add(i)
	}
	for _, h := range m.a.Dog.Holds {
		list = append(list, m.say(vetHold(h)))
	}
	if len(m.a.Dog.Holds) == 0 {
		for _, h := range m.a.Holds {
			list = append(list, m.say(vetHold(h)))
		}
	}
	if len(list) == 0 {
		m.put(para("None were recorded."))
		return
	}
	m.put(list)
}

func (m *packetMaker) cautions() {
	m.section("What \u201cready\u201d means, and what it does not")
	list := bullets{
		"\u201cReady\u201d means: the rule agreed beforehand was met, in the places and with the people listed here. It is no guarantee of what " + m.dog + " will do, and no assessment of safety or temperament.",
		"\u201cNot shown yet\u201d means: too few tries to say. Treat it as not ready.",
		"Off leash: figures from a fenced field promise nothing near traffic, livestock, children or other dogs. Obey leash laws, and get the landowner's permission.",
		"Health: slower or refused answers can be pain. This record cannot tell. Ask your vet.",
		"Children: no child asks " + m.dog + " for anything without an adult who has practised.",
	}
	if len(m.collars()) > 0 {
		list = append(list, "Veterinary behaviour bodies advise training by reward, and oppose or discourage electronic collars. That a level is recorded here is no recommendation.",
			"More corrections, or stronger ones, with no better result: stop. Make it easier or quieter, and get help from a vet or a qualified behaviour professional.")
	}
	m.put(list)
}

// figures is the table behind every chart, and how things were counted.
func (m *packetMaker) figures() {
	m.section("The figures behind the charts")
	if s := rules(m.a); s != "" {
		m.put(para("What counts as answered: " + s + ". Trials that could not be scored, or where " + m.dog + " acted before the cue or was in position already, are not counted either way."))
	}
	for _, c := range m.a.Cues {
		ch := m.anonymous(courseOf(m.a, c))
		if len(ch.points) == 0 {
			continue
		}
		g := grid{caption: sentenceCase(say.Plain(c.Cue)) + ", day by day", verdict: -1, rowHead: true, columns: []column{{"Day", Left}, {"First asks answered", Left}, {"Corrected", Left}, {"New that day", Left}}, keep: true}
		if c.Kind == training.Motion {
			g.columns[1].name = "Left position"
		}
		if c.Hold != nil {
			g.columns = append(g.columns, column{"Longest hold", Left})
		}
		for i, p := range ch.points {
			var news []string
			if p.handler != "" {
				news = append(news, "asked by "+p.handler)
			}
			if p.place != "" {
				news = append(news, "at "+p.place)
			}
			corrected := "none"
			if p.trials == 0 { // a tally says nothing of corrections
				corrected = "not noted"
			} else if p.corrected > 0 {
				corrected = fmt.Sprintf("%d of %d", p.corrected, p.trials)
			}
			row := []string{say.ShortDay(p.day), p.label, corrected, orNone(strings.Join(news, ", "))}
			if c.Hold != nil {
				long := say.None
				if l := c.Days3[i].LongestHold; l.Known {
					long = atLeast(c.Hold) + spoken(l.V)
				}
				row = append(row, long)
			}
			g.rows = append(g.rows, row)
		}
		m.put(g)
	}
}
