package cli

import (
	"context"
	"fmt"

	"github.com/spf13/cobra"

	"firstcue/internal/store"
	"firstcue/internal/training"
)

// entryName finds the registered spelling of a name on one of the lists.
func entryName(k training.Kennel, what, name string) (string, error) {
	var found string
	var err error
	switch what {
	case "dog":
		found, err = registered(k.Dogs, what, name)
	case "handler":
		found, err = registered(k.Handlers, what, name)
	case "place":
		found, err = registered(k.Places, what, name)
	case "device":
		found, err = registered(k.Devices, what, name)
	default:
		found, err = registered(k.Cues, what, name)
	}
	return found, err
}

func registered[T named](list []T, what, name string) (string, error) {
	x, err := pick(list, what, name)
	n, _ := spelt(x)
	return n, err
}

// withEntry opens the store to change the entry of a list that a name means.
func (a *app) withEntry(ctx context.Context, what store.List, name string, f func(s *store.Store, k training.Kennel, name string) error) error {
	return a.withStore(ctx, store.Options{}, func(s *store.Store) error {
		k, err := s.Kennel(ctx)
		if err != nil {
			return err
		}
		found, err := entryName(k, what, name)
		if err != nil {
			return err
		}
		return f(s, k, found)
	})
}

// renameCommand gives an entry of a list another name.
func (a *app) renameCommand(what store.List, names cobra.CompletionFunc) *cobra.Command {
	var yes bool
	cmd := &cobra.Command{
		Use:   "rename OLD NEW",
		Short: "Give a " + what + " another name",
		Long: "Gives a " + what + ` another name. The old one stays as another spelling, so that notes
which use it are still understood. Asks first; --yes does not.`,
		Example: map[string]string{
			"dog":     "  firstcue dog rename Tarn 'Tarn Oake' --yes",
			"handler": "  firstcue handler rename Bram 'Bram H.' --yes",
			"place":   "  firstcue place rename paddock 'north paddock' --yes",
			"device":  "  firstcue device rename 'blue remote' 'blue remote 2' --yes",
			"cue":     "  firstcue cue rename 'leave it' leave --yes",
		}[what],
		Args: takes(2, 2, "the old name and the new one"), ValidArgsFunction: inOrder(names),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			return a.withEntry(ctx, what, args[0], func(s *store.Store, _ training.Kennel, old string) error {
				if err := a.confirm(ctx, yes, fmt.Sprintf("Rename the %s %s to %s?", what, old, args[1])); err != nil {
					return err
				}
				if err := s.Rename(ctx, what, old, args[1]); err != nil {
					return err
				}
				a.say("%s %s is now %s; %s is still understood", what, old, args[1], old)
				return nil
			})
		},
	}
	cmd.Flags().BoolVarP(&yes, "yes", "y", false, "do not ask")
	return cmd
}

// joinCommand makes one entry of two that mean the same.
func (a *app) joinCommand(what store.List, names cobra.CompletionFunc) *cobra.Command {
	var yes, split bool
	cmd := &cobra.Command{
		Use:   "join WRONG RIGHT",
		Short: "Make one " + what + " of two that mean the same",
		Long: "Makes one " + what + ` of two: for a name that was typed in two ways. Everything said of
WRONG counts for RIGHT from now on, and WRONG is understood as another spelling. No
session is rewritten, and --split takes a join back. It shows what it touches and
asks first; --yes does not.`,
		Example: map[string]string{
			"handler": "  firstcue handler join Brem Bram --yes",
			"place":   "  firstcue place join 'padock' paddock --yes",
			"device":  "  firstcue device join 'bleu remote' 'blue remote' --yes",
			"cue":     "  firstcue cue join recal come --yes",
		}[what],
		Args: takes(1, 2, "the wrong name and the right one"), ValidArgsFunction: inOrder(names, names),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			if split {
				return a.withStore(ctx, store.Options{}, func(s *store.Store) error {
					if err := s.Split(ctx, what, args[0]); err != nil {
						return err
					}
					a.say("%s is a %s of its own again", args[0], what)
					return nil
				})
			}
			if len(args) < 2 {
				return usagef("%s needs the wrong name and the right one", cmd.CommandPath())
			}
			return a.withEntry(ctx, what, args[0], func(s *store.Store, k training.Kennel, from string) error {
				into, err := entryName(k, what, args[1])
				if err != nil {
					return err
				}
				p, err := s.PreviewJoin(ctx, what, from, into)
				if err != nil {
					return err
				}
				a.say("%s would count as %s: %s, %s", p.From, p.Into, plural(p.Sessions, "session"), plural(p.Dogs, "dog"))
				if err := a.confirm(ctx, yes, fmt.Sprintf("Join %s into %s?", p.From, p.Into)); err != nil {
					return err
				}
				if err := s.Join(ctx, what, from, into); err != nil {
					return err
				}
				a.say("joined; take it back: firstcue %s join --split %s", what, quote(p.From))
				return nil
			})
		},
	}
	cmd.Flags().BoolVarP(&yes, "yes", "y", false, "do not ask")
	cmd.Flags().BoolVar(&split, "split", false, "take back that this name was joined into another")
	return cmd
}

// removeCommand takes an entry off its list that nothing refers to.
func (a *app) removeCommand(what store.List, names cobra.CompletionFunc) *cobra.Command {
	var yes bool
	cmd := &cobra.Command{
		Use:   "remove NAME",
		Short: "Take an unused " + what + " off the list",
		Long: "Takes a " + what + ` off the list, for a name added by mistake. One that a session or a dog refers
to stays: rename it, or join it into the right one. Asks first; --yes does not.`,
		Example: map[string]string{
			"dog":     "  firstcue dog remove Trn --yes",
			"handler": "  firstcue handler remove Brem --yes",
			"place":   "  firstcue place remove padock --yes",
			"device":  "  firstcue device remove 'bleu remote' --yes",
			"cue":     "  firstcue cue remove recal --yes",
		}[what],
		Args: takes(1, 1, "a name"), ValidArgsFunction: inOrder(names),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			return a.withEntry(ctx, what, args[0], func(s *store.Store, _ training.Kennel, name string) error {
				u, err := s.Uses(ctx, what, name)
				if err != nil {
					return err
				}
				if u.With != "" && u.Sessions+u.Incidents == 0 {
					a.say("%s goes with its %s; no session names it", name, u.With)
				}
				if u.Sessions+u.Dogs+u.Incidents == 0 {
					err = a.confirm(ctx, yes, fmt.Sprintf("Take the %s %s off the list?", what, name))
				}
				if err != nil {
					return err
				}
				if err := s.Remove(ctx, what, name); err != nil {
					return err
				}
				a.say("%s %s is off the list", what, name)
				return nil
			})
		},
	}
	cmd.Flags().BoolVarP(&yes, "yes", "y", false, "do not ask")
	return cmd
}
