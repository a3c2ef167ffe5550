package cli

import (
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"firstcue/internal/report"
	"firstcue/internal/store"
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

func newDogGoalCommand(a *app) *cobra.Command {
	var remove int
	cmd := &cobra.Command{
		Use:   "goal DOG [GOAL...]",
		Short: "Show or add what is agreed with the owner",
		Long:  "Shows a dog's goals with their numbers, or adds some.\n\n" + goalHelp,
		Example: `  firstcue dog goal Tarn
  firstcue dog goal Tarn 'come at market square, distraction 3, owner, 90%'
  firstcue dog goal Tarn --remove 2`,
		Args: takes(1, -1, "a dog"), ValidArgsFunction: inOrder(a.completeDogs, a.completeCues),
		RunE: func(cmd *cobra.Command, args []string) error {
			change := len(args) > 1 || cmd.Flags().Changed("remove")
			return a.withDog(cmd.Context(), args[0], change, func(s *store.Store, k training.Kennel, d training.Dog) error {
				if cmd.Flags().Changed("remove") {
					if remove < 1 || remove > len(d.Goals) {
						return usagef("%s has no goal %d", d.Name, remove).try("firstcue dog goal %s shows their numbers", quote(d.Name))
					}
					d.Goals = slices.Delete(slices.Clone(d.Goals), remove-1, remove)
				}
				for _, text := range args[1:] {
					g, err := parseGoal(text, k, d.Owners)
					if err != nil {
						return err
					}
					d.Goals = append(d.Goals, g)
				}
				if change {
					if err := s.SetGoals(cmd.Context(), d.Name, d.Goals); err != nil {
						return err
					}
				}
				for i, g := range d.Goals {
					a.printf("%d  %s\n", i+1, goalLine(g))
				}
				if len(d.Goals) == 0 {
					a.say("%s has no goals: every cue counts as agreed", d.Name)
				}
				return nil
			})
		},
	}
	cmd.Flags().IntVar(&remove, "remove", 0, "take back the goal with this `NUMBER`")
	return cmd
}

// goalLine writes a goal so that parseGoal reads it again.
func goalLine(g training.Goal) string {
	s := g.Cue
	if g.Place != "" {
		s += " at " + g.Place
	}
	if g.Distraction.Known {
		s += ", distraction " + report.Number(g.Distraction.V)
	}
	if g.Handler != "" {
		s += ", " + g.Handler
	}
	if g.Bar.Known {
		s += ", " + report.Percent(g.Bar.V)
	}
	return s
}

func newDogWordCommand(a *app) *cobra.Command {
	var remove string
	cmd := &cobra.Command{
		Use:   "word DOG [WORD...]",
		Short: "Show or set the words and signals a dog knows",
		Long:  "Shows how a dog's people say and show each cue, or sets some.\n\n" + wordHelp,
		Example: `  firstcue dog word Tarn
  firstcue dog word Tarn 'down=flat:palm down' 'stay=wait::free'
  firstcue dog word Tarn --remove stay`,
		Args: takes(1, -1, "a dog"), ValidArgsFunction: inOrder(a.completeDogs),
		RunE: func(cmd *cobra.Command, args []string) error {
			change := len(args) > 1 || remove != ""
			return a.withDog(cmd.Context(), args[0], change, func(s *store.Store, k training.Kennel, d training.Dog) error {
				if remove != "" {
					c, err := pick(k.Cues, "cue", remove)
					if err != nil {
						return err
					}
					before := len(d.Words)
					d.Words = slices.DeleteFunc(slices.Clone(d.Words), func(w training.CueWord) bool { return training.Key(w.Cue) == training.Key(c.Name) })
					if len(d.Words) == before {
						return usagef("%s has no word of its own for %s", d.Name, c.Name)
					}
				}
				for _, text := range args[1:] {
					w, err := parseWord(text, k, d.Words)
					if err != nil {
						return err
					}
					d.Words = setWord(d.Words, w)
				}
				if change {
					if err := s.SetWords(cmd.Context(), d.Name, d.Words); err != nil {
						return err
					}
				}
				var rows [][]string
				for _, w := range d.Words {
					rows = append(rows, []string{w.Cue, w.Word, w.Signal, w.Ends})
				}
				return a.table(d.Name+" knows every cue by the kennel's own word", []string{"cue", "word", "hand signal", "ends with"}, rows)
			})
		},
	}
	cmd.Flags().StringVar(&remove, "remove", "", "forget the dog's own word for this `CUE`")
	complete(cmd, "remove", a.completeCues)
	return cmd
}
