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
// The share of 90 % on the first ask is the Assistance Dogs International minimum
// standard for service dogs (as reproduced by member programmes). The other numbers
// were chosen by simulation of stays; how often they err is in docs/proof.md.
// Limits, targets and breaks belong to the cue and are unknown here.
func Defaults() Criteria {
	return Criteria{
		Asks: 30, Sessions: 6, Days: 3, Minutes: 20,
		Agreed: 0.90, Margin: 0.05, Sure: 0.87, KeepSure: 0.80, LoseSure: 0.68, FailSure: 0.75,
		Nights: 2, NightAsks: 3,
		Person: 0.80, OthersSure: 0.935, PersonSure: 0.75, PersonKeep: 0.40, PersonLose: 0.25,
		Place: 0.80, PlaceSure: 0.85, PlaceKeep: 0.40, PlaceLose: 0.30, WeakSure: 0.80,
		FirstAsk: 0.80, FirstAskSure: 0.90, FirstAskKeep: 0.60, FirstAskLose: 0.50,
		OtherSessions: 3, OtherAsks: 8,
		Places: 3, OffProperty: 1, PlaceAsks: 8, PlaceSessions: 2, PlaceMinutes: 5,
		OwnerAsks: 12, OwnerLessons: 2, Owner: 0.75, OwnerSure: 0.92,
		Corrections: 1, CorrectionsPerMinute: 0.2, TrendSessions: 6,
		SlippingSure: 0.45, WorseSure: 0.95, Likeness: 0.10,
		StaleDays: 3,
	}
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
	b, ok := barNamed(name)
	if !ok {
		return training.Num{}, false
	}
	return b.get(&c), true
}

// CheckAgainst is CheckSetting that also sees the bars the setting would stand
// beside: what is lost must not be lost where it is reached.
func CheckAgainst(s training.Setting, beside Criteria) error {
	if err := CheckSetting(s); err != nil {
		return err
	}
	b, _ := barNamed(s.Name)
	b.set(&beside, s.Value)
	for _, pair := range ladders(&beside) {
		if *pair.low > *pair.high {
			return fmt.Errorf("%s must not be above %s: %s and %s", pair.lowName, pair.highName,
				plain(*pair.low), plain(*pair.high))
		}
	}
	return nil
}

// ladder is two bars of which one must not be above the other.
type ladder struct {
	lowName, highName string
	low, high         *float64
}

func ladders(c *Criteria) []ladder {
	return []ladder{
		{"keep-sure", "sure", &c.KeepSure, &c.Sure},
		{"lose-sure", "keep-sure", &c.LoseSure, &c.KeepSure},
		{"person-keep", "person-sure", &c.PersonKeep, &c.PersonSure},
		{"person-lose", "person-keep", &c.PersonLose, &c.PersonKeep},
		{"place-keep", "place-sure", &c.PlaceKeep, &c.PlaceSure},
		{"place-lose", "place-keep", &c.PlaceLose, &c.PlaceKeep},
		{"first-ask-keep", "first-ask-sure", &c.FirstAskKeep, &c.FirstAskSure},
		{"first-ask-lose", "first-ask-keep", &c.FirstAskLose, &c.FirstAskKeep},
	}
}

// CheckSetting says what is wrong with a setting: a name that is no bar, or a
// value outside its range.
func CheckSetting(s training.Setting) error {
	b, ok := barNamed(s.Name)
	switch now, _, old := Renamed(s.Name); {
	case ok:
	case old && now == "":
		return fmt.Errorf("%s is no bar any more, and nothing takes its place: the model finds by itself what is old", s.Name)
	case old:
		return fmt.Errorf("%s is no bar any more; %s is the nearest, but does not mean the same", s.Name, now)
	default:
		names := make([]string, len(bars))
		for i, b := range bars {
			names[i] = b.Name
		}
		return fmt.Errorf("%q is not a bar; the bars are %s", s.Name, strings.Join(names, ", "))
	}
	if !(s.Value >= b.Low && s.Value <= b.High) { // also not a number
		return fmt.Errorf("%s must lie between %s and %s; it is %s", b.Name, plain(b.Low), plain(b.High),
			plain(s.Value))
	}
	if b.Whole && s.Value != math.Trunc(s.Value) {
		return fmt.Errorf("%s must be a whole number; it is %s", b.Name, plain(s.Value))
	}
	return nil
}

func plain(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }

// CriteriaFunc gives the bars of a cue of the dog that is judged.
type CriteriaFunc func(cue string) Criteria

// Resolve returns the bars of one cue of one dog. Later ones win: the defaults,
// the cue's own limit, arrival, target and breaks, then what was set for the
// kennel, for the cue, for the dog, and for this cue of this dog. A setting
// that CheckSetting refuses changes nothing, and what is lost is never lost above
// where it is reached.
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
			if CheckSetting(s) == nil {
				b, _ := barNamed(s.Name)
				b.set(&c, s.Value)
			}
		}
	}
	for _, pair := range ladders(&c) {
		*pair.low = math.Min(*pair.low, *pair.high)
	}
	return c
}

// sameName reports whether a name, or what the list calls it, is the other.
func sameName(name, other string, listed func(string) string) bool {
	return training.Key(name) == training.Key(other) || listed(name) != "" &&
		training.Key(listed(name)) == training.Key(other)
}
