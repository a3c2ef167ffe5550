package live

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"

	"firstcue/internal/training"
)

// Signs that stand in the note for a pause; the note takes them as comments.
const (
	pauseSign  = "# paused"
	wentOnSign = "# went on"
	backSign   = "# taken back: "
)

// kind is what a line of the note is about.
type kind int

const (
	seen    kind = iota // what was seen of the trial that is open
	given               // a cue
	tooSoon             // the dog acted before a cue
	setting             // what holds from here on
	remark              // free text, or an incident
	aside               // a comment: a pause, or what was taken back
)

// event is one line of the note after its head.
type event struct {
	at    time.Duration // clock of the note; -1 for a line without a clock
	text  string        // the line without its clock
	kind  kind
	cue   training.Cue // given, tooSoon: the cue; a hold has the target that the line names
	press int          // which key press wrote it: undo takes back a press
}

// read takes a line of the note to pieces.
func (m *Machine) read(at time.Duration, text string) event {
	e := event{at: at, text: text, press: m.press}
	if at < 0 {
		switch text[:min(1, len(text))] {
		case "#":
			e.kind = aside
		case ">", "!":
			e.kind = remark
		default:
			e.kind = setting
		}
		return e
	}
	if cue, ok := m.cueOf(text); ok {
		e.kind, e.cue = given, cue
	} else if name, ok := strings.CutPrefix(text, "early "); ok {
		e.kind, e.cue = tooSoon, training.Cue{Name: name}
	}
	return e
}

// gives reports that the event gives the cue.
func (e event) gives(c training.Cue) bool { return e.kind == given && e.cue.Name == c.Name }

// takeBack makes a comment of an event, so that the record shows that it was
// taken back.
func (m *Machine) takeBack(i, press int) {
	m.events[i] = event{at: -1, text: backSign + m.events[i].line(), kind: aside, press: press}
}

func (e event) line() string {
	if e.at < 0 {
		return e.text
	}
	return Clock(e.at) + " " + e.text
}

// Clock writes a time as notes do: m:ss.d, or h:mm:ss.d from one hour on.
func Clock(d time.Duration) string {
	tenths := int64(d / (100 * time.Millisecond))
	s, t := tenths/10, tenths%10
	if s >= 3600 {
		return fmt.Sprintf("%d:%02d:%02d.%d", s/3600, s/60%60, s%60, t)
	}
	return fmt.Sprintf("%d:%02d.%d", s/60, s%60, t)
}

// parseClock reads what Clock writes.
func parseClock(s string) (time.Duration, bool) {
	whole, tenth, ok := strings.Cut(s, ".")
	if !ok || len(tenth) != 1 {
		return 0, false
	}
	total := 0
	for _, part := range strings.Split(whole, ":") {
		n, err := strconv.Atoi(part)
		if err != nil || n < 0 {
			return 0, false
		}
		total = total*60 + n
	}
	t, err := strconv.Atoi(tenth)
	return time.Duration(total)*time.Second + time.Duration(t)*100*time.Millisecond, err == nil && t >= 0
}

// pauseAt is the line of a pause, and readPause reads it.
func pauseAt(at time.Duration) string { return pauseSign + " at " + Clock(at) }

func readPause(line string) (at time.Duration, ok bool) {
	text, ok := strings.CutPrefix(line, pauseSign+" at ")
	if !ok {
		return 0, false
	}
	return parseClock(text)
}

// wentOn is the line of a pause's end after gap, and readWentOn reads it.
func wentOn(at, gap time.Duration) string {
	return fmt.Sprintf("%s at %s after %.1f s", wentOnSign, Clock(at), gap.Seconds())
}

func readWentOn(line string) (gap time.Duration, ok bool) {
	var clock string
	var s float64
	if _, err := fmt.Sscanf(line, wentOnSign+" at %s after %f s", &clock, &s); err != nil {
		return 0, false
	}
	return time.Duration(math.Round(s*10)) * 100 * time.Millisecond, true
}

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
		if e.at >= 0 {
			f.clock = max(f.clock, e.at)
		}
		switch e.kind {
		case setting:
			readContext(e.text, f.context)
		case given:
			f.ask(e, i)
		case tooSoon:
			f.last = e.cue.Name + " early"
			f.trials++
		case seen:
			for _, s := range strings.Fields(e.text) {
				if o := f.focus(); o != nil {
					f.mark(o, s, e.at)
				}
			}
		}
	}
	return f
}

// ask takes a cue: another ask of the trial that is open, or a trial of its own.
func (f *folded) ask(e event, i int) {
	if o := f.same(e.cue); o != nil {
		o.asks++
		o.asked, o.waiting, o.begun = e.at, true, false
		return
	}
	if f.open != nil {
		f.end(f.open, f.open.state())
	}
	o := &open{cue: e.cue, asks: 1, opened: e.at, asked: e.at, waiting: true, event: i}
	if e.cue.Kind == training.Motion {
		f.walk = o
	} else {
		f.open = o
	}
	f.trials++
}

// end ends a trial; how is shown as what came of it.
func (f *folded) end(o *open, how string) {
	f.last = strings.TrimSpace(o.cue.Name + " " + how)
	if o == f.walk {
		f.walk = nil
	} else {
		f.open = nil
	}
}

// mark takes one mark of the notation for the trial that is open.
func (f *folded) mark(o *open, mark string, at time.Duration) {
	o.marked = true
	response := o.cue.Kind == training.Response
	switch {
	case mark == "+" && response:
		f.end(o, fmt.Sprintf("yes, %s after %s", seconds(at-o.asked), times(o.asks)))
	case mark == "+":
		o.taken, o.waiting = true, false
	case mark == "-":
		o.waiting, o.last = false, refused
		if !response {
			o.breaks++
			o.last = broke
		}
	case mark == "x":
		o.waiting, o.last = false, wrong
	case mark == "start":
		o.begun = true
	case mark == "release":
		how := "held "
		if o.cue.Kind == training.Motion {
			how = "walked "
		}
		f.end(o, how+seconds(at-o.opened)+breaks(o.breaks))
	case mark == "?":
		f.end(o, "not scored")
	case mark == "already":
		f.end(o, "was in position already")
	case mark == "next":
		f.end(o, o.state())
	case strings.HasPrefix(mark, "@"):
		o.last, o.how = corrected, strings.TrimPrefix(mark, "@")
	case mark == "help":
		o.last = helped
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
	if o == nil || o.cue.Name != cue.Name {
		return nil
	}
	if !o.waiting && (o.last == refused || o.last == broke && o.cue.Kind == training.Holding) {
		return nil
	}
	return o
}

// state is how a trial that was left open came out.
func (o *open) state() string {
	if o.cue.Kind != training.Response {
		return "ended" + breaks(o.breaks)
	}
	return "no, " + times(o.asks)
}

func breaks(n int) string {
	switch n {
	case 0:
		return ""
	case 1:
		return ", 1 break"
	}
	return fmt.Sprintf(", %d breaks", n)
}

func times(n int) string {
	if n == 1 {
		return "1 ask"
	}
	return fmt.Sprintf("%d asks", n)
}

// seconds writes a span as it is read off a watch.
func seconds(d time.Duration) string {
	d = max(d, 0)
	if d < time.Minute {
		return fmt.Sprintf("%.1f s", d.Seconds())
	}
	return fmt.Sprintf("%d:%02d", int(d.Minutes()), int(d.Seconds())%60)
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

// opening is the text of the event that opens a trial of a cue: a hold stands
// with its target, so that a release before it is known to be one.
func opening(c training.Cue) string {
	if c.Kind != training.Holding || !c.Target.Known || c.Target.V <= 0 {
		return c.Name
	}
	if s := int(c.Target.V); float64(s) == c.Target.V && s < 24*3600 {
		if s >= 3600 {
			return fmt.Sprintf("%s %d:%02d:%02d", c.Name, s/3600, s/60%60, s%60)
		}
		return fmt.Sprintf("%s %d:%02d", c.Name, s/60, s%60)
	}
	return c.Name + " " + strconv.FormatFloat(c.Target.V, 'f', -1, 64) + "s"
}

// parseTarget reads the target that opening writes, in seconds.
func parseTarget(s string) (float64, bool) {
	if n, ok := strings.CutSuffix(s, "s"); ok {
		v, err := strconv.ParseFloat(n, 64)
		return v, err == nil && v > 0
	}
	d, ok := parseClock(s + ".0")
	return d.Seconds(), ok && strings.Contains(s, ":")
}

// readContext reads "place: car park; leash: off" into a context.
func readContext(line string, into map[string]string) {
	for _, part := range strings.Split(line, ";") {
		if k, v, ok := strings.Cut(part, ":"); ok {
			into[strings.TrimSpace(k)] = strings.TrimSpace(v)
		}
	}
}
