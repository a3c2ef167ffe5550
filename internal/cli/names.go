package cli

import (
	"fmt"
	"strings"

	"firstcue/internal/note"
	"firstcue/internal/training"
)

// named is an entry of one of the kennel's lists.
type named interface {
	training.Dog | training.Handler | training.Place | training.Device | training.Cue
}

// spelt returns an entry's name and its other spellings.
func spelt[T named](x T) (string, []string) {
	switch x := any(x).(type) {
	case training.Dog:
		return x.Name, x.Aliases
	case training.Handler:
		return x.Name, x.Aliases
	case training.Place:
		return x.Name, x.Aliases
	case training.Device:
		return x.Name, x.Aliases
	case training.Cue:
		return x.Name, x.Aliases
	}
	return "", nil
}

// spellings returns all that the entries may be called.
func spellings[T named](list []T) []string {
	var all []string
	for _, x := range list {
		n, aliases := spelt(x)
		all = append(append(all, n), aliases...)
	}
	return all
}

// pick finds an entry by name or alias. For a name that is not there the error
// names the nearest one and how to see or add them; nothing is ever replaced by
// what was probably meant.
func pick[T named](list []T, what, name string) (T, error) {
	key := training.Key(name)
	for _, x := range list {
		n, aliases := spelt(x)
		for _, s := range append([]string{n}, aliases...) {
			if training.Key(s) == key {
				return x, nil
			}
		}
	}
	all := spellings(list)
	var none T
	if key == "" {
		return none, usagef("the name of the %s is empty", what)
	}
	e := usagef("no %s is called %q", what, name)
	switch near := nearest(name, all); {
	case near != "":
		e = e.try("did you mean %s?", near)
	case len(all) == 0:
		e = e.try("there is none yet: firstcue %s add %s", what, quote(name))
	case len(list) <= 8:
		e = e.try("known: %s\nnew: firstcue %s add %s", strings.Join(namesOf(list), ", "), what, quote(name))
	default:
		e = e.try("firstcue %s list shows them; firstcue %s add %s makes a new one", what, what, quote(name))
	}
	return none, e
}

func namesOf[T named](list []T) []string {
	var out []string
	for _, x := range list {
		n, _ := spelt(x)
		out = append(out, n)
	}
	return out
}

// nearest returns what a name was probably meant to be, in words: "heel" or
// "heel or here"; "" when nothing is near.
func nearest(name string, candidates []string) string {
	return strings.Join(note.Nearest(name, candidates), " or ")
}

// quote puts a name in quotes where a shell would split it.
func quote(name string) string {
	if name != "" && !strings.ContainsAny(name, " \t'\"\\$&|;<>()*?!`#~") {
		return name
	}
	return "'" + strings.ReplaceAll(name, "'", `'\''`) + "'"
}

// plural counts: "1 trial", "4 trials", "2 entries".
func plural(n int, one string) string {
	switch {
	case n == 1:
		return "1 " + one
	case strings.HasSuffix(one, "y") && !strings.HasSuffix(one, "ay"):
		return fmt.Sprintf("%d %sies", n, strings.TrimSuffix(one, "y"))
	}
	return fmt.Sprintf("%d %ss", n, one)
}
