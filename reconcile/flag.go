package reconcile

import (
	"twinmat/reconcile/course"
	"twinmat/reconcile/race"
)

// flag ends the races of a flagged course at each rider's next passing after the leader's
// finish. Who lay by the line is no leader, nor is, where others were read lap after lap, who was
// missed as often as not: one read at a tent would end everybody's race.
func (r *run) flag() {
	r.flags = make([]race.Instant, len(r.plan.Courses))
	for c := range r.plan.Courses {
		r.flags[c] = race.NoInstant
		if !r.plan.Courses[c].Flagged {
			continue
		}
		at, seen := race.NoInstant, false
		for i := range r.ents {
			e := &r.ents[i]
			if e.course != c || len(e.filled) == 0 {
				continue
			}
			if k := e.filled[len(e.filled)-1]; k >= 0 && e.ridden() {
				if now, most := e.passings[k].At, e.seenMostly(); !at.Known() || most && !seen || most == seen && now < at {
					at, seen = now, most
				}
			}
		}
		r.flags[c] = at
		if !at.Known() {
			continue
		}
		r.each(64, len(r.ents), func(i int) {
			if r.ents[i].course == c {
				r.assign(&r.ents[i], at)
			}
		})
	}
}

// ridden tells whether an entrant's laps are those of somebody who rode.
func (e *entrant) ridden() bool {
	var times []race.Instant
	for _, k := range e.filled {
		if k >= 0 {
			times = append(times, e.passings[k].At)
		}
	}
	return course.Ridden(times)
}

// seenMostly tells whether an entrant was read at most of their splits.
func (e *entrant) seenMostly() bool {
	n := 0
	for _, k := range e.filled {
		if k >= 0 {
			n++
		}
	}
	return 2*n > len(e.filled)
}
