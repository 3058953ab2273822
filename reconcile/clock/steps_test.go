package clock

import (
	"math"
	"testing"

	"twinmat/reconcile/race"
)

// A clock may be set by seconds, an hour, a day or a year in mid-race; noise that grows with
// slowness must not tear so far a level apart.
func TestAClockThatIsSetByAnySizeIsFoundAndPlaced(t *testing.T) {
	for _, step := range []float64{2, -12, 90, -3600, 86400, -86400 * 365} {
		for _, at := range []float64{.1, .5, .8} {
			for seed := range uint64(5) {
				w := reference()
				w.noise, w.speed, w.hours, w.pairs = firstReads, runners, 1.6, 300
				w.step, w.stepAt = step, at
				st := Fit(w.draw(seed), Config{}).Steps()
				if len(st) != 1 {
					t.Errorf("step of %g s at %g of the race, seed %d: %d steps found: %+v", step, at, seed, len(st), st)
					continue
				}
				true := zero + race.Instant(at*w.hours*3600_000)
				if s := st[0]; math.Abs(s.SizeS-step) > 2*s.PlusMinusS+.05 || s.Before > true.Add(30_000) || s.After < true.Add(-30_000) {
					t.Errorf("step of %g s at %d, seed %d: found %+v", step, true, seed, s)
				}
			}
		}
	}
}
