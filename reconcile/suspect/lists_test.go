package suspect

import (
	"cmp"
	"math/rand/v2"
	"slices"
	"testing"

	"twinmat/reconcile/race"
)

// The first of many are those of all put in order.
func TestTheFirstOfMany(t *testing.T) {
	g := rand.New(rand.NewPCG(3, 5))
	for range 2000 {
		all := make([]race.Finish, g.IntN(60))
		for i := range all {
			all[i] = race.Finish{Behind: -g.IntN(3), Time: race.Millis(g.IntN(20)), At: i}
		}
		many := g.IntN(12)
		want := slices.SortedFunc(slices.Values(all), race.Finish.Order)
		want = want[:min(len(want), many)]
		if got := first(slices.Clone(all), many); !slices.Equal(got, want) {
			t.Fatalf("the first %d of %v are %v, not %v", many, all, got, want)
		}
	}
}

// Lists that are kept are those made anew, whichever results change and how often.
func TestListsThatAreKept(t *testing.T) {
	const results, lines = 60, 3
	g := rand.New(rand.NewPCG(3, 6))
	f := &field{in: &Input{Memory: &Memory{}}, st: &race.State{Results: make([]*race.Result, results)}}
	has := make([][]arrival, results) // by result, of any line
	entries := func(i int, add func(l int, s arrival)) {
		for k, s := range has[i] {
			add((i+k)%lines, s)
		}
	}
	of := func(a arrival) int { return int(a.result) }
	var kept lists[arrival]
	few := 0
	for range 500 {
		for range g.IntN(6) {
			i := g.IntN(results)
			has[i] = nil
			for range g.IntN(4) * (1 + 9*g.IntN(2)) { // some change few entries of a list, some many
				has[i] = append(has[i], arrival{race.Instant(g.IntN(100)), int32(i)})
			}
			slices.SortFunc(has[i], func(a, b arrival) int { return cmp.Compare(a.at, b.at) })
			kept.changed(i, results)
		}
		if n := len(kept.some); n > 0 && fewChanged*n < results {
			few++
		}
		if kept.due() {
			kept.renew(f, lines, nil, arrival.compare, of, entries)
		}
		var anew lists[arrival]
		anew.renew(f, lines, nil, arrival.compare, of, entries)
		for l := range lines {
			if !slices.Equal(kept.lists[l], anew.lists[l]) {
				t.Fatalf("line %d: kept %v, made anew %v", l, kept.lists[l], anew.lists[l])
			}
		}
	}
	if few < 100 {
		t.Errorf("only %d times a few changed", few)
	}
}

// A list that became another is known by it, however often all of them did.
func TestAListThatBecameAnotherHasAnotherNumber(t *testing.T) {
	const results, lines = 4, 40
	f := &field{in: &Input{Memory: &Memory{}}, st: &race.State{Results: make([]*race.Result, results)}}
	var kept lists[arrival]
	for turn := range 300 {
		before := slices.Clone(kept.moves)
		for i := range results {
			kept.changed(i, results)
		}
		kept.renew(f, lines, nil, arrival.compare, func(a arrival) int { return int(a.result) }, func(i int, add func(l int, a arrival)) {
			add(i, arrival{race.Instant(turn), int32(i)})
		})
		for l := range min(results, len(before)) {
			if kept.moves[l] <= before[l] {
				t.Fatalf("made anew for the %dth time, list %d went from %d to %d", turn, l, before[l], kept.moves[l])
			}
		}
	}
}

// Whoever is out tells nobody how long the way takes: a field that is kept takes a status that
// came since as one made anew does.
func TestAFieldThatIsKeptTakesAStatus(t *testing.T) {
	m := makeRace(t, 40)
	m.in.Memory = &Memory{}
	m.find()
	kept := m.in.Memory.field
	for _, status := range []string{"dsq", "", "dnf"} {
		m.st.Results[7].Status = status
		m.in.Same, m.in.Changed = true, []int{7}
		m.find()
		if m.in.Memory.field != kept {
			t.Fatal("the field was made anew")
		}
		anew := newField(&Input{State: m.st})
		overdue(anew)
		for k := range m.st.Plan.Courses[0].Splits {
			a, b := kept.courses[0].waits.inOrder.lists[k], anew.courses[0].waits.inOrder.lists[k]
			if !slices.Equal(a, b) {
				t.Fatalf("%q, split %d: %d waits kept, %d anew", status, k, len(a), len(b))
			}
		}
	}
}
