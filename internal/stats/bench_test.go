package stats_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"firstcue/internal/stats"
)

func trendOf(n int, round float64) (x, y []float64) {
	r := rand.New(rand.NewPCG(1, 2))
	for i := range n {
		x, y = append(x, float64(i+1)), append(y, math.Round((0.01*float64(i)+r.NormFloat64())*round)/round)
	}
	return x, y
}

func BenchmarkMannKendall(b *testing.B) {
	for _, n := range []int{12, 40, 60, 500} {
		for name, round := range map[string]float64{"": 1e9, "/ties": 1} {
			x, y := trendOf(n, round)
			b.Run(fmt.Sprint(n, name), func(b *testing.B) {
				for b.Loop() {
					stats.MannKendall(x, y)
				}
			})
		}
	}
}

func BenchmarkTheilSen(b *testing.B) {
	for _, n := range []int{12, 500} {
		for name, round := range map[string]float64{"": 1e9, "/ties": 1, "/constant": 1e-9} {
			x, y := trendOf(n, round)
			b.Run(fmt.Sprint(n, name), func(b *testing.B) {
				for b.Loop() {
					stats.TheilSen(x, y, 0.95)
				}
			})
		}
	}
}

func BenchmarkKaplanMeier(b *testing.B) {
	for _, n := range []int{20, 1000, 100_000} {
		r := rand.New(rand.NewPCG(1, 3))
		times, event := make([]float64, n), make([]bool, n)
		for i := range times {
			times[i], event[i] = r.ExpFloat64(), r.Float64() < 0.8
		}
		b.Run(fmt.Sprint(n), func(b *testing.B) {
			for b.Loop() {
				s, _ := stats.KaplanMeier(times, event)
				s.MedianLimits(0.95)
			}
		})
	}
}

func BenchmarkWilson(b *testing.B) {
	for b.Loop() {
		stats.Wilson(18, 20, 0.95)
	}
}

func sessionsOf(k int) (x, n, w []float64) {
	r := rand.New(rand.NewPCG(1, 4))
	for i := range k {
		m := 3 + r.IntN(6)
		x, n, w = append(x, float64(m-r.IntN(2))), append(n, float64(m)), append(w, math.Pow(0.5, float64(k-i)/6))
	}
	return x, n, w
}

func BenchmarkWeighted(b *testing.B) {
	x, n, w := sessionsOf(30)
	for b.Loop() {
		stats.Weighted(x, n, w, 0.1, 0.9)
	}
}

func BenchmarkShrunkICC(b *testing.B) {
	x, n, _ := sessionsOf(30)
	for b.Loop() {
		stats.ShrunkICC(x, n, 0.1, 10)
	}
}

func BenchmarkLogistic(b *testing.B) {
	x, n, w := sessionsOf(30)
	d := stats.LogisticData{Y: x, N: n, W: w, Prior: []stats.NormalPrior{{SD: 2}, {Mean: 0.5, SD: 0.7}}}
	for i := range x {
		d.X = append(d.X, []float64{1, math.Log(float64(1 + 5*i))})
	}
	for b.Loop() {
		stats.Logistic(d)
	}
}

func BenchmarkSessionCUSUM(b *testing.B) {
	r := rand.New(rand.NewPCG(1, 5))
	failure, session := make([]bool, 250), make([]int, 250)
	for i := range failure {
		failure[i], session[i] = r.Float64() < 0.08, i/5
	}
	c := stats.SessionCUSUM{P0: 0.08, P1: 0.35, ICC: 0.1}
	for b.Loop() {
		c.Path(failure, session, 4.5)
	}
}

func BenchmarkRunLength(b *testing.B) {
	c := stats.BernoulliCUSUM{Num: 1, Den: 61, H: 200}
	for b.Loop() {
		c.RunLength(0.01)
	}
}
