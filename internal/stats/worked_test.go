package stats_test

import (
	"errors"
	"math"
	"testing"

	"firstcue/internal/stats"
)

// The blend worked by hand from the analysis-of-variance correlation of the
// published table: (k ICC + 10 x 0.10)/(k + 10), at least 0.
func TestShrunkICC(t *testing.T) {
	want := map[string]float64{
		"sessions10":      (10*0.516348773842 + 1) / 20,
		"weil_control":    (16*0.0290913854399 + 1) / 26,
		"equal_deff_lt_1": 0,    // (6 x -0.190 + 1)/16 is below 0
		"one_session":     0.10, // no estimate: the prior
		"all_success":     0.10,
		"singletons":      0.10,
	}
	for _, r := range published(t, "03_cluster_wilson.csv") {
		if w, ok := want[r["id"]]; ok {
			c, err := stats.Cluster(r.list(t, "successes"), r.list(t, "trials"), stats.DefaultICC, stats.DefaultICCSessions, 0.95)
			fatal(t, err)
			near(t, r["id"], c.ICC, w, 1e-9)
			near(t, r["id"]+" design effect", c.Deff, 1+(c.MeanSize-1)*w, 1e-9)
		}
	}
	// Another prior and weight.
	got, _, err := stats.ShrunkICC([]float64{0, 10}, []float64{10, 10}, 0.2, 6)
	fatal(t, err)
	near(t, "two extreme sessions", got, (2*1+6*0.2)/8, 1e-12)
}

// A design effect divides the counts, so it divides z by its root; R 4.2.2
// prop.trend.test gives chi-square 8.2249 for the armitage-type table of
// smokers in its own help page (83 90 129 70 of 86 93 136 82).
func TestCochranArmitage(t *testing.T) {
	x, n, s := []float64{83, 90, 129, 70}, []float64{86, 93, 136, 82}, []float64{1, 2, 3, 4}
	plain, err := stats.CochranArmitage(x, n, s, nil)
	fatal(t, err)
	printed(t, "chi-square", "8.2249", plain.Z.V*plain.Z.V)
	printed(t, "p", ".004132", plain.PTwoSided)
	half, err := stats.CochranArmitage(x, n, s, []float64{2, 2, 2, 2})
	fatal(t, err)
	near(t, "design effect 2", half.Z.V*math.Sqrt2, plain.Z.V, 1e-12)
	for name, c := range map[string][3][]float64{"all alike": {n, n, s}, "one score": {x, n, {1, 1, 1, 1}}} {
		if r, err := stats.CochranArmitage(c[0], c[1], c[2], nil); err != nil || r.Z.OK || r.PTwoSided != 1 || r.PIncreasing != 1 {
			t.Errorf("%s: %+v, %v", name, r, err)
		}
	}
}

// Every value of S that the published table of the exact distribution has, met
// by a series of 1..n with that many inversions.
func TestKendallExactTable(t *testing.T) {
	for _, r := range published(t, "04_kendall_exact_table.csv") {
		n, s := int(r.num(t, "n")), int(r.num(t, "S"))
		rest := (n*(n-1)/2 - s) / 2
		var y []float64
		for v := 1; v <= n; v++ { // v stands before as many smaller ones as it may
			at := len(y) - min(rest, len(y))
			rest -= len(y) - at
			y = append(y[:at:at], append([]float64{float64(v)}, y[at:]...)...)
		}
		m, err := stats.MannKendall(y)
		fatal(t, err)
		if !m.Exact || m.S != float64(s) {
			t.Fatalf("%v: S is %v, want %v", y, m.S, s)
		}
		near(t, r["n"]+" "+r["S"]+" upper", m.PIncreasing, r.num(t, "p_upper"), 1e-11)
		near(t, r["n"]+" "+r["S"]+" two-sided", m.PTwoSided, r.num(t, "p_two_sided"), 1e-11)
	}
}

// Beyond 60 values the normal form: 100 values that always rise but for the
// first, which is the largest. S = 99*98/2 - 99 and Var S = 100*99*205/18.
func TestMannKendallNormal(t *testing.T) {
	y := []float64{1000}
	for i := range 99 {
		y = append(y, float64(i))
	}
	m, err := stats.MannKendall(y)
	fatal(t, err)
	z := (4752 - 1) / math.Sqrt(100*99*205/18.0)
	near(t, "z", m.Z.V, z, 1e-12)
	near(t, "p", m.PIncreasing, math.Erfc(z/math.Sqrt2)/2, 1e-15)
	if m.Exact {
		t.Error("a series of 100 is called exact")
	}
}

// Between two times and before the first; Wilson limits at the size
// S(1-S)/se^2. Freireich 1963, 6-MP arm.
func TestSurvivalAt(t *testing.T) {
	r := published(t, "05_km_summary.csv")[0]
	s, err := stats.KaplanMeier(r.list(t, "times"), bools(r.list(t, "status")))
	fatal(t, err)
	a, err := s.At(3, 0.95)
	fatal(t, err)
	if a.AtRisk != 21 || a.Surv.V != 1 || a.Neff.V != 21 || a.WilsonUpper.V != 1 {
		t.Errorf("before the first time: %+v", a)
	}
	a, err = s.At(6.5, 0.95) // three of 21 relapsed at 6, one was censored
	fatal(t, err)
	near(t, "size", a.Neff.V, 21, 1e-9)
	iv, err := stats.Wilson(18, 21, 0.95)
	fatal(t, err)
	near(t, "lower", a.WilsonLower.V, iv.Lower, 1e-12)
	near(t, "upper", a.WilsonUpper.V, iv.Upper, 1e-12)
	if a.AtRisk != 17 {
		t.Errorf("%d at risk after 6, want 17", a.AtRisk)
	}
	if a, err = s.At(36, 0.95); err != nil || a.Surv.OK || a.Neff.OK {
		t.Errorf("beyond the last time: %+v, %v", a, err)
	}
}

// Equality signals: the path -1 -1 4 3 7 11 10 9 13 17 of the published case
// reaches 13 at its ninth trial.
// Minus zero is zero: one time, not two.
func TestMinusZeroTime(t *testing.T) {
	s, err := stats.KaplanMeier([]float64{1, 0, math.Copysign(0, -1)}, []bool{true, true, false})
	fatal(t, err)
	if len(s.Points) != 2 || s.Points[0].AtRisk != 3 || s.Points[0].Censored != 1 {
		t.Errorf("%+v", s.Points)
	}
}

func TestImpossibleInput(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	second := func(_ any, err error) error { return err }
	for name, err := range map[string]error{
		"more yes than trials":  second(stats.Wilson(21, 20, 0.95)),
		"negative":              second(stats.Wilson(-1, 20, 0.95)),
		"not a number":          second(stats.Wilson(nan, 20, 0.95)),
		"infinite":              second(stats.Wilson(1, inf, 0.95)),
		"level 0":               second(stats.Wilson(1, 2, 0)),
		"level 1":               second(stats.Wilson(1, 2, 1)),
		"sessions of two kinds": second(stats.Cluster([]float64{1}, []float64{1, 2}, 0.1, 10, 0.95)),
		"no trials":             second(stats.Cluster([]float64{0}, []float64{0}, 0.1, 10, 0.95)),
		"trend of nothing":      second(stats.MannKendall(nil)),
		"trend of NaN":          second(stats.MannKendall([]float64{1, nan})),
		"one time only":         second(stats.TheilSen([]float64{1, 1}, []float64{1, 2}, 0.95)),
		"a slope overflows":     second(stats.TheilSen([]float64{0, 5e-324}, []float64{0, 1e150}, 0.95)),
		"too many pairs":        second(stats.TheilSen(nil, make([]float64, 20_000), 0.95)),
		"curve of nothing":      second(stats.KaplanMeier(nil, nil)),
		"negative time":         second(stats.KaplanMeier([]float64{-14}, []bool{true})),
		"no exposure":           second(stats.Garwood(1, 0, 0.95)),
		"half a break":          second(stats.Garwood(0.5, 1, 0.95)),
		"not square":            second(stats.Kappa([][]float64{{1, 2}}, 0.95)),
		"table of nothing":      second(stats.Kappa(nil, 0.95)),
	} {
		if !errors.Is(err, stats.ErrInput) {
			t.Errorf("%s: %v", name, err)
		}
	}
}
