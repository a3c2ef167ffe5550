package cli

import (
	"bytes"
	"flag"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"

	"firstcue/internal/report"
	maker "firstcue/internal/schema"
	"firstcue/internal/training"
)

var rewrite = flag.Bool("schemas", false, "write docs/schemas anew")

// publishedAnswers is every JSON answer with the type it is made of.
func publishedAnswers() []maker.Answer {
	of := report.Published()
	return []maker.Answer{
		{"agreement", "Two scorers of one session", "firstcue agree SESSION SESSION --format json", []any{agreementJSON{}}},
		{"check", "Health of the store", "firstcue store check --format json", []any{healthJSON{}}},
		{"criteria", "Bars in force", "firstcue criteria [DOG] --format json", []any{criteriaJSON{}}},
		{"cues", "Cues", "firstcue cue list --format json", []any{cuesJSON{}}},
		{"daysheet", "The day's sessions, dog by dog", "firstcue plan --format json", []any{of["daysheet"]}},
		{"devices", "Devices", "firstcue device list --format json", []any{devicesJSON{}}},
		{"dog", "One dog", "firstcue dog show DOG --format json", []any{dogJSON{}}},
		{"dogs", "Dogs", "firstcue dog list --format json", []any{dogsJSON{}}},
		{"drafts", "Drafts", "firstcue draft list --format json", []any{draftsJSON{}}},
		{"handlers", "Handlers", "firstcue handler list --format json", []any{handlersJSON{}}},
		{"history", "Revisions of a session", "firstcue session history SESSION --format json", []any{historyJSON{}}},
		{"import", "What an import did", "firstcue import FILE --format json", []any{importJSON{}}},
		{"incidents", "Incidents", "firstcue incident list --format json", []any{incidentsJSON{}}},
		{"journal", "Journal of the store", "firstcue store journal --format json", []any{journalJSON{}}},
		{"log", "What log understood or stored", "firstcue log --format json", []any{storedJSON{}, dryRunJSON{}, refusedJSON{}}},
		{"nightly", "Every dog, one evening", "firstcue nightly --format json", []any{of["nightly"]}},
		{"places", "Places", "firstcue place list --format json", []any{placesJSON{}}},
		{"plan", "Next session of one dog", "firstcue plan DOG --format json", []any{of["plan"]}},
		{"progress", "Course of the cues", "firstcue progress DOG --format json", []any{of["progress"]}},
		{"recheck", "Rechecks after the handoff", "firstcue recheck [DOG] --format json", []any{of["recheck"]}},
		{"report", "Readiness of one dog", "firstcue report DOG --format json", []any{of["report"]}},
		{"session", "One session", "firstcue session show SESSION --format json", []any{oneSessionJSON{}}},
		{"sessions", "Sessions", "firstcue sessions [DOG] --format json", []any{sessionsJSON{}}},
		{"trackrecord", "How past chances of being ready came out", "firstcue criteria --track-record --format json", []any{trackRecordJSON{}}},
		{"trial", "One trial", "a line of firstcue export DOG --format jsonl", []any{of["trial"]}},
	}
}

// TestSchemasAreThoseOfTheValues: docs/schemas is what the types say, and each
// property has a description. With -schemas the files are written anew.
func TestSchemasAreThoseOfTheValues(t *testing.T) {
	dir := filepath.Join("..", "..", "docs", "schemas")
	m := maker.Maker{
		Sources: &maker.Sources{Root: filepath.Join("..", ".."), Module: "firstcue"},
		Special: map[reflect.Type]map[string]any{
			reflect.TypeFor[training.Num](): {"type": []string{"number", "null"}},
			reflect.TypeFor[training.Day](): {"type": []string{"string", "null"}, "format": "date"},
		},
		Nullable: []reflect.Type{reflect.TypeFor[training.Tally]()},
		Open:     []reflect.Type{reflect.TypeFor[training.Signal]()},
	}
	var made []string
	for _, a := range publishedAnswers() {
		want, err := m.Make(a)
		if err != nil {
			t.Error(err)
			continue
		}
		file := filepath.Join(dir, a.Name+".json")
		made = append(made, file)
		if *rewrite {
			write(t, file, want)
		}
		if got, err := os.ReadFile(file); err != nil || !bytes.Equal(got, want) {
			t.Errorf("%s is not what the types say (%v): make schemas", file, err)
		}
	}
	there, err := filepath.Glob(filepath.Join(dir, "*.json"))
	if err != nil {
		t.Fatal(err)
	}
	for _, f := range there {
		if !slices.Contains(made, f) && len(made) == len(publishedAnswers()) {
			t.Errorf("%s is of no answer", strings.TrimPrefix(f, dir))
		}
	}
}
