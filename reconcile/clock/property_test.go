package clock

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"twinmat/reconcile/race"
)

// hostilePair draws a crossing from anything that a damaged log may hold.
func hostilePair(t *rapid.T, base race.Instant) Pair {
	instant := rapid.OneOf(
		rapid.Map(rapid.Int64Range(0, 6*3600_000), func(d int64) race.Instant { return base + race.Instant(d) }),
		rapid.Map(rapid.Int64Range(0, 3), func(d int64) race.Instant { return base + race.Instant(d) }),
		rapid.SampledFrom([]race.Instant{race.NoInstant, 0, 1, -1, math.MaxInt64, math.MinInt64 + 1, farthest, -farthest, farthest + 1}),
	)
	value := rapid.OneOf(rapid.Float64Range(.1, 2), rapid.SampledFrom([]float64{math.NaN(), math.Inf(1), math.Inf(-1), 0, -1, 1e-300, 1e300, 10, 11}))
	p := Pair{Main: instant.Draw(t, "main"), U: value.Draw(t, "u"), Long: value.Draw(t, "long"), Mid: value.Draw(t, "mid"), Wide: value.Draw(t, "wide"),
		Group: rapid.IntRange(-1, 3).Draw(t, "group"), Tag: rapid.IntRange(0, 5).Draw(t, "tag")}
	if p.Other = instant.Draw(t, "other"); rapid.Bool().Draw(t, "near") && p.Main.Known() && !tooFar(p.Main) {
		p.Other = p.Main.Add(race.Millis(rapid.IntRange(2800, 3600).Draw(t, "late")))
	}
	return p
}

func hostileConfig(t *rapid.T, base race.Instant) Config {
	c := Config{Groups: rapid.IntRange(0, 3).Draw(t, "groups"), Hand: rapid.Bool().Draw(t, "hand"), BehindFixed: rapid.Bool().Draw(t, "behind fixed"),
		Behind: rapid.Float64Range(-5, 5).Draw(t, "behind"), Fixed: rapid.IntRange(0, 4).Draw(t, "fixed") == 0,
		FixedOffset: race.Millis(rapid.Int64Range(-1e9, 1e9).Draw(t, "offset")), SpeedPrior: rapid.SampledFrom([]float64{0, .3, math.NaN(), -1, 1e9}).Draw(t, "prior"),
		Coarse: race.Millis(rapid.Int64Range(-1e12, 1e12).Draw(t, "coarse")), Many: rapid.IntRange(0, 20).Draw(t, "many")}
	for range rapid.IntRange(0, 2).Draw(t, "breaks") {
		c.Breaks = append(c.Breaks, base+race.Instant(rapid.Int64Range(-1e6, 3e7).Draw(t, "break")))
	}
	return c
}

// told is all that a model says, in one string.
func told(m *Model, base race.Instant) string {
	var s strings.Builder
	fmt.Fprintf(&s, "%q %+v %+v %+v", m.Unsure(), m.Stretches(), m.Steps(), m.Residuals())
	for _, u := range []float64{math.NaN(), .2, .5, 1.1} {
		for _, d := range []race.Instant{-1e7, 0, 1e7, 3e7} {
			at, pm, unsure := m.Race(base+d, Crossing{U: u, Long: 1, Mid: .1, Wide: .3})
			fmt.Fprintf(&s, " %d±%d%q %d", at, pm, unsure, m.Rough(base+d))
		}
	}
	return s.String()
}

// The model is a function of the set of pairs, and no number in it is NaN or infinite,
// whatever the logs hold.
func TestAnyOrderOfAnyPairsGivesOneFiniteModel(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		base := zero
		pairs := make([]Pair, rapid.SampledFrom([]int{0, 1, 2, 3, 11, 12, 13, 40}).Draw(t, "n"))
		for i := range pairs {
			pairs[i] = hostilePair(t, base)
		}
		c := hostileConfig(t, base)
		was := told(Fit(pairs, c), base)
		for _, bad := range []string{"NaN", "Inf"} {
			if strings.Contains(was, bad) {
				t.Fatalf("the model says %s: %s", bad, was)
			}
		}
		other := slices.Clone(pairs)
		rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "shuffle"), 0)).Shuffle(len(other), func(i, j int) { other[i], other[j] = other[j], other[i] })
		if is := told(Fit(other, c), base); is != was {
			t.Fatalf("another order says\n%s\nnot\n%s", is, was)
		}
	})
}

// The same for pairs that the whole chain works on, steps and all.
func TestTheOrderOfPairsNeverMattersToRacesWithAStep(t *testing.T) {
	for seed := range uint64(12) {
		w := worlds[int(seed)%len(worlds)].make()
		w.step, w.pairs, w.unknown = .75, 60+int(seed)*40, .1
		ps := w.draw(seed)
		was := Fit(ps, Config{})
		rand.New(rand.NewPCG(seed, 1)).Shuffle(len(ps), func(i, j int) { ps[i], ps[j] = ps[j], ps[i] })
		is := Fit(ps, Config{})
		if !was.Equal(is) || told(was, zero) != told(is, zero) {
			t.Errorf("seed %d: shuffled pairs give another model", seed)
		}
	}
}

// Moving both clocks by whole hours moves nothing but the times: no digit is lost for the
// size of an instant (as NIST's NumAcc3 and NumAcc4 demand of a mean and a deviation:
// a constant of 10⁶ and 10⁷ before a last digit).
func TestHugeEpochsLoseNoDigits(t *testing.T) {
	w := reference()
	w.pairs = 300
	ps := w.draw(1)
	was := Fit(ps, Config{})
	for _, far := range []race.Instant{-zero / hour * hour, 1e6 * hour, -1e7 * hour, farthest / 2 / hour * hour} {
		moved := slices.Clone(ps)
		for i := range moved {
			moved[i].Main, moved[i].Other = moved[i].Main+far, moved[i].Other+far
		}
		is := Fit(moved, Config{})
		for _, d := range []race.Instant{0, 5_000_001, 20_000_003} {
			a, apm, _ := was.Race(zero+d, Crossing{U: .3})
			b, bpm, _ := is.Race(zero+far+d, Crossing{U: .3})
			if b-far != a || apm != bpm {
				t.Errorf("moved by %d h: %d ±%d, want %d ±%d", far/hour, b-far, bpm, a, apm)
			}
		}
	}
}

// A copy of main's log that is wrong by a constant is put right to the millisecond.
func TestACleanClockIsPutRightToTheMillisecond(t *testing.T) {
	for _, off := range []race.Millis{0, 1, -3217, 3600_000, -86400_000 * 365} {
		var ps []Pair
		for i := range 40 {
			at := zero + race.Instant(i*i*7919)
			ps = append(ps, Pair{Main: at, Other: at.Add(off), U: math.NaN()})
		}
		m := Fit(ps, Config{BehindFixed: true})
		for _, p := range ps {
			if got, _, unsure := m.Race(p.Other, Crossing{U: .3}); got != p.Main || unsure != "" {
				t.Fatalf("offset %d: %d %q, want %d", off, got, unsure, p.Main)
			}
		}
	}
}
