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
	"slices"
	"sort"
	"strings"
	"time"
	"unicode"

	"firstcue/internal/note"
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
var contextKeys = []string{"handler", "scorer", "place", "leash", "distraction", "device", "level", "weather",
	"reward", "source"}

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
	beforeCue       // after e: which cue
	choosing        // after o: what to change
	picking         // a list of names
	writing         // free text
	paused
	ending  // after f
	parting // another cue was given while a hold was open: how did the hold end?
)

// Machine is one live session. The zero value is of no use: New or Load.
type Machine struct {
	kennel  training.Kennel
	dog     training.Dog
	cues    []training.Cue
	head    []string // lines of the note before the first event
	start   time.Time
	zone    string
	context map[string]string
	toAsk   []string // context still to be picked before the session begins
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
			m.toAsk = append(m.toAsk, k)
		}
	}
	m.begin(o.Start)
	return m
}

// Ready reports that nothing is left to be asked: the session has begun.
func (m *Machine) Ready() bool { return len(m.toAsk) == 0 }

// asked goes on to the next question.
func (m *Machine) asked(now time.Time) {
	m.toAsk = m.toAsk[1:]
	m.begin(now)
}

// begin asks the next question or writes the head of the note.
func (m *Machine) begin(now time.Time) {
	for len(m.toAsk) > 0 {
		m.field, m.choices = m.toAsk[0], m.names(m.toAsk[0])
		if len(m.choices) > 0 {
			m.mode, m.page = picking, 0
			return
		}
		m.toAsk = m.toAsk[1:]
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
	sort.SliceStable(m.cues, func(i, j int) bool {
		return m.dog.Agreed(m.cues[i].Name) && !m.dog.Agreed(m.cues[j].Name)
	})
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

// Empty reports a note without a trial and without a remark.
func (m *Machine) Empty() bool { return !slices.ContainsFunc(m.events, event.counts) }

// Trials returns how many trials the note holds, and whether one is still open.
func (m *Machine) Trials() (n int, isOpen bool) {
	f := m.fold()
	return f.trials, f.focus() != nil
}

// cueOf returns the cue that an event's text opens. A hold has the target that
// the text names, and none when it names none.
func (m *Machine) cueOf(text string) (training.Cue, bool) {
	for _, c := range m.cues {
		if c.Name == text {
			c.Target = training.Num{}
			return c, true
		}
		if rest, ok := strings.CutPrefix(text, c.Name+" "); ok && c.Kind == training.Holding {
			if s, ok := parseTarget(rest); ok {
				c.Target = training.Known(s)
				return c, true
			}
		}
	}
	return training.Cue{}, false
}

// clockAt is the clock of the note at a moment: time since the start without the
// pauses, in tenths, and never back.
func (m *Machine) clockAt(now time.Time) time.Duration {
	if m.mode == paused {
		now = m.pausedAt
	}
	d := max(now.Sub(m.start)-m.stopped, 0).Truncate(100 * time.Millisecond)
	for i := len(m.events) - 1; i >= 0; i-- {
		if m.events[i].timed() {
			return max(d, m.events[i].at)
		}
	}
	return d
}

func (m *Machine) add(e event) {
	e.press = m.press
	m.events = append(m.events, e)
}

// Key takes one key: a letter or digit, '\r' for Enter, '\b' for Backspace, 27
// for Escape. The message of the screen says what came of it.
func (m *Machine) Key(key rune, now time.Time) Status {
	at := m.clockAt(now)
	m.press++
	m.message = ""
	before := *m
	before.events = slices.Clone(m.events)
	defer func() {
		// Nothing goes on the disk that could not be logged in the end.
		if why := m.unreadable(before.events); why != "" {
			*m = before
			if m.message = why; m.mode != paused {
				m.mode = normal
			}
		}
	}()
	switch key {
	case '\n':
		key = '\r'
	case 127:
		key = '\b'
	}
	if m.mode != writing {
		key = unicode.ToLower(key)
	}
	switch m.mode {
	case normal:
		m.normal(key, at, now)
	case correcting, levelling:
		m.correct(key)
	case beforeCue:
		m.tooEarly(key)
	case choosing:
		m.choose(key)
	case picking:
		m.pick(key, now)
	case writing:
		m.write(key)
	case parting:
		m.part(key)
	case paused:
		m.inPause(key, now)
	case ending:
		return m.atEnd(key)
	}
	return Running
}

// unreadable says what the note reader would refuse in the note, were it ended
// now; "" when nothing is, or nothing was added.
func (m *Machine) unreadable(before []event) string {
	if len(m.events) == len(before) || !m.Ready() || m.Empty() {
		return ""
	}
	end := *m
	end.events = slices.Clone(m.events)
	end.closeAll(m.fold().clock + time.Second)
	res := note.Parse([]byte(end.Text()), note.Options{Kennel: m.kennel, Now: m.start.Add(48 * time.Hour),
		DespiteHold: true})
	if len(res.Problems) > 0 {
		return res.Problems[0].Message
	}
	return ""
}
