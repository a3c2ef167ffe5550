package analysis

import (
	"slices"

	"firstcue/internal/model"
	"firstcue/internal/training"
)

// course is the cue day by day. The level of a past day is what is known of it today
// (smoothed): a second pass of the filter in which each day's level stays in the
// state. It leaves out the small differences of a person at a place: half the state,
// and twice the time, for nothing that a chart shows. The last day is the present
// figure.
func (f *follow) course(verdicts []Verdict, now Figure) []DayPoint {
	prior := f.watches[0].prior
	prior.Cell = 0
	filter := model.New(prior)
	marks := make([]int, len(f.nights))
	out := make([]DayPoint, len(f.nights))
	known := [2]map[string]bool{{}, {}}
	k := 0
	for i := range f.h.sits {
		q := &f.h.sits[i]
		for k < len(f.nights) && f.nights[k].day < q.day {
			k++
		}
		f.h.show(filter, f.h.parts(q, nil), i == 0 || f.h.sits[i-1].day != q.day)
		if k == len(f.nights) || f.nights[k].day != q.day {
			continue
		}
		f.h.into(&out[k], q, known)
		if i+1 == len(f.h.sits) || f.h.sits[i+1].day != q.day {
			marks[k] = filter.Mark()
		}
	}
	for k, n := range f.nights {
		p := &out[k]
		p.Day, p.ThatNight, p.Verdict = n.day, n.level, verdicts[k]
		p.Level = shortFigure(filter, model.Target{When: marks[k]})
		if k+1 == len(f.nights) {
			p.Level = now
		}
		f.h.timesOf(p)
	}
	return out
}

// into adds a sitting to its day.
func (h *history) into(p *DayPoint, q *cueSitting, known [2]map[string]bool) {
	if q.scored() {
		p.add(q.Tally)
		who, where := h.person(q).name, h.place(q).name
		i := slices.IndexFunc(p.People, func(d DayPerson) bool { return d.Person == who })
		if i < 0 {
			i = len(p.People)
			p.People = append(p.People, DayPerson{Person: who})
		}
		p.People[i].add(q.Tally)
		if !slices.Contains(p.Places, where) {
			p.Places = append(p.Places, where)
		}
		if !known[0][who] {
			p.NewPeople = append(p.NewPeople, who)
		}
		if !known[1][where] {
			p.NewPlaces = append(p.NewPlaces, where)
		}
		known[0][who], known[1][where] = true, true
	}
	p.Corrected += q.corrected
	p.Corrections += q.corrections
	p.CorrectionTrials += q.known
}

// timesOf fills in the day's times and correction levels.
func (h *history) timesOf(p *DayPoint) {
	sits := span(h.sits, p.Day, p.Day)
	switch h.kind {
	case training.Response:
		p.Median = h.latencies(sits).summary().Median
	case training.Holding:
		x := holds(sits)
		p.Median = x.summary().Median
		for _, t := range x.t {
			p.Longest = training.Known(max(p.Longest.V, t))
		}
	}
	for _, device := range devicesOf(sits) {
		var v []float64
		for _, q := range sits {
			for _, e := range q.trials {
				for _, c := range e.t.Corrections {
					if hasLevel(c) && training.Key(c.Device) == training.Key(device) {
						v = append(v, c.Level.V)
					}
				}
			}
		}
		l := DayLevel{Device: device, Count: len(v)}
		if d, ok := h.sc.rec.Kennel.Device(device); ok {
			l.Device = d.Name
		}
		l.Median, l.Low, l.High = spread(v)
		p.Levels = append(p.Levels, l)
	}
}

// movedOn is the first day after the level's last clear move: after the newest day
// whose level lies outside today's 80 % interval. What is older than that was asked of
// another dog, so to say.
func movedOn(course []DayPoint) training.Day {
	if len(course) == 0 {
		return 0
	}
	now := course[len(course)-1].Level
	for i := len(course) - 2; i >= 0; i-- {
		p := course[i].Level
		if p.Now.V < now.Low80.V || p.Now.V > now.High80.V {
			return course[i+1].Day
		}
	}
	return course[0].Day
}

// slipping says whether a cue that was ready is credibly getting worse, and since
// when: the first day of the last run of days on which the level lies under the bar.
func (f *follow) slipping(course []DayPoint) Slipping {
	n := f.last()
	if n == nil || len(f.decisions) == 0 {
		return Slipping{}
	}
	s := Slipping{Sure: training.Known(1 - n.sure[0])}
	if !(n.ever || n.open) || s.Sure.V < f.h.c.SlippingSure {
		return s
	}
	s.On, s.Since = true, n.day
	bar := f.decisions[0].bar
	for i := len(course) - 1; i >= 0; i-- {
		now := course[i].Level.Now.V
		if now >= bar && f.h.kind != training.Motion || now <= bar && f.h.kind == training.Motion {
			break
		}
		s.Since = course[i].Day
	}
	for i := range f.h.sits {
		if q := &f.h.sits[i]; q.day == s.Since && q.scored() && !q.clean() {
			s.Person, s.Place = f.h.person(q).name, f.h.place(q).name
			break
		}
	}
	return s
}
