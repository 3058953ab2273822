package invent

import "math"

// clock is what a box shows: the race clock, a constant, a rate, and jumps.
type clock struct {
	zero   int64   // where offset holds
	offset float64 // seconds, this clock minus the race clock
	ppm    float64
	jumps  []jump
}

type jump struct {
	at int64 // race clock
	by float64
}

// shows is the clock's reading in microseconds at a moment of the race clock.
func (c *clock) shows(t int64) int64 {
	return t + int64(math.Round(float64(c.offset*1e6)+float64(c.ppm*seconds(t-c.zero)))) + c.jumped(t)
}

// jumped is how far the jumps before t have moved it, in microseconds.
func (c *clock) jumped(t int64) int64 {
	var by int64
	for _, j := range c.jumps {
		if t >= j.at {
			by += int64(math.Round(j.by * 1e6))
		}
	}
	return by
}

// wholeMillis cuts an instant to the millisecond, as logs are cut when read.
func wholeMillis(t int64) int64 {
	ms := t / milli
	if t%milli < 0 {
		ms--
	}
	return ms * milli
}
