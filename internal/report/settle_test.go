package report

import (
	"strings"
	"testing"
	"time"

	"firstcue/internal/analysis"
	"firstcue/internal/training"
)

// A session of which two stores say different things is asked about every night
// and in every report, until somebody chose.
func TestTwoFormsAreSaid(t *testing.T) {
	start := time.Date(2026, 3, 4, 9, 0, 0, 0, time.UTC)
	s := training.Session{ID: "019cb813-0000-7000-8000-00000a317c8f3", Dog: "Tarn", Handler: "Ailsa", Start: start,
		Trials: []training.Trial{{Cue: "sit", Kind: training.Response, Outcome: training.Counted, Tally: training.Tally{Yes: 9, Of: 10}}}}
	r := training.Record{Dog: training.Dog{Name: "Tarn"}, Sessions: []training.Session{s}, Kennel: training.Kennel{Cues: training.SeedCues()}}
	day := s.Day()
	for _, unsettled := range []bool{false, true} {
		if unsettled {
			r.Unsettled = []string{s.ID}
		}
		a := analysis.Assess(r, func(c string) analysis.Criteria { return analysis.Resolve(r.Kennel, nil, "Tarn", c) }, day)
		var night, report strings.Builder
		if err := NightlyText(&night, MakeNightly(day, []analysis.Assessment{a}, nil, nil), Options{}); err != nil {
			t.Fatal(err)
		}
		if err := Text(&report, a, Options{}); err != nil {
			t.Fatal(err)
		}
		n, p := strings.Join(strings.Fields(night.String()), " "), strings.Join(strings.Fields(report.String()), " ")
		if got := strings.Contains(n, "Tarn: session of Wed 4 Mar, 09:00, said differently in two stores: firstcue session history a317c8f3"); got != unsettled {
			t.Errorf("unsettled %v, said %v:\n%s", unsettled, got, n)
		}
		if got := strings.Contains(p, "said differently in two stores"); got != unsettled {
			t.Errorf("unsettled %v, in the report %v:\n%s", unsettled, got, p)
		}
	}
}

// Twice the same session in the list: the second scoring says so, and whose it is.
func TestSecondScoringIsMarked(t *testing.T) {
	start := time.Date(2026, 3, 4, 9, 0, 0, 0, time.UTC)
	one := training.Session{ID: "0000000a", Dog: "Tarn", Handler: "Ailsa", Start: start}
	two := training.Session{ID: "0000000b", Dog: "Tarn", Handler: "Ailsa", Scorer: "Bram", Start: start, Rescores: one.ID}
	var b strings.Builder
	if err := SessionsTable(&b, []training.Session{one, two}, Options{}); err != nil {
		t.Fatal(err)
	}
	lines := strings.Split(strings.TrimSpace(b.String()), "\n")
	if len(lines) != 3 || strings.Contains(lines[1], "scoring") || !strings.Contains(lines[2], "2nd scoring, Bram: no trial") {
		t.Errorf("\n%s", b.String())
	}
}
