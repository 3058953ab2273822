package suspect

import (
	"slices"

	"twinmat/reconcile/race"
)

// reached is how many of a course came to one of its splits.
type reached struct {
	filled int // have a time there
	past   int // have one at a later split
	loose  int // have none, and were read at its line by what fills nothing
}

// reach is that of each course's splits, and who of each course was faster over a stretch than
// anybody can be, in order. It is counted once, and kept as results change.
type reach struct {
	at    [][]reached   // per course and split; nil: not counted yet
	fast  [][]int       // per course
	loose map[int][]int // of results that have any, at which splits they count as loose
}

// reaches counts it, if that isn't done.
func (f *field) reaches() *reach {
	x := &f.reach
	if x.at == nil {
		*x = reach{make([][]reached, len(f.courses)), make([][]int, len(f.courses)), map[int][]int{}}
		for c := range f.courses {
			x.at[c] = make([]reached, len(f.courses[c].splits))
			for _, i := range f.courses[c].results {
				f.countReached(i, 1)
			}
		}
	}
	return x
}

// countReached adds one result's, or takes it away: n is 1 or -1. What was added stands in the
// field as it was then.
func (f *field) countReached(i, n int) {
	r, x := f.st.Results[i], &f.reach
	if r.Course < 0 {
		return
	}
	if f.hints[i]&isFast != 0 {
		if at, there := slices.BinarySearch(x.fast[r.Course], i); there {
			x.fast[r.Course] = slices.Delete(x.fast[r.Course], at, at+1)
		} else {
			x.fast[r.Course] = slices.Insert(x.fast[r.Course], at, i)
		}
	}
	at := x.at[r.Course]
	for k, t := range f.times[i] {
		at[k].filled += n * tally(t.Known())
		at[k].past += n * tally(k < f.ends[i])
	}
	if n > 0 && f.hints[i]&hasLoose != 0 {
		x.loose[i] = f.looseAt(i)
	}
	for _, k := range x.loose[i] {
		at[k].loose += n
	}
	if n < 0 {
		delete(x.loose, i)
	}
}

// looseAt are the splits that somebody lacks and at whose line they were read by what fills
// nothing; of those under way, and at the start of anybody.
func (f *field) looseAt(i int) (splits []int) {
	r := f.st.Results[i]
	for k, t := range f.times[i] {
		if t.Known() || f.ends[i] < 0 && k > 0 {
			continue
		}
		for j := range r.Passings {
			if p := &r.Passings[j]; p.Line == r.Splits[k].Line && p.Split < 0 && p.Fate != race.Voided {
				splits = append(splits, k)
				break
			}
		}
	}
	return splits
}
