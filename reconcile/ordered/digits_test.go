package ordered

import (
	"cmp"
	"math"
	"math/rand/v2"
	"slices"
	"testing"
)

// A list in order of a number is sorted stably, whatever the range of numbers and however many are one.
func TestByNumberIsAStableSort(t *testing.T) {
	type entry struct {
		key int64
		nth int
	}
	for seed := range uint64(300) {
		g := rand.New(rand.NewPCG(seed, 2))
		list := make([]entry, g.IntN(2000))
		span := int64(1) << g.IntN(62)
		for i := range list {
			if list[i] = (entry{g.Int64N(span) - span/2, i}); g.IntN(50) == 0 {
				list[i].key = []int64{math.MinInt64, math.MaxInt64, 0}[g.IntN(3)]
			}
		}
		want := slices.Clone(list)
		slices.SortStableFunc(want, func(a, b entry) int { return cmp.Compare(a.key, b.key) })
		if ByNumber(list, func(x *entry) int64 { return x.key }); !slices.Equal(list, want) {
			t.Fatalf("seed %d: %d entries over %d are in another order", seed, len(list), span)
		}
	}
}
