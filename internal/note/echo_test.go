package note

import (
	"strings"
	"testing"
	"time"

	"firstcue/internal/training"
)

func echoed(t *testing.T, lines string) string {
	t.Helper()
	r := Parse([]byte(head+lines), options())
	if len(r.Problems) > 0 {
		t.Fatalf("%q: %v", lines, r.Problems)
	}
	var out []string
	for _, e := range Echo(r.Sessions[0]) {
		out = append(out, e.Text)
	}
	return strings.Join(out, "\n")
}

// What is stored is said in words, so that a wrong reading is seen.
func TestEcho(t *testing.T) {
	for _, c := range []struct{ lines, want string }{
		{"stay 1:00 30+", "stay: 30 holds of 1:00, all held"},
		{"down +, - +, +", "down: 3 trials, 2 answered, one asked twice"},
		{"sit yes no yes yes", "sit: 4 trials, 3 answered, one not answered"},
		{"sit 3+", "sit: 3 trials, all answered"},
		{"sit +", "sit: 1 trial, answered"},
		{"sit - -", "sit: 1 trial, asked twice and not answered"},
		{"down - @9 +1.6", "down: 1 trial, asked twice, corrected at level 9"},
		{"down - @tone +", "down: 1 trial, asked twice, corrected by tone"},
		{"down help +, help +", "down: 2 trials, all answered, helped twice"},
		{"come 20m whistle +", "come: 1 trial at 20 m by whistle, answered"},
		{"heel 3:20 2- forward, 1- left", "heel: walked 3:20, 3 breaks (forward, forward, left)"},
		{"heel 5:00 0-", "heel: walked 5:00, 0 breaks"},
		{"down 4/5 @9", "down: 4 of 5, corrected at level 9"},
		{"stay 2:00 +, - 0:45, released 1:10", "stay: 3 holds of 2:00, one held, one broken at 45s, one released early at 1:10"},
		{"sit early, ?", "sit: 1 time before the cue, not counted; 1 trial not scored"},
		{"tired today", "kept as a remark: tired today"},
		{"! growled", "kept as an incident: growled"},
		{"collar: on 8:00, off 12:10; skin: fine; owner: repeated 3, late 1\nlink: https://example.org/v for owner\nsit +",
			"sit: 1 trial, answered\ncollar worn 4.17 hours: on 8:00, off 12:10\nskin checked: fine\nowner: repeated 3, late 1\nlink kept: https://example.org/v for owner"},
	} {
		if got := echoed(t, c.lines); got != c.want {
			t.Errorf("%q:\n got %s\nwant %s", c.lines, got, c.want)
		}
	}
}

// What belongs to one session does not go over to the next, nor is it lost.
func TestCare(t *testing.T) {
	r := Parse([]byte(head+"collar: on 8:00, off 12:10; skin: fine\nlink: https://example.org/a;b#c\nsit +\nplace: yard\nsit +\ndog: Moss; start: 2026-03-04 9:40\nskin: red spot\n"), options())
	if len(r.Problems) > 0 || len(r.Sessions) != 3 {
		t.Fatalf("%v %d sessions", r.Problems, len(r.Sessions))
	}
	a, b, c := r.Sessions[0], r.Sessions[1], r.Sessions[2]
	if differ(a.Worn, []training.Worn{{On: 480, Off: 730}}) != "" || a.Skin != "fine" || a.Links[0].Address != "https://example.org/a;b#c" || a.Links[0].Owner {
		t.Errorf("first: %+v", a)
	}
	if len(b.Worn)+len(b.Links) > 0 || b.Skin != "" || c.Skin != "red spot" || len(c.Trials) > 0 {
		t.Errorf("later: %+v\n%+v", b, c)
	}
}

// A stored session keeps its meaning when its text would be read differently.
func TestTextOf(t *testing.T) {
	s := Parse([]byte(head+"sit - +\ndown 2+"), options()).Sessions[0]
	if text, as := TextOf(s, options()); !as || !strings.HasSuffix(text, "down 2+") {
		t.Errorf("as written: %v %q", as, text)
	}
	s.Note = strings.Replace(s.Note, "sit - +", "sit no yes", 1) // once one trial, two today
	text, as := TextOf(s, options())
	again := Parse([]byte(text), options())
	if as || len(again.Problems) > 0 || same(s, again.Sessions[0]) != "" {
		t.Errorf("canonical: %v %q %v", as, text, again.Problems)
	}
}

// The day of the note is the caller's; a note that leans on it says so.
func TestDayOfNote(t *testing.T) {
	o := options()
	o.Written = time.Date(2026, 3, 20, 20, 0, 0, 0, berlin)
	text := "dog: Juniper; handler: Maren; start: %; place: yard; leash: off; distraction: 1\nsit +"
	for in, relative := range map[string]bool{"9:10": true, "today 9:10": true, "friday 9:10": true, "2026-03-20 9:10": false} {
		r := Parse([]byte(strings.Replace(text, "%", in, 1)), o)
		if len(r.Problems) > 0 || r.Sessions[0].Day() != day("2026-03-20") || r.Relative != relative {
			t.Errorf("%q: %v relative %v", in, r.Problems, r.Relative)
		}
	}
}
