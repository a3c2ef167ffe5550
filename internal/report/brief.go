package report

import (
	"io"
	"slices"
	"sort"
	"strings"

	"firstcue/internal/analysis"
	"firstcue/internal/say"
	"firstcue/internal/training"
)

// Brief writes the page for whoever takes the dog next: what to do, words and signals,
// today's level and device, what failed last, what nobody but the main trainer has
// asked, what must not be done.
func Brief(w io.Writer, a analysis.Assessment, r training.Record, o Options) error {
	return brief(a, r).text(w, o)
}

// BriefHTML writes the brief as one self-contained page.
func BriefHTML(w io.Writer, a analysis.Assessment, r training.Record, o Options) error {
	return brief(a, r).html(w, o)
}

// standingSessions are those that count: not withdrawn, no second scoring, of this
// dog, up to the day of the assessment, in order of time.
func standingSessions(a analysis.Assessment, r training.Record) []training.Session {
	var out []training.Session
	for _, s := range r.Sessions {
		if s.Voided == "" && s.Rescores == "" && s.Day() <= a.Day && (s.Dog == "" || training.Key(s.Dog) == training.Key(a.Name)) {
			out = append(out, s)
		}
	}
	sort.SliceStable(out, func(i, j int) bool {
		if !out[i].Start.Equal(out[j].Start) {
			return out[i].Start.Before(out[j].Start)
		}
		return out[i].Part < out[j].Part
	})
	return out
}

func brief(a analysis.Assessment, r training.Record) page {
	todo := say.Do(a)
	p := page{title: say.Plain(a.Name), aside: "for the next handler, " + say.LongDay(a.Day), verdict: a.Verdict, banner: say.Verdict(a.Verdict), tail: todo.Text}
	if todo.Stop {
		p.tail = "STOP. " + todo.Text
	}
	sessions := standingSessions(a, r)
	if rows := briefTerms(a, sessions); len(rows) > 0 {
		p.blocks = append(p.blocks, rows)
	}
	p.add("Agreed with the owner", goals(a))
	p.add("Words and signals", wordGrid(a, r))
	p.add("What failed last", lastMisses(a, sessions))
	p.add("Nobody but "+orWord(say.Plain(a.Main), "the main trainer")+" has asked", onlyMain(a))
	p.add("Mind today", todayCautions(a))
	return p
}

// briefTerms is what there is to know before the dog is fetched.
func briefTerms(a analysis.Assessment, sessions []training.Session) terms {
	var rows terms
	put := func(label, text string) {
		if text = strings.TrimSpace(text); text != "" {
			rows = append(rows, [2]string{label, text})
		}
	}
	for i, x := range a.Reasons {
		if i < 3 && !x.Weak {
			put("why", say.Reason(x))
		}
	}
	if a.Stay != nil {
		put("due", say.Due(a))
		put("owner wants", say.Plain(a.Stay.Wishes))
	}
	put("equipment", equipment(a, sessions))
	put("reward", lastReward(sessions))
	if len(sessions) > 0 {
		s := sessions[len(sessions)-1]
		put("last session", say.ShortDay(s.Day())+" "+s.Start.Format("15:04")+", "+sessionSetting(s))
	}
	for _, m := range a.Remarks {
		put("noted", say.Remark(m))
	}
	return rows
}

func orWord(s, or string) string {
	if s == "" {
		return or
	}
	return s
}

// equipment says what the dog works in, with the last working level and device.
func equipment(a analysis.Assessment, sessions []training.Session) string {
	if a.Dog.RewardOnly {
		s := "reward only: no collar, no leash correction"
		if a.Dog.Consent != "" {
			s += " (" + say.Plain(a.Dog.Consent) + ")"
		}
		return say.Sentence(s)
	}
	device := a.Dog.Device
	for _, x := range slices.Backward(sessions) {
		if x.Device != "" {
			device = x.Device
			break
		}
	}
	var parts []string
	if collarOff(a) {
		parts = append(parts, "COLLAR OFF")
	}
	if device != "" {
		parts = append(parts, say.Plain(device)+", "+workingLevel(a, sessions, device))
	}
	if a.Dog.Consent != "" {
		parts = append(parts, "owner agreed: "+say.Plain(a.Dog.Consent))
	}
	if len(parts) == 0 {
		return ""
	}
	return say.Ended(strings.Join(parts, ". "))
}

// collarOff reports that no collar may be used today.
func collarOff(a analysis.Assessment) bool {
	return len(a.Incidents) > 0 || slices.ContainsFunc(a.Holds, func(h analysis.VetHold) bool { return h.NoCollar || h.CollarOnly })
}

// workingLevel is the last one noted on the device, however long ago, with what has to
// be done before it means anything.
func workingLevel(a analysis.Assessment, sessions []training.Session, device string) string {
	for _, x := range slices.Backward(sessions) {
		if training.Key(x.Device) != training.Key(device) || !x.WorkingLevel.Known {
			continue
		}
		level := say.NumberOf(x.WorkingLevel)
		switch {
		case collarOff(a):
			return "level " + level + " on " + say.ShortDay(x.Day()) + ": to be found again once the collar is allowed"
		case x.Day() == a.Day:
			return "working level " + level + " found today"
		}
		return "level " + level + " on " + say.ShortDay(x.Day()) + ": find it again today"
	}
	return "no working level noted yet"
}

// goals lists what was agreed with the owner.
func goals(a analysis.Assessment) block {
	var out bullets
	for _, g := range a.Dog.Goals {
		out = append(out, say.Goal(g))
	}
	if len(out) == 0 {
		return para("No goal is agreed with the owner yet; every cue is judged.")
	}
	return out
}

func lastReward(sessions []training.Session) string {
	for _, s := range slices.Backward(sessions) {
		if s.Reward != "" {
			return say.Plain(s.Reward) + " (" + say.ShortDay(s.Day()) + ")"
		}
	}
	return ""
}

// cueWord is how this dog knows a cue: what is said, shown, and how it ends.
func cueWord(d training.Dog, k training.Kennel, cue string) (word, signal, ends, meaning string) {
	word = cue
	if c, ok := k.Cue(cue); ok {
		signal, ends, meaning = string(c.Signal), c.Ends, c.Meaning
	}
	for _, w := range d.Words {
		if training.Key(w.Cue) != training.Key(cue) {
			continue
		}
		if w.Word != "" {
			word = w.Word
		}
		if w.Signal != "" {
			signal = w.Signal
		}
		if w.Ends != "" {
			ends = w.Ends
		}
	}
	return say.Plain(word), say.Plain(signal), say.Plain(ends), say.Plain(meaning)
}

func orNone(s string) string { return orWord(s, say.None) }

func wordGrid(a analysis.Assessment, r training.Record) block {
	g := grid{caption: "Every cue as this dog knows it", verdict: 3, rowHead: true, airy: len(a.Cues) > 0,
		columns: []column{{name: "cue"}, {name: "say"}, {name: "signal"}, {name: "verdict"}, {name: "now"}, {name: "answered"}, {name: "last asked"}, {name: "ends"}}}
	for _, c := range a.Cues {
		word, signal, ends, _ := cueWord(a.Dog, r.Kennel, c.Cue)
		name := say.Plain(c.Cue)
		if counted(c) == 0 {
			name += "\nnot agreed"
		}
		g.rows = append(g.rows, []string{name, word, orNone(signal), string(c.Verdict), now(c.Now, c.Kind), answered(c.Tally), say.ShortDay(c.Last), orNone(ends)})
	}
	// A new dog is told its words before it is asked the first of them.
	for _, n := range a.Never {
		if len(a.Cues) > 0 && !n.Agreed {
			continue
		}
		word, signal, ends, _ := cueWord(a.Dog, r.Kennel, n.Cue)
		verdict := "never asked"
		if n.BeforeTeaching {
			verdict = "before teaching only"
		}
		g.rows = append(g.rows, []string{say.Plain(n.Cue), word, orNone(signal), verdict, say.None, say.None, say.None, orNone(ends)})
	}
	if len(g.rows) == 0 {
		return nil
	}
	return g
}

const mostMisses = 6

// missed reports a trial that was no first-ask success under the criteria of its cue,
// or a walk with a break or a correction.
func missed(t training.Trial, c analysis.CueAssessment) bool {
	if t.Outcome == training.Walked {
		return t.Breaks > 0 || len(t.Corrections) > 0
	}
	yes, of := analysis.FirstCueUnder(t, analysis.Rule{Limit: c.Criteria.Limit, Arrive: c.Criteria.Arrive})
	return yes < of
}

func lastMisses(a analysis.Assessment, sessions []training.Session) block {
	cues := map[string]analysis.CueAssessment{}
	for _, c := range a.Cues {
		cues[training.Key(c.Cue)] = c
	}
	g := grid{caption: "The last trials that went wrong", verdict: -1,
		columns: []column{{name: "when"}, {name: "cue"}, {name: "asked by"}, {name: "place"}, {name: "what happened"}}}
	for _, s := range slices.Backward(sessions) {
		for _, t := range slices.Backward(s.Trials) {
			if len(g.rows) == mostMisses {
				return g
			}
			if missed(t, cues[training.Key(t.Cue)]) {
				g.rows = append(g.rows, []string{say.ShortDay(s.Day()), say.Plain(t.Cue), say.Plain(s.Handler), say.Plain(s.Place), trialWords(t)})
			}
		}
	}
	if len(g.rows) == 0 {
		return nil
	}
	return g
}

// onlyMain lists the cues that only the main trainer has asked, and the places where
// nobody else has.
func onlyMain(a analysis.Assessment) block {
	if a.Main == "" {
		return nil
	}
	var out bullets
	for _, c := range a.Cues {
		others := slices.ContainsFunc(c.People, func(x analysis.Context) bool { return training.Key(x.Person) != training.Key(a.Main) })
		if !others {
			out = append(out, say.Plain(c.Cue)+", anywhere")
			continue
		}
		var alone []string
		for _, p := range c.Places {
			if !slices.ContainsFunc(c.Cells, func(x analysis.Context) bool {
				return !x.Untried && x.Place == p.Place && training.Key(x.Person) != training.Key(a.Main)
			}) {
				alone = append(alone, p.Place)
			}
		}
		if len(alone) > 0 {
			out = append(out, say.Plain(c.Cue)+" at "+say.Names(alone))
		}
	}
	if out == nil {
		return nil
	}
	return out
}

func todayCautions(a analysis.Assessment) block {
	if list := say.Today(a); len(list) > 0 {
		return bullets(list)
	}
	return nil
}
