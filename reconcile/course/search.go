package course

import (
	"math"
	"slices"

	"twinmat/reconcile/race"
)

// Prices, in nats, and how far the search looks.
const (
	missFirst = 2.66 // a split that all systems missed, before the field tells how often: -ln 0.07
	nearPrice = 0.7  // another read of somebody who stayed near
	strayBase = 3.5  // a passing that fits nothing: -ln 0.03
	reachBack = 8    // passings that may lie between two that fill splits
	gapCap    = 12   // splits missed in a row cost no more: a chip turned away stays so
	maxSkip   = 6    // laps missed in a row
	unseenCap = 6    // splits missed before the first one seen cost no more
	paceCap   = 16   // no pace costs more: somebody may cut the course or take a car
	stopCap   = 7    // no stop costs more: people sit down, walk, are looked after
	// On laps people rest: two missed in a row by all systems are likelier than a rest of
	// just two laps, three are not.
	restCap   = 10
	paceSteps = 25 // pace classes tried
	maxBefore = 20 // passings left out before the first that fills a split
	beam      = 20 // nats above the best so far that are still followed
	surePace  = 3  // standard deviations that the obvious assignment may be off
)

// search is one athlete's assignment under way.
type search struct {
	splits []race.Split
	ps     []Passing
	a      Anchor
	f      *Field
	due    []float64 // expected seconds from the gun to each split at level 0
	next   []int     // the next split on the same line, -1: none
	sigma  float64   // log, of one stretch
	miss   []float64 // price of each split's miss
	cost   []float64
	from   []int32
}

func newSearch(splits []race.Split, ps []Passing, a Anchor, f *Field) *search {
	s := &search{splits: splits, ps: ps, a: a, f: f, due: make([]float64, len(splits)), next: make([]int, len(splits)), miss: make([]float64, len(splits))}
	t, at := 0.0, 0.0
	for i := range splits {
		t += (splits[i].At - at) * math.Exp(f.factor(splits, i))
		at = splits[i].At
		s.due[i], s.next[i], s.miss[i] = t, -1, f.missPrice(i)
	}
	last := map[int]int{}
	for i := len(splits) - 1; i >= 0; i-- {
		if n, ok := last[splits[i].Line]; ok {
			s.next[i] = n
		}
		last[splits[i].Line] = i
	}
	s.sigma = f.sigma()
	return s
}

// z is how far a stretch is off the pace p, in standard deviations; r = -1: from the gun.
func (s *search) z(p float64, from, to race.Instant, r, t int) float64 {
	dt, due := float64(to-from)/1000, s.due[t]
	n := t + 1
	if r >= 0 {
		due -= s.due[r]
		n = t - r
	}
	if dt <= 0 || due <= 0 {
		return math.Inf(1)
	}
	return (math.Log(dt/due) - p) / (s.sigma/math.Sqrt(float64(n)) + 0.03)
}

// stretch is the price of a stretch. A stop is likelier than a burst.
func (s *search) stretch(p float64, from, to race.Instant, r, t int) float64 {
	z := s.z(p, from, to, r, t)
	most := float64(paceCap)
	if z > 0 {
		z *= 0.8
		if most = stopCap; s.splits[t].Lap > 0 {
			most = restCap
		}
	}
	if z = math.Abs(z); z > 2 { // the tails are those of people, not of a normal law
		return math.Min(2*z-2, most)
	}
	return math.Min(0.5*z*z, most)
}

// first is the price of beginning with passing j at split t.
func (s *search) first(p float64, j, t int) float64 {
	cost := 0.0
	for i := 0; i < t; i++ {
		cost += s.miss[i]
	}
	cost = math.Min(cost, unseenCap) // a chip that wasn't read before was put right on the way
	for i := 0; i < j; i++ {
		cost += s.extra(p, i, -1, -1, j, t)
	}
	g, at := s.a.Gun, s.ps[j].At
	if !g.Known() {
		return cost
	}
	if s.splits[t].At == 0 { // ten minutes to the line are nothing odd in a big wave
		return cost + math.Min(math.Max(0, float64(at-g)/1000-600)/300, paceCap)
	}
	best := s.stretch(p, g, at, -1, t)
	if s.splits[0].At == 0 { // the missed start was crossed some time after the gun
		for _, wait := range []race.Millis{30000, 120000, 300000, 600000, 1200000} {
			best = math.Min(best, 0.5+s.stretch(p, g.Add(wait), at, -1, t))
		}
	}
	return cost + best
}

// extra is the price of leaving passing i out between prev, which fills split r, and j,
// which fills t (-1: nobody there). Who has passed may stay near and be read again, until
// the course brings them back; who is about to start may stand in the zone; anything else
// is odd, the more so the more saw it.
func (s *search) extra(p float64, i, prev, r, j, t int) float64 {
	q := s.ps[i]
	if prev >= 0 && q.Line == s.ps[prev].Line && s.splits[r].At > 0 {
		if due := s.back(r); due < 0 || float64(q.At-s.ps[prev].At)/1000 < 0.6*due*math.Exp(p) {
			return nearPrice
		}
	}
	if j >= 0 && q.Line == s.ps[j].Line && s.splits[t].At == 0 {
		return nearPrice
	}
	// A few reads in one system may come from the line beside; a full burst, or one in
	// both, does not.
	return strayBase + 6*float64(max(0, q.Systems-1)) + 10*q.Full
}

// back is how long the course takes, at level 0, to bring somebody back to the line of a
// split: -1 for never. After the last lap another one could be ridden.
func (s *search) back(r int) float64 {
	if n := s.next[r]; n >= 0 {
		return s.due[n] - s.due[r]
	}
	if s.splits[r].Lap > 0 && r > 0 {
		return s.due[r] - s.due[r-1]
	}
	return -1
}

// obvious tries the assignment that a person would make at once: every passing fills the
// next split, or stayed near the one before. It holds if the pace fits; then no search is
// needed.
func (s *search) obvious() ([]int, bool) {
	path := make([]int, len(s.ps))
	at, prev := 0, -1
	for i, q := range s.ps {
		path[i] = -1
		switch {
		case at < len(s.splits) && q.Line == s.splits[at].Line && (prev < 0 || s.splits[at-1].Line != q.Line || s.splits[at].Lap > 0):
			path[i] = at
			at, prev = at+1, i
		case prev >= 0 && q.Line == s.ps[prev].Line && s.splits[at-1].At > 0 && s.next[at-1] < 0:
		default:
			return nil, false
		}
	}
	p := s.level(path)
	if math.IsNaN(p) {
		return path, at == 1 && len(s.ps) == 1 && s.splits[0].At == 0 && s.a.Gun.Known() && s.ps[0].At.Sub(s.a.Gun) < 10*60000
	}
	mu, sd := s.f.prior()
	if math.Abs(p-mu) > 4*sd {
		return nil, false
	}
	from, r := s.a.Gun, -1
	least, most := math.Inf(1), math.Inf(-1) // of the laps
	for i, t := range path {
		if t < 0 {
			continue
		}
		if l := math.Log(float64(s.ps[i].At-from)/1000) - math.Log(s.due[t]-s.before(r)); from.Known() && s.splits[t].Lap > 0 {
			if least, most = math.Min(least, l), math.Max(most, l); most-least > twoLaps {
				return nil, false
			}
		}
		if s.splits[t].At == 0 {
			if from.Known() && s.ps[i].At.Sub(from) > 15*60000 {
				return nil, false
			}
		} else if from.Known() && math.Abs(s.z(p, from, s.ps[i].At, r, t)) > surePace {
			return nil, false
		}
		from, r = s.ps[i].At, t
	}
	return path, true
}

// twoLaps apart in log time are two of an athlete's laps when one may be two, with the one
// between missed.
const twoLaps = 0.53

// before is how long it takes, at level 0, to come to a split, 0 for the gun.
func (s *search) before(r int) float64 {
	if r < 0 {
		return 0
	}
	return s.due[r]
}

// level is the athlete's own pace against the field's factors: the median over stretches.
func (s *search) level(path []int) float64 {
	var ls []float64
	from, r := s.a.Gun, -1
	for i, t := range path {
		if t < 0 {
			continue
		}
		due := s.due[t]
		if r >= 0 {
			due -= s.due[r]
		}
		if dt := float64(s.ps[i].At-from) / 1000; from.Known() && dt > 0 && due > 0 && !(r < 0 && s.splits[0].At == 0) {
			ls = append(ls, math.Log(dt/due))
		}
		from, r = s.ps[i].At, t
	}
	if len(ls) == 0 {
		return math.NaN()
	}
	return median(ls)
}

// best searches all assignments under each pace class, and keeps the runner-up to tell
// what is doubtful.
func (s *search) best(out *Assignment, index []int) []int {
	mu, sd := s.f.prior()
	var path, other []int
	cost, second := math.Inf(1), math.Inf(1)
	s.cost, s.from = make([]float64, len(s.splits)*len(s.ps)), make([]int32, len(s.splits)*len(s.ps))
	for k := range paceSteps {
		// From the field's middle outwards: what the likely classes cost bounds the others.
		z := float64((k+1)/2) * 8 / float64(paceSteps-1)
		if k%2 == 1 {
			z = -z
		}
		prior := 0.25 * z * z
		c, got := s.viterbi(mu+z*sd, cost+beam-prior)
		c += prior
		switch {
		case c < cost:
			if path != nil && !slices.Equal(path, got) {
				second, other = cost, path
			}
			cost, path = c, got
		case c < second && !slices.Equal(path, got):
			second, other = c, got
		}
	}
	out.Cost, out.Margin = cost, second-cost
	for k := range path {
		out.Doubtful[index[k]] = out.Margin < sureMargin && other[k] != path[k]
	}
	return path
}

// viterbi is the cheapest path for one pace class; what costs more than bound on its way is
// not followed.
func (s *search) viterbi(p, bound float64) (float64, []int) {
	n := len(s.ps)
	path := make([]int, n)
	for i := range path {
		path[i] = -1
	}
	best, at := math.Inf(1), -1
	for t := range s.splits {
		for j := range s.ps {
			k := t*n + j
			s.cost[k], s.from[k] = math.Inf(1), -1
			if s.splits[t].Line != s.ps[j].Line {
				continue
			}
			s.arrive(p, t, j, bound)
			if s.cost[k] > bound {
				s.cost[k] = math.Inf(1)
				continue
			}
			if c := s.cost[k] + s.tail(p, t, j); c < best {
				best, at = c, k
			}
		}
	}
	none := 0.0
	for i := range s.ps {
		none += s.extra(p, i, -1, -1, -1, -1)
	}
	if at < 0 || none < best {
		return none, path
	}
	for k := int32(at); k >= 0; k = s.from[k] {
		path[int(k)%n] = int(k) / n
	}
	return best, path
}

// arrive finds the cheapest way to passing j as split t.
func (s *search) arrive(p float64, t, j int, bound float64) {
	n := len(s.ps)
	k := t*n + j
	if (t <= maxSkip || s.splits[t].Lap == 0) && j <= maxBefore {
		s.cost[k] = s.first(p, j, t)
	}
	missed := 0.0
	for r := t - 1; r >= 0 && (r >= t-1-maxSkip || s.splits[t].Lap == 0); r-- {
		left := 0.0
		for i := j - 1; i >= 0 && i >= j-1-reachBack; i-- {
			if s.splits[r].Line == s.ps[i].Line && s.ps[i].At < s.ps[j].At {
				if b := s.cost[r*n+i] + missed; b < s.cost[k] && b <= bound {
					left = 0
					for x := i + 1; x < j; x++ {
						left += s.extra(p, x, i, r, j, t)
					}
					if c := b + left + s.stretch(p, s.ps[i].At, s.ps[j].At, r, t); c < s.cost[k] {
						s.cost[k], s.from[k] = c, int32(r*n+i)
					}
				}
			}
		}
		if missed += s.miss[r]; s.splits[t].Lap == 0 {
			missed = math.Min(missed, gapCap)
		}
	}
}

// tail is the price of ending with passing j at split t: later splits cost half a miss, for
// they may just not have come yet.
func (s *search) tail(p float64, t, j int) float64 {
	c := 0.0
	for x := t + 1; x < len(s.splits) && x <= t+4; x++ {
		c += 0.5 * s.miss[x]
	}
	for x := j + 1; x < len(s.ps); x++ {
		c += s.extra(p, x, j, t, -1, -1)
	}
	return c
}

// fates names what became of the passings that fill no split.
func (s *search) fates(path, index []int, out *Assignment) {
	last := -1
	for j := range path {
		if path[j] >= 0 {
			last = j
			continue
		}
		out.Fate[index[j]] = race.Extra
		if s.near(path, j, last) {
			out.Fate[index[j]] = race.StayedNear
		}
	}
}

// near tells whether a passing is another read of the one before it at its line, or of the
// start to come. One that a better system saw than the passing that fills the split would
// change its time: that is an extra passing, for a person to see.
func (s *search) near(path []int, j, last int) bool {
	q := s.ps[j]
	if last >= 0 && s.ps[last].Line == q.Line {
		return q.Best >= s.ps[last].Best
	}
	for n := j + 1; n < len(path); n++ {
		if path[n] >= 0 {
			return s.ps[n].Line == q.Line && s.splits[path[n]].At == 0
		}
	}
	return false
}
