package clock

import (
	"math"
	"slices"

	"twinmat/reconcile/robust"
)

const (
	boundLoss  = 9.0 // of one pair in the over-segmentation: three standard deviations
	levelReach = 2.0 // standard deviations: a level is worth a try where a few pairs lie so near
)

// overSegment cuts the standardised residuals wherever a level of their own pays, by
// R-FPOP: optimal partitioning under a bounded loss (Fearnhead and Rigaill, JASA 114
// (2019) 169; arXiv 1609.07363), here on a grid of levels. Drift was taken off with the
// residuals, held within what a crystal does: a step must not pass for one.
func (q *problem) overSegment() []int {
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
	grid := levelGrid(z, levelReach)
	if len(grid) < 2 {
		return q.voted
	}
	for penalty := 2*math.Log(float64(n)) + 4; ; penalty *= 2 {
		if cuts := partition(z, q.h, grid, penalty); len(cuts) <= mostSteps {
			return append(cuts, q.voted...)
		}
	}
}

// partition cuts z, whose noise is h, into runs of one level each, of the grid's, so that the bounded loss and
// a penalty for each cut are least. Returns the index that each later run begins at.
func partition(z, h, grid []float64, penalty float64) []int {
	n, g := len(z), len(grid)
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
			d := (v - grid[k]) / h[i]
			f[k] = c + min(float64(d*d), boundLoss)
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
	return max(madScale*robust.Median(d), q.leastScale())
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
