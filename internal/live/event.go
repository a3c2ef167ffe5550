package live

import (
	"fmt"
	"math"
	"regexp"
	"strconv"
	"strings"
	"time"

	"firstcue/internal/training"
)

// kind is what an event is.
type kind int

// The kinds. Those up to early stand in the note behind their clock.
const (
	gave      kind = iota // a cue: opens a trial, or asks again
	yes                   // answered; the position was taken
	no                    // not answered; the position was broken
	noNext                // the same, and the trial is over
	wrong                 // something else done
	starts                // the answer begins
	release               // the hold or walk ends
	next                  // the trial is over as it stands
	already               // was in position already
	notScored             // nobody saw how it went
	helped                // a prompt
	corrected             // text: leash, verbal or a level
	early                 // acted before the cue
	odd                   // a line with a clock that somebody else wrote
	changed               // context from here on: text is the line
	remark
	incident
	pause  // at a clock
	wentOn // at a clock, after a gap
	comment
)

// words are the events that are one word of the note's notation.
var words = map[kind]string{yes: "+", no: "-", noNext: "- next", wrong: "x", starts: "start",
	release: "release", next: "next", already: "already", notScored: "?", helped: "help"}

// event is one line of the note after its head.
type event struct {
	kind  kind
	at    time.Duration // clock of the note
	cue   training.Cue  // gave, early; of a hold with the target that the line names
	text  string        // of kinds that have one
	gap   time.Duration // wentOn: how long the clock stood still
	back  bool          // taken back: stays in the note as a comment
	press int           // which key press wrote it: undo takes back a press
}

// timed reports an event that counts and has a clock.
func (e event) timed() bool { return e.kind <= odd && !e.back }

// says reports an event that is no comment.
func (e event) says() bool { return e.kind < pause && !e.back }

// counts reports an event without which there may be nothing to log.
func (e event) counts() bool { return e.says() && e.kind != changed }

// what is the event without its clock, as the note writes it.
func (e event) what() string {
	switch e.kind {
	case gave:
		return opening(e.cue)
	case early:
		return "early " + e.cue.Name
	case corrected:
		return "@" + e.text
	case remark:
		return "> " + e.text
	case incident:
		return "! " + e.text
	case pause:
		return "# paused at " + Clock(e.at)
	case wentOn:
		return fmt.Sprintf("# went on at %s after %.1f s", Clock(e.at), e.gap.Seconds())
	case odd, changed, comment:
		return e.text
	}
	return words[e.kind]
}

func (e event) line() string {
	s := e.what()
	if e.kind <= odd {
		s = Clock(e.at) + " " + s
	}
	if e.back {
		s = "# taken back: " + s
	}
	return s
}

var (
	timedLine  = regexp.MustCompile(`^([\d:]+\.\d) (.+)$`)
	pauseLine  = regexp.MustCompile(`^# paused at (\S+)$`)
	wentOnLine = regexp.MustCompile(`^# went on at (\S+) after ([\d.]+) s$`)
)

// readEvent reads what line writes. cueOf tells a cue from its text.
func readEvent(line string, cueOf func(string) (training.Cue, bool)) event {
	if m := timedLine.FindStringSubmatch(line); m != nil {
		if at, ok := parseClock(m[1]); ok {
			return readTimed(at, m[2], cueOf)
		}
	}
	if m := pauseLine.FindStringSubmatch(line); m != nil {
		at, _ := parseClock(m[1])
		return event{kind: pause, at: at}
	}
	if m := wentOnLine.FindStringSubmatch(line); m != nil {
		at, _ := parseClock(m[1])
		gap, _ := strconv.ParseFloat(m[2], 64)
		return event{kind: wentOn, at: at, gap: time.Duration(math.Round(gap*10)) * 100 * time.Millisecond}
	}
	if text, ok := strings.CutPrefix(line, "> "); ok {
		return event{kind: remark, text: text}
	}
	if text, ok := strings.CutPrefix(line, "! "); ok {
		return event{kind: incident, text: text}
	}
	if strings.HasPrefix(line, "#") {
		return event{kind: comment, text: line}
	}
	return event{kind: changed, text: line}
}

func readTimed(at time.Duration, text string, cueOf func(string) (training.Cue, bool)) event {
	if cue, ok := cueOf(text); ok {
		return event{kind: gave, at: at, cue: cue}
	}
	if name, ok := strings.CutPrefix(text, "early "); ok {
		return event{kind: early, at: at, cue: training.Cue{Name: name}}
	}
	if what, ok := strings.CutPrefix(text, "@"); ok {
		return event{kind: corrected, at: at, text: what}
	}
	for k, word := range words {
		if word == text {
			return event{kind: k, at: at}
		}
	}
	return event{kind: odd, at: at, text: text}
}

// Clock writes a time as notes do: m:ss.d, or h:mm:ss.d from one hour on.
func Clock(d time.Duration) string {
	tenths := int64(d / (100 * time.Millisecond))
	s, t := tenths/10, tenths%10
	if s >= 3600 {
		return fmt.Sprintf("%d:%02d:%02d.%d", s/3600, s/60%60, s%60, t)
	}
	return fmt.Sprintf("%d:%02d.%d", s/60, s%60, t)
}

// parseClock reads what Clock writes.
func parseClock(s string) (time.Duration, bool) {
	whole, tenth, ok := strings.Cut(s, ".")
	t, err := strconv.Atoi(tenth)
	if !ok || err != nil || len(tenth) != 1 {
		return 0, false
	}
	total := 0
	for _, part := range strings.Split(whole, ":") {
		n, err := strconv.Atoi(part)
		if err != nil || n < 0 {
			return 0, false
		}
		total = total*60 + n
	}
	return time.Duration(total)*time.Second + time.Duration(t)*100*time.Millisecond, true
}

// opening is how a cue is written that opens a trial: a hold stands with its
// target, so that a release before it is known to be one.
func opening(c training.Cue) string {
	if c.Kind != training.Holding || !c.Target.Known || c.Target.V <= 0 {
		return c.Name
	}
	if s := int(c.Target.V); float64(s) == c.Target.V && s < 24*3600 {
		if s >= 3600 {
			return fmt.Sprintf("%s %d:%02d:%02d", c.Name, s/3600, s/60%60, s%60)
		}
		return fmt.Sprintf("%s %d:%02d", c.Name, s/60, s%60)
	}
	return c.Name + " " + strconv.FormatFloat(c.Target.V, 'f', -1, 64) + "s"
}

// parseTarget reads the target that opening writes, in seconds.
func parseTarget(s string) (float64, bool) {
	if n, ok := strings.CutSuffix(s, "s"); ok {
		v, err := strconv.ParseFloat(n, 64)
		return v, err == nil && v > 0
	}
	d, ok := parseClock(s + ".0")
	return d.Seconds(), ok && strings.Contains(s, ":")
}

// readContext reads "place: car park; leash: off" into a context.
func readContext(line string, into map[string]string) {
	for _, part := range strings.Split(line, ";") {
		if k, v, ok := strings.Cut(part, ":"); ok {
			into[strings.TrimSpace(k)] = strings.TrimSpace(v)
		}
	}
}
