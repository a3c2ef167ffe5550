package sheet

import (
	"fmt"
	"strings"

	"firstcue/internal/note"
)

// Problem is why a row, or the session that it belongs to, can't be stored.
type Problem struct {
	Column  string // heading of the column, or the field if it comes from a flag; "" = the row as a whole
	Found   string // what stands there; "" = nothing, or it does not matter
	Message string // what is wrong with it
	Want    string // what to write instead; may be empty
	Near    []string
	err     error
}

// Error says the problem in one line.
func (p *Problem) Error() string {
	var b strings.Builder
	if p.Column != "" {
		b.WriteString(p.Column + ": ")
	}
	if p.Found != "" {
		fmt.Fprintf(&b, "%q ", p.Found)
	}
	b.WriteString(p.Message)
	if len(p.Near) > 0 {
		b.WriteString("; did you mean " + strings.Join(p.Near, " or ") + "?")
	}
	if p.Want != "" {
		b.WriteString("; " + p.Want)
	}
	return b.String()
}

func (p *Problem) Unwrap() error { return p.err }

// problem is one about the cell of a field.
func (x *reader) problem(f Field, found, message, want string) *Problem {
	return &Problem{Column: x.column(f), Found: found, Message: message, Want: want}
}

// column is what the column of a field is called.
func (x *reader) column(f Field) string {
	if h := x.o.Columns.Heading(f, x.o.Layout.Header); h != "" {
		return h
	}
	return string(f)
}

// ofNote is a problem that the note's reader found in a cell with its marks.
func (x *reader) ofNote(f Field, p note.Problem) *Problem {
	return &Problem{Column: x.column(f), Message: p.Message, Want: p.Want, Near: p.Near}
}

// warn keeps a warning, each once and at most 20.
func (x *reader) warn(text string) {
	if !x.warned[text] && len(x.res.Warnings) < 20 {
		x.warned[text] = true
		x.res.Warnings = append(x.res.Warnings, text)
	}
}
