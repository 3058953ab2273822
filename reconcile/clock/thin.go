package clock

import "slices"

// thinPairs is how many pairs the search for steps looks at: of a great field every second,
// third … pair shows a step as well, and what is found is placed among all.
const thinPairs = 1500

// findStepsThinly finds the steps among every so many pairs, and places them among all.
func (q *problem) findStepsThinly() {
	stride := (len(q.y) + thinPairs - 1) / thinPairs
	if stride < 2 {
		q.findSteps()
		return
	}
	few := q.thinned(stride)
	few.findSteps()
	q.driftSD = few.driftSD
	var cuts []int
	for j := 1; j < len(few.stretch); j++ {
		if few.stretch[j] == few.stretch[j-1] || q.stretch[j*stride] != q.stretch[(j-1)*stride] {
			continue
		}
		if k := slices.IndexFunc(q.voted, func(i int) bool { return among(i, stride) == j }); k >= 0 {
			cuts = append(cuts, q.voted[k])
		} else {
			cuts = append(cuts, j*stride)
		}
	}
	if len(cuts) == 0 {
		return
	}
	q.cutAt(cuts)
	copy(q.b, few.b)
	q.s = few.s
	for range 2 {
		q.polish(polishSteps, nearly)
		if !q.relocate() {
			break
		}
	}
}

// among is the first of every so many pairs that isn't before the i-th of all.
func among(i, stride int) int { return (i + stride - 1) / stride }

// thinned is the problem with every so many pairs only.
func (q *problem) thinned(stride int) *problem {
	few := q.copy()
	few.pairs, few.y, few.t, few.u, few.h, few.r, few.w, few.known, few.stretch = nil, nil, nil, nil, nil, nil, nil, nil, nil
	for i := 0; i < len(q.y); i += stride {
		few.pairs, few.y, few.t, few.u = append(few.pairs, q.pairs[i]), append(few.y, q.y[i]), append(few.t, q.t[i]), append(few.u, q.u[i])
		few.h, few.r, few.w = append(few.h, q.h[i]), append(few.r, q.r[i]), append(few.w, q.w[i])
		few.known, few.stretch = append(few.known, q.known[i]), append(few.stretch, q.stretch[i])
	}
	few.voted = nil
	for _, i := range q.voted {
		if j := among(i, stride); j < len(few.y) && !slices.Contains(few.voted, j) {
			few.voted = append(few.voted, j)
		}
	}
	few.b = slices.Clone(q.b)
	few.columns()
	return few
}
