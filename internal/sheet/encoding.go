package sheet

import (
	"bufio"
	"bytes"
	"errors"
	"fmt"
	"io"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
	"golang.org/x/text/transform"
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

// marks are the byte order marks.
var marks = []struct {
	bytes string
	of    Encoding
}{{"\xEF\xBB\xBF", UTF8}, {"\xFF\xFE", UTF16LE}, {"\xFE\xFF", UTF16BE}}

// Decode returns src as UTF-8 without a byte order mark, the encoding and
// whether the mark was there. A mark wins over asked, which is "" for "not
// said" and then means UTF-8. Damaged letters are passed through: the rows they
// stand in are refused one by one, with their line.
func Decode(src io.Reader, asked Encoding) (text io.Reader, found Encoding, mark bool, err error) {
	b := bufio.NewReaderSize(src, 64<<10)
	head, err := b.Peek(512)
	if err != nil && err != io.EOF {
		return nil, "", false, err
	}
	if bytes.HasPrefix(head, []byte("PK\x03\x04")) {
		return nil, "", false,
			errors.New(`this is a workbook, not its text; open it in the spreadsheet and choose "save as CSV"`)
	}
	found = asked
	for _, m := range marks {
		if bytes.HasPrefix(head, []byte(m.bytes)) {
			b.Discard(len(m.bytes))
			found, mark = m.of, true
			break
		}
	}
	switch found {
	case "", UTF8:
		if bytes.IndexByte(head, 0) >= 0 {
			return nil, "", false,
				errors.New(`this is not a text file (there is a zero byte in it); in the spreadsheet choose "save as CSV"`)
		}
		return b, UTF8, mark, nil
	case UTF16LE:
		text = transform.NewReader(b, unicode.UTF16(unicode.LittleEndian, unicode.IgnoreBOM).NewDecoder())
	case UTF16BE:
		text = transform.NewReader(b, unicode.UTF16(unicode.BigEndian, unicode.IgnoreBOM).NewDecoder())
	case Windows1252:
		text = transform.NewReader(b, charmap.Windows1252.NewDecoder())
	default:
		return nil, "", false,
			fmt.Errorf("encoding %q is not known: utf-8, utf-16le, utf-16be or windows-1252", asked)
	}
	return text, found, mark, nil
}
