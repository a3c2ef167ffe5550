package cli

import (
	"time"

	"github.com/spf13/cobra"
)

// Commands returns the command tree for reading: names, flags and help texts,
// from which the manual pages are made. Running it is Run's job.
func Commands() *cobra.Command {
	return newRoot(&app{env: Env{
		Getenv: func(string) string { return "" },
		Now:    func() time.Time { return time.Time{} },
	}})
}
