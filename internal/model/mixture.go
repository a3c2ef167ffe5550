package model

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

const most = 5 // normals kept

// normal is one weighted normal distribution of the state.
type normal struct {
	weight float64
	mean   []float64
	cov    *mat.SymDense
}

// mixture of normals; the level is the first entry of the state.
type mixture struct {
	parts []*normal
	spare *normal // memory of the part that was merged last
	view  view    // scratch
}

// start is the level before the first sitting, as five narrower normals side by
// side: what asks leave of a wide one is skewed, and one normal cannot be. Binomial
// weights keep the mean and the variance, and the shape within 1 % of a normal's.
func (m *mixture) start(mean, sd float64) {
	const apart = .6 // part of the variance that lies between the five
	m.parts = make([]*normal, 0, most+1)
	for k, ways := range [...]float64{1, 4, 6, 4, 1} {
		at := mean + math.Sqrt(apart)*sd*float64(k-2)
		m.parts = append(m.parts, &normal{ways / 16, []float64{at}, mat.NewSymDense(1, []float64{(1 - apart) * sd * sd})})
	}
}

func (m *mixture) clone() mixture {
	c := mixture{parts: make([]*normal, len(m.parts), most+1)}
	for i, p := range m.parts {
		n := p.cov.SymmetricDim()
		c.parts[i] = &normal{p.weight, append(make([]float64, 0, n+4), p.mean...), mat.NewSymDense(n, nil)}
		c.parts[i].cov.CopySym(p.cov)
	}
	return c
}

// move is the step to the next sitting: the level wanders a little, or jumps. The
// jump starts from all parts merged into one.
func (m *mixture) move(p Prior, night bool) {
	chance := p.JumpChance
	if night {
		chance = p.JumpNight
	}
	var jumped *normal
	if chance > 0 {
		jumped = m.merged(m.parts...)
		jumped.weight *= chance
		widen(jumped, p.Jump)
	}
	for _, x := range m.parts {
		x.weight *= 1 - chance
		widen(x, p.Step)
	}
	if jumped != nil {
		m.parts = append(m.parts, jumped)
	}
}

func widen(x *normal, sd float64) { x.cov.SetSym(0, 0, x.cov.At(0, 0)+sd*sd) }

// merged has the weight, the mean and the covariance of the parts together.
func (m *mixture) merged(parts ...*normal) *normal {
	n := len(parts[0].mean)
	out := m.spare
	m.spare = nil
	if out == nil || len(out.mean) != n {
		out = &normal{mean: make([]float64, n), cov: mat.NewSymDense(n, nil)}
	}
	out.weight = 0
	clear(out.mean)
	for _, x := range parts {
		out.weight += x.weight
	}
	for _, x := range parts {
		for i, v := range x.mean {
			out.mean[i] += x.weight / out.weight * v
		}
	}
	raw := out.cov.RawSymmetric()
	for i := range n {
		row := raw.Data[i*raw.Stride : i*raw.Stride+n]
		clear(row)
		for _, x := range parts {
			r := x.cov.RawSymmetric()
			from := r.Data[i*r.Stride : i*r.Stride+n]
			w := x.weight / out.weight
			d := x.mean[i] - out.mean[i]
			for j := i; j < n; j++ {
				row[j] += w * (from[j] + d*(x.mean[j]-out.mean[j]))
			}
		}
	}
	return out
}

// reduce merges parts until at most five are left, each time the two whose merging
// changes the distribution of the level least, and sets the sum of the weights to 1.
func (m *mixture) reduce() {
	for len(m.parts) > most {
		a, b, least := 0, 1, math.Inf(1)
		for i, x := range m.parts {
			for j, y := range m.parts[:i] {
				if c := cost(x, y); c < least {
					a, b, least = j, i, c
				}
			}
		}
		one := m.merged(m.parts[a], m.parts[b])
		m.spare = m.parts[b]
		m.parts[a] = one
		m.parts = append(m.parts[:b], m.parts[b+1:]...)
	}
	total := 0.0
	for _, x := range m.parts {
		total += x.weight
	}
	for _, x := range m.parts {
		x.weight /= total
	}
}

// cost of merging two parts: a bound of the Kullback-Leibler divergence between
// before and after, of the level alone. Source: Runnalls (2007), IEEE Transactions
// on Aerospace and Electronic Systems 43:989.
func cost(x, y *normal) float64 {
	w := x.weight + y.weight
	a, b := x.weight/w, y.weight/w
	d := x.mean[0] - y.mean[0]
	vx, vy := x.cov.At(0, 0), y.cov.At(0, 0)
	return w * (math.Log(a*vx+b*vy+a*b*d*d) - a*math.Log(vx) - b*math.Log(vy))
}

// grow adds an entry with mean 0 that hangs together with nothing yet.
func (m *mixture) grow(variance float64) {
	for _, x := range m.parts {
		n := len(x.mean)
		x.mean = append(x.mean, 0)
		x.cov = grown(x.cov)
		x.cov.SetSym(n, n, variance)
	}
}

// copyLevel adds an entry that is the level of now and stands still.
func (m *mixture) copyLevel() {
	for _, x := range m.parts {
		n := len(x.mean)
		x.mean = append(x.mean, x.mean[0])
		x.cov = grown(x.cov)
		for i := range n {
			x.cov.SetSym(i, n, x.cov.At(0, i))
		}
		x.cov.SetSym(n, n, x.cov.At(0, 0))
	}
}

func grown(a *mat.SymDense) *mat.SymDense {
	b := mat.NewSymDense(a.SymmetricDim()+1, nil)
	b.CopySym(a)
	return b
}

// learn takes in what a view saw: the new mean and variance of the direction, the
// rest of the state by regression on it. It returns the log of the probability of
// what was seen.
func (m *mixture) learn(v *view) float64 {
	before, after := 0.0, 0.0
	for k, x := range m.parts {
		before += x.weight
		d := &v.parts[k]
		chance, mean, variance := d.moments()
		x.weight *= chance
		after += x.weight
		shift, shrink := (mean-d.mean)/d.variance, (variance-d.variance)/(d.variance*d.variance)
		raw := x.cov.RawSymmetric()
		for i, g := range d.with {
			x.mean[i] += g * shift
			row := raw.Data[i*raw.Stride : i*raw.Stride+len(d.with)]
			gi := g * shrink
			if gi == 0 {
				continue
			}
			for j := i; j < len(row); j++ {
				row[j] += gi * d.with[j]
			}
		}
	}
	for _, x := range m.parts {
		x.weight /= after
	}
	return math.Log(after/before) - v.scaled
}
