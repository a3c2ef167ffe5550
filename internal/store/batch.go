package store

import (
	"context"
	"errors"
	"fmt"
	"iter"
	"math"
	"time"

	"firstcue/internal/training"
)

// Batch is one log, import, amendment, withdrawal or undo.
type Batch struct {
	ID       string
	Kind     string // log, import, amend, void, unvoid, undo
	At       time.Time
	Writer   string
	Name     string // of the file
	Source   string // SHA-256 of its text, hexadecimal; "" = none kept
	Mapping  string // import: how columns were read
	Sessions int
	Undoes   string // undo: the batch that was taken back
	Undone   bool
	Here     bool // made in this file, not merged into it
}

const batchColumns = `b.id, b.kind, b.at, b.writer, b.name, CASE WHEN EXISTS (SELECT 1 FROM entry e WHERE e.kind = 'source' AND e.key = b.source) THEN b.source ELSE '' END, b.mapping, b.undoes, b.writer = (SELECT writer FROM store),
	(SELECT count(DISTINCT session) FROM revision r WHERE r.batch = b.id), EXISTS (SELECT 1 FROM batch u WHERE u.undoes = b.id)`

func scanBatch(scan func(...any) error) (Batch, error) {
	var b Batch
	var at string
	err := scan(&b.ID, &b.Kind, &at, &b.Writer, &b.Name, &b.Source, &b.Mapping, &b.Undoes, &b.Here, &b.Sessions, &b.Undone)
	if err == nil {
		b.At, err = parseClock(at)
	}
	return b, err
}

// Batches returns the latest batches, newest first in the order in which they
// came into this file; limit 0 is all.
func (s *Store) Batches(ctx context.Context, limit int) ([]Batch, error) {
	if limit <= 0 {
		limit = -1
	}
	var out []Batch
	err := s.read(ctx, func(t *tx) error {
		return t.each(func(scan func(...any) error) error {
			b, err := scanBatch(scan)
			out = append(out, b)
			return err
		}, "SELECT "+batchColumns+" FROM batch b ORDER BY n DESC LIMIT ?", limit)
	})
	return out, err
}

// Source returns the text of a note or file as it was logged, by its SHA-256 in
// hexadecimal.
func (s *Store) Source(ctx context.Context, hash string) ([]byte, error) {
	var text []byte
	err := s.read(ctx, func(t *tx) error {
		var found bool
		var err error
		if text, found, err = t.source(hash); err == nil && !found {
			err = fail(ErrNotFound, "no text with the hash %s is kept", hash)
		}
		return err
	})
	return text, err
}

// UndoResult says what an undo does, or did.
type UndoResult struct {
	Batch    Batch    // the batch that is taken back
	Sessions []Logged // What is Voided, or Amended for one put back to its earlier form
	Left     []Logged // changed since by somebody else, and so left as they are
	Removed  []string // names that came with the batch and nothing else uses
	Passed   []Batch  // later batches of which nothing is left to take back
	Later    []Event  // changes of the lists made here since, newest first: undo does not touch them
}

var errPreview = errors.New("preview")

// UndoPreview says what Undo would do, and changes nothing.
func (s *Store) UndoPreview(ctx context.Context) (UndoResult, error) {
	var res UndoResult
	err := s.write(ctx, func(t *tx) (err error) {
		if res, err = t.undo(); err == nil {
			err = errPreview // what was done is rolled back
		}
		return err
	})
	if errors.Is(err, errPreview) {
		err = nil
	}
	return res, err
}

// Undo takes back the last batch made in this file of which anything still
// stands: sessions
// it stored are voided with ReasonUndone, sessions it changed get their earlier
// form, and names that came with it and are used nowhere else leave the lists.
// Used again, it takes back the one before. The history keeps everything.
func (s *Store) Undo(ctx context.Context) (UndoResult, error) {
	var res UndoResult
	err := s.write(ctx, func(t *tx) (err error) { res, err = t.undo(); return })
	return res, err
}

// undo takes back the last batch of which anything is left. One whose sessions
// were all changed since, here or by a merge, is passed over and named.
func (t *tx) undo() (UndoResult, error) {
	var passed []Batch
	before := int64(math.MaxInt64)
	for {
		res, n, err := t.undoBefore(before)
		if errors.Is(err, ErrNotFound) && len(passed) > 0 {
			return res, fail(ErrNotFound, "there is nothing left to undo: what was done last was changed since; firstcue session history ID shows what changed, firstcue session amend ID corrects it")
		}
		if err != nil || len(res.Sessions)+len(res.Removed) > 0 {
			res.Passed = passed
			return res, err
		}
		passed, before = append(passed, res.Batch), n
	}
}

// undoBefore takes back the last batch that came before the number before, and
// returns its number too. Nothing is written when nothing of it is left.
func (t *tx) undoBefore(before int64) (res UndoResult, n int64, err error) {
	if _, err := t.one("SELECT coalesce(max(n), 0) FROM batch b WHERE n < ? AND b.writer = (SELECT writer FROM store) AND b.kind <> 'undo' AND NOT EXISTS (SELECT 1 FROM batch u WHERE u.undoes = b.id)", []any{before}, &n); err != nil {
		return res, n, err
	}
	res, err = t.undoBatch(n)
	return res, n, err
}

// undoBatch takes back batch n; there is none with the number 0.
func (t *tx) undoBatch(n int64) (UndoResult, error) {
	var res UndoResult
	found := false
	err := t.each(func(scan func(...any) error) (err error) {
		found = true
		res.Batch, err = scanBatch(scan)
		return err
	}, "SELECT "+batchColumns+" FROM batch b WHERE n = ?", n)
	if err != nil {
		return res, err
	}
	if !found {
		return res, fail(ErrNotFound, "there is nothing to undo")
	}
	if err := t.each(func(scan func(...any) error) error {
		var id string
		var body []byte
		if err := scan(&id, &body); err != nil {
			return err
		}
		e, err := changeEvent(id, body)
		res.Later = append(res.Later, e)
		return err
	}, "SELECT e.id, e.body FROM change c JOIN entry e ON e.seq = c.n WHERE c.batch = '' AND c.writer = ? AND c.tick > ? ORDER BY c.tick DESC, c.id DESC", t.writer, res.Batch.At.UnixMilli()); err != nil {
		return res, err
	}
	b := t.newBatch("undo", res.Batch.Name)
	b.Undoes = res.Batch.ID
	t.batch = b.ID
	why := ReasonUndone
	touched, err := t.heldWhere("s.n IN (SELECT session FROM revision WHERE batch = ?)", res.Batch.ID)
	if err != nil {
		return res, err
	}
	for _, h := range touched {
		was, err := t.read(h)
		if err != nil {
			return res, err
		}
		// A revision counts here unless it was undone, or undid another.
		const live = "NOT EXISTS (SELECT 1 FROM batch b WHERE b.id = r.batch AND b.kind = 'undo') AND NOT EXISTS (SELECT 1 FROM batch u WHERE u.undoes = r.batch)"
		var mine, later int
		if _, err := t.one("SELECT min(number) FROM revision WHERE session = ? AND batch = ?", []any{h.n, res.Batch.ID}, &mine); err != nil {
			return res, err
		}
		if _, err := t.one("SELECT count(*) FROM revision r WHERE session = ? AND batch <> ? AND number >= ? AND "+live, []any{h.n, res.Batch.ID, mine}, &later); err != nil {
			return res, err
		}
		if later > 0 {
			res.Left = append(res.Left, Logged{Session: was, What: AlreadyStored})
			continue
		}
		before, err := t.sessions(`FROM revision r JOIN session s ON s.n = r.session WHERE r.n = (SELECT n FROM revision r
			WHERE session = ? AND number < ? AND `+live+` ORDER BY number DESC, at_ms DESC, writer DESC, id DESC LIMIT 1)`, h.n, mine)
		if err != nil {
			return res, err
		}
		out := Logged{What: Amended, Previous: &was}
		if len(before) == 0 {
			out.What = Voided
			out.Session, err = t.voidSession(h, was, ReasonUndone, b.ID)
		} else {
			var r *revision
			if r, err = t.revisionOf(&before[0]); err == nil {
				r.Session, r.Why, r.Batch = h.id, why, b.ID
				if r.Voided != "" {
					out.What = Voided
				}
				if err = t.revise(h, r); err == nil {
					out.Session, err = t.read(h)
				}
			}
		}
		if err != nil {
			return res, err
		}
		res.Sessions = append(res.Sessions, out)
	}
	if err := t.undoNames(&res); err != nil || len(res.Sessions)+len(res.Removed) == 0 {
		return res, err
	}
	return res, t.addBatch(b)
}

// undoNames takes entries off the lists that came with the batch and that
// nothing else names. Dogs go first: they name the others.
func (t *tx) undoNames(res *UndoResult) error {
	type made struct {
		k  kind
		id string
	}
	var list []made
	err := t.each(func(scan func(...any) error) error {
		var m made
		err := scan(&m.k, &m.id)
		list = append(list, m)
		return err
	}, `SELECT DISTINCT c.kind, c.entity FROM change c WHERE c.batch = ? AND c.kind IN ('dog','handler','place','device','cue')
		AND NOT EXISTS (SELECT 1 FROM change o WHERE o.kind = c.kind AND o.entity = c.entity AND o.batch <> c.batch)
		ORDER BY c.kind <> 'dog', c.kind, c.entity`, res.Batch.ID)
	if err != nil {
		return err
	}
	for _, m := range list {
		var e entryRow
		found, err := t.one("SELECT n, id, name FROM name WHERE kind = ? AND id = ? AND shown = n AND gone = 0", []any{m.k, m.id}, &e.n, &e.id, &e.name)
		if err != nil {
			return err
		}
		if !found {
			continue
		}
		p, err := t.uses(m.k, e.n)
		if err != nil {
			return err
		}
		if p.Sessions+p.Dogs+p.Incidents > 0 {
			continue
		}
		if err := t.remove(m.k, e); err != nil {
			return err
		}
		res.Removed = append(res.Removed, fmt.Sprintf("%s %s", m.k, e.name))
	}
	return nil
}

// BulkOptions describes an import.
type BulkOptions struct {
	Name     string // of the file
	Text     []byte // the file itself, if it is to be kept
	Mapping  string // how columns were read
	New      LogRequest
	Progress func(sessions, trials int) // called after each portion; may be nil
}

// BulkResult counts what an import did with the sessions.
type BulkResult struct {
	Batch                                       string // "" = nothing was stored
	Stored, AlreadyStored, Amended, SecondScore int
	Trials                                      int // in sessions newly stored or amended
}

// A portion of an import is stored in one transaction of about this many
// trials: others wait for less than half a second, and memory stays flat.
const portion = 20_000

// BulkAdd stores many sessions, as LogNote would but without voiding parts that
// are missing, portion by portion. An error stops it: portions before it are
// stored, and repeating the import adds the rest. Undo takes all of it back.
func (s *Store) BulkAdd(ctx context.Context, sessions iter.Seq2[training.Session, error], o BulkOptions) (BulkResult, error) {
	var res BulkResult
	next, stop := iter.Pull2(sessions)
	defer stop()
	b := &batch{}
	last, seen := time.Now(), 0
	for more := true; more; {
		// Read first, then take the lock: the source may be slow.
		var list []training.Session
		for trials := 0; trials < portion; {
			v, err, ok := next()
			if more = ok; !ok {
				break
			}
			if err != nil {
				return res, err
			}
			list = append(list, v)
			trials += len(v.Trials) + 1
		}
		part := res
		err := s.write(ctx, func(t *tx) error {
			return t.addPortion(list, b, &part, o)
		})
		if err != nil {
			return res, err
		}
		res, seen = part, seen+len(list)
		if o.Progress != nil {
			o.Progress(seen, res.Trials)
		}
		// Others look every few milliseconds: let one in now and then.
		if more && time.Since(last) > 500*time.Millisecond {
			time.Sleep(20 * time.Millisecond)
			last = time.Now()
		}
	}
	return res, nil
}

func (t *tx) addPortion(list []training.Session, b *batch, res *BulkResult, o BulkOptions) error {
	changes := 0
	if b.ID == "" {
		*b = *t.newBatch("import", o.Name)
		b.Mapping = o.Mapping
		t.batch = b.ID
		var err error
		if changes, err = t.addNew(o.New); err != nil {
			return err
		}
	}
	for i := range list {
		got, err := t.logSession(&list[i], b.ID, true, "")
		if err != nil {
			return err
		}
		switch got.What {
		case Stored:
			res.Stored++
		case AlreadyStored:
			res.AlreadyStored++
		case Amended:
			res.Amended++
		case SecondScoring:
			res.SecondScore++
		}
		if got.What != AlreadyStored {
			res.Trials += len(list[i].Trials)
		}
	}
	if res.Batch != "" || changes == 0 && res.Stored+res.Amended+res.SecondScore == 0 {
		return nil
	}
	var err error
	if b.Source, err = t.addSource(o.Text); err != nil {
		return err
	}
	res.Batch = b.ID
	return t.addBatch(b)
}
