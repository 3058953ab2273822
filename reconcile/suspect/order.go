package suspect

import (
	"cmp"
	"maps"
	"slices"
	"strings"

	"twinmat/reconcile/ordered"
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
	place := places10(in)
	var list *worklist
	if in.Memory != nil {
		if list = &in.Memory.list; list.is(s, place) {
			copy(s, list.ordered)
			return
		}
		list.found, list.place = append(list.found[:0], s...), place
	}
	for i := range s {
		s[i].Urgency = urgency(&s[i], place)
	}
	order := make([]queued, len(s)) // a suspect is large to move about
	for i := range s {
		order[i] = queued{before(&s[i]), int32(i)}
	}
	ordered.ByNumber(order, func(q *queued) int64 { return q.before })
	for from, to := 0, 1; to <= len(order); to++ { // those of one kind mostly are in order by now
		if to == len(order) || order[to].before != order[from].before {
			slices.SortFunc(order[from:to], func(m, n queued) int { return cmp.Or(compareIDs(s[m.at].ID, s[n.at].ID), int(m.at-n.at)) })
			from = to
		}
	}
	arrange(s, order)
	if list != nil {
		list.ordered = append(list.ordered[:0], s...)
	}
}

// worklist is what was ordered last, and how: where the same is found again, nobody looks at it.
type worklist struct {
	found, ordered []race.Suspect
	place          map[string]int
}

// is tells whether that was found, for the same places. A finding that was made anew and came out the same
// becomes the one that it was.
func (w *worklist) is(s []race.Suspect, place map[string]int) bool {
	if len(w.found) != len(s) || !maps.Equal(w.place, place) {
		return false
	}
	for i := range s {
		x, y := s[i], w.found[i]
		if x.Finding != y.Finding && !x.Finding.Equal(y.Finding) {
			return false
		}
		if x.Finding = y.Finding; x != y {
			return false
		}
		s[i] = x
	}
	return true
}

// queued is a suspect's place in a list, and what tells of it who comes first.
type queued struct {
	before int64
	at     int32
}

// before is less for what comes first, whatever the ids; the open ones, the most urgent, those that
// hold, and the kinds by name.
func before(s *race.Suspect) int64 {
	return int64(tally(s.Settled))<<48 - int64(s.Urgency)<<16 - int64(s.Weight)<<8 + kindAt[s.Kind]
}

// kindAt is each kind's place among all by name.
var kindAt = func() map[string]int64 {
	var names []string
	for _, k := range race.SuspectKinds {
		names = append(names, k.Name)
	}
	slices.Sort(names)
	at := map[string]int64{}
	for i, n := range names {
		at[n] = int64(i)
	}
	return at
}()

// arrange puts suspects in an order of their places, round by round of those who take each
// other's. The order is used up.
func arrange(s []race.Suspect, order []queued) {
	for i := range s {
		x, to := s[i], i
		for int(order[to].at) != i {
			from := int(order[to].at)
			s[to], order[to].at = s[from], int32(to)
			to = from
		}
		s[to], order[to].at = x, int32(to)
	}
}

// compareIDs orders ids part by part, bibs as bibs: missing-split:9 before missing-split:10.
func compareIDs(a, b string) int {
	from := samePart(a, b)
	x, y := a[from:], b[from:]
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

// samePart is where the first part begins in which two ids differ.
func samePart(a, b string) (from int) {
	for i := range min(len(a), len(b)) {
		if a[i] != b[i] {
			break
		}
		if a[i] == ':' {
			from = i + 1
		}
	}
	return from
}

func urgency(s *race.Suspect, place map[string]int) int {
	u := s.Urgency
	switch {
	case s.Weight == race.Hold && len(s.Holds) >= 10:
		u = max(u, urgentMany+min(len(s.Holds), 900))
	case race.SuspectKindOf(s.Kind).Field:
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
func places10(in *Input) map[string]int {
	out := map[string]int{}
	for c, best := range firstPlaces(in) {
		for n, x := range best[:min(len(best), in.State.Plan.Courses[c].Prizes)] {
			out[in.State.Results[x.At].Bib] = n
		}
	}
	return out
}

// firstPlaces are the first of each course, as many as have prizes at the least: those that the
// search told, or all looked at.
func firstPlaces(in *Input) [][]race.Finish {
	st := in.State
	if in.Memory != nil && in.Memory.field != nil && in.Memory.field.searched && in.Memory.field.st == st {
		if best, ok := in.Memory.field.first.since(st, in.Memory.field.unstarted); ok {
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
