package report

import (
	"bytes"
	"cmp"
	"encoding/json"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"

	"firstcue/internal/analysis"
	"firstcue/internal/training"
)

// schema reads a published schema (JSON Schema 2020-12).
func schema(t *testing.T, name string) *jsonschema.Schema {
	t.Helper()
	path := filepath.Join("..", "..", "docs", "schemas", name+".json")
	raw, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if bytes.Contains(raw, []byte("additionalProperties")) {
		t.Errorf("%s forbids fields that may be added later", path)
	}
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(raw))
	if err != nil {
		t.Fatal(err)
	}
	c := jsonschema.NewCompiler()
	c.AssertFormat()
	if err := c.AddResource(path, doc); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile(path)
	if err != nil {
		t.Fatal(err)
	}
	return s
}

func TestOutputsMatchTheirSchemas(t *testing.T) {
	named := map[string]string{"report.json": "report", "nightly.json": "nightly", "progress.json": "progress", "rechecks.json": "recheck", "trials.jsonl": "trial"}
	found := 0
	for _, o := range outputs() {
		name, ok := named[o.file]
		if !ok {
			if o.kind == "json" && !strings.HasSuffix(o.file, "csv-metadata.json") || o.kind == "jsonl" {
				t.Errorf("%s has no schema", o.file)
			}
			continue
		}
		found++
		s := schema(t, name)
		bare := analysis.Assessment{Verdict: analysis.NotShown}
		hurt, record := poison(juniper(), juniperRecord(), hostile[0])
		lately := juniper()
		lately.Cues[2].Contexts[0].Lately = &analysis.Share{Yes: 1, Of: 2}
		for i, in := range []struct {
			a analysis.Assessment
			r training.Record
		}{{juniper(), juniperRecord()}, {hurt, record}, {lately, juniperRecord()}, {fern(), training.Record{}}, {sorrel(), training.Record{}}, {bare, training.Record{}}} {
			if o.file != "report.json" && o.file != "trials.jsonl" && len(in.a.Cues) < 3 {
				continue
			}
			text := print(t, o, in.a, in.r)
			for _, one := range documents(o, text) {
				doc, err := jsonschema.UnmarshalJSON(strings.NewReader(one))
				if err != nil {
					t.Fatal(err)
				}
				if err := s.Validate(doc); err != nil {
					t.Errorf("%s, case %d: %v", o.file, i, err)
				}
				// every field that is written is described, so that the schema
				// cannot fall behind
				var v any
				if err := json.Unmarshal([]byte(one), &v); err != nil {
					t.Fatal(err)
				}
				described(t, o.file, s, v, "")
				// and the schema notices a missing field
				m := doc.(map[string]any)
				for k := range m {
					if k == "generated" {
						continue
					}
					old := m[k]
					delete(m, k)
					if s.Validate(doc) == nil {
						t.Errorf("%s: the schema does not miss %q", o.file, k)
					}
					m[k] = old
				}
			}
		}
	}
	if found != len(named) {
		t.Errorf("%d of %d outputs with a schema were printed", found, len(named))
	}
}

func documents(o output, text string) []string {
	if o.kind == "jsonl" {
		if text == "" {
			return nil
		}
		return strings.Split(strings.TrimSuffix(text, "\n"), "\n")
	}
	return []string{text}
}

func described(t *testing.T, file string, s *jsonschema.Schema, v any, at string) {
	for s.Ref != nil {
		s = s.Ref
	}
	if len(s.OneOf) == 2 { // null, or the thing
		if v == nil {
			return
		}
		s = s.OneOf[1]
		for s.Ref != nil {
			s = s.Ref
		}
	}
	switch v := v.(type) {
	case map[string]any:
		for k, x := range v {
			p, ok := s.Properties[k]
			if !ok {
				t.Errorf("%s: %s.%s is not in the schema", file, at, k)
				continue
			}
			described(t, file, p, x, at+"."+k)
		}
	case []any:
		items, ok := s.Items2020, s.Items2020 != nil
		if !ok && len(v) > 0 {
			t.Errorf("%s: %s has items that the schema does not describe", file, at)
			return
		}
		for _, x := range v {
			described(t, file, items, x, at+"[]")
		}
	}
}

// Unknown is null, never 0, and an empty list is a list.
func TestUnknownIsNull(t *testing.T) {
	var b bytes.Buffer
	a := analysis.Assessment{Verdict: analysis.NotShown, Cues: []analysis.CueAssessment{{Cue: "sit", Kind: training.Response, Verdict: analysis.NotShown, FirstCue: &analysis.FirstCue{},
		Latency: &analysis.Latency{Survival: analysis.Survival{Median: training.Known(nan())}}, Gates: []analysis.Gate{{Name: analysis.GateSpeed, Standing: analysis.Short}}}}}
	if err := JSON(&b, a, Options{}); err != nil {
		t.Fatal(err)
	}
	var r map[string]any
	if err := json.Unmarshal(b.Bytes(), &r); err != nil {
		t.Fatal(err)
	}
	if _, there := r["generated"]; there {
		t.Error("generated without a time")
	}
	for _, k := range []string{"why", "handlers", "places", "cautions", "neverTried", "vetHolds", "openIncidents"} {
		if l, ok := r[k].([]any); !ok || len(l) != 0 {
			t.Errorf("%s is %v, not an empty list", k, r[k])
		}
	}
	cue := r["cues"].([]any)[0].(map[string]any)
	for path, v := range map[string]any{
		"firstCue.rate": cue["firstCue"].(map[string]any)["rate"], "current.rate": cue["firstCue"].(map[string]any)["current"].(map[string]any)["rate"],
		"latency.median": cue["latency"].(map[string]any)["median"], "hold": cue["hold"], "breaks": cue["breaks"],
		"corrections.perTen": cue["corrections"].(map[string]any)["perTen"], "gate.figure": cue["gates"].([]any)[0].(map[string]any)["figure"], "asOf": r["asOf"], "boarding": r["boarding"],
	} {
		if v != nil {
			t.Errorf("%s is %v where nothing is known", path, v)
		}
	}
}

// Every schema that a command names is published, compiles, and stands in the
// table of docs/json.md.
func TestEverySchemaIsPublished(t *testing.T) {
	names := map[string]string{} // with their version
	for _, glob := range []string{"*.go", filepath.Join("..", "cli", "*.go")} {
		files, err := filepath.Glob(glob)
		if err != nil {
			t.Fatal(err)
		}
		for _, f := range files {
			if strings.HasSuffix(f, "_test.go") {
				continue
			}
			raw, err := os.ReadFile(f)
			if err != nil {
				t.Fatal(err)
			}
			for _, m := range regexp.MustCompile(`schema\("([a-z]+)"\)|"firstcue\.([a-z]+)/(\d)"`).FindAllStringSubmatch(string(raw), -1) {
				names[m[1]+m[2]] = cmp.Or(m[3], "1")
			}
		}
	}
	if len(names) < 20 {
		t.Fatalf("only %d schemas found in the sources", len(names))
	}
	guide, err := os.ReadFile(filepath.Join("..", "..", "docs", "json.md"))
	if err != nil {
		t.Fatal(err)
	}
	for n, version := range names {
		schema(t, n)
		if !strings.Contains(string(guide), "`firstcue."+n+"/"+version+"`") {
			t.Errorf("docs/json.md does not list firstcue.%s/%s", n, version)
		}
	}
}
