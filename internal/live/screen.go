package live

import (
	"fmt"
	"strings"
	"time"
	"unicode"

	"github.com/clipperhouse/displaywidth"

	"firstcue/internal/training"
)

// Smallest screen that everything needed fits on.
const (
	MinWidth  = 40
	MinHeight = 12
)

// Screen returns what is to be shown at a moment: at most height lines of at
// most width columns, without any control sequence. It needs no colour: the
// state stands in words. A screen under MinWidth x MinHeight loses its lower
// lines.
func (m *Machine) Screen(width, height int, now time.Time) []string {
	f := m.fold()
	at := m.clockAt(now)
	rule := strings.Repeat("-", width)

	var top []string
	if !m.Ready() {
		f.context, at = m.context, 0
	}
	clock := Clock(at)
	if m.mode == paused {
		clock = "PAUSED " + clock
	}
	top = append(top, spread(strings.TrimSuffix(m.dog.Name+", "+f.context["handler"], ", "), clock, width))
	about := []string{}
	for _, k := range []string{"place", "leash", "distraction", "device"} {
		switch v := f.context[k]; {
		case v == "":
		case k == "distraction":
			about = append(about, "distraction "+v)
		case k == "leash" && v == "off":
			about = append(about, "off leash")
		default:
			about = append(about, v)
		}
	}
	top = append(top, fit(strings.Join(about, ", "), width), rule)

	state := m.state(f, at)
	last := "last: " + f.last
	if f.last == "" {
		last = fmt.Sprintf("%d trials", f.trials)
	} else {
		last = fmt.Sprintf("%d: %s", f.trials, f.last)
	}
	if f.focus() != nil && f.trials == 1 || !m.Ready() {
		last = ""
	}
	foot := wrap(m.message, width)

	keys := m.keys(f, width)
	var lines []string
	lines = append(lines, top...)
	roomy := height >= len(top)+len(keys)+9
	if roomy {
		lines = append(lines, "")
	}
	word := "NO CUE"
	if o := f.focus(); o != nil {
		word = o.cue.Name
	} else if m.mode == paused {
		word = "PAUSE"
	}
	if big := large(word, width); big != nil && m.Ready() && height >= len(top)+len(keys)+letterRows+12 {
		lines = append(append(lines, big...), "")
	}
	lines = append(lines, fit(state, width))
	if f.open != nil && f.walk != nil {
		last = fmt.Sprintf("in %s: %s%s", f.walk.cue.Name, seconds(at-f.walk.opened), breaks(f.walk.breaks))
	}
	if roomy {
		lines = append(lines, "")
	}
	if height >= len(top)+len(keys)+4 {
		lines = append(lines, fit(last, width))
	}
	lines = append(lines, rule)
	// What was noted last, when there is room.
	if spare := height - len(lines) - len(keys) - 2 - max(len(foot), 1); roomy && spare > 0 && len(m.events) > 0 {
		shown := m.events[max(0, len(m.events)-min(spare, 8)):]
		for _, e := range shown {
			lines = append(lines, fit("  "+e.line(), width))
		}
		lines = append(lines, rule)
	}
	lines = append(lines, keys...)
	room := max(height-max(len(foot), 1), 0) // what is said last gives way to nothing
	if len(lines) > room {
		lines = lines[:room]
	}
	if len(foot) == 0 {
		foot = []string{""}
	}
	return append(lines, foot[:min(len(foot), height)]...)
}

// wrap sets a message behind a star, on at most three lines.
func wrap(s string, width int) []string {
	var lines []string
	line := ""
	for _, w := range strings.Fields(s) {
		switch {
		case line == "" && len(lines) == 0:
			line = "* " + w
		case cells(line)+1+cells(w) <= width:
			line += " " + w
		default:
			lines = append(lines, fit(line, width))
			line = "  " + w
		}
	}
	if line != "" {
		lines = append(lines, fit(line, width))
	}
	return lines[:min(len(lines), 3)]
}

// state is the large line: what is open now and for how long.
func (m *Machine) state(f folded, at time.Duration) string {
	o := f.focus()
	if o == nil {
		if m.mode == paused {
			return "P A U S E"
		}
		if !m.Ready() {
			return fmt.Sprintf("%s first; then the clock starts", plural(len(m.ask), "answer"))
		}
		return "NO CUE OPEN"
	}
	s := strings.Join(strings.Split(strings.ToUpper(o.cue.Name), ""), " ")
	switch {
	case o.cue.Kind != training.Response:
		s += "   " + seconds(at-o.opened) + breaks(o.breaks)
		if o.cue.Kind == training.Holding && o.cue.Target.Known {
			s += " of " + seconds(time.Duration(o.cue.Target.V*float64(time.Second)))
		}
	default:
		s += "   " + seconds(at-o.asked)
		if o.asks > 1 {
			s += fmt.Sprintf(", ask %d", o.asks)
		}
	}
	if o.begun {
		s += ", began"
	}
	if said := o.lastMark(); said != "" && o.last != broke {
		s += ", " + said
	}
	return s
}

// keys lists the keys that mean something now, in as few lines as they need.
func (m *Machine) keys(f folded, width int) []string {
	var list []string
	prompt := ""
	switch m.mode {
	case correcting:
		prompt = "CORRECTION"
		list = []string{"l leash", "v verbal"}
		if m.noLevel() == "" {
			list = append(list, "digits: level, then Enter")
		}
		list = append(list, "Esc none")
	case levelling:
		prompt = "LEVEL " + string(m.entry) + "_"
		list = []string{"Enter takes it", "Backspace", "Esc none"}
	case early:
		prompt = "EARLY: before which cue?"
		list = append(m.cueKeys(), "Esc none")
	case choosing:
		prompt = "CHANGE"
		list = []string{"h handler", "p place", "l leash", "d distraction", "c collar", "Esc nothing"}
	case picking:
		prompt = strings.ToUpper(m.field)
		for i := m.page * perPage; i < min(len(m.choices), m.page*perPage+perPage); i++ {
			n := i - m.page*perPage + 1
			if m.field == "distraction" {
				n--
				list = append(list, []string{"0 none, familiar", "1 mild", "2 people, calm dogs 10 m off", "3 moving, close, food", "4 this dog's hardest"}[i])
				continue
			}
			list = append(list, fmt.Sprintf("%d %s", n, m.choices[i]))
		}
		if len(m.choices) > perPage {
			list = append(list, "0 more")
		}
		switch {
		case m.Ready():
			list = append(list, "Esc nothing")
		case m.field == "leash" || m.field == "distraction":
			list = append(list, "Enter: not said")
		}
	case writing:
		text := string(m.entry)
		head := strings.ToUpper(m.field) + ": "
		// Show the end of a long text.
		for cells(head+text+"_") > width && text != "" {
			text = text[len(string([]rune(text)[:1])):]
		}
		return []string{head + text + "_", "Enter keeps it, Esc drops it"}
	case parting:
		prompt = strings.ToUpper(m.given.Name) + " GIVEN: how did " + f.open.cue.Name + " end?"
		list = []string{"r released", "q not seen", "Esc not given after all"}
	case paused:
		list = []string{"p go on"}
	case ending:
		prompt = fmt.Sprintf("FINISH: %s", plural(f.trials, "trial"))
		list = []string{"f log it now", "k keep for later", "b go back"}
	default:
		o := f.focus()
		switch {
		case o == nil:
			list = append(m.cueKeys(), "e early", "p pause")
		case o.cue.Kind == training.Response:
			list = append([]string{"y yes", "n no", "w wrong", "s began"}, "g gave up", "c correction", "h help", "a already", "q not seen")
			list = append(list, m.cueKeys()...)
		default:
			list = []string{"r release", "n broke"}
			if o.cue.Kind == training.Holding && !o.taken {
				list = append(list, "y in position")
			}
			list = append(list, "c correction", "h help", "q not seen")
			list = append(list, m.cueKeys()...)
			list = append(list, "p pause")
		}
		list = append(list, "u undo", "o change", "t remark", "i incident", "f finish")
	}
	lines := flow(list, width)
	if prompt != "" {
		lines = append([]string{prompt}, lines...)
	}
	return lines
}

func plural(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

func (m *Machine) cueKeys() []string {
	var list []string
	for i := m.page * perPage; i < min(len(m.cues), m.page*perPage+perPage); i++ {
		list = append(list, fmt.Sprintf("%d %s", i-m.page*perPage+1, m.cues[i].Name))
	}
	if len(m.cues) > perPage {
		list = append(list, "0 more cues")
	}
	return list
}

// flow sets items into lines, two blanks apart.
func flow(items []string, width int) []string {
	var lines []string
	line := ""
	for _, it := range items {
		switch {
		case line == "":
			line = it
		case cells(line)+2+cells(it) <= width:
			line += "  " + it
		default:
			lines = append(lines, fit(line, width))
			line = it
		}
	}
	return append(lines, fit(line, width))
}

// spread sets one text at the left and one at the right end of a line; the left
// one gives way.
func spread(left, right string, width int) string {
	left = fit(left, max(width-cells(right)-1, 0))
	return left + strings.Repeat(" ", max(width-cells(left)-cells(right), 0)) + right
}

// fit cuts a text to a width and takes out what a terminal would act on.
func fit(s string, width int) string {
	s = strings.Map(func(r rune) rune {
		if unicode.IsControl(r) || unicode.In(r, unicode.Cf) {
			return -1
		}
		return r
	}, s)
	if cells(s) <= width {
		return s
	}
	out, w := "", 0
	for _, r := range s {
		if w += cells(string(r)); w > width-1 {
			break
		}
		out += string(r)
	}
	return out + "~"
}

// cells is the number of columns a text takes.
func cells(s string) int { return displaywidth.String(s) }
