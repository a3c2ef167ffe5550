package sheet

import (
	"bytes"
	"encoding/binary"
	"io"
	"strings"
	"testing"
	"testing/iotest"
	"unicode/utf16"

	"golang.org/x/text/encoding/charmap"
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

// Every byte against x/text, a general reference.
func TestDecodeWindows1252(t *testing.T) {
	var all []byte
	for i := 1; i < 256; i++ {
		all = append(all, byte(i))
	}
	want, _ := charmap.Windows1252.NewDecoder().Bytes(all)
	r, _, _, err := Decode(bytes.NewReader(all), Windows1252)
	if err != nil {
		t.Fatal(err)
	}
	got, _ := io.ReadAll(r)
	// x/text gives U+FFFD for the five unused bytes; the web's table keeps them.
	for _, c := range []rune{0x81, 0x8D, 0x8F, 0x90, 0x9D} {
		got = bytes.ReplaceAll(got, []byte(string(c)), []byte("\uFFFD"))
	}
	if !bytes.Equal(got, want) {
		t.Errorf("got  %q\nwant %q", got, want)
	}
}

func TestDecodeRefuses(t *testing.T) {
	for name, in := range map[string]string{
		"middle of a letter": "\xFF\xFEa\x00b",
		"half a letter":      "\xFF\xFE\x3D\xD8a\x00",
	} {
		r, _, _, err := Decode(strings.NewReader(in), "")
		if err != nil {
			t.Fatal(err)
		}
		if _, err = io.ReadAll(r); err == nil || !strings.Contains(err.Error(), name) {
			t.Errorf("%s: got %v", name, err)
		}
	}
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
