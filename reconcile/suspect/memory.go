package suspect

import (
	"math"
	"slices"

	"twinmat/reconcile/race"
)

// Memory is what one search for suspects leaves for the next of a race that grows: what the
// field's results told, so that only those that changed are read again. The zero Memory is
// ready.
type Memory struct{ field *field }

// fieldOf is the field of an input, made anew or from what is remembered.
func fieldOf(in *Input) *field {
	m := in.Memory
	if m == nil {
		return newField(in)
	}
	if !in.Same || m.field == nil || !m.field.renew(in) {
		m.field = newField(in)
	}
	return m.field
}

// renew reads the results that changed; false where that isn't enough.
func (f *field) renew(in *Input) bool {
	if !f.searched {
		return false // kinds keep what they found, and haven't seen what was read since
	}
	f.searched = false
	for _, i := range in.Changed {
		if len(in.State.Results[i].Filled) != len(f.times[i]) {
			return false
		}
	}
	f.in, f.st, f.plan = in, in.State, in.State.Plan
	if !in.Grown {
		f.chips, f.quiet, f.kin = nil, nil, nil
	}
	f.begin()
	anew, late := make([]bool, len(f.courses)), make([]bool, len(f.waves))
	f.news = news{changed: in.Changed, relearnt: anew, went: late}
	var was []race.Instant
	for _, i := range in.Changed {
		r, delay := f.st.Results[i], f.delays[i]
		was = append(was[:0], f.times[i]...)
		if pen := penOf(r); pen != f.pen[i] {
			f.pen[i] = pen
			f.there.changed(i, len(f.st.Results))
		}
		if !f.readAgain(i) {
			continue
		}
		f.news.moved = append(f.news.moved, i)
		f.forgetStories(i)
		f.there.changed(i, len(f.st.Results))
		if r.Wave >= 0 && delay != f.delays[i] && !(math.IsNaN(delay) && math.IsNaN(f.delays[i])) {
			late[r.Wave] = true
		}
		if r.Course >= 0 {
			f.courses[r.Course].company.changed(i, was, f.times[i])
		}
		if r.Course >= 0 && in.tells(i) {
			anew[r.Course] = true
			f.courses[r.Course].waits.inOrder.changed(i, len(f.st.Results))
		}
	}
	for c := range f.courses {
		if anew[c] {
			f.polish(&f.courses[c])
		}
	}
	for _, i := range f.news.moved {
		if c := f.st.Results[i].Course; c >= 0 && !anew[c] {
			x := &f.courses[c]
			f.levelOf(x, i, nil)
			x.offStale = append(x.offStale, i)
		}
	}
	for w := range f.waves {
		if late[w] {
			f.start(w)
		}
	}
	f.news.over = f.startsOver()
	if slices.Contains(anew, true) || slices.Contains(late, true) {
		clear(f.stories)
		clear(f.settledIn)
	}
	return true
}
