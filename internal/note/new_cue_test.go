package note

import (
	"strings"
	"testing"
)

// TestNewCueWithATime: a name not yet known is taken for a response when new
// names are allowed, but a time behind it says that it is none; the hint is the
// command that adds it.
func TestNewCueWithATime(t *testing.T) {
	o := options()
	o.AllowNew = true
	for _, c := range []struct{ line, message, want string }{
		{"wait 0:30 +", "wait is new, and its time says that it is no single answer", "firstcue cue add wait --kind hold --target 30s "},
		{"Close Walk 3:20 2-", "Close Walk is new", "firstcue cue add 'close walk' --kind hold --target 3:20 (or --kind motion, when it is walked)"},
		{"wait 90 s +", "wait is new", "--target 1:30 "},
	} {
		r := Parse([]byte(head+c.line+"\n"), o)
		if len(r.Problems) != 1 || !strings.HasPrefix(r.Problems[0].Message, c.message) || !strings.Contains(r.Problems[0].Want, c.want) {
			t.Errorf("%q: %+v", c.line, r.Problems)
		}
	}
	if r := Parse([]byte(head+"touch +1.2\n"), o); len(r.Problems) != 0 || len(r.New) != 1 {
		t.Errorf("a response is still new: %+v", r.Problems)
	}
}
