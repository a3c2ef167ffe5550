package note

import (
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"
)

// TestMessy holds lines as tired people type and dictate them to what each must
// give: the trials in canonical spelling, a remark, or the code of the refusal.
// In testdata/notes/messy.txt \n stands for a new line; a line that begins with a
// key of a context line is read as it is, every other one below a full header.
// UPDATE=1 rewrites the right-hand sides: read every one that changes.
func TestMessy(t *testing.T) {
	path := filepath.Join("..", "..", "testdata", "notes", "messy.txt")
	b, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	var again strings.Builder
	n := 0
	for _, row := range strings.Split(strings.TrimSuffix(string(b), "\n"), "\n") {
		line, want, ok := strings.Cut(row, "  =>  ")
		if !ok {
			if strings.HasPrefix(row, "##") || row == "" {
				again.WriteString(row + "\n")
				continue
			}
			if os.Getenv("UPDATE") == "" {
				t.Fatalf("%q has no right-hand side", row)
			}
		}
		n++
		got := messy(t, line)
		if got != want {
			t.Errorf("%s\n got %s\nwant %s", line, got, want)
		}
		again.WriteString(line + "  =>  " + got + "\n")
	}
	if n < 300 {
		t.Errorf("%d lines, want at least 300", n)
	}
	if os.Getenv("UPDATE") != "" {
		if err := os.WriteFile(path, []byte(again.String()), 0o644); err != nil {
			t.Fatal(err)
		}
	}
}

// messy reads one line of the table and says what came of it. What is read must
// come back from its canonical spelling.
func messy(t *testing.T, line string) string {
	text := strings.ReplaceAll(line, `\n`, "\n")
	l := newLine(1, text)
	key, _, _, isPair := contextKey(l.text, 0)
	k := keyNamed(key)
	start := ""
	switch {
	case isPair && k != nil && k.name == "start":
		start, text = "start", "dog: Juniper; handler: Maren; place: yard; leash: off; distraction: 1\n"+text+"\nsit +"
	case isPair && k != nil:
		start, text = k.name, head+text+"\nsit +"
	default:
		text = head + text
	}
	o := options()
	o.Written = time.Date(2026, 3, 25, 18, 30, 0, 0, berlin) // a Wednesday
	o.AllowNew = true
	r := Parse([]byte(text), o)
	if len(r.Problems) > 0 {
		return "refused: " + r.Problems[0].Code
	}
	var parts []string
	for _, s := range r.Sessions {
		switch v := (context{leash: s.Leash, handler: s.Handler, place: s.Place, device: s.Device, level: s.WorkingLevel, worn: s.Worn, repeated: s.OwnerRepeated, late: s.OwnerLate, skin: s.Skin}); start {
		case "start":
			parts = append(parts, "start "+s.Start.Format("2006-01-02 15:04"))
		case "link":
			parts = append(parts, "link "+linkText(s.Links[0]))
		case "":
			for _, x := range s.Trials {
				parts = append(parts, x.Marks)
			}
			for _, x := range s.Remarks {
				parts = append(parts, "> "+x.Text)
			}
		default:
			if parts = append(parts, start+" "+v.value(start)); start == "collar" {
				parts = append(parts, "skin "+s.Skin)
			}
			for _, n := range r.New {
				parts = append(parts, "new "+n.Kind+" "+n.Name)
			}
			for _, x := range s.Trials[:len(s.Trials)-1] {
				parts = append(parts, x.Marks)
			}
		}
		again := Parse([]byte(strings.Replace(Format(s), "\n\n", "\ncues: wave\n\n", 1)), o)
		if len(again.Problems) > 0 || same(s, again.Sessions[0]) != "" {
			t.Errorf("%s: printed and read again: %v\n%s", line, again.Problems, Format(s))
		}
	}
	for _, w := range r.Warnings {
		parts = append(parts, "warned: "+w.Code)
	}
	return strings.Join(parts, " | ")
}
