package analysis

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"firstcue/internal/training"
)

// Defaults returns the bars that hold where nobody has set others.
//
// The rate of 90 % on the first ask is the Assistance Dogs International
// minimum standard for service dogs (as reproduced by member programmes). The
// other numbers were chosen by simulation of stays with clustered trials; how
// often they err is in docs/methods.md. Limits, targets and breaks belong to
// the cue and are unknown here.
func Defaults() Criteria {
	return Criteria{
		Trials: 30, Sessions: 6, Days: 3, Minutes: 20,
		Rate: 0.90, Floor: 0.80, Leave: 0.87, Nights: 2, HalfLife: 6, ICC: 0.10,
		OtherSessions: 3, OtherTrials: 8, OtherRate: 0.85, OtherFloor: 0.65,
		Places: 3, OffProperty: 1, PlaceTrials: 8, PlaceSessions: 2, PlaceMinutes: 5,
		ContextBar: 0.90, ContextTrials: 8,
		OwnerTrials: 12, OwnerLessons: 2, OwnerRate: 0.85, OwnerFloor: 0.65,
		HoldRate: 0.90, HoldFloor: 0.75,
		CorrectionsPerTen: 1, TrendSessions: 6,
		ColdLast: 15, ColdMisses: 4,
		AlarmGood: 0.08, AlarmBad: 0.35, AlarmAt: 4.5,
		StaleDays: 3,
	}
}

// Bar describes one bar that can be set: its name on the command line, its
// unit ("share", "s", "a minute", or what is counted), what it means, and the
// range of values that make sense, both ends included.
type Bar struct {
	Name, Unit, Meaning string
	Low, High           float64
}

// bars ties each name to its field. Whole says that only whole numbers fit.
var bars = []struct {
	Bar
	whole bool
	get   func(c *Criteria) training.Num
	set   func(c *Criteria, v float64)
}{
	intBar("trials", "trials", "scored trials before a cue can be ready", 1, 1000, func(c *Criteria) *int { return &c.Trials }),
	intBar("sessions", "sessions", "sessions they must fall into", 1, 200, func(c *Criteria) *int { return &c.Sessions }),
	intBar("days", "days", "days they must fall on", 1, 60, func(c *Criteria) *int { return &c.Days }),
	floatBar("minutes", "minutes", "walking cues: minutes walked instead of trials", 1, 600, func(c *Criteria) *float64 { return &c.Minutes }),
	floatBar("rate", "share", "current share of first asks answered", 0.5, 1, func(c *Criteria) *float64 { return &c.Rate }),
	floatBar("floor", "share", "lower end of the 90 % interval of that share", 0, 1, func(c *Criteria) *float64 { return &c.Floor }),
	floatBar("leave", "share", "a ready level is lost below this share", 0, 1, func(c *Criteria) *float64 { return &c.Leave }),
	intBar("nights", "nights", "nights in a row on which the level must hold", 1, 14, func(c *Criteria) *int { return &c.Nights }),
	floatBar("half-life", "sessions", "sessions after which a session weighs half", 1, 100, func(c *Criteria) *float64 { return &c.HalfLife }),
	floatBar("icc", "share", "how alike trials of one session are taken to be", 0, 0.9, func(c *Criteria) *float64 { return &c.ICC }),
	intBar("other-sessions", "sessions", "sessions by anyone but the main trainer", 0, 100, func(c *Criteria) *int { return &c.OtherSessions }),
	intBar("other-trials", "trials", "scored trials by them", 0, 200, func(c *Criteria) *int { return &c.OtherTrials }),
	floatBar("other-rate", "share", "share of first asks answered for them", 0, 1, func(c *Criteria) *float64 { return &c.OtherRate }),
	floatBar("other-floor", "share", "lower end of the 90 % interval of that share", 0, 1, func(c *Criteria) *float64 { return &c.OtherFloor }),
	intBar("places", "places", "places where it was tried enough", 0, 20, func(c *Criteria) *int { return &c.Places }),
	intBar("off-property", "places", "how many of them are off property", 0, 20, func(c *Criteria) *int { return &c.OffProperty }),
	intBar("place-trials", "trials", "scored trials that make a place tried", 1, 100, func(c *Criteria) *int { return &c.PlaceTrials }),
	intBar("place-sessions", "sessions", "sessions that make a place tried", 1, 50, func(c *Criteria) *int { return &c.PlaceSessions }),
	floatBar("place-minutes", "minutes", "walking cues: minutes that make a place tried", 0.5, 120, func(c *Criteria) *float64 { return &c.PlaceMinutes }),
	floatBar("context-bar", "share", "a handler or place fails when the upper end of its 95 % interval is below this", 0, 1, func(c *Criteria) *float64 { return &c.ContextBar }),
	intBar("context-trials", "trials", "scored trials before a handler or place is judged", 1, 100, func(c *Criteria) *int { return &c.ContextTrials }),
	intBar("owner-trials", "trials", "the owner's own scored trials", 1, 200, func(c *Criteria) *int { return &c.OwnerTrials }),
	intBar("owner-lessons", "lessons", "lessons they must fall into", 1, 50, func(c *Criteria) *int { return &c.OwnerLessons }),
	floatBar("owner-rate", "share", "share of first asks answered for the owner", 0, 1, func(c *Criteria) *float64 { return &c.OwnerRate }),
	floatBar("owner-floor", "share", "lower end of the 90 % interval of that share", 0, 1, func(c *Criteria) *float64 { return &c.OwnerFloor }),
	numBar("limit", "s", "longest time from cue to start that still counts as the first ask; the median must stay inside it", 0.1, 60, func(c *Criteria) *training.Num { return &c.Limit }),
	numBar("arrive", "s", "longest time from cue to completion, such as within reach", 0.1, 600, func(c *Criteria) *training.Num { return &c.Arrive }),
	numBar("target", "s", "how long a hold must be kept", 1, 7200, func(c *Criteria) *training.Num { return &c.Target }),
	floatBar("hold-rate", "share", "chance of holding the target", 0, 1, func(c *Criteria) *float64 { return &c.HoldRate }),
	floatBar("hold-floor", "share", "lower end of the 95 % interval of that chance", 0, 1, func(c *Criteria) *float64 { return &c.HoldFloor }),
	numBar("breaks", "a minute", "most position breaks a minute", 0.01, 60, func(c *Criteria) *training.Num { return &c.Breaks }),
	floatBar("corrections", "per ten trials", "most corrections per ten trials", 0, 100, func(c *Criteria) *float64 { return &c.CorrectionsPerTen }),
	intBar("trend-sessions", "sessions", "sessions before a trend is named", 4, 50, func(c *Criteria) *int { return &c.TrendSessions }),
	intBar("cold-last", "sessions", "first trials of a session looked at", 5, 100, func(c *Criteria) *int { return &c.ColdLast }),
	intBar("cold-misses", "misses", "misses among them that are pointed out", 1, 100, func(c *Criteria) *int { return &c.ColdMisses }),
	floatBar("alarm-good", "share", "share of first asks missed when all is well", 0.001, 0.5, func(c *Criteria) *float64 { return &c.AlarmGood }),
	floatBar("alarm-bad", "share", "share of first asks missed when a cue has slipped", 0.01, 0.95, func(c *Criteria) *float64 { return &c.AlarmBad }),
	floatBar("alarm-at", "", "sum of evidence at which slipping is reported", 0.5, 50, func(c *Criteria) *float64 { return &c.AlarmAt }),
	intBar("stale", "days", "days without a session after which a cue is stale", 1, 60, func(c *Criteria) *int { return &c.StaleDays }),
}

type barField = struct {
	Bar
	whole bool
	get   func(c *Criteria) training.Num
	set   func(c *Criteria, v float64)
}

func intBar(name, unit, meaning string, low, high float64, f func(*Criteria) *int) barField {
	return barField{Bar{name, unit, meaning, low, high}, true,
		func(c *Criteria) training.Num { return training.Known(float64(*f(c))) },
		func(c *Criteria, v float64) { *f(c) = int(v) }}
}

func floatBar(name, unit, meaning string, low, high float64, f func(*Criteria) *float64) barField {
	return barField{Bar{name, unit, meaning, low, high}, false,
		func(c *Criteria) training.Num { return training.Known(*f(c)) },
		func(c *Criteria, v float64) { *f(c) = v }}
}

func numBar(name, unit, meaning string, low, high float64, f func(*Criteria) *training.Num) barField {
	return barField{Bar{name, unit, meaning, low, high}, false,
		func(c *Criteria) training.Num { return *f(c) },
		func(c *Criteria, v float64) { *f(c) = training.Known(v) }}
}

// Bars lists every bar that can be set, in the order to show them in.
func Bars() []Bar {
	out := make([]Bar, len(bars))
	for i, b := range bars {
		out[i] = b.Bar
	}
	return out
}

// Value returns the bar with the name; unknown where the cue has none, such as
// the limit of a walking cue. It reports false for a name that is no bar.
func (c Criteria) Value(name string) (training.Num, bool) {
	for _, b := range bars {
		if b.Name == training.Key(name) {
			return b.get(&c), true
		}
	}
	return training.Num{}, false
}

// CheckAgainst is CheckSetting that also sees the bars the setting would stand
// beside: a level must not be lost above the rate at which it is reached.
func CheckAgainst(s training.Setting, beside Criteria) error {
	if err := CheckSetting(s); err != nil {
		return err
	}
	if training.Key(s.Name) == "leave" && s.Value > beside.Rate {
		return fmt.Errorf("leave must not be above rate, which is %s; it is %s", plain(beside.Rate), plain(s.Value))
	}
	return nil
}

// CheckSetting says what is wrong with a setting: a name that is no bar, or a
// value outside its range.
func CheckSetting(s training.Setting) error {
	for _, b := range bars {
		if b.Name != training.Key(s.Name) {
			continue
		}
		if !(s.Value >= b.Low && s.Value <= b.High) { // also not a number
			return fmt.Errorf("%s must lie between %s and %s; it is %s", b.Name, plain(b.Low), plain(b.High), plain(s.Value))
		}
		if b.whole && s.Value != math.Trunc(s.Value) {
			return fmt.Errorf("%s must be a whole number; it is %s", b.Name, plain(s.Value))
		}
		return nil
	}
	names := make([]string, len(bars))
	for i, b := range bars {
		names[i] = b.Name
	}
	return fmt.Errorf("%q is not a bar; the bars are %s", s.Name, strings.Join(names, ", "))
}

func plain(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }

// CriteriaFunc gives the bars of a cue of the dog that is judged.
type CriteriaFunc func(cue string) Criteria

// Resolve returns the bars of one cue of one dog. Later ones win: the defaults,
// the cue's own limit, arrival, target and breaks, then what was set for the
// kennel, for the cue, for the dog, and for this cue of this dog. A setting
// that CheckSetting refuses changes nothing, and leave is never above rate.
func Resolve(k training.Kennel, settings []training.Setting, dog, cue string) Criteria {
	c := Defaults()
	if q, ok := k.Cue(cue); ok {
		cue = q.Name
		c.Limit, c.Arrive, c.Target, c.Breaks = q.Limit, q.Arrive, q.Target, q.Breaks
	}
	if d, ok := k.Dog(dog); ok {
		dog = d.Name
	}
	for scope := range 4 {
		for _, s := range settings {
			forDog, forCue := s.Dog != "", s.Cue != ""
			if forDog != (scope >= 2) || forCue != (scope%2 == 1) {
				continue
			}
			if forDog && !sameName(s.Dog, dog, func(n string) string { d, _ := k.Dog(n); return d.Name }) ||
				forCue && !sameName(s.Cue, cue, func(n string) string { q, _ := k.Cue(n); return q.Name }) {
				continue
			}
			if CheckSetting(s) != nil {
				continue
			}
			for _, b := range bars {
				if b.Name == training.Key(s.Name) {
					b.set(&c, s.Value)
				}
			}
		}
	}
	c.Leave = math.Min(c.Leave, c.Rate) // else a level could be lost as it is reached
	return c
}

// sameName reports whether a name, or what the list calls it, is the other.
func sameName(name, other string, listed func(string) string) bool {
	return training.Key(name) == training.Key(other) || listed(name) != "" && training.Key(listed(name)) == training.Key(other)
}
