package sheet

import (
	"cmp"
	"encoding/json"
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

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
		cells := slices.Sorted(maps.Keys(m.Values[f.Field]))
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

// outside is where sep first stands outside quotes, -1 for nowhere. A quote opens
// at the beginning of a word only; inside, it is written twice.
func outside(s string, sep byte) (int, error) {
	quote, before := byte(0), byte('=')
	for i := 0; i < len(s); i++ {
		c := s[i]
		switch {
		case quote != 0 && c == quote && strings.HasPrefix(s[i+1:], string(quote)):
			i++
		case quote != 0 && c == quote:
			quote = 0
		case quote != 0:
		case (c == '"' || c == '\'') && strings.IndexByte(":=,;", before) >= 0:
			quote = c
		case c == sep:
			return i, nil
		}
		if c != ' ' {
			before = c
		}
	}
	if quote != 0 {
		return -1, fmt.Errorf("a quote in %q is not closed", s)
	}
	return -1, nil
}

// split cuts s at every sep outside quotes, and leaves out what is blank.
func split(s string, sep byte) (out []string, err error) {
	for s != "" {
		i, err := outside(s, sep)
		if err != nil {
			return nil, err
		}
		part := s
		if s = ""; i >= 0 {
			part, s = part[:i], part[i+1:]
		}
		if strings.TrimSpace(part) != "" {
			out = append(out, part)
		}
	}
	return out, nil
}

// pairs cuts "a=b, c=d" into pairs, without their quotes.
func pairs(s string) (out [][2]string, err error) {
	parts, err := split(s, ',')
	for _, part := range parts {
		i, _ := outside(part, '=')
		if i < 0 || strings.TrimSpace(part[:i]) == "" {
			return nil, fmt.Errorf("%q is not a pair: write it as field=column", strings.TrimSpace(part))
		}
		out = append(out, [2]string{unquoted(part[:i]), unquoted(part[i+1:])})
	}
	return out, err
}

func unquoted(s string) string {
	s = strings.TrimSpace(s)
	if len(s) > 1 && (s[0] == '"' || s[0] == '\'') && s[len(s)-1] == s[0] {
		quote := s[:1]
		return strings.TrimSpace(strings.ReplaceAll(s[1:len(s)-1], quote+quote, quote))
	}
	return s
}

// AddColumns reads "cue=Command, response=Result" into the mapping.
func (m *Mapping) AddColumns(s string) error {
	list, err := pairs(s)
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
	parts, err := split(s, ';')
	if err != nil {
		return err
	}
	for _, part := range parts {
		name, rest, ok := strings.Cut(part, ":")
		if !ok {
			return fmt.Errorf("%q names no field: write it as response: Y=+, N=-", strings.TrimSpace(part))
		}
		f, err := parseField(name)
		if err != nil {
			return err
		}
		list, err := pairs(rest)
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

// SetDates takes dmy, mdy or ymd.
func (m *Mapping) SetDates(s string) (err error) {
	m.Dates, err = ParseDateOrder(s)
	return err
}

// SetDelimiter takes a delimiter's sign or name.
func (m *Mapping) SetDelimiter(s string) error {
	d, err := ParseDelimiter(s)
	m.Delimiter = DelimiterName(d)
	return err
}

// SetDecimal takes dot or comma.
func (m *Mapping) SetDecimal(s string) error {
	switch strings.ToLower(s) {
	case "dot", "point", ".":
		m.Decimal = "."
	case "comma", ",":
		m.Decimal = ","
	default:
		return fmt.Errorf("%q is neither dot nor comma", s)
	}
	return nil
}

// Wishes is what the mapping says of the layout.
func (m Mapping) Wishes() Wishes {
	w := Wishes{Encoding: m.Encoding, Dates: m.Dates}
	if m.Delimiter != "" {
		w.Delimiter, _ = ParseDelimiter(m.Delimiter)
	}
	if m.Decimal != "" {
		w.Decimal = m.Decimal[0]
	}
	return w
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
// not name are guessed by their heading. A column named that is not there, or two
// columns that fit one field, are errors.
func (m Mapping) Find(header []string) (Columns, error) {
	c := Columns{index: map[Field]int{}}
	used := map[int]bool{}
	var errs []error
	for _, x := range Fields {
		want, said := m.Columns[x.Field]
		if !said {
			continue
		}
		switch at := named(header, want); len(at) {
		case 0:
			errs = append(errs, &UnknownError{What: "column", Name: want, Known: header})
		case 1:
			c.index[x.Field] = at[0]
			used[at[0]] = true
		default:
			errs = append(errs, fmt.Errorf("%d columns are called %q: rename all but one", len(at), want))
		}
	}
	for i, h := range header {
		if used[i] {
			continue
		}
		f, ok := guess(h)
		if _, said := m.Columns[f]; said || !ok {
			c.Unused = append(c.Unused, h)
			continue
		}
		if j, twice := c.index[f]; twice {
			errs = append(errs, fmt.Errorf("columns %q and %q could both be the %s: say --map '%s=%s'",
				header[j], h, f, f, header[j]))
			continue
		}
		c.index[f] = i
		c.Guessed = append(c.Guessed, f)
	}
	return c, errors.Join(errs...)
}

// named returns the columns of that name: as it is written or else whatever the
// case.
func named(header []string, want string) (at []int) {
	for _, form := range []func(string) string{strings.TrimSpace, training.Key} {
		for i, h := range header {
			if form(h) == form(want) {
				at = append(at, i)
			}
		}
		if len(at) > 0 {
			return at
		}
	}
	return nil
}

// With returns the mapping with what n says put over it.
func (m Mapping) With(n Mapping) Mapping {
	out := Mapping{Columns: map[Field]string{}, Values: map[Field]map[string]string{},
		Encoding:  cmp.Or(n.Encoding, m.Encoding),
		Delimiter: cmp.Or(n.Delimiter, m.Delimiter), Dates: cmp.Or(n.Dates, m.Dates),
		Decimal: cmp.Or(n.Decimal, m.Decimal)}
	for _, x := range []Mapping{m, n} {
		maps.Copy(out.Columns, x.Columns)
		for f, v := range x.Values {
			if out.Values[f] == nil {
				out.Values[f] = map[string]string{}
			}
			maps.Copy(out.Values[f], v)
		}
	}
	return out
}
