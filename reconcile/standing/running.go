package standing

import (
	"slices"
	"strings"

	"twinmat/reconcile/race"
)

// running counts the running ranks of the latest crossings: how many of the same course, and
// of the same sex on it, came to that split in less time.
func running(s *race.State, l []Crossing) {
	asked := make([][]map[string]*sooner, len(s.Plan.Courses)) // per course and split, of all ("") and by sex; nil: not asked
	each := func(f func(c *Crossing, sex string, x map[string]*sooner, t race.Millis)) {
		for n := range l {
			if l[n].Result < 0 {
				continue
			}
			r := &s.Results[l[n].Result]
			i := r.Passings[l[n].Passing].Split
			if i < 0 || i >= len(r.Filled) || i >= len(r.Splits) || r.Splits[i].At <= 0 || !ranks(r) { // no ranks at the start
				continue
			}
			t, ok := timeTo(s, r, i)
			if !ok { // their gun hasn't fired
				continue
			}
			of := &asked[r.Course]
			for len(*of) <= i {
				*of = append(*of, nil)
			}
			if (*of)[i] == nil {
				(*of)[i] = map[string]*sooner{}
			}
			f(&l[n], strings.ToUpper(r.Sex), (*of)[i], t)
		}
	}
	each(func(_ *Crossing, sex string, x map[string]*sooner, t race.Millis) {
		for _, k := range []string{"", sex} {
			if x[k] == nil {
				x[k] = &sooner{}
			}
			x[k].times = append(x[k].times, t)
		}
	})
	for _, of := range asked {
		for _, x := range of {
			for _, y := range x {
				y.open()
			}
		}
	}
	for i := range s.Results {
		if r := &s.Results[i]; r.Course >= 0 && ranks(r) {
			of := asked[r.Course]
			for k := range min(len(of), len(r.Filled)) {
				if of[k] != nil {
					count(s, r, k, of[k])
				}
			}
		}
	}
	each(func(c *Crossing, sex string, x map[string]*sooner, t race.Millis) {
		if c.Rank = x[""].than(t) + 1; sex != "" {
			c.RankSex = x[sex].than(t) + 1
		}
	})
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
func ranks(r *race.Result) bool { return r.State != "dsq" && r.State != "dns" }

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
