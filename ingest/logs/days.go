package logs

import (
	"cmp"
	"slices"

	"twinmat/reconcile/race"
)

// alignDays settles the days of a log whose times tell none and that has several files.
// The first file by path begins on the race's day. A later one goes on where those before
// it ended, if it begins within an hour of that; else it runs beside them, on the day that
// brings its first line nearest to theirs.
func (l *Log) alignDays() {
	var files []*file
	for _, f := range l.files {
		if f.clocks > 0 {
			files = append(files, f)
		}
	}
	if len(files) < 2 {
		return
	}
	slices.SortFunc(files, func(a, b *file) int { return cmp.Compare(a.path, b.path) })
	from, to := int64(0), int64(0)
	for i, f := range files {
		day := l.firstDay(f.firstTime)
		if i > 0 {
			day = nextDay(f.firstTime, from, to)
		}
		if day != f.firstDay {
			l.moveDays(f, day-f.firstDay)
		}
		if i == 0 {
			from, to = f.clockFrom, f.clockTo
		}
		from, to = min(from, f.clockFrom), max(to, f.clockTo)
	}
}

// nextDay is the day of a file's first time of day, after files that reach over from…to.
func nextDay(time, from, to int64) int64 {
	day := floorDay(to)
	for _, d := range []int64{day, day + dayMS, day - dayMS} {
		if away := d + time - to; -midnightDisorder <= away && away <= midnightDisorder {
			return d
		}
	}
	best := floorDay(from) - dayMS
	for d := best; d <= day+dayMS; d += dayMS {
		if outside(d+time, from, to) < outside(best+time, from, to) {
			best = d
		}
	}
	return best
}

// outside is how far t lies from a stretch, 0 inside.
func outside(t, from, to int64) int64 { return max(from-t, t-to, 0) }

// moveDays moves all that a file gave by whole days on the wall.
func (l *Log) moveDays(f *file, by int64) {
	s := &l.store
	var moved []race.Read
	var tags []uint32
	s.take(f.index, func(tag uint32, _ *rareState, of []race.Read) {
		for _, r := range of {
			wall := l.zone.wall(int64(r.At)) + by
			at, n := l.zone.instants(wall)
			if n == 0 {
				at[0] = int64(r.At) + by
			}
			r.At = race.Instant(at[0])
			moved, tags = append(moved, r), append(tags, s.numbers[tag])
		}
	})
	for i, r := range moved {
		s.add(tags[i], r)
	}
	l.placed.move(f.index, by)
	f.firstDay += by
	f.clockFrom += by
	f.clockTo += by
	f.chain.day += by
	if f.chain.latest != farPast {
		f.chain.latest += by
	}
}
