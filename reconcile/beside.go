package reconcile

import (
	"reflect"
	"slices"

	"twinmat/reconcile/race"
)

// Where rulings stand the race is worked out without them too, beside the race with them, to
// list as settled what only they made go away. Most athletes are those of no ruling: what their
// reads come to is one and the same, and is worked out, and held in memory, once.

// suspectsWithout are the suspects of the race without its rulings.
func suspectsWithout(in Input, m, ruled *memory, enough int) []race.Suspect {
	in.Rulings = nil
	if m != nil && m.turn > 0 && m.in.same(&in) {
		return m.found
	}
	_, st := compute(in, m, ruled, enough)
	if m != nil {
		m.found = st.Suspects
	}
	return st.Suspects
}

// same tells whether two inputs without rulings are one.
func (a *Input) same(b *Input) bool {
	return a.Plan == b.Plan && sameSlice(a.Athletes, b.Athletes) && sameSlice(a.Chips, b.Chips) && a.ZerosDropped == b.ZerosDropped && slices.Equal(a.Reads, b.Reads)
}

// changes tells whether a ruling stands and may make suspects go away; an accept only
// settles them.
func (r *run) changes(x *race.Ruling) bool {
	_, undone := r.fx.Undone[x.Seq]
	return !undone && x.Rule != race.Accept && x.Rule != race.Undo
}

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
		b.field[c] = !r.plan.Courses[c].Flagged && reflect.DeepEqual(r.field[c], b.mem.fields[c].last())
	}
}

// firstBeside takes a bib's first outcome from the race beside, where it is the same there.
func (r *run) firstBeside(e *entrant) bool {
	q := r.whoBeside(e)
	if q == nil || !r.restsOn(q, r.beside.mem.in.Reads, e) || slices.ContainsFunc(e.recs, func(x rec) bool { return !r.beside.rough[x.source] }) {
		return false
	}
	e.outcome = q.first
	return true
}

// lastBeside is firstBeside for the last outcome.
func (r *run) lastBeside(e *entrant) bool {
	q := r.whoBeside(e)
	if q == nil || !r.restsOn(q, r.beside.mem.in.Reads, e) || e.course >= 0 && !r.beside.field[e.course] ||
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

// besideSource is a log in the race beside, nil: there is none.
func (r *run) besideSource(s int) *pastSource {
	if r.beside == nil {
		return nil
	}
	return &r.beside.mem.sources[s]
}

// settled lists, as settled, the suspects that only the rulings made go away: what was found
// and what was decided about it stay on one list.
func (r *run) settled(st *race.State, before []race.Suspect) {
	there := make(map[string]bool, len(st.Suspects))
	for i := range st.Suspects {
		there[st.Suspects[i].ID] = true
	}
	for _, s := range before {
		if there[s.ID] {
			continue
		}
		s = s.Own()
		s.Settled, s.SettledBy, s.Holds = true, r.settledBy(&s), nil
		st.Suspects = append(st.Suspects, s)
	}
}

// settledBy is the latest standing ruling that names whom or which chip a suspect is about, else the
// latest that speaks of its line as a whole; 0 if none does.
func (r *run) settledBy(s *race.Suspect) int {
	ofLine := 0
	for i := len(r.in.Rulings) - 1; i >= 0; i-- {
		x := &r.in.Rulings[i]
		if _, undone := r.fx.Undone[x.Seq]; undone {
			continue
		}
		switch {
		case x.Bib != "" && slices.Contains(s.Bibs, x.Bib), x.With != "" && slices.Contains(s.Bibs, x.With),
			s.Tag != "" && (race.CanonicalTag(x.Tag) == s.Tag || slices.ContainsFunc(x.Tags, func(t string) bool { return race.CanonicalTag(t) == s.Tag })),
			s.Kind == race.DoubtfulGun && x.Wave != "" && s.ID == race.DoubtfulGun+":"+x.Wave:
			return x.Seq
		case ofLine == 0 && len(s.Bibs) == 0 && x.Bib == "" && x.Line != "" && x.Line == s.Line:
			ofLine = x.Seq
		}
	}
	return ofLine
}
