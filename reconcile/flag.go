package reconcile

import (
	"math"

	"twinmat/reconcile/race"
	"twinmat/reconcile/robust"
)

// unevenLaps, in logs, lie half of the laps of a chip that is read by chance off their middle: a
// forgotten one beside the antenna. Those of a rider lie within a tenth.
const unevenLaps = 0.25

// flag ends the races of a flagged course at each rider's next passing after the leader's
// finish. Who lay by the line is no leader.
func (r *run) flag() {
	r.flags = make([]race.Instant, len(r.plan.Courses))
	for c := range r.plan.Courses {
		r.flags[c] = race.NoInstant
		if !r.plan.Courses[c].Flagged {
			continue
		}
		at := race.NoInstant
		for i := range r.ents {
			e := &r.ents[i]
			if e.course != c || len(e.filled) == 0 {
				continue
			}
			if k := e.filled[len(e.filled)-1]; k >= 0 && (!at.Known() || e.passings[k].At < at) && e.ridden() {
				at = e.passings[k].At
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
	var laps []float64
	for s := 1; s < len(e.filled); s++ {
		if a, b := e.filled[s-1], e.filled[s]; a >= 0 && b >= 0 && e.passings[b].At > e.passings[a].At {
			laps = append(laps, math.Log(float64(e.passings[b].At-e.passings[a].At)))
		}
	}
	if len(laps) == 0 {
		return true
	}
	_, spread := robust.Spread(laps)
	return spread <= unevenLaps*robust.PerMAD
}
