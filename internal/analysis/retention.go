package analysis

import (
	"slices"

	"firstcue/internal/stats"
	"firstcue/internal/training"
)

// Visit is how a dog did in a span of days: up to the handoff, or around one
// recheck after it.
type Visit struct {
	From     training.Day   `json:"from"` // the span, both days included
	To       training.Day   `json:"to"`
	Days     []training.Day `json:"days"` // with sessions
	Sessions int            `json:"sessions"`
	// First is the first ask of each cue on each of its days: nothing helps it
	// along, so it says most about what was kept. Intervals are Wilson's, each ask
	// for itself.
	First Share      `json:"firstAsks"`
	Cues  []VisitCue `json:"cues"` // asked in the span, in the order of the assessment
}

// VisitCue is one cue's part of a visit.
type VisitCue struct {
	Cue    string         `json:"cue"`
	Kind   training.Kind  `json:"kind"`
	Agreed *bool          `json:"agreed"` // null = the dog has no goals
	Days   []training.Day `json:"days"`
	First  Share          `json:"firstAsks"` // first ask of a day; days that began with a tally have none
	All    Share          `json:"allAsks"`   // empty for a motion
	Breaks *Breaks        `json:"breaks"`    // motion
}

// Retention holds what became of each cue after a handoff, under the counting
// rule of its criteria. The visit of the handoff is, for each cue, the last day
// of the stay on which it was asked. Spans cover the days [from, to] of each
// recheck; what lies in none of them is left out. Sessions that were withdrawn,
// second scorings and vet holds count nowhere.
func Retention(r training.Record, criteria CriteriaFunc, arrived, home training.Day,
	spans [][2]training.Day, day training.Day) (handoff Visit, rechecks []Visit) {
	sc := newScene(r, day)
	sc.everything = true
	hist := sc.histories(criteria)
	handoff = Visit{From: arrived, To: home}
	for _, h := range hist {
		sits := span(h.sits, arrived, home)
		for len(sits) > 0 && !sits[len(sits)-1].scored() {
			sits = sits[:len(sits)-1]
		}
		if len(sits) > 0 {
			last := sits[len(sits)-1].day
			handoff.add(h, span(sits, last, last))
		}
	}
	handoff.finish()
	for _, s := range spans {
		v := Visit{From: s[0], To: s[1]}
		for _, h := range hist {
			v.add(h, span(h.sits, s[0], s[1]))
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

// span gives the sittings from first to last, both days included.
func span(sits []cueSitting, first, last training.Day) []cueSitting {
	return upTo(sits, last)[len(upTo(sits, min(first-1, last))):]
}

func (v *Visit) add(h *history, sits []cueSitting) {
	q := VisitCue{Cue: h.cue, Kind: h.kind, Agreed: h.sc.agreed(h.cue)}
	var first, all Tally
	var begun training.Day
	for i := range sits {
		s := &sits[i]
		if !s.scored() {
			continue
		}
		q.Days, v.Days = addDay(q.Days, s.day), addDay(v.Days, s.day)
		all.add(s.Tally)
		if s.day == begun || h.kind == training.Motion {
			continue
		}
		begun = s.day
		if yes, known := h.firstScored(s); known {
			first.add(Tally{Answered: one(yes), Asks: 1})
		}
	}
	if len(q.Days) == 0 {
		return
	}
	q.First = askByAsk(first)
	if h.kind == training.Motion {
		q.Breaks = breaksOf(all)
	} else {
		q.All = h.share(sits)
	}
	v.Cues = append(v.Cues, q)
}

func (v *Visit) finish() {
	var t Tally
	for _, q := range v.Cues {
		t.add(Tally{Answered: q.First.Answered, Asks: q.First.Asks})
	}
	v.First = askByAsk(t)
}

func addDay(list []training.Day, d training.Day) []training.Day {
	i, found := slices.BinarySearch(list, d)
	if found {
		return list
	}
	return slices.Insert(list, i, d)
}

// askByAsk is a share of asks that do not lean on each other: one a cue and day.
func askByAsk(t Tally) Share {
	s := Share{Answered: t.Answered, Asks: t.Asks}
	if t.Asks == 0 {
		return s
	}
	iv := must(stats.Wilson(float64(t.Answered), float64(t.Asks), 0.95))
	s.Rate, s.Effective = training.Known(t.rate()), training.Known(float64(t.Asks))
	s.Low, s.High = training.Known(iv.Lower), training.Known(iv.Upper)
	s.PlainLow, s.PlainHigh = s.Low, s.High
	return s
}
