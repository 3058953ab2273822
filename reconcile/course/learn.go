package course

import (
	"math"
	"slices"

	"twinmat/reconcile/pace"
	"twinmat/reconcile/race"
)

// Run is one athlete's times by split.
type Run struct {
	Gun   race.Instant
	Times []race.Instant // per split; NoInstant where nothing is
}

// Field is what the athletes of one course teach about it. The zero Field has learnt
// nothing. Published values are rounded, so that small moves of the field change nobody.
type Field struct {
	Pace    float64   // log, median level of the athletes
	Spread  float64   // robust sd of the levels
	Factor  []float64 // per split: log s/m of the stretch that ends there at level 0
	Scatter []float64 // per split: robust sd of an athlete's stretch against their own level
	Miss    []float64 // per split: share that all systems missed, of those seen later
	Extra   float64   // share of passings that fill no split
	N       int       // athletes
}

// enough athletes to learn from.
const enough = 6

// factor is the log pace of the stretch that ends at a split, at level 0.
func (f *Field) factor(splits []race.Split, s int) float64 {
	if f != nil && f.N >= enough {
		if s < len(f.Factor) {
			return f.Factor[s]
		}
		if n := len(f.Factor); n > 0 && splits[s].Lap > 0 { // laps beyond those that were learnt
			return f.Factor[n-1]
		}
	}
	v, _ := pace.Typical(splits[s].Sport)
	return -math.Log(v)
}

// prior is what is believed of a level: its mean and sd.
func (f *Field) prior() (mu, sd float64) {
	if f != nil && f.N >= enough {
		return f.Pace, math.Max(f.Spread, 0.1)
	}
	return 0, 0.3
}

// sigma is the scatter of one stretch against the athlete's own level.
func (f *Field) sigma() float64 {
	if f == nil || f.N < enough || len(f.Scatter) == 0 {
		return 0.12
	}
	// A bunch rides as one; who was dropped from it does not.
	return math.Min(math.Max(1.2*median(f.Scatter), 0.12), 0.35)
}

// missPrice is that of one split's miss.
func (f *Field) missPrice(s int) float64 {
	if f == nil || f.N < enough || len(f.Miss) == 0 {
		return missFirst
	}
	m := f.Miss[len(f.Miss)-1]
	if s < len(f.Miss) {
		m = f.Miss[s]
	}
	return -math.Log(math.Min(math.Max(m, 0.015), 0.3))
}

// Learn takes from a field what it teaches of its course: a two-way median polish (Tukey)
// of the log pace of each stretch, athlete by split, and robust spreads of what remains.
func Learn(c *race.Course, runs []Run) Field {
	n := len(c.Splits)
	for _, r := range runs {
		n = max(n, len(r.Times))
	}
	f := Field{Factor: make([]float64, n), Scatter: make([]float64, n), Miss: make([]float64, n), Extra: 0.03}
	cells := make([][]float64, len(runs)) // log s/m, NaN unknown
	for i, r := range runs {
		cells[i] = paces(c, r, n)
	}
	for s := range f.Factor {
		v, _ := pace.Typical(sportAt(c, s))
		f.Factor[s] = -math.Log(v)
	}
	levels := make([]float64, len(runs))
	for range 3 {
		polish(cells, f.Factor, levels)
	}
	var known []float64
	for _, l := range levels {
		if !math.IsNaN(l) {
			known = append(known, l)
		}
	}
	f.N = len(known)
	if f.N < enough {
		return f
	}
	f.Pace, f.Spread = median(known), spread(known, median(known))
	var all []float64
	col := make([][]float64, n)
	for i := range cells {
		for s, v := range cells[i] {
			if !math.IsNaN(v) && !math.IsNaN(levels[i]) {
				x := math.Abs(v - f.Factor[s] - levels[i])
				col[s], all = append(col[s], x), append(all, x)
			}
		}
	}
	whole := 1.4826 * median(all)
	for s := range col {
		f.Scatter[s] = whole
		if len(col[s]) >= 20 {
			f.Scatter[s] = 1.4826 * median(col[s])
		}
	}
	f.misses(runs)
	f.publish()
	return f
}

// paces are the log s/m of an athlete's stretches between neighbouring splits.
func paces(c *race.Course, r Run, n int) []float64 {
	out := make([]float64, n)
	prev, at := r.Gun, 0.0
	for s := range out {
		out[s] = math.NaN()
		t, here := race.NoInstant, splitAt(c, s)
		if s < len(r.Times) {
			t = r.Times[s]
		}
		if t.Known() && prev.Known() && t > prev && here > at {
			out[s] = math.Log(float64(t-prev) / 1000 / (here - at))
		}
		prev, at = t, here
	}
	return out
}

func splitAt(c *race.Course, s int) float64 {
	if s < len(c.Splits) {
		return c.Splits[s].At
	}
	return c.Splits[len(c.Splits)-1].At + float64(s-len(c.Splits)+1)*c.LapLength
}

func sportAt(c *race.Course, s int) string { return c.Splits[min(s, len(c.Splits)-1)].Sport }

// polish is one round: athletes' levels from the factors, then factors from the levels.
func polish(cells [][]float64, factor, levels []float64) {
	var buf []float64
	for i := range cells {
		buf = buf[:0]
		for s, v := range cells[i] {
			if !math.IsNaN(v) {
				buf = append(buf, v-factor[s])
			}
		}
		levels[i] = math.NaN()
		if len(buf) > 0 {
			levels[i] = median(buf)
		}
	}
	for s := range factor {
		buf = buf[:0]
		for i := range cells {
			if v := cells[i][s]; !math.IsNaN(v) && !math.IsNaN(levels[i]) {
				buf = append(buf, v-levels[i])
			}
		}
		if len(buf) >= enough {
			factor[s] = median(buf)
		}
	}
}

// misses counts, of those seen later, who lacks a split.
func (f *Field) misses(runs []Run) {
	for s := range f.Miss {
		missed, chances := 1.0, 20.0 // shrunk towards one in twenty
		for _, r := range runs {
			later := false
			for t := s + 1; t < len(r.Times) && !later; t++ {
				later = r.Times[t].Known()
			}
			if later {
				chances++
				if !r.Times[s].Known() {
					missed++
				}
			}
		}
		f.Miss[s] = missed / chances
	}
}

func (f *Field) publish() {
	f.Pace, f.Spread = round(f.Pace), round(f.Spread)
	for s := range f.Factor {
		f.Factor[s], f.Scatter[s], f.Miss[s] = round(f.Factor[s]), round(f.Scatter[s]), round(f.Miss[s])
	}
}

func round(x float64) float64 { return math.Round(x*1000) / 1000 }

func spread(x []float64, mid float64) float64 {
	y := make([]float64, len(x))
	for i := range x {
		y[i] = math.Abs(x[i] - mid)
	}
	return 1.4826 * median(y)
}

// median of a copy.
func median(x []float64) float64 {
	y := slices.Clone(x)
	slices.Sort(y)
	if n := len(y); n%2 == 0 {
		return (y[n/2-1] + y[n/2]) / 2
	}
	return y[len(y)/2]
}
