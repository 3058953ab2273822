package course

import (
	"math"
	"slices"

	"twinmat/reconcile/race"
	"twinmat/reconcile/robust"
)

// Who rests in a tent beside the line is heard now and then: a read or two, hours on end, and
// each as far from the one before as a lap may be. Who crosses the line is heard as often as
// antennas, chips and crowds make it usual there. Laps that came as evenly as those about them
// tell how seldom a crossing is heard so faintly; what came at any other time, how often
// somebody is who doesn't cross.
const (
	faintEven   = 0.25 // log: so far from the laps about it lies no gap of an even lap
	faintEnough = 30   // even laps of them tell; of few none is dear
	faintMost   = 9    // no passing is dearer, for antennas hang as well

	faintOwn = 5 // faint passings of one's own tell of a chip; of fewer some come evenly by chance
)

// Heard is how faintly a passing was: 0 of a few reads or more, else 1 to 3, the fewer reads the more.
type Heard uint8

const faintest = 3

// HeardOf tells it of a burst of so many reads, and of so many a window where it is longer: whoever
// is heard every second or two doesn't cross, however long that lasts.
func HeardOf(reads int, long, window race.Millis) Heard {
	if long > window && window > 0 {
		reads = int(math.Ceil(float64(reads) * float64(window) / float64(long)))
	}
	switch {
	case reads <= 0 || reads > 4:
		return 0
	case reads > 2:
		return 1
	}
	return Heard(faintest + 1 - reads)
}

// Crossing is a passing of the line of laps as the field learns from it.
type Crossing struct {
	At    race.Instant
	Heard Heard // by the system that heard it best
	Worse Heard // by the other one,
	Both  bool  // if that read it too
}

func timesOf(xs []Crossing) []race.Instant {
	at := make([]race.Instant, len(xs))
	for k := range xs {
		at[k] = xs[k].At
	}
	return at
}

// Faint are the prices of passings heard so faintly, by one system and by two: as a lap's, and as nobody's.
type Faint struct {
	Told       bool
	Line       int
	Lap, Stray [faintest + 1][2]float64
}

// heardSo are how many were heard so faintly, or more, by one system and by two; at 0 how many there are.
type heardSo [faintest + 1][2]float64

func (x *heardSo) put(h Heard, systems int) {
	for k := range h + 1 {
		x[k][systems]++
	}
}

// tent is what one run tells: crossings that came evenly, and whatever else was heard at their line.
// Of even crossings that two systems read each tells how one hears: while the other is silent, all are
// read by one.
type tent struct {
	even, other heardSo
	n, all      float64
}

// faint learns how faintly crossings are heard at the line of laps, and what else is. Of many
// reads at a tent some come as evenly as laps: those who were heard least so tell of crossings.
func (f *Field) faint(c *race.Course, runs []Run) {
	line, ok := LapLine(c)
	if !ok {
		return
	}
	tents, faint := make([]tent, 0, len(runs)), make([]float64, 0, len(runs))
	var laps []race.Instant
	for i := range runs {
		x := &runs[i]
		laps = laps[:0]
		for s, at := range x.Times {
			if at.Known() && endsLap(c, s) && lineAt(c, s) == line {
				laps = append(laps, at)
			}
		}
		if t := tentOf(c, x, laps); t.n > 0 {
			tents, faint = append(tents, t), append(faint, t.share())
		}
	}
	var sum, calm tent
	usual := robust.Median(faint)
	for i := range tents {
		sum.add(&tents[i])
		if tents[i].share() <= usual {
			calm.add(&tents[i])
		}
	}
	if calm.n < faintEnough {
		return
	}
	f.Faint.Told, f.Faint.Line = true, line
	for h := 1; h <= faintest; h++ {
		for s := range f.Faint.Lap[h] {
			share := (calm.even[h][s] + 0.5) / (calm.even[0][s] + 5) // as if of five more one in ten were, and of strays one in a hundred
			uneven := float64(share * sum.other[0][s])               // crossings beside a rest, or a lap that was missed
			strays := math.Max(0, sum.other[h][s]-uneven-math.Sqrt(uneven))
			f.Faint.Lap[h][s] = faintPrice(share)
			f.Faint.Stray[h][s] = faintPrice((strays + 0.05) / (sum.all + 5))
		}
	}
}

// tentOf sorts what was heard of a run since its first lap, of so many laps until its last one: before
// it a crowd sets out, and after it people do as they like.
func tentOf(c *race.Course, x *Run, laps []race.Instant) (t tent) {
	for k := range x.Laps {
		p := &x.Laps[k]
		if len(laps) == 0 || p.At < laps[0] || !c.Open && p.At > laps[len(laps)-1] {
			continue
		}
		switch lapAt(laps, p.At) {
		case evenLap:
			t.n++
			t.even.put(p.Heard, 0)
			if p.Both {
				t.even.put(p.Worse, 0)
				t.even.put(p.Heard, 1)
			}
		case unevenLap:
			t.other.put(p.Heard, systems(p.Both))
		default:
			continue
		}
		t.all++
	}
	return t
}

// share is how much of what was heard, and no even lap, was heard faintly.
func (t *tent) share() float64 { return (t.other[1][0] + t.other[1][1]) / t.all }

func (t *tent) add(x *tent) {
	t.n, t.all = t.n+x.n, t.all+x.all
	for h := range t.even {
		for s := range t.even[h] {
			t.even[h][s] += x.even[h][s]
			t.other[h][s] += x.other[h][s]
		}
	}
}

// faintPrice is that of a share, in steps, so that one more passing mostly changes nobody's.
func faintPrice(share float64) float64 {
	return math.Min(math.Max(0, math.Round(-4*math.Log(share))/4), faintMost)
}

// systems is where the price of a passing stands that one system heard, or both.
func systems(both bool) int {
	if both {
		return 1
	}
	return 0
}

// What a passing of the line of laps was, as the gaps about it tell.
const (
	evenLap   = iota // a lap ended, and the next began, as evenly as those about it
	unevenLap        // a gap beside it is odd, or it is no lap
	noLapTold        // there are too few gaps
)

func lapAt(laps []race.Instant, at race.Instant) int {
	k, ok := slices.BinarySearch(laps, at)
	if !ok {
		return unevenLap
	}
	var about [2 * nearby]float64
	near := about[:0]
	for n := max(1, k-nearby+1); n < min(len(laps), k+nearby+1); n++ {
		near = append(near, float64(laps[n]-laps[n-1]))
	}
	if len(near) < 3 {
		return noLapTold
	}
	usual := math.Log(robust.Median(near))
	odd := func(n int) bool {
		return n > 0 && n < len(laps) && math.Abs(math.Log(float64(laps[n]-laps[n-1]))-usual) >= faintEven
	}
	switch {
	case odd(k) || odd(k+1):
		return unevenLap
	case k == 0 || k == len(laps)-1:
		return noLapTold
	}
	return evenLap
}

// faintAs are the prices of a passing that is heard so faintly that it is likelier of somebody who doesn't
// cross. Where crossings are as often heard so, it tells nothing.
func (f *Field) faintAs(q *Passing) (lap, stray float64, ok bool) {
	if !f.learnt() || !f.Faint.Told || q.Heard == 0 || q.Line != f.Faint.Line {
		return 0, 0, false
	}
	n := systems(q.Systems > 1)
	lap, stray = f.Faint.Lap[q.Heard][n], f.Faint.Stray[q.Heard][n]
	return lap, stray, lap > stray
}

// HeardEvenly forgets how faintly one's passings (in order of time) were heard at the line of laps where
// most that are faint come a lap after the one before: that is a chip worn badly, which is heard so
// wherever it crosses, and nobody who rests.
func HeardEvenly(c *race.Course, ps []Passing) {
	line, ok := LapLine(c)
	if !ok {
		return
	}
	var own []*Passing
	var all, well []float64 // gaps, and those between two that are well heard
	faint := 0
	for k := range ps {
		p := &ps[k]
		if p.Line != line {
			continue
		}
		if n := len(own); n > 0 {
			gap := float64(p.At.Sub(own[n-1].At))
			if all = append(all, gap); p.Heard == 0 && own[n-1].Heard == 0 {
				well = append(well, gap)
			}
		}
		if own = append(own, p); p.Heard > 0 {
			faint++
		}
	}
	if faint < faintOwn {
		return
	}
	if len(well) < 3 {
		well = all
	}
	lap, even := math.Log(robust.Median(well)), 0
	for n, gap := range all {
		if own[n+1].Heard > 0 && math.Abs(math.Log(gap)-lap) < faintEven {
			even++
		}
	}
	if 2*even <= faint {
		return
	}
	for _, p := range own {
		p.Heard = 0
	}
}

func (f *Field) seldom(q *Passing) bool {
	_, _, ok := f.faintAs(q)
	return ok
}

// mayEnd tells whether passing j, as split t, ends a race. Who was on their way to the end is
// likelier heard faintly there than gone.
func (s *search) mayEnd(j, t int) bool {
	return !s.open && t == len(s.marks)-1 || s.a.FlagAt.Known() && s.ps[j].At >= s.a.FlagAt
}

// stayedAt is for how many seconds after a passing somebody was read again and again at its line.
// Who was heard so faintly from the first had rested before: that they went on is no part of a lap.
func (s *search) stayedAt(i int) float64 {
	if s.f.seldom(&s.ps[i]) {
		return 0
	}
	return s.stayed[i]
}

// rests tells whether a passing that is left out was of somebody beside the line. What was heard as long
// after their last lap as that took may be one more, of which nothing else would tell.
func (s *search) rests(j, last int) bool {
	if !s.f.seldom(&s.ps[j]) {
		return false
	}
	before := last - 1
	for before >= 0 && s.path[before] < 0 {
		before--
	}
	if before < 0 || slices.ContainsFunc(s.path[j:], func(t int) bool { return t >= 0 }) {
		return true
	}
	lap, since := s.ps[last].At.Sub(s.ps[before].At), s.ps[j].At.Sub(s.ps[last].At)
	return math.Abs(math.Log(float64(since)/float64(lap))) >= faintEven
}
