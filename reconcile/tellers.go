package reconcile

import (
	"slices"

	"twinmat/reconcile/clock"
	"twinmat/reconcile/course"
)

// What a field teaches of clocks and of its course, some thousands tell as well as all: of a
// greater field every second, third … athlete is asked, which ones their bib says. One more
// athlete changes nobody's place among them, and the work of learning no longer grows with
// the field.

// tellersEnough are so many as are asked at the least, where there are so many; less than the
// double at the most. They tell a clock to three milliseconds, where a crossing is told to some
// hundred and thirty.
const tellersEnough = 2500

// everyOf is every how many-th of so many is asked.
func (r *run) everyOf(n int) int { return max(1, n/r.enough) }

// tells tells whether an athlete is asked where every so many-th is.
func (e *entrant) tells(every int) bool { return every <= 1 || int(e.draw)%every == 0 }

// bibsIn is how many athletes each course has.
func (r *run) bibsIn() []int {
	bibs := make([]int, len(r.plan.Courses))
	for i := range r.ents {
		if c := r.ents[i].course; c >= 0 {
			bibs[c]++
		}
	}
	return bibs
}

// everyIn is every how many-th athlete of each course tells of it, which has so many.
func (r *run) everyIn(bibs []int) []int {
	every := slices.Clone(bibs)
	for c := range every {
		if _, laps := course.LapLine(&r.plan.Courses[c]); laps {
			every[c] = 1 // who rides with whom, all must tell
		} else {
			every[c] = r.everyOf(every[c])
		}
	}
	return every
}

// asked is what those who are asked told in the last turn.
type asked struct {
	pairsBy  answers[[][]clock.Pair]
	pairs    [][]clock.Pair
	burstsBy answers[[][]int]
	bursts   []float64 // reads of a usual burst
}

// answers are what the bibs told that are asked, row by row of so many.
type answers[T any] struct {
	every []int // per source
	rows  []T
	of    *dealt // the dealing that they rest on, where they aren't asked at every turn
}

// askedRow is how many bibs are gone through in a row.
const askedRow = 64

// ask asks all bibs, or those rows of which somebody who is asked has more reads or rulings
// than in the turn before, where calm says that nothing else is new. False: nobody of them has.
func (t *answers[T]) ask(r *run, calm bool, every []int, row func(from, to int) T) (news bool) {
	n := (len(r.ents) + askedRow - 1) / askedRow
	all := !r.again || !calm || len(t.rows) != n || !slices.Equal(every, t.every)
	if all {
		t.every, t.rows = every, make([]T, n)
	}
	stale := make([]bool, n)
	for _, k := range r.fresh {
		stale[k/askedRow] = stale[k/askedRow] || slices.ContainsFunc(every, r.ents[k].tells)
	}
	r.each(1, n, func(k int) {
		if all || stale[k] {
			t.rows[k] = row(k*askedRow, min(len(r.ents), (k+1)*askedRow))
		}
	})
	return all || slices.Contains(stale, true)
}

// everyAt is every how many-th athlete tells of a log's clock: of those whose chips both it
// and its reference read.
func (r *run) everyAt(s int) int {
	n := r.src[s].worn
	if ref := r.refs[r.src[s].line]; ref >= 0 {
		n = min(n, r.src[ref].worn)
	}
	return r.everyOf(n)
}
