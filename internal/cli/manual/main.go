// Command manual writes the manual pages from the command definitions, so that
// a page cannot say what the program does not. It is run by `make man` and is
// not part of the shipped program, which stays smaller without the generator.
package main

import (
	"fmt"
	"os"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/cobra/doc"

	"firstcue/internal/cli"
)

func main() {
	if len(os.Args) != 2 {
		fmt.Fprintln(os.Stderr, "usage: manual FOLDER")
		os.Exit(2)
	}
	if err := write(os.Args[1]); err != nil {
		fmt.Fprintln(os.Stderr, "manual:", err)
		os.Exit(1)
	}
}

// write makes one page for each command in the folder. The date is fixed: the
// same commands give the same bytes.
func write(folder string) error {
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return err
	}
	root := cli.Commands()
	prepare(root)
	day := time.Date(2026, time.March, 1, 0, 0, 0, 0, time.UTC)
	return doc.GenManTree(root, &doc.GenManHeader{
		Title: "FIRSTCUE", Section: "1", Date: &day, Source: "firstcue", Manual: "firstcue",
	}, folder)
}

// prepare readies the help texts for the generator: no date of generation, and
// what a text sets in by two blanks stays as it is set (four make a block of it).
func prepare(c *cobra.Command) {
	c.DisableAutoGenTag = true
	lines := strings.Split(c.Long, "\n")
	for i, line := range lines {
		if strings.HasPrefix(line, "  ") {
			lines[i] = "    " + line
		}
	}
	c.Long = strings.Join(lines, "\n")
	for _, sub := range c.Commands() {
		prepare(sub)
	}
}
