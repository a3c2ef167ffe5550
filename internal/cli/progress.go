package cli

import (
	"context"
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"unicode"

	"github.com/spf13/cobra"

	"firstcue/internal/analysis"
	"firstcue/internal/report"
	"firstcue/internal/store"
	"firstcue/internal/training"
)

func newProgressCommand(a *app) *cobra.Command {
	var format, asOf string
	var files drawingFiles
	var ascii bool
	cmd := &cobra.Command{
		Use:   "progress DOG [CUE]",
		Short: "Draw the course of a dog's cues, day by day",
		Long: `Draws a cue by day: the share of first asks answered with its interval, the bar, and the
counts under every day; for a hold also the longest one, for walking the breaks a
minute. Days of a new handler, a new place and a vet hold are marked. Without a cue all
cues are drawn, the agreed ones first.

--svg writes an image that stands alone and tells its figures in words to those who can't
see it, for a page or a print. --png writes the same drawing for a message or a program that
takes no SVG. Both name dog, cue and days and have a key to their marks. With several cues
each has a file of its own, FILE-CUE.svg or FILE-CUE.png; "-" is standard output.`,
		Example: `  firstcue progress Tarn down
  firstcue progress Tarn --ascii
  firstcue progress Tarn down --svg tarn-down.svg
  firstcue progress Tarn down --png tarn-down.png
  firstcue progress Tarn --format json`,
		Args: takes(1, 2, "a dog, and at most a cue"), ValidArgsFunction: inOrder(a.completeDogs, a.completeCues),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			day, err := a.asOf(asOf)
			if err != nil {
				return err
			}
			if err := files.check(cmd.Flags().Changed("format")); err != nil {
				return err
			}
			return a.withDog(ctx, args[0], false, func(s *store.Store, k training.Kennel, d training.Dog) error {
				cue := ""
				if len(args) == 2 {
					c, err := pick(k.Cues, "cue", args[1])
					if err != nil {
						return err
					}
					cue = c.Name
				}
				return a.progress(ctx, s, d.Name, cue, day, format, files, ascii)
			})
		},
	}
	cmd.Flags().StringVar(&files.svg, "svg", "", "draw into this `FILE` instead of on the screen")
	cmd.Flags().StringVar(&files.png, "png", "", "draw into this `FILE` as a PNG image, 1440 pixels wide")
	cmd.Flags().BoolVar(&ascii, "ascii", false, "draw with plain ASCII characters")
	asOfVar(cmd, &asOf)
	formatVar(cmd, &format, "text", "json")
	return cmd
}

// drawingFiles are the files to draw into, "" for none and "-" for the output.
type drawingFiles struct{ svg, png string }

func (f drawingFiles) check(format bool) error {
	for _, x := range []struct{ flag, file string }{{"--svg", f.svg}, {"--png", f.png}} {
		if x.file != "" && format {
			return usagef("%s is a file of its own; leave out --format", x.flag)
		}
	}
	if f.svg != "" && f.svg == f.png {
		return usagef("--svg and --png both name %s; give each a file of its own", f.svg)
	}
	return nil
}

// toOutput refuses what standard output can't hold: more than one picture, and
// on a screen the bytes of a PNG.
func (f drawingFiles) toOutput(dog string, cues []analysis.CueAssessment, screen bool) error {
	flag := ""
	switch {
	case f.png == "-":
		flag = "--png"
	case f.svg == "-":
		flag = "--svg"
	default:
		return nil
	}
	one := "firstcue progress " + quote(dog) + " " + quote(cues[0].Cue)
	switch {
	case len(cues) > 1:
		return usagef("%d cues are %d pictures, and standard output holds one", len(cues), len(cues)).
			try("one of them: %s %s -\nall of them, each in its file: firstcue progress %s %s %s.%s", one, flag, quote(dog), flag, fileWord(dog), flag[2:])
	case f.png == "-" && screen:
		return usagef("--png - writes the bytes of a picture, and a screen can't show them").
			try("into a file: %s --png %s-%s.png\ninto a program: %s --png - | PROGRAM", one, fileWord(dog), fileWord(cues[0].Cue), one)
	}
	return nil
}

func (a *app) progress(ctx context.Context, s *store.Store, dog, cue string, day training.Day, format string, files drawingFiles, ascii bool) error {
	x, _, err := a.assess(ctx, s, dog, day)
	if err != nil {
		return err
	}
	cues := x.Cues
	if cue != "" {
		cues = nil
		for _, c := range x.Cues {
			if training.Key(c.Cue) == training.Key(cue) {
				cues = append(cues, c)
			}
		}
	}
	o := a.options()
	o.ASCII = ascii || a.plainTerminal()
	switch {
	case format == "json":
		return writeFailed(report.ProgressJSON(a.env.Stdout, x, cues, o))
	case len(cues) == 0 && cue != "":
		a.say("%s has no trial of %s that counts%s", x.Name, cue, leftOut(x))
		return nil
	case len(cues) == 0:
		a.say("nothing to draw for %s yet: no trial counts%s", x.Dog.Name, leftOut(x))
		return nil
	case files != (drawingFiles{}):
		if err := files.toOutput(x.Dog.Name, cues, a.env.Screen); err != nil {
			return err
		}
		if err := a.drawings(x, cues, files.svg, report.ChartSVG); err != nil {
			return err
		}
		return a.drawings(x, cues, files.png, report.ChartPNG)
	}
	return writeFailed(report.Progress(a.env.Stdout, x, cues, o))
}

// leftOut says how many trials are there and stand in no figure.
func leftOut(x analysis.Assessment) string {
	if x.LeftOut == 0 {
		return ""
	}
	return "; " + plural(x.LeftOut, "trial") + " in or before a vet hold left out"
}

// drawings writes a file for each cue, none without a name. With several, the
// cue goes into the name.
func (a *app) drawings(x analysis.Assessment, cues []analysis.CueAssessment, name string,
	draw func(io.Writer, analysis.Assessment, analysis.CueAssessment) error) error {
	if name == "" {
		return nil
	}
	for _, c := range cues {
		file := name
		if len(cues) > 1 {
			ext := filepath.Ext(name)
			file = fmt.Sprintf("%s-%s%s", strings.TrimSuffix(name, ext), fileWord(c.Cue), ext)
		}
		if err := a.output(file, func(w io.Writer) error { return draw(w, x, c) }); err != nil {
			return err
		}
		if file != "-" {
			a.say("%s: %s", c.Cue, file)
		}
	}
	return nil
}

// plainTerminal reports a terminal that shows ASCII alone: its locale, if one is
// set, is not UTF-8.
func (a *app) plainTerminal() bool {
	if a.env.Width == 0 {
		return false
	}
	for _, v := range []string{"LC_ALL", "LC_CTYPE", "LANG"} {
		if s := strings.ToUpper(a.env.Getenv(v)); s != "" {
			return !strings.Contains(strings.ReplaceAll(s, "-", ""), "UTF8")
		}
	}
	return false
}

// fileWord makes a part of a file's name of a name: lower case, with nothing
// that a file system or a shell would take for more than a letter.
func fileWord(name string) string {
	var b strings.Builder
	for _, r := range training.Key(name) {
		switch {
		case unicode.IsLetter(r) || unicode.IsDigit(r):
			b.WriteRune(r)
		default:
			b.WriteByte('-')
		}
	}
	if s := strings.Trim(b.String(), "-"); s != "" {
		return s
	}
	return "dog"
}
