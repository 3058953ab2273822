package clock

import (
	"math"
	"slices"
)

const (
	// stepGain is what a boundary must lower the bounded loss by, beside 2 ln n: chosen so
	// that a thousand races without a step show none.
	stepGain = 12.0

	stepSide  = 15  // pairs on either side that are trusted to show a step
	hugeSide  = 4   // pairs that do where it is …
	hugeStep  = 15. // … so many standard deviations
	smallSide = 6   // and that do where it is …
	plainStep = 3.5 // … so many, and
	plainSure = 7.0 // … so many of its standard errors
	leastStep = 0.4 // standard deviations: less matters to nobody

	// leastJump in seconds: the Network Time Protocol sets a clock only when it is 0.125 s
	// off, else it slews it (STEPT in RFC 5905, section 11.1); a hand sets it more coarsely.
	leastJump = 0.1

	stepWindow  = 40  // pairs on either side in which a step must show as sharply
	stepSharp   = 0.5 // of its size
	mostSteps   = 24
	polishSteps = 40
)

// findSteps looks for jumps of the clock and cuts the time at them: over-segmentation,
// a joint fit with a level for each stretch, then boundaries that don't pay are taken out
// again, least first, and the others moved to where the pairs beside them fit best.
func (q *problem) findSteps() {
	cuts := q.overSegment()
	if len(cuts) == 0 {
		return
	}
	q.cutAt(cuts)
	q.settle()
	for {
		k := q.needless()
		if k < 0 {
			break
		}
		q.merge(k)
		q.polish(polishSteps)
	}
	for range 2 {
		if q.levels == 1 || !q.relocate() {
			break
		}
		q.polish(polishSteps)
	}
	if q.levels > 1 {
		q.settle()
		for k := q.needless(); k >= 0; k = q.needless() {
			q.merge(k)
			q.settle()
		}
	}
}

// settle fits and takes the scale anew.
func (q *problem) settle() {
	q.polish(polishSteps)
	q.s = q.scale()
	q.polish(polishSteps)
}

// overSegment cuts the standardised residuals wherever a level of their own pays, by
// R-FPOP: optimal partitioning under a bounded loss (Fearnhead and Rigaill, JASA 114
// (2019) 169; arXiv 1609.07363), here on a grid of levels. Drift was taken off with the
// residuals, held within what a crystal does: a step must not pass for one.
func (q *problem) overSegment() []int {
	const bound, reach = 9.0, 2.0
	n := len(q.y)
	b := slices.Clone(q.b)
	for j := range q.drifts {
		b[q.levels+j] = min(max(b[q.levels+j], -2*driftSD), 2*driftSD)
	}
	r := q.residuals(b, make([]float64, n))
	sd := q.noiseOfNeighbours(r)
	z := make([]float64, n)
	for i := range r {
		z[i] = r[i] / sd // not over h: it would tear a level that is far off apart
	}
	grid := levelGrid(z, reach)
	g := len(grid)
	if g < 2 {
		return nil
	}
	penalty := 2*math.Log(float64(n)) + 4
	f := make([]float64, g)
	came := make([]bool, n*g) // whether the best way to a level at i jumps there
	from := make([]int32, n)  // and from which
	for i, v := range z {
		best := 0
		for k := range f {
			if f[k] < f[best] {
				best = k
			}
		}
		from[i] = int32(best)
		jump := f[best] + penalty
		row := came[i*g : (i+1)*g]
		for k := range f {
			c := f[k]
			if i > 0 && jump < c {
				c, row[k] = jump, true
			}
			d := (v - grid[k]) / q.h[i]
			f[k] = c + min(float64(d*d), bound)
		}
	}
	at := slices.Index(f, slices.Min(f))
	var cuts []int
	for i := n - 1; i > 0; i-- {
		if came[i*g+at] {
			cuts = append(cuts, i)
			at = int(from[i])
		}
	}
	slices.Reverse(cuts)
	return cuts
}

// noiseOfNeighbours is successive for any residuals.
func (q *problem) noiseOfNeighbours(r []float64) float64 {
	d := make([]float64, 0, len(r))
	for i := range len(r) - 1 {
		d = append(d, math.Abs(r[i+1]-r[i])/math.Hypot(q.h[i], q.h[i+1]))
	}
	return max(madScale*medianOf(d), q.leastScale())
}

// levelGrid are the levels worth trying: quarters of a standard deviation where at least a
// few values lie near. A clock may jump by hours, so the grid has gaps.
func levelGrid(z []float64, reach float64) []float64 {
	s := slices.Clone(z)
	slices.Sort(s)
	for few := hugeSide - 1; ; few *= 2 {
		var grid []float64
		last := math.Inf(-1)
		for lo, i := 0, 0; i < len(s); i++ {
			for s[i]-s[lo] > reach {
				lo++
			}
			if i-lo+1 < few {
				continue
			}
			for v := max(math.Floor(s[lo]*4)/4, last+0.25); v <= s[i]; v += 0.25 {
				grid = append(grid, v)
				last = v
			}
		}
		if len(grid) <= 300 || few > len(s) {
			return grid
		}
	}
}

// cutAt adds boundaries before these pairs to those that rulings set, each new stretch at
// its own median.
func (q *problem) cutAt(cuts []int) {
	if len(cuts) > mostSteps {
		cuts = cuts[:mostSteps]
	}
	old := slices.Clone(q.stretch)
	fixed, ruled, b := q.fixed, q.ruled, q.b
	shared := b[q.levels:]
	n := int32(0)
	q.fixed, q.ruled, q.forced = nil, nil, nil
	var levels []float64
	open := func(of int32, forced bool) {
		q.fixed, q.ruled, q.forced = append(q.fixed, fixed[of]), append(q.ruled, ruled[of]), append(q.forced, forced)
		levels = append(levels, b[of])
	}
	open(0, true)
	for of := int32(0); int(of) < len(fixed); of++ { // a ruled stretch may hold no pairs
		if of > 0 {
			n++
			open(of, true)
		}
		for i := range old {
			if old[i] != of {
				continue
			}
			if slices.Contains(cuts, i) && i > 0 && old[i-1] == of && !fixed[of] {
				n++
				open(of, false)
			}
			q.stretch[i] = n
		}
	}
	q.levels = len(levels)
	q.b = append(levels, shared...)
	q.residuals(q.b, q.r)
	by := make([][]float64, q.levels)
	for i, r := range q.r {
		by[q.stretch[i]] = append(by[q.stretch[i]], r)
	}
	for l := range by {
		if !q.fixed[l] && len(by[l]) > 0 {
			q.b[l] += medianOf(by[l])
		}
	}
	q.columns()
}

// merge takes out the boundary before stretch k.
func (q *problem) merge(k int) {
	na, nb := 0., 0.
	for i := range q.stretch {
		switch int(q.stretch[i]) {
		case k - 1:
			na += q.w[i]
		case k:
			nb += q.w[i]
		}
		if int(q.stretch[i]) >= k {
			q.stretch[i]--
		}
	}
	if na+nb > 0 {
		q.b[k-1] = (float64(na*q.b[k-1]) + float64(nb*q.b[k])) / (na + nb)
	}
	q.b = slices.Delete(q.b, k, k+1)
	q.fixed, q.ruled, q.forced = slices.Delete(q.fixed, k, k+1), slices.Delete(q.ruled, k, k+1), slices.Delete(q.forced, k, k+1)
	q.levels--
	q.columns()
}

// needless finds the boundary that is to be taken out next, -1: none. A cheap bound of
// what it costs to take it out decides most; where that says that all pay, each is tried.
func (q *problem) needless() int {
	need := 2*math.Log(float64(len(q.y))) + stepGain
	worst, at := math.Inf(1), -1
	for k := 1; k < q.levels; k++ {
		if q.forced[k] {
			continue
		}
		if c := q.costBound(k); c < worst {
			worst, at = c, k
		}
	}
	if at < 0 || worst < need {
		return at
	}
	worst, at = math.Inf(1), -1
	for k := 1; k < q.levels; k++ {
		if q.forced[k] {
			continue
		}
		if d := q.doubt(k); d > 0 && -d < worst {
			worst, at = -d, k
		}
	}
	if at >= 0 {
		return at
	}
	was := q.loss()
	for k := 1; k < q.levels; k++ {
		if q.forced[k] {
			continue
		}
		try := q.copy()
		try.merge(k)
		try.polish(polishSteps / 2)
		if c := try.loss() - was; c < worst {
			worst, at = c, k
		}
	}
	if worst < need {
		return at
	}
	return -1
}

func (q *problem) copy() *problem {
	c := *q
	c.stretch, c.b, c.r, c.w = slices.Clone(q.stretch), slices.Clone(q.b), slices.Clone(q.r), slices.Clone(q.w)
	c.fixed, c.ruled, c.forced = slices.Clone(q.fixed), slices.Clone(q.ruled), slices.Clone(q.forced)
	c.y = slices.Clone(q.y)
	return &c
}

// costBound bounds from above what the loss rises by when the smaller side of boundary k
// takes the other's level.
func (q *problem) costBound(k int) float64 {
	jump := q.b[k] - q.b[k-1]
	var up, down float64 // the later side down to the earlier's level, the earlier up
	for i, r := range q.r {
		sd := q.s * q.h[i]
		switch int(q.stretch[i]) {
		case k:
			up += tukeyLoss((r+jump)/sd) - tukeyLoss(r/sd)
		case k - 1:
			down += tukeyLoss((r-jump)/sd) - tukeyLoss(r/sd)
		}
	}
	return min(up, down)
}

// doubt is why a boundary that pays is still no step, greatest worst; 0: it is one. It must
// rest on enough pairs either side, matter, and be as sharp near the boundary as over the
// whole stretches: what bends slowly is no step.
func (q *problem) doubt(k int) float64 {
	jump := math.Abs(q.b[k] - q.b[k-1])
	before, after := q.beside(k)
	side := math.Min(before.sound, after.sound)
	local := (after.mean + q.b[k]) - (before.mean + q.b[k-1])
	se := q.s * math.Sqrt(1/max(before.used, 1)+1/max(after.used, 1))
	huge := jump > hugeStep*q.s && side >= hugeSide
	plain := jump > plainStep*q.s && side >= smallSide && math.Abs(local) > plainSure*se
	if q.thereAndBack(k, after.sound < before.sound) {
		huge, plain = false, false
	}
	switch {
	case side < stepSide && !huge && !plain:
		return 100 - side
	case jump < max(leastStep*q.s, leastJump):
		return 10 / (1 + jump)
	}
	if math.Abs(local) < stepSharp*jump || math.Abs(local) < 3*se || local*(q.b[k]-q.b[k-1]) < 0 {
		return 1
	}
	return 0
}

// thereAndBack tells whether the stretch after boundary k, or the one before it, is left to
// where it was come from: a few who linger together look so, a clock hardly.
func (q *problem) thereAndBack(k int, after bool) bool {
	if !after {
		k--
	}
	return k > 0 && k+1 < q.levels && math.Abs(q.b[k+1]-q.b[k-1]) < plainStep*q.s
}

// side is what lies on one side of a boundary.
type side struct{ sound, used, mean float64 }

// beside weighs the pairs of the two stretches at boundary k: how many there are, and the
// mean residual of the nearest.
func (q *problem) beside(k int) (before, after side) {
	at, _ := slices.BinarySearch(q.stretch, int32(k))
	tell := func(s *side, i int) {
		s.sound += min(1, 2*q.w[i])
		if s.used < stepWindow {
			s.used += q.w[i]
			s.mean += float64(q.w[i] * q.r[i])
		}
	}
	for i := at - 1; i >= 0 && q.level(i) == k-1; i-- {
		tell(&before, i)
	}
	for i := at; i < len(q.stretch) && q.level(i) == k; i++ {
		tell(&after, i)
	}
	before.mean /= max(before.used, 1e-9)
	after.mean /= max(after.used, 1e-9)
	return before, after
}
