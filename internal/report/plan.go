package report

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"firstcue/internal/analysis"
	"firstcue/internal/training"
)

// PlanText writes the next session of one dog: what to do, with whom, where,
// and why, in the order in which it pays. minutes is the time it was fitted
// into, 0 = not fitted.
func PlanText(w io.Writer, a analysis.Assessment, lines []analysis.PlanLine, minutes int, o Options) error {
	p := page{title: plain(a.Dog.Name), aside: "next session, " + longDay(a.AsOf) + stay(a)}
	for _, h := range a.Holds {
		p.blocks = append(p.blocks, para(vetHold(h)))
	}
	for _, i := range a.Incidents {
		p.blocks = append(p.blocks, para("Open incident, "+shortDay(i.Day)+": "+sentence(plain(i.Text))))
	}
	if len(lines) == 0 {
		s := "Nothing to plan."
		for _, h := range a.Holds {
			if h.Covers(a.AsOf, "") {
				s = "Nothing to plan while the vet hold lasts."
			}
		}
		p.blocks = append(p.blocks, para(s))
		return p.text(w, o)
	}
	g := grid{verdict: -1, airy: true, columns: []column{{"#", Right}, {"What", Left}, {"Who", Left}, {"Where", Left}, {"Min", Right}, {"Why", Left}}}
	total := 0.0
	for i, l := range lines {
		g.rows = append(g.rows, []string{strconv.Itoa(i + 1), plain(l.What), planWho(l, ""), orWord(plain(l.Where), "anywhere"), planMinutes(l.Minutes), planWhy(l)})
		total += l.Minutes
	}
	p.blocks = append(p.blocks, g)
	s := "About " + Count(int(math.Ceil(total)), "minute") + " in all"
	if minutes > 0 {
		s += fmt.Sprintf(", fitted into %d", minutes)
	}
	p.blocks = append(p.blocks, para(s+". Few and short: stop while it is going well."))
	return p.text(w, o)
}

// planWhy leads with the reason's own word, so that the eye finds what must not
// be done at all.
func planWhy(l analysis.PlanLine) string {
	why := plain(l.Why)
	switch l.Reason {
	case analysis.PlanVet, analysis.PlanSlip:
		return strings.ToUpper(string(l.Reason)) + ": " + why
	}
	return why
}

func planWho(l analysis.PlanLine, main string) string {
	switch {
	case l.Who != "":
		return plain(l.Who)
	case l.Not != "":
		return "not " + plain(l.Not)
	case main != "":
		return plain(main)
	}
	return "anybody"
}

func planMinutes(m float64) string {
	if m <= 0 {
		return none
	}
	return strconv.Itoa(int(math.Ceil(m)))
}

// DaySheetText writes the plans of all dogs by handler.
func DaySheetText(w io.Writer, day training.Day, sheets []analysis.HandlerSheet, o Options) error {
	p := page{title: "Day sheet", aside: longDay(day)}
	if len(sheets) == 0 {
		p.blocks = append(p.blocks, para("Nothing to plan."))
	}
	for _, s := range sheets {
		g := grid{verdict: -1, columns: []column{{"Dog", Left}, {"What", Left}, {"Where", Left}, {"Min", Right}, {"Why", Left}}}
		total := 0.0
		for _, l := range s.Lines {
			g.rows = append(g.rows, []string{plain(l.Dog), plain(l.What), orWord(plain(l.Where), "anywhere"), planMinutes(l.Minutes), planWhy(l.PlanLine)})
			total += l.Minutes
		}
		p.blocks = append(p.blocks, heading{text: fmt.Sprintf("%s, about %s", sentenceCase(plain(s.Handler)), Count(int(math.Ceil(total)), "minute"))}, g)
	}
	return p.text(w, o)
}

type jsonPlan struct {
	Schema    string         `json:"schema"`
	Generated string         `json:"generated,omitempty"`
	Day       training.Day   `json:"day"`
	Minutes   *int           `json:"minutes"`
	Plans     []jsonDogPlan  `json:"plans"`
	Sheets    []jsonDaySheet `json:"handlers"`
}

type jsonDogPlan struct {
	Dog   string         `json:"dog"`
	Main  string         `json:"mainTrainer"`
	Lines []jsonPlanLine `json:"lines"`
}

type jsonDaySheet struct {
	Handler string         `json:"handler"`
	Lines   []jsonPlanLine `json:"lines"`
}

type jsonPlanLine struct {
	Rank    int     `json:"rank"`
	Dog     string  `json:"dog"`
	Cue     string  `json:"cue"`
	Kind    string  `json:"kind"`
	Reason  string  `json:"reason"`
	What    string  `json:"what"`
	Why     string  `json:"why"`
	Asks    int     `json:"asks"`
	Minutes float64 `json:"minutes"`
	Who     string  `json:"who"`
	Not     string  `json:"not"`
	Where   string  `json:"where"`
}

// PlanJSON writes the plans of one dog or of all for scripts, schema
// firstcue.plan/1, by dog and again by handler. minutes is 0 when the plans
// were not fitted into a time.
func PlanJSON(w io.Writer, day training.Day, plans []analysis.DogPlan, minutes int, o Options) error {
	j := jsonPlan{Schema: "firstcue.plan/1", Generated: generated(o.Generated), Day: day, Plans: []jsonDogPlan{}, Sheets: []jsonDaySheet{}}
	if minutes > 0 {
		j.Minutes = &minutes
	}
	line := func(dog string, l analysis.PlanLine) jsonPlanLine {
		return jsonPlanLine{l.Rank, dog, l.Cue, string(l.Kind), string(l.Reason), l.What, l.Why, l.Asks, l.Minutes, l.Who, l.Not, l.Where}
	}
	for _, p := range plans {
		d := jsonDogPlan{p.Dog, p.Main, []jsonPlanLine{}}
		for _, l := range p.Lines {
			d.Lines = append(d.Lines, line(p.Dog, l))
		}
		j.Plans = append(j.Plans, d)
	}
	for _, s := range analysis.DaySheet(plans) {
		d := jsonDaySheet{s.Handler, []jsonPlanLine{}}
		for _, l := range s.Lines {
			d.Lines = append(d.Lines, line(l.Dog, l.PlanLine))
		}
		j.Sheets = append(j.Sheets, d)
	}
	return writeJSON(w, j)
}
