package report

import (
	"bytes"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode"

	"pgregory.net/rapid"

	"firstcue/internal/analysis"
	"firstcue/internal/training"
)

// anyName is a name as kennels have them, and as nobody should.
func anyName() *rapid.Generator[string] {
	return rapid.OneOf(
		rapid.SampledFrom([]string{"sit", "Ærø", "Bo", "leave it alone when I say so", "漢字漢字漢字漢字漢字漢字漢字漢字漢字", "Princess Wilhelmina Charlotte of the Upper Far Meadow and the Mill"}),
		rapid.StringMatching(`[A-Za-z]{1,60}`),
	)
}

// anyAssessment is a judgement of the demo with its names, lists and counts changed:
// more cues, more reasons, longer words than a kennel has.
func anyAssessment() *rapid.Generator[analysis.Assessment] {
	return rapid.Custom(func(t *rapid.T) analysis.Assessment {
		a := judged(rapid.SampledFrom(demoDogs).Draw(t, "dog"))
		a.Name = anyName().Draw(t, "name")
		all := slices.Clone(a.Cues)
		a.Cues = nil
		for i := range rapid.IntRange(0, 14).Draw(t, "cues") {
			c := rapid.SampledFrom(all).Draw(t, "cue")
			c.Cue = anyName().Draw(t, "word") + fmt.Sprint(i)
			c.Verdict = rapid.SampledFrom([]analysis.Verdict{analysis.Ready, analysis.NotProven, analysis.NotReady, analysis.OnHold}).Draw(t, "verdict")
			if c.Others != nil && rapid.Bool().Draw(t, "others") {
				x := *c.Others
				x.Standing, x.NotBy = analysis.Failed, anyName().Draw(t, "not by")
				c.Others = &x
			}
			a.Cues = append(a.Cues, c)
		}
		for _, n := range []*[]analysis.Reason{&a.Reasons} {
			for range rapid.IntRange(0, 5).Draw(t, "reasons") {
				*n = append(slices.Clone(*n), analysis.Reason{Code: analysis.WhyPerson, Person: anyName().Draw(t, "person"), Cues: []string{anyName().Draw(t, "one"), anyName().Draw(t, "two")}})
			}
		}
		for range rapid.IntRange(0, 3).Draw(t, "incidents") {
			a.Incidents = append(slices.Clone(a.Incidents), analysis.Incident{Day: a.Day, Text: anyName().Draw(t, "what") + " " + anyName().Draw(t, "more")})
		}
		return a
	})
}

// TestShortReportFitsTheScreen: 24 lines of 80 columns, whatever the dog, and what must
// be done is whole on it.
func TestShortReportFitsTheScreen(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a := anyAssessment().Draw(t, "judgement")
		ascii := rapid.Bool().Draw(t, "ascii")
		out := screen(a, Options{Width: rapid.SampledFrom([]int{0, 80, 120}).Draw(t, "width"), ASCII: ascii})
		lines := strings.Split(strings.TrimSuffix(out, "\n"), "\n")
		if len(lines) > 24 {
			t.Fatalf("%d lines\n%s", len(lines), out)
		}
		for _, l := range lines {
			if cells(l) > 80 {
				t.Fatalf("%d columns: %q", cells(l), l)
			}
		}
		if verdict := regexp.MustCompile(`^(READY|NOT PROVEN|NOT READY|ON HOLD) `); !verdict.MatchString(lines[0]) {
			t.Fatalf("the first line is %q", lines[0])
		}
		flat := strings.Join(strings.Fields(out), " ")
		if len(a.Incidents) > 0 {
			for _, must := range []string{"STOP", "Collar off", "no correction of any kind", "Ring the owner, and a vet or behaviour professional"} {
				if !strings.Contains(flat, must) {
					t.Fatalf("%q is cut away\n%s", must, out)
				}
			}
		}
	})
}

// TestBarPassesNoMark: a figure that did not pass its bar is not drawn past it.
func TestBarPassesNoMark(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		kind := rapid.SampledFrom([]training.Kind{training.Response, training.Motion}).Draw(t, "kind")
		most, pass := 1.0, rapid.SampledFrom([]float64{.8, .85, .9, .95}).Draw(t, "bar")
		if kind == training.Motion {
			most, pass = 3, rapid.SampledFrom([]float64{.25, .5, 1}).Draw(t, "breaks")
		}
		f := analysis.Figure{Bar: training.Known(pass)}
		x := []float64{rapid.Float64Range(0, most).Draw(t, "a"), rapid.Float64Range(0, most).Draw(t, "b"), rapid.Float64Range(0, most).Draw(t, "c")}
		slices.Sort(x)
		f.Low80, f.Now, f.High80 = training.Known(x[0]), training.Known(x[1]), training.Known(x[2])
		drawn := []rune(bar(f, kind, true))
		mark, now := slices.Index(drawn, '|'), slices.Index(drawn, 'o')
		passed := func(v float64) bool {
			return kind == training.Motion && v <= pass || kind != training.Motion && v >= pass
		}
		best := x[2]
		if kind == training.Motion {
			best = x[0]
		}
		if mark < 0 || !passed(x[1]) && now > mark {
			t.Fatalf("now %v, bar %v: %s", x[1], pass, string(drawn))
		}
		if right := strings.LastIndexAny(string(drawn), "=o"); !passed(best) && right > mark {
			t.Fatalf("likely at best %v, bar %v: %s", best, pass, string(drawn))
		}
	})
}

// TestNightlyOfThirtyDogs: at most 60 lines; a long name is shortened and said to be.
func TestNightlyOfThirtyDogs(t *testing.T) {
	var dogs []analysis.Assessment
	for i := range 30 {
		a := judged(demoDogs[i%len(demoDogs)])
		a.Name = fmt.Sprintf("%s %d", a.Name, i)
		if i == 7 {
			a.Name = "Princess Wilhelmina Charlotte of the Upper Far Meadow"
		}
		dogs = append(dogs, a)
	}
	var b bytes.Buffer
	if err := NightlyText(&b, MakeNightly(demoDay, dogs, nil), Options{}); err != nil {
		t.Fatal(err)
	}
	out := b.String()
	if n := strings.Count(out, "\n"); n > 60 || n < 35 {
		t.Errorf("%d lines", n)
	}
	for _, l := range strings.Split(out, "\n") {
		if cells(l) > 100 {
			t.Errorf("%d columns: %q", cells(l), l)
		}
	}
	if strings.Contains(out, "Upper Far Meadow") || !regexp.MustCompile(`(?m)^Princess\S*[^\n]*…`).MatchString(out) {
		t.Errorf("the long name is not shortened:\n%s", out)
	}
	if flat := strings.Join(strings.Fields(out), " "); strings.Count(flat, "a vet or behaviour professional") != 5 {
		t.Errorf("whom to ring is cut away:\n%s", out)
	}
}

// TestNothingIsPractisedWhileTrainingStops: an open incident, or the vet, reaches every
// page that says what to do.
func TestNothingIsPractisedWhileTrainingStops(t *testing.T) {
	for _, dog := range []string{"Gorse", "Thistle"} {
		a, r := judged(dog), demoRecord(dog)
		a.Plan = judged("Sorrel").Plan // as if there were one
		o := ownersPage(dog)
		o.Handoff = demoDay + 1
		pages := map[string]func(io.Writer) error{
			"report": func(w io.Writer) error { return Text(w, a, Options{}) },
			"packet": func(w io.Writer) error { return Packet(w, a, r, o) },
			"lesson": func(w io.Writer) error { return Lesson(w, a, r, o) },
		}
		if dog == "Gorse" {
			pages["plan"] = func(w io.Writer) error { return PlanText(w, a, a.Plan, Options{}) }
			pages["sheet"] = func(w io.Writer) error {
				return DaySheetText(w, MakeDaySheet(demoDay, []analysis.Assessment{a}, [][]analysis.PlanLine{a.Plan}), Options{})
			}
		}
		for name, write := range pages {
			var b bytes.Buffer
			if err := write(&b); err != nil {
				t.Fatal(err)
			}
			text := b.String()
			if regexp.MustCompile(`8 (sits|downs)|Week 1|Ask each word|28 March`).MatchString(text) && name != "report" {
				t.Errorf("%s of %s tells somebody to practise", name, dog)
			}
			if dog == "Gorse" && !regexp.MustCompile(`(?i)collar( is)? off|the collar off`).MatchString(text) {
				t.Errorf("%s of %s does not say that the collar stays off", name, dog)
			}
		}
	}
}

// ownersFiles are what leaves the kennel for an owner.
func ownersFiles(t *testing.T, r training.Record, on training.Day) map[string]string {
	t.Helper()
	a := assess(r, on)
	o := ownersPage(r.Dog.Name)
	o.Handoff = on + 1
	own := OwnersTrials(a, r, r.Sessions)
	out := map[string]string{}
	for name, write := range map[string]func(io.Writer) error{
		"packet":   func(w io.Writer) error { return Packet(w, a, r, o) },
		"lesson":   func(w io.Writer) error { return Lesson(w, a, r, o) },
		"appendix": func(w io.Writer) error { return Appendix(w, a, o) },
		"week":     func(w io.Writer) error { return MessageText(w, a, o.Contact, true) },
		"day":      func(w io.Writer) error { return MessageText(w, a, o.Contact, false) },
		"trials":   func(w io.Writer) error { return TrialsCSV(w, own, CSVOptions{}) },
		"calendar": func(w io.Writer) error { return Calendar(w, a, on+1, len(a.Incidents) > 0, made) },
	} {
		var b bytes.Buffer
		if err := write(&b); err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		out[name] = b.String()
	}
	return out
}

// TestOwnersFilesHoldNoKennelText: no free text of the kennel and no name of another
// dog, its people or an outsider is in what an owner gets.
func TestOwnersFilesHoldNoKennelText(t *testing.T) {
	for _, dog := range demoDogs {
		r := demoRecord(dog)
		for i := range r.Kennel.Handlers {
			if h := &r.Kennel.Handlers[i]; h.Role == training.Outsider || h.Role == training.Owner && !slices.Contains(r.Dog.Owners, h.Name) {
				was := h.Name
				h.Name = "QXNAME" + strings.ReplaceAll(was, " ", "")
				for j := range r.Sessions {
					if r.Sessions[j].Handler == was {
						r.Sessions[j].Handler = h.Name
					}
				}
			}
		}
		for i := range r.Kennel.Dogs {
			if r.Kennel.Dogs[i].Name != dog {
				r.Kennel.Dogs[i].Name = fmt.Sprintf("QXDOG%d", i)
			}
		}
		for i := range r.Dog.Holds {
			r.Dog.Holds[i].Reason = "QXREASON"
		}
		for i := range r.Incidents {
			r.Incidents[i].Text = "QXINCIDENT"
		}
		for i := range r.Sessions {
			s := &r.Sessions[i]
			s.Voided, s.Skin = "QXVOIDED", "QXSKIN"
			if i%5 > 0 {
				s.Voided = ""
			}
			s.Weather, s.Reward, s.Note, s.Carried = "QXWEATHER", "QXREWARD", "QXNOTE", "QXCARRIED"
			s.Remarks = append(slices.Clone(s.Remarks), training.Remark{Text: "QXREMARK"})
			for j := range s.Remarks {
				s.Remarks[j].Text = "QXREMARK"
			}
			for j := range s.Trials {
				s.Trials[j].Marks = "QXMARKS"
				if s.Trials[j].Did != "" {
					s.Trials[j].Did = "QXDID"
				}
				if len(s.Trials[j].Prompts) > 0 {
					s.Trials[j].Prompts = []string{"QXPROMPT"}
				}
			}
		}
		for name, text := range ownersFiles(t, r, demoDay) {
			if found := regexp.MustCompile(`(?i)QX\w+`).FindString(text); found != "" {
				t.Errorf("%s of %s holds %s", name, dog, found)
			}
		}
	}
}

// hostile is a name with everything in it that some output could trip over.
const hostile = "=1+1<script>alert(\"x\")</script>&\x1b[31m\u202e\r\nBEGIN:VALARM\x07"

// hostileRecord is a dog whose names are all hostile.
func hostileRecord(dog string) training.Record {
	r := demoRecord(dog)
	r.Kennel = demoLists()
	bad := func(s string) string { return hostile + s }
	for i := range r.Kennel.Handlers {
		r.Kennel.Handlers[i].Name = bad(r.Kennel.Handlers[i].Name)
	}
	for i := range r.Kennel.Places {
		r.Kennel.Places[i].Name = bad(r.Kennel.Places[i].Name)
	}
	for i := range r.Kennel.Cues {
		r.Kennel.Cues[i].Name, r.Kennel.Cues[i].Meaning, r.Kennel.Cues[i].Ends = bad(r.Kennel.Cues[i].Name), hostile, hostile
	}
	r.Dog.Name, r.Dog.Main, r.Dog.Device, r.Dog.Consent = hostile, bad(r.Dog.Main), hostile, hostile
	for i := range r.Dog.Owners {
		r.Dog.Owners = slices.Clone(r.Dog.Owners)
		r.Dog.Owners[i] = bad(r.Dog.Owners[i])
	}
	r.Dog.Goals = slices.Clone(r.Dog.Goals)
	for i := range r.Dog.Goals {
		r.Dog.Goals[i].Cue, r.Dog.Goals[i].Words = bad(r.Dog.Goals[i].Cue), hostile
	}
	r.Dog.Words = []training.CueWord{{Cue: r.Kennel.Cues[1].Name, Word: hostile, Signal: hostile, Ends: hostile}}
	for i := range r.Incidents {
		r.Incidents[i].Text = hostile
	}
	for i := range r.Sessions {
		s := &r.Sessions[i]
		s.Dog, s.Handler, s.Place, s.Device, s.Weather = hostile, bad(s.Handler), bad(s.Place), hostile, hostile
		s.Remarks = []training.Remark{{Text: hostile}}
		for j := range s.Trials {
			s.Trials[j].Cue = bad(s.Trials[j].Cue)
		}
	}
	return r
}

// TestHostileNames: no markup, no terminal escape, no formula and no line of its own
// comes from a name.
func TestHostileNames(t *testing.T) {
	for _, dog := range []string{"Sorrel", "Gorse"} {
		r := hostileRecord(dog)
		a := assess(r, demoDay)
		o := OwnerOptions{Kennel: hostile, Contact: hostile, Vet: hostile, AtHome: []string{hostile}, Handoff: demoDay + 1}
		night := MakeNightly(demoDay, []analysis.Assessment{a}, nil)
		sheet := MakeDaySheet(demoDay, []analysis.Assessment{a}, [][]analysis.PlanLine{a.Plan})
		plain := Options{Width: 80}
		for name, write := range map[string]func(io.Writer) error{
			"report.txt":    func(w io.Writer) error { return Text(w, a, plain) },
			"full.txt":      func(w io.Writer) error { return Full(w, a, plain) },
			"full.html":     func(w io.Writer) error { return HTML(w, a, plain) },
			"full.md":       func(w io.Writer) error { return Markdown(w, a, plain) },
			"nightly.txt":   func(w io.Writer) error { return NightlyText(w, night, plain) },
			"nightly.html":  func(w io.Writer) error { return NightlyHTML(w, night, plain) },
			"nightly.csv":   func(w io.Writer) error { return NightlyCSV(w, night, CSVOptions{}) },
			"plan.txt":      func(w io.Writer) error { return PlanText(w, a, a.Plan, plain) },
			"daysheet.txt":  func(w io.Writer) error { return DaySheetText(w, sheet, plain) },
			"daysheet.html": func(w io.Writer) error { return DaySheetHTML(w, sheet, plain) },
			"brief.txt":     func(w io.Writer) error { return Brief(w, a, r, plain) },
			"brief.html":    func(w io.Writer) error { return BriefHTML(w, a, r, plain) },
			"packet.html":   func(w io.Writer) error { return Packet(w, a, r, o) },
			"lesson.html":   func(w io.Writer) error { return Lesson(w, a, r, o) },
			"appendix.html": func(w io.Writer) error { return Appendix(w, a, o) },
			"message.txt":   func(w io.Writer) error { return MessageText(w, a, hostile, true) },
			"summary.csv":   func(w io.Writer) error { return SummaryCSV(w, a, CSVOptions{}) },
			"trials.csv":    func(w io.Writer) error { return TrialsCSV(w, r.Sessions[:1], CSVOptions{}) },
			"calendar.ics":  func(w io.Writer) error { return Calendar(w, a, demoDay+1, false, made) },
		} {
			var b bytes.Buffer
			if err := write(&b); err != nil {
				t.Errorf("%s: %v", name, err)
				continue
			}
			harmless(t, dog+" "+name, b.String())
		}
	}
}

func harmless(t *testing.T, name, text string) {
	t.Helper()
	control := func(r rune) bool {
		return r != '\n' && r != '\r' && (unicode.IsControl(r) || r == '\u202e')
	}
	isCSV := strings.HasSuffix(name, ".csv")
	if i := strings.IndexFunc(text, control); i >= 0 && !isCSV {
		t.Errorf("%s holds %q", name, text[max(0, i-20):min(len(text), i+20)])
	}
	switch {
	case strings.HasSuffix(name, ".html"):
		if strings.Contains(text, "<script") {
			t.Errorf("%s holds markup of a name", name)
		}
	case strings.HasSuffix(name, ".ics"):
		if strings.Count(text, "\nBEGIN:VALARM") != strings.Count(text, "\nEND:VALARM") {
			t.Errorf("%s holds a line of a name", name)
		}
	case isCSV:
		if regexp.MustCompile(`(^|[,\n]"?)=1`).MatchString(text) {
			t.Errorf("%s holds a formula", name)
		}
	}
}

// TestCalendar: RFC 5545 lines, one event a recheck that later files move, cancelled
// while nobody is to practise.
func TestCalendar(t *testing.T) {
	a := judged("Tarn")
	a.Name = `Ærø, the "big" one; née Über-Straßenköterin aus dem Hinterhof am Käseglöckchenweg 漢字漢字漢字漢字`
	made := func(rests bool, on training.Day, now time.Time) string {
		var b bytes.Buffer
		if err := Calendar(&b, a, on, rests, now); err != nil {
			t.Fatal(err)
		}
		return b.String()
	}
	august := training.Date(2027, time.August, 31)
	raw := made(false, august, made1)
	events := parseCalendar(t, raw)
	var days []string
	for _, e := range events {
		days = append(days, e["DTSTART;VALUE=DATE"])
	}
	// weeks 1, 2, 4; months 2 to 6 and 12 of 31 August: the last day of short months, 2028 is a leap year
	want := []string{"20270907", "20270914", "20270928", "20271031", "20271130", "20271231", "20280131", "20280229", "20280831"}
	if !slices.Equal(days, want) {
		t.Errorf("days %v, want %v", days, want)
	}
	if s := events[0]["SUMMARY"]; s != `Recheck Ærø\, the "big" one\; née Über-Straßenköterin aus dem Hinterhof am Käseglöckchenweg 漢字漢字漢字漢字: week 1 after going home` {
		t.Errorf("the summary does not come back whole: %s", s)
	}
	if events[0]["DTSTAMP"] != "20260320T200500Z" {
		t.Errorf("DTSTAMP %s", events[0]["DTSTAMP"])
	}
	later := parseCalendar(t, made(true, august+3, made1.Add(time.Hour)))
	for i := range events {
		var was, is int
		fmt.Sscan(events[i]["SEQUENCE"], &was)
		fmt.Sscan(later[i]["SEQUENCE"], &is)
		if events[i]["UID"] != later[i]["UID"] || is <= was {
			t.Errorf("event %d: UID %s then %s, SEQUENCE %d then %d", i, events[i]["UID"], later[i]["UID"], was, is)
		}
		if later[i]["STATUS"] != "CANCELLED" || events[i]["STATUS"] == "CANCELLED" {
			t.Errorf("event %d is %s", i, later[i]["STATUS"])
		}
	}
	if text := made(true, august, made1); strings.Contains(text, "VALARM") || !strings.Contains(text, "METHOD:CANCEL\r\n") {
		t.Error("a cancelled reminder still rings")
	}
	if strings.Count(raw, "BEGIN:VALARM") != 9 {
		t.Error("not every recheck rings")
	}
	if err := Calendar(io.Discard, a, 0, false, made1); err == nil {
		t.Error("no day of handoff, and no error")
	}
}

var made1 = made

// parseCalendar reads the events of a calendar: CR LF, lines of at most 75 octets that
// cut no character, unfolded, BEGIN and END in pairs.
func parseCalendar(t *testing.T, raw string) []map[string]string {
	t.Helper()
	if strings.Count(raw, "\n") != strings.Count(raw, "\r\n") || !strings.HasPrefix(raw, "BEGIN:VCALENDAR\r\nVERSION:2.0\r\n") || !strings.HasSuffix(raw, "END:VCALENDAR\r\n") {
		t.Fatal("no calendar, or lines do not end in CR LF")
	}
	for _, l := range strings.Split(raw, "\r\n") {
		if len(l) > 75 || strings.ToValidUTF8(l, "?") != l {
			t.Errorf("%d octets, or a character is cut: %q", len(l), l)
		}
	}
	var open []string
	var events []map[string]string
	for _, l := range strings.Split(strings.TrimSuffix(strings.ReplaceAll(raw, "\r\n ", ""), "\r\n"), "\r\n") {
		name, value, ok := strings.Cut(l, ":")
		if !ok || !regexp.MustCompile(`^[A-Z-]+(;[A-Z-]+=[A-Z-]+)*$`).MatchString(name) {
			t.Fatalf("no content line: %q", l)
		}
		switch name {
		case "BEGIN":
			open = append(open, value)
			if value == "VEVENT" {
				events = append(events, map[string]string{})
			}
		case "END":
			if len(open) == 0 || open[len(open)-1] != value {
				t.Fatalf("%s ends, and %v is open", value, open)
			}
			open = open[:len(open)-1]
		default:
			if len(open) > 0 && open[len(open)-1] == "VEVENT" {
				events[len(events)-1][name] = value
			}
		}
	}
	for _, e := range events {
		for _, must := range []string{"UID", "DTSTAMP", "SEQUENCE", "SUMMARY", "DTSTART;VALUE=DATE"} {
			if e[must] == "" {
				t.Errorf("an event has no %s", must)
			}
		}
	}
	return events
}
