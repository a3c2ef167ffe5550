package note

import (
	"strings"
	"testing"
)

// The help fits a screen, and its examples are read.
func TestHelp(t *testing.T) {
	lines := strings.Split(strings.TrimSuffix(Help, "\n"), "\n")
	if len(lines) > 24 {
		t.Errorf("%d lines", len(lines))
	}
	o := Options{Kennel: docsKennel(), Now: now}
	o.Kennel.Dogs[1].RewardOnly = false
	var text strings.Builder
	for _, l := range lines {
		if len(l) > 80 {
			t.Errorf("%d columns: %s", len(l), l)
		}
		if body, is := strings.CutPrefix(l, "  "); is && text.Len() < 600 {
			line, _, _ := strings.Cut(body, "   ")
			if line == "+ yes ok good" {
				break
			}
			text.WriteString(strings.Split(line, "  ")[0] + "\n")
		}
	}
	r := Parse([]byte(text.String()), o)
	if len(r.Problems) > 0 || len(r.Sessions) != 1 || len(r.Sessions[0].Trials) != 10 {
		t.Errorf("%v\n%s%+v", r.Problems, text.String(), r.Sessions)
	}
}
