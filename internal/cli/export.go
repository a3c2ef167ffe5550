package cli

import (
	"context"
	"io"
	"path/filepath"
	"unicode/utf8"

	"github.com/spf13/cobra"

	"firstcue/internal/report"
	"firstcue/internal/store"
	"firstcue/internal/training"
)

type exportOptions struct {
	trials, summary, excel, decimalComma, guide, all bool
	separator, format, vtt, bundle, asOf, output     string
}

func newExportCommand(a *app) *cobra.Command {
	var o exportOptions
	cmd := &cobra.Command{
		Use:   "export [DOG]",
		Short: "Write a dog's trials or figures for a spreadsheet",
		Long: `Writes a row for each trial of the dog, or with --summary a row for each cue with its
figures. RFC 4180, UTF-8, ISO 8601 times, one plain value in a cell, empty for unknown;
text that a spreadsheet would run as a formula stands behind an apostrophe. Importing a
trials file gives the same trials. Withdrawn sessions and second scorings are left out
unless --all is given. docs/csv.md describes the files; --guide writes the meaning of
every column beside the file, for programs (FILE-metadata.json, W3C CSV on the Web).

--excel writes what spreadsheets in most European settings open by a double click:
a byte order mark, and semicolons unless --separator says otherwise.

--vtt turns a session that was timed against a video into chapters (W3C WebVTT).
--bundle writes the whole store as an exchange file, as firstcue store bundle does.

The file holds the names of everybody who handled the dog. What an owner is given
is made by firstcue packet, without other people's names.`,
		Example: `  firstcue export Tarn -o tarn.csv
  firstcue export Tarn --summary
  firstcue export Tarn --excel --separator ';' --decimal-comma --guide -o tarn.csv
  firstcue export Tarn --format jsonl
  firstcue export --bundle kennel.jsonl`,
		Args: takes(0, 1, "a dog"), ValidArgsFunction: inOrder(a.completeDogs),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			if err := o.check(cmd, args); err != nil {
				return err
			}
			switch {
			case o.bundle != "":
				return a.reading(ctx, func(s *store.Store) error {
					if err := a.output(o.bundle, func(w io.Writer) error { return s.WriteBundle(ctx, w) }); err != nil {
						return err
					}
					if name := toFile(o.bundle); name != "" {
						a.say("the whole store%s", name)
					}
					return nil
				})
			case o.vtt != "":
				return a.reading(ctx, func(s *store.Store) error { return a.exportChapters(ctx, s, args, o) })
			}
			day, err := a.asOf(o.asOf)
			if err != nil {
				return err
			}
			return a.withDog(ctx, args[0], false, func(s *store.Store, _ training.Kennel, d training.Dog) error {
				if o.summary {
					return a.exportSummary(ctx, s, d.Name, day, o)
				}
				return a.exportTrials(ctx, s, d.Name, day, o)
			})
		},
	}
	fs := cmd.Flags()
	fs.BoolVar(&o.trials, "trials", false, "a row for each trial (the default)")
	fs.BoolVar(&o.summary, "summary", false, "a row for each cue, with its figures")
	fs.BoolVar(&o.excel, "excel", false, "with a byte order mark, and semicolons between cells")
	fs.StringVar(&o.separator, "separator", "", "the `CHARACTER` between cells: , ; or tab")
	fs.BoolVar(&o.decimalComma, "decimal-comma", false, "write 1,6 instead of 1.6 (not with a comma between cells)")
	fs.BoolVar(&o.guide, "guide", false, "also write what the columns mean, beside the file of -o")
	fs.BoolVar(&o.all, "all", false, "withdrawn sessions and second scorings too, marked as such")
	fs.StringVar(&o.vtt, "vtt", "", "write the chapters of this timed `SESSION`")
	fs.StringVar(&o.bundle, "bundle", "", "write the whole store to this exchange `FILE`")
	complete(cmd, "vtt", a.completeSessions)
	complete(cmd, "separator", func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
		return []string{",", ";", "tab"}, cobra.ShellCompDirectiveNoFileComp
	})
	formatVar(cmd, &o.format, "csv", "jsonl")
	asOfVar(cmd, &o.asOf)
	outputVar(cmd, &o.output)
	return cmd
}

// check refuses flags that say two things, and what each kind of file needs.
func (o *exportOptions) check(cmd *cobra.Command, args []string) error {
	kinds := 0
	for _, on := range []bool{o.trials, o.summary, o.vtt != "", o.bundle != ""} {
		if on {
			kinds++
		}
	}
	table := o.vtt == "" && o.bundle == ""
	switch {
	case kinds > 1:
		return usagef("--trials, --summary, --vtt and --bundle are different files").try("give one of them")
	case table && len(args) == 0:
		return usagef("%s needs a dog", cmd.CommandPath()).try("the whole store: firstcue export --bundle FILE")
	case o.bundle != "" && len(args) > 0:
		return usagef("--bundle writes the whole store, not %s alone", args[0])
	case o.bundle != "" && o.output != "":
		return usagef("--bundle names its file itself; leave out -o")
	case !table && (o.guide || o.excel || o.separator != "" || o.decimalComma || o.all || cmd.Flags().Changed("format")):
		return usagef("--guide, --excel, --separator, --decimal-comma, --all and --format belong to --trials and --summary")
	case o.format == "jsonl" && o.summary:
		return usagef("--summary has no JSON lines").try("firstcue report %s --format json has the figures", quote(args[0]))
	case o.format == "jsonl" && (o.guide || o.excel || o.separator != "" || o.decimalComma):
		return usagef("--guide, --excel, --separator and --decimal-comma belong to --format csv")
	case o.guide && (o.output == "" || o.output == "-"):
		return usagef("--guide is written beside the file, and there is none").try("name one: -o FILE.csv")
	}
	c, err := o.csv()
	if err != nil {
		return err
	}
	if c.DecimalComma && (c.Separator == ',' || c.Separator == 0 && !c.Excel) {
		return usagef("a decimal comma and a comma between cells can't be told apart").try("add --separator ';'")
	}
	return nil
}

func (o *exportOptions) csv() (report.CSVOptions, error) {
	c := report.CSVOptions{Excel: o.excel, DecimalComma: o.decimalComma}
	switch o.separator {
	case "":
	case "tab", `\t`:
		c.Separator = '\t'
	case ",", ";", "\t":
		c.Separator, _ = utf8.DecodeRuneInString(o.separator)
	default:
		return c, usagef("--separator: %q is not one of , ; and tab", o.separator).try("put it in quotes: --separator ';'")
	}
	return c, nil
}

func (a *app) exportChapters(ctx context.Context, s *store.Store, args []string, o exportOptions) error {
	x, err := a.session(ctx, s, o.vtt)
	if err != nil {
		return err
	}
	if len(args) == 1 && training.Key(args[0]) != training.Key(x.Dog) {
		return usagef("session %s is one of %s, not of %s", report.ShortID(x.ID), x.Dog, args[0])
	}
	timed := false
	for _, t := range x.Trials {
		timed = timed || t.At.Known
	}
	if !timed {
		return usagef("session %s has no times on a clock: chapters need a timed note", report.ShortID(x.ID)).
			try("docs/notes.md shows one; firstcue session show %s shows this one", report.ShortID(x.ID))
	}
	if err := a.output(o.output, func(w io.Writer) error { return report.VTT(w, x) }); err != nil {
		return err
	}
	if name := toFile(o.output); name != "" {
		a.say("%s: chapters of session %s%s", x.Dog, report.ShortID(x.ID), name)
	}
	return nil
}

func (a *app) exportTrials(ctx context.Context, s *store.Store, dog string, day training.Day, o exportOptions) error {
	r, err := s.Record(ctx, dog, day)
	if err != nil {
		return err
	}
	list, out := r.Sessions, 0
	if !o.all {
		list = standing(list)
		out = len(r.Sessions) - len(list)
	}
	c, err := o.csv()
	if err != nil {
		return err
	}
	err = a.output(o.output, func(w io.Writer) error {
		if o.format == "jsonl" {
			return report.TrialsJSONL(w, list)
		}
		return report.TrialsCSV(w, list, c)
	})
	if err != nil {
		return err
	}
	n := 0
	for _, x := range list {
		n += len(x.Trials)
	}
	a.say("%s: %s in %s%s", dog, plural(n, "row"), plural(len(list), "session"), toFile(o.output))
	if out > 0 {
		a.say("left out: %s withdrawn or scored a second time (--all has them)", plural(out, "session"))
	}
	return a.exportGuide(o, func(w io.Writer) error {
		return report.TrialsGuide(w, filepath.Base(o.output), list, c)
	})
}

func (a *app) exportSummary(ctx context.Context, s *store.Store, dog string, day training.Day, o exportOptions) error {
	x, _, err := a.assess(ctx, s, dog, day)
	if err != nil {
		return err
	}
	c, err := o.csv()
	if err != nil {
		return err
	}
	if err := a.output(o.output, func(w io.Writer) error { return report.SummaryCSV(w, x, c) }); err != nil {
		return err
	}
	a.say("%s: %s as of %s%s", dog, plural(len(x.Cues), "cue"), day, toFile(o.output))
	return a.exportGuide(o, func(w io.Writer) error {
		return report.SummaryGuide(w, filepath.Base(o.output), c)
	})
}

func (a *app) exportGuide(o exportOptions, write func(io.Writer) error) error {
	if !o.guide {
		return nil
	}
	name := o.output + "-metadata.json"
	if err := a.output(name, write); err != nil {
		return err
	}
	a.say("what the columns mean: %s", name)
	return nil
}

func toFile(name string) string {
	if name == "" || name == "-" {
		return ""
	}
	return ", in " + name
}

// standing returns the sessions that count: neither withdrawn nor scored a
// second time.
func standing(list []training.Session) []training.Session {
	var out []training.Session
	for _, s := range list {
		if s.Voided == "" && s.Rescores == "" {
			out = append(out, s)
		}
	}
	return out
}
