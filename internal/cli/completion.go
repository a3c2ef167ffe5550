package cli

import (
	"context"
	"strings"

	"github.com/spf13/cobra"

	"firstcue/internal/store"
	"firstcue/internal/training"
)

func newCompletionCommand(a *app) *cobra.Command {
	return &cobra.Command{
		Use:   "completion bash|zsh|fish|powershell",
		Short: "Print the script that lets the shell complete commands and names",
		Long: `Prints a script for your shell. With it the Tab key completes commands and
flags, and the names of your dogs, cues, handlers and places.

  bash:  firstcue completion bash > ~/.local/share/bash-completion/completions/firstcue
  zsh:   firstcue completion zsh > "${fpath[1]}/_firstcue"
  fish:  firstcue completion fish > ~/.config/fish/completions/firstcue.fish
  PowerShell, in your profile:
         firstcue completion powershell | Out-String | Invoke-Expression

Then open a new shell. Bash needs its package bash-completion.`,
		Example:   "  firstcue completion bash",
		ValidArgs: []string{"bash", "zsh", "fish", "powershell"},
		Args:      takes(1, 1, "the shell's name: bash, zsh, fish or powershell"),
		RunE: func(cmd *cobra.Command, args []string) error {
			root, out := cmd.Root(), a.env.Stdout
			switch args[0] {
			case "bash":
				return writeFailed(root.GenBashCompletionV2(out, true))
			case "zsh":
				return writeFailed(root.GenZshCompletion(out))
			case "fish":
				return writeFailed(root.GenFishCompletion(out, true))
			case "powershell":
				return writeFailed(root.GenPowerShellCompletionWithDesc(out))
			}
			e := usagef("no completion for the shell %q", args[0])
			return e.try("bash, zsh, fish and powershell are known")
		},
	}
}

// forCompletion reads the store for the shell's Tab key. It never makes a store
// and never says anything: what it cannot read completes to nothing.
func forCompletion[T any](a *app, read func(context.Context, *store.Store) (T, error)) T {
	var none T
	path, err := a.storePath()
	if err != nil || !storeExists(path) {
		return none
	}
	ctx := context.Background()
	s, err := store.Open(ctx, path, store.Options{ReadOnly: true, Now: a.env.Now})
	if err != nil {
		return none
	}
	defer s.Close()
	v, err := read(ctx, s)
	if err != nil {
		return none
	}
	return v
}

func (a *app) kennelForCompletion() training.Kennel {
	return forCompletion(a, func(ctx context.Context, s *store.Store) (training.Kennel, error) { return s.Kennel(ctx) })
}

// candidates makes completions of names with a word about each, for those that
// begin with what was typed.
func candidates[T named](list []T, typed string, about func(T) string) []string {
	var out []string
	for _, x := range list {
		name, _ := spelt(x)
		if strings.HasPrefix(training.Key(name), training.Key(typed)) {
			out = append(out, cobra.CompletionWithDesc(name, about(x)))
		}
	}
	return out
}

func (a *app) completeDogs(_ *cobra.Command, _ []string, typed string) ([]string, cobra.ShellCompDirective) {
	today := a.today()
	return candidates(a.kennelForCompletion().Dogs, typed, func(d training.Dog) string {
		b, ok := d.Boarding(today)
		switch {
		case !ok:
			return "dog"
		case b.Home != 0 && b.Home <= today:
			return "went home " + b.Home.String()
		case b.Due != 0:
			return "due " + b.Due.String()
		}
		return "here since " + b.Arrived.String()
	}), cobra.ShellCompDirectiveNoFileComp
}

func (a *app) completeCues(_ *cobra.Command, _ []string, typed string) ([]string, cobra.ShellCompDirective) {
	k := a.kennelForCompletion()
	if len(k.Cues) == 0 {
		k.Cues = training.SeedCues()
	}
	return candidates(k.Cues, typed, func(c training.Cue) string { return string(c.Kind) }), cobra.ShellCompDirectiveNoFileComp
}

func (a *app) completeHandlers(_ *cobra.Command, _ []string, typed string) ([]string, cobra.ShellCompDirective) {
	return candidates(a.kennelForCompletion().Handlers, typed, func(h training.Handler) string { return string(h.Role) }), cobra.ShellCompDirectiveNoFileComp
}

func (a *app) completePlaces(_ *cobra.Command, _ []string, typed string) ([]string, cobra.ShellCompDirective) {
	return candidates(a.kennelForCompletion().Places, typed, func(p training.Place) string {
		if p.OffProperty {
			return "off property"
		}
		return "on property"
	}), cobra.ShellCompDirectiveNoFileComp
}

func (a *app) completeDevices(_ *cobra.Command, _ []string, typed string) ([]string, cobra.ShellCompDirective) {
	return candidates(a.kennelForCompletion().Devices, typed, func(training.Device) string { return "device" }), cobra.ShellCompDirectiveNoFileComp
}

// inOrder completes the first argument with the first function, and so on; a
// nil one completes nothing.
func inOrder(fs ...cobra.CompletionFunc) cobra.CompletionFunc {
	return func(cmd *cobra.Command, args []string, typed string) ([]string, cobra.ShellCompDirective) {
		if len(args) >= len(fs) || fs[len(args)] == nil {
			return nil, cobra.ShellCompDirectiveNoFileComp
		}
		return fs[len(args)](cmd, args, typed)
	}
}
