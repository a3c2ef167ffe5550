package note

import (
	"bytes"
	"fmt"
	"math"
	"strings"
	"unicode"
	"unicode/utf16"
	"unicode/utf8"

	"golang.org/x/text/unicode/norm"
)

// line is one line of a note: as typed, and cleaned of what phones and
// dictation do to text, with a map from the cleaned characters to the typed.
type line struct {
	no    int
	typed []rune
	text  []rune
	from  []int // index in typed where text[i] begins
	to    []int // index in typed after text[i]
	// answer is a picture at the end that may have been meant as an answer.
	answer string
}

func newLine(no int, s string) line {
	l := line{no: no, typed: []rune(s)}
	l.text, l.from, l.to = cleanRunes(l.typed)
	return l
}

// span gives the typed column (1 = first) and width of text[from:to].
func (l line) span(from, to int) (column, width int) {
	if len(l.text) == 0 {
		return 1, 1
	}
	if from >= len(l.text) {
		return l.to[len(l.to)-1] + 1, 1
	}
	to = min(max(to, from+1), len(l.text))
	return l.from[from] + 1, l.to[to-1] - l.from[from]
}

// as is text[from:to] the way it was typed.
func (l line) as(from, to int) string {
	if from >= to || to > len(l.text) {
		return ""
	}
	return string(l.typed[l.from[from]:l.to[to-1]])
}

// typedFrom is the typed text from cleaned character i on.
func (l line) typedFrom(i int) string {
	if i >= len(l.text) {
		return ""
	}
	return string(l.typed[l.from[i]:])
}

// decode turns the bytes of a note into text: UTF-8, or UTF-16 if a byte order
// mark says so. No encoding is guessed.
func decode(b []byte) (string, error) {
	switch {
	case bytes.HasPrefix(b, []byte{0xEF, 0xBB, 0xBF}):
		return string(b[3:]), nil
	case bytes.HasPrefix(b, []byte{0xFF, 0xFE}), bytes.HasPrefix(b, []byte{0xFE, 0xFF}):
		big := b[0] == 0xFE
		b = b[2:]
		if len(b)%2 != 0 {
			return "", fmt.Errorf("this is UTF-16 text with half a character at the end: save it again as UTF-8")
		}
		u := make([]uint16, len(b)/2)
		for i := range u {
			if big {
				u[i] = uint16(b[2*i])<<8 | uint16(b[2*i+1])
			} else {
				u[i] = uint16(b[2*i+1])<<8 | uint16(b[2*i])
			}
		}
		return string(utf16.Decode(u)), nil
	}
	return string(b), nil
}

// splitLines cuts text at every line end that a phone, a Mac of any age,
// Windows or a web page may have put there.
func splitLines(s string) []string {
	s = strings.NewReplacer("\r\n", "\n", "\r", "\n", "\u0085", "\n", "\u2028", "\n", "\u2029", "\n").Replace(s)
	lines := strings.Split(s, "\n")
	if n := len(lines); n > 0 && lines[n-1] == "" {
		lines = lines[:n-1]
	}
	return lines
}

// badByte finds the first place of a line that is not UTF-8, and the line with
// the replacement character there. Column 0 = all is well.
func badByte(s string) (column int, text string) {
	if utf8.ValidString(s) {
		return 0, s
	}
	col := 0
	for i, r := range s {
		col++
		if r == utf8.RuneError {
			if _, n := utf8.DecodeRuneInString(s[i:]); n == 1 {
				break
			}
		}
	}
	return col, strings.ToValidUTF8(s, string(utf8.RuneError))
}

// controlRune finds the first control character that no text has.
func controlRune(rs []rune) int {
	for i, r := range rs {
		if unicode.IsControl(r) && r != '\t' {
			return i
		}
	}
	return -1
}

// single maps characters that stand for one plain character.
var single = map[rune]rune{
	'\u2212': '-', '\uFE58': '-', '\uFE63': '-', '\u2796': '-', '\u2795': '+', '\uFE62': '+',
	'\u2018': '\'', '\u2019': '\'', '\u201A': '\'', '\u201B': '\'', '\u2032': '\'', '`': '\'', '\u00B4': '\'',
	'\u201C': '"', '\u201D': '"', '\u201E': '"', '\u201F': '"', '\u2033': '"', '\u00AB': '"', '\u00BB': '"',
	'\u00D7': 'x', '\u2715': 'x', '\u066B': '.', '\u066C': ',', '\u060C': ',', '\u3001': ',', '\u3002': '.',
	'\u2044': '/', '\u2215': '/',
}

// fraction maps vulgar fractions to what follows the point.
var fraction = map[rune]string{
	'\u00BD': "5", '\u00BC': "25", '\u00BE': "75", '\u2153': "333", '\u2154': "667",
	'\u2155': "2", '\u2156': "4", '\u2157': "6", '\u2158': "8", '\u215B': "125", '\u215C': "375", '\u215D': "625", '\u215E': "875",
}

// cleanRunes undoes what phones, dictation and copying do to plain text: odd
// spaces, invisible characters, typographic dashes and quotes, full-width and
// other digits, fractions, letters apart from their accents. from and to give
// for every character of the result where in typed it was. Cleaning twice
// changes nothing more. It is not Unicode's NFKC, which turns 1½ into 11/2.
func cleanRunes(typed []rune) (text []rune, from, to []int) {
	put := func(i int, rs ...rune) {
		for _, r := range rs {
			text = append(text, r)
			from = append(from, i)
			to = append(to, i+1)
		}
	}
	for i, r := range typed {
		switch {
		case r == '\t' || r != ' ' && unicode.IsSpace(r):
			put(i, ' ')
		case invisible(r):
			if n := len(to); n > 0 {
				to[n-1] = i + 1
			}
		case r >= 0x2010 && r <= 0x2015:
			put(i, '-')
		case r == 0x2026:
			put(i, '.', '.', '.')
		case r >= 0xFF01 && r <= 0xFF5E:
			put(i, r-0xFEE0)
		case r > 0x7F && unicode.IsDigit(r):
			put(i, '0'+digitValue(r))
		case fraction[r] != "":
			n := len(text)
			if n > 1 && text[n-1] == ' ' && asciiDigit(text[n-2]) {
				text, from, to = text[:n-1], from[:n-1], to[:n-1] // 1 ½ is 1.5
				n--
			}
			if n == 0 || !asciiDigit(text[n-1]) {
				put(i, '0')
			}
			put(i, []rune("."+fraction[r])...)
		default:
			if p, ok := single[r]; ok {
				put(i, p)
				continue
			}
			if n := len(text); n > 0 && unicode.Is(unicode.Mn, r) {
				if c := []rune(norm.NFC.String(string([]rune{text[n-1], r}))); len(c) == 1 {
					text[n-1], to[n-1] = c[0], i+1
					continue
				}
			}
			put(i, r)
		}
	}
	return text, from, to
}

func asciiDigit(r rune) bool { return r >= '0' && r <= '9' }

// invisible reports characters that take no room and mean nothing here: joiners,
// direction marks, soft hyphens, variation selectors.
func invisible(r rune) bool {
	switch {
	case r == 0xAD, r >= 0x200B && r <= 0x200F, r >= 0x202A && r <= 0x202E, r >= 0x2060 && r <= 0x2069,
		r == 0xFEFF, r >= 0xFE00 && r <= 0xFE0F:
		return true
	}
	return false
}

// digitValue is the value of a decimal digit of any script. The ranges of the
// category Nd are whole sets of ten.
func digitValue(r rune) rune {
	for _, t := range unicode.Nd.R16 {
		if rune(t.Lo) <= r && r <= rune(t.Hi) {
			return (r - rune(t.Lo)) % 10
		}
	}
	for _, t := range unicode.Nd.R32 {
		if rune(t.Lo) <= r && r <= rune(t.Hi) {
			return (r - rune(t.Lo)) % 10
		}
	}
	return 0
}

// pictures reports emoji and what belongs to them.
func picture(r rune) bool {
	return unicode.Is(unicode.So, r) || r >= 0x1F3FB && r <= 0x1F3FF || r >= 0x1F1E6 && r <= 0x1F1FF
}

// Pictures that are answers, in a line of their own kind. A thumb may be
// decoration.
const (
	yesPictures    = "\u2705\u2713\u2714\u2611"
	noPictures     = "\u274C\u274E\u2717\u2718\u2716"
	answerPictures = yesPictures + noPictures
	thumbUp        = "\U0001F44D"
	thumbDown      = "\U0001F44E"
)

// cut shortens the line to its first n cleaned characters.
func (l *line) cut(n int) {
	l.text, l.from, l.to = l.text[:n], l.from[:n], l.to[:n]
}

// comment returns where a comment begins, or the length of the text. A # glued
// to what stands before it, or to a number, begins none.
func comment(text []rune) int {
	for i, r := range text {
		if r == '#' && (i == 0 || text[i-1] == ' ') && !(i+1 < len(text) && asciiDigit(text[i+1])) {
			return i
		}
	}
	return len(text)
}

// undecorate cuts a comment, and what a phone puts at the end of a sentence:
// full stops, exclamation marks, commas, emoji. A thumb or a tick is remembered.
func (l *line) undecorate() {
	l.cut(comment(l.text))
	n := len(l.text)
	for n > 0 {
		r := l.text[n-1]
		if strings.ContainsRune(answerPictures, r) {
			break
		}
		if picture(r) {
			l.answer = string(r) + l.answer
		} else if !strings.ContainsRune(" .!,", r) {
			break
		}
		n--
	}
	l.cut(n)
}

// skipBullet returns where the text begins after a list bullet and blanks.
// Hyphens and numbers are left to the caller, who knows what follows.
func skipBullet(text []rune) int {
	i := 0
	for i < len(text) && (text[i] == ' ' || strings.ContainsRune("\u2022\u2023\u25E6\u25AA\u25CF\u25CB\u2043\u00B7*", text[i])) {
		i++
	}
	return i
}

// round keeps milliseconds, so that 6:01.6 - 6:00.2 is 1.4.
func round(v float64) float64 { return math.Round(v*1000) / 1000 }
