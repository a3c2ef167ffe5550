package say

import (
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"firstcue/internal/training"
)

// Plain makes a text from the store safe to stand in a line of running text: a
// line break or tab becomes one blank, and what could move a terminal's cursor
// or turn the reading direction of what follows is shown as a replacement
// character instead of being obeyed.
func Plain(s string) string {
	var b strings.Builder
	blank := false
	for _, r := range strings.TrimSpace(s) {
		switch {
		case r == utf8.RuneError || unicode.IsControl(r) && !unicode.IsSpace(r) || turnsDirection(r) || hides(r):
			b.WriteRune('\uFFFD')
			blank = false
		case r == ' ':
			if !blank {
				b.WriteByte(' ')
			}
		case unicode.IsSpace(r):
			if !blank {
				b.WriteByte(' ')
			}
			blank = true
		default:
			b.WriteRune(r)
			blank = false
		}
	}
	return strings.TrimRight(b.String(), " ")
}

// turnsDirection reports the characters of Unicode's bidirectional algorithm
// (UAX 9) that embed, override or isolate: they change how text after them is
// laid out, and a name has no need of them.
func turnsDirection(r rune) bool {
	return r >= 0x202A && r <= 0x202E || r >= 0x2066 && r <= 0x2069 ||
		r == 0x200E || r == 0x200F || r == 0x061C || r == 0x2028 || r == 0x2029
}

// hides reports the characters without width that belong to no script: with one
// of them two names look the same.
func hides(r rune) bool { return r == 0x200B || r == 0x2060 || r == 0xFEFF }

// Shown returns a text as it may stand on a screen: what could move the cursor,
// turn the reading direction of what follows, or not be seen at all is shown as a
// replacement character. Line breaks and tabs stay. It is for messages and
// tables; data (CSV, JSON, a note) is handed on as it is.
func Shown(s string) string {
	return strings.Map(func(r rune) rune {
		if unicode.IsControl(r) && r != '\n' && r != '\t' || turnsDirection(r) || hides(r) {
			return utf8.RuneError
		}
		return r
	}, s)
}

// List lists names in a Sentence: "Maren", "Maren and Tove", "Maren, Tove and Ida".
func List(names []string) string {
	switch len(names) {
	case 0:
		return ""
	case 1:
		return names[0]
	}
	return strings.Join(names[:len(names)-1], ", ") + " and " + names[len(names)-1]
}

// Sentence gives a text its capital and its full stop.
func Sentence(s string) string {
	s = strings.TrimSpace(s)
	if s == "" {
		return ""
	}
	r, n := utf8.DecodeRuneInString(s)
	s = string(unicode.ToUpper(r)) + s[n:]
	if strings.ContainsRune(".!?", rune(s[len(s)-1])) {
		return s
	}
	return s + "."
}

// Ended gives somebody's words their full stop and leaves them as they are
// otherwise: what an owner asked for or a trainer wrote down stays word for word.
func Ended(s string) string {
	s = strings.TrimSpace(s)
	if s == "" || strings.ContainsRune(".!?", rune(s[len(s)-1])) {
		return s
	}
	return s + "."
}

// LongDay writes a day as people say it: "Fri 20 March 2026", "no day" for 0.
func LongDay(d training.Day) string {
	if d == 0 {
		return "no day"
	}
	return d.Time(time.UTC).Format("Mon 2 January 2006")
}

// ShortDay writes a day inside a year already named: "Fri 20 Mar".
func ShortDay(d training.Day) string {
	if d == 0 {
		return None
	}
	return d.Time(time.UTC).Format("Mon 2 Jan")
}

// YearDay writes a day with its year where there is little room: "Fri 20 Mar 2026".
func YearDay(d training.Day) string {
	if d == 0 {
		return None
	}
	return d.Time(time.UTC).Format("Mon 2 Jan 2006")
}

// DaySpan writes the days from one to another: "Tue 3 Mar to Fri 20 Mar 2026".
func DaySpan(from, to training.Day) string {
	switch {
	case from == to:
		return YearDay(from)
	case from.Time(utc).Year() == to.Time(utc).Year():
		return ShortDay(from) + " to " + YearDay(to)
	}
	return YearDay(from) + " to " + YearDay(to)
}

var utc = time.UTC

// Weekday writes a day as it is said near it: "Sat 21 March".
func Weekday(d training.Day) string {
	if d == 0 {
		return None
	}
	return d.Time(utc).Format("Mon 2 January")
}

// DayMonth writes a day without its weekday: "5 March".
func DayMonth(d training.Day) string {
	if d == 0 {
		return None
	}
	return d.Time(utc).Format("2 January")
}
