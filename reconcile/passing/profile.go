package passing

import (
	"math"

	"twinmat/reconcile/race"
)

const (
	profileRounds = 2       // of Gauss and Newton's method: from the parabola, more change nothing
	parabolaWide  = 1.4     // of the time in which a parabola falls by 1 dB, to begin with
	narrowest     = 1 / 12. // of its length, below which it is no crossing's curve
	leastFall     = 2.      // dB from the parabola's vertex to half a burst away: less is none
	fall          = 20 / math.Ln10
)

// Profile is what the strengths of a burst tell of its crossing: when the antenna was
// nearest, and how long before and after that strength had fallen by 6 dB, which is the
// longer the slower somebody went. It fits
//
//	strength = peak − 20·log10(1 + ((t − crest)/wide)²)    in dB,
//
// a field that falls with the square of the distance from one metre or so on, by least
// squares. wide is 0 where the reads tell no such curve: fewer than five with a strength, or
// strengths that don't rise and fall.
func Profile(reads []race.Read) (crest race.Instant, wide race.Millis) {
	m := momentsOf(reads)
	if m.n < parabolaReads || m.hi <= m.lo {
		return reads[0].At, 0
	}
	p, ok := m.profile()
	for k := 0; k < profileRounds && ok; k++ {
		ok = p.improve(reads)
	}
	if long := m.hi - m.lo; !ok || p.wide < narrowest*long || p.wide > long || p.crest < m.lo || p.crest > m.hi {
		return reads[0].At, 0
	}
	return reads[0].At + race.Instant(math.Round(p.crest*1000)), max(1, race.Millis(math.Round(p.wide*1000)))
}

// profile is the curve's peak in dB, and its crest and width in seconds since the first read.
type profile struct{ peak, crest, wide float64 }

// profile is the curve to begin with: the parabola's; false where that is no hill.
func (m *moments) profile() (profile, bool) {
	long := m.hi - m.lo
	v, c, ok := m.vertex()
	if !ok || v < m.lo || v > m.hi || float64(-c*long*long)/4 < leastFall {
		return profile{}, false
	}
	return profile{m.peak, v, min(max(parabolaWide*math.Sqrt(-1/c), long/10), long/2.5)}, true
}

// improve is one round, in the logarithm of the width; false where reads tell nothing.
func (p *profile) improve(reads []race.Read) bool {
	var a00, a01, a02, a11, a12, a22, b0, b1, b2 float64
	for i := range reads {
		if reads[i].RSSI == race.NoRSSI {
			continue
		}
		z := (float64(reads[i].At-reads[0].At)/1000 - p.crest) / p.wide
		q := 1 + float64(z*z)
		r := float64(reads[i].RSSI)/10 - p.peak + fall*math.Log(q)
		slope := 2 * fall * z / q
		j1, j2 := slope/p.wide, float64(slope*z)
		a00, a01, a02 = a00+1, a01+j1, a02+j2
		a11, a12, a22 = a11+float64(j1*j1), a12+float64(j1*j2), a22+float64(j2*j2)
		b0, b1, b2 = b0+r, b1+float64(j1*r), b2+float64(j2*r)
	}
	det := determinant(a00, a01, a02, a01, a11, a12, a02, a12, a22)
	if !(math.Abs(det) > 1e-9*a00*a11*a22) {
		return false
	}
	p.peak += determinant(b0, a01, a02, b1, a11, a12, b2, a12, a22) / det
	move := determinant(a00, b0, a02, a01, b1, a12, a02, b2, a22) / det
	stretch := determinant(a00, a01, b0, a01, a11, b1, a02, a12, b2) / det
	p.crest += min(max(move, -p.wide/2), p.wide/2)
	p.wide *= math.Exp(min(max(stretch, -.4), .4))
	return true
}
