package cli

import (
	"cmp"
	"context"
	"io"
	"runtime"
	"slices"
	"strings"
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
// before on that evening too. each hands over their records.
func night(on training.Day, set []training.Setting, each func(use func(training.Record)) error) (report.Nightly, error) {
	// Judging takes longer than reading, and one dog says nothing about another:
	// all processors judge what was read while the next dog is read. Who is done
	// first must not show, so the order stays that of reading.
	type judged struct {
		record        training.Record
		today, before *analysis.Assessment
		held          []training.Session // of the day, of a dog on a vet hold
	}
	var all []*judged
	next := make(chan *judged, 1024) // reading does not wait: it keeps others from writing
	var work sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		work.Go(func() {
			for j := range next {
				bars := criteriaFor(j.record.Kennel, set, j.record.Dog.Name)
				x := analysis.Assess(j.record, bars, on)
				j.today = &x
				if b, ok := j.record.Dog.Boarding(on - 1); ok && (b.Home == 0 || b.Home >= on-1) {
					y := analysis.Verdicts(j.record, bars, on-1)
					j.before = &y
				}
				if len(x.Holds) > 0 {
					for _, s := range j.record.Sessions {
						if s.Day() == on {
							j.held = append(j.held, s)
						}
					}
				}
				j.record = training.Record{} // as large as all the rest
			}
		})
	}
	err := each(func(r training.Record) {
		j := &judged{record: r}
		all = append(all, j)
		next <- j
	})
	close(next)
	work.Wait()
	if err != nil {
		return report.Nightly{}, err
	}
	var today, before []analysis.Assessment
	held := map[string][]training.Session{}
	for _, j := range all {
		today = append(today, *j.today)
		held[j.today.Dog.Name] = j.held
		if j.before != nil {
			before = append(before, *j.before)
		}
	}
	return report.MakeNightly(on, today, before, held), nil
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
