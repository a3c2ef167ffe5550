package cli

import (
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"firstcue/internal/analysis"
	"firstcue/internal/report"
	"firstcue/internal/store"
	"firstcue/internal/training"
)

func newAgreeCommand(a *app) *cobra.Command {
	var format string
	cmd := &cobra.Command{
		Use:   "agree SESSION SESSION",
		Short: "Compare two scorings of one session",
		Long: `Compares trial by trial what two people scored in one session, and lists the trials
they differ on. Kappa is agreement beyond chance. The usual convention is 80% or more,
on at least a fifth of the sessions. Equal totals are not agreement and not shown.

Log the second scoring as a note of the same dog and start with another scorer: it
adds no trials to any figure.

` + handleHelp,
		Example: "  firstcue agree last last",
		Args:    takes(2, 2, "two sessions' handles"), ValidArgsFunction: inOrder(a.completeSessions, a.completeSessions),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			return a.reading(ctx, func(s *store.Store) error {
				one, err := a.session(ctx, s, args[0])
				if err != nil {
					return err
				}
				two, err := a.session(ctx, s, args[1])
				if err != nil {
					return err
				}
				if training.Key(one.Dog) != training.Key(two.Dog) {
					return usagef("these are sessions of two dogs, %s and %s", one.Dog, two.Dog).try("two scorings of one session are compared")
				}
				if !one.Start.Equal(two.Start) {
					a.warn("these sessions began at different times, %s and %s: are they one session?",
						one.Start.Format("2006-01-02 15:04"), two.Start.Format("2006-01-02 15:04"))
				}
				k, err := s.Kennel(ctx)
				if err != nil {
					return err
				}
				set, err := s.Settings(ctx)
				if err != nil {
					return err
				}
				r := analysis.Agreement(one, two, sharedRule(criteriaFor(k, set, one.Dog), one, two))
				if format == "json" {
					return writeFailed(a.json(agreementJSON(one, two, r)))
				}
				return a.writeAgreement(one, two, r)
			})
		},
	}
	formatVar(cmd, &format, "text", "json")
	return cmd
}

// sharedRule is the counting rule of the cues that the sessions have; where
// their limits differ no limit is applied, as both scorers saw the same clock.
func sharedRule(c analysis.CriteriaFunc, sessions ...training.Session) analysis.Rule {
	var rule analysis.Rule
	first := true
	for _, s := range sessions {
		for _, t := range s.Trials {
			if t.Kind != training.Response {
				continue
			}
			own := c(t.Cue)
			if first {
				rule, first = analysis.Rule{Limit: own.Limit, Arrive: own.Arrive}, false
				continue
			}
			if rule.Limit != own.Limit {
				rule.Limit = training.Num{}
			}
			if rule.Arrive != own.Arrive {
				rule.Arrive = training.Num{}
			}
		}
	}
	return rule
}

// scorerName is who scored a session.
func scorerName(s training.Session) string {
	if s.Scorer != "" {
		return s.Scorer
	}
	return s.Handler
}

func saidWord(n training.Num) string {
	switch {
	case !n.Known:
		return "not scored"
	case n.V > 0:
		return "yes"
	}
	return "no"
}

func marksOf(t *training.Trial) string {
	if t == nil {
		return ""
	}
	return t.Marks
}

func (a *app) writeAgreement(one, two training.Session, r analysis.ScorerAgreement) error {
	first, second := scorerName(one), scorerName(two)
	if training.Key(first) == training.Key(second) {
		first, second = first+" (1)", second+" (2)"
	}
	a.printf("%s, %s: %s and %s\n", one.Dog, one.Start.Format("2006-01-02 15:04"), first, second)
	if r.Compared == 0 {
		a.printf("\nno trial was scored by both, so nothing can be compared\n")
	} else {
		a.printf("\nagreement  %s", report.Fraction(r.Agreed, r.Compared, r.Low, r.High, 0.8))
		if r.Enough {
			a.printf("   80%% or more, the usual convention\n")
		} else {
			a.printf("   under 80%%, the usual convention\n")
		}
		switch {
		case !r.Kappa.Known:
			a.printf("kappa      not defined: every trial got one and the same answer\n")
		case r.KappaLow.Known:
			a.printf("kappa      %s [%s-%s]\n", report.Number(r.Kappa.V), report.Number(r.KappaLow.V), report.Number(r.KappaHigh.V))
		default:
			a.printf("kappa      %s\n", report.Number(r.Kappa.V))
		}
	}
	if r.BothTimed > 0 {
		a.printf("times      %d of %d within one second\n", r.WithinOne, r.BothTimed)
	}
	var apart []string
	for _, x := range []struct {
		n    int
		what string
	}{{r.OneSided, "scored by one only"}, {r.Apart, "early or already there"}, {r.Tallied, "in tallies"}, {r.Walks, "walks"}} {
		if x.n > 0 {
			apart = append(apart, strconv.Itoa(x.n)+" "+x.what)
		}
	}
	if len(apart) > 0 {
		a.printf("apart      %s\n", strings.Join(apart, ", "))
	}
	a.printf("counted    %s\n", r.Rule)
	if len(r.Differ) == 0 {
		return nil
	}
	a.printf("\nwhere they differ\n")
	var rows [][]string
	for _, p := range r.Differ {
		rows = append(rows, []string{strconv.Itoa(p.Number), p.Cue, saidWord(p.AYes), marksOf(p.A), saidWord(p.BYes), marksOf(p.B)})
	}
	return writeFailed(report.Table(a.env.Stdout, []string{"trial", "cue", first, "as written", second, "as written"}, rows, []report.Align{report.Right}, a.options()))
}

type pairJSON struct {
	Trial  int    `json:"trial"`
	Cue    string `json:"cue"`
	First  *bool  `json:"first"`
	Second *bool  `json:"second"`
}

func agreementJSON(one, two training.Session, r analysis.ScorerAgreement) any {
	said := func(n training.Num) *bool {
		if !n.Known {
			return nil
		}
		yes := n.V > 0
		return &yes
	}
	pairs := func(ps []analysis.ScoredPair) []pairJSON {
		out := []pairJSON{}
		for _, p := range ps {
			out = append(out, pairJSON{p.Number, p.Cue, said(p.AYes), said(p.BYes)})
		}
		return out
	}
	return struct {
		Schema    string       `json:"schema"`
		Dog       string       `json:"dog"`
		Sessions  []string     `json:"sessions"`
		Scorers   []string     `json:"scorers"`
		Rule      string       `json:"rule"`
		Agreed    int          `json:"agreed"`
		Compared  int          `json:"compared"`
		Rate      training.Num `json:"rate"`
		Low       training.Num `json:"low"`
		High      training.Num `json:"high"`
		Kappa     training.Num `json:"kappa"`
		KappaLow  training.Num `json:"kappaLow"`
		KappaHigh training.Num `json:"kappaHigh"`
		Enough    bool         `json:"enough"`
		OneSided  int          `json:"oneSided"`
		BothTimed int          `json:"bothTimed"`
		WithinOne int          `json:"withinOneSecond"`
		Pairs     []pairJSON   `json:"pairs"`
		Differ    []pairJSON   `json:"differ"`
	}{
		schema("agreement"), one.Dog, []string{one.ID, two.ID}, []string{scorerName(one), scorerName(two)}, r.Rule, r.Agreed, r.Compared,
		r.Rate, r.Low, r.High, r.Kappa, r.KappaLow, r.KappaHigh, r.Enough, r.OneSided, r.BothTimed, r.WithinOne, pairs(r.Pairs), pairs(r.Differ),
	}
}
