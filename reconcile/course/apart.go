package course

import (
	"math"

	"twinmat/reconcile/race"
)

// apart finds how stretches that are no laps scatter against each other. A level taken from
// few stretches follows them, so that what remains is too small, most of all where no level is
// shared: the legs of a relay are run by different people. Of three stretches the differences
// tell the scatter of each, whatever level they share (Grubbs, 1948).
func (t *table) apart(c *race.Course, f *Field) {
	var single []int
	for s := range f.Apart {
		if !endsLap(c, s) {
			single = append(single, s)
		}
	}
	if len(single) < 3 {
		return
	}
	for k, s := range single {
		u, v := single[max(0, k-1)], single[min(k+1, len(single)-1)]
		switch k {
		case 0:
			u = single[2]
		case len(single) - 1:
			v = single[k-2]
		}
		if x := (t.differ(s, u) + t.differ(s, v) - t.differ(u, v)) / 2; x > 0 { // NaN: too few tell
			f.Apart[s] = math.Sqrt(x)
		}
	}
}

// differ is the robust variance of what two stretches differ by, from athlete to athlete; NaN
// where few have both.
func (t *table) differ(s, u int) float64 {
	var x []float64
	for i := range t.levels {
		if d := t.cells[i*t.cols+s] - t.cells[i*t.cols+u]; d == d {
			x = append(x, d)
		}
	}
	if len(x) < 20 {
		return math.NaN()
	}
	sd := spread(x, middling(x))
	return float64(sd * sd)
}
