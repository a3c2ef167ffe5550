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

type reportOptions struct {
	format, asOf, output string
	exitCode, full       bool
}

func newReportCommand(a *app) *cobra.Command {
	var o reportOptions
	cmd := &cobra.Command{
		Use:   "report DOG",
		Short: "Say whether a dog is ready, and why",
		Long: `Judges a dog on one screen: the verdict, what to do about it, a line a cue, the three
reasons that matter, the steps before home, what comes next, what to mind today.
"Not proven" means that too little was seen; it never means ready. --full has
everything else and explains each number. The bars are those of firstcue criteria DOG.

The verdict follows from the notes, the bars and the day alone. --as-of DAY shows what
had happened by then, as it is known now.`,
		Example: `  firstcue report Tarn
  firstcue report Tarn --full
  firstcue report Tarn --as-of 2026-03-14
  firstcue report Tarn --format json
  firstcue report Tarn --format html -o tarn.html`,
		Args: takes(1, 1, "a dog"), ValidArgsFunction: inOrder(a.completeDogs),
		RunE: func(cmd *cobra.Command, args []string) error { return a.runReport(cmd.Context(), args[0], o) },
	}
	formatVar(cmd, &o.format, "text", "json", "html", "markdown")
	asOfVar(cmd, &o.asOf)
	outputVar(cmd, &o.output)
	cmd.Flags().BoolVar(&o.full, "full", false, "everything, and what each number means")
	cmd.Flags().BoolVar(&o.exitCode, "exit-code", false, "exit with 3 when the dog is not ready")
	return cmd
}

func (a *app) runReport(ctx context.Context, dog string, o reportOptions) error {
	return a.withAssessment(ctx, dog, o.asOf, func(x analysis.Assessment, _ training.Record) error {
		if err := a.output(o.output, func(w io.Writer) error { return writeReport(w, x, o, a.optionsFor(o.output)) }); err != nil {
			return err
		}
		if o.exitCode && x.Verdict != analysis.Ready {
			return exitError{code: exitAttention}
		}
		return nil
	})
}

// withAssessment judges the dog on the day of --as-of and hands the judgement over with
// the record it rests on.
func (a *app) withAssessment(ctx context.Context, dog, asOf string, use func(analysis.Assessment, training.Record) error) error {
	day, err := a.asOf(asOf)
	if err != nil {
		return err
	}
	return a.withOneDog(ctx, dog, func(s *store.Store, _ training.Kennel, d training.Dog) error {
		x, r, err := a.assess(ctx, s, d.Name, day)
		if err != nil {
			return err
		}
		return use(x, r)
	})
}

func writeReport(w io.Writer, x analysis.Assessment, ro reportOptions, o report.Options) error {
	switch {
	case ro.format == "json":
		return report.JSON(w, x, o)
	case ro.format == "html":
		return report.HTML(w, x, o)
	case ro.format == "markdown":
		return report.Markdown(w, x, o)
	case ro.full:
		return report.Full(w, x, o)
	}
	return report.Text(w, x, o)
}
