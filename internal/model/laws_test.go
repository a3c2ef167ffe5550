package model

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"
)

func after(p Prior, all ...Sitting) *Filter {
	f := New(p)
	for _, s := range all {
		f.Observe(s)
	}
	return f
}

// A random sitting of a random dog, tallies and leashes among them.
func anySitting(r *rand.Rand, chance float64, people int) Sitting {
	s := Sitting{Night: r.IntN(3) == 0}
	s.At[Person], s.At[Place] = fmt.Sprint("p", r.IntN(people)), fmt.Sprint("at", r.IntN(3))
	if r.IntN(3) == 0 {
		s.At[Leash] = fmt.Sprint("leash", r.IntN(2))
	}
	if r.IntN(8) > 0 {
		s.First = No
		if r.Float64() < chance {
			s.First = Yes
		}
	}
	s.Of = r.IntN(8)
	for range s.Of {
		if r.Float64() < chance {
			s.Yes++
		}
	}
	return s
}

// One more clean ask, whoever asks and wherever, in the last sitting or in one of
// its own, never lowers an answer: 20,000 asks, no exception.
func TestCleanAskNeverLowers(t *testing.T) {
	var qs []Question
	for _, value := range []float64{.75, .80, .85, .90} {
		targets := []Target{{}, {First: true}, {Except: At{Person: "p0"}}, {At: At{Leash: "leash1", Place: "at2"}}}
		for i := range 3 {
			targets = append(targets, Target{At: At{Person: fmt.Sprint("p", i)}}, Target{At: At{Place: fmt.Sprint("at", i)}})
		}
		for _, x := range targets {
			qs = append(qs, Question{x, value})
		}
	}
	r := rand.New(rand.NewPCG(11, 12))
	asks, helped := 0, 0
	for asks < 20000 {
		chance := []float64{.5, .8, .95, .99}[r.IntN(4)]
		w := NewWatch(Shipped(), qs)
		for k := range 25 {
			if k == 12 && r.IntN(2) == 0 {
				chance = .95
			}
			s := anySitting(r, chance, 1+min(2, k/4))
			before := w.Clone()
			w.Observe(s)
			more := s
			if s.First == NotNoted && s.Of == 0 {
				more.First = Yes
			} else {
				more.Of++
				more.Yes++
			}
			longer := before.Clone()
			longer.Observe(more)
			goesOn := Sitting{At: more.At, Continued: true, Yes: 1, Of: 1}
			goesOn.At[Distraction] = "high"
			own := w.Clone()
			own.Observe(Sitting{At: anySitting(r, 1, 3).At, First: Yes, Night: r.IntN(2) == 0})
			part := w.Clone()
			part.Observe(goesOn)
			for name, x := range map[string]*Watch{"appended": longer, "a sitting of its own": own, "going on": part} {
				asks++
				for i := range qs {
					if x.Answer(i) < w.Answer(i) {
						t.Fatalf("%s: a clean ask takes %+v from %v to %v after %+v", name, qs[i], w.Answer(i), x.Answer(i), s)
					}
					if q := qs[i]; x.Filter.Prob(q.Target, q.Value) < w.Filter.Prob(q.Target, q.Value) {
						helped++
					}
				}
			}
		}
	}
	if helped == 0 {
		t.Error("the filter alone never went down: the test shows nothing")
	}
}

// After a miss the answer is the filter's own, but for a hair.
func TestWatchSaysWhatTheFilterSays(t *testing.T) {
	r := rand.New(rand.NewPCG(5, 6))
	qs := questions()
	w := NewWatch(Shipped(), qs)
	misses := 0
	for _, s := range stay(r, 60, .85) {
		w.Observe(s)
		if s.First == Yes && s.Yes == s.Of {
			continue
		}
		misses++
		for i, q := range qs {
			if d := w.Answer(i) - w.Filter.Prob(q.Target, q.Value); d < -.01 || d > .06 {
				t.Errorf("%+v: %.4f, the filter alone %.4f", q, w.Answer(i), w.Filter.Prob(q.Target, q.Value))
			}
		}
	}
	if misses < 20 {
		t.Fatal("too few misses to show anything")
	}
}

// The order in time matters: a dog that got better is not one that got worse.
func TestOrderInTimeMatters(t *testing.T) {
	bad, good := Sitting{First: No, Yes: 1, Of: 7}, Sitting{First: Yes, Yes: 7, Of: 7}
	up, down := after(Shipped(), bad, bad, good, good), after(Shipped(), good, good, bad, bad)
	if up.Median(Target{}) < down.Median(Target{})+.2 {
		t.Errorf("bad, bad, good, good: %.3f; the other way round: %.3f", up.Median(Target{}), down.Median(Target{}))
	}
}

// A tally's likelihood is the sum over the orders in which its asks may have come,
// and all tallies of so many asks together are certain.
func TestTallyIsAllItsOrders(t *testing.T) {
	for _, likeness := range []float64{0, .1, .3} {
		p := Alone()
		p.Likeness = likeness
		sum := 0.0
		for yes := range 6 {
			sum += math.Exp(after(p, Sitting{Yes: yes, Of: 5}).LogLikelihood())
		}
		if math.Abs(sum-1) > 1e-9 {
			t.Errorf("likeness %v: all tallies of 5: %v, want 1", likeness, sum)
		}
		// Ask by ask, going on with the same sitting: each step keeps only mean and
		// variance, so that a little is lost.
		orders := 0.0
		for mask := range 1 << 5 {
			f, yes := New(p), 0
			for i := range 5 {
				s := Sitting{Of: 1, Continued: i > 0, Yes: mask >> i & 1}
				yes += s.Yes
				f.Observe(s)
			}
			if yes == 3 {
				orders += math.Exp(f.LogLikelihood())
			}
		}
		whole := math.Exp(after(p, Sitting{Yes: 3, Of: 5}).LogLikelihood())
		if math.Abs(orders/whole-1) > .01 {
			t.Errorf("likeness %v: 3 of 5 in all orders %.5f, as a tally %.5f", likeness, orders, whole)
		}
	}
}

// A sitting that goes on is one sitting: cut in two it says what it says whole, and
// counts once for its person and place.
func TestSittingThatGoesOn(t *testing.T) {
	at := At{"ana", "yard"}
	before := []Sitting{
		{At: At{"bram", "barn"}, First: No, Yes: 2, Of: 6},
		{At: At{"bram", "yard"}, First: Yes, Yes: 5, Of: 6},
	}
	whole := after(Shipped(), append(before, Sitting{At: at, First: Yes, Yes: 6, Of: 8})...)
	cut := after(Shipped(), append(before,
		Sitting{At: at, First: Yes, Yes: 4, Of: 4},
		Sitting{At: at, Continued: true, Yes: 2, Of: 4})...)
	for _, target := range []Target{{}, {First: true}, {At: At{Person: "bram"}}, {At: At{Place: "yard"}}} {
		if a, b := whole.Prob(target, .8), cut.Prob(target, .8); math.Abs(a-b) > .01 {
			t.Errorf("%+v: %.4f whole, %.4f in two parts", target, a, b)
		}
	}
}

// A long tally must not run out of digits.
func TestLongTally(t *testing.T) {
	f := after(Shipped(), Sitting{Yes: 900, Of: 2000})
	l := f.LogLikelihood()
	if m := f.Median(Target{}); math.Abs(m-.45) > .06 || math.IsInf(l, 0) || math.IsNaN(l) {
		t.Errorf("900 of 2000: %v, log likelihood %v", m, l)
	}
}

func TestNothingChangesNothing(t *testing.T) {
	f := after(Shipped(), Sitting{First: Yes, Yes: 3, Of: 4})
	before := f.Prob(Target{}, .8)
	f.Observe(Sitting{Night: true})
	f.ObserveWalk(Walk{})
	c := f.Clone()
	c.Observe(Sitting{First: No, Of: 9})
	c.Mark()
	if got := f.Prob(Target{}, .8); got != before {
		t.Errorf("%v after a sitting without asks and a copy that went on, %v before", got, before)
	}
}

func TestIntervalHoldsItsShare(t *testing.T) {
	f := after(Shipped(), stay(rand.New(rand.NewPCG(1, 9)), 30, .9)...)
	for _, target := range []Target{{}, {First: true}, {At: At{Person: "bram"}}, {At: At{Place: "never seen"}}} {
		low, high := f.Interval(target, .8)
		if a, b := f.Prob(target, low), f.Prob(target, high); math.Abs(a-.9) > 1e-6 || math.Abs(b-.1) > 1e-6 {
			t.Errorf("%+v: [%v, %v] has %v above its lower end and %v above its upper one", target, low, high, a, b)
		}
		if m := f.Median(target); math.Abs(f.Prob(target, m)-.5) > 1e-6 {
			t.Errorf("%+v: %v above the median", target, f.Prob(target, m))
		}
	}
}

// A weak person is found, a name never tried is as uncertain as the prior says, and
// a figure without the main trainer is that of the others.
func TestEffectsAreToldApart(t *testing.T) {
	var all []Sitting
	for i := range 30 {
		s := Sitting{At: At{"ana", fmt.Sprint("at", i%3)}, First: Yes, Yes: 6, Of: 6, Night: i%3 == 0}
		if i%3 == 2 {
			s.At[Person], s.First, s.Yes = "bram", No, 3
		}
		all = append(all, s)
	}
	f := after(Shipped(), all...)
	weak, strong, place := f.Worse(Person, "bram", .5), f.Worse(Person, "ana", 0), f.Worse(Place, "at0", .5)
	if weak < .95 || strong > .05 || place > .3 {
		t.Errorf("worse with bram %v, with ana %v, at the first place %v", weak, strong, place)
	}
	if f.Worse(Leash, "line", 0) != 0 {
		t.Error("worse on a leash, and no leash was noted")
	}
	bram, others := f.Median(Target{At: At{Person: "bram"}}), f.Median(Target{Except: At{Person: "ana"}})
	if math.Abs(bram-others) > 1e-9 {
		t.Errorf("all but ana %v, bram %v", others, bram)
	}
	width := func(who string) float64 {
		low, high := f.Interval(Target{At: At{Person: who}}, .95)
		return math.Log(high/(1-high)) - math.Log(low/(1-low))
	}
	if width("cora") < width("ana")+1 {
		t.Errorf("somebody who never asked: %v logits wide, ana %v", width("cora"), width("ana"))
	}
}

// First asks that fail while the later ones are answered are seen as that.
func TestColdAsks(t *testing.T) {
	var all []Sitting
	for i := range 20 {
		all = append(all, Sitting{First: First(1 + i%2), Yes: 6, Of: 6})
	}
	f := after(Shipped(), all...)
	first, later := f.Median(Target{First: true}), f.Median(Target{})
	if first > .8 || later < .93 || f.ColdWorse(.5) < .99 {
		t.Errorf("first asks %.3f, later ones %.3f, worse %.3f", first, later, f.ColdWorse(.5))
	}
	if tallies := after(Shipped(), Sitting{Yes: 9, Of: 10}); math.Abs(tallies.ColdWorse(0)-.5) > 1e-9 {
		t.Errorf("a tally says %v of first asks", tallies.ColdWorse(0))
	}
}

func TestImpossibleCounts(t *testing.T) {
	for name, f := range map[string]func(){
		"more answered than asked": func() { New(Shipped()).Observe(Sitting{Yes: 3, Of: 2}) },
		"fewer breaks than none":   func() { New(Walking()).ObserveWalk(Walk{Breaks: -1, Minutes: 3}) },
		"endless minutes":          func() { New(Walking()).ObserveWalk(Walk{Minutes: math.Inf(1)}) },
	} {
		func() {
			defer func() {
				if recover() == nil {
					t.Errorf("%s: taken", name)
				}
			}()
			f()
		}()
	}
}

// Years of sittings must not run the state out of digits.
func TestLongRecord(t *testing.T) {
	f := New(Shipped())
	for i, s := range stay(rand.New(rand.NewPCG(7, 8)), 1500, .97) {
		f.Observe(s)
		if i%30 == 0 {
			f.Mark()
		}
	}
	for when := range 51 {
		low, high := f.Interval(Target{When: when}, .95)
		if m := f.Median(Target{When: when}); !(low < m && m < high && m > .9) {
			t.Errorf("mark %d: %v [%v, %v]", when, m, low, high)
		}
	}
}
