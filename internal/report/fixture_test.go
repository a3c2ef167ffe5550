package report

import (
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"sync"
	"testing"
	"time"

	"firstcue/internal/analysis"
	"firstcue/internal/note"
	"firstcue/internal/training"
)

// The invented kennel is the demo's: its notes are read as they stand, its lists are
// said again here.
const demoDay = training.Day(20532) // 20 March 2026

var made = time.Date(2026, 3, 20, 20, 5, 0, 0, time.UTC)

func day(s string) training.Day {
	d, err := training.ParseDay(s)
	if err != nil {
		panic(err)
	}
	return d
}

func stay(arrived, due, wishes string) []training.Boarding {
	return []training.Boarding{{Arrived: day(arrived), Due: day(due), Wishes: wishes}}
}

func demoLists() training.Kennel {
	share := training.Known(.9)
	goal := func(cue string) training.Goal { return training.Goal{Cue: cue, Words: cue} }
	k := training.Kennel{
		Handlers: []training.Handler{{Name: "Ailsa", Role: training.Trainer}, {Name: "Bram", Role: training.Trainer},
			{Name: "Pim", Role: training.Outsider}, {Name: "Mrs Oake", Role: training.Owner}, {Name: "Mr Venn", Role: training.Owner}},
		Places: []training.Place{{Name: "paddock"}, {Name: "barn"}, {Name: "orchard"},
			{Name: "mill lane", OffProperty: true}, {Name: "market square", OffProperty: true}},
		Devices: []training.Device{{Name: "blue remote", Lowest: training.Known(0), Highest: training.Known(100)}},
		Cues:    training.SeedCues(),
	}
	k.Dogs = []training.Dog{
		{Name: "Tarn", Owners: []string{"Mrs Oake"}, Main: "Ailsa", Boardings: stay("2026-03-02", "2026-03-21", "to walk her off leash at the mill and have her come back"),
			Goals: []training.Goal{{Cue: "sit", Bar: share, Words: "sit, 90%"}, {Cue: "down", Bar: share, Words: "down, 90%"},
				{Cue: "come", Place: "mill lane", Handler: "Mrs Oake", Bar: share, Words: "come at mill lane, owner, 90%"}, {Cue: "stay", Bar: share, Words: "stay, 90%"}},
			Words: []training.CueWord{{Cue: "down", Word: "flat", Signal: "palm down"}}},
		{Name: "Sorrel", Owners: []string{"Mr Venn"}, Main: "Ailsa", Boardings: stay("2026-03-02", "2026-03-21", ""),
			Goals: []training.Goal{goal("sit"), {Cue: "come", Handler: "Mr Venn", Bar: share, Words: "come, owner, 90%"}, goal("down")}},
		{Name: "Gorse", Main: "Bram", Device: "blue remote", Consent: "remote collar, written, 2026-03-03", Boardings: stay("2026-03-03", "2026-03-28", ""),
			Goals: []training.Goal{goal("heel"), {Cue: "come", Distraction: training.Known(3), Words: "come, distraction 3"}}},
		{Name: "Thistle", Main: "Ailsa", Boardings: stay("2026-03-03", "2026-03-24", ""), Goals: []training.Goal{goal("sit"), goal("down"), goal("place")},
			Holds: []training.VetHold{{From: day("2026-03-15"), Reason: "sore hip, vet's orders", NoCollar: true}}},
		{Name: "Quince", Main: "Ailsa", RewardOnly: true, Consent: "reward only, written, 2026-03-06", Boardings: stay("2026-03-06", "2026-04-03", ""),
			Goals: []training.Goal{{Cue: "leave it", Distraction: training.Known(4), Words: "leave it, distraction 4"}, goal("come")}},
		{Name: "Nettle", Main: "Bram", Boardings: stay("2026-03-19", "2026-04-09", "")},
	}
	for i := range k.Dogs {
		k.Dogs[i].ID = fmt.Sprintf("dog-%d", i+1)
	}
	return k
}

var demoSessions = sync.OnceValue(func() []training.Session {
	files, err := filepath.Glob("../cli/demo/*.txt")
	if err != nil || len(files) == 0 {
		panic("no demo notes")
	}
	var out []training.Session
	for _, f := range files {
		text, err := os.ReadFile(f)
		if err != nil {
			panic(err)
		}
		read := note.Parse(text, note.Options{Name: f, Kennel: demoLists(), Now: made})
		for _, p := range read.Problems {
			panic(p.Error())
		}
		out = append(out, read.Sessions...)
	}
	for i := range out {
		out[i].ID, out[i].Revision = fmt.Sprintf("00000000-0000-7000-8000-%012d", i+1), 1
	}
	return out
})

// demoRecord is everything about one dog of the demo.
func demoRecord(dog string) training.Record {
	r := training.Record{Kennel: demoLists()}
	r.Dog, _ = r.Kennel.Dog(dog)
	for _, s := range demoSessions() {
		if s.Dog != dog {
			continue
		}
		s.Trials = slices.Clone(s.Trials)
		r.Sessions = append(r.Sessions, s)
		for _, m := range s.Remarks {
			if m.Incident {
				r.Incidents = append(r.Incidents, training.Incident{ID: "incident-" + s.ID[24:], Session: s.ID, Dog: dog, Day: s.Day(), Text: m.Text})
			}
		}
	}
	return r
}

func assess(r training.Record, on training.Day) analysis.Assessment {
	return analysis.Assess(r, func(cue string) analysis.Criteria { return analysis.Resolve(r.Kennel, nil, r.Dog.Name, cue) }, on)
}

var demoDogs = []string{"Tarn", "Sorrel", "Gorse", "Thistle", "Quince", "Nettle"}

var demoJudged = sync.OnceValue(func() map[string]analysis.Assessment {
	out := map[string]analysis.Assessment{}
	for _, d := range demoDogs {
		out[d] = assess(demoRecord(d), demoDay)
	}
	return out
})

func judged(dog string) analysis.Assessment { return demoJudged()[dog] }

// TestDemoDay keeps the fixture's day what it says.
func TestDemoDay(t *testing.T) {
	if demoDay.String() != "2026-03-20" {
		t.Fatal(demoDay)
	}
	verdicts := map[string]analysis.Verdict{"Tarn": analysis.Ready, "Thistle": analysis.OnHold}
	for dog, want := range verdicts {
		if got := judged(dog).Verdict; got != want {
			t.Errorf("%s is %s, not %s", dog, got, want)
		}
	}
	for _, dog := range []string{"Sorrel", "Gorse"} {
		if got := judged(dog).Verdict; got == analysis.Ready || got == analysis.OnHold {
			t.Errorf("%s is %s", dog, got)
		}
	}
	if len(judged("Gorse").Incidents) == 0 {
		t.Error("Gorse's incident is not open")
	}
}
