package stats

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// LogLinearFit is a fitted log-linear learning curve.
type LogLinearFit struct {
	Coef, SE []float64
	LogLik   float64 // with the binomial coefficients
}

// LogLinear fits P(yes) = exp(x b) by maximum likelihood to y[i] of n[i] (n
// nil: one each), where the predictors are counts of what went before and the
// chance is 1 at the start: the learning curve of Bush & Mosteller, each
// earlier avoidance and each earlier shock multiplying the chance of a shock by
// a constant. The predictors must not be negative, and a row of zeros, whose
// chance is 1, must be all yes; it says nothing and is passed over.
//
// errors.Is(err, ErrNotIdentified): a predictor is a multiple of others or
// always 0. errors.Is(err, ErrSeparated): no maximum with every chance below 1
// (all yes, all no, or a chance that wants to be 1).
//
// Source: Bush & Mosteller 1955, Stochastic Models for Learning; Lindsey, in
// the BUGS examples volume 1 (dogs).
func LogLinear(x [][]float64, y, n []float64) (LogLinearFit, error) {
	const fn = "LogLinear"
	if len(x) == 0 {
		return LogLinearFit{}, empty(fn, "x")
	}
	if len(y) != len(x) || n != nil && len(n) != len(x) {
		return LogLinearFit{}, bad(fn, "y and n", "must have one value for each of the %d rows of x", len(x))
	}
	k := len(x[0])
	if k == 0 {
		return LogLinearFit{}, empty(fn, "x")
	}
	if k > 100 {
		return LogLinearFit{}, tooLarge(fn, "x", "has more than 100 columns")
	}
	var d logLinearData
	var sum float64
	for i, row := range x {
		if len(row) != k {
			return LogLinearFit{}, bad(fn, "x", "row %d has %d of %d columns", i+1, len(row), k)
		}
		if err := checkFinite(fn, "x", row); err != nil {
			return LogLinearFit{}, err
		}
		m := 1.0
		if n != nil {
			m = n[i]
		}
		if err := checkProportion(fn, "y", "n", y[i], m); err != nil {
			return LogLinearFit{}, err
		}
		var total float64
		for j, v := range row {
			if v < 0 || v > 1e9 {
				return LogLinearFit{}, bad(fn, "x", "row %d, column %d must lie between 0 and 1e9; it is %v", i+1, j+1, v)
			}
			total += v
		}
		if m == 0 {
			continue
		}
		if total == 0 {
			if y[i] < m {
				return LogLinearFit{}, bad(fn, "y", "row %d has no history, so its chance is 1, and yet a no", i+1)
			}
			continue
		}
		sum += total
		d.x, d.y, d.n = append(d.x, row), append(d.y, y[i]), append(d.n, m)
	}
	if len(d.x) == 0 {
		return LogLinearFit{}, empty(fn, "x")
	}
	design := mat.NewDense(len(d.x), k, nil)
	for i, row := range d.x {
		design.SetRow(i, row)
	}
	var svd mat.SVD
	if !svd.Factorize(design, mat.SVDNone) || svd.Rank(1e-11) < k {
		return LogLinearFit{}, ErrNotIdentified
	}

	b := make([]float64, k)
	for j := range b {
		b[j] = -float64(len(d.x)) / sum // an average row has chance 1/e
	}
	g, step := mat.NewVecDense(k, nil), mat.NewVecDense(k, nil)
	h := mat.NewSymDense(k, nil)
	var chol mat.Cholesky
	cur := d.logLik(b)
	next := make([]float64, k)
	for range 200 {
		d.newton(b, g, h)
		if !chol.Factorize(h) {
			return LogLinearFit{}, ErrSeparated
		}
		if err := chol.SolveVecTo(step, g); err != nil {
			return LogLinearFit{}, ErrSeparated
		}
		size, accepted := 1.0, false
		for range 60 {
			for j := range next {
				next[j] = b[j] + size*step.AtVec(j)
			}
			if v := d.logLik(next); v >= cur-1e-13*math.Abs(cur) {
				cur, accepted = v, true
				break
			}
			size /= 2
		}
		if !accepted {
			return LogLinearFit{}, ErrSeparated
		}
		var move, top float64
		for _, row := range d.x {
			e := dot(row, next)
			move = math.Max(move, math.Abs(e-dot(row, b)))
			top = math.Max(top, math.Abs(e))
		}
		copy(b, next)
		if move > 1e-10*(1+top) {
			continue
		}
		d.newton(b, g, h)
		var inv mat.SymDense
		if !chol.Factorize(h) || chol.InverseTo(&inv) != nil {
			return LogLinearFit{}, ErrSeparated
		}
		f := LogLinearFit{Coef: b, SE: make([]float64, k), LogLik: cur}
		for j := range k {
			f.SE[j] = math.Sqrt(inv.At(j, j))
		}
		for i := range d.x {
			f.LogLik += lnChoose(d.n[i], d.y[i])
		}
		return f, nil
	}
	return LogLinearFit{}, ErrSeparated
}

type logLinearData struct {
	x    [][]float64
	y, n []float64
}

// logLik is -Inf where a chance would reach 1 with a no observed.
func (d logLinearData) logLik(b []float64) float64 {
	var s float64
	for i, row := range d.x {
		eta := dot(row, b)
		if eta >= 0 {
			return math.Inf(-1)
		}
		s += d.y[i] * eta
		if no := d.n[i] - d.y[i]; no > 0 {
			s += no * math.Log(-math.Expm1(eta))
		}
	}
	return s
}

// newton fills the gradient and minus the second derivatives.
func (d logLinearData) newton(b []float64, g *mat.VecDense, h *mat.SymDense) {
	g.Zero()
	h.Zero()
	for i, row := range d.x {
		eta := dot(row, b)
		odds := -math.Exp(eta) / math.Expm1(eta) // p/(1-p)
		no := d.n[i] - d.y[i]
		slope := d.y[i] - no*odds
		curv := no * odds * (1 + odds)
		for a, xa := range row {
			g.SetVec(a, g.AtVec(a)+slope*xa)
			for c := a; c < len(row); c++ {
				h.SetSym(a, c, h.At(a, c)+curv*xa*row[c])
			}
		}
	}
}
