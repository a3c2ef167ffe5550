package analysis

import (
	"math"

	"firstcue/internal/training"
)

// Track says how the chances that were given for finished dogs came true.
type Track struct {
	Dogs      int          `json:"dogs"`      // whose due day is over
	Enough    bool         `json:"enough"`    // ten dogs
	Forecasts int          `json:"forecasts"` // evenings with a chance
	Brier     training.Num `json:"brier"`     // mean squared error; 0 is perfect
	BrierBase training.Num `json:"brierBase"` // of always giving the share that happened
	Rows      []TrackRow   `json:"classes"`
}

// TrackRow is the chances between two bounds.
type TrackRow struct {
	Low      float64      `json:"low"`
	High     float64      `json:"high"`
	Count    int          `json:"count"`
	Said     training.Num `json:"said"`     // on average
	Happened training.Num `json:"happened"` // share of them that came true
}

// enoughDogs finished are needed before the chances are scored.
const enoughDogs = 10

// TrackRecord scores the chances given on the evenings of each stay against the
// verdict on the due day (Brier 1950). Dogs whose due day is not over are left out.
func TrackRecord(records []training.Record, criteria func(dog string) CriteriaFunc, day training.Day) Track {
	var t Track
	type pair struct{ said, happened float64 }
	var all []pair
	for _, r := range records {
		bars := criteria(r.Dog.Name)
		for _, b := range r.Dog.Boardings {
			if b.Due == 0 || b.Due >= day || b.Due <= b.Arrived {
				continue
			}
			end := b.Due
			if b.Home != 0 && b.Home < end {
				end = b.Home
			}
			last := Assess(r, bars, end)
			if last.Asks == 0 {
				continue
			}
			t.Dogs++
			came := 0.0
			if last.Verdict == Ready {
				came = 1
			}
			for d := b.Arrived; d < end; d++ {
				if f := Assess(r, bars, d).Forecast; f != nil && f.Chance.Known {
					all = append(all, pair{f.Chance.V, came})
				}
			}
		}
	}
	t.Forecasts, t.Enough = len(all), t.Dogs >= enoughDogs
	if !t.Enough || len(all) == 0 {
		return t
	}
	share, brier := 0.0, 0.0
	for _, p := range all {
		share += p.happened / float64(len(all))
		brier += (p.said - p.happened) * (p.said - p.happened) / float64(len(all))
	}
	t.Brier, t.BrierBase = training.Known(brier), training.Known(share*(1-share))
	for i := range 5 {
		row := TrackRow{Low: float64(i) / 5, High: float64(i+1) / 5}
		said, came := 0.0, 0.0
		for _, p := range all {
			if int(math.Min(4, 5*p.said)) == i {
				row.Count++
				said += p.said
				came += p.happened
			}
		}
		if row.Count > 0 {
			row.Said, row.Happened = training.Known(said/float64(row.Count)), training.Known(came/float64(row.Count))
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}
