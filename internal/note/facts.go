package note

import "firstcue/internal/training"

// Fact is one thing that a context line of a note says: its key and its value.
type Fact struct{ Key, Value string }

// String writes the fact as a context line does.
func (f Fact) String() string { return f.Key + ": " + f.Value }

// Context returns what a session's context lines say, in their order. What the
// session does not say is not among them.
func Context(s training.Session) []Fact {
	c := contextOf(s)
	var out []Fact
	for _, k := range keys {
		if v := k.value(c); v != "" {
			out = append(out, Fact{k.name, v})
		}
	}
	return out
}

func contextOf(s training.Session) context {
	return context{
		dog: training.Dog{Name: s.Dog}, handler: s.Handler, scorer: s.Scorer, start: Moment{Time: s.Start, Zone: s.Zone},
		part: s.Part + 1, place: s.Place, leash: s.Leash, distraction: s.Distraction, device: s.Device, level: s.WorkingLevel,
		baseline: s.Baseline, source: s.Source, weather: s.Weather, reward: s.Reward,
		worn: s.Worn, skin: s.Skin, links: s.Links, repeated: s.OwnerRepeated, late: s.OwnerLate,
	}
}
