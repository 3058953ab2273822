package course

import (
	"cmp"
	"math"
	"slices"

	"twinmat/reconcile/race"
	"twinmat/reconcile/robust"
)

// Where all systems at the line of laps hang at once, they miss as many as were due. Nobody is
// left who would tell a rider's long gap from a slow lap, and where the whole field was due it
// teaches that the lap took twice as long. What tells is the line itself: it read nobody while
// several were due, and the gaps of those, in the middle, are whole laps long. A stop of all
// ends at any moment.
const (
	silentLeast = 3    // riders who were due at least
	silentShare = 20   // and one in so many of the field
	silentOff   = 0.15 // of a lap that their gaps may be off a whole number, in the middle
	silentGaps  = 3    // from one crossing to the next that tell a rider's usual lap
	silentMost  = 4    // laps in one gap: more are a chip that lay there, or a rest
	silentRim   = 0.04 // of a lap by which the middle of two may be off, as a bunch rides
	silentMiss  = 0.7  // price of a lap missed in such a silence
)

// Silence is a time in which the line of laps read nobody though several were due: both hung.
type Silence struct{ From, To race.Instant }

// due is a crossing of the line that nobody read, as a rider's long gap tells it.
type due struct {
	rider int
	at    race.Instant
	rim   race.Millis // about it
	off   float64     // how far the gap is off a whole number of laps
}

// stood is a gap too long for one lap and too short for two.
type stood struct{ from, to race.Instant }

// unread are the silences of the line of laps, and by rider the crossings that were due in them.
// crossed are those that were read, in order; begun is where a rider's first lap began.
func unread(crossed [][]race.Instant, begun []race.Instant) (silences []Silence, missed [][]race.Instant) {
	var all []race.Instant
	var dues []due
	var stops []stood
	for i, own := range crossed {
		all = append(all, own...)
		if len(own) <= silentGaps {
			continue
		}
		usual, last := usualGap(own), begun[i]
		for _, at := range own {
			x := float64(at-last) / usual
			switch laps := math.Round(x); {
			case !last.Known() || x < longLap || laps > silentMost:
			case math.Abs(x-laps) > offWhole || laps < 2:
				stops = append(stops, stood{last, at})
			default:
				for n := 1.0; n < laps; n++ {
					dues = append(dues, due{i, last.Add(race.Millis(n * float64(at-last) / laps)), race.Millis(silentRim * usual), x - laps})
				}
			}
			last = at
		}
	}
	slices.Sort(all)
	bySilence := map[int][]due{} // by how many crossings were read before
	for _, d := range dues {
		n, _ := slices.BinarySearch(all, d.at)
		bySilence[n] = append(bySilence[n], d)
	}
	missed = make([][]race.Instant, len(crossed))
	for n, ds := range bySilence {
		if n > 0 && n < len(all) && hung(ds, stops, all, n, len(crossed)) {
			silences = append(silences, Silence{all[n-1], all[n]})
			for _, d := range ds {
				missed[d.rider] = append(missed[d.rider], d.at)
			}
		}
	}
	for i := range missed {
		slices.Sort(missed[i])
	}
	slices.SortFunc(silences, func(a, b Silence) int { return cmp.Compare(a.From, b.From) })
	return silences, missed
}

// hung tells whether those who were due in a silence of the line, before the n-th of all its
// crossings, came unread. Where a bunch was read, the few who weren't were due beside it.
func hung(ds []due, stops []stood, all []race.Instant, n, field int) bool {
	riders := map[int]bool{}
	for _, d := range ds {
		riders[d.rider] = true
	}
	if len(riders) < max(silentLeast, field/silentShare) {
		return false
	}
	from, to := all[n-1], all[n]
	offs := make([]float64, len(ds))
	first, last := to, from
	for i, d := range ds {
		offs[i] = d.off
		first, last = min(first, d.at.Add(-d.rim)), max(last, d.at.Add(d.rim))
	}
	if math.Abs(robust.Median(offs)) > silentOff {
		return false
	}
	against := 0
	for _, s := range stops {
		if s.from <= from && s.to >= to {
			against++
		}
	}
	a, _ := slices.BinarySearch(all, first)
	b, _ := slices.BinarySearch(all, last)
	return against < len(riders) && b-a <= len(ds)
}

// rounds are, by run, the crossings of the line of laps that were read, and those that were due
// while it read nobody, whose silences the field keeps; nil for a course without laps.
func (f *Field) rounds(c *race.Course, runs []Run) (read, missed [][]race.Instant) {
	if _, ok := LapLine(c); !ok {
		return nil, nil
	}
	read, begun := make([][]race.Instant, len(runs)), make([]race.Instant, len(runs))
	for i := range runs {
		x := &runs[i]
		if read[i], begun[i] = onceALap(timesOf(x.Laps), x.Gun), x.Gun; !Ridden(read[i]) {
			read[i] = nil // a chip that lies there rides with nobody
		}
		if x.Start.Known() {
			begun[i] = x.Start
		}
	}
	f.Silent, missed = unread(read, begun)
	return read, missed
}

// missedOf counts a run's crossings between two moments that were due while the line read nobody.
func missedOf(missed [][]race.Instant, run int, from, to race.Instant) int {
	if len(missed) == 0 || !from.Known() || !to.Known() {
		return 0
	}
	a, _ := slices.BinarySearch(missed[run], from)
	b, _ := slices.BinarySearch(missed[run], to)
	return max(0, b-a)
}

// hidden is how many laps of so many seconds the line's silences between two moments may hide.
func (f *Field) hidden(from, to race.Instant, lap float64) int {
	n := 0
	for _, x := range f.Silent {
		if x.From >= from && x.To <= to {
			n += 1 + int(x.To.Sub(x.From).Seconds()/lap)
		}
	}
	return n
}
