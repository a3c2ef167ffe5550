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
			"cues.sit.firstCue.yes": 8, "cues.sit.firstCue.of": 10, "cues.sit.firstCue.plainLow": "0.490", "cues.sit.firstCue.plainHigh": "0.943",
			"cues.sit.firstCue.otherRules.0.yes": 9, "cues.sit.firstCue.otherRules.0.plainLow": "0.596", "cues.sit.firstCue.otherRules.0.plainHigh": "0.982",
			"cues.sit.latency.median": "1.05", "cues.sit.latency.answered": 9, "cues.sit.latency.censored": 1}},
		{"02-odin", "2026-03-10", nil, map[string]any{
			"cues.come.firstCue.yes": 4, "cues.come.firstCue.of": 6, "cues.come.firstCue.plainLow": "0.300", "cues.come.firstCue.plainHigh": "0.903",
			"cues.come.corrections.corrected": 2, "cues.come.corrections.count": 3,
			"cues.come.corrections.devices.0.lowestLevel": 9, "cues.come.corrections.devices.0.highestLevel": 12, "cues.come.corrections.devices.0.workingLevel": 7}},
		{"03-pepper", "2026-03-06", nil, map[string]any{
			"cues.down.firstCue.yes": 5, "cues.down.firstCue.of": 8, "cues.down.firstCue.plainLow": "0.306", "cues.down.firstCue.plainHigh": "0.863",
			"cues.down.firstCue.otherRules.0.yes": 6, "cues.down.firstCue.otherRules.0.plainLow": "0.409", "cues.down.firstCue.otherRules.0.plainHigh": "0.929",
			"cues.down.wrongAnswers.0.did": "sat", "cues.down.wrongAnswers.0.count": 2}},
		{"04-juno", "2026-03-13", nil, map[string]any{
			"cues.halt.firstCue.yes": 10, "cues.halt.firstCue.of": 12, "cues.halt.firstCue.plainLow": "0.552", "cues.halt.firstCue.plainHigh": "0.953",
			"cues.sit.firstCue.yes": 1, "cues.sit.firstCue.of": 1,
			"cues.down.firstCue.yes": 4, "cues.down.firstCue.of": 4, "cues.down.firstCue.plainLow": "0.510", "cues.down.firstCue.plainHigh": 1,
			"cues.down.apart.early": 3, "cues.down.apart.already": 1}},
		{"05-rusty", "2026-03-08", nil, map[string]any{
			"cues.place.firstCue.yes": 3, "cues.place.firstCue.of": 5, "cues.place.hold.broke": 2, "cues.place.hold.censored": 3, "cues.place.hold.median": nil}},
		{"06-maple", "2026-03-11", nil, map[string]any{ // within reach on the first ask
			"cues.come.firstCue.yes": 4, "cues.come.firstCue.of": 5, "cues.come.firstCue.plainLow": "0.376", "cues.come.firstCue.plainHigh": "0.964"}},
		{"06-maple", "2026-03-11", []string{"criteria set arrive 6s --cue come"}, map[string]any{ // straight, within 6 s
			"cues.come.firstCue.yes": 3, "cues.come.firstCue.of": 5, "cues.come.firstCue.plainLow": "0.231", "cues.come.firstCue.plainHigh": "0.882"}},
		{"07-ziggy", "2026-03-12", nil, map[string]any{
			"cues.heel.breaks.count": 10, "cues.heel.breaks.minutes": "12.5", "cues.heel.breaks.perMinute": "0.80", "cues.heel.breaks.low": "0.38", "cues.heel.breaks.high": "1.47",
			"places.heel.lane.low": "0.06", "places.heel.lane.high": "1.81", "places.heel.car park.perMinute": "2.00", "places.heel.car park.low": "0.80",
			"places.heel.car park.high": "4.12", "places.heel.paddock.low": "0.01", "places.heel.paddock.high": "1.11"}},
		{"08-freya", "2026-03-14", nil, map[string]any{
			"cues.sit.firstCue.yes": 22, "cues.sit.firstCue.of": 25, "signals.come.voice.yes": 6, "signals.come.voice.plainLow": "0.409", "signals.come.voice.plainHigh": "0.929",
			"signals.come.whistle.plainLow": "0.676", "signals.come.tone.plainLow": "0.436", "signals.sit.voice.plainLow": "0.397", "signals.sit.hand.plainLow": "0.722",
			"signals.sit.voice+hand.yes": 5, "signals.come.voice.worse": false, "signals.sit.voice.worse": false}},
		{"09-olive", "2026-03-07", nil, map[string]any{
			"cues.place.firstCue.yes": 6, "cues.place.firstCue.of": 6, "cues.leave it.firstCue.yes": 5, "cues.leave it.firstCue.of": 6,
			"cues.place.corrections.rewardOnly": true, "cues.place.corrections.count": nil}},
		{"10-tank", "2026-03-17", nil, map[string]any{
			"cues.sit-stay-come.firstCue.yes": 41, "cues.sit-stay-come.firstCue.of": 55,
			"handlers.sit-stay-come.Dana.plainLow": "0.764", "handlers.sit-stay-come.Dana.plainHigh": "0.991",
			"handlers.sit-stay-come.Marco.plainLow": "0.433", "handlers.sit-stay-come.Marco.plainHigh": "0.819",
			"handlers.sit-stay-come.Mrs Halloran.plainLow": "0.357", "handlers.sit-stay-come.Mrs Halloran.plainHigh": "0.802", "ownerConfirmed": false}},
		{"11-moss-video", "2026-03-15", nil, map[string]any{
			"cues.sit.latency.answered": 3, "cues.down.firstCue.yes": 2, "cues.down.firstCue.of": 3, "cues.come.firstCue.yes": 2,
			"cues.place.hold.censored": 1, "cues.place.hold.longest": 180, "cues.sit.apart.early": 1}},
		{"12-biscuit", "2026-03-10", nil, map[string]any{
			"cues.sit.latency.baseline": "1.0", "cues.sit.latency.last": "3.4", "cues.sit.latency.doubled": true, "cues.sit.latency.doubledOn": "2026-03-10"}},
		{"12-biscuit", "2026-03-18", []string{"dog hold Biscuit --from 2026-03-11 --to 2026-03-17 --reason 'sore hip'",
			"dog hold Biscuit --from 2026-03-18 --cue sit --no-collar --reason 'sore hip: no sits'"}, map[string]any{
			"verdict": "on hold", "cues.sit.verdict": "on hold", "cues.sit.firstCue.of": 0}},
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
	if v := look(report, "trials"); !figures(v, 10) {
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
		h, p, g := map[string]any{}, map[string]any{}, map[string]any{}
		for _, y := range cue["contexts"].([]any) {
			c := y.(map[string]any)
			switch c["kind"] {
			case "handler":
				h[c["handler"].(string)] = c
			case "place":
				p[c["place"].(string)] = c
				if c["breaks"] != nil {
					p[c["place"].(string)] = c["breaks"]
				}
			case "signal":
				g[c["value"].(string)] = c
			}
		}
		handlers[name], places[name], signals[name] = h, p, g
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
