package clock

import "math"

// guessed is how far the slowness told of an athlete's own stretch lies from that at the
// line, at most: 8 to 12 % in invented marathons, where many fade within a stretch.
const (
	guessed     = 0.12
	mostDiluted = 0.75
)

// alike is how many parts per million of the drift may be behind's in truth. Where the fast
// come first, time tells how slow somebody is, and better than a slowness told with errors
// does: regression dilution (Spearman, American Journal of Psychology 15 (1904) 72) takes
// from behind and gives to drift. Fills don't suffer, for their speeds are told as badly;
// but neither term is to be stated.
func (q *problem) alike() float64 {
	if q.classes != 1 {
		return 0 // a fixed behind takes nothing away; several signs of it cancel
	}
	var n, t, u float64
	each := func(f func(t, u float64)) {
		for i := range q.pairs {
			if q.known[i] && q.w[i] > 0 {
				f(q.t[i], q.u[i])
			}
		}
	}
	each(func(ti, ui float64) { n, t, u = n+1, t+ti, u+ui })
	if n < fewPairs {
		return 0
	}
	t, u = t/n, u/n
	var tt, tu, own float64 // own: squared differences from the one before, of about the same time
	last := math.NaN()
	each(func(ti, ui float64) {
		tt, tu = tt+float64((ti-t)*(ti-t)), tu+float64((ti-t)*(ui-u))
		if d := ui - last; d == d {
			own += d * d
		}
		last = ui
	})
	if !(tt > 0) {
		return 0
	}
	diluted := min(mostDiluted, guessed*guessed*u*u/max(own/n/2, 1e-12))
	whole := max(math.Abs(q.b[q.behindAt(0)])/(1-diluted), behindSD) // metres, before dilution
	return math.Ceil(math.Abs(tu/tt) * diluted * whole)
}
