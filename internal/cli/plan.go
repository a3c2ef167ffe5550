package cli

import (
	"context"
	"io"

	"github.com/spf13/cobra"

	"firstcue/internal/analysis"
	"firstcue/internal/report"
	"firstcue/internal/store"
	"firstcue/internal/training"
)

func newPlanCommand(a *app) *cobra.Command {
	var format, asOf, output string
	var minutes int
	cmd := &cobra.Command{
		Use:   "plan [DOG]",
		Short: "Say what to do next, and why",
		Long: `Plans a dog's next session: what would change its verdict most comes first, each line
with its reason, and an easy cue last. It takes as many lines as fit into a session of
15 minutes; --minutes says how long yours is, and 0 lists everything.

Without a dog it prints a day sheet of every dog that is here, by handler. A plan is
a proposal from the record; the dog in front of you comes first. Leave out what looks
painful or frightened, and ask the owner's vet.`,
		Example: `  firstcue plan Tarn
  firstcue plan Tarn --minutes 10
  firstcue plan`,
		Args: takes(0, 1, "at most a dog"), ValidArgsFunction: inOrder(a.completeDogs),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			if minutes < 0 {
				return usagef("--minutes is a number of minutes from 1, or 0 for no limit")
			}
			day, err := a.asOf(asOf)
			if err != nil {
				return err
			}
			return a.reading(ctx, func(s *store.Store) error {
				k, err := s.Kennel(ctx)
				if err != nil {
					return err
				}
				if len(args) == 1 {
					d, err := pick(k.Dogs, "dog", args[0])
					if err != nil {
						return err
					}
					x, lines, err := a.planDog(ctx, s, d.Name, day, minutes)
					if err != nil {
						return err
					}
					if format == "html" {
						return usagef("the page to pin up is the plan of all dogs").try("firstcue plan --format html -o tomorrow.html")
					}
					return a.output(output, func(w io.Writer) error {
						if format == "json" {
							return report.PlanJSON(w, x, lines)
						}
						return report.PlanText(w, x, lines, a.optionsFor(output))
					})
				}
				var dogs []analysis.Assessment
				var lines [][]analysis.PlanLine
				for _, d := range k.Dogs {
					if b, ok := d.Boarding(day); !ok || b.Home != 0 && b.Home <= day {
						continue
					}
					x, l, err := a.planDog(ctx, s, d.Name, day, minutes)
					if err != nil {
						return err
					}
					dogs, lines = append(dogs, x), append(lines, l)
				}
				sheet := report.MakeDaySheet(day, dogs, lines)
				return a.output(output, func(w io.Writer) error {
					switch format {
					case "json":
						return report.DaySheetJSON(w, sheet)
					case "html":
						return report.DaySheetHTML(w, sheet, a.optionsFor(output))
					}
					return report.DaySheetText(w, sheet, a.optionsFor(output))
				})
			})
		},
	}
	cmd.Flags().IntVar(&minutes, "minutes", 15, "what fits into this `NUMBER` of minutes for each dog, 0 for everything")
	asOfVar(cmd, &asOf)
	formatVar(cmd, &format, "text", "json", "html")
	outputVar(cmd, &output)
	return cmd
}

func (a *app) planDog(ctx context.Context, s *store.Store, dog string, day training.Day, minutes int) (analysis.Assessment, []analysis.PlanLine, error) {
	x, _, err := a.assess(ctx, s, dog, day)
	if err != nil || minutes == 0 {
		return x, x.Plan, err
	}
	return x, analysis.FitPlan(x.Plan, float64(minutes)), nil
}
