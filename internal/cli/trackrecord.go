package cli

import (
	"context"
	"fmt"

	"firstcue/internal/analysis"
	"firstcue/internal/report"
	"firstcue/internal/say"
	"firstcue/internal/store"
	"firstcue/internal/training"
)

// trackRecord scores the chances given for dogs whose due day is over.
func (a *app) trackRecord(ctx context.Context, format string) error {
	return a.reading(ctx, func(s *store.Store) error {
		k, set, err := kennelOf(ctx, s)
		if err != nil {
			return err
		}
		var records []training.Record
		for _, d := range k.Dogs {
			r, err := s.Record(ctx, d.Name, 0)
			if err != nil {
				return err
			}
			records = append(records, r)
		}
		t := analysis.TrackRecord(records, func(dog string) analysis.CriteriaFunc { return criteriaFor(k, set, dog) }, a.today())
		if format == "json" {
			return writeFailed(a.json(trackRecordJSON{schema("trackrecord"), t}))
		}
		if !t.Enough {
			a.printf("Not enough finished dogs to judge the forecasts by: %d, and 10 are needed.\n", t.Dogs)
			return nil
		}
		a.printf("%s given for %s whose due day is over.\n", plural(t.Forecasts, "chance"), plural(t.Dogs, "dog"))
		if t.Brier.Known && t.BrierBase.Known {
			a.printf("Brier score %s; always giving the share that happened would score %s. Lower is better.\n", say.Number(t.Brier.V), say.Number(t.BrierBase.V))
		}
		a.printf("\n")
		share := func(n training.Num) string {
			if !n.Known {
				return "-"
			}
			return say.Percent(n.V)
		}
		var rows [][]string
		for _, r := range t.Rows {
			rows = append(rows, []string{fmt.Sprintf("%s to %s", say.Percent(r.Low), say.Percent(r.High)), fmt.Sprint(r.Count), share(r.Said), share(r.Happened)})
		}
		return writeFailed(report.Table(a.env.Stdout, []string{"chance given", "how often", "said on average", "happened"}, rows,
			[]report.Align{report.Left, report.Right, report.Right, report.Right}, a.options()))
	})
}
