package cli

import (
	"path/filepath"
	"strings"
	"testing"
)

// A note that is logged again does not bring back a session that was withdrawn,
// and says so, with the way back.
func TestLogAgainSaysThatASessionIsWithdrawn(t *testing.T) {
	s := newScript(t)
	const first = "dog: Tarn; handler: Ailsa; place: paddock; leash: off; distraction: 1\nstart: 2026-03-20 09:10\nsit 3+\n"
	const more = "start: 2026-03-20 11:10\nsit 2+\n"
	write(t, filepath.Join(s.dir, "v.txt"), []byte(first))
	s.must("firstcue log --new v.txt -q")
	s.must("firstcue session void last --why 'wrong dog' -q")
	got := s.run("firstcue log v.txt", nil)
	for _, want := range []string{"withdrawn ", "is withdrawn (wrong dog) and stays so\n  to bring it back: firstcue session unvoid ", "nothing was stored"} {
		if !strings.Contains(got, want) {
			t.Errorf("no %q in\n%s", want, got)
		}
	}
	for _, no := range []string{"already logged", "stored already"} {
		if strings.Contains(got, no) {
			t.Errorf("%q in\n%s", no, got)
		}
	}
	// Beside a new session.
	write(t, filepath.Join(s.dir, "w.txt"), []byte(first+more))
	if got := s.must("firstcue log w.txt"); !strings.Contains(got, "\nlogged ") || !strings.Contains(got, "stays so") || strings.Contains(got, "nothing was stored") {
		t.Errorf("with a new one:\n%s", got)
	}
	_, back, _ := strings.Cut(got, "to bring it back: ")
	back, _, _ = strings.Cut(back, "\n")
	s.must(back)
	if got := s.must("firstcue log v.txt"); !strings.Contains(got, "already logged") || !strings.Contains(got, "every session is stored already") {
		t.Errorf("after %s:\n%s", back, got)
	}
}
