package main

import (
	"strings"
	"testing"

	"firstcue/internal/analysis"
)

// The promised bars on 200 stays a row: a rule that has come undone (a gate that no
// longer gates, a model that forgot that dogs learn) misses by far more than chance
// can. `make proof` measures them properly.
func TestBarsHold(t *testing.T) {
	if testing.Short() {
		t.Skip("takes some seconds")
	}
	p := simulate(env{seed: 20260302, quick: true, log: t.Logf}, studies())
	if len(p.bars) < 20 {
		t.Errorf("only %d bars were measured", len(p.bars))
	}
	for _, b := range p.bars {
		t.Logf("%s: %s (bar %s)", b.what, b.show(b.value), b.show(b.limit))
		if !(b.missedBy() <= 1.5*b.error) { // also not a number
			t.Errorf("%s: found %s ±%s, bar %s", b.what, b.show(b.value), b.show(b.error), b.show(b.limit))
		}
	}
	text := p.write(env{quick: true})
	for _, bad := range []string{"NaN", "Inf", "%!"} {
		if strings.Contains(text, bad) {
			t.Errorf("the page contains %q", bad)
		}
	}
}

// What is written must not depend on the number of goroutines.
func TestSameSeedSameBytes(t *testing.T) {
	list := []study{{"guard", guard}}
	one := simulate(env{seed: 3, quick: true, workers: 1}, list).write(env{quick: true})
	many := simulate(env{seed: 3, quick: true, workers: 5}, list).write(env{quick: true})
	if one != many {
		t.Error("1 and 5 goroutines write different pages")
	}
	if other := simulate(env{seed: 4, quick: true, workers: 1}, list).write(env{quick: true}); one == other {
		t.Error("another seed writes the same page")
	}
}

// A stay is judged on every evening from one record that already holds the
// days to come: they must not count.
func TestLaterSessionsDoNotCount(t *testing.T) {
	for i := range 5 {
		rec := stay(full(15), always(.92), source(9, "later", i))
		for _, d := range []int{3, 8, 14} {
			seen := rec
			seen.Sessions = nil
			for _, s := range rec.Sessions {
				if s.Day() <= night(d) {
					seen.Sessions = append(seen.Sessions, s)
				}
			}
			a, b := judge(rec, night(d)), judge(seen, night(d))
			if a.Verdict != b.Verdict || a.Tally != b.Tally || a.Now != b.Now {
				t.Fatalf("night %d: %v %+v with the later days in the record, %v %+v without", d, a.Verdict, a.Now, b.Verdict, b.Now)
			}
		}
	}
}

// The course that the report draws must be what each evening's report said.
func TestCourseIsNightly(t *testing.T) {
	seen := map[analysis.Verdict]int{}
	for i := range 6 {
		dog := like(by(.97, .95, .9), func(t *truth) { t.corrected = .3 })
		if i%2 == 1 {
			dog = from(12, .97, .60)
		}
		rec := stay(full(15), dog, source(13, "nightly", i))
		course := verdicts(judge(rec, night(15)), 15)
		for d := 1; d <= 15; d++ {
			v := judge(rec, night(d)).Verdict
			if v != course[d] {
				t.Errorf("stay %d night %d: %q in that evening's report, %q in the course", i, d, v, course[d])
			}
			seen[v]++
		}
	}
	for _, v := range []analysis.Verdict{analysis.Ready, analysis.NotProven, analysis.NotReady} {
		if seen[v] == 0 {
			t.Errorf("no evening was %q: the test shows little", v)
		}
	}
}

// The simulator must see what the report says: a faultless dog tried with everybody
// everywhere is ready, a hopeless one never, and the rule by eye is fooled.
func TestStayIsJudged(t *testing.T) {
	r := source(11, "clean", 0)
	clean := watch(row{plan: full(15), dog: always(1)}, r)
	if !ready(clean, 15) || ready(clean, 2) || clean.worse {
		t.Errorf("a faultless dog: %v", clean.verdicts)
	}
	hopeless := watch(row{plan: full(15), dog: always(.4)}, r)
	if said(hopeless, analysis.Ready, 1) || hopeless.verdicts[15] != analysis.NotReady {
		t.Errorf("a dog at .40: %v", hopeless.verdicts)
	}
}
