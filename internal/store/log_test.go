package store

import (
	"errors"
	"reflect"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"firstcue/internal/training"
)

func whats(r LogResult) string {
	var w []string
	for _, l := range r.Sessions {
		w = append(w, l.What)
	}
	return strings.Join(w, ", ")
}

func standing(t testing.TB, s *Store, dog string) []training.Session {
	t.Helper()
	list, err := s.Sessions(ctx, Filter{Dog: dog})
	if err != nil {
		t.Fatal(err)
	}
	return list
}

func TestSameNoteTwiceIsOneSession(t *testing.T) {
	s := open(t, "laptop")
	furnish(t, s)
	req := LogRequest{Sessions: []training.Session{session("Pepper", 0, "+", "-"), session("Quill", 0, "+")}, Text: []byte("a note\r\n\x00\xff"), Name: "day.txt"}
	first, err := s.LogNote(ctx, req)
	if err != nil || whats(first) != "stored, stored" {
		t.Fatalf("%s %v", whats(first), err)
	}
	// The same in another spelling, case and zone.
	req.Sessions[0].Dog, req.Sessions[0].Handler = " pepper", "TOVE"
	again, err := s.LogNote(ctx, req)
	if err != nil || whats(again) != "already stored, already stored" || again.Batch != "" || again.Sessions[0].Session.ID != first.Sessions[0].Session.ID {
		t.Fatalf("%s %v %q", whats(again), err, again.Batch)
	}
	if n := len(standing(t, s, "")); n != 2 {
		t.Errorf("%d sessions", n)
	}
	b, err := s.Batches(ctx, 0)
	if err != nil || len(b) != 1 || b[0].Sessions != 2 || b[0].Name != "day.txt" {
		t.Fatalf("%+v %v", b, err)
	}
	if text, err := s.Source(ctx, b[0].Source); err != nil || string(text) != string(req.Text) {
		t.Errorf("the note came back as %q, %v", text, err)
	}
}

func TestAmending(t *testing.T) {
	s := open(t, "laptop")
	furnish(t, s)
	add(t, s, session("Pepper", 0, "+"))
	res := add(t, s, session("Pepper", 0, "+", "-"))
	if whats(res) != "amended" || len(res.Sessions[0].Previous.Trials) != 1 || len(res.Sessions[0].Session.Trials) != 2 || res.Sessions[0].Session.Revision != 2 {
		t.Fatalf("%+v", res)
	}
	id := res.Sessions[0].Session.ID
	moved := session("Quill", 3, "-")
	if _, err := s.Amend(ctx, Short(id), moved, "it was Quill, at noon"); err != nil {
		t.Fatal(err)
	}
	if len(standing(t, s, "Pepper")) != 0 || len(standing(t, s, "Quill")) != 1 {
		t.Error("the session did not move to the other dog")
	}
	if again, err := s.Amend(ctx, id, moved, "twice"); err != nil || again.Revision != 3 {
		t.Errorf("saying the same again: revision %d, %v", again.Revision, err)
	}
	h, err := s.History(ctx, id)
	if err != nil || len(h) != 3 || h[0].Session.Dog != "Pepper" || len(h[0].Session.Trials) != 1 || h[2].Why != "it was Quill, at noon" || !h[2].Shown || h[1].Shown {
		t.Fatalf("%+v %v", h, err)
	}
	// What left its place may be logged anew.
	if res := add(t, s, session("Pepper", 0, "+")); whats(res) != "stored" || res.Sessions[0].Session.ID == id {
		t.Errorf("%+v", res)
	}
	// Two sessions can't be amended into one.
	if _, err := s.Amend(ctx, id, session("Pepper", 0, "-"), ""); !errors.Is(err, ErrInvalid) {
		t.Errorf("two sessions of one key: %v", err)
	}
}

func TestVoiding(t *testing.T) {
	s := open(t, "laptop")
	furnish(t, s)
	in := session("Pepper", 0, "+")
	id := add(t, s, in).Sessions[0].Session.ID
	if _, err := s.Void(ctx, id, ""); !errors.Is(err, ErrInvalid) {
		t.Errorf("void without a reason: %v", err)
	}
	v, err := s.Void(ctx, id, "wrong dog")
	if err != nil || v.Voided != "wrong dog" || len(v.Trials) != 1 {
		t.Fatalf("%+v %v", v, err)
	}
	if len(standing(t, s, "")) != 0 {
		t.Error("a voided session is listed")
	}
	if all, _ := s.Sessions(ctx, Filter{IncludeVoided: true}); len(all) != 1 {
		t.Error("a voided session is lost")
	}
	if r, _ := s.Record(ctx, "Pepper", 0); len(r.Sessions) != 1 || r.Sessions[0].Voided == "" {
		t.Error("the record does not say that the session is void")
	}
	if res := add(t, s, in); whats(res) != "already stored" || res.Sessions[0].Session.Voided == "" {
		t.Errorf("logging the same again: %+v", res)
	}
	if u, err := s.Unvoid(ctx, id, "right dog after all"); err != nil || u.Voided != "" || u.Revision != 3 {
		t.Errorf("%+v %v", u, err)
	}
	if h, _ := s.History(ctx, id); len(h) != 3 {
		t.Errorf("%d revisions", len(h))
	}
}

func TestPartNoLongerInTheNote(t *testing.T) {
	s := open(t, "laptop")
	furnish(t, s)
	one, two := session("Pepper", 0, "+"), session("Pepper", 0, "-")
	two.Part, two.Place = 1, "market square"
	other := session("Pepper", 2, "+")
	add(t, s, one, two, other)
	res := add(t, s, one)
	if whats(res) != "already stored, voided" || res.Sessions[1].Session.Voided != ReasonGone {
		t.Fatalf("%+v", res)
	}
	if n := len(standing(t, s, "Pepper")); n != 2 {
		t.Errorf("%d sessions stand, want the first part and the one at another time", n)
	}
	if res := add(t, s, one, two); whats(res) != "already stored, stored" || len(standing(t, s, "Pepper")) != 3 {
		t.Errorf("back in the note: %s", whats(res))
	}
}

func TestSecondScoring(t *testing.T) {
	s := open(t, "laptop")
	furnish(t, s)
	first := add(t, s, session("Pepper", 0, "+", "-")).Sessions[0].Session
	second := session("Pepper", 0, "+", "+")
	second.Scorer = "Bram"
	res := add(t, s, second)
	if whats(res) != "second scoring" || res.Sessions[0].Session.Rescores != first.ID || res.Sessions[0].Session.ID == first.ID {
		t.Fatalf("%+v", res)
	}
	if res := add(t, s, second); whats(res) != "already stored" {
		t.Errorf("the second scoring again: %s", whats(res))
	}
	// The handler who is named as scorer scored the first.
	same := session("Pepper", 0, "+", "-")
	same.Scorer = "Tove"
	if res := add(t, s, same); whats(res) != "amended" || res.Sessions[0].Session.ID != first.ID {
		t.Errorf("%+v", res)
	}
	// Another handler without a scorer corrects who held it.
	other := session("Quill", 0, "+")
	add(t, s, other)
	other.Handler = "Bram"
	if res := add(t, s, other); whats(res) != "amended" {
		t.Errorf("another handler: %s", whats(res))
	}
}

func TestBadSessionsStoreNothing(t *testing.T) {
	s := open(t, "laptop")
	furnish(t, s)
	good := session("Pepper", 0, "+")
	for what, spoil := range map[string]func(*training.Session){
		"unknown dog": func(v *training.Session) { v.Dog = "Nobody" },
		"no dog":      func(v *training.Session) { v.Dog = "" },
		"unknown cue": func(v *training.Session) { v.Trials[0].Cue = "spin" },
		"unknown device": func(v *training.Session) {
			v.Trials[0].Corrections = []training.Correction{{Kind: training.ByCollar, Device: "toaster"}}
		},
		"bad outcome":     func(v *training.Session) { v.Trials[0].Outcome = "perhaps" },
		"bad distraction": func(v *training.Session) { v.Distraction = training.Known(7) },
		"negative":        func(v *training.Session) { v.Trials[0].Latency = training.Known(-1) },
		"not a number":    func(v *training.Session) { v.Trials[0].Latency = training.Known(nan()) },
		"not text":        func(v *training.Session) { v.Note = "\xff" },
		"tally":           func(v *training.Session) { v.Trials[0].Tally = training.Tally{Yes: 5, Of: 4} },
		"no start":        func(v *training.Session) { v.Start = time.Time{} },
		"twice":           func(v *training.Session) { *v = session("Pepper", 0, "-") },
	} {
		bad := session("Pepper", 1, "+")
		spoil(&bad)
		_, err := s.LogNote(ctx, LogRequest{Sessions: []training.Session{good, bad}, Dogs: []training.Dog{{Name: "New One"}}, Text: []byte("x")})
		if !errors.Is(err, ErrInvalid) && !errors.Is(err, ErrUnknown) {
			t.Errorf("%s: %v", what, err)
		}
		if n := len(standing(t, s, "")); n != 0 {
			t.Fatalf("%s: %d sessions were stored", what, n)
		}
	}
	if k, _ := s.Kennel(ctx); len(k.Dogs) != 2 {
		t.Error("a dog was added by a note that was refused")
	}
}

func nan() float64 { z := 0.0; return z / z }

func TestUndo(t *testing.T) {
	s := open(t, "laptop")
	furnish(t, s)
	add(t, s, session("Pepper", 0, "+"))
	res, err := s.LogNote(ctx, LogRequest{Sessions: []training.Session{session("Pepper", 0, "-"), session("Moth", 1, "+")}, Dogs: []training.Dog{{Name: "Moth"}}, Name: "two.txt"})
	if err != nil || whats(res) != "amended, stored" {
		t.Fatalf("%s %v", whats(res), err)
	}
	p, err := s.UndoPreview(ctx)
	if err != nil || len(p.Sessions) != 2 || p.Batch.ID != res.Batch || !reflect.DeepEqual(p.Removed, []string{"dog Moth"}) {
		t.Fatalf("%+v %v", p, err)
	}
	if h, _ := s.History(ctx, res.Sessions[0].Session.ID); len(h) != 2 {
		t.Fatal("the preview changed something")
	}
	u, err := s.Undo(ctx)
	if err != nil || len(u.Sessions) != 2 {
		t.Fatalf("%+v %v", u, err)
	}
	list := standing(t, s, "")
	if len(list) != 1 || list[0].Dog != "Pepper" || list[0].Trials[0].Outcome != training.Answered {
		t.Errorf("%+v", list)
	}
	if k, _ := s.Kennel(ctx); len(k.Dogs) != 2 {
		t.Errorf("the dog that came with the note is still there")
	}
	// Logged again, it is all there again.
	res, err = s.LogNote(ctx, LogRequest{Sessions: []training.Session{session("Moth", 1, "+")}, Dogs: []training.Dog{{Name: "Moth"}}})
	if err != nil || whats(res) != "stored" || len(standing(t, s, "Moth")) != 1 {
		t.Errorf("%s %v", whats(res), err)
	}
	for range 2 { // that one, and then the very first
		if _, err := s.Undo(ctx); err != nil {
			t.Fatal(err)
		}
	}
	if len(standing(t, s, "")) != 0 {
		t.Error("something still stands")
	}
	if _, err := s.Undo(ctx); !errors.Is(err, ErrNotFound) {
		t.Errorf("nothing left to undo: %v", err)
	}
	e, err := s.Events(ctx, 0)
	if err != nil || len(e) == 0 || !strings.HasPrefix(e[0].Said, "undo") {
		t.Errorf("%v %v", e, err)
	}
}

func TestHandles(t *testing.T) {
	s := open(t, "laptop")
	furnish(t, s)
	a := add(t, s, session("Pepper", 0, "+")).Sessions[0].Session.ID
	for _, h := range []string{a, Short(a), strings.ToUpper(Short(a)), a[len(a)-4:]} {
		if got, err := s.Session(ctx, h); err != nil || got.ID != a {
			t.Errorf("%s: %v", h, err)
		}
	}
	for _, h := range []string{"", "a", "zzzzzz", "%", "______"} {
		if _, err := s.Session(ctx, h); !errors.Is(err, ErrNotFound) {
			t.Errorf("%q: %v", h, err)
		}
	}
	// Two that end alike are both shown.
	var two []string
	byEnd := map[string]string{}
	for i := 1; len(two) == 0 && i < 3000; i++ {
		id := sessionID("d", "", int64(i), 0)
		if o := byEnd[id[32:]]; o != "" {
			two = []string{o, id}
		}
		byEnd[id[32:]] = id
	}
	for i, id := range two {
		err := s.write(ctx, func(x *tx) error {
			v := session("Pepper", 5+i, "+")
			r, err := x.revisionOf(&v)
			if err != nil {
				return err
			}
			b := x.newBatch("log", "")
			r.Session, r.Batch = id, b.ID
			if err := x.revise(&held{}, r); err != nil {
				return err
			}
			return x.addBatch(b)
		})
		if err != nil {
			t.Fatal(err)
		}
	}
	if _, err := s.Session(ctx, two[0][32:]); !errors.Is(err, ErrAmbiguous) || !strings.Contains(err.Error(), two[0]) || !strings.Contains(err.Error(), two[1]) {
		t.Errorf("%v", err)
	}
	if id := sessionID("d", "", 1772615400000, 0); id[14] != '7' || !strings.HasPrefix(id, "019cb") {
		t.Errorf("%s is no UUIDv7 of March 2026", id) // layout: RFC 9562, section 5.7
	}
}

func TestIncidents(t *testing.T) {
	s := open(t, "laptop")
	furnish(t, s)
	in := session("Pepper", 0, "+")
	in.Remarks = []training.Remark{{Text: "growled", Incident: true, Line: 1}, {Text: "growled", Incident: true, Line: 2}, {Text: "warm", Line: 3}}
	id := add(t, s, in).Sessions[0].Session.ID
	free, err := s.AddIncident(ctx, "Pepper", in.Day()+1, "cut pad")
	if err != nil {
		t.Fatal(err)
	}
	list, err := s.Incidents(ctx, "Pepper")
	if err != nil || len(list) != 3 || list[0].ID == list[1].ID || list[2].ID != free.ID || list[0].Session != id || list[0].Day != in.Day() {
		t.Fatalf("%+v %v", list, err)
	}
	if err := s.CloseIncident(ctx, list[0].ID, in.Day()-1, "x"); !errors.Is(err, ErrInvalid) {
		t.Errorf("closed before it happened: %v", err)
	}
	// The first of two with the same words: the second must not take its place.
	first := incidentID(id, "growled", 0, 2)
	if err := s.CloseIncident(ctx, first, in.Day()+2, "seen by the vet"); err != nil {
		t.Fatal(err)
	}
	// The rest of the note changes, the incident stays closed.
	in.Trials[0].Asks = 2
	add(t, s, in)
	closed := first
	list, _ = s.Incidents(ctx, "")
	for _, x := range list {
		if (x.ID == closed) != (x.Outcome == "seen by the vet" && x.Closed == in.Day()+2) {
			t.Errorf("%+v", x)
		}
	}
	// As of the day before it was closed it was open.
	if r, _ := s.Record(ctx, "Pepper", in.Day()+1); len(r.Incidents) != 3 || r.Incidents[0].Closed != 0 || r.Incidents[1].Closed != 0 {
		t.Errorf("%+v", r.Incidents)
	}
	if r, _ := s.Record(ctx, "Quill", 0); len(r.Incidents) != 0 {
		t.Error("another dog's incident")
	}
	// Other words are another incident, and open; what was there stays.
	in.Remarks[0].Text = "growled and snapped"
	add(t, s, in)
	list, _ = s.Incidents(ctx, "Pepper")
	other := incidentID(id, "growled and snapped", 0, 1)
	if len(list) != 4 {
		t.Fatalf("%+v", list)
	}
	for _, x := range list {
		if (x.ID == closed) != (x.Closed != 0) {
			t.Errorf("%+v", x)
		}
	}
	if err := s.CloseIncident(ctx, other, in.Day(), "rested"); err != nil {
		t.Error(err)
	}
	if err := s.CloseIncident(ctx, other, 0, ""); err != nil {
		t.Error(err)
	}
	list, _ = s.Incidents(ctx, "Pepper")
	for _, x := range list {
		if x.ID == other && (x.Closed != 0 || x.Outcome != "") {
			t.Errorf("opened again: %+v", x)
		}
	}
	if _, err := s.Void(ctx, id, "wrong dog"); err != nil {
		t.Fatal(err)
	}
	if list, _ = s.Incidents(ctx, "Pepper"); len(list) != 4 {
		t.Errorf("incidents of a voided session: %+v", list)
	}
	if err := s.CloseIncident(ctx, "nothing", in.Day(), ""); !errors.Is(err, ErrNotFound) {
		t.Error(err)
	}
}

func TestAsOfAndFilter(t *testing.T) {
	s := open(t, "laptop")
	furnish(t, s)
	late := session("Pepper", 0, "+")
	late.Start = time.Date(2026, 3, 5, 23, 50, 0, 0, time.FixedZone("", -8*3600)) // the 6th in Greenwich
	early := session("Pepper", 0, "-")
	early.Handler, early.Place = "Bram", "market square"
	add(t, s, early, late, session("Quill", 1, "+"))
	on := func(d string) training.Day { v, _ := training.ParseDay(d); return v }
	for _, c := range []struct {
		f    Filter
		want int
	}{
		{Filter{}, 3}, {Filter{Dog: "Pepper"}, 2}, {Filter{Handler: "bram"}, 1}, {Filter{Place: "Market  Square"}, 1},
		{Filter{From: on("2026-03-05")}, 1}, {Filter{To: on("2026-03-04")}, 2}, {Filter{From: on("2026-03-06")}, 0}, {Filter{Limit: 1}, 1}, {Filter{Limit: 2, Dog: "Pepper"}, 2},
	} {
		got, err := s.Sessions(ctx, c.f)
		if err != nil || len(got) != c.want {
			t.Errorf("%+v: %d sessions, want %d (%v)", c.f, len(got), c.want, err)
		}
		for i := 1; i < len(got); i++ {
			if got[i].Start.Before(got[i-1].Start) {
				t.Errorf("%+v: not in order of start", c.f)
			}
		}
	}
	if got, _ := s.Sessions(ctx, Filter{Limit: 1}); len(got) == 1 && !got[0].Start.Equal(late.Start) {
		t.Error("the limit does not keep the latest")
	}
	if _, err := s.Sessions(ctx, Filter{Dog: "Nobody"}); !errors.Is(err, ErrUnknown) {
		t.Error(err)
	}
	if r, _ := s.Record(ctx, "Pepper", on("2026-03-04")); len(r.Sessions) != 1 {
		t.Errorf("as of the 4th: %d", len(r.Sessions))
	}
	if r, _ := s.Record(ctx, "Pepper", on("2026-03-05")); len(r.Sessions) != 2 {
		t.Errorf("as of the 5th: %d", len(r.Sessions))
	}
}

// Whatever a session says comes back the same.
func TestSessionsComeBack(t *testing.T) {
	s := open(t, "laptop")
	furnish(t, s)
	n := 0
	rapid.Check(t, func(rt *rapid.T) {
		n++
		in := drawSession(rt, n)
		res, err := s.LogNote(ctx, LogRequest{Sessions: []training.Session{in}})
		if err != nil {
			rt.Fatal(err)
		}
		got, err := s.Session(ctx, res.Sessions[0].Session.ID)
		if err != nil {
			rt.Fatal(err)
		}
		if got.ID == "" || got.Revision != 1 {
			rt.Fatalf("%+v", got)
		}
		want := normal(in)
		want.ID, want.Revision = got.ID, got.Revision
		if !reflect.DeepEqual(got, want) || !reflect.DeepEqual(got, res.Sessions[0].Session) {
			rt.Fatalf("got  %+v\nwant %+v", got, want)
		}
		if !got.Start.Equal(in.Start) || got.Day() != in.Day() {
			rt.Fatalf("start %v, want %v", got.Start, in.Start)
		}
		again, err := s.LogNote(ctx, LogRequest{Sessions: []training.Session{in}})
		if err != nil || whats(again) != AlreadyStored {
			rt.Fatalf("logged again: %s %v", whats(again), err)
		}
	})
}

func drawSession(t *rapid.T, n int) training.Session {
	num := func(name string, hi float64) training.Num {
		if rapid.Bool().Draw(t, name+"?") {
			return training.Known(rapid.Float64Range(0, hi).Draw(t, name))
		}
		return training.Num{}
	}
	text := func(name string) string {
		return rapid.OneOf(rapid.Just(""), rapid.String(), rapid.SampledFrom([]string{"a\x00b", "=cmd|x", "<b>&amp;</b>", "\u202eabc", "line\r\nline", "'; DROP TABLE trial; --"})).Draw(t, name)
	}
	in := training.Session{
		Dog: rapid.SampledFrom([]string{"Pepper", "Quill"}).Draw(t, "dog"), Handler: rapid.SampledFrom([]string{"", "Tove", "Bram"}).Draw(t, "handler"),
		Start: noon.Add(time.Duration(n) * 24 * time.Hour).Add(time.Duration(rapid.Int64Range(0, 3600e9).Draw(t, "ns"))).In(time.FixedZone("x", 60*rapid.IntRange(-14*60, 14*60).Draw(t, "offset"))),
		Part:  rapid.IntRange(0, 3).Draw(t, "part"), Place: rapid.SampledFrom([]string{"", "back field", "market square"}).Draw(t, "place"),
		Leash: training.Leash(rapid.SampledFrom([]string{"", "off", "long line"}).Draw(t, "leash")), Distraction: num("distraction", 4),
		Device: rapid.SampledFrom([]string{"", "blue remote"}).Draw(t, "device"), WorkingLevel: num("working", 100),
		Weather: text("weather"), Reward: text("reward"), Source: rapid.SampledFrom([]training.Source{"", training.Live, training.Video, training.Memory}).Draw(t, "source"),
		Baseline: rapid.Bool().Draw(t, "baseline"), Note: text("note"), Carried: text("carried"), Zone: rapid.SampledFrom([]string{"", "Europe/Oslo"}).Draw(t, "zone"),
	}
	for range rapid.IntRange(0, 6).Draw(t, "trials") {
		f := training.Trial{
			Cue: rapid.SampledFrom([]string{"sit", "heel", "leave it"}).Draw(t, "cue"), Kind: rapid.SampledFrom(training.Kinds).Draw(t, "kind"),
			Signal:  rapid.SampledFrom([]training.Signal{"", "voice", "voice+hand"}).Draw(t, "signal"),
			Outcome: rapid.SampledFrom([]training.Outcome{training.Answered, training.Refused, training.Held, training.Broke, training.Released, training.Walked, training.Counted, training.Unscored, training.Early, training.Already}).Draw(t, "outcome"),
			Asks:    rapid.IntRange(0, 9).Draw(t, "asks"), Did: text("did"), Breaks: rapid.IntRange(0, 9).Draw(t, "breaks"), Marks: text("marks"), Line: rapid.IntRange(0, 99).Draw(t, "line"),
		}
		if rapid.Bool().Draw(t, "rich") {
			f.Latency, f.Completion, f.Waited, f.Begun = num("latency", 1e6), num("completion", 60), num("waited", 60), num("begun", 60)
			f.Target, f.Held, f.Walked, f.Distance, f.At = num("target", 600), num("held", 600), num("walked", 600), num("distance", 100), num("at", 3600)
			f.Prompts = rapid.SliceOfN(rapid.String(), 0, 3).Draw(t, "prompts")
			f.Tally.Of = rapid.IntRange(0, 20).Draw(t, "of")
			f.Tally.Yes = rapid.IntRange(0, f.Tally.Of).Draw(t, "yes")
			for range rapid.IntRange(0, 3).Draw(t, "corrections") {
				f.Corrections = append(f.Corrections, training.Correction{
					Kind:  rapid.SampledFrom([]training.CorrectionKind{training.ByLeash, training.ByVoice, training.ByCollar}).Draw(t, "by"),
					Level: num("level", 100), Device: rapid.SampledFrom([]string{"", "blue remote", "grey remote"}).Draw(t, "on"), Served: rapid.Bool().Draw(t, "served")})
			}
		}
		in.Trials = append(in.Trials, f)
	}
	for range rapid.IntRange(0, 3).Draw(t, "remarks") {
		in.Remarks = append(in.Remarks, training.Remark{Text: text("remark"), Incident: rapid.Bool().Draw(t, "incident"), Line: rapid.IntRange(0, 99).Draw(t, "at line")})
	}
	return in
}

func TestClockSetBack(t *testing.T) {
	now := noon
	s, err := Open(ctx, t.TempDir()+"/kennel.db", Options{Create: true, Now: func() time.Time { return now }})
	if err != nil {
		t.Fatal(err)
	}
	defer s.Close()
	furnish(t, s)
	id := add(t, s, session("Pepper", 0, "+")).Sessions[0].Session.ID
	k, _ := s.Kennel(ctx)
	d, _ := k.Dog("Quill")
	d.Consent = "first"
	if _, err := s.PutDog(ctx, d); err != nil {
		t.Fatal(err)
	}
	now = noon.AddDate(-10, 0, 0)
	d.Consent = "second"
	if d, err = s.PutDog(ctx, d); err != nil || d.Consent != "second" {
		t.Errorf("a change by a clock set back is not seen: %+v %v", d, err)
	}
	if v, err := s.Amend(ctx, id, session("Pepper", 0, "-"), ""); err != nil || v.Trials[0].Outcome != training.Refused {
		t.Errorf("an amendment by a clock set back is not seen: %+v %v", v, err)
	}
	if u, err := s.Undo(ctx); err != nil || u.Batch.Kind != "amend" {
		t.Errorf("undo takes back %+v %v", u.Batch, err)
	}
}

// A note that is logged again takes no correction back that was made by hand; a
// changed one does.
func TestLogAgainKeepsACorrection(t *testing.T) {
	s := open(t, "laptop")
	furnish(t, s)
	note := session("Pepper", 0, "+", "+")
	add(t, s, note)
	log := func(v training.Session) Logged {
		t.Helper()
		res, err := s.LogNote(ctx, LogRequest{Sessions: []training.Session{v}, Text: []byte(v.Note)})
		if err != nil || len(res.Sessions) != 1 {
			t.Fatal(res, err)
		}
		return res.Sessions[0]
	}
	first := log(note)
	better := first.Session
	better.Weather = "fog"
	if _, err := s.Amend(ctx, better.ID, better, "it was foggy"); err != nil {
		t.Fatal(err)
	}
	if l := log(note); l.What != AlreadyStored || !l.Corrected || l.Session.Weather != "fog" || l.Session.Revision != 2 {
		t.Errorf("%s, corrected %v: %q, revision %d", l.What, l.Corrected, l.Session.Weather, l.Session.Revision)
	}
	changed := note
	changed.Weather = "rain"
	if l := log(changed); l.What != Amended || l.Corrected || l.Session.Weather != "rain" {
		t.Errorf("a changed note: %s, corrected %v: %q", l.What, l.Corrected, l.Session.Weather)
	}
	// What another log changed is no correction by hand.
	if l := log(note); l.What != Amended || l.Corrected || l.Session.Weather != "" {
		t.Errorf("the first note once more: %s, corrected %v: %q", l.What, l.Corrected, l.Session.Weather)
	}
}
