package check

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
)

// input is one JSON object, read field by field. The first error is kept; a
// field that no statistic asked for is an error too, so that a misspelt one is
// not silently ignored.
type input struct {
	values map[string]any
	used   map[string]bool
	err    error
}

// ignored fields may stand in any object: they carry over from tables.
var ignored = []string{"id", "source", "dataset", "note", "comment", "printed", "name", "row", "rank", "test"}

func parse(line []byte) (*input, error) {
	d := json.NewDecoder(bytes.NewReader(line))
	d.UseNumber()
	in := &input{used: map[string]bool{}}
	if err := d.Decode(&in.values); err != nil {
		return nil, fmt.Errorf("not a JSON object: %v", err)
	}
	if _, err := d.Token(); err != io.EOF {
		return nil, fmt.Errorf("more than one JSON value on the line")
	}
	if in.values == nil {
		return nil, fmt.Errorf("not a JSON object: null")
	}
	return in, nil
}

func (in *input) fail(format string, args ...any) {
	if in.err == nil {
		in.err = fmt.Errorf(format, args...)
	}
}

// unused refuses fields that nobody asked for. Fields of the answer may stand
// in the question: a row of a table holds both.
func (in *input) unused(answer output) error {
	var left []string
	for k := range in.values {
		if _, both := answer[k]; !both && !in.used[k] && !slices.Contains(ignored, k) && !strings.HasPrefix(k, "printed_") {
			left = append(left, k)
		}
	}
	if len(left) == 0 {
		return nil
	}
	slices.Sort(left)
	return fmt.Errorf("unknown field %q", left[0])
}

// get finds a field under any of its names; null counts as absent.
func (in *input) get(names ...string) (any, string, bool) {
	for _, n := range names {
		if v, ok := in.values[n]; ok {
			in.used[n] = true
			if v != nil {
				return v, n, true
			}
		}
	}
	return nil, names[0], false
}

func (in *input) has(names ...string) bool {
	for _, n := range names {
		if v, ok := in.values[n]; ok && v != nil {
			return true
		}
	}
	return false
}

// number reads one number; numbers in quotes, "Inf" and "NaN" are understood
// so that the statistic itself can refuse them.
func number(v any) (float64, bool) {
	switch v := v.(type) {
	case json.Number:
		f, err := v.Float64()
		if err != nil && !math.IsInf(f, 0) {
			return 0, false
		}
		return f, true
	case string:
		f, err := strconv.ParseFloat(strings.TrimSpace(v), 64)
		return f, err == nil || math.IsInf(f, 0)
	case bool:
		if v {
			return 1, true
		}
		return 0, true
	}
	return 0, false
}

func (in *input) num(names ...string) float64 {
	v, name, ok := in.get(names...)
	if !ok {
		in.fail("missing field %q", name)
		return 0
	}
	f, ok := number(v)
	if !ok {
		in.fail("field %q must be a number", name)
	}
	return f
}

func (in *input) numOr(def float64, names ...string) float64 {
	if !in.has(names...) {
		in.get(names...)
		return def
	}
	return in.num(names...)
}

func (in *input) level() float64 {
	return in.numOr(0.95, "level", "conf_level", "confidence_level", "ci_level")
}

// whole reads a whole number that fits an int.
func (in *input) whole(names ...string) int {
	f := in.num(names...)
	if in.err == nil && (f != math.Trunc(f) || math.Abs(f) > 1e15) {
		in.fail("field %q must be a whole number", names[0])
	}
	if in.err != nil {
		return 0
	}
	return int(f)
}

func (in *input) wholeOr(def int, names ...string) int {
	if !in.has(names...) {
		in.get(names...)
		return def
	}
	return in.whole(names...)
}

// list reads an array of numbers, or a string of numbers parted by blanks,
// commas or semicolons, as in the published tables.
func (in *input) list(names ...string) []float64 {
	v, name, ok := in.get(names...)
	if !ok {
		in.fail("missing field %q", name)
		return nil
	}
	out, ok := floats(v)
	if !ok {
		in.fail("field %q must be a list of numbers", name)
	}
	return out
}

func (in *input) listOr(names ...string) []float64 {
	if !in.has(names...) {
		in.get(names...)
		return nil
	}
	return in.list(names...)
}

func floats(v any) ([]float64, bool) {
	switch v := v.(type) {
	case []any:
		out := make([]float64, len(v))
		for i, x := range v {
			f, ok := number(x)
			if !ok {
				return nil, false
			}
			out[i] = f
		}
		return out, true
	case string:
		out := []float64{}
		for _, s := range strings.FieldsFunc(v, func(r rune) bool { return strings.ContainsRune(" \t,;", r) }) {
			f, ok := number(s)
			if !ok {
				return nil, false
			}
			out = append(out, f)
		}
		return out, true
	}
	if f, ok := number(v); ok {
		return []float64{f}, true
	}
	return nil, false
}

// rows reads an array of arrays of numbers. A plain array is a single column.
func (in *input) rows(names ...string) [][]float64 {
	v, name, ok := in.get(names...)
	if !ok {
		in.fail("missing field %q", name)
		return nil
	}
	list, ok := v.([]any)
	if !ok {
		in.fail("field %q must be a list of lists of numbers", name)
		return nil
	}
	out := make([][]float64, len(list))
	for i, x := range list {
		if out[i], ok = floats(x); !ok {
			in.fail("field %q must be a list of lists of numbers", name)
			return nil
		}
	}
	return out
}

// flags reads a list of 0/1 or true/false.
func (in *input) flags(names ...string) []bool {
	f := in.list(names...)
	out := make([]bool, len(f))
	for i, x := range f {
		if x != 0 && x != 1 {
			in.fail("field %q must hold 0 and 1 only; value %d is %v", names[0], i+1, x)
			return nil
		}
		out[i] = x == 1
	}
	return out
}

func (in *input) str(def string, names ...string) string {
	v, name, ok := in.get(names...)
	if !ok {
		return def
	}
	s, ok := v.(string)
	if !ok {
		in.fail("field %q must be a string", name)
	}
	return s
}

// labels reads a list of group names, strings or numbers. index numbers them
// by first appearance, label holds the names in that order.
func (in *input) labels(names ...string) (index []int, label []any) {
	v, name, ok := in.get(names...)
	if !ok {
		in.fail("missing field %q", name)
		return nil, nil
	}
	list, ok := v.([]any)
	if s, text := v.(string); text {
		ok = true
		for _, w := range strings.Fields(s) {
			list = append(list, w)
		}
	}
	if !ok {
		in.fail("field %q must be a list", name)
		return nil, nil
	}
	seen := map[any]int{}
	for _, x := range list {
		switch x.(type) {
		case string, json.Number, bool:
		default:
			in.fail("field %q must hold names or numbers", name)
			return nil, nil
		}
		i, ok := seen[x]
		if !ok {
			i = len(seen)
			seen[x] = i
			label = append(label, x)
		}
		index = append(index, i)
	}
	return index, label
}
