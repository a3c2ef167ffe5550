package analysis

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"time"

	"firstcue/internal/training"
)

// sittingGap is the longest time between the starts of two sessions of one
// sitting. Common practice, no source: a lesson written down in two notes
// starts twice within a quarter of an hour.
const sittingGap = 15 * time.Minute

// sitting is what one handler did with the dog at one place in one go.
type sitting struct {
	day      training.Day
	start    time.Time
	handler  int // index into people.handlers
	place    int // index into people.places
	sessions []*training.Session
}

// scene is the dog's sittings up to the day, in order of time, with the names
// in the kennel's spelling.
type scene struct {
	rec      training.Record
	day      training.Day
	handlers []person
	places   []spot
	sittings []sitting
	// cueNames maps the key of a name in a note to the cue's own name.
	cueNames map[string]string
}

type person struct {
	name string
	role training.Role
}

type spot struct {
	name string
	off  bool
}

// newScene sorts the sessions that count and joins them into sittings. Sessions
// held before any teaching are no evidence of what was taught: see before. Order of
// entry does not matter: sessions sort by day, start, handler, place, part and
// text.
func newScene(r training.Record, day training.Day) *scene {
	sc := &scene{rec: r, day: day, cueNames: map[string]string{}}
	hs, ps := map[string]int{}, map[string]int{}
	last := map[[2]int]int{} // handler and place -> index of their last sitting
	for _, s := range sc.ordered() {
		if s.Baseline || sc.holdsWholeDog(s.Day()) {
			continue
		}
		h, p := sc.handler(hs, s.Handler), sc.place(ps, s.Place)
		d := s.Day()
		if i, ok := last[[2]int{h, p}]; ok {
			sit := &sc.sittings[i]
			if sit.day == d && s.Start.Sub(sit.sessions[len(sit.sessions)-1].Start) <= sittingGap {
				sit.sessions = append(sit.sessions, s)
				continue
			}
		}
		last[[2]int{h, p}] = len(sc.sittings)
		sc.sittings = append(sc.sittings, sitting{day: d, start: s.Start, handler: h, place: p, sessions: []*training.Session{s}})
	}
	return sc
}

// ordered lists the sessions that stand, up to the day, in order of time.
func (sc *scene) ordered() []*training.Session {
	var list []*training.Session
	for i := range sc.rec.Sessions {
		s := &sc.rec.Sessions[i]
		if s.Voided != "" || s.Rescores != "" || s.Day() > sc.day || !sc.mine(s) {
			continue
		}
		list = append(list, s)
	}
	slices.SortStableFunc(list, func(a, b *training.Session) int {
		return cmp.Or(cmp.Compare(a.Day(), b.Day()), a.Start.Compare(b.Start),
			strings.Compare(training.Key(a.Handler), training.Key(b.Handler)),
			strings.Compare(training.Key(a.Place), training.Key(b.Place)),
			cmp.Compare(a.Part, b.Part), strings.Compare(a.Note, b.Note), strings.Compare(a.ID, b.ID))
	})
	return list
}

// mine reports whether a session is of the dog that is judged: another dog's
// data never change this dog's figures.
func (sc *scene) mine(s *training.Session) bool {
	if sc.rec.Dog.Name == "" || training.Key(s.Dog) == training.Key(sc.rec.Dog.Name) {
		return true
	}
	for _, a := range sc.rec.Dog.Aliases {
		if training.Key(a) == training.Key(s.Dog) {
			return true
		}
	}
	return false
}

func (sc *scene) handler(seen map[string]int, name string) int {
	if i, ok := seen[name]; ok {
		return i
	}
	p := person{name: name, role: training.Trainer}
	if h, ok := sc.rec.Kennel.Handler(name); ok {
		p = person{h.Name, sc.rec.Dog.RoleOf(h)}
	}
	for _, o := range sc.rec.Dog.Owners {
		if training.Key(o) == training.Key(p.name) {
			p.role = training.Owner
		}
	}
	i := slices.IndexFunc(sc.handlers, func(x person) bool { return training.Key(x.name) == training.Key(p.name) })
	if i < 0 {
		i = len(sc.handlers)
		sc.handlers = append(sc.handlers, p)
	}
	seen[name] = i
	return i
}

func (sc *scene) place(seen map[string]int, name string) int {
	if i, ok := seen[name]; ok {
		return i
	}
	p := spot{name: name}
	if q, ok := sc.rec.Kennel.Place(name); ok {
		p = spot{q.Name, q.OffProperty}
	}
	i := slices.IndexFunc(sc.places, func(x spot) bool { return training.Key(x.name) == training.Key(p.name) })
	if i < 0 {
		i = len(sc.places)
		sc.places = append(sc.places, p)
	}
	seen[name] = i
	return i
}

// cueName returns the kennel's spelling of a cue.
func (sc *scene) cueName(name string) string {
	if n, ok := sc.cueNames[name]; ok {
		return n
	}
	n := name
	if q, ok := sc.rec.Kennel.Cue(name); ok {
		n = q.Name
	} else {
		for _, known := range sc.cueNames {
			if training.Key(known) == training.Key(name) {
				n = known // all spellings of one key have one name
			}
		}
	}
	sc.cueNames[name] = n
	return n
}

// holdsWholeDog reports whether a hold of the whole dog covers the day.
func (sc *scene) holdsWholeDog(day training.Day) bool {
	for _, h := range sc.rec.Dog.Holds {
		if h.From <= sc.day && h.Covers(day, "") {
			return true
		}
	}
	return false
}

// heldOn reports whether the cue must not be asked on the day.
func (sc *scene) heldOn(day training.Day, cue string) bool {
	for _, h := range sc.rec.Dog.Holds {
		if h.From <= sc.day && h.Covers(day, cue) {
			return true
		}
	}
	return false
}

// baseline returns the first day that counts for a cue as seen on the day at:
// the day after the last hold of the whole dog or of the cue that was over by
// then, or the arrival where an earlier stay came before; 0 = all days count.
// It comes from the dates of the hold alone, so that what was logged inside
// the span, or not, changes nothing. An empty cue asks for the dog.
func (sc *scene) baseline(at training.Day, cue string) training.Day {
	var first training.Day
	for _, h := range sc.rec.Dog.Holds {
		if h.To == 0 || h.To >= at || !h.Covers(h.From, cue) {
			continue
		}
		first = max(first, h.To+1)
	}
	var arrived training.Day
	earlier := false
	for _, b := range sc.rec.Dog.Boardings {
		if b.Arrived > at {
			continue
		}
		earlier = earlier || arrived != 0
		arrived = max(arrived, b.Arrived)
	}
	if earlier {
		first = max(first, arrived)
	}
	return first
}

// entry is a trial with the session it belongs to.
type entry struct {
	t *training.Trial
	s *training.Session
}

// cueSitting is one cue's part of a sitting.
type cueSitting struct {
	day            training.Day
	handler, place int
	yes, of        int     // first asks answered, of scored trials
	short          int     // of yes: holds kept for less than the cue's target
	minutes        float64 // motion
	breaks         int
	// Trials whose corrections are known, how many had one, and how many
	// corrections there were. A tally says nothing of corrections.
	known, corrected, corrections int
	trials                        []entry
	s                             *training.Session // first session; nil when imagined
}

// history is everything that counts of one cue, oldest first.
type history struct {
	sc   *scene
	cue  string
	kind training.Kind
	c    Criteria
	rule Rule
	// decay is what a sitting's weight is multiplied by with each newer one.
	decay float64
	sits  []cueSitting
	// scratch is room for imagined sittings.
	scratch []cueSitting
	// yes, of and cells are room for the counts of contexts.
	yes, of []float64
	cells   []contextCell
	out     int // trials left out: in a hold
}

// histories splits the sittings by cue, in order of first use of the cue.
func (sc *scene) histories(criteria CriteriaFunc) []*history {
	byName := map[string]*history{}
	var order []*history
	for _, sit := range sc.sittings {
		for _, s := range sit.sessions {
			for i := range s.Trials {
				t := &s.Trials[i]
				name := sc.cueName(t.Cue)
				h := byName[name]
				if h == nil {
					h = &history{sc: sc, cue: name, kind: t.Kind}
					if q, ok := sc.rec.Kennel.Cue(name); ok && q.Kind != "" {
						h.kind = q.Kind
					}
					h.c = criteria(name)
					h.rule = h.c.rule()
					h.decay = math.Exp2(-1 / h.c.HalfLife)
					byName[name] = h
					order = append(order, h)
				}
				if sc.heldOn(sit.day, name) {
					h.out += t.Count()
					continue
				}
				h.add(sit, entry{t, s})
			}
		}
	}
	// Trials inside a hold of the whole dog never became sittings.
	for i := range sc.rec.Sessions {
		s := &sc.rec.Sessions[i]
		if s.Voided != "" || s.Rescores != "" || s.Baseline || s.Day() > sc.day || !sc.mine(s) || !sc.holdsWholeDog(s.Day()) {
			continue
		}
		for j := range s.Trials {
			if h := byName[sc.cueName(s.Trials[j].Cue)]; h != nil {
				h.out += s.Trials[j].Count()
			}
		}
	}
	// A cue that was only asked inside a hold was never asked.
	return slices.DeleteFunc(order, func(h *history) bool { return len(h.sits) == 0 })
}

// before is the first-cue share of the sessions held before any teaching, of
// this stay where there was an earlier one; nil = none.
func (h *history) before(a *Assessment) *Share {
	sc := h.sc
	if !slices.ContainsFunc(sc.rec.Sessions, func(s training.Session) bool { return s.Baseline }) {
		return nil
	}
	var first training.Day
	for _, b := range sc.rec.Dog.Boardings {
		if a.Stay && b.Arrived < a.Boarding.Arrived {
			first = a.Boarding.Arrived
		}
	}
	var x, n []float64
	for _, s := range sc.ordered() {
		if !s.Baseline || s.Day() < first || sc.heldOn(s.Day(), h.cue) {
			continue
		}
		yes, of := 0, 0
		for _, t := range s.Trials {
			if sc.cueName(t.Cue) == h.cue {
				y, o := h.asked(t)
				yes += y
				of += o
			}
		}
		x, n = append(x, float64(yes)), append(n, float64(of))
	}
	s := newShare(x, n, h.c.ICC)
	if s.Of == 0 {
		return nil
	}
	return &s
}

func (h *history) add(sit sitting, e entry) {
	n := len(h.sits)
	// A cue's trials of one sitting come in one run: histories walks sitting
	// by sitting.
	if n == 0 || h.sits[n-1].s != sit.sessions[0] {
		h.sits = append(h.sits, cueSitting{day: sit.day, handler: sit.handler, place: sit.place, s: sit.sessions[0]})
		n++
	}
	q := &h.sits[n-1]
	q.trials = append(q.trials, e)
	t := *e.t
	q.score(h, t)
	if knownCorrections(t) {
		q.known++
		q.corrected += one(len(t.Corrections) > 0)
		q.corrections += len(t.Corrections)
	}
}

// score adds what a trial counts for under the cue's rule. A trial of another
// kind than the cue is (the cue was once a response and is now a hold) stands in
// no denominator.
func (q *cueSitting) score(h *history, t training.Trial) {
	yes, of := h.asked(t)
	q.yes += yes
	q.of += of
	if yes > 0 && h.kind == training.Holding && h.c.hasTarget() && keptShort(t, h.c.Target.V) {
		q.short += yes
	}
	if h.kind == training.Motion {
		minutes, breaks := walkOf(t)
		q.minutes += minutes
		q.breaks += breaks
	}
}

// keptShort reports whether a hold was kept, but for less than the target. A
// tally, and a hold kept without any time, count on the scorer's word.
func keptShort(t training.Trial, target float64) bool {
	if t.Outcome != training.Held {
		return false
	}
	if t.Held.Known {
		return !atLeast(t.Held.V, target)
	}
	return t.Target.Known && !atLeast(t.Target.V, target)
}

// atTarget leaves out the holds that were kept for less than the cue's target:
// five seconds for somebody else are no minute for somebody else.
func (h *history) atTarget(sits []cueSitting) []cueSitting {
	if h.kind != training.Holding || !slices.ContainsFunc(sits, func(q cueSitting) bool { return q.short > 0 }) {
		return sits
	}
	out := slices.Clone(sits)
	for i := range out {
		out[i].yes -= out[i].short
		out[i].of -= out[i].short
		out[i].short = 0
	}
	return out
}

// shortHolds counts them over the sittings that pick accepts.
func shortHolds(sits []cueSitting, pick func(*cueSitting) bool) int {
	n := 0
	for i := range sits {
		if q := &sits[i]; q.short > 0 && pick(q) {
			n += q.short
		}
	}
	return n
}

// asked is FirstCueUnder for the cue: none for walks and other kinds of trial.
func (h *history) asked(t training.Trial) (yes, of int) {
	if h.kind == training.Motion || h.foreign(t) {
		return 0, 0
	}
	return FirstCueUnder(t, h.rule)
}

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

// scored reports whether the sitting holds anything that a level can be judged
// from.
func (q cueSitting) scored() bool { return q.of > 0 || q.minutes > 0 }

// span returns the sittings from first to last, both included.
func span(sits []cueSitting, first, last training.Day) []cueSitting {
	i, _ := slices.BinarySearchFunc(sits, first, func(q cueSitting, d training.Day) int { return cmp.Compare(q.day, d) })
	j, _ := slices.BinarySearchFunc(sits, last+1, func(q cueSitting, d training.Day) int { return cmp.Compare(q.day, d) })
	return sits[i:max(i, j)]
}

// mainTrainer returns the index of the handler whose trials do not count for
// the people gate, as known on the day: the one entered for the dog, or the
// trainer with most sittings, ties by name. Negative = nobody.
func (sc *scene) mainTrainer(first, last training.Day) (int, string) {
	if m := sc.rec.Dog.Main; m != "" {
		if h, ok := sc.rec.Kennel.Handler(m); ok {
			m = h.Name
		}
		i := slices.IndexFunc(sc.handlers, func(p person) bool { return training.Key(p.name) == training.Key(m) })
		return i, "entered for the dog"
	}
	count := make([]int, len(sc.handlers))
	for _, sit := range sc.sittings {
		if sit.day >= first && sit.day <= last {
			count[sit.handler]++
		}
	}
	best := -1
	for i, p := range sc.handlers {
		if count[i] == 0 || p.role != training.Trainer {
			continue
		}
		if best < 0 || count[i] > count[best] || count[i] == count[best] && p.name < sc.handlers[best].name {
			best = i
		}
	}
	return best, "the trainer with most sessions"
}
