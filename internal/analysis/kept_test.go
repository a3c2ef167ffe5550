package analysis

import (
	"encoding/json"
	"math"
	"slices"
	"testing"

	"firstcue/internal/training"
)

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

func TestResolve(t *testing.T) {
	k := kennel()
	k.Dogs = []training.Dog{{Name: "Juno", Aliases: []string{"June"}}}
	set := func(dog, cue, name string, v float64) training.Setting {
		return training.Setting{Dog: dog, Cue: cue, Name: name, Value: v}
	}
	all := []training.Setting{set("June", "recall", "agreed", .95), set("Juno", "", "agreed", .94), set("", "come", "agreed", .93), set("", "", "agreed", .92)}
	for i, want := range []float64{.90, .92, .93, .94, .95} {
		if got := Resolve(k, all[len(all)-i:], "juno", "come").Agreed; got != want {
			t.Errorf("with %d settings: %v, want %v", i, got, want)
		}
	}
	if c := Resolve(k, all, "Juno", "sit"); c.Agreed != .94 || c.Limit.V != 3 {
		t.Errorf("sit: %+v", c)
	}
	if c := Resolve(k, []training.Setting{set("", "", "agreed", 7), set("Other", "", "sure", .95), set("", "", "floor", .5)}, "Juno", "sit"); c != Resolve(k, nil, "Juno", "sit") {
		t.Error("an impossible setting, or another dog's, changed something")
	}
	if c := Resolve(k, nil, "Juno", "heel"); c.Breaks.V != .5 || c.Limit.Known {
		t.Errorf("heel: %+v", c)
	}
	for _, bad := range []training.Setting{set("", "", "speed of light", 1), set("", "", "agreed", 1.1), set("", "", "asks", 2.5), set("", "", "sure", math.NaN()), set("", "", "floor", .5)} {
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
		if slices.ContainsFunc(ladders(new(Criteria)), func(l ladder) bool { return l.lowName == b.Name }) {
			v = b.Low // it never lies above its neighbour
			all[0].Value = v
		}
		c := Resolve(k, all, "Juno", "sit")
		if got, ok := c.Value(b.Name); !ok || got.V != v {
			t.Errorf("%s set to %v reads %v", b.Name, v, got)
		}
		if d, ok := Defaults().Value(b.Name); ok && d.Known && (d.V < b.Low || d.V > b.High) {
			t.Errorf("the default of %s, %v, is outside its own range", b.Name, d.V)
		}
	}
	// An old name that means the same counts under the new one; the others are refused
	// with the name to look at.
	if c := Resolve(k, []training.Setting{set("", "", "rate", .8), set("", "", "icc", .2)}, "Juno", "sit"); c.Agreed != .8 || c.Likeness != .2 {
		t.Errorf("old names: %+v", c)
	}
	if now, same, old := Renamed("Leave"); now != "keep-sure" || same || !old {
		t.Errorf("leave became %q", now)
	}
	for old, r := range renamed {
		if _, ok := barNamed(old); ok != r.same {
			t.Errorf("%s: %+v", old, r)
		}
		if _, ok := barNamed(r.now); !ok && r.now != "" {
			t.Errorf("%s became %s, which is no bar", old, r.now)
		}
	}
	if err := CheckAgainst(set("", "", "keep-sure", .99), Defaults()); err == nil {
		t.Error("a level can be lost above where it is reached")
	}
	if _, ok := Defaults().Value("nothing"); ok {
		t.Error("a bar that is none has a value")
	}
}

// Few corrections now pass, more do not, a rise fails.
func TestCorrections(t *testing.T) {
	corrected := func(share func(i int) int, level func(i int) float64) CueAssessment {
		r := goodStay(6, 10, nil)
		for i := range r.Sessions {
			for j := range share(i) {
				r.Sessions[i].Trials[j].Corrections = []training.Correction{tap(level(i), "blue", true)}
			}
		}
		return sit(r, 6)
	}
	five := func(int) float64 { return 5 }
	if g := gateOf(corrected(func(int) int { return 1 }, five), GateCorrections); !g.Met() || math.Abs(g.Figure.Now.V-1) > 1e-9 {
		t.Errorf("one in ten: %+v", g)
	}
	if k := corrected(func(int) int { return 1 }, five).Corrections; k.RecentTrials != 40 || k.Recent != 4 || k.Trials != 180 {
		t.Errorf("the last forty: %+v", k)
	}
	if g := gateOf(corrected(func(i int) int { return 1 + one(i == 17) }, five), GateCorrections); g.Standing != Short || g.Lack.Code != LackCorrections {
		t.Errorf("just over one in ten: %+v", g)
	}
	c := corrected(func(int) int { return 1 }, func(i int) float64 { return 3 + float64(i)/4 })
	if g := gateOf(c, GateCorrections); g.Standing != Failed || g.Lack.Code != LackRising || c.Verdict != NotReady {
		t.Errorf("rising level: %+v", g)
	}
	d := c.Corrections.Devices[0]
	near(t, "slope", d.Trend.Slope, .25, 1e-12)
	near(t, "first level", d.First, 3, 0)
	c = corrected(func(i int) int { return 6 - i/3 }, five)
	if c.Corrections.Trend.Direction != Falling {
		t.Errorf("falling share: %+v", c.Corrections.Trend)
	}
	c = corrected(func(i int) int { return one(i == 3) }, five)
	if tr := c.Corrections.Devices[0].Trend; tr.Direction != NotJudged {
		t.Errorf("one session has no trend: %+v", tr)
	}
}

// One bad session after clean ones is an event and not a course.
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
		want Direction
	}{{[]int{3}, NoTrend}, {[]int{3, 3}, NoTrend}, {[]int{1, 3, 4}, Rising}} {
		r := stay(x.bad...)
		c := sit(r, 8)
		if c.Corrections.Trend.Direction != x.want {
			t.Errorf("%v: %q", x.bad, c.Corrections.Trend.Direction)
		}
	}
}

func TestTwoDevicesAreNeverPooled(t *testing.T) {
	a, b := again("sit", 1), again("sit", 1)
	a.Corrections, b.Corrections = []training.Correction{tap(9, "blue", true)}, []training.Correction{tap(60, "red", true)}
	c := one1(t, at(1, "09:00", "Maren", "yard", a, b), "sit")
	if len(c.Corrections.Devices) != 2 || c.Corrections.Devices[0].Median.V != 9 || c.Corrections.Devices[1].Median.V != 60 {
		t.Errorf("%+v", c.Corrections.Devices)
	}
}

func TestTalliesLeaveCorrectionsUnknown(t *testing.T) {
	fixed := yes("sit")
	fixed.Corrections = []training.Correction{tap(3, "blue", true)}
	r := record(
		at(1, "09:00", "Maren", "yard", counted("sit", 9, 10)),
		at(2, "09:00", "Maren", "yard", counted("sit", 9, 10), yes("sit"), fixed),
		at(3, "09:00", "Maren", "yard", yes("sit"), yes("sit")))
	c := cueOf(Assess(r, barsOf(r), day1+2), "sit")
	for i, want := range []struct{ asks, of, corrected, corrections int }{{10, 0, 0, 0}, {12, 2, 1, 1}, {2, 2, 0, 0}} {
		d := c.Course[i]
		if d.Asks != want.asks || d.CorrectionTrials != want.of || d.Corrected != want.corrected || d.Corrections != want.corrections {
			t.Errorf("day %d: %d asks, %d of %d corrected, %d corrections", i+1, d.Asks, d.Corrected, d.CorrectionTrials, d.Corrections)
		}
	}
	if k := c.Corrections; k.Trials != 4 || k.Count != 1 {
		t.Errorf("of the stay: %+v", k)
	}
	c = cueOf(Assess(r, barsOf(r), day1), "sit")
	if g := gateOf(c, GateCorrections); g.Figure.Now.Known || !g.Met() {
		t.Errorf("only a tally: %+v", g)
	}
}

// Sessions held before any teaching stand in no other figure.
func TestBaselineSessionsStandApart(t *testing.T) {
	r := goodStay(6, 5, nil)
	for i := range r.Sessions {
		r.Sessions[i].Start = r.Sessions[i].Start.AddDate(0, 0, 1)
	}
	a := Assess(r, barsOf(r), day1+7)
	q := r
	first := at(1, "08:00", "Owner", "market", many("sit", 6, 4)...)
	first.Baseline = true
	q.Sessions = append(slices.Clone(r.Sessions), first)
	b := Assess(q, barsOf(q), day1+7)
	if s := cueOf(b, "sit").BeforeTeaching; s == nil || s.Answered != 6 || s.Asks != 10 {
		t.Fatalf("before teaching: %+v", s)
	}
	for i := range b.Cues {
		b.Cues[i].BeforeTeaching = nil
	}
	x, _ := json.Marshal(a)
	y, _ := json.Marshal(b)
	if string(x) != string(y) {
		t.Error("a session before teaching changed the judgement")
	}
}

// A hold of the collar alone leaves the cues to be trained.
func TestACollarHoldForbidsNoCue(t *testing.T) {
	r := goodStay(2, 5, nil)
	r.Dog.Holds = []training.VetHold{{From: day1 + 1, Cues: []string{"sit"}, CollarOnly: true}}
	a := Assess(r, barsOf(r), day1+1)
	if c := cueOf(a, "sit"); c.Verdict == OnHold || c.LeftOut != 0 || a.Cautions[0].Code != CautionCollarOff {
		t.Errorf("%s, %d left out, %+v", c.Verdict, c.LeftOut, a.Cautions)
	}
}

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

// Cautions are shown where there is a reason, with the facts.
func TestCautions(t *testing.T) {
	codes := func(a Assessment) []CautionCode {
		var out []CautionCode
		for _, c := range a.Cautions {
			if len(c.Facts) == 0 {
				t.Errorf("%s without a fact", c.Code)
			}
			out = append(out, c.Code)
		}
		return out
	}
	r := goodStay(3, 5, nil)
	if got := codes(Assess(r, barsOf(r), day1+2)); !slices.Equal(got, []CautionCode{CautionVerdict}) {
		t.Errorf("a dog without a collar is shown %v", got)
	}
	tapped := again("sit", 1)
	tapped.Corrections = []training.Correction{tap(15, "blue", true)}
	s := at(4, "09:00", "Maren", "yard", tapped, yes("sit"))
	s.Device, s.WorkingLevel, s.Leash = "blue", training.Known(7), "off"
	r.Sessions = append(r.Sessions, s)
	got := codes(Assess(r, barsOf(r), day1+3))
	for _, code := range []CautionCode{CautionCollarLevels, CautionWear, CautionLaw, CautionViews, CautionLevelHigh, CautionOffLeash} {
		if !slices.Contains(got, code) {
			t.Errorf("no %s in %v", code, got)
		}
	}
	if slices.Contains(got, CautionCollarRefused) || slices.Contains(got, CautionWorkingLevel) {
		t.Errorf("%v", got)
	}
	for name, change := range map[string]func(*training.Dog){
		"reward only":  func(d *training.Dog) { d.RewardOnly = true },
		"a puppy":      func(d *training.Dog) { d.Born = day1 - 100 },
		"a collar off": func(d *training.Dog) { d.Holds = []training.VetHold{{From: day1, CollarOnly: true}} },
	} {
		q := r
		change(&q.Dog)
		if got := codes(Assess(q, barsOf(q), day1+3)); !slices.Contains(got, CautionCollarRefused) {
			t.Errorf("%s: %v", name, got)
		}
	}
}
