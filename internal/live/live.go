// Package live is a session written down while it happens: one key an event,
// the clock taken by the program. It turns keys and times into the text of a
// timed note and into the text of a screen, and knows nothing of terminals; the
// caller brings the keys, the clock and the paper. Journal keeps the note on
// disk as it grows.
//
// The note is the whole state. Whatever the screen shows can be worked out from
// it again, so a session whose terminal was killed goes on from its note.
package live

import (
	"sort"
	"strings"
	"time"

	"firstcue/internal/training"
)

// Options begins a session.
type Options struct {
	// Kennel's cues have the targets that are in force for this dog: a hold is
	// written with its target.
	Kennel training.Kennel
	Dog    string
	// Header holds further context, key and value: handler, place, leash,
	// distraction, device, level, scorer, weather, reward.
	Context map[string]string
	Start   time.Time
	Zone    string // IANA name of the zone, "" = offset only
	// InHold lets cues be asked that a vet hold forbids on the day.
	InHold bool
	// Ask lists further context to be picked on the screen before the session
	// begins, of handler, place, leash and distraction. The clock starts then.
	Ask []string
}

// contextKeys is the order in which context is written and shown.
var contextKeys = []string{"handler", "scorer", "place", "leash", "distraction", "device", "level", "weather", "reward", "source"}

// Status is what a key press came to.
type Status int

// The statuses.
const (
	Running  Status = iota
	Finished        // log the note
	Kept            // leave it on disk, log nothing
)

// mode is what the next key means.
type mode int

const (
	normal     mode = iota
	correcting      // after c: leash, verbal, or a level
	levelling       // digits of a level
	early           // after e: which cue
	choosing        // after o: what to change
	picking         // a list of names
	writing         // free text
	paused
	ending  // after f
	parting // another cue was given while a hold was open: how did the hold end?
)

// open is the trial that is going on.
type open struct {
	cue     training.Cue
	asks    int
	opened  time.Duration
	asked   time.Duration // the last ask
	waiting bool          // the last ask has no mark yet
	begun   bool          // the dog began to answer the last ask
	taken   bool          // hold: the position was taken
	marked  bool          // something but asks was noted
	breaks  int
	last    mark
	how     string // corrected: by what
	event   int    // place of its cue among the events
}

// mark is what was noted last of an ask.
type mark int

const (
	unmarked mark = iota
	refused
	broke
	wrong
	corrected
	helped
)

// lastMark says what was noted last, "" for nothing.
func (o *open) lastMark() string {
	if o.last == corrected {
		return "corrected " + o.how
	}
	return [...]string{"", "no", "broke", "wrong", "", "helped"}[o.last]
}

// Machine is one live session. The zero value is of no use: New or Load.
type Machine struct {
	kennel  training.Kennel
	dog     training.Dog
	cues    []training.Cue
	head    []string // lines of the note before the first event
	start   time.Time
	zone    string
	context map[string]string
	ask     []string // context still to be picked before the session begins
	events  []event
	press   int

	stopped  time.Duration // sum of pauses so far
	pausedAt time.Time     // wall clock at which the pause began

	mode    mode
	page    int
	entry   []rune
	held    time.Duration // clock at the key that began an entry of several keys
	given   training.Cue  // parting: the cue that was given then
	field   string        // what is picked or written
	choices []string
	message string // answer to the last key
}

// New begins a session, or the questions before it.
func New(o Options) *Machine {
	m := &Machine{kennel: o.Kennel, context: map[string]string{"source": "live"}, zone: o.Zone}
	for k, v := range o.Context {
		m.context[k] = v
	}
	m.setDog(o.Dog, training.DayOf(o.Start), o.InHold)
	for _, k := range o.Ask {
		if m.context[k] == "" {
			m.ask = append(m.ask, k)
		}
	}
	m.begin(o.Start)
	return m
}

// Ready reports that nothing is left to be asked: the session has begun.
func (m *Machine) Ready() bool { return len(m.ask) == 0 }

// begin asks the next question or writes the head of the note.
func (m *Machine) begin(now time.Time) {
	for len(m.ask) > 0 {
		m.field, m.choices = m.ask[0], m.names(m.ask[0])
		if len(m.choices) > 0 {
			m.mode, m.page = picking, 0
			return
		}
		m.ask = m.ask[1:]
	}
	m.mode, m.page = normal, 0
	m.start = now.Truncate(time.Second)
	first := "dog: " + m.dog.Name
	second := "start: " + m.start.Format(time.RFC3339)
	if m.zone != "" {
		second += "[" + m.zone + "]"
	}
	third := ""
	for _, k := range contextKeys {
		v := m.context[k]
		switch {
		case v == "":
		case k == "handler" || k == "scorer":
			first += "; " + k + ": " + v
		case k == "device" || k == "level":
			third = strings.TrimPrefix(third+"; "+k+": "+v, "; ")
		default:
			second += "; " + k + ": " + v
		}
	}
	m.head = []string{first, second}
	if third != "" {
		m.head = append(m.head, third)
	}
	m.head = append(m.head, "")
}

// names lists what a context key may be.
func (m *Machine) names(key string) []string {
	var names []string
	switch key {
	case "handler":
		for _, h := range m.kennel.Handlers {
			names = append(names, h.Name)
		}
	case "place":
		for _, p := range m.kennel.Places {
			names = append(names, p.Name)
		}
	case "leash":
		for _, l := range training.Leashes {
			names = append(names, string(l))
		}
	case "distraction":
		names = []string{"0", "1", "2", "3", "4"}
	case "device":
		for _, d := range m.kennel.Devices {
			names = append(names, d.Name)
		}
	}
	return names
}

// setDog also orders the cues: those agreed with the owner first, and without
// those that a vet hold forbids.
func (m *Machine) setDog(name string, day training.Day, inHold bool) {
	m.dog, _ = m.kennel.Dog(name)
	if m.dog.Name == "" {
		m.dog.Name = name
	}
	for _, c := range m.kennel.Cues {
		held := false
		for _, h := range m.dog.Holds {
			held = held || h.Covers(day, c.Name)
		}
		if !held || inHold {
			m.cues = append(m.cues, c)
		}
	}
	sort.SliceStable(m.cues, func(i, j int) bool { return m.dog.Agreed(m.cues[i].Name) && !m.dog.Agreed(m.cues[j].Name) })
}

// Text returns the note as it stands.
func (m *Machine) Text() string {
	var b strings.Builder
	for _, l := range m.head {
		b.WriteString(l)
		b.WriteByte('\n')
	}
	for _, e := range m.events {
		b.WriteString(e.line())
		b.WriteByte('\n')
	}
	return b.String()
}

// Unseen ends what is still open when nobody saw how it went. A trial of which
// only the cue is known is not scored; one with marks stands as far as it was
// seen, and a hold or walk ends with the last thing seen.
func (m *Machine) Unseen() {
	m.press++
	for {
		f := m.fold()
		o := f.focus()
		if o == nil {
			return
		}
		m.unseen(o, f.clock)
	}
}

func (m *Machine) unseen(o *open, at time.Duration) {
	if !o.marked {
		for i := o.event + 1; i < len(m.events); i++ {
			if m.events[i].gives(o.cue) {
				m.takeBack(i, m.press)
			}
		}
		m.add(at, "?")
		return
	}
	switch {
	case o.cue.Kind == training.Response || o.cue.Kind == training.Holding && o.breaks > 0:
		if o.waiting {
			for i := len(m.events) - 1; i > o.event; i-- {
				if m.events[i].text == "start" { // of the answer nobody saw the end of
					m.takeBack(i, m.press)
				}
				if m.events[i].gives(o.cue) {
					m.takeBack(i, m.press)
					break
				}
			}
		}
		m.add(at, "next")
	case at <= o.opened:
		for i := o.event; i < len(m.events); i++ {
			if m.events[i].at >= 0 {
				m.takeBack(i, m.press)
			}
		}
	default:
		m.add(at, "release")
	}
}

// Trials returns how many trials the note holds, and whether one is still open.
func (m *Machine) Trials() (n int, isOpen bool) {
	f := m.fold()
	return f.trials, f.focus() != nil
}

// clockAt is the clock of the note at a moment: time since the start without the
// pauses, in tenths, and never back.
func (m *Machine) clockAt(now time.Time) time.Duration {
	if m.mode == paused {
		now = m.pausedAt
	}
	d := max(now.Sub(m.start)-m.stopped, 0).Truncate(100 * time.Millisecond)
	for i := len(m.events) - 1; i >= 0; i-- {
		if m.events[i].at >= 0 {
			return max(d, m.events[i].at)
		}
	}
	return d
}

func (m *Machine) add(at time.Duration, text string) { m.events = append(m.events, m.read(at, text)) }

// give opens a trial of a cue, or asks again in a walk, and ends what it ends.
func (m *Machine) give(f *folded, cue training.Cue, at time.Duration) {
	m.makeWay(f, cue, at)
	if f.same(cue) != nil {
		m.add(at, cue.Name)
		return
	}
	m.add(at, opening(cue))
}

// part takes the answer to how the hold ended that was open when another cue was
// given, and then writes that cue with the clock of its key.
func (m *Machine) part(key rune) {
	f := m.fold()
	o := f.open
	switch {
	case key == 27 || key == '\b' || o == nil:
		m.mode, m.message = normal, m.given.Name+" is taken back"
		return
	case key == 'r':
		m.close(o, m.held)
	case key == 'q':
		m.notSeen(o, m.held)
	default:
		m.message = "r released, q not seen, Esc: " + m.given.Name + " was not given"
		return
	}
	m.mode = normal
	f = m.fold()
	m.give(&f, m.given, m.held)
}

// unbroken reports a hold that is still kept, as far as is known.
func (o *open) unbroken() bool { return o.cue.Kind == training.Holding && o.breaks == 0 }

// notSeen ends a trial whose end nobody saw: it is counted apart. What was
// noted of a hold before stays in the note as a comment.
func (m *Machine) notSeen(o *open, at time.Duration) {
	if !o.marked || !o.unbroken() {
		m.unseen(o, at)
		return
	}
	for i := o.event + 1; i < len(m.events); i++ {
		if m.events[i].at >= 0 {
			m.takeBack(i, m.press)
		}
	}
	m.add(at, "?")
}

// makeWay ends what another cue ends: an open response or hold, and a walk
// unless a response is asked for in it.
func (m *Machine) makeWay(f *folded, cue training.Cue, at time.Duration) {
	if f.open != nil && f.open != f.same(cue) {
		m.close(f.open, at)
	}
	if f.walk != nil && cue.Kind == training.Holding {
		m.close(f.walk, at)
	}
}

// closeAll ends whatever is open.
func (m *Machine) closeAll(at time.Duration) {
	for {
		f := m.fold()
		o := f.focus()
		if o == nil {
			return
		}
		m.close(o, at)
	}
}

// close ends a trial by what is known of it: an ask without an answer was not
// answered, a hold or a walk was released now.
func (m *Machine) close(o *open, at time.Duration) {
	switch {
	case o.cue.Kind == training.Motion && at <= o.opened:
		m.add(at, "?") // ended as it began: nothing was walked
	case o.cue.Kind == training.Holding && (o.breaks > 0 || at <= o.opened):
		if o.breaks == 0 {
			m.add(at, "?")
			return
		}
		m.add(at, "next")
	case o.cue.Kind != training.Response:
		m.add(at, "release")
	case o.waiting:
		m.add(at, "- next")
	default:
		m.add(at, "next")
	}
}

// undo takes back the last press that wrote something. Its lines stay in the
// note as a comment, so that the record shows that it was taken back.
func (m *Machine) undo() {
	i := len(m.events) - 1
	for i >= 0 && m.events[i].kind == aside {
		i--
	}
	if i < 0 {
		m.message = "nothing to take back"
		return
	}
	press := m.events[i].press
	first := i
	for first > 0 && m.events[first-1].press == press {
		first--
	}
	var said []string
	for j := first; j <= i; j++ {
		if m.events[j].kind != aside {
			said = append(said, m.events[j].text)
			m.takeBack(j, press)
		}
	}
	m.message = "taken back: " + strings.Join(said, ", ")
}

// goOn ends a pause.
func (m *Machine) goOn(now time.Time) {
	at := m.clockAt(now)
	gap := max(now.Sub(m.pausedAt), 0).Truncate(100 * time.Millisecond) // as it is written down
	m.mode = normal
	m.stopped += gap
	m.add(-1, wentOn(at, gap))
	m.message = "going on"
}
