package clock

import "slices"

// side is what lies on one side of a boundary.
type side struct {
	all, sound, used, mean float64
	first, last            float64 // seconds: when the outermost crossed
}

// beside weighs the pairs of the two stretches at boundary k: how many there are, and the
// mean residual of the nearest.
func (q *problem) beside(k int) (before, after side) {
	at, _ := slices.BinarySearch(q.stretch, int32(k))
	tell := func(s *side, i int) {
		if at := q.t[i] / microTime; s.all == 0 {
			s.first, s.last = at, at
		} else {
			s.first, s.last = min(s.first, at), max(s.last, at)
		}
		s.all++
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

// longestCrossing in seconds: nobody who crosses a line in a race is read for longer.
const longestCrossing = 10.0

// cutShort tells whether one side of a boundary may be those who were crossing when main fell
// silent, or came back: it had them all at one moment, each at another one of their crossings.
func cutShort(before, after side, jump float64) bool {
	return jump < longestCrossing && min(before.last-before.first, after.last-after.first) < jump/2
}
