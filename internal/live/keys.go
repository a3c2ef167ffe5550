package live

import (
	"fmt"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"firstcue/internal/training"
)

// longest is the longest time after which an answer still belongs to its cue.
const longest = time.Minute

// moment is a key press while nothing else is being answered.
type moment struct {
	key     rune
	at      time.Duration // clock of the note
	now     time.Time
	f       folded
	o       *open // the trial that is going on, nil for none
	answers bool  // and it is one of a response
}

// action is what a key does while nothing else is being answered.
type action struct {
	open bool                       // it needs a trial that is going on
	not  func(moment) string        // why it can't be now, "" when it can; nil = always
	do   func(m *Machine, p moment) // what it writes or asks
}

// actions are the keys besides the cues' numbers.
var actions map[rune]action

func init() { // the actions press keys themselves
	actions = map[rune]action{
		'y': {true, notYes, mark(yes)},
		'n': {true, notNo, mark(no)},
		'w': {true, notNo, mark(wrong)},
		's': {true, onlyIf(func(p moment) bool { return p.answers && p.o.waiting && !p.o.begun },
			"s is for the moment an answer begins"), mark(starts)},
		'r': {true, func(p moment) string { return p.unless(!p.answers, p.name()+" ends with y or g") },
			mark(release)},
		'g': {true, func(p moment) string { return p.unless(p.answers, p.name()+" ends with r") },
			func(m *Machine, p moment) { m.close(p.o, p.at) }},
		'h': {true, nil, mark(helped)},
		'c': {true, nil, func(m *Machine, p moment) { m.mode, m.held, m.entry = correcting, p.at, nil }},
		'a': {true, onlyIf(func(p moment) bool { return !p.o.marked && p.o.asks == 1 },
			"marked already: g or r ends it"), mark(already)},
		'q': {true, onlyIf(func(p moment) bool { return !p.o.marked || p.o.unbroken() },
			"marked already: g or r ends it as far as it was seen"),
			func(m *Machine, p moment) { m.notSeen(p.o, p.at) }},
		'e': {false, func(p moment) string { return p.unless(p.o == nil, p.name()+" is open: end it first") },
			func(m *Machine, p moment) { m.mode, m.held = beforeCue, p.at }},
		'p': {false, func(p moment) string { return p.unless(!p.answers, p.name()+" is open: end it first (y, g or q)") },
			(*Machine).stop},
		'o': {false, notInHold, func(m *Machine, p moment) { m.mode, m.held = choosing, p.at }},
		'f': {false, notInHold, func(m *Machine, p moment) { m.closeAll(p.at); m.mode = ending }},
		't': {false, nil, func(m *Machine, p moment) { m.mode, m.field, m.entry = writing, "remark", nil }},
		'i': {false, nil, func(m *Machine, p moment) { m.mode, m.field, m.entry = writing, "incident", nil }},
		'u': {false, nil, func(m *Machine, _ moment) { m.undo() }},
	}
	for _, key := range "\x1b\r\b " {
		actions[key] = action{do: func(*Machine, moment) {}}
	}
}

func mark(k kind) func(*Machine, moment) {
	return func(m *Machine, p moment) { m.add(event{kind: k, at: p.at}) }
}

func onlyIf(can func(moment) bool, why string) func(moment) string {
	return func(p moment) string { return p.unless(can(p), why) }
}

func (p moment) unless(can bool, why string) string {
	if can {
		return ""
	}
	return why
}

func (p moment) name() string {
	if p.o == nil {
		return ""
	}
	return p.o.cue.Name
}

func notYes(p moment) string {
	o := p.o
	switch {
	case o.is(training.Motion), o.taken:
		return o.cue.Name + " ends with r"
	case !p.answers && o.breaks > 0:
		return "it broke: r ends it"
	case p.answers && !o.waiting && !o.lastly(helped) && !o.lastly(corrected):
		return "asked again? press its number first, then y"
	case p.at-o.asked > longest:
		return "too long after the cue: press its number when you ask again, or g"
	}
	return ""
}

func notNo(p moment) string {
	switch {
	case p.key == 'w' && !p.answers:
		return "w is for answers; n when it breaks"
	case p.answers && !p.o.waiting:
		return "marked already; press the number when you ask again"
	case p.o.is(training.Holding) && p.o.breaks > 0 && !p.o.waiting:
		return "it broke already: r ends it"
	}
	return ""
}

func notInHold(p moment) string {
	return p.unless(p.o == nil || !p.o.unbroken(), p.name()+" is open: end it first (r, n or q)")
}

func (m *Machine) normal(key rune, at time.Duration, now time.Time) {
	p := moment{key: key, at: at, now: now, f: m.fold()}
	p.o = p.f.focus()
	p.answers = p.o != nil && p.o.is(training.Response)
	a, known := actions[key]
	switch {
	case key >= '0' && key <= '9':
		m.number(p)
	case !known:
		m.message = fmt.Sprintf("%q is no key here", string(key))
	case a.open && p.o == nil:
		m.message = "no cue is open: press its number first"
	default:
		if a.not != nil {
			m.message = a.not(p)
		}
		if m.message == "" {
			a.do(m, p)
		}
	}
}

// number is the key of a cue.
func (m *Machine) number(p moment) {
	cue, ok := m.cueAt(p.key)
	if !ok {
		return
	}
	same := p.f.same(cue)
	switch {
	case same != nil && cue.Kind != training.Motion:
		m.ask(cue, p.at)
	case p.f.open != nil && p.f.open != same && p.f.open.unbroken():
		// How a hold ended is not guessed: the cue waits for the answer.
		m.mode, m.held, m.given = parting, p.at, cue
	default:
		m.give(&p.f, cue, p.at)
	}
}

// give opens a trial of a cue, or asks again in a walk, and ends what it ends.
func (m *Machine) give(f *folded, cue training.Cue, at time.Duration) {
	same := f.same(cue)
	if f.open != nil && f.open != same {
		m.close(f.open, at)
	}
	if f.walk != nil && cue.Kind == training.Holding {
		m.close(f.walk, at)
	}
	if same != nil {
		m.ask(cue, at)
		return
	}
	m.add(event{kind: gave, at: at, cue: cue})
}

// ask gives the cue again of the trial that is open.
func (m *Machine) ask(cue training.Cue, at time.Duration) {
	cue.Target = training.Num{}
	m.add(event{kind: gave, at: at, cue: cue})
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

// perPage is how many cues have a digit at a time; 0 turns the page.
const perPage = 9

func (m *Machine) cueAt(key rune) (training.Cue, bool) {
	pages := (len(m.cues) + perPage - 1) / perPage
	if key == '0' {
		if pages > 1 {
			m.page = (m.page + 1) % pages
		} else {
			m.message = "there are no more cues"
		}
		return training.Cue{}, false
	}
	i := m.page*perPage + int(key-'1')
	if i >= len(m.cues) {
		m.message = fmt.Sprintf("no cue has the number %c", key)
		return training.Cue{}, false
	}
	return m.cues[i], true
}

// optional reports that what is asked for may be left unsaid.
func (m *Machine) optional() bool { return m.field == "leash" || m.field == "distraction" }

// tooEarly takes the cue that the dog did not wait for.
func (m *Machine) tooEarly(key rune) {
	switch {
	case key == 27 || key == '\b':
		m.mode = normal
	case key < '0' || key > '9':
		m.message = "which cue? Press its number"
	default:
		if cue, ok := m.cueAt(key); ok {
			m.add(event{kind: early, at: m.held, cue: cue})
			m.mode = normal
		}
	}
}

// changeable is what may change in a session, by its key.
var changeable = map[rune]string{'h': "handler", 'p': "place", 'l': "leash", 'd': "distraction",
	'c': "device"}

// choose takes what is to be changed from here on.
func (m *Machine) choose(key rune) {
	field, ok := changeable[key]
	switch {
	case key == 27 || key == '\b':
		m.mode = normal
		return
	case !ok:
		m.message = "h handler, p place, l leash, d distraction, c collar"
		return
	}
	m.field, m.choices = field, m.names(field)
	if len(m.choices) == 0 {
		m.mode, m.message = normal, fmt.Sprintf("the kennel has no %s yet", m.field)
		return
	}
	m.mode, m.page = picking, 0
}

func (m *Machine) pick(key rune, now time.Time) {
	pages := (len(m.choices) + perPage - 1) / perPage
	i := m.page*perPage + int(key-'1')
	if m.field == "distraction" {
		i = int(key - '0')
	}
	leaves := key == 27 || key == '\b'
	switch {
	case !m.Ready() && key == '\r' && m.optional():
		m.asked(now)
	case !m.Ready() && (leaves || key == '\r'):
		m.message = "press the number; Ctrl-C leaves"
	case leaves:
		m.mode, m.page = normal, 0
	case key == '0' && m.field != "distraction":
		m.page = (m.page + 1) % pages
	case key < '0' || key > '9' || i >= len(m.choices):
		m.message = "press the number, or Esc"
	case !m.Ready():
		m.context[m.field] = m.choices[i]
		m.asked(now)
	default:
		m.change(m.choices[i])
	}
}

// change sets the context from here on.
func (m *Machine) change(value string) {
	m.mode, m.page = normal, 0
	f := m.fold()
	if f.context[m.field] == value {
		m.message = m.field + " is " + value + " already"
		return
	}
	m.closeAll(m.held) // what was going on belongs to what held before
	m.add(event{kind: changed, text: m.field + ": " + value})
	m.message = m.field + ": " + value + " from here on"
}

func (m *Machine) write(key rune) {
	text := strings.Join(strings.Fields(string(m.entry)), " ")
	switch {
	case key == 27, key == '\r' && text == "":
		m.mode, m.message = normal, "nothing noted"
	case key == '\b':
		m.entry = m.entry[:max(len(m.entry)-1, 0)]
	case key == '\r':
		m.mode = normal
		e := event{kind: remark, text: text}
		if m.field == "incident" {
			e.kind = incident
		}
		m.add(e)
	case unicode.IsPrint(key) && utf8.ValidRune(key) && len(m.entry) < 500:
		m.entry = append(m.entry, key)
	}
}

// stop begins a pause.
func (m *Machine) stop(p moment) {
	m.add(event{kind: pause, at: p.at})
	m.pausedAt, m.mode = p.now, paused
}

// inPause takes a key while the clock stands still.
func (m *Machine) inPause(key rune, now time.Time) {
	if key != 'p' && key != '\r' && key != ' ' {
		m.message = "paused: p goes on"
		return
	}
	at := m.clockAt(now)
	m.mode = normal
	m.goOn(at, now.Sub(m.pausedAt))
	m.message = "going on"
}

// goOn lets the clock go on after a gap.
func (m *Machine) goOn(at, gap time.Duration) {
	gap = max(gap, 0).Truncate(100 * time.Millisecond) // as it is written down
	m.stopped += gap
	m.add(event{kind: wentOn, at: at, gap: gap})
}

// atEnd takes a key after f.
func (m *Machine) atEnd(key rune) Status {
	switch key {
	case 'f', 'y', '\r':
		return Finished
	case 'k':
		return Kept
	case 'b', 'n', 27, '\b':
		m.mode, m.message = normal, "going on"
	default:
		m.message = "f logs it, k keeps it for later, b goes back"
	}
	return Running
}
