package cli

import (
	"github.com/spf13/cobra"

	"firstcue/internal/analysis"
	"firstcue/internal/report"
	"firstcue/internal/store"
	"firstcue/internal/training"
)

func newReportCommand(a *app) *cobra.Command {
	var format, asOf string
	var exitCode, all bool
	cmd := &cobra.Command{
		Use:   "report DOG",
		Short: "Say whether a dog is ready, and why",
		Long: `Judges a dog: the verdict and why, then each cue with its counts, intervals and what
stands in the way. "Not shown" means that too little was seen, and never ready. The
bars are those of firstcue criteria DOG.

The verdict follows from the notes, the bars and the day alone: --as-of gives the
report as it would have stood on an earlier day.`,
		Example: `  firstcue report Tarn
  firstcue report Tarn --as-of 2026-03-14
  firstcue report Tarn --all
  firstcue report Tarn --format json
  firstcue report Tarn --format html > tarn.html`,
		Args: takes(1, 1, "a dog"), ValidArgsFunction: inOrder(a.completeDogs),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			day, err := a.asOf(asOf)
			if err != nil {
				return err
			}
			return a.withOneDog(ctx, args[0], func(s *store.Store, k training.Kennel, d training.Dog) error {
				x, r, err := a.assess(ctx, s, d.Name, day)
				if err != nil {
					return err
				}
				before, err := a.askedBefore(ctx, s, x, r)
				if err != nil {
					return err
				}
				if err := a.writeReport(x, k, before, all, format); err != nil {
					return writeFailed(err)
				}
				if exitCode && x.Verdict != analysis.Ready {
					return exitError{code: exitAttention}
				}
				return nil
			})
		},
	}
	formatVar(cmd, &format, "text", "json", "html", "markdown")
	asOfVar(cmd, &asOf)
	cmd.Flags().BoolVar(&all, "all", false, "every step that would change a verdict and every weak spot, not the first few")
	cmd.Flags().BoolVar(&exitCode, "exit-code", false, "exit with 3 when the dog is not ready")
	return cmd
}

func (a *app) writeReport(x analysis.Assessment, k training.Kennel, before []report.AskedBefore, all bool, format string) error {
	w, o := a.env.Stdout, a.options()
	o.Before = before
	o.All = all
	o.Usual = report.UsualBars(k)
	switch format {
	case "json":
		return report.JSON(w, x, o)
	case "html":
		return report.HTML(w, x, o)
	case "markdown":
		return report.Markdown(w, x, o)
	}
	return report.Text(w, x, o)
}
