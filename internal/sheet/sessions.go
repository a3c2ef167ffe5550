package sheet

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"firstcue/internal/note"
	"firstcue/internal/training"
)

// head writes the session fields as the first lines of a note.
func (c *context) head(part int) string {
	var b strings.Builder
	key := func(first bool, name, value string) {
		if value == "" {
			return
		}
		if !first && b.Len() > 0 && !strings.HasSuffix(b.String(), "\n") {
			b.WriteString("; ")
		}
		b.WriteString(name + ": " + value)
	}
	end := func() {
		if !strings.HasSuffix(b.String(), "\n") {
			b.WriteByte('\n')
		}
	}
	key(true, "dog", c.values[Dog])
	key(false, "handler", c.values[Handler])
	key(false, "scorer", c.values[Scorer])
	end()
	start := c.moment.Time.Format(startLayout(c.moment.Time))
	if c.moment.Zone != "" {
		start += "[" + c.moment.Zone + "]"
	}
	key(true, "start", start)
	if part > 0 {
		key(false, "part", strconv.Itoa(part+1))
	}
	key(false, "place", c.values[Place])
	key(false, "leash", c.values[Leash])
	key(false, "distraction", c.values[Distraction])
	end()
	key(true, "device", c.values[Device])
	key(false, "level", c.values[Working])
	end()
	key(true, "baseline", c.values[Baseline])
	key(false, "source", c.values[Source])
	key(false, "weather", c.values[Weather])
	key(false, "reward", c.values[Reward])
	end()
	b.WriteByte('\n')
	return b.String()
}

// startLayout is the shortest layout that holds the whole of t.
func startLayout(t time.Time) string {
	if t.Second() == 0 && t.Nanosecond() == 0 {
		return "2006-01-02T15:04Z07:00"
	}
	return "2006-01-02T15:04:05.999999999Z07:00"
}

// finish makes the session of its rows and hands it on.
func (x *reader) finish(s *session) error {
	if len(s.lines) == 0 {
		return nil
	}
	part := x.parts[s.ctx.same]
	if s.ctx.parted {
		part = s.ctx.part
	}
	head := s.ctx.head(part)
	headLines := strings.Count(head, "\n")
	plain := s.ctx.generic
	for i := range s.lines {
		plain = plain && s.lines[i].plain && s.extra[i] == ""
	}
	var out training.Session
	if plain {
		out = x.fast(s, head, headLines, part)
	} else {
		var err error
		if out, err = x.parsed(s, head, headLines); err != nil || len(out.Trials)+len(out.Remarks) == 0 {
			return err
		}
	}
	x.parts[s.ctx.same] = max(x.parts[s.ctx.same], part+1)
	x.res.Sessions++
	for i := range out.Trials {
		x.res.Trials += out.Trials[i].Count()
	}
	return x.yield(out)
}

// fast puts a session together from lines that were read before. It is what
// note.Parse would make of the same text.
func (x *reader) fast(s *session, head string, headLines, part int) training.Session {
	v := s.ctx.values
	out := training.Session{
		Dog: v[Dog], Handler: v[Handler], Scorer: v[Scorer], Start: s.ctx.moment.Time, Zone: s.ctx.moment.Zone, Part: part,
		Place: v[Place], Leash: training.Leash(v[Leash]), Distraction: training.Known(float64(v[Distraction][0] - '0')), Device: v[Device],
		Weather: v[Weather], Reward: v[Reward], Source: training.Source(v[Source]), Baseline: v[Baseline] != "",
	}
	if out.Source == "" {
		out.Source = training.Memory
	}
	n, size := 0, len(head)
	for i := range s.lines {
		n += len(s.lines[i].trials)
		size += len(s.lines[i].text) + 1
	}
	out.Trials = make([]training.Trial, 0, n)
	var b strings.Builder
	b.Grow(size)
	b.WriteString(head)
	for i := range s.lines {
		if i > 0 {
			b.WriteByte('\n')
		}
		b.WriteString(s.lines[i].text)
		for _, t := range s.lines[i].trials {
			t.Line = headLines + i + 1
			out.Trials = append(out.Trials, t)
		}
	}
	out.Note = b.String()
	return out
}

// parsed reads a session as the note it makes. Rows that note refuses are
// refused, and the rest is read again without them.
func (x *reader) parsed(s *session, head string, headLines int) (training.Session, error) {
	keep := make([]int, len(s.lines))
	for i := range keep {
		keep[i] = i
	}
	cells := func(i int) []string {
		if i < len(s.cells) {
			return s.cells[i]
		}
		return nil
	}
	for len(keep) > 0 {
		text := []byte(head)
		var owner []int // row of each line after the head
		var cues []string
		for _, i := range keep {
			piece := s.extra[i]
			if s.lines[i].cue != "" && x.o.AllowNew {
				cues = append(cues, s.lines[i].cue)
			}
			if s.lines[i].text != "" {
				piece = s.lines[i].text + "\n" + piece
			}
			for range strings.Count(piece, "\n") {
				owner = append(owner, i)
			}
			text = append(text, piece...)
		}
		defaults := ""
		if len(cues) > 0 {
			defaults = "cues: " + strings.Join(cues, ", ")
		}
		res := note.Parse(text, note.Options{Defaults: defaults, Name: "row", Kennel: x.around(&s.ctx), Now: x.o.Now, AllowNew: x.o.AllowNew, DespiteHold: x.o.DespiteHold, Command: "import"})
		if len(res.Problems) == 0 && len(res.Sessions) != 1 && len(res.Sessions) > 0 {
			res.Problems = []note.Problem{{Message: "the rows make more than one session"}}
		}
		if len(res.Problems) == 0 {
			x.add(res.New)
			for _, w := range res.Warnings {
				x.warning(w)
			}
			if len(res.Sessions) == 0 {
				return training.Session{}, nil
			}
			return res.Sessions[0], nil
		}
		bad := map[int]string{}
		whole := ""
		for _, p := range res.Problems {
			reason := reasonOf(p)
			if i := p.Line - headLines - 1; i >= 0 && i < len(owner) && !aboutHead(p) {
				if bad[owner[i]] == "" {
					bad[owner[i]] = reason
				}
			} else if whole == "" {
				whole = reason
			}
		}
		var rest []int
		for _, i := range keep {
			reason := bad[i]
			if reason == "" && (whole != "" || len(bad) == 0) {
				reason = whole
			}
			if reason == "" {
				rest = append(rest, i)
				continue
			}
			if err := x.refuse(s.rows[i], cells(i), reason); err != nil {
				return training.Session{}, err
			}
		}
		keep = rest
	}
	return training.Session{}, nil
}

// aboutHead reports a problem that note shows at a trial but that is about what
// the session lacks.
func aboutHead(p note.Problem) bool {
	return strings.HasPrefix(p.Message, "the note does not say")
}

// reasonOf writes a problem on one line, in the words of a table.
func reasonOf(p note.Problem) string {
	s := strings.Replace(p.Message, "the note does not say", "the row does not say", 1)
	if len(p.Near) > 0 {
		s += "; did you mean " + strings.Join(p.Near, " or ") + "?"
	}
	if p.Want != "" && !aboutHead(p) {
		s += "; " + p.Want
	}
	return s
}

// around is the kennel as far as a session needs it, so that reading a session
// does not cost more in a large kennel. With a name that is not known the whole
// of it is needed, to find the nearest; where new names are welcome, only if it is
// a slip of a known one.
func (x *reader) around(c *context) training.Kennel {
	k := x.narrow
	if c.dog.Name == "" && x.wrong(Dog, c.values[Dog]) {
		return x.o.Kennel
	}
	if c.dog.Name != "" {
		k.Dogs = []training.Dog{c.dog}
	}
	for _, f := range []Field{Handler, Scorer} {
		name, ok := x.names[Handler][training.Key(c.values[f])]
		switch {
		case c.values[f] == "":
		case ok && name != "":
			if h, ok := x.o.Kennel.Handler(name); ok && !slices.ContainsFunc(k.Handlers, func(y training.Handler) bool { return y.Name == h.Name }) {
				k.Handlers = append(k.Handlers, h)
			}
		case ok || x.wrong(Handler, c.values[f]):
			return x.o.Kennel
		}
	}
	name, ok := x.names[Place][training.Key(c.values[Place])]
	switch {
	case c.values[Place] == "":
	case ok && name != "":
		if p, ok := x.o.Kennel.Place(name); ok {
			k.Places = []training.Place{p}
		}
	case ok || x.wrong(Place, c.values[Place]):
		return x.o.Kennel
	}
	return k
}

// wrong reports whether a name that is not known can't be a new one: it is a slip
// of one that was known before the file. Of two new ones nobody can tell which is
// the slip, and Milo and Mila may be two dogs.
func (x *reader) wrong(f Field, name string) bool {
	return !x.o.AllowNew || len(x.slips[f].Of(name)) > 0
}

// add makes names that are new known for the rows that follow.
func (x *reader) add(names []note.Name) {
	for _, n := range names {
		key := n.Kind + "\x00" + training.Key(n.Name)
		if x.newKeys[key] {
			continue
		}
		x.newKeys[key] = true
		x.res.New = append(x.res.New, n)
		k := &x.o.Kennel
		switch n.Kind {
		case "dog":
			k.Dogs = append(slices.Clip(k.Dogs), training.Dog{Name: n.Name})
			x.dogs[training.Key(n.Name)] = training.Dog{Name: n.Name}
		case "handler":
			k.Handlers = append(slices.Clip(k.Handlers), training.Handler{Name: n.Name})
			x.names[Handler][training.Key(n.Name)] = n.Name
		case "place":
			k.Places = append(slices.Clip(k.Places), training.Place{Name: n.Name})
			x.names[Place][training.Key(n.Name)] = n.Name
		case "device":
			k.Devices = append(slices.Clip(k.Devices), training.Device{Name: n.Name})
			x.names[Device][training.Key(n.Name)] = n.Name
		case "cue":
			k.Cues = append(slices.Clip(k.Cues), training.Cue{Name: n.Name, Kind: n.CueKind})
			x.names[Cue][training.Key(n.Name)] = n.Name
		}
		if n.Kind == "cue" || n.Kind == "device" {
			x.narrow = training.Kennel{Cues: k.Cues, Devices: k.Devices}
			clear(x.memo)
		}
	}
}

func (x *reader) warning(p note.Problem) {
	s := p.Message
	if x.warned[s] || len(x.res.Warnings) >= 20 {
		return
	}
	x.warned[s] = true
	x.res.Warnings = append(x.res.Warnings, s)
}

// Detect finds out the date order and the decimal mark of a file, as far as the
// user has not said them. r stands behind the header; it is read to the row that
// decides, which for dates may be the last.
func Detect(r *Reader, l Layout, c Columns, w Wishes) (Layout, error) {
	l.Dates, l.Decimal = w.Dates, w.Decimal
	if l.Dates != Unsure {
		l.DatesBy = "as you said"
	}
	if l.Decimal != 0 {
		l.DecimalBy = "as you said"
	}
	dates, numbers := []int{}, []int{}
	for _, f := range []Field{Start, Date} {
		if i := c.At(f); i >= 0 {
			dates = append(dates, i)
		}
	}
	for _, f := range []Field{Latency, Completion, Level, Target, Held, Walked, Distance, Working} {
		if i := c.At(f); i >= 0 {
			numbers = append(numbers, i)
		}
	}
	unsure, marked := "", false // a date that fits two orders; a number that may have a thousands mark
	const enough = 20_000       // rows without a decimal mark
	if len(dates) == 0 {
		l.Dates, l.DatesBy = YMD, "no column of dates"
	}
	for rows := 0; l.Dates == Unsure || l.Decimal == 0 && rows < enough && len(numbers) > 0; rows++ {
		cells, err := r.Read()
		if _, bad := err.(*RowError); bad {
			continue
		}
		if err != nil {
			break // the end; trouble reading comes again when the rows are read
		}
		for _, i := range dates {
			if l.Dates != Unsure || i >= len(cells) {
				continue
			}
			cell := []byte(strings.TrimSpace(string(cells[i])))
			if o, ok := orderOf(cell); ok {
				if o == Unsure {
					if unsure == "" {
						unsure = string(cell)
					}
					continue
				}
				l.Dates, l.DatesBy = o, "line "+strconv.Itoa(r.Line())+": "+string(cell)
			}
		}
		for _, i := range numbers {
			if l.Decimal != 0 || i >= len(cells) {
				continue
			}
			cell := []byte(strings.TrimSpace(string(cells[i])))
			if mark := decimalOf(cell); mark != 0 {
				l.Decimal, l.DecimalBy = mark, "line "+strconv.Itoa(r.Line())+": "+string(cell)
			} else if strings.ContainsAny(string(cell), ".,") {
				marked = true
			}
		}
	}
	if l.Dates == Unsure {
		if unsure != "" {
			return l, &UnsureError{Date: unsure}
		}
		l.Dates, l.DatesBy = YMD, "no date of numbers alone"
	}
	if l.Decimal == 0 {
		switch {
		case marked && l.Delimiter != ',':
			return l, errUnsureDecimal
		case marked:
			l.Decimal, l.DecimalBy = '.', "the cells are separated by commas"
		default:
			l.Decimal, l.DecimalBy = '.', "no number with a fraction seen"
		}
	}
	return l, nil
}

// UnsureError is a file all of whose dates fit two orders.
type UnsureError struct{ Date string }

func (e *UnsureError) Error() string {
	_, a, b := e.readings()
	return strconv.Quote(e.Date) + " and every other date could have the day or the month first (" + a + " or " + b + "): say --dates dmy or --dates mdy"
}

// Unwrap makes errors.Is find ErrUnsureDates.
func (e *UnsureError) Unwrap() error { return ErrUnsureDates }

func (e *UnsureError) readings() (ok bool, dmy, mdy string) {
	n, _, _, ok := cutDate([]byte(e.Date))
	day := func(d, m int) string {
		return time.Date(n[2], time.Month(m), d, 0, 0, 0, 0, time.UTC).Format("2 January 2006")
	}
	return ok, day(n[0], n[1]), day(n[1], n[0])
}
