package clock

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

// covariance is that of the coefficients about the middle of the pairs, where levels,
// drift and behind are nearly independent and rounding does no harm.
type covariance struct {
	v            *mat.SymDense
	levels       int
	drifts       int
	bend         bend
	long         lengths
	class        []int // -1: behind is fixed
	t, u         float64
	driftSE      float64
	behindSE     []float64 // per group
	behindDataSE []float64 // without the prior
}

// covary finds the covariance of the coefficients: the inverse of the normal matrix with
// its prior, times what Huber's sandwich says of non-normal residuals (Huber and
// Ronchetti, Robust Statistics, 2009, section 7.6).
func (q *problem) covary() (covariance, []float64) {
	n := len(q.r)
	w := make([]float64, n)
	psi2, slope, weight := 0.0, 0.0, 0.0
	for i, r := range q.r {
		sd := q.s * q.h[i]
		w[i] = q.w[i] / float64(sd*sd)
		z := r / sd
		weight += q.w[i]
		psi2 += float64(q.w[i]*z) * (q.w[i] * z)
		if v := z / tukeyC; v*v < 1 {
			slope += (1 - float64(v*v)) * (1 - float64(5*v*v))
		}
	}
	factor := 1.0
	if f := float64(n); n >= 12 && slope > 0 {
		factor = min(max(psi2/max(1, f-q.spent())*f*weight/float64(slope*slope), 1), 4)
	}
	s := newSolver(&q.design)
	pr := q.prior()
	s.normal(q.b, q.r, w, pr)
	var v mat.SymDense
	if !s.factor() || s.chol.InverseTo(&v) != nil && v.IsEmpty() {
		v = *mat.NewSymDense(q.p(), nil)
		for j := range q.p() {
			v.SetSym(j, j, 1/s.a.At(j, j))
		}
	}
	lev := make([]float64, n)
	for i := range lev {
		lev[i] = q.rowVariance(i, &v)
	}
	return q.centred(&v, factor), lev
}

func (q *problem) rowVariance(i int, v *mat.SymDense) float64 {
	l, row := q.level(i), q.row(i)
	sum := v.At(l, l)
	for j, x := range row {
		if x == 0 {
			continue
		}
		sum += 2 * x * v.At(l, q.levels+j)
		for k, y := range row {
			sum += float64(x*y) * v.At(q.levels+j, q.levels+k)
		}
	}
	return max(sum, 0)
}

// centred moves the covariance to the middle of time and slowness, and rounds it.
func (q *problem) centred(v *mat.SymDense, factor float64) covariance {
	c := covariance{levels: q.levels, drifts: q.drifts, bend: q.bend, long: q.long, class: make([]int, len(q.class)), t: middle(q.t), u: middle(q.u)}
	for g := range c.class {
		if c.class[g] = q.class[g]; q.classes == 0 {
			c.class[g] = -1
		}
	}
	p := q.p()
	back := mat.NewDense(p, p, nil)
	for j := range p {
		back.Set(j, j, 1)
	}
	for l := range q.levels {
		if !q.fixed[l] {
			back.Set(l, q.levels+min(l, q.drifts-1), c.t)
		}
		for j := range q.classes {
			if q.classes == 1 {
				back.Set(l, q.behindAt(j), c.u)
			}
		}
	}
	digits := 3
	if q.classes > 1 { // no one middle: the entries lean on each other
		c.u, digits = 0, 9
	}
	var half, full mat.Dense
	half.Mul(back, v)
	full.Mul(&half, back.T())
	if digits < 9 && len(q.y) >= wellKnown {
		digits-- // what it adds to an interval is little, and shouldn't move with every pair
	}
	c.v = roundedCovariance(&full, factor, digits)
	c.driftSE = math.Sqrt(max(0, c.v.At(q.levels, q.levels)))
	c.behindSE, c.behindDataSE = make([]float64, len(q.class)), make([]float64, len(q.class))
	for g := range q.class {
		if q.classes > 0 {
			k := q.behindAt(q.class[g])
			c.behindSE[g] = math.Sqrt(max(0, c.v.At(k, k)))
			c.behindDataSE[g] = math.Sqrt(1 / max(1e-12, 1/max(c.v.At(k, k), 1e-12)-1/(behindSD*behindSD)))
		}
	}
	return c
}

// wellKnown is from how many pairs on a clock is known so much better than a crossing that how
// well is of little account.
const wellKnown = 300

// roundedCovariance is a covariance times a factor, variances to so many significant digits
// and correlations to so many places, more where they are close: what is next to none must
// not be told to its last noise, and what nearly cancels must be told well.
func roundedCovariance(v mat.Matrix, factor float64, digits int) *mat.SymDense {
	p, _ := v.Dims()
	out := mat.NewSymDense(p, nil)
	for j := range p {
		out.SetSym(j, j, significant(v.At(j, j)*factor, digits))
	}
	for j := range p {
		for k := j + 1; k < p; k++ {
			both := math.Sqrt(v.At(j, j) * v.At(k, k))
			if !(both > 0) {
				continue
			}
			r := v.At(j, k) / both
			places := digits
			switch {
			case math.Abs(r) > 0.9:
				places += 3
			case math.Abs(r) > 0.5:
				places++
			}
			unit := math.Pow(10, float64(places))
			out.SetSym(j, k, math.Round(r*unit)/unit*math.Sqrt(out.At(j, j)*out.At(k, k)))
		}
	}
	return out
}

func middle(xs []float64) float64 {
	if len(xs) == 0 {
		return 0
	}
	return significant(median(xs), 2)
}

// significant rounds to so many significant digits.
func significant(x float64, digits int) float64 {
	if x == 0 || math.IsNaN(x) || math.IsInf(x, 0) {
		return 0
	}
	f := math.Pow(10, float64(digits)-math.Ceil(math.Log10(math.Abs(x))))
	return math.Round(x*f) / f
}

// at is the variance of the model's value.
func (c *covariance) at(part int, fixed bool, t, u float64, told [tells]float64, group int) float64 {
	if c.v == nil {
		return 0
	}
	type entry struct {
		k int
		x float64
	}
	row := make([]entry, 1, 3+bends+tells)
	row[0] = entry{part, 1}
	if !fixed {
		row = append(row, entry{c.levels + min(part, c.drifts-1), t - c.t})
		var p [bends]float64
		c.bend.basis(t, p[:])
		for j := range c.bend.n {
			row = append(row, entry{c.levels + c.drifts + j, p[j]})
		}
	}
	at := c.levels + c.drifts + c.bend.n
	for j, on := range c.long.on {
		if on {
			row = append(row, entry{at, told[j]})
			at++
		}
	}
	if c.class[group] >= 0 {
		row = append(row, entry{at + c.class[group], u - c.u})
	}
	sum := 0.0
	for _, a := range row {
		for _, b := range row {
			sum += float64(a.x*b.x) * c.v.At(a.k, b.k)
		}
	}
	return max(sum, 0)
}

// jumpSE is the standard error of the step between parts k−1 and k at a moment.
func (c *covariance) jumpSE(k int, t float64) float64 {
	sum := c.v.At(k, k) + c.v.At(k-1, k-1) - 2*c.v.At(k, k-1)
	if a, b := min(k, c.drifts-1), min(k-1, c.drifts-1); a != b {
		a, b, t = c.levels+a, c.levels+b, t-c.t
		sum += float64(t*t) * (c.v.At(a, a) + c.v.At(b, b) - 2*c.v.At(a, b))
		sum += 2 * t * (c.v.At(k, a) - c.v.At(k, b) - c.v.At(k-1, a) + c.v.At(k-1, b))
	}
	return math.Sqrt(max(sum, 0))
}
