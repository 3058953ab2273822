package course

import (
	"cmp"
	"math"
	"slices"

	"twinmat/reconcile/race"
)

// How a wave goes over the line that it starts at tells a start from a lap, or a finish, on
// that line. Where a plan has nothing but laps, a mark at 0 m that stands in no split is put
// before them: who crosses their line at the gun is starting.

const (
	startSlope     = 4   // price of a start as late as the course comes back to its line, before the field tells
	startSlopeNone = 12  // likewise where it tells that hardly anybody is read there at the gun
	startLap       = 0.7 // of a way round: a start so late may be the end of a lap
	startSteep     = 80  // price beyond that, a way round
	startCap       = 34  // and at most: more than a passing that fits nothing, and than one with a slow lap
	startLate      = 9   // no start after one's wave costs more: people come late
	startAstray    = 5   // nor one while another wave of the course goes over the line: one in a few hundred starts with another
	startFence     = 1.5 // spreads past the slowest quarter of a wave: who starts later is late (Tukey's fence)
	startLeast     = 3   // seconds: no wave goes over a line so evenly that this is late
)

// Starts is how those of one gun went over the line that they start at.
type Starts struct {
	Gun    race.Instant
	Seen   float64 // where the plan has no split for it, share of those seen on the course who were read there
	Known  bool    // enough were to tell when
	Late   float64 // so many seconds after the gun and more, somebody is late
	Spread float64 // seconds from when a quarter had crossed to when three had
}

// startsOf is how those of a gun started: those of guns that few have are told by all.
func (f *Field) startsOf(gun race.Instant) *Starts {
	if f == nil || len(f.Starts) == 0 || !gun.Known() {
		return nil
	}
	k, ok := slices.BinarySearchFunc(f.Starts[1:], gun, func(s Starts, g race.Instant) int { return cmp.Compare(s.Gun, g) })
	if ok {
		return &f.Starts[1+k]
	}
	return &f.Starts[0]
}

// rush tells whether a wave was going over the start line then.
func (f *Field) rush(at race.Instant, early race.Millis) bool {
	return f != nil && len(f.Starts) > 0 && slices.ContainsFunc(f.Starts[1:], func(x Starts) bool {
		return x.Known && at >= x.Gun.Add(-early) && at.Sub(x.Gun).Seconds() <= x.Late
	})
}

// starts learns how each wave went over its start line; the first is that of all.
func (f *Field) starts(c *race.Course, runs []Run) {
	if !hasStart(c) {
		return
	}
	begun := make([]int, 0, len(runs))
	for i := range runs {
		if runs[i].Gun.Known() {
			begun = append(begun, i)
		}
	}
	slices.SortStableFunc(begun, func(a, b int) int { return cmp.Compare(runs[a].Gun, runs[b].Gun) })
	if len(begun) < enough {
		return
	}
	all := startsFrom(c, runs, begun)
	all.Gun = race.NoInstant
	f.Starts = append(f.Starts[:0], all)
	for a := 0; a < len(begun); {
		b := a + 1
		for b < len(begun) && runs[begun[b]].Gun == runs[begun[a]].Gun {
			b++
		}
		if b-a >= enough {
			f.Starts = append(f.Starts, startsFrom(c, runs, begun[a:b]))
		}
		a = b
	}
}

// startsFrom tells of some runs of one gun.
func startsFrom(c *race.Course, runs []Run, of []int) Starts {
	s := Starts{Gun: runs[of[0]].Gun}
	var delays []float64
	for _, i := range of {
		if at := runs[i].begun(c); at.Known() {
			delays = append(delays, at.Sub(runs[i].Gun).Seconds())
		}
	}
	s.Seen = 1
	if unlistedStart(c) {
		s.Seen = evenly(float64(len(delays)), float64(len(of)-len(delays)))
	}
	if s.Known = len(delays) >= enough; !s.Known {
		return s
	}
	slices.Sort(delays)
	at := func(q int) float64 { return delays[q*len(delays)/4] }
	s.Spread = math.Max(at(3)-at(1), startLeast)
	step := math.Exp2(math.Floor(math.Log2(math.Max(s.Spread/8, 1))))
	s.Spread = math.Ceil(s.Spread/step) * step
	s.Late = math.Round(at(3)/step)*step + float64(startFence*s.Spread)
	return s
}

// evenly is the share that some have of some and others, each at least one in a hundred, by
// steps of its odds: one athlete more seldom moves it.
func evenly(some, others float64) float64 {
	odds := math.Log((some + 0.5) / (others + 0.5))
	odds = math.Round(2*math.Max(-4.5, math.Min(4.5, odds))) / 2
	return 1 / (1 + math.Exp(-odds))
}

// begun is when a run crossed the start line, as far as it was seen.
func (x *Run) begun(c *race.Course) race.Instant {
	if c.Splits[0].At == 0 && len(x.Times) > 0 {
		return x.Times[0]
	}
	return x.Start
}

// hasStart tells whether a course is begun over a line that may be told from others: its
// start, or that of its laps.
func hasStart(c *race.Course) bool {
	return len(c.Splits) > 0 && (c.Splits[0].At == 0 || unlistedStart(c))
}

// unlistedStart tells whether a course is begun over a line of which the plan has no split there.
func unlistedStart(c *race.Course) bool { return lapsOnly(c) || comesRound(c) }

// evenRound is the share by which the distances of rounds may differ, as plans tell them.
const evenRound = 0.05

// comesRound tells whether a course begins where it ends though no split says so: it comes to its last
// line at even distances, and passes another line before.
func comesRound(c *race.Course) bool {
	if len(c.Splits) == 0 || c.Splits[0].At <= 0 || c.Splits[0].Lap > 0 || c.Splits[0].Line == c.Splits[len(c.Splits)-1].Line {
		return false
	}
	rounds, at, round := 0, 0.0, 0.0
	for i := range c.Splits {
		x := &c.Splits[i]
		if x.Line != c.Splits[len(c.Splits)-1].Line {
			continue
		}
		if rounds++; rounds == 1 {
			round = x.At
		}
		if math.Abs(x.At-at-round) > evenRound*round {
			return false
		}
		at = x.At
	}
	return rounds > 1
}

// lapsOnly tells whether the first split of a course is of a lap, so that its start has none.
func lapsOnly(c *race.Course) bool {
	return len(c.Splits) > 0 && c.Splits[0].Lap > 0 && c.Splits[0].At > 0
}

// startLine is where a course with no split for its start begins: where its first lap ends.
func startLine(c *race.Course) int {
	if comesRound(c) {
		return c.Splits[len(c.Splits)-1].Line
	}
	s := 0
	for s+1 < len(c.Splits) && c.Splits[s+1].Lap == c.Splits[0].Lap {
		s++
	}
	return c.Splits[s].Line
}

// missStart is the price of not having been read at a start that no split lists; none before
// the field tells whether people are.
func (s *search) missStart() float64 {
	if s.starts == nil {
		return 0
	}
	return -math.Log(1 - s.starts.Seen)
}

// begins is the price of a start so many seconds after the gun, for each pace class: none in
// the wave, more the later it is after that. A start that comes about when a lap would end is
// hardly one: before the field tells that it is begun over that line, and of so many laps,
// where one more that somebody rode would make the first the start.
func (s *search) begins(dst *[classes]float64, d float64) {
	x, back, seen := s.starts, s.marks[0].back, 0.0
	if s.unlisted && x != nil {
		seen = -math.Log(x.Seen)
	}
	known := x != nil && x.Known
	if known && d <= x.Late {
		for k := range dst {
			dst[k] = seen
		}
		return
	}
	late := math.Min(math.Max(0, d-600)/300, paceCap)
	if known {
		late = math.Min((d-x.Late)/x.Spread, startLate)
		if s.f.rush(s.a.Gun.Add(race.Millis(d*1000)), s.a.Early) {
			late = math.Min(late, startAstray)
		}
	}
	slope := float64(startSlope)
	if x != nil {
		slope = startSlopeNone
	}
	steep := back > 0 && (s.done(len(s.marks)-1) || s.unlisted && s.marks[1].lap > 0 && !(known && x.Seen > 0.5))
	for k := range dst {
		c, share := late, 0.0
		if back > 0 {
			share = d * s.per[k] / back
		}
		if !known {
			c = math.Max(c, math.Min(slope*share, paceCap))
		}
		if steep {
			c = math.Min(c+startSteep*math.Max(0, share-startLap), startCap)
		}
		dst[k] = seen + c
	}
}

// inWave tells whether a start so many seconds after the gun is one that needs no search.
func (s *search) inWave(d float64) bool {
	if x := s.starts; x != nil && x.Known {
		return d <= x.Late && (!s.unlisted || x.Seen > 0.5)
	}
	return d < 900 && (s.marks[0].back < 0 || d < 0.25*s.marks[0].back*math.Exp(s.mu))
}
