package model

import (
	"encoding/csv"
	"math"
	"os"
	"strconv"
	"strings"
	"testing"
)

// table reads a file of testdata/published: the first line names the program.
func table(t *testing.T, name string) []map[string]string {
	t.Helper()
	text, err := os.ReadFile("../../testdata/published/" + name)
	if err != nil {
		t.Fatal(err)
	}
	head, body, _ := strings.Cut(string(text), "\n")
	if !strings.HasPrefix(head, "# R version") {
		t.Fatalf("%s does not say what it was computed with: %q", name, head)
	}
	r := csv.NewReader(strings.NewReader(body))
	r.TrimLeadingSpace = true
	rows, err := r.ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]string
	for _, row := range rows[1:] {
		m := map[string]string{}
		for i, v := range row {
			m[strings.TrimSpace(rows[0][i])] = strings.TrimSpace(v)
		}
		out = append(out, m)
	}
	return out
}

func number(t *testing.T, text string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// The filter against long Metropolis runs of the same model on 30 invented stays.
//
// Source: testdata/published/level_mcmc.R, plain R; the version stands in the first
// line of its tables.
func TestAgainstLongMCMC(t *testing.T) {
	prior := Shipped()
	stays := map[string]*Filter{}
	for _, row := range table(t, "14_level_sittings.csv") {
		f := stays[row["stay"]]
		if f == nil {
			f = New(prior)
			stays[row["stay"]] = f
		}
		s := Sitting{
			At:    At{Person: row["person"], Place: row["place"]},
			Yes:   int(number(t, row["yes"])),
			Of:    int(number(t, row["of"])),
			Night: row["night"] == "1",
		}
		switch row["first"] {
		case "yes":
			s.First = Yes
		case "no":
			s.First = No
		}
		f.Observe(s)
	}
	var off, cold, person, low, high mean
	for _, row := range table(t, "14_level_mcmc.csv") {
		if number(t, row["rhat"]) > 1.1 {
			t.Errorf("stay %s: the two chains do not agree: %s", row["stay"], row["rhat"])
		}
		f := stays[row["stay"]]
		off.add(t, row["stay"], f.Prob(Target{}, .85)-number(t, row["p85"]))
		cold.add(t, row["stay"], f.Prob(Target{First: true}, .80)-number(t, row["first80"]))
		person.add(t, row["stay"], f.Prob(Target{At: At{Person: "bram"}}, .80)-number(t, row["bram80"]))
		l, h := f.Interval(Target{}, .95)
		low.add(t, row["stay"], l-number(t, row["low"]))
		high.add(t, row["stay"], h-number(t, row["high"]))
	}
	if off.n != 30 {
		t.Fatalf("%d stays, want 30", off.n)
	}
	for _, c := range []struct {
		name          string
		of            mean
		average, most float64
	}{
		{"P(level at least .85)", off, .02, .08},
		{"P(first ask at least .80)", cold, .02, .08},
		{"P(one person at least .80)", person, .02, .08},
		{"lower limit", low, .03, .10},
		{"upper limit", high, .01, .05},
	} {
		t.Logf("%s: off by %.4f on average (%+.4f), %.4f at most", c.name, c.of.size/30, c.of.sum/30, c.of.most)
		if c.of.size/30 > c.average || c.of.most > c.most {
			t.Errorf("%s: off by %.4f on average, %.4f at most", c.name, c.of.size/30, c.of.most)
		}
	}
}

// mean of differences: with their signs, and of their sizes.
type mean struct {
	n               int
	sum, size, most float64
}

func (m *mean) add(t *testing.T, stay string, d float64) {
	m.n++
	m.sum += d
	m.size += math.Abs(d)
	if math.Abs(d) > .06 {
		t.Logf("stay %s: off by %+.4f", stay, d)
	}
	m.most = max(m.most, math.Abs(d))
}
