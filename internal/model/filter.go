package model

// Filter is what is known of one cue after the sittings observed so far.
type Filter struct {
	prior Prior
}

// New knows only the prior.
func New(p Prior) *Filter { panic("being built") }

// Clone is an independent copy: to try what further sittings would do.
func (f *Filter) Clone() *Filter { panic("being built") }

// Observe takes in the next sitting. Sittings come in the order of time. A sitting
// without asks changes nothing. It panics on counts that cannot be.
func (f *Filter) Observe(s Sitting) { panic("being built") }

// ObserveWalk takes in the next walk; for a filter with the prior [Walking]. A walk
// of no minutes changes nothing.
func (f *Filter) ObserveWalk(w Walk) { panic("being built") }

// LogLikelihood is the log of the probability that the filter gave to what it
// observed, each sitting before it came.
func (f *Filter) LogLikelihood() float64 { panic("being built") }

// Mark keeps the level of now in the state and gives the number that [Target.When]
// asks for it by: what later sittings say of it is taken in (smoothing).
func (f *Filter) Mark() int { panic("being built") }
