package analysis

import "firstcue/internal/training"

// Verdict says whether a cue, or a dog, may be handed over.
type Verdict string

// The verdicts. NotProven is "too few asks to say either" and never reads as Ready.
const (
	Ready     Verdict = "ready"
	NotProven Verdict = "not proven"
	NotReady  Verdict = "not ready"
	OnHold    Verdict = "on hold"
)

// Standing is how a figure stands against its bar.
type Standing string

// The standings of a gate, a goal, a person or a place.
const (
	Met    Standing = "met"
	Short  Standing = "not proven" // neither met nor credibly failed
	Failed Standing = "failed"     // credibly under its bar
)

// Answer is what a step before home gets.
type Answer string

// The answers. Waits: the vet, or an open incident, comes first.
const (
	Yes     Answer = "yes"
	Unknown Answer = "not proven"
	No      Answer = "no"
	Waits   Answer = "waits"
)

// Tally is plain counts. For a motion the asks are 0 and the walks count.
type Tally struct {
	Answered int     `json:"answered"` // first asks answered (holds: kept), unaided and in time
	Asks     int     `json:"asks"`     // first asks that could be scored
	Sessions int     `json:"sessions"` // sittings they fall into
	Breaks   int     `json:"breaks"`   // motion: position breaks
	Minutes  float64 `json:"minutes"`  // motion: minutes walked
}

// Figure is what the model says of the chance that the first ask is answered now, 0
// to 1; of a motion, of the position breaks a minute, where less is better.
type Figure struct {
	Now    training.Num `json:"now"`    // the middle of what is likely; unknown = nothing to go by
	Low80  training.Num `json:"low80"`  // 80 % interval, 10 % on each side: the one to draw against a bar
	High80 training.Num `json:"high80"` //
	Low95  training.Num `json:"low95"`  // 95 % interval: "likely"
	High95 training.Num `json:"high95"` //
	Bar    training.Num `json:"bar"`    // what must be passed; unknown = no bar
	// Sure is the probability, 0 to 1, that the bar is passed; Needed is what it
	// must be.
	Sure   training.Num `json:"sure"`
	Needed training.Num `json:"needed"`
}

// Assessment is the judgement of one dog on one day. It follows from the record,
// the criteria and the day alone, and holds no sentence: words are made from it.
type Assessment struct {
	Dog  training.Dog `json:"-"`
	Name string       `json:"dog"`
	Day  training.Day `json:"day"`
	Stay *Stay        `json:"stay"` // null = no boarding covers the day

	Verdict Verdict `json:"verdict"`
	// Before is the verdict of the evening before, by the same rules.
	Before Verdict `json:"verdictBefore"`
	// Agreed says whether goals are agreed with the owner. Without goals every cue
	// asked counts.
	Agreed bool `json:"goalsAgreed"`
	// ReadyCues of CountedCues: the agreed cues, or without goals all that were asked.
	ReadyCues   int `json:"readyCues"`
	CountedCues int `json:"countedCues"`
	// ReadyOn is the least control on which all counted cues were shown ("off" = off
	// leash); "" = not said, or too few asks.
	ReadyOn training.Leash `json:"readyOnLeash"`

	Owner OwnerOfDog `json:"owner"`
	Steps []Step     `json:"steps"` // off leash, off property, colleague, owner lessons, home
	// Reasons for the verdict, worst first; of a ready dog, what is weakest.
	Reasons   []Reason        `json:"reasons"`
	Cautions  []Caution       `json:"cautions"` // gravest first; see Caution.Today
	Incidents []Incident      `json:"openIncidents"`
	Holds     []VetHold       `json:"vetHolds"`       // in force on the day
	Fall      *Fall           `json:"fellBeforeHold"` // null = no fall in the days before the last vet hold
	Cues      []CueAssessment `json:"cues"`
	// agreed cues (without goals, the kennel's) never asked since teaching began
	Never []Untried `json:"neverAsked"`

	Today    DayTally   `json:"today"`
	Forecast *Forecast  `json:"forecast"` // of all counted cues; null = no due day ahead
	Plan     []PlanLine `json:"plan"`     // without a limit of minutes

	Main     string       `json:"mainTrainer"`        // "" = nobody yet
	MainSet  bool         `json:"mainTrainerEntered"` // entered for the dog, not counted
	People   []Person     `json:"people"`             // who asked, most sessions first
	Places   []PlaceTried `json:"places"`             // where, most sessions first
	Leashes  []LeashUse   `json:"leashes"`            // all cues together
	Remarks  []Remark     `json:"remarks"`            // the last five that are not incidents, newest first
	Sessions int          `json:"sessions"`           // sittings that count
	Asks     int          `json:"asks"`               // trials that count, scored or not
	First    training.Day `json:"firstDay"`
	Last     training.Day `json:"lastDay"`
	// StaleDays: no counted cue was asked for so many days, and the dog is ready; 0 = not stale.
	StaleDays int `json:"staleDays"`
	// LeftOut trials lie in vet holds or before a new baseline; Baseline is the first
	// day counted where a hold or an earlier stay moved it.
	LeftOut   int          `json:"leftOut"`
	Baseline  training.Day `json:"baseline"`
	Unsettled []Unsettled  `json:"unsettled"` // sessions said differently in two stores
}

// Stay is the boarding that the day falls into.
type Stay struct {
	Arrived training.Day `json:"arrived"`
	Due     training.Day `json:"due"`       // null = none agreed
	Home    training.Day `json:"home"`      // null = still here
	Day     int          `json:"dayOfStay"` // 1 = day of arrival
	// DaysToDue is negative when the due day is over.
	DaysToDue training.Num `json:"daysToDue"`
	Wishes    string       `json:"wishes"` // in the owner's words
}

// Person is somebody who asked the dog for something.
type Person struct {
	Name  string        `json:"name"`
	Role  training.Role `json:"role"`
	First training.Day  `json:"firstDay"`
	Last  training.Day  `json:"lastDay"`
	Tally               // all counted cues
}

// PlaceTried is a place where the dog was asked.
type PlaceTried struct {
	Name        string       `json:"name"`
	OffProperty bool         `json:"offProperty"`
	First       training.Day `json:"firstDay"`
	Last        training.Day `json:"lastDay"`
	Tally
}

// LeashUse is what was asked in one leash state.
type LeashUse struct {
	Leash training.Leash `json:"leash"` // "" = not said
	Tally
	People      []string     `json:"people"`
	Places      []string     `json:"places"`
	OffProperty bool         `json:"offProperty"` // some of it away from the kennel's ground
	Owner       bool         `json:"owner"`       // some of it asked by the owner
	Last        training.Day `json:"lastDay"`
}

// Remark is free text of a note. It is the kennel's: it does not go to the owner.
type Remark struct {
	Day    training.Day `json:"day"`
	Person string       `json:"person"`
	Place  string       `json:"place"`
	Text   string       `json:"text"`
}

// Untried is a cue that was never asked since teaching began.
type Untried struct {
	Cue    string        `json:"cue"`
	Kind   training.Kind `json:"kind"`
	Agreed bool          `json:"agreed"`
	// BeforeTeaching: it was asked in a session held before any teaching.
	BeforeTeaching bool `json:"askedBeforeTeaching"`
	OnHold         bool `json:"onHold"`
}

// Unsettled is a session of which two stores have two forms.
type Unsettled struct {
	ID    string       `json:"id"`
	Day   training.Day `json:"day"`
	Start string       `json:"start"` // RFC 3339
}

// DayTally is the day's own asks against what the dog did lately. One day is little:
// it has no interval.
type DayTally struct {
	Tally
	// Expected is how many first asks last evening's levels would have answered;
	// unknown without asks or without an earlier day.
	Expected training.Num `json:"expected"`
	// Compared is "above", "usual" or "below" (outside the middle 80 % of what last
	// evening's levels give); "" = nothing to compare.
	Compared string `json:"compared"`
}

// OwnerOfDog is what the owner's own asks have shown, all counted cues together.
type OwnerOfDog struct {
	Names     []string `json:"names"`
	Confirmed bool     `json:"confirmed"` // every counted cue is
	// ConfirmedCues of CountedCues.
	ConfirmedCues int          `json:"confirmedCues"`
	Lessons       int          `json:"lessons"` // sittings in which the owner asked
	LessonsNeeded int          `json:"lessonsNeeded"`
	Last          training.Day `json:"lastLesson"`
	// confirmed, but the last lesson was so many days ago; 0 = not stale
	StaleDays int `json:"staleDays"`
}

// ReasonCode names a reason.
type ReasonCode string

// The reasons, gravest first. Each says which of the fields of Reason it fills.
const (
	WhyIncident ReasonCode = "incident" // Day, Count: an incident is open
	// Count, Low, High, Device, Day: corrections since then
	WhyAfterIncident ReasonCode = "corrected after incident"
	WhyVet           ReasonCode = "vet hold"            // Since
	WhyFall          ReasonCode = "fell before hold"    // Tally against Rest
	WhyNeverWished   ReasonCode = "wished, never asked" // Goal: the owner wishes it, nobody asked it so
	WhyNeverAsked    ReasonCode = "never asked"         // Cues
	WhySlipping      ReasonCode = "slipping"            // Cue, Since, Figure
	WhyPerson        ReasonCode = "person fails"        // Person, Cues, Tally against Rest, Since
	WhyPlace         ReasonCode = "place fails"         // Place, Cues, Tally against Rest
	WhyPersonShort   ReasonCode = "person not proven"   // as WhyPerson, but it may be chance
	WhyPlaceShort    ReasonCode = "place not proven"    // as WhyPlace, but it may be chance
	WhyGoal          ReasonCode = "goal fails"          // Goal, Tally, Figure
	WhyLevel         ReasonCode = "level fails"         // Cue, Tally, Figure
	// Cue, Tally (first asks) against Rest (later asks)
	WhyCold   ReasonCode = "first asks fail"
	WhyRising ReasonCode = "corrections rising" // Cue, Count of Tally.Asks
	// Cue, Device, Low (at first), High (lately), Day (first)
	WhyLevelRising ReasonCode = "dial rising"
	WhyCorrections ReasonCode = "corrections"         // Cue, Count of Tally.Asks or in Tally.Minutes
	WhySpeed       ReasonCode = "slow"                // Cue, Figure: seconds
	WhyShort       ReasonCode = "short of evidence"   // Cue, Lack: the first thing that is not proven
	WhyOffLeash    ReasonCode = "never off leash"     // Goal or Place; Tally on a line
	WhyNotLately   ReasonCode = "not asked lately"    // Person or Place, Tally, Day (last)
	WhyOnePerson   ReasonCode = "one new person only" // Person, Tally
	WhyWeakest     ReasonCode = "weakest"             // Cue, Person or Place, Tally, Figure; passes
)

// Reason is one fact behind the verdict.
type Reason struct {
	Code   ReasonCode     `json:"code"`
	Weak   bool           `json:"weak"` // a weakness of what passed, not in the way
	Cue    string         `json:"cue"`  // "" where Cues are several, or the dog is meant
	Cues   []string       `json:"cues"`
	Person string         `json:"person"`
	Place  string         `json:"place"`
	Leash  training.Leash `json:"leash"`
	Device string         `json:"device"`
	Goal   *training.Goal `json:"goal"`
	Tally  Tally          `json:"counts"`
	Rest   Tally          `json:"rest"` // what it is compared with; all 0 = nothing
	Figure Figure         `json:"figure"`
	Count  int            `json:"count"`
	Low    training.Num   `json:"low"`
	High   training.Num   `json:"high"`
	Day    training.Day   `json:"day"`
	Since  training.Day   `json:"since"`
	Lack   *Lack          `json:"lacks"`
}

// Caution is a thing to mind, with the facts that call for it. Codes are stable.
type Caution struct {
	Code CautionCode `json:"code"`
	// Today: it applies now, and not only to what is on record.
	Today bool `json:"today"`
	// Stop: training stops until it is settled.
	Stop  bool          `json:"stop"`
	Facts []CautionFact `json:"facts"`
}

// CautionFact is why a caution is shown: whichever of the fields apply.
type CautionFact struct {
	Why     CautionWhy   `json:"why"`
	Day     training.Day `json:"day"`
	Cue     string       `json:"cue"`
	Person  string       `json:"person"`
	Place   string       `json:"place"`
	Device  string       `json:"device"`
	Level   training.Num `json:"level"`   // dial position
	Working training.Num `json:"working"` // working level of the device
	Count   int          `json:"count"`
	Of      int          `json:"of"`
	Before  training.Num `json:"beforeSeconds"`
	Now     training.Num `json:"nowSeconds"`
	Text    string       `json:"text"` // words of the kennel (an incident, a vet's reason)
}

// Incident is an open incident and what was done to the dog since.
type Incident struct {
	ID      string       `json:"id"`
	Session string       `json:"session"`
	Day     training.Day `json:"day"`
	Text    string       `json:"text"` // the kennel's words
	// After is the corrections logged after it; null = none.
	After *CorrectionsAfter `json:"correctionsAfter"`
}

// CorrectionsAfter is corrections logged after an incident: later in the same
// session, or in a later one.
type CorrectionsAfter struct {
	Count  int          `json:"count"`
	First  training.Day `json:"firstDay"`
	Last   training.Day `json:"lastDay"`
	Device string       `json:"device"` // "" = none, or several
	// dial position; unknown = none with a level, or several devices
	LowLevel  training.Num `json:"lowLevel"`
	HighLevel training.Num `json:"highLevel"` //
}

// VetHold is a hold in force.
type VetHold struct {
	From       training.Day `json:"from"`
	To         training.Day `json:"to"` // null = open
	Reason     string       `json:"reason"`
	Cues       []string     `json:"cues"` // empty = the whole dog
	NoCollar   bool         `json:"noCollar"`
	CollarOnly bool         `json:"collarOnly"`
}

// Fall is that the dog did worse in the last days before a vet hold than before them.
// Slower or refused answers can be pain.
type Fall struct {
	Hold   training.Day `json:"holdFrom"`
	Reason string       `json:"reason"`  // of the hold
	From   training.Day `json:"fromDay"` // the days of the fall
	To     training.Day `json:"toDay"`
	Cues   []string     `json:"cues"`
	During Tally        `json:"during"`
	Before Tally        `json:"before"`
	Remark *Remark      `json:"remark"` // the last remark of those days
}

// Forecast is the chance of being ready by the due day, in all respects, if training
// goes on as it has.
type Forecast struct {
	By     training.Day `json:"by"`
	Nights int          `json:"nights"` // nights left
	// Chance that the verdict is ready on the evening of By, 0 to 1; unknown while it
	// is too early to say.
	Chance training.Num `json:"chance"`
	// Base is the share of the kennel's finished stays that ended ready, of BaseDogs.
	Base     training.Num `json:"base"`
	BaseDogs int          `json:"baseDogs"`
	// LeastSessions is the least number of clean sittings that what is missing takes;
	// 0 = none, or not known.
	LeastSessions int    `json:"leastSessions"`
	Waits         []Lack `json:"waits"` // what is missing, worst first
	Asks          int    `json:"asks"`  // scored asks behind it
}
