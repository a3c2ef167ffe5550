package live

import (
	"fmt"
	"strings"
	"time"

	"firstcue/internal/training"
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
	last    event // no, wrong, corrected or helped; what was noted last of these
	noted   bool  // last is set
	event   int   // place of its cue among the events
}

func (o *open) is(k training.Kind) bool { return o.cue.Kind == k }

// lastly reports that the trial's last mark is of a kind.
func (o *open) lastly(k kind) bool { return o.noted && o.last.kind == k }

// unbroken reports a hold that is still kept, as far as is known.
func (o *open) unbroken() bool { return o.is(training.Holding) && o.breaks == 0 }

// folded is what the events come to.
type folded struct {
	open    *open // response or hold going on
	walk    *open // walk going on; responses may be asked for in it
	trials  int
	last    string // the trial that ended last, in words
	context map[string]string
	clock   time.Duration // of the last event
}

// focus is the trial that marks go to.
func (f *folded) focus() *open {
	if f.open != nil {
		return f.open
	}
	return f.walk
}

func (m *Machine) fold() folded {
	f := folded{context: map[string]string{}}
	for _, l := range m.head {
		readContext(l, f.context)
	}
	for i, e := range m.events {
		switch {
		case e.kind == changed && !e.back:
			readContext(e.text, f.context)
		case !e.timed():
		case e.kind == gave:
			f.clock = max(f.clock, e.at)
			f.give(e, i)
		case e.kind == early:
			f.clock = max(f.clock, e.at)
			f.last = e.cue.Name + " early"
			f.trials++
		default:
			f.clock = max(f.clock, e.at)
			if o := f.focus(); o != nil {
				f.mark(o, e)
			}
		}
	}
	return f
}

// give takes a cue: another ask of the trial that is open, or a new trial.
func (f *folded) give(e event, i int) {
	if o := f.same(e.cue); o != nil {
		o.asks++
		o.asked, o.waiting, o.begun = e.at, true, false
		return
	}
	if f.open != nil {
		f.end(f.open, f.open.state())
	}
	o := &open{cue: e.cue, asks: 1, opened: e.at, asked: e.at, waiting: true, event: i}
	if o.is(training.Motion) {
		f.walk = o
	} else {
		f.open = o
	}
	f.trials++
}

func (f *folded) mark(o *open, e event) {
	o.marked = true
	response := o.is(training.Response)
	switch e.kind {
	case yes:
		if response {
			f.end(o, fmt.Sprintf("yes, %s after %s", seconds(e.at-o.asked), times(o.asks)))
			return
		}
		o.taken, o.waiting = true, false
	case no, noNext:
		o.waiting = false
		if !response {
			o.breaks++
		}
		if e.kind == noNext {
			f.end(o, o.state())
		}
		e.kind = no
	case wrong:
		o.waiting = false
	case starts:
		o.begun = true
	case release:
		how := "held "
		if o.is(training.Motion) {
			how = "walked "
		}
		f.end(o, how+seconds(e.at-o.opened)+breaks(o.breaks))
	case notScored:
		f.end(o, "not scored")
	case already:
		f.end(o, "was in position already")
	case next:
		f.end(o, o.state())
	}
	switch e.kind {
	case no, wrong, corrected, helped:
		o.last, o.noted = e, true
	}
}

func (f *folded) end(o *open, how string) {
	f.last = strings.TrimSpace(o.cue.Name + " " + how)
	if o == f.walk {
		f.walk = nil
	} else {
		f.open = nil
	}
}

// same is the trial that a cue given now is another ask of: nil when it opens a
// trial of its own. After a plain no the dog was left alone; the next cue is
// the next trial.
func (f *folded) same(cue training.Cue) *open {
	o := f.open
	if cue.Kind == training.Motion {
		o = f.walk
	}
	if o == nil || o.cue.Name != cue.Name || !o.waiting && o.lastly(no) && !o.is(training.Motion) {
		return nil
	}
	return o
}

// lastMark is what was noted last, in words.
func (o *open) lastMark() string {
	switch {
	case !o.noted:
		return ""
	case o.last.kind == corrected:
		return "corrected " + o.last.text
	case o.last.kind == helped:
		return "helped"
	case o.last.kind == wrong:
		return "wrong"
	}
	return "no"
}

// state is how a trial that was left open came out.
func (o *open) state() string {
	if !o.is(training.Response) {
		return "ended" + breaks(o.breaks)
	}
	return "no, " + times(o.asks)
}

func breaks(n int) string {
	if n == 0 {
		return ""
	}
	return ", " + plural(n, "break")
}

func times(n int) string { return plural(n, "ask") }

func plural(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// seconds writes a span as it is read off a watch.
func seconds(d time.Duration) string {
	d = max(d, 0)
	if d < time.Minute {
		return fmt.Sprintf("%.1f s", d.Seconds())
	}
	return fmt.Sprintf("%d:%02d", int(d.Minutes()), int(d.Seconds())%60)
}
