package course

import (
	"math"

	"twinmat/reconcile/race"
	"twinmat/reconcile/robust"
)

// A long gap on laps without end is a rest, or laps that every system missed. A rest ends at
// any moment; missed laps end on a whole number of them. So the gaps that are no whole number
// tell how often the field rests for long, and how many of the others are rests as well; what
// is left of those tells how often a chip that was missed is missed again.
const (
	restFrom    = 2.3  // laps: a long gap, longer than a lap missed once makes it
	restTo      = 11.3 // laps
	offWhole    = 0.25 // of a lap: as far off a whole number the other half of all rests end
	nearby      = 5    // gaps before and after that tell a lap's time then
	againPrior  = 0.22 // share of misses that were misses of the lap after: exp(-missAgainOpen)
	againWeight = 4    // misses that this belief is worth
)

// longRests learns from the gaps of laps without end.
func (f *Field) longRests(c *race.Course, runs []Run) {
	if !c.Open {
		return
	}
	all, single, whole, between := 0., 0., 0., 0.
	var gaps, near, offs, brisk []float64
	for i := range runs {
		gaps = gaps[:0]
		last := runs[i].Gun
		for _, at := range runs[i].Times {
			if at.Known() {
				if last.Known() && at > last {
					gaps = append(gaps, float64(at-last))
				}
				last = at
			}
		}
		for k, g := range gaps {
			var usual float64
			if usual, near = lapThen(near, gaps, k); usual == 0 {
				continue
			}
			x := g / usual
			all++
			off := math.Abs(x - math.Round(x))
			switch {
			case math.Round(x) == 1:
				if offs = append(offs, off); x < 1 {
					brisk = append(brisk, off)
				}
			case x > 1.5 && x < restFrom && off < offWhole:
				single++
			case x < restFrom || x > restTo:
			case off < offWhole:
				whole++
			default:
				between++
			}
		}
	}
	// Gaps of whole laps that aren't rests: as many as chance makes of rests don't count.
	more := math.Max(0, whole-between-math.Sqrt(whole+between))
	doubt := 0.5 * (between + 0.5) / (whole + between + 1) // of a rest unseen: less, the more gaps end on whole laps
	f.RestLong = (between + doubt) / (all + 100) / (0.5 * math.Log(restTo/restFrom))
	f.Again = (more + againPrior*againWeight) / (single + more + againWeight)
	f.Even, f.Brisk = evenness(offs), evenness(brisk)
	if f.Brisk == 0 {
		f.Brisk = f.Even
	}
}

// lapThen is the middle of the gaps near the k-th, but for itself: a lap's time then; 0: too few
// tell it. buf is its memory.
func lapThen(buf, gaps []float64, k int) (usual float64, _ []float64) {
	buf = buf[:0]
	for n := max(0, k-nearby); n <= min(len(gaps)-1, k+nearby); n++ {
		if n != k {
			buf = append(buf, gaps[n])
		}
	}
	if len(buf) < 2 {
		return 0, buf
	}
	return robust.Median(buf), buf
}

// restLong is restPrice for a gap of more laps than one that was missed makes.
func (f *Field) restLong(open bool) float64 {
	if !open || !f.learnt() || f.RestLong == 0 {
		return f.restPrice(open)
	}
	return math.Min(math.Max(fitDensity-math.Log(f.RestLong), 5), 14)
}

// againPrice is that of a lap missed after one that was.
func (f *Field) againPrice(open bool) float64 {
	switch {
	case !open:
		return missAgain
	case f.learnt() && f.Again > 0:
		return math.Max(-math.Log(f.Again), missAgainOpen)
	}
	return missAgainOpen
}
