package analysis

import (
	"cmp"
	"slices"
	"strconv"
	"strings"

	"firstcue/internal/stats"
	"firstcue/internal/training"
)

// contexts lays the cue's trials out by handler, place, handler at place,
// signal, leash and distraction. Cells of a handler and a place that both know
// the cue, but were never seen together, are there as untried.
func (h *history) contexts(sits []cueSitting, flags []flag) []Context {
	nh, np := len(h.sc.handlers), len(h.sc.places)
	out := make([]Context, 0, nh+np+nh*np+12)
	hn, pn := make([]int, nh), make([]int, np)
	for _, q := range sits {
		if q.scored() {
			hn[q.handler]++
			pn[q.place]++
		}
	}
	byHandler := order(hn, func(i int) string { return h.sc.handlers[i].name })
	byPlace := order(pn, func(i int) string { return h.sc.places[i].name })
	add := func(c Context, pick func(*cueSitting) bool, flagged func(flag) bool) {
		if !h.fill(&c, sits, pick) {
			if c.Kind != ByCell {
				return
			}
			c.Untried = true
		}
		for _, f := range flags {
			if f.kind == c.Kind && flagged(f) {
				c.Below = true
			}
		}
		out = append(out, c)
	}
	for _, i := range byHandler {
		p := h.sc.handlers[i]
		add(Context{Kind: ByHandler, Handler: p.name, Role: p.role},
			func(q *cueSitting) bool { return q.handler == i }, func(f flag) bool { return f.handler == i })
	}
	for _, j := range byPlace {
		p := h.sc.places[j]
		add(Context{Kind: ByPlace, Place: p.name, Off: p.off},
			func(q *cueSitting) bool { return q.place == j }, func(f flag) bool { return f.place == j })
	}
	for _, i := range byHandler {
		for _, j := range byPlace {
			p, s := h.sc.handlers[i], h.sc.places[j]
			add(Context{Kind: ByCell, Handler: p.name, Role: p.role, Place: s.name, Off: s.off},
				func(q *cueSitting) bool { return q.handler == i && q.place == j },
				func(f flag) bool { return f.handler == i && f.place == j })
		}
	}
	for _, kind := range []ContextKind{BySignal, ByLeashState, ByDistraction} {
		out = append(out, h.byValue(kind, sits)...)
	}
	h.compare(out, sits)
	return out
}

// order lists the indices with a count above 0, most first, ties by name.
func order(n []int, name func(int) string) []int {
	var out []int
	for i := range n {
		if n[i] > 0 {
			out = append(out, i)
		}
	}
	slices.SortFunc(out, func(a, b int) int {
		return cmp.Or(cmp.Compare(n[b], n[a]), strings.Compare(name(a), name(b)))
	})
	return out
}

// fill sums the sittings that pick accepts; false = there are none.
func (h *history) fill(c *Context, sits []cueSitting, pick func(*cueSitting) bool) bool {
	x, n := h.yes[:0], h.of[:0]
	defer func() { h.yes, h.of = x, n }()
	b := Breaks{}
	var w window
	for i := len(sits) - 1; i >= 0; i-- {
		q := &sits[i]
		if !q.scored() || !pick(q) {
			continue
		}
		if len(n) == 0 {
			c.Last = q.day
		}
		x, n = append(x, float64(q.yes)), append(n, float64(q.of))
		b.Count += q.breaks
		b.Minutes += q.minutes
		if w.sittings < contextWindow {
			w.add(*q, h.c.ICC)
		}
	}
	if len(n) == 0 {
		return false
	}
	if h.kind == training.Motion {
		c.Share.Sessions = len(n)
		b.rate()
		c.Breaks = &b
		c.Enough = atLeast(b.Minutes, h.c.PlaceMinutes) && len(n) >= h.c.PlaceSessions
		return true
	}
	c.Share = newShare(x, n, h.c.ICC)
	c.Enough = w.of >= h.c.ContextTrials && w.sittings >= h.c.PlaceSessions
	if len(n) > contextWindow {
		iv := w.interval(0.95)
		c.Lately = &Share{Yes: w.yes, Of: w.of, Sessions: w.sittings, Rate: training.Known(w.rate()),
			Low: training.Known(iv.Lower), High: training.Known(iv.Upper), Effective: training.Known(w.n), ICC: training.Known(h.c.ICC)}
		plain := must(stats.Wilson(float64(w.yes), float64(w.of), 0.95))
		c.Lately.PlainLow, c.Lately.PlainHigh = training.Known(plain.Lower), training.Known(plain.Upper)
	}
	return true
}

// breaksOf sums up walks with the exact interval.
func breaksOf(sits []cueSitting) *Breaks {
	b := &Breaks{}
	for _, q := range sits {
		b.Count += q.breaks
		b.Minutes += q.minutes
	}
	b.rate()
	return b
}

func (b *Breaks) rate() {
	if b.Minutes > 0 {
		r := must(stats.Garwood(float64(b.Count), b.Minutes, 0.95))
		b.PerMinute, b.Low, b.High = training.Known(r.Rate), training.Known(r.Lower), training.Known(r.Upper)
	}
}

// byValue groups the single trials by signal, leash state or distraction code.
// One value alone tells nothing and is left out, but for a signal: a cue that
// was only ever whistled has not been tried by voice.
func (h *history) byValue(kind ContextKind, sits []cueSitting) []Context {
	value := func(e entry) string {
		switch kind {
		case BySignal:
			return string(e.t.Signal)
		case ByLeashState:
			return string(e.s.Leash)
		}
		if !e.s.Distraction.Known {
			return ""
		}
		return strconv.Itoa(int(e.s.Distraction.V))
	}
	var values []string
	for _, q := range sits {
		for _, e := range q.trials {
			if v := value(e); !slices.Contains(values, v) {
				values = append(values, v)
			}
		}
	}
	if len(values) < 2 && kind != BySignal {
		return nil
	}
	rank := func(v string) int {
		switch kind {
		case BySignal:
			for i, s := range training.Signals {
				if v == string(s) {
					return i
				}
			}
		case ByLeashState:
			for i, s := range training.Leashes {
				if v == string(s) {
					return i
				}
			}
		default:
			if n, err := strconv.Atoi(v); err == nil {
				return n
			}
		}
		return len(v) + 100
	}
	slices.SortFunc(values, func(a, b string) int { return cmp.Or(cmp.Compare(rank(a), rank(b)), strings.Compare(a, b)) })
	var out []Context
	for _, v := range values {
		if v == "" {
			continue // the note did not say
		}
		var mine []cueSitting
		for _, q := range sits {
			part := cueSitting{day: q.day, handler: q.handler, place: q.place, s: q.s}
			for _, e := range q.trials {
				if value(e) != v {
					continue
				}
				part.score(h, *e.t)
			}
			if part.scored() {
				mine = append(mine, part)
			}
		}
		c := Context{Kind: kind, Value: v}
		if h.fill(&c, mine, func(*cueSitting) bool { return true }) {
			out = append(out, c)
		}
	}
	return out
}

// compare marks what is worse than the rest of the cue's trials: Fisher's exact
// test, one-sided, on plain counts, with Holm's correction over the contexts of
// a kind that hold enough to tell.
func (h *history) compare(list []Context, sits []cueSitting) {
	if h.kind == training.Motion {
		return
	}
	yes, of := 0, 0
	for _, q := range sits {
		yes += q.yes
		of += q.of
	}
	for _, kind := range []ContextKind{ByHandler, ByPlace, ByCell, BySignal, ByLeashState, ByDistraction} {
		var at []int
		var p []float64
		for i, c := range list {
			if c.Kind != kind || !c.Enough || c.Of == of {
				continue
			}
			at = append(at, i)
			restYes, restOf := yes-c.Yes, of-c.Of
			// What is hardly below the rest (less than one standard error, so a
			// p above .15) needs no exact test: it moves no smaller one.
			pi := 1.0
			if below(c.Yes, c.Of, restYes, restOf) {
				pi = must(stats.FisherLess(float64(c.Yes), float64(c.Of-c.Yes), float64(restYes), float64(restOf-restYes)))
			}
			p = append(p, pi)
		}
		if len(p) == 0 {
			continue
		}
		for k, adjusted := range must(stats.Holm(p)) {
			if p[k] < 1 {
				list[at[k]].WorseP = training.Known(adjusted)
			}
			list[at[k]].Worse = adjusted <= 0.05
		}
	}
}

// below reports whether x of n lies more than one pooled standard error below
// y of m.
func below(x, n, y, m int) bool {
	a, b := float64(n), float64(m)
	p := float64(x+y) / (a + b)
	d := float64(y)/b - float64(x)/a
	return d > 0 && d*d > p*(1-p)*(1/a+1/b)
}
