package model

import "math"

// Factor is a circumstance of a sitting that may raise or lower the chance.
type Factor int

const (
	Person      Factor = iota // who asks
	Place                     // where
	Leash                     // on what
	Distraction               // how hard
	Factors     int    = iota
)

// Prior is what is assumed before the first sitting. All standard deviations are
// on the scale of the model: logits of the chance for asks, logs of the rate for
// walks.
type Prior struct {
	Rate bool // the log of a rate (walks) instead of the logit of a chance (asks)

	Start, StartSD float64          // level before the first sitting
	Step           float64          // standard deviation of the level's step from one sitting to the next
	JumpChance     float64          // chance of a jump between two sittings of a day
	JumpNight      float64          // chance of a jump between the last sitting of a day and the next
	Jump           float64          // standard deviation of a jump
	Spread         [Factors]float64 // standard deviation of a factor's effects; 0: the factor is not looked at
	Cell           float64          // standard deviation of a person's own difference at a place
	Cold           float64          // standard deviation of the difference of a sitting's first ask
	// Likeness is the intra-class correlation of the asks of one sitting, 0 to below 1;
	// for walks the squared coefficient of variation of the rate from walk to walk.
	Likeness float64
}

// Shipped is the prior of a cue. No record of working dogs supplied it; the
// numbers are assumed and tried on simulated dogs.
func Shipped() Prior {
	return Prior{
		Start: .5, StartSD: 1.8,
		Step: .10, JumpChance: .01, JumpNight: .06, Jump: 1.5,
		Spread: [Factors]float64{.7, .7, .7, .7}, Cell: .35,
		Cold: .7, Likeness: .10,
	}
}

// Alone is the prior of one person's own asks, looked at without anybody else's:
// no effects of people, places or the first ask.
func Alone() Prior {
	return Prior{Start: 1.5, StartSD: 1.5, Step: .10, Likeness: .10}
}

// Walking is the prior of breaks a minute in motion, on the log scale.
func Walking() Prior {
	return Prior{
		Rate:  true,
		Start: math.Log(.5), StartSD: 1.5,
		Step: .10, JumpChance: .01, JumpNight: .06, Jump: 1.2,
		Spread: [Factors]float64{.5, .5, .5, .5}, Cell: .25,
		Likeness: .25,
	}
}
