package sheet

import (
	"fmt"
	"regexp"
	"strings"
	"time"

	"firstcue/internal/note"
)

// start works out when the session began.
func (x *reader) start(v map[Field]string) (note.Moment, *Problem) {
	if s := v[Start]; s != "" {
		return x.startOf(s, v[Zone])
	}
	d, t := v[Date], v[Time]
	if d == "" {
		return note.Moment{}, x.problem(Date, "", "no day is given", "")
	}
	iso, why := x.iso(Date, d)
	if why != nil {
		return note.Moment{}, why
	}
	// A spreadsheet may have put midnight behind a date.
	for _, zero := range []string{" 00:00:00", " 00:00", " 0:00"} {
		iso = strings.TrimSuffix(iso, zero)
	}
	if t == "" {
		t = x.o.At
	}
	if t == "" {
		return note.Moment{}, x.problem(Date, "", "the day has no time",
			"say --at 9:00 for the sessions whose time is not known")
	}
	return x.moment(Date, iso+" "+t)
}

// startOf reads day and time in one cell.
func (x *reader) startOf(s, zone string) (note.Moment, *Problem) {
	iso, why := x.iso(Start, s)
	if why != nil {
		return note.Moment{}, why
	}
	if !strings.Contains(iso, ":") && x.isDay(iso) {
		p := x.problem(Start, s, "has no time of day",
			"say --at 9:00 for the sessions whose time is not known")
		switch {
		case x.o.At != "":
			iso += " " + x.o.At
		case x.o.Columns.At(Time) >= 0:
			p.Message += ", but " + x.column(Time) + " holds it"
			p.Want = fmt.Sprintf("--map 'date=%s, time=%s'", quoted(x.column(Start)), quoted(x.column(Time)))
			return note.Moment{}, p
		default:
			return note.Moment{}, p
		}
	}
	m, why := x.moment(Start, iso)
	if why == nil && zone != "" && m.Zone == "" {
		// An offset and a zone: they must agree, as in RFC 9557.
		return x.moment(Start, m.Time.Format(time.RFC3339Nano)+"["+zone+"]")
	}
	return m, why
}

func (x *reader) isDay(s string) bool {
	_, err := note.ParseDay(s, x.o.Now)
	return err == nil
}

func (x *reader) moment(f Field, s string) (note.Moment, *Problem) {
	m, err := note.ReadTime(s, x.o.Now)
	if err != nil {
		return m, x.problem(f, "", err.Error(), "")
	}
	return m, nil
}

var yearOfFour = regexp.MustCompile(`\d{4}`)

// iso writes a date of numbers in the order of ISO 8601. What is not made of
// numbers is left alone, but must name its year: "yesterday" in a file says
// nothing.
func (x *reader) iso(f Field, s string) (string, *Problem) {
	const want = "write it as 2026-03-04"
	d, ok := cutDate(s)
	switch {
	case !ok && !yearOfFour.MatchString(s):
		return "", x.problem(f, s, "is not a date with its year", want)
	case !ok, d.digits == [3]int{4, 2, 2} && d.sep == "-":
		return s, nil
	case d.digits[0] == 4:
		return fmt.Sprintf("%04d-%02d-%02d%s", d.n[0], d.n[1], d.n[2], d.rest), nil
	case d.digits[2] != 4:
		return "", x.problem(f, s, "has no year of four digits", want)
	}
	day, month := d.n[0], d.n[1]
	switch x.o.Layout.Dates {
	case DMY:
	case MDY:
		day, month = month, day
	default:
		return "", x.problem(f, s, "is not written year first as the other dates are",
			"say --dates dmy or mdy, or "+want)
	}
	if month > 12 {
		return "", x.problem(f, s, fmt.Sprintf("has no month %d; the file's dates are read as %s", month,
			x.o.Layout.Dates), "")
	}
	return fmt.Sprintf("%04d-%02d-%02d%s", d.n[2], month, day, d.rest), nil
}
