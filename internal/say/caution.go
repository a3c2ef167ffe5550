package say

import (
	"strings"

	"firstcue/internal/analysis"
	"firstcue/internal/training"
)

// cautions are the caution texts, by code. None is advice to raise a level; all defer
// to the owner's vet, to local law and to qualified people.
var cautions = map[analysis.CautionCode]string{
	analysis.CautionBite:              "A bite, or an attempt, ends the session. Follow the local duty to report and medical advice.",
	analysis.CautionStress:            "Fear, pain or aggression may be behind this. Stop the exercise and write down what happened. No corrections until somebody competent has looked at the dog.",
	analysis.CautionCollarOff:         "Leave the collar off.",
	analysis.CautionHealth:            "Slower or refused answers can be pain. This record cannot tell. Ask the owner's vet before going on.",
	analysis.CautionVetHold:           "The dog, or some of its cues, is on hold for the vet. What was logged inside the hold counts nowhere.",
	analysis.CautionTwoForms:          "A session was said differently in two stores. The figures rest on one of the two. Look at both and choose: firstcue store conflicts.",
	analysis.CautionCollarRefused:     "A collar level was logged although it must not be used on this dog. Check it with the owner, and the vet where one is involved, before another session.",
	analysis.CautionCorrectionsRising: "More or stronger corrections with no better result. Make the task easier or the place quieter. If it goes on, stop and get help from a vet or a qualified behaviour professional.",
	analysis.CautionManyCorrections:   "Many corrections in one session. Make the task easier or the place quieter.",
	analysis.CautionConfused:          "Corrected on a wrong answer, or in a first session with a new person or place. The dog may not know yet what is meant: teach first there.",
	analysis.CautionLevelHigh:         "A level well above the one found that day was used. Check fit, contacts and coat first, and make the task easier.",
	analysis.CautionWorkingLevel:      "The working level is more than a week old, or was never noted. Find it again before relying on it: the lowest the dog notices today.",
	analysis.CautionTwoDevices:        "Levels of different devices are shown apart. They cannot be compared or averaged.",
	analysis.CautionCollarLevels:      "Dial numbers mean nothing on another device, and can change on this one when the coat is wet or the contacts move. Compare only with this dog's own working level, found today.",
	analysis.CautionWear:              "Take the collar off for rest, move it every hour or two, look at the skin every day, never clip a lead to it, and follow the maker's limit where it is shorter.",
	analysis.CautionLaw:               "Some countries and regions forbid or restrict these collars, and rules change. Check the law where the dog is trained and where it will live. This program does not know it.",
	analysis.CautionViews:             "Veterinary behaviour bodies advise reward-based training and oppose or discourage electronic collars. A level recorded here is not a recommendation.",
	analysis.CautionOffLeash:          "A fenced field promises nothing near traffic, stock, children or dogs. Leash law and the landowner come first.",
	analysis.CautionVerdict:           "Ready means that the agreed bars were passed in the places and with the people listed. It is no guarantee of what the dog will do and no test of safety or temperament.",
}

// Caution is the text of a caution.
func Caution(c analysis.Caution) string {
	if c.Code == analysis.CautionVetHold {
		for _, f := range c.Facts {
			if f.Why == analysis.FactHold {
				return cautions[c.Code]
			}
		}
		return "Some of this was logged inside a vet hold that is over. It counts nowhere."
	}
	return cautions[c.Code]
}

// CautionWhy says why a caution is shown: at most three facts, then how many more.
func CautionWhy(c analysis.Caution) string {
	const most = 3
	var parts []string
	for _, f := range c.Facts {
		if s := fact(f); s != "" {
			parts = addOnce(parts, s)
		}
	}
	if len(parts) > most {
		parts = append(parts[:most:most], Number(float64(len(parts)-most))+" more")
	}
	return strings.Join(parts, "; ")
}

func fact(f analysis.CautionFact) string {
	day := DayMonth(f.Day)
	switch f.Why {
	case analysis.FactIncident:
		return "open incident of " + day + ": " + Plain(f.Text)
	case analysis.FactAfter:
		return Count(f.Count, "correction") + " since the incident, the last on " + day
	case analysis.FactSlower:
		return Plain(f.Cue) + ": half the answers within " + SecondsOf(f.Now) + ", " + SecondsOf(f.Before) + " before, since " + day
	case analysis.FactSlipping:
		return Plain(f.Cue) + " is slipping since " + day
	case analysis.FactLost:
		return Plain(f.Cue) + " was there and was lost on " + day
	case analysis.FactFell:
		return "fell before the hold of " + day + ": " + fraction(f.Count, f.Of)
	case analysis.FactHold:
		return strings.TrimSuffix("on hold since "+day+": "+Plain(f.Text), ": ")
	case analysis.FactInHold:
		return Count(f.Count, "trial") + " logged inside a hold"
	case analysis.FactTwoForms:
		return "session of " + day
	case analysis.FactRewardOnly:
		return day + ": the dog is trained with rewards only"
	case analysis.FactYoung:
		return day + ": under six months old"
	case analysis.FactNoCollar:
		return day + ": no collar while the vet's hold lasts"
	case analysis.FactNoDevice:
		return day + ": a level without a device"
	case analysis.FactMoreTrials:
		return Plain(f.Cue) + " is corrected more often"
	case analysis.FactDialRuns:
		return Plain(f.Cue) + ": the dial of " + Plain(f.Device) + " went up " + Count(f.Count, "session") + " running"
	case analysis.FactDialRises:
		return Plain(f.Cue) + ": the dial of " + Plain(f.Device) + " is rising"
	case analysis.FactManyOnOne:
		return Count(f.Count, "correction") + " on one " + Plain(f.Cue) + ", " + day
	case analysis.FactManyInAll:
		return day + ": " + Number(float64(f.Count)) + " of " + Count(f.Of, "ask") + " corrected with " + Plain(f.Person)
	case analysis.FactAfterWrong:
		return Plain(f.Cue) + " of " + day + ": corrected after a wrong answer"
	case analysis.FactAllNew:
		return day + ": corrected in the first session with " + Plain(f.Person) + " " + At(f.Place)
	case analysis.FactHigh:
		return day + ": " + NumberOf(f.Level) + " with a working level of " + NumberOf(f.Working) + " on " + Plain(f.Device)
	case analysis.FactNoWorking:
		return "none noted for " + Plain(f.Device)
	case analysis.FactOldWorking:
		return Plain(f.Device) + ": found on " + day
	case analysis.FactDevices:
		return strings.TrimPrefix(Plain(f.Cue)+": "+Plain(f.Device), ": ")
	case analysis.FactCollarUsed:
		return "a collar is used in this record, last on " + day
	case analysis.FactOffLeash:
		return "asked off leash, last on " + day
	}
	return ""
}

// Today lists the texts that a short page must show: what stops training and what
// applies today, gravest first; the rest stands in the full report.
func Today(a analysis.Assessment) []string {
	var out []string
	for _, c := range a.Cautions {
		if c.Today || c.Stop {
			out = append(out, Caution(c))
		}
	}
	return out
}

// Signal names how a cue is given; a session that does not say is "not said", which
// is not the voice.
func Signal(s training.Signal) string {
	if s == "" {
		return "signal not said"
	}
	return Plain(string(s))
}
