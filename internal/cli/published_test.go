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
		{Name: "agreement", Title: "Two scorers of one session", Command: "firstcue agree SESSION SESSION --format json", Forms: []any{agreementJSON{}}},
		{Name: "check", Title: "Health of the store", Command: "firstcue store check --format json", Forms: []any{healthJSON{}}},
		{Name: "criteria", Title: "Bars in force", Command: "firstcue criteria [DOG] --format json", Forms: []any{criteriaJSON{}}},
		{Name: "cues", Title: "Cues", Command: "firstcue cue list --format json", Forms: []any{cuesJSON{}}},
		{Name: "daysheet", Title: "The day's sessions, dog by dog", Command: "firstcue plan --format json", Forms: []any{of["daysheet"]}},
		{Name: "devices", Title: "Devices", Command: "firstcue device list --format json", Forms: []any{devicesJSON{}}},
		{Name: "dog", Title: "One dog", Command: "firstcue dog show DOG --format json", Forms: []any{dogJSON{}}},
		{Name: "dogs", Title: "Dogs", Command: "firstcue dog list --format json", Forms: []any{dogsJSON{}}},
		{Name: "drafts", Title: "Drafts", Command: "firstcue draft list --format json", Forms: []any{draftsJSON{}}},
		{Name: "handlers", Title: "Handlers", Command: "firstcue handler list --format json", Forms: []any{handlersJSON{}}},
		{Name: "history", Title: "Revisions of a session", Command: "firstcue session history SESSION --format json", Forms: []any{historyJSON{}}},
		{Name: "import", Title: "What an import did", Command: "firstcue import FILE --format json", Forms: []any{importJSON{}}},
		{Name: "incidents", Title: "Incidents", Command: "firstcue incident list --format json", Forms: []any{incidentsJSON{}}},
		{Name: "journal", Title: "Journal of the store", Command: "firstcue store journal --format json", Forms: []any{journalJSON{}}},
		{Name: "log", Title: "What log understood or stored", Command: "firstcue log --format json", Forms: []any{storedJSON{}, dryRunJSON{}, refusedJSON{}}},
		{Name: "nightly", Title: "Every dog, one evening", Command: "firstcue nightly --format json", Forms: []any{of["nightly"]}},
		{Name: "places", Title: "Places", Command: "firstcue place list --format json", Forms: []any{placesJSON{}}},
		{Name: "plan", Title: "Next session of one dog", Command: "firstcue plan DOG --format json", Forms: []any{of["plan"]}},
		{Name: "progress", Title: "Course of the cues", Command: "firstcue progress DOG --format json", Forms: []any{of["progress"]}},
		{Name: "recheck", Title: "Rechecks after the handoff", Command: "firstcue recheck [DOG] --format json", Forms: []any{of["recheck"]}},
		{Name: "report", Title: "Readiness of one dog", Command: "firstcue report DOG --format json", Forms: []any{of["report"]}},
		{Name: "session", Title: "One session", Command: "firstcue session show SESSION --format json", Forms: []any{oneSessionJSON{}}},
		{Name: "sessions", Title: "Sessions", Command: "firstcue sessions [DOG] --format json", Forms: []any{sessionsJSON{}}},
		{Name: "trackrecord", Title: "How past chances of being ready came out", Command: "firstcue criteria --track-record --format json", Forms: []any{trackRecordJSON{}}},
		{Name: "trial", Title: "One trial", Command: "a line of firstcue export DOG --format jsonl", Forms: []any{of["trial"]}},
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
