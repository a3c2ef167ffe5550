package stats_test

import (
	"cmp"
	"errors"
	"math"
	"math/big"
	"slices"
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

func TestNewcombeLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n1, n2 := rapid.IntRange(1, 500).Draw(t, "n1"), rapid.IntRange(1, 500).Draw(t, "n2")
		x1, x2 := float64(rapid.IntRange(0, n1).Draw(t, "x1")), float64(rapid.IntRange(0, n2).Draw(t, "x2"))
		level := drawLevel(t)
		a := must[stats.Difference](t)(stats.Newcombe(x1, float64(n1), x2, float64(n2), level))
		b := must[stats.Difference](t)(stats.Newcombe(x2, float64(n2), x1, float64(n1), level))
		if a.Diff.V != -b.Diff.V || a.Lower != -b.Upper || a.Upper != -b.Lower {
			t.Fatalf("exchanging the groups turns %v into %v", a, b)
		}
		if !(-1 <= a.Lower && a.Lower <= a.Diff.V && a.Diff.V <= a.Upper && a.Upper <= 1 && a.Lower < a.Upper) {
			t.Fatalf("interval %v", a)
		}
	})
}

func TestClusterLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x, n := drawSessions(t)
		level := drawLevel(t)
		c := must[stats.Clustered](t)(stats.Cluster(x, n, level))
		if c.Deff < 1 || c.DeffICC < 1 || c.DeffShrunk < 1 || c.Neff > c.N || c.NeffShrunk > c.N {
			t.Fatalf("design effects below 1: %+v", c)
		}
		if c.LowerShrunk > c.LowerUnadj+slack || c.UpperShrunk < c.UpperUnadj-slack {
			t.Fatalf("clustering narrows the interval: %+v", c)
		}
		// The order in which sessions are entered does not matter.
		order := rapid.Permutation(indices(len(x))).Draw(t, "order")
		c2 := must[stats.Clustered](t)(stats.Cluster(permute(x, order), permute(n, order), level))
		if math.Abs(c.Lower-c2.Lower) > 1e-9 || math.Abs(c.LowerShrunk-c2.LowerShrunk) > 1e-9 || math.Abs(c.LowerICC-c2.LowerICC) > 1e-9 {
			t.Fatalf("order matters: %+v and %+v", c, c2)
		}
		// Mirror.
		miss := make([]float64, len(x))
		for i := range x {
			miss[i] = n[i] - x[i]
		}
		m := must[stats.Clustered](t)(stats.Cluster(miss, n, level))
		if math.Abs(m.UpperShrunk-(1-c.LowerShrunk)) > 1e-9 || math.Abs(m.Upper-(1-c.Lower)) > 1e-9 {
			t.Fatalf("mirror: %+v and %+v", c, m)
		}
		// The same shrunk interval comes from its parts.
		icc, _, err := stats.ShrunkICC(x, n, stats.DefaultICC, stats.DefaultICCSessions)
		if err != nil {
			t.Fatal(err)
		}
		w := must[stats.EffectiveRate](t)(stats.Weighted(x, n, nil, icc, level))
		if math.Abs(w.Lower-c.LowerShrunk) > 1e-9 || math.Abs(w.N-c.NeffShrunk) > 1e-9*c.N {
			t.Fatalf("parts give %+v, whole %+v", w, c)
		}
	})
}

func TestWeightedLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x, n := drawSessions(t)
		var w []float64
		for range x {
			w = append(w, rapid.Float64Range(0.01, 1).Draw(t, "weight"))
		}
		icc := rapid.Float64Range(0, 0.9).Draw(t, "icc")
		weighted := func(x, w []float64) stats.EffectiveRate {
			return must[stats.EffectiveRate](t)(stats.Weighted(x, n, w, icc, 0.9))
		}
		r := weighted(x, w)
		var total float64
		for _, m := range n {
			total += m
		}
		if r.N > total*(1+1e-12) || r.Rate < 0 || r.Rate > 1 || r.Lower > r.Rate+slack || r.Upper < r.Rate-slack {
			t.Fatalf("%+v of %v trials", r, total)
		}
		// Only the ratios of weights matter.
		var scaled []float64
		for _, v := range w {
			scaled = append(scaled, 1000*v)
		}
		if s := weighted(x, scaled); math.Abs(s.N-r.N) > 1e-9*r.N || math.Abs(s.Lower-r.Lower) > 1e-9 {
			t.Fatalf("scaling the weights turns %+v into %+v", r, s)
		}
		// A miss turned into a yes never lowers a limit.
		i := rapid.IntRange(0, len(x)-1).Draw(t, "session")
		if x[i] < n[i] {
			better := slices.Clone(x)
			better[i]++
			if b := weighted(better, w); b.Lower < r.Lower-slack || b.Upper < r.Upper-slack {
				t.Fatalf("a better session lowers %+v to %+v", r, b)
			}
		}
	})
}

// Fading weights, sessions of one size, each newest session clean: neither the
// rate nor the lower limit ever falls while clean sessions are added.
func TestCleanSessionsNeverLowerTheBound(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x, _ := drawSessions(t)
		m := float64(rapid.IntRange(12, 20).Draw(t, "size"))
		var n []float64
		for range x {
			n = append(n, m)
		}
		level := func() stats.EffectiveRate {
			w := make([]float64, len(x))
			for i := range w {
				w[i] = math.Pow(0.5, float64(len(x)-1-i)/6)
			}
			return must[stats.EffectiveRate](t)(stats.Weighted(x, n, w, 0.10, 0.9))
		}
		before := level()
		for range 10 {
			x, n = append(x, m), append(n, m)
			after := level()
			if after.Lower < before.Lower-slack || after.Rate < before.Rate-slack {
				t.Fatalf("a clean session turns %+v into %+v", before, after)
			}
			before = after
		}
	})
}

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

func indices(n int) []int {
	v := make([]int, n)
	for i := range v {
		v[i] = i
	}
	return v
}

func permute(v []float64, order []int) []float64 {
	out := make([]float64, len(v))
	for i, j := range order {
		out[i] = v[j]
	}
	return out
}

func drawSeries(t *rapid.T, longest int) (x, y []float64) {
	wide := rapid.IntRange(1, 30).Draw(t, "values")
	for i := range rapid.IntRange(1, longest).Draw(t, "n") {
		y = append(y, float64(rapid.IntRange(0, wide).Draw(t, "y")))
		x = append(x, float64(i/rapid.IntRange(1, 2).Draw(t, "tie")))
	}
	return x, y
}

func TestMannKendallLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x, y := drawSeries(t, 70)
		mk := func(x, y []float64) stats.MannKendallTest {
			return must[stats.MannKendallTest](t)(stats.MannKendall(x, y))
		}
		a := mk(x, y)
		var s float64 // the definition
		for i := range y {
			for j := range i {
				s += float64(cmp.Compare(y[i], y[j]) * cmp.Compare(x[i], x[j]))
			}
		}
		if a.S != s {
			t.Fatalf("S is %v, want %v", a.S, s)
		}
		for _, p := range []float64{a.PTwoSided, a.PIncreasing, a.PDecreasing, a.PNormal} {
			if !(p >= 0 && p <= 1) {
				t.Fatalf("p out of range: %+v", a)
			}
		}
		// Backwards, and upside down: the sign of S turns, nothing else.
		neg := make([]float64, len(y))
		grown := make([]float64, len(y))
		for i, v := range y {
			neg[i], grown[i] = -v, math.Exp(v/10)
		}
		b := mk(x, neg)
		if b.S != -a.S || math.Abs(b.VarS-a.VarS) > 1e-9 || math.Abs(b.PTwoSided-a.PTwoSided) > 1e-9 || math.Abs(b.PIncreasing-a.PDecreasing) > 1e-9 {
			t.Fatalf("upside down: %+v and %+v", a, b)
		}
		// A monotone change of the values, and the order of entry, change nothing.
		order := rapid.Permutation(indices(len(y))).Draw(t, "order")
		if c := mk(permute(x, order), permute(grown, order)); c.S != a.S || math.Abs(c.PTwoSided-a.PTwoSided) > 1e-12 {
			t.Fatalf("another scale: %+v and %+v", a, c)
		}
	})
}

// The exact p against every arrangement, for short series with ties in value,
// in time, in both and in neither.
func TestMannKendallExactByEnumeration(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x, y := drawSeries(t, 7)
		a := must[stats.MannKendallTest](t)(stats.MannKendall(x, y))
		var two, up, down, all float64
		var visit func(rest, chosen []float64)
		visit = func(rest, chosen []float64) {
			if len(rest) == 0 {
				var s float64
				for i := range chosen {
					for j := range i {
						s += float64(cmp.Compare(chosen[i], chosen[j]) * cmp.Compare(x[i], x[j]))
					}
				}
				all++
				if math.Abs(s) >= math.Abs(a.S) {
					two++
				}
				if s >= a.S {
					up++
				}
				if s <= a.S {
					down++
				}
				return
			}
			for i := range rest {
				next := append(append([]float64(nil), rest[:i]...), rest[i+1:]...)
				visit(next, append(chosen, rest[i]))
			}
		}
		visit(y, nil)
		if !a.Exact || math.Abs(a.PTwoSided-two/all) > 1e-12 || math.Abs(a.PIncreasing-up/all) > 1e-12 || math.Abs(a.PDecreasing-down/all) > 1e-12 {
			t.Fatalf("%v over %v: %+v, want %v %v %v", y, x, a, two/all, up/all, down/all)
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
			a := must[stats.MannKendallTest](t)(stats.MannKendall(nil, y))
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

func TestTheilSenLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		n := rapid.IntRange(2, 130).Draw(t, "n")
		coarse := rapid.Bool().Draw(t, "coarse")
		var x, y []float64
		for i := range n {
			v := rapid.Float64Range(-5, 5).Draw(t, "y")
			if coarse {
				v = math.Round(v)
			}
			x, y = append(x, float64(i/2)), append(y, v)
		}
		x[n-1]++
		f := must[stats.TheilSenFit](t)(stats.TheilSen(x, y, 0.9))
		// The definition, by sorting all slopes.
		var slopes []float64
		for i := range x {
			for j := range i {
				if x[i] != x[j] {
					slopes = append(slopes, (y[i]-y[j])/(x[i]-x[j]))
				}
			}
		}
		slices.Sort(slopes)
		m := len(slopes)
		want := (slopes[(m-1)/2] + slopes[m/2]) / 2
		if f.NSlopes != m || math.Abs(f.Slope-want) > 1e-12 || !(f.LowerRank <= f.Slope && f.Slope <= f.UpperRank && f.LowerInterp <= f.UpperInterp) {
			t.Fatalf("%+v, want %v of %d", f, want, m)
		}
		if !slices.Contains(slopes, f.LowerRank) || !slices.Contains(slopes, f.UpperRank) {
			t.Fatalf("limits %v and %v are no slopes", f.LowerRank, f.UpperRank)
		}
		// y turned upside down turns the slope; a line added adds its slope.
		var down, tilted []float64
		for i := range y {
			down, tilted = append(down, -y[i]), append(tilted, y[i]+3*x[i]+7)
		}
		d := must[stats.TheilSenFit](t)(stats.TheilSen(x, down, 0.9))
		if math.Abs(d.Slope+f.Slope) > 1e-12 {
			t.Fatalf("upside down: %v and %v", f.Slope, d.Slope)
		}
		l := must[stats.TheilSenFit](t)(stats.TheilSen(x, tilted, 0.9))
		if math.Abs(l.Slope-f.Slope-3) > 1e-9 || math.Abs(l.InterceptJoint-f.InterceptJoint-7) > 1e-9 {
			t.Fatalf("tilted: %+v and %+v", f, l)
		}
	})
}

func TestKaplanMeierLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var times []float64
		var event []bool
		for range rapid.IntRange(1, 40).Draw(t, "n") {
			times = append(times, float64(rapid.IntRange(0, 20).Draw(t, "time"))/2)
			event = append(event, rapid.Bool().Draw(t, "event"))
		}
		s := must[*stats.Survival](t)(stats.KaplanMeier(times, event))
		level := drawLevel(t)
		before := 1.0
		for i, p := range s.Points {
			if p.Surv > before || p.Surv < 0 || p.Events == 0 && p.Surv != before {
				t.Fatalf("the curve rises, or falls without an event: %+v", s.Points)
			}
			before = p.Surv
			for _, tr := range []stats.Transform{stats.Plain, stats.Log, stats.LogLog} {
				lo, hi, err := s.Limits(i, level, tr)
				if err != nil || lo.OK != hi.OK || lo.OK && !(0 <= lo.V && lo.V <= p.Surv+slack && p.Surv <= hi.V+slack && hi.V <= 1) {
					t.Fatalf("limits %v %v of %v, %v", lo, hi, p.Surv, err)
				}
			}
			a := must[stats.SurvivalAt](t)(s.At(p.Time, level, stats.LogLog))
			if a.Surv.OK && (a.Surv.V != p.Surv || a.WilsonLower.V > p.Surv+slack || a.WilsonUpper.V < p.Surv-slack) {
				t.Fatalf("at %v: %+v, curve %v", p.Time, a, p.Surv)
			}
		}
		// Without censoring the curve is the share still going, and the
		// restricted mean the mean.
		if s.Events == s.N {
			var sum float64
			for _, v := range times {
				sum += v
			}
			for _, p := range s.Points {
				var beyond float64
				for _, v := range times {
					if v > p.Time {
						beyond++
					}
				}
				if math.Abs(p.Surv-beyond/float64(s.N)) > 1e-12 {
					t.Fatalf("at %v: %v", p.Time, p.Surv)
				}
			}
			if last := slices.Max(times); last > 0 {
				m, _, err := s.RestrictedMean(last)
				if err != nil || math.Abs(m-sum/float64(s.N)) > 1e-9 {
					t.Fatalf("restricted mean %v, mean %v, %v", m, sum/float64(s.N), err)
				}
			}
		}
		// The order of entry does not matter.
		order := rapid.Permutation(indices(len(times))).Draw(t, "order")
		shuffled := make([]bool, len(event))
		for i, j := range order {
			shuffled[i] = event[j]
		}
		s2 := must[*stats.Survival](t)(stats.KaplanMeier(permute(times, order), shuffled))
		if !slices.Equal(s.Points, s2.Points) {
			t.Fatalf("order matters: %+v and %+v", s.Points, s2.Points)
		}
		// An observation more that lasted longest never lowers the curve.
		s3 := must[*stats.Survival](t)(stats.KaplanMeier(append(slices.Clone(times), 99), append(slices.Clone(event), false)))
		for i, p := range s.Points {
			if s3.Points[i].Surv < p.Surv-slack {
				t.Fatalf("a longer one lowers %v to %v at %v", p.Surv, s3.Points[i].Surv, p.Time)
			}
		}
	})
}

func TestLogRankLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		draw := func(name string) (times []float64, event []bool) {
			for range rapid.IntRange(1, 20).Draw(t, name) {
				times = append(times, float64(rapid.IntRange(0, 15).Draw(t, "time")))
				event = append(event, rapid.Bool().Draw(t, "event"))
			}
			return times, event
		}
		t1, e1 := draw("n1")
		t2, e2 := draw("n2")
		a := must[stats.LogRankTest](t)(stats.LogRank(t1, e1, t2, e2))
		b := must[stats.LogRankTest](t)(stats.LogRank(t2, e2, t1, e1))
		if math.Abs(a.O1+a.O2-a.E1-a.E2) > 1e-9 || a.O1 != b.O2 || math.Abs(a.ChiSq.V-b.ChiSq.V) > 1e-9 {
			t.Fatalf("%+v and %+v", a, b)
		}
	})
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

func TestFisherLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var v [4]float64
		for i := range v {
			v[i] = float64(rapid.IntRange(0, 40).Draw(t, "count"))
		}
		if v[0]+v[1]+v[2]+v[3] == 0 {
			v[0] = 1
		}
		fisher := func(a, b, c, d float64) stats.FisherTest {
			return must[stats.FisherTest](t)(stats.Fisher(a, b, c, d, 0.95))
		}
		f := fisher(v[0], v[1], v[2], v[3])
		if less := must[float64](t)(stats.FisherLess(v[0], v[1], v[2], v[3])); less != f.PLess {
			t.Fatalf("%v alone, %v with the others", less, f.PLess)
		}
		turned, swapped := fisher(v[0], v[2], v[1], v[3]), fisher(v[2], v[3], v[0], v[1])
		if math.Abs(f.PTwoMinLik-turned.PTwoMinLik) > 1e-9 || math.Abs(f.PLess-turned.PLess) > 1e-9 ||
			math.Abs(f.PLess-swapped.PGreater) > 1e-9 || math.Abs(f.PTwoMinLik-swapped.PTwoMinLik) > 1e-9 {
			t.Fatalf("%+v, transposed %+v, rows exchanged %+v", f, turned, swapped)
		}
		for _, p := range []float64{f.PLess, f.PGreater, f.PTwoMinLik, f.PTwoDoubled, f.MidPLess, f.MidPGreater, f.MidPTwoMinLikAllEq, f.MidPTwoMinLikObs, f.MidPTwoDoubled} {
			if !(p >= 0 && p <= 1) {
				t.Fatalf("p out of range: %+v", f)
			}
		}
		if f.MidPTwoMinLikAllEq > f.PTwoMinLik+slack || f.MidPTwoMinLikObs > f.PTwoMinLik+slack || f.PLess+f.PGreater < 1-slack {
			t.Fatalf("mid-p above p: %+v", f)
		}
		if f.ORCondMLE.OK && !(f.ORLower.V <= f.ORCondMLE.V && f.ORCondMLE.V <= f.ORUpper.V) {
			t.Fatalf("odds ratio outside its limits: %+v", f)
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

func TestAdjustLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p := rapid.SliceOfN(rapid.Float64Range(0, 1), 1, 30).Draw(t, "p")
		h := must[[]float64](t)(stats.Holm(p))
		b := must[[]float64](t)(stats.BenjaminiHochberg(p))
		f := must[[]float64](t)(stats.Bonferroni(p))
		for i := range p {
			if h[i] < p[i] || b[i] < p[i] || h[i] > f[i] || b[i] > h[i]+slack || h[i] > 1 {
				t.Fatalf("%v: Holm %v, BH %v, Bonferroni %v", p[i], h[i], b[i], f[i])
			}
			for j := range p {
				if p[i] < p[j] && (h[i] > h[j] || b[i] > b[j]) {
					t.Fatalf("order turned: %v %v", p, h)
				}
				if p[i] == p[j] && (h[i] != h[j] || b[i] != b[j]) {
					t.Fatalf("ties parted: %v %v", p, h)
				}
			}
		}
	})
}

func TestSessionCUSUMLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		failure := rapid.SliceOfN(rapid.Bool(), 1, 60).Draw(t, "failures")
		session := make([]int, len(failure))
		for i := range session {
			session[i] = i / 4
		}
		c := stats.SessionCUSUM{P0: 0.08, P1: 0.35, ICC: rapid.Float64Range(0, 0.8).Draw(t, "icc")}
		path := must[[]stats.CUSUMStep](t)(c.Path(failure, session, 4.5))
		for i, p := range path {
			if p.Statistic < 0 || p.Alarm != (p.Statistic >= 4.5) || (p.Statistic == 0) != (p.Since == -1) || (p.Increment > 0) != failure[i] {
				t.Fatalf("step %d: %+v", i, p)
			}
		}
		// A failure more never lowers the last statistic.
		worse := slices.Clone(failure)
		worse[rapid.IntRange(0, len(worse)-1).Draw(t, "at")] = true
		indep := stats.SessionCUSUM{P0: 0.08, P1: 0.35}
		a, b := must[[]stats.CUSUMStep](t)(indep.Path(failure, session, 4.5)), must[[]stats.CUSUMStep](t)(indep.Path(worse, session, 4.5))
		if last := len(a) - 1; b[last].Statistic < a[last].Statistic-slack {
			t.Fatalf("a failure more lowers %v to %v", a[last].Statistic, b[last].Statistic)
		}
	})
}

func TestRunLengthLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		den := rapid.IntRange(2, 12).Draw(t, "den")
		b := stats.BernoulliCUSUM{Num: rapid.IntRange(1, den-1).Draw(t, "num"), Den: den, H: rapid.IntRange(1, 40).Draw(t, "h")}
		p := rapid.Float64Range(0.05, 0.9).Draw(t, "p")
		a := must[stats.Number](t)(b.RunLength(p))
		c := must[stats.Number](t)(b.RunLength(p + 0.05))
		if a.V < 1 || c.V > a.V*(1+1e-9) {
			t.Fatalf("%+v at %v: %v, at a higher rate %v", b, p, a.V, c.V)
		}
		// All failures: the signal comes after h/(den-num) of them, rounded up.
		all := must[stats.Number](t)(b.RunLength(1))
		if want := math.Ceil(float64(b.H) / float64(den-b.Num)); math.Abs(all.V-want) > 1e-9 {
			t.Fatalf("all failures: %v, want %v", all.V, want)
		}
	})
}

func TestSPRTLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		p0 := rapid.Float64Range(0.01, 0.3).Draw(t, "p0")
		p1 := p0 + rapid.Float64Range(0.05, 0.4).Draw(t, "gap")
		alpha, beta := rapid.Float64Range(0.01, 0.2).Draw(t, "alpha"), rapid.Float64Range(0.01, 0.2).Draw(t, "beta")
		s := must[stats.SPRT](t)(stats.WaldSPRT(p0, p1, alpha, beta))
		for _, r := range []stats.SPRTRisk{s.AtP0, s.AtP1} {
			if math.Abs(r.Accept+r.Reject-1) > 1e-9 || r.ASN < 1 {
				t.Fatalf("%+v", s)
			}
		}
		// Wald's inequalities for the true risks.
		if s.AtP0.Reject > alpha/(1-beta)+slack || s.AtP1.Accept > beta/(1-alpha)+slack {
			t.Fatalf("risks beyond Wald's bounds: %+v", s)
		}
		if s.Decide(0, s.NAcceptZeroFailures) != 1 || s.NAcceptZeroFailures > 1 && s.Decide(0, s.NAcceptZeroFailures-1) != 0 ||
			s.Decide(s.MinRejectAllFailures, s.MinRejectAllFailures) != -1 {
			t.Fatalf("the lines and the decision disagree: %+v", s)
		}
	})
}

func TestBetaQuantileLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		a, b := math.Exp(rapid.Float64Range(-2, 7).Draw(t, "ln a")), math.Exp(rapid.Float64Range(-2, 7).Draw(t, "ln b"))
		q := rapid.Float64Range(0.001, 0.998).Draw(t, "q")
		v, next := must[float64](t)(stats.BetaQuantile(q, a, b)), must[float64](t)(stats.BetaQuantile(q+0.001, a, b))
		mirror := must[float64](t)(stats.BetaQuantile(1-q, b, a))
		if !(v >= 0 && v <= next && next <= 1) || math.Abs(v+mirror-1) > 1e-9 {
			t.Fatalf("%v %v %v", v, next, mirror)
		}
	})
}

// Counts and the same data spread out to single trials give one fit; a weight
// of 2 is the row twice; an offset of the predictor moves the intercept alone.
func TestLogisticLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var counts, single, weighted, moved stats.LogisticData
		for i := range rapid.IntRange(3, 8).Draw(t, "rows") {
			n := rapid.IntRange(2, 10).Draw(t, "n")
			y := rapid.IntRange(1, n-1).Draw(t, "y") // mixed rows: never separated
			x := []float64{1, float64(i)}
			counts.X, counts.Y, counts.N = append(counts.X, x), append(counts.Y, float64(y)), append(counts.N, float64(n))
			moved.X = append(moved.X, []float64{1, float64(i) + 10})
			for j := range n {
				v := 0.0
				if j < y {
					v = 1
				}
				single.X, single.Y = append(single.X, x), append(single.Y, v)
			}
			weighted.X = append(weighted.X, x, x)
			weighted.Y = append(weighted.Y, 1, 0)
			weighted.W = append(weighted.W, float64(y), float64(n-y))
		}
		moved.Y, moved.N = counts.Y, counts.N
		fit := must[stats.LogisticFit](t)
		a, b, c, d := fit(stats.Logistic(counts)), fit(stats.Logistic(single)), fit(stats.Logistic(weighted)), fit(stats.Logistic(moved))
		for j := range 2 {
			if math.Abs(a.Coef[j]-b.Coef[j]) > 1e-9 || math.Abs(a.Coef[j]-c.Coef[j]) > 1e-9 || math.Abs(a.SE[j]-b.SE[j]) > 1e-9 {
				t.Fatalf("%v %v %v", a, b, c)
			}
		}
		if math.Abs(a.Coef[1]-d.Coef[1]) > 1e-8 || math.Abs(a.Coef[0]-10*d.Coef[1]-d.Coef[0]) > 1e-7 {
			t.Fatalf("moved: %v %v", a.Coef, d.Coef)
		}
		if math.Abs(b.LogLik+b.Deviance/2) > 1e-9 {
			t.Fatalf("0/1 rows: log likelihood %v, deviance %v", b.LogLik, b.Deviance)
		}
		// A prior pulls towards its mean, the more the narrower it is.
		last := math.Abs(a.Coef[1] - 3)
		for _, sd := range []float64{10, 1, 0.1, 0.01} {
			p := counts
			p.Prior = []stats.NormalPrior{{}, {Mean: 3, SD: sd}}
			f := fit(stats.Logistic(p))
			if now := math.Abs(f.Coef[1] - 3); now > last+1e-9 {
				t.Fatalf("prior sd %v: %v away after %v", sd, now, last)
			} else {
				last = now
			}
		}
	})
}

// A straight line of answers has no finite maximum: named, never a number.
// With priors on every coefficient there is always an answer.
func TestSeparation(t *testing.T) {
	line := func(y ...float64) stats.LogisticData {
		var d stats.LogisticData
		for i, v := range y {
			d.X, d.Y = append(d.X, []float64{1, float64(i)}), append(d.Y, v)
		}
		return d
	}
	for name, d := range map[string]stats.LogisticData{
		"complete": line(0, 0, 0, 1, 1, 1), "one yes at the end": line(0, 0, 0, 0, 1), "all yes": line(1, 1, 1), "all no": line(0, 0, 0),
		"quasi": {X: [][]float64{{1, 1}, {1, 2}, {1, 2}, {1, 3}}, Y: []float64{0, 0, 1, 1}},
		"group": {X: [][]float64{{1, 0}, {1, 0}, {1, 1}, {1, 1}}, Y: []float64{0, 1, 1, 1}},
	} {
		if f, err := stats.Logistic(d); !errors.Is(err, stats.ErrSeparated) {
			t.Errorf("%s: %v, %v", name, f.Coef, err)
		}
		d.Prior = []stats.NormalPrior{{SD: 2}, {SD: 1}}
		if f, err := stats.Logistic(d); err != nil || math.Abs(f.Coef[1]) > 10 {
			t.Errorf("%s with priors: %v, %v", name, f.Coef, err)
		}
	}
	for name, x := range map[string][][]float64{
		"constant": {{1, 2}, {1, 2}, {1, 2}}, "collinear": {{1, 1, 3}, {1, 2, 5}, {1, 3, 7}, {1, 4, 9}}, "zero": {{1, 0}, {1, 0}},
	} {
		y := []float64{0, 1, 1, 0}[:len(x)]
		if f, err := stats.Logistic(stats.LogisticData{X: x, Y: y}); !errors.Is(err, stats.ErrNotIdentified) {
			t.Errorf("%s: %v, %v", name, f.Coef, err)
		}
	}
	// Nor is a line that a prior holds far steeper than what was seen.
	for _, c := range []struct{ y, n []float64 }{{[]float64{1, 1, 2, 1, 1, 1}, []float64{2, 4, 7, 10, 10, 10}}, {[]float64{1, 1, 1, 2, 1, 1, 1}, []float64{2, 6, 4, 10, 8, 10, 10}}} {
		d := line(c.y...)
		d.N, d.Prior = c.n, []stats.NormalPrior{{}, {Mean: 3, SD: 0.01}}
		if f, err := stats.Logistic(d); err != nil || math.Abs(f.Coef[1]-3) > 0.05 {
			t.Errorf("%v of %v, slope held at 3: %v, %v", c.y, c.n, f.Coef, err)
		}
	}
	// Far out, steep and large is not separated.
	for _, scale := range []float64{1e-6, 1, 1e6} {
		d := stats.LogisticData{X: [][]float64{{1, 0}, {1, scale}, {1, 2 * scale}}, Y: []float64{1, 500_000, 999_999}, N: []float64{1e6, 1e6, 1e6}}
		f, err := stats.Logistic(d)
		if err != nil {
			t.Fatal(err)
		}
		near(t, "steep slope", f.Coef[1]*scale, math.Log(999_999), 1e-9)
	}
}

func TestBetaBinomialLaws(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x, n := drawSessions(t)
		f := must[stats.BetaBinomialFit](t)(stats.BetaBinomial(x, n))
		if !(f.Mu >= 0 && f.Mu <= 1 && f.Rho >= 0 && f.Rho <= 1 && f.LRT >= 0 && f.LRTPHalf >= 0 && f.LRTPHalf <= 1) || f.LogLik < f.LogLikBinomial-1e-9 {
			t.Fatalf("%+v", f)
		}
		miss := make([]float64, len(x))
		for i := range x {
			miss[i] = n[i] - x[i]
		}
		m := must[stats.BetaBinomialFit](t)(stats.BetaBinomial(miss, n))
		if math.Abs(m.Mu-(1-f.Mu)) > 1e-5 || math.Abs(m.Rho-f.Rho) > 1e-5 || math.Abs(m.LogLik-f.LogLik) > 1e-8 {
			t.Fatalf("mirror: %+v and %+v", f, m)
		}
	})
}
