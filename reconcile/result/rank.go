// Package result settles what the suspects hold and ranks who has finished.
package result

import (
	"slices"
	"sort"
	"strings"

	"twinmat/reconcile/race"
)

// Settle marks the suspects that an accept still fits, and holds the results that the open
// ones of weight hold concern. Suspects must be in order of the worklist; accepted tells
// which ruling accepted a suspect, on what evidence.
func Settle(st *race.State, accepted func(id string) (seq int, evidence string, ok bool)) {
	for i := range st.Suspects {
		s := &st.Suspects[i]
		if seq, evidence, ok := accepted(s.ID); ok && (evidence == "" || evidence == s.Evidence) {
			s.Settled, s.SettledBy = true, seq
		}
		if s.Settled || s.Weight != race.Hold {
			continue
		}
		for _, bib := range s.Holds {
			if k, ok := st.ByBib[bib]; ok {
				x := &st.Results[k]
				if !slices.Contains(x.HeldFor, s.ID) {
					x.HeldFor = append(x.HeldFor, s.ID)
				}
			}
		}
	}
	sort.SliceStable(st.Suspects, func(a, b int) bool { return !st.Suspects[a].Settled && st.Suspects[b].Settled })
	for i := range st.Results {
		x := &st.Results[i]
		if len(x.HeldFor) == 0 {
			continue
		}
		if x.State == "clean" || x.State == "running" && (!x.Listed || closedHold(x)) {
			x.State = "held"
		}
	}
}

// closedHold tells whether a hold on somebody without a finish says that nobody saw it: then
// the course is closed, and the row waits for a ruling.
func closedHold(x *race.Result) bool {
	for _, id := range x.HeldFor {
		if strings.HasPrefix(id, race.Overdue+":") {
			return true
		}
	}
	return false
}

// Rank gives clean and held results with a finish their places within course, and within it
// by sex and by category. Equal ranks skip the next ones. It gives the results in order of
// rank, course by course, who has none last; last is what it gave for an earlier state of the
// race, nil for none: what hardly changed is soon in order.
func Rank(st *race.State, last []int) (order []int) {
	fields := make([]ranking, len(st.Plan.Courses))
	order = make([]int, 0, len(st.Results))
	var rest []int
	for n := range st.Results {
		i := n
		if len(last) == len(st.Results) {
			i = last[n]
		}
		x := &st.Results[i]
		x.Rank, x.RankSex, x.RankCategory = 0, 0, 0
		if x.Course >= 0 && x.Finish >= 0 && x.Official.Known() && (x.State == "clean" || x.State == "held") {
			fields[x.Course].add(&st.Plan.Courses[x.Course], x, i)
		} else {
			rest = append(rest, i)
		}
	}
	for c := range fields {
		r := &fields[c]
		slices.SortFunc(r.finishes, func(a, b finish) int { return a.Order(b.Finish) })
		var all counter
		sexes, categories := make([]counter, len(r.sexes)), make([]counter, len(r.categories))
		for k := range r.finishes {
			f := &r.finishes[k]
			x := &st.Results[f.At]
			order = append(order, f.At)
			x.Rank = all.next(f)
			if f.sex >= 0 {
				x.RankSex = sexes[f.sex].next(f)
			}
			if f.category >= 0 {
				x.RankCategory = categories[f.category].next(f)
			}
		}
	}
	return append(order, rest...)
}

// ranking is a course's finishes and the numbers of its groups.
type ranking struct {
	finishes          []finish
	sexes, categories map[string]int
}

// finish is one with the numbers of its sex and category, -1: none is named.
type finish struct {
	race.Finish
	sex, category int
}

func (r *ranking) add(c *race.Course, x *race.Result, at int) {
	if r.sexes == nil {
		r.sexes, r.categories = map[string]int{}, map[string]int{}
	}
	f := finish{c.FinishOf(x, at), numberIn(r.sexes, strings.ToLower(x.Sex)), numberIn(r.categories, x.Category)}
	if c.Official.TiesOfficial {
		f.Time = x.Official
	}
	r.finishes = append(r.finishes, f)
}

// numberIn is a name's number, the next one for a new name.
func numberIn(names map[string]int, name string) int {
	if name == "" {
		return -1
	}
	n, ok := names[name]
	if !ok {
		n = len(names)
		names[name] = n
	}
	return n
}

// counter gives places to finishes that come in order.
type counter struct {
	n, place int
	last     *finish
}

func (c *counter) next(f *finish) int {
	if c.n++; c.n == 1 || c.last.Compare(f.Finish) != 0 {
		c.place = c.n
	}
	c.last = f
	return c.place
}

// Order is the order of times.csv: course as in the plan, then rank, then bib; who has no
// rank follows, by bib; who has no course comes last.
func Order(st *race.State) []int {
	out := make([]int, len(st.Results))
	for i := range out {
		out[i] = i
	}
	course := func(x *race.Result) int {
		if x.Course < 0 {
			return len(st.Plan.Courses)
		}
		return x.Course
	}
	sort.SliceStable(out, func(a, b int) bool {
		x, y := &st.Results[out[a]], &st.Results[out[b]]
		if cx, cy := course(x), course(y); cx != cy {
			return cx < cy
		}
		if (x.Rank == 0) != (y.Rank == 0) {
			return x.Rank != 0
		}
		return x.Rank < y.Rank // the rest is by bib: Results are
	})
	return out
}
