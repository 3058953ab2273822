package course

import (
	"math"
	"slices"

	"twinmat/reconcile/race"
	"twinmat/reconcile/robust"
)

// Where a course passes a line in both directions, who goes out reaches backup's antenna before
// main's if who comes in reaches it after: of a crossing that both systems read, their order tells
// which of the two it was.

const (
	sideLeast = 12  // athletes whom both systems read at each of a line's splits, for these to tell
	sideApart = 1.5 // spreads that the splits of a line must lie apart at the least
	sideStep  = 0.1 // seconds: what is published moves by so much
	sideCap   = 3   // price, at most, of a split whose side it isn't: antennas hear late, and that costs less than a split that is missing
)

// Side is by how many seconds backup tells a split later than main, in the middle, and how far
// that spreads. A spread of 0: nothing tells.
type Side struct{ At, Spread float64 }

// BothWays tells whether a course may pass a line in both directions.
func BothWays(c *race.Course) bool {
	for i := range c.Splits {
		s := &c.Splits[i]
		before := func(x race.Split) bool { return x.Line == s.Line && x.Lap == 0 }
		if s.Lap == 0 && slices.ContainsFunc(c.Splits[:i], before) && !InRounds(c, i) {
			return true
		}
	}
	return false
}

// sides learns by how much backup tells each split later, at lines where those of several lie apart.
func (f *Field) sides(c *race.Course, runs []Run) {
	if !BothWays(c) {
		return
	}
	told := make([]Side, len(c.Splits))
	var buf []float64
	for s := range told {
		buf = buf[:0]
		for i := range runs {
			if s < len(runs[i].Sides) && runs[i].Sides[s] != race.NoMillis {
				buf = append(buf, runs[i].Sides[s].Seconds())
			}
		}
		if len(buf) >= sideLeast {
			at, sd := robust.Spread(buf)
			told[s] = Side{roundTo(at, sideStep), math.Max(sideStep, math.Ceil(sd/sideStep)*sideStep)}
		}
	}
	for s := range told {
		if told[s].Spread > 0 && f.apart(c, told, s) {
			if f.Sides == nil {
				f.Sides = make([]Side, len(told))
			}
			f.Sides[s] = told[s]
		}
	}
}

// apart tells whether all splits of a split's line are told, and one lies apart from it.
func (f *Field) apart(c *race.Course, told []Side, s int) bool {
	apart := false
	for k := range told {
		if c.Splits[k].Line != c.Splits[s].Line || k == s {
			continue
		}
		if told[k].Spread == 0 {
			return false
		}
		apart = apart || math.Abs(told[k].At-told[s].At) >= sideApart*math.Max(told[k].Spread, told[s].Spread)
	}
	return apart
}

// wrongWay is the price of a crossing that backup told so much later than main as that of a split:
// how much likelier it is another of that line, where that lies nearer. Who crosses slowly lies
// beyond, and who stands between the antennas, on the side that they came from.
func (s *search) wrongWay(side race.Millis, t int) float64 {
	first := 0
	if s.unlisted {
		first = 1
	}
	if t -= first; s.f == nil || t < 0 || t >= len(s.f.Sides) || s.f.Sides[t].Spread == 0 || side == race.NoMillis {
		return 0
	}
	most, x := 0.0, side.Seconds()
	for u := range s.f.Sides {
		if s.marks[first+u].line != s.marks[first+t].line || s.f.Sides[u].Spread == 0 {
			continue
		}
		sd := math.Max(s.f.Sides[u].Spread, s.f.Sides[t].Spread)
		a, b := (x-s.f.Sides[t].At)/sd, (x-s.f.Sides[u].At)/sd
		most = math.Max(most, 0.5*(float64(a*a)-float64(b*b)))
	}
	return math.Min(most, sideCap)
}
