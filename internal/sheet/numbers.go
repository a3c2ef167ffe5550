package sheet

import (
	"fmt"
	"regexp"
	"strconv"
	"strings"

	"firstcue/internal/training"
)

// dot turns the file's decimal mark into a dot, and a dot that is not the
// file's decimal mark into something no number holds.
func (x *reader) dot(s string) string {
	if x.o.Layout.Decimal != ',' {
		return s
	}
	return swapMarks.Replace(s)
}

var swapMarks = strings.NewReplacer(",", ".", ".", "'")

var (
	units   = []string{"seconds", "secs", "sec", "s", "metres", "meters", "m"}
	isClock = regexp.MustCompile(`^(?:(\d{1,4}):)?(\d{1,4}):(\d\d(?:\.\d{1,3})?)$`)
)

// number reads a plain number; with clock, seconds may be written 1:30 or 0:01:30
// too.
func (x *reader) number(f Field, s string, clock bool) (training.Num, *Problem) {
	if s == "" {
		return training.Num{}, nil
	}
	if clock && strings.Contains(s, ":") {
		return x.span(f, s)
	}
	t := s
	if last := t[len(t)-1]; last < '0' || last > '9' {
		for _, u := range units {
			if rest, ok := strings.CutSuffix(t, u); ok {
				t = strings.TrimSpace(rest)
				break
			}
		}
	}
	t = x.dot(t)
	whole, fraction, mark := strings.Cut(t, ".")
	if !digits(whole) || mark && !digits(fraction) {
		return training.Num{}, x.problem(f, s,
			"is not a number (the decimal mark of this file is a "+DecimalName(x.o.Layout.Decimal)+")", "")
	}
	v, _ := strconv.ParseFloat(t, 64)
	return training.Known(v), nil
}

// digits reports one to nine digits.
func digits(s string) bool { return s != "" && len(s) <= 9 && strings.Trim(s, "0123456789") == "" }

// span reads a clock: 1:30, 0:01:30.
func (x *reader) span(f Field, s string) (training.Num, *Problem) {
	m := isClock.FindStringSubmatch(x.dot(s))
	if m == nil {
		return training.Num{}, x.problem(f, s, "is not a length of time", "write seconds, or 1:30")
	}
	hours, _ := strconv.Atoi(m[1])
	minutes, _ := strconv.Atoi(m[2])
	seconds, _ := strconv.ParseFloat(m[3], 64)
	if seconds >= 60 || m[1] != "" && (minutes >= 60 || len(m[2]) < 2) {
		return training.Num{}, x.problem(f, s, "is not a length of time", "write seconds, or 1:30")
	}
	return training.Known(float64(hours*3600+minutes*60) + seconds), nil
}

// count reads a whole number, 0 for an empty cell.
func (x *reader) count(f Field, s string, most int) (int, *Problem) {
	if s == "" {
		return 0, nil
	}
	n, err := strconv.Atoi(s)
	if err != nil || n < 0 || n > most {
		return 0, x.problem(f, s, fmt.Sprintf("is not a number from 0 to %d", most), "")
	}
	return n, nil
}

// plain writes a number without a needless fraction.
func plain(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }
