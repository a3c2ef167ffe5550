package analysis

import (
	"fmt"
	"testing"

	"firstcue/internal/training"
)

func TestTrackRecord(t *testing.T) {
	var dogs []training.Record
	for i := range 12 {
		r := goodStay(8, 5, nil)
		if i%3 == 0 { // a third never gets there
			for j := range r.Sessions {
				r.Sessions[j].Trials = many("sit", 2, 3)
			}
		}
		r.Dog.Name = fmt.Sprint("Dog ", i)
		for j := range r.Sessions {
			r.Sessions[j].Dog = r.Dog.Name
		}
		r.Dog.Boardings = []training.Boarding{{Arrived: day1, Due: day1 + 7, Home: day1 + 7}}
		dogs = append(dogs, r)
	}
	bars := func(dog string) CriteriaFunc {
		return func(cue string) Criteria { return Resolve(kennel(), nil, dog, cue) }
	}
	tr := TrackRecord(dogs, bars, day1+30)
	if tr.Dogs != 12 || !tr.Enough || tr.Forecasts != 12*7 {
		t.Fatalf("%d dogs, %d forecasts", tr.Dogs, tr.Forecasts)
	}
	near(t, "base", tr.BrierBase, 2.0/9, 1e-12)
	if tr.Brier.V >= tr.BrierBase.V {
		t.Errorf("Brier %v, no better than the base rate %v on dogs that are clearly one or the other", tr.Brier, tr.BrierBase)
	}
	n := 0
	for _, r := range tr.Rows {
		n += r.Count
		if (r.Count > 0) != r.Said.Known {
			t.Errorf("row %+v", r)
		}
	}
	if n != tr.Forecasts {
		t.Errorf("%d in the rows", n)
	}
	if tr := TrackRecord(dogs[:9], bars, day1+30); tr.Enough {
		t.Error("nine dogs are not enough")
	}
	if tr := TrackRecord(dogs, bars, day1+7); tr.Dogs != 0 || tr.Brier.Known {
		t.Error("dogs that are not finished were scored")
	}
}
