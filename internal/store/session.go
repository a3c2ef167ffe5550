package store

import (
	"bytes"
	"cmp"
	"context"
	"crypto/sha256"
	"database/sql/driver"
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"math/bits"
	"reflect"
	"strings"
	"sync"
	"time"
	"unicode/utf8"

	"github.com/google/uuid"

	"firstcue/internal/training"
)

// revision is a session as it was said at one time, with ids for names: a row
// of the table with its trials, and a line of an exchange file.
type revision struct {
	ID      string `json:"id"` // hash of all below
	Session string `json:"session"`
	Number  int    `json:"number"`
	Writer  string `json:"writer"`
	At      string `json:"at"`
	Why     string `json:"why,omitempty"`
	Voided  string `json:"voided,omitempty"`
	Batch   string `json:"batch"`
	// Parents are the revisions this one was written in sight of, by id, with a
	// blank between; "" for the first. One that nobody had seen when it was
	// overtaken is a conflict.
	Parents string `json:"parents,omitempty"`

	Dog          string          `json:"dog"`
	Handler      string          `json:"handler,omitempty"`
	Scorer       string          `json:"scorer,omitempty"`
	Start        string          `json:"start"`
	Zone         string          `json:"zone,omitempty"`
	Part         int             `json:"part,omitempty"`
	Place        string          `json:"place,omitempty"`
	Leash        training.Leash  `json:"leash,omitempty"`
	Distraction  training.Num    `json:"distraction,omitzero"`
	Device       string          `json:"device,omitempty"`
	WorkingLevel training.Num    `json:"workingLevel,omitzero"`
	Weather      string          `json:"weather,omitempty"`
	Reward       string          `json:"reward,omitempty"`
	Source       training.Source `json:"source,omitempty"`
	Baseline     bool            `json:"baseline,omitempty"`
	Note         string          `json:"note,omitempty"`
	Carried      string          `json:"carried,omitempty"`
	Rescores     string          `json:"rescores,omitempty"`
	Trials       []trial         `json:"trials,omitempty"`
	Remarks      []remark        `json:"remarks,omitempty"`

	content string
	start   time.Time
	atMS    int64
}

type trial struct {
	Cue         string           `json:"cue"`
	Kind        training.Kind    `json:"kind"`
	Signal      training.Signal  `json:"signal,omitempty"`
	Outcome     training.Outcome `json:"outcome"`
	Asks        int              `json:"asks,omitempty"`
	Did         string           `json:"did,omitempty"`
	Latency     training.Num     `json:"latency,omitzero"`
	Completion  training.Num     `json:"completion,omitzero"`
	Waited      training.Num     `json:"waited,omitzero"`
	Begun       training.Num     `json:"begun,omitzero"`
	Prompts     []string         `json:"prompts,omitempty"`
	Corrections []correction     `json:"corrections,omitempty"`
	Target      training.Num     `json:"target,omitzero"`
	Held        training.Num     `json:"held,omitzero"`
	Walked      training.Num     `json:"walked,omitzero"`
	Breaks      int              `json:"breaks,omitempty"`
	Distance    training.Num     `json:"distance,omitzero"`
	Yes         int              `json:"yes,omitempty"`
	Of          int              `json:"of,omitempty"`
	At          training.Num     `json:"at,omitzero"`
	Marks       string           `json:"marks,omitempty"`
	Line        int              `json:"line,omitempty"`
}

type correction struct {
	Kind   training.CorrectionKind `json:"kind"`
	Level  training.Num            `json:"level,omitzero"`
	Device string                  `json:"device,omitempty"`
	Served bool                    `json:"served,omitempty"`
}

type remark struct {
	Text     string `json:"text"`
	Incident bool   `json:"incident,omitempty"`
	Line     int    `json:"line,omitempty"`
}

// hasher writes values one after the other so that no two different sessions
// give the same bytes.
type hasher struct{ b bytes.Buffer }

// hashers keeps the room that a session takes for the next.
var hashers = sync.Pool{New: func() any { return new(hasher) }}

func (h *hasher) str(s ...string) {
	for _, s := range s {
		h.b.Write(binary.AppendUvarint(h.b.AvailableBuffer(), uint64(len(s))))
		h.b.WriteString(s)
	}
}

func (h *hasher) int(v ...int) {
	for _, v := range v {
		h.b.Write(binary.AppendVarint(h.b.AvailableBuffer(), int64(v)))
	}
}

func (h *hasher) bool(v bool) {
	if v {
		h.b.WriteByte(1)
	} else {
		h.b.WriteByte(0)
	}
}

func (h *hasher) num(v ...training.Num) {
	for _, v := range v {
		h.bool(v.Known)
		if v.Known {
			h.b.Write(binary.BigEndian.AppendUint64(h.b.AvailableBuffer(), math.Float64bits(v.V+0))) // -0 is 0
		}
	}
}

func (h *hasher) sum() string {
	sum := sha256.Sum256(h.b.Bytes())
	return hex.EncodeToString(sum[:16])
}

// hash sets content and returns the id the revision must have.
func (r *revision) hash() string {
	h := hashers.Get().(*hasher)
	defer hashers.Put(h)
	h.b.Reset()
	h.str("session", r.Dog, r.Handler, r.Scorer, r.Start, r.Zone)
	h.int(r.Part)
	h.str(r.Place, string(r.Leash), r.Device, r.Weather, r.Reward, string(r.Source), r.Note, r.Carried, r.Rescores)
	h.num(r.Distraction, r.WorkingLevel)
	h.bool(r.Baseline)
	h.int(len(r.Trials), len(r.Remarks))
	for i := range r.Trials {
		t := &r.Trials[i]
		h.str(t.Cue, string(t.Kind), string(t.Signal), string(t.Outcome), t.Did, t.Marks)
		h.int(t.Asks, t.Breaks, t.Yes, t.Of, t.Line, len(t.Prompts), len(t.Corrections))
		h.num(t.Latency, t.Completion, t.Waited, t.Begun, t.Target, t.Held, t.Walked, t.Distance, t.At)
		h.str(t.Prompts...)
		for _, c := range t.Corrections {
			h.str(string(c.Kind), c.Device)
			h.num(c.Level)
			h.bool(c.Served)
		}
	}
	for _, m := range r.Remarks {
		h.str(m.Text)
		h.bool(m.Incident)
		h.int(m.Line)
	}
	r.content = h.sum()
	h.b.Reset()
	h.str("revision", r.content, r.Session, r.Writer, r.At, r.Why, r.Voided, r.Batch, r.Parents)
	h.int(r.Number)
	return h.sum()
}

// check refuses what could not be stored and read back the same.
func (r *revision) check() error {
	bad := func(format string, args ...any) error {
		return fail(ErrInvalid, "session of %s: %s", r.Start, fmt.Sprintf(format, args...))
	}
	for _, s := range []string{r.Zone, string(r.Leash), r.Weather, r.Reward, string(r.Source), r.Note, r.Carried, r.Rescores, r.Why, r.Voided} {
		if !utf8.ValidString(s) {
			return bad("%q is not valid UTF-8 text", s)
		}
	}
	if finite(r.Distraction, r.WorkingLevel) != nil {
		return bad("a number is not finite")
	}
	for i := range r.Trials {
		t := &r.Trials[i]
		if t.Cue == "" {
			return bad("trial %d has no cue", i+1)
		}
		for _, s := range append([]string{t.Did, t.Marks, string(t.Signal)}, t.Prompts...) {
			if !utf8.ValidString(s) {
				return bad("trial %d: %q is not valid UTF-8 text", i+1, s)
			}
		}
		if finite(t.Latency, t.Completion, t.Waited, t.Begun, t.Target, t.Held, t.Walked, t.Distance, t.At) != nil {
			return bad("trial %d: a number is not finite", i+1)
		}
		for _, c := range t.Corrections {
			if finite(c.Level) != nil {
				return bad("trial %d: a level is not finite", i+1)
			}
		}
	}
	for _, m := range r.Remarks {
		if !utf8.ValidString(m.Text) {
			return bad("remark %q is not valid UTF-8 text", m.Text)
		}
	}
	return nil
}

func finite(n ...training.Num) error {
	for _, n := range n {
		if n.Known && (math.IsNaN(n.V) || math.IsInf(n.V, 0)) {
			return errors.New("not finite")
		}
	}
	return nil
}

// revisionOf puts ids for the names of a session. Every name must be known.
func (t *tx) revisionOf(s *training.Session) (*revision, error) {
	r := &revision{
		Voided: s.Voided, Start: clock(s.Start), Zone: s.Zone, Part: s.Part, Leash: s.Leash, Distraction: s.Distraction,
		WorkingLevel: s.WorkingLevel, Weather: s.Weather, Reward: s.Reward, Source: s.Source, Baseline: s.Baseline,
		Note: s.Note, Carried: s.Carried, Rescores: s.Rescores,
	}
	if s.Dog == "" {
		return nil, fail(ErrInvalid, "session of %s: no dog is named", r.Start)
	}
	if y := s.Start.Year(); y < 1970 || y > 9999 {
		return nil, fail(ErrInvalid, "session of %s: the start %s can't be right", s.Dog, r.Start)
	}
	r.start = s.Start
	for _, x := range []struct {
		to   *string
		k    kind
		name string
	}{{&r.Dog, aDog, s.Dog}, {&r.Handler, aHandler, s.Handler}, {&r.Scorer, aHandler, s.Scorer}, {&r.Place, aPlace, s.Place}, {&r.Device, aDevice, s.Device}} {
		e, err := t.need(x.k, x.name)
		if err != nil {
			return nil, err
		}
		*x.to = e.id
	}
	if len(s.Trials) > 0 {
		r.Trials = make([]trial, len(s.Trials))
	}
	for i := range s.Trials {
		f := &s.Trials[i]
		cue, err := t.need(aCue, f.Cue)
		if err != nil {
			return nil, err
		}
		r.Trials[i] = trial{
			Cue: cue.id, Kind: f.Kind, Signal: f.Signal, Outcome: f.Outcome, Asks: f.Asks, Did: f.Did,
			Latency: f.Latency, Completion: f.Completion, Waited: f.Waited, Begun: f.Begun, Prompts: f.Prompts,
			Target: f.Target, Held: f.Held, Walked: f.Walked, Breaks: f.Breaks, Distance: f.Distance,
			Yes: f.Tally.Yes, Of: f.Tally.Of, At: f.At, Marks: f.Marks, Line: f.Line,
		}
		for _, c := range f.Corrections {
			device, err := t.need(aDevice, c.Device)
			if err != nil {
				return nil, err
			}
			r.Trials[i].Corrections = append(r.Trials[i].Corrections, correction{Kind: c.Kind, Level: c.Level, Device: device.id, Served: c.Served})
		}
	}
	for _, m := range s.Remarks {
		r.Remarks = append(r.Remarks, remark(m))
	}
	return r, r.check()
}

// inserter keeps statements and rows of one transaction, so that rows are
// written many at a time: on the driver's own connection this is several times
// as fast as one by one through database/sql.
type inserter struct {
	sessions, revisions, trials, corrections, remarks rows
	// Most trials of an import have nothing but a few columns, and of these most
	// have the same kind, signal, outcome and asks. Each of the commonest such
	// sets has a statement in which they are written out: a text to bind costs
	// more than a row to insert.
	plain                     []*rows
	byShape                   map[shape]*rows
	nextSession, nextRevision int64
}

// shape is what plain trials have in common.
type shape struct {
	kind    training.Kind
	signal  training.Signal
	outcome training.Outcome
	asks    int
}

type rows struct {
	head  string // up to VALUES
	row   string // one row, with a ? for each of width values
	width int
	args  []driver.NamedValue
	stmts map[int]driver.Stmt // by number of rows
}

// rowsAtOnce is how many rows a statement inserts at most. What is left over goes
// by halves, 32, 16 and so on: a statement for every number of rows took half of
// the memory of an import.
const rowsAtOnce = 64

func (r *rows) add(v ...driver.Value) {
	if r.width != len(v) {
		panic("store: " + r.head)
	}
	for _, v := range v {
		r.args = append(r.args, driver.NamedValue{Value: v})
	}
}

func (r *rows) write(ctx context.Context, c driver.Conn, all []driver.NamedValue) error {
	for at := 0; at < len(all); {
		n := 1 << (bits.Len(uint(min(rowsAtOnce, (len(all)-at)/r.width))) - 1)
		s := r.stmts[n]
		if s == nil {
			var err error
			if s, err = c.Prepare(r.head + " VALUES " + r.row + strings.Repeat(","+r.row, n-1)); err != nil {
				return err
			}
			r.stmts[n] = s
		}
		args := all[at : at+n*r.width]
		for i := range args {
			args[i].Ordinal = i + 1
		}
		if _, err := s.(driver.StmtExecContext).ExecContext(ctx, args); err != nil {
			return err
		}
		at += n * r.width
	}
	return nil
}

func (r *rows) close() error {
	var err error
	for _, s := range r.stmts {
		err = errors.Join(err, s.Close())
	}
	clear(r.stmts)
	return err
}

// all returns the tables in the order in which they must be written. Revisions
// go before the sessions they refer to: the other way round SQLite would look
// through all sessions for each revision, to see which had waited for it.
func (in *inserter) all() []*rows {
	return append(append([]*rows{&in.revisions, &in.sessions}, in.plain...), &in.trials, &in.corrections, &in.remarks)
}

// most is how many shapes of plain trials have statements of their own.
const most = 8

// plainly returns the rows for plain trials of the shape, nil when it is rare.
func (in *inserter) plainly(x shape) *rows {
	r, ok := in.byShape[x]
	if ok || len(in.plain) == most {
		return r
	}
	if strings.ContainsAny(string(x.kind)+string(x.signal)+string(x.outcome), "'\x00") {
		return nil
	}
	r = &rows{
		head:  "INSERT INTO trial (revision, position, cue, kind, signal, outcome, asks, latency, corrections, breaks, marks, line)",
		row:   fmt.Sprintf("(?,?,?,'%s','%s','%s',%d,?,0,0,?,?)", x.kind, x.signal, x.outcome, x.asks),
		width: 6, stmts: map[int]driver.Stmt{},
	}
	in.byShape[x] = r
	in.plain = append(in.plain, r)
	return r
}

func (in *inserter) close() error {
	if in == nil {
		return nil
	}
	var err error
	for _, r := range in.all() {
		err = errors.Join(err, r.close())
	}
	return err
}

func (t *tx) inserter() (*inserter, error) {
	if t.stmts != nil {
		return t.stmts, nil
	}
	table := func(name, columns string) rows {
		n := strings.Count(columns, ",")
		return rows{head: "INSERT INTO " + name + " (" + columns + ")", row: "(?" + strings.Repeat(",?", n) + ")", width: n + 1, stmts: map[int]driver.Stmt{}}
	}
	in := &inserter{
		byShape:     map[shape]*rows{},
		sessions:    table("session", "n, id, shown, dog, start_ms, day, standing"),
		revisions:   table("revision", "n, id, session, number, writer, at, at_ms, why, voided, parents, batch, content, dog, handler, scorer, start, start_ms, zone, part, place, leash, distraction, device, working_level, weather, reward, source, baseline, note, carried, rescores"),
		trials:      table("trial", "revision, position, cue, kind, signal, outcome, asks, did, latency, completion, waited, begun, prompts, corrections, highest, last, device, target, held, walked, breaks, distance, yes, tried, at, marks, line"),
		corrections: table("correction", "revision, position, turn, kind, level, device, served"),
		remarks:     table("remark", "revision, position, text, line, incident"),
	}
	if err := t.count(in); err != nil {
		return nil, err
	}
	t.stmts = in
	return in, nil
}

// count finds out the numbers that the next session and revision get.
func (t *tx) count(in *inserter) error {
	_, err := t.one("SELECT coalesce((SELECT max(n) FROM session), 0) + 1, coalesce((SELECT max(n) FROM revision), 0) + 1", nil, &in.nextSession, &in.nextRevision)
	return err
}

// flush writes the rows that wait, and returns when they are written.
func (t *tx) flush() error {
	switch {
	case t.stmts == nil:
		return nil
	case t.writing == nil:
		chunks := t.stmts.take()
		err := t.writeRows(chunks)
		giveBack(chunks)
		return err
	}
	chunks, done := t.stmts.take(), make(chan error)
	giveBack(<-t.writing.spare)
	t.writing.jobs <- job{chunks, done}
	return <-done
}

// handOver is flush without the wait: another goroutine writes the rows while
// this one makes the next. What goes wrong comes out at the next flush.
func (t *tx) handOver() {
	w := t.writing
	if w == nil {
		w = &writing{jobs: make(chan job, 1), spare: make(chan []chunk, 2), over: make(chan struct{})}
		w.spare <- nil
		w.spare <- nil
		t.writing = w
		go func() {
			defer close(w.over)
			for j := range w.jobs {
				if w.err == nil {
					w.err = t.writeRows(j.chunks)
				}
				w.spare <- j.chunks
				if j.done != nil {
					j.done <- w.err
				}
			}
		}()
	}
	chunks := t.stmts.take()
	giveBack(<-w.spare)
	w.jobs <- job{chunks, nil}
}

// stopWriting waits for the goroutine that writes, and ends it.
func (t *tx) stopWriting() error {
	w := t.writing
	if w == nil {
		return nil
	}
	t.writing = nil
	close(w.jobs)
	<-w.over
	return w.err
}

// writing is the goroutine that writes rows while the next are made: SQLite takes
// most of the time of an import, and only one processor. It asks nothing of tx
// but the connection, which lets in one at a time.
type writing struct {
	jobs  chan job
	spare chan []chunk  // what was written: its memory is used again
	over  chan struct{} // closed at its end
	err   error         // the first; to be read when it has ended
}

// job is one hand-over.
type job struct {
	chunks []chunk
	done   chan<- error // nil = nobody waits
}

// chunk is rows of one table.
type chunk struct {
	of   *rows
	args []driver.NamedValue
}

// take gives away the rows that wait.
func (in *inserter) take() []chunk {
	var out []chunk
	for _, r := range in.all() {
		if len(r.args) > 0 {
			out = append(out, chunk{r, r.args})
			r.args = nil
		}
	}
	return out
}

// giveBack lets the memory of rows that are written be used again.
func giveBack(chunks []chunk) {
	for _, c := range chunks {
		if c.of.args == nil {
			c.of.args = c.args[:0]
		}
	}
}

func (t *tx) writeRows(chunks []chunk) error {
	return t.Raw(func(conn any) error {
		for _, c := range chunks {
			if err := c.of.write(t.ctx, conn.(driver.Conn), c.args); err != nil {
				return err
			}
		}
		return nil
	})
}

// pending reports that enough rows wait to be worth writing.
func (t *tx) pending() bool {
	if t.stmts == nil {
		return false
	}
	n := len(t.stmts.trials.args) / t.stmts.trials.width
	for _, r := range t.stmts.plain {
		n += len(r.args) / r.width
	}
	return n >= 2000
}

// refNumber is number with a memory.
func (t *tx) refNumber(k kind, id string) (any, error) {
	if id == "" {
		return nil, nil
	}
	c := t.cache(k)
	if r, ok := c.byID[id]; ok {
		return r, nil
	}
	n, err := t.number(k, id)
	if err == nil && n == nil { // salvage: what was said of it is kept, under some name
		name := fmt.Sprintf("(lost %s %s)", k, id[max(0, len(id)-6):])
		ch := change{Kind: k, Entity: id, At: seededAt, Content: plainJSON(map[string]string{"name": name}), Said: name}
		if err := t.addChange(&ch); err != nil {
			return nil, err
		}
		if err := t.settle(k, []string{id}); err != nil {
			return nil, err
		}
		c = t.cache(k)
		n, err = t.number(k, id)
	}
	if err == nil {
		c.byID[id] = n.(int64)
	}
	return n, err
}

// held is what must be known of a stored session to place a revision.
type held struct {
	n        int64 // number of the session, 0 = not stored yet
	id       string
	shown    int64 // number of the revision in force
	number   int
	atMS     int64
	writer   string
	revID    string
	content  string
	voided   string
	rescores string
	part     int
	startMS  int64
	dog      int64
	handler  int64 // as they are shown
	scorer   int64
}

// precedes reports whether the revision in force gives way to r.
func (h *held) precedes(r *revision) bool {
	return h.shown == 0 || cmp.Or(cmp.Compare(h.number, r.Number), cmp.Compare(h.atMS, r.atMS), cmp.Compare(h.writer, r.Writer), cmp.Compare(h.revID, r.ID)) < 0
}

// addRevision writes a revision of the session h and, if it is the one to show,
// shows it. r.ID must be r.hash().
func (t *tx) addRevision(h *held, r *revision) error {
	in, err := t.inserter()
	if err != nil {
		return err
	}
	if r.start.IsZero() {
		if r.start, err = parseClock(r.Start); err != nil {
			return fail(ErrInvalid, "%v", err)
		}
	}
	if r.atMS == 0 {
		at, err := parseClock(r.At)
		if err != nil {
			return fail(ErrInvalid, "%v", err)
		}
		r.atMS = at.UnixMilli()
	}
	dog, err1 := t.refNumber(aDog, r.Dog)
	handler, err2 := t.refNumber(aHandler, r.Handler)
	scorer, err3 := t.refNumber(aHandler, r.Scorer)
	place, err4 := t.refNumber(aPlace, r.Place)
	device, err5 := t.refNumber(aDevice, r.Device)
	if err := cmp.Or(err1, err2, err3, err4, err5); err != nil {
		return err
	}
	revN := in.nextRevision
	in.nextRevision++
	var n driver.Value = revN // made once for all its rows
	fresh := h.n == 0
	if fresh {
		h.n, h.id = in.nextSession, r.Session
		in.nextSession++
	}
	startMS, startDay, standing := r.start.UnixMilli(), int64(training.DayOf(r.start)), bit(r.Voided == "")
	if fresh {
		in.sessions.add(h.n, h.id, n, dog, startMS, startDay, standing)
	}
	in.revisions.add(n, r.ID, h.n, int64(r.Number), r.Writer, r.At, r.atMS, r.Why, r.Voided, r.Parents, r.Batch, r.content, dog, handler, scorer,
		r.Start, startMS, r.Zone, int64(r.Part), place, string(r.Leash), num(r.Distraction), device, num(r.WorkingLevel), r.Weather, r.Reward,
		string(r.Source), bit(r.Baseline), r.Note, r.Carried, text(r.Rescores))
	for i := range r.Trials {
		f := &r.Trials[i]
		cue, err := t.refNumber(aCue, f.Cue)
		if err != nil {
			return err
		}
		var highest, last training.Num
		var on any
		for turn, c := range f.Corrections {
			d, err := t.refNumber(aDevice, c.Device)
			if err != nil {
				return err
			}
			if c.Level.Known {
				// Levels of two devices can't be compared: the highest is that
				// of the device used last.
				if d != on || !highest.Known || c.Level.V > highest.V {
					highest = c.Level
				}
				last, on = c.Level, d
			}
			in.corrections.add(n, int64(i), int64(turn), string(c.Kind), num(c.Level), d, bit(c.Served))
		}
		var prompts, yes, tried any
		if len(f.Prompts) > 0 {
			prompts = string(plainJSON(f.Prompts))
		}
		if f.Of != 0 || f.Yes != 0 {
			yes, tried = int64(f.Yes), int64(f.Of)
		}
		if f.Did == "" && len(f.Prompts)+len(f.Corrections)+f.Of+f.Yes == 0 && !f.Completion.Known && !f.Waited.Known && !f.Begun.Known &&
			!f.Target.Known && !f.Held.Known && !f.Walked.Known && f.Breaks == 0 && !f.Distance.Known && !f.At.Known {
			if plain := in.plainly(shape{f.Kind, f.Signal, f.Outcome, f.Asks}); plain != nil {
				plain.add(n, int64(i), cue, num(f.Latency), f.Marks, int64(f.Line))
				continue
			}
		}
		in.trials.add(n, int64(i), cue, string(f.Kind), string(f.Signal), string(f.Outcome), int64(f.Asks), text(f.Did), num(f.Latency), num(f.Completion),
			num(f.Waited), num(f.Begun), prompts, int64(len(f.Corrections)), num(highest), num(last), on, num(f.Target), num(f.Held), num(f.Walked),
			int64(f.Breaks), num(f.Distance), yes, tried, num(f.At), f.Marks, int64(f.Line))
	}
	of, times := map[string]int{}, map[string]int{}
	for _, m := range r.Remarks {
		if m.Incident {
			of[m.Text]++
		}
	}
	for i, m := range r.Remarks {
		var id any
		if m.Incident {
			id = incidentID(r.Session, m.Text, times[m.Text], of[m.Text])
			times[m.Text]++
		}
		in.remarks.add(n, int64(i), m.Text, int64(m.Line), id)
	}
	if !h.precedes(r) {
		return nil
	}
	h.shown, h.number, h.atMS, h.writer, h.revID, h.content, h.voided, h.rescores, h.part, h.startMS = revN, r.Number, r.atMS, r.Writer, r.ID, r.content, r.Voided, r.Rescores, r.Part, startMS
	h.dog, h.handler, h.scorer = number(dog), number(handler), number(scorer)
	if fresh {
		return nil
	}
	if err := t.flush(); err != nil {
		return err
	}
	return t.exec("UPDATE session SET shown = ?, dog = ?, start_ms = ?, day = ?, standing = ? WHERE n = ?", n, dog, startMS, startDay, standing, h.n)
}

func number(v any) int64 {
	n, _ := v.(int64)
	return n
}

// incidentID is the same for the same words in the same session, so that a
// closed incident stays closed when the rest of the note is amended. Where the
// same words stand several times, their number is part of the id: when one goes,
// the others must not take over its place, and with it that it was closed.
func incidentID(session, text string, time, of int) string {
	return digest("incident", session, text, fmt.Sprint(time), fmt.Sprint(of))
}

// sessionID is the id of a new session: a UUIDv7 whose time is the start of the
// session and whose other bits are drawn from what makes it one session, so that
// two laptops that log the same note give it the same id.
func sessionID(dog, scorer string, startMS int64, part int) string {
	sum := sha256.Sum256(fmt.Appendf(nil, "%s|%s|%d|%d", dog, scorer, startMS, part))
	var u uuid.UUID
	copy(u[:], sum[:16])
	ms := max(startMS, 0)
	for i := range 6 {
		u[i] = byte(ms >> (8 * (5 - i)))
	}
	u[6] = u[6]&0x0f | 0x70
	u[8] = u[8]&0x3f | 0x80
	return u.String()
}

const sessionColumns = `r.n, s.id, r.number, r.dog, coalesce(r.handler, 0), coalesce(r.scorer, 0), r.start, r.part, coalesce(r.place, 0), r.leash, r.distraction,
	coalesce(r.device, 0), r.working_level, r.weather, r.reward, r.source, r.baseline, r.note, r.carried, r.zone, coalesce(r.rescores, ''), r.voided`

const trialColumns = `t.revision, t.cue, t.kind, t.signal, t.outcome, t.asks, coalesce(t.did, ''), t.latency, t.completion, t.waited, t.begun, coalesce(t.prompts, ''),
	t.target, t.held, t.walked, t.breaks, t.distance, coalesce(t.yes, 0), coalesce(t.tried, 0), t.at, t.marks, t.line`

// sessions reads sessions with their trials. from is a FROM clause and all that
// follows but ORDER BY, with s for the session and r for the revision.
func (t *tx) sessions(from string, args ...any) ([]training.Session, error) {
	var out []training.Session
	at := map[int64]int{}
	type refs struct{ dog, handler, scorer, place, device int64 }
	var names []refs
	err := t.each(func(scan func(...any) error) error {
		var s training.Session
		var x refs
		var n int64
		var start string
		if err := scan(&n, &s.ID, &s.Revision, &x.dog, &x.handler, &x.scorer, &start, &s.Part, &x.place, &s.Leash, opt(&s.Distraction), &x.device, opt(&s.WorkingLevel),
			&s.Weather, &s.Reward, &s.Source, &s.Baseline, &s.Note, &s.Carried, &s.Zone, &s.Rescores, &s.Voided); err != nil {
			return err
		}
		var err error
		if s.Start, err = parseClock(start); err != nil {
			return err
		}
		at[n] = len(out)
		out, names = append(out, s), append(names, x)
		return nil
	}, "SELECT "+sessionColumns+" "+from+" ORDER BY r.start_ms, r.part, s.id, r.number, r.at_ms, r.writer, r.id", args...)
	if err != nil || len(out) == 0 {
		return nil, err
	}
	for i, x := range names {
		s := &out[i]
		for _, y := range []struct {
			to *string
			n  int64
		}{{&s.Dog, x.dog}, {&s.Handler, x.handler}, {&s.Scorer, x.scorer}, {&s.Place, x.place}, {&s.Device, x.device}} {
			e, err := t.nameOf(y.n)
			if err != nil {
				return nil, err
			}
			*y.to = e.name
		}
	}
	type cueRef struct {
		session, trial int
		cue            int64
	}
	var cues []cueRef
	err = t.eachRow(func(v *row) error {
		n, cue := v.int(0), v.int(1)
		f := training.Trial{Kind: training.Kind(v.str(2)), Signal: training.Signal(v.str(3)), Outcome: training.Outcome(v.str(4)), Asks: int(v.int(5)), Did: v.str(6),
			Latency: v.num(7), Completion: v.num(8), Waited: v.num(9), Begun: v.num(10), Target: v.num(12), Held: v.num(13), Walked: v.num(14), Breaks: int(v.int(15)),
			Distance: v.num(16), Tally: training.Tally{Yes: int(v.int(17)), Of: int(v.int(18))}, At: v.num(19), Marks: v.str(20), Line: int(v.int(21))}
		if prompts := v.str(11); prompts != "" {
			if err := json.Unmarshal([]byte(prompts), &f.Prompts); err != nil {
				return err
			}
		}
		i, ok := at[n]
		if !ok {
			return errTorn
		}
		cues = append(cues, cueRef{i, len(out[i].Trials), cue})
		out[i].Trials = append(out[i].Trials, f)
		return nil
	}, "SELECT "+trialColumns+" FROM trial t WHERE t.revision IN (SELECT r.n "+from+") ORDER BY t.revision, t.position", args...)
	if err != nil {
		return nil, err
	}
	for _, c := range cues {
		e, err := t.nameOf(c.cue)
		if err != nil {
			return nil, err
		}
		out[c.session].Trials[c.trial].Cue = e.name
	}
	type deviceRef struct {
		to     *training.Trial
		at     int
		device int64
	}
	var devices []deviceRef
	err = t.each(func(scan func(...any) error) error {
		var n, device int64
		var position int
		var c training.Correction
		if err := scan(&n, &position, &c.Kind, opt(&c.Level), &device, &c.Served); err != nil {
			return err
		}
		i, ok := at[n]
		if !ok || position >= len(out[i].Trials) {
			return errTorn
		}
		f := &out[i].Trials[position]
		devices = append(devices, deviceRef{f, len(f.Corrections), device})
		f.Corrections = append(f.Corrections, c)
		return nil
	}, "SELECT c.revision, c.position, c.kind, c.level, coalesce(c.device, 0), c.served FROM correction c WHERE c.revision IN (SELECT r.n "+from+") ORDER BY c.revision, c.position, c.turn", args...)
	if err != nil {
		return nil, err
	}
	for _, d := range devices {
		e, err := t.nameOf(d.device)
		if err != nil {
			return nil, err
		}
		d.to.Corrections[d.at].Device = e.name
	}
	err = t.each(func(scan func(...any) error) error {
		var n int64
		var m training.Remark
		if err := scan(&n, &m.Text, &m.Line, &m.Incident); err != nil {
			return err
		}
		i, ok := at[n]
		if !ok {
			return errTorn
		}
		s := &out[i]
		s.Remarks = append(s.Remarks, m)
		return nil
	}, "SELECT m.revision, m.text, m.line, m.incident IS NOT NULL FROM remark m WHERE m.revision IN (SELECT r.n "+from+") ORDER BY m.revision, m.position", args...)
	return out, err
}

// same reports whether two sessions say the same, whatever their ids,
// revisions and reasons are.
func same(a, b training.Session) bool {
	for _, s := range []*training.Session{&a, &b} {
		s.ID, s.Revision, s.Voided = "", 0, ""
		*s = normal(*s)
	}
	return reflect.DeepEqual(a, b)
}

// normal gives equal sessions one form: plain offsets, nil for empty lists.
func normal(s training.Session) training.Session {
	s.Start, _ = parseClock(clock(s.Start))
	if len(s.Remarks) == 0 {
		s.Remarks = nil
	}
	trials := s.Trials
	s.Trials = nil
	for _, f := range trials {
		if len(f.Prompts) == 0 {
			f.Prompts = nil
		}
		if len(f.Corrections) == 0 {
			f.Corrections = nil
		}
		s.Trials = append(s.Trials, f)
	}
	return s
}
