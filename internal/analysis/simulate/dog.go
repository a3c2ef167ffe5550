package main

import (
	"fmt"
	"math"
	"math/rand/v2"
	"time"

	"firstcue/internal/training"
)

// The kennel of every simulated stay. All names are invented.
const (
	cueName = "down"
	dogName = "Fennel"
	mainer  = "Ansel"
	second  = "Birte"
	owner   = "Odile"

	yard   = "yard"
	meadow = "meadow"
	square = "market square" // off property
	device = "grey remote"
)

// arrival is day 1 of every simulated stay.
var arrival = training.Date(2026, time.March, 2)

// night is the day on whose evening the stay is looked at for the n-th time,
// n = 1 on the day of arrival.
func night(n int) training.Day { return arrival + training.Day(n-1) }

// ask is one first ask as the simulated dog meets it.
type ask struct {
	day      int // 1 = arrival
	practice int // trials of the cue before this one
	cold     bool
	handler  string
	place    string
}

// truth is what a dog really does.
type truth struct {
	chance func(ask) float64 // of a right answer to the first ask
	rho    float64           // intra-session correlation
	// corrected is the share of misses that are followed by a correction.
	corrected float64
}

// always is a dog with one chance everywhere and for everybody.
func always(p, rho float64) truth {
	return truth{chance: func(ask) float64 { return p }, rho: rho}
}

// plan is who asks where and how often.
type plan struct {
	days              int
	fewest, most      int // sessions a day
	smallest, largest int // trials a session
	who               func(day int, r *rand.Rand) string
	where             func(day int, r *rand.Rand) string
}

// full and light are the two schedules of the tables: 2 to 4 sessions a day,
// or one. Sessions have 3 to 8 trials.
func full() plan  { return plan{15, 2, 4, 3, 8, mixedHandlers, mixedPlaces} }
func light() plan { return plan{15, 1, 1, 3, 8, mixedHandlers, mixedPlaces} }

// mixedHandlers is the main trainer alone for three days, a second trainer in
// 30 % of sessions from day 4, and from day 11 the owner in 30 % and the second
// trainer in 20 %.
func mixedHandlers(day int, r *rand.Rand) string {
	u := r.Float64()
	switch {
	case day >= 11 && u < 0.3:
		return owner
	case day >= 11 && u < 0.5, day >= 4 && day < 11 && u < 0.3:
		return second
	}
	return mainer
}

// mixedPlaces is the yard in 50, the meadow in 30, the market square in 20 %
// of sessions.
func mixedPlaces(_ int, r *rand.Rand) string {
	u := r.Float64()
	switch {
	case u < 0.5:
		return yard
	case u < 0.8:
		return meadow
	}
	return square
}

// kennel returns a record without sessions.
func kennel() training.Record {
	var cue training.Cue
	for _, c := range training.SeedCues() {
		if c.Name == cueName {
			cue = c
		}
	}
	dog := training.Dog{ID: "dog", Name: dogName, Main: mainer, Owners: []string{owner}, Device: device}
	return training.Record{
		Kennel: training.Kennel{
			Dogs: []training.Dog{dog},
			Handlers: []training.Handler{
				{ID: "h1", Name: mainer, Role: training.Trainer},
				{ID: "h2", Name: second, Role: training.Trainer},
				{ID: "h3", Name: owner, Role: training.Owner},
			},
			Places: []training.Place{
				{ID: "p1", Name: yard}, {ID: "p2", Name: meadow}, {ID: "p3", Name: square, OffProperty: true},
			},
			Devices: []training.Device{{ID: "d1", Name: device}},
			Cues:    []training.Cue{cue},
		},
		Dog: dog,
	}
}

// due gives the record a boarding that ends after so many nights, from when on
// a forecast is made.
func due(rec training.Record, nights int) training.Record {
	rec.Dog.Boardings = []training.Boarding{{ID: "b1", Arrived: arrival, Due: night(nights)}}
	rec.Kennel.Dogs = []training.Dog{rec.Dog}
	return rec
}

// session returns an empty session, the number-th of its day.
func session(day, number int, handler, place string) training.Session {
	start := night(day).Time(time.UTC).Add(8*time.Hour + time.Duration(number)*time.Hour)
	return training.Session{
		ID: fmt.Sprintf("%04d-%03d", day, number), Revision: 1, Dog: dogName, Handler: handler, Start: start,
		Place: place, Leash: "off", Distraction: training.Known(1), Device: device, Source: training.Live,
	}
}

// trial returns one trial of the cue. A miss is answered on the second ask,
// after a correction or without one.
func trial(yes, corrected bool, r *rand.Rand) training.Trial {
	t := training.Trial{
		Cue: cueName, Kind: training.Response, Signal: "voice", Outcome: training.Answered, Asks: 1,
		Latency: training.Known(latency(r)),
	}
	if !yes {
		t.Asks = 2
		if corrected {
			t.Corrections = []training.Correction{{Kind: training.ByLeash, Served: true}}
		}
	}
	return t
}

// latency is log-normal about 1.2 s, never over the 3 s limit of the cue.
func latency(r *rand.Rand) float64 {
	for {
		if s := math.Round(12*math.Exp(0.35*r.NormFloat64())) / 10; s > 0 && s < 3 {
			return s
		}
	}
}

// stay generates the sessions of a whole stay.
func stay(p plan, dog truth, r *rand.Rand) training.Record {
	rec := kennel()
	practice := 0
	for day := 1; day <= p.days; day++ {
		for k := range between(r, p.fewest, p.most) {
			s := session(day, k, p.who(day, r), p.where(day, r))
			urn := sitting{rho: dog.rho}
			for i := range between(r, p.smallest, p.largest) {
				a := ask{day: day, practice: practice, cold: i == 0, handler: s.Handler, place: s.Place}
				yes := urn.answer(dog.chance(a), r)
				corrected := !yes && dog.corrected > 0 && r.Float64() < dog.corrected
				s.Trials = append(s.Trials, trial(yes, corrected, r))
				practice++
			}
			rec.Sessions = append(rec.Sessions, s)
		}
	}
	return rec
}

func between(r *rand.Rand, low, high int) int { return low + r.IntN(high-low+1) }

// shape is a form of learning curve.
type shape int

const (
	logisticLog shape = iota // logistic in log trials, with a ceiling
	exponential              // exponential approach to a plateau
	insight                  // all at once
	regression               // logistic in log trials, with a step back of some days
)

var shapes = []shape{logisticLog, exponential, insight, regression}

func (s shape) String() string {
	return [...]string{"logistic", "exponential", "insight", "regression"}[s]
}

// learner draws a dog that learns: start from a beta(2,5) distribution, ceiling
// .92 to 1, trials to nine tenths of the ceiling log-normal (log-sd .6) about
// the median. A step back takes .2 to .4 off for 2 to 6 days.
func learner(s shape, median float64, rho float64, r *rand.Rand) truth {
	// The second smallest of six uniform numbers is beta(2,5).
	var u [6]float64
	for i := range u {
		u[i] = r.Float64()
	}
	low, start := 2.0, 2.0
	for _, x := range u {
		switch {
		case x < low:
			low, start = x, low
		case x < start:
			start = x
		}
	}
	start = min(max(start, 0.02), 0.80)
	ceiling := uniform(r, 0.92, 1)
	to9 := max(5, median*math.Exp(0.6*r.NormFloat64()))
	from, length, loss := between(r, 4, 13), between(r, 2, 6), uniform(r, 0.2, 0.4)

	curve := func(n float64) float64 {
		switch s {
		case exponential:
			tau := to9 / math.Log((ceiling-start)/(0.1*ceiling))
			return ceiling - (ceiling-start)*math.Exp(-n/tau)
		case insight:
			return start + (ceiling-start)*logistic((n-to9)/4)
		default:
			a := logit(start / ceiling)
			b := (logit(0.9) - a) / math.Log(to9+1)
			return ceiling * logistic(a+b*math.Log(n+1))
		}
	}
	return truth{rho: rho, chance: func(a ask) float64 {
		p := curve(float64(a.practice))
		if s == regression && a.day >= from && a.day < from+length {
			p = max(0.02, p-loss)
		}
		return p
	}}
}
