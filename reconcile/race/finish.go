package race

import "cmp"

// Finish is what ranks a result: laps where they count, then time.
type Finish struct {
	Behind int    // laps fewer than none
	Time   Millis // gun or net, with what was adjusted, unrounded; NoMillis: it has none
	At     int    // in State.Results, which are in order of bib
}

// FinishOf is that of the at-th result, one of the course's.
func (c *Course) FinishOf(x *Result, at int) Finish {
	f := Finish{Time: x.GunTime, At: at}
	if c.Official.Net && x.NetTime.Known() {
		f.Time = x.NetTime
	}
	if f.Time.Known() {
		f.Time += x.Adjust
	}
	if c.ByLaps() {
		f.Behind = -x.Laps
	}
	return f
}

// ByLaps tells whether laps rank on a course before times do.
func (c *Course) ByLaps() bool { return c.TimeLimit > 0 || c.Flagged || c.Open }

// Compare is the order of two finishes, 0 for a tie.
func (f Finish) Compare(g Finish) int {
	return cmp.Or(cmp.Compare(f.Behind, g.Behind), cmp.Compare(f.Time, g.Time))
}

// Order is Compare, of a tie the lower bib first.
func (f Finish) Order(g Finish) int { return cmp.Or(f.Compare(g), f.At-g.At) }
