package analysis

import (
	"math"
	"slices"
	"strings"

	"firstcue/internal/stats"
	"firstcue/internal/training"
)

// trendLevel is the one-sided level at which a trend is named.
const trendLevel = 0.05

// shareRises and levelRises are the tests alone, for the gate.
func shareRises(sits []cueSitting, icc float64, atLeast int) bool {
	_, t, n := shareSeries(sits, icc)
	return n >= atLeast && correctedSittings(sits) >= risingSittings && t.PIncreasing <= trendLevel
}

// risingSittings is in how many sittings there must have been a correction
// before they are called rising: one bad session after clean ones is an event,
// not a course.
const risingSittings = 3

func correctedSittings(sits []cueSitting) int {
	n := 0
	for _, q := range sits {
		n += one(q.corrected > 0)
	}
	return n
}

func levelRises(sits []cueSitting, device string, atLeast int) bool {
	y := medianLevels(sits, device)
	return len(y) >= atLeast && must(stats.MannKendall(y)).PIncreasing <= trendLevel
}

// shareTrend tests the share of trials corrected for a trend over sittings:
// Cochran-Armitage, each sitting's counts divided by its design effect. A
// sitting without corrections counts as 0 of its trials.
func shareTrend(sits []cueSitting, icc float64, atLeast int) Trend {
	rates, ca, n := shareSeries(sits, icc)
	t := Trend{Direction: NotJudged, Points: n}
	if n < atLeast {
		return t
	}
	up := ca.PIncreasing
	if correctedSittings(sits) < risingSittings {
		up = 1
	}
	return t.named(up, ca.PDecreasing, rates)
}

func shareSeries(sits []cueSitting, icc float64) (rates []float64, t stats.LinearTrend, points int) {
	k := len(sits)
	buf := make([]float64, 5*k)
	x, n, s, deff, rates := buf[:0:k], buf[k:k:2*k], buf[2*k:2*k:3*k], buf[3*k:3*k:4*k], buf[4*k:4*k]
	for _, q := range sits {
		if q.known == 0 {
			continue
		}
		m := float64(q.known)
		x = append(x, float64(q.corrected))
		n = append(n, m)
		s = append(s, float64(len(s)+1))
		deff = append(deff, 1+icc*(m-1))
		rates = append(rates, float64(q.corrected)/m)
	}
	if len(n) == 0 {
		return nil, stats.LinearTrend{PIncreasing: 1, PDecreasing: 1, PTwoSided: 1}, 0
	}
	return rates, must(stats.CochranArmitage(x, n, s, deff)), len(n)
}

// named fills in the direction, its p and the Theil-Sen slope. The slope is a
// size and never the test.
func (t Trend) named(up, down float64, y []float64) Trend {
	t.Direction = NoTrend
	switch {
	case up <= trendLevel:
		t.Direction, t.P = Rising, training.Known(up)
	case down <= trendLevel:
		t.Direction, t.P = Falling, training.Known(down)
	default:
		t.P = training.Known(math.Min(up, down))
	}
	if len(y) > 1 {
		if fit, err := stats.TheilSen(nil, y, 0.95); err == nil {
			t.Slope = training.Known(fit.Slope)
		}
	}
	return t
}

// hasLevel reports whether a correction has a dial level.
func hasLevel(c training.Correction) bool {
	return c.Level.Known && math.Abs(c.Level.V) < 1e9 // not for what is no number
}

// devicesOf lists the devices on which levels were used, in order of first use.
func devicesOf(sits []cueSitting) []string {
	var out []string
	for _, q := range sits {
		for _, e := range q.trials {
			for _, c := range e.t.Corrections {
				if hasLevel(c) && !slices.ContainsFunc(out,
					func(d string) bool { return training.Key(d) == training.Key(c.Device) }) {
					out = append(out, c.Device)
				}
			}
		}
	}
	return out
}

// medianLevels gives the median level of each sitting in which the device was
// used. A sitting without a correction has no level: it is missing, not 0.
func medianLevels(sits []cueSitting, device string) []float64 {
	key := training.Key(device)
	var out []float64
	for _, q := range sits {
		if q.corrections == 0 {
			continue
		}
		if v := q.levels(key); len(v) > 0 {
			slices.Sort(v)
			out = append(out, middle(v))
		}
	}
	return out
}

// middle is the median of sorted values.
func middle(v []float64) float64 {
	n := len(v)
	if n%2 == 1 {
		return v[n/2]
	}
	return (v[n/2-1] + v[n/2]) / 2
}

// levelTrend tests the median level among corrected trials of one device:
// Mann-Kendall, exact with ties for the lengths a stay has.
func levelTrend(sits []cueSitting, device string, atLeast int) Trend {
	y := medianLevels(sits, device)
	t := Trend{Direction: NotJudged, Points: len(y)}
	if len(y) < atLeast {
		return t
	}
	mk := must(stats.MannKendall(y))
	return t.named(mk.PIncreasing, mk.PDecreasing, y)
}

// servedSessions is how many sittings with a device the level that served is
// read from.
const servedSessions = 5

// The corrections of now are those of the last trials whose corrections are known;
// of a motion, those of the last minutes.
const (
	recentTrials  = 40
	recentMinutes = 20
)

// recentCorrections is how many there were lately.
type recentCorrections struct {
	count, trials int
	minutes       float64
	rate          training.Num // per ten trials; motion: per minute
}

// correctionsNow looks back trial by trial, so that one more without a correction
// never makes it worse.
func correctionsNow(sits []cueSitting, kind training.Kind) recentCorrections {
	var r recentCorrections
	for i := len(sits) - 1; i >= 0; i-- {
		for j := len(sits[i].trials) - 1; j >= 0; j-- {
			t := sits[i].trials[j].t
			if !knownCorrections(*t) {
				continue
			}
			if r.trials == recentTrials && kind != training.Motion || r.minutes >= recentMinutes {
				return r.rated(kind)
			}
			minutes, _ := walkOf(*t)
			r.trials++
			r.minutes += minutes
			r.count += len(t.Corrections)
		}
	}
	return r.rated(kind)
}

func (r recentCorrections) rated(kind training.Kind) recentCorrections {
	switch {
	case kind == training.Motion && r.minutes > 0:
		r.rate = training.Known(float64(r.count) / r.minutes)
	case kind != training.Motion && r.trials > 0:
		r.rate = training.Known(10 * float64(r.count) / float64(r.trials))
	}
	return r
}

// correctionsOf sums up the corrections of a cue.
func (h *history) correctionsOf() Corrections {
	c := Corrections{RewardOnly: h.sc.rec.Dog.RewardOnly, Trend: Trend{Direction: NotJudged}}
	kinds := map[training.CorrectionKind]int{}
	for _, q := range h.sits {
		c.Trials += q.known
		c.Corrected += q.corrected
		c.Count += q.corrections
		c.Minutes += q.Minutes
		for _, e := range q.trials {
			for _, k := range e.t.Corrections {
				kinds[k.Kind]++
			}
		}
	}
	for _, k := range []training.CorrectionKind{training.ByLeash, training.ByVoice, training.ByCollar} {
		if kinds[k] > 0 {
			c.ByKind = append(c.ByKind, KindCount{k, kinds[k]})
		}
	}
	exposure := float64(c.Trials) / 10
	if h.kind == training.Motion {
		exposure = c.Minutes
	}
	if exposure > 0 {
		r := must(stats.Garwood(float64(c.Count), exposure, 0.95))
		c.Rate, c.Low, c.High = training.Known(r.Rate), training.Known(r.Lower), training.Known(r.Upper)
	}
	now := correctionsNow(h.sits, h.kind)
	c.Now, c.Recent, c.RecentTrials, c.RecentMinutes = now.rate, now.count, now.trials, now.minutes
	if c.Count > 0 {
		c.Trend = shareTrend(h.sits, h.c.Likeness, h.c.TrendSessions)
	}
	for _, d := range devicesOf(h.sits) {
		c.Devices = append(c.Devices, h.device(h.sits, d))
	}
	slices.SortFunc(c.Devices, func(a, b DeviceLevels) int {
		return strings.Compare(training.Key(a.Device),
			training.Key(b.Device))
	})
	return c
}

func (h *history) device(sits []cueSitting, name string) DeviceLevels {
	d := DeviceLevels{Device: name, Trend: levelTrend(sits, name, h.c.TrendSessions)}
	if k, ok := h.sc.rec.Kennel.Device(name); ok {
		d.Device = k.Name
	}
	medians := medianLevels(sits, name)
	for i := len(medians) - 1; i > 0 && medians[i] > medians[i-1]; i-- {
		d.Rises++
	}
	key := training.Key(name)
	d.First, d.FirstDay = firstLevel(sits, key)
	var all, served []float64
	used := 0
	for i := len(sits) - 1; i >= 0; i-- {
		in := false
		for j := len(sits[i].trials) - 1; j >= 0; j-- {
			cs := sits[i].trials[j].t.Corrections
			for k := len(cs) - 1; k >= 0; k-- {
				c := cs[k]
				if !hasLevel(c) || training.Key(c.Device) != key {
					continue
				}
				if !in {
					in = true
					used++
				}
				if len(all) == 0 {
					d.Last = c.Level
				}
				all = append(all, c.Level.V)
				if c.Served && used <= servedSessions {
					served = append(served, c.Level.V)
				}
			}
		}
	}
	d.Corrections = len(all)
	d.Median, d.Low, d.High = spread(all)
	d.Served, d.ServedLow, d.ServedHigh = spread(served)
	d.ServedCount = len(served)
	for _, sit := range h.sc.sittings {
		for _, s := range sit.sessions {
			if s.WorkingLevel.Known && training.Key(s.Device) == key {
				d.Working, d.WorkingDay = s.WorkingLevel, s.Day()
			}
		}
	}
	return d
}

// levels lists the sitting's correction levels on the device with the key.
func (q *cueSitting) levels(key string) []float64 {
	var v []float64
	for _, e := range q.trials {
		for _, c := range e.t.Corrections {
			if hasLevel(c) && training.Key(c.Device) == key {
				v = append(v, c.Level.V)
			}
		}
	}
	return v
}

// firstLevel is the median level of the first sitting with the device, and its day.
func firstLevel(sits []cueSitting, key string) (training.Num, training.Day) {
	for _, q := range sits {
		if v := q.levels(key); len(v) > 0 {
			m, _, _ := spread(v)
			return m, q.day
		}
	}
	return training.Num{}, 0
}

// spread gives median, lowest and highest; unknown for nothing.
func spread(v []float64) (median, low, high training.Num) {
	if len(v) == 0 {
		return
	}
	slices.Sort(v)
	return training.Known(middle(v)), training.Known(v[0]), training.Known(v[len(v)-1])
}
