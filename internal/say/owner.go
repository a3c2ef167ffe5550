package say

import (
	"strings"

	"firstcue/internal/analysis"
	"firstcue/internal/training"
)

// Person names somebody in what an owner reads: the owner is "you", people who do not
// train the dog stand without their names.
func Person(name string, role training.Role) string {
	switch role {
	case training.Owner:
		return "you"
	case training.Outsider:
		return "somebody new"
	}
	return Plain(name)
}

// OwnerLead is the first sentence an owner reads, and the one thing that must not be
// misunderstood after it.
func OwnerLead(a analysis.Assessment) (verdict, rest string) {
	dog := Plain(a.Name)
	switch {
	case len(a.Incidents) > 0:
		return dog + " is safe with us, but we have stopped training.", "Something happened on " + Weekday(a.Incidents[0].Day) +
			": ask us. The collar is off, and nobody corrects " + dog + " until a vet or behaviour professional has looked."
	case a.Verdict == analysis.OnHold:
		return dog + " is resting, as the vet said.", "No training" + collarWords(a) + " since " + Weekday(holdFrom(a)) +
			". As soon as the vet gives us a day, we start again gently."
	case a.Verdict == analysis.Ready:
		rest = "What we agreed works on the first ask" + withWhom(a) + "."
		if w := neverAsked(a); w != "" {
			rest += " One thing was never tried: " + w + ". Keep the line on there."
		} else if places := lineOnly(a); len(places) > 0 {
			rest += " Keep the line on at " + Names(places) + ": it was never off there."
		} else if a.ReadyOn != "" && a.ReadyOn != "off" {
			rest += " All of it was " + Leash(a.ReadyOn) + ": keep it on."
		}
		return dog + " is ready to go home.", rest
	case a.ReadyCues == 0:
		return dog + " is not ready yet.", notYetOwner(a)
	}
	return dog + " is not ready yet.", Sentence(Count(a.ReadyCues, "word")+" of "+Number(float64(a.CountedCues))+" there") + " " + notYetOwner(a)
}

func collarWords(a analysis.Assessment) string {
	if len(a.Holds) > 0 && (a.Holds[0].NoCollar || a.Holds[0].CollarOnly) {
		return ", no collar"
	}
	return ""
}

func holdFrom(a analysis.Assessment) training.Day {
	if len(a.Holds) == 0 {
		return a.Day
	}
	return a.Holds[0].From
}

func withWhom(a analysis.Assessment) string {
	if a.Owner.Confirmed {
		return " for us and for you"
	}
	return " for us; with you it is not proven yet"
}

// notYetOwner says what is missing, in an owner's words.
func notYetOwner(a analysis.Assessment) string {
	for _, r := range a.Reasons {
		if r.Weak {
			continue
		}
		switch r.Code {
		case analysis.WhyPerson:
			return Sentence("with " + Person(r.Person, roleOf(a, r.Person)) + " it works " + Number(float64(r.Tally.Answered)) + " of " + Number(float64(r.Tally.Asks)) + " times; with others better")
		case analysis.WhyPlace:
			return Sentence(At(r.Place) + " it works " + Number(float64(r.Tally.Answered)) + " of " + Number(float64(r.Tally.Asks)) + " times")
		case analysis.WhyNeverWished:
			if r.Goal != nil {
				return Sentence("not tried yet: " + Wish(*r.Goal))
			}
		case analysis.WhyLevel:
			return Sentence(Plain(r.Cue) + " works " + Percent(r.Figure.Now.V, bars(r.Figure)...) + " of the time now; it must be " + Bar(r.Figure, training.Response))
		case analysis.WhyFall, analysis.WhySlipping:
			return Sentence(Plain(r.Cue) + " got worse lately; we look for pain first")
		}
		break
	}
	return "We need more practice to be sure."
}

func roleOf(a analysis.Assessment, name string) training.Role {
	for _, p := range a.People {
		if p.Name == name {
			return p.Role
		}
	}
	return training.Trainer
}

// OwnerCue is a line on one cue for its owner: "97 of 100 now, likely 89 to 99".
func OwnerCue(c analysis.CueAssessment) (figure, likely string) {
	if c.Kind == training.Motion {
		if !c.Now.Now.Known {
			return "not walked yet", ""
		}
		return Tenths(c.Now.Now) + " slips a minute", "likely " + Tenths(c.Now.Low80) + " to " + Tenths(c.Now.High80)
	}
	if !c.Now.Now.Known {
		return "not asked yet", ""
	}
	return Whole(c.Now.Now.V, bars(c.Now)...) + " of 100", "likely " + WholeOf(c.Now.Low80, bars(c.Now)...) + " to " + WholeOf(c.Now.High80, bars(c.Now)...)
}

// WithYou says how a cue goes with its owner.
func WithYou(t analysis.Tally) string {
	switch {
	case t.Minutes > 0:
		return "With you: " + Count(t.Breaks, "slip") + " in " + Minutes(t.Minutes) + "."
	case t.Asks == 0:
		return "With you: not tried yet."
	}
	return "With you: " + Number(float64(t.Answered)) + " of " + Number(float64(t.Asks)) + "."
}

// Message is a short honest text for an owner's messenger. With week it looks at the
// week, else at the day.
func Message(a analysis.Assessment, contact string, week bool) string {
	verdict, rest := OwnerLead(a)
	parts := []string{verdict, rest}
	if len(a.Incidents) == 0 && a.Verdict != analysis.OnHold {
		parts = append(parts, progress(a, week))
		if a.Stay != nil && a.Stay.DaysToDue.Known && a.Stay.DaysToDue.V >= 0 {
			parts = append(parts, dueWords(a))
		}
	} else {
		parts = append(parts, "May I ring you?")
	}
	if contact != "" {
		parts = append(parts, "Questions: "+Plain(contact)+".")
	}
	var out []string
	for _, p := range parts {
		if p != "" {
			out = append(out, p)
		}
	}
	return strings.Join(out, " ")
}

func dueWords(a analysis.Assessment) string {
	day := Weekday(a.Stay.Due)
	switch {
	case a.Verdict == analysis.Ready && a.Stay.DaysToDue.V <= 1:
		return "See you " + Until(int(a.Stay.DaysToDue.V)) + "."
	case a.Verdict == analysis.Ready:
		return "See you on " + day + "."
	case a.Stay.DaysToDue.V <= 4:
		return "Please don't count on " + day + " yet: could we keep " + Plain(a.Name) + " longer, or book lessons?"
	}
	return "We keep " + day + " in mind."
}

func progress(a analysis.Assessment, week bool) string {
	if !week {
		if a.Today.Asks == 0 {
			return ""
		}
		return "Today " + Number(float64(a.Today.Answered)) + " of " + Number(float64(a.Today.Asks)) + " first asks worked."
	}
	answered, asks := 0, 0
	for _, c := range a.Cues {
		for _, d := range c.Course {
			if d.Day > a.Day-7 && d.Day <= a.Day {
				answered += d.Answered
				asks += d.Asks
			}
		}
	}
	if asks == 0 {
		return ""
	}
	return "This week " + Number(float64(answered)) + " of " + Number(float64(asks)) + " first asks worked."
}
