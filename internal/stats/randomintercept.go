package stats

import (
	"math"

	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/mat"
)

// GroupMode is the most likely random intercept of one group, given the fit.
type GroupMode struct {
	Group    int     // the label as given
	Mode, SD float64 // conditional mode and standard deviation, on the logit scale
}

// RandomInterceptFit is a logistic regression with a normal random intercept
// per group.
type RandomInterceptFit struct {
	Coef      []float64
	SE        []float64 // from the curvature in the coefficients and SD together
	SEGivenSD []float64 // from the curvature in the coefficients alone
	SD        float64   // standard deviation of the intercepts; 0 on the boundary
	SESD      Number    // absent on the boundary
	LogLik    float64   // with all constants
	Modes     []GroupMode
}

// RandomIntercept fits logit p = x b + SD v, v standard normal and shared by
// the rows of a group, to y[i] successes of n[i] trials (n nil: one each).
// nodes = 1 is the Laplace approximation; an odd number up to 99 is adaptive
// Gauss-Hermite quadrature with so many nodes. SD = 0 is a boundary, where the
// plain logistic fit is reported. Modes come in order of first appearance.
//
// errors.Is(err, ErrSeparated) and ErrNotIdentified as for Logistic.
//
// Source: Breslow & Clayton 1993, JASA 88:9; Pinheiro & Bates 1995, JCGS 4:12;
// the full likelihood and curvature, not those of an optimiser stopped early.
func RandomIntercept(x [][]float64, y, n []float64, group []int, nodes int) (RandomInterceptFit, error) {
	const fn = "RandomIntercept"
	if len(group) != len(x) {
		return RandomInterceptFit{}, bad(fn, "group", "has %d values and x %d rows", len(group), len(x))
	}
	if nodes < 1 || nodes > 99 || nodes%2 == 0 {
		return RandomInterceptFit{}, bad(fn, "nodes", "must be an odd number from 1 to 99; it is %d", nodes)
	}
	if len(x) > 1_000_000 {
		return RandomInterceptFit{}, tooLarge(fn, "x", "has more than a million rows")
	}
	plain, err := Logistic(LogisticData{X: x, Y: y, N: n})
	if err != nil {
		return RandomInterceptFit{}, err
	}
	m := newRandomModel(x, y, n, group, nodes)
	k := len(plain.Coef)
	f := RandomInterceptFit{Coef: plain.Coef, SE: plain.SE, SEGivenSD: plain.SE, LogLik: plain.LogLik}

	// Everything in units of the plain standard errors, and of 1 for SD.
	unit := append(append([]float64(nil), plain.SE...), 1)
	val := func(z []float64) float64 {
		b := make([]float64, k)
		for j := range b {
			b[j] = plain.Coef[j] + z[j]*unit[j]
		}
		return m.logLik(b, z[k])
	}
	start := make([]float64, k+1)
	startVal := math.Inf(-1)
	for _, sd := range []float64{0.05, 0.15, 0.4, 1, 2.5, 6} {
		z := make([]float64, k+1)
		z[k] = sd
		if v := val(z); v > startVal {
			start, startVal = z, v
		}
	}
	best := start
	bestVal, ok := climb(val, best)
	if math.Abs(best[k]) < 1e-4 || bestVal < plain.LogLik+1e-9 {
		best = nil // nothing gained over the boundary
	} else if !ok {
		return RandomInterceptFit{}, ErrNoConvergence
	}
	if best == nil {
		for _, g := range m.labels {
			f.Modes = append(f.Modes, GroupMode{Group: g})
		}
		return f, nil
	}
	best[k] = math.Abs(best[k])
	f.LogLik, f.SD = bestVal, best[k]
	f.Coef = make([]float64, k)
	for j := range k {
		f.Coef[j] = plain.Coef[j] + best[j]*unit[j]
	}
	_, h := derivatives(val, best)
	full, ok1 := inverseDiagonal(h, k+1)
	block, ok2 := inverseDiagonal(h, k)
	if !ok1 || !ok2 {
		return RandomInterceptFit{}, ErrNoConvergence
	}
	f.SE, f.SEGivenSD = make([]float64, k), make([]float64, k)
	for j := range k {
		f.SE[j] = math.Sqrt(full[j]) * unit[j]
		f.SEGivenSD[j] = math.Sqrt(block[j]) * unit[j]
	}
	f.SESD = Some(math.Sqrt(full[k]))
	for g, label := range m.labels {
		v, curv := m.mode(g, m.fixed(f.Coef), f.SD)
		f.Modes = append(f.Modes, GroupMode{label, f.SD * v, f.SD / math.Sqrt(curv)})
	}
	return f, nil
}

type randomModel struct {
	x           [][]float64
	y, n        []float64
	constant    float64
	labels      []int
	rows        [][]int // of each group
	node, lnWgt []float64
}

func newRandomModel(x [][]float64, y, n []float64, group []int, nodes int) *randomModel {
	m := &randomModel{x: x, y: y, n: n}
	if n == nil {
		m.n = make([]float64, len(x))
		for i := range m.n {
			m.n[i] = 1
		}
	}
	index := map[int]int{}
	for i, g := range group {
		at, ok := index[g]
		if !ok {
			at = len(m.labels)
			index[g] = at
			m.labels = append(m.labels, g)
			m.rows = append(m.rows, nil)
		}
		m.rows[at] = append(m.rows[at], i)
		m.constant += lnChoose(m.n[i], y[i])
	}
	if nodes > 1 {
		m.node, m.lnWgt = make([]float64, nodes), make([]float64, nodes)
		w := make([]float64, nodes)
		quad.Hermite{}.FixedLocations(m.node, w, math.Inf(-1), math.Inf(1))
		for i := range w {
			m.lnWgt[i] = math.Log(w[i]) + m.node[i]*m.node[i]
		}
	}
	return m
}

func (m *randomModel) fixed(b []float64) []float64 {
	eta := make([]float64, len(m.x))
	for i, row := range m.x {
		eta[i] = dot(row, b)
	}
	return eta
}

// joint is the log of likelihood times exp(-v^2/2) of a group at v.
func (m *randomModel) joint(g int, eta []float64, sd, v float64) float64 {
	s := -v * v / 2
	for _, i := range m.rows[g] {
		e := eta[i] + sd*v
		s -= m.y[i]*log1pExp(-e) + (m.n[i]-m.y[i])*log1pExp(e)
	}
	return s
}

// mode finds the v at which joint is largest, and minus its curvature there.
func (m *randomModel) mode(g int, eta []float64, sd float64) (v, curv float64) {
	slope := func(v float64) (d, c float64) {
		d, c = -v, 1
		for _, i := range m.rows[g] {
			p, q := sigmoid(eta[i] + sd*v)
			d += sd * (m.y[i]*q - (m.n[i]-m.y[i])*p)
			c += sd * sd * m.n[i] * p * q
		}
		return d, c
	}
	lo, hi := math.Inf(-1), math.Inf(1)
	for range 200 {
		d, c := slope(v)
		curv = c
		if d > 0 {
			lo = v
		} else {
			hi = v
		}
		next := v + d/c
		if !(next > lo && next < hi) {
			switch {
			case math.IsInf(lo, -1):
				next = hi - 1 - math.Abs(hi)
			case math.IsInf(hi, 1):
				next = lo + 1 + math.Abs(lo)
			default:
				next = (lo + hi) / 2
			}
		}
		if math.Abs(next-v) <= 1e-15*(1+math.Abs(v)) {
			return next, curv
		}
		v = next
	}
	return v, curv
}

func (m *randomModel) logLik(b []float64, sd float64) float64 {
	eta := m.fixed(b)
	total := m.constant
	for g := range m.rows {
		v, curv := m.mode(g, eta, sd)
		if m.node == nil {
			total += m.joint(g, eta, sd, v) - math.Log(curv)/2
			continue
		}
		s := 1 / math.Sqrt(curv)
		terms := make([]float64, len(m.node))
		top := math.Inf(-1)
		for i, z := range m.node {
			terms[i] = m.lnWgt[i] + m.joint(g, eta, sd, v+math.Sqrt2*s*z)
			top = math.Max(top, terms[i])
		}
		var sum float64
		for _, t := range terms {
			sum += math.Exp(t - top)
		}
		total += top + math.Log(sum*s/math.Sqrt(math.Pi))
	}
	return total
}

// diffStep is the step of the numerical derivatives, in standard errors.
const diffStep = 0.01

// derivatives are the gradient and the second derivatives of f at z, by
// fourth-order central differences.
func derivatives(f func([]float64) float64, z []float64) (g []float64, h [][]float64) {
	k := len(z)
	at := func(i int, a float64, j int, b float64) float64 {
		w := append([]float64(nil), z...)
		w[i] += a * diffStep
		w[j] += b * diffStep
		return f(w)
	}
	g, h = make([]float64, k), make([][]float64, k)
	f0 := f(z)
	for i := range k {
		h[i] = make([]float64, k)
		p1, m1, p2, m2 := at(i, 1, i, 0), at(i, -1, i, 0), at(i, 2, i, 0), at(i, -2, i, 0)
		g[i] = (8*(p1-m1) - (p2 - m2)) / (12 * diffStep)
		h[i][i] = (16*(p1+m1) - (p2 + m2) - 30*f0) / (12 * diffStep * diffStep)
		for j := range i {
			cross := func(s float64) float64 {
				return (at(i, s, j, s) - at(i, s, j, -s) - at(i, -s, j, s) + at(i, -s, j, -s)) / (4 * s * s * diffStep * diffStep)
			}
			v := (4*cross(1) - cross(2)) / 3
			h[i][j], h[j][i] = v, v
		}
	}
	return g, h
}

// climb maximises f from z, in place, by damped Newton steps.
func climb(f func([]float64) float64, z []float64) (float64, bool) {
	k := len(z)
	cur := f(z)
	damp := 0.0
	for range 200 {
		g, h := derivatives(f, z)
		var step mat.VecDense
		a := mat.NewSymDense(k, nil)
		for try := 0; ; try++ {
			for i := range k {
				for j := i; j < k; j++ {
					v := -h[i][j]
					if i == j {
						v += damp
					}
					a.SetSym(i, j, v)
				}
			}
			var chol mat.Cholesky
			if chol.Factorize(a) {
				if err := chol.SolveVecTo(&step, mat.NewVecDense(k, g)); err == nil {
					break
				}
			}
			if try > 60 {
				return cur, false
			}
			damp = math.Max(1e-3, 4*damp)
		}
		size, moved := 1.0, 0.0
		next := make([]float64, k)
		accepted := false
		for range 40 {
			moved = 0
			for i := range k {
				d := size * math.Max(-3, math.Min(3, step.AtVec(i)))
				next[i] = z[i] + d
				moved = math.Max(moved, math.Abs(d))
			}
			if v := f(next); v >= cur-1e-13*math.Abs(cur) {
				cur, accepted = v, true
				copy(z, next)
				break
			}
			size /= 2
		}
		if !accepted {
			return cur, moved < 1e-6
		}
		damp /= 10
		if damp < 1e-4 {
			damp = 0
		}
		if moved < 1e-9 {
			return cur, true
		}
	}
	return cur, false
}

// inverseDiagonal is the diagonal of the inverse of minus the leading k x k
// block of h; ok is false unless the block is negative definite.
func inverseDiagonal(h [][]float64, k int) (d []float64, ok bool) {
	a := mat.NewSymDense(k, nil)
	for i := range k {
		for j := i; j < k; j++ {
			a.SetSym(i, j, -h[i][j])
		}
	}
	var chol mat.Cholesky
	if !chol.Factorize(a) {
		return nil, false
	}
	var inv mat.SymDense
	if err := chol.InverseTo(&inv); err != nil {
		return nil, false
	}
	for i := range k {
		d = append(d, inv.At(i, i))
	}
	return d, true
}
