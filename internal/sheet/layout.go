package sheet

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"strings"
)

// Delimiters lists what may stand between two cells.
var Delimiters = []byte{',', ';', '\t'}

// DelimiterName returns a delimiter in words.
func DelimiterName(d byte) string {
	switch d {
	case ',':
		return "comma"
	case ';':
		return "semicolon"
	case '\t':
		return "tab"
	}
	return string(d)
}

// ParseDelimiter reads a delimiter as a user gives it: the sign or its name.
func ParseDelimiter(s string) (byte, error) {
	for _, d := range Delimiters {
		if s == string(d) || strings.EqualFold(s, DelimiterName(d)) || d == '\t' && s == `\t` {
			return d, nil
		}
	}
	return 0, fmt.Errorf("delimiter %q is not known: comma, semicolon or tab", s)
}

// SniffDelimiter decides from the beginning of a file what stands between its
// cells: the delimiter that cuts the header and the rows after it into the same
// number of cells, at least two. It refuses when two delimiters do that equally
// well, or none does. skip is 1 when the first line is "sep=;", which some
// spreadsheets write to say it themselves.
func SniffDelimiter(head []byte) (delim byte, skip int, err error) {
	if line, _, _ := bytes.Cut(head, []byte{'\n'}); len(line) >= 5 && strings.EqualFold(string(line[:4]), "sep=") {
		d, err := ParseDelimiter(string(line[4]))
		return d, 1, err
	}
	best, bestFit, tied := byte(0), 0.0, false
	for _, d := range Delimiters {
		width, same, rows := 0, 0, 0
		r := NewReader(bytes.NewReader(head), d)
		for rows < 100 {
			cells, err := r.Read()
			var bad *RowError
			if errors.As(err, &bad) {
				rows++
				continue
			}
			if err != nil {
				break // the end of the file, or of the piece looked at
			}
			rows++
			if width == 0 {
				width = len(cells)
			}
			if len(cells) == width {
				same++
			}
		}
		if width < 2 || rows == 0 {
			continue
		}
		switch fit := float64(same) / float64(rows); {
		case fit > bestFit:
			best, bestFit, tied = d, fit, false
		case fit == bestFit:
			tied = true
		}
	}
	if best == 0 || tied {
		return 0, 0, errors.New("it can't be told what stands between the cells: say --delimiter comma, semicolon or tab")
	}
	return best, 0, nil
}

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

// cutDate cuts a date of three numbers, each with its count of digits; rest is
// what follows it (a time, or nothing).
func cutDate(b []byte) (n, digits [3]int, rest []byte, ok bool) {
	i := 0
	var sep byte
	for part := 0; part < 3; part++ {
		begin := i
		for i < len(b) && b[i] >= '0' && b[i] <= '9' && i-begin < 5 {
			n[part] = n[part]*10 + int(b[i]-'0')
			i++
		}
		digits[part] = i - begin
		if digits[part] == 0 || digits[part] > 4 {
			return n, digits, nil, false
		}
		if part == 2 {
			break
		}
		if i >= len(b) || b[i] != '-' && b[i] != '/' && b[i] != '.' || part == 1 && b[i] != sep {
			return n, digits, nil, false
		}
		sep = b[i]
		i++
	}
	return n, digits, b[i:], true
}

// orderOf returns the date orders in which the cell is a possible date: one, two
// (Unsure) or none (false).
func orderOf(cell []byte) (DateOrder, bool) {
	n, digits, _, ok := cutDate(cell)
	if !ok {
		return Unsure, false
	}
	if digits[0] == 4 {
		return YMD, digits[1] <= 2 && digits[2] <= 2 && n[1] <= 12 && n[2] <= 31
	}
	if digits[2] != 4 {
		return Unsure, false // a year of two digits is refused, whatever the order
	}
	if digits[0] > 2 || digits[1] > 2 || n[0] < 1 || n[1] < 1 {
		return Unsure, false
	}
	switch {
	case n[0] > 31 || n[1] > 31 || n[0] > 12 && n[1] > 12:
		return Unsure, false
	case n[0] > 12:
		return DMY, true
	case n[1] > 12:
		return MDY, true
	case n[0] == n[1]:
		return Unsure, true
	}
	return Unsure, true
}

// decimalOf returns the decimal mark of a number: '.' or ',', or 0 when it has
// none or may be a thousands mark (1,800 or 1.800).
func decimalOf(cell []byte) byte {
	at := bytes.LastIndexAny(cell, ".,")
	if at <= 0 || bytes.IndexAny(cell, ".,") != at {
		return 0
	}
	for i, c := range cell {
		if i != at && (c < '0' || c > '9') {
			return 0
		}
	}
	if at <= 3 && len(cell)-at-1 == 3 && cell[0] != '0' {
		return 0
	}
	if at+1 == len(cell) {
		return 0
	}
	return cell[at]
}

// Layout is how a file is written: what had to be found out before its cells
// mean anything. The By fields say what it was told from, for showing.
type Layout struct {
	Encoding  Encoding
	Mark      bool // it begins with a byte order mark
	Delimiter byte
	Header    []string
	Dates     DateOrder
	DatesBy   string
	Decimal   byte // '.' or ','
	DecimalBy string
}

// Wishes is what the user said about the layout; empty parts are to be found out.
type Wishes struct {
	Encoding  Encoding
	Delimiter byte
	Dates     DateOrder
	Decimal   byte
}

// Open decodes src and reads its header line. The Reader returned stands at the
// first row after it.
func Open(src io.Reader, w Wishes) (*Reader, Layout, error) {
	text, enc, mark, err := Decode(src, w.Encoding)
	if err != nil {
		return nil, Layout{}, err
	}
	l := Layout{Encoding: enc, Mark: mark, Delimiter: w.Delimiter}
	head := make([]byte, 64<<10)
	n, err := io.ReadFull(text, head)
	if err != nil && err != io.EOF && err != io.ErrUnexpectedEOF {
		return nil, l, err
	}
	head = head[:n]
	if len(bytes.TrimSpace(head)) == 0 {
		return nil, l, errors.New("the file is empty")
	}
	d, skip, err := SniffDelimiter(head)
	if w.Delimiter == 0 {
		if err != nil {
			return nil, l, err
		}
		l.Delimiter = d
	}
	r := NewReader(io.MultiReader(bytes.NewReader(head), text), l.Delimiter)
	for ; skip >= 0; skip-- {
		cells, err := r.Read()
		if err != nil {
			return nil, l, fmt.Errorf("the header line can't be read: %w", err)
		}
		l.Header = l.Header[:0]
		for _, c := range cells {
			l.Header = append(l.Header, strings.TrimSpace(string(c)))
		}
	}
	return r, l, nil
}
