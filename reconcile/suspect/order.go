package suspect

import (
	"cmp"
	"slices"
	"strings"

	"twinmat/reconcile/race"
)

// Urgencies. Within a band the numbers leave room for ranks and for how many are held.
const (
	urgentMany  = 9000 // a whole field or wave waits, or would be wrong
	urgentNow   = 8000 // something is failing at this moment
	urgentFirst = 7000 // the first places, less the place
	urgentHold  = 5000
	urgentLook  = 1000
)

// Order puts suspects most urgent first: what holds many or changes the first places, then
// what holds anybody, then what is worth a look; the settled last. Equal ones by id.
func Order(in *Input, s []race.Suspect) {
	place := places10(in, s)
	for i := range s {
		s[i].Urgency = urgency(&s[i], place)
	}
	order := make([]int32, len(s)) // a suspect is large to move about
	for i := range order {
		order[i] = int32(i)
	}
	slices.SortFunc(order, func(m, n int32) int {
		a, b := &s[m], &s[n]
		if c := cmp.Or(tally(a.Settled)-tally(b.Settled), b.Urgency-a.Urgency, cmp.Compare(b.Weight, a.Weight)); c != 0 {
			return c
		}
		return cmp.Or(compareIDs(a.ID, b.ID), int(m-n))
	})
	arrange(s, order)
}

// arrange puts suspects in an order of their places, round by round of those who take each
// other's. The order is used up.
func arrange(s []race.Suspect, order []int32) {
	for i := range s {
		x, to := s[i], i
		for int(order[to]) != i {
			from := int(order[to])
			s[to], order[to] = s[from], int32(to)
			to = from
		}
		s[to], order[to] = x, int32(to)
	}
}

// compareIDs orders ids part by part, bibs as bibs: missing-split:9 before missing-split:10.
func compareIDs(a, b string) int {
	x, y := a, b
	for {
		p, restA, moreA := strings.Cut(x, ":")
		q, restB, moreB := strings.Cut(y, ":")
		if c := race.CompareBibs(p, q); c != 0 {
			return c
		}
		if !moreA || !moreB {
			return cmp.Or(tally(moreA)-tally(moreB), strings.Compare(a, b))
		}
		x, y = restA, restB
	}
}

func urgency(s *race.Suspect, place map[string]int) int {
	u := s.Urgency
	switch {
	case s.Weight == race.Hold && len(s.Holds) >= 10:
		u = max(u, urgentMany+min(len(s.Holds), 900))
	case s.Kind == race.LineOff:
		u = max(u, urgentMany)
	case s.Weight == race.Hold:
		u = max(u, urgentHold+10*len(s.Holds))
	default:
		u = max(u, urgentLook)
	}
	for _, b := range s.Bibs {
		p, ok := place[b]
		if !ok {
			continue
		}
		if s.Weight == race.Hold {
			u = max(u, urgentFirst+500-p)
		} else if race.SuspectKindOf(s.Kind).MovesTimes {
			u = max(u, urgentFirst-p)
		}
	}
	return u
}

// places10 are the provisional first places of each course, 0 the winner: what is about
// them comes first.
func places10(in *Input, found []race.Suspect) map[string]int {
	out := map[string]int{}
	for c, best := range firstPlaces(in, found) {
		for n, x := range best[:min(len(best), in.State.Plan.Courses[c].Prizes)] {
			out[in.State.Results[x.At].Bib] = n
		}
	}
	return out
}

// firstPlaces are the first of each course, as many as have prizes at the least: those that the
// search told, or all looked at.
func firstPlaces(in *Input, found []race.Suspect) [][]race.Finish {
	st := in.State
	if in.Memory != nil && in.Memory.field != nil && in.Memory.field.searched && in.Memory.field.st == st {
		if best, ok := in.Memory.field.first.since(st, found); ok {
			return best
		}
	}
	of, best := make([][]int, len(st.Plan.Courses)), make([][]race.Finish, len(st.Plan.Courses))
	for i, r := range st.Results {
		if r.Course >= 0 {
			of[r.Course] = append(of[r.Course], i)
		}
	}
	for c, results := range of {
		best[c] = first(finishers(st, c, results), st.Plan.Courses[c].Prizes)
	}
	return best
}
