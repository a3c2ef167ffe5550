package sheet

import (
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"time"
)

// DateOrder is the order of day, month and year in a date of numbers.
type DateOrder string

// Date orders. Unsure fits several readings: 04/03/2026.
const (
	YMD    DateOrder = "ymd"
	DMY    DateOrder = "dmy"
	MDY    DateOrder = "mdy"
	Unsure DateOrder = ""
)

// ParseDateOrder reads dmy, mdy or ymd.
func ParseDateOrder(s string) (DateOrder, error) {
	switch o := DateOrder(strings.ToLower(s)); o {
	case YMD, DMY, MDY:
		return o, nil
	}
	return Unsure, fmt.Errorf("date order %q is not known: dmy for 25/03/2026, mdy for 03/25/2026, ymd for 2026-03-25", s)
}

var dateOfNumbers = regexp.MustCompile(`^(\d{1,4})([-/.])(\d{1,4})([-/.])(\d{1,4})(\D.*)?$`)

// numbers is a date of three numbers, in the order in which they stand.
type numbers struct {
	n, digits [3]int
	sep       string
	rest      string // what follows: a time, or nothing
}

func cutDate(s string) (d numbers, ok bool) {
	m := dateOfNumbers.FindStringSubmatch(s)
	if m == nil || m[2] != m[4] {
		return d, false
	}
	for i, part := range []string{m[1], m[3], m[5]} {
		d.n[i], _ = strconv.Atoi(part)
		d.digits[i] = len(part)
	}
	d.sep, d.rest = m[2], m[6]
	return d, true
}

// order returns the date order in which the numbers are a possible date, Unsure
// where it is one in two. A year of two digits is refused, whatever the order.
func (d numbers) order() (o DateOrder, ok bool) {
	a, b := d.n[0], d.n[1]
	switch {
	case d.digits[0] == 4:
		return YMD, d.digits[1] <= 2 && d.digits[2] <= 2 && b <= 12 && d.n[2] <= 31
	case d.digits[2] != 4 || d.digits[0] > 2 || d.digits[1] > 2 || a < 1 || b < 1 || a > 31 || b > 31 ||
		a > 12 && b > 12:
		return Unsure, false
	case a > 12:
		return DMY, true
	case b > 12:
		return MDY, true
	}
	return Unsure, true
}

var numberWithMark = regexp.MustCompile(`^(\d+)([.,])(\d+)$`)

// decimalOf returns the decimal mark of a number, or 0 when it has none or may be
// a thousands mark (1,800 or 1.800).
func decimalOf(cell string) byte {
	m := numberWithMark.FindStringSubmatch(cell)
	if m == nil || len(m[1]) <= 3 && len(m[3]) == 3 && m[1][0] != '0' {
		return 0
	}
	return m[2][0]
}

// Detect finds out the date order and the decimal mark of a file, as far as the
// user has not said them. r stands behind the header; it is read to the row that
// decides, which for dates may be the last.
func Detect(r *Reader, l Layout, c Columns, w Wishes) (Layout, error) {
	l.Dates, l.Decimal = w.Dates, w.Decimal
	if l.Dates != Unsure {
		l.DatesBy = "as you said"
	}
	if l.Decimal != 0 {
		l.DecimalBy = "as you said"
	}
	d := detector{Layout: l, dates: c.in(Start, Date), decimals: c.in(Latency, Completion, Level, Target,
		Held, Walked, Distance, Working)}
	if len(d.dates) == 0 && l.Dates == Unsure {
		d.Dates, d.DatesBy = YMD, "no column of dates"
	}
	const enough = 20_000 // rows without a decimal mark
	for rows := 0; d.Dates == Unsure || d.Decimal == 0 && rows < enough && len(d.decimals) > 0; rows++ {
		row, err := r.Read()
		if err != nil {
			break // the end; trouble reading comes again when the rows are read
		}
		d.row(row)
	}
	return d.conclude()
}

// in returns the columns of those fields that the file has.
func (c Columns) in(fields ...Field) (at []int) {
	for _, f := range fields {
		if i := c.At(f); i >= 0 {
			at = append(at, i)
		}
	}
	return at
}

type detector struct {
	Layout
	dates, decimals []int
	unsure          string // a date that fits two orders
	marked          bool   // a number may have a thousands mark
}

func (d *detector) row(row Row) {
	for i, cell := range row.Cells {
		cell = strings.TrimSpace(cell)
		by := fmt.Sprintf("line %d: %s", row.Line, cell)
		if d.Dates == Unsure && slices.Contains(d.dates, i) {
			n, _ := cutDate(cell)
			switch o, ok := n.order(); {
			case ok && o != Unsure:
				d.Dates, d.DatesBy = o, by
			case ok && d.unsure == "":
				d.unsure = cell
			}
		}
		if d.Decimal == 0 && slices.Contains(d.decimals, i) {
			if mark := decimalOf(cell); mark != 0 {
				d.Decimal, d.DecimalBy = mark, by
			} else if strings.ContainsAny(cell, ".,") {
				d.marked = true
			}
		}
	}
}

func (d *detector) conclude() (Layout, error) {
	if d.Dates == Unsure {
		if d.unsure != "" {
			return d.Layout, &UnsureError{Date: d.unsure}
		}
		d.Dates, d.DatesBy = YMD, "no date of numbers alone"
	}
	if d.Decimal == 0 {
		switch {
		case d.marked && d.Delimiter != ',':
			return d.Layout, errors.New("the numbers could have a decimal mark or a thousands mark (1.800, 1,800): say --decimal dot or --decimal comma")
		case d.marked:
			d.Decimal, d.DecimalBy = '.', "the cells are separated by commas"
		default:
			d.Decimal, d.DecimalBy = '.', "no number with a fraction seen"
		}
	}
	return d.Layout, nil
}

// UnsureError is a file all of whose dates fit two orders.
type UnsureError struct{ Date string }

func (e *UnsureError) Error() string {
	d, _ := cutDate(e.Date)
	reading := func(day, month int) string {
		return time.Date(d.n[2], time.Month(month), day, 0, 0, 0, 0, time.UTC).Format("2 January 2006")
	}
	return fmt.Sprintf("%q and every other date could have the day or the month first (%s or %s): say --dates dmy or --dates mdy",
		e.Date, reading(d.n[0], d.n[1]), reading(d.n[1], d.n[0]))
}
