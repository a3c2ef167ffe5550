package model

// Target says what a figure is about. The zero Target is the level now, averaged
// over the people, places, leashes and distractions tried so far.
type Target struct {
	// At fixes a factor; an empty name averages over what was tried, by the number
	// of sittings. A name that was never tried has the prior's effect.
	At At
	// First asks for the first ask of a sitting instead of the later ones.
	First bool
	// When is 0 for now, or the number that Mark gave.
	When int
}

// Prob is the probability that the target's chance of an answer (rate of breaks a
// minute, for walks) is at least the value.
func (f *Filter) Prob(t Target, atLeast float64) float64 { panic("being built") }

// Mean is the target's median chance (rate of breaks a minute, for walks): the
// figure to print.
func (f *Filter) Mean(t Target) float64 { panic("being built") }

// Interval holds the target's chance (rate) with the probability confidence, the
// rest shared between both ends.
func (f *Filter) Interval(t Target, confidence float64) (low, high float64) { panic("being built") }

// Worse is the probability that the effect of a name is below the average of the
// factor's other names by at least so many logits (above, for walks: logs of the
// rate), people over the places tried and places over the people. It is 0 where no
// other name was tried.
func (f *Filter) Worse(of Factor, name string, by float64) float64 { panic("being built") }

// ColdWorse is the probability that first asks are below the later ones by at least
// so many logits.
func (f *Filter) ColdWorse(by float64) float64 { panic("being built") }
