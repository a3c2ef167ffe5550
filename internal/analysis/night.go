package analysis

import (
	"firstcue/internal/model"
	"firstcue/internal/training"
)

// night is what is known of a cue on the evening of a day with scored asks. It is
// all that a verdict of that evening needs of the model, so that no evening is
// filtered again.
type night struct {
	day   training.Day
	today Tally
	total Tally      // so far
	days  int        // with scored asks, so far
	sure  []float64  // by decision: the bar is passed
	fail  []float64  // by decision: the share agreed is
	seen  []evidence // by decision
	sits  int        // sittings so far

	good   bool // everything that the model decides is there tonight
	streak int  // such evenings in a row
	open   bool // it was there on enough of them, and is not lost
	weak   int  // evenings in a row under what keeps it
	lost   training.Day
	opened training.Day // first evening of the present run
	ever   bool         // it was open on some evening before
	level  training.Num // middle of the level that evening
}

// run makes the forward pass.
func (f *follow) run() {
	sits := f.h.sits
	for i := range sits {
		fresh := i == 0 || sits[i-1].day != sits[i].day
		f.observe(&sits[i], fresh)
		if i+1 < len(sits) && sits[i+1].day == sits[i].day {
			continue
		}
		f.evening(i)
	}
}

// evening writes down what is known after sitting i, the last of its day.
func (f *follow) evening(i int) {
	n := night{day: f.h.sits[i].day, sits: i + 1}
	for j := i; j >= 0 && f.h.sits[j].day == n.day; j-- {
		n.today.add(f.h.sits[j].Tally)
	}
	if !n.today.scored() {
		return
	}
	var before night
	if k := len(f.nights); k > 0 {
		before = f.nights[k-1]
	}
	n.days = before.days + 1
	n.total = before.total
	n.total.add(n.today)
	n.seen = append([]evidence(nil), f.seen...)
	for _, d := range f.decisions {
		n.sure, n.fail = append(n.sure, f.sure(d)), append(n.fail, f.agreed(d))
	}
	n.level = training.Known(f.watches[0].Filter.Median(model.Target{}))
	f.step(&n, before)
	f.nights = append(f.nights, n)
}

// step carries ready over from the evening before, or loses it.
func (f *follow) step(n *night, before night) {
	c := f.h.c
	n.streak, n.open, n.weak, n.lost, n.opened = before.streak, before.open, before.weak, before.lost,
		before.opened
	n.ever = before.ever || before.open
	n.good = f.h.covered(f, n) && f.all(n, func(i int) float64 { return f.decisions[i].needed })
	if f.counts(n.today) {
		n.streak++
		if !n.good {
			n.streak = 0
		}
	}
	if n.streak >= c.Nights && !n.open {
		n.open, n.opened, n.lost, n.weak = true, n.day, 0, 0
	}
	if !n.open {
		return
	}
	// A clean evening is never held against the dog.
	if f.all(n, func(i int) float64 { return f.decisions[i].keep }) {
		n.weak = 0
	} else if !n.today.clean() {
		n.weak++
	}
	if n.weak >= c.Nights || !f.all(n, func(i int) float64 { return f.decisions[i].lose }) {
		n.open, n.opened, n.streak, n.weak, n.lost = false, 0, 0, 0, n.day
	}
}

// counts reports whether an evening has enough asks (minutes, for walks) to count.
func (f *follow) counts(today Tally) bool {
	return today.Asks >= f.h.c.NightAsks || today.Minutes >= float64(f.h.c.NightAsks)
}

// all reports whether every probability that is needed reaches its least.
func (f *follow) all(n *night, least func(i int) float64) bool {
	if len(f.decisions) == 0 {
		return false
	}
	for i := range f.decisions {
		if f.needs(n, i) && n.sure[i] < least(i)-hair { // a least of 0 holds always
			return false
		}
	}
	return true
}

// needs reports whether ready hangs on a decision that evening. Of people and places
// those do with whom or where something was missed: the others are at least as good
// as the level, and a clean ask by somebody new is not held against the dog.
func (f *follow) needs(n *night, i int) bool {
	switch f.decisions[i].about {
	case onOwner:
		return false
	case onPerson, onPlace:
		return n.seen[i].missed()
	}
	return true
}

// standing is how a decision stands that evening.
func (f *follow) standing(n *night, i int) Standing {
	d := f.decisions[i]
	needed := f.needs(n, i) || d.about == onOwner
	switch {
	case n.open && d.about != onOwner:
		return Met
	case n.sure[i] >= d.needed-hair:
		return Met
	case d.failed > 0 && n.seen[i].enough(f.h) && n.fail[i] <= 1-d.failed+hair:
		return Failed
	case d.about == onPerson && n.seen[i].enough(f.h) && n.seen[i].under(d.bar) && f.h.sc.failsAcross(d.who, n.day):
		return Failed
	case !needed && f.h.tried(n.seen[i].Tally):
		return Met
	}
	return Short
}

// covered reports whether there are asks enough by people, places and conditions.
func (h *history) covered(f *follow, n *night) bool {
	return h.lackAsks(n) == nil && h.lackPeople(f, n) == nil && h.lackPlaces(f, n) == nil &&
		f.lackGoals(n) == nil
}

// on gives the evening that was known at the end of a day; nil = none.
func (f *follow) on(day training.Day) *night {
	for i := len(f.nights) - 1; i >= 0; i-- {
		if f.nights[i].day <= day {
			return &f.nights[i]
		}
	}
	return nil
}
