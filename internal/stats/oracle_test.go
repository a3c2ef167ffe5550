package stats_test

import (
	"bytes"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"testing"

	"firstcue/internal/stats"
)

// figures are named lists of numbers, NaN where there is none.
type figures map[string][]float64

// oracleCase is one question to R and our own answer to it.
type oracleCase struct {
	kind      string
	ask, here figures
	tolerance float64
}

// TestOracle recomputes a seeded random sample of cases in R (base R and the
// package survival) and compares. It needs Rscript and FIRSTCUE_ORACLE=1;
// FIRSTCUE_ORACLE_SEED changes the sample.
func TestOracle(t *testing.T) {
	if os.Getenv("FIRSTCUE_ORACLE") != "1" {
		t.Skip("SKIPPED: the comparison with R runs only with FIRSTCUE_ORACLE=1 (make oracle)")
	}
	seed := uint64(20260301)
	if s := os.Getenv("FIRSTCUE_ORACLE_SEED"); s != "" {
		var err error
		seed, err = strconv.ParseUint(s, 10, 64)
		fatal(t, err)
	}
	rng := rand.New(rand.NewPCG(seed, 1))
	var cases []oracleCase
	var in bytes.Buffer
	for range 40 {
		for _, draw := range oracleKinds {
			c := draw(rng)
			cases = append(cases, c)
			fmt.Fprint(&in, c.kind)
			for name, v := range c.ask {
				fmt.Fprintf(&in, "\t%s=%s", name, strings.Trim(fmt.Sprint(v), "[]"))
			}
			fmt.Fprintln(&in)
		}
	}
	path := filepath.Join(t.TempDir(), "cases")
	fatal(t, os.WriteFile(path, in.Bytes(), 0o600))
	cmd := exec.Command("Rscript", "--vanilla", filepath.Join("..", "..", "testdata", "published", "oracle.R"), path)
	cmd.Stderr = os.Stderr
	output, err := cmd.Output()
	fatal(t, err)
	lines := strings.Split(strings.TrimSpace(string(output)), "\n")
	if len(lines) != len(cases) {
		t.Fatalf("R gave %d lines for %d cases", len(lines), len(cases))
	}
	compared := 0
	for i, c := range cases {
		for name, want := range oracleAnswer(t, lines[i]) {
			got, ok := c.here[name]
			if !ok || len(got) != len(want) {
				t.Fatalf("%s %v: %d figures for %s, R has %d", c.kind, c.ask, len(got), name, len(want))
			}
			for k, w := range want {
				compared++
				if math.IsNaN(w) != math.IsNaN(got[k]) || math.Abs(got[k]-w) > c.tolerance*math.Max(1, math.Abs(w)) {
					t.Errorf("%s %v: %s is %v, R has %v", c.kind, c.ask, name, got[k], w)
				}
			}
		}
	}
	t.Logf("compared %d figures of %d cases with R, seed %d", compared, len(cases), seed)
}

// oracleAnswer reads name=value value ..., parted by tabs, with NA for NaN.
func oracleAnswer(t *testing.T, line string) figures {
	f := figures{}
	for field := range strings.SplitSeq(line, "\t") {
		name, values, _ := strings.Cut(field, "=")
		f[name] = numbers(t, strings.Fields(strings.ReplaceAll(values, "NA", "NaN")))
	}
	return f
}

func (f figures) set(name string, n stats.Number) {
	v := n.V
	if !n.OK {
		v = math.NaN()
	}
	f[name] = append(f[name], v)
}

// one is the answer of a function to input that is known to be good.
func one[T any](v T, err error) T {
	if err != nil {
		panic(err)
	}
	return v
}

// size is small mostly, large now and then.
func size(r *rand.Rand, small, large int) int {
	if r.IntN(5) == 0 {
		return 1 + r.IntN(large)
	}
	return 1 + r.IntN(small)
}

func level(r *rand.Rand) float64 { return []float64{0.8, 0.9, 0.95, 0.99}[r.IntN(4)] }

// sessions draws successes, trials and scores; the trials are mixed.
func sessions(r *rand.Rand) (x, n, s []float64) {
	x, n, s = []float64{1}, []float64{3}, []float64{0}
	for i := range 2 + r.IntN(15) {
		m := size(r, 10, 300)
		x, n, s = append(x, float64(r.IntN(m+1))), append(n, float64(m)), append(s, float64(i+1)+r.Float64())
	}
	return x, n, s
}

// series draws times that ascend and values, with ties or without.
func series(r *rand.Rand) (t, y []float64) {
	ties := r.IntN(2) == 0
	for i := range 2 + size(r, 20, 120) {
		v := 0.05*float64(i) + r.NormFloat64()
		if ties {
			v = math.Round(v)
		}
		t, y = append(t, float64(i)+r.Float64()/2), append(y, v)
	}
	y[0] = y[len(y)-1] + 1 // never all alike
	return t, y
}

var oracleKinds = []func(*rand.Rand) oracleCase{
	func(r *rand.Rand) oracleCase {
		n, l := float64(size(r, 60, 1_000_000)), level(r)
		x := float64(r.IntN(int(n) + 1))
		iv := one(stats.Wilson(x, n, l))
		return oracleCase{"wilson", figures{"x": {x}, "n": {n}, "level": {l}}, figures{"lower": {iv.Lower}, "upper": {iv.Upper}}, 1e-9}
	},
	func(r *rand.Rand) oracleCase {
		x, n, _ := sessions(r)
		c := one(stats.Cluster(x, n, 0, 0, 0.95))
		here := figures{"m_weighted": {c.MeanSize}}
		here.set("icc_raw", c.ICCRaw)
		return oracleCase{"effective", figures{"x": x, "n": n}, here, 1e-9}
	},
	func(r *rand.Rand) oracleCase {
		x, n, s := sessions(r)
		c := one(stats.CochranArmitage(x, n, s, nil))
		return oracleCase{"trend", figures{"x": x, "n": n, "s": s}, figures{"chisq": {c.Z.V * c.Z.V}, "p": {c.PTwoSided}}, 1e-9}
	},
	func(r *rand.Rand) oracleCase {
		t, y := series(r)
		m := one(stats.MannKendall(y))
		here := figures{"S": {m.S}, "p_exact": {m.PTwoSided}}
		here.set("tau_b", m.TauB)
		here.set("z", m.Z)
		if len(y) >= 50 || slices.Max(y) == math.Round(slices.Max(y)) { // R is exact without ties only
			here["p_exact"][0] = math.NaN()
		}
		return oracleCase{"kendall", figures{"t": t, "y": y}, here, 1e-9}
	},
	func(r *rand.Rand) oracleCase {
		t, y := series(r)
		f := one(stats.TheilSen(t, y, 0.95))
		return oracleCase{"sen", figures{"t": t, "y": y}, figures{"slope": {f.Slope}, "n_slopes": {float64(f.NSlopes)}}, 1e-9}
	},
	survivalCase,
	func(r *rand.Rand) oracleCase {
		x, e, l := float64(size(r, 30, 1_000_000)-1), math.Exp(4*r.NormFloat64()), level(r)
		g := one(stats.Garwood(x, e, l))
		return oracleCase{"poisson", figures{"x": {x}, "t": {e}, "level": {l}}, figures{"lower": {g.Lower}, "upper": {g.Upper}}, 1e-9}
	},
}

func survivalCase(r *rand.Rand) oracleCase {
	coarse, censored, l := r.IntN(2) == 0, r.Float64(), level(r)
	var times, status []float64
	var event []bool
	for range size(r, 40, 400) {
		t := math.Round(1e5*r.ExpFloat64()) / 1e4 // R takes times closer than 1.5e-8 for equal
		if coarse {
			t = math.Ceil(t)
		}
		event = append(event, r.Float64() > censored)
		times, status = append(times, t), append(status, map[bool]float64{true: 1}[event[len(event)-1]])
	}
	s := one(stats.KaplanMeier(times, event))
	here := figures{}
	for _, p := range s.Points {
		here["time"] = append(here["time"], p.Time)
		here["n_risk"] = append(here["n_risk"], float64(p.AtRisk))
		here["n_event"] = append(here["n_event"], float64(p.Events))
		here["surv"] = append(here["surv"], p.Surv)
		here.set("se", p.SE)
		lower, upper := p.Limits(l)
		here.set("lower", lower)
		here.set("upper", upper)
	}
	_, mid := s.Median()
	here.set("median", mid)
	lower, upper, err := s.MedianLimits(l)
	one(0, err)
	here.set("med_lower", lower)
	here.set("med_upper", upper)
	return oracleCase{"km", figures{"times": times, "status": status, "level": {l}}, here, 1e-9}
}
