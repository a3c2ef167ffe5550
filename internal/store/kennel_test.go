package store

import (
	"errors"
	"reflect"
	"slices"
	"strings"
	"testing"

	"firstcue/internal/training"
)

func TestSeedCuesAreThere(t *testing.T) {
	s := open(t, "laptop")
	k, err := s.Kennel(ctx)
	if err != nil {
		t.Fatal(err)
	}
	want := training.SeedCues()
	slices.SortFunc(want, func(a, b training.Cue) int { return byName(a.Name, b.Name) })
	for i := range k.Cues {
		k.Cues[i].ID = ""
	}
	if !reflect.DeepEqual(k.Cues, want) {
		t.Errorf("got %+v\nwant %+v", k.Cues, want)
	}
}

func TestDogComesBack(t *testing.T) {
	s := open(t, "laptop")
	furnish(t, s)
	if _, err := s.PutHandler(ctx, training.Handler{Name: "Ada Finch", Role: training.Owner}); err != nil {
		t.Fatal(err)
	}
	in := training.Dog{
		Name: "Moth", Aliases: []string{"Mothy"}, Born: 19000, Consent: "collar up to level 20", Device: "blue remote", Main: "Tove", Owners: []string{"Ada Finch", "Someone Else"},
		Words:     []training.CueWord{{Cue: "come", Word: "hier", Signal: "arm out", Ends: "free"}, {Cue: "sit"}},
		Goals:     []training.Goal{{Cue: "come", Place: "market square", Distraction: training.Known(3), Handler: "owner", Bar: training.Known(0.9), Words: "comes in town"}, {Words: "is happy"}},
		Boardings: []training.Boarding{{Arrived: 20000, Due: 20021, Wishes: "recall"}},
		Holds:     []training.VetHold{{From: 20003, To: 20005, Reason: "cut pad", Cues: []string{"heel", "sit"}, NoCollar: true}, {From: 20010, CollarOnly: true}},
	}
	got, err := s.PutDog(ctx, in)
	if err != nil {
		t.Fatal(err)
	}
	blank := func(d training.Dog) training.Dog {
		d.ID = ""
		d.Boardings, d.Holds = slices.Clone(d.Boardings), slices.Clone(d.Holds)
		for i := range d.Boardings {
			d.Boardings[i].ID = ""
		}
		for i := range d.Holds {
			d.Holds[i].ID = ""
		}
		return d
	}
	if !reflect.DeepEqual(blank(got), in) {
		t.Errorf("got %+v\nwant %+v", blank(got), in)
	}
	k, _ := s.Kennel(ctx)
	if d, ok := k.Dog("mothy"); !ok || !reflect.DeepEqual(d, got) {
		t.Errorf("%+v", d)
	}
	if r, err := s.Record(ctx, "MOTH", 0); err != nil || !reflect.DeepEqual(r.Dog, got) {
		t.Errorf("%+v %v", r.Dog, err)
	}
	// Changed as a whole, by id.
	got.Name, got.Goals, got.Owners, got.Device = "Moth the Second", nil, nil, ""
	got.Boardings[0].Home = 20020
	again, err := s.PutDog(ctx, got)
	if err != nil || !reflect.DeepEqual(again, got) {
		t.Errorf("got %+v\nwant %+v\n%v", again, got, err)
	}
	n := len(must2(s.Events(ctx, 0)))
	if _, err := s.PutDog(ctx, got); err != nil {
		t.Fatal(err)
	}
	if m := len(must2(s.Events(ctx, 0))); m != n {
		t.Errorf("a change of nothing made %d lines in the journal", m-n)
	}
	for what, d := range map[string]training.Dog{
		"name taken":     {Name: "PEPPER"},
		"alias taken":    {Name: "x", Aliases: []string{"quill"}},
		"no name":        {Name: "  "},
		"unknown device": {Name: "x", Device: "toaster"},
		"unknown cue":    {Name: "x", Words: []training.CueWord{{Cue: "spin"}}},
		"home too early": {Name: "x", Boardings: []training.Boarding{{Arrived: 100, Home: 99}}},
		"control":        {Name: "a\x1bb"},
	} {
		if _, err := s.PutDog(ctx, d); !errors.Is(err, ErrTaken) && !errors.Is(err, ErrInvalid) && !errors.Is(err, ErrUnknown) {
			t.Errorf("%s: %v", what, err)
		}
	}
	if k, _ := s.Kennel(ctx); len(k.Dogs) != 3 {
		t.Errorf("%d dogs", len(k.Dogs))
	}
}

func must2[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

func TestBoardingsAndHolds(t *testing.T) {
	s := open(t, "laptop")
	furnish(t, s)
	b, err := s.SetBoarding(ctx, "Pepper", training.Boarding{Arrived: 20000, Due: 20020})
	if err != nil {
		t.Fatal(err)
	}
	b.Home = 20019
	if _, err := s.SetBoarding(ctx, "pepper", b); err != nil {
		t.Fatal(err)
	}
	if _, err := s.SetBoarding(ctx, "Quill", b); !errors.Is(err, ErrNotFound) {
		t.Errorf("another dog's boarding: %v", err)
	}
	h, err := s.SetHold(ctx, "Pepper", training.VetHold{From: 20001, Reason: "limping"})
	if err != nil {
		t.Fatal(err)
	}
	if ended, err := s.EndHold(ctx, "Pepper", "", 20004); err != nil || len(ended) != 1 || ended[0].ID != h.ID {
		t.Errorf("%+v %v", ended, err)
	}
	if _, err := s.EndHold(ctx, "Pepper", "", 20005); !errors.Is(err, ErrNotFound) {
		t.Errorf("ended twice: %v", err)
	}
	d := must2(s.Record(ctx, "Pepper", 0)).Dog
	if len(d.Boardings) != 1 || d.Boardings[0] != b || len(d.Holds) != 1 || d.Holds[0].To != 20004 {
		t.Errorf("%+v", d)
	}
	if err := s.RemoveHold(ctx, "Pepper", h.ID); err != nil {
		t.Error(err)
	}
	if err := s.RemoveBoarding(ctx, "Pepper", b.ID); err != nil {
		t.Error(err)
	}
	if d = must2(s.Record(ctx, "Pepper", 0)).Dog; len(d.Boardings)+len(d.Holds) != 0 {
		t.Errorf("%+v", d)
	}
}

func TestSettings(t *testing.T) {
	s := open(t, "laptop")
	furnish(t, s)
	list := []training.Setting{{Name: "bar", Value: 0.9}, {Cue: "come", Name: "bar", Value: 0.95}, {Dog: "Pepper", Name: "bar", Value: 0.8}, {Dog: "Pepper", Cue: "come", Name: "bar", Value: 0.7}}
	for _, v := range slices.Backward(list) {
		if err := s.SetSetting(ctx, v); err != nil {
			t.Fatal(err)
		}
	}
	if got := must2(s.Settings(ctx)); !reflect.DeepEqual(got, list) {
		t.Errorf("%+v", got)
	}
	list[0].Value = 0.85
	if err := s.SetSetting(ctx, list[0]); err != nil {
		t.Fatal(err)
	}
	if err := s.UnsetSetting(ctx, training.Setting{Dog: "pepper", Name: "bar"}); err != nil {
		t.Fatal(err)
	}
	if got := must2(s.Settings(ctx)); !reflect.DeepEqual(got, slices.Delete(slices.Clone(list), 2, 3)) {
		t.Errorf("%+v", got)
	}
	if err := s.UnsetSetting(ctx, training.Setting{Dog: "Quill", Name: "bar"}); !errors.Is(err, ErrNotFound) {
		t.Error(err)
	}
	if err := s.SetSetting(ctx, training.Setting{Cue: "spin", Name: "bar"}); !errors.Is(err, ErrUnknown) {
		t.Error(err)
	}
}

func TestRenameKeepsOldNotesReadable(t *testing.T) {
	s := open(t, "laptop")
	furnish(t, s)
	in := session("Pepper", 0, "+")
	add(t, s, in)
	for _, x := range [][3]string{{Dogs, "Pepper", "Pepperoni"}, {Handlers, "Tove", "Tove Lind"}, {Places, "back field", "field"}, {Cues, "sit", "sitz"}, {Devices, "blue remote", "blue"}} {
		if err := s.Rename(ctx, x[0], x[1], x[2]); err != nil {
			t.Fatal(err)
		}
	}
	got := standing(t, s, "pepperoni")
	if len(got) != 1 || got[0].Dog != "Pepperoni" || got[0].Handler != "Tove Lind" || got[0].Place != "field" || got[0].Trials[0].Cue != "sitz" {
		t.Errorf("%+v", got)
	}
	if h := must2(s.History(ctx, got[0].ID)); len(h) != 1 {
		t.Error("a new name made a revision")
	}
	if res := add(t, s, in); whats(res) != AlreadyStored {
		t.Errorf("the old note again: %s", whats(res))
	}
	if err := s.Rename(ctx, Dogs, "Quill", "pepper"); !errors.Is(err, ErrTaken) {
		t.Errorf("%v", err)
	}
	if err := s.Rename(ctx, "cat", "a", "b"); !errors.Is(err, ErrInvalid) {
		t.Errorf("%v", err)
	}
}

func TestJoinAndSplit(t *testing.T) {
	s := open(t, "laptop")
	furnish(t, s)
	must2(s.PutHandler(ctx, training.Handler{Name: "Toove", Role: training.Trainer, Aliases: []string{"TV"}}))
	a, b := session("Pepper", 0, "+"), session("Pepper", 1, "+")
	b.Handler = "Toove"
	add(t, s, a, b)
	p, err := s.PreviewJoin(ctx, Handlers, "toove", "tove")
	if err != nil || p != (JoinPreview{From: "Toove", Into: "Tove", Sessions: 1}) {
		t.Errorf("%+v %v", p, err)
	}
	if err := s.Join(ctx, Handlers, "Toove", "Tove"); err != nil {
		t.Fatal(err)
	}
	if got := must2(s.Sessions(ctx, Filter{Handler: "Tove"})); len(got) != 2 || got[1].Handler != "Tove" {
		t.Errorf("%+v", got)
	}
	if k := must2(s.Kennel(ctx)); len(k.Handlers) != 2 {
		t.Errorf("%+v", k.Handlers)
	}
	if res := add(t, s, b); whats(res) != AlreadyStored {
		t.Errorf("the note with the old name: %s", whats(res))
	}
	if err := s.Split(ctx, Handlers, "Toove"); err != nil {
		t.Fatal(err)
	}
	if got := must2(s.Sessions(ctx, Filter{Handler: "Tove"})); len(got) != 1 {
		t.Errorf("after the split %+v", got)
	}
	// Two dogs: everything of the one is the other's.
	must2(s.SetHold(ctx, "Quill", training.VetHold{From: 20001, Reason: "limping"}))
	add(t, s, session("Quill", 5, "-"))
	if err := s.Join(ctx, Dogs, "Pepper", "Quill"); err != nil {
		t.Fatal(err)
	}
	r := must2(s.Record(ctx, "pepper", 0))
	if r.Dog.Name != "Quill" || len(r.Sessions) != 3 || len(r.Dog.Holds) != 1 || !r.Dog.RewardOnly {
		t.Errorf("%+v", r)
	}
	if err := s.Join(ctx, Cues, "heel", "sit"); !errors.Is(err, ErrInvalid) {
		t.Errorf("a motion and a response: %v", err)
	}
	if err := s.Join(ctx, Cues, "sit", "sit"); !errors.Is(err, ErrInvalid) {
		t.Errorf("one and the same: %v", err)
	}
	if err := s.Remove(ctx, Places, "back field"); !errors.Is(err, ErrInvalid) {
		t.Errorf("removed while in use: %v", err)
	}
	if err := s.Remove(ctx, Places, "market square"); err != nil {
		t.Error(err)
	}
}

func TestDraftsAndMappings(t *testing.T) {
	s := open(t, "laptop")
	d := must2(s.SaveDraft(ctx, "phone.txt", []byte("dog: \xff")))
	if e := must2(s.SaveDraft(ctx, "phone.txt", []byte("dog: \xff"))); e.ID != d.ID {
		t.Error("the same draft twice")
	}
	must2(s.SaveDraft(ctx, "phone.txt", nil))
	list := must2(s.Drafts(ctx))
	if len(list) != 2 || string(list[0].Text) != "dog: \xff" || list[0].Name != "phone.txt" || !list[0].At.Equal(d.At) {
		t.Errorf("%+v", list)
	}
	if err := s.RemoveDraft(ctx, d.ID); err != nil {
		t.Error(err)
	}
	if err := s.RemoveDraft(ctx, d.ID); !errors.Is(err, ErrNotFound) {
		t.Error(err)
	}
	if err := s.SetMapping(ctx, "Old Sheet", "cue=Command"); err != nil {
		t.Fatal(err)
	}
	if err := s.SetMapping(ctx, "old sheet", "cue=Word"); err != nil {
		t.Fatal(err)
	}
	if m := must2(s.Mappings(ctx)); len(m) != 1 || m[0].Text != "cue=Word" {
		t.Errorf("%+v", m)
	}
}

// The lists for one note hold what it may name, and not ten thousand others.
func TestKennelOf(t *testing.T) {
	s := open(t, "laptop")
	furnish(t, s)
	for _, n := range []string{"Ada Finch", "Owner Two", "Owner Three"} {
		must2(s.PutHandler(ctx, training.Handler{Name: n, Role: training.Owner, Aliases: []string{n + "!"}}))
	}
	must2(s.PutDog(ctx, training.Dog{Name: "Moth", Owners: []string{"Ada Finch"}, Aliases: []string{"M"}}))
	k := must2(s.KennelOf(ctx, "m", "owner two", "Nobody"))
	all := must2(s.Kennel(ctx))
	var handlers []string
	for _, h := range k.Handlers {
		handlers = append(handlers, h.Name)
		if want, _ := all.Handler(h.Name); !reflect.DeepEqual(h, want) {
			t.Errorf("%+v, want %+v", h, want)
		}
	}
	if !reflect.DeepEqual(handlers, []string{"Ada Finch", "Bram", "Owner Two", "Tove"}) {
		t.Errorf("%v", handlers)
	}
	if d, _ := all.Dog("Moth"); len(k.Dogs) != 1 || !reflect.DeepEqual(k.Dogs[0], d) {
		t.Errorf("%+v", k.Dogs)
	}
	if !reflect.DeepEqual(k.Cues, all.Cues) || !reflect.DeepEqual(k.Places, all.Places) || !reflect.DeepEqual(k.Devices, all.Devices) {
		t.Error("the other lists are not whole")
	}
}

// A night reads the dogs that are here and no others.
func TestNight(t *testing.T) {
	s := open(t, "laptop")
	furnish(t, s)
	on := noonDay()
	for _, x := range []struct {
		name string
		b    training.Boarding
	}{
		{"Here", training.Boarding{Arrived: on - 3}}, {"Today", training.Boarding{Arrived: on, Home: on}}, {"Gone", training.Boarding{Arrived: on - 9, Home: on - 1}},
		{"Later", training.Boarding{Arrived: on + 1}}, {"Back", training.Boarding{Arrived: on - 2, Home: on + 9}},
	} {
		must2(s.PutDog(ctx, training.Dog{Name: x.name, Boardings: []training.Boarding{x.b}}))
	}
	add(t, s, session("Here", 0, "+"), session("Here", 48, "+"), session("Gone", 0, "+"))
	var names []string
	for _, r := range must2(night(s, on)) {
		names = append(names, r.Dog.Name)
		if r.Dog.Name == "Here" && len(r.Sessions) != 1 {
			t.Errorf("%d sessions, one of them from the day after tomorrow", len(r.Sessions))
		}
		if len(r.Kennel.Dogs) != 1 {
			t.Errorf("%d dogs in the record of one", len(r.Kennel.Dogs))
		}
	}
	if !reflect.DeepEqual(names, []string{"Back", "Here", "Today"}) {
		t.Errorf("%v", names)
	}
}

func noonDay() training.Day { return training.DayOf(noon) }

// The record of one dog may look at no whole table that grows with the kennel.
func TestRecordDoesNotScan(t *testing.T) {
	s := open(t, "laptop")
	furnish(t, s)
	var plans []string
	watch = func(q string, args []any) {
		rows, err := s.conn.QueryContext(ctx, "EXPLAIN QUERY PLAN "+q, args...)
		if err != nil {
			t.Errorf("%s: %v", q, err)
			return
		}
		defer rows.Close()
		for rows.Next() {
			var a, b, c int
			var detail string
			rows.Scan(&a, &b, &c, &detail)
			plans = append(plans, detail)
		}
	}
	defer func() { watch = nil }()
	add(t, s, session("Pepper", 0, "+"))
	must2(s.Record(ctx, "Pepper", noonDay()))
	must2(night(s, noonDay()))
	must2(s.KennelOf(ctx, "Pepper"))
	if len(plans) < 20 {
		t.Fatalf("%d plans seen", len(plans))
	}
	for _, p := range plans {
		// a is the table of aliases, looked through for a name that no entry has;
		// json_each goes through the numbers that the query was given.
		if strings.HasPrefix(p, "SCAN") && p != "SCAN a" && !strings.HasPrefix(p, "SCAN json_each ") && p != "SCAN CONSTANT ROW" {
			t.Errorf("%s", p)
		}
	}
}

// The base rate is the share of stays judged at their end that ended ready, and
// counts none that ended later than the day asked for.
func TestBaseRateOfFinishedStays(t *testing.T) {
	s := open(t, "a")
	furnish(t, s)
	day := noonDay()
	if r := must2(s.Record(ctx, "Pepper", 0)); r.BaseRate.Known || r.BaseDogs != 0 {
		t.Errorf("nobody went home: %v of %d", r.BaseRate, r.BaseDogs)
	}
	must2(s.SetBoarding(ctx, "Pepper", training.Boarding{Arrived: day, Due: day + 14, Home: day + 14, Judged: true, Ready: true}))
	b := must2(s.SetBoarding(ctx, "Quill", training.Boarding{Arrived: day, Due: day + 14, Home: day + 20, Judged: true}))
	must2(s.SetBoarding(ctx, "Quill", training.Boarding{Arrived: day + 30, Home: day + 40}))
	for _, c := range []struct {
		asOf training.Day
		rate training.Num
		n    int
	}{{0, training.Known(0.5), 2}, {day + 15, training.Known(1), 1}, {day, training.Num{}, 0}} {
		if r := must2(s.Record(ctx, "Pepper", c.asOf)); r.BaseRate != c.rate || r.BaseDogs != c.n {
			t.Errorf("as of %v: %v of %d, want %v of %d", c.asOf, r.BaseRate, r.BaseDogs, c.rate, c.n)
		}
	}
	b.Home, b.Judged = 0, false // it is here again
	must2(s.SetBoarding(ctx, "Quill", b))
	if r := must2(s.Record(ctx, "Quill", 0)); r.BaseDogs != 1 || r.Dog.Boardings[0].Judged {
		t.Errorf("%d finished, %+v", r.BaseDogs, r.Dog.Boardings)
	}
}
