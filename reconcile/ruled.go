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

// named notes which passings are at moments at which times were ruled for a split whose line is
// passed again: as near as the line's window, a passing is that split's. Of several rulings the
// last tells.
func (r *run) named(e *entrant, c *race.Course, room *candidates) {
	if len(e.extra.set) == 0 {
		return // nearly everybody
	}
	told := map[int]int{}
	for id, t := range e.extra.set {
		split := splitOf(c, id)
		if split < 0 {
			continue
		}
		line := c.Splits[min(split, len(c.Splits)-1)].Line
		nearest, off := -1, r.plan.Lines[line].Window
		for k := range room.ps {
			d := room.ps[k].At.Sub(t.At)
			if d = max(d, -d); room.ps[k].Line == line && d < off {
				nearest, off = k, d
			}
		}
		if nearest >= 0 && passedAgain(c, line) && t.Seq > told[nearest] {
			room.ps[nearest].As, told[nearest] = split+1, t.Seq
		}
	}
}

// splitOf is the place of a split among a course's, open laps written out; -1: there is none.
func splitOf(c *race.Course, id string) int {
	for i := range c.Splits {
		if c.Splits[i].ID == id {
			return i
		}
	}
	if last := len(c.Splits) - 1; c.Open && last >= 0 {
		if lap := c.Splits[last].LapOf(id); lap > c.Splits[last].Lap {
			return last + lap - c.Splits[last].Lap
		}
	}
	return -1
}

// passedAgain tells whether a course comes to a line more than once.
func passedAgain(c *race.Course, line int) bool {
	n := 0
	for i := range c.Splits {
		if c.Splits[i].Line == line {
			n++
		}
	}
	return n > 1 || n == 1 && c.Open
}
