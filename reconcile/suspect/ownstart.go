package suspect

import (
	"math"
	"slices"

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

// slots are how those with starts of their own set out: so long after them, give or take. They are
// kept from search to search.
type slots struct {
	of       []int          // who has one; they are nobody else's as long as the lists are the same
	at       []race.Instant // per result: when they set out; NoInstant: they didn't, or don't count
	off      []offSlot
	mid, sd  float64
	starters float64
	moves    int // how often any of it became another, or one of off; 0: not gathered yet
}

// fits tells whether who set out then had this start.
func (s *slots) fits(at, start race.Instant) bool {
	return math.Abs(at.Sub(start).Seconds()-s.mid) <= math.Max(slotSpreads*s.sd, slotLeast)
}

// slotsOf gathers the starts of those who have their own.
func (f *field) slotsOf() *slots {
	s := &f.swaps.slots
	some, same := f.news.changed, s.moves > 0
	if !same {
		s.at = slices.Repeat([]race.Instant{race.NoInstant}, len(f.st.Results))
		for i, r := range f.st.Results {
			if r.Start.Known() {
				s.of = append(s.of, i)
			}
		}
		some = s.of
	}
	for _, i := range some {
		r, at := f.st.Results[i], race.NoInstant
		if !r.Start.Known() {
			continue
		}
		if !uncounted(r) {
			at = setOut(r)
		}
		if at != s.at[i] || slices.ContainsFunc(s.off, func(x offSlot) bool { return x.result == i }) {
			s.at[i], same = at, false
		}
	}
	if !same {
		s.gather(f)
	}
	return s
}

// gather finds how they set out, and who did so at another time than their own.
func (s *slots) gather(f *field) {
	var delays []float64
	for _, i := range s.of {
		if s.at[i].Known() {
			delays = append(delays, s.at[i].Sub(f.st.Results[i].Start).Seconds())
		}
	}
	s.starters, s.off = float64(len(delays)), nil
	s.mid, s.sd = robust.Spread(delays)
	for _, i := range s.of {
		if s.at[i].Known() && !s.fits(s.at[i], f.st.Results[i].Start) {
			s.off = append(s.off, offSlot{i, s.at[i]})
		}
	}
	s.moves++
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
func (f *field) slotSwaps(s *slots) []swapPair {
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
