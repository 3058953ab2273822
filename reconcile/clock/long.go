package clock

import "math"

// lengths says what the length of this log's burst tells: one that began early by chance,
// or ended late, is longer than the athlete's speed makes usual, and its kept time is off
// by a share of that. The share is found with everything else.
type lengths struct {
	perU  float64 // metres: a burst's usual length over slowness; 0: no lengths
	share float64
}

const (
	longSD   = 0.3 // of the share beforehand
	longMost = 8.0 // seconds: who stood there tells nothing
	longFew  = 20  // pairs that tell what is usual
)

// beyond is a burst's length past the usual, within twice that; 0 where it tells nothing.
func (l lengths) beyond(long, u float64) float64 {
	if l.perU == 0 || !(long > 0) || long > longMost || !(u > 0) {
		return 0
	}
	usual := float64(l.perU * u)
	return min(max(long-usual, -usual), 2*usual)
}

// usualLength finds perU from the pairs of known slowness and length.
func (q *problem) usualLength() {
	var per []float64
	for i, p := range q.pairs {
		if q.known[i] && p.Long > 0 && p.Long <= longMost {
			per = append(per, p.Long/q.u[i])
		}
	}
	if len(per) >= longFew && !q.c.Hand {
		q.long.perU = math.Round(medianOf(per)*10) / 10
	}
	q.longs = 0
	if q.long.perU > 0 {
		q.longs = 1
	}
}
