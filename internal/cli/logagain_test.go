package cli

import (
	"io"
	"path/filepath"
	"strings"
	"testing"
)

// Notes that are logged again, all of a week, take no correction back.
func TestLogAgainSaysThatACorrectionStays(t *testing.T) {
	s := newScript(t)
	const note = "dog: Tarn; handler: Ailsa\nstart: 2026-03-20 09:10; place: paddock; leash: off; distraction: 1\nsit 3+\n"
	write(t, filepath.Join(s.dir, "v.txt"), []byte(note))
	s.must("firstcue log --new v.txt -q")
	s.must("firstcue session amend last --text 'sit 3+, -' --why 'forgot one' -q")
	got := s.run("firstcue log v.txt", nil)
	for _, want := range []string{"already logged", "sit 4", "was corrected since, 18:00 (\"forgot one\"): the correction stays\n  to go back to the note: firstcue session settle ", "nothing new"} {
		if !strings.Contains(got, want) {
			t.Errorf("no %q in\n%s", want, got)
		}
	}
	// The way back that it names works.
	var said strings.Builder
	s.exec([]string{"firstcue", "log", "v.txt"}, s.vars, nil, io.Discard, &said)
	_, back, _ := strings.Cut(said.String(), "to go back to the note: ")
	back, _, _ = strings.Cut(back, "\n")
	if back == "" {
		t.Fatalf("no way back in %s", said.String())
	}
	s.must(back)
	if got := s.run("firstcue session show last", nil); strings.Contains(got, "sit 4") || !strings.Contains(got, "sit") {
		t.Errorf("after %s\n%s", back, got)
	}
	// A changed note over a correction is not said quietly.
	s.must("firstcue session amend last --text 'sit 3+, -' --why 'forgot one' -q")
	write(t, filepath.Join(s.dir, "v.txt"), []byte(strings.Replace(note, "sit 3+", "sit 2+", 1)))
	if got := s.run("firstcue log v.txt -q", nil); !strings.Contains(got, "this replaces the correction of 18:00 (\"forgot one\")") {
		t.Errorf("quietly: %q", got)
	}
}
