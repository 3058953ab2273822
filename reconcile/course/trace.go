package course

import (
	"math"
	"slices"

	"twinmat/reconcile/race"
)

// finish takes the cheapest way through all passings, and the runner-up: the cheapest that
// differs from it, be it at the end or at a node that both come to.
func (s *search) finish(out *Assignment) {
	best, second := int32(-1), int32(-1)
	cost, next := math.Inf(1), math.Inf(1)
	for _, a := range s.live {
		c := s.nodes[a].low + s.tail(s.nodes[a].split)
		switch {
		case c < cost:
			second, next = best, cost
			best, cost = a, c
		case c < next:
			second, next = a, c
		}
	}
	s.trace(&s.path, best, s.cheapest(best))
	s.other = append(s.other[:0], s.path...)
	margin := next - cost
	if second >= 0 {
		s.trace(&s.other, second, s.cheapest(second))
	}
	for n, k := best, s.cheapest(best); n > 0; {
		x := &s.nodes[n]
		k = int(x.moved[k])
		if x.more[k] < margin {
			margin = x.more[k]
			s.trace(&s.other, best, s.cheapest(best))
			for j := range x.passing {
				s.other[j] = -1
			}
			s.mark(s.other, x.second[k], k)
		}
		n = x.from[k]
	}
	out.Cost, out.Margin = cost, margin
	for j := range s.path {
		out.Doubtful[s.index[j]] = margin < sureMargin && s.other[j] != s.path[j]
	}
}

func (s *search) cheapest(a int32) int {
	low := 0
	for k, c := range s.nodes[a].cost {
		if c < s.nodes[a].cost[low] {
			low = k
		}
	}
	return low
}

// trace writes the way to a node, in a pace class, into a path.
func (s *search) trace(path *[]int, a int32, class int) {
	*path = slices.Grow((*path)[:0], len(s.ps))[:len(s.ps)]
	for j := range *path {
		(*path)[j] = -1
	}
	s.mark(*path, a, class)
}

func (s *search) mark(path []int, a int32, class int) {
	for a > 0 {
		n := &s.nodes[a]
		path[n.passing] = n.split
		class = int(n.moved[class])
		a = n.from[class]
	}
}

// tailReach is how many splits after the last one that is filled a way is priced by.
const tailReach = 5

// tail is the price of ending at a split: later ones cost half a miss, for they may just not
// have come yet. Laps without end have no later ones.
func (s *search) tail(t int) float64 {
	if s.open || t < 0 || s.marks[t].lap > 0 && s.a.FlagAt.Known() {
		return 0
	}
	before := func(n int) float64 { // what missing all splits before the n-th costs
		if n < len(s.marks) {
			return s.marks[n].gaps
		}
		return s.allGaps
	}
	return 0.5 * (before(t+tailReach) - before(t+1))
}

// fates names what became of the passings that fill no split.
func (s *search) fates(out *Assignment) {
	last := -1
	for j, t := range s.path {
		if t >= 0 {
			last = j
			continue
		}
		fate := race.Extra
		if s.waits(j) || s.rests(j, last) || s.near(j, last, out.Level) {
			fate = race.StayedNear
		} else if s.disorder(j) {
			out.OutOfOrder = true
		}
		out.Fate[s.index[j]] = fate
	}
}

// outLap of their own lap's time: who comes again after so much, or more, having ridden all
// laps, is cooling down; sooner it may be that one of the laps is none.
const outLap = 1.3

// near tells whether a passing is another read of the one before it at its line, or of the
// start to come. One that a better system saw than the passing that fills the split would
// change its time: that is an extra passing, for a person to see.
func (s *search) near(j, last int, level float64) bool {
	q := &s.ps[j]
	if math.IsNaN(level) {
		level = s.mu
	}
	since, r := s.a.Gun, -1
	if last >= 0 {
		since, r = s.ps[last].At, s.path[last]
	}
	if since.Known() && s.stays(r, q.Line, float64(q.At-since)/1000, level) {
		return last < 0 || q.Best >= s.ps[last].Best
	}
	if r >= 0 && s.done(r) && q.Line == s.marks[r].line {
		return float64(q.At-since)/1000 > outLap*s.marks[r].back*math.Exp(level)
	}
	for n := j + 1; n < len(s.path); n++ {
		if t := s.path[n]; t >= 0 {
			return s.ps[n].Line == q.Line && s.marks[t].at == 0
		}
	}
	return false
}

// disorder tells whether a passing that fits no split was well seen on a line whose split is
// empty, and came before or after another line in an order that the course can't give. Of one
// line each passing may be any, and who has come in goes where they like.
func (s *search) disorder(j int) bool {
	q, end := &s.ps[j], len(s.marks)-1
	if q.Systems < 2 && q.Full < 0.5 || s.marks[end].lap == 0 && slices.Contains(s.path[:j], end) {
		return false
	}
	for t := range s.marks {
		if t == 0 && s.unlisted {
			continue
		}
		if s.marks[t].line != q.Line || slices.Contains(s.path, t) {
			continue
		}
		for i, u := range s.path {
			if u < 0 || s.marks[u].line == q.Line {
				continue
			}
			if u > t && s.ps[i].At < q.At || u < t && s.ps[i].At > q.At {
				return true
			}
		}
	}
	return false
}
