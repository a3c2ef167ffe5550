package stats_test

import (
	"math"
	"testing"

	"firstcue/internal/stats"
)

// Stevens, Wolff, Bosworth & Morstad 2021, Animal Cognition 24:219: latencies
// of sit and down, 30 s standing for no response. Expected values computed
// with R's package survival; counts and means by hand from the table.
func TestStevensLatency(t *testing.T) {
	for cue, want := range map[string]struct {
		dogs, ceiling, within2, within10 int
		median, q1, q3, lower, upper     float64
		naive, responders                string
		medianResponders                 float64
		responded, respLower, respUpper  string
	}{
		"sit":  {81, 15, 48, 65, 2, 1, 4, 1, 2.5, "7.352", "2.205", 1, "81.5", "71.7", "88.4"},
		"down": {77, 18, 35, 56, 3, 1, 11, 2, 4, "9.136", "2.771", 2, "76.6", "66.05", "84.67"},
	} {
		t.Run(cue, func(t *testing.T) {
			var times []float64
			var event []bool
			var sum, sumAnswered, answered float64
			within2, within10 := 0, 0
			for _, r := range published(t, "stevens2021_latency.csv") {
				if r["cue"] != cue {
					continue
				}
				sec := r.num(t, "seconds")
				for range int(r.num(t, "dogs")) {
					times, event = append(times, sec), append(event, r["responded"] == "1")
					sum += sec
					if r["responded"] == "1" {
						sumAnswered += sec
						answered++
					}
					if sec <= 2 {
						within2++
					}
					if sec <= 10 {
						within10++
					}
				}
			}
			s, err := stats.KaplanMeier(times, event)
			fatal(t, err)
			if s.N != want.dogs || s.N-s.Events != want.ceiling || within2 != want.within2 || within10 != want.within10 {
				t.Errorf("counts %d, %d censored, %d within 2 s, %d within 10 s", s.N, s.N-s.Events, within2, within10)
			}
			for _, q := range []struct{ q, want float64 }{{0.5, want.median}, {0.25, want.q1}, {0.75, want.q3}} {
				first, mid := s.Quantile(q.q)
				near(t, "quantile", mid.V, q.want, 1e-12)
				near(t, "first time", first.V, q.want, 1e-12)
			}
			lo, hi, err := s.MedianLimits(0.95) // R with conf.type = "log-log"
			fatal(t, err)
			near(t, "median lower, log-log", lo.V, want.lower, 1e-12)
			near(t, "median upper, log-log", hi.V, want.upper, 1e-12)
			printed(t, "naive mean", want.naive, sum/float64(s.N))
			printed(t, "responders' mean", want.responders, sumAnswered/answered)
			var half float64
			for i, e := range event { // the table ascends
				if half++; half == math.Ceil(answered/2) && e {
					near(t, "responders' median", times[i], want.medianResponders, 0)
				}
			}
			iv, err := stats.Wilson(answered, float64(s.N), 0.95)
			fatal(t, err)
			printed(t, "responded", want.responded, 100*answered/float64(s.N))
			printed(t, "responded lower", want.respLower, 100*iv.Lower)
			printed(t, "responded upper", want.respUpper, 100*iv.Upper)
		})
	}
}

// The two raters of the same study: responded or not, and within a second.
func TestStevensRaters(t *testing.T) {
	for cue, want := range map[string]struct {
		both, agree, same, within1 float64
		percent, kappa             string
	}{
		"sit":  {139, 124, 95, 119, "89.2", "0.554"},
		"down": {130, 122, 96, 116, "93.8", "0.813"},
	} {
		table := [][]float64{{0, 0}, {0, 0}}
		var same, within1 float64
		for _, r := range published(t, "stevens2021_raters.csv") {
			if r["cue"] != cue {
				continue
			}
			a, b, n := r.num(t, "first_seconds"), r.num(t, "second_seconds"), r.num(t, "videos")
			i, j := 0, 0
			if a == 30 {
				i = 1
			}
			if b == 30 {
				j = 1
			}
			table[i][j] += n
			if a == b {
				same += n
			}
			if math.Abs(a-b) <= 1 {
				within1 += n
			}
		}
		k, err := stats.Kappa(table, 0.95)
		fatal(t, err)
		near(t, cue+" videos", k.N, want.both, 0)
		near(t, cue+" agreed", table[0][0]+table[1][1], want.agree, 0)
		near(t, cue+" same second", same, want.same, 0)
		near(t, cue+" within a second", within1, want.within1, 0)
		printed(t, cue+" agreement", want.percent, 100*k.Agree)
		printed(t, cue+" kappa", want.kappa, k.Kappa.V)
	}
}

// Wilson limits of small counts, in percent, and the runs needed for a lower
// limit; computed independently from the formula of Wilson 1927.
func TestWilsonSmallCounts(t *testing.T) {
	for _, c := range []struct {
		x, n         float64
		lower, upper string
	}{
		{4, 5, "37.55", "96.38"}, {5, 5, "56.55", "100"}, {8, 10, "49.02", "94.33"}, {9, 10, "59.58", "98.21"}, {10, 10, "72.25", "100"},
		{18, 20, "69.90", "97.21"}, {19, 20, "76.39", "99.11"}, {20, 20, "83.89", "100"}, {27, 30, "74.38", "96.54"}, {30, 30, "88.65", "100"},
		{45, 50, "78.64", "95.65"}, {90, 100, "82.56", "94.48"}, {25, 32, "61.245", "88.976"}, {48, 50, "86.54", "98.90"},
		{16, 16, "80.64", "100"}, {15, 15, "79.61", "100"}, {35, 35, "90.11", "100"}, {34, 34, "89.85", "100"},
	} {
		iv, err := stats.Wilson(c.x, c.n, 0.95)
		fatal(t, err)
		printed(t, "lower", c.lower, 100*iv.Lower)
		printed(t, "upper", c.upper, 100*iv.Upper)
	}
	for _, c := range []struct {
		bar    float64
		misses [3]int // trials needed with no, one and two misses
	}{{0.80, [3]int{16, 25, 33}}, {0.85, [3]int{22, 34, 45}}, {0.90, [3]int{35, 53, 69}}, {0.95, [3]int{73, 110, 142}}} {
		for miss, want := range c.misses {
			n := miss + 1
			for {
				iv, err := stats.Wilson(float64(n-miss), float64(n), 0.95)
				fatal(t, err)
				if iv.Lower >= c.bar {
					break
				}
				n++
			}
			if n != want {
				t.Errorf("lower limit %v with %d misses: %d trials, want %d", c.bar, miss, n, want)
			}
		}
	}
}

// The push, drop or stick rule of sets of five (J. Donaldson, as taught), and
// rules of thumb: plain binomial chances.
// Breaks per minute with the limits of Garwood 1936.
func TestBreaksPerMinute(t *testing.T) {
	for _, c := range []struct {
		breaks, minutes    float64
		rate, lower, upper string
	}{{7, 3.5, "2.00", ".8041", "4.1208"}, {0, 5, "0", "0", ".7378"}, {10, 12.5, ".80", ".3836", "1.4712"}} {
		r, err := stats.Garwood(c.breaks, c.minutes, 0.95)
		fatal(t, err)
		printed(t, "rate", c.rate, r.Rate)
		printed(t, "lower", c.lower, r.Lower)
		printed(t, "upper", c.upper, r.Upper)
	}
}
