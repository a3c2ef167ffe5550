package cli

import (
	"github.com/spf13/cobra"

	"firstcue/internal/note"
	"firstcue/internal/report"
	"firstcue/internal/store"
	"firstcue/internal/training"
)

// sessionJSON is a session for scripts.
type sessionJSON struct {
	ID           string       `json:"id"`
	Revision     int          `json:"revision"`
	Dog          string       `json:"dog"`
	Handler      string       `json:"handler"`
	Scorer       string       `json:"scorer"`
	Start        string       `json:"start"`
	Part         int          `json:"part"`
	Place        string       `json:"place"`
	Leash        string       `json:"leash"`
	Distraction  training.Num `json:"distraction"`
	Device       string       `json:"device"`
	WorkingLevel training.Num `json:"workingLevel"`
	Weather      string       `json:"weather"`
	Reward       string       `json:"reward"`
	Source       string       `json:"source"`
	Baseline     bool         `json:"baseline"`
	Rescores     *string      `json:"rescores"`
	Withdrawn    *string      `json:"withdrawn"`
	Trials       []trialJSON  `json:"trials"`
	Remarks      []remarkJSON `json:"remarks"`
	Note         string       `json:"note"`
}

type trialJSON struct {
	Cue         string           `json:"cue"`
	Kind        string           `json:"kind"`
	Signal      string           `json:"signal"`
	Outcome     string           `json:"outcome"`
	Asks        int              `json:"asks"`
	Did         string           `json:"did"`
	Latency     training.Num     `json:"latency_s"`
	Completion  training.Num     `json:"completion_s"`
	Waited      training.Num     `json:"waited_s"`
	Prompts     []string         `json:"prompts"`
	Corrections []correctionJSON `json:"corrections"`
	Target      training.Num     `json:"target_s"`
	Held        training.Num     `json:"held_s"`
	Walked      training.Num     `json:"walked_s"`
	Breaks      int              `json:"breaks"`
	Distance    training.Num     `json:"distance_m"`
	Tally       *tallyJSON       `json:"tally"`
	At          training.Num     `json:"at_s"`
	Marks       string           `json:"marks"`
}

type tallyJSON struct {
	Yes int `json:"yes"`
	Of  int `json:"of"`
}

type correctionJSON struct {
	Kind   string       `json:"kind"`
	Level  training.Num `json:"level"`
	Device string       `json:"device"`
}

type remarkJSON struct {
	Text     string `json:"text"`
	Incident bool   `json:"incident"`
}

func sessionToJSON(s training.Session) sessionJSON {
	known := func(x string) *string {
		if x == "" {
			return nil
		}
		return &x
	}
	j := sessionJSON{
		ID: s.ID, Revision: s.Revision, Dog: s.Dog, Handler: s.Handler, Scorer: s.Scorer, Start: s.Start.Format("2006-01-02T15:04:05.999999999Z07:00"), Part: s.Part,
		Place: s.Place, Leash: string(s.Leash), Distraction: s.Distraction, Device: s.Device, WorkingLevel: s.WorkingLevel,
		Weather: s.Weather, Reward: s.Reward, Source: string(s.Source), Baseline: s.Baseline, Rescores: known(s.Rescores), Withdrawn: known(s.Voided),
		Trials: []trialJSON{}, Remarks: []remarkJSON{}, Note: noteOf(s),
	}
	for _, t := range s.Trials {
		x := trialJSON{
			Cue: t.Cue, Kind: string(t.Kind), Signal: string(t.Signal), Outcome: string(t.Outcome), Asks: t.Asks, Did: t.Did,
			Latency: t.Latency, Completion: t.Completion, Waited: t.Waited, Prompts: list(t.Prompts), Corrections: []correctionJSON{},
			Target: t.Target, Held: t.Held, Walked: t.Walked, Breaks: t.Breaks, Distance: t.Distance, At: t.At, Marks: t.Marks,
		}
		if t.Tally.Of > 0 {
			x.Tally = &tallyJSON{t.Tally.Yes, t.Tally.Of}
		}
		for _, c := range t.Corrections {
			x.Corrections = append(x.Corrections, correctionJSON{string(c.Kind), c.Level, c.Device})
		}
		j.Trials = append(j.Trials, x)
	}
	for _, r := range s.Remarks {
		j.Remarks = append(j.Remarks, remarkJSON{r.Text, r.Incident})
	}
	return j
}

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

const fewSessions = 20

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
				if f.Handler != "" {
					if f.Handler, err = entryName(k, "handler", f.Handler); err != nil {
						return err
					}
				}
				if f.Place != "" {
					if f.Place, err = entryName(k, "place", f.Place); err != nil {
						return err
					}
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
					out := []sessionJSON{}
					for _, x := range found {
						out = append(out, sessionToJSON(x))
					}
					return writeFailed(a.json(struct {
						Schema   string        `json:"schema"`
						Sessions []sessionJSON `json:"sessions"`
					}{schema("sessions"), out}))
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
