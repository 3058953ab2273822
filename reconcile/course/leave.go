package course

import "math"

// leave adds the price of passing j left out after a node. Who has passed may stay near and
// be read again, until the course brings them back; anything else is odd.
func (s *search) leave(a int32, j int) {
	n := &s.nodes[a]
	q, stray := &s.ps[j], s.stray(j)
	s.against(n, q)
	r, since := n.split, s.a.Gun
	if r >= 0 {
		since = s.ps[n.passing].At
	}
	due, near := s.returns(r, q.Line)
	if _, _, told := s.f.faintAs(q); told || !near { // who is heard so faintly may have been there all the time
		if r == len(s.marks)-1 && sameChip(q, &s.ps[n.passing]) && s.behind(a, q.Line) {
			stray = math.Min(stray, homePrice)
		}
		for k := range n.cost {
			n.cost[k] += stray
		}
		n.low += stray
		return
	}
	dt, again := float64(q.At-since)/1000, nearPrice
	switch {
	case r < 0:
	case s.ps[n.passing].Keyed && !q.Keyed && q.Systems > 0 && dt > keyedSoon:
		again += keyedFirst
	case !strong(q):
	case r < len(s.marks)-1 && weak(&s.ps[n.passing]):
		again += weakFirst
	}
	n.low = math.Inf(1)
	for k := range n.cost {
		switch share := dt * s.per[k] / due; {
		case due < 0 && s.leg > 0 && r == len(s.marks)-1 && dt*s.per[k] > soonBack*s.leg:
			n.cost[k] += math.Min(again+s.after, stray) // as late as the end of another leg
		case due < 0:
			n.cost[k] += again
		case s.done(r) && share > outLap:
			n.cost[k] += math.Min(again+s.after, stray)
		case share < soonBack:
			n.cost[k] += math.Min(again+float64(nearSlope*math.Max(0, share-0.25)), stray)
		default:
			n.cost[k] += stray
		}
		n.low = math.Min(n.low, n.cost[k])
	}
}

// behind tells whether who filled the last split of a course without laps, by the cheapest way
// there, has passed a line as often as the course does: they may be anywhere now, with their chip.
func (s *search) behind(a int32, line int) bool {
	t := len(s.marks) - 1
	for t >= 0 && s.marks[t].line != line {
		t--
	}
	if t < 0 || s.marks[t].lap > 0 {
		return false
	}
	for class := s.cheapest(a); a > 0 && s.nodes[a].split > t; {
		n := &s.nodes[a]
		class = int(n.moved[class])
		a = n.from[class]
	}
	return a > 0 && s.nodes[a].split == t
}

// stray is the price of a passing that fits nothing: the odder the more saw it. A few reads
// in one system may come from the line beside; a full burst, or one in both, does not.
func (s *search) stray(j int) float64 {
	q := &s.ps[j]
	switch {
	case s.beside(j), s.waits(j):
		return besidePass
	case q.Keyed && s.unread:
		return strayBase + strayUnread
	case q.Keyed:
		return strayBase // a bib is mistyped now and then
	case q.Systems == 0:
		return strayBase + strayLost
	}
	price := strayBase + float64(6*float64(max(0, q.Systems-1))) + float64(18*q.Full)
	if _, stray, told := s.f.faintAs(q); told {
		return math.Min(price, stray)
	}
	return price
}
