package cli

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"firstcue/internal/analysis"
	"firstcue/internal/report"
	"firstcue/internal/say"
	"firstcue/internal/store"
	"firstcue/internal/training"
)

func newDogCommand(a *app) *cobra.Command {
	return group(&cobra.Command{
		Use:     "dog",
		Short:   "The dogs: stays, goals, cue words, vet holds",
		Long:    "Everything about a dog that is not a session.",
		Example: "  firstcue dog list",
	},
		newDogAddCommand(a),
		newDogSetCommand(a),
		newDogShowCommand(a),
		newDogListCommand(a),
		newDogGoalCommand(a),
		newDogWordCommand(a),
		newDogHoldCommand(a),
		newDogHomeCommand(a),
		newDogArriveCommand(a),
		a.renameCommand("dog", a.completeDogs),
		a.removeCommand("dog", a.completeDogs),
	)
}

// dogFlags are the flags that describe a dog.
type dogFlags struct {
	born, arrived, due, wishes, consent, device, main string
	owners, goals, words, also                        []string
	rewardOnly, addNew                                bool
}

func (f *dogFlags) add(a *app, cmd *cobra.Command) {
	fs := cmd.Flags()
	fs.StringVar(&f.arrived, "arrived", "", "`DAY` the stay began")
	fs.StringVar(&f.due, "due", "", "`DAY` the dog is to go home")
	fs.StringArrayVar(&f.owners, "owner", nil, "owner's `NAME` (may be repeated)")
	fs.StringArrayVar(&f.goals, "goal", nil, "what is agreed with the owner, a `GOAL` as described above (may be repeated)")
	fs.StringVar(&f.wishes, "wishes", "", "what the owner wants, in the owner's `WORDS`")
	fs.StringArrayVar(&f.words, "word", nil, "how this dog knows a cue, a `WORD` as described above (may be repeated)")
	fs.StringVar(&f.main, "main", "", "main trainer's `NAME` (otherwise whoever handled most)")
	fs.StringVar(&f.device, "device", "", "usual collar, a `DEVICE` of the list")
	fs.BoolVar(&f.rewardOnly, "reward-only", false, "no collar is ever used; a level in a note is refused")
	fs.StringVar(&f.consent, "consent", "", "what the owner agreed to in writing, in `WORDS`")
	fs.StringVar(&f.born, "born", "", "`DAY` of birth")
	fs.BoolVar(&f.addNew, "new", false, "add the main trainer and the device if they are not on the lists")
	alsoVar(cmd, &f.also)
	complete(cmd, "main", a.completeHandlers)
	complete(cmd, "owner", a.completeHandlers)
	complete(cmd, "device", a.completeDevices)
}

// apply sets what was given on the dog. It changes no list; what must be added
// to one first is returned.
func (f *dogFlags) apply(a *app, cmd *cobra.Command, k training.Kennel, d *training.Dog) (handlers []training.Handler, devices []training.Device, err error) {
	changed := func(name string) bool { return cmd.Flags().Changed(name) }
	if changed("born") {
		if d.Born, err = a.day("--born", f.born); err != nil {
			return nil, nil, err
		}
		if d.Born > a.today() {
			return nil, nil, usagef("--born %s is a day to come", d.Born)
		}
	}
	if changed("reward-only") {
		d.RewardOnly = f.rewardOnly
	}
	if changed("consent") {
		d.Consent = f.consent
	}
	if changed("also") {
		d.Aliases = f.also
	}
	if changed("device") {
		v, err := pick(k.Devices, "device", f.device)
		if err != nil && !f.addNew {
			return nil, nil, err
		}
		if err != nil {
			v = training.Device{Name: f.device}
			devices = append(devices, v)
		}
		d.Device = v.Name
	}
	if d.RewardOnly && d.Device != "" {
		return nil, nil, usagef("%s is to be trained with rewards only, and a device (%s) is given", d.Name, d.Device).
			try("leave out --device, or --reward-only")
	}
	if changed("owner") {
		d.Owners = nil
		for _, o := range f.owners {
			if h, ok := k.Handler(o); ok {
				d.Owners = append(d.Owners, h.Name)
				continue
			}
			if training.Key(o) == "" {
				return nil, nil, usagef("--owner is empty")
			}
			d.Owners = append(d.Owners, o)
			handlers = append(handlers, training.Handler{Name: o, Role: training.Owner})
			k.Handlers = append(slices.Clone(k.Handlers), handlers[len(handlers)-1])
		}
	}
	if changed("main") {
		h, err := pick(k.Handlers, "handler", f.main)
		if err != nil && !f.addNew {
			return nil, nil, err
		}
		if err != nil {
			h = training.Handler{Name: f.main, Role: training.Trainer}
			handlers = append(handlers, h)
			k.Handlers = append(slices.Clone(k.Handlers), h)
		}
		d.Main = h.Name
	}
	if changed("goal") {
		d.Goals = nil
		for _, text := range f.goals {
			g, err := parseGoal(text, k, d.Owners)
			if err != nil {
				return nil, nil, err
			}
			d.Goals = append(d.Goals, g)
		}
	}
	if changed("word") {
		for _, text := range f.words {
			w, err := parseWord(text, k, d.Words)
			if err != nil {
				return nil, nil, err
			}
			d.Words = setWord(d.Words, w)
		}
	}
	return handlers, devices, f.stay(a, cmd, d)
}

// stay sets the days of the dog's last boarding, or begins its first.
func (f *dogFlags) stay(a *app, cmd *cobra.Command, d *training.Dog) error {
	changed := func(name string) bool { return cmd.Flags().Changed(name) }
	if !changed("arrived") && !changed("due") && !changed("wishes") {
		return nil
	}
	if len(d.Boardings) == 0 {
		if !changed("arrived") {
			return usagef("--due and --wishes belong to a stay, and %s has none", d.Name).try("say when it began: --arrived DAY")
		}
		d.Boardings = []training.Boarding{{}}
	}
	b := &d.Boardings[len(d.Boardings)-1]
	var err error
	if changed("arrived") {
		if b.Arrived, err = a.day("--arrived", f.arrived); err != nil {
			return err
		}
	}
	if changed("due") {
		if b.Due, err = a.day("--due", f.due); err != nil {
			return err
		}
	}
	if changed("wishes") {
		b.Wishes = f.wishes
	}
	if b.Due != 0 && b.Due < b.Arrived {
		return usagef("%s cannot be due home on %s, before it arrives on %s", d.Name, b.Due, b.Arrived)
	}
	return nil
}

func setWord(words []training.CueWord, w training.CueWord) []training.CueWord {
	for i := range words {
		if training.Key(words[i].Cue) == training.Key(w.Cue) {
			words[i] = w
			return words
		}
	}
	return append(words, w)
}

// putDog stores the dog and, before it, what it needs on other lists.
func (a *app) putDog(ctx context.Context, s *store.Store, d training.Dog, handlers []training.Handler, devices []training.Device) (training.Dog, error) {
	for _, h := range handlers {
		if _, err := s.PutHandler(ctx, h); err != nil {
			return d, err
		}
		a.say("added handler %s, %s", h.Name, h.Role)
	}
	for _, v := range devices {
		if _, err := s.PutDevice(ctx, v); err != nil {
			return d, err
		}
		a.say("added device %s", v.Name)
	}
	return s.PutDog(ctx, d)
}

func newDogAddCommand(a *app) *cobra.Command {
	var f dogFlags
	cmd := &cobra.Command{
		Use:   "add NAME",
		Short: "Set up a dog in one go",
		Long: `Adds a dog with its stay, its owner and what is agreed. Everything but the name
may be left out and set later with dog set. An owner who is not on the list of
handlers is added to it.
A day is ` + dayWords + `.

` + goalHelp + `

` + wordHelp,
		Example: `  firstcue dog add Tarn --arrived 2026-03-02 --due 2026-03-21 --owner 'Mrs Oake' \
    --goal 'sit, 90%' --goal 'come, distraction 3, owner, 90%' \
    --word 'down=flat:palm down'
  firstcue dog add Quince --arrived today --reward-only --consent 'written, 2026-03-06'`,
		Args: takes(1, 1, "the dog's name"),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			k, _, err := a.kennel(ctx)
			if err != nil {
				return err
			}
			if d, ok := k.Dog(args[0]); ok {
				return usagef("there is a dog called %s already", d.Name).
					try("a new stay of the same dog: firstcue dog arrive %s\nanother dog: tell them apart, such as %s", quote(d.Name), quote(d.Name+" B"))
			}
			d := training.Dog{Name: strings.Join(strings.Fields(args[0]), " ")}
			handlers, devices, err := f.apply(a, cmd, k, &d)
			if err != nil {
				return err
			}
			return a.changing(ctx, func(s *store.Store) error {
				d, err := a.putDog(ctx, s, d, handlers, devices)
				if err != nil {
					return err
				}
				a.say("added dog %s", a.dogLine(d))
				return nil
			})
		},
	}
	f.add(a, cmd)
	return cmd
}

func newDogSetCommand(a *app) *cobra.Command {
	var f dogFlags
	cmd := &cobra.Command{
		Use:   "set DOG",
		Short: "Change what is known of a dog",
		Long: `Changes a dog. Owners and goals given replace those there were; a word replaces
the one for its cue. To change the name, use rename.

` + goalHelp + `

` + wordHelp,
		Example: `  firstcue dog set Tarn --due 2026-03-24
  firstcue dog set Tarn --word 'stay=wait::free'`,
		Args: takes(1, 1, "a dog"), ValidArgsFunction: inOrder(a.completeDogs),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.setEntry(cmd, func(s *store.Store, k training.Kennel) (string, error) {
				d, err := pick(k.Dogs, "dog", args[0])
				if err != nil {
					return "", err
				}
				handlers, devices, err := f.apply(a, cmd, k, &d)
				if err != nil {
					return "", err
				}
				d, err = a.putDog(cmd.Context(), s, d, handlers, devices)
				return a.dogLine(d), err
			})
		},
	}
	f.add(a, cmd)
	return cmd
}

// dogLine says in one line how a dog stands on the lists.
func (a *app) dogLine(d training.Dog) string {
	parts := []string{d.Name}
	if n := len(d.Boardings); n > 0 {
		b := d.Boardings[n-1]
		if b.Arrived != 0 {
			parts = append(parts, "arrived "+b.Arrived.String())
		}
		if b.Home != 0 {
			parts = append(parts, "went home "+b.Home.String())
		} else if b.Due != 0 {
			parts = append(parts, "due "+b.Due.String())
		}
	}
	if len(d.Owners) > 0 {
		parts = append(parts, "owner "+strings.Join(d.Owners, " and "))
	}
	if len(d.Goals) > 0 {
		parts = append(parts, plural(len(d.Goals), "goal"))
	}
	if d.RewardOnly {
		parts = append(parts, "rewards only")
	}
	return strings.Join(parts, ", ")
}

func newDogListCommand(a *app) *cobra.Command {
	var format string
	var all bool
	cmd := &cobra.Command{
		Use:     "list",
		Short:   "List the dogs that are here",
		Long:    "Lists the dogs that are here, or with --all every dog there was.",
		Example: "  firstcue dog list\n  firstcue dog list --all --format json",
		Args:    takes(0, 0, "no argument"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			k, _, err := a.listed(cmd.Context())
			if err != nil {
				return err
			}
			today := a.today()
			var rows [][]string
			var out []training.Dog
			gone := 0
			for _, d := range k.Dogs {
				b, ok := d.Boarding(today)
				if !all && ok && b.Home != 0 && b.Home <= today {
					gone++
					continue
				}
				stay := ""
				if ok {
					stay = strconv.Itoa(int(today-b.Arrived) + 1)
				}
				note := []string{}
				if b.Home != 0 && b.Home <= today {
					stay, note = "", append(note, "went home "+b.Home.String())
				}
				for _, h := range d.Holds {
					if today >= h.From && (h.To == 0 || today <= h.To) {
						note = append(note, "on hold: "+h.Reason)
					}
				}
				if d.RewardOnly {
					note = append(note, "rewards only")
				}
				rows = append(rows, []string{d.Name, b.Arrived.String(), stay, b.Due.String(), strings.Join(d.Owners, ", "), strconv.Itoa(len(d.Goals)), strings.Join(note, "; ")})
				out = append(out, d)
			}
			if format == "json" {
				return writeFailed(a.json(dogsJSON{schema("dogs"), out}))
			}
			empty := "no dog yet: firstcue dog add NAME --arrived today"
			if gone > 0 {
				empty = "no dog is here; --all lists those that went home"
			}
			return a.table(empty, []string{"dog", "arrived", "day", "due", "owner", "goals", "remarks"}, rows, report.Left, report.Left, report.Right, report.Left, report.Left, report.Right)
		},
	}
	cmd.Flags().BoolVar(&all, "all", false, "also dogs that went home")
	formatVar(cmd, &format, "text", "json")
	return cmd
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
	if g.Leash != "" {
		s += ", " + goalLeashWord(g.Leash)
	}
	if g.Hold.Known {
		s += ", " + say.Number(g.Hold.V) + " s"
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

// withDog opens the store and finds the dog.
func (a *app) withDog(ctx context.Context, name string, change bool, f func(*store.Store, training.Kennel, training.Dog) error) error {
	open := a.reading
	if change {
		open = func(ctx context.Context, f func(*store.Store) error) error {
			return a.withStore(ctx, store.Options{}, f)
		}
	}
	return open(ctx, func(s *store.Store) error {
		k, err := s.Kennel(ctx)
		if err != nil {
			return err
		}
		d, err := pick(k.Dogs, "dog", name)
		if err != nil {
			return err
		}
		return f(s, k, d)
	})
}

// withOneDog is withDog for a command that only looks and needs no other dog: it
// costs the same however many there are. For a name that is not known the whole
// list is read, to say which is near.
func (a *app) withOneDog(ctx context.Context, name string, f func(*store.Store, training.Kennel, training.Dog) error) error {
	return a.reading(ctx, func(s *store.Store) error {
		k, err := s.KennelOf(ctx, name)
		if err != nil {
			return err
		}
		d, err := pick(k.Dogs, "dog", name)
		if err == nil {
			return f(s, k, d)
		}
		if k, err = s.Kennel(ctx); err != nil {
			return err
		}
		if d, err = pick(k.Dogs, "dog", name); err != nil {
			return err
		}
		return f(s, k, d)
	})
}

func newDogHoldCommand(a *app) *cobra.Command {
	var from, to, reason, end, remove string
	var cues []string
	var noCollar, collarOnly bool
	cmd := &cobra.Command{
		Use:   "hold DOG",
		Short: "Stop a dog's training, or some cues, on the vet's advice",
		Long: `Puts a dog on hold: its trials of those days are left out of every figure, and
after a hold of the whole dog judgement starts from a new baseline. Notes of those
days are refused unless log --in-hold says that they are meant.

With --cue only these cues are held. --no-collar forbids collar levels while the
hold lasts; --collar-only holds the collar and nothing else. --end closes the open
hold with its last day.
A day is ` + dayWords + `.`,
		Example: `  firstcue dog hold Tarn --reason 'sore hip, vet' --no-collar
  firstcue dog hold Tarn --from 2026-03-10 --to 2026-03-16 --cue sit --reason 'dew claw'
  firstcue dog hold Thistle --end today`,
		Args: takes(1, 1, "a dog"), ValidArgsFunction: inOrder(a.completeDogs),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			return a.withDog(ctx, args[0], true, func(s *store.Store, k training.Kennel, d training.Dog) error {
				if remove != "" {
					first, err := a.day("--remove", remove)
					if err != nil {
						return err
					}
					for _, h := range d.Holds {
						if h.From == first {
							if err := s.RemoveHold(ctx, d.Name, h.ID); err != nil {
								return err
							}
							a.say("hold of %s removed: %s", d.Name, holdLine(h))
							return nil
						}
					}
					return usagef("%s has no hold that began on %s", d.Name, first).try("firstcue dog show %s --format list shows them", quote(d.Name))
				}
				if end != "" {
					last, err := a.day("--end", end)
					if err != nil {
						return err
					}
					ended, err := s.EndHold(ctx, d.Name, "", last)
					for _, h := range ended {
						a.say("hold of %s ended, last day %s: %s", d.Name, last, h.Reason)
					}
					return err
				}
				h := training.VetHold{Reason: reason, NoCollar: noCollar || collarOnly, CollarOnly: collarOnly, From: a.today()}
				if reason == "" {
					return usagef("a hold needs its reason").try("--reason 'sore hip, vet'")
				}
				var err error
				if from != "" {
					if h.From, err = a.day("--from", from); err != nil {
						return err
					}
				}
				if h.To, err = a.day("--to", to); err != nil {
					return err
				}
				for _, name := range cues {
					c, err := pick(k.Cues, "cue", name)
					if err != nil {
						return err
					}
					h.Cues = append(h.Cues, c.Name)
				}
				before, _, err := a.assess(ctx, s, d.Name, a.today())
				if err != nil {
					return err
				}
				if h, err = s.SetHold(ctx, d.Name, h); err != nil {
					return err
				}
				was := "is"
				if h.To != 0 && h.To < a.today() {
					was = "was"
				}
				a.say("%s %s on hold: %s", d.Name, was, holdLine(h))
				if err := a.sayHeld(ctx, s, d.Name, h, before); err != nil {
					return err
				}
				if h.To == 0 {
					a.say("when it is over: firstcue dog hold %s --end DAY", quote(d.Name))
				}
				return nil
			})
		},
	}
	fs := cmd.Flags()
	fs.StringVar(&from, "from", "", "first `DAY` (default today)")
	fs.StringVar(&to, "to", "", "last `DAY` (default: until ended)")
	fs.StringVar(&reason, "reason", "", "why, in `WORDS`")
	fs.StringArrayVar(&cues, "cue", nil, "hold only this `CUE` (may be repeated)")
	fs.BoolVar(&noCollar, "no-collar", false, "no collar level may be used while it lasts")
	fs.BoolVar(&collarOnly, "collar-only", false, "hold the collar alone; the dog is trained without it")
	fs.StringVar(&end, "end", "", "end the open hold with this last `DAY`")
	fs.StringVar(&remove, "remove", "", "take back the hold that began on this `DAY`, entered by mistake")
	complete(cmd, "cue", a.completeCues)
	return cmd
}

// sayHeld says what a hold that began before today does to what is stored.
func (a *app) sayHeld(ctx context.Context, s *store.Store, dog string, h training.VetHold, before analysis.Assessment) error {
	if h.From > a.today() || h.CollarOnly {
		return nil
	}
	after, _, err := a.assess(ctx, s, dog, a.today())
	if err != nil {
		return err
	}
	n := after.LeftOut - before.LeftOut
	if n <= 0 && h.From == a.today() {
		return nil
	}
	of := ""
	if len(h.Cues) > 0 {
		of = " of " + strings.Join(h.Cues, ", ")
	}
	if n > 0 {
		a.say("  sessions%s of those days are now left out", of)
	}
	if h.To != 0 && h.To < a.today() {
		a.say("  judgement%s starts on %s", of, (h.To + 1).Time(time.UTC).Format("2 Jan"))
	}
	if n > 0 {
		a.say("  %s %s kept and not counted", plural(n, "earlier trial"), isAre(n))
	}
	a.say("  take it back: firstcue dog hold %s --remove %s", quote(dog), h.From)
	return nil
}

func isAre(n int) string {
	if n == 1 {
		return "is"
	}
	return "are"
}

func holdLine(h training.VetHold) string {
	s := "from " + h.From.String()
	if h.To != 0 {
		s += " to " + h.To.String()
	}
	if len(h.Cues) > 0 {
		s += ", " + strings.Join(h.Cues, ", ") + " only"
	}
	switch {
	case h.CollarOnly:
		s += ", the collar only"
	case h.NoCollar:
		s += ", no collar"
	}
	return s + ": " + h.Reason
}

func newDogHomeCommand(a *app) *cobra.Command {
	var day string
	var remove bool
	cmd := &cobra.Command{
		Use:   "home DOG",
		Short: "Say that a dog went home",
		Long: `Ends the dog's stay. Its record stays; rechecks and later stays are added to it. A dog
that is not ready, or has an open incident, goes home all the same: it is said, and no
more. With --day again the day is corrected, with --remove the dog is here again.`,
		Example: `  firstcue dog home Tarn --day 2026-03-21
  firstcue dog home Quince --remove`,
		Args: takes(1, 1, "a dog"), ValidArgsFunction: inOrder(a.completeDogs),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			home, err := a.day("--day", day)
			if err != nil {
				return err
			}
			if remove && home != 0 {
				return usagef("--remove and --day do not go together").try("--day corrects the day; --remove says that the dog did not go home")
			}
			correct := home != 0
			if home == 0 {
				home = a.today()
			}
			return a.withDog(ctx, args[0], true, func(s *store.Store, _ training.Kennel, d training.Dog) error {
				if len(d.Boardings) == 0 {
					return usagef("%s has no stay to end", d.Name).try("firstcue dog arrive %s --day DAY", quote(d.Name))
				}
				b := d.Boardings[len(d.Boardings)-1]
				was := b.Home
				switch {
				case remove && was == 0:
					return usagef("%s has not gone home, and is here since %s", d.Name, b.Arrived)
				case remove:
					b.Home, b.Judged, b.Ready = 0, false, false
					if _, err := s.SetBoarding(ctx, d.Name, b); err != nil {
						return err
					}
					a.say("%s is here again, since %s; that it went home on %s is taken back", d.Name, b.Arrived, was)
					return nil
				case was != 0 && !correct:
					return usagef("%s went home on %s already", d.Name, was).
						try("another day: firstcue dog home %s --day DAY\nit is still here: firstcue dog home %s --remove", quote(d.Name), quote(d.Name))
				}
				b.Home = home
				left := min(home, a.today())
				due, leaving, err := handoff(b.Due, left, func(day training.Day) (analysis.Assessment, error) {
					x, _, err := a.assess(ctx, s, d.Name, day)
					return x, err
				})
				if err != nil {
					return err
				}
				b.Judged, b.Ready = due.Asks > 0, due.Verdict == analysis.Ready
				if _, err := s.SetBoarding(ctx, d.Name, b); err != nil {
					return err
				}
				if was != 0 && was != home {
					a.say("%s went home on %s (was %s), after %s", d.Name, home, was, plural(int(home-b.Arrived)+1, "day"))
				} else {
					a.say("%s went home on %s, after %s", d.Name, home, plural(int(home-b.Arrived)+1, "day"))
				}
				if err := a.sayNotReady(ctx, s, d, left, leaving.Verdict); err != nil {
					return err
				}
				a.say("take it back: firstcue dog home %s --remove", quote(d.Name))
				return nil
			})
		},
	}
	cmd.Flags().StringVar(&day, "day", "", "`DAY` it went home (default today)")
	cmd.Flags().BoolVar(&remove, "remove", false, "take back that it went home")
	return cmd
}

// handoff judges a dog on the day that the kennel's base rate rests on, which is
// the day it was due if it left later, and on the day it left: once where they
// are one day.
func handoff(due, left training.Day, judge func(training.Day) (analysis.Assessment, error)) (onDue, onLeft analysis.Assessment, err error) {
	if onLeft, err = judge(left); err != nil || due == 0 || due >= left {
		return onLeft, onLeft, err
	}
	onDue, err = judge(due)
	return onDue, onLeft, err
}

// sayNotReady says what a dog goes home with: a verdict of its last day that is
// not "ready", and open incidents.
func (a *app) sayNotReady(ctx context.Context, s *store.Store, d training.Dog, left training.Day, verdict analysis.Verdict) error {
	if verdict != analysis.Ready {
		a.say("the report said %s that day: firstcue report %s --as-of %s", strings.ToUpper(string(verdict)), quote(d.Name), left)
	}
	all, err := s.Incidents(ctx, d.Name)
	if err != nil {
		return err
	}
	for _, i := range all {
		if i.Closed != 0 {
			continue
		}
		a.say("open incident of %s: %s\n  firstcue incident close %s --outcome '...'", i.Day, printable(i.Text), report.ShortID(i.ID))
	}
	return nil
}

func newDogArriveCommand(a *app) *cobra.Command {
	var day, due, wishes, remove string
	cmd := &cobra.Command{
		Use:     "arrive DOG",
		Short:   "Begin a further stay of a dog that was here before",
		Long:    "Begins a new stay. The record of earlier stays is kept.",
		Example: "  firstcue dog arrive Quince --day today --due 2026-05-01",
		Args:    takes(1, 1, "a dog"), ValidArgsFunction: inOrder(a.completeDogs),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			b := training.Boarding{Arrived: a.today(), Wishes: wishes}
			var err error
			if day != "" {
				if b.Arrived, err = a.day("--day", day); err != nil {
					return err
				}
			}
			if b.Due, err = a.day("--due", due); err != nil {
				return err
			}
			first, err := a.day("--remove", remove)
			if err != nil {
				return err
			}
			return a.withDog(ctx, args[0], true, func(s *store.Store, _ training.Kennel, d training.Dog) error {
				if first != 0 {
					i := slices.IndexFunc(d.Boardings, func(b training.Boarding) bool { return b.Arrived == first })
					if i < 0 {
						return usagef("%s has no stay that began on %s", d.Name, first)
					}
					if err := s.RemoveBoarding(ctx, d.Name, d.Boardings[i].ID); err != nil {
						return err
					}
					a.say("stay of %s from %s removed", d.Name, first)
					return nil
				}
				if n := len(d.Boardings); n > 0 && d.Boardings[n-1].Home == 0 {
					return usagef("%s is still here, since %s", d.Name, d.Boardings[n-1].Arrived).
						try("end that stay first: firstcue dog home %s --day DAY", quote(d.Name))
				}
				if _, err := s.SetBoarding(ctx, d.Name, b); err != nil {
					return err
				}
				a.say("%s arrived on %s", d.Name, b.Arrived)
				return nil
			})
		},
	}
	cmd.Flags().StringVar(&day, "day", "", "`DAY` it arrived (default today)")
	cmd.Flags().StringVar(&due, "due", "", "`DAY` it is to go home")
	cmd.Flags().StringVar(&wishes, "wishes", "", "what the owner wants, in the owner's `WORDS`")
	cmd.Flags().StringVar(&remove, "remove", "", "take back the stay that began on this `DAY`, entered by mistake")
	return cmd
}

func newDogShowCommand(a *app) *cobra.Command {
	var format, asOf string
	cmd := &cobra.Command{
		Use:   "show DOG",
		Short: "The page for whoever takes the dog next",
		Long: `Prints what the next handler needs: words and signals, equipment and today's level,
what failed last, what nobody but the main trainer has asked, what must not be done.
--format list gives what is entered on the lists instead: stays, goals, words, holds.`,
		Example: `  firstcue dog show Tarn
  firstcue dog show Tarn --format list`,
		Args: takes(1, 1, "a dog"), ValidArgsFunction: inOrder(a.completeDogs),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			day, err := a.asOf(asOf)
			if err != nil {
				return err
			}
			return a.withDog(ctx, args[0], false, func(s *store.Store, _ training.Kennel, d training.Dog) error {
				switch format {
				case "json":
					return writeFailed(a.json(dogJSON{schema("dog"), d}))
				case "list":
					a.showDog(d)
					return nil
				}
				x, r, err := a.assess(ctx, s, d.Name, day)
				if err != nil {
					return err
				}
				return writeFailed(report.Brief(a.env.Stdout, x, r, a.options()))
			})
		},
	}
	asOfVar(cmd, &asOf)
	formatVar(cmd, &format, "text", "list", "json")
	return cmd
}

func (a *app) showDog(d training.Dog) {
	row := func(label, text string) {
		if text != "" {
			a.printf("%-14s %s\n", label, text)
		}
	}
	row("dog", d.Name+also1(d.Aliases))
	row("born", d.Born.String())
	for _, b := range d.Boardings {
		stay := "arrived " + b.Arrived.String()
		if b.Due != 0 {
			stay += ", due " + b.Due.String()
		}
		if b.Home != 0 {
			stay += ", went home " + b.Home.String()
		}
		row("stay", stay)
		row("owner wants", b.Wishes)
	}
	row("owner", strings.Join(d.Owners, ", "))
	row("main trainer", d.Main)
	for _, g := range d.Goals {
		row("goal", goalLine(g))
	}
	for _, w := range d.Words {
		s := w.Cue + ":"
		if w.Word != "" {
			s += fmt.Sprintf(" say %q", w.Word)
		}
		if w.Signal != "" {
			s += " show " + w.Signal
		}
		if w.Ends != "" {
			s += fmt.Sprintf(" ends with %q", w.Ends)
		}
		row("word", s)
	}
	if d.RewardOnly {
		row("equipment", "rewards only, no collar")
	}
	row("device", d.Device)
	row("consent", d.Consent)
	for _, h := range d.Holds {
		row("hold", holdLine(h))
	}
}
