package analysis

import (
	"cmp"
	"math"
	"slices"

	"firstcue/internal/training"
)

// How a fall before a hold is told: the last one to three days with asks, within
// fallDays of the hold, against all before, by fallAt standard errors.
const (
	fallDays = 7
	fallAt   = 2.0
	fallLast = 3
	fallAsks = 8
)

// fall looks at the days before the newest vet hold in force. The cues of the hold are
// meant, or all; asks of a day resemble each other, so that days are compared and not
// asks: each counts with its design effect.
func (sc *scene) fall(hist []*history) *Fall {
	var hold training.VetHold
	for _, h := range sc.rec.Dog.Holds {
		if h.From <= sc.day && (h.To == 0 || h.To >= sc.day) && !h.CollarOnly && h.From > hold.From {
			hold = h
		}
	}
	if hold.From == 0 {
		return nil
	}
	days := sc.daysBefore(hist, hold)
	var best *Fall
	score := fallAt
	for k := 1; k <= fallLast && k < len(days); k++ {
		cut := len(days) - k
		if hold.From-days[cut].day > fallDays {
			break
		}
		var before, during Tally
		for i, d := range days {
			if i < cut {
				before.add(d.Tally)
			} else {
				during.add(d.Tally)
			}
		}
		if during.Asks < fallAsks || before.Asks < fallAsks {
			continue
		}
		if z := fell(before, during); z >= score {
			score = z
			best = &Fall{Hold: hold.From, Reason: hold.Reason, From: days[cut].day,
				To: days[len(days)-1].day, During: during, Before: before}
		}
	}
	if best != nil {
		sc.fallDetails(best, hist, hold)
	}
	return best
}

// fell is by how many standard errors the share fell.
func fell(before, during Tally) float64 {
	deff := func(t Tally) float64 { return 1 + .1*(float64(t.Asks)/float64(max(1, t.Sessions))-1) }
	n, m := float64(before.Asks)/deff(before), float64(during.Asks)/deff(during)
	p := float64(before.Answered+during.Answered) / float64(before.Asks+during.Asks)
	return (before.rate() - during.rate()) / math.Sqrt(math.Max(p*(1-p), 1e-9)*(1/n+1/m))
}

type dayTally struct {
	day training.Day
	Tally
}

func (sc *scene) daysBefore(hist []*history, hold training.VetHold) []dayTally {
	var out []dayTally
	for _, h := range hist {
		if len(hold.Cues) > 0 && !hold.Covers(hold.From, h.cue) {
			continue
		}
		for _, q := range upTo(h.sits, hold.From-1) {
			i, found := slices.BinarySearchFunc(out, q.day,
				func(d dayTally, day training.Day) int { return cmp.Compare(d.day, day) })
			if !found {
				out = slices.Insert(out, i, dayTally{day: q.day})
			}
			out[i].add(q.Tally)
			out[i].add(q.shorter) // a hold that is broken early is a sign, however short it was asked
		}
	}
	return slices.DeleteFunc(out, func(d dayTally) bool { return d.Asks == 0 })
}

// fallDetails adds the cues that fell and the last remark of those days.
func (sc *scene) fallDetails(f *Fall, hist []*history, hold training.VetHold) {
	for _, h := range hist {
		if len(hold.Cues) > 0 && !hold.Covers(hold.From, h.cue) {
			continue
		}
		var before, during Tally
		for _, q := range upTo(h.sits, f.To) {
			t := &before
			if q.day >= f.From {
				t = &during
			}
			t.add(q.Tally)
			t.add(q.shorter)
		}
		if before.Asks > 0 && during.Asks > 0 && during.rate() < before.rate() {
			f.Cues = append(f.Cues, h.cue)
		}
	}
	for _, s := range sc.ordered() {
		if d := s.Day(); d < f.From || d > f.To {
			continue
		}
		for _, r := range s.Remarks {
			f.Remark = &Remark{s.Day(), sc.personName(s.Handler), sc.placeName(s.Place), r.Text}
		}
	}
}
