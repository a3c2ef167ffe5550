package sheet

import (
	"fmt"
	"reflect"
	"strings"
	"testing"
	"time"

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
	if out.cols, out.err = m.Find(l.Header, true); out.err != nil {
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

const head = "dog,start,handler,place,leash,distraction,device,cue,response,asks,latency,level,held,walked,breaks,target,yes,of,distance,signal,help,did,correction\n"

// cells fills the columns of head: session fields are the same in all.
func cells(trial map[string]string) string {
	set := map[string]string{"dog": "Tarn", "start": "2026-03-04 09:10", "handler": "Ailsa", "place": "paddock", "leash": "off", "distraction": "2", "device": "blue remote"}
	for k, v := range trial {
		set[k] = v
	}
	var row []string
	for _, h := range strings.Split(strings.TrimSpace(head), ",") {
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
		{"cue=sit response=no asks=2 correction=leash", "sit - @leash -"},
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
		got := read(head+cells(trial), Mapping{}, Wishes{Decimal: '.'}, Options{})
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
		{"cue=sit response=maybe", "maybe"},
	} {
		trial := map[string]string{}
		for _, p := range strings.Fields(c.in) {
			k, v, _ := strings.Cut(p, "=")
			trial[k] = strings.ReplaceAll(v, "_", " ")
		}
		text := head + cells(map[string]string{"cue": "sit", "response": "+", "start": "2026-03-01 08:00"}) + cells(trial) + cells(map[string]string{"cue": "down", "response": "+", "start": "2026-03-02 08:00"})
		got := read(text, Mapping{}, Wishes{Decimal: '.', Dates: YMD}, Options{})
		if got.err != nil || len(got.rejected) != 1 || len(got.sessions) != 2 || !strings.HasPrefix(got.rejected[0], "3: ") || !strings.Contains(got.rejected[0], c.want) {
			t.Errorf("%s: %v, %d sessions, rejected %q; want %q", c.in, got.err, len(got.sessions), got.rejected, c.want)
		}
	}
}
