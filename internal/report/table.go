package report

import (
	"bytes"
	"fmt"
	"io"
	"regexp"
	"strings"
	"sync"
	"time"

	"github.com/clipperhouse/displaywidth"
	"github.com/olekukonko/tablewriter"
	"github.com/olekukonko/tablewriter/pkg/twwidth"
	"github.com/olekukonko/tablewriter/renderer"
	"github.com/olekukonko/tablewriter/tw"
)

// Options are what a text, HTML or JSON output may be told. The zero value
// prints 100 columns without colour.
type Options struct {
	Width     int       // columns; 0 = 100. Below 40 is taken as 40
	Colour    bool      // SGR colours; never the only carrier of a meaning
	ASCII     bool      // charts in ASCII instead of braille and blocks
	Generated time.Time // printed as the time of making when not zero
}

const (
	fullWidth  = 100
	leastWidth = 40
)

func (o Options) width() int {
	switch {
	case o.Width == 0:
		return fullWidth
	case o.Width < leastWidth:
		return leastWidth
	}
	return o.Width
}

// prose is the width of running text: lines longer than 100 columns tire the eye.
func (o Options) prose() int { return min(o.width(), fullWidth) }

// Align says to which side the cells of a column are set.
type Align int

// The alignments. Numbers stand right, words left.
const (
	Left Align = iota
	Right
)

const columnGap = "  "

var colourCode = regexp.MustCompile("\x1b\\[[0-9;]*m")

// cells returns the columns that s takes on a terminal, colour not counted. It
// adds up characters as tablewriter does: an emoji joined from two counts as
// both, which is how many terminals show it.
func cells(s string) int {
	if strings.Contains(s, "\x1b") {
		s = colourCode.ReplaceAllString(s, "")
	}
	n := 0
	for _, r := range s {
		n += displaywidth.Rune(r)
	}
	return n
}

// narrow pins the width of East Asian "ambiguous" characters: the library reads
// it from the environment, and the bytes of a report must not depend on that.
var narrow = sync.OnceFunc(func() { twwidth.SetEastAsian(false) })

// Table writes rows under headers without borders, columns two blanks apart. A
// header or row of another length than the first row is an error, not a table
// with a hole. Lines of a cell are kept; a table wider than the width of o is
// brought to it by wrapping text columns, the last one first.
func Table(w io.Writer, headers []string, rows [][]string, align []Align, o Options) error {
	narrow()
	columns := len(headers)
	for i, r := range rows {
		if len(r) != columns {
			return fmt.Errorf("row %d of the table has %d cells under %d headers", i+1, len(r), columns)
		}
	}
	if columns == 0 {
		return nil
	}
	side := make([]Align, columns)
	copy(side, align)
	widths := columnWidths(headers, rows, side, o.width())

	var out bytes.Buffer
	sides := make([]tw.Align, columns)
	for i, a := range side {
		sides[i] = tw.AlignLeft
		if a == Right {
			sides[i] = tw.AlignRight
		}
	}
	t := tablewriter.NewTable(&out,
		tablewriter.WithRenderer(renderer.NewBlueprint()),
		tablewriter.WithRendition(tw.Rendition{
			Borders: tw.BorderNone,
			Settings: tw.Settings{
				Separators: tw.SeparatorsNone,
				Lines:      tw.LinesNone,
			},
		}),
		tablewriter.WithHeaderAutoFormat(tw.Off),
		tablewriter.WithHeaderAutoWrap(tw.WrapNone),
		tablewriter.WithRowAutoWrap(tw.WrapNone),
		tablewriter.WithRowAutoFormat(tw.Off),
		tablewriter.WithTrimSpace(tw.Off),
		tablewriter.WithTrimLine(tw.Off),
		tablewriter.WithHeaderAlignmentConfig(tw.CellAlignment{Global: tw.AlignLeft, PerColumn: sides}),
		tablewriter.WithRowAlignmentConfig(tw.CellAlignment{Global: tw.AlignLeft, PerColumn: sides}),
		tablewriter.WithPadding(tw.Padding{Left: "", Right: columnGap, Overwrite: true}),
	)
	fold := func(row []string) []any {
		line := make([]any, columns)
		for i, c := range row {
			line[i] = strings.Join(wrapLines(c, widths[i]), "\n")
		}
		return line
	}
	t.Header(fold(headers)...)
	for _, r := range rows {
		if err := t.Append(fold(r)...); err != nil {
			return err
		}
	}
	if err := t.Render(); err != nil {
		return err
	}
	_, err := io.WriteString(w, trimLines(out.String()))
	return err
}

// columnWidths shares out the width: every column what it needs, and where that
// is too much, text columns give way, the last first, none below its longest
// word or 8 columns if words are longer than that.
func columnWidths(headers []string, rows [][]string, side []Align, most int) []int {
	n := len(headers)
	need, least := make([]int, n), make([]int, n)
	measure := func(row []string) {
		for i, c := range row {
			for _, line := range strings.Split(c, "\n") {
				need[i] = max(need[i], cells(line))
				for _, word := range words(line) {
					least[i] = max(least[i], cells(word))
				}
			}
		}
	}
	measure(headers)
	for _, r := range rows {
		measure(r)
	}
	total := len(columnGap) * (n - 1)
	for i := range need {
		total += need[i]
	}
	shrink := func(i, floor int) {
		if give := min(total-most, need[i]-floor); give > 0 {
			need[i] -= give
			total -= give
		}
	}
	for i := n - 1; i >= 0 && total > most; i-- {
		if side[i] == Left {
			shrink(i, max(least[i], min(need[i], 24)))
		}
	}
	for i := n - 1; i >= 0 && total > most; i-- {
		if side[i] == Left {
			shrink(i, max(min(least[i], 12), 8))
		}
	}
	for i := n - 1; i >= 0 && total > most; i-- {
		shrink(i, 4)
	}
	return need
}

// wrapLines breaks a text into lines of at most width columns at its blanks, and
// inside a word only where the word alone is wider. Line breaks in s stay.
func wrapLines(s string, width int) []string {
	var lines []string
	for _, part := range strings.Split(s, "\n") {
		if cells(part) <= width {
			lines = append(lines, strings.TrimRight(part, " "))
			continue
		}
		line, used := "", 0
		for _, word := range words(part) {
			for {
				w := cells(word)
				gap := 0
				if used > 0 {
					gap = 1
				}
				if used+gap+w <= width {
					if gap > 0 {
						line += " "
					}
					line += word
					used += gap + w
					break
				}
				if used > 0 {
					lines = append(lines, line)
					line, used = "", 0
					continue
				}
				head := truncate(word, width)
				if head == "" { // one character wider than the column
					head = string([]rune(word)[:1])
				}
				lines = append(lines, head)
				word = word[len(head):]
				if word == "" {
					break
				}
			}
		}
		if used > 0 {
			lines = append(lines, line)
		}
	}
	return lines
}

// words splits a line at its single blanks. Two blanks together hold what they
// join on one line: "18/20  90%" is read as one figure.
func words(line string) []string {
	var out []string
	start := 0
	for i := 0; i < len(line); i++ {
		single := line[i] == ' ' && (i == 0 || line[i-1] != ' ') && (i+1 == len(line) || line[i+1] != ' ')
		if single {
			if w := strings.TrimSpace(line[start:i]); w != "" {
				out = append(out, w)
			}
			start = i + 1
		}
	}
	if w := strings.TrimSpace(line[start:]); w != "" {
		out = append(out, w)
	}
	return out
}

// trimLines takes the blanks from the end of every line.
func trimLines(s string) string {
	lines := strings.Split(s, "\n")
	for i, l := range lines {
		lines[i] = strings.TrimRight(l, " ")
	}
	return strings.Join(lines, "\n")
}

// truncate cuts s to at most width columns, never inside what is read as one
// character.
func truncate(s string, width int) string {
	var b strings.Builder
	for g := displaywidth.StringGraphemes(s); g.Next(); {
		if width -= cells(g.Value()); width < 0 {
			break
		}
		b.WriteString(g.Value())
	}
	return b.String()
}
