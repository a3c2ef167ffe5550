package store

import (
	"cmp"
	"context"
	"fmt"
	"maps"
	"slices"
	"strings"
	"unicode"

	"github.com/google/uuid"

	"firstcue/internal/training"
)

// seed puts the cues every kennel starts with into a new store. They are the
// same changes in every store, at the beginning of time, so that merging never
// puts the default back over what a kennel has set.
func (t *tx) seed() error {
	for _, c := range training.SeedCues() {
		f := cueOf(c)
		ch := change{Kind: aCue, Entity: entityOf(aCue, training.Key(c.Name)), At: seededAt, Content: plainJSON(f), Said: "cue " + c.Name + ", there from the start"}
		if err := t.addChange(&ch); err != nil {
			return err
		}
		if err := t.settle(aCue, []string{ch.Entity}); err != nil {
			return err
		}
	}
	return nil
}

// entityOf is the id of a new entity: the same on every laptop for the same
// thing, so that what two people enter apart is one entry after a merge.
func entityOf(k kind, parts ...string) string {
	return digest(append([]string{"entity", string(k)}, parts...)...)
}

// newEntity is entityOf unless that is somebody else by now.
func (t *tx) newEntity(k kind, parts ...string) (string, error) {
	id := entityOf(k, parts...)
	var n int
	found, err := t.one("SELECT 1 FROM change WHERE kind = ? AND entity = ? LIMIT 1", []any{k, id}, &n)
	if err != nil || !found {
		return id, err
	}
	var gone int
	if found, err = t.one("SELECT gone FROM name WHERE kind = ? AND id = ? AND key = ?", []any{k, id, parts[0]}, &gone); err != nil || found && gone == 1 {
		return id, err // it was taken back, and comes again
	}
	return strings.ReplaceAll(uuid.Must(uuid.NewV7()).String(), "-", ""), nil
}

func cueOf(c training.Cue) cueFields {
	return cueFields{named: named{Name: c.Name, Aliases: c.Aliases}, Kind: c.Kind, Signal: c.Signal, Limit: c.Limit, Arrive: c.Arrive, Target: c.Target, Breaks: c.Breaks, Ends: c.Ends, Meaning: c.Meaning}
}

// cleanName takes surplus blanks out; a name must be one line with something in
// it, all of which can be seen, and a session note must be able to give it. The
// joiners U+200C and U+200D are letters' business in Persian and Indian scripts.
func cleanName(k kind, name string) (string, error) {
	clean := strings.Join(strings.Fields(name), " ")
	if clean == "" {
		return "", fail(ErrInvalid, "a %s needs a name", k)
	}
	for _, r := range clean {
		if unicode.IsControl(r) {
			return "", fail(ErrInvalid, "the name %q holds a control character", name)
		}
		if r >= 0x202A && r <= 0x202E || r >= 0x2066 && r <= 0x2069 || r == 0x200B || r == 0x2060 || r == 0xFEFF {
			return "", fail(ErrInvalid, "the name %q holds a character that can't be seen (%U), as pasted text may; type the name instead", name, r)
		}
	}
	if i := strings.IndexAny(clean, ";#"); i >= 0 && k != mapping {
		instead := "choose a name without"
		if bare := strings.Join(strings.FieldsFunc(clean, func(r rune) bool { return r == ';' || r == '#' || r == ' ' }), " "); bare != "" {
			instead = fmt.Sprintf("write it without, such as %q", bare)
		}
		return "", fail(ErrInvalid, "the name %q holds %q, where a session note ends a name; %s", name, clean[i], instead)
	}
	return clean, nil
}

// namesOf returns the name and the other spellings that an entry has; none for an
// id that is empty or unknown.
func (t *tx) namesOf(k kind, id string) ([]string, error) {
	if id == "" {
		return nil, nil
	}
	f := fields(k)
	if _, err := t.state(k, id, f); err != nil {
		return nil, err
	}
	nm := namedOf(f)
	return append([]string{nm.Name}, nm.Aliases...), nil
}

// putEntry adds or changes a named entry and returns its id. An empty id is a
// new entry; its name and aliases must be free.
func (t *tx) putEntry(k kind, id string, f any, stated ...string) (string, error) {
	nm := namedOf(f)
	had, err := t.namesOf(k, id)
	if err != nil {
		return "", err
	}
	clean := func(name string) (string, error) {
		if slices.Contains(had, name) {
			return name, nil // from before, or from another store: it must not stop a change
		}
		return cleanName(k, name)
	}
	name, err := clean(nm.Name)
	if err != nil {
		return "", err
	}
	nm.Name = name
	var aliases []string
	for _, a := range nm.Aliases {
		if a, err = clean(a); err != nil {
			return "", err
		}
		if training.Key(a) != training.Key(name) && !slices.ContainsFunc(aliases, func(b string) bool { return training.Key(a) == training.Key(b) }) {
			aliases = append(aliases, a)
		}
	}
	nm.Aliases = aliases
	said := "changed"
	if id == "" {
		said = "added"
	} else {
		old := fields(k)
		found, err := t.state(k, id, old)
		if err != nil {
			return "", err
		}
		if !found {
			return "", fail(ErrNotFound, "no %s has the id %s", k, id)
		}
		if was := namedOf(old).Name; was != name {
			said = fmt.Sprintf("renamed from %s, changed", was)
		}
		nm.Into = namedOf(old).Into
	}
	for _, n := range append([]string{name}, aliases...) {
		r, found, err := t.find(k, n)
		if err != nil {
			return "", err
		}
		if found && r.id != id {
			instead := "choose another name"
			if k != aDog { // two dogs are never one
				instead += ", or join the two"
			}
			return "", fail(ErrTaken, "%q is the %s %s already; %s", n, k, r.name, instead)
		}
	}
	adds := id == ""
	if adds {
		if id, err = t.newEntity(k, training.Key(name)); err != nil {
			return "", err
		}
	}
	_, err = t.say(k, id, f, fmt.Sprintf("%s %s %s", k, name, said), adds, stated...)
	return id, err
}

// PutHandler adds the handler, or changes the one with its ID. It returns the
// handler as stored. With "role" stated, a role that was only guessed when a note
// brought the name is entered from now on, and a merge keeps it.
func (s *Store) PutHandler(ctx context.Context, h training.Handler, stated ...string) (training.Handler, error) {
	err := s.write(ctx, func(t *tx) (err error) { h.ID, err = t.putHandler(h, stated...); return })
	return h, err
}

func (t *tx) putHandler(h training.Handler, stated ...string) (string, error) {
	if h.Role != "" && !slices.Contains(training.Roles, h.Role) {
		return "", fail(ErrInvalid, "%q is no role: trainer, owner or outsider", h.Role)
	}
	return t.putEntry(aHandler, h.ID, &handlerFields{named: named{Name: h.Name, Aliases: h.Aliases}, Role: h.Role}, stated...)
}

// PutPlace adds the place, or changes the one with its ID. With "offProperty"
// stated, ground that was only guessed is entered from now on.
func (s *Store) PutPlace(ctx context.Context, p training.Place, stated ...string) (training.Place, error) {
	err := s.write(ctx, func(t *tx) (err error) { p.ID, err = t.putPlace(p, stated...); return })
	return p, err
}

func (t *tx) putPlace(p training.Place, stated ...string) (string, error) {
	return t.putEntry(aPlace, p.ID, &placeFields{named: named{Name: p.Name, Aliases: p.Aliases}, OffProperty: p.OffProperty}, stated...)
}

// PutDevice adds the device, or changes the one with its ID.
func (s *Store) PutDevice(ctx context.Context, d training.Device) (training.Device, error) {
	err := s.write(ctx, func(t *tx) (err error) { d.ID, err = t.putDevice(d); return })
	return d, err
}

func (t *tx) putDevice(d training.Device) (string, error) {
	return t.putEntry(aDevice, d.ID, &deviceFields{named: named{Name: d.Name, Aliases: d.Aliases}, Lowest: d.Lowest, Highest: d.Highest})
}

// PutCue adds the cue, or changes the one with its ID.
func (s *Store) PutCue(ctx context.Context, c training.Cue) (training.Cue, error) {
	err := s.write(ctx, func(t *tx) (err error) { c.ID, err = t.putCue(c); return })
	return c, err
}

func (t *tx) putCue(c training.Cue) (string, error) {
	if !slices.Contains(training.Kinds, c.Kind) {
		return "", fail(ErrInvalid, "%q is no kind of cue: response, hold or motion", c.Kind)
	}
	f := cueOf(c)
	return t.putEntry(aCue, c.ID, &f)
}

// PutDog adds the dog, or changes the one with its ID, with its words and goals.
// Boardings and holds are added or changed by their own ID; those not named are
// left as they are. Device, main trainer and the cues of words, goals and holds
// must be on the lists; an owner need not be. It returns the dog as stored.
func (s *Store) PutDog(ctx context.Context, d training.Dog) (training.Dog, error) {
	err := s.write(ctx, func(t *tx) error {
		id, err := t.putDog(d)
		if err != nil {
			return err
		}
		d, err = t.dogByID(id)
		return err
	})
	return d, err
}

func (t *tx) putDog(d training.Dog) (string, error) {
	device, err1 := t.need(aDevice, d.Device)
	main, err2 := t.need(aHandler, d.Main)
	if err := cmp.Or(err1, err2); err != nil {
		return "", err
	}
	f := &dogFields{named: named{Name: d.Name, Aliases: d.Aliases}, Born: d.Born, RewardOnly: d.RewardOnly, Consent: d.Consent, Device: device.id, Main: main.id}
	for _, o := range d.Owners {
		p, err := t.party(aHandler, o)
		if err != nil {
			return "", err
		}
		f.Owners = append(f.Owners, p)
	}
	fresh := d.ID == ""
	id, err := t.putEntry(aDog, d.ID, f)
	if err != nil {
		return "", err
	}
	d.ID = id
	if !fresh || len(d.Goals) > 0 {
		if err := t.setGoals(d); err != nil {
			return "", err
		}
	}
	if !fresh || len(d.Words) > 0 {
		if err := t.setWords(d); err != nil {
			return "", err
		}
	}
	for _, b := range d.Boardings {
		if err := t.setBoarding(d, &b); err != nil {
			return "", err
		}
	}
	for _, h := range d.Holds {
		if err := t.setHold(d, &h); err != nil {
			return "", err
		}
	}
	return id, nil
}

func (t *tx) setGoals(d training.Dog) error {
	f := &goalsFields{}
	for _, g := range d.Goals {
		cue, err := t.need(aCue, g.Cue)
		if err != nil {
			return err
		}
		place, err1 := t.party(aPlace, g.Place)
		handler, err2 := t.party(aHandler, g.Handler)
		if err := cmp.Or(err1, err2); err != nil {
			return err
		}
		f.Goals = append(f.Goals, goalFields{Cue: cue.id, Place: place, Distraction: g.Distraction, Handler: handler, Bar: g.Bar, Words: g.Words, Leash: g.Leash, Hold: g.Hold})
	}
	_, err := t.set(theGoals, d.ID, f, fmt.Sprintf("goals of %s set (%d)", d.Name, len(d.Goals)))
	return err
}

func (t *tx) setWords(d training.Dog) error {
	f := &wordsFields{}
	for _, w := range d.Words {
		cue, err := t.need(aCue, w.Cue)
		if err != nil {
			return err
		}
		f.Words = append(f.Words, wordFields{Cue: cue.id, Word: w.Word, Signal: w.Signal, Ends: w.Ends})
	}
	_, err := t.set(theWords, d.ID, f, fmt.Sprintf("cue words of %s set (%d)", d.Name, len(d.Words)))
	return err
}

func (t *tx) setBoarding(d training.Dog, b *training.Boarding) error {
	if b.Home != 0 && b.Home < b.Arrived {
		return fail(ErrInvalid, "%s can't go home on %s before it arrived on %s", d.Name, b.Home, b.Arrived)
	}
	if b.Due != 0 && b.Due < b.Arrived {
		return fail(ErrInvalid, "%s can't be due home on %s before it arrived on %s", d.Name, b.Due, b.Arrived)
	}
	said := "boarding of " + d.Name + " changed"
	if b.ID == "" {
		id, err := t.newEntity(aBoarding, d.ID, b.Arrived.String())
		if err != nil {
			return err
		}
		b.ID, said = id, "boarding of "+d.Name+" added"
	}
	said += ": arrived " + orNone(b.Arrived) + ", due " + orNone(b.Due) + ", home " + orNone(b.Home)
	_, err := t.set(aBoarding, b.ID, &boardingFields{Dog: d.ID, Arrived: b.Arrived, Due: b.Due, Home: b.Home, Wishes: b.Wishes, Judged: b.Judged, Ready: b.Ready}, said)
	return err
}

func orNone(d training.Day) string {
	if d == 0 {
		return "not known"
	}
	return d.String()
}

func (t *tx) setHold(d training.Dog, h *training.VetHold) error {
	if h.To != 0 && h.To < h.From {
		return fail(ErrInvalid, "a hold can't end on %s before it began on %s", h.To, h.From)
	}
	f := &holdFields{Dog: d.ID, From: h.From, To: h.To, Reason: h.Reason, NoCollar: h.NoCollar, CollarOnly: h.CollarOnly}
	for _, c := range h.Cues {
		cue, err := t.need(aCue, c)
		if err != nil {
			return err
		}
		f.Cues = append(f.Cues, cue.id)
	}
	said := "hold of " + d.Name + " changed"
	if h.ID == "" {
		id, err := t.newEntity(aHold, append([]string{d.ID, h.From.String(), h.Reason}, f.Cues...)...)
		if err != nil {
			return err
		}
		h.ID, said = id, "hold of "+d.Name+" added"
	}
	said += ": from " + orNone(h.From)
	if h.To != 0 {
		said += " to " + h.To.String()
	}
	if h.Reason != "" {
		said += ", " + h.Reason
	}
	_, err := t.set(aHold, h.ID, f, said)
	return err
}

// withDog runs fn with the dog of that name or alias.
func (s *Store) withDog(ctx context.Context, name string, fn func(t *tx, d training.Dog) error) error {
	return s.write(ctx, func(t *tx) error {
		r, err := t.need(aDog, name)
		if err != nil {
			return err
		}
		d, err := t.dogByID(r.id)
		if err != nil {
			return err
		}
		return fn(t, d)
	})
}

// SetBoarding adds a stay to the dog or, with an ID, changes one.
func (s *Store) SetBoarding(ctx context.Context, dog string, b training.Boarding) (training.Boarding, error) {
	err := s.withDog(ctx, dog, func(t *tx, d training.Dog) error {
		if b.ID != "" && !slices.ContainsFunc(d.Boardings, func(x training.Boarding) bool { return x.ID == b.ID }) {
			return fail(ErrNotFound, "%s has no boarding with the id %s", d.Name, b.ID)
		}
		return t.setBoarding(d, &b)
	})
	return b, err
}

// RemoveBoarding takes a stay entered by mistake off the dog; the journal keeps it.
func (s *Store) RemoveBoarding(ctx context.Context, dog, id string) error {
	return s.withDog(ctx, dog, func(t *tx, d training.Dog) error {
		for _, b := range d.Boardings {
			if b.ID == id {
				_, err := t.set(aBoarding, id, &boardingFields{Dog: d.ID, Arrived: b.Arrived, Due: b.Due, Home: b.Home, Wishes: b.Wishes, Judged: b.Judged, Ready: b.Ready, Gone: true}, "boarding of "+d.Name+" from "+orNone(b.Arrived)+" removed")
				return err
			}
		}
		return fail(ErrNotFound, "%s has no boarding with the id %s", d.Name, id)
	})
}

// SetHold puts the dog, or some of its cues, on hold or, with an ID, changes
// that hold; To ends it.
func (s *Store) SetHold(ctx context.Context, dog string, h training.VetHold) (training.VetHold, error) {
	err := s.withDog(ctx, dog, func(t *tx, d training.Dog) error {
		if h.ID != "" && !slices.ContainsFunc(d.Holds, func(x training.VetHold) bool { return x.ID == h.ID }) {
			return fail(ErrNotFound, "%s has no hold with the id %s", d.Name, h.ID)
		}
		return t.setHold(d, &h)
	})
	return h, err
}

// EndHold ends the dog's open holds that began by then, with last as their last
// day, and returns them; with an id only that one.
func (s *Store) EndHold(ctx context.Context, dog, id string, last training.Day) ([]training.VetHold, error) {
	var ended []training.VetHold
	err := s.withDog(ctx, dog, func(t *tx, d training.Dog) error {
		for _, h := range d.Holds {
			if id == "" && (h.To != 0 || h.From > last) || id != "" && h.ID != id {
				continue
			}
			h.To = last
			if err := t.setHold(d, &h); err != nil {
				return err
			}
			ended = append(ended, h)
		}
		if len(ended) == 0 {
			for _, h := range d.Holds {
				if id == "" && h.To == 0 {
					return fail(ErrInvalid, "the hold began on %s; --end that day or later", h.From)
				}
			}
			return fail(ErrNotFound, "%s has no open hold", d.Name)
		}
		return nil
	})
	return ended, err
}

// RemoveHold takes a hold entered by mistake off the dog; the journal keeps it.
func (s *Store) RemoveHold(ctx context.Context, dog, id string) error {
	return s.withDog(ctx, dog, func(t *tx, d training.Dog) error {
		f := new(holdFields)
		found, err := t.state(aHold, id, f)
		if err != nil {
			return err
		}
		if !found || f.Gone || f.Dog != d.ID {
			return fail(ErrNotFound, "%s has no hold with the id %s", d.Name, id)
		}
		f.Gone = true
		_, err = t.set(aHold, id, f, "hold of "+d.Name+" from "+orNone(f.From)+" removed")
		return err
	})
}

// SetGoals replaces the dog's goals.
func (s *Store) SetGoals(ctx context.Context, dog string, goals []training.Goal) error {
	return s.withDog(ctx, dog, func(t *tx, d training.Dog) error {
		d.Goals = goals
		return t.setGoals(d)
	})
}

// SetWords replaces the dog's cue words.
func (s *Store) SetWords(ctx context.Context, dog string, words []training.CueWord) error {
	return s.withDog(ctx, dog, func(t *tx, d training.Dog) error {
		d.Words = words
		return t.setWords(d)
	})
}

func (t *tx) settingOf(v training.Setting) (string, *settingFields, string, error) {
	dog, err1 := t.need(aDog, v.Dog)
	cue, err2 := t.need(aCue, v.Cue)
	if err := cmp.Or(err1, err2); err != nil {
		return "", nil, "", err
	}
	if v.Name == "" {
		return "", nil, "", fail(ErrInvalid, "a setting needs a name")
	}
	said := "bar " + v.Name
	if cue.n != 0 {
		said += " of " + cue.name
	}
	if dog.n != 0 {
		said += " for " + dog.name
	}
	f := &settingFields{Dog: dog.id, Cue: cue.id, Name: v.Name, Value: training.Known(v.Value)}
	return entityOf(aSetting, dog.id, cue.id, v.Name), f, said, nil
}

// SetSetting sets one bar of the criteria.
func (s *Store) SetSetting(ctx context.Context, v training.Setting) error {
	return s.write(ctx, func(t *tx) error {
		id, f, said, err := t.settingOf(v)
		if err != nil {
			return err
		}
		_, err = t.set(aSetting, id, f, fmt.Sprintf("%s set to %v", said, v.Value))
		return err
	})
}

// UnsetSetting takes one bar back, so that the wider one holds again. Value is
// not looked at.
func (s *Store) UnsetSetting(ctx context.Context, v training.Setting) error {
	return s.write(ctx, func(t *tx) error {
		id, f, said, err := t.settingOf(v)
		if err != nil {
			return err
		}
		old := new(settingFields)
		found, err := t.state(aSetting, id, old)
		if err != nil {
			return err
		}
		if !found || old.Gone {
			return fail(ErrNotFound, "%s is not set", said)
		}
		f.Value, f.Gone = old.Value, true
		_, err = t.set(aSetting, id, f, said+" no longer set")
		return err
	})
}

// Settings returns every bar that was set, ordered by dog, cue and name.
func (s *Store) Settings(ctx context.Context) ([]training.Setting, error) {
	var out []training.Setting
	err := s.read(ctx, func(t *tx) error {
		seen := map[[3]string]bool{}
		err := t.each(func(scan func(...any) error) error {
			var v training.Setting
			if err := scan(&v.Dog, &v.Cue, &v.Name, &v.Value); err != nil {
				return err
			}
			if k := [3]string{v.Dog, v.Cue, v.Name}; !seen[k] { // joined dogs: the first by id
				seen[k] = true
				out = append(out, v)
			}
			return nil
		}, `SELECT coalesce(d.name, ''), coalesce(c.name, ''), s.name, s.value FROM setting s
			LEFT JOIN name dx ON dx.n = s.dog LEFT JOIN name d ON d.n = dx.shown
			LEFT JOIN name cx ON cx.n = s.cue LEFT JOIN name c ON c.n = cx.shown
			ORDER BY s.id`)
		slices.SortStableFunc(out, func(a, b training.Setting) int {
			return cmp.Or(byName(a.Dog, b.Dog), byName(a.Cue, b.Cue), cmp.Compare(a.Name, b.Name))
		})
		return err
	})
	return out, err
}

func byName(a, b string) int {
	return cmp.Or(cmp.Compare(training.Key(a), training.Key(b)), cmp.Compare(a, b))
}

// Kennel returns the kennel's lists, each ordered by name, dogs complete.
func (s *Store) Kennel(ctx context.Context) (training.Kennel, error) {
	var k training.Kennel
	err := s.read(ctx, func(t *tx) (err error) { k, err = t.kennel(0); return })
	return k, err
}

// KennelOf is Kennel for a note that names these dogs and handlers, by name or
// alias: of the dogs it holds those that are named, of the owners those named
// and those of the named dogs. Names that are not known are left out. It costs
// the same however many dogs there are.
func (s *Store) KennelOf(ctx context.Context, named ...string) (training.Kennel, error) {
	var k training.Kennel
	err := s.read(ctx, func(t *tx) (err error) {
		if k, err = t.things(); err != nil {
			return err
		}
		seen := map[int64]bool{}
		add := func(handlers []training.Handler) {
			for _, h := range handlers {
				if !slices.ContainsFunc(k.Handlers, func(x training.Handler) bool { return x.ID == h.ID }) {
					k.Handlers = append(k.Handlers, h)
				}
			}
		}
		for _, name := range named {
			for _, kd := range []kind{aDog, aHandler} {
				e, found, err := t.find(kd, name)
				if err != nil {
					return err
				}
				if !found || seen[e.n] {
					continue
				}
				seen[e.n] = true
				if kd == aHandler {
					h, err := t.handlersWhere("e.n = ?", e.n)
					if err != nil {
						return err
					}
					add(h)
					continue
				}
				more, err := t.kennel(e.n)
				if err != nil {
					return err
				}
				k.Dogs = append(k.Dogs, more.Dogs...)
				add(more.Handlers)
			}
		}
		if len(k.Dogs) == 0 { // those of any dog are among the handlers of each
			h, err := t.handlers(nobody)
			if err != nil {
				return err
			}
			add(h)
		}
		slices.SortFunc(k.Dogs, func(a, b training.Dog) int { return byName(a.Name, b.Name) })
		slices.SortFunc(k.Handlers, func(a, b training.Handler) int { return byName(a.Name, b.Name) })
		return nil
	})
	return k, err
}

// nobody is the number of no entry.
const nobody = -1

// kennel reads the lists. With a dog it reads that dog alone, and no owners who
// had nothing to do with it, so that it costs the same however many dogs there
// are.
func (t *tx) kennel(dog int64) (training.Kennel, error) {
	k, err := t.things()
	if err != nil {
		return k, err
	}
	if k.Handlers, err = t.handlers(dog); err != nil {
		return k, err
	}
	k.Dogs, err = t.dogs(dog)
	return k, err
}

// things reads places, devices and cues, once for one view of the store.
func (t *tx) things() (training.Kennel, error) {
	if t.lists != nil {
		return *t.lists, nil
	}
	var k training.Kennel
	var places, devices, cues []int64
	if err := t.each(func(scan func(...any) error) error {
		var n int64
		var p training.Place
		err := scan(&n, &p.ID, &p.Name, &p.OffProperty)
		k.Places, places = append(k.Places, p), append(places, n)
		return err
	}, "SELECT e.n, e.id, e.name, p.off_property FROM name e JOIN place p ON p.n = e.n WHERE e.kind = 'place' AND e.shown = e.n AND e.gone = 0"); err != nil {
		return k, err
	}
	if err := t.each(func(scan func(...any) error) error {
		var n int64
		var d training.Device
		err := scan(&n, &d.ID, &d.Name, opt(&d.Lowest), opt(&d.Highest))
		k.Devices, devices = append(k.Devices, d), append(devices, n)
		return err
	}, "SELECT e.n, e.id, e.name, d.lowest, d.highest FROM name e JOIN device d ON d.n = e.n WHERE e.kind = 'device' AND e.shown = e.n AND e.gone = 0"); err != nil {
		return k, err
	}
	if err := t.each(func(scan func(...any) error) error {
		var n int64
		var c training.Cue
		err := scan(&n, &c.ID, &c.Name, &c.Kind, &c.Signal, opt(&c.Limit), opt(&c.Arrive), opt(&c.Target), opt(&c.Breaks), &c.Ends, &c.Meaning)
		k.Cues, cues = append(k.Cues, c), append(cues, n)
		return err
	}, `SELECT e.n, e.id, e.name, c.kind, c.signal, c."limit", c.arrive, c.target, c.breaks, c.ends, c.meaning FROM name e JOIN cue c ON c.n = e.n WHERE e.kind = 'cue' AND e.shown = e.n AND e.gone = 0`); err != nil {
		return k, err
	}
	aliases, err := t.aliases(slices.Concat(places, devices, cues)...)
	if err != nil {
		return k, err
	}
	for i, n := range places {
		k.Places[i].Aliases = aliases[n]
	}
	for i, n := range devices {
		k.Devices[i].Aliases = aliases[n]
	}
	for i, n := range cues {
		k.Cues[i].Aliases = aliases[n]
	}
	slices.SortFunc(k.Places, func(a, b training.Place) int { return byName(a.Name, b.Name) })
	slices.SortFunc(k.Devices, func(a, b training.Device) int { return byName(a.Name, b.Name) })
	slices.SortFunc(k.Cues, func(a, b training.Cue) int { return byName(a.Name, b.Name) })
	t.lists = &k
	return k, nil
}

// handlers reads them all or, with a dog, those that may have to do with it.
func (t *tx) handlers(dog int64) ([]training.Handler, error) {
	if dog == 0 {
		return t.handlersWhere("e.kind = 'handler'")
	}
	// Owners through this dog, the others through the index of roles.
	return t.handlersWhere(`e.n IN (
		SELECT n FROM handler WHERE role IN ('trainer', 'outsider', '')
		UNION SELECT x.shown FROM dog_owner o JOIN name x ON x.n = o.handler WHERE o.dog IN (SELECT n FROM name WHERE shown = ?)
		UNION SELECT x.shown FROM session s JOIN revision r ON r.n = s.shown JOIN name x ON x.n = r.handler WHERE s.dog IN (SELECT n FROM name WHERE shown = ?)
		UNION SELECT x.shown FROM session s JOIN revision r ON r.n = s.shown JOIN name x ON x.n = r.scorer WHERE s.dog IN (SELECT n FROM name WHERE shown = ?))`, dog, dog, dog)
}

func (t *tx) handlersWhere(where string, args ...any) ([]training.Handler, error) {
	var out []training.Handler
	var ns []int64
	err := t.each(func(scan func(...any) error) error {
		var n int64
		var h training.Handler
		err := scan(&n, &h.ID, &h.Name, &h.Role)
		out, ns = append(out, h), append(ns, n)
		return err
	}, "SELECT e.n, e.id, e.name, h.role FROM name e JOIN handler h ON h.n = e.n WHERE e.shown = e.n AND e.gone = 0 AND "+where, args...)
	if err != nil {
		return nil, err
	}
	aliases, err := t.aliases(ns...)
	if err != nil {
		return nil, err
	}
	for i := range out {
		out[i].Aliases = aliases[ns[i]]
	}
	slices.SortFunc(out, func(a, b training.Handler) int { return byName(a.Name, b.Name) })
	return out, nil
}

// aliases reads the aliases of the entries with these numbers, which must be
// shown; the names of entries joined into one are among its aliases. An alias that
// is also the name of an entry of that kind is left out: the name has the older
// right.
func (t *tx) aliases(of ...int64) (map[int64][]string, error) {
	if len(of) == 0 {
		return nil, nil
	}
	type alias struct {
		n         int64
		k         kind
		joined    int
		id        string
		position  int
		name, key string
	}
	// Two plain queries: as one that also left out and sorted, it took SQLite
	// longer to understand than all the rest of a dog's lists.
	var all []alias
	numbers := string(plainJSON(of))
	read := func(scan func(...any) error) error {
		var a alias
		err := scan(&a.n, &a.k, &a.joined, &a.id, &a.position, &a.name, &a.key)
		all = append(all, a)
		return err
	}
	if err := t.each(read, `SELECT e.shown, e.kind, e.n <> e.shown, e.id, a.position, a.name, a.key FROM name e JOIN alias a ON a.entry = e.n
		WHERE e.shown IN (SELECT value FROM json_each(?))`, numbers); err != nil {
		return nil, err
	}
	if err := t.each(read, `SELECT shown, kind, 1, id, -1, name, key FROM name
		WHERE shown IN (SELECT value FROM json_each(?)) AND n <> shown AND gone = 0`, numbers); err != nil {
		return nil, err
	}
	slices.SortFunc(all, func(a, b alias) int {
		return cmp.Or(cmp.Compare(a.n, b.n), cmp.Compare(a.joined, b.joined), cmp.Compare(a.id, b.id), cmp.Compare(a.position, b.position))
	})
	out := map[int64][]string{}
	for _, a := range all {
		if slices.ContainsFunc(out[a.n], func(b string) bool { return training.Key(a.name) == training.Key(b) }) {
			continue
		}
		var n int
		taken, err := t.one("SELECT 1 FROM name WHERE kind = ? AND key = ? AND shown = n AND gone = 0 AND key <> ''", []any{a.k, a.key}, &n)
		if err != nil {
			return nil, err
		}
		if !taken {
			out[a.n] = append(out[a.n], a.name)
		}
	}
	return out, nil
}

// opt scans a number that may be NULL.
func opt(n *training.Num) *optional { return (*optional)(n) }

type optional training.Num

// Scan implements sql.Scanner.
func (o *optional) Scan(src any) error {
	switch v := src.(type) {
	case nil:
		*o = optional{}
	case float64:
		*o = optional{V: v, Known: true}
	case int64:
		*o = optional{V: float64(v), Known: true}
	default:
		return fmt.Errorf("%v is not a number", src)
	}
	return nil
}

func (t *tx) dogByID(id string) (training.Dog, error) {
	var n int64
	found, err := t.one("SELECT shown FROM name WHERE kind = 'dog' AND id = ?", []any{id}, &n)
	if err != nil {
		return training.Dog{}, err
	}
	if found {
		dogs, err := t.dogs(n)
		if err != nil || len(dogs) == 1 {
			return append(dogs, training.Dog{})[0], err
		}
	}
	return training.Dog{}, fail(ErrNotFound, "no dog has the id %s", id)
}

// dogs reads all dogs, or the one shown as n. What belongs to entries joined
// into a dog is its own.
func (t *tx) dogs(n int64) ([]training.Dog, error) {
	one, args := "", []any{}
	if n != 0 {
		one, args = " AND x.shown = ?", []any{n}
	}
	var out []training.Dog
	at := map[int64]int{}
	err := t.each(func(scan func(...any) error) error {
		var n int64
		var d training.Dog
		var born *int64
		if err := scan(&n, &d.ID, &d.Name, &born, &d.RewardOnly, &d.Consent); err != nil {
			return err
		}
		d.Born = training.Day(deref(born))
		at[n] = len(out)
		out = append(out, d)
		return nil
	}, "SELECT x.n, x.id, x.name, d.born, (SELECT max(reward_only) FROM name y JOIN dog z ON z.n = y.n WHERE y.shown = x.n), d.consent FROM name x JOIN dog d ON d.n = x.n WHERE x.kind = 'dog' AND x.shown = x.n AND x.gone = 0"+one, args...)
	if err != nil {
		return nil, err
	}
	// Names of others by a second look: the one connection is busy while rows are read.
	type pair struct{ device, main *int64 }
	refs := map[int64]pair{}
	if err := t.each(func(scan func(...any) error) error {
		var n int64
		var p pair
		err := scan(&n, &p.device, &p.main)
		refs[n] = p
		return err
	}, "SELECT d.n, d.device, d.main FROM dog d JOIN name x ON x.n = d.n WHERE 1 = 1"+one, args...); err != nil {
		return nil, err
	}
	for n, i := range at {
		device, err1 := t.nameOf(deref(refs[n].device))
		main, err2 := t.nameOf(deref(refs[n].main))
		if err := cmp.Or(err1, err2); err != nil {
			return nil, err
		}
		out[i].Device, out[i].Main = device.name, main.name
	}
	aliases, err := t.aliases(slices.Collect(maps.Keys(at))...)
	if err != nil {
		return nil, err
	}
	for n, i := range at {
		out[i].Aliases = aliases[n]
	}
	// dog returns where a row that belongs to an entry goes.
	dog := func(n int64) *training.Dog {
		if i, ok := at[n]; ok {
			return &out[i]
		}
		return &training.Dog{} // of a dog taken back
	}
	const of = " JOIN name x ON x.n = %s.dog WHERE 1 = 1%s ORDER BY x.shown, x.n <> x.shown, x.id"
	part := func(alias string) string { return fmt.Sprintf(of, alias, one) }
	err = t.each(func(scan func(...any) error) error {
		var n int64
		var name string
		if err := scan(&n, &name); err != nil {
			return err
		}
		d := dog(n)
		if !slices.ContainsFunc(d.Owners, func(o string) bool { return training.Key(o) == training.Key(name) }) {
			d.Owners = append(d.Owners, name)
		}
		return nil
	}, "SELECT x.shown, coalesce((SELECT s.name FROM name h JOIN name s ON s.n = h.shown WHERE h.n = o.handler), o.name) FROM dog_owner o"+part("o")+", o.position", args...)
	if err != nil {
		return nil, err
	}
	err = t.each(func(scan func(...any) error) error {
		var n int64
		var w training.CueWord
		if err := scan(&n, &w.Cue, &w.Word, &w.Signal, &w.Ends); err != nil {
			return err
		}
		d := dog(n)
		d.Words = append(d.Words, w)
		return nil
	}, "SELECT x.shown, (SELECT s.name FROM name h JOIN name s ON s.n = h.shown WHERE h.n = w.cue), w.word, w.signal, w.ends FROM cue_word w"+part("w")+", w.position", args...)
	if err != nil {
		return nil, err
	}
	err = t.each(func(scan func(...any) error) error {
		var n int64
		var g training.Goal
		if err := scan(&n, &g.Cue, &g.Place, opt(&g.Distraction), &g.Handler, opt(&g.Bar), &g.Words, &g.Leash, opt(&g.Hold)); err != nil {
			return err
		}
		d := dog(n)
		d.Goals = append(d.Goals, g)
		return nil
	}, `SELECT x.shown, coalesce((SELECT s.name FROM name h JOIN name s ON s.n = h.shown WHERE h.n = g.cue), ''),
		coalesce((SELECT s.name FROM name h JOIN name s ON s.n = h.shown WHERE h.n = g.place), g.place_name), g.distraction,
		coalesce((SELECT s.name FROM name h JOIN name s ON s.n = h.shown WHERE h.n = g.handler), g.handler_name), g.bar, g.words, g.leash, g.hold FROM goal g`+part("g")+", g.position", args...)
	if err != nil {
		return nil, err
	}
	err = t.each(func(scan func(...any) error) error {
		var n int64
		var b training.Boarding
		var arrived, due, home *int64
		var ready *bool
		if err := scan(&n, &b.ID, &arrived, &due, &home, &b.Wishes, &ready); err != nil {
			return err
		}
		b.Judged, b.Ready = ready != nil, ready != nil && *ready
		b.Arrived, b.Due, b.Home = training.Day(deref(arrived)), training.Day(deref(due)), training.Day(deref(home))
		d := dog(n)
		d.Boardings = append(d.Boardings, b)
		return nil
	}, "SELECT x.shown, b.id, b.arrived, b.due, b.home, b.wishes, b.ready FROM boarding b"+part("b"), args...)
	if err != nil {
		return nil, err
	}
	holds := map[string][]string{}
	err = t.each(func(scan func(...any) error) error {
		var id, name string
		err := scan(&id, &name)
		holds[id] = append(holds[id], name)
		return err
	}, "SELECT c.hold, s.name FROM hold_cue c JOIN hold h ON h.id = c.hold JOIN name e ON e.n = c.cue JOIN name s ON s.n = e.shown"+strings.ReplaceAll(part("h"), "ORDER BY x.shown, x.n <> x.shown, x.id", "ORDER BY c.hold, c.position"), args...)
	if err != nil {
		return nil, err
	}
	err = t.each(func(scan func(...any) error) error {
		var n int64
		var h training.VetHold
		var from, to *int64
		if err := scan(&n, &h.ID, &from, &to, &h.Reason, &h.NoCollar, &h.CollarOnly); err != nil {
			return err
		}
		h.From, h.To, h.Cues = training.Day(deref(from)), training.Day(deref(to)), holds[h.ID]
		d := dog(n)
		d.Holds = append(d.Holds, h)
		return nil
	}, "SELECT x.shown, h.id, h.first_day, h.last_day, h.reason, h.no_collar, h.collar_only FROM hold h"+part("h"), args...)
	if err != nil {
		return nil, err
	}
	for i := range out {
		slices.SortFunc(out[i].Boardings, func(a, b training.Boarding) int {
			return cmp.Or(cmp.Compare(a.Arrived, b.Arrived), cmp.Compare(a.ID, b.ID))
		})
		slices.SortFunc(out[i].Holds, func(a, b training.VetHold) int {
			return cmp.Or(cmp.Compare(a.From, b.From), cmp.Compare(a.ID, b.ID))
		})
	}
	slices.SortFunc(out, func(a, b training.Dog) int { return byName(a.Name, b.Name) })
	return out, nil
}

func deref(p *int64) int64 {
	if p == nil {
		return 0
	}
	return *p
}
