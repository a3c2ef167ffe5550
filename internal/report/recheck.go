package report

import (
	"fmt"
	"io"
	"slices"
	"sort"
	"strconv"
	"strings"

	"firstcue/internal/analysis"
	"firstcue/internal/say"
	"firstcue/internal/training"
)

// RecheckState is how one recheck stands.
type RecheckState string

// The states of a recheck. A recheck is done when a session was held in its
// span, which begins half-way from the one before and ends half-way to the
// next; overdue when its day is over, the span is not, and there was none;
// missed when the span is over too.
const (
	RecheckDone    RecheckState = "done"
	RecheckDue     RecheckState = "due"     // today, or the span has begun
	RecheckLater   RecheckState = "later"   // to come
	RecheckOverdue RecheckState = "overdue" // can still be made up for
	RecheckMissed  RecheckState = "missed"
)

// RecheckRow is one recheck of a dog with how it went.
type RecheckRow struct {
	Recheck
	State RecheckState   `json:"state"`
	Visit analysis.Visit `json:"visit"`
}

// DogRechecks are the rechecks of one dog after it went home.
type DogRechecks struct {
	Dog       string              `json:"dog"`
	DogID     string              `json:"dogId"`
	Arrived   training.Day        `json:"arrived"`
	Home      training.Day        `json:"home"`
	AsOf      training.Day        `json:"day"`
	Owners    []string            `json:"owners"`
	Cues      []string            `json:"cues"` // agreed cues, to be asked
	Handoff   analysis.Visit      `json:"handoff"`
	Rows      []RecheckRow        `json:"rechecks"`
	Incidents []analysis.Incident `json:"openIncidents"` // open on the day
	Last      []KeptCue           `json:"last"`          // the cues of the last recheck that was done, the worst first
	IsOverdue bool                `json:"overdue"`
	Attention bool                `json:"needsAttention"`
	NextCode  string              `json:"next"` // "" = none is left
	NextDay   training.Day        `json:"nextDay"`
}

// KeptCue is a cue of the last recheck beside the day of the handoff.
type KeptCue struct {
	analysis.VisitCue
	Handoff analysis.VisitCue `json:"handoff"` // no days = not asked in the stay
	Verdict analysis.Verdict  `json:"verdict"` // as of the day; not ready where the recheck alone excludes the bar
	Trouble bool              `json:"trouble"` // no longer what it was at the handoff, or below the bar
	Text    string            `json:"text"`
}

// Judge adds what became of the dog: its open incidents, and each cue of its
// last recheck against the handoff. then is the assessment on the day it went
// home, now that of the day. A cue is in trouble when it was ready and is not
// any more, or when the whole 95 % interval of the recheck lies on the wrong
// side of the bar that a place is judged by.
func (d *DogRechecks) Judge(then, now analysis.Assessment) {
	d.Incidents, d.Last = now.Incidents, nil
	find := func(a analysis.Assessment, cue string) (c analysis.CueAssessment) {
		for _, x := range a.Cues {
			if training.Key(x.Cue) == training.Key(cue) {
				return x
			}
		}
		return c
	}
	var last analysis.Visit
	for _, r := range d.Rows {
		if r.State == RecheckDone {
			last = r.Visit
		}
	}
	for _, q := range last.Cues {
		k := KeptCue{VisitCue: q}
		for _, h := range d.Handoff.Cues {
			if training.Key(h.Cue) == training.Key(q.Cue) {
				k.Handoff = h
			}
		}
		c := find(now, q.Cue)
		k.Verdict = c.Verdict
		low := q.Breaks == nil && q.All.High.Known && q.All.High.V < c.Criteria.LevelBar()
		low = low || q.Breaks != nil && c.Criteria.Breaks.Known && q.Breaks.Low.Known && q.Breaks.Low.V > c.Criteria.Breaks.V
		if low {
			k.Verdict = analysis.NotReady
		}
		k.Trouble = low || find(then, q.Cue).Verdict == analysis.Ready && (k.Verdict == analysis.NotReady || k.Verdict == analysis.NotProven)
		d.Last = append(d.Last, k)
	}
	sort.SliceStable(d.Last, func(i, j int) bool {
		a, b := d.Last[i], d.Last[j]
		if a.Trouble != b.Trouble {
			return a.Trouble
		}
		return missing(a.VisitCue) > missing(b.VisitCue)
	})
}

// missing is the share of asks a visit's cue was not answered; a motion, which
// has none, comes last.
func missing(q analysis.VisitCue) float64 {
	if q.All.Asks == 0 || q.Breaks != nil {
		return -1
	}
	return 1 - float64(q.All.Answered)/float64(q.All.Asks)
}

// NeedsAttention reports whether somebody should look at the dog: a recheck is
// overdue, an incident is open, or a cue of the last recheck is in trouble.
func (d DogRechecks) NeedsAttention() bool {
	return d.Overdue() || d.InTrouble()
}

// InTrouble reports whether an incident is open or a cue is lost.
func (d DogRechecks) InTrouble() bool {
	return len(d.Incidents) > 0 || slices.ContainsFunc(d.Last, func(k KeptCue) bool { return k.Trouble })
}

// visitFigure is a cue's bare figure in a visit: "3/10", "4 breaks in 12 min".
func visitFigure(q analysis.VisitCue) string {
	if q.Breaks != nil {
		return say.Count(q.Breaks.Count, "break") + " in " + say.Minutes(q.Breaks.Minutes)
	}
	return fmt.Sprintf("%d/%d", q.All.Answered, q.All.Asks)
}

// keptWords says how a cue stood last: "come 3/10 (12/12 at handoff), not ready".
func keptWords(k KeptCue) string {
	s := say.Plain(k.Cue) + " " + visitFigure(k.VisitCue)
	if len(k.Handoff.Days) > 0 {
		s += " (" + visitFigure(k.Handoff) + " at handoff)"
	}
	if k.Verdict != "" {
		s += ", " + string(k.Verdict)
	}
	return s
}

// lastWords is what the list says of the last recheck: open incidents, every cue
// in trouble, else the worst cue.
func (d DogRechecks) lastWords() string {
	var s []string
	for _, i := range d.Incidents {
		s = append(s, "OPEN INCIDENT "+say.ShortDay(i.Day)+": "+say.Plain(i.Text))
	}
	for i, k := range d.Last {
		if k.Trouble || i == 0 {
			s = append(s, keptWords(k))
		}
	}
	return orNone(strings.Join(s, "\n"))
}

// RecheckSpans gives for each date of Rechecks the days that count for it: from
// half-way after the one before to half-way to the next. The first begins on
// the day after the handoff; the last ends as far after its day as it begins
// before it.
func RecheckSpans(handoff training.Day) [][2]training.Day {
	list := Rechecks(handoff)
	out := make([][2]training.Day, len(list))
	for i, r := range list {
		from := handoff + 1
		if i > 0 {
			from = out[i-1][1] + 1
		}
		to := r.Day + (r.Day - from)
		if i+1 < len(list) {
			to = r.Day + (list[i+1].Day-r.Day)/2
		}
		out[i] = [2]training.Day{from, to}
	}
	return out
}

// MakeRechecks says how each recheck stands on the day. visits are those of
// RecheckSpans, in its order.
func MakeRechecks(dog training.Dog, stay training.Boarding, handoff analysis.Visit, visits []analysis.Visit, cues []string, day training.Day) DogRechecks {
	d := DogRechecks{Dog: dog.Name, DogID: dog.ID, Arrived: stay.Arrived, Home: stay.Home, AsOf: day, Owners: dog.Owners, Cues: cues, Handoff: handoff}
	for i, r := range Rechecks(stay.Home) {
		row := RecheckRow{Recheck: r, Visit: visits[i]}
		switch v := row.Visit; {
		case v.Sessions > 0:
			row.State = RecheckDone
		case day > v.To:
			row.State = RecheckMissed
		case day > r.Day:
			row.State = RecheckOverdue
		case day == r.Day:
			row.State = RecheckDue
		default:
			row.State = RecheckLater
		}
		d.Rows = append(d.Rows, row)
	}
	return d
}

// Next returns the recheck to do next: the one that is overdue, due or still to
// come; false when there is none any more.
func (d DogRechecks) Next() (RecheckRow, bool) {
	for _, r := range d.Rows {
		switch r.State {
		case RecheckOverdue, RecheckDue, RecheckLater:
			return r, true
		}
	}
	return RecheckRow{}, false
}

// Overdue reports whether a recheck should have been done and can still be.
func (d DogRechecks) Overdue() bool {
	r, ok := d.Next()
	return ok && r.State == RecheckOverdue
}

func (d DogRechecks) count(s RecheckState) int {
	n := 0
	for _, r := range d.Rows {
		if r.State == s {
			n++
		}
	}
	return n
}

// stateWords says how a recheck stands, with the days.
func (d DogRechecks) stateWords(r RecheckRow) string {
	switch r.State {
	case RecheckDone:
		return "done " + days(r.Visit.Days)
	case RecheckOverdue:
		return "OVERDUE by " + say.Count(int(d.AsOf-r.Day), "day")
	case RecheckMissed:
		return "missed"
	}
	return say.Until(int(r.Day - d.AsOf))
}

// days names up to two days, more as a span.
func days(list []training.Day) string {
	switch len(list) {
	case 0:
		return say.None
	case 1:
		return say.ShortDay(list[0])
	case 2:
		return say.ShortDay(list[0]) + " and " + say.ShortDay(list[1])
	}
	return fmt.Sprintf("%s to %s", say.ShortDay(list[0]), say.ShortDay(list[len(list)-1]))
}

// RecheckListText writes who is due, in the order given.
func RecheckListText(w io.Writer, day training.Day, list []DogRechecks, o Options) error {
	p := page{title: "Rechecks", aside: say.LongDay(day)}
	over, trouble := 0, 0
	for _, d := range list {
		if d.Overdue() {
			over++
		}
		if d.InTrouble() {
			trouble++
		}
	}
	s := fmt.Sprintf("%s gone home, %d overdue.", say.Count(len(list), "dog"), over)
	if trouble > 0 {
		s += fmt.Sprintf(" %d in trouble: see the last column.", trouble)
	}
	p.blocks = append(p.blocks, para(s))
	g := grid{caption: "Who is due", verdict: -1, rowHead: true, columns: []column{{name: "Dog", side: Left}, {name: "Home since", side: Left}, {name: "Recheck", side: Left}, {name: "Date", side: Left}, {name: "", side: Left}, {name: "Done", side: Right}, {name: "Missed", side: Right}, {name: "Ask", side: Left}, {name: "Last", side: Left}}}
	for _, d := range list {
		row := []string{say.Plain(d.Dog), say.YearDay(d.Home), say.None, say.None, "no more rechecks", strconv.Itoa(d.count(RecheckDone)), strconv.Itoa(d.count(RecheckMissed)), orNone(say.Names(d.Cues)), d.lastWords()}
		if r, ok := d.Next(); ok {
			row[2], row[3], row[4] = r.Name, say.YearDay(r.Day), d.stateWords(r)
		}
		g.rows = append(g.rows, row)
	}
	if len(g.rows) > 0 {
		p.blocks = append(p.blocks, g)
	}
	p.foot = "A recheck is an ordinary session after the dog went home, in the days around its date. The first ask of the day says most: write it down, also when it was missed. Last: the worst cue of the last recheck, and every cue that is no longer what it was."
	return p.text(w, o)
}

// RecheckText writes the rechecks of one dog against the day of its handoff.
func RecheckText(w io.Writer, d DogRechecks, o Options) error {
	p := page{title: say.Plain(d.Dog), aside: "rechecks up to " + say.LongDay(d.AsOf)}
	s := "Went home on " + say.LongDay(d.Home) + "."
	if r, ok := d.Next(); ok {
		s += " Next: " + r.Name + ", " + say.LongDay(r.Day) + ", " + d.stateWords(r) + "."
	} else {
		s += " No recheck is left."
	}
	p.blocks = append(p.blocks, para(s))
	for _, i := range d.Incidents {
		p.blocks = append(p.blocks, para("Open incident, "+say.ShortDay(i.Day)+": "+say.Ended(say.Plain(i.Text))))
	}
	if d.InTrouble() && len(d.Last) > 0 && d.Last[0].Trouble {
		var bad []string
		for _, k := range d.Last {
			if k.Trouble {
				bad = append(bad, keptWords(k))
			}
		}
		p.blocks = append(p.blocks, para("Needs attention, last recheck: "+strings.Join(bad, "; ")+"."))
	}
	if len(d.Cues) > 0 {
		p.blocks = append(p.blocks, para("Ask a few times each, in a quiet place and then where it is hard: "+say.Names(d.Cues)+"."))
	}
	g := grid{caption: "Rechecks", verdict: -1, rowHead: true, columns: []column{{name: "When", side: Left}, {name: "Date", side: Left}, {name: "How it stands", side: Left}, {name: "Sessions", side: Right}, {name: "First ask of a day,\ncues with single asks", side: Left}, {name: "Worst cue,\nall first asks", side: Left}}}
	first := func(v analysis.Visit) string {
		if v.First.Asks == 0 {
			return say.None
		}
		return shareText(v.First)
	}
	worst := func(v analysis.Visit) string {
		if q, ok := worstOf(v); ok {
			return say.Plain(q.Cue) + " " + visitFigure(q)
		}
		return say.None
	}
	asked := "nothing asked in the stay"
	if len(d.Handoff.Days) > 0 {
		asked = "last asked " + days(d.Handoff.Days)
	}
	g.rows = append(g.rows, []string{"handoff", say.YearDay(d.Home), asked, strconv.Itoa(d.Handoff.Sessions), first(d.Handoff), worst(d.Handoff)})
	done := 0
	for _, r := range d.Rows {
		sessions := say.None
		if r.State == RecheckDone {
			sessions = strconv.Itoa(r.Visit.Sessions)
			done++
		}
		g.rows = append(g.rows, []string{r.Name, say.YearDay(r.Day), d.stateWords(r), sessions, first(r.Visit), worst(r.Visit)})
	}
	p.blocks = append(p.blocks, g)
	if done == 0 {
		p.foot = "No session since the dog went home. Rechecks are logged like any other session."
		return p.text(w, o)
	}
	k := grid{caption: "What was kept", verdict: -1, rowHead: true, airy: true, columns: []column{{name: "Cue", side: Left}, {name: "When", side: Left}, {name: "First ask of a day", side: Left}, {name: "All first asks", side: Left}}}
	for _, cue := range d.cueNames() {
		var when, one, all []string
		add := func(name string, v analysis.Visit) {
			for _, q := range v.Cues {
				if training.Key(q.Cue) == training.Key(cue) {
					when, one, all = append(when, name), append(one, firstWords(q)), append(all, allWords(q))
				}
			}
		}
		add("handoff", d.Handoff)
		for _, r := range d.Rows {
			add(r.Name, r.Visit)
		}
		k.rows = append(k.rows, []string{say.Plain(cue), strings.Join(when, "\n"), strings.Join(one, "\n"), strings.Join(all, "\n")})
	}
	p.add("What was kept", k)
	p.foot = "Handoff: for each cue the last day of the stay on which it was asked. Few asks, wide intervals: a difference inside them may be chance."
	return p.text(w, o)
}

// worstOf is the cue of a visit with the smallest share of all its first asks;
// false where every one was answered, or none was asked.
func worstOf(v analysis.Visit) (worst analysis.VisitCue, ok bool) {
	for _, q := range v.Cues {
		if m := missing(q); m > 0 && (!ok || m > missing(worst)) {
			worst, ok = q, true
		}
	}
	return worst, ok
}

// cueNames lists the cues of the handoff and of the rechecks.
func (d DogRechecks) cueNames() []string {
	var out []string
	seen := map[string]bool{}
	add := func(v analysis.Visit) {
		for _, q := range v.Cues {
			if !seen[training.Key(q.Cue)] {
				seen[training.Key(q.Cue)] = true
				out = append(out, q.Cue)
			}
		}
	}
	add(d.Handoff)
	for _, r := range d.Rows {
		add(r.Visit)
	}
	return out
}

func firstWords(q analysis.VisitCue) string {
	switch {
	case q.First.Asks == 0:
		return say.None
	case q.First.Asks == 1 && q.First.Answered == 1:
		return "answered"
	case q.First.Asks == 1:
		return "missed"
	}
	return shareText(q.First)
}

func allWords(q analysis.VisitCue) string {
	if q.Breaks != nil {
		return fmt.Sprintf("%s breaks a min, %s", say.Rate(q.Breaks.PerMinute, q.Breaks.Low, q.Breaks.High), say.Minutes(q.Breaks.Minutes))
	}
	return shareText(q.All)
}

// RecheckCSV writes a row for the handoff and each recheck of each dog, and cue
// by cue: cue is empty in the row of all cues together.
func RecheckCSV(w io.Writer, list []DogRechecks, o CSVOptions) error {
	c := newCSV(w, o)
	c.row("dog", "home", "recheck", "due", "state", "sessions", "firstDay", "lastDay", "cue", "firstAsksAnswered", "firstAsks", "firstAsksLow", "firstAsksHigh",
		"answered", "asks", "low", "high", "breaks", "minutes")
	for _, d := range list {
		write := func(code string, due training.Day, state string, v analysis.Visit) {
			line := func(cue string, days []training.Day, f, all analysis.Share, b *analysis.Breaks) {
				var from, to, breaks, walked string
				if len(days) > 0 {
					from, to = days[0].String(), days[len(days)-1].String()
				}
				count := func(n, of int) string {
					if of == 0 {
						return ""
					}
					return strconv.Itoa(n)
				}
				if b != nil {
					breaks, walked = strconv.Itoa(b.Count), c.num(training.Known(b.Minutes))
				}
				c.row(c.text(d.Dog), d.Home.String(), code, due.String(), state, strconv.Itoa(v.Sessions), from, to, c.text(cue),
					count(f.Answered, f.Asks), count(f.Asks, f.Asks), c.num(f.Low), c.num(f.High), count(all.Answered, all.Asks), count(all.Asks, all.Asks), c.num(all.Low), c.num(all.High), breaks, walked)
			}
			line("", v.Days, v.First, analysis.Share{}, nil)
			for _, q := range v.Cues {
				line(q.Cue, q.Days, q.First, q.All, q.Breaks)
			}
		}
		write("handoff", d.Home, "", d.Handoff)
		for _, r := range d.Rows {
			write(r.Code, r.Day, string(r.State), r.Visit)
		}
	}
	return c.close()
}

// RecheckJSON writes the rechecks of some dogs for scripts, schema firstcue.recheck/1.
func RecheckJSON(w io.Writer, day training.Day, dogs []DogRechecks, o Options) error {
	for i := range dogs {
		d := &dogs[i]
		d.IsOverdue, d.Attention = d.Overdue(), d.NeedsAttention()
		if r, ok := d.Next(); ok {
			d.NextCode, d.NextDay = r.Code, r.Day
		}
		for j := range d.Last {
			d.Last[j].Text = keptWords(d.Last[j])
		}
	}
	return tagged(w, "recheck", jsonRecheck{day, dogs})
}

// jsonRecheck is what became of dogs after they went home.
type jsonRecheck struct {
	Day  training.Day  `json:"day"`  // the record up to this day is gone by
	Dogs []DogRechecks `json:"dogs"` // that need somebody first
}

// shareText is a share with its counts and interval, "-" for none.
func shareText(s analysis.Share) string {
	if s.Asks == 0 {
		return say.None
	}
	return say.Fraction(s.Answered, s.Asks, s.Low, s.High)
}
