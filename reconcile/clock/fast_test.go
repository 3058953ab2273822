package clock

import (
	"math"
	"math/rand/v2"
	"testing"

	"twinmat/reconcile/race"
)

// A clock that gains two tenths of a millisecond a second runs; it doesn't step in each of the
// pauses between an hour's crossings and the next. Where it is set as well, that is told.
func TestAClockFarOffItsRate(t *testing.T) {
	for seed := range uint64(30) {
		rng := rand.New(rand.NewPCG(seed, 9))
		rate := 200e-6 * (0.8 + 0.4*rng.Float64())
		if seed%2 == 1 {
			rate = -rate
		}
		step, waves, perWave := 0.0, 2+int(seed%7), 20+rng.IntN(30)
		if seed%3 == 2 && waves > 3 { // with fewer, the pause may hide either
			step = 5
		}
		var pairs []Pair
		for wave := range waves {
			for range perWave {
				at := 1e7 + 3.6e6*float64(wave) + 480_000*rng.Float64()
				u := 0.3 + 0.15*rng.Float64()
				o := at + rate*at + 2000*u + 60*rng.NormFloat64()
				if wave >= waves/2 {
					o += 1000 * step
				}
				pairs = append(pairs, Pair{Main: race.Instant(at), Other: race.Instant(o), U: u, Long: math.NaN(), Mid: math.NaN(), Wide: math.NaN(), Tag: len(pairs)})
			}
		}
		m := Fit(pairs, Config{Groups: 1, Resolution: 200, SpeedPrior: 1 / 2.8})
		steps := m.Steps()
		switch {
		case step == 0 && len(steps) > 0:
			t.Errorf("seed %d, %d times %d pairs, %.0f ppm: invented %+v", seed, waves, perWave, rate*1e6, steps)
		case step != 0 && (len(steps) != 1 || math.Abs(steps[0].SizeS-step) > 2*steps[0].PlusMinusS+0.05):
			t.Errorf("seed %d, %d times %d pairs, %.0f ppm, a step of 5 s: found %+v", seed, waves, perWave, rate*1e6, steps)
		}
		if s := m.Stretches(); waves > 3 && math.Abs(s[0].DriftPPM-rate*1e6) > 25 {
			t.Errorf("seed %d, %d times %d pairs: %.0f ppm, want %.0f", seed, waves, perWave, s[0].DriftPPM, rate*1e6)
		}
	}
}
