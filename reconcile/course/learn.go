package course

import (
	"math"
	"slices"

	"twinmat/reconcile/pace"
	"twinmat/reconcile/race"
	"twinmat/reconcile/robust"
)

// Run is one athlete's times by split.
type Run struct {
	Bib   string
	Gun   race.Instant
	Start race.Instant      // of laps whose start has no split, when they crossed their line at the gun; NoInstant: not seen
	Times []race.Instant    // per split; NoInstant where nothing is
	Laps  []Crossing        // whatever was seen at the line where laps end, or that RoundLine tells, in order; else none
	Chips Chips             // how the bib's chips go
	Saw   [3]int            // of the passings that fill laps, how many main alone, backup alone and both read
	Sides []race.Millis     // per split, by how much backup told it later than main; NoMillis where not both did; nil: nothing asks
	Seen  [][2]race.Instant // per split of the plan: the first and the last crossing of its line; nil: not told
}

// SameRun tells whether two runs are one.
func SameRun(a, b Run) bool {
	return a.Bib == b.Bib && a.Gun == b.Gun && a.Start == b.Start && a.Chips == b.Chips && a.Saw == b.Saw && slices.Equal(a.Times, b.Times) && slices.Equal(a.Laps, b.Laps) && slices.Equal(a.Sides, b.Sides) && slices.Equal(a.Seen, b.Seen)
}

// Field is what the athletes of one course teach about it. The zero Field has learnt
// nothing. Published values are rounded, so that small moves of the field change nobody.
type Field struct {
	Pace     float64   // log, median level of the athletes
	Spread   float64   // robust sd of the levels
	Factor   []float64 // per split: log s/m of the stretch that ends there at level 0
	Scatter  []float64 // per split: robust sd of an athlete's stretch against their own level
	Miss     []float64 // per split: share that all systems missed, of those seen later
	Both     float64   // share of laps that both systems miss at the most, as each tells of the other; 0: not told
	Extra    float64   // share of passings that fill no split
	Rest     float64   // how dense slow laps lie that are no two laps: share a unit of log time
	RestLong float64   // how dense gaps of more than two laps lie that are rests, likewise; open laps only
	Again    float64   // share of missed laps after which the next is missed too; open laps only
	Even     float64   // sd of a lap's time as a share of those just before and after it, tails and all; 0: not known; open laps only
	Brisk    float64   // the same of laps that took less than those; open laps only
	After    float64   // share of those who have ridden all laps, or legs, that come again, at ease: cooling down
	N        int       // athletes, so many at the most as make a field of many
	Starts   []Starts  // how waves went over the start line, that of all first, then in order of guns
	Faint    Faint     // how faintly crossings of the line of laps are heard, and what is none
	Pack     *Pack     // who rides with whom over laps; nil: nobody
	Silent   []Silence // of the line of laps, in order
	Sides    []Side    // per split: which way its line is crossed; nil: of none that is told
	Teams    bool      // each of a bib's runners wears a chip of their own
	Off      []bool    // per split: its line's clock is so far off that what it read fills none; nil: none is
}

// enough athletes to learn from.
const enough = 6

// Learn takes from a field what it teaches of its course: a two-way median polish (Tukey)
// of the log pace of each stretch, athlete by split, and robust spreads of what remains.
func Learn(c *race.Course, runs []Run) Field {
	n := len(c.Splits)
	for i := range runs {
		n = max(n, len(runs[i].Times))
	}
	f := Field{Factor: make([]float64, n), Scatter: make([]float64, n), Miss: make([]float64, n), Extra: 0.03}
	runs = f.leaveOff(c, runs)
	read, missed := f.rounds(c, runs)
	t := newTable(c, runs, n, &f, missed)
	for s := range f.Factor {
		v, _ := pace.Typical(sportAt(c, s))
		f.Factor[s] = -math.Log(v)
	}
	own := n // splits with a factor of their own
	if c.Open {
		own = len(c.Splits)
	}
	for range 3 {
		t.polish(f.Factor, own)
	}
	f.spanOff()
	t.levelsFrom(f.Factor)
	known := t.known()
	f.N = len(known)
	if f.N < enough {
		return f
	}
	f.Pace, f.Spread = robust.Spread(known)
	t.scatter(c, &f)
	f.rests(c, t)
	f.misses(c, runs)
	f.both(runs)
	f.longRests(c, runs)
	f.after(c, runs)
	f.faint(c, runs)
	f.starts(c, runs)
	f.sides(c, runs)
	f.teams(runs)
	f.Pack = packOf(c, runs, read, missed)
	f.publish()
	return f
}

// table holds the log s/m of the stretches between neighbouring splits, athlete by split,
// NaN where either end is missing, or laps between them while the line read nobody, which count;
// over a split that is off to the next.
type table struct {
	rows, cols int
	cells      []float64
	levels     []float64 // per athlete
	buf        []float64
}

func newTable(c *race.Course, runs []Run, n int, f *Field, missed [][]race.Instant) *table {
	t := &table{rows: len(runs), cols: n, cells: make([]float64, len(runs)*n), levels: make([]float64, len(runs)), buf: make([]float64, 0, max(n, len(runs)))}
	for k := range t.cells {
		t.cells[k] = math.NaN()
	}
	for i := range runs {
		r := &runs[i]
		prev, at := r.Gun, 0.0
		if unlistedStart(c) && r.Start.Known() {
			prev = r.Start
		}
		shift := 0 // laps that all systems missed and nobody counted
		for s := range n {
			now, here := race.NoInstant, splitAt(c, s)
			if s < len(r.Times) {
				now = r.Times[s]
			}
			x := math.NaN()
			if now.Known() && prev.Known() && now > prev && here > at {
				x = math.Log(float64(now-prev) / 1000 / (here - at))
			}
			if lost := missedOf(missed, i, prev, now); lost > 0 && endsLap(c, s) {
				x = math.NaN()
				if lineAt(c, max(0, s-1)) == lineAt(c, s) {
					shift += lost
				}
			}
			if s+shift < n {
				t.cells[i*n+s+shift] = x
			}
			if f.off(s) {
				continue
			}
			prev, at = now, here
		}
	}
	return t
}

func splitAt(c *race.Course, s int) float64 {
	if s < len(c.Splits) {
		return c.Splits[s].At
	}
	return c.Splits[len(c.Splits)-1].At + float64(s-len(c.Splits)+1)*c.LapLength
}

func sportAt(c *race.Course, s int) string { return c.Splits[min(s, len(c.Splits)-1)].Sport }

// polish is one round: athletes' levels from the factors, then factors from the levels. Laps
// without end share one: few come to the late ones, each at another hour, and a factor of
// their own would only tell how many were counted.
func (t *table) polish(factor []float64, own int) {
	t.levelsFrom(factor)
	buf := t.buf[:0]
	for s := range own {
		buf = t.column(buf[:0], s)
		if len(buf) >= enough {
			factor[s] = robust.Median(buf)
		}
	}
	buf = buf[:0]
	for s := own; s < len(factor); s++ {
		buf = t.column(buf, s)
	}
	t.buf = buf
	if len(buf) < enough {
		return
	}
	shared := robust.Median(buf)
	for s := own; s < len(factor); s++ {
		factor[s] = shared
	}
}

// column appends a split's paces against the athletes' levels.
func (t *table) column(buf []float64, s int) []float64 {
	for i, l := range t.levels {
		if v := t.cells[i*t.cols+s] - l; v == v {
			buf = append(buf, v)
		}
	}
	return buf
}

func (t *table) levelsFrom(factor []float64) {
	for i := range t.levels {
		buf := t.buf[:0]
		for s, v := range t.cells[i*t.cols : (i+1)*t.cols] {
			if v == v {
				buf = append(buf, v-factor[s])
			}
		}
		t.levels[i] = math.NaN()
		if len(buf) > 0 {
			t.levels[i] = robust.Median(buf)
		}
	}
}

func (t *table) known() []float64 {
	var known []float64
	for _, l := range t.levels {
		if l == l {
			known = append(known, l)
		}
	}
	return known
}

// scatter finds the robust sd of each split's residuals. One of few takes that of all. Laps
// share theirs, from the difference of each to the one before: a pace that fades over hours
// is no scatter.
func (t *table) scatter(c *race.Course, f *Field) {
	var all, laps []float64
	col := make([]float64, 0, t.rows)
	for s := range f.Scatter {
		col = col[:0]
		for i, l := range t.levels {
			if x := math.Abs(t.cells[i*t.cols+s] - f.Factor[s] - l); x == x {
				col = append(col, x)
			}
		}
		all = append(all, col...)
		if s > 0 && endsLap(c, s) {
			for i := range t.levels {
				if x := math.Abs(t.cells[i*t.cols+s] - f.Factor[s] - t.cells[i*t.cols+s-1] + f.Factor[s-1]); x == x {
					laps = append(laps, x/math.Sqrt2)
				}
			}
		}
		f.Scatter[s] = math.NaN()
		if len(col) >= 20 {
			f.Scatter[s] = robust.PerMAD * robust.Median(col)
		}
	}
	whole := robust.PerMAD * robust.Median(all)
	ofLaps := whole
	if len(laps) > 0 {
		ofLaps = robust.PerMAD * robust.Median(laps)
	}
	for s, x := range f.Scatter {
		switch {
		case endsLap(c, s):
			f.Scatter[s] = ofLaps
		case x != x:
			f.Scatter[s] = whole
		}
	}
}

// rests counts the laps between one and two laps long: no missed lap explains them, so they
// tell how often people stop.
func (f *Field) rests(c *race.Course, t *table) {
	const from, to = 0.3, 0.55
	n, all := 0.0, 0.0
	for s := range f.Factor {
		if !endsLap(c, s) {
			continue
		}
		for i, l := range t.levels {
			if x := t.cells[i*t.cols+s] - f.Factor[s] - l; x == x {
				all++
				if x > from && x < to {
					n++
				}
			}
		}
	}
	if all > 0 {
		f.Rest = (n + 0.5) / (all + 100) / (to - from)
	}
}

func endsLap(c *race.Course, s int) bool { return c.Splits[min(s, len(c.Splits)-1)].Lap > 0 }

const (
	sawEnough = 200   // laps that both systems read tell what each misses
	bothLeast = 0.002 // share that both miss: a well laid pair sees 99.9 of a hundred (common practice), and half as well
	bothOften = 5.0   // times as many as if they missed by chance alone: chips are shielded, crowds share the air
)

// both learns how often a lap can be missed by all, where both systems read laps. Rests look like
// laps that were missed, and would make those seem common.
func (f *Field) both(runs []Run) {
	var n [3]float64
	for i := range runs {
		for k, x := range runs[i].Saw {
			n[k] += float64(x)
		}
	}
	if n[2] < sawEnough {
		return
	}
	f.Both = math.Max(bothLeast, float64(bothOften*(n[1]/(n[1]+n[2]))*(n[0]/(n[0]+n[2]))))
}

// misses counts, of those seen later, who lacks a split. Laps on one line are counted
// together, and only single ones that are missing: several may be a rest.
func (f *Field) misses(c *race.Course, runs []Run) {
	n := len(f.Miss)
	missed, chances := make([]float64, n), make([]float64, n)
	for i := range runs {
		times := runs[i].Times
		last := len(times) - 1
		for last >= 0 && !times[last].Known() {
			last--
		}
		for s := range max(0, last) {
			chances[s]++
			gap := !times[s].Known()
			if gap && endsLap(c, s) {
				gap = times[s+1].Known() && (s == 0 || times[s-1].Known())
			}
			if gap {
				missed[s]++
			}
		}
	}
	for s := range f.Miss {
		m, of := missed[s]+1, chances[s]+20 // shrunk towards one in twenty
		if endsLap(c, s) {
			m, of = 1, 20
			for t := range f.Miss {
				if endsLap(c, t) && lineAt(c, t) == lineAt(c, s) {
					m, of = m+missed[t], of+chances[t]
				}
			}
			if s > 0 && endsLap(c, s-1) && lineAt(c, s-1) == lineAt(c, s) {
				f.Miss[s] = f.Miss[s-1]
				continue
			}
		}
		f.Miss[s] = m / of
	}
}

func lineAt(c *race.Course, s int) int { return c.Splits[min(s, len(c.Splits)-1)].Line }

// manyKnown athletes tell of a course so well that what one more changes is nothing to anybody;
// what is published then moves by steps that are seldom taken.
const manyKnown = 1000

func (f *Field) publish() {
	f.N = min(f.N, manyKnown)
	paces, scatters := 1e-3, 1e-3
	if f.N >= manyKnown {
		paces, scatters = 5e-3, 2e-3 // half a hundredth of a pace is two ms where antennas stand a metre apart
	}
	f.Pace, f.Spread, f.Rest = roundTo(f.Pace, paces), roundTo(f.Spread, paces), round(f.Rest)
	f.RestLong, f.Again = round(100*f.RestLong)/100, round(f.Again)
	if f.After > 0 {
		f.After = math.Exp(math.Round(4*math.Log(f.After)) / 4)
	}
	if f.Even > 0 {
		f.Even = math.Exp(math.Round(4*math.Log(f.Even)) / 4)
	}
	if f.Brisk > 0 {
		f.Brisk = math.Exp(math.Round(4*math.Log(f.Brisk)) / 4)
	}
	if f.Both > 0 {
		f.Both = math.Exp(math.Round(4*math.Log(f.Both)) / 4)
	}
	for s := range f.Factor {
		f.Factor[s], f.Scatter[s], f.Miss[s] = roundTo(f.Factor[s], paces), roundTo(f.Scatter[s], scatters), round(f.Miss[s])
	}
}

// levelStep is how finely the level of one of many tells how fast they came over a line at which their
// own stretch is odd: a fiftieth of a pace is a hundredth of a second where antennas stand a metre or two
// apart. More finely, each stretch that they come over would tell anew of all before it.
const levelStep = 0.02

// Level is an athlete's level as finely as it tells of single crossings.
func (f *Field) Level(level float64) float64 {
	if f.N < manyKnown {
		return level
	}
	return roundTo(level, levelStep)
}

func round(x float64) float64 { return math.Round(x*1000) / 1000 }

// roundTo rounds to a multiple of a step of thousandths.
func roundTo(x, step float64) float64 {
	n := math.Round(1000 * step)
	return math.Round(x*1000/n) * n / 1000
}
