package cli

import (
	"strconv"
	"strings"

	"firstcue/internal/training"
)

const goalHelp = `A goal is a cue and, after commas, what it is to stand up to, in any order:
  at PLACE             at this place, which may be added to the list later
  distraction 0 to 4   with at least this much going on
  owner, or a name     who asks
  90%                  the share of first asks to be answered
Only the cue must be there: 'come at park, distraction 3, owner, 90%'.`

// parseGoal reads a goal as goalHelp describes it. "owner" is the dog's one
// owner. The place may be new to the list: an owner wishes for the park before
// anybody has been there.
func parseGoal(text string, k training.Kennel, owners []string) (training.Goal, error) {
	g := training.Goal{Words: strings.TrimSpace(text)}
	bad := func(format string, args ...any) (training.Goal, error) {
		return training.Goal{}, usagef("goal %q: "+format, append([]any{g.Words}, args...)...).try("%s", "write it like 'come at park, distraction 3, owner, 90%'")
	}
	for i, part := range strings.Split(text, ",") {
		part = strings.Join(strings.Fields(part), " ")
		if i == 0 {
			cue, place, hasPlace := strings.Cut(part, " at ")
			if cue == "" {
				return bad("it begins with no cue")
			}
			c, err := pick(k.Cues, "cue", cue)
			if err != nil {
				return training.Goal{}, err
			}
			g.Cue = c.Name
			if hasPlace {
				g.Place = placeName(k, place)
			}
			continue
		}
		switch word, rest, _ := strings.Cut(part, " "); {
		case part == "":
			return bad("there is nothing between two commas")
		case strings.HasSuffix(part, "%"):
			n, err := strconv.ParseFloat(strings.TrimSpace(strings.TrimSuffix(part, "%")), 64)
			if err != nil || !(n > 0 && n <= 100) {
				return bad("%q is no share from 1%% to 100%%", part)
			}
			if g.Bar.Known {
				return bad("it has two shares")
			}
			g.Bar = training.Known(n / 100)
		case strings.EqualFold(word, "distraction"):
			n, err := strconv.Atoi(rest)
			if err != nil || n < 0 || n > 4 {
				return bad("distraction is a number from 0 to 4, not %q", rest)
			}
			if g.Distraction.Known {
				return bad("it has two distractions")
			}
			g.Distraction = training.Known(float64(n))
		case strings.EqualFold(word, "at") && rest != "":
			if g.Place != "" {
				return bad("it has two places")
			}
			g.Place = placeName(k, rest)
		default:
			who := strings.TrimPrefix(part, "by ")
			if g.Handler != "" {
				return bad("%q is neither a share, a distraction nor a place, and somebody to ask is already named (%s)", part, g.Handler)
			}
			h, known := k.Handler(who)
			switch {
			case known:
				g.Handler = h.Name
			case strings.EqualFold(who, "owner") && len(owners) == 1:
				g.Handler = owners[0]
			case strings.EqualFold(who, "owner") && len(owners) == 0:
				return bad("the dog has no owner yet; give one with --owner, or name who is to ask")
			case strings.EqualFold(who, "owner"):
				return bad("the dog has several owners (%s); name the one who is to ask", strings.Join(owners, ", "))
			default:
				return bad("%q is no handler of the list, no share, no distraction and no place", part)
			}
		}
	}
	return g, nil
}

// sayGoalPlaces says which goals wait for a place to be put on the list.
func (a *app) sayGoalPlaces(k training.Kennel, d training.Dog) {
	for _, g := range d.Goals {
		if _, ok := k.Place(g.Place); g.Place != "" && !ok {
			a.say("goal %s: no place is called %s yet; before the first session there: firstcue place add %s --off-property", goalLine(g), g.Place, quote(g.Place))
		}
	}
}

// placeName returns the registered spelling of a place, or the name as typed.
func placeName(k training.Kennel, name string) string {
	if p, ok := k.Place(name); ok {
		return p.Name
	}
	return strings.TrimSpace(name)
}

const wordHelp = `A word is CUE=WORD, then a colon and the hand signal, then a colon and what
ends it, as far as there are any: 'down=Platz:flat palm', 'stay=wait::free'.`

// parseWord reads how one dog knows a cue, as wordHelp describes it.
func parseWord(text string, k training.Kennel) (training.CueWord, error) {
	cue, rest, ok := strings.Cut(text, "=")
	if !ok {
		return training.CueWord{}, usagef("word %q has no = between the cue and what is said", text).try("write it like 'down=Platz:flat palm'")
	}
	c, err := pick(k.Cues, "cue", cue)
	if err != nil {
		return training.CueWord{}, err
	}
	parts := strings.Split(rest, ":")
	if len(parts) > 3 {
		return training.CueWord{}, usagef("word %q has more than a word, a signal and an end", text).try("write it like 'down=Platz:flat palm'")
	}
	parts = append(parts, "", "")
	for i := range parts {
		parts[i] = strings.TrimSpace(parts[i])
	}
	if parts[0] == "" && parts[1] == "" && parts[2] == "" {
		return training.CueWord{}, usagef("word %q says nothing about %s", text, c.Name).try("write it like 'down=Platz:flat palm'")
	}
	return training.CueWord{Cue: c.Name, Word: parts[0], Signal: parts[1], Ends: parts[2]}, nil
}
