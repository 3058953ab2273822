package suspect

import (
	"fmt"
	"math"
	"slices"

	"twinmat/reconcile/race"
	"twinmat/reconcile/robust"
)

const (
	// rushGap, in seconds, is the longest pause inside a wave's rush over its start line;
	// those who cross alone before it are warming up or early.
	rushGap = 6
	// gunLate, in seconds, beyond what the race's other waves need, is well after the gun:
	// a front row stands at the line and crosses within a few seconds (common practice).
	gunLate = 20
	// gunEarly, in seconds: a front row that leans on the gun gains less.
	gunEarly = 4
	// rushLeast is the fewest athletes that make a rush, and rushShare the least share of
	// a wave whose crossing before the gun puts the gun in doubt, not the athletes.
	rushLeast = 5
	rushShare = 0.03
	// loneShare of a wave, loneMost at the least, may cross between the gun that the plan tells and
	// a rush that began well after it: they set out by the clock.
	loneShare = 0.02
	loneMost  = 2
	// rushBegun is the share of a wave that must have crossed before anything is said: a few
	// who warm up over the start line, close together, are no start.
	rushBegun = 0.2
	// flowLeast seconds between two, in the mean over the first quarter of a wave, are no rush:
	// who may start as they like, all morning, tell no gun by when the first of them do.
	flowLeast = 2
)

// rush is what the start line tells of a wave's gun.
type rush struct {
	onset  race.Instant
	of     int     // athletes of the wave
	n      int     // of those, with a start passing
	before int     // of those, in the rush and before the gun
	slow   float64 // seconds until its first quarter had crossed, where they came one by one; 0: as a field does
}

// doubtfulGun: a wave's first start passings lie well before or after its gun, or it has no
// gun yet and has started. It holds the wave. Once somebody has found the gun right as it stands,
// it is each athlete's own matter when they crossed.
func doubtfulGun(f *field) []race.Suspect {
	rushes, touched := make([]rush, len(f.plan.Waves)), f.touched()
	for w, at := range f.leavings() {
		rushes[w] = f.rush(w, at)
	}
	if f.guns == nil {
		f.guns = make([]gunTold, len(rushes))
	}
	var found []race.Suspect
	for w := range rushes {
		x, usual := &f.guns[w], f.usualDelay(w, rushes)
		if touched[w] || x.usual != usual {
			*x = gunTold{usual, f.gunOf(w, &rushes[w], usual)}
		}
		f.doubtful[w] = slices.ContainsFunc(x.found, func(s race.Suspect) bool { return !f.plan.Waves[w].Gun.Known() || !f.in.accepted(&s) })
		found = append(found, x.found...)
	}
	return found
}

// usualDelay is how many seconds after their guns other waves begin to cross their start, in the middle.
func (f *field) usualDelay(w int, rushes []rush) float64 {
	var delays []float64
	for v := range rushes {
		if v != w && rushes[v].n >= rushLeast && f.plan.Waves[v].Gun.Known() {
			delays = append(delays, math.Max(0, rushes[v].onset.Sub(f.plan.Waves[v].Gun).Seconds()))
		}
	}
	if len(delays) == 0 {
		return 0
	}
	return robust.Median(delays)
}

// gunOf is what is to be told of a wave's gun, nil: nothing.
func (f *field) gunOf(w int, x *rush, usual float64) []race.Suspect {
	g := f.plan.Waves[w].Gun
	if !g.Known() {
		return f.noGun(w, x)
	}
	if x.n < rushLeast || float64(x.n) < rushBegun*float64(x.of) {
		return nil
	}
	d := x.onset.Sub(g).Seconds()
	early := d < -gunEarly && x.before >= rushLeast && float64(x.before) >= rushShare*float64(x.n)
	if !early && d <= math.Max(usual+gunLate, x.slow) || f.startUnknown(w) {
		return nil
	}
	return []race.Suspect{f.gunSuspect(w, x, usual, d)}
}

// startUnknown tells whether most of a wave's start passings rest on clocks that nothing
// tells: they say nothing of a gun.
func (f *field) startUnknown(w int) bool {
	n, unknown := 0, 0
	for i := range f.st.Results {
		r := f.st.Results[i]
		if r.Wave != w || len(r.Filled) == 0 || r.Filled[0] < 0 {
			continue
		}
		n++
		if clockUnknown(&r.Passings[r.Filled[0]]) {
			unknown++
		}
	}
	return 2*unknown > n
}

func (f *field) gunSuspect(w int, x *rush, usual, d float64) race.Suspect {
	wave := &f.plan.Waves[w]
	s := suspect(race.DoubtfulGun, race.Hold, "", wave.ID)
	s.Holds = f.startedOf(w)
	s.Line, s.At = f.line(f.plan.Courses[wave.Course].Splits[0].Line), x.onset
	at := x.onset.Add(-race.Millis(usual * 1000))
	how := "after"
	if d < 0 {
		how = "before"
	}
	s.Says = fmt.Sprintf("Wave %s began to cross the start at %s, %.1f s %s its gun (%d start passings, %d of them before it); they speak for a gun between %s and %s.",
		wave.ID, f.clock(x.onset), math.Abs(d), how, x.n, x.before, f.clock(at.Add(-3000)), f.clock(x.onset))
	s.Proposes = fmt.Sprintf("set-gun --wave %s --at %s", arg(wave.ID), f.when(at))
	s.Others = []string{accept(s.ID)}
	s.Evidence = fmt.Sprintf("gun %d off by %.0f s", int64(wave.Gun), math.Round(d/2)*2)
	return s
}

// noGun: without a gun a wave's times wait. Before anybody has left there is nothing to say.
func (f *field) noGun(w int, x *rush) []race.Suspect {
	wave := &f.plan.Waves[w]
	gone, start := 0, f.startOf(w)
	last := race.NoInstant
	for _, i := range f.waves[w].results { // who has a gun of their own waits for none
		r := f.st.Results[i]
		for k := range r.Passings {
			if p := &r.Passings[k]; p.Line != start && p.Fate != race.Voided {
				last = max(last, p.At)
				gone++
				break
			}
		}
	}
	if gone == 0 && x.n < max(rushLeast, int(rushBegun*float64(x.of))) {
		return nil
	}
	s := suspect(race.DoubtfulGun, race.Hold, "", wave.ID)
	s.Holds, s.At = f.startedOf(w), last
	s.Says = fmt.Sprintf("Wave %s has no gun yet, and %d of it have been read on the course.", wave.ID, gone)
	s.Evidence = "no gun"
	if start >= 0 {
		s.Line = f.line(start)
		if x.n >= 2 {
			s.At = x.onset
			s.Says = fmt.Sprintf("Wave %s has no gun yet; it began to cross the start at %s (%d start passings).", wave.ID, f.clock(x.onset), x.n)
			s.Proposes = fmt.Sprintf("set-gun --wave %s --at %s", arg(wave.ID), f.when(x.onset))
		}
	}
	return []race.Suspect{s}
}

// startedOf are the bibs of a wave that any line has read.
func (f *field) startedOf(w int) []string {
	var bibs []string
	for _, i := range f.waves[w].results {
		if r := f.st.Results[i]; len(r.Passings) > 0 {
			bibs = append(bibs, r.Bib)
		}
	}
	return bibs
}

// rush finds when a wave began to pour over its start line: from each athlete's last, at,
// passing there before they were read anywhere else, the first of those that follow each
// other closely. Who crossed alone before the gun is left out, and up to loneShare of the wave
// after it: more than those are no strays but its front, whoever held the others back.
func (f *field) rush(w int, at []race.Instant) rush {
	if f.startOf(w) < 0 {
		return rush{}
	}
	x := rush{of: len(f.waves[w].results), n: len(at)}
	if x.n == 0 {
		return x
	}
	// From the first quarter, well inside the rush, back to where it began; the pause that
	// ends it is long against both the pauses there and a few seconds.
	k := len(at) / 4
	pause := 1000 * race.Millis(rushGap)
	if m := len(at) / 2; m > k {
		pause = max(pause, 8*at[m].Sub(at[k])/race.Millis(m-k))
	}
	for k > 0 && at[k].Sub(at[k-1]) <= pause {
		k--
	}
	if g := f.plan.Waves[w].Gun; g.Known() {
		first, _ := slices.BinarySearch(at[:k], g.Add(-f.plan.Waves[w].Early))
		if k-first > max(loneMost, int(loneShare*float64(x.n))) {
			k = first
		}
		x.before, _ = slices.BinarySearch(at[k:], g.Add(-f.plan.Waves[w].Early))
	}
	x.onset = at[k]
	if q := max(k+1, len(at)/4); q < len(at) {
		if took := at[q].Sub(x.onset).Seconds(); took >= flowLeast*float64(q-k) {
			x.slow = took
		}
	}
	return x
}

// leftStart is an athlete's last passing at the start line before any other line read them.
// Where start and finish share the line, what comes once they can be back isn't a start.
func (f *field) leftStart(i, line int) race.Instant {
	r := f.st.Results[i]
	if len(f.times[i]) > 0 && f.times[i][0].Known() {
		return f.times[i][0]
	}
	at := race.NoInstant
	for k := range r.Passings {
		p := &r.Passings[k]
		if p.Fate == race.Voided {
			continue
		}
		if p.Line != line || p.Split > 0 {
			break
		}
		at = p.At
	}
	return at
}
