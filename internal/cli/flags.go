package cli

import (
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"firstcue/internal/note"
	"firstcue/internal/report"
	"firstcue/internal/say"
	"firstcue/internal/training"
)

// choice is a flag that takes one of a few words.
type choice struct {
	value   *string
	allowed []string
}

func (c choice) String() string {
	if c.value == nil {
		return ""
	}
	return *c.value
}

func (c choice) Type() string { return strings.Join(c.allowed, "|") }

func (c choice) Set(s string) error {
	for _, a := range c.allowed {
		if strings.EqualFold(a, s) {
			*c.value = a
			return nil
		}
	}
	return fmt.Errorf("it is one of %s", strings.Join(c.allowed, ", "))
}

// chooseVar adds a flag of one of a few words, with its completion.
func chooseVar(cmd *cobra.Command, p *string, name, value, usage string, allowed ...string) {
	*p = value
	cmd.Flags().Var(choice{p, allowed}, name, usage)
	complete(cmd, name, func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
		return allowed, cobra.ShellCompDirectiveNoFileComp
	})
}

// formatVar adds --format; the first of the formats is the default.
func formatVar(cmd *cobra.Command, p *string, formats ...string) {
	chooseVar(cmd, p, "format", formats[0], "how to write the answer", formats...)
}

// complete registers the completion of a flag; a name that is no flag is a
// mistake of this package.
func complete(cmd *cobra.Command, flag string, f cobra.CompletionFunc) {
	if err := cmd.RegisterFlagCompletionFunc(flag, f); err != nil {
		panic(err)
	}
}

// dayWords is how a day may be written.
const dayWords = "today, yesterday, 3 days ago, 2026-03-04 or 4 March 2026"

// day reads a day from a flag; "" gives none.
func (a *app) day(flag, s string) (training.Day, error) {
	if s == "" {
		return 0, nil
	}
	d, err := note.ParseDay(s, a.env.Now())
	if err != nil {
		return 0, usagef("%s: %v", flag, err)
	}
	return d, nil
}

// today returns the day it is where the kennel is.
func (a *app) today() training.Day { return training.DayOf(a.env.Now()) }

// pastDay reads a day of a flag, today when it is "", and refuses one to come: it
// has no record to judge.
func (a *app) pastDay(flag, s string) (training.Day, error) {
	d, err := a.day(flag, s)
	switch {
	case err != nil:
		return 0, err
	case d == 0:
		return a.today(), nil
	case d > a.today():
		return 0, usagef("%s %s is a day to come; the record ends today, %s", flag, d, a.today())
	}
	return d, nil
}

// asOf reads --as-of.
func (a *app) asOf(s string) (training.Day, error) { return a.pastDay("--as-of", s) }

func asOfVar(cmd *cobra.Command, p *string) {
	dayVar(cmd, p, "as-of", "day", "judge with what was known on this `DAY` (default today)")
}

// dayVar adds the flag of the day a command looks from under its name and, not
// shown, under the one that other commands have for it.
func dayVar(cmd *cobra.Command, p *string, name, other, usage string) {
	fs := cmd.Flags()
	fs.Var((*dayFlag)(p), name, usage)
	fs.Var((*dayFlag)(p), other, "the same as --"+name+", a `DAY`")
	if err := fs.MarkHidden(other); err != nil {
		panic(err) // only a slip in this function
	}
}

// dayFlag is a day as written, with a flag of two names: a second day beside the
// first is refused.
type dayFlag string

func (d *dayFlag) String() string { return string(*d) }
func (d *dayFlag) Type() string   { return "string" }
func (d *dayFlag) Set(s string) error {
	if *d != "" && string(*d) != s {
		return usagef("another day, %s, is given too; say one", string(*d))
	}
	*d = dayFlag(s)
	return nil
}

// number reads a plain number of a flag: digits and at most one dot, and finite.
func number(flag, s string) (training.Num, error) {
	if s == "" {
		return training.Num{}, nil
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) || strings.ContainsAny(s, "xXpP_eE+") {
		e := usagef("%s: %q is not a number", flag, s)
		if strings.HasPrefix(flag, "--") {
			e.msg += "; write " + flag + " 1.5"
		}
		return training.Num{}, e
	}
	return training.Known(v), nil
}

// duration reads seconds or a clock of a flag: 60, 60s, 1:00. "" is not known.
func duration(flag, s string) (training.Num, error) {
	bad := usagef("%s: %q is not a time: write 60s or 1:00", flag, s)
	if m, sec, ok := strings.Cut(s, ":"); ok {
		// Digits alone: Atoi takes a sign too.
		if !digits(m) || !digits(sec) || len(m) > 6 || len(sec) != 2 || sec > "59" {
			return training.Num{}, bad
		}
		min, _ := strconv.Atoi(m)
		rest, _ := strconv.Atoi(sec)
		return training.Known(float64(min*60 + rest)), nil
	}
	n, err := number(flag, strings.TrimSuffix(strings.TrimSuffix(s, "s"), " "))
	if err != nil || !n.Known && s != "" {
		return training.Num{}, bad
	}
	if n.V < 0 {
		return training.Num{}, usagef("%s: a time is not below 0", flag)
	}
	return n, nil
}

// digits reports whether s is ASCII digits and nothing else.
func digits(s string) bool {
	return s != "" && strings.Trim(s, "0123456789") == ""
}

// options are the report options that follow from the terminal and the flags.
func (a *app) options() report.Options {
	return report.Options{Width: a.width(), Colour: a.color(), Rules: a.rules}
}

// table writes a list to standard output; an empty one as a sentence.
func (a *app) table(empty string, headers []string, rows [][]string, align ...report.Align) error {
	if len(rows) == 0 {
		a.say("%s", empty)
		return nil
	}
	return a.grid(headers, rows, align)
}

// grid writes a table of names and texts as they may stand on a screen.
func (a *app) grid(headers []string, rows [][]string, align []report.Align) error {
	shown := func(cells []string) []string {
		cells = slices.Clone(cells)
		for i, c := range cells {
			cells[i] = say.Shown(c)
		}
		return cells
	}
	clean := make([][]string, len(rows))
	for i, r := range rows {
		clean[i] = shown(r)
	}
	return report.Table(a.env.Stdout, shown(headers), clean, align, a.options())
}

// json writes a value indented, one a call, with names and texts as they are.
func (a *app) json(v any) error { return report.WriteJSON(a.env.Stdout, v) }

// schema is the first field of every JSON answer.
func schema(name string) string { return "firstcue." + name + "/1" }

// writeFailed tells a closed pipe (firstcue ... | head) from a real fault.
func writeFailed(err error) error {
	if err == nil || errors.Is(err, io.ErrClosedPipe) {
		return nil
	}
	return failedf(err, "write the answer: %v", err)
}
