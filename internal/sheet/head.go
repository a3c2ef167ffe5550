package sheet

import (
	"fmt"
	"hash/maphash"
	"slices"
	"strconv"
	"strings"
	"time"

	"firstcue/internal/note"
	"firstcue/internal/training"
)

// sessionFields are the fields that make a session.
var sessionFields = []Field{Dog, Handler, Scorer, Start, Date, Time, Place, Leash, Distraction, Device,
	Working, Baseline, Source, Weather, Reward, Session, Zone, Part, Withdrawn}

// softFields are often filled in only where they matter, as a collar beside a
// level. An empty cell says nothing new; another value begins a new part.
var softFields = []Field{Device, Weather, Reward, Working}

// head is what the session fields of a row come to.
type head struct {
	values    map[Field]string // as the file means them
	moment    note.Moment
	part      int // 0 = first; -1 = not said
	withdrawn bool
	bad       *Problem // why no row of it can be stored

	base uint64 // of what makes a session, without softFields
	key  uint64 // with them
	same uint64 // of dog and start

	// Once the rows are together:
	dog    training.Dog
	device string // in use, be it the dog's usual one
	new    []note.Name
	clock  training.Num // of the last timed trial
}

// head works out the session fields of a row.
func (x *reader) head(row Row) head {
	h := head{values: map[Field]string{}, part: -1}
	for _, f := range sessionFields {
		s := x.cell(row, f)
		if s == "" {
			continue
		}
		// A note cuts its context at these.
		if i := strings.IndexFunc(s, func(r rune) bool { return control(r) || r == ';' || r == '#' }); i >= 0 && f != Session {
			h.bad = x.problem(f, s, fmt.Sprintf("has a %q in it, which a session note can't hold", s[i]), "")
			return h
		}
		h.values[f] = s
	}
	if h.moment, h.bad = x.start(h.values); h.bad != nil {
		return h
	}
	if p := h.values[Part]; p != "" {
		if h.part, h.bad = x.count(Part, p, 998); h.bad != nil {
			return h
		}
	}
	h.withdrawn = h.values[Withdrawn] != ""
	x.keys(&h)
	return h
}

// keys sets what tells sessions apart.
func (x *reader) keys(h *head) {
	var m maphash.Hash
	m.SetSeed(x.seed)
	add := func(f Field) {
		v, kind := h.values[f], kinds[f]
		if kind != "" {
			if found := x.names.lists[Field(kind)].find(v); len(found) == 1 {
				v = found[0]
			}
		}
		m.WriteString(training.Key(v))
		m.WriteByte(0)
	}
	add(Dog)
	m.WriteString(strconv.FormatInt(h.moment.Time.UnixNano(), 10))
	h.same = m.Sum64()
	for _, f := range sessionFields {
		if !slices.Contains([]Field{Dog, Start, Date, Time, Zone}, f) && !slices.Contains(softFields, f) {
			add(f)
		}
	}
	h.base = m.Sum64()
	for _, f := range softFields {
		add(f)
	}
	h.key = m.Sum64()
}

// joins reports whether a row with d goes on with the session of h, and adds to
// h what d says more.
func (h *head) joins(d *head) bool {
	if h.bad != nil || d.bad != nil || h.base != d.base {
		return false
	}
	for _, f := range softFields {
		if h.values[f] != "" && d.values[f] != "" && training.Key(h.values[f]) != training.Key(d.values[f]) {
			return false
		}
	}
	for _, f := range softFields {
		if d.values[f] != "" {
			h.values[f] = d.values[f]
		}
	}
	return true
}

// cell returns what the cell of a field means: the value map's word for it, or
// the cell itself, or the default.
func (x *reader) cell(row Row, f Field) string {
	s := ""
	if c := x.o.Columns.At(f); c >= 0 {
		s = unguard(strings.TrimSpace(row.Cells[c]))
		if m := x.o.Values[f]; m != nil {
			if v, ok := m[training.Key(s)]; ok {
				s = v
			}
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

// open makes the session of a head, without trials. What forbids it is left in
// h.bad.
func (x *reader) open(h *head) training.Session {
	v := h.values
	s := training.Session{Start: h.moment.Time, Zone: h.moment.Zone, Part: h.part, Weather: v[Weather],
		Reward: v[Reward]}
	if h.part < 0 {
		s.Part = x.parts[h.same]
	}
	var who *Problem
	take := func(f Field, lacks string) string {
		if v[f] == "" {
			if lacks != "" && who == nil {
				who = &Problem{Message: "the row does not say " + lacks}
			}
			return ""
		}
		name, isNew, why := x.name(f, v[f])
		if isNew {
			h.new = append(h.new, note.Name{Kind: kinds[f], Name: name})
		}
		if who == nil {
			who = why
		}
		return name
	}
	s.Dog = take(Dog, "which dog")
	s.Handler, s.Scorer = take(Handler, "who gave the cues"), take(Scorer, "")
	s.Place, s.Device = take(Place, "where"), take(Device, "")
	if s.Scorer == s.Handler {
		s.Scorer = ""
	}
	h.dog = x.names.dogs[s.Dog]
	h.dog.Name, h.device = s.Dog, s.Device
	if h.device == "" {
		h.device = h.dog.Device
	}
	for _, check := range []func(*head, *training.Session) *Problem{
		func(*head, *training.Session) *Problem { return who }, x.when, x.how, x.collar,
	} {
		if h.bad = check(h, &s); h.bad != nil {
			return s
		}
	}
	return s
}

// when checks the start of a session.
func (x *reader) when(h *head, s *training.Session) *Problem {
	f := Start
	if h.values[Start] == "" {
		f = Date
	}
	if s.Start.After(x.o.Now) && !x.o.Now.IsZero() {
		return x.problem(f, "", fmt.Sprintf("%s is in the future: it is %s now",
			s.Start.Format("2006-01-02 15:04"), x.o.Now.In(s.Start.Location()).Format("2006-01-02 15:04")),
			"check the date and the year")
	}
	if s.Start.Year() < 1990 {
		return x.problem(f, "", s.Start.Format("2006-01-02")+" is too long ago", "check the year")
	}
	return nil
}

// how reads what is of one of a few words.
func (x *reader) how(h *head, s *training.Session) *Problem {
	plain := func(f Field) string { return strings.TrimRight(strings.ToLower(h.values[f]), " .!,") }
	s.Leash = training.Leash(plain(Leash))
	if s.Leash == "line" || s.Leash == "longline" {
		s.Leash = "long line"
	}
	if s.Leash != "" && !slices.Contains(training.Leashes, s.Leash) {
		p := x.problem(Leash, h.values[Leash], "is not a leash state",
			"write leash, long line, drag line or off")
		p.Near = note.Nearest(string(s.Leash), []string{"leash", "long line", "drag line", "off"})
		return p
	}
	if d := x.dot(plain(Distraction)); d != "" {
		if len(d) != 1 || d[0] < '0' || d[0] > '4' {
			return x.problem(Distraction, h.values[Distraction], "is not a distraction code",
				"write 0 (familiar, quiet) to 4 (this dog's hardest thing)")
		}
		s.Distraction = training.Known(float64(d[0] - '0'))
	}
	switch b := training.Key(h.values[Baseline]); b {
	case "", "no", "n", "false", "0":
	case "yes", "y", "true", "1":
		s.Baseline = true
	default:
		return x.problem(Baseline, h.values[Baseline], "is neither yes nor no", "")
	}
	s.Source = training.Source(plain(Source))
	if s.Source == "" {
		s.Source = training.Memory
	}
	if !slices.Contains(training.Sources, s.Source) {
		return x.problem(Source, h.values[Source], "is not a source", "write live, video or memory")
	}
	return nil
}

// collar reads what the session says of a collar.
func (x *reader) collar(h *head, s *training.Session) (why *Problem) {
	if s.Device != "" && h.dog.RewardOnly {
		return x.problem(Device, "", s.Dog+" is trained without a collar",
			"leave the device out; `firstcue dog set` changes what the owner agreed to")
	}
	if s.WorkingLevel, why = x.number(Working, h.values[Working], false); why != nil ||
		!s.WorkingLevel.Known {
		return why
	}
	s.Device = h.device
	return x.level(h, Working, s.WorkingLevel.V)
}

// level says why a collar level can't be right. The same rules hold in a note.
func (x *reader) level(h *head, f Field, v float64) *Problem {
	dog, day := h.dog, training.DayOf(h.moment.Time)
	if dog.RewardOnly {
		return x.problem(f, "", dog.Name+" is trained without a collar: there is no level to write",
			"ask the owner first")
	}
	if v == 0 {
		return x.problem(f, "", "0 is not a correction",
			"leave the cell empty, or say --values '"+string(f)+": 0='")
	}
	if dog.Born != 0 && day < training.DayOf(dog.Born.Time(time.UTC).AddDate(0, 6, 0)) {
		return x.problem(f, "",
			fmt.Sprintf("%s is under six months old on %s, and makers' guides say not under 6 months",
				dog.Name, day),
			"leave the level out, or correct the day of birth with `firstcue dog set`")
	}
	for _, hold := range dog.Holds {
		if hold.ForbidsCollar(day) {
			return x.problem(f, "", fmt.Sprintf("no collar for %s on %s: vet hold %s", dog.Name, day,
				holdText(hold)), "leave the level out; `firstcue dog hold` ends the hold when the vet says so")
		}
	}
	if h.device == "" {
		return x.problem(f, "",
			"a level needs a device: the same number means something else on another collar",
			"name it in a column, or with --device")
	}
	d := x.names.devices[h.device]
	if d.Lowest.Known && v < d.Lowest.V || d.Highest.Known && v > d.Highest.V {
		return x.problem(f, "", fmt.Sprintf("%s has no level %s on its dial", d.Name, plain(v)),
			"check the number, or the device")
	}
	return nil
}

// look warns of what a session leaves open.
func (x *reader) look(h *head, s training.Session) {
	if h.moment.Warning != "" {
		x.warn(h.moment.Warning)
	}
	var open []string
	if s.Leash == "" {
		open = append(open, "leash")
	}
	if !s.Distraction.Known {
		open = append(open, "distraction")
	}
	if len(open) > 0 {
		x.warn(strings.Join(open, " and ") + " not said: kept as unknown")
	}
	if _, here := h.dog.Boarding(s.Day()); !here && len(h.dog.Boardings) > 0 {
		x.warn(fmt.Sprintf("%s had not arrived on %s", s.Dog, s.Day()))
	}
}

// holdText names a vet hold: reason and dates.
func holdText(h training.VetHold) string {
	s := "from " + h.From.String() + ", still open"
	if h.To != 0 {
		s = "from " + h.From.String() + " to " + h.To.String()
	}
	if h.Reason != "" {
		s = h.Reason + " (" + s + ")"
	}
	return s
}
