// Package check puts the statistics of package stats behind a small public
// interface, so that anybody can compare them with their own tables: one JSON
// object per line in, one per line out. The fields are documented in
// docs/stats.md.
package check

import (
	"bufio"
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
)

// ErrUnknown is returned by Run for a name that is no statistic.
var ErrUnknown = errors.New("unknown statistic")

// maxLine bounds one input line, in bytes.
const maxLine = 16 << 20

// Names lists the names of Statistics.
func Names() []string {
	var names []string
	for _, s := range Statistics {
		names = append(names, s.Name)
	}
	return names
}

// Run reads JSON objects from r, one per line, computes the named statistic
// for each and writes one JSON object per line to w. Blank lines are passed
// over. A line that cannot be computed gets {"error": "..."} and is counted in
// bad; err is for an unknown name (ErrUnknown), a line above 16 MiB, and for
// reading and writing.
func Run(name string, r io.Reader, w io.Writer) (bad int, err error) {
	i := slices.IndexFunc(Statistics, func(s Statistic) bool { return s.Name == name })
	if i < 0 {
		return 0, fmt.Errorf("%w %q", ErrUnknown, name)
	}
	lines := bufio.NewScanner(r)
	lines.Buffer(nil, maxLine)
	out := json.NewEncoder(w)
	for lines.Scan() {
		if len(bytes.TrimSpace(lines.Bytes())) == 0 {
			continue
		}
		answer, err := Statistics[i].answer(lines.Bytes())
		if err != nil {
			bad++
			answer = map[string]string{"error": err.Error()}
		}
		if err := out.Encode(answer); err != nil {
			return bad, err
		}
	}
	return bad, lines.Err()
}

func (s Statistic) answer(line []byte) (any, error) {
	q, err := s.parse(line)
	if err != nil {
		return nil, err
	}
	return s.run(q)
}

// parse reads one object strictly: each field once, spelt as it is, known to
// this statistic, a number or list of numbers; none that is needed left out.
func (s Statistic) parse(line []byte) (question, error) {
	fields, err := fieldsOf(line)
	if err != nil {
		return question{}, err
	}
	q := question{Level: 0.95}
	for name := range fields {
		if !slices.Contains(strings.Fields(strings.ReplaceAll(s.Input, "?", "")), name) {
			return question{}, fmt.Errorf("unknown field %q; %s has %s", name, s.Name, s.Input)
		}
	}
	for _, name := range strings.Fields(s.Input) {
		name, optional := strings.CutSuffix(name, "?")
		value, given := fields[name]
		if !given && !optional {
			return question{}, fmt.Errorf("missing field %q", name)
		}
		if given {
			if err := q.set(name, value); err != nil {
				return question{}, err
			}
		}
	}
	return q, nil
}

// fieldsOf takes one flat JSON object apart; a key that stands twice is an error.
func fieldsOf(line []byte) (map[string]json.RawMessage, error) {
	d := json.NewDecoder(bytes.NewReader(line))
	fields := map[string]json.RawMessage{}
	if t, err := d.Token(); err != nil || t != json.Delim('{') {
		return nil, errors.New("not a JSON object")
	}
	for d.More() {
		key, err := d.Token()
		if err != nil {
			return nil, fmt.Errorf("not a JSON object: %v", err)
		}
		var value json.RawMessage
		if err := d.Decode(&value); err != nil {
			return nil, fmt.Errorf("not a JSON object: %v", err)
		}
		name, _ := key.(string)
		if _, twice := fields[name]; twice {
			return nil, fmt.Errorf("field %q stands twice", name)
		}
		fields[name] = value
	}
	if _, err := d.Token(); err != nil { // the closing brace
		return nil, fmt.Errorf("not a JSON object: %v", err)
	}
	if _, err := d.Token(); err != io.EOF {
		return nil, errors.New("more than one JSON value on the line")
	}
	return fields, nil
}

// set decodes one field into its place. null is no number anywhere: JSON would
// leave a 0 for it in silence.
func (q *question) set(name string, value json.RawMessage) error {
	place, what := q.place(name)
	if bytes.Contains(value, []byte("null")) || json.Unmarshal(value, place) != nil {
		return fmt.Errorf("field %q must be %s", name, what)
	}
	return nil
}
