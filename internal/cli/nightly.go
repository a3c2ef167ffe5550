package cli

import (
	"context"
	"io"
	"runtime"
	"sync"

	"github.com/spf13/cobra"

	"firstcue/internal/analysis"
	"firstcue/internal/report"
	"firstcue/internal/store"
	"firstcue/internal/training"
)

func newNightlyCommand(a *app) *cobra.Command {
	var format, day, output string
	var exitCode bool
	cmd := &cobra.Command{
		Use:   "nightly",
		Short: "All dogs of one evening, and what needs attention",
		Long: `Looks at every dog that is here: what was done on the day, the first asks of the day
against the usual figure, the verdict and how it changed since last night, cues that are
slipping or were not asked, the days that are left. Then what needs attention, the most
pressing first, with the open incidents of dogs that have gone home.

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
				records, err := s.Night(cmd.Context(), on)
				if err != nil {
					return err
				}
				set, err := s.Settings(cmd.Context())
				if err != nil {
					return err
				}
				n := night(on, records, set)
				if err := atHome(cmd.Context(), s, &n, on); err != nil {
					return err
				}
				if !a.quiet || n.NeedsAttention() || output != "" && output != "-" {
					err := a.output(output, func(w io.Writer) error { return writeNightly(w, n, format, a.optionsFor(output)) })
					if err != nil {
						return err
					}
					if name := toFile(output); name != "" {
						a.say("%s as of %s%s", plural(len(n.Rows), "dog"), on, name)
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
	cmd.Flags().BoolVar(&exitCode, "exit-code", false, "exit with 3 when something needs attention")
	formatVar(cmd, &format, "text", "markdown", "html", "csv", "json")
	outputVar(cmd, &output)
	return cmd
}

// night judges the dogs of one evening, and those that were here the evening
// before on that evening too.
func night(on training.Day, records []training.Record, set []training.Setting) report.Nightly {
	// Judging takes longer than reading, and one dog says nothing about another:
	// all processors judge, and the order stays that of the records.
	type judged struct{ today, before *analysis.Assessment }
	of := make([]judged, len(records))
	next := make(chan int)
	var work sync.WaitGroup
	for range min(runtime.GOMAXPROCS(0), len(records)) {
		work.Go(func() {
			for i := range next {
				r := records[i]
				bars := criteriaFor(r.Kennel, set, r.Dog.Name)
				x := analysis.Assess(r, bars, on)
				of[i].today = &x
				if b, ok := r.Dog.Boarding(on - 1); ok && (b.Home == 0 || b.Home >= on-1) {
					y := analysis.Assess(r, bars, on-1)
					of[i].before = &y
				}
			}
		})
	}
	for i := range records {
		next <- i
	}
	close(next)
	work.Wait()
	var today, before []analysis.Assessment
	for _, x := range of {
		today = append(today, *x.today)
		if x.before != nil {
			before = append(before, *x.before)
		}
	}
	return report.MakeNightly(on, today, before)
}

// atHome adds the open incidents of dogs that have gone home before the day.
func atHome(ctx context.Context, s *store.Store, n *report.Nightly, on training.Day) error {
	k, err := s.Kennel(ctx)
	if err != nil {
		return err
	}
	for _, d := range k.Dogs {
		b, ok := goneHome(d, on)
		if !ok || b.Home == on { // on that day the dog still has its row
			continue
		}
		list, err := s.Incidents(ctx, d.Name)
		if err != nil {
			return err
		}
		n.AddHome(d.Name, b.Home, list)
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
