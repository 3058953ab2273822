package reconcile

import (
	"math"

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
		e.tally.last = max(e.tally.last, r.src[b.Source].roughly(b.Last()))
		e.tally.reads += int(b.Count)
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
// only counted, a log's first read and its last are one each.
func (r *run) strayBursts(f func(key int, b *race.Burst)) {
	for i := range r.strays {
		eachBurst(r.strays[i].Passings, func(b *race.Burst) { f(-1-i, b) })
	}
	r.unlisted(func(tag, source int, first, last race.Instant) {
		for _, at := range [...]race.Instant{first, last} {
			f(-1-mostStrays-tag, &race.Burst{Source: int32(source), First: at})
		}
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
	if r.now = r.nowByLast(minuteOf(last)); r.now.Known() {
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

// nowByLast looks at when each was last read, in a minute and the two before it: in each only
// those were read who were last read in it or later, and of the later ones there are few, else
// theirs had been such a minute. NoInstant: none of the three is.
func (r *run) nowByLast(latest int64) race.Instant {
	var few []int
	for m := latest; m > latest-3; m-- {
		n, last, who := r.who.lastIn(m)
		if n == 1 {
			few = append(few, who)
		}
		y := minute{two: n > 1, last: last, key: noKey}
		look := func(key int, b *race.Burst) {
			x := &r.src[b.Source]
			for _, at := range []race.Instant{x.roughly(b.First), x.roughly(b.Last())} {
				if minuteOf(at) == m {
					r.note(&y, key, b, at)
				}
			}
		}
		for _, i := range few {
			r.ents[i].bursts(func(b *race.Burst) { look(i, b) })
		}
		r.strayBursts(look)
		if y.two {
			return y.last
		}
	}
	return race.NoInstant
}

// minuteOf is the minute that a moment lies in.
func minuteOf(t race.Instant) int64 { return int64(t) / 60000 }

// minute is what was read in one: by whom and what first, whether by two, and when last.
type minute struct {
	key, source int
	two         bool
	last        race.Instant
}

// noKey is the key of nobody: nothing was noted yet.
const noKey = math.MinInt

// note notes a moment of a burst, of an entrant or of a stray tag, that lies in the minute.
func (r *run) note(y *minute, key int, b *race.Burst, at race.Instant) {
	if y.key == noKey {
		y.key, y.source = key, int(b.Source)
	}
	y.two = y.two || y.key != key || r.src[y.source].system != r.src[b.Source].system || len(b.Tags()) > 1
	y.last = max(y.last, at)
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
		if b.Last() < since[b.Source] {
			return
		}
		x := &r.src[b.Source]
		to := x.roughly(b.Last())
		if last.Sub(to) > reach {
			return
		}
		note := func(at race.Instant) {
			y, ok := seen[minuteOf(at)]
			if !ok {
				y = minute{key: noKey, last: at}
			}
			r.note(&y, key, b, at)
			seen[minuteOf(at)] = y
		}
		if from := x.roughly(b.First); minuteOf(from) != minuteOf(to) {
			note(from)
		}
		note(to)
	}
	for i, at := range r.who.last {
		if at.Known() && last.Sub(at) <= reach {
			r.ents[i].bursts(func(b *race.Burst) { look(i, b) })
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
