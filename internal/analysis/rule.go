package analysis

import "firstcue/internal/training"

// Rule says which trials count as a first-ask success: the right answer to the
// first ask, without help or correction.
type Rule struct {
	// Limit is the longest time in seconds from the start of the cue to the
	// start of the response; unknown = no limit. A time that was not taken
	// counts as inside: the scorer's yes says so.
	Limit training.Num `json:"limitSeconds"`
	// Arrive is the longest time to completion; unknown = no such limit.
	Arrive training.Num `json:"arriveSeconds"`
	// Begun also counts a response that was begun on the first ask and not
	// completed, whatever followed (the lenient rule of some field studies).
	Begun bool `json:"begunCounts"`
}

// FirstCueUnder counts the first-ask successes of a trial under a rule: yes of
// of. A tally stands for several. Of is 0 for what stands in no denominator:
// unscored, early, already there, a walk, and a hold that the handler ended
// before its own target.
//
// An answer later than the limit is a late answer and counts as no, however
// good it was; so does one that took a second ask, help or a correction, or
// came after a wrong answer.
func FirstCueUnder(t training.Trial, rule Rule) (yes, of int) {
	switch t.Outcome {
	case training.Counted:
		of = max(0, t.Tally.Of)
		return min(max(0, t.Tally.Yes), of), of
	case training.Refused, training.Answered:
		if rule.Begun && t.Begun.Known {
			return one(within(t.Begun, rule.Limit)), 1
		}
		ok := t.Outcome == training.Answered && unaided(t) && within(t.Latency, rule.Limit) &&
			(rule.Begun || within(t.Completion, rule.Arrive))
		return one(ok), 1
	case training.Held:
		return one(unaided(t) && within(t.Latency, rule.Limit)), 1
	case training.Broke:
		return 0, 1
	}
	return 0, 0
}

// unaided reports that the first ask alone did it.
func unaided(t training.Trial) bool {
	return t.Asks <= 1 && t.Did == "" && len(t.Prompts) == 0 && len(t.Corrections) == 0
}

func within(v, limit training.Num) bool { return !v.Known || !limit.Known || v.V <= limit.V }

func one(b bool) int {
	if b {
		return 1
	}
	return 0
}
