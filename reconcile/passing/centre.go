package passing

import (
	"math"

	"twinmat/reconcile/race"
)

// parabolaReads is how few reads still bear a parabola: three terms and two to spare.
const parabolaReads = 5

// Centre is the moment of nearest approach to the antenna, from signal strengths: the
// vertex of the least-squares parabola of strength in dB over time; where the reads are
// too few, or the parabola opens upwards or has its vertex outside the burst, the centroid
// weighted by power. Reads without strength are left out; none with: the first.
func Centre(reads []race.Read) race.Instant {
	first := reads[0].At
	var n, t1, t2, t3, t4, y0, y1, y2, w, wt float64
	var lo, hi float64
	seen := false
	for i := range reads {
		if reads[i].RSSI == race.NoRSSI {
			continue
		}
		t := float64(reads[i].At-first) / 1000
		y := float64(reads[i].RSSI) / 10
		if !seen {
			lo, seen = t, true
		}
		hi = t
		p := math.Pow(10, y/10)
		w += p
		wt += float64(p * t)
		n++
		t1 += t
		t2 += float64(t * t)
		t3 += float64(t * t * t)
		t4 += float64(t * t * t * t)
		y0 += y
		y1 += float64(t * y)
		y2 += float64(t * t * y)
	}
	if !seen {
		return first
	}
	at := wt / w
	if n >= parabolaReads {
		if v, ok := vertex(n, t1, t2, t3, t4, y0, y1, y2); ok && v >= lo && v <= hi {
			at = v
		}
	}
	return first + race.Instant(math.Round(at*1000))
}

// vertex is that of the parabola a + bt + ct² through the moments, false unless c < 0.
func vertex(n, t1, t2, t3, t4, y0, y1, y2 float64) (float64, bool) {
	det := func(a, b, c, d, e, f, g, h, i float64) float64 {
		return float64(a*(float64(e*i)-float64(f*h))) - float64(b*(float64(d*i)-float64(f*g))) + float64(c*(float64(d*h)-float64(e*g)))
	}
	all := det(n, t1, t2, t1, t2, t3, t2, t3, t4)
	if math.Abs(all) < 1e-9 {
		return 0, false
	}
	b := det(n, y0, t2, t1, y1, t3, t2, y2, t4) / all
	c := det(n, t1, y0, t1, t2, y1, t2, t3, y2) / all
	if c >= 0 {
		return 0, false
	}
	return -b / (2 * c), true
}
