package note

import (
	"bytes"
	"reflect"
	"strings"
	"testing"
	"unicode/utf16"

	"firstcue/internal/training"
)

func TestClean(t *testing.T) {
	for _, c := range []struct{ in, want string }{
		{"a\u00A0b\tc\u2003d\u3000e", "a b c d e"},
		{"a\u200Bb\u2060c\uFEFFd\u00ADe\u200Ef\uFE0Fg", "abcdefg"},
		{"\u2010\u2011\u2012\u2013\u2014\u2015\u2212\uFE63\uFF0D", "---------"},
		{"\u2018a\u2019 \u201Cb\u201D \u2032 `", "'a' \"b\" ' '"},
		{"\u2026", "..."},
		{"3\u00D74", "3x4"},
		{"\uFF13\uFF0B\uFF20\u0669", "3+@9"},
		{"\u096C \u0666\u066B\u0665 \U0001D7D7", "6 6.5 9"},
		{"\u00BD 1\u00BD 1 \u00BE 2\u2153", "0.5 1.5 1.75 2.333"},
		{"10\u00B2", "10\u00B2"}, // NFKC would make it 102
		{"Zoe\u0308 e\u0301", "Zo\u00EB \u00E9"},
		{"\u2795 \u2796", "+ -"},
	} {
		got, from, to := cleanRunes([]rune(c.in))
		if string(got) != c.want {
			t.Errorf("%q: %q, want %q", c.in, string(got), c.want)
		}
		if len(from) != len(got) || len(to) != len(got) {
			t.Errorf("%q: map of %d for %d", c.in, len(from), len(got))
		}
		if again, _, _ := cleanRunes(got); string(again) != string(got) {
			t.Errorf("%q: cleaned twice gives %q", c.in, string(again))
		}
	}
	// the map leads back to what was typed
	l := newLine(1, "sit\u200B \u00BD 9")
	if col, width := l.span(len(l.text)-1, len(l.text)); col != 8 || width != 1 {
		t.Errorf("column %d width %d", col, width)
	}
	if col, width := l.span(4, 7); col != 6 || width != 1 {
		t.Errorf("column %d width %d of the fraction", col, width)
	}
}

func TestEncodings(t *testing.T) {
	text := head + "sit + \u00FC\n"
	text = strings.Replace(text, "sit + \u00FC", "> \u00FC \U0001F436", 1)
	bom := append([]byte{0xEF, 0xBB, 0xBF}, text...)
	utf := func(big bool) []byte {
		var b []byte
		for _, u := range append([]uint16{0xFEFF}, utf16.Encode([]rune(text))...) {
			if big {
				b = append(b, byte(u>>8), byte(u))
			} else {
				b = append(b, byte(u), byte(u>>8))
			}
		}
		return b
	}
	for name, b := range map[string][]byte{"bom": bom, "utf16le": utf(false), "utf16be": utf(true), "crlf": []byte(strings.ReplaceAll(text, "\n", "\r\n")),
		"cr": []byte(strings.ReplaceAll(text, "\n", "\r")), "nel": []byte(strings.ReplaceAll(text, "\n", "\u0085")), "ls": []byte(strings.ReplaceAll(text, "\n", "\u2028")), "no end": []byte(strings.TrimSuffix(text, "\n"))} {
		r := Parse(b, options())
		if len(r.Problems) > 0 || len(r.Sessions) != 1 || r.Sessions[0].Remarks[0].Text != "\u00FC \U0001F436" || r.Sessions[0].Remarks[0].Line != 2 {
			t.Errorf("%s: %+v", name, r)
		}
	}
	for _, c := range []struct {
		name, in, want string
	}{
		{"nothing", "", "note: the note is empty"},
		{"blank", " \n\t\n\u00A0\n", "note: the note is empty"},
		{"comment", "# nothing yet\n", "note: the note is empty"},
		{"latin 1", head + "> sch\xf6n\n", "note:2:6: this is not UTF-8 text"},
		{"binary", "\x7fELF\x02\x01\x00\x00\xff\xfe\n\x00\x01", "note:1:9: this is not text"},
		{"nul", head + "sit\x00 +\n", "note:2:4: this is not text: it has the control character U+0000"},
		{"escape", head + "> \x1b[31mred\n", "note:2:3: this is not text: it has the control character U+001B"},
		{"long line", head + "> " + strings.Repeat("x", maxLine), "note:2:10001: the line has 10002 characters; a line has at most 10000"},
		{"half utf16", "\xff\xfea", "note: this is UTF-16 text with half a character at the end: save it again as UTF-8"},
		{"big", strings.Repeat("sit +\n", maxNote/6+1), "note: the note has 1048578 bytes; a note has at most 1 MiB"},
		{"one line of 1 MB", strings.Repeat("x", 1_000_000), "note:1:10001: the line has 1000000 characters; a line has at most 10000"},
	} {
		r := Parse([]byte(c.in), options())
		if len(r.Problems) != 1 || r.Problems[0].Error() != c.want || r.Sessions != nil {
			t.Errorf("%s: %v, want %s", c.name, r.Problems, c.want)
		}
		var b bytes.Buffer
		for _, p := range r.Problems {
			_ = p.Write(&b)
		}
		if b.Len() > 1000 {
			t.Errorf("%s: %d bytes printed", c.name, b.Len())
		}
	}
	r := Parse([]byte(strings.Repeat("bad +\n", 5000)), options())
	if n := len(r.Problems); n != maxProblems+1 {
		t.Errorf("%d problems", n)
	}
}

// The caret stands under what was typed, whatever its width on a terminal.
// Widths: Unicode Standard Annex 11, wide characters take two columns.
func TestWrite(t *testing.T) {
	for _, c := range []struct {
		p    Problem
		want string
	}{
		{Problem{File: "a", Line: 2, Column: 5, Width: 3, Text: "sit abc +", Message: "m", Want: "w", Near: []string{"x", "y", "z"}},
			"a:2:5: m\n  sit abc +\n      ^^^\n  did you mean x, y or z?\n  w\n"},
		{Problem{File: "a", Line: 1, Column: 4, Width: 2, Text: "日本 漢字 x", Message: "m"}, "a:1:4: m\n  日本 漢字 x\n       ^^^^\n"},
		{Problem{File: "a", Line: 1, Column: 4, Width: 1, Text: "e\u0301\tx+", Message: "m"}, "a:1:4: m\n  e\u0301 x+\n    ^\n"},
		{Problem{File: "a", Line: 1, Column: 3, Width: 1, Text: "🐕 x", Message: "m"}, "a:1:3: m\n  🐕 x\n     ^\n"},
		{Problem{File: "a", Message: "m", Want: "w"}, "a: m\n  w\n"},
		{Problem{File: "a", Line: 3, Message: "m"}, "a:3: m\n"},
		{Problem{File: "a", Line: 1, Column: 9, Width: 1, Text: "sit", Message: "m"}, "a:1:9: m\n  sit\n     ^\n"},
	} {
		var b bytes.Buffer
		if err := c.p.Write(&b); err != nil || b.String() != c.want {
			t.Errorf("%+v:\n%s\nwant\n%s", c.p, b.String(), c.want)
		}
	}
	long := Problem{File: "a", Line: 1, Column: 5001, Width: 3, Text: strings.Repeat("x", 5000) + "abc" + strings.Repeat("y", 4000), Message: "m"}
	var b bytes.Buffer
	_ = long.Write(&b)
	lines := strings.Split(b.String(), "\n")
	if at := strings.Index(lines[1], "abc"); at < 0 || strings.Index(lines[2], "^^^") != at || len(lines[1]) > 110 {
		t.Errorf("long line:\n%s", b.String())
	}
}

func TestNearest(t *testing.T) {
	cues := []string{"heel", "here", "sit", "down", "stay", "place", "come", "halt", "leave it"}
	for _, c := range []struct {
		word string
		list []string
		want []string
	}{
		{"heal", cues, []string{"heel"}},
		{"hele", cues, []string{"heel", "here"}},
		{"sitt", cues, []string{"sit"}},
		{"sti", cues, []string{"sit"}},
		{"DWON", cues, []string{"down"}},
		{"leave", cues, []string{"leave it"}},
		{"plaice", cues, []string{"place"}},
		{"banana", cues, nil},
		{"x", cues, nil},
		{"", cues, nil},
		{"maren", []string{"Maren", "Mairen", "Marek"}, []string{"Maren", "Mairen", "Marek"}},
		{"field", []string{"back field", "barn"}, []string{"back field"}},
		{"jun", []string{"Juniper", "Juno", "June"}, []string{"June", "Juniper", "Juno"}},
		{"bax", []string{"bay", "ban", "bat", "bag", "ban"}, []string{"bag", "ban", "bat"}},
	} {
		if got := Nearest(c.word, c.list); !reflect.DeepEqual(got, c.want) {
			t.Errorf("%q: %q, want %q", c.word, got, c.want)
		}
	}
	if training.Key(Nearest("Back  Feild", []string{"back field"})[0]) != "back field" {
		t.Error("two words")
	}
}
