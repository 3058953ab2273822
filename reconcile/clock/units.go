package clock

import (
	"math"

	"twinmat/reconcile/race"
)

// unitPairs that lie on whole units are no chance: of tenths one in ten millions.
const unitPairs = 8

// unitNoise is the standard deviation, in seconds, that the units of two logs' times put
// into a difference of them: a reader that tells whole seconds, or tenths, or asks its
// antennas once a second, cuts each time by up to one (uniform: unit² / 12). Where one of
// the two tells finer than any unit, the pairs' own scatter shows all of that; where
// differences, in order of time, don't go up and down by units, nothing is hidden in them.
// longest is the longer of the two units in seconds: no lesser step is told, for a bunch in one second
// lies in the order of its roundings.
func unitNoise(pairs []Pair) (sd, longest float64) {
	if len(pairs) < unitPairs {
		return 0, 0
	}
	if p := pollNoise(pairs); p > 0 {
		return p, 1
	}
	long := unit(pairs, func(p *Pair) race.Instant { return race.Instant(p.Other.Sub(p.Main)) })
	if long == 0 {
		return 0, 0
	}
	turns := 0
	for i := 1; i < len(pairs); i++ {
		d := math.Abs(pairs[i].Other.Sub(pairs[i].Main).Seconds() - pairs[i-1].Other.Sub(pairs[i-1].Main).Seconds())
		if d > 0.4*long && d < 2.5*long {
			turns++
		}
	}
	if turns < max(3, len(pairs)/30) {
		return 0, 0
	}
	main := unit(pairs, func(p *Pair) race.Instant { return p.Main })
	other := unit(pairs, func(p *Pair) race.Instant { return p.Other })
	return math.Hypot(main, other) / math.Sqrt(12), max(main, other)
}

// pollNoise is the standard deviation, in seconds, of differences of which nearly all, from
// one to the next, stay or go up or down by the second between two looks of a reader at its
// antennas; 0 where they don't. Who is seen by the one look or the next is a matter of
// chance p, and so many neighbours differ: 2p(1−p), twice the variance.
func pollNoise(pairs []Pair) float64 {
	const poll, near = 1.0, 0.2
	stay, turn := 0, 0
	for i := 1; i < len(pairs); i++ {
		switch d := math.Abs(pairs[i].Other.Sub(pairs[i].Main).Seconds() - pairs[i-1].Other.Sub(pairs[i-1].Main).Seconds()); {
		case d < near:
			stay++
		case math.Abs(d-poll) < near:
			turn++
		}
	}
	n := len(pairs) - 1
	if turn < max(3, n/30) || 10*(stay+turn) < 9*n {
		return 0
	}
	return poll * math.Sqrt(float64(turn)/float64(2*n))
}

// unit is the longest of a second and a tenth that lies between any two of the times, 0 for
// none. An offset that is no whole unit leaves it as it is.
func unit(pairs []Pair, of func(*Pair) race.Instant) float64 {
	for _, ms := range [...]race.Instant{1000, 100} {
		rest, all := of(&pairs[0])%ms, true
		for i := range pairs {
			if d := of(&pairs[i])%ms - rest; d != 0 && d != ms && d != -ms {
				all = false
				break
			}
		}
		if all {
			return float64(ms) / 1000
		}
	}
	return 0
}
