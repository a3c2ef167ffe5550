package report

import (
	"bytes"
	"encoding/json"
	"io"
	"math"

	"firstcue/internal/analysis"
	"firstcue/internal/training"
)

// tagged writes a tagged value with its schema in front: the value itself is what is
// read, there is no second form of it.
func tagged(w io.Writer, schema string, v any) error {
	body, err := plainJSON(withLists(v))
	if err != nil {
		return err
	}
	var out, pretty bytes.Buffer
	out.WriteString(`{"schema":"firstcue.` + schema + `/1",`)
	out.Write(bytes.TrimPrefix(body, []byte("{")))
	if err := json.Indent(&pretty, out.Bytes(), "", "  "); err != nil {
		return err
	}
	pretty.WriteByte('\n')
	_, err = w.Write(pretty.Bytes())
	return err
}

// plainJSON is json.Marshal without the escapes for HTML.
func plainJSON(v any) ([]byte, error) {
	var b bytes.Buffer
	e := json.NewEncoder(&b)
	e.SetEscapeHTML(false)
	err := e.Encode(v)
	return bytes.TrimSpace(b.Bytes()), err
}

// Published is a value of each type that this package writes as JSON, by the name of
// its schema: docs/schemas is made from them.
func Published() map[string]any {
	return map[string]any{
		"report": analysis.Assessment{}, "progress": jsonProgress{}, "nightly": Nightly{}, "recheck": jsonRecheck{},
		"plan": jsonPlan{}, "daysheet": DaySheet{}, "trial": jsonTrial{},
	}
}

// finite makes a number unknown that JSON or a spreadsheet cannot hold.
func finite(n training.Num) training.Num {
	if n.Known && (math.IsNaN(n.V) || math.IsInf(n.V, 0)) {
		return training.Num{}
	}
	return n
}

// JSON writes the judgement of a dog, schema firstcue.report/1.
func JSON(w io.Writer, a analysis.Assessment, o Options) error { return tagged(w, "report", a) }
