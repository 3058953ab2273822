package reconcile

import (
	"math"

	"twinmat/reconcile/race"
)

// sideOf is when somebody passed whom main missed while a clock was set: of the moments that a log
// may mean then, the one that the rest of their race has them there at. Not ok where the clock means
// but one, or main didn't see them before and after.
func (r *run) sideOf(e *entrant, p *race.Passing, b *race.Burst, keep race.Keep) (race.Instant, bool) {
	if p.Split < 0 || p.Bursts[race.Main] != nil || b.Source < 0 {
		return 0, false
	}
	x := &r.src[b.Source]
	if x.ref || x.model == nil || !x.model.Stepped() {
		return 0, false
	}
	sides := x.model.Sides(b.Time(keep))
	if len(sides) < 2 {
		return 0, false
	}
	from, to, likely := r.between(e, p.Split)
	if !likely.Known() {
		return 0, false
	}
	best := race.NoInstant
	for _, t := range sides {
		if t > from && t < to && (!best.Known() || apartBy(t, likely) < apartBy(best, likely)) {
			best = t
		}
	}
	return best, best.Known() && r.keepsPlace(e, p, best)
}

// between are when main saw an athlete last before a split and first after it, and when they were
// likeliest at it, as the field goes over the stretches; NoInstant: nothing tells.
func (r *run) between(e *entrant, split int) (from, to, likely race.Instant) {
	f := &r.field[e.course]
	before, after := r.mainAt(e, split, -1), r.mainAt(e, split, 1)
	if before < 0 || after < 0 || len(f.Factor) == 0 {
		return race.NoInstant, race.NoInstant, race.NoInstant
	}
	from, _ = r.mainOf(&e.passings[e.filled[before]], r.keep(e, &e.passings[e.filled[before]]))
	to, _ = r.mainOf(&e.passings[e.filled[after]], r.keep(e, &e.passings[e.filled[after]]))
	way, whole := 0.0, 0.0
	for s := before + 1; s <= after; s++ {
		whole += float64((e.splits[s].At - e.splits[s-1].At) * math.Exp(f.Factor[min(s, len(f.Factor)-1)]))
		if s == split {
			way = whole
		}
	}
	if !(whole > 0) || to <= from {
		return race.NoInstant, race.NoInstant, race.NoInstant
	}
	return from, to, from.Add(race.Millis(math.Round(float64(to.Sub(from)) * way / whole)))
}

// mainAt is the nearest split before, or after, that main saw an athlete at; -1: none.
func (r *run) mainAt(e *entrant, split, way int) int {
	for s := split + way; s >= 0 && s < len(e.filled); s += way {
		if k := e.filled[s]; k >= 0 {
			if _, ok := r.mainOf(&e.passings[k], race.KeepFirst); ok {
				return s
			}
		}
	}
	return -1
}

// keepsPlace tells whether no other passing lies between a passing's time and another that it is to have.
func (r *run) keepsPlace(e *entrant, p *race.Passing, t race.Instant) bool {
	for k := range e.passings {
		if q := &e.passings[k]; q != p && q.At >= min(p.At, t) && q.At <= max(p.At, t) {
			return false
		}
	}
	return true
}
