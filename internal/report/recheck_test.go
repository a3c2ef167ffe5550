package report

import (
	"testing"
	"time"

	"firstcue/internal/analysis"
	"firstcue/internal/training"
)

// TestRecheckSpans: each date lies in its own span, spans follow on one another
// from the day after the handoff, and no day belongs to two, whatever the day of
// the year.
func TestRecheckSpans(t *testing.T) {
	for h := training.Date(2027, time.December, 1); h < training.Date(2029, time.January, 1); h++ {
		list, spans := Rechecks(h), RecheckSpans(h)
		if len(list) != 9 || len(spans) != len(list) {
			t.Fatalf("%s: %d dates, %d spans", h, len(list), len(spans))
		}
		next := h + 1
		for i, s := range spans {
			if s[0] != next || s[1] < s[0] || list[i].Day < s[0] || list[i].Day > s[1] {
				t.Fatalf("%s: %s on %s has the days %s to %s, after %s", h, list[i].Code, list[i].Day, s[0], s[1], next-1)
			}
			next = s[1] + 1
		}
	}
}

func TestStatesOfARecheck(t *testing.T) {
	home := training.Date(2026, time.March, 21)
	stay := training.Boarding{Arrived: home - 19, Home: home}
	state := func(day training.Day, seen ...int) []RecheckState {
		visits := make([]analysis.Visit, 0, 9)
		for i, s := range RecheckSpans(home) {
			v := analysis.Visit{From: s[0], To: s[1]}
			for _, n := range seen {
				if n == i {
					v.Sessions = 1
				}
			}
			visits = append(visits, v)
		}
		d := MakeRechecks(training.Dog{Name: "Tarn"}, stay, analysis.Visit{}, visits, nil, day)
		var out []RecheckState
		for _, r := range d.Rows[:3] {
			out = append(out, r.State)
		}
		return out
	}
	for _, c := range []struct {
		after int // days after the handoff
		seen  []int
		want  [3]RecheckState
	}{
		{0, nil, [3]RecheckState{"later", "later", "later"}},
		{6, nil, [3]RecheckState{"later", "later", "later"}},
		{7, nil, [3]RecheckState{"due", "later", "later"}},
		{8, nil, [3]RecheckState{"overdue", "later", "later"}},
		{10, nil, [3]RecheckState{"overdue", "later", "later"}},
		{11, nil, [3]RecheckState{"missed", "later", "later"}},
		{14, []int{0}, [3]RecheckState{"done", "due", "later"}},
		{15, []int{0}, [3]RecheckState{"done", "overdue", "later"}},
		{15, []int{1}, [3]RecheckState{"missed", "done", "later"}},
	} {
		got := state(home+training.Day(c.after), c.seen...)
		if [3]RecheckState(got) != c.want {
			t.Errorf("%d days after, seen %v: %v, not %v", c.after, c.seen, got, c.want)
		}
	}
}
