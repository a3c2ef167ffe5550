package note

import (
	"bytes"
	"os"
	"strings"
	"testing"

	"firstcue/internal/training"
)

// docsKennel is the invented kennel of the pages under docs.
func docsKennel() training.Kennel {
	return training.Kennel{
		Cues:     training.SeedCues(),
		Dogs:     []training.Dog{{Name: "Juniper", Device: "blue remote"}, {Name: "Pip", RewardOnly: true}},
		Handlers: []training.Handler{{Name: "Maren", Role: training.Trainer}, {Name: "Tobias", Role: training.Trainer}, {Name: "Mrs Okafor", Role: training.Owner}},
		Places:   []training.Place{{Name: "back field"}, {Name: "yard"}, {Name: "barn"}, {Name: "high street", OffProperty: true}},
		Devices:  []training.Device{{Name: "blue remote", Lowest: training.Known(1), Highest: training.Known(100)}},
	}
}

type block struct {
	kind, text string
	line       int
}

func docBlocks(t *testing.T, page string) (out []block) {
	t.Helper()
	b, err := os.ReadFile("../../docs/" + page)
	if err != nil {
		t.Fatal(err)
	}
	var in *block
	for i, s := range strings.SplitAfter(string(b), "\n") {
		fence := strings.HasPrefix(s, "```")
		switch {
		case fence && in == nil:
			in = &block{kind: strings.TrimSpace(s[3:]), line: i + 1}
		case fence:
			out = append(out, *in)
			in = nil
		case in != nil:
			in.text += s
		}
	}
	return out
}

// TestDocs runs every example of the pages: a note or its lines, and what the
// page says they are read as.
func TestDocs(t *testing.T) {
	o := Options{Kennel: docsKennel(), Now: now}
	for page, atLeast := range map[string]int{"notes.md": 4, "dictation.md": 7} {
		blocks := docBlocks(t, page)
		run := 0
		for i, b := range blocks {
			text := b.text
			switch b.kind {
			case "lines":
				text = head + text
			case "note", "refused":
			default:
				continue
			}
			run++
			r := Parse([]byte(text), o)
			next := block{}
			if i+1 < len(blocks) {
				next = blocks[i+1]
			}
			if b.kind == "refused" {
				var got bytes.Buffer
				for _, p := range r.Problems {
					_ = p.Write(&got)
				}
				if next.kind != "says" || !strings.HasPrefix(got.String(), next.text) || len(r.Problems) < strings.Count(text, "\n") {
					t.Errorf("%s:%d: says\n%s", page, b.line, got.String())
				}
				continue
			}
			for _, p := range append(r.Problems, r.Warnings...) {
				t.Errorf("%s:%d: %v", page, b.line, p)
			}
			if next.kind != "reads" {
				continue
			}
			var got strings.Builder
			for _, s := range r.Sessions {
				for _, x := range s.Trials {
					got.WriteString(x.Marks + "\n")
				}
			}
			if got.String() != next.text {
				t.Errorf("%s:%d: is read as\n%s", page, b.line, got.String())
			}
		}
		if run < atLeast {
			t.Errorf("%s: %d examples, want at least %d", page, run, atLeast)
		}
	}
}
