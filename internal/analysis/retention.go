package analysis

import (
	"firstcue/internal/stats"
	"firstcue/internal/training"
)

// Visit is how a dog did in a span of days: up to the handoff, or around one
// recheck after it.
type Visit struct {
	From, To training.Day // the span, both days included
	Days     []training.Day
	Sessions int
	// First is the first ask of each cue on each of its days: nothing helps it
	// along, so it says most about what was kept. Intervals are Wilson's, each
	// ask for itself.
	First Share
	Cues  []VisitCue // cues asked in the span, in the order of the assessment
}

// VisitCue is one cue's part of a visit.
type VisitCue struct {
	Cue    string
	Kind   training.Kind
	Agreed bool
	Days   []training.Day
	First  Share   // first ask of a day; days that began with a tally have none
	All    Share   // all first asks; empty for a motion
	Breaks *Breaks // motion: breaks while walking
}

// Retention holds what became of each cue after a handoff, under the counting
// rule of its criteria. The visit of the handoff is, for each cue, the last day
// of the stay on which it was asked. Spans cover the days [from, to] of each
// recheck; what lies in none of them is left out. Sessions that were withdrawn,
// second scorings and vet holds count nowhere.
func Retention(r training.Record, criteria CriteriaFunc, arrived, home training.Day, spans [][2]training.Day, day training.Day) (handoff Visit, rechecks []Visit) {
	sc := newScene(r, day)
	hist := sc.histories(criteria)
	sortCues(hist, r.Kennel)
	handoff = Visit{From: arrived, To: home}
	for _, h := range hist {
		sits := span(h.sits, arrived, home)
		for len(sits) > 0 && !sits[len(sits)-1].scored() {
			sits = sits[:len(sits)-1]
		}
		if len(sits) > 0 {
			last := sits[len(sits)-1].day
			handoff.add(h, span(sits, last, last), r.Dog)
		}
	}
	handoff.finish()
	for _, s := range spans {
		v := Visit{From: s[0], To: s[1]}
		for _, h := range hist {
			v.add(h, span(h.sits, s[0], s[1]), r.Dog)
		}
		v.finish()
		// Sessions without a scored trial are a visit too.
		for _, sit := range sc.sittings {
			if sit.day >= s[0] && sit.day <= s[1] {
				v.Sessions++
				v.Days = addDay(v.Days, sit.day)
			}
		}
		rechecks = append(rechecks, v)
	}
	for _, sit := range sc.sittings {
		for _, d := range handoff.Days {
			handoff.Sessions += one(sit.day == d)
		}
	}
	return handoff, rechecks
}

func (v *Visit) add(h *history, sits []cueSitting, dog training.Dog) {
	q := VisitCue{Cue: h.cue, Kind: h.kind, Agreed: dog.Agreed(h.cue)}
	yes, of := 0, 0
	var begun training.Day
	for _, s := range sits {
		if !s.scored() {
			continue
		}
		q.Days = addDay(q.Days, s.day)
		v.Days = addDay(v.Days, s.day)
		if s.day == begun || h.kind == training.Motion {
			continue
		}
		begun = s.day
		// The first session of the day with the cue, as coldOf takes it.
		end := 1
		for end < len(s.trials) && s.trials[end].s == s.trials[0].s {
			end++
		}
		if y, n := h.first(s.trials[:end]); n == 1 {
			yes += y
			of++
		}
	}
	if len(q.Days) == 0 {
		return
	}
	q.First = askByAsk(yes, of)
	if h.kind == training.Motion {
		q.Breaks = breaksOf(sits)
	} else {
		q.All = h.share(sits)
	}
	v.Cues = append(v.Cues, q)
}

func (v *Visit) finish() {
	yes, of := 0, 0
	for _, q := range v.Cues {
		yes += q.First.Yes
		of += q.First.Of
	}
	v.First = askByAsk(yes, of)
}

func addDay(list []training.Day, d training.Day) []training.Day {
	for i, x := range list {
		switch {
		case x == d:
			return list
		case x > d:
			return append(list[:i:i], append([]training.Day{d}, list[i:]...)...)
		}
	}
	return append(list, d)
}

// askByAsk is a share of asks that do not lean on each other: one a cue and day.
func askByAsk(yes, of int) Share {
	s := Share{Yes: yes, Of: of}
	if of == 0 {
		return s
	}
	iv := must(stats.Wilson(float64(yes), float64(of), 0.95))
	s.Rate, s.Effective = training.Known(float64(yes)/float64(of)), training.Known(float64(of))
	s.Low, s.High = training.Known(iv.Lower), training.Known(iv.Upper)
	s.PlainLow, s.PlainHigh = s.Low, s.High
	return s
}
