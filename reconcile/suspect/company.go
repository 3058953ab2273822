package suspect

import (
	"cmp"
	"maps"
	"math"
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
	near  map[[2]int]bool // pairs that were both at one of few
	bar   float64         // nats that one of them needs
	said  map[[2]int]race.Suspect
}

// move is another time of an athlete's at a split.
type move struct {
	split    int
	result   int32
	was, now race.Instant
}

// changed notes where an athlete came at other times than they were.
func (x *company) changed(f *field, i int, was []race.Instant) {
	if x.lists == nil {
		return
	}
	for k := range was {
		if now := f.cameTo(i, k); was[k] != now {
			x.moves = append(x.moves, move{k, int32(i), was[k], now})
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
				x.meetAround(f, l, i, f.cameTo(i, k))
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

// cameTo is when somebody came to a split; to the start also before their gun, if not again after:
// whose chip is carried sets out with another's wave. NoInstant: nothing tells, or open laps, which
// are written out for each as far as they came, are fewer.
func (f *field) cameTo(i, k int) race.Instant {
	if k >= len(f.times[i]) {
		return race.NoInstant
	}
	if t := f.times[i][k]; k > 0 || t.Known() {
		return t
	}
	return f.setOut[i]
}

// setOutAt is the passing in which somebody crossed the start before their gun; nil: they didn't, or
// again after.
func (f *field) setOutAt(i int) *race.Passing {
	r := f.st.Results[i]
	if startSplit(r.Splits) < 0 || len(r.Filled) == 0 || r.Filled[0] >= 0 || !r.Gun.Known() {
		return nil
	}
	var last *race.Passing
	for n := range r.Passings {
		p := &r.Passings[n]
		if d := r.Gun.Sub(p.At); p.Line == r.Splits[0].Line && p.Split < 0 && p.Fate != race.Voided && d > 0 && d <= race.EarlyReach {
			last = p
		}
	}
	return last
}

// arrange takes the moves into the lists.
func (x *company) arrange(f *field, of *onCourse) {
	n := len(of.splits)
	if x.lists == nil {
		x.lists, x.pairs = make([][]arrival, n), make([]int, n)
		f.in.each(n, func(k int) {
			l := make([]arrival, 0, len(of.results))
			for _, i := range of.results {
				if at := f.cameTo(i, k); at.Known() {
					l = append(l, arrival{at, int32(i)})
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
	l = slices.DeleteFunc(l, func(a arrival) bool { return f.cameTo(int(a.result), k) != a.at })
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
		at[i] = f.cameTo(i, k)
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
		delete(x.near, pairOf(i, j))
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
		a, b := f.cameTo(i, k), f.cameTo(j, k)
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
		x.near = map[[2]int]bool{}
	}
	x.each(f, all, x.keepNear)
	if bar := x.barOf(); bar != x.bar {
		x.bar, all = bar, true
	}
	if all {
		x.said = map[[2]int]race.Suspect{}
	}
	x.each(f, all, func(f *field, i, j int) {
		p := [2]int{i, j}
		delete(x.said, p)
		if !x.near[p] {
			return
		}
		if s, ok := f.carried(i, j, noise, x.bar); ok {
			x.said[p] = s
		}
	})
	var found []race.Suspect
	for _, p := range slices.SortedFunc(maps.Keys(x.said), func(a, b [2]int) int { return cmp.Or(a[0]-b[0], a[1]-b[1]) }) {
		found = append(found, x.said[p])
	}
	return found
}

// each takes the pairs of whom anything is another, or all.
func (x *company) each(f *field, all bool, take func(f *field, i, j int)) {
	if !all {
		for _, i := range f.news.changed {
			for _, j := range x.with[i] {
				take(f, min(i, j), max(i, j))
			}
		}
		return
	}
	for i, with := range x.with {
		for _, j := range with {
			if i < j {
				take(f, i, j)
			}
		}
	}
}

// keepNear keeps a pair as long as both were at one of the least crowded splits: that at which they
// were found may no longer be one.
func (x *company) keepNear(f *field, i, j int) {
	p := [2]int{i, j}
	if delete(x.near, p); slices.ContainsFunc(x.few, func(k int) bool { return f.cameTo(i, k).Known() && f.cameTo(j, k).Known() }) {
		x.near[p] = true
	}
}

// barOf is how much likelier one body must be than two friends where so many pairs go together: of
// the many in bunches as many more agree by chance. In steps, so that one pair more mostly changes
// nothing.
func (x *company) barOf() float64 {
	most := 0
	for _, l := range x.lists {
		most = max(most, len(l))
	}
	usual := math.Max(1, togetherShare*float64(most))
	return carriedNats + math.Ln2*math.Max(0, math.Floor(math.Log2(float64(len(x.near))/usual)))
}
