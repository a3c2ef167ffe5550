package store

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"firstcue/internal/training"
)

// List names one of the kennel's lists of named entries.
type List = string

// The lists.
const (
	Dogs     List = "dog"
	Handlers List = "handler"
	Places   List = "place"
	Devices  List = "device"
	Cues     List = "cue"
)

func listKind(l List) (kind, error) {
	if !slices.Contains(namedKinds, kind(l)) {
		return "", fail(ErrInvalid, "there is no list of %q: dog, handler, place, device or cue", l)
	}
	return kind(l), nil
}

// entryOn finds an entry by name on a list.
func (t *tx) entryOn(l List, name string) (kind, entryRow, error) {
	k, err := listKind(l)
	if err != nil {
		return "", entryRow{}, err
	}
	e, err := t.need(k, name)
	return k, e, err
}

// Rename gives an entry a new name. The old one stays as an alias, so that notes
// that use it are still understood.
func (s *Store) Rename(ctx context.Context, list List, old, name string) error {
	return s.write(ctx, func(t *tx) error {
		k, e, err := t.entryOn(list, old)
		if err != nil {
			return err
		}
		if e.n == 0 {
			return fail(ErrInvalid, "say which %s gets the new name", k)
		}
		f := fields(k)
		if _, err := t.state(k, e.id, f); err != nil {
			return err
		}
		nm := namedOf(f)
		if training.Key(nm.Name) != training.Key(name) {
			nm.Aliases = append(nm.Aliases, nm.Name)
		}
		nm.Name = name
		_, err = t.putEntry(k, e.id, f)
		return err
	})
}

// JoinPreview says what joining two entries touches.
type JoinPreview struct {
	From, Into string // as they are on the list
	Sessions   int    // standing sessions that name From
	Trials     int    // trials of them that name From: cues and devices
	Dogs       int    // dogs whose lists name From
	Incidents  int    // a dog: its incidents, noted or entered
	// With is what goes with a dog that is taken off the list: "1 stay, 2 holds".
	With string
}

// PreviewJoin counts what Join would touch, and refuses what Join would refuse.
func (s *Store) PreviewJoin(ctx context.Context, list List, from, into string) (JoinPreview, error) {
	var p JoinPreview
	err := s.read(ctx, func(t *tx) error {
		k, a, b, err := t.joinable(list, from, into)
		if err != nil {
			return err
		}
		p, err = t.uses(k, a.n)
		p.From, p.Into = a.name, b.name
		return err
	})
	return p, err
}

// Join makes one entry of two that mean the same thing: everything said of from
// is from now on said of into, and from's name is an alias of it. No session is
// rewritten, and Split takes it back.
func (s *Store) Join(ctx context.Context, list List, from, into string) error {
	return s.write(ctx, func(t *tx) error {
		k, a, b, err := t.joinable(list, from, into)
		if err != nil {
			return err
		}
		f := fields(k)
		if _, err := t.state(k, a.id, f); err != nil {
			return err
		}
		namedOf(f).Into = b.id
		_, err = t.set(k, a.id, f, fmt.Sprintf("%s %s joined into %s", k, a.name, b.name))
		return err
	})
}

func (t *tx) joinable(list List, from, into string) (k kind, a, b entryRow, err error) {
	if k, err = listKind(list); err != nil {
		return
	}
	if a, err = t.need(k, from); err != nil {
		return
	}
	if b, err = t.need(k, into); err != nil {
		return
	}
	if a.n == 0 || b.n == 0 {
		err = fail(ErrInvalid, "say which two %ss are one", k)
		return
	}
	if a.n == b.n {
		err = fail(ErrInvalid, "%q and %q are one %s already", from, into, k)
		return
	}
	if k == aCue {
		var one, two string
		if _, err = t.one("SELECT a.kind, b.kind FROM cue a, cue b WHERE a.n = ? AND b.n = ?", []any{a.n, b.n}, &one, &two); err == nil && one != two {
			err = fail(ErrInvalid, "%s is a %s and %s a %s: they are measured differently and can't be one", a.name, one, b.name, two)
		}
	}
	return
}

// Split takes a join back: name is that of the entry that was joined.
func (s *Store) Split(ctx context.Context, list List, name string) error {
	return s.write(ctx, func(t *tx) error {
		k, err := listKind(list)
		if err != nil {
			return err
		}
		var id string
		found, err := t.one("SELECT id FROM name WHERE kind = ? AND key = ? AND shown <> n ORDER BY id LIMIT 1", []any{k, training.Key(name)}, &id)
		if err != nil {
			return err
		}
		if !found {
			return fail(ErrNotFound, "no %s called %q was joined into another", k, name)
		}
		f := fields(k)
		if _, err := t.state(k, id, f); err != nil {
			return err
		}
		namedOf(f).Into = ""
		_, err = t.set(k, id, f, fmt.Sprintf("%s %s split off again", k, name))
		return err
	})
}

// uses counts where an entry is named.
func (t *tx) uses(k kind, n int64) (JoinPreview, error) {
	var p JoinPreview
	const mine = "IN (SELECT n FROM name WHERE shown = ?1)"
	sessions := map[kind]string{
		aDog:     "r.dog " + mine,
		aHandler: "(r.handler " + mine + " OR r.scorer " + mine + ")",
		aPlace:   "r.place " + mine,
	}[k]
	if k == aDevice || k == aCue {
		if err := t.inTrials(k, n, &p); err != nil {
			return p, err
		}
	} else if _, err := t.one("SELECT count(*) FROM session s JOIN revision r ON r.n = s.shown WHERE s.standing = 1 AND "+sessions, []any{n}, &p.Sessions); err != nil {
		return p, err
	}
	dogs := map[kind]string{
		aHandler: "SELECT n AS dog FROM dog WHERE main " + mine + " UNION SELECT dog FROM dog_owner WHERE handler " + mine + " UNION SELECT dog FROM goal WHERE handler " + mine,
		aPlace:   "SELECT dog FROM goal WHERE place " + mine,
		aDevice:  "SELECT n AS dog FROM dog WHERE device " + mine,
		aCue:     "SELECT dog FROM goal WHERE cue " + mine + " UNION SELECT dog FROM cue_word WHERE cue " + mine + " UNION SELECT dog FROM setting WHERE cue " + mine + " UNION SELECT h.dog FROM hold h JOIN hold_cue c ON c.hold = h.id WHERE c.cue " + mine,
	}[k]
	if k != aDog {
		_, err := t.one("SELECT count(*) FROM ("+dogs+")", []any{n}, &p.Dogs)
		return p, err
	}
	noted, err := t.incidents(n, 0)
	p.Incidents = len(noted)
	for _, x := range []struct{ table, one string }{{"boarding", "stay"}, {"hold", "hold"}, {"goal", "goal"}, {"cue_word", "cue word"}} {
		var c int
		if err == nil {
			_, err = t.one("SELECT count(*) FROM "+x.table+" WHERE dog "+mine, []any{n}, &c)
		}
		if c > 0 {
			if p.With != "" {
				p.With += ", "
			}
			p.With += counted(c, x.one)
		}
	}
	return p, err
}

// inTrials counts the standing sessions, and their trials, that name a cue or a
// device: only the documents say so.
func (t *tx) inTrials(k kind, n int64, p *JoinPreview) error {
	mine := map[string]bool{}
	where, args := "", []any{}
	if err := t.each(func(scan func(...any) error) error {
		var id string
		err := scan(&id)
		mine[id] = true
		where, args = where+" OR instr(e.body, ?) > 0", append(args, id)
		return err
	}, "SELECT id FROM name WHERE shown = ?", n); err != nil {
		return err
	}
	return t.each(func(scan func(...any) error) error {
		var id string
		var body []byte
		if err := scan(&id, &body); err != nil {
			return err
		}
		r, err := readRevision(id, body)
		if err != nil {
			return err
		}
		trials := 0
		for i := range r.Trials {
			f := &r.Trials[i]
			if k == aCue && mine[f.Cue] || k == aDevice && slices.ContainsFunc(f.Corrections, func(c correction) bool { return mine[c.Device] }) {
				trials++
			}
		}
		if trials > 0 || mine[r.Device] {
			p.Sessions++
		}
		p.Trials += trials
		return nil
	}, "SELECT e.id, e.body FROM session s JOIN entry e ON e.seq = s.shown WHERE s.standing = 1 AND (1 = 0"+where+")", args...)
}

// counted is a number with its noun.
func counted(n int, one string) string {
	if n == 1 {
		return "1 " + one
	}
	return fmt.Sprintf("%d %ss", n, one)
}

// Uses counts where an entry is named: what Remove would refuse, and for a dog
// what would go with it.
func (s *Store) Uses(ctx context.Context, list List, name string) (JoinPreview, error) {
	var p JoinPreview
	err := s.read(ctx, func(t *tx) error {
		k, e, err := t.entryOn(list, name)
		if err != nil {
			return err
		}
		p, err = t.uses(k, e.n)
		p.From = e.name
		return err
	})
	return p, err
}

// Remove takes an entry that nothing names off its list; the journal keeps it. A
// dog's stays, holds, goals and words go with it, but no session or incident.
func (s *Store) Remove(ctx context.Context, list List, name string) error {
	return s.write(ctx, func(t *tx) error {
		k, e, err := t.entryOn(list, name)
		if err != nil {
			return err
		}
		p, err := t.uses(k, e.n)
		if err != nil {
			return err
		}
		if p.Sessions+p.Dogs+p.Incidents > 0 {
			by := "by " + counted(p.Dogs, "dog")
			if k == aDog {
				by = counted(p.Incidents, "incident")
			}
			return fail(ErrInvalid, "the %s %s is named in %s and %s; it stays", k, e.name, counted(p.Sessions, "session"), by)
		}
		return t.remove(k, e)
	})
}

func (t *tx) remove(k kind, e entryRow) error {
	f := fields(k)
	if _, err := t.state(k, e.id, f); err != nil {
		return err
	}
	namedOf(f).Gone = true
	_, err := t.set(k, e.id, f, fmt.Sprintf("%s %s taken off the list", k, e.name))
	return err
}

// Event is one line of the store's journal.
type Event struct {
	At     time.Time
	Writer string // id of the store it was done in; "" = there from the start
	Said   string // what was done, in words
	Batch  string // the batch it came with, "" = none
}

// Events returns the journal, newest first: changes of the lists, logs, imports,
// amendments, withdrawals. limit 0 is all of it.
func (s *Store) Events(ctx context.Context, limit int) ([]Event, error) {
	if limit <= 0 {
		limit = -1
	}
	var out []Event
	err := s.read(ctx, func(t *tx) error {
		return t.each(func(scan func(...any) error) error {
			var id string
			var body []byte
			var n int
			if err := scan(&id, &body, &n); err != nil {
				return err
			}
			e, err := changeEvent(id, body)
			if n >= 0 {
				e, err = batchEvent(id, body, n)
			}
			out = append(out, e)
			return err
		}, `SELECT e.id, e.body, x.sessions FROM (
			SELECT n, tick, id, -1 AS sessions FROM change
			UNION ALL SELECT n, at_ms, id, (SELECT count(DISTINCT session) FROM revision r WHERE r.batch = b.id) FROM batch b) x
			JOIN entry e ON e.seq = x.n ORDER BY x.tick DESC, x.id DESC LIMIT ?`, limit)
	})
	return out, err
}

func changeEvent(id string, body []byte) (Event, error) {
	c, err := readChange(id, body)
	if err != nil {
		return Event{}, err
	}
	at, err := parseClock(c.At)
	return Event{At: at, Writer: c.Writer, Said: c.Said, Batch: c.Batch}, err
}

func batchEvent(id string, body []byte, sessions int) (Event, error) {
	var b batch
	if hashOf(body) != id || json.Unmarshal(body, &b) != nil {
		return Event{}, errTorn
	}
	said := b.Kind
	if b.Name != "" {
		said += " " + b.Name
	}
	at, err := parseClock(b.At)
	return Event{At: at, Writer: b.Writer, Said: said + ": " + counted(sessions, "session"), Batch: b.ID}, err
}

// SetMapping remembers under a name how a spreadsheet's columns are read; text
// "" forgets it.
func (s *Store) SetMapping(ctx context.Context, name, text string) error {
	return s.write(ctx, func(t *tx) error {
		name, err := cleanName(mapping, name)
		if err != nil {
			return err
		}
		_, err = t.set(mapping, entityOf(mapping, training.Key(name)), &mappingFields{Name: name, Text: text, Gone: text == ""}, "map "+name+" kept")
		return err
	})
}

// Mapping is how a spreadsheet's columns are read.
type Mapping struct{ Name, Text string }

// Mappings returns the remembered mappings in order of name.
func (s *Store) Mappings(ctx context.Context) ([]Mapping, error) {
	var out []Mapping
	err := s.read(ctx, func(t *tx) error {
		return t.each(func(scan func(...any) error) error {
			var m Mapping
			err := scan(&m.Name, &m.Text)
			out = append(out, m)
			return err
		}, "SELECT name, text FROM mapping ORDER BY name")
	})
	slices.SortFunc(out, func(a, b Mapping) int { return byName(a.Name, b.Name) })
	return out, err
}

// Draft is a note that was kept without being stored as sessions.
type Draft struct {
	ID   int64
	Name string
	At   time.Time
	Text []byte
}

// SaveDraft keeps a note that could not be logged yet. Drafts stay in this file
// and are not exchanged. The same text under the same name is kept once.
func (s *Store) SaveDraft(ctx context.Context, name string, text []byte) (Draft, error) {
	d := Draft{Name: name, Text: append([]byte{}, text...)}
	err := s.write(ctx, func(t *tx) error {
		if !validText(name) {
			return fail(ErrInvalid, "the name %q can't be kept", name)
		}
		var at string
		found, err := t.one("SELECT n, at FROM draft WHERE name = ? AND text = ?", []any{name, d.Text}, &d.ID, &at)
		if err != nil {
			return err
		}
		if found {
			d.At, err = parseClock(at)
			return err
		}
		d.At = offsetOnly(t.now)
		_, err = t.one("INSERT INTO draft (name, at, text) VALUES (?, ?, ?) RETURNING n", []any{name, clock(t.now), d.Text}, &d.ID)
		return err
	})
	return d, err
}

// Drafts returns the kept notes, oldest first.
func (s *Store) Drafts(ctx context.Context) ([]Draft, error) {
	var out []Draft
	err := s.read(ctx, func(t *tx) error {
		return t.each(func(scan func(...any) error) error {
			var d Draft
			var at string
			err := scan(&d.ID, &d.Name, &at, &d.Text)
			if err == nil {
				d.At, err = parseClock(at)
			}
			out = append(out, d)
			return err
		}, "SELECT n, name, at, text FROM draft ORDER BY n")
	})
	return out, err
}

// RemoveDraft takes a kept note away, once it is logged.
func (s *Store) RemoveDraft(ctx context.Context, id int64) error {
	return s.write(ctx, func(t *tx) error {
		var n int64
		found, err := t.one("DELETE FROM draft WHERE n = ? RETURNING n", []any{id}, &n)
		if err == nil && !found {
			err = fail(ErrNotFound, "there is no draft %d", id)
		}
		return err
	})
}

func validText(s string) bool { return strings.ToValidUTF8(s, "") == s }
