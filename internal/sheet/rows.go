package sheet

import (
	"errors"
	"fmt"
	"hash/maphash"
	"io"
	"slices"
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

// Rejected is a row that is not stored, as it stands in the file. A row that
// can't be cut into cells has none.
type Rejected struct {
	Line   int
	Cells  []string
	Reason *Problem
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

// session is one that is being put together.
type session struct {
	head
	rows []Row
}

type reader struct {
	o      Options
	yield  func(training.Session) error
	reject func(Rejected) error
	res    Result
	warned map[string]bool
	names  names

	trialFields  []Field // that are in a column
	trialColumns []int
	memo         map[string]piece // see repeated
	key          []byte
	columns      []int // of sessionFields in use
	said         []string
	cur          *session
	order        []*session // with Gather: all, as they came
	byKey        map[uint64]*session
	done         map[uint64]bool // sessions read, by key
	parts        map[uint64]int  // the next part, by dog and start
	seed         maphash.Seed
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
func Read(r *Reader, o Options, yield func(training.Session) error,
	reject func(Rejected) error) (Result, error) {
	x := &reader{o: o, yield: yield, reject: reject, warned: map[string]bool{}, names: newNames(o.Kennel),
		columns: o.Columns.in(sessionFields...),
		byKey:   map[uint64]*session{}, done: map[uint64]bool{}, parts: map[uint64]int{},
		seed: maphash.MakeSeed(), memo: map[string]piece{}}
	for _, f := range trialFields {
		if o.Columns.At(f) >= 0 {
			x.trialFields = append(x.trialFields, f)
			x.trialColumns = append(x.trialColumns, o.Columns.At(f))
		}
	}
	for {
		row, err := r.Read()
		if err == nil {
			err = x.row(row)
		} else if err == io.EOF {
			break
		}
		if err != nil {
			return x.res, err
		}
	}
	if x.cur != nil && !o.Gather {
		x.order = append(x.order, x.cur)
	}
	for _, s := range x.order {
		if err := x.finish(s); err != nil {
			return x.res, err
		}
	}
	return x.res, nil
}

// row adds the next row of the file to its session.
func (x *reader) row(row Row) error {
	if row.Bad == nil && !slices.ContainsFunc(row.Cells,
		func(c string) bool { return strings.TrimSpace(c) != "" }) {
		return nil
	}
	x.res.Rows++
	x.form(&row)
	if row.Bad != nil {
		if x.cur == nil {
			return x.refuse(row, row.Bad)
		}
		x.cur.rows = append(x.cur.rows, row) // refused in its turn
		return nil
	}
	if !x.goesOn(row) {
		h := x.head(row)
		if x.cur == nil || !x.cur.joins(&h) {
			if err := x.begin(h, row.Line); err != nil {
				return err
			}
		}
	}
	x.cur.rows = append(x.cur.rows, row)
	return nil
}

// form checks what holds for all cells of a row.
func (x *reader) form(row *Row) {
	n := len(x.o.Layout.Header)
	for len(row.Cells) > n && strings.TrimSpace(row.Cells[len(row.Cells)-1]) == "" {
		row.Cells = row.Cells[:len(row.Cells)-1]
	}
	if row.Bad == nil && len(row.Cells) != n {
		row.Bad = &Problem{Message: fmt.Sprintf("the row has %d cells, the header %d", len(row.Cells), n)}
	}
	for i, c := range row.Cells {
		if row.Bad == nil && strings.ContainsFunc(c, func(r rune) bool { return r == utf8.RuneError }) {
			row.Bad = &Problem{Column: x.o.Layout.Header[i], Found: c, Message: "has a damaged letter in it",
				Want: "save the file again"}
			if !utf8.ValidString(c) {
				row.Bad = &Problem{Column: x.o.Layout.Header[i], Message: "not UTF-8 text",
					Want: "if the file comes from an older spreadsheet, say --encoding windows-1252"}
			}
		}
	}
}

// goesOn reports that the row says of its session what the row before it said.
func (x *reader) goesOn(row Row) bool {
	same := x.cur != nil
	for len(x.said) < len(x.columns) {
		x.said = append(x.said, "")
	}
	for i, c := range x.columns {
		same = same && x.said[i] == row.Cells[c]
		x.said[i] = row.Cells[c]
	}
	return same
}

// begin ends the session so far and begins the next.
func (x *reader) begin(h head, line int) error {
	if x.cur != nil && !x.o.Gather {
		if err := x.finish(x.cur); err != nil {
			return err
		}
	}
	x.cur = &session{head: h}
	switch {
	case h.bad != nil && x.o.Gather:
		x.order = append(x.order, x.cur)
	case h.bad != nil:
	case x.o.Gather && x.byKey[h.key] != nil:
		x.cur = x.byKey[h.key]
	case x.o.Gather:
		x.byKey[h.key] = x.cur
		x.order = append(x.order, x.cur)
	case x.done[h.key]:
		return fmt.Errorf("line %d: %w", line, ErrScattered)
	default:
		x.done[h.key] = true
	}
	return nil
}

func (x *reader) refuse(row Row, why *Problem) error {
	x.res.Rejected++
	return x.reject(Rejected{Line: row.Line, Cells: row.Cells, Reason: why})
}

// finish makes the session of its rows and hands it on.
func (x *reader) finish(s *session) error {
	h := &s.head
	var out training.Session
	if h.bad == nil {
		out = x.open(h)
		out.Trials = make([]training.Trial, 0, len(s.rows))
	}
	var text strings.Builder
	text.WriteString(contextOf(out))
	line := strings.Count(text.String(), "\n") + 1
	for _, row := range s.rows {
		p, why := x.piece(h, row)
		switch {
		case why != nil:
			if err := x.refuse(row, why); err != nil {
				return err
			}
			continue
		case h.withdrawn:
			x.res.LeftOut++
			continue
		}
		x.names.learn(&x.res, append(h.new, p.new...))
		for _, t := range p.trials {
			t.Line, t.Corrections = line, on(h.device, t.Corrections)
			out.Trials = append(out.Trials, t)
			out.Device = deviceOf(out.Device, t)
			x.res.Trials += t.Count()
			h.clock = t.At
		}
		if p.text != "" {
			text.WriteString(p.text + "\n")
			line++
		}
		for _, r := range p.remarks {
			r.Line = line
			out.Remarks = append(out.Remarks, r)
			text.WriteString(remarkLine(r))
			line++
		}
	}
	if len(out.Trials)+len(out.Remarks) == 0 {
		return nil
	}
	x.look(h, out)
	out.Note = strings.TrimSuffix(text.String(), "\n")
	x.parts[h.same] = max(x.parts[h.same], out.Part+1)
	x.res.Sessions++
	return x.yield(out)
}

// on names the collar in its corrections.
func on(device string, list []training.Correction) []training.Correction {
	list = slices.Clone(list)
	for i := range list {
		if list[i].Kind == training.ByCollar {
			list[i].Device = device
		}
	}
	return list
}

// deviceOf is the collar of a session, once a correction names one.
func deviceOf(device string, t training.Trial) string {
	for _, c := range t.Corrections {
		if c.Device != "" {
			device = c.Device
		}
	}
	return device
}

// contextOf writes what the session says of all its trials, as a note does.
func contextOf(s training.Session) string {
	s.Trials, s.Remarks = nil, nil
	return note.Format(s) + "\n"
}

func remarkLine(r training.Remark) string {
	if r.Incident {
		return "! " + r.Text + "\n"
	}
	return "> " + r.Text + "\n"
}
