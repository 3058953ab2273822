// Package result settles what the suspects hold and ranks who has finished.
package result

import (
	"slices"
	"sort"
	"strings"

	"twinmat/reconcile/race"
)

// Holds is what settling a state leaves for the next one: the results that are held, by
// place, so that the same ones stay the same in memory. The zero Holds is ready.
type Holds struct{ at map[int]hold }

// hold is a result as it was before it was held, and the same held for these cases.
type hold struct {
	of, held *race.Result
	cases    []string
}

// Settle marks the suspects that an accept still fits, and holds the results that the open
// ones of weight hold concern. Suspects must be in order of the worklist; accepted tells
// which ruling accepted a suspect, on what evidence; known is of an earlier state, or zero.
func Settle(st *race.State, known *Holds, accepted func(id string) (seq int, evidence string, ok bool)) {
	cases := map[int][]string{}
	for i := range st.Suspects {
		s := &st.Suspects[i]
		if seq, evidence, ok := accepted(s.ID); ok && (evidence == "" || evidence == s.Evidence) {
			s.Settled, s.SettledBy = true, seq
		}
		if s.Settled || s.Weight != race.Hold {
			continue
		}
		for _, bib := range s.Holds {
			if k, ok := st.ByBib[bib]; ok && !slices.Contains(cases[k], s.ID) {
				cases[k] = append(cases[k], s.ID)
			}
		}
	}
	sort.SliceStable(st.Suspects, func(a, b int) bool { return !st.Suspects[a].Settled && st.Suspects[b].Settled })
	was := known.at
	known.at = make(map[int]hold, len(cases))
	for k, ids := range cases {
		h, ok := was[k]
		if !ok || h.of != st.Results[k] || !slices.Equal(h.cases, ids) {
			h = hold{st.Results[k], heldFor(st.Results[k], ids), ids}
		}
		known.at[k], st.Results[k] = h, h.held
	}
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
