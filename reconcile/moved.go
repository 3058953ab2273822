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
		if !r.movedOn(c) {
			continue
		}
		f := course.Learn(&r.plan.Courses[c], r.runs(c, r.atMoved))
		anew[c] = &f
	}
	r.field = slices.Clone(taught)
	for c, f := range anew {
		if f != nil {
			r.field[c] = *f
		}
		if r.mem == nil {
			continue
		}
		if p := &r.mem.fields[c]; !reflect.DeepEqual(p.moved, f) {
			p.moved, p.at = f, r.turn
		}
	}
}

// movedOn tells whether a ruling moves main's times at a line of a course.
func (r *run) movedOn(c int) bool {
	return slices.ContainsFunc(r.plan.Courses[c].Splits, func(s race.Split) bool { return len(r.lineMoved[s.Line]) > 0 })
}

// atMoved is an entrant assigned on the times that the rulings make of main's.
func (r *run) atMoved(e *entrant) *entrant {
	x := *r.atFirst(e)
	if r.rejoins(&x) {
		r.fold(&x)
	} else {
		x.passings = slices.Clone(x.passings)
	}
	r.refresh(x.passings)
	r.assign(&x, race.NoInstant)
	return &x
}
