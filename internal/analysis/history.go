package analysis

import (
	"cmp"
	"slices"
	"strings"

	"firstcue/internal/training"
)

// entry is a trial with the session it belongs to.
type entry struct {
	t *training.Trial
	s *training.Session
}

// cueSitting is one cue's part of a sitting.
type cueSitting struct {
	sit            int // index into scene.sittings
	day            training.Day
	handler, place int
	Tally
	miss    Tally // the same up to the last trial that was missed; all 0 = none was
	shorter Tally // holds asked for less than the target, kept or not
	// Trials whose corrections are known, how many had one, and how many
	// corrections there were. A tally says nothing of corrections.
	known, corrected, corrections int
	trials                        []entry
}

// history is everything that counts of one cue, oldest first.
type history struct {
	sc    *scene
	cue   string
	kind  training.Kind
	c     Criteria
	rule  Rule
	sits  []cueSitting // of the present baseline
	out   int          // trials left out: in a hold, or before the baseline
	asked bool         // in this stay, outside a hold
}

// histories sorts the trials by cue. A cue that was only asked inside a hold, or in an
// earlier stay, was never asked and has none.
func (sc *scene) histories(criteria CriteriaFunc) []*history {
	var order []*history
	byName := map[string]*history{}
	for n, sit := range sc.sittings {
		for _, s := range sit.sessions {
			for i := range s.Trials {
				t := &s.Trials[i]
				name := sc.cueName(t.Cue)
				h := byName[name]
				if h == nil {
					h = sc.newHistory(name, t.Kind, criteria(name))
					byName[name] = h
					order = append(order, h)
				}
				h.asked = h.asked || !sc.heldOn(sit.day, name) && sit.day >= sc.arrived
				if sc.heldOn(sit.day, name) || !sc.everything && sit.day < sc.baseline(sc.day, name) {
					h.out += t.Count()
					continue
				}
				h.add(n, entry{t, s})
			}
		}
	}
	// Trials inside a hold of the whole dog never became sittings.
	for _, s := range sc.ordered() {
		if s.Baseline || !sc.holdsWholeDog(s.Day()) {
			continue
		}
		for j := range s.Trials {
			if h := byName[sc.cueName(s.Trials[j].Cue)]; h != nil {
				h.out += s.Trials[j].Count()
			}
		}
	}
	order = slices.DeleteFunc(order, func(h *history) bool { return !h.asked && len(h.sits) == 0 })
	sortCues(order, sc.rec.Kennel)
	return order
}

func (sc *scene) newHistory(name string, kind training.Kind, c Criteria) *history {
	h := &history{sc: sc, cue: name, kind: kind, c: c}
	if q, ok := sc.rec.Kennel.Cue(name); ok && q.Kind != "" {
		h.kind = q.Kind
	}
	for _, g := range sc.goalsOf(name) {
		if g.Hold.Known && plainGoal(g) {
			h.c.Target = g.Hold // the agreed time is the one to be kept
		}
	}
	h.rule = Rule{Limit: c.Limit, Arrive: c.Arrive}
	return h
}

// sortCues puts the cues in the order of the kennel's list, others by name.
func sortCues(hist []*history, k training.Kennel) {
	rank := func(h *history) int {
		for i, c := range k.Cues {
			if training.Key(c.Name) == training.Key(h.cue) {
				return i
			}
		}
		return len(k.Cues)
	}
	slices.SortStableFunc(hist, func(a, b *history) int {
		return cmp.Or(cmp.Compare(rank(a), rank(b)), strings.Compare(training.Key(a.cue),
			training.Key(b.cue)))
	})
}

// add takes the cue's trials in the order of sittings.
func (h *history) add(sit int, e entry) {
	n := len(h.sits)
	if n == 0 || h.sits[n-1].sit != sit {
		s := h.sc.sittings[sit]
		h.sits = append(h.sits, cueSitting{sit: sit, day: s.day, handler: s.handler, place: s.place})
		n++
	}
	q := &h.sits[n-1]
	q.trials = append(q.trials, e)
	q.score(h, *e.t)
	if knownCorrections(*e.t) {
		q.known++
		q.corrected += one(len(e.t.Corrections) > 0)
		q.corrections += len(e.t.Corrections)
	}
}

// score adds what a trial counts for under the cue's rule. A trial of another kind
// than the cue is (the cue was once a response and is now a hold) counts nowhere.
func (q *cueSitting) score(h *history, t training.Trial) {
	q.Sessions = 1
	one := h.tally(t)
	q.Tally.add(one)
	if !one.clean() {
		q.miss = q.Tally
	}
	if h.shorter(t) {
		yes, of := FirstCueUnder(t, h.rule)
		q.shorter.add(Tally{Answered: yes, Asks: of})
	}
}

// tally is what one trial counts for.
func (h *history) tally(t training.Trial) Tally {
	if h.kind == training.Motion {
		minutes, breaks := walkOf(t)
		return Tally{Breaks: breaks, Minutes: minutes}
	}
	if h.foreign(t) || h.shorter(t) {
		return Tally{}
	}
	yes, of := FirstCueUnder(t, h.rule)
	return Tally{Answered: yes, Asks: of}
}

// shorter reports whether a hold was asked for less than the cue's target: kept or
// broken, it says nothing of the target. A tally, and a hold without any time,
// count on the scorer's word.
func (h *history) shorter(t training.Trial) bool {
	return h.kind == training.Holding && !h.foreign(t) && h.c.Target.Known && h.c.Target.V > 0 &&
		askedShorter(t, h.c.Target.V)
}

func askedShorter(t training.Trial, target float64) bool {
	switch t.Outcome {
	case training.Held:
		if t.Held.Known {
			return t.Held.V < target-hair
		}
	case training.Broke:
	default:
		return false
	}
	return t.Target.Known && t.Target.V < target-hair
}

// hair is how far a time or a share may miss its bar by rounding of the arithmetic.
const hair = 1e-9

func (h *history) foreign(t training.Trial) bool { return t.Kind != h.kind && t.Kind != "" }

// walkOf gives the minutes walked and the breaks of a walk, 0 for anything else
// (a walk of a day is none).
func walkOf(t training.Trial) (minutes float64, breaks int) {
	if t.Outcome != training.Walked || !t.Walked.Known || !(t.Walked.V > 0 && t.Walked.V < 86400) {
		return 0, 0
	}
	return t.Walked.V / 60, max(0, t.Breaks)
}

// knownCorrections reports whether a trial belongs in the denominator of
// corrections. A tally says nothing of them; what was not a trial counts only
// if there was a correction in it.
func knownCorrections(t training.Trial) bool {
	switch t.Outcome {
	case training.Counted:
		return false
	case training.Unscored, training.Early, training.Already:
		return len(t.Corrections) > 0
	}
	return true
}

// add adds counts; sessions too.
func (t *Tally) add(o Tally) {
	t.Answered += o.Answered
	t.Asks += o.Asks
	t.Sessions += o.Sessions
	t.Breaks += o.Breaks
	t.Minutes += o.Minutes
}

// scored reports whether there is anything that a level can be judged from.
func (t Tally) scored() bool { return t.Asks > 0 || t.Minutes > 0 }

// clean reports that nothing was missed or broken.
func (t Tally) clean() bool { return t.Answered == t.Asks && t.Breaks == 0 }

// ifMissed is the counts, or none where nothing was missed.
func (t Tally) ifMissed() Tally {
	if t.clean() {
		return Tally{}
	}
	return t
}

// rate is the plain share, or breaks a minute; only where scored.
func (t Tally) rate() float64 {
	if t.Asks > 0 {
		return float64(t.Answered) / float64(t.Asks)
	}
	return float64(t.Breaks) / t.Minutes
}

// sum adds up the scored sittings that pick accepts.
func (h *history) sum(pick func(*cueSitting) bool) Tally {
	var t Tally
	for i := range h.sits {
		if q := &h.sits[i]; q.scored() && pick(q) {
			t.add(q.Tally)
		}
	}
	return t
}

// person and place name a sitting's.
func (h *history) person(q *cueSitting) person { return h.sc.handlers[q.handler] }
func (h *history) place(q *cueSitting) spot    { return h.sc.places[q.place] }

// upTo gives the sittings up to the end of a day.
func upTo(sits []cueSitting, day training.Day) []cueSitting {
	n, _ := slices.BinarySearchFunc(sits, day+1, func(q cueSitting,
		d training.Day) int {
		return cmp.Compare(q.day, d)
	})
	return sits[:n]
}
