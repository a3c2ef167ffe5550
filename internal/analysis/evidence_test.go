package analysis

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"firstcue/internal/training"
)

// One hold to the target says what one hold says, however many short ones were
// kept and however few were broken before.
func TestOneHoldToTheTargetIsNotEnough(t *testing.T) {
	for broken := range 3 {
		var ss []training.Session
		for d := 1; d <= 8; d++ {
			var tr []training.Trial
			for i := range 5 {
				if d*5+i-5 < broken {
					tr = append(tr, broke("place", 10, 5))
				} else {
					tr = append(tr, kept("place", 10, 10))
				}
			}
			if d == 8 {
				tr = append(tr, kept("place", 120, 120))
			}
			ss = append(ss, at(d, "09:00", "Maren", "yard", tr...))
		}
		r := record(ss...)
		if g := gateOf(cueOf(Assess(r, barsOf(r), day1+7), "place"), GateHold); g.Met() {
			t.Errorf("%d broken, one hold to the target: %s", broken, g.Say)
		}
	}
}

// Twenty holds of one sitting are not twenty independent ones: with an ICC of
// .10 they weigh as 20/(1 + 19 x .10) = 6.9, and Wilson's lower end of 6.9 in
// 6.9 is n/(n + 1.96^2) = .642. One each in twenty sittings stay twenty: .839.
func TestHoldsOfOneSittingWeighLess(t *testing.T) {
	var together []training.Trial
	apart := record()
	for d := 1; d <= 20; d++ {
		together = append(together, kept("stay", 60, 60))
		apart.Sessions = append(apart.Sessions, at(d, "09:00", "Maren", "yard", kept("stay", 60, 60)))
	}
	r := record(at(1, "09:00", "Maren", "yard", together...))
	n := 20 / (1 + 19*.10)
	for _, x := range []struct {
		r    training.Record
		want float64
	}{{r, n / (n + 1.959964*1.959964)}, {apart, 20 / (20 + 1.959964*1.959964)}} {
		c := cueOf(Assess(x.r, barsOf(x.r), day1+19), "stay")
		if math.Abs(c.Hold.ChanceLow.V-x.want) > 1e-6 {
			t.Errorf("lower end %v, want %v: %s", c.Hold.ChanceLow.V, x.want, gateOf(c, GateHold).Say)
		}
	}
}

func threePlaces(who, cue string, days int) []training.Session {
	var ss []training.Session
	for d := 1; d <= days; d++ {
		ss = append(ss, at(d, "09:00", who, []string{"yard", "barn", "market"}[d%3], many(cue, 6, 0)...))
	}
	return ss
}

// A dog that works for one person only must not pass because that person is not
// its main trainer.
func TestOneHandlerAloneNeverPassesThePeopleGate(t *testing.T) {
	r := record(threePlaces("Ivo", "sit", 9)...)
	r.Dog.Main = "Maren" // who never asked for it
	c := sit(r, 9)
	if g := gateOf(c, GatePeople); g.Met() || !strings.Contains(g.Say, "Ivo") {
		t.Errorf("only Ivo asked: %s %s", g.Standing, g.Say)
	}
	if lineWith(c.Change, "with someone other than Ivo") == "" {
		t.Errorf("nothing says who is missing: %q", c.Change)
	}
	// The main trainer of the dog found through other cues.
	ss := threePlaces("Ivo", "sit", 9)
	for d := 1; d <= 9; d++ {
		ss = append(ss, at(d, "15:00", "Maren", "yard", many("down", 6, 0)...), at(d, "17:00", "Maren", "yard", many("down", 6, 0)...))
	}
	r = record(ss...)
	if g := gateOf(sit(r, 9), GatePeople); g.Met() {
		t.Errorf("sit only with Ivo, down with Maren: %s", g.Say)
	}
	// Three sittings by somebody else, of eight asks: enough.
	r = record(threePlaces("Ivo", "sit", 9)...)
	r.Dog.Main = "Maren"
	for d := 1; d <= 3; d++ {
		r.Sessions = append(r.Sessions, at(d, "15:00", "Pim", "yard", many("sit", 3, 0)...))
	}
	if g := gateOf(sit(r, 9), GatePeople); !g.Met() {
		t.Errorf("Pim in three sessions as well: %s", g.Say)
	}
}

// Six asks by others in three visits are not eight.
func TestOthersNeedAsksAndNotOnlyVisits(t *testing.T) {
	stay := func(each int) training.Record {
		r := record()
		r.Dog.Main = "Maren"
		for i := range 4 {
			r.Sessions = append(r.Sessions, at(1, fmt.Sprintf("1%d:30", i), "Maren", "yard", many("sit", 6, 0)...))
			r.Sessions = append(r.Sessions, at(1, fmt.Sprintf("1%d:00", i), "Ivo", "yard", many("sit", each, 0)...))
		}
		return r
	}
	if g := gateOf(sit(stay(1), 1), GatePeople); g.Met() {
		t.Errorf("four asks: %s", g.Say)
	}
	if g := gateOf(sit(stay(2), 1), GatePeople); !g.Met() {
		t.Errorf("eight asks: %s", g.Say)
	}
	r := stay(1)
	loose := func(cue string) Criteria {
		return Resolve(r.Kennel, []training.Setting{{Name: "other-trials", Value: 4}, {Name: "other-floor", Value: .5}}, "Juno", cue)
	}
	if g := gateOf(cueOf(Assess(r, loose, day1), "sit"), GatePeople); !g.Met() {
		t.Errorf("four asks where four are asked for: %s", g.Say)
	}
}

// The second of the two nights must be a night: a lone ask carries the luck of
// the first one over, and so does a month without training.
func TestTheSecondNightIsANight(t *testing.T) {
	stay := func() training.Record {
		r := record()
		for d := 1; d <= 3; d++ {
			for i := range 3 {
				r.Sessions = append(r.Sessions, at(d, fmt.Sprintf("1%d:00", i), "Maren", []string{"yard", "barn", "market"}[i], many("sit", 5, 0)...))
			}
			r.Sessions = append(r.Sessions, at(d, "16:00", "Ivo", "yard", many("sit", 5, 0)...))
		}
		return r
	}
	r := stay()
	if c := sit(r, 3); c.ReadyNights != 1 || gateOf(c, GateLevel).Met() {
		t.Fatalf("after the first good night: %d, %s", c.ReadyNights, gateOf(c, GateLevel).Say)
	}
	for _, x := range []struct {
		day, asks int
		open      bool
	}{{4, 1, false}, {4, 2, false}, {4, 3, true}, {9, 3, true}, {10, 3, false}, {30, 3, false}} {
		r := stay()
		r.Sessions = append(r.Sessions, at(x.day, "16:00", "Ivo", "yard", many("sit", x.asks, 0)...))
		if c := sit(r, x.day); gateOf(c, GateLevel).Met() != x.open {
			t.Errorf("day %d, %d asks: open %v after %d nights: %s", x.day, x.asks, !x.open, c.ReadyNights, gateOf(c, GateLevel).Say)
		}
	}
	// A bad lone ask can end the row.
	r = stay()
	r.Sessions = append(r.Sessions, at(4, "16:00", "Ivo", "yard", many("sit", 0, 2)...), at(5, "16:00", "Ivo", "yard", many("sit", 3, 0)...))
	strict := func(cue string) Criteria {
		return Resolve(r.Kennel, []training.Setting{{Name: "rate", Value: .99}}, "Juno", cue)
	}
	if c := cueOf(Assess(r, strict, day1+3), "sit"); c.ReadyNights != 0 {
		t.Errorf("two misses leave %d good nights", c.ReadyNights)
	}
}

// A first ask that was missed says little: it is "not shown", not "not ready".
func TestOneMissIsNotAFailure(t *testing.T) {
	r := record(at(1, "09:00", "Maren", "yard", no("sit")))
	if c := sit(r, 1); c.Verdict != NotShown {
		t.Errorf("0 of 1: %s, %s", c.Verdict, c.Reason)
	}
	r = record(at(1, "09:00", "Maren", "yard", many("sit", 5, 0)...), at(2, "15:00", "Ivo", "yard", no("sit")), at(2, "16:00", "Owner", "yard", no("sit")))
	r.Dog.Main = "Maren"
	c := sit(r, 2)
	if g := gateOf(c, GatePeople); g.Standing == Failed || c.Owner.Standing == Failed {
		t.Errorf("one miss by Ivo, one by the owner: %s %s; owner %s", g.Standing, g.Say, c.Owner.Standing)
	}
	r = record(at(1, "09:00", "Maren", "yard", many("sit", 0, 6)...), at(2, "09:00", "Maren", "yard", many("sit", 0, 6)...))
	if c := sit(r, 2); c.Verdict != NotReady {
		t.Errorf("0 of 12: %s", c.Verdict)
	}
	// A walk: three breaks in the first minute are no verdict, in five they are.
	r = record(at(1, "09:00", "Maren", "yard", walk(1, 3)))
	if c := cueOf(Assess(r, barsOf(r), day1), "heel"); c.Verdict != NotShown {
		t.Errorf("3 breaks in 1 minute: %s, %s", c.Verdict, c.Reason)
	}
	r = record(at(1, "09:00", "Maren", "yard", walk(5, 9)))
	if c := cueOf(Assess(r, barsOf(r), day1), "heel"); c.Verdict != NotReady {
		t.Errorf("9 breaks in 5 minutes: %s, %s", c.Verdict, c.Reason)
	}
}

// One bad session after clean ones is an event, not a course.
func TestRisingNeedsThreeSessionsWithCorrections(t *testing.T) {
	stay := func(bad ...int) training.Record {
		r := record()
		for d := 1; d <= 8; d++ {
			tr := many("sit", 6, 0)
			if i := d - 1 - (8 - len(bad)); i >= 0 {
				for k := range bad[i] {
					tr[k].Corrections = []training.Correction{{Kind: training.ByVoice}}
				}
			}
			r.Sessions = append(r.Sessions, at(d, "09:00", "Maren", "yard", tr...))
		}
		return r
	}
	for _, x := range []struct {
		bad  []int
		want string
	}{{[]int{3}, noTrend}, {[]int{3, 3}, noTrend}, {[]int{1, 3, 4}, rising}} {
		r := stay(x.bad...)
		c := sit(r, 8)
		if c.Corrections.Trend.Direction != x.want {
			t.Errorf("%v: %q", x.bad, c.Corrections.Trend.Direction)
		}
		if says := strings.Contains(gateOf(c, GateCorrections).Say, "More trials are corrected"); says != (x.want == rising) {
			t.Errorf("%v: gate says %q", x.bad, gateOf(c, GateCorrections).Say)
		}
	}
}

// A cue that slips is a health sign as well as slower answers are.
func TestSlippingIsAHealthSign(t *testing.T) {
	r := record()
	for d := 1; d <= 8; d++ {
		r.Sessions = append(r.Sessions, at(d, "09:00", "Maren", "yard", many("sit", 6, 0)...))
	}
	if slices.Contains(codesOf(Assess(r, barsOf(r), day1+7)), "health") {
		t.Error("a caution on a dog that does well")
	}
	for d := 9; d <= 11; d++ {
		r.Sessions = append(r.Sessions, at(d, "09:00", "Maren", "yard", many("sit", 1, 5)...))
	}
	a := Assess(r, barsOf(r), day1+10)
	if i := slices.IndexFunc(a.Cautions, func(c Caution) bool { return c.Code == "health" }); i < 0 || !cueOf(a, "sit").Alarm.On ||
		!strings.Contains(a.Cautions[i].Why, "more asks refused than before, since ") {
		t.Errorf("alarm %v, cautions %v", cueOf(a, "sit").Alarm.On, codesOf(a))
	}
}

// A hold kept for five seconds is no minute: it does not count for other people,
// places and the owner. Breaks and tallies do, and the first-cue share keeps it.
func TestShortHoldsAreNoEvidenceOfLongOnes(t *testing.T) {
	stay := func(others float64) CueAssessment {
		holds := func(target float64) (out []training.Trial) {
			for range 4 {
				out = append(out, kept("stay", target, target))
			}
			return out
		}
		r := record()
		r.Dog.Main = "Maren"
		for d := 1; d <= 6; d++ {
			r.Sessions = append(r.Sessions, at(d, "09:00", "Maren", "yard", holds(60)...),
				at(d, "12:00", "Ivo", []string{"barn", "market"}[d%2], holds(others)...), at(d, "15:00", "Owner", "market", holds(others)...))
		}
		return cueOf(Assess(r, barsOf(r), day1+5), "stay")
	}
	c := stay(60)
	if !gateOf(c, GatePeople).Met() || !gateOf(c, GatePlaces).Met() || !c.Owner.Confirmed {
		t.Errorf("a minute for everybody: %s %s %s", gateOf(c, GatePeople).Say, gateOf(c, GatePlaces).Say, c.Owner.Say)
	}
	c = stay(5)
	if gateOf(c, GatePeople).Met() || gateOf(c, GatePlaces).Met() || c.Owner.Confirmed {
		t.Errorf("five seconds for others: %s %s %s", gateOf(c, GatePeople).Say, gateOf(c, GatePlaces).Say, c.Owner.Say)
	}
	if c.FirstCue.Yes != 72 || c.FirstCue.Of != 72 {
		t.Errorf("first-cue share %d/%d", c.FirstCue.Yes, c.FirstCue.Of)
	}
	for _, s := range []string{gateOf(c, GatePeople).Say, gateOf(c, GatePlaces).Say, c.Owner.Say} {
		if !strings.Contains(s, "holds kept for less than 1:00 min left out") {
			t.Errorf("not said: %s", s)
		}
	}
	r := record(at(1, "09:00", "Maren", "yard", kept("stay", 60, 60)))
	r.Dog.Main = "Maren"
	for d := 1; d <= 4; d++ {
		r.Sessions = append(r.Sessions, at(d, "12:00", "Ivo", "yard", counted("stay", 4, 4)), at(d, "15:00", "Maren", "yard", counted("stay", 4, 4)))
	}
	if g := gateOf(cueOf(Assess(r, barsOf(r), day1+5), "stay"), GatePeople); !g.Met() {
		t.Errorf("tallies: %s", g.Say)
	}
}

// What was tried before any teaching judges nothing and is shown apart.
func TestBaselineSessionsStandApart(t *testing.T) {
	r := record(threePlaces("Maren", "sit", 6)...)
	for i := range r.Sessions {
		r.Sessions[i].Start = r.Sessions[i].Start.AddDate(0, 0, 1)
	}
	a := Assess(r, barsOf(r), day1+7)
	q := r
	first := at(1, "08:00", "Owner", "market", many("sit", 6, 4)...)
	first.Baseline = true
	q.Sessions = append(slices.Clone(r.Sessions), first)
	b := Assess(q, barsOf(q), day1+7)
	c := cueOf(b, "sit")
	if c.Before == nil || c.Before.Yes != 6 || c.Before.Of != 10 {
		t.Fatalf("before teaching: %+v", c.Before)
	}
	for i := range b.Cues {
		b.Cues[i].Before = nil
	}
	b.Cautions = a.Cautions
	if x, y := fmt.Sprintf("%+v", a), fmt.Sprintf("%+v", b); len(x) != len(y) || a.LeftOut != b.LeftOut || a.Trials != b.Trials {
		t.Errorf("a session before teaching changed the judgement: %d and %d bytes, left out %d and %d", len(x), len(y), a.LeftOut, b.LeftOut)
	}
}

// A verdict says when it was earned.
func TestAVerdictSaysHowOldItIs(t *testing.T) {
	r := goodStay(5, 6, nil)
	fresh := Assess(r, barsOf(r), day1+6)
	old := Assess(r, barsOf(r), day1+16)
	if fresh.Verdict != Ready || old.Verdict != Ready || !old.OwnerConfirmed {
		t.Fatalf("%s %s %v: %v", fresh.Verdict, old.Verdict, old.OwnerConfirmed, old.Why)
	}
	last := cueOf(old, "sit").LastDay
	want := fmt.Sprintf("READY on %s, the last session. Not asked for %d days.", last.Time(time.UTC).Format("Mon 2 Jan"), day1+16-last)
	if !slices.Contains(old.Why, want) || old.Stale != int(day1+16-last) || cueOf(old, "sit").Stale != old.Stale {
		t.Errorf("%q has not %q", old.Why, want)
	}
	// Of a cue too, though another is asked every day.
	one := fmt.Sprintf("Ready on %s, not asked for %d days: ", last.Time(time.UTC).Format("Mon 2 Jan"), day1+16-last)
	q := r
	for d := 6; d <= 17; d++ {
		q.Sessions = append(slices.Clone(q.Sessions), at(d, "18:00", "Maren", "yard", many("down", 5, 0)...))
	}
	if a := Assess(q, barsOf(q), day1+16); !strings.HasPrefix(cueOf(a, "sit").Reason, one) || strings.Contains(cueOf(a, "down").Reason, "not asked") {
		t.Errorf("%q is not %q", cueOf(a, "sit").Reason, one)
	}
	if strings.Contains(cueOf(fresh, "sit").Reason, "not asked") {
		t.Errorf("fresh: %q", cueOf(fresh, "sit").Reason)
	}
	if !strings.Contains(old.OwnerWhy, "the owner's last lesson, ") || old.OwnerStale == 0 {
		t.Errorf("owner: %q", old.OwnerWhy)
	}
	// From the third day on.
	for n, stale := range map[training.Day]bool{2: false, 3: true} {
		a := Assess(r, barsOf(r), last+n)
		if (a.Stale > 0) != stale || strings.Contains(strings.Join(a.Why, " "), "READY on") != stale {
			t.Errorf("%d days later: %q", n, a.Why)
		}
	}
}

func TestWhatTheDogsVerdictRestsOnIsSaid(t *testing.T) {
	r := record(threePlaces("Maren", "sit", 6)...)
	r.Dog.Owners = nil
	for d := 1; d <= 3; d++ {
		r.Sessions = append(r.Sessions, at(d, "15:00", "Owner", "yard", many("sit", 6, 0)...))
	}
	a := Assess(r, barsOf(r), day1+5)
	why := strings.Join(a.Why, " ")
	if !strings.Contains(why, "No goal is agreed with the owner; judged on the cues that were asked: sit.") || !strings.Contains(why, "The one cue, sit, is ready") {
		t.Errorf("%q", why)
	}
	if c := cueOf(a, "sit"); !c.Owner.Confirmed || !strings.Contains(c.Owner.Say, noOwner) || !strings.Contains(a.OwnerWhy, noOwner) {
		t.Errorf("owner: %q, %q", c.Owner.Say, a.OwnerWhy)
	}
	// All classes are told, and one agreed cue is not "1 agreed cues".
	r.Dog.Goals = []training.Goal{{Cue: "sit"}, {Cue: "down"}, {Cue: "come"}, {Cue: "leave it"}}
	r.Sessions = append(r.Sessions, at(2, "18:00", "Maren", "yard", many("down", 6, 0)...), at(3, "18:00", "Maren", "yard", many("leave it", 2, 16)...))
	r.Dog.Holds = []training.VetHold{{From: day1 + 5, Cues: []string{"down"}}}
	a = Assess(r, barsOf(r), day1+6)
	if a.Why[0] != "1 of 4 agreed cues ready; not ready: leave it; on hold for the vet: down; never asked: come." {
		t.Errorf("%q", a.Why)
	}
	r.Dog.Goals = []training.Goal{{Cue: "come"}}
	if a := Assess(r, barsOf(r), day1+6); a.Why[0] != "The one agreed cue, come, is not shown: it was never asked." {
		t.Errorf("%q", a.Why)
	}
	before := at(1, "07:00", "Maren", "yard", many("come", 4, 3)...)
	before.Baseline = true
	q := r
	q.Sessions = append(slices.Clone(r.Sessions), before)
	if a := Assess(q, barsOf(q), day1+6); a.Why[0] != "The one agreed cue, come, is not shown: it was asked before teaching only." || !slices.Equal(a.BeforeOnly, []string{"come"}) {
		t.Errorf("%q %q", a.Why, a.BeforeOnly)
	}
	if a := Assess(q, barsOf(q), day1-1); len(a.BeforeOnly) > 0 {
		t.Errorf("before it was asked: %q", a.BeforeOnly)
	}
	r.Dog.Goals = []training.Goal{{Cue: "sit"}}
	r.Dog.Holds = []training.VetHold{{From: day1 + 5}}
	if a := Assess(r, barsOf(r), day1+6); a.OwnerConfirmed || a.OwnerWhy != "Owner lessons wait for the vet. "+noOwner {
		t.Errorf("on hold: %v %q", a.OwnerConfirmed, a.OwnerWhy)
	}
}

// A hold of the collar alone lets the dog be trained, whatever it lists.
func TestACollarHoldForbidsNoCue(t *testing.T) {
	r := record(threePlaces("Maren", "place", 2)...)
	r.Dog.Holds = []training.VetHold{{From: day1 + 1, Cues: []string{"place"}, CollarOnly: true}}
	if c := cueOf(Assess(r, barsOf(r), day1+1), "place"); c.Verdict == OnHold || c.HeldOut != 0 {
		t.Errorf("%s, %d held out", c.Verdict, c.HeldOut)
	}
}

// A second session is not yet slower than usual: there is no usual.
func TestOneSessionIsNoBaselineForSpeed(t *testing.T) {
	quick := []training.Trial{yes("sit", .6), yes("sit", .5), yes("sit", .7)}
	slow := []training.Trial{yes("sit", 1.3), yes("sit", 1.4), yes("sit", 1.5)}
	r := record(at(1, "09:00", "Maren", "yard", quick...), at(2, "09:00", "Maren", "market", slow...))
	if c := sit(r, 2); c.Latency.Doubled {
		t.Error("flagged with one earlier session")
	}
	r = record(at(1, "09:00", "Maren", "yard", quick...), at(2, "09:00", "Maren", "yard", quick...), at(3, "09:00", "Maren", "market", slow...))
	if c := sit(r, 3); !c.Latency.Doubled {
		t.Error("not flagged with two earlier sessions")
	}
}

func TestBarsArePrintedExactly(t *testing.T) {
	r := record(threePlaces("Maren", "sit", 6)...)
	r.Dog.Main = "Maren"
	bars := func(cue string) Criteria {
		return Resolve(r.Kennel, []training.Setting{{Name: "rate", Value: .975}, {Name: "floor", Value: .825}, {Name: "other-rate", Value: .955}, {Name: "limit", Value: 2.25}}, "Juno", cue)
	}
	r.Sessions = append(r.Sessions, at(7, "09:00", "Ivo", "yard", many("sit", 5, 1)...))
	c := cueOf(Assess(r, bars, day1+7), "sit")
	for name, want := range map[GateName]string{GateLevel: "97.5%", GatePeople: "asked for: 8 asks in 3 sessions, 95.5% on the first ask, and a cautious figure of 65%", GateSpeed: "2.25 s"} {
		if g := gateOf(c, name); !strings.Contains(g.Say, want) {
			t.Errorf("%s: %q has not %q", name, g.Say, want)
		}
	}
}

// A level is never lost above the rate at which it is reached.
func TestLeaveIsNeverAboveRate(t *testing.T) {
	k := kennel()
	leave := training.Setting{Name: "leave", Value: .95}
	if c := Resolve(k, []training.Setting{leave}, "Juno", "sit"); c.Leave != c.Rate {
		t.Errorf("leave %v above rate %v", c.Leave, c.Rate)
	}
	if CheckAgainst(leave, Defaults()) == nil || CheckAgainst(training.Setting{Name: "leave", Value: .9}, Defaults()) != nil {
		t.Error("leave above the rate is not refused, or at the rate is")
	}
}

// With Fisher's test and Holm's correction passed, "worse than elsewhere" is
// said, and without them that it is not claimed.
func TestBelowAndWorseAreTwoClaims(t *testing.T) {
	r := record()
	for d := 1; d <= 8; d++ {
		r.Sessions = append(r.Sessions, at(d, "09:00", "Maren", "yard", many("sit", 10, 0)...), at(d, "15:00", "Ivo", "yard", many("sit", 4, 4)...))
	}
	say := gateOf(sit(r, 8), GateContext).Say
	if !strings.Contains(say, "Ivo: also worse than with the others (p under 0.0001).") || strings.Contains(say, "not to say") {
		t.Errorf("%q", say)
	}
	r = record()
	for d := 1; d <= 4; d++ {
		r.Sessions = append(r.Sessions, at(d, "09:00", "Maren", "yard", many("sit", 3, 2)...), at(d, "15:00", "Ivo", "yard", many("sit", 2, 3)...))
	}
	c := sit(r, 4)
	if i := slices.IndexFunc(c.Contexts, func(x Context) bool { return x.Below && x.WorseP.Known && !x.Worse }); i < 0 {
		t.Fatalf("nobody is below and not worse: %+v", c.Contexts)
	}
	say = gateOf(c, GateContext).Say
	if !strings.Contains(say, "That is not to say worse than elsewhere.") || strings.Contains(say, "also worse") {
		t.Errorf("%q", say)
	}
}

// What waits for something to be done has no chance, and is said.
func TestForecastSaysWhatItWaitsFor(t *testing.T) {
	due := func(r training.Record, n int) training.Record {
		r.Dog.Boardings = []training.Boarding{{Arrived: day1, Due: day1 + training.Day(n)}}
		r.Dog.Main = "Maren"
		return r
	}
	dog := func(r training.Record, day int) *Forecast {
		return Assess(r, barsOf(r), day1+training.Day(day-1)).Forecast
	}
	// Nobody but Maren has asked, and one night is left.
	alone := due(record(threePlaces("Maren", "sit", 9)...), 9)
	f := dog(alone, 9)
	if f.Chance.Known || !f.Level.Known || !slices.Equal(f.Waits, []string{"sit: people"}) || f.LeastSittings != 3 || f.Cell != "waits: people" {
		t.Errorf("%+v", f)
	}
	if want := "Not ready by then as things stand. Sit waits for other people: at least 8 asks in 3 sessions, and one night is left. The level alone is likely to be there (over 19 in 20); that is not enough."; f.Words != want {
		t.Errorf("%q\nwant %q", f.Words, want)
	}
	// Five nights at a session a day are enough for three.
	f = dog(due(alone, 13), 9)
	if f.Chance.Known || !strings.HasPrefix(f.Words, "Depends on what is done. Sit waits for 8 asks in 3 sessions with other people. With that done and clean, ") {
		t.Errorf("%q %+v", f.Words, f)
	}
	// Nothing waits: the level is the chance.
	good := due(goodStay(6, 5, nil), 9)
	f = dog(good, 6)
	if !f.Chance.Known || f.Chance != f.Level || len(f.Waits) != 0 || f.Words != inWords(f.Level.V) || f.Cell != f.Words {
		t.Errorf("%+v", f)
	}
	// An agreed cue never asked, one on hold, an open incident: never left out.
	r := good
	r.Dog.Goals = []training.Goal{{Cue: "sit"}, {Cue: "come"}}
	f = dog(r, 6)
	if f.Chance.Known || !strings.Contains(f.Words, "Not ready by then as things stand. Come was never asked.") || f.Cell != "waits: never asked" {
		t.Errorf("%+v", f)
	}
	before := at(1, "07:00", "Maren", "yard", many("come", 4, 3)...)
	before.Baseline = true
	q := r
	q.Sessions = append(slices.Clone(r.Sessions), before)
	f = dog(q, 6)
	if f.Chance.Known || !strings.Contains(f.Words, "Come was asked before teaching only.") || !slices.Contains(f.Waits, "come: not asked yet") {
		t.Errorf("%+v", f)
	}
	r.Dog.Goals = []training.Goal{{Cue: "sit"}, {Cue: "down"}}
	r.Sessions = append(slices.Clone(r.Sessions), at(2, "20:00", "Maren", "yard", many("down", 6, 0)...))
	r.Dog.Holds = []training.VetHold{{From: day1 + 4, Cues: []string{"down"}}}
	f = dog(r, 6)
	if f == nil || f.Chance.Known || !strings.Contains(f.Words, "Down is on hold for the vet.") || f.Cell != "waits: vet" {
		t.Errorf("%+v", f)
	}
	r = good
	r.Incidents = []training.Incident{{Day: day1 + 5, Text: "yelped"}}
	f = dog(r, 6)
	if f.Chance.Known || !strings.HasPrefix(f.Words, "Not ready by then as things stand. An incident is open. ") || !slices.Contains(f.Waits, "open incident") || !strings.Contains(f.Cell, "incident") {
		t.Errorf("%+v", f)
	}
	if c := cueOf(Assess(r, barsOf(r), day1+5), "sit"); len(c.Change) != 1 || !strings.HasPrefix(c.Change[0], "close the open incident") || !strings.Contains(c.Change[0], "before the next ask") {
		t.Errorf("with an open incident: %q", c.Change)
	}
}

// Exactly the clean asks that are advised, in as many sessions over as many
// days, open the level gate.
func TestTheCleanAsksAdvisedOpenTheGate(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := record()
		size, aDay := rapid.IntRange(1, 9).Draw(t, "size"), rapid.IntRange(1, 3).Draw(t, "a day")
		n := rapid.IntRange(1, 20).Draw(t, "sessions")
		for i := range n {
			m := min(size, rapid.SampledFrom([]int{0, 0, 1, 2}).Draw(t, "missed"))
			r.Sessions = append(r.Sessions, at(i/aDay+1, fmt.Sprintf("%02d:00", 9+3*(i%aDay)), "Maren", "yard", counted("sit", size-m, size)))
		}
		day := (n-1)/aDay + 1 + rapid.SampledFrom([]int{0, 0, 1, 9}).Draw(t, "days off")
		c := sit(r, day)
		if c.CleanAsks == 0 {
			t.Skip()
		}
		l := lineWith(c.Change, "in a row, in")
		if !strings.HasPrefix(l, fmt.Sprintf("%d clean ask", c.CleanAsks)) {
			t.Fatalf("%d clean asks, but the line says %q", c.CleanAsks, l)
		}
		// As the line can be done at its plainest: the days share the sessions as
		// usual, the sessions the asks of their day.
		u := usualOf(span((&bench{}).h.sitsOf(r, day1+training.Day(day-1)), 0, day1+training.Day(day)))
		asks, sits := c.CleanAsks, c.CleanSittings
		for d := 1; d <= c.CleanDays; d++ {
			left := c.CleanDays - d
			today := min(asks-nightAsks*left, u.asks*u.aDay)
			k := min(sits-left, max(1, (today+u.asks-1)/u.asks))
			for i := range k {
				m := today / k
				if i < today%k {
					m++
				}
				r.Sessions = append(r.Sessions, at(day+d, fmt.Sprintf("%02d:00", 9+3*i), "Maren", "yard", counted("sit", m, m)))
			}
			asks -= today
			sits -= k
		}
		if g := gateOf(sit(r, day+c.CleanDays), GateLevel); !g.Met() {
			t.Fatalf("%q was done, %d asks and %d sessions over, and: %s", l, asks, sits, g.Say)
		}
	})
}

// sitsOf gives the sittings of sit, for tests.
func (*history) sitsOf(r training.Record, day training.Day) []cueSitting {
	for _, h := range newScene(r, day).histories(barsOf(r)) {
		if h.cue == "sit" {
			return h.sits
		}
	}
	return nil
}

// Twelve asks in the last eight lessons stay twelve when small clean lessons
// follow.
func TestSmallCleanLessonsPushNoneOut(t *testing.T) {
	r := record(at(1, "09:00", "Owner", "yard", many("sit", 6, 0)...), at(2, "09:00", "Owner", "yard", many("sit", 6, 0)...))
	for d := 3; d <= 12; d++ {
		if c := sit(r, d); !c.Owner.Confirmed {
			t.Fatalf("after %d small lessons: %s", d-3, c.Owner.Say)
		}
		r.Sessions = append(r.Sessions, at(d, "09:00", "Owner", "yard", yes("sit")))
	}
}

// More clean asks never make anything worse: over up to sixty sittings with
// several people and places, a gate that was met stays met and one that was not
// failed does not fail. The one exception is said when it applies: a handler,
// place or cell that is judged for the first time because the clean asks were
// its eighth trial or its second sitting.
func TestCleanAsksNeverMakeAnythingWorse(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := record()
		n := rapid.IntRange(1, 60).Draw(t, "sittings")
		weak := rapid.IntRange(0, 3).Draw(t, "weak")
		trials, sittings := map[string]int{}, map[string]int{}
		keys := func(s training.Session) []string { return []string{s.Handler, s.Place, s.Handler + s.Place} }
		for i := range n {
			of := rapid.SampledFrom([]int{1, 1, 2, 3, 5, 6, 8, 12, 30}).Draw(t, "of")
			missed := min(of, rapid.SampledFrom([]int{0, 0, 0, weak, 2 * weak}).Draw(t, "missed"))
			s := at(i/2+1, fmt.Sprintf("%02d:00", 9+3*(i%2)), rapid.SampledFrom([]string{"Maren", "Ivo", "Owner"}).Draw(t, "who"),
				rapid.SampledFrom([]string{"yard", "barn", "market"}).Draw(t, "where"), counted("sit", of-missed, of))
			r.Sessions = append(r.Sessions, s)
			for _, k := range keys(s) {
				trials[k] += of
				sittings[k]++
			}
		}
		last := r.Sessions[n-1]
		day := last.Day()
		r.Dog.Main = "Maren"
		a := cueOf(Assess(r, barsOf(r), day), "sit")
		extra := rapid.SampledFrom([]int{1, 2, 3, 8, 30}).Draw(t, "extra")
		s := last
		s.Trials = []training.Trial{counted("sit", extra, extra)}
		s.ID += "+"
		if rapid.Bool().Draw(t, "elsewhere") {
			s.Handler = rapid.SampledFrom([]string{"Maren", "Ivo", "Owner"}).Draw(t, "who else")
			s.Place = rapid.SampledFrom([]string{"yard", "barn", "market"}).Draw(t, "where else")
		}
		s.Start = s.Start.Add(3 * 60 * 60 * 1e9)
		q := r
		q.Sessions = append(slices.Clone(r.Sessions), s)
		newly := false
		for _, k := range keys(s) {
			newly = newly || trials[k] > 0 && (trials[k] < 8 || sittings[k] < 2)
		}
		b := cueOf(Assess(q, barsOf(q), day), "sit")
		for _, g := range a.Gates {
			h := gateOf(b, g.Name)
			judged := g.Name == GateContext || g.Name == GatePlaces || g.Name == GatePeople
			if newly && judged {
				continue
			}
			if g.Met() && !h.Met() || g.Standing != Failed && h.Standing == Failed {
				t.Fatalf("gate %s was %s and is %s after %d clean asks:\n%s\n%s", g.Name, g.Standing, h.Standing, extra, g.Say, h.Say)
			}
		}
		if a.Owner.Standing != Failed && b.Owner.Standing == Failed || a.Owner.Confirmed && !b.Owner.Confirmed {
			t.Fatalf("owner was %s and is %s:\n%s\n%s", a.Owner.Standing, b.Owner.Standing, a.Owner.Say, b.Owner.Say)
		}
	})
}

// Nothing is made harder, and nobody and nowhere new is tried, while an incident
// is open; nor is anything made harder while corrections rise.
func TestNothingGetsHarderAfterAnIncident(t *testing.T) {
	stay := func(harder bool) training.Record {
		r := record()
		r.Dog.Main = "Maren"
		for d := 1; d <= 8; d++ {
			tr := many("come", 6, 0)
			if harder {
				for i := range d / 2 {
					tr[i] = again("come", 2)
					tr[i].Corrections = []training.Correction{tap(float64(3+d), "blue", true)}
				}
			}
			r.Sessions = append(r.Sessions, at(d, "09:00", "Maren", "yard", tr...))
		}
		r.Sessions = append(r.Sessions, at(8, "15:00", "Maren", "yard", many("come", 5, 0)...))
		return r
	}
	has := func(r training.Record, reasons ...PlanReason) bool {
		a := Assess(r, barsOf(r), day1+7)
		return slices.ContainsFunc(Plan(a, r, barsOf(r), 0), func(l PlanLine) bool { return slices.Contains(reasons, l.Reason) })
	}
	// Agreed, it needs other people and places first; else it is made harder.
	notAgreed := func(r training.Record) training.Record {
		r.Dog.Goals = []training.Goal{{Cue: "sit"}}
		return r
	}
	if !has(stay(false), PlanBlocked) || has(stay(false), PlanPush) || !has(notAgreed(stay(false)), PlanPush) {
		t.Error("a dog that does well is not taken further")
	}
	if has(notAgreed(stay(true)), PlanPush) || has(stay(true), PlanPush) {
		t.Error("harder while corrections rise")
	}
	r := stay(false)
	r.Incidents = []training.Incident{{Day: day1 + 7, Text: "yelped"}}
	if has(r, PlanPush, PlanBlocked) || has(notAgreed(r), PlanPush, PlanBlocked) {
		t.Error("harder, or somebody and somewhere new, with an incident open")
	}
}

// A quarter of an hour serves every cue: one line of a cue is for several gates.
func TestAShortPlanServesManyCues(t *testing.T) {
	r := record()
	r.Dog.Main = "Maren"
	cues := []string{"sit", "down", "come"}
	for d := 1; d <= 4; d++ {
		var tr []training.Trial
		for _, c := range cues {
			tr = append(tr, many(c, 5, 0)...)
		}
		r.Sessions = append(r.Sessions, at(d, "09:00", "Maren", "yard", tr...))
	}
	r.Sessions = append(r.Sessions, at(4, "12:00", "Maren", "yard", training.Trial{Cue: "halt", Kind: training.Response, Outcome: training.Unscored, Asks: 1}))
	r.Dog.Goals = []training.Goal{{Cue: "sit"}, {Cue: "down"}, {Cue: "come"}, {Cue: "leave it"}, {Cue: "heel"}}
	a := Assess(r, barsOf(r), day1+3)
	p := Plan(a, r, barsOf(r), 15)
	seen := map[string]bool{}
	for _, l := range p {
		seen[l.Cue] = true
		if len(l.Why) > 90 {
			t.Errorf("a long reason: %q", l.Why)
		}
	}
	for _, c := range []string{"sit", "down", "come", "leave it", "heel"} {
		if !seen[c] {
			t.Errorf("%s is not in a quarter of an hour: %+v", c, p)
		}
	}
	i := slices.IndexFunc(p, func(l PlanLine) bool { return l.Cue == "come" && l.Reason == PlanBlocked })
	if i < 0 || p[i].Not != "Maren" || p[i].Where != "a new place off property" || p[i].What != "5 comes" ||
		p[i].Why != "Still missing: more asks, the level, other people and more places." {
		t.Errorf("%+v", p)
	}
	if last := p[len(p)-1]; last.Reason != PlanEasy || last.Cue == "halt" {
		t.Errorf("ends with %+v", last)
	}
	// Long holds are cut down rather than left out.
	r.Sessions = append(r.Sessions, at(4, "16:00", "Maren", "yard", kept("place", 120, 120), kept("place", 120, 120), kept("place", 120, 120)))
	r.Dog.Goals = []training.Goal{{Cue: "sit"}, {Cue: "place"}}
	p = Plan(Assess(r, barsOf(r), day1+3), r, barsOf(r), 10)
	i = slices.IndexFunc(p, func(l PlanLine) bool { return l.Cue == "place" })
	if i < 0 || p[i].Asks != 2 || p[i].What != "2 holds of place for 2:00 min" || p[i].Minutes != 5 {
		t.Errorf("ten minutes: %+v", p)
	}
	// What was never counted is no easy end.
	r = record(at(1, "09:00", "Maren", "yard", training.Trial{Cue: "halt", Kind: training.Response, Outcome: training.Unscored, Asks: 1}, no("sit")))
	for _, l := range Plan(Assess(r, barsOf(r), day1), r, barsOf(r), 0) {
		if l.Reason == PlanEasy {
			t.Errorf("easy end: %+v", l)
		}
	}
}
