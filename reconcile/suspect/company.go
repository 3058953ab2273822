package suspect

import (
	"cmp"
	"maps"
	"slices"

	"twinmat/reconcile/ordered"
	"twinmat/reconcile/race"
)

// arrival is when a result came to a split.
type arrival struct {
	at     race.Instant
	result int32
}

func (a arrival) compare(b arrival) int {
	return cmp.Or(cmp.Compare(a.at, b.at), cmp.Compare(a.result, b.result))
}

// company is who goes beside whom on a course, kept from search to search: pairs that are close
// wherever both were read, and both were at one of its least crowded splits. Chips carried
// together are close there too, and rarely missed at two of them.
type company struct {
	lists [][]arrival // per split, who came when; nil: not made yet
	pairs []int       // per split: how many of them came within carriedReach of each other
	moves []move      // that the lists don't have yet
	few   []int       // the least crowded splits
	tried []bool      // per split: with has those who were there; all of few are, and some that were among them
	with  map[int][]int
	said  map[[2]int]race.Suspect
}

// move is another time of an athlete's at a split.
type move struct {
	split    int
	result   int32
	was, now race.Instant
}

// changed notes an athlete's other times.
func (x *company) changed(i int, was, now []race.Instant) {
	if x.lists == nil {
		return
	}
	for k := range now {
		if was[k] != now[k] {
			x.moves = append(x.moves, move{k, int32(i), was[k], now[k]})
		}
	}
}

// keepCompany makes a course's pairs what they are; anew: any of them may be another.
func (f *field) keepCompany(c int) (anew bool) {
	of := &f.courses[c]
	x := &of.company
	moved := x.moved()
	anew = x.lists == nil || fewChanged*len(moved) > len(of.results)
	x.arrange(f, of)
	if anew {
		x.tried, x.with = make([]bool, len(x.lists)), map[int][]int{}
	}
	for _, i := range moved {
		x.part(i)
	}
	few := fewCrowded(x.lists, x.pairs)
	for k, l := range x.lists {
		switch {
		case slices.Contains(few, k) && !x.tried[k]:
			x.tried[k] = true
			x.meetAll(f, of, k)
		case x.tried[k]:
			for _, i := range moved {
				if k < len(f.times[i]) { // open laps are written out for each as far as they came
					x.meetAround(f, l, i, f.times[i][k])
				}
			}
		}
	}
	anew = anew || !slices.Equal(few, x.few)
	x.few = few
	return anew
}

// moved are the results with other times, each once.
func (x *company) moved() []int {
	var some []int
	for _, m := range x.moves {
		some = append(some, int(m.result))
	}
	slices.Sort(some)
	return slices.Compact(some)
}

// arrange takes the moves into the lists.
func (x *company) arrange(f *field, of *onCourse) {
	n := len(of.splits)
	if x.lists == nil {
		x.lists, x.pairs = make([][]arrival, n), make([]int, n)
		f.in.each(n, func(k int) {
			l := make([]arrival, 0, len(of.results))
			for _, i := range of.results {
				if k < len(f.times[i]) && f.times[i][k].Known() {
					l = append(l, arrival{f.times[i][k], int32(i)})
				}
			}
			ordered.ByNumber(l, func(a *arrival) int64 { return int64(a.at) }) // those of a moment are in order of their results
			x.lists[k], x.pairs[k] = l, pairsWithin(l)
		})
		x.moves = nil
		return
	}
	slices.SortStableFunc(x.moves, func(a, b move) int { return cmp.Compare(a.split, b.split) })
	for from := 0; from < len(x.moves); {
		k, to := x.moves[from].split, from
		for to < len(x.moves) && x.moves[to].split == k {
			to++
		}
		if some := x.moves[from:to]; len(some) <= oneByOne {
			for _, m := range some {
				x.carryOut(m)
			}
		} else {
			x.lists[k] = f.listAgain(k, x.lists[k], some)
			x.pairs[k] = pairsWithin(x.lists[k])
		}
		from = to
	}
	x.moves = x.moves[:0]
}

// oneByOne moves of a list, at the most, cost less each by itself than going through the list once.
const oneByOne = 64

// carryOut moves one arrival.
func (x *company) carryOut(m move) {
	l := x.lists[m.split]
	if a := (arrival{m.was, m.result}); m.was.Known() {
		at, _ := slices.BinarySearchFunc(l, a, arrival.compare)
		l = slices.Delete(l, at, at+1)
		x.pairs[m.split] -= len(around(l, m.was))
	}
	if a := (arrival{m.now, m.result}); m.now.Known() {
		x.pairs[m.split] += len(around(l, m.now))
		at, _ := slices.BinarySearchFunc(l, a, arrival.compare)
		l = slices.Insert(l, at, a)
	}
	x.lists[m.split] = l
}

// listAgain is a split's list with many moves.
func (f *field) listAgain(k int, l []arrival, some []move) []arrival {
	l = slices.DeleteFunc(l, func(a arrival) bool { return f.times[a.result][k] != a.at })
	came := make([]arrival, 0, len(some))
	for _, m := range some {
		if m.now.Known() {
			came = append(came, arrival{m.now, m.result})
		}
	}
	slices.SortFunc(came, arrival.compare)
	return ordered.Merge(l, came, arrival.compare)
}

// around are the arrivals within carriedReach of a moment.
func around(l []arrival, t race.Instant) []arrival {
	first := func(t race.Instant) int {
		at, _ := slices.BinarySearchFunc(l, t, func(a arrival, t race.Instant) int { return cmp.Compare(a.at, t) })
		return at
	}
	return l[first(t.Add(-carriedReach)):first(t.Add(carriedReach+1))]
}

// pairsWithin is how many pairs of a list are within carriedReach of each other.
func pairsWithin(l []arrival) int {
	n := 0
	for a, b := 0, 0; a < len(l); a++ {
		for b < len(l) && l[b].at <= l[a].at.Add(carriedReach) {
			b++
		}
		n += b - a - 1
	}
	return n
}

// fewCrowded are the least crowded splits, up to the second of those that half of the most
// crowded list has reached: one that few have reached is not crowded, and finds few.
func fewCrowded(lists [][]arrival, pairs []int) []int {
	type crowd struct{ split, pairs int }
	var crowds []crowd
	most := 0
	for k, l := range lists {
		if most = max(most, len(l)); len(l) >= 2 {
			crowds = append(crowds, crowd{k, pairs[k] * 1000 / len(l)}) // fewer seen means fewer pairs found, so what counts is the crowd a head
		}
	}
	slices.SortStableFunc(crowds, func(a, b crowd) int { return cmp.Compare(a.pairs, b.pairs) })
	var splits []int
	for taken := 0; taken < 2 && len(splits) < len(crowds); {
		k := crowds[len(splits)].split
		splits = append(splits, k)
		taken += tally(2*len(lists[k]) >= most)
	}
	return splits
}

// meetAll finds the pairs who were close at a split.
func (x *company) meetAll(f *field, of *onCourse, k int) {
	l, elsewhere := x.lists[k], f.timesAt(of, farFrom(k, len(of.splits)))
	for a := range l {
		there := elsewhere[l[a].result]
		for b := a + 1; b < len(l) && l[b].at <= l[a].at.Add(carriedReach); b++ {
			if d := elsewhere[l[b].result] - there; (d > race.Instant(carriedReach) || d < -race.Instant(carriedReach)) && there.Known() && elsewhere[l[b].result].Known() {
				continue // nearly all: apart where it is known at once
			}
			x.meet(f, int(l[a].result), int(l[b].result))
		}
	}
}

// farFrom is the split of n that is furthest from another: whoever is close at one by chance
// is hardly so at both.
func farFrom(k, n int) int {
	if 2*k < n {
		return n - 1
	}
	return 0
}

// timesAt are a course's times at one split, per result.
func (f *field) timesAt(x *onCourse, k int) []race.Instant {
	at := make([]race.Instant, len(f.times))
	for _, i := range x.results {
		if at[i] = race.NoInstant; k < len(f.times[i]) {
			at[i] = f.times[i][k]
		}
	}
	return at
}

// meetAround finds those who were close to one athlete at a split.
func (x *company) meetAround(f *field, l []arrival, i int, at race.Instant) {
	if !at.Known() {
		return
	}
	for _, a := range around(l, at) {
		if k := int(a.result); k != i {
			x.meet(f, i, k)
		}
	}
}

// meet makes a pair of two who were close everywhere.
func (x *company) meet(f *field, i, j int) {
	if !slices.Contains(x.with[i], j) && f.closeEverywhere(i, j) {
		x.with[i], x.with[j] = append(x.with[i], j), append(x.with[j], i)
	}
}

// part takes an athlete out of all pairs.
func (x *company) part(i int) {
	for _, j := range x.with[i] {
		x.with[j] = slices.DeleteFunc(x.with[j], func(k int) bool { return k == i })
		delete(x.said, pairOf(i, j))
	}
	delete(x.with, i)
}

// pairOf is a pair, the lower first.
func pairOf(i, j int) [2]int { return [2]int{min(i, j), max(i, j)} }

// closeEverywhere tells whether two athletes were close wherever both were read, at four
// crossings at least.
func (f *field) closeEverywhere(i, j int) bool {
	n, lapped := 0, false
	for k := min(len(f.times[i]), len(f.times[j])) - 1; k >= 0; k-- {
		a, b := f.times[i][k], f.times[j][k]
		if !a.Known() || !b.Known() {
			continue
		}
		if d := a - b; d > race.Instant(carriedReach) || d < -race.Instant(carriedReach) {
			return false
		}
		// A bunch crosses the line of its laps together a hundred times: that is one line.
		if f.st.Results[i].Splits[k].Lap > 0 {
			if lapped {
				continue
			}
			lapped = true
		}
		n++
	}
	return n >= carriedLines
}

// weigh looks at a course's pairs again of whom anything is another, or at all.
func (x *company) weigh(f *field, all bool, noise *bodyNoise) []race.Suspect {
	if all {
		x.said = map[[2]int]race.Suspect{}
		for i, with := range x.with {
			for _, j := range with {
				if i < j {
					x.weighPair(f, i, j, noise)
				}
			}
		}
	} else {
		for _, i := range f.news.changed {
			for _, j := range x.with[i] {
				x.weighPair(f, min(i, j), max(i, j), noise)
			}
		}
	}
	var found []race.Suspect
	for _, p := range slices.SortedFunc(maps.Keys(x.said), func(a, b [2]int) int { return cmp.Or(a[0]-b[0], a[1]-b[1]) }) {
		found = append(found, x.said[p])
	}
	return found
}

func (x *company) weighPair(f *field, i, j int, noise *bodyNoise) {
	delete(x.said, [2]int{i, j})
	if !slices.ContainsFunc(x.few, func(k int) bool {
		return k < min(len(f.times[i]), len(f.times[j])) && f.times[i][k].Known() && f.times[j][k].Known()
	}) {
		return // the split at which they were found is no longer one of the least crowded
	}
	if s, ok := f.carried(i, j, noise); ok {
		x.said[[2]int{i, j}] = s
	}
}
