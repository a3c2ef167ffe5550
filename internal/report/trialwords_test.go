package report

import (
	"bytes"
	"encoding/csv"
	"strings"
	"testing"

	"firstcue/internal/analysis"
	"firstcue/internal/training"
)

// TestTrialWords holds the plain words of a trial to what was noted: each ask
// that was not answered, the distance also of a tally, and the limit that an
// answer missed.
func TestTrialWords(t *testing.T) {
	n := training.Known
	rule := analysis.Rule{Limit: n(3), Arrive: n(8)}
	o := Options{Rules: func(string, string) analysis.Rule { return rule }}
	response := func(outcome training.Outcome, asks int) training.Trial {
		return training.Trial{Cue: "sit", Kind: training.Response, Outcome: outcome, Asks: asks}
	}
	with := func(x training.Trial, f func(*training.Trial)) training.Trial { f(&x); return x }
	for _, c := range []struct {
		trial training.Trial
		want  string
	}{
		{response(training.Answered, 3), "3 asks: no, no, then yes"},
		{response(training.Answered, 2), "2 asks: no, then yes"},
		{response(training.Refused, 1), "1 ask: no, never answered"},
		{response(training.Refused, 2), "2 asks: no, no, never answered"},
		{response(training.Answered, 7), "7 asks: no 6 times, then yes"},
		{with(response(training.Answered, 3), func(x *training.Trial) { x.Did = "sat" }), "3 asks: sat instead, no, then yes"},
		{with(response(training.Answered, 2), func(x *training.Trial) { x.Begun, x.Completion = n(1), n(12.4) }), "2 asks: began in 1 s and did not finish, then yes, done at 12.4 s"},
		{with(response(training.Answered, 2), func(x *training.Trial) { x.Waited = n(4) }), "2 asks: no for 4 s, then yes"},
		{training.Trial{Cue: "come", Outcome: training.Counted, Tally: training.Tally{Yes: 8, Of: 10}, Distance: n(15)}, "tally: 8 of 10 on the first ask, at 15 m"},
		{with(response(training.Answered, 1), func(x *training.Trial) { x.Latency = n(9) }), "first ask: yes in 9 s, over 3 s: no first-cue answer"},
		{with(response(training.Answered, 1), func(x *training.Trial) { x.Latency = n(3) }), "first ask: yes in 3 s"},
		{with(response(training.Answered, 1), func(x *training.Trial) { x.Latency, x.Completion = n(2), n(9) }), "first ask: yes in 2 s, done at 9 s, over 8 s: no first-cue answer"},
		{with(response(training.Answered, 2), func(x *training.Trial) { x.Latency = n(9) }), "2 asks: no, then yes in 9 s"},
	} {
		got := trialWords(c.trial) + lateWords("Pip", c.trial, o)
		if got != c.want {
			t.Errorf("%+v:\n got %s\nwant %s", c.trial, got, c.want)
		}
		if yes, of := analysis.FirstCueUnder(c.trial, rule); of == 1 && c.trial.Asks == 1 && c.trial.Outcome == training.Answered &&
			(yes == 0) != strings.Contains(got, "no first-cue answer") {
			t.Errorf("%q, but counted %d of %d", got, yes, of)
		}
	}
}

// TestCellsThatDoNotApply: an empty cell is not 0, and 0 is written only where
// it was counted.
func TestCellsThatDoNotApply(t *testing.T) {
	var b bytes.Buffer
	s := training.Session{Dog: "Pip", Trials: []training.Trial{
		{Cue: "sit", Kind: training.Response, Outcome: training.Answered, Asks: 1},
		{Cue: "sit", Kind: training.Response, Outcome: training.Counted, Tally: training.Tally{Yes: 0, Of: 4}},
		{Cue: "heel", Kind: training.Motion, Outcome: training.Walked, Asks: 1, Walked: training.Known(60)},
		{Cue: "stay", Kind: training.Holding, Outcome: training.Held, Asks: 1},
		{Cue: "sit", Kind: training.Response, Outcome: training.Early},
	}}
	if err := TrialsCSV(&b, []training.Session{s}, CSVOptions{}); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	at := map[string]int{}
	for i, h := range rows[0] {
		at[h] = i
	}
	for i, want := range []string{"1|||", "||0|4", "1|0||", "1|0||", "|||"} {
		r := rows[i+1]
		if got := strings.Join([]string{r[at["asks"]], r[at["breaks"]], r[at["tally_yes"]], r[at["tally_of"]]}, "|"); got != want {
			t.Errorf("row %d: asks|breaks|tally_yes|tally_of is %s, want %s", i+1, got, want)
		}
	}
}
