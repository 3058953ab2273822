package clock

import (
	"cmp"
	"math"
	"slices"

	"twinmat/reconcile/race"
	"twinmat/reconcile/robust"
)

const (
	fewPairs   = 12          // below, only the level is fitted: drift and behind are as believed
	medianCost = math.Pi / 2 // a median's variance over a mean's, for normal noise
	leastFew   = 3           // below, nothing can be trusted
	ownGain    = 8.0         // of bounded loss, beside 2 ln n, for a drift of each stretch's own
	ownPoints  = 100         // of a stretch that tell its drift to begin with
	likeBeing  = 2.5         // standard errors within which two groups' behind is taken for one
)

// Fit finds the model of a log's clock from its pairs. It depends on the set of pairs
// alone, never on their order; it always returns a model, and no number in it is NaN. The
// newest of many wait, as long as they are what the others foretell.
func Fit(pairs []Pair, c Config) *Model {
	older, newer := Newest(pairs, c)
	if m := FitAll(older, c); m.Foretells(newer) {
		return m
	}
	return FitAll(pairs, c)
}

// FitAll is Fit where none waits.
func FitAll(pairs []Pair, c Config) *Model {
	q := pose(pairs, c)
	var n noise
	n.At, n.Usual, n.Share, n.Unknown = q.s0, max(median(q.usual), 0.001), believed, 1
	switch {
	case len(q.pairs) < fewPairs:
		q.fitFew(&n)
	default:
		q.fitMany(&n)
	}
	return q.publish(n)
}

// fitFew finds levels only: medians with what is believed of drift and behind.
func (q *problem) fitFew(n *noise) {
	pr := q.prior()
	q.b = slices.Clone(pr.mean)
	if len(q.pairs) == 0 {
		q.s = q.s0
		return
	}
	q.residuals(q.b, q.r)
	q.shapeNoise(n)
	by := make([][]float64, q.levels)
	for i, r := range q.r {
		by[q.level(i)] = append(by[q.level(i)], r)
	}
	for l := range by {
		if n := float64(len(by[l])); n > 0 && !q.fixed[l] {
			mine := n / (medianCost * q.s0 * q.s0)
			q.b[l] += robust.Median(by[l]) * mine / (mine + pr.precision[l])
		}
	}
	q.residuals(q.b, q.r)
	q.s = q.scale()
	q.reweigh(make([]float64, len(q.r)))
}

// fitMany is the whole chain.
func (q *problem) fitMany(n *noise) {
	if q.c.BehindFixed && q.c.Behind != 0 && q.c.Groups > 1 {
		q.turn()
	}
	together := q.c.OneWay && q.classes > 1
	if together {
		q.together()
	}
	q.start()
	q.shapeNoise(n)
	q.s = q.scale()
	q.openBend()
	if !q.c.NoSteps && !q.c.Fixed && !q.c.Hand {
		q.findStepsThinly()
	}
	if together {
		q.byThemselves()
	}
	q.polish(polishSteps, settled)
	q.shapeNoise(n)
	q.settle(settled)
	q.pool()
	q.ownDrifts()
	q.straighten()
	q.withoutFaintVotes()
	if q.c.Hand {
		q.dropDrift()
	}
}

// together gives all groups one behind, while steps are sought: where all pass a line in one direction
// a last lap that has one of its own takes up what a clock that was set before it jumped by.
func (q *problem) together() {
	q.class, q.classes = make([]int, q.c.Groups), 1
	q.columns()
}

// byThemselves gives each its own again.
func (q *problem) byThemselves() {
	at := q.behindAt(0)
	d := q.b[at]
	q.groupsApart()
	q.b = append(q.b[:at:at], slices.Repeat([]float64{d}, q.classes)...)
	q.columns()
}

// turn finds which groups pass a line with a fixed behind the other way. The level takes
// what is common to all, so only how groups differ is looked at: the one that lies furthest
// behind goes the way that the plan means.
func (q *problem) turn() {
	c := q.c
	c.BehindFixed, c.Breaks, c.BreakOffsets = false, nil, nil
	free := pose(q.pairs, c)
	var n noise
	free.start()
	free.shapeNoise(&n)
	free.settle(settled)
	cov, _ := free.covary()
	way := math.Copysign(1, c.Behind)
	front := -1
	for g := range free.class {
		d := way * free.b[free.behindAt(g)]
		if cov.behindSE[g] < turnKnown && (front < 0 || d > way*free.b[free.behindAt(front)]) {
			front = g
		}
	}
	for g := range free.class {
		if front < 0 || cov.behindSE[g] >= turnKnown {
			continue
		}
		if apart := way * (free.b[free.behindAt(front)] - free.b[free.behindAt(g)]); apart > math.Abs(c.Behind) {
			q.turned[g] = -1
		}
	}
	q.columns()
}

const turnKnown = 1.0 // metres of standard error within which a group's way can be told

// pool gives groups one behind where theirs don't differ: directions of a line do, waves of
// one direction don't, and few pairs of a group learn from the others.
func (q *problem) pool() {
	if q.classes < 2 {
		return
	}
	cov, _ := q.covary()
	type group struct {
		g     int
		d, se float64
	}
	gs := make([]group, 0, q.classes)
	for g := range q.class {
		gs = append(gs, group{g, q.b[q.behindAt(g)], cov.behindSE[g]})
	}
	slices.SortFunc(gs, func(a, b group) int { return cmp.Or(cmp.Compare(a.se, b.se), cmp.Compare(a.g, b.g)) })
	var heads []group // each class's best known group
	class := make([]int, len(gs))
	for _, x := range gs {
		like := -1
		for k, h := range heads {
			if math.Abs(x.d-h.d) < likeBeing*math.Hypot(x.se, h.se) {
				if like >= 0 {
					like = -2 // as like to two: it stays by itself
					break
				}
				like = k
			}
		}
		if like < 0 {
			like = len(heads)
			heads = append(heads, x)
		}
		class[x.g] = like
	}
	if len(heads) == q.classes {
		return
	}
	b := append(slices.Clone(q.b[:q.behindAt(0)]), make([]float64, len(heads))...)
	for k, h := range heads {
		b[q.behindAt(k)] = h.d
	}
	q.class, q.classes, q.b = class, len(heads), b
	if q.classes == 1 {
		q.behindMean = behindMean
	}
	q.columns()
	q.settle(settled)
}

// ownDrifts gives each stretch a drift of its own where that pays: a clock that is set, or
// a box that starts anew, may run at another rate.
func (q *problem) ownDrifts() {
	if q.levels == 1 || q.drifts > 1 {
		return
	}
	each := math.Log(float64(len(q.y))) + ownGain
	if k := q.slopes(each); k > 0 {
		q.merge(k)
		q.settle(settled)
		q.ownDrifts()
		return
	}
	need := float64(q.levels-1) * each
	try := q.withOwnDrifts(false)
	if q.loss()-try.loss() < need {
		if try = q.withOwnDrifts(true); q.loss()-try.loss() < need {
			return
		}
	}
	try.settle(settled)
	if k := try.faintest(); k > 0 {
		q.merge(k)
		q.settle(settled)
		q.ownDrifts()
		return
	}
	*q = *try
}

// slopes is the boundary that a drift a stretch explains as well: what goes on at another
// rate after one step looks like several. 0: none. each is what a coefficient must bring.
func (q *problem) slopes(each float64) int {
	best, at := q.loss(), 0
	for k := 1; k < q.levels && q.levels > 2; k++ {
		if q.begun[k] != byPairs {
			continue
		}
		try := q.copy()
		try.merge(k)
		try.polish(polishSteps, nearly)
		more := float64(try.levels - 2) // drifts more, less the level
		if l := try.withOwnDrifts(false).loss() + more*each; l < best {
			best, at = l, k
		}
	}
	return at
}

// withOwnDrifts is the problem with a drift a stretch, fitted; straight: without a bend.
func (q *problem) withOwnDrifts(straight bool) *problem {
	try := q.copy()
	try.y = slices.Clone(q.y)
	if straight {
		try.closeBend()
	}
	try.drifts = q.levels
	b := slices.Clone(q.b[:q.levels])
	for range q.levels {
		b = append(b, q.b[q.levels])
	}
	try.b = append(b, try.b[q.levels+1:]...)
	try.columns()
	try.polish(polishSteps, settled)
	return try
}

// faintest is the boundary at which stretches of their own drift meet most nearly, if that
// is no step worth the name: the rate changed there and stands for it. 0: none.
func (q *problem) faintest() int {
	least, at := 0.0, 0
	cov, _ := q.covary()
	for k := 1; k < q.levels; k++ {
		i, _ := slices.BinarySearch(q.stretch, int32(k))
		if q.begun[k] != byPairs || i == 0 || i == len(q.t) {
			continue
		}
		t := (q.t[i-1] + q.t[i]) / 2
		jump := q.b[k] - q.b[k-1] + float64((q.b[q.levels+k]-q.b[q.levels+k-1])*t)
		sure := 4 * cov.jumpSE(k, t)
		if jump = math.Abs(jump); jump < max(leastStep*q.s, sure) && (at == 0 || jump < least) {
			least, at = jump, k
		}
	}
	return at
}

// dropDrift takes the drift out unless it is clear: hand times are too coarse to lean on a
// faint one.
func (q *problem) dropDrift() {
	cov, _ := q.covary()
	if math.Abs(q.b[q.levels]) > clearly*cov.driftSE {
		return
	}
	q.driftSD = 1e-3
	q.settle(settled)
	q.driftSD = driftSD
}

const (
	localPairs = 15 // about a moment
	clearly    = 3  // standard errors from which a term is stated
)

// localLevels are drifts of level: where speeds aren't known, as at a start, the first ones run and the
// last ones shuffle over the gap between the antennas, and the line's own pairs of that
// minute tell what that costs. Running medians of the residuals, drawn towards none by how
// little they vary beyond noise; nothing where those pairs don't hang together.
func (q *problem) localLevels(g int) drifting {
	var at []race.Instant
	var r []float64
	for i, p := range q.pairs {
		if p.Group == g && !q.known[i] && math.Abs(q.r[i]) < gross*q.s*q.h[i] {
			at, r = append(at, p.Main), append(r, q.r[i])
		}
	}
	n := len(r)
	if n < 2*localPairs {
		return drifting{}
	}
	total, next := 0.0, 0.0
	mean := 0.0
	for _, v := range r {
		mean += v / float64(n)
	}
	for i, v := range r {
		total += float64((v - mean) * (v - mean))
		if i > 0 {
			next += float64((v - r[i-1]) * (v - r[i-1]))
		}
	}
	// von Neumann's ratio, Annals of Mathematical Statistics 12 (1941) 367: 2 for noise,
	// less where neighbours are alike.
	ratio := next / max(total, 1e-12)
	if ratio > 2-clearly*2/math.Sqrt(float64(n)) {
		return drifting{}
	}
	alike := 1 - ratio/2 // share of the variance that neighbours have in common
	shrink := alike / (alike + (1-alike)*math.Pi/2/localPairs)
	var d drifting
	for i := 0; i < n; i += localPairs / 3 {
		lo := min(max(0, i-localPairs/2), n-localPairs)
		m := robust.Median(slices.Clone(r[lo : lo+localPairs]))
		if len(d.at) == 0 || at[i] > d.at[len(d.at)-1] {
			d.at = append(d.at, at[i])
			d.level = append(d.level, math.Round(shrink*m*1000)/1000)
		}
	}
	return d
}
