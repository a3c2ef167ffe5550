package note

import (
	"strings"
	"testing"
	"time"
)

// TestEdges holds each bound at its value and just beyond it: what is read
// without a word, what with a warning, what not.
func TestEdges(t *testing.T) {
	pip := "dog: Pip; handler: Maren; place: yard; leash: off; distraction: 0; device: blue; start: "
	zoe := "dog: Zoe\u0308; handler: Maren; place: yard; leash: off; distraction: 0; start: 2026-03-05 9:00\n"
	for _, c := range []struct{ note, want string }{
		{head + "sit +15", ""},
		{head + "sit +15.1", "warning: 15.1 s is a long time for one answer"},
		{head + "sit +60", "warning: 60 s is a long time for one answer"},
		{head + "sit +60.1", "60.1 s is longer than any answer takes"},
		{head + "sit +0", ""},
		{head + "come +1>600", ""},
		{head + "come +1>600.1", "600.1 s is longer than any answer takes"},
		{head + "come +1.8>1.8", ""},
		{head + "sit -600s", ""},
		{head + "sit -601s", "601 s is longer than any answer takes"},
		{head + "stay 23:59:59 +", ""},
		{head + "stay 1440 min +", ""},
		{head + "stay 1441 min +", "stay cannot be held for 1441 min"},
		{head + "stay - 1440 min", ""},
		{head + "stay - 1441 min", "stay cannot be held for 24:01:00"},
		{head + "stay released 1440 min", ""},
		{head + "stay released 1441 min", "stay cannot be held for 24:01:00"},
		{head + "stay 2:00 - 2:00", ""},
		{head + "stay 2:00 - 2:01", "warning: stay broke at 2:01, after its target of 2:00"},
		{head + "heel 6:00:00", ""},
		{head + "heel 6:00:01", "a walk of 6:00:01 cannot be right"},
		{head + "sit 100+", ""},
		{head + "sit 101+", "101 times in one line cannot be right"},
		{head + "sit 1000/1000", ""},
		{head + "sit 1001/1001", `"1001/1001" is more trials than a session has`},
		{head + "come 2000m +", ""},
		{head + "come 2001m +", "a distance of 2001 m cannot be right"},
		{head + "0:10 sit\n0:10 +", ""}, // at the same moment
		{zoe + "sit @1 +, @15 +", ""},
		{zoe + "sit @16 +", "red remote has no level 16: its dial runs from 1 to 15"},
		{zoe + "sit @0.5 +", "red remote has no level 0.5: its dial runs from 1 to 15"},
		// born 1 November 2025: six months old on 1 May 2026
		{pip + "2026-04-30 9:00\nsit @9 +", "Pip is under six months old on 2026-04-30, and makers' guides say not under 6 months"},
		{pip + "2026-05-01 9:00\nsit @9 +", ""},
		{pip + "2026-05-10 12:00\nsit +", ""},
		{pip + "2026-05-10 12:01\nsit +", "2026-05-10 12:01 is in the future: it is 2026-05-10 12:00 now"},
		{strings.Replace(head, "2026-03-04", "2026-03-02", 1) + "sit +", ""},
		{strings.Replace(head, "2026-03-04", "2026-03-01", 1) + "sit +", "warning: Juniper had not arrived on 2026-03-01"},
		{head + "> " + strings.Repeat("x", maxLine-2), ""},
		{head + "> " + strings.Repeat("x", maxLine-1), "the line has 10001 characters; a line has at most 10000"},
		{head + "down 2-", "warning: 2- is one dog asked twice; for 2 trials write -, -"},
		{head + "sit +-1.2", `"+-1.2" has two readings`},
		{head + "sit + -1", `warning: "+ -1" is read as a success and a refusal after 1; if it is one success, write +1`},
		{head + "sit +, -1.2", ""},
		{head + "sit + - +", ""},
		{head + "down 3-", "warning: 3- is one dog asked 3 times; for 3 trials write -, -, -"},
		{head + "down \u2014 @9 +", "warning: the long dash is read as one -; phones make it of two"},
		{strings.Replace(head, "; leash: off", "", 1) + "sit +", "warning: leash not said: kept as unknown"},
		{strings.Replace(head, "; distraction: 2", "", 1) + "sit +", "warning: distraction not said: kept as unknown"},
	} {
		o := options()
		o.Now = time.Date(2026, 5, 10, 12, 0, 0, 0, berlin)
		r := Parse([]byte(c.note), o)
		var got []string
		for _, p := range r.Problems {
			got = append(got, p.Message)
		}
		for _, p := range r.Warnings {
			got = append(got, "warning: "+p.Message)
		}
		if strings.Join(got, "\n") != c.want {
			t.Errorf("%.200q:\n got %q\nwant %q", c.note, got, c.want)
		}
	}
}

// A correction is served only when the very next ask of its trial is answered.
func TestServed(t *testing.T) {
	for line, want := range map[string]string{
		"down - @9 +":            "true",
		"down @9 +":              "true",
		"down - @9 - +":          "false",
		"down - @9 x +":          "false",
		"down - @9 +1.0>- +":     "false",
		"down - @9":              "false",
		"down - @9 help +":       "true",
		"stay - 0:45 @6":         "false",
		"stay - 0:45 @6 +":       "true",
		"stay - 0:45 @6 x +":     "false",
		"stay @6 released 1:00":  "true",
		"heel 3:20 - @6":         "true",
		"heel 3:20 - @6 - ":      "false",
		"heel 3:20 @6 @8":        "false true",
		"heel 3:20 - @6 help - ": "false",
	} {
		var got []string
		for _, c := range trialsOf(t, line)[0].Corrections {
			got = append(got, map[bool]string{true: "true", false: "false"}[c.Served])
		}
		if strings.Join(got, " ") != want {
			t.Errorf("%q: served %v, want %s", line, got, want)
		}
	}
}

// A part number that is written, and the ones that follow from it.
func TestPart(t *testing.T) {
	r := Parse([]byte(head+"part: 3\nsit +\nhandler: Dana\nsit +\n"+head+"part: 2\nsit +\nplace: yard\nsit +"), options())
	var got []int
	for _, s := range r.Sessions {
		got = append(got, s.Part)
	}
	if len(got) != 4 || got[0] != 2 || got[1] != 3 || got[2] != 1 || got[3] != 4 {
		t.Errorf("parts %v %v", got, r.Problems)
	}
}
