package main

import (
	"fmt"
	"math"
	"slices"
	"strings"
)

// page collects what the studies found, in the order of reading.
type page struct {
	bars []bar
	good []string // where a rule does well, one line each
	bad  []string // where it does badly
	body strings.Builder
}

// bar is a figure that the rules promise to reach.
type bar struct {
	what   string
	value  float64
	error  float64 // half-width of its 95 % Monte-Carlo interval; 0 = exact
	limit  float64
	atMost bool
	show   func(float64) string
}

func (b bar) met() bool { return b.missedBy() <= 0 }

// missedBy is how far the figure is on the wrong side of its limit.
func (b bar) missedBy() float64 {
	if b.atMost {
		return b.value - b.limit
	}
	return b.limit - b.value
}

// unlike writes the figure of a missed bar with as many digits as it takes to
// differ from the bar: a miss is never rounded to it.
func unlike(b bar) string {
	unit, by := "", 1.0
	if strings.HasSuffix(b.show(b.limit), "%") {
		unit, by = " %", 100
	}
	text := func(v float64, places int) string { return fmt.Sprintf("%.*f%s", places, v*by, unit) }
	places := 2
	for places < 9 && text(b.value, places) == text(b.limit, places) {
		places++
	}
	return text(b.value, places)
}

func (p *page) heading(level int, text string) {
	fmt.Fprintf(&p.body, "%s %s\n\n", strings.Repeat("#", level), text)
}

// say writes a paragraph.
func (p *page) say(format string, args ...any) {
	fmt.Fprintf(&p.body, format+"\n\n", args...)
}

func (p *page) well(format string, args ...any) {
	p.good = append(p.good, fmt.Sprintf(format, args...))
}
func (p *page) badly(format string, args ...any) { p.bad = append(p.bad, fmt.Sprintf(format, args...)) }

// table is a Markdown table under construction; the first row is its head.
type table [][]string

func (t *table) row(cells ...string) { *t = append(*t, cells) }

func (p *page) table(t table) {
	b := &p.body
	for i, cells := range t {
		fmt.Fprintf(b, "| %s |\n", strings.Join(cells, " | "))
		if i == 0 {
			b.WriteString("|" + strings.Repeat(" --- |", len(cells)) + "\n")
		}
	}
	b.WriteString("\n")
}

// write assembles the whole page.
func (p *page) write(e env) string {
	var b strings.Builder
	b.WriteString("# Can the verdict be trusted?\n\n")
	fmt.Fprintf(&b, `Written by %s%s; do not edit it by hand.
The program makes dogs whose true chance of answering the first ask is known, gives their sessions to
the shipped judgement (the same code that writes a readiness report), and counts how often it is right.
The same seed (%d) gives the same page, byte for byte.

How to read it:

- A figure such as "6.4 ±0.5" is a percentage with half the width of its 95 %% Monte-Carlo interval: what
  another seed might have given.
- "some night" is at least one of the nights of a stay; "night 15" is that one night.
- The asks of a session are alike: beta-binomial, intra-class correlation .10 unless a row says otherwise.
- A full schedule is 1 to 4 sessions a day, a light one is one session a day; 2 to 10 asks a session, 15 nights
  unless a row says otherwise. The main trainer works alone for two days; a second trainer then takes 30 %% of
  sessions; the owner has one lesson more on each of the three days before the last. Yard, meadow and an
  off-property place get 45, 30 and 25 %%; on a light schedule they take turns.
- The bars' numbers were chosen on dogs of other seeds than this page's.
- The dogs are invented. No open record of trained dogs gives session-by-session counts from which the likeness or
  the learning curves could be taken; they are assumed. A figure here is as good as that assumption.

`, "`make proof`", e.mode(), e.seed)

	b.WriteString("## The bars\n\n")
	t := table{{"what was promised", "bar", "found", ""}}
	for _, x := range p.bars {
		sign, verdict := "at least ", "met"
		if x.atMost {
			sign = "at most "
		}
		if !x.met() {
			verdict = "**missed**"
		}
		found := x.show(x.value)
		if !x.met() && found == x.show(x.limit) {
			found = unlike(x)
		}
		if x.error > 0 {
			found += " ±" + x.show(x.error)
		}
		t.row(x.what, sign+x.show(x.limit), found, verdict)
	}
	var bars page
	bars.table(t)
	b.WriteString(bars.body.String())
	list := func(title string, lines []string) {
		fmt.Fprintf(&b, "## %s\n\n", title)
		for _, s := range lines {
			b.WriteString("- " + s + "\n")
		}
		b.WriteString("\n")
	}
	list("Where it does well", p.good)
	list("Where it does badly", p.bad)
	b.WriteString(strings.TrimRight(p.body.String(), "\n") + "\n")
	return b.String()
}

// tally counts successes among replicates.
type tally struct{ yes, of int }

func (t *tally) add(yes bool) {
	t.of++
	if yes {
		t.yes++
	}
}

func (t tally) rate() float64 {
	if t.of == 0 {
		return math.NaN()
	}
	return float64(t.yes) / float64(t.of)
}

// error is half the width of the 95 % Monte-Carlo interval of the rate, with two
// successes and two failures added so that 0 of n has an error too (Agresti and
// Coull 1998).
func (t tally) error() float64 {
	n := float64(t.of) + 4
	p := (float64(t.yes) + 2) / n
	return 1.96 * math.Sqrt(p*(1-p)/n)
}

// String is a percentage with its error, "6.4 ±0.5"; "-" of nothing.
func (t tally) String() string {
	if t.of == 0 {
		return "-"
	}
	return fmt.Sprintf("%.1f ±%.1f", 100*t.rate(), 100*t.error())
}

func count[T any](xs []T, f func(T) bool) tally {
	var t tally
	for _, x := range xs {
		t.add(f(x))
	}
	return t
}

// mean is an average with half the width of its 95 % Monte-Carlo interval.
type mean struct {
	n       int
	sum, sq float64
}

func (m *mean) add(x float64) { m.n++; m.sum += x; m.sq += x * x }

func (m mean) value() float64 {
	if m.n == 0 {
		return math.NaN()
	}
	return m.sum / float64(m.n)
}

func (m mean) error() float64 {
	if m.n < 2 {
		return math.NaN()
	}
	n := float64(m.n)
	return 1.96 * math.Sqrt(max(0, m.sq/n-m.value()*m.value())/(n-1))
}

// show is the mean with its error to so many places.
func (m mean) show(places int) string {
	if m.n == 0 {
		return "-"
	}
	return fmt.Sprintf("%.*f ±%.*f", places, m.value(), places, m.error())
}

func percent(x float64) string { return fmt.Sprintf("%.1f %%", 100*x) }

func decimals(places int) func(float64) string {
	return func(x float64) string { return fmt.Sprintf("%.*f", places, x) }
}

// two is a probability as trainers' tables write it: .95.
func two(p float64) string { return strings.TrimPrefix(fmt.Sprintf("%.2f", p), "0") }

// quantile of xs, linear between order statistics.
func quantile(xs []float64, q float64) float64 {
	xs = slices.Sorted(slices.Values(xs))
	if len(xs) == 0 {
		return math.NaN()
	}
	h := q * float64(len(xs)-1)
	i := min(int(h), len(xs)-2)
	if i < 0 {
		return xs[0]
	}
	return xs[i] + (h-float64(i))*(xs[i+1]-xs[i])
}
