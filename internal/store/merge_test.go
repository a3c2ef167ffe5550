package store

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"io"
	"math/rand/v2"
	"path/filepath"
	"reflect"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"firstcue/internal/training"
)

func bundleOf(t testing.TB, s *Store) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := s.WriteBundle(ctx, &b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// body is a bundle without its header, which names the writer and the time.
func body(b []byte) string {
	_, rest, _ := bytes.Cut(b, []byte("\n"))
	return string(rest)
}

// seen is everything that can be read through the API but for the numbers of
// this file.
func seen(t testing.TB, s *Store) string {
	t.Helper()
	k := must2(s.Kennel(ctx))
	out := fmt.Sprintf("%+v\n%+v\n%+v\n%+v\n", k, must2(s.Settings(ctx)), must2(s.Mappings(ctx)), must2(s.Incidents(ctx, "")))
	for _, v := range must2(s.Sessions(ctx, Filter{IncludeVoided: true})) {
		out += fmt.Sprintf("%+v\n", v)
	}
	for _, d := range k.Dogs {
		r := must2(s.Record(ctx, d.Name, 0))
		out += fmt.Sprintf("%+v\n", r)
	}
	return out + fmt.Sprintf("%d conflicts", len(must2(s.Conflicts(ctx))))
}

// laptop is a store with a clock of its own.
func laptop(t testing.TB, dir, name string, now *time.Time) *Store {
	t.Helper()
	s, err := Open(ctx, filepath.Join(dir, name+".db"), Options{Create: true, Writer: name, Now: func() time.Time { *now = now.Add(7 * time.Millisecond); return *now }})
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func mergeFrom(t testing.TB, into, from *Store) MergeResult {
	t.Helper()
	res, err := into.MergeBundle(ctx, bytes.NewReader(bundleOf(t, from)))
	if err != nil {
		t.Fatal(err)
	}
	return res
}

// Any interleaving of edits on three laptops, merged in any order and as often
// as you like, gives the same bytes and reads the same.
func TestMergeIsOrderFree(t *testing.T) {
	checks := flag.Lookup("rapid.checks")
	if was := checks.Value.String(); was == checks.DefValue { // each takes half a second
		flag.Set("rapid.checks", fmt.Sprint(bounded("FIRSTCUE_MERGES", 12)))
		defer flag.Set("rapid.checks", was)
	}
	rapid.Check(t, func(rt *rapid.T) {
		dir := t.TempDir()
		now := noon
		var three []*Store
		for _, n := range []string{"a", "b", "c"} {
			s := laptop(t, dir, fmt.Sprint(n, now.UnixNano()), &now)
			defer s.Close()
			three = append(three, s)
		}
		furnish(t, three[0])
		if rapid.Bool().Draw(rt, "shared start") {
			mergeFrom(t, three[1], three[0])
		} else {
			furnish(t, three[1])
		}
		for range rapid.IntRange(1, 14).Draw(rt, "steps") {
			s := three[rapid.IntRange(0, 2).Draw(rt, "who")]
			edit(rt, t, s)
			if rapid.IntRange(0, 3).Draw(rt, "clock") == 0 {
				now = now.Add(-time.Duration(rapid.IntRange(1, 500).Draw(rt, "back")) * time.Millisecond)
			}
			if rapid.IntRange(0, 4).Draw(rt, "meet") == 0 {
				mergeFrom(t, three[rapid.IntRange(0, 2).Draw(rt, "to")], three[rapid.IntRange(0, 2).Draw(rt, "from")])
			}
		}
		// Three head offices, each by a way of its own.
		var parts [][]byte
		for _, s := range three {
			parts = append(parts, bundleOf(t, s))
		}
		var want, wantSeen string
		for i := range 3 {
			h := laptop(t, dir, fmt.Sprint("head", i, now.UnixNano()), &now)
			order := rand.New(rand.NewPCG(uint64(i), rapid.Uint64().Draw(rt, "order"))).Perm(3)
			order = append(order, order[i%3]) // one of them twice
			for _, j := range order {
				if _, err := h.MergeBundle(ctx, bytes.NewReader(parts[j])); err != nil {
					rt.Fatal(err)
				}
			}
			got, gotSeen := body(bundleOf(t, h)), seen(t, h)
			nothingLost(rt, t, h)
			if err := integrity(ctx, h.path); err != nil {
				rt.Fatal(err)
			}
			h.Close()
			if i == 0 {
				want, wantSeen = got, gotSeen
			}
			if got != want {
				rt.Fatalf("order %v gives other bytes", order)
			}
			if gotSeen != wantSeen {
				rt.Fatalf("order %v reads differently:\n%s\n\n%s", order, gotSeen, wantSeen)
			}
		}
		// The laptops themselves come to the same.
		for _, i := range []int{1, 2, 0, 1, 2} {
			mergeFrom(t, three[i], three[(i+1)%3])
			mergeFrom(t, three[i], three[(i+2)%3])
		}
		for _, s := range three {
			if got := body(bundleOf(t, s)); got != want {
				rt.Fatal("a laptop holds something else than head office")
			}
			if got := seen(t, s); got != wantSeen {
				rt.Fatalf("a laptop reads differently:\n%s\n\n%s", got, wantSeen)
			}
		}
	})
}

// nothingLost holds the list of incidents and that of what is to be settled
// against the bare history, looked at in another way than the store does.
func nothingLost(rt *rapid.T, t testing.TB, s *Store) {
	type words struct{ session, text string }
	listed := map[words]bool{}
	for _, i := range must2(s.Incidents(ctx, "")) {
		listed[words{i.Session, i.Text}] = true
	}
	unsettled := map[string]bool{}
	for _, c := range must2(s.Conflicts(ctx)) {
		for _, h := range c.Heads {
			unsettled[h.Session.ID] = true
		}
	}
	// A form that was undone, and the undoing of it, decide nothing.
	undoes := map[string]string{}
	for _, b := range must2(s.Batches(ctx, 0)) {
		undoes[b.ID] = b.Undoes
	}
	for _, v := range must2(s.Sessions(ctx, Filter{IncludeVoided: true})) {
		all := must2(s.History(ctx, v.ID))
		undoing := false
		for _, r := range all {
			for _, m := range r.Session.Remarks {
				if m.Incident && !listed[words{v.ID, m.Text}] {
					rt.Fatalf("%q of session %s is not on the list", m.Text, v.ID)
				}
			}
			undoing = undoing || undoes[r.Batch] != ""
		}
		first := map[string]bool{} // what was said first, by the laptop
		for _, r := range all {
			if r.Number == 1 {
				first[fmt.Sprintf("%+v %s", normal(r.Session), r.Voided)] = true
			}
		}
		if len(first) > 1 && !undoing && len(all) == len(first) && !unsettled[v.ID] {
			rt.Fatalf("session %s was begun in %d ways and nobody is asked", v.ID, len(first))
		}
	}
}

// edit does something a trainer may do; what the store refuses is no edit.
func edit(rt *rapid.T, t testing.TB, s *Store) {
	pick := func(name string, of ...string) string { return rapid.SampledFrom(of).Draw(rt, name) }
	dogs := []string{"Pepper", "Quill", "Moth", "Pip"}
	sessions := must2(s.Sessions(ctx, Filter{IncludeVoided: true}))
	one := func() training.Session {
		if len(sessions) == 0 {
			return training.Session{}
		}
		return sessions[rapid.IntRange(0, len(sessions)-1).Draw(rt, "session")]
	}
	k := must2(s.Kennel(ctx))
	var err error
	switch act := rapid.IntRange(0, 19).Draw(rt, "act"); act {
	case 0, 1, 2, 3:
		v := session(pick("dog", "Pepper", "Pepper", "Pepper", "Quill", "Moth", "Pip"), rapid.IntRange(0, 1).Draw(rt, "hour"), pick("mark", "+", "-", "x"))
		v.Scorer = pick("scorer", "", "", "Tove", "Bram")
		if rapid.Bool().Draw(rt, "incident") {
			v.Remarks = []training.Remark{{Text: pick("what", "growled", "limped"), Incident: true}}
		}
		_, err = s.LogNote(ctx, LogRequest{Sessions: []training.Session{v}, Text: []byte(v.Note),
			Dogs: []training.Dog{{Name: v.Dog}}, Handlers: []training.Handler{{Name: "Tove"}, {Name: "Bram", Role: training.Trainer}}, Places: []training.Place{{Name: "back field"}}})
	case 4, 5:
		v := one()
		if v.ID != "" && len(v.Trials) > 0 {
			v.Trials[0].Asks = rapid.IntRange(1, 3).Draw(rt, "asks")
			v.Dog = pick("to dog", v.Dog, v.Dog, "Pepper")
			_, err = s.Amend(ctx, v.ID, v, "looked again")
		}
	case 6:
		if v := one(); v.ID != "" {
			_, err = s.Void(ctx, v.ID, pick("why", "wrong dog", "twice"))
		}
	case 7:
		if v := one(); v.ID != "" {
			_, err = s.Unvoid(ctx, v.ID, "")
		}
	case 8:
		_, err = s.Undo(ctx)
	case 9:
		_, err = s.PutDog(ctx, training.Dog{Name: pick("new dog", dogs...), RewardOnly: true})
	case 10:
		if len(k.Dogs) > 0 {
			d := k.Dogs[rapid.IntRange(0, len(k.Dogs)-1).Draw(rt, "which")]
			d.Consent = pick("consent", "a", "b")
			d.Goals = []training.Goal{{Cue: "sit", Place: pick("place", "back field", "elsewhere"), Bar: training.Known(0.9)}}
			_, err = s.PutDog(ctx, d)
		}
	case 11:
		if len(k.Dogs) > 0 {
			d := k.Dogs[rapid.IntRange(0, len(k.Dogs)-1).Draw(rt, "which")]
			err = s.Rename(ctx, Dogs, d.Name, pick("new name", "Pip", "Moth", "Quillon"))
		}
	case 12:
		if len(k.Dogs) > 1 {
			err = s.Join(ctx, Dogs, k.Dogs[0].Name, k.Dogs[1].Name)
		}
	case 13:
		if len(k.Dogs) > 0 {
			_, err = s.SetHold(ctx, k.Dogs[0].Name, training.VetHold{From: noonDay() + training.Day(rapid.IntRange(0, 2).Draw(rt, "from")), Reason: "cut pad", Cues: []string{"heel"}})
		}
	case 14:
		if len(k.Dogs) > 0 {
			_, err = s.SetBoarding(ctx, k.Dogs[0].Name, training.Boarding{Arrived: noonDay(), Due: noonDay() + 21, Wishes: pick("wish", "recall", "heel")})
		}
	case 15:
		err = s.SetSetting(ctx, training.Setting{Cue: pick("cue", "", "come"), Name: "bar", Value: rapid.Float64Range(0.5, 1).Draw(rt, "bar")})
	case 16:
		if list := must2(s.Incidents(ctx, "")); len(list) > 0 {
			err = s.CloseIncident(ctx, list[0].ID, noonDay()+1, pick("outcome", "rested", "vet"))
		}
	case 18:
		if list := must2(s.Conflicts(ctx)); len(list) > 0 && len(list[0].Heads) > 0 {
			h := list[0].Heads[rapid.IntRange(0, len(list[0].Heads)-1).Draw(rt, "form")]
			_, err = s.Settle(ctx, h.Session.ID, h.ID, "")
		}
	case 19:
		h := training.Handler{Name: "Bram", Role: training.Role(pick("role", "owner", "outsider"))}
		if x, ok := k.Handler("Bram"); ok {
			h.ID = x.ID
		}
		_, err = s.PutHandler(ctx, h)
	case 17:
		err = s.Split(ctx, Dogs, pick("split", dogs...))
	}
	for _, ok := range []error{ErrInvalid, ErrTaken, ErrNotFound, ErrUnknown} {
		if errors.Is(err, ok) {
			return
		}
	}
	if err != nil {
		t.Fatal(err)
	}
}

func pair(t testing.TB) (a, b *Store) {
	a, b = open(t, "a"), open(t, "b")
	furnish(t, a)
	furnish(t, b)
	return a, b
}

func TestConflictKeepsBothSides(t *testing.T) {
	a, b := pair(t)
	v := session("Pepper", 0, "+")
	id := add(t, a, v).Sessions[0].Session.ID
	if got := add(t, b, v).Sessions[0].Session.ID; got != id {
		t.Fatalf("one note has two ids: %s and %s", id, got)
	}
	mergeFrom(t, a, b)
	if c := must2(a.Conflicts(ctx)); len(c) != 0 || len(standing(t, a, "Pepper")) != 1 {
		t.Fatalf("the same note on two laptops: %+v", c)
	}
	mergeFrom(t, b, a)
	one, two := v, v
	one.Weather, two.Weather = "rain", "sun"
	must2(a.Amend(ctx, id, one, "a says"))
	must2(b.Amend(ctx, id, two, "b says"))
	mergeFrom(t, a, b)
	mergeFrom(t, b, a)
	for _, s := range []*Store{a, b} {
		c := must2(s.Conflicts(ctx))
		if len(c) != 1 || len(c[0].Heads) != 2 || c[0].Heads[0].Session.Weather == c[0].Heads[1].Session.Weather {
			t.Fatalf("%+v", c)
		}
	}
	if x, y := must2(a.Session(ctx, id)), must2(b.Session(ctx, id)); !reflect.DeepEqual(x, y) {
		t.Errorf("the laptops show different forms: %+v %+v", x, y)
	}
	// Settled on one laptop, for the form that is not shown, it is on both.
	var other Revision
	for _, h := range must2(a.Conflicts(ctx))[0].Heads {
		if !h.Shown {
			other = h
		}
	}
	if got := must2(a.Settle(ctx, id, other.ID, "asked Tove")); got.Weather != other.Session.Weather {
		t.Errorf("%+v", got)
	}
	mergeFrom(t, b, a)
	if c := must2(b.Conflicts(ctx)); len(c) != 0 || must2(b.Session(ctx, id)).Weather != other.Session.Weather {
		t.Errorf("%+v", c)
	}
	if h := must2(b.History(ctx, id)); len(h) != 5 {
		t.Errorf("%d revisions, want all five", len(h))
	}
}

// What one laptop knows of a dog is not wiped out by another that only has the
// name.
func TestSameNameOnTwoLaptops(t *testing.T) {
	// The second laptop is set up a year later: its defaults are newer and
	// still give way.
	later := noon.AddDate(1, 0, 0)
	a, b := open(t, "a"), laptop(t, t.TempDir(), "b", &later)
	defer b.Close()
	must2(a.PutDog(ctx, training.Dog{Name: "Moth", RewardOnly: true, Consent: "no collar", Boardings: []training.Boarding{{Arrived: noonDay(), Due: noonDay() + 20}}}))
	cue := must2(a.Kennel(ctx)).Cues[0]
	cue.Limit = training.Known(1.5)
	must2(a.PutCue(ctx, cue))
	must2(b.PutDog(ctx, training.Dog{Name: "moth"}))
	must2(b.SetHold(ctx, "moth", training.VetHold{From: noonDay(), Reason: "limping"}))
	for _, p := range [][2]*Store{{a, b}, {b, a}} {
		mergeFrom(t, p[0], p[1])
		k := must2(p[0].Kennel(ctx))
		if len(k.Dogs) != 1 || !k.Dogs[0].RewardOnly || k.Dogs[0].Consent != "no collar" || len(k.Dogs[0].Boardings) != 1 || len(k.Dogs[0].Holds) != 1 {
			t.Errorf("%+v", k.Dogs)
		}
		if c, _ := k.Cue(cue.Name); c.Limit != cue.Limit {
			t.Errorf("the default is back over the kennel's own: %+v", c)
		}
	}
}

func TestTwins(t *testing.T) {
	a, b := open(t, "a"), open(t, "b")
	for _, s := range []*Store{a, b} {
		furnish(t, s)
	}
	must2(b.PutDog(ctx, training.Dog{Name: "Peper"}))
	add(t, a, session("Pepper", 0, "+"))
	add(t, b, session("Peper", 0, "+"))
	mergeFrom(t, a, b)
	if c := must2(a.Conflicts(ctx)); len(c) != 0 {
		t.Fatalf("two dogs: %+v", c)
	}
	if err := a.Join(ctx, Dogs, "Peper", "Pepper"); err != nil {
		t.Fatal(err)
	}
	c := must2(a.Conflicts(ctx))
	if len(c) != 1 || len(c[0].Twins) != 2 {
		t.Fatalf("one dog, one start, twice: %+v", c)
	}
	must2(a.Void(ctx, c[0].Twins[1].ID, "twice"))
	if c := must2(a.Conflicts(ctx)); len(c) != 0 {
		t.Errorf("%+v", c)
	}
}

func TestBadBundles(t *testing.T) {
	a, b := pair(t)
	add(t, a, session("Pepper", 0, "+", "-"), session("Quill", 0, "+"))
	must2(a.LogNote(ctx, LogRequest{Sessions: []training.Session{session("Quill", 1, "+")}, Text: []byte("the note")}))
	good := string(bundleOf(t, a))
	lines := strings.SplitAfter(good, "\n")
	before := body(bundleOf(t, b))
	if sealed(good) != good {
		t.Fatal("the test seals bundles otherwise than the store")
	}
	for what, text := range map[string]string{
		"empty":          "",
		"no bundle":      "hello\n",
		"other json":     "{}\n",
		"newer":          strings.Replace(good, "bundle/2", "bundle/3", 1),
		"cut in a line":  good[:len(good)-10],
		"cut":            strings.Join(lines[:len(lines)-2], ""),
		"line missing":   strings.Join(append(append([]string{}, lines[:3]...), lines[4:]...), ""),
		"line twice":     strings.Join(append(append([]string{}, lines[:4]...), lines[3:]...), ""),
		"altered trial":  strings.Replace(good, `"outcome":"refused"`, `"outcome":"walked"`, 1),
		"altered name":   strings.Replace(good, `"name":"Quill"`, `"name":"Quilt"`, 1),
		"unknown kind":   strings.Replace(good, `{"kind":"source"`, `{"kind":"sauce"`, 1),
		"header only":    lines[0],
		"altered source": strings.Replace(good, `"text":"the note"`, `"text":"the nota"`, 1),
	} {
		if strings.HasPrefix(what, "altered") { // by somebody who knows the checksum
			text = sealed(text)
		}
		res, err := b.MergeBundle(ctx, strings.NewReader(text))
		if !errors.Is(err, ErrInvalid) && !errors.Is(err, ErrNewer) {
			t.Errorf("%s: %v", what, err)
		}
		if !reflect.DeepEqual(res, MergeResult{}) {
			t.Errorf("%s: %+v", what, res)
		}
		if body(bundleOf(t, b)) != before {
			t.Fatalf("%s: the store was changed", what)
		}
	}
	if res, err := b.MergeBundle(ctx, strings.NewReader(good)); err != nil || res.Sessions != 3 || res.Writer != "a" {
		t.Errorf("%+v %v", res, err)
	}
	if res, err := b.MergeBundle(ctx, strings.NewReader(good)); err != nil || res.Sessions+res.Revisions+res.Changes != 0 || res.Known == 0 {
		t.Errorf("again: %+v %v", res, err)
	}
}

// sealed gives a bundle the count and checksum of what it holds.
func sealed(bundle string) string {
	head, rest, _ := strings.Cut(bundle, "\n")
	var h bundleHeader
	json.Unmarshal([]byte(head), &h)
	sum := sha256.Sum256([]byte(rest))
	h.Count, h.Checksum = strings.Count(rest, "\n"), hex.EncodeToString(sum[:])
	return string(plainJSON(h)) + "\n" + rest
}

func TestMergeFile(t *testing.T) {
	a, b := pair(t)
	add(t, a, session("Pepper", 0, "+", "-"))
	if res, err := b.MergeFile(ctx, a.path); err != nil || res.Sessions != 1 {
		t.Errorf("%+v %v", res, err)
	}
	if _, err := b.MergeFile(ctx, b.path); !errors.Is(err, ErrInvalid) {
		t.Errorf("with itself: %v", err)
	}
	if _, err := b.MergeFile(ctx, filepath.Join(t.TempDir(), "none")); !errors.Is(err, ErrNotFound) {
		t.Errorf("%v", err)
	}
	if body(bundleOf(t, a)) == "" {
		t.Error("the other file was changed")
	}
	c, cancel := context.WithCancel(ctx)
	cancel()
	if _, err := b.MergeBundle(c, bytes.NewReader(bundleOf(t, a))); err == nil {
		t.Error("a merge that was called off went through")
	}
	add(t, b, session("Pepper", 3, "+")) // the lock is free again
}

// Head office: so many sites' bundles into one file. FIRSTCUE_SITES=100 is the
// full measure; the printed time is in docs/store.md.
func TestHeadOffice(t *testing.T) {
	sites := bounded("FIRSTCUE_SITES", 4)
	dir := t.TempDir()
	now := noon
	var parts [][]byte
	trials := 0
	for i := range sites {
		s := laptop(t, dir, fmt.Sprint("site", i), &now)
		furnish(t, s)
		var list []training.Session
		for v := range invented(13) {
			v.Dog = fmt.Sprintf("Site %d %s", i, v.Dog)
			list = append(list, v)
			trials += len(v.Trials)
		}
		var dogs []training.Dog
		for _, d := range dogsOf(13) {
			d.Name = fmt.Sprintf("Site %d %s", i, d.Name)
			dogs = append(dogs, d)
		}
		must2(s.LogNote(ctx, LogRequest{Sessions: list, Dogs: dogs}))
		parts = append(parts, bundleOf(t, s))
		s.Close()
	}
	h := laptop(t, dir, "head", &now)
	defer h.Close()
	began := time.Now()
	for _, p := range parts {
		if _, err := h.MergeBundle(ctx, bytes.NewReader(p)); err != nil {
			t.Fatal(err)
		}
	}
	t.Logf("%d sites, %d trials: %v", sites, trials, time.Since(began).Round(time.Millisecond))
	if n := len(must2(h.Sessions(ctx, Filter{}))); n != trials/20 {
		t.Errorf("%d sessions of %d", n, trials/20)
	}
}

func FuzzBundle(f *testing.F) {
	s := open(f, "a")
	furnish(f, s)
	add(f, s, session("Pepper", 0, "+", "-"))
	good := bundleOf(f, s)
	f.Add(good)
	f.Add(good[:len(good)/2])
	f.Add([]byte("{\"schema\":\"firstcue.bundle/1\"}\n{\"revision\":{}}\n"))
	path := filepath.Join(f.TempDir(), "into.db")
	into := openAt(f, path, "b")
	f.Fuzz(func(t *testing.T, b []byte) {
		before := body(bundleOf(t, into))
		res, err := into.MergeBundle(ctx, io.NopCloser(bytes.NewReader(b)))
		if after := body(bundleOf(t, into)); err != nil && (after != before || !reflect.DeepEqual(res, MergeResult{})) {
			t.Errorf("a bundle that was refused (%v) left something", err)
		}
	})
}
