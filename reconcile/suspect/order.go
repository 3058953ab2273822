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
	place := places10(in.State)
	for i := range s {
		s[i].Urgency = urgency(&s[i], place)
	}
	order := make([]int32, len(s)) // a suspect is large to move about
	for i := range order {
		order[i] = int32(i)
	}
	slices.SortStableFunc(order, func(m, n int32) int {
		a, b := &s[m], &s[n]
		if c := cmp.Or(tally(a.Settled)-tally(b.Settled), b.Urgency-a.Urgency, cmp.Compare(b.Weight, a.Weight)); c != 0 {
			return c
		}
		return compareIDs(a.ID, b.ID)
	})
	sorted := make([]race.Suspect, len(s))
	for i, n := range order {
		sorted[i] = s[n]
	}
	copy(s, sorted)
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
func places10(st *race.State) map[string]int {
	of := make([][]int, len(st.Plan.Courses))
	for i := range st.Results {
		if c := st.Results[i].Course; c >= 0 && st.Results[i].Finish >= 0 {
			of[c] = append(of[c], i)
		}
	}
	out := map[string]int{}
	for c, results := range of {
		for n, x := range first(finishers(st, c, results), st.Plan.Courses[c].Prizes) {
			out[st.Results[x.At].Bib] = n
		}
	}
	return out
}
