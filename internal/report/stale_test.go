package report

import (
	"bytes"
	"encoding/json"
	"testing"

	"firstcue/internal/analysis"
	"firstcue/internal/training"
)

// What makes a "ready" old news is in the JSON as in the text, and is null for a
// dog that is not ready.
func TestReportJSONSaysHowOldReadyIs(t *testing.T) {
	for _, c := range []struct {
		a           analysis.Assessment
		stale, mine string
	}{
		{analysis.Assessment{Verdict: analysis.Ready, Stale: 12, OwnerConfirmed: true, OwnerStale: 15}, "12", "15"},
		{analysis.Assessment{Verdict: analysis.Ready, OwnerConfirmed: true}, "0", "0"},
		{analysis.Assessment{Verdict: analysis.NotShown}, "null", "null"},
		{analysis.Assessment{Verdict: analysis.OnHold, OwnerConfirmed: true, OwnerStale: 15}, "null", "15"},
	} {
		var b bytes.Buffer
		if err := JSON(&b, c.a, Options{}); err != nil {
			t.Fatal(err)
		}
		var got map[string]json.RawMessage
		if err := json.Unmarshal(b.Bytes(), &got); err != nil {
			t.Fatal(err)
		}
		if s, m := string(got["daysNotAsked"]), string(got["ownerDaysNotAsked"]); s != c.stale || m != c.mine {
			t.Errorf("%s: daysNotAsked %s, ownerDaysNotAsked %s", c.a.Verdict, s, m)
		}
	}
}

// An incident that its note no longer tells of stays open, and a script can see why.
func TestJSONSaysThatAnIncidentWasDropped(t *testing.T) {
	a := analysis.Assessment{Verdict: analysis.NotReady, Incidents: []training.Incident{{Day: day(5), Text: "growled", Session: "s1", Dropped: true}, {Day: day(6), Text: "bit"}}}
	var b bytes.Buffer
	if err := JSON(&b, a, Options{}); err != nil {
		t.Fatal(err)
	}
	var got struct {
		OpenIncidents []struct{ Dropped *bool }
	}
	if err := json.Unmarshal(b.Bytes(), &got); err != nil {
		t.Fatal(err)
	}
	if l := got.OpenIncidents; len(l) != 2 || l[0].Dropped == nil || !*l[0].Dropped || l[1].Dropped == nil || *l[1].Dropped {
		t.Errorf("%s", b.String())
	}
}
