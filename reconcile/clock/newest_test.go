package clock

import (
	"math/rand/v2"
	"slices"
	"testing"

	"twinmat/reconcile/race"
	"twinmat/reconcile/robust"
)

const batch = robust.FewestOlder / 2

// waiting is a line at which so many crossed as a fit needs for the newest to wait, in order of time.
func waiting(seed uint64, pairs int) ([]Pair, Config) {
	w := reference()
	w.pairs, w.gross = pairs, .01
	ps := w.draw(seed)
	slices.SortFunc(ps, ComparePairs)
	return ps, Config{Many: 500}
}

// As crossings come one by one, the model moves once a batch; what it tells is all the while what all of
// them together tell, to a few milliseconds.
func TestTheNewestPairsWait(t *testing.T) {
	for seed := range uint64(4) {
		all, c := waiting(seed, 1100)
		var last *Model
		moves := 0
		const from = 1000
		for n := from; n < len(all); n++ {
			m := Fit(all[:n], c)
			if !m.Equal(last) {
				moves++
			}
			last = m
			whole := FitAll(all[:n], c)
			x := all[n-1]
			a, _, _ := m.Race(x.Other, x.Crossing())
			b, _, _ := whole.Race(x.Other, x.Crossing())
			if d := max(a.Sub(b), b.Sub(a)); d > 15 {
				t.Errorf("seed %d, %d pairs: %d ms from what all tell", seed, n, d)
			}
		}
		if most := 2 + (len(all)-from)/batch; moves > most {
			t.Errorf("seed %d: the model moved %d times in %d pairs", seed, moves, len(all)-from)
		}
	}
}

// Which pairs wait is told by their times alone.
func TestWhoWaitsHangsOnNoOrder(t *testing.T) {
	all, c := waiting(1, 700)
	want := told(Fit(all, c), zero)
	older, newer := Newest(all, c)
	if len(newer) < batch || len(newer) >= 2*batch || len(older)+len(newer) != len(all) {
		t.Errorf("%d of %d wait", len(newer), len(all))
	}
	d := rand.New(rand.NewPCG(1, 2))
	for range 5 {
		d.Shuffle(len(all), func(i, k int) { all[i], all[k] = all[k], all[i] })
		if told(Fit(all, c), zero) != want {
			t.Fatal("another model in another order")
		}
	}
}

// A clock that is set is seen by as few crossings as without waiting, and so is who comes the other way.
func TestWhatIsNewIsHeardAtOnce(t *testing.T) {
	for _, size := range []race.Millis{700, -2000, 3600_000} {
		for seed := range uint64(5) {
			all, c := waiting(seed, 640)
			for k := 1; k <= 2*batch; k++ {
				ps := slices.Clone(all)
				for i := len(ps) - k; i < len(ps); i++ {
					ps[i].Other = ps[i].Other.Add(size)
				}
				if a, b := len(Fit(ps, c).Steps()), len(FitAll(ps, c).Steps()); a < b {
					t.Errorf("a step of %d ms, seed %d: %d crossings after it show %d steps, not %d", size, seed, k, a, b)
				}
			}
		}
	}
	all, c := waiting(1, 640)
	c.Groups = 2
	all[len(all)-1].Group = 1
	if m := Fit(all, c); m.groupPairs[1] != 1 {
		t.Error("who came the other way isn't heard")
	}
	if m := Fit(all, Config{}); m.pairs != len(all) {
		t.Errorf("of %d pairs, none of which waits, %d tell", len(all), m.pairs)
	}
}
