package say

import (
	"strings"

	"firstcue/internal/analysis"
)

// Verdict gives a verdict in capitals, as the eye finds it first; a stale "ready"
// carries its age elsewhere.
func Verdict(v analysis.Verdict) string { return strings.ToUpper(string(v)) }

// Headline says which dog, which day and when it goes home:
// "Tarn, Fri 20 March, day 19. Goes home tomorrow, Sat 21 March."
func Headline(a analysis.Assessment) string {
	s := Plain(a.Name) + ", " + Weekday(a.Day)
	if a.Stay == nil {
		return s + "."
	}
	if a.Stay.Home != 0 && a.Stay.Home <= a.Day {
		return s + ". Went home on " + Weekday(a.Stay.Home) + "."
	}
	s += ", day " + Number(float64(a.Stay.Day)) + "."
	if due := Due(a); due != "" {
		s += " " + due + "."
	}
	return s
}

// Due says when the dog is due home: "Due home tomorrow, Sat 21 March"; "" when no
// day is agreed.
func Due(a analysis.Assessment) string {
	if a.Stay == nil || a.Stay.Due == 0 || !a.Stay.DaysToDue.Known {
		return ""
	}
	days, day := int(a.Stay.DaysToDue.V), Weekday(a.Stay.Due)
	switch {
	case days < 0:
		return "Was due home on " + day + ", " + Until(days)
	case days > 1:
		return "Due home " + day + ", " + Until(days)
	case a.Verdict == analysis.Ready:
		return "Goes home " + Until(days) + ", " + day
	}
	return "Due home " + Until(days) + ", " + day
}

// ToDo is the first thing to do about a dog. Stop: training stops.
type ToDo struct {
	Stop bool
	Text string
}

// Do says what to do about the dog tonight, and whom to ring.
func Do(a analysis.Assessment) ToDo {
	switch {
	case len(a.Incidents) > 0:
		return ToDo{true, stop(a)}
	case len(a.Holds) > 0 && a.Verdict == analysis.OnHold:
		return ToDo{false, held(a)}
	case a.Stay != nil && a.Stay.Home != 0 && a.Stay.Home <= a.Day:
		return ToDo{false, "Ask how it goes at home: firstcue recheck."}
	case a.Verdict == analysis.Ready:
		return ToDo{false, handOver(a)}
	}
	return ToDo{false, notYet(a)}
}

func stop(a analysis.Assessment) string {
	i := a.Incidents[0]
	s := "Collar off, no correction of any kind. " + DayMonth(i.Day) + ": " + Ended(clip(Plain(i.Text), 70))
	if c := i.After; c != nil {
		s += " " + corrections(*c) + "."
	}
	return s + " Ring the owner, and a vet or behaviour professional, today."
}

// corrections says what was done to the dog after an incident.
func corrections(c analysis.CorrectionsAfter) string {
	s := Count(c.Count, "more correction") + " followed"
	if c.Last != 0 {
		s += ", the last on " + DayMonth(c.Last)
	}
	if c.LowLevel.Known {
		s += ", at " + Number(c.LowLevel.V)
		if c.HighLevel.V > c.LowLevel.V {
			s += " to " + Number(c.HighLevel.V)
		}
	}
	return s
}

func held(a analysis.Assessment) string {
	h := a.Holds[0]
	s := "No training"
	if h.NoCollar {
		s += ", no collar"
	}
	s += ": vet hold since " + Weekday(h.From)
	if h.Reason != "" {
		s += " (" + clip(Plain(h.Reason), 50) + ")"
	}
	if h.To != 0 {
		return s + ", until " + Weekday(h.To) + "."
	}
	return s + ". Ring the vet for a date, then the owner."
}

func handOver(a analysis.Assessment) string {
	if a.StaleDays > 0 {
		return "Ask each agreed cue again first: nothing was asked for " + Count(a.StaleDays, "day") + "."
	}
	s := "Hand " + Plain(a.Name) + " over when the day comes."
	if a.Stay != nil && a.Stay.DaysToDue.Known && a.Stay.DaysToDue.V <= 1 {
		s = "Hand " + Plain(a.Name) + " over."
	}
	if w := neverAsked(a); w != "" {
		s += " Tell " + ownerName(a) + ": " + w + " was never asked."
	} else if places := lineOnly(a); len(places) > 0 {
		s += " Tell " + ownerName(a) + ": the line stays on at " + Names(places) + ", it was never off there."
	} else if a.ReadyOn != "" && a.ReadyOn != "off" {
		s += " Tell " + ownerName(a) + ": ready " + Leash(a.ReadyOn) + ", not off leash."
	}
	if !a.Owner.Confirmed {
		s += " " + lessons(a)
	}
	return s
}

// neverAsked names what the owner wishes and nobody asked so.
func neverAsked(a analysis.Assessment) string {
	var out []string
	for _, r := range a.Reasons {
		if r.Goal != nil && (r.Code == analysis.WhyNeverWished || r.Code == analysis.WhyOffLeash) {
			out = addOnce(out, Wish(*r.Goal))
		}
	}
	return List(out)
}

// lineOnly names the places where the dog was never asked off leash.
func lineOnly(a analysis.Assessment) []string {
	var out []string
	for _, r := range a.Reasons {
		if r.Code == analysis.WhyOffLeash && r.Goal == nil && r.Place != "" {
			out = addOnce(out, r.Place)
		}
	}
	return out
}

func ownerName(a analysis.Assessment) string {
	if len(a.Owner.Names) == 0 {
		return "the owner"
	}
	return Names(a.Owner.Names[:1])
}

func lessons(a analysis.Assessment) string {
	switch n := a.Owner.LessonsNeeded - a.Owner.Lessons; {
	case n > 0 && a.Owner.Lessons == 0:
		return "No lesson with " + ownerName(a) + " yet: plan " + Number(float64(n)) + "."
	case n > 0:
		return "Not proven with " + ownerName(a) + ": " + Count(n, "more lesson") + "."
	}
	return "Not proven with " + ownerName(a) + "."
}

func notYet(a analysis.Assessment) string {
	var s string
	soon := a.Stay != nil && a.Stay.DaysToDue.Known && a.Stay.DaysToDue.V <= 4
	why := ""
	for _, r := range a.Reasons {
		if !r.Weak {
			why = Reason(r)
			break
		}
	}
	if soon {
		s = "Ring " + ownerName(a) + ": not ready for " + Weekday(a.Stay.Due) + ". Agree more days, or home on a lead with lessons booked."
		if why != "" {
			s = "Ring " + ownerName(a) + ". " + why + " Agree more days, or home on a lead with lessons booked."
		}
		return s
	}
	if len(a.Plan) > 0 {
		return "Train on. Next: " + PlanDo(a.Plan[0]) + "."
	}
	if why != "" {
		return why
	}
	return "Log a first session."
}

// clip shortens a text to n characters with an ellipsis.
func clip(s string, n int) string {
	r := []rune(s)
	if len(r) <= n {
		return s
	}
	return strings.TrimRight(string(r[:n-1]), " ,.;:") + "…"
}
