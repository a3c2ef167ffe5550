package main

import (
	"math"
	"math/rand/v2"
	"reflect"
	"strings"
	"testing"
)

// The urn must give the beta-binomial distribution: mean n p, variance
// n p (1-p) (1 + (n-1) rho), and its whole probability function.
//
// Source: Johnson, Kemp and Kotz, Univariate Discrete Distributions, 6.9
// (from memory).
func TestSittingIsBetaBinomial(t *testing.T) {
	const draws = 60000
	for _, c := range []struct {
		n      int
		p, rho float64
	}{{4, .8, .10}, {8, .95, .20}, {6, .5, 0}, {5, .7, .05}} {
		r := source(1, "urn", 0)
		seen := make([]float64, c.n+1)
		for range draws {
			s := sitting{rho: c.rho}
			k := 0
			for range c.n {
				if s.answer(c.p, r) {
					k++
				}
			}
			seen[k]++
		}
		var chi, mass, mean, square float64
		for k, got := range seen {
			want := betaBinomial(k, c.n, c.p, c.rho)
			mass += want
			mean += float64(k) * want
			square += float64(k*k) * want
			chi += (got - draws*want) * (got - draws*want) / (draws * want)
		}
		if math.Abs(mass-1) > 1e-9 {
			t.Errorf("%+v: probabilities add up to %v", c, mass)
		}
		n := float64(c.n)
		if math.Abs(mean-n*c.p) > 1e-9 {
			t.Errorf("%+v: mean %v, want %v", c, mean, n*c.p)
		}
		if v, want := square-mean*mean, n*c.p*(1-c.p)*(1+(n-1)*c.rho); math.Abs(v-want) > 1e-9 {
			t.Errorf("%+v: variance %v, want %v", c, v, want)
		}
		// 99.9 % points of chi-square are 18.5 at 4 and 26.1 at 8 degrees of freedom.
		if chi > 27 {
			t.Errorf("%+v: chi-square %v between draws and distribution", c, chi)
		}
	}
}

func TestStayFollowsItsPlan(t *testing.T) {
	for _, c := range []struct {
		plan plan
		most int // sessions on a day without a lesson of the owner's
	}{{full(15), 4}, {light(15), 1}} {
		perHandler, perPlace := map[string]int{}, map[string]int{}
		total := 0
		for i := range 60 {
			rec := stay(c.plan, always(.9), source(3, c.plan.name, i))
			perDay := map[int]int{}
			for _, s := range rec.Sessions {
				day := int(s.Day()-arrival) + 1
				perDay[day]++
				perHandler[s.Handler]++
				perPlace[s.Place]++
				total++
				if len(s.Trials) < smallest || len(s.Trials) > largest {
					t.Fatalf("%s: a session of %d trials", c.plan.name, len(s.Trials))
				}
				if s.Handler == owner && (day < 12 || day > 14) || s.Handler == second && day < 3 {
					t.Fatalf("%s: %s on day %d", c.plan.name, s.Handler, day)
				}
				if _, ok := rec.Kennel.Handler(s.Handler); !ok {
					t.Fatalf("%s: handler %q is not on the kennel's list", c.plan.name, s.Handler)
				}
				if _, ok := rec.Kennel.Place(s.Place); !ok {
					t.Fatalf("%s: place %q is not on the kennel's list", c.plan.name, s.Place)
				}
			}
			for d := 1; d <= 15; d++ {
				most := c.most
				if d >= 12 && d <= 14 {
					most++
				}
				if perDay[d] < 1 || perDay[d] > most {
					t.Fatalf("%s: %d sessions on day %d", c.plan.name, perDay[d], d)
				}
			}
		}
		if perHandler[owner] != 3*60 {
			t.Errorf("%s: %d lessons of the owner's, want 3 a stay", c.plan.name, perHandler[owner])
		}
		// From day 3 of 15 on, 30 % of what is not the owner's.
		if got := float64(perHandler[second]) / float64(total-perHandler[owner]); math.Abs(got-.3*13/15) > .05 {
			t.Errorf("%s: second trainer has %.3f of the sessions, want about %.3f", c.plan.name, got, .3*13/15)
		}
		want := .25
		if c.plan.light() {
			want = 1. / 3
		}
		if got := float64(perPlace[square]) / float64(total); math.Abs(got-want) > .05 {
			t.Errorf("%s: the square has %.3f of the sessions, want about %.3f", c.plan.name, got, want)
		}
	}
}

// Neighbouring seeds and numbers must be strangers: the mean of the first draws of
// 400 seeds, and of 400 replicates, lies where chance puts it, and neighbours do not
// go together. (A generator seeded with the bare numbers failed this.)
func TestSeedsAreStrangers(t *testing.T) {
	const n = 400
	for name, draw := range map[string]func(i int) float64{
		"seeds":      func(i int) float64 { return source(uint64(i), "same", 0).Float64() },
		"replicates": func(i int) float64 { return source(1, "same", i).Float64() },
	} {
		sum, pair, last := 0.0, 0.0, draw(n)-.5
		for i := range n {
			x := draw(i) - .5
			sum += x
			pair += x * last
			last = x
		}
		// Standard errors: sqrt(1/12/n) of the mean, 1/12/sqrt(n) of the products.
		if z := sum / n / math.Sqrt(1./12/n); math.Abs(z) > 3.5 {
			t.Errorf("%s: mean %.1f standard errors off", name, z)
		}
		if z := pair / n / (1. / 12 / math.Sqrt(n)); math.Abs(z) > 3.5 {
			t.Errorf("%s: neighbours go together by %.1f standard errors", name, z)
		}
	}
}

// Sessions that carry the mood of the one before keep the dog's mean and go together;
// without it they do not. A selective log holds fewer bad sessions.
func TestSessionsCarryOver(t *testing.T) {
	for _, carried := range []float64{0, .5} {
		var sum, sq, pair, n, trials, right float64
		for i := range 300 {
			dog := like(always(.80), func(t *truth) { t.carried = carried })
			last := math.NaN()
			for _, s := range stay(full(15), dog, source(21, "carried", i)).Sessions {
				yes := 0.0
				for _, x := range s.Trials {
					if x.Asks == 1 {
						yes++
					}
				}
				trials, right = trials+float64(len(s.Trials)), right+yes
				d := yes/float64(len(s.Trials)) - .80
				if !math.IsNaN(last) {
					sum, sq, pair, n = sum+d, sq+d*d, pair+d*last, n+1
				}
				last = d
			}
		}
		if math.Abs(right/trials-.80) > .012 {
			t.Errorf("carried %v: %.3f right, want .80", carried, right/trials)
		}
		r := pair / sq
		if carried == 0 && math.Abs(r) > .05 || carried > 0 && r < .1 {
			t.Errorf("carried %v: neighbouring sessions correlate %.3f", carried, r)
		}
	}
	bad := func(selective bool) (n int) {
		for i := range 200 {
			dog := like(always(.80), func(t *truth) { t.selective = selective })
			for _, s := range stay(full(15), dog, source(22, "selective", i)).Sessions {
				yes := 0
				for _, x := range s.Trials {
					if x.Asks == 1 {
						yes++
					}
				}
				if 10*yes < 6*len(s.Trials) {
					n++
				}
			}
		}
		return n
	}
	if all, logged := bad(false), bad(true); math.Abs(float64(logged)/float64(all)-.5) > .08 {
		t.Errorf("%d of %d bad sessions are logged, want half", logged, all)
	}
}

// Every learning curve starts low, reaches nine tenths of a ceiling of .92 or more
// and stays inside 0 and 1; the step back of "regression" ends.
func TestLearnersLearn(t *testing.T) {
	for _, s := range shapes {
		reached, dipped := 0, 0
		const dogs = 400
		for i := range dogs {
			dog := learner(s, 110, .1, source(5, s.String(), i))
			at := func(n, day int) float64 { return dog.chance(ask{practice: n, day: day}) }
			last := 0.0
			for n := 0; n <= 2000; n += 20 {
				p := at(n, 1)
				if !(p > 0 && p <= 1) || p < last-1e-12 {
					t.Fatalf("%v: chance %v after %v at %d trials", s, p, last, n)
				}
				last = p
			}
			if at(2000, 1) >= .9*.92 {
				reached++
			}
			if at(0, 1) > .86 {
				t.Fatalf("%v: starts at %v", s, at(0, 1))
			}
			for day := 2; day <= 15; day++ {
				if at(150, day) < at(150, 1)-.1 {
					dipped++
					break
				}
			}
			if at(150, 30) != at(150, 1) {
				t.Fatalf("%v: the step back never ends", s)
			}
		}
		if reached < dogs*99/100 {
			t.Errorf("%v: only %d of %d reach .83", s, reached, dogs)
		}
		if (s == regression) != (dipped > dogs*9/10) || s != regression && dipped > 0 {
			t.Errorf("%v: %d of %d step back", s, dipped, dogs)
		}
	}
}

func TestGoroutinesChangeNothing(t *testing.T) {
	draw := func(_ int, r *rand.Rand) []score { return scores(stay(light(15), learner(insight, 35, .1, r), r)) }
	one := each(env{seed: 7, workers: 1}, "same", 40, draw)
	many := each(env{seed: 7, workers: 9}, "same", 40, draw)
	if !reflect.DeepEqual(one, many) {
		t.Error("the number of goroutines changes what is drawn")
	}
	other := each(env{seed: 8, workers: 1}, "same", 40, draw)
	if reflect.DeepEqual(one, other) {
		t.Error("another seed draws the same dogs")
	}
	if reflect.DeepEqual(one[0], one[1]) {
		t.Error("two replicates are the same dog")
	}
}

func TestRulesByEye(t *testing.T) {
	var all []score
	for i := range 12 {
		all = append(all, score{day: 1 + i/6, yes: i != 2 && i != 11})
	}
	for _, c := range []struct {
		day, need, n int
		want         bool
	}{{1, 5, 6, true}, {1, 6, 6, false}, {1, 9, 10, false}, {2, 9, 10, false}, {2, 8, 10, true}, {3, 8, 10, true}, {2, 10, 12, true}, {2, 13, 13, false}} {
		if got := byEye(all, c.day, c.need, c.n); got != c.want {
			t.Errorf("%d of the last %d on day %d: %v", c.need, c.n, c.day, got)
		}
	}
}

func TestErrorsOfCounts(t *testing.T) {
	// 95 % half-width of 50 of 100 is 9.8 points; two and two are added.
	if got := (tally{50, 100}).String(); got != "50.0 ±9.6" {
		t.Errorf("50 of 100: %s", got)
	}
	if got := (tally{0, 1000}).String(); got != "0.0 ±0.3" {
		t.Errorf("0 of 1000: %s: nothing seen is not certainty", got)
	}
	var m mean
	for _, x := range []float64{1, 2, 3, 4} {
		m.add(x)
	}
	// Standard deviation 1.291, standard error 0.6455.
	if got := m.show(2); got != "2.50 ±1.27" {
		t.Errorf("mean of 1 to 4: %s", got)
	}
	if got := quantile([]float64{4, 1, 3, 2}, .5); got != 2.5 {
		t.Errorf("median of 1 to 4: %v", got)
	}
}

// A figure that misses its bar must not be printed as the bar.
func TestMissIsNotRoundedToItsBar(t *testing.T) {
	p := &page{bars: []bar{
		{"over", .0504, .009, .05, true, percent},
		{"under", .7996, .009, .80, false, percent},
		{"on", .05, .009, .05, true, percent},
	}}
	text := p.write(env{})
	for _, want := range []string{
		"| over | at most 5.0 % | 5.04 % ±0.9 % | **missed** |",
		"| under | at least 80.0 % | 79.96 % ±0.9 % | **missed** |",
		"| on | at most 5.0 % | 5.0 % ±0.9 % | met |",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("no line %s", want)
		}
	}
}
