package cli

import (
	"bytes"
	"context"
	"fmt"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"firstcue/internal/report"
	"firstcue/internal/say"
	"firstcue/internal/store"
)

// keepDrafts files the notes that are nowhere else, and with --keep all that have
// problems, and says how to get at each.
func (a *app) keepDrafts(ctx context.Context, notes []parsed, o logOptions) ([]string, error) {
	var said []string
	defaults, err := o.defaults()
	if err != nil {
		return nil, err
	}
	var keep []parsed
	for _, n := range notes {
		if (!n.file && !n.typed || o.keep && len(n.Problems) > 0) && len(bytes.TrimSpace(n.text)) > 0 {
			keep = append(keep, n)
		}
	}
	if len(keep) == 0 {
		return nil, nil // nothing to lose: no store is made for it
	}
	err = a.changing(ctx, func(s *store.Store) error {
		for _, n := range keep {
			name := n.name
			if name == "-" {
				name = "standard input"
			}
			d, err := s.SaveDraft(ctx, name, withContext(defaults, n.text))
			if err != nil {
				return err
			}
			a.safe = a.safe || !n.file && !n.typed
			said = append(said, fmt.Sprintf("the note is kept as draft %d: firstcue draft show %d > note.txt", d.ID, d.ID))
		}
		return nil
	})
	return said, err
}

// keepDraft files one text.
func (a *app) keepDraft(ctx context.Context, name string, text []byte) (d store.Draft, err error) {
	err = a.changing(ctx, func(s *store.Store) error {
		d, err = s.SaveDraft(ctx, name, text)
		return err
	})
	return d, err
}

func newDraftCommand(a *app) *cobra.Command {
	return group(&cobra.Command{
		Use:   "draft",
		Short: "Notes with problems that were kept",
		Long: `Drafts are notes that log could not store: those from standard input, which would be
lost otherwise, and with --keep those from a file or --text. An empty note is not kept.
When the store can't be written, the note is put into a file that the message names.
Put one right and log it:

  firstcue draft show 1 > note.txt
  firstcue log note.txt
  firstcue draft remove 1`,
		Example: "  firstcue draft list",
	}, newDraftListCommand(a), newDraftShowCommand(a), newDraftRemoveCommand(a))
}

func newDraftListCommand(a *app) *cobra.Command {
	var format string
	cmd := &cobra.Command{
		Use:     "list",
		Short:   "List the notes that wait to be put right",
		Long:    "Lists the drafts, oldest first.",
		Example: "  firstcue draft list",
		Args:    takes(0, 0, "no argument"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			return a.reading(cmd.Context(), func(s *store.Store) error {
				all, err := s.Drafts(cmd.Context())
				if err != nil {
					return err
				}
				rows, out := [][]string{}, []draftJSON{}
				for _, d := range all {
					at := d.At.In(a.env.Now().Location()).Format("2006-01-02 15:04")
					first, _, _ := strings.Cut(strings.TrimSpace(string(d.Text)), "\n")
					if r := []rune(first); len(r) > 60 {
						first = string(r[:60]) + "..."
					}
					rows = append(rows, []string{strconv.FormatInt(d.ID, 10), at, d.Name, printable(first)})
					out = append(out, draftJSON{d.ID, d.Name, d.At.Format("2006-01-02T15:04:05Z07:00"), string(d.Text)})
				}
				if format == "json" {
					return writeFailed(a.json(draftsJSON{schema("drafts"), out}))
				}
				return a.table("no draft", []string{"draft", "kept", "from", "begins"}, rows, report.Right)
			})
		},
	}
	formatVar(cmd, &format, "text", "json")
	return cmd
}

func newDraftShowCommand(a *app) *cobra.Command {
	cmd := &cobra.Command{
		Use:     "show DRAFT",
		Short:   "Print a draft's text as it was written",
		Long:    "Prints a draft word for word.",
		Example: "  firstcue draft show 1 > note.txt",
		Args:    takes(1, 1, "a draft's number"), ValidArgsFunction: inOrder(a.completeDrafts),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.reading(cmd.Context(), func(s *store.Store) error {
				d, err := findDraft(cmd.Context(), s, args[0])
				if err != nil {
					return err
				}
				_, err = a.env.Stdout.Write(d.Text)
				return writeFailed(err)
			})
		},
	}
	return cmd
}

func newDraftRemoveCommand(a *app) *cobra.Command {
	var yes bool
	cmd := &cobra.Command{
		Use:     "remove DRAFT",
		Short:   "Take a draft away, once it is logged",
		Long:    "Removes a draft. Asks first; --yes does not.",
		Example: "  firstcue draft remove 1 --yes",
		Args:    takes(1, 1, "a draft's number"), ValidArgsFunction: inOrder(a.completeDrafts),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.withStore(cmd.Context(), store.Options{}, func(s *store.Store) error {
				d, err := findDraft(cmd.Context(), s, args[0])
				if err != nil {
					return err
				}
				if err := a.confirm(cmd.Context(), yes, fmt.Sprintf("Remove draft %d, from %s?", d.ID, d.Name)); err != nil {
					return err
				}
				if err := s.RemoveDraft(cmd.Context(), d.ID); err != nil {
					return err
				}
				a.say("draft %d is removed", d.ID)
				return nil
			})
		},
	}
	cmd.Flags().BoolVarP(&yes, "yes", "y", false, "do not ask")
	return cmd
}

func findDraft(ctx context.Context, s *store.Store, number string) (store.Draft, error) {
	all, err := s.Drafts(ctx)
	if err != nil {
		return store.Draft{}, err
	}
	for _, d := range all {
		if strconv.FormatInt(d.ID, 10) == number {
			return d, nil
		}
	}
	return store.Draft{}, usagef("there is no draft %s", number).try("firstcue draft list shows them")
}

// printable shows a line of a user's text without what would move the cursor.
func printable(s string) string {
	return say.Shown(strings.NewReplacer("\n", "\uFFFD", "\t", "\uFFFD").Replace(s))
}

func (a *app) completeDrafts(_ *cobra.Command, _ []string, _ string) ([]string, cobra.ShellCompDirective) {
	all := forCompletion(a, func(ctx context.Context, s *store.Store) ([]store.Draft, error) { return s.Drafts(ctx) })
	var out []string
	for _, d := range all {
		out = append(out, cobra.CompletionWithDesc(strconv.FormatInt(d.ID, 10), d.Name))
	}
	return out, cobra.ShellCompDirectiveNoFileComp
}
