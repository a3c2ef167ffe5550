package note

import (
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"firstcue/internal/training"
)

const acceptance = "../../testdata/notes/acceptance"

// count is what a note must hold, by cue (and signal or handler where the case
// turns on it). The figures are those stated with the invented sessions.
type count struct {
	trials    int // that stand in a denominator
	first     int // right, one ask, no prompt or correction; tallies counted
	asks      int
	latencies []float64
	completed []float64
	waited    []float64
	begun     []float64
	levels    []float64
	corrected int
	prompts   []string
	did       []string
	early     int
	already   int
	unscored  int
	held      []float64 // kept
	broke     []float64
	walked    float64
	breaks    int
}

func countTrials(s []training.Session, pick func(training.Session, training.Trial) bool) count {
	var c count
	for _, x := range s {
		for _, t := range x.Trials {
			if !pick(x, t) {
				continue
			}
			num := func(list *[]float64, n training.Num) {
				if n.Known {
					*list = append(*list, n.V)
				}
			}
			switch t.Outcome {
			case training.Early:
				c.early++
				continue
			case training.Already:
				c.already++
				continue
			case training.Unscored:
				c.unscored++
				continue
			case training.Held, training.Released:
				num(&c.held, t.Held)
			case training.Broke:
				num(&c.broke, t.Held)
			}
			c.trials += t.Count()
			c.asks += t.Asks
			if (t.Outcome == training.Answered || t.Outcome == training.Held) && t.Asks == 1 && len(t.Prompts)+len(t.Corrections) == 0 {
				c.first++
			}
			c.first += t.Tally.Yes
			num(&c.latencies, t.Latency)
			num(&c.completed, t.Completion)
			num(&c.waited, t.Waited)
			num(&c.begun, t.Begun)
			c.prompts = append(c.prompts, t.Prompts...)
			if t.Did != "" {
				c.did = append(c.did, t.Did)
			}
			if len(t.Corrections) > 0 {
				c.corrected++
			}
			for _, k := range t.Corrections {
				num(&c.levels, k.Level)
			}
			c.walked += t.Walked.V
			if t.Kind == training.Motion {
				c.breaks += t.Breaks
			}
		}
	}
	return c
}

func readAcceptance(t *testing.T, name string, o Options) Result {
	t.Helper()
	b, err := os.ReadFile(filepath.Join(acceptance, name))
	if err != nil {
		t.Fatal(err)
	}
	o.Name = name
	return Parse(b, o)
}

func TestAcceptance(t *testing.T) {
	cue := func(name string) func(training.Session, training.Trial) bool {
		return func(_ training.Session, x training.Trial) bool { return x.Cue == name }
	}
	signal := func(name, sig string) func(training.Session, training.Trial) bool {
		return func(_ training.Session, x training.Trial) bool {
			return x.Cue == name && x.Signal == training.Signal(sig)
		}
	}
	by := func(handler string) func(training.Session, training.Trial) bool {
		return func(s training.Session, _ training.Trial) bool { return s.Handler == handler }
	}
	in := func(place string) func(training.Session, training.Trial) bool {
		return func(s training.Session, _ training.Trial) bool { return s.Place == place }
	}
	on := func(d string) func(training.Session, training.Trial) bool {
		return func(s training.Session, _ training.Trial) bool { return s.Day() == day(d) }
	}
	all := func(training.Session, training.Trial) bool { return true }
	for _, c := range []struct {
		file     string
		sessions int
		pick     func(training.Session, training.Trial) bool
		want     count
	}{
		{"01-bramble.txt", 1, all, count{trials: 10, first: 9, asks: 11, latencies: []float64{.8, 1.1, .9, 1.4, 1, .7, 1.2, 6, .9}, waited: []float64{4}}},
		{"02-odin.txt", 1, all, count{trials: 6, first: 4, asks: 9, levels: []float64{9, 9, 12}, corrected: 2}},
		{"03-pepper.txt", 1, all, count{trials: 8, first: 6, asks: 10, latencies: []float64{1.5, 1.8, 2, 1.6, 5.2, 1.4}, prompts: []string{"lure"}, did: []string{"sat", "sat"}}},
		{"04-juno.txt", 1, cue("halt"), count{trials: 12, first: 10, asks: 12}},
		{"04-juno.txt", 1, cue("sit"), count{trials: 1, first: 1, asks: 1}},
		{"04-juno.txt", 1, cue("down"), count{trials: 4, first: 4, asks: 4, latencies: []float64{1, 1.2, .9, 1.1}, early: 3, already: 1}},
		{"05-rusty.txt", 1, all, count{trials: 5, first: 3, asks: 5, held: []float64{60, 60, 90}, broke: []float64{22, 41}}},
		{"06-maple.txt", 1, all, count{trials: 5, first: 4, asks: 6, latencies: []float64{.9, 1.1, 1.2, .8}, completed: []float64{5.1, 5.6, 9.5, 4.9, 12.4}, begun: []float64{1}}},
		{"07-ziggy.txt", 3, in("lane"), count{trials: 1, asks: 1, walked: 240, breaks: 2}},
		{"07-ziggy.txt", 3, in("car park"), count{trials: 1, asks: 1, walked: 210, breaks: 7}},
		{"07-ziggy.txt", 3, in("paddock"), count{trials: 1, asks: 1, walked: 300, breaks: 1}},
		{"08-freya.txt", 1, signal("come", "voice"), count{trials: 8, first: 6}},
		{"08-freya.txt", 1, signal("come", "whistle"), count{trials: 8, first: 8}},
		{"08-freya.txt", 1, signal("come", "tone"), count{trials: 6, first: 5}},
		{"08-freya.txt", 1, signal("sit", "voice"), count{trials: 10, first: 7}},
		{"08-freya.txt", 1, signal("sit", "hand"), count{trials: 10, first: 10}},
		{"08-freya.txt", 1, signal("sit", "voice+hand"), count{trials: 5, first: 5}},
		{"09-olive.txt", 1, cue("place"), count{trials: 6, first: 6}},
		{"09-olive.txt", 1, cue("leave it"), count{trials: 6, first: 5}},
		{"10-tank.txt", 3, by("Dana"), count{trials: 20, first: 19}},
		{"10-tank.txt", 3, by("Marco"), count{trials: 20, first: 13}},
		{"10-tank.txt", 3, by("Mrs Halloran"), count{trials: 15, first: 9}},
		{"11-moss-video.txt", 1, all, count{trials: 10, first: 8, asks: 12, latencies: []float64{.9, 2.6, 1.5, 1.4, 1.8, .6, 1, 1.8, 2.7, 1.2},
			completed: []float64{6.8, 8}, waited: []float64{5, 1.5}, early: 1, held: []float64{180}}},
		{"11-moss-live.txt", 1, all, count{trials: 10, first: 8, asks: 10}},
		{"12-biscuit.txt", 3, on("2026-03-07"), count{trials: 3, first: 3, asks: 3, latencies: []float64{1, 1.1, .9}}},
		{"12-biscuit.txt", 3, on("2026-03-09"), count{trials: 3, first: 3, asks: 3, latencies: []float64{1.6, 1.8, 1.5}}},
		{"12-biscuit.txt", 3, on("2026-03-10"), count{trials: 4, first: 3, asks: 4, latencies: []float64{2.6, 3.4, 4.1}}},
	} {
		r := readAcceptance(t, c.file, options())
		for _, p := range r.Problems {
			t.Errorf("%v", p)
		}
		if len(r.Sessions) != c.sessions {
			t.Errorf("%s: %d sessions, want %d", c.file, len(r.Sessions), c.sessions)
		}
		if got := countTrials(r.Sessions, c.pick); !reflect.DeepEqual(got, c.want) {
			t.Errorf("%s:\n got %+v\nwant %+v", c.file, got, c.want)
		}
	}
}

func TestAcceptanceDetails(t *testing.T) {
	moss := readAcceptance(t, "11-moss-video.txt", options()).Sessions[0]
	if moss.Handler != "Ines" || moss.Scorer != "Theo" || moss.Source != training.Video {
		t.Errorf("moss: handler %s, scorer %s, source %s", moss.Handler, moss.Scorer, moss.Source)
	}
	live := readAcceptance(t, "11-moss-live.txt", options()).Sessions[0]
	if !live.Start.Equal(moss.Start) || live.Source != training.Live || live.Scorer != "" {
		t.Errorf("moss live: %+v", live)
	}
	odin := readAcceptance(t, "02-odin.txt", options()).Sessions[0]
	if odin.WorkingLevel != training.Known(7) || odin.Device != "device A" || odin.Trials[3].Corrections[0].Device != "device A" || odin.Trials[0].Distance != training.Known(15) {
		t.Errorf("odin: %+v", odin)
	}
	if served := []bool{odin.Trials[5].Corrections[0].Served, odin.Trials[5].Corrections[1].Served}; served[0] || !served[1] {
		t.Errorf("odin: corrections of the sixth served %v, want the last only", served)
	}
	tank := readAcceptance(t, "10-tank.txt", options()).Sessions
	for i, s := range tank {
		if s.Part != i || !s.Start.Equal(tank[0].Start) {
			t.Errorf("tank: part %d at %v", s.Part, s.Start)
		}
	}
	b := readAcceptance(t, "12-biscuit.txt", options()).Sessions
	if r := b[2].Remarks; len(r) != 1 || !r[0].Incident || r[0].Line != 3 || !strings.HasPrefix(r[0].Text, "turned away") {
		t.Errorf("biscuit: remarks %+v", r)
	}
}

func TestVetHoldIsRefused(t *testing.T) {
	r := readAcceptance(t, "12-biscuit-day-17.txt", options())
	if r.Sessions != nil {
		t.Error("a note with problems gave sessions")
	}
	want := []string{
		"12-biscuit-day-17.txt:5:1: Biscuit's sit is on vet hold on 2026-03-18: sore hip: no sits, no jumps, no collar (from 2026-03-18, still open)",
		"12-biscuit-day-17.txt:6:8: no collar for Biscuit on 2026-03-18: vet hold sore hip: no sits, no jumps, no collar (from 2026-03-18, still open)",
	}
	var got []string
	for _, p := range r.Problems {
		got = append(got, p.Error())
	}
	if !reflect.DeepEqual(got, want) {
		t.Errorf("got %q", got)
	}
	o := options()
	o.DespiteHold = true
	r = Parse([]byte("dog: Biscuit; handler: Dana; start: 2026-03-12 9:00; place: yard; leash: off; distraction: 0\nsit +\n"), o)
	if len(r.Problems) != 0 || len(r.Warnings) != 1 || len(r.Sessions) != 1 || !strings.Contains(r.Warnings[0].Message, "left out of every figure") {
		t.Errorf("despite the hold: %+v", r)
	}
}
