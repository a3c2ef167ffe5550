package cli

import (
	"cmp"
	"context"
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"firstcue/internal/analysis"
	"firstcue/internal/report"
	"firstcue/internal/store"
	"firstcue/internal/training"
)

func newRecheckCommand(a *app) *cobra.Command {
	var format, day, output string
	var exitCode bool
	cmd := &cobra.Command{
		Use:   "recheck [DOG]",
		Short: "Dogs gone home: who is due, and what they kept",
		Long: `Lists the dogs that went home with their next recheck, those in trouble first, then
overdue ones: weeks 1, 2 and 4, months 2 to 6 and month 12 after the handoff. With a dog
it shows how each recheck went against the day of the handoff: the first ask of the day,
which says most about what was kept, and all first asks, with their counts and intervals.

A recheck is an ordinary session, logged like any other after firstcue dog home. It
counts for the date it is nearest to. The last recheck stands beside the handoff: a cue
is in trouble when it was ready and is not any more, or when all of the recheck's 95%
interval lies below the bar. Open incidents stand with it. A dog that came back for a
new stay is not listed.
A day is ` + dayWords + `.`,
		Example: `  firstcue recheck
  firstcue recheck Quince
  firstcue recheck --exit-code --format json`,
		Args: takes(0, 1, "at most a dog"), ValidArgsFunction: inOrder(a.completeDogsGoneHome),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			on, err := a.pastDay("--day", day)
			if err != nil {
				return err
			}
			return a.reading(ctx, func(s *store.Store) error {
				list, err := a.rechecks(ctx, s, args, on)
				if err != nil {
					return err
				}
				err = a.output(output, func(w io.Writer) error {
					return a.writeRechecks(w, list, on, len(args) == 1, format, a.optionsFor(output))
				})
				if err != nil {
					return err
				}
				if name := toFile(output); name != "" {
					a.say("%s gone home as of %s%s", plural(len(list), "dog"), on, name)
				}
				if exitCode && slices.ContainsFunc(list, report.DogRechecks.NeedsAttention) {
					return exitError{code: exitAttention}
				}
				return nil
			})
		},
	}
	dayVar(cmd, &day, "day", "as-of", "the `DAY` to look from (default today)")
	cmd.Flags().BoolVar(&exitCode, "exit-code", false, "exit with 3 when a recheck is overdue, an incident is open or a cue is in trouble")
	formatVar(cmd, &format, "text", "json", "csv")
	outputVar(cmd, &output)
	return cmd
}

func (a *app) writeRechecks(w io.Writer, list []report.DogRechecks, on training.Day, one bool, format string, o report.Options) error {
	switch {
	case format == "json":
		return report.RecheckJSON(w, on, list, o)
	case format == "csv":
		return report.RecheckCSV(w, list, report.CSVOptions{})
	case one:
		return report.RecheckText(w, list[0], o)
	case len(list) == 0:
		a.say("no dog has gone home yet: firstcue dog home DOG")
		return nil
	}
	return report.RecheckListText(w, on, list, o)
}

// goneHome returns the dog's last stay when it is over and no other has begun
// by the day.
func goneHome(d training.Dog, on training.Day) (training.Boarding, bool) {
	b, ok := d.Boarding(on)
	return b, ok && b.Home != 0 && b.Home <= on
}

// rechecks gathers the dogs that went home, those in trouble first, overdue ones next, then by the next
// date; or the one dog that is named.
func (a *app) rechecks(ctx context.Context, s *store.Store, args []string, on training.Day) ([]report.DogRechecks, error) {
	k, set, err := kennelOf(ctx, s)
	if err != nil {
		return nil, err
	}
	dogs := k.Dogs
	if len(args) == 1 {
		d, err := pick(k.Dogs, "dog", args[0])
		if err != nil {
			return nil, err
		}
		if _, ok := goneHome(d, on); !ok {
			return nil, usagef("%s has not gone home, so there is nothing to recheck", d.Name).try("when it has: firstcue dog home %s", quote(d.Name))
		}
		dogs = []training.Dog{d}
	}
	var out []report.DogRechecks
	for _, d := range dogs {
		stay, ok := goneHome(d, on)
		if !ok {
			continue
		}
		r, err := s.Record(ctx, d.Name, on)
		if err != nil {
			return nil, err
		}
		bars := criteriaFor(r.Kennel, set, d.Name)
		handoff, visits := analysis.Retention(r, bars, stay.Arrived, stay.Home, report.RecheckSpans(stay.Home), on)
		x := report.MakeRechecks(d, stay, handoff, visits, recheckCues(d, handoff), on)
		x.Judge(analysis.Assess(r, bars, stay.Home), analysis.Assess(r, bars, on))
		out = append(out, x)
	}
	slices.SortStableFunc(out, func(x, y report.DogRechecks) int {
		if tx, ty := x.InTrouble(), y.InTrouble(); tx != ty {
			if tx {
				return -1
			}
			return 1
		}
		nx, okx := x.Next()
		ny, oky := y.Next()
		switch {
		case okx != oky && okx:
			return -1
		case okx != oky:
			return 1
		}
		return cmp.Or(cmp.Compare(nx.Day, ny.Day), strings.Compare(training.Key(x.Dog), training.Key(y.Dog)))
	})
	return out, nil
}

// recheckCues lists what is to be asked: what was agreed, asked at the handoff
// or not, and for a dog without goals what was asked.
func recheckCues(d training.Dog, handoff analysis.Visit) []string {
	var out []string
	add := func(cue string) {
		if !slices.ContainsFunc(out, func(c string) bool { return training.Key(c) == training.Key(cue) }) {
			out = append(out, cue)
		}
	}
	for _, q := range handoff.Cues {
		if q.Agreed == nil || *q.Agreed {
			add(q.Cue)
		}
	}
	for _, g := range d.Goals {
		add(g.Cue)
	}
	return out
}

func (a *app) completeDogsGoneHome(_ *cobra.Command, _ []string, typed string) ([]string, cobra.ShellCompDirective) {
	today := a.today()
	var home []training.Dog
	for _, d := range a.kennelForCompletion().Dogs {
		if _, ok := goneHome(d, today); ok {
			home = append(home, d)
		}
	}
	return candidates(home, typed, func(d training.Dog) string {
		b, _ := d.Boarding(today)
		return "went home " + b.Home.String()
	}), cobra.ShellCompDirectiveNoFileComp
}
