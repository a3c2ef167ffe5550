package analysis

import "firstcue/internal/training"

// StepName names a step before home.
type StepName string

// The steps, in order. OffLeash is on the kennel's own ground; Colleague is somebody
// who is neither the main trainer nor the owner.
const (
	StepOffLeash    StepName = "off leash"
	StepOffProperty StepName = "off property"
	StepColleague   StepName = "colleague"
	StepOwner       StepName = "owner lessons"
	StepHome        StepName = "home"
)

// Step answers what a trainer asks before the dog goes home: may it be done now?
type Step struct {
	Name   StepName `json:"step"`
	Answer Answer   `json:"answer"`
	Tally           // asks so far under the step's own condition
	// Leashes are the leash states of those asks, least control last.
	Leashes []training.Leash `json:"leashes"`
	People  []StepPerson     `json:"byPerson"`
	Lack    *Lack            `json:"lacks"` // the one thing that is missing; null when the answer is yes
}

// StepPerson is one person's part of a step.
type StepPerson struct {
	Person string `json:"person"`
	Answer Answer `json:"answer"`
	Tally
}

// LackCode names a thing that is missing.
type LackCode string

// What may be missing. The count that goes with it is given with each.
const (
	LackAsks        LackCode = "asks"         // Asks, Sessions, Days, Minutes more
	LackLevel       LackCode = "level"        // the level itself
	LackPeople      LackCode = "other people" // Asks, Sessions by anybody but NotBy
	LackPerson      LackCode = "person"       // the figure with Person
	LackPlaces      LackCode = "places"       // Places more, each with Asks in Sessions
	LackAway        LackCode = "off property" // Places more off property
	LackPlace       LackCode = "place"        // the figure at Place
	LackCold        LackCode = "first asks"   // the first ask of a session
	LackOffLeash    LackCode = "off leash"    // Asks, Sessions off leash, at Place where given
	LackSpeed       LackCode = "speed"        // the time to answer
	LackCorrections LackCode = "corrections"  // too many now
	LackRising      LackCode = "corrections rising"
	LackGoal        LackCode = "goal"        // the figure of an agreed goal
	LackGoalAsked   LackCode = "goal asked"  // Asks, Sessions under the goal's condition
	LackOwner       LackCode = "owner"       // Asks, Sessions (lessons) by the owner
	LackOwnerLevel  LackCode = "owner level" // the figure with the owner
	LackNights      LackCode = "nights"      // Nights more like this one
	LackNeverAsked  LackCode = "never asked" // the cue was never asked since teaching began
	LackIncident    LackCode = "incident"    // an open incident
	LackVet         LackCode = "vet"         // the vet has not cleared it
)

// Lack is one thing that is missing, as a value.
type Lack struct {
	Code     LackCode       `json:"code"`
	Cue      string         `json:"cue"`    // "" = the dog
	Person   string         `json:"person"` // by whom; "" = anybody
	NotBy    string         `json:"notBy"`  // by anybody but this one
	Place    string         `json:"place"`
	Leash    training.Leash `json:"leash"`
	Goal     int            `json:"goal"` // index into the dog's goals, -1 = none
	Asks     int            `json:"asks"` // how many more, at least
	Sessions int            `json:"sessions"`
	Days     int            `json:"days"`
	Minutes  float64        `json:"minutes"`
	Places   int            `json:"places"`
	Nights   int            `json:"nights"`
}
