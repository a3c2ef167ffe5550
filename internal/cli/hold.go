package cli

import (
	"context"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"firstcue/internal/analysis"
	"firstcue/internal/store"
	"firstcue/internal/training"
)

// dogHold is what was said of a hold.
type dogHold struct {
	from, to, reason, end, remove string
	cues                          []string
	noCollar, collarOnly          bool
}

func newDogHoldCommand(a *app) *cobra.Command {
	var o dogHold
	cmd := &cobra.Command{
		Use:   "hold DOG",
		Short: "Stop a dog's training, or some cues, on the vet's advice",
		Long: `Puts a dog on hold: its trials of those days are left out of every figure, and
after a hold of the whole dog judgement starts from a new baseline. Notes of those
days are refused unless log --in-hold says that they are meant.

With --cue only these cues are held. --no-collar forbids collar levels while the
hold lasts; --collar-only holds the collar and nothing else. --end closes the open
hold with its last day.
A day is ` + dayWords + `.`,
		Example: `  firstcue dog hold Tarn --reason 'sore hip, vet' --no-collar
  firstcue dog hold Tarn --from 2026-03-10 --to 2026-03-16 --cue sit --reason 'dew claw'
  firstcue dog hold Thistle --end today`,
		Args: takes(1, 1, "a dog"), ValidArgsFunction: inOrder(a.completeDogs),
		RunE: func(cmd *cobra.Command, args []string) error {
			return a.withDog(cmd.Context(), args[0], true, func(s *store.Store, k training.Kennel, d training.Dog) error {
				switch {
				case o.remove != "":
					return a.removeHold(cmd.Context(), s, d, o.remove)
				case o.end != "":
					return a.endHold(cmd.Context(), s, d, o.end)
				}
				return a.setHold(cmd.Context(), s, k, d, o)
			})
		},
	}
	fs := cmd.Flags()
	fs.StringVar(&o.from, "from", "", "first `DAY` (default today)")
	fs.StringVar(&o.to, "to", "", "last `DAY` (default: until ended)")
	fs.StringVar(&o.reason, "reason", "", "why, in `WORDS`")
	fs.StringArrayVar(&o.cues, "cue", nil, "hold only this `CUE` (may be repeated)")
	fs.BoolVar(&o.noCollar, "no-collar", false, "no collar level may be used while it lasts")
	fs.BoolVar(&o.collarOnly, "collar-only", false, "hold the collar alone; the dog is trained without it")
	fs.StringVar(&o.end, "end", "", "end the open hold with this last `DAY`")
	fs.StringVar(&o.remove, "remove", "", "take back the hold that began on this `DAY`, entered by mistake")
	complete(cmd, "cue", a.completeCues)
	return cmd
}

// removeHold takes back the hold that began on a day.
func (a *app) removeHold(ctx context.Context, s *store.Store, d training.Dog, day string) error {
	first, err := a.day("--remove", day)
	if err != nil {
		return err
	}
	for _, h := range d.Holds {
		if h.From == first {
			if err := s.RemoveHold(ctx, d.Name, h.ID); err != nil {
				return err
			}
			a.say("hold of %s removed: %s", d.Name, holdLine(h))
			return nil
		}
	}
	return usagef("%s has no hold that began on %s", d.Name, first).try("firstcue dog show %s --format list shows them", quote(d.Name))
}

// endHold ends the open holds of a dog with their last day.
func (a *app) endHold(ctx context.Context, s *store.Store, d training.Dog, day string) error {
	last, err := a.day("--end", day)
	if err != nil {
		return err
	}
	ended, err := s.EndHold(ctx, d.Name, "", last)
	for _, h := range ended {
		a.say("hold of %s ended, last day %s: %s", d.Name, last, h.Reason)
	}
	return err
}

// setHold puts a dog on hold and says what that does.
func (a *app) setHold(ctx context.Context, s *store.Store, k training.Kennel, d training.Dog, o dogHold) error {
	h := training.VetHold{Reason: o.reason, NoCollar: o.noCollar || o.collarOnly, CollarOnly: o.collarOnly, From: a.today()}
	if o.reason == "" {
		return usagef("a hold needs its reason").try("--reason 'sore hip, vet'")
	}
	var err error
	if o.from != "" {
		if h.From, err = a.day("--from", o.from); err != nil {
			return err
		}
	}
	if h.To, err = a.day("--to", o.to); err != nil {
		return err
	}
	for _, name := range o.cues {
		c, err := pick(k.Cues, "cue", name)
		if err != nil {
			return err
		}
		h.Cues = append(h.Cues, c.Name)
	}
	before, _, err := a.assess(ctx, s, d.Name, a.today())
	if err != nil {
		return err
	}
	if h, err = s.SetHold(ctx, d.Name, h); err != nil {
		return err
	}
	was := "is"
	if h.To != 0 && h.To < a.today() {
		was = "was"
	}
	a.say("%s %s on hold: %s", d.Name, was, holdLine(h))
	if err := a.sayHeld(ctx, s, d.Name, h, before); err != nil {
		return err
	}
	if h.To == 0 {
		a.say("when it is over: firstcue dog hold %s --end DAY", quote(d.Name))
	}
	return nil
}

// sayHeld says what a hold that began before today does to what is stored.
func (a *app) sayHeld(ctx context.Context, s *store.Store, dog string, h training.VetHold, before analysis.Assessment) error {
	if h.From > a.today() || h.CollarOnly {
		return nil
	}
	after, _, err := a.assess(ctx, s, dog, a.today())
	if err != nil {
		return err
	}
	n := after.LeftOut - before.LeftOut
	if n <= 0 && h.From == a.today() {
		return nil
	}
	of := ""
	if len(h.Cues) > 0 {
		of = " of " + strings.Join(h.Cues, ", ")
	}
	if n > 0 {
		a.say("  sessions%s of those days are now left out", of)
	}
	if h.To != 0 && h.To < a.today() {
		a.say("  judgement%s starts on %s", of, (h.To + 1).Time(time.UTC).Format("2 Jan"))
	}
	if n > 0 {
		a.say("  %s %s kept and not counted", plural(n, "earlier trial"), isAre(n))
	}
	a.say("  take it back: firstcue dog hold %s --remove %s", quote(dog), h.From)
	return nil
}

func isAre(n int) string {
	if n == 1 {
		return "is"
	}
	return "are"
}

func holdLine(h training.VetHold) string {
	s := "from " + h.From.String()
	if h.To != 0 {
		s += " to " + h.To.String()
	}
	if len(h.Cues) > 0 {
		s += ", " + strings.Join(h.Cues, ", ") + " only"
	}
	switch {
	case h.CollarOnly:
		s += ", the collar only"
	case h.NoCollar:
		s += ", no collar"
	}
	return s + ": " + h.Reason
}
