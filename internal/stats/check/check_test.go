package check_test

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"firstcue/internal/stats/check"
)

type row map[string]string

// published reads a table of testdata/published: inputs, values computed in R
// 4.2.2, digits as printed in publications where there are any, and the source
// of each row in its column "source".
func published(t testing.TB, name string) []row {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "..", "..", "testdata", "published", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	if err != nil || len(all) < 2 {
		t.Fatalf("%s: %d rows, %v", name, len(all), err)
	}
	var out []row
	for _, rec := range all[1:] {
		r := row{}
		for i, h := range all[0] {
			r[h] = rec[i]
		}
		out = append(out, r)
	}
	return out
}

// line writes the named columns as one JSON object: lists ("successes") are
// parted by blanks in the table, single numbers stand alone.
func (r row) line(fields string) string {
	const lists = "successes trials t y times status"
	var out []string
	for _, f := range strings.Fields(fields) {
		v := r[f]
		if slices.Contains(strings.Fields(lists), f) {
			v = "[" + strings.ReplaceAll(v, " ", ",") + "]"
		}
		out = append(out, fmt.Sprintf("%q:%s", f, v))
	}
	return "{" + strings.Join(out, ",") + "}"
}

func ask(t testing.TB, name, line string) map[string]any {
	t.Helper()
	var out bytes.Buffer
	bad, err := check.Run(name, strings.NewReader(line), &out)
	if err != nil {
		t.Fatalf("%s: %v", name, err)
	}
	var got map[string]any
	if err := json.Unmarshal(out.Bytes(), &got); err != nil {
		t.Fatalf("%s: %v in %q", name, err, out.String())
	}
	if _, failed := got["error"]; failed != (bad == 1) {
		t.Fatalf("%s: %d bad lines and the answer %v", name, bad, got)
	}
	return got
}

// compare checks the figures of an answer that the row has a column for, to the
// tolerance (absolute below 1), and the digits as printed; it returns how many.
func compare(t *testing.T, r row, got map[string]any, tol float64) (n int) {
	t.Helper()
	for key, v := range got {
		if digits := r["printed_"+key]; digits != "" && digits != "NA" {
			want, _ := strconv.ParseFloat(digits, 64)
			_, decimals, _ := strings.Cut(digits, ".")
			if half := math.Pow(10, -float64(len(decimals))) / 2; math.Abs(v.(float64)-want) > half*(1+1e-9) {
				t.Errorf("%s: got %v, printed %s", key, v, digits)
			}
		}
		text, ok := r[key]
		if !ok {
			continue
		}
		n++
		want, err := strconv.ParseFloat(text, 64)
		switch x := v.(type) {
		case nil:
			ok = text == "NA"
		case bool:
			ok = text == map[bool]string{true: "1", false: "0"}[x]
		case float64:
			ok = err == nil && math.Abs(x-want) <= tol*math.Max(1, math.Abs(want))
		}
		if !ok {
			t.Errorf("%s: got %v, want %s", key, v, text)
		}
	}
	return n
}

// Every table, asked through the public interface with the columns of its
// inputs as fields, and compared column by column.
func TestTables(t *testing.T) {
	for _, c := range []struct {
		name, table, input, fixed string
		tol                       float64
		columns                   int // compared in each row
	}{
		{"wilson", "01_wilson.csv", "x n level", "", 1e-9, 2},
		// With no weight of the prior the correlation is that of the data.
		{"effective", "03_cluster_wilson.csv", "successes trials level", `"prior_icc":0,"prior_sessions":0,`, 1e-9, 11},
		{"mannkendall", "04_mann_kendall_sen.csv", "y", "", 1e-9, 6},
		{"theilsen", "04_mann_kendall_sen.csv", "t y level", "", 1e-9, 5},
		{"kaplanmeier", "05_km_summary.csv", "times status", "", 1e-8, 6},
		{"poisson", "06_poisson_ci.csv", "count exposure level", "", 1e-9, 3},
	} {
		t.Run(c.name, func(t *testing.T) {
			for _, r := range published(t, c.table) {
				line := strings.Replace(r.line(c.input), "{", "{"+c.fixed, 1)
				if n := compare(t, r, ask(t, c.name, line), c.tol); n != c.columns || t.Failed() {
					t.Fatalf("compared %d columns, want %d, at %s", n, c.columns, line)
				}
			}
		})
	}
}

func TestKappaTable(t *testing.T) {
	for _, r := range published(t, "08_kappa.csv") {
		k, _ := strconv.Atoi(r["k"])
		var rows []string
		for cells := range slices.Chunk(strings.Fields(r["table_rowmajor"]), k) {
			rows = append(rows, "["+strings.Join(cells, ",")+"]")
		}
		got := ask(t, "kappa", `{"table":[`+strings.Join(rows, ",")+`]}`)
		if n := compare(t, r, got, 1e-9); n != 9 {
			t.Errorf("%s: compared %d columns", r["id"], n)
		}
	}
}

// The curves point by point, and read at each of their times.
func TestCurve(t *testing.T) {
	points := map[string][]row{}
	for _, r := range published(t, "05_km_curve.csv") {
		points[r["dataset"]] = append(points[r["dataset"]], r)
	}
	for _, r := range published(t, "05_km_summary.csv") {
		want := points[r["dataset"]]
		var at []string
		for _, p := range want {
			at = append(at, p["time"])
		}
		line := strings.Replace(r.line("times status"), "{", `{"at":[`+strings.Join(at, ",")+"],", 1)
		got := ask(t, "kaplanmeier", line)
		curve, reading := got["curve"].([]any), got["at"].([]any)
		if len(curve) != len(want) {
			t.Fatalf("%s: %d points", r["dataset"], len(curve))
		}
		for i, p := range want {
			if n := compare(t, p, curve[i].(map[string]any), 1e-8); n != 8 {
				t.Errorf("%s: compared %d columns", r["dataset"], n)
			}
			a := reading[i].(map[string]any)
			beyond := a["n_risk"] == 0.0 && p["surv"] != "0" // nobody was followed that far
			delete(a, "n_risk")                              // here those left after the events
			if beyond && a["surv"] == nil {
				continue
			}
			if n := compare(t, p, a, 1e-8); n != 3 {
				t.Errorf("%s: compared %d columns of the reading", r["dataset"], n)
			}
		}
	}
}

// Only what is known, once, and whole is computed; the other lines still are.
func TestBadLines(t *testing.T) {
	lines := []string{
		`{"x": 18, "n": 20}`,
		`{"x": 21, "n": 20}`, `{"x": -1, "n": 20}`, `{"x": "NaN", "n": 20}`, `{"x": 1e999, "n": 20}`, `{"x": 1, "n": 20, "level": 1}`,
		`{"x": 1}`, `{}`, `[]`, `null`, `nonsense`, `{"x": 1, "n": 2} {"x": 1, "n": 2}`, `{"x": 1, "n": 2`, `{"x": [1, 2], "n": 2}`,
		`{"x": 1, "n": 2, "levle": 0.9}`, `{"x": 1, "n": 2, "n": 3}`, `{"x": 1, "X": 1, "n": 2}`, `{"x": null, "n": 2}`,
		`{"x": 1, "n": 2, "count": 2}`, `{"x": 1, "n": 2, "": 2}`,
		`{"x": 0, "n": 0}`,
	}
	var out bytes.Buffer
	bad, err := check.Run("wilson", strings.NewReader(strings.Join(lines, "\n\n")), &out) // no newline at the end
	if err != nil || bad != len(lines)-2 {
		t.Fatalf("%d bad lines and %v, want %d", bad, err, len(lines)-2)
	}
	got := strings.Split(strings.TrimSpace(out.String()), "\n")
	for i, g := range got {
		if failed := strings.HasPrefix(g, `{"error":"`); failed != (i > 0 && i < len(lines)-1) {
			t.Errorf("%s gave %s", lines[i], g)
		}
	}
	if last := got[len(got)-1]; last != `{"lower":0,"upper":1}` {
		t.Errorf("no trials: %s", last)
	}
	for name, line := range map[string]string{
		"cochranarmitage": `{"successes":[1,null],"trials":[2,2]}`, "kappa": `{"table":[[1,null],[1,1]]}`,
		"kaplanmeier": `{"times":[1,2],"status":[1,2]}`, "theilsen": `{"y":[1,2],"t":[1,1]}`,
	} {
		if got := ask(t, name, line); got["error"] == nil {
			t.Errorf("%s %s gave %v", name, line, got)
		}
	}
	if _, err := check.Run("wilsen", strings.NewReader("{}"), &out); !errors.Is(err, check.ErrUnknown) {
		t.Errorf("got %v, want ErrUnknown", err)
	}
}

// Whatever stands on the line: an error object or figures, never NaN or a panic.
func FuzzRun(f *testing.F) {
	for i, s := range []string{
		`{"x":18,"n":20}`, `{"successes":[1,2,3],"trials":[3,3,3]}`, `{"successes":[1,2,3],"trials":[3,3,3],"deff":[1,2,1]}`, `{"y":[3,1,2]}`,
		`{"y":[3,1,1e300],"t":[-1,0,5e-324]}`, `{"times":[1,2],"status":[1,0],"at":[1,1e300]}`, `{"count":1e15,"exposure":1e-100}`, `{"table":[[1,2],[3,4]]}`,
	} {
		f.Add(i, s)
		f.Add(i, strings.NewReplacer("1", "0", "2", "1e15").Replace(s))
	}
	f.Fuzz(func(t *testing.T, i int, line string) {
		names := check.Names()
		name := names[uint(i)%uint(len(names))]
		var out bytes.Buffer
		if _, err := check.Run(name, strings.NewReader(line), &out); err != nil {
			t.Fatal(err)
		}
		for l := range strings.Lines(out.String()) {
			if !json.Valid([]byte(l)) {
				t.Errorf("%s: %q gave %q", name, line, l)
			}
		}
	})
}
