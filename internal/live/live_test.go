package live

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"firstcue/internal/note"
	"firstcue/internal/training"
)

var began = time.Date(2026, 3, 4, 9, 10, 0, 0, time.FixedZone("", 3600))

func kennel() training.Kennel {
	return training.Kennel{
		Dogs:     []training.Dog{{Name: "Tarn", Device: "blue remote"}, {Name: "Bramble", RewardOnly: true}},
		Handlers: []training.Handler{{Name: "Ailsa"}, {Name: "Corin"}},
		Places:   []training.Place{{Name: "paddock"}, {Name: "car park"}},
		Devices:  []training.Device{{Name: "blue remote", Lowest: training.Known(1), Highest: training.Known(100)}},
		Cues:     training.SeedCues(),
	}
}

func begin() *Machine {
	return New(Options{Kennel: kennel(), Dog: "Tarn", Start: began, Context: map[string]string{
		"handler": "Ailsa", "place": "paddock", "leash": "off", "distraction": "2", "device": "blue remote"}})
}

// press plays a script: keys, each after a wait of so many seconds given before
// it, as in "10 2 1.4 y": 10 s later 2, 1.4 s later y. A word in quotes is typed.
func press(t *testing.T, m *Machine, at time.Time, script string) (time.Time, Status) {
	t.Helper()
	status := Running
	for _, w := range strings.Fields(script) {
		var s float64
		if n, err := fmt.Sscanf(w, "+%f", &s); n == 1 && err == nil {
			at = at.Add(time.Duration(s * float64(time.Second)))
			continue
		}
		for _, k := range strings.NewReplacer("ENTER", "\r", "ESC", "\x1b", "BACK", "\b", "_", " ").Replace(w) {
			if s := m.Key(k, at); s != Running {
				status = s
			}
		}
	}
	return at, status
}

func parse(t interface{ Fatalf(string, ...any) }, m *Machine) []training.Session {
	res := note.Parse([]byte(m.Text()), note.Options{Kennel: kennel(), Now: began.Add(24 * time.Hour)})
	if len(res.Problems) > 0 {
		t.Fatalf("the note has problems: %v\n%s", res.Problems, m.Text())
	}
	return res.Sessions
}

func marks(ss []training.Session) string {
	var out []string
	for _, s := range ss {
		for _, t := range s.Trials {
			out = append(out, t.Marks)
		}
	}
	return strings.Join(out, "\n")
}

// A session as product and notes describe a timed one: what the keys mean is
// what note reads out of it. Cue numbers: 1 heel 2 sit 3 down 4 stay 5 place 6
// come 7 halt 8 leave it.
func TestKeysBecomeTrials(t *testing.T) {
	for _, c := range []struct{ name, keys, want string }{
		{"answered", "+14.2 2 +0.9 y", "0:14.2 sit +0.9"},
		{"asked twice", "+41 3 +4 3 +1.4 y", "0:41.0 down -4s +1.4"},
		{"began and arrived", "+5 6 +0.9 s +3.9 y", "0:05.0 come +0.9>4.8"},
		{"gave up", "+10 3 +6 g", "0:10.0 down -6s next"},
		{"corrected", "+10 3 +2 n +1 c9 ENTER +1 3 +1.6 y", "0:10.0 down -2s @9 +1.6"},
		{"corrected by leash", "+10 3 +2 n +1 cl +1 3 +1.6 y", "0:10.0 down -2s @leash +1.6"},
		{"wrong", "+10 3 +2 w +2 3 +1 y", "0:10.0 down x 2s +1"},
		{"not seen", "+10 3 +2 q", "0:10.0 down ?"},
		{"early", "+10 e2", "0:10.0 sit early"},
		{"already", "+10 2 +1 a", "0:10.0 sit already"},
		{"no, and the next trial", "+10 3 +2 n +5 3 +1 y", "0:10.0 down -2s next\n0:17.0 down +1"},
		{"stay released early", "+10 4 +45 r", "0:10.0 stay 1:00 released 45s"},
		{"stay taken, then released", "+10 4 +1.5 y +45 r", "0:10.0 stay 1:00 +1.5> released 45s"},
		{"stay broke", "+10 4 +20 n +5 r", "0:10.0 stay 1:00 -20s next"},
		{"stay broke, corrected, asked again, held", "+10 4 +20 n +1 cv +1 4 +30 r", "0:10.0 stay 1:00 -20s @verbal + next"},
		{"heel", "+10 1 +60 n +60 n +80 r", "0:10.0 heel 3:20 2-"},
		{"a response in a walk", "+10 1 +60 7 +1 y +9 n +50 r", "0:10.0 heel 2:00 -\n1:10.0 halt +1"},
		{"a stay ends a walk", "+10 1 +60 4 +30 r", "0:10.0 heel 1:00\n1:10.0 stay 1:00 released 30s"},
		{"undone", "+10 2 +1 y u +1 y", "0:10.0 sit +2"},
		{"undone pair", "+10 2 +3 3 u +1 y", "0:10.0 sit +4"},
		{"asked again, not seen", "+10 2 +3 2 +5 q", "0:10.0 sit ?"},
		{"pause", "+10 2 +1 y p +600 p +10 2 +1 y", "0:10.0 sit +1\n0:21.0 sit +1"},
		{"level mistyped", "+10 2 +1 n +1 c9 BACK BACK c12 ENTER +1 2 +1 y", "0:10.0 sit -1s @12 +1"},
		{"a cue given in a stay: released by it", "+10 4 +45 6 +2 r +1 y", "0:10.0 stay 1:00 released 45s\n0:55.0 come +3"},
		{"a cue given in a stay: its end not seen", "+10 4 +1 y +80 6 q +1 y", "0:10.0 stay 1:00 ?\n1:31.0 come +1"},
		{"a cue given in a stay: not given after all", "+10 4 +45 6 ESC +30 r", "0:10.0 stay 1:00 released 1:15"},
		{"a cue given in a stay, taken back", "+10 4 +45 6 r u +30 r", "0:10.0 stay 1:00 released 1:15"},
		{"a stay that broke ends with the next cue", "+10 4 +20 n +5 6 +1 y", "0:10.0 stay 1:00 -20s next\n0:35.0 come +1"},
		{"a walk given in a stay", "+10 4 +45 1 r +60 r", "0:10.0 stay 1:00 released 45s\n0:55.0 heel 1:00"},
		{"finish waits for the end of a stay", "+10 4 +45 f r", "0:10.0 stay 1:00 released 45s"},
		{"another cue ends an open one", "+10 2 +3 3 +1 y", "0:10.0 sit -3s next\n0:13.0 down +1"},
	} {
		m := begin()
		press(t, m, began, c.keys)
		got := marks(parse(t, m))
		if c.want == "" {
			t.Logf("%s: %q", c.name, got)
			continue
		}
		if got != c.want {
			t.Errorf("%s: got %q, want %q\n%s", c.name, got, c.want, m.Text())
		}
	}
}

// What is no trial yet may come before the first one: a pause, another place.
func TestBeforeTheFirstTrial(t *testing.T) {
	m := begin()
	press(t, m, began, "+10 p +60 p op2 +5 2 +1 y")
	if got := marks(parse(t, m)); got != "0:15.0 sit +1" || parse(t, m)[0].Place != "car park" {
		t.Errorf("%q, %s\n%s", got, m.message, m.Text())
	}
}

// A release before the target in force is censored; after it the stay was held.
// Where no target is set, a stay is held until it is released.
func TestAHoldIsWrittenWithItsTarget(t *testing.T) {
	for _, c := range []struct {
		target training.Num
		keys   string
		marks  string
		want   training.Outcome
	}{
		{training.Known(60), "+10 4 +45 r", "0:10.0 stay 1:00 released 45s", training.Released},
		{training.Known(60), "+10 4 +61 r", "0:10.0 stay 1:00 released 1:01", training.Held},
		{training.Known(30), "+10 4 +45 r", "0:10.0 stay 30s released 45s", training.Held},
		{training.Known(12.5), "+10 4 +5 r", "0:10.0 stay 12.5s released 5s", training.Released},
		{training.Known(3600), "+10 4 +45 r", "0:10.0 stay 1:00:00 released 45s", training.Released},
		{training.Num{}, "+10 4 +45 r", "0:10.0 stay released 45s", training.Held},
	} {
		k := kennel()
		for i := range k.Cues {
			if k.Cues[i].Name == "stay" {
				k.Cues[i].Target = c.target
			}
		}
		m := New(Options{Kennel: k, Dog: "Tarn", Start: began, Context: map[string]string{"handler": "Ailsa", "place": "paddock"}})
		at, _ := press(t, m, began, c.keys)
		if trial := parse(t, m)[0].Trials[0]; trial.Outcome != c.want || trial.Marks != c.marks {
			t.Errorf("%v: %s, %q\n%s", c.target, trial.Outcome, trial.Marks, m.Text())
		}
		if again, err := Load(m.Text(), k, at); err != nil || again.fold().last != m.fold().last {
			t.Errorf("%v: loaded %v, %q", c.target, err, again.fold().last)
		}
	}
}

// The screen never uses a word of the verdict, and a long message is wrapped and
// not cut.
func TestScreenWords(t *testing.T) {
	m := begin()
	if s := strings.Join(m.Screen(100, 40, began), "\n"); !strings.Contains(s, "NO CUE OPEN") || strings.Contains(s, "R E A D Y") {
		t.Error(s)
	}
	at, _ := press(t, m, began, "+10 4")
	m, err := Load(m.Text(), kennel(), at.Add(27*time.Second))
	if err != nil {
		t.Fatal(err)
	}
	if s := strings.Join(m.Screen(40, 12, at.Add(27*time.Second)), "\n"); !strings.Contains(s, "* stay open 27 s. Not seen? q") {
		t.Error(s)
	}
	press(t, m, at.Add(30*time.Second), "6")
	if s := strings.Join(m.Screen(40, 12, at.Add(30*time.Second)), "\n"); !strings.Contains(s, "COME GIVEN: how did stay end?") {
		t.Error(s)
	}
	press(t, m, at.Add(31*time.Second), "y")
	if s := strings.Join(strings.Fields(strings.Join(m.Screen(40, 12, at.Add(31*time.Second)), " ")), " "); !strings.Contains(s, "* r released, q not seen, Esc: come was not given") {
		t.Error(s)
	}
	before := New(Options{Kennel: kennel(), Dog: "Tarn", Start: began, Ask: []string{"handler", "place"}})
	if s := strings.Join(before.Screen(60, 20, began), "\n"); !strings.Contains(s, "2 answers first; then the clock starts") {
		t.Error(s)
	}
}

// Whatever is pressed, in whatever order: the note can be read by note.Parse,
// the screen fits, what is on disk goes on where it was, and undoing everything
// leaves no trial.
func TestAnyKeysLeaveAReadableNote(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := begin()
		at := began
		keys := rapid.SliceOfN(rapid.SampledFrom([]rune("1234567890ynwsrgchlvxeaqupftiobk123456yy\r\x1b\b.Z>#;")), 0, 60).Draw(t, "keys")
		for _, k := range keys {
			at = at.Add(time.Duration(rapid.IntRange(0, 9000).Draw(t, "ms")) * time.Millisecond)
			n := len(m.events)
			if m.Key(k, at) != Running {
				m.mode = normal
			}
			if len(m.events) < n {
				t.Fatalf("%q lost an event", k)
			}
			for _, size := range [][2]int{{40, 12}, {100, 30}, {60, 16}} {
				lines := m.Screen(size[0], size[1], at)
				if len(lines) > size[1] {
					t.Fatalf("%d lines on a screen of %d", len(lines), size[1])
				}
				for _, l := range lines {
					if cells(l) > size[0] {
						t.Fatalf("line too long for %d columns: %q", size[0], l)
					}
				}
			}
		}
		loaded, err := Load(m.Text(), kennel(), at)
		if err != nil {
			t.Fatalf("%v\n%s", err, m.Text())
		}
		if a, b := m.fold(), loaded.fold(); a.trials != b.trials || (a.focus() == nil) != (b.focus() == nil) || a.last != b.last || m.mode != paused && loaded.clockAt(at) != m.clockAt(at) {
			t.Fatalf("loaded %+v at %v, was %+v at %v\n%s", b, loaded.clockAt(at), a, m.clockAt(at), m.Text())
		}
		m.mode = normal
		m.Unseen()
		if n, _ := m.Trials(); n > 0 {
			trials := 0
			for _, s := range parse(t, m) {
				trials += len(s.Trials)
			}
			if trials != n {
				t.Fatalf("note reads %d trials, the screen counts %d\n%s", trials, n, m.Text())
			}
		}
		for range 200 {
			m.Key('u', at)
		}
		if n, open := m.Trials(); n > 0 || open {
			t.Fatalf("%d trials left after undoing all\n%s", n, m.Text())
		}
	})
}
