package sheet

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
)

// MaxRow is the longest row a Reader takes, in bytes. A longer one is almost
// always a quote that was opened and never closed, which would otherwise pull
// the rest of the file into memory.
const MaxRow = 1 << 20

// ErrUnclosed is a quote that is still open at the end of the file, or for more
// than MaxRow bytes. Nothing after it can be trusted to be what it looks like,
// so reading ends.
var ErrUnclosed = errors.New("a quote is opened here and never closed")

// Row is one row of a file. Bad says why it can't be cut into cells; the rows
// after it can still be read.
type Row struct {
	Line  int // on which it begins, 1 = first of the file
	Cells []string
	Bad   *Problem
}

// Reader cuts a spreadsheet's text into rows, one at a time. Rows may have
// different numbers of cells; blank lines are passed over.
type Reader struct {
	csv   *csv.Reader
	src   *guard
	line  int  // of the row read last
	ahead *Row // read already
	err   error
}

// NewReader returns a Reader of UTF-8 text without a byte order mark, with LF or
// CRLF as line ends.
func NewReader(src io.Reader, delimiter byte) *Reader {
	r := &Reader{src: &guard{src: src}}
	r.csv = csv.NewReader(r.src)
	r.csv.Comma, r.csv.FieldsPerRecord = rune(delimiter), -1
	return r
}

// Read returns the next row, io.EOF at the end, and any other error for good.
func (r *Reader) Read() (Row, error) {
	if r.ahead != nil || r.err != nil {
		row := r.ahead
		r.ahead = nil
		if row != nil {
			return *row, nil
		}
		return Row{}, r.err
	}
	row, err := r.next()
	if err != nil || row.Bad == nil {
		return row, err
	}
	// The end of the file behind a quote that went wrong: it is still open.
	next, err := r.next()
	if err == io.EOF && errors.Is(row.Bad, csv.ErrQuote) {
		r.err = fmt.Errorf("line %d: %w", row.Line, ErrUnclosed)
		return Row{}, r.err
	}
	if r.err = err; err == nil {
		r.ahead = &next
	}
	return row, nil
}

func (r *Reader) next() (Row, error) {
	r.src.left = MaxRow
	cells, err := r.csv.Read()
	var bad *csv.ParseError
	switch {
	case err == nil:
		r.line, _ = r.csv.FieldPos(0)
		return Row{Line: r.line, Cells: cells}, nil
	case errors.Is(err, errLong):
		return Row{}, fmt.Errorf("the row after line %d is longer than %d bytes: %w, or this is no spreadsheet's text", r.line, MaxRow, ErrUnclosed)
	case !errors.As(err, &bad):
		return Row{}, err
	}
	r.line = bad.StartLine
	p := &Problem{Message: fmt.Sprintf("byte %d: text after the closing quote of a cell", bad.Column),
		Want: "write a quote inside a cell twice", err: bad.Err}
	if errors.Is(err, csv.ErrBareQuote) {
		p.Message = fmt.Sprintf("byte %d: a quote inside a cell that does not begin with one", bad.Column)
		p.Want = "write the whole cell in quotes, and the quote twice"
	}
	return Row{Line: bad.StartLine, Bad: p}, nil
}

var errLong = errors.New("too long")

// guard stops the reading of a row that is too long.
type guard struct {
	src  io.Reader
	left int
}

func (g *guard) Read(p []byte) (int, error) {
	if g.left <= 0 {
		return 0, errLong
	}
	n, err := g.src.Read(p)
	g.left -= n
	return n, err
}

// feeds writes the line ends of older Macintosh files, CR alone, as LF.
type feeds struct{ src io.Reader }

func (f feeds) Read(p []byte) (int, error) {
	n, err := f.src.Read(p)
	for i, c := range p[:n] {
		if c == '\r' {
			p[i] = '\n'
		}
	}
	return n, err
}
