package analysis

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"firstcue/internal/training"
)

// hair is how far a figure may miss its bar by rounding of the arithmetic: nine
// of ten in every session is 90 %, whatever the weights add up to.
const hair = 1e-9

func atLeast(v, bar float64) bool { return v >= bar-hair }
func atMost(v, bar float64) bool  { return v <= bar+hair }

// percent prints a share against a bar: whole per cent, with one digit more as
// long as a figure below the bar would look like the bar, or one above it.
func percent(v float64, bars ...float64) string {
	v *= 100
	for digits := 0; ; digits++ {
		s := strconv.FormatFloat(v, 'f', digits, 64)
		clear := true
		for _, b := range bars {
			b *= 100
			x, _ := strconv.ParseFloat(s, 64)
			y, _ := strconv.ParseFloat(strconv.FormatFloat(b, 'f', digits, 64), 64)
			if v < b-100*hair && x >= y || v > b-100*hair && x < y {
				clear = false
			}
		}
		if clear || digits == 6 {
			return s + "%"
		}
	}
}

// figure prints v with the digits, and one digit more as long as a figure on
// one side of a bar would look like one on the other.
func figure(v float64, digits int, bars ...float64) string {
	for ; ; digits++ {
		s := strconv.FormatFloat(v, 'f', digits, 64)
		x, _ := strconv.ParseFloat(s, 64)
		clear := true
		for _, b := range bars {
			if v < b-hair && x >= b || v > b+hair && x <= b {
				clear = false
			}
		}
		if clear || digits >= 6 {
			return s
		}
	}
}

// barOf prints a bar that is a share exactly: 82.5%, not 82%.
func barOf(v float64) string { return plain(math.Round(v*1e9)/1e7) + "%" }

// dayWords prints "Fri 20 Mar", as a report does.
func dayWords(d training.Day) string { return d.Time(time.UTC).Format("Mon 2 Jan") }

// mins prints minutes to a tenth and none to spare, further from a bar than a
// tenth where they would look like it: "128", "12.5".
func mins(m float64, bars ...float64) string {
	return strings.TrimSuffix(figure(m, 1, bars...), ".0")
}

// count prints "1 session", "3 sessions".
func count(n int, one string) string {
	if n == 1 {
		return "1 " + one
	}
	if strings.HasSuffix(one, "s") || strings.HasSuffix(one, "ch") {
		return fmt.Sprintf("%d %ses", n, one)
	}
	return fmt.Sprintf("%d %ss", n, one)
}

// list prints "a", "a and b", "a, b and c".
func list(names []string) string {
	switch len(names) {
	case 0:
		return ""
	case 1:
		return names[0]
	}
	return strings.Join(names[:len(names)-1], ", ") + " and " + names[len(names)-1]
}

// clock prints seconds as m:ss from a minute on, else "45 s".
func clock(s float64) string {
	if s >= 60 && s == math.Trunc(s) {
		return fmt.Sprintf("%d:%02d min", int(s)/60, int(s)%60)
	}
	return plain(math.Round(s*1000)/1000) + " s"
}

// capital gives a sentence its capital letter.
func capital(s string) string {
	r, n := utf8.DecodeRuneInString(s)
	if n == 0 {
		return s
	}
	return string(unicode.ToUpper(r)) + s[n:]
}
