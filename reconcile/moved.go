package reconcile

import (
	"reflect"
	"slices"

	"twinmat/reconcile/course"
	"twinmat/reconcile/race"
)

// learnMoved lets the fields of those courses teach anew whose line's main a ruling moves: what the first
// assignment taught, it taught of times that the step was in. A lap was longer by it for everybody,
// and so long nobody's is.
func (r *run) learnMoved() {
	taught := r.field
	r.field = make([]course.Field, len(taught)) // nothing is known, as at first
	anew := make([]*course.Field, len(taught))
	for c := range taught {
		if r.movedOn(c) {
			anew[c] = r.taughtMoved(c)
		}
	}
	r.field = slices.Clone(taught)
	for c, f := range anew {
		if f != nil {
			r.field[c] = *f
		}
		if r.mem == nil {
			continue
		}
		if p := &r.mem.fields[c]; p.moved != f && !reflect.DeepEqual(p.moved, f) {
			p.moved, p.at = f, r.turn
		}
	}
}

// movedOn tells whether a ruling moves main's times at a line of a course.
func (r *run) movedOn(c int) bool {
	return slices.ContainsFunc(r.plan.Courses[c].Splits, func(s race.Split) bool { return len(r.lineMoved[s.Line]) > 0 })
}

// taughtMoved is what course c's athletes teach of the times that come out: what they taught in the turn
// before, while only what came was dealt and none of them is another by it.
func (r *run) taughtMoved(c int) *course.Field {
	of := r.tellers[c]
	var stale []int
	for _, i := range of {
		if !r.movedStands(&r.ents[i]) {
			stale = append(stale, i)
		}
	}
	if r.mem != nil {
		p := &r.mem.fields[c]
		if r.again && p.moved != nil && len(stale) == 0 && p.movedOf == r.classes[c] {
			return p.moved
		}
		p.movedOf = r.classes[c]
		r.each(64, len(stale), func(k int) { r.moveMade(&r.ents[stale[k]]) })
	}
	runs, _ := r.runs(c, r.waitingFrom(c), r.atMoved)
	f := course.Learn(&r.plan.Courses[c], runs)
	return &f
}

// movedStands tells whether a bib's outcome on the times that come out is that of an earlier turn.
func (r *run) movedStands(e *entrant) bool {
	p := e.past
	return p != nil && p.movedAt > 0 && p.movedAt >= p.firstAt && !r.clocksMoved(e, p.movedAt)
}

// clocksMoved tells whether a clock that read a bib became another since a turn.
func (r *run) clocksMoved(e *entrant, since int) bool {
	return slices.ContainsFunc(e.recs, func(x rec) bool {
		s := &r.mem.sources[x.source]
		return max(s.roughAt, s.fineAt, s.modelAt) > since
	})
}

// moveMade remembers a bib's outcome on the times that come out.
func (r *run) moveMade(e *entrant) {
	if p := e.past; p != nil {
		p.moved, p.movedAt = r.onMoved(e).outcome, r.turn
	}
}

// atMoved is an entrant assigned on the times that the rulings make of main's.
func (r *run) atMoved(e *entrant) *entrant {
	if e.past == nil {
		return r.onMoved(e)
	}
	x := *e
	x.outcome = e.past.moved
	return &x
}

// onMoved assigns an entrant on them.
func (r *run) onMoved(e *entrant) *entrant {
	x := *r.atFirst(e)
	r.refold(&x, slices.Clone(x.passings))
	r.assign(&x, noEnding)
	return &x
}
