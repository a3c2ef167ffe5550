package note

import (
	"strings"
	"testing"
	"time"
)

// The changes of the clocks are those of the IANA time zone database: Central
// European Time skipped 2:00 to 3:00 on 29 March 2026 and repeated 2:00 to 3:00
// on 26 October 2025; Lord Howe Island moves by half an hour.
func TestReadTime(t *testing.T) {
	for _, c := range []struct{ in, want string }{
		{"today 9:10", "2026-04-01T09:10:00+02:00"},
		{"today 9.10", "2026-04-01T09:10:00+02:00"},
		{"20/11/2025 9:10", "2025-11-20T09:10:00+01:00"},
		{"2026/03/04 9:10", "2026-03-04T09:10:00+01:00"},
		{"Today, 9:10", "2026-04-01T09:10:00+02:00"},
		{"yesterday 17:00", "2026-03-31T17:00:00+02:00"},
		{"yesterday at 5:00 pm", "2026-03-31T17:00:00+02:00"},
		{"today 12:05 am", "2026-04-01T00:05:00+02:00"},
		{"today 12:05 p.m.", "2026-04-01T12:05:00+02:00"},
		{"2026-03-04 9:10", "2026-03-04T09:10:00+01:00"},
		{"2026-3-4 9:10", "2026-03-04T09:10:00+01:00"},
		{"2026-03-04T09:10", "2026-03-04T09:10:00+01:00"},
		{"2026-03-04T09:10:30Z", "2026-03-04T09:10:30Z"},
		{"2026-03-04T09:10-05:00", "2026-03-04T09:10:00-05:00"},
		{"2026-03-04T09:10+01:00[Europe/Berlin]", "2026-03-04T09:10:00+01:00"},
		{"４ March 2026 ９:１０", "2026-03-04T09:10:00+01:00"},
		{"March 4, 2026 at 9:10 AM", "2026-03-04T09:10:00+01:00"},
		{"4th of March 2026, 9:10", "2026-03-04T09:10:00+01:00"},
		{"2024-02-29 9:10", "2024-02-29T09:10:00+01:00"},
		{"2026-03-29 1:59", "2026-03-29T01:59:00+01:00"},
		{"2026-03-29 3:00", "2026-03-29T03:00:00+02:00"},
		{"2025-10-26 2:30", "2025-10-26T02:30:00+02:00"},
		{"2025-10-26T02:30+01:00", "2025-10-26T02:30:00+01:00"},
		{"2 days ago 9:10", "2026-03-30T09:10:00+02:00"},
	} {
		got, err := ReadTime(c.in, now)
		if err != nil || got.Time.Format(time.RFC3339) != c.want {
			t.Errorf("%q: %v %v, want %s", c.in, got.Time.Format(time.RFC3339), err, c.want)
		}
	}
	for _, c := range []struct{ in, say string }{
		{"", "no time given"},
		{"garbage", `"garbage" is not a time`},
		{"yestreday 9:10", `"yestreday" is not a day`},
		{"9:10", `"9:10" has no day: write today 9:10 or yesterday 9:10`},
		{"today", `"today" has no time of day`},
		{"2026-02-30 9:10", "there is no day 2026-02-30"},
		{"2025-02-29 9:10", "there is no day 2025-02-29"},
		{"2026-13-04 9:10", "there is no day 2026-13-04"},
		{"04/03/2026 9:10", "could have the day or the month first"},
		{"4.3.2026 9:10", "could have the day or the month first"},
		{"4/3 9:10", "could have the day or the month first"},
		{"monday 9:10", `"monday" could be one of two days`},
		{"today 25:00", "there is no time 25:00"},
		{"today 9:75", "there is no time 9:75"},
		{"today 13:00 pm", "there is no time 13:00 pm"},
		{"2026-03-29 2:30", "there was no 2:30 on 2026-03-29: the clocks went from 02:00 to 03:00"},
		{"2026-03-04T25:10Z", "not a time that exists"},
		{"2026-03-04T09:10+03:00[Europe/Berlin]", "was not at offset +03:00"},
		{"2026-03-04T09:10+01:00[Mars/Base]", "no time zone is called Mars/Base"},
		{"1066-10-14 9:10", "the year 1066 cannot be right"},
	} {
		if got, err := ReadTime(c.in, now); err == nil || !strings.Contains(err.Error(), c.say) {
			t.Errorf("%q: %v, %v; want %q", c.in, got, err, c.say)
		}
	}
	m, err := ReadTime("2025-10-26 2:30", now)
	if err != nil || m.Zone != "Europe/Berlin" || !strings.Contains(m.Warning, "2:30 came twice") || !strings.Contains(m.Warning, "2025-10-26T02:30+01:00") {
		t.Errorf("overlap: %+v %v", m, err)
	}
	if m, _ := ReadTime("2025-10-26 3:30", now); m.Warning != "" {
		t.Errorf("no overlap: %q", m.Warning)
	}
	howe, err := time.LoadLocation("Australia/Lord_Howe")
	if err != nil {
		t.Fatal(err)
	}
	if _, err := ReadTime("2026-10-04 2:10", now.In(howe)); err == nil || !strings.Contains(err.Error(), "from 02:00 to 02:30") {
		t.Errorf("half-hour gap: %v", err)
	}
	if m, err := ReadTime("2026-04-05 1:45", now.In(howe)); err != nil || m.Warning == "" || m.Time.Format("15:04Z07:00") != "01:45+11:00" {
		t.Errorf("half-hour overlap: %+v %v", m, err)
	}
	if m, _ := ReadTime("today 9:10", now.In(time.FixedZone("", 3600))); m.Zone != "" {
		t.Errorf("zone of an offset: %q", m.Zone)
	}
}

// Every minute of a year in three zones is either read as itself, or was left
// out by a change of the clocks.
func TestParseTimeEveryHour(t *testing.T) {
	for _, zone := range []string{"Europe/Berlin", "America/New_York", "Australia/Lord_Howe", "UTC"} {
		loc, err := time.LoadLocation(zone)
		if err != nil {
			t.Fatal(err)
		}
		gaps, twice := 0, 0
		for u := time.Date(2025, 1, 1, 0, 15, 0, 0, time.UTC); u.Year() == 2025; u = u.Add(30 * time.Minute) {
			s := u.Format("2006-01-02 15:04")
			m, err := ReadTime(s, now.In(loc))
			if err != nil {
				gaps++
				continue
			}
			if m.Time.Format("2006-01-02 15:04") != s {
				t.Errorf("%s %s: read as %v", zone, s, m.Time)
			}
			if m.Warning != "" {
				twice++
			}
		}
		want := map[string]int{"Europe/Berlin": 2, "America/New_York": 2, "Australia/Lord_Howe": 1}[zone]
		if gaps != want || twice != want {
			t.Errorf("%s: %d left out, %d twice, want %d", zone, gaps, twice, want)
		}
	}
}

func TestParseDay(t *testing.T) {
	for in, want := range map[string]string{"today": "2026-04-01", "Yesterday": "2026-03-31", "2026-03-04": "2026-03-04", "1 day ago": "2026-03-31",
		"4 Mar 2026": "2026-03-04", "sept 4 2025": "2025-09-04", "2026‑03‑04": "2026-03-04"} {
		if got, err := ParseDay(in, now); err != nil || got != day(want) {
			t.Errorf("%q: %v %v", in, got, err)
		}
	}
	for _, in := range []string{"", "tomorrow", "monday", "mon", "4/3/26", "2026-00-01", "2026-04-31", "ma 4 2026", "4 foo 2026", "2026-W12"} {
		if got, err := ParseDay(in, now); err == nil {
			t.Errorf("%q read as %v", in, got)
		}
	}
}
