package suspect

import (
	"slices"

	"twinmat/reconcile/race"
)

// leaving is when the athletes of each wave left its start line, kept from search to search.
type leaving struct {
	each []race.Instant   // per result, as leftStart has it; NoInstant: they weren't read there
	of   [][]race.Instant // per wave, in order; nil: not gathered yet
}

// startOf is the line that a wave starts over, -1: none.
func (f *field) startOf(w int) int {
	splits := f.plan.Courses[f.plan.Waves[w].Course].Splits
	if startSplit(splits) < 0 {
		return -1
	}
	return splits[0].Line
}

// leavings are each wave's, in order.
func (f *field) leavings() [][]race.Instant {
	x := &f.leaving
	if x.of != nil {
		for _, i := range f.news.moved {
			f.leavesAgain(i)
		}
		return x.of
	}
	x.each, x.of = slices.Repeat([]race.Instant{race.NoInstant}, len(f.st.Results)), make([][]race.Instant, len(f.plan.Waves))
	for w := range f.waves {
		line := f.startOf(w)
		if line < 0 {
			continue
		}
		for _, i := range f.waves[w].results {
			if x.each[i] = f.leftStart(i, line); x.each[i].Known() {
				x.of[w] = append(x.of[w], x.each[i])
			}
		}
		slices.Sort(x.of[w])
	}
	return x.of
}

// leavesAgain puts one athlete where they belong, if they left at another time.
func (f *field) leavesAgain(i int) {
	w := int(f.wave[i])
	if w < 0 || f.startOf(w) < 0 {
		return
	}
	x := &f.leaving
	t, was := f.leftStart(i, f.startOf(w)), x.each[i]
	if t == was {
		return
	}
	if was.Known() {
		at, _ := slices.BinarySearch(x.of[w], was)
		x.of[w] = slices.Delete(x.of[w], at, at+1)
	}
	if t.Known() {
		at, _ := slices.BinarySearch(x.of[w], t)
		x.of[w] = slices.Insert(x.of[w], at, t)
	}
	x.each[i] = t
}

// gunTold is what was told of a wave's gun, and upon what besides its athletes.
type gunTold struct {
	usual float64
	found []race.Suspect // of a gun in doubt; nil: it isn't
}

// touched tells of which waves anything of anybody is another.
func (f *field) touched() []bool {
	touched := slices.Repeat([]bool{f.news.all}, len(f.plan.Waves))
	for _, i := range f.news.changed {
		if w := f.st.Results[i].Wave; w >= 0 {
			touched[w] = true
		}
	}
	return touched
}
