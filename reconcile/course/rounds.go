package course

import (
	"math"

	"twinmat/reconcile/race"
)

const (
	roundsLeast = 3    // passings of a line that tell a round: two ways round between them
	roundsEven  = 0.02 // share by which the ways round may differ
)

// InRounds tells whether split i is one of rounds that the plan names one by one: its line is passed
// again and again after the same distance and the same lines between. Such are laps, and all cross
// the line in one direction; out and back the ways between differ.
func InRounds(c *race.Course, i int) bool {
	if c.Splits[i].Lap > 0 || c.Splits[i].At == 0 {
		return false
	}
	passed, before, last := 0, -1, -1
	for k := range c.Splits {
		s := &c.Splits[k]
		if s.Line != c.Splits[i].Line || s.At == 0 {
			continue
		}
		if s.Lap > 0 || s.Sport != c.Splits[i].Sport || before >= 0 && !sameWay(c, before, last, k) {
			return false
		}
		passed, before, last = passed+1, last, k
	}
	return passed >= roundsLeast
}

// sameWay tells whether the course comes from split b to split d as it came from a to b.
func sameWay(c *race.Course, a, b, d int) bool {
	one, two := c.Splits[b].At-c.Splits[a].At, c.Splits[d].At-c.Splits[b].At
	if b-a != d-b || math.Abs(one-two) > roundsEven*one {
		return false
	}
	for k := 1; k < b-a; k++ {
		if c.Splits[a+k].Line != c.Splits[b+k].Line {
			return false
		}
	}
	return true
}
