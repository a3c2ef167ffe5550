package live

import (
	"errors"
	"fmt"
	"strings"
	"time"

	"firstcue/internal/training"
)

// longGap is the silence after which a session that goes on is taken to have
// stood still: nobody keeps a dog on a stay through a lost connection that long.
// Judgement, no source.
const longGap = 10 * time.Minute

// wholeSeconds writes a span in whole seconds: 27 s, 2:05.
func wholeSeconds(d time.Duration) string {
	if d < time.Minute {
		return fmt.Sprintf("%d s", int(d.Seconds()))
	}
	return seconds(d)
}

// Load reads a note that a Machine wrote and goes on with it at the moment now.
// A last line that was cut short is left out and told of. After a silence of
// more than ten minutes the clock is taken to have stood still, and a trial
// that was open then is marked as not scored.
func Load(text string, kennel training.Kennel, now time.Time) (*Machine, error) {
	m := &Machine{kennel: kennel, context: map[string]string{}}
	lines := strings.Split(text, "\n")
	cut := lines[len(lines)-1] // what stands after the last line end
	lines = lines[:len(lines)-1]
	blank := -1
	for i, l := range lines {
		if l == "" {
			blank = i
			break
		}
		readContext(l, m.context)
	}
	if blank < 0 {
		return nil, errors.New("the note breaks off before its first trial: there is nothing to go on with")
	}
	m.head = lines[:blank+1]
	start, zone, _ := strings.Cut(m.context["start"], "[")
	var err error
	if m.start, err = time.Parse(time.RFC3339, start); err != nil {
		return nil, fmt.Errorf("the note's start can't be read: %w", err)
	}
	if loc, err := time.LoadLocation(strings.TrimSuffix(zone, "]")); err == nil && zone != "" {
		m.start = m.start.In(loc)
	}
	m.setDog(m.context["dog"], training.DayOf(m.start), true)
	var stopped *event // a pause that has not ended
	for i, l := range lines[blank+1:] {
		m.press++
		e := readEvent(l, m.cueOf)
		e.press = m.press
		// A press that ended one trial and began the next wrote two lines.
		if e.kind == gave && i > 0 {
			switch last := m.events[i-1]; last.kind {
			case release, notScored, next, noNext:
				if last.at == e.at {
					e.press = last.press
				}
			}
		}
		m.events = append(m.events, e)
		switch e.kind {
		case pause:
			stopped = &e
		case wentOn:
			stopped = nil
			m.stopped += e.gap
		}
	}
	if cut != "" {
		m.message = fmt.Sprintf("the last line was cut short and left out: %q", cut)
	}
	f := m.fold()
	reached := m.start.Add(m.stopped + f.clock) // wall clock of the last event
	gap := now.Sub(reached)
	o := f.focus()
	switch {
	case stopped != nil:
		m.mode, m.pausedAt = paused, m.start.Add(m.stopped+stopped.at)
	case gap > longGap:
		if o != nil {
			m.Unseen()
			m.message = fmt.Sprintf("%s was open: ended as far as it was seen", o.cue.Name)
		}
		m.press++
		m.goOn(f.clock, gap)
	case o != nil:
		what := "g ends it"
		switch {
		case !o.marked || o.unbroken():
			what = "Not seen? q"
		case o.is(training.Motion):
			what = "r ends it"
		}
		m.message = fmt.Sprintf("%s open %s. %s", o.cue.Name, wholeSeconds(gap+f.clock-o.opened), what)
	}
	return m, nil
}
