package reconcile

import (
	"slices"

	"twinmat/reconcile/race"
)

// ruled lays the rulings on times over what the systems say.
func (r *run) ruled(e *entrant) {
	r.openUp(e)
	for s := range e.splits {
		id := e.splits[s].ID
		if u, ok := e.extra.use[id]; ok {
			r.useSystem(e, s, u.System, u.Seq)
		}
		if t, ok := e.extra.set[id]; ok {
			r.setTime(e, s, t.At, t.PlusMinus, t.Seq)
		}
	}
}

// openUp writes an open course's laps out as far as times are ruled for them: a lap that no
// system saw may be the last.
func (r *run) openUp(e *entrant) {
	if e.course < 0 || !r.plan.Courses[e.course].Open || len(e.extra.set) == 0 || len(e.splits) == 0 {
		return
	}
	course, last := &r.plan.Courses[e.course], &e.splits[len(e.splits)-1]
	most := 0
	for id := range e.extra.set {
		most = max(most, last.LapOf(id))
	}
	e.splits = slices.Clip(e.splits) // they may be the course's own
	for n := last.Lap + 1; n <= min(most, last.Lap+maxRuledLaps); n++ {
		e.splits, e.filled = append(e.splits, course.Lap(last, n)), append(e.filled, -1)
	}
}

// maxRuledLaps beyond the last one seen are a slip of the keys.
const maxRuledLaps = 100

func (r *run) useSystem(e *entrant, s int, system race.System, seq int) {
	k := e.filled[s]
	if k < 0 || e.passings[k].Bursts[system] == nil {
		q := race.Lent(e.passings, e.splits, e.filled, s, system)
		switch {
		case q < 0:
			return
		case k < 0:
			k = q
			e.filled[s], e.passings[k].Split, e.passings[k].Fate = k, s, race.InSplit
			r.time(e, &e.passings[k])
		default:
			k = r.lend(e, k, q, system)
		}
	}
	p := &e.passings[k]
	p.At, p.From, p.PlusMinus, p.Ruling = p.Seen[system], race.FromSystem(system), p.PM[system], seq
}

// lend moves a system's burst from a passing that fills no split to the one that does, and
// drops the first if nothing is left of it; the second's index then.
func (r *run) lend(e *entrant, to, from int, system race.System) int {
	p, q := &e.passings[to], &e.passings[from]
	p.Bursts[system], q.Bursts[system] = q.Bursts[system], nil
	q.Seen[system], q.PM[system] = race.NoInstant, race.NoMillis
	q.SetUnsure(system, "")
	r.time(e, p)
	if q.Bursts != [race.Systems]*race.Burst{} {
		r.time(e, q)
		return to
	}
	e.passings = slices.Delete(e.passings, from, from+1)
	for i, k := range e.filled {
		if k > from {
			e.filled[i] = k - 1
		}
	}
	if to > from {
		to--
	}
	return to
}

func (r *run) setTime(e *entrant, s int, at race.Instant, pm race.Millis, seq int) {
	k := e.filled[s]
	if k < 0 {
		p := race.Passing{Line: e.splits[s].Line, Split: s}
		for i := range p.Seen {
			p.Seen[i], p.PM[i] = race.NoInstant, race.NoMillis
		}
		e.passings = append(e.passings, p)
		k = len(e.passings) - 1
		e.filled[s] = k
	}
	p := &e.passings[k]
	p.At, p.From, p.PlusMinus, p.Ruling = at, race.FromRuling, pm, seq
}
