package reconcile

import (
	"slices"

	"twinmat/reconcile/race"
)

// tally is what a bib's bursts in logs come to.
type tally struct {
	last  race.Instant // end of the latest, on the race clock; NoInstant: none
	reads int
}

// count tallies a bib's bursts.
func (r *run) count(e *entrant) {
	e.tally = tally{last: race.NoInstant}
	e.bursts(func(b *race.Burst) {
		e.tally.last = max(e.tally.last, r.src[b.Source].roughly(b.Last))
		e.tally.reads += b.Count
	})
}

// bursts visits those of a bib that logs tell.
func (e *entrant) bursts(f func(b *race.Burst)) { eachBurst(e.passings, f) }

func eachBurst(ps []race.Passing, f func(b *race.Burst)) {
	for k := range ps {
		for _, b := range ps[k].Bursts {
			if b != nil && b.Source >= 0 {
				f(b)
			}
		}
	}
}

// strayBursts visits those of tags that nobody owns, by a key of the tag's; of tags that are
// only counted, all that a log has of one is one burst.
func (r *run) strayBursts(f func(key int, b *race.Burst)) {
	for i := range r.strays {
		eachBurst(r.strays[i].Passings, func(b *race.Burst) { f(-1-i, b) })
	}
	var b race.Burst
	r.unlisted(func(tag, source int, first, last race.Instant) {
		b.Source, b.First, b.Last = source, first, last
		f(-1-mostStrays-tag, &b)
	})
}

// findNow is the latest minute in which two tags or two systems were read: one log with a
// wrong date must not put the race into next year.
func (r *run) findNow() {
	r.now = race.NoInstant
	last := race.NoInstant
	r.spans = r.spanned()
	for _, s := range r.spans {
		last = max(last, s.last)
	}
	if !last.Known() {
		return
	}
	for reach := race.Millis(30 * 60000); ; reach *= 8 {
		if now, ok := r.nowWithin(last, reach); ok {
			r.now = now
			return
		}
		if reach > 400*24*3600000 {
			return
		}
	}
}

// span is from when to when a log's bursts go, on the race clock; NoInstant: it has none.
type span struct{ first, last race.Instant }

// spanned finds each log's span. Where a clock keeps the order of its times its first and
// last burst tell.
func (r *run) spanned() []span {
	ordered := make([]bool, len(r.src))
	for s := range r.src {
		ordered[s] = r.src[s].inOrder()
	}
	all := r.ownSpans(ordered)
	out := make([]span, len(r.src))
	for s := range out {
		if out[s] = all[s]; ordered[s] && all[s].first.Known() {
			out[s] = span{r.src[s].roughly(all[s].first), r.src[s].roughly(all[s].last)}
		}
	}
	return out
}

// spanRow is how many bibs' bursts are looked at in a row.
const spanRow = 4096

// ownSpans are the spans on each log's own clock where that keeps the order of its times.
func (r *run) ownSpans(ordered []bool) []span {
	if r.again && r.mem.spans != nil && !slices.Contains(ordered, false) && !slices.Contains(r.crowded, true) {
		all := r.mem.spans // on the logs' own clocks: no tag's first read is later, no last one earlier
		for _, k := range r.fresh {
			r.ents[k].bursts(func(b *race.Burst) { r.widen(all, b, ordered) })
		}
		return all
	}
	rows := make([][]span, (len(r.ents)+spanRow-1)/spanRow+1)
	r.each(1, len(rows), func(n int) {
		all := make([]span, len(r.src))
		for s := range all {
			all[s] = span{race.NoInstant, race.NoInstant}
		}
		if rows[n] = all; n == len(rows)-1 {
			r.strayBursts(func(_ int, b *race.Burst) { r.widen(all, b, ordered) })
			return
		}
		for i := n * spanRow; i < min(len(r.ents), (n+1)*spanRow); i++ {
			r.ents[i].bursts(func(b *race.Burst) { r.widen(all, b, ordered) })
		}
	})
	all := rows[0]
	for _, row := range rows[1:] {
		for s := range row {
			all[s].widen(row[s].first, row[s].last)
		}
	}
	if r.mem != nil {
		if r.mem.spans = all; slices.Contains(ordered, false) {
			r.mem.spans = nil
		}
	}
	return all
}

func (r *run) widen(all []span, b *race.Burst, ordered []bool) {
	first, last := b.First, b.Last
	if x := &r.src[b.Source]; !ordered[b.Source] {
		first, last = x.roughly(first), x.roughly(last)
	}
	all[b.Source].widen(first, last)
}

func (o *span) widen(first, last race.Instant) {
	if !o.first.Known() || first.Known() && first < o.first {
		o.first = first
	}
	o.last = max(o.last, last)
}

type minute struct {
	key, source int
	two         bool
	last        race.Instant
}

func (r *run) nowWithin(last race.Instant, reach race.Millis) (race.Instant, bool) {
	seen := map[int64]minute{}
	since := make([]race.Instant, len(r.src)) // on each log's own clock, with a minute to spare
	for s := range r.src {
		if since[s] = race.NoInstant; r.src[s].inOrder() {
			since[s] = r.src[s].ownTime(last.Add(-reach - 60000))
		}
	}
	look := func(key int, b *race.Burst) {
		if b.Last < since[b.Source] {
			return
		}
		x := &r.src[b.Source]
		to := x.roughly(b.Last)
		if last.Sub(to) > reach {
			return
		}
		note := func(at race.Instant) {
			m := int64(at) / 60000
			y, ok := seen[m]
			if !ok {
				y = minute{key: key, source: b.Source, last: at}
			}
			y.two = y.two || y.key != key || r.src[y.source].system != x.system || len(b.Tags) > 1
			y.last = max(y.last, at)
			seen[m] = y
		}
		if from := x.roughly(b.First); int64(from)/60000 != int64(to)/60000 {
			note(from)
		}
		note(to)
	}
	for i := range r.ents {
		if e := &r.ents[i]; e.tally.last.Known() && last.Sub(e.tally.last) <= reach {
			e.bursts(func(b *race.Burst) { look(i, b) })
		}
	}
	r.strayBursts(look)
	best := race.NoInstant
	for _, y := range seen {
		if y.two {
			best = max(best, y.last)
		}
	}
	return best, best.Known()
}
