package live

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"firstcue/internal/note"
	"firstcue/internal/training"
)

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
	case early:
		m.early(key)
	case choosing:
		m.choose(key)
	case picking:
		m.pick(key, now)
	case writing:
		m.write(key)
	case parting:
		m.part(key)
	case paused:
		switch key {
		case 'p', '\r', ' ':
			m.goOn(now)
		default:
			m.message = "paused: p goes on"
		}
	case ending:
		switch key {
		case 'f', 'y', '\r':
			return Finished
		case 'k':
			return Kept
		case 'b', 'n', 27, '\b':
			m.mode = normal
			m.message = "going on"
		default:
			m.message = "f logs it, k keeps it for later, b goes back"
		}
	}
	return Running
}

// unreadable says what the note reader would refuse in the note, were it ended
// now; "" when nothing is, or nothing was added.
func (m *Machine) unreadable(before []event) string {
	if len(m.events) == len(before) || !m.Ready() {
		return ""
	}
	end := *m
	end.events = slices.Clone(m.events)
	end.closeAll(m.fold().clock + time.Second)
	res := note.Parse([]byte(end.Text()), note.Options{Kennel: m.kennel, Now: m.start.Add(48 * time.Hour), DespiteHold: true})
	for _, p := range res.Problems {
		if p.Message != "the note is empty" {
			return p.Message
		}
	}
	return ""
}

// longest is the longest time after which an answer still belongs to its cue.
const longest = time.Minute

// normal takes a key while nothing is being asked.
func (m *Machine) normal(key rune, at time.Duration, now time.Time) {
	f := m.fold()
	o := f.focus()
	switch {
	case key >= '0' && key <= '9':
		m.number(&f, key, at)
	case strings.ContainsRune("ynwsrghcaq", key):
		if o == nil {
			m.message = "no cue is open: press its number first"
			return
		}
		m.onOpen(o, key, at)
	case key == 'e':
		if o != nil {
			m.message = o.cue.Name + " is open: end it first"
			return
		}
		m.mode, m.held = early, at
	case key == 'u':
		m.undo()
	case key == 'p':
		if o != nil && o.cue.Kind == training.Response {
			m.message = o.cue.Name + " is open: end it first (y, g or q)"
			return
		}
		m.add(-1, pauseAt(at))
		m.pausedAt = now
		m.mode = paused
	case key == 't':
		m.mode, m.field, m.entry = writing, "remark", nil
	case key == 'i':
		m.mode, m.field, m.entry = writing, "incident", nil
	case (key == 'o' || key == 'f') && o != nil && o.unbroken():
		m.message = o.cue.Name + " is open: end it first (r, n or q)"
	case key == 'o':
		m.mode, m.held = choosing, at
	case key == 'f':
		m.closeAll(at)
		m.mode = ending
	case key == 27, key == '\r', key == ' ', key == '\b':
	default:
		m.message = fmt.Sprintf("%q is no key here", string(key))
	}
}

// number takes the digit of a cue: another ask, or a new trial.
func (m *Machine) number(f *folded, key rune, at time.Duration) {
	cue, ok := m.cueAt(key)
	if !ok {
		return
	}
	if f.same(cue) != nil && cue.Kind != training.Motion {
		m.add(at, cue.Name)
		return
	}
	if f.open != nil && f.open != f.same(cue) && f.open.unbroken() {
		// How a hold ended is not guessed: the cue waits for the answer.
		m.mode, m.held, m.given = parting, at, cue
		return
	}
	m.give(f, cue, at)
}

// onOpen takes a key that says something of the trial that is open.
func (m *Machine) onOpen(o *open, key rune, at time.Duration) {
	response := o.cue.Kind == training.Response
	switch key {
	case 'y':
		m.yes(o, at)
	case 'n', 'w':
		m.no(o, key, at)
	case 's':
		if !response || !o.waiting || o.begun {
			m.message = "s is for the moment an answer begins"
			return
		}
		m.add(at, "start")
	case 'r':
		if response {
			m.message = o.cue.Name + " ends with y or g"
			return
		}
		m.add(at, "release")
	case 'g':
		if !response {
			m.message = o.cue.Name + " ends with r"
			return
		}
		m.close(o, at)
	case 'h':
		m.add(at, "help")
	case 'c':
		m.mode, m.held, m.entry = correcting, at, nil
	case 'a':
		if o.marked || o.asks > 1 {
			m.message = "marked already: g or r ends it"
			return
		}
		m.add(at, "already")
	case 'q':
		if o.marked && !o.unbroken() {
			m.message = "marked already: g or r ends it as far as it was seen"
			return
		}
		m.notSeen(o, at)
	}
}

// yes takes the answer to a cue, or the position that a hold begins with.
func (m *Machine) yes(o *open, at time.Duration) {
	response := o.cue.Kind == training.Response
	switch {
	case o.cue.Kind == training.Motion, o.taken:
		m.message = o.cue.Name + " ends with r"
	case !response && o.breaks > 0:
		m.message = "it broke: r ends it"
	case response && !o.waiting && o.last != helped && o.last != corrected:
		m.message = "asked again? press its number first, then y"
	case at-o.asked > longest:
		m.message = "too long after the cue: press its number when you ask again, or g"
	default:
		m.add(at, "+")
	}
}

// no takes a miss (n) or a wrong answer (w).
func (m *Machine) no(o *open, key rune, at time.Duration) {
	response := o.cue.Kind == training.Response
	switch {
	case key == 'w' && !response:
		m.message = "w is for answers; n when it breaks"
	case response && !o.waiting:
		m.message = "marked already; press the number when you ask again"
	case o.cue.Kind == training.Holding && o.breaks > 0 && !o.waiting:
		m.message = "it broke already: r ends it"
	case key == 'w':
		m.add(at, "x")
	default:
		m.add(at, "-")
	}
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

func (m *Machine) correct(key rune) {
	done := func(what string) {
		m.add(m.held, "@"+what)
		m.mode = normal
	}
	switch {
	case key == 27:
		m.mode, m.message = normal, "no correction"
	case key == 'l' && m.mode == correcting:
		done("leash")
	case key == 'v' && m.mode == correcting:
		done("verbal")
	case key >= '0' && key <= '9' || key == '.' && len(m.entry) > 0 && !strings.ContainsRune(string(m.entry), '.'):
		if why := m.noLevel(); why != "" {
			m.message = why
			return
		}
		if len(m.entry) < 5 {
			m.entry = append(m.entry, key)
		}
		m.mode = levelling
	case key == '\b':
		if len(m.entry) == 0 {
			m.mode, m.message = normal, "no correction"
			return
		}
		m.entry = m.entry[:len(m.entry)-1]
		if len(m.entry) == 0 {
			m.mode = correcting
		}
	case key == '\r' && m.mode == levelling:
		level := strings.TrimSuffix(string(m.entry), ".")
		device, _ := m.kennel.Device(m.fold().context["device"])
		v, err := strconv.ParseFloat(level, 64)
		switch {
		case err != nil:
			m.message = level + " is not a level"
		case device.Highest.Known && v > device.Highest.V, device.Lowest.Known && v < device.Lowest.V:
			m.message = fmt.Sprintf("the dial of %s has no %s", device.Name, level)
			m.mode, m.entry = correcting, nil
		default:
			done(level)
		}
	default:
		m.message = "l leash, v verbal, or the level and Enter"
		if why := m.noLevel(); why != "" {
			m.message = "l leash, v verbal; no level: " + why
		}
	}
}

// noLevel says why no level may be noted, "" when it may.
func (m *Machine) noLevel() string {
	switch {
	case m.dog.RewardOnly:
		return m.dog.Name + " is trained without a collar"
	case m.fold().context["device"] == "":
		return "no collar is set: Esc, then o c"
	}
	for _, h := range m.dog.Holds {
		if h.ForbidsCollar(training.DayOf(m.start)) {
			return "the vet hold forbids the collar"
		}
	}
	return ""
}

func (m *Machine) early(key rune) {
	if key == 27 || key == '\b' {
		m.mode = normal
		return
	}
	if key < '0' || key > '9' {
		m.message = "which cue? Press its number"
		return
	}
	if cue, ok := m.cueAt(key); ok {
		m.add(m.held, "early "+cue.Name)
		m.mode = normal
	}
}

// choose takes what is to be changed from here on.
func (m *Machine) choose(key rune) {
	switch key {
	case 'h':
		m.field = "handler"
	case 'p':
		m.field = "place"
	case 'l':
		m.field = "leash"
	case 'd':
		m.field = "distraction"
	case 'c':
		m.field = "device"
	case 27, '\b':
		m.mode = normal
		return
	default:
		m.message = "h handler, p place, l leash, d distraction, c collar"
		return
	}
	m.choices = m.names(m.field)
	if len(m.choices) == 0 {
		m.message = fmt.Sprintf("the kennel has no %s yet", m.field)
		m.mode = normal
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
	optional := m.field == "leash" || m.field == "distraction"
	switch {
	case !m.Ready() && key == '\r' && optional:
		m.ask = m.ask[1:]
		m.begin(now)
	case !m.Ready() && (key == 27 || key == '\b' || key == '\r'):
		m.message = "press the number; Ctrl-C leaves"
	case key == 27 || key == '\b':
		m.mode, m.page = normal, 0
	case key == '0' && m.field != "distraction":
		m.page = (m.page + 1) % pages
	case key >= '0' && key <= '9' && i < len(m.choices):
		value := m.choices[i]
		if !m.Ready() {
			m.context[m.field] = value
			m.ask = m.ask[1:]
			m.begin(now)
			return
		}
		m.mode, m.page = normal, 0
		f := m.fold()
		if f.context[m.field] == value {
			m.message = m.field + " is " + value + " already"
			return
		}
		m.closeAll(m.held) // what was going on belongs to what held before
		m.add(-1, m.field+": "+value)
		m.message = m.field + ": " + value + " from here on"
	default:
		m.message = "press the number, or Esc"
	}
}

func (m *Machine) write(key rune) {
	switch {
	case key == 27:
		m.mode, m.message = normal, "nothing noted"
	case key == '\b':
		if n := len(m.entry); n > 0 {
			m.entry = m.entry[:n-1]
		}
	case key == '\r':
		text := strings.Join(strings.Fields(string(m.entry)), " ")
		m.mode = normal
		if text == "" {
			m.message = "nothing noted"
			return
		}
		sign := "> "
		if m.field == "incident" {
			sign = "! "
		}
		m.add(-1, sign+text)
	case unicode.IsPrint(key) && utf8.ValidRune(key) && len(m.entry) < 500:
		m.entry = append(m.entry, key)
	}
}
