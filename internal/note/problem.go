package note

import (
	"fmt"
	"io"
	"sort"
	"strings"
	"unicode"

	"golang.org/x/text/width"
)

// Problem is one thing in a note that cannot be stored as it stands, or, as a
// warning, one that should be looked at.
type Problem struct {
	Code    string // the kind of problem, such as "bare-hold"; no part of Error
	File    string
	Line    int // 1 = first; 0 = the note as a whole, or a flag
	Column  int // in characters of Text, 1 = first; 0 = the line as a whole
	Width   int // how many characters of Text are meant
	Text    string
	Message string
	Want    string   // what to type instead, in a sentence; may be empty
	Near    []string // known names close to the one typed
}

// Error returns file:line:column: message, without the parts that are unknown.
func (p Problem) Error() string {
	var b strings.Builder
	b.WriteString(p.File)
	if p.Line > 0 {
		fmt.Fprintf(&b, ":%d", p.Line)
		if p.Column > 0 {
			fmt.Fprintf(&b, ":%d", p.Column)
		}
	}
	b.WriteString(": ")
	b.WriteString(p.Message)
	return b.String()
}

// excerptWidth is how much of a long line Write shows, in columns.
const excerptWidth = 96

// Write prints the problem with the line as it was typed, carets under the part
// that is meant, and what to type instead.
func (p Problem) Write(w io.Writer) error {
	var b strings.Builder
	b.WriteString(p.Error())
	b.WriteByte('\n')
	if p.Column > 0 && p.Text != "" {
		line, from, to := excerpt([]rune(p.Text), p.Column-1, p.Column-1+max(p.Width, 1))
		b.WriteString("  " + string(line) + "\n")
		b.WriteString("  " + strings.Repeat(" ", displayWidth(line[:from])) +
			strings.Repeat("^", max(1, displayWidth(line[from:to]))) + "\n")
	}
	if len(p.Near) > 0 {
		writeWrapped(&b, "did you mean "+orList(p.Near)+"?")
	}
	writeWrapped(&b, p.Want)
	_, err := io.WriteString(w, b.String())
	return err
}

// wantWidth is how wide the lines of a hint are at most, in columns.
const wantWidth = 100

// writeWrapped writes a hint behind two blanks, on as many lines as it takes.
func writeWrapped(b *strings.Builder, text string) {
	at := 0
	for _, word := range strings.Fields(text) {
		w := displayWidth([]rune(word))
		switch {
		case at == 0:
			b.WriteString("  ")
			at = 2
		case at+1+w > wantWidth:
			b.WriteString("\n  ")
			at = 2
		default:
			b.WriteByte(' ')
			at++
		}
		b.WriteString(word)
		at += w
	}
	if at > 0 {
		b.WriteByte('\n')
	}
}

// inOrder sorts problems as a reader meets them: by line, and by column in it.
// What concerns the whole note keeps its place.
func inOrder(ps []Problem) {
	from := 0
	for i := 0; i <= len(ps); i++ {
		if i < len(ps) && ps[i].Line > 0 {
			continue
		}
		sort.SliceStable(ps[from:i], func(a, b int) bool {
			x, y := ps[from+a], ps[from+b]
			if x.Line != y.Line {
				return x.Line < y.Line
			}
			return x.Column < y.Column
		})
		from = i + 1
	}
}

// excerpt cuts a line to excerptWidth around the part from:to, makes it
// printable, and returns it with the part's new place.
func excerpt(line []rune, from, to int) (out []rune, newFrom, newTo int) {
	from = min(max(from, 0), len(line))
	to = min(max(to, from), len(line))
	lo, hi := 0, len(line)
	if displayWidth(line) > excerptWidth {
		if from > excerptWidth/2 {
			lo = from - excerptWidth/3
		}
		hi = lo
		for hi < len(line) && displayWidth(line[lo:hi+1]) <= excerptWidth {
			hi++
		}
		hi = max(hi, min(len(line), lo+1))
	}
	var pre []rune
	if lo > 0 {
		pre = []rune("... ")
	}
	out = append(out, pre...)
	for _, r := range line[lo:hi] {
		switch {
		case r == '\t':
			r = ' '
		case unicode.IsControl(r):
			r = unicode.ReplacementChar
		}
		out = append(out, r)
	}
	newFrom = min(len(pre)+from-lo, len(out))
	newTo = min(len(pre)+to-lo, len(out))
	if hi < len(line) {
		out = append(out, []rune(" ...")...)
	}
	return out, newFrom, max(newFrom, newTo)
}

// displayWidth is the number of terminal columns of a text: two for East Asian
// wide characters and emoji, none for combining marks and joiners. The ranges
// follow Unicode Standard Annex 11 (East Asian Width W and F), by block.
func displayWidth(rs []rune) int {
	n := 0
	for _, r := range rs {
		switch {
		case r < 0x300:
			if r != 0xAD {
				n++
			}
		case unicode.In(r, unicode.Mn, unicode.Me, unicode.Cf), r >= 0x1F3FB && r <= 0x1F3FF:
		case wide(r):
			n += 2
		default:
			n++
		}
	}
	return n
}

// wide reports two columns. Pictures that Annex 11 leaves to the terminal count as
// two.
func wide(r rune) bool {
	switch width.LookupRune(r).Kind() {
	case width.EastAsianWide, width.EastAsianFullwidth:
		return true
	}
	return r >= 0x1F300 && r <= 0x1FAFF
}

// orList joins words as people say a choice: "heel", "heel or here".
func orList(words []string) string {
	switch len(words) {
	case 0:
		return ""
	case 1:
		return words[0]
	}
	return strings.Join(words[:len(words)-1], ", ") + " or " + words[len(words)-1]
}
