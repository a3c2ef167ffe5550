package analysis

import "firstcue/internal/training"

// Criteria are the bars a cue's figures are held against. Shares are 0 to 1,
// times seconds. The zero value is not usable: start from Defaults.
type Criteria struct {
	Trials   int // scored trials for "enough"
	Sessions int
	Days     int
	Minutes  float64 // motion: minutes walked instead of trials

	Rate     float64 // current first-cue rate to become ready
	Floor    float64 // lower end of the two-sided 90 % interval
	Leave    float64 // ready is lost below this rate
	Nights   int     // nights in a row
	HalfLife float64 // sessions
	ICC      float64 // for decisions

	OtherSessions int // people: sessions not by the main trainer
	OtherTrials   int // scored trials in them
	OtherRate     float64
	OtherFloor    float64

	Places        int
	OffProperty   int
	PlaceTrials   int
	PlaceSessions int
	PlaceMinutes  float64 // motion: minutes walked at a place

	ContextBar    float64 // upper end of the 95 % interval must reach it
	ContextTrials int

	OwnerTrials  int
	OwnerLessons int
	OwnerRate    float64
	OwnerFloor   float64

	Limit     training.Num // response: first-cue limit and bar of the median, s
	Arrive    training.Num // response: completion limit, s
	Target    training.Num // hold: s
	HoldRate  float64
	HoldFloor float64
	Breaks    training.Num // motion: per minute

	CorrectionsPerTen float64
	TrendSessions     int // fewer sessions: no trend is named

	ColdLast   int
	ColdMisses int
	AlarmGood  float64 // miss rate in control
	AlarmBad   float64
	AlarmAt    float64
	StaleDays  int
}
