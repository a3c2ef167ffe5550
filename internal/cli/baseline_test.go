package cli

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
)

// TestACueAskedBeforeTeachingWasAsked: whoever was there on the first day knows
// that the cue was asked, and no page may say otherwise without the count.
func TestACueAskedBeforeTeachingWasAsked(t *testing.T) {
	s := newScript(t)
	for _, c := range []string{
		"firstcue dog add Fern --arrived 2026-03-02 --due 2026-03-21 --goal 'down, 90%' --goal 'come, 90%' --goal 'sit, 90%'",
		"firstcue log --new --text 'dog: Fern; handler: Ailsa; baseline: yes\nstart: 2026-03-02 09:10; place: paddock; leash: off; distraction: 1\ncome 3/5\ndown 1/5\ncome +, -'",
		"firstcue log --text 'dog: Fern; handler: Ailsa\nstart: 2026-03-04 09:10; place: paddock; leash: off; distraction: 1\ndown 3+'",
	} {
		if out := s.run(c, nil); strings.Contains(out, "[exit") {
			t.Fatalf("%s: %s", c, out)
		}
	}
	said := func(c string) string { return strings.Join(strings.Fields(s.run(c, nil)), " ") }
	for c, want := range map[string][]string{
		"firstcue report Fern":                   {"Never asked: sit.", "Never asked since teaching began, only before it: come (4/7 in 1 session)."},
		"firstcue report Fern --format markdown": {"Never asked since teaching began, only before it: come (4/7 in 1 session)."},
		"firstcue report Fern --format html":     {"Never asked since teaching began, only before it: come (4/7 in 1 session)."},
		"firstcue report Fern --format json":     {`"askedBeforeTeachingOnly": [ { "cue": "come", "yes": 4, "of": 7, "trials": 7, "sessions": 1 } ]`},
		"firstcue dog show Fern":                 {"come come voice before teaching only before teaching: 4/7 Mon 2 Mar", "sit sit voice never asked - -"},
		"firstcue progress Fern come":            {"Fern has no trial of come that counts; 7 trials before teaching"},
		"firstcue progress Fern sit":             {"Fern has no trial of sit that counts"},
	} {
		for _, w := range want {
			if out := said(c); !strings.Contains(out, w) {
				t.Errorf("%s: no %q in %s", c, w, out)
			}
		}
	}
	s.must("firstcue packet Fern")
	page, err := os.ReadFile(filepath.Join(s.dir, "fern-packet", "packet.html"))
	if err != nil {
		t.Fatal(err)
	}
	for _, w := range []string{"Not taught or not tried here: sit.", "Tried before any teaching, and not since: come (4/7)."} {
		if !strings.Contains(string(page), w) {
			t.Errorf("the packet has no %q", w)
		}
	}
}
