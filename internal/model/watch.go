package model

// Question is a probability that a decision uses: that the target's chance is at
// least the value. For walks it is that the rate of breaks is at most the value:
// a question is always asked so that more is better.
type Question struct {
	Target Target
	Value  float64
}

// Watch is a filter and its answers to a fixed list of questions, with one promise:
// a clean ask never lowers an answer. A filter alone cannot promise that: a clean
// ask by somebody new, or long after a miss, makes a jump or a new effect thinkable
// and can lower a probability by a hair.
//
// The rule. After a sitting with a miss the answer is the largest of what the
// filter would say after this sitting with all its misses and with none, one, two
// ... all of its later clean asks. After a clean sitting it is the largest of those
// and the answer before it. So each clean ask only adds to what the largest is
// taken of, be it appended to the last sitting or a sitting of its own.
//
// Ask of everybody and everywhere that a decision may need from the start: a name
// that has not been tried yet has the prior's effect.
type Watch struct {
	Filter  *Filter
	answers []float64
}

// NewWatch begins with the answers of the prior.
func NewWatch(p Prior, questions []Question) *Watch { panic("being built") }

// Clone is an independent copy.
func (w *Watch) Clone() *Watch { panic("being built") }

// Observe takes in the next sitting and answers anew.
func (w *Watch) Observe(s Sitting) { panic("being built") }

// ObserveWalk is the same for a walk; one without a break is clean.
func (w *Watch) ObserveWalk(k Walk) { panic("being built") }

// Answer to question i, 0 to 1.
func (w *Watch) Answer(i int) float64 { panic("being built") }
