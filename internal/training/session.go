package training

import (
	"encoding/json"
	"time"
)

// Session is one dog, one handler, one start, one place, one leash state and
// one distraction code, with its trials in order. A note that changes the
// place, handler, leash or distraction without a new start makes several
// sessions with one start; Part tells them apart.
type Session struct {
	ID       string    `json:"id"`       // UUIDv7, "" before it is stored
	Revision int       `json:"revision"` // 1 = as first logged; 0 before it is stored
	Dog      string    `json:"dog"`      // registered names throughout, whatever the note called them
	Handler  string    `json:"handler"`
	Scorer   string    `json:"scorer"` // who wrote it down, if not the handler
	Start    time.Time `json:"start"`
	Part     int       `json:"part"` // 0 for the first session of this dog with this start in a note
	Place    string    `json:"place"`
	Leash    Leash     `json:"leash"`
	// Distraction is 0 (familiar, quiet) to 4 (this dog's hardest thing), an
	// order and not a quantity: never averaged.
	Distraction  Num    `json:"distraction"`
	Device       string `json:"device"`
	WorkingLevel Num    `json:"workingLevel"` // lowest level the dog noticed that day, on Device
	Weather      string `json:"weather"`
	Reward       string `json:"reward"`
	Source       Source `json:"source"`
	// Baseline marks a session held before any teaching of its cues.
	Baseline bool `json:"baseline"`
	// Note is the text of this session as it was written, word for word.
	// Carried holds, as context lines, what earlier lines of the same note or
	// the command's flags had set. Carried + Note is a note of its own.
	Note    string `json:"note"`
	Carried string `json:"-"`
	// Zone is the IANA name of the zone the start was written in, "" = offset only.
	Zone    string   `json:"zone"`
	Trials  []Trial  `json:"trials"`
	Remarks []Remark `json:"remarks"`
	// Worn is when the dog wore its collar on the day of the session; empty = not
	// said. Skin is how the skin under it looked when it was checked, "" = not
	// checked.
	Worn []Worn `json:"worn,omitempty"`
	Skin string `json:"skin,omitempty"`
	// Links are videos and photos of the session.
	Links []Link `json:"links,omitempty"`
	// OwnerRepeated and OwnerLate are how often the owner said a cue again without
	// need and marked or rewarded too late; unknown = not watched for.
	OwnerRepeated Num `json:"ownerRepeated"`
	OwnerLate     Num `json:"ownerLate"`
	// Rescores is the ID of the session that this is a second scoring of. A
	// second scoring never adds trials to any figure.
	Rescores string `json:"rescores"`
	// Voided is why the session was withdrawn; "" = it stands.
	Voided string `json:"withdrawn"`
}

// Day returns the calendar day of the session where it was held.
func (s Session) Day() Day { return DayOf(s.Start) }

// Worn is a span in which a collar was on, in minutes after midnight of the day
// of the session; On < Off <= 24 * 60.
type Worn struct {
	On  int `json:"on"`
	Off int `json:"off"`
}

// Hours returns how long the span is.
func (w Worn) Hours() float64 { return float64(w.Off-w.On) / 60 }

// Link is an address of a video or photo. Owner marks one that the owner may see.
type Link struct {
	Address string `json:"address"`
	Owner   bool   `json:"owner,omitempty"`
}

// Remark is a line of free text in a note. An incident, or a sign of fear, pain
// or aggression, blocks "ready" until it is closed.
type Remark struct {
	Text     string `json:"text"`
	Incident bool   `json:"incident"`
	Line     int    `json:"noteLine"` // line in Note, 1 = first
}

// Incident is a remark that something happened, with how it was dealt with.
type Incident struct {
	ID      string `json:"id"`
	Session string `json:"session"` // ID of the session it was noted in; "" = entered by itself
	Dog     string `json:"dog"`
	Day     Day    `json:"day"`
	Text    string `json:"text"`
	Closed  Day    `json:"closed"` // zero = open
	Outcome string `json:"outcome"`
	// Dropped: its session was withdrawn since, or its note no longer says it. It
	// stays until it is closed all the same.
	Dropped bool `json:"dropped"`
}

// Outcome is what became of a trial.
type Outcome string

// Outcomes. The last three are counted apart and stand in no denominator.
const (
	Answered Outcome = "answered" // response: the right answer came, after Asks asks
	Refused  Outcome = "refused"  // response: closed without the right answer
	Held     Outcome = "held"     // hold: kept until the target, or until released when there was none
	Broke    Outcome = "broke"    // hold: position broken before the release
	Released Outcome = "released" // hold: ended by the handler before the target; censored
	Walked   Outcome = "walked"   // motion: the walk ended
	Counted  Outcome = "counted"  // a tally: see Trial.Tally
	Unscored Outcome = "unscored" // could not be scored
	Early    Outcome = "early"    // acted before the cue
	Already  Outcome = "already"  // was in position already
)

// Trial is one opportunity: opened by one cue, closed by the response, by
// giving up, or by the end of the hold or walk. Latencies are in seconds and
// belong to the ask they are measured on.
type Trial struct {
	Cue     string  `json:"cue"`
	Kind    Kind    `json:"kind"`
	Signal  Signal  `json:"signal"` // of the first ask; "" = not said
	Outcome Outcome `json:"outcome"`
	Asks    int     `json:"asks"` // askings of the cue; 1 when answered at once. 0 for early
	// Did is what the dog did instead on the first wrong answer; "?" when the
	// answer was wrong and not named, "" when no answer was wrong.
	Did string `json:"did"`
	// Latency is from the start of the ask that was answered to the start of
	// the response; Completion, to its end (arrived within reach).
	Latency    Num `json:"latencySeconds"`
	Completion Num `json:"completionSeconds"`
	// Waited is how long the first ask stood unanswered before it was repeated
	// or given up: where its latency is censored. Unknown with Asks > 1 or
	// Refused: only that no answer came inside the cue's limit.
	Waited Num `json:"waitedSeconds"`
	// Begun is the start of a response to the first ask that was not completed.
	Begun       Num          `json:"begunSeconds"`
	Prompts     []string     `json:"prompts"` // help given: "lure", "gesture", ...; "help" when not named
	Corrections []Correction `json:"corrections"`
	Target      Num          `json:"targetSeconds"` // hold: seconds asked for
	Held        Num          `json:"heldSeconds"`   // hold: seconds until it broke or was released
	Walked      Num          `json:"walkedSeconds"` // motion: seconds walked
	Breaks      int          `json:"breaks"`        // motion: position breaks; hold: 1 when broken
	// Strayed names where the dog went, one for each break of a walk whose
	// direction was noted: "forward", "left".
	Strayed  []string `json:"strayed,omitempty"`
	Distance Num      `json:"distanceMetres"` // metres between dog and handler
	Tally    Tally    `json:"tally"`
	At       Num      `json:"atSeconds"` // timed note: seconds on its clock when the trial opened
	// Marks is the trial in the notation, in one canonical spelling. Every field
	// above can be read from it again.
	Marks string `json:"marks"`
	Line  int    `json:"noteLine"` // line in the session's Note, 1 = first
}

// Tally is several trials known only by their number: Yes of Of on the first
// ask. Of is 0 when the trial is not a tally. A tally has no order, so no cold
// trial, and no latencies.
type Tally struct {
	Yes int `json:"yes"`
	Of  int `json:"of"`
}

// MarshalJSON writes the tally, or null when there is none.
func (t Tally) MarshalJSON() ([]byte, error) {
	if t.Of == 0 {
		return []byte("null"), nil
	}
	type plain Tally
	return json.Marshal(plain(t))
}

// Count returns how many opportunities the trial stands for.
func (t Trial) Count() int {
	if t.Tally.Of > 0 {
		return t.Tally.Of
	}
	return 1
}

// CorrectionKind is how a correction was made.
type CorrectionKind string

// Kinds of correction.
const (
	ByLeash  CorrectionKind = "leash"
	ByVoice  CorrectionKind = "verbal"
	ByCollar CorrectionKind = "collar"
	// By the collar's tone or vibration, which have no level.
	ByTone      CorrectionKind = "tone"
	ByVibration CorrectionKind = "vibration"
)

// Correction is one correction within a trial. Level is known for a collar only,
// Device for a collar and its tone or vibration: "no correction" is not level 0.
type Correction struct {
	Kind   CorrectionKind `json:"kind"`
	Level  Num            `json:"level"`
	Device string         `json:"device"`
	// Served reports that the next ask in the trial was answered, or for a walk
	// or hold that the position was taken again.
	Served bool `json:"answered"`
}

// Record is all that is known of one dog and may bear on a judgement: the
// kennel's lists, the dog, its sessions (any order; voided ones and second
// scorings may be present and are left out of figures), its incidents.
type Record struct {
	Kennel    Kennel
	Dog       Dog
	Sessions  []Session
	Incidents []Incident
	// Unsettled are the sessions, by ID, that were said differently in two stores
	// before these were joined, and of which nobody chose a form yet.
	Unsettled []string
	// BaseRate is the share of the kennel's finished stays that ended ready (see
	// Boarding.Ready), with how many it rests on; unknown = none finished.
	// It is the one figure of other dogs that enters this dog's forecast.
	BaseRate Num
	BaseDogs int
}
