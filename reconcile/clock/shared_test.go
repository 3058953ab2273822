package clock

import (
	"math"
	"math/rand/v2"
	"testing"
)

// A line with hardly a pair of its own fills by what another line tells of the same box.
func TestALineWithFewPairsLeansOnAnotherOfTheSameClock(t *testing.T) {
	for _, n := range []int{0, 1, 2, 5, 11, 20} {
		var bad, all float64
		for seed := range uint64(20) {
			w := reference()
			w.step, w.gross, w.pairs = .75, 0, 400
			rich := w.draw(seed)
			w.pairs = n
			poor := w.draw(seed + 100)
			ms := FitShared([][]Pair{poor, rich}, []Config{{}, {}})
			d := rand.New(rand.NewPCG(seed, 3))
			for i := range 50 {
				f := w.crossing(d, i, true)
				got, pm, unsure := ms[0].Race(f.Other, f.Crossing())
				if unsure != "" {
					continue
				}
				all++
				if math.Abs(float64(got-zero)/1000-f.noisy) > float64(pm)/1000+.0005 {
					bad++
				}
			}
		}
		t.Logf("%d pairs: %.0f fills, %.3f outside", n, all, bad/all)
		if all < 800 || bad/all > .1 {
			t.Errorf("%d pairs: %.0f of 1000 fills told, %.1f %% outside their interval", n, all, 100*bad/all)
		}
	}
}

// A line whose crossings don't fit the clock that it shares with another is not on it, or that
// clock was set since: nothing of it is told as sure.
func TestASharedClockThatNoCrossingFits(t *testing.T) {
	w := reference()
	w.pairs = 200
	known := w.draw(1)
	for _, common := range []int{0, voteLeast - 1, voteLeast, 40} {
		m := FitShared([][]Pair{known, nil}, []Config{{}, {Common: common}})[1]
		if sure := m.Unsure() == ""; sure != (common < voteLeast) {
			t.Errorf("%d tags seen by both and no crossing: %q", common, m.Unsure())
		}
	}
}
