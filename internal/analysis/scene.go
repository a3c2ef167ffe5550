package analysis

import (
	"cmp"
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
	fails    []failing // whom the dog fails for in all its cues together, by day
	// cueNames maps the key of a name in a note to the cue's own name.
	cueNames map[string]string
	// main is the index of the main trainer among the handlers, -1 = nobody; entered
	// for the dog, or else found by most sittings.
	main        int
	mainEntered bool
	arrived     training.Day // of this stay where there was an earlier one; 0 = all days are of it
	everything  bool         // histories do not begin anew at the baseline
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
		sc.sittings = append(sc.sittings, sitting{day: d, start: s.Start, handler: h, place: p,
			sessions: []*training.Session{s}})
	}
	sc.arrived = sc.arrival(day)
	sc.findMain()
	return sc
}

// findMain finds the main trainer: the one entered for the dog, or the trainer with
// most sittings since the baseline, ties by name.
func (sc *scene) findMain() {
	sc.main, sc.mainEntered = -1, sc.rec.Dog.Main != ""
	if sc.mainEntered {
		name := sc.personName(sc.rec.Dog.Main)
		sc.main = slices.IndexFunc(sc.handlers,
			func(p person) bool { return training.Key(p.name) == training.Key(name) })
		return
	}
	count := make([]int, len(sc.handlers))
	for _, sit := range sc.sittings {
		count[sit.handler] += one(sit.day >= sc.baseline(sc.day, ""))
	}
	for i, p := range sc.handlers {
		if count[i] == 0 || p.role != training.Trainer {
			continue
		}
		if b := sc.main; b < 0 || count[i] > count[b] || count[i] == count[b] &&
			p.name < sc.handlers[b].name {
			sc.main = i
		}
	}
}

// mainName is the main trainer by name, "" = nobody yet.
func (sc *scene) mainName() string {
	switch {
	case sc.mainEntered:
		return sc.personName(sc.rec.Dog.Main)
	case sc.main >= 0:
		return sc.handlers[sc.main].name
	}
	return ""
}

// goalIndex is where the n-th goal of a cue stands among the dog's goals.
func (sc *scene) goalIndex(cue string, n int) int {
	for i, g := range sc.rec.Dog.Goals {
		if training.Key(sc.cueName(g.Cue)) != training.Key(cue) {
			continue
		}
		if n == 0 {
			return i
		}
		n--
	}
	return -1
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
	i := slices.IndexFunc(sc.handlers,
		func(x person) bool { return training.Key(x.name) == training.Key(p.name) })
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
	i := slices.IndexFunc(sc.places,
		func(x spot) bool { return training.Key(x.name) == training.Key(p.name) })
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
	return max(first, sc.arrival(at))
}

// arrival is the day on which the stay of a day began, where there was an earlier
// stay; else 0.
func (sc *scene) arrival(at training.Day) training.Day {
	var arrived training.Day
	earlier := false
	for _, b := range sc.rec.Dog.Boardings {
		if b.Arrived > at {
			continue
		}
		earlier = earlier || arrived != 0
		arrived = max(arrived, b.Arrived)
	}
	if !earlier {
		return 0
	}
	return arrived
}
