package note

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"firstcue/internal/training"
)

// key is one key of context lines.
type key struct {
	name    string
	also    string // another word for it
	example string
	empty   bool                   // an empty value takes it back
	value   func(c context) string // as the note would write it, "" = not in force
	set     func(*parser, *context, line, pair)
}

// keys are the keys of context lines, in the order in which Format writes them.
var keys []key

func init() {
	keys = []key{
		{name: "dog", value: func(c context) string { return c.dog.Name }, set: setDog},
		{name: "handler", also: "trainer", value: func(c context) string { return c.handler }, set: setHandler},
		{name: "scorer", empty: true, value: func(c context) string { return c.scorer }, set: setHandler},
		{name: "start", example: "start: 2026-03-04 9:10, start: today 9:10 or start: yesterday 17:00", set: setStart, value: func(c context) string {
			if c.start.Time.IsZero() {
				return ""
			}
			return formatStart(c.start.Time, c.start.Zone)
		}},
		{name: "part", example: "part: 2", set: setPart, value: func(c context) string {
			if c.part > 1 {
				return strconv.Itoa(c.part)
			}
			return ""
		}},
		{name: "place", also: "location", value: func(c context) string { return c.place }, set: setPlace},
		{name: "leash", example: "leash: leash, leash: long line, leash: drag line or leash: off", set: setLeash,
			value: func(c context) string { return string(c.leash) }},
		{name: "distraction", example: "distraction: 0 to 4", set: setDistraction, value: func(c context) string { return known(c.distraction) }},
		{name: "device", value: func(c context) string { return c.device }, set: setDevice},
		{name: "level", example: "level: 7, the dial position", set: setLevel, value: func(c context) string { return known(c.level) }},
		{name: "baseline", example: "baseline: yes", set: setBaseline, value: func(c context) string {
			if c.baseline {
				return "yes"
			}
			return ""
		}},
		{name: "source", example: "source: live, source: video or source: memory", set: setSource, value: func(c context) string {
			if c.source == training.Memory {
				return ""
			}
			return string(c.source)
		}},
		{name: "weather", empty: true, value: func(c context) string { return c.weather },
			set: func(_ *parser, c *context, _ line, pr pair) { c.weather = pr.typedValue }},
		{name: "reward", empty: true, value: func(c context) string { return c.reward },
			set: func(_ *parser, c *context, _ line, pr pair) { c.reward = pr.typedValue }},
		{name: "collar", example: "collar: on 8:00, off 12:10", set: setCollar, value: func(c context) string { return wornText(c.worn) }},
		{name: "skin", example: "skin: fine", value: func(c context) string { return c.skin },
			set: func(_ *parser, c *context, _ line, pr pair) { c.skin = pr.typedValue }},
		{name: "owner", example: "owner: repeated 3, late 1", set: setOwner, value: ownerText},
		{name: "link", example: "link: ADDRESS, or link: ADDRESS for owner", set: setLink, value: func(context) string { return "" }},
		{name: "cues", example: "cues: wave, spin", value: func(context) string { return "" },
			set: func(p *parser, _ *context, l line, pr pair) { p.declare(l, pr) }},
	}
}

func keyNamed(name string) *key {
	if name == "" {
		return nil
	}
	for i := range keys {
		if keys[i].name == name || keys[i].also == name {
			return &keys[i]
		}
	}
	return nil
}

func keyNames() (names []string) {
	for _, k := range keys {
		names = append(names, k.name)
	}
	return names
}

func keyExample(name string) string {
	if k := keyNamed(name); k != nil && k.example != "" {
		return k.example
	}
	return name + ": NAME"
}

// value is the context as the note would write it, "" for a key not in force.
func (c context) value(name string) string { return keyNamed(name).value(c) }

// set puts one pair into the context, or reports why it cannot and remembers
// that the key was at least tried.
func (p *parser) set(c *context, l line, pr pair) {
	n := len(p.res.Problems)
	keyNamed(pr.key).set(p, c, l, pr)
	p.failed[pr.key] = len(p.res.Problems) > n
}

func plain(pr pair) string { return strings.TrimRight(strings.ToLower(pr.value), " .!,") }

func (p *parser) badValue(l line, pr pair, what string, near ...string) {
	x := say("bad-value", "w", pr.value, "what", what, "example", keyExample(pr.key))
	x.Near = Nearest(plain(pr), near)
	p.report(x, l, pr.mid, pr.to)
}

func setDog(p *parser, c *context, l line, pr pair) {
	if d, ok := choose(p, l, pr, "dog", &p.k.Dogs, func(d training.Dog) (string, []string) { return d.Name, d.Aliases },
		func(name string) training.Dog { return training.Dog{Name: name} }); ok {
		c.dog = d
	}
}

func setHandler(p *parser, c *context, l line, pr pair) {
	if pr.value == "" {
		c.scorer = ""
		return
	}
	h, ok := choose(p, l, pr, "handler", &p.k.Handlers, func(h training.Handler) (string, []string) { return h.Name, h.Aliases },
		func(name string) training.Handler { return training.Handler{Name: name} })
	if ok && pr.key == "handler" {
		c.handler = h.Name
	} else if ok {
		c.scorer = h.Name
	}
}

func setPlace(p *parser, c *context, l line, pr pair) {
	if _, isPlace := p.k.Place(pr.value); !isPlace && strings.ContainsFunc(pr.value, unicode.IsDigit) {
		if cue, ok := p.k.Cue(pr.key); ok {
			quiet := func(int, int, Problem) {}
			s := &syntax{text: []rune(pr.value), typd: func(a, b int) string { return "" }, cue: cue, fail: quiet}
			s.toks = lex(s.text, 0, quiet)
			if items := s.items(); len(items) > 0 {
				p.problem(l, pr.mid, pr.to, "cue-colon", "w", pr.value, "cue", pr.key)
				return
			}
		}
	}
	if x, ok := choose(p, l, pr, "place", &p.k.Places, func(x training.Place) (string, []string) { return x.Name, x.Aliases },
		func(name string) training.Place { return training.Place{Name: name} }); ok {
		c.place = x.Name
	}
}

func setDevice(p *parser, c *context, l line, pr pair) {
	if d, ok := choose(p, l, pr, "device", &p.k.Devices, func(d training.Device) (string, []string) { return d.Name, d.Aliases },
		func(name string) training.Device { return training.Device{Name: name} }); ok {
		c.device = d.Name
	}
	if c.dog.RewardOnly {
		p.problem(l, pr.mid, pr.to, "no-collar", "dog", c.dog.Name)
	}
	c.deviceDog = c.dog.Name
}

func setStart(p *parser, c *context, l line, pr pair) {
	m, err := readStart(pr.value, p.o.Written)
	if err != nil {
		m, err = readStart(strings.TrimRight(pr.value, " .!,"), p.o.Written)
	}
	switch {
	case err != nil:
		want := ""
		if !strings.Contains(err.Error(), ": write ") && !strings.Contains(err.Error(), "in the future") {
			want = "write " + keyExample("start")
		}
		p.problem(l, pr.mid, pr.to, "start", "err", err.Error(), "want", want)
		return
	case m.Time.After(p.o.Now) && !p.o.Now.IsZero():
		p.problem(l, pr.mid, pr.to, "future", "at", m.Time.Format("2006-01-02 15:04"), "now", p.o.Now.In(m.Time.Location()).Format("2006-01-02 15:04"))
		return
	case m.Time.Year() < 1990:
		p.problem(l, pr.mid, pr.to, "long-ago", "day", m.Time.Format("2006-01-02"))
		return
	case m.Warning != "":
		p.warn(l, pr.mid, pr.to, "clock-twice", "err", m.Warning)
	case m.NoTime:
		p.warn(l, pr.mid, pr.to, "day-only", "day", m.Time.Format("2006-01-02"))
	}
	p.res.Relative = p.res.Relative || m.Relative
	c.start = m
}

func setPart(p *parser, c *context, l line, pr pair) {
	n, err := strconv.Atoi(plain(pr))
	if err != nil || n < 1 || n > 999 {
		p.problem(l, pr.mid, pr.to, "part", "w", pr.value)
		return
	}
	c.part = n
}

var leashWords = map[string]training.Leash{"on": "leash", "on leash": "leash", "on lead": "leash", "lead": "leash", "line": "long line", "longline": "long line",
	"long-line": "long line", "long lead": "long line", "drag-line": "drag line", "dragline": "drag line", "off leash": "off", "off-leash": "off", "off lead": "off", "on-leash": "leash"}

func setLeash(p *parser, c *context, l line, pr pair) {
	v := training.Leash(strings.Join(strings.Fields(plain(pr)), " "))
	if w, ok := leashWords[string(v)]; ok {
		v = w
	}
	if !slices.Contains(training.Leashes, v) {
		p.badValue(l, pr, "leash state", "leash", "long line", "drag line", "off", "on leash", "off leash")
		return
	}
	c.leash = v
}

func setDistraction(p *parser, c *context, l line, pr pair) {
	n := -1
	if v, ok := numberWords[plain(pr)]; ok {
		n = v
	} else if s := plain(pr); len(s) == 1 && asciiDigit(rune(s[0])) {
		n = int(s[0] - '0')
	}
	if n < 0 || n > 4 {
		p.problem(l, pr.mid, pr.to, "distraction", "w", pr.value)
		return
	}
	c.distraction = training.Known(float64(n))
}

func setLevel(p *parser, c *context, l line, pr pair) {
	toks := lex([]rune(plain(pr)), 0, func(_, _ int, x Problem) { p.report(x, l, pr.mid, pr.to) })
	if len(toks) != 1 || toks[0].kind != tNum {
		if len(toks) == 0 || toks[0].kind != tBad {
			p.badValue(l, pr, "number")
		}
		return
	}
	v := toks[0].v
	c.levelDog, c.levelDay = c.dog.Name, 0
	if !c.start.Time.IsZero() {
		c.levelDay = training.DayOf(c.start.Time)
	}
	c.level = training.Known(v)
	c.levelLine, c.levelFrom, c.levelTo = l, pr.mid, pr.to
	if p.hasTrials() { // else when its dog and device are certain
		p.checkLevel(*c, v, l, pr.mid, pr.to)
	}
}

func setBaseline(p *parser, c *context, l line, pr pair) {
	switch plain(pr) {
	case "yes", "no":
		c.baseline = plain(pr) == "yes"
	default:
		p.badValue(l, pr, "yes or a no")
	}
}

func setSource(p *parser, c *context, l line, pr pair) {
	if !slices.Contains(training.Sources, training.Source(plain(pr))) {
		p.badValue(l, pr, "source", "live", "video", "memory")
		return
	}
	c.source = training.Source(plain(pr))
}

// setCollar reads spans: on 8:00, off 12:10, on 14:00, off 15:00.
func setCollar(p *parser, c *context, l line, pr pair) {
	var worn []training.Worn
	on, good := -1, true
	for _, part := range strings.Split(plain(pr), ",") {
		word, clock, _ := strings.Cut(strings.TrimSpace(part), " ")
		h, m, sec, err := readClock(strings.TrimSpace(clock))
		at := h*60 + m
		switch {
		case err != nil || sec != 0:
			good = false
		case word == "on" && on < 0:
			on = at
		case word == "off" && on >= 0 && at > on:
			worn = append(worn, training.Worn{On: on, Off: at})
			on = -1
		default:
			good = false
		}
	}
	if !good || on >= 0 || len(worn) == 0 {
		p.problem(l, pr.mid, pr.to, "collar-worn", "w", pr.value)
		return
	}
	if c.dog.RewardOnly {
		p.problem(l, pr.mid, pr.to, "no-collar", "dog", c.dog.Name)
	}
	c.worn = worn
}

func wornText(worn []training.Worn) string {
	var parts []string
	for _, w := range worn {
		parts = append(parts, fmt.Sprintf("on %d:%02d, off %d:%02d", w.On/60, w.On%60, w.Off/60, w.Off%60))
	}
	return strings.Join(parts, ", ")
}

// setOwner reads how often the owner repeated a cue and was late.
func setOwner(p *parser, c *context, l line, pr pair) {
	repeated, late := c.repeated, c.late
	for _, part := range strings.Split(plain(pr), ",") {
		f := strings.Fields(part)
		n, err := 0, error(nil)
		if len(f) == 2 {
			if v, ok := numberWords[f[1]]; ok {
				n = v
			} else {
				n, err = strconv.Atoi(f[1])
			}
		}
		switch {
		case len(f) != 2 || err != nil || n < 0 || n > 1000:
			p.problem(l, pr.mid, pr.to, "owner-score", "w", pr.value)
			return
		case f[0] == "repeated":
			repeated = training.Known(float64(n))
		case f[0] == "late":
			late = training.Known(float64(n))
		default:
			p.problem(l, pr.mid, pr.to, "owner-score", "w", pr.value)
			return
		}
	}
	c.repeated, c.late = repeated, late
}

func ownerText(c context) string {
	var parts []string
	if c.repeated.Known {
		parts = append(parts, "repeated "+number(c.repeated.V))
	}
	if c.late.Known {
		parts = append(parts, "late "+number(c.late.V))
	}
	return strings.Join(parts, ", ")
}

func setLink(p *parser, c *context, l line, pr pair) {
	address, owner := strings.CutSuffix(pr.typedValue, " for owner")
	address = strings.TrimSpace(address)
	if address == "" || strings.Contains(address, " ") {
		p.badValue(l, pr, "single address")
		return
	}
	c.links = append(slices.Clip(c.links), training.Link{Address: address, Owner: owner})
}

func linkText(x training.Link) string {
	if x.Owner {
		return x.Address + " for owner"
	}
	return x.Address
}
