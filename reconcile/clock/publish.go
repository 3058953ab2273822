package clock

import (
	"fmt"
	"math"
	"slices"

	"twinmat/reconcile/race"
)

// publish rounds the fit into a model, and judges what its predictions are worth.
func (q *problem) publish(n noise) *Model {
	m := &Model{c: q.c, base: q.base, ref: q.ref, usual: q.usual, pairs: len(q.pairs)}
	few := len(q.pairs) < fewPairs
	cov, leverage := q.covary()
	if few {
		cov = q.believedCovariance()
	}
	m.groupPairs = make([]int, q.c.Groups)
	for _, p := range q.pairs {
		m.groupPairs[p.Group]++
	}
	m.behind = make([]float64, q.c.Groups)
	for g := range m.behind {
		m.behind[g] = q.turned[g] * q.c.Behind
		if q.classes > 0 {
			m.behind[g] = math.Round(q.b[q.behindAt(q.class[g])]*100) / 100
		}
	}
	m.cov, m.alike = cov, q.alike()
	q.partsOf(m)
	q.residuals(q.b, q.r)
	m.local = make([]drifting, q.c.Groups)
	m.apart = apart{make([]bool, q.c.Groups), make([]float64, q.c.Groups)}
	for g := range m.local {
		m.local[g] = q.localLevels(g)
		m.apart.none[g], m.apart.spread[g] = q.spreadOf(g)
	}
	for i, p := range q.pairs {
		if !q.known[i] {
			q.r[i] -= m.local[p.Group].at1(p.Main)
		}
	}
	m.noise = n
	m.noise.At = significant(q.s, 3)
	m.noise.Quantile = math.Round(q.quantile(leverage)*100) / 100
	m.residuals = make([]race.ClockPoint, len(q.pairs))
	for i, p := range q.pairs {
		m.residuals[i] = race.ClockPoint{At: p.Main.Add(-shift(q.c.Fold, p.Other)), Residual: math.Round(q.r[i]*1000) / 1000, Weight: math.Round(q.w[i]*100) / 100}
	}
	q.typical(m)
	q.doubts(m)
	m.says = m.describe(q)
	return m
}

// believedCovariance is that of a level found with believed drift and behind.
func (q *problem) believedCovariance() covariance {
	cov, _ := q.covary()
	if len(q.pairs) == 0 {
		return cov
	}
	p := q.p()
	pr := q.prior()
	for j := range p {
		for k := j; k < p; k++ {
			v := 0.0
			switch {
			case j == k && j < q.levels && q.fixed[j]:
			case j == k && j < q.levels:
				count := 0.0
				for i := range q.pairs {
					if q.level(i) == j {
						count++
					}
				}
				v = 1 / (max(count, 0.01)/(medianCost*q.s*q.s) + pr.precision[j])
			case j == k:
				v = 1 / pr.precision[j]
			}
			cov.v.SetSym(j, k, significant(v, 3))
		}
	}
	cov.t, cov.u = middle(q.t), middle(q.u)
	return cov
}

// partsOf rounds levels and drifts and finds where each stretch begins.
func (q *problem) partsOf(m *Model) {
	b := q.rounded(m)
	// What rounding drift and behind moved is made good by the level, for the middle of
	// each stretch.
	off, weight := make([]float64, q.levels), make([]float64, q.levels)
	for i := range q.pairs {
		l := q.level(i)
		w := q.w[i] / float64(q.h[i]*q.h[i])
		off[l] += float64(w * (q.at(i, q.b) - q.at(i, b)))
		weight[l] += w
	}
	for l := range q.levels {
		p := part{level: q.b[l], fixed: q.fixed[l], from: race.NoInstant, to: race.NoInstant, begin: race.NoInstant, gapA: race.NoInstant, gapB: race.NoInstant}
		if !p.fixed {
			p.drift = b[q.levels+min(l, q.drifts-1)]
			if weight[l] > 0 {
				p.level += off[l] / weight[l]
			}
		}
		p.level = math.Round(p.level*1000) / 1000
		b[l] = p.level
		lo, _ := slices.BinarySearch(q.stretch, int32(l))
		hi, _ := slices.BinarySearch(q.stretch, int32(l+1))
		if p.pairs = hi - lo; p.pairs > 0 {
			p.from, p.to = q.pairs[lo].Main, q.pairs[hi-1].Main
		}
		if l > 0 {
			q.begins(&p, l, lo)
		}
		m.parts = append(m.parts, p)
	}
	q.b = b
}

// rounded are the coefficients with all but the levels rounded, as the model has them.
func (q *problem) rounded(m *Model) []float64 {
	b := slices.Clone(q.b)
	for j := range q.drifts {
		b[q.levels+j] = steady(b[q.levels+j], m.cov.v.At(q.levels+j, q.levels+j))
	}
	for j := range q.bend.n {
		k := q.levels + q.drifts + j
		b[k] = math.Round(b[k]*1000) / 1000
		m.cov.bend.by[j] = b[k]
	}
	at := q.longAt()
	for j, on := range q.long.on {
		if on {
			b[at] = math.Round(b[at]*100) / 100
			m.cov.long.share[j] = b[at]
			at++
		}
	}
	for g := range m.behind {
		if q.classes > 0 {
			b[q.behindAt(q.class[g])] = m.behind[g]
		}
	}
	return b
}

// steady rounds a drift, in parts per million, to a tenth or, where its variance is greater, to
// what is little beside its standard error: what can't be known must not move with every pair.
func steady(drift, variance float64) float64 {
	unit := 0.1
	for _, u := range []float64{0.2, 0.5, 1, 2} {
		if u <= math.Sqrt(variance)/8 {
			unit = u
		}
	}
	return math.Round(math.Round(drift/unit)*unit*10) / 10
}

// begins finds where stretch l begins: its first pair is number at.
func (q *problem) begins(p *part, l, at int) {
	if q.begun[l] == byRuling {
		p.ruled = true
		n := 0 // rulings before this one
		for k := 1; k < l; k++ {
			if q.begun[k] == byRuling {
				n++
			}
		}
		p.begin = q.cuts[n].at
		return
	}
	p.begin = halfWay(q.pairs[at-1].Main, q.pairs[at].Main)
	first, last := at, at
	if q.begun[l] == byPairs {
		_, first, last = q.place(l)
	}
	p.folded = q.c.Fold != nil && q.pairs[at-1].Other < q.c.Fold.At && q.pairs[at].Other >= q.c.Fold.At
	p.gapA, p.gapB = q.pairs[first-1].Main, q.pairs[last].Main
}

func halfWay(a, b race.Instant) race.Instant { return a + (b-a)/2 }

// spreadOf tells whether a group has no pair of unknown speed, and how far its speeds differ.
func (q *problem) spreadOf(g int) (none bool, spread float64) {
	var us []float64
	none = true
	for i, p := range q.pairs {
		switch {
		case p.Group != g:
		case q.known[i]:
			us = append(us, p.U)
		default:
			none = false
		}
	}
	spread = 0.25 * q.usual[g]
	if len(us) >= fewPairs {
		spread = max(spread/2, mad(us))
	}
	return none, math.Round(spread*100) / 100
}

// typical is what behind costs a usual athlete, for Rough.
func (q *problem) typical(m *Model) {
	sum, n := 0.0, 0.0
	for _, p := range q.pairs {
		sum += float64(m.behind[p.Group] * q.usual[p.Group])
		n++
	}
	if n == 0 {
		for g := range m.behind {
			sum += float64(m.behind[g] * m.usual[g])
			n++
		}
	}
	m.typical = math.Round(sum/n*1000) / 1000
	if q.c.Coarse != 0 && len(q.pairs) == 0 && !q.c.Fixed {
		m.typical = 0 // a voted offset has it already
	}
}

// doubts are what forbids to trust the model, or a stretch of it.
func (q *problem) doubts(m *Model) {
	n := len(q.pairs)
	if q.c.lean != nil && !q.c.Fixed && q.c.Common >= voteLeast && 4*n < q.c.Common {
		m.unsure = fmt.Sprintf("%d tags were seen by both, but of %d only the crossings fit by the clock that it shares with another line", q.c.Common, n)
		if n == 0 {
			m.unsure = fmt.Sprintf("%d tags were seen by both, and no crossing fits by the clock that it shares with another line", q.c.Common)
		}
	}
	if q.c.Fixed || q.c.lean != nil {
		return
	}
	if n < leastFew {
		m.unsure = pairsOnly(n)
		return
	}
	near := 0
	for i, r := range q.r {
		if math.Abs(r) < max(gross*q.s0*q.h[i], 1.5) {
			near++
		}
	}
	if 2*near <= n {
		m.unsure = "the crossings that both saw don't agree on an offset"
	}
	for l := range m.parts {
		p := &m.parts[l]
		if p.pairs < leastFew && !p.fixed {
			p.unsure = pairsOnly(p.pairs) + " since the clock was set"
			if l == 0 {
				p.unsure = pairsOnly(p.pairs) + " before the clock was set"
			}
		}
	}
}
