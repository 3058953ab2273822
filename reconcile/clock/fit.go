package clock

import (
	"cmp"
	"math"
	"slices"

	"twinmat/reconcile/race"
	"twinmat/reconcile/robust"
)

// problem is a set of pairs as numbers. y is other − main − base in seconds, less what is
// fixed; the first shared column is time since ref in millions of seconds, so that its
// coefficient is in parts per million; then a column of slowness for each class, whose
// coefficient is in metres.
type problem struct {
	design
	c     Config
	pairs []Pair
	base  race.Millis
	ref   race.Instant // a full hour: rounded levels don't move when a pair comes
	t, u  []float64    // what the columns are made of, u as far as it is known
	known []bool       // slowness known
	usual []float64    // slowness per group where one's own isn't known
	h     []float64    // relative noise, about 1

	class   []int     // group to column of behind
	turned  []float64 // per group −1 where a fixed behind counts the other way, else 1
	classes int
	drifts  int // columns of drift: one, or one a stretch
	bend    bend
	long    lengths
	cuts    []cut     // boundaries that rulings set, in order
	fixed   []bool    // per stretch: its level is a ruling's
	ruled   []float64 // that level
	begun   []begun   // per stretch: what its beginning rests on
	voted   []int     // the first pairs of stretches that the vote found

	behindMean, driftSD float64 // of the prior, metres and ppm

	b  []float64 // the last fit's coefficients,
	r  []float64 // its residuals
	w  []float64 // and its Tukey weights
	s  float64   // its frozen scale: standard deviation where h is 1
	s0 float64   // what is believed of s beforehand

	units float64 // seconds: what both logs' whole units of time put into a difference,
	unit  float64 // and the longer of them
}

const microTime = 1e-6 // seconds to the unit of the drift column

// pose sets the pairs out as numbers.
func pose(pairs []Pair, c Config) *problem {
	c.Groups = max(1, c.Groups)
	if !(c.SpeedPrior >= leastSlowness) || c.SpeedPrior > maxSlowness {
		c.SpeedPrior = runnerSlowness
	}
	q := &problem{c: c, pairs: sound(pairs, c), driftSD: driftSD, behindMean: behindMean}
	n := len(q.pairs)
	if c.Groups > 1 {
		q.behindMean = 0 // a line passed in both directions has both signs
	}
	q.usualLength()
	q.usual = q.usualSlowness()
	q.origin()
	q.t, q.u, q.known, q.h = make([]float64, n), make([]float64, n), make([]bool, n), make([]float64, n)
	q.y, q.w, q.r = make([]float64, n), make([]float64, n), make([]float64, n)
	for i, p := range q.pairs {
		q.t[i] = float64(p.Main-q.ref) / 1000 * microTime
		q.u[i], q.known[i] = q.usual[p.Group], false
		if !math.IsNaN(p.U) {
			q.u[i], _, _ = q.long.laid(p.Crossing(), q.usual[p.Group])
			q.known[i] = true
		}
		q.h[i], q.w[i] = 1, 1
	}
	q.s0 = math.Sqrt2 * zoneSD * median(append(slices.Clone(q.usual), q.u...))
	if c.Hand {
		q.s0 = math.Hypot(q.s0, handSD)
	}
	q.units, q.unit = unitNoise(q.pairs)
	q.s0 = math.Hypot(q.s0, q.units)
	q.stretch, q.levels, q.drifts = make([]int32, n), 1, 1
	q.fixed, q.ruled = []bool{c.Fixed}, []float64{0}
	q.force()
	q.groupsApart()
	q.columns()
	return q
}

// origin finds the offset and the instant that the numbers are told from.
func (q *problem) origin() {
	c, n := &q.c, len(q.pairs)
	q.base, q.ref = c.Coarse, 0
	if c.lean != nil {
		q.base, q.ref = c.lean.base, c.lean.ref
	}
	if n > 0 {
		diff := make([]float64, n)
		for i, p := range q.pairs {
			diff[i] = float64(p.Other.Sub(p.Main))
		}
		q.base = race.Millis(robust.Nth(diff, n/2))
		mid := q.pairs[0].Main + (q.pairs[n-1].Main-q.pairs[0].Main)/2
		q.ref = mid - ((mid%hour)+hour)%hour
	}
	if c.Fixed {
		q.base = c.FixedOffset
	}
}

// groupsApart gives each group a behind of its own to begin with, where it isn't fixed.
func (q *problem) groupsApart() {
	q.class, q.classes = make([]int, q.c.Groups), q.c.Groups
	for g := range q.class {
		q.class[g] = g
	}
	if q.c.BehindFixed {
		q.classes = 0
	}
	q.turned = make([]float64, q.c.Groups)
	for g := range q.turned {
		q.turned[g] = 1
	}
}

const (
	hour   = 3600_000 // ms
	handSD = 0.5      // seconds: a keyed whole second, and a person's reaction
)

// usualSlowness is the median of each group where anybody's is known, of those that bursts
// alone tell where no other is.
func (q *problem) usualSlowness() []float64 {
	var by [2][][]float64
	by[0], by[1] = make([][]float64, q.c.Groups), make([][]float64, q.c.Groups)
	for i := range q.pairs {
		p := &q.pairs[i]
		switch {
		case math.IsNaN(p.U):
		case p.ByBurst:
			u, _, _ := q.long.laid(p.Crossing(), q.c.SpeedPrior)
			by[1][p.Group] = append(by[1][p.Group], u)
		default:
			by[0][p.Group] = append(by[0][p.Group], p.U)
		}
	}
	out := make([]float64, q.c.Groups)
	for g := range out {
		out[g] = q.c.SpeedPrior
		for _, us := range by {
			if len(us[g]) > 0 {
				out[g] = math.Round(robust.Median(us[g])*100) / 100
				break
			}
		}
	}
	return out
}

// cut is a boundary that a ruling sets, with the offset from there on where it rules one.
type cut struct {
	at     race.Instant
	offset race.Millis
}

// begun is what a stretch's beginning rests on: the pairs, the vote or a ruling.
type begun uint8

const (
	byPairs begun = iota
	byVote
	byRuling
)

// force cuts the time at the boundaries that rulings set, and notes those that the vote found.
func (q *problem) force() {
	for k, at := range q.c.Breaks {
		x := cut{at, race.NoMillis}
		if k < len(q.c.BreakOffsets) {
			x.offset = q.c.BreakOffsets[k]
		}
		q.cuts = append(q.cuts, x)
	}
	slices.SortStableFunc(q.cuts, func(a, b cut) int { return cmp.Or(cmp.Compare(a.at, b.at), cmp.Compare(a.offset, b.offset)) })
	for l, x := range q.cuts {
		q.fixed, q.ruled = append(q.fixed, x.offset.Known()), append(q.ruled, 0)
		if x.offset.Known() {
			q.ruled[l+1] = float64(x.offset-q.base) / 1000
		}
		for i, p := range q.pairs {
			if p.Main >= x.at {
				q.stretch[i] = int32(l + 1)
			}
		}
	}
	q.levels = 1 + len(q.cuts)
	q.begun = slices.Repeat([]begun{byRuling}, q.levels)
	vote := func(begun func(Pair) bool) {
		if i := slices.IndexFunc(q.pairs, begun); i > 0 && !slices.Contains(q.voted, i) {
			q.voted = append(q.voted, i)
		}
	}
	for _, at := range q.c.Turned {
		vote(func(p Pair) bool { return p.Main >= at })
	}
	if f := q.c.Fold; f != nil {
		vote(func(p Pair) bool { return p.Other >= f.At })
	}
}

// columns lays out y and the shared columns for the stretches and classes as they are.
func (q *problem) columns() {
	q.k = q.drifts + q.bend.n + q.long.columns() + q.classes
	q.x, q.reach = make([]float64, len(q.pairs)*q.k), make([]float64, q.k)
	for i, p := range q.pairs {
		row, l, cost := q.row(i), q.level(i), q.u[i]
		q.y[i] = float64(p.Other.Sub(p.Main)-q.base) / 1000
		if !q.fixed[l] {
			row[min(l, q.drifts-1)] = q.t[i]
			q.bend.basis(q.t[i], row[q.drifts:q.drifts+q.bend.n])
		}
		if q.known[i] {
			var told [tells]float64
			_, cost, told = q.long.laid(p.Crossing(), q.usual[p.Group])
			at := q.drifts + q.bend.n
			for j, on := range q.long.on {
				if on {
					row[at] = told[j]
					at++
				}
			}
		}
		if q.classes > 0 {
			row[q.drifts+q.bend.n+q.long.columns()+q.class[p.Group]] = cost
		} else {
			q.y[i] -= float64(q.turned[p.Group] * q.c.Behind * cost)
		}
		for j, x := range row {
			q.reach[j] = max(q.reach[j], math.Abs(x))
		}
	}
}

// prior is what is believed of the coefficients: nothing of a level unless it is fixed.
func (q *problem) prior() prior {
	p := flat(q.p())
	for l := range q.levels {
		if q.fixed[l] {
			p.precision[l] = fixedPrecision
			p.mean[l] = q.ruled[l]
		}
	}
	for j := range q.drifts {
		p.precision[q.levels+j] = 1 / (q.driftSD * q.driftSD)
	}
	if q.c.lean != nil {
		q.leanPrior(p)
	}
	for j := range q.bend.n {
		p.precision[q.levels+q.drifts+j] = 1 / (bendSD * bendSD)
	}
	at := q.longAt()
	for j, on := range q.long.on {
		if on {
			p.mean[at], p.precision[at] = worths[j].mean, 1/float64(worths[j].sd*worths[j].sd)
			at++
		}
	}
	for j := range q.classes {
		k := q.behindAt(j)
		p.mean[k], p.precision[k] = q.behindMean, 1/(behindSD*behindSD)
	}
	return p
}

// behindAt is the index of a class's behind among the coefficients.
func (q *problem) behindAt(class int) int { return q.longAt() + q.long.columns() + class }

// longAt is that of the first share of what bursts tell.
func (q *problem) longAt() int { return q.levels + q.drifts + q.bend.n }

const fixedPrecision = 1e12 // a level within a microsecond

// start finds coefficients that nearly half of the pairs can't move, and their residuals'
// scale.
func (q *problem) start() {
	sd := max(q.successive(), 1e-6)
	q.b = make([]float64, q.p())
	copy(q.b, q.prior().mean)
	if len(q.y) >= manyPairs {
		q.leastAbsolute(q.b, sd)
	} else {
		q.leastTrimmed(q.b, sd)
	}
	q.residuals(q.b, q.r)
	q.s = q.scale()
}

// successive is the noise as seen in differences of pairs that follow each other: a step of
// the clock touches only one of them.
func (q *problem) successive() float64 {
	n := len(q.y)
	if n < 3 {
		return q.s0
	}
	d := make([]float64, n-1)
	for i := range d {
		d[i] = math.Abs(q.y[i+1]-q.y[i]) / math.Hypot(q.h[i], q.h[i+1])
	}
	return madScale * robust.Median(d)
}

// scale is the residuals' standard deviation where h is 1: their median size, widened for
// the coefficients they were fitted with, and while they are few drawn towards what is
// usual for antennas (a scaled inverse χ² prior of four).
func (q *problem) scale() float64 {
	n := float64(len(q.r))
	z := make([]float64, len(q.r))
	for i, r := range q.r {
		z[i] = math.Abs(r) / q.h[i]
	}
	s := madScale * robust.Median(z)
	if len(z) >= bendPairs {
		// Where more than half lie exactly on a line, the median says nothing of the rest.
		s = max(s, robust.Nth(z, 13*len(z)/20)/(2*0.9346))
	}
	s *= math.Sqrt(n / max(1, n-q.spent()))
	few := 4 * max(0, 1-n/60)
	s = math.Sqrt((float64(few*q.s0*q.s0) + float64(n*s*s)) / (few + n))
	return max(s, q.leastScale())
}

// spent is how many coefficients the pairs have paid for; priors pay for the rest.
func (q *problem) spent() float64 { return min(float64(q.p()), 1.5*float64(q.levels)) }

// leastScale: times come in whole units, which nothing is told more finely than.
func (q *problem) leastScale() float64 {
	if q.c.Hand {
		return max(1/math.Sqrt(12), q.units)
	}
	return max(0.0005, q.units)
}

const (
	settled = 1e-5 // seconds: no term moves a time by more
	nearly  = 1e-3 // likewise, while steps are still sought
)

// polish is the second half of an MM-estimator (Yohai, Annals of Statistics 15 (1987) 642):
// Tukey's biweight by reweighting from the start, its scale frozen, under the prior.
func (q *problem) polish(most int, enough float64) {
	pr, s := q.prior(), newSolver(&q.design)
	w := make([]float64, len(q.y))
	for range most {
		q.residuals(q.b, q.r)
		q.reweigh(w)
		far, ok := s.move(q.b, q.r, w, pr)
		if !ok || far < enough {
			break
		}
	}
	q.residuals(q.b, q.r)
	q.reweigh(w)
}

// reweigh keeps the biweights in q.w, and them over the noise's variance in w.
func (q *problem) reweigh(w []float64) {
	for i, r := range q.r {
		sd := q.s * q.h[i]
		q.w[i] = tukeyWeight(r / sd)
		w[i] = q.w[i] / float64(sd*sd)
	}
}

// loss is the bounded loss that polish lessens, with the prior's part.
func (q *problem) loss() float64 {
	sum := 0.0
	for i, r := range q.r {
		sum += tukeyLoss(r / float64(q.s*q.h[i]))
	}
	pr := q.prior()
	for j, b := range q.b {
		if pr.precision[j] < fixedPrecision {
			sum += float64(pr.precision[j]*(b-pr.mean[j])) * (b - pr.mean[j])
		}
	}
	return sum
}
