package sheet

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"unicode/utf16"
	"unicode/utf8"
)

// Encoding is how a file's bytes stand for letters.
type Encoding string

// Encodings. UTF-16 is known by its byte order mark; Windows-1252 (what older
// Western spreadsheets write) has no mark and is read only when asked for,
// because nearly every file can be read as it, rightly or wrongly.
const (
	UTF8        Encoding = "utf-8"
	UTF16LE     Encoding = "utf-16le"
	UTF16BE     Encoding = "utf-16be"
	Windows1252 Encoding = "windows-1252"
)

// Decode returns src as UTF-8 without a byte order mark, the encoding and
// whether the mark was there. A mark wins over asked, which is "" for "not
// said" and then means UTF-8. Bytes that are not UTF-8 are passed through: the
// rows they stand in are refused one by one, with their line.
func Decode(src io.Reader, asked Encoding) (text io.Reader, found Encoding, mark bool, err error) {
	b := bufio.NewReaderSize(src, 64<<10)
	head, err := b.Peek(512)
	if err != nil && err != io.EOF {
		return nil, "", false, err
	}
	switch {
	case bytes.HasPrefix(head, []byte{0xEF, 0xBB, 0xBF}):
		b.Discard(3)
		return b, UTF8, true, nil
	case bytes.HasPrefix(head, []byte{0xFF, 0xFE}):
		b.Discard(2)
		return &transcoder{src: b, next: utf16Rune(b, true)}, UTF16LE, true, nil
	case bytes.HasPrefix(head, []byte{0xFE, 0xFF}):
		b.Discard(2)
		return &transcoder{src: b, next: utf16Rune(b, false)}, UTF16BE, true, nil
	case bytes.HasPrefix(head, []byte("PK\x03\x04")):
		return nil, "", false, fmt.Errorf("this is a workbook, not its text; open it in the spreadsheet and choose \"save as CSV\"")
	}
	switch asked {
	case "", UTF8:
		if bytes.IndexByte(head, 0) >= 0 {
			return nil, "", false, fmt.Errorf("this is not a text file (there is a zero byte in it); in the spreadsheet choose \"save as CSV\"")
		}
		return b, UTF8, false, nil
	case UTF16LE, UTF16BE:
		return &transcoder{src: b, next: utf16Rune(b, asked == UTF16LE)}, asked, false, nil
	case Windows1252:
		return &transcoder{src: b, next: windowsRune(b)}, asked, false, nil
	}
	return nil, "", false, fmt.Errorf("encoding %q is not known: utf-8, utf-16le, utf-16be or windows-1252", asked)
}

// transcoder writes the runes of next as UTF-8.
type transcoder struct {
	src  *bufio.Reader
	next func() (rune, error)
	rest []byte // bytes of a rune that did not fit
	buf  [utf8.UTFMax]byte
}

func (t *transcoder) Read(p []byte) (int, error) {
	n := 0
	for {
		k := copy(p[n:], t.rest)
		n, t.rest = n+k, t.rest[k:]
		// Fill the buffer from what is at hand; wait for more only when empty.
		if n == len(p) || n > 0 && t.src.Buffered() == 0 {
			return n, nil
		}
		r, err := t.next()
		if err != nil {
			if n > 0 && err == io.EOF {
				return n, nil
			}
			return n, err
		}
		t.rest = utf8.AppendRune(t.buf[:0], r)
	}
}

// utf16Rune reads UTF-16. A lone half of a pair or of a unit is an error: a
// name would be kept with a hole in it.
func utf16Rune(b *bufio.Reader, little bool) func() (rune, error) {
	at := int64(0)
	unit := func() (rune, error) {
		x, err := b.ReadByte()
		if err != nil {
			return 0, err
		}
		y, err := b.ReadByte()
		if err == io.EOF {
			return 0, fmt.Errorf("the UTF-16 text ends in the middle of a letter (byte %d): the file is cut short", at)
		}
		at += 2
		if little {
			x, y = y, x
		}
		return rune(x)<<8 | rune(y), err
	}
	return func() (rune, error) {
		r, err := unit()
		if err != nil || !utf16.IsSurrogate(r) {
			return r, err
		}
		low, err := unit()
		if err == io.EOF {
			err = nil
		}
		if full := utf16.DecodeRune(r, low); err == nil && full != utf8.RuneError {
			return full, nil
		}
		if err == nil {
			err = fmt.Errorf("half a letter in the UTF-16 text at byte %d: the file is damaged", at)
		}
		return 0, err
	}
}

// windows1252 holds the letters of bytes 0x80 to 0x9F; the others are the code
// points of the same number. Five bytes stand for nothing and are kept as the
// control characters the web's reading of this table gives them.
// Source: WHATWG Encoding Standard, index windows-1252.
var windows1252 = [32]rune{
	0x20AC, 0x81, 0x201A, 0x0192, 0x201E, 0x2026, 0x2020, 0x2021, 0x02C6, 0x2030, 0x0160, 0x2039, 0x0152, 0x8D, 0x017D, 0x8F,
	0x90, 0x2018, 0x2019, 0x201C, 0x201D, 0x2022, 0x2013, 0x2014, 0x02DC, 0x2122, 0x0161, 0x203A, 0x0153, 0x9D, 0x017E, 0x0178,
}

func windowsRune(b *bufio.Reader) func() (rune, error) {
	return func() (rune, error) {
		x, err := b.ReadByte()
		if x >= 0x80 && x < 0xA0 {
			return windows1252[x-0x80], err
		}
		return rune(x), err
	}
}
