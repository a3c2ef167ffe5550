package say

import (
	"fmt"
	"math"
	"testing"

	"pgregory.net/rapid"

	"firstcue/internal/training"
)

// Formatting is tested at the value where the text flips and just below it.
func TestPercentNeverReachesABar(t *testing.T) {
	for _, c := range []struct {
		share float64
		bars  []float64
		want  string
	}{
		{0.90, []float64{.9}, "90%"},
		{math.Nextafter(.9, 0), []float64{.9}, "90%"}, // the last bit of 27/30 is no shortfall
		{0.8996, []float64{.9}, "89%"},
		{0.89999, []float64{.9}, "89%"},
		{0.895, []float64{.9}, "89%"},
		{0.894, []float64{.9}, "89%"},
		{0.904, []float64{.9}, "90%"},
		{0.8699, []float64{.9, .87}, "86%"},
		{0.7999, []float64{.8}, "79%"},
		{1, nil, "100%"},
		{199.0 / 200, nil, "99%"},
		{0.9999, nil, "99%"},
		{0, nil, "0%"},
		{0.001, nil, "1%"},
		{27.0 / 30, []float64{.9}, "90%"},
		{math.NaN(), nil, "-"},
	} {
		if got := Percent(c.share, c.bars...); got != c.want {
			t.Errorf("Percent(%v, %v) = %q, want %q", c.share, c.bars, got, c.want)
		}
	}
}

func TestAShareBelowABarReadsBelowIt(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		of := rapid.IntRange(1, 100).Draw(t, "of")
		yes := rapid.IntRange(0, of).Draw(t, "yes")
		bar := float64(rapid.IntRange(1, 99).Draw(t, "bar")) / 100
		share := float64(yes) / float64(of)
		s := Percent(share, bar)
		var shown float64
		if _, err := fmtSscan(s, &shown); err != nil {
			t.Fatalf("%q is no percentage", s)
		}
		below := yes*100 < of*int(math.Round(bar*100))
		if below != (shown < math.Round(bar*100)) {
			t.Fatalf("%d/%d is printed %s against a bar of %v", yes, of, s, bar)
		}
		if yes < of && shown >= 100 || yes > 0 && shown <= 0 {
			t.Fatalf("%d/%d is printed %s", yes, of, s)
		}
		if math.Abs(shown-100*share) >= 1 {
			t.Fatalf("%d/%d is printed %s", yes, of, s)
		}
	})
}

// Garwood intervals as printed: 2 breaks in 4 min, 7 in 3.5, 1 in 5, 0 in 5
// (exact Poisson limits; Garwood 1936, as tabulated in Ulm 1990).
func TestRate(t *testing.T) {
	n := training.Known
	for _, c := range []struct {
		rate, low, high float64
		bars            []float64
		want            string
	}{
		{2.0 / 4, 0.2422 / 4, 7.2247 / 4, nil, "0.50 [0.06-1.81]"},
		{7 / 3.5, 2.8144 / 3.5, 14.4227 / 3.5, nil, "2.00 [0.80-4.12]"},
		{1.0 / 5, 0.02532 / 5, 5.5716 / 5, nil, "0.20 [0.01-1.11]"},
		{0, 0, 3.6889 / 5, nil, "0 [0-0.74]"},
		{0.5001, 0.3, 0.9, []float64{.5}, "0.5001 [0.30-0.90]"},
		{0.5, 0.3, 0.9, []float64{.5}, "0.50 [0.30-0.90]"},
		{0.4999, 0.3, 0.501, []float64{.5}, "0.50 [0.30-0.501]"},
	} {
		if got := Rate(n(c.rate), n(c.low), n(c.high), c.bars...); got != c.want {
			t.Errorf("Rate(%v) = %q, want %q", c.rate, got, c.want)
		}
	}
	if got := Rate(training.Num{}, n(0), n(1)); got != "-" {
		t.Errorf("an unknown rate prints %q", got)
	}
}

func TestTimes(t *testing.T) {
	for _, c := range []struct {
		s    float64
		bars []float64
		want string
	}{
		{1.6, nil, "1.6 s"}, {0.94, nil, "0.9 s"}, {3, []float64{3}, "3 s"}, {3.04, []float64{3}, "3.04 s"}, {2.96, []float64{3}, "3 s"},
		{59.94, nil, "59.9 s"}, {59.95, nil, "1:00"}, {60, nil, "1:00"}, {200, nil, "3:20"}, {181.8, nil, "3:01.8"}, {0, nil, "0 s"},
	} {
		if got := Seconds(c.s, c.bars...); got != c.want {
			t.Errorf("Seconds(%v, %v) = %q, want %q", c.s, c.bars, got, c.want)
		}
	}
	for s, want := range map[float64]string{0: "0:00", 14.2: "0:14.2", 59.96: "1:00", 3599.96: "1:00:00", 3600: "1:00:00", 3661.5: "1:01:01.5", -0.4: "-0:00.4"} {
		if got := Clock(s); got != want {
			t.Errorf("Clock(%v) = %q, want %q", s, got, want)
		}
	}
}

func TestSmallNumbers(t *testing.T) {
	for p, want := range map[float64]string{0.0499: "p 0.0499", 0.05: "p 0.050", 0.0501: "p 0.0501", 0.0436: "p 0.044", 0.467: "p 0.47", 0.0004: "p < 0.001", 1: "p 1.00", 0.9999: "p 0.9999"} {
		if got := PValue(p); got != want {
			t.Errorf("PValue(%v) = %q, want %q", p, got, want)
		}
	}
	// Wilson intervals of 8 and 9 of 10 (Brown, Cai and DasGupta 2001 give the formula)
	n := training.Known
	if got := Fraction(8, 10, n(.490), n(.943)); got != "8/10  80% [49-94]" {
		t.Errorf("got %q", got)
	}
	if got := Fraction(18, 20, n(.699), n(.972)); got != "18/20  90% [70-97]" {
		t.Errorf("got %q", got)
	}
	if got := Fraction(0, 0, training.Num{}, training.Num{}); got != "0/0" {
		t.Errorf("got %q", got)
	}
	for d, want := range map[int]string{0: "today", 1: "tomorrow", -1: "yesterday", 4: "in 4 days", -3: "3 days ago"} {
		if got := Until(d); got != want {
			t.Errorf("Until(%d) = %q, want %q", d, got, want)
		}
	}
}

func fmtSscan(s string, v *float64) (int, error) { return fmt.Sscanf(s, "%f%%", v) }
