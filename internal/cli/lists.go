package cli

import (
	"context"
	"strings"

	"github.com/spf13/cobra"

	"firstcue/internal/say"
	"firstcue/internal/store"
	"firstcue/internal/training"
)

func newHandlerCommand(a *app) *cobra.Command {
	return entryCommand(a, entryList[training.Handler]{
		what: "handler", one: "a handler's name", names: a.completeHandlers,
		list: help{"Who gives cues: trainers, owners, outsiders",
			"The list of those who give cues. A name that a note mentions must be on it.", "  firstcue handler list"},
		add: help{"Add somebody who gives cues", `Adds a handler: somebody who gives cues. The role says who that is for the dogs:
  trainer   trains them here
  owner     owns one or more (an owner is an outsider for all other dogs)
  outsider  trains none of them: a kennel hand, a visitor`,
			`  firstcue handler add Ailsa
  firstcue handler add 'Mrs Oake' --role owner`},
		set: help{"Change a handler's role or other spellings", "Changes a handler. To change the name itself, use rename.",
			"  firstcue handler set Pim --role outsider"},
		flags: func(cmd *cobra.Command, adding bool) func(*training.Handler) error {
			var role, usual string
			if adding {
				usual = "trainer"
			}
			chooseVar(cmd, &role, "role", usual, "who that is", "trainer", "owner", "outsider")
			also := alsoVar(cmd)
			return func(h *training.Handler) error {
				if role != "" {
					h.Role = training.Role(role)
				}
				also(&h.Aliases)
				return nil
			}
		},
		states: map[string]string{"role": "role"},
		of:     func(k training.Kennel) []training.Handler { return k.Handlers },
		put: func(ctx context.Context, s *store.Store, h training.Handler, stated []string) (training.Handler, error) {
			return s.PutHandler(ctx, h, stated...)
		},
		line:    func(h training.Handler) string { return h.Name + ", " + string(h.Role) + also1(h.Aliases) },
		headers: []string{"handler", "role", "also written"},
		row: func(h training.Handler) []string {
			return []string{h.Name, string(h.Role), strings.Join(h.Aliases, ", ")}
		},
		begin: func(name string) training.Handler { return training.Handler{Name: name} },
	})
}

func newPlaceCommand(a *app) *cobra.Command {
	return entryCommand(a, entryList[training.Place]{
		what: "place", one: "a place's name", names: a.completePlaces,
		list: help{"Where sessions happen", "The list of places. A place that a note mentions must be on it.", "  firstcue place list"},
		add: help{"Add a place", `Adds a place where sessions happen. --off-property says that it is away from the
kennel's own ground; a dog ready to go home must have been tried at one.`,
			`  firstcue place add paddock
  firstcue place add 'mill lane' --off-property`},
		set: help{"Change a place", "Changes a place. To change the name itself, use rename.",
			`  firstcue place set 'mill lane' --off-property
  firstcue place set paddock --off-property=false`},
		flags: func(cmd *cobra.Command, _ bool) func(*training.Place) error {
			off := cmd.Flags().Bool("off-property", false, "away from the kennel's own ground")
			also := alsoVar(cmd)
			return func(p *training.Place) error {
				if cmd.Flags().Changed("off-property") {
					p.OffProperty = *off
				}
				also(&p.Aliases)
				return nil
			}
		},
		states: map[string]string{"off-property": "offProperty"},
		of:     func(k training.Kennel) []training.Place { return k.Places },
		put: func(ctx context.Context, s *store.Store, p training.Place, stated []string) (training.Place, error) {
			return s.PutPlace(ctx, p, stated...)
		},
		line:    func(p training.Place) string { return p.Name + ", " + property(p.OffProperty) + also1(p.Aliases) },
		headers: []string{"place", "where", "also written"},
		row: func(p training.Place) []string {
			return []string{p.Name, property(p.OffProperty), strings.Join(p.Aliases, ", ")}
		},
		begin: func(name string) training.Place { return training.Place{Name: name} },
	})
}

func property(off bool) string {
	if off {
		return "off property"
	}
	return "on property"
}

func newDeviceCommand(a *app) *cobra.Command {
	return entryCommand(a, entryList[training.Device]{
		what: "device", one: "a device's name", names: a.completeDevices,
		list: help{"Collars whose dial positions are levels",
			"The list of devices. Levels are never compared across two of them.", "  firstcue device list"},
		add: help{"Add a collar whose dial positions are levels", `Adds a device. A level is a position on the dial of one device and means nothing
on another, so every level in a note needs a device. With --lowest and --highest
a level outside the dial is refused.`,
			"  firstcue device add 'blue remote' --lowest 0 --highest 100"},
		set: help{"Change a device's dial or other spellings", `Changes a device. A level outside the dial is refused from then on; what was logged
stays. To change the name itself, use rename.`,
			"  firstcue device set 'blue remote' --lowest 0 --highest 100"},
		flags: dialFlags,
		of:    func(k training.Kennel) []training.Device { return k.Devices },
		put: func(ctx context.Context, s *store.Store, d training.Device, _ []string) (training.Device, error) {
			return s.PutDevice(ctx, d)
		},
		line:    func(d training.Device) string { return d.Name + comma(dialRange(d)) + also1(d.Aliases) },
		headers: []string{"device", "dial", "also written"},
		row:     func(d training.Device) []string { return []string{d.Name, dialRange(d), strings.Join(d.Aliases, ", ")} },
		begin:   func(name string) training.Device { return training.Device{Name: name} },
		more: func(d training.Device) {
			if dialRange(d) == "" {
				a.say("  its dial: firstcue device set %s --lowest 0 --highest 100", quote(d.Name))
			}
		},
	})
}

// dialFlags are the flags that describe a device.
func dialFlags(cmd *cobra.Command, adding bool) func(*training.Device) error {
	forget := "; '' forgets it"
	if adding {
		forget = ""
	}
	low := cmd.Flags().String("lowest", "", "lowest `POSITION` of the dial"+forget)
	high := cmd.Flags().String("highest", "", "highest `POSITION` of the dial"+forget)
	also := alsoVar(cmd)
	return func(d *training.Device) (err error) {
		if cmd.Flags().Changed("lowest") {
			if d.Lowest, err = number("--lowest", *low); err != nil {
				return err
			}
		}
		if cmd.Flags().Changed("highest") {
			if d.Highest, err = number("--highest", *high); err != nil {
				return err
			}
		}
		also(&d.Aliases)
		return checkDial(*d)
	}
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
