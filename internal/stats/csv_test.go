package stats_test

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
)

// The tables of testdata/published give inputs, values computed in R 4.2.2
// (and again in Python), digits as printed in publications where there are
// any, and the source of each row in the column "source".

type row map[string]string

func readCSV(t testing.TB, path string) []row {
	t.Helper()
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	all, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	if len(all) < 2 {
		t.Fatalf("%s: no rows", path)
	}
	rows := make([]row, 0, len(all)-1)
	for _, rec := range all[1:] {
		r := row{}
		for i, h := range all[0] {
			r[h] = rec[i]
		}
		rows = append(rows, r)
	}
	return rows
}

func published(t testing.TB, name string) []row {
	t.Helper()
	return readCSV(t, filepath.Join("..", "..", "testdata", "published", name))
}

func (r row) num(t testing.TB, col string) float64 {
	t.Helper()
	s, ok := r[col]
	if !ok {
		t.Fatalf("no column %q", col)
	}
	v, err := strconv.ParseFloat(s, 64)
	if err != nil {
		t.Fatalf("column %q: %v", col, err)
	}
	return v
}

func (r row) list(t testing.TB, col string) []float64 { return numbers(t, strings.Fields(r[col])) }

func numbers(t testing.TB, fields []string) []float64 {
	t.Helper()
	v := make([]float64, len(fields))
	for i, f := range fields {
		x, err := strconv.ParseFloat(f, 64)
		if err != nil {
			t.Fatal(err)
		}
		v[i] = x
	}
	return v
}

func bools(v []float64) []bool {
	b := make([]bool, len(v))
	for i, x := range v {
		b[i] = x != 0
	}
	return b
}

// near fails unless got is within tol of want, absolutely for values below 1
// and relatively above.
func near(t testing.TB, what string, got, want, tol float64) {
	t.Helper()
	if math.IsInf(want, 0) || math.IsInf(got, 0) {
		if got != want {
			t.Errorf("%s: got %v, want %v", what, got, want)
		}
		return
	}
	if !(math.Abs(got-want) <= tol*math.Max(1, math.Abs(want))) {
		t.Errorf("%s: got %.12g, want %.12g (off by %.2g)", what, got, want, got-want)
	}
}

// printed compares with digits as published: half a unit of the last one.
func printed(t testing.TB, what, digits string, got float64) {
	t.Helper()
	want, err := strconv.ParseFloat(digits, 64)
	if err != nil {
		t.Fatalf("%s: %q is not a number", what, digits)
	}
	unit := 1.0
	if i := strings.IndexByte(digits, '.'); i >= 0 {
		unit = math.Pow(10, -float64(len(digits)-i-1))
	}
	if math.Abs(got-want) > unit/2*(1+1e-9) {
		t.Errorf("%s: got %.10g, printed %s", what, got, digits)
	}
}

func fatal(t testing.TB, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}
