package check

import (
	"errors"
	"fmt"

	"firstcue/internal/stats"
)

// Statistic is one entry of the list of names.
type Statistic struct {
	Name    string
	Summary string // one line, in words
	Input   string // names of the fields, parted by blanks; "?" after those that may be left out
	run     func(question) (any, error)
}

// Statistics lists what Run knows, in the order of docs/stats.md.
var Statistics = []Statistic{
	{"wilson", "score interval of a proportion", "x n level?", wilson},
	{"effective", "proportion from sessions: likeness, effective number, interval",
		"successes trials level? prior_icc? prior_sessions?", effective},
	{"cochranarmitage", "linear trend of proportions", "successes trials scores? deff?", cochranArmitage},
	{"mannkendall", "monotone trend, exact with ties", "y", mannKendall},
	{"theilsen", "median slope with Sen's limits", "y t? level?", theilSen},
	{"kaplanmeier", "survival curve, median and its limits", "times status level? at?", kaplanMeier},
	{"poisson", "rate with exact limits (Garwood)", "count exposure level?", poisson},
	{"kappa", "agreement of two scorers", "table level?", kappa},
}

// question holds the fields of every statistic; a name means the same in all.
type question struct {
	X, N, Count, Exposure, Level    float64
	PriorICC, PriorSessions         *float64
	Successes, Trials, Scores, Deff []float64
	T, Y, Times, At                 []float64
	Status                          []int
	Table                           [][]float64
}

// place is where the field of that name goes, and what it must be.
func (q *question) place(name string) (place any, what string) {
	const number, list = "a number", "a list of numbers"
	switch name {
	case "x":
		return &q.X, number
	case "n":
		return &q.N, number
	case "count":
		return &q.Count, number
	case "exposure":
		return &q.Exposure, number
	case "level":
		return &q.Level, number
	case "prior_icc":
		return &q.PriorICC, number
	case "prior_sessions":
		return &q.PriorSessions, number
	case "successes":
		return &q.Successes, list
	case "trials":
		return &q.Trials, list
	case "scores":
		return &q.Scores, list
	case "deff":
		return &q.Deff, list
	case "t":
		return &q.T, list
	case "y":
		return &q.Y, list
	case "times":
		return &q.Times, list
	case "at":
		return &q.At, list
	case "status":
		return &q.Status, "a list of 0 and 1"
	}
	return &q.Table, "a list of lists of numbers"
}

// answer is the result, or the error without a result.
func answer[T any](v T, err error) (any, error) {
	if err != nil {
		return nil, err
	}
	return v, nil
}

func wilson(q question) (any, error) { return answer(stats.Wilson(q.X, q.N, q.Level)) }

func effective(q question) (any, error) {
	prior, sessions := stats.DefaultICC, float64(stats.DefaultICCSessions)
	if q.PriorICC != nil {
		prior = *q.PriorICC
	}
	if q.PriorSessions != nil {
		sessions = *q.PriorSessions
	}
	return answer(stats.Cluster(q.Successes, q.Trials, prior, sessions, q.Level))
}

func cochranArmitage(q question) (any, error) {
	if q.Scores == nil {
		for i := range q.Trials {
			q.Scores = append(q.Scores, float64(i+1))
		}
	}
	return answer(stats.CochranArmitage(q.Successes, q.Trials, q.Scores, q.Deff))
}

func mannKendall(q question) (any, error) { return answer(stats.MannKendall(q.Y)) }

func theilSen(q question) (any, error) { return answer(stats.TheilSen(q.T, q.Y, q.Level)) }

func poisson(q question) (any, error) { return answer(stats.Garwood(q.Count, q.Exposure, q.Level)) }

func kappa(q question) (any, error) { return answer(stats.Kappa(q.Table, q.Level)) }

type curve struct {
	N           int          `json:"n"`
	Events      int          `json:"events"`
	MedianFirst stats.Number `json:"median_first_time"`
	Median      stats.Number `json:"median_midpoint"`
	Lower       stats.Number `json:"med_lower_loglog"`
	Upper       stats.Number `json:"med_upper_loglog"`
	Curve       []point      `json:"curve"`
	At          []reading    `json:"at,omitempty"`
}

type point struct {
	stats.SurvivalPoint
	Lower stats.Number `json:"lower_loglog"`
	Upper stats.Number `json:"upper_loglog"`
}

type reading struct {
	Time float64 `json:"time"`
	stats.SurvivalAt
}

func kaplanMeier(q question) (any, error) {
	var event []bool
	for i, s := range q.Status {
		if s != 0 && s != 1 {
			return nil, fmt.Errorf("field \"status\" must hold 0 and 1 only; value %d is %d", i+1, s)
		}
		event = append(event, s == 1)
	}
	s, err := stats.KaplanMeier(q.Times, event)
	if err != nil {
		return nil, err
	}
	c := curve{N: s.N, Events: s.Events}
	c.MedianFirst, c.Median = s.Median()
	c.Lower, c.Upper, err = s.MedianLimits(q.Level)
	for _, p := range s.Points {
		lower, upper := p.Limits(q.Level)
		c.Curve = append(c.Curve, point{p, lower, upper})
	}
	for _, t := range q.At {
		at, e := s.At(t, q.Level)
		err = errors.Join(err, e)
		c.At = append(c.At, reading{t, at})
	}
	return answer(c, err)
}
