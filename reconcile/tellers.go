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

// class is who tells of a course: of so many bibs every how many-th, and how many those are.
type class struct{ bibs, every, tellers int }

// muster counts who tells of each course, of those who were dealt reads.
func (r *run) muster() {
	if r.again && r.mem.classes != nil {
		r.classes, r.tellers = r.mem.classes, r.mem.tellers
		return
	}
	r.classes, r.tellers = make([]class, len(r.plan.Courses)), make([][]int, len(r.plan.Courses))
	for i := range r.ents {
		if c := r.ents[i].course; c >= 0 {
			r.classes[c].bibs++
		}
	}
	for c := range r.classes {
		if _, laps := course.LapLine(&r.plan.Courses[c]); laps {
			r.classes[c].every = 1 // who rides with whom, all must tell
		} else {
			r.classes[c].every = r.everyOf(r.classes[c].bibs)
		}
	}
	for i := range r.ents {
		if e := &r.ents[i]; r.asks(e) {
			r.classes[e.course].tellers++
			r.tellers[e.course] = append(r.tellers[e.course], i)
		}
	}
	if r.mem != nil {
		r.mem.classes, r.mem.tellers = r.classes, r.tellers
	}
}

// asks tells whether an athlete is asked of their course's field.
func (r *run) asks(e *entrant) bool { return e.course >= 0 && e.tells(r.classes[e.course].every) }

// asked is what those who are asked told in the last turn.
type asked struct {
	pairsBy  answers[[][]clock.Pair]
	pairs    [][]clock.Pair
	burstsBy answers[[][]int]
	bursts   []lengths // per source
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
// than in the turn before, where calm says that nothing else is new. It tells whether all were
// asked, and whether any was.
func (t *answers[T]) ask(r *run, calm bool, every []int, row func(from, to int, old T) T) (whole, any bool) {
	n := (len(r.ents) + askedRow - 1) / askedRow
	all := !r.again || !calm || len(t.rows) != n || !slices.Equal(every, t.every)
	if all {
		t.every, t.rows = every, make([]T, n)
	}
	var stale []int
	if all {
		stale = make([]int, n)
		for k := range stale {
			stale[k] = k
		}
	} else {
		for _, k := range r.fresh {
			if slices.ContainsFunc(every, r.ents[k].tells) {
				stale = append(stale, k/askedRow)
			}
		}
		slices.Sort(stale)
		stale = slices.Compact(stale)
	}
	r.each(1, len(stale), func(n int) {
		k := stale[n]
		t.rows[k] = row(k*askedRow, min(len(r.ents), (k+1)*askedRow), t.rows[k])
	})
	return all, all || len(stale) > 0
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
