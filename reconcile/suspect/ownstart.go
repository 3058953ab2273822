package suspect

import (
	"math"

	"twinmat/reconcile/race"
	"twinmat/reconcile/robust"
)

// Where everybody has a start of their own, the start line tells who wore whose chip: each of two
// who exchanged them set out at the other's.

const (
	slotSpreads = 5.0 // spreads off the field's middle that a start is still one's own
	slotLeast   = 3.0 // seconds, and at least so many
)

// offSlot is somebody who set out at another time than their own start.
type offSlot struct {
	result int
	at     race.Instant
}

// slots are how those with starts of their own set out: so long after them, give or take.
type slots struct {
	off      []offSlot
	mid, sd  float64
	starters float64
}

// fits tells whether who set out then had this start.
func (s *slots) fits(at, start race.Instant) bool {
	return math.Abs(at.Sub(start).Seconds()-s.mid) <= math.Max(slotSpreads*s.sd, slotLeast)
}

// slotsOf gathers the starts of those who have their own.
func (f *field) slotsOf() slots {
	var s slots
	var all []offSlot
	var delays []float64
	for i := range f.st.Results {
		r := f.st.Results[i]
		if !r.Start.Known() || uncounted(r) {
			continue
		}
		if at := setOut(r); at.Known() {
			all = append(all, offSlot{i, at})
			delays = append(delays, at.Sub(r.Start).Seconds())
		}
	}
	s.starters = float64(len(all))
	s.mid, s.sd = robust.Spread(delays)
	for _, x := range all {
		if !s.fits(x.at, f.st.Results[x.result].Start) {
			s.off = append(s.off, x)
		}
	}
	return s
}

// setOut is when somebody last crossed the start of their course before they came to any other
// line; NoInstant if they came to none, or the start wasn't read.
func setOut(r *race.Result) race.Instant {
	at := race.NoInstant
	if startSplit(r.Splits) < 0 {
		return at
	}
	for k := range r.Passings {
		switch p := &r.Passings[k]; {
		case p.Fate == race.Voided || !p.At.Known():
		case p.Line == r.Splits[0].Line:
			at = p.At
		default:
			return at
		}
	}
	return race.NoInstant
}

// slotSwaps are the pairs of whom each set out at the other's start. That one sets out at
// another time than their own falls on a given other's as often as there are few of them.
func (f *field) slotSwaps() []swapPair {
	s := f.slotsOf()
	var pairs []swapPair
	for n, a := range s.off {
		for _, b := range s.off[n+1:] {
			x, y := f.st.Results[a.result].Start, f.st.Results[b.result].Start
			if !s.fits(a.at, y) || !s.fits(b.at, x) {
				continue
			}
			gain := 2 * math.Log(s.starters)
			pairs = append(pairs, swapPair{a: a.result, b: b.result, gain: gain, odds: gain})
		}
	}
	return pairs
}
