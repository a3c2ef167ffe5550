package note

import (
	"fmt"
	"reflect"
	"strings"
	"testing"

	"firstcue/internal/training"
)

// TestMarks holds every construct to what it means: the marks in the canonical
// spelling, then outcome, asks and whatever else is known.
func TestMarks(t *testing.T) {
	for _, c := range []struct {
		line string
		want []string
	}{
		{"sit 3+", []string{"sit +: answered 1", "sit +: answered 1", "sit +: answered 1"}},
		{"sit3+", []string{"sit +: answered 1", "sit +: answered 1", "sit +: answered 1"}},
		{"sit 2+", []string{"sit +: answered 1", "sit +: answered 1"}},
		{"sit three yes", []string{"sit +: answered 1", "sit +: answered 1", "sit +: answered 1"}},
		{"sit ++-", []string{"sit +: answered 1", "sit +: answered 1", "sit -: refused 1"}},
		{"sit yes good no", []string{"sit +: answered 1", "sit +: answered 1", "sit -: refused 1"}},
		{"down - - @9 +", []string{"down - - @9 +: answered 3 @9 blue remote served"}},
		{"- down -@9+1.6", []string{"down - @9 +1.6: answered 2 latency 1.6 @9 blue remote served"}},
		{"down no level nine yes one point six", []string{"down - @9 +1.6: answered 2 latency 1.6 @9 blue remote served"}},
		{"down @9 +", []string{"down @9 +: answered 1 @9 blue remote served"}},
		{"down help +", []string{"down help +: answered 1 help"}},
		{"down help:lure + lure +, help lure +", []string{"down help:lure +: answered 1 lure", "down help:lure +: answered 1 lure", "down help:lure +: answered 1 lure"}},
		{"down - @9", []string{"down - @9: refused 1 @9 blue remote"}},
		{"down - @9 - @12 +", []string{"down - @9 - @12 +: answered 3 @9 blue remote @12 blue remote served"}},
		{"down - 2@9 +", []string{"down - @9 @9 +: answered 2 @9 blue remote served @9 blue remote served"}},
		{"down @leash - @verbal +, leash +, verbal +", []string{"down @leash - @verbal +: answered 2 leash verbal served", "down @leash +: answered 1 leash served", "down @verbal +: answered 1 verbal served"}},
		{"down 2- +", []string{"down - - +: answered 3"}},
		{"down -, -", []string{"down -: refused 1", "down -: refused 1"}},
		{"down - next - ; +", []string{"down -: refused 1", "down -: refused 1", "down +: answered 1"}},
		{"down x +, x:sat, wrong sat yes, wrong, xx+", []string{"down x +: answered 2 did ?", "down x:sat: refused 1 did sat", "down x:sat: refused 1 did sat", "down +: answered 1", "down x: refused 1 did ?", "down x x +: answered 3 did ?"}},
		{"down x:lay-down +, x - x:sat +", []string{"down x:lay-down +: answered 2 did lay-down", "down x - x:sat +: answered 4 did ?"}},
		{"down again +", []string{"down - +: answered 2"}},
		{"sit +1.8, + 1.8, +1,8, +1.8s, + 900ms", []string{"sit +1.8: answered 1 latency 1.8", "sit +1.8: answered 1 latency 1.8", "sit +1.8: answered 1 latency 1.8", "sit +1.8: answered 1 latency 1.8", "sit +0.9: answered 1 latency 0.9"}},
		{"come +1.8>5.1 +>5.1 + 0.9 > 4.8 +1.8s>5.1s", []string{"come +1.8>5.1: answered 1 latency 1.8 completion 5.1", "come +>5.1: answered 1 completion 5.1", "come +0.9>4.8: answered 1 latency 0.9 completion 4.8", "come +1.8>5.1: answered 1 latency 1.8 completion 5.1"}},
		{"come +1.0>- +>12.4", []string{"come +1>- +>12.4: answered 2 completion 12.4 begun 1"}},
		{"come +1.0>-, +", []string{"come +1>-: refused 1 begun 1", "come +: answered 1"}},
		{"sit -4 +, - 4.0, -4s - +", []string{"sit -4s +: answered 2 waited 4", "sit -4s: refused 1 waited 4", "sit -4s - +: answered 3 waited 4"}},
		{"sit - -4 +", []string{"sit - -4s +: answered 3"}}, // only the first ask's wait is a field
		{"sit early, already, ?, unscored", []string{"sit early: early 0", "sit already: already 1", "sit ?: unscored 1", "sit ?: unscored 1"}},
		{"sit 3early, 2 already", []string{"sit early: early 0", "sit early: early 0", "sit early: early 0", "sit already: already 1", "sit already: already 1"}},
		{"sit voice + hand - whistle +", []string{"sit voice +: answered 1 voice", "sit hand 1- whistle +: answered 2 hand"}},
		{"sit voice hand 5/5, hand voice +, voice+hand +", []string{"sit voice hand 5/5: counted 0 voice+hand 5/5", "sit voice hand +: answered 1 voice+hand", "sit voice hand +: answered 1 voice+hand"}},
		{"halt 2+, -", []string{"halt +: answered 1 context", "halt +: answered 1 context", "halt -: refused 1 context"}},
		{"halt voice +", []string{"halt voice +: answered 1 voice"}},
		{"down 8/10, 8 of 10 eight out of ten", []string{"down 8/10: counted 0 8/10", "down 8/10: counted 0 8/10", "down 8/10: counted 0 8/10"}},
		{"come tone 5/6,voice 6/8", []string{"come tone 5/6: counted 0 tone 5/6", "come voice 6/8: counted 0 voice 6/8"}},
		{"come 15m + 50ft + 3 metres +", []string{"come 15m +: answered 1 15 m", "come 15.24m +: answered 1 15.24 m", "come 3m +: answered 1 3 m"}},
		{"stay 2:00 +, - 0:45 @6", []string{"stay 2:00 +: held 1 target 120 held 120", "stay 2:00 -45s @6: broke 1 target 120 held 45 breaks 1 @6 blue remote"}},
		{"stay 2:00 - 0:45 @6 +", []string{"stay 2:00 -45s @6 +: broke 2 target 120 held 45 breaks 1 @6 blue remote served"}},
		{"stay 60s - 22s - 41s", []string{"stay 1:00 -22s -41s: broke 2 target 60 held 22 breaks 1"}},
		{"stay +, released, -", []string{"stay +: held 1", "stay +: held 1", "stay -: broke 1 breaks 1"}},
		{"stay 2:00 released 1:10, released 2:00, released 2:10, released", []string{"stay 2:00 released 1:10: released 1 target 120 held 70", "stay 2:00 +: held 1 target 120 held 120", "stay 2:00 released 2:10: held 1 target 120 held 130", "stay 2:00 +: held 1 target 120 held 120"}},
		{"place 60s released, - 22s, released, - 41s, 90s released", []string{"place 1:00 +: held 1 target 60 held 60", "place 1:00 -22s: broke 1 target 60 held 22 breaks 1", "place 1:00 +: held 1 target 60 held 60", "place 1:00 -41s: broke 1 target 60 held 41 breaks 1", "place 1:30 +: held 1 target 90 held 90"}},
		{"place released 60s, - 22s, released 90s", []string{"place released 1:00: held 1 held 60", "place -22s: broke 1 held 22 breaks 1", "place released 1:30: held 1 held 90"}},
		{"place +1.2> - 0:45", []string{"place +1.2> -45s: broke 1 latency 1.2 held 45 breaks 1"}},
		{"place +1.2>1.8 released 180s, +>1.8 -45s", []string{"place +1.2>1.8 released 3:00: held 1 latency 1.2 completion 1.8 held 180", "place +>1.8 -45s: broke 1 completion 1.8 held 45 breaks 1"}},
		{"place again +, x:sniffed +", []string{"place again +: held 2", "place x:sniffed +: held 2 did sniffed"}},
		{"stay 2 min yes, 2 minutes 30 seconds yes, 1.5 min +", []string{"stay 2:00 +: held 1 target 120 held 120", "stay 2:30 +: held 1 target 150 held 150", "stay 1:30 +: held 1 target 90 held 90"}},
		{"stay 2m away +", []string{"stay 2m away +: held 1 2 m"}},
		{"mat 6/6", []string{"place 6/6: counted 0 6/6"}},
		{"heel 3:20 2- @6", []string{"heel 3:20 2- @6: walked 1 walked 200 breaks 2 @6 blue remote served"}},
		{"heel 3:20 - @6 - @6", []string{"heel 3:20 - @6 - @6: walked 1 walked 200 breaks 2 @6 blue remote @6 blue remote served"}},
		{"heel 4:00 2-, 3:30 7-", []string{"heel 4:00 2-: walked 1 walked 240 breaks 2", "heel 3:30 7-: walked 1 walked 210 breaks 7"}},
		{"heel 3:20", []string{"heel 3:20: walked 1 walked 200"}},
		{"heel 3 min 20 s two breaks", []string{"heel 3:20 2-: walked 1 walked 200 breaks 2"}},
		{"Leave  It: yes", []string{"leave it +: answered 1"}},
		{"sit-x+", []string{"sit - x +: answered 3 did ?"}},
		{"sit-stay-come 3/5", []string{"sit-stay-come 3/5: counted 0 3/5"}},
		{"RECALL +", []string{"come +: answered 1"}},
		{"sit＋１.８, +½, +1½ +1 ½", []string{"sit +1.8: answered 1 latency 1.8", "sit +0.5: answered 1 latency 0.5", "sit +1.5: answered 1 latency 1.5", "sit +1.5: answered 1 latency 1.5"}},
		{"  • sit\u00A0\u200B+ \U0001F44D\U0001F3FD…!!", []string{"sit +: answered 1"}},
		{"sit \u0663+", []string{"sit +: answered 1", "sit +: answered 1", "sit +: answered 1"}},
	} {
		var got []string
		for _, x := range trialsOf(t, c.line) {
			got = append(got, show(x))
		}
		if !reflect.DeepEqual(got, c.want) {
			t.Errorf("%q:\n got %q\nwant %q", c.line, got, c.want)
		}
	}
}

// show writes a trial's fields, the known ones only.
func show(x training.Trial) string {
	s := fmt.Sprintf("%s: %s %d", x.Marks, x.Outcome, x.Asks)
	num := func(name string, n training.Num) {
		if n.Known {
			s += " " + name + " " + number(n.V)
		}
	}
	if x.Signal != "" {
		s += " " + string(x.Signal)
	}
	if x.Did != "" {
		s += " did " + x.Did
	}
	num("latency", x.Latency)
	num("completion", x.Completion)
	num("waited", x.Waited)
	num("begun", x.Begun)
	num("target", x.Target)
	num("held", x.Held)
	num("walked", x.Walked)
	if x.Breaks > 0 {
		s += fmt.Sprintf(" breaks %d", x.Breaks)
	}
	if x.Distance.Known {
		s += " " + number(x.Distance.V) + " m"
	}
	if x.Tally.Of > 0 {
		s += fmt.Sprintf(" %d/%d", x.Tally.Yes, x.Tally.Of)
	}
	for _, p := range x.Prompts {
		s += " " + p
	}
	for _, c := range x.Corrections {
		if c.Kind == training.ByCollar {
			s += " @" + number(c.Level.V) + " " + c.Device
		} else {
			s += " " + string(c.Kind)
		}
		if c.Served {
			s += " served"
		}
	}
	return s
}

func TestTimed(t *testing.T) {
	for _, c := range []struct {
		lines string
		want  []string
	}{
		{"0:14.2 sit\n0:15.1 +\n0:41.0 down\n0:45.0 down # again\n0:46.4 +\n2:05.0 place\n5:06.8 release\n6:01.6 early sit", []string{
			"0:14.2 sit +0.9: answered 1 latency 0.9", "0:41.0 down -4s +1.4: answered 2 latency 1.4 waited 4",
			"2:05.0 place released 181.8s: held 1 held 181.8", "6:01.6 sit early: early 0"}},
		{"0:14,2 sit\n0:15,1 +", []string{"0:14.2 sit +0.9: answered 1 latency 0.9"}},
		{"1:00 place 2:00\n1:02 +\n3:05 +", []string{"1:00.0 place 2:00 +2> released 2:03: held 1 latency 2 target 120 held 123"}},
		{"1:00 place 2:00\n1:50 release", []string{"1:00.0 place 2:00 released 50s: released 1 target 120 held 50"}},
		{"1:00 come\n1:01 start\n1:03 come\n1:05 start\n1:09 +", []string{"1:00.0 come +1>- +2>6: answered 2 latency 2 completion 6 begun 1"}},
		{"1:00 down\n1:04 x:sat\n1:05 down\n1:06 +", []string{"1:00.0 down x:sat 4s +1: answered 2 did sat latency 1 waited 4"}},
		{"1:00 down\n1:04 -\n1:05 @9\n1:06 down\n1:07 +", []string{"1:00.0 down -4s @9 +1: answered 2 latency 1 waited 4 @9 blue remote served"}},
		{"1:00 down\n1:04 -\n2:00 down\n2:01 +", []string{"1:00.0 down -4s next: refused 1 waited 4", "2:00.0 down +1: answered 1 latency 1"}},
		{"1:00 down\n1:30 sit\n1:31 +", []string{"1:00.0 down - next: refused 1", "1:30.0 sit +1: answered 1 latency 1"}},
		{"1:00 sit\n+\ndown +", []string{"1:00.0 sit +: answered 1", "down +: answered 1"}},
		{"2:00 down\n2:01 already\n2:10 ? sit", []string{"2:00.0 down already: already 1", "2:10.0 sit ?: unscored 1"}},
		{"0:10 heel\n0:20 halt\n0:21 +\n0:30 -\n0:31 @6\n0:40 halt\n1:10 release", []string{
			"0:10.0 heel 1:00 - @6: walked 1 walked 60 breaks 1 @6 blue remote served", "0:20.0 halt +1: answered 1 context latency 1", "0:40.0 halt - next: refused 1 context"}},
		{"0:10 heel\n0:20 heel\n1:10 release", []string{"0:10.0 heel 1:00 again: walked 2 walked 60"}},
		{"0:10 heel 3:20 2-", []string{"0:10.0 heel 3:20 2-: walked 1 walked 200 breaks 2"}},
		{"1:00 stay 2:00\n1:02 start\n1:03 +\n2:00 -\n2:01 @6\n2:02 stay\n2:03 +\n4:00 release", []string{
			"1:00.0 stay 2:00 +2>3 -57s @6 + next: broke 2 latency 2 completion 3 target 120 held 57 breaks 1 @6 blue remote served"}},
		{"1:00 stay\n1:30 -\n2:00 stay\n2:10 release", []string{"1:00.0 stay -30s next: broke 1 held 30 breaks 1", "2:00.0 stay released 10s: held 1 held 10"}},
		{"1:00:00 sit\n1:00:01.25 +", []string{"1:00:00.0 sit +1.25: answered 1 latency 1.25"}},
	} {
		var got []string
		for _, x := range trialsOf(t, c.lines) {
			got = append(got, show(x))
		}
		if !reflect.DeepEqual(got, c.want) {
			t.Errorf("%q:\n got %q\nwant %q", c.lines, got, c.want)
		}
	}
	if x := trialsOf(t, "6:01.6 early sit")[0]; x.At != training.Known(361.6) {
		t.Errorf("at %v", x.At)
	}
}

func TestContext(t *testing.T) {
	sessions := func(s string) []training.Session {
		t.Helper()
		r := Parse([]byte(s), options())
		for _, p := range r.Problems {
			t.Fatalf("%q: %v", s, p)
		}
		return r.Sessions
	}
	brief := func(s string) (out []string) {
		for _, x := range sessions(s) {
			out = append(out, strings.TrimSpace(fmt.Sprintf("%s %s %s %s %d %s %s %s %s", x.Dog, x.Handler, x.Start.Format("2 15:04"), x.Place, x.Part, x.Leash, number(x.Distraction.V), x.Device, known(x.WorkingLevel))))
		}
		return out
	}
	for _, c := range []struct {
		note string
		want []string
	}{
		{head + "sit +", []string{"Juniper Maren 4 09:10 back field 0 off 2"}},
		{head + "device: blue; level: 7\nsit +", []string{"Juniper Maren 4 09:10 back field 0 off 2 blue remote 7"}},
		{head + "sit @9 +", []string{"Juniper Maren 4 09:10 back field 0 off 2 blue remote"}},
		// a change after trials is another part of the session
		{head + "sit +\nhandler: Dana\nsit +\nplace: yard\nleash: line\nsit +\ndistraction: 3\nsit +", []string{
			"Juniper Maren 4 09:10 back field 0 off 2", "Juniper Dana 4 09:10 back field 1 off 2", "Juniper Dana 4 09:10 yard 2 long line 2", "Juniper Dana 4 09:10 yard 3 long line 3"}},
		// the same value again changes nothing
		{head + "sit +\nhandler: maren; place: Back  field\nsit +", []string{"Juniper Maren 4 09:10 back field 0 off 2"}},
		// a start on the same day keeps the level, on another day not
		{head + "level: 7\nsit +\nstart: 2026-03-04 15:00\nsit +\nstart: 2026-03-05 9:00\nsit +", []string{
			"Juniper Maren 4 09:10 back field 0 off 2 blue remote 7", "Juniper Maren 4 15:00 back field 0 off 2 blue remote 7", "Juniper Maren 5 09:00 back field 0 off 2"}},
		// another dog keeps the people and the place, not the collar
		{head + "device: device A; level: 7\nsit +\ndog: Moss; start: 2026-03-04 9:40\nsit +", []string{
			"Juniper Maren 4 09:10 back field 0 off 2 device A 7", "Moss Maren 4 09:40 back field 0 off 2"}},
		{head + "sit +\ndog: Moss\nstart: 2026-03-04 9:40\nsit +", []string{"Juniper Maren 4 09:10 back field 0 off 2", "Moss Maren 4 09:40 back field 0 off 2"}},
		{head + "sit +\nstart: 2026-03-04 9:40\ndog: Moss\nsit +", []string{"Juniper Maren 4 09:10 back field 0 off 2", "Moss Maren 4 09:40 back field 0 off 2"}},
		// a remark alone is a session; before any context it goes to the first
		{"> rain all day\n" + head + "sit +", []string{"Juniper Maren 4 09:10 back field 0 off 2"}},
		{head + "> did nothing, too hot\nstart: 2026-03-05 9:00\nsit +", []string{"Juniper Maren 4 09:10 back field 0 off 2", "Juniper Maren 5 09:00 back field 0 off 2"}},
		// back to the same dog and start
		{head + "sit +\ndog: Moss; start: 2026-03-04 9:40\nsit +\n" + head + "down +", []string{
			"Juniper Maren 4 09:10 back field 0 off 2", "Moss Maren 4 09:40 back field 0 off 2", "Juniper Maren 4 09:10 back field 1 off 2"}},
		{head + "part: 3\nsit +", []string{"Juniper Maren 4 09:10 back field 2 off 2"}},
	} {
		if got := brief(c.note); !reflect.DeepEqual(got, c.want) {
			t.Errorf("%q:\n got %q\nwant %q", c.note, got, c.want)
		}
	}
	// device changes: the level belongs to the collar it was found on
	s := sessions(head + "device: blue; level: 6\nsit @9 +\ndevice: device A\nsit @9 +")
	if len(s) != 2 || s[1].Part != 1 || s[1].Device != "device A" || s[1].WorkingLevel.Known || s[1].Trials[0].Corrections[0].Device != "device A" {
		t.Errorf("another device: %+v", s)
	}
	s = sessions("dog: juniper; handler: pat o'brien; scorer: Theo; baseline: yes\nstart: 2026-03-04T09:10:00+01:00[Europe/Berlin]; place: Yard.\nsource: Video; weather: wet, 8°; reward: “liver”, ball # both\nsit +")
	x := s[0]
	if x.Handler != "Pat O’Brien" || x.Scorer != "Theo" || !x.Baseline || x.Place != "yard" || x.Source != training.Video ||
		x.Weather != "wet, 8°" || x.Reward != "“liver”, ball" || x.Zone != "Europe/Berlin" || x.Leash != "" || x.Distraction.Known {
		t.Errorf("context: %+v", x)
	}
	if s := sessions(head + "sit +\n\n! snapped # at the vet"); s[0].Remarks[0] != (training.Remark{Text: "snapped # at the vet", Incident: true, Line: 4}) {
		t.Errorf("remark: %+v", s[0].Remarks)
	}
	if s := sessions(head + "sit +\nplace: yard\n# both\nsit +\n\n> end"); s[1].Note != "place: yard\n# both\nsit +\n\n> end" || s[1].Trials[0].Line != 3 || s[1].Remarks[0].Line != 5 ||
		s[1].Carried != "dog: Juniper; handler: Maren\nstart: 2026-03-04T09:10+01:00[Europe/Berlin]; part: 2; leash: off; distraction: 2" {
		t.Errorf("note and carried: %+v", s[1])
	}
}

func TestDefaults(t *testing.T) {
	o := options()
	o.Defaults = "dog: Moss; handler: Dana; start: today 9:10\nplace: yard; leash: off; distraction: 0"
	r := Parse([]byte("sit +"), o)
	if len(r.Problems)+len(r.Warnings) > 0 || r.Sessions[0].Dog != "Moss" || r.Sessions[0].Start.Format("2006-01-02 15:04") != "2026-04-01 09:10" {
		t.Errorf("%+v", r)
	}
	if again := Parse([]byte(r.Sessions[0].Carried+"\n"+r.Sessions[0].Note), options()); len(again.Problems) > 0 || same(again.Sessions[0], r.Sessions[0]) != "" {
		t.Errorf("carried %q: %+v", r.Sessions[0].Carried, again)
	}
	r = Parse([]byte("dog: Odin\nsit +"), o)
	if len(r.Problems) > 0 || r.Sessions[0].Dog != "Odin" || r.Sessions[0].Start.IsZero() {
		t.Errorf("the note wins over flags: %+v", r)
	}
	o.Defaults = "dog: Mos"
	r = Parse([]byte("sit +"), o)
	if got := r.Problems[0]; got.File != "flags" || got.Line != 0 || !reflect.DeepEqual(got.Near, []string{"Moss"}) {
		t.Errorf("%+v", got)
	}
	// an old note read again: today is the day it was written
	o = options()
	o.Written = o.Now.AddDate(0, 0, -20).UTC() // as a store may give it; the zone is still the kennel's
	if s := Parse([]byte(strings.Replace(head, "2026-03-04", "yesterday", 1)+"sit +"), o).Sessions; s[0].Day() != day("2026-03-11") || s[0].Start.Format("15:04Z07:00") != "09:10+01:00" {
		t.Errorf("start %v", s[0].Start)
	}
}

func TestAllowNew(t *testing.T) {
	o := options()
	o.AllowNew = true
	r := Parse([]byte("dog: Rex the  Third; handler: Kim; place: mill; device: grey; start: 2026-03-04 9:00; leash: off; distraction: 1\ncues: spin left, chin-rest\nspin left 3+\nSpin Left -\nchin-rest +\ndog: rex the third; start: 2026-03-05 9:00\nspin left +"), o)
	want := []Name{{Kind: "dog", Name: "Rex the Third"}, {Kind: "device", Name: "grey"}, {Kind: "handler", Name: "Kim"}, {Kind: "place", Name: "mill"},
		{Kind: "cue", Name: "spin left", CueKind: training.Response}, {Kind: "cue", Name: "chin-rest", CueKind: training.Response}}
	if len(r.Problems) > 0 || !reflect.DeepEqual(r.New, want) || len(r.Sessions) != 2 || len(r.Sessions[0].Trials) != 5 || r.Sessions[1].Dog != "Rex the Third" {
		t.Errorf("%+v\n%+v", r.Problems, r.New)
	}
	// A slip of the finger is not a new name, even when new names are allowed.
	for _, slip := range []struct{ note, near string }{
		{"dog: Mos; handler: Kim; place: mill; start: 2026-03-04 9:00\nsit +", "Moss"},
		{"dog: Moss; handler: Kim; place: mill; start: 2026-03-04 9:00\nheal 3:20 2-", "heel"},
		{"dog: Moss; handler: Kim; place: mill; start: 2026-03-04 9:00\ndwon 8/10", "down"},
	} {
		r := Parse([]byte(slip.note), o)
		if len(r.Problems) != 1 || !reflect.DeepEqual(r.Problems[0].Near, []string{slip.near}) || r.Sessions != nil {
			t.Errorf("%q: %+v, new %+v", slip.note, r.Problems, r.New)
		}
	}
	// Names that differ in their number are meant to differ.
	o.Kennel.Places = append(o.Kennel.Places, training.Place{Name: "field 1"})
	if r := Parse([]byte("dog: Moss; handler: Kim; place: field 2; start: 2026-03-04 9:00\nsit +"), o); len(r.Problems) != 0 {
		t.Errorf("field 2: %+v", r.Problems)
	}
}
