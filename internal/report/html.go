package report

import (
	"cmp"
	"fmt"
	"html/template"
	"io"
	"strings"
	"sync"

	"firstcue/internal/analysis"
)

// slug makes an id for an element from a heading: letters, digits and single
// hyphens. Two headings may have one slug.
func slug(s string) string {
	return strings.Join(strings.FieldsFunc(strings.ToLower(s), func(r rune) bool {
		return (r < 'a' || r > 'z') && (r < '0' || r > '9')
	}), "-")
}

// htmlPage is what the template is given.
type htmlPage struct {
	Lang, Title, Aside, Banner, Tail, Foot string
	Mark                                   string // class of the verdict
	CSS                                    template.CSS
	Nav                                    bool
	Sections                               []htmlSection
}

type htmlSection struct {
	ID, Title, Verdict, Mark string
	Level                    int
	Class                    string
	Blocks                   []htmlBlock
}

type htmlBlock struct {
	Para    []string // lines
	Bullets []string
	Terms   [][2]string
	Grid    *htmlGrid
	Figures []htmlFigure
}

type htmlFigure struct {
	SVG template.HTML
}

type htmlGrid struct {
	Caption string
	Unseen  bool // the caption repeats the heading: for who does not see the page
	Keep    bool // stays a table on a narrow screen
	Head    []htmlCell
	Rows    [][]htmlCell
}

type htmlCell struct {
	Lines  []string
	Label  string // its column, for narrow screens
	Number bool
	Row    bool   // heads its row
	Mark   string // class of a verdict
	Blank  bool   // to be filled in by hand
}

// mark is the class of a verdict.
func mark(v analysis.Verdict) string {
	switch v {
	case analysis.Ready:
		return "v-ready"
	case analysis.NotReady:
		return "v-notready"
	case analysis.NotProven:
		return "v-notproven"
	case analysis.OnHold:
		return "v-hold"
	}
	return ""
}

// markOf is the class of a verdict as it is worded in a cell.
func markOf(words string) string {
	return mark(analysis.Verdict(strings.TrimSuffix(strings.ToLower(words), " new")))
}

func (p page) html(w io.Writer, o Options) error {
	h := htmlPage{Lang: "en-GB", Title: p.title, Aside: p.aside, Banner: p.banner, Tail: p.tail, Foot: p.foot, Mark: mark(p.verdict), CSS: template.CSS(pageStyle), Nav: p.nav}
	now := htmlSection{}
	flush := func() {
		if now.Title != "" || len(now.Blocks) > 0 {
			h.Sections = append(h.Sections, now)
		}
	}
	used := map[string]int{}
	for _, x := range p.blocks {
		var b htmlBlock
		switch x := x.(type) {
		case heading:
			flush()
			id := "s-" + slug(x.text)
			used[id]++
			if used[id] > 1 {
				id += fmt.Sprintf("-%d", used[id])
			}
			now = htmlSection{ID: id, Title: x.text, Level: max(x.level, 2), Verdict: string(x.verdict), Mark: mark(x.verdict)}
			continue
		case para:
			b.Para = strings.Split(string(x), "\n")
		case bullets:
			b.Bullets = x
		case terms:
			b.Terms = x
		case written:
			b.Para = x
		case drawing:
			f := htmlFigure{template.HTML(x.svg)} // our own drawing, every text in it escaped
			if n := len(now.Blocks); n > 0 && len(now.Blocks[n-1].Figures) > 0 {
				now.Blocks[n-1].Figures = append(now.Blocks[n-1].Figures, f)
				continue
			}
			b.Figures = []htmlFigure{f}
		case grid:
			g := &htmlGrid{Caption: x.caption, Keep: x.keep}
			if g.Caption == "" {
				g.Caption, g.Unseen = cmp.Or(now.Title, p.title), true
			}
			for _, c := range x.columns {
				g.Head = append(g.Head, htmlCell{Lines: []string{c.name}, Number: c.side == Right})
			}
			for _, r := range x.rows {
				var row []htmlCell
				for i, c := range r {
					cell := htmlCell{Lines: strings.Split(c, "\n"), Label: x.columns[i].name, Number: x.columns[i].side == Right, Row: x.rowHead && i == 0, Blank: c == blank}
					if i == x.verdict {
						cell.Mark = markOf(cell.Lines[0])
					}
					row = append(row, cell)
				}
				g.Rows = append(g.Rows, row)
			}
			b.Grid = g
		default:
			return fmt.Errorf("no HTML form of %T", x)
		}
		now.Blocks = append(now.Blocks, b)
	}
	flush()
	return pageTemplate().Execute(w, h)
}

// blank is a cell to be filled in with a pen.
const blank = "\x00"

// keepLine reports that a line of a cell is short enough to stand on one line
// whatever the width of its column: "(usual 4.6)", "8 days".
func keepLine(s string) bool { return cells(s) <= 12 }

var pageTemplate = sync.OnceValue(func() *template.Template {
	return template.Must(template.New("page").Funcs(template.FuncMap{"keep": keepLine}).Parse(`<!DOCTYPE html>
<html lang="{{.Lang}}">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="color-scheme" content="light dark">
<meta name="referrer" content="no-referrer">
<title>{{.Title}}{{if .Aside}}, {{.Aside}}{{end}}</title>
<style>{{.CSS}}</style>
</head>
<body>
<main>
<header>
<h1><bdi>{{.Title}}</bdi></h1>
{{- if .Aside}}
<p class="aside">{{.Aside}}</p>
{{- end}}
{{- if .Banner}}
<p class="banner"><strong class="v {{.Mark}}">{{.Banner}}</strong>{{if .Tail}} <span>{{.Tail}}</span>{{end}}</p>
{{- end}}
</header>
{{- range .Sections}}
{{- if .Title}}
<section aria-labelledby="{{.ID}}">
{{if eq .Level 3}}<h3 id="{{.ID}}"><bdi>{{.Title}}</bdi>{{if .Verdict}} <span class="v {{.Mark}}">{{.Verdict}}</span>{{end}}</h3>
{{- else}}<h2 id="{{.ID}}"><bdi>{{.Title}}</bdi>{{if .Verdict}} <span class="v {{.Mark}}">{{.Verdict}}</span>{{end}}</h2>{{end}}
{{- else}}
<div class="lead">
{{- end}}
{{- range .Blocks}}
{{- if .Para}}
<p>{{range $i, $l := .Para}}{{if $i}}<br>{{end}}{{$l}}{{end}}</p>
{{- else if .Bullets}}
<ul>
{{- range .Bullets}}
<li>{{.}}</li>
{{- end}}
</ul>
{{- else if .Terms}}
<dl>
{{- range .Terms}}
<div><dt>{{if index . 0}}{{index . 0}}{{else}}and{{end}}</dt><dd>{{if eq (index . 1) "\x00"}}<span class="pen"></span>{{else}}{{index . 1}}{{end}}</dd></div>
{{- end}}
</dl>
{{- else if .Figures}}
<div class="charts">
{{- range .Figures}}
<figure>
{{.SVG}}
</figure>
{{- end}}
</div>
{{- else if .Grid}}
<table role="table"{{if .Grid.Keep}} class="keep"{{end}}>
{{- if .Grid.Caption}}
<caption{{if .Grid.Unseen}} class="unseen"{{end}}>{{.Grid.Caption}}</caption>
{{- end}}
<thead role="rowgroup"><tr role="row">{{range .Grid.Head}}<th scope="col" role="columnheader"{{if .Number}} class="n"{{end}}>{{index .Lines 0}}</th>{{end}}</tr></thead>
<tbody role="rowgroup">
{{- range .Grid.Rows}}
<tr role="row">
{{- range .}}
{{- if .Row}}<th scope="row" role="rowheader">{{template "lines" .}}</th>
{{- else}}<td role="cell" data-label="{{.Label}}"{{if .Number}} class="n"{{end}}>{{template "lines" .}}</td>{{end}}
{{- end}}</tr>
{{- end}}
</tbody>
</table>
{{- end}}
{{- end}}
{{- if .Title}}
</section>
{{- else}}
</div>
{{- if $.Nav}}
<nav aria-label="In this packet"><ul>{{range $.Sections}}{{if and .Title (eq .Level 2)}}<li><a href="#{{.ID}}">{{.Title}}</a></li>{{end}}{{end}}</ul></nav>
{{- end}}
{{- end}}
{{- end}}
{{- if .Foot}}
<footer><p>{{.Foot}}</p></footer>
{{- end}}
</main>
</body>
</html>
{{define "lines"}}{{if .Blank}}<span class="pen"></span>{{else}}{{$m := .Mark}}<span class="cell">{{range $i, $l := .Lines}}{{if $i}}<br>{{end}}{{if and $m (eq $i 0)}}<span class="v {{$m}}">{{$l}}</span>{{else}}<bdi{{if keep $l}} class="k"{{end}}>{{$l}}</bdi>{{end}}{{end}}</span>{{end}}{{end}}`))
})

// pageStyle is the style of every page. Text has a contrast of at least 4.5:1 on
// its ground in light and dark; verdicts differ in their border as well as in
// their colour, and always stand as a word.
const pageStyle = `
:root{--ink:#1a1a1a;--soft:#595959;--paper:#fff;--tint:#f4f2ec;--rule:#c9c4b8;--mark:#0072b2;--second:#b34700;--hatch:#6b6b6b;--ready:#00634a;--wait:#6b4a00;--not:#9a3200;--hold:#005a8c}
@media(prefers-color-scheme:dark){:root{--ink:#f0f0f0;--soft:#b8b8b8;--paper:#1b1b1b;--tint:#262624;--rule:#55524b;--mark:#56b4e9;--second:#e69f00;--hatch:#9a9a9a;--ready:#4fd3a8;--wait:#f0c95a;--not:#ff9d6b;--hold:#8fcdf5}}
*{box-sizing:border-box}
html{-webkit-text-size-adjust:100%}
body{margin:0;background-color:var(--paper);color:var(--ink);font:1rem/1.55 system-ui,-apple-system,"Segoe UI","Liberation Sans",sans-serif}
main{max-width:62rem;margin:0 auto;padding:1.5rem 1.25rem 4rem;overflow-wrap:break-word}
header{border-bottom:3px solid var(--ink);padding-bottom:1rem;margin-bottom:1.5rem}
h1{font-size:clamp(1.9rem,4vw + 1rem,2.8rem);line-height:1.1;margin:0 0 .3rem;letter-spacing:-.02em}
h2{font-size:1.35rem;line-height:1.25;margin:2.75rem 0 .75rem;padding-top:.6rem;border-top:1px solid var(--rule)}
h3{font-size:1.08rem;line-height:1.3;margin:1.6rem 0 .4rem}
p{margin:.6rem 0;max-width:46rem}
.aside{color:var(--soft);margin:0;max-width:none}
.banner{font-size:1.08rem;margin:1rem 0 0}
.lead>p:first-child{font-size:1.15rem}
ul{margin:.6rem 0;padding-left:1.2rem;max-width:46rem}
li{margin:.35rem 0}
dl{margin:.4rem 0}
dl>div{display:grid;grid-template-columns:14rem 1fr;gap:.1rem 1rem;padding:.3rem 0;border-top:1px solid var(--rule)}
dl>div:first-child{border-top:0}
dt{color:var(--soft)}
dd{margin:0;max-width:46rem}
.v{display:inline-block;padding:.05em .5em;border:1.5px solid currentColor;border-radius:.3em;font-weight:650;font-size:.92em;white-space:nowrap}
.v-ready{color:var(--ready);border-style:solid;border-left-width:.5em}
.v-notshown{color:var(--wait);border-style:dashed}
.v-notready{color:var(--not);border-style:double;border-width:3px}
.v-hold{color:var(--hold);border-style:dotted;border-width:2px}
table{border-collapse:collapse;width:100%;margin:1rem 0;font-size:.95rem;font-variant-numeric:tabular-nums}
caption{text-align:left;color:var(--soft);font-size:.92rem;padding:.2rem 0 .4rem}
th,td{text-align:left;vertical-align:top;padding:.5rem .75rem .5rem 0;border-top:1px solid var(--rule)}
thead th{border-top:0;border-bottom:1.5px solid var(--ink);font-size:.85rem;vertical-align:bottom}
.n{text-align:right}
.cell,dd{white-space:pre-wrap}
@media(min-width:46rem){.k{white-space:pre}}
.pen{display:block;min-width:6rem;height:1.6em;border-bottom:1px solid var(--soft)}
figure{margin:1.2rem 0;max-width:36rem}
figure svg{display:block;width:100%;height:auto}
nav{border-top:1px solid var(--rule);margin-top:2rem;padding-top:.6rem}
nav li{margin:0}
nav ul{list-style:none;padding:0;margin:0;display:flex;flex-wrap:wrap;gap:.1rem 1.3rem;max-width:none;font-size:.95rem}
a{color:inherit;text-underline-offset:.2em}
nav a{display:inline-block;padding:.3rem 0}
footer{margin-top:3rem;border-top:1px solid var(--rule);color:var(--soft);font-size:.9rem}
@media(max-width:40rem){
main{padding:1rem 1rem 3rem}
dl>div{grid-template-columns:1fr;gap:0}
table:not(.keep),:not(.keep)>tbody,:not(.keep)>tbody>tr,:not(.keep)>tbody>tr>*{display:block;width:auto}
table:not(.keep)>thead{position:absolute;left:-10000px;width:1px;height:1px;overflow:hidden}
table:not(.keep)>caption{display:block}
caption.unseen{position:absolute;width:1px;height:1px;padding:0;overflow:hidden;clip-path:inset(50%);white-space:nowrap}
:not(.keep)>tbody>tr{border-top:1.5px solid var(--ink);padding:.5rem 0}
:not(.keep)>tbody>tr>th{border:0;padding:0 0 .2rem;font-size:1.05rem}
:not(.keep)>tbody>tr>td{border:0;padding:.12rem 0;display:grid;grid-template-columns:7.5rem 1fr;gap:.6rem;text-align:left}
table.keep{font-size:.88rem}
table.keep th,table.keep td{padding-right:.5rem}
:not(.keep)>tbody>tr>td::before{content:attr(data-label);color:var(--soft);font-size:.88rem;padding-top:.1em}
}
@media(min-width:56rem){.charts{display:grid;grid-template-columns:1fr 1fr;gap:0 2rem;align-items:end}}
@page{margin:15mm 14mm}
@media print{
:root{--ink:#000;--soft:#444;--paper:#fff;--tint:#fff;--rule:#999;--mark:#0072b2;--second:#b34700;--hatch:#666;--ready:#00503c;--wait:#573c00;--not:#7d2900;--hold:#00466e}
html{font-size:10pt}
body{background-color:#fff;color:#000;line-height:1.42}
main{max-width:none;padding:0}
h2{margin-top:1.6rem;break-after:avoid}
h3{break-after:avoid}
p,li{orphans:3;widows:3}
thead{display:table-header-group}
tr,figure,li,dl>div{break-inside:avoid}
.charts{display:grid;grid-template-columns:1fr 1fr;gap:0 8mm;align-items:end}
nav{display:none}
}
`
