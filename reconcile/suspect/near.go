package suspect

import (
	"cmp"
	"slices"

	"twinmat/reconcile/race"
)

// seenAt is one passing of one result at a line.
type seenAt struct {
	at     race.Instant
	result int
}

// compare orders by time, then result.
func (a seenAt) compare(b seenAt) int {
	if a.at != b.at {
		return cmp.Compare(a.at, b.at)
	}
	return a.result - b.result
}

// byLine is everybody's passings at each line, in order of time: who was there when.
func (f *field) byLine() [][]seenAt {
	if !f.there.due() {
		return f.there.lists
	}
	f.there.renew(f, len(f.plan.Lines), f.crossed, seenAt.compare, func(s seenAt) int { return s.result }, func(i int, add func(l int, s seenAt)) {
		for k := range f.st.Results[i].Passings {
			if p := &f.st.Results[i].Passings[k]; p.Fate != race.Voided && p.At.Known() {
				add(p.Line, seenAt{p.At, i})
			}
		}
	})
	return f.there.lists
}

// companions are the results that were at every one of these passings, no further off than
// reach, in order of result.
func (f *field) companions(ps []race.Passing, reach race.Millis) []int {
	var with []int
	for n := range ps {
		there := f.byLine()[ps[n].Line]
		from, _ := slices.BinarySearchFunc(there, ps[n].At.Add(-reach), func(s seenAt, t race.Instant) int { return cmp.Compare(s.at, t) })
		var here []int
		for _, s := range there[from:] {
			if s.at > ps[n].At.Add(reach) {
				break
			}
			here = append(here, s.result)
		}
		slices.Sort(here)
		here = slices.Compact(here)
		if n == 0 {
			with = here
			continue
		}
		with = slices.DeleteFunc(with, func(i int) bool { _, ok := slices.BinarySearch(here, i); return !ok })
		if len(with) == 0 {
			return nil
		}
	}
	return with
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
