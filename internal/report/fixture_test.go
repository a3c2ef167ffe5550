package report

import (
	"math"
	"time"

	"firstcue/internal/analysis"
	"firstcue/internal/say"
	"firstcue/internal/training"
)

// The dogs, people and places of these fixtures are invented, and so are the
// figures: they exercise what is printed, they check no statistics.

func known(v float64) training.Num { return training.Known(v) }

// wilson is close enough to the real interval for a page that looks plausible.
func wilson(yes, of int) (training.Num, training.Num) {
	if of == 0 {
		return training.Num{}, training.Num{}
	}
	const z = 1.959964
	n, p := float64(of), float64(yes)/float64(of)
	mid := (p + z*z/(2*n)) / (1 + z*z/n)
	half := z / (1 + z*z/n) * math.Sqrt(p*(1-p)/n+z*z/(4*n*n))
	return known(math.Max(0, mid-half)), known(math.Min(1, mid+half))
}

func share(yes, of, sessions int) analysis.Share {
	s := analysis.Share{Yes: yes, Of: of, Sessions: sessions}
	if of > 0 {
		s.Rate = known(float64(yes) / float64(of))
		s.PlainLow, s.PlainHigh = wilson(yes, of)
		s.Effective = known(math.Round(float64(of)*8) / 10)
		s.ICC = known(0.1)
		s.Low, s.High = wilson(int(math.Round(float64(yes)*.8)), int(math.Round(float64(of)*.8)))
		if yes == of {
			s.High = known(1)
		}
	}
	return s
}

func day(d int) training.Day { return training.Date(2026, time.March, d) }

const rule = "right answer after one ask, inside the limit, without help or correction"

func firstCue(yes, of, sessions int, now float64) *analysis.FirstCue {
	s := share(yes, of, sessions)
	return &analysis.FirstCue{Share: s, Rule: rule,
		Current: analysis.Current{Rate: known(now), Low: known(now - .11), High: known(math.Min(1, now+.05)), Cautious: known(now - .09), Effective: known(31.4)},
		Other:   []analysis.RuleShare{{Rule: "answered in the end, however often asked", Share: share(of-1, of, sessions)}}}
}

func at(handler string, role training.Role, place string, off bool, yes, of, sessions int) analysis.Context {
	kind := analysis.ByCell
	if place == "" {
		kind = analysis.ByHandler
	} else if handler == "" {
		kind = analysis.ByPlace
	}
	return analysis.Context{Kind: kind, Handler: handler, Role: role, Place: place, Off: off, Share: share(yes, of, sessions),
		Enough: of >= 8 && sessions >= 2, Untried: of == 0, Last: day(19)}
}

func bareCriteria() analysis.Criteria {
	return analysis.Defaults()
}

func course(rates []float64, of int, corrected []int) []analysis.DayPoint {
	var out []analysis.DayPoint
	for i, r := range rates {
		yes := int(math.Round(r * float64(of)))
		low, high := wilson(yes, of)
		p := analysis.DayPoint{Day: day(4 + i + i/3), Yes: yes, Of: of, Trials: of, CorrectedOf: of, Low: low, High: high, Current: known(r),
			Handlers: []string{"Maren"}, Places: []string{"back field"}, Verdict: analysis.NotShown}
		if i < len(corrected) {
			p.Corrected, p.Corrections = corrected[i], corrected[i]
		}
		switch i {
		case 0:
			p.NewHandler, p.NewPlace = "Maren", "back field"
		case 3:
			p.NewPlace = "car park"
		case 5:
			p.NewHandler = "Tove"
		case 7:
			p.NewPlace = "market square"
		}
		out = append(out, p)
	}
	return out
}

func gates(standing map[analysis.GateName]analysis.Gate, names ...analysis.GateName) []analysis.Gate {
	var out []analysis.Gate
	for _, n := range names {
		g, ok := standing[n]
		if !ok {
			g = analysis.Gate{Standing: analysis.Met, Say: "met"}
		}
		g.Name = n
		out = append(out, g)
	}
	return out
}

// juniper is a dog with cues of every kind and verdict.
func juniper() analysis.Assessment {
	dog := training.Dog{ID: "0195c1f0-0000-7000-8000-00000000000a", Name: "Juniper", Device: "blue remote", Main: "Maren", Owners: []string{"Mr Aldous"},
		Consent: "blue remote, signed 3 March",
		Words: []training.CueWord{{Cue: "down", Word: "platz", Signal: "flat palm down", Ends: "\"free\""},
			{Cue: "come", Signal: "two whistle pips", Ends: "hand on the collar"}},
		Goals:     []training.Goal{{Cue: "sit", Words: "sits before the road"}, {Cue: "down"}, {Cue: "come", Words: "comes away from ducks"}, {Cue: "stay"}, {Cue: "heel"}, {Cue: "leave it"}},
		Boardings: []training.Boarding{{ID: "b1", Arrived: day(4), Due: day(24), Wishes: "A dog I can take to the market."}},
	}
	kinds := []analysis.GateName{analysis.GateEnough, analysis.GateLevel, analysis.GatePeople, analysis.GatePlaces, analysis.GateContext, analysis.GateSpeed, analysis.GateCorrections, analysis.GateClosed}
	k := bareCriteria()
	k.Limit = known(3)
	latency := func(m, lo, hi float64, seen, cens int) *analysis.Latency {
		return &analysis.Latency{Survival: analysis.Survival{Seen: seen, Censored: cens, Median: known(m), Low: known(lo), High: known(hi), Untimed: 9},
			Limit: known(3), Baseline: known(m), Last: known(m * 1.1)}
	}
	sit := analysis.CueAssessment{Cue: "sit", Kind: training.Response, Agreed: true, Verdict: analysis.Ready,
		Reason: "58 of 60 on the first ask, with three people in four places", Sessions: 14, Days: 9, Trials: 60, First: day(4), LastDay: day(20), LastID: "s20",
		Owner:    analysis.Owner{Confirmed: true, Share: share(12, 12, 2), Cautious: known(.8), Standing: analysis.Met, Say: "12 of 12 in two lessons"},
		FirstCue: firstCue(58, 60, 14, .975), Latency: latency(1.1, .9, 1.3, 48, 1),
		Corrections: analysis.Corrections{None: true, Trials: 60, PerTen: known(0), PerTenLow: known(0), PerTenHigh: known(.61), PerTenNow: known(0), Trend: analysis.Trend{Why: "no correction"}},
		Cold:        analysis.Cold{Asked: 14, Missed: 1, Share: share(13, 14, 14)},
		Contexts: []analysis.Context{
			at("Maren", training.Trainer, "", false, 33, 33, 8), at("Tove", training.Trainer, "", false, 13, 15, 4), at("Mr Aldous", training.Owner, "", false, 12, 12, 2),
			at("", "", "back field", false, 30, 30, 8), at("", "", "car park", false, 9, 10, 3), at("", "", "market square", true, 19, 20, 3),
			at("Maren", training.Trainer, "back field", false, 25, 25, 6), at("Tove", training.Trainer, "car park", false, 5, 6, 2), at("Tove", training.Trainer, "market square", true, 8, 9, 2),
			at("Mr Aldous", training.Owner, "car park", false, 0, 0, 0)},
		Gates: gates(nil, kinds...), ReadyNights: 4, Days3: course([]float64{.6, .7, .9, .9, 1, 1, 1, 1, 1}, 7, nil), CleanMin: known(0), CleanLikely: known(0), Criteria: k,
		AlreadyThere: 2, Early: 1}
	down := analysis.CueAssessment{Cue: "down", Kind: training.Response, Agreed: true, Verdict: analysis.NotReady,
		Reason: "asked by anyone but Maren: 13 of 20 on the first ask, bar 85%",
		Change: []string{"with someone other than Maren: 22 more downs, 19 of them on the first ask", "the corrections must stop rising: an easier step, a quieter place"},
		Owner:  analysis.Owner{Share: share(4, 6, 1), Standing: analysis.Short, Say: "6 of the 12 trials needed"}, Sessions: 16, Days: 10, Trials: 71, First: day(4), LastDay: day(20), LastID: "s20",
		FirstCue: firstCue(58, 71, 16, .8996), Latency: latency(1.6, 1.4, 2.0, 52, 8),
		Corrections: analysis.Corrections{Trials: 71, Corrected: 9, Count: 11, ByKind: []analysis.KindCount{{Kind: training.ByCollar, Count: 9}, {Kind: training.ByLeash, Count: 2}},
			Share: share(9, 71, 16), PerTen: known(1.55), PerTenLow: known(.77), PerTenHigh: known(2.77), PerTenNow: known(1.04),
			Trend: analysis.Trend{Direction: "rising", P: known(.031), Points: 16},
			Devices: []analysis.DeviceLevels{{Device: "blue remote", Corrections: 9, Median: known(9), Low: known(6), High: known(12), Last: known(9),
				Trend: analysis.Trend{Direction: "no trend shown", P: known(.4), Slope: known(.1), Points: 7}, Served: known(9), ServedLow: known(6), ServedHigh: known(10), ServedCount: 7, Working: known(7), WorkingDay: day(20)}}},
		Cold: analysis.Cold{Asked: 15, Missed: 5, Flag: true, Share: share(10, 15, 15)},
		Contexts: []analysis.Context{
			at("Maren", training.Trainer, "", false, 45, 51, 11), at("Tove", training.Trainer, "", false, 9, 14, 4), at("Mr Aldous", training.Owner, "", false, 4, 6, 1),
			at("", "", "back field", false, 40, 44, 9), at("", "", "car park", false, 8, 14, 4), at("", "", "market square", true, 10, 13, 3),
			at("Maren", training.Trainer, "back field", false, 36, 38, 8), at("Maren", training.Trainer, "market square", true, 9, 10, 2),
			func() analysis.Context {
				x := at("Tove", training.Trainer, "car park", false, 5, 10, 3)
				x.Below, x.Worse, x.WorseP = true, true, known(.0121)
				return x
			}(),
			at("Tove", training.Trainer, "market square", true, 1, 2, 1), at("Mr Aldous", training.Owner, "back field", false, 4, 6, 1), at("Mr Aldous", training.Owner, "market square", true, 0, 0, 0)},
		WrongAnswers: []analysis.WrongAnswer{{Did: "sat", Count: 6}, {Did: "?", Count: 2}},
		Gates: gates(map[analysis.GateName]analysis.Gate{
			analysis.GateLevel:       {Standing: analysis.Short, Figure: known(.8996), Bar: known(.9), Say: "now 89.96%, bar 90%; lower end 81%, bar 80%"},
			analysis.GatePeople:      {Standing: analysis.Failed, Figure: known(.65), Bar: known(.85), Say: "asked by anyone but Maren: 13 of 20 on the first ask, bar 85%"},
			analysis.GateContext:     {Standing: analysis.Failed, Figure: known(.5), Bar: known(.9), Say: "Tove at the car park: 5/10  50% [24-76]"},
			analysis.GateCorrections: {Standing: analysis.Failed, Figure: known(1.04), Bar: known(1), Say: "1.04 corrections per ten trials now, and corrected trials are rising over 16 sessions"},
		}, kinds...),
		Alarm:    analysis.Alarm{On: true, Watching: true, Since: day(17), SinceID: "s17", Handler: "Tove", Place: "car park", Value: 5.1, Threshold: 4.5, Say: "slipping since Tue 17 Mar, Tove at the car park: 7 of the last 16 missed"},
		Forecast: &analysis.Forecast{By: day(24), Nights: 4, Stays: known(.15), Improves: known(.35), Level: known(.25), Waits: []string{"down: people", "down: context"}, Words: "Depends on what is done.", Cell: "waits: people, context", Trials: 71},
		Days3:    course([]float64{.3, .5, .7, .8, .9, .9, 1, .6, .7}, 8, []int{3, 2, 1, 1, 0, 0, 0, 2, 2}), CleanMin: known(25), CleanLikely: known(44), Criteria: k, Unscored: 1}
	come := analysis.CueAssessment{Cue: "come", Kind: training.Response, Agreed: true, Verdict: analysis.NotShown, Reason: "two places, three needed",
		Change: []string{"one more place off property, 8 asks in 2 sessions"}, Sessions: 9, Days: 7, Trials: 34, First: day(6), LastDay: day(19), LastID: "s19",
		FirstCue: firstCue(33, 34, 9, .97), Latency: func() *analysis.Latency {
			l := latency(1.0, .8, 1.2, 33, 1)
			l.Doubled, l.DoubledOn, l.Last = true, day(19), known(2.4)
			return l
		}(),
		Completion: &analysis.Survival{Seen: 33, Censored: 1, Median: known(5.1), Low: known(4.8), High: known(5.7)},
		Corrections: analysis.Corrections{Trials: 34, Corrected: 1, Count: 1, ByKind: []analysis.KindCount{{Kind: training.ByVoice, Count: 1}}, Share: share(1, 34, 9),
			PerTen: known(.29), PerTenLow: known(.007), PerTenHigh: known(1.64), PerTenNow: known(.1), Trend: analysis.Trend{Direction: "falling", P: known(.012), Points: 9}},
		Cold:     analysis.Cold{Asked: 9, Missed: 0, Share: share(9, 9, 9)},
		Contexts: []analysis.Context{at("Maren", training.Trainer, "", false, 22, 22, 6), at("Tove", training.Trainer, "", false, 11, 12, 3), at("", "", "back field", false, 24, 24, 6), at("", "", "car park", false, 9, 10, 3), at("Maren", training.Trainer, "back field", false, 22, 22, 6), at("Tove", training.Trainer, "car park", false, 9, 10, 3)},
		Gates:    gates(map[analysis.GateName]analysis.Gate{analysis.GatePlaces: {Standing: analysis.Short, Figure: known(2), Bar: known(3), Say: "2 places, 3 needed, say.None off property"}}, kinds...),
		Days3:    course([]float64{.9, 1, 1, 1, 1, 1}, 6, []int{1}), CleanMin: known(0), CleanLikely: known(0), Criteria: k}
	hk := k
	hk.Target = known(60)
	stayCue := analysis.CueAssessment{Cue: "stay", Kind: training.Holding, Agreed: true, Verdict: analysis.NotShown, Reason: "holding a minute: 85% [66-95], lower bar 75%",
		Change: []string{"6 more stays of a minute held"}, Sessions: 7, Days: 6, Trials: 24, First: day(8), LastDay: day(20), LastID: "s20", ReleasedEarly: 3,
		FirstCue:    firstCue(22, 24, 7, .92),
		Hold:        &analysis.Hold{Survival: analysis.Survival{Seen: 3, Censored: 21}, Target: known(60), Chance: known(.85), ChanceLow: known(.66), ChanceHigh: known(.95), LowBar: known(.75), Longest: known(181.8)},
		Corrections: analysis.Corrections{None: true, Trials: 24, PerTen: known(0), PerTenHigh: known(1.54), Trend: analysis.Trend{Why: "no correction"}},
		Contexts:    []analysis.Context{at("Maren", training.Trainer, "", false, 16, 17, 5), at("Tove", training.Trainer, "", false, 6, 7, 2), at("", "", "back field", false, 22, 24, 7)},
		Gates: gates(map[analysis.GateName]analysis.Gate{analysis.GateHold: {Standing: analysis.Short, Figure: known(.85), Bar: known(.9), Say: "holding 1:00: 85% [66-95], bar 90%, lower bar 75%"},
			analysis.GateEnough: {Standing: analysis.Short, Figure: known(24), Bar: known(30), Say: "24 of 30 scored trials"}}, analysis.GateEnough, analysis.GateLevel, analysis.GatePeople, analysis.GateHold, analysis.GateCorrections, analysis.GateClosed),
		Days3: func() []analysis.DayPoint {
			d := course([]float64{.7, .8, .9, 1, 1, 1}, 4, nil)
			for i := range d {
				d[i].LongestHold, d[i].HoldMedian = known([]float64{20, 35, 48, 75, 120, 181.8}[i]), known([]float64{12, 20, 40, 60, 75, 90}[i])
			}
			return d
		}(), Criteria: hk}
	mk := bareCriteria()
	mk.Breaks = known(.5)
	heel := analysis.CueAssessment{Cue: "heel", Kind: training.Motion, Agreed: true, Verdict: analysis.NotReady, Reason: "2.0 breaks a minute at the car park, bar 0.5",
		Change: []string{"20 more minutes with at most 4 breaks"}, Sessions: 6, Days: 6, Trials: 9, First: day(5), LastDay: day(18), LastID: "s18",
		Breaks:      &analysis.Breaks{Count: 10, Minutes: 12.5, PerMinute: known(.8), Low: known(.38), High: known(1.47)},
		Corrections: analysis.Corrections{Trials: 9, Corrected: 2, Count: 2, ByKind: []analysis.KindCount{{Kind: training.ByLeash, Count: 2}}, Share: share(2, 9, 6), PerTen: known(2.2), PerTenLow: known(.3), PerTenHigh: known(8), PerTenNow: known(.9), Trend: analysis.Trend{Direction: "no trend shown", P: known(.3), Points: 6}},
		Contexts: []analysis.Context{
			{Kind: analysis.ByHandler, Handler: "Maren", Role: training.Trainer, Breaks: &analysis.Breaks{Count: 10, Minutes: 12.5, PerMinute: known(.8), Low: known(.38), High: known(1.47)}},
			{Kind: analysis.ByPlace, Place: "car park", Breaks: &analysis.Breaks{Count: 7, Minutes: 3.5, PerMinute: known(2), Low: known(.8), High: known(4.12)}},
			{Kind: analysis.ByPlace, Place: "back field", Breaks: &analysis.Breaks{Count: 0, Minutes: 5, PerMinute: known(0), Low: known(0), High: known(.74)}},
			{Kind: analysis.ByCell, Handler: "Maren", Role: training.Trainer, Place: "car park", Breaks: &analysis.Breaks{Count: 7, Minutes: 3.5, PerMinute: known(2), Low: known(.8), High: known(4.12)}, Below: true, Enough: true},
			{Kind: analysis.ByCell, Handler: "Maren", Role: training.Trainer, Place: "back field", Breaks: &analysis.Breaks{Count: 0, Minutes: 5, PerMinute: known(0), Low: known(0), High: known(.74)}, Enough: true}},
		Gates: gates(map[analysis.GateName]analysis.Gate{analysis.GatePosition: {Standing: analysis.Failed, Figure: known(.8), Bar: known(.5), Say: "10 breaks in 12.5 min: 0.80 [0.38-1.47] a minute, bar 0.5"},
			analysis.GateEnough: {Standing: analysis.Short, Figure: known(12.5), Bar: known(20), Say: "12.5 of 20 minutes walked"}}, analysis.GateEnough, analysis.GatePosition, analysis.GateCorrections, analysis.GateClosed),
		Days3: func() []analysis.DayPoint {
			d := course([]float64{0, 0, 0, 0}, 0, []int{1, 1})
			for i := range d {
				d[i].Breaks, d[i].Minutes, d[i].Trials, d[i].CorrectedOf = []int{4, 3, 2, 1}[i], []float64{2, 3, 3.5, 4}[i], 2, 2
			}
			return d
		}(), Criteria: mk}
	leave := analysis.CueAssessment{Cue: "leave it", Kind: training.Response, Agreed: true, Verdict: analysis.OnHold, Reason: "vet hold since Thu 19 Mar: sore paw", Sessions: 3, Days: 2, Trials: 9, First: day(10), LastDay: day(12), LastID: "s12", HeldOut: 4,
		FirstCue: firstCue(7, 9, 3, .8), Latency: &analysis.Latency{Survival: analysis.Survival{Untimed: 9}, Limit: known(3)},
		Corrections: analysis.Corrections{None: true, Trials: 9, Trend: analysis.Trend{Why: "fewer than 6 sessions"}},
		Contexts:    []analysis.Context{at("Maren", training.Trainer, "", false, 7, 9, 3), at("", "", "back field", false, 7, 9, 3)},
		Gates:       gates(map[analysis.GateName]analysis.Gate{analysis.GateClosed: {Standing: analysis.Failed, Say: "vet hold since Thu 19 Mar: sore paw"}}, analysis.GateEnough, analysis.GateClosed), Days3: course([]float64{.7, .9}, 4, nil), Criteria: k}
	return analysis.Assessment{Dog: dog, AsOf: day(20), Boarding: dog.Boardings[0], Stay: true, DayOfStay: 17, DaysToDue: known(4), Main: "Maren", MainNote: "named for this dog",
		Verdict: analysis.NotReady, Why: []string{"down is not ready with anyone but Maren (13 of 20)", "heel breaks twice a minute at the car park"}, ReadyCues: 1, AgreedCues: 6,
		OwnerWhy: "sit is confirmed; down has 6 of the 12 trials needed", Cues: []analysis.CueAssessment{heel, sit, down, stayCue, come, leave}, NeverTried: []string{"halt"},
		Sessions: 31, Trials: 207, First: day(4), Last: day(20), Handlers: []string{"Maren", "Tove", "Mr Aldous"}, Places: []string{"back field", "car park", "market square"},
		Holds:     []training.VetHold{{ID: "h1", From: day(19), Reason: "sore paw", Cues: []string{"leave it"}, NoCollar: true}},
		Incidents: []training.Incident{{ID: "i1", Session: "s17", Dog: "Juniper", Day: day(17), Text: "yelped at the gate and tucked the tail"}},
		Forecast: &analysis.Forecast{By: day(24), Nights: 4, Stays: known(.05), Improves: known(.2), Level: known(.12), Trials: 207,
			Waits: []string{"down: people", "down: context", "come: places"}, LeastSittings: 3, Words: "Depends on what is done. Down waits for 22 asks in 3 sessions with other people.", Cell: "waits: people, context, places", Note: "the chance is that of the level alone"},
		Cautions: []analysis.Caution{
			{Code: "levels", Text: "Dial numbers mean nothing on another device, and change on this one when the coat is wet or the contacts move. Compare only with this dog's own working level, found today.", Why: "levels of blue remote are shown"},
			{Code: "stress", Text: "Fear, pain or aggression was noted. Stop the exercise, and no corrections until someone competent has looked at the dog.", Why: "incident of Tue 17 Mar"},
			{Code: "verdict", Text: "\"Ready\" means that the agreed rule was met in the places and with the people listed. It is no guarantee of what the dog will do, and no assessment of safety or temperament."}},
		LeftOut: 4}
}

// fern is a dog trained without corrections, ready, with an all but empty record.
func fern() analysis.Assessment {
	a := juniper()
	sit := a.Cues[1]
	sit.Corrections = analysis.Corrections{None: true, RewardOnly: true, Trials: 60, Trend: analysis.Trend{Why: "reward only"}}
	sit.Criteria = bareCriteria()
	sit.Criteria.Limit = known(3)
	return analysis.Assessment{Dog: training.Dog{ID: "0195c1f0-0000-7000-8000-00000000000b", Name: "Fern", RewardOnly: true, Consent: "reward only, owner's wish", Owners: []string{"Ms Okoro-Lind"}},
		AsOf: day(20), Verdict: analysis.Ready, Why: []string{"every agreed cue met its bars with three people in four places"}, ReadyCues: 1, AgreedCues: 1, OwnerConfirmed: true,
		Main: "Maren", Stay: true, Boarding: training.Boarding{Arrived: day(4), Due: day(21)}, DayOfStay: 17, DaysToDue: known(1),
		Cues: []analysis.CueAssessment{sit}, Sessions: 14, Trials: 60, First: day(4), Last: day(20), Handlers: []string{"Maren", "Tove", "Mr Aldous"}, Places: []string{"back field"},
		Cautions: []analysis.Caution{{Code: "verdict", Text: "\"Ready\" means that the agreed rule was met in the places and with the people listed."}}}
}

// sorrel arrived today: nothing is known.
func sorrel() analysis.Assessment {
	return analysis.Assessment{Dog: training.Dog{ID: "0195c1f0-0000-7000-8000-00000000000c", Name: "Sorrel"}, AsOf: day(20), Verdict: analysis.NotShown,
		Why: []string{"no scored trial yet"}, AgreedCues: 2, Stay: true, Boarding: training.Boarding{Arrived: day(20), Due: training.Date(2026, time.April, 10)}, DayOfStay: 1, DaysToDue: known(21), NeverTried: []string{"sit", "down"}}
}

func clock(d, h, m int) time.Time {
	return time.Date(2026, time.March, d, h, m, 0, 0, time.FixedZone("", 3600))
}

// juniperRecord is what the assessment of juniper would have come from, with
// another dog, its owner and a visitor in the kennel's lists.
func juniperRecord() training.Record {
	dog := juniper().Dog
	dog.Holds = []training.VetHold{{ID: "h1", From: day(19), Reason: "sore paw", Cues: []string{"leave it"}, NoCollar: true}}
	k := training.Kennel{
		Dogs: []training.Dog{dog, {ID: "d2", Name: "Bracken", Owners: []string{"Mrs Hallow"}}},
		Handlers: []training.Handler{{Name: "Maren", Role: training.Trainer}, {Name: "Tove", Role: training.Trainer}, {Name: "Mr Aldous", Role: training.Owner},
			{Name: "Mrs Hallow", Role: training.Owner}, {Name: "Iben", Role: training.Outsider}},
		Places:  []training.Place{{Name: "back field"}, {Name: "car park"}, {Name: "market square", OffProperty: true}},
		Devices: []training.Device{{Name: "blue remote", Lowest: known(0), Highest: known(100)}},
		Cues:    training.SeedCues(),
	}
	sessions := []training.Session{
		{ID: "0195c1f0-1111-7000-8000-000000000001", Revision: 1, Dog: "Juniper", Handler: "Maren", Start: clock(17, 9, 10), Place: "back field", Leash: "off", Distraction: known(2), Device: "blue remote", WorkingLevel: known(7),
			Reward: "cheese", Source: training.Memory, Note: "heel 3:20 2- @6\nsit 3+\ndown - @9 +1.6\n> skipped the car park, too hot\n! yelped at the gate\n", Carried: "dog: Juniper; handler: Maren\n",
			Trials: []training.Trial{
				{Cue: "heel", Kind: training.Motion, Outcome: training.Walked, Asks: 1, Walked: known(200), Breaks: 2, Corrections: []training.Correction{{Kind: training.ByCollar, Level: known(6), Device: "blue remote", Served: true}}, Marks: "2- @6", Line: 1},
				{Cue: "sit", Kind: training.Response, Signal: "voice+hand", Outcome: training.Answered, Asks: 1, Marks: "+", Line: 2},
				{Cue: "down", Kind: training.Response, Signal: "voice", Outcome: training.Answered, Asks: 2, Did: "?", Latency: known(1.6), Waited: known(4), Corrections: []training.Correction{{Kind: training.ByCollar, Level: known(9), Device: "blue remote", Served: true}}, Marks: "- @9 +1.6", Line: 3},
				{Cue: "come", Kind: training.Response, Signal: "whistle", Outcome: training.Answered, Asks: 1, Latency: known(.9), Completion: known(4.8), Distance: known(15), Marks: "+0.9>4.8", Line: 4},
				{Cue: "down", Kind: training.Response, Outcome: training.Refused, Asks: 3, Did: "sat", Prompts: []string{"lure", "help"}, Corrections: []training.Correction{{Kind: training.ByLeash}, {Kind: training.ByVoice}}, Marks: "x:sat help:lure help @leash - @verbal -", Line: 5},
				{Cue: "stay", Kind: training.Holding, Outcome: training.Held, Asks: 1, Target: known(120), Held: known(120), Marks: "+", Line: 6},
				{Cue: "stay", Kind: training.Holding, Outcome: training.Broke, Asks: 1, Target: known(120), Held: known(45), Breaks: 1, Marks: "- 0:45", Line: 6},
				{Cue: "stay", Kind: training.Holding, Outcome: training.Released, Asks: 1, Target: known(120), Held: known(70), Marks: "released 1:10", Line: 6},
				{Cue: "down", Kind: training.Response, Outcome: training.Counted, Tally: training.Tally{Yes: 8, Of: 10}, Marks: "8/10", Line: 7},
				{Cue: "sit", Kind: training.Response, Outcome: training.Early, Marks: "early", Line: 8},
				{Cue: "sit", Kind: training.Response, Outcome: training.Already, Asks: 1, Marks: "already", Line: 8},
				{Cue: "sit", Kind: training.Response, Outcome: training.Unscored, Asks: 1, Marks: "?", Line: 8},
			}, Remarks: []training.Remark{{Text: "skipped the car park, too hot", Line: 9}, {Text: "yelped at the gate", Incident: true, Line: 10}}},
		{ID: "0195c1f0-1111-7000-8000-000000000002", Revision: 2, Dog: "Juniper", Handler: "Tove", Scorer: "Maren", Start: clock(20, 15, 0), Place: "car park", Leash: "long line", Distraction: known(0), Source: training.Video, Zone: "Europe/Copenhagen", Weather: "rain, 4 °C", Note: "0:14.2 sit\n",
			Trials: []training.Trial{
				{Cue: "sit", Kind: training.Response, Outcome: training.Answered, Asks: 1, Latency: known(.9), At: known(14.2), Line: 1},
				{Cue: "down", Kind: training.Response, Outcome: training.Answered, Asks: 2, Did: "?", Latency: known(1.4), Waited: known(4), At: known(41), Line: 2},
				{Cue: "place", Kind: training.Holding, Outcome: training.Released, Asks: 1, Held: known(181.8), At: known(125), Line: 3},
			}},
		{ID: "0195c1f0-1111-7000-8000-000000000003", Dog: "Juniper", Handler: "Mr Aldous", Start: clock(20, 16, 0), Place: "back field", Voided: "wrong dog", Source: training.Live, Trials: []training.Trial{{Cue: "sit", Kind: training.Response, Outcome: training.Answered, Asks: 1}}},
	}
	return training.Record{Kennel: k, Dog: dog, Sessions: sessions, Incidents: []training.Incident{
		{ID: "i1", Session: "s17", Dog: "Juniper", Day: day(17), Text: "yelped at the gate and tucked the tail when Bracken barked; Mrs Hallow saw it"},
		{ID: "i2", Dog: "Juniper", Day: day(9), Text: "snapped at a broom", Closed: day(11), Outcome: "broom put away, no sign since"},
		{ID: "i3", Dog: "Bracken", Day: day(9), Text: "limped"},
	}}
}
