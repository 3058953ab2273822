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
		if x.State == race.Clean || x.State == race.Running && (!x.Listed || closedHold(x)) {
			x.State = race.Held
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

// Ranks is what ranking a state leaves for the next one of the same athletes: what hardly
// changed is soon in order. The zero Ranks is ready.
type Ranks struct {
	order  []int    // results in order of rank, course by course, who has none last
	groups []groups // per result
	many   groups   // how many there are
}

// groups are the numbers of somebody's sex and of their category, 0: none is named.
type groups struct{ sex, category int32 }

// Rank gives clean and held results with a finish their places within course, and within it
// by sex and by category. Equal ranks skip the next ones. Known is of an earlier state with
// the same athletes in their places, or zero.
func Rank(st *race.State, known *Ranks) {
	if len(known.order) != len(st.Results) {
		known.begin(st)
	}
	fields := make([][]race.Finish, len(st.Plan.Courses))
	rest := make([]int, 0, len(st.Results))
	for _, i := range known.order {
		x := &st.Results[i]
		x.Rank, x.RankSex, x.RankCategory = 0, 0, 0
		if x.Course >= 0 && x.Finish >= 0 && x.Official.Known() && (x.State == race.Clean || x.State == race.Held) {
			c := &st.Plan.Courses[x.Course]
			f := c.FinishOf(x, i)
			if c.Official.TiesOfficial {
				f.Time = x.Official
			}
			fields[x.Course] = append(fields[x.Course], f)
		} else {
			rest = append(rest, i)
		}
	}
	order := known.order[:0]
	for _, finishes := range fields {
		slices.SortFunc(finishes, race.Finish.Order)
		var all counter
		sexes, categories := make([]counter, known.many.sex+1), make([]counter, known.many.category+1)
		for _, f := range finishes {
			x, g := &st.Results[f.At], known.groups[f.At]
			order = append(order, f.At)
			x.Rank = all.next(f)
			if g.sex > 0 {
				x.RankSex = sexes[g.sex].next(f)
			}
			if g.category > 0 {
				x.RankCategory = categories[g.category].next(f)
			}
		}
	}
	known.order = append(order, rest...)
}

// begin numbers the groups of a state's athletes, whose order isn't known yet.
func (k *Ranks) begin(st *race.State) {
	*k = Ranks{order: make([]int, len(st.Results)), groups: make([]groups, len(st.Results))}
	sexes, categories := map[string]int32{}, map[string]int32{}
	for i := range st.Results {
		x := &st.Results[i]
		k.order[i] = i
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
	n, place int
	last     race.Finish
}

func (c *counter) next(f race.Finish) int {
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
