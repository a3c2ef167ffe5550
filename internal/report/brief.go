package report

import (
	"io"
	"sort"
	"strings"

	"firstcue/internal/analysis"
	"firstcue/internal/say"
	"firstcue/internal/training"
)

// Brief writes the page for whoever takes the dog next: words and signals,
// today's level and device, what failed last, what nobody but the main trainer
// has asked, what must not be done.
func Brief(w io.Writer, a analysis.Assessment, r training.Record, o Options) error {
	if o.Usual == nil {
		o.Usual = UsualBars(r.Kennel)
	}
	return brief(a, r, o).text(w, o)
}

// standing sessions are those that count: not withdrawn, no second scoring, of
// this dog, up to the day of the assessment, in order of time.
func standingSessions(a analysis.Assessment, r training.Record) []training.Session {
	var out []training.Session
	for _, s := range r.Sessions {
		if s.Voided == "" && s.Rescores == "" && s.Day() <= a.AsOf && (s.Dog == "" || training.Key(s.Dog) == training.Key(a.Dog.Name)) {
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

func brief(a analysis.Assessment, r training.Record, o Options) page {
	p := page{title: say.Plain(a.Dog.Name), aside: "for the next handler, " + say.LongDay(a.AsOf) + stay(a), verdict: a.Verdict, banner: shout(a.Verdict), tail: headline(a)}
	if s := notHereYet(a); s != "" {
		p.verdict, p.banner, p.tail = "", "", ""
		p.blocks = append(p.blocks, para(s))
		return p
	}
	for _, s := range []string{afresh(a), changedBars(a, o.Usual), sentences(a.Why)} {
		if s != "" {
			p.blocks = append(p.blocks, para(s))
		}
	}
	sessions := standingSessions(a, r)
	var rows terms
	put := func(label, text string) {
		if text = strings.TrimSpace(text); text != "" {
			rows = append(rows, [2]string{label, text})
		}
	}
	for _, h := range a.Holds {
		put("vet hold", vetHold(h))
	}
	for _, i := range a.Incidents {
		put("open incident", say.ShortDay(i.Day)+": "+say.Ended(say.Plain(i.Text)))
	}
	if a.Stay {
		put("owner wants", say.Plain(a.Boarding.Wishes))
	}
	put("equipment", equipment(a, sessions))
	put("reward", lastReward(sessions))
	if len(sessions) > 0 {
		s := sessions[len(sessions)-1]
		put("last session", say.ShortDay(s.Day())+" "+s.Start.Format("15:04")+", "+sessionSetting(s))
		for _, m := range s.Remarks {
			put("noted then", say.Plain(m.Text))
		}
	}
	if len(rows) > 0 {
		p.blocks = append(p.blocks, rows)
	}
	p.add("Agreed with the owner", goals(a))
	p.add("Words and signals", wordGrid(a, r, o.Before))
	var one bullets
	for _, c := range a.Cues {
		if s := onlySignal(c); s != "" {
			one = append(one, say.Plain(c.Cue)+": "+lowerFirst(s))
		}
	}
	p.add("Not every signal was tried", one)
	p.add("What failed last", lastMisses(a, sessions))
	p.add("Nobody but "+orWord(say.Plain(a.Main), "the main trainer")+" has asked", onlyMain(a))
	p.add("Slipping", slipping(a))
	return p
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
	var s string
	for i := len(sessions) - 1; i >= 0; i-- {
		x := sessions[i]
		if x.Device == "" {
			continue
		}
		s = say.Plain(x.Device) + ", " + workingLevel(a, sessions, x.Device)
		break
	}
	if s == "" && a.Dog.Device != "" {
		s = say.Plain(a.Dog.Device) + ", no working level noted yet"
	}
	if noCollar(a) {
		s = "NO COLLAR while the vet hold lasts. " + s
	}
	if a.Dog.Consent != "" {
		s += ". Owner agreed: " + say.Plain(a.Dog.Consent)
	}
	return say.Ended(strings.TrimPrefix(s, ". "))
}

func noCollar(a analysis.Assessment) bool {
	for _, h := range a.Holds {
		if h.ForbidsCollar(a.AsOf) {
			return true
		}
	}
	return false
}

// workingLevel is the last one noted on the device, however long ago, with what
// has to be done before it means anything.
func workingLevel(a analysis.Assessment, sessions []training.Session, device string) string {
	for i := len(sessions) - 1; i >= 0; i-- {
		x := sessions[i]
		if training.Key(x.Device) != training.Key(device) || !x.WorkingLevel.Known {
			continue
		}
		level := say.NumberOf(x.WorkingLevel)
		switch {
		case x.Day() == a.AsOf:
			return "working level " + level + " found today"
		case noCollar(a):
			return "level " + level + " on " + say.ShortDay(x.Day()) + ": to be found again when the vet allows the collar"
		}
		return "level " + level + " on " + say.ShortDay(x.Day()) + ": find it again today"
	}
	return "no working level noted yet"
}

// goals lists what was agreed with the owner, in the words it was agreed in.
func goals(a analysis.Assessment) block {
	var list bullets
	for _, g := range a.Dog.Goals {
		if s := goalWords(g); s != "" {
			list = append(list, s)
		}
	}
	if len(list) == 0 {
		return para(noGoal + ".")
	}
	return list
}

// goalWords is a goal as it was written down; its parts where no words were.
func goalWords(g training.Goal) string {
	cue, words := say.Plain(g.Cue), say.Plain(g.Words)
	switch {
	case words != "" && strings.HasPrefix(training.Key(words)+" ", training.Key(cue)+" "), strings.HasPrefix(training.Key(words), training.Key(cue)+","):
		return words
	case words != "":
		return cue + ": " + words
	}
	s := []string{cue}
	if g.Handler != "" {
		s = append(s, "asked by "+say.Plain(g.Handler))
	}
	if g.Place != "" {
		s = append(s, "at "+say.Plain(g.Place))
	}
	if g.Distraction.Known {
		s = append(s, "distraction "+say.NumberOf(g.Distraction)+" or more")
	}
	if g.Bar.Known {
		s = append(s, say.Percent(g.Bar.V)+" on the first ask")
	}
	return strings.Join(s, ", ")
}

func lastReward(sessions []training.Session) string {
	for i := len(sessions) - 1; i >= 0; i-- {
		if sessions[i].Reward != "" {
			return say.Plain(sessions[i].Reward) + " (" + say.ShortDay(sessions[i].Day()) + ")"
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

func wordGrid(a analysis.Assessment, r training.Record, before []AskedBefore) block {
	g := grid{caption: "Every cue as this dog knows it", verdict: 3, rowHead: true, airy: len(a.Cues) > 0,
		columns: []column{{"Cue", Left}, {"Say", Left}, {"Signal", Left}, {"Verdict", Left}, {"First cue, or breaks", Left}, {"Last asked", Left}, {"Ends", Left}}}
	for _, c := range a.Cues {
		word, signal, ends, _ := cueWord(a.Dog, r.Kennel, c.Cue)
		level := firstCueCell(c)
		if c.Kind == training.Motion {
			level = measureCell(c)
		}
		name := say.Plain(c.Cue)
		if !c.Agreed {
			name += "\nnot agreed"
		}
		g.rows = append(g.rows, []string{name, word, orNone(signal), string(c.Verdict), level, say.ShortDay(c.LastDay), orNone(ends)})
	}
	// A new dog is told its words before it is asked the first of them.
	for _, n := range a.NeverTried {
		if len(a.Cues) > 0 && len(a.Dog.Goals) == 0 {
			break
		}
		word, signal, ends, _ := cueWord(a.Dog, r.Kennel, n)
		verdict, level, last := "never asked", say.None, say.None
		if b, ok := beforeOf(before, n); ok {
			verdict, level, last = "before teaching only", "before teaching: "+b.figure(), say.ShortDay(b.Last)
		}
		g.rows = append(g.rows, []string{say.Plain(n), word, orNone(signal), verdict, level, last, orNone(ends)})
	}
	return g
}

const mostMisses = 6

// missed reports a trial that was no first-cue success under the criteria of
// its cue, or a walk with more breaks than its bar.
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
		columns: []column{{"When", Left}, {"Cue", Left}, {"Asked by", Left}, {"Place", Left}, {"What happened", Left}}}
	for i := len(sessions) - 1; i >= 0 && len(g.rows) < mostMisses; i-- {
		s := sessions[i]
		for j := len(s.Trials) - 1; j >= 0 && len(g.rows) < mostMisses; j-- {
			t := s.Trials[j]
			if missed(t, cues[training.Key(t.Cue)]) {
				g.rows = append(g.rows, []string{say.ShortDay(s.Day()), say.Plain(t.Cue), say.Plain(s.Handler), say.Plain(s.Place), trialWords(t)})
			}
		}
	}
	return g
}

// onlyMain lists the cues that only the main trainer has asked, and the places
// where nobody else has.
func onlyMain(a analysis.Assessment) block {
	if a.Main == "" {
		return nil
	}
	var list bullets
	for _, c := range a.Cues {
		var alone []string
		others := 0
		byPlace := map[string]int{}
		var places []string
		for _, x := range c.Contexts {
			if !tried(x) {
				continue
			}
			other := training.Key(x.Handler) != training.Key(a.Main)
			switch x.Kind {
			case analysis.ByHandler:
				if other {
					others++
				}
			case analysis.ByCell:
				if _, seen := byPlace[x.Place]; !seen {
					places = append(places, x.Place)
					byPlace[x.Place] = 0
				}
				if other {
					byPlace[x.Place]++
				}
			}
		}
		if others == 0 {
			list = append(list, say.Plain(c.Cue)+", anywhere")
			continue
		}
		for _, p := range places {
			if byPlace[p] == 0 {
				alone = append(alone, say.Plain(p))
			}
		}
		if len(alone) > 0 {
			list = append(list, say.Plain(c.Cue)+" at "+say.List(alone))
		}
	}
	return list
}
