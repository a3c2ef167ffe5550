package sheet

import (
	"bytes"
	"encoding/csv"
	"errors"
	"io"
	"reflect"
	"strings"
	"testing"
	"testing/iotest"

	"pgregory.net/rapid"
)

// readAll reads every row; a bad row stands as one cell "!reason".
func readAll(r *Reader) (rows [][]string, err error) {
	for {
		row, err := r.Read()
		switch {
		case err == io.EOF:
			return rows, nil
		case err != nil:
			return rows, err
		case row.Bad != nil:
			row.Cells = []string{"!" + row.Bad.Error()}
		}
		rows = append(rows, row.Cells)
	}
}

// The examples of RFC 4180 section 2, rules 1 to 7, word for word, CRLF written
// out. Source: RFC 4180, Common Format and MIME Type for CSV Files, October 2005.
// Then other line ends and delimiters, and rows that can't be cut.
func TestReader(t *testing.T) {
	two := [][]string{{"aaa", "bbb", "ccc"}, {"zzz", "yyy", "xxx"}}
	for _, c := range []struct {
		what, text string
		delim      byte
		want       [][]string
	}{
		{"rule 1", "aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n", ',', two},
		{"rule 2", "aaa,bbb,ccc\r\nzzz,yyy,xxx", ',', two},
		{"rule 3", "field_name,field_name,field_name\r\naaa,bbb,ccc\r\n", ',', [][]string{{"field_name", "field_name", "field_name"}, {"aaa", "bbb", "ccc"}}},
		{"rule 4", "aaa, bbb ,ccc\r\n", ',', [][]string{{"aaa", " bbb ", "ccc"}}},
		{"rule 5", "\"aaa\",\"bbb\",\"ccc\"\r\nzzz,yyy,xxx\r\n", ',', two},
		{"rule 6", "\"aaa\",\"b\r\nbb\",\"ccc\"\r\nzzz,yyy,xxx\r\n", ',', [][]string{{"aaa", "b\nbb", "ccc"}, {"zzz", "yyy", "xxx"}}},
		{"rule 7", "\"aaa\",\"b\"\"bb\",\"ccc\"\r\n", ',', [][]string{{"aaa", "b\"bb", "ccc"}}},
		{"semicolons", "a;b\nc;d\n", ';', [][]string{{"a", "b"}, {"c", "d"}}},
		{"tabs", "a\tb\nc\td", '\t', [][]string{{"a", "b"}, {"c", "d"}}},
		{"blank lines", "a,b\n\n\r\nc,\n,\n", ',', [][]string{{"a", "b"}, {"c", ""}, {"", ""}}},
		{"no row", "", ',', nil},
		{"bad rows", "a,b\n5\" lead,x\n\"two\nlines\",\"a\"b,c\nd,e\n", ',', [][]string{{"a", "b"},
			{"!byte 2: a quote inside a cell that does not begin with one; write the whole cell in quotes, and the quote twice"},
			{"!byte 10: text after the closing quote of a cell; write a quote inside a cell twice"}, {"d", "e"}}},
	} {
		for _, src := range []io.Reader{strings.NewReader(c.text), iotest.OneByteReader(strings.NewReader(c.text))} {
			if got, err := readAll(NewReader(src, c.delim)); err != nil || !reflect.DeepEqual(got, c.want) {
				t.Errorf("%s: got %q, %v; want %q", c.what, got, err, c.want)
			}
		}
	}
	// Older Macintosh files end their lines with CR alone.
	r, l, err := Open(strings.NewReader("a,b\rc,d\r"), Wishes{})
	if got, rest := readAll(r); err != nil || rest != nil || !reflect.DeepEqual(got, [][]string{{"c", "d"}}) || len(l.Header) != 2 {
		t.Errorf("CR: %q, %q, %v, %v", l.Header, got, err, rest)
	}
}

func TestReaderStops(t *testing.T) {
	broken := errors.New("disk gone")
	for _, c := range []struct {
		src  io.Reader
		is   error
		says string
	}{
		{strings.NewReader("a,b\nc,\"d\ne,f\n"), ErrUnclosed, "line 2"},
		{io.MultiReader(strings.NewReader("a,b\na,\""), endless{}), ErrUnclosed, "after line 1"},
		{endless{}, ErrUnclosed, "longer than"},
		{io.MultiReader(strings.NewReader("a,b\n"), iotest.ErrReader(broken)), broken, "disk gone"},
	} {
		if _, err := readAll(NewReader(c.src, ',')); !errors.Is(err, c.is) || !strings.Contains(err.Error(), c.says) {
			t.Errorf("want %v and %q, got %v", c.is, c.says, err)
		}
	}
}

type endless struct{}

func (endless) Read(b []byte) (int, error) {
	for i := range b {
		b[i] = 'x'
	}
	return len(b), nil
}

// Whatever a writer of RFC 4180 wrote comes back, whichever way the bytes arrive.
func TestReaderReadsWhatWriterWrote(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cell := rapid.StringOf(rapid.SampledFrom([]rune("ab,\"; \né+-1")))
		want := rapid.SliceOfN(rapid.SliceOfN(cell, 2, 4), 1, 6).Draw(t, "rows")
		var b bytes.Buffer
		if err := csv.NewWriter(&b).WriteAll(want); err != nil {
			t.Fatal(err)
		}
		got, err := readAll(NewReader(iotest.HalfReader(bytes.NewReader(b.Bytes())), ','))
		if err != nil || !reflect.DeepEqual(got, want) {
			t.Fatalf("%q: got %q, %v; want %q", b.String(), got, err, want)
		}
	})
}
