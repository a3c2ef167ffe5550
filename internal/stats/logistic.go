package stats

import (
	"errors"
	"math"

	"gonum.org/v1/gonum/mat"
)

// NormalPrior is a normal prior on one coefficient. SD = 0 or +Inf means none.
type NormalPrior struct{ Mean, SD float64 }

// LogisticData is the input of Logistic: row i has the predictors X[i]
// (include a 1 for an intercept), Y[i] successes of N[i] trials and weight
// W[i]. N nil means one trial each, W nil weight 1 each. Weights multiply the
// log likelihood and need not be whole; Y and N need not be whole either.
// Prior, if given, has one entry for each coefficient.
type LogisticData struct {
	X     [][]float64
	Y     []float64
	N     []float64
	W     []float64
	Prior []NormalPrior
}

// LogisticFit is a fitted logistic regression.
type LogisticFit struct {
	Coef []float64
	SE   []float64
	Cov  [][]float64 // inverse information (with priors: inverse curvature of the posterior)
}

// ErrSeparated: a direction of the coefficients has no finite maximum, as all
// answers are alike or a predictor parts yes from no.
var ErrSeparated = errors.New("not estimable: the predictors separate yes from no")

// ErrNotIdentified: the columns of the design are linearly dependent, for
// example a predictor that never changes.
var ErrNotIdentified = errors.New("not identified: the predictors do not vary enough")

// ErrNoConvergence: the iteration did not settle.
var ErrNoConvergence = errors.New("the iteration did not converge")

// Logistic fits a logistic regression by iteratively reweighted least squares
// (Newton's method), with counts, weights and optional normal priors, in which
// case it returns the posterior mode and curvature.
//
// errors.Is(err, ErrNotIdentified): a predictor does not vary, or is a
// combination of others. errors.Is(err, ErrSeparated): a maximum at infinity.
// Priors on all coefficients make both impossible.
//
// Source: McCullagh & Nelder 1989, ch. 4; Albert & Anderson 1984, Biometrika
// 71:1 (separation); R glm.
func Logistic(d LogisticData) (LogisticFit, error) {
	m, err := newLogisticModel(d)
	if err != nil {
		return LogisticFit{}, err
	}
	return m.fit()
}

type logisticModel struct {
	x       [][]float64 // rows in use, columns scaled
	y, n, w []float64
	k       int
	scale   []float64
	prior   []NormalPrior // on the scaled coefficients
	bounded bool          // every coefficient has a prior
}

func newLogisticModel(d LogisticData) (*logisticModel, error) {
	const fn = "Logistic"
	if len(d.X) == 0 {
		return nil, bad(fn, "x", "is empty")
	}
	if len(d.Y) != len(d.X) {
		return nil, bad(fn, "y", "has %d values and x %d rows", len(d.Y), len(d.X))
	}
	if d.N != nil && len(d.N) != len(d.X) {
		return nil, bad(fn, "n", "has %d values and x %d rows", len(d.N), len(d.X))
	}
	if d.W != nil && len(d.W) != len(d.X) {
		return nil, bad(fn, "weights", "has %d values and x %d rows", len(d.W), len(d.X))
	}
	k := len(d.X[0])
	if k == 0 {
		return nil, bad(fn, "x", "is empty")
	}
	if k > 500 {
		return nil, bad(fn, "x", "has more than 500 columns")
	}
	if d.Prior != nil && len(d.Prior) != k {
		return nil, bad(fn, "prior", "has %d entries and x %d columns", len(d.Prior), k)
	}
	m := &logisticModel{k: k, scale: make([]float64, k)}
	for i, row := range d.X {
		if len(row) != k {
			return nil, bad(fn, "x", "row %d has %d of %d columns", i+1, len(row), k)
		}
		if err := checkFinite(fn, "x", row); err != nil {
			return nil, err
		}
		n, w := 1.0, 1.0
		if d.N != nil {
			n = d.N[i]
		}
		if d.W != nil {
			w = d.W[i]
		}
		if err := checkShare(fn, "y", "n", d.Y[i], n); err != nil {
			return nil, err
		}
		if !finite(w) || w < 0 || w > maxCount {
			return nil, bad(fn, "weights", "value %d must be a finite number of at least 0; it is %v", i+1, w)
		}
		if n == 0 || w == 0 {
			continue
		}
		m.x = append(m.x, row)
		m.y = append(m.y, d.Y[i])
		m.n = append(m.n, n)
		m.w = append(m.w, w)
		for j, v := range row {
			m.scale[j] = math.Max(m.scale[j], math.Abs(v))
		}
	}
	if len(m.x) == 0 && d.Prior == nil {
		return nil, bad(fn, "n", "is empty")
	}
	m.bounded = d.Prior != nil
	m.prior = make([]NormalPrior, k)
	for j := range k {
		if m.scale[j] == 0 {
			m.scale[j] = 1
		}
		if d.Prior == nil {
			continue
		}
		p := d.Prior[j]
		if !finite(p.Mean) || math.IsNaN(p.SD) || p.SD < 0 {
			return nil, bad(fn, "prior", "entry %d needs a finite mean and an SD of at least 0; it is %v, %v", j+1, p.Mean, p.SD)
		}
		if p.SD == 0 || math.IsInf(p.SD, 1) {
			m.bounded = false
			continue
		}
		m.prior[j] = NormalPrior{p.Mean * m.scale[j], p.SD * m.scale[j]}
	}
	scaled := make([][]float64, len(m.x))
	back := make([]float64, len(m.x)*k)
	for i, row := range m.x {
		scaled[i] = back[i*k : (i+1)*k]
		for j, v := range row {
			scaled[i][j] = v / m.scale[j]
		}
	}
	m.x = scaled
	if !m.bounded && m.rank() < k {
		return nil, ErrNotIdentified
	}
	return m, nil
}

// rank of the rows of X together with one row for each prior.
func (m *logisticModel) rank() int {
	k := m.k
	a := mat.NewDense(len(m.x)+k, k, nil)
	for i, row := range m.x {
		a.SetRow(i, row)
	}
	for j, p := range m.prior {
		if p.SD > 0 {
			a.Set(len(m.x)+j, j, 1)
		}
	}
	var svd mat.SVD
	if !svd.Factorize(a, mat.SVDNone) {
		return 0
	}
	s := svd.Values(nil)
	r := 0
	for _, v := range s {
		if v > 1e-11*s[0] {
			r++
		}
	}
	return r
}

// sigmoid returns p and 1-p of a logit.
func sigmoid(eta float64) (p, q float64) {
	if eta >= 0 {
		e := math.Exp(-eta)
		return 1 / (1 + e), e / (1 + e)
	}
	e := math.Exp(eta)
	return e / (1 + e), 1 / (1 + e)
}

// log1pExp is ln(1 + e^x).
func log1pExp(x float64) float64 {
	if x > 0 {
		return x + math.Log1p(math.Exp(-x))
	}
	return math.Log1p(math.Exp(x))
}

// objective is the negative log posterior, without constants.
func (m *logisticModel) objective(beta []float64) float64 {
	var s float64
	for i, row := range m.x {
		eta := dot(row, beta)
		s += m.w[i] * (m.y[i]*log1pExp(-eta) + (m.n[i]-m.y[i])*log1pExp(eta))
	}
	for j, p := range m.prior {
		if p.SD > 0 {
			z := (beta[j] - p.Mean) / p.SD
			s += z * z / 2
		}
	}
	return s
}

func dot(a, b []float64) float64 {
	var s float64
	for i, v := range a {
		s += v * b[i]
	}
	return s
}

// newton fills the gradient of the log posterior and its negative curvature.
func (m *logisticModel) newton(beta []float64, g *mat.VecDense, h *mat.SymDense) {
	k := m.k
	grad := make([]float64, k)
	hess := make([]float64, k*k)
	for i, row := range m.x {
		p, q := sigmoid(dot(row, beta))
		r := m.w[i] * (m.y[i]*q - (m.n[i]-m.y[i])*p)
		v := m.w[i] * m.n[i] * p * q
		for a, xa := range row {
			grad[a] += r * xa
			vx := v * xa
			for b := 0; b <= a; b++ {
				hess[b*k+a] += vx * row[b]
			}
		}
	}
	for j, p := range m.prior {
		if p.SD > 0 {
			grad[j] -= (beta[j] - p.Mean) / (p.SD * p.SD)
			hess[j*k+j] += 1 / (p.SD * p.SD)
		}
	}
	for a := range k {
		g.SetVec(a, grad[a])
		for b := a; b < k; b++ {
			h.SetSym(a, b, hess[a*k+b])
		}
	}
}

// maxNewton is enough for any finite maximum: with a maximum at infinity the
// linear predictor moves by about 1 with each step and never settles.
const maxNewton = 100

// farthest is how far a linear predictor at 0 may move in one step, in logits.
const farthest = 5

func (m *logisticModel) fit() (LogisticFit, error) {
	k := m.k
	beta := make([]float64, k)
	for j, p := range m.prior {
		beta[j] = p.Mean
	}
	if m.objective(beta) > m.objective(make([]float64, k)) {
		clear(beta)
	}
	g, step := mat.NewVecDense(k, nil), mat.NewVecDense(k, nil)
	h := mat.NewSymDense(k, nil)
	var chol mat.Cholesky
	cur := m.objective(beta)
	next := make([]float64, k)
	f := LogisticFit{}
	settled := 0
	for steps := 1; settled < 2; steps++ {
		if steps > maxNewton {
			return LogisticFit{}, m.failure()
		}
		m.newton(beta, g, h)
		if !chol.Factorize(h) || chol.Cond() > 1e16 {
			return LogisticFit{}, m.failure()
		}
		if err := chol.SolveVecTo(step, g); err != nil {
			if _, ill := err.(mat.Condition); !ill {
				return LogisticFit{}, m.failure()
			}
		}
		// Where a prior holds a line that is steeper than what was seen, Newton's step
		// goes over to the other side, so far out that nothing there tells it the way
		// back: no farther than the predictors reach, and a bit.
		var far, reach float64
		for _, row := range m.x {
			far = math.Max(far, math.Abs(dot(row, step.RawVector().Data)))
			reach = math.Max(reach, math.Abs(dot(row, beta)))
		}
		size := 1.0
		if far > farthest+reach/2 {
			size = (farthest + reach/2) / far
		}
		// Halve the step while it makes things worse.
		var val float64
		for range 60 {
			for j := range next {
				next[j] = beta[j] + size*step.AtVec(j)
			}
			if val = m.objective(next); val <= cur+1e-10*math.Abs(cur) {
				break
			}
			size /= 2
		}
		var move, largest float64
		for _, row := range m.x {
			e := dot(row, next)
			move = math.Max(move, math.Abs(e-dot(row, beta)))
			largest = math.Max(largest, math.Abs(e))
		}
		for j := range next {
			if m.prior[j].SD > 0 {
				move = math.Max(move, math.Abs(next[j]-beta[j])/m.prior[j].SD)
			}
		}
		copy(beta, next)
		cur = val
		// Newton's steps shrink quadratically, so one more after a tiny one
		// brings the last digits.
		if move < 1e-7*(1+largest) {
			settled++
		} else {
			settled = 0
		}
	}
	m.newton(beta, g, h)
	if !chol.Factorize(h) {
		return LogisticFit{}, m.failure()
	}
	var inv mat.SymDense
	if err := chol.InverseTo(&inv); err != nil {
		if _, ill := err.(mat.Condition); !ill {
			return LogisticFit{}, m.failure()
		}
	}
	f.Coef = make([]float64, k)
	f.SE = make([]float64, k)
	f.Cov = make([][]float64, k)
	for a := range k {
		f.Coef[a] = beta[a] / m.scale[a]
		f.Cov[a] = make([]float64, k)
		for b := range k {
			f.Cov[a][b] = inv.At(a, b) / m.scale[a] / m.scale[b]
		}
		f.SE[a] = math.Sqrt(inv.At(a, a)) / m.scale[a]
		if !finite(f.Coef[a]) || !finite(f.SE[a]) {
			return LogisticFit{}, m.failure()
		}
	}
	return f, nil
}

func (m *logisticModel) failure() error {
	if m.bounded {
		return ErrNoConvergence
	}
	return ErrSeparated
}
