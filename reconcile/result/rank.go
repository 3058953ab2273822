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
// by sex and by category. Equal ranks skip the next ones.
func Rank(st *race.State) {
	byCourse := make([][]*race.Result, len(st.Plan.Courses))
	for i := range st.Results {
		x := &st.Results[i]
		x.Rank, x.RankSex, x.RankCategory = 0, 0, 0
		if x.Course >= 0 && x.Finish >= 0 && x.Official.Known() && (x.State == "clean" || x.State == "held") {
			byCourse[x.Course] = append(byCourse[x.Course], x)
		}
	}
	for c, xs := range byCourse {
		course := &st.Plan.Courses[c]
		sort.SliceStable(xs, func(a, b int) bool { return before(course, xs[a], xs[b]) })
		place(course, xs, func(x *race.Result, n int) { x.Rank = n })
		groups(course, xs, func(x *race.Result) string { return strings.ToLower(x.Sex) }, func(x *race.Result, n int) { x.RankSex = n })
		groups(course, xs, func(x *race.Result) string { return x.Category }, func(x *race.Result, n int) { x.RankCategory = n })
	}
}

// Unrounded is the time that ranks: gun or net, with what was adjusted.
func Unrounded(c *race.Course, x *race.Result) race.Millis {
	t := x.GunTime
	if c.Official.Net && x.NetTime.Known() {
		t = x.NetTime
	}
	if !t.Known() {
		return race.NoMillis
	}
	return t + x.Adjust
}

// compare is the order of two finishes: laps where they count, then time; 0 for a tie.
func compare(c *race.Course, a, b *race.Result) int {
	if c.TimeLimit > 0 || c.Flagged || c.Open {
		if a.Laps != b.Laps {
			return b.Laps - a.Laps
		}
	}
	x, y := Unrounded(c, a), Unrounded(c, b)
	if c.Official.TiesOfficial {
		x, y = a.Official, b.Official
	}
	switch {
	case x < y:
		return -1
	case x > y:
		return 1
	}
	return 0
}

func before(c *race.Course, a, b *race.Result) bool {
	if d := compare(c, a, b); d != 0 {
		return d < 0
	}
	return race.CompareBibs(a.Bib, b.Bib) < 0
}

func place(c *race.Course, xs []*race.Result, set func(*race.Result, int)) {
	n := 0
	for i, x := range xs {
		if i == 0 || compare(c, xs[i-1], x) != 0 {
			n = i + 1
		}
		set(x, n)
	}
}

func groups(c *race.Course, xs []*race.Result, key func(*race.Result) string, set func(*race.Result, int)) {
	byKey := map[string][]*race.Result{}
	for _, x := range xs {
		if k := key(x); k != "" {
			byKey[k] = append(byKey[k], x)
		}
	}
	for _, g := range byKey {
		place(c, g, set)
	}
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
