package report

import (
	"fmt"
	"io"
	"math"
	"slices"
	"sort"
	"strconv"
	"strings"

	"firstcue/internal/analysis"
	"firstcue/internal/say"
	"firstcue/internal/training"
)

// Nightly is one evening's look at every dog in the kennel.
type Nightly struct {
	Day       training.Day
	Rows      []NightRow  // by name
	Attention []Attention // most pressing first
	AtHome    []NightHome // in the order they were added
}

// NightHome is a dog that has gone home and needs attention all the same.
type NightHome struct {
	Dog  string
	Home training.Day
}

// NightRow is one dog's line.
type NightRow struct {
	Dog, DogID string
	Verdict    analysis.Verdict
	Before     analysis.Verdict // last night's; "" = the dog was not here
	Sessions   int              // held on the day
	Trials     int              // scored on the day
	Yes, Of    int              // first asks answered on the day, all cues together
	// Usual is how many of Of the dog would have answered at the level that each
	// cue had the night before; unknown for a day without such trials.
	Usual       training.Num
	Walks       []NightWalk // motions walked on the day
	ReadyCues   int
	AgreedCues  int
	Slipping    []string     // cues with an alarm
	Untouched   []string     // agreed cues not asked for some days, or never
	Due         training.Day // 0 = say.None, or gone home
	DaysToDue   training.Num
	Home        training.Day // the day the dog went home, 0 = it is here
	Chance      training.Num // of being ready; unknown where anything but the level is missing
	Level       training.Num // chance that the level alone is there by the due day
	ChanceWords string
	Waits       []string // what has to be done besides the level
	chance      string
}

// NightWalk is a motion as it was walked on one day, in all its walks.
type NightWalk struct {
	Cue     string
	Breaks  int
	Minutes float64
}

// Attention is one thing somebody should look at. Code is stable: "incident",
// "vet hold", "two forms", "pain", "overdue", "fell", "lost", "slipping", "corrections", "due",
// "untouched", "idle".
type Attention struct {
	Code string
	Dog  string
	Cue  string // "" = the whole dog
	Text string
	rank int
}

// dueSoon is how many days before the due day a dog that is not ready is
// mentioned. Ours to choose: half a week still leaves time to call the owner.
const dueSoon = 4

// MakeNightly compares the assessments of a day with those of the day before.
// Dogs may stand in either list in any order; they are matched by ID, or by
// name where they have none. A dog that is missing yesterday is new. held has
// the sessions of the day of dogs on a vet hold, by the dog's name; what of them
// is left out is not said of a dog that is not in it.
func MakeNightly(day training.Day, today, yesterday []analysis.Assessment, held map[string][]training.Session) Nightly {
	key := func(a analysis.Assessment) string {
		if a.Dog.ID != "" {
			return a.Dog.ID
		}
		return training.Key(a.Dog.Name)
	}
	before := make(map[string]analysis.Assessment, len(yesterday))
	for _, a := range yesterday {
		before[key(a)] = a
	}
	n := Nightly{Day: day}
	for _, a := range today {
		b, had := before[key(a)]
		n.Rows = append(n.Rows, nightRow(day, a, b, had))
		n.Attention = append(n.Attention, attention(day, a, b, had, held[a.Dog.Name])...)
	}
	sort.SliceStable(n.Rows, func(i, j int) bool { return byName(n.Rows[i].Dog, n.Rows[j].Dog, n.Rows[i].DogID, n.Rows[j].DogID) })
	sort.SliceStable(n.Attention, func(i, j int) bool {
		a, b := n.Attention[i], n.Attention[j]
		if a.rank != b.rank {
			return a.rank < b.rank
		}
		return byName(a.Dog, b.Dog, a.Cue, b.Cue)
	})
	return n
}

func byName(a, b, thenA, thenB string) bool {
	if ka, kb := training.Key(a), training.Key(b); ka != kb {
		return ka < kb
	}
	return thenA < thenB
}

// NeedsAttention reports whether anything should be looked at: what --quiet and
// --exit-code go by.
func (n Nightly) NeedsAttention() bool { return len(n.Attention) > 0 }

func nightRow(day training.Day, a, b analysis.Assessment, had bool) NightRow {
	r := NightRow{Dog: a.Dog.Name, DogID: a.Dog.ID, Verdict: a.Verdict, ReadyCues: a.ReadyCues, AgreedCues: a.AgreedCues}
	if !goneHome(a) {
		r.Due, r.DaysToDue = a.Boarding.Due, a.DaysToDue
	} else {
		r.Home = a.Boarding.Home
	}
	if had {
		r.Before = b.Verdict
		r.Sessions = max(0, a.Sessions-b.Sessions)
	} else {
		r.Sessions = a.Sessions
	}
	if a.Forecast != nil {
		f := a.Forecast
		r.Chance, r.Level, r.Waits, r.ChanceWords = f.Chance, f.Level, f.Waits, short(f)
		r.chance = strings.TrimPrefix(chanceWords(f), "chance: ")
	}
	usual := 0.0
	whole := true
	for _, c := range a.Cues {
		p, ok := pointOn(c, day)
		if ok {
			r.Trials += p.Trials
			if c.Kind == training.Motion && p.Minutes > 0 {
				r.Walks = append(r.Walks, NightWalk{c.Cue, p.Breaks, p.Minutes})
			}
			if c.FirstCue != nil {
				r.Yes += p.Yes
				r.Of += p.Of
				if level, ok := currentOf(b, c.Cue); ok {
					usual += level * float64(p.Of)
				} else if p.Of > 0 {
					whole = false
				}
			}
		}
		if c.Alarm.On {
			r.Slipping = append(r.Slipping, c.Cue)
		}
	}
	if r.Of > 0 && whole {
		r.Usual = training.Known(math.Round(usual*10) / 10)
	}
	r.Untouched = untouched(day, a)
	return r
}

func pointOn(c analysis.CueAssessment, day training.Day) (analysis.DayPoint, bool) {
	for _, p := range c.Days3 {
		if p.Day == day {
			return p, true
		}
	}
	return analysis.DayPoint{}, false
}

func currentOf(a analysis.Assessment, cue string) (float64, bool) {
	for _, c := range a.Cues {
		if training.Key(c.Cue) == training.Key(cue) && c.FirstCue != nil && c.FirstCue.Current.Rate.Known {
			return c.FirstCue.Current.Rate.V, true
		}
	}
	return 0, false
}

// untouched lists the agreed cues that have not been asked for as many days as
// the criteria allow, and those never asked. A cue on hold is left alone.
func untouched(day training.Day, a analysis.Assessment) []string {
	var list []string
	for _, c := range a.Cues {
		if !c.Agreed || c.Verdict == analysis.OnHold || c.LastDay == 0 {
			continue
		}
		if stale := c.Criteria.StaleDays; stale > 0 && int(day-c.LastDay) >= stale {
			list = append(list, c.Cue)
		}
	}
	// In its first days a dog has not been asked everything, and need not be.
	if a.Verdict == analysis.OnHold || a.Stay && a.DayOfStay <= analysis.Defaults().StaleDays {
		return list
	}
	for _, c := range a.NeverTried {
		if len(a.Dog.Goals) > 0 && a.Dog.Agreed(c) {
			list = append(list, c)
		}
	}
	return list
}

func attention(day training.Day, a, b analysis.Assessment, had bool, held []training.Session) []Attention {
	var out []Attention
	say := func(rank int, code, cue, text string) {
		out = append(out, Attention{Code: code, Dog: a.Dog.Name, Cue: cue, Text: text, rank: rank})
	}
	for _, i := range a.Incidents {
		say(0, "incident", "", "open incident of "+say.ShortDay(i.Day)+": "+i.Text)
	}
	for _, h := range a.Holds {
		text := strings.TrimSuffix(lowerFirst(vetHold(h)), ".")
		if trials, sessions := inHold(h, day, held); trials > 0 {
			text += fmt.Sprintf("; %s of the day in %s left out", say.Count(trials, "trial"), say.Count(sessions, "session"))
		}
		say(1, "vet hold", "", text)
	}
	for _, s := range a.Unsettled {
		say(1, "two forms", "", "session of "+say.ShortDay(s.Day())+", "+s.Start.Format("15:04")+", said differently in two stores: firstcue session history "+ShortID(s.ID))
	}
	for _, c := range a.Cues {
		if l := c.Latency; l != nil && l.Doubled {
			say(2, "pain", c.Cue, fmt.Sprintf("answers take twice as long since %s (median %s, before %s): vet first", say.ShortDay(l.DoubledOn), say.SecondsOf(l.Last), say.SecondsOf(l.Baseline)))
		}
	}
	due := int(a.DaysToDue.V)
	switch {
	case goneHome(a):
	case a.DaysToDue.Known && due < 0:
		say(3, "overdue", "", "was due home "+say.Until(due)+" and is still here")
	case a.DaysToDue.Known && due <= dueSoon && a.Verdict != analysis.Ready:
		s := "due " + say.Until(due) + " and " + string(a.Verdict)
		if a.AgreedCues > 0 {
			s += fmt.Sprintf(", %d of %s ready", a.ReadyCues, say.Count(a.AgreedCues, agreedCue(a)))
		}
		if f := a.Forecast; f != nil && short(f) != "" {
			s += "; " + strings.ReplaceAll(chanceWords(f), "\n", "; ")
		}
		say(6, "due", "", s)
	}
	if had && b.Verdict == analysis.Ready && a.Verdict != analysis.Ready {
		say(4, "fell", "", "was ready yesterday, now "+string(a.Verdict))
	}
	for _, c := range a.Cues {
		if s := lostWords(day, c, b, had); s != "" {
			say(4, "lost", c.Cue, s)
		}
		if c.Alarm.On {
			s := c.Alarm.Say
			if s == "" {
				s = "more misses than before since " + say.ShortDay(c.Alarm.Since)
			}
			say(5, "slipping", c.Cue, trimEnd(s))
		}
		if c.Corrections.Trend.Direction == "rising" {
			say(5, "corrections", c.Cue, "corrected more often from session to session"+trendTail(c.Corrections.Trend))
		}
		for _, d := range c.Corrections.Devices {
			if d.Trend.Direction == "rising" {
				say(5, "corrections", c.Cue, "correction level rising on "+d.Device+trendTail(d.Trend))
			}
		}
	}
	if list := untouched(day, a); len(list) > 0 && !goneHome(a) {
		say(7, "untouched", "", "not asked lately: "+say.List(list))
	}
	if a.Verdict != analysis.OnHold && a.Last != day && a.Stay && !goneHome(a) {
		s := "no session today"
		if a.Last != 0 {
			s += ", last " + say.ShortDay(a.Last)
		}
		say(8, "idle", "", s)
	}
	return out
}

// inHold counts the trials of the day that a hold leaves out, and the sessions
// they were asked in. Baselines and second scorings stand in no figure anyway.
func inHold(h training.VetHold, day training.Day, list []training.Session) (trials, sessions int) {
	for _, s := range list {
		if s.Day() != day || s.Voided != "" || s.Rescores != "" || s.Baseline {
			continue
		}
		n := 0
		for _, t := range s.Trials {
			if h.Covers(day, t.Cue) {
				n += t.Count()
			}
		}
		if n > 0 {
			trials, sessions = trials+n, sessions+1
		}
	}
	return trials, sessions
}

// lostWords says that a cue has lost its level, or its position: on the night on
// which it did and on the next, whatever the dog as a whole was. "" = it has not.
func lostWords(day training.Day, c analysis.CueAssessment, before analysis.Assessment, had bool) string {
	fell := false
	for _, x := range before.Cues {
		fell = fell || had && training.Key(x.Cue) == training.Key(c.Cue) && x.Verdict == analysis.Ready &&
			(c.Verdict == analysis.NotReady || c.Verdict == analysis.NotShown)
	}
	from := day
	switch {
	case c.Lost != 0 && c.Lost <= day && c.Lost >= day-1:
		from = c.Lost
	case !fell:
		return ""
	}
	s := "was ready, now " + string(c.Verdict)
	for _, p := range c.Days3 { // a cue can lose its level while other things keep it from being ready
		if p.Day < from {
			fell = p.Verdict == analysis.Ready
		}
	}
	if !fell {
		s = "the level was there and is lost, " + string(c.Verdict)
		if c.Kind == training.Motion {
			s = "the position was there and is lost, " + string(c.Verdict)
		}
	}
	yes, of, breaks, walked := 0, 0, 0, 0.0
	for _, p := range c.Days3 {
		if p.Day >= from && p.Day <= day {
			yes, of, breaks, walked = yes+p.Yes, of+p.Of, breaks+p.Breaks, walked+p.Minutes
		}
	}
	switch {
	case c.Kind == training.Motion && walked > 0:
		s += fmt.Sprintf(": %s in %s", say.Count(breaks, "break"), say.Minutes(walked))
	case c.Kind != training.Motion && of > 0:
		s += fmt.Sprintf(": %d of %s answered", yes, say.Count(of, "first ask"))
	default:
		return s
	}
	if from < day {
		s += " since " + say.ShortDay(from)
	}
	return s
}

// AddHome adds what needs attention of a dog that has gone home: its incidents
// that are open on the day. It has no row in the table: nothing was done with it
// here. In CSV, which has nothing but rows, it has one without figures.
func (n *Nightly) AddHome(dog string, home training.Day, incidents []training.Incident) {
	for _, i := range incidents {
		if i.Day > n.Day || i.Closed != 0 && i.Closed <= n.Day {
			continue
		}
		if k := len(n.AtHome); k == 0 || n.AtHome[k-1].Dog != dog {
			n.AtHome = append(n.AtHome, NightHome{dog, home})
		}
		at := 0
		for at < len(n.Attention) && n.Attention[at].rank == 0 {
			at++
		}
		n.Attention = slices.Insert(n.Attention, at, Attention{Code: "incident", Dog: dog, Text: "at home since " + say.ShortDay(home) + ", open incident of " + say.ShortDay(i.Day) + ": " + i.Text})
	}
}

func lowerFirst(s string) string {
	if s == "" {
		return s
	}
	return strings.ToLower(s[:1]) + s[1:]
}

func (n Nightly) page(o Options) page {
	p := page{title: "Tonight", aside: say.LongDay(n.Day)}
	ready, trials, sessions := 0, 0, 0
	for _, r := range n.Rows {
		if r.Verdict == analysis.Ready {
			ready++
		}
		trials += r.Trials
		sessions += r.Sessions
	}
	p.blocks = append(p.blocks, para(fmt.Sprintf("%s, %d ready. %s and %s today. %s.",
		say.Count(len(n.Rows), "dog"), ready, say.Count(sessions, "session"), say.Count(trials, "trial"), needs(len(n.Attention)))))
	if len(n.Rows) > 0 {
		g := grid{caption: "Every dog", verdict: 1, rowHead: true, columns: []column{{"Dog", Left}, {"Verdict", Left}, {"Ready", Left}, {"Sess.", Right}, {"Trials", Right},
			{"First cue, breaks", Left}, {"Due in", Left}, {"Chance", Left}, {"Watch", Left}}}
		for _, r := range n.Rows {
			g.rows = append(g.rows, []string{say.Plain(r.Dog), verdictChange(r), fmt.Sprintf("%d of %d", r.ReadyCues, r.AgreedCues),
				strconv.Itoa(r.Sessions), strconv.Itoa(r.Trials), firstToday(r), dueWords(r), orNone(r.chance), watch(r)})
		}
		p.blocks = append(p.blocks, g)
	}
	list := make(bullets, 0, len(n.Attention))
	for _, a := range n.Attention {
		s := say.Plain(a.Dog)
		if a.Cue != "" {
			s += ", " + say.Plain(a.Cue)
		}
		list = append(list, s+": "+trimEnd(say.Plain(a.Text))+".")
	}
	p.add("Needs attention", list)
	if len(n.Rows) == 0 {
		return p
	}
	p.foot = "Ready: cues of those agreed. First cue: asks of the day answered at once, all cues together, without interval because it is one day; usual: how many of them last night's levels would have given; below, breaks of position in the minutes walked. Chance: of being ready by the due day, or what that waits for; level alone: the chance without that. Watch: cues that are slipping, and agreed cues not asked lately."
	if !o.Generated.IsZero() {
		p.foot += " Made " + o.Generated.Format("2006-01-02 15:04") + "."
	}
	return p
}

func needs(n int) string {
	switch n {
	case 0:
		return "Nothing needs attention"
	case 1:
		return "1 thing needs attention"
	}
	return fmt.Sprintf("%d things need attention", n)
}

func names(list []string) string {
	out := make([]string, len(list))
	for i, s := range list {
		out[i] = say.Plain(s)
	}
	return strings.Join(out, ", ")
}

func orNone(s string) string {
	if s == "" {
		return say.None
	}
	return s
}

func verdictChange(r NightRow) string {
	s := string(r.Verdict)
	switch {
	case r.Before == "":
		s += "\nnew"
	case r.Before != r.Verdict:
		s += "\nbefore: " + glue.Replace(string(r.Before))
	}
	return s
}

// chanceWords is a forecast for a cell or a line: the chance of being ready, or
// what it waits for with the chance of the level alone. That one never stands by
// itself: it would promise what people or places may keep from coming true.
func chanceWords(f *analysis.Forecast) string {
	s := short(f)
	if f.Level.Known && !f.Chance.Known {
		s += "\nlevel alone: " + analysis.InWords(f.Level.V)
	} else if f.Chance.Known {
		s = "chance: " + s
	}
	return s
}

// watch lists the cues with an alarm and those left alone too long.
func watch(r NightRow) string {
	var s []string
	if len(r.Slipping) > 0 {
		s = append(s, "slipping: "+names(r.Slipping))
	}
	if len(r.Untouched) > 0 {
		s = append(s, "not asked: "+names(r.Untouched))
	}
	return orNone(strings.Join(s, "\n"))
}

func firstToday(r NightRow) string {
	var s []string
	if r.Of > 0 {
		s = append(s, fmt.Sprintf("%d/%d", r.Yes, r.Of))
	}
	if r.Of > 0 && r.Usual.Known {
		s = append(s, "(usual "+fixed(r.Usual.V, 1, bounds{})+")")
	}
	return orNone(strings.Join(append(s, walkWords(r)...), "\n"))
}

// walkWords are the day's walks: "heel 18 in 16 min".
func walkWords(r NightRow) []string {
	var s []string
	for _, w := range r.Walks {
		s = append(s, fmt.Sprintf("%s %d in %s", say.Plain(w.Cue), w.Breaks, say.Minutes(w.Minutes)))
	}
	return s
}

func dueWords(r NightRow) string {
	if r.Home != 0 {
		return "gone home"
	}
	if !r.DaysToDue.Known {
		return say.None
	}
	switch n := int(r.DaysToDue.V); {
	case n == 0:
		return "today"
	case n < 0:
		return say.Count(-n, "day") + " over"
	default:
		return say.Count(n, "day")
	}
}

// NightlyText writes the evening's report for a terminal or a mail.
func NightlyText(w io.Writer, n Nightly, o Options) error { return n.page(o).text(w, o) }

// NightlyMarkdown writes it as CommonMark with tables.
func NightlyMarkdown(w io.Writer, n Nightly, o Options) error { return n.page(o).markdown(w) }

// NightlyHTML writes it as one self-contained page.
func NightlyHTML(w io.Writer, n Nightly, o Options) error { p := n.page(o); return p.html(w, o) }

// NightlyCSV writes one row a dog: RFC 4180, one plain value a cell, empty for
// unknown, text that a spreadsheet would run as a formula behind an apostrophe.
// Dogs at home that need attention come last, without verdict and figures.
func NightlyCSV(w io.Writer, n Nightly, o CSVOptions) error {
	c := newCSV(w, o)
	c.row("day", "dog", "verdict", "verdict_before", "cues_ready", "cues_agreed", "sessions", "trials", "first_yes", "first_of", "first_usual",
		"slipping", "not_asked_lately", "due", "days_to_due", "chance", "chance_words", "attention", "level_chance", "waits", "walks", "home", "attention_words")
	attention := func(dog string) (count, words string) {
		var list []string
		for _, a := range n.Attention {
			if a.Dog != dog {
				continue
			}
			text := trimEnd(say.Plain(a.Text))
			if a.Cue != "" {
				text = say.Plain(a.Cue) + ": " + text
			}
			list = append(list, text)
		}
		return strconv.Itoa(len(list)), strings.Join(list, "; ")
	}
	for _, r := range n.Rows {
		count, words := attention(r.Dog)
		c.row(n.Day.String(), c.text(r.Dog), string(r.Verdict), string(r.Before), strconv.Itoa(r.ReadyCues), strconv.Itoa(r.AgreedCues),
			strconv.Itoa(r.Sessions), strconv.Itoa(r.Trials), strconv.Itoa(r.Yes), strconv.Itoa(r.Of), c.num(r.Usual),
			c.text(strings.Join(r.Slipping, "; ")), c.text(strings.Join(r.Untouched, "; ")), r.Due.String(), c.num(r.DaysToDue), c.num(r.Chance), c.text(r.ChanceWords), count, c.num(r.Level), c.text(strings.Join(r.Waits, "; ")), c.text(strings.Join(walkWords(r), "; ")), r.Home.String(), c.text(words))
	}
	for _, h := range n.AtHome {
		count, words := attention(h.Dog)
		c.row(n.Day.String(), c.text(h.Dog), "", "", "", "", "", "", "", "", "", "", "", "", "", "", "", count, "", "", "", h.Home.String(), c.text(words))
	}
	return c.close()
}

type jsonNightly struct {
	Schema    string          `json:"schema"`
	Generated string          `json:"generated,omitempty"`
	Day       training.Day    `json:"day"`
	Dogs      []jsonNight     `json:"dogs"`
	Attention []jsonAttention `json:"attention"`
}

type jsonNight struct {
	Dog           string       `json:"dog"`
	DogID         string       `json:"dogId"`
	Verdict       string       `json:"verdict"`
	VerdictBefore *string      `json:"verdictBefore"`
	ReadyCues     int          `json:"readyCues"`
	AgreedCues    int          `json:"agreedCues"`
	Sessions      int          `json:"sessions"`
	Trials        int          `json:"trials"`
	Yes           int          `json:"firstYes"`
	Of            int          `json:"firstOf"`
	Usual         training.Num `json:"firstUsual"`
	Slipping      []string     `json:"slipping"`
	Untouched     []string     `json:"notAskedLately"`
	Due           training.Day `json:"due"`
	DaysToDue     training.Num `json:"daysToDue"`
	Chance        training.Num `json:"chance"`
	ChanceWords   string       `json:"chanceWords"`
	Level         training.Num `json:"level"`
	Waits         []string     `json:"waits"`
	Walks         []jsonWalk   `json:"walks"`
}

type jsonWalk struct {
	Cue     string  `json:"cue"`
	Breaks  int     `json:"breaks"`
	Minutes float64 `json:"minutes"`
}

type jsonAttention struct {
	Code string `json:"code"`
	Dog  string `json:"dog"`
	Cue  string `json:"cue"`
	Text string `json:"text"`
}

// NightlyJSON writes it for scripts, schema firstcue.nightly/1.
func NightlyJSON(w io.Writer, n Nightly, o Options) error {
	j := jsonNightly{Schema: "firstcue.nightly/1", Generated: generated(o.Generated), Day: n.Day, Dogs: []jsonNight{}, Attention: []jsonAttention{}}
	for _, r := range n.Rows {
		var before *string
		if r.Before != "" {
			s := string(r.Before)
			before = &s
		}
		walks := []jsonWalk{}
		for _, w := range r.Walks {
			walks = append(walks, jsonWalk(w))
		}
		j.Dogs = append(j.Dogs, jsonNight{r.Dog, r.DogID, string(r.Verdict), before, r.ReadyCues, r.AgreedCues, r.Sessions, r.Trials, r.Yes, r.Of,
			finite(r.Usual), list(r.Slipping), list(r.Untouched), r.Due, finite(r.DaysToDue), finite(r.Chance), r.ChanceWords, finite(r.Level), list(r.Waits), walks})
	}
	for _, a := range n.Attention {
		j.Attention = append(j.Attention, jsonAttention{a.Code, a.Dog, a.Cue, a.Text})
	}
	return writeJSON(w, j)
}
