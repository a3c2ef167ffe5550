package sheet

import (
	"errors"
	"fmt"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"firstcue/internal/note"
	"firstcue/internal/training"
)

var now = time.Date(2026, 3, 20, 12, 0, 0, 0, time.FixedZone("", 3600))

func kennel() training.Kennel {
	return training.Kennel{
		Dogs:     []training.Dog{{Name: "Tarn"}, {Name: "Bramble", RewardOnly: true}, {Name: "Moss", Aliases: []string{"Mossy"}, Holds: []training.VetHold{{From: day("2026-03-05"), To: day("2026-03-07"), Reason: "sore paw"}}}},
		Handlers: []training.Handler{{Name: "Ailsa", Role: training.Trainer}, {Name: "Corin", Role: training.Trainer}},
		Places:   []training.Place{{Name: "paddock"}, {Name: "car park", OffProperty: true}},
		Devices:  []training.Device{{Name: "blue remote", Lowest: training.Known(1), Highest: training.Known(100)}},
		Cues:     training.SeedCues(),
	}
}

func day(s string) training.Day { d, _ := training.ParseDay(s); return d }

type outcome struct {
	res      Result
	layout   Layout
	cols     Columns
	sessions []training.Session
	rejected []string
	err      error
}

// read runs the whole of the package over a text, as the import command does.
func read(text string, m Mapping, w Wishes, o Options) (out outcome) {
	open := func() (*Reader, Layout) {
		r, l, err := Open(strings.NewReader(text), w)
		if err != nil {
			out.err = err
		}
		return r, l
	}
	r, l := open()
	if out.err != nil {
		return
	}
	if out.cols, out.err = m.Find(l.Header); out.err != nil {
		return
	}
	if l, out.err = Detect(r, l, out.cols, w); out.err != nil {
		return
	}
	out.layout = l
	if o.Kennel.Cues == nil {
		o.Kennel = kennel()
	}
	o.Layout, o.Columns, o.Values, o.Now = l, out.cols, m.Values, now
	r, _ = open()
	out.res, out.err = Read(r, o, func(s training.Session) error { out.sessions = append(out.sessions, s); return nil },
		func(x Rejected) error {
			out.rejected = append(out.rejected, fmt.Sprintf("%d: %s", x.Line, x.Reason))
			return nil
		})
	return
}

// brief writes sessions as a reader of a test wants to see them.
func brief(ss []training.Session) string {
	var b strings.Builder
	for _, s := range ss {
		fmt.Fprintf(&b, "%s %s %s %s %s", s.Dog, s.Start.Format("2006-01-02T15:04Z07:00"), s.Handler, s.Place, s.Leash)
		if s.Distraction.Known {
			fmt.Fprintf(&b, " %v", s.Distraction.V)
		}
		if s.Part > 0 {
			fmt.Fprintf(&b, " part %d", s.Part)
		}
		b.WriteString(":")
		for i, t := range s.Trials {
			if i > 0 {
				b.WriteString(";")
			}
			b.WriteString(" " + t.Marks)
		}
		for _, r := range s.Remarks {
			fmt.Fprintf(&b, " > %s", r.Text)
		}
		b.WriteString("\n")
	}
	return b.String()
}

func check(t *testing.T, got outcome, want string, rejected ...string) {
	t.Helper()
	if got.err != nil {
		t.Fatal(got.err)
	}
	if s := brief(got.sessions); s != want {
		t.Errorf("got\n%swant\n%s", s, want)
	}
	if !reflect.DeepEqual(got.rejected, rejected) {
		t.Errorf("rejected\n%s\nwant\n%s", strings.Join(got.rejected, "\n"), strings.Join(rejected, "\n"))
	}
	if got.res.Sessions != len(got.sessions) || got.res.Rejected != len(rejected) {
		t.Errorf("result counts %+v", got.res)
	}
}

func TestReadPlainSheet(t *testing.T) {
	got := read("Dog,Start,Trainer,Location,Lead,Distraction,Command,Result,Latency (s),Asks,Level,Collar,Notes\n"+
		"Tarn,2026-03-04 09:10,Ailsa,paddock,off,2,sit,yes,1.8,,,,\n"+
		"Tarn,2026-03-04 09:10,ailsa,paddock,off,2,down,yes,,2,9,blue remote,\n"+
		"Tarn,2026-03-04 09:10,Ailsa,paddock,off,2,recall,no,,,,,\"saw a hare,\nran\"\n"+
		"mossy,2026-03-04 10:00,Corin,car park,leash,1,Sit,-  +1.6,,,,,\n", Mapping{}, Wishes{}, Options{})
	check(t, got, "Tarn 2026-03-04T09:10+01:00 Ailsa paddock off 2: sit +1.8; down - @9 +; come - > saw a hare, ran\n"+
		"Moss 2026-03-04T10:00+01:00 Corin car park leash 1: sit - +1.6\n")
	if got.layout.Delimiter != ',' || got.layout.Dates != YMD || got.layout.Decimal != '.' || got.layout.DecimalBy != "line 2: 1.8" {
		t.Errorf("layout %+v", got.layout)
	}
	if d := got.sessions[0].Device; d != "blue remote" {
		t.Errorf("device %q", d)
	}
}

const columns = "dog,start,handler,place,leash,distraction,device,cue,response,asks,latency,level,held,walked,breaks,target,yes,of,distance,signal,help,did,correction\n"

// cells fills the columns: session fields are the same in all.
func cells(trial map[string]string) string {
	set := map[string]string{"dog": "Tarn", "start": "2026-03-04 09:10", "handler": "Ailsa", "place": "paddock", "leash": "off", "distraction": "2", "device": "blue remote"}
	for k, v := range trial {
		set[k] = v
	}
	var row []string
	for _, h := range strings.Split(strings.TrimSpace(columns), ",") {
		row = append(row, set[h])
	}
	return strings.Join(row, ",") + "\n"
}

// Every kind of trial from plain columns, by the meaning of the notation.
func TestReadTrialColumns(t *testing.T) {
	for _, c := range []struct{ in, want string }{
		{"cue=sit response=+", "sit +"},
		{"cue=sit response=yes latency=1.8", "sit +1.8"},
		{"cue=sit response=yes asks=2", "sit - +"},
		{"cue=sit response=y asks=3 level=9", "sit - - @9 +"},
		{"cue=sit response=no", "sit -"},
		{"cue=sit response=no asks=2 correction=leash", "sit - - @leash"},
		{"cue=sit response=yes help=lure", "sit help:lure +"},
		{"cue=sit response=no did=down", "sit x:down"},
		{"cue=come response=yes distance=15 signal=whistle", "come whistle 15m +"},
		{"cue=come response=+0.9>4.8", "come +0.9>4.8"},
		{"cue=down response=8/10", "down 8/10"},
		{"cue=down yes=8 of=10", "down 8/10"},
		{"cue=down response=yes yes=0 of=0", "down +"},
		{"cue=stay response=held target=60", "stay 1:00 +"},
		{"cue=stay response=held target=1:00", "stay 1:00 +"},
		{"cue=stay response=no target=120 held=45", "stay 2:00 -45s"},
		{"cue=stay response=released target=120 held=70", "stay 2:00 released 1:10"},
		{"cue=heel walked=200 breaks=2", "heel 3:20 2-"},
		{"cue=heel walked=3:20 response=2-_@6", "heel 3:20 2- @6"},
		{"cue=sit response=early", "sit early"},
		{"cue=sit response=already", "sit already"},
		{"cue=sit response=?", "sit ?"},
	} {
		trial := map[string]string{}
		for _, p := range strings.Fields(c.in) {
			k, v, _ := strings.Cut(p, "=")
			trial[k] = strings.ReplaceAll(v, "_", " ")
		}
		got := read(columns+cells(trial), Mapping{}, Wishes{Decimal: '.'}, Options{})
		if got.err != nil || len(got.rejected) > 0 || len(got.sessions) != 1 || len(got.sessions[0].Trials) != 1 {
			t.Errorf("%s: %v %v %q", c.in, got.err, got.rejected, brief(got.sessions))
			continue
		}
		if m := got.sessions[0].Trials[0].Marks; m != c.want {
			t.Errorf("%s: got %q, want %q", c.in, m, c.want)
		}
	}
}

// Rows that have two readings, or say what can't be, are refused with a reason
// that names the column; the others are read.
func TestReadRejects(t *testing.T) {
	for _, c := range []struct{ in, want string }{
		{"cue=sit response=1", `response: "1" could be an answer, a count or a rating`},
		{"cue=sit", "response: sit has no answer"},
		{"response=yes", "names no cue"},
		{"cue=heal response=yes", "did you mean heel?"},
		{"cue=sit response=yes latency=fast", `latency: "fast" is not a number (the decimal mark of this file is a dot)`},
		{"cue=sit response=yes latency=1e3", "is not a number"},
		{"cue=sit response=yes latency=-1", "is not a number"},
		{"cue=sit response=no latency=1.2", "does not go with"},
		{"cue=sit response=yes level=101", "dial"},
		{"cue=sit response=yes level=0", "0 is not a correction"},
		{"cue=sit response=yes level=9 device=", "device"},
		{"cue=sit response=yes correction=yes", "leash, verbal, or which level"},
		{"cue=sit response=yes correction=zap", "none of leash"},
		{"cue=sit response=-_+ latency=2", "besides the marks"},
		{"cue=sit response=yes dog=Bramble level=9", "without a collar"},
		{"cue=sit response=yes dog=Moss start=2026-03-06_09:00", "vet hold"},
		{"cue=sit response=yes dog=Tran", "did you mean Tarn?"},
		{"cue=sit response=yes dog=", "does not say which dog"},
		{"cue=sit response=yes place=", "does not say where"},
		{"cue=sit response=yes leash=loose", "leash"},
		{"cue=sit response=yes distraction=9", "distraction"},
		{"cue=sit response=yes start=yesterday_9:00", "not a date with its year"},
		{"cue=sit response=yes start=2026-02-30_9:00", "2026-02-30"},
		{"cue=sit response=yes start=04/03/2026_9:00", "--dates"},
		{"cue=sit response=yes start=4/3/26_9:00", "four digits"},
		{"cue=sit response=yes start=2027-03-04_9:00", "future"},
		{"cue=sit response=yes start=2026-03-04", "no time of day"},
		{"cue=sit response=yes handler=Ailsa;dog:Moss", `has a ';' in it`},
		{"cue=heel response=yes", "no time walked"},
		{"cue=down yes=11 of=10", "tally"},
		{"cue=sit response=yes did=down", "besides an answer to the first ask"},
		{"cue=sit response=yes held=12", `held: "12" does not go with "yes"`},
		{"cue=sit response=yes asks=0", "does not go with"},
		{"cue=heel response=no walked=200", "a walk has a time and its breaks"},
		{"cue=heel yes=8 of=10", "walked, not counted"},
		{"cue=down response=no yes=8 of=10", "besides a tally"},
		{"cue=sit response=no did=lay_down", "more than one word"},
		{"cue=sit response=yes latency=61", "cannot be right"},
		{"cue=sit response=yes distance=0", "cannot be right"},
		{"cue=sit response=maybe latency=2", "say what it means with --values 'response: maybe=+'"},
	} {
		trial := map[string]string{}
		for _, p := range strings.Fields(c.in) {
			k, v, _ := strings.Cut(p, "=")
			trial[k] = strings.ReplaceAll(v, "_", " ")
		}
		text := columns + cells(map[string]string{"cue": "sit", "response": "+", "start": "2026-03-01 08:00"}) + cells(trial) + cells(map[string]string{"cue": "down", "response": "+", "start": "2026-03-02 08:00"})
		got := read(text, Mapping{}, Wishes{Decimal: '.', Dates: YMD}, Options{})
		if got.err != nil || len(got.rejected) != 1 || len(got.sessions) != 2 || !strings.HasPrefix(got.rejected[0], "3: ") || !strings.Contains(got.rejected[0], c.want) {
			t.Errorf("%s: %v, %d sessions, rejected %q; want %q", c.in, got.err, len(got.sessions), got.rejected, c.want)
		}
	}
}

func TestDatesAreDetectedOrRefused(t *testing.T) {
	row := func(date string) string { return "Tarn," + date + ",Ailsa,paddock,off,1,sit,+\n" }
	h := "dog,date,handler,place,leash,distraction,cue,response\n"
	for _, c := range []struct {
		dates []string
		asked DateOrder
		want  string // order, or the error
		first string
	}{
		{[]string{"2026-03-04"}, "", "ymd by line 2: 2026-03-04", "2026-03-04"},
		{[]string{"04/03/2026", "05/03/2026", "13/03/2026"}, "", "dmy by line 4: 13/03/2026", "2026-03-04"},
		{[]string{"03/04/2026", "03/13/2026"}, "", "mdy by line 3: 03/13/2026", "2026-03-04"},
		{[]string{"04.03.2026", "13.03.2026"}, "", "dmy by line 3: 13.03.2026", "2026-03-04"},
		{[]string{"04/03/2026", "05/03/2026"}, "", `"04/03/2026" and every other date could have the day or the month first (4 March 2026 or 3 April 2026): say --dates dmy or --dates mdy`, ""},
		{[]string{"04/03/2026"}, DMY, "dmy by as you said", "2026-03-04"},
		{[]string{"03/04/2026"}, MDY, "mdy by as you said", "2026-03-04"},
		{[]string{"4 March 2026"}, "", "ymd by no date of numbers alone", "2026-03-04"},
		{[]string{"04/03/2026 00:00:00"}, DMY, "dmy by as you said", "2026-03-04"},
	} {
		text := h
		for _, d := range c.dates {
			text += row(d)
		}
		got := read(text, Mapping{}, Wishes{Dates: c.asked}, Options{At: "9:10"})
		if got.err != nil {
			if got.err.Error() != c.want || !errors.As(got.err, new(*UnsureError)) {
				t.Errorf("%v: %v", c.dates, got.err)
			}
			continue
		}
		if s := string(got.layout.Dates) + " by " + got.layout.DatesBy; s != c.want || len(got.sessions) == 0 || got.sessions[0].Start.Format("2006-01-02 15:04") != c.first+" 09:10" {
			t.Errorf("%v: %s; %s%v", c.dates, s, brief(got.sessions), got.rejected)
		}
	}
	// An order that a later date contradicts is not stretched.
	got := read(h+row("13/03/2026")+row("03/14/2026"), Mapping{}, Wishes{}, Options{At: "9:10"})
	if len(got.rejected) != 1 || !strings.Contains(got.rejected[0], "no month 14; the file's dates are read as dmy") {
		t.Errorf("contradiction: %v %v", got.err, got.rejected)
	}
}

func TestDecimalMarkIsDetectedOrRefused(t *testing.T) {
	for _, c := range []struct{ sep, number, want string }{
		{";", "1,8", "sit +1.8"}, {";", "1.8", "sit +1.8"}, {",", "1.8", "sit +1.8"}, {",", `"1,8"`, "sit +1.8"},
		{";", "0,875", "sit +0.875"}, {";", "1,875", "--decimal"}, {";", "1.875", "--decimal"}, {",", "1.875", "sit +1.875"}, {";", "2", "sit +2"},
	} {
		text := strings.ReplaceAll("dog,date,handler,place,leash,distraction,cue,response,latency\nTarn,2026-03-04,Ailsa,paddock,off,1,sit,+,", ",", c.sep) + c.number + "\n"
		got := read(text, Mapping{}, Wishes{}, Options{At: "9:10"})
		switch {
		case got.err != nil && strings.Contains(got.err.Error(), c.want):
		case got.err == nil && len(got.sessions) == 1 && got.sessions[0].Trials[0].Marks == c.want:
		default:
			t.Errorf("%s after %s: %v %s%v", c.number, c.sep, got.err, brief(got.sessions), got.rejected)
		}
	}
}

func TestDelimiterIsDetectedOrRefused(t *testing.T) {
	for _, c := range []struct {
		text string
		want byte
	}{
		{"a,b\n1,2\n", ','}, {"a;b\n1,5;2\n", ';'}, {"a\tb\n1;2\t3\n", '\t'}, {"sep=;\na;b\n", ';'},
		{"a,b;c\n", 0}, {"alone\n1\n", 0}, {"\"a;x\",b\n\"c\",d\n", ','},
	} {
		if got, _, err := SniffDelimiter([]byte(c.text)); got != c.want || (err != nil) != (c.want == 0) {
			t.Errorf("%q: %q, %v", c.text, got, err)
		}
	}
}

func TestMapAndValues(t *testing.T) {
	var m Mapping
	if err := m.AddColumns(`dog=Hund, date="Tag, Monat", cue=Kommando, response = Ergebnis, handler='Wer?', place=Ort`); err != nil {
		t.Fatal(err)
	}
	if err := m.AddValues(`response: J=+, N=-, "J, spät"="- +"; place: Wiese=paddock`); err != nil {
		t.Fatal(err)
	}
	got := read("Hund;Tag, Monat;Wer?;Ort;Kommando;Ergebnis\nTarn;2026-03-04;Ailsa;Wiese;sit;j\nTarn;2026-03-04;Ailsa;wiese;sit;J, spät\nTarn;2026-03-04;Ailsa;Wiese;down;N\n", m, Wishes{}, Options{At: "9:10"})
	check(t, got, "Tarn 2026-03-04T09:10+01:00 Ailsa paddock : sit +; sit - +; down -\n")
	for bad, want := range map[string]string{"cue": "not a pair", "cu=Command": `no field "cu"`, "cue=A, cue=B": "two columns", "cue=": "no column", "cue='A": "not closed"} {
		if err := new(Mapping).AddColumns(bad); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("--map %s: %v", bad, err)
		}
	}
	for bad, want := range map[string]string{"Y=+": "names no field", "response: Y": "not a pair", "response: Y=+, y=-": "two meanings"} {
		if err := new(Mapping).AddValues(bad); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("--values %s: %v", bad, err)
		}
	}
	if got := read("Dog,Trainer,Handler\n", Mapping{}, Wishes{}, Options{}); got.err == nil || !strings.Contains(got.err.Error(), "could both be the handler") {
		t.Errorf("two columns of one field: %v", got.err)
	}
	if got := read("Dog,Cue\n", Mapping{Columns: map[Field]string{Cue: "Comand"}}, Wishes{}, Options{}); got.err == nil || !strings.Contains(got.err.Error(), `no column "Comand"`) {
		t.Errorf("column not there: %v", got.err)
	}
}

// Rows of one session far apart are noticed, and put together when asked.
func TestScatteredRows(t *testing.T) {
	text := columns + cells(map[string]string{"cue": "sit", "response": "+"}) +
		cells(map[string]string{"cue": "sit", "response": "+", "dog": "Moss"}) + cells(map[string]string{"cue": "down", "response": "-"})
	if got := read(text, Mapping{}, Wishes{}, Options{}); !errors.Is(got.err, ErrScattered) {
		t.Fatalf("got %v", got.err)
	}
	check(t, read(text, Mapping{}, Wishes{}, Options{Gather: true}),
		"Tarn 2026-03-04T09:10+01:00 Ailsa paddock off 2: sit +; down -\nMoss 2026-03-04T09:10+01:00 Ailsa paddock off 2: sit +\n")
}

// Sessions of one start in two places are parts, and a session column keeps
// apart what all else would join.
func TestParts(t *testing.T) {
	check(t, read(columns+cells(map[string]string{"cue": "sit", "response": "+"})+cells(map[string]string{"cue": "sit", "response": "+", "place": "car park"}), Mapping{}, Wishes{}, Options{}),
		"Tarn 2026-03-04T09:10+01:00 Ailsa paddock off 2: sit +\nTarn 2026-03-04T09:10+01:00 Ailsa car park off 2 part 1: sit +\n")
	check(t, read("session,dog,date,handler,place,leash,distraction,cue,response\n1,Tarn,2026-03-04,Ailsa,paddock,off,1,sit,+\n2,Tarn,2026-03-04,Ailsa,paddock,off,1,sit,-\n", Mapping{}, Wishes{}, Options{At: "9:10"}),
		"Tarn 2026-03-04T09:10+01:00 Ailsa paddock off 1: sit +\nTarn 2026-03-04T09:10+01:00 Ailsa paddock off 1 part 1: sit -\n")
}

// New names are told once, and spelt as they first came.
func TestNewNames(t *testing.T) {
	text := columns + cells(map[string]string{"cue": "sit", "response": "+", "dog": "Rook", "handler": "Bram"}) + cells(map[string]string{"cue": "spin", "response": "+", "dog": "rook", "handler": "BRAM", "start": "2026-03-05 9:00"})
	got := read(text, Mapping{}, Wishes{}, Options{AllowNew: true})
	check(t, got, "Rook 2026-03-04T09:10+01:00 Bram paddock off 2: sit +\nRook 2026-03-05T09:00+01:00 Bram paddock off 2: spin +\n")
	if s := fmt.Sprint(got.res.New); s != "[{dog Rook } {handler Bram } {cue spin response}]" {
		t.Errorf("new: %s", s)
	}
	// A slip of the finger of a known name is no new one.
	for f, near := range map[string][2]string{"dog": {"Arn", "Tarn"}, "handler": {"Alisa", "Ailsa"}, "place": {"paddok", "paddock"}} {
		got := read(columns+cells(map[string]string{"cue": "sit", "response": "+", f: near[0]}), Mapping{}, Wishes{}, Options{AllowNew: true})
		if len(got.rejected) != 1 || !strings.Contains(got.rejected[0], "too close to a known name to be new; did you mean "+near[1]+"?") || len(got.res.New) > 0 {
			t.Errorf("%s: %+v, new %v", near[0], got.rejected, got.res.New)
		}
	}
	got = read(columns+cells(map[string]string{"cue": "sit", "response": "+", "dog": "Milo"})+cells(map[string]string{"cue": "sit", "response": "+", "dog": "Mila", "start": "2026-03-05 9:00"}), Mapping{}, Wishes{}, Options{AllowNew: true})
	if len(got.rejected) != 0 || len(got.res.New) != 2 {
		t.Errorf("two new ones: %+v, new %v", got.rejected, got.res.New)
	}
}

// A session of plain columns is what the note reader makes of its note.
func TestRowsSayWhatTheirNoteSays(t *testing.T) {
	seen := map[training.Outcome]bool{}
	rapid.Check(t, func(t *rapid.T) {
		text := columns
		for i := range rapid.IntRange(1, 12).Draw(t, "rows") {
			trial := map[string]string{"start": fmt.Sprintf("2026-03-04 %02d:10", 9+i/4)}
			for name, list := range map[string]string{"dog": "Tarn Tarn tarn Mossy", "place": "paddock car_park", "device": "blue_remote .", "target": ". . 60 1:30",
				"cue": "sit down come stay heel recall leave_it halt", "response": "+ yes no - 8/10 -_@9_+1.6 x:sat_+ early ? 2+ released . -45s", "held": ". . . 12 20.5 70 60",
				"walked": "200 . . 2:05", "breaks": ". . 0 3", "level": ". . 6", "latency": ". . 1.8", "asks": ". . 1 3", "signal": ". voice hand+voice context", "help": ". . lure hand,yes",
				"did": ". . . down", "correction": ". . . leash 2", "yes": ". . . . 8", "of": ". . . . 10", "distance": ". . 5"} {
				choice := strings.Fields(list)
				if choice[0] == "." { // mostly empty, or few rows would be whole
					choice = append(slices.Repeat([]string{"."}, 4*len(choice)), choice...)
				}
				pick := rapid.SampledFrom(choice).Draw(t, name)
				trial[name] = strings.NewReplacer("_", " ", ",", " ").Replace(strings.TrimSuffix(pick, "."))
			}
			text += cells(trial)
		}
		got := read(text, Mapping{}, Wishes{Decimal: '.'}, Options{Gather: rapid.Bool().Draw(t, "gather")})
		if got.err != nil && !errors.Is(got.err, ErrScattered) {
			t.Fatal(got.err)
		}
		for _, s := range got.sessions {
			res := note.Parse([]byte(s.Note), note.Options{Kennel: kennel(), Now: now})
			if len(res.Problems) > 0 || len(res.Sessions) != 1 || !reflect.DeepEqual(res.Sessions[0], s) {
				t.Fatalf("%v\nnote reads %+v\nimport     %+v\n%s", res.Problems, res.Sessions, s, s.Note)
			}
			for _, f := range s.Trials {
				seen[f.Outcome] = true
			}
		}
	})
	for _, o := range []training.Outcome{training.Answered, training.Refused, training.Held, training.Broke, training.Walked} {
		if !seen[o] && !testing.Short() {
			t.Errorf("no trial was %s", o)
		}
	}
}

// FuzzRead holds the whole way from text to sessions to what must always be:
// no panic, every row counted once, and every session one that the note reader
// makes of its own text.
func FuzzRead(f *testing.F) {
	f.Add(columns + cells(map[string]string{"cue": "sit", "response": "+"}))
	f.Add("dog;date;handler;place;cue;response;latency;note\nTarn;13/03/2026;Ailsa;paddock;sit;y;1,8;'=1\nMoss;1/3/2026;Ailsa;paddock;down;- +;;x\n")
	f.Add("marks,dog,start,handler,place,part,zone\n0:14 sit +1,Tarn,2026-03-04T09:10Z,Ailsa,paddock,2,Europe/London\n")
	f.Add("\xff\xfed\x00o\x00g\x00,\x00c\x00u\x00e\x00\n\x00")
	f.Fuzz(func(t *testing.T, text string) {
		for _, o := range []Options{{At: "9:00"}, {At: "9:00", AllowNew: true, Gather: true}} {
			got := read(text, Mapping{}, Wishes{}, o)
			if got.err != nil {
				continue
			}
			if got.res.Rejected != len(got.rejected) || got.res.Sessions != len(got.sessions) || got.res.Rejected > got.res.Rows {
				t.Fatalf("%q: %+v", text, got.res)
			}
			for _, s := range got.sessions {
				res := note.Parse([]byte(s.Note), note.Options{Kennel: kennel(), Now: now, AllowNew: true})
				if len(res.Problems) > 0 || len(res.Sessions) != 1 || len(res.Sessions[0].Trials) != len(s.Trials) {
					t.Fatalf("%q: %v\n%s", text, res.Problems, s.Note)
				}
			}
		}
	})
}
