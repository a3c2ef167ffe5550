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

func newNightlyCommand(a *app) *cobra.Command {
	var format, day, output string
	var exitCode, full bool
	cmd := &cobra.Command{
		Use:   "nightly",
		Short: "All dogs of one evening, and what needs attention",
		Long: `Looks at every dog that is here: first what needs a person tonight, dog by dog, then a
line a dog by the day it goes home: the verdict, what was asked today against what the
dog did lately, and what is still missing. Dogs gone home with an open incident are named.

It is made for a job that runs every night: it only reads, from one state of the store
while others log, and the same record gives the same bytes. With --quiet it prints
nothing when nothing needs attention. A file named by -o gets its name only when it is
whole, and is written in any case. docs/nightly.md has a timer and a cron line.
A day is ` + dayWords + `.`,
		Example: `  firstcue nightly
  firstcue nightly --day yesterday --format csv
  firstcue nightly --quiet --exit-code
  firstcue nightly --format html -o tonight.html`,
		Args: takes(0, 0, "no argument"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			on, err := a.pastDay("--day", day)
			if err != nil {
				return err
			}
			return a.reading(cmd.Context(), func(s *store.Store) error {
				set, err := s.Settings(cmd.Context())
				if err != nil {
					return err
				}
				n, err := night(on, set, func(use func(training.Record)) error { return s.EachOfNight(cmd.Context(), on, use) })
				if err != nil {
					return err
				}
				if err := atHome(cmd.Context(), s, &n, on); err != nil {
					return err
				}
				o := a.optionsFor(output)
				o.All = full
				if !a.quiet || n.NeedsAttention() || output != "" && output != "-" {
					err := a.output(output, func(w io.Writer) error { return writeNightly(w, n, format, o) })
					if err != nil {
						return err
					}
					if name := toFile(output); name != "" {
						a.say("%s as of %s%s", plural(len(n.Dogs), "dog"), on, name)
					}
				}
				if exitCode && n.NeedsAttention() {
					return exitError{code: exitAttention}
				}
				return nil
			})
		},
	}
	dayVar(cmd, &day, "day", "as-of", "the `DAY` to look at (default today)")
	cmd.Flags().BoolVar(&full, "full", false, "everything there is to look at, not what comes first")
	cmd.Flags().BoolVar(&exitCode, "exit-code", false, "exit with 3 when something needs attention")
	formatVar(cmd, &format, "text", "markdown", "html", "csv", "json")
	outputVar(cmd, &output)
	return cmd
}

// night judges the dogs of one evening. each hands over their records.
func night(on training.Day, set []training.Setting, each func(use func(training.Record)) error) (report.Nightly, error) {
	var dogs []analysis.Assessment
	inHold := map[string]report.InHold{}
	err := each(func(r training.Record) {
		a := analysis.Assess(r, criteriaFor(r.Kennel, set, r.Dog.Name), on)
		dogs = append(dogs, a)
		for _, s := range standing(r.Sessions) {
			if a.Verdict != analysis.OnHold || s.Day() != on {
				continue
			}
			h := inHold[a.Name]
			inHold[a.Name] = report.InHold{Trials: h.Trials + countTrials([]training.Session{s}), Sessions: h.Sessions + 1}
		}
	})
	if err != nil {
		return report.Nightly{}, err
	}
	return report.MakeNightly(on, dogs, inHold), nil
}

// atHome adds the open incidents of dogs that have gone home before the day. It
// reads the incidents first and then their dogs: to ask every dog of the kennel
// took longer than the night itself.
func atHome(ctx context.Context, s *store.Store, n *report.Nightly, on training.Day) error {
	all, err := s.Incidents(ctx, "")
	if err != nil {
		return err
	}
	of := map[string][]training.Incident{}
	var names []string
	for _, i := range all {
		if i.Day > on || i.Closed != 0 && i.Closed <= on {
			continue
		}
		if of[i.Dog] == nil {
			names = append(names, i.Dog)
		}
		of[i.Dog] = append(of[i.Dog], i)
	}
	if names == nil {
		return nil
	}
	k, err := s.KennelOf(ctx, names...)
	if err != nil {
		return err
	}
	slices.SortFunc(k.Dogs, func(a, b training.Dog) int {
		return cmp.Or(strings.Compare(training.Key(a.Name), training.Key(b.Name)), strings.Compare(a.Name, b.Name))
	})
	for _, d := range k.Dogs {
		if b, ok := goneHome(d, on); ok && b.Home != on { // on that day the dog still has its row
			n.AddHome(d.Name, b.Home, of[d.Name])
		}
	}
	return nil
}

func writeNightly(w io.Writer, n report.Nightly, format string, o report.Options) error {
	switch format {
	case "markdown":
		return report.NightlyMarkdown(w, n, o)
	case "html":
		return report.NightlyHTML(w, n, o)
	case "csv":
		return report.NightlyCSV(w, n, report.CSVOptions{})
	case "json":
		return report.NightlyJSON(w, n, o)
	}
	return report.NightlyText(w, n, o)
}

// optionsFor are the report options for an answer that goes to the named file,
// or to standard output: a file has no width and no colours of its own.
func (a *app) optionsFor(output string) report.Options {
	if output != "" && output != "-" {
		return report.Options{}
	}
	return a.options()
}
