package reconcile

import (
	"testing"

	"twinmat/reconcile/clock"
)

// Those who wait about a start tell of a clock until enough have crossed its lines, and no more.
func TestWhoWaitsAboutAStartTellsOfAClockOnlyAtFirst(t *testing.T) {
	for _, crossed := range []int{0, enoughPairs - 1, enoughPairs, 10 * enoughPairs} {
		var ps []clock.Pair
		for i := range crossed + 40 {
			ps = append(ps, clock.Pair{Tag: i, Early: i%2 == 0 && i < 80})
		}
		n := 0
		for _, p := range ps {
			if !p.Early {
				n++
			}
		}
		want := len(ps)
		if n >= enoughPairs {
			want = n
		}
		if got := len(withoutEarly(ps)); got != want {
			t.Errorf("%d early, %d not: %d left, want %d", len(ps)-n, n, got, want)
		}
	}
}
