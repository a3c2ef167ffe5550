package say

import (
	"strings"

	"firstcue/internal/analysis"
	"firstcue/internal/training"
)

// Reason says one fact behind the verdict in a sentence or two.
func Reason(r analysis.Reason) string {
	switch r.Code {
	case analysis.WhyIncident:
		return "The incident of " + DayMonth(r.Day) + " is open. Nothing is ready while it is."
	case analysis.WhyAfterIncident:
		return Sentence(afterIncident(r))
	case analysis.WhyVet:
		return "The vet has said no training since " + Weekday(r.Since) + "."
	case analysis.WhyFall:
		return "It went wrong just before the hold: " + Counted(r.Tally) + ", " + Counted(r.Rest) + " until then. Read it as pain."
	case analysis.WhyNeverWished:
		return wished(r)
	case analysis.WhyNeverAsked:
		return Sentence(cuesOf(r) + " " + was(r) + " never asked")
	case analysis.WhySlipping:
		return Sentence(Plain(r.Cue) + " is slipping since " + Weekday(r.Since) + figure(r) + ". Ask for pain first, then make it easier")
	case analysis.WhyPerson:
		return person(r)
	case analysis.WhyPlace:
		return Sentence(cuesOf(r) + " " + fails(r) + " " + At(r.Place) + ": " + Counted(r.Tally) + rest(r, "elsewhere") + figure(r))
	case analysis.WhyPersonShort:
		return Sentence(cuesOf(r) + " for " + Plain(r.Person) + ": " + Counted(r.Tally) + rest(r, "for the others") + figure(r) + ". That may be chance")
	case analysis.WhyPlaceShort:
		return Sentence(cuesOf(r) + " " + At(r.Place) + ": " + Counted(r.Tally) + rest(r, "elsewhere") + figure(r) + ". That may be chance")
	case analysis.WhyGoal:
		return Sentence("agreed: " + wish(r) + ". It is " + Counted(r.Tally) + figure(r) + mustBe(r))
	case analysis.WhyLevel:
		return Sentence(Plain(r.Cue) + ": " + Counted(r.Tally) + figure(r) + mustBe(r))
	case analysis.WhyCold:
		return Sentence(Plain(r.Cue) + ", the first ask of a session: " + Counted(r.Tally) + rest(r, "later on") + mustBe(r))
	case analysis.WhyRising:
		return Sentence(Plain(r.Cue) + " is corrected more and more: " + corrected(r))
	case analysis.WhyLevelRising:
		return Sentence("the dial of " + Plain(r.Device) + " went from " + NumberOf(r.Low) + " to " + NumberOf(r.High) + " since " + DayMonth(r.Day) + ", and " + Plain(r.Cue) + " did not get better")
	case analysis.WhyCorrections:
		return Sentence(Plain(r.Cue) + " is corrected too often: " + corrected(r))
	case analysis.WhySpeed:
		return Sentence(Plain(r.Cue) + ": half the answers come within " + SecondsOf(r.Figure.Now) + ". It is not proven that it stays under " + SecondsOf(r.Figure.Bar))
	case analysis.WhyShort:
		return short(r)
	case analysis.WhyOffLeash:
		return offLeash(r)
	case analysis.WhyNotLately:
		return Sentence(who(r) + " " + Counted(r.Tally) + ", not asked since " + DayMonth(r.Day))
	case analysis.WhyOnePerson:
		return Sentence("one person besides the trainers and the owner only: " + Plain(r.Person) + ", " + Counted(r.Tally))
	case analysis.WhyWeakest:
		return Sentence("weakest: " + cuesOf(r) + weakWhere(r) + ", " + Counted(r.Tally) + figure(r))
	}
	return string(r.Code)
}

func afterIncident(r analysis.Reason) string {
	s := Count(r.Count, "correction") + " after the incident"
	if r.Low.Known {
		s += ", at " + Number(r.Low.V)
		if r.High.Known && r.High.V > r.Low.V {
			s += " to " + Number(r.High.V)
		}
		if r.Device != "" {
			s += " on " + Plain(r.Device)
		}
	}
	return s + ", the last on " + DayMonth(r.Since)
}

func wished(r analysis.Reason) string {
	s := wish(r) + ": wished by the owner, never asked"
	if r.Tally.Asks > 0 || r.Tally.Minutes > 0 {
		s = wish(r) + ": never asked off leash. On a line " + Counted(r.Tally)
	}
	return Sentence(s)
}

func offLeash(r analysis.Reason) string {
	s := "never off leash"
	if r.Place != "" {
		s += " " + At(r.Place)
	}
	if r.Person != "" {
		s += " with " + Plain(r.Person)
	}
	if r.Goal != nil {
		s = wish(r) + ": never asked off leash"
	}
	if r.Tally.Asks > 0 || r.Tally.Minutes > 0 {
		s += ". On a line " + Counted(r.Tally)
	}
	return Sentence(s)
}

func person(r analysis.Reason) string {
	s := cuesOf(r) + " " + fails(r) + " for " + Plain(r.Person) + ": " + Counted(r.Tally) + rest(r, "for the others") + figure(r)
	if r.Since != 0 {
		s += ", so since " + DayMonth(r.Since)
	}
	return Sentence(s)
}

func short(r analysis.Reason) string {
	cue := cuesOf(r)
	if r.Lack == nil {
		return Sentence(cue + ": too few asks to say")
	}
	s := cue + ": " + Lack(*r.Lack)
	if r.Lack.Code == analysis.LackLevel || r.Lack.Code == analysis.LackPerson || r.Lack.Code == analysis.LackPlace {
		s = cue + ": not proven"
		if where := where(*r.Lack); where != "" {
			s += where
		}
		s += ", " + Counted(r.Tally) + figure(r)
	}
	return Sentence(s)
}

func wish(r analysis.Reason) string {
	if r.Goal == nil {
		return cuesOf(r)
	}
	return Wish(*r.Goal)
}

func corrected(r analysis.Reason) string {
	s := Count(r.Count, "correction")
	if r.Tally.Minutes > 0 {
		return s + " in " + Minutes(r.Tally.Minutes)
	}
	return s + " in " + Count(r.Tally.Asks, "ask")
}

// figure appends the present figure, where there is one.
func figure(r analysis.Reason) string {
	kind := training.Response
	if r.Tally.Minutes > 0 {
		kind = training.Motion
	}
	if s := Now(r.Figure, kind); s != "" {
		return ", " + s
	}
	return ""
}

func mustBe(r analysis.Reason) string {
	kind := training.Response
	if r.Tally.Minutes > 0 {
		kind = training.Motion
	}
	if b := Bar(r.Figure, kind); b != "" {
		if kind == training.Motion {
			return ". It must be under " + b
		}
		return ". It must be " + b
	}
	return ""
}

func rest(r analysis.Reason, words string) string {
	if r.Rest.Asks == 0 && r.Rest.Minutes == 0 {
		return ""
	}
	return ", " + Counted(r.Rest) + " " + words
}

func cuesOf(r analysis.Reason) string {
	if len(r.Cues) > 0 {
		return Names(r.Cues)
	}
	return Plain(r.Cue)
}

func fails(r analysis.Reason) string {
	if len(r.Cues) > 1 {
		return "fail"
	}
	return "fails"
}

func was(r analysis.Reason) string {
	if len(r.Cues) > 1 {
		return "were"
	}
	return "was"
}

func who(r analysis.Reason) string {
	switch {
	case r.Person != "" && r.Place != "":
		return Plain(r.Person) + " " + At(r.Place)
	case r.Person != "":
		return Plain(r.Person)
	}
	return Plain(r.Place)
}

func weakWhere(r analysis.Reason) string {
	switch {
	case r.Person != "":
		return " with " + Plain(r.Person)
	case r.Place != "":
		return " " + At(r.Place)
	}
	return ""
}

// Remark quotes what a trainer wrote: Bram, 10 March: "looked past me for Ailsa".
func Remark(r analysis.Remark) string {
	who := DayMonth(r.Day)
	if r.Person != "" {
		who = Plain(r.Person) + ", " + who
	}
	return who + `: "` + strings.TrimRight(clip(Plain(r.Text), 120), ".") + `"`
}
