package analysis

import (
	"fmt"
	"time"

	"firstcue/internal/training"
)

// day1 is the first day of every invented stay in these tests.
var day1 = training.Date(2026, time.March, 2)

// kennel is an invented kennel with the seeded cues.
func kennel() training.Kennel {
	return training.Kennel{
		Handlers: []training.Handler{
			{Name: "Maren", Role: training.Trainer}, {Name: "Ivo", Role: training.Trainer},
			{Name: "Owner", Role: training.Owner}, {Name: "Pim", Role: training.Outsider},
		},
		Places: []training.Place{
			{Name: "yard"}, {Name: "barn"}, {Name: "market", OffProperty: true},
			{Name: "street", OffProperty: true},
		},
		Devices: []training.Device{{Name: "blue"}, {Name: "red"}},
		Cues:    training.SeedCues(),
	}
}

func record(sessions ...training.Session) training.Record {
	return training.Record{Kennel: kennel(), Dog: training.Dog{Name: "Juno", Owners: []string{"Owner"}},
		Sessions: sessions}
}

// bars gives the defaults with the cue's own limits.
func barsOf(r training.Record) CriteriaFunc {
	return func(cue string) Criteria { return Resolve(r.Kennel, nil, r.Dog.Name, cue) }
}

// at builds a session on the n-th day of the stay (1 = first) at a clock time.
func at(n int, clock string, handler, place string, trials ...training.Trial) training.Session {
	t, err := time.Parse("15:04", clock)
	if err != nil {
		panic(err)
	}
	start := (day1 + training.Day(n-1)).Time(time.UTC).Add(time.Duration(t.Hour())*time.Hour + time.Duration(t.Minute())*time.Minute)
	return training.Session{ID: fmt.Sprintf("%d-%s-%s-%s", n, clock, handler, place), Dog: "Juno",
		Handler: handler, Start: start, Place: place, Trials: trials}
}

func kindOf(cue string) training.Kind {
	if c, ok := kennel().Cue(cue); ok {
		return c.Kind
	}
	return training.Response
}

// yes is an ask answered at once; a latency may be given.
func yes(cue string, latency ...float64) training.Trial {
	t := training.Trial{Cue: cue, Kind: kindOf(cue), Outcome: training.Answered, Asks: 1}
	if len(latency) > 0 {
		t.Latency = training.Known(latency[0])
	}
	if len(latency) > 1 {
		t.Completion = training.Known(latency[1])
	}
	if t.Kind == training.Holding {
		t.Outcome = training.Held
	}
	return t
}

// no is an ask given up.
func no(cue string) training.Trial {
	t := training.Trial{Cue: cue, Kind: kindOf(cue), Outcome: training.Refused, Asks: 1}
	if t.Kind == training.Holding {
		t.Outcome = training.Broke
	}
	return t
}

// again is an ask answered on the second asking.
func again(cue string, latency float64) training.Trial {
	return training.Trial{Cue: cue, Kind: kindOf(cue), Outcome: training.Answered, Asks: 2,
		Latency: training.Known(latency)}
}

func counted(cue string, yes, of int) training.Trial {
	return training.Trial{Cue: cue, Kind: kindOf(cue), Outcome: training.Counted,
		Tally: training.Tally{Yes: yes, Of: of}}
}

func kept(cue string, target, held float64) training.Trial {
	return training.Trial{Cue: cue, Kind: training.Holding, Outcome: training.Held, Asks: 1,
		Target: training.Known(target), Held: training.Known(held)}
}

func broke(cue string, target, held float64) training.Trial {
	t := kept(cue, target, held)
	t.Outcome, t.Breaks = training.Broke, 1
	return t
}

func walk(minutes float64, breaks int) training.Trial {
	return training.Trial{Cue: "heel", Kind: training.Motion, Outcome: training.Walked, Asks: 1,
		Walked: training.Known(minutes * 60), Breaks: breaks}
}

// many repeats yes trials and then no trials.
func many(cue string, y, n int) []training.Trial {
	var out []training.Trial
	for range y {
		out = append(out, yes(cue))
	}
	for range n {
		out = append(out, no(cue))
	}
	return out
}

func tap(level float64, device string, served bool) training.Correction {
	return training.Correction{Kind: training.ByCollar, Level: training.Known(level), Device: device,
		Served: served}
}

func cueOf(a Assessment, cue string) CueAssessment {
	for _, c := range a.Cues {
		if c.Cue == cue {
			return c
		}
	}
	panic("no cue " + cue)
}

func gateOf(c CueAssessment, name GateName) Gate {
	for _, g := range c.Gates {
		if g.Name == name {
			return g
		}
	}
	panic("no gate " + string(name))
}
