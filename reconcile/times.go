package reconcile

import "twinmat/reconcile/race"

// timeAll times those who weren't as they were assigned.
func (r *run) timeAll() {
	r.eachTouched(func(e *entrant) {
		if !e.timed {
			r.timeAnew(e)
			r.lastMade(e)
		}
	})
}

// timeAnew gives a bib's passings their systems' times on the race clock and the one that is kept.
func (r *run) timeAnew(e *entrant) {
	for k := range e.passings {
		r.time(e, &e.passings[k])
	}
	r.ruled(e)
	r.count(e)
}

// time works out what each system says of a passing, and keeps main's, else backup's, else
// hand's.
func (r *run) time(e *entrant, p *race.Passing) {
	u, g := unknown, 0
	if p.Split >= 0 {
		u, g = r.slowness(e, p.Split), r.group(e, p.Split)
	}
	keep, was := r.keep(e, p), p.At
	var side [race.Systems]race.Instant
	for sys, b := range p.Bursts {
		side[sys] = was
		if b != nil {
			if t, ok := r.sideOf(e, p, b, keep); ok {
				side[sys] = t
			}
		}
	}
	p.From, p.At, p.PlusMinus = race.FromNone, race.NoInstant, race.NoMillis
	for sys := race.Systems - 1; sys >= 0; sys-- {
		b := p.Bursts[sys]
		if b == nil {
			continue
		}
		at, pm, why := r.timeOf(e, p, b, keep, side[sys], u, g)
		p.Seen[sys], p.PM[sys] = at, pm
		p.SetUnsure(race.System(sys), why)
		p.At, p.From, p.PlusMinus = p.Seen[sys], race.FromSystem(race.System(sys)), p.PM[sys]
	}
}

// timeOf is the kept time of one burst of a passing on the race clock, its 95 % half-width, and why it can't be
// trusted yet; about is when it was.
func (r *run) timeOf(e *entrant, p *race.Passing, b *race.Burst, keep race.Keep, about race.Instant, u float64, group int) (race.Instant, race.Millis, string) {
	if b.Source < 0 {
		return b.First, witnessWidth, ""
	}
	x := &r.src[b.Source]
	t := b.Time(keep)
	if x.ref {
		at, pm := x.onRace(t)
		at, more, unsure := r.move(p, at)
		return at, max(r.plan.Resolution, pm, more), unsure
	}
	if x.model == nil {
		return t.Add(-x.rough), r.plan.Resolution, "no clock model"
	}
	var more race.Millis
	cross := r.crossed(e, p, b, keep, u, group)
	at, pm, unsure := x.model.RaceNear(t, about, cross)
	if main, ok := r.mainOf(p, keep); ok && apartBy(at, main) > r.plan.Lines[p.Line].Tolerance {
		cross.Beside = lasting(p.Bursts[race.Main])
		if t, m, why, ok := x.model.RaceWalked(t, about, cross); ok && apartBy(t, main) <= r.plan.Lines[p.Line].Tolerance {
			at, pm, unsure = t, m, why // the speed of the crossing explains what were a clash else
		}
	}
	at, more, _ = r.move(p, at)
	return at, max(pm, more), unsure
}

// mainOf is when the line's reference had a passing, if that is main and saw it.
func (r *run) mainOf(p *race.Passing, keep race.Keep) (race.Instant, bool) {
	m := p.Bursts[race.Main]
	if m == nil || m.Source < 0 || !r.src[m.Source].ref {
		return 0, false
	}
	at, _ := r.src[m.Source].onRace(m.Time(keep))
	return at, true
}

// apartBy is how far two moments lie apart.
func apartBy(a, b race.Instant) race.Millis { return max(a.Sub(b), b.Sub(a)) }

// witnessWidth is how far a time seen by eye and keyed by hand may be off: reaction and
// keying, common practice.
const witnessWidth = 1000 * race.Millis(1)

func (r *run) result(e *entrant) *race.Result {
	x := &race.Result{Athlete: e.athlete, Listed: e.listed, Course: e.course, Gun: e.gun, Passings: e.passings, Chips: e.chips, Splits: e.splits, Filled: e.filled,
		StartAt: race.NoInstant, Finish: -1, FinishAt: race.NoInstant, GunTime: race.NoMillis, NetTime: race.NoMillis, Official: race.NoMillis, PM: race.NoMillis,
		Rulings: r.fx.ByBib[e.athlete.Bib], Adjust: r.fx.Adjust[e.athlete.Bib]}
	if e.course < 0 {
		x.State = race.Unseen
		if len(e.passings) > 0 {
			x.State = race.Running
		}
		return x
	}
	c := &r.plan.Courses[e.course]
	r.startOf(e, x)
	r.finishOf(e, c, x)
	r.stateOf(e, x)
	r.timesOf(c, x)
	return x
}

// startOf finds where net time runs from: the athlete's own start passing, never from before
// the gun unless an early start was accepted; the gun where the course has no start.
func (r *run) startOf(e *entrant, x *race.Result) {
	if len(e.splits) == 0 || e.splits[0].At != 0 {
		x.StartAt = e.gun
		return
	}
	if k := e.filled[0]; k >= 0 {
		x.StartAt = max(e.passings[k].At, e.gun)
		return
	}
	for k := range e.passings {
		p := &e.passings[k]
		if p.Fate == race.BeforeGun && p.Line == e.splits[0].Line && e.gun.Sub(p.At) <= race.EarlyReach {
			x.StartAt = e.gun
			if _, ok := r.fx.Accepts[race.EarlyStart+":"+e.athlete.Bib]; ok {
				x.StartAt = p.At
			}
		}
	}
}

// finishOf finds the split that counts as the finish, laps, and the last place seen.
func (r *run) finishOf(e *entrant, c *race.Course, x *race.Result) {
	last := -1
	for s, k := range e.filled {
		if k >= 0 && (last < 0 || e.splits[s].At >= e.splits[last].At) {
			last = s
		}
	}
	if last >= 0 {
		x.LastSplit, x.Laps = e.splits[last].ID, e.splits[last].Lap
		if c.LapLength > 0 && x.Laps == 0 {
			for s := last; s >= 0; s-- {
				x.Laps = max(x.Laps, e.splits[s].Lap)
			}
		}
	}
	switch {
	case c.TimeLimit > 0 || c.Open:
		if last >= 0 && e.splits[last].Lap > 0 && r.over(e, c) {
			x.Finish = last
		}
	case c.Flagged:
		if last >= 0 && r.flagged(e, last) {
			x.Finish = last
		}
	default:
		if n := len(e.filled); n > 0 && e.filled[n-1] >= 0 {
			x.Finish = n - 1
		}
	}
	if x.Finish >= 0 {
		p := &e.passings[e.filled[x.Finish]]
		x.FinishAt, x.From, x.PM = p.At, p.From, p.PlusMinus
	}
}

// over tells whether an open race has ended for the athlete.
func (r *run) over(e *entrant, c *race.Course) bool {
	if _, closed := r.fx.Closed[e.course]; closed {
		return true
	}
	return c.TimeLimit > 0 && e.gun.Known() && r.now.Known() && r.now >= e.gun.Add(c.TimeLimit)
}

// flagged tells whether a rider's last passing is the one that ends a flagged race for them.
func (r *run) flagged(e *entrant, last int) bool {
	if last == len(e.splits)-1 {
		return true
	}
	at := r.flags[e.course].at
	return at.Known() && e.passings[e.filled[last]].At >= at
}

func (r *run) stateOf(e *entrant, x *race.Result) {
	status := e.athlete.Status
	switch {
	case status != "":
		x.State = status
	case x.Finish >= 0:
		x.State = race.Clean
	default:
		x.State = race.Unseen
		for k := range e.passings {
			p := &e.passings[k]
			if p.Fate == race.Voided || p.Fate == race.NotOnCourse {
				continue
			}
			if p.Split >= 0 || !e.gun.Known() || p.At >= e.gun || p.Fate == race.BeforeGun && e.gun.Sub(p.At) <= race.EarlyReach && e.splits[0].At == 0 && p.Line == e.splits[0].Line {
				x.State = race.Running
			}
		}
	}
	if x.State == race.DNS || x.State == race.DNF {
		x.Finish, x.FinishAt, x.From, x.PM = -1, race.NoInstant, race.FromNone, race.NoMillis
	}
}

// timesOf are gun, net and official time.
func (r *run) timesOf(c *race.Course, x *race.Result) {
	if x.Finish < 0 {
		return
	}
	x.GunTime, x.NetTime = x.FinishAt.Sub(x.Gun), x.FinishAt.Sub(x.StartAt)
	if t := c.FinishOf(x, 0).Time; t.Known() {
		x.Official = c.Official.Rounding.Apply(t)
	}
}
