package main

import (
	"fmt"
	"math"
	"math/rand/v2"
	"time"

	"gonum.org/v1/gonum/mathext"
	"gonum.org/v1/gonum/stat/distuv"

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
	day      int     // 1 = arrival
	hour     float64 // the day with its part that has passed: 3.5 = half of day 3 is over, counted from 0
	practice int     // trials of the cue before this one
	cold     bool
	handler  string
	place    string
}

// truth is what a dog really does, and how it is written down.
type truth struct {
	chance func(ask) float64 // of a right answer to the first ask
	rho    float64           // intra-session correlation
	// carried is how alike a session is to the one before, beyond the dog's chance
	// (correlation of the first order).
	carried float64
	// corrected is the share of misses that are followed by a correction.
	corrected float64
	// selective: half of the sessions with fewer than 6 of 10 right are not logged.
	selective bool
}

// always is a dog with one chance everywhere and for everybody.
func always(p float64) truth { return truth{chance: func(ask) float64 { return p }, rho: .10} }

// plan is how often a dog is asked.
type plan struct {
	name         string
	nights       int
	fewest, most int // sessions a day
}

// Sessions have 2 to 10 trials. The main trainer works alone for two days; a second
// trainer then takes 30 % of sessions; the owner has one lesson more on each of the
// three days before the last one. On a full schedule the yard, the meadow and the
// off-property square get 45, 30 and 25 % of sessions; on a light one they take turns,
// with each person.
func full(nights int) plan  { return plan{"full", nights, 1, 4} }
func light(nights int) plan { return plan{"light", nights, 1, 1} }

func (p plan) light() bool { return p.most == 1 }

const smallest, largest = 2, 10

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
	turn := map[bool]int{true: r.IntN(3), false: r.IntN(3)} // of the main trainer, of the others
	practice, mood := 0, r.NormFloat64()
	for day := 1; day <= p.nights; day++ {
		n := between(r, p.fewest, p.most)
		lesson := day >= p.nights-3 && day < p.nights
		if lesson {
			n++
		}
		for k := range n {
			handler := mainer
			switch {
			case lesson && k == n-1:
				handler = owner
			case day >= 3 && r.Float64() < .3:
				handler = second
			}
			place := p.where(turn, handler, r)
			a := ask{day: day, hour: float64(day-1) + float64(k)/float64(n), practice: practice, handler: handler, place: place}
			mood = dog.carried*mood + math.Sqrt(1-dog.carried*dog.carried)*r.NormFloat64()
			s, right := lessonOf(dog, session(day, k, handler, place), a, mood, r)
			practice += len(s.Trials)
			if dog.selective && 10*right < 6*len(s.Trials) && r.Float64() < .5 {
				continue
			}
			rec.Sessions = append(rec.Sessions, s)
		}
	}
	return rec
}

func (p plan) where(turn map[bool]int, handler string, r *rand.Rand) string {
	places := []string{yard, meadow, square}
	if p.light() {
		turn[handler == mainer]++
		return places[turn[handler == mainer]%3]
	}
	switch u := r.Float64(); {
	case u < .45:
		return yard
	case u < .75:
		return meadow
	}
	return square
}

// lessonOf fills a session with trials and counts the right ones. Where moods are
// carried over, the session's own chance is the beta distribution's quantile at the
// mood (a Gaussian copula); else an urn makes its trials alike.
func lessonOf(dog truth, s training.Session, a ask, mood float64, r *rand.Rand) (training.Session, int) {
	urn := sitting{rho: dog.rho}
	right := 0
	for i := range between(r, smallest, largest) {
		a.cold = i == 0
		p := dog.chance(a)
		if dog.carried > 0 {
			t := (1 - dog.rho) / dog.rho
			p = mathext.InvRegIncBeta(p*t, (1-p)*t, distuv.UnitNormal.CDF(mood))
			urn.rho = 0
		}
		yes := urn.answer(p, r)
		if yes {
			right++
		}
		corrected := !yes && dog.corrected > 0 && r.Float64() < dog.corrected
		s.Trials = append(s.Trials, trial(yes, corrected, r))
		a.practice++
	}
	return s, right
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
