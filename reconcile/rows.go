package reconcile

import (
	"slices"

	"twinmat/reconcile/race"
)

// rows are the results of a race before suspects and ranks touch them, and what they come to
// by line.
type rows struct {
	results []*race.Result // in order of bib
	byBib   map[string]int
	place   []int32 // per entrant: its result, -1: it has none
	seen    []seenAtLine
	asked   []bool // per result: they tell of their course's field
	now     race.Instant
	same    bool  // they are those of the turn before
	changed []int // but for these
}

// seenAtLine is how many passings each system saw at a line, how many of those fill a split,
// and how many splits anybody saw filled there.
type seenAtLine struct {
	passings, inSplit [race.Systems]int
	all               int
}

// rows makes the results of all entrants, or those of which something is new.
func (r *run) rows() *rows {
	var x *rows
	if r.mem != nil && r.mem.rows != nil && r.sameRows(r.mem.rows) {
		x = r.mem.rows
		x.renew(r)
		x.same = true
	} else {
		x = r.allRows()
	}
	if r.mem == nil {
		return x
	}
	x.now = r.now
	r.mem.rows = x
	out := *x // suspects and ranks write on a copy
	out.results = slices.Clone(x.results)
	return &out
}

func (r *run) allRows() *rows {
	x := &rows{place: make([]int32, len(r.ents)), seen: make([]seenAtLine, len(r.plan.Lines))}
	n := 0
	for i := range r.ents {
		if x.place[i] = -1; r.hasRow(&r.ents[i]) {
			x.place[i] = int32(n)
			n++
		}
	}
	x.results, x.byBib, x.asked = make([]*race.Result, n), make(map[string]int, n), make([]bool, n)
	r.each(256, len(r.ents), func(i int) {
		if k := x.place[i]; k >= 0 {
			e := &r.ents[i]
			x.results[k] = r.result(e)
			x.asked[k] = r.asks(e)
		}
	})
	for k := range x.results {
		x.byBib[x.results[k].Bib] = k
		x.count(x.results[k].Passings, 1)
	}
	return x
}

// hasRow: who is on no list has a result only with a passing.
func (r *run) hasRow(e *entrant) bool { return e.listed || len(e.passings) > 0 }

// sameRows tells whether the results of the turn before can be gone on with: those of races
// that end by the clock, by a ruling or by the leader hang on more than an athlete's own
// passings.
func (r *run) sameRows(x *rows) bool {
	for c := range r.plan.Courses {
		if k := &r.plan.Courses[c]; k.Flagged || (k.Open || k.TimeLimit > 0) && (!r.again || k.TimeLimit > 0 && r.guns.between(c, x.now.Add(-k.TimeLimit), r.now.Add(-k.TimeLimit))) {
			return false
		}
	}
	if !r.again {
		return r.sameBibs(x)
	}
	return !slices.ContainsFunc(r.fresh, func(k int) bool { return (x.place[k] >= 0) != r.hasRow(&r.ents[k]) })
}

// sameBibs tells whether, all having been dealt anew, the results are still the same people's
// on the same courses; whoever's else is another doesn't stand.
func (r *run) sameBibs(x *rows) bool {
	if len(x.place) != len(r.ents) {
		return false
	}
	for i := range r.ents {
		e := &r.ents[i]
		if (x.place[i] >= 0) != r.hasRow(e) {
			return false
		}
		if x.place[i] < 0 {
			continue
		}
		y := x.results[x.place[i]]
		was := y.Athlete
		was.Status = e.athlete.Status
		if was != e.athlete || y.Listed != e.listed || y.Course != e.course {
			return false
		}
		bib := e.athlete.Bib
		if y.Status != e.athlete.Status || !slices.Equal(y.Chips, e.chips) || !slices.Equal(y.Rulings, r.fx.ByBib[bib]) || y.Adjust != r.fx.Adjust[bib] {
			e.stands = false
		}
	}
	return true
}

// renew makes those results anew whose passings or times are others, or of whom something else is ruled.
func (x *rows) renew(r *run) {
	x.changed = nil
	renew := func(i int) {
		if e := &r.ents[i]; (!e.stands || e.ruled) && x.place[i] >= 0 {
			y := x.results[x.place[i]]
			x.count(y.Passings, -1)
			y = r.result(e)
			x.count(y.Passings, 1)
			x.results[x.place[i]] = y
			x.changed = append(x.changed, int(x.place[i]))
		}
	}
	if r.onlyFresh() {
		for _, i := range slices.Sorted(slices.Values(r.fresh)) {
			renew(i)
		}
		return
	}
	for i := range r.ents {
		renew(i)
	}
}

// count adds, or takes away, the passings of one athlete.
func (x *rows) count(ps []race.Passing, n int) {
	for k := range ps {
		p := &ps[k]
		if p.Fate == race.Voided {
			continue
		}
		at, some := &x.seen[p.Line], false
		for s, b := range p.Bursts {
			if b == nil {
				continue
			}
			some = true
			at.passings[s] += n
			if p.Split >= 0 {
				at.inSplit[s] += n
			}
		}
		if some && p.Split >= 0 {
			at.all += n
		}
	}
}
