package analysis

import (
	"fmt"
	"hash/fnv"
	"math"
	"math/rand/v2"
	"slices"
	"strings"

	"firstcue/internal/stats"
	"firstcue/internal/training"
)

const (
	// draws is how many futures each half of the forecast plays through; their
	// own noise, at most .04 (one standard error), is far below what the words distinguish.
	draws = 150
	// farNights is from how many nights out on no forecast beat the kennel's
	// base rate in simulation.
	farNights = 10
	// baseDogs is how many finished dogs a base rate must rest on.
	baseDogs = 10
	// curveHalfLife is after how many sittings a sitting counts half in the
	// learning curve.
	curveHalfLife = 15
)

// WeakPrior is the prior of the forecast's learning curve after so many trials
// of practice (above 0): at the start a first ask answered in about one case of
// four, give or take a lot; one logit gained over the practice done so far, give
// or take a lot. It matters for the first sessions only.
func WeakPrior(practice float64) CurvePrior {
	return CurvePrior{Start: -1, StartSD: 2, Gain: 1 / practice, GainSD: 2 / practice}
}

// forecast gives the chance that the level gate is open on the night of the due
// day: the mean of "stays as now" and "keeps improving", each played forward
// with the dog's usual sessions and the noise between sessions, through the
// gate itself. nil = no due day ahead, or nothing to go by.
//
// The number speaks of the level alone: people and places are tried or not,
// which is for the trainer to decide and not a matter of chance. What waits for
// them has no chance, only what has to be done.
func (h *history) forecast(a *Assessment, sits []cueSitting, nights []night, c CueAssessment) *Forecast {
	f, ok := forecastFrame(a)
	if !ok || c.Verdict == OnHold || len(nights) == 0 {
		return nil
	}
	f.Trials = c.Trials
	f.Note = "the level alone"
	if h.far(f) {
		f.speak(c.waits, standsOf(a, &c), h.sc.sittingsADay())
		return f
	}
	last := nights[len(nights)-1]
	if f.Nights == 0 {
		open := float64(one(last.open))
		f.Stays, f.Improves = training.Known(open), training.Known(open)
	} else {
		src := rand.NewPCG(seed(a.Dog.Name, h.cue, a.AsOf))
		var s levelState
		for _, q := range sits {
			if q.scored() {
				s.add(h, q, false)
			}
		}
		s.now, s.fresh = last, false
		u := usualOf(sits)
		if h.kind == training.Motion {
			f.Stays = training.Known(h.playWalks(rand.New(src), s, sits, u, f.Nights))
			f.Improves = f.Stays
			f.Note += "; walks have no learning curve, so this is the dog as it is now"
		} else {
			f.Stays = training.Known(h.playStays(src, s, u, f.Nights))
			f.Improves = training.Known(h.playImproves(src, s, sits, u, f.Nights))
		}
	}
	f.Level = training.Known((f.Stays.V + f.Improves.V) / 2)
	f.speak(c.waits, standsOf(a, &c), h.sc.sittingsADay())
	return f
}

// forecastFrame reads by when; false when no due day lies ahead.
func forecastFrame(a *Assessment) (*Forecast, bool) {
	due := a.Boarding.Due
	if !a.Stay || due == 0 || due < a.AsOf || a.Boarding.Home != 0 && a.Boarding.Home <= a.AsOf {
		return nil, false
	}
	return &Forecast{By: due, Nights: int(due - a.AsOf)}, true
}

// far fills in a cue's forecast that lies too far ahead. The kennel's base rate
// is one of dogs and says nothing of a cue.
func (h *history) far(f *Forecast) bool { return farAhead(f, training.Record{}) }

// farAhead fills in a forecast that lies too far ahead to be more than the
// kennel's base rate.
func farAhead(f *Forecast, r training.Record) bool {
	if f.Nights < farNights {
		return false
	}
	f.Words = "too early to say"
	if r.BaseRate.Known && r.BaseDogs >= baseDogs {
		f.Base, f.BaseDogs, f.Chance = r.BaseRate, r.BaseDogs, r.BaseRate
		f.Words = fmt.Sprintf("too early to say; of %d finished dogs %s ready on the day", r.BaseDogs, inWords(r.BaseRate.V))
	}
	return true
}

// seed makes the forecast reproducible: the same dog, cue and day draw the same
// numbers.
func seed(dog, cue string, day training.Day) (uint64, uint64) {
	f := fnv.New64a()
	fmt.Fprintf(f, "%s\x00%s\x00%d", training.Key(dog), training.Key(cue), day)
	s := f.Sum64()
	return s, s ^ 0x9e3779b97f4a7c15
}

// betaBinomial draws the successes of m trials of one sitting whose chance
// varies round p with intra-session correlation icc, as an urn: each answer
// makes the next one like it a little likelier.
func betaBinomial(src *rand.PCG, m int, p, icc float64) int {
	if icc <= 0 {
		k := 0
		for range m {
			k += one(uniform(src) < p)
		}
		return k
	}
	t := (1 - icc) / icc
	k := 0
	for i := range m {
		k += one(uniform(src)*(t+float64(i)) < p*t+float64(k))
	}
	return k
}

// uniform is rand.Rand's Float64, the same bits, without its call through an
// interface: a forecast draws some ten thousand of them.
func uniform(src *rand.PCG) float64 { return float64(src.Uint64()<<11>>11) / (1 << 53) }

// play runs one future. The odds against a right first ask are odds in its first
// sitting and change by the factor step with each sitting.
func (h *history) play(src *rand.PCG, s levelState, u usual, nights int, odds, step float64) bool {
	start := s.lastDay + 1
	for d := range nights {
		for range u.aDay {
			s.sitting(h, start+training.Day(d), u.asks, betaBinomial(src, u.asks, 1/(1+odds), h.c.ICC), 0, false)
			odds *= step
		}
		s.night(h, s.lastDay, false)
	}
	return s.now.open
}

// playStays draws the true rate from what the fading figure leaves possible
// (Jeffreys' prior on effective trials) and keeps it.
func (h *history) playStays(src *rand.PCG, s levelState, u usual, nights int) float64 {
	n := s.now.fade.effective()
	x := n * math.Min(1, s.now.fade.rate())
	open := 0
	rng := rand.New(src)
	for range draws {
		a, b := gamma(rng, x+0.5), gamma(rng, n-x+0.5)
		open += one(h.play(src, s, u, nights, b/a, 1))
	}
	return float64(open) / draws
}

// playImproves follows the learning curve, with the uncertainty of its fit. A
// straight line in the logit multiplies the odds by the same factor each
// sitting: two exponentials a future instead of one a sitting.
func (h *history) playImproves(src *rand.PCG, s levelState, sits []cueSitting, u usual, nights int) float64 {
	points, done := h.practice(sits)
	c := FitCurve(points, WeakPrior(done))
	open := 0
	rng := rand.New(src)
	for range draws {
		x := c.draw(rng)
		odds, step := expWithin(-(x.Start + x.Gain*(done+float64(u.asks)/2))), expWithin(-x.Gain*float64(u.asks))
		open += one(h.play(src, s, u, nights, odds, step))
	}
	return float64(open) / draws
}

// expWithin is the exponential, kept above 0 and below +Inf so that no product
// of them is 0 times +Inf.
func expWithin(x float64) float64 { return math.Exp(min(max(x, -700), 700)) }

// practice lists the sittings as points of the learning curve, fading with
// curveHalfLife and counted at their effective size, and the trials done.
func (h *history) practice(sits []cueSitting) (points []CurvePoint, done float64) {
	k := 0
	for _, q := range sits {
		k += one(q.of > 0)
	}
	for _, q := range sits {
		if q.of == 0 {
			continue
		}
		k--
		m := float64(q.of)
		points = append(points, CurvePoint{Practice: done + m/2, Yes: float64(q.yes), Of: m,
			Weight: math.Exp2(-float64(k)/curveHalfLife) / (1 + h.c.ICC*(m-1))})
		done += m
	}
	return points, done
}

// Curve is a learning curve: the logit of the chance of a right first ask is a
// straight line in practice, the number of trials of the cue so far. (Against
// the logarithm of practice it predicted worse, on the open record of 30 dogs
// by Solomon and Wynne and on simulated ones: docs/proof.md.)
type Curve struct {
	Start float64       // logit with no practice
	Gain  float64       // logit gained by one trial
	cov   [2][2]float64 // of Start and Gain
}

// CurvePoint is what was seen at one stage of practice: Yes of Of first asks
// answered after Practice trials. Weight is what one of them counts, 0 to 1.
type CurvePoint struct {
	Practice, Yes, Of, Weight float64
}

// CurvePrior holds normal priors of a curve's Start and Gain. A standard
// deviation must be above 0.
type CurvePrior struct {
	Start, StartSD float64
	Gain, GainSD   float64
}

// FitCurve returns the posterior mode of the curve with the covariance of its
// normal approximation; without points, the prior.
func FitCurve(points []CurvePoint, prior CurvePrior) Curve {
	// Practice in units of the largest keeps the two columns comparable.
	unit := 1.0
	for _, p := range points {
		unit = math.Max(unit, p.Practice)
	}
	d := stats.LogisticData{Prior: []stats.NormalPrior{
		{Mean: prior.Start, SD: prior.StartSD}, {Mean: prior.Gain * unit, SD: prior.GainSD * unit}}}
	for _, p := range points {
		d.X = append(d.X, []float64{1, p.Practice / unit})
		d.Y = append(d.Y, p.Yes)
		d.N = append(d.N, p.Of)
		d.W = append(d.W, p.Weight)
	}
	fit, err := stats.Logistic(d)
	if err != nil || len(points) == 0 {
		return Curve{prior.Start, prior.Gain, [2][2]float64{{prior.StartSD * prior.StartSD}, {0, prior.GainSD * prior.GainSD}}}
	}
	c := Curve{Start: fit.Coef[0], Gain: fit.Coef[1] / unit}
	c.cov[0][0] = fit.Cov[0][0]
	c.cov[0][1], c.cov[1][0] = fit.Cov[0][1]/unit, fit.Cov[1][0]/unit
	c.cov[1][1] = fit.Cov[1][1] / (unit * unit)
	return c
}

// Chance is the chance of a right first ask after so many trials of practice.
func (c Curve) Chance(practice float64) float64 {
	return 1 / (1 + math.Exp(-(c.Start + c.Gain*practice)))
}

// draw returns a curve from the uncertainty of the fit.
func (c Curve) draw(rng *rand.Rand) Curve {
	z0, z1 := rng.NormFloat64(), rng.NormFloat64()
	sd := math.Sqrt(c.cov[0][0])
	tilt := c.cov[1][0] / sd
	c.Start += sd * z0
	c.Gain += tilt*z0 + math.Sqrt(math.Max(0, c.cov[1][1]-tilt*tilt))*z1
	return c
}

// playWalks draws breaks a minute from what the last sittings leave possible
// and walks on at that rate.
func (h *history) playWalks(rng *rand.Rand, s levelState, sits []cueSitting, u usual, nights int) float64 {
	if !h.c.Breaks.Known {
		return 0
	}
	bar := h.c.Breaks.V
	// The minutes of the coming windows are the same in every future: per night
	// the most breaks at which the level holds, and at which it is kept.
	tail := slices.Clone(sits)
	type line struct{ hold, keep int }
	lines := make([]line, nights)
	for d := range nights {
		for range u.aDay {
			tail = append(tail, cueSitting{minutes: u.minutes})
		}
		_, m, _ := walked(tail, motionWindow, func(*cueSitting) bool { return true })
		lines[d] = line{-1, int(math.Floor(bar*m + 1e-9))}
		below := func(b int) bool { return must(stats.Garwood(float64(b), m, 0.95)).Upper <= bar }
		if d > 0 { // near that of the night before
			lines[d].hold = lines[d-1].hold
		}
		for lines[d].hold >= 0 && !below(lines[d].hold) {
			lines[d].hold--
		}
		for below(lines[d].hold + 1) {
			lines[d].hold++
		}
	}
	past := make([]int, 0, len(tail))
	for _, q := range sits {
		if q.minutes > 0 {
			past = append(past, q.breaks)
		}
	}
	open, done, first := 0, len(past), len(sits)
	for range draws {
		rate := gamma(rng, float64(s.now.breaks)+0.5) / s.now.minutes
		g := s
		b := past[:done]
		for d := range nights {
			for k := range u.aDay {
				b = append(b, poisson(rng, rate*u.minutes))
				tail[first+d*u.aDay+k].breaks = b[len(b)-1]
				g.sittings++
				g.minutes += u.minutes
			}
			g.days++
			sum := 0
			for _, x := range b[max(0, len(b)-motionWindow):] {
				sum += x
			}
			gone := walkedLately(tail[:first+(d+1)*u.aDay], anyone).above(bar)
			if sum <= lines[d].hold && !gone && g.enough(&h.c, h.kind) {
				g.now.streak++
			} else {
				g.now.streak = 0
			}
			if !g.now.open {
				g.now.open = g.now.streak >= h.c.Nights
			} else {
				g.now.open = sum <= lines[d].keep && !gone
			}
		}
		open += one(g.now.open)
	}
	return float64(open) / draws
}

// gamma draws from the gamma distribution with shape a > 0 and scale 1
// (Marsaglia & Tsang 2000).
func gamma(rng *rand.Rand, a float64) float64 {
	boost := 1.0
	if a < 1 {
		boost = math.Pow(1-rng.Float64(), 1/a)
		a++
	}
	d := a - 1.0/3
	c := 1 / math.Sqrt(9*d)
	for {
		x := rng.NormFloat64()
		v := 1 + c*x
		if v <= 0 {
			continue
		}
		v *= v * v
		if u := 1 - rng.Float64(); math.Log(u) < 0.5*x*x+d-d*v+d*math.Log(v) {
			return boost * d * v
		}
	}
}

// poisson draws a count with the mean, by multiplication (means here are small).
func poisson(rng *rand.Rand, mean float64) int {
	limit, p, k := math.Exp(-math.Min(mean, 500)), 1.0, 0
	for {
		p *= rng.Float64()
		if p <= limit {
			return k
		}
		k++
	}
}

// inWords prints a chance as coarsely as it deserves.
func inWords(p float64) string {
	for _, w := range []struct {
		below float64
		say   string
	}{
		{.03, "under 1 in 20"}, {.075, "about 1 in 20"}, {.15, "about 1 in 10"}, {.225, "about 1 in 5"}, {.29, "about 1 in 4"},
		{.415, "about 1 in 3"}, {.585, "about 1 in 2"}, {.71, "about 2 in 3"}, {.775, "about 3 in 4"}, {.85, "about 4 in 5"},
		{.925, "about 9 in 10"}, {.97, "about 19 in 20"},
	} {
		if p < w.below {
			return w.say
		}
	}
	return "over 19 in 20"
}

// wait is one gate of a cue that has to be done rather than hoped for.
type wait struct {
	cue   string
	gate  GateName
	need  need
	where string // "with other people", "at barn"
}

// waitsOf lists the unmet gates of a cue other than those that the level
// decides, with the clean asks each needs.
func waitsOf(c *CueAssessment, needs []wait) []wait {
	var out []wait
	for _, g := range c.Gates {
		switch g.Name {
		case GateEnough, GateLevel, GatePosition, GateClosed: // an incident is said once for the dog
			continue
		}
		if g.Met() || slices.ContainsFunc(out, func(w wait) bool { return w.gate == g.Name }) {
			continue
		}
		found := false
		for _, w := range needs {
			if w.gate == g.Name {
				out = append(out, w)
				found = true
			}
		}
		if !found {
			out = append(out, wait{cue: c.Cue, gate: g.Name})
		}
	}
	return out
}

// gateWords says what a cue waits for.
func gateWords(g GateName) string {
	switch g {
	case GatePeople:
		return "other people"
	case GatePlaces:
		return "more places"
	case GateContext:
		return "the weak handler or place"
	case GateSpeed:
		return "quicker answers"
	case GateHold:
		return "holds to the target"
	case GateCorrections:
		return "fewer corrections"
	case GateGoal:
		return "its goal"
	}
	return string(g)
}

// total is what the waits need together: asks of one cue can serve several of
// its gates, and one sitting several cues, but places are different sittings.
func total(waits []wait) (asks, sittings int, ok bool) {
	type key struct {
		cue  string
		gate GateName
	}
	perGate := map[key]need{}
	perCue := map[string]int{}
	var cues []string
	ok = true
	for _, w := range waits {
		k := key{w.cue, w.gate}
		n := perGate[k]
		if w.gate == GateContext { // a handler, the place and the two together may be one
			n.asks, n.sittings = max(n.asks, w.need.asks), max(n.sittings, w.need.sittings)
		} else {
			n.asks += w.need.asks
			n.sittings += w.need.sittings
		}
		perGate[k] = n
		ok = ok && w.need.ok
		sittings = max(sittings, n.sittings)
		if !slices.Contains(cues, w.cue) {
			cues = append(cues, w.cue)
		}
		perCue[w.cue] = max(perCue[w.cue], n.asks)
	}
	for _, c := range cues {
		asks += perCue[c]
	}
	return asks, sittings, ok
}

// speak turns a level's chance and what else is waited for into words. Stands
// are what no asking mends: an open incident, a hold, a cue never asked,
// corrections that rise; each a sentence and its word for the cell.
func (f *Forecast) speak(waits []wait, stands [][2]string, aDay int) {
	var cell []string
	inCell := func(s string) {
		if !slices.Contains(cell, s) {
			cell = append(cell, s)
		}
	}
	for _, s := range stands {
		inCell(s[1])
		if s == openIncident {
			f.Waits = append(f.Waits, "open incident")
		}
	}
	for _, w := range waits {
		inCell(string(w.gate))
		if s := w.cue + ": " + string(w.gate); !slices.Contains(f.Waits, s) {
			f.Waits = append(f.Waits, s)
		}
	}
	_, sittings, ok := total(waits)
	f.LeastSittings = sittings
	if f.Nights >= farNights {
		f.Cell = "too early to say"
		if len(f.Waits) > 0 {
			f.Chance = training.Num{}
		}
		return
	}
	if len(cell) == 0 {
		f.Chance, f.Words = f.Level, inWords(f.Level.V)
		f.Cell = f.Words
		return
	}
	f.Cell = "waits: " + strings.Join(cell, ", ")
	f.Note = "the chance is that of the level alone"
	verb := func(cues []string) string {
		if len(cues) == 1 {
			return cues[0] + " waits for "
		}
		return list(cues) + " wait for "
	}
	if len(stands) > 0 || !ok || sittings > f.Nights*aDay {
		f.Words = "Not ready by then as things stand."
		incident := false
		for _, s := range stands {
			f.Words += " " + s[0]
			incident = incident || s == openIncident
		}
		if incident { // nothing is counted before it is closed
			var also []string
			for _, w := range waits {
				if s := gateWords(w.gate); !slices.Contains(also, s) {
					also = append(also, s)
				}
			}
			if len(also) > 0 {
				f.Words += " Also missing: " + list(also) + "."
			}
			waits = nil
		}
		var parts []string
		var before []string
		for _, g := range groups(waits, func(w wait) string { return gateWords(w.gate) }) {
			s := "for " + gateWords(g[0].gate)
			if cues := cuesOf(g); !slices.Equal(cues, before) {
				before = cues
				s = verb(cues) + gateWords(g[0].gate)
			}
			if asks, n, ok := total(g); ok && n > 0 {
				s += ": at least " + asksIn(asks, n)
			}
			parts = append(parts, s)
		}
		if len(parts) > 0 {
			f.Words += " " + capital(strings.Join(parts, "; ")) + ", and " + nightsLeft(f.Nights) + "."
		}
		switch {
		case !f.Level.Known:
		case f.Nights == 0 && f.Level.V == 1:
			f.Words += " The level itself is there; that is not enough."
		case f.Nights == 0:
			f.Words += " The level is not there either."
		case f.Level.V >= 0.5:
			f.Words += " The level alone is likely to be there (" + inWords(f.Level.V) + "); that is not enough."
		default:
			f.Words += " And the level itself: " + inWords(f.Level.V) + "."
		}
		return
	}
	f.Words = "Depends on what is done."
	for _, g := range groups(waits, func(w wait) string { return w.where }) {
		asks, n, _ := total(g)
		f.Words += " " + capital(verb(cuesOf(g))) + asksIn(asks, n) + " " + g[0].where + "."
	}
	f.Words += " With that done and clean, " + inWords(f.Level.V) + "."
}

// groups puts together what has one key, in order of first mention.
func groups(waits []wait, key func(wait) string) [][]wait {
	var out [][]wait
	for _, w := range waits {
		i := slices.IndexFunc(out, func(g []wait) bool { return key(g[0]) == key(w) })
		if i < 0 {
			out = append(out, nil)
			i = len(out) - 1
		}
		out[i] = append(out[i], w)
	}
	return out
}

func cuesOf(waits []wait) []string {
	var out []string
	for _, w := range waits {
		if !slices.Contains(out, w.cue) {
			out = append(out, w.cue)
		}
	}
	return out
}

func asksIn(asks, sittings int) string {
	if asks == 0 {
		return count(sittings, "session")
	}
	return count(asks, "ask") + " in " + count(sittings, "session")
}

func nightsLeft(n int) string {
	switch n {
	case 0:
		return "no night is left"
	case 1:
		return "one night is left"
	}
	return fmt.Sprintf("%d nights are left", n)
}

var openIncident = [2]string{"An incident is open.", "incident"}

// standsOf is what stands in the way of a cue whatever is asked.
func standsOf(a *Assessment, c *CueAssessment) [][2]string {
	var out [][2]string
	if len(a.Incidents) > 0 {
		out = append(out, openIncident)
	}
	if c.risingCorrections() {
		out = append(out, [2]string{"Corrections for " + c.Cue + " are rising.", "corrections"})
	}
	return out
}

// risingCorrections reports that more trials are corrected, or at a higher
// level, from session to session.
func (c *CueAssessment) risingCorrections() bool {
	return c.Corrections.Trend.Direction == rising ||
		slices.ContainsFunc(c.Corrections.Devices, func(d DeviceLevels) bool { return d.Trend.Direction == rising })
}

// sittingsADay is the dog's usual number of sittings on a day of training: the
// median of the last twelve such days.
func (sc *scene) sittingsADay() int {
	var n []float64
	for i := len(sc.sittings) - 1; i >= 0; i-- {
		if i+1 < len(sc.sittings) && sc.sittings[i+1].day == sc.sittings[i].day {
			n[len(n)-1]++
			continue
		}
		if len(n) == 12 {
			break
		}
		n = append(n, 1)
	}
	if len(n) == 0 {
		return 1
	}
	slices.Sort(n)
	return int(math.Max(1, math.Round(middle(n))))
}

// dogForecast joins the cues agreed with the owner as if they were independent:
// all of them have to be there. That is on the low side, as a good week is good
// for all cues. A cue that is held or was never asked is not left out: with it
// the dog is not ready.
func dogForecast(a Assessment, sc *scene) *Forecast {
	f, ok := forecastFrame(&a)
	if !ok || a.AgreedCues == 0 || slices.ContainsFunc(a.Holds, func(h training.VetHold) bool { return h.Covers(a.AsOf, "") }) {
		return nil
	}
	f.Note = "the level alone, all agreed cues together"
	stays, improves, known := 1.0, 1.0, false
	var waits []wait
	var stands [][2]string
	for i := range a.Cues {
		c := &a.Cues[i]
		if !c.Agreed {
			continue
		}
		if c.Verdict == OnHold {
			stands = append(stands, [2]string{capital(c.Cue) + " is on hold for the vet.", "vet"})
			f.Waits = append(f.Waits, c.Cue+": on hold")
			continue
		}
		for _, s := range standsOf(&a, c) {
			if !slices.Contains(stands, s) {
				stands = append(stands, s)
			}
		}
		waits = append(waits, c.waits...)
		if c.Forecast != nil {
			f.Trials += c.Trials
			known = known || c.Forecast.Level.Known
			stays *= c.Forecast.Stays.V
			improves *= c.Forecast.Improves.V
		}
	}
	if len(a.Dog.Goals) > 0 {
		for _, name := range a.NeverTried {
			said, cell := capital(name)+" was never asked.", "never asked"
			if slices.Contains(a.BeforeOnly, name) {
				said, cell = capital(name)+" was asked before teaching only.", "not asked yet"
			}
			stands = append(stands, [2]string{said, cell})
			f.Waits = append(f.Waits, name+": "+cell)
		}
	}
	if !farAhead(f, sc.rec) && known {
		f.Stays, f.Improves = training.Known(stays), training.Known(improves)
		f.Level = training.Known((stays + improves) / 2)
	}
	f.speak(waits, stands, sc.sittingsADay())
	return f
}

// InWords prints a chance, 0 to 1, as coarsely as it deserves: "about 1 in 4".
func InWords(p float64) string { return inWords(p) }
