package report

import (
	"fmt"
	"io"
	"strings"
	"time"
	"unicode/utf8"

	"firstcue/internal/analysis"
	"firstcue/internal/say"
	"firstcue/internal/training"
)

// Recheck is one date on which the owner tries the cues again.
type Recheck struct {
	Code string       `json:"recheck"` // stable: "week-1", "month-12"
	Name string       `json:"-"`       // "week 1", "month 12"
	Day  training.Day `json:"due"`
}

// Rechecks returns the dates after a handoff: weeks 1, 2 and 4, months 2 to 6,
// month 12. A month that is too short for the day of handoff uses its last day.
// The pattern follows service-dog practice (monthly to six months, then yearly);
// the first weeks are common practice, no source.
func Rechecks(handoff training.Day) []Recheck {
	var out []Recheck
	for _, n := range []int{1, 2, 4} {
		out = append(out, Recheck{fmt.Sprintf("week-%d", n), fmt.Sprintf("week %d", n), handoff + training.Day(7*n)})
	}
	for _, n := range []int{2, 3, 4, 5, 6, 12} {
		out = append(out, Recheck{fmt.Sprintf("month-%d", n), fmt.Sprintf("month %d", n), addMonths(handoff, n)})
	}
	return out
}

func addMonths(d training.Day, n int) training.Day {
	t := d.Time(time.UTC)
	first := time.Date(t.Year(), t.Month()+time.Month(n), 1, 0, 0, 0, 0, time.UTC)
	last := first.AddDate(0, 1, -1).Day()
	return training.Date(first.Year(), first.Month(), min(t.Day(), last))
}

// Calendar writes the rechecks after a handoff as an iCalendar file (RFC 5545): one
// all-day event each with a reminder at nine the morning before. UIDs come from the dog
// and the purpose, and SEQUENCE from the time of writing, so that a calendar that reads a
// later file moves the events it has instead of adding new ones. While nobody is to
// practise (rests) the events are cancelled. now stamps the file.
func Calendar(w io.Writer, a analysis.Assessment, handoff training.Day, rests bool, now time.Time) error {
	if handoff == 0 {
		return fmt.Errorf("no day of handoff: the recheck dates count from it")
	}
	var cues []string
	for _, c := range agreedCues(a) {
		cues = append(cues, c.Cue)
	}
	id := a.Dog.ID
	if id == "" {
		id = slug(a.Name)
	}
	sequence := max(0, now.Unix()/60-epochMinutes)
	var c icsWriter
	c.line("BEGIN:VCALENDAR")
	c.line("VERSION:2.0")
	c.line("PRODID:-//firstcue//rechecks//EN")
	c.line("CALSCALE:GREGORIAN")
	if rests {
		c.line("METHOD:CANCEL")
	} else {
		c.line("METHOD:PUBLISH")
	}
	what := "A few first asks of each cue, in a quiet place and then where it is hard. Write down every one, also the misses."
	if len(cues) > 0 {
		what = "Ask " + say.Names(cues) + " five times each, in a quiet place and then where it is hard. Write down every first ask, also the misses."
	}
	what += "\nA sudden change, pain or fear: the vet first."
	for _, r := range Rechecks(handoff) {
		title := "Recheck " + say.Plain(a.Name) + ": " + r.Name + " after going home"
		c.line("BEGIN:VEVENT")
		c.line("UID:recheck-" + r.Code + "-" + id + "@firstcue")
		c.line("DTSTAMP:" + now.UTC().Format("20060102T150405Z"))
		c.line(fmt.Sprintf("SEQUENCE:%d", sequence))
		if rests {
			c.line("STATUS:CANCELLED")
		}
		c.line("DTSTART;VALUE=DATE:" + icsDay(r.Day))
		c.line("DTEND;VALUE=DATE:" + icsDay(r.Day+1))
		c.line("SUMMARY:" + icsText(title))
		c.line("DESCRIPTION:" + icsText(what))
		c.line("TRANSP:TRANSPARENT")
		if !rests { // a reminder that is cancelled does not ring
			c.line("BEGIN:VALARM")
			c.line("ACTION:DISPLAY")
			c.line("TRIGGER:-PT15H")
			c.line("DESCRIPTION:" + icsText(title))
			c.line("END:VALARM")
		}
		c.line("END:VEVENT")
	}
	c.line("END:VCALENDAR")
	_, err := io.WriteString(w, c.b.String())
	return err
}

// epochMinutes is the start of 2026 in minutes: SEQUENCE grows by one a minute and stays
// within 31 bits.
const epochMinutes = 1767225600 / 60

func icsDay(d training.Day) string { return d.Time(time.UTC).Format("20060102") }

// icsText escapes a TEXT value (RFC 5545, 3.3.11).
func icsText(s string) string {
	return strings.NewReplacer(`\`, `\\`, ";", `\;`, ",", `\,`, "\r\n", `\n`, "\n", `\n`, "\r", `\n`).Replace(s)
}

type icsWriter struct{ b strings.Builder }

// line writes a content line, folded so that no line is longer than 75 octets
// and no character is cut (RFC 5545, 3.1).
func (c *icsWriter) line(s string) {
	room := 75
	for len(s) > room {
		cut := room
		for cut > 0 && !utf8.RuneStart(s[cut]) {
			cut--
		}
		if cut == 0 { // not UTF-8: cut where we stand
			cut = room
		}
		c.b.WriteString(s[:cut] + "\r\n ")
		s = s[cut:]
		room = 74 // the blank that marks a continuation counts
	}
	c.b.WriteString(s + "\r\n")
}
