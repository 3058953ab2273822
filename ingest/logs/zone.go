package logs

import "time"

// zoneTable turns times of a clock on the wall into instants. Go's own conversion takes
// now the first, now the second of two instants with the same wall time, and moves times
// that don't exist by an hour either way; here both cases are told to the caller.
type zoneTable struct {
	loc *time.Location

	// Between lo and hi (wall milliseconds) the offset is off and there is no doubt.
	lo, hi, off int64
}

// span is one stretch of a zone with one offset, in milliseconds.
type span struct{ from, to, off int64 }

const (
	farPast   = -int64(1) << 60
	farFuture = int64(1) << 60
)

// spanAt is the zone's stretch that holds an instant.
func (z *zoneTable) spanAt(t int64) span {
	at := time.UnixMilli(t).In(z.loc)
	_, off := at.Zone()
	s := span{farPast, farFuture, int64(off) * 1000}
	start, end := at.ZoneBounds()
	if !start.IsZero() {
		s.from = start.UnixMilli()
	}
	if !end.IsZero() {
		s.to = end.UnixMilli()
	}
	return s
}

// instants finds the instants at which a clock in the zone shows wall: none when the
// clocks went forward over it, two (the earlier first) in an hour that came twice.
func (z *zoneTable) instants(wall int64) (at [2]int64, n int) {
	if z.lo <= wall && wall < z.hi {
		return [2]int64{wall - z.off}, 1
	}
	// No zone is further than a day from UTC.
	s := z.spanAt(wall - dayMS)
	for {
		if t := wall - s.off; s.from <= t && t < s.to && n < 2 {
			at[n] = t
			n++
			if n == 1 {
				z.remember(s)
			}
		}
		if s.to > wall+dayMS {
			return at, n
		}
		next := z.spanAt(s.to)
		if next.to <= s.to { // about the turn of some far years time.ZoneBounds never gets on
			if n == 0 {
				at[0], n = wall-next.off, 1
			}
			return at, n
		}
		s = next
	}
}

// remember keeps the part of a stretch whose wall times occur nowhere else.
func (z *zoneTable) remember(s span) {
	z.lo, z.hi, z.off = farPast, farFuture, s.off
	if s.from != farPast {
		z.lo = s.from + max(s.off, z.spanAt(s.from-1).off)
	}
	if s.to != farFuture {
		z.hi = s.to + min(s.off, z.spanAt(s.to).off)
	}
}

// wall is what a clock in the zone shows at an instant.
func (z *zoneTable) wall(t int64) int64 {
	return t + z.spanAt(t).off
}
