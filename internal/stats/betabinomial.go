package stats

import "math"

// BetaBinomialFit is a maximum-likelihood beta-binomial.
type BetaBinomialFit struct {
	PPooled  float64 // X/N
	ICCANOVA Number  // analysis-of-variance intraclass correlation
	Pearson  Number  // Pearson chi-square of the binomial fit; absent when all trials agree
	DF       int     // clusters less one

	Mu, Rho     float64 // mean and intra-cluster correlation; Rho is 0 or 1 on a boundary
	Theta       Number  // Rho/(1-Rho), may be +Inf
	Alpha, Beta Number  // Mu/Theta and (1-Mu)/Theta; +Inf when Rho is 0
	SEMu        Number  // from the inverse information; absent when Mu is 0 or 1
	SERho       Number  // absent on the boundaries

	LogLik         float64 // with the binomial coefficients
	LogLikBinomial float64 // of the binomial fit
	LRT            float64 // 2 (LogLik - LogLikBinomial), at least 0
	LRTPHalf       float64 // half the chi-square(1) tail; 1 when LRT is 0
}

// BetaBinomial fits x[i] successes of n[i] trials, whole numbers, with a
// beta-binomial of mean Mu and intra-cluster correlation Rho. Rho = 0 is a
// boundary: then the binomial fit is reported; so is Rho = 1, when every cluster
// is all yes or all no. When all trials agree, Mu is 0 or 1 and Rho 0. Clusters without trials are left out.
//
// Sources: Williams 1975, Biometrics 31:949; Self & Liang 1987, JASA 82:605
// for the halved tail.
func BetaBinomial(x, n []float64) (BetaBinomialFit, error) {
	const fn = "BetaBinomial"
	if err := checkClusters(fn, x, n); err != nil {
		return BetaBinomialFit{}, err
	}
	for i := range x {
		if !isWhole(x[i]) || !isWhole(n[i]) {
			return BetaBinomialFit{}, bad(fn, "successes and trials", "must be whole numbers; pair %d is %v of %v", i+1, x[i], n[i])
		}
		if n[i] > 10_000_000 {
			return BetaBinomialFit{}, tooLarge(fn, "trials", "value %d is above ten million", i+1)
		}
	}
	m := clusterMoments(x, n)
	f := BetaBinomialFit{PPooled: m.x / m.n, ICCANOVA: m.icc(), DF: m.k - 1, LRTPHalf: 1}
	for i := range x {
		f.LogLikBinomial += lnChoose(n[i], x[i]) + xlogy(x[i], f.PPooled) + xlogy(n[i]-x[i], 1-f.PPooled)
	}
	boundary := func() BetaBinomialFit {
		f.Mu, f.Rho = f.PPooled, 0
		f.Theta = Some(0)
		inf := Some(math.Inf(1))
		f.Alpha, f.Beta = inf, inf
		f.LogLik = f.LogLikBinomial
		if m.x > 0 && m.x < m.n {
			f.SEMu = Some(math.Sqrt(f.PPooled * (1 - f.PPooled) / m.n))
		}
		return f
	}
	if m.x == 0 || m.x == m.n {
		return boundary(), nil
	}
	var chi float64
	for i := range x {
		if n[i] > 0 {
			d := x[i] - n[i]*f.PPooled
			chi += d * d / (n[i] * f.PPooled * (1 - f.PPooled))
		}
	}
	f.Pearson = Some(chi)
	if m.allOnes {
		return boundary(), nil // no pair of trials within a cluster: Rho does not enter
	}

	if m.within == 0 {
		// Every cluster is all yes or all no: for any mean the likelihood rises
		// with Rho up to 1, where a cluster counts as one trial.
		var yes float64
		for i := range x {
			if n[i] > 0 && x[i] == n[i] {
				yes++
			}
		}
		k := float64(m.k)
		f.Mu, f.Rho = yes/k, 1
		f.Theta, f.Alpha, f.Beta = Some(math.Inf(1)), Some(0), Some(0)
		f.SEMu = Some(math.Sqrt(f.Mu * (1 - f.Mu) / k))
		f.LogLik = xlogy(yes, f.Mu) + xlogy(k-yes, 1-f.Mu)
		f.compare()
		return f, nil
	}

	l := newBetaBinomialLikelihood(x, n)
	base := l.at(f.PPooled, 0).value
	best := betaBinomialPoint{}
	found := false
	start := []float64{0.02, 0.1, 0.3, 0.6, 0.9}
	if f.ICCANOVA.OK && f.ICCANOVA.V > 0.001 && f.ICCANOVA.V < 0.999 {
		start = append([]float64{f.ICCANOVA.V}, start...)
	}
	for _, rho := range start {
		p, ok := l.maximise(f.PPooled, rho)
		if ok && (!found || p.value > best.value) {
			best, found = p, true
		}
	}
	if !found || best.value <= base+1e-12*math.Abs(base) || best.rho < 1e-9 {
		// Nothing inside beats the binomial. Is the score at 0 against it too?
		if l.at(f.PPooled, 0).gr <= 0 {
			return boundary(), nil
		}
		if !found {
			return BetaBinomialFit{}, ErrNoConvergence
		}
	}
	f.Mu, f.Rho = best.mu, best.rho
	constant := 0.0
	for i := range x {
		constant += lnChoose(n[i], x[i])
	}
	f.LogLik = best.value + constant
	theta := best.rho / (1 - best.rho)
	f.Theta = Some(theta)
	f.Alpha, f.Beta = Some(best.mu/theta), Some((1-best.mu)/theta)
	det := best.hmm*best.hrr - best.hmr*best.hmr
	if det > 0 && best.hmm < 0 {
		f.SEMu, f.SERho = Some(math.Sqrt(-best.hrr/det)), Some(math.Sqrt(-best.hmm/det))
	}
	f.compare()
	return f, nil
}

// compare sets the likelihood ratio test against the binomial.
func (f *BetaBinomialFit) compare() {
	f.LRT = math.Max(0, 2*(f.LogLik-f.LogLikBinomial))
	if f.LRT > 0 {
		f.LRTPHalf = chiSquareTail(f.LRT, 1) / 2
	}
}

// betaBinomialLikelihood holds, for each j, in how many clusters the j-th
// success, failure or trial occurs: the log likelihood is a sum over j of
// logarithms linear in the parameters.
type betaBinomialLikelihood struct{ yes, no, all []float64 }

func newBetaBinomialLikelihood(x, n []float64) betaBinomialLikelihood {
	over := func(v func(i int) float64) []float64 {
		most := 0
		for i := range n {
			most = max(most, int(v(i)))
		}
		c := make([]float64, most+1)
		for i := range n {
			c[int(v(i))]++
		}
		for j := most - 1; j >= 0; j-- { // clusters with at least j
			c[j] += c[j+1]
		}
		return c[1:] // index j: clusters with more than j
	}
	return betaBinomialLikelihood{
		yes: over(func(i int) float64 { return x[i] }),
		no:  over(func(i int) float64 { return n[i] - x[i] }),
		all: over(func(i int) float64 { return n[i] }),
	}
}

type betaBinomialPoint struct {
	mu, rho, value float64
	gm, gr         float64 // gradient
	hmm, hmr, hrr  float64 // second derivatives
}

// at is the log likelihood without the binomial coefficients, and its first
// two derivatives in (mu, rho).
func (l betaBinomialLikelihood) at(mu, rho float64) betaBinomialPoint {
	p := betaBinomialPoint{mu: mu, rho: rho}
	add := func(counts []float64, a, am, slope, cross, sign float64) {
		// argument a + j rho (a at j = 0), derivative am in mu, j + slope in rho
		for j, c := range counts {
			v := a + float64(j)*rho
			dr := float64(j) + slope
			p.value += sign * c * math.Log(v)
			p.gm += sign * c * am / v
			p.gr += sign * c * dr / v
			p.hmm -= sign * c * am * am / (v * v)
			p.hrr -= sign * c * dr * dr / (v * v)
			p.hmr += sign * c * (cross/v - am*dr/(v*v))
		}
	}
	add(l.yes, mu*(1-rho), 1-rho, -mu, -1, 1)
	add(l.no, (1-mu)*(1-rho), -(1 - rho), -(1 - mu), 1, 1)
	add(l.all, 1-rho, 0, -1, 0, -1)
	return p
}

// maximise climbs from (mu, rho) by Newton steps, halved until they gain,
// falling back to the gradient on a logit scale where the surface is not
// concave.
func (l betaBinomialLikelihood) maximise(mu, rho float64) (betaBinomialPoint, bool) {
	p := l.at(mu, rho)
	for range 500 {
		det := p.hmm*p.hrr - p.hmr*p.hmr
		var dm, dr float64
		if p.hmm < 0 && det > 0 {
			dm = -(p.hrr*p.gm - p.hmr*p.gr) / det
			dr = -(p.hmm*p.gr - p.hmr*p.gm) / det
		} else {
			vm, vr := p.mu*(1-p.mu), p.rho*(1-p.rho)
			dm, dr = p.gm*vm*vm, p.gr*vr*vr
			norm := math.Max(math.Abs(dm)/vm, math.Abs(dr)/vr)
			if norm > 0.5 {
				dm, dr = dm*0.5/norm, dr*0.5/norm
			}
		}
		size := 1.0
		moved := false
		for range 60 {
			m, r := p.mu+size*dm, p.rho+size*dr
			// Stay inside; go at most nine tenths of the way to an edge.
			m = math.Min(math.Max(m, p.mu/10), 1-(1-p.mu)/10)
			r = math.Min(math.Max(r, p.rho/10), 1-(1-p.rho)/10)
			next := l.at(m, r)
			if next.value >= p.value-1e-13*math.Abs(p.value) {
				if math.Abs(m-p.mu) <= 1e-13 && math.Abs(r-p.rho) <= 1e-13 {
					return next, true
				}
				p, moved = next, true
				break
			}
			size /= 2
		}
		if p.rho < 1e-10 || p.rho > 1-1e-10 {
			return p, true
		}
		if !moved {
			return p, math.Abs(p.gm)*p.mu*(1-p.mu) < 1e-6 && math.Abs(p.gr)*p.rho*(1-p.rho) < 1e-6
		}
	}
	return p, math.Abs(p.gm)*p.mu*(1-p.mu) < 1e-6 && math.Abs(p.gr)*p.rho*(1-p.rho) < 1e-6
}
