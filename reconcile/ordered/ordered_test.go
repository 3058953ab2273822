package ordered

import (
	"cmp"
	"math/rand/v2"
	"slices"
	"testing"
)

// A list with more in it is both of them, sorted so that equal ones stay in their order.
func TestMergeIsAStableSort(t *testing.T) {
	type entry struct{ key, nth int }
	byKey := func(a, b entry) int { return cmp.Compare(a.key, b.key) }
	for seed := range uint64(500) {
		g := rand.New(rand.NewPCG(seed, 1))
		some := func(from int) (l []entry) {
			for n := range g.IntN(12) {
				l = append(l, entry{g.IntN(6), from + n})
			}
			slices.SortStableFunc(l, byKey)
			return l
		}
		list, more := some(0), some(100)
		want := slices.Concat(list, more)
		slices.SortStableFunc(want, byKey)
		if got := Merge(slices.Clone(list), more, byKey); !slices.Equal(got, want) {
			t.Fatalf("seed %d: %v and %v are %v, want %v", seed, list, more, got, want)
		}
	}
}
