package report

import (
	"slices"
	"strings"
	"testing"
	"time"

	"firstcue/internal/analysis"
	"firstcue/internal/training"
)

func TestNightlySaysWhatWasLost(t *testing.T) {
	heel := analysis.CueAssessment{Cue: "heel", Kind: training.Motion, Verdict: analysis.NotReady, Days3: []analysis.DayPoint{
		{Day: day(18), Minutes: 16, Verdict: analysis.Ready},
		{Day: day(19), Breaks: 18, Minutes: 16, Verdict: analysis.NotReady},
		{Day: day(20), Breaks: 18, Minutes: 16, Verdict: analysis.NotReady}}}
	for _, x := range []struct {
		lost training.Day
		want string
	}{
		{day(20), "was ready, now not ready: 18 breaks in 16 min"},
		{day(19), "was ready, now not ready: 36 breaks in 32 min since Thu 19 Mar"},
		{day(18), ""},
		{0, ""},
	} {
		h := heel
		h.Lost = x.lost
		if x.lost == day(20) {
			h.Days3 = slices.Clone(h.Days3)
			h.Days3[1].Verdict = analysis.Ready
		}
		n := MakeNightly(day(20), []analysis.Assessment{{Dog: training.Dog{Name: "Tarn"}, AsOf: day(20), Verdict: analysis.NotReady, Cues: []analysis.CueAssessment{h}}}, nil, nil)
		got := ""
		for _, a := range n.Attention {
			if a.Code == "lost" {
				got = a.Text
			}
		}
		if got != x.want {
			t.Errorf("lost on %s: %q, want %q", x.lost, got, x.want)
		}
		if w := walkWords(n.Rows[0]); len(w) != 1 || w[0] != "heel 18 in 16 min" {
			t.Errorf("walks %q", w)
		}
	}
}

func TestDogAtHomeInTrouble(t *testing.T) {
	cue := func(yes, of int) analysis.VisitCue {
		return analysis.VisitCue{Cue: "come", Kind: training.Response, Days: []training.Day{day(1)}, All: share(yes, of, 1)}
	}
	judged := func(yes int, v analysis.Verdict) DogRechecks {
		d := DogRechecks{Handoff: analysis.Visit{Cues: []analysis.VisitCue{cue(12, 12)}},
			Rows: []RecheckRow{{State: RecheckDone, Visit: analysis.Visit{Cues: []analysis.VisitCue{cue(yes, 10)}}}}}
		is := func(v analysis.Verdict) analysis.Assessment {
			return analysis.Assessment{Cues: []analysis.CueAssessment{{Cue: "come", Verdict: v, Criteria: analysis.Defaults()}}}
		}
		d.Judge(is(analysis.Ready), is(v))
		return d
	}
	if d := judged(3, analysis.Ready); !d.NeedsAttention() || d.lastWords() != "come 3/10 (12/12 at handoff), not ready" {
		t.Errorf("%v %q", d.NeedsAttention(), d.lastWords())
	}
	if d := judged(10, analysis.Ready); d.NeedsAttention() {
		t.Errorf("%q", d.lastWords())
	}
	if d := judged(9, analysis.NotShown); !d.NeedsAttention() {
		t.Errorf("%q", d.lastWords())
	}
	n := Nightly{Day: day(20)}
	n.AddHome("Tarn", day(10), []training.Incident{{Day: day(15), Text: "bit"}, {Day: day(12), Closed: day(13)}, {Day: day(21)}})
	if len(n.Attention) != 1 || !n.NeedsAttention() {
		t.Errorf("%+v", n.Attention)
	}
}

func TestOnlyOneSignal(t *testing.T) {
	c := analysis.CueAssessment{FirstCue: firstCue(192, 192, 20, 1), Contexts: []analysis.Context{{Kind: analysis.BySignal, Value: "whistle", Share: share(192, 192, 20)}}}
	if got := onlySignal(c); got != "Asked only by whistle (192 of 192). The voice was not tried." {
		t.Error(got)
	}
	c.Contexts[0].Value = "voice"
	if got := onlySignal(c); got != "" {
		t.Error(got)
	}
}

func TestOwnersWalk(t *testing.T) {
	c := analysis.CueAssessment{Kind: training.Motion, Owner: analysis.Owner{Share: analysis.Share{Sessions: 5}, Breaks: &analysis.Breaks{Minutes: 20}}}
	if got := ownersFigure(c); got != "0 breaks in 20 min, 5 lessons" {
		t.Error(got)
	}
	if j := cueOf(c); j.Owner.Yes.Known || j.Cold.Asked.Known {
		t.Error("a walk has no asks")
	}
}

func TestAxisNamesTheNewMonth(t *testing.T) {
	ch := courseChart{unit: "%", top: 1}
	for d := training.Date(2026, time.October, 20); d <= training.Date(2026, time.November, 2); d++ {
		ch.points = append(ch.points, coursePoint{day: d, value: known(0.5)})
	}
	if s := ch.svgBody(); !strings.Contains(s, " Nov<") || !strings.Contains(s, "October and November 2026") {
		t.Error(s)
	}
}

func TestWrapBreaksBetweenWords(t *testing.T) {
	got := Wrap("  the quick brown fox jumps over it", 20, 4)
	if want := []string{"  the quick brown", "fox jumps over", "it"}; !slices.Equal(got, want) {
		t.Errorf("%q", got)
	}
}
