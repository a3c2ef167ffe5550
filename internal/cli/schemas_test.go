package cli

import (
	"bytes"
	"encoding/json"
	"maps"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/santhosh-tekuri/jsonschema/v6"
	"github.com/spf13/cobra"
)

// published reads a schema of docs/schemas (JSON Schema 2020-12). Strict makes
// it refuse every field that it does not describe, which the published form
// must not: fields may be added.
func published(t *testing.T, file string, strict bool) *jsonschema.Schema {
	t.Helper()
	raw, err := os.ReadFile(file)
	if err != nil {
		t.Fatal(err)
	}
	doc, err := jsonschema.UnmarshalJSON(bytes.NewReader(raw))
	if err != nil {
		t.Fatalf("%s: %v", file, err)
	}
	if strict {
		closeObjects(doc)
	}
	c := jsonschema.NewCompiler()
	c.AssertFormat()
	if err := c.AddResource("schema.json", doc); err != nil {
		t.Fatal(err)
	}
	s, err := c.Compile("schema.json")
	if err != nil {
		t.Fatalf("%s: %v", file, err)
	}
	return s
}

// closeObjects closes the objects of a schema. Where several forms stand side by
// side it is their sum that is closed, not each by itself.
func closeObjects(v any) {
	switch v := v.(type) {
	case map[string]any:
		forms := false
		for _, k := range []string{"oneOf", "anyOf", "allOf"} {
			list, _ := v[k].([]any)
			for _, x := range list {
				if m, ok := x.(map[string]any); ok && m["properties"] != nil {
					forms = true
				}
			}
		}
		if _, ok := v["properties"].(map[string]any); ok || forms {
			v["unevaluatedProperties"] = false
		}
		for k, x := range v {
			closeObjects(x)
			if k != "oneOf" && k != "anyOf" && k != "allOf" || v["properties"] == nil {
				continue
			}
			for _, form := range x.([]any) {
				if m, ok := form.(map[string]any); ok {
					delete(m, "unevaluatedProperties")
				}
			}
		}
	case []any:
		for _, x := range v {
			closeObjects(x)
		}
	}
}

// TestEveryJSONAnswerHasItsSchema walks the command tree. Each command that
// offers JSON has calls below, and what they print on a kennel where everything
// has happened once must fit the published schema that it names, hold no field
// that the schema does not describe, and miss none that it requires. Every
// published schema must have been used.
func TestEveryJSONAnswerHasItsSchema(t *testing.T) {
	dir, err := filepath.Abs("../../docs/schemas")
	if err != nil {
		t.Fatal(err)
	}
	s := demoKennel(t)
	note := "dog: Tarn; handler: Ailsa; scorer: %s\nstart: 2026-03-20 08:00; place: paddock; leash: off; distraction: 1; source: video\n0:14.2 sit\n0:15.1 +\n0:41 down\n0:45 down\n0:46.4 +\n> windy\n"
	write(t, filepath.Join(s.dir, "one.txt"), []byte(strings.ReplaceAll(note, "%s", "Ailsa")))
	write(t, filepath.Join(s.dir, "two.txt"), []byte(strings.ReplaceAll(strings.ReplaceAll(note, "%s", "Bram"), "0:46.4 +", "0:46.4 @leash")))
	write(t, filepath.Join(s.dir, "bad.txt"), []byte("dog: Tran\nsitt +\n"))
	write(t, filepath.Join(s.dir, "new.txt"), []byte("dog: Tarn; handler: Orla\nstart: 2026-03-20 08:40; place: copse; leash: off; distraction: 1\ndevice: red remote\nsit - @4 +\nheel 2:00 1-\nstay 1:00 -20s\ndown 4/5\n"))
	write(t, filepath.Join(s.dir, "trials.csv"), []byte(ourSheet))
	write(t, filepath.Join(s.dir, "bad.csv"), []byte(strings.Replace(ourSheet, ",+", ",maybe", 1)))
	s.must("firstcue log -q one.txt")
	s.must("firstcue log -q two.txt")
	s.must("firstcue log -q --dog Nettle --handler Bram --place barn --leash off --distraction 0 --start '2026-03-20 12:00' --cue sit --response yes")
	s.must("firstcue session amend last --text 'sit -' --why 'seen again'")
	s.must("firstcue session void last --why 'another dog'")
	s.run("firstcue log -", []string{"sit +", "END"}) // kept as a draft
	s.must("firstcue incident add Nettle 'snapped at the gate'")
	s.must("firstcue incident add Tarn 'yelped at the gate'")
	_, id, _ := strings.Cut(s.raw("firstcue incident list Tarn --format json"), `"id": "`)
	id, _, _ = strings.Cut(id, `"`)
	s.must("firstcue incident close " + id + " --outcome 'seen by the vet, sound'")
	s.must("firstcue dog home Quince --day 2026-03-14")
	s.must("firstcue log -q --in-hold --text 'dog: Quince; handler: Ailsa\nstart: 2026-03-19 09:00; place: barn; leash: off; distraction: 1\ncome 3+\nleave it -'")
	s.must("firstcue dog set Tarn --also Tarny --born 2024-05-01")
	first, second := handle(t, s, "Tarn", ""), handle(t, s, "Tarn", "rescores")

	calls := map[string][]string{ // by command, without --format
		"report":          {"report Tarn", "report Gorse", "report Sorrel", "report Thistle", "report Nettle", "report Quince"},
		"nightly":         {"nightly", "nightly --day 2026-03-03"},
		"progress":        {"progress Tarn", "progress Gorse", "progress Thistle down", "progress Nettle place"},
		"recheck":         {"recheck", "recheck Quince"},
		"plan":            {"plan", "plan Sorrel", "plan Thistle", "plan Nettle --minutes 0"},
		"export":          {"export Tarn --format jsonl", "export Gorse --format jsonl"},
		"criteria":        {"criteria", "criteria Tarn come", "criteria --track-record"},
		"dog list":        {"dog list", "dog list --all"},
		"dog show":        {"dog show Tarn", "dog show Thistle", "dog show Nettle"},
		"handler list":    {"handler list"},
		"place list":      {"place list"},
		"device list":     {"device list"},
		"cue list":        {"cue list"},
		"incident list":   {"incident list", "incident list --all", "incident list Sorrel"},
		"draft list":      {"draft list"},
		"sessions":        {"sessions", "sessions Gorse --all"},
		"session show":    {"session show " + first, "session show " + second},
		"session history": {"session history " + first, "session history last"},
		"session amend":   {"session amend " + first + " --text 'sit 2+' --why again"},
		"agree":           {"agree " + first + " " + second},
		"log":             {"log --new --dry-run new.txt", "log --new new.txt", "log new.txt", "log bad.txt"},
		"import":          {"import trials.csv --dry-run", "import trials.csv --yes", "import bad.csv --yes"},
		"store check":     {"store check"},
		"store journal":   {"store journal"},
	}
	used := map[string]bool{}
	look := func(call, text string) {
		doc, err := jsonschema.UnmarshalJSON(strings.NewReader(text))
		if err != nil {
			t.Errorf("%s: %v in %.300s", call, err, text)
			return
		}
		m, _ := doc.(map[string]any)
		name, _ := m["schema"].(string)
		name, ok := strings.CutPrefix(name, "firstcue.")
		name, version, _ := strings.Cut(name, "/")
		if _, err := strconv.Atoi(version); !ok || err != nil {
			t.Errorf("%s: schema is %v", call, m["schema"])
			return
		}
		file := filepath.Join(dir, name+".json")
		if _, err := os.Stat(file); err != nil {
			t.Errorf("%s: schema %s is not published", call, name)
			return
		}
		used[name] = true
		if err := published(t, file, true).Validate(doc); err != nil {
			t.Errorf("%s: %v", call, err)
		}
		open := published(t, file, false)
		m["added later"] = 1
		if err := open.Validate(doc); err != nil {
			t.Errorf("%s: the schema refuses a field that is added later: %v", call, err)
		}
		delete(m, "added later")
		for _, k := range slices.Sorted(maps.Keys(m)) {
			was := m[k]
			delete(m, k)
			if open.Validate(doc) == nil {
				t.Errorf("%s: the schema does not miss %q", call, k)
			}
			m[k] = was
		}
	}
	offered := 0
	eachCommand(Commands(), func(c *cobra.Command) {
		f := c.Flags().Lookup("format")
		if f == nil || !slices.ContainsFunc(strings.Split(f.Value.Type(), "|"), func(s string) bool { return strings.HasPrefix(s, "json") }) {
			return
		}
		offered++
		name := strings.TrimPrefix(c.CommandPath(), "firstcue ")
		if len(calls[name]) == 0 {
			t.Errorf("%s offers JSON, and no call of it is tried here", name)
		}
		for _, call := range calls[name] {
			if strings.Contains(call, "jsonl") {
				out := s.answer("firstcue " + call)
				if strings.Count(out, "\n") < 100 {
					t.Errorf("%s: %d lines", call, strings.Count(out, "\n"))
				}
				for i, line := range strings.Split(strings.TrimSpace(out), "\n") {
					if i%97 == 0 {
						look(call, line)
					}
				}
				continue
			}
			look(call, s.answer("firstcue "+call+" --format json"))
		}
	})
	if offered < 20 {
		t.Errorf("only %d commands offer JSON", offered)
	}
	files, err := filepath.Glob(filepath.Join(dir, "*.json"))
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range files {
		if name := strings.TrimSuffix(filepath.Base(f), ".json"); !used[name] {
			t.Errorf("docs/schemas/%s.json: no command was seen to write it", name)
		}
	}
}

// answer is raw without standard error.
func (s *script) answer(command string) string {
	words, err := splitWords(command)
	if err != nil {
		s.t.Fatal(err)
	}
	var out, messages bytes.Buffer
	s.exec(words, s.vars, strings.NewReader(""), &out, &messages)
	if out.Len() == 0 {
		s.t.Errorf("%s prints nothing: %s", command, messages.String())
	}
	return out.String()
}

// handle finds the dog's session of 08:00, or the second scoring of it.
func handle(t *testing.T, s *script, dog, what string) string {
	t.Helper()
	return handleOf(t, s, dog, "2026-03-20T08:00", what)
}

// handleOf is handle for another start.
func handleOf(t *testing.T, s *script, dog, start, what string) string {
	t.Helper()
	var list struct {
		Sessions []struct {
			ID, Start string
			Rescores  *string
		}
	}
	if err := json.Unmarshal([]byte(s.answer("firstcue sessions "+dog+" --all --format json")), &list); err != nil {
		t.Fatal(err)
	}
	for _, x := range list.Sessions {
		if strings.Contains(x.Start, start) && (x.Rescores != nil) == (what != "") {
			return x.ID[len(x.ID)-8:]
		}
	}
	t.Fatalf("no such session of %s in %+v", dog, list)
	return ""
}
