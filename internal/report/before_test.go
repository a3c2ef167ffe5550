package report

import (
	"reflect"
	"testing"

	"firstcue/internal/analysis"
	"firstcue/internal/training"
)

func TestAskedBeforeOnly(t *testing.T) {
	tally := func(cue string, yes, of int) training.Trial {
		return training.Trial{Cue: cue, Outcome: training.Counted, Tally: training.Tally{Yes: yes, Of: of}}
	}
	slow := training.Trial{Cue: "come", Outcome: training.Answered, Asks: 1, Latency: known(9)}
	session := func(d int, baseline bool, trials ...training.Trial) training.Session {
		return training.Session{Dog: "Tarn", Start: day(d).Time(utc), Baseline: baseline, Trials: trials}
	}
	voided, again, later := session(4, true, tally("come", 9, 9)), session(4, true, tally("come", 9, 9)), session(21, true, tally("come", 9, 9))
	voided.Voided, again.Rescores = "another dog", "s1"
	r := training.Record{
		Kennel: training.Kennel{Cues: []training.Cue{{Name: "come", Aliases: []string{"here"}}}},
		Sessions: []training.Session{
			session(4, true, tally("here", 3, 5), slow, tally("down", 1, 5)),
			session(5, true, tally("come", 1, 1), training.Trial{Cue: "heel", Outcome: training.Walked, Walked: known(60)}),
			session(6, true, tally("come", 9, 9)), // in a hold
			session(7, false, tally("down", 5, 5)),
			voided, again, later,
		},
	}
	a := analysis.Assessment{Dog: training.Dog{Name: "Tarn", Holds: []training.VetHold{{From: day(6), To: day(6)}}}, AsOf: day(20), NeverTried: []string{"sit", "heel", "come"}}
	got := AskedBeforeOnly(a, r, func(string, string) analysis.Rule { return analysis.Rule{Limit: known(3)} })
	want := []AskedBefore{{Cue: "heel", Trials: 1, Sessions: 1, Last: day(5)}, {Cue: "come", Yes: 4, Of: 7, Trials: 7, Sessions: 2, Last: day(5)}}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("got  %+v\nwant %+v", got, want)
	}
}
