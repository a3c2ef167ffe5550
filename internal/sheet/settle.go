package sheet

import (
	"fmt"
	"slices"

	"firstcue/internal/training"
)

// tally reads a row that counts several trials.
func (x *reader) tally(t *training.Trial, said map[Field]string) (why *Problem) {
	if t.Tally.Yes, why = x.count(Yes, said[Yes], 1000); why != nil {
		return why
	}
	if t.Tally.Of, why = x.count(Of, said[Of], 1000); why != nil {
		return why
	}
	if said[Yes] == "" || t.Tally.Of == 0 || t.Tally.Yes > t.Tally.Of {
		return x.problem(Yes, "", "a tally needs both numbers, as 8 of 10", "")
	}
	if t.Kind == training.Motion {
		return x.problem(Yes, "", t.Cue+" is walked, not counted", "give the time and the breaks")
	}
	if r := said[Response]; r != "" && answers[training.Key(r)] != training.Counted {
		return x.problem(Response, r, "besides a tally", "give one of them")
	}
	return nil
}

// settle gives a trial the outcome that its answer stands for, in the form in
// which a note's reader has it. What the row says besides must go with it.
func (x *reader) settle(t *training.Trial, o training.Outcome, said map[Field]string) *Problem {
	asked := t.Asks
	if t.Outcome = o; o != training.Counted && o != training.Early {
		t.Asks = max(t.Asks, 1)
	}
	if said[Asks] != "" && asked == 0 && t.Asks > 0 {
		return x.clash(Asks, said)
	}
	switch {
	case o == training.Counted && t.Tally.Of == 0:
		return x.problem(Yes, "", "a tally needs both numbers, as 8 of 10", "")
	case slices.Contains([]training.Outcome{training.Counted, training.Early, training.Already,
		training.Unscored}, o):
		return x.bare(t, said)
	case t.Kind == training.Motion:
		return x.walk(t, said)
	case t.Kind == training.Holding:
		return x.hold(t, said)
	}
	return x.response(t, said)
}

// clash says that a column does not go with the answer.
func (x *reader) clash(f Field, said map[Field]string) *Problem {
	answer := said[Response]
	if answer == "" {
		answer = said[Cue]
	}
	return x.problem(f, said[f], fmt.Sprintf("does not go with %q", answer), "")
}

// none refuses what an outcome has no room for. A number of none says nothing.
func (x *reader) none(said map[Field]string, fields ...Field) *Problem {
	for _, f := range fields {
		if s := said[f]; !slices.Contains([]string{"", "no", "none", "n", "0", "-"}, training.Key(s)) {
			return x.clash(f, said)
		}
	}
	return nil
}

// bare is a trial that only its cue and its outcome are known of.
func (x *reader) bare(t *training.Trial, said map[Field]string) *Problem {
	if t.Kind != training.Holding {
		if why := x.none(said, Target); why != nil {
			return why
		}
	}
	if t.Asks > 1 {
		return x.clash(Asks, said)
	}
	why := x.none(said, Latency, Completion, Did, Help, Correction, Level, Held, Walked, Breaks)
	if t.Outcome == training.Counted || t.Outcome == training.Early {
		t.Asks = 0
	}
	return why
}

func (x *reader) response(t *training.Trial, said map[Field]string) *Problem {
	if why := x.none(said, Target, Held, Walked, Breaks); why != nil {
		return why
	}
	switch t.Outcome {
	case training.Answered:
		if t.Did != "" && t.Asks == 1 {
			return x.problem(Did, t.Did, "besides an answer to the first ask", "say how many asks it took")
		}
		if t.Completion.Known && t.Latency.V > t.Completion.V {
			return x.clash(Completion, said)
		}
		served(t)
	case training.Refused:
		return x.none(said, Latency, Completion)
	default:
		return x.meaningless(said[Response], "is no answer of "+t.Cue)
	}
	return nil
}

// served marks every correction as one after which the dog did as asked.
func served(t *training.Trial) {
	for i := range t.Corrections {
		t.Corrections[i].Served = true
	}
}

func (x *reader) hold(t *training.Trial, said map[Field]string) *Problem {
	if why := x.none(said, Walked); why != nil {
		return why
	}
	if t.Completion.Known && t.Latency.V > t.Completion.V {
		return x.clash(Completion, said)
	}
	switch t.Outcome {
	case training.Answered, training.Released:
		if t.Held.Known && t.Held.V == 0 {
			return x.clash(Held, said)
		}
		if why := x.none(said, Breaks); why != nil {
			return why
		}
		t.Outcome = training.Held
		if !t.Held.Known {
			t.Held = t.Target
		} else if t.Target.Known && t.Held.V < t.Target.V {
			t.Outcome = training.Released
		}
		if t.Did != "" {
			t.Asks = max(t.Asks, 2) // what it did instead was an answer to one
		}
		served(t)
	case training.Refused:
		t.Outcome, t.Breaks = training.Broke, 1
		if t.Did != "" && (t.Held.Known || t.Asks > 1) {
			t.Asks = max(t.Asks, 2)
		}
	default:
		return x.meaningless(said[Response], "is no answer of "+t.Cue)
	}
	return nil
}

func (x *reader) walk(t *training.Trial, said map[Field]string) *Problem {
	if t.Outcome != training.Walked {
		return x.problem(Response, said[Response], "is no answer of "+t.Cue,
			"a walk has a time and its breaks")
	}
	if !t.Walked.Known {
		return x.problem(Walked, "", t.Cue+" has no time walked", "")
	}
	// The last correction is followed by the walk going on, if by no break.
	if n := len(t.Corrections); n > 0 && t.Breaks == 0 {
		t.Corrections[n-1].Served = true
	}
	return x.none(said, Latency, Completion, Did, Target, Held)
}
