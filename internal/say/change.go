package say

import (
	"firstcue/internal/analysis"
	"firstcue/internal/training"
)

// Change says what would change the verdict: "8 downs with Bram in 2 sessions if none
// is missed; a dog that answers 95 of 100 needs about 14".
func Change(c analysis.Change, cue string, kind training.Kind) string {
	whom := changeWhere(c)
	if kind == training.Motion {
		if !c.CleanMinutes.Known {
			return "Out of reach within 25 sessions" + whom
		}
		return Minutes(c.CleanMinutes.V) + " more without a break" + whom
	}
	if !c.CleanAsks.Known {
		return "Out of reach within 25 sessions" + whom
	}
	if c.CleanAsks.V == 0 {
		return waits(c) + whom
	}
	s := Cues(int(c.CleanAsks.V), cue) + whom
	if c.CleanSessions.Known && c.CleanSessions.V > 0 {
		s += " in " + Count(int(c.CleanSessions.V), "session")
	}
	s += " if none is missed"
	if c.LikelyAsks.Known && c.LikelyAsks.V > c.CleanAsks.V {
		s += "; a dog that answers 95 of 100 needs about " + Number(c.LikelyAsks.V)
	}
	return s + gateOf(c, kind)
}

// waits says what a change takes that needs no number of asks.
func waits(c analysis.Change) string {
	if c.CleanSessions.V > 0 {
		return Count(int(c.CleanSessions.V), "more session")
	}
	return Count(max(1, c.Nights), "more evening") + " like this one"
}

// gateOf names the gate where nobody and no place tells one change from the next.
func gateOf(c analysis.Change, kind training.Kind) string {
	if changeWhere(c) != "" {
		return ""
	}
	switch c.Gate {
	case analysis.GateEnough, analysis.GateLevel, analysis.GateGoals, analysis.GateCold:
		return " (" + Gate(c.Gate, kind) + ")"
	}
	return ""
}

func changeWhere(c analysis.Change) string {
	s := ""
	switch {
	case c.Person != "":
		s += " with " + Plain(c.Person)
	case c.NotBy != "":
		s += " with anybody but " + Plain(c.NotBy)
	}
	if c.Place != "" {
		s += " " + At(c.Place)
	}
	if c.Leash != "" {
		s += " " + Leash(c.Leash)
	}
	return s
}

// Forecast says how likely the dog is ready by its day.
func Forecast(f analysis.Forecast) string {
	by := " by " + Weekday(f.By)
	waits := ""
	if len(f.Waits) > 0 {
		w := f.Waits[0]
		waits = " Missing first: " + Lack(w) + "."
	}
	switch {
	case f.LeastSessions > 0 && f.Nights <= 0:
		return Sentence("ready"+by+": no, "+Count(f.LeastSessions, "session")+" are missing and no day is left") + waits
	case !f.Chance.Known && f.Base.Known:
		return Sentence("too early to say whether it is ready"+by+". Of "+Count(f.BaseDogs, "dog")+" before, "+Percent(f.Base.V)+" were") + waits
	case !f.Chance.Known:
		return Sentence("too early to say whether it is ready"+by) + waits
	}
	return Sentence("ready"+by+": "+Chance(f.Chance.V)) + waits
}

// Chance puts a probability between 0 and 1 into words: "about 7 in 10".
func Chance(p float64) string {
	switch {
	case p < 0.05:
		return "under 1 in 20"
	case p > 0.95:
		return "over 19 in 20"
	case p < 0.15:
		return "about 1 in 10"
	case p > 0.85:
		return "about 9 in 10"
	}
	return "about " + Number(float64(int(10*p+0.5))) + " in 10"
}
