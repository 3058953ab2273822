package reconcile

import (
	"math"
	"slices"

	"twinmat/reconcile/course"
	"twinmat/reconcile/race"
)

// assign lets the course decide which passing fills which split. The next passing after the end of
// a flagged course ends a rider's race.
func (r *run) assign(e *entrant, end ending) {
	level := e.level // by the assignment before this one, if there was one
	e.splits, e.filled, e.level, e.disorder, e.searched, e.chipsGo = nil, nil, unknown, false, false, course.OneChip
	if e.course < 0 {
		return
	}
	c := &r.plan.Courses[e.course]
	room, _ := r.candidates.Get().(*candidates)
	if room == nil {
		room = &candidates{}
	}
	defer r.candidates.Put(room)
	r.mayFill(e, c, room)
	about := r.anchor(e, end)
	about.Lap = r.field[e.course].LapOf(c, level)
	a := course.Assign(c, room.ps, about, &r.field[e.course])
	e.splits, e.level, e.disorder, e.searched = a.Splits, a.Level, a.OutOfOrder, a.Searched
	if e.splits == nil {
		e.splits = c.Splits
	}
	e.filled = make([]int, len(e.splits))
	for i := range e.filled {
		e.filled[i] = -1
	}
	for k, i := range room.index {
		p := &e.passings[i]
		p.Split, p.Fate, p.Doubtful = a.Split[k], a.Fate[k], a.Doubtful[k]
		if p.Split >= 0 {
			e.filled[p.Split] = i
		}
	}
}

// mayFill gathers the passings that may fill a split, as the assignment needs them.
func (r *run) mayFill(e *entrant, c *race.Course, room *candidates) {
	ofLaps := slices.ContainsFunc(c.Splits, func(s race.Split) bool { return s.Lap > 0 })
	room.ps, room.index = room.ps[:0], room.index[:0]
	worn := r.wornAt(e)
	e.chipsGo = chipsOf(worn)
	for i := range e.passings {
		p := &e.passings[i]
		if p.Fate == race.Voided && p.Ruling > 0 {
			continue
		}
		q := course.Passing{Line: p.Line, At: p.At, Side: race.NoMillis}
		if worn != nil {
			q.Worn, q.Waits = worn[i], waits(e.passings, worn, i)
		}
		if r.bothWays[e.course] {
			q.Side = r.side(p)
		}
		if ofLaps {
			q.Other = worn != nil && otherChip(e.passings, worn, i)
			q.Before, q.After = r.reach(p)
		}
		for s := race.Systems - 1; s >= 0; s-- {
			b := p.Bursts[s]
			if b == nil {
				continue
			}
			q.Best = race.System(s)
			if r.placed(b) { // else it may be hours off, and tells little
				q.Systems++
				q.Full = math.Max(q.Full, r.full(b))
			}
		}
		q.Heard, _, _ = r.heardBy(p)
		q.Keyed = q.Best == race.Hand && p.Bursts[race.Hand] != nil && p.Bursts[race.Hand].Witness == 0
		room.ps, room.index = append(room.ps, q), append(room.index, i)
	}
	if ofLaps {
		course.HeardEvenly(c, room.ps)
	}
	r.named(e, c, room)
}

// started is the passing that is the start of laps without a split for it, -1: none is.
func (o *outcome) started() int {
	for k := range o.passings {
		if o.passings[k].Fate == race.Started {
			return k
		}
	}
	return -1
}

// reach is how long before its time a passing was first read, by any system whose clock is
// known at least roughly, and how long after it was still read.
func (r *run) reach(p *race.Passing) (before, after race.Millis) {
	keep := r.plan.Lines[p.Line].Keep
	for s, b := range p.Bursts {
		if b == nil || !r.placed(b) {
			continue
		}
		kept := b.Time(keep)
		before = max(before, p.At.Sub(p.Seen[s])+kept.Sub(b.First))
		after = max(after, p.Seen[s].Sub(p.At)+b.Last().Sub(kept))
	}
	return before, after
}

// otherChip tells whether a passing was read of a chip that the one before it at its line was not
// of: of several, one may lie there while another is away.
func otherChip(ps []race.Passing, worn []uint32, i int) bool {
	for k := i - 1; k >= 0; k-- {
		if ps[k].Line == ps[i].Line {
			return worn[i]&^worn[k] != 0
		}
	}
	return false
}

// side is by how much backup told a passing later than main, as well as the clocks were known at first;
// NoMillis where not both read it, or a clock that was set told it: the vote tells by how much to a second or so.
func (r *run) side(p *race.Passing) race.Millis {
	m, b := p.Bursts[race.Main], p.Bursts[race.Backup]
	if m == nil || b == nil || m.Source < 0 || b.Source < 0 || !r.src[m.Source].ref || !r.src[b.Source].known || r.src[b.Source].turns() {
		return race.NoMillis
	}
	keep := r.plan.Lines[p.Line].Keep
	at, _ := r.src[m.Source].onRace(m.Time(keep))
	return b.Time(keep).Add(-r.src[b.Source].rough).Sub(at)
}

// candidates is room for the passings of one bib that may fill splits, and where they stand
// among its passings; it is used again for the next bib.
type candidates struct {
	ps    []course.Passing
	index []int
}

// placed tells whether the clock that told a burst's time is known at least roughly.
func (r *run) placed(b *race.Burst) bool {
	return b.Source < 0 || r.src[b.Source].ref || r.src[b.Source].known
}

// full is how full a burst is against what is usual in its log, 0 to 1; before that is known
// a dozen reads are.
func (r *run) full(b *race.Burst) float64 {
	usual := 12.0
	if b.Source < 0 {
		return 1
	}
	if u := r.src[b.Source].burst; u > 0 {
		usual = 0.6 * u
	}
	return math.Min(1, float64(b.Count)/usual)
}

func (r *run) anchor(e *entrant, end ending) course.Anchor {
	c := &r.plan.Courses[e.course]
	a := course.Anchor{Bib: e.athlete.Bib, Gun: e.gun, Early: 2000, Until: race.NoInstant, FlagAt: end.at, NotIn: end.notIn, Resolution: r.plan.Resolution, MaxSpeed: r.plan.MaxSpeed}
	if w := e.athlete.Wave; w >= 0 {
		a.Early = r.plan.Waves[w].Early
	}
	if c.TimeLimit > 0 && e.gun.Known() {
		a.Until = e.gun.Add(c.TimeLimit)
	}
	a.Windows = r.windows
	return a
}

// heardBy is how faintly main or backup heard a passing, whichever heard it better, and how the other
// did if both read it.
func (r *run) heardBy(p *race.Passing) (best, worse course.Heard, both bool) {
	window := r.plan.Lines[p.Line].Window
	by := func(b *race.Burst) course.Heard { return course.HeardOf(int(b.Count), b.Last().Sub(b.First), window) }
	switch m, b := p.Bursts[race.Main], p.Bursts[race.Backup]; {
	case m != nil && b != nil:
		x, y := by(m), by(b)
		return min(x, y), max(x, y), true
	case m != nil:
		return by(m), 0, false
	case b != nil:
		return by(b), 0, false
	}
	return 0, 0, false
}
