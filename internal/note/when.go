package note

import (
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"firstcue/internal/training"
)

// Moment is a point in time as somebody wrote it.
type Moment struct {
	Time time.Time
	// Zone is the IANA name of the zone it was written in, "" when only an
	// offset is known.
	Zone string
	// Warning is set when the hour happened twice, on the night the clocks go
	// back: which of the two was taken.
	Warning string
	// Relative: the day was counted from the day of the note. NoTime: no time of
	// day was given.
	Relative bool
	NoTime   bool
}

// Patterns are compiled when they are first asked: most commands read no time.
var (
	isoDay    = pattern(`^(\d{4})[-/](\d{1,2})[-/](\d{1,2})$`)
	namedDay  = pattern(`^(\d{1,2})(?:st|nd|rd|th)? (?:of )?([a-z]+)\.?,? (\d{4})$`)
	namedDay2 = pattern(`^([a-z]+)\.? (\d{1,2})(?:st|nd|rd|th)?,? (\d{4})$`)
	daysAgo   = pattern(`^(\d{1,3}) days? ago$`)
	shortDay  = pattern(`^\d{1,4}[./]\d{1,2}([./]\d{1,4})?\.?$`)
	hours     = pattern(`^(\d{1,2})[:.](\d{2})(?::(\d{2}))? ?([ap]\.?m\.?)?$`)
	hourAlone = pattern(`^(\d{1,2}) ?([ap]\.?m\.?)$`)
	splitTime = pattern(`(?i)^(.*?)(?:[ t]|, | at )(\d{1,2}[:.]\d{2}(?::\d{2})?(?: ?[ap]\.?m\.?)?)$`)
	hourOnly  = pattern(`^(.+?)(?: at)? (\d{1,2})(?: ?([aApP]\.?[mM]\.?))?$`)
	offset    = pattern(`^(\d{4}-\d{2}-\d{2}[ Tt]\d{2}:\d{2})(:\d{2}(?:\.\d{1,9})?)?([Zz]|[+-]\d{2}:\d{2})(?:\[([A-Za-z0-9_+/-]{1,64})\])?$`)
)

func pattern(s string) func() *regexp.Regexp {
	return sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile(s) })
}

const wantTime = "write it as 2026-03-04 9:10, today 9:10 or yesterday 17:00"

// ReadTime reads `today 9:10`, `yesterday 17:00`, `2026-03-04 9:10`,
// `2026-03-04T09:10`, `4 March 2026 9:10` in now's zone, and RFC 3339 times with
// their own offset (with a zone name in brackets as in RFC 9557, if there is
// one). It refuses 03/04/2026, days that do not exist, and times that a change
// of the clocks left out. A time that happened twice is the first of the two,
// with a warning.
func ReadTime(s string, now time.Time) (Moment, error) {
	text, _, _ := cleanRunes([]rune(s))
	raw := strings.Join(strings.Fields(string(text)), " ")
	if m := offset().FindStringSubmatch(raw); m != nil {
		return readOffset(raw, m)
	}
	low := strings.ToLower(raw)
	if low == "" {
		return Moment{}, errors.New("no time given: " + wantTime)
	}
	if strings.Fields(low)[0] == "tomorrow" {
		return Moment{}, fmt.Errorf("%q: a session can't be in the future", s)
	}
	m := splitTime().FindStringSubmatch(raw)
	if m == nil {
		if d, clock := wholeHour(raw, now); clock != "" {
			return Moment{}, fmt.Errorf("%q has no minutes: write %s %s", s, d, clock)
		}
		if hours().MatchString(low) {
			return Moment{}, fmt.Errorf("%q has no day: write today %s or yesterday %s", s, raw, raw)
		}
		if _, err := ParseDay(raw, now); err == nil {
			return Moment{}, fmt.Errorf("%q has no time of day: write it as %s 9:10", s, raw)
		} else if shortDay().MatchString(strings.Fields(low)[0]) {
			return Moment{}, err
		}
		return Moment{}, fmt.Errorf("%q is not a time: %s", s, wantTime)
	}
	day, err := ParseDay(m[1], now)
	if err != nil {
		return Moment{}, err
	}
	h, mi, sec, err := readClock(strings.ToLower(m[2]))
	if err != nil {
		return Moment{}, fmt.Errorf("%q: %w", s, err)
	}
	return at(day, h, mi, sec, now.Location())
}

func readOffset(raw string, m []string) (Moment, error) {
	sec := m[2]
	if sec == "" {
		sec = ":00"
	}
	t, err := time.Parse(time.RFC3339, m[1][:10]+"T"+m[1][11:]+sec+strings.ToUpper(m[3]))
	// The library takes an offset of 24 hours and of 60 minutes too.
	if err != nil || len(m[3]) > 1 && (m[3][1:3] > "23" || m[3][4:] > "59") {
		return Moment{}, fmt.Errorf("%q is not a time that exists: %s", raw, wantTime)
	}
	if y := t.Year(); !likely(y) {
		return Moment{}, fmt.Errorf("%q: the year %d cannot be right", raw, y)
	}
	if m[4] == "" {
		_, off := t.Zone()
		if off == 0 {
			return Moment{Time: t.UTC()}, nil
		}
		return Moment{Time: t.In(time.FixedZone("", off))}, nil
	}
	if m[4] == "Local" {
		return Moment{}, fmt.Errorf("%q: Local is not the name of a time zone", raw)
	}
	loc, err := time.LoadLocation(m[4])
	if err != nil {
		return Moment{}, fmt.Errorf("%q: no time zone is called %s", raw, m[4])
	}
	in := t.In(loc)
	_, want := in.Zone()
	if _, got := t.Zone(); got != want {
		return Moment{}, fmt.Errorf("%q: %s was not at offset %s then", raw, m[4], m[3])
	}
	return Moment{Time: in, Zone: loc.String()}, nil
}

// wholeHour reads a day with an hour and no minutes, such as today 9am. It
// returns the day as typed and the clock to write, "" for anything else.
func wholeHour(raw string, now time.Time) (day, clock string) {
	m := hourOnly().FindStringSubmatch(raw)
	if m == nil {
		return "", ""
	}
	if _, err := ParseDay(m[1], now); err != nil {
		return "", ""
	}
	h, _, _, err := readClock(m[2] + ":00" + strings.ToLower(m[3]))
	if err != nil {
		return "", ""
	}
	return m[1], fmt.Sprintf("%d:00", h)
}

func readClock(s string) (h, m, sec int, err error) {
	if c := hourAlone().FindStringSubmatch(s); c != nil {
		s = c[1] + ":00" + c[2]
	}
	c := hours().FindStringSubmatch(s)
	if c == nil {
		return 0, 0, 0, fmt.Errorf("%s is not a time of day: write it as 9:10 or 17:00", s)
	}
	h, _ = strconv.Atoi(c[1])
	m, _ = strconv.Atoi(c[2])
	if c[3] != "" {
		sec, _ = strconv.Atoi(c[3])
	}
	half := strings.ReplaceAll(c[4], ".", "")
	if half != "" && (h < 1 || h > 12) || h > 23 || m > 59 || sec > 59 {
		return 0, 0, 0, fmt.Errorf("there is no time %s", s)
	}
	switch {
	case half == "am" && h == 12:
		h = 0
	case half == "pm" && h < 12:
		h += 12
	}
	return h, m, sec, nil
}

// at finds the moment at which the clocks of loc showed the time on the day.
func at(day training.Day, h, m, s int, loc *time.Location) (Moment, error) {
	midnight := day.Time(time.UTC)
	y, mo, d := midnight.Date()
	t := time.Date(y, mo, d, h, m, s, 0, loc)
	if t.Hour() != h || t.Minute() != m || t.Day() != d {
		// time.Date has moved it over the gap; the change lies just before.
		before := time.Date(y, mo, d, h, m, s, 0, time.UTC).Add(-26 * time.Hour).In(loc)
		change, after := nextChange(before)
		return Moment{}, fmt.Errorf("there was no %d:%02d on %s: the clocks went from %s to %s",
			h, m, day, change.Format("15:04"), after.Format("15:04"))
	}
	if _, off := t.Zone(); off%60 != 0 { // RFC 3339 has no seconds in an offset
		return Moment{}, fmt.Errorf("on %s the clocks there did not go by whole minutes: write the offset, as in %s", day, t.UTC().Format("2006-01-02T15:04Z07:00"))
	}
	w := Moment{Time: t, Zone: zoneName(loc)}
	for _, shift := range []time.Duration{-2 * time.Hour, -time.Hour, -30 * time.Minute, 30 * time.Minute, time.Hour, 2 * time.Hour} {
		u := t.Add(shift)
		if u.Hour() == h && u.Minute() == m && u.Day() == d {
			if u.Before(w.Time) {
				w.Time = u
			}
			w.Warning = fmt.Sprintf("%d:%02d came twice on %s, when the clocks went back; the first is taken. For the second write the offset, as in %s",
				h, m, day, later(t, u).Format("2006-01-02T15:04Z07:00"))
		}
	}
	return w, nil
}

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

// nextChange returns what the clocks showed just before and just after the next
// change of offset within two days of t.
func nextChange(t time.Time) (before, after time.Time) {
	_, was := t.Zone()
	for i := 0; i < 52*60; i++ {
		u := t.Add(time.Minute)
		if _, is := u.Zone(); is != was {
			return u.In(time.FixedZone("", was)), u
		}
		t = u
	}
	return t, t
}

// zoneName is the IANA name of a location, "" when it has none to go by.
func zoneName(loc *time.Location) string {
	name := loc.String()
	if name == "Local" || name == "" {
		return ""
	}
	if got, err := time.LoadLocation(name); err != nil || got.String() != name {
		return ""
	}
	return name
}

var months = []string{"january", "february", "march", "april", "may", "june", "july",
	"august", "september", "october", "november", "december"}

var weekdays = []string{"sunday", "monday", "tuesday", "wednesday", "thursday", "friday", "saturday"}

// ParseDay reads `today`, `yesterday`, `3 days ago`, `2026-03-04` and
// `4 March 2026`; today is now's date. It refuses 04/03/2026 and 4.3.2026,
// which have two readings, and days that do not exist.
func ParseDay(s string, now time.Time) (training.Day, error) {
	text, _, _ := cleanRunes([]rune(s))
	low := strings.ToLower(strings.Join(strings.Fields(string(text)), " "))
	today := training.DayOf(now)
	switch low {
	case "":
		return 0, errors.New("no day given: write it as 2026-03-04, today or yesterday")
	case "today":
		return today, nil
	case "yesterday":
		return today - 1, nil
	}
	var y, m, d int
	switch {
	case daysAgo().MatchString(low):
		n, _ := strconv.Atoi(daysAgo().FindStringSubmatch(low)[1])
		return today - training.Day(n), nil
	case isoDay().MatchString(low):
		f := isoDay().FindStringSubmatch(low)
		y, _ = strconv.Atoi(f[1])
		m, _ = strconv.Atoi(f[2])
		d, _ = strconv.Atoi(f[3])
	case namedDay().MatchString(low):
		f := namedDay().FindStringSubmatch(low)
		d, _ = strconv.Atoi(f[1])
		m = month(f[2])
		y, _ = strconv.Atoi(f[3])
	case namedDay2().MatchString(low):
		f := namedDay2().FindStringSubmatch(low)
		m = month(f[1])
		d, _ = strconv.Atoi(f[2])
		y, _ = strconv.Atoi(f[3])
	case shortDay().MatchString(low):
		if could := shortDays(low); len(could) == 1 {
			return could[0], nil
		}
		return 0, shortDayError(s, low)
	default:
		for _, w := range weekdays {
			if low == w || len(low) == 3 && strings.HasPrefix(w, low) || low == "last "+w {
				return 0, fmt.Errorf("%q could be one of two days: write today, yesterday or the date as 2026-03-04", s)
			}
		}
		return 0, fmt.Errorf("%q is not a day: write it as 2026-03-04, today or yesterday", s)
	}
	if m == 0 {
		return 0, fmt.Errorf("%q is not a day: write it as 2026-03-04, today or yesterday", s)
	}
	if !likely(y) {
		return 0, fmt.Errorf("%q: the year %d cannot be right", s, y)
	}
	day, err := training.ParseDay(fmt.Sprintf("%04d-%02d-%02d", y, m, d))
	if err != nil {
		return 0, fmt.Errorf("there is no day %s: write the date as 2026-03-04", strings.TrimSpace(s))
	}
	return day, nil
}

// likely reports whether a year can be meant.
func likely(year int) bool { return year >= 1900 && year <= 2200 }

// shortDayError refuses a date written with slashes or dots, with the dates it
// could be.
func shortDayError(s, low string) error {
	f := strings.FieldsFunc(low, func(r rune) bool { return r == '/' || r == '.' })
	if len(f) == 3 && len(f[2]) == 4 {
		if y, err := strconv.Atoi(f[2]); err == nil && !likely(y) {
			return fmt.Errorf("%q: the year %d cannot be right", s, y)
		}
	}
	if could := shortDays(low); len(could) == 2 {
		text := func(d training.Day) string { return fmt.Sprintf("%s (%s)", d, d.Time(time.UTC).Format("2 Jan")) }
		return fmt.Errorf("%q could have the day or the month first: write %s or %s", s, text(could[0]), text(could[1]))
	}
	return fmt.Errorf("%q could have the day or the month first: write it as 2026-03-04 (year-month-day)", s)
}

// shortDays are the days that a date such as 20/11/2025 can be.
func shortDays(low string) (could []training.Day) {
	f := strings.FieldsFunc(low, func(r rune) bool { return r == '/' || r == '.' })
	if len(f) != 3 || len(f[2]) != 4 {
		return nil
	}
	if y, _ := strconv.Atoi(f[2]); !likely(y) {
		return nil
	}
	for _, order := range [][2]string{{f[1], f[0]}, {f[0], f[1]}} { // month and day
		m, _ := strconv.Atoi(order[0])
		d, _ := strconv.Atoi(order[1])
		day, err := training.ParseDay(fmt.Sprintf("%s-%02d-%02d", f[2], m, d))
		if err == nil && !slices.Contains(could, day) {
			could = append(could, day)
		}
	}
	return could
}

// month returns the number of a month by its name or its first three letters, 0
// for anything else.
func month(s string) int {
	for i, m := range months {
		if s == m || len(s) >= 3 && len(s) <= 4 && strings.HasPrefix(m, s) {
			return i + 1
		}
	}
	return 0
}

// formatStart writes a start so that it is read back as the same moment in the
// same zone: RFC 3339, with the zone in brackets (RFC 9557) when it is known.
func formatStart(t time.Time, zone string) string {
	s := t.Format("2006-01-02T15:04:05.999999999Z07:00")
	if t.Second() == 0 && t.Nanosecond() == 0 {
		s = t.Format("2006-01-02T15:04Z07:00")
	}
	if zone != "" {
		s += "[" + zone + "]"
	}
	return s
}
