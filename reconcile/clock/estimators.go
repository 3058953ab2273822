package clock

import (
	"math"
	"slices"
)

// Tuning constants: Tukey's biweight at 95 % efficiency for the normal (4.685061, as in R's
// robustbase lmrob.control), and what makes the MAD a standard deviation (1/Φ⁻¹(3/4)).
const (
	tukeyC = 4.685061
	madSD  = 1.482602218505602
)

// Median of a copy; NaN for nothing.
func Median(x []float64) float64 {
	if len(x) == 0 {
		return math.NaN()
	}
	y := slices.Clone(x)
	slices.Sort(y)
	return sortedMedian(y)
}

func sortedMedian(y []float64) float64 {
	n := len(y)
	if n%2 == 1 {
		return y[n/2]
	}
	return (y[n/2-1] + y[n/2]) / 2
}

// MAD is the median absolute deviation from the median, times 1.4826: a standard deviation
// that outliers don't move (R stats::mad).
func MAD(x []float64) float64 {
	m := Median(x)
	y := make([]float64, len(x))
	for i := range x {
		y[i] = math.Abs(x[i] - m)
	}
	return madSD * Median(y)
}

// TheilSen is the median of the slopes of all pairs of points (Theil 1950, Sen 1968), and
// the median of y − slope·x. NaN where all x are equal.
func TheilSen(x, y []float64) (slope, intercept float64) {
	var s []float64
	for i := range x {
		for j := i + 1; j < len(x); j++ {
			if x[i] != x[j] {
				s = append(s, (y[j]-y[i])/(x[j]-x[i]))
			}
		}
	}
	slope = Median(s)
	r := make([]float64, len(x))
	for i := range x {
		r[i] = y[i] - slope*x[i]
	}
	return slope, Median(r)
}

// RepeatedMedian is Siegel's line (1982): the median over points of the median slope through
// each. It stands up to half the points being wrong. The intercept is the median residual.
func RepeatedMedian(x, y []float64) (slope, intercept float64) {
	var s []float64
	for i := range x {
		var t []float64
		for j := range x {
			if x[i] != x[j] {
				t = append(t, (y[j]-y[i])/(x[j]-x[i]))
			}
		}
		if len(t) > 0 {
			s = append(s, Median(t))
		}
	}
	slope = Median(s)
	r := make([]float64, len(x))
	for i := range x {
		r[i] = y[i] - slope*x[i]
	}
	return slope, Median(r)
}

// Biweight is Tukey's weight for a residual in units of scale.
func Biweight(z float64) float64 {
	z /= tukeyC
	if z >= 1 || z <= -1 {
		return 0
	}
	w := 1 - z*z
	return w * w
}

// bounded is Tukey's loss in units where a small residual costs z².
func bounded(z float64) float64 {
	const c2 = tukeyC * tukeyC
	z *= z
	if z >= c2 {
		return c2 / 3
	}
	v := 1 - z/c2
	return c2 / 3 * (1 - v*v*v)
}

// normal is a least-squares problem in normal form: weighted rows added one by one, and a
// Gaussian prior on each unknown.
type normal struct {
	p int
	a []float64 // p×p, symmetric
	b []float64
}

func newNormal(p int) *normal { return &normal{p, make([]float64, p*p), make([]float64, p)} }

func (n *normal) add(row []float64, y, w float64) {
	for i := 0; i < n.p; i++ {
		if row[i] == 0 {
			continue
		}
		wr := w * row[i]
		n.b[i] += float64(wr * y)
		for j := 0; j <= i; j++ {
			n.a[i*n.p+j] += float64(wr * row[j])
		}
	}
}

// prior says that unknown i is mean, give or take 1/√precision.
func (n *normal) prior(i int, mean, precision float64) {
	n.a[i*n.p+i] += precision
	n.b[i] += float64(precision * mean)
}

// solve by Cholesky; false when the matrix isn't positive definite. inverse may be nil.
func (n *normal) solve(x []float64, inverse []float64) bool {
	p := n.p
	l := make([]float64, p*p)
	for i := 0; i < p; i++ {
		for j := 0; j <= i; j++ {
			s := n.a[i*p+j]
			for k := 0; k < j; k++ {
				s -= float64(l[i*p+k] * l[j*p+k])
			}
			if i == j {
				if !(s > 1e-14*math.Abs(n.a[i*p+i])) || math.IsInf(s, 0) {
					return false
				}
				l[i*p+i] = math.Sqrt(s)
			} else {
				l[i*p+j] = s / l[j*p+j]
			}
		}
	}
	back := func(b, x []float64) {
		for i := 0; i < p; i++ {
			s := b[i]
			for k := 0; k < i; k++ {
				s -= float64(l[i*p+k] * x[k])
			}
			x[i] = s / l[i*p+i]
		}
		for i := p - 1; i >= 0; i-- {
			s := x[i]
			for k := i + 1; k < p; k++ {
				s -= float64(l[k*p+i] * x[k])
			}
			x[i] = s / l[i*p+i]
		}
	}
	back(n.b, x)
	if inverse != nil {
		e, col := make([]float64, p), make([]float64, p)
		for j := 0; j < p; j++ {
			e[j] = 1
			back(e, col)
			e[j] = 0
			for i := 0; i < p; i++ {
				inverse[i*p+j] = col[i]
			}
		}
	}
	return true
}
