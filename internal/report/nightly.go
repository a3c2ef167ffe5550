package report

import (
	"bytes"
	"cmp"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"

	"firstcue/internal/analysis"
	"firstcue/internal/say"
	"firstcue/internal/training"
)

// Nightly is one evening's look at every dog in the kennel.
type Nightly struct {
	Schema    string       `json:"schema"`
	Day       training.Day `json:"day"`
	Dogs      []NightRow   `json:"dogs"`      // by due day, those without one last
	Attention []Attention  `json:"attention"` // most pressing first, one dog's together
	AtHome    []NightHome  `json:"atHome"`    // dogs gone home with an open incident
}

// NightRow is one dog's line.
type NightRow struct {
	Dog            string            `json:"dog"`
	ID             string            `json:"dogId"`
	Verdict        analysis.Verdict  `json:"verdict"`
	Before         analysis.Verdict  `json:"verdictBefore"` // last night's; "" = the dog was not here
	ReadyCues      int               `json:"readyCues"`
	CountedCues    int               `json:"countedCues"`
	OwnerConfirmed bool              `json:"ownerConfirmed"`
	ReadyOn        training.Leash    `json:"readyOnLeash"`
	Today          analysis.DayTally `json:"today"`
	Due            training.Day      `json:"due"`  // null = none agreed
	Home           training.Day      `json:"home"` // null = it is here
	DaysToDue      training.Num      `json:"daysToDue"`
	Chance         training.Num      `json:"chance"` // of being ready by the due day, 0 to 1
	Slipping       []string          `json:"slipping"`
	Untouched      []string          `json:"untouched"` // counted cues not asked for some days, or never
	Missing        string            `json:"missing"`   // in words
}

// Attention is one thing somebody should look at. The codes are stable: "incident",
// "vet hold", "logged in hold", "two forms", "pain", "overdue", "lost", "slipping",
// "corrections", "due", "owner", "stale", "untouched", "idle".
type Attention struct {
	Code string   `json:"code"`
	Dog  string   `json:"dog"`
	Cues []string `json:"cues"` // empty = the whole dog
	Text string   `json:"text"`
	rank int
}

// InHold is what was logged of a dog on the day inside a vet hold.
type InHold struct{ Trials, Sessions int }

// NightHome is a dog that has gone home and needs attention all the same.
type NightHome struct {
	Dog  string       `json:"dog"`
	Home training.Day `json:"home"`
	Text string       `json:"text"`
}

// dueSoon is how many days before the due day a dog that is not ready is mentioned.
// Ours to choose: half a week still leaves time to call the owner.
const dueSoon = 4

// grave is the last rank that the page's top lists; the rest stands in the row.
const grave = 9

// MakeNightly makes the night of the dogs' assessments, in any order.
// inHold has, by dog, what was logged on the day although a vet hold forbids it.
func MakeNightly(day training.Day, dogs []analysis.Assessment, inHold map[string]InHold) Nightly {
	n := Nightly{Schema: "firstcue.nightly/1", Day: day, Dogs: []NightRow{}, Attention: []Attention{}, AtHome: []NightHome{}}
	dogs = slices.Clone(dogs)
	slices.SortStableFunc(dogs, func(a, b analysis.Assessment) int {
		return cmp.Or(cmp.Compare(dueOf(a), dueOf(b)), cmp.Compare(training.Key(a.Name), training.Key(b.Name)))
	})
	for _, a := range dogs {
		n.Dogs = append(n.Dogs, nightRow(a))
	}
	var groups [][]Attention
	for _, a := range dogs {
		if list := attention(a, inHold[a.Name]); len(list) > 0 {
			groups = append(groups, list)
		}
	}
	slices.SortStableFunc(groups, func(a, b []Attention) int { return cmp.Compare(a[0].rank, b[0].rank) })
	for _, g := range groups {
		n.Attention = append(n.Attention, g...)
	}
	return n
}

const noDueDay = training.Day(1 << 30)

func dueOf(a analysis.Assessment) training.Day {
	if a.Stay == nil || a.Stay.Due == 0 || goneHome(a) {
		return noDueDay
	}
	return a.Stay.Due
}

func goneHome(a analysis.Assessment) bool {
	return a.Stay != nil && a.Stay.Home != 0 && a.Stay.Home <= a.Day
}

// NeedsAttention reports whether anything should be looked at: what --quiet and
// --exit-code go by.
func (n Nightly) NeedsAttention() bool { return len(n.Attention)+len(n.AtHome) > 0 }

// AddHome adds a dog that has gone home with open incidents.
func (n *Nightly) AddHome(dog string, home training.Day, open []training.Incident) {
	var parts []string
	for _, i := range open {
		parts = append(parts, say.DayMonth(i.Day)+": "+say.Plain(i.Text))
	}
	n.AtHome = append(n.AtHome, NightHome{dog, home, "Went home on " + say.Weekday(home) + " with an open incident, " +
		strings.Join(parts, "; ") + ". Ring the owner, then close it: firstcue incident close."})
}

func nightRow(a analysis.Assessment) NightRow {
	r := NightRow{Dog: a.Name, ID: a.Dog.ID, Verdict: a.Verdict, Before: a.Before, ReadyCues: a.ReadyCues, CountedCues: a.CountedCues,
		OwnerConfirmed: a.Owner.Confirmed, ReadyOn: a.ReadyOn, Today: a.Today, Slipping: []string{}, Untouched: untouched(a),
		Missing: say.MissingOfDog(a)}
	if goneHome(a) {
		r.Home = a.Stay.Home
	} else if a.Stay != nil {
		r.Due, r.DaysToDue = a.Stay.Due, a.Stay.DaysToDue
	}
	if a.Forecast != nil {
		r.Chance = a.Forecast.Chance
	}
	for _, c := range a.Cues {
		if c.Slipping.On {
			r.Slipping = append(r.Slipping, c.Cue)
		}
	}
	return r
}

// untouched lists the counted cues that were not asked for as many days as the bars
// allow, and from the third day on the agreed ones never asked.
func untouched(a analysis.Assessment) []string {
	out := []string{}
	for _, c := range a.Cues {
		if counted(c) == 1 && c.StaleDays > 0 && c.Verdict != analysis.OnHold {
			out = append(out, c.Cue)
		}
	}
	if a.Stay == nil || a.Stay.Day < 3 {
		return out
	}
	for _, u := range a.Never {
		if u.Agreed && !u.OnHold {
			out = append(out, u.Cue)
		}
	}
	return out
}

// attention lists what is to be looked at of one dog, gravest first.
func attention(a analysis.Assessment, inHold InHold) []Attention {
	var out []Attention
	add := func(rank int, code string, cues ...string) {
		if cues == nil {
			cues = []string{}
		}
		out = append(out, Attention{Code: code, Dog: a.Name, Cues: cues, Text: say.Attention(code, a, cues), rank: rank})
	}
	if len(a.Incidents) > 0 {
		add(1, "incident")
	}
	if inHold.Trials > 0 {
		add(2, "logged in hold")
		out[len(out)-1].Text = say.InHold(inHold.Trials, inHold.Sessions)
	}
	hold := a.Verdict == analysis.OnHold
	if hold {
		add(3, "vet hold")
	}
	if cues := slow(a); len(cues) > 0 {
		add(4, "pain", cues...)
	}
	days, dueKnown := 0, false
	if a.Stay != nil && a.Stay.DaysToDue.Known && !goneHome(a) {
		days, dueKnown = int(a.Stay.DaysToDue.V), true
	}
	switch {
	case dueKnown && days < 0:
		add(5, "overdue")
	case dueKnown && days <= dueSoon && a.Verdict != analysis.Ready && !hold && len(a.Incidents) == 0:
		add(5, "due")
	case dueKnown && days <= dueSoon && a.Verdict == analysis.Ready && !a.Owner.Confirmed:
		add(8, "owner")
	}
	lost := lostToday(a)
	if len(lost) > 0 {
		add(6, "lost", lost...)
	} else if slices.ContainsFunc(a.Cues, func(c analysis.CueAssessment) bool { return c.Slipping.On }) && !hold {
		add(6, "slipping")
	}
	if cues := rising(a); len(cues) > 0 && len(a.Incidents) == 0 {
		add(7, "corrections", cues...)
	}
	if a.StaleDays > 0 {
		add(8, "stale")
	}
	if len(a.Unsettled) > 0 {
		add(9, "two forms")
	}
	if cues := untouched(a); len(cues) > 0 && a.StaleDays == 0 && !hold {
		add(10, "untouched", cues...)
	}
	if a.Today.Sessions == 0 && a.Stay != nil && a.Stay.Day > 2 && !hold && a.StaleDays == 0 && a.Last != 0 && a.Day-a.Last > 1 {
		add(11, "idle")
	}
	slices.SortStableFunc(out, func(x, y Attention) int { return cmp.Compare(x.rank, y.rank) })
	return out
}

func slow(a analysis.Assessment) []string {
	var out []string
	for _, c := range a.Cues {
		if c.Latency != nil && c.Latency.Doubled {
			out = append(out, c.Cue)
		}
	}
	return out
}

func lostToday(a analysis.Assessment) []string {
	var out []string
	for _, c := range a.Cues {
		if c.Before == analysis.Ready && c.Verdict != analysis.Ready && c.Verdict != analysis.OnHold {
			out = append(out, c.Cue)
		}
	}
	return out
}

func rising(a analysis.Assessment) []string {
	var out []string
	for _, c := range a.Cues {
		up := c.Corrections.Trend.Direction == analysis.Rising
		for _, d := range c.Corrections.Devices {
			up = up || d.Rises >= 3 || d.Trend.Direction == analysis.Rising
		}
		if up {
			out = append(out, c.Cue)
		}
	}
	return out
}

// NightlyText writes the night for a terminal or a mail: what needs a person first,
// then a line a dog.
func NightlyText(w io.Writer, n Nightly, o Options) error {
	width := o.prose()
	var b bytes.Buffer
	b.WriteString(nightHead(n) + "\n")
	if lines := nightTop(n, width, o); len(lines) > 0 {
		b.WriteString("\n" + strings.Join(lines, "\n") + "\n")
	}
	if len(n.Dogs) > 0 {
		b.WriteString("\n" + nightLine(o, width, "dog", "home", "verdict", "ready", "today", "as usual", "missing") + "\n")
	}
	for _, r := range n.Dogs {
		line := nightLine(o, width, say.Plain(r.Dog), homeWords(r, n.Day), nightVerdict(r), readyOf(r), today(r), say.Usual(r.Today), r.Missing)
		b.WriteString(paintIn(line, nightVerdict(r), r.Verdict, o) + "\n")
	}
	b.WriteString("\n" + nightFoot(n) + "\n")
	_, err := io.WriteString(w, trimLines(b.String()))
	return err
}

func paintIn(line, word string, v analysis.Verdict, o Options) string {
	if !o.Colour {
		return line
	}
	return strings.Replace(line, word, paint(word, v, o), 1)
}

func nightHead(n Nightly) string {
	ready, dogs := 0, map[string]bool{}
	for _, r := range n.Dogs {
		if r.Verdict == analysis.Ready {
			ready++
		}
	}
	for _, x := range n.Attention {
		if x.rank <= grave {
			dogs[x.Dog] = true
		}
	}
	s := "TONIGHT  " + say.LongDay(n.Day) + "   " + say.Count(len(n.Dogs), "dog") + "   " + fmt.Sprint(ready) + " ready"
	if k := len(dogs) + len(n.AtHome); k > 0 {
		s += "   " + fmt.Sprint(k) + " first"
	}
	return s
}

// nightLines is how many lines a night takes at most; only what stops training may make
// it longer.
const nightLines = 60

// nightTop sets what needs a person first, two lines a dog. What stops training is
// never cut. Where there is no room the others have one line, and the last are named.
func nightTop(n Nightly, width int, o Options) []string {
	top := groupAttention(n, o.All)
	name := 8
	for _, g := range top {
		name = max(name, min(12, cells(g.dog)))
	}
	set := func(g attentionGroup, most int) []string {
		lines := wrapLines(g.text, width-name-2)
		if len(lines) > most && !g.stop && !o.All {
			lines = append(lines[:most-1:most-1], o.shorten(strings.Join(lines[most-1:], " "), width-name-2))
		}
		for i := range lines {
			lead := ""
			if i == 0 {
				lead = o.shorten(g.dog, name)
			}
			lines[i] = lead + strings.Repeat(" ", name-cells(lead)+2) + lines[i]
		}
		return lines
	}
	room := max(10, nightLines-len(n.Dogs)-7)
	for _, most := range []int{2, 1} {
		var out []string
		for _, g := range top {
			out = append(out, set(g, most)...)
		}
		if o.All || len(out) <= room {
			return out
		}
	}
	var out, rest []string
	for _, g := range top {
		if lines := set(g, 1); g.stop || len(out)+len(lines) < room {
			out = append(out, lines...)
		} else {
			rest = append(rest, g.dog)
		}
	}
	if len(rest) > 0 {
		out = append(out, o.shorten(fmt.Sprintf("and %d more: %s", len(rest), strings.Join(rest, ", ")), width))
	}
	return out
}

type attentionGroup struct {
	dog, text string
	stop      bool // training stops
}

// groupAttention puts what is to be looked at of one dog into one text.
func groupAttention(n Nightly, all bool) []attentionGroup {
	var out []attentionGroup
	for _, x := range n.Attention {
		if x.rank > grave && !all {
			continue
		}
		if k := len(out); k > 0 && out[k-1].dog == say.Plain(x.Dog) {
			out[k-1].text += " " + x.Text
			continue
		}
		out = append(out, attentionGroup{say.Plain(x.Dog), x.Text, x.Code == "incident"})
	}
	for _, h := range n.AtHome {
		out = append(out, attentionGroup{say.Plain(h.Dog), h.Text, true})
	}
	return out
}

func nightLine(o Options, width int, c ...string) string {
	widths := []int{12, 12, 11, 7, 8, 9}
	var b strings.Builder
	for i, x := range c {
		if i == len(c)-1 {
			b.WriteString(o.shorten(x, max(8, width-cells(b.String()))))
			break
		}
		x = o.shorten(x, widths[i])
		b.WriteString(x + strings.Repeat(" ", widths[i]-cells(x)+1))
	}
	return strings.TrimRight(b.String(), " ")
}

func homeWords(r NightRow, day training.Day) string {
	switch {
	case r.Home != 0:
		return "went home"
	case r.Due == 0:
		return "no day"
	case r.Due-day > 8 || r.Due < day:
		return r.Due.Time(time.UTC).Format("2 Jan") + fmt.Sprintf(" (%d)", r.Due-day)
	}
	return r.Due.Time(time.UTC).Format("Mon 2") + fmt.Sprintf(" (%d)", r.Due-day)
}

func nightVerdict(r NightRow) string {
	switch {
	case len(r.Slipping) > 0 && r.Verdict == analysis.Ready:
		return "slipping"
	case r.Verdict == analysis.Ready && r.Before != analysis.Ready:
		return "READY new"
	case r.Verdict == analysis.Ready:
		return "READY"
	}
	return string(r.Verdict)
}

func readyOf(r NightRow) string { return fmt.Sprintf("%d of %d", r.ReadyCues, r.CountedCues) }

func today(r NightRow) string {
	switch {
	case r.Today.Asks > 0:
		return fmt.Sprintf("%d/%d", r.Today.Answered, r.Today.Asks)
	case r.Today.Minutes > 0:
		return say.Minutes(r.Today.Minutes)
	}
	return say.None
}

func nightFoot(n Nightly) string {
	sessions, asks := 0, 0
	for _, r := range n.Dogs {
		sessions += r.Today.Sessions
		asks += r.Today.Asks
	}
	return "Today " + say.Count(sessions, "session") + ", " + say.Count(asks, "ask") +
		". As usual: against what each dog has done lately; one day only.\n" +
		"One dog: firstcue report NAME    tomorrow for all: firstcue plan    everything: --full"
}

// NightlyMarkdown writes the night as CommonMark.
func NightlyMarkdown(w io.Writer, n Nightly, o Options) error { return nightPage(n).markdown(w) }

// NightlyHTML writes the night as one self-contained page.
func NightlyHTML(w io.Writer, n Nightly, o Options) error { return nightPage(n).html(w, o) }

func nightPage(n Nightly) page {
	p := page{title: "Tonight", aside: strings.ReplaceAll(strings.TrimPrefix(nightHead(n), "TONIGHT  "), "   ", ", ")}
	var list terms
	for _, g := range groupAttention(n, false) {
		list = append(list, [2]string{g.dog, g.text})
	}
	if len(list) > 0 {
		p.blocks = append(p.blocks, heading{text: "First"}, list)
	}
	g := grid{columns: []column{{name: "dog"}, {name: "home"}, {name: "verdict"}, {name: "ready"}, {name: "today"}, {name: "as usual"}, {name: "missing"}}, verdict: 2, rowHead: true}
	for _, r := range n.Dogs {
		g.rows = append(g.rows, []string{say.Plain(r.Dog), homeWords(r, n.Day), nightVerdict(r), readyOf(r), today(r), say.Usual(r.Today), r.Missing})
	}
	p.blocks = append(p.blocks, heading{text: "Every dog, by the day it goes home"}, g)
	var small bullets
	for _, x := range n.Attention {
		if x.rank > grave {
			small = append(small, say.Plain(x.Dog)+": "+x.Text)
		}
	}
	if len(small) > 0 {
		p.blocks = append(p.blocks, heading{text: "When there is time"}, small)
	}
	p.foot, _, _ = strings.Cut(nightFoot(n), "\n") // without the commands
	return p
}

// NightlyJSON writes the night as JSON, schema firstcue.nightly/1.
func NightlyJSON(w io.Writer, n Nightly, o Options) error { return WriteJSON(w, n) }

// nightFields is a dog's line as CSV cells: name, value. The guide and the header
// come from it too.
var nightFields = []struct {
	name  string
	value func(Nightly, NightRow) string
}{
	{"day", func(n Nightly, r NightRow) string { return n.Day.String() }},
	{"dog", func(n Nightly, r NightRow) string { return r.Dog }},
	{"verdict", func(n Nightly, r NightRow) string { return string(r.Verdict) }},
	{"verdictBefore", func(n Nightly, r NightRow) string { return string(r.Before) }},
	{"readyCues", func(n Nightly, r NightRow) string { return fmt.Sprint(r.ReadyCues) }},
	{"countedCues", func(n Nightly, r NightRow) string { return fmt.Sprint(r.CountedCues) }},
	{"ownerConfirmed", func(n Nightly, r NightRow) string { return fmt.Sprint(r.OwnerConfirmed) }},
	{"sessions", func(n Nightly, r NightRow) string { return fmt.Sprint(r.Today.Sessions) }},
	{"answered", func(n Nightly, r NightRow) string { return fmt.Sprint(r.Today.Answered) }},
	{"asks", func(n Nightly, r NightRow) string { return fmt.Sprint(r.Today.Asks) }},
	{"expected", func(n Nightly, r NightRow) string { return csvNum(r.Today.Expected) }},
	{"breaks", func(n Nightly, r NightRow) string { return fmt.Sprint(r.Today.Breaks) }},
	{"minutes", func(n Nightly, r NightRow) string { return say.Number(r.Today.Minutes) }},
	{"due", func(n Nightly, r NightRow) string { return r.Due.String() }},
	{"daysToDue", func(n Nightly, r NightRow) string { return csvNum(r.DaysToDue) }},
	{"chance", func(n Nightly, r NightRow) string { return csvNum(r.Chance) }},
	{"slipping", func(n Nightly, r NightRow) string { return strings.Join(r.Slipping, ", ") }},
	{"untouched", func(n Nightly, r NightRow) string { return strings.Join(r.Untouched, ", ") }},
	{"home", func(n Nightly, r NightRow) string { return r.Home.String() }},
	{"attention", func(n Nightly, r NightRow) string { return n.codes(r.Dog) }},
	{"missing", func(n Nightly, r NightRow) string { return r.Missing }},
}

// codes are those of what is to be looked at of a dog.
func (n Nightly) codes(dog string) string {
	var out []string
	for _, x := range n.Attention {
		if x.Dog == dog {
			out = append(out, x.Code)
		}
	}
	return strings.Join(out, ", ")
}

func csvNum(n training.Num) string {
	if !n.Known {
		return ""
	}
	return say.Number(n.V)
}

// NightlyCSV writes a line a dog, RFC 4180.
func NightlyCSV(w io.Writer, n Nightly, o CSVOptions) error {
	out := newCSV(w, o)
	var head []string
	for _, f := range nightFields {
		head = append(head, f.name)
	}
	out.row(head...)
	for _, r := range n.Dogs {
		var row []string
		for _, f := range nightFields {
			row = append(row, out.text(f.value(n, r)))
		}
		out.row(row...)
	}
	for _, h := range n.AtHome {
		row := make([]string, len(head))
		row[slices.Index(head, "day")], row[slices.Index(head, "dog")] = n.Day.String(), out.text(h.Dog)
		row[slices.Index(head, "home")], row[slices.Index(head, "attention")] = h.Home.String(), "incident"
		out.row(row...)
	}
	return out.close()
}
