package clock

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"

	"twinmat/reconcile/robust"
)

const (
	manyPairs  = 500 // from here on least absolute deviations are as good a start, and cheaper
	trimStarts = 120 // of subsets of 4 with 40 % wrong pairs, some are clean but for 1 in 10⁷ times
	trimKeep   = 8
	trimSteps  = 30
	trimSeed   = 1984
)

// leastTrimmed finds the fit with the least sum of its h smallest squared residuals, h just
// over half: FAST-LTS (Rousseeuw and Van Driessen, Data Mining and Knowledge Discovery 12
// (2006) 29). Starts are small random subsets with a fixed seed and the fit of all; each is
// concentrated twice, the best few to the end.
func (q *problem) leastTrimmed(b []float64, sd float64) {
	n, p := len(q.y), q.p()
	h := min(n, (n+q.levels+min(q.k, 2)+1)/2)
	type start struct {
		b    []float64
		cost float64
	}
	s, pr := newSolver(&q.design), q.prior()
	w, r := make([]float64, n), make([]float64, n)
	concentrate := q.concentrator(s, pr, h, sd, w, r)
	var best []start
	keep := func(x start) {
		best = append(best, x)
		slices.SortStableFunc(best, func(a, b start) int { return cmp.Compare(a.cost, b.cost) })
		best = best[:min(len(best), trimKeep)]
	}
	dice := rand.New(rand.NewPCG(trimSeed, trimSeed))
	for k := range trimStarts {
		x := start{b: make([]float64, p)}
		copy(x.b, pr.mean)
		clear(w)
		for range p + 1 {
			w[dice.IntN(n)] = 1 / (sd * sd)
		}
		if k == 0 {
			q.leastAbsolute(x.b, sd)
		} else {
			s.move(x.b, q.residuals(x.b, r), w, pr)
		}
		concentrate(x.b)
		x.cost = concentrate(x.b)
		keep(x)
	}
	for i := range best {
		for range trimSteps {
			was := best[i].cost
			if best[i].cost = concentrate(best[i].b); was-best[i].cost <= 1e-12*was {
				break
			}
		}
	}
	slices.SortStableFunc(best, func(a, b start) int { return cmp.Compare(a.cost, b.cost) })
	copy(b, best[0].b)
}

// concentrator gives what moves b to the fit of the h pairs that lie nearest to it, and says
// what those cost before; w and r are room for weights and residuals.
func (q *problem) concentrator(s *solver, pr prior, h int, sd float64, w, r []float64) func(b []float64) float64 {
	a := make([]float64, len(r))
	return func(b []float64) float64 {
		q.residuals(b, r)
		for i, v := range r {
			a[i] = math.Abs(v)
		}
		cut := robust.Nth(a, h-1)
		cost := 0.0
		for i, v := range r {
			w[i] = 0
			if math.Abs(v) <= cut {
				w[i] = 1 / (sd * sd)
				cost += float64(v * v)
			}
		}
		s.move(b, r, w, pr)
		return cost
	}
}

const absoluteSteps = 25

// leastAbsolute moves b to the least sum of absolute residuals by reweighted least squares
// (Schlossmacher, JASA 68 (1973) 857), from the median as level.
func (q *problem) leastAbsolute(b []float64, sd float64) {
	n := len(q.y)
	s, pr := newSolver(&q.design), q.prior()
	r, w := q.residuals(b, make([]float64, n)), make([]float64, n)
	by := make([][]float64, q.levels)
	for i, v := range r {
		by[q.level(i)] = append(by[q.level(i)], v)
	}
	for l := range by {
		if len(by[l]) > 0 && !q.fixed[l] {
			b[l] += robust.Median(by[l])
		}
	}
	least := sd / 20
	for range absoluteSteps {
		q.residuals(b, r)
		for i, v := range r {
			w[i] = 1 / (sd * max(math.Abs(v), least))
		}
		if far, ok := s.move(b, r, w, pr); !ok || far < nearly {
			return
		}
	}
}
