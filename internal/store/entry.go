package store

import (
	"bytes"
	"cmp"
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"firstcue/internal/training"
)

// kind is what a change is about.
type kind string

const (
	aDog      kind = "dog"
	aHandler  kind = "handler"
	aPlace    kind = "place"
	aDevice   kind = "device"
	aCue      kind = "cue"
	aBoarding kind = "boarding"
	aHold     kind = "hold"
	theGoals  kind = "goals"
	theWords  kind = "words"
	aSetting  kind = "setting"
	incident  kind = "incident"
	closing   kind = "closing"
	mapping   kind = "mapping"
)

// namedKinds have names, and entries; in this order because dogs refer to the
// others.
var namedKinds = []kind{aHandler, aPlace, aDevice, aCue, aDog}

// The fields of each kind, as they stand in the content of a change. References
// are ids, so that a new name needs no further change.
type (
	named struct {
		Name    string   `json:"name"`
		Aliases []string `json:"aliases"`
		Into    string   `json:"into"` // joined into this entry
		Gone    bool     `json:"gone"`
	}
	dogFields struct {
		named
		Born       training.Day `json:"born"`
		RewardOnly bool         `json:"rewardOnly"`
		Consent    string       `json:"consent"`
		Device     string       `json:"device"`
		Main       string       `json:"main"`
		Owners     []party      `json:"owners"`
	}
	handlerFields struct {
		named
		Role training.Role `json:"role"`
	}
	placeFields struct {
		named
		OffProperty bool `json:"offProperty"`
	}
	deviceFields struct {
		named
		Lowest  training.Num `json:"lowest"`
		Highest training.Num `json:"highest"`
	}
	cueFields struct {
		named
		Kind    training.Kind   `json:"kind"`
		Signal  training.Signal `json:"signal"`
		Limit   training.Num    `json:"limit"`
		Arrive  training.Num    `json:"arrive"`
		Target  training.Num    `json:"target"`
		Breaks  training.Num    `json:"breaks"`
		Ends    string          `json:"ends"`
		Meaning string          `json:"meaning"`
	}
	boardingFields struct {
		Dog     string       `json:"dog"`
		Arrived training.Day `json:"arrived"`
		Due     training.Day `json:"due"`
		Home    training.Day `json:"home"`
		Wishes  string       `json:"wishes"`
		Judged  bool         `json:"judged"`
		Ready   bool         `json:"ready"`
		Gone    bool         `json:"gone"`
	}
	holdFields struct {
		Dog        string       `json:"dog"`
		From       training.Day `json:"from"`
		To         training.Day `json:"to"`
		Reason     string       `json:"reason"`
		Cues       []string     `json:"cues"`
		NoCollar   bool         `json:"noCollar"`
		CollarOnly bool         `json:"collarOnly"`
		Gone       bool         `json:"gone"`
	}
	goalsFields struct {
		Goals []goalFields `json:"goals"`
	}
	goalFields struct {
		Cue         string         `json:"cue,omitempty"`
		Place       party          `json:"place"`
		Distraction training.Num   `json:"distraction"`
		Handler     party          `json:"handler"`
		Bar         training.Num   `json:"bar"`
		Words       string         `json:"words,omitempty"`
		Leash       training.Leash `json:"leash,omitempty"`
		Hold        training.Num   `json:"hold,omitzero"`
	}
	wordsFields struct {
		Words []wordFields `json:"words"`
	}
	wordFields struct {
		Cue    string `json:"cue"`
		Word   string `json:"word,omitempty"`
		Signal string `json:"signal,omitempty"`
		Ends   string `json:"ends,omitempty"`
	}
	settingFields struct {
		Dog   string       `json:"dog"`
		Cue   string       `json:"cue"`
		Name  string       `json:"name"`
		Value training.Num `json:"value"`
		Gone  bool         `json:"gone"`
	}
	incidentFields struct {
		Dog  string       `json:"dog"`
		Day  training.Day `json:"day"`
		Text string       `json:"text"`
	}
	closingFields struct {
		Closed  training.Day `json:"closed"`
		Outcome string       `json:"outcome"`
	}
	mappingFields struct {
		Name string `json:"name"`
		Text string `json:"text"`
		Gone bool   `json:"gone"`
	}
	// party is an entry of a list by id or, where there is none, a plain name.
	party struct {
		ID   string `json:"id,omitempty"`
		Name string `json:"name,omitempty"`
	}
)

// fields makes an empty value of the kind's fields.
func fields(k kind) any {
	switch k {
	case aDog:
		return new(dogFields)
	case aHandler:
		return new(handlerFields)
	case aPlace:
		return new(placeFields)
	case aDevice:
		return new(deviceFields)
	case aCue:
		return new(cueFields)
	case aBoarding:
		return new(boardingFields)
	case aHold:
		return new(holdFields)
	case theGoals:
		return new(goalsFields)
	case theWords:
		return new(wordsFields)
	case aSetting:
		return new(settingFields)
	case incident:
		return new(incidentFields)
	case closing:
		return new(closingFields)
	case mapping:
		return new(mappingFields)
	}
	return nil
}

// change is a row of the table change.
type change struct {
	ID      string          `json:"id,omitempty"` // hash of all below; not part of the document
	Kind    kind            `json:"kind"`
	Entity  string          `json:"entity"`
	Tick    int64           `json:"tick"`
	At      string          `json:"at"`
	Writer  string          `json:"writer"`
	Content json.RawMessage `json:"content"`
	Said    string          `json:"said"`
	Batch   string          `json:"batch,omitempty"`
}

// seal works out the document and the id of a change.
func (c *change) seal() []byte {
	d := *c
	d.ID = ""
	body := plainJSON(&d)
	c.ID = hashOf(body)
	return body
}

// sealed is the id of a change, worked out anew.
func (c *change) sealed() string {
	c.seal()
	return c.ID
}

// hashOf is the id of a document: the first 16 bytes of its SHA-256.
func hashOf(body []byte) string {
	sum := sha256.Sum256(body)
	return hex.EncodeToString(sum[:16])
}

// readChange reads a document and holds it against its hash.
func readChange(id string, body []byte) (change, error) {
	var c change
	if hashOf(body) != id || json.Unmarshal(body, &c) != nil {
		return c, errTorn
	}
	c.ID = id
	return c, nil
}

// digest hashes the parts so that no two lists of parts run together, to 32
// hexadecimal digits.
func digest(parts ...string) string {
	h := sha256.New()
	for _, p := range parts {
		fmt.Fprintf(h, "%d:", len(p))
		h.Write([]byte(p))
	}
	return hex.EncodeToString(h.Sum(nil)[:16])
}

// plainJSON is json.Marshal without the escapes for HTML.
func plainJSON(v any) []byte {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	if err := e.Encode(v); err != nil {
		panic("store: " + err.Error()) // only values checked before come here
	}
	return bytes.TrimSuffix(b.Bytes(), []byte("\n"))
}

func object(v any) map[string]json.RawMessage {
	m := map[string]json.RawMessage{}
	if err := json.Unmarshal(plainJSON(v), &m); err != nil {
		panic("store: " + err.Error())
	}
	return m
}

// guessed reports whether a change only guessed a field: a name that came with a
// note gets the role and the ground that most have, and nobody said so.
func (c *change) guessed(field string) bool {
	return c.Batch != "" && (c.Kind == aHandler && field == "role" || c.Kind == aPlace && field == "offProperty")
}

// fold puts the changes of one entity one over the other, in the order in which
// changesOf gives them. A guess never goes over what somebody entered, whenever
// that was; and a name typed in other letters when two laptops add the same entry
// is no new name: the first stays, or the one with a capital. What somebody
// renames on purpose is renamed.
func fold(changes []change) map[string]json.RawMessage {
	m := map[string]json.RawMessage{}
	entered := map[string]bool{}
	writers := map[string]bool{} // that have said something of it
	var name string
	renamed := false
	for _, c := range changes {
		var part map[string]json.RawMessage
		if json.Unmarshal(c.Content, &part) == nil {
			if v := part["name"]; v != nil && slices.Contains(namedKinds, c.Kind) {
				now := ""
				json.Unmarshal(v, &now) // a name that is none stays ""
				adds := c.adds(now, writers)
				if adds && name != "" && training.Key(now) == training.Key(name) && (renamed || !capital(name, now)) {
					delete(part, "name")
				} else {
					name, renamed = now, !adds
				}
			}
			for k, v := range part {
				guess := c.guessed(k)
				if guess && entered[k] || k == verbField {
					continue
				}
				m[k], entered[k] = v, !guess
			}
		}
		writers[c.Writer] = true
	}
	return m
}

// verbField stands in the content of a change beside the fields, and says what was
// done where the fields alone do not tell.
const (
	verbField = "verb"
	verbAdd   = `"add"` // an entry is new on this laptop's list
)

// adds reports whether the change puts a new entry on the list, under the name
// given. A change of before there were verbs does so when its writer had not
// spoken of the entry yet and the entry has the id that this name gives.
func (c *change) adds(name string, writers map[string]bool) bool {
	var part map[string]json.RawMessage
	if json.Unmarshal(c.Content, &part) == nil && part[verbField] != nil {
		return string(part[verbField]) == verbAdd
	}
	return !writers[c.Writer] && c.Entity == entityOf(c.Kind, training.Key(name))
}

// capital reports whether other begins with a capital where name does not.
func capital(name, other string) bool {
	a, _ := utf8.DecodeRuneInString(name)
	b, _ := utf8.DecodeRuneInString(other)
	return !unicode.IsUpper(a) && unicode.IsUpper(b)
}

func decode(m map[string]json.RawMessage, dst any) error {
	b := plainJSON(m)
	if err := json.Unmarshal(b, dst); err != nil {
		return fail(ErrInvalid, "entry %s: %v", b, err)
	}
	return nil
}

// changesOf reads all changes of one entity in order. The order depends on what
// the changes say and not on how they came into the file.
func (t *tx) changesOf(k kind, entity string) ([]change, error) {
	var out []change
	err := t.each(func(scan func(...any) error) error {
		var id string
		var body []byte
		if err := scan(&id, &body); err != nil {
			return err
		}
		c, err := readChange(id, body)
		if err == nil && (c.Kind != k || c.Entity != entity) {
			err = errTorn
		}
		out = append(out, c)
		return err
	}, "SELECT c.id, e.body FROM change c JOIN entry e ON e.seq = c.n WHERE c.kind = ? AND c.entity = ? ORDER BY c.tick, c.writer, c.id", k, entity)
	return out, err
}

// state reads an entity as it stands into dst; found is false when nothing was
// ever said of it.
func (t *tx) state(k kind, entity string, dst any) (found bool, err error) {
	changes, err := t.changesOf(k, entity)
	if err != nil || len(changes) == 0 {
		return false, err
	}
	return true, decode(fold(changes), dst)
}

// set writes what is new in fields as one change of the entity and brings the
// tables up to date. Nothing new, nothing written, but for the stated fields: what
// was a guess so far is entered by saying it again.
func (t *tx) set(k kind, entity string, now any, said string, stated ...string) (changed bool, err error) {
	return t.say(k, entity, now, said, false, stated...)
}

// say is set; adds says that the entry is new on the list.
func (t *tx) say(k kind, entity string, now any, said string, adds bool, stated ...string) (changed bool, err error) {
	if err := checkText(k, now); err != nil {
		return false, err
	}
	before, err := t.changesOf(k, entity)
	if err != nil {
		return false, err
	}
	old := fields(k)
	if err := decode(fold(before), old); err != nil {
		return false, err
	}
	was, is := object(old), object(now)
	part := map[string]json.RawMessage{}
	for name, v := range is {
		if !bytes.Equal(v, was[name]) && !(empty(v) && empty(was[name])) || slices.Contains(stated, name) && !entered(before, name) {
			part[name] = v
		}
	}
	if len(part) == 0 && len(before) > 0 {
		return false, nil
	}
	if part["name"] != nil && slices.Contains(namedKinds, k) {
		part[verbField] = json.RawMessage(`"rename"`)
		if adds {
			part[verbField] = json.RawMessage(verbAdd)
		}
	}
	c := change{Kind: k, Entity: entity, Tick: t.now.UnixMilli(), At: clock(t.now), Writer: t.writer, Content: plainJSON(part), Said: said, Batch: t.batch}
	if n := len(before); n > 0 && c.Tick <= before[n-1].Tick {
		c.Tick = before[n-1].Tick + 1
	}
	if err := t.addChange(&c); err != nil {
		return false, err
	}
	return true, t.settle(k, []string{entity})
}

// entered reports whether somebody said what the field is.
func entered(changes []change, field string) bool {
	return slices.ContainsFunc(changes, func(c change) bool {
		var part map[string]json.RawMessage
		return !c.guessed(field) && json.Unmarshal(c.Content, &part) == nil && part[field] != nil
	})
}

func empty(v json.RawMessage) bool { return len(v) == 0 || string(v) == "null" || string(v) == "[]" }

func (t *tx) addChange(c *change) error {
	body := c.seal()
	if known, err := t.known(c.ID); err != nil || known {
		return err
	}
	n, err := t.append("change", c.Entity, c.Batch, c.ID, body)
	if err != nil {
		return err
	}
	return t.insert("change", "n, id, kind, entity, tick, writer, batch", n, c.ID, string(c.Kind), c.Entity, c.Tick, c.Writer, c.Batch)
}

// known reports whether a document is in the log.
func (t *tx) known(id string) (bool, error) {
	if t.standsAt > 0 {
		return false, nil // it is that very document
	}
	return t.one("SELECT 1 FROM entry WHERE id = ? LIMIT 1", []any{id}, new(int))
}

// checkText refuses text that could not be written to an exchange file and read
// back the same.
func checkText(k kind, v any) error {
	var walk func(v reflect.Value) error
	walk = func(v reflect.Value) error {
		switch v.Kind() {
		case reflect.String:
			if !utf8.ValidString(v.String()) {
				return fail(ErrInvalid, "%s: %q is not valid UTF-8 text", k, v.String())
			}
		case reflect.Float64:
			if f := v.Float(); f != f || f-f != 0 {
				return fail(ErrInvalid, "%s: %v is not a number", k, f)
			}
		case reflect.Struct:
			for i := range v.NumField() {
				if err := walk(v.Field(i)); err != nil {
					return err
				}
			}
		case reflect.Slice:
			for i := range v.Len() {
				if err := walk(v.Index(i)); err != nil {
					return err
				}
			}
		case reflect.Pointer:
			return walk(v.Elem())
		}
		return nil
	}
	return walk(reflect.ValueOf(v))
}

// settle works the tables out anew for the entities.
func (t *tx) settle(k kind, entities []string) error {
	if slices.Contains(namedKinds, k) {
		return t.settleNamed(k, entities)
	}
	for _, e := range entities {
		f := fields(k)
		if _, err := t.state(k, e, f); err != nil {
			return err
		}
		if err := t.put(e, f); err != nil && !(t.lenient && errors.Is(explain("", err), ErrInvalid)) {
			return err
		}
	}
	return nil
}

// node is an entry while it is worked out what stands for what.
type node struct {
	n     int64
	id    string
	name  string
	key   string
	into  string
	gone  bool
	shown string
}

// settleNamed works out names and joins of one kind. Two entries of one name
// are one, and the smaller id stands for both; joined entries stand for the one
// they were joined into. Like fold it depends on the set of changes alone.
func (t *tx) settleNamed(k kind, entities []string) error {
	clear(t.names)
	t.lists = nil
	for _, e := range entities {
		f := fields(k)
		if _, err := t.state(k, e, f); err != nil {
			return err
		}
		nm := namedOf(f)
		if nm.Name == "" {
			nm.Name = "(no name)" // only a damaged exchange file could say so
		}
		if err := t.exec(`INSERT INTO name (kind, id, name, key, shown, gone, joined) VALUES (?, ?, ?, '', coalesce((SELECT max(n) FROM name), 0) + 1, ?, ?)
			ON CONFLICT (kind, id) DO UPDATE SET name = excluded.name, gone = excluded.gone, joined = excluded.joined, key = ''`,
			k, e, nm.Name, bit(nm.Gone), nm.Into); err != nil {
			return err
		}
		if err := t.putNamed(k, e, f); err != nil {
			return err
		}
	}
	nodes, err := t.nodesAround(k, entities)
	if err != nil {
		return err
	}
	resolve(nodes)
	numbers := map[string]int64{}
	for _, x := range nodes {
		numbers[x.id] = x.n
	}
	// Twice over, so that no two entries hold one name on the way.
	for _, x := range nodes {
		if err := t.exec("UPDATE name SET key = '', shown = ? WHERE n = ?", numbers[x.shown], x.n); err != nil {
			return err
		}
	}
	for _, x := range nodes {
		if err := t.exec("UPDATE name SET key = ? WHERE n = ?", x.key, x.n); err != nil {
			return err
		}
	}
	return nil
}

// nodesAround reads every entry of the kind that can bear on the entities: those
// of the same names and those joined with one of them, and so on.
func (t *tx) nodesAround(k kind, entities []string) ([]*node, error) {
	const columns = "SELECT e.n, e.id, e.name, e.gone, e.joined FROM name e WHERE "
	got := map[string]*node{}
	var load func(where string, args ...any) error
	load = func(where string, args ...any) error {
		var fresh []*node
		err := t.each(func(scan func(...any) error) error {
			x := &node{}
			if err := scan(&x.n, &x.id, &x.name, &x.gone, &x.into); err != nil {
				return err
			}
			x.key = training.Key(x.name)
			if got[x.id] == nil {
				got[x.id] = x
				fresh = append(fresh, x)
			}
			return nil
		}, columns+where, args...)
		if err != nil {
			return err
		}
		for _, x := range fresh {
			if err := load("e.kind = ? AND e.key = ?", k, x.key); err != nil {
				return err
			}
			if err := load("e.shown IN (SELECT shown FROM name WHERE n = ? UNION SELECT ?) AND +e.kind = ?", x.n, x.n, k); err != nil {
				return err
			}
			if x.into != "" {
				if err := load("e.kind = ? AND e.id = ?", k, x.into); err != nil {
					return err
				}
			}
		}
		return nil
	}
	for _, e := range entities {
		if err := load("e.kind = ? AND e.id = ?", k, e); err != nil {
			return nil, err
		}
	}
	var out []*node
	for _, x := range got {
		out = append(out, x)
	}
	slices.SortFunc(out, func(a, b *node) int { return cmp.Compare(a.id, b.id) })
	return out, nil
}

// resolve sets what each node is shown as.
func resolve(nodes []*node) {
	byID := map[string]*node{}
	for _, x := range nodes {
		byID[x.id] = x
	}
	root := func(x *node) *node {
		seen := map[*node]bool{}
		for byID[x.into] != nil && x.into != x.id {
			if seen[x] { // each joined into the other: the smallest id of the ring
				least := x
				for y := byID[x.into]; y != x; y = byID[y.into] {
					if y.id < least.id {
						least = y
					}
				}
				return least
			}
			seen[x] = true
			x = byID[x.into]
		}
		return x
	}
	first := map[string]*node{}
	for _, x := range nodes { // in order of id
		if r := root(x); r == x && !x.gone && first[x.key] == nil {
			first[x.key] = x
		}
	}
	for _, x := range nodes {
		r := root(x)
		if !r.gone && first[r.key] != nil {
			r = first[r.key]
		}
		x.shown = r.id
	}
}

func namedOf(f any) *named {
	switch f := f.(type) {
	case *dogFields:
		return &f.named
	case *handlerFields:
		return &f.named
	case *placeFields:
		return &f.named
	case *deviceFields:
		return &f.named
	case *cueFields:
		return &f.named
	}
	return nil
}

// number returns the number of an entry by id.
func (t *tx) number(k kind, id string) (any, error) {
	if id == "" {
		return nil, nil
	}
	var n int64
	found, err := t.one("SELECT n FROM name WHERE kind = ? AND id = ?", []any{k, id}, &n)
	if err == nil && !found && t.lenient {
		return nil, nil
	}
	if err == nil && !found {
		err = fail(ErrInvalid, "the %s with the id %s is missing: the exchange file is not whole", k, id)
	}
	return n, err
}

// putNamed writes the tables of a named entry, but not its name.
func (t *tx) putNamed(k kind, id string, f any) error {
	got, err := t.number(k, id)
	if err != nil {
		return err
	}
	n := got.(int64)
	if err := t.exec("DELETE FROM alias WHERE entry = ?", n); err != nil {
		return err
	}
	for i, a := range namedOf(f).Aliases {
		if err := t.exec("INSERT INTO alias (entry, position, name, key) VALUES (?, ?, ?, ?)", n, i, a, training.Key(a)); err != nil {
			return err
		}
	}
	switch f := f.(type) {
	case *handlerFields:
		return t.exec("INSERT OR REPLACE INTO handler (n, role) VALUES (?, ?)", n, f.Role)
	case *placeFields:
		return t.exec("INSERT OR REPLACE INTO place (n, off_property) VALUES (?, ?)", n, bit(f.OffProperty))
	case *deviceFields:
		return t.exec("INSERT OR REPLACE INTO device (n, lowest, highest) VALUES (?, ?, ?)", n, num(f.Lowest), num(f.Highest))
	case *cueFields:
		return t.exec(`INSERT OR REPLACE INTO cue (n, kind, signal, "limit", arrive, target, breaks, ends, meaning) VALUES (?,?,?,?,?,?,?,?,?)`,
			n, f.Kind, f.Signal, num(f.Limit), num(f.Arrive), num(f.Target), num(f.Breaks), f.Ends, f.Meaning)
	case *dogFields:
		device, err := t.number(aDevice, f.Device)
		if err != nil {
			return err
		}
		main, err := t.number(aHandler, f.Main)
		if err != nil {
			return err
		}
		if err := t.exec("INSERT OR REPLACE INTO dog (n, born, reward_only, consent, device, main) VALUES (?,?,?,?,?,?)",
			n, day(f.Born), bit(f.RewardOnly), f.Consent, device, main); err != nil {
			return err
		}
		if err := t.exec("DELETE FROM dog_owner WHERE dog = ?", n); err != nil {
			return err
		}
		for i, o := range f.Owners {
			h, err := t.number(aHandler, o.ID)
			if err != nil {
				return err
			}
			if err := t.exec("INSERT INTO dog_owner (dog, position, handler, name) VALUES (?,?,?,?)", n, i, h, o.Name); err != nil {
				return err
			}
		}
	}
	return nil
}

// readyAtHome is NULL for a stay that was not judged at its end.
func readyAtHome(f *boardingFields) any {
	if !f.Judged || f.Home == 0 {
		return nil
	}
	return f.Ready
}

// put writes the tables of an entity without a name of its own.
func (t *tx) put(id string, f any) error {
	switch f := f.(type) {
	case *boardingFields:
		if f.Gone {
			return t.exec("DELETE FROM boarding WHERE id = ?", id)
		}
		dog, err := t.number(aDog, f.Dog)
		if err != nil {
			return err
		}
		return t.exec("INSERT OR REPLACE INTO boarding (id, dog, arrived, due, home, wishes, ready) VALUES (?,?,?,?,?,?,?)",
			id, dog, day(f.Arrived), day(f.Due), day(f.Home), f.Wishes, readyAtHome(f))
	case *holdFields:
		if err := t.exec("DELETE FROM hold_cue WHERE hold = ?", id); err != nil {
			return err
		}
		if f.Gone {
			return t.exec("DELETE FROM hold WHERE id = ?", id)
		}
		dog, err := t.number(aDog, f.Dog)
		if err != nil {
			return err
		}
		if err := t.exec("INSERT OR REPLACE INTO hold (id, dog, first_day, last_day, reason, no_collar, collar_only) VALUES (?,?,?,?,?,?,?)",
			id, dog, day(f.From), day(f.To), f.Reason, bit(f.NoCollar), bit(f.CollarOnly)); err != nil {
			return err
		}
		for i, c := range f.Cues {
			cue, err := t.number(aCue, c)
			if err != nil {
				return err
			}
			if err := t.exec("INSERT INTO hold_cue (hold, position, cue) VALUES (?,?,?)", id, i, cue); err != nil {
				return err
			}
		}
	case *goalsFields: // the id is the dog's
		dog, err := t.number(aDog, id)
		if err != nil {
			return err
		}
		if err := t.exec("DELETE FROM goal WHERE dog = ?", dog); err != nil {
			return err
		}
		for i, g := range f.Goals {
			cue, err1 := t.number(aCue, g.Cue)
			place, err2 := t.number(aPlace, g.Place.ID)
			handler, err3 := t.number(aHandler, g.Handler.ID)
			if err := cmp.Or(err1, err2, err3); err != nil {
				return err
			}
			if err := t.exec("INSERT INTO goal (dog, position, cue, place, place_name, distraction, handler, handler_name, bar, words, leash, hold) VALUES (?,?,?,?,?,?,?,?,?,?,?,?)",
				dog, i, cue, place, g.Place.Name, num(g.Distraction), handler, g.Handler.Name, num(g.Bar), g.Words, g.Leash, num(g.Hold)); err != nil {
				return err
			}
		}
	case *wordsFields:
		dog, err := t.number(aDog, id)
		if err != nil {
			return err
		}
		if err := t.exec("DELETE FROM cue_word WHERE dog = ?", dog); err != nil {
			return err
		}
		for i, w := range f.Words {
			cue, err := t.number(aCue, w.Cue)
			if err != nil {
				return err
			}
			if err := t.exec("INSERT INTO cue_word (dog, position, cue, word, signal, ends) VALUES (?,?,?,?,?,?)", dog, i, cue, w.Word, w.Signal, w.Ends); err != nil {
				return err
			}
		}
	case *settingFields:
		if f.Gone {
			return t.exec("DELETE FROM setting WHERE id = ?", id)
		}
		dog, err1 := t.number(aDog, f.Dog)
		cue, err2 := t.number(aCue, f.Cue)
		if err := cmp.Or(err1, err2); err != nil {
			return err
		}
		return t.exec("INSERT OR REPLACE INTO setting (id, dog, cue, name, value) VALUES (?,?,?,?,?)", id, dog, cue, f.Name, num(f.Value))
	case *incidentFields:
		dog, err := t.number(aDog, f.Dog)
		if err != nil {
			return err
		}
		return t.exec("INSERT OR REPLACE INTO incident (id, dog, day, text) VALUES (?,?,?,?)", id, dog, int64(f.Day), f.Text)
	case *closingFields:
		return t.exec("INSERT OR REPLACE INTO closing (incident, closed, outcome) VALUES (?,?,?)", id, day(f.Closed), f.Outcome)
	case *mappingFields:
		if f.Gone {
			return t.exec("DELETE FROM mapping WHERE id = ?", id)
		}
		return t.exec("INSERT OR REPLACE INTO mapping (id, name, text) VALUES (?,?,?)", id, f.Name, f.Text)
	}
	return nil
}

// names holds the entries of one kind both ways.
type names struct {
	id   map[string]entryRow // by key of name or alias
	said map[string]entryRow // by name or alias as it was spelt
	n    map[int64]entryRow  // by number, joined ones resolved
	byID map[string]int64    // number by id, joined ones not resolved
	// shown is the name by id, joined ones resolved.
	shown map[string]string
}

type entryRow struct {
	n    int64 // of the entry that is shown
	id   string
	name string
}

// find looks a name or alias up. Only what is asked for is read, so that it
// costs the same however many dogs there are.
func (t *tx) find(k kind, name string) (entryRow, bool, error) {
	c := t.cache(k)
	if r, ok := c.said[name]; ok { // an import says the same few names a million times
		return r, r.n != 0, nil
	}
	key := training.Key(name)
	if r, ok := c.id[key]; ok {
		c.said[name] = r
		return r, r.n != 0, nil
	}
	var r entryRow
	found, err := t.one("SELECT n, id, name FROM name WHERE kind = ? AND key = ? AND shown = n AND gone = 0 AND key <> ''", []any{k, key}, &r.n, &r.id, &r.name)
	if err == nil && !found {
		// The name of an entry that was joined into this one. The plus keeps SQLite
		// from going through all dogs in the order of their ids, and CROSS JOIN from
		// going through all dogs to find the few that have an alias.
		found, err = t.one("SELECT s.n, s.id, s.name FROM name e JOIN name s ON s.n = e.shown WHERE e.kind = ? AND e.key = ? AND s.gone = 0 AND e.gone = 0 ORDER BY +s.id LIMIT 1", []any{k, key}, &r.n, &r.id, &r.name)
	}
	if err == nil && !found {
		found, err = t.one(`SELECT s.n, s.id, s.name FROM alias a CROSS JOIN name e ON e.n = a.entry CROSS JOIN name s ON s.n = e.shown
			WHERE a.key = ? AND e.kind = ? AND s.gone = 0 ORDER BY +s.id LIMIT 1`, []any{key, k}, &r.n, &r.id, &r.name)
	}
	if err != nil {
		return r, false, err
	}
	c.id[key] = r
	if found {
		c.byID[r.id] = r.n
	}
	return r, found, nil
}

func (t *tx) cache(k kind) *names {
	c := t.names[string(k)]
	if c == nil {
		c = &names{id: map[string]entryRow{}, said: map[string]entryRow{}, n: map[int64]entryRow{}, byID: map[string]int64{}, shown: map[string]string{}}
		t.names[string(k)] = c
	}
	return c
}

// need is find for a name that must be known; "" is nobody.
func (t *tx) need(k kind, name string) (entryRow, error) {
	if name == "" {
		return entryRow{}, nil
	}
	r, found, err := t.find(k, name)
	if err == nil && !found {
		err = fail(ErrUnknown, "no %s is called %q; add it first", k, name)
	}
	return r, err
}

// party finds the name on the list, or keeps it as a plain name.
func (t *tx) party(k kind, name string) (party, error) {
	if name == "" {
		return party{}, nil
	}
	r, found, err := t.find(k, name)
	if found {
		return party{ID: r.id}, err
	}
	return party{Name: strings.Join(strings.Fields(name), " ")}, err
}

// nameOf returns the entry that is shown for the number; 0 is nobody.
func (t *tx) nameOf(n int64) (entryRow, error) {
	if n == 0 {
		return entryRow{}, nil
	}
	c := t.cache("")
	if r, ok := c.n[n]; ok {
		return r, nil
	}
	var r entryRow
	found, err := t.one("SELECT s.n, s.id, s.name FROM name e JOIN name s ON s.n = e.shown WHERE e.n = ?", []any{n}, &r.n, &r.id, &r.name)
	if err == nil && !found {
		err = fail(ErrDamaged, "entry %d is missing", n)
	}
	if err == nil {
		c.n[n] = r
	}
	return r, err
}

// nameByID is the name now shown for an id; "" for none.
func (t *tx) nameByID(k kind, id string) (string, error) {
	if id == "" {
		return "", nil
	}
	c := t.cache(k)
	if name, ok := c.shown[id]; ok {
		return name, nil
	}
	var name string
	_, err := t.one("SELECT s.name FROM name e JOIN name s ON s.n = e.shown WHERE e.kind = ? AND e.id = ?", []any{k, id}, &name)
	if err == nil {
		c.shown[id] = name
	}
	return name, err
}
