package course

import (
	"math"
	"slices"
	"sync"

	"twinmat/reconcile/race"
	"twinmat/reconcile/robust"
)

// mark is a split as the search sees it.
type mark struct {
	line  int
	lap   int
	sport string
	at    float64 // metres
	due   float64 // expected seconds from the gun, at level 0
	vars  float64 // of that expectation: the stretches' variances, summed
	gaps  float64 // price of missing every split before this one
	back  float64 // seconds at level 0 until the course comes to the line again, -1: never
	stay  bool    // the split before is on the same line: here they leave the place they came into there
}

// search is one athlete's assignment under way. Its memory is used again.
type search struct {
	marks    []mark
	ps       []Passing    // those that may fill a split
	index    []int        // their places among all
	visits   []visit      // per line
	stayed   []float64    // per passing of ps: seconds that they stayed at its line, if they were read again and again
	unlisted bool         // the first mark is a start that the plan has no split for
	unread   bool         // no system read them anywhere: what is known of them a person keyed
	starts   *Starts      // how the wave started; nil: not known
	early    race.Instant // when they crossed the start before the gun, last: they may have set out then
	usual    []float64    // per passing of ps, ms of a lap then, without the one that ends there; 0: not known; empty: laps aren't so even
	steps    []step       // per passing of ps, what the bunch tells; empty: nothing
	met      met
	path     []int // per passing of ps: its split, -1 none
	a        Anchor
	f        *Field
	open     bool
	mu       float64 // log, the level that is likeliest
	sd       float64 // of the levels
	most     float64 // metres a second, 0: no bound
	beam     float64 // nats above the best so far that are still followed
	rest     float64 // most that a slow lap costs
	restLong float64 // the same of one that took more than a missed lap makes it
	allGaps  float64 // price of missing every split
	nextMiss float64 // a lap missed after one that was
	leg      float64 // seconds at level 0 to the finish since its line was passed on the way; 0: it wasn't
	after    float64 // who comes again an outLap or more after their last lap

	p, per     [classes]float64 // log pace of each class, and one over the pace
	nodes      []node
	live, born []int32
	other      []int
	buf        []float64
}

// scratch keeps searches for the next athlete; nothing in them outlives a call.
var scratch = sync.Pool{New: func() any { return new(search) }}

// Shares of the stretch that nobody's pace explains, as standard deviations of the log.
const (
	sdUnknown   = 0.14 // before the field has taught anything
	sdChange    = 0.5  // of a transition then
	sdLeast     = 0.09 // a bunch rides as one; who was dropped from it does not
	sdLeastOpen = 0.06 // of laps without end, where nobody rides in a bunch
	sdMost      = 0.4
	sdBase      = 0.02 // of any stretch, long ones too
)

// lay sets out the course as times, as the field expects them; open laps half as many more
// as there are passings.
func (s *search) lay(c *race.Course, f *Field, a Anchor) {
	s.a, s.f, s.open, s.most = a, f, c.Open, a.MaxSpeed
	n := len(c.Splits)
	if c.Open {
		n += len(s.ps) + len(s.ps)/2 + 8
	}
	s.marks, s.starts = s.marks[:0], f.startsOf(a.Gun)
	hides := s.hides(c)
	var last mark
	if s.unlisted {
		s.marks = append(s.marks, mark{line: startLine(c), back: -1})
		last.gaps = s.missStart()
	}
	for i := range n {
		k := min(i, len(c.Splits)-1)
		sp := &c.Splits[k]
		m := mark{line: sp.Line, sport: sp.Sport, lap: lapNumber(c, i), at: sp.At + float64(float64(i-k)*c.LapLength), back: -1}
		due := (m.at - last.at) * math.Exp(f.factor(sp, i))
		off := due * f.scatter(sp, i, c.Open)
		m.due, m.vars = last.due+due, last.vars+float64(off*off)
		m.gaps = last.gaps
		m.stay = i > 0 && m.lap == 0 && m.line == last.line && (m.sport == "change" || m.at-last.at < noLap) && f.atWill(i)
		if i > 0 {
			m.gaps += f.missPrice(&c.Splits[min(i-1, len(c.Splits)-1)], i-1, hides)
		}
		s.marks = append(s.marks, m)
		last = m
	}
	s.allGaps = last.gaps + f.missPrice(&c.Splits[len(c.Splits)-1], n-1, hides)
	for i := range s.marks {
		s.comesBack(i)
	}
	s.steps = s.steps[:0]
	if f != nil && f.Pack != nil {
		s.steps = f.Pack.steps(s.steps, &s.met, s.ps, a.Bib)
	}
	s.layUsual(c)
	s.rest, s.nextMiss = f.restPrice(c.Open), f.againPrice(c.Open)
	if s.leg = 0; lastLeg(c) > 0 {
		s.leg = lastLeg(c) * last.due
	}
	s.restLong, s.after = f.restLong(c.Open), f.afterPrice()
	s.mu, s.sd = f.prior()
	step := f.step()
	for k := range s.p {
		s.p[k] = s.mu + float64(float64(k-middle)*step)
		s.per[k] = math.Exp(-s.p[k])
	}
}

// comesBack finds when the course comes to a split's line again; after the last lap another
// one could be ridden.
func (s *search) comesBack(i int) {
	m := &s.marks[i]
	for n := i + 1; n < len(s.marks); n++ {
		if s.marks[n].line == m.line {
			m.back = s.marks[n].due - m.due
			return
		}
	}
	if m.lap == 0 {
		return
	}
	for n := i - 1; n >= 0; n-- {
		if s.marks[n].line == m.line {
			m.back = m.due - s.marks[n].due
			return
		}
	}
}

// missed is the price of having missed all splits between two; r = -1: from the gun. A chip
// turned away stays so, and one that wasn't read at first was put right on the way.
func (s *search) missed(r, t int) float64 {
	if r < 0 {
		return math.Min(s.marks[t].gaps, unseenCap)
	}
	all := s.marks[t].gaps - s.marks[r+1].gaps
	if n := t - r - 2; n > 0 && s.marks[t].lap > 0 {
		first := s.marks[r+2].gaps - s.marks[r+1].gaps
		all = math.Min(all, first+float64(float64(n)*s.nextMiss))
	}
	return math.Min(all, gapCap)
}

// missedBetween is missed for who fills r and t at these moments, over whose pace is own: what the
// silences of the line hide is missed by all.
func (s *search) missedBetween(r, t int, from, to race.Instant, own float64) float64 {
	if r >= 0 && t > r+1 && s.marks[t].lap > 0 && s.f != nil && len(s.f.Silent) > 0 {
		if n := min(t-r-1, s.f.hidden(from, to, (s.marks[t].due-s.marks[t-1].due)*own)); n > 0 {
			return float64(float64(n)*silentMiss) + s.missed(r, t-n)
		}
	}
	return s.missed(r, t)
}

// way is how long the course takes from one split to another at level 0, and the standard
// deviation of its log; r = -1: from the gun.
func (s *search) way(r, t int) (due, sd float64) {
	due, v := s.marks[t].due, s.marks[t].vars
	if r >= 0 {
		due, v = due-s.marks[r].due, v-s.marks[r].vars
	}
	if due <= 0 {
		return 0, 0
	}
	return due, float64(math.Sqrt(v)/due) + sdBase
}

// returns tells whether who fills split r may be read again on a line without having come
// round to it, and after what time at level 0 the course can bring them: -1 for never.
func (s *search) returns(r, line int) (due float64, near bool) {
	if r >= 0 {
		m := &s.marks[r]
		return m.back, m.line == line && m.at > 0
	}
	return 0, false
}

// done tells whether split r is the last of so many laps.
func (s *search) done(r int) bool {
	return r == len(s.marks)-1 && s.marks[r].lap > 0 && !s.open
}

// stays tells whether a passing so many seconds after split r was filled is too soon to have
// come round to its line, at a pace.
func (s *search) stays(r, line int, dt, p float64) bool {
	due, near := s.returns(r, line)
	return near && (due < 0 || dt < soonBack*due*math.Exp(p))
}

// obvious tries the assignment that a person would make at once: every passing fills the
// next split, or stayed near the one before. It holds if the pace fits; then no search is
// needed.
func (s *search) obvious() bool {
	s.path = slices.Grow(s.path[:0], len(s.ps))[:len(s.ps)]
	at, prev := 0, -1
	// Who isn't read at the gun begins with a lap.
	if s.unlisted && (s.ps[0].Line != s.marks[0].line || !s.inWave(s.ps[0].At.Sub(s.a.Gun).Seconds())) {
		at = 1
	}
	for i := range s.ps {
		q := &s.ps[i]
		s.path[i] = -1
		switch {
		case s.waits(i):
		case at < len(s.marks) && q.Line == s.marks[at].line && (prev < 0 || s.asBefore(prev, i, at)):
			s.path[i] = at
			at, prev = at+1, i
		case prev >= 0 && s.marks[at-1].back < 0 && s.marks[at-1].at > 0 && q.Line == s.marks[at-1].line && (q.Keyed || !s.ps[prev].Keyed):
		default:
			return false
		}
		if !s.mayBe(i, s.path[i]) || s.path[i] >= 0 && s.marks[s.path[i]].lap > 0 && s.f.seldom(q) {
			return false
		}
	}
	return s.fits()
}

// asBefore tells whether passing i comes at split t, the next one, after about the time
// that the athlete's race so far tells, where the line is the same as that of the split
// before: else it may be somebody who stayed near, or missed one.
func (s *search) asBefore(prev, i, t int) bool {
	if s.marks[t-1].line != s.marks[t].line {
		return true
	}
	if !s.a.Gun.Known() {
		return false
	}
	soFar := 1000 * math.Exp(s.mu)
	if s.marks[t-1].at > 0 {
		soFar = float64(s.ps[prev].At-s.a.Gun) / s.marks[t-1].due
	}
	now := float64(s.ps[i].At-s.ps[prev].At) / (s.marks[t].due - s.marks[t-1].due)
	return now > 0.65*soFar && now < 1.5*soFar
}

// fits tells whether an obvious path is at a pace that needs no search.
func (s *search) fits() bool {
	p := s.level()
	if math.IsNaN(p) {
		return len(s.ps) == 1 && s.marks[0].at == 0 && s.path[0] == 0 && s.a.Gun.Known() && s.inWave(s.ps[0].At.Sub(s.a.Gun).Seconds())
	}
	if math.Abs(p-s.mu) > 2.5*s.sd {
		return false
	}
	from, r, prev := s.a.Gun, -1, -1
	for i, t := range s.path {
		if t < 0 {
			continue
		}
		if n := s.lapsTo(r, t); n > 0 {
			if laps, _ := s.rodeWith(prev, i); laps > 0 && math.Abs(laps-float64(n)) > sureLaps {
				return false
			}
		}
		if s.wrongWay(s.ps[i].Side, t) > sureSide {
			return false
		}
		now := s.ps[i].At
		switch {
		case s.marks[t].at == 0:
			if from.Known() && !s.inWave(now.Sub(from).Seconds()) {
				return false
			}
		case from.Known():
			if now <= from {
				return false
			}
			due, sd := s.way(r, t)
			if x := math.Log(float64(now-from)/1000/due) - p; math.Abs(x) > surePace*sd || math.Abs(x) > sureShare {
				return false
			}
		}
		from, r, prev = now, t, i
	}
	return true
}

// level is the athlete's own pace against the field's factors: the median over stretches.
func (s *search) level() float64 {
	s.buf = s.buf[:0]
	from, r := s.a.Gun, -1
	for i, t := range s.path {
		if t < 0 {
			continue
		}
		due := s.marks[t].due
		if r >= 0 {
			due -= s.marks[r].due
		}
		if dt := float64(s.ps[i].At-from) / 1000; from.Known() && dt > 0 && due > 0 && !(r < 0 && s.marks[0].at == 0 && !s.unlisted) {
			s.buf = append(s.buf, math.Log(dt/due))
		}
		from, r = s.ps[i].At, t
	}
	if len(s.buf) == 0 {
		return math.NaN()
	}
	return robust.Median(s.buf)
}
