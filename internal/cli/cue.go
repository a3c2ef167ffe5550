package cli

import (
	"context"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"firstcue/internal/say"
	"firstcue/internal/store"
	"firstcue/internal/training"
)

// cueFlags are the flags that describe a cue.
type cueFlags struct {
	kind, signal, limit, arrive, target, breaks, ends, meaning string
	also                                                       func(*[]string)
}

func (f *cueFlags) add(cmd *cobra.Command, kind string) {
	chooseVar(cmd, &f.kind, "kind", kind, "how it is measured", "response", "hold", "motion")
	cmd.Flags().StringVar(&f.signal, "signal", "", "usual `SIGNAL`: voice, hand, whistle, tone, vibration, context")
	cmd.Flags().StringVar(&f.limit, "limit", "", "longest `TIME` from cue to start of the answer, such as 3s")
	cmd.Flags().StringVar(&f.arrive, "arrive", "", "longest `TIME` from cue to completion, such as within reach")
	cmd.Flags().StringVar(&f.target, "target", "", "hold: `TIME` to be kept, such as 60s or 2:00")
	cmd.Flags().StringVar(&f.breaks, "breaks", "", "motion: most position breaks a minute, a `NUMBER`")
	cmd.Flags().StringVar(&f.ends, "ends", "", "how it ends, in `WORDS`")
	cmd.Flags().StringVar(&f.meaning, "meaning", "", "what the dog is to do, in `WORDS`, for the owner's page")
	f.also = alsoVar(cmd)
}

// apply sets what was given on the cue.
func (f *cueFlags) apply(cmd *cobra.Command, c *training.Cue) error {
	changed := func(name string) bool { return cmd.Flags().Changed(name) }
	if changed("kind") || c.Kind == "" {
		c.Kind = training.Kind(f.kind)
	}
	if changed("signal") {
		c.Signal = training.Signal(f.signal)
	}
	var err error
	for _, t := range []struct {
		name, text string
		to         *training.Num
		of         training.Kind
	}{
		{"limit", f.limit, &c.Limit, ""},
		{"arrive", f.arrive, &c.Arrive, training.Response},
		{"target", f.target, &c.Target, training.Holding},
	} {
		if !changed(t.name) {
			continue
		}
		if t.of != "" && c.Kind != t.of {
			return usagef("--%s is for a cue of kind %s; %s is of kind %s", t.name, t.of, c.Name, c.Kind)
		}
		if *t.to, err = duration("--"+t.name, t.text); err != nil {
			return err
		}
	}
	if changed("breaks") {
		if c.Kind != training.Motion {
			return usagef("--breaks is for a cue of kind motion; %s is of kind %s", c.Name, c.Kind)
		}
		if c.Breaks, err = number("--breaks", f.breaks); err != nil {
			return err
		}
	}
	if changed("ends") {
		c.Ends = f.ends
	}
	if changed("meaning") {
		c.Meaning = f.meaning
	}
	f.also(&c.Aliases)
	return nil
}

func cueBars(c training.Cue) string {
	var s []string
	if c.Limit.Known {
		s = append(s, "starts within "+say.Seconds(c.Limit.V))
	}
	if c.Arrive.Known {
		s = append(s, "done within "+say.Seconds(c.Arrive.V))
	}
	if c.Target.Known {
		s = append(s, "kept for "+say.Clock(c.Target.V))
	}
	if c.Breaks.Known {
		s = append(s, "at most "+say.Number(c.Breaks.V)+" breaks a minute")
	}
	return strings.Join(s, ", ")
}

func newCueCommand(a *app) *cobra.Command {
	return entryCommand(a, entryList[training.Cue]{
		what: "cue", one: "a cue", names: a.completeCues,
		list: help{"What the dogs are asked",
			"The kennel's cues. A new store starts with heel, sit, down, stay, place, come, halt\nand leave it; every limit and target can be changed.",
			"  firstcue cue list"},
		add: help{"Add a cue", `Adds a cue of the kennel. Its kind says how it is measured:
  response  one answer is expected: sit, come
  hold      a position is kept for a time until released: stay, place
  motion    a position is kept while walking: heel

What one dog's people say and show for it goes to the dog: firstcue dog word.`,
			`  firstcue cue add touch --limit 2s --meaning 'nose to the hand'
  firstcue cue add 'wait' --kind hold --target 0:30`},
		set: help{"Change a cue's limit, target, signal or other spellings", `Changes a cue for every dog. For one dog alone, set the bar instead:
firstcue criteria set target 90 --dog Tarn --cue stay. To change the name, use rename.`,
			`  firstcue cue set come --arrive 8s
  firstcue cue set stay --target 2:00`},
		flags: func(cmd *cobra.Command, adding bool) func(*training.Cue) error {
			var f cueFlags
			kind := ""
			if adding {
				kind = "response"
			}
			f.add(cmd, kind)
			return func(c *training.Cue) error {
				err := f.apply(cmd, c)
				if adding && c.Kind == training.Response && !c.Limit.Known {
					c.Limit = training.Known(3)
				}
				return err
			}
		},
		of: func(k training.Kennel) []training.Cue { return k.Cues },
		put: func(ctx context.Context, s *store.Store, c training.Cue, _ []string) (training.Cue, error) {
			return s.PutCue(ctx, c)
		},
		line:    cueLine,
		headers: []string{"cue", "kind", "signal", "bars", "also written"},
		row: func(c training.Cue) []string {
			return []string{c.Name, string(c.Kind), string(c.Signal), cueBars(c), strings.Join(c.Aliases, ", ")}
		},
		begin: func(name string) training.Cue { return training.Cue{Name: name} },
	})
}

func cueLine(c training.Cue) string {
	s := fmt.Sprintf("%s, %s", c.Name, c.Kind)
	if b := cueBars(c); b != "" {
		s += ", " + b
	}
	return s + also1(c.Aliases)
}
