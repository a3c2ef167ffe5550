package model

// At names the circumstances of a sitting; an empty name is "not known" and has no effect.
type At [Factors]string

// First is how the first ask of a sitting went.
type First int

const (
	NotNoted First = iota // a tally, a hold, or a part of a sitting that is going on
	Yes
	No
)

// Sitting is what one person asks in one place without a longer break.
type Sitting struct {
	At    At
	First First
	Yes   int // answered among the asks after the first one; of all asks where the first is not noted
	Of    int // those asks
	// Continued says that this is the sitting before going on in other circumstances
	// (off the leash, with a distraction): no time has passed, and its asks are like
	// those before.
	Continued bool
	// Night says that this is the first sitting of its day: a level jumps overnight
	// more often than between two sittings of a day.
	Night bool
}

// Walk is time in motion.
type Walk struct {
	At      At
	Breaks  int
	Minutes float64
	Night   bool // the first walk of its day
}
