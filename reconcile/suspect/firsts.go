package suspect

import (
	"slices"
	"strings"

	"twinmat/reconcile/race"
)

// firsts are who came first on a course, overall and by sex, kept from search to search.
type firsts struct {
	overall firstOf
	bySex   map[string]*firstOf
}

// firstOf are the first of some finishers, in order.
type firstOf struct {
	of   int // how many they are
	best []race.Finish
}

// firstOn keeps each course's firsts.
type firstOn struct {
	courses  []firsts
	finished []bool // per result: they are among those who finished
}

// renew takes in the results that changed.
func (x *firstOn) renew(f *field) {
	if x.courses == nil {
		x.courses, x.finished = make([]firsts, len(f.courses)), make([]bool, len(f.st.Results))
		for c := range f.courses {
			x.anew(f, c)
		}
		return
	}
	for _, i := range f.news.changed {
		if c := f.st.Results[i].Course; c >= 0 && !x.changed(f, i) {
			x.anew(f, c)
		}
	}
}

// anew looks at all of a course.
func (x *firstOn) anew(f *field, c int) {
	for _, i := range f.courses[c].results {
		x.finished[i] = false
	}
	all, bySex := finishers(f.st, c, f.courses[c].results), map[string][]race.Finish{}
	for _, e := range all {
		x.finished[e.At] = true
		if sex := strings.ToLower(f.st.Results[e.At].Sex); sex != "" {
			bySex[sex] = append(bySex[sex], e)
		}
	}
	many := f.plan.Courses[c].Prizes + tiedMost
	y := &x.courses[c]
	*y = firsts{firstOf{len(all), first(all, many)}, map[string]*firstOf{}}
	for sex, some := range bySex {
		y.bySex[sex] = &firstOf{len(some), first(some, many)}
	}
}

// changed takes in one result; false where all of its course must be looked at.
func (x *firstOn) changed(f *field, i int) bool {
	r := f.st.Results[i]
	y, was := &x.courses[r.Course], x.finished[i]
	now := finishers(f.st, r.Course, []int{i})
	x.finished[i] = len(now) > 0
	many := f.plan.Courses[r.Course].Prizes + tiedMost
	ok := y.overall.change(i, many, was, now)
	if sex := strings.ToLower(r.Sex); sex != "" && (was || len(now) > 0) {
		if y.bySex[sex] == nil {
			y.bySex[sex] = &firstOf{}
		}
		ok = y.bySex[sex].change(i, many, was, now) && ok
	}
	return ok
}

// change puts one's finish into its place, if that is among the first many, and takes away the one
// that they had; false where somebody who isn't known takes that place.
func (h *firstOf) change(i, many int, was bool, now []race.Finish) bool {
	h.of += len(now) - tally(was)
	all := h.of - len(now) // without this one
	h.best = slices.DeleteFunc(h.best, func(x race.Finish) bool { return x.At == i })
	for _, x := range now {
		if n := len(h.best); n == all || n > 0 && x.Order(h.best[n-1]) < 0 {
			at, _ := slices.BinarySearchFunc(h.best, x, race.Finish.Order)
			h.best = slices.Insert(h.best, at, x)
		}
	}
	h.best = h.best[:min(many, len(h.best))]
	return len(h.best) == min(many, h.of)
}

// since are the first of each course after those are told whose start passing is missing: they have
// another time. False where they don't tell enough places.
func (x *firstOn) since(st *race.State, unstarted []race.Suspect) ([][]race.Finish, bool) {
	now := make([]firstOf, len(x.courses))
	for c := range now {
		now[c] = firstOf{x.courses[c].overall.of, slices.Clone(x.courses[c].overall.best)}
	}
	for k := range unstarted {
		i := st.ByBib[unstarted[k].Bibs[0]]
		c := st.Results[i].Course
		now[c].change(i, st.Plan.Courses[c].Prizes+tiedMost, x.finished[i], finishers(st, c, []int{i}))
	}
	best := make([][]race.Finish, len(now))
	for c := range now {
		if best[c] = now[c].best; len(best[c]) < min(st.Plan.Courses[c].Prizes, now[c].of) {
			return nil, false
		}
	}
	return best, true
}

// finishers are the finishes, of these results of a course, that will have a rank, in no order.
func finishers(st *race.State, c int, results []int) []race.Finish {
	all := make([]race.Finish, 0, len(results))
	for _, i := range results {
		r := st.Results[i]
		if r.Finish < 0 || uncounted(r) {
			continue
		}
		if x := st.Plan.Courses[c].FinishOf(r, i); x.Time.Known() {
			all = append(all, x)
		}
	}
	return all
}

// first are the first many in order; the rest is left out.
func first(all []race.Finish, many int) []race.Finish {
	best := make([]race.Finish, 0, 2*many+2)
	var last *race.Finish // the last of many, so far
	for _, x := range all {
		if last != nil && last.Order(x) < 0 {
			continue
		}
		if best = append(best, x); len(best) == cap(best) {
			slices.SortFunc(best, race.Finish.Order)
			best, last = best[:many], new(best[max(0, many-1)])
		}
	}
	slices.SortFunc(best, race.Finish.Order)
	return best[:min(len(best), many)]
}
