package report

import (
	"fmt"
	"io"
	"slices"
	"strings"

	"firstcue/internal/analysis"
	"firstcue/internal/say"
	"firstcue/internal/training"
)

type packetPage struct {
	ownerHead
	Photo         any
	Bad, Still    bool
	Verdict, Lead string
	Cues          []packetCue
	Places        []packetPlace
	Matrix        []packetRow
	Words         []packetWord
	NoPractice    string
	Homework      []packetWeek
	Vet, Rechecks string
}

type packetCue struct {
	Name, Figure, Likely, Text, Tone, MarkText string
	HasBar                                     bool
	Low, Width, Now, Mark                      float64 // per cent of the bar's width
}

type packetPlace struct{ Name, Where string }

type packetRow struct {
	Who      string
	Cells    []packetCell
	NotTried string
}

type packetCell struct{ Place, Class, Count, Note string }

type packetWord struct{ Say, Signal, Means, Ends string }

type packetWeek struct {
	When, Where, What string
	Boxes             []struct{}
}

// Packet writes the owner's packet: two printed pages, one self-contained file without
// a script. What it knows besides is in Appendix.
func Packet(w io.Writer, a analysis.Assessment, r training.Record, o OwnerOptions) error {
	p := packetPage{ownerHead: headOf(a, o, say.Plain(a.Name)+": for "+ownerOf(a)), Vet: say.Plain(o.Vet), NoPractice: stopped(a)}
	if o.Photo != "" {
		p.Photo = o.Photo
	}
	p.Sub = packetSub(a, o)
	p.Verdict, p.Lead = say.OwnerLead(a)
	p.Bad, p.Still = a.Verdict != analysis.Ready, p.NoPractice != ""
	for _, c := range agreedCues(a) {
		p.Cues = append(p.Cues, packetCueOf(c))
	}
	p.Places, p.Matrix = matrix(a)
	p.Words = packetWords(a, r)
	if p.NoPractice == "" {
		p.Homework = homework(a, r, o)
		p.Rechecks = recheckWords(o.Handoff)
	}
	return ownerTemplates().ExecuteTemplate(w, "packet", p)
}

func packetSub(a analysis.Assessment, o OwnerOptions) string {
	s := "For " + ownerOf(a) + "."
	if a.Stay != nil {
		s += " With us from " + say.DayMonth(a.Stay.Arrived)
		if o.Handoff != 0 && a.Verdict == analysis.Ready {
			s += ", home on " + say.Weekday(o.Handoff)
		}
		s += "."
	}
	return s + " Figures of " + say.LongDay(a.Day) + "."
}

func packetCueOf(c analysis.CueAssessment) packetCue {
	q := packetCue{Name: say.Plain(c.Cue), Tone: "--bad"}
	q.Figure, q.Likely = say.OwnerCue(c)
	text := []string{}
	if q.Likely != "" {
		text = append(text, say.Sentence(q.Likely))
	}
	if c.Hold != nil && c.Hold.Target.Known {
		text = append(text, say.Sentence("each for "+say.Clock(c.Hold.Target.V)))
	}
	q.Text = strings.Join(append(text, say.WithYou(c.Owner.Tally)), " ")
	switch c.Verdict {
	case analysis.Ready:
		q.Tone = "--good"
	case analysis.NotProven, analysis.OnHold:
		q.Tone = "--mid"
	}
	f := c.Now
	if hidden(c) { // the pooled figure hides it
		f = c.Others.Figure
		one := say.Plain(c.Others.NotBy)
		text = []string{"Without " + one + ", as drawn.", say.WithYou(c.Owner.Tally)}
		for _, x := range c.People {
			if x.Person == c.Others.NotBy && x.Figure.Now.Known {
				text[0] = "Without " + one + ", as drawn; with " + one + " " + say.Whole(x.Figure.Now.V, known(x.Figure.Bar)...) + "."
			}
		}
		q.Text = strings.Join(text, " ")
		q.Figure = say.Whole(f.Now.V, known(f.Bar)...) + " of 100"
	}
	if c.Kind == training.Motion || !f.Now.Known || !f.Low80.Known || !f.High80.Known {
		return q
	}
	q.HasBar, q.Low, q.Width, q.Now = true, 100*f.Low80.V, 100*(f.High80.V-f.Low80.V), 100*f.Now.V
	if f.Bar.Known {
		q.Mark, q.MarkText = 100*f.Bar.V, say.Number(100*f.Bar.V)
	}
	return q
}

// hidden says that a cue passes with everybody together and fails without one person.
func hidden(c analysis.CueAssessment) bool {
	return c.Others != nil && c.Others.Standing == analysis.Failed && c.Others.Figure.Now.Known &&
		c.Now.Bar.Known && c.Now.Now.V >= c.Now.Bar.V
}

// matrix is people × places, all agreed cues together, the owner as "You", people who
// do not train the dog as one row.
func matrix(a analysis.Assessment) ([]packetPlace, []packetRow) {
	type cell struct {
		t     analysis.Tally
		leash training.Leash
		last  training.Day
	}
	cells := map[[2]string]*cell{}
	var who []string
	for _, p := range a.People {
		name := person(a, p.Name)
		if !slices.Contains(who, name) {
			who = append(who, name)
		}
	}
	for _, c := range agreedCues(a) {
		for _, x := range c.Cells {
			if x.Untried || x.Asks == 0 {
				continue
			}
			key := [2]string{person(a, x.Person), x.Place}
			if cells[key] == nil {
				cells[key] = &cell{}
			}
			q := cells[key]
			q.t.Answered += x.Answered
			q.t.Asks += x.Asks
			if x.Last >= q.last {
				q.last, q.leash = x.Last, x.Leash
			}
		}
	}
	var places []packetPlace
	for _, p := range a.Places {
		where := "here"
		if p.OffProperty {
			where = say.Away
		}
		places = append(places, packetPlace{say.Plain(p.Name), where})
	}
	var rows []packetRow
	for _, name := range who {
		row := packetRow{Who: upperFirst(name)}
		var untried []string
		for _, p := range a.Places {
			q := cells[[2]string{name, p.Name}]
			if q == nil {
				row.Cells = append(row.Cells, packetCell{say.Plain(p.Name), "n", "–", "not tried"})
				untried = append(untried, p.Name)
				continue
			}
			class := "g"
			switch share := float64(q.t.Answered) / float64(q.t.Asks); {
			case share < 0.7:
				class = "b"
			case share < 0.85:
				class = "m"
			}
			row.Cells = append(row.Cells, packetCell{say.Plain(p.Name), class, fmt.Sprintf("%d of %d", q.t.Answered, q.t.Asks), say.Leash(q.leash)})
		}
		row.NotTried = say.Names(untried)
		rows = append(rows, row)
	}
	if len(places) == 0 {
		return nil, nil
	}
	return places, rows
}

func person(a analysis.Assessment, name string) string {
	for _, p := range a.People {
		if p.Name == name {
			return say.Person(name, p.Role)
		}
	}
	return say.Plain(name)
}

func upperFirst(s string) string { return strings.TrimSuffix(say.Sentence(s), ".") }

func packetWords(a analysis.Assessment, r training.Record) []packetWord {
	var out []packetWord
	for _, c := range agreedCues(a) {
		word, signal, ends, meaning := cueWord(a.Dog, r.Kennel, c.Cue)
		q := packetWord{Say: word, Signal: "No hand signal", Means: say.Sentence(say.Plain(a.Name) + ": " + meaning), Ends: say.Sentence("over: " + ends)}
		if signal != "" && signal != "voice" {
			q.Signal = say.Sentence(signal)
		}
		if meaning == "" {
			q.Means = say.Sentence("the word for " + say.Plain(c.Cue))
		}
		switch {
		case c.Kind == training.Response && ends == "one answer":
			q.Ends = "Over after one " + say.Plain(c.Cue) + "."
		case c.Kind != training.Response && ends == "until released":
			q.Ends = "Over only when you release."
		case ends == "":
			q.Ends = ""
		}
		out = append(out, q)
	}
	return out
}

// homework is what to practise in the first four weeks, in the owner's own places.
func homework(a analysis.Assessment, r training.Record, o OwnerOptions) []packetWeek {
	places := o.AtHome
	if len(places) == 0 {
		places = []string{"indoors", "garden", "your street", "a quiet park"}
	}
	at := func(i int) string { return say.Plain(places[min(i, len(places)-1)]) }
	week := func(n int) string {
		if o.Handoff == 0 { // the day it goes home is not known
			return fmt.Sprintf("Week %d at home", n)
		}
		return fmt.Sprintf("Week %d, from %s", n, say.DayMonth(o.Handoff+training.Day(7*(n-1))))
	}
	var asks []string
	for _, c := range agreedCues(a) {
		word, _, _, _ := cueWord(a.Dog, r.Kennel, c.Cue)
		switch c.Kind {
		case training.Response:
			asks = append(asks, word+" 5")
		case training.Holding:
			asks = append(asks, word+" 30 s twice")
		case training.Motion:
			asks = append(asks, word+" 2 min")
		}
	}
	what := strings.Join(asks, ", ") + "."
	weeks := []packetWeek{
		{When: week(1), Where: at(0), What: what + " You ask. On the lead."},
		{When: week(2), Where: at(0) + ", " + at(1), What: "The same. A second person asks what went well."},
		{When: week(3), Where: at(2), What: "Nearer and quieter than you think. Line on."},
		{When: week(4), Where: at(3), What: "Line on. Ten first asks of each word, written down, the misses too."},
	}
	for i := range weeks {
		weeks[i].Boxes = make([]struct{}, 5)
	}
	return weeks
}

func recheckWords(handoff training.Day) string {
	if handoff == 0 {
		return ""
	}
	var days []string
	for _, r := range Rechecks(handoff)[:3] {
		days = append(days, say.DayMonth(r.Day))
	}
	return strings.Join(days, ", ")
}

// Appendix writes what the packet leaves out: each cue's figures, charts, cautions.
// Nothing of it is the kennel's free text.
func Appendix(w io.Writer, a analysis.Assessment, o OwnerOptions) error {
	p := page{title: say.Plain(a.Name), aside: "the figures behind the packet, " + say.LongDay(a.Day)}
	a.Cues = withoutOutsiders(a, agreedCues(a))
	p.add("Each word", cueGrid(a))
	p.add("What was agreed", goalGrid(a))
	p.add("With the owner", ownerGrid(a))
	p.add("Charts", chartBlocks(a)...)
	var list bullets
	for _, c := range a.Cautions {
		if !c.Stop || len(a.Incidents) > 0 {
			list = append(list, say.Caution(c))
		}
	}
	p.add("What to mind", list)
	p.add("What the numbers mean", glossary(a))
	p.foot = say.Plain(o.Kennel)
	return p.html(w, Options{})
}

// withoutOutsiders copies cues so that people who do not train the dog stand in them
// without their names.
func withoutOutsiders(a analysis.Assessment, cues []analysis.CueAssessment) []analysis.CueAssessment {
	who := func(name string) string {
		for _, p := range a.People {
			if p.Name == name && p.Role == training.Outsider {
				return say.Person(name, p.Role)
			}
		}
		return name
	}
	contexts := func(list []analysis.Context) []analysis.Context {
		list = slices.Clone(list)
		for i := range list {
			list[i].Person = who(list[i].Person)
		}
		return list
	}
	for i := range cues {
		c := &cues[i]
		c.People, c.Cells, c.Course = contexts(c.People), contexts(c.Cells), slices.Clone(c.Course)
		for j := range c.Course {
			p := &c.Course[j]
			p.People, p.NewPeople = slices.Clone(p.People), slices.Clone(p.NewPeople)
			for k := range p.People {
				p.People[k].Person = who(p.People[k].Person)
			}
			for k := range p.NewPeople {
				p.NewPeople[k] = who(p.NewPeople[k])
			}
		}
	}
	return cues
}
