package store

import (
	"cmp"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"reflect"
	"slices"
	"time"
	"unicode/utf8"

	"github.com/google/uuid"

	"firstcue/internal/training"
)

// revision is a session as it was said at one time, with ids for names: a row
// of the table with its trials, and a line of an exchange file.
type revision struct {
	ID      string `json:"id,omitempty"` // hash of all below; not part of the document
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
	Cues         []string        `json:"cues,omitempty"` // those of the trials, in the document only
	Trials       []trial         `json:"trials,omitempty"`
	Remarks      []remark        `json:"remarks,omitempty"`
	Worn         []training.Worn `json:"worn,omitempty"`
	Skin         string          `json:"skin,omitempty"`
	Links        []training.Link `json:"links,omitempty"`
	Repeated     training.Num    `json:"repeated,omitzero"` // by the owner
	Late         training.Num    `json:"late,omitzero"`     // by the owner

	raw     []byte // the document
	content string // hash of what was said, without number, time, writer
	start   time.Time
	atMS    int64
}

type trial struct {
	Cue string `json:"-"`
	// In the document: which of the session's cues; a kind, outcome or number of
	// asks that is not there is a response, answered, one; -1 asks are none.
	CueAt       int              `json:"cue,omitempty"`
	Kind        training.Kind    `json:"kind,omitempty"`
	Signal      training.Signal  `json:"signal,omitempty"`
	Outcome     training.Outcome `json:"outcome,omitempty"`
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
	Strayed     []string         `json:"strayed,omitempty"`
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

// seal works out content, the document and the id of the revision.
func (r *revision) seal() {
	d := *r
	d.ID, d.Cues, d.Trials = "", nil, make([]trial, len(r.Trials))
	copy(d.Trials, r.Trials)
	for i := range d.Trials {
		f := &d.Trials[i]
		if f.CueAt = slices.Index(d.Cues, f.Cue); f.CueAt < 0 {
			f.CueAt = len(d.Cues)
			d.Cues = append(d.Cues, f.Cue)
		}
		if f.Kind == training.Response {
			f.Kind = ""
		}
		if f.Outcome == training.Answered {
			f.Outcome = ""
		}
		switch f.Asks {
		case 0:
			f.Asks = -1
		case 1:
			f.Asks = 0
		}
		for _, n := range []*training.Num{&f.Latency, &f.Completion, &f.Waited, &f.Begun, &f.Target, &f.Held, &f.Walked, &f.Distance, &f.At} {
			n.V += 0 // -0 is 0
		}
	}
	r.raw = plainJSON(&d)
	r.ID = hashOf(r.raw)
	d.Session, d.Number, d.Writer, d.At, d.Why, d.Voided, d.Batch, d.Parents = "", 0, "", "", "", "", "", ""
	r.content = hashOf(plainJSON(&d))
}

// decodeRevision reads a document that matches its hash.
func decodeRevision(body []byte) (*revision, error) {
	r := &revision{}
	if err := json.Unmarshal(body, r); err != nil {
		return nil, fail(ErrInvalid, "a session can't be read: %v", err)
	}
	for i := range r.Trials {
		f := &r.Trials[i]
		if f.CueAt < 0 || f.CueAt >= len(r.Cues) {
			return nil, fail(ErrInvalid, "trial %d has no cue", i+1)
		}
		f.Cue, f.CueAt = r.Cues[f.CueAt], 0
		f.Kind, f.Outcome = cmp.Or(f.Kind, training.Response), cmp.Or(f.Outcome, training.Answered)
		f.Asks = max(0, map[bool]int{true: 1, false: f.Asks}[f.Asks == 0])
	}
	r.Cues = nil
	r.raw = body
	return r, nil
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
	if r.Part < 0 || r.Number < 0 || r.Distraction.Known && (r.Distraction.V < 0 || r.Distraction.V > 4) {
		return bad("a value is out of its range")
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
		if !slices.Contains(training.Kinds, t.Kind) || !slices.Contains(outcomes, t.Outcome) || t.Asks < 0 || t.Breaks < 0 || t.Yes < 0 || t.Of < t.Yes {
			return bad("trial %d: a value is out of its range", i+1)
		}
		for _, n := range []training.Num{t.Latency, t.Completion, t.Waited, t.Begun, t.Target, t.Held, t.Walked, t.Distance} {
			if n.V < 0 {
				return bad("trial %d: a value is out of its range", i+1)
			}
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

var outcomes = []training.Outcome{training.Answered, training.Refused, training.Held, training.Broke, training.Released, training.Walked, training.Counted, training.Unscored, training.Early, training.Already}

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
		Worn: s.Worn, Skin: s.Skin, Links: s.Links, Repeated: s.OwnerRepeated, Late: s.OwnerLate,
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
			Target: f.Target, Held: f.Held, Walked: f.Walked, Breaks: f.Breaks, Strayed: f.Strayed, Distance: f.Distance,
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

// count finds out the numbers that the next session and document get.
func (t *tx) count() error {
	if t.nextSession > 0 {
		return nil
	}
	if _, err := t.one("SELECT coalesce((SELECT max(n) FROM session), 0) + 1, coalesce((SELECT max(seq) FROM entry), 0) + 1", nil, &t.nextSession, &t.nextSeq); err != nil {
		return err
	}
	found, err := t.one("SELECT n, last + 1 FROM feed WHERE writer = ?", []any{t.writer}, &t.feed, &t.nextPlace)
	if err == nil && !found {
		t.nextPlace = 1
		_, err = t.one("INSERT INTO feed (n, writer, last) VALUES (coalesce((SELECT max(n) FROM feed), 0) + 1, ?, 0) RETURNING n", []any{t.writer}, &t.feed)
	}
	return err
}

// append puts a document at the end of the log and returns its number here.
func (t *tx) append(kind, key, batch, id string, body []byte) (seq int64, err error) {
	if err := t.count(); err != nil {
		return 0, err
	}
	if t.standsAt > 0 {
		return t.standsAt, nil
	}
	seq = t.nextSeq
	if err := t.insert("entry", "seq, feed, place, kind, key, batch, id, body", seq, t.feed, t.nextPlace, kind, key, batch, id, string(body)); err != nil {
		return 0, err
	}
	t.nextSeq++
	t.nextPlace++
	return seq, nil
}

// closeFeed says how far the feed of this store is, once for a transaction.
func (t *tx) closeFeed() error {
	if t.feed == 0 || t.standsAt > 0 {
		return nil
	}
	return t.exec("UPDATE feed SET last = ? WHERE n = ?", t.nextPlace-1, t.feed)
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
	if err := t.count(); err != nil {
		return err
	}
	if r.start.IsZero() {
		start, err := parseClock(r.Start)
		if err != nil {
			return fail(ErrInvalid, "%v", err)
		}
		r.start = start
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
	_, err5 := t.refNumber(aDevice, r.Device)
	err := cmp.Or(err1, err2, err3, err4, err5)
	for i := range r.Trials { // every name must be on the lists
		_, unknown := t.refNumber(aCue, r.Trials[i].Cue)
		err = cmp.Or(err, unknown)
		for _, c := range r.Trials[i].Corrections {
			_, unknown := t.refNumber(aDevice, c.Device)
			err = cmp.Or(err, unknown)
		}
	}
	if err != nil {
		return err
	}
	fresh := h.n == 0
	if fresh {
		h.n, h.id = t.nextSession, r.Session
		t.nextSession++
	}
	startMS, startDay, standing := r.start.UnixMilli(), int64(training.DayOf(r.start)), bit(r.Voided == "")
	n, err := t.append("session", r.Session, r.Batch, r.ID, r.raw)
	if err != nil {
		return err
	}
	if err := t.insert("revision", "n, id, session, number, writer, at_ms, voided, parents, batch, content, dog, handler, scorer, place, start_ms, part, rescores, trials",
		n, r.ID, h.n, r.Number, r.Writer, r.atMS, r.Voided, r.Parents, r.Batch, r.content, dog, handler, scorer, place, startMS, r.Part, r.Rescores, len(r.Trials)); err != nil {
		return err
	}
	if fresh {
		if err := t.insert("session", "n, id, shown, dog, start_ms, day, standing", h.n, h.id, n, dog, startMS, startDay, standing); err != nil {
			return err
		}
	}
	if err := t.addNoted(n, r); err != nil {
		return err
	}
	if !h.precedes(r) {
		return nil
	}
	h.shown, h.number, h.atMS, h.writer, h.revID, h.content, h.voided, h.rescores, h.part, h.startMS = n, r.Number, r.atMS, r.Writer, r.ID, r.content, r.Voided, r.Rescores, r.Part, startMS
	h.dog, h.handler, h.scorer = number(dog), number(handler), number(scorer)
	if fresh {
		return nil
	}
	return t.exec("UPDATE session SET shown = ?, dog = ?, start_ms = ?, day = ?, standing = ? WHERE n = ?", n, dog, startMS, startDay, standing, h.n)
}

// addNoted lists the incidents that a revision notes.
func (t *tx) addNoted(n int64, r *revision) error {
	of, times := map[string]int{}, map[string]int{}
	for _, m := range r.Remarks {
		if m.Incident {
			of[m.Text]++
		}
	}
	for i, m := range r.Remarks {
		if !m.Incident {
			continue
		}
		id := incidentID(r.Session, m.Text, times[m.Text], of[m.Text])
		times[m.Text]++
		if err := t.insert("noted", "revision, position, text, incident", n, i, m.Text, id); err != nil {
			return err
		}
	}
	return nil
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

// stored is a document of a session as it was read.
type stored struct {
	n int64
	*revision
}

// revisions reads and checks the documents of sessions. from is a FROM clause and
// all that follows but ORDER BY, with s for the session and r for the revision.
func (t *tx) revisions(from string, args ...any) ([]stored, error) {
	var out []stored
	err := t.each(func(scan func(...any) error) error {
		var x stored
		var id, session, voided string
		var number int
		var startMS int64
		var body []byte
		if err := scan(&x.n, &id, &session, &number, &voided, &startMS, &body); err != nil {
			return err
		}
		var err error
		if x.revision, err = readRevision(id, body); err != nil {
			return err
		}
		if x.Session != session || x.Number != number || x.Voided != voided || x.start.UnixMilli() != startMS {
			return errTorn
		}
		out = append(out, x)
		return nil
	}, "SELECT r.n, r.id, s.id, r.number, r.voided, r.start_ms, (SELECT e.body FROM entry e WHERE e.seq = r.n) "+from+" ORDER BY r.start_ms, r.part, s.id, r.number, r.at_ms, r.writer, r.id", args...)
	return out, err
}

// readRevision reads a document and holds it against its hash.
func readRevision(id string, body []byte) (*revision, error) {
	if hashOf(body) != id {
		return nil, errTorn
	}
	r, err := decodeRevision(body)
	if err != nil {
		return nil, errTorn
	}
	r.ID = id
	if r.start, err = parseClock(r.Start); err != nil {
		return nil, errTorn
	}
	return r, nil
}

// sessions is revisions with names for ids.
func (t *tx) sessions(from string, args ...any) ([]training.Session, error) {
	list, err := t.revisions(from, args...)
	if err != nil || len(list) == 0 {
		return nil, err
	}
	out := make([]training.Session, len(list))
	for i, x := range list {
		if out[i], err = t.sessionOf(x.revision); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// sessionOf puts names for the ids of a revision.
func (t *tx) sessionOf(r *revision) (training.Session, error) {
	var wrong error
	name := func(k kind, id string) string {
		s, err := t.nameByID(k, id)
		if err == nil && s == "" && id != "" {
			err = fail(ErrDamaged, "the %s with the id %s is missing; run: firstcue store check", k, id)
		}
		wrong = cmp.Or(wrong, err)
		return s
	}
	s := training.Session{
		ID: r.Session, Revision: r.Number, Dog: name(aDog, r.Dog), Handler: name(aHandler, r.Handler), Scorer: name(aHandler, r.Scorer), Start: r.start, Part: r.Part,
		Place: name(aPlace, r.Place), Leash: r.Leash, Distraction: r.Distraction, Device: name(aDevice, r.Device), WorkingLevel: r.WorkingLevel,
		Weather: r.Weather, Reward: r.Reward, Source: r.Source, Baseline: r.Baseline, Note: r.Note, Carried: r.Carried, Zone: r.Zone, Rescores: r.Rescores, Voided: r.Voided,
		Worn: r.Worn, Skin: r.Skin, Links: r.Links, OwnerRepeated: r.Repeated, OwnerLate: r.Late,
	}
	for i := range r.Trials {
		f := &r.Trials[i]
		v := training.Trial{Cue: name(aCue, f.Cue), Kind: f.Kind, Signal: f.Signal, Outcome: f.Outcome, Asks: f.Asks, Did: f.Did,
			Latency: f.Latency, Completion: f.Completion, Waited: f.Waited, Begun: f.Begun, Prompts: f.Prompts, Target: f.Target, Held: f.Held, Walked: f.Walked,
			Breaks: f.Breaks, Strayed: f.Strayed, Distance: f.Distance, Tally: training.Tally{Yes: f.Yes, Of: f.Of}, At: f.At, Marks: f.Marks, Line: f.Line}
		for _, c := range f.Corrections {
			v.Corrections = append(v.Corrections, training.Correction{Kind: c.Kind, Level: c.Level, Device: name(aDevice, c.Device), Served: c.Served})
		}
		s.Trials = append(s.Trials, v)
	}
	for _, m := range r.Remarks {
		s.Remarks = append(s.Remarks, training.Remark(m))
	}
	return s, wrong
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
