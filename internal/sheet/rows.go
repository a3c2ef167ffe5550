package sheet

import (
	"bytes"
	"errors"
	"fmt"
	"hash/maphash"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"firstcue/internal/note"
	"firstcue/internal/training"
)

// Options say how the rows of a file become sessions.
type Options struct {
	Layout  Layout
	Columns Columns
	Values  map[Field]map[string]string // cell, by training.Key, to what it means
	// Defaults stand for fields of a session that are in no column, or whose cell
	// is empty: what the flags of the command said.
	Defaults map[Field]string
	// At is the time of day ("9:00") of sessions of which only the day is known;
	// "" refuses their rows.
	At          string
	Kennel      training.Kennel
	Now         time.Time // its Location is the kennel's zone
	AllowNew    bool      // unknown names are new entries, see Result.New
	DespiteHold bool      // trials in a vet hold are kept, with a warning
	// Gather holds all sessions in memory until the end of the file, for a file
	// whose rows of one session do not stand together.
	Gather bool
}

// Rejected is a row that is not stored, as it stands in the file.
type Rejected struct {
	Line   int
	Cells  []string
	Reason string
}

// Result is what a file came to.
type Result struct {
	Rows     int // with something in them, the header not counted
	Sessions int
	Trials   int // a tally counts as the trials it stands for
	Rejected int
	LeftOut  int         // rows of withdrawn sessions
	New      []note.Name // names the kennel does not know, each once
	Warnings []string    // each once, at most 20
}

// ErrScattered reports that the rows of one session do not stand together in
// the file. Reading it again with Options.Gather puts them together.
var ErrScattered = errors.New("the rows of one session do not stand together")

// ErrUnsureDates reports that the order of day and month can't be told.
var ErrUnsureDates = errors.New("day or month first?")

var errUnsureDecimal = errors.New("the numbers could have a decimal mark or a thousands mark (1.800, 1,800): say --decimal dot or --decimal comma")

// sessionFields are the fields that make a session, in the order of the note's
// context.
var sessionFields = []Field{Dog, Handler, Scorer, Start, Date, Time, Place, Leash, Distraction, Device, Working, Baseline, Source, Weather, Reward, Session, Zone, Part, Withdrawn}

// trialFields are the fields of which a trial is made; remarks stand apart.
var trialFields = []Field{Cue, Marks, Response, Signal, Asks, Latency, Completion, Did, Help, Correction, Level, Target, Held, Walked, Breaks, Distance, Yes, Of}

// row is a row that belongs to a session: where it stands and what it says.
type row struct {
	line  int
	cells []string // kept for a rejection; nil in a row that was read without trouble
}

// line is what the cells of a trial come to, kept because rows repeat: of a
// million trials only some ten thousand differ.
type line struct {
	text   string           // as the note would write it
	trials []training.Trial // when read by itself for a dog without particulars
	err    error            // the cells make no line
	cue    string           // one that may be new
	plain  bool             // trials is set: the line means the same in any session
}

// context is what the session fields of a row come to.
type context struct {
	values  map[Field]string // in the kennel's names where they are known
	moment  note.Moment
	dog     training.Dog
	generic bool // the dog has no particulars, and every name is known
	part    int  // as the file says it, if parted
	parted  bool
	err     error
	base    uint64 // of what makes a session, without softFields
	key     uint64 // with them
	same    uint64 // of dog and start
}

// softFields are often filled in only where they matter, as a collar beside a
// level. An empty cell says nothing new; another value begins a new part.
var softFields = []Field{Device, Weather, Reward, Working}

// joins reports whether a row with the context d goes on with the session of c,
// and adds to c what d says more.
func (c *context) joins(d *context) bool {
	if c.err != nil || d.err != nil || c.base != d.base {
		return false
	}
	for _, f := range softFields {
		if c.values[f] != "" && d.values[f] != "" && training.Key(c.values[f]) != training.Key(d.values[f]) {
			return false
		}
	}
	for _, f := range softFields {
		if d.values[f] != "" {
			c.values[f] = d.values[f]
		}
	}
	c.generic = c.generic && d.generic
	return true
}

// session is one that is being put together.
type session struct {
	ctx   context
	lines []line
	extra []string // remark lines after each line, "" = none
	rows  []int    // line in the file
	cells [][]string
}

type reader struct {
	o       Options
	r       *Reader
	res     Result
	yield   func(training.Session) error
	reject  func(Rejected) error
	at      map[Field]int
	sess    []int // columns of sessionFields in use
	trial   []int // columns of trialFields in use
	prev    [][]byte
	cur     *session
	ctxs    context
	memo    map[string]line
	key     []byte
	known   map[uint64]bool // sessions done
	parts   map[uint64]int
	order   []*session // Gather
	byKey   map[uint64]*session
	seed    maphash.Seed
	dogs    map[string]training.Dog
	names   map[Field]map[string]string
	slips   map[Field]*note.Slips // of dogs, people and places
	narrow  training.Kennel       // cues and devices only
	newKeys map[string]bool
	warned  map[string]bool
}

// Read reads the rows after the header into sessions, calls yield for each that
// can be stored, in the order of the file, and reject for each row that can't.
// A session that lost a row is still handed on: whether to store it is the
// caller's decision. An error of yield or reject ends the reading.
//
// Rows belong to one session when they follow one another with the same dog,
// start, handler, scorer, place, leash, distraction, device, source and session
// number. Sessions of one dog with one start are told apart by their part, in
// the order of the file, as they are in a note.
func Read(r *Reader, o Options, yield func(training.Session) error, reject func(Rejected) error) (Result, error) {
	x := &reader{o: o, r: r, yield: yield, reject: reject, memo: map[string]line{}, known: map[uint64]bool{}, parts: map[uint64]int{},
		byKey: map[uint64]*session{}, seed: maphash.MakeSeed(), newKeys: map[string]bool{}, warned: map[string]bool{}}
	x.at = map[Field]int{}
	for _, f := range Fields {
		x.at[f.Field] = o.Columns.At(f.Field)
	}
	for _, f := range sessionFields {
		if c := x.at[f]; c >= 0 {
			x.sess = append(x.sess, c)
		}
	}
	for _, f := range trialFields {
		if c := x.at[f]; c >= 0 {
			x.trial = append(x.trial, c)
		}
	}
	x.prev = make([][]byte, len(o.Layout.Header))
	x.index()
	for {
		cells, err := r.Read()
		if err == io.EOF {
			break
		}
		var bad *RowError
		if errors.As(err, &bad) {
			x.res.Rows++
			if err := x.refuse(bad.Line, nil, fmt.Sprintf("byte %d: %s", bad.Column, bad.Reason)); err != nil {
				return x.res, err
			}
			continue
		}
		if err != nil {
			return x.res, err
		}
		if err := x.row(cells); err != nil {
			return x.res, err
		}
	}
	if err := x.done(); err != nil {
		return x.res, err
	}
	for _, s := range x.order {
		if err := x.finish(s); err != nil {
			return x.res, err
		}
	}
	return x.res, nil
}

// index makes the kennel's lists quick to look into. A name that fits two
// entries is left out: note says which two.
func (x *reader) index() {
	k := x.o.Kennel
	x.narrow = training.Kennel{Cues: k.Cues, Devices: k.Devices}
	x.dogs = map[string]training.Dog{}
	x.names = map[Field]map[string]string{Handler: {}, Place: {}, Device: {}, Cue: {}}
	x.slips = map[Field]*note.Slips{}
	if x.o.AllowNew {
		x.slips = map[Field]*note.Slips{Dog: {}, Handler: {}, Place: {}}
	}
	twice := map[string]bool{}
	for _, d := range k.Dogs {
		for _, n := range append([]string{d.Name}, d.Aliases...) {
			if x.o.AllowNew {
				x.slips[Dog].Add(n)
			}
			key := training.Key(n)
			if old, ok := x.dogs[key]; ok && old.Name != d.Name {
				twice[key] = true
			}
			x.dogs[key] = d
		}
	}
	for key := range twice {
		delete(x.dogs, key)
	}
	add := func(f Field, name string, aliases []string) {
		for _, n := range append([]string{name}, aliases...) {
			key := training.Key(n)
			if old, ok := x.names[f][key]; ok && old != name {
				name = "" // stays unknown here
			}
			x.names[f][key] = name
			if x.slips[f] != nil {
				x.slips[f].Add(n)
			}
		}
	}
	for _, h := range k.Handlers {
		add(Handler, h.Name, h.Aliases)
	}
	for _, p := range k.Places {
		add(Place, p.Name, p.Aliases)
	}
	for _, d := range k.Devices {
		add(Device, d.Name, d.Aliases)
	}
	for _, c := range k.Cues {
		add(Cue, c.Name, c.Aliases)
	}
}

func (x *reader) refuse(line int, cells []string, reason string) error {
	x.res.Rejected++
	return x.reject(Rejected{Line: line, Cells: cells, Reason: reason})
}

func copyCells(cells [][]byte) []string {
	out := make([]string, len(cells))
	for i, c := range cells {
		out[i] = string(c)
	}
	return out
}

// row takes the next row of the file.
func (x *reader) row(cells [][]byte) error {
	blank := true
	for _, c := range cells {
		if len(c) > 0 && len(bytes.TrimSpace(c)) > 0 {
			blank = false
			break
		}
	}
	if blank {
		return nil
	}
	x.res.Rows++
	at := x.r.Line()
	if n := len(x.o.Layout.Header); len(cells) != n {
		for len(cells) > n && len(bytes.TrimSpace(cells[len(cells)-1])) == 0 {
			cells = cells[:len(cells)-1]
		}
		if len(cells) != n {
			return x.refuse(at, copyCells(cells), fmt.Sprintf("the row has %d cells, the header %d", len(cells), n))
		}
	}
	for _, c := range cells {
		if !utf8.Valid(c) {
			return x.refuse(at, copyCells(cells), "not UTF-8 text; if the file comes from an older spreadsheet, say --encoding windows-1252")
		}
	}
	changed := x.cur == nil
	for _, c := range x.sess {
		if !bytes.Equal(cells[c], x.prev[c]) {
			changed = true
			x.prev[c] = append(x.prev[c][:0], cells[c]...)
		}
	}
	if changed {
		ctx := x.context(cells)
		if x.cur == nil || !x.cur.ctx.joins(&ctx) {
			if err := x.begin(ctx); err != nil {
				return err
			}
		}
	}
	s := x.cur
	if s.ctx.err != nil {
		return x.refuse(at, copyCells(cells), s.ctx.err.Error())
	}
	if s.ctx.values[Withdrawn] != "" {
		x.res.LeftOut++
		return nil
	}
	l := x.line(cells)
	if l.err != nil {
		return x.refuse(at, copyCells(cells), l.err.Error())
	}
	extra := ""
	for _, f := range []Field{Remark, Incident} {
		if c := x.at[f]; c >= 0 && len(cells[c]) > 0 {
			if text := strings.Join(strings.Fields(unguard(string(cells[c]))), " "); text != "" {
				sign := "> "
				if f == Incident {
					sign = "! "
				}
				extra += sign + text + "\n"
			}
		}
	}
	if l.text == "" && extra == "" {
		return x.refuse(at, copyCells(cells), "the row names no cue")
	}
	s.lines = append(s.lines, l)
	s.extra = append(s.extra, extra)
	s.rows = append(s.rows, at)
	if !l.plain || !s.ctx.generic || x.o.Gather {
		// It may yet be refused as part of its session.
		for len(s.cells) < len(s.lines)-1 {
			s.cells = append(s.cells, nil)
		}
		s.cells = append(s.cells, copyCells(cells))
	}
	return nil
}

// begin ends the session so far and begins the next.
func (x *reader) begin(ctx context) error {
	if err := x.done(); err != nil {
		return err
	}
	if ctx.err == nil && !ctx.generic {
		x.resolve(&ctx) // the session before may have brought new names
	}
	if ctx.err == nil && x.o.Gather {
		if s := x.byKey[ctx.key]; s != nil {
			x.cur = s
			return nil
		}
		x.cur = &session{ctx: ctx}
		x.byKey[ctx.key] = x.cur
		x.order = append(x.order, x.cur)
		return nil
	}
	if ctx.err == nil {
		if x.known[ctx.key] {
			return fmt.Errorf("line %d: %w", x.r.Line(), ErrScattered)
		}
		x.known[ctx.key] = true
	}
	if x.cur == nil {
		x.cur = &session{}
	}
	*x.cur = session{ctx: ctx, lines: x.cur.lines[:0], extra: x.cur.extra[:0], rows: x.cur.rows[:0], cells: x.cur.cells[:0]}
	return nil
}

// done hands on the session that is being read, unless sessions are gathered.
func (x *reader) done() error {
	if x.cur == nil || x.o.Gather || x.cur.ctx.err != nil {
		return nil
	}
	return x.finish(x.cur)
}

// cell returns what the cell of a field means: the value map's word for it, or
// the cell itself, or the default.
func (x *reader) cell(cells [][]byte, f Field) string {
	c := x.at[f]
	if c < 0 {
		return x.o.Defaults[f]
	}
	s := unguard(strings.TrimSpace(string(cells[c])))
	if m := x.o.Values[f]; m != nil {
		if v, ok := m[training.Key(s)]; ok {
			s = v
		}
	}
	if s == "" {
		return x.o.Defaults[f]
	}
	return s
}

// unguard takes away the apostrophe that keeps a spreadsheet from running a cell
// as a formula.
func unguard(s string) string {
	if len(s) > 1 && s[0] == '\'' && strings.IndexByte("=+-@\t\r\n'", s[1]) >= 0 {
		return s[1:]
	}
	return s
}

// refusal is a reason that names the column it is about.
func (x *reader) refusal(f Field, format string, args ...any) error {
	where := string(f)
	if h := x.o.Columns.Heading(f, x.o.Layout.Header); h != "" {
		where = h
	}
	return fmt.Errorf("%s: %s", where, fmt.Sprintf(format, args...))
}

// context works out the session fields of a row.
func (x *reader) context(cells [][]byte) context {
	c := context{values: map[Field]string{}}
	for _, f := range sessionFields {
		s := x.cell(cells, f)
		if s == "" {
			continue
		}
		// A note cuts its context at these.
		if i := strings.IndexAny(s, ";#\r\n"); i >= 0 && f != Session {
			c.err = x.refusal(f, "%q has a %q in it, which a session note can't hold", s, s[i])
			return c
		}
		c.values[f] = s
	}
	if d := c.values[Distraction]; d != "" {
		c.values[Distraction] = x.dot(d)
	}
	if d := c.values[Working]; d != "" {
		c.values[Working] = x.dot(d)
	}
	if b := c.values[Baseline]; b != "" {
		switch training.Key(b) {
		case "yes", "y", "true", "1":
			c.values[Baseline] = "yes"
		case "no", "n", "false", "0":
			delete(c.values, Baseline)
		default:
			c.err = x.refusal(Baseline, "%q is neither yes nor no", b)
			return c
		}
	}
	if c.moment, c.err = x.start(c.values); c.err != nil {
		return c
	}
	if p := c.values[Part]; p != "" {
		if c.part, _, c.err = x.count(Part, p, 1000); c.err != nil {
			return c
		}
		c.parted = true
	}
	x.resolve(&c)
	var h maphash.Hash
	h.SetSeed(x.seed)
	h.WriteString(training.Key(c.values[Dog]))
	h.WriteByte(0)
	h.WriteString(strconv.FormatInt(c.moment.Time.UnixNano(), 10))
	c.same = h.Sum64()
	for _, f := range sessionFields[1:] {
		if f == Start || f == Date || f == Time || f == Zone || slices.Contains(softFields, f) {
			continue
		}
		h.WriteByte(0)
		h.WriteString(training.Key(c.values[f]))
	}
	c.base = h.Sum64()
	for _, f := range softFields {
		h.WriteByte(0)
		h.WriteString(training.Key(c.values[f]))
	}
	c.key = h.Sum64()
	return c
}

// resolve puts the kennel's names for those of the file, and finds out whether
// the session has nothing about it that only the note reader can judge.
func (x *reader) resolve(c *context) {
	c.generic = true
	if d, ok := x.dogs[training.Key(c.values[Dog])]; ok {
		c.dog = d
		c.values[Dog] = d.Name
		// Of boardings note only asks whether the dog had arrived.
		_, here := d.Boarding(training.DayOf(c.moment.Time))
		c.generic = len(d.Holds) == 0 && !d.RewardOnly && d.Born == 0 && len(d.Words) == 0 && d.Device == "" && (here || len(d.Boardings) == 0)
	} else {
		c.generic = false
	}
	for _, f := range []Field{Handler, Scorer, Place, Device} {
		v := c.values[f]
		list := f
		if f == Scorer {
			list = Handler
		}
		if name := x.names[list][training.Key(v)]; name != "" {
			c.values[f] = name
		} else if v != "" {
			c.generic = false
		}
	}
	if c.values[Handler] == "" || c.values[Place] == "" || c.moment.Warning != "" || c.moment.Time.After(x.o.Now) ||
		c.values[Working] != "" || c.values[Scorer] == c.values[Handler] && c.values[Scorer] != "" {
		c.generic = false // note has something to say, or to work out
	}
	if l := c.values[Leash]; l == "" || !slices.Contains(training.Leashes, training.Leash(l)) {
		c.generic = false
	}
	if d := c.values[Distraction]; len(d) != 1 || d[0] < '0' || d[0] > '4' {
		c.generic = false
	}
	if s := c.values[Source]; s != "" && !slices.Contains(training.Sources, training.Source(s)) {
		c.generic = false
	}
}

// dot turns the file's decimal mark into a dot, and a dot that is not the
// file's decimal mark into something no number holds.
func (x *reader) dot(s string) string {
	if x.o.Layout.Decimal != ',' {
		return s
	}
	return strings.NewReplacer(",", ".", ".", "'").Replace(s)
}

// start works out when the session began.
func (x *reader) start(v map[Field]string) (note.Moment, error) {
	read := func(f Field, s string) (note.Moment, error) {
		m, err := note.ReadTime(s, x.o.Now)
		if err != nil {
			return m, x.refusal(f, "%v", err)
		}
		return m, nil
	}
	if s := v[Start]; s != "" {
		// The form that exports and this program's notes have, without the cost of
		// all the others; note.ReadTime reads it the same.
		if t, err := time.Parse(time.RFC3339, s); err == nil && v[Zone] == "" && t.Year() >= 1900 && t.Year() <= 2200 {
			if _, off := t.Zone(); off != 0 {
				return note.Moment{Time: t.In(time.FixedZone("", off))}, nil
			}
			return note.Moment{Time: t.UTC()}, nil
		}
		iso, err := x.iso(Start, s)
		if err != nil {
			return note.Moment{}, err
		}
		if _, err := note.ParseDay(iso, x.o.Now); err == nil {
			if x.o.At == "" && x.o.Columns.At(Time) >= 0 {
				head := x.o.Layout.Header
				return note.Moment{}, x.refusal(Start, "%q has no time of day, but %s holds it: --map 'date=%s, time=%s'", s,
					x.o.Columns.Heading(Time, head), quoted(x.o.Columns.Heading(Start, head)), quoted(x.o.Columns.Heading(Time, head)))
			}
			if x.o.At == "" {
				return note.Moment{}, x.refusal(Start, "%q has no time of day; say --at 9:00 for the sessions whose time is not known", s)
			}
			iso += " " + x.o.At
		}
		m, err := read(Start, iso)
		if z := v[Zone]; err == nil && z != "" && m.Zone == "" {
			// An offset and a zone: they must agree, as in RFC 9557.
			return read(Start, m.Time.Format(startLayout(m.Time))+"["+z+"]")
		}
		return m, err
	}
	d := v[Date]
	if d == "" {
		return note.Moment{}, x.refusal(Date, "no day is given")
	}
	iso, err := x.iso(Date, d)
	if err != nil {
		return note.Moment{}, err
	}
	// A spreadsheet may have put midnight behind a date.
	for _, zero := range []string{" 00:00:00", " 00:00", " 0:00"} {
		iso = strings.TrimSuffix(iso, zero)
	}
	t := v[Time]
	if t == "" {
		t = x.o.At
	}
	if t == "" {
		return note.Moment{}, x.refusal(Date, "the day has no time; say --at 9:00 for the sessions whose time is not known")
	}
	return read(Date, iso+" "+t)
}

// iso writes a date of numbers in the order of ISO 8601. What is not made of
// numbers is left alone, but must name its year: "yesterday" in a file says
// nothing.
func (x *reader) iso(f Field, s string) (string, error) {
	n, digits, rest, ok := cutDate([]byte(s))
	if !ok {
		year := false
		for i := 0; i+4 <= len(s); i++ {
			year = year || strings.Trim(s[i:i+4], "0123456789") == ""
		}
		if !year {
			return "", x.refusal(f, "%q is not a date with its year: write it as 2026-03-04", s)
		}
		return s, nil
	}
	if digits == [3]int{4, 2, 2} && s[4] == '-' {
		return s, nil
	}
	y, m, d := n[0], n[1], n[2]
	if digits[0] != 4 {
		if digits[2] != 4 {
			return "", x.refusal(f, "%q has no year of four digits: write it as 2026-03-04", s)
		}
		y = n[2]
		switch x.o.Layout.Dates {
		case DMY:
			d, m = n[0], n[1]
		case MDY:
			m, d = n[0], n[1]
		default:
			return "", x.refusal(f, "%q is not written year first as the other dates are: say --dates dmy or mdy, or write it as 2026-03-04", s)
		}
		if m > 12 {
			return "", x.refusal(f, "%q has no month %d; the file's dates are read as %s", s, m, x.o.Layout.Dates)
		}
	}
	return fmt.Sprintf("%04d-%02d-%02d%s", y, m, d, rest), nil
}

// line works out the trial of a row, or remembers it.
func (x *reader) line(cells [][]byte) line {
	key := x.key[:0]
	key = append(key, x.cur.ctx.values[Device]...)
	for _, c := range x.trial {
		key = append(key, 0)
		key = append(key, cells[c]...)
	}
	x.key = key
	if l, ok := x.memo[string(key)]; ok {
		return l
	}
	if len(x.memo) >= 60_000 {
		clear(x.memo)
	}
	l := x.compose(cells)
	l.cue = x.cell(cells, Cue)
	if l.err == nil && l.text != "" {
		l = x.alone(l)
	}
	x.memo[string(key)] = l
	return l
}

// alone reads a line as if it stood in a session without particulars. When that
// goes without a word said, the line means the same in every such session.
func (x *reader) alone(l line) line {
	head := "dog: d; handler: h\nstart: 2001-01-01T09:00Z; place: p; leash: off; distraction: 0\n"
	if d := x.cur.ctx.values[Device]; d != "" {
		head += "device: " + d + "\n"
	}
	k := x.narrow
	k.Dogs = []training.Dog{{Name: "d"}}
	k.Handlers = []training.Handler{{Name: "h"}}
	k.Places = []training.Place{{Name: "p"}}
	res := note.Parse([]byte(head+l.text), note.Options{Kennel: k, Now: x.o.Now})
	if len(res.Problems) > 0 || len(res.Warnings) > 0 || len(res.Sessions) != 1 || len(res.Sessions[0].Remarks) > 0 {
		return l
	}
	for _, t := range res.Sessions[0].Trials {
		if t.At.Known {
			return l // a clock goes on from line to line
		}
	}
	l.trials, l.plain = res.Sessions[0].Trials, true
	return l
}

// number reads a plain number of a trial field.
func (x *reader) number(f Field, s string) (training.Num, error) {
	if s == "" {
		return training.Num{}, nil
	}
	t := s
	for _, unit := range []string{"seconds", "secs", "sec", "s", "metres", "meters", "m"} {
		if u := strings.TrimSuffix(t, unit); u != t {
			t = strings.TrimSpace(u)
			break
		}
	}
	t = x.dot(t)
	whole, frac, _ := strings.Cut(t, ".")
	if t == "" || strings.Trim(whole+frac, "0123456789") != "" || whole == "" || len(t) > 18 {
		mark := "dot"
		if x.o.Layout.Decimal == ',' {
			mark = "comma"
		}
		return training.Num{}, x.refusal(f, "%q is not a number (the decimal mark of this file is a %s)", s, mark)
	}
	v, err := strconv.ParseFloat(t, 64)
	if err != nil || math.IsInf(v, 0) {
		return training.Num{}, x.refusal(f, "%q is not a number", s)
	}
	return training.Known(v), nil
}

// span reads seconds, or a clock: 90, 1:30, 0:01:30.
func (x *reader) span(f Field, s string) (training.Num, error) {
	if !strings.Contains(s, ":") {
		return x.number(f, s)
	}
	v := 0.0
	parts := strings.Split(x.dot(s), ":")
	for i, p := range parts {
		n, err := strconv.ParseFloat(p, 64)
		if err != nil || n < 0 || i > 0 && n >= 60 || len(parts) > 3 || i > 0 && len(p) < 2 || strings.Trim(p, "0123456789.") != "" {
			return training.Num{}, x.refusal(f, "%q is not a length of time: write seconds, or 1:30", s)
		}
		v = v*60 + n
	}
	return training.Known(v), nil
}

func (x *reader) count(f Field, s string, most int) (int, bool, error) {
	if s == "" {
		return 0, false, nil
	}
	n, err := strconv.Atoi(s)
	if err != nil || n < 0 || n > most {
		return 0, false, x.refusal(f, "%q is not a number from 0 to %d", s, most)
	}
	return n, true, nil
}

// words for an answer, besides the notation itself. 1 and 0 are not among them:
// they may be counts or ratings.
var yesWords = []string{"+", "yes", "y", "good", "true", "correct", "right", "answered", "held", "did it", "success", "pass"}
var noWords = []string{"-", "no", "n", "false", "miss", "missed", "refused", "failed", "fail", "broke", "broken"}

// compose writes the trial of a row as a note would.
func (x *reader) compose(cells [][]byte) (l line) {
	fail := func(err error) line { return line{err: err} }
	get := func(f Field) string { return x.cell(cells, f) }
	for _, f := range trialFields {
		if i := strings.IndexAny(get(f), "\r\n"); i >= 0 {
			return fail(x.refusal(f, "a line break in %q", get(f)))
		}
	}
	if m := get(Marks); m != "" {
		return line{text: m}
	}
	name := get(Cue)
	if name == "" {
		for _, f := range trialFields {
			if get(f) != "" && x.at[f] >= 0 {
				return fail(errors.New("the row names no cue"))
			}
		}
		return line{} // perhaps a remark
	}
	cue := training.Cue{Name: name, Kind: training.Response}
	if known := x.names[Cue][training.Key(name)]; known != "" {
		cue, _ = x.o.Kennel.Cue(known)
	}
	var err error
	num := func(f Field, read func(Field, string) (training.Num, error)) training.Num {
		n, e := read(f, get(f))
		err = errors.Join(err, e)
		return n
	}
	t := training.Trial{Cue: cue.Name, Kind: cue.Kind, Latency: num(Latency, x.number), Completion: num(Completion, x.number),
		Target: num(Target, x.span), Held: num(Held, x.span), Walked: num(Walked, x.span), Distance: num(Distance, x.number)}
	asks, asked, e := x.count(Asks, get(Asks), 50)
	err = errors.Join(err, e)
	t.Breaks, _, e = x.count(Breaks, get(Breaks), 1000)
	err = errors.Join(err, e)
	if s := get(Signal); s != "" {
		t.Signal = training.Signal(strings.Join(strings.FieldsFunc(strings.ToLower(s), func(r rune) bool { return r == '+' || r == ' ' || r == ',' || r == '/' }), "+"))
		for _, one := range strings.Split(string(t.Signal), "+") {
			if !slices.Contains(training.Signals, training.Signal(one)) {
				err = errors.Join(err, x.refusal(Signal, "%q is none of voice, hand, whistle, tone, vibration and context", s))
			}
		}
	}
	if s := get(Help); s != "" && !slices.Contains([]string{"no", "none", "n", "0", "-"}, training.Key(s)) {
		for _, w := range strings.FieldsFunc(strings.ToLower(s), func(r rune) bool { return r == ',' || r == ';' || r == ' ' || r == '+' }) {
			if slices.Contains([]string{"yes", "y", "1"}, w) {
				w = "help"
			}
			t.Prompts = append(t.Prompts, w)
		}
	}
	c, e := x.corrections(get(Correction), get(Level))
	err = errors.Join(err, e)
	t.Corrections = c
	t.Did = strings.ToLower(get(Did))
	if err != nil {
		return fail(err)
	}
	if y, of := get(Yes), get(Of); of != "" || y != "" {
		yes, ok1, e1 := x.count(Yes, y, 1000)
		n, ok2, e2 := x.count(Of, of, 1000)
		switch {
		case e1 != nil || e2 != nil:
			return fail(errors.Join(e1, e2))
		case n == 0 && yes == 0 && get(Response) != "":
			of = "" // no tally
		case !ok1 || !ok2 || n == 0 || yes > n:
			return fail(x.refusal(Yes, "a tally needs both numbers, as 8 of 10"))
		}
		if of != "" {
			t.Outcome, t.Tally = training.Counted, training.Tally{Yes: yes, Of: n}
			return line{text: note.Marks(t)}
		}
	}
	answer := get(Response)
	word := training.Key(answer)
	t.Asks = max(asks, 1)
	switch {
	case slices.Contains([]string{"early", "already", "unscored", "?"}, word):
		t.Outcome = training.Outcome(strings.ReplaceAll(word, "?", "unscored"))
	case cue.Kind == training.Motion && (word == "" || word == "walked" || slices.Contains(yesWords, word)):
		t.Outcome = training.Walked
		if !t.Walked.Known {
			return fail(x.refusal(Walked, "%s has no time walked", cue.Name))
		}
	case word == "released" && cue.Kind == training.Holding:
		t.Outcome = training.Released
	case slices.Contains(yesWords, word):
		t.Outcome = training.Answered
		for i := range t.Corrections {
			t.Corrections[i].Served = true
		}
		if cue.Kind == training.Holding {
			t.Outcome = training.Held
		}
	case slices.Contains(noWords, word):
		t.Outcome = training.Refused
		if cue.Kind == training.Holding {
			t.Outcome, t.Breaks = training.Broke, 1
		}
	case word == "":
		return fail(x.refusal(Response, "%s has no answer", cue.Name))
	case strings.Trim(word, "0123456789") == "":
		return fail(x.refusal(Response, `%q could be an answer, a count or a rating: say what it means with --values 'response: %s=+' (or =-)`, answer, answer))
	case !strings.ContainsAny(word, "+-@?/:0123456789") && word != "x" && word != "wrong" && !strings.HasPrefix(word, "wrong "):
		return fail(x.refusal(Response, "%q is no answer known here: say what it means with --values 'response: %s=+' (or =-)", answer, answer))
	default:
		// The notation of a note: the other columns must not say a second thing.
		for _, f := range []Field{Asks, Latency, Completion, Did, Help, Correction, Level, Held} {
			if s := get(f); s != "" && x.at[f] >= 0 {
				return fail(x.refusal(f, "%q besides the marks %q: give one of them", s, answer))
			}
		}
		head := cue.Name
		for _, p := range []string{strings.ReplaceAll(string(t.Signal), "+", " "), unit(t.Distance, "m"), unit(t.Target, "s"), unit(t.Walked, "s")} {
			if p != "" {
				head += " " + p
			}
		}
		return line{text: head + " " + answer}
	}
	if t.Outcome == training.Answered && asked && asks == 0 || t.Outcome == training.Refused && t.Latency.Known {
		f := Asks
		if t.Latency.Known {
			f = Latency
		}
		return fail(x.refusal(f, "%q does not go with %q", get(f), answer))
	}
	return line{text: note.Marks(t)}
}

func unit(n training.Num, sign string) string {
	if !n.Known {
		return ""
	}
	return strconv.FormatFloat(n.V, 'f', -1, 64) + sign
}

// corrections reads the columns about corrections. A level is a collar's; a
// number without a level is so many corrections of a kind that is not known,
// which can't be stored.
func (x *reader) corrections(how, level string) ([]training.Correction, error) {
	kind := training.CorrectionKind("")
	n := 1
	switch word := training.Key(how); word {
	case "", "no", "none", "n", "0":
		if word != "" && level == "" {
			return nil, nil
		}
	case "leash", "verbal", "collar":
		kind = training.CorrectionKind(word)
	case "yes", "y", "1":
	default:
		c, err := strconv.Atoi(word)
		if err != nil || c < 0 || c > 50 {
			return nil, x.refusal(Correction, "%q is none of leash, verbal, collar, no and a number of corrections", how)
		}
		n = c
	}
	if level == "" {
		switch {
		case how == "":
			return nil, nil
		case kind == "" || kind == training.ByCollar:
			return nil, x.refusal(Correction, "%q: was it leash, verbal, or which level? --values 'correction: %s=leash' says it for all rows", how, how)
		}
		return slices.Repeat([]training.Correction{{Kind: kind}}, n), nil
	}
	if kind != "" && kind != training.ByCollar {
		return nil, x.refusal(Level, "level %s with a correction by %s: a level is a collar's", level, kind)
	}
	v, err := x.number(Level, level)
	if err != nil {
		return nil, err
	}
	if v.V == 0 {
		return nil, x.refusal(Level, "0 is not a correction: leave the cell empty, or say --values 'level: 0='")
	}
	return slices.Repeat([]training.Correction{{Kind: training.ByCollar, Level: v}}, n), nil
}
