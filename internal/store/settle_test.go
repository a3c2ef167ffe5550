package store

import (
	"errors"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"firstcue/internal/training"
)

// noted is an incident of a note, by its words.
func noted(words ...string) (out []training.Remark) {
	for i, w := range words {
		out = append(out, training.Remark{Text: w, Incident: true, Line: i + 1})
	}
	return out
}

func openIncidents(t testing.TB, s *Store) (words []string, dropped int) {
	t.Helper()
	for _, i := range must2(s.Incidents(ctx, "")) {
		if i.Closed == 0 {
			words = append(words, i.Text)
			if i.Dropped {
				dropped++
			}
		}
	}
	slices.Sort(words)
	return words, dropped
}

// Whatever becomes of the session, an incident stays until somebody closes it.
func TestIncidentsNeverVanish(t *testing.T) {
	for what, do := range map[string]func(s *Store, v training.Session, id string){
		"edited note": func(s *Store, v training.Session, id string) {
			v.Remarks, v.Weather = nil, "rain"
			add(t, s, v)
		},
		"amended": func(s *Store, v training.Session, id string) {
			v.Remarks = noted("something else")
			must2(s.Amend(ctx, id, v, ""))
			list := must2(s.Incidents(ctx, "Pepper"))
			for _, i := range list {
				if i.Text == "something else" {
					if err := s.CloseIncident(ctx, i.ID, i.Day, "seen to"); err != nil {
						t.Error(err)
					}
				}
			}
		},
		"withdrawn": func(s *Store, v training.Session, id string) { must2(s.Void(ctx, id, "wrong dog")) },
		"undone":    func(s *Store, v training.Session, id string) { must2(s.Undo(ctx)) },
		"part gone from the note": func(s *Store, v training.Session, id string) {
			v.Part, v.Remarks = 1, nil
			add(t, s, v)
		},
	} {
		t.Run(what, func(t *testing.T) {
			s := open(t, "a")
			furnish(t, s)
			v := session("Pepper", 0, "+", "-")
			v.Remarks = noted("growled", "growled")
			id := add(t, s, v).Sessions[0].Session.ID
			do(s, v, id)
			words, dropped := openIncidents(t, s)
			if !slices.Equal(words, []string{"growled", "growled"}) || dropped != 2 {
				t.Fatalf("%v, %d of them dropped", words, dropped)
			}
			r := must2(s.Record(ctx, "Pepper", 0))
			for _, i := range r.Incidents {
				if i.Closed == 0 {
					if err := s.CloseIncident(ctx, i.ID[len(i.ID)-8:], i.Day, "seen to"); err != nil {
						t.Error(err)
					}
				}
			}
			if words, _ := openIncidents(t, s); words != nil {
				t.Errorf("closed, and still open: %v", words)
			}
		})
	}
}

// One of two incidents of the same words is taken out: both stay.
func TestOneOfTwoIncidentsGone(t *testing.T) {
	s := open(t, "a")
	furnish(t, s)
	v := session("Pepper", 0, "+")
	v.Remarks = noted("growled", "growled")
	id := add(t, s, v).Sessions[0].Session.ID
	v.Remarks = noted("growled")
	must2(s.Amend(ctx, id, v, ""))
	if words, dropped := openIncidents(t, s); len(words) != 2 || dropped != 1 {
		t.Errorf("%v, %d dropped", words, dropped)
	}
	v.Remarks = noted("growled", "growled", "growled")
	must2(s.Amend(ctx, id, v, ""))
	if words, dropped := openIncidents(t, s); len(words) != 3 || dropped != 0 {
		t.Errorf("%v, %d dropped", words, dropped)
	}
}

// A session written on two laptops, with other words and an incident on one.
func TestTwoFirstForms(t *testing.T) {
	a, b := pair(t)
	v, w := session("Pepper", 0, "+", "-"), session("Pepper", 0, "+", "+")
	v.Remarks = noted("growled at a child")
	id := add(t, a, v).Sessions[0].Session.ID
	add(t, b, w)
	mergeFrom(t, a, b)
	mergeFrom(t, b, a)
	for _, s := range []*Store{a, b} {
		if words, _ := openIncidents(t, s); len(words) != 1 {
			t.Errorf("open incidents: %v", words)
		}
		if c := must2(s.Conflicts(ctx)); len(c) != 1 || len(c[0].Heads) != 2 {
			t.Fatalf("%+v", c)
		}
		if f := must2(s.Forms(ctx, id)); len(f) != 2 {
			t.Errorf("%+v", f)
		}
		if r := must2(s.Record(ctx, "Pepper", 0)); !slices.Equal(r.Unsettled, []string{id}) {
			t.Errorf("record: %v", r.Unsettled)
		}
	}
	// What a log, its undo or a part taken out of the note does settles nothing:
	// nobody looked at both forms.
	third := w
	third.Weather = "rain"
	add(t, a, third)
	if c := must2(a.Conflicts(ctx)); len(c) != 1 || len(c[0].Heads) != 2 {
		t.Fatalf("a log settled it: %+v", c)
	}
	must2(a.Undo(ctx))
	if c := must2(a.Conflicts(ctx)); len(c) != 1 || len(c[0].Heads) != 2 {
		t.Fatalf("an undo settled it: %+v", c)
	}
	// Settled, by the last characters of the form's id.
	first := must2(a.Conflicts(ctx))[0].Heads[0]
	got := must2(a.Settle(ctx, id, first.ID[len(first.ID)-8:], ""))
	if c := must2(a.Conflicts(ctx)); len(c) != 0 || !same(got, first.Session) {
		t.Fatalf("%+v %+v", c, got)
	}
	if f := must2(a.Forms(ctx, id)); len(f) != 0 {
		t.Errorf("%+v", f)
	}
	if r := must2(a.Record(ctx, "Pepper", 0)); len(r.Unsettled) != 0 {
		t.Errorf("record: %v", r.Unsettled)
	}
	if words, _ := openIncidents(t, a); len(words) != 1 {
		t.Errorf("open incidents: %v", words)
	}
	// Taken back, it is to be settled again.
	must2(a.Undo(ctx))
	if c := must2(a.Conflicts(ctx)); len(c) != 1 {
		t.Errorf("an undone settlement holds: %+v", c)
	}
	mergeFrom(t, b, a)
	if c := must2(b.Conflicts(ctx)); len(c) != 1 {
		t.Errorf("on the other laptop: %+v", c)
	}
	if _, err := a.Settle(ctx, id, "ffffffff", ""); err == nil {
		t.Error("a form that is not there was settled on")
	}
}

// The same note on two laptops and then an edited one on one of them is no
// conflict.
func TestSameNoteThenEdited(t *testing.T) {
	a, b := pair(t)
	v := session("Pepper", 0, "+")
	add(t, a, v)
	add(t, b, v)
	mergeFrom(t, a, b)
	v.Weather = "rain"
	add(t, a, v)
	mergeFrom(t, b, a)
	for _, s := range []*Store{a, b} {
		if c := must2(s.Conflicts(ctx)); len(c) != 0 {
			t.Errorf("%+v", c)
		}
	}
	must2(a.Undo(ctx))
	if c := must2(a.Conflicts(ctx)); len(c) != 0 {
		t.Errorf("undone: %+v", c)
	}
}

// After a conflict over the last log there is nothing of that log to take back:
// undo goes on to the one before it, and says which it passed over.
func TestUndoAfterConflict(t *testing.T) {
	a, b := pair(t)
	first, last := session("Pepper", 0, "+"), session("Pepper", 1, "+")
	one := add(t, a, first).Sessions[0].Session.ID
	two := add(t, a, last).Sessions[0].Session.ID
	mergeFrom(t, b, a)
	x := last
	x.Weather = "rain"
	must2(b.Amend(ctx, two, x, "b says"))
	mergeFrom(t, a, b)
	u := must2(a.Undo(ctx))
	if len(u.Passed) != 1 || len(u.Sessions) != 1 || u.Sessions[0].Session.ID != one || u.Sessions[0].What != Voided {
		t.Fatalf("%+v", u)
	}
	if v := must2(a.Session(ctx, two)); v.Voided != "" || v.Weather != "rain" {
		t.Errorf("what was changed since is touched: %+v", v)
	}
	if _, err := a.Undo(ctx); !errors.Is(err, ErrNotFound) {
		t.Errorf("a third time: %v", err)
	}
}

// What two laptops say differently of a stay is said; a name that differs in its
// capitals alone renames nobody, whichever was later.
func TestMergeSaysWhatItChanges(t *testing.T) {
	due := func(s string) training.Boarding {
		return training.Boarding{Arrived: must2(training.ParseDay("2026-03-01")), Due: must2(training.ParseDay(s))}
	}
	for _, names := range [][2]string{{"Bramble", "bramble"}, {"bramble", "Bramble"}} {
		a, b := open(t, "a"), open(t, "b")
		must2(a.PutDog(ctx, training.Dog{Name: names[0], Boardings: []training.Boarding{due("2026-03-11")}}))
		must2(b.PutPlace(ctx, training.Place{Name: "barn"}))
		must2(b.PutDog(ctx, training.Dog{Name: names[1], Boardings: []training.Boarding{due("2026-03-12")}}))
		for i, p := range [][2]*Store{{a, b}, {b, a}} {
			differ := mergeFrom(t, p[0], p[1]).Differ
			k := must2(p[0].Kennel(ctx))
			if len(k.Dogs) != 1 || k.Dogs[0].Name != "Bramble" {
				t.Fatalf("%v: %+v", names, k.Dogs)
			}
			var said *Difference
			for j := range differ {
				if differ[j].Field == "due day" {
					said = &differ[j]
				}
			}
			if i == 0 && (said == nil || said.Name != "Bramble" || said.Here != "2026-03-11" || said.There != "2026-03-12" || said.Kept != k.Dogs[0].Boardings[0].Due.String()) {
				t.Errorf("%v: %+v", names, differ)
			}
		}
	}
	// On purpose it is another matter.
	a, b := open(t, "a"), open(t, "b")
	d := must2(a.PutDog(ctx, training.Dog{Name: "Bramble"}))
	mergeFrom(t, b, a)
	d.Name = "BRAMBLE"
	must2(a.PutDog(ctx, d))
	mergeFrom(t, b, a)
	for _, s := range []*Store{a, b} {
		if k := must2(s.Kennel(ctx)); len(k.Dogs) != 1 || k.Dogs[0].Name != "BRAMBLE" {
			t.Errorf("%+v", k.Dogs)
		}
	}
}

// A role or ground that log --new put there gives way to what somebody entered,
// in whatever order and whenever.
func TestGuessGivesWay(t *testing.T) {
	for _, guessLast := range []bool{true, false} {
		a, b := open(t, "a"), open(t, "b")
		enter := func(s *Store) {
			must2(s.PutHandler(ctx, training.Handler{Name: "Mrs Lark", Role: training.Owner}))
			must2(s.PutPlace(ctx, training.Place{Name: "market", OffProperty: true}))
		}
		guess := func(s *Store) {
			v := session("Pepper", 0, "+")
			v.Handler, v.Place = "Mrs Lark", "market"
			must2(s.LogNote(ctx, LogRequest{Sessions: []training.Session{v}, Dogs: []training.Dog{{Name: "Pepper"}},
				Handlers: []training.Handler{{Name: "Mrs Lark", Role: training.Trainer}}, Places: []training.Place{{Name: "market"}}}))
		}
		one, two := enter, guess
		if !guessLast {
			one, two = guess, enter
		}
		one(a)
		for range 20 { // the other laptop's clock is later
			must2(b.PutPlace(ctx, training.Place{Name: string(rune('a' + len(must2(b.Kennel(ctx)).Places)))}))
		}
		two(b)
		var differ []Difference
		for _, p := range [][2]*Store{{a, b}, {b, a}} {
			differ = append(differ, mergeFrom(t, p[0], p[1]).Differ...)
			k := must2(p[0].Kennel(ctx))
			h, _ := k.Handler("Mrs Lark")
			m, _ := k.Place("market")
			if h.Role != training.Owner || !m.OffProperty {
				t.Errorf("guess last %v: %s, off property %v", guessLast, h.Role, m.OffProperty)
			}
		}
		if want := map[bool]int{true: 4, false: 2}[guessLast]; len(differ) != want || differ[0].Name != "Mrs Lark" || differ[0].Kept != "owner" || differ[1].Name != "market" || differ[1].Kept != "off property" {
			t.Errorf("%+v", differ)
		}
		if d := mergeFrom(t, a, b).Differ; len(d) != 0 {
			t.Errorf("said again: %+v", d)
		}
	}
	// A guess that somebody says is right is one no longer.
	a, b := open(t, "a"), open(t, "b")
	v := session("Pepper", 0, "+")
	v.Handler, v.Place = "Mrs Lark", ""
	must2(a.LogNote(ctx, LogRequest{Sessions: []training.Session{v}, Dogs: []training.Dog{{Name: "Pepper"}}, Handlers: []training.Handler{{Name: "Mrs Lark", Role: training.Trainer}}}))
	must2(b.PutHandler(ctx, training.Handler{Name: "Mrs Lark", Role: training.Outsider}))
	h, _ := must2(a.Kennel(ctx)).Handler("Mrs Lark")
	for range 5 {
		must2(a.Kennel(ctx))
	}
	must2(a.PutHandler(ctx, h, "role"))
	mergeFrom(t, a, b)
	if h, _ = must2(a.Kennel(ctx)).Handler("Mrs Lark"); h.Role != training.Trainer {
		t.Errorf("%+v", h)
	}
}

// A dog added by mistake goes with its stay and its hold, and one that a session
// or an incident names stays.
func TestRemoveDog(t *testing.T) {
	s := open(t, "a")
	furnish(t, s)
	must2(s.PutDog(ctx, training.Dog{Name: "Trn", Boardings: []training.Boarding{{Arrived: noonDay()}}, Goals: []training.Goal{{Cue: "sit"}}}))
	must2(s.SetHold(ctx, "Trn", training.VetHold{From: noonDay(), Reason: "cut pad"}))
	if u := must2(s.Uses(ctx, Dogs, "Trn")); u.Sessions != 0 || u.Incidents != 0 || u.With != "1 stay, 1 hold, 1 goal" {
		t.Errorf("%+v", u)
	}
	if err := s.Remove(ctx, Dogs, "Trn"); err != nil {
		t.Fatal(err)
	}
	if len(must2(night(s, noonDay()))) != 0 || len(must2(s.Kennel(ctx)).Dogs) != 2 {
		t.Error("something of the dog is left")
	}
	must2(s.AddIncident(ctx, "Quill", noonDay(), "cut pad"))
	if err := s.Remove(ctx, Dogs, "Quill"); err == nil || !strings.Contains(err.Error(), "0 sessions and 1 incident;") {
		t.Errorf("%v", err)
	}
	v := session("Pepper", 0, "+")
	v.Remarks = noted("growled")
	add(t, s, v)
	must2(s.Undo(ctx))
	if err := s.Remove(ctx, Dogs, "Pepper"); err == nil {
		t.Error("a dog with an open incident left the list")
	}
	if err := s.Remove(ctx, Handlers, "Tove"); err == nil || !strings.Contains(err.Error(), "by 1 dog;") {
		t.Errorf("%v", err)
	}
}

// Check counts what is in force: the forms before it, and what was withdrawn,
// are in no figure either.
func TestCheckCountsWhatIsInForce(t *testing.T) {
	s := open(t, "a")
	furnish(t, s)
	v := session("Pepper", 0, "+", "-")
	v.Trials[1] = training.Trial{Cue: "sit", Kind: training.Response, Outcome: training.Counted, Tally: training.Tally{Yes: 8, Of: 10}}
	id := add(t, s, v).Sessions[0].Session.ID
	v.Weather = "rain"
	must2(s.Amend(ctx, id, v, ""))
	w := session("Quill", 0, "+")
	must2(s.Void(ctx, add(t, s, w).Sessions[0].Session.ID, "wrong dog"))
	if h := must2(Check(ctx, s.path)); h.Trials != 11 || h.Standing != 1 || h.Sessions != 2 || h.Revisions != 4 {
		t.Errorf("%+v", h)
	}
}

func TestUndoKnowsWhatCameAfter(t *testing.T) {
	s := open(t, "a")
	furnish(t, s)
	add(t, s, session("Pepper", 0, "+"))
	if p := must2(s.UndoPreview(ctx)); len(p.Later) != 0 {
		t.Errorf("%+v", p.Later)
	}
	i := must2(s.AddIncident(ctx, "Quill", noonDay(), "cut pad"))
	if err := s.CloseIncident(ctx, i.ID, noonDay(), "rested"); err != nil {
		t.Fatal(err)
	}
	if p := must2(s.UndoPreview(ctx)); len(p.Later) != 2 || !strings.Contains(p.Later[0].Said, "closed") {
		t.Errorf("%+v", p.Later)
	}
}

func TestHoldEndsBeforeItBegan(t *testing.T) {
	s := open(t, "a")
	furnish(t, s)
	must2(s.SetHold(ctx, "Pepper", training.VetHold{From: noonDay(), Reason: "cut pad"}))
	_, err := s.EndHold(ctx, "Pepper", "", noonDay()-1)
	if err == nil || err.Error() != "the hold began on 2026-03-04; --end that day or later" {
		t.Errorf("%v", err)
	}
}

func TestBackupIntoAFolderThatIsNotThere(t *testing.T) {
	s := open(t, "a")
	for _, name := range []string{"copies", "copies/friday.db"} {
		dst := filepath.Join(t.TempDir(), name)
		if _, err := s.Backup(ctx, dst, 0); !errors.Is(err, ErrInvalid) || !strings.Contains(err.Error(), "there is no folder ") {
			t.Errorf("%s: %v", name, err)
		}
		if exists(dst) {
			t.Errorf("%s was made", dst)
		}
	}
	for _, path := range []string{"/proc/none/kennel.db", "/dev/null/kennel.db"} {
		if _, err := Open(ctx, path, Options{Create: true}); !errors.Is(err, ErrReadOnly) || !strings.HasPrefix(err.Error(), path+": ") || !strings.Contains(err.Error(), "name another with --store FILE") {
			t.Errorf("%v", err)
		}
	}
}

// A bar and the goals are said as well: they decide what is called ready.
func TestMergeSaysBarsAndGoals(t *testing.T) {
	a, b := open(t, "a"), open(t, "b")
	for _, s := range []*Store{a, b} {
		furnish(t, s)
	}
	set := func(s *Store, v float64) {
		t.Helper()
		if err := s.SetSetting(ctx, training.Setting{Cue: "come", Name: "rate", Value: v}); err != nil {
			t.Fatal(err)
		}
	}
	goals := func(s *Store, g ...training.Goal) {
		t.Helper()
		if err := s.SetGoals(ctx, "Pepper", g); err != nil {
			t.Fatal(err)
		}
	}
	set(a, .97)
	set(b, .7)
	goals(a, training.Goal{Cue: "sit", Place: "the market", Bar: training.Known(.9)}, training.Goal{Cue: "come", Words: "come, always"})
	goals(b, training.Goal{Cue: "sit", Bar: training.Known(.6)})
	var got []string
	for _, d := range mergeFrom(t, a, b).Differ {
		if d.List != Dogs && d.List != Bars || d.Field != "goals" && d.List == Dogs {
			continue
		}
		got = append(got, strings.Join([]string{d.List, d.Name, d.Dog, d.Cue, d.Field, d.Here, d.There}, "|"))
		if d.Kept != d.Here && d.Kept != d.There {
			t.Errorf("kept %q", d.Kept)
		}
	}
	want := []string{"dog|Pepper|||goals|sit, the market, 90%; come, always|sit, 60%", "bar|rate||come||0.97|0.7"}
	if !slices.Equal(got, want) {
		t.Errorf("%q\nwant %q", got, want)
	}
	if again := mergeFrom(t, a, b).Differ; len(again) > 0 {
		t.Errorf("said again: %+v", again)
	}
}
