package sheet

import (
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
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
		cells, err := r.Read()
		var bad *RowError
		switch {
		case err == io.EOF:
			return rows, nil
		case errors.As(err, &bad):
			rows = append(rows, []string{"!" + bad.Error()})
			continue
		case err != nil:
			return rows, err
		}
		row := make([]string, len(cells))
		for i, c := range cells {
			row[i] = string(c)
		}
		rows = append(rows, row)
	}
}

// The examples of RFC 4180 section 2, rules 1 to 7, word for word, CRLF written
// out. Source: RFC 4180, Common Format and MIME Type for CSV Files, October 2005.
func TestReaderRFC4180Examples(t *testing.T) {
	for _, c := range []struct {
		rule, text string
		want       [][]string
	}{
		{"1 each record on its own line", "aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n",
			[][]string{{"aaa", "bbb", "ccc"}, {"zzz", "yyy", "xxx"}}},
		{"2 the last record may have no line break", "aaa,bbb,ccc\r\nzzz,yyy,xxx",
			[][]string{{"aaa", "bbb", "ccc"}, {"zzz", "yyy", "xxx"}}},
		{"3 a header line", "field_name,field_name,field_name\r\naaa,bbb,ccc\r\nzzz,yyy,xxx\r\n",
			[][]string{{"field_name", "field_name", "field_name"}, {"aaa", "bbb", "ccc"}, {"zzz", "yyy", "xxx"}}},
		{"4 spaces are part of a field", "aaa, bbb ,ccc\r\n", [][]string{{"aaa", " bbb ", "ccc"}}},
		{"5 fields may be quoted", "\"aaa\",\"bbb\",\"ccc\"\r\nzzz,yyy,xxx\r\n",
			[][]string{{"aaa", "bbb", "ccc"}, {"zzz", "yyy", "xxx"}}},
		{"6 line breaks in quoted fields", "\"aaa\",\"b\r\nbb\",\"ccc\"\r\nzzz,yyy,xxx\r\n",
			[][]string{{"aaa", "b\r\nbb", "ccc"}, {"zzz", "yyy", "xxx"}}},
		{"7 a doubled quote", "\"aaa\",\"b\"\"bb\",\"ccc\"\r\n", [][]string{{"aaa", "b\"bb", "ccc"}}},
	} {
		for _, small := range []bool{false, true} {
			var src io.Reader = strings.NewReader(c.text)
			if small {
				src = iotest.OneByteReader(src)
			}
			got, err := readAll(NewReader(src, ','))
			if err != nil || !reflect.DeepEqual(got, c.want) {
				t.Errorf("rule %s: got %q, %v; want %q", c.rule, got, err, c.want)
			}
		}
	}
}

func TestReaderOtherLineEndsAndDelimiters(t *testing.T) {
	for _, c := range []struct {
		text  string
		delim byte
		want  [][]string
	}{
		{"a;b\nc;d\n", ';', [][]string{{"a", "b"}, {"c", "d"}}},
		{"a\tb\rc\td\r", '\t', [][]string{{"a", "b"}, {"c", "d"}}},
		{"a,b\n\n\r\nc,\n", ',', [][]string{{"a", "b"}, {"c", ""}}},
		{"\"a\",\nb,\"\"\n", ',', [][]string{{"a", ""}, {"b", ""}}},
		{",\n", ',', [][]string{{"", ""}}},
		{"\"x\"\r\n\"y\"\r", ',', [][]string{{"x"}, {"y"}}},
		{"", ',', nil},
	} {
		got, err := readAll(NewReader(strings.NewReader(c.text), c.delim))
		if err != nil || !reflect.DeepEqual(got, c.want) {
			t.Errorf("%q: got %q, %v; want %q", c.text, got, err, c.want)
		}
	}
}

func TestReaderNamesBadRowsAndGoesOn(t *testing.T) {
	got, err := readAll(NewReader(strings.NewReader("a,b\n5\" lead,x\n\"two\nlines\",\"a\"b,c\nd,e\n"), ','))
	want := [][]string{{"a", "b"},
		{"!line 2, byte 2: a quote inside a cell that does not begin with one: write the whole cell in quotes, and the quote twice"},
		{"!line 3, byte 16: text after the closing quote of a cell: a quote inside a cell is written twice"},
		{"d", "e"}}
	if err != nil || !reflect.DeepEqual(got, want) {
		t.Errorf("got %q, %v", got, err)
	}
}

func TestReaderUnclosedQuoteNamesItsLine(t *testing.T) {
	_, err := readAll(NewReader(strings.NewReader("a,b\nc,\"d\ne,f\n"), ','))
	if !errors.Is(err, ErrUnclosed) || !strings.Contains(err.Error(), "line 2, byte 3") {
		t.Errorf("got %v", err)
	}
	_, err = readAll(NewReader(io.MultiReader(strings.NewReader("a,\""), endless{}), ','))
	if !errors.Is(err, ErrUnclosed) {
		t.Errorf("endless cell: got %v", err)
	}
	if _, err = readAll(NewReader(endless{}, ',')); err == nil {
		t.Error("endless line: no error")
	}
}

type endless struct{}

func (endless) Read(b []byte) (int, error) {
	for i := range b {
		b[i] = 'x'
	}
	return len(b), nil
}

func TestReaderPassesOnTroubleReading(t *testing.T) {
	broken := errors.New("disk gone")
	_, err := readAll(NewReader(io.MultiReader(strings.NewReader("a,b\n"), iotest.ErrReader(broken)), ','))
	if !errors.Is(err, broken) {
		t.Errorf("got %v", err)
	}
}

// Whatever a writer of RFC 4180 wrote comes back, whichever way the bytes arrive.
func TestReaderReadsWhatWriterWrote(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		cell := rapid.StringOf(rapid.SampledFrom([]rune("ab,\"; \n\ré+-1")))
		want := rapid.SliceOfN(rapid.SliceOfN(cell, 2, 4), 1, 6).Draw(t, "rows")
		var b bytes.Buffer
		w := csv.NewWriter(&b)
		if err := w.WriteAll(want); err != nil {
			t.Fatal(err)
		}
		// encoding/csv writes CR LF inside a cell as it is, and quotes a cell with either.
		got, err := readAll(NewReader(iotest.HalfReader(bytes.NewReader(b.Bytes())), ','))
		if err != nil || !reflect.DeepEqual(got, want) {
			t.Fatalf("%q: got %q, %v; want %q", b.String(), got, err, want)
		}
	})
}

// FuzzReader holds the reader against encoding/csv of the standard library, a
// general reference: what that accepts must come out the same, however it is
// fed; nothing may panic or hang.
func FuzzReader(f *testing.F) {
	for _, s := range []string{"aaa,bbb\r\n", "\"b\r\nbb\",c", "\"a\"\"b\",", "a\"b,c\nd", "\"", "\"a\" ,b", ",\n\n,", "a\r\nb", "\"a\"\r", "\r\r\"", "a\rb"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		whole, wholeErr := readAll(NewReader(strings.NewReader(text), ','))
		if len(text) < 200 {
			pieces, piecesErr := readAll(NewReader(iotest.OneByteReader(strings.NewReader(text)), ','))
			if !reflect.DeepEqual(whole, pieces) || fmt.Sprint(wholeErr) != fmt.Sprint(piecesErr) {
				t.Fatalf("%q: whole %q %v, in pieces %q %v", text, whole, wholeErr, pieces, piecesErr)
			}
		}
		ref := csv.NewReader(strings.NewReader(text))
		ref.FieldsPerRecord = -1
		want, err := ref.ReadAll()
		if err != nil || strings.Contains(strings.ReplaceAll(text, "\r\n", "\n"), "\r") {
			return // malformed to the reference, or lone CRs, which it keeps
		}
		if wholeErr != nil {
			t.Fatalf("%q: %v, but the reference reads %q", text, wholeErr, want)
		}
		if len(whole) != len(want) {
			t.Fatalf("%q: got %q, reference %q", text, whole, want)
		}
		for i := range want {
			for j := range whole[i] {
				whole[i][j] = strings.ReplaceAll(whole[i][j], "\r\n", "\n") // the reference drops the CR
			}
			if !reflect.DeepEqual(whole[i], want[i]) {
				t.Fatalf("%q row %d: got %q, reference %q", text, i, whole[i], want[i])
			}
		}
	})
}

func BenchmarkReader(b *testing.B) {
	row := "Juniper,2026-03-04T09:10:00+01:00,Maren,back field,off,2,sit,voice,answered,1,1.8,,\n"
	text := strings.Repeat(row, 20000)
	b.SetBytes(int64(len(text)))
	b.ReportAllocs()
	for b.Loop() {
		r := NewReader(strings.NewReader(text), ',')
		for {
			if _, err := r.Read(); err != nil {
				break
			}
		}
	}
}
