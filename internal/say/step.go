package say

import (
	"strings"

	"firstcue/internal/analysis"
	"firstcue/internal/training"
)

// StepName names a step before home.
func StepName(n analysis.StepName) string {
	switch n {
	case analysis.StepColleague:
		return "a colleague"
	case analysis.StepOwner:
		return "the owner"
	}
	return string(n)
}

// Answer gives a step's answer.
func Answer(a analysis.Answer) string { return string(a) }

// Step says what a step's answer rests on, or the one thing that is missing.
func Step(s analysis.Step) string {
	var parts []string
	if s.Lack != nil {
		parts = append(parts, Lack(*s.Lack))
	}
	if on := leashes(s.Leashes); on != "" && s.Name != analysis.StepOffLeash && s.Name != analysis.StepHome {
		parts = append(parts, on)
	}
	if len(s.People) > 1 || len(s.People) == 1 && s.Name != analysis.StepOffLeash && s.Name != analysis.StepOffProperty {
		for i, p := range s.People {
			if i == 3 {
				break
			}
			parts = append(parts, Plain(p.Person)+" "+Counted(p.Tally))
		}
	} else if s.Asks > 0 || s.Minutes > 0 {
		parts = append(parts, Counted(s.Tally))
	}
	return strings.Join(parts, "; ")
}

func leashes(list []training.Leash) string {
	if len(list) == 0 {
		return ""
	}
	last := list[len(list)-1]
	if last == "off" {
		return "some off leash"
	}
	if last == "" {
		return ""
	}
	return Leash(last) + " only"
}
