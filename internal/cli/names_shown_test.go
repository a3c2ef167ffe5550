package cli

import (
	"bytes"
	"crypto/sha256"
	"fmt"
	"os"
	"regexp"
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
	// Another program wrote them into an exchange file that is right in every other way.
	s.must("firstcue store bundle -o other.jsonl")
	b, err := os.ReadFile(s.path("other.jsonl"))
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Contains(b, []byte("arn---x")) || !bytes.Contains(b, []byte("back---y")) {
		t.Fatal("the names are not in the file")
	}
	b = bytes.ReplaceAll(bytes.ReplaceAll(b, []byte("arn---x"), []byte("arn\u202ex")), []byte("back---y"), []byte("back\u200by"))
	head, lines, _ := strings.Cut(string(b), "\n")
	lines = regexp.MustCompile(`(?m)"id":"[0-9a-f]{32}","doc":(.*)}$`).ReplaceAllStringFunc(lines, func(l string) string {
		doc := strings.TrimSuffix(l[strings.Index(l, `"doc":`)+6:], "}")
		sum := sha256.Sum256([]byte(doc))
		return fmt.Sprintf(`"id":"%x","doc":%s}`, sum[:16], doc)
	})
	head = regexp.MustCompile(`"checksum":"[0-9a-f]*"`).ReplaceAllString(head, fmt.Sprintf(`"checksum":"%x"`, sha256.Sum256([]byte(lines))))
	write(t, s.path("other.jsonl"), []byte(head+"\n"+lines))
	db := s.vars["FIRSTCUE_STORE"]
	if db == "" {
		db = strings.TrimSpace(s.answer("firstcue store where"))
	}
	if err := os.Remove(s.path(strings.Replace(db, "~/", "", 1))); err != nil {
		t.Fatal(err)
	}
	s.must("firstcue store merge other.jsonl")
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
		{"firstcue dog show Tarnx", "Tarn\uFFFDx"}, // did you mean
		{"firstcue dog arrive '" + dog + "' --arrived 2026-03-03", ""},
		{"firstcue dog add '" + dog + "'", ""},
		{"firstcue log --dry-run --dog '" + dog + "' --handler Ailsa --place '" + place + "' --leash off --distraction 1 --start 'today 9:00' --text 'sit 2+'", "Tarn\uFFFDx"},
		{"firstcue log --dog '" + dog + "' --handler Ailsa --place '" + place + "' --leash off --distraction 1 --start 'today 9:00' --text 'sit 2+'", "Tarn\uFFFDx"},
		{"firstcue undo", "Tarn\uFFFDx"},
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
