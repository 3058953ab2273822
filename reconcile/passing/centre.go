package passing

import (
	"math"

	"twinmat/reconcile/race"
)

// parabolaReads is how few reads still bear a parabola: three terms and two to spare.
const parabolaReads = 5

// Centre is the moment of nearest approach to the antenna, from signal strengths of the
// crossing: the vertex of the least-squares parabola of strength in dB over time; where the
// reads are too few, or the parabola opens upwards or has its vertex outside them, the
// centroid weighted by power. Reads without strength are left out; none with: the first.
func Centre(reads []race.Read) race.Instant {
	hill := aboutTop(reads)
	m := momentsOf(hill)
	if m.n == 0 {
		return reads[0].At
	}
	at, _, ok := m.vertex()
	if m.n < parabolaReads || !ok || at < m.lo || at > m.hi {
		at = centroid(hill)
	}
	return hill[0].At + race.Instant(math.Round(at*1000))
}

// centroid is the middle of the reads with a strength, weighted by power, in seconds since
// the first read.
func centroid(reads []race.Read) float64 {
	var w, wt float64
	for i := range reads {
		if reads[i].RSSI == race.NoRSSI {
			continue
		}
		p := math.Exp(float64(reads[i].RSSI) / 10 * (math.Ln10 / 10))
		w += p
		wt += float64(p * (float64(reads[i].At-reads[0].At) / 1000))
	}
	return wt / w
}

// moments are sums over the reads with a strength: of powers of t in seconds since the
// first read, and of them with y in dBm; the outermost t and the greatest y.
type moments struct {
	n, t1, t2, t3, t4, y0, y1, y2 float64
	lo, hi, peak                  float64
}

func momentsOf(reads []race.Read) moments {
	m := moments{peak: math.Inf(-1)}
	for i := range reads {
		if reads[i].RSSI == race.NoRSSI {
			continue
		}
		t := float64(reads[i].At-reads[0].At) / 1000
		y := float64(reads[i].RSSI) / 10
		if m.n == 0 {
			m.lo = t
		}
		m.hi, m.peak = t, max(m.peak, y)
		m.n++
		m.t1 += t
		m.t2 += float64(t * t)
		m.t3 += float64(t * t * t)
		m.t4 += float64(t * t * t * t)
		m.y0 += y
		m.y1 += float64(t * y)
		m.y2 += float64(t * t * y)
	}
	return m
}

// vertex is that of the parabola a + bt + ct² through the moments, and its c, false unless
// c < 0.
func (m *moments) vertex() (at, c float64, ok bool) {
	all := determinant(m.n, m.t1, m.t2, m.t1, m.t2, m.t3, m.t2, m.t3, m.t4)
	if math.Abs(all) < 1e-9 {
		return 0, 0, false
	}
	b := determinant(m.n, m.y0, m.t2, m.t1, m.y1, m.t3, m.t2, m.y2, m.t4) / all
	c = determinant(m.n, m.t1, m.y0, m.t1, m.t2, m.y1, m.t2, m.t3, m.y2) / all
	if c >= 0 {
		return 0, 0, false
	}
	return -b / (2 * c), c, true
}

// determinant of three rows.
func determinant(a, b, c, d, e, f, g, h, i float64) float64 {
	return float64(a*(float64(e*i)-float64(f*h))) - float64(b*(float64(d*i)-float64(f*g))) + float64(c*(float64(d*h)-float64(e*g)))
}

// topLeast, in milliseconds, is how far from the strongest read nothing is left out.
const topLeast = 1000 * race.Instant(1)

// aboutTop are the reads of a burst that belong to the crossing, where somebody stayed before or
// after it: those about the strongest, as far on the longer side as on the shorter.
func aboutTop(reads []race.Read) []race.Read {
	top := 0
	for i := range reads {
		if reads[i].RSSI > reads[top].RSSI {
			top = i
		}
	}
	before, after := reads[top].At-reads[0].At, reads[len(reads)-1].At-reads[top].At
	most := max(min(before, after), topLeast)
	from, to := 0, len(reads)
	for reads[top].At-reads[from].At > most {
		from++
	}
	for reads[to-1].At-reads[top].At > most {
		to--
	}
	return reads[from:to]
}
