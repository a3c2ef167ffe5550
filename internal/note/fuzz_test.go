package note

import (
	"bytes"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"firstcue/internal/training"
)

// seeds are every note under testdata/notes and lines of each construct.
func seeds(f *testing.F) {
	_ = filepath.WalkDir("../../testdata/notes", func(path string, d os.DirEntry, err error) error {
		if err == nil && !d.IsDir() {
			if b, err := os.ReadFile(path); err == nil {
				f.Add(string(b))
			}
		}
		return nil
	})
	for _, s := range []string{
		"sit 3+", "down - - @9 +", "- @9 +1.6", "down @9 +", "down help +", "sit x:sat help:lure +", "sit +1.8>5.1", "sit +>5.1",
		"sit +1.0>- +>12.4", "stay 2:00 +, - 0:45 @6", "place 60s released, - 22s, released, - 41s, 90s released", "heel 4:00 2-, 3:30 7-",
		"down 8/10", "sit voice hand 5/5", "sit voice - hand +", "come 50ft whistle +0.9>4.8", "sit early, already, ?", "sit 3 early", "halt 2+",
		"stay 60s - 22s @leash +", "place +1.2>1.8 released 181.8s", "sit -4 +", "sit again +", "place again +", "heel 3 min 20 s 2-", "sit x 4.0 - 3s +1,8",
		"0:10 heel\n0:20 halt\n0:21 +\n0:30 -\n0:31 @6\n1:10 release", "1:00 stay 2:00\n1:02 start\n1:03 +\n2:00 -\n2:01 @6\n2:02 stay\n2:03 +\n4:00 release",
		"0:14.2 sit\n0:15 x:down\n0:16 sit\n0:17 start\n0:18 sit\n0:20 -", "6:01.6 early sit", "0:01 down\n0:03 - @9\n0:04 down\n0:05 +\n0:06 down\n0:09 -\n0:20 down\n0:21 +",
		"1:40.0 down -5s +1.4", "0:10.0 sit - next", "0:10 place -45s @6 + next\n9:00 sit ?", "sit three yes", "sit yes one point eight", "down eight out of ten", "sit + 👍", "sit 👍",
		"> remark\n! bitten", "handler: Dana\nsit +\nplace: yard\nsit -", "dog: Olive; start: 2026-03-05 8:00\nmat 6/6", "part: 3; baseline: yes; weather: wet, cold; reward: liver",
		"sit 1,800", "sit + 1, 8", "no nine yes", "sit no nine yes", "level: 9; device: red\nsit @9 +", "start: today 9:10; scorer: Theo\nsit +",
	} {
		f.Add(head + s)
		f.Add(s)
	}
}

// same reports how two sessions differ in what a note says, "" when they do not.
func same(a, b training.Session) string {
	a.Note, a.Carried, b.Note, b.Carried = "", "", "", ""
	strip := func(s *training.Session) {
		s.Trials = append([]training.Trial(nil), s.Trials...)
		for i := range s.Trials {
			s.Trials[i].Line = 0
		}
		s.Remarks = append([]training.Remark(nil), s.Remarks...)
		for i := range s.Remarks {
			s.Remarks[i].Line = 0
		}
	}
	strip(&a)
	strip(&b)
	if !a.Start.Equal(b.Start) || a.Start.Format("Z07:00") != b.Start.Format("Z07:00") {
		return "start " + a.Start.String() + " / " + b.Start.String()
	}
	b.Start = a.Start
	return differ(a, b)
}

func fuzzOptions(text string) Options {
	o := options()
	o.AllowNew = len(text)%2 == 0
	return o
}

func FuzzParse(f *testing.F) {
	seeds(f)
	f.Add("\xff\xfed\x00o\x00g\x00")
	f.Add("sit \xff +")
	f.Add("sit \x00")
	f.Fuzz(checkParse)
}

// checkParse holds Parse to its promises for any text.
func checkParse(t *testing.T, text string) {
	o := fuzzOptions(text)
	r := Parse([]byte(text), o)
	for _, p := range append(r.Problems, r.Warnings...) {
		var b bytes.Buffer
		if err := p.Write(&b); err != nil || p.Message == "" || !utf8.ValidString(b.String()) {
			t.Fatalf("problem %+v: %q", p, b.String())
		}
		if p.Column > len([]rune(p.Text))+1 && len(text) < maxLine {
			t.Fatalf("column %d beyond the line: %+v", p.Column, p)
		}
		if p.Line > strings.Count(text, "\n")+strings.Count(text, "\r")+1 && !strings.ContainsAny(text, "\u0085\u2028\u2029") && text[0] < 0x80 {
			t.Fatalf("line %d beyond the note", p.Line)
		}
	}
	if (len(r.Problems) > 0) != (r.Sessions == nil) {
		t.Fatalf("%d problems and %d sessions", len(r.Problems), len(r.Sessions))
	}
	clean, _, _ := cleanRunes([]rune(text))
	if again, _, _ := cleanRunes(clean); string(again) != string(clean) {
		t.Fatalf("cleaning twice changes %q to %q", string(clean), string(again))
	}
	// Each session's own text, with what it carries, is a note of its own.
	for i, s := range r.Sessions {
		one := Parse([]byte(s.Carried+"\n"+s.Note), o)
		if len(one.Problems) > 0 || len(one.Sessions) != 1 {
			t.Fatalf("session %d alone: %v %d sessions\n%q\n%q", i, one.Problems, len(one.Sessions), s.Carried, s.Note)
		}
		if d := same(s, one.Sessions[0]); d != "" {
			t.Fatalf("session %d alone differs: %s\n%q\n%q", i, d, s.Carried, s.Note)
		}
	}
}

func FuzzParseFormat(f *testing.F) {
	seeds(f)
	f.Fuzz(checkFormat)
}

// pieces are what notes are made of. FuzzNotation strings them together, which
// reaches further into the notation than changing single bytes does.
var pieces = []string{" ", " ", " ", " ", "\n", "\n", ",", "+", "+", "-", "-", "x", "x:sat", "@9", "@leash", "@verbal", "help", "help:lure", "lure", "?", "early", "already",
	"again", "released", "release", "start", "next", "voice", "hand", "whistle", "context", "2", "3", "1.8", "0:45", "2:00", "45s", "15m", "50ft", "8/10", ">", "+1.8", "+1.8>5.1", "+1.0>-", "+>4", "+1.2>",
	"-4 ", "- 0:45", "released 1:10", "sit", "down", "stay", "place", "heel", "halt", "come", "leave it", "\nsit ", "\ndown ", "\nstay 2:00 ", "\nplace ", "\nheel 3:20 ", "\nhalt ",
	"\n0:10 ", "\n0:11.5 ", "\n0:20 ", "\n0:30 ", "\n1:00 ", "\n2:30.25 ", "\n5:00 ", "\n0:10 sit", "\n0:12 sit", "\n0:20 heel", "\n0:40 place ", "\n0:50 stay 2:00", "\n3:00 release", "\n3:00 +", "\n3:10 -",
	"\nhandler: Dana", "\nplace: yard", "\ndog: Moss", "\ndog: Odin; start: 2026-03-05 10:00", "\nstart: 2026-03-06 7:00", "\nstart: 2026-03-04 9:10", "\ndevice: device A", "\ndevice: red", "\nlevel: 7", "\nleash: off", "\nleash: line",
	"\n> it rained", "\n! growled", "\npart: 4", "\nbaseline: yes", "\nscorer: Theo", "\nsource: video", "\nweather: wet", "yes", "no", "wrong", "three", "y", "n", "good", "broke", "broke at 22", "\u2705", "\u274C", "@tone", "@vibration", "5 m away", "30 yards", "twenty-five", "4/5 @9", "2- forward", "0-", "lvl 9", "at", "done", "- yes", "\n- yes", "\n- no", "\nsit\n- yes", "\ntired today",
	"\ncollar: on 8:00, off 12:10", "\nskin: fine", "\nowner: repeated 3, late 1", "\nlink: https://example.org/a;b#c for owner", "\n9:12 heel", "\n9:15 release", "1 min 30 ", "3 for 5", "one point eight", "seven of ten", "level nine", "#", "\u2014", "\U0001F44D", "."}

func FuzzNotation(f *testing.F) {
	f.Add([]byte{55, 7}, true)
	f.Fuzz(func(t *testing.T, choice []byte, known bool) {
		if len(choice) > 60 {
			return
		}
		var b strings.Builder
		if known {
			b.WriteString(head)
		}
		for _, c := range choice {
			b.WriteString(pieces[int(c)%len(pieces)])
		}
		checkParse(t, b.String())
		checkFormat(t, b.String())
	})
}

// checkFormat holds Format to giving back what was read, for any text.
func checkFormat(t *testing.T, text string) {
	o := fuzzOptions(text)
	for _, s := range Parse([]byte(text), o).Sessions {
		once := Format(s)
		r := Parse([]byte(once), o)
		if len(r.Problems) > 0 || len(r.Sessions) != 1 {
			t.Fatalf("%d sessions, problems %v in\n%s", len(r.Sessions), r.Problems, once)
		}
		if d := same(s, r.Sessions[0]); d != "" {
			t.Fatalf("%s in\n%s", d, once)
		}
		if twice := Format(r.Sessions[0]); twice != once {
			t.Fatalf("formatted\n%s\nthen\n%s", once, twice)
		}
		// The fields alone give the marks, but for what only the marks hold.
		for i, x := range s.Trials {
			marks := x.Marks
			x.Marks = ""
			bare := s
			bare.Trials, bare.Remarks = []training.Trial{x}, nil
			r := Parse([]byte(Format(bare)), o)
			if len(r.Problems) > 0 || len(r.Sessions) != 1 || len(r.Sessions[0].Trials) != 1 {
				t.Fatalf("trial %d, %q, from its fields: %v\n%s", i, marks, r.Problems, Format(bare))
			}
			y := r.Sessions[0].Trials[0]
			x.Line, y.Line, y.Marks = 0, 0, ""
			if order := len(x.Corrections) > 1 || len(x.Prompts) > 1; order {
				x.Corrections, y.Corrections, x.Prompts, y.Prompts = nil, nil, nil, nil
			}
			if d := differ(x, y); d != "" {
				t.Fatalf("trial %d, %q, from its fields: %s\n%s", i, marks, d, Format(bare))
			}
		}
	}
}

// TestNotation is a small, fixed sample of what FuzzNotation explores, with more
// lines to a note.
func TestNotation(t *testing.T) {
	rnd := rand.New(rand.NewPCG(1, 2))
	var starts, marks []string
	for i, s := range pieces {
		if strings.HasPrefix(s, "\n") && len(s) > 1 {
			starts = append(starts, s)
		} else if i > 5 && i < 53 {
			marks = append(marks, s)
		}
	}
	read := 0
	for range 1000 {
		var b strings.Builder
		b.WriteString(head)
		for range 1 + rnd.IntN(2) {
			b.WriteString(starts[rnd.IntN(len(starts))])
			for range rnd.IntN(3) {
				b.WriteString(" " + marks[rnd.IntN(len(marks))])
			}
		}
		checkParse(t, b.String())
		checkFormat(t, b.String())
		if len(Parse([]byte(b.String()), options()).Problems) == 0 {
			read++
		}
	}
	if read < 80 {
		t.Errorf("only %d of 1000 notes could be read: the sample says little", read)
	}
}
