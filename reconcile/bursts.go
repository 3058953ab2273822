package reconcile

import "slices"

// usualBursts finds how many reads a burst that fills a split has in each log: the middle of
// those of everybody who is asked.
func (r *run) usualBursts() {
	every := make([]int, len(r.src))
	for s := range every {
		every[s] = r.everyOf(r.src[s].worn)
	}
	kept := &asked{}
	if r.mem != nil {
		kept = &r.mem.asked
	}
	was := slices.Clone(kept.burstsBy.rows)
	whole, any := kept.burstsBy.ask(r, r.roughCalm, every, func(from, to int, _ [][]int) [][]int { return r.countBursts(r.ents[from:to], every) })
	if whole {
		was, kept.bursts = nil, make([]lengths, len(r.src))
	}
	for k := 0; any && k < len(kept.burstsBy.rows); k++ {
		row := kept.burstsBy.rows[k]
		if was != nil && sameSlice(was[k], row) {
			continue // nobody of it was asked
		}
		for s := range row {
			if was == nil {
				kept.bursts[s].put(row[s], 1)
			} else if !slices.Equal(was[k][s], row[s]) {
				kept.bursts[s].put(was[k][s], -1)
				kept.bursts[s].put(row[s], 1)
			}
		}
	}
	for s := range r.src {
		r.src[s].burst = kept.bursts[s].middle()
	}
}

// countBursts are the reads of each burst of those of these who are asked, per source.
func (r *run) countBursts(ents []entrant, every []int) [][]int {
	counts := make([][]int, len(r.src))
	for i := range ents {
		e := &ents[i]
		if !slices.ContainsFunc(every, e.tells) {
			continue
		}
		e = r.atFirst(e)
		for k := range e.passings {
			p := &e.passings[k]
			for _, b := range p.Bursts {
				if b != nil && b.Source >= 0 && p.Split >= 0 && e.tells(every[b.Source]) {
					counts[b.Source] = append(counts[b.Source], int(b.Count))
				}
			}
		}
	}
	return counts
}

// lengths are how many bursts have so many reads.
type lengths struct {
	of []int // by number of reads
	n  int   // of them all
}

// longest is as long as a burst is counted: who lies on a mat for an hour is no usual one.
const longest = 1 << 16

// put puts bursts of these lengths in, or takes them out: n is 1 or -1.
func (x *lengths) put(reads []int, n int) {
	for _, k := range reads {
		k = min(k, longest)
		for k >= len(x.of) {
			x.of = append(x.of, make([]int, max(64, k+1-len(x.of)))...)
		}
		x.of[k] += n
		x.n += n
	}
}

// middle is the length in the middle, the greater of two; 0: there is none.
func (x *lengths) middle() float64 {
	if x.n == 0 {
		return 0
	}
	before := 0
	for k, n := range x.of {
		if before += n; before > x.n/2 {
			return float64(k)
		}
	}
	return 0
}
