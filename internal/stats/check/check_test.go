package check_test

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"errors"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"firstcue/internal/stats/check"
)

// rows reads a table of testdata/published; the source of each row stands in
// its column "source".
func rows(t testing.TB, name string) []map[string]string {
	t.Helper()
	f, err := os.Open(filepath.Join("..", "..", "..", "testdata", "published", name))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var out []map[string]string
	for _, rec := range all[1:] {
		r := map[string]string{}
		for i, h := range all[0] {
			r[h] = rec[i]
		}
		out = append(out, r)
	}
	if len(out) == 0 {
		t.Fatalf("%s has no rows", name)
	}
	return out
}

// ask runs one line and returns the answer.
func ask(t testing.TB, name string, in map[string]any) map[string]any {
	t.Helper()
	line, err := json.Marshal(in)
	if err != nil {
		t.Fatal(err)
	}
	return askLine(t, name, string(line))
}

func askLine(t testing.TB, name, line string) map[string]any {
	t.Helper()
	var out bytes.Buffer
	bad, err := check.Run(name, strings.NewReader(line+"\n"), &out)
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

// compare checks every column of the row that the answer has too; n of them.
func compare(t *testing.T, r map[string]string, got map[string]any, tol float64, skip string) (n int) {
	t.Helper()
	if e, ok := got["error"]; ok {
		t.Errorf("error: %v", e)
		return 0
	}
	for col, want := range r {
		v, ok := got[col]
		if !ok || strings.Contains(" "+skip+" ", " "+col+" ") {
			continue
		}
		n++
		var values []any
		if list, isList := v.([]any); isList {
			values = list
		} else {
			values = []any{v}
		}
		wants := []string{want}
		if len(values) > 1 {
			wants = strings.Fields(want)
		}
		if len(wants) != len(values) {
			t.Errorf("%s: got %v, want %s", col, v, want)
			continue
		}
		for i, w := range wants {
			switch x := values[i].(type) {
			case nil:
				if w != "NA" {
					t.Errorf("%s: got null, want %s", col, w)
				}
			case string:
				if x != w {
					t.Errorf("%s: got %q, want %s", col, x, w)
				}
			case float64:
				f, err := strconv.ParseFloat(w, 64)
				if err != nil || !(math.Abs(x-f) <= tol*math.Max(1, math.Abs(f))) {
					t.Errorf("%s: got %v, want %s", col, x, w)
				}
			default:
				t.Errorf("%s: got %v, want %s", col, v, want)
			}
		}
	}
	return n
}

// Every table, asked through the public interface with the columns of its
// inputs as fields, and compared column by column.
func TestTables(t *testing.T) {
	for _, c := range []struct {
		name, table string
		fields      string // columns that are the input
		tol         float64
		columns     int    // compared, at least
		skip        string // columns with a convention of their own
	}{
		{"wilson", "01_wilson.csv", "x n level", 1e-9, 3, ""},
		{"newcombe", "02_newcombe_diff.csv", "x1 n1 x2 n2 level", 1e-9, 3, ""},
		{"effective", "03_cluster_wilson.csv", "successes trials level", 1e-9, 25, ""},
		{"mannkendall", "04_mann_kendall_sen.csv", "t y ci_level", 1e-9, 17, "p_perm_ties"},
		{"theilsen", "04_mann_kendall_sen.csv", "t y ci_level", 1e-9, 10, ""},
		{"mannkendall", "04_kendall_exact_table.csv", "n S", 1e-9, 2, ""},
		{"kaplanmeier", "05_km_summary.csv", "times status tau", 1e-8, 13, ""},
		{"logrank", "05_logrank.csv", "times1 status1 times2 status2", 1e-8, 7, ""},
		{"poisson", "06_poisson_ci.csv", "count exposure level", 1e-9, 3, ""},
		{"poissoncompare", "06_poisson_compare.csv", "x1 t1 x2 t2 level", 1e-9, 8, ""},
		{"fisher", "07_fisher.csv", "a b c d", 1e-9, 12, ""},
		{"kappa", "08_kappa.csv", "k table_rowmajor", 1e-9, 11, ""},
		{"sprt", "09_sprt.csv", "p0 p1 alpha beta", 1e-9, 16, ""},
		{"successrun", "09_success_run.csv", "reliability confidence failures_allowed", 1e-9, 3, ""},
		{"cusum", "10_bernoulli_cusum.csv", "p0 p1 gamma_num gamma_den h_units", 1e-8, 5, ""},
		{"cusum", "10_bernoulli_cusum_path.csv", "x gamma_num gamma_den h_units", 1e-9, 2, ""},
		{"betabinomial", "12_betabinomial.csv", "successes trials", 1e-5, 15, ""},
	} {
		t.Run(c.name+" "+c.table, func(t *testing.T) {
			for _, r := range rows(t, c.table) {
				in := map[string]any{}
				for _, f := range strings.Fields(c.fields) {
					if _, ok := r[f]; !ok {
						t.Fatalf("no column %s", f)
					}
					in[f] = r[f]
				}
				got := ask(t, c.name, in)
				if n := compare(t, r, got, c.tol, c.skip); n < c.columns {
					t.Errorf("compared %d columns only, want %d", n, c.columns)
				}
				if t.Failed() {
					t.Fatalf("at %v", in)
				}
			}
		})
	}
}

// The exact p with ties is computed for longer series than the table has it for.
func TestTiedExact(t *testing.T) {
	for _, r := range rows(t, "04_mann_kendall_sen.csv") {
		got := ask(t, "mannkendall", map[string]any{"t": r["t"], "y": r["y"]})
		if r["p_perm_ties"] == "NA" {
			continue
		}
		want, _ := strconv.ParseFloat(r["p_perm_ties"], 64)
		if p, ok := got["p_perm_ties"].(float64); !ok || math.Abs(p-want) > 1e-9 {
			t.Errorf("%s: p_perm_ties is %v, want %v", r["id"], got["p_perm_ties"], want)
		}
	}
}

func TestCurve(t *testing.T) {
	points := map[string][]map[string]string{}
	for _, r := range rows(t, "05_km_curve.csv") {
		points[r["dataset"]] = append(points[r["dataset"]], r)
	}
	for _, r := range rows(t, "05_km_summary.csv") {
		got := ask(t, "kaplanmeier", map[string]any{"times": r["times"], "status": r["status"]})
		curve, _ := got["curve"].([]any)
		if len(curve) != len(points[r["dataset"]]) {
			t.Fatalf("%s: %d points", r["dataset"], len(curve))
		}
		for i, p := range curve {
			if n := compare(t, points[r["dataset"]][i], p.(map[string]any), 1e-8, ""); n < 12 {
				t.Errorf("%s: compared %d columns only", r["dataset"], n)
			}
		}
	}
	for _, r := range rows(t, "05_rmst.csv") {
		for _, s := range rows(t, "05_km_summary.csv") {
			if s["dataset"] == r["dataset"] {
				compare(t, r, ask(t, "rmst", map[string]any{"times": s["times"], "status": s["status"], "tau": r["tau"]}), 1e-8, "")
			}
		}
	}
}

// term returns the figures of one row of a fit by its term.
func term(t *testing.T, got map[string]any, name string, keys ...string) map[string]any {
	t.Helper()
	out := map[string]any{}
	for k, v := range got {
		out[k] = v
	}
	for i, s := range got["terms"].([]any) {
		if s == name {
			for _, k := range keys {
				out[k] = got[k].([]any)[i]
			}
			return out
		}
	}
	t.Fatalf("no term %s in %v", name, got["terms"])
	return nil
}

func TestFits(t *testing.T) {
	data := func(table, dataset string) map[string]any {
		var x, y, n, group []string
		in := map[string]any{}
		for _, r := range rows(t, table) {
			if r["dataset"] == dataset {
				x, y, n, group = append(x, r["x"]), append(y, r["y"]), append(n, r["n"]), append(group, r["group"])
				in["terms"] = r["terms"]
			}
		}
		in["x"], in["y"], in["n"] = x, strings.Join(y, " "), n
		if group[0] != "" {
			in["group"] = group
		}
		return in
	}
	for _, r := range rows(t, "11_logistic_fit.csv") {
		got := ask(t, "logistic", data("11_logistic_data.csv", r["dataset"]))
		if got["error"] != nil {
			t.Fatalf("%s: %v", r["dataset"], got["error"])
		}
		if n := compare(t, r, term(t, got, r["term"], "estimate", "se", "z", "p"), 1e-7, "iterations"); n < 8 {
			t.Errorf("%s: compared %d columns only", r["dataset"], n)
		}
	}
	for _, r := range rows(t, "12_glmm_fit.csv") {
		in := data("12_glmm_data.csv", r["dataset"])
		in["method"] = r["method"]
		got := ask(t, "randomintercept", in)
		if got["error"] != nil {
			t.Fatalf("%s: %v", r["dataset"], got["error"])
		}
		if r["term"] == "sd_group" {
			got["estimate"], got["se"] = got["sd_group"], got["se_sd_group"]
			delete(got, "se_given_sd")
		} else {
			got = term(t, got, r["term"], "estimate", "se", "se_given_sd")
		}
		if n := compare(t, r, got, 1e-5, ""); n < 3 {
			t.Errorf("%s: compared %d columns only", r["dataset"], n)
		}
	}
	for _, r := range rows(t, "11_logistic_edge.csv") {
		got := ask(t, "logistic", map[string]any{"y": r["y"], "x": strings.Fields(r["x"])})
		if e, _ := got["error"].(string); !strings.HasPrefix(e, "not ") {
			t.Errorf("%s: got %v, want not estimable or not identified", r["id"], got)
		}
	}
	sets := map[string][]map[string]string{}
	for _, r := range rows(t, "13_padjust.csv") {
		sets[r["id"]] = append(sets[r["id"]], r)
	}
	for id, set := range sets {
		var p []string
		for _, r := range set {
			p = append(p, r["p"])
		}
		for _, name := range []string{"holm", "bh"} {
			got := ask(t, name, map[string]any{"p": p})
			for i, r := range set {
				for _, col := range []string{"holm", "bh", "bonferroni"} {
					want, _ := strconv.ParseFloat(r[col], 64)
					if v := got[col].([]any)[i].(float64); math.Abs(v-want) > 1e-9 {
						t.Errorf("%s %s: got %v, want %v", id, col, v, want)
					}
				}
			}
		}
	}
	for _, r := range rows(t, "03_rao_scott_test.csv") {
		var x, n []string
		for _, id := range []string{"weil_control", "weil_treated"} {
			for _, c := range rows(t, "03_cluster_wilson.csv") {
				if c["id"] == id {
					x, n = append(x, c["successes"]), append(n, c["trials"])
				}
			}
		}
		if k := compare(t, r, ask(t, "raoscott", map[string]any{"successes": x, "trials": n}), 1e-9, ""); k < 6 {
			t.Errorf("compared %d columns only", k)
		}
	}
}

// A line that cannot be computed never stops the others and never gives NaN.
func TestBadLines(t *testing.T) {
	lines := []string{
		`{"x": 18, "n": 20}`,
		`{"x": 21, "n": 20}`, `{"x": -1, "n": 20}`, `{"x": "NaN", "n": 20}`, `{"x": 1e999, "n": 20}`, `{"x": 1, "n": 20, "level": 1}`,
		`{"x": 1}`, `{}`, `[]`, `null`, `nonsense`, `{"x": 1, "n": 2} {"x": 1, "n": 2}`, `{"x": 1, "n": 2, "levle": 0.9}`, `{"x": [1, 2], "n": 2}`,
		`{"x": 0, "n": 0}`,
	}
	var out bytes.Buffer
	bad, err := check.Run("wilson", strings.NewReader(strings.Join(lines, "\n")), &out) // no newline at the end
	if err != nil || bad != 13 {
		t.Fatalf("%d bad lines and %v, want 13", bad, err)
	}
	got := strings.Split(strings.TrimSpace(out.String()), "\n")
	if len(got) != len(lines) {
		t.Fatalf("%d lines out of %d", len(got), len(lines))
	}
	for i, g := range got {
		var m map[string]any
		if err := json.Unmarshal([]byte(g), &m); err != nil {
			t.Fatalf("%q: %v", g, err)
		}
		if _, failed := m["error"]; failed != (i > 0 && i < len(lines)-1) {
			t.Errorf("%s gave %s", lines[i], g)
		}
	}
	if !strings.Contains(got[14], `"phat":null`) {
		t.Errorf("no trials: %s", got[14])
	}
}

func TestUnknownName(t *testing.T) {
	if _, err := check.Run("wilsen", strings.NewReader("{}"), &bytes.Buffer{}); !errors.Is(err, check.ErrUnknown) {
		t.Errorf("got %v, want ErrUnknown", err)
	}
}

// Empty, huge and absurd values in every field of every statistic: an error
// object or a figure, never NaN, a panic or silence.
func TestAbsurdFields(t *testing.T) {
	values := []string{`null`, `[]`, `"x"`, `-1`, `0`, `1e300`, `"NaN"`, `"-Inf"`, `{}`, `[[]]`, `[[1,2]]`, `[null]`, `[1e300,1e300]`, `true`, `""`, `[0,0]`, `[0.5,0.5]`}
	fields := strings.Fields("x n level x1 n1 x2 n2 successes trials t y S times status tau at times1 status1 times2 status2 count exposure t1 t2 a b c d table p0 p1 alpha beta reliability confidence failures_allowed gamma_num gamma_den h_units h p k q group session icc weights deff scores groups prior_sd ridge nodes")
	for _, name := range check.Names() {
		for i := range values {
			for j := range values {
				var in []string
				for k, f := range fields {
					v := values[i]
					if k%2 == 1 {
						v = values[j]
					}
					in = append(in, strconv.Quote(f)+":"+v)
				}
				var out bytes.Buffer
				if _, err := check.Run(name, strings.NewReader("{"+strings.Join(in, ",")+"}"), &out); err != nil {
					t.Fatalf("%s: %v", name, err)
				}
				if s := out.String(); !json.Valid(out.Bytes()) || strings.Contains(s, "NaN") && !strings.Contains(s, "error") || strings.Contains(s, "cannot compute this") {
					t.Errorf("%s with %s and %s: %s", name, values[i], values[j], s)
				}
			}
		}
	}
}

func FuzzRun(f *testing.F) {
	for _, s := range []string{
		`{"x":18,"n":20}`, `{"successes":[1,2,3],"trials":[3,3,3]}`, `{"t":[1,2,3],"y":[3,1,2]}`, `{"times":[1,2],"status":[1,0],"at":[1]}`,
		`{"p0":0.1,"p1":0.3,"alpha":0.05,"beta":0.1,"h":2.4}`, `{"x":[1,2,3,4],"y":[0,1,0,1]}`, `{"a":1,"b":2,"c":3,"d":4}`, `{"table":[[1,2],[3,4]]}`,
		`{"x":[1,2,3,4],"y":[0,1,0,1],"group":["a","b","a","b"]}`, `{"x":[0,1,0],"session":[1,1,2]}`,
	} {
		for i := range check.Names() {
			f.Add(i, s)
		}
	}
	f.Fuzz(func(t *testing.T, i int, line string) {
		names := check.Names()
		name := names[(i%len(names)+len(names))%len(names)]
		var out bytes.Buffer
		if _, err := check.Run(name, strings.NewReader(line), &out); err != nil {
			t.Fatal(err)
		}
		for l := range strings.Lines(out.String()) {
			if !json.Valid([]byte(l)) {
				t.Errorf("%s: %q gave %q", name, line, l)
			}
			if strings.Contains(l, "cannot compute this") {
				t.Errorf("%s panics on %q: %s", name, line, l)
			}
		}
	})
}
