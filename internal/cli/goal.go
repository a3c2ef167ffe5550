package cli

import (
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"firstcue/internal/say"
	"firstcue/internal/store"
	"firstcue/internal/training"
)

const goalHelp = `A GOAL is a cue and, after commas, what it is to stand up to, in any order:
  at PLACE             at this one place of the list (firstcue place list)
  off leash            nothing on; also: on leash, on long line, on drag line
  2 min, 30 s, 1:30    a hold: how long it is to be kept
  distraction 0 to 4   with at least this much going on
  owner, or a name     who asks
  90%                  the share of first asks to be answered
Only the cue must be there: 'come at park, off leash, owner, 90%', 'place, 2 min'.
For "anywhere off property" leave out the place: every cue must hold at several
places, some of them off property, before it is called ready. How many, the bars
places and off-property say (firstcue criteria; firstcue criteria set off-property 2).`

// parseGoal reads a goal as goalHelp describes it. "owner" is the dog's one
// owner. A place that is not on the list is refused: a slip of the finger would
// be a goal that nobody can meet.
func parseGoal(text string, k training.Kennel, owners []string) (training.Goal, error) {
	p := goalParser{kennel: k, owners: owners}
	p.Words = strings.TrimSpace(text)
	for i, part := range strings.Split(text, ",") {
		part = strings.Join(strings.Fields(part), " ")
		read := p.part
		if i == 0 {
			read = p.begin
		}
		if err := read(part); err != nil {
			return training.Goal{}, err
		}
	}
	return p.Goal, nil
}

type goalParser struct {
	training.Goal
	kennel training.Kennel
	owners []string
}

func (p *goalParser) bad(format string, args ...any) error {
	return usagef("goal %q: "+format, append([]any{p.Words}, args...)...).
		try("%s", "write it like 'come at park, distraction 3, owner, 90%'")
}

// begin reads the cue, and the place where it follows with "at".
func (p *goalParser) begin(part string) error {
	cue, place, hasPlace := strings.Cut(part, " at ")
	if cue == "" {
		return p.bad("it begins with no cue")
	}
	c, err := pick(p.kennel.Cues, "cue", cue)
	if err != nil {
		return err
	}
	p.Cue = c.Name
	if hasPlace {
		p.Place, err = goalPlace(p.kennel, place)
	}
	return err
}

// part reads what stands after a comma.
func (p *goalParser) part(part string) error {
	word, rest, _ := strings.Cut(part, " ")
	leash, isLeash := goalLeash(part)
	seconds, isTime := goalTime(part)
	switch {
	case part == "":
		return p.bad("there is nothing between two commas")
	case isLeash && p.Leash != "":
		return p.bad("it has two leash states")
	case isLeash:
		p.Leash = leash
	case isTime:
		return p.time(part, seconds)
	case strings.HasSuffix(part, "%"):
		return p.share(part)
	case strings.EqualFold(word, "distraction"):
		n, err := strconv.Atoi(rest)
		if err != nil || n < 0 || n > 4 {
			return p.bad("distraction is a number from 0 to 4, not %q", rest)
		}
		if p.Distraction.Known {
			return p.bad("it has two distractions")
		}
		p.Distraction = training.Known(float64(n))
	case strings.EqualFold(word, "at") && rest != "":
		if p.Place != "" {
			return p.bad("it has two places")
		}
		var err error
		p.Place, err = goalPlace(p.kennel, rest)
		return err
	default:
		return p.who(part)
	}
	return nil
}

func (p *goalParser) time(part string, seconds float64) error {
	c, _ := p.kennel.Cue(p.Cue)
	switch {
	case p.Hold.Known:
		return p.bad("it has two times")
	case c.Kind != training.Holding:
		return p.bad("%q is how long to hold, and %s is no hold", part, p.Cue)
	case !(seconds >= 1 && seconds <= 7200):
		return p.bad("a hold is kept for 1 second to 2 hours, not %q", part)
	}
	p.Hold = training.Known(seconds)
	return nil
}

func (p *goalParser) share(part string) error {
	n, err := strconv.ParseFloat(strings.TrimSpace(strings.TrimSuffix(part, "%")), 64)
	if err != nil || !(n > 0 && n <= 100) {
		return p.bad("%q is no share from 1%% to 100%%", part)
	}
	if p.Bar.Known {
		return p.bad("it has two shares")
	}
	p.Bar = training.Known(n / 100)
	return nil
}

func (p *goalParser) who(part string) error {
	who := strings.TrimPrefix(part, "by ")
	if p.Handler != "" {
		return p.bad("%q is no share, distraction, leash, time or place, and somebody to ask is already named (%s)", part, p.Handler)
	}
	h, known := p.kennel.Handler(who)
	owner := strings.EqualFold(who, "owner")
	switch {
	case known:
		p.Handler = h.Name
	case owner && len(p.owners) == 1:
		p.Handler = p.owners[0]
	case owner && len(p.owners) == 0:
		return p.bad("the dog has no owner yet; give one with --owner, or name who is to ask")
	case owner:
		return p.bad("the dog has several owners (%s); name the one who is to ask", strings.Join(p.owners, ", "))
	default:
		return p.bad("%q is no handler of the list, no share, no distraction, no leash, no time and no place", part)
	}
	return nil
}

// goalLeash reads "off leash", "on leash", "long line" and the like.
func goalLeash(part string) (training.Leash, bool) {
	word := strings.TrimPrefix(training.Key(strings.ReplaceAll(part, "-", " ")), "on ")
	word = strings.TrimPrefix(strings.TrimPrefix(word, "a "), "the ")
	switch word {
	case "off leash", "off lead", "off":
		return "off", true
	case "lead", "leash":
		return "leash", true
	}
	for _, l := range training.Leashes {
		if word == string(l) {
			return l, true
		}
	}
	return "", false
}

// goalTime reads "2 min", "30 s", "90 seconds", "1:30" and "1:30 min" as seconds.
func goalTime(part string) (float64, bool) {
	number, unit, _ := strings.Cut(part, " ")
	if digits := strings.TrimRight(number, "abcdefghijklmnopqrstuvwxyz"); unit == "" && digits != number {
		number, unit = digits, number[len(digits):]
	}
	if minutes, seconds, clock := strings.Cut(number, ":"); clock && (unit == "" || strings.HasPrefix(unit, "min")) {
		m, err1 := strconv.Atoi(minutes)
		s, err2 := strconv.Atoi(seconds)
		return float64(60*m + s), err1 == nil && err2 == nil && len(seconds) == 2 && s < 60 && m >= 0
	}
	each := map[string]float64{"s": 1, "sec": 1, "secs": 1, "second": 1, "seconds": 1, "min": 60, "mins": 60, "minute": 60, "minutes": 60, "m": 60}[unit]
	v, err := strconv.ParseFloat(number, 64)
	return v * each, err == nil && each > 0
}

// goalPlace returns the registered spelling of a goal's place.
func goalPlace(k training.Kennel, name string) (string, error) {
	switch training.Key(strings.ReplaceAll(name, "-", " ")) {
	case "off property", "any off property", "anywhere off property":
		return "", usagef("%q is no place", strings.TrimSpace(name)).
			try("leave it out: every cue must hold at places off property anyway; firstcue criteria shows how many (off-property)")
	}
	if p, ok := k.Place(strings.TrimPrefix(strings.TrimSpace(name), "the ")); ok {
		return p.Name, nil // "at the mill"
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
		s += ", distraction " + say.Number(g.Distraction.V)
	}
	if g.Handler != "" {
		s += ", " + g.Handler
	}
	if g.Bar.Known {
		s += ", " + say.Percent(g.Bar.V)
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
