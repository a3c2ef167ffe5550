package note

import (
	"errors"
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"time"

	"firstcue/internal/training"
)

// Forms of a start that count from the day of a note. They are not read where
// there is no such day.
var (
	clockOnly = pattern(`^(?:at )?(\d{1,2}[:.]\d{2}(?::\d{2})?(?: ?[ap]\.?m\.?)?|\d{1,2} ?[ap]\.?m\.?)$`)
	dayClock  = pattern(`^(.+?)(?:,? at |, ?| )(\d{1,2}[:.]\d{2}(?::\d{2})?(?: ?[ap]\.?m\.?)?|\d{1,2} ?[ap]\.?m\.?)$`)
	clockDay  = pattern(`^(\d{1,2}[:.]\d{2}(?: ?[ap]\.?m\.?)?|\d{1,2} ?[ap]\.?m\.?),? (.+)$`)
	dayMonth  = pattern(`^(\d{1,2})(?:st|nd|rd|th)? (?:of )?([a-z]+)\.?$`)
	monthDay  = pattern(`^([a-z]+)\.? (\d{1,2})(?:st|nd|rd|th)?$`)
	twoParts  = pattern(`^(\d{1,2})[/.](\d{1,2})\.?$`)
	dotClock  = pattern(`^(\d{1,2})\.(\d{2})$`)
)

// readStart reads the start of a session: what ReadTime reads, and the short
// forms that count from the day of the note: 9:10, 9.15am, friday 9am, 20 Nov
// 9.15, 20/11 when only one order fits. A weekday or a day without its year is
// the last one, up to the day of the note.
func readStart(s string, written time.Time) (Moment, error) {
	text, _, _ := cleanRunes([]rune(s))
	raw := strings.Join(strings.Fields(string(text)), " ")
	low := strings.ToLower(raw)
	full, fullErr := ReadTime(s, written)
	if fullErr == nil {
		full.Relative = strings.Contains(low, "day") || strings.HasSuffix(low, "ago")
		return full, nil
	}
	if low == "" || strings.HasPrefix(low, "tomorrow") || written.IsZero() {
		return Moment{}, fullErr
	}
	day, clock := low, ""
	if m := clockOnly().FindStringSubmatch(low); m != nil {
		if f := dotClock().FindStringSubmatch(low); f != nil && f[2] <= "12" && f[2] > "00" && len(f[1]) == 2 && f[1] > "12" {
			return Moment{}, fmt.Errorf("%q could be a time or a day: write %s:%s, or the day as 2026-03-04", raw, f[1], f[2])
		}
		day, clock = "today", m[1]
	} else if m := dayClock().FindStringSubmatch(low); m != nil && shortDayRead(m[1], written) {
		day, clock = m[1], m[2]
	} else if m := clockDay().FindStringSubmatch(low); m != nil && shortDayRead(m[2], written) {
		day, clock = m[2], m[1]
	}
	d, relative, err := noteDay(day, written)
	if err != nil {
		if errors.Is(err, errNoDay) {
			return Moment{}, fullErr
		}
		return Moment{}, err
	}
	if clock == "" {
		m, err := at(d, 0, 0, 0, written.Location())
		m.Relative, m.NoTime = relative, true
		return m, err
	}
	h, mi, sec, err := readClock(clock)
	if err != nil {
		return Moment{}, fmt.Errorf("%q: %w", raw, err)
	}
	m, err := at(d, h, mi, sec, written.Location())
	m.Relative = relative
	return m, err
}

var errNoDay = errors.New("no day")

func shortDayRead(s string, written time.Time) bool {
	_, _, err := noteDay(s, written)
	return err == nil || !errors.Is(err, errNoDay)
}

// noteDay reads a day as a note may say it, relative when it counts from the day
// of the note.
func noteDay(s string, written time.Time) (d training.Day, relative bool, err error) {
	low := strings.TrimRight(strings.ToLower(s), " ,")
	today := training.DayOf(written)
	if d, err := ParseDay(low, written); err == nil {
		return d, strings.Contains(low, "day") || strings.HasSuffix(low, "ago"), nil
	} else if shortDay().MatchString(low) && !twoParts().MatchString(low) {
		return 0, false, err
	}
	for i, w := range weekdays {
		if low == w || len(low) >= 3 && len(low) <= 5 && strings.HasPrefix(w, strings.TrimRight(low, ".")) || low == "last "+w && int(written.Weekday()) != i {
			back := (int(written.Weekday()) - i + 7) % 7
			return today - training.Day(back), true, nil
		}
	}
	var day, mon int
	find := func(re func() *regexp.Regexp) []string { return re().FindStringSubmatch(low) }
	switch {
	case find(dayMonth) != nil:
		f := find(dayMonth)
		day, _ = strconv.Atoi(f[1])
		mon = month(f[2])
	case find(monthDay) != nil:
		f := find(monthDay)
		day, _ = strconv.Atoi(f[2])
		mon = month(f[1])
	case find(twoParts) != nil:
		f := find(twoParts)
		a, _ := strconv.Atoi(f[1])
		b, _ := strconv.Atoi(f[2])
		switch {
		case a > 12 && b <= 12:
			day, mon = a, b
		case b > 12 && a <= 12:
			day, mon = b, a
		case a == b:
			day, mon = a, b
		default:
			return 0, false, shortDayError(s, low)
		}
	}
	if mon == 0 {
		return 0, false, errNoDay
	}
	for year := written.Year(); year > written.Year()-8; year-- {
		d, err := training.ParseDay(fmt.Sprintf("%04d-%02d-%02d", year, mon, day))
		if err == nil && d <= today {
			return d, true, nil
		}
	}
	return 0, false, fmt.Errorf("there is no day %s: write the date as 2026-03-04", strings.TrimSpace(s))
}
