package suspect

import (
	"maps"
	"slices"

	"twinmat/reconcile/race"
)

// found is what a kind found in the search before, result by result.
type found struct{ of map[int][]race.Suspect }

// again has find look at some results, and takes what it found of all others in the search
// before; whole: at all of them, as when something is another on which all rest.
func (x *found) again(f *field, whole bool, some []int, find func(i int, add func(race.Suspect))) []race.Suspect {
	var s []race.Suspect
	add := func(y race.Suspect) { s = append(s, y) }
	look := func(i int) {
		if s = nil; x.of[i] != nil {
			delete(x.of, i)
		}
		if find(i, add); s != nil {
			x.of[i] = s
		}
	}
	if x.of == nil || whole {
		x.of = map[int][]race.Suspect{}
		for i := range f.st.Results {
			look(i)
		}
	} else {
		for _, i := range some {
			look(i)
		}
	}
	var all []race.Suspect
	for _, i := range slices.Sorted(maps.Keys(x.of)) {
		all = append(all, x.of[i]...)
	}
	return all
}

// equal tells whether two words say the same.
func (w *word) equal(v *word) bool {
	return maps.Equal(w.lineOff, v.lineOff) && maps.Equal(w.moved, v.moved) && maps.Equal(w.unequal, v.unequal) && slices.Equal(w.stepped, v.stepped) &&
		slices.Equal(w.doubtful, v.doubtful) && w.others == v.others && slices.Equal(w.otherCourse, v.otherCourse) && maps.Equal(w.exchanged, v.exchanged) &&
		maps.Equal(w.disordered, v.disordered) && maps.Equal(w.flew, v.flew)
}
