package analysis

import "firstcue/internal/training"

// Track scores past forecasts on dogs whose due day is over: each cue's chance as it
// was given on the nights before, against whether the cue was ready on the evening of
// the due day.
type Track struct {
	Dogs      int  `json:"dogs"`       // finished dogs with a forecast
	Enough    bool `json:"enoughDogs"` // at least ten: fewer say nothing
	Forecasts int  `json:"forecasts"`
	// Brier is the mean squared error of the chances, BrierBase that of always
	// giving the share that happened. Lower is better; unknown without forecasts.
	Brier     training.Num `json:"brier"`
	BrierBase training.Num `json:"brierOfBase"`
	Rows      []TrackRow   `json:"rows"` // five classes of what was said
}

// TrackRow is the forecasts of one class: how many, what was said on average,
// and how often it happened. Low to High, the last class with its upper end.
type TrackRow struct {
	Low      float64      `json:"low"`
	High     float64      `json:"high"`
	Count    int          `json:"count"`
	Said     training.Num `json:"said"`
	Happened training.Num `json:"happened"`
}

// trackClasses is the number of classes of the calibration table.
const trackClasses = 5

// TrackRecord recomputes, for each record of a dog whose due day lies before the day,
// the forecasts of the nights before it was due, as they would have been given then,
// and scores them. The records' base rates are not used.
func TrackRecord(records []training.Record, criteria func(dog string) CriteriaFunc, day training.Day) Track {
	t := Track{Rows: make([]TrackRow, trackClasses)}
	var said, happened [trackClasses]float64
	var sum, hits float64
	for _, r := range records {
		due, ok := finished(r, day)
		if !ok {
			continue
		}
		r.BaseRate = training.Num{}
		bars := criteria(r.Dog.Name)
		ready := map[string]bool{}
		for _, c := range Assess(r, bars, due).Cues {
			ready[c.Cue] = c.Verdict == Ready
		}
		any := false
		for n := due - farNights + 1; n < due; n++ {
			q := r
			q.Dog.Boardings = asOfNight(r.Dog.Boardings, n)
			for _, c := range Assess(q, bars, n).Cues {
				if !c.counts() || c.Forecast == nil || !c.Forecast.Chance.Known {
					continue
				}
				p, y := c.Forecast.Chance.V, float64(one(ready[c.Cue]))
				k := min(int(p*trackClasses), trackClasses-1)
				said[k] += p
				happened[k] += y
				t.Rows[k].Count++
				sum += (p - y) * (p - y)
				hits += y
				t.Forecasts++
				any = true
			}
		}
		t.Dogs += one(any)
	}
	t.Enough = t.Dogs >= baseDogs
	if t.Forecasts > 0 {
		n := float64(t.Forecasts)
		base := hits / n
		t.Brier, t.BrierBase = training.Known(sum/n), training.Known(base*(1-base))
	}
	for k := range t.Rows {
		row := &t.Rows[k]
		row.Low, row.High = float64(k)/trackClasses, float64(k+1)/trackClasses
		if n := float64(row.Count); n > 0 {
			row.Said, row.Happened = training.Known(said[k]/n), training.Known(happened[k]/n)
		}
	}
	return t
}

// finished gives the due day of the dog's last stay that was due before the day
// and in which it was trained.
func finished(r training.Record, day training.Day) (training.Day, bool) {
	var due training.Day
	for _, b := range r.Dog.Boardings {
		if b.Due != 0 && b.Due < day && b.Due > due {
			due = b.Due
		}
	}
	if due == 0 {
		return 0, false
	}
	for i := range r.Sessions {
		if s := &r.Sessions[i]; s.Voided == "" && s.Rescores == "" && s.Day() <= due {
			return due, true
		}
	}
	return 0, false
}

// asOfNight forgets that the dog went home after the night.
func asOfNight(list []training.Boarding, night training.Day) []training.Boarding {
	out := make([]training.Boarding, len(list))
	copy(out, list)
	for i := range out {
		if out[i].Home > night {
			out[i].Home = 0
		}
	}
	return out
}
