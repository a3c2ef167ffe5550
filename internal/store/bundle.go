package store

import (
	"bufio"
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"hash"
	"io"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"firstcue/internal/training"
)

// BundleSchema names the format of exchange files: JSON Lines, a header and then
// the documents of changes, texts, batches and sessions. docs/store.md describes it.
const (
	BundleSchema  = "firstcue.bundle/2"
	bundleSchema1 = "firstcue.bundle/1" // read, not written
)

// bundleHeader is the first line of an exchange file. Checksum is the SHA-256 of
// all bytes after that line.
type bundleHeader struct {
	Schema   string `json:"schema"`
	Writer   string `json:"writer"`
	Made     string `json:"made"`
	Count    int    `json:"count"` // lines after this one
	Checksum string `json:"checksum"`
}

// bundleLine is any other line: a document, byte for byte as it is kept.
type bundleLine struct {
	Kind string          `json:"kind"` // change, source, batch or session
	ID   string          `json:"id"`
	Doc  json.RawMessage `json:"doc"`
}

// document is what a line says: one of the four is there.
type document struct {
	Change   *change
	Source   *source
	Batch    *batch
	Revision *revision
}

// read holds the line against its hash and reads it.
func (l *bundleLine) read() (d document, ok bool, err error) {
	if hashOf(l.Doc) != l.ID {
		return d, false, nil
	}
	into := func(v any) {
		dec := json.NewDecoder(bytes.NewReader(l.Doc))
		dec.DisallowUnknownFields()
		err = dec.Decode(v)
	}
	switch l.Kind {
	case "change":
		d.Change = &change{}
		into(d.Change)
		d.Change.ID = l.ID
	case "source":
		d.Source = &source{}
		into(d.Source)
		ok = err == nil && hashText(d.Source.text()) == d.Source.Hash
		return d, ok, err
	case "batch":
		d.Batch = &batch{}
		into(d.Batch)
	case "session":
		into(&revision{})
		if err == nil {
			d.Revision, err = decodeRevision(slices.Clone(l.Doc))
		}
		if err == nil {
			d.Revision.seal() // content
			ok = d.Revision.ID == l.ID
			return d, ok, nil
		}
	}
	return d, true, err
}

// source is a text as it came in: what is no UTF-8 stands in Bytes, in base64.
type source struct {
	Hash  string `json:"hash"` // SHA-256 of the text
	Text  string `json:"text,omitempty"`
	Bytes []byte `json:"bytes,omitempty"`
}

func sourceOf(text []byte) *source {
	s := &source{Hash: hashText(text)}
	if utf8.Valid(text) {
		s.Text = string(text)
	} else {
		s.Bytes = text
	}
	return s
}

func (s *source) text() []byte { return append([]byte(s.Text), s.Bytes...) }

// WriteBundle writes everything that is exchanged between stores. Two stores
// that hold the same write the same, but for the header. Of a damaged store
// nothing is written: ErrDamaged. An error of w comes back as it is.
func (s *Store) WriteBundle(ctx context.Context, w io.Writer) error {
	to := &target{w: w}
	err := s.read(ctx, func(t *tx) error {
		if err := t.whole(); err != nil {
			return err
		}
		sum := sha256.New()
		h := bundleHeader{Schema: BundleSchema, Writer: t.writer, Made: clock(t.now)}
		if err := t.bundle(func(line bundleLine) error {
			h.Count++
			if hashOf(line.Doc) != line.ID {
				return errAltered
			}
			return writeLine(sum, line)
		}); err != nil {
			return err
		}
		h.Checksum = hex.EncodeToString(sum.Sum(nil))
		b := bufio.NewWriterSize(to, 1<<16)
		if err := writeLine(b, h); err != nil {
			return err
		}
		if err := t.bundle(func(line bundleLine) error { return writeLine(b, line) }); err != nil {
			return err
		}
		return b.Flush()
	})
	switch {
	case to.err != nil:
		return to.err
	case errors.Is(err, ErrDamaged):
		return &storeError{kind: ErrDamaged, msg: fmt.Sprintf("%s: the store is damaged, so nothing of it was handed on", s.path), cause: err}
	}
	return err
}

// target keeps an error of what is written to apart from those of the store.
type target struct {
	w   io.Writer
	err error
}

func (x *target) Write(p []byte) (int, error) {
	n, err := x.w.Write(p)
	if err != nil {
		x.err = err
	}
	return n, err
}

// errAltered is a line that is no longer what was stored.
var errAltered = fail(ErrDamaged, "something in the store was altered; run: firstcue store check")

// whole returns ErrDamaged unless SQLite finds the database sound.
func (t *tx) whole() error {
	fault, torn, err := flaw(t.ctx, t)
	switch {
	case err != nil:
		return err
	case fault != "":
		return errAltered
	case torn != "":
		return errTorn
	}
	return nil
}

func writeLine(w io.Writer, v any) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	return e.Encode(v)
}

// bundle yields all documents in their fixed order, which depends on what they
// say and not on how they came here.
func (t *tx) bundle(yield func(bundleLine) error) error {
	for _, part := range []struct{ kind, from string }{
		{"change", "change x JOIN entry e ON e.seq = x.n ORDER BY x.tick, x.writer, x.id"},
		{"source", "entry e WHERE e.kind = 'source' AND substr(e.key, 1, 5) <> 'lost ' ORDER BY e.key"},
		{"batch", "batch x JOIN entry e ON e.seq = x.n ORDER BY x.id"},
		{"session", "session s JOIN revision r ON r.session = s.n JOIN entry e ON e.seq = r.n ORDER BY s.id, r.number, r.at_ms, r.writer, r.id"},
	} {
		if err := t.each(func(scan func(...any) error) error {
			l := bundleLine{Kind: part.kind}
			var body []byte
			if err := scan(&l.ID, &body); err != nil {
				return err
			}
			l.Doc = body
			return yield(l)
		}, "SELECT e.id, e.body FROM "+part.from); err != nil {
			return err
		}
	}
	return nil
}

// errTorn is a row without the row it belongs to: only damage does that.
var errTorn = fail(ErrDamaged, "something in the store was altered or is missing, so nothing of it is shown; run: firstcue store check")

// MergeResult counts what a merge added.
type MergeResult struct {
	Writer    string // of the store the bundle came from
	Changes   int    // of the kennel's lists
	Sessions  int    // not here before
	Revisions int    // new forms of sessions, those of new sessions among them
	Known     int    // lines that were here already
	// Differ are the entries of which this store and the other said different
	// things, in order of kind and name.
	Differ []Difference
}

// Difference is a field of an entry that two stores said differently.
type Difference struct {
	List        List   // Handlers, Places or Dogs; Bars
	Name        string // as it is now; of a bar: what it is called in the criteria
	Dog, Cue    string // of a bar: whom it holds for, "" = all
	Field       string // of a dog: "name", "born", "consent", "arrival", "due day", "day home", "wishes", "goals"; else ""
	Here, There string // owner, trainer, outsider; on property, off property; the field in words, a day as 2006-01-02, a bar as a plain number
	Kept        string // one of the two
}

// ErrNoCopy is a merge that was refused because the copy before it could not be
// written.
var ErrNoCopy = errors.New("the copy before the merge could not be written")

// ErrGiven tells damage of a file that was to be merged from damage of the store
// that it was to go into.
var ErrGiven = errors.New("the file given is damaged")

// Merger adds other stores and exchange files to a store, one after the other.
type Merger struct {
	s       *Store
	copy    bool
	path    string   // of the copy
	removed []string // older copies
}

// Merger begins a number of merges. With copyFirst, the store is copied into its
// backups folder just before the first of them that adds something, unless there
// is nothing in it: a merge can't be undone, but the copy can be put back.
func (s *Store) Merger(copyFirst bool) *Merger { return &Merger{s: s, copy: copyFirst} }

// Copied returns the path of the copy, "" when none was needed, and of the older
// ones that gave way to it.
func (m *Merger) Copied() (path string, removed []string) { return m.path, m.removed }

// keptBeforeMerge is how many of the copies before a merge stay.
const keptBeforeMerge = 3

// Bundle adds what an exchange file holds and this store does not: all of it, or
// nothing. The result does not depend on the order of merges or on how often they
// are repeated. A file that is cut short or altered is ErrInvalid.
func (m *Merger) Bundle(ctx context.Context, r io.Reader) (res MergeResult, err error) {
	s, asked, made := m.s, false, ""
	base := strings.TrimSuffix(filepath.Base(s.path), ".db") + ".before-merge."
	err = s.write(ctx, func(t *tx) (err error) {
		res, err = t.merge(r, func() error {
			if asked || !m.copy {
				return nil
			}
			asked = true
			if something, err := t.holdsSomething(); err != nil || !something {
				return err
			}
			// Nothing was written yet and nobody else can write, so the copy is
			// whole.
			clearLeft(s.opt.Backups, `\.`+regexp.QuoteMeta(base)+`\d{8}T\d{6}(-\d+)?\.db\.part-\d+`)
			made = freeName(filepath.Join(s.opt.Backups, base+t.now.UTC().Format(stamp)))
			if err := copyStore(ctx, s.path, made); err != nil {
				if ctx.Err() != nil {
					return ctx.Err()
				}
				err = explainCopy(made, err)
				why := err.Error()
				switch {
				case errors.Is(err, ErrFull):
					why = filepath.Dir(made) + ": the disk is full"
				case errors.Is(err, ErrReadOnly):
					why = filepath.Dir(made) + ": no permission to write here"
				case errors.Is(err, ErrDamaged):
					return fail(ErrDamaged, "%s: the store is damaged, so nothing was merged into it", s.path)
				}
				return &storeError{kind: ErrNoCopy, msg: fmt.Sprintf("%v, so nothing was merged (%s)", ErrNoCopy, why), cause: err}
			}
			return nil
		})
		return err
	})
	if err != nil {
		if made != "" {
			os.Remove(made) // nothing was changed that it could bring back
		}
		return MergeResult{}, err
	}
	if asked {
		m.copy, m.path = false, made // one copy brings all of the merges back
	}
	if made != "" {
		// It is no harm if an older one can't be removed.
		m.removed, _ = s.rotate(ctx, made, "^"+regexp.QuoteMeta(base)+`\d{8}T\d{6}(-\d+)?\.db$`, keptBeforeMerge)
	}
	return res, nil
}

// holdsSomething reports whether there is more than a new store begins with.
func (t *tx) holdsSomething() (bool, error) {
	return t.one("SELECT 1 WHERE EXISTS (SELECT 1 FROM entry WHERE kind <> 'change') OR EXISTS (SELECT 1 FROM change WHERE tick <> 0)", nil, new(int))
}

// seededAt is the time of the changes that every store begins with, and of names
// that a salvage must make up: whatever else was said of them is later.
const seededAt = "1970-01-01T00:00:00Z"

// Discard removes the file of a store that holds no more than a new one.
func (s *Store) Discard(ctx context.Context) error {
	return s.write(ctx, func(t *tx) error {
		something, err := t.holdsSomething()
		if err != nil || something {
			return err
		}
		return os.Remove(s.path)
	})
}

// MergeBundle is Merger.Bundle without a copy.
func (s *Store) MergeBundle(ctx context.Context, r io.Reader) (MergeResult, error) {
	return s.Merger(false).Bundle(ctx, r)
}

// lineReader reads lines and sums up the bytes.
type lineReader struct {
	r   *bufio.Reader
	sum hash.Hash
	n   int
	buf []byte
}

func (l *lineReader) next() ([]byte, error) {
	l.buf = l.buf[:0]
	for {
		part, err := l.r.ReadSlice('\n')
		l.buf = append(l.buf, part...)
		switch {
		case err == nil:
			l.n++
			return l.buf, nil
		case errors.Is(err, bufio.ErrBufferFull):
		case errors.Is(err, io.EOF) && len(l.buf) > 0:
			return nil, fail(ErrInvalid, "exchange file, line %d: the file is cut short; fetch it again", l.n+1)
		default:
			return nil, err
		}
	}
}

// errLine is a line of an exchange file that can't be right.
var errLine = errors.New("not as it was written")

// merge calls before ahead of everything it writes.
func (t *tx) merge(in io.Reader, before func() error) (MergeResult, error) {
	var res MergeResult
	l := &lineReader{r: bufio.NewReaderSize(in, 1<<16), sum: sha256.New()}
	bad := func(format string, args ...any) error {
		return &storeError{kind: ErrInvalid, msg: fmt.Sprintf("exchange file, line %d: %s", l.n, fmt.Sprintf(format, args...)), cause: errLine}
	}
	isNew := func(q, id string) (bool, error) {
		found, err := t.one(q, []any{id}, new(int))
		if err == nil && !found {
			err = before()
		}
		return !found, err
	}
	head, err := l.next()
	if errors.Is(err, io.EOF) {
		return res, fail(ErrInvalid, "the exchange file is empty")
	}
	if err != nil {
		return res, err
	}
	var h bundleHeader
	if json.Unmarshal(head, &h) != nil || !strings.HasPrefix(h.Schema, "firstcue.bundle/") {
		return res, bad("this is no exchange file of firstcue")
	}
	if h.Schema != BundleSchema && h.Schema != bundleSchema1 {
		return res, fail(ErrNewer, "the exchange file has the format %s, this firstcue knows %s; use the newer firstcue", h.Schema, BundleSchema)
	}
	res.Writer = h.Writer
	touched := map[kind]map[string]bool{}
	said := map[kind]map[string]*saidTwice{aHandler: {}, aPlace: {}, aDog: {}, aBoarding: {}, theGoals: {}, aSetting: {}}
	settled := false
	sessions, ids := map[string]*held{}, map[string]string{}
	for {
		b, err := l.next()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return res, err
		}
		l.sum.Write(b)
		line, ok, err := readLine(h.Schema, b, ids)
		if err != nil {
			return res, bad("%v; it may come from a newer firstcue", err)
		}
		if line.Change == nil && !settled {
			if err := t.settleAll(touched); err != nil {
				return res, err
			}
			settled = true
		}
		var fresh bool
		switch {
		case line.Change != nil:
			c := line.Change
			if settled {
				return res, bad("a change after the changes")
			}
			if fields(c.Kind) == nil {
				return res, fail(ErrNewer, "exchange file, line %d: %q is not known here; use the newer firstcue", l.n, c.Kind)
			}
			if !ok {
				return res, bad("the change is not what was written; the file was altered")
			}
			if of := said[c.Kind]; of != nil {
				if of[c.Entity] == nil {
					before, err := t.changesOf(c.Kind, c.Entity)
					if err != nil {
						return res, err
					}
					of[c.Entity] = &saidTwice{here: before}
				}
				of[c.Entity].there = append(of[c.Entity].there, *c)
			}
			if fresh, err = isNew("SELECT 1 FROM entry WHERE id = ? LIMIT 1", c.sealed()); err == nil && fresh {
				res.Changes++
				if touched[c.Kind] == nil {
					touched[c.Kind] = map[string]bool{}
				}
				touched[c.Kind][c.Entity] = true
				err = t.addChange(c)
			}
		case line.Source != nil:
			if !ok {
				return res, bad("the text is not what was written; the file was altered")
			}
			if fresh, err = isNew("SELECT 1 FROM entry WHERE kind = 'source' AND key = ? LIMIT 1", line.Source.Hash); err == nil && fresh {
				_, err = t.addSource(line.Source.text())
			}
		case line.Batch != nil:
			if fresh, err = isNew("SELECT 1 FROM batch WHERE id = ?", line.Batch.ID); err == nil && fresh {
				err = t.addBatch(line.Batch)
			}
		case line.Revision != nil:
			r := line.Revision
			if !ok {
				return res, bad("the session is not what was written; the file was altered")
			}
			if err := r.check(); err != nil {
				return res, bad("%v", err)
			}
			var first bool
			if fresh, first, err = t.mergeRevision(sessions, r, before); err == nil && fresh {
				res.Revisions++
				if first {
					res.Sessions++
				}
			}
		default:
			return res, fail(ErrNewer, "exchange file, line %d: a line of a kind not known here; use the newer firstcue", l.n)
		}
		if errors.Is(err, ErrNoCopy) || errors.Is(err, ErrDamaged) {
			return res, err // not of the line
		}
		if err != nil {
			return res, fmt.Errorf("exchange file, line %d: %w", l.n, err)
		}
		if !fresh {
			res.Known++
		}
	}
	if l.n-1 != h.Count || hex.EncodeToString(l.sum.Sum(nil)) != h.Checksum {
		return res, fail(ErrInvalid, "the exchange file has %d of %d lines or was altered; fetch it again", l.n-1, h.Count)
	}
	if !settled {
		if err := t.settleAll(touched); err != nil {
			return res, err
		}
	}
	for _, k := range []kind{aHandler, aPlace, aDog, aBoarding, theGoals, aSetting} {
		list, err := t.differences(k, said[k], touched[k])
		if err != nil {
			return res, err
		}
		res.Differ = append(res.Differ, list...)
	}
	return res, nil
}

// saidTwice is what two stores said of one entry before they were joined.
type saidTwice struct{ here, there []change }

// differences lists what the two stores said differently, of the entries of
// which the other brought something new.
func (t *tx) differences(k kind, said map[string]*saidTwice, touched map[string]bool) ([]Difference, error) {
	var out []Difference
	for id, x := range said {
		if !touched[id] || len(x.here) == 0 {
			continue
		}
		var of [3][]stated // here, there, kept
		var name string
		var bar struct{ dog, cue string }
		for i, changes := range [][]change{x.here, x.there, nil} {
			if i == 2 {
				all, err := t.changesOf(k, id)
				if err != nil {
					return nil, err
				}
				changes = all
			}
			f := fields(k)
			if err := decode(fold(changes), f); err != nil {
				return nil, err
			}
			of[i] = statedBy(f)
			switch f := f.(type) {
			case *boardingFields:
				dog, err := t.dogByID(f.Dog)
				if err != nil {
					continue // of a dog that is on no list
				}
				name = dog.Name
			case *goalsFields:
				dog, err := t.dogByID(id)
				if err != nil {
					continue
				}
				name = dog.Name
				words, err := t.goalsInWords(f)
				if err != nil {
					return nil, err
				}
				of[i] = []stated{{"goals", words}}
			case *settingFields:
				name = f.Name
				var err1, err2 error
				bar.dog, err1 = t.nameByID(aDog, f.Dog)
				bar.cue, err2 = t.nameByID(aCue, f.Cue)
				if err := cmp.Or(err1, err2); err != nil {
					return nil, err
				}
			default:
				name = namedOf(f).Name
			}
		}
		if of[0] == nil || of[1] == nil || of[2] == nil {
			continue // taken off the lists
		}
		for i, kept := range of[2] {
			here, there := of[0][i].value, of[1][i].value
			if here != "" && there != "" && kept.value != "" && here != there {
				out = append(out, Difference{List: listOf(k), Name: name, Dog: bar.dog, Cue: bar.cue, Field: kept.field, Here: here, There: there, Kept: kept.value})
			}
		}
	}
	slices.SortFunc(out, func(a, b Difference) int {
		return cmp.Or(byName(a.Name, b.Name), byName(a.Dog, b.Dog), byName(a.Cue, b.Cue), cmp.Compare(a.Field, b.Field))
	})
	return out, nil
}

// What Difference says of the ground of a place.
const (
	OnProperty  = "on property"
	OffProperty = "off property"
)

// Bars is the list of Difference for the criteria.
const Bars List = "bar"

func listOf(k kind) List {
	switch k {
	case aBoarding, theGoals:
		return Dogs
	case aSetting:
		return Bars
	}
	return List(k)
}

// goalsInWords is the goals as they were entered, or their fields where no words
// are kept, joined by semicolons; "none" for an empty list.
func (t *tx) goalsInWords(f *goalsFields) (string, error) {
	all := []string{}
	for _, g := range f.Goals {
		cue, err1 := t.nameByID(aCue, g.Cue)
		place, err2 := t.nameByID(aPlace, g.Place.ID)
		handler, err3 := t.nameByID(aHandler, g.Handler.ID)
		if err := cmp.Or(err1, err2, err3); err != nil {
			return "", err
		}
		parts := []string{cue, cmp.Or(place, g.Place.Name), cmp.Or(handler, g.Handler.Name)}
		if g.Distraction.Known {
			parts = append(parts, fmt.Sprintf("distraction %v", g.Distraction.V))
		}
		if g.Bar.Known {
			parts = append(parts, fmt.Sprintf("%v%%", math.Round(g.Bar.V*1e6)/1e4))
		}
		parts = slices.DeleteFunc(parts, func(s string) bool { return s == "" })
		all = append(all, cmp.Or(g.Words, strings.Join(parts, ", ")))
	}
	return cmp.Or(strings.Join(all, "; "), "none"), nil
}

// stated is a field in words, "" where nothing was said.
type stated struct{ field, value string }

// statedBy lists the fields of which a difference is told, the same for every
// entry of a kind; nil of one that is gone.
func statedBy(f any) []stated {
	date := func(d training.Day) string {
		if d == 0 {
			return ""
		}
		return d.String()
	}
	switch f := f.(type) {
	case *handlerFields:
		if !f.Gone {
			return []stated{{"", string(f.Role)}}
		}
	case *placeFields:
		if !f.Gone {
			return []stated{{"", map[bool]string{true: OffProperty, false: OnProperty}[f.OffProperty]}}
		}
	case *dogFields:
		if !f.Gone {
			return []stated{{"name", f.Name}, {"born", date(f.Born)}, {"consent", f.Consent}}
		}
	case *settingFields:
		if !f.Gone && f.Value.Known {
			return []stated{{"", strconv.FormatFloat(f.Value.V, 'g', -1, 64)}}
		}
	case *boardingFields:
		if !f.Gone {
			return []stated{{"arrival", date(f.Arrived)}, {"due day", date(f.Due)}, {"day home", date(f.Home)}, {"wishes", f.Wishes}}
		}
	}
	return nil
}

// readLine reads a line of an exchange file; ok is false where it was altered. ids
// are those that revisions of version 1 have by now.
func readLine(schema string, b []byte, ids map[string]string) (d document, ok bool, err error) {
	dec := json.NewDecoder(bytes.NewReader(b))
	dec.DisallowUnknownFields()
	if schema == bundleSchema1 {
		var l bundleLine1
		if err := dec.Decode(&l); err != nil {
			return d, false, err
		}
		d, ok = l.document(ids)
		return d, ok, nil
	}
	var l bundleLine
	if err := dec.Decode(&l); err != nil {
		return d, false, err
	}
	return l.read()
}

func (t *tx) settleAll(touched map[kind]map[string]bool) error {
	order := append(slices.Clone(namedKinds), aBoarding, aHold, theGoals, theWords, aSetting, incident, closing, mapping)
	for _, k := range order {
		var list []string
		for e := range touched[k] {
			list = append(list, e)
		}
		if len(list) == 0 {
			continue
		}
		slices.Sort(list)
		if err := t.settle(k, list); err != nil {
			return err
		}
	}
	return nil
}

// mergeRevision adds the revision unless it is here. It calls before ahead of what
// it writes.
func (t *tx) mergeRevision(sessions map[string]*held, r *revision, before func() error) (fresh, isNew bool, err error) {
	h := sessions[r.Session]
	if h == nil {
		list, err := t.heldWhere("s.id = ?", r.Session)
		if err != nil {
			return false, false, err
		}
		h = &held{}
		if len(list) == 1 {
			h = list[0]
		}
		sessions[r.Session] = h
	}
	isNew = h.n == 0
	if !isNew {
		if fresh, err = t.freshRevision(h.n, r); err != nil || !fresh {
			return false, false, err
		}
	}
	if err := before(); err != nil {
		return false, false, err
	}
	return true, isNew, t.addRevision(h, r)
}

func (t *tx) freshRevision(session int64, r *revision) (bool, error) {
	found, err := t.one("SELECT 1 FROM revision WHERE session = ? AND number = ? AND id = ?", []any{session, r.Number, r.ID}, new(int))
	return !found, err
}

// MergeFile is Merger.File without a copy.
func (s *Store) MergeFile(ctx context.Context, path string) (MergeResult, error) {
	return s.Merger(false).File(ctx, path)
}

// File adds what another store's file holds, all of it or nothing. The other file
// is read from a copy and not changed, whatever its version. One that is damaged
// is ErrDamaged and ErrGiven.
func (m *Merger) File(ctx context.Context, path string) (MergeResult, error) {
	s := m.s
	abs, err := filepath.Abs(path)
	if err != nil {
		return MergeResult{}, err
	}
	if a, err := os.Stat(abs); err == nil {
		if b, err := os.Stat(s.path); err == nil && os.SameFile(a, b) {
			return MergeResult{}, fail(ErrInvalid, "%s: a store can't be merged with itself", abs)
		}
	}
	other := &Store{path: abs, opt: Options{ReadOnly: true, steps: s.opt.steps}}
	if err := other.preflight(); err != nil {
		if errors.Is(err, ErrNotStore) {
			return MergeResult{}, fail(ErrNotStore, "%s: this is not a firstcue store; nothing of it was merged", abs)
		}
		return MergeResult{}, explain(abs, err)
	}
	hurt := &storeError{kind: ErrDamaged, msg: fmt.Sprintf("%s: this file is damaged; nothing of it was merged", abs), cause: ErrGiven}
	dir, err := os.MkdirTemp("", "firstcue-merge-*")
	if err != nil {
		return MergeResult{}, err
	}
	defer os.RemoveAll(dir)
	copied := filepath.Join(dir, "other.db")
	if err := copyStore(ctx, abs, copied); err != nil {
		switch {
		case ctx.Err() != nil:
			return MergeResult{}, ctx.Err()
		case wrecked(err):
			return MergeResult{}, hurt
		}
		return MergeResult{}, explain(copied, err)
	}
	from, err := Open(ctx, copied, Options{Now: s.opt.Now, steps: s.opt.steps})
	if wrecked(err) {
		return MergeResult{}, hurt
	}
	if err != nil {
		return MergeResult{}, fmt.Errorf("%s: %w", abs, err)
	}
	defer from.Close()
	r, w := io.Pipe()
	wrote := make(chan error, 1)
	go func() {
		err := from.WriteBundle(ctx, w)
		w.CloseWithError(err)
		wrote <- err
	}()
	res, err := m.Bundle(ctx, r)
	r.CloseWithError(errors.New("the merge stopped")) // ends the writer
	if end := <-wrote; err != nil && (errors.Is(end, ErrDamaged) || errors.Is(err, errLine)) {
		err = hurt // an exchange file made here has no other fault
	}
	return res, err
}

// Conflict is a session of which two forms were written without sight of each
// other, or two sessions that are one.
type Conflict struct {
	Heads []Revision // the forms; the one in force has Shown set
	Twins []training.Session
}

// Conflicts lists what merging left for somebody to settle, by Settle, Amend or
// Void. Both sides are kept until then, and after.
func (s *Store) Conflicts(ctx context.Context) ([]Conflict, error) {
	var out []Conflict
	err := s.read(ctx, func(t *tx) error {
		var err error
		if out, err = t.conflicts(0); err != nil {
			return err
		}
		twins, err := t.heldWhere(`s.standing = 1 AND EXISTS (SELECT 1 FROM session o JOIN name x ON x.n = o.dog
			WHERE o.start_ms = s.start_ms AND o.n <> s.n AND o.standing = 1 AND o.dog IN (SELECT y.n FROM name y WHERE y.shown = (SELECT shown FROM name WHERE n = s.dog)))`)
		if err != nil {
			return err
		}
		type key struct {
			sessionKey
			part int
		}
		groups := map[key][]training.Session{}
		var order []key
		for _, h := range twins {
			k := key{sessionKey{h.dog, h.startMS, scorerOf(h.scorer, h.handler)}, h.part}
			v, err := t.read(h)
			if err != nil {
				return err
			}
			if groups[k] == nil {
				order = append(order, k)
			}
			groups[k] = append(groups[k], v)
		}
		for _, k := range order {
			if len(groups[k]) > 1 {
				out = append(out, Conflict{Twins: groups[k]})
			}
		}
		return nil
	})
	return out, err
}

// conflicts lists the sessions of a dog (0 = of all) that have two forms.
func (t *tx) conflicts(dog int64) ([]Conflict, error) {
	several, args := "r.session IN (SELECT session FROM revision GROUP BY session HAVING count(*) > 1)", []any{}
	if dog != 0 {
		several, args = `r.session IN (SELECT x.session FROM session s CROSS JOIN revision x ON x.session = s.n
			WHERE s.dog IN (SELECT n FROM name WHERE shown = ?) GROUP BY x.session HAVING count(*) > 1)`, []any{dog}
	}
	return t.conflictsWhere(several, args...)
}

// Forms returns the forms of a session between which somebody must choose; none
// when there is nothing to settle.
func (s *Store) Forms(ctx context.Context, idOrSuffix string) ([]Revision, error) {
	var out []Revision
	err := s.read(ctx, func(t *tx) error {
		h, err := t.locate(idOrSuffix)
		if err != nil {
			return err
		}
		list, err := t.conflictsWhere("r.session = ?", h.n)
		for _, c := range list {
			out = append(out, c.Heads...)
		}
		return err
	})
	return out, err
}

// conflictsWhere looks at the sessions whose revisions r fit.
func (t *tx) conflictsWhere(where string, args ...any) ([]Conflict, error) {
	heads, err := t.headsWhere(where, args...)
	if err != nil {
		return nil, err
	}
	var numbers []int64
	for n, list := range heads {
		first := list[0]
		if slices.ContainsFunc(list, func(x head) bool { return x.content != first.content || x.voided != first.voided }) {
			numbers = append(numbers, n)
		}
	}
	var out []Conflict
	slices.Sort(numbers)
	for _, n := range numbers {
		list, err := t.heldWhere("s.n = ?", n)
		if err != nil {
			return nil, err
		}
		if len(list) != 1 {
			return nil, errTorn
		}
		all, err := t.history(list[0])
		if err != nil {
			return nil, err
		}
		var c Conflict
		for _, r := range all {
			if !slices.ContainsFunc(heads[n], func(x head) bool { return x.id == r.ID }) {
				continue
			}
			// Those who said the same are of one mind; the one in force speaks
			// for them.
			i := slices.IndexFunc(c.Heads, func(o Revision) bool { return o.Voided == r.Voided && same(o.Session, r.Session) })
			switch {
			case i < 0:
				c.Heads = append(c.Heads, r)
			case r.Shown:
				c.Heads[i] = r
			}
		}
		if len(c.Heads) > 1 {
			out = append(out, c)
		}
	}
	// By start and id: the number of a session is that of this file alone.
	slices.SortFunc(out, func(a, b Conflict) int {
		x, y := a.Heads[0].Session, b.Heads[0].Session
		return cmp.Or(x.Start.Compare(y.Start), cmp.Compare(x.ID, y.ID))
	})
	return out, nil
}

// unsettled returns the ids of the dog's sessions that have two forms.
func (t *tx) unsettled(dog int64) ([]string, error) {
	list, err := t.conflicts(dog)
	var ids []string
	for _, c := range list {
		ids = append(ids, c.Heads[0].Session.ID)
	}
	return ids, err
}

// Settle puts one form of a session in force, by the id of its revision or the
// last characters of it, at least four, and ends the conflict. Any form of the
// history will do.
func (s *Store) Settle(ctx context.Context, idOrSuffix, revisionID, why string) (training.Session, error) {
	var out training.Session
	err := s.write(ctx, func(t *tx) error {
		h, err := t.locate(idOrSuffix)
		if err != nil {
			return err
		}
		if len(revisionID) < 4 {
			return fail(ErrInvalid, "%q is too short for a form of a session; firstcue session history %s names them", revisionID, Short(h.id))
		}
		list, err := t.sessions("FROM revision r JOIN session s ON s.n = r.session WHERE r.session = ? AND substr(r.id, -length(?2)) = lower(?2)", h.n, revisionID)
		if err != nil {
			return err
		}
		if len(list) == 0 {
			return fail(ErrNotFound, "session %s has no form %s; firstcue session history %s names them", Short(h.id), revisionID, Short(h.id))
		}
		if len(list) > 1 {
			return fail(ErrAmbiguous, "%d forms of session %s end in %s; give more of the id", len(list), Short(h.id), revisionID)
		}
		r, err := t.revisionOf(&list[0])
		if err != nil {
			return err
		}
		b := t.newBatch("amend", "")
		r.Session, r.Batch, r.Why = h.id, b.ID, cmp.Or(why, "settled")
		if err := t.reviseIn(h, r, true); err != nil {
			return err
		}
		if err := t.addBatch(b); err != nil {
			return err
		}
		out, err = t.read(h)
		return err
	})
	return out, err
}
