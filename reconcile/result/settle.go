// Package result settles what the suspects hold and ranks who has finished.
package result

import (
	"slices"
	"strings"

	"twinmat/reconcile/race"
)

// Holds is what settling a state leaves for the next one: the results that are held, so that
// the same ones stay the same in memory. The zero Holds is ready.
type Holds struct {
	of       []hold         // in order of place
	from, to []race.Suspect // what was settled, and how it came out
	rulings  []race.Ruling  // by which
}

// Moved says that results may stand in other places than before.
func (k *Holds) Moved() { k.from = nil }

// hold is a result as it was before it was held, and the same held for these cases.
type hold struct {
	place    int
	of, held *race.Result
	cases    []string
}

// holding is one case that holds the result at a place.
type holding struct {
	place int
	id    string
}

// Settle marks the suspects that an accept still fits, and holds the results that the open
// ones of weight hold concern. Suspects must be in order of the worklist; accepted tells
// which ruling accepted a suspect, on what evidence; known is of an earlier state, or zero.
func Settle(st *race.State, known *Holds, accepted func(id string) (seq int, evidence string, ok bool)) {
	if known.settled(st) {
		return
	}
	known.from, known.rulings = append(known.from[:0], st.Suspects...), st.Rulings
	all := make([]holding, 0, len(known.of)+holdsMore)
	settled := false
	for i := range st.Suspects {
		s := &st.Suspects[i]
		if seq, evidence, ok := accepted(s.ID); ok && (evidence == "" || evidence == s.Evidence) {
			s.Settled, s.SettledBy = true, seq
		}
		if settled = settled || s.Settled; s.Settled || s.Weight != race.Hold {
			continue
		}
		for _, bib := range s.Holds {
			if k, ok := st.ByBib[bib]; ok {
				all = append(all, holding{k, s.ID})
			}
		}
	}
	if settled {
		slices.SortStableFunc(st.Suspects, func(a, b race.Suspect) int { return tally(a.Settled) - tally(b.Settled) })
	}
	slices.SortStableFunc(all, func(a, b holding) int { return a.place - b.place }) // each one's stay in order of the worklist
	all = slices.Compact(all)                                                       // one that names somebody twice
	was := known.of
	known.of = make([]hold, 0, len(was)+holdsMore)
	for len(all) > 0 {
		place, n := all[0].place, 1
		for n < len(all) && all[n].place == place {
			n++
		}
		for len(was) > 0 && was[0].place < place {
			was = was[1:]
		}
		var h hold
		if of := st.Results[place]; len(was) > 0 && was[0].is(of, all[:n]) {
			h = was[0]
		} else {
			h = holdFor(of, all[:n])
		}
		st.Results[place] = h.held
		known.of, all = append(known.of, h), all[n:]
	}
	known.to = slices.Clip(st.Suspects)
}

// settled settles what was settled just so before: only who is held and has another result by now is held
// anew.
func (k *Holds) settled(st *race.State) bool {
	if len(k.from) == 0 || !sameRulings(k.rulings, st.Rulings) || !slices.Equal(k.from, st.Suspects) {
		return false
	}
	st.Suspects = k.to
	for n := range k.of {
		h := &k.of[n]
		if of := st.Results[h.place]; of != h.of {
			h.of, h.held = of, heldFor(of, h.cases)
		}
		st.Results[h.place] = h.held
	}
	return true
}

func sameRulings(a, b []race.Ruling) bool { return len(a) == len(b) && (len(a) == 0 || &a[0] == &b[0]) }

// holdsMore is room for those who are held now and weren't before.
const holdsMore = 64

// is tells whether it holds a result as it is for just these cases.
func (h *hold) is(of *race.Result, cases []holding) bool {
	if h.of != of || h.place != cases[0].place || len(h.cases) != len(cases) {
		return false
	}
	for i := range cases {
		if h.cases[i] != cases[i].id {
			return false
		}
	}
	return true
}

// holdFor holds a result for some cases.
func holdFor(of *race.Result, cases []holding) hold {
	h := hold{place: cases[0].place, of: of}
	for _, x := range cases {
		h.cases = append(h.cases, x.id)
	}
	h.held = heldFor(of, h.cases)
	return h
}

func tally(yes bool) int {
	if yes {
		return 1
	}
	return 0
}

// heldFor is a result that these cases hold.
func heldFor(r *race.Result, cases []string) *race.Result {
	x := *r
	x.HeldFor = cases
	if x.State == race.Clean || x.State == race.Running && (!x.Listed || closedHold(cases)) {
		x.State = race.Held
	}
	return &x
}

// closedHold tells whether a hold on somebody without a finish says that nobody saw it: then
// the course is closed, and the row waits for a ruling.
func closedHold(cases []string) bool {
	return slices.ContainsFunc(cases, func(id string) bool { return strings.HasPrefix(id, race.Overdue+":") })
}
