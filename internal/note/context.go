package note

import (
	"slices"
	"strconv"
	"strings"

	"firstcue/internal/training"
)

// context is what context lines have said so far.
type context struct {
	dog         training.Dog
	handler     string
	scorer      string
	start       Moment
	part        int // as written; 0 = not
	place       string
	leash       training.Leash
	distraction training.Num
	device      string
	deviceDog   string // the dog in force when device was set
	level       training.Num
	levelDog    string
	levelDay    training.Day // the day in force when level was set
	levelLine   line         // where level was written
	levelFrom   int
	levelTo     int
	baseline    bool
	source      training.Source
	weather     string
	reward      string

	// Of one session only:
	worn     []training.Worn
	skin     string
	links    []training.Link
	repeated training.Num
	late     training.Num
}

// cared reports that something is said about the dog's care or its owner, which
// is worth a session by itself.
func (c context) cared() bool {
	return len(c.worn) > 0 || c.skin != "" || len(c.links) > 0 || c.repeated.Known || c.late.Known
}

// alone drops what belongs to one session only.
func (c *context) alone() {
	c.worn, c.skin, c.links, c.repeated, c.late = nil, "", nil, training.Num{}, training.Num{}
}

// lines writes the context as context lines, several keys to a line, leaving
// out those in skip.
func (c context) lines(skip map[string]bool) string {
	var rows []string
	var row []string
	flush := func() {
		if len(row) > 0 {
			rows = append(rows, strings.Join(row, "; "))
			row = nil
		}
	}
	for _, key := range keys {
		k := key.name
		if k == "start" || k == "device" || k == "source" || k == "collar" {
			flush()
		}
		if k == "link" && !skip[k] {
			for _, x := range c.links {
				flush()
				row = append(row, "link: "+linkText(x))
				flush()
			}
			continue
		}
		if v := c.value(k); v != "" && !skip[k] {
			row = append(row, k+": "+v)
		}
	}
	flush()
	return strings.Join(rows, "\n")
}

// number writes a number without a needless fraction.
func number(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// context reads a context line. A new dog or start begins a new session; a new
// handler, place, leash and so on a new part of it, once it has trials.
func (p *parser) context(l line, i int) {
	all := p.pairs(l, i)
	seen := map[string]bool{}
	var todo []pair
	for _, pr := range all {
		k := keyNamed(pr.key)
		if k == nil {
			x := say("unknown-key", "w", l.as(pr.from, pr.from+len(pr.key)), "keys", strings.Join(keyNames(), ", "))
			x.Near = Nearest(pr.key, append(keyNames(), "trainer", "location"))
			p.report(x, l, pr.from, pr.from+len(pr.key))
			continue
		}
		pr.key = k.name
		switch {
		case seen[pr.key] && pr.key != "link":
			p.problem(l, pr.from, pr.from+len(pr.key), "key-twice", "key", pr.key)
		case pr.value == "" && !k.empty:
			p.problem(l, pr.from, pr.mid, "no-value", "key", pr.key, "example", keyExample(pr.key))
			p.failed[pr.key] = true
		default:
			seen[pr.key] = true
			todo = append(todo, pr)
		}
	}
	// The dog and the start decide what the other keys mean: they come first.
	slices.SortStableFunc(todo, func(a, b pair) int { return rank(a.key) - rank(b.key) })
	next := p.ctx
	ownStart := p.ownStart || seen["start"]
	fresh := seen["dog"] && (p.hasTrials() || (p.hasRemarks() || p.ctx.cared()) && p.own["dog"]) ||
		seen["start"] && !seen["dog"] && (p.hasTrials() || (p.hasRemarks() || p.ctx.cared()) && !p.ctx.start.Time.IsZero())
	if fresh {
		next.part, next.baseline = 0, false
		next.alone()
		if seen["dog"] {
			next.start = Moment{}
		}
		ownStart = seen["start"]
	}
	for _, pr := range todo {
		before, device := next.dog.Name, p.deviceOf(next)
		p.set(&next, l, pr)
		if pr.key == "device" && p.deviceOf(next) != device && !seen["level"] && (fresh || p.hasTrials() || !p.own["level"]) {
			next.level, next.levelDog, next.levelDay = training.Num{}, "", 0 // a level belongs to its device
		}
		if pr.key == "dog" && next.dog.Name != before {
			next.otherDog(ownStart, p.own["device"] && !fresh, p.own["level"] && !fresh)
		}
		if pr.key == "start" && (fresh || !p.own["level"]) && next.levelDay != 0 && !next.start.Time.IsZero() && training.DayOf(next.start.Time) != next.levelDay {
			next.level, next.levelDog, next.levelDay = training.Num{}, "", 0
		}
	}
	part := !fresh && p.hasTrials() && p.changes(next)
	if part {
		p.partCare(&next, seen)
	}
	if fresh || part {
		p.finish()
		p.begin(l.no)
	}
	switch {
	case fresh:
		p.clock = -1
		p.ownStart = ownStart
		if !seen["start"] {
			p.failed["start"] = false
		}
	case part && !seen["part"]:
		next.part = 0
	}
	p.ownStart = p.ownStart || seen["start"]
	p.ctx = next
	for k := range seen {
		p.own[k] = true
	}
}

// otherDog drops what does not carry over to another dog: the collar and its
// level, and a start, unless this session's own lines gave them.
func (c *context) otherDog(ownStart, ownDevice, ownLevel bool) {
	if !ownStart {
		c.start = Moment{}
	}
	if !ownDevice && c.deviceDog != "" && c.deviceDog != c.dog.Name {
		c.device, c.deviceDog = "", ""
	}
	if !ownLevel && c.levelDog != "" && c.levelDog != c.dog.Name {
		c.level, c.levelDog, c.levelDay = training.Num{}, "", 0
	}
}

// partCare takes from a new part what the part before it had of one session only.
func (p *parser) partCare(next *context, seen map[string]bool) {
	was := *next
	next.alone()
	if seen["collar"] {
		next.worn = was.worn
	}
	if seen["skin"] {
		next.skin = was.skin
	}
	if seen["link"] {
		next.links = was.links[len(p.ctx.links):]
	}
	if seen["owner"] {
		next.repeated, next.late = was.repeated, was.late
	}
}

func rank(key string) int {
	switch key {
	case "dog":
		return 0
	case "start":
		return 1
	case "device":
		return 2
	}
	return 3
}

// changes reports whether the context differs in something a session has only
// one of. What was not said before may be filled in afterwards, except for
// leash and distraction: they describe each trial.
func (p *parser) changes(next context) bool {
	c := p.ctx
	differs := func(a, b string) bool { return a != "" && a != b }
	return c.handler != next.handler || c.place != next.place || c.leash != next.leash ||
		c.distraction != next.distraction || next.part != c.part && next.part != 0 || differs(p.deviceOf(c), p.deviceOf(next)) ||
		differs(c.scorer, next.scorer) || differs(string(c.source), string(next.source)) ||
		differs(c.weather, next.weather) || differs(c.reward, next.reward) || c.baseline && !next.baseline
}

// deviceOf is the device in force: the note's, else the dog's usual one.
func (p *parser) deviceOf(c context) string {
	if c.device != "" || c.dog.Device == "" {
		return c.device
	}
	if d, ok := p.k.Device(c.dog.Device); ok {
		return d.Name
	}
	return c.dog.Device
}
