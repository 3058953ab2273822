package clock

import (
	"math"

	"twinmat/reconcile/race"
)

const (
	leanBest    = 30  // pairs that make a log worth leaning on
	leanNeed    = 100 // from which on a log leans on none
	leanSD      = 0.1 // seconds: mains of two lines may differ by so much
	leanDriftSD = 5.0 // ppm
	leanAgainst = 4.0 // standard deviations: pairs so far off say that it isn't the same clock
)

// FitShared fits logs whose clock is one and the same: several lines of one box. Each line
// keeps a behind and a level of its own, since its main has a clock too; but what a line
// with few pairs lacks in level, drift and steps it takes from the one that has most.
// cs[i] belongs to groups[i].
func FitShared(groups [][]Pair, cs []Config) []*Model {
	out := make([]*Model, len(groups))
	best := -1
	for i := range groups {
		out[i] = Fit(groups[i], cs[i])
		if out[i].unsure == "" && !cs[i].Fixed && !cs[i].Hand && out[i].pairs >= leanBest && (best < 0 || out[i].pairs > out[best].pairs) {
			best = i
		}
	}
	if best < 0 {
		return out
	}
	for i := range out {
		if i == best || cs[i].Fixed || out[i].pairs >= leanNeed || 2*out[i].pairs > out[best].pairs {
			continue
		}
		c := cs[i]
		c.lean, c.NoSteps = out[best], true
		c.Breaks, c.BreakOffsets = append([]race.Instant(nil), cs[i].Breaks...), append([]race.Millis(nil), cs[i].BreakOffsets...)
		for len(c.BreakOffsets) < len(c.Breaks) {
			c.BreakOffsets = append(c.BreakOffsets, race.NoMillis)
		}
		for _, p := range out[best].parts[1:] {
			c.Breaks, c.BreakOffsets = append(c.Breaks, p.begin), append(c.BreakOffsets, race.NoMillis)
		}
		if m := Fit(groups[i], c); !m.against(leanAgainst) {
			out[i] = m
		}
	}
	return out
}

// against tells whether most of the pairs lie further from the model than it allows.
func (m *Model) against(times float64) bool {
	n := 0
	for _, r := range m.residuals {
		if math.Abs(r.Residual) > times*max(m.noise.At, leanSD) {
			n++
		}
	}
	return m.pairs >= leastFew && 2*n > m.pairs
}

// leanPrior is what the better known log believes of this one's levels and drift.
func (q *problem) leanPrior(p prior) {
	o := q.c.lean
	for l := range q.levels {
		if q.fixed[l] {
			continue
		}
		part := &o.parts[0]
		for k := 1; l > 0 && k < len(o.parts); k++ {
			if q.cuts[l-1].at >= o.parts[k].begin {
				part = &o.parts[k]
			}
		}
		level := (o.base - q.base).Seconds() + part.level + float64(part.drift*float64(q.ref-o.ref)/1000*microTime)
		p.mean[l], p.precision[l] = level, 1/(leanSD*leanSD)
		d := q.levels + min(l, q.drifts-1)
		p.mean[d], p.precision[d] = part.drift, 1/(leanDriftSD*leanDriftSD)
	}
}
