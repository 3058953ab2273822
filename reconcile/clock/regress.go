package clock

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// design is a linear model of y: a level for each stretch of rows, and k further columns
// shared by all.
type design struct {
	y       []float64
	stretch []int32 // which level a row has; nil: the first
	levels  int
	x       []float64 // k values a row
	k       int
	reach   []float64 // per shared column its greatest size: moves compare in the unit of y; nil: 1
}

func (d *design) p() int { return d.levels + d.k }

func (d *design) level(i int) int {
	if d.stretch == nil {
		return 0
	}
	return int(d.stretch[i])
}

func (d *design) row(i int) []float64 { return d.x[i*d.k : (i+1)*d.k] }

// prior is a normal prior of the coefficients; precision 0 knows nothing.
type prior struct{ mean, precision []float64 }

func flat(p int) prior { return prior{make([]float64, p), make([]float64, p)} }

// residuals of the model with coefficients b, into r.
func (d *design) residuals(b, r []float64) []float64 {
	for i := range d.y {
		r[i] = d.y[i] - d.at(i, b)
	}
	return r
}

// at is the model's value in a row.
func (d *design) at(i int, b []float64) float64 {
	v := 0.0
	if d.levels > 0 {
		v = b[d.level(i)]
	}
	for j, x := range d.row(i) {
		v += float64(x * b[d.levels+j])
	}
	return v
}

// solver holds the space that one design's normal equations need, used again and again.
type solver struct {
	d     *design
	a     *mat.SymDense
	g, s  *mat.VecDense
	chol  mat.Cholesky
	block []float64
}

func newSolver(d *design) *solver {
	p := d.p()
	return &solver{d: d, a: mat.NewSymDense(p, nil), g: mat.NewVecDense(p, nil), s: mat.NewVecDense(p, nil), block: make([]float64, d.k*d.k)}
}

// normal sums X'WX + P into a, and X'Wr + P(mean−b) into g, for weights w (nil: all 1).
// Shared columns are summed in a block of their own: rows are many and coefficients few.
func (s *solver) normal(b, r, w []float64, pr prior) {
	d, p, k := s.d, s.d.p(), s.d.k
	a, g := s.a.RawSymmetric().Data, s.g.RawVector().Data
	clear(a)
	clear(g)
	block := s.block[:k*k]
	clear(block)
	shared := g[d.levels:]
	for i, ri := range r {
		wi := 1.0
		if w != nil {
			if wi = w[i]; wi == 0 {
				continue
			}
		}
		row := d.x[i*k : i*k+k]
		if d.levels > 0 {
			l := d.level(i)
			a[l*p+l] += wi
			g[l] += float64(wi * ri)
			cross := a[l*p+d.levels : l*p+p]
			for j, x := range row {
				cross[j] += float64(wi * x)
			}
		}
		for j, x := range row {
			if x == 0 {
				continue
			}
			wx := float64(wi * x)
			shared[j] += float64(wx * ri)
			line := block[j*k : j*k+k]
			for h := j; h < len(row); h++ {
				line[h] += float64(wx * row[h])
			}
		}
	}
	for j := range k {
		copy(a[(d.levels+j)*p+d.levels+j:(d.levels+j)*p+p], block[j*k+j:j*k+k])
	}
	for j := range p {
		a[j*p+j] += pr.precision[j]
		g[j] += float64(pr.precision[j] * (pr.mean[j] - b[j]))
	}
}

// factor prepares to solve. What the rows leave undetermined is damped: it stays where it is.
func (s *solver) factor() bool {
	p := s.d.p()
	a := s.a.RawSymmetric().Data
	for j := range p {
		if !(a[j*p+j] > 0) {
			a[j*p+j] = 1
		}
	}
	if s.chol.Factorize(s.a) {
		return true
	}
	for j := range p {
		a[j*p+j] *= 1 + 1e-9
	}
	return s.chol.Factorize(s.a)
}

// move takes b one weighted least-squares step from where its residuals are r, and tells
// how far the one that matters most moved, in the unit of y. Working on residuals, repeated steps refine the
// digits that normal equations lose (Björck, Numerical Methods for Least Squares Problems,
// 1996, section 2.9.3).
func (s *solver) move(b, r, w []float64, pr prior) (float64, bool) {
	s.normal(b, r, w, pr)
	if !s.factor() || s.chol.SolveVecTo(s.s, s.g) != nil && s.chol.Cond() > 1e15 {
		return 0, false
	}
	far := 0.0
	for j, v := range s.s.RawVector().Data {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return 0, false
		}
		b[j] += v
		if k := j - s.d.levels; k >= 0 && s.d.reach != nil {
			v *= s.d.reach[k]
		}
		far = max(far, math.Abs(v))
	}
	return far, true
}
