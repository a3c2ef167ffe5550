package store

import (
	"cmp"
	"context"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"github.com/google/uuid"

	"firstcue/internal/training"
)

// Reasons for which a session is voided by the store itself. Such a session
// comes back when its note is logged again.
const (
	ReasonGone   = "no longer in the note"
	ReasonUndone = "undone"
)

// What became of a session of a note.
const (
	Stored        = "stored"
	AlreadyStored = "already stored"
	Amended       = "amended"
	SecondScoring = "second scoring"
	Voided        = "voided"
)

// LogRequest is a note with the sessions read from it.
type LogRequest struct {
	Sessions []training.Session // ID, Revision and Rescores are not looked at
	Text     []byte             // the note as it came, byte for byte; nil = there is none
	Name     string             // of the file
	Import   bool               // the batch is an import
	Mapping  string             // import: how the columns were read
	// Entries to add to the kennel's lists first. One that is there already is
	// left as it is.
	Dogs     []training.Dog
	Handlers []training.Handler
	Places   []training.Place
	Devices  []training.Device
	Cues     []training.Cue
}

// LogResult says what was done with each session, in the order of the request;
// sessions that are no longer in the note follow.
type LogResult struct {
	Sessions []Logged
	Batch    string // "" = nothing was stored
}

// Logged is one session of a note.
type Logged struct {
	Session  training.Session
	What     string
	Previous *training.Session // amended: as it stood before
	// Corrected: already stored, and corrected by hand since; Session is the
	// correction, which stays.
	Corrected bool
}

// LogNote stores the sessions of a note in one transaction: all or none.
//
// A session is known by dog, start, scorer and part. A new one is stored; one
// that is there with the same content is recognised and left as it is, also when
// it was voided by hand; one with other content is amended. Parts that an
// earlier form of the note had are voided with ReasonGone. What somebody else
// scored of a session that is there is stored as its second scoring.
func (s *Store) LogNote(ctx context.Context, req LogRequest) (LogResult, error) {
	var res LogResult
	err := s.write(ctx, func(t *tx) (err error) { res, err = t.logNote(req); return })
	if err != nil {
		return LogResult{}, err
	}
	return res, nil
}

// batch is a row of the table batch.
type batch struct {
	ID      string `json:"id"`
	Kind    string `json:"kind"`
	At      string `json:"at"`
	Writer  string `json:"writer"`
	Name    string `json:"name,omitempty"`
	Source  string `json:"source,omitempty"` // hash of the text
	Mapping string `json:"mapping,omitempty"`
	Undoes  string `json:"undoes,omitempty"`
}

func (t *tx) newBatch(kind, name string) *batch {
	return &batch{ID: uuid.Must(uuid.NewV7()).String(), Kind: kind, At: clock(t.now), Writer: t.writer, Name: name}
}

func (t *tx) addBatch(b *batch) error {
	if known, err := t.one("SELECT 1 FROM batch WHERE id = ?", []any{b.ID}, new(int)); err != nil || known {
		return err
	}
	at, err := parseClock(b.At)
	if err != nil {
		return fail(ErrInvalid, "%v", err)
	}
	body := plainJSON(b)
	n, err := t.append("batch", b.ID, b.ID, hashOf(body), body)
	if err != nil {
		return err
	}
	return t.insert("batch", "n, id, kind, at, at_ms, writer, name, source, mapping, undoes", n, b.ID, b.Kind, b.At, at.UnixMilli(), b.Writer, b.Name, b.Source, b.Mapping, b.Undoes)
}

func (t *tx) addSource(text []byte) (string, error) {
	if text == nil {
		return "", nil
	}
	hash := hashText(text)
	if known, err := t.one("SELECT 1 FROM entry WHERE kind = 'source' AND key = ? LIMIT 1", []any{hash}, new(int)); err != nil || known {
		return hash, err
	}
	body := plainJSON(sourceOf(text))
	_, err := t.append("source", hash, "", hashOf(body), body)
	return hash, err
}

// lostText stands before the key of a text that a salvage could not save. Such a
// mark stays in its store, and the text takes its place when a merge brings it.
const lostText = "lost "

func (t *tx) loseSource(hash string) error {
	body := plainJSON(map[string]string{"lost": hash})
	if known, err := t.known(hashOf(body)); err != nil || known {
		return err
	}
	_, err := t.append("source", lostText+hash, "", hashOf(body), body)
	return err
}

// source reads a text by its SHA-256; found is false where it is not kept.
func (t *tx) source(hash string) (text []byte, found bool, err error) {
	var id string
	var body []byte
	found, err = t.one("SELECT id, body FROM entry WHERE kind = 'source' AND key = ? LIMIT 1", []any{hash}, &id, &body)
	if err != nil || !found {
		return nil, found, err
	}
	var s source
	if hashOf(body) != id || json.Unmarshal(body, &s) != nil || hashText(s.text()) != hash {
		return nil, true, errTorn
	}
	return s.text(), true, nil
}

func (t *tx) logNote(req LogRequest) (LogResult, error) {
	var res LogResult
	b := t.newBatch("log", req.Name)
	t.batch = b.ID
	changes, err := t.addNew(req)
	if err != nil {
		return res, err
	}
	if req.Import {
		b.Kind = "import"
	}
	b.Mapping = req.Mapping
	in := map[sessionKey]map[int]bool{}
	for i := range req.Sessions {
		got, err := t.logSession(&req.Sessions[i], b.ID, false, "")
		if err != nil {
			return res, err
		}
		if in[got.key] == nil {
			in[got.key] = map[int]bool{}
		}
		if in[got.key][req.Sessions[i].Part] {
			return res, fail(ErrInvalid, "%s has two sessions with the start %s; give each its own start", req.Sessions[i].Dog, req.Sessions[i].Start.Format("2006-01-02 15:04:05"))
		}
		in[got.key][req.Sessions[i].Part] = true
		res.Sessions = append(res.Sessions, got.Logged)
	}
	gone, err := t.voidGone(in, b.ID)
	if err != nil {
		return res, err
	}
	res.Sessions = append(res.Sessions, gone...)
	if changes == 0 && !slices.ContainsFunc(res.Sessions, func(l Logged) bool { return l.What != AlreadyStored }) {
		return res, nil
	}
	if b.Source, err = t.addSource(req.Text); err != nil {
		return res, err
	}
	res.Batch = b.ID
	return res, t.addBatch(b)
}

// addNew adds the entries that are missing and returns how many were.
func (t *tx) addNew(req LogRequest) (added int, err error) {
	add := func(k kind, name string, put func() (string, error)) {
		if err != nil {
			return
		}
		var found bool
		if _, found, err = t.find(k, name); err == nil && !found {
			added++
			_, err = put()
		}
	}
	for _, x := range req.Handlers {
		add(aHandler, x.Name, func() (string, error) { return t.putHandler(x) })
	}
	for _, x := range req.Places {
		add(aPlace, x.Name, func() (string, error) { return t.putPlace(x) })
	}
	for _, x := range req.Devices {
		add(aDevice, x.Name, func() (string, error) { return t.putDevice(x) })
	}
	for _, x := range req.Cues {
		add(aCue, x.Name, func() (string, error) { return t.putCue(x) })
	}
	for _, x := range req.Dogs {
		add(aDog, x.Name, func() (string, error) { return t.putDog(x) })
	}
	return added, err
}

// sessionKey is what makes parts belong to one note.
type sessionKey struct {
	dog     int64
	startMS int64
	scorer  int64 // or the handler, who scores where nobody else is named
}

// loggedKey is Logged with its key.
type loggedKey struct {
	Logged
	key sessionKey
}

func scorerOf(scorer, handler int64) int64 {
	if scorer != 0 {
		return scorer
	}
	return handler
}

// heldAt reads the sessions of a dog with one start. Whole dogs are read at once
// when many sessions are stored.
func (t *tx) heldAt(dog, startMS int64, whole bool) ([]*held, error) {
	if !whole {
		return t.heldWhere("s.dog IN (SELECT n FROM name WHERE shown = ?) AND s.start_ms = ?", dog, startMS)
	}
	all, ok := t.byDog[dog]
	if !ok {
		list, err := t.heldWhere("s.dog IN (SELECT n FROM name WHERE shown = ?)", dog)
		if err != nil {
			return nil, err
		}
		all = map[int64][]*held{}
		for _, h := range list {
			all[h.startMS] = append(all[h.startMS], h)
		}
		if t.byDog == nil {
			t.byDog = map[int64]map[int64][]*held{}
		}
		t.byDog[dog] = all
	}
	return all[startMS], nil
}

func (t *tx) heldWhere(where string, args ...any) ([]*held, error) {
	var out []*held
	err := t.each(func(scan func(...any) error) error {
		h := &held{}
		if err := scan(&h.n, &h.id, &h.shown, &h.number, &h.atMS, &h.writer, &h.revID, &h.content, &h.voided, &h.rescores, &h.part, &h.startMS, &h.dog, &h.handler, &h.scorer); err != nil {
			return err
		}
		out = append(out, h)
		return nil
	}, `SELECT s.n, s.id, s.shown, r.number, r.at_ms, r.writer, r.id, r.content, r.voided, r.rescores, r.part, r.start_ms,
		coalesce(d.shown, 0), coalesce(h.shown, 0), coalesce(c.shown, 0)
		FROM session s JOIN revision r ON r.n = s.shown LEFT JOIN name d ON d.n = r.dog LEFT JOIN name h ON h.n = r.handler LEFT JOIN name c ON c.n = r.scorer
		WHERE `+where+` ORDER BY s.id`, args...)
	return out, err
}

// logSession stores one session or recognises it. whole is for many sessions at
// once: nothing is read back, and Logged has but ID and What.
func (t *tx) logSession(s *training.Session, batch string, whole bool, why string) (loggedKey, error) {
	r, err := t.revisionOf(s)
	if err != nil {
		return loggedKey{}, err
	}
	r.Voided, r.Rescores, r.Why, r.Batch = "", "", why, batch
	dog, err1 := t.need(aDog, s.Dog)
	handler, err2 := t.need(aHandler, s.Handler)
	scorer, err3 := t.need(aHandler, s.Scorer)
	if err := cmp.Or(err1, err2, err3); err != nil {
		return loggedKey{}, err
	}
	got := loggedKey{key: sessionKey{dog.n, r.start.UnixMilli(), scorerOf(scorer.n, handler.n)}}
	there, err := t.heldAt(dog.n, got.key.startMS, whole)
	if err != nil {
		return got, err
	}
	var mine, first *held
	for _, h := range there {
		if h.part != s.Part {
			continue
		}
		if h.scorer == 0 && scorer.n == 0 || scorerOf(h.scorer, h.handler) == got.key.scorer {
			if mine == nil || mine.voided != "" && h.voided == "" {
				mine = h
			}
		} else if h.voided == "" && h.rescores == "" && first == nil {
			first = h
		}
	}
	if mine != nil {
		got.key.scorer = scorerOf(mine.scorer, mine.handler)
		return t.logAgain(got, mine, r, s, whole)
	}
	got.What = Stored
	if first != nil {
		r.Rescores, got.What = first.id, SecondScoring
	}
	h := &held{}
	r.Session = sessionID(r.Dog, r.Scorer, got.key.startMS, s.Part)
	taken, err := t.one("SELECT 1 FROM session WHERE id = ?", []any{r.Session}, new(int))
	if err != nil {
		return got, err
	}
	if taken { // by one that was moved to another start since
		r.Session = uuid.Must(uuid.NewV7()).String()
	}
	if err := t.revise(h, r); err != nil {
		return got, err
	}
	if whole {
		t.byDog[dog.n][got.key.startMS] = append(t.byDog[dog.n][got.key.startMS], h)
		got.Session.ID = h.id
		return got, nil
	}
	got.Session, err = t.read(h)
	return got, err
}

// logAgain decides what a session means that is there already.
func (t *tx) logAgain(got loggedKey, mine *held, r *revision, s *training.Session, whole bool) (loggedKey, error) {
	r.Session, r.Rescores = mine.id, mine.rescores
	r.seal()
	got.What = AlreadyStored
	got.Session.ID = mine.id
	undone := mine.voided == ReasonGone || mine.voided == ReasonUndone
	if r.content == mine.content && !undone && whole {
		return got, nil
	}
	was, err := t.read(mine)
	if err != nil {
		return got, err
	}
	now := *s
	now.Rescores = was.Rescores
	if now, err = t.listed(now); err != nil {
		return got, err
	}
	if (r.content == mine.content || same(was, now)) && !undone {
		got.Session = was
		return got, nil
	}
	if !undone {
		// The note of the other laptop, logged here too, is one of two forms to
		// choose from and not a correction.
		heads, err := t.heads(mine.n)
		if err != nil {
			return got, err
		}
		if len(heads) > 1 && slices.ContainsFunc(heads, func(x head) bool { return x.content == r.content && x.voided == "" }) {
			got.Session = was
			return got, nil
		}
		// Nor is a note that was logged before, and corrected by hand since: whoever
		// logs all notes of a week again does not mean to take the corrections back.
		if !whole {
			if got.Corrected, err = t.corrected(mine, r.content); err != nil || got.Corrected {
				got.Session = was
				return got, err
			}
		}
	}
	got.What, got.Previous = Amended, &was
	if undone {
		got.What = Stored
	}
	if err := t.revise(mine, r); err != nil {
		return got, err
	}
	got.Session, err = t.read(mine)
	return got, err
}

// corrected reports whether the session said this before, and what it says now
// was put there by hand.
func (t *tx) corrected(h *held, content string) (bool, error) {
	var n int
	if before, err := t.one("SELECT 1 FROM revision WHERE session = ? AND content = ? AND voided = '' LIMIT 1", []any{h.n, content}, &n); err != nil || !before {
		return false, err
	}
	var kind string
	_, err := t.one("SELECT b.kind FROM revision r JOIN batch b ON b.id = r.batch WHERE r.session = ? AND r.content = ? ORDER BY r.number, r.n LIMIT 1", []any{h.n, h.content}, &kind)
	return kind == "amend", err
}

// listed puts the names of the kennel's lists for whatever spelling or alias
// the session uses.
func (t *tx) listed(s training.Session) (training.Session, error) {
	list := func(k kind, name *string) error {
		e, err := t.need(k, *name)
		if err == nil && e.n != 0 {
			*name = e.name
		}
		return err
	}
	err := cmp.Or(list(aDog, &s.Dog), list(aHandler, &s.Handler), list(aHandler, &s.Scorer), list(aPlace, &s.Place), list(aDevice, &s.Device))
	s.Trials = slices.Clone(s.Trials)
	for i := range s.Trials {
		err = cmp.Or(err, list(aCue, &s.Trials[i].Cue))
		s.Trials[i].Corrections = slices.Clone(s.Trials[i].Corrections)
		for j := range s.Trials[i].Corrections {
			err = cmp.Or(err, list(aDevice, &s.Trials[i].Corrections[j].Device))
		}
	}
	return s, err
}

// revise adds r as the next revision of h, stamped here and now. Where two stores
// said the session differently it goes on from the form in force and leaves the
// other to be settled.
func (t *tx) revise(h *held, r *revision) error { return t.reviseIn(h, r, false) }

// reviseIn is revise; settles says that whoever made r chose between all forms.
func (t *tx) reviseIn(h *held, r *revision, settles bool) error {
	r.Number, r.Parents = h.number+1, ""
	if h.n != 0 {
		heads, err := t.heads(h.n)
		if err != nil {
			return err
		}
		if !settles && len(heads) > 1 {
			if heads, err = t.likeShown(h, heads); err != nil {
				return err
			}
		}
		var ids []string
		for _, x := range heads {
			ids = append(ids, x.id)
		}
		slices.Sort(ids)
		r.Parents = strings.Join(ids, " ")
	}
	r.Writer, r.At, r.atMS = t.writer, clock(t.now), t.now.UnixMilli()
	r.seal()
	return t.addRevision(h, r)
}

// head is a revision that no other was written in sight of.
type head struct {
	n           int64
	id, content string
	voided      string
}

// heads returns the heads of a session in the order of its history.
func (t *tx) heads(session int64) ([]head, error) {
	all, err := t.headsWhere("r.session = ?", session)
	return all[session], err
}

// headsWhere returns the heads of the sessions whose revisions r fit, by the
// session's number. What was undone is as if it had not been written: of two
// forms of which one was chosen there are two again.
func (t *tx) headsWhere(where string, args ...any) (map[int64][]head, error) {
	type row struct {
		head
		parents, batch, undoes string
	}
	rows := map[int64][]row{}
	err := t.each(func(scan func(...any) error) error {
		var x row
		var session int64
		err := scan(&session, &x.n, &x.id, &x.parents, &x.content, &x.voided, &x.batch, &x.undoes)
		rows[session] = append(rows[session], x)
		return err
	}, `SELECT r.session, r.n, r.id, r.parents, r.content, r.voided, r.batch, coalesce((SELECT b.undoes FROM batch b WHERE b.id = r.batch), '')
		FROM revision r WHERE `+where+` ORDER BY r.session, r.number, r.at_ms, r.writer, r.id`, args...)
	out := map[int64][]head{}
	for session, list := range rows {
		undone, seen := map[string]bool{}, map[string]bool{}
		for _, x := range list {
			if x.undoes != "" {
				undone[x.undoes] = true
			}
		}
		for _, x := range list {
			if !undone[x.batch] {
				for _, p := range strings.Fields(x.parents) {
					seen[p] = true
				}
			}
		}
		for _, x := range list {
			if !seen[x.id] && !undone[x.batch] {
				out[session] = append(out[session], x.head)
			}
		}
	}
	return out, err
}

// likeShown returns the heads that say what the form in force says.
func (t *tx) likeShown(h *held, heads []head) ([]head, error) {
	shown, err := t.read(h)
	if err != nil {
		return nil, err
	}
	var out []head
	for _, x := range heads {
		like := x.n == h.shown || x.content == h.content && x.voided == h.voided
		if !like {
			list, err := t.sessions("FROM revision r JOIN session s ON s.n = r.session WHERE r.n = ?", x.n)
			if err != nil {
				return nil, err
			}
			like = x.voided == h.voided && len(list) == 1 && same(list[0], shown)
		}
		if like {
			out = append(out, x)
		}
	}
	return out, nil
}

// read reads the session as it is in force.
func (t *tx) read(h *held) (training.Session, error) {
	list, err := t.sessions("FROM session s JOIN revision r ON r.n = s.shown WHERE s.n = ?", h.n)
	if err == nil && len(list) != 1 {
		err = fail(ErrDamaged, "session %s can't be read", h.id)
	}
	if err != nil {
		return training.Session{}, err
	}
	return list[0], nil
}

// voidGone voids sessions of the note's keys whose part is not in it any more.
func (t *tx) voidGone(in map[sessionKey]map[int]bool, batch string) ([]Logged, error) {
	keys := make([]sessionKey, 0, len(in))
	for k := range in {
		keys = append(keys, k)
	}
	slices.SortFunc(keys, func(a, b sessionKey) int {
		return cmp.Or(cmp.Compare(a.dog, b.dog), cmp.Compare(a.startMS, b.startMS), cmp.Compare(a.scorer, b.scorer))
	})
	var out []Logged
	for _, k := range keys {
		there, err := t.heldAt(k.dog, k.startMS, false)
		if err != nil {
			return nil, err
		}
		for _, h := range there {
			if h.voided != "" || scorerOf(h.scorer, h.handler) != k.scorer || in[k][h.part] {
				continue
			}
			was, err := t.read(h)
			if err != nil {
				return nil, err
			}
			now, err := t.voidSession(h, was, ReasonGone, batch)
			if err != nil {
				return nil, err
			}
			out = append(out, Logged{Session: now, What: Voided, Previous: &was})
		}
	}
	return out, nil
}

func (t *tx) voidSession(h *held, was training.Session, why, batch string) (training.Session, error) {
	r, err := t.revisionOf(&was)
	if err != nil {
		return was, err
	}
	r.Session, r.Voided, r.Why, r.Batch = h.id, why, why, batch
	if err := t.revise(h, r); err != nil {
		return was, err
	}
	return t.read(h)
}

// Revision is one form of a session.
type Revision struct {
	ID      string
	Number  int
	At      time.Time
	Writer  string // id of the store it was written in
	Why     string
	Voided  string
	Batch   string
	Kind    string   // of the batch: log, import, amend, void, unvoid, undo
	Source  string   // of the batch: SHA-256 of the text it came from, hexadecimal; "" = none kept
	Parents []string // ids of the revisions it was written in sight of
	Shown   bool     // the one in force
	Session training.Session
}

// locate finds a session by its id or by the last characters of it, at least
// four. The handle the program prints is the last eight.
func (t *tx) locate(idOrSuffix string) (*held, error) {
	list, err := t.heldWhere("s.id = ?", idOrSuffix)
	if err != nil {
		return nil, err
	}
	if len(list) == 0 && len(idOrSuffix) >= 4 {
		if list, err = t.heldWhere("substr(s.id, -length(?1)) = lower(?1)", idOrSuffix); err != nil {
			return nil, err
		}
	}
	switch len(list) {
	case 0:
		return nil, fail(ErrNotFound, "no session has the id %s; firstcue sessions lists them", idOrSuffix)
	case 1:
		return list[0], nil
	}
	say := ""
	for i, h := range list {
		if i == 10 {
			say += fmt.Sprintf("\n  and %d more", len(list)-i)
			break
		}
		s, err := t.read(h)
		if err != nil {
			return nil, err
		}
		say += fmt.Sprintf("\n  %s  %s, %s", s.ID, s.Dog, s.Start.Format("2006-01-02 15:04"))
	}
	return nil, fail(ErrAmbiguous, "%d sessions end in %s; give more of the id:%s", len(list), idOrSuffix, say)
}

// Short returns the handle of a session or incident: the last eight characters of
// its id, as the program prints it.
func Short(id string) string { return id[max(0, len(id)-8):] }

// Session returns the session with the id, or whose id ends so. ErrAmbiguous
// lists those that fit.
func (s *Store) Session(ctx context.Context, idOrSuffix string) (training.Session, error) {
	var out training.Session
	err := s.read(ctx, func(t *tx) error {
		h, err := t.locate(idOrSuffix)
		if err != nil {
			return err
		}
		out, err = t.read(h)
		return err
	})
	return out, err
}

// History returns every revision of a session, oldest first.
func (s *Store) History(ctx context.Context, idOrSuffix string) ([]Revision, error) {
	var out []Revision
	err := s.read(ctx, func(t *tx) error {
		h, err := t.locate(idOrSuffix)
		if err != nil {
			return err
		}
		out, err = t.history(h)
		return err
	})
	return out, err
}

func (t *tx) history(h *held) ([]Revision, error) {
	list, err := t.revisions("FROM revision r JOIN session s ON s.n = r.session WHERE r.session = ?", h.n)
	if err != nil {
		return nil, err
	}
	slices.SortFunc(list, func(a, b stored) int {
		return cmp.Or(cmp.Compare(a.Number, b.Number), compareAt(a.At, b.At), cmp.Compare(a.Writer, b.Writer), cmp.Compare(a.ID, b.ID))
	})
	var out []Revision
	for _, x := range list {
		r := Revision{ID: x.ID, Number: x.Number, Writer: x.Writer, Why: x.Why, Voided: x.Voided, Batch: x.Batch, Parents: strings.Fields(x.Parents), Shown: x.n == h.shown}
		if r.At, err = parseClock(x.At); err != nil {
			return nil, err
		}
		if _, err := t.one("SELECT kind, source FROM batch WHERE id = ?", []any{x.Batch}, &r.Kind, &r.Source); err != nil {
			return nil, err
		}
		if r.Session, err = t.sessionOf(x.revision); err != nil {
			return nil, err
		}
		out = append(out, r)
	}
	return out, nil
}

// compareAt compares two times by the millisecond, as the index does.
func compareAt(a, b string) int {
	x, _ := parseClock(a)
	y, _ := parseClock(b)
	return cmp.Compare(x.UnixMilli(), y.UnixMilli())
}

// Amend puts now in the place of a session; the earlier form stays in its
// history. A voided session stands again. ID, Revision, Rescores and Voided of
// now are not looked at. Saying the same again changes nothing.
func (s *Store) Amend(ctx context.Context, idOrSuffix string, now training.Session, why string) (training.Session, error) {
	return s.change(ctx, "amend", idOrSuffix, func(was training.Session) (training.Session, string, error) {
		now.Voided = ""
		return now, why, nil
	})
}

// Void withdraws a session, with a reason, from every figure.
func (s *Store) Void(ctx context.Context, idOrSuffix, why string) (training.Session, error) {
	return s.change(ctx, "void", idOrSuffix, func(was training.Session) (training.Session, string, error) {
		if why == "" {
			return was, "", fail(ErrInvalid, "say why the session is withdrawn")
		}
		if was.Voided != "" {
			return was, "", fail(ErrInvalid, "session %s is withdrawn already: %s", Short(was.ID), was.Voided)
		}
		was.Voided = why
		return was, why, nil
	})
}

// Unvoid brings a withdrawn session back.
func (s *Store) Unvoid(ctx context.Context, idOrSuffix, why string) (training.Session, error) {
	return s.change(ctx, "unvoid", idOrSuffix, func(was training.Session) (training.Session, string, error) {
		if was.Voided == "" {
			return was, "", fail(ErrInvalid, "session %s is not withdrawn", Short(was.ID))
		}
		was.Voided = ""
		return was, why, nil
	})
}

func (s *Store) change(ctx context.Context, kind, idOrSuffix string, fn func(was training.Session) (now training.Session, why string, err error)) (training.Session, error) {
	var out training.Session
	err := s.write(ctx, func(t *tx) error {
		h, err := t.locate(idOrSuffix)
		if err != nil {
			return err
		}
		was, err := t.read(h)
		if err != nil {
			return err
		}
		now, why, err := fn(was)
		if err != nil {
			return err
		}
		now.Rescores = was.Rescores
		if now, err = t.listed(now); err != nil {
			return err
		}
		out = was
		if now.Voided == was.Voided && same(was, now) {
			return nil
		}
		b := t.newBatch(kind, "")
		r, err := t.revisionOf(&now)
		if err != nil {
			return err
		}
		// Another session of the same key would make two of one.
		there, err := t.heldWhere("s.dog IN (SELECT n FROM name WHERE shown = ?) AND s.start_ms = ? AND s.standing = 1", must(t.need(aDog, now.Dog)).n, now.Start.UnixMilli())
		if err != nil {
			return err
		}
		scorer, handler := must(t.need(aHandler, now.Scorer)).n, must(t.need(aHandler, now.Handler)).n
		for _, o := range there {
			if now.Voided == "" && o.id != h.id && o.part == now.Part && scorerOf(o.scorer, o.handler) == scorerOf(scorer, handler) {
				return fail(ErrInvalid, "session %s is of the same dog with the same start; void one of them first", Short(o.id))
			}
		}
		r.Session, r.Why, r.Batch = h.id, why, b.ID
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

// must returns a name that was found before.
func must(e entryRow, err error) entryRow { return e }

// Filter says which sessions are wanted; what is empty does not restrict.
type Filter struct {
	Dog, Handler, Place string
	From, To            training.Day // both belong to it
	IncludeVoided       bool
	Limit               int // only the latest so many
}

// Sessions returns the sessions that fit, in order of start. Unknown names are
// ErrUnknown.
func (s *Store) Sessions(ctx context.Context, f Filter) ([]training.Session, error) {
	var out []training.Session
	err := s.read(ctx, func(t *tx) error {
		where, args := "FROM session s JOIN revision r ON r.n = s.shown WHERE 1 = 1", []any{}
		for _, x := range []struct {
			k    kind
			name string
			col  string
		}{{aDog, f.Dog, "s.dog"}, {aHandler, f.Handler, "r.handler"}, {aPlace, f.Place, "r.place"}} {
			e, err := t.need(x.k, x.name)
			if err != nil {
				return err
			}
			if e.n != 0 {
				where += " AND " + x.col + " IN (SELECT n FROM name WHERE shown = ?)"
				args = append(args, e.n)
			}
		}
		if f.From != 0 {
			where += " AND s.day >= ?"
			args = append(args, int64(f.From))
		}
		if f.To != 0 {
			where += " AND s.day <= ?"
			args = append(args, int64(f.To))
		}
		if !f.IncludeVoided {
			where += " AND s.standing = 1"
		}
		if f.Limit > 0 {
			where = "FROM session s JOIN revision r ON r.n = s.shown WHERE s.n IN (SELECT s.n " + where + " ORDER BY r.start_ms DESC, r.part DESC, s.id DESC LIMIT ?)"
			args = append(args, f.Limit)
		}
		var err error
		out, err = t.sessions(where, args...)
		return err
	})
	return out, err
}

// Record returns all that is known of one dog: sessions up to and including the
// day (0 = all), voided ones and second scorings among them, and incidents. Its
// Kennel holds that dog alone, and of the owners only its own. The cost does not
// grow with the rest of the store.
func (s *Store) Record(ctx context.Context, dog string, asOf training.Day) (training.Record, error) {
	var out training.Record
	err := s.read(ctx, func(t *tx) error {
		e, err := t.need(aDog, dog)
		if err != nil {
			return err
		}
		if e.n == 0 {
			return fail(ErrUnknown, "no dog is named")
		}
		out, err = t.record(e.n, asOf)
		return err
	})
	return out, err
}

func (t *tx) record(dog int64, asOf training.Day) (training.Record, error) {
	var out training.Record
	var err error
	if out.Kennel, err = t.kennel(dog); err != nil {
		return out, err
	}
	if len(out.Kennel.Dogs) != 1 {
		return out, fail(ErrNotFound, "the dog was taken off the list")
	}
	out.Dog = out.Kennel.Dogs[0]
	where, args := "FROM session s JOIN revision r ON r.n = s.shown WHERE s.dog IN (SELECT n FROM name WHERE shown = ?)", []any{dog}
	if asOf != 0 {
		where += " AND s.day <= ?"
		args = append(args, int64(asOf))
	}
	if out.Sessions, err = t.sessions(where, args...); err != nil {
		return out, err
	}
	if out.Incidents, err = t.incidents(dog, asOf); err != nil {
		return out, err
	}
	if out.Unsettled, err = t.unsettled(dog); err != nil {
		return out, err
	}
	out.BaseRate, out.BaseDogs, err = t.baseRate(asOf)
	return out, err
}

// baseRate is the share of the stays judged at their end before the day (0 = all)
// that ended ready, and how many there are.
func (t *tx) baseRate(asOf training.Day) (training.Num, int, error) {
	if asOf == 0 {
		asOf = math.MaxInt32
	}
	var n, ready int
	err := t.each(func(scan func(...any) error) error { return scan(&n, &ready) },
		"SELECT count(*), coalesce(sum(ready), 0) FROM boarding INDEXED BY boarding_judged WHERE ready IS NOT NULL AND home <= ?", int64(asOf))
	if err != nil || n == 0 {
		return training.Num{}, 0, err
	}
	return training.Known(float64(ready) / float64(n)), n, nil
}

// EachOfNight hands over the record of every dog that is here on the day, as it
// stood at the end of that day, one by one in the order in which the dogs came to
// the list, so that one can be worked on while the next is read: all from one
// state of the store, and without a look at the dogs that are not here. A dog
// that goes home on the day is still among them. After an error those handed over
// already are not the whole night.
func (s *Store) EachOfNight(ctx context.Context, on training.Day, use func(training.Record)) error {
	return s.read(ctx, func(t *tx) error {
		here, err := t.boarded(on)
		if err != nil {
			return err
		}
		for _, n := range here {
			r, err := t.record(n, on)
			if err != nil {
				return err
			}
			use(r)
		}
		return nil
	})
}

func (t *tx) boarded(on training.Day) ([]int64, error) {
	var out []int64
	err := t.each(func(scan func(...any) error) error {
		var n int64
		err := scan(&n)
		out = append(out, n)
		return err
	}, `SELECT DISTINCT x.shown FROM boarding b JOIN name x ON x.n = b.dog JOIN name d ON d.n = x.shown
		WHERE coalesce(b.home, 9999999) >= ?1 AND b.arrived <= ?1 AND d.gone = 0 ORDER BY x.shown`, int64(on))
	return out, err
}
