package cli

import (
	"context"
	"fmt"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"firstcue/internal/analysis"
	"firstcue/internal/report"
	"firstcue/internal/say"
	"firstcue/internal/store"
	"firstcue/internal/training"
)

func newAgreeCommand(a *app) *cobra.Command {
	var format string
	cmd := &cobra.Command{
		Use:   "agree SESSION [SESSION]",
		Short: "Compare two scorings of one session",
		Long: `Compares trial by trial what two people scored in one session, and lists the trials
they differ on. Kappa is agreement beyond chance. The usual convention is 80% or more,
on at least a fifth of the sessions. Equal totals are not agreement and not shown.

Log the second scoring as a note of the same dog and start with another scorer: it
adds no trials to any figure. Name either of the two and the other is found; where a
session was scored by three people, name two.

` + handleHelp,
		Example: "  firstcue agree 1a2b3c4d\n  firstcue agree 1a2b3c4d 5e6f7a8b",
		Args:    takes(1, 2, "the handle of a session that two people scored"), ValidArgsFunction: inOrder(a.completeSessions, a.completeSessions),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			return a.reading(ctx, func(s *store.Store) error {
				one, two, err := a.twoScorings(ctx, s, args)
				if err != nil {
					return err
				}
				k, set, err := kennelOf(ctx, s)
				if err != nil {
					return err
				}
				r := analysis.Agreement(one, two, sharedRule(criteriaFor(k, set, one.Dog), one, two))
				if format == "json" {
					return writeFailed(a.json(agreementAnswer(one, two, r)))
				}
				return a.writeAgreement(one, two, r)
			})
		},
	}
	formatVar(cmd, &format, "text", "json")
	return cmd
}

// twoScorings finds the two sessions to be compared. The other scoring of a
// session named alone is found; what is no second scoring of the first is
// refused.
func (a *app) twoScorings(ctx context.Context, s *store.Store, handles []string) (one, two training.Session, err error) {
	if one, err = a.session(ctx, s, handles[0]); err != nil {
		return one, two, err
	}
	others, err := otherScorings(ctx, s, one)
	if err != nil {
		return one, two, err
	}
	var named []string
	for _, o := range others {
		named = append(named, fmt.Sprintf("%s (%s)", report.ShortID(o.ID), scorerName(o)))
	}
	if len(handles) == 1 {
		switch len(others) {
		case 0:
			return one, two, usagef("session %s has no second scoring", report.ShortID(one.ID)).
				try("log the same dog and start once more with another scorer: firstcue log --scorer NAME NOTE")
		case 1:
			if others[0].Rescores == "" {
				return others[0], one, nil // the first scoring stands first
			}
			return one, others[0], nil
		}
		return one, two, usagef("session %s was scored by several people: name two", report.ShortID(one.ID)).
			try("the others: %s", strings.Join(named, ", "))
	}
	if two, err = a.session(ctx, s, handles[1]); err != nil {
		return one, two, err
	}
	switch {
	case one.ID == two.ID && len(others) == 0:
		return one, two, usagef("one session, given twice, and it has no second scoring").
			try("log the same dog and start once more with another scorer: firstcue log --scorer NAME NOTE")
	case one.ID == two.ID:
		return one, two, usagef("one session, given twice: name its other scoring, %s", strings.Join(named, " or "))
	case training.Key(one.Dog) != training.Key(two.Dog):
		return one, two, usagef("these are sessions of two dogs, %s and %s", one.Dog, two.Dog).try("two scorings of one session are compared")
	case one.Day() != two.Day():
		return one, two, usagef("these are sessions of two days, %s and %s", one.Day(), two.Day()).try("two scorings of one session are compared")
	case !one.Start.Equal(two.Start):
		return one, two, usagef("these sessions began at different times, %s and %s", one.Start.Format("15:04"), two.Start.Format("15:04")).
			try("two scorings of one session are compared; if a start is wrong, firstcue session amend corrects it")
	case one.Part != two.Part:
		return one, two, usagef("these are two parts of one start, at %s with %s and at %s with %s", one.Place, one.Handler, two.Place, two.Handler).
			try("two scorings of one part are compared")
	}
	return one, two, nil
}

// otherScorings are the sessions of the same dog, start and part.
func otherScorings(ctx context.Context, s *store.Store, x training.Session) ([]training.Session, error) {
	day, err := s.Sessions(ctx, store.Filter{Dog: x.Dog, From: x.Day(), To: x.Day()})
	var out []training.Session
	for _, o := range day {
		if o.ID != x.ID && o.Start.Equal(x.Start) && o.Part == x.Part {
			out = append(out, o)
		}
	}
	return out, err
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

// agreementShare is the usual convention for trial-by-trial agreement.
const agreementShare = 0.80

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
		a.printf("\nagreement  %s", say.Fraction(r.Agreed, r.Compared, r.Low, r.High, agreementShare))
		a.printf("   %s\n", convention(r))
		switch {
		case !r.Kappa.Known:
			a.printf("kappa      cannot be told, %s\n", whyNoKappa(r, first, second))
		case r.KappaLow.Known:
			a.printf("kappa      %s [%s-%s]\n", say.Number(r.Kappa.V), say.Number(r.KappaLow.V), say.Number(r.KappaHigh.V))
		default:
			a.printf("kappa      %s\n", say.Number(r.Kappa.V))
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
	a.printf("counted    %s\n", say.Rule(r.Rule))
	if len(r.Differ) == 0 {
		return nil
	}
	a.printf("\nwhere they differ\n")
	var rows [][]string
	for _, p := range r.Differ {
		rows = append(rows, []string{strconv.Itoa(p.Number), p.Cue, saidWord(p.AYes), marksOf(p.A), saidWord(p.BYes), marksOf(p.B)})
	}
	return writeFailed(a.grid([]string{"trial", "cue", first, "as written", second, "as written"}, rows, []report.Align{report.Right}))
}

// convention holds the agreement against the usual 80 %, and says so when so few
// trials leave it open.
func convention(r analysis.ScorerAgreement) string {
	switch {
	case !r.Enough:
		return "under 80%, the usual convention"
	case r.Low.V < agreementShare:
		return "80% or more, the usual convention; but the interval's lower end is " + say.Percent(r.Low.V, agreementShare)
	}
	return "80% or more, the usual convention, and so is the lower end"
}

// whyNoKappa says which scorer gave one answer only: there is no agreement
// beyond chance to be told apart then.
func whyNoKappa(r analysis.ScorerAgreement, first, second string) string {
	var yes, no [2]int
	for _, p := range r.Pairs {
		if !p.AYes.Known || !p.BYes.Known {
			continue
		}
		for i, v := range []float64{p.AYes.V, p.BYes.V} {
			if v > 0 {
				yes[i]++
			} else {
				no[i]++
			}
		}
	}
	var said []string
	for i, name := range []string{first, second} {
		switch {
		case no[i] == 0:
			said = append(said, name+" scored no miss")
		case yes[i] == 0:
			said = append(said, name+" scored no answer")
		}
	}
	return strings.Join(said, ", ")
}

func agreementAnswer(one, two training.Session, r analysis.ScorerAgreement) agreementJSON {
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
	return agreementJSON{
		Schema: schema("agreement"), Dog: one.Dog, Sessions: []string{one.ID, two.ID},
		Scorers: []string{scorerName(one), scorerName(two)}, ScorerAgreement: r, Pairs: pairs(r.Pairs), Differ: pairs(r.Differ),
	}
}
