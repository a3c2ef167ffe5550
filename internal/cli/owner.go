package cli

import (
	"context"
	"encoding/base64"
	"html/template"
	"io"
	"net/http"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"firstcue/internal/analysis"
	"firstcue/internal/report"
	"firstcue/internal/training"
)

// ownerFlags are what every owner's page may carry.
type ownerFlags struct {
	kennel, contact, vet, photo, asOf, output string
	atHome                                    string
}

func (f *ownerFlags) add(cmd *cobra.Command) {
	fs := cmd.Flags()
	fs.StringVar(&f.kennel, "kennel", "", "your kennel's `NAME`, for the head of the page")
	fs.StringVar(&f.contact, "contact", "", "whom the owner asks, in `WORDS`, such as a telephone number")
	asOfVar(cmd, &f.asOf)
}

func (f ownerFlags) options(handoff training.Day) (report.OwnerOptions, error) {
	o := report.OwnerOptions{Handoff: handoff, Kennel: f.kennel, Contact: f.contact, Vet: f.vet}
	for _, p := range strings.Split(f.atHome, ",") {
		if p = strings.TrimSpace(p); p != "" {
			o.AtHome = append(o.AtHome, p)
		}
	}
	if f.photo == "" {
		return o, nil
	}
	data, err := os.ReadFile(f.photo)
	if err != nil {
		return o, usagef("--photo: %v", err)
	}
	kind := http.DetectContentType(data)
	if kind != "image/jpeg" && kind != "image/png" || len(data) > 4<<20 {
		return o, usagef("--photo: %s is no JPEG or PNG of at most 4 MB", f.photo)
	}
	o.Photo = template.URL("data:" + kind + ";base64," + base64.StdEncoding.EncodeToString(data))
	return o, nil
}

func newLessonCommand(a *app) *cobra.Command {
	var f ownerFlags
	cmd := &cobra.Command{
		Use:   "lesson DOG",
		Short: "A sheet to print for the owner's lesson",
		Long: `Writes one page for a lesson in which the owner asks: what to ask where, boxes to tick,
the owner's usual mistakes to count, and the note to type back afterwards. With an open
incident or a vet hold the page says that nobody practises.`,
		Example: `  firstcue lesson Tarn -o tarn-lesson.html`,
		Args:    takes(1, 1, "a dog"), ValidArgsFunction: inOrder(a.completeDogs),
		RunE: func(cmd *cobra.Command, args []string) error {
			o, err := f.options(0)
			if err != nil {
				return err
			}
			return a.withAssessment(cmd.Context(), args[0], f.asOf, func(x analysis.Assessment, r training.Record) error {
				return a.output(f.output, func(w io.Writer) error { return report.Lesson(w, x, r, o) })
			})
		},
	}
	f.add(cmd)
	outputVar(cmd, &f.output)
	return cmd
}

func newMessageCommand(a *app) *cobra.Command {
	var f ownerFlags
	var week, today bool
	var card string
	cmd := &cobra.Command{
		Use:   "message DOG",
		Short: "A short text for the owner's messenger",
		Long: `Writes a short honest text to paste into any messenger: how the dog stands, what was done
this week or today, what comes next. Nothing of other dogs, and none of your notes.
--card FILE.png also draws a picture with the present level of each agreed cue.
Read it before you send it.`,
		Example: `  firstcue message Tarn
  firstcue message Tarn --today
  firstcue message Tarn --week --card tarn.png`,
		Args: takes(1, 1, "a dog"), ValidArgsFunction: inOrder(a.completeDogs),
		RunE: func(cmd *cobra.Command, args []string) error {
			if week && today {
				return usagef("--week and --today do not go together")
			}
			return a.withAssessment(cmd.Context(), args[0], f.asOf, func(x analysis.Assessment, _ training.Record) error {
				if card != "" {
					if err := a.output(card, func(w io.Writer) error { return report.Card(w, x, !today) }); err != nil {
						return err
					}
				}
				return a.output(f.output, func(w io.Writer) error { return report.MessageText(w, x, f.contact, !today) })
			})
		},
	}
	cmd.Flags().BoolVar(&week, "week", false, "look at the week (the default)")
	cmd.Flags().BoolVar(&today, "today", false, "look at the day")
	cmd.Flags().StringVar(&card, "card", "", "draw a picture card into this `FILE`, 1080 by 1350 pixels")
	cmd.Flags().StringVar(&f.contact, "contact", "", "whom the owner asks, in `WORDS`, such as a telephone number")
	asOfVar(cmd, &f.asOf)
	outputVar(cmd, &f.output)
	return cmd
}

func newBriefCommand(a *app) *cobra.Command {
	var asOf, format, output string
	cmd := &cobra.Command{
		Use:   "brief DOG",
		Short: "One page for whoever takes the dog next",
		Long: `Writes one page for the next trainer: what to do and what not, words and signals, today's
level and device, the last remarks, what failed last, and what nobody but the main
trainer has asked yet.`,
		Example: `  firstcue brief Tarn
  firstcue brief Tarn --format html -o tarn.html`,
		Args: takes(1, 1, "a dog"), ValidArgsFunction: inOrder(a.completeDogs),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.runBrief(cmd.Context(), args[0], asOf, format, output)
		},
	}
	asOfVar(cmd, &asOf)
	formatVar(cmd, &format, "text", "html")
	outputVar(cmd, &output)
	return cmd
}

func (a *app) runBrief(ctx context.Context, dog, asOf, format, output string) error {
	return a.withAssessment(ctx, dog, asOf, func(x analysis.Assessment, r training.Record) error {
		return a.output(output, func(w io.Writer) error {
			if format == "html" {
				return report.BriefHTML(w, x, r, a.optionsFor(output))
			}
			return report.Brief(w, x, r, a.optionsFor(output))
		})
	})
}
