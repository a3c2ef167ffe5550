package say

import (
	"strings"

	"firstcue/internal/analysis"
	"firstcue/internal/training"
)

// Lack says what is missing, whole: "Bram: 8 more asks in 3 sessions".
func Lack(l analysis.Lack) string {
	switch l.Code {
	case analysis.LackAsks:
		return more(l)
	case analysis.LackLevel:
		return "the level is not there yet"
	case analysis.LackPeople:
		s := more(l) + " by anybody else"
		if l.NotBy != "" {
			s = more(l) + " by anybody but " + Plain(l.NotBy)
		}
		return s
	case analysis.LackPerson:
		if l.Person == "" {
			return "somebody must ask it"
		}
		return "it must work for " + Plain(l.Person)
	case analysis.LackPlaces:
		return places(l, "more place")
	case analysis.LackAway:
		return places(l, "place away from your ground")
	case analysis.LackPlace:
		if l.Place == "" {
			return "it must be asked somewhere"
		}
		return "it must work " + At(l.Place)
	case analysis.LackCold:
		return "the first ask of a session must work"
	case analysis.LackOffLeash:
		return more(l) + " off leash" + where(l)
	case analysis.LackSpeed:
		return "quicker answers, or more timed ones"
	case analysis.LackCorrections:
		return "fewer corrections"
	case analysis.LackRising:
		return "corrections must stop rising"
	case analysis.LackGoal:
		return "the agreed figure" + where(l)
	case analysis.LackGoalAsked:
		return more(l) + leashed(l) + where(l)
	case analysis.LackOwner:
		return more(l, "lesson") + " with " + owner(l)
	case analysis.LackOwnerLevel:
		return "it must work for " + owner(l)
	case analysis.LackNights:
		return Count(l.Nights, "more evening") + " like this one"
	case analysis.LackNeverAsked:
		return Plain(l.Cue) + " was never asked"
	case analysis.LackIncident:
		return "the incident must be closed first"
	case analysis.LackVet:
		return "the vet must say yes first"
	}
	return string(l.Code)
}

// places says how many are missing and how much the next of them takes.
func places(l analysis.Lack, word string) string {
	s := "a " + word
	if l.Places > 1 {
		n, rest, _ := strings.Cut(word, "place")
		s = Number(float64(l.Places)) + " " + n + "places" + rest
	}
	each := l
	each.Places, each.Days = 0, 0
	if l.Asks == 0 && l.Minutes == 0 && l.Sessions == 0 {
		return s
	}
	if l.Place != "" {
		return s + ": " + more(each) + " " + At(l.Place)
	}
	return s + ", " + strings.ReplaceAll(more(each), " more", "") + " at each"
}

// more says how many asks, sessions, days or minutes more: "12 more asks in 2 sessions".
func more(l analysis.Lack, session ...string) string {
	word := "session"
	if len(session) > 0 {
		word = session[0]
	}
	var parts []string
	switch {
	case l.Minutes > 0:
		parts = append(parts, Minutes(l.Minutes)+" more")
	case l.Asks > 0:
		parts = append(parts, Count(l.Asks, "more ask"))
	}
	if l.Sessions > 0 {
		if len(parts) > 0 {
			parts = append(parts, "in "+Count(l.Sessions, word))
		} else {
			parts = append(parts, Count(l.Sessions, "more "+word))
		}
	}
	if l.Days > 0 {
		if len(parts) > 0 {
			parts = append(parts, "on "+Count(l.Days, "day"))
		} else {
			parts = append(parts, Count(l.Days, "more day"))
		}
	}
	if len(parts) == 0 {
		return "more asks"
	}
	return strings.Join(parts, " ")
}

func where(l analysis.Lack) string {
	s := ""
	if l.Person != "" {
		s += " by " + Plain(l.Person)
	}
	if l.Place != "" {
		s += " " + At(l.Place)
	}
	return s
}

func leashed(l analysis.Lack) string {
	if l.Leash == "" {
		return ""
	}
	return " " + Leash(l.Leash)
}

func owner(l analysis.Lack) string {
	if l.Person == "" {
		return "the owner"
	}
	return Plain(l.Person)
}

// LackShort says what is missing in a few words, for a column: "Bram", "a place away".
func LackShort(l analysis.Lack) string {
	switch l.Code {
	case analysis.LackAsks:
		if l.Minutes > 0 {
			return Minutes(l.Minutes)
		}
		if l.Asks > 0 {
			return Count(l.Asks, "ask")
		}
		if l.Sessions > 0 {
			return Count(l.Sessions, "session")
		}
		return Count(l.Days, "day")
	case analysis.LackLevel:
		return "level"
	case analysis.LackPeople:
		return "others"
	case analysis.LackPerson:
		return Plain(l.Person)
	case analysis.LackPlaces:
		return Count(l.Places, "place")
	case analysis.LackAway:
		return "a place away"
	case analysis.LackPlace:
		return Plain(l.Place)
	case analysis.LackOffLeash:
		return "off leash"
	case analysis.LackGoal, analysis.LackGoalAsked:
		return wishShort(l)
	case analysis.LackOwner, analysis.LackOwnerLevel:
		return owner(l)
	case analysis.LackNights:
		return Count(l.Nights, "evening")
	case analysis.LackNeverAsked:
		return "never asked"
	case analysis.LackIncident:
		return "incident"
	case analysis.LackVet:
		return "the vet"
	}
	return string(l.Code)
}

func wishShort(l analysis.Lack) string {
	var parts []string
	if l.Leash != "" {
		parts = append(parts, Leash(l.Leash))
	}
	if l.Place != "" {
		parts = append(parts, Plain(l.Place))
	}
	if l.Person != "" {
		parts = append(parts, Plain(l.Person))
	}
	if len(parts) == 0 {
		return "the goal"
	}
	return strings.Join(parts, " ")
}

// Missing lists in a few words what a cue still lacks, worst first, each once.
func Missing(c analysis.CueAssessment) []string {
	var out []string
	for _, want := range []analysis.Standing{analysis.Failed, analysis.Short} {
		for _, g := range c.Gates {
			if g.Standing == want && g.Lack != nil {
				out = addOnce(out, LackShort(*g.Lack))
			}
		}
	}
	return out
}

func addOnce(list []string, s string) []string {
	for _, x := range list {
		if x == s {
			return list
		}
	}
	return append(list, s)
}

// Gate names a gate in the trainer's words.
func Gate(n analysis.GateName, kind training.Kind) string {
	switch n {
	case analysis.GateEnough:
		return "enough asks"
	case analysis.GateLevel:
		if kind == training.Motion {
			return "position"
		}
		return "the level"
	case analysis.GatePeople:
		return "every person"
	case analysis.GatePlaces:
		return "every place"
	case analysis.GateCold:
		return "first ask of a session"
	case analysis.GateSpeed:
		return "speed"
	case analysis.GateCorrections:
		return "corrections"
	case analysis.GateGoals:
		return "what was agreed"
	case analysis.GateClosed:
		return "no incident, no vet hold"
	}
	return string(n)
}
