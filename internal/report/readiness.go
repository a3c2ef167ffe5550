package report

import (
	"fmt"
	"io"
	"math"
	"slices"
	"sort"
	"strings"

	"firstcue/internal/analysis"
	"firstcue/internal/say"
	"firstcue/internal/training"
)

// Text writes the readiness report of one dog for a terminal or a mail: the
// verdict and why, a row a cue, what stands in the way of each cue that is not
// ready, the weakest places and people, what is slipping, the chance by the due
// day, cautions. At most 100 columns unless o asks for more in the tables.
func Text(w io.Writer, a analysis.Assessment, o Options) error {
	return readiness(a, o, false).text(w, o)
}

// Markdown writes the readiness report as CommonMark with tables.
func Markdown(w io.Writer, a analysis.Assessment, o Options) error {
	return readiness(a, o, false).markdown(w)
}

// HTML writes the readiness report as one self-contained page with a chart for
// each cue.
func HTML(w io.Writer, a analysis.Assessment, o Options) error {
	p := readiness(a, o, true)
	return p.html(w, o)
}

// shout gives the verdict of the dog in capitals: what a tired eye finds first.
func shout(v analysis.Verdict) string { return strings.ToUpper(string(v)) }

func readiness(a analysis.Assessment, o Options, charts bool) page {
	p := page{
		title:   say.Plain(a.Dog.Name),
		aside:   "readiness on " + say.LongDay(a.AsOf) + stay(a),
		verdict: a.Verdict,
		banner:  shout(a.Verdict),
		tail:    headline(a),
	}
	if s := notHereYet(a); s != "" {
		p.verdict, p.banner, p.tail = "", "", ""
		p.blocks = append(p.blocks, para(s))
		return p
	}
	if s := afresh(a); s != "" {
		p.blocks = append(p.blocks, para(s))
	}
	if s := changedBars(a, o.Usual); s != "" {
		p.blocks = append(p.blocks, para(s))
	}
	if why := a.Why; len(why) > 0 {
		if all := strings.Join(why, " "); len(a.Dog.Goals) == 0 && a.AgreedCues > 0 && !strings.Contains(all, "No goal") {
			why = append(append([]string(nil), why...), noGoal)
		}
		p.blocks = append(p.blocks, para(sentences(why)))
	}
	if s := ownerLine(a); s != "" {
		p.blocks = append(p.blocks, para(s))
	}
	for _, h := range a.Holds {
		p.blocks = append(p.blocks, para(vetHold(h)))
	}
	for _, i := range a.Incidents {
		p.blocks = append(p.blocks, para("Open incident, "+say.ShortDay(i.Day)+": "+say.Ended(say.Plain(i.Text))))
	}
	if len(a.Cues) > 0 {
		p.blocks = append(p.blocks, cueGrid(a))
	} else if len(a.Why) == 0 {
		p.blocks = append(p.blocks, para("No scored trial yet."))
	}
	begun := false
	for _, v := range []analysis.Verdict{analysis.OnHold, analysis.NotReady, analysis.NotShown} {
		for _, c := range a.Cues {
			if c.Verdict == v {
				if !begun {
					p.blocks = append(p.blocks, heading{text: "What stands in the way"})
					begun = true
				}
				p.blocks = append(p.blocks, obstacles(c, o.All)...)
			}
		}
	}
	p.add("The owner's own trials", ownerGrid(a))
	p.add("Weakest, by who asked and where", weakest(a, o.All))
	p.add("Slipping", slipping(a))
	p.add("Chance of being ready by the due day", chance(a))
	if charts {
		p.blocks = append(p.blocks, chartBlocks(a)...)
	}
	p.add("Worth knowing", worth(a, o.Before))
	p.add("Cautions", cautions(a))
	p.foot = footnote(a)
	if !o.Generated.IsZero() {
		p.foot = strings.TrimSpace(p.foot + " Made " + o.Generated.Format("2006-01-02 15:04") + ".")
	}
	return p
}

// noGoal is said where there is none: the cues that were asked are judged, but
// nobody agreed to them.
const noGoal = "No goal is entered; every cue is judged"

// notHereYet says when the dog came, for a day before its first stay on which
// nothing of it can be known; "" otherwise.
func notHereYet(a analysis.Assessment) string {
	if a.Stay || a.Trials > 0 || len(a.Cues) > 0 || len(a.Dog.Boardings) == 0 {
		return ""
	}
	first := a.Dog.Boardings[0].Arrived
	for _, b := range a.Dog.Boardings {
		first = min(first, b.Arrived)
	}
	if first <= a.AsOf {
		return ""
	}
	return say.Plain(a.Dog.Name) + " arrived on " + say.LongDay(first) + "."
}

// afresh says from which day the figures count where that is not the first, and
// that nothing is lost: after a vet hold, or with a new stay.
func afresh(a analysis.Assessment) string {
	if a.Baseline == 0 {
		return ""
	}
	s := "Counted afresh from " + say.ShortDay(a.Baseline)
	what := "earlier"
	for _, h := range a.Dog.Holds {
		if h.To == a.Baseline-1 && len(h.Cues) == 0 && !h.CollarOnly {
			s += ", after the vet hold of " + span(h.From, h.To)
			if h.Reason != "" {
				s += " (" + say.Plain(h.Reason) + ")"
			}
			what = ""
			break
		}
	}
	if what != "" && a.Stay && a.Boarding.Arrived == a.Baseline {
		s += ", when this stay began"
	}
	s += "."
	if a.LeftOut > 0 {
		s += " " + say.Count(a.LeftOut, "earlier trial") + " " + isAre(a.LeftOut) + " kept and not counted."
	}
	return s
}

// span writes a span of days as short as it can be read: "20-23 Nov".
func span(from, to training.Day) string {
	a, b := from.Time(utc), to.Time(utc)
	switch {
	case from == to:
		return a.Format("2 Jan")
	case a.Year() == b.Year() && a.Month() == b.Month():
		return a.Format("2") + "-" + b.Format("2 Jan")
	}
	return a.Format("2 Jan") + " to " + b.Format("2 Jan")
}

// goneHome reports that the dog has left on the day of the assessment.
func goneHome(a analysis.Assessment) bool {
	return a.Boarding.Home != 0 && a.Boarding.Home <= a.AsOf
}

// chartBlocks is the course of every cue with the key to the marks.
func chartBlocks(a analysis.Assessment) []block {
	var figures []block
	for _, c := range a.Cues {
		if f, ok := cueDrawing(a, c); ok {
			figures = append(figures, f)
		}
	}
	if len(figures) == 0 {
		return nil
	}
	return append([]block{heading{text: "Day by day"}, key{}}, figures...)
}

// add puts a heading over a block that has something in it.
func (p *page) add(title string, b block) {
	switch x := b.(type) {
	case nil:
		return
	case grid:
		if len(x.rows) == 0 {
			return
		}
	case bullets:
		if len(x) == 0 {
			return
		}
	case terms:
		if len(x) == 0 {
			return
		}
	case para:
		if x == "" {
			return
		}
	}
	p.blocks = append(p.blocks, heading{text: title}, b)
}

func sentences(list []string) string {
	out := make([]string, 0, len(list))
	for _, s := range list {
		if s = say.Sentence(say.Plain(s)); s != "" {
			out = append(out, s)
		}
	}
	return strings.Join(out, " ")
}

func stay(a analysis.Assessment) string {
	if !a.Stay || a.DayOfStay <= 0 {
		return ""
	}
	return fmt.Sprintf(", day %d of the stay", a.DayOfStay)
}

// headline says how many cues are ready and when the dog is due home.
func headline(a analysis.Assessment) string {
	var s string
	switch {
	case len(a.Why) > 0: // it says so
	case a.AgreedCues == 0:
		s = "No cue agreed with the owner was judged."
	default:
		are := "are"
		if a.ReadyCues == 1 {
			are = "is"
		}
		s = fmt.Sprintf("%d of %s %s ready.", a.ReadyCues, say.Count(a.AgreedCues, agreedCue(a)), are)
	}
	if a.DaysToDue.Known && a.Boarding.Due != 0 && !goneHome(a) {
		s += " Due home " + say.ShortDay(a.Boarding.Due) + ", " + say.Until(int(a.DaysToDue.V)) + "."
	}
	if goneHome(a) {
		s += " Went home " + say.ShortDay(a.Boarding.Home) + "."
	}
	return strings.TrimSpace(s)
}

// agreedCue is what a judged cue is called: without a goal say.None is agreed.
func agreedCue(a analysis.Assessment) string {
	if len(a.Dog.Goals) == 0 {
		return "cue"
	}
	return "agreed cue"
}

func ownerLine(a analysis.Assessment) string {
	state := "not confirmed"
	if a.OwnerConfirmed {
		state = "confirmed"
	}
	why := say.Sentence(say.Plain(a.OwnerWhy))
	if why == "" && !a.OwnerConfirmed && len(a.Cues) == 0 {
		return ""
	}
	return strings.TrimSpace("Owner " + state + ". " + why)
}

func vetHold(h training.VetHold) string {
	what := "Vet hold"
	if h.CollarOnly {
		what = "No collar, by vet hold"
	}
	s := what + " since " + say.ShortDay(h.From)
	if h.To != 0 {
		s = what + " from " + say.ShortDay(h.From) + " to " + say.ShortDay(h.To)
	}
	if len(h.Cues) > 0 {
		names := make([]string, len(h.Cues))
		for i, c := range h.Cues {
			names[i] = say.Plain(c)
		}
		s += ", for " + say.List(names)
	}
	if h.Reason != "" {
		s += ": " + say.Plain(h.Reason)
	}
	if h.NoCollar && !h.CollarOnly {
		s += "; no collar"
	}
	return say.Sentence(s)
}

// bars returns the shares that a first-cue figure of this cue may not be
// rounded onto.
func bars(c analysis.CueAssessment) []float64 {
	k := c.Criteria
	var out []float64
	for _, b := range []float64{k.Rate, k.Floor, k.Leave, k.ContextBar, k.OtherRate, k.OtherFloor, k.OwnerRate, k.OwnerFloor} {
		if b > 0 {
			out = append(out, b)
		}
	}
	return out
}

func shareText(s analysis.Share, bars ...float64) string {
	return say.Fraction(s.Yes, s.Of, s.Low, s.High, bars...)
}

func cueGrid(a analysis.Assessment) grid {
	g := grid{
		caption: "Every cue: the whole stay, and below it the level now",
		columns: []column{{"Cue", Left}, {"Verdict", Left}, {"First cue", Left}, {"Speed, hold, breaks", Left}, {"Corrections", Left}, {"Asked by, at", Left}},
		verdict: 1, rowHead: true, airy: true,
	}
	for _, c := range a.Cues {
		name := say.Plain(c.Cue)
		if !c.Agreed {
			name += "\nnot agreed"
		}
		g.rows = append(g.rows, []string{name, string(c.Verdict), firstCueCell(c), measureCell(c), correctionCell(c), coverCell(c)})
	}
	return g
}

func firstCueCell(c analysis.CueAssessment) string {
	if c.FirstCue == nil {
		return say.None
	}
	s := shareText(c.FirstCue.Share, bars(c)...)
	if b := c.Before; b != nil && b.Of > 0 {
		s = strings.TrimPrefix(s+"\n", "0/0\n") + fmt.Sprintf("before teaching: %d/%d", b.Yes, b.Of)
	}
	if cur := c.FirstCue.Current; cur.Rate.Known {
		s += "\nnow " + say.PercentOf(cur.Rate, bars(c)...) + " " + say.Ends(cur.Low, cur.High, bars(c)...)
		if cur.Effective.Known {
			s += "\n(as " + fixed(math.Floor(cur.Effective.V*10)/10, 1, bounds{}) + " asks)"
		}
	}
	return s
}

func measureCell(c analysis.CueAssessment) string {
	switch {
	case c.Kind == training.Motion && c.Breaks != nil:
		b := c.Breaks
		if b.Minutes == 0 {
			return "not walked"
		}
		return say.Rate(b.PerMinute, b.Low, b.High, numBars(c.Criteria.Breaks)...) + " a min\n" +
			say.Count(b.Count, "break") + " in " + say.Minutes(b.Minutes)
	case c.Kind == training.Holding && c.Hold != nil:
		return holdCell(c)
	case c.Latency != nil:
		l := c.Latency
		if l.Seen+l.Censored == 0 {
			return "not timed"
		}
		return say.SecondsSpan(l.Median, l.Low, l.High, numBars(l.Limit)...) + "\n" + timed(l.Survival)
	}
	return say.None
}

// timed counts what stands behind a median: answers with a time, asks that ended
// without one, and what had no time at all.
func timed(s analysis.Survival) string {
	out := fmt.Sprintf("%d timed", s.Seen)
	if s.Seen == 0 {
		out = "none timed"
	}
	if n := s.Censored + s.Unanswered; n > 0 {
		out += fmt.Sprintf(", %d not answered", n)
	}
	if s.Untimed > 0 {
		out += fmt.Sprintf("\n%d without a time", s.Untimed)
	}
	return out
}

// holdCell is the chance of holding the target, or the median where there is
// no target, with the longest hold.
func holdCell(c analysis.CueAssessment) string {
	h := c.Hold
	if h.Seen+h.Censored == 0 {
		return "not timed"
	}
	var s string
	if h.Chance.Known && h.Target.Known {
		s = say.PercentOf(h.Chance, c.Criteria.HoldRate) + " " + say.Ends(h.ChanceLow, h.ChanceHigh, c.Criteria.HoldFloor) +
			"\nto hold " + say.Clock(h.Target.V)
	} else {
		s = "median " + say.SecondsSpan(h.Median, h.Low, h.High)
	}
	s += ", " + say.Count(h.Seen+h.Censored, "hold")
	if h.Longest.Known {
		s += "\nlongest " + atLeast(h) + say.Clock(h.Longest.V)
	}
	return s
}

// atLeast is said before the longest hold where some ended by release: nobody
// knows how long those would have lasted.
func atLeast(h *analysis.Hold) string {
	if h.Censored > 0 {
		return "at least "
	}
	return ""
}

func numBars(n training.Num) []float64 {
	if !n.Known {
		return nil
	}
	return []float64{n.V}
}

// rateTrials is from how many trials on corrections are printed as a rate: of
// fewer the count says all there is.
const rateTrials = 5

func correctionCell(c analysis.CueAssessment) string {
	k := c.Corrections
	if k.Count == 0 {
		if k.RewardOnly {
			return "reward only"
		}
		if k.Trials == 0 { // a tally says nothing of them
			return "not noted"
		}
		return "none used"
	}
	s := fmt.Sprintf("%d in %s", k.Count, say.Count(k.Trials, "trial"))
	if k.RewardOnly {
		var kinds []string
		for _, b := range k.ByKind {
			kinds = append(kinds, fmt.Sprintf("%d by %s", b.Count, kindWord(b.Kind)))
		}
		if len(kinds) == 0 {
			kinds = []string{s}
		}
		s = say.List(kinds) + ",\nthough reward only"
	}
	if k.Trials >= rateTrials {
		s += "\n" + say.Rate(k.PerTen, k.PerTenLow, k.PerTenHigh, c.Criteria.CorrectionsPerTen) + "\na ten"
		if k.PerTenNow.Known {
			s += ", now " + fixed(k.PerTenNow.V, 1, bounds{atMost: []float64{c.Criteria.CorrectionsPerTen}})
		}
	}
	if d := k.Trend.Direction; d == "falling" || d == "rising" {
		s += "\n" + d
	}
	for _, d := range k.Devices {
		s += "\nlevel " + levels(d) + "\n" + say.Plain(d.Device)
		if d.Trend.Direction == "falling" || d.Trend.Direction == "rising" {
			s += ", " + d.Trend.Direction
		}
	}
	return s
}

func kindWord(k training.CorrectionKind) string {
	switch k {
	case training.ByCollar:
		return "collar"
	case training.ByLeash:
		return "leash"
	case training.ByVoice:
		return "voice"
	}
	return say.Plain(string(k))
}

// levels is the median correction level with the lowest and highest.
func levels(d analysis.DeviceLevels) string {
	s := say.NumberOf(d.Median)
	if d.Low.Known && d.High.Known && d.Low.V != d.High.V {
		// Round: square brackets are for intervals, and this is what was used.
		s += " (" + say.NumberOf(d.Low) + "-" + say.NumberOf(d.High) + ")"
	}
	return s
}

func coverCell(c analysis.CueAssessment) string {
	people, places, away := 0, 0, 0
	for _, x := range c.Contexts {
		if !tried(x) {
			continue
		}
		switch x.Kind {
		case analysis.ByHandler:
			people++
		case analysis.ByPlace:
			places++
			if x.Off {
				away++
			}
		}
	}
	s := say.Count(people, "person", "people") + "\n" + say.Count(places, "place")
	if away > 0 {
		s += fmt.Sprintf("\n%d away", away)
	}
	return s
}

// tried reports that a context holds any trial or walk.
func tried(x analysis.Context) bool {
	return !x.Untried && (x.Of > 0 || x.Breaks != nil && x.Breaks.Minutes > 0)
}

var gateWords = map[analysis.GateName]string{
	analysis.GateEnough: "enough trials", analysis.GateLevel: "level", analysis.GatePeople: "other people",
	analysis.GatePlaces: "places", analysis.GateContext: "who and where", analysis.GateSpeed: "speed",
	analysis.GateHold: "holding time", analysis.GatePosition: "position", analysis.GateCorrections: "corrections",
	analysis.GateClosed: "incidents, vet", analysis.GateGoal: "goal",
}

func gateWord(n analysis.GateName) string {
	if w, ok := gateWords[n]; ok {
		return w
	}
	return say.Plain(string(n))
}

var standingWords = map[analysis.Standing]string{
	analysis.Met: "met", analysis.Short: "not shown yet", analysis.Failed: "missed",
}

// mostChanges is how many steps are printed for a cue. More than a handful is
// not read at the end of a day, and the most useful come first.
const mostChanges = 5

// obstacles is what stands in the way of one cue, and what would change it.
func obstacles(c analysis.CueAssessment, all bool) []block {
	var rows terms
	said := map[string]int{}
	for _, st := range []analysis.Standing{analysis.Failed, analysis.Short} {
		for _, g := range c.Gates {
			if g.Standing != st {
				continue
			}
			// What two gates say alike is printed once, under both their names.
			label := gateWord(g.Name) + ": " + standingWord(g)
			say := say.Sentence(say.Plain(belowOnce(c, g)))
			if i, twice := said[say]; twice {
				before, _, _ := strings.Cut(rows[i][0], ": ")
				rows[i][0] = before + "; " + label
				continue
			}
			said[say] = len(rows)
			rows = append(rows, [2]string{label, say})
		}
	}
	if len(rows) == 0 && c.Reason != "" {
		rows = append(rows, [2]string{"why", say.Sentence(say.Plain(c.Reason))})
	}
	for i, s := range c.Change {
		if i == mostChanges && !all {
			rows = append(rows, [2]string{"", fmt.Sprintf("And %d more: report --all shows them.", len(c.Change)-i)})
			break
		}
		label := ""
		if i == 0 {
			label = "what would change it"
		}
		rows = append(rows, [2]string{label, say.Sentence(say.Plain(s))})
	}
	if len(c.WrongAnswers) > 0 {
		rows = append(rows, [2]string{"did instead", insteadOf(c.WrongAnswers)})
	}
	var met []string
	for _, g := range c.Gates {
		if g.Met() && hadSomething(c, g.Name) {
			met = append(met, gateWord(g.Name))
		}
	}
	if len(met) > 0 {
		rows = append(rows, [2]string{"met", strings.Join(met, "; ")})
	}
	out := []block{heading{text: say.Plain(c.Cue), verdict: c.Verdict, level: 3}}
	if len(rows) > 0 {
		out = append(out, rows)
	}
	return out
}

// belowOnce is what a gate says, without the list of who and where is below
// standard that the gate for those repeats in full.
func belowOnce(c analysis.CueAssessment, g analysis.Gate) string {
	if g.Name != analysis.GatePeople && g.Name != analysis.GatePlaces {
		return g.Say
	}
	for _, x := range c.Gates {
		if x.Name != analysis.GateContext || x.Standing != analysis.Failed || !strings.HasPrefix(x.Say, "Below standard") {
			continue
		}
		if first, rest, ok := strings.Cut(g.Say, "). "); ok && strings.HasPrefix(first, "Below standard") {
			return rest + " Below standard as listed under \"" + gateWord(analysis.GateContext) + "\"."
		}
	}
	return g.Say
}

// hadSomething reports that a gate had something to judge: one that nothing
// could fail is met by the rules, but not by the dog.
func hadSomething(c analysis.CueAssessment, g analysis.GateName) bool {
	switch g {
	case analysis.GateCorrections:
		return c.Corrections.Trials > 0
	case analysis.GateContext:
		for _, x := range c.Contexts {
			if (x.Kind == analysis.ByHandler || x.Kind == analysis.ByPlace || x.Kind == analysis.ByCell) && x.Enough {
				return true
			}
		}
		return false
	case analysis.GateClosed:
		return true
	}
	return c.Trials > 0
}

// insteadOf says what the dog did on its wrong answers, how often.
func insteadOf(list []analysis.WrongAnswer) string {
	did := make([]string, 0, len(list))
	for _, w := range list {
		word := say.Plain(w.Did)
		if word == "?" || word == "" {
			word = "not named"
		}
		did = append(did, fmt.Sprintf("%s %d", word, w.Count))
	}
	return strings.Join(did, ", ")
}

func standingWord(g analysis.Gate) string {
	if g.Name == analysis.GateClosed && g.Standing != analysis.Met {
		return "in the way"
	}
	return standingWords[g.Standing]
}

func ownerGrid(a analysis.Assessment) block {
	g := grid{
		caption: "Cues the owner has asked",
		columns: []column{{"Cue", Left}, {"First cue or breaks, asked by the owner", Left}, {"", Left}},
		verdict: -1, rowHead: true,
	}
	for _, c := range a.Cues {
		if ownersFigure(c) == "" {
			continue
		}
		word := "confirmed, " + say.Count(c.Owner.Sessions, "lesson")
		if !c.Owner.Confirmed {
			word = "no"
			if s := strings.TrimPrefix(say.Plain(c.Owner.Say), "Owner: "); s != "" {
				word += ": " + s
			}
		}
		figure := ownersFigure(c)
		if c.Owner.Breaks == nil {
			figure = shareText(c.Owner.Share, bars(c)...)
		}
		g.rows = append(g.rows, []string{say.Plain(c.Cue), figure, word})
	}
	g.columns[2].name = "Confirmed?"
	return g
}

// ownersFigure is what the owner has shown of a cue, with its count: "9 of 10
// first asks", or of a motion "0 breaks in 20 min, 5 lessons"; "" = nothing yet.
func ownersFigure(c analysis.CueAssessment) string {
	o := c.Owner
	switch {
	case o.Breaks != nil && o.Breaks.Minutes > 0:
		return fmt.Sprintf("%s in %s, %s", say.Count(o.Breaks.Count, "break"), say.Minutes(o.Breaks.Minutes), say.Count(o.Sessions, "lesson"))
	case o.Of > 0:
		return asks(o.Share)
	}
	return ""
}

// onlySignal says that a cue was asked by one signal alone which is not the
// voice: whoever says the word then does what nobody has tried. "" otherwise.
func onlySignal(c analysis.CueAssessment) string {
	var one analysis.Context
	signals := 0
	for _, x := range c.Contexts {
		if x.Kind == analysis.BySignal && tried(x) {
			one = x
			signals++
		}
	}
	if signals != 1 || strings.Contains(one.Value, "voice") || one.Value == "context" {
		return ""
	}
	count := say.Count(one.Sessions, "session")
	if c.FirstCue != nil {
		if one.Of < c.FirstCue.Of {
			return "" // some notes did not say how it was asked
		}
		count = fmt.Sprintf("%d of %d", one.Of, c.FirstCue.Of)
	}
	return "Asked only by " + say.Plain(one.Value) + " (" + count + "). The voice was not tried."
}

const mostWeak = 6

// weakest lists the cells of handler and place in which a cue does worst, those
// that miss the bar first; a cell without a miss is not weak.
func weakest(a analysis.Assessment, all bool) block {
	type cell struct {
		cue analysis.CueAssessment
		x   analysis.Context
	}
	var list []cell
	for _, c := range a.Cues {
		for _, x := range c.Contexts {
			if x.Kind != analysis.ByCell || !tried(x) {
				continue
			}
			if !x.Below && !x.Worse && !underBar(c, x) {
				continue
			}
			list = append(list, cell{c, x})
		}
	}
	grade := func(x analysis.Context) int {
		switch {
		case x.Below:
			return 0
		case x.Worse:
			return 1
		case x.Enough:
			return 2
		}
		return 3
	}
	sort.SliceStable(list, func(i, j int) bool {
		a, b := list[i].x, list[j].x
		if ga, gb := grade(a), grade(b); ga != gb {
			return ga < gb
		}
		if a.Breaks != nil || b.Breaks != nil {
			return a.Breaks != nil && b.Breaks != nil && a.Breaks.PerMinute.V > b.Breaks.PerMinute.V
		}
		sa, _ := judged(a)
		sb, _ := judged(b)
		return sa.Rate.V < sb.Rate.V
	})
	if len(list) > mostWeak && !all {
		list = list[:mostWeak]
	}
	g := grid{
		caption: "Where a cue does worst",
		columns: []column{{"Cue", Left}, {"Asked by", Left}, {"Place", Left}, {"First cue, or breaks", Left}, {"What it says", Left}},
		verdict: -1, rowHead: true,
	}
	for _, l := range list {
		place := say.Plain(l.x.Place)
		if l.x.Off {
			place += " (away)"
		}
		g.rows = append(g.rows, []string{say.Plain(l.cue.Cue), say.Plain(l.x.Handler), place, contextFigure(l.cue, l.x), contextSays(l.cue, l.x)})
	}
	return g
}

// underBar reports that a cell's figure is under the bar, however few trials
// stand behind it.
func underBar(c analysis.CueAssessment, x analysis.Context) bool {
	if x.Breaks != nil {
		return c.Criteria.Breaks.Known && x.Breaks.PerMinute.V > c.Criteria.Breaks.V
	}
	s, _ := judged(x)
	return s.Rate.Known && s.Rate.V < c.Criteria.ContextBar
}

// judged is the share that a context is judged on: its last sittings where
// there are many.
func judged(x analysis.Context) (s analysis.Share, lately bool) {
	if x.Lately != nil {
		return *x.Lately, true
	}
	return x.Share, false
}

func contextFigure(c analysis.CueAssessment, x analysis.Context) string {
	if x.Breaks != nil {
		return say.Rate(x.Breaks.PerMinute, x.Breaks.Low, x.Breaks.High, numBars(c.Criteria.Breaks)...) + " a min"
	}
	s, lately := judged(x)
	if lately {
		return shareText(s, bars(c)...) + " lately"
	}
	return shareText(s, bars(c)...)
}

func contextSays(c analysis.CueAssessment, x analysis.Context) string {
	var s []string
	if x.Below {
		s = append(s, "misses the bar")
	}
	if x.Worse {
		w := "worse here than elsewhere"
		if x.WorseP.Known {
			w += " (" + say.PValue(x.WorseP.V) + ")"
		}
		s = append(s, w)
	}
	if len(s) > 0 {
		return strings.Join(s, ", ")
	}
	if !x.Enough {
		return "not enough to tell"
	}
	return "under the bar, may be chance"
}

func slipping(a analysis.Assessment) block {
	var list bullets
	for _, c := range a.Cues {
		name := say.Plain(c.Cue)
		if c.Alarm.On {
			s := say.Plain(c.Alarm.Say)
			if s == "" {
				s = "more misses than before since " + say.ShortDay(c.Alarm.Since)
				if c.Alarm.Place != "" {
					s += ", " + say.Plain(c.Alarm.Place)
				}
				if c.Alarm.Handler != "" {
					s += " with " + say.Plain(c.Alarm.Handler)
				}
			}
			list = append(list, name+": "+trimEnd(s)+".")
		}
		if c.Lost != 0 {
			list = append(list, name+": the level was there and was lost on "+say.ShortDay(c.Lost)+".")
		}
		if l := c.Latency; l != nil && l.Doubled {
			list = append(list, fmt.Sprintf("%s: answers take twice as long since %s: median %s last time, %s before. Slower can be pain: vet first.",
				name, say.ShortDay(l.DoubledOn), say.SecondsOf(l.Last), say.SecondsOf(l.Baseline)))
		}
		if c.Cold.Flag {
			list = append(list, fmt.Sprintf("%s: missed %d of the last %s.", name, c.Cold.Missed, say.Count(c.Cold.Asked, "first trial of a session", "first trials of a session")))
		}
		if k := c.Corrections; k.Trend.Direction == "rising" {
			list = append(list, name+": corrected more often from session to session"+trendTail(k.Trend)+".")
		}
		for _, d := range c.Corrections.Devices {
			if d.Trend.Direction == "rising" {
				list = append(list, name+": correction level rising on "+say.Plain(d.Device)+trendTail(d.Trend)+".")
			}
		}
	}
	return list
}

func trendTail(t analysis.Trend) string {
	s := " (" + say.Count(t.Points, "session")
	if t.P.Known {
		s += ", one-sided " + say.PValue(t.P.V)
	}
	return s + ")"
}

func trimEnd(s string) string { return strings.TrimRight(s, ". ") }

func chance(a analysis.Assessment) block {
	f := a.Forecast
	if f == nil || f.Words == "" {
		return nil
	}
	s := say.Sentence(say.Plain(f.Words)) // it names what has to be done besides
	if f.Note != "" {
		s += " " + say.Sentence(say.Plain(f.Note))
	}
	var basis []string
	switch {
	case f.Base.Known:
		basis = append(basis, fmt.Sprintf("of the kennel's %s, %s were ready on their due day", say.Count(f.BaseDogs, "finished dog"), say.PercentOf(f.Base)))
	default:
		if f.Improves.Known {
			basis = append(basis, "if it keeps improving "+analysis.InWords(f.Improves.V))
		}
		if f.Stays.Known {
			basis = append(basis, "if it stays as now "+analysis.InWords(f.Stays.V))
		}
	}
	if f.By != 0 {
		s += " Due " + say.ShortDay(f.By) + ", " + say.Count(f.Nights, "night") + " left."
	}
	if len(basis) > 0 {
		what := ""
		if f.Improves.Known {
			what = "the level: "
		}
		s += " " + say.Sentence(what+strings.Join(basis, "; "))
	}
	s += " It rests on " + say.Count(f.Trials, "trial") + "; one stay cannot tell a dog at 85% from one at 90%."
	var weak []string
	for _, c := range a.Cues {
		if c.Agreed && c.Verdict != analysis.Ready && c.Forecast != nil && c.Forecast.Words != "" && c.Forecast.Words != f.Words {
			weak = append(weak, say.Plain(c.Cue)+" "+short(c.Forecast))
		}
	}
	if len(weak) > 0 {
		s += " By cue: " + strings.Join(weak, "; ") + "."
	}
	return para(s)
}

// short is a forecast in few words: what it waits for, in the words of the gates,
// or its chance.
func short(f *analysis.Forecast) string {
	if f.Cell == "" {
		return say.Plain(f.Words)
	}
	list, waits := strings.CutPrefix(f.Cell, "waits: ")
	if !waits {
		return say.Plain(f.Cell)
	}
	var out []string
	for _, w := range strings.Split(say.Plain(list), ", ") {
		if n := analysis.GateName(w); n != analysis.GateClosed || !strings.Contains(list, "incident") {
			w = gateWord(n)
		} else {
			continue // said by "incident"
		}
		if !slices.Contains(out, w) {
			out = append(out, w)
		}
	}
	return "waits: " + strings.Join(out, ", ")
}

// worth collects counts that stand apart from every figure.
func worth(a analysis.Assessment, before []AskedBefore) block {
	var list bullets
	var never, early []string
	for _, n := range a.NeverTried {
		if b, ok := beforeOf(before, n); ok {
			early = append(early, fmt.Sprintf("%s (%s in %s)", say.Plain(n), b.figure(), say.Count(b.Sessions, "session")))
		} else {
			never = append(never, say.Plain(n))
		}
	}
	if len(never) > 0 {
		list = append(list, "Never asked: "+say.List(never)+".")
	}
	if len(early) > 0 {
		list = append(list, "Never asked since teaching began, only before it: "+say.List(early)+".")
	}
	for _, c := range a.Cues {
		if s := onlySignal(c); s != "" {
			list = append(list, say.Plain(c.Cue)+": "+lowerFirst(s))
		}
		var apart []string
		for _, x := range []struct {
			n    int
			word string
		}{{c.Unscored, "unscored"}, {c.Early, "early"}, {c.AlreadyThere, "already in position"}, {c.ReleasedEarly, "released before the target"}} {
			if x.n > 0 {
				apart = append(apart, fmt.Sprintf("%d %s", x.n, x.word))
			}
		}
		if len(apart) > 0 {
			list = append(list, say.Plain(c.Cue)+": counted apart: "+strings.Join(apart, ", ")+".")
		}
		if c.HeldOut > 0 {
			list = append(list, fmt.Sprintf("%s: %d %s.", say.Plain(c.Cue), c.HeldOut, outOf(a, c)))
		}
	}
	if a.LeftOut > 0 {
		s := say.Count(a.LeftOut, "trial") + " in a vet hold or before its new baseline left out of every figure"
		if a.Baseline != 0 {
			s += "; counted from " + say.ShortDay(a.Baseline)
		}
		list = append(list, s+".")
	}
	return list
}

// outOf says why trials of a cue stand in no figure: logged inside a vet hold
// that still lasts, or before the day from which the cue is counted.
func outOf(a analysis.Assessment, c analysis.CueAssessment) string {
	if c.Verdict == analysis.OnHold {
		return "left out (vet hold)"
	}
	for _, h := range a.Dog.Holds {
		if h.To != 0 && h.To < a.AsOf && h.Covers(h.From, c.Cue) {
			return "from before the hold or in it, not counted"
		}
	}
	if a.Baseline != 0 {
		return "from before this stay, not counted"
	}
	return "left out (vet hold)"
}

func cautions(a analysis.Assessment) block {
	var list bullets
	for _, c := range a.Cautions {
		s := say.Plain(c.Text)
		if why := say.Plain(c.Why); why != "" && c.Code != "verdict" {
			s += " (" + trimEnd(why) + ")"
		}
		list = append(list, s)
	}
	return list
}

func footnote(a analysis.Assessment) string {
	var s []string
	if r := rules(a); r != "" {
		s = append(s, "First cue: "+r+".")
	}
	if t := bracketsOf(a); t != "" {
		s = append(s, t)
	}
	for _, c := range a.Cues {
		if c.FirstCue != nil && c.FirstCue.Current.Rate.Known {
			s = append(s, "\"now\": a session counts half after six further sessions, and asks of one session are alike: \"as\" is how many separate asks it is worth.")
			break
		}
	}
	for _, c := range a.Cues {
		if c.Corrections.Count > 0 && c.Corrections.Trials >= rateTrials {
			s = append(s, "Corrections \"a ten\" are per ten trials.")
			break
		}
	}
	if a.Main != "" {
		m := "Main trainer: " + say.Plain(a.Main)
		if a.MainNote != "" {
			m += " (" + say.Plain(a.MainNote) + ")"
		}
		s = append(s, m+".")
	}
	if a.Sessions > 0 {
		s = append(s, fmt.Sprintf("From %s, %s, %s to %s.", say.Count(a.Sessions, "session"), say.Count(a.Trials, "trial"), say.ShortDay(a.First), say.ShortDay(a.Last)))
	}
	return strings.Join(s, " ")
}

// rules says what counts as answered: the one rule, or each with its cues.
func rules(a analysis.Assessment) string {
	var list []string
	cues := map[string][]string{}
	for _, c := range a.Cues {
		if c.FirstCue == nil || c.FirstCue.Rule == "" {
			continue
		}
		r := trimEnd(say.Plain(c.FirstCue.Rule))
		if cues[r] == nil {
			list = append(list, r)
		}
		cues[r] = append(cues[r], say.Plain(c.Cue))
	}
	if len(list) == 1 {
		return list[0]
	}
	for i, r := range list {
		list[i] = r + " (" + say.List(cues[r]) + ")"
	}
	return strings.Join(list, "; ")
}

// bracketsOf explains the intervals by the first of the report itself.
func bracketsOf(a analysis.Assessment) string {
	const alike = "; it allows for trials of one session being alike."
	for _, c := range a.Cues {
		if f := c.FirstCue; f != nil && f.Of > 0 && f.Low.Known && f.High.Known {
			return "The numbers in brackets, such as " + say.Ends(f.Low, f.High, bars(c)...) + " for " + say.Plain(c.Cue) + ", are the 95% interval" + alike
		}
	}
	for _, c := range a.Cues {
		if c.Breaks != nil && c.Breaks.PerMinute.Known {
			return "The numbers in brackets are the 95% interval."
		}
	}
	return ""
}
