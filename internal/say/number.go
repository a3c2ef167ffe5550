package say

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"firstcue/internal/training"
)

// None is printed where there is nothing to measure.
const None = "-"

// bounds are the values that a rounded figure must not reach: one below an
// atLeast bar is not rounded up to it, one above an atMost bar not down to it.
type bounds struct{ atLeast, atMost []float64 }

// fixed formats x with at least digits decimals, and with more where rounding
// would carry it onto a bar from the failing side: 89.96 against a bar of 90 is
// "89.96", never "90.0". A value equal to the bar prints as the bar.
func fixed(x float64, digits int, bars bounds) string {
	if math.IsNaN(x) || math.IsInf(x, 0) {
		return None
	}
	const most = 9
	for d := digits; ; d++ {
		s := strconv.FormatFloat(x, 'f', d, 64)
		shown, _ := strconv.ParseFloat(s, 64)
		crosses := false
		for _, b := range bars.atLeast {
			crosses = crosses || !near(x, b) && x < b && (shown >= b || near(shown, b))
		}
		for _, b := range bars.atMost {
			crosses = crosses || !near(x, b) && x > b && (shown <= b || near(shown, b))
		}
		if !crosses || d == most {
			if strings.Trim(s, "-0.") == "" {
				s = strings.TrimPrefix(s, "-")
			}
			return s
		}
	}
}

// near reports that two figures are the same but for the last bits of their
// arithmetic: 0.9 computed as 27/30 and as 1-0.1 must print alike.
func near(a, b float64) bool {
	return math.Abs(a-b) <= 1e-9*math.Max(1, math.Max(math.Abs(a), math.Abs(b)))
}

// Whole formats a share between 0 and 1 in hundredths, without a sign and without
// decimals. It is rounded onto no bar from the failing side, nor onto 0 or 100:
// 84.6 beside a bar of 85 is "84", 99.7 is "99".
func Whole(share float64, bars ...float64) string {
	if math.IsNaN(share) || math.IsInf(share, 0) {
		return None
	}
	x := 100 * share
	shown := math.Round(x)
	if near(x, shown) {
		return strconv.FormatFloat(shown, 'f', 0, 64)
	}
	for _, bar := range append(bars, 1) {
		if b := 100 * bar; x < b && !near(x, b) && shown >= b {
			shown = math.Floor(x)
		}
	}
	if shown == 0 && x > 0 {
		shown = 1
	}
	return strconv.FormatFloat(shown, 'f', 0, 64)
}

// Percent is Whole with its sign: "84%".
func Percent(share float64, bars ...float64) string {
	s := Whole(share, bars...)
	if s == None {
		return s
	}
	return s + "%"
}

// Ends formats the two ends of an interval of shares, "?" for an unknown end.
func Ends(low, high training.Num, bars ...float64) string {
	end := func(n training.Num) string {
		if !n.Known {
			return "?"
		}
		return Whole(n.V, bars...)
	}
	return "[" + end(low) + "-" + end(high) + "]"
}

// Fraction formats a share with its count and interval: `18/20  90% [70-97]`.
// No trial at all is "0/0": there is no rate to print.
func Fraction(yes, of int, low, high training.Num, bars ...float64) string {
	if of == 0 {
		return "0/0"
	}
	s := fmt.Sprintf("%d/%d  %s", yes, of, Percent(float64(yes)/float64(of), bars...))
	if !low.Known && !high.Known {
		return s
	}
	return s + " " + Ends(low, high, bars...)
}

// Seconds formats a time in seconds: one decimal below a minute, m:ss above. A
// time over a limit is not rounded down to it.
func Seconds(s float64, bars ...float64) string {
	if math.Abs(s) < 59.95 {
		v := fixed(s, 1, bounds{atMost: bars})
		if v == None {
			return v
		}
		return strings.TrimSuffix(v, ".0") + " s"
	}
	return Clock(s)
}

func SecondsOf(n training.Num, bars ...float64) string {
	if !n.Known {
		return None
	}
	return Seconds(n.V, bars...)
}

// Clock formats seconds as m:ss, or h:mm:ss from an hour on. Tenths are shown
// when there are any.
func Clock(s float64) string {
	if math.IsNaN(s) || math.IsInf(s, 0) {
		return None
	}
	sign := ""
	if s < 0 {
		sign, s = "-", -s
	}
	tenths := int64(math.Round(s * 10))
	whole, rest := tenths/10, tenths%10
	tail := ""
	if rest != 0 {
		tail = fmt.Sprintf(".%d", rest)
	}
	h, m, sec := whole/3600, whole/60%60, whole%60
	if h > 0 {
		return fmt.Sprintf("%s%d:%02d:%02d%s", sign, h, m, sec, tail)
	}
	return fmt.Sprintf("%s%d:%02d%s", sign, m, sec, tail)
}

// SecondsSpan formats a median with its interval: `1.1 s [0.9-1.4]`. An end
// that was not reached is "?".
func SecondsSpan(median, low, high training.Num, bars ...float64) string {
	if !median.Known {
		return "not reached"
	}
	// A tenth throughout: "1.0" under "1.1" reads as one column.
	end := func(n training.Num) string {
		switch {
		case !n.Known:
			return "?"
		case math.Abs(n.V) < 59.95:
			return fixed(n.V, 1, bounds{atMost: bars})
		}
		return Clock(n.V)
	}
	s := end(median)
	if math.Abs(median.V) < 59.95 {
		s += " s"
	}
	if !low.Known && !high.Known {
		return s
	}
	return s + " [" + end(low) + "-" + end(high) + "]"
}

// Rate formats a count over an exposure with its interval, two decimals:
// `0.50 [0.06-1.81]`. A count of none is `0 [0-0.74]`: no event was seen, which
// is not a rate of zero. A rate over a bar is not rounded down to it.
func Rate(n, low, high training.Num, bars ...float64) string {
	if !n.Known {
		return None
	}
	end := func(n training.Num) string {
		if !n.Known {
			return "?"
		}
		if n.V == 0 {
			return "0"
		}
		return fixed(n.V, 2, bounds{atMost: append([]float64{0}, bars...)})
	}
	if n.V == 0 {
		if !high.Known {
			return "0"
		}
		return "0 [0-" + end(high) + "]"
	}
	s := end(n)
	if !low.Known && !high.Known {
		return s
	}
	return s + " [" + end(low) + "-" + end(high) + "]"
}

// Number formats a plain number with at most two decimals and none to spare; it
// is rounded onto no bar from either side.
func Number(x float64, bars ...float64) string {
	s := fixed(x, 2, bounds{bars, bars})
	if strings.Contains(s, ".") {
		s = strings.TrimRight(strings.TrimRight(s, "0"), ".")
	}
	return s
}

func NumberOf(n training.Num, bars ...float64) string {
	if !n.Known {
		return None
	}
	return Number(n.V, bars...)
}

// PValue formats a p value: two decimals, three below 0.1, "p < 0.001" under
// that, and never onto 0.05 from either side.
func PValue(p float64) string {
	switch {
	case math.IsNaN(p):
		return None
	case p < 0.001:
		return "p < 0.001"
	case p < 0.0995:
		return "p " + fixed(p, 3, bounds{[]float64{0.05}, []float64{0.05}})
	}
	return "p " + fixed(p, 2, bounds{[]float64{1}, []float64{0.05}})
}

// Count puts a number before a noun: "1 trial", "4 trials". A noun that ends
// in -y after a consonant, or is irregular, gives its plural itself.
func Count(n int, noun string, plural ...string) string {
	if n == 1 {
		return "1 " + noun
	}
	if len(plural) > 0 {
		return strconv.Itoa(n) + " " + plural[0]
	}
	return strconv.Itoa(n) + " " + noun + "s"
}

// Until says how far off a day is: "in 4 days", "today", "3 days ago".
func Until(days int) string {
	switch {
	case days == 0:
		return "today"
	case days == 1:
		return "tomorrow"
	case days == -1:
		return "yesterday"
	case days < 0:
		return Count(-days, "day") + " ago"
	}
	return "in " + Count(days, "day")
}

// Minutes formats a number of minutes walked: "12.5 min".
func Minutes(m float64) string { return Number(round1(m)) + " min" }

func round1(x float64) float64 { return math.Round(10*x) / 10 }
