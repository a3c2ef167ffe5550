package sheet

import (
	"slices"
	"strings"

	"firstcue/internal/note"
	"firstcue/internal/training"
)

// names are the kennel's lists, made quick to look into: a large file names them
// once a session. New ones are learnt as rows are taken.
type names struct {
	lists   map[Field]*list // of dogs, handlers, places, devices and cues
	dogs    map[string]training.Dog
	cues    map[string]training.Cue
	devices map[string]training.Device
	kennel  training.Kennel // the cues, for cells with a note's marks
}

// list is one list of names. Two entries of one name are refused.
type list struct {
	byKey map[string][]string
	all   []string // as they are written, aliases too
	slips note.Slips
}

func (l *list) add(name string, spellings ...string) {
	for _, s := range append([]string{name}, spellings...) {
		for _, key := range []string{training.Key(s), nameKey(s)} {
			if !slices.Contains(l.byKey[key], name) {
				l.byKey[key] = append(l.byKey[key], name)
			}
		}
		l.all = append(l.all, s)
	}
}

// find returns the names that what was said may stand for.
func (l *list) find(said string) []string {
	if found := l.byKey[training.Key(said)]; len(found) > 0 {
		return found
	}
	return l.byKey[nameKey(said)]
}

func newNames(k training.Kennel) names {
	n := names{lists: map[Field]*list{}, dogs: map[string]training.Dog{}, cues: map[string]training.Cue{},
		devices: map[string]training.Device{}}
	for _, f := range []Field{Dog, Handler, Place, Device, Cue} {
		n.lists[f] = &list{byKey: map[string][]string{}}
	}
	for _, d := range k.Dogs {
		n.lists[Dog].add(d.Name, d.Aliases...)
		n.dogs[d.Name] = d
	}
	for _, h := range k.Handlers {
		n.lists[Handler].add(h.Name, h.Aliases...)
	}
	for _, p := range k.Places {
		n.lists[Place].add(p.Name, p.Aliases...)
	}
	for _, d := range k.Devices {
		n.lists[Device].add(d.Name, d.Aliases...)
		n.devices[d.Name] = d
	}
	for _, c := range k.Cues {
		n.addCue(c)
	}
	for _, l := range n.lists {
		for _, s := range l.all {
			l.slips.Add(s)
		}
	}
	return n
}

func (n *names) addCue(c training.Cue) {
	if c.Kind == "" {
		c.Kind = training.Response
	}
	n.lists[Cue].add(c.Name, c.Aliases...)
	n.cues[c.Name] = c
	n.kennel.Cues = append(n.kennel.Cues, c)
}

// nameKey is training.Key with one apostrophe, so that O'Brien is found
// whichever one the phone chose, and without a mark behind the name.
func nameKey(s string) string {
	return strings.TrimRight(training.Key(apostrophes.Replace(s)), " .!,")
}

var apostrophes = strings.NewReplacer("’", "'", "‘", "'", "´", "'", "`", "'")

// kinds are what note.Name calls the entries of the lists.
var kinds = map[Field]string{Dog: "dog", Handler: "handler", Scorer: "handler", Place: "place", Device: "device", Cue: "cue"}

// name finds the kennel's name for what a cell says; isNew, that it is none yet
// and may become one.
func (x *reader) name(f Field, said string, more ...string) (name string, isNew bool, why *Problem) {
	kind := kinds[f]
	l := x.names.lists[Field(kind)]
	switch found := l.find(said); {
	case len(found) == 1:
		return found[0], false, nil
	case len(found) > 1:
		return "", false, x.problem(f, said, "fits more than one "+kind+": "+strings.Join(found, "; "), "write the full name of the one you mean; two of one name need an alias each")
	}
	name = strings.Join(strings.Fields(said), " ")
	p := x.problem(f, said, "is no "+kind+" of the kennel", "")
	longest := 100
	if f == Cue {
		name, longest = strings.ToLower(name), 40
	}
	switch {
	case x.o.AllowNew && len(name) <= longest:
		// Only of a name that was known before the file: of two new ones nobody can
		// tell which is the slip, and Milo and Mila may be two dogs.
		p.Near = l.slips.Of(name)
		if len(p.Near) == 0 {
			return name, true, nil
		}
		p.Message += ", and too close to a known name to be new"
		p.Want = "if it is another, add it first with `firstcue " + kind + " add`"
	default:
		p.Near = note.Nearest(name, append(slices.Clip(l.all), more...))
		p.Want = "add it with `firstcue " + kind + " add`, or import with --new"
	}
	return "", false, p
}

// learn makes names that are new known for the rows that follow.
func (n *names) learn(res *Result, fresh []note.Name) {
	for _, x := range fresh {
		l := n.lists[Field(x.Kind)]
		if len(l.find(x.Name)) > 0 {
			continue // the row before it brought it
		}
		res.New = append(res.New, x)
		if x.Kind == kinds[Cue] {
			n.addCue(training.Cue{Name: x.Name, Kind: x.CueKind})
			continue
		}
		l.add(x.Name)
	}
}
