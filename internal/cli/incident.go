package cli

import (
	"github.com/spf13/cobra"

	"firstcue/internal/report"
	"firstcue/internal/store"
	"firstcue/internal/training"
)

func newIncidentCommand(a *app) *cobra.Command {
	return group(&cobra.Command{
		Use:     "incident",
		Short:   "Bites, fear, pain: what happened and how it was dealt with",
		Long:    "Incidents, from notes (lines that begin with \"!\") or entered by themselves.",
		Example: "  firstcue incident list",
	}, newIncidentListCommand(a), newIncidentAddCommand(a), newIncidentCloseCommand(a), newIncidentReopenCommand(a))
}

func newIncidentListCommand(a *app) *cobra.Command {
	var format string
	var all bool
	cmd := &cobra.Command{
		Use:   "list [DOG]",
		Short: "List open incidents",
		Long:  "Lists incidents that are not closed, of one dog or of all; with --all the closed ones too.",
		Example: `  firstcue incident list
  firstcue incident list Tarn --all`,
		Args: takes(0, 1, "at most a dog"), ValidArgsFunction: inOrder(a.completeDogs),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			return a.reading(ctx, func(s *store.Store) error {
				dog := ""
				if len(args) > 0 {
					k, err := s.Kennel(ctx)
					if err != nil {
						return err
					}
					d, err := pick(k.Dogs, "dog", args[0])
					if err != nil {
						return err
					}
					dog = d.Name
				}
				found, err := s.Incidents(ctx, dog)
				if err != nil {
					return err
				}
				var rows [][]string
				var out []training.Incident
				for _, i := range found {
					if i.Closed != 0 && !all {
						continue
					}
					state := "open"
					if i.Dropped {
						state = "open, though session " + report.ShortID(i.Session) + " no longer says it"
					}
					if i.Closed != 0 {
						state = "closed " + i.Closed.String() + ": " + i.Outcome
					}
					rows = append(rows, []string{report.ShortID(i.ID), i.Day.String(), i.Dog, i.Text, state})
					out = append(out, i)
				}
				if format == "json" {
					return writeFailed(a.json(incidentsJSON{schema("incidents"), out}))
				}
				return a.table("no open incident", []string{"incident", "day", "dog", "what happened", ""}, rows)
			})
		},
	}
	cmd.Flags().BoolVar(&all, "all", false, "also those that are closed")
	formatVar(cmd, &format, "text", "json")
	return cmd
}

func newIncidentAddCommand(a *app) *cobra.Command {
	var day string
	cmd := &cobra.Command{
		Use:   "add DOG TEXT",
		Short: "Enter an incident that happened outside a session",
		Long: `Enters an incident: a bite or an attempt, a sign of fear or pain, a fight. Within a
session, write it into the note as a line that begins with "!". The dog is not called
ready until it is closed. Any bite, or attempt, ends the session: follow the local
duty to report, and medical advice.`,
		Example: "  firstcue incident add Tarn 'snapped at the gate when Pim reached over' --day yesterday",
		Args:    takes(2, 2, "a dog and what happened"), ValidArgsFunction: inOrder(a.completeDogs),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			d, err := a.day("--day", day)
			if err != nil {
				return err
			}
			if d == 0 {
				d = a.today()
			}
			if d > a.today() {
				return usagef("--day %s is a day to come", d)
			}
			return a.withDog(ctx, args[0], true, func(s *store.Store, _ training.Kennel, dog training.Dog) error {
				i, err := s.AddIncident(ctx, dog.Name, d, args[1])
				if err != nil {
					return err
				}
				a.say("incident %s of %s on %s is open", report.ShortID(i.ID), dog.Name, d)
				return nil
			})
		},
	}
	cmd.Flags().StringVar(&day, "day", "", "`DAY` it happened (default today)")
	return cmd
}

func newIncidentCloseCommand(a *app) *cobra.Command {
	var outcome, closed string
	cmd := &cobra.Command{
		Use:     "close INCIDENT",
		Short:   "Say how an incident was dealt with",
		Long:    "Closes an incident with the day and what came of it. Both stay in the record.",
		Example: "  firstcue incident close 1a2b3c4d --outcome 'vet found a sore tooth, treated'",
		Args:    takes(1, 1, "an incident's id"), ValidArgsFunction: inOrder(a.completeIncidents),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			if outcome == "" {
				return usagef("say how it was dealt with").try("--outcome 'vet found a sore tooth, treated'")
			}
			d, err := a.day("--day", closed)
			if err != nil {
				return err
			}
			if d == 0 {
				d = a.today()
			}
			return a.withStore(ctx, store.Options{}, func(s *store.Store) error {
				if err := s.CloseIncident(ctx, args[0], d, outcome); err != nil {
					return err
				}
				a.say("incident %s is closed, %s", args[0], d)
				return nil
			})
		},
	}
	cmd.Flags().StringVar(&outcome, "outcome", "", "what came of it, in `WORDS`")
	cmd.Flags().StringVar(&closed, "day", "", "`DAY` it was closed (default today)")
	return cmd
}

func newIncidentReopenCommand(a *app) *cobra.Command {
	cmd := &cobra.Command{
		Use:     "reopen INCIDENT",
		Short:   "Open an incident again",
		Long:    "Opens an incident that was closed too early. The history keeps both.",
		Example: "  firstcue incident reopen 1a2b3c4d",
		Args:    takes(1, 1, "an incident's id"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.withStore(cmd.Context(), store.Options{}, func(s *store.Store) error {
				if err := s.CloseIncident(cmd.Context(), args[0], 0, ""); err != nil {
					return err
				}
				a.say("incident %s is open again", args[0])
				return nil
			})
		},
	}
	return cmd
}
