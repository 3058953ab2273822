package reconcile

import (
	"reflect"
	"slices"
)

// Where rulings stand the race is worked out without them too, beside the race with them. Most
// athletes are those of no ruling: what their reads come to is one and the same, and is worked
// out, and held in memory, once.

// beside is the race with its rulings, as its last turn left it, for the race without them.
type beside struct {
	mem         *memory
	rough, fine []bool // per source: its clock is the same here
	field       []bool // per course: what it teaches is
}

// roughBeside notes which logs' rough clocks are those of the race beside.
func (r *run) roughBeside() {
	if r.beside == nil {
		return
	}
	r.beside.rough = make([]bool, len(r.src))
	for s := range r.src {
		r.beside.rough[s] = reflect.DeepEqual(r.mem.sources[s].rough, r.beside.mem.sources[s].rough)
	}
}

// fineBeside notes which logs' fine clocks, and which courses' fields, are those of the race
// beside.
func (r *run) fineBeside() {
	if r.beside == nil {
		return
	}
	b := r.beside
	b.fine, b.field = make([]bool, len(r.src)), make([]bool, len(r.field))
	for s := range r.src {
		x, y := &r.mem.sources[s].fine, &b.mem.sources[s].fine
		b.fine[s] = b.rough[s] && x.model.Equal(y.model) && x.far == y.far && x.burst == y.burst && slices.Equal(x.moved, y.moved)
	}
	for c := range r.field {
		b.field[c] = !r.plan.Courses[c].Flagged && reflect.DeepEqual(r.field[c], b.mem.fields[c].field)
	}
}

// firstBeside takes a bib's first outcome from the race beside, where it is the same there.
func (r *run) firstBeside(e *entrant) bool {
	q := r.whoBeside(e)
	if q == nil || !q.restsOn(e) || slices.ContainsFunc(e.recs, func(x rec) bool { return !r.beside.rough[x.source] }) {
		return false
	}
	e.outcome = q.first
	return true
}

// lastBeside is firstBeside for the last outcome.
func (r *run) lastBeside(e *entrant) bool {
	q := r.whoBeside(e)
	if q == nil || !q.restsOn(e) || e.course >= 0 && !r.beside.field[e.course] ||
		slices.ContainsFunc(e.recs, func(x rec) bool { return !r.beside.fine[x.source] }) {
		return false
	}
	e.outcome, e.tally, e.timed = q.last, q.tally, true
	return true
}

// whoBeside is what the race beside remembers of a bib, nil: nothing.
func (r *run) whoBeside(e *entrant) *past {
	if r.beside == nil {
		return nil
	}
	if q := r.beside.mem.bibs[e.athlete.Bib]; q != nil && q.firstAt > 0 {
		return q
	}
	return nil
}

// restsOn tells whether what is remembered of a bib rests on the same as this.
func (p *past) restsOn(e *entrant) bool {
	return p.athlete == e.athlete && p.course == e.course && p.gun == e.gun && sameRecs(p.recs, e.recs) && p.extra.equal(&e.extra)
}

// besideSource is a log in the race beside, nil: there is none.
func (r *run) besideSource(s int) *pastSource {
	if r.beside == nil {
		return nil
	}
	return &r.beside.mem.sources[s]
}
