package passing

import "twinmat/reconcile/race"

// Span is a burst on the race clock: when it began and ended, and the time it keeps.
type Span struct{ First, Last, Kept race.Instant }

// apart is the gap between two spans, 0 where they overlap.
func apart(a, b Span) race.Millis {
	switch {
	case a.First > b.Last:
		return race.Millis(a.First - b.Last)
	case b.First > a.Last:
		return race.Millis(b.First - a.Last)
	}
	return 0
}

// Join pairs two lists of spans, each in order of time, one to one and in order, where
// they are closer than window: as many pairs as can be, and among those the ones whose
// kept times differ least in sum; of equal ones the earliest. Appended to dst as
// (index in a, index in b), -1 for a span that stays alone, in order of time.
func Join(dst [][2]int, a, b []Span, window race.Millis) [][2]int {
	i, j := 0, 0
	for i < len(a) || j < len(b) {
		// A knot is a run of spans linked by closeness; nothing in it can pair outside it.
		m, n := i, j
		for grown := true; grown; {
			grown = false
			for m < len(a) && (m == i && n == j && startsFirst(a, b, m, n) || near(a[m], b[j:n], window)) {
				m, grown = m+1, true
			}
			for n < len(b) && (m == i && n == j || near(b[n], a[i:m], window)) {
				n, grown = n+1, true
			}
		}
		dst = knot(dst, a[i:m], b[j:n], i, j, window)
		i, j = m, n
	}
	return dst
}

func startsFirst(a, b []Span, m, n int) bool { return n >= len(b) || a[m].First <= b[n].First }

func near(s Span, others []Span, window race.Millis) bool {
	for k := len(others) - 1; k >= 0; k-- {
		if apart(s, others[k]) < window {
			return true
		}
	}
	return false
}

// knot joins one run: a monotone alignment by dynamic programming, counted first by pairs,
// then by distance.
func knot(dst [][2]int, a, b []Span, i0, j0 int, window race.Millis) [][2]int {
	if len(b) == 0 || len(a) == 0 || len(a) == 1 && len(b) == 1 {
		return simple(dst, a, b, i0, j0)
	}
	best := alignments(a, b, window)
	w, i, j := len(b)+1, 0, 0
	for i < len(a) && j < len(b) {
		here := best[i*w+j]
		if apart(a[i], b[j]) < window && best[(i+1)*w+j+1].with(a[i], b[j]) == here {
			dst = append(dst, [2]int{i0 + i, j0 + j})
			i, j = i+1, j+1
			continue
		}
		if best[(i+1)*w+j] == here {
			dst = append(dst, [2]int{i0 + i, -1})
			i++
		} else {
			dst = append(dst, [2]int{-1, j0 + j})
			j++
		}
	}
	return simple(dst, a[i:], b[j:], i0+i, j0+j)
}

// JoinAlone pairs what Join left alone, where two follow each other that are closer than reach: at a
// line that is passed both ways, one who was read by either system alone within seconds crossed once,
// and antennas some metres apart make two offsets of one as long as nobody's way is known.
func JoinAlone(pairs [][2]int, a, b []Span, reach race.Millis) [][2]int {
	n := 0
	for i := 0; i < len(pairs); i++ {
		x := pairs[i]
		if i+1 < len(pairs) {
			y := pairs[i+1]
			if both := [2]int{max(x[0], y[0]), max(x[1], y[1])}; min(x[0], y[0]) < 0 && min(x[1], y[1]) < 0 && both[0] >= 0 && both[1] >= 0 && apart(a[both[0]], b[both[1]]) < reach {
				x, i = both, i+1
			}
		}
		pairs[n] = x
		n++
	}
	return pairs[:n]
}

// alignment is how well two lists join.
type alignment struct {
	pairs int
	dist  race.Millis
}

// with is an alignment and a pair more.
func (x alignment) with(a, b Span) alignment {
	return alignment{x.pairs + 1, x.dist + distance(a, b)}
}

func (x alignment) better(y alignment) bool {
	return x.pairs > y.pairs || x.pairs == y.pairs && x.dist < y.dist
}

// alignments are the best ones of what is left of both lists, a[i:] and b[j:], at
// i*(len(b)+1)+j.
func alignments(a, b []Span, window race.Millis) []alignment {
	w := len(b) + 1
	best := make([]alignment, (len(a)+1)*w)
	for i := len(a) - 1; i >= 0; i-- {
		for j := len(b) - 1; j >= 0; j-- {
			x := best[(i+1)*w+j]
			if y := best[i*w+j+1]; y.better(x) {
				x = y
			}
			if apart(a[i], b[j]) < window {
				if y := best[(i+1)*w+j+1].with(a[i], b[j]); !x.better(y) {
					x = y
				}
			}
			best[i*w+j] = x
		}
	}
	return best
}

func distance(a, b Span) race.Millis {
	if a.Kept > b.Kept {
		return race.Millis(a.Kept - b.Kept)
	}
	return race.Millis(b.Kept - a.Kept)
}

func simple(dst [][2]int, a, b []Span, i0, j0 int) [][2]int {
	if len(a) == 1 && len(b) == 1 {
		return append(dst, [2]int{i0, j0})
	}
	for i := range a {
		dst = append(dst, [2]int{i0 + i, -1})
	}
	for j := range b {
		dst = append(dst, [2]int{-1, j0 + j})
	}
	return dst
}
