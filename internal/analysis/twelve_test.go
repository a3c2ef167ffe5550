package analysis

import (
	"math"
	"slices"
	"testing"

	"firstcue/internal/training"
)

// The twelve invented sessions of a trainer's day, each with the answers worked
// out by hand, by exact tables and in R (survival, base). They are our own
// invention; the formulas behind them are published.

func near(t *testing.T, what string, got training.Num, want, tol float64) {
	t.Helper()
	if !got.Known {
		t.Errorf("%s is unknown, want %v", what, want)
	} else if math.Abs(got.V-want) > tol {
		t.Errorf("%s = %v, want %v", what, got.V, want)
	}
}

func shared(t *testing.T, what string, s Share, yes, of int, low, high float64) {
	t.Helper()
	if s.Answered != yes || s.Asks != of {
		t.Errorf("%s = %d/%d, want %d/%d", what, s.Answered, s.Asks, yes, of)
		return
	}
	near(t, what+" low", s.PlainLow, low, 0.0006)
	near(t, what+" high", s.PlainHigh, high, 0.0006)
}

// ruled is a share under another rule, with its plain interval.
func ruled(r RuleShare) Share {
	return newShare([]float64{float64(r.Answered)}, []float64{float64(r.Asks)}, .1)
}

// plainly is the plain interval of a context's counts.
func plainly(x Tally) Share {
	return newShare([]float64{float64(x.Answered)}, []float64{float64(x.Asks)}, .1)
}

func one1(t *testing.T, s training.Session, cue string) CueAssessment {
	t.Helper()
	r := record(s)
	return cueOf(Assess(r, barsOf(r), s.Day()), cue)
}

func TestBramblesTenSits(t *testing.T) {
	waited := again("sit", 1)
	waited.Latency, waited.Waited = training.Num{}, training.Known(4)
	c := one1(t, at(4, "09:00", "Maren", "yard", yes("sit", .8), yes("sit", 1.1), yes("sit", .9), waited,
		yes("sit", 1.4), yes("sit", 1.0), yes("sit", .7), yes("sit", 1.2), yes("sit", 6), yes("sit", .9)),
		"sit")
	shared(t, "inside 3 s", c.Share, 8, 10, .490, .943)
	shared(t, "inside 10 s", ruled(c.Share.Other[0]), 9, 10, .596, .982)
	near(t, "median", c.Latency.Median, 1.05, 1e-12)
	if c.Latency.Seen != 9 || c.Latency.Censored != 1 {
		t.Errorf("answered %d, censored %d", c.Latency.Seen, c.Latency.Censored)
	}
}

func TestOdinsRecalls(t *testing.T) {
	four := again("come", 0)
	four.Latency, four.Corrections = training.Num{}, []training.Correction{tap(9, "blue", true)}
	six := again("come", 0)
	six.Latency, six.Corrections = training.Num{}, []training.Correction{tap(9, "blue", false),
		tap(12, "blue", true)}
	s := at(9, "09:00", "Maren", "market", yes("come"), yes("come"), yes("come"), four, yes("come"), six)
	s.Device, s.WorkingLevel = "blue", training.Known(7)
	c := one1(t, s, "come")
	shared(t, "first cue", c.Share, 4, 6, .300, .903)
	k := c.Corrections
	if k.Corrected != 2 || k.Trials != 6 || k.Count != 3 {
		t.Errorf("corrected %d/%d, corrections %d", k.Corrected, k.Trials, k.Count)
	}
	near(t, "per ten", k.Rate, 5, 1e-12)
	d := k.Devices[0]
	near(t, "median level", d.Median, 9, 0)
	near(t, "highest over working", training.Known(d.High.V-d.Working.V), 5, 0)
	if d.Corrections != 3 || d.ServedCount != 2 {
		t.Errorf("device %+v", d)
	}
}

func TestPeppersDowns(t *testing.T) {
	lured := yes("down")
	lured.Did, lured.Prompts = "sat", []string{"lure"}
	sat := again("down", 0)
	sat.Latency, sat.Did = training.Num{}, "sat"
	c := one1(t, at(5, "09:00", "Ivo", "yard", yes("down", 1.5), yes("down", 1.8), yes("down", 2.0), lured,
		yes("down", 1.6), yes("down", 5.2), sat, yes("down", 1.4)), "down")
	shared(t, "inside 3 s", c.Share, 5, 8, .306, .863)
	shared(t, "inside 10 s", ruled(c.Share.Other[0]), 6, 8, .409, .929)
	if len(c.WrongAnswers) != 1 || c.WrongAnswers[0] != (WrongAnswer{"sat", 2}) {
		t.Errorf("wrong answers %+v", c.WrongAnswers)
	}
}

func TestJunosHaltsAndDowns(t *testing.T) {
	halts := append(many("halt", 10, 2), yes("sit"))
	apart := func(o training.Outcome) training.Trial {
		return training.Trial{Cue: "down", Kind: training.Response, Outcome: o}
	}
	downs := []training.Trial{yes("down", 1.0), yes("down", 1.2), yes("down", .9), yes("down", 1.1),
		apart(training.Early), apart(training.Early), apart(training.Early), apart(training.Already)}
	r := record(at(12, "09:00", "Maren", "market", append(halts, downs...)...))
	a := Assess(r, barsOf(r), day1+11)
	shared(t, "automatic sit", cueOf(a, "halt").Share, 10, 12, .552, .953)
	shared(t, "sit", cueOf(a, "sit").Share, 1, 1, .2065, 1)
	d := cueOf(a, "down")
	shared(t, "down", d.Share, 4, 4, .510, 1)
	if d.Early != 3 || d.AlreadyThere != 1 {
		t.Errorf("early %d, already %d", d.Early, d.AlreadyThere)
	}
}

func TestRustysPlace(t *testing.T) {
	c := one1(t, at(7, "09:00", "Ivo", "barn", kept("place", 60, 60), broke("place", 60, 22),
		kept("place", 60, 60), broke("place", 60, 41), kept("place", 60, 90)), "place")
	// Asked for one minute where two are the target: they say nothing of two.
	if k := c.Hold.Shorter; k.Answered != 3 || k.Asks != 5 || c.Asks != 0 || c.Hold.Seen != 2 ||
		c.Hold.Median.Known {
		t.Errorf("shorter %+v, counted %+v, breaks %d, median %v", k, c.Tally, c.Hold.Seen, c.Hold.Median)
	}
	r := record(at(7, "09:00", "Ivo", "barn", kept("place", 60, 60), broke("place", 60, 22),
		kept("place", 60, 60), broke("place", 60, 41), kept("place", 60, 90)))
	for target, want := range map[float64]float64{22: .8, 41: .6, 60: .6} {
		a := Assess(r, func(cue string) Criteria {
			c := barsOf(r)(cue)
			c.Target = training.Known(target)
			return c
		}, day1+6)
		near(t, "chance of holding", cueOf(a, "place").Hold.Chance, want, 1e-12)
	}
}

func TestMaplesRecallsByThreeRules(t *testing.T) {
	fifth := again("come", 0)
	fifth.Latency, fifth.Begun = training.Num{}, training.Known(1.0)
	s := at(10, "09:00", "Maren", "market", yes("come", .9, 5.1), yes("come", 1.1, 5.6),
		yes("come", 1.2, 9.5), yes("come", .8, 4.9), fifth)
	c := one1(t, s, "come")
	shared(t, "arrived", c.Share, 4, 5, .376, .964)
	found := false
	for _, o := range c.Share.Other {
		if o.Rule == (Rule{Limit: training.Known(3), Begun: true}) {
			shared(t, "turned", ruled(o), 5, 5, .566, 1)
			found = true
		}
	}
	if !found {
		t.Errorf("no share by the lenient rule: %+v", c.Share.Other)
	}
	yes6 := 0
	for _, q := range s.Trials {
		y, _ := FirstCueUnder(q, Rule{Limit: training.Known(3), Arrive: training.Known(6)})
		yes6 += y
	}
	if yes6 != 3 {
		t.Errorf("arrived within 6 s: %d, want 3", yes6)
	}
}

func TestZiggysHeel(t *testing.T) {
	r := record(at(11, "09:00", "Maren", "yard", walk(4, 2)),
		at(11, "10:00", "Maren", "market", walk(3.5, 7)), at(11, "11:00", "Maren", "barn", walk(5, 1)))
	c := cueOf(Assess(r, barsOf(r), day1+10), "heel")
	want := map[string][3]float64{"yard": {.50, .06, 1.81}, "market": {2, .80, 4.12},
		"barn": {.20, .01, 1.11}}
	seen := 0
	for _, x := range c.Places {
		if w, ok := want[x.Place]; ok {
			seen++
			k := breaksOf(x.Tally)
			near(t, x.Place, k.PerMinute, w[0], .005)
			near(t, x.Place+" low", k.Low, w[1], .005)
			near(t, x.Place+" high", k.High, w[2], .005)
		}
	}
	if seen != 3 {
		t.Errorf("places seen %d", seen)
	}
	near(t, "pooled", c.Walked.PerMinute, .80, 1e-9)
	near(t, "pooled low", c.Walked.Low, .3836, 5e-5)
	near(t, "pooled high", c.Walked.High, 1.4712, 5e-5)
	if c.Asks != 0 || c.Latency != nil {
		t.Error("a walk has no asks")
	}
	zero := breaksOf(Tally{Minutes: 5})
	near(t, "no break in 5 min, high", zero.High, .7378, 5e-5)
}

func TestFreyasSignals(t *testing.T) {
	signal := func(s training.Signal, tr training.Trial) training.Trial { tr.Signal = s; return tr }
	r := record(at(13, "09:00", "Ivo", "market",
		signal("voice", counted("come", 6, 8)), signal("whistle", counted("come", 8, 8)),
		signal("tone", counted("come", 5, 6)),
		signal("voice", counted("sit", 7, 10)), signal("hand", counted("sit", 10, 10)),
		signal("voice+hand", counted("sit", 5, 5))))
	a := Assess(r, barsOf(r), day1+12)
	got := map[string]Share{}
	for _, cue := range []string{"come", "sit"} {
		for _, x := range cueOf(a, cue).Signals {
			got[cue+" "+x.Signal] = plainly(x.Tally)
		}
	}
	shared(t, "come voice", got["come voice"], 6, 8, .409, .929)
	shared(t, "come whistle", got["come whistle"], 8, 8, .676, 1)
	shared(t, "come tone", got["come tone"], 5, 6, .436, .970)
	shared(t, "sit voice", got["sit voice"], 7, 10, .397, .892)
	shared(t, "sit hand", got["sit hand"], 10, 10, .722, 1)
	if s := cueOf(a, "sit"); s.Answered != 22 || s.Asks != 25 {
		t.Errorf("pooled sit %d/%d", s.Answered, s.Asks)
	}
}

func TestOliveWithoutACollar(t *testing.T) {
	r := record(at(6, "09:00", "Ivo", "barn", append(many("leave it", 5, 1), kept("place", 60, 60),
		kept("place", 60, 60), kept("place", 60, 60), kept("place", 60, 60), kept("place", 60, 60),
		kept("place", 60, 60))...))
	r.Dog.RewardOnly = true
	a := Assess(r, barsOf(r), day1+5)
	p, l := cueOf(a, "place"), cueOf(a, "leave it")
	both := plainly(Tally{Answered: p.Hold.Shorter.Answered + l.Answered, Asks: p.Hold.Shorter.Asks + l.Asks})
	shared(t, "both", both, 11, 12, .646, .985)
	for _, c := range a.Cues {
		if c.Corrections.Count != 0 || !c.Corrections.RewardOnly || len(c.Corrections.Devices) != 0 {
			t.Errorf("%s: corrections %+v", c.Cue, c.Corrections)
		}
	}
}

func TestTankChangesHands(t *testing.T) {
	r := record(at(16, "09:00", "Maren", "yard", counted("sit", 19, 20)),
		at(16, "10:00", "Ivo", "yard", counted("sit", 13, 20)),
		at(16, "11:00", "Owner", "yard", counted("sit", 9, 15)))
	r.Dog.Main = "Maren"
	c := cueOf(Assess(r, barsOf(r), day1+15), "sit")
	want := map[string][4]float64{"Maren": {19, 20, .764, .991}, "Ivo": {13, 20, .433, .819},
		"Owner": {9, 15, .357, .802}}
	for _, x := range c.People {
		w := want[x.Person]
		shared(t, x.Person, plainly(x.Tally), int(w[0]), int(w[1]), w[2], w[3])
	}
	shared(t, "pooled", c.Share, 41, 55, .617, .842)
	if c.Verdict != NotReady || c.Owner.Confirmed || c.Owner.Standing == Met {
		t.Errorf("verdict %s, owner %+v", c.Verdict, c.Owner)
	}
}

func TestMossScoredTwice(t *testing.T) {
	live, video := mossLive(), mossVideo()
	video.Rescores = live.ID
	r := record(video)
	r.Sessions[0].Rescores = ""
	a := Assess(r, barsOf(r), video.Day())
	yes, of := 0, 0
	var lat []float64
	for _, tr := range video.Trials {
		y, n := FirstCueUnder(tr, Rule{Limit: training.Known(3)})
		yes += y
		of += n
		if tr.Latency.Known && tr.Asks == 1 && tr.Kind == training.Response {
			lat = append(lat, tr.Latency.V)
		}
	}
	if yes != 8 || of != 10 {
		t.Errorf("video %d/%d", yes, of)
	}
	slices.Sort(lat)
	// .9 1.0 1.2 1.5 1.8 2.6 2.7 and place's 1.8
	if m := middle(append(lat[:4:4], append([]float64{1.8}, lat[4:]...)...)); math.Abs(m-1.65) > 1e-9 {
		t.Errorf("median %v of %v", m, lat)
	}
	come := cueOf(a, "come")
	near(t, "arrivals", come.Completion.Median, 7.4, 1e-9)
	p := cueOf(a, "place")
	if p.Hold.Seen != 0 || p.Hold.Censored != 1 || p.Hold.Longest.V != 180 {
		t.Errorf("place %+v", p.Hold)
	}
	if cueOf(a, "sit").Early != 1 {
		t.Error("the anticipation is not counted apart")
	}
	r = record(live, video)
	a = Assess(r, barsOf(r), video.Day())
	n := 0
	for _, c := range a.Cues {
		n += c.Asks
		if c.Hold != nil {
			n += c.Hold.Shorter.Asks
		}
	}
	if n != 10 {
		t.Errorf("%d trials count for Moss, want 10", n)
	}
}

func mossLive() training.Session {
	return at(14, "09:00", "Maren", "market", yes("sit"), yes("down"), yes("come"), no("down"),
		kept("place", 60, 60), yes("sit"), yes("sit"), yes("down"), no("come"), yes("sit"))
}

func mossVideo() training.Session {
	down4 := again("down", 1.4)
	down4.Waited = training.Known(5)
	sit6 := again("sit", .6)
	sit6.Waited = training.Known(1.5)
	place := kept("place", 60, 180)
	place.Latency = training.Known(1.8)
	early := training.Trial{Cue: "sit", Kind: training.Response, Outcome: training.Early}
	s := at(14, "09:00", "Maren", "market", yes("sit", .9), yes("down", 2.6), yes("come", 1.5, 6.8), down4,
		place, sit6, early, yes("sit", 1.0), yes("down", 1.8), yes("come", 2.7, 8.0), yes("sit", 1.2))
	s.Scorer, s.Source, s.ID = "Ivo", training.Video, "video"
	return s
}

func TestBiscuitsHip(t *testing.T) {
	sessions := []training.Session{
		at(6, "09:00", "Maren", "yard", yes("sit", 1.0), yes("sit", 1.1), yes("sit", .9)),
		at(8, "09:00", "Maren", "yard", yes("sit", 1.6), yes("sit", 1.8), yes("sit", 1.5)),
		at(9, "09:00", "Maren", "yard", yes("sit", 2.6), yes("sit", 3.4), yes("sit", 4.1), no("sit")),
		at(12, "09:00", "Maren", "yard", yes("sit", .5)), // must not have been logged
	}
	r := record(sessions...)
	c := cueOf(Assess(r, barsOf(r), day1+8), "sit")
	var meds []float64
	for _, p := range c.Course {
		meds = append(meds, p.Median.V)
	}
	if len(meds) != 3 || meds[0] != 1.0 || meds[1] != 1.6 || meds[2] != 3.4 {
		t.Errorf("medians %v, want 1.0 1.6 3.4", meds)
	}
	if !c.Latency.Doubled || c.Latency.DoubledOn != day1+8 || c.Latency.Recent.V != 3.4 ||
		c.Latency.Baseline.V != 1.0 {
		t.Errorf("doubling %+v", c.Latency)
	}
	if before := cueOf(Assess(r, barsOf(r), day1+7), "sit"); before.Latency.Doubled {
		t.Error("raised a day early")
	}
	r.Dog.Holds = []training.VetHold{{From: day1 + 9, To: day1 + 15, Reason: "hip"},
		{From: day1 + 9, Cues: []string{"sit"}, Reason: "hip", NoCollar: true}}
	a := Assess(r, barsOf(r), day1+16)
	c = cueOf(a, "sit")
	if c.Verdict != OnHold || c.Asks != 0 || c.LeftOut != 11 || a.Baseline != day1+16 || a.LeftOut != 11 {
		t.Errorf("verdict %s, trials %d, left out %d and %d, baseline %s", c.Verdict, c.Asks, c.LeftOut,
			a.LeftOut, a.Baseline)
	}
}
