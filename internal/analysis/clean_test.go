package analysis

import (
	"fmt"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"firstcue/internal/training"
)

// followed is the forward pass of the cue sit as of a day.
func followed(r training.Record, day training.Day) *follow {
	for _, h := range newScene(r, day).histories(barsOf(r)) {
		if h.cue == "sit" {
			f := h.prepare()
			f.run()
			return f
		}
	}
	return nil
}

// One more clean ask, in the newest sitting, in a sitting of its own or on a day of its
// own, by whomever and wherever, never lowers a probability that a decision uses, and
// never makes a gate, the owner or the verdict worse. With -rapid.checks=1000 it is
// tried on 20,000 asks.
func TestACleanAskNeverHurts(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := record()
		r.Dog.Main = "Maren"
		r.Dog.Goals = []training.Goal{{Cue: "sit"}, {Cue: "sit", Place: "market", Leash: "off",
			Bar: training.Known(.85)}}
		people, places := rapid.SampledFrom([]string{"Maren", "Maren", "Ivo", "Owner", "Pim"}),
			rapid.SampledFrom([]string{"yard", "barn", "market"})
		n := rapid.IntRange(1, 25).Draw(t, "sittings")
		misses := rapid.SampledFrom([]int{0, 0, 0, 0, 1, 2})
		if rapid.Bool().Draw(t, "poor") {
			misses = rapid.IntRange(0, 5)
		}
		for i := range n {
			s := at(i/3+1, fmt.Sprintf("%02d:00", 8+3*(i%3)), people.Draw(t, "who"), places.Draw(t, "where"))
			missed := misses.Draw(t, "missed")
			s.Trials = many("sit", rapid.IntRange(0, 8).Draw(t, "answered"), missed)
			if rapid.Bool().Draw(t, "tally") {
				s.Trials = []training.Trial{counted("sit", len(s.Trials)-missed, len(s.Trials))}
			}
			s.Leash = rapid.SampledFrom([]training.Leash{"", "long line", "off"}).Draw(t, "leash")
			r.Sessions = append(r.Sessions, s)
		}
		day := day1 + 30
		before := followed(r, day)
		for k := range 20 {
			r.Sessions = slices.Clone(r.Sessions)
			last := r.Sessions[len(r.Sessions)-1]
			s := last
			s.ID, s.Part = fmt.Sprint("clean", k), k
			s.Trials = []training.Trial{yes("sit")}
			switch rapid.IntRange(0, 2).Draw(t, "how") {
			case 1:
				s.Start, s.Handler, s.Place = s.Start.Add(20*time.Minute), people.Draw(t, "who"),
					places.Draw(t, "where")
			case 2:
				s.Start = s.Start.Add(24 * time.Hour)
			}
			if s.Day() > day {
				break
			}
			r.Sessions = append(r.Sessions, s)
			after := followed(r, day)
			noWorse(t, before, after, day)
			before = after
		}
	})
}

func noWorse(t *rapid.T, before, after *follow, day training.Day) {
	if before == nil || before.last() == nil {
		return
	}
	a, b := before.last(), after.last()
	for i, d := range before.decisions {
		j := slices.IndexFunc(after.decisions, func(e decision) bool {
			return e.about == d.about &&
				e.who == d.who && e.watch == d.watch
		})
		const eps = 1e-12
		if b.sure[j] < a.sure[i]-eps || b.fail[j] < a.fail[i]-eps {
			t.Fatalf("decision %d of %d: %v fell to %v, %v to %v", d.about, d.who, a.sure[i], b.sure[j],
				a.fail[i], b.fail[j])
		}
	}
	x, y := before.bench(day), after.bench(day)
	xg, yg := x.gates(), y.gates()
	rank := map[Standing]int{Failed: 0, Short: 1, Met: 2}
	for k := range xg {
		if rank[yg[k].Standing] < rank[xg[k].Standing] {
			t.Fatalf("gate %s was %s and is %s: %+v %+v", xg[k].Name, xg[k].Standing, yg[k].Standing, yg[k],
				yg[k].Lack)
		}
	}
	if o, p := before.owner(), after.owner(); rank[p.Standing] < rank[o.Standing] {
		t.Fatalf("the owner was %s and is %s", o.Standing, p.Standing)
	}
}
