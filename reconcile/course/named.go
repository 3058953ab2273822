package course

import "slices"

// Whoever rules that a lap was at the moment of a passing says which lap that passing is, and
// with it of those after it too which they are: no other ruling tells that no lap was missed
// before it, or that one was.

const (
	againstRuling = 1000 // nats: no evidence outweighs what was ruled
	namedBeam     = 4    // times as far below the best: the count that was ruled may seem odd up to then
)

// mayBe tells whether passing j may fill split t; -1 is none. The last one it may not while nobody
// is in.
func (s *search) mayBe(j, t int) bool {
	as := s.ps[j].As - 1
	if as >= 0 && s.unlisted {
		as++
	}
	if as >= 0 {
		return t == as
	}
	return t < len(s.marks)-1 || s.ps[j].At > s.a.NotIn
}

// against is what it costs to leave out a passing that was ruled to fill a split.
func (s *search) against(n *node, q *Passing) {
	if q.As == 0 {
		return
	}
	for k := range n.cost {
		n.cost[k] += againstRuling
	}
	n.low += againstRuling
}

// widest is how far above the best so far is still followed.
func (s *search) widest() float64 {
	if slices.ContainsFunc(s.ps, func(p Passing) bool { return p.As > 0 }) {
		return namedBeam * beam
	}
	return beam
}
