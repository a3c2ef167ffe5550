package note

import (
	"math"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	"firstcue/internal/training"
)

// zones are where the clocks go back and forth in different ways: by an hour, by
// half an hour, at midnight, over the date line, not at all. From the IANA time
// zone database.
var zones = []string{"UTC", "Europe/Berlin", "America/New_York", "Australia/Lord_Howe", "America/Santiago", "Pacific/Apia", "Asia/Kathmandu", "Africa/Casablanca"}

// FuzzWhen holds the readers of days and times, those of the command line too, to
// their promises for any text, day and zone.
func FuzzWhen(f *testing.F) {
	for i, s := range []string{
		"today", "yesterday", "3 days ago", "999 days ago", "2026-03-04", "2026-3-4", "4 March 2026", "4th of March 2026", "March 4, 2026", "sept 4 2025", "2024-02-29", "2100-02-29", "1900-01-01", "2200-12-31", "1970-01-01",
		"04/03/2026", "4.3.2026", "1/2/0001", "4/3", "monday", "last friday", "2026-W12", "tomorrow 9:10",
		"today 9:10", "Today, 9:10", "yesterday at 5:00 pm", "today 12:05 am", "2026-03-04 9:10", "2026-03-04T09:10:30", "March 4, 2026 at 9:10 AM", "today 9am", "9:10", "today 9.10", "2 days ago 9:10",
		"2026-03-29 2:30", "2025-10-26 2:30", "2026-10-04 2:10", "2011-12-30 9:10", "2026-09-06 0:10", "1933-01-01 0:00",
		"2026-03-04T09:10:30.123456789Z", "2026-03-04T09:10-05:00", "2026-03-04T09:10+01:00[Europe/Berlin]", "2026-03-04T09:10+05:45[Asia/Kathmandu]", "2026-03-04T25:10Z", "2026-03-04T09:10+24:00", "2026-03-04T09:10Z[Local]", "2026-03-04T09:10Z[../../etc/passwd]",
		"４ March 2026 ９:１０", "2026‑03‑04", "", " ", "\x00", "\xff9:10",
	} {
		f.Add(s, uint8(i), int64(i)*1_234_567)
	}
	iso := regexp.MustCompile(`\b\d{4}-\d{2}-\d{2}\b`)
	f.Fuzz(func(t *testing.T, text string, zone uint8, minutes int64) {
		loc, err := time.LoadLocation(zones[int(zone)%len(zones)])
		if err != nil {
			t.Fatal(err)
		}
		// Some time in the hundred years from 1970.
		now := time.Unix(((minutes%52_560_000)+52_560_000)%52_560_000*60, 0).In(loc)
		say := func(err error) {
			t.Helper()
			if !utf8.ValidString(err.Error()) || strings.ContainsAny(err.Error(), "\n\x00\x1b") {
				t.Errorf("%q: the message can't be printed: %q", text, err)
			}
		}
		day, dayErr := ParseDay(text, now)
		if dayErr != nil {
			say(dayErr)
			if day != 0 {
				t.Errorf("%q: %v and %v", text, day, dayErr)
			}
			// What is offered instead can be typed.
			for _, s := range iso.FindAllString(strings.Replace(dayErr.Error(), strconv.Quote(text), "", 1), -1) {
				if _, err := ParseDay(s, now); err != nil && !strings.Contains(dayErr.Error(), "there is no day") {
					t.Errorf("%q: %v offers %s, which gives: %v", text, dayErr, s, err)
				}
			}
		} else {
			checkDay(t, text, day, now)
		}
		m, err := ReadTime(text, now)
		if err != nil {
			say(err)
			if !m.Time.IsZero() || m.Zone != "" || m.Warning != "" {
				t.Errorf("%q: %+v and %v", text, m, err)
			}
			if _, offer, ok := strings.Cut(err.Error(), "has no minutes: write "); ok {
				if _, err := ReadTime(offer, now); err != nil && !strings.Contains(err.Error(), "there was no") && !strings.Contains(err.Error(), "whole minutes") {
					t.Errorf("%q: offers %q, which gives: %v", text, offer, err)
				}
			}
			return
		}
		if dayErr == nil {
			t.Errorf("%q is both a day, %v, and a time, %v", text, day, m.Time)
		}
		if y := m.Time.Year(); y < 1899 || y > 2201 {
			t.Errorf("%q: the year %d", text, y)
		}
		// What is stored of it is read back as the same moment in the same zone.
		again, err := ReadTime(formatStart(m.Time, m.Zone), now)
		if err != nil || !again.Time.Equal(m.Time) || again.Zone != m.Zone || again.Time.Format("Z07:00") != m.Time.Format("Z07:00") || again.Warning != "" {
			t.Errorf("%q: %v %q written as %q is read as %v %q %q, %v", text, m.Time, m.Zone, formatStart(m.Time, m.Zone), again.Time, again.Zone, again.Warning, err)
		}
		// What its clock showed is the same time again, or the other of two.
		if m.Time.Location() == loc && m.Time.Nanosecond() == 0 {
			clock := m.Time.Format("2006-01-02 15:04:05")
			same, err := ReadTime(clock, now)
			if err != nil || !same.Time.Equal(m.Time) && same.Warning == "" || m.Warning != "" && same != m {
				t.Errorf("%q is %v; %q is %v, %v", text, m, clock, same, err)
			}
			if m.Warning != "" && !strings.Contains(m.Warning, "came twice") {
				t.Errorf("%q: %s", text, m.Warning)
			}
		}
	})
}

// checkDay holds a day that was read to what a day is.
func checkDay(t *testing.T, text string, day training.Day, now time.Time) {
	t.Helper()
	// The time of day does not matter.
	y, mo, d := now.Date()
	for _, hour := range []int{0, 12, 23} {
		if got, err := ParseDay(text, time.Date(y, mo, d, hour, 59, 59, 0, now.Location())); err != nil || got != day {
			// At a change of the clocks at midnight the hour may be another day's.
			if training.DayOf(time.Date(y, mo, d, hour, 59, 59, 0, now.Location())) == training.DayOf(now) {
				t.Errorf("%q is %v at noon and %v %v at %d:59", text, day, got, err, hour)
			}
		}
	}
	if day == 0 {
		return // 1 January 1970, which cannot be told from no day
	}
	if got, err := ParseDay(day.String(), now); err != nil || got != day {
		t.Errorf("%q is %v, read again %v %v", text, day, got, err)
	}
	if got, err := training.ParseDay(day.String()); err != nil || got != day || training.DayOf(day.Time(time.UTC)) != day {
		t.Errorf("%q is %v, read as stored %v %v", text, day, got, err)
	}
	if ascii(text) {
		for _, s := range []string{strings.ToUpper(text), " " + text + "  ", strings.ToLower(text)} {
			if got, err := ParseDay(s, now); err != nil || got != day {
				t.Errorf("%q is %v and %q is %v %v", text, day, s, got, err)
			}
		}
	}
}

func ascii(s string) bool {
	for i := range len(s) {
		if s[i] >= 0x80 {
			return false
		}
	}
	return true
}

// FuzzDuration holds the reader of durations, clocks and tallies to plain
// arithmetic.
func FuzzDuration(f *testing.F) {
	for _, s := range []string{"4", "1.8", "1,8", "1,800", "3:20", "0:05", "1:02:03.5", "6:01.6", "8/10", "10/8", "0/0", "1000/1000", "1001/1001", "1:60", "24:00:00", "9999:59", "102:03.1115", "1e3", "0x1p-2", "1.2.3",
		strings.Repeat("9", 31), strings.Repeat("9", 31) + "/" + strings.Repeat("9", 31), "0." + strings.Repeat("0", 40) + "1"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		// lex hands over digits with marks between them, nothing else.
		if n := numberEnd([]rune(text), 0); text == "" || n != len([]rune(text)) || !asciiDigit([]rune(text)[0]) {
			return
		}
		said := 0
		got := readNumber(text, func(pr Problem) {
			said++
			if pr.Message == "" {
				t.Errorf("%q: refused without a word", text)
			}
		})
		if said > 1 || (said == 1) != (got.kind == tBad) {
			t.Fatalf("%q: %+v, %d messages", text, got, said)
		}
		switch got.kind {
		case tRatio:
			if got.yes < 0 || got.of < 1 || got.yes > got.of || got.of > 1000 {
				t.Errorf("%q: %d of %d", text, got.yes, got.of)
			}
		case tNum:
			want, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
			if err != nil || got.v != want || got.v > noBig {
				t.Errorf("%q: %v, want %v", text, got.v, want)
			}
		case tTime:
			want := 0.0
			for _, part := range strings.Split(strings.Replace(text, ",", ".", 1), ":") {
				x, err := strconv.ParseFloat(part, 64)
				if err != nil {
					t.Fatal(err)
				}
				want = want*60 + x
			}
			// Milliseconds are kept, half of one may go.
			if math.Abs(got.v-want) > 0.00051 || got.v > 24*3600 && strings.Count(text, ":") == 2 {
				t.Errorf("%q: %v s, want %v", text, got.v, want)
			}
		}
	})
}
