package clock

// bend is a slow curve beside level and drift: a crystal warms up, and where speeds are
// told with errors and the fast come first, what behind costs isn't quite what it should
// be. Legendre polynomials over the time of the pairs, held small by their prior, so that
// a step can't hide in them; constant beyond the outermost pairs.
type bend struct {
	n      int
	lo, hi float64 // of the drift column's unit
	by     [bends]float64
}

const (
	bends     = 3     // of degree 2, 3 and 4
	bendSD    = 0.03  // seconds
	bendPairs = 40    // from which on there is one
	bendGain  = 10.0  // of bounded loss that it must bring
	bendLeast = 0.003 // millions of seconds: a clock doesn't bend in less than an hour
)

// basis writes the values of the polynomials.
func (c *bend) basis(t float64, out []float64) {
	if c.n == 0 {
		return
	}
	x := 2*(min(max(t, c.lo), c.hi)-c.lo)/(c.hi-c.lo) - 1
	x2 := float64(x * x)
	out[0] = (3*x2 - 1) / 2
	out[1] = x * (5*x2 - 3) / 2
	out[2] = (float64((35*x2-30)*x2) + 3) / 8
}

// at is the curve in seconds.
func (c *bend) at(t float64) float64 {
	if c.n == 0 {
		return 0
	}
	var p [bends]float64
	c.basis(t, p[:])
	return float64(p[0]*c.by[0]) + float64(p[1]*c.by[1]) + float64(p[2]*c.by[2])
}

// slope is that of the straight line that lies nearest to the curve between two moments:
// what it adds to the drift there.
func (c *bend) slope(from, to float64) float64 {
	if c.n == 0 || !(to > from) {
		return 0
	}
	const steps = 32
	up, down := 0.0, 0.0
	for k := range steps + 1 {
		x := float64(2*k)/steps - 1
		up += float64(x * c.at((from+to)/2+float64(x*(to-from)/2)))
		down += float64(x * x)
	}
	return up / down / ((to - from) / 2)
}

// openBend adds the columns of a bend where the pairs can carry them.
func (q *problem) openBend() {
	n := len(q.t)
	if n < bendPairs || q.t[n-1]-q.t[0] < bendLeast || q.c.Hand || q.c.Fixed {
		return
	}
	q.bend = bend{n: bends, lo: q.t[0], hi: q.t[n-1]}
	at := q.levels + q.drifts
	b := append([]float64(nil), q.b[:at]...)
	b = append(b, make([]float64, bends)...)
	q.b = append(b, q.b[at:]...)
	q.columns()
}

// straighten takes the bend out again unless it pays: of a straight clock it would make the
// fit a little worse.
func (q *problem) straighten() {
	if q.bend.n == 0 || q.drifts > 1 { // a bend beside drifts of their own has paid against them
		return
	}
	try := q.copy()
	try.y = append([]float64(nil), q.y...)
	try.closeBend()
	try.columns()
	try.polish(polishSteps, settled)
	if try.loss()-q.loss() < bendGain {
		*q = *try
		q.settle(settled)
	}
}

// closeBend takes the coefficients of the bend out; columns must be laid out anew.
func (q *problem) closeBend() {
	at := q.levels + q.drifts
	q.b = append(append([]float64(nil), q.b[:at]...), q.b[at+q.bend.n:]...)
	q.bend = bend{}
}
