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
	pausing, pauseClock := false, time.Duration(0)
	for i, l := range lines[blank+1:] {
		m.press++
		e := m.read(-1, l)
		clock, rest, ok := strings.Cut(l, " ")
		if at, isClock := parseClock(clock); ok && isClock {
			e = m.read(at, rest)
		}
		if gap, ok := readWentOn(l); ok {
			pausing = false
			m.stopped += gap
		} else if at, ok := readPause(l); ok {
			pausing, pauseClock = true, at
		}
		// A press that ended one trial and began the next wrote two lines.
		if e.kind == given && i > 0 && len(m.events) > 0 {
			if last := &m.events[len(m.events)-1]; last.at == e.at && (last.text == "release" || last.text == "?" || strings.HasSuffix(last.text, "next")) {
				e.press = last.press
			}
		}
		m.events = append(m.events, e)
	}
	if cut != "" {
		m.message = fmt.Sprintf("the last line was cut short and left out: %q", cut)
	}
	f := m.fold()
	reached := m.start.Add(m.stopped + f.clock) // wall clock of the last event
	gap := now.Sub(reached)
	switch {
	case pausing:
		m.mode, m.pausedAt = paused, m.start.Add(m.stopped+pauseClock)
	case gap > longGap:
		if o := f.focus(); o != nil {
			m.Unseen()
			m.message = fmt.Sprintf("%s was open: ended as far as it was seen", o.cue.Name)
		}
		m.press++
		gap = gap.Truncate(100 * time.Millisecond) // as it is written down
		m.stopped += gap
		m.add(-1, wentOn(f.clock, gap))
	case f.focus() != nil:
		o := f.focus()
		open := gap + f.clock - o.opened
		if o.unbroken() || o.cue.Kind == training.Motion || !o.marked {
			m.message = fmt.Sprintf("%s open %s. Not seen? q", o.cue.Name, wholeSeconds(open))
			if o.cue.Kind == training.Motion && o.marked {
				m.message = fmt.Sprintf("%s open %s. r ends it", o.cue.Name, wholeSeconds(open))
			}
		} else {
			m.message = fmt.Sprintf("%s open %s. g ends it", o.cue.Name, wholeSeconds(open))
		}
	}
	return m, nil
}
