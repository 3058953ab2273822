package clock

import "slices"

// relocate moves each boundary to where the pairs beside it fit best, and tells whether any
// moved.
func (q *problem) relocate() bool {
	moved := false
	for k := 1; k < q.levels; k++ {
		if q.begun[k] != byPairs {
			continue
		}
		best, _, _ := q.place(k)
		at, _ := slices.BinarySearch(q.stretch, int32(k))
		for i := min(best, at); i < max(best, at); i++ {
			q.stretch[i] = int32(k)
			if best > at {
				q.stretch[i] = int32(k - 1)
			}
		}
		if best != at {
			moved = true
			q.residuals(q.b, q.r)
		}
	}
	return moved
}

const placeDoubt = 6 // of loss: places this near to the best may be the true one

// place finds the index at which boundary k is best, and the first and last that are nearly
// as good.
func (q *problem) place(k int) (best, first, last int) {
	lo, _ := slices.BinarySearch(q.stretch, int32(k-1))
	hi, _ := slices.BinarySearch(q.stretch, int32(k+1))
	at, _ := slices.BinarySearch(q.stretch, int32(k))
	jump := q.b[k] - q.b[k-1]
	cost := make([]float64, hi-lo+1) // of the boundary before pair lo+i
	for i := lo; i < hi; i++ {
		sd, r := q.s*q.h[i], q.r[i]
		early, late := r, r-jump // against the level before, and the one after
		if i >= at {
			early, late = r+jump, r
		}
		cost[i-lo+1] = cost[i-lo] + tukeyLoss(early/sd) - tukeyLoss(late/sd)
	}
	best = 1
	for i := 1; i < len(cost)-1; i++ {
		if cost[i] < cost[best]-1e-9 {
			best = i
		}
	}
	first, last = best, best
	for first > 1 && cost[first-1] < cost[best]+placeDoubt {
		first--
	}
	for last < len(cost)-2 && cost[last+1] < cost[best]+placeDoubt {
		last++
	}
	return lo + best, lo + first, lo + last
}
