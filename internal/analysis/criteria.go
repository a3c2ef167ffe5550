package analysis

import "firstcue/internal/training"

// Criteria are the bars a cue's figures are held against. Shares and probabilities
// ("sure") are 0 to 1. The zero value is not usable: start from Defaults.
type Criteria struct {
	Asks     int     `json:"asks"` // scored asks before a cue can be ready
	Sessions int     `json:"sessions"`
	Days     int     `json:"days"`
	Minutes  float64 `json:"minutes"` // motion: minutes walked instead of asks

	// Agreed is the share of first asks agreed where a goal names no other. A stay is
	// too short to tell it from Agreed less Margin, so that is what the level must pass.
	Agreed    float64 `json:"agreed"`
	Margin    float64 `json:"margin"`
	Sure      float64 `json:"sure"`     // how sure it must be
	KeepSure  float64 `json:"keepSure"` // ready is lost after Nights evenings under this
	LoseSure  float64 `json:"loseSure"` // ready is lost at once under this
	FailSure  float64 `json:"failSure"` // how sure that it is below Agreed to say "not ready"
	Nights    int     `json:"nights"`
	NightAsks int     `json:"nightAsks"` // asks of the cue that make an evening count

	// Person is the share for everybody but the main trainer taken together (OthersSure)
	// and for each person alone (PersonSure), Place the share at each place.
	Person     float64 `json:"person"`
	OthersSure float64 `json:"othersSure"`
	PersonSure float64 `json:"personSure"`
	PersonKeep float64 `json:"personKeep"` // ready is lost after Nights evenings under this
	PersonLose float64 `json:"personLose"` // lost at once
	Place      float64 `json:"place"`
	PlaceSure  float64 `json:"placeSure"`
	PlaceKeep  float64 `json:"placeKeep"`
	PlaceLose  float64 `json:"placeLose"`
	// how sure that a person or place is below its share to say "not ready"
	WeakSure float64 `json:"weakSure"`

	FirstAsk     float64 `json:"firstAsk"` // share for the first ask of a session
	FirstAskSure float64 `json:"firstAskSure"`
	FirstAskKeep float64 `json:"firstAskKeep"`
	FirstAskLose float64 `json:"firstAskLose"`

	OtherSessions int     `json:"otherSessions"` // not by the main trainer
	OtherAsks     int     `json:"otherAsks"`
	Places        int     `json:"places"`
	OffProperty   int     `json:"offProperty"`
	PlaceAsks     int     `json:"placeAsks"` // also: before a person, place or goal is held against the dog
	PlaceSessions int     `json:"placeSessions"`
	PlaceMinutes  float64 `json:"placeMinutes"` // motion

	OwnerAsks    int     `json:"ownerAsks"`
	OwnerLessons int     `json:"ownerLessons"`
	Owner        float64 `json:"owner"` // share for the owner
	OwnerSure    float64 `json:"ownerSure"`

	Limit  training.Num `json:"limitSeconds"`    // response: first-ask limit and bar of the median
	Arrive training.Num `json:"arriveSeconds"`   // response: completion limit
	Target training.Num `json:"targetSeconds"`   // hold
	Breaks training.Num `json:"breaksPerMinute"` // motion

	// Corrections now, at most: per ten asks, and for a motion per minute.
	Corrections          float64 `json:"correctionsPerTen"`
	CorrectionsPerMinute float64 `json:"correctionsPerMinute"`
	TrendSessions        int     `json:"trendSessions"` // fewer sittings: no trend is named

	SlippingSure float64 `json:"slippingSure"`
	WorseSure    float64 `json:"worseSure"`
	Likeness     float64 `json:"likeness"` // of the asks of one sitting (intra-class correlation)
	StaleDays    int     `json:"staleDays"`
}

// LevelBar is the share that the level must pass.
func (c Criteria) LevelBar() float64 { return c.Agreed - c.Margin }
