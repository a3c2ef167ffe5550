package report

import (
	"bytes"
	"encoding/json"
	"io"
	"math"

	"firstcue/internal/analysis"
	"firstcue/internal/training"
)

// writeJSON writes a value with two blanks a level and a line break at the end.
func writeJSON(w io.Writer, v any) error {
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	return enc.Encode(v)
}

// tagged writes a tagged value with its schema in front: the value itself is what is
// read, there is no second form of it.
func tagged(w io.Writer, schema string, v any) error {
	body, err := json.Marshal(v)
	if err != nil {
		return err
	}
	var out bytes.Buffer
	out.WriteString(`{"schema":"firstcue.` + schema + `/1",`)
	out.Write(bytes.TrimPrefix(body, []byte("{")))
	var pretty bytes.Buffer
	if err := json.Indent(&pretty, out.Bytes(), "", "  "); err != nil {
		return err
	}
	pretty.WriteByte('\n')
	_, err = w.Write(pretty.Bytes())
	return err
}

// finite makes a number unknown that JSON or a spreadsheet cannot hold.
func finite(n training.Num) training.Num {
	if n.Known && (math.IsNaN(n.V) || math.IsInf(n.V, 0)) {
		return training.Num{}
	}
	return n
}

// list makes no entries an empty list: in JSON [] and not null.
func list[T any](s []T) []T {
	if s == nil {
		return []T{}
	}
	return s
}

// JSON writes the judgement of a dog, schema firstcue.report/1.
func JSON(w io.Writer, a analysis.Assessment, o Options) error { return tagged(w, "report", a) }
