package reconcile

import (
	"math"

	"twinmat/reconcile/race"
	"twinmat/reconcile/robust"
)

// What many of a course's passings teach, one more would change by as little as nothing, and with it
// everybody's assignment. So the newest teach nothing until they are a batch: their own times and
// places they have at once. Which ones they are is told by their times, whatever the order in which they came.

const (
	timesMany = 4 // times of each of the athletes who are enough to ask: so many times, and the newest wait
	noneWaits = race.Instant(math.MaxInt64)
)

// manyTimes of those who are asked of a course are so many that the newest wait.
func (r *run) manyTimes() int { return timesMany * r.enough }

// waitingFrom is the moment from which on the times of those who are asked of a course wait.
func (r *run) waitingFrom(c int) race.Instant {
	var at []float64
	for _, i := range r.tellers[c] {
		first := r.firstOutcome(&r.ents[i])
		for _, k := range first.filled {
			if k >= 0 {
				at = append(at, float64(first.passings[k].At))
			}
		}
	}
	if from, ok := robust.NewestFrom(at, r.manyTimes()); ok {
		return race.Instant(from)
	}
	return noneWaits
}
