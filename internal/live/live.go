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
	"fmt"
	"slices"
	"sort"
	"strconv"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

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
var contextKeys = []string{"handler", "scorer", "place", "leash", "distraction", "device", "level", "weather", "reward", "source"}

// Signs that stand in the note for a pause; the note takes them as comments.
const (
	pauseSign  = "# paused"
	wentOnSign = "# went on"
	backSign   = "# taken back: "
)

// event is one line of the note after its head.
type event struct {
	at    time.Duration // clock of the note; -1 for a line without a clock
	text  string        // the line without its clock
	press int           // which key press wrote it: undo takes back a press
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
	cue      training.Cue
	asks     int
	opened   time.Duration
	asked    time.Duration // the last ask
	waiting  bool          // the last ask has no mark yet
	begun    bool          // the dog began to answer the last ask
	taken    bool          // hold: the position was taken
	marked   bool          // something but asks was noted
	breaks   int
	lastMark string
	event    int // place of its cue among the events
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
	takeBack := func(i int) { m.events[i] = event{-1, backSign + m.events[i].line(), m.press} }
	if !o.marked {
		for i := o.event + 1; i < len(m.events); i++ {
			if m.events[i].text == o.cue.Name {
				takeBack(i)
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
					takeBack(i)
				}
				if m.events[i].text == o.cue.Name {
					takeBack(i)
					break
				}
			}
		}
		m.add(at, "next")
	case at <= o.opened:
		for i := o.event; i < len(m.events); i++ {
			if m.events[i].at >= 0 {
				takeBack(i)
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
	end := func(o *open, how string) {
		f.last = strings.TrimSpace(o.cue.Name + " " + how)
		if o == f.walk {
			f.walk = nil
		} else {
			f.open = nil
		}
	}
	for i, e := range m.events {
		if e.at < 0 {
			if !strings.HasPrefix(e.text, "#") && !strings.HasPrefix(e.text, ">") && !strings.HasPrefix(e.text, "!") {
				readContext(e.text, f.context)
			}
			continue
		}
		f.clock = max(f.clock, e.at)
		if cue, ok := m.cueOf(e.text); ok {
			if o := f.same(cue); o != nil {
				o.asks++
				o.asked, o.waiting, o.begun = e.at, true, false
				continue
			}
			if f.open != nil {
				end(f.open, f.open.state())
			}
			o := &open{cue: cue, asks: 1, opened: e.at, asked: e.at, waiting: true, event: i}
			if cue.Kind == training.Motion {
				f.walk = o
			} else {
				f.open = o
			}
			f.trials++
			continue
		}
		if rest, ok := strings.CutPrefix(e.text, "early "); ok {
			f.last = rest + " early"
			f.trials++
			continue
		}
		for _, mark := range strings.Fields(e.text) {
			o := f.focus()
			if o == nil {
				break
			}
			o.marked = true
			response := o.cue.Kind == training.Response
			switch {
			case mark == "+" && response:
				end(o, fmt.Sprintf("yes, %s after %s", seconds(e.at-o.asked), times(o.asks)))
			case mark == "+":
				o.taken, o.waiting = true, false
			case mark == "-":
				o.waiting, o.lastMark = false, "no"
				if !response {
					o.breaks++
					o.lastMark = "broke"
				}
			case mark == "x":
				o.waiting, o.lastMark = false, "wrong"
			case mark == "start":
				o.begun = true
			case mark == "release":
				how := "held "
				if o.cue.Kind == training.Motion {
					how = "walked "
				}
				end(o, how+seconds(e.at-o.opened)+breaks(o.breaks))
			case mark == "?":
				end(o, "not scored")
			case mark == "already":
				end(o, "was in position already")
			case mark == "next":
				end(o, o.state())
			case strings.HasPrefix(mark, "@"):
				o.lastMark = "corrected " + strings.TrimPrefix(mark, "@")
			case mark == "help":
				o.lastMark = "helped"
			}
		}
	}
	return f
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
	if !o.waiting && (o.lastMark == "no" || o.lastMark == "broke" && o.cue.Kind == training.Holding) {
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

func (m *Machine) add(at time.Duration, text string) {
	m.events = append(m.events, event{at, text, m.press})
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

func (m *Machine) normal(key rune, at time.Duration, now time.Time) {
	f := m.fold()
	o := f.focus()
	response := o != nil && o.cue.Kind == training.Response
	need := func() bool {
		if o == nil {
			m.message = "no cue is open: press its number first"
		}
		return o != nil
	}
	switch {
	case key >= '0' && key <= '9':
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
		m.give(&f, cue, at)
	case key == 'y':
		switch {
		case !need():
		case o.cue.Kind == training.Motion, o.taken:
			m.message = o.cue.Name + " ends with r"
		case !response && o.breaks > 0:
			m.message = "it broke: r ends it"
		case response && !o.waiting && o.lastMark != "helped" && !strings.HasPrefix(o.lastMark, "corrected"):
			m.message = "asked again? press its number first, then y"
		case at-o.asked > longest:
			m.message = "too long after the cue: press its number when you ask again, or g"
		default:
			m.add(at, "+")
		}
	case key == 'n', key == 'w':
		switch {
		case !need():
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
	case key == 's':
		switch {
		case !need():
		case !response || !o.waiting || o.begun:
			m.message = "s is for the moment an answer begins"
		default:
			m.add(at, "start")
		}
	case key == 'r':
		switch {
		case !need():
		case response:
			m.message = o.cue.Name + " ends with y or g"
		default:
			m.add(at, "release")
		}
	case key == 'g':
		switch {
		case !need():
		case !response:
			m.message = o.cue.Name + " ends with r"
		default:
			m.close(o, at)
		}
	case key == 'h':
		if need() {
			m.add(at, "help")
		}
	case key == 'c':
		if need() {
			m.mode, m.held, m.entry = correcting, at, nil
		}
	case key == 'e':
		if o != nil {
			m.message = o.cue.Name + " is open: end it first"
			return
		}
		m.mode, m.held = early, at
	case key == 'a':
		switch {
		case !need():
		case o.marked || o.asks > 1:
			m.message = "marked already: g or r ends it"
		default:
			m.add(at, "already")
		}
	case key == 'q':
		switch {
		case !need():
		case o.marked && !o.unbroken():
			m.message = "marked already: g or r ends it as far as it was seen"
		default:
			m.notSeen(o, at)
		}
	case key == 'u':
		m.undo()
	case key == 'p':
		if response {
			m.message = o.cue.Name + " is open: end it first (y, g or q)"
			return
		}
		m.add(-1, pauseSign+" at "+Clock(at))
		m.pausedAt = now
		m.mode = paused
	case key == 't':
		m.mode, m.field, m.entry = writing, "remark", nil
	case key == 'i':
		m.mode, m.field, m.entry = writing, "incident", nil
	case key == 'o' && o != nil && o.unbroken(), key == 'f' && o != nil && o.unbroken():
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
		if e := m.events[i]; e.at >= 0 {
			m.events[i] = event{-1, backSign + e.line(), m.press}
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

// undo takes back the last press that wrote something. Its lines stay in the
// note as a comment, so that the record shows that it was taken back.
func (m *Machine) undo() {
	i := len(m.events) - 1
	for i >= 0 && strings.HasPrefix(m.events[i].text, "#") {
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
		e := &m.events[j]
		if strings.HasPrefix(e.text, "#") {
			continue
		}
		said = append(said, e.text)
		*e = event{-1, backSign + e.line(), press}
	}
	m.message = "taken back: " + strings.Join(said, ", ")
}

// goOn ends a pause.
func (m *Machine) goOn(now time.Time) {
	at := m.clockAt(now)
	gap := max(now.Sub(m.pausedAt), 0).Truncate(100 * time.Millisecond) // as it is written down
	m.mode = normal
	m.stopped += gap
	m.add(-1, fmt.Sprintf("%s at %s after %.1f s", wentOnSign, Clock(at), gap.Seconds()))
	m.message = "going on"
}
