package live

import (
	"fmt"
	"slices"
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
	if !m.Ready() {
		f.context, at = m.context, 0
	}
	rule := strings.Repeat("-", width)
	top, keys, foot := append(m.top(f, at, width), rule), m.keys(f, width), wrap(m.message, width)
	fixed := len(top) + len(keys)
	roomy := height >= fixed+9
	lines := top
	blank := func() {
		if roomy {
			lines = append(lines, "")
		}
	}
	blank()
	if big := large(m.word(f), width); big != nil && m.Ready() && height >= fixed+letterRows+12 {
		lines = append(append(lines, big...), "")
	}
	lines = append(lines, fit(m.state(f, at), width))
	blank()
	if height >= fixed+4 {
		lines = append(lines, fit(m.before(f, at), width))
	}
	lines = append(lines, rule)
	// What was noted last, when there is room.
	spare := height - len(lines) - len(keys) - 2 - max(len(foot), 1)
	if roomy && spare > 0 && len(m.events) > 0 {
		for _, e := range m.events[max(0, len(m.events)-min(spare, 8)):] {
			lines = append(lines, fit("  "+e.line(), width))
		}
		lines = append(lines, rule)
	}
	lines = append(lines, keys...)
	room := max(height-max(len(foot), 1), 0) // what is said last gives way to nothing
	lines = lines[:min(len(lines), room)]
	if len(foot) == 0 {
		foot = []string{""}
	}
	return append(lines, foot[:min(len(foot), height)]...)
}

// top says whose session it is, and where and how it is held.
func (m *Machine) top(f folded, at time.Duration, width int) []string {
	clock := Clock(at)
	if m.mode == paused {
		clock = "PAUSED " + clock
	}
	var about []string
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
	who := strings.TrimSuffix(m.dog.Name+", "+f.context["handler"], ", ")
	return []string{spread(who, clock, width), fit(strings.Join(about, ", "), width)}
}

// word is what stands in large letters.
func (m *Machine) word(f folded) string {
	switch {
	case f.focus() != nil:
		return f.focus().cue.Name
	case m.mode == paused:
		return "PAUSE"
	}
	return "NO CUE"
}

// before is the walk that goes on meanwhile, or how the last trial ended.
func (m *Machine) before(f folded, at time.Duration) string {
	switch {
	case f.open != nil && f.walk != nil:
		return fmt.Sprintf("in %s: %s%s", f.walk.cue.Name, seconds(at-f.walk.opened), breaks(f.walk.breaks))
	case f.focus() != nil && f.trials == 1 || !m.Ready():
		return ""
	case f.last == "":
		return fmt.Sprintf("%d trials", f.trials)
	}
	return fmt.Sprintf("%d: %s", f.trials, f.last)
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
			return fmt.Sprintf("%s first; then the clock starts", plural(len(m.toAsk), "answer"))
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
	if mark := o.lastMark(); mark != "" && (o.is(training.Response) || !o.lastly(no)) {
		s += ", " + mark
	}
	return s
}

// keys lists the keys that mean something now, in as few lines as they need.
func (m *Machine) keys(f folded, width int) []string {
	prompt, list := "", []string(nil)
	switch m.mode {
	case correcting:
		prompt, list = "CORRECTION", []string{"l leash", "v verbal"}
		if m.noLevel() == "" {
			list = append(list, "digits: level, then Enter")
		}
		list = append(list, "Esc none")
	case levelling:
		prompt, list = "LEVEL "+string(m.entry)+"_", []string{"Enter takes it", "Backspace", "Esc none"}
	case beforeCue:
		prompt, list = "EARLY: before which cue?", append(m.cueKeys(), "Esc none")
	case choosing:
		prompt, list = "CHANGE", []string{"h handler", "p place", "l leash", "d distraction", "c collar",
			"Esc nothing"}
	case picking:
		prompt, list = strings.ToUpper(m.field), m.pickKeys()
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
		prompt, list = "FINISH: "+plural(f.trials, "trial"), []string{"f log it now", "k keep for later",
			"b go back"}
	default:
		list = append(m.trialKeys(f.focus()), "u undo", "o change", "t remark", "i incident", "f finish")
	}
	lines := flow(list, width)
	if prompt != "" {
		lines = append([]string{prompt}, lines...)
	}
	return lines
}

// trialKeys are the keys for the trial that is going on.
func (m *Machine) trialKeys(o *open) []string {
	switch {
	case o == nil:
		return append(m.cueKeys(), "e early", "p pause")
	case o.is(training.Response):
		return append([]string{"y yes", "n no", "w wrong", "s began", "g gave up", "c correction", "h help",
			"a already", "q not seen"}, m.cueKeys()...)
	}
	list := []string{"r release", "n broke"}
	if o.is(training.Holding) && !o.taken {
		list = append(list, "y in position")
	}
	list = append(list, "c correction", "h help", "q not seen")
	return append(append(list, m.cueKeys()...), "p pause")
}

var distractions = []string{"0 none, familiar", "1 mild", "2 people, calm dogs 10 m off",
	"3 moving, close, food", "4 this dog's hardest"}

func (m *Machine) pickKeys() (list []string) {
	if m.field == "distraction" {
		list = slices.Clone(distractions)
	} else {
		list = numbered(m.choices, m.page, func(s string) string { return s })
	}
	if len(m.choices) > perPage {
		list = append(list, "0 more")
	}
	switch {
	case m.Ready():
		list = append(list, "Esc nothing")
	case m.optional():
		list = append(list, "Enter: not said")
	}
	return list
}

func (m *Machine) cueKeys() []string {
	list := numbered(m.cues, m.page, func(c training.Cue) string { return c.Name })
	if len(m.cues) > perPage {
		list = append(list, "0 more cues")
	}
	return list
}

// numbered is a page of names behind their digits.
func numbered[T any](all []T, page int, name func(T) string) (list []string) {
	for i, x := range all[page*perPage : min(len(all), (page+1)*perPage)] {
		list = append(list, fmt.Sprintf("%d %s", i+1, name(x)))
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
