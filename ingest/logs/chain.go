package logs

import "twinmat/reconcile/race"

const (
	// Lines of one file may stand out of order by so much where the hour comes twice.
	foldDisorder = 5 * minuteMS
	// And by so much about a midnight of a log that tells no dates.
	midnightDisorder = hourMS
	// A first read so long before the first gun belongs to the day after.
	longBeforeGun = 18 * hourMS
)

// chain is what the order of a file's lines tells about times that are not told whole:
// the day of a time of day, and which of two instants in an hour that comes twice.
type chain struct {
	begun  bool
	day    int64 // wall milliseconds of the midnight before the last time of day
	time   int64 // the last time of day
	latest int64 // the instant reached, farPast: none yet
}

// resolve makes a line's instant. why is set where there is none.
func (l *Log) resolve(f *file, p *parsed) (at int64, why string) {
	wall := p.ms
	switch p.kind {
	case instant:
		return p.ms, ""
	case clock:
		wall = l.dayOf(f, p)
	}
	if l.zone.lo <= wall && wall < l.zone.hi {
		at = wall - l.zone.off
	} else if two, n := l.zone.instants(wall); n == 0 {
		return 0, whyGap
	} else if at = two[0]; n == 2 {
		at = l.fold(f, p, wall, two)
	}
	if at > f.chain.latest || at < f.chain.latest-foldDisorder {
		f.chain.latest = at
	}
	return at, ""
}

// fold chooses in an hour that comes twice: the earlier, unless that lies before what the
// file has reached already.
func (l *Log) fold(f *file, p *parsed, wall int64, two [2]int64) int64 {
	key := folded{wall, p.tag, p.rssi, p.antenna, f.index}
	if at, ok := l.folded[key]; ok {
		return at
	}
	at := two[0]
	if f.chain.latest != farPast && at < f.chain.latest-foldDisorder {
		at = two[1]
	}
	if l.folded == nil {
		l.folded = make(map[folded]int64)
	}
	l.folded[key] = at
	return at
}

// dayOf adds the day to a time of day: each fall of more than twelve hours is a midnight.
// A rise of nearly a day, soon after a midnight, is a line from before it.
func (l *Log) dayOf(f *file, p *parsed) (wall int64) {
	c := &f.chain
	key := placeOf(f, p)
	if day, ok := l.placed.day(key); ok {
		if !c.begun {
			c.begun, c.day, c.time = true, day, p.ms
		}
		return day + p.ms
	}
	day := c.day
	switch {
	case !c.begun:
		day = l.firstDay(p.ms)
		*c = chain{begun: true, day: day, time: p.ms, latest: c.latest}
		f.firstDay = day
	case p.ms < c.time-12*hourMS:
		day += dayMS
		c.day, c.time = day, p.ms
	case p.ms > c.time+dayMS-midnightDisorder && day > f.firstDay:
		day -= dayMS
	default:
		c.time = p.ms
	}
	l.placed.put(key, day)
	wall = day + p.ms
	if f.clocks == 0 {
		f.clockFrom, f.clockTo, f.firstTime = wall, wall, p.ms
	}
	f.clocks++
	f.clockFrom, f.clockTo = min(f.clockFrom, wall), max(f.clockTo, wall)
	return wall
}

// firstDay is the day of a log's first time of day: the one that puts it on the day of the
// first gun, else on the race's date, as the race's zone has it. A log whose first read
// would lie a night before the gun began after midnight.
func (l *Log) firstDay(timeOfDay int64) (day int64) {
	date, gun := l.raceDay()
	from, _ := l.home.instants(date)
	start := from[0]
	day = floorDay(start + l.zone.spanAt(start).off)
	for range 3 {
		at, n := l.zone.instants(day + timeOfDay)
		if n == 0 {
			at[0] = day + timeOfDay - l.zone.spanAt(start).off
		}
		switch {
		case at[0] < start:
			day += dayMS
		case at[0] >= start+dayMS:
			day -= dayMS
		case gun != farPast && at[0] < gun-longBeforeGun:
			return day + dayMS
		default:
			return day
		}
	}
	return day
}

// raceDay is the wall midnight of the day of the first gun, else of the race's date, and
// the first gun (farPast: none known).
func (l *Log) raceDay() (midnight, gun int64) {
	gun = farPast
	if l.plan == nil {
		return 0, gun
	}
	for i := range l.plan.Waves {
		if g := l.plan.Waves[i].Gun; g != race.NoInstant && (gun == farPast || int64(g) < gun) {
			gun = int64(g)
		}
	}
	if gun != farPast {
		return floorDay(l.home.wall(gun)), gun
	}
	if l.plan.Date.IsZero() {
		return 0, gun
	}
	y, m, d := l.plan.Date.Date()
	days, _ := civilDay(y, int(m), d)
	return days * dayMS, gun
}

// floorDay is the midnight at or before wall.
func floorDay(wall int64) int64 {
	d := wall % dayMS
	if d < 0 {
		d += dayMS
	}
	return wall - d
}
