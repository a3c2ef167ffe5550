package sheet

import (
	"bytes"
	"errors"
	"fmt"
	"io"
)

// MaxRow is the longest row a Reader takes, in bytes. A longer one is almost
// always a quote that was opened and never closed, which would otherwise pull
// the rest of the file into memory.
const MaxRow = 1 << 20

// RowError is trouble with the form of one row: it cannot be cut into cells.
// The rows after it can still be read.
type RowError struct {
	Line   int // line the row begins on, 1 = first of the file
	Column int // byte of the row at which it went wrong, 1 = first
	Reason string
}

func (e *RowError) Error() string {
	return fmt.Sprintf("line %d, byte %d: %s", e.Line, e.Column, e.Reason)
}

// ErrUnclosed is a quote that is still open at the end of the file, or for more
// than MaxRow bytes. Nothing after it can be trusted to be what it looks like,
// so reading ends.
var ErrUnclosed = errors.New("a quote is opened here and never closed")

// Reader cuts a spreadsheet's text into rows of cells as RFC 4180 describes
// them, for any delimiter, and with LF, CRLF or (older Macintosh files) CR as
// line ends. It reads in one pass, keeps one row at a time and makes no garbage
// per row, so its memory does not grow with the file.
//
// Two readings go beyond the RFC's text: rows may have different numbers of
// cells (the caller decides what that means), and blank lines are passed over.
type Reader struct {
	src   io.Reader
	delim byte
	eol   byte // '\n', or '\r' for a file that has no line feed
	buf   []byte
	start int // first byte of buf not handed out
	end   int // end of valid bytes in buf
	eof   bool
	err   error
	line  int // line at buf[start]
	at    int // line of the row handed out last
	cells [][]byte
	spans [][2]int
}

// NewReader returns a Reader of UTF-8 text without a byte order mark.
func NewReader(src io.Reader, delimiter byte) *Reader {
	r := &Reader{src: src, delim: delimiter, eol: '\n', buf: make([]byte, 256<<10), line: 1}
	for r.end < 64<<10 && r.fill() {
	}
	head := r.buf[:r.end]
	if bytes.IndexByte(head, '\n') < 0 && bytes.IndexByte(head, '\r') >= 0 {
		r.eol = '\r'
	}
	return r
}

// Line returns the line on which the row read last begins.
func (r *Reader) Line() int { return r.at }

// fill reads more bytes behind buf[end], moving what is not handed out to the
// front or growing the buffer when there is no room. It reports whether there
// is any new byte.
func (r *Reader) fill() bool {
	if r.eof {
		return false
	}
	if r.start > 0 {
		copy(r.buf, r.buf[r.start:r.end])
		r.end -= r.start
		r.start = 0
	}
	if r.end == len(r.buf) {
		r.buf = append(r.buf, make([]byte, len(r.buf))...)
	}
	for tries := 0; tries < 100; tries++ {
		n, err := r.src.Read(r.buf[r.end:])
		r.end += n
		if err != nil {
			r.eof = true
			if err != io.EOF {
				r.err = err
			}
			return n > 0
		}
		if n > 0 {
			return true
		}
	}
	r.eof, r.err = true, io.ErrNoProgress
	return false
}

// Read returns the cells of the next row, valid until the next call. It
// returns io.EOF at the end, a *RowError for one bad row (call again for the
// rest), and any other error for good.
func (r *Reader) Read() ([][]byte, error) {
	for {
		n, more := r.upTo(0, r.eol)
		if n == 0 && !more {
			if r.err != nil {
				return nil, r.err
			}
			return nil, io.EOF
		}
		row := r.buf[r.start : r.start+n]
		if bytes.IndexByte(row, '"') >= 0 {
			return r.quoted()
		}
		if n > MaxRow {
			return nil, fmt.Errorf("line %d: the line is longer than %d bytes: is this a spreadsheet's text?", r.line, MaxRow)
		}
		r.at = r.line
		r.line++
		r.start = min(r.start+n+1, r.end)
		row = bytes.TrimSuffix(row, []byte{'\r'})
		if len(row) == 0 {
			continue
		}
		cells := r.cells[:0]
		for {
			i := bytes.IndexByte(row, r.delim)
			if i < 0 {
				break
			}
			cells = append(cells, row[:i])
			row = row[i+1:]
		}
		r.cells = append(cells, row)
		return r.cells, nil
	}
}

// upTo returns how many bytes, counted from start, stand before the next b at
// or after offset from; or before the end of the file, with false. It gives up
// looking beyond MaxRow.
func (r *Reader) upTo(from int, b byte) (int, bool) {
	for {
		if from < r.end-r.start {
			if i := bytes.IndexByte(r.buf[r.start+from:r.end], b); i >= 0 {
				return from + i, true
			}
			from = r.end - r.start
		}
		if from > MaxRow || !r.fill() {
			return r.end - r.start, r.end-r.start > MaxRow
		}
	}
}

// peek returns the byte at offset from start, and whether there is one.
func (r *Reader) peek(offset int) (byte, bool) {
	for r.start+offset >= r.end {
		if !r.fill() {
			return 0, false
		}
	}
	return r.buf[r.start+offset], true
}

// quoted reads a row that has a quote in its first line. Doubled quotes are
// undone in place, which can only make a cell shorter. All positions are
// offsets from start, because filling moves the bytes.
func (r *Reader) quoted() ([][]byte, error) {
	r.at = r.line
	r.spans = r.spans[:0]
	lines := 1
	fail := func(at int, reason string) ([][]byte, error) {
		n, _ := r.upTo(at, r.eol)
		r.start = min(r.start+n+1, r.end)
		r.line += lines
		return nil, &RowError{Line: r.at, Column: at + 1, Reason: reason}
	}
	pos := 0
	for {
		c, ok := r.peek(pos)
		if !ok || c != '"' { // a cell without quotes, perhaps empty
			begin := pos
			for ok && c != r.delim && c != r.eol {
				if c == '"' {
					return fail(pos, `a quote inside a cell that does not begin with one: write the whole cell in quotes, and the quote twice`)
				}
				pos++
				if pos > MaxRow {
					return nil, fmt.Errorf("line %d: the line is longer than %d bytes: is this a spreadsheet's text?", r.at, MaxRow)
				}
				c, ok = r.peek(pos)
			}
			end := pos
			if (!ok || c == r.eol) && end > begin && r.buf[r.start+end-1] == '\r' {
				end--
			}
			r.spans = append(r.spans, [2]int{begin, end})
		} else {
			open, openLine := pos, r.line+lines-1
			pos++
			begin, w := pos, pos
			for {
				c, ok = r.peek(pos)
				if !ok || pos > MaxRow {
					return nil, fmt.Errorf("line %d, byte %d: %w", openLine, open+1, ErrUnclosed)
				}
				if c == '"' {
					next, more := r.peek(pos + 1)
					if !more || next != '"' {
						break
					}
					pos++
				} else if c == r.eol {
					lines++
				}
				r.buf[r.start+w] = c
				w++
				pos++
			}
			r.spans = append(r.spans, [2]int{begin, w})
			pos++
			c, ok = r.peek(pos)
			if ok && c == '\r' && r.eol == '\n' {
				if next, more := r.peek(pos + 1); !more || next == '\n' {
					pos++
					c, ok = next, more
				}
			}
			if ok && c != r.delim && c != r.eol {
				return fail(pos, "text after the closing quote of a cell: a quote inside a cell is written twice")
			}
		}
		if ok && c == r.delim {
			pos++
			continue
		}
		base := r.start
		r.cells = r.cells[:0]
		for _, s := range r.spans {
			r.cells = append(r.cells, r.buf[base+s[0]:base+s[1]])
		}
		r.start = min(base+pos+1, r.end)
		r.line += lines
		return r.cells, nil
	}
}
