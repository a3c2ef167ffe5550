package note

import (
	"fmt"
	"slices"
	"strings"

	"firstcue/internal/training"
)

// EchoLine is what was read of one line of a session's note.
type EchoLine struct {
	Line   int    // in the session's Note, 1 = first; 0 = of no single line
	Cue    string // "" for context and remarks
	Trials []training.Trial
	Text   string // in words: "down: 3 trials, one asked twice"
}

// Echo says in words what a session's note was read as, line by line, so that a
// wrong reading is seen. Remarks come after the trials of the lines above them.
func Echo(s training.Session) []EchoLine {
	var out []EchoLine
	for _, t := range s.Trials {
		last := len(out) - 1
		if last < 0 || out[last].Line != t.Line || out[last].Cue != t.Cue || t.Line == 0 {
			out = append(out, EchoLine{Line: t.Line, Cue: t.Cue})
			last++
		}
		out[last].Trials = append(out[last].Trials, t)
	}
	for i := range out {
		out[i].Text = out[i].Cue + ": " + strings.Join(sayTrials(out[i].Trials), "; ")
	}
	for _, r := range s.Remarks {
		word := "kept as a remark: "
		if r.Incident {
			word = "kept as an incident: "
		}
		out = append(out, EchoLine{Line: r.Line, Text: word + r.Text})
	}
	slices.SortStableFunc(out, func(a, b EchoLine) int { return a.Line - b.Line })
	if len(s.Worn) > 0 {
		h := 0.0
		for _, w := range s.Worn {
			h += w.Hours()
		}
		out = append(out, EchoLine{Text: "collar worn " + plural(h, "hour") + ": " + wornText(s.Worn)})
	}
	if s.Skin != "" {
		out = append(out, EchoLine{Text: "skin checked: " + s.Skin})
	}
	if s.OwnerRepeated.Known || s.OwnerLate.Known {
		out = append(out, EchoLine{Text: "owner: " + ownerText(context{repeated: s.OwnerRepeated, late: s.OwnerLate})})
	}
	for _, x := range s.Links {
		out = append(out, EchoLine{Text: "link kept: " + linkText(x)})
	}
	return out
}

// sayTrials says the trials of one cue on one line, those of one length together.
func sayTrials(ts []training.Trial) (parts []string) {
	for len(ts) > 0 {
		n := 1
		for n < len(ts) && together(ts[0], ts[n]) {
			n++
		}
		parts = append(parts, sayGroup(ts[:n]))
		ts = ts[n:]
	}
	return parts
}

func together(a, b training.Trial) bool {
	apart := func(t training.Trial) string {
		switch t.Outcome {
		case training.Early, training.Already, training.Unscored, training.Counted:
			return string(t.Outcome)
		}
		return ""
	}
	return apart(a) == apart(b) && a.Outcome != training.Counted && a.Kind != training.Motion &&
		a.Target == b.Target && a.Distance == b.Distance && a.Signal == b.Signal
}

func sayGroup(ts []training.Trial) string {
	t, n := ts[0], float64(len(ts))
	tail := ""
	if t.Distance.Known {
		tail += " at " + number(math3(t.Distance.V)) + " m"
	}
	if t.Signal != "" {
		tail += " by " + strings.ReplaceAll(string(t.Signal), "+", " and ")
	}
	switch t.Outcome {
	case training.Counted:
		s := fmt.Sprintf("%d of %d", t.Tally.Yes, t.Tally.Of)
		if t.Target.Known {
			s += " holds of " + span(t.Target.V)
		}
		return s + tail + sayAids(ts)
	case training.Early:
		return plural(n, "time") + " before the cue, not counted"
	case training.Already:
		return plural(n, "time") + " in position already, not counted"
	case training.Unscored:
		return plural(n, "trial") + " not scored"
	}
	switch t.Kind {
	case training.Motion:
		s := "walked " + span(t.Walked.V) + ", " + plural(float64(t.Breaks), "break")
		if len(t.Strayed) > 0 {
			s += " (" + strings.Join(t.Strayed, ", ") + ")"
		}
		return s + tail + sayAids(ts)
	case training.Holding:
		s := plural(n, "hold")
		if t.Target.Known {
			s += " of " + span(t.Target.V)
		}
		return s + tail + sayHeld(ts) + sayAids(ts)
	}
	return plural(n, "trial") + tail + sayAnswers(ts) + sayAids(ts)
}

// sayHeld says how holds ended, when not all were kept.
func sayHeld(ts []training.Trial) string {
	var parts []string
	for _, t := range ts {
		switch {
		case t.Outcome == training.Broke && t.Held.Known:
			parts = append(parts, "broken at "+span(t.Held.V))
		case t.Outcome == training.Broke:
			parts = append(parts, "broken")
		case t.Outcome == training.Released:
			parts = append(parts, "released early at "+span(t.Held.V))
		case t.Held.Known && t.Held != t.Target:
			parts = append(parts, "held "+span(t.Held.V))
		default:
			parts = append(parts, "held")
		}
	}
	return ", " + counted(parts)
}

// sayAnswers says how many were answered, and how often others were asked.
func sayAnswers(ts []training.Trial) string {
	var parts []string
	for _, t := range ts {
		switch {
		case t.Outcome == training.Answered && t.Asks == 1:
			parts = append(parts, "answered")
		case t.Outcome == training.Answered:
			parts = append(parts, "asked "+times(t.Asks))
		case t.Asks > 1:
			parts = append(parts, "asked "+times(t.Asks)+" and not answered")
		default:
			parts = append(parts, "not answered")
		}
	}
	return ", " + counted(parts)
}

// tallied lists the different parts in order of first mention, and how often each is there.
func tallied(parts []string) (order []string, n map[string]int) {
	n = map[string]int{}
	for _, s := range parts {
		if n[s]++; n[s] == 1 {
			order = append(order, s)
		}
	}
	return order, n
}

// counted joins equal parts: 2 answered, one asked twice.
func counted(parts []string) string {
	order, n := tallied(parts)
	for i, s := range order {
		switch {
		case len(order) == 1 && len(parts) == 1:
		case len(order) == 1:
			order[i] = "all " + s
		case n[s] == 1:
			order[i] = "one " + s
		default:
			order[i] = fmt.Sprint(n[s]) + " " + s
		}
	}
	return strings.Join(order, ", ")
}

// sayAids says corrections and help, each kind with its number.
func sayAids(ts []training.Trial) string {
	var parts []string
	for _, t := range ts {
		for _, c := range t.Corrections {
			s := "corrected by " + string(c.Kind)
			switch c.Kind {
			case training.ByCollar:
				s = "corrected at level " + number(c.Level.V)
			case training.ByVoice:
				s = "corrected by voice"
			}
			parts = append(parts, s)
		}
		for _, h := range t.Prompts {
			if h == "help" {
				parts = append(parts, "helped")
			} else {
				parts = append(parts, "helped by "+h)
			}
		}
	}
	order, n := tallied(parts)
	for i, s := range order {
		if n[s] > 1 {
			order[i] = s + " " + times(n[s])
		}
	}
	if len(order) == 0 {
		return ""
	}
	return ", " + strings.Join(order, ", ")
}

func plural(n float64, word string) string {
	s := number(math3(n)) + " " + word
	if n != 1 {
		s += "s"
	}
	return s
}

// math3 keeps two decimals for reading.
func math3(v float64) float64 { return float64(int64(v*100+0.5)) / 100 }
