package clock

import (
	"math"
	"math/rand/v2"
	"testing"

	"twinmat/reconcile/race"
)

// Two readers that tell whole seconds, or tenths: their clocks don't step with every second
// that rounds the other way, and a fill's interval holds what whole units hide.
func TestTimesInWholeUnits(t *testing.T) {
	inside, all := 0, 0
	for seed := range uint64(40) {
		rng := rand.New(rand.NewPCG(seed, 5))
		unitMain, unitOther := race.Instant(1000), race.Instant(1000)
		if seed%4 == 1 {
			unitOther = 1
		}
		if seed%4 == 2 {
			unitMain, unitOther = 100, 1000
		}
		offset, drift := 1000*(20+rng.NormFloat64()), 50e-6*(rng.Float64()-0.5)
		cut := func(x float64, unit race.Instant) race.Instant { return race.Instant(x) / unit * unit }
		cross := func(i int) (main, other race.Instant, u float64) {
			at := 1e7 + 15_000*float64(i) + 10_000*rng.Float64()
			u = 0.25 + 0.15*rng.Float64()
			return cut(at, unitMain), cut(at+offset+drift*at+1500*u+60*rng.NormFloat64(), unitOther), u
		}
		steps, in := stepsAndFills(60+rng.IntN(200), cross)
		if len(steps) > 0 {
			t.Errorf("seed %d shows steps %v", seed, steps)
		}
		inside, all = inside+in, all+50
	}
	if share := float64(inside) / float64(all); share < 0.93 || share > 0.99 {
		t.Errorf("%.3f of %d fills inside their interval", share, all)
	}
}

// Sixty children come round within two seconds, lap after lap, and both readers tell whole
// seconds: in the order of their roundings there are runs, and no steps.
func TestABunchInWholeSeconds(t *testing.T) {
	for seed := range uint64(40) {
		rng := rand.New(rand.NewPCG(seed, 8))
		offset := 3000 + 1000*rng.Float64()
		var pairs []Pair
		for lap := range 4 {
			for range 60 {
				at := 1e7 + 95_300*float64(lap) + 2500*rng.Float64()
				u := 0.28 + 0.06*rng.Float64()
				pairs = append(pairs, Pair{Main: race.Instant(at) / 1000 * 1000, Other: race.Instant(at+offset+1000*u) / 1000 * 1000, U: u,
					Long: math.NaN(), Mid: math.NaN(), Wide: math.NaN(), Tag: len(pairs)})
			}
		}
		if steps := Fit(pairs, Config{Groups: 1, Resolution: 200, SpeedPrior: 1 / 2.8}).Steps(); len(steps) > 0 {
			t.Errorf("seed %d: %v", seed, steps)
		}
	}
}

// Readers that ask their antennas once a second, by clocks of their own, and tell tenths: the
// second of the look before or after is no step either.
func TestReadersThatLookOnceASecond(t *testing.T) {
	inside, all := 0, 0
	for seed := range uint64(40) {
		rng := rand.New(rand.NewPCG(seed, 6))
		phase, rate := 1000*rng.Float64(), 60e-6*(rng.Float64()-0.5)
		look := func(at, phase float64) float64 { return 1000*math.Ceil((at-phase)/1000) + phase }
		cross := func(i int) (main, other race.Instant, u float64) {
			at := 1e7 + 12_000*float64(i) + 9000*rng.Float64()
			u = 0.25 + 0.15*rng.Float64()
			o := look(at+600*u, phase)
			return race.Instant(look(at, 300)) / 100 * 100, race.Instant(o+rate*o) / 100 * 100, u
		}
		steps, in := stepsAndFills(60+rng.IntN(200), cross)
		if len(steps) > 0 {
			t.Errorf("seed %d shows steps %v", seed, steps)
		}
		inside, all = inside+in, all+50
	}
	if share := float64(inside) / float64(all); share < 0.92 || share > 0.995 {
		t.Errorf("%.3f of %d fills inside their interval", share, all)
	}
}

// stepsAndFills fits a clock to n crossings, of which each call makes one, and tells the steps
// that it shows and how many of fifty more crossings' fills lie inside their intervals.
func stepsAndFills(n int, cross func(i int) (main, other race.Instant, u float64)) (steps []Step, inside int) {
	var pairs []Pair
	for i := range n {
		m, o, u := cross(i)
		pairs = append(pairs, Pair{Main: m, Other: o, U: u, Long: math.NaN(), Mid: math.NaN(), Wide: math.NaN(), Tag: i})
	}
	m := Fit(pairs, Config{Groups: 1, Resolution: 200, SpeedPrior: 1 / 2.8})
	for i := range 50 {
		want, o, u := cross(i * n / 50)
		got, pm, _ := m.Race(o, Crossing{U: u, Long: math.NaN(), Mid: math.NaN(), Wide: math.NaN()})
		if d := got.Sub(want); max(d, -d) <= pm {
			inside++
		}
	}
	return m.Steps(), inside
}
