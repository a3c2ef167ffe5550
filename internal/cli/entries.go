package cli

import (
	"context"
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"firstcue/internal/store"
	"firstcue/internal/training"
)

// entryList is one of the kennel's lists of handlers, places, devices and cues:
// what its commands say, and how an entry is read from flags, stored and shown.
type entryList[T named] struct {
	what           store.List
	list, add, set help
	one            string // "a handler's name", for set
	names          cobra.CompletionFunc
	flags          func(cmd *cobra.Command, adding bool) func(*T) error
	states         map[string]string // by flag: the field that it states even where nothing changes
	of             func(training.Kennel) []T
	put            func(ctx context.Context, s *store.Store, x T, stated []string) (T, error)
	line           func(T) string // one entry in a line
	headers        []string
	row            func(T) []string
	begin          func(name string) T
	more           func(T) // what is said below of a new entry, if there is more; nil = nothing
}

// help is what a command says of itself.
type help struct{ short, long, example string }

// entryCommand makes the commands of a list.
func entryCommand[T named](a *app, e entryList[T]) *cobra.Command {
	return group(&cobra.Command{Use: e.what, Short: e.list.short, Long: e.list.long, Example: e.list.example},
		e.addCommand(a), e.setCommand(a), e.listCommand(a),
		a.renameCommand(e.what, e.names), a.joinCommand(e.what, e.names), a.removeCommand(e.what, e.names))
}

func (e entryList[T]) addCommand(a *app) *cobra.Command {
	var apply func(*T) error
	cmd := &cobra.Command{
		Use: "add NAME", Short: e.add.short, Long: e.add.long, Example: e.add.example,
		Args: takes(1, 1, "a name"),
		RunE: func(cmd *cobra.Command, args []string) error {
			x := e.begin(args[0])
			if err := apply(&x); err != nil {
				return err
			}
			err := a.addEntry(cmd.Context(), e.what, args[0], func(s *store.Store) (said string, err error) {
				x, err = e.put(cmd.Context(), s, x, nil)
				return e.line(x), err
			})
			if err == nil && e.more != nil {
				e.more(x)
			}
			return err
		},
	}
	apply = e.flags(cmd, true)
	return cmd
}

func (e entryList[T]) setCommand(a *app) *cobra.Command {
	var apply func(*T) error
	cmd := &cobra.Command{
		Use: "set NAME", Short: e.set.short, Long: e.set.long, Example: e.set.example,
		Args: takes(1, 1, e.one), ValidArgsFunction: inOrder(e.names),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.setEntry(cmd, func(s *store.Store, k training.Kennel) (string, error) {
				x, err := pick(e.of(k), e.what, args[0])
				if err != nil {
					return "", err
				}
				if err := apply(&x); err != nil {
					return "", err
				}
				var stated []string
				for flag, field := range e.states {
					if cmd.Flags().Changed(flag) {
						stated = append(stated, field)
					}
				}
				x, err = e.put(cmd.Context(), s, x, stated)
				return e.line(x), err
			})
		},
	}
	apply = e.flags(cmd, false)
	return cmd
}

func (e entryList[T]) listCommand(a *app) *cobra.Command {
	var format string
	cmd := &cobra.Command{
		Use:     "list",
		Short:   "List every " + e.what,
		Long:    "Lists every " + e.what + " of the kennel.",
		Example: fmt.Sprintf("  firstcue %s list\n  firstcue %s list --format json", e.what, e.what),
		Args:    takes(0, 0, "no argument"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			k, _, err := a.listed(cmd.Context())
			if err != nil {
				return err
			}
			if format == "json" {
				return writeFailed(a.json(listJSON(e.what, k)))
			}
			var rows [][]string
			for _, x := range e.of(k) {
				rows = append(rows, e.row(x))
			}
			return a.table(fmt.Sprintf("no %s yet: firstcue %s add NAME", e.what, e.what), e.headers, rows)
		},
	}
	formatVar(cmd, &format, "text", "json")
	return cmd
}

// listJSON is one of the lists, under its own name.
func listJSON(what store.List, k training.Kennel) any {
	switch what {
	case "handler":
		return handlersJSON{schema("handlers"), k.Handlers}
	case "place":
		return placesJSON{schema("places"), k.Places}
	case "device":
		return devicesJSON{schema("devices"), k.Devices}
	}
	return cuesJSON{schema("cues"), k.Cues}
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

// alsoVar adds --also, other spellings of a name. The function it returns puts
// them in the place of those that an entry has, if any were given.
func alsoVar(cmd *cobra.Command) func(aliases *[]string) {
	also := cmd.Flags().StringArray("also", nil, "another `SPELLING` that notes may use (may be repeated)")
	return func(aliases *[]string) {
		if cmd.Flags().Changed("also") {
			*aliases = *also
		}
	}
}

func also1(aliases []string) string {
	if len(aliases) == 0 {
		return ""
	}
	return ", also written " + strings.Join(aliases, ", ")
}
