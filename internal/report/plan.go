package report

import (
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"

	"firstcue/internal/analysis"
	"firstcue/internal/say"
	"firstcue/internal/training"
)

// PlanText writes the next session of one dog.
func PlanText(w io.Writer, a analysis.Assessment, lines []analysis.PlanLine, o Options) error {
	return planPage(a, lines).text(w, o)
}

// allowed is a plan's lines, none while training stops.
func allowed(a analysis.Assessment, lines []analysis.PlanLine) []analysis.PlanLine {
	if say.Do(a).Stop {
		return nil
	}
	return lines
}

func planPage(a analysis.Assessment, lines []analysis.PlanLine) page {
	lines = allowed(a, lines)
	total := 0.0
	for _, l := range lines {
		total += l.Minutes
	}
	p := page{title: say.Plain(a.Name), aside: "the next session, from the record up to " + say.LongDay(a.Day)}
	if todo := say.Do(a); todo.Stop {
		p.verdict, p.banner, p.tail = a.Verdict, "STOP", todo.Text
	}
	if len(lines) == 0 {
		p.blocks = append(p.blocks, para(nothingPlanned(a)))
		return p
	}
	g := grid{columns: []column{{side: Right}, {name: "do"}, {name: "who and where"}, {name: "why"}}, verdict: -1}
	for _, l := range lines {
		g.rows = append(g.rows, []string{strconv.Itoa(l.Rank), say.PlanWhat(l), whoAndWhere(l), say.PlanWhy(l)})
	}
	p.blocks = append(p.blocks, para(fmt.Sprintf("About %s min.", say.Number(math.Round(total)))), g)
	p.add("Mind today", todayCautions(a))
	return p
}

func nothingPlanned(a analysis.Assessment) string {
	if say.Do(a).Stop {
		return "Nothing is practised until that is settled."
	}
	if len(a.Holds) > 0 {
		return say.Plain(a.Name) + " is on hold: nothing until the vet says yes. Then a new first day."
	}
	return "Nothing to plan for " + say.Plain(a.Name) + " yet: log a first session."
}

// DaySheet is the plan of every dog that is here, to pin up.
type DaySheet struct {
	Schema string       `json:"schema"`
	Day    training.Day `json:"day"`
	Dogs   []DayPlan    `json:"dogs"`
	OnHold []string     `json:"onHold"`
}

// DayPlan is one dog's part of the day sheet.
type DayPlan struct {
	Dog   string              `json:"dog"`
	Main  string              `json:"mainTrainer"`
	Stop  string              `json:"stop"` // what comes before any training; "" = nothing
	Lines []analysis.PlanLine `json:"lines"`
}

// MakeDaySheet makes the sheet of the dogs' assessments and plans, in the order given.
func MakeDaySheet(day training.Day, dogs []analysis.Assessment, lines [][]analysis.PlanLine) DaySheet {
	d := DaySheet{Schema: "firstcue.daysheet/1", Day: day, Dogs: []DayPlan{}, OnHold: []string{}}
	for i, a := range dogs {
		if a.Verdict == analysis.OnHold && len(lines[i]) == 0 {
			d.OnHold = append(d.OnHold, a.Name)
			continue
		}
		p := DayPlan{Dog: a.Name, Main: a.Main, Lines: allowed(a, lines[i])}
		if todo := say.Do(a); todo.Stop {
			p.Stop = todo.Text
		}
		d.Dogs = append(d.Dogs, p)
	}
	return d
}

// DaySheetText writes the sheet for a terminal.
func DaySheetText(w io.Writer, d DaySheet, o Options) error { return d.page().text(w, o) }

// DaySheetHTML writes the sheet as a page to print and pin up.
func DaySheetHTML(w io.Writer, d DaySheet, o Options) error { return d.page().html(w, o) }

// DaySheetJSON writes the sheet as JSON, schema firstcue.daysheet/1.
func DaySheetJSON(w io.Writer, d DaySheet) error { return WriteJSON(w, d) }

// jsonPlan is the next session of one dog, from the record up to the day.
type jsonPlan struct {
	Dog   string              `json:"dog"`   // whose session it is
	Day   training.Day        `json:"day"`   // the record up to this day is gone by
	Lines []analysis.PlanLine `json:"lines"` // most pressing first; empty = nothing to plan
}

// PlanJSON writes one dog's plan as JSON, schema firstcue.plan/1.
func PlanJSON(w io.Writer, a analysis.Assessment, lines []analysis.PlanLine) error {
	return tagged(w, "plan", jsonPlan{a.Name, a.Day, allowed(a, lines)})
}

func (d DaySheet) page() page {
	p := page{title: "Day sheet", aside: "from the record up to " + say.LongDay(d.Day)}
	for _, x := range d.Dogs {
		title := say.Plain(x.Dog)
		if x.Main != "" {
			title += ", " + say.Plain(x.Main)
		}
		p.blocks = append(p.blocks, heading{text: title})
		if x.Stop != "" {
			p.blocks = append(p.blocks, para("STOP. "+x.Stop))
		}
		g := grid{columns: []column{{name: "do"}, {name: "who and where"}, {name: "why"}, {name: "done"}}, verdict: -1}
		for _, l := range x.Lines {
			g.rows = append(g.rows, []string{say.PlanWhat(l), whoAndWhere(l), say.PlanWhy(l), "[  ]"})
		}
		if len(g.rows) > 0 {
			p.blocks = append(p.blocks, g)
		}
	}
	if len(d.OnHold) > 0 {
		p.blocks = append(p.blocks, heading{text: "On hold"}, para(strings.Join(d.OnHold, ", ")+": nothing until the vet says yes."))
	}
	if len(d.Dogs)+len(d.OnHold) == 0 {
		p.blocks = append(p.blocks, para("No dog is here: firstcue dog add NAME --arrived today"))
	}
	return p
}

// whoAndWhere is never empty: a page to pin up has no holes.
func whoAndWhere(l analysis.PlanLine) string {
	if s := say.PlanWhere(l); s != "" {
		return s
	}
	return "anybody, anywhere"
}
