package say

import (
	"strings"

	"firstcue/internal/analysis"
	"firstcue/internal/training"
)

// ChartNote says how to read the chart of a cue.
func ChartNote(k training.Kind) string {
	const rest = " Line: level. Band: where it likely lies. Bigger mark: more "
	switch k {
	case training.Motion:
		return "Breaks a minute, fewer is higher up." + rest + "minutes. Upright: the day's interval."
	case training.Holding:
		return "Holds kept." + rest + "holds."
	}
	return "First asks answered." + rest + "asks."
}

// ChartBar labels the bar of a chart; "" = none.
func ChartBar(f analysis.Figure, k training.Kind) string {
	switch {
	case !f.Bar.Known:
		return ""
	case k == training.Motion:
		return Number(f.Bar.V) + " at most"
	}
	return Percent(f.Bar.V) + " must be passed"
}

// ChartLine labels a level: who or when, with its figure, and what is likely.
func ChartLine(who string, f analysis.Figure, k training.Kind) (label, detail string) {
	if !f.Now.Known {
		return "", ""
	}
	now, low, high := Percent(f.Now.V, bars(f)...), WholeOf(f.Low80, bars(f)...), WholeOf(f.High80, bars(f)...)
	if k == training.Motion {
		now, low, high = Number(f.Now.V, bars(f)...), Tenths(f.Low80), Tenths(f.High80)
	}
	if low != None && high != None {
		detail = low + " to " + high
	}
	return who + " " + now, detail
}

// ChartSay tells the chart in sentences, for those who do not see it.
func ChartSay(c analysis.CueAssessment, from, to training.Day) string {
	s := Plain(c.Cue) + ", " + DaySpan(from, to) + ": " + Counted(c.Tally)
	if now := Now(c.Now, c.Kind); now != "" {
		s += ", " + now
	}
	if b := Bar(c.Now, c.Kind); b != "" {
		s += "; must be passed: " + b
	}
	s += "."
	for _, d := range c.Course {
		if names := append(append([]string(nil), d.NewPeople...), d.NewPlaces...); len(names) > 0 && d.Day != from {
			s += " New on " + DayMonth(d.Day) + ": " + Names(names) + "."
		}
	}
	return s
}

// ChartWho names the person of a line, or everybody but one.
func ChartWho(x analysis.Context) string {
	if x.Person == "" {
		return "not " + Plain(x.NotBy)
	}
	return Plain(x.Person)
}

// New marks what begins on a day of a chart.
func New(name string) string { return "+ " + Plain(name) }

// The words of a chart for a vet hold, for everybody but the main trainer, and for
// people beyond those that have a mark of their own.
const (
	HoldMark   = "vet hold"
	OthersMark = "others"
	NowMark    = "now"
	Growl      = "incident"
)

// DialTitle heads the dial positions of one device.
func DialTitle(device string) string {
	if device = Plain(device); device == "" {
		device = "unnamed device"
	}
	return "Dial of the " + device + ", corrections of each day"
}

// DialSpan says how a dial moved: "from 9 to 18-20".
func DialSpan(first, low, high float64) string {
	to := Number(low)
	if high > low {
		to += "-" + Number(high)
	}
	if Number(first) == to {
		return "at " + to
	}
	return "from " + Number(first) + " to " + to
}

// WorkingMark labels the working level of a device.
func WorkingMark(level float64) string { return "working level " + Number(level) }

// CardWhen is the line under the name on an owner's card.
func CardWhen(a analysis.Assessment) string {
	s := Weekday(a.Day)
	if a.Stay != nil && a.Stay.Day > 0 {
		s += ", day " + Number(float64(a.Stay.Day)) + " with us"
	}
	return s
}

// CardWords puts a cue's present level into an owner's words.
// f is the figure that decides, of x where that is a person or everybody but one.
func CardWords(a analysis.Assessment, c analysis.CueAssessment, f analysis.Figure, x *analysis.Context) string {
	switch {
	case len(a.Incidents) > 0 || c.Verdict == analysis.OnHold:
		return "Resting. No training of this now."
	case !f.Now.Known:
		return "Too early to say."
	}
	sure := "Not proven yet: "
	switch c.Verdict {
	case analysis.Ready:
		sure = "Ready: "
	case analysis.NotReady:
		sure = "Not there yet: "
	}
	with := ""
	if x != nil {
		with = " with " + Person(x.Person, x.Role)
		if x.Person == "" {
			with = " without " + Plain(x.NotBy)
		}
	}
	if c.Kind == training.Motion {
		return sure + "slips " + Number(round1(f.Now.V)) + " times a minute" + with
	}
	return sure + "works " + Whole(f.Now.V, bars(f)...) + " times in 100" + with
}

// What the card says above what was new, at its foot, and where cues are left out.
const (
	CardWeek  = "New this week"
	CardToday = "New today"
	CardFoot  = "Dot: best guess. Shade: where it likely lies. Line: what must be passed."
)

// CardMore says how many cues the card left out.
func CardMore(n int) string { return "and " + Count(n, "more word") }

// CardNews lists what was new since a day, the day itself included, for the owner:
// the places by name, people only where they are the owner or train the dog.
func CardNews(a analysis.Assessment, since training.Day) []string {
	var places, people []string
	for _, p := range a.Places {
		if p.First >= since && p.First > a.First {
			places = append(places, At(p.Name))
		}
	}
	for _, p := range a.People {
		if p.First >= since && p.First > a.First {
			people = append(people, Person(p.Name, p.Role))
		}
	}
	var out []string
	if len(places) > 0 {
		out = append(out, "First time "+List(places))
	}
	if len(people) > 0 {
		out = append(out, "First time with "+List(people))
	}
	for _, c := range a.Cues {
		if c.First >= since && c.First > a.First {
			out = append(out, Plain(c.Cue)+": first asked")
		}
		if c.ReadySince >= since && c.ReadySince > 0 {
			out = append(out, Plain(c.Cue)+": ready since "+Weekday(c.ReadySince))
		}
	}
	for i, s := range out {
		out[i] = strings.ToUpper(s[:1]) + s[1:]
	}
	return out
}
