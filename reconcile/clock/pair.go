package clock

import (
	"slices"
	"sort"

	"twinmat/reconcile/race"
)

// Match is a burst of main and one of the other log that are one crossing: indexes of the
// tag and of the bursts in the tag's lists.
type Match struct{ Tag, Main, Other int }

const (
	leastWindow = 10_000 // ms
	secondApart = 3      // times as far as the nearest a second candidate must be
)

// PairUp joins each tag's bursts in two logs that are each other's nearest within the
// window (at least ten seconds) once the coarse offset is taken off. Where a second
// candidate lies less than three times as far, somebody stays by the antenna, and none is
// taken. Lists must be sorted.
func PairUp(main, other [][]race.Instant, coarse, window race.Millis) []Match {
	window = max(window, leastWindow)
	var out []Match
	for k := range min(len(main), len(other)) {
		a, b := main[k], other[k]
		for i := range a {
			j, clear := nearest(b, a[i].Add(coarse), window)
			if !clear {
				continue
			}
			if back, ok := nearest(a, b[j].Add(-coarse), window); ok && back == i {
				out = append(out, Match{k, i, j})
			}
		}
	}
	return out
}

// nearest finds the time of a sorted list that is nearest to t and tells whether it lies in
// the window and is clearly nearer than all others.
func nearest(ts []race.Instant, t race.Instant, window race.Millis) (int, bool) {
	at, _ := slices.BinarySearch(ts, t)
	lo, hi := max(0, at-2), min(len(ts), at+2)
	if lo == hi {
		return 0, false
	}
	apart := func(i int) race.Millis { return max(ts[i].Sub(t), t.Sub(ts[i])) }
	near := make([]int, 0, 4)
	for i := lo; i < hi; i++ {
		near = append(near, i)
	}
	sort.SliceStable(near, func(i, j int) bool { return apart(near[i]) < apart(near[j]) })
	best := apart(near[0])
	if best > window {
		return 0, false
	}
	return near[0], len(near) == 1 || apart(near[1]) > secondApart*best && apart(near[1])-best > 1
}
