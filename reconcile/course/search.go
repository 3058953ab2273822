package course

import (
	"math"
	"slices"

	"twinmat/reconcile/pace"
	"twinmat/reconcile/race"
)

// Prices, in nats, and how far the search looks.
const (
	nearPrice     = 0.7   // another read of somebody who stayed near
	homePrice     = 1.5   // who is in and is read at a line that they had passed before: they went there
	nearSlope     = 25    // more, a whole way round, for what comes after a quarter of one
	strayBase     = 3.5   // a passing that fits nothing: -ln 0.03
	strayUnread   = 5     // more for a bib that a person keyed and no system ever read: few bibs are such that one could hit them, and a dead chip is one
	strayLost     = 6     // more for one of a clock that nobody knows: no pace is so odd, but known ones go first
	besideFill    = 4     // a split filled by a read from the line beside
	waitsFill     = 6     // by one of a team whose chip came from nowhere, while another brought theirs
	weakFill      = 2     // a split on the way filled by a few reads in one system, once it is known what few are
	weakFirst     = 4.5   // and seen better there soon after: the first was heard from afar
	keyedFirst    = 8     // likewise a bib that a person keyed and no system read: another one's, mistyped
	keyedSoon     = 120   // seconds in which a system may read the same crossing's wearer as they linger: a mistyped bib comes in so soon once in a hundred times
	besidePass    = 1.5   // such a read left out
	gapCap        = 12    // splits missed in a row cost no more: a chip turned away stays so
	missAgain     = 2     // a lap missed after one that was: misses come in clusters
	missAgainOpen = 1.5   // where laps have no number a gap is told rather than passed over
	lapsAtMost    = 0.4   // of their usual time: no gap is taken for more laps than that tells
	lapReach      = 16    // laps missed in a row at most
	unseenCap     = 6     // splits missed before the first one seen cost no more
	paceCap       = 9     // no pace costs more: somebody may cut the course or take a car
	cutFirst      = 1     // more on the first stretch: of two cuts, the one after having been seen
	noWay         = .02   // of the usual time: no cut is that short, it is the line beside that hears them
	stopCap       = 7     // no stop costs more: people sit down, walk, are looked after
	stayCap       = 2     // no stay costs more: it is as long as they like, not as long as their pace tells
	noLap         = 120.0 // metres: no way round is so short, so who comes again to a line within it has been there meanwhile
	driftPrice    = 25    // of a pace that moves, a unit of its log
	turnPrice     = 9     // of one that falls at once: an injury
	startZone     = 900   // seconds after which nobody who crossed the start is still about to start
	bend          = 2.5   // sd: tails beyond are straight, those of people and not of a normal law
	beam          = 22    // nats above the best so far that are still followed

	soonBack  = 0.6 // of the time of a way round: who is read again sooner stayed near
	surePace  = 3   // standard deviations that the obvious assignment may be off
	sureSide  = 1   // nats that the order of its antennas may speak against it
	sureShare = 0.4 // log: with more, one lap may be two, with the one between missed
)

// The pace classes: the search is over the athlete's pace too, for a pace that follows the
// path would not be a state.
const (
	classes = 32
	middle  = 14
)

// node is a passing that fills a split, with the cheapest way there for each pace class.
type node struct {
	split, passing int
	cost           [classes]float64 // with what was left out since, and with moves of the pace
	low            float64          // least of cost
	quick          int              // the quickest class that is nearly as cheap
	moved          [classes]uint8   // the class before that move
	from, second   [classes]int32   // nodes before: of the cheapest way and of the next
	more           [classes]float64 // that the next costs
}

// best searches all assignments and keeps the runner-up to tell what is doubtful. It walks
// the passings in order, as Viterbi does; a state is the last passing that fills a split.
func (s *search) best(out *Assignment) {
	s.nodes, s.live = append(s.nodes[:0], node{split: -1, passing: -1}), append(s.live[:0], 0)
	gun := &s.nodes[0]
	for k := range gun.cost {
		z := math.Abs(s.p[k]-s.mu) / s.sd
		gun.cost[k] = 0.5 * z * z
		if z > bend {
			gun.cost[k] = float64(bend*z) - bend*bend/2
		}
	}
	floor := 0.0
	s.beam = s.widest()
	for j := range s.ps {
		s.born = s.born[:0]
		for _, a := range s.live {
			s.arcs(a, j, floor)
		}
		floor = math.Inf(1)
		for _, a := range s.live {
			s.leave(a, j)
			floor = min(floor, s.nodes[a].low)
		}
		for _, b := range s.born {
			s.settle(b)
			floor = min(floor, s.nodes[b].low)
		}
		s.live = append(s.live, s.born...)
		s.live = slices.DeleteFunc(s.live, func(a int32) bool { return s.nodes[a].low > floor+s.beam && a != 0 })
	}
	s.finish(out)
}

// arcs lets passing j fill every split that may follow a node.
func (s *search) arcs(a int32, j int, floor float64) {
	q, r := &s.ps[j], s.nodes[a].split
	since, own := s.a.Gun, 1.0
	if r >= 0 {
		if since = s.ps[s.nodes[a].passing].At; since >= q.At {
			return
		}
		own = 1 / s.per[s.nodes[a].quick]
	}
	for t := r + 1; t < len(s.marks); t++ {
		m := &s.marks[t]
		if m.lap > 0 && t > max(r, 0)+lapReach {
			return
		}
		if m.line != q.Line || !s.mayBe(j, t) {
			continue
		}
		if m.lap > 0 && r >= 0 && q.As == 0 && float64(q.At-since)/1000 < lapsAtMost*(m.due-s.marks[r].due)*own {
			return // so many laps nobody rides who rode like this: fewer are likelier
		}
		if m.lap > 1 && r < 0 && since.Known() && s.tooFast(r, t, float64(q.At-since)/1000) {
			return // laps that nobody saw aren't cut
		}
		add := s.missedBetween(r, t, since, q.At, own) + s.fill(j, t) + s.unwhole(r, t, j, since)
		if r < 0 && m.at == 0 {
			add -= s.aboutToStart(j)
		}
		if s.nodes[a].low+add > floor+s.beam {
			continue
		}
		var stretch [classes]float64
		if r < 0 {
			s.fromGun(&stretch, j, t)
		} else {
			s.stretch(&stretch, since, q.At, s.stayedAt(s.nodes[a].passing), r, t)
		}
		if n := s.lapsTo(r, t); n > 0 {
			s.bunch(&stretch, s.nodes[a].passing, j, n)
		}
		s.join(a, t, j, add, &stretch)
	}
}

// aboutToStart is what it saves that those left out before the start stood in its zone.
func (s *search) aboutToStart(j int) float64 {
	saved := 0.0
	for i := j - 1; i >= 0 && s.ps[j].At-s.ps[i].At < 1000*startZone; i-- {
		if s.ps[i].Line == s.ps[j].Line {
			saved += s.stray(i) - min(nearPrice, s.stray(i))
		}
	}
	return saved
}

// join brings the way over node a to the node of passing j as split t.
func (s *search) join(a int32, t, j int, add float64, stretch *[classes]float64) {
	b := int32(-1)
	for _, n := range s.born {
		if s.nodes[n].split == t {
			b = n
		}
	}
	if b < 0 {
		b = int32(len(s.nodes))
		s.nodes = append(s.nodes, node{split: t, passing: j})
		s.born = append(s.born, b)
		n := &s.nodes[b]
		for k := range n.cost {
			n.cost[k], n.from[k], n.second[k], n.more[k] = math.Inf(1), -1, -1, math.Inf(1)
		}
	}
	from, to := &s.nodes[a], &s.nodes[b]
	for k := range to.cost {
		c := from.cost[k] + add + stretch[k]
		switch {
		case c < to.cost[k]:
			to.second[k], to.more[k] = to.from[k], to.cost[k]
			to.cost[k], to.from[k] = c, a
		case c < to.more[k]:
			to.second[k], to.more[k] = a, c
		}
	}
}

// settle closes a node: what the runner-up costs more, and moves of the pace to the classes
// beside, or at once to any slower one.
func (s *search) settle(b int32) {
	n := &s.nodes[b]
	step := driftPrice * (s.p[1] - s.p[0])
	low := 0
	for k := range n.cost {
		n.more[k] -= n.cost[k]
		n.moved[k] = uint8(k)
		if n.cost[k] < n.cost[low] {
			low = k
		}
	}
	n.low, n.quick = n.cost[low], low
	for k := low; k >= 0; k-- {
		if n.cost[k] < n.low+sureMargin+paceCap {
			n.quick = k
		}
	}
	for k := 1; k < classes; k++ {
		if c := n.cost[k-1] + step; c < n.cost[k] {
			n.cost[k], n.moved[k] = c, n.moved[k-1]
		}
	}
	for k := classes - 2; k >= 0; k-- {
		if c := n.cost[k+1] + step; c < n.cost[k] {
			n.cost[k], n.moved[k] = c, n.moved[k+1]
		}
	}
	for k := low; k < classes; k++ {
		if c := n.low + turnPrice; c < n.cost[k] {
			n.cost[k], n.moved[k] = c, uint8(low)
		}
	}
}

// fill is the price of a passing as that of split t, whatever the pace.
func (s *search) fill(j, t int) float64 {
	lap, _, told := s.f.faintAs(&s.ps[j])
	switch {
	case s.waits(j):
		return waitsFill
	case s.beside(j):
		return besideFill
	case told && s.marks[t].lap > 0 && !s.mayEnd(j, t):
		return max(0, lap-fitDensity)
	case weak(&s.ps[j]) && t < len(s.marks)-1 && s.f.learnt():
		return weakFill
	}
	return s.wrongWay(s.ps[j].Side, t)
}

// weak tells whether a passing is but a few reads in one system.
func weak(q *Passing) bool { return q.Systems < 2 && q.Full < 0.35 }

// strong tells whether a passing was seen as one over the antenna is.
func strong(q *Passing) bool { return q.Systems > 1 || q.Full > 0.7 }

// beside tells whether a passing is weak while the athlete was seen better at another line
// within seconds.
func (s *search) beside(j int) bool {
	const reach = 20_000
	q := &s.ps[j]
	if !weak(q) {
		return false
	}
	better := func(x *Passing) bool { return x.Line != q.Line && (x.Systems > 1 || x.Full > q.Full+0.2) }
	for i := j - 1; i >= 0 && q.At-s.ps[i].At <= reach; i-- {
		if better(&s.ps[i]) {
			return true
		}
	}
	for i := j + 1; i < len(s.ps) && s.ps[i].At-q.At <= reach; i++ {
		if better(&s.ps[i]) {
			return true
		}
	}
	return false
}

// stretch is the price of a stretch for each pace class, for somebody who stayed where it begins for
// so many seconds and was no slower for that. A stop is likelier than a burst.
func (s *search) stretch(dst *[classes]float64, from, to race.Instant, stayed float64, r, t int) {
	due, sd := s.way(r, t)
	dt := float64(to-from) / 1000
	if dt <= 0 || due <= 0 || dt < noWay*due {
		for k := range dst {
			dst[k] = math.Inf(1)
		}
		return
	}
	slow, fast := s.dearest(r, t)
	x, per, long := math.Log(dt/due), 1/sd, math.Log(restFrom)
	moving := x
	if stayed > 0 {
		moving = math.Log(max(dt-stayed, 1) / due)
	}
	if s.tooFast(r, t, dt) {
		x = math.Inf(-1)
	}
	for k := range dst {
		z, most := (s.p[k]-x)*per, fast
		if z < 0 {
			z, most = 0.8*max(0, (moving-s.p[k])*per), slow
			if s.marks[t].lap > 0 && moving-s.p[k] > long {
				most = s.restLong
			}
		}
		if z > bend { // the tails are those of people, not of a normal law
			z = float64(bend*z) - bend*bend/2
		} else {
			z *= 0.5 * z
		}
		dst[k] = min(z, most)
	}
}

// dearest is the most that being slow over a stretch costs, and being fast.
func (s *search) dearest(r, t int) (slow, fast float64) {
	if r >= 0 && r == t-1 && s.marks[t].stay {
		return stayCap, stayCap
	}
	slow, fast = stopCap, paceCap
	if s.marks[t].lap > 0 {
		slow = s.rest
	}
	if r < 0 || s.marks[r].at == 0 {
		fast += cutFirst
	}
	return slow, fast
}

// tooFast tells whether nobody can have covered a stretch in that time.
func (s *search) tooFast(r, t int, dt float64) bool {
	const room = 1.05 // for marks that don't stand just where the plan has them
	metres := s.marks[t].at
	if r >= 0 {
		metres -= s.marks[r].at
	}
	if s.most > 0 && metres > room*s.most*dt {
		return true
	}
	if due, _ := s.way(r, t); dt > 0.6*due*math.Exp(s.mu) {
		return false // no need to look the records up
	}
	top := 0.0
	for i := r + 1; i <= t; i++ {
		if s.marks[i].at == 0 {
			continue
		}
		v := pace.Ceiling(s.marks[i].sport, metres)
		if v == 0 {
			return false
		}
		top = max(top, v)
	}
	return metres > room*top*dt
}

// fromGun is the price of beginning with passing j at split t. Where there is a start line,
// it was crossed some time after the gun, or when they were seen there before it.
func (s *search) fromGun(dst *[classes]float64, j, t int) {
	g, at := s.a.Gun, s.ps[j].At
	switch {
	case !g.Known():
		*dst = [classes]float64{}
	case s.marks[t].at == 0:
		s.begins(dst, float64(at-g)/1000)
	default:
		s.stretch(dst, g, at, 0, -1, t)
		if s.marks[0].at > 0 || s.unlisted {
			return
		}
		var later [classes]float64
		for _, wait := range [...]race.Millis{30_000, 120_000, 300_000, 600_000, 1_200_000} {
			if s.stretch(&later, g.Add(wait), at, 0, -1, t); math.IsInf(later[0], 1) {
				break
			}
			for k := range dst {
				dst[k] = min(dst[k], 0.5+later[k])
			}
		}
		if !s.early.Known() {
			return
		}
		s.stretch(&later, s.early, at, 0, -1, t)
		for k := range dst {
			dst[k] = min(dst[k], 0.5+later[k])
		}
	}
}
