package cli

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"firstcue/internal/analysis"
	"firstcue/internal/report"
	"firstcue/internal/store"
	"firstcue/internal/training"
)

const handleHelp = `A session is named by the handle that firstcue sessions prints, by its whole id, or by
the word last: the session that began last.`

func newSessionCommand(a *app) *cobra.Command {
	return group(&cobra.Command{
		Use:     "session",
		Short:   "Look at, correct or withdraw one session",
		Long:    "One session: what was understood, its corrections and its history.\n\n" + handleHelp,
		Example: "  firstcue session show last",
	},
		newSessionShowCommand(a),
		newSessionAmendCommand(a),
		newSessionVoidCommand(a),
		newSessionUnvoidCommand(a),
		newSessionSettleCommand(a),
		newSessionHistoryCommand(a),
	)
}

// session finds a session by handle.
func (a *app) session(ctx context.Context, s *store.Store, handle string) (training.Session, error) {
	if handle != "last" {
		return s.Session(ctx, handle)
	}
	latest, err := s.Sessions(ctx, store.Filter{Limit: 1})
	if err == nil && len(latest) == 0 {
		err = usagef("there is no session yet")
	}
	if err != nil {
		return training.Session{}, err
	}
	return latest[0], nil
}

// readingSession opens the store to look at one session.
func (a *app) readingSession(ctx context.Context, handle string, f func(*store.Store, training.Session) error) error {
	return a.reading(ctx, func(s *store.Store) error {
		x, err := a.session(ctx, s, handle)
		if err != nil {
			return err
		}
		return f(s, x)
	})
}

func newSessionShowCommand(a *app) *cobra.Command {
	var format string
	var file bool
	cmd := &cobra.Command{
		Use:   "show SESSION",
		Short: "Show a session trial by trial, and its note",
		Long: `Shows a session as it was understood, and the note as it was written. With --file it
prints the whole file that the session was logged or imported from, byte for byte as it
came in, with the other sessions in it. Of an imported file over 4 MiB none is kept.

` + handleHelp,
		Example: `  firstcue session show last
  firstcue session show last --file > friday.txt`,
		Args: takes(1, 1, "a session's handle"), ValidArgsFunction: inOrder(a.completeSessions),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			return a.readingSession(ctx, args[0], func(s *store.Store, x training.Session) error {
				switch {
				case file && cmd.Flags().Changed("format"):
					return usagef("--file and --format do not go together: the file is printed as it is")
				case file:
					return a.showSource(ctx, s, x)
				}
				switch format {
				case "json":
					return writeFailed(a.json(struct {
						Schema  string      `json:"schema"`
						Session sessionJSON `json:"session"`
					}{schema("session"), sessionToJSON(x)}))
				case "note":
					fmt.Fprintf(a.env.Stdout, "%s\n", strings.TrimRight(noteOf(x), "\n"))
					return nil
				}
				k, set, err := kennelOf(ctx, s)
				if err != nil {
					return err
				}
				a.rules = rulesOf(k, set)
				return writeFailed(report.SessionText(a.env.Stdout, x, a.options()))
			})
		},
	}
	formatVar(cmd, &format, "text", "json", "note")
	cmd.Flags().BoolVar(&file, "file", false, "print the whole file it was logged from, as it came in")
	return cmd
}

// showSource prints the file that a session was logged from: the one that says
// what is in force, or, when that was said without a file, the latest one.
func (a *app) showSource(ctx context.Context, s *store.Store, x training.Session) error {
	all, err := s.History(ctx, x.ID)
	if err != nil {
		return err
	}
	hash, same := "", false
	for _, r := range slices.Backward(all) {
		if says := r.Session.Note == x.Note; r.Source != "" && (hash == "" || says && !same) {
			hash, same = r.Source, says
		}
	}
	short := report.ShortID(x.ID)
	if hash == "" {
		return usagef("no file is kept of session %s", short).try("its own lines: firstcue session show %s --format note", short)
	}
	text, err := s.Source(ctx, hash)
	if errors.Is(err, store.ErrDamaged) {
		return failedf(nil, "the file of session %s was altered in the store, so it is not shown", short).
			try("the session's own lines: firstcue session show %s --format note\nwhat is altered, and what to do: firstcue store check", short)
	}
	if err != nil {
		return err
	}
	if !same {
		a.warn("session %s was amended since; this is the file it was logged from", short)
	}
	_, err = a.env.Stdout.Write(text)
	return writeFailed(err)
}

func newSessionVoidCommand(a *app) *cobra.Command {
	var why string
	cmd := &cobra.Command{
		Use:   "void SESSION",
		Short: "Withdraw a session, with a reason",
		Long: `Withdraws a session from every figure. It stays in the record with the reason, and
session unvoid brings it back.

` + handleHelp,
		Example: "  firstcue session void last --why 'wrong dog'",
		Args:    takes(1, 1, "a session's handle"), ValidArgsFunction: inOrder(a.completeSessions),
		RunE: func(cmd *cobra.Command, args []string) error {
			if strings.TrimSpace(why) == "" {
				return usagef("withdrawing a session needs its reason").try("--why 'wrong dog'")
			}
			return a.changeStanding(cmd.Context(), args[0], func(s *store.Store, x training.Session) (training.Session, error) {
				if x.Voided != "" {
					return x, usagef("it is withdrawn already: %s", x.Voided)
				}
				return s.Void(cmd.Context(), x.ID, why)
			})
		},
	}
	cmd.Flags().StringVar(&why, "why", "", "the reason, in `WORDS`")
	return cmd
}

func newSessionUnvoidCommand(a *app) *cobra.Command {
	var why string
	cmd := &cobra.Command{
		Use:     "unvoid SESSION",
		Short:   "Bring a withdrawn session back",
		Long:    "Brings a withdrawn session back into the figures.\n\n" + handleHelp,
		Example: "  firstcue session unvoid 1a2b3c4d --why 'it was the right dog after all'",
		Args:    takes(1, 1, "a session's handle"), ValidArgsFunction: inOrder(a.completeSessions),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.changeStanding(cmd.Context(), args[0], func(s *store.Store, x training.Session) (training.Session, error) {
				if x.Voided == "" {
					return x, usagef("the session is not withdrawn")
				}
				return s.Unvoid(cmd.Context(), x.ID, why)
			})
		},
	}
	cmd.Flags().StringVar(&why, "why", "", "the reason, in `WORDS`, for the history")
	return cmd
}

// changeStanding withdraws a session or brings it back, and says what changed.
func (a *app) changeStanding(ctx context.Context, handle string, do func(*store.Store, training.Session) (training.Session, error)) error {
	return a.withStore(ctx, store.Options{}, func(s *store.Store) error {
		was, err := a.session(ctx, s, handle)
		if err != nil {
			return err
		}
		before, err := a.standings(ctx, s, []string{was.Dog})
		if err != nil {
			return err
		}
		now, err := do(s, was)
		if err != nil {
			return err
		}
		after, err := a.standings(ctx, s, []string{was.Dog})
		if err != nil {
			return err
		}
		if err := a.sayDropped(ctx, s, []store.Logged{{Session: now, Previous: &was}}); err != nil {
			return err
		}
		word := "withdrawn"
		switch {
		case now.Voided == "" && was.Voided == "":
			word = "in force"
		case now.Voided == "":
			word = "brought back"
		}
		if a.quiet {
			return nil
		}
		a.printf("%s: %s %s, %s%s, %s  (session %s)\n", word, now.Dog, now.Start.Format("2006-01-02 15:04"), now.Handler, at(now.Place), trialCounts(now), report.ShortID(now.ID))
		rows := changedRows(now, before[was.Dog], after[was.Dog])
		if len(rows) > 0 {
			a.printf("\n")
			return writeFailed(a.grid(changeHeaders, rows, nil))
		}
		return nil
	})
}

var changeHeaders = []string{"dog", "cue", "first asks before", "now", "verdict"}

// changedRows is a row for each cue of the session: before and after.
func changedRows(s training.Session, before, after analysis.Assessment) [][]string {
	var rows [][]string
	var seen []string
	for _, t := range s.Trials {
		if slices.Contains(seen, t.Cue) {
			continue
		}
		seen = append(seen, t.Cue)
		rows = append(rows, changeRow(s.Dog, t.Cue, before, after))
	}
	return rows
}

// changeRow shows one cue before and after. A cue that was or is not asked at
// all has a dash there.
func changeRow(dog, cue string, before, after analysis.Assessment) []string {
	was, had := cueOf(before, cue)
	now, has := cueOf(after, cue)
	row := []string{dog, cue, "-", "-", ""}
	if had {
		row[2], row[4] = figure(was), string(was.Verdict)
	}
	if has {
		row[3] = figure(now)
		if had && was.Verdict != now.Verdict {
			row[4] += " -> " + string(now.Verdict)
		} else {
			row[4] = string(now.Verdict)
		}
	}
	return row
}

func newSessionSettleCommand(a *app) *cobra.Command {
	var why string
	cmd := &cobra.Command{
		Use:   "settle SESSION FORM",
		Short: "Choose which form of a session holds",
		Long: `Puts one form of a session in force. Where two stores said a session differently and
were joined, it ends the conflict; it also brings an earlier form back. session history
and store conflicts name the forms. All forms stay in the history, and an incident that
any of them tells of stays open until it is closed.

` + handleHelp,
		Example: "  firstcue session settle 1a2b3c4d 5e6f7a8b --why 'asked Bram'",
		Args:    takes(2, 2, "a session's handle and a form"), ValidArgsFunction: inOrder(a.completeSessions),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.changeStanding(cmd.Context(), args[0], func(s *store.Store, x training.Session) (training.Session, error) {
				forms, err := s.Forms(cmd.Context(), x.ID)
				if err != nil {
					return x, err
				}
				all, err := s.History(cmd.Context(), x.ID)
				if err != nil {
					return x, err
				}
				form := strings.ToLower(args[1])
				for _, r := range all {
					if r.Shown && len(forms) == 0 && len(form) >= 4 && strings.HasSuffix(r.ID, form) {
						return x, usagef("form %s is in force already, and there is nothing to settle", args[1])
					}
				}
				return s.Settle(cmd.Context(), x.ID, form, why)
			})
		},
	}
	cmd.Flags().StringVar(&why, "why", "", "the reason, in `WORDS`, for the history")
	return cmd
}

// completeSessions completes the latest sessions' handles.
func (a *app) completeSessions(_ *cobra.Command, _ []string, typed string) ([]string, cobra.ShellCompDirective) {
	latest := forCompletion(a, func(ctx context.Context, s *store.Store) ([]training.Session, error) {
		return s.Sessions(ctx, store.Filter{Limit: 50, IncludeVoided: true})
	})
	out := []string{}
	if strings.HasPrefix("last", typed) {
		out = append(out, cobra.CompletionWithDesc("last", "the session that began last"))
	}
	for _, x := range slices.Backward(latest) {
		if h := report.ShortID(x.ID); strings.HasPrefix(h, typed) {
			out = append(out, cobra.CompletionWithDesc(h, fmt.Sprintf("%s %s, %s%s", x.Dog, x.Start.Format("2 Jan 15:04"), x.Handler, at(x.Place))))
		}
	}
	return out, cobra.ShellCompDirectiveNoFileComp | cobra.ShellCompDirectiveKeepOrder
}

func (a *app) completeIncidents(_ *cobra.Command, _ []string, typed string) ([]string, cobra.ShellCompDirective) {
	all := forCompletion(a, func(ctx context.Context, s *store.Store) ([]training.Incident, error) { return s.Incidents(ctx, "") })
	var out []string
	for _, i := range all {
		if h := report.ShortID(i.ID); i.Closed == 0 && strings.HasPrefix(h, typed) {
			out = append(out, cobra.CompletionWithDesc(h, i.Dog+" "+i.Day.String()+": "+i.Text))
		}
	}
	return out, cobra.ShellCompDirectiveNoFileComp
}
