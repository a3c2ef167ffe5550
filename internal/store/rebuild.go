package store

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
)

// workedOut are the tables that are made from the documents, in an order in which
// they can be emptied.
var workedOut = []string{"noted", "session", "revision", "batch", "change", "hold_cue", "hold", "boarding", "goal", "cue_word", "setting", "incident", "closing",
	"mapping", "alias", "dog_owner", "dog", "handler", "place", "device", "cue", "name"}

// ownTables are all others, ownTriggers what this program put into the file.
var (
	ownTables   = []string{"store", "feed", "entry", "draft"}
	ownTriggers = []string{"entry_stays", "entry_kept", "feed_kept"}
)

// Rebuild works all tables but the log itself out anew from its documents. One
// that does not match its hash is ErrDamaged, and nothing was changed.
func (s *Store) Rebuild(ctx context.Context) error {
	return s.write(ctx, (*tx).rebuild)
}

func (t *tx) rebuild() error {
	if err := t.exec("PRAGMA defer_foreign_keys = 1"); err != nil {
		return err
	}
	for _, table := range workedOut {
		if err := t.exec("DELETE FROM " + table); err != nil {
			return err
		}
	}
	clear(t.names)
	t.lists, t.byDog = nil, nil
	defer func() { t.standsAt = 0 }()
	touched := map[kind]map[string]bool{}
	if err := t.documents("change", func(d document) error {
		c := d.Change
		if touched[c.Kind] == nil {
			touched[c.Kind] = map[string]bool{}
		}
		if !touched[c.Kind][c.Entity] && slices.Contains(namedKinds, c.Kind) {
			// Names get their numbers in the order in which they came.
			if err := t.exec(`INSERT INTO name (kind, id, name, key, shown) VALUES (?1, ?2, '-', '', coalesce((SELECT max(n) FROM name), 0) + 1)`, c.Kind, c.Entity); err != nil {
				return err
			}
		}
		touched[c.Kind][c.Entity] = true
		return t.addChange(c)
	}); err != nil {
		return err
	}
	if err := t.settleAll(touched); err != nil {
		return err
	}
	if err := t.documents("batch", func(d document) error { return t.addBatch(d.Batch) }); err != nil {
		return err
	}
	t.nextSession = 1
	sessions := map[string]*held{}
	return t.documents("session", func(d document) error {
		h := sessions[d.Revision.Session]
		if h == nil {
			h = &held{}
			sessions[d.Revision.Session] = h
		}
		return t.addRevision(h, d.Revision)
	})
}

// documents reads those of a kind in the order of the log, some at a time, so that
// use may write.
func (t *tx) documents(kind string, use func(document) error) error {
	if err := t.count(); err != nil {
		return err
	}
	type row struct {
		seq int64
		bundleLine
	}
	for after := int64(0); ; {
		var list []row
		if err := t.each(func(scan func(...any) error) error {
			r := row{bundleLine: bundleLine{Kind: kind}}
			var body []byte
			err := scan(&r.seq, &r.ID, &body)
			r.Doc = body
			list = append(list, r)
			return err
		}, "SELECT seq, id, body FROM entry WHERE kind = ? AND seq > ? ORDER BY seq LIMIT 500", kind, after); err != nil {
			return err
		}
		if len(list) == 0 {
			return nil
		}
		for _, r := range list {
			d, ok, err := r.read()
			if !ok || err != nil {
				return errAltered
			}
			t.standsAt, after = r.seq, r.seq
			if err := use(d); err != nil {
				return err
			}
		}
	}
}

// stale names the tables of a store that do not say what its documents say. They
// are worked out anew in a copy.
func (s *Store) stale(ctx context.Context) ([]string, error) {
	dir, err := os.MkdirTemp("", "firstcue-check-*")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	path := filepath.Join(dir, "again.db")
	// SQLite takes the writing of the copy for a change of the store.
	if _, err := s.conn.ExecContext(ctx, "PRAGMA query_only = 0"); err != nil {
		return nil, err
	}
	err = vacuumInto(ctx, s.conn, path)
	if _, end := s.conn.ExecContext(ctx, "PRAGMA query_only = 1"); err == nil {
		err = end
	}
	if err != nil {
		return nil, err
	}
	again := &Store{path: path, opt: s.opt, patience: s.patience}
	again.opt.ReadOnly = false
	openHere(path, 1)
	defer again.Close()
	if err := again.connect(ctx, "rw"); err != nil {
		return nil, err
	}
	if err := again.conn.QueryRowContext(ctx, "SELECT writer FROM store").Scan(&again.writer); err != nil {
		return nil, err
	}
	if err := again.Rebuild(ctx); err != nil {
		return nil, err
	}
	var out []string
	here, there := s.newTx(ctx), again.newTx(ctx)
	for _, table := range workedOut {
		a, err := here.says(table)
		if err != nil {
			return nil, err
		}
		b, err := there.says(table)
		if err != nil {
			return nil, err
		}
		if a != b {
			out = append(out, table)
		}
	}
	return out, nil
}

// says is a hash of the rows of a table in a fixed order, with ids where a row
// refers to another by a number that was only given here.
func (t *tx) says(table string) (string, error) {
	refers := map[string]string{}
	if err := t.each(func(scan func(...any) error) error {
		var column, to string
		err := scan(&column, &to)
		refers[column] = to
		return err
	}, `SELECT "from", "table" FROM pragma_foreign_key_list(?)`, table); err != nil {
		return "", err
	}
	var columns []string
	if err := t.each(func(scan func(...any) error) error {
		var c string
		if err := scan(&c); err != nil {
			return err
		}
		quoted := `x."` + c + `"`
		switch {
		case refers[c] == "name":
			quoted = "(SELECT kind || ' ' || id FROM name WHERE n = " + quoted + ")"
		case refers[c] == "session":
			quoted = "(SELECT id FROM session WHERE n = " + quoted + ")"
		case c == "n" && (table == "name" || table == "session"):
			return nil
		}
		columns = append(columns, quoted)
		return nil
	}, "SELECT name FROM pragma_table_info(?)", table); err != nil {
		return "", err
	}
	order := make([]string, len(columns))
	for i := range columns {
		order[i] = fmt.Sprint(i + 1)
	}
	sum := sha256.New()
	values := make([]any, len(columns))
	into := make([]any, len(columns))
	for i := range values {
		into[i] = &values[i]
	}
	err := t.each(func(scan func(...any) error) error {
		err := scan(into...)
		fmt.Fprintf(sum, "%q\n", values)
		return err
	}, "SELECT "+strings.Join(columns, ", ")+" FROM "+table+" x ORDER BY "+strings.Join(order, ", "))
	return hex.EncodeToString(sum.Sum(nil)), err
}

// foreign names what somebody else put into the file: "trigger x", "view y". Such
// a thing can change what every command reads and writes.
func (t *tx) foreign(tables bool) ([]string, error) {
	var out []string
	err := t.each(func(scan func(...any) error) error {
		var what, name string
		if err := scan(&what, &name); err != nil {
			return err
		}
		ours := what == "trigger" && slices.Contains(ownTriggers, name) ||
			what == "table" && (!tables || slices.Contains(ownTables, name) || slices.Contains(workedOut, name))
		if !ours {
			out = append(out, what+" "+name)
		}
		return nil
	}, "SELECT type, name FROM sqlite_schema WHERE type IN ('trigger', 'view', 'table') AND name NOT LIKE 'sqlite_%' ORDER BY type, name")
	return out, err
}
