package report

import (
	"bytes"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"firstcue/internal/analysis"
)

// page is a document before it has a format. Text, Markdown and HTML are made
// from one page, so that the mail, the screen and the print say the same thing.
// All strings are free of control characters: plain has been over them.
type page struct {
	title   string // the dog's name, or what the page is
	aside   string // the day, beside the title
	verdict analysis.Verdict
	banner  string // the verdict in words, "" = none
	tail    string // what stands beside the banner
	blocks  []block
	foot    string
	nav     bool // HTML: a list of the sections at the top
}

// block is one of heading, para, bullets, grid or drawing.
type block any

type heading struct {
	text    string
	verdict analysis.Verdict // printed after the text, "" = none
	level   int              // 2 or 3; 0 = 2
}

type para string

// bullets is a list; quiet ones are printed small where a format can.
type bullets []string

// terms is a list of short labels with a sentence each.
type terms [][2]string

type column struct {
	name string
	side Align
}

type grid struct {
	caption string // in formats that have one; the text report has headings
	columns []column
	rows    [][]string
	verdict int // column that holds verdicts, -1 = none
	rowHead bool
	airy    bool // text: a blank line between rows of several lines
	keep    bool // HTML: narrow enough to stay a table on a phone
}

// drawing is a chart; the text and Markdown reports leave it out, because a
// table next to it carries the same figures.
type drawing struct{ svg string }

func (g grid) headers() []string {
	h := make([]string, len(g.columns))
	for i, c := range g.columns {
		h[i] = c.name
	}
	return h
}

func (g grid) sides() []Align {
	s := make([]Align, len(g.columns))
	for i, c := range g.columns {
		s[i] = c.side
	}
	return s
}

// SGR codes of the verdicts. They follow the eight basic colours, so that the
// terminal's own palette decides how they look.
const (
	sgrBold  = "\x1b[1m"
	sgrReset = "\x1b[0m"
)

func paint(s string, v analysis.Verdict, o Options) string {
	if !o.Colour || s == "" {
		return s
	}
	code := "\x1b[1m"
	switch v {
	case analysis.Ready:
		code = "\x1b[32m"
	case analysis.NotProven:
		code = "\x1b[33m"
	case analysis.NotReady:
		code = "\x1b[31m"
	case analysis.OnHold:
		code = "\x1b[36m"
	}
	return code + s + sgrReset
}

func bold(s string, o Options) string {
	if !o.Colour || s == "" {
		return s
	}
	return sgrBold + s + sgrReset
}

// text writes the page for a terminal or a mail.
func (p page) text(w io.Writer, o Options) error {
	var b bytes.Buffer
	line := func(indent int, first, s string) {
		pad := strings.Repeat(" ", indent)
		for i, l := range wrapLines(s, o.prose()-indent) {
			if i == 0 && first != "" {
				b.WriteString(first + l + "\n")
				continue
			}
			b.WriteString(strings.TrimRight(pad+l, " ") + "\n")
		}
	}
	title := wrapLines(p.title, o.prose())
	last := title[len(title)-1]
	for _, l := range title[:len(title)-1] {
		b.WriteString(bold(l, o) + "\n")
	}
	gap := o.prose() - cells(last) - cells(p.aside)
	if gap >= 2 {
		b.WriteString(bold(last, o) + strings.Repeat(" ", gap) + p.aside + "\n")
	} else {
		b.WriteString(bold(last, o) + "\n")
		line(0, "", p.aside)
	}
	if p.banner != "" {
		b.WriteString("\n")
		first := paint(p.banner, p.verdict, o)
		if o.Colour {
			first = sgrBold + first
		}
		if p.tail == "" {
			b.WriteString(first + "\n")
		} else {
			line(cells(p.banner)+3, first+"   ", p.tail)
		}
	}
	for i, x := range p.blocks {
		if _, skip := x.(drawing); skip {
			continue
		}
		after := false // a heading and what it heads stand together
		if i > 0 {
			_, after = p.blocks[i-1].(heading)
		}
		if !after {
			b.WriteString("\n")
		}
		switch x := x.(type) {
		case heading:
			if x.verdict == "" {
				line(0, "", bold(x.text, o))
				continue
			}
			for j, l := range wrapLines(x.text+": "+string(x.verdict), o.prose()) {
				if head, v, ok := strings.Cut(l, ": "+string(x.verdict)); ok && v == "" {
					l = bold(head, o) + ": " + paint(string(x.verdict), x.verdict, o)
				} else if j == 0 {
					l = bold(l, o)
				}
				b.WriteString(l + "\n")
			}
		case para:
			line(0, "", string(x))
		case bullets:
			for _, s := range x {
				line(4, "  - ", s)
			}
		case terms:
			if o.prose() < recordsBelow { // no room for labels beside the text
				for _, t := range x {
					if t[0] != "" {
						line(2, "  ", t[0])
					}
					line(4, "", t[1])
				}
				continue
			}
			wide := 0
			for _, t := range x {
				wide = max(wide, cells(t[0]))
			}
			wide = min(wide, o.prose()/3)
			for _, t := range x {
				label := t[0]
				if cells(label) > wide {
					line(2, "  ", label)
					label = ""
				}
				line(4+wide, "  "+label+strings.Repeat(" ", wide-cells(label)+2), t[1])
			}
		case written:
			for _, l := range x {
				line(4, "  | ", l)
			}
		case grid:
			rows := make([][]string, 0, 2*len(x.rows))
			for n, r := range x.rows {
				row := append([]string(nil), r...)
				if x.verdict >= 0 && o.Colour {
					row[x.verdict] = paint(row[x.verdict], analysis.Verdict(r[x.verdict]), o)
				}
				rows = append(rows, row)
				if x.airy && n < len(x.rows)-1 {
					rows = append(rows, make([]string, len(row)))
				}
			}
			if err := Table(&b, x.headers(), rows, x.sides(), o); err != nil {
				return err
			}
		default:
			return fmt.Errorf("no text form of %T", x)
		}
	}
	if p.foot != "" {
		b.WriteString("\n")
		line(0, "", p.foot)
	}
	_, err := io.WriteString(w, trimLines(b.String()))
	return err
}

// markdown writes the page as CommonMark with tables.
func (p page) markdown(w io.Writer) error {
	var b bytes.Buffer
	b.WriteString("# " + markdownText(p.title) + "\n\n")
	if p.aside != "" {
		b.WriteString(markdownText(p.aside) + "\n\n")
	}
	if p.banner != "" {
		b.WriteString("**" + markdownText(p.banner) + "**")
		if p.tail != "" {
			b.WriteString(" " + markdownText(p.tail))
		}
		b.WriteString("\n\n")
	}
	for _, x := range p.blocks {
		switch x := x.(type) {
		case heading:
			b.WriteString(strings.Repeat("#", max(x.level, 2)) + " " + markdownText(x.text))
			if x.verdict != "" {
				b.WriteString(": " + string(x.verdict))
			}
			b.WriteString("\n\n")
		case para:
			b.WriteString(markdownText(string(x)) + "\n\n")
		case bullets:
			for _, s := range x {
				b.WriteString("- " + markdownText(s) + "\n")
			}
			b.WriteString("\n")
		case terms:
			for i, t := range x {
				switch {
				case t[0] != "":
					b.WriteString("- **" + markdownText(t[0]) + "**: " + markdownText(t[1]) + "\n")
				case i > 0: // goes on under the label above
					b.WriteString("  - " + markdownText(t[1]) + "\n")
				default:
					b.WriteString("- " + markdownText(t[1]) + "\n")
				}
			}
			b.WriteString("\n")
		case grid:
			if x.caption != "" {
				b.WriteString(markdownText(x.caption) + "\n\n")
			}
			row := func(cell []string) {
				b.WriteString("|")
				for _, c := range cell {
					b.WriteString(" " + strings.ReplaceAll(markdownText(c), "\n", "<br>") + " |")
				}
				b.WriteString("\n")
			}
			row(x.headers())
			b.WriteString("|")
			for _, c := range x.columns {
				if c.side == Right {
					b.WriteString(" ---: |")
				} else {
					b.WriteString(" --- |")
				}
			}
			b.WriteString("\n")
			for _, r := range x.rows {
				row(r)
			}
			b.WriteString("\n")
		case written:
			for _, l := range x {
				b.WriteString("> " + markdownText(l) + "  \n")
			}
			b.WriteString("\n")
		case drawing:
		default:
			return fmt.Errorf("no Markdown form of %T", x)
		}
	}
	if p.foot != "" {
		b.WriteString(markdownText(p.foot) + "\n")
	}
	_, err := io.WriteString(w, strings.TrimRight(b.String(), "\n")+"\n")
	return err
}

// markdownText escapes what CommonMark or a table would read as markup, so that
// a name is a name and never a link, a tag or a new cell.
func markdownText(s string) string {
	var b strings.Builder
	atStart := true
	digits := false // an ordered list would begin here
	for i, r := range s {
		_, size := utf8.DecodeRuneInString(s[i:])
		rest := s[i+size:]
		lists := rest == "" || rest[0] == ' ' || rest[0] == '\n'
		switch {
		case strings.ContainsRune("\\`*_[]<>|~&", r):
			if r == '<' {
				b.WriteString("&lt;")
			} else if r == '>' {
				b.WriteString("&gt;")
			} else if r == '&' {
				b.WriteString("&amp;")
			} else {
				b.WriteByte('\\')
				b.WriteRune(r)
			}
		case atStart && strings.ContainsRune("#-+=", r), digits && lists && (r == '.' || r == ')'):
			b.WriteByte('\\')
			b.WriteRune(r)
		default:
			b.WriteRune(r)
		}
		digits = (atStart || digits) && r >= '0' && r <= '9'
		atStart = r == '\n' || atStart && r == ' '
	}
	return b.String()
}
