package report

import (
	"bytes"
	"encoding/csv"
	"strings"
	"testing"

	"firstcue/internal/analysis"
	"firstcue/internal/training"
)

// A spreadsheet of the night that leaves out a dog in trouble would be read as
// "nothing is wrong with it".
func TestNightlyCSVHasDogsAtHome(t *testing.T) {
	n := MakeNightly(day(20), []analysis.Assessment{fern()}, nil, nil)
	n.AddHome("Tarn", day(10), []training.Incident{{Day: day(15), Text: "bit"}, {Day: day(16), Text: "=growled;\nbit"}, {Day: day(12), Closed: day(13)}})
	n.AddHome("Sorrel", day(11), []training.Incident{{Day: day(12), Closed: day(13)}, {Day: day(21)}})
	var b bytes.Buffer
	if err := NightlyCSV(&b, n, CSVOptions{}); err != nil {
		t.Fatal(err)
	}
	rows, err := csv.NewReader(&b).ReadAll()
	if err != nil || len(rows) != 3 {
		t.Fatalf("%v, %d rows: %q", err, len(rows), rows)
	}
	got := map[string]string{}
	for i, name := range rows[0] {
		got[name] = rows[2][i]
	}
	want := map[string]string{"day": "2026-03-20", "dog": "Tarn", "attention": "2", "home": "2026-03-10",
		"attention_words": "at home since Tue 10 Mar, open incident of Sun 15 Mar: bit; at home since Tue 10 Mar, open incident of Mon 16 Mar: =growled; bit"}
	for name, cell := range got {
		if cell != want[name] {
			t.Errorf("%s is %q, want %q", name, cell, want[name])
		}
	}
}

// What a hold leaves out is said in trials and in sessions, and only of the
// cues that it holds.
func TestNightlySaysWhatAHoldLeavesOut(t *testing.T) {
	hold := training.VetHold{From: day(18), Reason: "sore hip"}
	trial := func(cue string, n int) training.Trial {
		return training.Trial{Cue: cue, Tally: training.Tally{Yes: n, Of: n}}
	}
	sessions := map[string][]training.Session{"Tarn": {
		{ID: "1", Start: day(20).Time(utc), Trials: []training.Trial{trial("sit", 3), trial("down", 4)}},
		{ID: "2", Start: day(20).Time(utc), Trials: []training.Trial{trial("sit", 2)}},
		{ID: "3", Start: day(20).Time(utc), Voided: "another dog", Trials: []training.Trial{trial("down", 9)}},
		{ID: "4", Start: day(20).Time(utc), Baseline: true, Trials: []training.Trial{trial("down", 9)}},
		{ID: "5", Start: day(20).Time(utc), Rescores: "1", Trials: []training.Trial{trial("down", 9)}},
		{ID: "6", Start: day(19).Time(utc), Trials: []training.Trial{trial("down", 9)}},
	}}
	for _, c := range []struct {
		cues   []string
		collar bool
		want   string
	}{
		{nil, false, "; 9 trials of the day in 2 sessions left out."},
		{[]string{"down"}, false, "; 4 trials of the day in 1 session left out."},
		{[]string{"stay"}, false, ""},
		{nil, true, ""},
	} {
		hold.Cues, hold.CollarOnly = c.cues, c.collar
		a := analysis.Assessment{Dog: training.Dog{Name: "Tarn"}, AsOf: day(20), Verdict: analysis.OnHold, Holds: []training.VetHold{hold}, LeftOut: 50}
		var b bytes.Buffer
		if err := NightlyText(&b, MakeNightly(day(20), []analysis.Assessment{a}, nil, sessions), Options{}); err != nil {
			t.Fatal(err)
		}
		text := strings.Join(strings.Fields(b.String()), " ")
		if c.want == "" && strings.Contains(text, "left out") || !strings.Contains(text, c.want) || !strings.Contains(text, "sore hip") {
			t.Errorf("%v, collar %v: %s", c.cues, c.collar, text)
		}
	}
}
