package say

import (
	"strings"

	"firstcue/internal/analysis"
)

// PlanDo says what to do: "6 downs with Bram, at the barn".
func PlanDo(l analysis.PlanLine) string {
	s := PlanWhat(l)
	if w := PlanWhere(l); w != "" {
		s += ", " + w
	}
	return s
}

// PlanWhat says what to ask: "6 downs", "3 stays of 1:00", "walk heel 5 min".
func PlanWhat(l analysis.PlanLine) string {
	switch {
	case l.Reason == analysis.PlanVet:
		return "leave out " + Plain(l.Cue)
	case l.Asks == 0 && l.Minutes > 0:
		return Plain(l.Cue) + ", " + Minutes(l.Minutes)
	case l.Seconds.Known:
		return Cues(l.Asks, l.Cue) + " of " + Clock(l.Seconds.V)
	}
	return Cues(l.Asks, l.Cue)
}

// PlanWhere says who asks, where, and on which leash.
func PlanWhere(l analysis.PlanLine) string {
	var parts []string
	switch {
	case l.Person != "":
		parts = append(parts, Plain(l.Person))
	case l.NotBy != "":
		parts = append(parts, "anybody but "+Plain(l.NotBy))
	}
	switch {
	case l.Place != "":
		parts = append(parts, At(l.Place))
	case l.NewPlace && l.Away:
		parts = append(parts, "at a new place away")
	case l.NewPlace:
		parts = append(parts, "at a new place")
	case l.Away:
		parts = append(parts, "away from your ground")
	}
	if l.Leash != "" {
		parts = append(parts, Leash(l.Leash))
	}
	return strings.Join(parts, ", ")
}

// PlanWhy says why, and how hard to make it.
func PlanWhy(l analysis.PlanLine) string {
	why := planReason(l)
	if step := planStep(l); step != "" && l.Reason != analysis.PlanVet && l.Reason != analysis.PlanEasy {
		why += " " + step
	}
	return why
}

func planReason(l analysis.PlanLine) string {
	switch l.Reason {
	case analysis.PlanVet:
		return "Slower or refused answers can be pain. Ask the owner's vet first."
	case analysis.PlanSlip:
		return "Slipping since " + Weekday(l.Since) + ". Ask for pain first."
	case analysis.PlanOwner:
		if l.Lack != nil {
			return Sentence("missing: " + Lack(*l.Lack))
		}
		return "The owner's lessons come by the date."
	case analysis.PlanGoal:
		return "Agreed with the owner, so far " + Counted(l.Tally) + "."
	case analysis.PlanNever:
		return "Agreed, and never asked."
	case analysis.PlanStale:
		return "Not asked since " + Weekday(l.Since) + "."
	case analysis.PlanEasy:
		return "End on something easy."
	case analysis.PlanNew:
		return "A new first day: easy asks only, stop if slow."
	case analysis.PlanProve:
		if l.Lack != nil {
			return Sentence("missing: " + Lack(*l.Lack))
		}
		return "Moves the answer most. So far " + Counted(l.Tally) + "."
	}
	return "Keeps it going."
}

func planStep(l analysis.PlanLine) string {
	if l.LastFive.Asks == 0 {
		return ""
	}
	five := Number(float64(l.LastFive.Answered)) + " of the last " + Number(float64(l.LastFive.Asks)) + ": "
	switch l.Step {
	case analysis.Easier:
		return Sentence(five + "make it easier")
	case analysis.Harder:
		return Sentence(five + "one thing harder, farther or longer or busier")
	}
	return ""
}
