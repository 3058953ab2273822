package suspect

import (
	"math"
	"slices"

	"twinmat/reconcile/race"
)

// lackers are the athletes who lack passings that they should have, kept from search to search.
type lackers struct {
	wave   []int32        // per result: theirs, -1: none, or of no course
	from   []race.Instant // per result: the moment from which they lack
	lack   []bool         // per result: by now
	own    []bool         // per wave: somebody of it has a gun of their own
	in     []int          // per wave: how many lack
	moved  []int          // who didn't before, or does no longer, or is another
	crowds bool           // a wave is a crowd that wasn't, or is none any more
	byWave [][]int        // nil: not gathered yet
}

// Who always lacks, and who never does.
const (
	lacksAlways = race.Instant(math.MinInt64)
	lacksNever  = race.Instant(math.MaxInt64)
)

// lackers are those by now.
func (f *field) lackers() *lackers {
	x := &f.lacks
	switch {
	case x.from == nil:
		n := len(f.st.Results)
		*x = lackers{wave: make([]int32, n), from: make([]race.Instant, n), lack: make([]bool, n), own: make([]bool, len(f.waves)), in: make([]int, len(f.waves))}
		for i, r := range f.st.Results {
			if x.wave[i] = int32(r.Wave); r.Course < 0 {
				x.wave[i] = -1
			}
			if r.Wave >= 0 && r.Start.Known() {
				x.own[r.Wave] = true
			}
		}
		fallthrough
	case slices.Contains(f.news.relearnt, true):
		for i := range x.from {
			x.from[i] = f.lacksFrom(i)
		}
	default:
		for _, i := range f.news.moved {
			x.from[i] = f.lacksFrom(i)
		}
	}
	x.pass(f.st.Now)
	for _, i := range f.news.changed {
		if x.lack[i] {
			x.moved = append(x.moved, i)
		}
	}
	return x
}

// pass finds who lacks by now.
func (x *lackers) pass(now race.Instant) {
	x.moved, x.byWave, x.crowds = x.moved[:0], nil, false
	for i, from := range x.from {
		if lack := now >= from; lack != x.lack[i] {
			w := x.wave[i]
			was := x.crowd(w)
			x.lack[i], x.moved = lack, append(x.moved, i)
			x.in[w] += 2*tally(lack) - 1
			x.crowds = x.crowds || was != x.crowd(w)
		}
	}
}

// crowd tells whether those of a wave are too many to say anything by one passing.
func (x *lackers) crowd(w int32) bool { return x.in[w] > manyLacking }

// of are those of each wave.
func (x *lackers) of() [][]int {
	if x.byWave == nil {
		x.byWave = make([][]int, len(x.in))
		for i, lack := range x.lack {
			if lack {
				x.byWave[x.wave[i]] = append(x.byWave[x.wave[i]], i)
			}
		}
	}
	return x.byWave
}

// lacksFrom is from when on an athlete lacks passings: always, if nothing at all is there, or a
// split isn't with a later one there; or once they should be round the rest of the course.
func (f *field) lacksFrom(i int) race.Instant {
	if f.lacks.wave[i] < 0 {
		return lacksNever
	}
	times, last := f.times[i], f.last(i)
	if last < 0 || slices.Contains(times[:last], race.NoInstant) {
		return lacksAlways
	}
	if last == len(times)-1 {
		return lacksNever
	}
	// Half as long again as the next stretch should take: most likely gone by unread.
	most := 1.5 * f.courses[f.st.Results[i].Course].took(f.level[i], last, last+1)
	if !(most < 1e9) {
		return lacksNever
	}
	d := race.Millis(most * 1000)
	for d.Seconds() <= most {
		d++
	}
	for (d - 1).Seconds() > most {
		d--
	}
	return times[last].Add(d)
}
