package reconcile

import (
	"slices"

	"twinmat/reconcile/race"
)

// retimed takes a bib's last outcome with what clocks that moved since make of the other
// systems' times: where main, which no such clock touches, saw those passings, nothing else
// hangs on them. False where something may.
func (r *run) retimed(e *entrant) bool {
	p := e.past
	if !e.extra.none() || len(r.lineMoved) > 0 || r.rejoins(e) {
		return false
	}
	first := e.outcome
	e.outcome, e.stands = p.last, true
	for k := range e.passings {
		for sys, b := range e.passings[k].Bursts {
			if b == nil || b.Source < 0 || r.mem.sources[b.Source].modelAt <= p.lastAt {
				continue
			}
			at, pm, why, ok := r.timeBeside(e, k, b)
			if !ok {
				e.outcome, e.stands = first, false
				return false
			}
			q := &e.passings[k]
			if at == q.Seen[sys] && pm == q.PM[sys] && why == q.Unsure(race.System(sys)) {
				continue
			}
			if e.stands { // the last ones stay as they are
				e.passings, e.stands = slices.Clone(e.passings), false
				q = &e.passings[k]
			}
			q.Seen[sys], q.PM[sys] = at, pm
			q.SetUnsure(race.System(sys), why)
		}
	}
	r.count(e)
	r.lastMade(e)
	return true
}

// timeBeside is what a burst that is not main's says of a passing that main saw too; not ok
// where the time of the passing itself, or of one that tells the speed, may have moved.
func (r *run) timeBeside(e *entrant, k int, b *race.Burst) (at race.Instant, pm race.Millis, why string, ok bool) {
	p := &e.passings[k]
	m := p.Bursts[race.Main]
	if m == b || !r.byMain(e, k) {
		return 0, 0, "", false
	}
	u, g := unknown, 0
	if p.Split >= 0 {
		if next := e.neighbour(p.Split); next > p.Split && !r.byMain(e, e.filled[next]) {
			return 0, 0, "", false
		}
		u, g = r.slowness(e, p.Split), r.group(e, p.Split)
	}
	was, _ := r.src[m.Source].onRace(m.Time(r.plan.Lines[p.Line].Keep))
	at, pm, why = r.timeOf(e, p, b, r.keep(e, p), was, u, g)
	return at, pm, why, true
}

// byMain tells whether a passing's time is the reference's own, kept as its line keeps it.
func (r *run) byMain(e *entrant, k int) bool {
	p := &e.passings[k]
	m := p.Bursts[race.Main]
	return m != nil && m.Source >= 0 && r.src[m.Source].ref && r.keep(e, p) == r.plan.Lines[p.Line].Keep
}
