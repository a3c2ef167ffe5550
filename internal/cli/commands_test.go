package cli

import (
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
)

// TestEveryCommand is one loop over the tree: what the help of every command
// must have, and flags that would panic only when the command is run.
func TestEveryCommand(t *testing.T) {
	n := 0
	eachCommand(Commands(), func(c *cobra.Command) {
		n++
		name := c.CommandPath()
		if c.Short == "" || strings.HasSuffix(c.Short, ".") {
			t.Errorf("%s: short help %q", name, c.Short)
		}
		if c.Long == "" {
			t.Errorf("%s: no long help", name)
		}
		if c.Example == "" {
			t.Errorf("%s: no example", name)
		}
		if c.RunE == nil {
			t.Errorf("%s: nothing to run", name)
		}
		if c.Args == nil {
			t.Errorf("%s: its arguments are not checked", name)
		}
		for _, l := range strings.Split(c.Long, "\n") {
			if len([]rune(l)) > 100 {
				t.Errorf("%s: a line of help is %d characters long: %s", name, len([]rune(l)), l)
			}
		}
		// Merging inherited flags panics on a name or shorthand defined twice.
		c.InheritedFlags()
		seen := map[string]bool{}
		c.Flags().VisitAll(func(f *pflag.Flag) {
			if seen[f.Name] {
				t.Errorf("%s: flag --%s twice", name, f.Name)
			}
			seen[f.Name] = true
			if f.Usage == "" {
				t.Errorf("%s: flag --%s says nothing of itself", name, f.Name)
			}
			if up := c.InheritedFlags().Lookup(f.Name); up != nil && up != f {
				t.Errorf("%s: flag --%s hides the one of the program", name, f.Name)
			}
		})
	})
	if n < 40 {
		t.Errorf("only %d commands were looked at", n)
	}
}
