// Package store keeps the kennel's records in one SQLite file: lists, sessions
// with all their revisions, notes word for word. It is the only package that
// knows SQL.
//
// Nothing is overwritten. Lists are kept as their changes and sessions as their
// revisions; the tables that are read are worked out from these, so that two
// files are joined by adding the rows of one to the other, in any order and as
// often as you like.
package store

import (
	"context"
	crand "crypto/rand"
	"database/sql"
	"embed"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"math/rand/v2"
	"net/url"
	"os"
	"path/filepath"
	"runtime"
	"strconv"
	"strings"
	"sync"
	"syscall"
	"time"

	"modernc.org/sqlite" // registers the driver "sqlite"

	"firstcue/internal/training"
)

const (
	driverName    = "sqlite"
	applicationID = 0x46534355 // "FSCU"
	busyTimeout   = 30_000     // milliseconds: at load 30, one of seven writers waited for more than ten seconds
	pageSize      = 8192
	// journalMode: rollback journal, one file that can be copied whenever no
	// command runs and that survives on a share where write-ahead logging
	// can't work. The measurement is in docs/store.md.
	journalMode = "DELETE"
	// synchronous: EXTRA is FULL and also syncs the folder after the journal is
	// removed; without that a power cut could bring back the journal and undo a
	// session that was already reported as stored.
	synchronous = "EXTRA"
)

//go:embed migrations/*.sql
var migrationFiles embed.FS

// Options says how a store is opened. The zero value opens an existing store
// for reading and writing.
type Options struct {
	Create   bool // make the file, and its folder, if there is none
	ReadOnly bool // nothing is written, not even a migration
	// Now is the clock; nil = time.Now. It stamps revisions and changes.
	Now func() time.Time
	// Writer overrides the writer id that a newly made file gets.
	Writer string
	// Backups is where the copy before a migration goes; "" = the folder
	// "backups" beside the store.
	Backups string

	steps []string // migrations; nil = those of this program
}

// Store is an open store. Its methods may be called from several goroutines;
// they take turns.
type Store struct {
	path   string
	opt    Options
	writer string
	db     *sql.DB

	mu   sync.Mutex
	conn *sql.Conn

	closed   bool
	patience time.Duration // how long a writer waits for its turn
}

// inUse counts the stores open in this process by path. POSIX locks belong to
// the process: looking at the bytes of a file that is open here, and closing it
// again, would take the locks away from SQLite.
var inUse = struct {
	sync.Mutex
	paths map[string]int
}{paths: map[string]int{}}

func openHere(path string, by int) int {
	inUse.Lock()
	defer inUse.Unlock()
	inUse.paths[path] += by
	return inUse.paths[path]
}

// Writer returns the id that tells revisions made here from those of another
// file.
func (s *Store) Writer() string { return s.writer }

// Open opens the store at path. A missing file is ErrNotFound unless o.Create,
// a file of a later version ErrNewer, anything that is no store ErrNotStore; none
// of these is touched. A store of an earlier version is copied, then brought up
// to date.
func Open(ctx context.Context, path string, o Options) (*Store, error) {
	abs, err := filepath.Abs(path)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", path, err)
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	if o.steps == nil {
		if o.steps, err = readMigrations(); err != nil {
			return nil, err
		}
	}
	if o.Backups == "" {
		o.Backups = filepath.Join(filepath.Dir(abs), "backups")
	}
	s := &Store{path: abs, opt: o, patience: busyTimeout * time.Millisecond}
	openHere(abs, 1)
	if err := s.open(ctx); err != nil {
		s.Close()
		return nil, explain(abs, err)
	}
	return s, nil
}

func (s *Store) open(ctx context.Context) error {
	if err := s.preflight(); err != nil {
		return err
	}
	// A reader too opens for writing where it may: a journal left by a killed
	// writer must be rolled back before the file can be read.
	mode := "rw"
	if s.opt.ReadOnly && openHere(s.path, 0) == 1 && !writable(s.path) {
		mode = "ro"
	}
	if err := s.connect(ctx, mode); err != nil {
		return err
	}
	if err := s.migrate(ctx); err != nil {
		return err
	}
	if s.opt.ReadOnly {
		if _, err := s.conn.ExecContext(ctx, "PRAGMA query_only = 1"); err != nil {
			return err
		}
	}
	strange, err := s.newTx(ctx).foreign(false)
	if err != nil {
		return err
	}
	if len(strange) > 0 {
		return fail(ErrDamaged, "%s: somebody put the %s into the store, which could change what is read and written; nothing was done. Bring back a copy: firstcue store restore COPY", s.path, strings.Join(strange, ", the "))
	}
	return s.conn.QueryRowContext(ctx, "SELECT writer FROM store").Scan(&s.writer)
}

func (s *Store) connect(ctx context.Context, mode string) error {
	db, err := openFile(s.path, mode)
	if err != nil {
		return err
	}
	s.db = db
	s.conn, err = db.Conn(ctx)
	return err
}

// openFile opens a file for one connection at a time.
func openFile(path, mode string) (*sql.DB, error) {
	db, err := sql.Open(driverName, dsn(path, mode))
	if err == nil {
		db.SetMaxOpenConns(1)
	}
	return db, err
}

// dsn names the file as a URL: in a plain path the driver takes everything from
// a "?" on as options, and opens another file.
func dsn(path, mode string) string {
	q := url.Values{}
	q.Set("mode", mode)
	q.Set("_txlock", "immediate")
	q.Set("_busy_timeout", strconv.Itoa(busyTimeout))
	q.Set("_foreign_keys", "1")
	q.Set("_synchronous", synchronous)
	if mode != "ro" {
		q.Set("_journal_mode", journalMode)
	}
	q.Set("_dqs", "0")
	q.Set("_defensive", "1")
	p := filepath.ToSlash(path)
	if runtime.GOOS == "windows" {
		p = "/" + p
	}
	return (&url.URL{Scheme: "file", Path: p, RawQuery: q.Encode()}).String()
}

// Close closes the file.
func (s *Store) Close() error {
	s.mu.Lock()
	defer s.mu.Unlock()
	var err error
	if !s.closed {
		s.closed = true
		defer openHere(s.path, -1)
	}
	if s.conn != nil {
		err = errors.Join(err, s.conn.Close())
		s.conn = nil
	}
	if s.db != nil {
		err = errors.Join(err, s.db.Close())
		s.db = nil
	}
	return err
}

// preflight looks at the file before SQLite does, so that what is no store is
// not touched, and makes it when asked to.
func (s *Store) preflight() error {
	info, err := os.Stat(s.path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		if !s.opt.Create || s.opt.ReadOnly {
			return fail(ErrNotFound, "%s: there is no store yet; log a first note, add a dog, or name the file with --store FILE", s.path)
		}
		return s.create()
	case err != nil:
		return cannotMake(s.path, err)
	case info.IsDir():
		return fail(ErrNotStore, "%s: this is a folder; name a file in it, such as --store %s", s.path, filepath.Join(s.path, "kennel.db"))
	case !info.Mode().IsRegular():
		return fail(ErrNotStore, "%s: this is not a plain file; name another with --store FILE", s.path)
	}
	if openHere(s.path, 0) > 1 {
		return nil
	}
	if !s.opt.ReadOnly && !writable(s.path) {
		return fail(ErrReadOnly, "%s: no permission to write; give yourself the right to write the file and its folder, or name another with --store FILE", s.path)
	}
	if j, err := os.Stat(s.path + "-journal"); err == nil && j.Size() > 0 {
		return nil // left by a killed command: SQLite puts it right, then migrate looks
	}
	if info.Size() == 0 {
		if s.opt.Create && !s.opt.ReadOnly {
			return nil // made, and killed before the first write
		}
		return fail(ErrNotStore, "%s: the file is empty; it was left untouched. Name another with --store FILE", s.path)
	}
	h, err := readHeader(s.path)
	if err != nil {
		return err
	}
	return h.check(s.path, len(s.opt.steps))
}

func (s *Store) create() error {
	dir := filepath.Dir(s.path)
	if err := os.MkdirAll(dir, 0o700); err != nil {
		return cannotMake(s.path, err)
	}
	f, err := os.OpenFile(s.path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o600)
	if errors.Is(err, fs.ErrExist) {
		return nil // another command was quicker
	}
	if err != nil {
		return cannotMake(s.path, err)
	}
	return f.Close()
}

// cannotMake names the path and the cure where explain would only have what the
// system says.
func cannotMake(path string, err error) error {
	if errors.Is(err, fs.ErrPermission) || errors.Is(err, syscall.ENOSPC) || errors.Is(err, syscall.EROFS) {
		return err
	}
	say := err
	if at := new(fs.PathError); errors.As(err, &at) {
		say = at.Err
	}
	return &storeError{kind: ErrReadOnly, msg: fmt.Sprintf("%s: no store can be here (%v); name another with --store FILE", path, say), cause: err}
}

// writable reports whether the file can be opened for writing. It must not be
// open in this process: closing it would drop SQLite's locks.
func writable(path string) bool {
	f, err := os.OpenFile(path, os.O_WRONLY, 0)
	if err != nil {
		return false
	}
	f.Close()
	return true
}

// header is what the first 100 bytes of a SQLite file say.
type header struct {
	sqlite      bool
	application uint32
	version     uint32
}

func readHeader(path string) (header, error) {
	f, err := os.Open(path)
	if err != nil {
		return header{}, err
	}
	defer f.Close()
	b := make([]byte, 100)
	n, err := f.Read(b)
	if err != nil {
		return header{}, err
	}
	if n < len(b) || string(b[:16]) != "SQLite format 3\x00" {
		return header{}, nil
	}
	be := func(i int) uint32 {
		return uint32(b[i])<<24 | uint32(b[i+1])<<16 | uint32(b[i+2])<<8 | uint32(b[i+3])
	}
	return header{sqlite: true, version: be(60), application: be(68)}, nil
}

// Is reports whether a file is a firstcue store, of whatever version.
func Is(path string) bool {
	abs, err := filepath.Abs(path)
	if err != nil {
		return false
	}
	if openHere(abs, 0) > 0 {
		return true // and must not be opened and closed here
	}
	if info, err := os.Stat(abs); err != nil || !info.Mode().IsRegular() {
		return false
	}
	h, err := readHeader(abs)
	return err == nil && h.sqlite && h.application == applicationID
}

func (h header) check(path string, latest int) error {
	switch {
	case !h.sqlite:
		return fail(ErrNotStore, "%s: this is not a firstcue store; it was left untouched. Name another file with --store FILE, or if it was one, bring back a copy: firstcue store restore FILE", path)
	case h.application != applicationID:
		return fail(ErrNotStore, "%s: this is a database of another program; it was left untouched. Name another file with --store FILE", path)
	case int(h.version) > latest:
		return fail(ErrNewer, "%s: the store has version %d, this firstcue knows up to %d; it was left untouched. Use the newer firstcue", path, h.version, latest)
	}
	return nil
}

func readMigrations() ([]string, error) {
	entries, err := migrationFiles.ReadDir("migrations") // sorted by name
	if err != nil {
		return nil, err
	}
	var steps []string
	for i, e := range entries {
		n, _, _ := strings.Cut(e.Name(), "_")
		if v, err := strconv.Atoi(n); err != nil || v != i+1 {
			return nil, fmt.Errorf("migration %s: number %d expected", e.Name(), i+1)
		}
		b, err := migrationFiles.ReadFile("migrations/" + e.Name())
		if err != nil {
			return nil, err
		}
		steps = append(steps, string(b))
	}
	return steps, nil
}

// migrate brings the file up to date in one transaction, or leaves it as it was.
func (s *Store) migrate(ctx context.Context) error {
	latest := len(s.opt.steps)
	look := func() (version, application, tables int, err error) {
		err = errors.Join(s.conn.QueryRowContext(ctx, "PRAGMA user_version").Scan(&version),
			s.conn.QueryRowContext(ctx, "PRAGMA application_id").Scan(&application))
		if err == nil && (version != latest || application != applicationID) {
			err = s.conn.QueryRowContext(ctx, "SELECT count(*) FROM sqlite_schema").Scan(&tables)
		}
		return
	}
	version, application, tables, err := look()
	if err != nil {
		return err
	}
	if version == latest && application == applicationID {
		return nil
	}
	if s.opt.ReadOnly && version < latest && application == applicationID {
		return fail(ErrReadOnly, "%s: the store has the older version %d and must be brought up to date first: run any command that may write it", s.path, version)
	}
	if s.opt.ReadOnly || (tables > 0 && application != applicationID) || version > latest {
		return header{sqlite: true, application: uint32(application), version: uint32(version)}.check(s.path, latest)
	}
	if tables == 0 {
		// Sessions take about 2 KB: on pages of 4 KB half of the file would be air. It
		// has no effect once another command has made the first page.
		if _, err := s.conn.ExecContext(ctx, "PRAGMA page_size = "+strconv.Itoa(pageSize)); err != nil {
			return err
		}
	}
	return s.exclusively(ctx, func() error {
		// Another command may have done it while this one waited.
		if version, application, tables, err = look(); err != nil || version == latest {
			return err
		}
		if tables > 0 {
			// No other command can write until we commit, so the copy is whole.
			name := fmt.Sprintf("%s.v%d.%s", strings.TrimSuffix(filepath.Base(s.path), ".db"), version, s.opt.Now().UTC().Format(stamp))
			if err := copyStore(ctx, s.path, freeName(filepath.Join(s.opt.Backups, name))); err != nil {
				return fmt.Errorf("the copy before bringing the store up to date failed, nothing was changed: %w", err)
			}
		}
		for v := version; v < latest; v++ {
			if _, err := s.conn.ExecContext(ctx, s.opt.steps[v]); err != nil {
				return fmt.Errorf("version %d: %w", v+1, err)
			}
			if v+1 == logVersion {
				if err := s.intoLog(ctx); err != nil {
					return fmt.Errorf("version %d: %w", v+1, err)
				}
			}
		}
		if _, err := s.conn.ExecContext(ctx, "PRAGMA user_version = "+strconv.Itoa(latest)); err != nil {
			return err
		}
		if tables > 0 {
			return nil
		}
		writer := s.opt.Writer
		if writer == "" {
			b := make([]byte, 8)
			crand.Read(b) // never fails
			writer = hex.EncodeToString(b)
		}
		s.writer = writer
		if _, err := s.conn.ExecContext(ctx, "INSERT INTO store (one, writer, created) VALUES (1, ?, ?)", writer, clock(s.opt.Now())); err != nil {
			return err
		}
		t := s.newTx(ctx)
		defer t.closeStatements()
		if err := t.seed(); err != nil {
			return err
		}
		return t.closeFeed()
	})
}

// logVersion is the version of the schema that brought the log.
const logVersion = 2

// intoLog writes what was stored before there was the log.
func (s *Store) intoLog(ctx context.Context) error {
	t := s.newTx(ctx)
	defer t.closeStatements()
	if _, err := t.one("SELECT writer FROM store", nil, &t.writer); err != nil {
		return err
	}
	if err := t.fromV1(); err != nil {
		return err
	}
	return t.closeFeed()
}

// exclusively runs fn in a transaction that holds the write lock from the start.
func (s *Store) exclusively(ctx context.Context, fn func() error) error {
	return s.transact(ctx, s.lock, fn)
}

// lock begins a transaction that writes. SQLite's own wait looks again after a
// tenth of a second; a writer that stores one session after the other lets go
// for a millisecond only, and with seven of them the last one waited for more
// than ten seconds. Looking again every few milliseconds gives all a fair turn.
func (s *Store) lock(ctx context.Context) error {
	if _, err := s.conn.ExecContext(ctx, "PRAGMA busy_timeout = 0"); err != nil {
		return err
	}
	defer s.conn.ExecContext(context.WithoutCancel(ctx), "PRAGMA busy_timeout = "+strconv.Itoa(busyTimeout))
	for began := time.Now(); ; {
		_, err := s.conn.ExecContext(ctx, "BEGIN IMMEDIATE")
		if e := new(sqlite.Error); !errors.As(err, &e) || e.Code()&0xff != codeBusy || time.Since(began) > s.patience {
			return err
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-time.After(time.Millisecond + rand.N(8*time.Millisecond)):
		}
	}
}

// look begins a transaction that reads. It takes the lock at once, where the wait
// for it ends with ctx.
func (s *Store) look(ctx context.Context) error {
	if _, err := s.conn.ExecContext(ctx, "BEGIN DEFERRED"); err != nil {
		return err
	}
	_, err := s.conn.ExecContext(ctx, "SELECT 1 FROM sqlite_schema LIMIT 1")
	return err
}

func (s *Store) transact(ctx context.Context, begin func(context.Context) error, fn func() error) (err error) {
	if s.conn == nil {
		return errors.New("the store is closed")
	}
	done := false
	defer func() {
		if !done {
			// Also when fn panicked, when ctx is over, and when it was over in the
			// middle of the beginning: the lock must go.
			s.conn.ExecContext(context.WithoutCancel(ctx), "ROLLBACK")
		}
	}()
	if err := begin(ctx); err != nil {
		return err
	}
	if err := fn(); err != nil {
		return err
	}
	if err := ctx.Err(); err != nil {
		return err
	}
	// From here on it is stored: the driver calls a commit interrupted that was not.
	if _, err := s.conn.ExecContext(context.WithoutCancel(ctx), "COMMIT"); err != nil {
		return err
	}
	done = true
	return nil
}

// tx is one transaction: one instant of the clock, one view of the names.
type tx struct {
	*sql.Conn
	// ctx is the caller's without its end: for one that can end, the driver starts
	// a goroutine for every step, a tenth of a report. The end is looked for
	// before every statement and at every row instead.
	ctx    context.Context
	ended  func() error
	s      *Store
	now    time.Time
	writer string
	names  map[string]*names
	stmts  map[string]*sql.Stmt // those that write rows
	batch  string               // what changes of the lists belong to
	idOf   map[int64]string     // id of an entry by number
	// The numbers that the next session and revision get; 0 = not asked yet.
	nextSession, nextSeq, nextPlace int64
	feed                            int64                       // of this store; 0 = nothing was written yet
	standsAt                        int64                       // rebuilding: where the document is; 0 = it is new
	lists                           *training.Kennel            // places, devices and cues as this view has them
	lenient                         bool                        // salvage: an entry that is missing is nobody
	byDog                           map[int64]map[int64][]*held // sessions of a dog by start, for bulk
}

func (s *Store) newTx(ctx context.Context) *tx {
	return &tx{Conn: s.conn, ctx: context.WithoutCancel(ctx), ended: ctx.Err, s: s, now: s.opt.Now(), writer: s.writer, names: map[string]*names{}}
}

// write runs fn in one transaction: all of it is stored, or nothing.
func (s *Store) write(ctx context.Context, fn func(t *tx) error) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	if s.opt.ReadOnly {
		return fail(ErrReadOnly, "%s: the store was opened for reading only", s.path)
	}
	return explain(s.path, s.exclusively(ctx, func() error {
		t := s.newTx(ctx)
		defer t.closeStatements()
		if err := fn(t); err != nil {
			return err
		}
		return t.closeFeed()
	}))
}

// read runs fn on one state of the store, whatever others write meanwhile.
func (s *Store) read(ctx context.Context, fn func(t *tx) error) error {
	s.mu.Lock()
	defer s.mu.Unlock()
	return explain(s.path, s.transact(ctx, s.look, func() error {
		return fn(s.newTx(ctx))
	}))
}

func (t *tx) exec(q string, args ...any) error {
	if err := t.ended(); err != nil {
		return err
	}
	_, err := t.ExecContext(t.ctx, q, args...)
	return err
}

// each calls row for every row of the query.
func (t *tx) each(row func(scan func(...any) error) error, q string, args ...any) error {
	if watch != nil {
		watch(q, args)
	}
	if err := t.ended(); err != nil {
		return err
	}
	rows, err := t.QueryContext(t.ctx, q, args...)
	if err != nil {
		return err
	}
	defer rows.Close()
	for rows.Next() {
		if err := t.ended(); err != nil {
			return err
		}
		if err := row(rows.Scan); err != nil {
			return err
		}
	}
	return rows.Err()
}

// watch, in tests, is told of every query.
var watch func(q string, args []any)

// one scans the only row of the query; found is false when there is none.
func (t *tx) one(q string, args []any, dest ...any) (found bool, err error) {
	if watch != nil {
		watch(q, args)
	}
	if err := t.ended(); err != nil {
		return false, err
	}
	rows, err := t.QueryContext(t.ctx, q, args...)
	if err != nil {
		return false, err
	}
	defer rows.Close()
	if rows.Next() {
		if err := rows.Scan(dest...); err != nil {
			return false, err
		}
		found = true
	}
	return found, rows.Err()
}

// insert writes one row. The statement is kept until the end of the transaction.
func (t *tx) insert(table, columns string, args ...any) error {
	if err := t.ended(); err != nil {
		return err
	}
	stmt := t.stmts[table]
	if stmt == nil {
		q := "INSERT INTO " + table + " (" + columns + ") VALUES (?" + strings.Repeat(",?", len(args)-1) + ")"
		var err error
		if stmt, err = t.PrepareContext(t.ctx, q); err != nil {
			return err
		}
		if t.stmts == nil {
			t.stmts = map[string]*sql.Stmt{}
		}
		t.stmts[table] = stmt
	}
	_, err := stmt.ExecContext(t.ctx, args...)
	return err
}

func (t *tx) closeStatements() {
	for _, stmt := range t.stmts {
		stmt.Close()
	}
	t.stmts = nil
}

// copyStore writes a whole, checked copy of the store at src to dst. Nothing
// appears under the name dst before it is complete.
func copyStore(ctx context.Context, src, dst string) error {
	if err := os.MkdirAll(filepath.Dir(dst), 0o700); err != nil {
		return err
	}
	// For writing where it may be: a journal left by a killed command must be
	// rolled back before the file can be read. A file open in this process must
	// not be opened and closed to find out.
	mode := "rw"
	if openHere(src, 0) == 0 && !writable(src) {
		mode = "ro"
	}
	db, err := openFile(src, mode)
	if err != nil {
		return err
	}
	defer db.Close()
	return vacuumInto(ctx, db, dst)
}
