package report

import (
	"io"
	"strconv"
	"strings"

	"firstcue/internal/training"
)

// CSVOptions shape a CSV file. The zero value is RFC 4180 with commas, UTF-8
// without a byte order mark, decimal points.
type CSVOptions struct {
	Excel        bool // byte order mark, and a semicolon unless Separator is set
	Separator    rune // 0 = comma, or semicolon with Excel
	DecimalComma bool // 1,6 instead of 1.6; never with a comma as separator
}

func (o CSVOptions) separator() rune {
	switch {
	case o.Separator != 0:
		return o.Separator
	case o.Excel:
		return ';'
	}
	return ','
}

// csvWriter writes rows that end in CR LF. A field is quoted when it holds the
// separator, a quote or a line break; line breaks inside a field stay as they
// are, which the standard library's writer with CR LF would rewrite.
type csvWriter struct {
	w     io.Writer
	o     CSVOptions
	b     strings.Builder
	begun bool
	err   error
}

func newCSV(w io.Writer, o CSVOptions) *csvWriter { return &csvWriter{w: w, o: o} }

func (c *csvWriter) row(fields ...string) {
	if !c.begun && c.o.Excel {
		c.b.WriteString("\ufeff")
	}
	c.begun = true
	sep := c.o.separator()
	for i, f := range fields {
		if i > 0 {
			c.b.WriteRune(sep)
		}
		if strings.ContainsRune(f, sep) || strings.ContainsAny(f, "\"\r\n") || f != strings.TrimSpace(f) || strings.HasPrefix(f, "\ufeff") || len(fields) == 1 && f == "" {
			c.b.WriteString(`"` + strings.ReplaceAll(f, `"`, `""`) + `"`)
			continue
		}
		c.b.WriteString(f)
	}
	c.b.WriteString("\r\n")
	if c.b.Len() > 1<<15 {
		c.flush()
	}
}

func (c *csvWriter) flush() {
	if c.err == nil {
		_, c.err = io.WriteString(c.w, c.b.String())
	}
	c.b.Reset()
}

func (c *csvWriter) close() error {
	c.flush()
	return c.err
}

// formulaStarts are the characters on which a spreadsheet takes a cell for a
// formula (OWASP, CSV injection, list of August 2025), and the apostrophe, so
// that a text that begins with one comes back with it.
const formulaStarts = "=+-@\t\r\n'"

// text guards a text cell: an apostrophe goes in front of what a spreadsheet
// would run.
func (c *csvWriter) text(s string) string {
	if s != "" && strings.IndexByte(formulaStarts, s[0]) >= 0 {
		return "'" + s
	}
	return s
}

// num writes a number with all its digits, or nothing when unknown.
func (c *csvWriter) num(n training.Num) string {
	n = finite(n)
	if !n.Known {
		return ""
	}
	s := strconv.FormatFloat(n.V, 'f', -1, 64)
	if c.o.DecimalComma && c.o.separator() != ',' {
		s = strings.Replace(s, ".", ",", 1)
	}
	return s
}
