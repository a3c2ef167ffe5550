package cli

import (
	"context"
	"fmt"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"firstcue/internal/report"
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
	owners, goals, words                              []string
	also                                              func(*[]string)
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
	f.also = alsoVar(cmd)
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
	f.also(&d.Aliases)
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
	if handlers, err = f.people(cmd, k, d); err != nil {
		return nil, nil, err
	}
	k.Handlers = append(slices.Clone(k.Handlers), handlers...)
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

// people sets the dog's owners and its main trainer. Those who are on no list
// yet are returned.
func (f *dogFlags) people(cmd *cobra.Command, k training.Kennel, d *training.Dog) (handlers []training.Handler, err error) {
	if cmd.Flags().Changed("owner") {
		d.Owners = nil
		for _, o := range f.owners {
			if h, ok := k.Handler(o); ok {
				d.Owners = append(d.Owners, h.Name)
				continue
			}
			if training.Key(o) == "" {
				return nil, usagef("--owner is empty")
			}
			d.Owners = append(d.Owners, o)
			handlers = append(handlers, training.Handler{Name: o, Role: training.Owner})
			k.Handlers = append(slices.Clone(k.Handlers), handlers[len(handlers)-1])
		}
	}
	if cmd.Flags().Changed("main") {
		h, err := pick(k.Handlers, "handler", f.main)
		if err != nil && !f.addNew {
			return nil, err
		}
		if err != nil {
			h = training.Handler{Name: f.main, Role: training.Trainer}
			handlers = append(handlers, h)
		}
		d.Main = h.Name
	}
	return handlers, nil
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
