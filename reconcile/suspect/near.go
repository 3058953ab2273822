package suspect

import (
	"cmp"

	"twinmat/reconcile/race"
)

// seenAt is one passing at a line and which systems saw it.
type seenAt struct {
	at    race.Instant
	who   int32 // the result, or after all of them a tag that nobody owns
	nth   int32 // of their passings
	again bool  // so soon after another of the same chip that it tells nothing new
	odd   bool  // it fits no split: somebody near the line is read by either system as they stand
	seen  [race.Systems]bool
}

func (a seenAt) compare(b seenAt) int {
	if a.at != b.at {
		return cmp.Compare(a.at, b.at)
	}
	return cmp.Or(cmp.Compare(a.who, b.who), cmp.Compare(a.nth, b.nth))
}

// seenOf gives somebody's passings by line.
func seenOf(who int, ps []race.Passing, before []race.Instant, add func(l int, x seenAt)) {
	for l := range before {
		before[l] = race.NoInstant
	}
	for k := range ps {
		p := &ps[k]
		if !p.At.Known() || p.Fate == race.Voided {
			continue
		}
		x := seenAt{at: p.At, who: int32(who), nth: int32(k), again: before[p.Line].Known() && p.At.Sub(before[p.Line]) < silentAgain}
		for s, b := range p.Bursts {
			x.seen[s] = b != nil && b.Witness == 0
		}
		if x.odd = p.Fate == race.StayedNear || p.Fate == race.Extra || inPen(ps, k); !x.odd {
			before[p.Line] = p.At
		}
		add(p.Line, x)
	}
}

// liesLeast is how often a chip at the least is read at a line that it doesn't cross.
const liesLeast = 3

// lies tells whether a chip lies about a line, as spares do in a box: now and then one system hears it, and
// never do both.
func lies(ps []race.Passing, line int) bool {
	n := 0
	for k := range ps {
		if p := &ps[k]; p.Line == line && p.Fate != race.Voided {
			if n++; p.Bursts[race.Main] != nil && p.Bursts[race.Backup] != nil {
				return false
			}
		}
	}
	return n >= liesLeast
}

// penLeast, in time, is longer than anybody takes over a line (common practice).
const penLeast = 15 * 1000 * race.Millis(1)

// inPen tells whether a passing is one of somebody who waits at a line for the gun: the antennas
// that they stand before read them all the while, those a few metres on don't.
func inPen(ps []race.Passing, k int) bool {
	if ps[k].Fate != race.BeforeGun {
		return false
	}
	from, to := ps[k].At, ps[k].At.Add(lasted(&ps[k]))
	for n, at := k+1, ps[k].At; n < len(ps) && ps[n].At.Sub(at) < silentAgain; n++ {
		if ps[n].Line == ps[k].Line && ps[n].Fate == race.BeforeGun {
			at = ps[n].At
			to = max(to, at.Add(lasted(&ps[n])))
		}
	}
	for n, at := k-1, ps[k].At; n >= 0 && at.Sub(ps[n].At) < silentAgain; n-- {
		if ps[n].Line == ps[k].Line && ps[n].Fate == race.BeforeGun {
			at, from = ps[n].At, ps[n].At
		}
	}
	return to.Sub(from) >= penLeast
}

// lasted is how long a passing was read by the system that read it longest.
func lasted(p *race.Passing) (d race.Millis) {
	for _, b := range p.Bursts {
		if b != nil {
			d = max(d, b.Last().Sub(b.First))
		}
	}
	return d
}

// byLine is everybody's passings at each line, in order of time: who was there when.
func (f *field) byLine() [][]seenAt {
	if f.there.due() {
		before := make([]race.Instant, len(f.plan.Lines))
		f.there.renew(f, len(f.plan.Lines), f.crossed, seenAt.compare, func(x seenAt) int { return int(x.who) }, func(i int, add func(l int, x seenAt)) {
			seenOf(i, f.st.Results[i].Passings, before, add)
		})
	}
	return f.there.lists
}

// together tells whether two lists of crossings are one body's: every line that both were
// read at, within reach, at two lines or more, and nowhere apart.
func together(a, b []race.Passing, reach race.Millis) bool {
	n := 0
	for i := range a {
		best := reach + 1
		same := false
		for j := range b {
			if b[j].Line != a[i].Line {
				continue
			}
			same = true
			d := a[i].At.Sub(b[j].At)
			best = min(best, max(d, -d))
		}
		if same && best > reach {
			return false
		}
		if same {
			n++
		}
	}
	return n >= 2 || n == 1 && len(a) == 1 && len(b) == 1
}
