package reconcile

// What a field teaches of clocks and of its course, some thousands tell as well as all: of a
// greater field every second, third … athlete is asked, which ones their bib says. One more
// athlete changes nobody's place among them, and the work of learning no longer grows with
// the field.

// tellersEnough are so many as are asked at the least, where there are so many; less than the
// double at the most.
const tellersEnough = 6000

// everyOf is every how many-th of so many is asked.
func (r *run) everyOf(n int) int { return max(1, n/r.enough) }

// tells tells whether an athlete is asked where every so many-th is.
func (e *entrant) tells(every int) bool { return every <= 1 || int(e.draw)%every == 0 }

// everyAt is every how many-th athlete tells of a log's clock: of those whose chips both it
// and its reference read.
func (r *run) everyAt(s int) int {
	n := r.src[s].worn
	if ref := r.refs[r.src[s].line]; ref >= 0 {
		n = min(n, r.src[ref].worn)
	}
	return r.everyOf(n)
}
