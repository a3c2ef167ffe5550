package cli

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"firstcue/internal/say"
	"firstcue/internal/store"
	"firstcue/internal/training"
)

func newHandlerCommand(a *app) *cobra.Command {
	var role string
	var also []string
	add := &cobra.Command{
		Use:   "add NAME",
		Short: "Add somebody who gives cues",
		Long: `Adds a handler: somebody who gives cues. The role says who that is for the dogs:
  trainer   trains them here
  owner     owns one or more (an owner is an outsider for all other dogs)
  outsider  trains none of them: a kennel hand, a visitor`,
		Example: `  firstcue handler add Ailsa
  firstcue handler add 'Mrs Oake' --role owner`,
		Args: takes(1, 1, "a name"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.addEntry(cmd.Context(), "handler", args[0], func(s *store.Store) (string, error) {
				h, err := s.PutHandler(cmd.Context(), training.Handler{Name: args[0], Role: training.Role(role), Aliases: also})
				return fmt.Sprintf("%s, %s", h.Name, h.Role), err
			})
		},
	}
	chooseVar(add, &role, "role", "trainer", "who that is", "trainer", "owner", "outsider")
	alsoVar(add, &also)

	var newRole string
	var newAlso []string
	set := &cobra.Command{
		Use:     "set NAME",
		Short:   "Change a handler's role or other spellings",
		Long:    "Changes a handler. To change the name itself, use rename.",
		Example: "  firstcue handler set Pim --role outsider",
		Args:    takes(1, 1, "a handler's name"), ValidArgsFunction: inOrder(a.completeHandlers),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.setEntry(cmd, func(s *store.Store, k training.Kennel) (string, error) {
				h, err := pick(k.Handlers, "handler", args[0])
				if err != nil {
					return "", err
				}
				if cmd.Flags().Changed("role") {
					h.Role = training.Role(newRole)
				}
				if cmd.Flags().Changed("also") {
					h.Aliases = newAlso
				}
				var stated []string
				if cmd.Flags().Changed("role") {
					stated = append(stated, "role")
				}
				h, err = s.PutHandler(cmd.Context(), h, stated...)
				return fmt.Sprintf("%s, %s%s", h.Name, h.Role, also1(h.Aliases)), err
			})
		},
	}
	chooseVar(set, &newRole, "role", "", "who that is", "trainer", "owner", "outsider")
	alsoVar(set, &newAlso)

	return group(&cobra.Command{
		Use:     "handler",
		Short:   "Who gives cues: trainers, owners, outsiders",
		Long:    "The list of those who give cues. A name that a note mentions must be on it.",
		Example: "  firstcue handler list",
	}, add, set, a.listCommand("handler", func(k training.Kennel) ([]string, [][]string, any) {
		var rows [][]string
		for _, h := range k.Handlers {
			rows = append(rows, []string{h.Name, string(h.Role), strings.Join(h.Aliases, ", ")})
		}
		return []string{"handler", "role", "also written"}, rows, handlersJSON{schema("handlers"), k.Handlers}
	}), a.renameCommand("handler", a.completeHandlers), a.joinCommand("handler", a.completeHandlers), a.removeCommand("handler", a.completeHandlers))
}

func newPlaceCommand(a *app) *cobra.Command {
	var off bool
	var also []string
	add := &cobra.Command{
		Use:   "add NAME",
		Short: "Add a place",
		Long: `Adds a place where sessions happen. --off-property says that it is away from the
kennel's own ground; a dog ready to go home must have been tried at one.`,
		Example: `  firstcue place add paddock
  firstcue place add 'mill lane' --off-property`,
		Args: takes(1, 1, "a name"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.addEntry(cmd.Context(), "place", args[0], func(s *store.Store) (string, error) {
				p, err := s.PutPlace(cmd.Context(), training.Place{Name: args[0], OffProperty: off, Aliases: also})
				return p.Name + ", " + property(p.OffProperty), err
			})
		},
	}
	add.Flags().BoolVar(&off, "off-property", false, "away from the kennel's own ground")
	alsoVar(add, &also)

	var newOff bool
	var newAlso []string
	set := &cobra.Command{
		Use:   "set NAME",
		Short: "Change a place",
		Long:  "Changes a place. To change the name itself, use rename.",
		Example: `  firstcue place set 'mill lane' --off-property
  firstcue place set paddock --off-property=false`,
		Args: takes(1, 1, "a place's name"), ValidArgsFunction: inOrder(a.completePlaces),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.setEntry(cmd, func(s *store.Store, k training.Kennel) (string, error) {
				p, err := pick(k.Places, "place", args[0])
				if err != nil {
					return "", err
				}
				if cmd.Flags().Changed("off-property") {
					p.OffProperty = newOff
				}
				if cmd.Flags().Changed("also") {
					p.Aliases = newAlso
				}
				var stated []string
				if cmd.Flags().Changed("off-property") {
					stated = append(stated, "offProperty")
				}
				p, err = s.PutPlace(cmd.Context(), p, stated...)
				return fmt.Sprintf("%s, %s%s", p.Name, property(p.OffProperty), also1(p.Aliases)), err
			})
		},
	}
	set.Flags().BoolVar(&newOff, "off-property", false, "away from the kennel's own ground")
	alsoVar(set, &newAlso)

	return group(&cobra.Command{
		Use:     "place",
		Short:   "Where sessions happen",
		Long:    "The list of places. A place that a note mentions must be on it.",
		Example: "  firstcue place list",
	}, add, set, a.listCommand("place", func(k training.Kennel) ([]string, [][]string, any) {
		var rows [][]string
		for _, p := range k.Places {
			rows = append(rows, []string{p.Name, property(p.OffProperty), strings.Join(p.Aliases, ", ")})
		}
		return []string{"place", "where", "also written"}, rows, placesJSON{schema("places"), k.Places}
	}), a.renameCommand("place", a.completePlaces), a.joinCommand("place", a.completePlaces), a.removeCommand("place", a.completePlaces))
}

func property(off bool) string {
	if off {
		return "off property"
	}
	return "on property"
}

func newDeviceCommand(a *app) *cobra.Command {
	var low, high string
	var also []string
	add := &cobra.Command{
		Use:   "add NAME",
		Short: "Add a collar whose dial positions are levels",
		Long: `Adds a device. A level is a position on the dial of one device and means nothing
on another, so every level in a note needs a device. With --lowest and --highest
a level outside the dial is refused.`,
		Example: "  firstcue device add 'blue remote' --lowest 0 --highest 100",
		Args:    takes(1, 1, "a name"),
		RunE: func(cmd *cobra.Command, args []string) error {
			d, err := dial(args[0], low, high)
			if err != nil {
				return err
			}
			d.Aliases = also
			err = a.addEntry(cmd.Context(), "device", args[0], func(s *store.Store) (string, error) {
				d, err = s.PutDevice(cmd.Context(), d)
				return d.Name + comma(dialRange(d)), err
			})
			if err == nil && dialRange(d) == "" {
				a.say("  its dial: firstcue device set %s --lowest 0 --highest 100", quote(args[0]))
			}
			return err
		},
	}
	add.Flags().StringVar(&low, "lowest", "", "lowest `POSITION` of the dial")
	add.Flags().StringVar(&high, "highest", "", "highest `POSITION` of the dial")
	alsoVar(add, &also)

	var newLow, newHigh string
	var newAlso []string
	set := &cobra.Command{
		Use:   "set NAME",
		Short: "Change a device's dial or other spellings",
		Long: `Changes a device. A level outside the dial is refused from then on; what was logged
stays. To change the name itself, use rename.`,
		Example: "  firstcue device set 'blue remote' --lowest 0 --highest 100",
		Args:    takes(1, 1, "a device's name"), ValidArgsFunction: inOrder(a.completeDevices),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.setEntry(cmd, func(s *store.Store, k training.Kennel) (string, error) {
				d, err := pick(k.Devices, "device", args[0])
				if err != nil {
					return "", err
				}
				if cmd.Flags().Changed("lowest") {
					if d.Lowest, err = number("--lowest", newLow); err != nil {
						return "", err
					}
				}
				if cmd.Flags().Changed("highest") {
					if d.Highest, err = number("--highest", newHigh); err != nil {
						return "", err
					}
				}
				if err := checkDial(d); err != nil {
					return "", err
				}
				if cmd.Flags().Changed("also") {
					d.Aliases = newAlso
				}
				d, err = s.PutDevice(cmd.Context(), d)
				return d.Name + comma(dialRange(d)) + also1(d.Aliases), err
			})
		},
	}
	set.Flags().StringVar(&newLow, "lowest", "", "lowest `POSITION` of the dial; '' forgets it")
	set.Flags().StringVar(&newHigh, "highest", "", "highest `POSITION` of the dial; '' forgets it")
	alsoVar(set, &newAlso)

	return group(&cobra.Command{
		Use:     "device",
		Short:   "Collars whose dial positions are levels",
		Long:    "The list of devices. Levels are never compared across two of them.",
		Example: "  firstcue device list",
	}, add, set, a.listCommand("device", func(k training.Kennel) ([]string, [][]string, any) {
		var rows [][]string
		for _, d := range k.Devices {
			rows = append(rows, []string{d.Name, dialRange(d), strings.Join(d.Aliases, ", ")})
		}
		return []string{"device", "dial", "also written"}, rows, devicesJSON{schema("devices"), k.Devices}
	}), a.renameCommand("device", a.completeDevices), a.joinCommand("device", a.completeDevices), a.removeCommand("device", a.completeDevices))
}

func dial(name, low, high string) (training.Device, error) {
	d := training.Device{Name: name}
	var err error
	if d.Lowest, err = number("--lowest", low); err != nil {
		return d, err
	}
	if d.Highest, err = number("--highest", high); err != nil {
		return d, err
	}
	return d, checkDial(d)
}

func checkDial(d training.Device) error {
	if d.Lowest.Known && d.Highest.Known && d.Lowest.V >= d.Highest.V {
		return usagef("the lowest position %s is not below the highest %s", say.Number(d.Lowest.V), say.Number(d.Highest.V))
	}
	return nil
}

// comma puts the range of a dial behind a name.
func comma(dial string) string {
	if dial == "" {
		return ""
	}
	return ", dial " + dial
}

// dialRange is "1 to 100", "" for a dial of which nothing is known.
func dialRange(d training.Device) string {
	end := func(n training.Num) string {
		if !n.Known {
			return "?"
		}
		return say.Number(n.V)
	}
	if !d.Lowest.Known && !d.Highest.Known {
		return ""
	}
	return end(d.Lowest) + " to " + end(d.Highest)
}

// alsoVar adds --also, other spellings of a name.
func alsoVar(cmd *cobra.Command, p *[]string) {
	cmd.Flags().StringArrayVar(p, "also", nil, "another `SPELLING` that notes may use (may be repeated)")
}

func also1(aliases []string) string {
	if len(aliases) == 0 {
		return ""
	}
	return ", also written " + strings.Join(aliases, ", ")
}

// list makes an empty JSON list of a nil one.
func list[T any](xs []T) []T {
	if xs == nil {
		return []T{}
	}
	return xs
}

// addEntry adds an entry; one that is there already is refused, not changed.
func (a *app) addEntry(ctx context.Context, what, name string, put func(*store.Store) (string, error)) error {
	if training.Key(name) == "" {
		return usagef("the name of the %s is empty", what)
	}
	return a.changing(ctx, func(s *store.Store) error {
		said, err := put(s)
		if errors.Is(err, store.ErrTaken) {
			if k, kerr := s.Kennel(ctx); kerr == nil {
				if there, nerr := entryName(k, what, name); nerr == nil {
					return usagef("there is a %s called %s already", what, there).
						try("change it: firstcue %s set %s ... (--help lists what can be changed)\nanother one: choose another name", what, quote(there))
				}
			}
		}
		if err != nil {
			return err
		}
		a.say("added %s %s", what, said)
		return nil
	})
}

// setEntry changes an entry; without a flag there is nothing to change.
func (a *app) setEntry(cmd *cobra.Command, put func(*store.Store, training.Kennel) (string, error)) error {
	changed := false
	cmd.LocalNonPersistentFlags().VisitAll(func(f *pflag.Flag) { changed = changed || f.Changed })
	if !changed {
		return usagef("nothing to change was said").try("%s --help lists what can be", cmd.CommandPath())
	}
	ctx := cmd.Context()
	return a.withStore(ctx, store.Options{}, func(s *store.Store) error {
		k, err := s.Kennel(ctx)
		if err != nil {
			return err
		}
		said, err := put(s, k)
		if err != nil {
			return err
		}
		a.say("now: %s", said)
		return nil
	})
}

// listCommand prints one of the kennel's lists.
func (a *app) listCommand(what string, of func(training.Kennel) (headers []string, rows [][]string, items any)) *cobra.Command {
	var format string
	cmd := &cobra.Command{
		Use:     "list",
		Short:   "List every " + what,
		Long:    "Lists every " + what + " of the kennel.",
		Example: fmt.Sprintf("  firstcue %s list\n  firstcue %s list --format json", what, what),
		Args:    takes(0, 0, "no argument"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			k, _, err := a.listed(cmd.Context())
			if err != nil {
				return err
			}
			headers, rows, items := of(k)
			if format == "json" {
				return writeFailed(a.json(items))
			}
			return a.table(fmt.Sprintf("no %s yet: firstcue %s add NAME", what, what), headers, rows)
		},
	}
	formatVar(cmd, &format, "text", "json")
	return cmd
}
