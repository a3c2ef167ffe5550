package cli

import (
	"encoding/json"
	"fmt"
	"math"
	"strings"
	"testing"
)

const acceptance = "../../testdata/notes/acceptance"

// The twelve sessions of testdata/notes/acceptance through the whole program:
// note, log, report. The sessions are our own invention; the figures were worked
// out by hand and checked against Wilson, Garwood, Kaplan-Meier and Fisher as
// published (tables in testdata/published) and in R 4.2 (base, survival).
func TestTwelveSessionsFromNoteToReport(t *testing.T) {
	for _, c := range []struct {
		note  string
		day   string
		setUp []string
		want  map[string]any // path in the report's JSON -> figure; a number to half a unit of its last digit
	}{
		{"01-bramble", "2026-03-05", nil, map[string]any{
			"cues.sit.wholeStay.answered": 8, "cues.sit.wholeStay.asks": 10, "cues.sit.wholeStay.plainLow": "0.490", "cues.sit.wholeStay.plainHigh": "0.943",
			"cues.sit.wholeStay.otherRules.0.answered": 9,
			"cues.sit.latency.medianSeconds":           "1.05", "cues.sit.latency.seen": 9, "cues.sit.latency.censored": 1}},
		{"02-odin", "2026-03-10", nil, map[string]any{
			"cues.come.wholeStay.answered": 4, "cues.come.wholeStay.asks": 6, "cues.come.wholeStay.plainLow": "0.300", "cues.come.wholeStay.plainHigh": "0.903",
			"cues.come.corrections.corrected": 2, "cues.come.corrections.count": 3,
			"cues.come.corrections.devices.0.low": 9, "cues.come.corrections.devices.0.high": 12, "cues.come.corrections.devices.0.working": 7}},
		{"03-pepper", "2026-03-06", nil, map[string]any{
			"cues.down.wholeStay.answered": 5, "cues.down.wholeStay.asks": 8, "cues.down.wholeStay.plainLow": "0.306", "cues.down.wholeStay.plainHigh": "0.863",
			"cues.down.wholeStay.otherRules.0.answered": 6,
			"cues.down.wrongAnswers.0.did":              "sat", "cues.down.wrongAnswers.0.count": 2}},
		{"04-juno", "2026-03-13", nil, map[string]any{
			"cues.halt.wholeStay.answered": 10, "cues.halt.wholeStay.asks": 12, "cues.halt.wholeStay.plainLow": "0.552", "cues.halt.wholeStay.plainHigh": "0.953",
			"cues.sit.wholeStay.answered": 1, "cues.sit.wholeStay.asks": 1,
			"cues.down.wholeStay.answered": 4, "cues.down.wholeStay.asks": 4, "cues.down.wholeStay.plainLow": "0.510", "cues.down.wholeStay.plainHigh": 1,
			"cues.down.early": 3, "cues.down.alreadyThere": 1}},
		{"05-rusty", "2026-03-08", nil, map[string]any{
			"cues.place.hold.shorter.answered": 3, "cues.place.hold.seen": 2, "cues.place.hold.censored": 3, "cues.place.hold.medianSeconds": nil}},
		{"06-maple", "2026-03-11", nil, map[string]any{ // within reach on the first ask
			"cues.come.wholeStay.answered": 4, "cues.come.wholeStay.asks": 5, "cues.come.wholeStay.plainLow": "0.376", "cues.come.wholeStay.plainHigh": "0.964"}},
		{"06-maple", "2026-03-11", []string{"criteria set arrive 6s --cue come"}, map[string]any{ // straight, within 6 s
			"cues.come.wholeStay.answered": 3, "cues.come.wholeStay.asks": 5, "cues.come.wholeStay.plainLow": "0.231", "cues.come.wholeStay.plainHigh": "0.882"}},
		{"07-ziggy", "2026-03-12", nil, map[string]any{
			"cues.heel.walked.count": 10, "cues.heel.walked.minutes": "12.5", "cues.heel.walked.perMinute": "0.80", "cues.heel.walked.low": "0.38", "cues.heel.walked.high": "1.47",
			"places.heel.lane.breaks": 2, "places.heel.lane.minutes": 4, "places.heel.car park.breaks": 7, "places.heel.car park.minutes": "3.5",
			"places.heel.paddock.breaks": 1, "places.heel.paddock.minutes": 5}},
		{"08-freya", "2026-03-14", nil, map[string]any{
			"cues.sit.wholeStay.answered": 22, "cues.sit.wholeStay.asks": 25, "signals.come.voice.answered": 6, "signals.come.whistle.answered": 8, "signals.come.tone.answered": 5,
			"signals.sit.voice.answered": 7, "signals.sit.hand.answered": 10, "signals.sit.voice+hand.answered": 5}},
		{"09-olive", "2026-03-07", nil, map[string]any{
			"cues.place.wholeStay.answered": 6, "cues.place.wholeStay.asks": 6, "cues.leave it.wholeStay.answered": 5, "cues.leave it.wholeStay.asks": 6,
			"cues.place.corrections.rewardOnly": true, "cues.place.corrections.count": 0}},
		{"10-tank", "2026-03-17", nil, map[string]any{
			"cues.sit-stay-come.wholeStay.answered": 41, "cues.sit-stay-come.wholeStay.asks": 55,
			"handlers.sit-stay-come.Dana.answered": 19, "handlers.sit-stay-come.Dana.asks": 20,
			"handlers.sit-stay-come.Marco.answered": 13, "handlers.sit-stay-come.Marco.asks": 20,
			"handlers.sit-stay-come.Mrs Halloran.answered": 9, "handlers.sit-stay-come.Mrs Halloran.asks": 15, "owner.confirmed": false}},
		{"11-moss-video", "2026-03-15", nil, map[string]any{
			"cues.sit.latency.seen": 3, "cues.down.wholeStay.answered": 2, "cues.down.wholeStay.asks": 3, "cues.come.wholeStay.answered": 2,
			"cues.place.hold.censored": 1, "cues.place.hold.longestSeconds": 180, "cues.sit.early": 1}},
		{"12-biscuit", "2026-03-10", nil, map[string]any{
			"cues.sit.latency.baselineSeconds": "1.0", "cues.sit.latency.recentSeconds": "3.4", "cues.sit.latency.doubled": true, "cues.sit.latency.doubledOn": "2026-03-10"}},
		{"12-biscuit", "2026-03-18", []string{"dog hold Biscuit --from 2026-03-11 --to 2026-03-17 --reason 'sore hip'",
			"dog hold Biscuit --from 2026-03-18 --cue sit --no-collar --reason 'sore hip: no sits'"}, map[string]any{
			"verdict": "on hold", "cues.sit.verdict": "on hold", "cues.sit.wholeStay.asks": 0}},
	} {
		t.Run(c.note+"-"+c.day, func(t *testing.T) {
			note := read(t, acceptance, c.note+".txt") // before the script changes the folder
			s := twelveKennel(t)
			write(t, s.path("note.txt"), []byte(note))
			s.must("firstcue log note.txt")
			for _, command := range c.setUp {
				s.must("firstcue " + command)
			}
			dog := strings.Split(strings.SplitN(c.note, "-", 2)[1], "-")[0]
			var got map[string]any
			if err := json.Unmarshal([]byte(s.must("firstcue report "+dog+" --as-of "+c.day+" --format json 2> messages")), &got); err != nil {
				t.Fatal(err)
			}
			byName(got)
			for path, want := range c.want {
				if v := look(got, path); !figures(v, want) {
					t.Errorf("%s = %v, want %v", path, v, want)
				}
			}
		})
	}
}

// On day 17 the vet allows no sits and no collar: both lines are refused, and
// nothing is stored.
func TestASitUnderAVetHoldIsRefused(t *testing.T) {
	note := read(t, acceptance, "12-biscuit-day-17.txt")
	s := twelveKennel(t)
	s.must("firstcue dog hold Biscuit --from 2026-03-18 --cue sit --no-collar --reason 'sore hip'")
	out := s.run("firstcue log --text "+quote(note), nil)
	if !strings.Contains(out, "2 problems, nothing was stored") || !strings.Contains(out, "sore hip") || !strings.HasSuffix(out, "[exit 2]\n") {
		t.Error(out)
	}
}

// Two scorers of one session agree on 8 of 10 trials although their totals are
// equal; ten trials count once, not twenty.
func TestMossIsScoredTwice(t *testing.T) {
	live, video := read(t, acceptance, "11-moss-live.txt"), read(t, acceptance, "11-moss-video.txt")
	s := twelveKennel(t)
	s.must("firstcue log --text " + quote(live))
	s.must("firstcue log --text " + quote(video))
	var list struct{ Sessions []struct{ ID string } }
	if err := json.Unmarshal([]byte(s.raw("firstcue sessions Moss --format json")), &list); err != nil || len(list.Sessions) != 2 {
		t.Fatalf("%v, %d sessions", err, len(list.Sessions))
	}
	var got map[string]any
	out := s.raw("firstcue agree " + list.Sessions[0].ID + " " + list.Sessions[1].ID + " --format json")
	if err := json.Unmarshal([]byte(out), &got); err != nil {
		t.Fatal(err, out)
	}
	for path, want := range map[string]any{"compared": 10, "agreed": 8, "kappa": "0.375"} {
		if v := look(got, path); !figures(v, want) {
			t.Errorf("%s = %v, want %v in\n%s", path, v, want, out)
		}
	}
	var report map[string]any
	if err := json.Unmarshal([]byte(s.must("firstcue report Moss --as-of 2026-03-15 --format json 2> messages")), &report); err != nil {
		t.Fatal(err)
	}
	if v := look(report, "asks"); !figures(v, 10) {
		t.Errorf("the report counts %v trials", v)
	}
}

// twelveKennel is a store with the names that the twelve sessions use.
func twelveKennel(t *testing.T) *script {
	s := newScript(t)
	for _, d := range []string{"Bramble", "Odin", "Pepper", "Juno", "Rusty", "Maple", "Ziggy", "Freya", "Moss", "Biscuit"} {
		s.must("firstcue dog add " + d + " --arrived 2026-03-02")
	}
	s.must("firstcue dog add Olive --arrived 2026-03-02 --reward-only --consent 'written, 2026-03-01'")
	s.must("firstcue dog add Tank --arrived 2026-03-02 --owner 'Mrs Halloran'")
	for _, h := range []string{"Dana", "Marco", "Ines", "Theo"} {
		s.must("firstcue handler add " + h)
	}
	for _, p := range []string{"yard", "long field", "kennel lane", "car park edge", "barn", "sheep pasture", "lane", "car park", "paddock",
		"playing field", "lounge", "front lawn", "hardware-store forecourt"} {
		s.must("firstcue place add " + quote(p))
	}
	s.must("firstcue device add 'device A' --lowest 0 --highest 100")
	s.must("firstcue cue add sit-stay-come --kind response --limit 3s")
	return s
}

// byName makes the lists of the report that have names into maps of them.
func byName(report map[string]any) {
	cues, handlers, places, signals := map[string]any{}, map[string]any{}, map[string]any{}, map[string]any{}
	for _, x := range report["cues"].([]any) {
		cue := x.(map[string]any)
		name := cue["cue"].(string)
		cues[name] = cue
		by := func(list, key string) map[string]any {
			out := map[string]any{}
			all, _ := cue[list].([]any)
			for _, y := range all {
				c := y.(map[string]any)
				out[c[key].(string)] = c
			}
			return out
		}
		handlers[name], places[name], signals[name] = by("people", "person"), by("places", "place"), by("signals", "signal")
	}
	report["cues"], report["handlers"], report["places"], report["signals"] = cues, handlers, places, signals
}

func look(v any, path string) any {
	for _, key := range strings.Split(path, ".") {
		switch x := v.(type) {
		case map[string]any:
			v = x[key]
		case []any:
			var i int
			if _, err := fmt.Sscan(key, &i); err != nil || i >= len(x) {
				return "nothing at " + key
			}
			v = x[i]
		default:
			return "nothing at " + key
		}
	}
	return v
}

// figures reports whether the value is the one wanted: a number written as text
// may differ by half a unit of its last digit.
func figures(v, want any) bool {
	switch w := want.(type) {
	case int:
		x, ok := v.(float64)
		return ok && x == float64(w)
	case string:
		var f float64
		if _, err := fmt.Sscan(w, &f); err != nil || strings.Contains(w, "-") {
			return v == w
		}
		x, ok := v.(float64)
		_, digits, _ := strings.Cut(w, ".")
		return ok && math.Abs(x-f) <= 0.5*math.Pow(10, -float64(len(digits)))+1e-9
	}
	return v == want
}
