package stats_test

import (
	"bufio"
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"firstcue/internal/stats"
)

// oracleCase is one case for R and the comparison of what comes back.
type oracleCase struct {
	line  string
	check func(t *testing.T, r map[string][]float64)
}

func arg(name string, v ...float64) string {
	s := make([]string, len(v))
	for i, x := range v {
		s[i] = strconv.FormatFloat(x, 'g', 17, 64)
	}
	return "\t" + name + "=" + strings.Join(s, " ")
}

func flagsToNumbers(b []bool) []float64 {
	v := make([]float64, len(b))
	for i, x := range b {
		if x {
			v[i] = 1
		}
	}
	return v
}

// same compares with R; NaN stands for R's NA and then got must be absent.
func same(t *testing.T, what string, got stats.Number, want, tol float64) {
	t.Helper()
	switch {
	case math.IsNaN(want):
		if got.OK {
			t.Errorf("%s: got %v, R has none", what, got.V)
		}
	case !got.OK:
		t.Errorf("%s: got none, R has %v", what, want)
	default:
		near(t, what, got.V, want, tol)
	}
}

// TestOracle recomputes a seeded random sample of cases in R (base R and the
// package survival) and compares, then prints the running times of both. It
// needs Rscript and FIRSTCUE_ORACLE=1; FIRSTCUE_ORACLE_SEED changes the sample.
func TestOracle(t *testing.T) {
	if os.Getenv("FIRSTCUE_ORACLE") != "1" {
		t.Skip("SKIPPED: the comparison with R runs only with FIRSTCUE_ORACLE=1 (make oracle)")
	}
	rscript, err := exec.LookPath("Rscript")
	if err != nil {
		t.Skip("SKIPPED: no Rscript on the PATH, so nothing was compared with R")
	}
	seed := uint64(20260301)
	if s := os.Getenv("FIRSTCUE_ORACLE_SEED"); s != "" {
		if seed, err = strconv.ParseUint(s, 10, 64); err != nil {
			t.Fatal(err)
		}
	}
	rng := rand.New(rand.NewPCG(seed, 1))
	var cases []oracleCase
	for range 40 {
		for _, make := range oracleKinds {
			cases = append(cases, make(t, rng))
		}
	}
	var in bytes.Buffer
	for _, c := range cases {
		fmt.Fprintln(&in, c.line)
	}
	fmt.Fprintln(&in, "time")
	path := filepath.Join(t.TempDir(), "cases")
	if err := os.WriteFile(path, in.Bytes(), 0o600); err != nil {
		t.Fatal(err)
	}
	cmd := exec.Command(rscript, "--vanilla", filepath.Join("..", "..", "testdata", "published", "oracle.R"), path)
	cmd.Stderr = os.Stderr
	output, err := cmd.Output()
	if err != nil {
		t.Fatalf("Rscript: %v", err)
	}
	lines := bufio.NewScanner(bytes.NewReader(output))
	lines.Buffer(nil, 1<<26)
	next := func() map[string][]float64 {
		if !lines.Scan() {
			t.Fatal("R gave fewer lines than cases")
		}
		r := map[string][]float64{}
		for _, f := range strings.Split(lines.Text(), "\t") {
			name, values, _ := strings.Cut(f, "=")
			for _, v := range strings.Fields(values) {
				x := math.NaN()
				if v != "NA" {
					if x, err = strconv.ParseFloat(v, 64); err != nil {
						t.Fatal(err)
					}
				}
				r[name] = append(r[name], x)
			}
		}
		return r
	}
	for i, c := range cases {
		r := next()
		kind, _, _ := strings.Cut(c.line, "\t")
		if !t.Run(fmt.Sprintf("%s_%d", kind, i/len(oracleKinds)), func(t *testing.T) { c.check(t, r) }) && len(c.line) < 2000 {
			t.Logf("case: %q", c.line)
		}
	}
	compareTimes(t, next())
	t.Logf("compared %d cases with R, seed %d", len(cases), seed)
}

func compareTimes(t *testing.T, r map[string][]float64) {
	rng := rand.New(rand.NewPCG(1, 1))
	x, y := make([]float64, 500), make([]float64, 500)
	for i := range x {
		x[i], y[i] = float64(i+1), 0.01*float64(i)+rng.NormFloat64()
	}
	times, event := make([]float64, 100_000), make([]bool, 100_000)
	for i := range times {
		times[i], event[i] = math.Round(1000*rng.ExpFloat64())/1000, rng.Float64() < 0.7
	}
	clock := func(n int, f func()) float64 {
		f()
		start := time.Now()
		for range n {
			f()
		}
		return float64(time.Since(start).Microseconds()) / 1000 / float64(n)
	}
	for _, c := range []struct {
		what string
		r    float64
		here float64
	}{
		{"Mann-Kendall, 500 points", r["mk500_ms"][0], clock(100, func() { stats.MannKendall(x, y) })},
		{"Theil-Sen, 500 points", r["sen500_ms"][0], clock(100, func() { stats.TheilSen(x, y, 0.95) })},
		{"Kaplan-Meier, 100,000 rows", r["km100k_ms"][0], clock(10, func() { stats.KaplanMeier(times, event) })},
	} {
		t.Logf("%-28s R %8.2f ms, here %7.3f ms: %.0f times as fast", c.what, c.r, c.here, c.r/c.here)
	}
}

var levels = []float64{0.8, 0.9, 0.95, 0.99}

func pick[T any](r *rand.Rand, v []T) T { return v[r.IntN(len(v))] }

// size is small mostly, large now and then.
func size(r *rand.Rand, small, large int) int {
	if r.IntN(5) == 0 {
		return 1 + r.IntN(large)
	}
	return 1 + r.IntN(small)
}

var oracleKinds = []func(*testing.T, *rand.Rand) oracleCase{
	func(t *testing.T, r *rand.Rand) oracleCase {
		n := size(r, 60, 1_000_000)
		x, level := float64(r.IntN(n+1)), pick(r, levels)
		return oracleCase{"wilson" + arg("x", x) + arg("n", float64(n)) + arg("level", level), func(t *testing.T, o map[string][]float64) {
			iv, err := stats.Wilson(x, float64(n), level)
			fatal(t, err)
			near(t, "lower", iv.Lower, o["lower"][0], 1e-9)
			near(t, "upper", iv.Upper, o["upper"][0], 1e-9)
		}}
	},
	func(t *testing.T, r *rand.Rand) oracleCase {
		n1, n2 := size(r, 60, 100_000), size(r, 60, 100_000)
		x1, x2, level := float64(r.IntN(n1+1)), float64(r.IntN(n2+1)), pick(r, levels)
		return oracleCase{"newcombe" + arg("x1", x1) + arg("n1", float64(n1)) + arg("x2", x2) + arg("n2", float64(n2)) + arg("level", level),
			func(t *testing.T, o map[string][]float64) {
				d, err := stats.Newcombe(x1, float64(n1), x2, float64(n2), level)
				fatal(t, err)
				near(t, "lower", d.Lower, o["lower"][0], 1e-9)
				near(t, "upper", d.Upper, o["upper"][0], 1e-9)
			}}
	},
	func(t *testing.T, r *rand.Rand) oracleCase {
		x, n := []float64{1}, []float64{3} // so that the trials are mixed
		for range 2 + r.IntN(15) {
			m := size(r, 10, 300)
			x, n = append(x, float64(r.IntN(m+1))), append(n, float64(m))
		}
		level := pick(r, levels)
		return oracleCase{"effective" + arg("x", x...) + arg("n", n...) + arg("level", level), func(t *testing.T, o map[string][]float64) {
			c, err := stats.Cluster(x, n, level)
			fatal(t, err)
			same(t, "deff_raw", c.DeffRaw, o["deff_raw"][0], 1e-9)
			same(t, "icc_raw", c.ICCRaw, o["icc_raw"][0], 1e-9)
			same(t, "neff_kg", c.NeffKG, o["neff_kg"][0], 1e-9)
			same(t, "beta_lower", c.LowerBeta, o["beta_lower"][0], 1e-9)
			same(t, "beta_upper", c.UpperBeta, o["beta_upper"][0], 1e-9)
		}}
	},
	func(t *testing.T, r *rand.Rand) oracleCase {
		x, n, s := []float64{1}, []float64{3}, []float64{0}
		for i := range 2 + r.IntN(15) {
			m := size(r, 10, 300)
			x, n, s = append(x, float64(r.IntN(m+1))), append(n, float64(m)), append(s, float64(i+1)+r.Float64())
		}
		return oracleCase{"trend" + arg("x", x...) + arg("n", n...) + arg("s", s...), func(t *testing.T, o map[string][]float64) {
			c, err := stats.CochranArmitage(x, n, s, nil)
			fatal(t, err)
			near(t, "chisq", c.Z.V*c.Z.V, o["chisq"][0], 1e-9)
			near(t, "p", c.PTwoSided, o["p"][0], 1e-9)
		}}
	},
	func(t *testing.T, r *rand.Rand) oracleCase {
		x, y := trendSample(r)
		return oracleCase{"kendall" + arg("t", x...) + arg("y", y...), func(t *testing.T, o map[string][]float64) {
			m, err := stats.MannKendall(x, y)
			fatal(t, err)
			near(t, "S", m.S, o["S"][0], 0)
			same(t, "tau_b", m.TauB, o["tau_b"][0], 1e-9)
			// R leaves z at -0.5 or so where S is 0; ours is 0 there.
			if m.S != 0 {
				same(t, "z", m.Z, o["z"][0], 1e-9)
			}
			if p := o["p_exact"][0]; !math.IsNaN(p) && len(y) < 50 {
				near(t, "p_exact", m.PTwoSided, p, 1e-9)
			}
		}}
	},
	func(t *testing.T, r *rand.Rand) oracleCase {
		x, y := trendSample(r)
		x[0] = -1
		return oracleCase{"sen" + arg("t", x...) + arg("y", y...), func(t *testing.T, o map[string][]float64) {
			f, err := stats.TheilSen(x, y, 0.95)
			fatal(t, err)
			near(t, "slope", f.Slope, o["slope"][0], 1e-9)
			near(t, "n_slopes", float64(f.NSlopes), o["n_slopes"][0], 0)
			near(t, "separate", f.InterceptSeparate, o["separate"][0], 1e-9)
			near(t, "joint", f.InterceptJoint, o["joint"][0], 1e-9)
		}}
	},
	func(t *testing.T, r *rand.Rand) oracleCase {
		times, event := survivalSample(r)
		level := pick(r, levels)
		return oracleCase{"km" + arg("times", times...) + arg("status", flagsToNumbers(event)...) + arg("level", level), func(t *testing.T, o map[string][]float64) {
			compareCurve(t, times, event, level, o)
		}}
	},
	func(t *testing.T, r *rand.Rand) oracleCase {
		t1, e1 := survivalSample(r)
		t2, e2 := survivalSample(r)
		e1[0], t2[0] = true, 1e6 // an event, with somebody of the other group at risk
		return oracleCase{"logrank" + arg("times1", t1...) + arg("status1", flagsToNumbers(e1)...) + arg("times2", t2...) + arg("status2", flagsToNumbers(e2)...),
			func(t *testing.T, o map[string][]float64) {
				l, err := stats.LogRank(t1, e1, t2, e2)
				fatal(t, err)
				near(t, "E1", l.E1, o["E1"][0], 1e-9)
				near(t, "var", l.Var, o["var"][0], 1e-9)
				same(t, "chisq", l.ChiSq, o["chisq"][0], 1e-9)
			}}
	},
	func(t *testing.T, r *rand.Rand) oracleCase {
		x, e, level := float64(size(r, 30, 1_000_000)-1), math.Exp(4*r.NormFloat64()), pick(r, levels)
		return oracleCase{"poisson" + arg("x", x) + arg("t", e) + arg("level", level), func(t *testing.T, o map[string][]float64) {
			g, err := stats.Garwood(x, e, level)
			fatal(t, err)
			near(t, "lower", g.Lower, o["lower"][0], 1e-9)
			near(t, "upper", g.Upper, o["upper"][0], 1e-9)
		}}
	},
	func(t *testing.T, r *rand.Rand) oracleCase {
		x1, x2 := float64(size(r, 20, 20_000)-1), float64(size(r, 20, 20_000)-1)
		t1, t2, level := math.Exp(r.NormFloat64()), math.Exp(r.NormFloat64()), pick(r, levels)
		return oracleCase{"rates" + arg("x1", x1) + arg("t1", t1) + arg("x2", x2) + arg("t2", t2) + arg("level", level),
			func(t *testing.T, o map[string][]float64) {
				c, err := stats.CompareRates(x1, t1, x2, t2, level)
				fatal(t, err)
				near(t, "p", c.PTwoMinLik, o["p"][0], 1e-9)
				near(t, "greater", c.PGreater, o["greater"][0], 1e-9)
				if x1+x2 > 0 {
					same(t, "lower", c.RRLower, o["lower"][0], 1e-9)
					same(t, "upper", c.RRUpper, o["upper"][0], 1e-9)
				}
			}}
	},
	func(t *testing.T, r *rand.Rand) oracleCase {
		var v [4]float64
		for i := range v {
			v[i] = float64(size(r, 12, 2000) - 1)
		}
		v[0]++
		level := pick(r, levels)
		return oracleCase{"fisher" + arg("a", v[0]) + arg("b", v[1]) + arg("c", v[2]) + arg("d", v[3]) + arg("level", level),
			func(t *testing.T, o map[string][]float64) {
				f, err := stats.Fisher(v[0], v[1], v[2], v[3], level)
				fatal(t, err)
				near(t, "p", f.PTwoMinLik, o["p"][0], 1e-9)
				near(t, "less", f.PLess, o["less"][0], 1e-9)
				near(t, "greater", f.PGreater, o["greater"][0], 1e-9)
				if f.ORCondMLE.OK {
					same(t, "or", f.ORCondMLEAsR, o["or"][0], 1e-8)
				}
				same(t, "lower", f.ORLowerAsR, o["lower"][0], 1e-8)
				same(t, "upper", f.ORUpperAsR, o["upper"][0], 1e-8)
			}}
	},
	func(t *testing.T, r *rand.Rand) oracleCase {
		var d stats.LogisticData
		var x1, x2 []float64
		for range 8 + r.IntN(40) {
			a, b := r.NormFloat64(), 3+10*r.Float64()
			n := 5 + r.IntN(20)
			y := 0
			for range n {
				if r.Float64() < 1/(1+math.Exp(-(0.5+0.8*a-0.1*(b-8)))) {
					y++
				}
			}
			x1, x2 = append(x1, a), append(x2, b)
			d.X = append(d.X, []float64{1, a, b})
			d.Y, d.N, d.W = append(d.Y, float64(y)), append(d.N, float64(n)), append(d.W, 0.2+r.Float64())
		}
		return oracleCase{"logistic" + arg("y", d.Y...) + arg("n", d.N...) + arg("w", d.W...) + arg("x1", x1...) + arg("x2", x2...),
			func(t *testing.T, o map[string][]float64) {
				f, err := stats.Logistic(d)
				fatal(t, err)
				for j := range 3 {
					near(t, "coef", f.Coef[j], o["coef"][j], 1e-8)
					near(t, "se", f.SE[j], o["se"][j], 1e-7)
					for i := range 3 {
						near(t, "cov", f.Cov[i][j], o["cov"][3*i+j], 1e-7)
					}
				}
				near(t, "deviance", f.Deviance, o["deviance"][0], 1e-9)
				same(t, "null", f.NullDeviance, o["null"][0], 1e-9)
			}}
	},
	func(t *testing.T, r *rand.Rand) oracleCase {
		var p []float64
		for range 1 + r.IntN(30) {
			p = append(p, math.Round(1e3*math.Pow(r.Float64(), 3))/1e3)
		}
		return oracleCase{"adjust" + arg("p", p...), func(t *testing.T, o map[string][]float64) {
			h, err := stats.Holm(p)
			fatal(t, err)
			b, err := stats.BenjaminiHochberg(p)
			fatal(t, err)
			for i := range p {
				near(t, "holm", h[i], o["holm"][i], 1e-12)
				near(t, "bh", b[i], o["bh"][i], 1e-12)
			}
		}}
	},
	func(t *testing.T, r *rand.Rand) oracleCase {
		q, a, b := r.Float64(), math.Exp(2*r.NormFloat64()), math.Exp(2*r.NormFloat64())
		return oracleCase{"beta" + arg("q", q) + arg("a", a) + arg("b", b), func(t *testing.T, o map[string][]float64) {
			v, err := stats.BetaQuantile(q, a, b)
			fatal(t, err)
			near(t, "quantile", v, o["q"][0], 1e-9)
		}}
	},
	func(t *testing.T, r *rand.Rand) oracleCase {
		n := size(r, 40, 100_000)
		k, p := r.IntN(n+1), r.Float64()
		return oracleCase{"binomial" + arg("k", float64(k)) + arg("n", float64(n)) + arg("p", p), func(t *testing.T, o map[string][]float64) {
			le, ge, err := stats.BinomialTail(k, n, p)
			fatal(t, err)
			near(t, "at most", le, o["le"][0], 1e-9)
			near(t, "at least", ge, o["ge"][0], 1e-9)
		}}
	},
}

func fatal(t *testing.T, err error) {
	t.Helper()
	if err != nil {
		t.Fatal(err)
	}
}

// trendSample draws a short or longer series, with ties in value, in time, in
// both or in neither.
func trendSample(r *rand.Rand) (x, y []float64) {
	n := 2 + size(r, 20, 120)
	tieY, tieT := r.IntN(2) == 0, r.IntN(3) == 0
	for i := range n {
		ti, v := float64(i), 0.05*float64(i)+r.NormFloat64()
		if tieT {
			ti = math.Floor(ti / 2)
		}
		if tieY {
			v = math.Round(v)
		}
		x, y = append(x, ti), append(y, v)
	}
	y[0] = y[n-1] + 1 // never all alike
	r.Shuffle(n, func(i, j int) { x[i], x[j], y[i], y[j] = x[j], x[i], y[j], y[i] })
	return x, y
}

func survivalSample(r *rand.Rand) (times []float64, event []bool) {
	coarse, censored := r.IntN(2) == 0, r.Float64()
	for range size(r, 40, 400) {
		t := math.Round(1e5*r.ExpFloat64()) / 1e4 // R takes times closer than 1.5e-8 for equal
		if coarse {
			t = math.Ceil(t)
		}
		times, event = append(times, t), append(event, r.Float64() > censored)
	}
	return times, event
}

func compareCurve(t *testing.T, times []float64, event []bool, level float64, o map[string][]float64) {
	s, err := stats.KaplanMeier(times, event)
	fatal(t, err)
	if len(o["time"]) != len(s.Points) {
		t.Fatalf("%d points, R has %d", len(s.Points), len(o["time"]))
	}
	for i, p := range s.Points {
		near(t, "time", p.Time, o["time"][i], 1e-12)
		near(t, "at risk", float64(p.AtRisk), o["n_risk"][i], 0)
		near(t, "events", float64(p.Events), o["n_event"][i], 0)
		near(t, "surv", p.Surv, o["surv"][i], 1e-9)
		if p.Surv > 0 {
			same(t, "se", p.SE, o["se"][i], 1e-9)
		}
		for name, tr := range map[string]stats.Transform{"plain": stats.Plain, "log": stats.Log, "loglog": stats.LogLog} {
			lo, hi, err := s.Limits(i, level, tr)
			fatal(t, err)
			same(t, name+" lower", lo, o["lower_"+name][i], 1e-9)
			same(t, name+" upper", hi, o["upper_"+name][i], 1e-9)
		}
	}
	for name, tr := range map[string]stats.Transform{"plain": stats.Plain, "log": stats.Log, "loglog": stats.LogLog} {
		lo, hi, err := s.QuantileLimits(0.5, level, tr)
		fatal(t, err)
		same(t, name+" median lower", lo, o["med_lower_"+name][0], 1e-9)
		same(t, name+" median upper", hi, o["med_upper_"+name][0], 1e-9)
	}
	_, mid := s.Median()
	same(t, "median", mid, o["median"][0], 1e-9)
	for name, q := range map[string]float64{"q25": 0.25, "q75": 0.75} {
		if o[name][0] == -1 { // a matter of convention, see oracle.R
			continue
		}
		_, mid := s.Quantile(q)
		same(t, name, mid, o[name][0], 1e-9)
	}
	m, se, err := s.RestrictedMean(s.Points[len(s.Points)-1].Time)
	fatal(t, err)
	near(t, "rmean", m, o["rmean"][0], 1e-9)
	near(t, "se rmean", se, o["se_rmean"][0], 1e-9)
}
