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
func unitNoise(pairs []Pair) float64 {
	if len(pairs) < unitPairs {
		return 0
	}
	long := unit(pairs, func(p *Pair) race.Instant { return race.Instant(p.Other.Sub(p.Main)) })
	if long == 0 {
		return 0
	}
	turns := 0
	for i := 1; i < len(pairs); i++ {
		d := math.Abs(pairs[i].Other.Sub(pairs[i].Main).Seconds() - pairs[i-1].Other.Sub(pairs[i-1].Main).Seconds())
		if d > 0.4*long && d < 2.5*long {
			turns++
		}
	}
	if turns < max(3, len(pairs)/30) {
		return 0
	}
	main := unit(pairs, func(p *Pair) race.Instant { return p.Main })
	other := unit(pairs, func(p *Pair) race.Instant { return p.Other })
	return math.Hypot(main, other) / math.Sqrt(12)
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
