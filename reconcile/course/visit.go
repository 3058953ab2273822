package course

import (
	"math"

	"twinmat/reconcile/pace"
	"twinmat/reconcile/race"
)

// Who goes round is away from the line meanwhile: no system there reads them for as long as the
// quickest way round takes. Passings between which nobody was away so long are one visit,
// however long it lasts: the first of them ends a lap, and the next begins when they leave.

// leastRound is a share of a record's time: plans tell distances wrong, and antennas hear far.
const leastRound = 0.6

// ownRound is a share of the time that a lap mostly takes one: a relay's quickest needs little more
// than half of it.
const ownRound = 0.45

// visit is what is known of an athlete at one line.
type visit struct {
	known bool
	quick race.Millis  // who comes round to it, however fast, was away from it for so long; 0: nothing tells
	least race.Millis  // the same of this athlete
	heard race.Instant // when its systems last read them since the gun; NoInstant: never
	first int          // the passing of ps that began the visit, -1: none
}

// still tells whether a passing belongs to the visit of the one before it at its line: who was
// read again and again since has gone no lap.
func (s *search) still(c *race.Course, f *Field, p *Passing, a *Anchor) bool {
	for len(s.visits) <= p.Line {
		s.visits = append(s.visits, visit{})
	}
	v := &s.visits[p.Line]
	if !v.known {
		quick := leastAway(c, p.Line, a.MaxSpeed)
		*v = visit{true, quick, max(quick, race.Millis(ownRound*float64(a.Lap))), race.NoInstant, -1}
	}
	if v.quick == 0 || p.Systems == 0 || p.Keyed || p.Other || !a.Gun.Known() || p.At < a.Gun {
		return false
	}
	before := v.heard
	v.heard = max(before, p.At.Add(p.After))
	if !before.Known() || p.At.Sub(a.Gun) < v.quick || p.At.Add(-p.Before).Sub(before) >= v.least {
		return false
	}
	if v.first >= 0 && p.Heard == 0 && strong(p) && f.seldom(&s.ps[v.first]) {
		return false // heard from afar until now
	}
	if v.first >= 0 {
		s.stayed[v.first] = v.heard.Sub(s.ps[v.first].At).Seconds()
	}
	return true
}

// longVisit is a share of the least time away: who is read for so long has stayed.
const longVisit = 0.25

// arrives notes that a visit begins with the last passing of ps.
func (s *search) arrives(p *Passing) {
	v, k := &s.visits[p.Line], len(s.ps)-1
	if v.first = k; float64(p.After) > longVisit*float64(v.quick) && v.quick > 0 {
		s.stayed[k] = p.After.Seconds()
	}
}

// LapOf is how long a lap of one whose level a first assignment told takes them, or the most of the field
// if they are slower: 0 where laps have a number, which tells better who rode them, and where the field
// tells nothing.
func (f *Field) LapOf(c *race.Course, level float64) race.Millis {
	if !c.Open || !f.learnt() || math.IsNaN(level) {
		return 0
	}
	return race.Millis(1000 * c.LapLength * math.Exp(f.Factor[len(f.Factor)-1]+f.Level(math.Min(level, f.Pace))))
}

// leastAway is how long anybody is away from a line that laps end at, between two of its splits;
// 0 where nothing tells, or a split is no lap's.
func leastAway(c *race.Course, line int, most float64) race.Millis {
	least, last := math.Inf(1), -1
	round := func(sport string, metres float64) {
		least = math.Min(least, quickest(sport, metres, most))
	}
	for i := range c.Splits {
		x := &c.Splits[i]
		switch {
		case x.Line != line:
			continue
		case last >= 0 && x.Lap == 0:
			return 0
		case last >= 0:
			round(x.Sport, x.At-c.Splits[last].At)
		}
		last = i
	}
	if c.Open && last == len(c.Splits)-1 && last >= 0 {
		round(c.Splits[last].Sport, c.LapLength)
	}
	if math.IsInf(least, 1) {
		return 0
	}
	return race.Millis(leastRound * least * 1000)
}

// quickest is how many seconds nobody has ever needed less of for a distance, or can at the
// most that the plan allows; 0: nothing tells.
func quickest(sport string, metres, most float64) float64 {
	top := pace.Ceiling(sport, metres)
	if most > 0 && (top == 0 || most < top) {
		top = most
	}
	if top == 0 || metres <= 0 {
		return 0
	}
	return metres / top
}
