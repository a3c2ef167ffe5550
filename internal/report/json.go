package report

import (
	"encoding/json"
	"io"
	"math"
	"time"

	"firstcue/internal/analysis"
	"firstcue/internal/say"
	"firstcue/internal/training"
)

// writeJSON writes v indented, names with < and & as they are.
func writeJSON(w io.Writer, v any) error {
	e := json.NewEncoder(w)
	e.SetEscapeHTML(false)
	e.SetIndent("", "  ")
	return e.Encode(v)
}

// finite turns a number JSON has no spelling for into unknown.
func finite(n training.Num) training.Num {
	if math.IsNaN(n.V) || math.IsInf(n.V, 0) {
		return training.Num{}
	}
	return n
}

// list returns a slice that is written [] when empty, never null.
func list[T any](s []T) []T {
	if s == nil {
		return []T{}
	}
	return s
}

func generated(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.Format(time.RFC3339)
}

type jsonReport struct {
	Schema         string         `json:"schema"`
	Generated      string         `json:"generated,omitempty"`
	Dog            string         `json:"dog"`
	DogID          string         `json:"dogId"`
	AsOf           training.Day   `json:"asOf"`
	Verdict        string         `json:"verdict"`
	Why            []string       `json:"why"`
	ReadyCues      int            `json:"readyCues"`
	AgreedCues     int            `json:"agreedCues"`
	OwnerConfirmed bool           `json:"ownerConfirmed"`
	OwnerWhy       string         `json:"ownerWhy"`
	Stale          training.Num   `json:"daysNotAsked"`
	OwnerStale     training.Num   `json:"ownerDaysNotAsked"`
	Boarding       *jsonBoarding  `json:"boarding"`
	MainTrainer    string         `json:"mainTrainer"`
	MainNote       string         `json:"mainTrainerNote"`
	RewardOnly     bool           `json:"rewardOnly"`
	Sessions       int            `json:"sessions"`
	Trials         int            `json:"trials"`
	FirstDay       training.Day   `json:"firstDay"`
	LastDay        training.Day   `json:"lastDay"`
	Handlers       []string       `json:"handlers"`
	Places         []string       `json:"places"`
	LeftOut        int            `json:"leftOut"`
	Baseline       training.Day   `json:"baseline"`
	Holds          []jsonVetHold  `json:"vetHolds"`
	Incidents      []jsonIncident `json:"openIncidents"`
	NeverTried     []string       `json:"neverTried"`
	Before         []jsonBefore   `json:"askedBeforeTeachingOnly"`
	Forecast       *jsonForecast  `json:"forecast"`
	BarsChanged    []jsonBar      `json:"barsChanged"`
	Cautions       []jsonCaution  `json:"cautions"`
	Cues           []jsonCue      `json:"cues"`
}

// jsonBefore is a cue of neverTried that was asked before any teaching.
type jsonBefore struct {
	Cue      string       `json:"cue"`
	Yes      training.Num `json:"yes"`
	Of       training.Num `json:"of"`
	Trials   int          `json:"trials"`
	Sessions int          `json:"sessions"`
}

// jsonBar is a bar that is not the usual one.
type jsonBar struct {
	Bar   string       `json:"bar"`
	Unit  string       `json:"unit"`
	Value training.Num `json:"value"`
	Usual training.Num `json:"usual"`
	Cues  []string     `json:"cues"`
}

type jsonBoarding struct {
	Arrived   training.Day `json:"arrived"`
	Due       training.Day `json:"due"`
	Home      training.Day `json:"home"`
	Wishes    string       `json:"wishes"`
	DayOfStay int          `json:"dayOfStay"`
	DaysToDue training.Num `json:"daysToDue"`
}

type jsonVetHold struct {
	From       training.Day `json:"from"`
	To         training.Day `json:"to"`
	Reason     string       `json:"reason"`
	Cues       []string     `json:"cues"`
	NoCollar   bool         `json:"noCollar"`
	CollarOnly bool         `json:"collarOnly"`
}

type jsonIncident struct {
	Day     training.Day `json:"day"`
	Text    string       `json:"text"`
	Closed  training.Day `json:"closed"`
	Outcome string       `json:"outcome"`
	Session string       `json:"session"`
	Dropped bool         `json:"dropped"`
}

type jsonCaution struct {
	Code string `json:"code"`
	Text string `json:"text"`
	Why  string `json:"why"`
}

type jsonShare struct {
	Yes       training.Num `json:"yes"`
	Of        training.Num `json:"of"`
	Sessions  int          `json:"sessions"`
	Rate      training.Num `json:"rate"`
	Low       training.Num `json:"low"`
	High      training.Num `json:"high"`
	PlainLow  training.Num `json:"plainLow"`
	PlainHigh training.Num `json:"plainHigh"`
	Effective training.Num `json:"effective"`
	ICC       training.Num `json:"icc"`
	ICCNote   string       `json:"iccNote"`
}

type jsonCurrent struct {
	Rate      training.Num `json:"rate"`
	Low       training.Num `json:"low"`
	High      training.Num `json:"high"`
	Cautious  training.Num `json:"cautious"`
	Effective training.Num `json:"effective"`
}

type jsonFirstCue struct {
	jsonShare
	Current jsonCurrent     `json:"current"`
	Rule    string          `json:"rule"`
	Other   []jsonRuleShare `json:"otherRules"`
}

type jsonRuleShare struct {
	Rule string `json:"rule"`
	jsonShare
}

type jsonLatency struct {
	Answered   int          `json:"answered"`
	Censored   int          `json:"censored"`
	Untimed    int          `json:"untimed"`
	Unanswered int          `json:"unanswered"`
	Median     training.Num `json:"median"`
	Low        training.Num `json:"low"`
	High       training.Num `json:"high"`
	Limit      training.Num `json:"limit"`
	Baseline   training.Num `json:"baseline"`
	Last       training.Num `json:"last"`
	Doubled    bool         `json:"doubled"`
	DoubledOn  training.Day `json:"doubledOn"`
}

type jsonCompletion struct {
	Completed  int          `json:"completed"`
	Censored   int          `json:"censored"`
	Untimed    int          `json:"untimed"`
	Unanswered int          `json:"unanswered"`
	Median     training.Num `json:"median"`
	Low        training.Num `json:"low"`
	High       training.Num `json:"high"`
}

type jsonHold struct {
	Broke      int          `json:"broke"`
	Censored   int          `json:"censored"`
	Untimed    int          `json:"untimed"`
	Median     training.Num `json:"median"`
	Low        training.Num `json:"low"`
	High       training.Num `json:"high"`
	Target     training.Num `json:"target"`
	Chance     training.Num `json:"chance"`
	ChanceLow  training.Num `json:"chanceLow"`
	ChanceHigh training.Num `json:"chanceHigh"`
	Longest    training.Num `json:"longest"`
}

type jsonBreaks struct {
	Count     int          `json:"count"`
	Minutes   float64      `json:"minutes"`
	PerMinute training.Num `json:"perMinute"`
	Low       training.Num `json:"low"`
	High      training.Num `json:"high"`
}

type jsonTrend struct {
	Direction string       `json:"direction"`
	P         training.Num `json:"p"`
	Slope     training.Num `json:"slopePerSession"`
	Points    int          `json:"points"`
	Why       string       `json:"why"`
}

type jsonDevice struct {
	Device      string       `json:"device"`
	Corrections int          `json:"corrections"`
	Median      training.Num `json:"medianLevel"`
	Low         training.Num `json:"lowestLevel"`
	High        training.Num `json:"highestLevel"`
	Last        training.Num `json:"lastLevel"`
	Trend       jsonTrend    `json:"trend"`
	Served      training.Num `json:"servedLevel"`
	ServedLow   training.Num `json:"servedLow"`
	ServedHigh  training.Num `json:"servedHigh"`
	ServedCount int          `json:"servedCount"`
	Working     training.Num `json:"workingLevel"`
	WorkingDay  training.Day `json:"workingLevelDay"`
}

type jsonKindCount struct {
	Kind  string `json:"kind"`
	Count int    `json:"count"`
}

type jsonCorrections struct {
	RewardOnly bool            `json:"rewardOnly"`
	Trials     int             `json:"trials"`
	Corrected  training.Num    `json:"corrected"`
	Count      training.Num    `json:"count"`
	ByKind     []jsonKindCount `json:"byKind"`
	Share      jsonShare       `json:"share"`
	PerTen     training.Num    `json:"perTen"`
	PerTenLow  training.Num    `json:"perTenLow"`
	PerTenHigh training.Num    `json:"perTenHigh"`
	PerTenNow  training.Num    `json:"perTenNow"`
	Trend      jsonTrend       `json:"trend"`
	Devices    []jsonDevice    `json:"devices"`
}

type jsonCold struct {
	Asked  training.Num `json:"asked"`
	Missed training.Num `json:"missed"`
	Flag   bool         `json:"flag"`
	Rate   training.Num `json:"rate"`
	Low    training.Num `json:"low"`
	High   training.Num `json:"high"`
}

type jsonContext struct {
	Kind        string `json:"kind"`
	Handler     string `json:"handler"`
	Role        string `json:"role"`
	Place       string `json:"place"`
	OffProperty bool   `json:"offProperty"`
	Value       string `json:"value"`
	jsonShare
	Lately  *jsonShare   `json:"lately"`
	Breaks  *jsonBreaks  `json:"breaks"`
	Below   bool         `json:"below"`
	Enough  bool         `json:"enough"`
	Untried bool         `json:"untried"`
	Worse   bool         `json:"worse"`
	WorseP  training.Num `json:"worseP"`
	Last    training.Day `json:"lastDay"`
}

type jsonGate struct {
	Gate     string       `json:"gate"`
	Met      bool         `json:"met"`
	Standing string       `json:"standing"`
	Figure   training.Num `json:"figure"`
	Bar      training.Num `json:"bar"`
	Say      string       `json:"say"`
}

type jsonAlarm struct {
	On        bool         `json:"on"`
	Watching  bool         `json:"watching"`
	Since     training.Day `json:"since"`
	SinceID   string       `json:"sinceSession"`
	Handler   string       `json:"handler"`
	Place     string       `json:"place"`
	Value     training.Num `json:"value"`
	Threshold training.Num `json:"threshold"`
	Say       string       `json:"say"`
}

type jsonForecast struct {
	By       training.Day `json:"by"`
	Nights   int          `json:"nights"`
	Chance   training.Num `json:"chance"`
	Stays    training.Num `json:"staysAsNow"`
	Improves training.Num `json:"keepsImproving"`
	Base     training.Num `json:"baseRate"`
	BaseDogs int          `json:"baseDogs"`
	Words    string       `json:"words"`
	Trials   int          `json:"trials"`
	Note     string       `json:"note"`
	Level    training.Num `json:"level"`
	Waits    []string     `json:"waits"`
	Sittings int          `json:"leastSittings"`
	Short    string       `json:"short"`
}

type jsonOwner struct {
	Confirmed bool   `json:"confirmed"`
	Standing  string `json:"standing"`
	jsonShare
	Cautious training.Num `json:"cautious"`
	Say      string       `json:"say"`
	Breaks   *jsonBreaks  `json:"breaks"`
}

type jsonDay struct {
	Day         training.Day `json:"day"`
	Yes         training.Num `json:"yes"`
	Of          training.Num `json:"of"`
	Low         training.Num `json:"low"`
	High        training.Num `json:"high"`
	Current     training.Num `json:"current"`
	Trials      int          `json:"trials"`
	Corrected   training.Num `json:"corrected"`
	Corrections training.Num `json:"corrections"`
	CorrectedOf int          `json:"correctedOf"`
	HoldMedian  training.Num `json:"holdMedian"`
	LongestHold training.Num `json:"longestHold"`
	Breaks      training.Num `json:"breaks"`
	Minutes     training.Num `json:"minutes"`
	Latency     training.Num `json:"latency"`
	Handlers    []string     `json:"handlers"`
	Places      []string     `json:"places"`
	NewHandler  string       `json:"newHandler"`
	NewPlace    string       `json:"newPlace"`
	Verdict     string       `json:"verdict"`
}

type jsonCriteria struct {
	Trials            int          `json:"trials"`
	Sessions          int          `json:"sessions"`
	Days              int          `json:"days"`
	Minutes           float64      `json:"minutes"`
	Rate              float64      `json:"rate"`
	Floor             float64      `json:"floor"`
	Leave             float64      `json:"leave"`
	Nights            int          `json:"nights"`
	HalfLife          float64      `json:"halfLife"`
	ICC               float64      `json:"icc"`
	OtherSessions     int          `json:"otherSessions"`
	OtherTrials       int          `json:"otherTrials"`
	OtherRate         float64      `json:"otherRate"`
	OtherFloor        float64      `json:"otherFloor"`
	Places            int          `json:"places"`
	OffProperty       int          `json:"offProperty"`
	PlaceTrials       int          `json:"placeTrials"`
	PlaceSessions     int          `json:"placeSessions"`
	PlaceMinutes      float64      `json:"placeMinutes"`
	ContextBar        float64      `json:"contextBar"`
	ContextTrials     int          `json:"contextTrials"`
	OwnerTrials       int          `json:"ownerTrials"`
	OwnerLessons      int          `json:"ownerLessons"`
	OwnerRate         float64      `json:"ownerRate"`
	OwnerFloor        float64      `json:"ownerFloor"`
	Limit             training.Num `json:"limit"`
	Arrive            training.Num `json:"arrive"`
	Target            training.Num `json:"target"`
	HoldRate          float64      `json:"holdRate"`
	HoldFloor         float64      `json:"holdFloor"`
	Breaks            training.Num `json:"breaks"`
	CorrectionsPerTen float64      `json:"correctionsPerTen"`
	TrendSessions     int          `json:"trendSessions"`
	ColdLast          int          `json:"coldLast"`
	ColdMisses        int          `json:"coldMisses"`
	AlarmGood         float64      `json:"alarmGood"`
	AlarmBad          float64      `json:"alarmBad"`
	AlarmAt           float64      `json:"alarmAt"`
	StaleDays         int          `json:"staleDays"`
}

type jsonApart struct {
	Unscored      int `json:"unscored"`
	Early         int `json:"early"`
	Already       int `json:"already"`
	ReleasedEarly int `json:"releasedEarly"`
	HeldOut       int `json:"heldOut"`
}

type jsonWrong struct {
	Did   string `json:"did"`
	Count int    `json:"count"`
}

type jsonCue struct {
	Cue         string          `json:"cue"`
	Kind        string          `json:"kind"`
	Agreed      bool            `json:"agreed"`
	Verdict     string          `json:"verdict"`
	Reason      string          `json:"reason"`
	Change      []string        `json:"change"`
	Sessions    int             `json:"sessions"`
	Days        int             `json:"days"`
	Trials      int             `json:"trials"`
	FirstDay    training.Day    `json:"firstDay"`
	LastDay     training.Day    `json:"lastDay"`
	LastSession string          `json:"lastSession"`
	FirstCue    *jsonFirstCue   `json:"firstCue"`
	Latency     *jsonLatency    `json:"latency"`
	Completion  *jsonCompletion `json:"completion"`
	Hold        *jsonHold       `json:"hold"`
	Breaks      *jsonBreaks     `json:"breaks"`
	Corrections jsonCorrections `json:"corrections"`
	Owner       jsonOwner       `json:"owner"`
	Cold        jsonCold        `json:"cold"`
	Contexts    []jsonContext   `json:"contexts"`
	Gates       []jsonGate      `json:"gates"`
	ReadyNights int             `json:"readyNights"`
	Lost        training.Day    `json:"lost"`
	Alarm       jsonAlarm       `json:"alarm"`
	Forecast    *jsonForecast   `json:"forecast"`
	CleanMin    training.Num    `json:"cleanAsksAtLeast"`
	CleanLikely training.Num    `json:"cleanAsksLikely"`
	CleanAsks   int             `json:"cleanAsks"`
	CleanSits   int             `json:"cleanSessions"`
	CleanDays   int             `json:"cleanDays"`
	Before      *jsonShare      `json:"beforeTeaching"`
	Stale       int             `json:"daysNotAsked"`
	Apart       jsonApart       `json:"apart"`
	Wrong       []jsonWrong     `json:"wrongAnswers"`
	Course      []jsonDay       `json:"course"`
	Criteria    jsonCriteria    `json:"criteria"`
}

// JSON writes the readiness report for scripts, schema firstcue.report/1. Fields
// may be added under the same schema; say.None is renamed, removed or given another
// type. An unknown number is null; "generated" is present only when o has it.
func JSON(w io.Writer, a analysis.Assessment, o Options) error {
	return writeJSON(w, reportOf(a, o))
}

func reportOf(a analysis.Assessment, o Options) jsonReport {
	r := jsonReport{
		Schema: "firstcue.report/1", Generated: generated(o.Generated),
		Dog: a.Dog.Name, DogID: a.Dog.ID, AsOf: a.AsOf, Verdict: string(a.Verdict), Why: list(a.Why),
		ReadyCues: a.ReadyCues, AgreedCues: a.AgreedCues, OwnerConfirmed: a.OwnerConfirmed, OwnerWhy: a.OwnerWhy,
		MainTrainer: a.Main, MainNote: a.MainNote, RewardOnly: a.Dog.RewardOnly,
		Sessions: a.Sessions, Trials: a.Trials, FirstDay: a.First, LastDay: a.Last,
		Handlers: list(a.Handlers), Places: list(a.Places), LeftOut: a.LeftOut, Baseline: a.Baseline,
		NeverTried: list(a.NeverTried), Forecast: forecastOf(a.Forecast),
		Holds: []jsonVetHold{}, Incidents: []jsonIncident{}, Cautions: []jsonCaution{}, Cues: []jsonCue{}, BarsChanged: []jsonBar{},
		Before: []jsonBefore{},
	}
	for _, b := range o.Before {
		x := jsonBefore{Cue: b.Cue, Trials: b.Trials, Sessions: b.Sessions}
		if b.Of > 0 {
			x.Yes, x.Of = training.Known(float64(b.Yes)), training.Known(float64(b.Of))
		}
		r.Before = append(r.Before, x)
	}
	// Of a dog that is not ready nobody asks whether that is news.
	if a.Verdict == analysis.Ready {
		r.Stale = training.Known(float64(a.Stale))
	}
	if a.OwnerConfirmed {
		r.OwnerStale = training.Known(float64(a.OwnerStale))
	}
	for _, b := range barsChanged(a.Cues, o.Usual) {
		cues := b.cues
		for i := 0; len(b.cues) == 0 && i < len(a.Cues); i++ {
			cues = append(cues, a.Cues[i].Cue)
		}
		r.BarsChanged = append(r.BarsChanged, jsonBar{b.bar.Name, b.bar.Unit, finite(b.value), finite(b.usual), list(cues)})
	}
	if a.Stay {
		b := a.Boarding
		r.Boarding = &jsonBoarding{b.Arrived, b.Due, b.Home, b.Wishes, a.DayOfStay, finite(a.DaysToDue)}
	}
	for _, h := range a.Holds {
		r.Holds = append(r.Holds, jsonVetHold{h.From, h.To, h.Reason, list(h.Cues), h.NoCollar || h.CollarOnly, h.CollarOnly})
	}
	for _, i := range a.Incidents {
		r.Incidents = append(r.Incidents, incidentOf(i))
	}
	for _, c := range a.Cautions {
		r.Cautions = append(r.Cautions, jsonCaution{c.Code, c.Text, c.Why})
	}
	for _, c := range a.Cues {
		r.Cues = append(r.Cues, cueOf(c))
	}
	return r
}

func incidentOf(i training.Incident) jsonIncident {
	return jsonIncident{i.Day, i.Text, i.Closed, i.Outcome, i.Session, i.Dropped}
}

func shareOf(s analysis.Share) jsonShare {
	return jsonShare{training.Known(float64(s.Yes)), training.Known(float64(s.Of)), s.Sessions, finite(s.Rate), finite(s.Low), finite(s.High),
		finite(s.PlainLow), finite(s.PlainHigh), finite(s.Effective), finite(s.ICC), s.ICCNote}
}

// askedOf is shareOf for a cue of the kind: a motion is walked and not asked, so
// that it has no count of asks.
func askedOf(s analysis.Share, k training.Kind) jsonShare {
	j := shareOf(s)
	if k == training.Motion {
		j.Yes, j.Of = training.Num{}, training.Num{}
	}
	return j
}

func latelyOf(s *analysis.Share) *jsonShare {
	if s == nil {
		return nil
	}
	j := shareOf(*s)
	return &j
}

func trendOf(t analysis.Trend) jsonTrend {
	return jsonTrend{t.Direction, finite(t.P), finite(t.Slope), t.Points, t.Why}
}

func breaksOf(b *analysis.Breaks) *jsonBreaks {
	if b == nil {
		return nil
	}
	return &jsonBreaks{b.Count, finite(training.Known(b.Minutes)).V, finite(b.PerMinute), finite(b.Low), finite(b.High)}
}

func forecastOf(f *analysis.Forecast) *jsonForecast {
	if f == nil {
		return nil
	}
	return &jsonForecast{f.By, f.Nights, finite(f.Chance), finite(f.Stays), finite(f.Improves), finite(f.Base), f.BaseDogs, f.Words, f.Trials, f.Note,
		finite(f.Level), list(f.Waits), f.LeastSittings, f.Cell}
}

func cueOf(c analysis.CueAssessment) jsonCue {
	r := jsonCue{
		Cue: c.Cue, Kind: string(c.Kind), Agreed: c.Agreed, Verdict: string(c.Verdict), Reason: c.Reason, Change: list(c.Change),
		Sessions: c.Sessions, Days: c.Days, Trials: c.Trials, FirstDay: c.First, LastDay: c.LastDay, LastSession: c.LastID,
		Breaks: breaksOf(c.Breaks), ReadyNights: c.ReadyNights, Lost: c.Lost, Forecast: forecastOf(c.Forecast),
		CleanMin: finite(c.CleanMin), CleanLikely: finite(c.CleanLikely),
		CleanAsks: c.CleanAsks, CleanSits: c.CleanSittings, CleanDays: c.CleanDays, Stale: c.Stale,
		Apart:    jsonApart{c.Unscored, c.Early, c.AlreadyThere, c.ReleasedEarly, c.HeldOut},
		Criteria: criteriaOf(c.Criteria),
		Contexts: []jsonContext{}, Gates: []jsonGate{}, Wrong: []jsonWrong{}, Course: []jsonDay{},
		Owner: jsonOwner{c.Owner.Confirmed, string(c.Owner.Standing), askedOf(c.Owner.Share, c.Kind), finite(c.Owner.Cautious), c.Owner.Say, breaksOf(c.Owner.Breaks)},
		Cold: jsonCold{training.Known(float64(c.Cold.Asked)), training.Known(float64(c.Cold.Missed)), c.Cold.Flag, finite(c.Cold.Share.Rate),
			finite(c.Cold.Share.Low), finite(c.Cold.Share.High)},
		Alarm: jsonAlarm{c.Alarm.On, c.Alarm.Watching, c.Alarm.Since, c.Alarm.SinceID, c.Alarm.Handler, c.Alarm.Place,
			finite(training.Known(c.Alarm.Value)), finite(training.Known(c.Alarm.Threshold)), c.Alarm.Say},
	}
	if f := c.FirstCue; f != nil {
		cur := f.Current
		r.FirstCue = &jsonFirstCue{shareOf(f.Share),
			jsonCurrent{finite(cur.Rate), finite(cur.Low), finite(cur.High), finite(cur.Cautious), finite(cur.Effective)}, f.Rule, []jsonRuleShare{}}
		for _, o := range f.Other {
			r.FirstCue.Other = append(r.FirstCue.Other, jsonRuleShare{o.Rule, shareOf(o.Share)})
		}
	}
	if c.Kind == training.Motion {
		r.Cold.Asked, r.Cold.Missed = training.Num{}, training.Num{}
	}
	if s := c.Before; s != nil {
		b := shareOf(*s)
		r.Before = &b
	}
	if l := c.Latency; l != nil {
		r.Latency = &jsonLatency{l.Seen, l.Censored, l.Untimed, l.Unanswered, finite(l.Median), finite(l.Low), finite(l.High),
			finite(l.Limit), finite(l.Baseline), finite(l.Last), l.Doubled, l.DoubledOn}
	}
	if s := c.Completion; s != nil {
		r.Completion = &jsonCompletion{s.Seen, s.Censored, s.Untimed, s.Unanswered, finite(s.Median), finite(s.Low), finite(s.High)}
	}
	if h := c.Hold; h != nil {
		r.Hold = &jsonHold{h.Seen, h.Censored, h.Untimed, finite(h.Median), finite(h.Low), finite(h.High), finite(h.Target),
			finite(h.Chance), finite(h.ChanceLow), finite(h.ChanceHigh), finite(h.Longest)}
	}
	k := c.Corrections
	r.Corrections = jsonCorrections{k.RewardOnly, k.Trials, countOf(k.Corrected, k.Trials), countOf(k.Count, k.Trials), []jsonKindCount{}, shareOf(k.Share),
		finite(k.PerTen), finite(k.PerTenLow), finite(k.PerTenHigh), finite(k.PerTenNow), trendOf(k.Trend), []jsonDevice{}}
	for _, b := range k.ByKind {
		r.Corrections.ByKind = append(r.Corrections.ByKind, jsonKindCount{string(b.Kind), b.Count})
	}
	for _, d := range k.Devices {
		r.Corrections.Devices = append(r.Corrections.Devices, jsonDevice{d.Device, d.Corrections, finite(d.Median), finite(d.Low), finite(d.High),
			finite(d.Last), trendOf(d.Trend), finite(d.Served), finite(d.ServedLow), finite(d.ServedHigh), d.ServedCount, finite(d.Working), d.WorkingDay})
	}
	for _, x := range c.Contexts {
		r.Contexts = append(r.Contexts, jsonContext{string(x.Kind), x.Handler, string(x.Role), x.Place, x.Off, x.Value, askedOf(x.Share, c.Kind),
			latelyOf(x.Lately), breaksOf(x.Breaks), x.Below, x.Enough, x.Untried, x.Worse, finite(x.WorseP), x.Last})
	}
	for _, g := range c.Gates {
		r.Gates = append(r.Gates, jsonGate{string(g.Name), g.Met(), string(g.Standing), finite(g.Figure), finite(g.Bar), g.Say})
	}
	for _, x := range c.WrongAnswers {
		r.Wrong = append(r.Wrong, jsonWrong{x.Did, x.Count})
	}
	for _, d := range c.Days3 {
		r.Course = append(r.Course, dayOf(d, c.Kind))
	}
	return r
}

// countOf is n of some trials; of say.None it is unknown.
func countOf(n, of int) training.Num {
	if of == 0 {
		return training.Num{}
	}
	return training.Known(float64(n))
}

// dayOf is a day of a cue of the kind: a motion has no asks, and only a motion
// has walks.
func dayOf(d analysis.DayPoint, k training.Kind) jsonDay {
	yes, of := training.Known(float64(d.Yes)), training.Known(float64(d.Of))
	breaks, walked := training.Known(float64(d.Breaks)), finite(training.Known(d.Minutes))
	if k == training.Motion {
		yes, of = training.Num{}, training.Num{}
	} else {
		breaks, walked = training.Num{}, training.Num{}
	}
	return jsonDay{d.Day, yes, of, finite(d.Low), finite(d.High), finite(d.Current), d.Trials, countOf(d.Corrected, d.CorrectedOf), countOf(d.Corrections, d.CorrectedOf), d.CorrectedOf,
		finite(d.HoldMedian), finite(d.LongestHold), breaks, walked, finite(d.Latency), list(d.Handlers), list(d.Places),
		d.NewHandler, d.NewPlace, string(d.Verdict)}
}

func criteriaOf(k analysis.Criteria) jsonCriteria {
	return jsonCriteria{
		Trials:            k.Trials,
		Sessions:          k.Sessions,
		Days:              k.Days,
		Minutes:           k.Minutes,
		Rate:              k.Rate,
		Floor:             k.Floor,
		Leave:             k.Leave,
		Nights:            k.Nights,
		HalfLife:          k.HalfLife,
		ICC:               k.ICC,
		OtherSessions:     k.OtherSessions,
		OtherTrials:       k.OtherTrials,
		OtherRate:         k.OtherRate,
		OtherFloor:        k.OtherFloor,
		Places:            k.Places,
		OffProperty:       k.OffProperty,
		PlaceTrials:       k.PlaceTrials,
		PlaceSessions:     k.PlaceSessions,
		PlaceMinutes:      k.PlaceMinutes,
		ContextBar:        k.ContextBar,
		ContextTrials:     k.ContextTrials,
		OwnerTrials:       k.OwnerTrials,
		OwnerLessons:      k.OwnerLessons,
		OwnerRate:         k.OwnerRate,
		OwnerFloor:        k.OwnerFloor,
		Limit:             k.Limit,
		Arrive:            k.Arrive,
		Target:            k.Target,
		HoldRate:          k.HoldRate,
		HoldFloor:         k.HoldFloor,
		Breaks:            k.Breaks,
		CorrectionsPerTen: k.CorrectionsPerTen,
		TrendSessions:     k.TrendSessions,
		ColdLast:          k.ColdLast,
		ColdMisses:        k.ColdMisses,
		AlarmGood:         k.AlarmGood,
		AlarmBad:          k.AlarmBad,
		AlarmAt:           k.AlarmAt,
		StaleDays:         k.StaleDays,
	}
}
