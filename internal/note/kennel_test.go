package note

import (
	"fmt"
	"reflect"
	"testing"
	"time"

	"firstcue/internal/training"
)

// berlin is a zone whose clocks change, for starts without an offset.
var berlin = func() *time.Location {
	loc, err := time.LoadLocation("Europe/Berlin")
	if err != nil {
		panic(err)
	}
	return loc
}()

var now = time.Date(2026, 4, 1, 12, 0, 0, 0, berlin)

func day(s string) training.Day {
	d, err := training.ParseDay(s)
	if err != nil {
		panic(err)
	}
	return d
}

// Kennel is the invented kennel of the twelve acceptance sessions. All arrived
// on 2 March 2026, which is day 1.
func Kennel() training.Kennel {
	k := training.Kennel{
		Cues: append(training.SeedCues(), training.Cue{Name: "sit-stay-come", Kind: training.Response, Limit: training.Known(3)}),
		Devices: []training.Device{
			{Name: "device A", Lowest: training.Known(0), Highest: training.Known(100)},
			{Name: "blue remote", Lowest: training.Known(1), Highest: training.Known(100), Aliases: []string{"blue"}},
			{Name: "red remote", Lowest: training.Known(1), Highest: training.Known(15)},
		},
	}
	for _, n := range []string{"Bramble", "Odin", "Pepper", "Juno", "Rusty", "Maple", "Ziggy", "Freya", "Tank", "Moss", "Juniper"} {
		k.Dogs = append(k.Dogs, training.Dog{Name: n, Boardings: []training.Boarding{{Arrived: day("2026-03-02"), Due: day("2026-03-27")}}})
	}
	k.Dogs[len(k.Dogs)-1].Device = "blue remote"
	k.Dogs[8].Words = []training.CueWord{{Cue: "come", Word: "tank come on"}, {Cue: "down", Word: "lie"}}
	k.Dogs = append(k.Dogs,
		training.Dog{Name: "Olive", RewardOnly: true, Boardings: []training.Boarding{{Arrived: day("2026-03-02")}}},
		training.Dog{Name: "Biscuit", Boardings: []training.Boarding{{Arrived: day("2026-03-02")}}, Holds: []training.VetHold{
			{From: day("2026-03-11"), To: day("2026-03-17"), Reason: "sore hip"},
			{From: day("2026-03-18"), Reason: "sore hip: no sits, no jumps, no collar", Cues: []string{"sit"}, NoCollar: true}}},
		training.Dog{Name: "Pip", Born: day("2025-11-01")},
		training.Dog{Name: "Zoë", Device: "red remote"},
		training.Dog{Name: "Max", Boardings: []training.Boarding{{Arrived: day("2026-02-02")}}},
		training.Dog{Name: "Big Max", Aliases: []string{"Max"}, Boardings: []training.Boarding{{Arrived: day("2026-03-09")}}})
	for _, n := range []string{"Dana", "Marco", "Ines", "Theo", "Maren"} {
		k.Handlers = append(k.Handlers, training.Handler{Name: n, Role: training.Trainer})
	}
	k.Handlers = append(k.Handlers, training.Handler{Name: "Mrs Halloran", Role: training.Owner}, training.Handler{Name: "Pat O’Brien", Role: training.Outsider})
	for _, n := range []string{"yard", "long field", "kennel lane", "car park edge", "barn", "sheep pasture", "lane", "car park", "paddock",
		"playing field", "lounge", "front lawn", "hardware-store forecourt", "back field"} {
		k.Places = append(k.Places, training.Place{Name: n})
	}
	return k
}

// head is a context for one-line tests.
const head = "dog: Juniper; handler: Maren; start: 2026-03-04 9:10; place: back field; leash: off; distraction: 2\n"

func options() Options { return Options{Kennel: Kennel(), Now: now} }

// trialsOf parses one or more lines under head and returns the trials.
func trialsOf(t *testing.T, lines string) []training.Trial {
	t.Helper()
	r := Parse([]byte(head+lines), options())
	for _, p := range r.Problems {
		t.Fatalf("%q: %v", lines, p)
	}
	if len(r.Sessions) != 1 {
		t.Fatalf("%q: %d sessions", lines, len(r.Sessions))
	}
	return r.Sessions[0].Trials
}

// differ shows two values in full when they are not the same, "" when they are.
func differ(a, b any) string {
	if reflect.DeepEqual(a, b) {
		return ""
	}
	return fmt.Sprintf("\n%+v\n%+v", a, b)
}
