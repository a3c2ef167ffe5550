package report

import (
	"bytes"
	"io"
	"regexp"
	"slices"
	"strings"
	"testing"

	"firstcue/internal/analysis"
	"firstcue/internal/say"
	"firstcue/internal/training"
)

// said returns what an output says, each run of blanks as one, so that a test
// does not depend on where lines end.
func said(t *testing.T, write func(w io.Writer) error) string {
	t.Helper()
	var b bytes.Buffer
	if err := write(&b); err != nil {
		t.Fatal(err)
	}
	return strings.Join(strings.Fields(b.String()), " ")
}

func reportSays(t *testing.T, a analysis.Assessment, o Options) string {
	t.Helper()
	if o.Width == 0 {
		o.Width = 400 // cells keep their lines
	}
	return said(t, func(w io.Writer) error { return Text(w, a, o) })
}

func packetSays(t *testing.T, a analysis.Assessment, r training.Record) string {
	t.Helper()
	s := said(t, func(w io.Writer) error { return Packet(w, a, r, PacketOptions{}) })
	return regexp.MustCompile(`<[^>]*>`).ReplaceAllString(s, "")
}

func says(t *testing.T, text string, want ...string) {
	t.Helper()
	for _, w := range want {
		if !strings.Contains(text, w) {
			t.Errorf("it does not say %q", w)
		}
	}
}

func saysNot(t *testing.T, text string, never ...string) {
	t.Helper()
	for _, w := range never {
		if strings.Contains(text, w) {
			t.Errorf("it says %q", w)
		}
	}
}

// alone is a dog with one cue.
func alone(c analysis.CueAssessment) analysis.Assessment {
	a := juniper()
	a.Cues, a.NeverTried = []analysis.CueAssessment{c}, nil
	return a
}

func cueNamed(name string) analysis.CueAssessment {
	for _, c := range juniper().Cues {
		if c.Cue == name {
			return c
		}
	}
	panic("no cue " + name)
}

// A correction that was made is counted, whatever was agreed.
func TestRewardOnlyHidesNoCorrection(t *testing.T) {
	c := cueNamed("heel")
	c.Corrections.RewardOnly = true
	says(t, strings.ReplaceAll(correctionCell(c), "\n", " "), "2 by leash, though reward only")
	c.Corrections = analysis.Corrections{RewardOnly: true, None: true, Trials: 9}
	if got := correctionCell(c); got != "reward only" {
		t.Errorf("without one: %q", got)
	}
}

// A rate needs trials: of fewer than five the count says all.
func TestCorrectionsAreCountedBeforeTheyAreARate(t *testing.T) {
	c := cueNamed("come")
	c.Corrections = analysis.Corrections{Trials: 1, Corrected: 1, Count: 1, PerTen: known(10), PerTenLow: known(.25), PerTenHigh: known(55.72), PerTenNow: known(10)}
	if got := correctionCell(c); got != "1 in 1 trial" {
		t.Errorf("one trial: %q", got)
	}
	c.Corrections.Trials, c.Corrections.PerTen = 4, known(2.5)
	if got := correctionCell(c); got != "1 in 4 trials" {
		t.Errorf("four trials: %q", got)
	}
	c.Corrections.Trials, c.Corrections.PerTen, c.Corrections.PerTenLow, c.Corrections.PerTenHigh = 5, known(2), known(.05), known(11.14)
	says(t, correctionCell(c), "1 in 5 trials\n2.00 [0.05-11.14]\na ten, now 10.0")
}

func TestChangedBarsAreNamed(t *testing.T) {
	a := juniper()
	r := juniperRecord()
	usual := UsualBars(r.Kennel)
	plainly := "Bars changed from the usual"
	for i := range a.Cues {
		a.Cues[i].Criteria = usual(a.Cues[i].Cue)
	}
	if got := changedBars(a, usual); got != "" {
		t.Errorf("nothing was changed, and it says %q", got)
	}
	for i := range a.Cues {
		c := &a.Cues[i].Criteria
		c.Trials, c.Places, c.Rate = 3, 1, .5
	}
	a.Cues[2].Criteria.Limit = known(5)
	want := plainly + ": trials 3 (30), first asks 50% (90%), places 1 (3), limit 5 s (3 s) for down."
	if got := changedBars(a, usual); got != want {
		t.Errorf("got  %q\nwant %q", got, want)
	}
	// Without the kennel's list a cue's own limit is no change.
	if got := changedBars(a, nil); strings.Contains(got, "limit") {
		t.Errorf("without the list: %q", got)
	}
	says(t, reportSays(t, a, Options{Usual: usual}), want)
	says(t, said(t, func(w io.Writer) error { return Brief(w, a, r, Options{Width: 400}) }), want)
	says(t, packetSays(t, a, r), want, "the bar in force")
	var b bytes.Buffer
	if err := JSON(&b, a, Options{Usual: usual}); err != nil {
		t.Fatal(err)
	}
	says(t, strings.Join(strings.Fields(b.String()), " "),
		`"barsChanged": [ { "bar": "trials", "unit": "trials", "value": 3, "usual": 30, "cues": [ "heel", "sit", "down", "stay", "come", "leave it" ] }`,
		`{ "bar": "limit", "unit": "s", "value": 5, "usual": 3, "cues": [ "down" ] }`)
}

// After a hold the report says at once from when it counts, and that nothing is
// lost.
func TestCountedAfresh(t *testing.T) {
	a := juniper()
	a.Holds = nil
	a.Dog.Holds = []training.VetHold{{From: day(12), To: day(15), Reason: "sore hip, vet"}}
	a.Baseline, a.LeftOut = day(16), 24
	a.Cues[1].HeldOut = 24
	got := reportSays(t, a, Options{})
	says(t, got, "Counted afresh from Mon 16 Mar, after the vet hold of 12-15 Mar (sore hip, vet). 24 earlier trials are kept and not counted.",
		"24 from before the hold or in it, not counted")
	saysNot(t, got, "24 left out (vet hold)")
	if at, row := strings.Index(got, "Counted afresh"), strings.Index(got, "First cue"); at > row {
		t.Error("it stands below the figures")
	}
	a.Dog.Holds[0].From = training.Date(2026, 2, 27)
	says(t, afresh(a), "27 Feb to 15 Mar")
	a.Dog.Holds, a.Baseline = nil, a.Boarding.Arrived
	says(t, afresh(a), "Counted afresh from Wed 4 Mar, when this stay began.")
}

func TestUnansweredAsksAreNotTimed(t *testing.T) {
	for want, s := range map[string]analysis.Survival{
		"5 timed, 3 not answered":                      {Seen: 5, Censored: 3},
		"5 timed, 3 not answered\n20 without a time":   {Seen: 5, Censored: 3, Untimed: 20},
		"none timed, 3 not answered\n2 without a time": {Censored: 3, Untimed: 2},
		"7 timed": {Seen: 7},
	} {
		if got := timed(s); got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
}

// The interval that is explained is one that stands in the report.
func TestTheFootExplainsItsOwnNumbers(t *testing.T) {
	got := reportSays(t, juniper(), Options{})
	m := regexp.MustCompile(`such as (\[[^\]]+\]) for sit`).FindStringSubmatch(got)
	if m == nil || strings.Count(got, m[1]) < 2 {
		t.Errorf("the foot explains %q, which stands nowhere", m)
	}
	got = reportSays(t, alone(cueNamed("heel")), Options{})
	says(t, got, "The numbers in brackets are the 95% interval.")
	saysNot(t, got, "such as", `"now"`)
}

func TestOneDigitInAColumnOfTimes(t *testing.T) {
	if got := say.SecondsSpan(known(1), known(1), known(1)); got != "1.0 s [1.0-1.0]" {
		t.Error(got)
	}
	if got := say.SecondsSpan(known(3.02), known(2.96), training.Num{}, 3); got != "3.02 s [3.0-?]" {
		t.Error(got)
	}
	if got := say.SecondsSpan(known(75), known(12), known(90)); got != "1:15 [12.0-1:30]" {
		t.Error(got)
	}
}

func TestTheLongestHoldMayHaveLasted(t *testing.T) {
	c := cueNamed("stay")
	says(t, measureCell(c), "longest at least 3:01.8")
	c.Hold.Censored = 0
	says(t, measureCell(c), "longest 3:01.8")
	saysNot(t, measureCell(c), "at least")
}

func TestBriefForTheNextHandler(t *testing.T) {
	a, r := juniper(), juniperRecord()
	a.Cues[4].Agreed = false
	a.Holds, a.Dog.Holds = nil, nil
	heel := a.Cues[0].Breaks
	a.Cues[0].Breaks = &analysis.Breaks{}
	// The level was found days ago, and nobody noted one since.
	r.Sessions[1].Device = "blue remote"
	brief := func() string {
		return said(t, func(w io.Writer) error { return Brief(w, a, r, Options{Width: 400}) })
	}
	got := brief()
	says(t, got, "Agreed with the owner", "sit: sits before the road", "Down is not ready with anyone but Maren (13 of 20).",
		"58/60 97% [86-99]", "not walked", "come come two whistle pips not shown 33/34", "not agreed",
		"blue remote, level 7 on Tue 17 Mar: find it again today")
	saysNot(t, got, "- a min", "no working level noted")
	a.Cues[0].Breaks = heel
	// On hold without the collar nobody is told to look for a level.
	a.Holds = []training.VetHold{{From: day(19), NoCollar: true}}
	got = brief()
	says(t, got, "NO COLLAR", "level 7 on Tue 17 Mar: to be found again when the vet allows the collar")
	saysNot(t, got, "find it again today")
	// A new dog's words are there before its first trial.
	got = said(t, func(w io.Writer) error { return Brief(w, sorrel(), training.Record{Kennel: r.Kennel}, Options{}) })
	says(t, got, "Words and signals", "sit sit voice never asked", "No goal is entered")
}

func TestGoalWords(t *testing.T) {
	for want, g := range map[string]training.Goal{
		"sit, 90%":                    {Cue: "sit", Words: "sit, 90%", Bar: known(.9)},
		"come: comes away from ducks": {Cue: "come", Words: "comes away from ducks", Bar: known(.9)},
		"come, asked by Mr Aldous, at mill lane, distraction 3 or more, 90% on the first ask": {Cue: "come", Handler: "Mr Aldous", Place: "mill lane", Distraction: known(3), Bar: known(.9)},
		"sit": {Cue: "sit"},
	} {
		if got := goalWords(g); got != want {
			t.Errorf("got %q, want %q", got, want)
		}
	}
}

func TestPacketSpeaksOfWhatWasAgreed(t *testing.T) {
	a, r := juniper(), juniperRecord()
	a.Cues[4].Agreed = false
	a.Boarding.Wishes = "iPhone off, dog on: walk to the mill"
	a.Cues[2].Gates = append(a.Cues[2].Gates, analysis.Gate{Name: "goal", Standing: analysis.Failed}, analysis.Gate{Name: "goal", Standing: analysis.Short})
	a.Cues[2].Corrections.Devices[0].Low, a.Cues[2].Corrections.Devices[0].High = known(8), known(8)
	for i := range a.Cues { // nothing is ready
		if a.Cues[i].Verdict == analysis.Ready {
			a.Cues[i].Verdict = analysis.NotShown
		}
	}
	got := packetSays(t, a, r)
	says(t, got, "comenot one we agreed", "You asked for: iPhone off, dog on: walk to the mill.", "not yet the way you asked for", "level 8",
		"yelped at the gate and tucked the tail", "Agreed with you: blue remote, signed 3 March.")
	saysNot(t, got, "not yet shown the way you asked for", "levels 8 to 8", "Begin with what is not ready", "Yelped")
	a.Dog.Goals = nil
	got = packetSays(t, a, r)
	says(t, got, "No goal was written down with you; every cue is judged.")
	saysNot(t, got, "agreed with you are")
}

func TestMarkdownHasNoEmptyLabel(t *testing.T) {
	var b bytes.Buffer
	if err := Markdown(&b, juniper(), Options{}); err != nil {
		t.Fatal(err)
	}
	saysNot(t, b.String(), "****")
	says(t, b.String(), "\n  - The corrections must stop rising")
}

func TestObstaclesAreSaidOnce(t *testing.T) {
	c := cueNamed("down")
	below := "Below standard at barn (5/8, at best 88%)"
	c.Gates = []analysis.Gate{
		{Name: analysis.GatePlaces, Standing: analysis.Failed, Say: below + ". Tried enough at 3 places."},
		{Name: analysis.GateContext, Standing: analysis.Failed, Say: "Below standard: barn (5/8, at best 88%). That is not to say worse than elsewhere."},
		{Name: analysis.GateSpeed, Standing: analysis.Short, Say: "Nothing was timed."},
		{Name: analysis.GateHold, Standing: analysis.Short, Say: "Nothing was timed."},
	}
	c.Change = []string{"a", "b", "c", "d", "e", "f", "g"}
	got := reportSays(t, alone(c), Options{})
	says(t, got, `places: missed Tried enough at 3 places. Below standard as listed under "who and where".`,
		"speed; holding time: not shown yet Nothing was timed.", "And 2 more: report --all shows them.")
	saysNot(t, got, below)
	if n := strings.Count(got, "Nothing was timed."); n != 1 {
		t.Errorf("one sentence stands %d times", n)
	}
	got = reportSays(t, alone(c), Options{All: true})
	says(t, got, " F. G. ")
	saysNot(t, got, "--all")
	// Without the other list the sentence stays.
	c.Gates = c.Gates[:1]
	says(t, reportSays(t, alone(c), Options{}), below)
}

// A gate that nothing could fail is not what the dog has met.
func TestMetNeedsSomethingToJudge(t *testing.T) {
	c := cueNamed("down")
	c.Corrections = analysis.Corrections{None: true}
	c.Contexts = nil
	c.Gates = []analysis.Gate{{Name: analysis.GateCorrections, Standing: analysis.Met}, {Name: analysis.GateContext, Standing: analysis.Met},
		{Name: analysis.GateLevel, Standing: analysis.Short, Say: "No trial."}}
	saysNot(t, reportSays(t, alone(c), Options{}), " met corrections", " met who", "; corrections", "; who and where")
	c.Corrections.Trials, c.Contexts = 3, cueNamed("down").Contexts
	says(t, reportSays(t, alone(c), Options{}), " met corrections; who and where ")
}

func TestNoGoalIsSaid(t *testing.T) {
	a := juniper()
	saysNot(t, reportSays(t, a, Options{}), noGoal)
	a.Dog.Goals, a.Why = nil, []string{"0 of 6 cues ready"}
	says(t, reportSays(t, a, Options{}), "0 of 6 cues ready. No goal is entered; every cue is judged.")
}

// A dog that is home is not due, and nobody is told that it was not asked.
func TestGoneHome(t *testing.T) {
	a := juniper()
	a.Boarding.Home = day(20)
	got := reportSays(t, a, Options{})
	says(t, got, "Went home Fri 20 Mar.")
	saysNot(t, got, "Due home")
	n := MakeNightly(day(20), []analysis.Assessment{a}, nil, nil)
	for _, x := range n.Attention {
		if x.Code == "due" || x.Code == "overdue" || x.Code == "idle" || x.Code == "untouched" {
			t.Errorf("nightly: %s: %s", x.Code, x.Text)
		}
	}
	if r := n.Rows[0]; r.Due != 0 || r.DaysToDue.Known || dueWords(r) != "gone home" {
		t.Errorf("nightly's row: due %v, %q", r.Due, dueWords(r))
	}
	a.Boarding.Home = day(22) // planned for later
	says(t, reportSays(t, a, Options{}), "Due home Tue 24 Mar")
	saysNot(t, reportSays(t, a, Options{}), "Went home")
}

func TestBeforeItArrived(t *testing.T) {
	a := analysis.Assessment{Dog: juniper().Dog, AsOf: day(1), Verdict: analysis.NotShown, Why: []string{"Nothing has been logged that can be judged."},
		Cautions: juniper().Cautions}
	for name, got := range map[string]string{"report": reportSays(t, a, Options{}),
		"brief": said(t, func(w io.Writer) error { return Brief(w, a, juniperRecord(), Options{}) })} {
		if !strings.HasSuffix(got, "Juniper arrived on Wed 4 March 2026.") || strings.Contains(got, "NOT SHOWN") || strings.Contains(got, "Dial") {
			t.Errorf("%s: %q", name, got)
		}
	}
}

func TestNightlyNamesTheUsual(t *testing.T) {
	if got := firstToday(NightRow{Yes: 4, Of: 5, Usual: known(4.6)}); got != "4/5\n(usual 4.6)" {
		t.Error(got)
	}
	says(t, said(t, func(w io.Writer) error { return NightlyText(w, nightlyOf(juniper()), Options{}) }), "usual: how many of them last night's levels would have given")
}

// A chance of the level is never shown for a dog that something else keeps from
// being ready without that beside it, in the same cell or line.
func TestAChanceSaysWhatElseIsMissing(t *testing.T) {
	a := juniper()
	a.DaysToDue = known(1)
	a.Forecast = &analysis.Forecast{By: day(21), Nights: 1, Level: known(.9), Stays: known(.9), Improves: known(.9), Trials: 60,
		Waits: []string{"down: people", "down: context"}, Words: "Depends on what is done. Down waits for people.", Cell: "waits: incident, people, context, closed"}
	n := MakeNightly(day(20), []analysis.Assessment{a}, nil, nil)
	if got, want := n.Rows[0].chance, "waits: incident, other people, who and where\nlevel alone: about 9 in 10"; got != want {
		t.Errorf("the cell: %q, want %q", got, want)
	}
	found := false
	for _, x := range n.Attention {
		if x.Code == "due" {
			found = strings.HasSuffix(x.Text, "; waits: incident, other people, who and where; level alone: about 9 in 10")
			if !found {
				t.Errorf("the line: %q", x.Text)
			}
		}
	}
	if !found {
		t.Error("no line")
	}
	says(t, reportSays(t, a, Options{}), "Depends on what is done. Down waits for people.")
	a.Forecast = &analysis.Forecast{By: day(21), Nights: 1, Level: known(.99), Chance: known(.99), Words: "over 19 in 20", Cell: "over 19 in 20"}
	if got := MakeNightly(day(20), []analysis.Assessment{a}, nil, nil).Rows[0].chance; got != "over 19 in 20" {
		t.Errorf("nothing waits: %q", got)
	}
}

// What a dog did before it was taught stands apart, and in no other figure.
func TestBeforeTeachingStandsApart(t *testing.T) {
	a := juniper()
	b := share(6, 10, 1)
	a.Cues[1].Before = &b
	says(t, reportSays(t, a, Options{}), "58/60 97% [86-99]", "before teaching: 6/10")
	says(t, packetSays(t, a, juniperRecord()), "before teaching 6 of 10 first asks")
	a.Cues[1].FirstCue = &analysis.FirstCue{}
	if got := firstCueCell(a.Cues[1]); got != "before teaching: 6/10" {
		t.Errorf("nothing but that: %q", got)
	}
}

// Cues with limits of their own have rules of their own.
func TestEveryRuleIsInTheFoot(t *testing.T) {
	a := juniper()
	says(t, reportSays(t, a, Options{}), "First cue: "+rule+". The numbers")
	f := *a.Cues[2].FirstCue
	f.Rule = "started within 5 s"
	a.Cues[2].FirstCue = &f
	says(t, reportSays(t, a, Options{}), "First cue: "+rule+" (sit, stay, come and leave it); started within 5 s (down).")
}

// Counts of two digits on neighbouring days do not run together.
func TestCountsUnderAChartStandApart(t *testing.T) {
	c := cueNamed("sit")
	c.Days3 = nil
	for d := range 14 {
		c.Days3 = append(c.Days3, analysis.DayPoint{Day: day(4 + d), Yes: 10 + d%2, Of: 15, Trials: 15})
	}
	for _, width := range []int{40, 60, 80, 100} {
		var b bytes.Buffer
		if err := ChartText(&b, juniper(), c, Options{Width: width}); err != nil {
			t.Fatal(err)
		}
		for _, l := range strings.Split(b.String(), "\n") {
			if cells(l) > width {
				t.Errorf("at %d columns: %q", width, l)
			}
			f := strings.Fields(l)
			if len(f) < 2 {
				continue
			}
			want := map[string][]string{"yes/of": {"10/15", "11/15"}, "yes": {"10", "11"}, "of": {"15"}}[f[0]]
			for _, w := range f[1:] {
				if want != nil && !slices.Contains(want, w) {
					t.Errorf("at %d columns: %q", width, l)
				}
			}
		}
		if !strings.Contains(b.String(), " of ") && !strings.Contains(b.String(), "yes/of") {
			t.Errorf("at %d columns no counts:\n%s", width, b.String())
		}
	}
}
