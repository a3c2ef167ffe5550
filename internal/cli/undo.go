package cli

import (
	"context"
	"fmt"

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
				a.say("%s%s", batchWords(p, a), a.laterWords(p.Later))
				a.sayUndo(p, yes)
				if err := a.confirm(ctx, yes, "Take it back?"); err != nil {
					return err
				}
				done, err := s.Undo(ctx)
				if err != nil {
					return err
				}
				a.say("taken back: %s", plural(len(done.Sessions), "session"))
				if err := a.sayDropped(ctx, s, done.Sessions); err != nil {
					return err
				}
				return a.sayBringBack(ctx, s, done)
			})
		},
	}
	cmd.Flags().BoolVarP(&yes, "yes", "y", false, "do not ask")
	return cmd
}

// laterWords says what was done since to the lists, which undo does not touch.
func (a *app) laterWords(later []store.Event) string {
	if len(later) == 0 {
		return ""
	}
	more := ""
	if n := len(later) - 1; n > 0 {
		more = fmt.Sprintf(" and %d more, firstcue store journal", n)
	}
	return fmt.Sprintf("\n  later, and not touched by undo: %s, %s%s", printable(later[0].Said), a.moment(later[0].At), more)
}

// sayBringBack says how to return to what was taken back.
func (a *app) sayBringBack(ctx context.Context, s *store.Store, done store.UndoResult) error {
	logged := done.Batch.Kind == "log" || done.Batch.Kind == "import"
	switch {
	case len(done.Sessions) == 0:
		return nil
	case logged && (len(done.Sessions) > 1 || len(done.Removed) > 0):
		again := done.Batch.Kind + " it again"
		if len(done.Removed) > 0 {
			again += ", with --new"
		}
		if done.Batch.Name != "" {
			again += " (" + done.Batch.Name + ")"
		}
		a.say("bring it back: %s", again)
		return nil
	}
	for _, l := range done.Sessions {
		if l.Previous == nil {
			continue
		}
		all, err := s.History(ctx, l.Session.ID)
		if err != nil {
			return err
		}
		for _, r := range all {
			if r.Number == l.Previous.Revision && r.Batch == done.Batch.ID {
				a.say("bring it back: firstcue session settle %s %s", report.ShortID(l.Session.ID), report.ShortID(r.ID))
			}
		}
	}
	return nil
}

func batchWords(p store.UndoResult, a *app) string {
	s := ""
	for _, b := range p.Passed {
		s += "passed over, all of it was changed since: " + oneBatch(b, a) + "\n"
	}
	switch {
	case len(p.Passed) > 0:
		s += "the last thing done before that: "
	case len(p.Later) > 0:
		s += "the last thing done to sessions: "
	default:
		s += "the last thing done: "
	}
	return s + oneBatch(p.Batch, a)
}

func oneBatch(b store.Batch, a *app) string {
	what := map[string]string{"log": "the log of", "import": "the import of", "amend": "the correction of", "void": "the withdrawal of", "unvoid": "the return of"}[b.Kind]
	if what == "" {
		what = b.Kind + " of"
	}
	s := what + " " + plural(b.Sessions, "session")
	if b.Name != "" {
		s += " from " + b.Name
	}
	return s + ", " + b.At.In(a.env.Now().Location()).Format("2006-01-02 15:04")
}

// sayUndo says what becomes of each session: what is done, or would be after a
// yes.
func (a *app) sayUndo(p store.UndoResult, sure bool) {
	would := ""
	if !sure {
		would = "would be "
	}
	for i, l := range p.Sessions {
		if i == mostSaid && len(p.Sessions) > mostSaid+1 {
			a.say("  and %s more, %s", plural(len(p.Sessions)-i, "session"), spread(p.Sessions[i:]))
			break
		}
		x := l.Session
		to := would + "withdrawn"
		if l.What == store.Amended {
			to = would + "put back to its earlier form"
		}
		a.say("  %s: %s %s, %s%s, %s", to, x.Dog, x.Start.Format("2006-01-02 15:04"), x.Handler, at(x.Place), trialCounts(x))
	}
	for i, l := range p.Left {
		if i == mostSaid && len(p.Left) > mostSaid+1 {
			a.say("  and %s more left as they are, changed since", plural(len(p.Left)-i, "session"))
			break
		}
		a.say("  left as it is, changed since: session %s of %s", report.ShortID(l.Session.ID), l.Session.Dog)
	}
	for i, n := range p.Removed {
		if i == mostSaid && len(p.Removed) > mostSaid+1 {
			n = plural(len(p.Removed)-i, "more name")
		}
		if sure {
			a.say("  off the lists: %s", n)
		} else {
			a.say("  would leave the lists: %s", n)
		}
		if i == mostSaid && len(p.Removed) > mostSaid+1 {
			break
		}
	}
}

// mostSaid is how many of one thing an undo names one by one: an import may hold
// thousands.
const mostSaid = 12

// spread says over which dogs and days sessions go.
func spread(list []store.Logged) string {
	dogs := map[string]bool{}
	first, last := list[0].Session.Start, list[0].Session.Start
	for _, l := range list {
		dogs[l.Session.Dog] = true
		if l.Session.Start.Before(first) {
			first = l.Session.Start
		}
		if l.Session.Start.After(last) {
			last = l.Session.Start
		}
	}
	s := fmt.Sprintf("of %s, %s", plural(len(dogs), "dog"), first.Format("2006-01-02"))
	if day := last.Format("2006-01-02"); day != first.Format("2006-01-02") {
		s += " to " + day
	}
	return s
}
