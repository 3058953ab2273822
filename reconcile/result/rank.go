package result

import (
	"slices"
	"sort"
	"strings"

	"twinmat/reconcile/ordered"
	"twinmat/reconcile/race"
)

// Ranking is what ranking a state leaves for the next one of the same athletes: only results
// that are others are put in order anew. The zero Ranking is ready.
type Ranking struct {
	results []*race.Result  // as they were ranked
	runs    []bool          // per result: it has a rank
	fields  [][]race.Finish // per course: who has one, in order
	ranks   []race.Ranks    // as they were given out
	groups  []groups        // per result
	many    groups          // how many there are
}

// groups are the numbers of somebody's sex and of their category, 0: none is named.
type groups struct{ sex, category int32 }

// Rank gives clean and held results with a finish their places within course, and within it
// by sex and by category. Equal ranks skip the next ones. Known is of an earlier state with
// the same athletes in their places, or zero.
func Rank(st *race.State, known *Ranking) {
	if len(known.results) != len(st.Results) {
		known.begin(st)
	}
	stale, more := make([]bool, len(known.fields)), make([][]race.Finish, len(known.fields))
	var out []int // who has to leave their place
	for i, x := range st.Results {
		was := known.results[i]
		if x == was {
			continue
		}
		runs, ran := ranks(x), known.runs[i]
		if runs && ran && x.Course == was.Course && finishOf(st, i, x) == finishOf(st, i, was) {
			known.results[i] = x
			continue
		}
		if ran {
			out, stale[was.Course] = append(out, i), true
		}
		if runs {
			more[x.Course], stale[x.Course] = append(more[x.Course], finishOf(st, i, x)), true
		}
		known.results[i], known.runs[i] = x, runs
	}
	if slices.Contains(stale, true) {
		known.ranks = slices.Clone(known.ranks)
	}
	for _, i := range out {
		known.ranks[i] = race.Ranks{}
	}
	for c := range stale {
		if stale[c] {
			known.reorder(c, out, more[c])
		}
	}
	st.Ranks = known.ranks
}

// ranks tells whether a result is one of those that have a rank.
func ranks(x *race.Result) bool {
	return x.Course >= 0 && x.Finish >= 0 && x.Official.Known() && (x.State == race.Clean || x.State == race.Held)
}

// finishOf is what ranks the i-th result.
func finishOf(st *race.State, i int, x *race.Result) race.Finish {
	c := &st.Plan.Courses[x.Course]
	f := c.FinishOf(x, i)
	if c.Official.TiesOfficial {
		f.Time = x.Official
	}
	return f
}

// reorder ranks a course of which some have left their places and more have come.
func (k *Ranking) reorder(course int, out []int, more []race.Finish) {
	field := k.fields[course]
	if len(out) > 0 {
		left := make(map[int]bool, len(out))
		for _, i := range out {
			left[i] = true
		}
		field = slices.DeleteFunc(field, func(f race.Finish) bool { return left[f.At] })
	}
	slices.SortFunc(more, race.Finish.Order)
	field = ordered.Merge(field, more, race.Finish.Order)
	var all counter
	sexes, categories := make([]counter, k.many.sex+1), make([]counter, k.many.category+1)
	for _, f := range field {
		g := k.groups[f.At]
		x := race.Ranks{All: all.next(f)}
		if g.sex > 0 {
			x.Sex = sexes[g.sex].next(f)
		}
		if g.category > 0 {
			x.Category = categories[g.category].next(f)
		}
		k.ranks[f.At] = x
	}
	k.fields[course] = field
}

// begin numbers the groups of a state's athletes, of whom nobody is ranked yet.
func (k *Ranking) begin(st *race.State) {
	n := len(st.Results)
	*k = Ranking{results: make([]*race.Result, n), runs: make([]bool, n), fields: make([][]race.Finish, len(st.Plan.Courses)), ranks: make([]race.Ranks, n), groups: make([]groups, n)}
	sexes, categories := map[string]int32{}, map[string]int32{}
	for i, x := range st.Results {
		k.groups[i] = groups{numberIn(sexes, strings.ToLower(x.Sex)), numberIn(categories, x.Category)}
	}
	k.many = groups{int32(len(sexes)), int32(len(categories))}
}

// numberIn is a name's number from 1 on, the next one for a new name.
func numberIn(names map[string]int32, name string) int32 {
	if name == "" {
		return 0
	}
	n, ok := names[name]
	if !ok {
		n = int32(len(names)) + 1
		names[name] = n
	}
	return n
}

// counter gives places to finishes that come in order.
type counter struct {
	n, place int32
	last     race.Finish
}

func (c *counter) next(f race.Finish) int32 {
	if c.n++; c.n == 1 || c.last.Compare(f) != 0 {
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
		x, y := st.Results[out[a]], st.Results[out[b]]
		if cx, cy := course(x), course(y); cx != cy {
			return cx < cy
		}
		rx, ry := st.Ranks[out[a]].All, st.Ranks[out[b]].All
		if (rx == 0) != (ry == 0) {
			return rx != 0
		}
		return rx < ry // the rest is by bib: Results are
	})
	return out
}
