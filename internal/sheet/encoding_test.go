package sheet

import (
	"bytes"
	"encoding/binary"
	"io"
	"strings"
	"testing"
	"testing/iotest"
	"unicode/utf16"
)

func TestDecodeKnowsMarksAndNothingElse(t *testing.T) {
	text := "Hündin;Bär 🐕\r\n"
	units := func(order binary.ByteOrder, mark bool) []byte {
		var b bytes.Buffer
		if mark {
			binary.Write(&b, order, uint16(0xFEFF))
		}
		binary.Write(&b, order, utf16.Encode([]rune(text)))
		return b.Bytes()
	}
	for _, c := range []struct {
		in    []byte
		asked Encoding
		found Encoding
		mark  bool
	}{
		{[]byte(text), "", UTF8, false},
		{[]byte("\xEF\xBB\xBF" + text), "", UTF8, true},
		{[]byte("\xEF\xBB\xBF" + text), Windows1252, UTF8, true},
		{units(binary.LittleEndian, true), "", UTF16LE, true},
		{units(binary.BigEndian, true), "", UTF16BE, true},
		{units(binary.BigEndian, false), UTF16BE, UTF16BE, false},
	} {
		for _, wrap := range []func(io.Reader) io.Reader{iotest.OneByteReader, iotest.HalfReader, iotest.DataErrReader} {
			r, found, mark, err := Decode(wrap(bytes.NewReader(c.in)), c.asked)
			if err != nil {
				t.Fatal(err)
			}
			got, err := io.ReadAll(iotest.OneByteReader(r))
			if err != nil || string(got) != text || found != c.found || mark != c.mark {
				t.Errorf("%s: got %q %v %v, %v", c.found, got, found, mark, err)
			}
		}
	}
}

// Source of the letters: WHATWG Encoding Standard, index windows-1252. Five
// bytes stand for nothing; like half a letter of UTF-16 they become U+FFFD, and
// the row is refused.
func TestDecodeLetters(t *testing.T) {
	for in, want := range map[string]string{
		"gr\xfc\xdf \x80 \x93x\x94 \x9e": "grüß € “x” ž", "\x81\x8d\x8f\x90\x9d": strings.Repeat("\uFFFD", 5),
	} {
		r, _, _, err := Decode(strings.NewReader(in), Windows1252)
		if got, _ := io.ReadAll(r); err != nil || string(got) != want {
			t.Errorf("%q: got %q, %v", in, got, err)
		}
	}
	for _, in := range []string{"\xFF\xFEa\x00b", "\xFF\xFE\x3D\xD8a\x00"} {
		r, _, _, err := Decode(strings.NewReader(in), "")
		if got, _ := io.ReadAll(r); err != nil || !strings.Contains(string(got), "\uFFFD") {
			t.Errorf("%q: got %q, %v", in, got, err)
		}
	}
	got := read("dog,date,cue,response\nT\uFFFDrn,2026-03-04,sit,+\n", Mapping{}, Wishes{}, Options{At: "9:00"})
	check(t, got, "", "2: dog: \"T\uFFFDrn\" has a damaged letter in it; save the file again")
}

func TestDecodeRefuses(t *testing.T) {
	if _, _, _, err := Decode(strings.NewReader("PK\x03\x04"), ""); err == nil || !strings.Contains(err.Error(), "workbook") {
		t.Errorf("workbook: %v", err)
	}
	if _, _, _, err := Decode(strings.NewReader("a\x00b"), ""); err == nil {
		t.Error("binary file accepted")
	}
	if _, _, _, err := Decode(strings.NewReader("a"), "latin-9"); err == nil || !strings.Contains(err.Error(), "windows-1252") {
		t.Errorf("unknown encoding: %v", err)
	}
}
