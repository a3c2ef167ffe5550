package cli

import (
	"bytes"
	"os"
	"strings"
	"testing"
)

// A name that turns the text or hides, as it may come from another laptop's
// store, is shown with a replacement character by whatever a person reads, and
// handed on as it is by JSON, CSV and the note.
func TestNamesFromElsewhereAreShownSafely(t *testing.T) {
	s := newScript(t)
	s.must("firstcue dog add 'Tarn---x' --arrived 2026-03-02")
	s.must("firstcue log -q --new --dog 'Tarn---x' --handler Ailsa --place 'back---y' --leash off --distraction 1 --start '2026-03-20 09:10' --text 'sit 3+'")
	db := s.vars["FIRSTCUE_STORE"]
	if db == "" {
		db = strings.TrimSpace(s.answer("firstcue store where"))
	}
	db = s.path(strings.Replace(db, "~/", "", 1))
	b, err := os.ReadFile(db)
	if err != nil {
		t.Fatal(err)
	}
	for old, raw := range map[string]string{"arn---x": "arn\u202ex", "back---y": "back\u200by"} { // each three bytes
		if !bytes.Contains(b, []byte(old)) {
			t.Fatalf("%q is not in the store", old)
		}
		b = bytes.ReplaceAll(b, []byte(old), []byte(raw))
	}
	write(t, db, b)
	const dog, place, bad = "Tarn\u202ex", "back\u200by", "\u202e\u200b"
	for _, c := range []struct {
		command string
		shows   string
	}{
		{"firstcue dog list", "Tarn\uFFFDx"},
		{"firstcue place list", "back\uFFFDy"},
		{"firstcue sessions", "back\uFFFDy"},
		{"firstcue session show last", "Tarn\uFFFDx"},
		{"firstcue session history last", "Tarn\uFFFDx"},
		{"firstcue nightly", "Tarn\uFFFDx"},
		{"firstcue report '" + dog + "'", "Tarn\uFFFDx"},
		{"firstcue dog show '" + dog + "'", "Tarn\uFFFDx"},
		{"firstcue undo", "Tarn\uFFFDx"},
		{"firstcue dog show Tarnx", "Tarn\uFFFDx"}, // did you mean
		{"firstcue dog arrive '" + dog + "' --arrived 2026-03-03", ""},
		{"firstcue dog add '" + dog + "'", ""},
		{"firstcue log --dry-run --dog '" + dog + "' --handler Ailsa --place '" + place + "' --leash off --distraction 1 --start 'today 9:00' --text 'sit 2+'", "Tarn\uFFFDx"},
		{"firstcue log --dog '" + dog + "' --handler Ailsa --place '" + place + "' --leash off --distraction 1 --start 'today 9:00' --text 'sit 2+'", "Tarn\uFFFDx"},
		{"firstcue session void last --why 'wrong dog'", "Tarn\uFFFDx"},
		{"firstcue place rename '" + place + "' yard --yes", "back\uFFFDy"},
	} {
		out := s.run(c.command, nil)
		if strings.ContainsAny(out, bad) || !strings.Contains(out, c.shows) {
			t.Errorf("%s\n%q", c.command, out)
		}
	}
	if out, _ := s.onTerminal("n\n", nil, "dog", "rename", dog, "Tarn"); strings.ContainsAny(out, bad) || !strings.Contains(out, "Rename the dog Tarn\uFFFDx to Tarn?") {
		t.Errorf("a question: %q", out)
	}
	for _, c := range []string{"firstcue dog list --format json", "firstcue sessions --all --format json", "firstcue nightly --format csv", "firstcue session show last --format note"} {
		if out := s.run(c, nil); !strings.Contains(out, dog) {
			t.Errorf("%s does not hand the name on as it is: %q", c, out)
		}
	}
}
