package cli

import (
	"context"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"firstcue/internal/analysis"
	"firstcue/internal/report"
	"firstcue/internal/say"
	"firstcue/internal/store"
	"firstcue/internal/training"
)

func newPlanCommand(a *app) *cobra.Command {
	var format, asOf string
	var minutes int
	cmd := &cobra.Command{
		Use:   "plan [DOG]",
		Short: "Say what to do next, and why",
		Long: `Plans a dog's next session: what would change its verdict most comes first, each line
with its reason, and an easy cue last. It takes as many lines as fit into a session of
15 minutes; --minutes says how long yours is, and 0 lists everything.

Without a dog it prints a day sheet of every dog that is here, by handler. A plan is
a proposal from the record; the dog in front of you comes first. Leave out what looks
painful or frightened, and ask the owner's vet.`,
		Example: `  firstcue plan Tarn
  firstcue plan Tarn --minutes 10
  firstcue plan`,
		Args: takes(0, 1, "at most a dog"), ValidArgsFunction: inOrder(a.completeDogs),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			if minutes < 0 {
				return usagef("--minutes is a number of minutes from 1, or 0 for no limit")
			}
			day, err := a.asOf(asOf)
			if err != nil {
				return err
			}
			return a.reading(ctx, func(s *store.Store) error {
				k, err := s.Kennel(ctx)
				if err != nil {
					return err
				}
				if len(args) == 1 {
					d, err := pick(k.Dogs, "dog", args[0])
					if err != nil {
						return err
					}
					x, lines, err := a.planDog(ctx, s, d.Name, day, minutes)
					if err != nil {
						return err
					}
					return a.writePlan(x, lines, format)
				}
				var plans []analysis.DogPlan
				var held []string
				for _, d := range k.Dogs {
					if b, ok := d.Boarding(day); !ok || b.Home != 0 && b.Home <= day {
						continue
					}
					x, lines, err := a.planDog(ctx, s, d.Name, day, minutes)
					if err != nil {
						return err
					}
					if len(x.Holds) > 0 && len(lines) == 0 {
						held = append(held, d.Name)
					}
					plans = append(plans, analysis.DogPlan{Dog: d.Name, Main: x.Main, Lines: lines})
				}
				return a.writeDaySheet(day, analysis.DaySheet(plans), held, format)
			})
		},
	}
	cmd.Flags().IntVar(&minutes, "minutes", 15, "what fits into this `NUMBER` of minutes for each dog, 0 for everything")
	asOfVar(cmd, &asOf)
	formatVar(cmd, &format, "text", "json")
	return cmd
}

func (a *app) planDog(ctx context.Context, s *store.Store, dog string, day training.Day, minutes int) (analysis.Assessment, []analysis.PlanLine, error) {
	x, r, err := a.assess(ctx, s, dog, day)
	if err != nil {
		return x, nil, err
	}
	set, err := s.Settings(ctx)
	if err != nil {
		return x, nil, err
	}
	return x, analysis.Plan(x, r, criteriaFor(r.Kennel, set, dog), minutes), nil
}

type planLineJSON struct {
	Rank    int          `json:"rank"`
	Cue     string       `json:"cue"`
	Reason  string       `json:"reason"`
	What    string       `json:"what"`
	Why     string       `json:"why"`
	Asks    int          `json:"asks"`
	Minutes training.Num `json:"minutes"`
	Who     *string      `json:"who"`
	NotBy   *string      `json:"notBy"`
	Where   *string      `json:"where"`
}

func planLineToJSON(l analysis.PlanLine) planLineJSON {
	ref := func(s string) *string {
		if s == "" {
			return nil
		}
		return &s
	}
	j := planLineJSON{Rank: l.Rank, Cue: l.Cue, Reason: string(l.Reason), What: l.What, Why: l.Why, Asks: l.Asks, Who: ref(l.Who), NotBy: ref(l.Not), Where: ref(l.Where)}
	if l.Minutes > 0 {
		j.Minutes = training.Known(l.Minutes)
	}
	return j
}

// whoWhere says who is to do a line and where.
func whoWhere(l analysis.PlanLine) string {
	var parts []string
	switch {
	case l.Who != "":
		parts = append(parts, l.Who)
	case l.Not != "":
		parts = append(parts, "anyone but "+l.Not)
	}
	if l.Where != "" {
		parts = append(parts, l.Where)
	}
	return strings.Join(parts, ", ")
}

func (a *app) writePlan(x analysis.Assessment, lines []analysis.PlanLine, format string) error {
	if format == "json" {
		out := []planLineJSON{}
		for _, l := range lines {
			out = append(out, planLineToJSON(l))
		}
		return writeFailed(a.json(struct {
			Schema string         `json:"schema"`
			Dog    string         `json:"dog"`
			AsOf   training.Day   `json:"asOf"`
			Lines  []planLineJSON `json:"lines"`
		}{schema("plan"), x.Dog.Name, x.AsOf, out}))
	}
	if len(lines) == 0 {
		if len(x.Holds) > 0 {
			a.printf("%s is on hold: nothing is planned until the vet allows it\n", x.Dog.Name)
		} else {
			a.printf("nothing to plan for %s yet: log a first session\n", x.Dog.Name)
		}
		return nil
	}
	for _, i := range x.Incidents {
		a.wrapped("OPEN INCIDENT, %s: %s\nLeave out what led to it, and use no correction, until somebody competent has looked at the dog.", say.LongDay(i.Day), printable(i.Text))
		a.printf("\n")
	}
	total := 0.0
	var rows [][]string
	for _, l := range lines {
		total += l.Minutes
		rows = append(rows, []string{strconv.Itoa(l.Rank), l.What, whoWhere(l), l.Why})
	}
	a.wrapped("%s, the next session, about %s min, from the record up to %s", x.Dog.Name, say.Number(float64(int(total+0.5))), say.LongDay(x.AsOf))
	a.printf("\n")
	return writeFailed(a.grid([]string{"", "do", "who and where", "why"}, rows, []report.Align{report.Right}))
}

func (a *app) writeDaySheet(day training.Day, sheet []analysis.HandlerSheet, held []string, format string) error {
	if format == "json" {
		type lineJSON struct {
			Dog string `json:"dog"`
			planLineJSON
		}
		type handlerLines struct {
			Handler string     `json:"handler"`
			Lines   []lineJSON `json:"lines"`
		}
		out := []handlerLines{}
		for _, h := range sheet {
			x := handlerLines{h.Handler, []lineJSON{}}
			for _, l := range h.Lines {
				x.Lines = append(x.Lines, lineJSON{l.Dog, planLineToJSON(l.PlanLine)})
			}
			out = append(out, x)
		}
		return writeFailed(a.json(struct {
			Schema   string         `json:"schema"`
			AsOf     training.Day   `json:"asOf"`
			Handlers []handlerLines `json:"handlers"`
			OnHold   []string       `json:"onHold"`
		}{schema("daysheet"), day, out, list(held)}))
	}
	a.wrapped("Day sheet, from the record up to %s", say.LongDay(day))
	for _, h := range sheet {
		a.printf("\n%s\n", h.Handler)
		var rows [][]string
		for _, l := range h.Lines {
			rows = append(rows, []string{l.Dog, l.What, l.Where, l.Why})
		}
		if err := a.grid([]string{"dog", "do", "where", "why"}, rows, nil); err != nil {
			return writeFailed(err)
		}
	}
	if len(held) > 0 {
		a.printf("\nOn hold, nothing to do: %s\n", strings.Join(held, ", "))
	}
	if len(sheet) == 0 && len(held) == 0 {
		a.say("no dog is here: firstcue dog add NAME --arrived today")
	}
	return nil
}
