package live

import (
	"strings"
	"time"

	"firstcue/internal/training"
)

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
	e := event{kind: next, at: at}
	switch {
	case o.is(training.Response):
		if o.waiting {
			e.kind = noNext
		}
	case o.is(training.Holding) && o.breaks > 0:
	case at <= o.opened:
		e.kind = notScored // ended as it began: nothing was held or walked
	default:
		e.kind = release
	}
	m.add(e)
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
	asked := func(e event) bool { return e.kind == gave && !e.back && e.cue.Name == o.cue.Name }
	e := event{kind: next, at: at}
	switch {
	case !o.marked:
		m.takeBack(o.event+1, asked)
		e.kind = notScored
	case o.is(training.Response) || o.is(training.Holding) && o.breaks > 0:
		for i := len(m.events) - 1; o.waiting && i > o.event; i-- {
			// An answer nobody saw the end of, and the ask that it belongs to.
			again := asked(m.events[i])
			if again || m.events[i].kind == starts && !m.events[i].back {
				m.withdraw(i)
			}
			if again {
				break
			}
		}
	case at <= o.opened:
		m.takeBack(o.event, event.timed)
		return
	default:
		e.kind = release
	}
	m.add(e)
}

// notSeen ends a trial whose end nobody saw: it is counted apart. What was
// noted of a hold before stays in the note as a comment.
func (m *Machine) notSeen(o *open, at time.Duration) {
	if !o.marked || !o.unbroken() {
		m.unseen(o, at)
		return
	}
	m.takeBack(o.event+1, event.timed)
	m.add(event{kind: notScored, at: at})
}

// takeBack withdraws the events from one on that are such.
func (m *Machine) takeBack(from int, such func(event) bool) {
	for i := from; i < len(m.events); i++ {
		if such(m.events[i]) {
			m.withdraw(i)
		}
	}
}

// withdraw leaves an event in the note as a comment, so that the record shows
// that it was taken back.
func (m *Machine) withdraw(i int) { m.events[i].back, m.events[i].press = true, m.press }

// undo takes back the last press that wrote something.
func (m *Machine) undo() {
	i := len(m.events) - 1
	for i >= 0 && !m.events[i].says() {
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
		if e := &m.events[j]; e.says() {
			said = append(said, e.what())
			e.back = true
		}
	}
	m.message = "taken back: " + strings.Join(said, ", ")
}
