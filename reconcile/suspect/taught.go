package suspect

import (
	"math"

	"twinmat/reconcile/race"
	"twinmat/reconcile/robust"
)

// What a course's field teaches of its stretches and levels rests on those who are asked. Where they
// have passed many lines, the newest times teach nothing yet: one more would change what everybody is
// held against, by as little as nothing. They wait until they are a batch.

// taught is what those who are asked of a course teach by, in their order.
type taught struct {
	paces [][]float64 // theirs, NaN where the stretch ended so lately that its time waits
	level []float64   // told by those; NaN unknown
}

// stretch is the log pace of the n-th of those who are asked over the stretch that ends at a split.
func (x *taught) stretch(n, k int) (float64, bool) {
	if k >= len(x.paces[n]) {
		return 0, false
	}
	y := x.paces[n][k]
	return y, !math.IsNaN(y)
}

// teach takes what those who are asked of a course have passed by now, and tells whether that
// teaches anything else than before.
func (f *field) teach(c *onCourse) (anew bool) {
	x, until := &c.taught, f.waitingFrom(c)
	if anew = x.paces == nil; anew {
		x.paces, x.level = make([][]float64, len(c.asked)), make([]float64, len(c.asked))
	}
	for n, i := range c.asked {
		if x.paces[n] == nil {
			x.paces[n] = make([]float64, len(f.paces[i]))
		}
		for k, y := range f.paces[i] {
			if f.times[i][k] >= until {
				y = math.NaN()
			}
			if t := &x.paces[n][k]; *t != y && !(math.IsNaN(*t) && math.IsNaN(y)) {
				*t, anew = y, true
			}
		}
	}
	return anew
}

// waitingFrom is the moment from which on the times of those who are asked of a course wait.
func (f *field) waitingFrom(c *onCourse) race.Instant {
	var at []float64
	for _, i := range c.asked {
		for _, t := range f.times[i] {
			if t.Known() {
				at = append(at, float64(t))
			}
		}
	}
	if from, ok := robust.NewestFrom(at, f.in.Many); ok && f.in.Many > 0 {
		return race.Instant(from)
	}
	return race.Instant(math.MaxInt64)
}
