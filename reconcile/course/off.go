package course

import (
	"math"
	"slices"

	"twinmat/reconcile/pace"
	"twinmat/reconcile/race"
	"twinmat/reconcile/robust"
)

const (
	// astrayLeast athletes, and astrayShare of those whom both lines read, were at two lines in
	// the order that the course has not, before a line's clock can be why: a wrong clock doesn't
	// pick its athletes, and those who cut a course, or wear another's chip, are few.
	astrayLeast = 5
	astrayShare = 0.1
	// astrayNear seconds break no order of a whole field. A clock that is wrong all day is off by
	// one length of time for everybody, near enough for astrayAll of them: one that jumped is not,
	// nor are those who were sent the other way round.
	astrayNear = 60
	astrayAll  = 0.9
)

// offSplits finds the splits whose line's clock is so far off that much of the field was there
// in an order that the course can't give; nil for none. What such a line read fills no split:
// one of the two lines would lose its times athlete by athlete, and not always the wrong one.
func offSplits(c *race.Course, runs []Run) []bool {
	once := passedOnce(c)
	if len(once) < 2 {
		return nil
	}
	var off []bool
	for len(once) > 1 {
		bad := turned(runs, once)
		k := worst(c, runs, once, bad)
		if k < 0 || !shifted(c, runs, once, k) {
			return off
		}
		if off == nil {
			off = make([]bool, len(c.Splits))
		}
		off[once[k]] = true
		once = slices.Delete(once, k, k+1)
	}
	return off
}

// passedOnce are the splits of a course whose line it passes once.
func passedOnce(c *race.Course) []int {
	var once []int
	for s := range c.Splits {
		n := 0
		for k := range c.Splits {
			if c.Splits[k].Line == c.Splits[s].Line {
				n++
			}
		}
		if n == 1 && c.Splits[s].Lap == 0 {
			once = append(once, s)
		}
	}
	return once
}

// turned tells of each two of these splits, the earlier's number times len(once) plus the
// later's, whether they were passed the other way round as often as no field does.
func turned(runs []Run, once []int) []bool {
	n := len(once)
	both, bad := make([]int, n*n), make([]int, n*n)
	for i := range runs {
		x := &runs[i]
		if len(x.Seen) == 0 {
			continue
		}
		for b := range once {
			late := x.Seen[once[b]][1]
			if !late.Known() {
				continue
			}
			for a := range b {
				if first := x.Seen[once[a]][0]; first.Known() {
					both[a*n+b]++
					if first > late {
						bad[a*n+b]++
					}
				}
			}
		}
	}
	out := make([]bool, n*n)
	for k := range out {
		out[k] = bad[k] >= astrayLeast && float64(bad[k]) >= astrayShare*float64(both[k])
	}
	return out
}

// worst is which of these splits, left out, leaves the fewest turned pairs, and the likeliest
// paces where two leave as few; -1: nothing is turned.
func worst(c *race.Course, runs []Run, once []int, bad []bool) int {
	n, best, least, odd := len(once), -1, math.MaxInt, math.Inf(1)
	for k := range once {
		left, mine := 0, false
		for p, b := range bad {
			switch {
			case b && (p/n == k || p%n == k):
				mine = true
			case b:
				left++
			}
		}
		if !mine || left > least {
			continue
		}
		x := oddness(c, runs, slices.Delete(slices.Clone(once), k, k+1))
		if left < least || x < odd {
			best, least, odd = k, left, x
		}
	}
	return best
}

// oddness is how far apart, in logs, the field's paces over the stretches between these splits
// lie from one another and from what is usual of the sport.
func oddness(c *race.Course, runs []Run, once []int) float64 {
	low, high := 0.0, 0.0
	var took []float64
	for n, s := range once {
		metres := c.Splits[s].At
		if n > 0 {
			metres -= c.Splits[once[n-1]].At
		}
		took = took[:0]
		for i := range runs {
			x := &runs[i]
			if len(x.Seen) == 0 {
				continue
			}
			from := x.Gun
			if n > 0 {
				from = x.Seen[once[n-1]][0]
			}
			if to := x.Seen[s][1]; from.Known() && to.Known() {
				took = append(took, float64(to-from)/1000)
			}
		}
		if metres <= 0 || len(took) < astrayLeast {
			continue
		}
		m := robust.Median(took)
		if m <= 0 {
			return math.Inf(1)
		}
		v, _ := pace.Typical(c.Splits[s].Sport)
		y := math.Log(m * v / metres)
		low, high = math.Min(low, y), math.Max(high, y)
	}
	return high - low
}

// shifted tells whether a split's passings lie off by about one length of time for everybody,
// against those of the other splits.
func shifted(c *race.Course, runs []Run, once []int, k int) bool {
	var off []float64
	for i := range runs {
		if d, ok := shift(c, &runs[i], once, k); ok {
			off = append(off, d)
		}
	}
	if len(off) < astrayLeast {
		return false
	}
	mid, n := robust.Median(slices.Clone(off)), 0
	for _, d := range off {
		if math.Abs(d-mid) <= math.Abs(mid)/2 {
			n++
		}
	}
	return math.Abs(mid) > astrayNear && float64(n) >= astrayAll*float64(len(off))
}

// shift is how much later an athlete was at the k-th of these splits than those beside it
// have it, in seconds.
func shift(c *race.Course, x *Run, once []int, k int) (float64, bool) {
	if len(x.Seen) == 0 || !x.Seen[once[k]][0].Known() {
		return 0, false
	}
	known := func(n int) bool { return x.Seen[once[n]][0].Known() }
	a, b := k-1, k+1
	for a >= 0 && !known(a) {
		a--
	}
	for b < len(once) && !known(b) {
		b++
	}
	from, at, here := x.Gun, 0.0, c.Splits[once[k]].At
	if a >= 0 {
		from, at = x.Seen[once[a]][0], c.Splits[once[a]].At
	}
	if !from.Known() {
		return 0, false
	}
	want := from
	switch {
	case b < len(once) && c.Splits[once[b]].At > at:
		want = from.Add(race.Millis(float64(x.Seen[once[b]][1]-from) * (here - at) / (c.Splits[once[b]].At - at)))
	case b < len(once):
	case at > 0 && x.Gun.Known():
		want = from.Add(race.Millis(float64(from-x.Gun) * (here - at) / at))
	default:
		return 0, false
	}
	return float64(x.Seen[once[k]][0]-want) / 1000, true
}

// leaveOff finds the splits that are off and gives a field's runs without their times, and with
// those of the splits that lost theirs to them, where an athlete crossed the line once.
func (f *Field) leaveOff(c *race.Course, runs []Run) []Run {
	if f.Off = offSplits(c, runs); f.Off == nil {
		return runs
	}
	once := passedOnce(c)
	runs = slices.Clone(runs)
	for i := range runs {
		x := &runs[i]
		x.Times = slices.Clone(x.Times)
		for s := range x.Times {
			if f.off(s) {
				x.Times[s] = race.NoInstant
			}
		}
		if len(x.Seen) == 0 {
			continue
		}
		for _, s := range once {
			if !f.off(s) && !x.Times[s].Known() && x.Seen[s][0].Known() && x.Seen[s][0] == x.Seen[s][1] && x.Seen[s][0] > x.Gun {
				x.Times[s] = x.Seen[s][0]
			}
		}
	}
	return runs
}

// spanOff gives the stretch to a split that is off the factor of the next: they were learnt as one.
func (f *Field) spanOff() {
	for s := len(f.Factor) - 2; s >= 0; s-- {
		if f.off(s) {
			f.Factor[s] = f.Factor[s+1]
		}
	}
}

func (f *Field) off(s int) bool { return f != nil && s < len(f.Off) && f.Off[s] }

// offLine tells whether the clock of a line is so far off.
func (f *Field) offLine(c *race.Course, line int) bool {
	if f == nil {
		return false
	}
	for s := range f.Off {
		if f.Off[s] && c.Splits[s].Line == line {
			return true
		}
	}
	return false
}
