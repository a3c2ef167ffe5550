package cli

import (
	"strconv"
	"strings"

	"firstcue/internal/training"
)

const goalHelp = `A GOAL is a cue and, after commas, what it is to stand up to, in any order:
  at PLACE             at this one place of the list (firstcue place list)
  distraction 0 to 4   with at least this much going on
  owner, or a name     who asks
  90%                  the share of first asks to be answered
Only the cue must be there: 'come at park, distraction 3, owner, 90%'.
For "anywhere off property" leave out the place: every cue must hold at several
places, some of them off property, before it is called ready. How many, the bars
places and off-property say (firstcue criteria; firstcue criteria set off-property 2).`

// parseGoal reads a goal as goalHelp describes it. "owner" is the dog's one
// owner. A place that is not on the list is refused: a slip of the finger would
// be a goal that nobody can meet.
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
				if g.Place, err = goalPlace(k, place); err != nil {
					return training.Goal{}, err
				}
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
			var err error
			if g.Place, err = goalPlace(k, rest); err != nil {
				return training.Goal{}, err
			}
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

// goalPlace returns the registered spelling of a goal's place.
func goalPlace(k training.Kennel, name string) (string, error) {
	switch training.Key(strings.ReplaceAll(name, "-", " ")) {
	case "off property", "any off property", "anywhere off property":
		return "", usagef("%q is no place", strings.TrimSpace(name)).
			try("leave it out: every cue must hold at places off property anyway; firstcue criteria shows how many (off-property)")
	}
	p, err := pick(k.Places, "place", name)
	if e, ok := err.(exitError); ok && training.Key(name) != "" {
		add := "firstcue place add " + quote(strings.TrimSpace(name)) + " --off-property"
		if nearest(name, spellings(k.Places)) != "" {
			return "", e.try("%s\nif it is another place, add it first: %s", e.hint, add)
		}
		return "", e.try("add it first: %s (without the flag if it is the kennel's own ground)", add)
	}
	return p.Name, err
}

const wordHelp = `A WORD is CUE=WORD, then a colon and the hand signal, then a colon and what
ends it, as far as there are any: 'down=Platz:flat palm', 'stay=wait::free'.`

// parseWord reads how one dog knows a cue, as wordHelp describes it. A word that
// is another cue's name, or what the dog's words say for another cue, is refused:
// a note could not tell the two apart.
func parseWord(text string, k training.Kennel, words []training.CueWord) (training.CueWord, error) {
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
	if other, ok := k.Cue(parts[0]); ok && parts[0] != "" && other.Name != c.Name {
		whose := parts[0] + " is the name of another cue"
		if training.Key(other.Name) != training.Key(parts[0]) {
			whose = parts[0] + " is another spelling of the cue " + other.Name
		}
		return training.CueWord{}, usagef("word %q: %s", text, whose).
			try("a note that says %s could not be told apart; if the dog's people do say it, write the cue's own name in notes", parts[0])
	}
	for _, w := range words {
		if parts[0] != "" && training.Key(w.Word) == training.Key(parts[0]) && training.Key(w.Cue) != training.Key(c.Name) {
			return training.CueWord{}, usagef("word %q: %s is this dog's word for %s", text, parts[0], w.Cue).try("two cues need two words")
		}
	}
	return training.CueWord{Cue: c.Name, Word: parts[0], Signal: parts[1], Ends: parts[2]}, nil
}
