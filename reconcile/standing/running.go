package standing

import (
	"slices"
	"strings"

	"twinmat/reconcile/race"
)

// running counts the running ranks of the latest crossings: how many of the same course, and
// of the same sex on it, came to that split in less time.
func running(s *race.State, l []Crossing) {
	x := asked{s, make([][]map[string]*sooner, len(s.Plan.Courses))}
	x.each(l, func(_ *Crossing, sex string, of map[string]*sooner, t race.Millis) {
		for _, k := range []string{"", sex} {
			if of[k] == nil {
				of[k] = &sooner{}
			}
			of[k].times = append(of[k].times, t)
		}
	})
	for _, splits := range x.by {
		for _, of := range splits {
			for _, y := range of {
				y.open()
			}
		}
	}
	for i := range s.Results {
		if r := s.Results[i]; r.Course >= 0 && ranks(r) {
			splits := x.by[r.Course]
			for k := range min(len(splits), len(r.Filled)) {
				if splits[k] != nil {
					count(s, r, k, splits[k])
				}
			}
		}
	}
	x.each(l, func(c *Crossing, sex string, of map[string]*sooner, t race.Millis) {
		if c.Rank = of[""].than(t) + 1; sex != "" {
			c.RankSex = of[sex].than(t) + 1
		}
	})
}

// asked is whose times to which splits are asked for.
type asked struct {
	s  *race.State
	by [][]map[string]*sooner // per course and split, of all ("") and by sex; nil: not asked
}

// each goes through the crossings that have a running rank, with what is asked for there.
func (x *asked) each(l []Crossing, f func(c *Crossing, sex string, of map[string]*sooner, t race.Millis)) {
	for n := range l {
		if l[n].Result < 0 {
			continue
		}
		r := x.s.Results[l[n].Result]
		i := r.Passings[l[n].Passing].Split
		if i < 0 || i >= len(r.Filled) || i >= len(r.Splits) || r.Splits[i].At <= 0 || !ranks(r) { // no ranks at the start
			continue
		}
		t, ok := timeTo(x.s, r, i)
		if !ok { // their gun hasn't fired
			continue
		}
		splits := &x.by[r.Course]
		for len(*splits) <= i {
			*splits = append(*splits, nil)
		}
		if (*splits)[i] == nil {
			(*splits)[i] = map[string]*sooner{}
		}
		f(&l[n], strings.ToUpper(r.Sex), (*splits)[i], t)
	}
}

// count adds an athlete who came to a split to those that were asked for there.
func count(s *race.State, r *race.Result, split int, x map[string]*sooner) {
	t, ok := timeTo(s, r, split)
	if !ok {
		return
	}
	x[""].add(t)
	if r.Sex != "" {
		if y := x[strings.ToUpper(r.Sex)]; y != nil {
			y.add(t)
		}
	}
}

// ranks tells whether an athlete counts where others are ranked.
func ranks(r *race.Result) bool { return r.State != race.DSQ && r.State != race.DNS }

// timeTo is an athlete's time up to a split; false where there is none.
func timeTo(s *race.State, r *race.Result, split int) (race.Millis, bool) {
	k := r.Filled[split]
	if k < 0 || k >= len(r.Passings) {
		return 0, false
	}
	t := r.Passings[k].At.Sub(s.Began(r))
	return t, t.Known()
}

// sooner counts who took less than each of some times.
type sooner struct {
	times []race.Millis
	n     []int // per time, those who took less than it and no less than the one before; then the rest
}

// open puts the times in order, to count.
func (x *sooner) open() {
	slices.Sort(x.times)
	x.times = slices.Compact(x.times)
	x.n = make([]int, len(x.times)+1)
}

func (x *sooner) add(t race.Millis) {
	at, equal := slices.BinarySearch(x.times, t)
	if equal {
		at++
	}
	x.n[at]++
}

// than is how many took less than one of the times.
func (x *sooner) than(t race.Millis) int {
	at, _ := slices.BinarySearch(x.times, t)
	sum := 0
	for _, n := range x.n[:at+1] {
		sum += n
	}
	return sum
}
