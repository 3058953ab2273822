package course

import (
	"math"
	"slices"

	"twinmat/reconcile/race"
)

// Where laps are as even as those of karts, a gap of laps that were missed is a whole number of
// them to a hundredth, and a stop in the pits about as long isn't. The search's pace classes are
// coarser than that: what a rider's own laps just before and after tell is priced beside them.
const (
	evenEnough = 200    // laps that tell how even a field's are
	evenTail   = 0.95   // of them lie within evenZ sd: a lap in traffic is one too
	evenZ      = 1.96   // and as near to whole a gap of missed laps costs nothing more
	evenOwn    = 1 / 8. // of a lap's variance: that of the middle of its neighbours
	unwholeCap = 6      // no gap costs more for being no whole number of laps: two of them may have been slow
)

// evenness is the sd of single laps as shares of their neighbours, from how far off they are.
func evenness(offs []float64) float64 {
	if len(offs) < evenEnough {
		return 0
	}
	slices.Sort(offs)
	return math.Max(offs[int(evenTail*float64(len(offs)))]/evenZ, 0.001)
}

// layUsual sets out what a lap took about each passing of the line of laps.
func (s *search) layUsual(c *race.Course) {
	s.usual = s.usual[:0]
	line, ok := LapLine(c)
	if !ok || !c.Open || !s.f.learnt() || s.f.Even == 0 || s.f.Even >= sdLeastOpen {
		return
	}
	var at []int
	var times []race.Instant
	for j := range s.ps {
		s.usual = append(s.usual, 0)
		if s.ps[j].Line == line {
			at, times = append(at, j), append(times, s.ps[j].At)
		}
	}
	soon := soonLap * usualGap(times)
	var gaps []float64
	var ends []int // by gap, the passing that ends it
	for k := 1; k < len(at); k++ {
		if g := float64(times[k] - times[k-1]); g > soon {
			gaps, ends = append(gaps, g), append(ends, at[k])
		}
	}
	for k, j := range ends {
		s.usual[j], s.buf = lapThen(s.buf, gaps, k)
	}
}

// unwhole is what it costs that the time since split r was filled is no whole number of laps of the
// rider's own: the more laps were missed in it the less their sum tells.
func (s *search) unwhole(r, t, j int, since race.Instant) float64 {
	n := float64(s.lapsOver(r, t))
	if n < 2 || len(s.usual) == 0 || s.usual[j] == 0 || s.f.hidden(since, s.ps[j].At, s.usual[j]/1000) > 0 {
		return 0 // nobody doubts laps that a silence hides, rest or no rest
	}
	off := math.Abs(float64(s.ps[j].At-since)/s.usual[j] - n)
	z := off / (s.f.Even * math.Sqrt(n+float64(evenOwn*n*n)))
	if z <= evenZ {
		return 0
	}
	return math.Min(0.5*(float64(z*z)-evenZ*evenZ), unwholeCap)
}

// lapsOver is how many laps split t is after r on one line, 0 where one of them ends none.
func (s *search) lapsOver(r, t int) int {
	if r < 0 || s.marks[t].lap == 0 || s.marks[r].lap == 0 || s.marks[r].line != s.marks[t].line {
		return 0
	}
	return s.marks[t].lap - s.marks[r].lap
}
