package analysis

import "firstcue/internal/training"

// PlanReason says why a line is in the plan. The codes are stable.
type PlanReason string

// The reasons, in the order in which they are ranked.
const (
	PlanVet   PlanReason = "vet first"     // do not ask: slower or refused answers
	PlanSlip  PlanReason = "slipping"      // easier, in a quiet place
	PlanOwner PlanReason = "owner lesson"  // the owner's lessons come by date
	PlanGoal  PlanReason = "goal"          // an agreed condition that was not asked enough
	PlanNever PlanReason = "not asked yet" // agreed, not asked since teaching began
	PlanProve PlanReason = "prove"         // what moves the decision most
	PlanStale PlanReason = "stale"         // not asked for some days
	PlanStep  PlanReason = "practice"      // by the last five answers
	PlanEasy  PlanReason = "easy end"      // ends the session
	PlanNew   PlanReason = "new first day" // after a hold or an incident: easy asks only
)

// PlanStepCode says how hard to make it.
type PlanStepCode string

// Harder is one thing harder: farther, longer or busier, and only one of them.
const (
	Easier PlanStepCode = "easier"
	Same   PlanStepCode = "same"
	Harder PlanStepCode = "harder"
)

// PlanLine is one thing to do in the next session.
type PlanLine struct {
	Rank    int           `json:"rank"` // 1 = first
	Reason  PlanReason    `json:"reason"`
	Cue     string        `json:"cue"`
	Kind    training.Kind `json:"kind"`
	Asks    int           `json:"asks"`        // 0 for a walk, and where the cue is to be left out
	Minutes float64       `json:"minutes"`     // about how long it takes; for a walk, how long to walk
	Seconds training.Num  `json:"holdSeconds"` // hold: how long to ask for
	Person  string        `json:"person"`      // "" = whoever has the dog
	NotBy   string        `json:"notBy"`       // the one person it must not be
	Place   string        `json:"place"`       // "" = anywhere
	// NewPlace: at one that was not tried, Away: off property.
	NewPlace bool           `json:"newPlace"`
	Away     bool           `json:"offProperty"`
	Leash    training.Leash `json:"leash"` // "" = as always
	Step     PlanStepCode   `json:"step"`
	LastFive Tally          `json:"lastFive"` // the last asks (at most five) that Step follows
	Tally    Tally          `json:"counts"`   // what there is so far under the line's condition
	Gate     GateName       `json:"gate"`     // the gate it is for; "" = none
	Lack     *Lack          `json:"lacks"`
	// Gain is by how much a usual session of it is expected to move the probability
	// that the gate needs.
	Gain  training.Num `json:"gain"`
	Since training.Day `json:"since"` // slipping, slower, stale, owner's last lesson
}
