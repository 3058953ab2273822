package clock

import (
	"math"
	"slices"

	"twinmat/reconcile/race"
)

// Model is a fitted clock. What it holds is rounded (a millisecond of level, a tenth of a
// part per million, a centimetre), so that a pair that changes the fit little changes
// nothing that rests on it, and no model depends on the one before it.
type Model struct {
	c          Config
	base       race.Millis
	ref        race.Instant
	parts      []part
	behind     []float64 // metres, per group
	usual      []float64 // s/m, per group
	noise      noise
	cov        covariance
	local      []drifting // per group
	residuals  []race.ClockPoint
	pairs      int
	groupPairs []int
	unsure     string
	typical    float64 // seconds that behind costs a usual athlete
	apart      apart
	says       string
	alike      float64 // ppm of drift that may be behind's
}

// part is one stretch.
type part struct {
	level      float64 // seconds past base at ref and at the antenna itself
	drift      float64 // ppm
	fixed      bool
	pairs      int
	from, to   race.Instant // outermost pairs, main's clock
	begin      race.Instant // half-way from the part before; NoInstant: open
	gapA, gapB race.Instant // between these (open), it isn't sure whether this part has begun
	ruled      bool         // its beginning is a ruling's
	folded     bool         // with it main was set back
	unsure     string
}

// drifting is the median residual of those of unknown speed in a group, as it moves.
type drifting struct {
	at    []race.Instant
	level []float64 // seconds
}

// Race turns a time of the log into what main would have kept, with the 95 % half-width
// of a prediction for that crossing. unsure says why the time can't be trusted, "" where it
// can.
func (m *Model) Race(at race.Instant, x Crossing) (t race.Instant, pm race.Millis, unsure string) {
	return m.RaceNear(at, race.NoInstant, x)
}

// RaceNear is Race for a time of which it is known about when it was: a clock that was set
// back tells some times twice. NoInstant knows nothing.
func (m *Model) RaceNear(at, about race.Instant, x Crossing) (t race.Instant, pm race.Millis, unsure string) {
	if !at.Known() || tooFar(at) {
		return at, race.NoMillis, "no time"
	}
	group := min(max(x.Group, 0), len(m.behind)-1)
	u, costs, told := m.usual[group], m.usual[group], [tells]float64{}
	known := x.U >= leastSlowness && x.U <= maxSlowness
	if known {
		u, costs, told = m.cov.long.laid(x, m.usual[group])
	}
	cost := float64(m.behind[group]*costs) + m.cov.long.times(told)
	k, gap := m.find(at, m.unfold(about, at), cost)
	t = m.lay(at, k, cost)
	if !known {
		t = t.Add(-race.Millis(math.Round(m.local[group].at1(t) * 1000)))
	}
	pm = m.halfWidth(t, u, costs, told, known, x.Reads, group, k)
	switch {
	case m.unsure != "":
		unsure = m.unsure
	case gap > 0:
		unsure, pm = m.gapSays(gap), pm+m.otherwise(at, t, k, gap, cost)
	default:
		unsure = m.parts[k].unsure
	}
	return t.Add(-shift(m.c.Fold, at)), pm, unsure
}

// otherwise is how far a time, laid at t by part k, is off where it lies on the other side of the beginning of
// a part that it may lie before or after: its interval holds both. 0 where it can lie on one side only.
func (m *Model) otherwise(at, t race.Instant, k, gap int, cost float64) race.Millis {
	p, other := &m.parts[gap], 2*gap-1-k
	if m.c.Fold != nil || max(k, other) != gap { // of a third part
		return 0
	}
	u := m.lay(at, other, cost)
	if min(t, u) <= p.gapA || max(t, u) >= p.gapB {
		return 0
	}
	return apartBy(t, u)
}

// RaceWalked is RaceNear for who went over the line far more slowly than over the stretch before it, as
// the bursts of both systems tell; not ok where they don't.
func (m *Model) RaceWalked(at, about race.Instant, x Crossing) (t race.Instant, pm race.Millis, unsure string, ok bool) {
	if x, ok = m.cov.long.walked(x); ok {
		t, pm, unsure = m.RaceNear(at, about, x)
	}
	return t, pm, unsure, ok
}

// lay solves other = t + base + level + drift·(t−ref) + cost for t.
func (m *Model) lay(at race.Instant, k int, cost float64) race.Instant {
	p := &m.parts[k]
	since := float64(at.Add(-m.base)-m.ref) / 1000
	d := p.drift * microTime
	if !p.fixed {
		cost += m.cov.bend.at((since - p.level - cost) * microTime) // flat enough to need no second round
	}
	moved := (p.level + cost + float64(d*since)) / (1 + d)
	return at.Add(-m.base - race.Millis(math.Round(moved*1000)))
}

// find is the part that a time of the log falls in, for an athlete whom behind costs so
// much, of several the one nearest to about; gap is the number of the part whose beginning
// it may lie before or after, 0: none.
func (m *Model) find(at, about race.Instant, cost float64) (k, gap int) {
	k = -1
	for i := range m.parts {
		t := m.lay(at, i, cost)
		p := &m.parts[i]
		if i > 0 && t > p.gapA && t < p.gapB {
			gap = i
		}
		ends := race.NoInstant
		if i+1 < len(m.parts) {
			ends = m.parts[i+1].begin
			if q := &m.parts[i+1]; t > q.gapA && t < q.gapB {
				gap = i + 1
			}
		}
		if k < 0 && (!ends.Known() || t < ends) {
			k = i
		}
	}
	k = m.later(at, k, cost)
	if !m.mayHold(k, m.lay(at, k, cost)) { // beside a step forward: whose time it may be, if anybody's
		for i := range m.parts {
			if m.mayHold(i, m.lay(at, i, cost)) {
				k = i
				break
			}
		}
	}
	if about.Known() {
		for i := k + 1; i < len(m.parts); i++ {
			if t := m.lay(at, i, cost); t >= m.parts[i].begin && apartBy(t, about) < apartBy(m.lay(at, k, cost), about) {
				k = i
			}
		}
		for i := 0; i < len(m.parts) && apartBy(m.lay(at, k, cost), about) > voteApart; i++ {
			if t := m.lay(at, i, cost); m.mayHold(i, t) && apartBy(t, about) < voteApart {
				k = i
			}
		}
	}
	// A clock that is set forward leaves times out, one that is set back tells some twice.
	if k > 0 && m.lay(at, k, cost) < m.parts[k].begin {
		gap = k
	}
	if k+1 < len(m.parts) && m.lay(at, k+1, cost) >= m.parts[k+1].begin {
		gap = k + 1
	}
	return k, gap
}

// later is a part after number k in whose pairs a time lies, or nearer to them than it lies before
// k's own: what a clock that was set back tells while main misses somebody isn't an hour before
// the race.
func (m *Model) later(at race.Instant, k int, cost float64) int {
	least := m.parts[k].from.Sub(m.lay(at, k, cost))
	for i := k + 1; i < len(m.parts); i++ {
		p := &m.parts[i]
		if t := m.lay(at, i, cost); t > p.gapA && !p.ruled && outside(t, p.from, p.to) < least {
			k, least = i, outside(t, p.from, p.to)
		}
	}
	return k
}

// mayHold tells whether part i may hold at a moment: it begins somewhere between the last pair
// before the step and the first after it.
func (m *Model) mayHold(i int, t race.Instant) bool {
	p := &m.parts[i]
	if i > 0 && t < p.begin && (!p.gapA.Known() || t <= p.gapA) {
		return false
	}
	if i+1 == len(m.parts) {
		return true
	}
	q := &m.parts[i+1]
	return t < q.begin || q.gapB.Known() && t < q.gapB
}

// Sides are the moments that a time of the log may mean: while a clock is set, several.
func (m *Model) Sides(at race.Instant) []race.Instant {
	if !at.Known() || tooFar(at) || m.c.Fold != nil {
		return nil
	}
	var out []race.Instant
	for i := range m.parts {
		if t := m.lay(at, i, m.typical); m.mayHold(i, t) {
			out = append(out, t)
		}
	}
	return out
}

// Rough turns a time of the log into main's clock for a usual athlete: near enough to join
// passings before speeds are known.
func (m *Model) Rough(at race.Instant) race.Instant { return m.RoughNear(at, race.NoInstant) }

// RoughNear is Rough for a time of which it is known about when it was.
func (m *Model) RoughNear(at, about race.Instant) race.Instant {
	if !at.Known() || tooFar(at) {
		return at
	}
	k, _ := m.find(at, m.unfold(about, at), m.typical)
	return m.lay(at, k, m.typical).Add(-shift(m.c.Fold, at))
}

// SetBack tells whether either clock was set back: a later time of the log may be an earlier one
// of main's.
func (m *Model) SetBack() bool {
	if m.c.Fold != nil {
		return true
	}
	for k := 1; k < len(m.parts); k++ {
		if b := m.parts[k].begin.Add(m.base); m.lay(b, k, 0) > m.lay(b, k-1, 0) {
			return true
		}
	}
	return false
}

// Stepped tells whether either clock was set during the race.
func (m *Model) Stepped() bool { return m.c.Fold != nil || len(m.parts) > 1 }

func apartBy(a, b race.Instant) race.Millis { return max(a.Sub(b), b.Sub(a)) }

// halfWidth of a prediction, rounded up to two digits.
func (m *Model) halfWidth(t race.Instant, u, costs float64, told [tells]float64, known bool, reads, group, k int) race.Millis {
	sd := m.noise.sd(u, known, reads)
	v := float64(sd*sd) + m.cov.at(k, m.parts[k].fixed, float64(t-m.ref)/1000*microTime, costs, told, group)
	if !known && m.apart.none[group] {
		d := max(math.Abs(m.behind[group]), 0.5) * m.apart.spread[group]
		v += float64(d * d)
	}
	ms := m.noise.Quantile * math.Sqrt(v) * 1000
	f := 1.0
	for ms/f >= 100 {
		f *= 10
	}
	return max(1, race.Millis(math.Ceil(ms/f-1e-9)*f))
}

// apart is, per group, whether no pair was of unknown speed, and how far speeds differ: who
// comes without one may be any of them.
type apart struct {
	none   []bool
	spread []float64 // s/m
}

// at1 is the level at a moment, between the nearest two.
func (l *drifting) at1(t race.Instant) float64 {
	n := len(l.at)
	if n == 0 {
		return 0
	}
	i, _ := slices.BinarySearch(l.at, t)
	if i == 0 {
		return l.level[0]
	}
	if i == n {
		return l.level[n-1]
	}
	f := float64(t-l.at[i-1]) / float64(l.at[i]-l.at[i-1])
	return l.level[i-1] + float64(f*(l.level[i]-l.level[i-1]))
}

// Unsure says why nothing of this model can be trusted yet: too few pairs, or pairs that
// don't agree; "" where it can.
func (m *Model) Unsure() string { return m.unsure }

// Residuals are those of all pairs that it rests on, in order of time; they are not to be changed.
func (m *Model) Residuals() []race.ClockPoint { return m.residuals }
