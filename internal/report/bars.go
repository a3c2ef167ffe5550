package report

import (
	"strings"

	"firstcue/internal/analysis"
	"firstcue/internal/say"
	"firstcue/internal/training"
)

// barChange is a bar that is not the usual one, with the cues it was changed
// for; no cue means all of them.
type barChange struct {
	bar          analysis.Bar
	value, usual training.Num
	cues         []string
}

// UsualBars gives the bars of a cue of the kennel where nobody has set any; the
// zero Criteria for a cue that is not on its list.
func UsualBars(k training.Kennel) analysis.CriteriaFunc {
	return func(cue string) analysis.Criteria {
		if _, ok := k.Cue(cue); !ok {
			return analysis.Criteria{}
		}
		return analysis.Resolve(k, nil, "", cue)
	}
}

// barsChanged compares the bars each cue was judged with against the usual ones,
// in the order of analysis.Bars. What belongs to the cue itself (limit, arrival,
// target, breaks) is a change only where usual knows the cue; usual may be nil.
func barsChanged(cues []analysis.CueAssessment, usual analysis.CriteriaFunc) []barChange {
	of := func(c analysis.CueAssessment) analysis.Criteria {
		if usual != nil {
			if u := usual(c.Cue); u.Trials > 0 {
				return u
			}
		}
		u := analysis.Defaults()
		u.Limit, u.Arrive, u.Target, u.Breaks = c.Criteria.Limit, c.Criteria.Arrive, c.Criteria.Target, c.Criteria.Breaks
		return u
	}
	var out []barChange
	for _, b := range analysis.Bars() {
		from := len(out)
		for _, c := range cues {
			value, _ := c.Criteria.Value(b.Name)
			was, _ := of(c).Value(b.Name)
			if value == was || value.Known && was.Known && near(value.V, was.V) {
				continue
			}
			i := from
			for i < len(out) && (out[i].value != value || out[i].usual != was) {
				i++
			}
			if i == len(out) {
				out = append(out, barChange{bar: b, value: value, usual: was})
			}
			out[i].cues = append(out[i].cues, c.Cue)
		}
		if len(out) == from+1 && len(out[from].cues) == len(cues) {
			out[from].cues = nil
		}
	}
	return out
}

// barWords name the bars whose name on the command line says too little.
var barWords = map[string]string{
	"rate": "first asks", "floor": "lower end of first asks", "leave": "first asks to stay ready", "icc": "likeness of trials of one session",
	"other-rate": "first asks for other people", "other-floor": "lower end for other people", "other-sessions": "sessions by other people",
	"off-property": "places off property", "place-trials": "trials at a place", "place-sessions": "sessions at a place", "place-minutes": "minutes at a place",
	"context-bar": "first asks for any person or place", "context-trials": "trials to judge a person or place",
	"owner-trials": "the owner's trials", "owner-lessons": "the owner's lessons", "owner-rate": "first asks for the owner", "owner-floor": "lower end for the owner",
	"hold-rate": "chance to hold", "hold-floor": "lower end of the chance to hold", "corrections": "corrections a ten", "breaks": "breaks a minute",
	"arrive": "time to arrive", "target": "time to hold", "minutes": "minutes walked",
}

// changedBars says which bars are not the usual ones, "" = none: a verdict under
// changed bars must not be read as one under the usual.
func changedBars(a analysis.Assessment, usual analysis.CriteriaFunc) string {
	show := func(b analysis.Bar, n training.Num) string {
		switch {
		case !n.Known:
			return "none"
		case b.Unit == "share":
			return say.Percent(n.V)
		case b.Unit == "s":
			return say.Seconds(n.V)
		}
		return say.Number(n.V)
	}
	var list []string
	for _, c := range barsChanged(a.Cues, usual) {
		word := barWords[c.bar.Name]
		if word == "" {
			word = strings.ReplaceAll(c.bar.Name, "-", " ")
		}
		s := word + " " + show(c.bar, c.value) + " (" + show(c.bar, c.usual) + ")"
		if len(c.cues) > 0 {
			names := make([]string, len(c.cues))
			for i, n := range c.cues {
				names[i] = say.Plain(n)
			}
			s += " for " + say.List(names)
		}
		list = append(list, s)
	}
	if len(list) == 0 {
		return ""
	}
	return "Bars changed from the usual: " + strings.Join(list, ", ") + "."
}
