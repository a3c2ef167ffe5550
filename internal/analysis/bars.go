package analysis

import "firstcue/internal/training"

// Bar describes one bar that can be set: its name on the command line, its unit
// ("share", "sure", "s", "a minute", or what is counted), what it means, and the
// range of values that make sense, both ends included. Whole: only whole numbers
// fit.
type Bar struct {
	Name    string  `json:"name"`
	Unit    string  `json:"unit"`
	Meaning string  `json:"meaning"`
	Low     float64 `json:"lowest"`
	High    float64 `json:"highest"`
	Whole   bool    `json:"whole"`
}

// barField ties a bar to its field: one of the three.
type barField struct {
	Bar
	whole func(*Criteria) *int
	share func(*Criteria) *float64
	own   func(*Criteria) *training.Num
}

// bars is every bar, in the order to show them in.
var bars = []barField{
	whole("asks", "asks", 1, 1000, "scored asks before a cue can be ready",
		func(c *Criteria) *int { return &c.Asks }),
	whole("sessions", "sessions", 1, 200, "sessions they must fall into",
		func(c *Criteria) *int { return &c.Sessions }),
	whole("days", "days", 1, 60, "days they must fall on", func(c *Criteria) *int { return &c.Days }),
	share("minutes", "minutes", 1, 600, "walking cues: minutes walked instead of asks",
		func(c *Criteria) *float64 { return &c.Minutes }),

	share("agreed", "share", 0.5, 1, "first asks answered, where a goal names no other share",
		func(c *Criteria) *float64 { return &c.Agreed }),
	share("margin", "share", 0, 0.3,
		"how far below the agreed share is as good as there: one stay cannot tell them apart",
		func(c *Criteria) *float64 { return &c.Margin }),
	share("sure", "sure", 0.5, 0.999, "how sure it must be that the dog is there",
		func(c *Criteria) *float64 { return &c.Sure }),
	share("keep-sure", "sure", 0.01, 0.999,
		"ready is lost when it is less sure than this on as many evenings as nights says",
		func(c *Criteria) *float64 { return &c.KeepSure }),
	share("lose-sure", "sure", 0.01, 0.999, "ready is lost at once when it is less sure than this",
		func(c *Criteria) *float64 { return &c.LoseSure }),
	share("fail-sure", "sure", 0.5, 0.999,
		"how sure it must be that the dog is below the agreed share to say not ready",
		func(c *Criteria) *float64 { return &c.FailSure }),
	whole("nights", "evenings", 1, 14, "evenings in a row on which all of it must hold",
		func(c *Criteria) *int { return &c.Nights }),
	whole("night-asks", "asks", 1, 100, "asks of the cue that make an evening count",
		func(c *Criteria) *int { return &c.NightAsks }),

	share("person", "share", 0, 1, "first asks answered for other people than the main trainer",
		func(c *Criteria) *float64 { return &c.Person }),
	share("others-sure", "sure", 0.5, 0.999, "how sure of it for all of them together",
		func(c *Criteria) *float64 { return &c.OthersSure }),
	share("person-sure", "sure", 0.5, 0.999, "how sure of it for each person alone",
		func(c *Criteria) *float64 { return &c.PersonSure }),
	share("person-keep", "sure", 0.01, 0.999, "a person: ready is lost after some evenings below this",
		func(c *Criteria) *float64 { return &c.PersonKeep }),
	share("person-lose", "sure", 0.01, 0.999, "a person: ready is lost at once below this",
		func(c *Criteria) *float64 { return &c.PersonLose }),
	share("place", "share", 0, 1, "first asks answered at each place",
		func(c *Criteria) *float64 { return &c.Place }),
	share("place-sure", "sure", 0.5, 0.999, "how sure of it",
		func(c *Criteria) *float64 { return &c.PlaceSure }),
	share("place-keep", "sure", 0.01, 0.999, "a place: ready is lost after some evenings below this",
		func(c *Criteria) *float64 { return &c.PlaceKeep }),
	share("place-lose", "sure", 0.01, 0.999, "a place: ready is lost at once below this",
		func(c *Criteria) *float64 { return &c.PlaceLose }),
	share("weak-sure", "sure", 0.5, 0.999,
		"how sure it must be that a person or place is below its share to say not ready",
		func(c *Criteria) *float64 { return &c.WeakSure }),

	share("first-ask", "share", 0, 1, "answered, of the first asks of a session",
		func(c *Criteria) *float64 { return &c.FirstAsk }),
	share("first-ask-sure", "sure", 0.01, 0.999, "how sure of it",
		func(c *Criteria) *float64 { return &c.FirstAskSure }),
	share("first-ask-keep", "sure", 0.01, 0.999, "first asks: ready is lost after some evenings below this",
		func(c *Criteria) *float64 { return &c.FirstAskKeep }),
	share("first-ask-lose", "sure", 0.001, 0.999, "first asks: ready is lost at once below this",
		func(c *Criteria) *float64 { return &c.FirstAskLose }),

	whole("other-sessions", "sessions", 0, 100, "sessions by anyone but the main trainer",
		func(c *Criteria) *int { return &c.OtherSessions }),
	whole("other-asks", "asks", 0, 200, "scored asks by them",
		func(c *Criteria) *int { return &c.OtherAsks }),
	whole("places", "places", 0, 20, "places where it was tried enough",
		func(c *Criteria) *int { return &c.Places }),
	whole("off-property", "places", 0, 20, "how many of them are off property",
		func(c *Criteria) *int { return &c.OffProperty }),
	whole("place-asks", "asks", 1, 100, "asks before a place, a person, a goal or off leash counts as tried",
		func(c *Criteria) *int { return &c.PlaceAsks }),
	whole("place-sessions", "sessions", 1, 50, "sessions they must fall into",
		func(c *Criteria) *int { return &c.PlaceSessions }),
	share("place-minutes", "minutes", 0.5, 120, "walking cues: minutes instead of those asks",
		func(c *Criteria) *float64 { return &c.PlaceMinutes }),

	whole("owner-asks", "asks", 1, 200, "the owner's own scored asks",
		func(c *Criteria) *int { return &c.OwnerAsks }),
	whole("owner-lessons", "lessons", 1, 50, "lessons they must fall into",
		func(c *Criteria) *int { return &c.OwnerLessons }),
	share("owner", "share", 0, 1, "first asks answered for the owner",
		func(c *Criteria) *float64 { return &c.Owner }),
	share("owner-sure", "sure", 0.5, 0.999, "how sure of it",
		func(c *Criteria) *float64 { return &c.OwnerSure }),

	own("limit", "s", 0.1, 60,
		"longest time from cue to start that still counts as the first ask; the median must stay inside it",
		func(c *Criteria) *training.Num { return &c.Limit }),
	own("arrive", "s", 0.1, 600, "longest time from cue to completion, such as within reach",
		func(c *Criteria) *training.Num { return &c.Arrive }),
	own("target", "s", 1, 7200, "how long a hold must be kept",
		func(c *Criteria) *training.Num { return &c.Target }),
	own("breaks", "a minute", 0.01, 60, "most position breaks a minute",
		func(c *Criteria) *training.Num { return &c.Breaks }),
	share("corrections", "per ten asks", 0, 100, "most corrections per ten asks now",
		func(c *Criteria) *float64 { return &c.Corrections }),
	share("corrections-a-minute", "a minute", 0, 60, "walking cues: most corrections a minute now",
		func(c *Criteria) *float64 { return &c.CorrectionsPerMinute }),
	whole("trend-sessions", "sessions", 4, 50, "sessions before a trend is named",
		func(c *Criteria) *int { return &c.TrendSessions }),

	share("slipping-sure", "sure", 0.05, 0.999,
		"how sure it must be that a ready cue is below its bar to say that it slips",
		func(c *Criteria) *float64 { return &c.SlippingSure }),
	share("worse-sure", "sure", 0.5, 0.999,
		"how sure it must be that a person or place is worse than the others",
		func(c *Criteria) *float64 { return &c.WorseSure }),
	share("likeness", "", 0, 0.9, "how alike asks of one session are taken to be",
		func(c *Criteria) *float64 { return &c.Likeness }),
	whole("stale", "days", 1, 60, "days without a session after which a cue is stale",
		func(c *Criteria) *int { return &c.StaleDays }),
}

func whole(name, unit string, low, high float64, meaning string, f func(*Criteria) *int) barField {
	return barField{Bar: Bar{name, unit, meaning, low, high, true}, whole: f}
}

func share(name, unit string, low, high float64, meaning string, f func(*Criteria) *float64) barField {
	return barField{Bar: Bar{name, unit, meaning, low, high, false}, share: f}
}

func own(name, unit string, low, high float64, meaning string, f func(*Criteria) *training.Num) barField {
	return barField{Bar: Bar{name, unit, meaning, low, high, false}, own: f}
}

func (b barField) get(c *Criteria) training.Num {
	switch {
	case b.whole != nil:
		return training.Known(float64(*b.whole(c)))
	case b.share != nil:
		return training.Known(*b.share(c))
	}
	return *b.own(c)
}

func (b barField) set(c *Criteria, v float64) {
	switch {
	case b.whole != nil:
		*b.whole(c) = int(v)
	case b.share != nil:
		*b.share(c) = v
	default:
		*b.own(c) = training.Known(v)
	}
}

// renamed are the bars of the first edition. Where the meaning is the same a setting
// counts under the new name; where it is not, the new name is the one to look at.
var renamed = map[string]struct {
	now  string
	same bool
}{
	"trials":         {"asks", true},
	"rate":           {"agreed", true},
	"icc":            {"likeness", true},
	"other-trials":   {"other-asks", true},
	"place-trials":   {"place-asks", true},
	"owner-trials":   {"owner-asks", true},
	"floor":          {"sure", false},
	"leave":          {"keep-sure", false},
	"half-life":      {"", false},
	"other-rate":     {"person", false},
	"other-floor":    {"others-sure", false},
	"context-bar":    {"place", false},
	"context-trials": {"place-asks", false},
	"owner-rate":     {"owner", false},
	"owner-floor":    {"owner-sure", false},
	"hold-rate":      {"agreed", false},
	"hold-floor":     {"sure", false},
	"cold-last":      {"first-ask", false},
	"cold-misses":    {"first-ask", false},
	"alarm-good":     {"slipping-sure", false},
	"alarm-bad":      {"slipping-sure", false},
	"alarm-at":       {"slipping-sure", false},
}

// Renamed says what a bar of the first edition became: the new name ("" = nothing
// takes its place), and whether it means the same. old is false for any other name.
func Renamed(name string) (now string, same, old bool) {
	r, old := renamed[training.Key(name)]
	return r.now, r.same, old
}

// barNamed finds a bar by its name, or by an old one that means the same.
func barNamed(name string) (barField, bool) {
	key := training.Key(name)
	if now, same, old := Renamed(key); old && same {
		key = now
	}
	for _, b := range bars {
		if b.Name == key {
			return b, true
		}
	}
	return barField{}, false
}
