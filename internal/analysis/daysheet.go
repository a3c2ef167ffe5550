package analysis

import (
	"cmp"
	"slices"
)

// DogPlan is one dog's plan for a day sheet.
type DogPlan struct {
	Dog   string
	Main  string // who has the dog when a line names nobody
	Lines []PlanLine
}

// PersonSheet is what one person does that day.
type PersonSheet struct {
	Person string      `json:"person"` // "" = anybody, or anybody but NotBy
	NotBy  string      `json:"notBy"`
	Lines  []SheetLine `json:"lines"`
}

// SheetLine is a line of a plan with its dog.
type SheetLine struct {
	Dog string `json:"dog"`
	PlanLine
}

// DaySheet sorts the plans of all dogs by person, names in order, those that name
// nobody in particular last.
func DaySheet(plans []DogPlan) []PersonSheet {
	var out []PersonSheet
	for _, p := range plans {
		for _, l := range p.Lines {
			who, not := l.Person, l.NotBy
			if who == "" && not == "" {
				who = p.Main
			}
			i := slices.IndexFunc(out, func(s PersonSheet) bool { return s.Person == who && s.NotBy == not })
			if i < 0 {
				i = len(out)
				out = append(out, PersonSheet{Person: who, NotBy: not})
			}
			out[i].Lines = append(out[i].Lines, SheetLine{p.Dog, l})
		}
	}
	slices.SortStableFunc(out, func(a, b PersonSheet) int {
		return cmp.Or(cmp.Compare(one(a.Person == ""), one(b.Person == "")),
			cmp.Compare(a.Person, b.Person), cmp.Compare(a.NotBy, b.NotBy))
	})
	return out
}
