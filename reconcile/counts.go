package reconcile

import (
	"slices"

	"twinmat/reconcile/race"
)

// counts are what all entrants' passings come to, in rows that are soon gone through. Only
// those of whoever's outcome was touched are counted again.
type counts struct {
	last       []race.Instant // per entrant: the end of the latest burst in a log, NoInstant: none
	reads      []int          // per entrant: in bursts
	inPassings int            // of all of them
	disordered marks          // whose passings no order of the course gives
	several    marks          // who has several tags that were read
	ruled      marks          // on whose passings there are rulings
}

// countAll counts what the passings of each entrant come to.
func (r *run) countAll() {
	var x *counts
	if r.mem != nil {
		x = r.mem.counts
	}
	switch {
	case x == nil || len(x.last) != len(r.ents) || !r.onlyFresh():
		n := len(r.ents)
		x = &counts{last: make([]race.Instant, n), reads: make([]int, n)}
		for _, m := range []*marks{&x.disordered, &x.several, &x.ruled} {
			m.has = make([]bool, n)
		}
		for i := range r.ents {
			x.count(i, &r.ents[i])
		}
	default:
		for _, i := range r.fresh {
			x.count(i, &r.ents[i])
		}
	}
	if r.who = x; r.mem != nil {
		r.mem.counts = x
	}
}

// count takes what one entrant's passings come to now.
func (x *counts) count(i int, e *entrant) {
	x.inPassings += e.tally.reads - x.reads[i]
	x.last[i], x.reads[i] = e.tally.last, e.tally.reads
	x.disordered.set(i, e.disorder)
	x.several.set(i, len(e.tags) > 1)
	x.ruled.set(i, !e.extra.none())
}

// marks are the entrants of whom something holds.
type marks struct {
	has  []bool // per entrant
	some []int  // those of whom it does, in order
}

func (m *marks) set(i int, holds bool) {
	if m.has[i] == holds {
		return
	}
	m.has[i] = holds
	if at, there := slices.BinarySearch(m.some, i); there {
		m.some = slices.Delete(m.some, at, at+1)
	} else {
		m.some = slices.Insert(m.some, at, i)
	}
}

// lastIn are how many entrants were last read in a minute, when the last of them was, and who.
func (x *counts) lastIn(minute int64) (n int, last race.Instant, who int) {
	from, to := race.Instant(minute*60000), race.Instant((minute+1)*60000)
	last = race.NoInstant
	for i, at := range x.last {
		if at >= from && at < to {
			if n++; at > last {
				last, who = at, i
			}
		}
	}
	return n, last, who
}

// guns are when athletes' races began.
type guns struct {
	of   [][]race.Instant // per course: each gun that is somebody's, once, in order
	wait []bool           // per course: somebody's hasn't fired yet
}

// findGuns gathers the guns; they are those of the turn before where the same people have them.
func (r *run) findGuns() {
	if r.again && len(r.concerned) == 0 && r.mem.guns != nil {
		r.guns = r.mem.guns
		return
	}
	x := &guns{of: make([][]race.Instant, len(r.plan.Courses)), wait: make([]bool, len(r.plan.Courses))}
	for i := range r.ents {
		e := &r.ents[i]
		switch {
		case e.course < 0:
		case !e.gun.Known():
			x.wait[e.course] = x.wait[e.course] || e.athlete.Status == ""
		default:
			if at, there := slices.BinarySearch(x.of[e.course], e.gun); !there {
				x.of[e.course] = slices.Insert(x.of[e.course], at, e.gun)
			}
		}
	}
	if r.guns = x; r.mem != nil {
		r.mem.guns = x
	}
}

// between tells whether a gun of a course lies between two moments, in whichever order: a
// race that ends so long after the gun is over at one of them and not at the other.
func (x *guns) between(course int, a, b race.Instant) bool {
	return slices.ContainsFunc(x.of[course], func(g race.Instant) bool { return (a >= g) != (b >= g) })
}
