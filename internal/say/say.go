// Package say puts the judgement into words: one sentence for each fact, made from
// the values of package analysis. It decides nothing and knows no format. Report,
// packet, nightly, plan and messages take their sentences from here, so that one
// thing is called by one word, and another language needs this package only.
package say

import (
	"strings"

	"firstcue/internal/analysis"
	"firstcue/internal/training"
)

// Cues names a number of asks of one cue: "1 come", "5 downs", "3 asks of leave it".
func Cues(n int, cue string) string {
	cue = Plain(cue)
	if strings.ContainsAny(cue, " 0123456789") {
		return Count(n, "ask") + " of " + cue
	}
	if strings.HasSuffix(cue, "s") || strings.HasSuffix(cue, "ch") || strings.HasSuffix(cue, "sh") || strings.HasSuffix(cue, "x") {
		return Count(n, cue, cue+"es")
	}
	if n := len(cue); n > 1 && cue[n-1] == 'y' && !strings.ContainsRune("aeiou", rune(cue[n-2])) {
		return Count(n, cue, cue[:n-1]+"ies")
	}
	return Count(n, cue)
}

// Counted gives plain counts: "18/20", for a walk "27 breaks in 34 min", "never
// asked" for none.
func Counted(t analysis.Tally) string {
	switch {
	case t.Minutes > 0:
		return Count(t.Breaks, "break") + " in " + Minutes(t.Minutes)
	case t.Asks == 0:
		return "never asked"
	}
	return fraction(t.Answered, t.Asks)
}

// CountedCue is Counted of a cue. Of a hold that was only asked for less than its target
// it says so: such holds say nothing of the target.
func CountedCue(c analysis.CueAssessment) string {
	if h := c.Hold; h != nil && c.Asks == 0 && h.Shorter.Asks > 0 {
		return fraction(h.Shorter.Answered, h.Shorter.Asks) + ", all shorter than " + Clock(h.Target.V)
	}
	return Counted(c.Tally)
}

func fraction(a, of int) string { return Number(float64(a)) + "/" + Number(float64(of)) }

// Names lists names made safe to print.
func Names(names []string) string {
	out := make([]string, len(names))
	for i, n := range names {
		out[i] = Plain(n)
	}
	return List(out)
}

// Now gives the present figure: "92% now, likely 84-97"; of a walk "0.8 breaks a
// minute now, likely 0.5-1.2"; "" when unknown.
func Now(f analysis.Figure, kind training.Kind) string {
	if !f.Now.Known {
		return ""
	}
	if kind == training.Motion {
		return Number(round1(f.Now.V)) + " breaks a minute now" + likely(Tenths(f.Low80), Tenths(f.High80))
	}
	return Percent(f.Now.V, bars(f)...) + " now" + likely(WholeOf(f.Low80, bars(f)...), WholeOf(f.High80, bars(f)...))
}

func likely(low, high string) string {
	if low == None || high == None {
		return ""
	}
	return ", likely " + low + "-" + high
}

// bars are the bars that a figure must not be rounded onto.
func bars(f analysis.Figure) []float64 {
	if !f.Bar.Known {
		return nil
	}
	return []float64{f.Bar.V}
}

// WholeOf is Whole of a number that may be unknown.
func WholeOf(n training.Num, bars ...float64) string {
	if !n.Known {
		return None
	}
	return Whole(n.V, bars...)
}

// Tenths formats a rate to a tenth, "-" when unknown.
func Tenths(n training.Num) string {
	if !n.Known {
		return None
	}
	return Number(round1(n.V))
}

// Bar says what must be passed: "85 in 100", for a walk "0.5 a minute".
func Bar(f analysis.Figure, kind training.Kind) string {
	switch {
	case !f.Bar.Known:
		return ""
	case kind == training.Motion:
		return Number(f.Bar.V) + " a minute"
	}
	return Number(100*f.Bar.V) + " in 100"
}

// Leash says how the dog was kept, as part of a sentence: "off leash", "on the long line".
func Leash(l training.Leash) string {
	switch l {
	case "":
		return "leash not said"
	case "off":
		return "off leash"
	case "leash":
		return "on the leash"
	}
	return "on the " + string(l)
}

// Away says that a place is away from the kennel's own ground.
const Away = "away"

// Rule says which asks count as answered, to be printed beside the number.
func Rule(r analysis.Rule) string {
	s := "right answer to the first ask"
	if r.Begun {
		s = "answer begun on the first ask"
	}
	if r.Limit.Known {
		s += ", started within " + Number(r.Limit.V) + " s"
	}
	if r.Begun {
		return s
	}
	if r.Arrive.Known {
		s += ", completed within " + Number(r.Arrive.V) + " s"
	}
	return s + ", no help, no correction"
}
