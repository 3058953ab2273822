package suspect

import (
	"math"
	"slices"

	"twinmat/reconcile/race"
)

// Memory is what one search for suspects leaves for the next of a race that grows: what the
// field's results told, so that only those that changed are read again. The zero Memory is
// ready.
type Memory struct {
	field *field
	list  worklist
}

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
	f.news = news{changed: in.Changed, asked: make([]bool, len(f.courses)), relearnt: make([]bool, len(f.courses)), went: make([]bool, len(f.waves))}
	f.readChanged()
	f.learnChanged()
	return true
}

// readChanged reads the results that changed again, and tells what of them is another.
func (f *field) readChanged() {
	var was []race.Instant
	for _, i := range f.news.changed {
		r, delay := f.st.Results[i], f.delays[i]
		if was = append(was[:0], f.times[i]...); len(was) > 0 {
			was[0] = f.cameTo(i, 0)
		}
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
			f.news.went[r.Wave] = true
		}
		if r.Course >= 0 {
			f.courses[r.Course].company.changed(f, i, was)
		}
		if r.Course >= 0 && f.in.tells(i) {
			f.news.asked[r.Course] = true
			f.courses[r.Course].waits.inOrder.changed(i, len(f.st.Results))
		}
	}
}

// learnChanged learns from them what their courses and waves teach, and what of that
// concerns them alone.
func (f *field) learnChanged() {
	for c := range f.courses {
		if f.news.relearnt[c] = f.news.asked[c] && f.teach(&f.courses[c]); f.news.relearnt[c] {
			f.polish(&f.courses[c])
		}
	}
	for _, i := range f.news.moved {
		if c := f.st.Results[i].Course; c >= 0 && !f.news.relearnt[c] {
			x := &f.courses[c]
			f.level[i], _ = x.level(f.paces[i], nil)
			x.offStale = append(x.offStale, i)
		}
	}
	for w := range f.waves {
		if f.news.went[w] {
			f.start(w)
		}
	}
	f.news.over = f.startsOver()
	if slices.Contains(f.news.relearnt, true) || slices.Contains(f.news.went, true) {
		clear(f.stories)
		clear(f.settledIn)
	}
}
