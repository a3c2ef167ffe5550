package sheet

import (
	"encoding/json"
	"errors"
	"fmt"
	"sort"
	"strings"
	"unicode"

	"firstcue/internal/training"
)

// Mapping says which column holds what, and what its cells mean. It is what is
// remembered under a name, so it also holds what the user had to say about the
// layout; empty parts are found out from each file.
type Mapping struct {
	Columns   map[Field]string            `json:"columns"`             // field to heading, as written in the file
	Values    map[Field]map[string]string `json:"values,omitempty"`    // field to cell to what it means here
	Encoding  Encoding                    `json:"encoding,omitempty"`  //
	Delimiter string                      `json:"delimiter,omitempty"` //
	Dates     DateOrder                   `json:"dates,omitempty"`     //
	Decimal   string                      `json:"decimal,omitempty"`   // "." or ","
}

// ParseMapping reads what Mapping marshals to JSON.
func ParseMapping(text []byte) (Mapping, error) {
	var m Mapping
	if err := json.Unmarshal(text, &m); err != nil {
		return m, fmt.Errorf("the remembered map can't be read: %w", err)
	}
	return m, nil
}

// ColumnsText writes the columns as AddColumns reads them.
func (m Mapping) ColumnsText() string {
	var out []string
	for _, f := range Fields {
		if c, ok := m.Columns[f.Field]; ok {
			out = append(out, string(f.Field)+"="+quoted(c))
		}
	}
	return strings.Join(out, ", ")
}

// ValuesText writes what cells mean as AddValues reads it, cells in order.
func (m Mapping) ValuesText() string {
	var out []string
	for _, f := range Fields {
		var cells []string
		for cell := range m.Values[f.Field] {
			cells = append(cells, cell)
		}
		sort.Strings(cells)
		for i, cell := range cells {
			key := quoted(cell)
			if cell == "" {
				key = `""` // an empty cell
			}
			cells[i] = key + "=" + quoted(m.Values[f.Field][cell])
		}
		if len(cells) > 0 {
			out = append(out, string(f.Field)+": "+strings.Join(cells, ", "))
		}
	}
	return strings.Join(out, "; ")
}

// quoted puts one side of a pair in quotes where a sign in it has a meaning.
func quoted(s string) string {
	if s != "" && s == strings.TrimSpace(s) && !strings.ContainsAny(s, `,;:="'`) {
		return s
	}
	if s == "" {
		return ""
	}
	return `"` + strings.ReplaceAll(s, `"`, `""`) + `"`
}

// pairs cuts "a=b, c=d" into pairs. Either side may be in single or double
// quotes, inside which no sign has a meaning; a quote is then written twice.
func pairs(s string, sep rune) ([][2]string, error) {
	var out [][2]string
	var cur [2]strings.Builder
	side, quote, quoted, any := 0, rune(0), false, false
	flush := func() error {
		pair := [2]string{strings.TrimSpace(cur[0].String()), strings.TrimSpace(cur[1].String())}
		if side == 0 && pair[0] == "" && !any {
			return nil // a comma too many
		}
		if side == 0 || pair[0] == "" && !quoted {
			return fmt.Errorf("%q is not a pair: write it as field=column", strings.TrimSpace(cur[0].String()+cur[1].String()))
		}
		out = append(out, pair)
		cur[0].Reset()
		cur[1].Reset()
		side, quoted, any = 0, false, false
		return nil
	}
	rs := []rune(s)
	for i := 0; i < len(rs); i++ {
		r := rs[i]
		switch {
		case quote != 0 && r == quote:
			if i+1 < len(rs) && rs[i+1] == quote {
				cur[side].WriteRune(r)
				i++
				break
			}
			quote = 0
		case quote != 0:
			cur[side].WriteRune(r)
		case (r == '"' || r == '\'') && strings.TrimSpace(cur[side].String()) == "":
			quote, quoted, any = r, true, true
		case r == '=' && side == 0:
			side, any = 1, true
		case r == sep:
			if err := flush(); err != nil {
				return nil, err
			}
		default:
			cur[side].WriteRune(r)
			any = any || !unicode.IsSpace(r)
		}
	}
	if quote != 0 {
		return nil, fmt.Errorf("a quote in %q is not closed", s)
	}
	return out, flush()
}

// AddColumns reads "cue=Command, response=Result" into the mapping.
func (m *Mapping) AddColumns(s string) error {
	list, err := pairs(s, ',')
	if err != nil {
		return err
	}
	for _, p := range list {
		f, err := parseField(p[0])
		if err != nil {
			return err
		}
		if p[1] == "" {
			return fmt.Errorf("no column is named for %s: write %s=COLUMN", f, f)
		}
		if old, twice := m.Columns[f]; twice && old != p[1] {
			return fmt.Errorf("%s is given two columns, %q and %q", f, old, p[1])
		}
		if m.Columns == nil {
			m.Columns = map[Field]string{}
		}
		m.Columns[f] = p[1]
	}
	return nil
}

// AddValues reads "response: Y=+, N=-; leash: Off lead=off" into the mapping.
func (m *Mapping) AddValues(s string) error {
	parts, err := splitOutside(s, ';')
	if err != nil {
		return err
	}
	for _, part := range parts {
		if strings.TrimSpace(part) == "" {
			continue
		}
		name, rest, ok := strings.Cut(part, ":")
		if !ok {
			return fmt.Errorf("%q names no field: write it as response: Y=+, N=-", strings.TrimSpace(part))
		}
		f, err := parseField(name)
		if err != nil {
			return err
		}
		list, err := pairs(rest, ',')
		if err != nil {
			return err
		}
		for _, p := range list {
			if m.Values == nil {
				m.Values = map[Field]map[string]string{}
			}
			if m.Values[f] == nil {
				m.Values[f] = map[string]string{}
			}
			key := training.Key(p[0])
			if old, twice := m.Values[f][key]; twice && old != p[1] {
				return fmt.Errorf("%s: %q is given two meanings, %q and %q", f, p[0], old, p[1])
			}
			m.Values[f][key] = p[1]
		}
	}
	return nil
}

func splitOutside(s string, sep rune) ([]string, error) {
	var out []string
	var cur strings.Builder
	quote := rune(0)
	before := rune(0) // last sign that was no blank: a quote opens only after one of : = , ;
	for _, r := range s {
		switch {
		case quote != 0 && r == quote:
			quote = 0
		case quote == 0 && (r == '"' || r == '\'') && strings.ContainsRune(":=,;", before):
			quote = r
		}
		if r == sep && quote == 0 {
			out = append(out, cur.String())
			cur.Reset()
			before = r
			continue
		}
		if !unicode.IsSpace(r) {
			before = r
		}
		cur.WriteRune(r)
	}
	if quote != 0 {
		return nil, fmt.Errorf("a quote in %q is not closed", s)
	}
	return append(out, cur.String()), nil
}

func parseField(s string) (Field, error) {
	f := Field(strings.ReplaceAll(training.Key(s), " ", "_"))
	if !known(f) {
		var all []string
		for _, x := range Fields {
			all = append(all, string(x.Field))
		}
		return "", &UnknownError{What: "field", Name: strings.TrimSpace(s), Known: all}
	}
	return f, nil
}

// UnknownError is a name that should be one of a list.
type UnknownError struct {
	What  string // "field" or "column"
	Name  string
	Known []string
}

func (e *UnknownError) Error() string {
	return fmt.Sprintf("there is no %s %q; there are: %s", e.What, e.Name, strings.Join(e.Known, ", "))
}

// Columns is where each field stands in a file. Fields that are in no column
// are -1.
type Columns struct {
	index   map[Field]int
	Guessed []Field  // found by their heading, in the order of the file
	Unused  []string // headings that stand for nothing
}

// At returns the column of a field, counted from 0, or -1.
func (c Columns) At(f Field) int {
	if i, ok := c.index[f]; ok {
		return i
	}
	return -1
}

// Heading returns what the column of a field is called in the file.
func (c Columns) Heading(f Field, header []string) string {
	if i := c.At(f); i >= 0 {
		return header[i]
	}
	return ""
}

// Find places the mapping's fields in a header. Columns that the mapping does
// not name are guessed by their heading when guess is true. A column named that
// is not there, or two columns that fit one field, are errors.
func (m Mapping) Find(header []string, guess bool) (Columns, error) {
	c := Columns{index: map[Field]int{}}
	used := make([]bool, len(header))
	var fields []Field
	for f := range m.Columns {
		fields = append(fields, f)
	}
	sort.Slice(fields, func(i, j int) bool { return fields[i] < fields[j] })
	var errs []error
	for _, f := range fields {
		want := m.Columns[f]
		var at []int
		for _, form := range []func(string) string{strings.TrimSpace, training.Key} {
			for i, h := range header {
				if form(h) == form(want) {
					at = append(at, i)
				}
			}
			if len(at) > 0 {
				break
			}
		}
		switch len(at) {
		case 0:
			errs = append(errs, &UnknownError{What: "column", Name: want, Known: header})
		case 1:
			c.index[f] = at[0]
			used[at[0]] = true
		default:
			errs = append(errs, fmt.Errorf("%d columns are called %q: rename all but one", len(at), want))
		}
	}
	for i, h := range header {
		if used[i] {
			continue
		}
		f, ok := headings[heading(h)]
		if !ok {
			f = Field(strings.ReplaceAll(heading(h), " ", "_"))
			ok = known(f)
		}
		if !ok || !guess {
			c.Unused = append(c.Unused, h)
			continue
		}
		if _, said := m.Columns[f]; said {
			c.Unused = append(c.Unused, h)
			continue
		}
		if j, twice := c.index[f]; twice {
			errs = append(errs, fmt.Errorf("columns %q and %q could both be the %s: say --map '%s=%s'", header[j], h, f, f, header[j]))
			continue
		}
		c.index[f] = i
		c.Guessed = append(c.Guessed, f)
	}
	return c, errors.Join(errs...)
}

// With returns the mapping with what n says put over it.
func (m Mapping) With(n Mapping) Mapping {
	columns := map[Field]string{}
	for _, x := range []Mapping{m, n} {
		for f, c := range x.Columns {
			columns[f] = c
		}
	}
	values := map[Field]map[string]string{}
	for _, x := range []Mapping{m, n} {
		for f, v := range x.Values {
			if values[f] == nil {
				values[f] = map[string]string{}
			}
			for cell, means := range v {
				values[f][cell] = means
			}
		}
	}
	m.Columns, m.Values = columns, values
	return m
}
