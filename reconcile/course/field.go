package course

import (
	"math"
	"reflect"

	"twinmat/reconcile/pace"
	"twinmat/reconcile/race"
)

// missFirst is the price of a split that all systems missed before the field tells how
// often: -ln 0.07, of a lap less often, for a rest looks like one.
const (
	missFirst    = 2.66
	missFirstLap = 3.2
)

// afterFirst is the price of a lap to cool down before the field tells: e to minus that is
// how many ride one.
const afterFirst = 6.

// fitDensity is the log density of a lap's time at its peak, with a scatter of 6 %.
const fitDensity = 1.9

// scatterMore than the field's spread is allowed for: most of it is of those whose passings are all there.
const scatterMore = 1.15

func (f *Field) learnt() bool { return f != nil && f.N >= enough && len(f.Factor) > 0 }

// Difference is what two fields teach otherwise: of all athletes, or from a split on; that is nobody's
// matter who was read at no line that the course comes to from there. Whose path had to be searched, it is
// from splits on whose misses are otherwise within the reach of its end. Greater than any split: of nobody.
type Difference struct {
	All            bool
	From, Searched int
}

// Differ tells how two fields of a course are different.
func Differ(a, b *Field) Difference {
	x, y := *a, *b
	x.Factor, x.Scatter, x.Miss, y.Factor, y.Scatter, y.Miss = nil, nil, nil, nil, nil, nil
	if len(a.Factor) != len(b.Factor) || len(a.Scatter) != len(b.Scatter) || len(a.Miss) != len(b.Miss) || !reflect.DeepEqual(&x, &y) {
		return Difference{All: true}
	}
	d := Difference{From: math.MaxInt, Searched: math.MaxInt}
	for s := range a.Factor {
		miss := a.Miss[s] != b.Miss[s]
		if miss || a.Factor[s] != b.Factor[s] || a.Scatter[s] != b.Scatter[s] {
			d.From = min(d.From, s)
		}
		if miss {
			d.Searched = min(d.Searched, max(0, s-tailReach))
		}
	}
	d.Searched = min(d.Searched, d.From)
	return d
}

// of is what stands for a split in a row of the field's, its last for laps beyond.
func of(row []float64, s int) float64 { return row[min(s, len(row)-1)] }

// factor is the log pace of the stretch that ends at split number s, at level 0.
func (f *Field) factor(sp *race.Split, s int) float64 {
	if f.learnt() && (s < len(f.Factor) || sp.Lap > 0) {
		return of(f.Factor, s)
	}
	v, _ := pace.Typical(sp.Sport)
	return -math.Log(v)
}

// prior is what is believed of a level: its mean and sd.
func (f *Field) prior() (mu, sd float64) {
	if f.learnt() {
		return f.Pace, math.Max(f.Spread, 0.1)
	}
	return 0, 0.3
}

// step is how far apart the pace classes stand: before the field is known they reach from a
// third to four times the usual pace.
func (f *Field) step() float64 {
	if f.learnt() {
		return 1. / 16
	}
	return 1. / 11
}

// scatter is the sd of the log of one stretch against the athlete's own level.
func (f *Field) scatter(sp *race.Split, s int, open bool) float64 {
	least := sdLeast
	if open {
		least = sdLeastOpen
	}
	switch {
	case f.learnt() && len(f.Scatter) > 0:
		return math.Min(math.Max(scatterMore*of(f.Scatter, s), least), sdMost)
	case sp.Sport == "change":
		return sdChange
	}
	return sdUnknown
}

// atWill tells whether the time between two splits of one place is what each likes to take. Where all
// leave together, as after a night, it isn't.
func (f *Field) atWill(s int) bool {
	return !f.learnt() || s >= len(f.Scatter) || scatterMore*f.Scatter[s] > sdMost
}

// missPrice is that of one split's miss; of a lap, by somebody whose chip hides from all so often at
// the least.
func (f *Field) missPrice(sp *race.Split, s int, hides float64) float64 {
	if f.learnt() && len(f.Miss) > 0 && sp.Lap > 0 && f.Both > 0 {
		return -math.Log(math.Min(math.Max(math.Min(math.Max(of(f.Miss, s), bothLeast), f.Both), hides), 0.35))
	}
	if f.learnt() && len(f.Miss) > 0 {
		return -math.Log(math.Min(math.Max(of(f.Miss, s), 0.004), 0.35))
	}
	if sp.Lap > 0 {
		return missFirstLap
	}
	return missFirst
}

// afterPrice is that of a lap to cool down. Before the field tells whether people ride on,
// and where none does, it costs as much as a lap that was missed, or more: who comes so often
// as there are laps has ridden them all, however slow some were.
func (f *Field) afterPrice() float64 {
	if f.learnt() && f.After > 0 {
		return math.Min(math.Max(-math.Log(f.After), 1), afterFirst)
	}
	return afterFirst
}

// after learns how many come again after the last of so many laps or legs.
func (f *Field) after(c *race.Course, runs []Run) {
	laps, least := float64(c.Splits[len(c.Splits)-1].Lap), outLap
	if c.Open {
		return
	}
	if laps == 0 {
		share := lastLeg(c)
		if share == 0 {
			return
		}
		laps, least = 1/share, soonBack
	}
	done, again := 0., 0.
	for i := range runs {
		x := &runs[i]
		last := len(x.Times) - 1
		if last < 0 || !x.Times[last].Known() || !x.Gun.Known() || len(x.Laps) == 0 {
			continue
		}
		done++
		lap := float64(x.Times[last]-x.Gun) / laps
		if float64(x.Laps[len(x.Laps)-1].At-x.Times[last]) > least*lap {
			again++
		}
	}
	f.After = (again + 0.1) / (done + 2)
}

// lastLeg is the share of a course's length since its last line was passed before, on the way;
// 0 where it wasn't, or laps are counted.
func lastLeg(c *race.Course) float64 {
	last := &c.Splits[len(c.Splits)-1]
	for s := len(c.Splits) - 2; s >= 0 && last.Lap == 0 && last.At > 0; s-- {
		if x := &c.Splits[s]; x.Line == last.Line && x.At > 0 {
			return 1 - x.At/last.At
		}
	}
	return 0
}

// RoundLine is the line whose passings tell who comes again after their last: that of laps, or
// of a finish that was passed on the way.
func RoundLine(c *race.Course) (line int, ok bool) {
	if line, ok = LapLine(c); ok || len(c.Splits) == 0 || lastLeg(c) == 0 {
		return line, ok
	}
	return c.Splits[len(c.Splits)-1].Line, true
}

// restPrice is the most that a slow lap costs: how seldom people stop, against how well a
// lap, or several with those between missed, fits the athlete's pace.
func (f *Field) restPrice(open bool) float64 {
	switch {
	case f.learnt() && f.Rest > 0:
		least := 8.
		if open {
			least = 7
		}
		return math.Min(math.Max(fitDensity-math.Log(f.Rest), least), 12)
	case open:
		return 8
	}
	return 9
}
