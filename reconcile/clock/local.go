package clock

import (
	"math"
	"slices"

	"twinmat/reconcile/race"
)

// local is the level of a group whose speeds aren't known, as it moves over time: at a start
// the first ones run and the last ones shuffle, and the line's own pairs of that minute tell
// better than any assumed speed what the distance between the antennas costs.
type local struct {
	at []race.Instant
	r  []float64
}

const (
	localPairs = 15 // around a moment
	localFew   = 6  // of pairs that say nothing: shrinks the median towards none
)

// localLevels gathers the residuals of the groups that have no speeds.
func (m *Model) localLevels() {
	m.local = map[int]*local{}
	for g := 0; g < m.d.groups; g++ {
		l := &local{}
		knownToo := 0
		for i, p := range m.d.pairs {
			if p.Group != g {
				continue
			}
			if known(p.U) {
				knownToo++
				continue
			}
			l.at, l.r = append(l.at, p.Main), append(l.r, m.r[i])
		}
		if len(l.at) >= localPairs && knownToo < len(l.at) {
			m.local[g] = l
		}
	}
}

// localAt is the correction for an athlete of unknown speed at a moment, seconds.
func (m *Model) localAt(at race.Instant, group int, u float64) float64 {
	l := m.local[group]
	if l == nil || known(u) {
		return 0
	}
	i, _ := slices.BinarySearch(l.at, at)
	lo, hi := i, i
	for hi-lo < localPairs && (lo > 0 || hi < len(l.at)) {
		switch {
		case lo == 0:
			hi++
		case hi == len(l.at), at-l.at[lo-1] <= l.at[hi]-at:
			lo--
		default:
			hi++
		}
	}
	n := float64(hi - lo)
	return math.Round(Median(l.r[lo:hi])*n/(n+localFew)*1000) / 1000
}

// FitShared fits logs that share one clock: each line's pairs give its own behind and level,
// and a line with too few pairs goes by the level of the best known other.
func FitShared(groups [][]Pair, cs []Config) []*Model {
	out := make([]*Model, len(groups))
	best := -1
	for i := range groups {
		out[i] = Fit(groups[i], cs[i])
		if out[i].unsure == "" && (best < 0 || len(groups[i]) > len(groups[best])) {
			best = i
		}
	}
	if best < 0 || len(out[best].Stretches()) == 0 {
		return out
	}
	for i := range out {
		if out[i].unsure == "" || cs[i].Fixed {
			continue
		}
		c := cs[i]
		st := out[best].Stretches()
		c.Fixed, c.FixedOffset = true, race.Millis(math.Round(st[len(st)-1].OffsetS*1000))
		out[i] = Fit(groups[i], c)
		out[i].scale = math.Hypot(out[i].scale, st[len(st)-1].PlusMinusS)
	}
	return out
}

// Equal tells whether two models publish the same.
func (m *Model) Equal(o *Model) bool {
	return m.d.base == o.d.base && m.d.tmid == o.d.tmid && m.scale == o.scale && m.quant == o.quant && m.unsure == o.unsure &&
		slices.Equal(m.bounds, o.bounds) && slices.EqualFunc(m.x, o.x, func(a, b float64) bool { return math.Abs(a-b) < 5e-4 })
}
