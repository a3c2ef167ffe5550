package cli

import (
	"errors"
	"slices"
	"strings"
	"testing"

	"firstcue/internal/analysis"
	"firstcue/internal/training"
)

// TestHandoffJudgesADayOnce: judging is the slow part of sending a dog home.
func TestHandoffJudgesADayOnce(t *testing.T) {
	const monday = training.Day(20000)
	for _, c := range []struct {
		name      string
		due, left training.Day
		asked     []training.Day
		onDue     training.Day
	}{
		{"on the due day", monday, monday, []training.Day{monday}, monday},
		{"early", monday + 3, monday, []training.Day{monday}, monday},
		{"no due day", 0, monday, []training.Day{monday}, monday},
		{"late", monday - 2, monday, []training.Day{monday, monday - 2}, monday - 2},
	} {
		var asked []training.Day
		due, left, err := handoff(c.due, c.left, func(d training.Day) (analysis.Assessment, error) {
			asked = append(asked, d)
			return analysis.Assessment{Day: d}, nil
		})
		if err != nil || !slices.Equal(asked, c.asked) || due.Day != c.onDue || left.Day != c.left {
			t.Errorf("%s: judged %v, due %v, left %v, %v", c.name, asked, due.Day, left.Day, err)
		}
	}
	broken := errors.New("the disk")
	if _, _, err := handoff(monday-1, monday, func(training.Day) (analysis.Assessment, error) { return analysis.Assessment{}, broken }); !errors.Is(err, broken) {
		t.Errorf("%v", err)
	}
}

// TestHomeSaysTheVerdictOfTheLastDay: the same words whether the due day is the
// last day or not, and those of the report.
func TestHomeSaysTheVerdictOfTheLastDay(t *testing.T) {
	for _, due := range []string{"", " --due 2026-03-20", " --due 2026-03-19", " --due 2026-04-01"} {
		s := newScript(t)
		for _, c := range []string{
			"firstcue dog add Tarn --arrived 2026-03-02 --goal 'sit, 90%'" + due,
			"firstcue log --new --dog Tarn --handler Ailsa --place paddock --leash off --distraction 1 --start '2026-03-20 09:10' --text 'sit 3+'",
		} {
			if out := s.run(c, nil); strings.Contains(out, "[exit") {
				t.Fatal(out)
			}
		}
		out := s.run("firstcue dog home Tarn --day 2026-03-20", nil)
		if want := "the report said NOT PROVEN that day: firstcue report Tarn --as-of 2026-03-20\n"; strings.Count(out, "the report said") != 1 || !strings.Contains(out, want) {
			t.Errorf("due%q: %s", due, out)
		}
	}
}
