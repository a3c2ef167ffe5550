package note

import (
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"firstcue/internal/training"
)

// keys are the keys of context lines, in the order in which Format writes them.
var keys = []string{"dog", "handler", "scorer", "start", "part", "place", "leash", "distraction",
	"device", "level", "baseline", "source", "weather", "reward"}

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
}

// value is the context as the note would write it, "" for a key not in force.
func (c context) value(key string) string {
	switch key {
	case "dog":
		return c.dog.Name
	case "handler":
		return c.handler
	case "scorer":
		return c.scorer
	case "start":
		if !c.start.Time.IsZero() {
			return formatStart(c.start.Time, c.start.Zone)
		}
	case "part":
		if c.part > 1 {
			return strconv.Itoa(c.part)
		}
	case "place":
		return c.place
	case "leash":
		return string(c.leash)
	case "distraction":
		if c.distraction.Known {
			return number(c.distraction.V)
		}
	case "device":
		return c.device
	case "level":
		if c.level.Known {
			return number(c.level.V)
		}
	case "baseline":
		if c.baseline {
			return "yes"
		}
	case "source":
		if c.source != training.Memory {
			return string(c.source)
		}
	case "weather":
		return c.weather
	case "reward":
		return c.reward
	}
	return ""
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
	for _, k := range keys {
		if k == "start" || k == "device" || k == "source" {
			flush()
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

// pair is one key: value of a context line, with places in the cleaned line.
type pair struct {
	key        string
	from, mid  int // key, value
	to         int
	value      string // cleaned, trimmed
	typedValue string // as typed, trimmed
}

// contextKey reads a key and its colon at the head of text[i:]. mid is where
// the value begins.
func contextKey(text []rune, i int) (key string, from, mid int, ok bool) {
	for i < len(text) && text[i] == ' ' {
		i++
	}
	j := i
	for j < len(text) && (text[j] >= 'a' && text[j] <= 'z' || text[j] >= 'A' && text[j] <= 'Z') {
		j++
	}
	if j == i {
		return "", i, i, false
	}
	k := j
	for k < len(text) && text[k] == ' ' {
		k++
	}
	key = strings.ToLower(string(text[i:j]))
	switch {
	case k < len(text) && text[k] == ':':
		return key, i, k + 1, true
	case k > j && strings.HasPrefix(strings.ToLower(string(text[k:])), "colon ") && slices.Contains(keys, key):
		return key, i, k + len("colon "), true
	}
	return "", i, i, false
}

// pairs cuts a context line at its semicolons.
func (p *parser) pairs(l line, i int) []pair {
	var out []pair
	for i <= len(l.text) {
		end := i
		for end < len(l.text) && l.text[end] != ';' {
			end++
		}
		if strings.TrimSpace(string(l.text[i:end])) != "" {
			key, from, mid, ok := contextKey(l.text[:end], i)
			if !ok {
				for from = i; l.text[from] == ' '; from++ {
				}
				p.problem(l, from, end, fmt.Sprintf("%q has no key", strings.TrimSpace(string(l.text[from:end]))),
					"write key: value, several on a line with ; between, as in place: back field; leash: off")
			} else {
				for mid < end && l.text[mid] == ' ' {
					mid++
				}
				to := end
				for to > mid && l.text[to-1] == ' ' {
					to--
				}
				pr := pair{key: key, from: from, mid: mid, to: to, value: string(l.text[mid:to])}
				if to > mid {
					pr.typedValue = strings.TrimSpace(string(l.typed[l.from[mid]:l.to[to-1]]))
				}
				out = append(out, pr)
			}
		}
		i = end + 1
	}
	return out
}

// context reads a context line. A new dog or start begins a new session; a new
// handler, place, leash and so on a new part of it, once it has trials.
func (p *parser) context(l line, i int) {
	all := p.pairs(l, i)
	seen := map[string]bool{}
	var todo []pair
	for _, pr := range all {
		switch {
		case !slices.Contains(keys, pr.key):
			p.report(Problem{Message: fmt.Sprintf("%q is not a key of a context line", l.as(pr.from, pr.from+len(pr.key))),
				Want: "the keys are " + strings.Join(keys, ", "), Near: Nearest(pr.key, keys)}, l, pr.from, pr.from+len(pr.key))
		case seen[pr.key]:
			p.problem(l, pr.from, pr.from+len(pr.key), pr.key+" is given twice on this line", "keep one of them")
		case pr.value == "" && pr.key != "scorer" && pr.key != "weather" && pr.key != "reward":
			p.problem(l, pr.from, pr.mid, pr.key+" has no value", "write it as "+keyExample(pr.key))
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
	fresh := seen["dog"] && (p.hasTrials() || p.hasRemarks() && p.own["dog"]) ||
		seen["start"] && !seen["dog"] && (p.hasTrials() || p.hasRemarks() && !p.ctx.start.Time.IsZero())
	if fresh {
		next.part, next.baseline = 0, false
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

func keyExample(key string) string {
	switch key {
	case "start":
		return "start: 2026-03-04 9:10, start: today 9:10 or start: yesterday 17:00"
	case "leash":
		return "leash: leash, leash: long line, leash: drag line or leash: off"
	case "distraction":
		return "distraction: 0 to 4"
	case "level":
		return "level: 7, the dial position"
	case "source":
		return "source: live, source: video or source: memory"
	case "baseline":
		return "baseline: yes"
	case "part":
		return "part: 2"
	}
	return key + ": NAME"
}

// set puts one pair into the context, or reports why it cannot and remembers
// that the key was at least tried.
func (p *parser) set(c *context, l line, pr pair) {
	n := len(p.res.Problems)
	p.setKey(c, l, pr)
	p.failed[pr.key] = len(p.res.Problems) > n
}

func (p *parser) setKey(c *context, l line, pr pair) {
	bad := func(message, want string) { p.problem(l, pr.mid, pr.to, message, want) }
	plain := strings.TrimRight(strings.ToLower(pr.value), " .!,")
	switch pr.key {
	case "dog":
		if d, ok := choose(p, l, pr, "dog", &p.k.Dogs, func(d training.Dog) (string, []string) { return d.Name, d.Aliases },
			func(name string) training.Dog { return training.Dog{Name: name} }); ok {
			c.dog = d
		}
	case "handler", "scorer":
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
	case "place":
		if x, ok := choose(p, l, pr, "place", &p.k.Places, func(x training.Place) (string, []string) { return x.Name, x.Aliases },
			func(name string) training.Place { return training.Place{Name: name} }); ok {
			c.place = x.Name
		}
	case "device":
		if d, ok := choose(p, l, pr, "device", &p.k.Devices, func(d training.Device) (string, []string) { return d.Name, d.Aliases },
			func(name string) training.Device { return training.Device{Name: name} }); ok {
			c.device = d.Name
		}
		if c.dog.RewardOnly {
			bad(fmt.Sprintf("%s is trained without a collar", c.dog.Name), "leave device: out; `firstcue dog set` changes what the owner agreed to")
		}
		c.deviceDog = c.dog.Name
	case "start":
		m, err := ReadTime(pr.value, p.o.Written)
		if err != nil {
			m, err = ReadTime(strings.TrimRight(pr.value, " .!,"), p.o.Written)
		}
		if err != nil {
			want := ""
			if !strings.Contains(err.Error(), ": write ") && !strings.Contains(err.Error(), "in the future") {
				want = "write " + keyExample("start")
			}
			bad(err.Error(), want)
			return
		}
		if m.Time.After(p.o.Now) && !p.o.Now.IsZero() {
			bad(fmt.Sprintf("%s is in the future: it is %s now", m.Time.Format("2006-01-02 15:04"), p.o.Now.In(m.Time.Location()).Format("2006-01-02 15:04")), "check the date and the year")
			return
		}
		if m.Time.Year() < 1990 {
			bad(fmt.Sprintf("%s is too long ago", m.Time.Format("2006-01-02")), "check the year")
			return
		}
		if m.Warning != "" {
			p.warn(l, pr.mid, pr.to, m.Warning, "")
		}
		c.start = m
	case "part":
		n, err := strconv.Atoi(plain)
		if err != nil || n < 1 || n > 999 {
			bad(fmt.Sprintf("%q is not a part", pr.value), "part: is written by the program; leave it out")
			return
		}
		c.part = n
	case "leash":
		if plain == "line" || plain == "longline" {
			plain = "long line"
		}
		if !slices.Contains(training.Leashes, training.Leash(plain)) {
			p.report(Problem{Message: fmt.Sprintf("%q is not a leash state", pr.value), Want: "write " + keyExample("leash"),
				Near: Nearest(plain, []string{"leash", "long line", "drag line", "off"})}, l, pr.mid, pr.to)
			return
		}
		c.leash = training.Leash(plain)
	case "distraction":
		n := -1
		if v, ok := numberWords[plain]; ok {
			n = v
		} else if len(plain) == 1 && asciiDigit(rune(plain[0])) {
			n = int(plain[0] - '0')
		}
		if n < 0 || n > 4 {
			bad(fmt.Sprintf("%q is not a distraction code", pr.value),
				"write 0 (familiar, quiet), 1 (mild), 2 (people or calm dogs within 10 m), 3 (moving dogs or children close by, food on the ground) or 4 (this dog's hardest thing)")
			return
		}
		c.distraction = training.Known(float64(n))
	case "level":
		v, ok := p.plainNumber(l, pr, plain)
		if !ok {
			return
		}
		c.levelDog, c.levelDay = c.dog.Name, 0
		if !c.start.Time.IsZero() {
			c.levelDay = training.DayOf(c.start.Time)
		}
		c.level = training.Known(v)
		c.levelLine, c.levelFrom, c.levelTo = l, pr.mid, pr.to
		if p.hasTrials() { // else when its dog and device are certain
			p.checkLevel(*c, v, l, pr.mid, pr.to)
		}
	case "baseline":
		switch plain {
		case "yes":
			c.baseline = true
		case "no":
			c.baseline = false
		default:
			bad(fmt.Sprintf("%q is neither yes nor no", pr.value), "write baseline: yes for a session before any teaching")
		}
	case "source":
		if !slices.Contains(training.Sources, training.Source(plain)) {
			p.report(Problem{Message: fmt.Sprintf("%q is not a source", pr.value), Want: "write " + keyExample("source"),
				Near: Nearest(plain, []string{"live", "video", "memory"})}, l, pr.mid, pr.to)
			return
		}
		c.source = training.Source(plain)
	case "weather":
		c.weather = pr.typedValue
	case "reward":
		c.reward = pr.typedValue
	}
}

func (p *parser) plainNumber(l line, pr pair, plain string) (float64, bool) {
	if v, ok := numberWords[plain]; ok {
		return float64(v), true
	}
	ok := true
	if numberEnd([]rune(plain), 0) != len(plain) || plain == "" || !asciiDigit(rune(plain[0])) {
		p.problem(l, pr.mid, pr.to, fmt.Sprintf("%q is not a number", pr.value), "write "+keyExample(pr.key))
		return 0, false
	}
	t := readNumber(plain, func(message, want string) {
		p.problem(l, pr.mid, pr.to, message, want)
		ok = false
	})
	if ok && t.kind != tNum {
		p.problem(l, pr.mid, pr.to, fmt.Sprintf("%q is not a number", pr.value), "write "+keyExample(pr.key))
		ok = false
	}
	return t.v, ok
}

// entry is one name the kennel knows, with what it is an alias of.
type entry struct {
	name  string
	index int
}

// choose finds what the pair names in one of the kennel's lists, adding it when
// new names are allowed.
func choose[T any](p *parser, l line, pr pair, kind string, list *[]T, names func(T) (string, []string), add func(string) T) (T, bool) {
	var entries []entry
	for i, x := range *list {
		n, aliases := names(x)
		entries = append(entries, entry{n, i})
		for _, a := range aliases {
			entries = append(entries, entry{a, i})
		}
	}
	i, name := p.known(l, pr, kind, entries)
	switch {
	case i >= 0:
		return (*list)[i], true
	case name != "":
		x := add(name)
		*list = append(*list, x)
		return x, true
	}
	var none T
	return none, false
}

// nameKey is training.Key after the clean-ups a note gets, so that O'Brien is
// found whichever apostrophe the phone chose.
func nameKey(s string) string {
	text, _, _ := cleanRunes([]rune(s))
	return training.Key(string(text))
}

// known finds the name of a pair among the entries. It returns the index, or -1
// with the name to add when new names are allowed, or -1 and "" after
// reporting the problem.
func (p *parser) known(l line, pr pair, kind string, names []entry) (int, string) {
	for _, v := range []string{pr.value, undecorated(pr.value)} {
		var found []int
		for _, e := range names {
			if nameKey(e.name) == nameKey(v) && !slices.Contains(found, e.index) {
				found = append(found, e.index)
			}
		}
		if len(found) == 1 {
			return found[0], ""
		}
		if len(found) > 1 {
			var which []string
			for _, i := range found {
				which = append(which, p.describe(kind, i))
			}
			p.problem(l, pr.mid, pr.to, fmt.Sprintf("%q fits more than one %s: %s", v, kind, strings.Join(which, "; ")),
				"write the full name of the one you mean; two of one name need an alias each")
			return -1, ""
		}
	}
	name := strings.Join(strings.Fields(undecorated(pr.value)), " ")
	var list []string
	for _, e := range names {
		list = append(list, e.name)
	}
	if p.o.AllowNew && name != "" && len(name) <= 100 {
		if close := slips(name, list); len(close) > 0 {
			p.report(Problem{Message: fmt.Sprintf("no %s is called %q, and it is too close to a known name to be new", kind, pr.value),
				Want: fmt.Sprintf("if it is another, add it first with `firstcue %s add`", kind), Near: close}, l, pr.mid, pr.to)
			return -1, ""
		}
		p.isNew(Name{Kind: kind, Name: name})
		return -1, name
	}
	it := "it"
	if kind == "handler" {
		it = "the name" // a person is not an it
	}
	p.report(Problem{Message: fmt.Sprintf("no %s is called %q", kind, pr.value),
		Want: fmt.Sprintf("add %s with `firstcue %s add`, or %s with --new", it, kind, p.o.command()), Near: Nearest(name, list)}, l, pr.mid, pr.to)
	return -1, ""
}

// describe tells two of one name apart.
func (p *parser) describe(kind string, i int) string {
	switch kind {
	case "dog":
		d := p.k.Dogs[i]
		s := d.Name
		if n := len(d.Boardings); n > 0 {
			s += " (arrived " + d.Boardings[n-1].Arrived.String() + ")"
		}
		return s
	case "handler":
		return p.k.Handlers[i].Name
	case "place":
		return p.k.Places[i].Name
	}
	return p.k.Devices[i].Name
}

func undecorated(s string) string {
	return strings.TrimRightFunc(s, func(r rune) bool { return strings.ContainsRune(" .!,", r) || picture(r) })
}

// checkLevel reports every reason why a collar level cannot be right.
func (p *parser) checkLevel(c context, v float64, l line, from, to int) {
	name := c.dog.Name
	if c.dog.RewardOnly {
		p.problem(l, from, to, fmt.Sprintf("%s is trained without a collar: there is no level to write", name),
			"ask the owner first")
		return
	}
	if v == 0 {
		p.problem(l, from, to, "level 0 is not a correction", "leave it out if the collar was not used")
		return
	}
	if !c.start.Time.IsZero() {
		day := training.DayOf(c.start.Time)
		if c.dog.Born != 0 {
			if six := training.DayOf(c.dog.Born.Time(time.UTC).AddDate(0, 6, 0)); day < six {
				p.problem(l, from, to, fmt.Sprintf("%s is under six months old on %s, and makers' guides say not under 6 months", name, day),
					"leave the level out, or correct the day of birth with `firstcue dog set`")
			}
		}
		for _, h := range c.dog.Holds {
			if h.ForbidsCollar(day) {
				p.problem(l, from, to, fmt.Sprintf("no collar for %s on %s: vet hold %s", name, day, holdText(h)),
					"leave the level out; `firstcue dog hold` ends the hold when the vet says so")
			}
		}
	}
	dev := p.deviceOf(c)
	if dev == "" {
		if !p.failed["device"] {
			p.problem(l, from, to, "a level needs a device: the same number means something else on another collar", "add a line such as device: NAME above")
		}
		return
	}
	if d, ok := p.k.Device(dev); ok {
		if d.Lowest.Known && v < d.Lowest.V || d.Highest.Known && v > d.Highest.V {
			p.problem(l, from, to, fmt.Sprintf("%s has no level %s: its dial runs %s", d.Name, number(v), dial(d)), "check the number, or the device")
		}
	}
}

func dial(d training.Device) string {
	switch {
	case d.Lowest.Known && d.Highest.Known:
		return "from " + number(d.Lowest.V) + " to " + number(d.Highest.V)
	case d.Lowest.Known:
		return "from " + number(d.Lowest.V)
	}
	return "to " + number(d.Highest.V)
}

// holdText names a vet hold: reason and dates.
func holdText(h training.VetHold) string {
	s := "from " + h.From.String()
	if h.To != 0 {
		s += " to " + h.To.String()
	} else {
		s += ", still open"
	}
	if h.Reason != "" {
		s = h.Reason + " (" + s + ")"
	}
	return s
}
