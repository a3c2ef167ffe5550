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
	"math"
	"slices"
	"strings"

	"firstcue/internal/stats"
)

// ErrUnknown is returned by Run for a name that is no statistic.
var ErrUnknown = errors.New("unknown statistic")

// maxLine bounds one input line, 256 MiB.
const maxLine = 1 << 28

// Statistic is one entry of the list of names.
type Statistic struct {
	Name    string
	Summary string // one line, in words
	Input   string // fields of the input object
	run     func(*input) (output, error)
}

type output map[string]any

// Statistics lists what Run knows, in the order of docs/stats.md.
func Statistics() []Statistic { return slices.Clone(statistics) }

// Names lists the names of Statistics.
func Names() []string {
	names := make([]string, len(statistics))
	for i, s := range statistics {
		names[i] = s.Name
	}
	return names
}

func find(name string) (Statistic, bool) {
	name = strings.ToLower(strings.NewReplacer("-", "", "_", "", " ", "").Replace(name))
	for _, s := range statistics {
		if s.Name == name {
			return s, true
		}
	}
	if full, ok := otherNames[name]; ok {
		return find(full)
	}
	return Statistic{}, false
}

// otherNames are accepted in place of a name.
var otherNames = map[string]string{
	"garwood": "poisson", "mk": "mannkendall", "sen": "theilsen", "km": "kaplanmeier",
	"newcombediff": "newcombe", "clusterwilson": "effective", "agreement": "kappa",
	"benjaminihochberg": "bh", "bernoullicusum": "cusum", "restrictedmean": "rmst",
	"glmm": "randomintercept",
}

// Run reads JSON objects from r, one per line, computes the named statistic
// for each and writes one JSON object per line to w. Blank lines are passed
// over. A line that cannot be computed gets {"error": "..."} and is counted in
// bad; err is for an unknown name (ErrUnknown), and for reading and writing.
func Run(name string, r io.Reader, w io.Writer) (bad int, err error) {
	s, ok := find(name)
	if !ok {
		return 0, fmt.Errorf("%w %q", ErrUnknown, name)
	}
	in := bufio.NewReaderSize(r, 1<<16)
	out := bufio.NewWriter(w)
	for {
		line, readErr := readLine(in)
		if len(bytes.TrimSpace(line)) > 0 {
			result, err := one(s, line)
			if err != nil {
				bad++
				result = output{"error": err.Error()}
			}
			text, err := json.Marshal(result)
			if err != nil {
				return bad, fmt.Errorf("%s: %w", s.Name, err)
			}
			out.Write(text)
			if err := out.WriteByte('\n'); err != nil {
				return bad, err
			}
		}
		if readErr != nil {
			if err := out.Flush(); err != nil {
				return bad, err
			}
			if readErr == io.EOF {
				return bad, nil
			}
			return bad, readErr
		}
		if in.Buffered() == 0 { // somebody may be waiting for the answer
			if err := out.Flush(); err != nil {
				return bad, err
			}
		}
	}
}

var errLongLine = fmt.Errorf("a line is longer than %d bytes", maxLine)

func readLine(r *bufio.Reader) ([]byte, error) {
	var line []byte
	for {
		part, err := r.ReadSlice('\n')
		line = append(line, part...)
		if err != bufio.ErrBufferFull {
			return line, err
		}
		if len(line) > maxLine {
			return nil, errLongLine
		}
	}
}

// one computes one line. Whatever goes wrong in a computation is an error of
// this line, never the end of the program.
func one(s Statistic, line []byte) (result output, err error) {
	defer func() {
		if p := recover(); p != nil {
			result, err = nil, fmt.Errorf("%s: cannot compute this: %v", s.Name, p)
		}
	}()
	in, err := parse(line)
	if err != nil {
		return nil, err
	}
	result, err = s.run(in)
	if err == nil {
		err = in.err
	}
	if err == nil {
		err = in.unused(result)
	}
	if err != nil {
		return nil, err
	}
	if id, ok := in.values["id"]; ok {
		result["id"] = id
	}
	clean(result)
	return result, nil
}

// clean writes what JSON cannot hold as null or as the word Inf.
func clean(m output) {
	for k, v := range m {
		switch v := v.(type) {
		case float64:
			m[k] = stats.Number{V: v, OK: !math.IsNaN(v)}
		case []float64:
			list := make([]stats.Number, len(v))
			for i, x := range v {
				list[i] = stats.Number{V: x, OK: !math.IsNaN(x)}
			}
			m[k] = list
		}
	}
}
