package analysis

import (
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"firstcue/internal/training"
)

var (
	asksLine = regexp.MustCompile(`(\d+) more sits in (\d+) sessions?, (\d+) of them on the first ask(?:; (\d+) would do if none is missed)?$`)
	allLine  = regexp.MustCompile(`(\d+) more sits? in (\d+) sessions?(?:, (?:all )?on the first ask| would do if none is missed; with one miss, \d+ in \d+ sessions?)$`)
)

func lineWith(list []string, part string) string {
	for _, l := range list {
		if strings.Contains(l, part) {
			return l
		}
	}
	return ""
}

// follow adds what a line asks for as real sessions, one a day.
func follow(r training.Record, day, asks, sessions, misses int, handler, place string) training.Record {
	r.Sessions = slices.Clone(r.Sessions)
	for i := range sessions {
		n := asks / sessions
		if i < asks%sessions {
			n++
		}
		m := min(misses, n)
		misses -= m
		r.Sessions = append(r.Sessions, at(day+1+i, "09:00", handler, place, many("sit", n-m, m)...))
	}
	return r
}

// What a line about other people asks for, done as real sessions, opens the
// gate.
func TestWhatWouldChangeThePeopleGateDoes(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := record()
		r.Dog.Main = "Maren"
		n := rapid.IntRange(0, 6).Draw(t, "sessions")
		for i := range n {
			of := rapid.IntRange(3, 8).Draw(t, "of")
			r.Sessions = append(r.Sessions, at(i+1, "09:00", "Ivo", "yard", counted("sit", rapid.IntRange(of/2, of).Draw(t, "yes"), of)))
		}
		for i := range 3 {
			r.Sessions = append(r.Sessions, at(i+1, "15:00", "Maren", "yard", counted("sit", 5, 5)))
		}
		day := 8
		c := sit(r, day)
		if gateOf(c, GatePeople).Met() || c.Owner.Confirmed {
			t.Skip()
		}
		l := lineWith(c.Change, "with someone other than Maren")
		if l == "" {
			t.Skip() // a flagged handler blocks
		}
		var asks, sessions, misses int
		if m := asksLine.FindStringSubmatch(l); m != nil {
			asks, _ = strconv.Atoi(m[1])
			sessions, _ = strconv.Atoi(m[2])
			first, _ := strconv.Atoi(m[3])
			misses = asks - first
		} else if m := allLine.FindStringSubmatch(l); m != nil {
			asks, _ = strconv.Atoi(m[1])
			sessions, _ = strconv.Atoi(m[2])
		} else {
			t.Fatalf("a line that cannot be followed: %q", l)
		}
		q := follow(r, day, asks, sessions, misses, "Pim", "yard")
		g := gateOf(sit(q, day+sessions), GatePeople)
		flagged := strings.Contains(g.Say, "Below standard")
		if !g.Met() && !flagged {
			t.Fatalf("%q was done and: %s", l, g.Say)
		}
	})
}

// The least number of clean asks makes a good night; one less does not.
func TestCleanAsksOpenTheLevel(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := record()
		size := rapid.IntRange(3, 8).Draw(t, "size")
		for i := range rapid.IntRange(1, 14).Draw(t, "sessions") {
			r.Sessions = append(r.Sessions, at(i+1, "09:00", "Maren", "yard", counted("sit", size-rapid.SampledFrom([]int{0, 0, 1, 2}).Draw(t, "missed"), size)))
		}
		day := len(r.Sessions)
		c := sit(r, day)
		if gateOf(c, GateLevel).Met() || c.ReadyNights > 0 || !c.CleanMin.Known {
			t.Skip()
		}
		n := int(c.CleanMin.V)
		build := func(n int) training.Record {
			q := r
			q.Sessions = slices.Clone(r.Sessions)
			for d := day + 1; n > 0; d++ {
				k := min(n, size)
				q.Sessions = append(q.Sessions, at(d, "09:00", "Maren", "yard", counted("sit", k, k)))
				n -= k
			}
			return q
		}
		if c := sit(build(n), day+60); c.ReadyNights == 0 {
			t.Fatalf("%d clean asks, and the night is not good: %s", n, gateOf(c, GateLevel).Say)
		}
		if n > 1 {
			if c := sit(build(n-1), day+60); c.ReadyNights > 0 {
				t.Fatalf("%d clean asks, and %d do too", n, n-1)
			}
		}
	})
}

// Our own study of the rule: after 60 trials in 12 sessions of five, the misses
// spread evenly, so many more clean asks are needed, in sessions of five. (For 6
// misses it printed 15; the steps it gives lead to 5, as a second program found
// too. That figure is left out.)
func TestCleanAsksAsTheStudyFoundThem(t *testing.T) {
	for misses, want := range map[int]int{9: 20, 12: 25, 18: 45, 24: 55} {
		r := record()
		done := 0
		for i := range 12 {
			m := misses*(i+1)/12 - done
			done += m
			r.Sessions = append(r.Sessions, at(i/3+1, fmt.Sprintf("%02d:00", 8+3*(i%3)), "Maren", "yard", counted("sit", 5-m, 5)))
		}
		c := sit(r, 4)
		if got := 5 * math.Ceil(c.CleanMin.V/5); got != float64(want) {
			t.Errorf("%d misses: %v clean asks (%v), the study found %d", misses, c.CleanMin.V, got, want)
		}
	}
}

// "15 to 24 clean trials from nothing" (same study: 15, 16, 20, 18, 24 in
// sessions of 3, 4, 5, 6, 8), with no minimum of trials, sessions and days.
func TestCleanAsksFromNothing(t *testing.T) {
	for size, want := range map[int]int{3: 15, 4: 16, 5: 20, 6: 18, 8: 24} {
		for n := size; ; n += size {
			r := record()
			for i := range n / size {
				r.Sessions = append(r.Sessions, at(1, fmt.Sprintf("%02d:00", 6+i), "Maren", "yard", counted("sit", size, size)))
			}
			c := cueOf(Assess(r, func(cue string) Criteria {
				c := barsOf(r)(cue)
				c.Trials, c.Sessions, c.Days, c.Nights = 1, 1, 1, 1
				return c
			}, day1), "sit")
			if gateOf(c, GateLevel).Met() {
				if n != want {
					t.Errorf("sessions of %d: opens after %d, want %d", size, n, want)
				}
				break
			}
		}
	}
}

// A trainer who does everything a not-shown dog's lines ask for has a ready cue.
func TestDoingEverythingMakesItReady(t *testing.T) {
	r := record()
	r.Dog.Main = "Maren"
	for d := 1; d <= 2; d++ {
		r.Sessions = append(r.Sessions, at(d, "09:00", "Maren", "yard", many("sit", 6, 0)...))
	}
	c := sit(r, 2)
	t.Log(strings.Join(c.Change, "\n"))
	if c.Verdict != NotShown {
		t.Fatal(c.Verdict)
	}
	others := allOrMost(t, lineWith(c.Change, "with someone other than Maren"))
	owner := allOrMost(t, lineWith(c.Change, "with the owner"))
	q := follow(r, 2, others[0], others[1], others[2], "Ivo", "barn")
	q = follow(q, 2+others[1], owner[0], owner[1], owner[2], "Owner", "market")
	day := 2 + others[1] + owner[1]
	for range 12 {
		c = sit(q, day)
		if c.Verdict == Ready {
			if !c.Owner.Confirmed {
				t.Errorf("owner: %s", c.Owner.Say)
			}
			return
		}
		if l := lineWith(c.Change, "at barn"); l != "" {
			q = follow(q, day, 8, 2, 0, "Ivo", "barn")
			day += 2
		} else if l := lineWith(c.Change, "at market"); l != "" {
			q = follow(q, day, 8, 2, 0, "Owner", "market")
			day += 2
		} else {
			q = follow(q, day, 6, 1, 0, "Maren", "yard")
			day++
		}
	}
	t.Errorf("still %s: %v", c.Verdict, c.Change)
}

func allOrMost(t *testing.T, l string) [3]int {
	t.Helper()
	if m := asksLine.FindStringSubmatch(l); m != nil {
		a, _ := strconv.Atoi(m[1])
		s, _ := strconv.Atoi(m[2])
		f, _ := strconv.Atoi(m[3])
		return [3]int{a, s, a - f}
	}
	m := allLine.FindStringSubmatch(l)
	if m == nil {
		t.Fatalf("a line that cannot be followed: %q", l)
	}
	a, _ := strconv.Atoi(m[1])
	s, _ := strconv.Atoi(m[2])
	return [3]int{a, s, 0}
}

// Alarm: the steps of the session-aware sum, and how many clean asks clear it
// (the study: a first miss of a session adds 1.48, a second .88, a third .64; a
// clean ask takes off .35, .30, .27; 15 to 18 clean first asks from 4.5 to 0).
func TestAlarm(t *testing.T) {
	r := goodStay(6, 5, nil)
	if a := sit(r, 6).Alarm; !a.Watching || a.On || a.Value != 0 {
		t.Fatalf("quiet dog: %+v", a)
	}
	r.Sessions = append(r.Sessions, at(7, "09:00", "Ivo", "market", many("sit", 0, 1)...))
	near(t, "one miss", training.Known(sit(r, 7).Alarm.Value), 1.48, .005)
	r.Sessions = append(r.Sessions, at(7, "12:00", "Maren", "yard", many("sit", 1, 0)...))
	near(t, "then a clean ask", training.Known(sit(r, 7).Alarm.Value), 1.48-.35, .01)
	r.Sessions = append(r.Sessions, at(8, "09:00", "Maren", "yard", many("sit", 0, 2)...), at(8, "12:00", "Maren", "barn", many("sit", 0, 2)...))
	c := sit(r, 8)
	if !c.Alarm.On || c.Alarm.Value != 4.5 || c.Alarm.Since != day1+6 || c.Alarm.SinceID != "7-09:00-Ivo-market" || c.Alarm.Handler != "Ivo" || c.Alarm.Place != "market" {
		t.Fatalf("alarm %+v", c.Alarm)
	}
	if !strings.Contains(c.Alarm.Say, "5 misses in 6 asks") {
		t.Errorf("alarm says %q", c.Alarm.Say)
	}
	cleared := 0
	for n := 1; n <= 30; n++ {
		r.Sessions = append(r.Sessions, at(9+n/5, fmt.Sprintf("%02d:00", 8+n%5), "Maren", "yard", many("sit", 1, 0)...))
		if !sit(r, 30).Alarm.On {
			cleared = n
			break
		}
	}
	// One ask a session: .35 each, 13; in sessions of 3 to 8, 15 to 18.
	if cleared != 13 {
		t.Errorf("cleared after %d clean asks of a session each", cleared)
	}
	// Before the level was ever ready, misses are normal.
	if a := sit(record(at(1, "09:00", "Maren", "yard", many("sit", 0, 20)...)), 1).Alarm; a.On || a.Watching {
		t.Errorf("watching a dog that is still learning: %+v", a)
	}
}

func TestColdTrials(t *testing.T) {
	r := goodStay(6, 5, nil)
	for i := range 4 {
		s := &r.Sessions[17-4*i]
		s.Trials = append([]training.Trial{no("sit")}, s.Trials[1:]...)
	}
	c := sit(r, 6)
	if c.Cold.Asked != 15 || c.Cold.Missed != 4 || !c.Cold.Flag {
		t.Errorf("cold %+v", c.Cold)
	}
	r.Sessions[17].Trials[0] = yes("sit")
	if c := sit(r, 6); c.Cold.Flag || c.Cold.Missed != 3 {
		t.Errorf("three misses: %+v", c.Cold)
	}
	early := training.Trial{Cue: "sit", Kind: training.Response, Outcome: training.Early}
	for _, x := range []struct {
		first []training.Trial
		asked int
	}{{[]training.Trial{early, no("sit")}, 1}, {[]training.Trial{counted("sit", 3, 4)}, 0}, {[]training.Trial{{Cue: "sit", Outcome: training.Unscored}, no("sit")}, 0}} {
		if c := one1(t, at(1, "09:00", "Maren", "yard", x.first...), "sit"); c.Cold.Asked != x.asked {
			t.Errorf("%+v: %d asked cold", x.first, c.Cold.Asked)
		}
	}
}

func TestForecast(t *testing.T) {
	due := func(r training.Record, day int) training.Record {
		r.Dog.Boardings = []training.Boarding{{Arrived: day1, Due: day1 + training.Day(day-1)}}
		return r
	}
	good := due(goodStay(6, 5, nil), 10)
	f := sit(good, 6).Forecast
	if f == nil || f.Nights != 4 || f.Stays.V < .9 || f.Improves.V < .8 || f.Trials != 90 {
		t.Errorf("good dog: %+v", f)
	}
	poor := goodStay(6, 5, nil)
	for i := range poor.Sessions {
		poor.Sessions[i].Trials = many("sit", 2, 3)
	}
	if f := sit(due(poor, 10), 6).Forecast; f.Level.V > .05 || f.Chance.Known {
		t.Errorf("poor dog: %+v", f)
	}
	// A dog that learns fast: it may get there, the dog that stays will not.
	learner := goodStay(6, 5, nil)
	for i := range learner.Sessions {
		m := max(0, 4-i/3)
		learner.Sessions[i].Trials = many("sit", 5-m, m)
	}
	f = sit(due(learner, 12), 6).Forecast
	if f.Improves.V <= f.Stays.V || f.Level.V <= 0 || f.Level.V >= 1 {
		t.Errorf("learner: %+v", f)
	}
	if f := sit(due(good, 16), 6).Forecast; f.Nights != 10 || f.Chance.Known || f.Words != "too early to say" {
		t.Errorf("ten nights out: %+v", f)
	}
	base := due(good, 16)
	base.BaseRate, base.BaseDogs = training.Known(.5), 14
	if f := Assess(base, barsOf(base), day1+5).Forecast; f.Chance.V != .5 || !strings.Contains(f.Words, "of 14 finished dogs about 1 in 2") {
		t.Errorf("base rate: %+v", f)
	}
	if f := sit(base, 6).Forecast; f.Chance.Known || f.Base.Known || f.Words != "too early to say" {
		t.Errorf("the base rate is of dogs, and a cue says %+v", f)
	}
	if f := sit(due(good, 5), 6).Forecast; f != nil {
		t.Errorf("past due: %+v", f)
	}
	if f := sit(due(good, 6), 6).Forecast; f.Chance.V != 1 {
		t.Errorf("tonight: %+v", f)
	}
	if a := Assess(due(good, 10), barsOf(good), day1+5); a.Forecast == nil || a.Forecast.Words != inWords(a.Forecast.Chance.V) {
		t.Errorf("dog: %+v", a.Forecast)
	}
}

func TestAgreementOfTwoScorers(t *testing.T) {
	live, video := mossLive(), mossVideo()
	g := Agreement(live, video, Rule{Limit: training.Known(3)})
	if g.Compared != 10 || g.Agreed != 8 || g.Apart != 1 || !g.Enough {
		t.Fatalf("compared %d, agreed %d, apart %d", g.Compared, g.Agreed, g.Apart)
	}
	near(t, "kappa", g.Kappa, .375, 1e-12)
	near(t, "agreement low", g.Low, .490, .0006)
	if len(g.Differ) != 2 || g.Differ[0].Number != 6 || g.Differ[1].Number != 9 {
		t.Errorf("they differ on %+v", g.Differ)
	}
	// A trial that one of them missed shifts nothing.
	short := live
	short.Trials = slices.Delete(slices.Clone(live.Trials), 1, 2)
	if g := Agreement(short, video, Rule{Limit: training.Known(3)}); g.Compared != 9 || g.OneSided != 1 || len(g.Differ) != 2 {
		t.Errorf("compared %d, one-sided %d, differ %d", g.Compared, g.OneSided, len(g.Differ))
	}
	// Of three sits the second scorer missed one: which, the outcomes tell.
	three, two := at(1, "09:00", "Maren", "yard", yes("sit"), no("sit"), yes("sit")), at(1, "09:00", "Maren", "yard", no("sit"), yes("sit"))
	if g := Agreement(three, two, Rule{}); g.Compared != 2 || g.Agreed != 2 || g.Pairs[0].B != nil {
		t.Errorf("a missed first sit: %+v", g)
	}
	one := live
	one.Trials = slices.Clone(live.Trials)
	one.Trials[0].Outcome = training.Unscored
	if g := Agreement(one, video, Rule{Limit: training.Known(3)}); g.Compared != 9 || g.OneSided != 1 {
		t.Errorf("unscored: %+v", g)
	}
	if g := Agreement(live, live, Rule{}); g.Agreed != g.Compared || g.KappaLow.Known {
		t.Errorf("with herself: %+v", g)
	}
	// One who never scored a miss: kappa would be 0 whatever the other saw.
	always, some := at(1, "09:00", "Maren", "yard", yes("sit"), yes("sit"), yes("sit")), at(1, "09:00", "Maren", "yard", yes("sit"), no("sit"), yes("sit"))
	for _, pair := range [][2]training.Session{{always, some}, {some, always}} {
		if g := Agreement(pair[0], pair[1], Rule{}); g.Agreed != 2 || g.Kappa.Known || g.KappaLow.Known || g.KappaHigh.Known {
			t.Errorf("a scorer without a miss: %+v", g)
		}
	}
	if g := Agreement(at(1, "09:00", "Maren", "yard"), live, Rule{}); g.Rate.Known || g.Kappa.Known {
		t.Error("nothing compared gives no share")
	}
}

// The push-drop-stick rule as published on trainers' pages: of five, 5 and 4
// push, 3 stick, 2, 1, 0 drop.
func TestPushStayDrop(t *testing.T) {
	want := []PlanReason{PlanDrop, PlanDrop, PlanDrop, PlanStay, PlanPush, PlanPush}
	for n, w := range want {
		if got := PushStayDrop(n); got != w {
			t.Errorf("%d of five: %s, want %s", n, got, w)
		}
	}
}

func TestPlan(t *testing.T) {
	r := goodStay(6, 5, nil)
	for i := range r.Sessions { // down slips after it was ready; only Maren asks come
		r.Sessions[i].Trials = append(r.Sessions[i].Trials, many("down", 5, 0)...)
		if r.Sessions[i].Handler == "Maren" {
			r.Sessions[i].Trials = append(r.Sessions[i].Trials, many("come", 5, 0)...)
		}
	}
	r.Sessions = append(r.Sessions, at(7, "09:00", "Maren", "market", many("down", 0, 5)...), at(7, "12:00", "Ivo", "yard", many("down", 0, 3)...))
	r.Dog.Goals = []training.Goal{{Cue: "sit"}, {Cue: "down"}, {Cue: "come"}, {Cue: "leave it"}}
	a := Assess(r, barsOf(r), day1+6)
	p := Plan(a, r, barsOf(r), 0)
	if len(p) < 4 {
		t.Fatalf("%+v", p)
	}
	if p[0].Reason != PlanSlip || p[0].Cue != "down" || p[0].Where != "yard" && p[0].Where != "barn" {
		t.Errorf("first: %+v", p[0])
	}
	at := func(cue string, reason PlanReason) int {
		return slices.IndexFunc(p, func(l PlanLine) bool { return l.Cue == cue && l.Reason == reason })
	}
	if i := at("come", PlanBlocked); i < 0 || p[i].Not != "Maren" {
		t.Errorf("come with somebody else: %+v", p)
	}
	if at("leave it", PlanNever) < 0 {
		t.Errorf("leave it was never asked: %+v", p)
	}
	// Down slips, which can be pain: sit is ready and does well and is not made
	// harder all the same.
	if i := at("sit", PlanStay); i < at("leave it", PlanNever) || at("sit", PlanPush) >= 0 || !strings.Contains(p[i].Why, "down is slipping") {
		t.Errorf("harder after a sign of pain: %+v", p)
	}
	lines := map[string]int{}
	for _, l := range p[:len(p)-1] { // without the easy end
		lines[l.Cue]++
	}
	for _, c := range a.Cues {
		if lines[c.Cue] != 1 {
			t.Errorf("%s has %d lines", c.Cue, lines[c.Cue])
		}
	}
	last := p[len(p)-1]
	if last.Reason != PlanEasy || last.Cue == "down" {
		t.Errorf("ends with %+v", last)
	}
	for i, l := range p {
		if l.Rank != i+1 || l.Why == "" || l.What == "" {
			t.Errorf("line %+v", l)
		}
	}
	for _, minutes := range []int{1, 5, 10, 20} {
		p := Plan(a, r, barsOf(r), minutes)
		sum := 0.0
		for _, l := range p {
			sum += l.Minutes
		}
		if sum > float64(minutes) || p[len(p)-1].Reason != PlanEasy {
			t.Errorf("%d minutes: %v planned, %+v", minutes, sum, p[len(p)-1])
		}
	}
	sheet := DaySheet([]DogPlan{{Dog: "Juno", Main: "Maren", Lines: p}})
	if len(sheet) != 2 || sheet[0].Handler != "Maren" || sheet[1].Handler != "anyone but Maren" {
		t.Errorf("sheet %+v", sheet)
	}
	// Stale after more than three days.
	a = Assess(r, barsOf(r), day1+10)
	if p = Plan(a, r, barsOf(r), 0); at("sit", PlanStale) < 0 {
		t.Errorf("stale: %+v", p)
	}
	if i := at("come", PlanBlocked); i < 0 || !strings.Contains(p[i].Why, "Not asked for") {
		t.Errorf("stale: %+v", p)
	}
	if at("sit", PlanPush) >= 0 || at("sit", PlanStay) >= 0 || at("come", PlanPush) >= 0 {
		t.Errorf("a stale cue has a second line: %+v", p)
	}
	a = Assess(r, barsOf(r), day1+8)
	if p = Plan(a, r, barsOf(r), 0); at("sit", PlanStale) >= 0 {
		t.Error("three days are not stale")
	}
}

func TestResolve(t *testing.T) {
	k := kennel()
	k.Dogs = []training.Dog{{Name: "Juno", Aliases: []string{"June"}}}
	set := func(dog, cue, name string, v float64) training.Setting {
		return training.Setting{Dog: dog, Cue: cue, Name: name, Value: v}
	}
	all := []training.Setting{set("June", "recall", "rate", .95), set("Juno", "", "rate", .94), set("", "come", "rate", .93), set("", "", "rate", .92)}
	for i, want := range []float64{.90, .92, .93, .94, .95} {
		if got := Resolve(k, all[len(all)-i:], "juno", "come").Rate; got != want {
			t.Errorf("with %d settings: %v, want %v", i, got, want)
		}
	}
	if c := Resolve(k, all, "Juno", "sit"); c.Rate != .94 || c.Limit.V != 3 {
		t.Errorf("sit: %+v", c)
	}
	if c := Resolve(k, []training.Setting{set("", "", "rate", 7), set("Other", "", "floor", .5)}, "Juno", "sit"); c != Resolve(k, nil, "Juno", "sit") {
		t.Error("an impossible setting, or another dog's, changed something")
	}
	if c := Resolve(k, nil, "Juno", "heel"); c.Breaks.V != .5 || c.Limit.Known {
		t.Errorf("heel: %+v", c)
	}
	for _, bad := range []training.Setting{set("", "", "speed of light", 1), set("", "", "rate", 1.1), set("", "", "trials", 2.5), set("", "", "floor", math.NaN())} {
		if CheckSetting(bad) == nil {
			t.Errorf("%+v passes", bad)
		}
	}
	for _, b := range Bars() {
		if b.Meaning == "" || b.Low > b.High {
			t.Errorf("bar %+v", b)
		}
		v := math.Round((b.Low + b.High) / 2)
		if v < b.Low || v > b.High {
			v = b.Low
		}
		if err := CheckSetting(set("", "", b.Name, v)); err != nil {
			t.Error(err)
		}
		all := []training.Setting{set("", "", b.Name, v)}
		if b.Name == "leave" {
			all = append(all, set("", "", "rate", 1)) // it is never above the rate
		}
		c := Resolve(k, all, "Juno", "sit")
		if got, ok := c.Value(b.Name); !ok || got.V != v {
			t.Errorf("%s set to %v reads %v", b.Name, v, got)
		}
		if d, ok := Defaults().Value(b.Name); ok && d.Known && (d.V < b.Low || d.V > b.High) {
			t.Errorf("the default of %s, %v, is outside its own range", b.Name, d.V)
		}
	}
	if _, ok := Defaults().Value("nothing"); ok {
		t.Error("a bar that is none has a value")
	}
}
