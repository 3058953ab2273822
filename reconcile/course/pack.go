package course

import (
	"cmp"
	"math"
	"slices"

	"twinmat/reconcile/race"
	"twinmat/reconcile/robust"
)

// Who rides in a bunch comes over the line with the same people lap after lap. They tell what
// a rider's own times can't: whether a long gap was two laps, of which the antennas missed one,
// or one with a stop.
const (
	together   = 1500 // ms between those of one bunch at the line
	lately     = 4    // laps before and after in which who is met again is of the bunch
	bunched    = 0.25 // share of a field's crossings with somebody met again: below, it rides in no bunches
	crowd      = 48   // of those who cross beside one, before and after: more don't tell more
	tellers    = 3    // of one's bunch at least: one may have stopped, or been missed as well
	soonLap    = 0.5  // of one's usual: nobody comes round sooner
	longLap    = 1.25 // of one's usual: one that may be two
	packWrong  = 12   // price of other laps than those whom one rode with, and came in with
	packFaster = 40   // price, a unit of the share, of more laps than they rode who were left behind
	packStop   = 2    // price of having stood while they rode on for
	packGone   = 1.5  // laps: who stops so long in such a race mostly stops for good
	packRoom   = 0.06 // of that share that costs nothing
	sureLaps   = 0.2  // off theirs, a rider's laps need a search
	packFits   = 1    // as many laps as they rode cost no more, whatever their pace
)

// Pack is when a field's riders crossed the line of their laps, for who rides in a bunch.
type Pack struct {
	line int
	all  []crossed        // in order of time
	by   [][]race.Instant // by rider, in order of time
	of   map[string]int   // which rider, by bib
}

type crossed struct {
	at    race.Instant
	rider int32
}

// LapLine is the line at which the laps of a course end, if it has any.
func LapLine(c *race.Course) (line int, ok bool) {
	last := len(c.Splits) - 1
	if last < 0 || c.Splits[last].Lap == 0 {
		return 0, false
	}
	return c.Splits[last].Line, true
}

// packOf finds the bunches of a field, nil where it rides in none. They rode the laps that the
// line missed of all as well as those that it read.
func packOf(c *race.Course, runs []Run, read, missed [][]race.Instant) *Pack {
	line, ok := LapLine(c)
	if !ok {
		return nil
	}
	p := &Pack{line: line, by: make([][]race.Instant, len(runs)), of: make(map[string]int, len(runs))}
	for i := range runs {
		p.of[runs[i].Bib] = i
		p.by[i] = slices.Concat(read[i], missed[i])
		slices.Sort(p.by[i])
		for _, at := range p.by[i] {
			p.all = append(p.all, crossed{at, int32(i)})
		}
	}
	slices.SortFunc(p.all, func(a, b crossed) int { return cmp.Or(cmp.Compare(a.at, b.at), cmp.Compare(a.rider, b.rider)) })
	if float64(p.metAgain()) <= bunched*float64(len(p.all)) {
		return nil
	}
	return p
}

// metAgain is how many crossings are with somebody who was beside one at the crossing before too.
func (p *Pack) metAgain() (again int) {
	last := make([]int, len(p.by)) // by rider: at which crossing they were met, counted through
	nth := 1
	var now []int32
	for i := range p.by {
		nth++ // nobody was met before the first
		for _, at := range p.by[i] {
			now = p.beside(now[:0], at, i)
			if slices.ContainsFunc(now, func(r int32) bool { return last[r] == nth-1 }) {
				again++
			}
			for _, r := range now {
				last[r] = nth
			}
			nth++
		}
	}
	return again
}

// onceALap leaves out who was read, after the gun or again, before they can have come round.
func onceALap(times []race.Instant, gun race.Instant) []race.Instant {
	least := race.Millis(soonLap * usualGap(times))
	out := make([]race.Instant, 0, len(times))
	last := gun
	for _, at := range times {
		if !last.Known() || at.Sub(last) >= least {
			out, last = append(out, at), at
		}
	}
	return out
}

// usualGap is the median time, in ms, from one to the next; 0 for fewer than two.
func usualGap(times []race.Instant) float64 {
	var gaps []float64
	for k := 1; k < len(times); k++ {
		gaps = append(gaps, float64(times[k]-times[k-1]))
	}
	if len(gaps) == 0 {
		return 0
	}
	return robust.Median(gaps)
}

// unevenLaps, in logs, lie half of the laps of a chip that is read by chance off their middle: a
// forgotten one beside the antenna. Those of a rider lie within a tenth.
const unevenLaps = 0.25

// Ridden tells whether crossings of the line of laps are those of somebody who rode.
func Ridden(times []race.Instant) bool {
	var laps []float64
	for k := 1; k < len(times); k++ {
		if d := times[k].Sub(times[k-1]); d > 0 {
			laps = append(laps, math.Log(float64(d)))
		}
	}
	if len(laps) == 0 {
		return true
	}
	_, spread := robust.Spread(laps)
	return spread <= unevenLaps*robust.PerMAD
}

// lapNumber is the lap that a split ends, 0 for none.
func lapNumber(c *race.Course, s int) int {
	last := len(c.Splits) - 1
	if s <= last {
		return c.Splits[s].Lap
	}
	return c.Splits[last].Lap + s - last
}

// beside appends who else crossed the line at a moment, those of a crowd who are nearest.
func (p *Pack) beside(dst []int32, at race.Instant, but int) []int32 {
	now, _ := slices.BinarySearchFunc(p.all, at, func(x crossed, t race.Instant) int { return cmp.Compare(x.at, t) })
	from := now
	for from > max(0, now-crowd) && p.all[from-1].at >= at.Add(-together) {
		from--
	}
	for k := from; k < min(len(p.all), now+crowd) && p.all[k].at <= at.Add(together); k++ {
		if r := p.all[k].rider; int(r) != but {
			dst = append(dst, r)
		}
	}
	return dst
}

// step is what the bunch rode between two of one's crossings of the line.
type step struct {
	before int     // that crossing's place among one's passings, -1: the gun
	laps   float64 // NaN: nobody tells
	with   bool    // they came in together
}

// steps tells, for each of one's passings of the line, what those rode since one's last who
// crossed with one then; where nobody did and it took long, what the front of the race rode.
func (p *Pack) steps(dst []step, m *met, ps []Passing, bib string) []step {
	me, ok := p.of[bib]
	if !ok {
		me = -1
	}
	dst = dst[:0]
	for range ps {
		dst = append(dst, step{-1, math.NaN(), false})
	}
	m.gather(p, ps, me)
	defer m.done()
	usual := usualGap(m.times)
	soon, long := race.Millis(soonLap*usual), race.Millis(longLap*usual)
	for k, j := range m.at {
		x := &dst[j]
		from, now := race.NoInstant, m.times[k]
		m.matesAt(max(0, k-1))
		m.with = m.with[:0]
		for _, r := range m.mates {
			if near(p.by[r], now) {
				m.with = append(m.with, r)
			}
		}
		if k > 0 {
			x.before, from = m.at[k-1], m.times[k-1]
		}
		switch {
		case len(m.with) >= tellers:
			x.laps, x.with = p.ride(m, m.with, from, now, soon), true
		case k == 0:
		case len(m.mates) > tellers:
			x.laps = p.ride(m, m.mates, from, now, soon)
		case now.Sub(from) > long:
			x.laps = p.front(from, now, me)
		}
	}
	return dst
}

// ride is how many laps a bunch rode from one moment (NoInstant: the gun) to another: how often
// a share of it came over the line together, each of them missed at times, and how far it
// was round then. Two bunches that rode as one and part come sooner than any lap takes: once.
// NaN where it never came.
func (p *Pack) ride(m *met, bunch []int32, from, to race.Instant, soon race.Millis) float64 {
	times := m.moments[:0]
	for _, r := range bunch {
		own := p.by[r]
		n := 0
		if from.Known() {
			n, _ = slices.BinarySearch(own, from.Add(together+1))
		}
		for ; n < len(own); n++ {
			times = append(times, own[n])
			if own[n] > to.Add(together) {
				break
			}
		}
	}
	m.moments = times
	slices.Sort(times)
	laps, last, next := 0, from, race.NoInstant
	for a := 0; a < len(times); {
		b := a + 1
		for b < len(times) && times[b].Sub(times[b-1]) <= 2*together {
			b++
		}
		switch at := times[(a+b)/2]; {
		case 4*(b-a) < len(bunch): // some who were dropped
		case last.Known() && at.Sub(last) < soon:
			if at <= to.Add(together) && at.Sub(to) >= -together {
				last = at
			}
		case at <= to.Add(together):
			laps, last = laps+1, at
		case !next.Known():
			next = at
		}
		a = b
	}
	if last.Sub(to) >= -together {
		return float64(laps)
	}
	switch {
	case next.Known():
	case laps == 0 || !from.Known():
		return math.NaN()
	default: // it came in for good: at its pace
		return float64(laps) * float64(to-from) / float64(last-from)
	}
	return float64(laps) + float64(to-last)/float64(next-last)
}

// front is the most laps that two others rode between two moments: who rides alone isn't
// quicker than the front of the race.
func (p *Pack) front(from, to race.Instant, me int) float64 {
	best, second := math.NaN(), math.NaN()
	for r, own := range p.by {
		a, b := progress(own, from), progress(own, to)
		x := b - a
		switch {
		case r == me || x != x:
		case best != best || x > best:
			best, second = x, best
		case second != second || x > second:
			second = x
		}
	}
	return second
}

// progress is how many laps a rider had ridden at a moment since first seen, NaN before and
// after they were.
func progress(own []race.Instant, at race.Instant) float64 {
	n, _ := slices.BinarySearch(own, at)
	if n == 0 || n == len(own) {
		return math.NaN()
	}
	return float64(n-1) + float64(at-own[n-1])/float64(own[n]-own[n-1])
}

// near tells whether a rider crossed at a moment.
func near(own []race.Instant, at race.Instant) bool {
	n, _ := slices.BinarySearch(own, at.Add(-together))
	return n < len(own) && own[n] <= at.Add(together)
}

// rodeWith is what the bunch rode between passing i (-1: the gun) and passing j, NaN where
// nobody tells; with tells whether they came in together.
func (s *search) rodeWith(i, j int) (laps float64, with bool) {
	laps, with = math.NaN(), true
	if len(s.steps) == 0 || i >= 0 && s.ps[i].Line != s.ps[j].Line {
		return laps, false
	}
	laps = 0
	for j > i {
		x := &s.steps[j]
		laps, with = laps+x.laps, with && x.with
		j = x.before
	}
	return laps, with
}

// lapsTo is how many laps lie from split r (-1: the gun) to t on one line, 0 for none to tell.
func (s *search) lapsTo(r, t int) int {
	switch m := &s.marks[t]; {
	case len(s.steps) == 0 || m.lap == 0:
		return 0
	case r < 0:
		return m.lap
	case s.marks[r].lap == 0 || s.marks[r].line != m.line:
		return 0
	default:
		return m.lap - s.marks[r].lap
	}
}

// bunch prices a number of laps from passing i to passing j by what the bunch rode.
func (s *search) bunch(dst *[classes]float64, i, j, n int) {
	laps, with := s.rodeWith(i, j)
	if laps != laps || laps <= 0 {
		return
	}
	add := 0.0
	switch {
	case with && n == int(laps):
		for k := range dst {
			dst[k] = math.Min(dst[k], packFits)
		}
		return
	case with:
		add = packWrong
	case float64(n) < laps-packGone:
		if !s.open || s.f.RestLong == 0 { // else the field's rests tell what one costs
			add = packStop
		}
	default:
		add = math.Min(packWrong, packFaster*math.Max(0, float64(n)/laps-1-packRoom))
	}
	for k := range dst {
		dst[k] += add
	}
}
