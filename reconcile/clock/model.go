package clock

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/mat"

	"twinmat/reconcile/race"
)

// Model is a fitted clock. What it holds is rounded (a millisecond of level, a tenth of a
// part per million, a centimetre), so that a pair that changes the fit little changes
// nothing that rests on it, and no model depends on the one before it.
type Model struct {
	c          Config
	base       race.Millis
	ref        race.Instant
	parts      []part
	behind     []float64 // metres, per group
	usual      []float64 // s/m, per group
	noise      noise
	cov        covariance
	local      []drifting // per group
	residuals  []Residual
	pairs      int
	groupPairs []int
	unsure     string
	typical    float64 // seconds that behind costs a usual athlete
	apart      apart
	says       string
	alike      float64 // ppm of drift that may be behind's
}

// part is one stretch.
type part struct {
	level      float64 // seconds past base at ref and at the antenna itself
	drift      float64 // ppm
	fixed      bool
	pairs      int
	from, to   race.Instant // outermost pairs, main's clock
	begin      race.Instant // half-way from the part before; NoInstant: open
	gapA, gapB race.Instant // between these (open), it isn't sure whether this part has begun
	ruled      bool         // its beginning is a ruling's
	unsure     string
}

// drifting is the median residual of those of unknown speed in a group, as it moves.
type drifting struct {
	at    []race.Instant
	level []float64 // seconds
}

// Residual is one pair against the model.
type Residual struct {
	At       race.Instant // main's clock
	Residual float64      // seconds
	Weight   float64      // 0: taken for no crossing of both
}

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
	return significant(Median(xs), 2)
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

// Race turns a time of the log into what main would have kept, with the 95 % half-width
// of a prediction for that crossing. unsure says why the time can't be trusted, "" where it
// can.
func (m *Model) Race(at race.Instant, x Crossing) (t race.Instant, pm race.Millis, unsure string) {
	return m.RaceNear(at, race.NoInstant, x)
}

// RaceNear is Race for a time of which it is known about when it was: a clock that was set
// back tells some times twice. NoInstant knows nothing.
func (m *Model) RaceNear(at, about race.Instant, x Crossing) (t race.Instant, pm race.Millis, unsure string) {
	if !at.Known() || tooFar(at) {
		return at, race.NoMillis, "no time"
	}
	group := min(max(x.Group, 0), len(m.behind)-1)
	u, costs, told := m.usual[group], m.usual[group], [tells]float64{}
	known := x.U >= leastSlowness && x.U <= maxSlowness
	if known {
		u, costs, told = m.cov.long.laid(x, m.usual[group])
	}
	cost := float64(m.behind[group]*costs) + m.cov.long.times(told)
	k, gap := m.find(at, about, cost)
	t = m.lay(at, k, cost)
	if !known {
		t = t.Add(-race.Millis(math.Round(m.local[group].at1(t) * 1000)))
	}
	pm = m.halfWidth(t, u, costs, told, known, group, k)
	switch {
	case m.unsure != "":
		unsure = m.unsure
	case gap > 0:
		unsure = m.gapSays(gap)
	default:
		unsure = m.parts[k].unsure
	}
	return t, pm, unsure
}

// lay solves other = t + base + level + drift·(t−ref) + cost for t.
func (m *Model) lay(at race.Instant, k int, cost float64) race.Instant {
	p := &m.parts[k]
	since := float64(at.Add(-m.base)-m.ref) / 1000
	d := p.drift * microTime
	if !p.fixed {
		cost += m.cov.bend.at((since - p.level - cost) * microTime) // flat enough to need no second round
	}
	moved := (p.level + cost + float64(d*since)) / (1 + d)
	return at.Add(-m.base - race.Millis(math.Round(moved*1000)))
}

// find is the part that a time of the log falls in, for an athlete whom behind costs so
// much, of several the one nearest to about; gap is the number of the part whose beginning
// it may lie before or after, 0: none.
func (m *Model) find(at, about race.Instant, cost float64) (k, gap int) {
	k = -1
	for i := range m.parts {
		t := m.lay(at, i, cost)
		p := &m.parts[i]
		if i > 0 && t > p.gapA && t < p.gapB {
			gap = i
		}
		ends := race.NoInstant
		if i+1 < len(m.parts) {
			ends = m.parts[i+1].begin
			if q := &m.parts[i+1]; t > q.gapA && t < q.gapB {
				gap = i + 1
			}
		}
		if k < 0 && (!ends.Known() || t < ends) {
			k = i
		}
	}
	if about.Known() {
		for i := k + 1; i < len(m.parts); i++ {
			if t := m.lay(at, i, cost); t >= m.parts[i].begin && apartBy(t, about) < apartBy(m.lay(at, k, cost), about) {
				k = i
			}
		}
	}
	// A clock that is set forward leaves times out, one that is set back tells some twice.
	if k > 0 && m.lay(at, k, cost) < m.parts[k].begin {
		gap = k
	}
	if k+1 < len(m.parts) && m.lay(at, k+1, cost) >= m.parts[k+1].begin {
		gap = k + 1
	}
	return k, gap
}

// Rough turns a time of the log into main's clock for a usual athlete: near enough to join
// passings before speeds are known.
func (m *Model) Rough(at race.Instant) race.Instant { return m.RoughNear(at, race.NoInstant) }

// RoughNear is Rough for a time of which it is known about when it was.
func (m *Model) RoughNear(at, about race.Instant) race.Instant {
	if !at.Known() || tooFar(at) {
		return at
	}
	k, _ := m.find(at, about, m.typical)
	return m.lay(at, k, m.typical)
}

// SetBack tells whether the clock was set back, and told some times twice.
func (m *Model) SetBack() bool {
	for k := 1; k < len(m.parts); k++ {
		if b := m.parts[k].begin.Add(m.base); m.lay(b, k, 0) > m.lay(b, k-1, 0) {
			return true
		}
	}
	return false
}

func apartBy(a, b race.Instant) race.Millis { return max(a.Sub(b), b.Sub(a)) }

// halfWidth of a prediction, rounded up to two digits.
func (m *Model) halfWidth(t race.Instant, u, costs float64, told [tells]float64, known bool, group, k int) race.Millis {
	sd := m.noise.sd(u, known)
	v := float64(sd*sd) + m.cov.at(k, m.parts[k].fixed, float64(t-m.ref)/1000*microTime, costs, told, group)
	if !known && m.apart.none[group] {
		d := max(math.Abs(m.behind[group]), 0.5) * m.apart.spread[group]
		v += float64(d * d)
	}
	ms := m.noise.Quantile * math.Sqrt(v) * 1000
	f := 1.0
	for ms/f >= 100 {
		f *= 10
	}
	return max(1, race.Millis(math.Ceil(ms/f-1e-9)*f))
}

// apart is, per group, whether no pair was of unknown speed, and how far speeds differ: who
// comes without one may be any of them.
type apart struct {
	none   []bool
	spread []float64 // s/m
}

// at1 is the level at a moment, between the nearest two.
func (l *drifting) at1(t race.Instant) float64 {
	n := len(l.at)
	if n == 0 {
		return 0
	}
	i, _ := slices.BinarySearch(l.at, t)
	if i == 0 {
		return l.level[0]
	}
	if i == n {
		return l.level[n-1]
	}
	f := float64(t-l.at[i-1]) / float64(l.at[i]-l.at[i-1])
	return l.level[i-1] + float64(f*(l.level[i]-l.level[i-1]))
}

// Unsure says why nothing of this model can be trusted yet: too few pairs, or pairs that
// don't agree; "" where it can.
func (m *Model) Unsure() string { return m.unsure }

// Residuals are those of all pairs, in order of time.
func (m *Model) Residuals() []Residual { return m.residuals }
