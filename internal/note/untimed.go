package note

import (
	"firstcue/internal/training"
)

// Bounds of what a mark may say, in seconds.
const (
	maxLatency  = 60
	slowLatency = 15 // above this a latency is likely a slip of the pen
	maxComplete = 600
	maxHold     = 24 * 3600
	maxWalk     = 6 * 3600
)

// where is a line with the cue that its marks belong to.
type where struct {
	p       *parser
	l       line
	cue     training.Cue
	from    int // of the cue
	to      int
	bad     bool // something on the line is reported already
	items   []item
	i       int // of the item being read
	trialAt int // first item of the trial being read
}

func (w *where) problem(it item, c code, with ...string) {
	w.bad = true
	w.p.problem(w.l, it.from, it.to, c, append(with, "cue", w.cue.Name, "w", it.text)...)
}

// latency holds a time to its bound.
func (w *where) latency(it item, v training.Num, most float64) bool {
	if v.Known && v.V > most {
		w.problem(it, "latency-long", "n", number(v.V), "most", number(most))
		return false
	}
	return true
}

// untimed gives the items of a line without a clock their meaning: trials of one
// cue, one after the other.
type untimed struct {
	where
	// What the trials that follow on this line begin with.
	signal   training.Signal
	distance training.Num
	target   training.Num
	cur      *trial
	made     int

	// Since the last comma:
	group   []*trial
	makers  int  // items that made trials
	linked  bool // again, a correction or help stands behind the last miss
	ahead   map[form]bool
	signs   bool
	words   bool
	clashed bool
}

// read gives every item its meaning.
func (u *untimed) read() {
	u.ahead = map[form]bool{}
	for u.i = range u.items {
		it := u.items[u.i]
		switch it.form {
		case fNext:
			u.next()
		case fSignal, fDistance:
			u.setting(it)
		case fLength:
			u.length(it)
		case fTally:
			u.tally(it)
		case fApart:
			u.apart(it)
		case fCorrect, fHelp:
			u.aid(it)
		case fAgain:
			u.again(it)
		case fReleased:
			u.released(it)
		case fStart:
			u.problem(it, "start-clock")
		default:
			u.answer(it)
		}
		if u.p.made > maxTrials {
			return
		}
	}
	u.end()
}

// next ends a group, and with it the trial. A walk goes on when its breaks are
// told one by one, with where the dog went.
func (u *untimed) next() {
	if u.cur != nil && u.cue.Kind == training.Motion && u.i > 0 && u.i+1 < len(u.items) {
		before, after := u.items[u.i-1], u.items[u.i+1]
		if after.form == fNo && (after.name != "" || before.name != "") {
			return
		}
	}
	u.end()
	u.group, u.makers, u.linked, u.signs, u.words = nil, 0, false, false, false
	u.ahead = map[form]bool{}
}

func (u *untimed) end() {
	if u.cur != nil {
		u.p.close(u.cur, u.bad)
		u.cur = nil
	}
}

// trial is the trial that the item belongs to, opened if need be.
func (u *untimed) trial(it item) *trial {
	if u.cur != nil {
		return u.cur
	}
	u.made++
	t := u.p.newTrial(u.cue, u.l, u.from, max(u.to, u.from+1))
	if u.made > 1 {
		t.late, t.from, t.to = true, it.from, it.to
	}
	t.signal, t.distance = u.signal, u.distance
	if u.cue.Kind == training.Holding {
		t.target = u.target
	}
	u.cur = t
	u.group = append(u.group, t)
	return t
}

// more reports another trial in the group behind the item at hand.
func (u *untimed) more() bool {
	for _, it := range u.items[u.i+1:] {
		if it.form == fNext {
			return false
		}
		if it.trial() {
			return true
		}
	}
	return false
}

// setting reads a signal or a distance: before a trial for those that follow,
// behind one, at the end of its group, for that one.
func (u *untimed) setting(it item) {
	switch {
	case u.cur != nil && !u.cur.bare() && it.form == fSignal:
		u.signal = training.Signal(it.name)
		u.cur.events = append(u.cur.events, event{what: evSignal, s: it.name})
		return
	case u.cur != nil:
		if it.form == fDistance && u.cur.distance.Known && u.ahead[it.form] {
			u.problem(it, "twice")
			return
		}
		u.give(u.cur, it)
		if it.form == fSignal {
			u.signal = training.Signal(it.name)
		} else if u.cur.bare() {
			u.distance = it.at
		}
		u.ahead[it.form] = true
		return
	case len(u.group) == 0 || u.more() && u.ahead[it.form]:
		if u.ahead[it.form] && len(u.group) == 0 {
			u.problem(it, "twice")
		}
		u.ahead[it.form] = true
		if it.form == fSignal {
			u.signal = training.Signal(it.name)
		} else {
			u.distance = it.at
		}
		return
	case u.more() || u.makers > 1:
		u.problem(it, "between")
		return
	case u.ahead[it.form]:
		u.problem(it, "twice")
		return
	}
	u.ahead[it.form] = true
	for _, t := range u.group {
		u.give(t, it)
		t.finish(u.p)
	}
}

func (u *untimed) give(t *trial, it item) {
	if it.form == fSignal {
		t.signal = training.Signal(it.name)
		return
	}
	t.distance = it.at
}

// length reads a time that stands by itself.
func (u *untimed) length(it item) {
	switch u.cue.Kind {
	case training.Holding:
		u.holdLength(it)
	case training.Motion:
		switch {
		case it.at.V <= 0 || it.at.V > maxWalk:
			u.problem(it, "walk-long")
		case u.cur != nil || len(u.group) > 0:
			u.problem(it, "walk-inside")
		default:
			u.trial(it).walked = it.at
			u.makers++
		}
	default:
		u.problem(it, "no-length")
	}
}

func (u *untimed) holdLength(it item) {
	last := len(u.group) - 1
	switch {
	case it.at.V <= 0 || it.at.V > maxHold:
		u.problem(it, "hold-long")
	case u.cur != nil && !u.cur.bare():
		u.problem(it, "hold-inside")
	case u.cur != nil:
		u.target, u.cur.target = it.at, it.at
		u.ahead[fLength] = true
	case last >= 0 && u.group[last].outcome == training.Counted && !u.more() && u.makers == 1 && !u.ahead[fLength]:
		u.group[last].target = it.at // 8/10 1:00
		u.group[last].finish(u.p)
		u.ahead[fLength] = true
	case last >= 0 && !(u.more() && u.ahead[fLength]):
		u.problem(it, "hold-behind")
	case last < 0 && u.ahead[fLength]:
		u.problem(it, "twice")
	default:
		u.target = it.at
		u.ahead[fLength] = true
	}
}

func (u *untimed) tally(it item) {
	switch {
	case u.cue.Kind == training.Motion:
		u.problem(it, "tally-walk")
	case u.cur != nil:
		u.problem(it, "tally-inside")
	default:
		t := u.trial(it)
		u.makers++
		t.outcome, t.tally = training.Counted, it.tally
		u.end()
	}
}

// apart reads early, already and unscored: trials of their own.
func (u *untimed) apart(it item) {
	if u.cur != nil && u.cue.Kind == training.Motion && u.cur.bare() {
		u.problem(it, "walk-inside")
		return
	}
	u.end()
	for range it.n {
		t := u.trial(it)
		t.outcome = training.Outcome(it.name)
		u.end()
	}
	u.makers++
}

// aid reads a correction or help. Behind a tally it belongs to one of the tally.
func (u *untimed) aid(it item) {
	u.checkFix(it)
	it.fix.Device = u.p.deviceFor(it.fix)
	t := u.cur
	if last := len(u.group) - 1; t == nil && last >= 0 && u.group[last].outcome == training.Counted {
		if t = u.group[last]; u.more() {
			u.problem(it, "between")
			return
		}
		defer t.finish(u.p)
	} else {
		t = u.trial(it)
	}
	u.linked = true
	for range it.n {
		if it.form == fHelp {
			t.events = append(t.events, event{what: evHelp, s: it.name})
		} else {
			t.events = append(t.events, event{what: evCorrect, c: it.fix})
		}
	}
}

// checkFix reports a correction that this dog cannot have had.
func (w *where) checkFix(it item) {
	before := len(w.p.res.Problems)
	switch it.fix.Kind {
	case training.ByCollar:
		w.p.complete(w.l, w.from, w.to)
		w.p.checkLevel(w.p.ctx, it.fix.Level.V, w.l, it.from, it.to)
	case training.ByTone, training.ByVibration:
		w.p.complete(w.l, w.from, w.to)
		w.p.checkCollar(w.p.ctx, w.l, it.from, it.to)
	}
	if len(w.p.res.Problems) > before {
		w.bad = true
	}
}

func (u *untimed) again(it item) {
	t := u.trial(it)
	u.linked = true
	switch {
	case u.cue.Kind == training.Motion, u.cue.Kind == training.Holding && !t.has(evNo):
		t.events = append(t.events, event{what: evAgain})
	case u.cue.Kind == training.Response && !t.failed():
		t.events = append(t.events, event{what: evNo})
	default:
		t.events = append(t.events, event{what: evAsked})
	}
}
