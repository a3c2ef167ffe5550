package analysis

import (
	"firstcue/internal/training"
)

// Track scores past forecasts on dogs whose due day is over: each cue's chance
// as it was given on the nights before, against whether its level gate was open
// on the night of the due day, which is what that number speaks of.
type Track struct {
	Dogs      int  // finished dogs with a forecast
	Enough    bool // at least ten: fewer say nothing
	Forecasts int
	// Brier is the mean squared error of the chances, BrierBase that of always
	// giving the share that happened. Lower is better; unknown without forecasts.
	Brier, BrierBase training.Num
	Rows             []TrackRow // five classes of what was said
}

// TrackRow is the forecasts of one class: how many, what was said on average,
// and how often it happened. Low to High, the last class with its upper end.
type TrackRow struct {
	Low, High      float64
	Count          int
	Said, Happened training.Num
}

// trackClasses is the number of classes of the calibration table.
const trackClasses = 5

// TrackRecord recomputes, for each record of a dog whose due day lies before
// the day, the forecasts of the nights before it was due, as they would have
// been given then, and scores them. The records' base rates are not used.
func TrackRecord(records []training.Record, criteria func(dog string) CriteriaFunc, day training.Day) Track {
	var t Track
	var said, happened [trackClasses]float64
	var count [trackClasses]int
	var sum, hits float64
	for _, r := range records {
		due, ok := finished(r, day)
		if !ok {
			continue
		}
		r.BaseRate = training.Num{}
		bars := criteria(r.Dog.Name)
		open := map[string]bool{}
		for _, c := range Assess(r, bars, due).Cues {
			for _, g := range c.Gates {
				if g.Name == GateLevel || g.Name == GatePosition {
					open[c.Cue] = g.Met()
				}
			}
		}
		any := false
		for n := due - farNights + 1; n < due; n++ {
			q := r
			q.Dog.Boardings = asOfNight(r.Dog.Boardings, n)
			for _, c := range Assess(q, bars, n).Cues {
				if !c.Agreed || c.Forecast == nil || !c.Forecast.Level.Known {
					continue
				}
				p, y := c.Forecast.Level.V, float64(one(open[c.Cue]))
				k := min(int(p*trackClasses), trackClasses-1)
				said[k] += p
				happened[k] += y
				count[k]++
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
	for k := range trackClasses {
		row := TrackRow{Low: float64(k) / trackClasses, High: float64(k+1) / trackClasses, Count: count[k]}
		if n := float64(count[k]); n > 0 {
			row.Said, row.Happened = training.Known(said[k]/n), training.Known(happened[k]/n)
		}
		t.Rows = append(t.Rows, row)
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
