package store

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"reflect"
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
	h := new(hasher)
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

// count finds out the numbers that the next session and revision get.
func (t *tx) count() error {
	if t.nextSession > 0 {
		return nil
	}
	_, err := t.one("SELECT coalesce((SELECT max(n) FROM session), 0) + 1, coalesce((SELECT max(n) FROM revision), 0) + 1", nil, &t.nextSession, &t.nextRevision)
	return err
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
	device, err5 := t.refNumber(aDevice, r.Device)
	if err := cmp.Or(err1, err2, err3, err4, err5); err != nil {
		return err
	}
	n := t.nextRevision
	t.nextRevision++
	fresh := h.n == 0
	if fresh {
		h.n, h.id = t.nextSession, r.Session
		t.nextSession++
	}
	startMS, startDay, standing := r.start.UnixMilli(), int64(training.DayOf(r.start)), bit(r.Voided == "")
	if err := t.insert("revision", "n, id, session, number, writer, at, at_ms, why, voided, parents, batch, content, dog, handler, scorer, start, start_ms, zone, part, place, leash, distraction, device, working_level, weather, reward, source, baseline, note, carried, rescores",
		n, r.ID, h.n, int64(r.Number), r.Writer, r.At, r.atMS, r.Why, r.Voided, r.Parents, r.Batch, r.content, dog, handler, scorer,
		r.Start, startMS, r.Zone, int64(r.Part), place, string(r.Leash), num(r.Distraction), device, num(r.WorkingLevel), r.Weather, r.Reward,
		string(r.Source), bit(r.Baseline), r.Note, r.Carried, text(r.Rescores)); err != nil {
		return err
	}
	if fresh {
		if err := t.insert("session", "n, id, shown, dog, start_ms, day, standing", h.n, h.id, n, dog, startMS, startDay, standing); err != nil {
			return err
		}
	}
	for i := range r.Trials {
		if err := t.addTrial(n, i, &r.Trials[i]); err != nil {
			return err
		}
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
		if err := t.insert("remark", "revision, position, text, line, incident", n, i, m.Text, m.Line, id); err != nil {
			return err
		}
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

// addTrial writes the trial at the position i of a revision, and its corrections.
func (t *tx) addTrial(n int64, i int, f *trial) error {
	cue, err := t.refNumber(aCue, f.Cue)
	if err != nil {
		return err
	}
	var highest, last training.Num
	var on any
	devices := make([]any, len(f.Corrections))
	for turn, c := range f.Corrections {
		d, err := t.refNumber(aDevice, c.Device)
		if err != nil {
			return err
		}
		devices[turn] = d
		if c.Level.Known {
			// Levels of two devices can't be compared: the highest is that
			// of the device used last.
			if d != on || !highest.Known || c.Level.V > highest.V {
				highest = c.Level
			}
			last, on = c.Level, d
		}
	}
	var prompts, yes, tried any
	if len(f.Prompts) > 0 {
		prompts = string(plainJSON(f.Prompts))
	}
	if f.Of != 0 || f.Yes != 0 {
		yes, tried = int64(f.Yes), int64(f.Of)
	}
	if err := t.insert("trial", "revision, position, cue, kind, signal, outcome, asks, did, latency, completion, waited, begun, prompts, corrections, highest, last, device, target, held, walked, breaks, distance, yes, tried, at, marks, line",
		n, i, cue, string(f.Kind), string(f.Signal), string(f.Outcome), f.Asks, text(f.Did), num(f.Latency), num(f.Completion),
		num(f.Waited), num(f.Begun), prompts, len(f.Corrections), num(highest), num(last), on, num(f.Target), num(f.Held), num(f.Walked),
		f.Breaks, num(f.Distance), yes, tried, num(f.At), f.Marks, f.Line); err != nil {
		return err
	}
	for turn, c := range f.Corrections {
		if err := t.insert("correction", "revision, position, turn, kind, level, device, served", n, i, turn, string(c.Kind), num(c.Level), devices[turn], bit(c.Served)); err != nil {
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
	err = t.each(func(scan func(...any) error) error {
		var n, cue int64
		var f training.Trial
		var prompts string
		if err := scan(&n, &cue, &f.Kind, &f.Signal, &f.Outcome, &f.Asks, &f.Did, opt(&f.Latency), opt(&f.Completion), opt(&f.Waited), opt(&f.Begun), &prompts,
			opt(&f.Target), opt(&f.Held), opt(&f.Walked), &f.Breaks, opt(&f.Distance), &f.Tally.Yes, &f.Tally.Of, opt(&f.At), &f.Marks, &f.Line); err != nil {
			return fail(ErrDamaged, "a part of a session was altered on the disk; run: firstcue store check")
		}
		if prompts != "" {
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
