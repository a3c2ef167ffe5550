package store

import (
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"syscall"
	"time"

	"modernc.org/sqlite"
)

// vacuumInto writes a whole copy of the database to dst, checks it and only then
// gives it its name. dst must not exist.
func vacuumInto(ctx context.Context, db interface {
	ExecContext(context.Context, string, ...any) (sql.Result, error)
}, dst string) (err error) {
	tmp, err := tempName(dst)
	if err != nil {
		return err
	}
	defer os.Remove(tmp)
	if _, err := db.ExecContext(ctx, "VACUUM INTO ?", tmp); err != nil {
		return err
	}
	if err := integrity(ctx, tmp); err != nil {
		return err
	}
	return giveName(tmp, dst)
}

// giveName gives a whole copy its name, once it is on the disk.
func giveName(tmp, dst string) error {
	if err := syncFile(tmp); err != nil {
		return err
	}
	if _, err := os.Lstat(dst); err == nil {
		return fail(ErrExists, "%s: there is a file of this name already", dst)
	}
	if err := os.Rename(tmp, dst); err != nil {
		return err
	}
	return syncDir(filepath.Dir(dst))
}

// wrecked reports whether a database could not be copied because of what is in it.
func wrecked(err error) bool {
	e := new(sqlite.Error)
	return errors.Is(err, ErrDamaged) || errors.As(err, &e) && slices.Contains([]int{codeCorrupt, codeRefused, codeNotADB}, e.Code()&0xff)
}

// copyAsItIs copies the bytes of a file that SQLite can't read, so that what is
// whole can still be saved when its disk fails. A reader's lock keeps writers off;
// closing the file at the end takes that lock away.
func copyAsItIs(ctx context.Context, db *sql.DB, from, to string) error {
	conn, err := db.Conn(ctx)
	if err != nil {
		return err
	}
	defer conn.Close()
	if _, err := conn.ExecContext(ctx, "BEGIN"); err != nil {
		return err
	}
	defer conn.ExecContext(context.WithoutCancel(ctx), "ROLLBACK")
	var n int
	conn.QueryRowContext(ctx, "SELECT count(*) FROM sqlite_schema").Scan(&n) // takes the lock, whatever it can read
	if err := os.Remove(to); err != nil {
		return err
	}
	return fillUp(from, to, 0)
}

// copyChecked is vacuumInto for the open store, with all that Check looks at. A
// copy that is not sound is better than none: it gets a name that says so, and the
// error is ErrDamaged. An error with no name means that there is no copy.
func (s *Store) copyChecked(ctx context.Context, dst string) (name string, err error) {
	db, err := openFile(s.path, "rw") // the file is open here: whether it may be written was found out
	if err != nil {
		return "", err
	}
	defer db.Close()
	tmp, err := tempName(dst)
	if err != nil {
		return "", explainCopy(dst, err)
	}
	defer os.Remove(tmp)
	if _, err := db.ExecContext(ctx, "VACUUM INTO ?", tmp); err != nil {
		if ctx.Err() != nil {
			return "", ctx.Err()
		}
		if !wrecked(err) {
			return "", explainCopy(dst, err)
		}
		if err := copyAsItIs(ctx, db, s.path, tmp); err != nil {
			return "", &storeError{kind: ErrDamaged, msg: fmt.Sprintf("%s: the store is damaged, and no copy of it can be made (%v)", s.path, explainCopy(dst, err)), cause: err}
		}
	}
	h, err := Check(ctx, tmp)
	if ctx.Err() != nil {
		return "", ctx.Err()
	}
	bad := err != nil || !h.Sound
	if bad {
		dst = freeName(strings.TrimSuffix(dst, ".db") + ".damaged")
	}
	if err := giveName(tmp, dst); err != nil {
		return "", explainCopy(dst, err)
	}
	if bad {
		return dst, &storeError{kind: ErrDamaged, msg: fmt.Sprintf("%s: the store is damaged; what can be copied of it is in %s", s.path, dst), cause: err}
	}
	return dst, nil
}

// tempName makes an empty file beside dst that nobody else can read; SQLite
// takes an empty file as a place for a copy.
func tempName(dst string) (string, error) {
	f, err := os.CreateTemp(filepath.Dir(dst), "."+filepath.Base(dst)+".part-*")
	if err != nil {
		return "", err
	}
	return f.Name(), f.Close()
}

func syncFile(path string) error {
	f, err := os.OpenFile(path, os.O_RDWR, 0)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

func syncDir(path string) error {
	d, err := os.Open(path)
	if err != nil {
		return err
	}
	defer d.Close()
	d.Sync() // not every file system can; the name is there either way
	return nil
}

// integrity returns ErrDamaged unless the database at path is sound.
func integrity(ctx context.Context, path string) error {
	db, err := openFile(path, "ro")
	if err != nil {
		return err
	}
	defer db.Close()
	fault, torn, err := flaw(ctx, db)
	switch {
	case err != nil:
		return explain(path, err)
	case fault != "":
		return fail(ErrDamaged, "%s: %s", path, fault)
	case torn != "":
		return fail(ErrDamaged, "%s: a row of %s refers to one that is missing", path, torn)
	}
	return nil
}

// flaw returns the first thing SQLite finds wrong with a database: a fault of the
// file, in its words, or the table of a row that refers to one that is missing.
// Both are empty for a sound one.
func flaw(ctx context.Context, db interface {
	QueryRowContext(context.Context, string, ...any) *sql.Row
}) (fault, torn string, err error) {
	if err := db.QueryRowContext(ctx, "PRAGMA integrity_check(1)").Scan(&fault); err != nil {
		return "", "", err
	}
	if fault != "ok" {
		return fault, "", nil
	}
	err = db.QueryRowContext(ctx, "SELECT \"table\" FROM pragma_foreign_key_check LIMIT 1").Scan(&torn)
	if errors.Is(err, sql.ErrNoRows) {
		err = nil
	}
	return "", torn, err
}

// stamp is the time in the name of a copy.
const stamp = "20060102T150405"

// Copied is what a backup came to.
type Copied struct {
	Path    string   // of the copy
	Removed []string // paths of the older copies that gave way, oldest first
}

// Backup writes a whole, checked copy of the store while others may write. dst
// is a folder, where copies get the time as a name, or the name of a file that is
// not there yet. In a folder all but the newest keep copies of this store, the one
// just written among them, are removed (keep 0 removes none). The copy is checked as
// Check does: of a damaged store it is kept under a name with ".damaged" in it,
// nothing is removed, and the error is ErrDamaged.
func (s *Store) Backup(ctx context.Context, dst string, keep int) (Copied, error) {
	s.mu.Lock()
	defer s.mu.Unlock()
	var done Copied
	dst, err := filepath.Abs(dst)
	if err != nil {
		return done, err
	}
	info, err := os.Stat(dst)
	folder := err == nil && info.IsDir()
	base := strings.TrimSuffix(filepath.Base(s.path), ".db")
	name := dst
	if folder {
		name = freeName(filepath.Join(dst, base+"-"+s.opt.Now().Format(stamp)))
	} else if err == nil {
		return done, fail(ErrExists, "%s: there is a file of this name; name another, or a folder", dst)
	}
	if !folder && filepath.Ext(dst) == "" {
		return done, fail(ErrInvalid, "there is no folder %s; make it, or name a file ending in .db", dst)
	}
	if _, err := os.Stat(filepath.Dir(name)); errors.Is(err, fs.ErrNotExist) {
		return done, fail(ErrInvalid, "there is no folder %s; make it first", filepath.Dir(name))
	}
	clearLeft(filepath.Dir(name), `\.(`+regexp.QuoteMeta(base)+`-\d{8}T\d{6}(-\d+)?\.db|`+regexp.QuoteMeta(filepath.Base(dst))+`)\.part-\d+`)
	if done.Path, err = s.copyChecked(ctx, name); err != nil {
		return done, err
	}
	if !folder || keep == 0 {
		return done, nil
	}
	done.Removed, err = s.rotate(ctx, name, "^"+regexp.QuoteMeta(base)+`-\d{8}T\d{6}(-\d+)?\.db$`, keep)
	return done, err
}

// explainCopy is explain for a copy at name: where it may not be written another
// place for it is the cure, not another store.
func explainCopy(name string, err error) error {
	if dir := filepath.Dir(name); errors.Is(err, fs.ErrPermission) || errors.Is(err, syscall.EROFS) {
		return &storeError{kind: ErrReadOnly, msg: fmt.Sprintf("%s: no permission to write here; give yourself the right to write the folder, or name another", dir), cause: err}
	}
	return explain(name, err)
}

// abandoned is the age from which an unfinished copy is nobody's work any more:
// the largest store is copied in minutes.
const abandoned = 24 * time.Hour

// clearLeft removes the unfinished copies that commands left in a folder when they
// were killed. pattern is what their names are like. It is no harm if one can't be
// removed.
func clearLeft(dir, pattern string) {
	ours := regexp.MustCompile("^" + pattern + "(-journal)?$")
	list, err := os.ReadDir(dir)
	if err != nil {
		return
	}
	for _, e := range list {
		if info, err := e.Info(); err == nil && e.Type().IsRegular() && ours.MatchString(e.Name()) && time.Since(info.ModTime()) > abandoned {
			os.Remove(filepath.Join(dir, e.Name()))
		}
	}
}

// freeName puts ".db" to the name, with a number before it if that is taken.
func freeName(name string) string {
	free := name + ".db"
	for i := 2; exists(free); i++ {
		free = fmt.Sprintf("%s-%d.db", name, i)
	}
	return free
}

func exists(path string) bool {
	_, err := os.Lstat(path)
	return err == nil
}

// copyOf is a copy in a folder.
type copyOf struct {
	path    string
	written time.Time
	holds   int64 // rows of what only ever grows
}

// rotate removes all but keep copies of this store from the folder of made, the
// copy just written, which always stays. Only files whose names match ours and
// that say themselves that they are of this store are looked at: another laptop
// may use the folder too. The names hold local time, which goes back in autumn and
// on a journey, so the time the file was written counts. Where one is dated later
// than the copy just written, a clock was wrong, and then whatever holds more is
// newer, because a store only grows.
func (s *Store) rotate(ctx context.Context, made, ours string, keep int) (removed []string, err error) {
	dir := filepath.Dir(made)
	list, err := os.ReadDir(dir)
	if err != nil {
		return nil, err
	}
	var now time.Time
	if info, err := os.Stat(made); err == nil {
		now = info.ModTime()
	}
	var copies []copyOf
	clockWrong := false
	pattern := regexp.MustCompile(ours)
	for _, e := range list {
		path := filepath.Join(dir, e.Name())
		if !e.Type().IsRegular() || !pattern.MatchString(e.Name()) || path == made {
			continue
		}
		info, err := e.Info()
		if err != nil {
			continue
		}
		writer, holds, err := identify(ctx, path)
		if err != nil || writer != s.writer {
			continue
		}
		copies = append(copies, copyOf{path, info.ModTime(), holds})
		clockWrong = clockWrong || info.ModTime().After(now)
	}
	slices.SortFunc(copies, func(a, b copyOf) int {
		byTime, byHolds := a.written.Compare(b.written), cmp.Compare(a.holds, b.holds)
		if clockWrong {
			byTime, byHolds = byHolds, byTime
		}
		// And by number: "-2" was made after the one without.
		return cmp.Or(byTime, byHolds, cmp.Compare(len(a.path), len(b.path)), cmp.Compare(a.path, b.path))
	})
	for len(copies) > keep-1 {
		if err := os.Remove(copies[0].path); err == nil {
			removed = append(removed, copies[0].path)
		} else if !errors.Is(err, fs.ErrNotExist) { // a backup at the same time may have been quicker
			return removed, explainCopy(copies[0].path, err)
		}
		copies = copies[1:]
	}
	return removed, nil
}

// identify reads which store a file is of, and how many rows it holds that are
// never taken out.
func identify(ctx context.Context, path string) (writer string, holds int64, err error) {
	if openHere(path, 0) > 0 {
		return "", 0, fail(ErrLocked, "%s: in use", path)
	}
	h, err := readHeader(path)
	if err != nil {
		return "", 0, err
	}
	if !h.sqlite || h.application != applicationID {
		return "", 0, fail(ErrNotStore, "%s: this is not a firstcue store", path)
	}
	db, err := openFile(path, "ro")
	if err != nil {
		return "", 0, err
	}
	defer db.Close()
	all := "(SELECT coalesce(max(seq), 0) FROM entry)"
	if h.version < logVersion {
		all = "(SELECT coalesce(max(n), 0) FROM change) + (SELECT coalesce(max(n), 0) FROM batch) + (SELECT coalesce(max(n), 0) FROM revision) + (SELECT count(*) FROM source)"
	}
	err = db.QueryRowContext(ctx, "SELECT writer, "+all+" FROM store").Scan(&writer, &holds)
	return writer, holds, err
}

// Health is what Check found.
type Health struct {
	Path     string
	Size     int64
	Version  int
	Writer   string
	Sound    bool
	Problems []string // what this program found, in plain words, the first hundred
	Faults   []string // what SQLite found in the file itself, in its words, the first hundred
	// Counts of what is there; of a damaged store, of what could be saved.
	// Sessions are all that were ever stored, Standing those not withdrawn, and
	// Trials those of the standing ones as they are in force, a tally in full.
	Dogs, Sessions, Standing, Revisions, Trials int
	// Lost counts revisions that can't be read or don't match their hash, and where
	// their index is lost too, whatever other documents can't be read; there may
	// be more where the end of their list is lost, and then a problem says so.
	Lost int
	// Altered are the sessions that can be read and whose words or trials no
	// longer match what was stored, oldest first. What is said of them is what
	// the file says now, so that any of it may be what was altered.
	Altered []AlteredSession
	// Texts are the notes and files kept as they came in that are lost or no
	// longer what was stored, in the order they came.
	Texts []AlteredText

	sessions map[string]bool // their ids
}

// Lacking counts the sessions that can be read of h and that other does not have,
// those withdrawn among them.
func (h Health) Lacking(other Health) int {
	n := 0
	for id := range h.sessions {
		if !other.sessions[id] {
			n++
		}
	}
	return n
}

// AlteredSession is a session of which a form was altered in the file.
type AlteredSession struct {
	ID    string
	Dog   string // "" = the list does not say
	Start string // as in the file
}

// AlteredText is a kept note or file that can't be read or does not match its
// hash. Its sessions have words, trials and a hash of their own.
type AlteredText struct {
	Batch    string // what it came with
	Kind     string // of the batch: log, import, amend
	At       string // RFC 3339
	Name     string // of the file; "" = none
	Sessions []AlteredSession
	// Trusted is set when all of those sessions match their own hashes.
	Trusted bool
}

// Check looks a store over: SQLite's own checks, references, and the hash of
// every revision, so that a session altered by a failing disk is found too. It
// changes nothing. A damaged store is a Health with Sound false and no error;
// an error means that there is nothing to look at: ErrNotFound, ErrNotStore,
// ErrNewer, or ErrDamaged where nothing at all can be read.
func Check(ctx context.Context, path string) (Health, error) {
	h := Health{Path: path}
	if older(path) {
		return checkOlder(ctx, path)
	}
	d, missing, done, err := openDamaged(ctx, path)
	if err != nil {
		return h, err
	}
	defer done()
	if info, err := os.Stat(path); err == nil {
		h.Size = info.Size()
	}
	problem := func(format string, args ...any) {
		if len(h.Problems) < 100 {
			h.Problems = append(h.Problems, fmt.Sprintf(format, args...))
		}
	}
	if missing > 0 {
		problem("the file was cut short: %d of its %d bytes are missing", missing, h.Size+missing)
	}
	d.conn.QueryRowContext(ctx, "SELECT user_version FROM pragma_user_version").Scan(&h.Version)
	fault := func(say string) {
		if len(h.Faults) < 100 {
			h.Faults = append(h.Faults, say)
		}
	}
	if err := d.conn.QueryRowContext(ctx, "SELECT writer FROM store").Scan(&h.Writer); err != nil {
		problem("the id of this store can't be read")
	}
	t := d.newTx(ctx)
	var say string
	if err := t.each(func(scan func(...any) error) error {
		err := scan(&say)
		if err == nil && say != "ok" {
			fault(say)
		}
		return err
	}, "PRAGMA integrity_check(100)"); err != nil {
		fault(err.Error())
	}
	var tables []string
	torn := map[string]int{}
	if err := t.each(func(scan func(...any) error) error {
		err := scan(&say)
		if err == nil && torn[say] == 0 {
			tables = append(tables, say)
		}
		torn[say]++
		return err
	}, `SELECT "table" FROM pragma_foreign_key_check LIMIT 1000`); err != nil {
		fault(err.Error())
	}
	for _, x := range tables {
		problem("the table %s names what is missing, in %s", x, counted(torn[x], "place"))
	}
	if _, err := t.one("SELECT count(*) FROM name WHERE kind = 'dog' AND shown = n AND gone = 0", nil, &h.Dogs); err != nil {
		problem("the list of dogs can't be read")
	}
	type inForce struct {
		held
		trials int
	}
	force := map[string]*inForce{}
	var lists []string // changes of the lists, in words
	session := func(r *revision) AlteredSession {
		a := AlteredSession{ID: r.Session, Start: r.Start}
		if _, err := t.one("SELECT x.name FROM name e JOIN name x ON x.n = e.shown WHERE e.kind = 'dog' AND e.id = ?", []any{r.Dog}, &a.Dog); err != nil {
			a.Dog = "" // its own row is damaged
		}
		return a
	}
	altered, atLeast := 0, ""
	h.Lost, err = d.salvage(ctx, damage{
		open: func() { atLeast = "at least " },
		revision: func(r *revision) {
			altered++
			if !slices.ContainsFunc(h.Altered, func(b AlteredSession) bool { return b.ID == r.Session }) {
				h.Altered = append(h.Altered, session(r))
			}
		},
		text: func(b batch) {
			h.Texts = append(h.Texts, AlteredText{Batch: b.ID, Kind: b.Kind, At: b.At, Name: b.Name})
		},
		change: func(c change) { lists = append(lists, c.Said) },
	}, func(line document) error {
		r := line.Revision
		if r == nil {
			return nil
		}
		h.Revisions++
		x := force[r.Session]
		if x == nil {
			x = &inForce{}
			force[r.Session] = x
		}
		if at, err := parseClock(r.At); err == nil {
			r.atMS = at.UnixMilli()
		}
		if !x.precedes(r) {
			return nil
		}
		x.shown, x.number, x.atMS, x.writer, x.revID, x.voided, x.trials = 1, r.Number, r.atMS, r.Writer, r.ID, r.Voided, 0
		for _, f := range r.Trials {
			x.trials += max(1, f.Of)
		}
		return nil
	})
	if err != nil {
		return h, err
	}
	h.Sessions = len(force)
	// A page that reads as if it had fewer rows says nothing; the list of sessions does.
	var listed int
	if _, err := t.one("SELECT count(*) FROM session NOT INDEXED", nil, &listed); err == nil && listed-len(force) > h.Lost {
		h.Lost, atLeast = listed-len(force), "at least "
	}
	h.sessions = map[string]bool{}
	for id, x := range force {
		h.sessions[id] = true
		if x.voided == "" {
			h.Standing++
			h.Trials += x.trials
		}
	}
	slices.SortFunc(h.Altered, func(a, b AlteredSession) int {
		return cmp.Or(cmp.Compare(a.Start, b.Start), cmp.Compare(a.ID, b.ID))
	})
	if h.Lost > 0 {
		if h.Lost == 1 {
			problem("%s1 revision of a session can't be read or was altered", atLeast)
		} else {
			problem("%s%d revisions of sessions can't be read or were altered", atLeast, h.Lost)
		}
	}
	for i := range h.Texts {
		x := &h.Texts[i]
		var list []*revision
		if err := t.each(func(scan func(...any) error) error {
			r := &revision{}
			var body []byte
			err := scan(&r.Session, &body)
			json.Unmarshal(body, r) // as far as it goes
			if !slices.ContainsFunc(list, func(o *revision) bool { return o.Session == r.Session }) {
				list = append(list, r)
			}
			return err
		}, `SELECT s.id, e.body FROM revision r JOIN session s ON s.n = r.session JOIN entry e ON e.seq = r.n
			WHERE r.batch = ? ORDER BY r.start_ms, s.id`, x.Batch); err != nil {
			list = nil // the rows themselves are damaged
		}
		x.Trusted = len(list) > 0 && h.Lost == altered // else one that can't be read may be among them
		for _, r := range list {
			x.Sessions = append(x.Sessions, session(r))
			if slices.ContainsFunc(h.Altered, func(b AlteredSession) bool { return b.ID == r.Session }) {
				x.Trusted = false
			}
		}
	}
	if n := len(h.Texts); n > 0 {
		problem("%s kept as it came in can't be read or was altered", counted(n, "text"))
	}
	for i, said := range lists {
		if i == 5 && len(lists) > 6 {
			problem("and %d more changes of the lists", len(lists)-i)
			break
		}
		problem("a change of the lists was altered; it says now: %s", said)
	}
	if strange, err := t.foreign(true); err == nil {
		for _, x := range strange {
			problem("the %s was put into the store by somebody else", x)
		}
	}
	if len(h.Problems)+len(h.Faults) == 0 {
		tables, err := d.stale(ctx)
		if ctx.Err() != nil {
			return h, ctx.Err()
		}
		if err != nil {
			problem("the tables can't be worked out anew from the documents: %v", err)
		}
		for _, x := range tables {
			problem("the table %s does not say what the documents say; firstcue store rebuild works it out anew", x)
		}
	}
	h.Sound = len(h.Problems)+len(h.Faults) == 0
	return h, nil
}

// older reports whether the file is a store of before there was the log.
func older(path string) bool {
	h, err := readHeader(path)
	return err == nil && h.sqlite && h.application == applicationID && h.version > 0 && h.version < logVersion
}

// checkOlder brings a copy up to date, which holds everything against its hash, and
// looks that over.
func checkOlder(ctx context.Context, path string) (Health, error) {
	h := Health{Path: path, Version: 1}
	if info, err := os.Stat(path); err == nil {
		h.Size = info.Size()
	}
	dir, err := os.MkdirTemp("", "firstcue-older-*")
	if err != nil {
		return h, err
	}
	defer os.RemoveAll(dir)
	copied := filepath.Join(dir, "copy.db")
	err = copyStore(ctx, path, copied)
	if err == nil {
		var s *Store
		if s, err = Open(ctx, copied, Options{}); err == nil {
			err = s.Close()
		}
	}
	if err != nil {
		if ctx.Err() != nil || !wrecked(err) {
			return h, err
		}
		h.Problems = []string{"this store has the older version 1 and something in it was altered; look with the firstcue that it was written with: firstcue store check"}
		return h, nil
	}
	got, err := Check(ctx, copied)
	got.Path, got.Size, got.Version = path, h.Size, h.Version
	return got, err
}

// openDamaged opens a store without expecting it to be whole. SQLite reads nothing
// of a file that was cut short, so of such a one a copy is opened, filled up with
// empty pages; missing is how many bytes those are. done closes what is open.
func openDamaged(ctx context.Context, path string) (d *Store, missing int64, done func(), err error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return nil, 0, nil, err
	}
	steps, err := readMigrations()
	if err != nil {
		return nil, 0, nil, err
	}
	d = &Store{path: abs, opt: Options{ReadOnly: true, steps: steps, Now: time.Now}}
	if err := d.preflight(); err != nil {
		return nil, 0, nil, explain(abs, err)
	}
	folder := ""
	if missing = cutOff(abs); missing > 0 {
		if folder, err = os.MkdirTemp("", "firstcue-cut-short-*"); err != nil {
			return nil, 0, nil, err
		}
		d.path = filepath.Join(folder, "filled.db")
		if err := fillUp(abs, d.path, missing); err != nil {
			os.RemoveAll(folder)
			return nil, 0, nil, explainCopy(d.path, err)
		}
	}
	mode := "ro"
	if writable(d.path) {
		mode = "rw" // to roll a journal back
	}
	openHere(d.path, 1)
	done = func() {
		d.Close()
		if folder != "" {
			os.RemoveAll(folder)
		}
	}
	err = d.connect(ctx, mode)
	if err == nil {
		_, err = d.conn.ExecContext(ctx, "PRAGMA query_only = 1; PRAGMA cell_size_check = 1")
	}
	var version, application int
	if err == nil {
		err = d.conn.QueryRowContext(ctx, "SELECT user_version, application_id FROM pragma_user_version, pragma_application_id, (SELECT count(*) FROM sqlite_schema)").Scan(&version, &application)
	}
	if err == nil {
		err = header{sqlite: true, application: uint32(application), version: uint32(version)}.check(abs, len(steps))
	}
	if err != nil {
		done()
		if e := new(sqlite.Error); errors.As(err, &e) && slices.Contains([]int{codeBusy, codeReadOnly, codeCantOpen}, e.Code()&0xff) {
			err = explain(abs, err) // in use, or no permission, is no damage
		}
		if known := new(storeError); !errors.As(err, &known) {
			err = &storeError{kind: ErrDamaged, msg: fmt.Sprintf("%s: the store is damaged and nothing of it can be read; leave it as it is and bring back a copy: firstcue store restore COPY", abs), cause: err}
		}
		return nil, 0, nil, err
	}
	return d, missing, done, nil
}

// cutOff returns how many bytes the file lacks of what its header says it has, by
// SQLite's published file format: the size of a page at byte 16 (1 = 65536), the
// number of pages at byte 28, which holds when the numbers at 24 and 92 agree. A
// file with a journal is not judged: that may bring pages back.
func cutOff(path string) int64 {
	if openHere(path, 0) > 0 || exists(path+"-journal") {
		return 0
	}
	f, err := os.Open(path)
	if err != nil {
		return 0
	}
	defer f.Close()
	b := make([]byte, 100)
	info, err := f.Stat()
	if _, short := io.ReadFull(f, b); short != nil || err != nil || !bytes.Equal(b[24:28], b[92:96]) {
		return 0
	}
	page := int64(binary.BigEndian.Uint16(b[16:]))
	if page == 1 {
		page = 65536
	}
	pages := int64(binary.BigEndian.Uint32(b[28:]))
	if missing := page*pages - info.Size(); missing > 0 && info.Size() >= page && pages < mostPages {
		return missing
	}
	return 0
}

// mostPages bounds a file that is filled up: a number of pages beyond it is a
// damaged header. It is 40 GB, of which nothing is written.
const mostPages = 10_000_000

// fillUp copies a file and makes it longer by what is missing.
func fillUp(from, to string, missing int64) error {
	src, err := os.Open(from)
	if err != nil {
		return err
	}
	defer src.Close()
	dst, err := os.OpenFile(to, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if err != nil {
		return err
	}
	n, err := io.Copy(dst, src)
	if err == nil {
		err = dst.Truncate(n + missing)
	}
	return errors.Join(err, dst.Close())
}

// damage is told what salvage can read and leaves out, because it does not match
// its hash. A field that is nil is not asked.
type damage struct {
	revision func(*revision)
	text     func(batch) // or its text can't be read
	change   func(change)
	open     func() // more revisions may be lost than were counted
}

// salvage yields whatever is whole, in the order of an exchange file, and counts
// the revisions that are lost. Every document is held against its hash, and damage
// is told what does not match.
func (s *Store) salvage(ctx context.Context, bad damage, yield func(document) error) (lost int, err error) {
	t := s.newTx(ctx)
	var stop error // from yield, not from the file
	pass := func(d document) {
		if stop == nil {
			stop = yield(d)
		}
	}
	sweep := sweeper(ctx, &stop)
	end, guess := t.lastEntry()
	// First what is small; sessions are many.
	var changes []change
	var batches []batch
	texts := map[string]bool{}
	sessions, altered := 0, 0
	sweep(1, end, func(a, b int64) error {
		type row struct {
			seq           int64
			kind, key, id string
			body          []byte
		}
		var list []row
		err := t.each(func(scan func(...any) error) error {
			var r row
			err := scan(&r.seq, &r.kind, &r.key, &r.id, &r.body)
			list = append(list, r)
			return err
		}, "SELECT seq, kind, key, id, CASE kind WHEN 'session' THEN '' ELSE body END FROM entry NOT INDEXED WHERE seq BETWEEN ? AND ?", a, b)
		if err != nil {
			return err
		}
		for _, r := range list {
			l := bundleLine{Kind: r.kind, ID: r.id, Doc: r.body}
			if r.kind == "session" {
				continue
			}
			if strings.HasPrefix(r.key, lostText) {
				texts[r.key] = true
				continue
			}
			d, ok, err := l.read()
			whole := ok && err == nil
			switch {
			case whole && d.Change != nil:
				changes = append(changes, *d.Change)
			case whole && d.Batch != nil:
				batches = append(batches, *d.Batch)
			case whole && d.Source != nil:
				texts[d.Source.Hash] = true
			case r.kind == "change" && bad.change != nil:
				var c change
				json.Unmarshal(r.body, &c) // as far as it goes
				bad.change(c)
			}
		}
		return nil
	})
	slices.SortStableFunc(changes, func(a, b change) int {
		return cmp.Or(cmp.Compare(a.Tick, b.Tick), cmp.Compare(a.Writer, b.Writer), cmp.Compare(a.ID, b.ID))
	})
	for i := range changes {
		pass(document{Change: &changes[i]})
	}
	for _, b := range batches {
		switch {
		case b.Source == "" || texts[lostText+b.Source]:
		case texts[b.Source]:
			text, found, err := t.source(b.Source)
			if err == nil && found {
				pass(document{Source: sourceOf(text)})
				continue
			}
			fallthrough
		default:
			if bad.text != nil {
				bad.text(b)
			}
		}
	}
	for i := range batches {
		pass(document{Batch: &batches[i]})
	}
	lost = sweep(1, end, func(a, b int64) error {
		if b-a > 500 {
			return errors.New("too many at once")
		}
		type row struct {
			id, key string
			body    []byte
		}
		var list []row
		err := t.each(func(scan func(...any) error) error {
			var r row
			err := scan(&r.id, &r.key, &r.body)
			list = append(list, r)
			return err
		}, "SELECT id, key, body FROM entry NOT INDEXED WHERE seq BETWEEN ? AND ? AND kind = 'session'", a, b)
		if err != nil {
			return err
		}
		for _, x := range list {
			sessions++
			r, err := readRevision(x.id, x.body)
			if err == nil && r.Session == x.key {
				r.seal() // works out the hash of what it says
				pass(document{Revision: r})
				continue
			}
			altered++
			if bad.revision != nil {
				r := &revision{Session: x.key}
				json.Unmarshal(x.body, r) // as far as it goes
				r.Session = x.key
				bad.revision(r)
			}
		}
		return nil
	})
	if guess && bad.open != nil {
		// Beyond the last that can be read nobody knows how many there were.
		bad.open()
	}
	if guess {
		lost = 1
	} else if n := t.listedRevisions(); n >= 0 && n-sessions > 0 {
		lost = n - sessions // what can't be read may have been of another kind
	} else if n >= 0 {
		lost = 0
	}
	if stop == nil {
		stop = ctx.Err()
	}
	return lost + altered, stop
}

// listedRevisions is how many revisions the index has, -1 where it can't be read.
func (t *tx) listedRevisions() int {
	most := -1
	for _, q := range []string{"revision NOT INDEXED", "revision INDEXED BY revision_batch", "session NOT INDEXED", "session INDEXED BY session_day", "session INDEXED BY session_dog"} {
		var n int
		if _, err := t.one("SELECT count(*) FROM "+q, nil, &n); err == nil {
			most = max(most, n)
		}
	}
	return most
}

// lastEntry is the highest number of a document. Where the end of the table is
// lost, what refers to it may tell; else guess is set, and rows are looked for up
// to a number that few kennels reach.
func (t *tx) lastEntry() (n int64, guess bool) {
	for _, q := range []string{
		"SELECT coalesce(max(seq), 0) FROM entry", // zero too where the last page has zeros
		"SELECT coalesce(max(last), 0) FROM feed",
		"SELECT coalesce(max(n), 0) FROM revision INDEXED BY revision_batch",
		"SELECT coalesce(max(shown), 0) FROM session",
		"SELECT coalesce(max(n), 0) FROM change",
	} {
		var m int64
		if _, err := t.one(q, nil, &m); err == nil {
			n = max(n, m)
		}
	}
	if n == 0 {
		return 1 << 16, true
	}
	return n, false
}

// sweeper reads rows a to b and, where that fails, the halves by themselves; it
// counts the rows that can't be read.
func sweeper(ctx context.Context, stop *error) func(a, b int64, read func(a, b int64) error) int {
	tries := 0
	var sweep func(a, b int64, read func(a, b int64) error) int
	sweep = func(a, b int64, read func(a, b int64) error) int {
		tries++
		if a > b || *stop != nil || ctx.Err() != nil {
			return 0
		}
		err := read(a, b)
		switch {
		case err == nil:
			return 0
		case a == b || tries > 1_000_000:
			return int(b - a + 1)
		}
		m := a + (b-a)/2
		return sweep(a, m, read) + sweep(m+1, b, read)
	}
	return sweep
}

func hashText(b []byte) string {
	sum := sha256.Sum256(b)
	return hex.EncodeToString(sum[:])
}

// Salvage makes a new store at to out of all that is whole in the damaged one at
// from, which is left as it is. A dog, handler, place, device or cue whose own
// rows are lost gets a name such as "(lost dog 3f9a01)"; merging with a copy that
// has it brings the name back.
func Salvage(ctx context.Context, from, to string) (Health, error) {
	if exists(to) {
		return Health{}, fail(ErrExists, "%s: there is a file of this name; name another", to)
	}
	d, _, done, err := openDamaged(ctx, from)
	if err != nil {
		return Health{}, err
	}
	defer done()
	s, err := Open(ctx, to, Options{Create: true})
	if err != nil {
		os.Remove(to) // begun, on a full disk
		os.Remove(to + "-journal")
		return Health{}, explainCopy(to, err)
	}
	err = s.write(ctx, func(t *tx) error {
		t.lenient = true
		touched := map[kind]map[string]bool{}
		settled := false
		sessions, batches := map[string]*held{}, map[string]bool{}
		var lost []batch
		bad := damage{text: func(b batch) { lost = append(lost, b) }}
		_, err := d.salvage(ctx, bad, func(line document) error {
			switch {
			case line.Change != nil:
				if touched[line.Change.Kind] == nil {
					touched[line.Change.Kind] = map[string]bool{}
				}
				touched[line.Change.Kind][line.Change.Entity] = true
				return t.addChange(line.Change)
			case line.Source != nil:
				_, err := t.addSource(line.Source.text())
				return err
			case line.Batch != nil:
				batches[line.Batch.ID] = true
				return t.addBatch(line.Batch)
			}
			if !settled {
				settled = true
				if err := t.settleAll(touched); err != nil {
					return err
				}
			}
			r := line.Revision
			if !batches[r.Batch] {
				batches[r.Batch] = true
				if err := t.addBatch(&batch{ID: r.Batch, Kind: "log", At: r.At, Writer: r.Writer, Name: "(lost)"}); err != nil {
					return err
				}
			}
			_, _, err := t.mergeRevision(sessions, r, func() error { return nil })
			return err
		})
		for _, b := range lost {
			if err == nil {
				err = t.loseSource(b.Source)
			}
		}
		if err == nil && !settled {
			err = t.settleAll(touched)
		}
		return err
	})
	err = cmp.Or(err, s.Close())
	if err != nil {
		os.Remove(to)
		os.Remove(to + "-journal")
		return Health{}, err
	}
	return Check(ctx, to)
}

// Restore puts the store at from, a copy, in the place of to. from must be
// sound. A store at to that is sound too gives way only with confirm; whatever
// was at to is kept under another name, which is returned ("" = nothing was). Where
// to is a link, what it leads to gives way, and the link stays.
func Restore(ctx context.Context, from, to string, confirm bool) (kept string, err error) {
	to, err = filepath.Abs(to)
	if err != nil {
		return "", err
	}
	if info, err := os.Lstat(to); err == nil && info.Mode()&fs.ModeSymlink != 0 {
		link := to
		if to, err = filepath.EvalSymlinks(link); err != nil {
			leads, _ := os.Readlink(link)
			return "", fail(ErrInvalid, "%s: this is a link to %s, which is not there; bring that back (is its disk plugged in?) or remove the link", link, leads)
		}
	}
	a, err := os.Stat(from)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return "", fail(ErrNotFound, "%s: there is no such file; nothing was changed", from)
	case err == nil && a.IsDir():
		return "", fail(ErrInvalid, "%s: this is a folder; name the copy in it; nothing was changed", from)
	case err == nil:
		if b, err := os.Stat(to); err == nil && os.SameFile(a, b) {
			return "", fail(ErrInvalid, "%s: the copy and the store are one file", to)
		}
	}
	h, err := Check(ctx, from)
	if errors.Is(err, ErrNotStore) && !looksDamaged(from) {
		return "", fail(ErrNotStore, "%s: this is no copy of a store; nothing was changed", from)
	}
	if errors.Is(err, ErrNotStore) || errors.Is(err, ErrDamaged) {
		return "", fail(ErrDamaged, "%s: the copy is damaged and nothing of it can be read; take another. Nothing was changed", from)
	}
	if err != nil {
		return "", err
	}
	if !h.Sound {
		return "", fail(ErrDamaged, "%s: the copy is damaged; take another, or save what is whole: firstcue store check %s --salvage NEW.db. Nothing was changed", from, from)
	}
	if info, err := os.Stat(to); err == nil && info.IsDir() {
		return "", fail(ErrNotStore, "%s: this is a folder; name a file in it", to)
	}
	if exists(to) && !confirm {
		if now, err := Check(ctx, to); err == nil && now.Sound {
			return "", fail(ErrExists, "%s: there is a sound store with %s here; add --confirm to put the copy with %s in its place (it is kept under another name)", to, standingOf(now), standingOf(h))
		} else if errors.Is(err, ErrNewer) || errors.Is(err, ErrReadOnly) || errors.Is(err, ErrLocked) {
			return "", err
		} else if errors.Is(err, ErrNotStore) && !emptyFile(to) && !looksDamaged(to) {
			return "", fail(ErrExists, "%s: there is a file of another kind here; add --confirm to put the copy in its place (it is kept under another name)", to)
		}
	}
	if err := os.MkdirAll(filepath.Dir(to), 0o700); err != nil {
		return "", explain(to, err)
	}
	src, err := filepath.Abs(from)
	if err != nil {
		return "", err
	}
	clearLeft(filepath.Dir(to), `\.?`+regexp.QuoteMeta(filepath.Base(to))+`\.restored-\d{8}T\d{6}(\.part-\d+)?`)
	fresh := to + ".restored-" + time.Now().Format(stamp)
	if err := copyStore(ctx, src, fresh); err != nil {
		if ctx.Err() != nil {
			return "", ctx.Err()
		}
		return "", explain(to, err)
	}
	defer os.Remove(fresh)
	if exists(to) {
		kept = freeName(strings.TrimSuffix(to, ".db") + ".replaced-" + time.Now().Format(stamp))
		// A second name first, so that there is a store at every moment; a file
		// system without such names gets it by a move.
		linked := os.Link(to, kept) == nil
		// The journal before the store: under the old name it would be played back
		// into the copy. A command that has the old file open fails at its next
		// write, because SQLite sees that the file has moved.
		for _, tail := range []string{"-journal", "-wal", "-shm"} {
			if err := os.Rename(to+tail, kept+tail); err != nil && !errors.Is(err, fs.ErrNotExist) {
				return "", explain(to, err)
			}
		}
		if !linked {
			if err := os.Rename(to, kept); err != nil {
				return "", explain(to, err)
			}
		}
	}
	if err := os.Rename(fresh, to); err != nil {
		return kept, explain(to, err)
	}
	return kept, syncDir(filepath.Dir(to))
}

// standingOf counts the sessions in force, and beside them those withdrawn.
func standingOf(h Health) string {
	s := counted(h.Standing, "session")
	if gone := h.Sessions - h.Standing; gone > 0 {
		s += fmt.Sprintf(" in force and %d withdrawn", gone)
	}
	return s
}

func emptyFile(path string) bool {
	info, err := os.Stat(path)
	return err == nil && info.Size() == 0
}

// looksDamaged reports whether the file may have been a store whose beginning
// was hit: its pages still hold our words.
func looksDamaged(path string) bool {
	b, err := os.ReadFile(path)
	return err == nil && bytes.Contains(b, []byte("CREATE TABLE revision"))
}
