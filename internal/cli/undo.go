package cli

import (
	"github.com/spf13/cobra"

	"firstcue/internal/report"
	"firstcue/internal/store"
)

func newUndoCommand(a *app) *cobra.Command {
	var yes bool
	cmd := &cobra.Command{
		Use:   "undo",
		Short: "Take back the last log, correction or withdrawal",
		Long: `Takes back the last thing done to sessions in this store: sessions it logged are
withdrawn, sessions it changed get their earlier form, and names that came with it
and are used nowhere else leave the lists. It shows what it will do and asks; --yes
does not. Used again, it takes back the one before. The history keeps everything.`,
		Example: "  firstcue undo\n  firstcue undo --yes",
		Args:    takes(0, 0, "no argument"),
		RunE: func(cmd *cobra.Command, _ []string) error {
			ctx := cmd.Context()
			return a.withStore(ctx, store.Options{}, func(s *store.Store) error {
				p, err := s.UndoPreview(ctx)
				if err != nil {
					return err
				}
				a.say("%s", batchWords(p.Batch, a))
				a.sayUndo(p)
				if len(p.Sessions) == 0 && len(p.Removed) == 0 {
					return usagef("there is nothing of it left to take back").
						try("firstcue session history ID shows what changed since; firstcue session amend ID corrects it")
				}
				if err := a.confirm(yes, "Take it back?"); err != nil {
					return err
				}
				done, err := s.Undo(ctx)
				if err != nil {
					return err
				}
				a.say("taken back: %s", plural(len(done.Sessions), "session"))
				return nil
			})
		},
	}
	cmd.Flags().BoolVarP(&yes, "yes", "y", false, "do not ask")
	return cmd
}

func batchWords(b store.Batch, a *app) string {
	what := map[string]string{"log": "the log of", "import": "the import of", "amend": "the correction of", "void": "the withdrawal of", "unvoid": "the return of"}[b.Kind]
	if what == "" {
		what = b.Kind + " of"
	}
	s := "the last thing done: " + what + " " + plural(b.Sessions, "session")
	if b.Name != "" {
		s += " from " + b.Name
	}
	return s + ", " + b.At.In(a.env.Now().Location()).Format("2006-01-02 15:04")
}

func (a *app) sayUndo(p store.UndoResult) {
	for _, l := range p.Sessions {
		x := l.Session
		to := "withdrawn"
		if l.What == store.Amended {
			to = "put back to its earlier form"
		}
		a.say("  %s: %s %s, %s%s, %s", to, x.Dog, x.Start.Format("2006-01-02 15:04"), x.Handler, at(x.Place), trialCounts(x))
	}
	for _, l := range p.Left {
		a.say("  left as it is, changed since: session %s of %s", report.ShortID(l.Session.ID), l.Session.Dog)
	}
	for _, n := range p.Removed {
		a.say("  off the lists: %s", n)
	}
}
