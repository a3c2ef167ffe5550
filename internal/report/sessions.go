package report

import (
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"firstcue/internal/analysis"
	"firstcue/internal/say"
	"firstcue/internal/training"
)

// SessionText writes one session as it was understood, trial by trial, with the
// note it came from.
func SessionText(w io.Writer, s training.Session, o Options) error {
	p := page{title: sessionTitle(s), aside: idLine(s)}
	p.blocks = append(p.blocks, para(sessionSetting(s)))
	if s.Voided != "" {
		p.blocks = append(p.blocks, para("Withdrawn: "+say.Sentence(say.Plain(s.Voided))))
	}
	if s.Rescores != "" {
		p.blocks = append(p.blocks, para("A second scoring of session "+say.Plain(s.Rescores)+": adds no trial to any figure."))
	}
	p.add("Understood as", trialGrid(s, o))
	p.add("Remarks", remarks(s))
	var lines []string
	for _, l := range strings.Split(strings.TrimRight(s.Carried+"\n"+s.Note, "\n"), "\n") {
		if l = say.Plain(l); l != "" {
			lines = append(lines, l)
		}
	}
	if len(lines) > 0 {
		p.add("As written", written(lines))
	}
	return p.text(w, o)
}

// written is a note word for word, a line of the note a line of the page.
type written []string

// DryRunText writes what log understood of a note: its sessions in order, each
// with its trials in plain words.
func DryRunText(w io.Writer, sessions []training.Session, o Options) error {
	for i, s := range sessions {
		if i > 0 {
			if _, err := io.WriteString(w, "\n"); err != nil {
				return err
			}
		}
		p := page{title: sessionTitle(s)}
		p.blocks = append(p.blocks, para(sessionSetting(s)))
		if len(s.Trials) > 0 {
			p.blocks = append(p.blocks, trialGrid(s, o))
		} else {
			p.blocks = append(p.blocks, para("No trial."))
		}
		if r := remarks(s); len(r) > 0 {
			p.blocks = append(p.blocks, r)
		}
		if err := p.text(w, o); err != nil {
			return err
		}
	}
	return nil
}

// ShortID is the end of a session's ID: the part by which two sessions logged
// in one moment differ.
func ShortID(id string) string {
	if len(id) <= 8 {
		return id
	}
	return id[len(id)-8:]
}

// SessionsTable lists sessions one a line, in the order given. The dog is named
// where there is more than one; the cues stand on a line of their own where the
// width does not hold them in the row.
func SessionsTable(w io.Writer, sessions []training.Session, o Options) error {
	headers := []string{"Session", "Day", "Start", "Dog", "Handler", "Place", "Leash", "Distr.", "Trials", "Cues"}
	align := []Align{Left, Left, Right, Left, Left, Left, Left, Right, Right, Left}
	dogs := map[string]bool{}
	rows := make([][]string, 0, len(sessions))
	for _, s := range sessions {
		dogs[training.Key(s.Dog)] = true
		cues := tallyCues(s)
		if s.Rescores != "" {
			cues = "2nd scoring, " + scoredBy(s) + ": " + cues
		}
		if s.Voided != "" {
			cues = "WITHDRAWN: " + say.Plain(s.Voided)
		}
		n := 0
		for _, t := range s.Trials {
			n += t.Count()
		}
		rows = append(rows, []string{say.Plain(ShortID(s.ID)), s.Day().String(), s.Start.Format("15:04"), say.Plain(s.Dog), say.Plain(s.Handler), say.Plain(s.Place),
			say.Plain(string(s.Leash)), say.NumberOf(s.Distraction), strconv.Itoa(n), cues})
	}
	drop := func(i int) {
		headers = slices.Delete(headers, i, i+1)
		align = slices.Delete(align, i, i+1)
		for j, r := range rows {
			rows[j] = slices.Delete(r, i, i+1)
		}
	}
	if len(dogs) == 1 {
		drop(3)
	}
	need, _ := columnNeeds(headers, rows)
	total := len(columnGap) * (len(need) - 1)
	for _, n := range need {
		total += n
	}
	if total <= o.width() {
		return Table(w, headers, rows, align, o)
	}
	below := make([]string, len(rows))
	for i, r := range rows {
		below[i] = r[len(r)-1]
	}
	drop(len(headers) - 1)
	return tableOver(w, headers, rows, align, below, o)
}

// scoredBy is whoever wrote the session down.
func scoredBy(s training.Session) string {
	if s.Scorer != "" {
		return say.Plain(s.Scorer)
	}
	return say.Plain(s.Handler)
}

// tallyCues counts the trials of a session by cue, in order of first mention.
func tallyCues(s training.Session) string {
	var order []string
	count := map[string]int{}
	for _, t := range s.Trials {
		if count[t.Cue] == 0 {
			order = append(order, t.Cue)
		}
		count[t.Cue] += t.Count()
	}
	for i, c := range order {
		order[i] = fmt.Sprintf("%s %d", say.Plain(c), count[c])
	}
	if len(order) == 0 {
		return "no trial"
	}
	return strings.Join(order, ", ")
}

func sessionTitle(s training.Session) string {
	t := say.Plain(s.Dog) + ", " + say.LongDay(s.Day()) + ", " + s.Start.Format("15:04")
	if s.Part > 0 {
		t += fmt.Sprintf(", part %d", s.Part+1)
	}
	return t
}

func idLine(s training.Session) string {
	if s.ID == "" {
		return ""
	}
	l := "session " + say.Plain(s.ID)
	if s.Revision > 1 {
		l += fmt.Sprintf(", revision %d", s.Revision)
	}
	return l
}

// sessionSetting is who, where and how, in one sentence.
func sessionSetting(s training.Session) string {
	var parts []string
	who := say.Plain(s.Handler)
	if s.Place != "" {
		who = strings.TrimSpace(who + " at " + say.Plain(s.Place))
	}
	parts = append(parts, who)
	switch s.Leash {
	case "":
	case "off":
		parts = append(parts, "off leash")
	default:
		parts = append(parts, "on "+say.Plain(string(s.Leash)))
	}
	if s.Distraction.Known {
		parts = append(parts, "distraction "+say.NumberOf(s.Distraction))
	}
	if s.Device != "" {
		d := say.Plain(s.Device)
		if s.WorkingLevel.Known {
			d += " at working level " + say.NumberOf(s.WorkingLevel)
		}
		parts = append(parts, d)
	}
	if s.Weather != "" {
		parts = append(parts, "weather: "+say.Plain(s.Weather))
	}
	if s.Reward != "" {
		parts = append(parts, "reward: "+say.Plain(s.Reward))
	}
	if s.Scorer != "" {
		parts = append(parts, "scored by "+say.Plain(s.Scorer))
	}
	if s.Source != "" {
		parts = append(parts, "from "+say.Plain(string(s.Source)))
	}
	if s.Baseline {
		parts = append(parts, "baseline, before any teaching")
	}
	var full []string
	for _, p := range parts {
		if p != "" {
			full = append(full, p)
		}
	}
	return strings.Join(full, ", ")
}

func trialGrid(s training.Session, o Options) grid {
	g := grid{columns: []column{{"#", Right}, {"Cue", Left}, {"Signal", Left}, {"What happened", Left}}, verdict: -1}
	clock := false
	for _, t := range s.Trials {
		clock = clock || t.At.Known
	}
	if clock {
		g.columns = append([]column{{"At", Right}}, g.columns...)
	}
	for i, t := range s.Trials {
		row := []string{strconv.Itoa(i + 1), say.Plain(t.Cue), say.Plain(string(t.Signal)), trialWords(t) + lateWords(s.Dog, t, o)}
		if clock {
			at := ""
			if t.At.Known {
				at = say.Clock(t.At.V)
			}
			row = append([]string{at}, row...)
		}
		g.rows = append(g.rows, row)
	}
	return g
}

func remarks(s training.Session) bullets {
	var list bullets
	for _, r := range s.Remarks {
		if r.Incident {
			list = append(list, "INCIDENT: "+say.Plain(r.Text))
			continue
		}
		list = append(list, say.Plain(r.Text))
	}
	return list
}

// lateWords says of an answer to the first ask that came too late to count as
// one which limit it missed; "" for any other trial.
func lateWords(dog string, t training.Trial, o Options) string {
	if o.Rules == nil || t.Outcome != training.Answered || t.Tally.Of > 0 {
		return ""
	}
	rule := o.Rules(dog, t.Cue)
	if yes, of := analysis.FirstCueUnder(t, analysis.Rule{}); yes == 0 || of == 0 {
		return "" // no first-cue answer at any speed
	}
	switch {
	case t.Latency.Known && rule.Limit.Known && t.Latency.V > rule.Limit.V:
		return ", over " + say.Seconds(rule.Limit.V) + ": no first-cue answer"
	case t.Completion.Known && rule.Arrive.Known && t.Completion.V > rule.Arrive.V:
		return ", over " + say.Seconds(rule.Arrive.V) + ": no first-cue answer"
	}
	return ""
}

// trialWords tells one trial in plain words: "2 asks: no, corrected at 9 (blue
// remote), then yes in 1.6 s".
func trialWords(t training.Trial) string {
	if t.Tally.Of > 0 {
		s := fmt.Sprintf("tally: %d of %d on the first ask", t.Tally.Yes, t.Tally.Of)
		if t.Distance.Known {
			s += ", at " + say.NumberOf(t.Distance) + " m"
		}
		return s
	}
	var s string
	switch t.Outcome {
	case training.Answered, training.Refused:
		s = responseWords(t)
	case training.Held, training.Broke, training.Released:
		s = holdWords(t)
	case training.Walked:
		s = "walked"
		if t.Walked.Known {
			s += " " + say.Clock(t.Walked.V)
		}
		s += ", " + breakWords(t.Breaks) + helpWords(t, ", ")
	case training.Unscored:
		s = "could not be scored: counted apart"
	case training.Early:
		s = "acted before the cue: counted apart"
	case training.Already:
		s = "was in position already: counted apart"
	default:
		s = say.Plain(string(t.Outcome))
	}
	if t.Distance.Known {
		s += ", at " + say.NumberOf(t.Distance) + " m"
	}
	return s
}

func breakWords(n int) string {
	if n == 0 {
		return "no break"
	}
	return say.Count(n, "break")
}

func responseWords(t training.Trial) string {
	yes := "yes"
	if t.Latency.Known {
		yes += " in " + say.Seconds(t.Latency.V)
	}
	if t.Completion.Known {
		yes += ", done at " + say.Seconds(t.Completion.V)
	}
	plainYes := t.Outcome == training.Answered && t.Asks <= 1 && t.Did == "" && len(t.Prompts) == 0 && len(t.Corrections) == 0
	if plainYes {
		return "first ask: " + yes
	}
	asks := say.Count(t.Asks, "ask") + ": "
	// One step for each ask that was not answered.
	var steps []string
	missed := t.Asks
	if t.Outcome == training.Answered {
		missed--
	}
	if t.Begun.Known {
		steps = append(steps, "began in "+say.Seconds(t.Begun.V)+" and did not finish")
		missed--
	}
	if t.Did != "" && t.Did != "?" {
		steps = append(steps, say.Plain(t.Did)+" instead")
		missed--
	}
	if len(steps) == 0 && (t.Did == "?" || t.Outcome == training.Refused) {
		missed = max(missed, 1)
	}
	switch {
	case missed > 4:
		steps = append(steps, fmt.Sprintf("no %d times", missed))
	case missed > 0:
		steps = append(steps, slices.Repeat([]string{"no"}, missed)...)
	}
	if t.Waited.Known && len(steps) > 0 {
		steps[0] += " for " + say.Seconds(t.Waited.V)
	}
	if h := helpWords(t, ""); h != "" {
		steps = append(steps, h)
	}
	if t.Outcome == training.Answered {
		steps = append(steps, "then "+yes)
	} else {
		steps = append(steps, "never answered")
	}
	return asks + strings.Join(steps, ", ")
}

func holdWords(t training.Trial) string {
	held, target := "", ""
	if t.Held.Known {
		held = " " + say.Clock(t.Held.V)
	}
	if t.Target.Known {
		target = " of " + say.Clock(t.Target.V)
	}
	var s string
	switch t.Outcome {
	case training.Held:
		s = "held" + held
		if held == "" && t.Target.Known {
			s = "held the full " + say.Clock(t.Target.V)
		} else if t.Target.Known && math.Abs(t.Held.V-t.Target.V) > 1e-9 {
			s += target
		}
	case training.Broke:
		s = "broke"
		if held != "" {
			s += " at" + held
		}
		s += target
	default:
		s = "released"
		if held != "" {
			s += " at" + held
		}
		s += target + ", no break"
	}
	if t.Asks > 1 {
		s = say.Count(t.Asks, "ask") + ": " + s
	}
	if t.Did != "" && t.Did != "?" {
		s += ", " + say.Plain(t.Did) + " instead"
	}
	return s + helpWords(t, ", ")
}

// helpWords names prompts and corrections, with lead in front if there are any.
func helpWords(t training.Trial, lead string) string {
	var list []string
	for _, p := range t.Prompts {
		if p == "" || p == "help" {
			list = append(list, "helped")
			continue
		}
		list = append(list, "helped ("+say.Plain(p)+")")
	}
	for _, c := range t.Corrections {
		list = append(list, correctionWords(c))
	}
	if len(list) == 0 {
		return ""
	}
	return lead + strings.Join(list, ", ")
}

func correctionWords(c training.Correction) string {
	switch c.Kind {
	case training.ByCollar:
		s := "corrected"
		if c.Level.Known {
			s += " at " + say.NumberOf(c.Level)
		}
		if c.Device != "" {
			s += " (" + say.Plain(c.Device) + ")"
		}
		return s
	case training.ByLeash:
		return "corrected by leash"
	case training.ByVoice:
		return "corrected by voice"
	}
	return "corrected (" + say.Plain(string(c.Kind)) + ")"
}
