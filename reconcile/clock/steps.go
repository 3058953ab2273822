package clock

import (
	"math"
	"slices"

	"twinmat/reconcile/robust"
)

const (
	// stepGain is what a boundary must lower the bounded loss by, beside 2 ln n: chosen so
	// that a thousand races without a step show none.
	stepGain = 12.0

	stepSide   = 15  // pairs on either side that are trusted to show a step,
	soundShare = 0.6 // this share of them sound
	hugeSide   = 4   // pairs that do where it is …
	hugeStep   = 15. // … so many standard deviations
	smallSide  = 6   // and that do where it is …
	plainStep  = 3.5 // … so many, and
	plainSure  = 8.0 // … so many of its standard errors
	leastStep  = 0.4 // standard deviations: less matters to nobody

	// leastJump in seconds: the Network Time Protocol sets a clock only when it is 0.125 s
	// off, else it slews it (STEPT in RFC 5905, section 11.1); a hand sets it more coarsely.
	leastJump = 0.1

	unitStep    = 1.25 // whole units of the logs' times
	behindFar   = 4.0  // metres: antennas stand no further apart
	sprint      = 0.2  // of both ways: what one way at another pace makes of that
	stepWindow  = 40   // pairs on either side in which a step must show as sharply
	stepSharp   = 0.5  // of its size
	meetWindow  = 12   // pairs on either side that tell how a side goes on,
	meetRate    = 1000 // ppm that it may gain or lose: a dozen who cross at once tell no rate
	mostSteps   = 24
	polishSteps = 40
	tryAll      = 60 // pairs up to which every place is tried for a first boundary
)

// findSteps looks for jumps of the clock and cuts the time at them: over-segmentation,
// a joint fit with a level for each stretch, then boundaries that don't pay are taken out
// again, least first, and the others moved to where the pairs beside them fit best.
func (q *problem) findSteps() {
	cuts := q.overSegment()
	if len(q.y) <= tryAll {
		if k := q.bestCut(); k > 0 && len(cuts) < 2 {
			cuts = append([]int{k}, q.voted...)
		}
	}
	if len(cuts) == 0 {
		return
	}
	whole := q.copy()
	defer q.runsFast()
	q.cutAt(cuts)
	q.settle(nearly)
	if len(cuts) > 2 {
		// Drift and behind are known better now that levels are free: seen past them,
		// most of the boundaries are none.
		shared := q.b[q.levels:]
		s := q.s
		*q = *whole
		copy(q.b[q.levels:], shared)
		if cuts = q.overSegment(); len(cuts) == 0 {
			q.settle(nearly)
			return
		}
		q.s = s
		q.cutAt(cuts)
		q.settle(nearly)
	}
	for k := q.needless(); k >= 0; k = q.needless() {
		q.merge(k)
		q.polish(polishSteps, nearly)
		if s := q.scale(); s > 1.25*q.s { // so many stretches had fitted noise
			q.s = s
			q.polish(polishSteps, nearly)
		}
	}
	for range 2 {
		if q.levels == 1 || !q.relocate() {
			break
		}
		q.polish(polishSteps, nearly)
	}
	if q.levels > 1 {
		q.settle(nearly)
		q.withoutNeedless()
	}
}

func (q *problem) withoutNeedless() {
	for k := q.needless(); k >= 0; k = q.needless() {
		q.merge(k)
		q.settle(nearly)
	}
}

// bestCut is the pair before which one boundary lessens the bounded loss most.
func (q *problem) bestCut() int {
	best, at := math.Inf(1), 0
	s := max(q.successive(), q.leastScale())
	for k := smallSide; k <= len(q.y)-smallSide; k++ {
		if q.stretch[k] != q.stretch[k-1] {
			continue
		}
		try := q.copy()
		try.s = min(q.s, s)
		try.cutAt([]int{k})
		try.polish(8, nearly)
		if l := try.loss(); l < best {
			best, at = l, k
		}
	}
	return at
}

// settle fits and takes the scale anew.
func (q *problem) settle(enough float64) {
	q.polish(polishSteps, enough)
	q.s = q.scale()
	q.polish(polishSteps, enough)
}

// cutAt adds boundaries before these pairs to those that rulings set, each new stretch at
// its own median.
func (q *problem) cutAt(cuts []int) {
	old := slices.Clone(q.stretch)
	fixed, ruled, b := q.fixed, q.ruled, q.b
	shared := b[q.levels:]
	n := int32(0)
	q.fixed, q.ruled, q.begun = nil, nil, nil
	var levels []float64
	open := func(of int32, by begun) {
		q.fixed, q.ruled, q.begun = append(q.fixed, fixed[of]), append(q.ruled, ruled[of]), append(q.begun, by)
		levels = append(levels, b[of])
	}
	open(0, byRuling)
	for of := int32(0); int(of) < len(fixed); of++ { // a ruled stretch may hold no pairs
		if of > 0 {
			n++
			open(of, byRuling)
		}
		for i := range old {
			if old[i] != of {
				continue
			}
			if slices.Contains(cuts, i) && i > 0 && old[i-1] == of && !fixed[of] {
				n++
				open(of, q.beginner(i))
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
			q.b[l] += robust.Median(by[l])
		}
	}
}

// beginner is what a stretch that begins with pair i rests on, where no ruling begins it.
func (q *problem) beginner(i int) begun {
	if slices.Contains(q.voted, i) {
		return byVote
	}
	return byPairs
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
	switch far := math.Abs(q.b[k]-q.b[k-1]) > plainStep*q.s; {
	case far && nb > na: // between two that lie apart no pair has any weight
		q.b[k-1] = q.b[k]
	case !far && na+nb > 0:
		q.b[k-1] = (float64(na*q.b[k-1]) + float64(nb*q.b[k])) / (na + nb)
	}
	q.b = slices.Delete(q.b, k, k+1)
	q.fixed, q.ruled, q.begun = slices.Delete(q.fixed, k, k+1), slices.Delete(q.ruled, k, k+1), slices.Delete(q.begun, k, k+1)
	q.levels--
}

// stepNeed is what a boundary must lower the bounded loss by. Many pairs can afford to ask
// for more, and see more of what bends slowly.
func (q *problem) stepNeed() float64 {
	n := float64(len(q.y))
	return 2*math.Log(n) + stepGain + min(n/50, 6) + 5*max(0, 1-n/60)
}

// needless finds the boundary that is to be taken out next, -1: none. A cheap bound of
// what it costs to take it out decides most; where that says that all pay, each is tried.
func (q *problem) needless() int {
	need := q.stepNeed()
	worst, at := math.Inf(1), -1
	for k := 1; k < q.levels; k++ {
		if q.begun[k] != byPairs {
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
		if q.begun[k] != byPairs {
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
		if q.begun[k] != byPairs {
			continue
		}
		try := q.copy()
		try.merge(k)
		try.polish(polishSteps/2, nearly)
		if c := try.loss() - was; c < worst {
			worst, at = c, k
		}
	}
	if worst < need {
		return at
	}
	return -1
}

// copy shares with q what steps don't change: y and the shared columns, as long as all
// stretches have one drift.
func (q *problem) copy() *problem {
	c := *q
	c.stretch, c.b, c.r, c.w = slices.Clone(q.stretch), slices.Clone(q.b), slices.Clone(q.r), slices.Clone(q.w)
	c.fixed, c.ruled, c.begun = slices.Clone(q.fixed), slices.Clone(q.ruled), slices.Clone(q.begun)
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
	enough := math.Min(before.all, after.all) >= stepSide && side >= stepSide*soundShare
	local := (after.mean + q.b[k]) - (before.mean + q.b[k-1])
	se := q.s * math.Sqrt(1/max(before.used, 1)+1/max(after.used, 1))
	huge := jump > hugeStep*q.s && side >= hugeSide
	plain := jump > plainStep*q.s && side >= smallSide && math.Abs(local) > plainSure*se
	if q.turns(k, jump) {
		return 50
	}
	if cutShort(before, after, jump) {
		return 70
	}
	if q.thereAndBack(k, after.sound < before.sound) {
		huge, plain = false, false
	}
	switch {
	case !enough && !huge && !plain:
		return 100 - side
	case jump < q.leastTold():
		return 10 / (1 + jump)
	}
	if math.Abs(local) < stepSharp*jump || math.Abs(local) < 3*se || local*(q.b[k]-q.b[k-1]) < 0 {
		return 1
	}
	if ends, se := q.meet(k); math.Abs(ends)+2*se < stepSharp*jump {
		return 1
	}
	return 0
}

// leastTold is the least jump, in seconds, that is told as one.
func (q *problem) leastTold() float64 { return max(leastStep*q.s, leastJump, unitStep*q.unit) }

// meet is by how much the two sides miss each other at boundary k if each goes on as its
// nearest pairs do, and the standard error of that: where only the rate changes they meet.
// Theil–Sen lines, since pairs on a slope have no weight beside a level.
func (q *problem) meet(k int) (apart, se float64) {
	at, _ := slices.BinarySearch(q.stretch, int32(k))
	edge := (q.t[at-1] + q.t[at]) / 2
	line := func(from, by int) (value, n float64) {
		var x, y []float64
		for i := from; i >= 0 && i < len(q.t) && q.level(i) == q.level(from) && len(x) < meetWindow; i += by {
			x, y = append(x, q.t[i]-edge), append(y, q.r[i])
		}
		on := theilSen(x, y)
		if math.Abs(on.slope) > meetRate {
			on = through(x, y, math.Copysign(meetRate, on.slope))
		}
		return on.intercept, float64(len(x))
	}
	a, na := line(at-1, -1)
	b, nb := line(at, 1)
	return b + q.b[k] - a - q.b[k-1], 2.2 * q.s * math.Sqrt(1/na+1/nb)
}

// turns tells whether a boundary may be no more than the field's turning round: hardly a
// group has pairs on both sides, and behind on the other side of main explains the jump.
func (q *problem) turns(k int, jump float64) bool {
	if len(q.class) < 2 || q.classes == 0 {
		return false
	}
	before, after := make([]int, len(q.class)), make([]int, len(q.class))
	for i, p := range q.pairs {
		switch q.level(i) {
		case k - 1:
			before[p.Group]++
		case k:
			after[p.Group]++
		}
	}
	both, reach := 0, 0.0
	for g := range before {
		both += min(before[g], after[g])
		reach = max(reach, 2*behindFar*q.usual[g])
	}
	if q.c.OneWay {
		reach *= sprint
	}
	return both < hugeSide && jump < reach
}

// thereAndBack tells whether the stretch after boundary k, or the one before it, is left to
// where it was come from: a few who linger together look so, a clock hardly.
func (q *problem) thereAndBack(k int, after bool) bool {
	if !after {
		k--
	}
	return k > 0 && k+1 < q.levels && math.Abs(q.b[k+1]-q.b[k-1]) < plainStep*q.s
}
