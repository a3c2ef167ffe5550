package cli

import (
	"github.com/spf13/cobra"

	"firstcue/internal/note"
	"firstcue/internal/report"
	"firstcue/internal/store"
	"firstcue/internal/training"
)

// noteOf returns a session's text as a note of its own, or the canonical one
// where it came without a text.
func noteOf(s training.Session) string {
	switch {
	case s.Note == "" && s.Carried == "":
		return note.Format(s)
	case s.Carried == "":
		return s.Note
	}
	return s.Carried + "\n" + s.Note
}

// sessionsJSON writes a list of sessions for scripts.
func (a *app) sessionsJSON(found []training.Session) error {
	var out []sessionJSON
	for _, x := range found {
		out = append(out, sessionToJSON(x))
	}
	return writeFailed(a.json(sessionsJSON{schema("sessions"), out}))
}

const fewSessions = 20

// registeredFilter puts the registered spellings for the handler and the place
// of a filter.
func registeredFilter(k training.Kennel, f store.Filter) (store.Filter, error) {
	for _, n := range []struct {
		what string
		name *string
	}{{"handler", &f.Handler}, {"place", &f.Place}} {
		if *n.name == "" {
			continue
		}
		found, err := entryName(k, n.what, *n.name)
		if err != nil {
			return f, err
		}
		*n.name = found
	}
	return f, nil
}

func newSessionsCommand(a *app) *cobra.Command {
	var f store.Filter
	var from, to, format string
	var all bool
	cmd := &cobra.Command{
		Use:   "sessions [DOG]",
		Short: "List sessions",
		Long: `Lists sessions, oldest first, with the handle by which firstcue session finds each.
Without --all the latest 20 are listed and withdrawn ones are left out. Both days of
--from and --to belong to it.

A day is ` + dayWords + `.`,
		Example: `  firstcue sessions Tarn
  firstcue sessions --handler Bram --from 2026-03-09 --to 2026-03-14
  firstcue sessions --all --format json`,
		Args: takes(0, 1, "at most a dog"), ValidArgsFunction: inOrder(a.completeDogs),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			var err error
			if f.From, err = a.day("--from", from); err != nil {
				return err
			}
			if f.To, err = a.day("--to", to); err != nil {
				return err
			}
			if f.From != 0 && f.To != 0 && f.To < f.From {
				return usagef("--to %s is before --from %s", f.To, f.From)
			}
			return a.reading(ctx, func(s *store.Store) error {
				k, err := s.Kennel(ctx)
				if err != nil {
					return err
				}
				if len(args) > 0 {
					if f.Dog, err = entryName(k, "dog", args[0]); err != nil {
						return err
					}
				}
				if f, err = registeredFilter(k, f); err != nil {
					return err
				}
				f.IncludeVoided = all
				if !all {
					f.Limit = fewSessions + 1
				}
				found, err := s.Sessions(ctx, f)
				if err != nil {
					return err
				}
				more := !all && len(found) > fewSessions
				if more {
					found = found[len(found)-fewSessions:]
				}
				if format == "json" {
					return a.sessionsJSON(found)
				}
				if len(found) == 0 {
					a.say("no session fits")
					return nil
				}
				if err := report.SessionsTable(a.env.Stdout, found, a.options()); err != nil {
					return writeFailed(err)
				}
				if more {
					a.say("the latest %d; --all lists every one", fewSessions)
				}
				return nil
			})
		},
	}
	cmd.Flags().StringVar(&f.Handler, "handler", "", "only this handler's, a `NAME`")
	cmd.Flags().StringVar(&f.Place, "place", "", "only at this `PLACE`")
	cmd.Flags().StringVar(&from, "from", "", "from this `DAY`")
	cmd.Flags().StringVar(&to, "to", "", "up to this `DAY`")
	cmd.Flags().BoolVar(&all, "all", false, "every session, withdrawn ones too")
	formatVar(cmd, &format, "text", "json")
	complete(cmd, "handler", a.completeHandlers)
	complete(cmd, "place", a.completePlaces)
	return cmd
}
