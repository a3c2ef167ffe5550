package cli

import (
	"strings"
	"testing"
)

// TestPlanNamesDaysAsPeopleDo: a plan and a day sheet are read by a person, as
// the report is.
func TestPlanNamesDaysAsPeopleDo(t *testing.T) {
	s := logged(t)
	for _, c := range []string{"firstcue incident add Tarn 'snapped at the gate' --day 2026-03-19"} {
		if out := s.run(c, nil); strings.Contains(out, "[exit") {
			t.Fatal(out)
		}
	}
	for c, want := range map[string][]string{
		"firstcue plan Tarn --as-of 2026-03-20": {"STOP   Collar off, no correction of any kind. 19 March: snapped at the gate.", "from the record up to Fri 20 March 2026\n"},
		"firstcue plan --as-of 2026-03-20":      {"Day sheet", "STOP. Collar off, no correction of any kind. 19 March: snapped at the gate."},
	} {
		out := s.run(c, nil)
		for _, w := range want {
			if !strings.Contains(out, w) {
				t.Errorf("%s: no %q in\n%s", c, w, out)
			}
		}
		if strings.Contains(out, "2026-03-") {
			t.Errorf("%s:\n%s", c, out)
		}
	}
}
