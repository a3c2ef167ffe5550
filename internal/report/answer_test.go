package report

import (
	"encoding/json"
	"strings"
	"testing"

	"firstcue/internal/training"
)

type passedOn struct {
	Days []training.Day `json:"days"`
}

// TestAnswerHasNoNullList: a list is [] wherever it stands, and the caller's own
// value is as it was.
func TestAnswerHasNoNullList(t *testing.T) {
	type inner struct {
		Names []string     `json:"names"`
		Known training.Num `json:"known"`
	}
	v := struct {
		passedOn
		One  inner       `json:"one"`
		Many []inner     `json:"many"`
		At   *inner      `json:"at"`
		None *inner      `json:"none"`
		Any  any         `json:"any"`
		List [][]int     `json:"list"`
		Skip []string    `json:"skip,omitempty"`
		Raw  json.Number `json:"raw"`
	}{Many: []inner{{}}, At: &inner{}, Any: []inner(nil), List: [][]int{nil}, Raw: "1"}
	var b strings.Builder
	if err := WriteJSON(&b, v); err != nil {
		t.Fatal(err)
	}
	got := strings.Join(strings.Fields(b.String()), "")
	want := `{"days":[],"one":{"names":[],"known":null},"many":[{"names":[],"known":null}],"at":{"names":[],"known":null},"none":null,"any":[],"list":[[]],"raw":1}`
	if got != want {
		t.Errorf("wrote\n%s\nwant\n%s", got, want)
	}
	if v.Many[0].Names != nil || v.At.Names != nil || v.List[0] != nil {
		t.Error("the caller's value was changed")
	}
}
