package tui

import (
	"cmp"
	"slices"

	"twinmat/reconcile/race"
)

// cases are what the screens look up among a snapshot's suspects. They are made once, with
// the book, away from the program's loop: there may be a million of them.
type cases struct {
	open, holds int // the open ones stand first
	at          map[string]int32
	of          []int32           // in order of athlete, then of urgency
	ofFrom      []int32           // per athlete where theirs begin in of
	clocks      map[string]string // per line the kind of its clocks' first open case
	held        []heldRow
	news        []int32 // open ones that no snapshot had before

	heard map[string]struct{} // ids of all that were open so far: one set for all snapshots
}

// A heldRow is one kind of case and those it holds.
type heldRow struct {
	kind       string
	open, held int
	bibs       []string // the first of the held
}

// heldShown of a kind's held athletes are named.
const heldShown = 40

func newCases(st *race.State, prev *cases) cases {
	c := cases{at: make(map[string]int32, len(st.Suspects)), clocks: map[string]string{}, heard: map[string]struct{}{}}
	if prev != nil {
		c.heard = prev.heard
	}
	of := holders{row: map[string]int{}}
	for i := range st.Suspects {
		s := &st.Suspects[i]
		c.at[s.ID] = int32(i)
		if s.Settled {
			continue
		}
		c.open++
		if _, ok := c.heard[s.ID]; !ok {
			c.heard[s.ID] = struct{}{}
			c.news = append(c.news, int32(i))
		}
		if s.Kind == race.ClockStep || s.Kind == race.ClockUnsure {
			if _, ok := c.clocks[s.Line]; !ok {
				c.clocks[s.Line] = s.Kind
			}
		}
		if s.Weight == race.Hold {
			c.holds++
			c.hold(&of, st, s)
		}
	}
	slices.SortStableFunc(c.held, func(a, b heldRow) int { return cmp.Compare(b.held, a.held) })
	c.byAthlete(st)
	return c
}

// holders say, while the held are counted, which row is a kind's and whom it has already.
type holders struct {
	row map[string]int
	has [][]bool // per row, by place in Results
}

// hold counts a case and whom it holds: somebody whom several of a kind hold is one athlete.
func (c *cases) hold(of *holders, st *race.State, s *race.Suspect) {
	k, ok := of.row[s.Kind]
	if !ok {
		k = len(c.held)
		of.row[s.Kind] = k
		c.held = append(c.held, heldRow{kind: s.Kind})
		of.has = append(of.has, make([]bool, len(st.Results)))
	}
	r := &c.held[k]
	r.open++
	for _, bib := range s.Holds {
		i, ok := st.ByBib[bib]
		if !ok || i >= len(st.Results) || of.has[k][i] {
			continue
		}
		of.has[k][i] = true
		r.held++
		if len(r.bibs) < heldShown {
			r.bibs = append(r.bibs, bib)
		}
	}
}

func (c *cases) byAthlete(st *race.State) {
	c.ofFrom = make([]int32, len(st.Results)+1)
	visit := func(f func(athlete int, suspect int32)) {
		for i := range st.Suspects {
			for _, bib := range st.Suspects[i].Bibs {
				if k, ok := st.ByBib[bib]; ok && k < len(st.Results) {
					f(k, int32(i))
				}
			}
		}
	}
	visit(func(k int, _ int32) { c.ofFrom[k+1]++ })
	for k := range st.Results {
		c.ofFrom[k+1] += c.ofFrom[k]
	}
	next := slices.Clone(c.ofFrom)
	c.of = make([]int32, c.ofFrom[len(st.Results)])
	visit(func(k int, i int32) {
		c.of[next[k]] = i
		next[k]++
	})
}

// about are the suspects about an athlete, most urgent first: indexes in Suspects.
func (c *cases) about(athlete int) []int32 {
	return c.of[c.ofFrom[athlete]:c.ofFrom[athlete+1]]
}
