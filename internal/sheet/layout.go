package sheet

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"slices"
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

// DecimalName returns a decimal mark in words.
func DecimalName(mark byte) string {
	if mark == ',' {
		return "comma"
	}
	return "dot"
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
	if line, _, _ := bytes.Cut(head, []byte{'\n'}); len(line) >= 5 && strings.EqualFold(string(line[:4]),
		"sep=") {
		d, err := ParseDelimiter(string(line[4]))
		return d, 1, err
	}
	best, bestFit, tied := byte(0), 0.0, false
	for _, d := range Delimiters {
		switch fit := fits(head, d); {
		case fit == 0:
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

// fits is the share of rows, of the first hundred, that d cuts into as many cells
// as the first one; 0 when that has one cell only.
func fits(head []byte, d byte) float64 {
	width, same, rows := 0, 0, 0
	r := NewReader(bytes.NewReader(head), d)
	for rows < 100 {
		row, err := r.Read()
		if err != nil {
			break // the end of the file, or of the piece looked at
		}
		rows++
		if width == 0 {
			width = len(row.Cells)
		}
		if row.Bad == nil && len(row.Cells) == width {
			same++
		}
	}
	if width < 2 {
		return 0
	}
	return float64(same) / float64(rows)
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
	text = io.MultiReader(bytes.NewReader(head[:n]), text)
	head = slices.Clone(head[:n])
	if len(bytes.TrimSpace(head)) == 0 {
		return nil, l, errors.New("the file is empty")
	}
	if bytes.IndexByte(head, '\r') >= 0 && bytes.IndexByte(head, '\n') < 0 {
		text, head = feeds{text}, bytes.ReplaceAll(head, []byte("\r"), []byte("\n"))
	}
	if end := bytes.LastIndexByte(head, '\n'); err == nil && end > 0 {
		head = head[:end] // the row behind it may be cut in two
	}
	d, skip, err := SniffDelimiter(head)
	if w.Delimiter == 0 {
		if err != nil {
			return nil, l, err
		}
		l.Delimiter = d
	}
	r := NewReader(text, l.Delimiter)
	for ; skip >= 0; skip-- {
		row, err := r.Read()
		if err == nil && row.Bad != nil {
			err = row.Bad
		}
		if err != nil {
			return nil, l, fmt.Errorf("the header line can't be read: %w", err)
		}
		l.Header = l.Header[:0]
		for _, c := range row.Cells {
			l.Header = append(l.Header, strings.TrimSpace(c))
		}
	}
	return r, l, nil
}
