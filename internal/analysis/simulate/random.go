package main

import (
	"hash/fnv"
	"math"
	"math/rand/v2"
	"runtime"
	"sync"
	"sync/atomic"
)

// source returns the random numbers of one replicate of one cell of a study.
// It depends on the seed and these names alone, so that neither the number of
// goroutines nor the order of the cells can change a result. Seed, cell and number
// are scrambled one after the other: neighbouring seeds of a plain PCG generator gave
// estimates several standard errors apart.
func source(seed uint64, cell string, replicate int) *rand.Rand {
	h := fnv.New64a()
	h.Write([]byte(cell))
	x := scramble(scramble(scramble(seed)+h.Sum64()) + uint64(replicate))
	return rand.New(rand.NewPCG(x, scramble(x)))
}

// scramble is one step of the generator splitmix64 (Steele, Lea and Flood 2014).
func scramble(x uint64) uint64 {
	x += 0x9e3779b97f4a7c15
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return x ^ x>>31
}

// each runs f for the replicates 0 to n-1 of a cell and returns their results
// in that order.
func each[T any](e env, cell string, n int, f func(i int, r *rand.Rand) T) []T {
	out := make([]T, n)
	workers := e.workers
	if workers < 1 {
		workers = runtime.GOMAXPROCS(0)
	}
	var next atomic.Int64
	var wg sync.WaitGroup
	for range workers {
		wg.Go(func() {
			for {
				i := int(next.Add(1)) - 1
				if i >= n {
					return
				}
				out[i] = f(i, source(e.seed, cell, i))
			}
		})
	}
	wg.Wait()
	return out
}

// sitting draws the yes/no answers of one session by Polya's urn: with a
// chance of p for every trial it is exactly the beta-binomial distribution with
// intra-session correlation rho, and the chance may differ from trial to trial.
//
// Source of the urn form: Eggenberger and Polya 1923, as in Johnson, Kemp and
// Kotz, Univariate Discrete Distributions (from memory).
type sitting struct {
	rho    float64
	n, yes float64
}

func (s *sitting) answer(p float64, r *rand.Rand) bool {
	chance := p
	if s.rho > 0 {
		t := (1 - s.rho) / s.rho
		chance = (p*t + s.yes) / (t + s.n)
	}
	ok := r.Float64() < chance
	s.n++
	if ok {
		s.yes++
	}
	return ok
}

// betaBinomial is the chance of k successes of n with mean p and intra-session
// correlation rho.
func betaBinomial(k, n int, p, rho float64) float64 {
	choose := lgamma(float64(n)+1) - lgamma(float64(k)+1) - lgamma(float64(n-k)+1)
	if rho == 0 {
		return math.Exp(choose + float64(k)*math.Log(p) + float64(n-k)*math.Log1p(-p))
	}
	t := (1 - rho) / rho
	a, b := p*t, (1-p)*t
	lb := func(x, y float64) float64 { return lgamma(x) + lgamma(y) - lgamma(x+y) }
	return math.Exp(choose + lb(a+float64(k), b+float64(n-k)) - lb(a, b))
}

func lgamma(x float64) float64 { v, _ := math.Lgamma(x); return v }

func logit(p float64) float64 { return math.Log(p / (1 - p)) }

func logistic(x float64) float64 { return 1 / (1 + math.Exp(-x)) }

func uniform(r *rand.Rand, low, high float64) float64 { return low + (high-low)*r.Float64() }
