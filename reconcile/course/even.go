package course

import (
	"math"
	"slices"

	"twinmat/reconcile/race"
	"twinmat/reconcile/robust"
)

// Where laps are as even as those of karts, a gap of laps that were missed is a whole number of
// them to a hundredth, and a stop in the pits about as long isn't. Those of runners are not so even,
// for many stop a little, but nobody is much faster than just before and after: a gap that is
// shorter than two of their laps is one, with a rest. The search's pace classes are coarser than
// that: what one's own laps about it tell is priced beside them.
const (
	evenEnough = 200    // laps that tell how even a field's are
	evenTail   = 0.95   // of them lie within evenZ sd: a lap in traffic is one too
	evenZ      = 1.96   // and as near to whole a gap of missed laps costs nothing more
	evenSide   = 2      // laps before and after that tell of people's,
	singleLap  = 1.4    // and no more of their quicker quarter than this are single ones
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

// sharply is how far off a whole number of laps a gap lies, of a lap's time, and the sd of single laps
// that tells whether that is much. A gap that is longer tells nothing where laps aren't even.
func (f *Field) sharply(x, whole float64) (off, sd float64) {
	switch {
	case f.Even < sdLeastOpen:
		return math.Abs(x - whole), f.Even
	case x < whole:
		return whole - x, f.Brisk
	}
	return 0, f.Brisk
}

// layUsual sets out what a lap took about each passing of the line of laps.
func (s *search) layUsual(c *race.Course) {
	s.usual = s.usual[:0]
	line, ok := LapLine(c)
	if !ok || !c.Open || !s.f.learnt() || s.f.Even == 0 || math.Min(s.f.Even, s.f.Brisk) >= sdLeastOpen {
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
	then := lapThen
	if s.f.Even >= sdLeastOpen {
		then = singleLapThen
	}
	for k, j := range ends {
		s.usual[j], s.buf = then(s.buf, gaps, k)
	}
}

// singleLapThen is the middle of those of the gaps near the k-th that are single laps, but for itself:
// where many rest, or wear a chip that hides, they may be few. People get slower: unless some before
// it and some after it tell, nothing does.
func singleLapThen(buf, gaps []float64, k int) (usual float64, _ []float64) {
	buf = buf[:0]
	if k < evenSide || len(gaps)-1-k < evenSide {
		return 0, buf
	}
	for n := max(0, k-nearby); n <= min(len(gaps)-1, k+nearby); n++ {
		if n != k {
			buf = append(buf, gaps[n])
		}
	}
	most := singleLap * robust.Nth(buf, len(buf)/4)
	buf = slices.DeleteFunc(buf, func(g float64) bool { return g > most })
	return robust.Median(buf), buf
}

// unwhole is what it costs that the time since split r was filled is no whole number of laps of the
// rider's own: the more laps were missed in it the less their sum tells.
func (s *search) unwhole(r, t, j int, since race.Instant) float64 {
	n := float64(s.lapsOver(r, t))
	if n < 2 || len(s.usual) == 0 || s.usual[j] == 0 || s.f.hidden(since, s.ps[j].At, s.usual[j]/1000) > 0 {
		return 0 // nobody doubts laps that a silence hides, rest or no rest
	}
	off, sd := s.f.sharply(float64(s.ps[j].At-since)/s.usual[j], n)
	z := off / (sd * math.Sqrt(n+float64(evenOwn*n*n)))
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
