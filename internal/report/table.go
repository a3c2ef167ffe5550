package report

import (
	"firstcue/internal/say"

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

	"firstcue/internal/analysis"
)

// Options are what a text, HTML or JSON output may be told. The zero value
// prints 100 columns without colour.
type Options struct {
	Width     int       // columns; 0 = 100. Below 40 is taken as 40
	Colour    bool      // SGR colours; never the only carrier of a meaning
	ASCII     bool      // charts in ASCII instead of braille and blocks
	Generated time.Time // printed as the time of making when not zero
	All       bool      // nightly: every line of what is to be looked at
	// Rules gives the counting rule in force for a cue of a dog, to say which
	// answers came too late to count; nil = nothing is said.
	Rules func(dog, cue string) analysis.Rule
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

var colourCode = sync.OnceValue(func() *regexp.Regexp { return regexp.MustCompile("\x1b\\[[0-9;]*m") })

// cells returns the columns that s takes on a terminal, colour not counted. It
// adds up characters as tablewriter does: an emoji joined from two counts as
// both, which is how many terminals show it.
func cells(s string) int {
	if strings.Contains(s, "\x1b") {
		s = colourCode().ReplaceAllString(s, "")
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
// brought to it by wrapping text columns, the last one first. Where that would
// break words or numbers, and below 70 columns where more than the last column
// would have to wrap, each row is a block of its own, a line for each cell.
func Table(w io.Writer, headers []string, rows [][]string, align []Align, o Options) error {
	return tableOver(w, headers, rows, align, nil, o)
}

// tableOver writes a table with a line of its own below each row, across all
// columns; below is nil for none, and an empty text for say.None under that row.
func tableOver(w io.Writer, headers []string, rows [][]string, align []Align, below []string, o Options) error {
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
	glued := make([][]string, len(rows))
	for i, r := range rows {
		glued[i] = make([]string, columns)
		for j, c := range r {
			glued[i][j] = glue.Replace(c)
		}
	}
	rows = glued
	if asRecords(headers, rows, side, o.width()) {
		return records(w, headers, rows, below, o)
	}
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
			line[i] = strings.Join(foldColoured(c, widths[i]), "\n")
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
	text := trimLines(unglue(out.String()))
	if below != nil {
		height := func(row []string) int {
			n := 0
			for i, c := range row {
				n = max(n, len(wrapLines(c, widths[i])))
			}
			return n
		}
		lines := strings.SplitAfter(text, "\n")
		at := height(headers)
		b := strings.Join(lines[:at], "")
		for i, r := range rows {
			n := height(r)
			b += strings.Join(lines[at:at+n], "")
			at += n
			if below[i] != "" {
				for _, l := range wrapLines(below[i], o.width()-4) {
					b += "    " + l + "\n"
				}
			}
		}
		text = b
	}
	_, err := io.WriteString(w, text)
	return err
}

const (
	// recordsBelow is the width under which a table that has to wrap more than
	// its last column is written row by row.
	recordsBelow = 70
	// longWord is how long a word may be before it is broken rather than
	// allowed to decide the form of a whole table.
	longWord = 24
	// weighed is how many rows decide the widths: the lines of every row of a
	// long list would take longer to count than to print.
	weighed = 24
	// readable is the least width in which a text still reads as one.
	readable = 24
)

// asRecords reports that a table does not stand readably side by side.
func asRecords(headers []string, rows [][]string, side []Align, most int) bool {
	need, least := columnNeeds(headers, rows)
	n := len(need)
	gaps := len(columnGap) * (n - 1)
	all, unbroken := gaps, gaps
	for i := range need {
		all += need[i]
		if side[i] == Left {
			unbroken += min(least[i], longWord)
		} else {
			unbroken += need[i]
		}
	}
	if all <= most {
		return false
	}
	if unbroken > most {
		return true
	}
	last := all - need[n-1] + min(need[n-1], max(min(least[n-1], longWord), readable))
	return most < recordsBelow && last > most
}

// records writes each row as a block: its first cell, and under it a line a
// cell, each behind the header of its column. A cell with nothing in it has no
// line.
func records(w io.Writer, headers []string, rows [][]string, below []string, o Options) error {
	var b strings.Builder
	for n, r := range rows {
		indent := 0
		for i, c := range r {
			if c = strings.TrimSpace(c); c == "" || c == say.None {
				continue
			}
			if h := strings.ReplaceAll(headers[i], "\n", " "); h != "" {
				c = h + ": " + c
			}
			paragraph(&b, c, indent, o.width())
			indent = 2
		}
		if below != nil && below[n] != "" {
			paragraph(&b, below[n], 2, o.width())
		}
		if indent > 0 && n < len(rows)-1 {
			b.WriteString("\n")
		}
	}
	_, err := io.WriteString(w, trimLines(unglue(b.String())))
	return err
}

// glue holds a verdict together: "not" at the end of one line and "ready" alone
// on the next would be read as its opposite.
var glue = strings.NewReplacer("not ready", "not\u00a0ready", "not proven", "not\u00a0proven", "on hold", "on\u00a0hold")

func unglue(s string) string { return strings.ReplaceAll(s, "\u00a0", " ") }

// paragraph writes a text indented, what is wrapped of it two columns further in.
func paragraph(b *strings.Builder, s string, indent, width int) {
	for i, part := range strings.Split(s, "\n") {
		room := width - indent - 2
		if i == 0 && cells(part) <= room+2 {
			room += 2
		}
		for j, l := range wrapLines(part, room) {
			pad := indent
			if i > 0 || j > 0 {
				pad += 2
			}
			b.WriteString(strings.Repeat(" ", pad) + l + "\n")
		}
	}
}

// columnWidths shares out the width: every column what it needs, and where that
// is too much, text columns give way where that costs the fewest lines for the
// room it makes, none below its longest word so long as that is no longer than
// longWord.
func columnWidths(headers []string, rows [][]string, side []Align, most int) []int {
	n := len(headers)
	need, least := columnNeeds(headers, rows)
	total := len(columnGap) * (n - 1)
	for i := range need {
		total += need[i]
	}
	lines := make([]map[int][]int, n) // per column and width, the lines of each row
	for i := range lines {
		lines[i] = map[int][]int{}
	}
	heights := func(i, width int) []int {
		h, ok := lines[i][width]
		if !ok {
			h = []int{len(wrapLines(headers[i], width))}
			for _, r := range rows[:min(len(rows), weighed)] {
				h = append(h, len(wrapLines(r[i], width)))
			}
			lines[i][width] = h
		}
		return h
	}
	height := func(col, width int) int {
		sum := 0
		for r := range heights(0, need[0]) {
			most := 0
			for i := range need {
				w := need[i]
				if i == col {
					w = width
				}
				most = max(most, heights(i, w)[r])
			}
			sum += most
		}
		return sum
	}
	for total > most {
		col, width, price := -1, 0, 0.0
		now := height(-1, 0)
		for i := n - 1; i >= 0; i-- {
			if side[i] != Left {
				continue
			}
			for w := need[i] - 1; w >= min(least[i], longWord); w-- {
				gain := min(need[i]-w, total-most)
				if p := float64(height(i, w)-now) / float64(gain); col < 0 || p < price {
					col, width, price = i, w, p
				}
				if need[i]-w >= total-most {
					break
				}
			}
		}
		if col < 0 {
			break
		}
		total -= need[col] - width
		need[col] = width
	}
	for i := n - 1; i >= 0 && total > most; i-- {
		if give := min(total-most, need[i]-4); give > 0 {
			need[i] -= give
			total -= give
		}
	}
	return need
}

// columnNeeds measures the columns: the longest line of each, and its longest word.
func columnNeeds(headers []string, rows [][]string) (need, least []int) {
	need, least = make([]int, len(headers)), make([]int, len(headers))
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
	return need, least
}

// foldColoured wraps a cell; one in colour has its colour on every line, or it
// would run on into the columns beside it.
func foldColoured(s string, width int) []string {
	codes := colourCode().FindAllString(s, -1)
	lines := wrapLines(s, width)
	if len(codes) < 2 || len(lines) == 1 {
		return lines
	}
	lines = wrapLines(colourCode().ReplaceAllString(s, ""), width)
	on := strings.Join(codes[:len(codes)-1], "")
	for i, l := range lines {
		lines[i] = on + l + sgrReset
	}
	return lines
}

// Wrap breaks one line of text between its words: the first piece is at most
// width columns, the others leave indent columns free before them. A line that
// fits comes back as it is, with its blanks.
func Wrap(line string, width, indent int) []string {
	if cells(line) <= width {
		return []string{line}
	}
	text := strings.TrimLeft(line, " ")
	lead := line[:len(line)-len(text)]
	first := wrapLines(text, max(1, width-len(lead)))
	if len(first) == 0 {
		return []string{line}
	}
	rest := strings.TrimLeft(text[min(len(text), len(first[0])):], " ")
	out := []string{lead + first[0]}
	if rest != "" {
		out = append(out, wrapLines(rest, max(1, width-indent))...)
	}
	return out
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

// shorten is truncate with a sign that something was left out.
func (o Options) shorten(s string, width int) string {
	more := "…"
	if o.ASCII {
		more = "..."
	}
	if cells(s) <= width {
		return s
	}
	if width <= 2*cells(more) {
		return truncate(s, width)
	}
	return strings.TrimRight(truncate(s, width-cells(more)), " ,;:.") + more
}

// whole shortens a list to the entries that fit and how many more there are.
func (o Options) whole(list, between string, width int) string {
	entries := strings.Split(list, between)
	for n := len(entries); n > 0; n-- {
		s := strings.Join(entries[:n], between)
		if n < len(entries) && between == ", " {
			s += fmt.Sprintf(" +%d", len(entries)-n)
		}
		if cells(s) <= width {
			return s
		}
	}
	return o.shorten(entries[0], width)
}
