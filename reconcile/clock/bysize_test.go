package clock

import (
	"math/rand/v2"
	"slices"
	"testing"

	"twinmat/reconcile/race"
)

// The order of differences is compareDifferences', whatever the range of sizes and however many
// are of one size.
func TestDifferencesAreInOrderOfSize(t *testing.T) {
	for seed := range uint64(60) {
		rng := rand.New(rand.NewPCG(seed, 3))
		ds := make([]difference, rng.IntN(3000))
		span := int64(1) << rng.IntN(52)
		for i := range ds {
			ds[i] = difference{race.Millis(rng.Int64N(span) - span/2), race.Instant(rng.IntN(500)), int32(i), false}
			if seed%3 == 0 {
				ds[i].by = race.Millis(rng.IntN(4)) * 1000
			}
		}
		want := slices.Clone(ds)
		slices.SortFunc(want, compareDifferences)
		if sortBySize(ds); !slices.Equal(ds, want) {
			t.Fatalf("seed %d: %d differences over %d ms are in another order", seed, len(ds), span)
		}
	}
}
