package cli

import (
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
		"firstcue report Fern":                   {"Come and sit were never asked."},
		"firstcue report Fern --full":            {"Come was never asked since teaching began.", "Sit was never asked."},
		"firstcue report Fern --format markdown": {"Come was never asked since teaching began."},
		"firstcue report Fern --format html":     {"Come was never asked since teaching began."},
		"firstcue report Fern --format json":     {`"cue": "come", "kind": "response", "agreed": true, "askedBeforeTeaching": true`},
		"firstcue brief Fern":                    {"come come voice before teaching only", "sit sit voice never asked"},
		"firstcue progress Fern come":            {"Fern has no trial of come that counts"},
		"firstcue progress Fern sit":             {"Fern has no trial of sit that counts"},
	} {
		for _, w := range want {
			if out := said(c); !strings.Contains(out, w) {
				t.Errorf("%s: no %q in %s", c, w, out)
			}
		}
	}
}
