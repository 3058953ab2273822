package clock

import (
	"cmp"
	"math"
	"slices"
)

const (
	stepSide   = 12 // pairs on each side that a step is judged by
	stepHuge   = 3  // … where it is many times the noise
	stepWindow = 25
	// A step must lower the bounded loss by the usual 2 ln n and this much more: then noise
	// invents none in a thousand races.
	stepGain = 16
	maxSteps = 6
)

// findSteps looks for jumps of either clock: where the medians of the residuals on the two
// sides differ most, a joint fit with a level of its own on each side must explain the
// pairs much better. Boundaries are tried one by one, and those that no longer pay once the
// others are there are taken out again.
func (d *design) findSteps(x []float64, scale float64) ([]float64, float64) {
	for d.segs <= maxSteps {
		r := make([]float64, len(d.y))
		d.residuals(x, r)
		was := d.loss(x, scale)
		need := 2*math.Log(float64(len(d.y))) + stepGain
		bestLoss, bestAt := math.Inf(1), -1
		var bestX []float64
		for _, k := range d.candidates(r, scale) {
			y := d.split(k)
			nx := y.spread(x, k, d)
			y.polish(nx, scale)
			if l := y.loss(nx, scale); l < bestLoss {
				bestLoss, bestAt, bestX = l, k, nx
			}
		}
		if bestAt < 0 || was-bestLoss < need {
			break
		}
		*d = *d.split(bestAt)
		x = bestX
		x, scale = d.relocate(x, scale)
		d.residuals(x, r[:len(d.y)])
		scale = math.Max(0.005, math.Min(scale, d.scale(r)))
		d.polish(x, scale)
	}
	return x, scale
}

// candidates are the places where a step would show most.
func (d *design) candidates(r []float64, scale float64) []int {
	type place struct {
		k    int
		seen float64
	}
	var all []place
	n := len(r)
	for k := stepHuge; k <= n-stepHuge; k++ {
		if d.seg[k-1] != d.seg[k] {
			continue
		}
		lo, hi := k, k
		for lo > 0 && k-lo < stepWindow && d.seg[lo-1] == d.seg[k] {
			lo--
		}
		for hi < n && hi-k < stepWindow && d.seg[hi] == d.seg[k] {
			hi++
		}
		side := min(k-lo, hi-k)
		if side < stepHuge {
			continue
		}
		jump := math.Abs(Median(r[k:hi]) - Median(r[lo:k]))
		if side < stepSide && jump < 20*scale {
			continue
		}
		all = append(all, place{k, jump * math.Sqrt(float64(side))})
	}
	slices.SortStableFunc(all, func(a, b place) int { return cmp.Or(cmp.Compare(b.seen, a.seen), cmp.Compare(a.k, b.k)) })
	var out []int
	for _, p := range all {
		far := true
		for _, k := range out {
			far = far && (p.k-k > 5 || k-p.k > 5)
		}
		if far {
			out = append(out, p.k)
		}
		if len(out) == 4 {
			break
		}
	}
	return out
}

// split is the design with one more boundary, before pair k.
func (d *design) split(k int) *design {
	e := *d
	e.seg = slices.Clone(d.seg)
	for i := k; i < len(e.seg); i++ {
		e.seg[i]++
	}
	e.segs++
	return &e
}

// spread gives the unknowns of a design without the boundary at k to one with it, the new
// levels where the medians of the residuals say.
func (d *design) spread(x []float64, k int, old *design) []float64 {
	r := make([]float64, len(d.y))
	old.residuals(x, r)
	s := old.seg[k]
	out := make([]float64, 0, len(x)+1)
	out = append(out, x[:s+1]...)
	out = append(out, x[s:]...)
	var before, after []float64
	for i := range r {
		if d.seg[i] == s {
			before = append(before, r[i])
		}
		if d.seg[i] == s+1 {
			after = append(after, r[i])
		}
	}
	out[s] += Median(before)
	out[s+1] += Median(after)
	return out
}

// relocate moves each boundary to where the pairs beside it fit best.
func (d *design) relocate(x []float64, scale float64) ([]float64, float64) {
	r := make([]float64, len(d.y))
	for s := 0; s+1 < d.segs; s++ {
		d.residuals(x, r)
		jump := x[s+1] - x[s]
		at, _ := slices.BinarySearch(d.seg, s+1)
		lo, _ := slices.BinarySearch(d.seg, s)
		hi, _ := slices.BinarySearch(d.seg, s+2)
		best, bestCost, cost := at, 0.0, 0.0
		for k := at - 1; k > lo+1; k-- { // pair k goes over to the later side
			cost += bounded((r[k]-jump)/(scale*d.sd[k])) - bounded(r[k]/(scale*d.sd[k]))
			if cost < bestCost {
				best, bestCost = k, cost
			}
		}
		cost = 0
		for k := at; k < hi-2; k++ {
			cost += bounded((r[k]+jump)/(scale*d.sd[k])) - bounded(r[k]/(scale*d.sd[k]))
			if cost < bestCost {
				best, bestCost = k+1, cost
			}
		}
		for i := min(best, at); i < max(best, at); i++ {
			if best < at {
				d.seg[i] = s + 1
			} else {
				d.seg[i] = s
			}
		}
		d.polish(x, scale)
	}
	return x, scale
}
