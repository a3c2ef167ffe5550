package say

import (
	"strings"

	"firstcue/internal/analysis"
)

// Attention says what somebody should look at tonight, in a sentence or two that ends
// with what to do. The codes are those of report.Attention.
func Attention(code string, a analysis.Assessment, cues []string) string {
	switch code {
	case "incident":
		return "STOP. " + stop(a)
	case "vet hold":
		s := held(a)
		if due := Due(a); due != "" {
			s = due + ". " + s
		}
		return s
	case "two forms":
		return "A session was said differently in two stores: firstcue store conflicts."
	case "pain":
		return Sentence(Names(cues) + " slower than before. Slower or refused answers can be pain: ask the owner's vet")
	case "overdue":
		return Due(a) + ", and is still here: firstcue dog home, or a new day."
	case "lost":
		return Sentence("was ready, is not any more: " + Names(cues) + ". Ask for pain first, then make it easier")
	case "slipping":
		return slipping(a)
	case "corrections":
		return Sentence(Names(cues) + ": more or stronger corrections, no better answers. Make it easier")
	case "due":
		return Due(a) + ", not ready: " + firstReason(a) + " Ring " + ownerName(a) + "."
	case "owner":
		return Due(a) + ". Ready, but not proven with " + ownerName(a) + ": " + lessons(a)
	case "stale":
		return "Ready, but nothing was asked for " + Count(a.StaleDays, "day") + ". Ask each agreed cue again."
	case "untouched":
		return Sentence("not asked for some days: " + Names(cues))
	case "idle":
		return "Nothing logged today, and none yesterday."
	}
	return code
}

// InHold says that a dog was trained although the vet forbids it.
func InHold(trials, sessions int) string {
	return "On vet hold, and " + Count(trials, "trial") + " in " + Count(sessions, "session") + " logged today all the same. They count nowhere: ask who trained, and why."
}

func slipping(a analysis.Assessment) string {
	var parts []string
	for _, c := range a.Cues {
		if c.Slipping.On {
			parts = append(parts, Plain(c.Cue)+" since "+Weekday(c.Slipping.Since))
		}
	}
	return "Was ready, slipping: " + List(parts) + ". Ask for pain first, then make it easier."
}

func firstReason(a analysis.Assessment) string {
	for _, r := range a.Reasons {
		if !r.Weak {
			return Reason(r)
		}
	}
	return "too few asks."
}

// MissingOfDog says in few words what the dog still lacks, worst first: "Bram, Mr
// Venn", "incident; then come and heel", "-" for nothing.
func MissingOfDog(a analysis.Assessment) string {
	switch {
	case len(a.Holds) > 0 && a.Verdict == analysis.OnHold:
		return "the vet"
	case len(a.Cues) == 0:
		return "nothing asked yet"
	case a.StaleDays > 0:
		return "not asked for " + Count(a.StaleDays, "day")
	}
	var parts []string
	if len(a.Incidents) > 0 {
		parts = append(parts, "incident")
	}
	for _, want := range []analysis.Standing{analysis.Failed, analysis.Short} {
		for _, c := range a.Cues {
			if c.Verdict == analysis.Ready || c.Agreed != nil && !*c.Agreed {
				continue
			}
			for _, g := range c.Gates {
				if g.Standing == want && g.Lack != nil && g.Name != analysis.GateClosed {
					parts = addOnce(parts, lackOf(c.Cue, *g.Lack))
				}
			}
		}
	}
	for _, n := range a.Never {
		if n.Agreed {
			parts = addOnce(parts, Plain(n.Cue))
		}
	}
	if len(parts) == 0 && !a.Owner.Confirmed {
		return ownerName(a)
	}
	if len(parts) == 0 {
		return None
	}
	return strings.Join(parts, ", ")
}

// lackOf names the cue where what is missing is the cue's own.
func lackOf(cue string, l analysis.Lack) string {
	switch l.Code {
	case analysis.LackLevel, analysis.LackSpeed, analysis.LackCorrections, analysis.LackRising, analysis.LackCold:
		return Plain(cue)
	case analysis.LackAsks:
		return "more asks"
	}
	return LackShort(l)
}

// Usual says how the day compares with what the dog did lately.
func Usual(d analysis.DayTally) string {
	switch d.Compared {
	case "":
		return None
	case "usual":
		return "yes"
	}
	return d.Compared
}
