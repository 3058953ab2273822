package clock

import (
	"fmt"
	"math"

	"gonum.org/v1/gonum/mat"
)

// estimate is a least-squares fit's coefficients.
type estimate struct {
	B, SD []float64 // coefficients and their standard deviations
	S     float64   // residual standard deviation
	SSE   float64
}

// leastSquares fits y to columns by the same steps as every other fit here: each column
// is centred and scaled, the normal equations are solved, and the residuals refined. With
// intercept, B[0] is the constant.
func leastSquares(y []float64, columns [][]float64, intercept bool) (estimate, error) {
	n, k := len(y), len(columns)
	p := k
	if intercept {
		p++
	}
	if n < p || p == 0 {
		return estimate{}, fmt.Errorf("clock: %d points can't fix %d coefficients", n, p)
	}
	d := &design{y: y, k: k, x: make([]float64, n*k)}
	if intercept {
		d.levels = 1
	}
	mean, scale := make([]float64, k), make([]float64, k)
	for j, c := range columns {
		if intercept {
			for _, v := range c {
				mean[j] += v / float64(n)
			}
		}
		for _, v := range c {
			scale[j] = max(scale[j], math.Abs(v-mean[j]))
		}
		for i, v := range c {
			d.x[i*k+j] = (v - mean[j]) / scale[j]
		}
	}
	s, b, r := newSolver(d), make([]float64, p), make([]float64, n)
	for range 6 {
		if _, ok := s.move(b, d.residuals(b, r), nil, flat(p)); !ok {
			return estimate{}, fmt.Errorf("clock: the columns depend on each other")
		}
	}
	return s.estimates(b, d.residuals(b, r), mean, scale), nil
}

// estimates turns coefficients of centred and scaled columns back.
func (s *solver) estimates(b, r, mean, scale []float64) estimate {
	d, p := s.d, s.d.p()
	e := estimate{B: make([]float64, p), SD: make([]float64, p)}
	for _, v := range r {
		e.SSE += v * v
	}
	e.S = math.Sqrt(e.SSE / float64(len(r)-p))
	var inv mat.SymDense
	if s.chol.InverseTo(&inv) != nil && inv.IsEmpty() {
		return e
	}
	back := mat.NewDense(p, p, nil) // the coefficients asked for, of those that were fitted
	for j := range d.k {
		back.Set(d.levels+j, d.levels+j, 1/scale[j])
		if d.levels == 1 {
			back.Set(0, d.levels+j, -mean[j]/scale[j])
		}
	}
	if d.levels == 1 {
		back.Set(0, 0, 1)
	}
	var cov, half mat.Dense
	half.Mul(back, &inv)
	cov.Mul(&half, back.T())
	for j := range p {
		for h := range p {
			e.B[j] += float64(back.At(j, h) * b[h])
		}
		e.SD[j] = e.S * math.Sqrt(max(0, cov.At(j, j)))
	}
	return e
}
