package suspect

import (
	"math"

	"twinmat/reconcile/race"
)

// hints tell at a glance whom a kind need not look at.
type hints uint8

const (
	hasGap     hints = 1 << iota // a split is not filled, and a later one is
	hasExtra                     // a passing fits no split
	hasLoose                     // a passing fills none, and isn't voided
	backupBy                     // backup alone read them near a line, where that fills no split
	isFast                       // a stretch, taken from the gun, is faster than anybody can be
	wasRead                      // there are passings
	fitsCourse                   // nothing speaks against their own course
	keyedFill                    // a person keyed a split, and no system read it
)

// hintsOf finds an athlete's.
func (f *field) hintsOf(i int) hints {
	r := f.st.Results[i]
	var m hints
	if len(r.Passings) > 0 {
		m = wasRead
	}
	if f.fitsIn(i) {
		m |= fitsCourse
	}
	for k := range r.Passings {
		p := &r.Passings[k]
		if p.Split >= 0 {
			if keyedOnly(p) {
				m |= keyedFill
			}
			continue
		}
		if p.Fate != race.Voided {
			m |= hasLoose
		}
		if p.Fate == race.Extra {
			m |= hasExtra
		}
		if (p.Fate == race.Extra || p.Fate == race.StayedNear) && p.Bursts[race.Main] == nil && p.Bursts[race.Backup] != nil {
			m |= backupBy
		}
	}
	prev, from := -1, r.Gun
	if from.Known() {
		from = from.Add(-f.early(r.Wave))
	}
	for k, t := range f.times[i] {
		if !t.Known() {
			if k < f.ends[i] {
				m |= hasGap
			}
			continue
		}
		if from.Known() && (prev >= 0 || r.Splits[k].At > 0) && t.Sub(from).Seconds() < f.need(r.Course, prev, k) {
			m |= isFast
		}
		prev, from = k, t
	}
	return m
}

// readAgain takes what is new of a result; false where that is but how systems differ.
func (f *field) readAgain(i int) bool {
	if f.captured != nil {
		f.countCaptures(i, -1)
		defer f.countCaptures(i, 1)
	}
	if f.sign[i] != signOf(f.st.Results[i]) {
		if f.reach.at != nil {
			f.countReached(i, -1)
			defer f.countReached(i, 1)
		}
		f.read(i)
		return true
	}
	f.compareAll(i)
	return false
}

// signOf is a number that another result of the athlete's has not: a hash (FNV-1a, by words)
// of when and where they passed, what saw it and what it filled, and whether it counts.
func signOf(r *race.Result) uint64 {
	h := uint64(14695981039346656037)
	add := func(x uint64) { h = (h ^ x) * 1099511628211; h ^= h >> 29 }
	for k := range r.Passings {
		p := &r.Passings[k]
		add(uint64(p.At))
		bits := uint64(p.Line)<<16 | uint64(p.Fate)<<8
		for s, b := range p.Bursts {
			if b != nil {
				bits |= 1 << (2 * s)
			}
			if b != nil && b.Witness != 0 {
				bits |= 2 << (2 * s)
			}
		}
		add(bits)
	}
	for _, n := range r.Filled {
		add(uint64(n + 1))
	}
	if uncounted(r) {
		add(0)
	}
	return h
}

// penOf is such a number of how long they were read before their gun, passing by passing.
func penOf(r *race.Result) uint64 {
	h := uint64(14695981039346656037)
	for k := range r.Passings {
		if p := &r.Passings[k]; p.Fate == race.BeforeGun {
			h = (h ^ uint64(lasted(p))) * 1099511628211
		}
	}
	return h
}

// compareAll takes how systems saw a result's splits.
func (f *field) compareAll(i int) {
	r := f.st.Results[i]
	f.wide[i] = 0
	for k, n := range r.Filled {
		if f.both[i][k] = (compared{apart: race.NoMillis, peaks: noPeaks}); n < 0 {
			continue
		}
		x := compare(&r.Passings[n])
		if f.both[i][k] = x; x.sure && x.apart.Known() {
			f.wide[i] = max(f.wide[i], x.apart, -x.apart)
		}
	}
}

// read takes a result's times, and what they alone tell.
func (f *field) read(i int) {
	r := f.st.Results[i]
	t := f.times[i]
	f.ends[i], f.sign[i], f.pen[i] = -1, signOf(r), penOf(r)
	f.compareAll(i)
	for k, n := range r.Filled {
		if t[k] = race.NoInstant; n >= 0 {
			t[k] = r.Passings[n].At
		}
		if t[k].Known() {
			f.ends[i] = k
		}
		from, at := r.Gun, 0.0
		if k > 0 {
			from, at = t[k-1], r.Splits[k-1].At
		}
		y, metres := math.NaN(), r.Splits[k].At-at
		if t[k].Known() && from.Known() && t[k] > from && metres > 0 {
			y = math.Log(t[k].Sub(from).Seconds() / metres)
		}
		f.paces[i][k] = y
	}
	f.hints[i], f.setOut[i] = f.hintsOf(i), race.NoInstant
	if p := f.setOutAt(i); p != nil {
		f.setOut[i] = p.At
	}
	f.delays[i] = math.NaN()
	if r.Wave < 0 || r.Start.Known() || startSplit(r.Splits) < 0 || len(t) == 0 || !t[0].Known() || !r.Gun.Known() {
		return
	}
	if d := t[0].Sub(r.Gun); d >= -f.early(r.Wave) {
		f.delays[i] = d.Seconds()
	}
}
