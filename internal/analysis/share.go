package analysis

import (
	"math"

	"firstcue/internal/stats"
	"firstcue/internal/training"
)

// newShare summarises yes of of by sitting with 95 % Wilson intervals, plain
// and on effective trials. The intra-session correlation is the dog's own,
// blended with the prior that counts as ten sittings, and never makes trials
// worth more than one each.
func newShare(yes, of []float64, prior float64) Share {
	var s Share
	var x, n, sq float64
	for i := range of {
		if of[i] <= 0 {
			continue
		}
		s.Sessions++
		x += yes[i]
		n += of[i]
		sq += of[i] * of[i]
	}
	s.Yes, s.Of = int(x), int(n)
	if n == 0 {
		return s
	}
	s.Rate = training.Known(x / n)
	iv := must(stats.Wilson(x, n, 0.95))
	s.PlainLow, s.PlainHigh = training.Known(iv.Lower), training.Known(iv.Upper)
	icc, _, err := stats.ShrunkICC(yes, of, prior, stats.DefaultICCSessions)
	if err != nil {
		icc = prior
	}
	if s.Sessions == 1 {
		icc = prior
		s.ICCNote = "one session: spread between sessions unknown"
	}
	deff := math.Max(1, 1+(sq/n-1)*icc)
	iv = must(stats.Wilson(math.Min(x/deff, n/deff), n/deff, 0.95))
	s.Low, s.High = training.Known(iv.Lower), training.Known(iv.Upper)
	s.Effective, s.ICC = training.Known(n/deff), training.Known(icc)
	return s
}

// must unwraps a figure of counts that this package built itself; an error
// there is a mistake of the program.
func must[T any](v T, err error) T {
	if err != nil {
		panic("analysis: " + err.Error())
	}
	return v
}

// share summarises sittings, each with its yes and of.
func (h *history) share(sits []cueSitting) Share {
	x, n := make([]float64, len(sits)), make([]float64, len(sits))
	for i, q := range sits {
		x[i], n[i] = float64(q.yes), float64(q.of)
	}
	return newShare(x, n, h.c.ICC)
}

// window is yes of of over some sittings with equal weights and the fixed
// intra-session correlation: what the people, place and context gates judge.
type window struct {
	yes, of, sittings int
	n                 float64 // effective trials: T^2 / sum m (1 + ICC (m-1))
	v                 float64
	// The highest rate and upper 95 % end of this window and of those before
	// its newest clean sittings (lastWindow only).
	bestRate, bestUpper float64
	bestOf              int // the most trials of those windows
	icc                 float64
}

// atBest is bestUpper; of fewer than least trials, what it would be if the next
// ones, up to that many, were all right. So few trials fail only when more of
// them could not save it, and a clean ask never turns "too few" into "failed".
func (w window) atBest(least int) float64 {
	more := least - w.of
	if more <= 0 || w.of == 0 {
		return w.bestUpper
	}
	w.add(cueSitting{of: more, yes: more}, w.icc)
	return math.Max(w.bestUpper, w.interval(0.95).Upper)
}

func (w *window) add(q cueSitting, icc float64) {
	if q.of == 0 {
		return
	}
	w.yes += q.yes
	w.of += q.of
	w.sittings++
	m := float64(q.of)
	w.v += m * (1 + icc*(m-1))
	w.n = float64(w.of) * float64(w.of) / w.v
}

func (w window) rate() float64 { return float64(w.yes) / float64(w.of) }

func (w window) interval(level float64) stats.Interval {
	if w.of == 0 {
		return stats.Interval{Lower: 0, Upper: 1}
	}
	return must(stats.Wilson(w.n*w.rate(), w.n, level))
}

// lastWindow takes the newest k scored sittings that pick accepts. Cautious is
// the lower end of the two-sided 90 % interval; a clean ask at the end is never
// held against the dog (see fade.cautious).
func lastWindow(sits []cueSitting, k int, icc float64, pick func(*cueSitting) bool) (w window, cautious float64) {
	type ask struct{ yes, of int }
	var buf [64]ask
	list := buf[:0] // newest first
	for i := len(sits) - 1; i >= 0; i-- {
		if q := &sits[i]; q.of > 0 && pick(q) {
			list = append(list, ask{q.yes, q.of})
		}
	}
	inflated := func(m float64) float64 { return m * (1 + icc*(m-1)) }
	var cur window
	for i := 0; i < len(list) && i < k; i++ {
		cur.add(cueSitting{yes: list[i].yes, of: list[i].of}, icc)
	}
	w = cur
	var bestRate, bestUpper float64
	bestOf := 0
	// The window as it stood before the newest clean sittings, one by one.
	for skip := range list {
		if skip > 0 {
			gone := list[skip-1]
			cur.yes -= gone.yes
			cur.of -= gone.of
			cur.v -= inflated(float64(gone.of))
			cur.sittings--
			if next := skip + k - 1; next < len(list) {
				cur.add(cueSitting{yes: list[next].yes, of: list[next].of}, icc)
			}
			cur.n = float64(cur.of) * float64(cur.of) / cur.v
		}
		q := list[skip]
		bestOf = max(bestOf, cur.of)
		bestRate = math.Max(bestRate, cur.rate())
		if d := bestUpper - cur.rate(); skip == 0 || d < 0 || d*d*cur.n < z95*z95*bestUpper*(1-bestUpper) {
			bestUpper = math.Max(bestUpper, cur.interval(0.95).Upper)
		}
		// Every window: leaving clean asks out can lift a smaller one above the
		// newest.
		m := float64(q.of)
		rest := cur.v - inflated(m)
		for r := 0; r <= q.yes && r < q.of; r++ {
			t := float64(cur.of - r)
			n := t * t / (rest + inflated(m-float64(r)))
			p := float64(cur.yes-r) / t
			if d := p - cautious; d > 0 && d*d*n > z90*z90*cautious*(1-cautious) { // above it, see clears
				cautious = math.Max(cautious, must(stats.Wilson(n*p, n, 0.90)).Lower)
			}
			if r == 0 && growing(float64(cur.of)-m, rest, m, icc) {
				break
			}
		}
		if q.yes < q.of {
			break
		}
	}
	w.bestRate, w.bestUpper, w.bestOf, w.icc = bestRate, bestUpper, bestOf, icc
	return w, cautious
}

// fade is the fading first-ask figure after some sittings: each sitting weighs
// half of one that is HalfLife sittings newer. W, X and V are the sums of
// w m, w x and w^2 m (1 + ICC (m-1)); the rate is X/W and the effective number
// of trials W^2/V.
type fade struct {
	w, x, v float64
	// The sums before the newest sitting, already faded, its trials and
	// successes, and the cautious figure before it.
	w0, x0, v0     float64
	m, yes         int
	beforeCautious float64
	any            bool
}

// add counts one more sitting of m > 0 trials.
// d is what a sitting's weight is multiplied by with each newer one.
func (f *fade) add(m, yes int, d, icc float64, keepCautious bool) {
	before := 0.0
	if keepCautious && f.any && m == yes {
		before = f.cautious(icc)
	}
	f.w0, f.x0, f.v0 = f.w*d, f.x*d, f.v*d*d
	f.m, f.yes, f.beforeCautious, f.any = m, yes, before, true
	fm := float64(m)
	f.w, f.x, f.v = f.w0+fm, f.x0+float64(yes), f.v0+fm*(1+icc*(fm-1))
}

func (f fade) rate() float64      { return f.x / f.w }
func (f fade) effective() float64 { return f.w * f.w / f.v }

func (f fade) interval(level float64) stats.Interval {
	if !f.any {
		return stats.Interval{Lower: 0, Upper: 1}
	}
	n := f.effective()
	return must(stats.Wilson(n*math.Min(1, f.rate()), n, level))
}

// bound is the lower end of the two-sided 90 % interval.
func (f fade) bound() float64 { return f.interval(0.90).Lower }

// z90 and z95 are the normal quantiles of two-sided 90 % and 95 % intervals.
var z90, z95 = stats.Z(0.90), stats.Z(0.95)

// clears reports whether bound reaches the floor, without computing it: Wilson's
// lower end is the smaller root t of (p-t)^2 = z^2 t(1-t)/n.
func (f fade) clears(floor float64) bool {
	d := f.rate() - floor + hair
	return d >= 0 && d*d*f.effective() >= z90*z90*floor*(1-floor)
}

// cautious is bound, or what it would be without some of the newest clean asks
// if that is higher: an unusually long clean lesson may weigh so much that it
// lowers the effective number of trials, and a clean ask must never count
// against the dog. Leaving clean asks out can only understate it.
func (f fade) cautious(icc float64) float64 {
	if !f.any {
		return 0
	}
	best := f.bound()
	steady := growing(f.w0, f.v0, float64(f.m), icc)
	for r := 1; !steady && r <= f.yes && r < f.m; r++ {
		g := f
		m := float64(f.m - r)
		g.w, g.x, g.v = f.w0+m, f.x0+float64(f.yes-r), f.v0+m*(1+icc*(m-1))
		best = math.Max(best, g.bound())
	}
	if f.yes == f.m {
		best = math.Max(best, f.beforeCautious)
	}
	return best
}

// growing reports that the effective number of trials grows with every ask of
// the newest sitting up to its m-th, so that leaving out clean ones cannot
// raise a bound. With s and v the sums of the other sittings, the sign of the
// derivative of (s+m)^2/(v+m(1+icc(m-1))) is that of a line in m.
func growing(s, v, m, icc float64) bool {
	at0 := 2*v - s*(1-icc)
	return at0 >= 0 && at0+m*(1-icc-2*icc*s) >= 0
}

// night is the level of a cue at the end of a day with new scored trials.
type night struct {
	day      training.Day
	end      int // sittings up to and with this night
	fade     fade
	cautious float64
	// Motion: breaks and minutes of the last sittings, and their interval.
	breaks  int
	minutes float64
	rate    stats.Rate
	lately  walks // the newest sittings alone: what a kept level is lost on
	holds   bool  // the level, and enough of it, tonight
	streak  int   // nights in a row, this one included
	open    bool  // the level gate is open
	lost    training.Day
}

// replay walks the nights of one baseline. The level gate opens on the Nights-th
// night in a row on which the rate, the cautious figure and "enough" hold, and
// stays open until the rate falls below Leave. For a motion the upper end of the
// last eight sittings opens it, their rate or that of the last three closes it.
// Nights are days with new scored
// trials: a day off proves nothing either way, but more than twice StaleDays
// without any end the row.
func (h *history) replay(sits []cueSitting) []night {
	var out []night
	var s levelState
	for i, q := range sits {
		if q.scored() {
			s.add(h, q, true)
		}
		if i+1 < len(sits) && sits[i+1].day == q.day || !s.fresh {
			continue
		}
		if h.kind == training.Motion {
			s.window(h, sits[:i+1])
		}
		s.night(h, q.day, true)
		n := s.now
		n.day, n.end = q.day, i+1
		out = append(out, n)
	}
	return out
}

// levelState is what the level gate remembers from sitting to sitting.
type levelState struct {
	now                    night
	trials, sittings, days int
	minutes                float64
	lastDay                training.Day
	fresh                  bool // scored trials since the last night
	tonight                int  // scored asks since the last night
	lastNight              training.Day
}

// nightAsks is how many scored asks a good night must hold to count as one of
// the nights in a row: the smallest session the rule was measured with. One lone
// ask on the second night would carry the first night's luck over.
const nightAsks = 3

func (s *levelState) add(h *history, q cueSitting, keepCautious bool) {
	s.sitting(h, q.day, q.of, q.yes, q.minutes, keepCautious)
}

func (s *levelState) sitting(h *history, day training.Day, of, yes int, minutes float64, keepCautious bool) {
	s.fresh = true
	s.sittings++
	s.trials += of
	s.tonight += of
	s.minutes += minutes
	if day != s.lastDay {
		s.lastDay = day
		s.days++
	}
	if of > 0 {
		s.now.fade.add(of, yes, h.decay, h.c.ICC, keepCautious)
	}
}

// motionWindow is how many sittings the breaks a minute are judged on.
const motionWindow = 8

// window takes the breaks a minute of the last sittings, with equal weights.
func (s *levelState) window(h *history, sits []cueSitting) {
	s.now.breaks, s.now.minutes = 0, 0
	for i, k := len(sits)-1, 0; i >= 0 && k < motionWindow; i-- {
		if sits[i].minutes > 0 {
			s.now.breaks += sits[i].breaks
			s.now.minutes += sits[i].minutes
			k++
		}
	}
	s.now.rate = must(stats.Garwood(float64(s.now.breaks), s.now.minutes, 0.95))
	s.now.lately = walkedLately(sits, anyone)
}

// Walks long past must not keep a level open that is gone: it is lost on the
// newest latelyWindow sittings alone where they have latelyMinutes in all.
const (
	latelyWindow  = 3
	latelyMinutes = 3
)

// walks is breaks and minutes of some sittings.
type walks struct {
	breaks  int
	minutes float64
}

// above reports that there are enough minutes and more breaks in one than the
// bar.
func (w walks) above(bar float64) bool {
	return atLeast(w.minutes, latelyMinutes) && !atMost(float64(w.breaks)/w.minutes, bar)
}

func anyone(*cueSitting) bool { return true }

// walkedLately sums the newest latelyWindow sittings that pick accepts, or those
// before the newest clean ones where that is less a minute: a walk without a
// break must never count against the dog by pushing another one out.
func walkedLately(sits []cueSitting, pick func(*cueSitting) bool) walks {
	var best walks
	any := false
	for i := len(sits) - 1; i >= 0; i-- {
		if !(sits[i].minutes > 0 && pick(&sits[i])) {
			continue
		}
		var w walks
		w.breaks, w.minutes, _ = walked(sits[:i+1], latelyWindow, pick)
		if !any || float64(w.breaks)*best.minutes < float64(best.breaks)*w.minutes {
			best, any = w, true
		}
		if sits[i].breaks > 0 {
			break
		}
	}
	return best
}

// night closes a day with new scored trials.
// With exact false the cautious figure is left out and the level held against
// the plain bound, which is never above it.
func (s *levelState) night(h *history, day training.Day, exact bool) {
	s.fresh = false
	n := &s.now
	below := false
	if h.kind == training.Motion {
		below = !h.c.Breaks.Known || !atMost(n.rate.Rate, h.c.Breaks.V) || n.lately.above(h.c.Breaks.V)
		n.holds = !below && atMost(n.rate.Upper, h.c.Breaks.V)
	} else {
		n.holds = atLeast(n.fade.rate(), h.c.Rate)
		if exact {
			n.cautious = n.fade.cautious(h.c.ICC)
			n.holds = n.holds && atLeast(n.cautious, h.c.Floor)
		} else {
			n.holds = n.holds && n.fade.clears(h.c.Floor)
		}
		below = !atLeast(n.fade.rate(), h.c.Leave)
	}
	n.holds = n.holds && s.enough(&h.c, h.kind)
	if s.lastNight != 0 && int(day-s.lastNight) > 2*h.c.StaleDays {
		n.streak = 0 // nights so far apart are not in a row
	}
	s.lastNight = day
	switch thin := h.kind != training.Motion && s.tonight < nightAsks; {
	case !n.holds:
		n.streak = 0
	case !thin || n.open:
		n.streak++
	}
	s.tonight = 0
	switch {
	case !n.open && n.streak >= h.c.Nights:
		n.open, n.lost = true, 0
	case n.open && below:
		n.open, n.lost = false, day
	}
}

func (s *levelState) enough(c *Criteria, k training.Kind) bool {
	if k == training.Motion {
		return atLeast(s.minutes, c.Minutes) && s.sittings >= c.Sessions && s.days >= c.Days
	}
	return s.trials >= c.Trials && s.sittings >= c.Sessions && s.days >= c.Days
}
