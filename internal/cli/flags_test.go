package cli

import (
	"errors"
	"math"
	"strconv"
	"strings"
	"testing"
)

// FuzzFlagDuration holds the reader of times of flags and bars to plain
// arithmetic: what it takes is digits, and means what it says.
func FuzzFlagDuration(f *testing.F) {
	for _, s := range []string{"", "60", "60s", "60 s", "1:00", "0:05", "90:00", "1.5", "-1", "1:60", "1:5", "1:+5", "-0:30", "+1:30", "s", " s", "1e3", "0x10", "inf", "NaN", "1_000",
		"999999:59", "1000000:00", "153722867280912931:00", strings.Repeat("9", 400), "1:00s", "::", "١:٠٠", "1:00:00"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		got, err := duration("--limit", text)
		if wrong := (exitError{}); err != nil {
			if got.Known || !errors.As(err, &wrong) || wrong.code != exitUsage {
				t.Errorf("%q: %+v and %v", text, got, err)
			}
			return
		}
		if got.Known != (text != "") || math.IsNaN(got.V) || math.IsInf(got.V, 0) || got.V < 0 {
			t.Fatalf("%q: %+v", text, got)
		}
		if text == "" {
			return
		}
		m, sec, clock := strings.Cut(text, ":")
		if !clock {
			m, sec = "0", strings.TrimSuffix(strings.TrimSuffix(text, "s"), " ")
		}
		a, err1 := strconv.ParseFloat(m, 64)
		b, err2 := strconv.ParseFloat(sec, 64)
		if err1 != nil || err2 != nil || clock && strings.ContainsAny(text, "+-.") || got.V != a*60+b {
			t.Errorf("%q: %v s", text, got.V)
		}
	})
}
