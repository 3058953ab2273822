package course

import "twinmat/reconcile/race"

// met is who was beside one at each of one's crossings of the line; its room is used again.
type met struct {
	at    []int // those crossings' places among one's passings
	times []race.Instant
	all   []int32 // riders, crossing after crossing
	ends  []int   // where those of each end
	seen  []int32 // by rider: how often they are among those within reach of the crossing looked at
	reach [2]int  // the crossings that seen counts, the second excluded

	mates, with []int32
	moments     []race.Instant
}

// beside are those of one crossing.
func (m *met) beside(k int) []int32 {
	from := 0
	if k > 0 {
		from = m.ends[k-1]
	}
	return m.all[from:m.ends[k]]
}

// gather finds them all for one's passings.
func (m *met) gather(p *Pack, ps []Passing, me int) {
	m.at, m.times, m.all, m.ends, m.reach = m.at[:0], m.times[:0], m.all[:0], m.ends[:0], [2]int{}
	if len(m.seen) < len(p.by) {
		m.seen = make([]int32, len(p.by))
	}
	for j := range ps {
		if ps[j].Line == p.line {
			m.all = p.beside(m.all, ps[j].At, me)
			m.at, m.times, m.ends = append(m.at, j), append(m.times, ps[j].At), append(m.ends, len(m.all))
		}
	}
}

func (m *met) count(k int, by int32) {
	for _, r := range m.beside(k) {
		m.seen[r] += by
	}
}

// look has seen count who was met lately before the k-th crossing and after it, not then. The
// crossings are looked at in their order.
func (m *met) look(k int) {
	from, to := max(0, k-lately), min(len(m.ends), k+lately+1)
	for ; m.reach[1] < to; m.reach[1]++ {
		m.count(m.reach[1], 1)
	}
	for ; m.reach[0] < from; m.reach[0]++ {
		m.count(m.reach[0], -1)
	}
}

// matesAt are those beside one at the k-th crossing who were so at another one lately too.
func (m *met) matesAt(k int) {
	m.look(k)
	m.count(k, -1)
	m.mates = m.mates[:0]
	for _, r := range m.beside(k) {
		if m.seen[r] > 0 {
			m.mates = append(m.mates, r)
		}
	}
	m.count(k, 1)
}

// done leaves seen as it was: nobody's.
func (m *met) done() {
	for ; m.reach[0] < m.reach[1]; m.reach[0]++ {
		m.count(m.reach[0], -1)
	}
}
