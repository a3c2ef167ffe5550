package note

import (
	"slices"
	"strings"

	"firstcue/internal/training"
)

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
			p.problem(l, pr.mid, pr.to, "name-several", "w", v, "kind", kind, "which", strings.Join(which, "; "))
			return -1, ""
		}
	}
	name := strings.Join(strings.Fields(undecorated(pr.value)), " ")
	var list []string
	for _, e := range names {
		list = append(list, e.name)
	}
	if p.o.AllowNew && name != "" && odd(name) {
		p.problem(l, pr.mid, pr.to, "name-odd", "w", pr.value, "kind", kind)
		return -1, ""
	}
	if p.o.AllowNew && name != "" {
		if close := slips(name, list); len(close) > 0 {
			x := say("name-close", "kind", kind, "w", pr.value)
			x.Near = close
			p.report(x, l, pr.mid, pr.to)
			return -1, ""
		}
		p.isNew(Name{Kind: kind, Name: name})
		return -1, name
	}
	it := "it"
	if kind == "handler" {
		it = "the name" // a person is not an it
	}
	x := say("name-unknown", "kind", kind, "w", pr.value, "it", it, "command", p.o.command())
	x.Near = Nearest(name, list)
	p.report(x, l, pr.mid, pr.to)
	return -1, ""
}

// odd reports a name that is too long, or reads like marks, for a new one.
func odd(name string) bool {
	if len(strings.Fields(name)) > 3 || len(name) > 100 || strings.ContainsAny(name, "+@/>,:;=#?!") {
		return true
	}
	for _, w := range strings.Fields(strings.ToLower(name)) {
		if _, isMark := forms[w]; isMark && strings.ContainsAny(name, "0123456789") || w == "-" {
			return true
		}
	}
	return false
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
