package analysis

import "firstcue/internal/training"

// Verdict says whether a cue, or a dog, may be handed over.
type Verdict string

// The verdicts. NotShown is "too little evidence" and must never read as Ready.
const (
	Ready    Verdict = "ready"
	NotShown Verdict = "not shown"
	NotReady Verdict = "not ready"
	OnHold   Verdict = "on hold"
)

// Standing is how a figure stands against its bar.
type Standing string

// The standings of a gate.
const (
	Met    Standing = "met"
	Short  Standing = "short"  // evidence lacking: neither met nor credibly failed
	Failed Standing = "failed" // credibly failed: the interval excludes the bar
)

// GateName names one condition of readiness.
type GateName string

// The gates, in the order in which they are checked and printed.
const (
	GateEnough      GateName = "enough"
	GateLevel       GateName = "level"
	GatePeople      GateName = "people"
	GatePlaces      GateName = "places"
	GateContext     GateName = "context"
	GateSpeed       GateName = "speed"    // response: median latency
	GateHold        GateName = "hold"     // hold: chance of holding the target
	GatePosition    GateName = "position" // motion: breaks a minute
	GateCorrections GateName = "corrections"
	GateClosed      GateName = "closed" // no open incident, no vet hold
)

// Gate is one condition with the figure it was held against.
type Gate struct {
	Name     GateName
	Standing Standing
	Figure   training.Num // the figure; unknown when there is nothing to measure
	Bar      training.Num // the bar in the figure's unit
	Say      string       // one sentence in the trainer's words, with its counts
}

// Met reports whether the gate is met.
func (g Gate) Met() bool { return g.Standing == Met }

// Share is a proportion of trials with its 95 % intervals.
type Share struct {
	Yes, Of  int
	Sessions int          // sittings the trials fall into
	Rate     training.Num // Yes/Of; unknown when Of is 0
	// PlainLow and PlainHigh are Wilson's on the plain count, Low and High on
	// Effective trials (trials of one session resemble each other). Low and High
	// are the ones to print.
	PlainLow, PlainHigh training.Num
	Low, High           training.Num
	Effective           training.Num
	ICC                 training.Num // the intra-session correlation used
	ICCNote             string       // "one session: spread between sessions unknown", or ""
}

// Current is the fading figure: a session's weight halves every six sessions.
type Current struct {
	Rate      training.Num
	Low, High training.Num // 95 %
	Cautious  training.Num // lower end of the two-sided 90 % interval: what the level gate is held against
	Effective training.Num
}

// FirstCue is first-cue compliance.
type FirstCue struct {
	Share
	Current Current
	Rule    string      // the counting rule in words
	Other   []RuleShare // the same trials under other rules, for comparison
}

// RuleShare is the share under another counting rule.
type RuleShare struct {
	Rule string
	Share
}

// Survival is a Kaplan-Meier summary of times in seconds.
type Survival struct {
	Seen      int // answered, or broken
	Censored  int // unanswered, or released
	Median    training.Num
	Low, High training.Num // 95 % Brookmeyer-Crowley, log-log; unknown = not reached
	// Untimed counts answers, or holds, that could not enter for want of a time,
	// and the trials of tallies.
	Untimed int
	// Unanswered counts asks not answered on the first asking that did not enter
	// either: nothing to censor at, or no answer of their sitting was timed.
	Unanswered int
}

// Latency is response latency with the sign of a health problem.
type Latency struct {
	Survival
	Limit     training.Num
	Baseline  training.Num // median over the dog's earlier sessions
	Last      training.Num // median of the last session with latencies
	Doubled   bool         // Last is more than twice Baseline: vet first
	DoubledOn training.Day // first day it was so
}

// Hold is a hold's survival against its target.
type Hold struct {
	Survival
	Target     training.Num
	Chance     training.Num // chance of holding the target
	ChanceLow  training.Num // 95 %
	ChanceHigh training.Num
	LowBar     training.Num // lower end compared with the gate's lower bar
	Longest    training.Num
}

// Breaks is position breaks in motion with the exact (Garwood) 95 % interval.
type Breaks struct {
	Count     int
	Minutes   float64
	PerMinute training.Num
	Low, High training.Num
}

// Trend is the direction of a series over sessions.
type Trend struct {
	Direction string       // "falling", "rising", "no trend shown", "" when not judged
	P         training.Num // one-sided p of the named direction
	Slope     training.Num // Theil-Sen, per session; size only, never the test
	Points    int
	Why       string // why not judged: "fewer than 6 sessions", ...
}

// DeviceLevels is correction levels on one device. Levels of two devices are
// never put together.
type DeviceLevels struct {
	Device            string
	Corrections       int
	Median, Low, High training.Num // median, lowest, highest level
	Last              training.Num
	Trend             Trend
	// Rises is how many times in a row, up to the last session with this
	// device, the median level went up from one to the next.
	Rises int
	// Served are the levels after which the next ask was answered, last five
	// sessions. Never advice.
	Served      training.Num
	ServedLow   training.Num
	ServedHigh  training.Num
	ServedCount int
	Working     training.Num // last working level noted
	WorkingDay  training.Day
}

// Corrections is the three separate things: how many trials, how many
// corrections, at what level.
type Corrections struct {
	None       bool // no correction in any trial
	RewardOnly bool
	Trials     int // whose corrections are known: all but tallies; with 0 the counts are unknown
	Corrected  int // trials with any correction
	Count      int
	ByKind     []KindCount
	Share      Share
	PerTen     training.Num // corrections per ten trials, whole stay
	PerTenLow  training.Num // Garwood 95 %
	PerTenHigh training.Num
	PerTenNow  training.Num // fading
	Trend      Trend        // of the share of trials corrected
	Devices    []DeviceLevels
}

// KindCount counts corrections of one kind.
type KindCount struct {
	Kind  training.CorrectionKind
	Count int
}

// Cold is the first trial of the cue in each of the last sessions.
type Cold struct {
	Asked, Missed int
	Flag          bool
	Share         Share
}

// ContextKind is what a context is made of.
type ContextKind string

// The kinds of context.
const (
	ByHandler     ContextKind = "handler"
	ByPlace       ContextKind = "place"
	ByCell        ContextKind = "handler and place"
	BySignal      ContextKind = "signal"
	ByLeashState  ContextKind = "leash"
	ByDistraction ContextKind = "distraction"
)

// Context is the figure of one handler, place, cell, signal, leash state or
// distraction code. Only the first three can fail the context gate.
type Context struct {
	Kind    ContextKind
	Handler string
	Role    training.Role
	Place   string
	Off     bool   // place is off property
	Value   string // signal, leash or distraction code
	Share
	// Lately is what Below is judged on where there are more than the last
	// eight sittings; nil = all of them are.
	Lately *Share
	Breaks *Breaks // motion
	// Below: the upper end of the 95 % interval is under the bar. Enough: 8
	// trials in 2 sessions. Untried: a cell of a known handler and place with
	// no trial.
	Below, Enough, Untried bool
	// Worse: Fisher one-sided against the rest with Holm over the cells, 5 %.
	// WorseP is unknown where the context is not even one standard error below.
	Worse  bool
	WorseP training.Num
	Last   training.Day
}

// Alarm is the message that a cue is slipping. It is not a gate.
type Alarm struct {
	On        bool
	Since     training.Day // session where the rise began
	SinceID   string
	Handler   string // who handled the session where the rise began
	Place     string
	Value     float64
	Threshold float64
	Watching  bool // started once the cue had been ready; before, misses are normal
	Say       string
}

// Owner is the verdict of the owner's own trials.
type Owner struct {
	Confirmed bool
	Share
	Breaks   *Breaks      // motion: what the figure is of a motion, over Sessions lessons; Share counts no asks. nil = not walked
	Cautious training.Num // lower end of the two-sided 90 % interval
	Standing Standing
	Last     training.Day // the owner's last session with the cue
	Say      string
}

// CueAssessment is everything judged of one cue of one dog.
type CueAssessment struct {
	Cue      string
	Kind     training.Kind
	Agreed   bool // agreed with the owner
	Verdict  Verdict
	Reason   string   // one sentence: the first thing that stands in the way, or why it is ready
	Change   []string // what would change the verdict, most useful first
	Owner    Owner
	Sessions int
	Days     int
	Trials   int // scored
	First    training.Day
	LastDay  training.Day
	LastID   string
	Stale    int    // days since LastDay, from Criteria.StaleDays on; 0 = not stale
	Before   *Share // first asks in sessions held before any teaching; in no other figure; nil = none
	// Apart are the trials that stand in no denominator.
	Unscored, Early, AlreadyThere, ReleasedEarly int
	WrongAnswers                                 []WrongAnswer
	FirstCue                                     *FirstCue // nil for motion
	Latency                                      *Latency  // response only
	Completion                                   *Survival // response with completions
	Hold                                         *Hold
	Breaks                                       *Breaks
	Corrections                                  Corrections
	Cold                                         Cold
	Contexts                                     []Context // in display order
	Gates                                        []Gate
	ReadyNights                                  int          // nights in a row on which the level gate held
	Lost                                         training.Day // day a level or position that was there was lost, until it is there again; zero = not
	Alarm                                        Alarm
	Forecast                                     *Forecast
	HeldOut                                      int          // trials left out: vet hold or before its new baseline
	Days3                                        []DayPoint   // the course, one point a day with trials
	CleanMin                                     training.Num // clean first asks until the first good night
	CleanLikely                                  training.Num // what a dog at 95 % usually needs
	// CleanAsks clean first asks, in CleanSittings sittings of the dog's usual
	// size over CleanDays days, open the level gate; 0 = it is open, or out of reach.
	CleanAsks, CleanSittings, CleanDays int
	waits                               []wait
	Criteria                            Criteria // the bars this verdict was reached with
}

// WrongAnswer counts what the dog did instead.
type WrongAnswer struct {
	Did   string
	Count int
}

// DayPoint is one day of a cue's course.
type DayPoint struct {
	Day       training.Day
	Yes, Of   int
	Low, High training.Num // 95 %, effective
	Current   training.Num
	// Corrected trials and Corrections, of CorrectedOf trials whose corrections
	// are known. Trials has all; a tally says nothing of corrections, and with
	// CorrectedOf 0 the other two are unknown and not 0.
	Corrected            int
	Corrections          int
	CorrectedOf          int
	Trials               int
	HoldMedian           training.Num
	LongestHold          training.Num
	Breaks               int
	Minutes              float64
	Latency              training.Num
	Handlers             []string
	Places               []string
	NewHandler, NewPlace string  // first time on this day
	Verdict              Verdict // as of that night
}

// Forecast says whether a cue, or the dog, will be ready by a day. Chance can be
// put in a number only for the level; people and places, and whatever else Waits
// lists, are done or not done.
type Forecast struct {
	By       training.Day
	Nights   int          // nights left
	Stays    training.Num // chance that the level is there if it "stays as now"
	Improves training.Num // the same if it "keeps improving"
	Level    training.Num // their mean; unknown when it is too early to say
	Base     training.Num // dog only: kennel's base rate, when it is too early for more
	BaseDogs int
	// Chance of being ready, 0 to 1: Level (or Base) where nothing waits, else
	// unknown.
	Chance training.Num
	// Waits lists what has to be done besides the level: a cue and a gate that is
	// not met ("down: places"), "come: never asked", "sit: on hold".
	Waits []string
	// LeastSittings is the largest number of clean sittings that one of them
	// needs, 0 = none, or not known.
	LeastSittings int
	Words         string // "about 1 in 4", "too early to say", or sentences on what it waits for
	Cell          string // the same in few words: "waits: people"
	Trials        int    // the trials behind it
	Note          string // what Level is and is not
}

// Caution is a caution text with the reason it is shown. Code is stable.
type Caution struct {
	Code string
	Text string
	Why  string
}

// Assessment is the judgement of one dog on one day. It follows from the
// record, the criteria and the day alone.
type Assessment struct {
	Dog                   training.Dog
	AsOf                  training.Day
	Boarding              training.Boarding
	Stay                  bool // a boarding is known
	DayOfStay             int
	DaysToDue             training.Num
	Main                  string // main trainer used for the people gate
	MainNote              string // how it was found
	Verdict               Verdict
	Why                   []string // a few sentences
	ReadyCues, AgreedCues int
	OwnerConfirmed        bool
	OwnerWhy              string
	Stale                 int // ready, but no agreed cue was asked for so many days; 0 = not stale
	OwnerStale            int // owner confirmed, but the last lesson was so many days ago; 0 = not stale
	Cues                  []CueAssessment
	NeverTried            []string // agreed or kennel cues never asked since teaching began
	BeforeOnly            []string // those of NeverTried that were asked before any teaching
	Sessions, Trials      int
	First, Last           training.Day
	Handlers              []string
	Places                []string
	Holds                 []training.VetHold  // in force on the day
	Incidents             []training.Incident // open
	Unsettled             []training.Session  // said differently in two stores, shown as they are in force
	Forecast              *Forecast           // the whole dog: all agreed cues
	Cautions              []Caution
	LeftOut               int          // trials in vet holds or before a new baseline
	Baseline              training.Day // first day counted, if a hold moved it
}
