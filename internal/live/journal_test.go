package live

import (
	"errors"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"
	"time"

	"firstcue/internal/training"
)

// At every moment the file holds what was saved last: appended while the note
// only grows, exchanged when something was taken back.
func TestJournalHoldsEveryKey(t *testing.T) {
	dir := filepath.Join(t.TempDir(), "state", "live")
	m := begin()
	j, err := Begin(dir, m)
	if err != nil {
		t.Fatal(err)
	}
	at := began
	for _, key := range "2y3nu3yp" {
		at = at.Add(700 * time.Millisecond)
		m.Key(key, at)
		if err := j.Save(m.Text()); err != nil {
			t.Fatal(err)
		}
		b, err := os.ReadFile(j.Path())
		if err != nil || string(b) != m.Text() {
			t.Fatalf("after %q the file holds\n%s\nthe note is\n%s%v", key, b, m.Text(), err)
		}
	}
	if info, err := os.Stat(j.Path()); err != nil || runtime.GOOS != "windows" && info.Mode().Perm() != 0o600 {
		t.Errorf("mode %v, %v", info.Mode(), err)
	}
	if _, err := Reopen(j.Path()); runtime.GOOS != "windows" && !errors.Is(err, ErrBusy) {
		t.Errorf("a second session on the note: %v", err)
	}
	if err := j.Close(); err != nil {
		t.Fatal(err)
	}
	left, err := Unfinished(dir)
	if err != nil || len(left) != 1 || left[0].Dog != "Tarn" || left[0].Cues != 3 {
		t.Errorf("left: %+v, %v", left, err)
	}
	again, err := Reopen(j.Path())
	if err != nil || again.Text() != m.Text() {
		t.Fatalf("reopened: %v\n%s", err, again.Text())
	}
	if err := again.Remove(); err != nil {
		t.Fatal(err)
	}
	if names, _ := os.ReadDir(dir); len(names) != 0 {
		t.Errorf("left behind: %v", names)
	}
	if left, err := Unfinished(filepath.Join(dir, "none")); err != nil || left != nil {
		t.Errorf("no folder: %v %v", left, err)
	}
}

func TestLoadLeavesOutALineCutShort(t *testing.T) {
	m := begin()
	press(t, m, began, "+10 2 +1 y +5 3")
	loaded, err := Load(m.Text()+"0:17.0 ", kennel(), began.Add(20*time.Second))
	if err != nil || loaded.Text() != m.Text() || !strings.Contains(loaded.message, "cut short") && !strings.Contains(loaded.message, "open ") {
		t.Errorf("%v %q\n%s", err, loaded.message, loaded.Text())
	}
	for _, bad := range []string{"", "dog: Tarn", "dog: Tarn\nstart: soon\n\n"} {
		if _, err := Load(bad, kennel(), began); err == nil {
			t.Errorf("%q was loaded", bad)
		}
	}
}

// Within ten minutes the clock has run on; later it has stood still, and what
// was open is ended as far as it was seen.
func TestLoadAfterASilence(t *testing.T) {
	m := begin()
	at, _ := press(t, m, began, "+10 4")
	soon, err := Load(m.Text(), kennel(), at.Add(2*time.Minute))
	if err != nil {
		t.Fatal(err)
	}
	press(t, soon, at.Add(2*time.Minute), "r")
	if got := marks(parse(t, soon)); got != "0:10.0 stay 1:00 released 2:00" {
		t.Errorf("after two minutes: %q", got)
	}
	late, err := Load(m.Text(), kennel(), at.Add(time.Hour))
	if err != nil {
		t.Fatal(err)
	}
	press(t, late, at.Add(time.Hour), "+4 2 +1 y")
	if got := marks(parse(t, late)); got != "0:10.0 stay 1:00 ?\n0:14.0 sit +1" {
		t.Errorf("after an hour: %q\n%s", got, late.Text())
	}
}

func TestKeysThatAreRefused(t *testing.T) {
	k := kennel()
	k.Dogs = append(k.Dogs, training.Dog{Name: "Moss", Holds: []training.VetHold{{From: training.DayOf(began), Reason: "sore paw", Cues: []string{"down"}}}})
	for _, c := range []struct{ dog, keys, say string }{
		{"Tarn", "y", "no cue is open"}, {"Tarn", "2r", "ends with y or g"}, {"Tarn", "2nn", "marked already"}, {"Tarn", "1y", "ends with r"},
		{"Tarn", "2c9\r", ""}, {"Tarn", "2c101\r", "the dial of blue remote has no 101"}, {"Tarn", "2c0\r", "the dial of blue remote has no 0"},
		{"Tarn", "2e", "end it first"}, {"Tarn", "u", "nothing to take back"}, {"Tarn", "z", "no key here"}, {"Bramble", "2c9", "trained without a collar"},
		{"Moss", "9", "no cue has the number 9"}, {"Moss", "8", "no cue has the number 8"}, {"Tarn", "2p", "end it first"}, {"Tarn", "og", "h handler, p place"},
	} {
		m := New(Options{Kennel: k, Dog: c.dog, Start: began, Context: map[string]string{"handler": "Ailsa", "place": "paddock", "device": map[string]string{"Tarn": "blue remote"}[c.dog]}})
		for _, key := range c.keys {
			m.Key(key, began.Add(time.Second))
		}
		if c.say == "" && m.message != "" || !strings.Contains(m.message, c.say) {
			t.Errorf("%s %q: %q, want %q", c.dog, c.keys, m.message, c.say)
		}
	}
	// An answer a minute and more after the cue belongs to another ask.
	m := begin()
	press(t, m, began, "+1 2 +61 y")
	if !strings.Contains(m.message, "too long after the cue") {
		t.Error(m.message)
	}
}

// The questions before a session: the clock starts after the last answer, and
// what is not said stays unknown.
func TestQuestionsBefore(t *testing.T) {
	m := New(Options{Kennel: kennel(), Dog: "Tarn", Start: began, Ask: []string{"handler", "place", "leash", "distraction"}})
	at := began
	for _, key := range "2\r1" { // Enter is no answer to who
		if m.Ready() {
			t.Fatal("ready too soon")
		}
		at = at.Add(10 * time.Second)
		m.Key(key, at)
	}
	m.Key('\r', at)
	at = at.Add(10 * time.Second)
	m.Key('3', at)
	if !m.Ready() || !m.start.Equal(at) {
		t.Fatalf("ready %v, start %v, want %v", m.Ready(), m.start, at)
	}
	if want := "dog: Tarn; handler: Corin\nstart: 2026-03-04T09:10:40+01:00; place: paddock; distraction: 3; source: live\n\n"; m.Text() != want {
		t.Errorf("%q", m.Text())
	}
}

func TestLargeLetters(t *testing.T) {
	for r := 'A'; r <= 'Z'; r++ {
		g, ok := letters[r]
		if !ok {
			t.Errorf("no large %c", r)
		}
		for _, row := range g {
			if len(row) != len(g[0]) {
				t.Errorf("%c is ragged", r)
			}
		}
	}
	if large("sit", 10) != nil || large("über", 99) != nil || len(large("leave it", 60)) != letterRows {
		t.Error("large")
	}
}
