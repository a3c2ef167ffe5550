package analysis

import "firstcue/internal/training"

// CueAssessment is everything judged of one cue of one dog.
type CueAssessment struct {
	Cue    string        `json:"cue"`
	Kind   training.Kind `json:"kind"`
	Agreed *bool         `json:"agreed"` // null = the dog has no goals

	Verdict Verdict `json:"verdict"`
	Before  Verdict `json:"verdictBefore"` // of the evening before; "" = not asked yet then
	// ReadySince is the first evening of the present run of ready evenings; null = not ready.
	ReadySince training.Day `json:"readySince"`
	// GoodNights in a row on which the model's bars were passed, at most as many as
	// are needed.
	GoodNights int `json:"goodNights"`
	// Lost is the day on which a level that was there was lost, until it is there again.
	Lost training.Day `json:"lost"`
	// ReadyOn is the least control on which the cue was shown; "" = not said, or too few asks.
	ReadyOn training.Leash `json:"readyOnLeash"`

	Tally
	Days      int          `json:"days"`
	First     training.Day `json:"firstDay"`
	Last      training.Day `json:"lastDay"`
	LastID    string       `json:"lastSession"`
	StaleDays int          `json:"staleDays"` // days since Last, from the bar "stale" on; 0 = not stale

	// Now is the level over the people and places tried, on later asks of a session.
	Now   Figure `json:"now"`
	Share Share  `json:"wholeStay"`
	Gates []Gate `json:"gates"`
	// Changes are what would change the verdict, one for each thing that a number of
	// asks can bring, most needed first.
	Changes []Change       `json:"changes"`
	Goals   []GoalStanding `json:"goals"`
	Owner   Owner          `json:"owner"`

	People []Context `json:"people"` // worst first
	Places []Context `json:"places"` // worst first
	Cells  []Context `json:"cells"`  // each person at each place, untried ones too
	// Others is everybody but the main trainer taken together; null = nobody else asked.
	Others       *Context   `json:"others"`
	Leashes      []LeashUse `json:"leashes"`
	Distractions []Context  `json:"distractions"`
	Signals      []Context  `json:"signals"`
	Cold         Cold       `json:"cold"`
	Slipping     Slipping   `json:"slipping"`
	Forecast     *Forecast  `json:"forecast"` // null = no due day ahead

	Latency     *Latency    `json:"latency"`    // response; null = other kinds
	Completion  *Survival   `json:"completion"` // response with completions; null = none timed
	Hold        *Hold       `json:"hold"`       // hold; null = other kinds
	Walked      *Breaks     `json:"walked"`     // motion: breaks over the whole stay; null = other kinds
	Corrections Corrections `json:"corrections"`

	// Apart are the trials that stand in no denominator.
	Unscored      int           `json:"unscored"`
	Early         int           `json:"early"`
	AlreadyThere  int           `json:"alreadyThere"`
	ReleasedEarly int           `json:"releasedEarly"`
	WrongAnswers  []WrongAnswer `json:"wrongAnswers"`
	LeftOut       int           `json:"leftOut"` // trials in a vet hold or before a new baseline
	// first asks in sessions held before any teaching; in no other figure
	BeforeTeaching *Share     `json:"beforeTeaching"`
	Course         []DayPoint `json:"course"`   // one point a day with trials
	Criteria       Criteria   `json:"criteria"` // the bars this verdict was reached with
}

// GateName names one condition of readiness.
type GateName string

// The gates, in the order in which they are checked and printed.
const (
	GateEnough      GateName = "enough"
	GateLevel       GateName = "level" // motion: position
	GatePeople      GateName = "people"
	GatePlaces      GateName = "places"
	GateCold        GateName = "first asks"
	GateSpeed       GateName = "speed"
	GateCorrections GateName = "corrections"
	GateGoals       GateName = "goals"
	GateNights      GateName = "nights" // all of it on enough evenings in a row
	GateClosed      GateName = "closed" // no open incident, no vet hold
)

// Gate is one condition with the figure it was held against.
type Gate struct {
	Name     GateName `json:"gate"`
	Standing Standing `json:"standing"`
	Person   string   `json:"person"` // who decides it: the weakest
	Place    string   `json:"place"`  // where
	Tally    Tally    `json:"counts"`
	Figure   Figure   `json:"figure"` // speed: seconds; corrections: per ten asks, motion per minute
	Lack     *Lack    `json:"lacks"`  // null when met
}

// Met reports whether the gate is met.
func (g Gate) Met() bool { return g.Standing == Met }

// Change is what would open one gate: clean asks of the dog's usual sittings.
type Change struct {
	Gate   GateName       `json:"gate"`
	Person string         `json:"person"` // by whom; "" = anybody
	NotBy  string         `json:"notBy"`
	Place  string         `json:"place"`
	Leash  training.Leash `json:"leash"`
	// CleanAsks in CleanSessions open it when none is missed, LikelyAsks when the dog
	// answers 95 of 100; unknown = not within 25 sittings. Motions: minutes without a break.
	CleanAsks     training.Num `json:"cleanAsks"`
	CleanSessions training.Num `json:"cleanSessions"`
	LikelyAsks    training.Num `json:"likelyAsks"`
	CleanMinutes  training.Num `json:"cleanMinutes"`
	Nights        int          `json:"nights"` // evenings it takes at least
}

// GoalStanding is how one agreed goal stands.
type GoalStanding struct {
	Goal     training.Goal `json:"goal"`
	Standing Standing      `json:"standing"`
	Tally    Tally         `json:"counts"` // asks under the goal's whole condition
	Figure   Figure        `json:"figure"`
	// OtherLeash counts the asks that meet all of the goal but "off leash".
	OtherLeash Tally `json:"onOtherLeash"`
	Lack       *Lack `json:"lacks"` // null when met
}

// Context is the figure of one person, place, person at a place, distraction or signal.
type Context struct {
	Person      string        `json:"person"`
	NotBy       string        `json:"notBy"` // Others: everybody but this one
	Role        training.Role `json:"role"`
	Place       string        `json:"place"`
	OffProperty bool          `json:"offProperty"`
	Distraction training.Num  `json:"distraction"`
	Signal      string        `json:"signal"`
	Tally
	Standing Standing       `json:"standing"` // persons and places: Failed = credibly below its bar
	Figure   Figure         `json:"figure"`
	Leash    training.Leash `json:"lastLeash"` // the leash state of the last ask
	OffLeash Tally          `json:"offLeash"`  // of these, off leash
	First    training.Day   `json:"firstDay"`
	Last     training.Day   `json:"lastDay"`
	// Worse: credibly worse than with the others, or elsewhere, on the same days.
	Worse bool `json:"worse"`
	// NotLately: the last ask is older than the level's last clear move.
	NotLately bool `json:"notAskedLately"`
	Untried   bool `json:"untried"` // a cell without an ask
	lastSit   int
}

// Cold is the first ask of a session against the later ones.
type Cold struct {
	First       Tally  `json:"first"`
	Later       Tally  `json:"later"`
	Figure      Figure `json:"figure"` // of first asks
	LaterFigure Figure `json:"laterFigure"`
	// Unknown sessions began with a tally, so their first ask is not known.
	Unknown int  `json:"unknownSessions"`
	Worse   bool `json:"worse"` // credibly worse than later asks
}

// Slipping says that a cue that was ready is credibly getting worse. It is no gate.
type Slipping struct {
	On     bool         `json:"on"`
	Since  training.Day `json:"since"`  // where the fall began, looking back
	Person string       `json:"person"` // who handled that session
	Place  string       `json:"place"`
	Sure   training.Num `json:"sure"` // probability that the level is under the bar
}

// Owner is the verdict of the owner's own asks of a cue.
type Owner struct {
	Confirmed bool     `json:"confirmed"`
	Standing  Standing `json:"standing"`
	Tally
	Figure Figure       `json:"figure"`
	Last   training.Day `json:"lastLesson"`
	Lack   *Lack        `json:"lacks"` // null when confirmed
	Change *Change      `json:"change"`
}

// Share is a plain proportion of asks with two Wilson 95 % intervals: on the counts,
// and on an effective number, since asks of one sitting resemble each other.
type Share struct {
	Answered  int          `json:"answered"`
	Asks      int          `json:"asks"`
	Sessions  int          `json:"sessions"`
	Rate      training.Num `json:"rate"` // unknown when Asks is 0
	Low       training.Num `json:"low"`
	High      training.Num `json:"high"`
	PlainLow  training.Num `json:"plainLow"`
	PlainHigh training.Num `json:"plainHigh"`
	Effective training.Num `json:"effectiveAsks"`
	Other     []RuleShare  `json:"otherRules"` // the same asks under other counting rules, where that differs
}

// RuleShare is the share under another counting rule.
type RuleShare struct {
	Rule     Rule         `json:"rule"`
	Answered int          `json:"answered"`
	Asks     int          `json:"asks"`
	Rate     training.Num `json:"rate"`
}

// Survival is a Kaplan-Meier summary of times in seconds.
type Survival struct {
	Seen     int          `json:"seen"`     // answered, or broken
	Censored int          `json:"censored"` // unanswered, or released
	Median   training.Num `json:"medianSeconds"`
	Low      training.Num `json:"lowSeconds"`  // 95 % Brookmeyer-Crowley, log-log; unknown = not reached
	High     training.Num `json:"highSeconds"` //
	// Untimed answers, holds or trials of tallies could not enter for want of a time.
	Untimed int `json:"untimed"`
	// Unanswered asks did not enter either: nothing to censor at, or no answer of
	// their sitting was timed.
	Unanswered int `json:"unanswered"`
}

// Latency is response latency with the sign of a health problem.
type Latency struct {
	Survival
	Limit     training.Num `json:"limitSeconds"`
	Baseline  training.Num `json:"baselineSeconds"` // median over the dog's earlier sittings
	Recent    training.Num `json:"recentSeconds"`   // median of the last sitting with latencies
	Doubled   bool         `json:"doubled"`         // Recent is more than twice Baseline: vet first
	DoubledOn training.Day `json:"doubledOn"`
}

// Hold is how long holds were kept.
type Hold struct {
	Survival
	Target  training.Num `json:"targetSeconds"` // unknown = none
	Longest training.Num `json:"longestSeconds"`
	// Chance of keeping the target by the Kaplan-Meier curve, with 95 % limits.
	Chance     training.Num `json:"chance"`
	ChanceLow  training.Num `json:"chanceLow"`
	ChanceHigh training.Num `json:"chanceHigh"`
	// Shorter holds were asked for less than the target, and say nothing of it.
	Shorter Tally `json:"shorter"`
}

// Breaks is position breaks in motion with the exact (Garwood) 95 % interval.
type Breaks struct {
	Count     int          `json:"count"`
	Minutes   float64      `json:"minutes"`
	PerMinute training.Num `json:"perMinute"`
	Low       training.Num `json:"low"`
	High      training.Num `json:"high"`
}

// Direction of a trend.
type Direction string

// The directions; NotJudged: too few sessions, or nothing to judge.
const (
	Rising    Direction = "rising"
	Falling   Direction = "falling"
	NoTrend   Direction = "no trend"
	NotJudged Direction = "not judged"
)

// Trend is the direction of a series over sittings.
type Trend struct {
	Direction Direction    `json:"direction"`
	P         training.Num `json:"p"`     // one-sided p of the named direction
	Slope     training.Num `json:"slope"` // Theil-Sen, per sitting; size only, never the test
	Points    int          `json:"points"`
}

// Corrections is the three separate things: how many trials, how many corrections,
// at what level.
type Corrections struct {
	RewardOnly bool `json:"rewardOnly"`
	// whose corrections are known: all but tallies; with 0 the counts are unknown
	Trials    int         `json:"trials"`
	Corrected int         `json:"corrected"` // trials with any correction
	Count     int         `json:"count"`
	Minutes   float64     `json:"minutes"` // motion: minutes walked
	ByKind    []KindCount `json:"byKind"`
	// Rate over the whole stay with Garwood 95 % limits: per ten asks, for a motion
	// per minute. Now is the same of the last RecentTrials (motion: RecentMinutes).
	Rate          training.Num   `json:"rate"`
	Low           training.Num   `json:"low"`
	High          training.Num   `json:"high"`
	Now           training.Num   `json:"now"`
	Recent        int            `json:"recent"` // corrections among them
	RecentTrials  int            `json:"recentTrials"`
	RecentMinutes float64        `json:"recentMinutes"`
	Trend         Trend          `json:"trend"`
	Devices       []DeviceLevels `json:"devices"`
}

// KindCount counts corrections of one kind.
type KindCount struct {
	Kind  training.CorrectionKind `json:"kind"`
	Count int                     `json:"count"`
}

// DeviceLevels is correction levels (dial positions) on one device. Levels of two
// devices are never put together.
type DeviceLevels struct {
	Device      string       `json:"device"`
	Corrections int          `json:"corrections"`
	Median      training.Num `json:"median"`
	Low         training.Num `json:"low"`
	High        training.Num `json:"high"`
	First       training.Num `json:"first"` // median of the first sitting
	FirstDay    training.Day `json:"firstDay"`
	Last        training.Num `json:"last"`
	Trend       Trend        `json:"trend"`
	// Rises is how many times in a row, up to the last sitting with this device, the
	// median went up.
	Rises int `json:"rises"`
	// Served are the levels after which the next ask was answered, last five sittings.
	// Never advice.
	Served      training.Num `json:"served"`
	ServedLow   training.Num `json:"servedLow"`
	ServedHigh  training.Num `json:"servedHigh"`
	ServedCount int          `json:"servedCount"`
	Working     training.Num `json:"working"` // last working level noted
	WorkingDay  training.Day `json:"workingDay"`
}

// WrongAnswer counts what the dog did instead.
type WrongAnswer struct {
	Did   string `json:"did"` // "?" = wrong and not named
	Count int    `json:"count"`
}

// DayPoint is one day of a cue's course.
type DayPoint struct {
	Day training.Day `json:"day"`
	Tally
	// Level with its 80 % band, smoothed: as known today (the last day has the 95 % band
	// too). ThatNight is what
	// was known that evening.
	Level     Figure       `json:"level"`
	ThatNight training.Num `json:"thatNight"`
	Verdict   Verdict      `json:"verdict"` // as of that evening
	// Corrections of CorrectionTrials trials whose corrections are known; with 0 of
	// them the other two are unknown and not 0.
	Corrected        int        `json:"corrected"`
	Corrections      int        `json:"corrections"`
	CorrectionTrials int        `json:"correctionTrials"`
	Levels           []DayLevel `json:"levels"` // correction levels by device
	// response: time to answer; hold: how long it was kept
	Median    training.Num `json:"medianSeconds"`
	Longest   training.Num `json:"longestSeconds"` // hold
	People    []DayPerson  `json:"people"`
	Places    []string     `json:"places"`
	NewPeople []string     `json:"newPeople"` // first time on this day
	NewPlaces []string     `json:"newPlaces"`
}

// DayPerson is one person's part of a day.
type DayPerson struct {
	Person string `json:"person"`
	Tally
}

// DayLevel is correction levels of a day on one device.
type DayLevel struct {
	Device string       `json:"device"`
	Count  int          `json:"count"`
	Low    training.Num `json:"low"`
	Median training.Num `json:"median"`
	High   training.Num `json:"high"`
}
