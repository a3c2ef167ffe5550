package cli

import (
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"firstcue/internal/stats/check"
)

const statsLong = `Computes a statistic with the program's own arithmetic, so that anybody can
compare it with a table or another program. Nothing here touches the store.

Reads one JSON object per line from standard input and writes one per line.
Input that cannot be computed gets {"error": "..."} on its line, the other lines
are still done, and the exit code at the end is 2. A figure that does not exist
is null, never NaN. The fields of each name, the formulas and their sources are
in docs/stats.md.

  echo '{"x": 18, "n": 20}' | firstcue stats wilson --json

Names, with the fields of the input ("level" is 0.95 unless given):

`

func newStatsCommand(env Env) *cobra.Command {
	var list strings.Builder
	for _, s := range check.Statistics {
		fmt.Fprintf(&list, "  %-16s %s\n  %-16s   %s\n", s.Name, s.Summary, "", s.Input)
	}
	cmd := &cobra.Command{
		Use:       "stats NAME",
		Short:     "Compute a statistic from JSON lines, to check the arithmetic",
		Long:      statsLong + list.String(),
		Example:   "  firstcue stats wilson --json",
		ValidArgs: check.Names(),
		Args:      takes(1, 1, "the name of a statistic, for example wilson; firstcue stats --help lists them"),
		RunE: func(cmd *cobra.Command, args []string) error {
			bad, err := check.Run(args[0], untilDone{cmd.Context(), env.Stdin}, env.Stdout)
			switch {
			case errors.Is(err, check.ErrUnknown):
				e := usagef("no statistic is called %q", args[0])
				if near := nearest(args[0], check.Names()); near != "" {
					return e.try("did you mean %s?", near)
				}
				return e.try("firstcue stats --help lists the names")
			case err != nil:
				return failedf(err, "stats %s: %v", args[0], err)
			case bad > 0:
				return usagef("%s could not be computed; see the error on each", plural(bad, "line"))
			}
			return nil
		},
	}
	cmd.Flags().Bool("json", true, "changes nothing: JSON lines are the only form, with or without it")
	return cmd
}
