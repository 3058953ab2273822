package race

import "math"

// Meant is the passing at a line that a moment means, -1 for none, and how far off it is: the
// closest that was not voided, told from the burst of any system, so that who stood there
// for a while is met anywhere in it. lay gives a burst's ends on the race clock.
func Meant(ps []Passing, line int, at Instant, lay func(*Burst) (first, last Instant)) (k int, off Millis) {
	best, gap := -1, Millis(math.MaxInt64)
	for i := range ps {
		if ps[i].Line != line || ps[i].Fate == Voided {
			continue
		}
		for _, b := range ps[i].Bursts {
			if b == nil {
				continue
			}
			first, last := lay(b)
			if d := max(0, first.Sub(at), at.Sub(last)); d < gap {
				best, gap = i, d
			}
		}
	}
	return best, gap
}

// Meant is the passing of an athlete at a line that a moment means; see Meant.
func (s *State) Meant(r *Result, line int, at Instant) (k int, off Millis) {
	return Meant(r.Passings, line, at, func(b *Burst) (first, last Instant) {
		if b.Source < 0 {
			return b.First, b.Last()
		}
		ahead := s.Own(int(b.Source), at).Sub(at)
		return b.First.Add(-ahead), b.Last().Add(-ahead)
	})
}

// Lent is the passing that a system has for a split which another passing fills, or none: the
// nearest at its line that fills no split, between those that fill the splits beside; -1 for
// none.
func Lent(ps []Passing, splits []Split, filled []int, s int, system System) int {
	after, before := NoInstant, NoInstant
	for i, k := range filled {
		switch {
		case k < 0:
		case i < s:
			after = ps[k].At
		case i > s && !before.Known():
			before = ps[k].At
		}
	}
	best, gap := -1, NoMillis
	for q := range ps {
		p := &ps[q]
		if p.Line != splits[s].Line || p.Split >= 0 || p.Fate == Voided || p.Bursts[system] == nil ||
			p.Seen[system] <= after || before.Known() && p.Seen[system] >= before {
			continue
		}
		d := Millis(0)
		if k := filled[s]; k >= 0 {
			d = p.Seen[system].Sub(ps[k].At)
			d = max(d, -d)
		}
		if best < 0 || d < gap {
			best, gap = q, d
		}
	}
	return best
}
