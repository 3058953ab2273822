package suspect

import (
	"maps"
	"slices"

	"twinmat/reconcile/race"
)

// kept is what looks at single results gave, kept from search to search.
type kept[T any] struct {
	of      []int        // per entry: whose it is, in order
	entries []T          // likewise
	waiting map[int]bool // results of whom time alone may tell more; nil: nobody was looked at yet
	moves   int          // how often an entry was, or became, one of those who were looked at
}

// found is what a kind found of single results.
type found = kept[race.Suspect]

// byKind is what each kind found, and what that rested on besides the results.
type byKind struct {
	otherCourse, unlikely, early, wrongWave, missing, missingStart, unlisted, outButSeen, extra found

	fast   kept[tooQuick]
	silent []bool             // which splits were
	ruled  map[string]ruledAt // the statuses

	acrossStep, unsure map[fillsAt]*kept[string] // whose times are asked for, but for how they are
	sides              map[sidesAt]*sides        // of steps
}

// again has find look at some results, and takes what it gave for all others in the search
// before; whole: at all of them, as when something is another on which all rest. The list is
// good until the next search.
func (x *kept[T]) again(f *field, whole bool, some []int, find func(i int, add func(T))) []T {
	var more []T
	add := func(e T) { more = append(more, e) }
	if whole || x.waiting == nil || fewChanged*len(some) > len(f.st.Results) {
		x.of, x.entries, x.waiting = nil, nil, map[int]bool{}
		for i := range f.st.Results {
			more = more[:0]
			find(i, add)
			for _, e := range more {
				x.of, x.entries = append(x.of, i), append(x.entries, e)
			}
		}
		x.moves++
		return x.entries
	}
	look := func(i int) {
		delete(x.waiting, i)
		more = more[:0]
		find(i, add)
		from, _ := slices.BinarySearch(x.of, i)
		to, _ := slices.BinarySearch(x.of, i+1)
		if from < to || len(more) > 0 {
			x.of, x.entries = slices.Replace(x.of, from, to, slices.Repeat([]int{i}, len(more))...), slices.Replace(x.entries, from, to, more...)
			x.moves++
		}
	}
	for _, i := range some {
		look(i)
	}
	for _, i := range slices.Sorted(maps.Keys(x.waiting)) {
		look(i)
	}
	return x.entries
}

// waits notes that time alone may tell more of a result: it is looked at in each search.
func (x *kept[T]) waits(i int) { x.waiting[i] = true }

// learnt tells whether any field tells something else of stretches.
func (n *news) learnt() bool { return n.all || slices.Contains(n.relearnt, true) }

// taught tells whether what anybody is held against is another: what a field tells of
// stretches, how a wave went over its start, or that it should be over it.
func (n *news) taught() bool {
	return n.over || n.learnt() || slices.Contains(n.went, true)
}

// startsOver notes which waves should be over their start by now, and tells whether those are others
// than before.
func (f *field) startsOver() bool {
	over := make([]bool, len(f.waves))
	for w := range over {
		over[w] = f.st.Now > f.plan.Waves[w].Gun.Add(race.Millis(f.latest(w)*1000))
	}
	same := slices.Equal(f.startOver, over)
	f.startOver = over
	return !same
}

// equal tells whether two words say the same.
func (w *word) equal(v *word) bool {
	return w.upToSwaps(v) && maps.Equal(w.disordered, v.disordered) && maps.Equal(w.flew, v.flew)
}

// upToSwaps tells whether they do as far as the kinds up to swapped have left them.
func (w *word) upToSwaps(v *word) bool {
	return maps.Equal(w.lineOff, v.lineOff) && maps.Equal(w.moved, v.moved) && maps.Equal(w.unequal, v.unequal) && slices.Equal(w.stepped, v.stepped) &&
		slices.Equal(w.doubtful, v.doubtful) && w.others == v.others && slices.Equal(w.otherCourse, v.otherCourse) && maps.Equal(w.exchanged, v.exchanged)
}
