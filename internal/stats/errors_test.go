package stats_test

import (
	"errors"
	"math"
	"reflect"
	"testing"

	"firstcue/internal/stats"
)

// noNaN fails if any number inside v is NaN, however deep.
func noNaN(t testing.TB, where string, v reflect.Value) {
	t.Helper()
	switch v.Kind() {
	case reflect.Float64:
		if math.IsNaN(v.Float()) {
			t.Errorf("%s is NaN", where)
		}
	case reflect.Struct:
		for i := range v.NumField() {
			noNaN(t, where+"."+v.Type().Field(i).Name, v.Field(i))
		}
	case reflect.Slice:
		for i := range v.Len() {
			noNaN(t, where, v.Index(i))
		}
	case reflect.Pointer:
		if !v.IsNil() {
			noNaN(t, where, v.Elem())
		}
	}
}

// sound demands an answer without NaN, or an error of a known kind.
func sound[T any](t testing.TB, what string) func(T, error) {
	return func(v T, err error) {
		t.Helper()
		if err == nil {
			noNaN(t, what, reflect.ValueOf(v))
			return
		}
		for _, kind := range []error{stats.ErrInput, stats.ErrSeparated, stats.ErrNotIdentified, stats.ErrNoConvergence} {
			if errors.Is(err, kind) {
				return
			}
		}
		t.Errorf("%s: an error of no kind: %v", what, err)
	}
}

// everything calls every function with the numbers in all the places where
// they fit, however absurd.
func everything(t testing.TB, a, b, c, d, e float64, flags uint8) {
	v := []float64{a, b, c, d}
	w := []float64{d, e, a, c}
	f := []bool{flags&1 != 0, flags&2 != 0, flags&4 != 0, flags&8 != 0}
	small := func(x float64) int {
		if math.Abs(x) < 1000 {
			return int(x)
		}
		return 7
	}
	sound[stats.Interval](t, "Wilson")(stats.Wilson(a, b, c))
	sound[stats.Interval](t, "Wilson")(stats.Wilson(a, b, 0.95))
	sound[stats.Difference](t, "Newcombe")(stats.Newcombe(a, b, c, d, e))
	sound[stats.Difference](t, "Newcombe")(stats.Newcombe(a, b, c, d, 0.95))
	sound[stats.Clustered](t, "Cluster")(stats.Cluster(v, w, 0.95))
	sound[stats.Clustered](t, "Cluster")(stats.Cluster(v[:2], w[:2], 0.9))
	_, _, err := stats.ShrunkICC(v, w, 0.1, e)
	sound[int](t, "ShrunkICC")(0, err)
	sound[stats.EffectiveRate](t, "Weighted")(stats.Weighted(v[:3], w[:3], w[1:], e, 0.95))
	sound[stats.EffectiveRate](t, "Weighted")(stats.Weighted(v, w, nil, 0.1, 0.95))
	sound[stats.GroupTest](t, "RaoScott")(stats.RaoScott([][]float64{v, v[:2]}, [][]float64{w, w[:2]}))
	sound[stats.LinearTrend](t, "CochranArmitage")(stats.CochranArmitage(v, w, v, nil))
	sound[stats.LinearTrend](t, "CochranArmitage")(stats.CochranArmitage(v, w, []float64{e, 1, 2, 3}, w))
	sound[stats.MannKendallTest](t, "MannKendall")(stats.MannKendall(v, w))
	sound[stats.MannKendallTest](t, "MannKendall")(stats.MannKendall(nil, w))
	sound[stats.TheilSenFit](t, "TheilSen")(stats.TheilSen(v, w, 0.95))
	sound[stats.TheilSenFit](t, "TheilSen")(stats.TheilSen(nil, v, e))
	if s, err := stats.KaplanMeier(v, f); err != nil {
		sound[int](t, "KaplanMeier")(0, err)
	} else {
		noNaN(t, "KaplanMeier", reflect.ValueOf(s))
		m1, m2 := s.Median()
		noNaN(t, "Median", reflect.ValueOf([]stats.Number{m1, m2}))
		sound[stats.SurvivalAt](t, "At")(s.At(e, 0.95, stats.LogLog))
		sound[stats.SurvivalAt](t, "At")(s.At(a, e, stats.Plain))
		_, _, err = s.RestrictedMean(e)
		sound[int](t, "RestrictedMean")(0, err)
		lo, hi, err := s.QuantileLimits(e, 0.95, stats.Log)
		sound[[]stats.Number](t, "QuantileLimits")([]stats.Number{lo, hi}, err)
		m, se, err := s.RestrictedMean(s.Points[0].Time)
		sound[[]float64](t, "RestrictedMean")([]float64{m, se}, err)
	}
	sound[stats.LogRankTest](t, "LogRank")(stats.LogRank(v, f, w, f))
	sound[stats.Rate](t, "Garwood")(stats.Garwood(a, b, c))
	sound[stats.Rate](t, "Garwood")(stats.Garwood(math.Abs(math.Trunc(a)), math.Abs(b), 0.95))
	if math.Abs(a)+math.Abs(c) < 1e5 { // more outcomes are allowed, but slow to list
		sound[stats.RateComparison](t, "CompareRates")(stats.CompareRates(a, b, c, d, e))
		sound[stats.RateComparison](t, "CompareRates")(stats.CompareRates(math.Abs(math.Trunc(a)), b, math.Abs(math.Trunc(c)), d, 0.95))
	}
	if math.Abs(a)+math.Abs(b)+math.Abs(c)+math.Abs(d) < 1e5 {
		sound[stats.FisherTest](t, "Fisher")(stats.Fisher(a, b, c, d, e))
		sound[float64](t, "FisherLess")(stats.FisherLess(a, b, c, d))
		sound[stats.FisherTest](t, "Fisher")(stats.Fisher(math.Abs(math.Trunc(a)), math.Abs(math.Trunc(b)), math.Abs(math.Trunc(c)), math.Abs(math.Trunc(d)), 0.95))
	}
	sound[stats.Agreement](t, "Kappa")(stats.Kappa([][]float64{v[:2], v[2:]}, 0.95))
	sound[stats.Agreement](t, "Kappa")(stats.Kappa([][]float64{v[:2], v[2:], v}, e))
	sound[stats.SPRT](t, "WaldSPRT")(stats.WaldSPRT(a, b, c, d))
	sound[stats.SuccessRun](t, "SuccessRunSize")(stats.SuccessRunSize(a, b, small(c)))
	sound[float64](t, "Reference")(stats.Reference(a, b))
	cusum := stats.BernoulliCUSUM{Num: small(a), Den: small(b), H: min(small(c), 300)}
	sound[stats.Number](t, "RunLength")(cusum.RunLength(d))
	_, _, err = cusum.Path(f)
	sound[int](t, "Path")(0, err)
	session := stats.SessionCUSUM{P0: a, P1: b, ICC: c}
	sound[[]stats.CUSUMStep](t, "SessionCUSUM")(session.Path(f, []int{1, 1, 2, 2}, d))
	sound[float64](t, "BetaQuantile")(stats.BetaQuantile(a, b, c))
	le, ge, err := stats.BinomialTail(small(a), small(b), c)
	sound[[]float64](t, "BinomialTail")([]float64{le, ge}, err)
	x := [][]float64{{1, a}, {1, b}, {1, c}, {1, d}}
	y := []float64{}
	for _, yes := range f {
		y = append(y, 0)
		if yes {
			y[len(y)-1] = 1
		}
	}
	sound[stats.LogisticFit](t, "Logistic")(stats.Logistic(stats.LogisticData{X: x, Y: y}))
	sound[stats.LogisticFit](t, "Logistic")(stats.Logistic(stats.LogisticData{X: x, Y: v, N: w, W: []float64{e, 1, 1, e}}))
	sound[stats.LogisticFit](t, "Logistic")(stats.Logistic(stats.LogisticData{X: x, Y: y, Prior: []stats.NormalPrior{{a, b}, {0, e}}}))
	sound[stats.LogisticFit](t, "Logistic")(stats.Logistic(stats.LogisticData{X: x, Y: y, Prior: []stats.NormalPrior{{0, 2}, {0, 1}}}))
	sound[stats.LogLinearFit](t, "LogLinear")(stats.LogLinear([][]float64{{a, 1}, {b, 2}, {c, 0}, {0, d}}, y, nil))
	if b+c+d+e < 1e4 {
		sound[stats.BetaBinomialFit](t, "BetaBinomial")(stats.BetaBinomial(v, w))
	}
	sound[stats.RandomInterceptFit](t, "RandomIntercept")(stats.RandomIntercept(x, y, nil, []int{1, 1, 2, 2}, 1))
	sound[[]float64](t, "Holm")(stats.Holm(v))
	sound[[]float64](t, "BenjaminiHochberg")(stats.BenjaminiHochberg(w))
	up, two, err := stats.KendallTail(small(a), b)
	sound[[]float64](t, "KendallTail")([]float64{up, two}, err)
}

var absurd = []float64{math.NaN(), math.Inf(1), math.Inf(-1), -1, 0, math.Copysign(0, -1), 5e-324, 1e-300, 0.05, 0.5, 1, 2, 3, 12, 1e6, 1e15, 1e16, 1e160, 1.7e308}

func TestAbsurdNumbers(t *testing.T) {
	for i, a := range absurd {
		for j, b := range absurd {
			for k := range absurd {
				everything(t, a, b, absurd[k], absurd[(i+k+3)%len(absurd)], absurd[(j+2*k)%len(absurd)], uint8(i+j+k))
			}
		}
		if t.Failed() {
			t.FailNow()
		}
	}
}

func FuzzEverything(f *testing.F) {
	f.Add(18.0, 20.0, 9.0, 10.0, 0.95, uint8(5))
	f.Add(0.05, 0.15, 0.1, 0.1, 0.5, uint8(3))
	f.Add(3.0, 1.0, 1.0, 3.0, 0.9, uint8(9))
	f.Add(math.NaN(), math.Inf(1), -1.0, 1e300, 0.0, uint8(0))
	f.Fuzz(func(t *testing.T, a, b, c, d, e float64, flags uint8) { everything(t, a, b, c, d, e, flags) })
}

func TestImpossibleInput(t *testing.T) {
	nan, inf := math.NaN(), math.Inf(1)
	second := func(_ any, err error) error { return err }
	for name, err := range map[string]error{
		"more yes than trials": second(stats.Wilson(21, 20, 0.95)),
		"negative":             second(stats.Wilson(-1, 20, 0.95)),
		"not a number":         second(stats.Wilson(nan, 20, 0.95)),
		"infinite":             second(stats.Wilson(1, inf, 0.95)),
		"level 0":              second(stats.Wilson(1, 2, 0)),
		"level 1":              second(stats.Wilson(1, 2, 1)),
		"lengths":              second(stats.Cluster([]float64{1}, []float64{1, 2}, 0.95)),
		"trend of nothing":     second(stats.MannKendall(nil, nil)),
		"trend of NaN":         second(stats.MannKendall(nil, []float64{1, nan})),
		"one time only":        second(stats.TheilSen([]float64{1, 1}, []float64{1, 2}, 0.95)),
		"negative time":        second(stats.KaplanMeier([]float64{-14}, []bool{true})),
		"no exposure":          second(stats.Garwood(1, 0, 0.95)),
		"half a break":         second(stats.Garwood(0.5, 1, 0.95)),
		"half a dog":           second(stats.Fisher(0.5, 1, 1, 1, 0.95)),
		"half a dog, one side": second(stats.FisherLess(0.5, 1, 1, 1)),
		"not square":           second(stats.Kappa([][]float64{{1, 2}}, 0.95)),
		"p above 1":            second(stats.Holm([]float64{0.5, 1.1})),
		"p of nothing":         second(stats.Holm(nil)),
		"p0 above p1":          second(stats.WaldSPRT(0.3, 0.1, 0.05, 0.05)),
		"too many pairs":       second(stats.TheilSen(nil, make([]float64, 20_000), 0.95)),
	} {
		if !errors.Is(err, stats.ErrInput) {
			t.Errorf("%s: %v", name, err)
		}
	}
	for name, err := range map[string]error{
		"trend": second(stats.MannKendall(nil, nil)), "curve": second(stats.KaplanMeier(nil, nil)), "clusters": second(stats.Cluster(nil, nil, 0.95)),
		"no trials": second(stats.Weighted([]float64{0}, []float64{0}, nil, 0.1, 0.95)), "logistic": second(stats.Logistic(stats.LogisticData{})),
	} {
		if !errors.Is(err, stats.ErrEmpty) {
			t.Errorf("%s of nothing: %v", name, err)
		}
	}
	var e *stats.InputError
	if err := second(stats.Wilson(21, 20, 0.95)); !errors.As(err, &e) || e.Func != "Wilson" || e.Arg != "x" {
		t.Errorf("which argument: %v", err)
	}
	if err := second(stats.TheilSen(nil, make([]float64, 20_000), 0.95)); !errors.Is(err, stats.ErrTooLarge) {
		t.Errorf("too many pairs: %v", err)
	}
}
