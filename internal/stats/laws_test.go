package stats_test

import (
	"math"
	"math/big"
	"testing"

	"pgregory.net/rapid"

	"firstcue/internal/stats"
)

// Laws that hold for every input, on invented data.

func drawLevel(t *rapid.T) float64 { return rapid.Float64Range(0.5, 0.999).Draw(t, "level") }

func drawSessions(t *rapid.T) (x, n []float64) {
	for range rapid.IntRange(1, 12).Draw(t, "sessions") {
		m := rapid.IntRange(1, 12).Draw(t, "trials")
		x, n = append(x, float64(rapid.IntRange(0, m).Draw(t, "yes"))), append(n, float64(m))
	}
	return x, n
}

func must[T any](t interface{ Fatal(...any) }) func(T, error) T {
	return func(v T, err error) T {
		if err != nil {
			t.Fatal(err)
		}
		return v
	}
}

const slack = 1e-12

func TestWilsonLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.Float64Range(0.01, 1e6).Draw(t, "n")
		x := rapid.Float64Range(0, 1).Draw(t, "share") * n
		level := drawLevel(t)
		wilson := func(x, n, level float64) stats.Interval { return must[stats.Interval](t)(stats.Wilson(x, n, level)) }
		iv := wilson(x, n, level)
		if !(0 <= iv.Lower && iv.Lower <= x/n+slack && x/n <= iv.Upper+slack && iv.Upper <= 1) {
			t.Fatalf("%v of %v: %v", x, n, iv)
		}
		// One more success, and a miss turned into a success, never lower a limit.
		more := wilson(x+1, n+1, level)
		if more.Lower < iv.Lower-slack || more.Upper < iv.Upper-slack {
			t.Fatalf("a clean trial lowers %v to %v", iv, more)
		}
		// Counting yes as no mirrors the interval.
		mirror := wilson(n-x, n, level)
		if math.Abs(mirror.Lower-(1-iv.Upper)) > 1e-9 || math.Abs(mirror.Upper-(1-iv.Lower)) > 1e-9 {
			t.Fatalf("mirror of %v is %v", iv, mirror)
		}
		// A higher level is wider; more evidence at the same rate is narrower.
		wide := wilson(x, n, level+(1-level)/2)
		if wide.Lower > iv.Lower+slack || wide.Upper < iv.Upper-slack {
			t.Fatalf("a higher level narrows %v to %v", iv, wide)
		}
		twice := wilson(2*x, 2*n, level)
		if twice.Lower < iv.Lower-slack || twice.Upper > iv.Upper+slack {
			t.Fatalf("twice the evidence widens %v to %v", iv, twice)
		}
		// The limits solve the score equation.
		z := stats.Z(level)
		for _, l := range []float64{iv.Lower, iv.Upper} {
			if d := (x/n-l)*(x/n-l) - z*z*l*(1-l)/n; l > 0 && l < 1 && math.Abs(d) > 1e-9 {
				t.Fatalf("limit %v leaves %v", l, d)
			}
		}
	})
}

// Fading weights, sessions of one size, each newest session clean: neither the
// rate nor the lower limit ever falls while clean sessions are added.
func TestCochranArmitageLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x, n := drawSessions(t)
		var s, back, miss, deff []float64
		for i := range x {
			s, back, miss = append(s, float64(i)), append(back, -float64(i)), append(miss, n[i]-x[i])
			deff = append(deff, 2)
		}
		trend := func(x, s, d []float64) stats.LinearTrend {
			return must[stats.LinearTrend](t)(stats.CochranArmitage(x, n, s, d))
		}
		a := trend(x, s, nil)
		for name, b := range map[string]stats.LinearTrend{"time backwards": trend(x, back, nil), "misses for successes": trend(miss, s, nil)} {
			if math.Abs(a.Z.V+b.Z.V) > 1e-9 || math.Abs(a.PIncreasing-b.PDecreasing) > 1e-9 {
				t.Fatalf("%s: %+v and %+v", name, a, b)
			}
		}
		if d := trend(x, s, deff); math.Abs(d.Z.V*math.Sqrt2-a.Z.V) > 1e-9 {
			t.Fatalf("a design effect of 2 turns %+v into %+v", a, d)
		}
	})
}

// Likeness never narrows the interval, the order of entry does not matter, and
// counting yes as no mirrors it.
func TestClusterLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x, n := drawSessions(t)
		cluster := func(x, n []float64) stats.Clustered {
			return must[stats.Clustered](t)(stats.Cluster(x, n, stats.DefaultICC, stats.DefaultICCSessions, 0.9))
		}
		c := cluster(x, n)
		plain := must[stats.Interval](t)(stats.Wilson(c.X, c.N, 0.9))
		if c.Deff < 1 || c.Lower > plain.Lower+slack || c.Upper < plain.Upper-slack {
			t.Fatalf("%+v, plain %v", c, plain)
		}
		var back, size, miss []float64
		for i := range x {
			back, size = append([]float64{x[i]}, back...), append([]float64{n[i]}, size...)
			miss = append(miss, n[i]-x[i])
		}
		if r := cluster(back, size); math.Abs(r.Lower-c.Lower) > 1e-9 || math.Abs(r.ICC-c.ICC) > 1e-9 {
			t.Fatalf("order matters: %+v and %+v", c, r)
		}
		if m := cluster(miss, n); math.Abs(m.Upper-(1-c.Lower)) > 1e-9 {
			t.Fatalf("mirror: %+v and %+v", c, m)
		}
	})
}

// The exact tail with ties against exact whole-number arithmetic: inversions
// of arrangements counted by adding one value group after the other.
func TestMannKendallExactByWholeNumbers(t *testing.T) {
	for _, groups := range [][]int{{1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1, 1}, {20, 20}, {3, 7, 1, 1, 12, 4}, {30, 1, 1, 1, 1, 1}, {2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2, 2}} {
		count := []*big.Int{big.NewInt(1)}
		n := 0
		for _, u := range groups {
			// Ways to mix u equal values among n others, by inversions: [n+u, u]_q,
			// by Pascal's rule [a, b] = [a-1, b-1] + q^b [a-1, b].
			type key struct{ a, b int }
			memo := map[key][]*big.Int{}
			var gauss func(a, b int) []*big.Int
			gauss = func(a, b int) []*big.Int {
				if b == 0 || b == a {
					return []*big.Int{big.NewInt(1)}
				}
				if v, ok := memo[key{a, b}]; ok {
					return v
				}
				v := make([]*big.Int, b*(a-b)+1)
				for i := range v {
					v[i] = new(big.Int)
				}
				for i, c := range gauss(a-1, b-1) {
					v[i].Add(v[i], c)
				}
				for i, c := range gauss(a-1, b) {
					v[i+b].Add(v[i+b], c)
				}
				memo[key{a, b}] = v
				return v
			}
			g := gauss(n+u, u)
			next := make([]*big.Int, len(count)+len(g)-1)
			for i := range next {
				next[i] = new(big.Int)
			}
			for i, a := range count {
				for j, b := range g {
					next[i+j].Add(next[i+j], new(big.Int).Mul(a, b))
				}
			}
			count = next
			n += u
		}
		total := new(big.Int)
		for _, c := range count {
			total.Add(total, c)
		}
		var y []float64
		for v, u := range groups {
			for range u {
				y = append(y, float64(v))
			}
		}
		// Start from the sorted series, S at its largest, and mix it step by step.
		for step := range 8 {
			a := must[stats.MannKendallTest](t)(stats.MannKendall(y))
			inversions := (len(count) - 1 - int(a.S)) / 2
			low := new(big.Int)
			for _, c := range count[:inversions+1] {
				low.Add(low, c)
			}
			want, _ := new(big.Rat).SetFrac(low, total).Float64()
			if !a.Exact || math.Abs(a.PIncreasing-want) > 1e-11*want {
				t.Errorf("%v step %d: p %v, want %v", groups, step, a.PIncreasing, want)
			}
			for i := step; i+step+1 < len(y); i += 3 {
				y[i], y[i+step+1] = y[i+step+1], y[i]
			}
		}
	}
}

func TestGarwoodLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		c := float64(rapid.IntRange(0, 100_000).Draw(t, "count"))
		e := rapid.Float64Range(0.01, 1000).Draw(t, "exposure")
		level := drawLevel(t)
		r := must[stats.Rate](t)(stats.Garwood(c, e, level))
		next := must[stats.Rate](t)(stats.Garwood(c+1, e, level))
		if !(r.Lower <= r.Rate && r.Rate < r.Upper && r.Lower < next.Lower && r.Upper < next.Upper) || (c == 0) != (r.Lower == 0) {
			t.Fatalf("%v in %v: %+v, next %+v", c, e, r, next)
		}
	})
}

func TestKappaLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		k := rapid.IntRange(1, 4).Draw(t, "categories")
		table, turned := make([][]float64, k), make([][]float64, k)
		for i := range table {
			table[i], turned[i] = make([]float64, k), make([]float64, k)
		}
		for i := range k {
			for j := range k {
				v := float64(rapid.IntRange(0, 20).Draw(t, "count"))
				if i == 0 && j == 0 {
					v++
				}
				table[i][j], turned[j][i] = v, v
			}
		}
		a := must[stats.Agreement](t)(stats.Kappa(table, 0.95))
		b := must[stats.Agreement](t)(stats.Kappa(turned, 0.95))
		if math.Abs(a.Kappa.V-b.Kappa.V) > 1e-9 || math.Abs(a.SE.V-b.SE.V) > 1e-9 || a.Kappa.OK != b.Kappa.OK {
			t.Fatalf("exchanging the scorers turns %+v into %+v", a, b)
		}
		if a.Kappa.OK && (a.Kappa.V > 1 || a.Kappa.V < -1 || a.Kappa.V > a.Agree+slack) {
			t.Fatalf("kappa above the agreement: %+v", a)
		}
	})
}
