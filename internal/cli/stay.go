package cli

import (
	"context"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"firstcue/internal/analysis"
	"firstcue/internal/report"
	"firstcue/internal/store"
	"firstcue/internal/training"
)

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
