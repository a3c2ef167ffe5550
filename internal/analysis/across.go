package analysis

import (
	"slices"

	"firstcue/internal/model"
	"firstcue/internal/training"
)

// acrossSure is how sure it must be that the dog fails for somebody in all its cues
// together. Less than the bar of one cue, since it says "not ready" and never "ready".
const acrossSure = 0.70

// failing is whom the dog fails for as of the end of a day, by index into scene.handlers.
type failing struct {
	day training.Day
	who []bool
}

// lookAcross finds the people for whom the dog fails in all its cues taken together. A
// dog that works for one trainer does so whatever it is asked, and a few asks of each
// cue do not show what all of them do. It only ever says "fails": ready is each cue's own.
// The cues of one session are one sitting of a filter that knows people and no places.
func (sc *scene) lookAcross(hist []*history) {
	byCue := slices.DeleteFunc(slices.Clone(hist), func(h *history) bool {
		agreed := sc.agreed(h.cue)
		return h.kind == training.Motion || agreed != nil && !*agreed
	})
	if len(byCue) < 2 {
		return
	}
	prior := model.Shipped()
	prior.Likeness, prior.Cell = byCue[0].c.Likeness, 0
	prior.Spread = [model.Factors]float64{}
	prior.Spread[model.Person] = model.Shipped().Spread[model.Person]
	var questions []model.Question
	for _, p := range sc.handlers {
		q := model.Question{Value: byCue[0].c.Person}
		q.Target.At[model.Person] = p.name
		questions = append(questions, q)
	}
	watch := model.NewWatch(prior, questions)
	seen := make([]evidence, len(sc.handlers))
	last := training.Day(0)
	for i, all := range together(byCue, len(sc.sittings)) {
		if all.Asks == 0 {
			continue
		}
		s := sc.sittings[i]
		if s.day != last && last != 0 {
			sc.fails = append(sc.fails, sc.failing(last, watch, seen, byCue[0]))
		}
		x := model.Sitting{Yes: all.Answered, Of: all.Asks, Night: s.day != last}
		x.At[model.Person] = sc.handlers[s.handler].name
		watch.Observe(x)
		seen[s.handler].add(all, all.ifMissed(), s.day)
		last = s.day
	}
	if last != 0 {
		sc.fails = append(sc.fails, sc.failing(last, watch, seen, byCue[0]))
	}
}

// together adds up the cues of each of so many sittings.
func together(hist []*history, sittings int) []Tally {
	out := make([]Tally, sittings)
	for _, h := range hist {
		for _, q := range h.sits {
			out[q.sit].add(q.Tally)
		}
	}
	return out
}

func (sc *scene) failing(day training.Day, watch *model.Watch, seen []evidence, h *history) failing {
	f := failing{day, make([]bool, len(seen))}
	for i := range seen {
		f.who[i] = seen[i].enough(h) && 1-watch.Answer(i) >= acrossSure-hair
	}
	return f
}

// failsAcross reports whether the dog failed for somebody in all its cues together, as of
// the end of a day.
func (sc *scene) failsAcross(who int, day training.Day) bool {
	for _, f := range slices.Backward(sc.fails) {
		if f.day <= day {
			return f.who[who]
		}
	}
	return false
}
