package cli

import (
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"firstcue/internal/analysis"
	"firstcue/internal/report"
	"firstcue/internal/say"
	"firstcue/internal/store"
	"firstcue/internal/training"
)

func newCriteriaCommand(a *app) *cobra.Command {
	var format string
	var track bool
	cmd := &cobra.Command{
		Use:   "criteria [DOG] [CUE]",
		Short: "Show the bars in force, and where each comes from",
		Long: `Shows the bars that a dog's figures are held against. A bar set for one cue of one
dog beats one for the dog, that one for the cue, that one for the whole kennel, and
that the default. Without a dog it shows the kennel's own.

Shares are given in per cent, times in seconds. --track-record scores the chances that
past reports gave on the kennel's own finished dogs.`,
		Example: `  firstcue criteria
  firstcue criteria Tarn stay
  firstcue criteria set agreed 95% --dog Tarn`,
		Args: takes(0, 2, "at most a dog and a cue"), ValidArgsFunction: inOrder(a.completeDogs, a.completeCues),
		RunE: func(cmd *cobra.Command, args []string) error {
			if track {
				if len(args) > 0 {
					return usagef("--track-record is of the whole kennel, not of %s", args[0])
				}
				return a.trackRecord(cmd.Context(), format)
			}
			k, set, err := a.listed(cmd.Context())
			if err != nil {
				return err
			}
			var dog, cue string
			if len(args) > 0 {
				d, err := pick(k.Dogs, "dog", args[0])
				if err != nil {
					return err
				}
				dog = d.Name
			}
			if len(args) > 1 {
				c, err := pick(k.Cues, "cue", args[1])
				if err != nil {
					return err
				}
				cue = c.Name
			}
			return a.showCriteria(k, set, dog, cue, format)
		},
	}
	formatVar(cmd, &format, "text", "json")
	cmd.Flags().BoolVar(&track, "track-record", false, "how past chances of being ready came out")
	cmd.AddCommand(newCriteriaSetCommand(a), newCriteriaUnsetCommand(a))
	return cmd
}

func (a *app) showCriteria(k training.Kennel, set []training.Setting, dog, cue, format string) error {
	c := analysis.Resolve(k, set, dog, cue)
	rows, out := [][]string{}, []barJSON{}
	for _, b := range analysis.Bars() {
		v, _ := c.Value(b.Name)
		from := comesFrom(k, set, dog, cue, b.Name)
		if !v.Known && cue == "" {
			from = "the cue"
		}
		rows = append(rows, []string{b.Name, barValue(v, b.Unit), from, b.Meaning})
		out = append(out, barJSON{b.Name, v, b.Unit, from, b.Meaning})
	}
	if format == "json" {
		return writeFailed(a.json(criteriaJSON{schema("criteria"), dog, cue, out}))
	}
	return a.table("", []string{"bar", "value", "from", "meaning"}, rows, report.Left, report.Right)
}

// comesFrom says which of the scopes gives the bar: it asks which one still
// changes the value when the others are left out.
func comesFrom(k training.Kennel, set []training.Setting, dog, cue, name string) string {
	from := "default"
	if c, ok := k.Cue(cue); ok {
		own := map[string]training.Num{"limit": c.Limit, "arrive": c.Arrive, "target": c.Target, "breaks": c.Breaks}
		if v, has := own[name]; has && v.Known {
			from = "the cue"
		}
	}
	best := -1
	for _, s := range set {
		if given := training.Key(s.Name); given != name && !oldName(given, name) || s.Dog != "" && training.Key(s.Dog) != training.Key(dog) || s.Cue != "" && training.Key(s.Cue) != training.Key(cue) {
			continue
		}
		rank, where := 0, "kennel"
		if s.Cue != "" {
			rank, where = 1, s.Cue
		}
		if s.Dog != "" {
			rank += 2
			where = strings.TrimSpace(s.Dog + " " + s.Cue)
		}
		if rank > best {
			best, from = rank, where
		}
	}
	return from
}

// oldName reports that a setting of the first edition means the bar.
func oldName(given, name string) bool {
	now, same, _ := analysis.Renamed(given)
	return same && now == name
}

func barValue(v training.Num, unit string) string {
	switch {
	case !v.Known:
		return "-"
	case unit == "share" || unit == "sure":
		return say.Percent(v.V)
	case unit == "s":
		return say.Seconds(v.V)
	}
	return say.Number(v.V)
}

// scopeFlags say for whom a bar is set.
type scopeFlags struct{ dog, cue string }

func (f *scopeFlags) add(a *app, cmd *cobra.Command) {
	cmd.Flags().StringVar(&f.dog, "dog", "", "for this `DOG` alone")
	cmd.Flags().StringVar(&f.cue, "cue", "", "for this `CUE` alone")
	complete(cmd, "dog", a.completeDogs)
	complete(cmd, "cue", a.completeCues)
}

// setting finds the names, and checks that the bar is one.
func (f scopeFlags) setting(k training.Kennel, name string) (training.Setting, analysis.Bar, error) {
	s := training.Setting{Name: training.Key(name)}
	if now, same, old := analysis.Renamed(name); old {
		switch {
		case same:
			s.Name = now
		case now == "":
			return s, analysis.Bar{}, usagef("%s is no bar any more, and nothing takes its place", s.Name).try("firstcue criteria lists the bars")
		default:
			return s, analysis.Bar{}, usagef("%s is no bar any more", s.Name).try("%s is the nearest, but means something else: firstcue criteria says what", now)
		}
	}
	var names []string
	var bar analysis.Bar
	for _, b := range analysis.Bars() {
		names = append(names, b.Name)
		if b.Name == s.Name {
			bar = b
		}
	}
	if bar.Name == "" {
		e := usagef("no bar is called %q", name)
		if near := nearest(name, names); near != "" {
			return s, bar, e.try("did you mean %s?", near)
		}
		return s, bar, e.try("firstcue criteria lists them")
	}
	if f.dog != "" {
		d, err := pick(k.Dogs, "dog", f.dog)
		if err != nil {
			return s, bar, err
		}
		s.Dog = d.Name
	}
	if f.cue != "" {
		c, err := pick(k.Cues, "cue", f.cue)
		if err != nil {
			return s, bar, err
		}
		s.Cue = c.Name
	}
	return s, bar, nil
}

func scopeWords(s training.Setting) string {
	switch {
	case s.Dog != "" && s.Cue != "":
		return s.Cue + " of " + s.Dog
	case s.Dog != "":
		return "every cue of " + s.Dog
	case s.Cue != "":
		return s.Cue + " of every dog"
	}
	return "the whole kennel"
}

func newCriteriaSetCommand(a *app) *cobra.Command {
	var scope scopeFlags
	cmd := &cobra.Command{
		Use:   "set BAR VALUE",
		Short: "Set a bar for the kennel, a dog, a cue, or one cue of one dog",
		Long: `Sets a bar. Shares may be written 0.95 or 95%, times 3, 3s or 1:30. Verdicts of
earlier days are judged with the new bar too: a verdict follows from the trials, the
bars and the day.`,
		Example: `  firstcue criteria set agreed 95%
  firstcue criteria set target 1:30 --cue stay --dog Tarn`,
		Args: takes(2, 2, "a bar and its value"), ValidArgsFunction: inOrder(completeBars),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			return a.changing(ctx, func(s *store.Store) error {
				k, err := s.Kennel(ctx)
				if err != nil {
					return err
				}
				v, bar, err := scope.setting(k, args[0])
				if err != nil {
					return err
				}
				if bar.Name != training.Key(args[0]) {
					a.say("%s is now called %s", args[0], bar.Name)
				}
				if v.Value, err = readBar(bar, args[1]); err != nil {
					return err
				}
				if err := analysis.CheckSetting(v); err != nil {
					return usagef("%v", err)
				}
				set, err := s.Settings(ctx)
				if err != nil {
					return err
				}
				now := analysis.Resolve(k, set, v.Dog, v.Cue)
				if err := analysis.CheckAgainst(v, now); err != nil {
					return usagef("%v", err)
				}
				was, _ := now.Value(bar.Name)
				if err := s.SetSetting(ctx, v); err != nil {
					return err
				}
				a.say("%s is %s for %s (was %s): %s", bar.Name, barValue(training.Known(v.Value), bar.Unit), scopeWords(v), barValue(was, bar.Unit), bar.Meaning)
				return nil
			})
		},
	}
	scope.add(a, cmd)
	return cmd
}

func newCriteriaUnsetCommand(a *app) *cobra.Command {
	var scope scopeFlags
	cmd := &cobra.Command{
		Use:     "unset BAR",
		Short:   "Take a bar back, so that the wider one holds again",
		Long:    "Takes back a bar that was set for the same dog and cue.",
		Example: "  firstcue criteria unset target --cue stay --dog Tarn",
		Args:    takes(1, 1, "a bar"), ValidArgsFunction: inOrder(completeBars),
		RunE: func(cmd *cobra.Command, args []string) error {
			ctx := cmd.Context()
			return a.withStore(ctx, store.Options{}, func(s *store.Store) error {
				k, err := s.Kennel(ctx)
				if err != nil {
					return err
				}
				v, bar, err := scope.setting(k, args[0])
				if err != nil {
					return err
				}
				if err := s.UnsetSetting(ctx, v); err != nil {
					return err
				}
				set, err := s.Settings(ctx)
				if err != nil {
					return err
				}
				now, _ := analysis.Resolve(k, set, v.Dog, v.Cue).Value(bar.Name)
				a.say("%s is no longer set for %s; %s holds", bar.Name, scopeWords(v), barValue(now, bar.Unit))
				return nil
			})
		},
	}
	scope.add(a, cmd)
	return cmd
}

// readBar reads a bar's value in its unit.
func readBar(b analysis.Bar, text string) (float64, error) {
	if share, ok := strings.CutSuffix(text, "%"); ok {
		if b.Unit != "share" && b.Unit != "sure" {
			return 0, usagef("%s is not a share: %s is counted in %s", text, b.Name, b.Unit)
		}
		n, err := number(b.Name, strings.TrimSpace(share))
		return n.V / 100, err
	}
	if b.Unit == "s" {
		n, err := duration(b.Name, text)
		return n.V, err
	}
	n, err := number(b.Name, text)
	if err == nil && (b.Unit == "share" || b.Unit == "sure") && n.V > 1 {
		return 0, usagef("%s is a share from 0 to 1", b.Name).try("did you mean %s%%?", text)
	}
	return n.V, err
}

func completeBars(_ *cobra.Command, _ []string, typed string) ([]string, cobra.ShellCompDirective) {
	var out []string
	for _, b := range analysis.Bars() {
		if strings.HasPrefix(b.Name, typed) {
			out = append(out, cobra.CompletionWithDesc(b.Name, fmt.Sprintf("%s (%s)", b.Meaning, b.Unit)))
		}
	}
	return out, cobra.ShellCompDirectiveNoFileComp
}
