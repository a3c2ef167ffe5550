package store

import (
	"bytes"
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"math"
	"reflect"
	"slices"
	"strings"

	"firstcue/internal/training"
)

// This file reads what version 1 wrote: its tables, and its exchange files.

// revision1 is a revision in an exchange file of version 1.
type revision1 struct {
	revision
	Trials []trial1 `json:"trials,omitempty"`
}

type trial1 struct {
	Cue string `json:"cue"`
	trial
}

type source1 struct {
	Hash string `json:"hash"`
	Text []byte `json:"text"` // base64
}

// bundleLine1 is a line of such a file: one of the four is there.
type bundleLine1 struct {
	Change   *change    `json:"change,omitempty"`
	Source   *source1   `json:"source,omitempty"`
	Batch    *batch     `json:"batch,omitempty"`
	Revision *revision1 `json:"revision,omitempty"`
}

// documents gives the line the form of today. ok is false where it does not match
// its own hash. Parents are given the ids of today with the help of ids, which
// holds those of the revisions seen so far.
func (l *bundleLine1) document(ids map[string]string) (d document, ok bool) {
	switch {
	case l.Change != nil:
		d.Change, ok = l.Change, l.Change.hash1() == l.Change.ID
	case l.Source != nil:
		d.Source, ok = sourceOf(l.Source.Text), hashText(l.Source.Text) == l.Source.Hash
	case l.Batch != nil:
		d.Batch, ok = l.Batch, true
	case l.Revision != nil:
		r := l.Revision.revision
		r.Trials = nil
		for _, f := range l.Revision.Trials {
			f.trial.Cue = f.Cue
			r.Trials = append(r.Trials, f.trial)
		}
		d.Revision, ok = &r, r.hash1() == r.ID
		r.upgrade(ids)
	}
	return d, ok
}

// upgrade gives a revision of version 1 the id of today, and its parents too.
func (r *revision) upgrade(ids map[string]string) {
	was := r.ID
	parents := strings.Fields(r.Parents)
	for i, p := range parents {
		if now := ids[p]; now != "" {
			parents[i] = now
		}
	}
	slices.Sort(parents)
	r.Parents = strings.Join(parents, " ")
	r.seal()
	ids[was] = r.ID
}

// hash1 was the id of a change.
func (c change) hash1() string {
	return digest("change", string(c.Kind), c.Entity, fmt.Sprint(c.Tick), c.At, c.Writer, string(c.Content), c.Said, c.Batch)
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

// hash1 was the id of a revision.
func (r *revision) hash1() string {
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
	content := h.sum()
	h.b.Reset()
	h.str("revision", content, r.Session, r.Writer, r.At, r.Why, r.Voided, r.Batch, r.Parents)
	h.int(r.Number)
	return h.sum()
}

// fromV1 writes what the tables of version 1 hold into the log, in the order in
// which it came, and drops them. Whatever does not match its hash, or reads
// otherwise afterwards, is ErrDamaged, and nothing was changed.
func (t *tx) fromV1() error {
	altered := fail(ErrDamaged, "something in this store was altered, so it can't be brought up to date; save what is whole with the firstcue that it was written with: firstcue store check --salvage NEW.db")
	var changes []change
	if err := t.each(func(scan func(...any) error) error {
		var c change
		var content string
		err := scan(&c.ID, &c.Kind, &c.Entity, &c.Tick, &c.At, &c.Writer, &content, &c.Said, &c.Batch)
		c.Content = json.RawMessage(content)
		changes = append(changes, c)
		return err
	}, "SELECT id, kind, entity, tick, at, writer, content, said, batch FROM v1_change ORDER BY n"); err != nil {
		return err
	}
	touched := map[kind]map[string]bool{}
	for _, c := range changes {
		if c.hash1() != c.ID {
			return altered
		}
		if touched[c.Kind] == nil {
			touched[c.Kind] = map[string]bool{}
		}
		touched[c.Kind][c.Entity] = true
		if err := t.addChange(&c); err != nil {
			return err
		}
	}
	if err := t.settleAll(touched); err != nil {
		return err
	}
	var hashes []string
	if err := t.each(func(scan func(...any) error) error {
		var h string
		err := scan(&h)
		hashes = append(hashes, h)
		return err
	}, "SELECT hash FROM v1_source ORDER BY hash"); err != nil {
		return err
	}
	for _, h := range hashes {
		var text []byte
		if _, err := t.one("SELECT text FROM v1_source WHERE hash = ?", []any{h}, &text); err != nil {
			return err
		}
		if hashText(text) != h {
			return altered
		}
		if _, err := t.addSource(text); err != nil {
			return err
		}
	}
	var batches []batch
	if err := t.each(func(scan func(...any) error) error {
		var b batch
		err := scan(&b.ID, &b.Kind, &b.At, &b.Writer, &b.Name, &b.Source, &b.Mapping, &b.Undoes)
		batches = append(batches, b)
		return err
	}, "SELECT id, kind, at, writer, name, coalesce(source, ''), mapping, coalesce(undoes, '') FROM v1_batch ORDER BY n"); err != nil {
		return err
	}
	for _, b := range batches {
		if err := t.addBatch(&b); err != nil {
			return err
		}
	}
	for after := ""; ; {
		list, last, err := t.revisionsAfter(after, 200)
		if err != nil {
			return err
		}
		sessions, ids := map[string]*held{}, map[string]string{}
		for _, r := range list {
			if r.hash1() != r.ID {
				return altered
			}
			r.upgrade(ids)
			if again, err := decodeRevision(r.raw); err != nil || !reflect.DeepEqual(again.Trials, r.Trials) || !reflect.DeepEqual(again.Remarks, r.Remarks) {
				return altered
			}
			if _, _, err := t.mergeRevision(sessions, r, func() error { return nil }); err != nil {
				return err
			}
		}
		if last == "" {
			break
		}
		after = last
	}
	for _, table := range []string{"correction", "remark", "trial", "session", "revision", "batch", "source", "change"} {
		if err := t.exec("DROP TABLE v1_" + table); err != nil {
			return err
		}
	}
	return nil
}

const trialColumns = `t.revision, t.cue, t.kind, t.signal, t.outcome, t.asks, coalesce(t.did, ''), t.latency, t.completion, t.waited, t.begun, coalesce(t.prompts, ''),
	t.target, t.held, t.walked, t.breaks, t.distance, coalesce(t.yes, 0), coalesce(t.tried, 0), t.at, t.marks, t.line`

// ids returns the ids of entries by number, joined ones not resolved.
func (t *tx) ids() (map[int64]string, error) {
	if t.idOf != nil {
		return t.idOf, nil
	}
	t.idOf = map[int64]string{0: ""}
	err := t.each(func(scan func(...any) error) error {
		var n int64
		var id string
		err := scan(&n, &id)
		t.idOf[n] = id
		return err
	}, "SELECT n, id FROM name")
	return t.idOf, err
}

// revisionsAfter reads all revisions of the next so many sessions in order of
// session, number, time, writer and id.
func (t *tx) revisionsAfter(after string, sessions int) (list []*revision, last string, err error) {
	const some = "(SELECT n FROM v1_session WHERE id > ? ORDER BY id LIMIT ?)"
	list, err = t.revisionsWhere("r.session IN "+some, "IN (SELECT n FROM v1_revision WHERE session IN "+some+")", after, sessions)
	if len(list) > 0 {
		last = list[len(list)-1].Session
	}
	return list, last, err
}

// revisionsWhere reads revisions with ids for names: where picks rows of
// revision r, and of what they are picked by in the tables below.
func (t *tx) revisionsWhere(where, of string, args ...any) (list []*revision, err error) {
	id, err := t.ids()
	if err != nil {
		return nil, err
	}
	at := map[int64]*revision{}
	err = t.each(func(scan func(...any) error) error {
		r := &revision{}
		var n, dog, handler, scorer, place, device int64
		if err := scan(&n, &r.ID, &r.Session, &r.Number, &r.Writer, &r.At, &r.Why, &r.Voided, &r.Parents, &r.Batch, &dog, &handler, &scorer, &r.Start, &r.Zone, &r.Part,
			&place, &r.Leash, opt(&r.Distraction), &device, opt(&r.WorkingLevel), &r.Weather, &r.Reward, &r.Source, &r.Baseline, &r.Note, &r.Carried, &r.Rescores); err != nil {
			return err
		}
		r.Dog, r.Handler, r.Scorer, r.Place, r.Device = id[dog], id[handler], id[scorer], id[place], id[device]
		at[n] = r
		list = append(list, r)
		return nil
	}, `SELECT r.n, r.id, s.id, r.number, r.writer, r.at, r.why, r.voided, r.parents, r.batch, r.dog, coalesce(r.handler, 0), coalesce(r.scorer, 0), r.start, r.zone, r.part,
		coalesce(r.place, 0), r.leash, r.distraction, coalesce(r.device, 0), r.working_level, r.weather, r.reward, r.source, r.baseline, r.note, r.carried, coalesce(r.rescores, '')
		FROM v1_revision r JOIN v1_session s ON s.n = r.session WHERE `+where+` ORDER BY s.id, r.number, r.at_ms, r.writer, r.id`, args...)
	if err != nil || len(list) == 0 {
		return nil, err
	}
	err = t.each(func(scan func(...any) error) error {
		var f trial
		var n, cue int64
		var prompts string
		if err := scan(&n, &cue, &f.Kind, &f.Signal, &f.Outcome, &f.Asks, &f.Did, opt(&f.Latency), opt(&f.Completion), opt(&f.Waited), opt(&f.Begun), &prompts,
			opt(&f.Target), opt(&f.Held), opt(&f.Walked), &f.Breaks, opt(&f.Distance), &f.Yes, &f.Of, opt(&f.At), &f.Marks, &f.Line); err != nil {
			return err
		}
		if prompts != "" {
			if err := json.Unmarshal([]byte(prompts), &f.Prompts); err != nil {
				return err
			}
		}
		f.Cue = id[cue]
		if at[n] == nil {
			return errTorn
		}
		at[n].Trials = append(at[n].Trials, f)
		return nil
	}, "SELECT "+trialColumns+" FROM v1_trial t WHERE t.revision "+of+" ORDER BY t.revision, t.position", args...)
	if err != nil {
		return nil, err
	}
	err = t.each(func(scan func(...any) error) error {
		var n, device int64
		var position int
		var c correction
		if err := scan(&n, &position, &c.Kind, opt(&c.Level), &device, &c.Served); err != nil {
			return err
		}
		c.Device = id[device]
		if at[n] == nil || position >= len(at[n].Trials) {
			return errTorn
		}
		f := &at[n].Trials[position]
		f.Corrections = append(f.Corrections, c)
		return nil
	}, "SELECT revision, position, kind, level, coalesce(device, 0), served FROM v1_correction WHERE revision "+of+" ORDER BY revision, position, turn", args...)
	if err != nil {
		return nil, err
	}
	err = t.each(func(scan func(...any) error) error {
		var n int64
		var m remark
		if err := scan(&n, &m.Text, &m.Line, &m.Incident); err != nil {
			return err
		}
		if at[n] == nil {
			return errTorn
		}
		at[n].Remarks = append(at[n].Remarks, m)
		return nil
	}, "SELECT revision, text, line, incident IS NOT NULL FROM v1_remark WHERE revision "+of+" ORDER BY revision, position", args...)
	return list, err
}
